/* Bridges at even distances. Round an island they are counted along its outline: all places turned together until the
 * bridges there cost least, a top, bottom, left or right first. */
#include <math.h>
#include <stdlib.h>

#include "sheet/bridge_form.h"

#define MOST_STRIPS 32u   /* round an island */
#define N_TURNS 12u       /* places tried between a bridge and the next */
#define MOST_CROSSINGS 4u /* of an axis and an outline */
/* A place on an axis may cost more by noise, one on the first (the upright one, if there is) by a little more. */
#define AXIS_RATIO 0.98
#define UPRIGHT_RATIO 0.96

/* An island's outline, smoothed: a place a side of a pixel, and how far along it lies. */
typedef struct rim {
    sw_pt_px *raw, *at;
    double *along;
    size_t n, cap;
    double length_px;
} rim;

static void rim_free(rim *r)
{
    sw_free(r->raw);
    sw_free(r->at);
    sw_free(r->along);
    *r = (rim){ 0 };
}

static bool is_part(const bridge_ground *g, uint32_t part, ptrdiff_t x, ptrdiff_t y)
{
    return g->part[(size_t)y * g->mask.width_px + (size_t)x] == part;
}

static bool add_side(rim *r, double x, double y)
{
    void *raw = r->raw;
    const bool is_grown = sw_grow(&raw, &r->cap, r->n + 1, sizeof *r->raw);
    r->raw = raw;
    if (is_grown) r->raw[r->n++] = (sw_pt_px){ x, y };
    return is_grown;
}

/* Along the pixels' sides with the island on the right, from its first pixel's top side; corners do not join. */
static bool follow(const bridge_ground *g, uint32_t part, rim *r)
{
    static const int ahead_x[4] = { 1, 0, -1, 0 }, ahead_y[4] = { 0, 1, 0, -1 };
    const bridge_part *const box = &g->parts[part];
    size_t first = box->x0;
    while (first < box->x1 && !is_part(g, part, (ptrdiff_t)first, (ptrdiff_t)box->y0)) first++;
    if (first == box->x1) return true;
    ptrdiff_t x = (ptrdiff_t)first, y = (ptrdiff_t)box->y0; /* the pixel on the right */
    const ptrdiff_t x0 = x, y0 = y;
    int way = 0;
    do {
        /* the side's middle: half a pixel to the left of the way, seen from the pixel's middle */
        if (!add_side(r, (double)x + 0.5 + 0.5 * ahead_y[way], (double)y + 0.5 - 0.5 * ahead_x[way])) return false;
        const ptrdiff_t ax = x + ahead_x[way], ay = y + ahead_y[way], lx = ax + ahead_y[way], ly = ay - ahead_x[way];
        if (is_part(g, part, ax, ay) && is_part(g, part, lx, ly)) {
            x = lx;
            y = ly;
            way = (way + 3) % 4;
        } else if (is_part(g, part, ax, ay)) {
            x = ax;
            y = ay;
        } else {
            way = (way + 1) % 4;
        }
    } while (x != x0 || y != y0 || way != 0);
    return true;
}

/* Stairs are longer than the line they stand for: each place becomes the mean of those around it. */
static bool smooth(rim *r, double over_px)
{
    const size_t half = sw_min_size((size_t)over_px + 1, r->n / 8 + 1), wide = 2 * half + 1;
    r->at = sw_alloc_raw(r->n, sizeof *r->at);
    r->along = sw_alloc_raw(r->n + 1, sizeof *r->along);
    if (r->at == NULL || r->along == NULL) return false;
    double x = 0.0, y = 0.0;
    for (size_t k = 0; k < wide; k++) {
        x += r->raw[(r->n * wide + k - half) % r->n].x_px;
        y += r->raw[(r->n * wide + k - half) % r->n].y_px;
    }
    for (size_t i = 0; i < r->n; i++) {
        r->at[i] = (sw_pt_px){ x / (double)wide, y / (double)wide };
        const sw_pt_px in = r->raw[(i + half + 1) % r->n], out = r->raw[(i + r->n * wide - half) % r->n];
        x += in.x_px - out.x_px;
        y += in.y_px - out.y_px;
    }
    r->along[0] = 0.0;
    for (size_t i = 0; i < r->n; i++) {
        const sw_pt_px a = r->at[i], b = r->at[(i + 1) % r->n];
        r->along[i + 1] = r->along[i] + hypot(b.x_px - a.x_px, b.y_px - a.y_px);
    }
    r->length_px = r->along[r->n];
    return true;
}

/* The place so far along. */
static size_t index_along(const rim *r, double along)
{
    along -= r->length_px * floor(along / r->length_px);
    size_t lo = 0, hi = r->n - 1;
    while (lo < hi) { /* the first at or beyond it */
        const size_t mid = (lo + hi) / 2;
        if (r->along[mid] < along) lo = mid + 1;
        else hi = mid;
    }
    return lo;
}

/* The place nearest to a point. */
static size_t index_near(const rim *r, sw_pt_px p)
{
    size_t best = 0;
    double least = HUGE_VAL;
    for (size_t i = 0; i < r->n; i++) {
        const double dx = r->raw[i].x_px - p.x_px, dy = r->raw[i].y_px - p.y_px, sq = dx * dx + dy * dy;
        if (!(sq < least)) continue;
        least = sq;
        best = i;
    }
    return best;
}

/* The strip straight out of the outline at a place. */
static bridge_strip strip_at(const bridge_ground *g, const rim *r, size_t i, uint32_t part, uint32_t other)
{
    const size_t half = sw_min_size((size_t)g->width_px, r->n / 8) + 1;
    const sw_pt_px before = r->at[(i + r->n - half) % r->n], after = r->at[(i + half) % r->n];
    const double angle = atan2(after.y_px - before.y_px, after.x_px - before.x_px) - 1.57079632679489662;
    return bridge_strip_upright(g, r->raw[i], angle, part, other);
}

typedef struct placed {
    double along;
    uint32_t strip;
} placed;

static int compare_placed(const void *left, const void *right)
{
    const placed *const a = left, *const b = right;
    if (a->along != b->along) return a->along < b->along ? -1 : 1;
    return a->strip < b->strip ? -1 : a->strip > b->strip;
}

/* Strips round the island with the first so far along; HUGE_VAL if one cannot be, or they cost limit or more. */
static double turn_to(const bridge_order *o, const rim *r, double first, const uint32_t *which, size_t n, uint32_t part,
                      uint32_t other, double limit, bridge_strip *to)
{
    double cost = 0.0;
    for (size_t k = 0; k < n; k++) {
        to[k] = strip_at(o->g, r, index_along(r, first + (double)k * r->length_px / (double)n), part, other);
        cost += to[k].cost;
        if (!(cost < limit)) return HUGE_VAL;
    }
    return bridge_order_may(o, which, to, n, &cost) ? cost : HUGE_VAL;
}

/* Each strip keeps its turn in the order round the island, so that they move least; how far in sum. */
static double turn_order(const placed *at, size_t n, double first, double length_px, uint32_t *which)
{
    size_t best = 0;
    double least = HUGE_VAL;
    for (size_t shift = 0; shift < n; shift++) {
        double sum = 0.0;
        for (size_t k = 0; k < n; k++) {
            double far = fabs(at[(k + shift) % n].along - first - (double)k * length_px / (double)n);
            far -= length_px * floor(far / length_px);
            sum += sw_min(far, length_px - far);
        }
        if (!(sum < least)) continue;
        least = sum;
        best = shift;
    }
    for (size_t k = 0; k < n; k++) which[k] = at[(k + best) % n].strip;
    return least;
}

/* Where an axis crosses the outline. */
static size_t list_crossings(const rim *r, const bridge_turn *axis, double *out, size_t most)
{
    const double dx = cos(axis->angle), dy = sin(axis->angle);
    size_t n_out = 0;
    for (size_t i = 0; i < r->n && n_out < most; i++) {
        const sw_pt_px p = r->at[i], q = r->at[(i + 1) % r->n];
        const double a = (p.y_px - axis->at.y_px) * dx - (p.x_px - axis->at.x_px) * dy;
        const double b = (q.y_px - axis->at.y_px) * dx - (q.x_px - axis->at.x_px) * dy;
        if ((a < 0.0) != (b < 0.0)) out[n_out++] = r->along[i];
    }
    return n_out;
}

/* Upright and level through the middle of the island's box: what is not symmetric may surround what is. */
static size_t box_axes(const bridge_ground *g, uint32_t part, bridge_turn *out)
{
    const bridge_part *const box = &g->parts[part];
    const sw_pt_px mid = { 0.5 * (double)(box->x0 + box->x1), 0.5 * (double)(box->y0 + box->y1) };
    out[0] = bridge_mirror_at(mid, 1.57079632679489662);
    out[1] = bridge_mirror_at(mid, 0.0);
    return 2;
}

/* A place where the first strip is tried, and what its cost counts. */
typedef struct first_place {
    double along, ratio;
} first_place;

#define MOST_PLACES (2u * BRIDGE_AXES * MOST_CROSSINGS + MOST_STRIPS + N_TURNS)

/* Those on an axis and half a distance beside it make the whole symmetric; then where strips are now, and so many steps. */
static size_t list_places(const rim *r, const bridge_turn *axes, size_t n_axes, const placed *at, size_t n, first_place *out)
{
    const double apart = r->length_px / (double)n;
    size_t n_out = 0;
    for (size_t k = 0; k < n_axes; k++) {
        double crossing[MOST_CROSSINGS];
        const size_t n_crossings = list_crossings(r, &axes[k], crossing, MOST_CROSSINGS);
        for (size_t i = 0; i < 2 * n_crossings; i++)
            out[n_out++] = (first_place){ crossing[i / 2] + 0.5 * apart * (double)(i % 2), k == 0 ? UPRIGHT_RATIO : AXIS_RATIO };
    }
    for (size_t k = 0; k < n; k++) out[n_out++] = (first_place){ at[k].along, 1.0 };
    for (size_t k = 0; k < N_TURNS; k++) out[n_out++] = (first_place){ at[0].along + apart * (double)k / N_TURNS, 1.0 };
    return n_out;
}

/* Where they cost least, or move least. */
static void space_evenly(bridge_order *o, const rim *r, uint32_t part, uint32_t other, const placed *at, size_t n)
{
    first_place places[MOST_PLACES];
    bridge_turn axes[BRIDGE_AXES];
    bridge_strip to[MOST_STRIPS], best[MOST_STRIPS];
    uint32_t which[MOST_STRIPS], best_which[MOST_STRIPS];
    const bridge_form form = bridge_form_of(o, o->opening[at[0].strip]);
    size_t n_axes = bridge_form_axes(o, &form, axes);
    if (n_axes == 0) n_axes = box_axes(o->g, part, axes);
    const size_t n_places = list_places(r, axes, n_axes, at, n, places);
    double least = HUGE_VAL;
    for (size_t i = 0; i < n_places; i++) {
        const double far = turn_order(at, n, places[i].along, r->length_px, which), ratio = places[i].ratio;
        const double most = o->wish == BRIDGE_BY_COST ? least / ratio : far < least ? HUGE_VAL : 0.0;
        const double cost = turn_to(o, r, places[i].along, which, n, part, other, most, to);
        if (!(cost < most)) continue;
        least = o->wish == BRIDGE_BY_COST ? ratio * cost : far;
        for (size_t k = 0; k < n; k++) {
            best[k] = to[k];
            best_which[k] = which[k];
        }
    }
    if (least < HUGE_VAL) bridge_order_move(o, best_which, best, n);
}

/* Strips of one opening that leave one island for one other part, if they cross a thin and long opening. One in three may
 * be longer: it lies aslant. */
static bool is_ring(const bridge_order *o, const uint32_t *list, size_t n, double length_px)
{
    const double most_px = BRIDGE_THIN_OPENINGS * sw_px_from_mm(&o->g->grid, o->g->job->min_opening_mm);
    size_t n_thin = 0;
    for (size_t k = 0; k < n; k++) {
        const bridge_strip *const s = &o->strips->at[list[k]];
        const double across = hypot(s->b.x_px - s->a.x_px, s->b.y_px - s->a.y_px);
        n_thin += across <= most_px && BRIDGE_LONG_RATIO * across <= length_px;
    }
    return 3 * n_thin >= 2 * n;
}

static bool even_round(bridge_order *o, uint32_t part, const uint32_t *list, size_t n)
{
    const bridge_ground *const g = o->g;
    const bridge_strip *const first = &o->strips->at[list[0]];
    const uint32_t other = first->from == part ? first->to : first->from;
    placed at[MOST_STRIPS] = { { 0.0, 0 } };
    rim r = { 0 };
    const bool is_good = follow(g, part, &r) && (r.n == 0 || smooth(&r, 0.5 * g->width_px));
    if (is_good && r.n > 0 && is_ring(o, list, n, r.length_px)) {
        for (size_t k = 0; k < n; k++) {
            const bridge_strip *const s = &o->strips->at[list[k]];
            at[k] = (placed){ r.along[index_near(&r, s->from == part ? s->a : s->b)], list[k] };
        }
        qsort(at, n, sizeof *at, compare_placed);
        space_evenly(o, &r, part, other, at, n);
    }
    rim_free(&r);
    return is_good;
}

/* Strips of one opening by the island that both ends' parts tell: the inner one, if all join the same two. */
static bool even_opening(bridge_order *o, uint32_t opening, size_t least)
{
    size_t n;
    const uint32_t *const list = bridge_order_list(o, opening, &n);
    for (size_t i = 0; i < n; i++) {
        const bridge_strip *const s = &o->strips->at[list[i]];
        uint32_t same[MOST_STRIPS];
        size_t n_same = 0;
        bool is_first = s->from != s->to && o->is_settled[list[i]] == 0;
        for (size_t k = 0; k < n && is_first && n_same < MOST_STRIPS; k++) {
            const bridge_strip *const b = &o->strips->at[list[k]];
            if (!((b->from == s->from && b->to == s->to) || (b->from == s->to && b->to == s->from))) continue;
            is_first = k >= i && o->is_settled[list[k]] == 0;
            same[n_same++] = list[k];
        }
        if (!is_first || n_same == 0 || n_same < least || n_same == MOST_STRIPS) continue;
        const uint32_t part = bridge_inner_part(o->g, s);
        if (!even_round(o, part, same, n_same)) return false;
    }
    return true;
}

sw_status bridge_even(bridge_order *o, size_t least, sw_note *note)
{
    for (uint32_t k = 1; k <= o->runs.n_components; k++)
        if (o->first[k + 1] - o->first[k] >= least && !even_opening(o, k, least)) return sw_fail_memory(note, "the order of bridges");
    return SW_OK;
}
