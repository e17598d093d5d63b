/* Circles and ellipses, which anybody would draw with four nodes at the ends of their axes.
 *
 * Area and second moments of the outline give centre, axes and angle (a solid ellipse has a^2 / 4 and b^2 / 4 as its
 * principal moments over the area); then every sample must be well within its limits. */
#include "contour/outline.h"

#define KAPPA 0.5522847498307936 /* 4/3 tan(pi / 8): handle of a quarter circle */
#define SHARE_SQ 0.7             /* of the squared limits that an ellipse may use; more, and it is only like one */
#define ROUND_RATIO 0.5          /* of the limit: axes that differ by less make a circle, nodes at its extremes */
#define N_STEPS 8                /* per piece of outline, for the moments */

typedef struct moments {
    double area, x, y, xx, xy, yy; /* integrals of 1, x, y, x^2, x y, y^2, about the first sample */
} moments;

static void add_triangle(moments *m, pt p, pt q)
{
    const double w = 0.5 * pt_cross(p, q);
    m->area += w;
    m->x += w * (p.x + q.x) / 3.0;
    m->y += w * (p.y + q.y) / 3.0;
    m->xx += w * (p.x * p.x + p.x * q.x + q.x * q.x) / 6.0;
    m->yy += w * (p.y * p.y + p.y * q.y + q.y * q.y) / 6.0;
    m->xy += w * (2.0 * p.x * p.y + p.x * q.y + q.x * p.y + 2.0 * q.x * q.y) / 12.0;
}

static moments moments_of(const outline *o)
{
    moments m = { 0 };
    const pt origin = o->nodes[0].p;
    pt last = { 0.0, 0.0 };
    for (size_t i = 0; i < o->n; i++) {
        const node *const from = &o->nodes[i], *const to = from + 1;
        const pt b = pt_add(from->p, pt_mul(from->out, (double)from->own_a));
        const pt c = pt_sub(to->p, pt_mul(to->in, (double)from->own_b));
        const int n = from->own_a > 0.0f ? N_STEPS : 1;
        for (int k = 1; k <= n; k++) {
            const double t = (double)k / n, s = 1.0 - t;
            const pt ab = pt_add(pt_mul(from->p, s * s * s), pt_mul(b, 3.0 * s * s * t));
            const pt at = n == 1 ? to->p : pt_add(ab, pt_add(pt_mul(c, 3.0 * s * t * t), pt_mul(to->p, t * t * t)));
            const pt q = pt_sub(at, origin);
            add_triangle(&m, last, q);
            last = q;
        }
    }
    return m;
}

typedef struct ellipse {
    pt centre, axis; /* axis: unit, of the radius a */
    double a, b;
} ellipse;

static bool ellipse_of(const outline *o, ellipse *e)
{
    const moments m = moments_of(o);
    if (!(m.area > 0.0)) return false;
    const double x = m.x / m.area, y = m.y / m.area;
    const double xx = m.xx / m.area - x * x, yy = m.yy / m.area - y * y, xy = m.xy / m.area - x * y;
    const double mean = 0.5 * (xx + yy), spread = sqrt(0.25 * (xx - yy) * (xx - yy) + xy * xy);
    if (!(mean - spread > 0.0)) return false;
    const double angle = 0.5 * atan2(2.0 * xy, xx - yy);
    *e = (ellipse){ .centre = pt_add(o->nodes[0].p, (pt){ x, y }), .axis = { cos(angle), sin(angle) },
                    .a = 2.0 * sqrt(mean + spread), .b = 2.0 * sqrt(mean - spread) };
    return true;
}

/* Largest squared distance over limit, to first order; the least limit comes along. */
static double worst_of(const outline *o, const ellipse *e, double *least_limit)
{
    double worst = 0.0, most_weight = 0.0;
    for (size_t k = 0; k < o->m; k++) {
        const sample *const s = &o->samples[k];
        const pt d = pt_sub(s->p, e->centre);
        const double u = pt_dot(d, e->axis) / e->a, v = pt_cross(e->axis, d) / e->b;
        const double f = sqrt(u * u + v * v), slope = sqrt(u * u / (e->a * e->a) + v * v / (e->b * e->b)) / f;
        const double away = (f - 1.0) / slope;
        worst = sw_max(worst, f > 0.0 ? away * away * (double)(away > 0.0 ? s->w_in : s->w_out) : HUGE_VAL);
        most_weight = sw_max(most_weight, (double)fmaxf(s->w_in, s->w_out));
    }
    *least_limit = 1.0 / sqrt(most_weight);
    return worst;
}

static sw_pt_mm on_ellipse(const ellipse *e, double u, double v)
{
    const pt p = pt_add(pt_mul(e->axis, u * e->a), pt_mul((pt){ -e->axis.y, e->axis.x }, v * e->b));
    return (sw_pt_mm){ e->centre.x + p.x, e->centre.y + p.y };
}

bool find_ellipse(const outline *o)
{
    ellipse e;
    double limit;
    for (size_t i = 0; i < o->n; i++) {
        if (o->nodes[i].is_must || o->nodes[i].is_straight) return false;
    }
    return ellipse_of(o, &e) && worst_of(o, &e, &limit) <= SHARE_SQ;
}

bool draw_ellipse(const outline *o, sw_contour *out)
{
    ellipse e = { 0 };
    double limit = 0.0;
    if (!ellipse_of(o, &e)) return false;
    (void)worst_of(o, &e, &limit);
    if (e.a - e.b <= ROUND_RATIO * limit) {
        e.a = e.b = sqrt(e.a * e.b);
        e.axis = (pt){ 1.0, 0.0 };
    }
    static const double turn[5][2] = { { 1, 0 }, { 0, 1 }, { -1, 0 }, { 0, -1 }, { 1, 0 } };
    out->start = on_ellipse(&e, 1.0, 0.0);
    for (int k = 0; k < 4; k++) {
        const double u = turn[k][0], v = turn[k][1], s = turn[k + 1][0], t = turn[k + 1][1];
        const sw_pt_mm end = k == 3 ? out->start : on_ellipse(&e, s, t);
        if (!sw_contour_add_cubic(out, on_ellipse(&e, u + KAPPA * s, v + KAPPA * t),
                                  on_ellipse(&e, s + KAPPA * u, t + KAPPA * v), end))
            return false;
    }
    return true;
}
