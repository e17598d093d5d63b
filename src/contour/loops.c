/* The loops of a raw parallel, found as places where it meets itself, cut out; and what is left beside them tidied. */
#include "contour/offset.h"

#include <stdlib.h>

#define SHORT_RATIO 0.25 /* of the tolerance: shorter segments are left out, rounding would turn them about */

/* Newton's method on both curves for the point they share. */
static void refine(const sw_contour *c, double *a, double *b)
{
    const size_t i = sw_min_size((size_t)*a, c->n_segs - 1), j = sw_min_size((size_t)*b, c->n_segs - 1);
    const bezier p = segment_of(c, i), q = segment_of(c, j);
    double s = *a - (double)i, t = *b - (double)j;
    for (int step = 0; step < 8; step++) {
        const pt off = pt_sub(bezier_point(&q, t), bezier_point(&p, s));
        const double h = 1e-5;
        const pt u = pt_mul(pt_sub(bezier_point(&p, s + h), bezier_point(&p, s - h)), 0.5 / h);
        const pt v = pt_mul(pt_sub(bezier_point(&q, t + h), bezier_point(&q, t - h)), 0.5 / h);
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

loop loop_of(const sw_contour *c, const crossing *x, double length)
{
    struct loop_end a = { (double)x->a.segment + x->a.t, x->a.along }, b = { (double)x->b.segment + x->b.t, x->b.along };
    refine(c, &a.at, &b.at);
    if (a.at > b.at) {
        const struct loop_end swap = a;
        a = b;
        b = swap;
    }
    if (b.along - a.along <= 0.5 * length) return (loop){ a, b, b.along - a.along };
    const struct loop_end next = { a.at + (double)c->n_segs, a.along + length };
    return (loop){ b, next, next.along - b.along };
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

bool cut_loops(const sw_contour *raw, loop *loops, size_t n, sw_contour *out, bool *has_room)
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
            out->start = to_mm(bezier_point(&first, from - floor(from)));
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
    return len > 0.0 && off < tolerance && (is_backward || bezier_way(b) < tolerance);
}

/* Give the segment before, which ends where a left out one began, that one's end. */
static void go_on_to(sw_seg *before, sw_pt_mm end, bool is_corner)
{
    before->end = end;
    if (before->is_line) before->c1 = before->c2 = end;
    before->is_corner = before->is_corner || is_corner;
}

bool tidy_parallel(sw_contour *c, double tolerance)
{
    sw_contour made = { .start = c->start };
    bool is_ok = true;
    for (size_t k = 0; k < c->n_segs && is_ok; k++) {
        const bezier b = segment_of(c, k);
        const bool is_last = k + 1 == c->n_segs;
        sw_seg *const before = made.n_segs > 0 ? &made.segs[made.n_segs - 1] : NULL;
        if (bezier_way(&b) < SHORT_RATIO * tolerance && (before != NULL || !is_last)) {
            if (before != NULL) go_on_to(before, to_mm(b.p[3]), c->segs[k].is_corner);
            else made.start = to_mm(b.p[3]); /* the last segment closes it */
            continue;
        }
        const bool is_straight = !c->segs[k].is_line && is_hook(&b, tolerance);
        if (is_straight && before != NULL) before->is_corner = true;
        is_ok = is_straight || c->segs[k].is_line ? sw_contour_add_line(&made, c->segs[k].end) : add_bezier(&made, &b);
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
