/*
 * Canvas and masks: exact-area scan conversion of polygons, blurred masks, blending by a shader.
 *
 * Coverage is the signed area an edge leaves to its right, summed along the row (the accumulation buffer idea known
 * from font rasterisers); windings that overlap are clamped. Blur is three box passes, near enough to a Gaussian.
 */
#include "canvas.h"

#include <string.h>

#include "base/base.h"

static void *need(size_t n, size_t size)
{
    void *data = sw_alloc_array(n > 0 ? n : 1, size);
    if (data == NULL) die("out of memory");
    return data;
}

/* ---- canvas ---- */

canvas canvas_make(int w, int h, double design_w, double design_h)
{
    /* the design covers the picture; what is over falls outside, evenly on both sides */
    const double s = fmax(w / design_w, h / design_h);
    return (canvas){ .w = w, .h = h, .sx = s, .sy = s, .ox = 0.5 * (w - s * design_w), .oy = 0.5 * (h - s * design_h),
                     .px = need((size_t)w * (size_t)h * 3, sizeof(float)) };
}

canvas canvas_copy(const canvas *c)
{
    canvas copy = *c;
    const size_t n = (size_t)c->w * (size_t)c->h * 3;
    copy.px = need(n, sizeof *copy.px);
    memcpy(copy.px, c->px, n * sizeof *copy.px);
    return copy;
}

void canvas_free(canvas *c)
{
    sw_free(c->px);
    *c = (canvas){ 0 };
}

canvas canvas_view(const canvas *c, double kx, double ky, double dx, double dy)
{
    canvas v = *c;
    v.ox = c->ox + c->sx * dx;
    v.oy = c->oy + c->sy * dy;
    v.sx = c->sx * kx;
    v.sy = c->sy * ky;
    return v;
}

col canvas_get(const canvas *c, double x, double y)
{
    const double fx = c->ox + c->sx * x - 0.5, fy = c->oy + c->sy * y - 0.5;
    const double cx = fx > 0.0 ? (fx < c->w - 1.001 ? fx : c->w - 1.001) : 0.0;
    const double cy = fy > 0.0 ? (fy < c->h - 1.001 ? fy : c->h - 1.001) : 0.0;
    const int ix = (int)cx, iy = (int)cy;
    const double tx = cx - ix, ty = cy - iy;
    const float *p = c->px + ((size_t)iy * (size_t)c->w + (size_t)ix) * 3, *q = p + (size_t)c->w * 3;
    double v[3];
    for (int k = 0; k < 3; k++)
        v[k] = lerp(lerp((double)p[k], (double)p[k + 3], tx), lerp((double)q[k], (double)q[k + 3], tx), ty);
    return rgb(v[0], v[1], v[2]);
}

static void put(float *px, col s, double a, blend mode)
{
    const double v[3] = { s.r, s.g, s.b };
    for (int k = 0; k < 3; k++) {
        const double d = (double)px[k];
        const double t = mode == BLEND_MULTIPLY ? d * v[k] : mode == BLEND_SCREEN ? 1.0 - (1.0 - d) * (1.0 - v[k]) : v[k];
        px[k] = (float)lerp(d, t, a);
    }
}

typedef struct shade_job {
    canvas *c;
    const mask *m; /* NULL: everywhere */
    shade_fn fn;   /* NULL: flat */
    const void *ctx;
    col flat;
    blend mode;
} shade_job;

static void shade_rows(size_t begin, size_t end, void *ctx)
{
    const shade_job *job = ctx;
    const canvas *c = job->c;
    const mask *m = job->m;
    const int x_begin = m ? (m->x0 > 0 ? m->x0 : 0) : 0, x_to = m ? m->x0 + m->w : c->w;
    const int x_end = x_to < c->w ? x_to : c->w;
    for (size_t row = begin; row < end; row++) {
        const int y = m ? m->y0 + (int)row : (int)row;
        if (y < 0 || y >= c->h) continue;
        for (int x = x_begin; x < x_end; x++) {
            const double a = m ? (double)m->a[row * (size_t)m->w + (size_t)(x - m->x0)] : 1.0;
            if (a <= 0.0) continue;
            const col s = job->fn ? job->fn((x + 0.5 - c->ox) / c->sx, (y + 0.5 - c->oy) / c->sy, job->ctx) : job->flat;
            if (s.a > 0.0) put(c->px + ((size_t)y * (size_t)c->w + (size_t)x) * 3, s, a * clamp01(s.a), job->mode);
        }
    }
}

void canvas_shade(canvas *c, shade_fn fn, const void *ctx, blend mode)
{
    sw_parallel_rows((size_t)c->h, shade_rows, &(shade_job){ .c = c, .fn = fn, .ctx = ctx, .mode = mode });
}

void mask_paint(canvas *c, const mask *m, shade_fn fn, const void *ctx, blend mode)
{
    if (m->w <= 0 || m->h <= 0) return;
    sw_parallel_rows((size_t)m->h, shade_rows, &(shade_job){ .c = c, .m = m, .fn = fn, .ctx = ctx, .mode = mode });
}

void mask_flat(canvas *c, const mask *m, col colour, blend mode)
{
    if (m->w <= 0 || m->h <= 0) return;
    sw_parallel_rows((size_t)m->h, shade_rows, &(shade_job){ .c = c, .m = m, .flat = colour, .mode = mode });
}

/* ---- scan conversion ---- */

/* The part of one edge inside one row: d is its signed height, xa and xb its ends. */
static void add_span(float *a, double d, double xa, double xb)
{
    const double x0 = fmin(xa, xb), x1 = fmax(xa, xb), x0f = floor(x0), x1c = ceil(x1);
    const int i0 = (int)x0f, i1 = (int)x1c;
    if (i1 <= i0 + 1) {
        const double mid = 0.5 * (xa + xb) - x0f;
        a[i0] += (float)(d * (1.0 - mid));
        a[i0 + 1] += (float)(d * mid);
        return;
    }
    /* the area left of each pixel's right edge, pixel by pixel; the differences are what is summed later */
    const double slope = 1.0 / (x1 - x0);
    double before = 0.0;
    for (int i = i0; i <= i1; i++) {
        const double l = fmin(fmax((double)i, x0), x1), r = fmin(fmax(i + 1.0, x0), x1);
        /* integral over the pixel of the share of the edge passed by x */
        const double passed = slope * (0.5 * (r * r - l * l) - x0 * (r - l)) + (i + 1.0 - fmax(r, (double)i));
        a[i] += (float)(d * (passed - before));
        before = passed;
    }
}

static void add_edge(const mask *m, float *acc, pt p, pt q)
{
    if (p.y == q.y) return;
    const double dir = p.y < q.y ? 1.0 : -1.0;
    if (p.y > q.y) {
        const pt t = p;
        p = q;
        q = t;
    }
    if (q.y <= 0.0 || p.y >= m->h) return;
    const double slope = (q.x - p.x) / (q.y - p.y);
    const int y_begin = p.y > 0.0 ? (int)p.y : 0, y_end = q.y < m->h ? (int)ceil(q.y) : m->h;
    for (int y = y_begin; y < y_end; y++) {
        const double ya = fmax((double)y, p.y), yb = fmin(y + 1.0, q.y);
        const double xa = p.x + slope * (ya - p.y), xb = p.x + slope * (yb - p.y);
        const double w = (double)m->w;
        add_span(acc + (size_t)y * (size_t)(m->w + 2), dir * (yb - ya), fmin(fmax(xa, 0.0), w), fmin(fmax(xb, 0.0), w));
    }
}

static void box_of(const canvas *c, const path *p, double pad_px, mask *m)
{
    double x0 = 1e30, y0 = 1e30, x1 = -1e30, y1 = -1e30;
    for (size_t i = 0; i < p->n; i++) {
        const double x = c->ox + c->sx * p->at[i].x, y = c->oy + c->sy * p->at[i].y;
        x0 = fmin(x0, x), x1 = fmax(x1, x), y0 = fmin(y0, y), y1 = fmax(y1, y);
    }
    const double lo = -pad_px - 1.0;
    x0 = fmax(x0 - pad_px, lo), y0 = fmax(y0 - pad_px, lo);
    x1 = fmin(x1 + pad_px, c->w - lo), y1 = fmin(y1 + pad_px, c->h - lo);
    m->x0 = (int)floor(x0), m->y0 = (int)floor(y0);
    m->w = x1 > x0 ? (int)ceil(x1) - m->x0 : 0, m->h = y1 > y0 ? (int)ceil(y1) - m->y0 : 0;
}

mask mask_fill(const canvas *c, const path *p, double pad, bool even_odd)
{
    mask m = { 0 };
    if (p->n == 0) return m;
    box_of(c, p, ceil(pad * fabs(c->sx)), &m);
    if (m.w <= 0 || m.h <= 0) return (mask){ 0 };
    float *acc = need((size_t)(m.w + 2) * (size_t)m.h, sizeof *acc);
    m.a = need((size_t)m.w * (size_t)m.h, sizeof *m.a);
    size_t begin = 0;
    for (size_t k = 0; k < p->n_ends; k++) {
        const size_t end = p->end[k];
        for (size_t i = begin; i < end; i++) {
            const pt a = p->at[i], b = p->at[i + 1 < end ? i + 1 : begin];
            add_edge(&m, acc, (pt){ c->ox + c->sx * a.x - m.x0, c->oy + c->sy * a.y - m.y0 },
                     (pt){ c->ox + c->sx * b.x - m.x0, c->oy + c->sy * b.y - m.y0 });
        }
        begin = end;
    }
    for (int y = 0; y < m.h; y++) {
        double sum = 0.0;
        for (int x = 0; x < m.w; x++) {
            sum += (double)acc[(size_t)y * (size_t)(m.w + 2) + (size_t)x];
            double v = fabs(sum);
            if (even_odd) v = 1.0 - fabs(1.0 - (v - 2.0 * floor(v / 2.0)));
            m.a[(size_t)y * (size_t)m.w + (size_t)x] = v < 2e-4 ? 0.0f : v > 1.0 ? 1.0f : (float)v;
        }
    }
    sw_free(acc);
    return m;
}

/* ---- masks ---- */

mask mask_copy(const mask *m)
{
    mask out = *m;
    if (m->a == NULL) return out;
    out.a = need((size_t)m->w * (size_t)m->h, sizeof *out.a);
    memcpy(out.a, m->a, (size_t)m->w * (size_t)m->h * sizeof *out.a);
    return out;
}

void mask_free(mask *m)
{
    sw_free(m->a);
    *m = (mask){ 0 };
}

double mask_at(const mask *m, int x, int y)
{
    const int i = x - m->x0, j = y - m->y0;
    if (m->a == NULL || i < 0 || j < 0 || i >= m->w || j >= m->h) return 0.0;
    return (double)m->a[(size_t)j * (size_t)m->w + (size_t)i];
}

void mask_clip(mask *m, const mask *other, bool outside)
{
    for (int y = 0; y < m->h; y++)
        for (int x = 0; x < m->w; x++) {
            const double k = mask_at(other, m->x0 + x, m->y0 + y);
            m->a[(size_t)y * (size_t)m->w + (size_t)x] *= (float)(outside ? 1.0 - k : k);
        }
}

void mask_shift(const canvas *c, mask *m, double dx, double dy)
{
    m->x0 += (int)lround(dx * c->sx);
    m->y0 += (int)lround(dy * c->sy);
}

/* One box pass of n values stride apart, radius r, edges repeated. */
static void box_line(float *v, int n, size_t stride, int r, float *tmp)
{
    double sum = (double)v[0] * (r + 1);
    for (int i = 1; i <= r; i++) sum += (double)v[(size_t)(i < n ? i : n - 1) * stride];
    const double scale = 1.0 / (2 * r + 1);
    for (int i = 0; i < n; i++) {
        tmp[i] = (float)(sum * scale);
        const int in = i + r + 1 < n ? i + r + 1 : n - 1, out = i - r > 0 ? i - r : 0;
        sum += (double)v[(size_t)in * stride] - (double)v[(size_t)out * stride];
    }
    for (int i = 0; i < n; i++) v[(size_t)i * stride] = tmp[i];
}

typedef struct blur_job {
    float *a;
    int w, h, r;
    size_t channels;
} blur_job;

static void blur_row_band(size_t begin, size_t end, void *ctx)
{
    const blur_job *job = ctx;
    float *tmp = need((size_t)job->w, sizeof *tmp);
    for (size_t y = begin; y < end; y++)
        for (size_t k = 0; k < job->channels; k++)
            for (int pass = 0; pass < 3; pass++)
                box_line(job->a + y * (size_t)job->w * job->channels + k, job->w, job->channels, job->r, tmp);
    sw_free(tmp);
}

/* Columns in groups, as rows of sums: walking down single columns would miss the cache on every step. */
static void blur_column_band(size_t begin, size_t end, void *ctx)
{
    enum { GROUP = 16 };
    const blur_job *job = ctx;
    const size_t width = (size_t)job->w * job->channels;
    float *strip = need((size_t)job->h * GROUP, sizeof *strip), *tmp = need((size_t)job->h, sizeof *tmp);
    for (size_t g = begin; g < end; g++) {
        const size_t x0 = g * GROUP, n = width - x0 < GROUP ? width - x0 : GROUP;
        for (size_t y = 0; y < (size_t)job->h; y++)
            for (size_t i = 0; i < n; i++) strip[i * (size_t)job->h + y] = job->a[y * width + x0 + i];
        for (size_t i = 0; i < n; i++)
            for (int pass = 0; pass < 3; pass++) box_line(strip + i * (size_t)job->h, job->h, 1, job->r, tmp);
        for (size_t y = 0; y < (size_t)job->h; y++)
            for (size_t i = 0; i < n; i++) job->a[y * width + x0 + i] = strip[i * (size_t)job->h + y];
    }
    sw_free(strip);
    sw_free(tmp);
}

static void blur_floats(float *a, int w, int h, size_t channels, double sigma_px)
{
    const int r = (int)lround(0.5 * (sqrt(4.0 * sigma_px * sigma_px + 1.0) - 1.0));
    if (r < 1 || w <= 0 || h <= 0) return;
    blur_job job = { .a = a, .w = w, .h = h, .r = r, .channels = channels };
    sw_parallel_rows((size_t)h, blur_row_band, &job);
    sw_parallel_rows(((size_t)w * channels + 15) / 16, blur_column_band, &job);
}

void mask_blur(const canvas *c, mask *m, double sigma)
{
    if (m->a != NULL) blur_floats(m->a, m->w, m->h, 1, sigma * fabs(c->sx));
}

void canvas_blur(canvas *c, double sigma) { blur_floats(c->px, c->w, c->h, 3, sigma * fabs(c->sx)); }
