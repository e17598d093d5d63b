/* regatta: a flat-colour poster in six inks with large lettering, sails, sun and waves. */
#include "letters.h"
#include "scenes.h"

static const uint32_t NAVY = 0x14304f, RED = 0xd8452c, YELLOW = 0xf4b23c, CREAM = 0xf7ecd3, TEAL = 0x2b8790, MINT = 0xa8d2c6;

/* The scene's window in the poster. */
static const double LEFT = 110.0, TOP = 700.0, RIGHT = 2290.0, BOTTOM = 2450.0, SEA = 1850.0;

static void flat(canvas *c, path *p, uint32_t colour, const mask *clip)
{
    mask m = mask_fill(c, p, 0.0, false);
    if (clip != NULL) mask_clip(&m, clip, false);
    mask_flat(c, &m, hex(colour), BLEND_OVER);
    mask_free(&m);
    path_free(p);
}

static void box(canvas *c, double x0, double y0, double x1, double y1, uint32_t colour)
{
    path p = { 0 };
    path_rect(&p, x0, y0, x1, y1);
    flat(c, &p, colour, NULL);
}

static void sun(canvas *c, const mask *clip)
{
    const double cx = 1330.0, cy = 1480.0;
    path p = { 0 };
    for (int i = 0; i < 22; i++) {
        const double a = 2.0 * PI * i / 22.0 + 0.05, half = PI / 44.0;
        path_poly(&p, (const pt[]){ { cx, cy }, { cx + 2600 * cos(a - half), cy + 2600 * sin(a - half) },
                                    { cx + 2600 * cos(a + half), cy + 2600 * sin(a + half) } }, 3);
    }
    flat(c, &p, CREAM, clip);
    path_ellipse(&p, cx, cy, 690, 690, 0.0);
    flat(c, &p, CREAM, clip);
    path_ellipse(&p, cx, cy, 640, 640, 0.0);
    flat(c, &p, YELLOW, clip);
}

static void coast(canvas *c, const mask *clip)
{
    path p = { 0 };
    path_spline(&p, (const pt[]){ { 60, 1900 }, { 60, 1660 }, { 60, 1660 }, { 240, 1610 }, { 420, 1680 }, { 640, 1720 }, { 860, 1800 }, { 1100, 1842 }, { 1180, 1900 }, { 1180, 1900 } }, 10);
    flat(c, &p, TEAL, clip);
    path_spline(&p, (const pt[]){ { 2340, 1900 }, { 2340, 1720 }, { 2340, 1720 }, { 2180, 1690 }, { 2020, 1750 }, { 1860, 1770 }, { 1700, 1830 }, { 1620, 1900 }, { 1620, 1900 } }, 9);
    flat(c, &p, TEAL, clip);
    /* the light on the left head */
    path_poly(&p, (const pt[]){ { 196, 1640 }, { 212, 1450 }, { 268, 1450 }, { 284, 1640 } }, 4);
    flat(c, &p, CREAM, clip);
    path_poly(&p, (const pt[]){ { 202, 1570 }, { 207, 1515 }, { 273, 1515 }, { 278, 1570 } }, 4);
    flat(c, &p, RED, clip);
    path_rect(&p, 214, 1390, 266, 1436);
    flat(c, &p, YELLOW, clip);
    path_poly(&p, (const pt[]){ { 200, 1392 }, { 240, 1340 }, { 280, 1392 } }, 3);
    path_rect(&p, 198, 1434, 282, 1452);
    flat(c, &p, NAVY, clip);
}

/* ---- boats ---- */

typedef struct boat {
    double x, y, k, tilt; /* place of the mast's foot, size, heel in radians */
    uint32_t hull, stripe, main_sail, main_shade, jib, jib_shade;
    const mask *clip;
} boat;

static void on_boat(const boat *b, path *p)
{
    const double co = cos(b->tilt), si = sin(b->tilt);
    for (size_t i = 0; i < p->n; i++) {
        const double x = p->at[i].x * b->k, y = p->at[i].y * b->k;
        p->at[i] = (pt){ b->x + co * x - si * y, b->y + si * x + co * y };
    }
}

static void piece(canvas *c, const boat *b, path *p, uint32_t colour)
{
    on_boat(b, p);
    flat(c, p, colour, b->clip);
}

static void sails(canvas *c, const boat *b)
{
    path p = { 0 };
    /* main: luff on the mast, full leech, foot on the boom */
    path_spline(&p, (const pt[]){ { 8, -1250 }, { 8, -1250 }, { 250, -900 }, { 440, -500 }, { 545, -120 }, { 545, -120 }, { 300, -92 }, { 6, -100 }, { 6, -100 } }, 9);
    piece(c, b, &p, b->main_sail);
    path_spline(&p, (const pt[]){ { 8, -1250 }, { 8, -1250 }, { 190, -860 }, { 268, -480 }, { 270, -95 }, { 270, -95 }, { 6, -100 }, { 6, -100 } }, 8);
    piece(c, b, &p, b->main_shade);
    path_spline(&p, (const pt[]){ { -14, -1130 }, { -14, -1130 }, { -130, -800 }, { -330, -380 }, { -560, -60 }, { -560, -60 }, { -300, -110 }, { -44, -100 }, { -44, -100 }, { -26, -560 } }, 10);
    piece(c, b, &p, b->jib);
    path_spline(&p, (const pt[]){ { -14, -1130 }, { -14, -1130 }, { -96, -740 }, { -150, -380 }, { -230, -106 }, { -230, -106 }, { -44, -100 }, { -44, -100 }, { -26, -560 } }, 9);
    piece(c, b, &p, b->jib_shade);
    path_stroke(&p, (const spt[]){ { 6, -1290, 20 }, { 6, -640, 30 }, { 6, 20, 32 } }, 3);
    path_stroke(&p, (const spt[]){ { 4, -92, 26 }, { 300, -92, 26 }, { 572, -104, 22 } }, 3);
    piece(c, b, &p, b->hull);
    path_poly(&p, (const pt[]){ { 6, -1290 }, { 170, -1262 }, { 110, -1235 }, { 160, -1205 }, { 8, -1222 } }, 5); /* pennant */
    piece(c, b, &p, b->stripe);
}

static void hull(canvas *c, const boat *b)
{
    path p = { 0 };
    path_spline(&p, (const pt[]){ { -690, -46 }, { -690, -46 }, { -300, -14 }, { 120, -8 }, { 600, -40 }, { 600, -40 }, { 560, 90 }, { 490, 190 }, { 490, 190 }, { 0, 230 }, { -420, 180 }, { -580, 80 } }, 12);
    piece(c, b, &p, b->hull);
    path_spline(&p, (const pt[]){ { -640, 20 }, { -640, 20 }, { -300, 48 }, { 120, 54 }, { 576, 26 }, { 576, 26 }, { 564, 72 }, { 564, 72 }, { 120, 100 }, { -300, 92 }, { -600, 62 }, { -600, 62 } }, 12);
    piece(c, b, &p, b->stripe);
}

/* A small sail far off: two triangles and a speck of hull. */
static void far_sail(canvas *c, double x, double y, double k, uint32_t colour, const mask *clip)
{
    path p = { 0 };
    path_spline(&p, (const pt[]){ { x + 6 * k, y - 200 * k }, { x + 6 * k, y - 200 * k }, { x + 58 * k, y - 110 * k }, { x + 84 * k, y - 14 * k }, { x + 84 * k, y - 14 * k }, { x + 6 * k, y - 14 * k }, { x + 6 * k, y - 14 * k } }, 7);
    path_poly(&p, (const pt[]){ { x - 6 * k, y - 176 * k }, { x - 6 * k, y - 14 * k }, { x - 70 * k, y - 14 * k } }, 3);
    flat(c, &p, colour, clip);
    path_poly(&p, (const pt[]){ { x - 90 * k, y - 2 * k }, { x + 96 * k, y - 2 * k }, { x + 70 * k, y + 24 * k }, { x - 60 * k, y + 24 * k } }, 4);
    flat(c, &p, NAVY, clip);
}

/* ---- waves ---- */

/* A row of curling crests that lean the way the wind goes: the pale crest first, the body over it. */
static void wave_row(canvas *c, double y, double step, double tall, double shift, uint32_t body, uint32_t crest, const mask *clip)
{
    static const pt shape[2][10] = {
        { { 0.0, -0.2 }, { 0.2, -0.3 }, { 0.42, -0.6 }, { 0.62, -0.98 }, { 0.78, -1.1 }, { 0.92, -0.96 }, { 0.92, -0.96 }, { 0.8, -0.8 }, { 0.79, -0.5 }, { 0.87, -0.28 } },
        { { 0.0, 0.02 }, { 0.2, -0.02 }, { 0.42, -0.22 }, { 0.6, -0.52 }, { 0.7, -0.64 }, { 0.76, -0.62 }, { 0.76, -0.62 }, { 0.73, -0.46 }, { 0.76, -0.2 }, { 0.87, -0.04 } },
    };
    for (int layer = 0; layer < 2; layer++) {
        pt at[200];
        size_t n = 0;
        for (int i = 0; i < 2; i++) at[n++] = (pt){ LEFT - 700, BOTTOM + 60 };
        for (double x = LEFT - 600 + shift; x < RIGHT + 400 && n < 180; x += step)
            for (int i = 0; i < 10; i++) at[n++] = (pt){ x + step * shape[layer][i].x, y + tall * shape[layer][i].y };
        for (int i = 0; i < 2; i++) at[n++] = (pt){ RIGHT + 900, BOTTOM + 60 };
        path p = { 0 };
        path_spline(&p, at, n);
        flat(c, &p, layer ? body : crest, clip);
    }
}

static void gull(canvas *c, double x, double y, double k, uint32_t colour, const mask *clip)
{
    path p = { 0 };
    path_spline(&p, (const pt[]){ { x - 150 * k, y - 44 * k }, { x - 150 * k, y - 44 * k }, { x - 84 * k, y - 60 * k }, { x - 24 * k, y - 8 * k }, { x, y }, { x + 26 * k, y - 14 * k }, { x + 90 * k, y - 72 * k }, { x + 160 * k, y - 60 * k }, { x + 160 * k, y - 60 * k },
                                  { x + 92 * k, y - 44 * k }, { x + 34 * k, y + 16 * k }, { x, y + 34 * k }, { x - 34 * k, y + 20 * k }, { x - 84 * k, y - 34 * k } }, 14);
    flat(c, &p, colour, clip);
}

/* ---- lettering ---- */

static void centred(canvas *c, const char *text, double x0, double x1, double y, double height, double gap, uint32_t colour)
{
    path p = { 0 };
    const double w = height * letters_width(text, gap);
    letters_add(&p, text, 0.5 * (x0 + x1) - 0.5 * w, y, height, gap, NULL, NULL);
    flat(c, &p, colour, NULL);
}

static void star(canvas *c, double x, double y, double r, uint32_t colour)
{
    path p = { 0 };
    for (int i = 0; i < 10; i++) {
        const double a = PI * i / 5.0 - 0.5 * PI, q = i % 2 ? 0.42 * r : r;
        path_add(&p, x + q * cos(a), y + q * sin(a));
    }
    path_close(&p);
    flat(c, &p, colour, NULL);
}

static void lettering(canvas *c)
{
    centred(c, "HALVEN BAY", LEFT, RIGHT, 232, 282, 0.1, CREAM);
    box(c, 220, 606, 2180, 622, YELLOW);
    /* a drop in red under the big word, then the word */
    centred(c, "REGATTA", LEFT + 18, RIGHT + 18, 2518, 392, 0.06, RED);
    centred(c, "REGATTA", LEFT, RIGHT, 2500, 392, 0.06, CREAM);
    centred(c, "FIRST GUN AT NOON", LEFT, RIGHT, 2978, 84, 0.17, YELLOW);
    star(c, 330, 3020, 52, RED);
    star(c, 2070, 3020, 52, RED);
}

void regatta_draw(canvas *c)
{
    box(c, -10, -10, 2410, 3210, CREAM);
    box(c, 60, 60, 2340, 3140, NAVY);
    path p = { 0 };
    path_rect(&p, LEFT, TOP, RIGHT, BOTTOM);
    mask window = mask_fill(c, &p, 0.0, false);
    flat(c, &p, MINT, NULL);
    sun(c, &window);
    coast(c, &window);
    wave_row(c, SEA + 14, 170, 26, 0, MINT, CREAM, &window);
    far_sail(c, 470, 1872, 1.0, RED, &window);
    far_sail(c, 320, 1874, 0.66, CREAM, &window);
    const boat second = { 1900, 1990, 0.62, 0.10, NAVY, YELLOW, RED, RED, TEAL, TEAL, &window };
    wave_row(c, SEA + 112, 260, 62, -90, TEAL, CREAM, &window);
    sails(c, &second);
    hull(c, &second);
    wave_row(c, SEA + 236, 360, 92, -40, TEAL, CREAM, &window);
    const boat first = { 1090, 2080, 1.0, 0.13, NAVY, RED, CREAM, MINT, RED, RED, &window };
    sails(c, &first);
    hull(c, &first);
    wave_row(c, SEA + 396, 460, 128, -150, TEAL, CREAM, &window);
    wave_row(c, SEA + 560, 580, 150, -60, NAVY, MINT, &window);
    gull(c, 520, 1010, 1.0, NAVY, &window);
    gull(c, 780, 880, 0.7, NAVY, &window);
    gull(c, 1990, 980, 0.85, CREAM, &window);
    mask_free(&window);
    lettering(c);
}
