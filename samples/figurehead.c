/*
 * figurehead: the carved and painted head of an invented ship, "the Lady of Halven Bay", seen from the front.
 *
 * Proportions are the usual ones of a drawing class: eyes half way down the head, one eye's width between them, the
 * face in three equal parts from hairline to brow to nose to chin, mouth a third of the way below the nose. The face
 * itself is in figurehead_face.c; here are hair, crown, dress and ground.
 */
#include "scenes.h"

static const double MID = 1200.0;

typedef struct wood {
    col dark, base, light;
    double strands; /* carved grooves across a lock */
    double round;
} wood;

/* A carved lock: round as a whole, with grooves that follow it; light from the upper left. */
static col lock_shade(const ribbon_at *at, const void *ctx)
{
    const wood *w = ctx;
    const double groove = cos(PI * w->strands * (at->s + 0.16 * sin(7.0 * at->t)));
    const double lit = ribbon_lit(at, w->round) + 0.1 * groove + 0.05 * fbm(at->s * 4.0, at->t * 26.0, 2, 7);
    col v = lit < 0.59 ? mix(w->base, w->dark, clamp01((0.59 - lit) / 0.5)) : mix(w->base, w->light, clamp01((lit - 0.59) / 0.42));
    v = mix(v, w->dark, 0.55 * smooth(0.82, 1.0, fabs(at->s)));
    return mix(v, w->dark, 0.35 * smooth(0.72, 0.98, -groove));
}

/* The same points on the other side of the face. */
static void mirrored(const spt *in, size_t n, spt *out)
{
    for (size_t i = 0; i < n; i++) out[i] = (spt){ 2.0 * MID - in[i].x, in[i].y, in[i].w };
}

static void lock(canvas *c, const spt *at, size_t n, const wood *w, bool right)
{
    spt other[20];
    if (right) mirrored(at, n, other);
    const spt *use = right ? other : at;
    path shadow = { 0 };
    path_stroke(&shadow, use, n);
    for (size_t i = 0; i < shadow.n; i++) shadow.at[i].x += 16.0, shadow.at[i].y += 22.0;
    soft(c, &shadow, 16.0, (col){ 0.1, 0.04, 0.03, 0.5 }, NULL, BLEND_OVER);
    ribbon_paint(c, use, n, lock_shade, w, NULL);
}

/* ---- ground ---- */

/* Nearly flat, so that it can stay the bare wall and every paint goes to the figure. */
static col ground(double x, double y, const void *ctx)
{
    (void)ctx;
    const double d = hypot(x - 1020.0, (y - 1100.0) * 0.85) / 1700.0;
    const col v = mix(hex(0xa3c4c0), hex(0x86aeae), smooth(0.1, 1.0, d));
    const double grain = 0.018 * fbm(x / 9.0, y / 9.0, 2, 3) + 0.03 * fbm(x / 260.0, y / 190.0, 3, 5);
    return (col){ v.r + grain, v.g + grain, v.b + grain, 1.0 };
}

/* ---- hair ---- */

static const wood HAIR = { { 0.17, 0.075, 0.05, 1.0 }, { 0.53, 0.25, 0.13, 1.0 }, { 0.93, 0.63, 0.34, 1.0 }, 5.0, 0.94 };

/* Each lock ends in a roll, as carvers like it: middle, radius, first angle and turn of the roll. */
typedef struct tress {
    spt at[8];
    double cx, cy, r, from, turn;
} tress;

static const tress BACK[] = {
    { { { 1000, 560, 120 }, { 720, 690, 190 }, { 520, 960, 214 }, { 470, 1300, 214 }, { 486, 1620, 204 }, { 396, 1900, 186 }, { 300, 2150, 160 }, { 318, 2370, 120 } }, 430, 2380, 112, 3.2, -8.0 },
    { { { 1040, 600, 120 }, { 800, 750, 180 }, { 626, 1020, 190 }, { 590, 1370, 190 }, { 616, 1690, 190 }, { 546, 1960, 172 }, { 480, 2200, 146 }, { 540, 2420, 110 } }, 640, 2410, 100, 3.0, -8.0 },
};
static const tress FRONT[] = {
    { { { 1196, 742, 60 }, { 960, 772, 134 }, { 752, 950, 156 }, { 650, 1230, 144 }, { 662, 1520, 144 }, { 668, 1790, 140 }, { 576, 2040, 128 }, { 590, 2250, 104 } }, 690, 2262, 100, 3.2, -8.2 },
    { { { 1198, 800, 40 }, { 1030, 826, 104 }, { 838, 972, 124 }, { 728, 1200, 108 }, { 700, 1450, 108 }, { 744, 1690, 114 }, { 742, 1900, 112 }, { 690, 2060, 92 } }, 774, 2090, 84, 3.4, -8.2 },
};

static void tress_paint(canvas *c, const tress *t, bool right)
{
    spt at[20];
    for (int i = 0; i < 8; i++) at[i] = t->at[i];
    for (int i = 0; i < 12; i++) {
        const double k = (i + 1) / 12.0, a = t->from + t->turn * k, q = t->r * (1.0 - 0.78 * k);
        at[8 + i] = (spt){ t->cx + q * cos(a), t->cy + q * sin(a), fmin(0.8 * t->at[7].w, t->r * 0.8) * (1.0 - 0.6 * k) };
    }
    lock(c, at, 20, &HAIR, right);
}

static void hair_behind(canvas *c)
{
    path p = { 0 };
    path_spline(&p, (const pt[]){ { 1200, 430 }, { 900, 480 }, { 650, 680 }, { 500, 1000 }, { 470, 1400 }, { 480, 1800 }, { 520, 2200 }, { 700, 2380 }, { 1000, 2300 }, { 1200, 2250 },
                                  { 1400, 2300 }, { 1700, 2380 }, { 1880, 2200 }, { 1920, 1800 }, { 1930, 1400 }, { 1900, 1000 }, { 1750, 680 }, { 1500, 480 } }, 18);
    volume_paint(c, &p, &(volume){ hex(0x1f0d0a), hex(0x4a2215), hex(0x8a4a28), 200, 1.0, 0.1, 14, 160, 3 }, false);
    for (int k = 0; k < 2; k++)
        for (int right = 0; right < 2; right++) tress_paint(c, &BACK[k], right);
}

static void hair_before(canvas *c)
{
    for (int k = 1; k >= 0; k--)
        for (int right = 0; right < 2; right++) tress_paint(c, &FRONT[k], right);
}

/* ---- crown: a gilt band with pearls, a scallop shell over the brow ---- */

static const wood GOLD = { { 0.34, 0.19, 0.05, 1.0 }, { 0.82, 0.6, 0.2, 1.0 }, { 1.0, 0.94, 0.68, 1.0 }, 0.0, 0.96 };

static col gold_shade(const ribbon_at *at, const void *ctx)
{
    const wood *w = ctx;
    const double lit = ribbon_lit(at, w->round) + 0.04 * fbm(at->x / 13.0, at->y / 13.0, 2, 41);
    return lit < 0.59 ? mix(w->base, w->dark, clamp01((0.59 - lit) / 0.5)) : mix(w->base, w->light, clamp01((lit - 0.59) / 0.38));
}

static void ball(canvas *c, double x, double y, double r, col dark, col base, col light)
{
    path p = { 0 };
    path_ellipse(&p, x + 0.25 * r, y + 0.35 * r, r, r, 0.0);
    soft(c, &p, 0.3 * r, (col){ 0.1, 0.05, 0.02, 0.55 }, NULL, BLEND_OVER);
    path_ellipse(&p, x, y, r, r, 0.0);
    volume_paint(c, &p, &(volume){ dark, base, light, r * 1.1, 1.3, 0.0, 1, 1, 0 }, false);
    path_ellipse(&p, x - 0.34 * r, y - 0.38 * r, 0.2 * r, 0.16 * r, -0.7);
    soft(c, &p, 0.06 * r, with_a(rgb(1, 1, 1), 0.9), NULL, BLEND_OVER);
}

static col shell_rib(const ribbon_at *at, const void *ctx)
{
    const double k = *(const double *)ctx; /* -1 left to 1 right */
    const double lit = ribbon_lit(at, 0.9) - 0.12 * k + 0.06 * sin(34.0 * at->t * at->t);
    const col base = mix(hex(0xd8735c), hex(0xf6d2ba), smooth(0.05, 0.85, at->t));
    const col dark = mix(hex(0x6b2420), hex(0xb4705e), at->t);
    return lit < 0.59 ? mix(base, dark, clamp01((0.59 - lit) / 0.48)) : mix(base, hex(0xfff6e8), clamp01((lit - 0.59) / 0.42));
}

static void shell(canvas *c)
{
    const double x = MID, y = 740.0;
    path p = { 0 };
    path_ellipse(&p, x + 26, y - 190, 330, 260, 0.0);
    soft(c, &p, 40.0, (col){ 0.08, 0.03, 0.02, 0.6 }, NULL, BLEND_OVER);
    for (int k = 5; k >= 0; k--) /* outer ribs first, the middle one on top */
        for (int side = 0; side < (k == 0 ? 1 : 2); side++) {
            const double at = (side ? k : -k) / 5.0, a = -0.5 * PI + at * 1.22, len = 452.0 - 96.0 * at * at;
            const spt rib[] = { { x + 26 * at, y, 26 }, { x + 0.5 * len * sin(at * 1.1), y - 0.52 * len * cos(at * 1.15), 70 },
                                { x + 0.9 * len * cos(a), y + 0.9 * len * sin(a), 104 - 12 * fabs(at) }, { x + len * cos(a), y + len * sin(a), 84 } };
            ribbon_paint(c, rib, 4, shell_rib, &at, NULL);
        }
    for (int side = -1; side <= 1; side += 2) { /* the hinge's ears */
        path_spline(&p, (const pt[]){ { x, y - 46 }, { x + side * 120, y - 62 }, { x + side * 168, y + 6 }, { x + side * 60, y + 34 }, { x, y + 30 } }, 5);
        volume_paint(c, &p, &(volume){ hex(0x7c2f28), hex(0xe08a70), hex(0xffe4d0), 40, 1.1, 0, 1, 1, 0 }, false);
    }
    ball(c, x, y + 4, 50, hex(0x7b7468), hex(0xefe8da), hex(0xffffff));
}

static void crown(canvas *c)
{
    static const spt band[] = { { 452, 1090, 70 }, { 636, 884, 92 }, { 906, 758, 104 }, { 1200, 720, 108 }, { 1494, 758, 104 }, { 1764, 884, 92 }, { 1948, 1090, 70 } };
    path p = { 0 };
    path_stroke(&p, band, 7);
    for (size_t i = 0; i < p.n; i++) p.at[i].x += 12.0, p.at[i].y += 30.0;
    soft(c, &p, 18.0, (col){ 0.1, 0.04, 0.02, 0.6 }, NULL, BLEND_OVER);
    ribbon_paint(c, band, 7, gold_shade, &GOLD, NULL);
    spt line[256];
    const size_t n = spline_points(band, 7, line, 256);
    for (int edge = -1; edge <= 1; edge += 2) { /* raised rims */
        spt rim[256];
        size_t m = 0;
        for (size_t i = 0; i < n; i += 4) {
            const spt a = line[i > 0 ? i - 1 : 0], b = line[i + 1 < n ? i + 1 : n - 1];
            const double len = hypot(b.x - a.x, b.y - a.y), off = edge * 0.46 * line[i].w / len;
            rim[m++] = (spt){ line[i].x - off * (b.y - a.y), line[i].y + off * (b.x - a.x), 18 };
        }
        ribbon_paint(c, rim, m, gold_shade, &GOLD, NULL);
    }
    for (size_t i = 8; i + 8 < n; i += 9)
        if (fabs(line[i].x - MID) > 150.0) ball(c, line[i].x, line[i].y, 0.24 * line[i].w, hex(0x857d70), hex(0xf2ecdf), hex(0xffffff));
    for (int side = -1; side <= 1; side += 2) ball(c, MID + side * 742.0, 1100.0, 62, hex(0x55300c), hex(0xd09a34), hex(0xfff0b0));
    shell(c);
}

/* ---- neck and dress ---- */

static void neck(canvas *c)
{
    path p = { 0 };
    path_spline(&p, (const pt[]){ { 960, 1850 }, { 1440, 1850 }, { 1450, 2100 }, { 1470, 2260 }, { 1600, 2370 }, { 1860, 2470 }, { 1700, 2760 }, { 1200, 2960 }, { 700, 2760 }, { 540, 2470 }, { 800, 2370 }, { 930, 2260 }, { 950, 2100 } }, 13);
    mask m = volume_paint(c, &p, &(volume){ hex(0x8a4c38), hex(0xe2a783), hex(0xffe6c8), 190, 0.95, 0.03, 18, 240, 9 }, true);
    /* shade of the chin, falling to the right */
    path_spline(&p, (const pt[]){ { 930, 1900 }, { 1200, 2080 }, { 1500, 1900 }, { 1530, 2130 }, { 1330, 2270 }, { 1150, 2250 }, { 960, 2090 } }, 7);
    soft(c, &p, 34.0, with_a(hex(0x6b3428), 0.85), &m, BLEND_OVER);
    /* the two cords of the neck and the collar bones */
    for (int side = -1; side <= 1; side += 2) {
        path_stroke(&p, (const spt[]){ { MID + side * 190, 2140, 10 }, { MID + side * 120, 2300, 26 }, { MID + side * 40, 2420, 8 } }, 3);
        soft(c, &p, 14.0, with_a(hex(0x9a5c44), 0.55), &m, BLEND_OVER);
        path_stroke(&p, (const spt[]){ { MID + side * 50, 2436, 14 }, { MID + side * 250, 2428, 28 }, { MID + side * 480, 2450, 8 } }, 3);
        soft(c, &p, 12.0, with_a(hex(0x9a5c44), 0.5), &m, BLEND_OVER);
        path_stroke(&p, (const spt[]){ { MID + side * 70, 2408, 8 }, { MID + side * 250, 2400, 18 }, { MID + side * 460, 2424, 6 } }, 3);
        soft(c, &p, 9.0, with_a(hex(0xfff0d8), 0.55), &m, BLEND_OVER);
    }
    mask_free(&m);
}

static void leaf(canvas *c, double x, double y, double a, double len, double w, const wood *k)
{
    spt at[] = { { x, y, 0.5 * w }, { x + 0.4 * len * cos(a), y + 0.4 * len * sin(a), w }, { x + 0.8 * len * cos(a), y + 0.8 * len * sin(a), 0.7 * w }, { x + len * cos(a), y + len * sin(a), 6 } };
    lock(c, at, 4, k, false);
}

/* A dress of carved leaves below a gilt neckline. */
static void dress(canvas *c)
{
    const wood teal = { hex(0x0a2a33), hex(0x1b5f6a), hex(0x3f9199), 3.0, 0.92 };
    path p = { 0 };
    path_spline(&p, (const pt[]){ { 430, 2500 }, { 560, 2452 }, { 560, 2452 }, { 760, 2640 }, { 980, 2760 }, { 1200, 2800 }, { 1420, 2760 }, { 1640, 2640 }, { 1840, 2452 }, { 1840, 2452 }, { 1970, 2500 }, { 2120, 2700 }, { 2200, 3060 }, { 2200, 3060 }, { 200, 3060 }, { 200, 3060 }, { 280, 2700 } }, 17);
    volume_paint(c, &p, &(volume){ hex(0x071f27), hex(0x154c57), hex(0x2f7f88), 160, 1.0, 0.06, 20, 90, 13 }, false);
    for (int row = 4; row >= 0; row--)
        for (int i = -8; i <= 8; i++) {
            const double u = (i + 0.5 * (row & 1)) / 6.6;
            const double x = MID + (680.0 + 40.0 * row) * u, y = 2800.0 - 340.0 * u * u + 96.0 * row;
            if (fabs(u) < 1.04 && y < 3060.0) leaf(c, x, y, 0.5 * PI - 0.6 * u, 196, 138, &teal);
        }
    static const spt hem[] = { { 540, 2446, 40 }, { 760, 2638, 62 }, { 980, 2758, 70 }, { 1200, 2798, 74 }, { 1420, 2758, 70 }, { 1640, 2638, 62 }, { 1860, 2446, 40 } };
    path_stroke(&p, hem, 7);
    for (size_t i = 0; i < p.n; i++) p.at[i].x += 8.0, p.at[i].y += 22.0;
    soft(c, &p, 14.0, (col){ 0.03, 0.08, 0.1, 0.6 }, NULL, BLEND_OVER);
    ribbon_paint(c, hem, 7, gold_shade, &GOLD, NULL);
    ball(c, MID, 2806, 64, hex(0x5c1512), hex(0xc8402f), hex(0xffb79a));
}

void figurehead_draw(canvas *c)
{
    canvas_shade(c, ground, NULL, BLEND_OVER);
    path p = { 0 };
    path_ellipse(&p, 1320, 1700, 780, 1250, 0.0); /* her shadow on the ground */
    soft(c, &p, 120.0, with_a(hex(0x6f989b), 0.5), NULL, BLEND_OVER);
    hair_behind(c);
    neck(c);
    dress(c);
    figurehead_face(c);
    hair_before(c);
    crown(c);
}
