/*
 * harbour: a photo-like evening in a small harbour. Sky, hills and houses are painted, the water mirrors them through
 * its own waves, the near railing is out of focus, and a sensor adds what sensors add: bloom, vignette, noise.
 */
#include "scenes.h"

static const double SHORE = 1110.0; /* the waterline at the quay */

/* ---- sky and land ---- */

static col sky(double x, double y, const void *ctx)
{
    (void)ctx;
    static const uint32_t stops[] = { 0x4a78ab, 0x7fa3c4, 0xb9c9d2, 0xeed8b8, 0xf7cf98 };
    col c[5];
    for (int i = 0; i < 5; i++) c[i] = hex(stops[i]);
    col v = ramp(c, 5, y / 900.0);
    v = mix(v, hex(0xffdf9e), 0.8 * exp(-hypot(x - 420.0, 1.5 * (y - 760.0)) / 420.0));
    /* heaped cloud: lit where it thins toward the sun, grey beneath */
    const double wx = x + 60.0 * fbm(x / 200.0, y / 120.0, 3, 7), n = fbm(wx / 430.0, y / 170.0, 6, 11), below = fbm((wx - 30.0) / 430.0, (y - 34.0) / 170.0, 4, 11);
    const double thick = smooth(-0.02, 0.34, n + 0.12 * smooth(900.0, 100.0, y) - 0.05);
    const double lit = clamp01(0.5 + 1.6 * (n - below));
    v = mix(v, mix(hex(0x8f93a3), hex(0xfff0da), lit), 0.82 * thick);
    return mix(v, hex(0xf6d3a4), 0.5 * smooth(420.0, 920.0, y));
}

typedef struct land {
    double base, tall, wide, haze, rough;
    uint32_t seed;
} land;

static double ridge_at(const land *l, double x)
{
    return l->base - l->tall * (0.5 + 0.9 * fbm(x / l->wide, 0.5, 4, l->seed)) - l->rough * fabs(noise2(x / 9.0, 3.0, l->seed)) - 0.6 * l->rough * noise2(x / 3.7, 1.0, l->seed);
}

static col land_shade(double x, double y, const void *ctx)
{
    const land *l = ctx;
    const double k = 0.5 + 0.9 * fbm(x / 38.0, y / 26.0, 5, l->seed + 9), slope = fbm((x + 26.0) / 170.0, (y - 14.0) / 110.0, 3, l->seed + 5) - fbm(x / 170.0, y / 110.0, 3, l->seed + 5);
    col v = mix(hex(0x1f2f1e), hex(0x6f7a3c), clamp01(k));
    v = mix(v, hex(0xb99a52), clamp01(0.3 + 1.8 * slope) * 0.6);
    const double field = fbm(x / 210.0, y / 60.0, 2, l->seed + 21);
    v = mix(v, hex(0xa8a05a), 0.5 * smooth(0.12, 0.2, field));
    return mix(v, hex(0xd9c3a8), l->haze + 0.25 * smooth(l->base - l->tall, l->base + 40.0, y) * l->haze);
}

static void hills(canvas *c)
{
    static const land rows[] = { { 930, 330, 900, 0.72, 2, 31 }, { 990, 250, 620, 0.48, 4, 37 }, { 1060, 190, 420, 0.24, 9, 43 } };
    for (int k = 0; k < 3; k++) {
        path p = { 0 };
        for (double x = -30.0; x <= 3030.0; x += 1.5) path_add(&p, x, ridge_at(&rows[k], x));
        path_add(&p, 3030.0, SHORE);
        path_add(&p, -30.0, SHORE);
        path_close(&p);
        fill_shade(c, &p, land_shade, &rows[k]);
    }
}

/* ---- houses and quay ---- */

typedef struct wall {
    col base;
    double x0, x1;
    uint32_t seed;
} wall;

static col plaster(double x, double y, const void *ctx)
{
    const wall *w = ctx;
    const double n = 0.05 * fbm(x / 14.0, y / 14.0, 3, w->seed) + 0.05 * fbm(x / 5.0, y / 60.0, 3, w->seed + 3);
    const double k = 1.0 + n - 0.16 * smooth(w->x0, w->x1, x) - 0.1 * smooth(SHORE - 120.0, SHORE - 20.0, y);
    return rgb(w->base.r * k, w->base.g * k, w->base.b * k);
}

static col tiles(double x, double y, const void *ctx)
{
    const wall *w = ctx;
    const double row = floor(y / 7.0), n = 0.14 * (hash01((int32_t)floor((x + 5.0 * row) / 9.0), (int32_t)row, w->seed) - 0.5);
    const double k = 0.95 + n - 0.2 * smooth(0.72, 1.0, y / 7.0 - row);
    return rgb(0.62 * k, 0.33 * k, 0.24 * k);
}

static void rect(canvas *c, double x0, double y0, double x1, double y1, col colour)
{
    path p = { 0 };
    path_rect(&p, x0, y0, x1, y1);
    fill(c, &p, colour);
}

static void window(canvas *c, double x, double y, double w, double h, col glass, col shutter)
{
    rect(c, x - 3, y - 3, x + w + 3, y + h + 4, rgb(0.9, 0.87, 0.8));
    rect(c, x, y, x + w, y + h, glass);
    rect(c, x + 0.5 * w - 1.2, y, x + 0.5 * w + 1.2, y + h, rgb(0.87, 0.84, 0.77));
    rect(c, x, y + 0.45 * h - 1.2, x + w, y + 0.45 * h + 1.2, rgb(0.87, 0.84, 0.77));
    rect(c, x - 0.62 * w, y - 2, x - 4, y + h + 2, shutter);
    rect(c, x + w + 4, y - 2, x + 1.62 * w, y + h + 2, shutter);
    rect(c, x - 4, y + h + 4, x + w + 4, y + h + 8, rgb(0.5, 0.45, 0.4));
}

static void house(canvas *c, double x, double w, double h, int floors, uint64_t *seed)
{
    static const uint32_t paints[] = { 0xd9a45c, 0xc9704a, 0xe7d9b8, 0x8fa3a8, 0xd8b98a, 0xb4543f, 0xe9c77a, 0xc8c5b4 };
    const col paint = hex(paints[(int)(rnd(seed) * 7.999)]); /* one draw a statement: C leaves the order inside one open */
    const wall k = { paint, x, x + w, (uint32_t)(rnd(seed) * 1e6) };
    const double top = SHORE - 40.0 - h, pitch = rnd_range(seed, 0.28, 0.4) * w;
    path p = { 0 };
    path_poly(&p, (const pt[]){ { x, SHORE - 36 }, { x, top }, { x + 0.5 * w, top - pitch }, { x + w, top }, { x + w, SHORE - 36 } }, 5);
    fill_shade(c, &p, plaster, &k);
    path_poly(&p, (const pt[]){ { x - 9, top + 6 }, { x + 0.5 * w, top - pitch - 6 }, { x + w + 9, top + 6 }, { x + w + 4, top - 10 }, { x + 0.5 * w, top - pitch - 24 }, { x - 4, top - 10 } }, 6);
    fill_shade(c, &p, tiles, &k);
    const double cx = x + w * rnd_range(seed, 0.62, 0.75); /* chimney */
    rect(c, cx, top - 0.55 * pitch - 44, cx + 18, top - 0.4 * pitch, rgb(0.48, 0.29, 0.23));
    const col shutter = mix(hex(paints[(int)(rnd(seed) * 7.999)]), hex(0x2f4a4f), 0.7);
    const int across = w > 150 ? 3 : 2;
    for (int f = 0; f < floors; f++)
        for (int i = 0; i < across; i++) {
            const double ww = 21, wh = 34, wx = x + w * (i + 0.5) / across - 0.5 * ww, wy = top + 16 + (h - 20) * f / floors;
            const bool lamp = rnd(seed) < 0.18;
            if (f == floors - 1 && i == across / 2) {
                rect(c, wx - 6, SHORE - 104, wx + 28, SHORE - 37, mix(shutter, rgb(0.1, 0.08, 0.07), 0.4));
                rect(c, wx - 2, SHORE - 100, wx + 24, SHORE - 80, rgb(0.32, 0.36, 0.38));
            } else {
                window(c, wx, wy, ww, wh, lamp ? rgb(1.0, 0.8, 0.45) : mix(rgb(0.13, 0.16, 0.2), rgb(0.62, 0.66, 0.68), rnd(seed) * 0.7), shutter);
            }
        }
    path_poly(&p, (const pt[]){ { x + w, SHORE - 36 }, { x + w, top + 8 }, { x + w + 14, top + 24 }, { x + w + 14, SHORE - 36 } }, 4); /* shade on the neighbour */
    soft(c, &p, 4.0, (col){ 0.08, 0.06, 0.08, 0.4 }, NULL, BLEND_OVER);
}

static col stone(double x, double y, const void *ctx)
{
    (void)ctx;
    const double row = floor(y / 11.0), shift = 17.0 * hash01((int32_t)row, 0, 3), cell = floor((x + shift) / 31.0);
    const double tone = 0.42 + 0.14 * hash01((int32_t)cell, (int32_t)row, 5) + 0.06 * fbm(x / 6.0, y / 6.0, 3, 7);
    const double joint = fmax(smooth(0.84, 0.98, y / 11.0 - row), smooth(0.93, 0.99, (x + shift) / 31.0 - cell));
    const double wet = smooth(SHORE - 18.0, SHORE - 8.0, y + 3.0 * noise2(x / 20.0, 0.0, 9));
    const double k = tone * (1.0 - 0.4 * joint) * (1.0 - 0.55 * wet);
    return rgb(k * 1.06, k * (1.0 + 0.03 * wet), k * 0.9);
}

static void town(canvas *c)
{
    uint64_t seed = 77;
    double x = 150.0;
    while (x < 2700.0) {
        const double w = rnd_range(&seed, 104.0, 190.0), h = rnd_range(&seed, 96.0, 214.0);
        house(c, x, w, h, h > 150.0 ? 3 : 2, &seed);
        x += w + (rnd(&seed) < 0.24 ? rnd_range(&seed, 18.0, 70.0) : 1.0);
    }
    /* the light at the end of the mole */
    const wall tower = { hex(0xefe6d4), 2800, 2862, 9 };
    path p = { 0 };
    path_poly(&p, (const pt[]){ { 2796, SHORE - 30 }, { 2808, 796 }, { 2854, 796 }, { 2866, SHORE - 30 } }, 4);
    fill_shade(c, &p, plaster, &tower);
    rect(c, 2806, 872, 2857, 926, hex(0xb0392c));
    rect(c, 2800, 784, 2862, 796, hex(0x3a3f45));
    rect(c, 2814, 746, 2848, 784, hex(0xd7c47d));
    path_poly(&p, (const pt[]){ { 2808, 748 }, { 2831, 716 }, { 2854, 748 } }, 3);
    fill(c, &p, hex(0x7c2a22));
    path_rect(&p, -30, SHORE - 38, 3030, SHORE + 2);
    fill_shade(c, &p, stone, NULL);
    rect(c, -30, SHORE - 43, 3030, SHORE - 36, hex(0x9f9787));
}

/* ---- water ---- */

static double wave(double x, double y)
{
    const double d = y - SHORE + 14.0;
    return 0.65 * fbm(x / (30.0 + 0.42 * d), 13.0 * log(d), 4, 61) + 0.35 * fbm(x / (12.0 + 0.1 * d), 40.0 * log(d), 3, 67);
}

static col water(double x, double y, const void *ctx)
{
    const canvas *c = ctx;
    const double d = y - SHORE;
    if (d < 0.0) return (col){ 0 };
    const double w = wave(x, y), tilt = wave(x + 2.0, y + 1.5) - w;
    const double up = fmin(fmax(SHORE - 1.0 - 1.02 * d - w * (7.0 + 0.36 * d), 1.0), SHORE - 2.0);
    col v = canvas_get(c, x + w * (3.0 + 0.03 * d), up);
    const double deep = 0.24 + 0.4 * smooth(0.0, 900.0, d) - 0.9 * tilt;
    v = mix(v, hex(0x12303a), clamp01(deep));
    return mix(v, hex(0xffe3ae), 0.5 * smooth(0.3, 0.6, w) * exp(-fabs(x - 430.0 - 40.0 * noise2(y / 60.0, 0.0, 3)) / 330.0));
}

void harbour_draw(canvas *c)
{
    canvas_shade(c, sky, NULL, BLEND_OVER);
    hills(c);
    town(c);
    harbour_far_boats(c);
    canvas still = canvas_copy(c); /* the water mirrors what stands over it */
    canvas_shade(c, water, &still, BLEND_OVER);
    canvas_free(&still);
    harbour_boats(c);
    harbour_lens(c);
}
