/* Ways to paint with paths and masks: flat, shaded, airbrushed, rounded bodies, ribbons. */
#include "canvas.h"

#include "base/base.h"

void fill(canvas *c, path *p, col colour)
{
    mask m = mask_fill(c, p, 0.0, false);
    mask_flat(c, &m, with_a(colour, colour.a), BLEND_OVER);
    mask_free(&m);
    path_free(p);
}

void fill_shade(canvas *c, path *p, shade_fn fn, const void *ctx)
{
    mask m = mask_fill(c, p, 0.0, false);
    mask_paint(c, &m, fn, ctx, BLEND_OVER);
    mask_free(&m);
    path_free(p);
}

void soft(canvas *c, path *p, double sigma, col colour, const mask *clip, blend mode)
{
    mask m = mask_fill(c, p, 3.2 * sigma, false);
    mask_blur(c, &m, sigma);
    if (clip != NULL) mask_clip(&m, clip, false);
    mask_flat(c, &m, colour, mode);
    mask_free(&m);
    path_free(p);
}

/* ---- rounded bodies ---- */

typedef struct volume_ctx {
    const canvas *c;
    const mask *height;
    const volume *v;
} volume_ctx;

/* The blurred mask is the height of the cushion; its slope gives the normal, the normal the light. */
static col volume_shade(double x, double y, const void *ctx)
{
    const volume_ctx *u = ctx;
    const volume *v = u->v;
    const int px = (int)floor(u->c->ox + u->c->sx * x), py = (int)floor(u->c->oy + u->c->sy * y);
    const int step = (int)fmax(1.0, 0.04 * v->radius * fabs(u->c->sx));
    const double k = v->radius * fabs(u->c->sx) / (2.0 * step);
    const double gx = k * (mask_at(u->height, px + step, py) - mask_at(u->height, px - step, py));
    const double gy = k * (mask_at(u->height, px, py + step) - mask_at(u->height, px, py - step));
    const double nx = -2.2 * v->strength * gx, ny = -2.2 * v->strength * gy;
    const double len = sqrt(nx * nx + ny * ny + 1.0);
    double lit = (-0.52 * nx - 0.62 * ny + 0.59) / len;
    if (v->grain > 0.0) lit += v->grain * fbm(x / v->grain_x, y / v->grain_y, 3, v->seed);
    /* 0.59 is a surface that faces the viewer: that is the base colour */
    if (lit < 0.59) return mix(v->base, v->dark, clamp01((0.59 - lit) / 0.85));
    return mix(v->base, v->light, clamp01((lit - 0.59) / 0.45));
}

mask volume_paint(canvas *c, path *p, const volume *v, bool keep)
{
    mask m = mask_fill(c, p, 3.2 * v->radius * 0.5, false);
    mask height = mask_copy(&m);
    mask_blur(c, &height, 0.5 * v->radius);
    mask_paint(c, &m, volume_shade, &(volume_ctx){ .c = c, .height = &height, .v = v }, BLEND_OVER);
    mask_free(&height);
    path_free(p);
    if (keep) return m;
    mask_free(&m);
    return m;
}

/* ---- ribbons ---- */

enum { RIBBON_MAX = 512 };

typedef struct ribbon_job {
    canvas *c;
    const mask *m;
    const float *data; /* of each pixel of the mask: t, s, dx, dy and how far out it is */
    ribbon_fn fn;
    const void *ctx;
} ribbon_job;

static void ribbon_rows(size_t begin, size_t end, void *ctx)
{
    const ribbon_job *job = ctx;
    const mask *m = job->m;
    const canvas *c = job->c;
    for (size_t row = begin; row < end; row++)
        for (int i = 0; i < m->w; i++) {
            const size_t at = row * (size_t)m->w + (size_t)i;
            const int px = m->x0 + i, py = m->y0 + (int)row;
            if (m->a[at] <= 0.0f || px < 0 || py < 0 || px >= c->w || py >= c->h) continue;
            const double x = (px + 0.5 - c->ox) / c->sx, y = (py + 0.5 - c->oy) / c->sy;
            const float *r = job->data + 5 * at;
            const double s = (double)r[1];
            const ribbon_at place = { (double)r[0], s > 1.0 ? 1.0 : s < -1.0 ? -1.0 : s, x, y, (double)r[2], (double)r[3] };
            const col v = job->fn(&place, job->ctx);
            float *d = c->px + ((size_t)py * (size_t)c->w + (size_t)px) * 3;
            const double a = (double)m->a[at] * clamp01(v.a), q[3] = { v.r, v.g, v.b };
            for (int k = 0; k < 3; k++) d[k] = (float)lerp((double)d[k], q[k], a);
        }
}

/* Where a pixel lies on one piece of the ribbon: the piece nearest in terms of the width wins. */
static void ribbon_piece(const canvas *c, const mask *m, const spt *line, const double t01[2], const pt way[2], float *data)
{
    const spt a = line[0], b = line[1];
    const double reach = 0.5 * fmax(a.w, b.w) + 2.0 / fabs(c->sx), dx = b.x - a.x, dy = b.y - a.y;
    const double len2 = dx * dx + dy * dy, len = sqrt(len2);
    if (!(len > 0.0)) return;
    const double xa = c->ox + c->sx * (fmin(a.x, b.x) - reach), xb = c->ox + c->sx * (fmax(a.x, b.x) + reach);
    const double ya = c->oy + c->sy * (fmin(a.y, b.y) - reach), yb = c->oy + c->sy * (fmax(a.y, b.y) + reach);
    const int i0 = (int)floor(fmin(xa, xb)), i1 = (int)ceil(fmax(xa, xb));
    const int j0 = (int)floor(fmin(ya, yb)), j1 = (int)ceil(fmax(ya, yb));
    for (int py = j0 > m->y0 ? j0 : m->y0; py < j1 && py < m->y0 + m->h; py++)
        for (int px = i0 > m->x0 ? i0 : m->x0; px < i1 && px < m->x0 + m->w; px++) {
            const double x = (px + 0.5 - c->ox) / c->sx - a.x, y = (py + 0.5 - c->oy) / c->sy - a.y;
            const double u = (x * dx + y * dy) / len2, uc = clamp01(u);
            const double half = 0.5 * lerp(a.w, b.w, uc) + 1e-6;
            const double across = (x * dy - y * dx) / len / half;
            const double off = (u - uc) * len / half, far = hypot(across, off);
            const size_t at = (size_t)(py - m->y0) * (size_t)m->w + (size_t)(px - m->x0);
            float *r = data + 5 * at;
            if (far >= (double)r[4]) continue;
            r[0] = (float)lerp(t01[0], t01[1], uc);
            r[1] = (float)-across;
            r[4] = (float)far;
            r[2] = (float)lerp(way[0].x, way[1].x, uc);
            r[3] = (float)lerp(way[0].y, way[1].y, uc);
        }
}

static pt way_at(const spt *line, size_t n, size_t i)
{
    const spt a = line[i > 0 ? i - 1 : 0], b = line[i + 1 < n ? i + 1 : n - 1];
    const double len = hypot(b.x - a.x, b.y - a.y);
    return len > 0.0 ? (pt){ (b.x - a.x) / len, (b.y - a.y) / len } : (pt){ 1.0, 0.0 };
}

double ribbon_lit(const ribbon_at *at, double roundness)
{
    /* right of the way it runs is (-dy, dx) with y down */
    const double k = roundness * at->s, up = sqrt(fmax(0.0, 1.0 - k * k));
    return clamp01(k * (0.52 * at->dy - 0.62 * at->dx) + 0.59 * up);
}

void ribbon_paint(canvas *c, const spt *at, size_t n, ribbon_fn fn, const void *ctx, const mask *clip)
{
    spt line[RIBBON_MAX];
    const size_t m = spline_points(at, n, line, RIBBON_MAX);
    path p = { 0 };
    path_stroke(&p, at, n);
    mask cover = mask_fill(c, &p, 0.0, false);
    path_free(&p);
    if (cover.a == NULL) return;
    if (clip != NULL) mask_clip(&cover, clip, false);
    const size_t n_px = (size_t)cover.w * (size_t)cover.h;
    float *data = sw_alloc_array(5 * n_px, sizeof *data);
    if (data == NULL) die("out of memory");
    for (size_t i = 0; i < n_px; i++) data[5 * i + 4] = 1e9f;
    double total = 0.0, run = 0.0;
    for (size_t i = 0; i + 1 < m; i++) total += hypot(line[i + 1].x - line[i].x, line[i + 1].y - line[i].y);
    for (size_t i = 0; i + 1 < m; i++) {
        const double len = hypot(line[i + 1].x - line[i].x, line[i + 1].y - line[i].y);
        const double t01[2] = { run / total, (run + len) / total };
        const pt way[2] = { way_at(line, m, i), way_at(line, m, i + 1) };
        ribbon_piece(c, &cover, line + i, t01, way, data);
        run += len;
    }
    ribbon_job job = { .c = c, .m = &cover, .data = data, .fn = fn, .ctx = ctx };
    sw_parallel_rows((size_t)cover.h, ribbon_rows, &job);
    mask_free(&cover);
    sw_free(data);
}
