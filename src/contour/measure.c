/* Length, area and bounding box of contours, from the curves themselves.
 *
 * Area: Green's theorem on the control points, exact. Box: zeros of the derivative, exact. Length: Gauss-Legendre
 * with five points on halves until halving changes nothing (nodes and weights: Abramowitz and Stegun 1964, table
 * 25.4). */
#include <float.h>
#include <math.h>

#include "contour/contour.h"

typedef struct cubic {
    double x[4], y[4];
} cubic;

static cubic cubic_of(sw_pt_mm p0, const sw_seg *seg)
{
    return (cubic){ .x = { p0.x_mm, seg->c1.x_mm, seg->c2.x_mm, seg->end.x_mm },
                    .y = { p0.y_mm, seg->c1.y_mm, seg->c2.y_mm, seg->end.y_mm } };
}

static double derivative_at(const double p[4], double t)
{
    const double s = 1.0 - t;
    return 3.0 * (s * s * (p[1] - p[0]) + 2.0 * s * t * (p[2] - p[1]) + t * t * (p[3] - p[2]));
}

static double gauss5(const cubic *c, double t0, double t1)
{
    static const double node[3] = { 0.0, 0.538469310105683, 0.906179845938664 };
    static const double weight[3] = { 0.568888888888889, 0.478628670499366, 0.236926885056189 };
    const double mid = 0.5 * (t0 + t1), half = 0.5 * (t1 - t0);
    double sum = weight[0] * sw_hypot(derivative_at(c->x, mid), derivative_at(c->y, mid));
    for (int k = 1; k < 3; k++) {
        const double a = mid - half * node[k], b = mid + half * node[k];
        sum += weight[k] * (sw_hypot(derivative_at(c->x, a), derivative_at(c->y, a)) +
                            sw_hypot(derivative_at(c->x, b), derivative_at(c->y, b)));
    }
    return sum * half;
}

static double length_between(const cubic *c, double t0, double t1, double whole, int depth)
{
    const double mid = 0.5 * (t0 + t1);
    const double a = gauss5(c, t0, mid), b = gauss5(c, mid, t1);
    if (depth == 0 || fabs(a + b - whole) <= 1e-9 * (a + b)) return a + b;
    return length_between(c, t0, mid, a, depth - 1) + length_between(c, mid, t1, b, depth - 1);
}

/* Twice-signed area swept from the origin by the segment, over 2: 1/2 of the integral of x dy - y dx. */
static double area_of_cubic(const cubic *c)
{
    const double *const x = c->x, *const y = c->y;
    const double c01 = x[0] * y[1] - x[1] * y[0], c02 = x[0] * y[2] - x[2] * y[0], c03 = x[0] * y[3] - x[3] * y[0];
    const double c12 = x[1] * y[2] - x[2] * y[1], c13 = x[1] * y[3] - x[3] * y[1], c23 = x[2] * y[3] - x[3] * y[2];
    return (6.0 * c01 + 3.0 * c02 + c03 + 3.0 * c12 + 3.0 * c13 + 6.0 * c23) / 20.0;
}

static void widen(double *lo, double *hi, double v)
{
    *lo = sw_min(*lo, v);
    *hi = sw_max(*hi, v);
}

static void widen_at(double *lo, double *hi, const double p[4], double t)
{
    if (!(t > 0.0 && t < 1.0)) return;
    const double s = 1.0 - t;
    widen(lo, hi, s * s * s * p[0] + 3.0 * s * s * t * p[1] + 3.0 * s * t * t * p[2] + t * t * t * p[3]);
}

static void box_of_axis(double *lo, double *hi, const double p[4])
{
    widen(lo, hi, p[3]);
    if (p[1] >= *lo && p[1] <= *hi && p[2] >= *lo && p[2] <= *hi) return; /* inside the hull already covered */
    /* derivative / 3 = a t^2 + b t + c, solved so that no difference of near numbers is taken */
    const double a = p[3] - 3.0 * p[2] + 3.0 * p[1] - p[0], b = 2.0 * (p[2] - 2.0 * p[1] + p[0]), c = p[1] - p[0];
    const double under_root = b * b - 4.0 * a * c;
    if (under_root < 0.0) return;
    const double q = -0.5 * (b + copysign(sqrt(under_root), b));
    if (a != 0.0) widen_at(lo, hi, p, q / a);
    if (q != 0.0) widen_at(lo, hi, p, c / q);
}

static sw_contour_measure nothing(void)
{
    return (sw_contour_measure){ .min = { DBL_MAX, DBL_MAX }, .max = { -DBL_MAX, -DBL_MAX } };
}

static sw_contour_measure measure(const sw_contour *contour, bool has_length)
{
    if (contour->n_segs == 0) return (sw_contour_measure){ 0 };
    sw_contour_measure m = nothing();
    m.n_nodes = contour->n_segs;
    sw_pt_mm p0 = contour->start;
    const sw_pt_mm o = contour->start; /* area is summed about the start: small numbers keep their digits */
    for (size_t i = 0; i < contour->n_segs; i++) {
        const sw_seg *const seg = &contour->segs[i];
        const sw_pt_mm e = seg->end;
        widen(&m.min.x_mm, &m.max.x_mm, e.x_mm);
        widen(&m.min.y_mm, &m.max.y_mm, e.y_mm);
        if (seg->is_line) {
            if (has_length) m.length_mm += sw_hypot(e.x_mm - p0.x_mm, e.y_mm - p0.y_mm);
            m.area_mm2 += 0.5 * ((p0.x_mm - o.x_mm) * (e.y_mm - o.y_mm) - (e.x_mm - o.x_mm) * (p0.y_mm - o.y_mm));
        } else {
            cubic c = cubic_of(p0, seg);
            box_of_axis(&m.min.x_mm, &m.max.x_mm, c.x);
            box_of_axis(&m.min.y_mm, &m.max.y_mm, c.y);
            for (int k = 0; k < 4; k++) {
                c.x[k] -= o.x_mm;
                c.y[k] -= o.y_mm;
            }
            if (has_length) m.length_mm += length_between(&c, 0.0, 1.0, gauss5(&c, 0.0, 1.0), 14);
            m.area_mm2 += area_of_cubic(&c);
        }
        p0 = e;
    }
    return m;
}

static sw_contour_measure measure_all(const sw_contours *contours, bool has_length)
{
    sw_contour_measure all = nothing();
    for (size_t i = 0; i < contours->n; i++) {
        const sw_contour_measure m = measure(&contours->at[i], has_length);
        if (m.n_nodes == 0) continue;
        all.length_mm += m.length_mm;
        all.area_mm2 += m.area_mm2;
        all.n_nodes += m.n_nodes;
        widen(&all.min.x_mm, &all.max.x_mm, m.min.x_mm);
        widen(&all.min.y_mm, &all.max.y_mm, m.min.y_mm);
        widen(&all.min.x_mm, &all.max.x_mm, m.max.x_mm);
        widen(&all.min.y_mm, &all.max.y_mm, m.max.y_mm);
    }
    if (all.n_nodes == 0) return (sw_contour_measure){ 0 };
    return all;
}

sw_contour_measure sw_contour_measure_one(const sw_contour *contour) { return measure(contour, true); }

sw_contour_measure sw_contours_measure(const sw_contours *contours) { return measure_all(contours, true); }

sw_contour_measure sw_contour_extent(const sw_contour *contour) { return measure(contour, false); }

sw_contour_measure sw_contours_extent(const sw_contours *contours) { return measure_all(contours, false); }
