/* heron: a wader at dawn among reeds; the landscape, the water and what it reflects. The bird is in heron_bird.c. */
#include "scenes.h"

enum { HORIZON = 840 };

/* The bird's units to the picture's. */
static const double BIRD_X = 150.0, BIRD_Y = -50.0;
/* Where the legs go into the water, in the bird's units, and the line its reflection turns about. */
static const pt FOOT[2] = { { 1400.0, 1486.0 }, { 1546.0, 1528.0 } };
static const double MIRROR_Y = 1507.0;

static col sky(double x, double y, const void *ctx)
{
    (void)ctx;
    static const uint32_t stops[] = { 0x5f86a3, 0x8aa9b8, 0xbcc7c3, 0xecd9bd, 0xf6dcb4 };
    col c[5];
    for (int i = 0; i < 5; i++) c[i] = hex(stops[i]);
    col v = ramp(c, 5, y / HORIZON);
    const double d = hypot(x - 2230.0, (y - 560.0) * 1.06);
    v = mix(v, hex(0xfff0cf), 0.75 * exp(-d / 330.0));
    /* thin high cloud, drawn out along x */
    const double cloud = fbm(x / 620.0, y / 90.0, 4, 11) + 0.12;
    return mix(v, hex(0xf7e6d0), 0.55 * smooth(0.05, 0.5, cloud) * smooth(830.0, 300.0, y));
}

static double ridge(double x, double base, double tall, double wide, uint32_t seed)
{
    return base - tall * (0.55 + fbm(x / wide, 0.5, 4, seed));
}

static void hills(canvas *c)
{
    static const struct {
        double base, tall, wide;
        uint32_t colour, seed;
    } row[] = { { 800, 150, 700, 0xb9bfb9, 21 }, { 822, 84, 420, 0x93a3a0, 33 }, { 846, 56, 170, 0x66807c, 47 } };
    for (int k = 0; k < 3; k++) {
        path p = { 0 };
        for (double x = -20.0; x <= 3020.0; x += 6.0) path_add(&p, x, ridge(x, row[k].base, row[k].tall, row[k].wide, row[k].seed));
        path_add(&p, 3020.0, HORIZON + 6.0);
        path_add(&p, -20.0, HORIZON + 6.0);
        path_close(&p);
        fill(c, &p, hex(row[k].colour));
        path_rect(&p, -200.0, HORIZON - 44.0 + 10.0 * k, 3200.0, HORIZON + 4.0); /* mist at the foot */
        soft(c, &p, 22.0, with_a(hex(0xf0dfc8), 0.45), NULL, BLEND_OVER);
    }
}

/* Height of the small waves; long along x, closer together toward the horizon. */
static double wave(double x, double y)
{
    const double d = y - HORIZON + 26.0;
    return fbm(x / (60.0 + 0.75 * d), 17.0 * log(d), 3, 61) + 0.4 * noise2(x / (25.0 + 0.2 * d), 46.0 * log(d), 67);
}

static col water(double x, double y, const void *ctx)
{
    const canvas *c = ctx;
    const double d = y - HORIZON;
    if (d < 0.0) return (col){ 0 };
    const double w = wave(x, y);
    const double up = fmin(fmax(HORIZON - 1.0 - d * 0.72 - w * (6.0 + 0.22 * d), 2.0), HORIZON - 2.0);
    col v = canvas_get(c, x + 10.0 * w, up);
    v = mix(v, hex(0x2f4f5c), 0.16 + 0.36 * smooth(0.0, 1160.0, d));
    const double lit = smooth(0.25, 0.62, w);
    return mix(mix(v, hex(0xf4e3c6), 0.34 * lit), hex(0x1f3d4a), 0.22 * smooth(-0.2, -0.6, w));
}

/* ---- reflection of the bird ---- */

/* Rows of the mask slide along x with the waves; the farther from the feet, the more. */
static void ripple_mask(const canvas *c, mask *m, double still_y)
{
    canvas row = canvas_make(m->w > 0 ? m->w : 1, 1, 1.0, 1.0);
    for (int y = 0; y < m->h; y++) {
        const double dy = (m->y0 + y + 0.5 - c->oy) / c->sy, far = fmax(0.0, dy - still_y);
        const double reach = 3.0 + 0.05 * far;
        const double slide = c->sx * reach * (0.8 * sin(dy / 11.0 + 3.0 * noise2(0.0, dy / 70.0, 5)) + 1.3 * noise2(3.0, dy / 17.0, 9));
        float *a = m->a + (size_t)y * (size_t)m->w;
        for (int x = 0; x < m->w; x++) {
            const double at = fmin(fmax(x + slide, 0.0), m->w - 1.001);
            const int i = (int)at;
            row.px[x] = (float)lerp((double)a[i], (double)a[i + 1 < m->w ? i + 1 : i], at - i);
        }
        for (int x = 0; x < m->w; x++) a[x] = row.px[x];
    }
    canvas_free(&row);
}

static col reflected(double x, double y, const void *ctx)
{
    (void)ctx;
    const double far = y - (MIRROR_Y + BIRD_Y);
    const col v = mix(hex(0x23323b), hex(0x5c7480), 0.5 + 0.5 * noise2(x / 160.0, y / 26.0, 71));
    return with_a(v, lerp(0.82, 0.5, clamp01(far / 560.0)) * (0.86 + 0.14 * noise2(x / 90.0, y / 9.0, 73)));
}

static void reflection(canvas *c)
{
    canvas flip = canvas_view(c, 1.0, -1.0, BIRD_X, BIRD_Y + 2.0 * MIRROR_Y);
    path p = { 0 };
    heron_bird_outline(&p);
    mask m = mask_fill(&flip, &p, 90.0, false);
    path_free(&p);
    ripple_mask(c, &m, MIRROR_Y + BIRD_Y);
    mask_blur(c, &m, 1.6);
    mask_paint(c, &m, reflected, NULL, BLEND_OVER);
    mask_free(&m);
}

/* Rings of a leg that just moved: bright and dark crescents, open water between: islands within islands. */
static void rings(canvas *c, double cx, double cy, double grow, uint32_t seed)
{
    for (int k = 0; k < 5; k++) {
        const double rx = grow * (26.0 + 46.0 * k + 7.0 * k * k), ry = rx * 0.2;
        const double thick = grow * (7.0 + 1.6 * k) * (k == 4 ? 0.7 : 1.0), ink = 0.9 - 0.13 * k;
        for (int dark = 0; dark < 2; dark++) {
            path p = { 0 };
            for (int way = 0; way < 2; way++) {
                for (int i = 0; i < 180; i++) {
                    const double u = 2.0 * PI * (way ? 180 - i : i) / 180.0;
                    const double wob = 1.0 + 0.02 * noise2(4.0 * cos(u) + k, 4.0 * sin(u), seed);
                    /* thick near the viewer, thin at the back, as a wave seen from above the water */
                    const double th = thick * (0.36 + 0.64 * (0.5 + 0.5 * sin(u))) * (way ? 1.0 : 0.0);
                    const double off = dark ? -0.55 * thick : 0.55 * thick;
                    path_add(&p, cx + (rx * wob - th) * cos(u), cy + off + (ry * wob - 0.62 * th) * sin(u));
                }
                path_close(&p);
            }
            mask m = mask_fill(c, &p, 0.0, false);
            path_free(&p);
            mask_flat(c, &m, with_a(dark ? hex(0x27424e) : hex(0xf8ecd4), ink * (dark ? 0.75 : 0.95)), BLEND_OVER);
            mask_free(&m);
        }
    }
}

/* ---- reeds ---- */

typedef struct reed_tone {
    col shade, body, light;
} reed_tone;

static col reed(const ribbon_at *at, const void *ctx)
{
    const double t = at->t, s = at->s;
    const reed_tone *r = ctx;
    const double lit = 0.5 - 0.5 * s + 0.18 * sin(9.0 * s) - 0.15 * (1.0 - t);
    return lit < 0.5 ? mix(r->shade, r->body, 2.0 * clamp01(lit)) : mix(r->body, r->light, 2.0 * clamp01(lit) - 1.0);
}

static void one_reed(canvas *c, uint64_t *seed, double x, double y, double tall, double lean, double w, const reed_tone *r)
{
    const double bend = rnd_range(seed, -0.35, 1.0) * lean;
    const spt at[] = { { x, y, w },
                       { x + 0.12 * lean, y - 0.35 * tall, w * 0.95 },
                       { x + 0.42 * lean, y - 0.72 * tall, w * 0.7 },
                       { x + lean + 0.3 * bend, y - tall + 0.1 * fabs(bend), w * 0.08 } };
    ribbon_paint(c, at, 4, reed, r, NULL);
}

static void cattail(canvas *c, double x, double y, double tall, double lean, const reed_tone *r)
{
    const double tx = x + lean, ty = y - tall;
    ribbon_paint(c, (const spt[]){ { x, y, 15 }, { x + 0.3 * lean, y - 0.5 * tall, 13 }, { tx, ty, 8 }, { tx + 0.12 * lean, ty - 90, 4 } }, 4,
                 reed, r, NULL);
    path p = { 0 };
    path_stroke(&p, (const spt[]){ { tx - 0.2 * lean, ty + 190, 40 }, { tx - 0.1 * lean, ty + 100, 47 }, { tx, ty + 10, 42 } }, 3);
    const volume v = { .dark = hex(0x2b1a14), .base = hex(0x6b4530), .light = hex(0xb98656), .radius = 24, .strength = 1.2,
                       .grain = 0.25, .grain_x = 5, .grain_y = 7, .seed = 3 };
    volume_paint(c, &p, &v, false);
}

static void reed_bed(canvas *c, double x0, double x1, double y, double tall, double w, int n, uint64_t seed, const reed_tone *r)
{
    for (int i = 0; i < n; i++) {
        const double x = rnd_range(&seed, x0, x1), dy = rnd_range(&seed, -30.0, 30.0);
        const double h = tall * rnd_range(&seed, 0.55, 1.0), lean = rnd_range(&seed, -0.28, 0.34) * h;
        /* what the water gives back of it */
        path p = { 0 };
        path_stroke(&p, (const spt[]){ { x, y + dy, w }, { x + 0.1 * lean + 9, y + dy + 0.14 * h, w }, { x + 0.2 * lean - 6, y + dy + 0.28 * h, w * 0.6 } }, 3);
        soft(c, &p, 2.5, with_a(r->shade, 0.45), NULL, BLEND_OVER);
        one_reed(c, &seed, x, y + dy, h, lean, w * rnd_range(&seed, 0.7, 1.25), r);
        /* the stem goes under: a soft dark lens with a bright lip */
        path_ellipse(&p, x, y + dy + 0.1 * w, 1.5 * w, 0.42 * w, 0.0);
        soft(c, &p, 0.16 * w, with_a(mix(r->shade, hex(0x4f6f7c), 0.55), 0.95), NULL, BLEND_OVER);
        path_stroke(&p, (const spt[]){ { x - 1.6 * w, y + dy - 0.1 * w, 1 }, { x, y + dy + 0.4 * w, 0.16 * w }, { x + 1.6 * w, y + dy - 0.1 * w, 1 } }, 3);
        fill(c, &p, with_a(hex(0xe9e2cc), 0.6));
    }
}

void heron_draw(canvas *c)
{
    canvas_shade(c, sky, NULL, BLEND_OVER);
    path p = { 0 };
    path_ellipse(&p, 2230.0, 560.0, 128.0, 128.0, 0.0);
    fill(c, &p, hex(0xfff6df));
    hills(c);
    canvas still = canvas_copy(c); /* the water mirrors what stands over it */
    canvas_shade(c, water, &still, BLEND_OVER);
    canvas_free(&still);
    const reed_tone far = { hex(0x6d8278), hex(0x8a9a82), hex(0xb3b790) };
    reed_bed(c, 2380, 2980, 1010, 520, 15, 34, 101, &far);
    reed_bed(c, 20, 560, 960, 380, 12, 30, 103, &far);
    const reed_tone mid = { hex(0x2f4a41), hex(0x5d7850), hex(0xb7b56c) };
    cattail(c, 2560, 1180, 760, 70, &mid);
    cattail(c, 2790, 1210, 900, -60, &mid);
    reed_bed(c, 2450, 3000, 1210, 820, 24, 26, 107, &mid);
    reflection(c);
    rings(c, FOOT[0].x + BIRD_X, FOOT[0].y + BIRD_Y, 1.0, 81);
    rings(c, FOOT[1].x + BIRD_X, FOOT[1].y + BIRD_Y, 1.25, 83);
    canvas bird = canvas_view(c, 1.0, 1.0, BIRD_X, BIRD_Y);
    heron_bird_draw(&bird);
    const reed_tone near = { hex(0x14251f), hex(0x2f4a32), hex(0x8d9450) };
    cattail(c, 240, 1900, 1180, -90, &near);
    cattail(c, 430, 1960, 960, 80, &near);
    reed_bed(c, 20, 520, 1900, 1150, 34, 17, 113, &near);
    reed_bed(c, 2600, 3010, 2010, 820, 36, 12, 127, &near);
}
