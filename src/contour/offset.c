/* Contours moved sideways, for the kerf.
 *
 * Each segment is replaced by cubics fitted to its parallel curve; at a corner that opens an arc joins them, at one
 * that closes a straight chord, which makes a small loop. Loops turn against their contour; they are found as
 * crossings of a contour with itself and cut out, and what crosses after that is not a matter of a corner but of room:
 * those contours are made again with half the distance. On convex shapes the area grows by Steiner's formula. */
#include <stdlib.h>

#include "contour/outline.h"

#define N_SPLITS 6      /* halvings of one segment */
#define N_POINTS 12     /* of a parallel, to fit it to */
#define LEAST_SHARE 0.01 /* of the distance: a contour that cannot move by more stays where it is */
#define N_ROUNDS 32      /* of moving and halving; after that whatever is short stays where it is */
#define SHORT_RATIO 0.25 /* of the tolerance: shorter segments are left out, rounding would turn them about */
#define LONGEST_RATIO 50.0 /* of the tolerance: longest edge when crossings are looked for */
#define WALK_RATIO 0.03  /* of the tolerance: what the proof would see of a crossing, and less */
#define GAP_MM 0.02      /* edges nearer than two chords of the proof are off their curves, 0.01 each, count as crossing */
#define LEAST_WIDTH_MM 0.02 /* of a contour in the mean: what is narrower is as good as gone */
#define ROUND_MM 0.001   /* what the writers round to: crossings are looked for in curves rounded like that */
#define CORNER_SIN 0.01 /* a turn below that at a node is rounding, not a corner */
#define LOOP_RATIO 40.0 /* of the distance: longest loop that a corner makes; a tip of 6 degrees has 38 */

typedef struct bezier {
    pt p[4];
} bezier;

static pt from_mm(sw_pt_mm p) { return (pt){ p.x_mm, p.y_mm }; }
static sw_pt_mm to_mm(pt p) { return (sw_pt_mm){ p.x, p.y }; }

static bezier bezier_of(sw_pt_mm p0, const sw_seg *seg)
{
    if (!seg->is_line) return (bezier){ { from_mm(p0), from_mm(seg->c1), from_mm(seg->c2), from_mm(seg->end) } };
    const pt a = from_mm(p0), d = from_mm(seg->end);
    return (bezier){ { a, pt_mix(a, d, 1.0 / 3.0), pt_mix(a, d, 2.0 / 3.0), d } };
}

static pt point_at(const bezier *b, double t)
{
    const double s = 1.0 - t, w0 = s * s * s, w1 = 3.0 * s * s * t, w2 = 3.0 * s * t * t, w3 = t * t * t;
    return (pt){ w0 * b->p[0].x + w1 * b->p[1].x + w2 * b->p[2].x + w3 * b->p[3].x,
                 w0 * b->p[0].y + w1 * b->p[1].y + w2 * b->p[2].y + w3 * b->p[3].y };
}

/* Unit tangent; where the derivative vanishes at an end, the direction to the next control point that differs. */
static pt tangent_at(const bezier *b, double t)
{
    const double s = 1.0 - t;
    const pt d = pt_add(pt_add(pt_mul(pt_sub(b->p[1], b->p[0]), s * s), pt_mul(pt_sub(b->p[2], b->p[1]), 2.0 * s * t)),
                        pt_mul(pt_sub(b->p[3], b->p[2]), t * t));
    if (pt_len(d) > 1e-9) return pt_unit(d);
    return t < 0.5 ? pt_unit(pt_sub(b->p[2], b->p[0])) : pt_unit(pt_sub(b->p[3], b->p[1]));
}

static bezier part_of(const bezier *b, double t0, double t1)
{
    bezier c = *b;
    for (int level = 1; level < 4 && t1 < 1.0; level++) {
        for (int k = 3; k >= level; k--) c.p[k] = pt_mix(c.p[k - 1], c.p[k], t1);
    }
    const double t = t1 > 0.0 ? t0 / t1 : 0.0;
    for (int level = 1; level < 4 && t > 0.0; level++) {
        for (int k = 0; k <= 3 - level; k++) c.p[k] = pt_mix(c.p[k], c.p[k + 1], t);
    }
    return c;
}

/* Where a point goes: the tangent points along the contour, the opening is on its right. */
static pt moved(pt p, pt tangent, double delta)
{
    return (pt){ p.x + delta * tangent.y, p.y - delta * tangent.x };
}

static bool add_cubic(sw_contour *out, const bezier *b)
{
    return sw_contour_add_cubic(out, to_mm(b->p[1]), to_mm(b->p[2]), to_mm(b->p[3]));
}

/* The parallel keeps the end tangents; its handles are fitted to points along it. False if no cubic is near enough. */
static bool parallel_of(const bezier *b, double delta, double tolerance, bezier *out)
{
    sample at[N_POINTS];
    const float weight = (float)(1.0 / (tolerance * tolerance));
    for (int k = 0; k < N_POINTS; k++) {
        const double t = (double)k / (N_POINTS - 1);
        const pt tangent = tangent_at(b, t), p = moved(point_at(b, t), tangent, delta);
        at[k] = (sample){ .p = p, .normal = { -tangent.y, tangent.x }, .w_in = weight, .w_out = weight,
                          .s = k == 0 ? 0.0 : at[k - 1].s + pt_len(pt_sub(p, at[k - 1].p)) };
    }
    const pt t0 = tangent_at(b, 0.0), t3 = tangent_at(b, 1.0);
    double h0 = pt_len(pt_sub(b->p[1], b->p[0])), h3 = pt_len(pt_sub(b->p[3], b->p[2]));
    if (!fit_handles(at, N_POINTS, t0, t3, &h0, &h3)) return false;
    const pt p0 = at[0].p, p3 = at[N_POINTS - 1].p;
    *out = (bezier){ { p0, pt_add(p0, pt_mul(t0, h0)), pt_sub(p3, pt_mul(t3, h3)), p3 } };
    return true;
}

/* What is left when halving ends: the chord, with the right tangents. Inside a bend tighter than the distance the
 * parallel runs backwards and the chord is all there is; that lies in a loop. */
static bezier short_parallel(const bezier *b, double delta)
{
    const pt t0 = tangent_at(b, 0.0), t3 = tangent_at(b, 1.0);
    const pt p0 = moved(b->p[0], t0, delta), p3 = moved(b->p[3], t3, delta);
    const pt chord = pt_sub(p3, p0);
    const double third = pt_len(chord) / 3.0;
    if (pt_dot(t0, chord) <= 0.0 || pt_dot(t3, chord) <= 0.0)
        return (bezier){ { p0, pt_mix(p0, p3, 1.0 / 3.0), pt_mix(p0, p3, 2.0 / 3.0), p3 } };
    return (bezier){ { p0, pt_add(p0, pt_mul(t0, third)), pt_sub(p3, pt_mul(t3, third)), p3 } };
}

static bool add_parallel(sw_contour *out, const bezier *b, double delta, double tolerance, int depth)
{
    bezier parallel;
    if (parallel_of(b, delta, tolerance, &parallel)) return add_cubic(out, &parallel);
    if (depth == 0) {
        parallel = short_parallel(b, delta);
        return add_cubic(out, &parallel);
    }
    const bezier first = part_of(b, 0.0, 0.5), second = part_of(b, 0.5, 1.0);
    return add_parallel(out, &first, delta, tolerance, depth - 1) &&
           add_parallel(out, &second, delta, tolerance, depth - 1);
}

static bool is_corner(pt in, pt out) { return fabs(pt_cross(in, out)) >= CORNER_SIN || pt_dot(in, out) <= 0.0; }

/* From the end of one parallel to the start of the next, around the node p. */
static bool join(sw_contour *out, pt p, pt in, pt tangent, double delta)
{
    const double turn = atan2(pt_cross(in, tangent), pt_dot(in, tangent));
    const pt end = moved(p, tangent, delta);
    if (!is_corner(in, tangent)) { /* smooth: make the ends one */
        if (out->n_segs > 0) out->segs[out->n_segs - 1].end = to_mm(end);
        else out->start = to_mm(end);
        return true;
    }
    if (out->n_segs > 0) out->segs[out->n_segs - 1].is_corner = true;
    if ((turn > 0.0) != (delta > 0.0)) { /* the side that closes: a chord, and so a loop */
        if (!sw_contour_add_line(out, to_mm(end))) return false;
        out->segs[out->n_segs - 1].is_corner = true;
        return true;
    }
    if (out->n_segs > 0) out->segs[out->n_segs - 1].is_corner = false; /* an arc is smooth at both ends */
    const int n = fabs(turn) > 1.6 ? 2 : 1;
    const double part = turn / n, handle = 4.0 / 3.0 * tan(0.25 * part) * delta;
    pt from = in;
    for (int k = 1; k <= n; k++) {
        const double c = cos(part), s = sin(part);
        const pt to = k == n ? tangent : (pt){ from.x * c - from.y * s, from.x * s + from.y * c };
        const pt a = moved(p, from, delta), d = moved(p, to, delta);
        const bezier arc = { { a, pt_add(a, pt_mul(from, handle)), pt_sub(d, pt_mul(to, handle)), d } };
        if (!add_cubic(out, &arc)) return false;
        from = to;
    }
    return true;
}

/* The parallel with its loops still in it. */
static bool make_raw(const sw_contour *in, double delta, double tolerance, sw_contour *out)
{
    sw_pt_mm p0 = in->start;
    const sw_pt_mm before = in->n_segs > 1 ? in->segs[in->n_segs - 2].end : in->start;
    const bezier last = bezier_of(before, &in->segs[in->n_segs - 1]);
    pt tangent = tangent_at(&last, 1.0);
    out->start = to_mm(moved(from_mm(p0), tangent, delta));
    for (size_t k = 0; k < in->n_segs; k++) {
        const sw_seg *const seg = &in->segs[k];
        const bezier b = bezier_of(p0, seg);
        const pt in_tangent = tangent;
        if (!join(out, from_mm(p0), in_tangent, tangent_at(&b, 0.0), delta)) return false;
        tangent = tangent_at(&b, 1.0);
        const bool is_ok = seg->is_line ? sw_contour_add_line(out, to_mm(moved(from_mm(seg->end), tangent, delta)))
                                        : add_parallel(out, &b, delta, tolerance, N_SPLITS);
        if (!is_ok) return false;
        p0 = seg->end;
    }
    const bezier first = bezier_of(in->start, &in->segs[0]);
    const pt begin = tangent_at(&first, 0.0);
    sw_seg *const end = &out->segs[out->n_segs - 1];
    end->end = out->start;
    end->is_corner = is_corner(tangent, begin) && (pt_cross(tangent, begin) > 0.0) != (delta > 0.0);
    return true;
}

/* ---- cutting loops out ----------------------------------------------------------------------------------------- */

typedef struct place {
    double at;    /* segment + parameter */
    double along; /* length */
} place;

typedef struct loop {
    place from, to;  /* what lies between goes; to may lie past the end */
    double length;
} loop;

typedef struct crossings {
    crossing *at;
    size_t n, cap;
} crossings;

static bool keep(void *ctx, const crossing *c)
{
    crossings *const list = ctx;
    void *at = list->at;
    if (!sw_grow(&at, &list->cap, list->n + 1, sizeof *list->at)) return false;
    list->at = at;
    list->at[list->n++] = *c;
    return true;
}

static bezier segment_of(const sw_contour *c, size_t k)
{
    return bezier_of(k == 0 ? c->start : c->segs[k - 1].end, &c->segs[k]);
}

/* Newton's method on both curves for the point they share. */
static void refine(const sw_contour *c, double *a, double *b)
{
    const size_t i = sw_min_size((size_t)*a, c->n_segs - 1), j = sw_min_size((size_t)*b, c->n_segs - 1);
    const bezier p = segment_of(c, i), q = segment_of(c, j);
    double s = *a - (double)i, t = *b - (double)j;
    for (int step = 0; step < 8; step++) {
        const pt off = pt_sub(point_at(&q, t), point_at(&p, s));
        const double h = 1e-5;
        const pt u = pt_mul(pt_sub(point_at(&p, s + h), point_at(&p, s - h)), 0.5 / h);
        const pt v = pt_mul(pt_sub(point_at(&q, t + h), point_at(&q, t - h)), 0.5 / h);
        const double det = pt_cross(u, v);
        if (fabs(det) < 1e-12) break;
        s = sw_clamp(s + pt_cross(off, v) / det, 0.0, 1.0);
        t = sw_clamp(t + pt_cross(off, u) / det, 0.0, 1.0);
    }
    *a = (double)i + s;
    *b = (double)j + t;
}

static int compare_loops(const void *pa, const void *pb)
{
    const loop *const a = pa, *const b = pb;
    if (a->from.at != b->from.at) return a->from.at < b->from.at ? -1 : 1;
    return a->to.at < b->to.at ? 1 : a->to.at > b->to.at ? -1 : 0;
}

/* The shorter way between the places where a contour meets itself. */
static loop loop_of(const sw_contour *c, const crossing *x, double length)
{
    place a = { (double)x->a.segment + x->a.t, x->a.along }, b = { (double)x->b.segment + x->b.t, x->b.along };
    refine(c, &a.at, &b.at);
    if (a.at > b.at) {
        const place swap = a;
        a = b;
        b = swap;
    }
    if (b.along - a.along <= 0.5 * length) return (loop){ a, b, b.along - a.along };
    const place next = { a.at + (double)c->n_segs, a.along + length };
    return (loop){ b, next, next.along - b.along };
}

static bool add_part(sw_contour *out, const sw_contour *c, size_t k, double t0, double t1, bool is_corner)
{
    if (t1 - t0 < 1e-9) return true;
    const bezier whole = segment_of(c, k), part = part_of(&whole, t0, t1);
    const bool is_ok = c->segs[k].is_line ? sw_contour_add_line(out, to_mm(part.p[3])) : add_cubic(out, &part);
    if (is_ok) out->segs[out->n_segs - 1].is_corner = is_corner;
    return is_ok;
}

/* The stretch of a contour from one place to another, later one. */
static bool add_stretch(sw_contour *out, const sw_contour *c, double from, double to)
{
    for (size_t k = (size_t)from; (double)k < to; k++) {
        const double t0 = sw_max(from - (double)k, 0.0), t1 = sw_min(to - (double)k, 1.0);
        const size_t i = k % c->n_segs;
        if (!add_part(out, c, i, t0, t1, t1 < 1.0 || c->segs[i].is_corner)) return false;
    }
    return true;
}

/* Drop loops that lie in others; false if two overlap. loops are sorted. */
static bool tidy_loops(loop *loops, size_t *n)
{
    size_t kept = 0;
    for (size_t k = 0; k < *n; k++) {
        if (kept > 0 && loops[k].from.at < loops[kept - 1].to.at) {
            if (loops[k].to.at > loops[kept - 1].to.at + 1e-6) return false;
            continue;
        }
        loops[kept++] = loops[k];
    }
    *n = kept;
    return true;
}

/* Cut loops out. has_room false: what is left cannot be the contour moved. False: out of memory. */
static bool cut_loops(const sw_contour *raw, loop *loops, size_t n, sw_contour *out, bool *has_room)
{
    const double n_segs = (double)raw->n_segs;
    qsort(loops, n, sizeof *loops, compare_loops);
    *has_room = tidy_loops(loops, &n) && loops[n - 1].to.at <= loops[0].from.at + n_segs;
    if (!*has_room) return true;
    for (size_t k = 0; k < n; k++) { /* from the end of each loop to the start of the next */
        double from = loops[k].to.at, to = k + 1 < n ? loops[k + 1].from.at : loops[0].from.at + n_segs;
        if (from >= n_segs) {
            from -= n_segs;
            to -= n_segs;
        }
        if (k == 0) {
            const bezier first = segment_of(raw, sw_min_size((size_t)from, raw->n_segs - 1));
            out->start = to_mm(point_at(&first, from - floor(from)));
        }
        if (!add_stretch(out, raw, from, to)) return false;
        if (out->n_segs == 0) continue;
        sw_seg *const end = &out->segs[out->n_segs - 1];
        end->is_corner = true;
        if (k + 1 == n) end->end = out->start;
    }
    *has_room = out->n_segs >= 2;
    return true;
}

/* Length of the way over the control points; the curve is no longer. */
static double way_over(const bezier *b)
{
    return pt_len(pt_sub(b->p[1], b->p[0])) + pt_len(pt_sub(b->p[2], b->p[1])) + pt_len(pt_sub(b->p[3], b->p[2]));
}

/* True if the chord does as well: the cubic stays within tolerance of it, and hardly has a length or runs backwards. What
 * is left beside a loop that was cut out often is like that: a hook that meets its neighbour once more. */
static bool is_hook(const bezier *b, double tolerance)
{
    const pt chord = pt_sub(b->p[3], b->p[0]), first = pt_sub(b->p[1], b->p[0]), second = pt_sub(b->p[2], b->p[0]);
    const double len = pt_len(chord), s1 = pt_dot(first, chord), s2 = pt_dot(second, chord);
    const double past = sw_max(sw_max(-s1, -s2), sw_max(s1, s2) - len * len) / len;
    const double off = sw_max(sw_max(fabs(pt_cross(chord, first)), fabs(pt_cross(chord, second))) / len, past);
    const double middle = s2 - s1, last = len * len - s2; /* with s1 the speeds along the chord, as Bernstein coefficients */
    const bool is_backward = s1 < 0.0 || last < 0.0 || (middle < 0.0 && middle * middle > s1 * last);
    return len > 0.0 && off < tolerance && (is_backward || way_over(b) < tolerance);
}

/* Give the segment before, which ends where a left out one began, that one's end. */
static void go_on_to(sw_seg *before, sw_pt_mm end, bool is_corner)
{
    before->end = end;
    if (before->is_line) before->c1 = before->c2 = end;
    before->is_corner = before->is_corner || is_corner;
}

/* Leave out segments too short to show and draw hooks straight. False: out of memory. */
static bool tidy(sw_contour *c, double tolerance)
{
    sw_contour made = { .start = c->start };
    bool is_ok = true;
    for (size_t k = 0; k < c->n_segs && is_ok; k++) {
        const bezier b = segment_of(c, k);
        const bool is_last = k + 1 == c->n_segs;
        sw_seg *const before = made.n_segs > 0 ? &made.segs[made.n_segs - 1] : NULL;
        if (way_over(&b) < SHORT_RATIO * tolerance && (before != NULL || !is_last)) {
            if (before != NULL) go_on_to(before, to_mm(b.p[3]), c->segs[k].is_corner);
            else made.start = to_mm(b.p[3]); /* the last segment closes it */
            continue;
        }
        const bool is_straight = !c->segs[k].is_line && is_hook(&b, tolerance);
        if (is_straight && before != NULL) before->is_corner = true;
        is_ok = is_straight || c->segs[k].is_line ? sw_contour_add_line(&made, c->segs[k].end) : add_cubic(&made, &b);
        if (is_ok) made.segs[made.n_segs - 1].is_corner = is_straight || c->segs[k].is_corner;
    }
    if (is_ok && made.n_segs >= 2) {
        go_on_to(&made.segs[made.n_segs - 1], made.start, made.segs[0].is_line);
        sw_contour_free(c);
        *c = made;
        made = (sw_contour){ 0 };
    }
    sw_contour_free(&made);
    return is_ok;
}

/* ---- one round: move, cut, check ------------------------------------------------------------------------------- */

typedef struct moving {
    const sw_contours *in;
    double delta, tolerance;
    double *share;   /* of delta, per contour */
    bool *is_short;  /* has to be moved by less */
} moving;

static bool moves_as_asked(const sw_contour *before, const sw_contour *after, double delta)
{
    if (delta == 0.0) return true;
    const double a = sw_contour_measure_one(before).area_mm2;
    const sw_contour_measure m = sw_contour_measure_one(after);
    const double change = m.area_mm2 - a;
    if (2.0 * fabs(m.area_mm2) < LEAST_WIDTH_MM * m.length_mm) return false; /* nothing but a sliver is left */
    return after->n_segs >= 2 && (a > 0.0) == (m.area_mm2 > 0.0) && (change > 0.0) == (delta > 0.0);
}

/* Sort the crossings of the raw parallels by contour into loops, and cut. */
static bool clean(const moving *m, const sw_contours *raw, sw_contours *out)
{
    crossings found = { 0 };
    loop *loops = NULL;
    const crossing_walk how = { 0.1 * m->tolerance, LONGEST_RATIO * m->tolerance, 0.15 * m->tolerance };
    bool is_ok = visit_crossings(raw, &how, keep, &found);
    loops = sw_alloc_array(found.n + 1, sizeof *loops);
    is_ok = is_ok && loops != NULL;
    for (size_t i = 0; i < raw->n && is_ok; i++) {
        const sw_contour *const c = &raw->at[i];
        const double length = sw_contour_measure_one(c).length_mm;
        const double longest_loop = sw_min(LOOP_RATIO * fabs(m->delta * m->share[i]), 0.4 * length);
        size_t n = 0;
        for (size_t k = 0; k < found.n; k++) {
            if (found.at[k].a.contour != i || found.at[k].b.contour != i) continue;
            loops[n] = loop_of(c, &found.at[k], length);
            if (loops[n].length > longest_loop) m->is_short[i] = true;
            n++;
        }
        sw_contour made = { 0 };
        bool has_room = !m->is_short[i];
        if (n == 0 || !has_room) is_ok = add_stretch(&made, c, 0.0, (double)c->n_segs);
        else is_ok = cut_loops(c, loops, n, &made, &has_room);
        if (n == 0) made.start = c->start;
        is_ok = is_ok && (m->share[i] == 0.0 || tidy(&made, m->tolerance));
        if (!has_room || !moves_as_asked(&m->in->at[i], &made, m->delta * m->share[i])) m->is_short[i] = true;
        is_ok = is_ok && sw_contours_take(out, &made, NULL) == SW_OK;
        sw_contour_free(&made);
    }
    sw_free(loops);
    sw_free(found.at);
    return is_ok;
}

static bool mark_both(void *ctx, const crossing *c)
{
    const moving *const m = ctx;
    m->is_short[c->a.contour] = m->is_short[c->b.contour] = true;
    return true;
}

/* Mark contours that cross themselves or another once rounded. */
static bool mark_crossings(moving *m, const sw_contours *moved_list)
{
    sw_contours rounded = { 0 };
    if (sw_contours_copy(moved_list, &rounded, NULL) != SW_OK) return false;
    sw_contours_round(&rounded, ROUND_MM);
    const crossing_walk how = { WALK_RATIO * m->tolerance, LONGEST_RATIO * m->tolerance, GAP_MM };
    const bool is_ok = visit_crossings(&rounded, &how, mark_both, m);
    sw_contours_free(&rounded);
    return is_ok;
}

/* Even-odd test of a point against a walked contour: crossings of the ray to the right. On an edge: either way. */
typedef struct ray {
    sw_pt_mm from, last, first;
    bool has_last, is_inside;
} ray;

static void cross_edge(ray *r, sw_pt_mm a, sw_pt_mm b)
{
    if ((a.y_mm > r->from.y_mm) == (b.y_mm > r->from.y_mm)) return;
    const double x = a.x_mm + (r->from.y_mm - a.y_mm) / (b.y_mm - a.y_mm) * (b.x_mm - a.x_mm);
    if (x > r->from.x_mm) r->is_inside = !r->is_inside;
}

static bool ray_point(void *ctx, sw_pt_mm p)
{
    ray *const r = ctx;
    if (r->has_last) cross_edge(r, r->last, p);
    else r->first = p;
    r->has_last = true;
    r->last = p;
    return true;
}

static bool is_inside(const sw_contour *c, const sw_contour_measure *box, sw_pt_mm p, double tolerance)
{
    if (p.x_mm < box->min.x_mm || p.x_mm > box->max.x_mm || p.y_mm < box->min.y_mm || p.y_mm > box->max.y_mm) return false;
    ray r = { .from = p };
    (void)sw_contour_flatten(c, tolerance, ray_point, &r);
    cross_edge(&r, r.last, r.first);
    return r.is_inside;
}

/* Contours that do not cross may still have passed through each other: what lies in what has to be as before. */
static bool compare_nesting(const moving *m, const sw_contours *out)
{
    const size_t n = out->n;
    sw_contour_measure *const before = sw_alloc_array(n, sizeof *before), *const after = sw_alloc_array(n, sizeof *after);
    const bool is_ok = before != NULL && after != NULL;
    for (size_t i = 0; i < n && is_ok; i++) {
        before[i] = sw_contour_measure_one(&m->in->at[i]);
        after[i] = sw_contour_measure_one(&out->at[i]);
    }
    for (size_t i = 0; i < n && is_ok; i++) {
        for (size_t j = 0; j < n; j++) {
            if (i == j || is_inside(&m->in->at[j], &before[j], m->in->at[i].start, m->tolerance) ==
                              is_inside(&out->at[j], &after[j], out->at[i].start, m->tolerance))
                continue;
            m->is_short[i] = m->is_short[j] = true;
        }
    }
    sw_free(before);
    sw_free(after);
    return is_ok;
}

static bool move_all(moving *m, sw_contours *out, size_t *n_short)
{
    sw_contours raw = { 0 };
    bool is_ok = true;
    for (size_t i = 0; i < m->in->n && is_ok; i++) {
        sw_contour made = { 0 };
        m->is_short[i] = false;
        const sw_contour *const c = &m->in->at[i];
        if (m->share[i] > 0.0) {
            is_ok = make_raw(c, m->delta * m->share[i], m->tolerance, &made);
        } else { /* stays where it is */
            made.start = c->start;
            is_ok = add_stretch(&made, c, 0.0, (double)c->n_segs);
        }
        is_ok = is_ok && sw_contours_take(&raw, &made, NULL) == SW_OK;
        sw_contour_free(&made);
    }
    is_ok = is_ok && clean(m, &raw, out) && mark_crossings(m, out) && compare_nesting(m, out);
    *n_short = 0;
    for (size_t i = 0; i < m->in->n && is_ok; i++) {
        if (m->is_short[i] && m->share[i] > 0.0) ++*n_short;
    }
    sw_contours_free(&raw);
    return is_ok;
}

sw_status sw_contours_offset(const sw_contours *in, double delta_mm, double tolerance_mm, size_t *n_held_back,
                             sw_contours *out, sw_note *note)
{
    if (!sw_length_ok(fabs(delta_mm), true) || !sw_length_ok(tolerance_mm, false))
        return sw_fail(note, SW_BAD_LENGTH, "the kerf and its tolerance must be lengths of 0 to 200m");
    bool is_whole = true;
    for (size_t i = 0; i < in->n; i++) is_whole = is_whole && in->at[i].n_segs >= 2;
    if (!is_whole) return sw_fail(note, SW_BAD_LENGTH, "a contour without an inside cannot be moved");
    if (in->n == 0 || delta_mm == 0.0) {
        if (n_held_back != NULL) *n_held_back = 0;
        return sw_contours_copy(in, out, note);
    }
    sw_contours made = { 0 };
    moving m = { .in = in, .delta = delta_mm, .tolerance = tolerance_mm,
                 .share = sw_alloc_array(in->n, sizeof *m.share), .is_short = sw_alloc_array(in->n, sizeof *m.is_short) };
    bool is_ok = m.share != NULL && m.is_short != NULL;
    for (size_t i = 0; i < in->n && is_ok; i++) m.share[i] = 1.0;
    size_t n_short = 1, n_held = 0;
    for (size_t round = 0; n_short > 0 && is_ok; round++) { /* ends: each round moves a contour less, or none any more */
        sw_contours_free(&made);
        is_ok = move_all(&m, &made, &n_short);
        for (size_t i = 0; i < in->n && n_short > 0 && is_ok; i++) {
            if (m.is_short[i]) m.share[i] = round < N_ROUNDS && m.share[i] > LEAST_SHARE ? 0.5 * m.share[i] : 0.0;
        }
    }
    for (size_t i = 0; i < in->n && is_ok; i++) n_held += m.share[i] < 1.0;
    sw_free(m.share);
    sw_free(m.is_short);
    if (!is_ok) {
        sw_contours_free(&made);
        return sw_fail_memory(note, "the kerf");
    }
    if (n_held_back != NULL) *n_held_back = n_held;
    *out = made;
    return SW_OK;
}
