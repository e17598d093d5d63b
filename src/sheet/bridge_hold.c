/* Bridges for what hangs: islands on few bridges, heads on necks, tongues, webs and spirals of the sheet itself. The net
 * of beams (hold.h) tells how far every place sinks. In rounds, each place that sinks most among its neighbours gets
 * the bridge that costs the eye least for what it mends, to something that sinks much less; then the net is solved
 * again. Ends come first, then the middles between what holds: long tongues get bridges at even distances. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/bridge_parts.h"
#include "sheet/hold.h"

#define MOST_ROUNDS 48u       /* from the frame inward, an arm or a tooth in each */
#define AIM_RATIO 0.85        /* of the limit asked: drawn curves hold a little worse than the plan */
#define N_RAYS 16u            /* directions in which a bridge is looked for */
#define CELLS_ACROSS 2.5      /* cells in a bridge's width: a slanted one stays joined over sides */
/* Bridges are looked for that are short, then those that are long: longer ones bend themselves, but where nobody sees
 * them they are made up to a tenth of their length wide. */
#define SHORT_WIDTHS 9.0
#define LONG_WIDTHS 60.0
/* Measures below are shares of the length of a strip that sinks by the limit. */
#define NEAR_RATIO 0.25       /* places this near are tried together, the cheapest wins */
#define NEXT_RATIO 0.08       /* but not all of them */
#define MOST_NEAR 16u
#define MOST_NEAR_LONG 6u
#define APART_RATIO 1.0       /* bridges of one round are this far apart: each changes what its neighbours need */
#define TRIED_RATIO 0.25      /* where nothing was found, places this near are not tried again in a round */
/* A bridge is so far from others that hold the same, and a third as far where those are not enough: a strip on bridges this
 * far apart sinks a tenth of the limit, and a fan of sticks is ugly. */
#define ALONE_RATIO 1.0
#define ALONE_AGAIN_RATIO 0.35
/* A bridge leads to what sinks at most this share of the limit; where there is none such, of what it is to hold. */
#define HELD_LIMIT_RATIO 0.6
#define HELD_SINK_RATIO 0.4
/* One that leaves more than this share of the sinking, and more than the limit, is taken back. */
#define LEFT_MOST_RATIO 0.75
/* One that shows must, in the end, bring the place where it stands and the one it was looked for under the limit, or leave
 * at most this share: else it costs the picture and cures nothing. */
#define LEFT_SEEN_RATIO 0.5
#define SEEN_LEAST_RATIO 0.02 /* of a bridge's cost: less is an edge's rounding */
/* What a bridge that only helps to hold may show: a length of so many widths, and an error as of twice that on a plain
 * place that differs by 50 CIEDE2000. Eyes and mouths weigh six times as much, hidden places nothing. Taste: longer
 * ones drew a cobweb over water and skin; a board mends droop as well, and nothing mends a face. */
#define SEEN_WIDTHS 7.0
#define SEEN_CIEDE2000 100.0
/* A bridge that only helps to hold shows nowhere that a viewer looks: not on places of this salience, however far the part
 * sinks (eyes, mouths, lettering reach it), and where a part sinks little not on faint ones either; between, in proportion,
 * up to what hangs loose. Hidden bridges may be anywhere. It crosses such a place if that is half as long as the bridge
 * is wide, or half of what shows of it. Taste: set on the portraits, by the bridges on cheek, brow and jaw. */
#define SALIENCE_LEAST 32.0
#define SALIENCE_BAN 192.0
/* What sinks more than so many limits hangs loose: it may have a bridge that shows longer and twice as much, if no other
 * is near; a broad part up to an eighth of its own size. Taste: on small things long ones were sticks, and one crossed a
 * cheek. */
#define LOOSE_LIMITS 8.0
#define LOOSE_SEEN_WIDTHS 10.0
#define LOOSE_MOST_WIDTHS 24.0
#define LOOSE_SIZE_RATIO 0.125
#define LOOSE_SEEN_RATIO 2.0
#define LOOSE_ALONE_RATIO 1.2

#define SETTLE_WIDTHS 3.0 /* how far a bridge's end on what hangs may move to a cheaper place */

/* Kinds of bridges, tried in this order. */
typedef enum kind { KIND_SHORT, KIND_LONG, KIND_LOOSE } kind;

/* A place that sinks. */
typedef struct site {
    double sink_mm;
    sw_pt_mm at;
    uint32_t node;
    bool is_closed;   /* this round: near one that was mended or cannot be */
} site;

typedef struct added {
    bridge_strip strip;
    uint32_t node;    /* that it holds, where it meets it, and how far that sank */
    sw_pt_mm at;
    double sink_mm;
    site wanted;      /* the place it was looked for */
} added;

typedef struct holder {
    bridge_ground *g;
    hold_net net;
    double limit_mm, reach_mm; /* what is aimed at; a strip that sinks by that */
    bool is_strict;   /* look for what holds well */
    bool is_flat;     /* every material pixel's part is the root */
    sw_mask before;   /* without bridges that only hold */
    site *sites;
    size_t n_sites, cap_sites;
    added *strips;
    size_t n_strips, cap_strips;
    sw_pt_mm *failed; /* places that nothing helped */
    size_t n_failed, cap_failed;
} holder;

/* ---- places ------------------------------------------------------------------------------------------------- */

static sw_pt_mm to_mm(const bridge_ground *g, sw_pt_px p)
{
    const sw_rect_px *const w = &g->job->window;
    return sw_pt_mm_from_px(&g->grid, (sw_pt_px){ (double)w->x + p.x_px - 1.0, (double)w->y + p.y_px - 1.0 });
}

static sw_pt_px to_px(const bridge_ground *g, sw_pt_mm p)
{
    const sw_rect_px *const w = &g->job->window;
    return (sw_pt_px){ sw_px_from_mm(&g->grid, p.x_mm) - (double)w->x + 1.0,
                       sw_px_from_mm(&g->grid, p.y_mm) - (double)w->y + 1.0 };
}

static bool is_within(sw_pt_mm a, sw_pt_mm b, double mm)
{
    const double dx = a.x_mm - b.x_mm, dy = a.y_mm - b.y_mm;
    return dx * dx + dy * dy < mm * mm;
}

typedef struct cover_job {
    const bridge_ground *g;
    sw_hold_cells *cells;
    size_t factor;
} cover_job;

/* Material pixels of each cell; what lies past the window is frame. */
static void cover_rows(size_t row_begin, size_t row_end, void *ctx)
{
    const cover_job *const job = ctx;
    const sw_mask *const mask = &job->g->mask;
    const size_t f = job->factor, width = mask->width_px - 2, height = mask->height_px - 2;
    for (size_t row = row_begin; row < row_end; row++) {
        float *const cover = job->cells->cover + (row + 1) * job->cells->width + 1;
        for (size_t cell = 0; cell * f < width; cell++) {
            const size_t x0 = cell * f, n = sw_min_size(f, width - x0);
            size_t n_open = 0;
            for (size_t y = row * f; y < sw_min_size(row * f + f, height); y++) {
                const uint8_t *const at = mask->at + (y + 1) * mask->width_px + x0 + 1;
                for (size_t x = 0; x < n; x++) n_open += at[x];
            }
            cover[cell] = (float)(f * f - n_open) / (float)(f * f);
        }
    }
}

static sw_status make_net(const bridge_ground *g, hold_net *net, sw_note *note)
{
    const size_t factor = (size_t)sw_max(floor(g->width_px / CELLS_ACROSS), 1.0);
    const double mm = sw_mm_from_px(&g->grid, 1.0);
    sw_hold_cells cells = { 0 };
    SW_TRY(sw_hold_cells_make(mm * (double)(g->mask.width_px - 2), mm * (double)(g->mask.height_px - 2),
                              mm * (double)factor, to_mm(g, (sw_pt_px){ 1.0, 1.0 }), &cells, note));
    sw_parallel_rows(cells.height - 2, cover_rows, &(cover_job){ g, &cells, factor });
    sw_status st = hold_net_make(&cells, g->job->material, g->job->droop_mm, net, note);
    sw_hold_cells_free(&cells);
    return st == SW_OK ? hold_net_solve(net, note) : st;
}

/* ---- where bridges are wanted ---------------------------------------------------------------------------------- */

static bool add_site(holder *h, uint32_t node, sw_pt_mm at)
{
    const double sink = hold_sink_mm(&h->net, node, at);
    if (!(sink > h->limit_mm)) return true;
    void *sites = h->sites;
    const bool is_grown = sw_grow(&sites, &h->cap_sites, h->n_sites + 1, sizeof *h->sites);
    h->sites = sites;
    if (!is_grown) return false;
    h->sites[h->n_sites++] = (site){ .sink_mm = sink, .at = at, .node = node };
    return true;
}

static int compare_sites(const void *left, const void *right)
{
    const site *const a = left, *const b = right;
    if (a->sink_mm != b->sink_mm) return a->sink_mm > b->sink_mm ? -1 : 1;
    if (a->node != b->node) return a->node < b->node ? -1 : 1;
    if (a->at.y_mm != b->at.y_mm) return a->at.y_mm < b->at.y_mm ? -1 : 1;
    return a->at.x_mm < b->at.x_mm ? -1 : a->at.x_mm > b->at.x_mm;
}

/* All places that sink too far, the lowest first. */
static bool find_sites(holder *h)
{
    const hold_net *const net = &h->net;
    h->n_sites = 0;
    for (uint32_t i = 1; i < net->n_nodes; i++) {
        const hold_node *const node = &net->nodes[i];
        if (node->before == HOLD_NONE) continue;
        for (size_t k = 0; i <= net->n_broad && k < HOLD_CORNERS; k++)
            if (!add_site(h, i, net->corners[(i - 1) * HOLD_CORNERS + k])) return false;
        if (i > net->n_broad && !add_site(h, i, node->middle)) return false;
    }
    for (size_t i = 0; i < h->n_sites; i++)
        for (size_t k = 0; k < h->n_failed && !h->sites[i].is_closed; k++)
            h->sites[i].is_closed = is_within(h->sites[i].at, h->failed[k], TRIED_RATIO * h->reach_mm);
    if (h->n_sites > 1) qsort(h->sites, h->n_sites, sizeof *h->sites, compare_sites);
    return true;
}

static void close_sites(holder *h, const site *at, double within_mm)
{
    const sw_pt_mm middle = at->at;
    for (size_t i = 0; i < h->n_sites; i++)
        if (is_within(h->sites[i].at, middle, within_mm)) h->sites[i].is_closed = true;
}

/* ---- a bridge for one place --------------------------------------------------------------------------------------- */

/* From a place along a ray: through material that is near, then across an opening to other material. */
static bool cross_opening(const bridge_ground *g, sw_pt_px from, double dx, double dy, double inside_px, double longest,
                          sw_pt_px *a, sw_pt_px *b)
{
    double t = 0.0; /* whole pixels will do: the strip is cast anew from its middle */
    while (t < inside_px && bridge_part_at(g, from.x_px + t * dx, from.y_px + t * dy) != 0) t += 1.0;
    if (t >= inside_px) return false;
    double end = t;
    while (end - t < longest && bridge_part_at(g, from.x_px + end * dx, from.y_px + end * dy) == 0) end += 1.0;
    if (end - t >= longest || end - t < 0.25 * g->width_px) return false;
    *a = (sw_pt_px){ from.x_px + t * dx, from.y_px + t * dy };
    *b = (sw_pt_px){ from.x_px + end * dx, from.y_px + end * dy };
    return true;
}

/* The node a strip's end stands on: a little inside the material, because cells at its edge belong to nobody. */
static uint32_t node_at_end(const holder *h, sw_pt_px end, double dx, double dy)
{
    const double cell_px = sw_px_from_mm(&h->g->grid, h->net.cell_mm);
    for (double in = 0.5; in < 2.5; in += 0.5) {
        const sw_pt_px at = { end.x_px + in * cell_px * dx, end.y_px + in * cell_px * dy };
        const uint32_t node = hold_node_at(&h->net, to_mm(h->g, at));
        if (node != HOLD_NONE && h->net.nodes[node].before != HOLD_NONE) return node;
    }
    return HOLD_NONE;
}

/* Does the way of one node to what holds lead over the other, within reach? */
static bool is_on_way(const holder *h, uint32_t node, uint32_t other, double reach_mm)
{
    const double least_mm = h->net.nodes[node].way_mm - reach_mm;
    for (; node != HOLD_ROOT && node != HOLD_NONE && h->net.nodes[node].way_mm >= least_mm; node = h->net.nodes[node].before)
        if (node == other) return true;
    return false;
}

/* Is no added bridge near where this one would hold? Near through material, round bends or straight: the next arm or
 * tooth is another matter. */
static bool is_alone(const holder *h, kind what, sw_pt_px at, uint32_t node)
{
    const double ratio = what == KIND_LOOSE ? LOOSE_ALONE_RATIO : h->is_strict ? ALONE_RATIO : ALONE_AGAIN_RATIO;
    const double reach_mm = ratio * h->reach_mm;
    const sw_pt_mm at_mm = to_mm(h->g, at);
    for (size_t i = 0; i < h->n_strips; i++) {
        const added *const s = &h->strips[i];
        if (!is_within(s->at, at_mm, reach_mm)) continue;
        if (is_on_way(h, node, s->node, reach_mm) || is_on_way(h, s->node, node, reach_mm)) return false;
        const sw_pt_px other = to_px(h->g, s->at);
        bool is_joined = true;
        for (double t = 0.1; t < 0.95 && is_joined; t += 0.1)
            is_joined = bridge_part_at(h->g, at.x_px + t * (other.x_px - at.x_px), at.y_px + t * (other.y_px - at.y_px)) != 0;
        if (is_joined) return false;
    }
    return true;
}

/* The broad part that a slice at its rim belongs to, or the node itself. */
static uint32_t body_of(const hold_net *net, uint32_t node)
{
    uint32_t at = node;
    for (int step = 0; step < 3 && at > net->n_broad && net->nodes[at].before != HOLD_NONE; step++) at = net->nodes[at].before;
    return at != HOLD_ROOT && at <= net->n_broad ? at : node;
}

/* How long a bridge may show for what it holds. */
static double longest_seen_px(const holder *h, kind what, uint32_t held)
{
    const uint32_t node = body_of(&h->net, held);
    if (what != KIND_LOOSE) return SEEN_WIDTHS * h->g->width_px;
    double size_mm = 0.0;
    for (size_t k = 0; node <= h->net.n_broad && k < HOLD_CORNERS / 2; k++) {
        const sw_pt_mm *const corner = &h->net.corners[(node - 1) * HOLD_CORNERS + k], *const other = corner + HOLD_CORNERS / 2;
        size_mm = sw_max(size_mm, hypot(other->x_mm - corner->x_mm, other->y_mm - corner->y_mm));
    }
    return sw_clamp(LOOSE_SIZE_RATIO * sw_px_from_mm(&h->g->grid, size_mm), LOOSE_SEEN_WIDTHS * h->g->width_px,
                    LOOSE_MOST_WIDTHS * h->g->width_px);
}

static double most_seen(const holder *h, kind what, double longest_px)
{
    const double ratio = what == KIND_LOOSE ? LOOSE_SEEN_RATIO : 1.0;
    return ratio * longest_px * h->g->width_px * SEEN_CIEDE2000 * BRIDGE_UNIT;
}

/* Does a strip along the way show too much? By its axis alone. */
static bool is_seen(const bridge_ground *g, sw_pt_px a, sw_pt_px b, double most_px, double most)
{
    const double length = hypot(b.x_px - a.x_px, b.y_px - a.y_px), step = 2.0;
    const double dx = (b.x_px - a.x_px) / length, dy = (b.y_px - a.y_px) / length;
    double seen = 0.0, seen_px = 0.0;
    for (double t = 0.5 * step; t < length && seen <= most && seen_px <= most_px; t += step) {
        const double x = a.x_px + t * dx, y = a.y_px + t * dy;
        if (x < 1.0 || y < 1.0 || x >= (double)g->mask.width_px - 1.0 || y >= (double)g->mask.height_px - 1.0) continue;
        const uint32_t cost = bridge_pixel_cost(g, (size_t)x, (size_t)y);
        if (cost == BRIDGE_WALL) return true;
        if (cost <= BRIDGE_LENGTH) continue;
        seen += step * g->width_px * (double)(cost - BRIDGE_LENGTH);
        seen_px += step;
    }
    return seen > most || seen_px > most_px;
}

/* Salience from which on a place may not be crossed to hold what sinks so far. */
static double salience_banned(const holder *h, double sink_mm)
{
    return SALIENCE_LEAST + (SALIENCE_BAN - SALIENCE_LEAST) * sw_min(sink_mm / (LOOSE_LIMITS * h->limit_mm), 1.0);
}

/* Does what shows of a strip cross a place that a viewer looks at? Along its axis and near both its sides. */
static bool is_looked_at(const bridge_ground *g, const bridge_strip *s, double banned)
{
    const double length = hypot(s->b.x_px - s->a.x_px, s->b.y_px - s->a.y_px), step = 1.0;
    const double dx = (s->b.x_px - s->a.x_px) / length, dy = (s->b.y_px - s->a.y_px) / length;
    for (int side = -1; side <= 1; side++) {
        const double across = 0.4 * side * g->width_px;
        double seen_px = 0.0, banned_px = 0.0;
        for (double t = 0.5 * step; t < length; t += step) {
            const double x = s->a.x_px + t * dx - across * dy, y = s->a.y_px + t * dy + across * dx;
            if (!(x >= 1.0 && y >= 1.0) || x >= (double)g->mask.width_px - 1.0 || y >= (double)g->mask.height_px - 1.0) continue;
            if (bridge_part_at(g, x, y) != 0 || bridge_pixel_cost(g, (size_t)x, (size_t)y) <= BRIDGE_LENGTH) continue;
            seen_px += step;
            if (g->job->separation->salience[bridge_grid_index(g, (size_t)x, (size_t)y)] >= banned) banned_px += step;
        }
        if (banned_px > 0.0 && banned_px >= 0.5 * sw_min(g->width_px, seen_px)) return true;
    }
    return false;
}

/* The strip across an opening that a ray found; cost HUGE_VAL if it holds nothing or is seen too much. */
static bridge_strip strip_along(const holder *h, const site *from, kind what, sw_pt_px a, sw_pt_px b, added *out)
{
    const bridge_ground *const g = h->g;
    const double angle = atan2(b.y_px - a.y_px, b.x_px - a.x_px), length = hypot(b.x_px - a.x_px, b.y_px - a.y_px);
    const sw_pt_px middle = { 0.5 * (a.x_px + b.x_px), 0.5 * (a.y_px + b.y_px) };
    bridge_strip s = { .cost = HUGE_VAL };
    const double most_px = longest_seen_px(h, what, from->node), most = most_seen(h, what, most_px);
    if (is_seen(g, a, b, most_px, most)) return s;
    const uint32_t other = node_at_end(h, b, cos(angle), sin(angle));
    if (other == HOLD_NONE) return s;
    const double held_mm = hold_sink_mm(&h->net, other, to_mm(g, b));
    const double most_mm = sw_max(HELD_LIMIT_RATIO * h->limit_mm, h->is_strict ? 0.0 : HELD_SINK_RATIO * from->sink_mm);
    const uint32_t node = node_at_end(h, a, -cos(angle), -sin(angle));
    if (held_mm > most_mm || node == HOLD_NONE || !is_alone(h, what, a, node)) return s;
    s = bridge_strip_through(g, middle, angle, BRIDGE_ROOT, BRIDGE_ROOT, length + 2.0 * g->width_px);
    if (!(s.cost < HUGE_VAL)) return s;
    if (s.seen > 1.25 * most || is_looked_at(g, &s, salience_banned(h, from->sink_mm))) s.cost = HUGE_VAL;
    const bool is_turned = hypot(s.a.x_px - a.x_px, s.a.y_px - a.y_px) > hypot(s.b.x_px - a.x_px, s.b.y_px - a.y_px);
    if (is_turned) {
        const sw_pt_px end = s.a;
        s.a = s.b;
        s.b = end;
    }
    out->strip = s;
    out->node = node_at_end(h, s.a, -cos(angle), -sin(angle));
    if (out->node == HOLD_NONE) s.cost = HUGE_VAL;
    else out->sink_mm = hold_sink_mm(&h->net, out->node, out->at = to_mm(g, s.a));
    return s;
}

/* The strip moved a little to where it costs least: at right angles to its edges, as a rule. */
static void settle(const holder *h, added *made, double banned)
{
    const bridge_ground *const g = h->g;
    const bridge_strip *const was = &made->strip;
    bridge_strip s = bridge_strip_descend(g, *was);
    const sw_pt_px end = s.b;
    if (hypot(s.a.x_px - was->a.x_px, s.a.y_px - was->a.y_px) > hypot(s.b.x_px - was->a.x_px, s.b.y_px - was->a.y_px)) {
        s.b = s.a;
        s.a = end;
    }
    const double most_px = SETTLE_WIDTHS * g->width_px, length = hypot(s.b.x_px - s.a.x_px, s.b.y_px - s.a.y_px);
    if (!(s.cost < was->cost && length > 0.0) || hypot(s.a.x_px - was->a.x_px, s.a.y_px - was->a.y_px) > most_px ||
        hypot(s.b.x_px - was->b.x_px, s.b.y_px - was->b.y_px) > sw_max(most_px, 0.5 * length))
        return;
    const double dx = (s.b.x_px - s.a.x_px) / length, dy = (s.b.y_px - s.a.y_px) / length;
    const uint32_t node = node_at_end(h, s.a, -dx, -dy), other = node_at_end(h, s.b, dx, dy);
    if (node == HOLD_NONE || other == HOLD_NONE || hold_sink_mm(&h->net, node, to_mm(g, s.a)) < 0.8 * made->sink_mm ||
        hold_sink_mm(&h->net, other, to_mm(g, s.b)) > 0.5 * made->sink_mm || is_looked_at(g, &s, banned))
        return;
    made->strip = s;
    made->node = node;
    made->at = to_mm(g, s.a);
    made->sink_mm = hold_sink_mm(&h->net, node, made->at);
}

/* Try all directions from one place; *best is replaced by what pays better. */
static void try_site(const holder *h, const site *from, kind what, added *best, double *best_price)
{
    const bridge_ground *const g = h->g;
    const sw_pt_px at = to_px(g, from->at);
    const double longest_px = (what == KIND_SHORT ? SHORT_WIDTHS : LONG_WIDTHS) * g->width_px;
    const double inside_px = sw_px_from_mm(&g->grid, 0.5 * hold_broad_mm(h->net.material, h->limit_mm)) + g->width_px;
    for (size_t k = 0; k < N_RAYS; k++) {
        const double angle = 6.283185307179586 * (double)k / N_RAYS;
        sw_pt_px a, b;
        if (!cross_opening(g, at, cos(angle), sin(angle), inside_px, longest_px, &a, &b)) continue;
        /* a strip costs its plain length at least */
        const double least = BRIDGE_LENGTH * hypot(b.x_px - a.x_px, b.y_px - a.y_px) * g->width_px;
        if (!(least / (from->sink_mm * from->sink_mm) < *best_price)) continue;
        added tried = { .node = HOLD_NONE };
        const bridge_strip s = strip_along(h, from, what, a, b, &tried);
        if (!(s.cost < HUGE_VAL) || !(tried.sink_mm > 0.5 * from->sink_mm)) continue;
        const double price = s.cost / (tried.sink_mm * tried.sink_mm);
        if (!(price < *best_price)) continue;
        *best_price = price;
        *best = tried;
    }
}

/* The bridge that pays best for a place, from it or from one near it that sinks nearly as far. */
static bool find_kind(const holder *h, const site *worst, kind what, added *out)
{
    double price = HUGE_VAL;
    sw_pt_mm tried[MOST_NEAR];
    size_t n_tried = 0;
    const size_t most = what == KIND_SHORT ? MOST_NEAR : MOST_NEAR_LONG;
    for (const site *s = worst; s < h->sites + h->n_sites && n_tried < most; s++) {
        if (s->sink_mm < 0.5 * worst->sink_mm) break; /* sorted */
        if (!is_within(s->at, worst->at, NEAR_RATIO * h->reach_mm)) continue;
        bool is_new = true;
        for (size_t k = 0; k < n_tried && is_new; k++) is_new = !is_within(s->at, tried[k], NEXT_RATIO * h->reach_mm);
        if (!is_new) continue;
        tried[n_tried++] = s->at;
        if (h->net.nodes[s->node].group == h->net.nodes[worst->node].group) try_site(h, s, what, out, &price);
    }
    return price < HUGE_VAL;
}

static bool find_strip(const holder *h, const site *worst, added *out)
{
    return find_kind(h, worst, KIND_SHORT, out) || find_kind(h, worst, KIND_LONG, out) ||
           (worst->sink_mm > LOOSE_LIMITS * h->limit_mm && find_kind(h, worst, KIND_LOOSE, out));
}

/* ---- rounds ----------------------------------------------------------------------------------------------------------- */

/* After the first bridges all material is one piece; what bridges left in a box is material too. */
static void flatten(holder *h, size_t x0, size_t y0, size_t x1, size_t y1)
{
    const size_t width = h->g->mask.width_px;
    for (size_t y = y0; y < y1; y++)
        for (size_t i = y * width + x0; i < y * width + x1; i++) h->g->part[i] = h->g->mask.at[i] == 0 ? BRIDGE_ROOT : 0;
}

static void flatten_all(holder *h)
{
    flatten(h, 0, 0, h->g->mask.width_px, h->g->mask.height_px);
    h->is_flat = true;
}

/* Around a strip: it may have become a tenth of its length wide, and its corners are rounded. */
static void flatten_strip(holder *h, const bridge_strip *s)
{
    const double length = hypot(s->b.x_px - s->a.x_px, s->b.y_px - s->a.y_px);
    const double more = 0.2 * length + 2.0 * h->g->width_px + 2.0 * sw_px_from_mm(&h->g->grid, h->g->job->min_opening_mm);
    const double w = (double)h->g->mask.width_px, t = (double)h->g->mask.height_px;
    flatten(h, (size_t)sw_clamp(sw_min(s->a.x_px, s->b.x_px) - more, 0.0, w),
            (size_t)sw_clamp(sw_min(s->a.y_px, s->b.y_px) - more, 0.0, t),
            (size_t)sw_clamp(sw_max(s->a.x_px, s->b.x_px) + more, 0.0, w),
            (size_t)sw_clamp(sw_max(s->a.y_px, s->b.y_px) + more, 0.0, t));
}

static bool add_strip(holder *h, added made)
{
    void *at = h->strips;
    const bool is_grown = sw_grow(&at, &h->cap_strips, h->n_strips + 1, sizeof *h->strips);
    h->strips = at;
    if (!is_grown) return false;
    h->strips[h->n_strips++] = made;
    const bridge_strip *const s = &made.strip;
    const double length = hypot(s->b.x_px - s->a.x_px, s->b.y_px - s->a.y_px);
    const double dx = length > 0.0 ? (s->b.x_px - s->a.x_px) / length : 1.0;
    const double dy = length > 0.0 ? (s->b.y_px - s->a.y_px) / length : 0.0;
    const uint32_t other = node_at_end(h, s->b, dx, dy);
    return hold_net_link(&h->net, (hold_link){ .a = made.node, .b = other == HOLD_NONE ? HOLD_ROOT : other, .pa = made.at,
                                               .pb = to_mm(h->g, s->b), .width_mm = h->g->job->width_mm });
}

static bool note_failed(holder *h, sw_pt_mm at)
{
    void *failed = h->failed;
    const bool is_grown = sw_grow(&failed, &h->cap_failed, h->n_failed + 1, sizeof *h->failed);
    h->failed = failed;
    if (is_grown) h->failed[h->n_failed++] = at;
    return is_grown;
}

/* Where a bridge was added, places that nothing helped may be helped now. */
static void forget_failed(holder *h, sw_pt_mm near)
{
    size_t kept = 0;
    for (size_t i = 0; i < h->n_failed; i++)
        if (!is_within(h->failed[i], near, h->reach_mm)) h->failed[kept++] = h->failed[i];
    h->n_failed = kept;
}

/* One bridge for each neighbourhood; *n_added: how many. */
static bool add_round(holder *h, size_t *n_added)
{
    *n_added = 0;
    if (!find_sites(h)) return false;
    if (h->n_sites > 0 && !h->is_flat) flatten_all(h);
    for (size_t i = 0; i < h->n_sites && !sw_is_interrupted(); i++) {
        const site *const worst = &h->sites[i];
        added made = { .node = HOLD_NONE };
        if (worst->is_closed) continue;
        if (!find_strip(h, worst, &made)) {
            if (!note_failed(h, worst->at)) return false;
            close_sites(h, worst, TRIED_RATIO * h->reach_mm);
            continue;
        }
        const uint32_t body = body_of(&h->net, worst->node);
        close_sites(h, worst, APART_RATIO * h->reach_mm);
        for (size_t k = 0; k < h->n_sites; k++) /* a broad part turns as a whole: one at a time */
            if (body <= h->net.n_broad && body_of(&h->net, h->sites[k].node) == body) h->sites[k].is_closed = true;
        settle(h, &made, salience_banned(h, worst->sink_mm));
        made.wanted = *worst;
        if (!add_strip(h, made)) return false;
        ++*n_added;
    }
    return true;
}

/* This round's bridges that did not help leave again; their beams are the net's last. */
static bool judge_round(holder *h, size_t n_before, size_t n_links)
{
    size_t kept = n_before;
    for (size_t i = n_before; i < h->n_strips; i++) {
        added now = h->strips[i];
        const hold_link link = h->net.links[n_links + i - n_before];
        const double sink = hold_sink_mm(&h->net, now.node, now.at);
        if (sink > h->limit_mm && sink > LEFT_MOST_RATIO * now.sink_mm) {
            h->net.nodes[link.a].is_dirty = h->net.nodes[link.b].is_dirty = true;
            if (!note_failed(h, now.at) || !note_failed(h, now.wanted.at)) return false;
            continue;
        }
        h->net.links[n_links + kept - n_before] = link;
        h->strips[kept++] = now;
        forget_failed(h, now.at);
    }
    h->net.n_links = n_links + kept - n_before;
    h->n_strips = kept;
    return true;
}

/* The round's bridges in the mask, and as material for those that follow. */
static sw_status leave_round(holder *h, size_t n_before, size_t n_links, sw_sheet *sheet, sw_note *note)
{
    for (size_t i = n_before; i < h->n_strips; i++) {
        bridge_strips one = { &h->strips[i].strip, 1, 1 };
        SW_TRY(bridge_leave(h->g, NULL, &one, sheet, note));
        flatten_strip(h, one.at);
        hold_link *const link = &h->net.links[n_links + i - n_before];
        link->width_mm = sheet->bridges[sheet->n_bridges - 1].width_mm; /* hidden ones came out wider */
        h->net.nodes[link->a].is_dirty = h->net.nodes[link->b].is_dirty = true;
    }
    return SW_OK;
}

static sw_status hold_all(holder *h, sw_sheet *sheet, sw_note *note)
{
    h->is_strict = true;
    for (size_t round = 0; round < MOST_ROUNDS; round++) {
        const size_t n_before = h->n_strips, n_links = h->net.n_links;
        size_t n_added;
        if (!add_round(h, &n_added)) return sw_fail_memory(note, "what hangs");
        if (n_added == 0 && (!h->is_strict || h->n_sites == 0)) return SW_OK;
        if (n_added == 0) {
            h->is_strict = false; /* all is tried once more, for what holds less well */
            h->n_failed = 0;
            continue;
        }
        SW_TRY(hold_net_solve(&h->net, note));
        if (!judge_round(h, n_before, n_links)) return sw_fail_memory(note, "what hangs");
        SW_TRY(leave_round(h, n_before, n_links, sheet, note));
        SW_TRY(hold_net_solve(&h->net, note));
    }
    return SW_OK;
}

/* ---- what was in vain --------------------------------------------------------------------------------------------- */

static bool leaves_much(const holder *h, uint32_t node, sw_pt_mm at, double sank_mm)
{
    const double sink = hold_sink_mm(&h->net, node, at);
    return sink > h->limit_mm && sink > LEFT_SEEN_RATIO * sank_mm;
}

static bool is_in_vain(const holder *h, const added *s)
{
    return s->strip.seen > SEEN_LEAST_RATIO * s->strip.cost &&
           (leaves_much(h, s->node, s->at, s->sink_mm) || leaves_much(h, s->wanted.node, s->wanted.at, s->wanted.sink_mm));
}

/* Forget a strip and its beam, the first of the strips' being first_link. */
static void forget_strip(holder *h, size_t strip, size_t first_link)
{
    const hold_link *const link = &h->net.links[first_link + strip];
    h->net.nodes[link->a].is_dirty = h->net.nodes[link->b].is_dirty = true;
    const size_t n_after = --h->n_strips - strip;
    memmove(h->strips + strip, h->strips + strip + 1, n_after * sizeof *h->strips);
    memmove(h->net.links + first_link + strip, h->net.links + first_link + strip + 1, n_after * sizeof *h->net.links);
    h->net.n_links--;
}

/* Does a strip still end on material? It may have stood on one that is gone. */
static bool is_joined(const bridge_ground *g, const bridge_strip *s)
{
    const double length = hypot(s->b.x_px - s->a.x_px, s->b.y_px - s->a.y_px), past = 1.5;
    const double dx = past * (s->b.x_px - s->a.x_px) / length, dy = past * (s->b.y_px - s->a.y_px) / length;
    return bridge_part_at(g, s->a.x_px - dx, s->a.y_px - dy) != 0 && bridge_part_at(g, s->b.x_px + dx, s->b.y_px + dy) != 0;
}

/* Bridges anew from the mask as it was, in the same order. */
static sw_status leave_again(holder *h, size_t first_link, size_t first_bridge, sw_sheet *sheet, sw_note *note)
{
    memcpy(h->g->mask.at, h->before.at, h->before.width_px * h->before.height_px);
    flatten_all(h);
    sheet->n_bridges = first_bridge;
    for (size_t i = 0; i < h->n_strips;) {
        bridge_strips one = { &h->strips[i].strip, 1, 1 };
        if (!is_joined(h->g, one.at)) {
            forget_strip(h, i, first_link);
            continue;
        }
        SW_TRY(bridge_leave(h->g, NULL, &one, sheet, note));
        flatten_strip(h, one.at);
        i++;
    }
    return hold_net_solve(&h->net, note);
}

/* Take away what shows in vain; others may have counted on it, so until nothing is. */
static sw_status drop_vain(holder *h, size_t first_link, size_t first_bridge, sw_sheet *sheet, sw_note *note)
{
    const size_t n_before = h->n_strips;
    for (size_t n_last = SIZE_MAX; h->n_strips < n_last;) {
        n_last = h->n_strips;
        for (size_t i = h->n_strips; i-- > 0;)
            if (is_in_vain(h, &h->strips[i])) forget_strip(h, i, first_link);
        if (h->n_strips < n_last) SW_TRY(hold_net_solve(&h->net, note));
    }
    return h->n_strips == n_before ? SW_OK : leave_again(h, first_link, first_bridge, sheet, note);
}

static void note_worst(holder *h, sw_sheet *sheet)
{
    const sw_hang worst = hold_worst(&h->net, h->g->job->droop_mm);
    const size_t n_over = sheet->hang.n_over + worst.n_over;
    if (worst.droop_mm > sheet->hang.droop_mm) sheet->hang = worst;
    sheet->hang.n_over = n_over;
}

sw_status bridge_hold(bridge_ground *g, sw_sheet *sheet, sw_note *note)
{
    holder h = { .g = g, .limit_mm = AIM_RATIO * g->job->droop_mm };
    sw_status st = make_net(g, &h.net, note);
    if (st != SW_OK) goto cleanup;
    h.reach_mm = droop_tongue_length_mm(h.net.material, h.limit_mm);
    const size_t first_link = h.net.n_links, first_bridge = sheet->n_bridges;
    st = sw_mask_copy(&g->mask, &h.before, note);
    if (st == SW_OK) st = hold_all(&h, sheet, note);
    if (st == SW_OK) st = drop_vain(&h, first_link, first_bridge, sheet, note);
    if (st == SW_OK) note_worst(&h, sheet);
cleanup:
    hold_net_free(&h.net);
    sw_mask_free(&h.before);
    sw_free(h.sites);
    sw_free(h.strips);
    sw_free(h.failed);
    return st;
}
