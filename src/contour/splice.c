/* An outline with curves of earlier masks in it.
 *
 * The new outline begins at a joint and goes round once: the nodes of a borrowed curve, each with its segment given, then
 * what the outline has of its own up to the next joint, and so on. A joint need not lie on the outline: what is beside it is
 * moved with it, less and less with the distance, a straight edge turned as a whole. */
#include "contour/shared.h"

#define SAMPLE_PX 3.0     /* between samples of a given segment */
#define BLEND_PX 12.0     /* from a joint on the outline is its own again */
#define NODE_PX 2.0       /* own nodes nearer to a joint are left out */
#define SAME_PX 0.05      /* the own corner that became a joint is that near to it */
#define LEAST_PX 0.7      /* own samples too */
#define KINK_TURN 0.1     /* radians; two curves that meet at more make a corner */

typedef struct splicing {
    const outline *old;
    pt size;          /* of the mask */
    outline made;
    double turn;      /* so far */
    float weight;     /* of samples on given curves */
} splicing;

static bool put_sample(splicing *s, const sample *add)
{
    void *at = s->made.samples;
    if (!sw_grow(&at, &s->made.cap_samples, s->made.m + 1, sizeof *s->made.samples) || at == NULL) return false;
    s->made.samples = at;
    const sample *const last = s->made.m > 0 ? &s->made.samples[s->made.m - 1] : NULL;
    const double before = last != NULL ? last->s + pt_len(pt_sub(add->p, last->p)) : 0.0;
    s->made.samples[s->made.m] = *add;
    s->made.samples[s->made.m++].s = before;
    return true;
}

static bool put_node(splicing *s, const node *add, const sample *with)
{
    void *at = s->made.nodes;
    if (!sw_grow(&at, &s->made.cap_nodes, s->made.n + 1, sizeof *s->made.nodes)) return false;
    s->made.nodes = at;
    s->made.nodes[s->made.n] = *add;
    s->made.nodes[s->made.n++].sample = s->made.m;
    sample here = *with;
    here.p = add->p;
    return put_sample(s, &here);
}

static sample given_sample(const splicing *s, pt p, pt along)
{
    return (sample){ .p = p, .normal = { -along.y, along.x }, .w_in = s->weight, .w_out = s->weight };
}

static pt as_pt(sw_pt_mm p) { return (pt){ p.x_mm, p.y_mm }; }

/* Tangents at a segment's ends. */
static pt leaving(pt p0, const sw_seg *seg)
{
    const pt d = pt_sub(seg->is_line ? as_pt(seg->end) : as_pt(seg->c1), p0);
    return pt_len(d) > 1e-9 ? pt_unit(d) : pt_unit(pt_sub(as_pt(seg->end), p0));
}

static pt arriving(pt p0, const sw_seg *seg)
{
    const pt d = pt_sub(as_pt(seg->end), seg->is_line ? p0 : as_pt(seg->c2));
    return pt_len(d) > 1e-9 ? pt_unit(d) : pt_unit(pt_sub(as_pt(seg->end), p0));
}

/* Samples between a segment's ends. */
static bool put_inside(splicing *s, pt p0, const sw_seg *seg)
{
    const pt end = as_pt(seg->end), c1 = seg->is_line ? pt_mix(p0, end, 1.0 / 3.0) : as_pt(seg->c1);
    const pt c2 = seg->is_line ? pt_mix(p0, end, 2.0 / 3.0) : as_pt(seg->c2);
    const double len = pt_len(pt_sub(c1, p0)) + pt_len(pt_sub(c2, c1)) + pt_len(pt_sub(end, c2));
    const size_t n = (size_t)sw_clamp(ceil(len / SAMPLE_PX), 1.0, 1e5);
    for (size_t k = 1; k < n; k++) {
        const double u = (double)k / (double)n;
        const pt a = pt_mix(p0, c1, u), b = pt_mix(c1, c2, u), c = pt_mix(c2, end, u), ab = pt_mix(a, b, u), bc = pt_mix(b, c, u);
        const sample at = given_sample(s, pt_mix(ab, bc, u), pt_unit(pt_sub(bc, ab)));
        if (!put_sample(s, &at)) return false;
    }
    return true;
}

/* The nodes of a borrowed curve, but for its end. in: direction in which the outline comes to its start. */
static bool put_curve(splicing *s, const borrowed *b, uint32_t index, pt in, bool is_corner)
{
    pt p = as_pt(b->curve.start);
    for (size_t k = 0; k < b->curve.n_segs; k++) {
        const sw_seg *const seg = &b->curve.segs[k];
        const pt out = leaving(p, seg);
        const float len = (float)pt_len(pt_sub(as_pt(seg->end), p));
        const sample at = given_sample(s, p, pt_unit(pt_add(in, out)));
        if (!put_node(s, &(node){ .p = p, .in = in, .out = out, .turn_in = s->turn, .turn_out = s->turn, .is_corner = is_corner,
                                  .is_must = true, .own_a = seg->is_line ? 0.0f : len, .own_b = len, .given = seg,
                                  .borrowed = index, .is_joint = k == 0 }, &at) ||
            !put_inside(s, p, seg))
            return false;
        in = arriving(p, seg);
        is_corner = seg->is_corner;
        p = as_pt(seg->end);
    }
    return true;
}

/* What the outline has of its own between two joints. */
typedef struct gap {
    const joint *from, *to;
    double s0, s1;        /* s0 < length, s1 at most that much more */
    double reach0, reach1;
    bool is_straight0, is_straight1; /* the first and last edge are lines and stay so */
} gap;

static double fade(double x, double reach, bool is_straight, double *slope)
{
    *slope = 0.0;
    if (!(x < reach)) return 0.0;
    const double t = sw_max(x, 0.0) / reach;
    *slope = is_straight ? -1.0 / reach : -6.0 * t * (1.0 - t) / reach;
    return is_straight ? 1.0 - t : (1.0 - t) * (1.0 - t) * (1.0 + 2.0 * t);
}

/* How far what is at s moves, and how fast that changes. */
static pt shift_at(const gap *g, double s, pt *slope)
{
    double slope0, slope1;
    const double a = fade(s - g->s0, g->reach0, g->is_straight0, &slope0), b = fade(g->s1 - s, g->reach1, g->is_straight1, &slope1);
    *slope = pt_add(pt_mul(g->from->shift, slope0), pt_mul(g->to->shift, -slope1));
    return pt_add(pt_mul(g->from->shift, a), pt_mul(g->to->shift, b));
}

/* The first own node after s, counted through both rounds. */
static size_t node_after(const outline *o, double s)
{
    size_t lo = 0, hi = 2 * o->n;
    while (lo < hi) {
        const size_t mid = (lo + hi) / 2;
        if (o->samples[o->nodes[mid].sample].s > s) hi = mid;
        else lo = mid + 1;
    }
    return lo;
}

static double node_s(const outline *o, size_t i) { return o->samples[o->nodes[i].sample].s; }

/* May an own node be left out because a joint is near? */
static bool is_spare(const node *n) { return !n->is_corner && !n->is_must; }

/* Own nodes between two joints: first to last - 1. */
static void nodes_between(const outline *o, double s0, double s1, size_t *first, size_t *last)
{
    *first = node_after(o, s0 + SAME_PX);
    *last = node_after(o, s1 - SAME_PX);
    while (*first < *last && is_spare(&o->nodes[*first]) && node_s(o, *first) < s0 + NODE_PX) ++*first;
    while (*last > *first && is_spare(&o->nodes[*last - 1]) && node_s(o, *last - 1) > s1 - NODE_PX) --*last;
}

/* What is on the border stays there: nothing from there on moves with a joint. */
static void stay_on_border(const splicing *s, gap *g, size_t first, size_t last)
{
    const outline *const o = s->old;
    size_t i = first, j = last;
    while (i < last && !is_on_border(s->size, o->nodes[i].p)) i++;
    while (j > first && !is_on_border(s->size, o->nodes[j - 1].p)) j--;
    if (i < last) g->reach0 = sw_min(g->reach0, node_s(o, i) - g->s0);
    if (j > first) g->reach1 = sw_min(g->reach1, g->s1 - node_s(o, j - 1));
}

static void measure_gap(const splicing *s, gap *g)
{
    const outline *const o = s->old;
    const double len = g->s1 - g->s0;
    g->reach0 = g->reach1 = sw_min(BLEND_PX, 0.5 * len);
    size_t first, last;
    nodes_between(o, g->s0, g->s1, &first, &last);
    if (g->from->is_corner && first > 0 && o->nodes[first - 1].is_straight) {
        g->is_straight0 = true;
        g->reach0 = sw_min(node_s(o, first), g->s1) - g->s0;
    }
    if (g->to->is_corner && last > 0 && o->nodes[last - 1].is_straight) {
        g->is_straight1 = true;
        g->reach1 = g->s1 - sw_max(node_s(o, last - 1), g->s0);
    }
    stay_on_border(s, g, first, last);
}

static double turn_of(pt a, pt b) { return atan2(pt_cross(a, b), pt_dot(a, b)); }

/* Handles for the outline's own curve between nodes that are no neighbours any more. */
static void set_own(node *from, const node *to)
{
    const float third = (float)(pt_len(pt_sub(to->p, from->p)) / 3.0);
    from->own_a = from->is_straight ? 0.0f : third;
    from->own_b = third;
}

/* Samples up to s_end, moved with their joints; *at is the next one. */
static bool put_samples(splicing *s, const gap *g, size_t *at, double s_end)
{
    const outline *const o = s->old;
    for (; *at < 2 * o->m && o->samples[*at].s < s_end; ++*at) {
        sample moved = o->samples[*at];
        if (moved.s < g->s0 + LEAST_PX || moved.s > g->s1 - LEAST_PX) continue;
        pt slope;
        moved.p = pt_within(s->size, pt_add(moved.p, shift_at(g, moved.s, &slope)));
        const pt along = pt_unit(pt_add((pt){ moved.normal.y, -moved.normal.x }, slope));
        moved.normal = (pt){ -along.y, along.x };
        if (!put_sample(s, &moved)) return false;
    }
    return true;
}

/* An own node, moved with the joints. */
static node moved_node(const splicing *s, const gap *g, size_t i, size_t first, size_t last)
{
    const outline *const o = s->old;
    node moved = o->nodes[i];
    pt slope;
    moved.p = pt_within(s->size, pt_add(moved.p, shift_at(g, node_s(o, i), &slope)));
    if (i == first && g->is_straight0) { /* its edge is turned about it; so is what goes on smoothly */
        moved.in = pt_unit(pt_sub(moved.p, g->from->p));
        if (!moved.is_corner) moved.out = moved.in;
    } else if (i + 1 == last && g->is_straight1) {
        moved.out = pt_unit(pt_sub(g->to->p, moved.p));
        if (!moved.is_corner) moved.in = moved.out;
    } else {
        moved.in = pt_unit(pt_add(moved.in, slope));
        moved.out = pt_unit(pt_add(moved.out, slope));
    }
    return moved;
}

/* From one joint, whose node is put, to the next, whose node is not. */
static bool put_gap(splicing *s, const gap *g)
{
    const outline *const o = s->old;
    size_t first, last;
    nodes_between(o, g->s0, g->s1, &first, &last);
    size_t at = 0, hi = 2 * o->m;
    while (at < hi) {
        const size_t mid = (at + hi) / 2;
        if (o->samples[mid].s >= g->s0) hi = mid;
        else at = mid + 1;
    }
    for (size_t i = first; i < last; i++) {
        node moved = moved_node(s, g, i, first, last);
        if (!put_samples(s, g, &at, node_s(o, i))) return false;
        node *const before = &s->made.nodes[s->made.n - 1];
        s->turn += i == first ? turn_of(before->out, moved.in) : o->nodes[i].turn_in - o->nodes[i - 1].turn_out;
        moved.turn_in = s->turn;
        s->turn += turn_of(moved.in, moved.out);
        moved.turn_out = s->turn;
        if (i == first) set_own(before, &moved);
        sample with = o->samples[o->nodes[i].sample];
        if (!put_node(s, &moved, &with)) return false;
        while (at < 2 * o->m && o->samples[at].s <= node_s(o, i)) at++;
    }
    if (!put_samples(s, g, &at, g->s1)) return false;
    node *const before = &s->made.nodes[s->made.n - 1];
    s->turn += turn_of(before->out, g->to->own);
    set_own(before, &(node){ .p = g->to->p });
    return true;
}

/* The end of a borrowed curve, and from there to the next one. */
static bool put_rest(splicing *s, const borrowed *b, const borrowed *next, double shift)
{
    const joint *const end = &b->end, *const to = &next->start;
    gap g = { .from = end, .to = to, .s0 = end->own_s, .s1 = to->own_s + shift };
    while (g.s0 >= s->old->length) {
        g.s0 -= s->old->length;
        g.s1 -= s->old->length;
    }
    measure_gap(s, &g);
    const sample at = given_sample(s, end->p, pt_unit(pt_add(end->curve, end->own)));
    size_t first, last;
    nodes_between(s->old, g.s0, g.s1, &first, &last);
    node from = { .p = end->p, .in = end->curve, .out = end->own, .turn_in = s->turn, .is_corner = end->is_corner,
                  .is_must = true, .is_joint = true, .is_straight = g.is_straight0 || (first >= last && g.is_straight1) };
    if (g.is_straight0 && first < last) {
        pt slope;
        from.out = pt_unit(pt_sub(pt_add(s->old->nodes[first].p, shift_at(&g, node_s(s->old, first), &slope)), end->p));
    }
    s->turn += turn_of(from.in, from.out);
    from.turn_out = s->turn;
    return put_node(s, &from, &at) && put_gap(s, &g);
}

static bool put_all(splicing *s, const borrowing *b)
{
    const borrowed *before = &b->at[b->n - 1];
    for (size_t i = 0; i < b->n; i++) {
        const borrowed *const it = &b->at[i], *const next = &b->at[i + 1 < b->n ? i + 1 : 0];
        const double shift = i + 1 < b->n ? 0.0 : s->old->length;
        pt in = it->start.own;
        bool is_corner = it->start.is_corner;
        if (it->is_joined || it->is_ring) {
            const sw_contour *const c = &before->curve;
            const sw_seg *const last = &c->segs[c->n_segs - 1];
            in = arriving(as_pt(c->n_segs > 1 ? c->segs[c->n_segs - 2].end : c->start), last);
            is_corner = it->is_ring ? last->is_corner
                                    : fabs(turn_of(in, leaving(as_pt(it->curve.start), &it->curve.segs[0]))) > KINK_TURN;
        }
        if (!put_curve(s, it, (uint32_t)i, in, is_corner)) return false;
        if (!it->is_ring && !next->is_joined && !put_rest(s, it, next, shift)) return false;
        before = it;
    }
    return true;
}

bool splice_outline(outline *o, const borrowing *b, double tolerance_px)
{
    splicing s = { .old = o, .size = b->size, .weight = (float)(1.0 / (tolerance_px * tolerance_px)) };
    if (b->n == 0) return true;
    if (!put_all(&s, b) || !outline_double(&s.made, s.turn)) {
        outline_free(&s.made);
        return false;
    }
    outline_free(o);
    *o = s.made;
    return true;
}
