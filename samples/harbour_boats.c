/* The harbour's boats, each with its reflection, and what the camera does to the picture. */
#include "scenes.h"

#include <string.h>

typedef struct boat {
    double x, y, k; /* middle of the waterline, size; bow to the left when k is above 0 in x */
    double way;     /* 1: bow to the left, -1: to the right */
    uint32_t hull, band, house;
} boat;

static pt on(const boat *b, double x, double y) { return (pt){ b->x + b->way * b->k * x, b->y + b->k * y }; }

static void piece(canvas *c, const boat *b, const pt *at, size_t n, bool curved, col colour, double radius)
{
    pt q[24];
    for (size_t i = 0; i < n; i++) q[i] = on(b, at[i].x, at[i].y);
    path p = { 0 };
    if (curved) path_spline(&p, q, n);
    else path_poly(&p, q, n);
    const volume v = { .dark = mix(colour, hex(0x0c1014), 0.72), .base = colour, .light = mix(colour, hex(0xffe9c4), 0.6), .radius = radius * b->k,
                       .strength = 0.8, .grain = 0.1, .grain_x = 20, .grain_y = 3, .seed = 7 };
    volume_paint(c, &p, &v, false);
}

static void spar(canvas *c, const boat *b, double x0, double y0, double x1, double y1, double w, col colour)
{
    const pt p = on(b, x0, y0), q = on(b, x1, y1);
    path s = { 0 };
    path_stroke(&s, (const spt[]){ { p.x, p.y, w * b->k }, { 0.5 * (p.x + q.x), 0.5 * (p.y + q.y), w * b->k }, { q.x, q.y, 0.7 * w * b->k } }, 3);
    fill(c, &s, colour);
}

static void rigging(canvas *c, const boat *b)
{
    const col wood = hex(0x8a6a45), rope = hex(0x3a3630);
    spar(c, b, -70, -90, -74, -640, 13, wood);
    spar(c, b, -66, -150, 170, -400, 9, wood);
    spar(c, b, 250, -80, 256, -420, 10, wood);
    spar(c, b, -74, -630, -392, -128, 2.6, rope);
    spar(c, b, -74, -630, 250, -410, 2.6, rope);
    spar(c, b, -74, -560, 60, -96, 2.2, rope);
    spar(c, b, -74, -560, -180, -106, 2.2, rope);
    spar(c, b, 256, -410, 370, -104, 2.2, rope);
    spar(c, b, 170, -396, -74, -600, 2.2, rope);
    for (int i = 1; i < 9; i++) spar(c, b, -74 + 14.8 * i, -560 + 51.5 * i, -74 - 11.7 * i, -560 + 50.4 * i, 1.8, rope);
}

static void boat_draw(canvas *c, const boat *b)
{
    rigging(c, b);
    /* wheelhouse aft, then the hull over its foot */
    piece(c, b, (const pt[]){ { 96, -60 }, { 104, -222 }, { 226, -222 }, { 234, -60 } }, 4, false, hex(b->house), 20);
    piece(c, b, (const pt[]){ { 84, -214 }, { 92, -236 }, { 240, -236 }, { 246, -214 } }, 4, false, hex(0x53606a), 10);
    for (int i = 0; i < 3; i++)
        piece(c, b, (const pt[]){ { 112.0 + 38 * i, -150 }, { 113.0 + 38 * i, -202 }, { 142.0 + 38 * i, -202 }, { 142.0 + 38 * i, -150 } }, 4, false, i == 0 ? hex(0xf2c88a) : hex(0x35444c), 6);
    piece(c, b, (const pt[]){ { -420, -150 }, { -420, -150 }, { -300, -104 }, { -60, -74 }, { 180, -72 }, { 392, -96 }, { 392, -96 }, { 400, -30 }, { 372, 14 }, { 372, 14 }, { 0, 20 }, { -318, 14 }, { -318, 14 }, { -380, -60 } }, 14, true, hex(b->hull), 70);
    piece(c, b, (const pt[]){ { -420, -152 }, { -420, -152 }, { -300, -106 }, { -60, -76 }, { 180, -74 }, { 392, -98 }, { 392, -98 }, { 392, -82 }, { 392, -82 }, { 180, -56 }, { -60, -58 }, { -300, -88 }, { -412, -132 }, { -412, -132 } }, 14, true, hex(b->band), 9);
    piece(c, b, (const pt[]){ { -330, -6 }, { -330, -6 }, { 0, 4 }, { 380, -4 }, { 380, -4 }, { 372, 16 }, { 372, 16 }, { 0, 22 }, { -318, 16 }, { -318, 16 } }, 10, true, hex(0x6e2a22), 10);
    for (int i = 0; i < 4; i++) { /* tyres along the side */
        const pt q = on(b, -210.0 + 150 * i, -30);
        path p = { 0 };
        path_ellipse(&p, q.x, q.y, 24 * b->k, 27 * b->k, 0.0);
        volume_paint(c, &p, &(volume){ hex(0x08090a), hex(0x23262a), hex(0x6c7078), 12 * b->k, 1, 0, 1, 1, 0 }, false);
        path_ellipse(&p, q.x, q.y, 10 * b->k, 12 * b->k, 0.0);
        fill(c, &p, mix(hex(b->hull), hex(0x101010), 0.6));
    }
}

/* ---- reflections ---- */

typedef struct mirror {
    const canvas *c, *before; /* with the boat, and as it was without it */
    double still_y, k;
} mirror;

/* A part of the canvas, kept aside. */
static canvas kept(const canvas *c, double x0, double y0, double x1, double y1)
{
    const int i0 = (int)fmin(fmax(c->ox + c->sx * x0, 0.0), c->w - 8.0), j0 = (int)fmin(fmax(c->oy + c->sy * y0, 0.0), c->h - 8.0);
    const int i1 = (int)fmin(fmax(c->ox + c->sx * x1, i0 + 8.0), c->w), j1 = (int)fmin(fmax(c->oy + c->sy * y1, j0 + 8.0), c->h);
    canvas part = canvas_make(i1 - i0, j1 - j0, 1.0, 1.0);
    part.sx = c->sx, part.sy = c->sy, part.ox = c->ox - i0, part.oy = c->oy - j0;
    for (int j = j0; j < j1; j++)
        memcpy(part.px + (size_t)(j - j0) * (size_t)part.w * 3, c->px + ((size_t)j * (size_t)c->w + (size_t)i0) * 3, (size_t)part.w * 3 * sizeof *part.px);
    return part;
}

/* Only the boat is given back here: where it changed nothing, the water keeps what it mirrors already. */
static col mirrored(double x, double y, const void *ctx)
{
    const mirror *m = ctx;
    const double d = y - m->still_y;
    if (d < 0.0) return (col){ 0 };
    const double w = fbm(x / (26.0 + 0.16 * d), 9.0 * log(d + 12.0), 3, 71) + 0.5 * noise2(x / 14.0, 30.0 * log(d + 12.0), 73);
    const double up = fmin(m->still_y - 1.0 - 0.96 * d - w * (5.0 + 0.2 * d), m->still_y - 1.0), side = x + w * (3.0 + 0.06 * d);
    const col v = canvas_get(m->c, side, up), b = canvas_get(m->before, side, up);
    const double is_boat = smooth(0.012, 0.05, fabs(v.r - b.r) + fabs(v.g - b.g) + fabs(v.b - b.b));
    return with_a(mix(v, hex(0x12303a), 0.34 + 0.2 * smooth(0.0, 500.0, d)), is_boat * smooth(640.0 * m->k, 330.0 * m->k, d) * (0.9 - 0.35 * smooth(0.1, 0.5, w)));
}

static void with_reflection(canvas *c, const boat *b)
{
    canvas before = kept(c, b->x - 480 * b->k, b->y - 680 * b->k, b->x + 480 * b->k, b->y + 40 * b->k);
    boat_draw(c, b);
    path p = { 0 };
    path_spline(&p, (const pt[]){ { b->x - 440 * b->k, b->y + 16 * b->k }, { b->x, b->y + 18 * b->k }, { b->x + 440 * b->k, b->y + 16 * b->k }, { b->x + 420 * b->k, b->y + 330 * b->k }, { b->x, b->y + 640 * b->k }, { b->x - 420 * b->k, b->y + 330 * b->k } }, 6);
    mask m = mask_fill(c, &p, 40.0, false);
    mask_blur(c, &m, 8.0);
    path_free(&p);
    canvas still = canvas_copy(c);
    mask_paint(c, &m, mirrored, &(mirror){ &still, &before, b->y + 14 * b->k, b->k }, BLEND_OVER);
    canvas_free(&still);
    mask_free(&m);
    canvas_free(&before);
    path_stroke(&p, (const spt[]){ { b->x - 330 * b->k, b->y + 16 * b->k, 3 * b->k }, { b->x, b->y + 23 * b->k, 8 * b->k }, { b->x + 376 * b->k, b->y + 16 * b->k, 3 * b->k } }, 3);
    soft(c, &p, 2.0, (col){ 0.04, 0.06, 0.07, 0.75 }, NULL, BLEND_OVER);
}

void harbour_far_boats(canvas *c)
{
    static const boat boats[] = { { 820, 1106, 0.3, 1, 0x8a9aa2, 0xe8e2d2, 0xd9d4c6, }, { 1330, 1106, 0.26, -1, 0x3f6b57, 0xe0cf9a, 0xcfc8b5 },
                                  { 2050, 1106, 0.34, 1, 0x9b3d2e, 0xe9dfc6, 0xd8d2c4 }, { 2560, 1106, 0.28, -1, 0xd8d0bd, 0x2f4a66, 0xbfc5c4 } };
    for (int i = 0; i < 4; i++) boat_draw(c, &boats[i]);
}

void harbour_boats(canvas *c)
{
    static const boat boats[] = { { 2200, 1236, 0.8, -1, 0x2f6672, 0xe9dcb8, 0xe4ddcb }, { 1040, 1330, 1.22, 1, 0x2b4a73, 0xd9a13e, 0xece5d6 } };
    with_reflection(c, &boats[0]);
    with_reflection(c, &boats[1]);
    /* mooring buoys */
    for (int i = 0; i < 3; i++) {
        const double x = 1640 + 190.0 * i, y = 1420 + 90.0 * i - 60.0 * (i == 1), r = 17 + 4.0 * i;
        path p = { 0 };
        path_ellipse(&p, x + 6, y + 1.2 * r, 1.1 * r, 0.7 * r, 0.0);
        soft(c, &p, 5.0, (col){ 0.35, 0.13, 0.06, 0.7 }, NULL, BLEND_OVER);
        path_ellipse(&p, x, y, r, r, 0.0);
        volume_paint(c, &p, &(volume){ hex(0x5a160c), hex(0xd9532c), hex(0xffc59a), 1.2 * r, 1.2, 0, 1, 1, 0 }, false);
    }
}

/* ---- the camera ---- */

/* A rail, a rope and leaves close to the lens, far out of its focus. */
static void foreground(canvas *c)
{
    path p = { 0 };
    path_stroke(&p, (const spt[]){ { -60, 1860, 120 }, { 700, 1830, 116 }, { 1600, 1836, 116 }, { 3060, 1890, 124 } }, 4);
    soft(c, &p, 24.0, with_a(hex(0x2c2a2a), 0.97), NULL, BLEND_OVER);
    path_stroke(&p, (const spt[]){ { -60, 1822, 26 }, { 700, 1790, 24 }, { 1600, 1796, 24 }, { 3060, 1848, 26 } }, 4);
    soft(c, &p, 16.0, with_a(hex(0xd8a768), 0.7), NULL, BLEND_OVER);
    for (int i = 0; i < 2; i++) {
        const double x = 520 + 1990.0 * i;
        path_stroke(&p, (const spt[]){ { x, 1700, 130 }, { x + 6, 1860, 140 }, { x + 10, 2060, 150 } }, 3);
        soft(c, &p, 24.0, with_a(hex(0x262425), 1.0), NULL, BLEND_OVER);
        path_stroke(&p, (const spt[]){ { x - 44, 1706, 20 }, { x - 40, 1860, 20 }, { x - 40, 2060, 20 } }, 3);
        soft(c, &p, 15.0, with_a(hex(0xd29a58), 0.75), NULL, BLEND_OVER);
        path_ellipse(&p, x, 1690, 84, 54, 0.0);
        soft(c, &p, 20.0, with_a(hex(0x3b3431), 1.0), NULL, BLEND_OVER);
    }
    uint64_t seed = 91;
    for (int i = 0; i < 34; i++) { /* leaves in the upper right corner */
        const double x = rnd_range(&seed, 2560, 3060), y = rnd_range(&seed, -60, 430) - 0.5 * (3060 - x) + 60, a = rnd_range(&seed, 0.0, 3.1);
        const double rx = rnd_range(&seed, 60, 110), ry = rnd_range(&seed, 26, 44);
        path_ellipse(&p, x, y, rx, ry, a);
        soft(c, &p, 21.0, with_a(mix(hex(0x1c2a17), hex(0x76803a), rnd(&seed)), 0.9), NULL, BLEND_OVER);
    }
}

/* Noise is made per pixel of the picture, not of the design: a bigger sensor has finer grain. */
typedef struct chip {
    const canvas *c;
    double noise;
} chip;

static col sensor(double x, double y, const void *ctx)
{
    const chip *s = ctx;
    const canvas *c = s->c;
    const int32_t px = (int32_t)floor(c->ox + c->sx * x), py = (int32_t)floor(c->oy + c->sy * y);
    const float *p = c->px + ((size_t)py * (size_t)c->w + (size_t)px) * 3;
    const col v = rgb((double)p[0], (double)p[1], (double)p[2]);
    const double r = hypot((x - 1500.0) / 1800.0, (y - 1000.0) / 1350.0), fall = 1.0 - 0.3 * smooth(0.5, 1.15, r);
    const double luma = 0.3 * v.r + 0.59 * v.g + 0.11 * v.b, amount = s->noise * (0.05 + 0.06 * (1.0 - luma));
    const double n = hash01(px, py, 1) + hash01(px, py, 2) + hash01(px, py, 3) - 1.5; /* near enough to a bell */
    const double warm = noise2(px / 2.3, py / 2.3, 5), cold = noise2(px / 2.3, py / 2.3, 6);
    return rgb(v.r * fall + amount * (0.6 * n + 0.2 * warm), v.g * fall + amount * 0.6 * n, v.b * fall + amount * (0.6 * n + 0.26 * cold));
}

void harbour_sensor(canvas *c, double noise) { canvas_shade(c, sensor, &(chip){ c, noise }, BLEND_OVER); }

void harbour_lens(canvas *c)
{
    foreground(c);
    canvas_blur(c, 0.9);
    harbour_sensor(c, 1.0);
}
