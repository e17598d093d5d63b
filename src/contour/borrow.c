/* From runs of shared pixel edges to curves that are taken over.
 *
 * Every run is followed along the earlier curve and cut at its joints. Then each curve is settled with the one after it:
 * a short gap is closed if the curve allows, where three masks meet one goes straight on into the other, and where two
 * would overlap one begins later. */
#include <stdlib.h>
#include <string.h>

#include "contour/shared.h"

#define APART_PX 1.0         /* outlines of two masks lie that near where their pixel edges are the same; and the tolerance */
#define BEYOND_PX 4.0        /* that near to the ends of a curve other pixel edges come close */
#define SAME_PX 0.02         /* joints that near are one */
#define FLAT_PX 0.05
#define EDGE_SLACK_PX 0.35   /* what the earlier curve may be farther from pixel edges than limits say */
#define MERGE_PX 24.0        /* gaps shorter than that are closed if the curve allows, or if three masks meet there */

void borrowing_free(borrowing *b)
{
    for (size_t i = 0; i < b->n; i++) sw_contour_free(&b->at[i].curve);
    sw_free(b->at);
    *b = (borrowing){ 0 };
}

typedef struct borrower {
    const outline *o;
    const mask_edge *edge;
    double least_px, tolerance_px;
    borrowing *out;
} borrower;

/* A walk along a curve that looks for pixel edges far beside it. */
typedef struct edge_walk {
    const mask_edge *edge;
    pt last;
    double s, from, to;   /* along the curve; looked at is what lies between */
    ledge_range range;
} edge_walk;

static bool take_range(void *ctx, sw_pt_mm p)
{
    edge_walk *const w = ctx;
    const pt to = { p.x_mm, p.y_mm };
    if (w->s > w->from && w->s < w->to) (void)visit_ledges(w->edge, w->last, to, widen_range, &w->range);
    w->s += pt_len(pt_sub(to, w->last));
    w->last = to;
    return true;
}

/* Is no pixel edge of this mask farther from the curve than from any fitted one? At its ends other edges come close. */
static bool is_near_edges(const borrower *b, const sw_contour *curve, double length)
{
    edge_walk w = { .edge = b->edge, .last = { curve->start.x_mm, curve->start.y_mm }, .from = BEYOND_PX, .to = length - BEYOND_PX };
    (void)sw_contour_flatten(curve, FLAT_PX, take_range, &w);
    return sw_max(w.range.in, w.range.out) <= ledge_most(b->tolerance_px) + EDGE_SLACK_PX;
}

/* Fill in the curve between the joints. *is_good: it can be used. False: out of memory. */
static bool draw_curve(const borrower *b, borrowed *it, bool *is_good)
{
    sw_contour curve = { 0 };
    *is_good = false;
    if (!drawn_part(it->from, it->contour, it->start.g, it->end.g, it->is_forward, &curve)) {
        sw_contour_free(&curve);
        return false;
    }
    const sw_contour_measure m = sw_contour_measure_one(&curve);
    const double own = it->end.s - it->start.s, len = m.length_mm;
    const bool is_inside = m.min.x_mm >= -JOINT_ON_BORDER_PX && m.min.y_mm >= -JOINT_ON_BORDER_PX &&
                           m.max.x_mm <= (double)b->edge->mask->width_px + JOINT_ON_BORDER_PX &&
                           m.max.y_mm <= (double)b->edge->mask->height_px + JOINT_ON_BORDER_PX;
    if (is_inside && curve.n_segs > 0 && len > 0.8 * own - 4.0 && len < 1.25 * own + 4.0 && is_near_edges(b, &curve, len)) {
        sw_contour_free(&it->curve);
        it->curve = curve;
        curve = (sw_contour){ 0 };
        *is_good = true;
    }
    sw_contour_free(&curve);
    return true;
}

static bool keep(const borrower *b, borrowed *add)
{
    void *at = b->out->at;
    if (!sw_grow(&at, &b->out->cap, b->out->n + 1, sizeof *b->out->at)) return false;
    b->out->at = at;
    b->out->at[b->out->n++] = *add;
    *add = (borrowed){ 0 };
    return true;
}

/* The whole outline is one whole contour of the earlier mask. */
static bool borrow_ring(const borrower *b, const follow *f, bool *is_done)
{
    follow round = *f;
    *is_done = false;
    if (!find_curve(&round)) return true;
    size_t at = round.low;
    const double s = follow_from(&round, &at, round.s0, round.s0 + b->o->length, 1);
    const bool is_back = at == round.low || at == drawn_step(f->d, round.low, 1) || at == drawn_step(f->d, round.low, -1);
    if (s < round.s0 + b->o->length || !is_back) return true;
    borrowed it = { .from = f->d, .contour = f->d->at[at].contour, .is_forward = f->is_forward, .is_ring = true };
    it.end.s = b->o->length;
    bool is_ok = draw_curve(b, &it, is_done);
    if (is_ok && *is_done) is_ok = keep(b, &it);
    sw_contour_free(&it.curve);
    return is_ok;
}

/* The pieces of one run that the earlier mask has as one curve. */
static bool borrow_run(const borrower *b, const edge_run *run, const drawn_curves *drawn)
{
    follow f = { .o = b->o, .d = &drawn[run->drawn], .most_px = APART_PX + b->tolerance_px,
                 .size = b->out->size,
                 .is_forward = run->is_same == b->edge->is_outer, .s0 = run->s0, .s1 = run->s1 };
    bool is_done = false;
    if (run->is_ring && !borrow_ring(b, &f, &is_done)) return false;
    bool is_ok = true;
    for (double from = run->s0; is_ok && !is_done && run->s1 - from >= b->least_px;) {
        f.s0 = from;
        f.s1 = run->s1;
        if (!find_curve(&f)) break;
        from = sw_max(f.s1, from + JOINT_ANCHOR_PX);
        borrowed it = { .from = f.d, .contour = f.d->at[f.low].contour, .is_forward = f.is_forward };
        if (f.s1 - f.s0 < b->least_px || !find_joint(&f, -1, 0.0, &it.start) || !find_joint(&f, 1, 0.0, &it.end)) continue;
        if (it.end.s - it.start.s < b->least_px) continue;
        bool is_good;
        is_ok = draw_curve(b, &it, &is_good);
        if (is_ok && is_good) is_ok = keep(b, &it);
        sw_contour_free(&it.curve);
    }
    return is_ok;
}

static void take_out(borrowing *list, size_t i)
{
    sw_contour_free(&list->at[i].curve);
    memmove(&list->at[i], &list->at[i + 1], (list->n - i - 1) * sizeof *list->at);
    list->n--;
}

void part_borrowed(borrowing *list, size_t i)
{
    borrowed *const it = &list->at[i], *const before = &list->at[i > 0 ? i - 1 : list->n - 1];
    if (!it->is_joined) return;
    it->is_joined = false;
    it->is_loose_start = before->is_loose_end = true;
}

/* Take a curve out that its neighbours may be joined to. */
static void drop(borrowing *list, size_t i)
{
    part_borrowed(list, i);
    part_borrowed(list, i + 1 < list->n ? i + 1 : 0);
    take_out(list, i);
}

/* One curve in place of two that follow each other on one contour, if it may close the gap. */
static bool merge(const borrower *b, borrowed *one, const borrowed *two, double shift, bool *is_merged)
{
    borrowed both = { .start = one->start, .end = two->end, .from = one->from, .contour = one->contour,
                      .is_forward = one->is_forward, .is_joined = one->is_joined };
    *is_merged = false;
    both.end.s += shift;
    both.end.own_s += shift;
    if (one->from != two->from || one->contour != two->contour || one->is_forward != two->is_forward || one == two) return true;
    if (!draw_curve(b, &both, is_merged)) return false;
    if (*is_merged) {
        sw_contour_free(&one->curve);
        *one = both;
    }
    return true;
}

/* A corner of one contour near place g, out of the run, that lies on the other's curve near g_other. */
static bool corner_on_other(const borrowed *one, double g, int out, const borrowed *other, double g_other, double reach_px,
                            double *g_one, double *g_two)
{
    const drawn_curves *const d = one->from;
    const sw_contour *const c = &d->list->at[one->contour];
    const size_t from = drawn_index(d, one->contour, g), at = drawn_index(other->from, other->contour, g_other);
    const ptrdiff_t reach = (ptrdiff_t)(reach_px / JOINT_STEP_PX) + JOINT_REACH;
    for (ptrdiff_t k = -JOINT_REACH; k <= reach; k++) {
        const drawn_point *const q = &d->at[drawn_step(d, from, k * out)];
        const size_t segment = (size_t)q->g;
        if (q->g != (double)segment || !c->segs[segment > 0 ? segment - 1 : c->n_segs - 1].is_corner) continue;
        if (drawn_foot(other->from, at, reach, q->p, g_two) > SAME_PX) continue;
        *g_one = q->g;
        return true;
    }
    return false;
}

/* Where three masks meet, the second's curve begins on the first's: the third goes from one to the other just there. */
static bool join_at_meeting(const borrower *b, borrowed *one, borrowed *two, double shift, bool *is_done)
{
    const double gap = sw_max(two->start.s + shift - one->end.s, 0.0), s = 0.5 * (two->start.s + shift + one->end.s);
    const int out1 = one->is_forward ? 1 : -1, out2 = two->is_forward ? -1 : 1;
    double g1, g2;
    *is_done = false;
    if (one->is_ring || two->is_ring || one == two) return true;
    if (!corner_on_other(two, two->start.g, out2, one, one->end.g, gap, &g2, &g1) &&
        !corner_on_other(one, one->end.g, out1, two, two->start.g, gap, &g1, &g2))
        return true;
    borrowed first = *one, second = *two;
    first.curve = second.curve = (sw_contour){ 0 };
    pt own, along;
    own_at(b->o, s, &own, &along);
    first.end = (joint){ .s = s, .g = g1, .own_s = s, .own = along, .is_corner = true };
    second.start = (joint){ .s = s - shift, .g = g2, .own_s = s - shift, .own = along, .is_corner = true };
    drawn_at(first.from, first.contour, g1, first.is_forward, &first.end.p, &first.end.curve);
    drawn_at(second.from, second.contour, g2, !second.is_forward, &second.start.p, &second.start.curve);
    if (!first.is_forward) first.end.curve = pt_mul(first.end.curve, -1.0);
    if (!second.is_forward) second.start.curve = pt_mul(second.start.curve, -1.0);
    first.end.shift = second.start.shift = pt_sub(first.end.p, own);
    bool are_good[2] = { false, false };
    const bool is_ok = draw_curve(b, &first, &are_good[0]) && draw_curve(b, &second, &are_good[1]);
    *is_done = is_ok && are_good[0] && are_good[1];
    if (*is_done) {
        sw_contour_free(&one->curve);
        sw_contour_free(&two->curve);
        *one = first;
        *two = second;
    } else {
        sw_contour_free(&first.curve);
        sw_contour_free(&second.curve);
    }
    return is_ok;
}

/* The second curve begins where the first ends. */
static void join(const borrowed *one, borrowed *two, double shift)
{
    two->is_joined = true;
    two->start.p = one->end.p;
    two->curve.start = (sw_pt_mm){ one->end.p.x, one->end.p.y };
    two->start.s = one->end.s - shift;
    two->start.own_s = two->start.s;
}

/* A curve gets new joints: at its start, at its end, or at both. back: how far inside at least. False: out of memory. */
static bool find_again(const borrower *b, borrowed *it, double back, bool is_start, bool is_end, bool *is_good)
{
    follow f = { .o = b->o, .d = it->from, .most_px = APART_PX + b->tolerance_px, .is_forward = it->is_forward,
                 .size = b->out->size, .s0 = it->start.s, .s1 = it->end.s };
    *is_good = find_curve(&f) && f.d->at[f.low].contour == it->contour && (!is_start || find_joint(&f, -1, back, &it->start)) &&
               (!is_end || find_joint(&f, 1, back, &it->end)) && it->end.s - it->start.s >= b->least_px;
    return !*is_good || draw_curve(b, it, is_good);
}

/* Curves that lost what they were joined to get joints of their own; what gets none is dropped, and with it what was joined
 * to that. */
static bool mend_loose(const borrower *b)
{
    borrowing *const list = b->out;
    for (size_t i = 0; i < list->n;) {
        borrowed *const it = &list->at[i];
        bool is_good = true;
        if ((it->is_loose_start || it->is_loose_end) && !find_again(b, it, 0.0, it->is_loose_start, it->is_loose_end, &is_good))
            return false;
        it->is_loose_start = it->is_loose_end = false;
        if (is_good) {
            i++;
        } else {
            drop(list, i);
            i = 0; /* the one before may be loose now */
        }
    }
    return true;
}

/* Settle a curve with the next one: apart, joined, merged, or the next begins later; *is_gone: the next is no more. */
static bool settle(const borrower *b, size_t i, bool *is_gone)
{
    borrowing *const list = b->out;
    const size_t next = i + 1 < list->n ? i + 1 : 0;
    borrowed *const one = &list->at[i], *const two = &list->at[next];
    const double shift = next == 0 ? b->o->length : 0.0, gap = two->start.s + shift - one->end.s;
    *is_gone = false;
    if (gap >= MERGE_PX) return true;
    if (!merge(b, one, two, shift, is_gone)) return false;
    if (*is_gone) {
        take_out(list, next);
        return true;
    }
    bool is_meeting;
    if (!join_at_meeting(b, one, two, shift, &is_meeting)) return false;
    if (is_meeting || (gap < JOINT_ROOM_PX && pt_len(pt_sub(one->end.p, two->start.p)) < SAME_PX)) {
        join(one, two, shift);
        return true;
    }
    if (gap >= JOINT_ROOM_PX) return true;
    borrowed later = *two;
    later.curve = (sw_contour){ 0 };
    later.start.s = one->end.s - shift;
    bool is_good;
    if (!find_again(b, &later, 2.0 * JOINT_ROOM_PX, true, false, &is_good)) return false;
    if (is_good && later.start.s + shift - one->end.s >= JOINT_ROOM_PX) {
        sw_contour_free(&two->curve);
        *two = later;
        return true;
    }
    sw_contour_free(&later.curve);
    drop(list, next);
    *is_gone = true;
    return mend_loose(b);
}

/* Curves that overlap, touch or nearly touch their next. */
static bool settle_all(const borrower *b)
{
    borrowing *const list = b->out;
    for (size_t i = 0; i < list->n && list->n > 1;) {
        bool is_gone;
        if (!settle(b, i, &is_gone)) return false;
        if (!is_gone) i++;
        else if (i >= list->n) i = list->n - 1; /* the first one went: the last has another next */
    }
    return true;
}

static int by_start(const void *pa, const void *pb)
{
    const borrowed *const a = pa, *const b = pb;
    return (a->start.s > b->start.s) - (a->start.s < b->start.s);
}

/* Starts within the first round, one after the other. */
static void put_in_order(borrowing *list, double length)
{
    for (size_t i = 0; i < list->n; i++) {
        const double turns = floor(list->at[i].start.s / length) * length;
        list->at[i].start.s -= turns;
        list->at[i].end.s -= turns;
        list->at[i].start.own_s -= turns;
        list->at[i].end.own_s -= turns;
    }
    if (list->n > 1) qsort(list->at, list->n, sizeof *list->at, by_start);
}

/* A lone curve that bites its tail. */
static void check_lone(const borrower *b)
{
    borrowing *const list = b->out;
    if (list->n != 1 || list->at[0].is_ring) return;
    const borrowed *const it = &list->at[0];
    if (it->start.s + b->o->length - it->end.s < JOINT_ROOM_PX) drop(list, 0);
}

bool borrow_curves(const outline *o, const mask_edge *edge, const drawn_curves *drawn, size_t n_drawn, double least_px,
                   double tolerance_px, double *edge_px, borrowing *out)
{
    edge_runs runs = { 0 };
    borrowing made = { .size = { (double)edge->mask->width_px, (double)edge->mask->height_px } };
    const borrower b = { .o = o, .edge = edge, .least_px = least_px, .tolerance_px = tolerance_px, .out = &made };
    bool is_ok = find_runs(o, edge, drawn, n_drawn, least_px, false, &runs);
    *edge_px = 0.0;
    for (size_t i = 0; i < runs.n && is_ok; i++) {
        *edge_px += runs.at[i].s1 - runs.at[i].s0;
        is_ok = borrow_run(&b, &runs.at[i], drawn);
    }
    if (is_ok) put_in_order(&made, o->length);
    is_ok = is_ok && settle_all(&b);
    if (is_ok) {
        check_lone(&b);
        *out = made;
        made = (borrowing){ 0 };
    }
    borrowing_free(&made);
    sw_free(runs.at);
    return is_ok;
}

bool borrow_again(const outline *o, const mask_edge *edge, double least_px, double tolerance_px, borrowing *list)
{
    return mend_loose(&(borrower){ .o = o, .edge = edge, .least_px = least_px, .tolerance_px = tolerance_px, .out = list });
}
