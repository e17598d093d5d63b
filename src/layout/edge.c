/* The edge of an opening as straight sides. Stretches of sides share a box, so that most of an edge need not be looked at
 * for its nearest point. */
#include "layout/edge.h"

#include <math.h>

static bool take_point(void *ctx, sw_pt_mm point)
{
    edge *const e = ctx;
    void *data = e->at;
    if (!sw_grow(&data, &e->cap, e->n + 1, sizeof *e->at)) return false;
    e->at = data;
    e->at[e->n++] = point;
    return true;
}

bool edge_fill(const sw_contour *contour, double tolerance_mm, edge *e)
{
    return sw_contour_flatten(contour, tolerance_mm, take_point, e);
}

double edge_apart(sw_pt_mm a, sw_pt_mm b) { return sw_hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm); }

sw_pt_mm edge_mix(sw_pt_mm a, sw_pt_mm b, double t)
{
    return (sw_pt_mm){ a.x_mm + t * (b.x_mm - a.x_mm), a.y_mm + t * (b.y_mm - a.y_mm) };
}

/* Sums are taken about the first corner, so that a place far from the origin loses nothing. */
sw_pt_mm edge_middle(const edge *e)
{
    const sw_pt_mm o = e->at[0];
    double area = 0.0, x = 0.0, y = 0.0;
    for (size_t i = 0; i < e->n; i++) {
        const sw_pt_mm a = e->at[i], b = edge_corner(e, i + 1);
        const double ax = a.x_mm - o.x_mm, ay = a.y_mm - o.y_mm, bx = b.x_mm - o.x_mm, by = b.y_mm - o.y_mm;
        const double twice = ax * by - bx * ay;
        area += twice;
        x += twice * (ax + bx);
        y += twice * (ay + by);
    }
    if (!(fabs(area) > 0.0)) return o;
    return (sw_pt_mm){ o.x_mm + x / (3.0 * area), o.y_mm + y / (3.0 * area) };
}

static size_t stretches_of(const edge *e) { return (e->n + EDGE_STRETCH - 1) / EDGE_STRETCH; }

static edge_stretch stretch_from(const edge *e, size_t first)
{
    edge_stretch s = { HUGE_VAL, HUGE_VAL, -HUGE_VAL, -HUGE_VAL, { 0 }, { 0 }, { 0 }, { 0 }, { 0 } };
    for (size_t k = 0; k < EDGE_STRETCH; k++) {
        s.ax[k] = s.ay[k] = INFINITY;
        s.size[k] = 1.0;
        if (first + k >= e->n) continue;
        const sw_pt_mm a = e->at[first + k], b = edge_corner(e, first + k + 1);
        const double ux = b.x_mm - a.x_mm, uy = b.y_mm - a.y_mm, size = ux * ux + uy * uy;
        s.ax[k] = a.x_mm, s.ay[k] = a.y_mm, s.ux[k] = ux, s.uy[k] = uy;
        if (size > 0.0) s.size[k] = size;
        s.x0 = sw_min(s.x0, sw_min(a.x_mm, b.x_mm)), s.x1 = sw_max(s.x1, sw_max(a.x_mm, b.x_mm));
        s.y0 = sw_min(s.y0, sw_min(a.y_mm, b.y_mm)), s.y1 = sw_max(s.y1, sw_max(a.y_mm, b.y_mm));
    }
    return s;
}

bool edge_box(edge *e)
{
    const size_t n = stretches_of(e);
    e->stretches = sw_alloc_raw(n, sizeof *e->stretches);
    if (e->stretches == NULL) return false;
    for (size_t i = 0; i < n; i++) e->stretches[i] = stretch_from(e, i * EDGE_STRETCH);
    return true;
}

static double away_from_box(const edge_stretch *s, sw_pt_mm p)
{
    const double dx = sw_max(sw_max(s->x0 - p.x_mm, p.x_mm - s->x1), 0.0);
    const double dy = sw_max(sw_max(s->y0 - p.y_mm, p.y_mm - s->y1), 0.0);
    return dx * dx + dy * dy;
}

/* Of each side its point nearest to p, as a share of the side, and the square of how far off that is. */
SW_WIDE static void look_along(const edge_stretch *s, sw_pt_mm p, double *restrict share, double *restrict away_sq)
{
    for (size_t k = 0; k < EDGE_STRETCH; k++) {
        const double at = ((p.x_mm - s->ax[k]) * s->ux[k] + (p.y_mm - s->ay[k]) * s->uy[k]) / s->size[k];
        const double up = at > 0.0 ? at : 0.0, t = up < 1.0 ? up : 1.0;
        const double dx = s->ax[k] + t * s->ux[k] - p.x_mm, dy = s->ay[k] + t * s->uy[k] - p.y_mm;
        share[k] = t;
        away_sq[k] = dx * dx + dy * dy;
    }
}

/* Begun with a stretch that is likely to be near, then all whose box is nearer than what was found. */
sw_pt_mm edge_nearest(const edge *e, sw_pt_mm p, size_t *stretch, double *away_sq)
{
    const size_t n = stretches_of(e), likely = *stretch < n ? *stretch : 0;
    double share[EDGE_STRETCH], away[EDGE_STRETCH], least = INFINITY;
    sw_pt_mm best = e->at[0];
    for (size_t k = 0; k <= n; k++) {
        const size_t now = k == 0 ? likely : k - 1;
        const edge_stretch *const s = &e->stretches[now];
        if (k > 0 && (now == likely || away_from_box(s, p) >= least)) continue;
        look_along(s, p, share, away);
        for (size_t i = 0; i < EDGE_STRETCH; i++) {
            if (!(away[i] < least)) continue;
            least = away[i];
            best = (sw_pt_mm){ s->ax[i] + share[i] * s->ux[i], s->ay[i] + share[i] * s->uy[i] };
            *stretch = now;
        }
    }
    *away_sq = least;
    return best;
}

void edge_free(edge *e)
{
    sw_free(e->at);
    sw_free(e->stretches);
    *e = (edge){ 0 };
}
