/* Bridges across a stroke that is no ring: a drawn line, an arc, an outline with ends. The stroke is followed from a
 * bridge both ways to its ends, over lines that run into it or cross it; where a bridge lies is told by how far along the
 * middle it is. Those that have no place yet move to even distances: with half a distance, or a whole one, to the stroke's
 * ends, or where the least squares of their places lie; between bridges that stay, in equal parts. None moves farther than
 * half a distance: it holds what it held. */
#include <math.h>
#include <stdlib.h>

#include "sheet/bridge_order.h"
#include "sheet/bridge_track.h"

#define MOST_STRIPS 32u     /* along a stroke */
#define FAR_DISTANCES 1.0   /* a strip moves at most so many distances; where it should move little, so many: */
#define NEAR_DISTANCES 0.5
#define BEND_MOST 0.6       /* rad that a stroke turns within so many of its widths: a corner, no place for a strip */
#define BEND_WIDTHS 1.5
/* Even distances up to the stroke's ends may cost more by a little, with a whole one there by noise. */
#define HALF_END_RATIO 0.96
#define WHOLE_END_RATIO 0.98
#define LONG_BROAD_RATIO 10.0 /* widths that a stroke is long at least if it is not thin */
#define OBLIQUE_MOST 0.7    /* cosine of the angle between a strip and the stroke */
#define JUMP_WIDTHS 3.0     /* a gap in an edge up to so long: another line runs in there */
#define SAME_WIDTH_RATIO 1.25

/* A stroke's middle from end to end, a place a step. */
typedef struct stroke {
    sw_pt_px *at;
    double *along;
    size_t n, cap;
    double length_px, width_px;
    sw_pt_px lo, hi;       /* box */
    bool is_closed;
} stroke;

static void stroke_free(stroke *s)
{
    sw_free(s->at);
    sw_free(s->along);
    *s = (stroke){ 0 };
}

static bool add_place(stroke *s, sw_pt_px at)
{
    void *raw = s->at;
    const bool is_grown = sw_grow(&raw, &s->cap, s->n + 1, sizeof *s->at);
    s->at = raw;
    if (is_grown) s->at[s->n++] = at;
    return is_grown;
}

/* Straight on over a place where one edge or both are missing, to where both are as far off as before. */
static bool jump(const bridge_ground *g, bridge_tracker *k)
{
    for (double t = BRIDGE_TRACK_PX; t <= JUMP_WIDTHS * k->width_px; t += BRIDGE_TRACK_PX) {
        const sw_pt_px at = { k->at.x_px + t * k->dx, k->at.y_px + t * k->dy };
        double left, right;
        if (!bridge_track_edges(g, at, k, 0.0, &left, &right)) return false;
        if (left + right > SAME_WIDTH_RATIO * k->width_px + 1.0 || fabs(left - right) > 0.5 * k->width_px) continue;
        const double off = 0.5 * (left - right);
        k->at = (sw_pt_px){ at.x_px + off * k->dy, at.y_px - off * k->dx };
        return true;
    }
    return false;
}

/* How much farther it is to a blunt or round end; 0 where the opening goes on in another way. */
static double left_to_end(const bridge_ground *g, const bridge_tracker *k)
{
    uint32_t part;
    const double ahead = bridge_ray(g, k->at, k->dx, k->dy, k->width_px, &part);
    return part != 0 ? ahead : 0.0;
}

/* Follow it one way; what was followed is appended. */
static bool follow(const bridge_ground *g, const bridge_strip *from, double way, stroke *s)
{
    bridge_tracker k = bridge_track_from(from, way);
    const sw_pt_px start = k.at;
    const double dx = k.dx, dy = k.dy, most_px = 4.0 * (double)(g->mask.width_px + g->mask.height_px);
    double t = 0.0;
    while (t < most_px && (bridge_track_step(g, &k) || jump(g, &k))) {
        if (!add_place(s, k.at)) return false;
        t += BRIDGE_TRACK_PX;
        const double x = k.at.x_px - start.x_px, y = k.at.y_px - start.y_px;
        if (t < 2.0 * k.width_px || hypot(x, y) > 0.5 * k.width_px + BRIDGE_TRACK_PX || k.dx * dx + k.dy * dy < 0.5) continue;
        s->is_closed = true;
        return true;
    }
    const double end = left_to_end(g, &k);
    s->width_px = sw_max(s->width_px, k.width_px);
    return end < 1.0 || add_place(s, (sw_pt_px){ k.at.x_px + end * k.dx, k.at.y_px + end * k.dy });
}

static bool measure_along(stroke *s)
{
    s->along = sw_alloc_raw(s->n, sizeof *s->along);
    if (s->along == NULL) return false;
    s->along[0] = 0.0;
    s->lo = s->hi = s->at[0];
    for (size_t i = 1; i < s->n; i++) {
        const sw_pt_px at = s->at[i];
        s->along[i] = s->along[i - 1] + hypot(at.x_px - s->at[i - 1].x_px, at.y_px - s->at[i - 1].y_px);
        s->lo = (sw_pt_px){ sw_min(s->lo.x_px, at.x_px), sw_min(s->lo.y_px, at.y_px) };
        s->hi = (sw_pt_px){ sw_max(s->hi.x_px, at.x_px), sw_max(s->hi.y_px, at.y_px) };
    }
    s->length_px = s->along[s->n - 1];
    return true;
}

/* The stroke that a strip crosses. */
static bool stroke_make(const bridge_ground *g, const bridge_strip *from, stroke *out)
{
    out->width_px = hypot(from->b.x_px - from->a.x_px, from->b.y_px - from->a.y_px);
    if (!(out->width_px > 1.0)) return true;
    if (!follow(g, from, -1.0, out)) return false;
    if (out->is_closed) return true;
    for (size_t i = 0; i < out->n / 2; i++) {
        const sw_pt_px at = out->at[i];
        out->at[i] = out->at[out->n - 1 - i];
        out->at[out->n - 1 - i] = at;
    }
    return add_place(out, bridge_middle(from)) && follow(g, from, 1.0, out) && measure_along(out);
}

/* The place so far along, and the way there. */
static sw_pt_px place_at(const stroke *s, double along, double *angle, double over_px)
{
    size_t lo = 0, hi = s->n - 1;
    while (lo < hi) { /* the first at or beyond it */
        const size_t mid = (lo + hi) / 2;
        if (s->along[mid] < along) lo = mid + 1;
        else hi = mid;
    }
    const size_t i = lo > 0 ? lo - 1 : 0, half = (size_t)(0.5 * over_px / BRIDGE_TRACK_PX) + 1;
    const size_t before = i > half ? i - half : 0, after = sw_min_size(i + 1 + half, s->n - 1);
    *angle = atan2(s->at[after].y_px - s->at[before].y_px, s->at[after].x_px - s->at[before].x_px);
    const double step = s->along[lo] - s->along[i], t = step > 0.0 ? sw_clamp((along - s->along[i]) / step, 0.0, 1.0) : 0.0;
    return (sw_pt_px){ s->at[i].x_px + t * (s->at[lo].x_px - s->at[i].x_px), s->at[i].y_px + t * (s->at[lo].y_px - s->at[i].y_px) };
}

/* ---- rows ---------------------------------------------------------------------------------------------------- */

typedef struct placed {
    double along;
    uint32_t strip;
    bool is_fixed;
} placed;

static int compare_placed(const void *left, const void *right)
{
    const placed *const a = left, *const b = right;
    if (a->along != b->along) return a->along < b->along ? -1 : 1;
    return a->strip < b->strip ? -1 : a->strip > b->strip;
}

/* Does a strip cross the stroke? *along: where. */
static bool crosses(const stroke *s, const bridge_strip *strip, double *along)
{
    const sw_pt_px p = bridge_middle(strip);
    const double far = 0.35 * s->width_px + BRIDGE_TRACK_PX;
    size_t best = 0;
    double least = HUGE_VAL, angle;
    if (p.x_px < s->lo.x_px - far || p.x_px > s->hi.x_px + far || p.y_px < s->lo.y_px - far || p.y_px > s->hi.y_px + far) return false;
    for (size_t i = 0; i < s->n; i++) {
        const double dx = s->at[i].x_px - p.x_px, dy = s->at[i].y_px - p.y_px, sq = dx * dx + dy * dy;
        if (!(sq < least)) continue;
        least = sq;
        best = i;
    }
    if (sqrt(least) > far) return false;
    place_at(s, s->along[best], &angle, s->width_px);
    const double across = atan2(strip->b.y_px - strip->a.y_px, strip->b.x_px - strip->a.x_px);
    const double on = (p.x_px - s->at[best].x_px) * cos(angle) + (p.y_px - s->at[best].y_px) * sin(angle);
    *along = sw_clamp(s->along[best] + on, 0.0, s->length_px);
    return fabs(cos(across - angle)) <= OBLIQUE_MOST;
}

/* The strips that cross a stroke, in their order along it; those that nobody sees do not count. None if there are too many
 * to look even or not. All are done then. */
static size_t list_row(const bridge_order *o, const stroke *s, const uint32_t *list, size_t n, placed *row, uint8_t *is_done)
{
    size_t n_row = 0;
    for (size_t k = 0; k < n; k++) {
        const bridge_strip *const strip = &o->strips->at[list[k]];
        double along;
        if (!bridge_is_shown(strip) || !crosses(s, strip, &along)) continue;
        is_done[list[k]] = 1;
        if (n_row < MOST_STRIPS) row[n_row] = (placed){ along, list[k], strip->is_line_end || o->is_settled[list[k]] != 0 };
        n_row++;
    }
    if (n_row > MOST_STRIPS) return 0;
    if (n_row > 1) qsort(row, n_row, sizeof *row, compare_placed);
    return n_row;
}

/* Part of a row between two that stay, or a stroke's ends. */
typedef struct span {
    const placed *at;
    size_t n;
    double begin, end;       /* where it is bounded */
    bool is_begin, is_end;   /* by a strip */
    bool is_part;            /* of one that could not be spaced as a whole: bounded by nothing */
} span;

/* Even distances: the first strip lies there, the others so far on. */
typedef struct distances {
    double first, apart, ratio;
} distances;

static distances up_to_ends(const span *p, double begin, double end, double ratio)
{
    const double apart = (p->end - p->begin) / ((double)p->n - 1.0 + begin + end);
    return (distances){ p->begin + begin * apart, apart, ratio };
}

/* Least squares of where they are. */
static distances nearest_even(const span *p)
{
    const double mid = 0.5 * ((double)p->n - 1.0);
    double sum = 0.0, turn = 0.0, sq = 0.0;
    for (size_t k = 0; k < p->n; k++) {
        sum += p->at[k].along;
        turn += ((double)k - mid) * p->at[k].along;
        sq += ((double)k - mid) * ((double)k - mid);
    }
    const double apart = turn / sq;
    return (distances){ sum / (double)p->n - mid * apart, apart, 1.0 };
}

/* How far from that they are, squared. */
static double off_even(const span *p)
{
    const distances d = nearest_even(p);
    double sum = 0.0;
    for (size_t k = 0; k < p->n; k++) {
        const double off = p->at[k].along - d.first - (double)k * d.apart;
        sum += off * off;
    }
    return sum;
}

/* How far the one that moves farthest moves, in distances. */
static double farthest(const span *p, const distances *d)
{
    double far = 0.0;
    for (size_t k = 0; k < p->n; k++) far = sw_max(far, fabs(p->at[k].along - d->first - (double)k * d->apart));
    return far / d->apart;
}

static size_t list_distances(const span *p, distances out[3])
{
    const bool is_free = !p->is_begin && !p->is_end;
    size_t n = 0;
    if (p->is_part) {
        out[n++] = nearest_even(p);
        return n;
    }
    if (!p->is_begin || !p->is_end) out[n++] = up_to_ends(p, p->is_begin ? 1.0 : 0.5, p->is_end ? 1.0 : 0.5, HALF_END_RATIO);
    out[n++] = up_to_ends(p, 1.0, 1.0, WHOLE_END_RATIO);
    if (is_free && p->n > 2) out[n++] = nearest_even(p);
    return n;
}

/* Has the stroke both its edges here, and no corner? */
static bool is_plain(const bridge_ground *g, const stroke *s, double along)
{
    const double bend = 0.5 * BEND_WIDTHS * s->width_px, most = SAME_WIDTH_RATIO * s->width_px + 1.0;
    double before, after, angle, left, right;
    place_at(s, along - bend, &before, 1.0);
    place_at(s, along + bend, &after, 1.0);
    if (fabs(remainder(after - before, 6.28318530717958648)) > BEND_MOST) return false;
    for (int side = -1; side <= 1; side++) {
        const sw_pt_px at = place_at(s, along + 0.5 * side * g->width_px, &angle, g->width_px);
        const bridge_tracker k = { at, cos(angle), sin(angle), s->width_px };
        if (!bridge_track_edges(g, at, &k, 0.0, &left, &right) || left + right > most) return false;
    }
    return true;
}

/* Strips at those distances; their cost, HUGE_VAL if they may not be. */
static double space(const bridge_order *o, const stroke *s, const span *p, const distances *d, const uint32_t *which, bridge_strip *to)
{
    const bridge_ground *const g = o->g;
    double cost, angle;
    if (farthest(p, d) > (o->wish == BRIDGE_BY_MOVES ? NEAR_DISTANCES : FAR_DISTANCES)) return HUGE_VAL;
    for (size_t k = 0; k < p->n; k++) {
        const double along = d->first + (double)k * d->apart;
        if (!is_plain(g, s, along)) return HUGE_VAL;
        const sw_pt_px at = place_at(s, along, &angle, g->width_px);
        to[k] = bridge_strip_across(g, at, angle + 1.57079632679489662, 2.0 * s->width_px);
        if (!(to[k].cost < HUGE_VAL)) return HUGE_VAL;
    }
    return bridge_order_may_each(o, which, to, p->n, &cost) ? cost : HUGE_VAL;
}

/* The longest stretch without a strip. */
static double longest_span(const span *p, const distances *d)
{
    const double last = d->first + ((double)p->n - 1.0) * d->apart;
    return sw_max(d->apart, sw_max(d->first - p->begin, p->end - last));
}

/* What a choice of distances is judged by. */
static double count_of(const bridge_order *o, const span *p, const distances *d, double cost)
{
    if (o->wish == BRIDGE_BY_COST) return d->ratio * cost;
    return o->wish == BRIDGE_BY_SPAN ? longest_span(p, d) : farthest(p, d);
}

static bool space_evenly(bridge_order *o, const stroke *s, const span *p)
{
    distances tried[3];
    bridge_strip to[MOST_STRIPS], best[MOST_STRIPS];
    uint32_t which[MOST_STRIPS];
    const size_t n_tried = list_distances(p, tried);
    double least = HUGE_VAL;
    for (size_t k = 0; k < p->n; k++) which[k] = p->at[k].strip;
    for (size_t i = 0; i < n_tried; i++) {
        const double cost = space(o, s, p, &tried[i], which, to);
        const double count = cost < HUGE_VAL ? count_of(o, p, &tried[i], cost) : HUGE_VAL;
        if (!(count < least)) continue;
        least = count;
        for (size_t k = 0; k < p->n; k++) best[k] = to[k];
    }
    if (!(least < HUGE_VAL)) return false;
    bridge_order_move(o, which, best, p->n);
    for (size_t k = 0; k < p->n; k++)
        if (o->is_moved[which[k]] != 0) o->is_moved[which[k]] = BRIDGE_MOVED_FAR;
    return true;
}

/* Where a row falls into two with least squares as little as can be, of at least three strips each. */
static size_t find_split(const span *p)
{
    size_t best = 0;
    double least = HUGE_VAL;
    for (size_t k = 3; k + 3 <= p->n; k++) {
        const span head = { .at = p->at, .n = k }, tail = { .at = p->at + k, .n = p->n - k };
        const double off = off_even(&head) + off_even(&tail);
        if (!(off < least)) continue;
        least = off;
        best = k;
    }
    return best;
}

/* A span at even distances, or each of two parts of it at its own: a stroke may need more bridges where it is heavy. */
static void space_span(bridge_order *o, const stroke *s, const span *p)
{
    if (space_evenly(o, s, p) || p->n < 6) return;
    const size_t k = find_split(p);
    const span head = { .at = p->at, .n = k, .begin = p->begin, .is_part = true };
    const span tail = { .at = p->at + k, .n = p->n - k, .end = p->end, .is_part = true };
    space_span(o, s, &head);
    space_span(o, s, &tail);
}

/* A row's parts between strips that stay. One strip alone on a stroke is no row. */
static void space_row(bridge_order *o, const stroke *s, const placed *row, size_t n)
{
    for (size_t begin = 0, end; begin < n; begin = end + 1) {
        for (end = begin; end < n && !row[end].is_fixed; end++) continue;
        const span p = { .at = row + begin, .n = end - begin, .begin = begin > 0 ? row[begin - 1].along : 0.0,
                         .end = end < n ? row[end].along : s->length_px, .is_begin = begin > 0, .is_end = end < n };
        if (p.n > 1 || (p.n == 1 && p.is_begin && p.is_end)) space_span(o, s, &p);
    }
}

static bool is_long(const bridge_order *o, const stroke *s)
{
    const double thin_px = BRIDGE_THIN_OPENINGS * sw_px_from_mm(&o->g->grid, o->g->job->min_opening_mm);
    return s->length_px >= (s->width_px <= thin_px ? BRIDGE_LONG_RATIO : LONG_BROAD_RATIO) * s->width_px;
}

static bool along_one(bridge_order *o, uint32_t strip, const uint32_t *list, size_t n, uint8_t *is_done)
{
    stroke s = { 0 };
    const bool is_good = stroke_make(o->g, &o->strips->at[strip], &s);
    if (is_good && !s.is_closed && s.n > 1 && is_long(o, &s)) {
        placed row[MOST_STRIPS];
        const size_t n_row = list_row(o, &s, list, n, row, is_done);
        space_row(o, &s, row, n_row);
    }
    stroke_free(&s);
    return is_good;
}

/* Has an opening strips that are seen, one that may move and another? */
static bool has_row(const bridge_order *o, const uint32_t *list, size_t n)
{
    size_t n_seen = 0, n_open = 0;
    for (size_t k = 0; k < n; k++) {
        const bridge_strip *const s = &o->strips->at[list[k]];
        if (!bridge_is_shown(s)) continue;
        n_seen++;
        n_open += o->is_settled[list[k]] == 0 && !s->is_line_end;
    }
    return n_seen > 1 && n_open > 0;
}

sw_status bridge_along(bridge_order *o, sw_note *note)
{
    uint8_t *const is_done = sw_alloc_array(o->strips->n + 1, 1);
    bool is_good = is_done != NULL;
    for (uint32_t opening = 1; is_good && opening <= o->runs.n_components; opening++) {
        size_t n;
        const uint32_t *const list = bridge_order_list(o, opening, &n);
        if (n < 2 || !has_row(o, list, n)) continue;
        for (size_t k = 0; k < n && is_good; k++)
            if (!is_done[list[k]] && o->is_settled[list[k]] == 0 && !o->strips->at[list[k]].is_line_end)
                is_good = along_one(o, list[k], list, n, is_done);
    }
    sw_free(is_done);
    return is_good ? SW_OK : sw_fail_memory(note, "the order of bridges");
}
