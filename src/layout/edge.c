/* The edge of an opening as straight sides. Stretches of sides share a box, so that most of an edge need not be looked at
 * for its nearest point. */
#include "layout/edge.h"

#include <math.h>

#define CHUNK 16u /* sides that share a box */

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

bool edge_box(edge *e)
{
    const size_t n = (e->n + CHUNK - 1) / CHUNK;
    e->boxes = sw_alloc_raw(n, sizeof *e->boxes);
    if (e->boxes == NULL) return false;
    for (size_t i = 0; i < n; i++) {
        edge_box_mm b = { HUGE_VAL, HUGE_VAL, -HUGE_VAL, -HUGE_VAL };
        for (size_t k = i * CHUNK; k <= sw_min_size((i + 1) * CHUNK, e->n); k++) {
            const sw_pt_mm c = edge_corner(e, k);
            b = (edge_box_mm){ sw_min(b.x0, c.x_mm), sw_min(b.y0, c.y_mm), sw_max(b.x1, c.x_mm), sw_max(b.y1, c.y_mm) };
        }
        e->boxes[i] = b;
    }
    return true;
}

static double away_from_box(const edge_box_mm *b, sw_pt_mm p)
{
    const double dx = sw_max(sw_max(b->x0 - p.x_mm, p.x_mm - b->x1), 0.0);
    const double dy = sw_max(sw_max(b->y0 - p.y_mm, p.y_mm - b->y1), 0.0);
    return dx * dx + dy * dy;
}

/* Begun with a chunk that is likely to be near, then all whose box is nearer than what was found. */
sw_pt_mm edge_nearest(const edge *e, sw_pt_mm p, size_t *chunk, double *away_sq)
{
    const size_t n_chunks = (e->n + CHUNK - 1) / CHUNK, likely = *chunk < n_chunks ? *chunk : 0;
    sw_pt_mm best = e->at[0];
    *away_sq = INFINITY;
    for (size_t k = 0; k <= n_chunks; k++) {
        const size_t now = k == 0 ? likely : k - 1;
        if (k > 0 && (now == likely || away_from_box(&e->boxes[now], p) >= *away_sq)) continue;
        for (size_t i = now * CHUNK; i < sw_min_size((now + 1) * CHUNK, e->n); i++) {
            const sw_pt_mm a = e->at[i], b = edge_corner(e, i + 1);
            const double ux = b.x_mm - a.x_mm, uy = b.y_mm - a.y_mm, size = ux * ux + uy * uy;
            const double t = size > 0.0 ? ((p.x_mm - a.x_mm) * ux + (p.y_mm - a.y_mm) * uy) / size : 0.0;
            const sw_pt_mm q = edge_mix(a, b, sw_clamp(t, 0.0, 1.0));
            const double d = (q.x_mm - p.x_mm) * (q.x_mm - p.x_mm) + (q.y_mm - p.y_mm) * (q.y_mm - p.y_mm);
            if (d < *away_sq) {
                *away_sq = d;
                best = q;
                *chunk = now;
            }
        }
    }
    return best;
}

void edge_free(edge *e)
{
    sw_free(e->at);
    sw_free(e->boxes);
    *e = (edge){ 0 };
}
