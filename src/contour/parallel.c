/* The raw parallel of a contour.
 *
 * Each segment is replaced by cubics fitted to its parallel curve; at a corner that opens an arc joins them, at one
 * that closes a straight chord, which makes a small loop. Where the two ends of a segment move by different distances,
 * the distance goes from one to the other with slope zero at both ends, so that tangents stay. */
#include "contour/offset.h"

#define N_SPLITS 6      /* halvings of one segment */
#define N_POINTS 12     /* of a parallel, to fit it to */
#define CORNER_SIN 0.01 /* a turn below that at a node is rounding, not a corner */
#define STEP 1e-4       /* of the parameter, for slopes */

bezier bezier_of(sw_pt_mm p0, const sw_seg *seg)
{
    if (!seg->is_line) return (bezier){ { from_mm(p0), from_mm(seg->c1), from_mm(seg->c2), from_mm(seg->end) } };
    const pt a = from_mm(p0), d = from_mm(seg->end);
    return (bezier){ { a, pt_mix(a, d, 1.0 / 3.0), pt_mix(a, d, 2.0 / 3.0), d } };
}

bezier segment_of(const sw_contour *c, size_t k) { return bezier_of(k == 0 ? c->start : c->segs[k - 1].end, &c->segs[k]); }

pt bezier_point(const bezier *b, double t)
{
    const double s = 1.0 - t, w0 = s * s * s, w1 = 3.0 * s * s * t, w2 = 3.0 * s * t * t, w3 = t * t * t;
    return (pt){ w0 * b->p[0].x + w1 * b->p[1].x + w2 * b->p[2].x + w3 * b->p[3].x,
                 w0 * b->p[0].y + w1 * b->p[1].y + w2 * b->p[2].y + w3 * b->p[3].y };
}

pt bezier_tangent(const bezier *b, double t)
{
    const double s = 1.0 - t;
    const pt d = pt_add(pt_add(pt_mul(pt_sub(b->p[1], b->p[0]), s * s), pt_mul(pt_sub(b->p[2], b->p[1]), 2.0 * s * t)),
                        pt_mul(pt_sub(b->p[3], b->p[2]), t * t));
    if (pt_len(d) > 1e-9) return pt_unit(d);
    return t < 0.5 ? pt_unit(pt_sub(b->p[2], b->p[0])) : pt_unit(pt_sub(b->p[3], b->p[1]));
}

bezier bezier_part(const bezier *b, double t0, double t1)
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

double bezier_way(const bezier *b)
{
    return pt_len(pt_sub(b->p[1], b->p[0])) + pt_len(pt_sub(b->p[2], b->p[1])) + pt_len(pt_sub(b->p[3], b->p[2]));
}

bool add_bezier(sw_contour *out, const bezier *b)
{
    return sw_contour_add_cubic(out, to_mm(b->p[1]), to_mm(b->p[2]), to_mm(b->p[3]));
}

static bool add_part(sw_contour *out, const sw_contour *c, size_t k, double t0, double t1, bool is_corner)
{
    if (t1 - t0 < 1e-9) return true;
    const bezier whole = segment_of(c, k), part = bezier_part(&whole, t0, t1);
    const bool is_ok = c->segs[k].is_line ? sw_contour_add_line(out, to_mm(part.p[3])) : add_bezier(out, &part);
    if (is_ok) out->segs[out->n_segs - 1].is_corner = is_corner;
    return is_ok;
}

bool add_stretch(sw_contour *out, const sw_contour *c, double from, double to)
{
    for (size_t k = (size_t)from; (double)k < to; k++) {
        const double t0 = sw_max(from - (double)k, 0.0), t1 = sw_min(to - (double)k, 1.0);
        const size_t i = k % c->n_segs;
        if (!add_part(out, c, i, t0, t1, t1 < 1.0 || c->segs[i].is_corner)) return false;
    }
    return true;
}

/* Where a point goes: the tangent points along the contour, the opening is on its right. */
static pt moved(pt p, pt tangent, double delta) { return (pt){ p.x + delta * tangent.y, p.y - delta * tangent.x }; }

/* A part of a segment that moves by delta0 at the segment's start and delta1 at its end. */
typedef struct course {
    const bezier *b;
    double delta0, delta1, t0, t1;
} course;

static double delta_at(const course *c, double t) { return c->delta0 + (c->delta1 - c->delta0) * t * t * (3.0 - 2.0 * t); }

static pt course_point(const course *c, double t) { return moved(bezier_point(c->b, t), bezier_tangent(c->b, t), delta_at(c, t)); }

static pt course_tangent(const course *c, double t)
{
    const pt along = bezier_tangent(c->b, t);
    if (c->delta0 == c->delta1 || t <= 0.0 || t >= 1.0) return along;
    const double from = sw_max(t - STEP, 0.0), to = sw_min(t + STEP, 1.0);
    const pt d = pt_sub(course_point(c, to), course_point(c, from));
    return pt_dot(d, along) > 0.0 ? pt_unit(d) : along;
}

/* The parallel keeps the end tangents; its handles are fitted to points along it. False if no cubic is near enough. */
static bool parallel_of(const course *c, double tolerance, bezier *out)
{
    sample at[N_POINTS] = { 0 };
    const float weight = (float)(1.0 / (tolerance * tolerance));
    for (int k = 0; k < N_POINTS; k++) {
        const double t = c->t0 + (c->t1 - c->t0) * (double)k / (N_POINTS - 1);
        const pt tangent = course_tangent(c, t), p = course_point(c, t);
        at[k] = (sample){ .p = p, .normal = { -tangent.y, tangent.x }, .w_in = weight, .w_out = weight,
                          .s = k == 0 ? 0.0 : at[k - 1].s + pt_len(pt_sub(p, at[k - 1].p)) };
    }
    const bezier part = bezier_part(c->b, c->t0, c->t1);
    const pt t0 = course_tangent(c, c->t0), t3 = course_tangent(c, c->t1);
    double h0 = pt_len(pt_sub(part.p[1], part.p[0])), h3 = pt_len(pt_sub(part.p[3], part.p[2]));
    if (!fit_handles(at, N_POINTS, t0, t3, &h0, &h3)) return false;
    const pt p0 = at[0].p, p3 = at[N_POINTS - 1].p;
    *out = (bezier){ { p0, pt_add(p0, pt_mul(t0, h0)), pt_sub(p3, pt_mul(t3, h3)), p3 } };
    return true;
}

/* What is left when halving ends: the chord, with the right tangents. Inside a bend tighter than the distance the
 * parallel runs backwards and the chord is all there is; that lies in a loop. */
static bezier short_parallel(const course *c)
{
    const pt t0 = course_tangent(c, c->t0), t3 = course_tangent(c, c->t1);
    const pt p0 = course_point(c, c->t0), p3 = course_point(c, c->t1);
    const pt chord = pt_sub(p3, p0);
    const double third = pt_len(chord) / 3.0;
    if (pt_dot(t0, chord) <= 0.0 || pt_dot(t3, chord) <= 0.0)
        return (bezier){ { p0, pt_mix(p0, p3, 1.0 / 3.0), pt_mix(p0, p3, 2.0 / 3.0), p3 } };
    return (bezier){ { p0, pt_add(p0, pt_mul(t0, third)), pt_sub(p3, pt_mul(t3, third)), p3 } };
}

static bool add_parallel(sw_contour *out, const course *c, double tolerance, int depth)
{
    bezier parallel;
    if (parallel_of(c, tolerance, &parallel)) return add_bezier(out, &parallel);
    if (depth == 0) {
        parallel = short_parallel(c);
        return add_bezier(out, &parallel);
    }
    course first = *c, second = *c;
    first.t1 = second.t0 = 0.5 * (c->t0 + c->t1);
    return add_parallel(out, &first, tolerance, depth - 1) && add_parallel(out, &second, tolerance, depth - 1);
}

static bool is_corner(pt in, pt out) { return fabs(pt_cross(in, out)) >= CORNER_SIN || pt_dot(in, out) <= 0.0; }

/* An arc around p, or two. */
static bool add_arcs(sw_contour *out, pt p, pt in, pt tangent, double turn, double delta)
{
    const int n = fabs(turn) > 1.6 ? 2 : 1;
    const double part = turn / n, handle = 4.0 / 3.0 * tan(0.25 * part) * delta;
    pt from = in;
    for (int k = 1; k <= n; k++) {
        const double c = cos(part), s = sin(part);
        const pt to = k == n ? tangent : (pt){ from.x * c - from.y * s, from.x * s + from.y * c };
        const pt a = moved(p, from, delta), d = moved(p, to, delta);
        const bezier arc = { { a, pt_add(a, pt_mul(from, handle)), pt_sub(d, pt_mul(to, handle)), d } };
        if (!add_bezier(out, &arc)) return false;
        from = to;
    }
    return true;
}

/* From the end of one parallel to the start of the next, around the node p. */
static bool join(sw_contour *out, pt p, pt in, pt tangent, double delta)
{
    const double turn = atan2(pt_cross(in, tangent), pt_dot(in, tangent));
    const pt end = moved(p, tangent, delta);
    const bool is_sharp = is_corner(in, tangent);
    if (!is_sharp || delta == 0.0) { /* make the ends one */
        if (out->n_segs > 0) out->segs[out->n_segs - 1].end = to_mm(end);
        else out->start = to_mm(end);
        if (is_sharp && out->n_segs > 0) out->segs[out->n_segs - 1].is_corner = true;
        return true;
    }
    if (out->n_segs > 0) out->segs[out->n_segs - 1].is_corner = true;
    if ((turn > 0.0) != (delta > 0.0)) { /* the side that closes: a chord, and so a loop */
        if (!sw_contour_add_line(out, to_mm(end))) return false;
        out->segs[out->n_segs - 1].is_corner = true;
        return true;
    }
    if (out->n_segs > 0) out->segs[out->n_segs - 1].is_corner = false; /* an arc is smooth at both ends */
    return add_arcs(out, p, in, tangent, turn, delta);
}

static bool add_segment(sw_contour *out, const sw_seg *seg, const bezier *b, double delta0, double delta1, double tolerance)
{
    if (delta0 == 0.0 && delta1 == 0.0) return seg->is_line ? sw_contour_add_line(out, seg->end) : add_bezier(out, b);
    if (seg->is_line && delta0 == delta1)
        return sw_contour_add_line(out, to_mm(moved(from_mm(seg->end), bezier_tangent(b, 1.0), delta1)));
    return add_parallel(out, &(course){ b, delta0, delta1, 0.0, 1.0 }, tolerance, N_SPLITS);
}

bool make_parallel(const sw_contour *in, double delta, const double *share, double tolerance, sw_contour *out)
{
    const bezier last = segment_of(in, in->n_segs - 1), first = segment_of(in, 0);
    sw_pt_mm p0 = in->start;
    pt tangent = bezier_tangent(&last, 1.0);
    out->start = to_mm(moved(from_mm(p0), tangent, delta * share[0]));
    for (size_t k = 0; k < in->n_segs; k++) {
        const sw_seg *const seg = &in->segs[k];
        const bezier b = bezier_of(p0, seg);
        if (!join(out, from_mm(p0), tangent, bezier_tangent(&b, 0.0), delta * share[k])) return false;
        tangent = bezier_tangent(&b, 1.0);
        if (!add_segment(out, seg, &b, delta * share[k], delta * share[wrap(k + 1, in->n_segs)], tolerance)) return false;
        p0 = seg->end;
    }
    const pt begin = bezier_tangent(&first, 0.0);
    sw_seg *const end = &out->segs[out->n_segs - 1];
    end->end = out->start;
    if (end->is_line) end->c1 = end->c2 = end->end;
    end->is_corner = is_corner(tangent, begin) && (share[0] == 0.0 || (pt_cross(tangent, begin) > 0.0) != (delta > 0.0));
    return true;
}
