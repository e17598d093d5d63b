/* A bridge for one place that sinks: rays across the openings around it, and the strip that costs the eye least for what
 * it mends. */
#include <math.h>
#include <stdlib.h>

#include "sheet/bridge_hold.h"

#define N_RAYS 16u            /* directions in which a bridge is looked for */
/* Bridges are looked for that are short, then those that are long: longer ones bend themselves, but where nobody sees
 * them they are made up to a tenth of their length wide. */
#define SHORT_WIDTHS 9.0
#define LONG_WIDTHS 60.0
/* Measures below are shares of the length of a strip that sinks by the limit. */
#define NEXT_RATIO 0.08       /* of places tried together the next is no nearer than this */
#define MOST_NEAR 16u
#define MOST_NEAR_LONG 6u
/* A bridge is so far from others that hold the same, and a third as far where those are not enough: a strip on bridges this
 * far apart sinks a tenth of the limit, and a fan of sticks is ugly. */
#define ALONE_RATIO 1.0
#define ALONE_AGAIN_RATIO 0.35
/* A bridge leads to what sinks at most this share of the limit; where there is none such, of what it is to hold. */
#define HELD_LIMIT_RATIO 0.6
#define HELD_SINK_RATIO 0.4
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

/* One that leaves more than this share of the sinking, and more than the limit, is taken back. */
#define LEFT_MOST_RATIO 0.75

#define UNSETTLED_LEFT_RATIO 0.92

/* Kinds of bridges, tried in this order. */
typedef enum kind { KIND_SHORT, KIND_LONG, KIND_LOOSE } kind;

/* A ray from a place: through material that is near, then across an opening to other material. Whole pixels will do: the
 * strip is cast anew from its middle. */
typedef struct way {
    double begin, end; /* of the opening; end: as far as it has been followed. begin below 0: nothing known yet */
    double held_mm;    /* how far what it leads to sinks; HUGE_VAL: it leads to nothing. Below 0: nothing known yet */
} way;

typedef struct near_site {
    const bridge_site *site;
    sw_pt_px at;
    way ways[N_RAYS];
} near_site;

/* What is known of one place's search; kinds share it. */
typedef struct hunt {
    const bridge_holder *h;
    const bridge_site *worst;
    sw_pt_px unit[N_RAYS]; /* vectors of the rays */
    size_t n_near;
    near_site near[MOST_NEAR];
} hunt;

/* A strip that may pay: at least so much of what it mends. */
typedef struct candidate {
    double least_price;
    size_t near, ray;
} candidate;

static double angle_of(size_t ray) { return 6.283185307179586 * (double)ray / N_RAYS; }

static sw_pt_px along(sw_pt_px from, sw_pt_px unit, double t)
{
    return (sw_pt_px){ from.x_px + t * unit.x_px, from.y_px + t * unit.y_px };
}

/* Of a place in the window. Bits of what was open when holding began are in a cache where pixels are not; they hold where no
 * bridge came. */
static bool is_open(const bridge_holder *h, sw_pt_px at)
{
    const size_t x = (size_t)(ptrdiff_t)at.x_px, y = (size_t)(ptrdiff_t)at.y_px;
    return *bridge_square_at(h->g, at) == BRIDGE_HAS_BRIDGE ? bridge_part_of(h->g, bridge_index(h->g, at)) == 0
                                                             : sw_bit(&h->before, h->before.pad_x + x, h->before.pad_y + y);
}

/* How far it is to an opening, in whole steps; most_px if there is none as near. */
static double leave_material(const bridge_holder *h, sw_pt_px from, sw_pt_px unit, double most_px)
{
    for (double t = 0.0; t < most_px; t += 1.0) {
        const sw_pt_px at = along(from, unit, t);
        if (!bridge_is_inside(h->g, at)) return most_px; /* the frame has no end */
        if (is_open(h, at)) return t;
    }
    return most_px;
}

/* Is there an opening to cross, at most so long? */
static bool cross_opening(const hunt *s, near_site *from, size_t ray, double longest)
{
    const bridge_ground *const g = s->h->g;
    const double inside_px = sw_px_from_mm(&g->grid, 0.5 * s->h->broad_mm) + g->width_px;
    const sw_pt_px unit = s->unit[ray], steps_a_px = bridge_steps_a_px(unit.x_px, unit.y_px);
    way *const w = &from->ways[ray];
    if (w->begin < 0.0) w->begin = w->end = leave_material(s->h, from->at, unit, inside_px);
    if (w->begin >= inside_px) return false;
    while (w->end - w->begin < longest) {
        const sw_pt_px at = along(from->at, unit, w->end);
        if (!bridge_is_inside(g, at)) break;
        const uint32_t n = bridge_steps_through_square(g, at, steps_a_px);
        if (n == 1 && !is_open(s->h, at)) break;
        w->end += n;
    }
    return w->end - w->begin < longest && w->end - w->begin >= 0.25 * g->width_px;
}

/* The node a strip's end stands on: a little inside the material, because cells at its edge belong to nobody. */
uint32_t bridge_node_at_end(const bridge_holder *h, sw_pt_px end, double dx, double dy)
{
    const double cell_px = sw_px_from_mm(&h->g->grid, h->net->cell_mm);
    for (double in = 0.5; in < 2.5; in += 0.5) {
        const sw_pt_px at = { end.x_px + in * cell_px * dx, end.y_px + in * cell_px * dy };
        const uint32_t node = hold_node_at(h->net, bridge_to_mm(h->g, at));
        if (node != HOLD_NONE && h->net->nodes[node].before != HOLD_NONE) return node;
    }
    return HOLD_NONE;
}

/* Does the way of one node to what holds lead over the other, within reach? */
static bool is_on_way(const bridge_holder *h, uint32_t node, uint32_t other, double reach_mm)
{
    const double least_mm = h->net->nodes[node].way_mm - reach_mm;
    for (; node != HOLD_ROOT && node != HOLD_NONE && h->net->nodes[node].way_mm >= least_mm; node = h->net->nodes[node].before)
        if (node == other) return true;
    return false;
}

/* Is no added bridge near where this one would hold? Near through material, round bends or straight: the next arm or
 * tooth is another matter. */
static bool is_alone(const bridge_holder *h, kind what, sw_pt_px at, uint32_t node)
{
    const double ratio = what == KIND_LOOSE ? LOOSE_ALONE_RATIO : h->is_strict ? ALONE_RATIO : ALONE_AGAIN_RATIO;
    const double reach_mm = ratio * h->reach_mm;
    const sw_pt_mm at_mm = bridge_to_mm(h->g, at);
    for (size_t i = 0; i < h->n_strips; i++) {
        const bridge_added *const s = &h->strips[i];
        if (!bridge_is_within(s->at, at_mm, reach_mm)) continue;
        if (is_on_way(h, node, s->node, reach_mm) || is_on_way(h, s->node, node, reach_mm)) return false;
        const sw_pt_px other = bridge_to_px(h->g, s->at);
        bool is_joined = true;
        for (double t = 0.1; t < 0.95 && is_joined; t += 0.1)
            is_joined = bridge_part_at(h->g, at.x_px + t * (other.x_px - at.x_px), at.y_px + t * (other.y_px - at.y_px)) != 0;
        if (is_joined) return false;
    }
    return true;
}

/* The broad part that a slice at its rim belongs to, or the node itself. */
uint32_t bridge_body_of(const hold_net *net, uint32_t node)
{
    uint32_t at = node;
    for (int step = 0; step < 3 && at > net->n_broad && net->nodes[at].before != HOLD_NONE; step++) at = net->nodes[at].before;
    return at != HOLD_ROOT && at <= net->n_broad ? at : node;
}

/* How long a bridge may show for what it holds. */
static double longest_seen_px(const bridge_holder *h, kind what, uint32_t held)
{
    const uint32_t node = bridge_body_of(h->net, held);
    if (what != KIND_LOOSE) return SEEN_WIDTHS * h->g->width_px;
    double size_mm = 0.0;
    for (size_t k = 0; node <= h->net->n_broad && k < HOLD_CORNERS / 2; k++) {
        const sw_pt_mm *const corner = &h->net->corners[(node - 1) * HOLD_CORNERS + k], *const other = corner + HOLD_CORNERS / 2;
        size_mm = sw_max(size_mm, hypot(other->x_mm - corner->x_mm, other->y_mm - corner->y_mm));
    }
    return sw_clamp(LOOSE_SIZE_RATIO * sw_px_from_mm(&h->g->grid, size_mm), LOOSE_SEEN_WIDTHS * h->g->width_px,
                    LOOSE_MOST_WIDTHS * h->g->width_px);
}

static double most_seen(const bridge_holder *h, kind what, double longest_px)
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
static double salience_banned(const bridge_holder *h, double sink_mm)
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

double bridge_gazed_at(const bridge_ground *g, const bridge_strip *s)
{
    const double length = hypot(s->b.x_px - s->a.x_px, s->b.y_px - s->a.y_px), step = 1.0;
    double sum = 0.0;
    for (double t = 0.5 * step; t < length; t += step) {
        const double x = s->a.x_px + t / length * (s->b.x_px - s->a.x_px), y = s->a.y_px + t / length * (s->b.y_px - s->a.y_px);
        if (!(x >= 1.0 && y >= 1.0) || x >= (double)g->mask.width_px - 1.0 || y >= (double)g->mask.height_px - 1.0) continue;
        const uint32_t cost = bridge_pixel_cost(g, (size_t)x, (size_t)y);
        if (cost <= BRIDGE_LENGTH || cost == BRIDGE_WALL) continue; /* its own pixels are material by now */
        const double plain = bridge_pixel_error(g, bridge_grid_index(g, (size_t)x, (size_t)y));
        sum += step * g->width_px * ((double)(cost - BRIDGE_LENGTH) - plain);
    }
    return sum;
}

/* The strip across an opening that a ray found; false if it holds nothing, is seen too much or pays less than the best. */
static bool strip_along(const hunt *hunted, kind what, const candidate *c, double best_price, bridge_added *out)
{
    const bridge_holder *const h = hunted->h;
    const bridge_ground *const g = h->g;
    const near_site *const near = &hunted->near[c->near];
    const bridge_site *const from = near->site;
    const way *const w = &near->ways[c->ray];
    const sw_pt_px unit = hunted->unit[c->ray], back = { -unit.x_px, -unit.y_px };
    const double length = w->end - w->begin;
    const sw_pt_px a = along(near->at, unit, w->begin), b = along(near->at, unit, w->end);
    const double most_px = longest_seen_px(h, what, from->node), most = most_seen(h, what, most_px);
    const uint32_t node = bridge_node_at_end(h, a, back.x_px, back.y_px);
    if (node == HOLD_NONE || is_seen(g, a, b, most_px, most) || !is_alone(h, what, a, node)) return false;
    const sw_pt_px middle = along(near->at, unit, w->begin + 0.5 * length);
    bridge_strip s;
    if (!bridge_strip_cast(g, middle, angle_of(c->ray), length + 2.0 * g->width_px, &s)) return false;
    const bool is_turned = hypot(s.a.x_px - a.x_px, s.a.y_px - a.y_px) > hypot(s.b.x_px - a.x_px, s.b.y_px - a.y_px);
    if (is_turned) s = bridge_strip_turned(s);
    const bridge_added made = { .node = bridge_node_at_end(h, s.a, back.x_px, back.y_px), .at = bridge_to_mm(g, s.a) };
    if (made.node == HOLD_NONE) return false;
    *out = made;
    out->sink_mm = hold_sink_mm(h->net, made.node, made.at);
    if (!(out->sink_mm > 0.5 * from->sink_mm)) return false;
    bridge_strip_measure(g, &s, best_price * out->sink_mm * out->sink_mm);
    out->strip = s;
    return s.cost < HUGE_VAL && s.seen <= 1.25 * most && !is_looked_at(g, &s, salience_banned(h, from->sink_mm));
}

/* The strip moved a little to where it costs least: at right angles to its edges, as a rule. */
static void settle(const bridge_holder *h, bridge_added *made, double banned)
{
    const bridge_ground *const g = h->g;
    const bridge_strip *const was = &made->strip;
    const double most_px = SETTLE_WIDTHS * g->width_px, was_px = hypot(was->b.x_px - was->a.x_px, was->b.y_px - was->a.y_px);
    const bridge_strip s = bridge_strip_descend(g, *was, most_px, sw_max(most_px, 0.5 * was_px));
    const double length = hypot(s.b.x_px - s.a.x_px, s.b.y_px - s.a.y_px);
    if (!(s.cost < was->cost && length > 0.0)) return;
    const double dx = (s.b.x_px - s.a.x_px) / length, dy = (s.b.y_px - s.a.y_px) / length;
    const uint32_t node = bridge_node_at_end(h, s.a, -dx, -dy), other = bridge_node_at_end(h, s.b, dx, dy);
    if (node == HOLD_NONE || other == HOLD_NONE || hold_sink_mm(h->net, node, bridge_to_mm(g, s.a)) < 0.8 * made->sink_mm ||
        hold_sink_mm(h->net, other, bridge_to_mm(g, s.b)) > 0.5 * made->sink_mm || is_looked_at(g, &s, banned))
        return;
    made->strip = s;
    made->node = node;
    made->at = bridge_to_mm(g, s.a);
    made->sink_mm = hold_sink_mm(h->net, node, made->at);
}

/* Places that sink nearly as far as the worst and lie near it, some way apart. */
static void list_near(hunt *s)
{
    const bridge_holder *const h = s->h;
    bridge_walk walk = bridge_sites_walk(h, s->worst);
    for (const bridge_site *at; s->n_near < MOST_NEAR && (at = bridge_sites_next(h, s->worst, &walk)) != NULL;) {
        if (at->sink_mm < 0.5 * s->worst->sink_mm) break; /* sorted */
        if (!bridge_is_within(at->at, s->worst->at, BRIDGE_NEAR_RATIO * h->reach_mm)) continue;
        bool is_new = true;
        for (size_t k = 0; k < s->n_near && is_new; k++)
            is_new = !bridge_is_within(at->at, s->near[k].site->at, NEXT_RATIO * h->reach_mm);
        if (!is_new) continue;
        near_site *const near = &s->near[s->n_near++];
        near->site = at;
        near->at = bridge_to_px(h->g, at->at);
        for (size_t k = 0; k < N_RAYS; k++) near->ways[k] = (way){ .begin = -1.0, .held_mm = -1.0 };
    }
}

static int compare_candidates(const void *left, const void *right)
{
    const candidate *const a = left, *const b = right;
    if (a->least_price != b->least_price) return a->least_price < b->least_price ? -1 : 1;
    if (a->near != b->near) return a->near < b->near ? -1 : 1;
    return a->ray < b->ray ? -1 : a->ray > b->ray;
}

/* Does a ray lead across its opening to what sinks little? Few do, where much hangs loose, and it is soon asked. */
static bool is_held(const hunt *s, near_site *from, size_t ray)
{
    const bridge_holder *const h = s->h;
    way *const w = &from->ways[ray];
    if (w->held_mm < 0.0) {
        const sw_pt_px end = along(from->at, s->unit[ray], w->end);
        const uint32_t other = bridge_node_at_end(h, end, s->unit[ray].x_px, s->unit[ray].y_px);
        w->held_mm = other == HOLD_NONE ? HUGE_VAL : hold_sink_mm(h->net, other, bridge_to_mm(h->g, end));
    }
    return w->held_mm <= sw_max(HELD_LIMIT_RATIO * h->limit_mm, h->is_strict ? 0.0 : HELD_SINK_RATIO * from->site->sink_mm);
}

/* All openings to cross to what holds; the cheapest they may be, at their plain length, first. Long ones as short as those
 * in vain before are left out. */
static size_t list_candidates(hunt *s, kind what, candidate list[MOST_NEAR * N_RAYS])
{
    const bridge_ground *const g = s->h->g;
    const double longest_px = (what == KIND_SHORT ? SHORT_WIDTHS : LONG_WIDTHS) * g->width_px;
    const double least_px = what == KIND_LONG ? SHORT_WIDTHS * g->width_px : 0.0;
    size_t n = 0;
    for (size_t i = 0; i < sw_min_size(s->n_near, what == KIND_SHORT ? MOST_NEAR : MOST_NEAR_LONG); i++) {
        near_site *const near = &s->near[i];
        const double sink = near->site->sink_mm;
        if (s->h->net->nodes[near->site->node].group != s->h->net->nodes[s->worst->node].group) continue;
        for (size_t k = 0; k < N_RAYS; k++) {
            if (!cross_opening(s, near, k, longest_px)) continue;
            const double length = near->ways[k].end - near->ways[k].begin;
            if (length < least_px || !is_held(s, near, k)) continue;
            list[n++] = (candidate){ BRIDGE_LENGTH * length * g->width_px / (sink * sink), i, k };
        }
    }
    if (n > 1) qsort(list, n, sizeof *list, compare_candidates);
    return n;
}

/* The bridge that pays best for a place, from it or from one near it that sinks nearly as far. */
static bool find_kind(hunt *s, kind what, bridge_added *out)
{
    candidate list[MOST_NEAR * N_RAYS];
    const size_t n = list_candidates(s, what, list);
    double best_price = HUGE_VAL;
    for (size_t i = 0; i < n && list[i].least_price < best_price; i++) {
        bridge_added tried;
        if (!strip_along(s, what, &list[i], best_price, &tried)) continue;
        const double price = tried.strip.cost / (tried.sink_mm * tried.sink_mm);
        if (!(price < best_price)) continue;
        best_price = price;
        *out = tried;
    }
    return best_price < HUGE_VAL;
}

hold_link bridge_link_of(const bridge_holder *h, const bridge_added *made)
{
    const bridge_strip *const s = &made->strip;
    const double length = hypot(s->b.x_px - s->a.x_px, s->b.y_px - s->a.y_px);
    const double dx = length > 0.0 ? (s->b.x_px - s->a.x_px) / length : 1.0;
    const double dy = length > 0.0 ? (s->b.y_px - s->a.y_px) / length : 0.0;
    const uint32_t other = bridge_node_at_end(h, s->b, dx, dy);
    return (hold_link){ .a = made->node, .b = other == HOLD_NONE ? HOLD_ROOT : other, .pa = made->at,
                        .pb = bridge_to_mm(h->g, s->b), .width_mm = h->g->job->width_mm };
}

bool bridge_leaves_most(const bridge_holder *h, const bridge_added *made, double sink_mm)
{
    return sink_mm > h->limit_mm && sink_mm > LEFT_MOST_RATIO * made->sink_mm;
}

/* Would it help, if it were there? What hangs straight down may need several: then less pull is help. Before a bridge is
 * settled, which takes long and helps a little, it must help at least somewhat. */
static bridge_found judge(const bridge_holder *h, const bridge_added *made, double left_ratio)
{
    const hold_link link = bridge_link_of(h, made);
    double pull_mm;
    if (!hold_probe(h->net, &link, made->node, made->at, &pull_mm)) return BRIDGE_NO_MEMORY;
    const double was_mm = hold_pull_mm(h->net, made->node, made->at);
    return pull_mm > h->limit_mm && pull_mm > left_ratio * was_mm ? BRIDGE_USELESS : BRIDGE_FOUND;
}

bridge_found bridge_find_strip(const bridge_holder *h, const bridge_site *worst, bridge_added *out)
{
    hunt s = { .h = h, .worst = worst };
    for (size_t k = 0; k < N_RAYS; k++) s.unit[k] = (sw_pt_px){ cos(angle_of(k)), sin(angle_of(k)) };
    list_near(&s);
    if (!find_kind(&s, KIND_SHORT, out) && !find_kind(&s, KIND_LONG, out) &&
        !(worst->sink_mm > LOOSE_LIMITS * h->limit_mm && find_kind(&s, KIND_LOOSE, out)))
        return BRIDGE_NONE;
    out->wanted = *worst;
    const bridge_found found = judge(h, out, UNSETTLED_LEFT_RATIO);
    if (found != BRIDGE_FOUND) return found;
    settle(h, out, salience_banned(h, worst->sink_mm));
    return judge(h, out, LEFT_MOST_RATIO);
}

double bridge_find_reach_mm(const bridge_holder *h)
{
    return (LOOSE_ALONE_RATIO + BRIDGE_NEAR_RATIO) * h->reach_mm + 0.5 * h->broad_mm +
           2.0 * h->g->job->width_mm;
}
