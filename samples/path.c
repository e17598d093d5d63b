/* Paths as polygons, smooth curves through points, strokes of varying width. */
#include "canvas.h"

#include "base/base.h"

void path_free(path *p)
{
    sw_free(p->at);
    sw_free(p->end);
    *p = (path){ 0 };
}

void path_add(path *p, double x, double y)
{
    void *data = p->at;
    if (!sw_grow(&data, &p->cap, p->n + 1, sizeof *p->at)) die("out of memory");
    p->at = data;
    p->at[p->n++] = (pt){ x, y };
}

void path_close(path *p)
{
    void *data = p->end;
    if (!sw_grow(&data, &p->cap_ends, p->n_ends + 1, sizeof *p->end)) die("out of memory");
    p->end = data;
    p->end[p->n_ends++] = p->n;
}

void path_poly(path *p, const pt *at, size_t n)
{
    for (size_t i = 0; i < n; i++) path_add(p, at[i].x, at[i].y);
    path_close(p);
}

static bool same(pt a, pt b) { return fabs(a.x - b.x) + fabs(a.y - b.y) < 1e-9; }

/* One piece b to c of a Catmull-Rom curve whose neighbours are a and d; tangents by the distances between points,
 * so that uneven spacing does not make loops. */
static pt curve_at(pt a, pt b, pt c, pt d, double t)
{
    const double len = hypot(c.x - b.x, c.y - b.y);
    const double before = hypot(b.x - a.x, b.y - a.y), after = hypot(d.x - c.x, d.y - c.y);
    const double k0 = before > 1e-9 ? len / (len + before) : 1.0, k1 = after > 1e-9 ? len / (len + after) : 1.0;
    const pt m0 = { (c.x - a.x) * k0, (c.y - a.y) * k0 }, m1 = { (d.x - b.x) * k1, (d.y - b.y) * k1 };
    const double t2 = t * t, t3 = t2 * t;
    const double h0 = 2.0 * t3 - 3.0 * t2 + 1.0, h1 = t3 - 2.0 * t2 + t, h2 = 3.0 * t2 - 2.0 * t3, h3 = t3 - t2;
    return (pt){ h0 * b.x + h1 * m0.x + h2 * c.x + h3 * m1.x, h0 * b.y + h1 * m0.y + h2 * c.y + h3 * m1.y };
}

void path_spline(path *p, const pt *at, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const pt b = at[i], c = at[(i + 1) % n];
        if (same(b, c)) continue;
        pt a = at[(i + n - 1) % n], d = at[(i + 2) % n];
        const int steps = 24;
        for (int k = 0; k < steps; k++) {
            const pt q = curve_at(a, b, c, d, (double)k / steps);
            path_add(p, q.x, q.y);
        }
    }
    path_close(p);
}

void path_ellipse(path *p, double cx, double cy, double rx, double ry, double turn)
{
    const int steps = 160;
    const double co = cos(turn), si = sin(turn);
    for (int i = 0; i < steps; i++) {
        const double u = 2.0 * PI * i / steps, ex = rx * cos(u), ey = ry * sin(u);
        path_add(p, cx + co * ex - si * ey, cy + si * ex + co * ey);
    }
    path_close(p);
}

void path_rect(path *p, double x0, double y0, double x1, double y1)
{
    path_poly(p, (const pt[]){ { x0, y0 }, { x1, y0 }, { x1, y1 }, { x0, y1 } }, 4);
}

size_t spline_points(const spt *at, size_t n, spt *out, size_t max)
{
    size_t made = 0;
    for (size_t i = 0; i + 1 < n; i++) {
        const spt b = at[i], c = at[i + 1], a = at[i > 0 ? i - 1 : 0], d = at[i + 2 < n ? i + 2 : n - 1];
        const int steps = n > 24 ? 6 : 16;
        for (int k = 0; k < steps && made + 1 < max; k++) {
            const double t = (double)k / steps;
            const pt q = curve_at((pt){ a.x, a.y }, (pt){ b.x, b.y }, (pt){ c.x, c.y }, (pt){ d.x, d.y }, t);
            out[made++] = (spt){ q.x, q.y, lerp(b.w, c.w, t * t * (3.0 - 2.0 * t)) };
        }
    }
    if (n > 0 && made < max) out[made++] = at[n - 1];
    return made;
}

/* Four corners, always turning the same way, so that overlaps add up instead of cancelling. */
static void add_quad(path *p, pt a, pt b, pt c, pt d)
{
    const double area = (c.x - a.x) * (d.y - b.y) - (d.x - b.x) * (c.y - a.y);
    if (area >= 0.0)
        path_poly(p, (const pt[]){ a, b, c, d }, 4);
    else
        path_poly(p, (const pt[]){ d, c, b, a }, 4);
}

static void add_disc(path *p, double cx, double cy, double r)
{
    if (r < 0.05) return;
    for (int i = 0; i < 20; i++) path_add(p, cx + r * cos(2.0 * PI * i / 20), cy + r * sin(2.0 * PI * i / 20));
    path_close(p);
}

void path_stroke(path *p, const spt *at, size_t n)
{
    spt line[512];
    const size_t m = spline_points(at, n, line, 512);
    pt left[512], right[512];
    for (size_t i = 0; i < m; i++) {
        const spt a = line[i > 0 ? i - 1 : 0], b = line[i + 1 < m ? i + 1 : m - 1];
        const double len = hypot(b.x - a.x, b.y - a.y);
        const double nx = len > 0.0 ? -(b.y - a.y) / len : 0.0, ny = len > 0.0 ? (b.x - a.x) / len : 1.0;
        left[i] = (pt){ line[i].x + 0.5 * line[i].w * nx, line[i].y + 0.5 * line[i].w * ny };
        right[i] = (pt){ line[i].x - 0.5 * line[i].w * nx, line[i].y - 0.5 * line[i].w * ny };
    }
    for (size_t i = 0; i + 1 < m; i++) add_quad(p, left[i], left[i + 1], right[i + 1], right[i]);
    if (m > 0) {
        add_disc(p, line[0].x, line[0].y, 0.5 * line[0].w);
        add_disc(p, line[m - 1].x, line[m - 1].y, 0.5 * line[m - 1].w);
    }
}
