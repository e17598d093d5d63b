/* The heron itself, facing left, in units of its own: head near (1100, 300), waterline near y 1507. */
#include "scenes.h"

static const pt BODY[] = { { 1122, 800 }, { 1098, 900 }, { 1130, 1000 }, { 1225, 1088 }, { 1370, 1148 }, { 1550, 1168 },
                           { 1720, 1184 }, { 1880, 1218 }, { 1990, 1262 }, { 1990, 1262 }, { 1962, 1190 }, { 1868, 1070 },
                           { 1748, 940 },  { 1610, 838 },  { 1450, 778 },  { 1310, 756 },  { 1200, 764 } };
static const spt NECK[] = { { 1150, 306, 92 },  { 1192, 372, 84 },  { 1212, 455, 78 },  { 1190, 550, 80 }, { 1140, 642, 90 },
                            { 1112, 735, 106 }, { 1136, 838, 140 }, { 1205, 925, 190 } };
static const pt HEAD[] = { { 1046, 268 }, { 1090, 243 }, { 1150, 244 }, { 1200, 276 }, { 1206, 318 }, { 1170, 350 },
                           { 1110, 356 }, { 1052, 346 }, { 1028, 312 } };
static const spt LEG_A[] = { { 1404, 1110, 84 }, { 1402, 1180, 58 }, { 1405, 1240, 34 }, { 1412, 1292, 25 }, { 1420, 1330, 31 },
                             { 1414, 1375, 23 }, { 1406, 1440, 20 }, { 1400, 1492, 21 } };
static const spt LEG_B[] = { { 1530, 1125, 88 }, { 1540, 1200, 58 }, { 1550, 1260, 34 }, { 1560, 1312, 25 }, { 1572, 1350, 31 },
                             { 1564, 1400, 23 }, { 1552, 1470, 20 }, { 1546, 1536, 21 } };

#define LEN(a) (sizeof(a) / sizeof((a)[0]))

static void beak_upper(path *p)
{
    path_spline(p, (const pt[]){ { 1052, 270 }, { 960, 290 }, { 830, 324 }, { 694, 362 }, { 694, 362 }, { 830, 342 }, { 950, 326 }, { 1052, 318 }, { 1052, 318 } }, 9);
}

static void beak_lower(path *p)
{
    path_spline(p, (const pt[]){ { 1062, 318 }, { 950, 326 }, { 830, 342 }, { 698, 363 }, { 698, 363 }, { 830, 356 }, { 950, 350 }, { 1060, 346 }, { 1060, 346 } }, 9);
}

void heron_bird_outline(path *p)
{
    path_spline(p, BODY, LEN(BODY));
    path_stroke(p, NECK, LEN(NECK));
    path_spline(p, HEAD, LEN(HEAD));
    path_stroke(p, LEG_A, LEN(LEG_A));
    path_stroke(p, LEG_B, LEN(LEG_B));
    beak_upper(p);
    beak_lower(p);
}

/* ---- feathers ---- */

typedef struct vane {
    col edge, body, light, shaft;
    double len, w; /* of this feather, for barbs at an even distance */
} vane;

/* A feather: shaft, barbs that leave it at a slant, a dark and a lit half, a pale rim. */
static col vane_shade(const ribbon_at *at, const void *ctx)
{
    const double t = at->t, s = at->s;
    const vane *v = ctx;
    const double a = fabs(s), along = t * v->len - 0.55 * a * v->w;
    const double barb = 0.5 + 0.5 * sin(2.0 * PI * along / 8.5);
    col out = mix(v->body, v->light, 0.55 * clamp01(0.35 + 0.65 * s) + 0.16 * barb);
    out = mix(out, v->edge, 0.75 * smooth(0.78, 1.0, a) * (0.4 + 0.6 * smooth(0.2, 0.9, t)));
    out = mix(out, mix(v->body, hex(0x0c1116), 0.7), 0.5 * smooth(0.35, 0.0, t));
    return mix(out, v->shaft, 0.85 * smooth(0.11, 0.05, a) * smooth(1.0, 0.9, t));
}

static void feather(canvas *c, double x, double y, double turn, double len, double w, double curl, vane v, const mask *clip)
{
    static const double profile[] = { 0.35, 0.8, 1.0, 0.96, 0.7, 0.1 };
    spt at[6];
    for (int i = 0; i < 6; i++) {
        const double t = i / 5.0, a = turn + curl * t;
        at[i] = (spt){ x + len * t * cos(a), y + len * t * sin(a), w * profile[i] };
    }
    v.len = len;
    v.w = 0.5 * w;
    path shadow = { 0 };
    path_stroke(&shadow, at, 6);
    for (size_t i = 0; i < shadow.n; i++) shadow.at[i].x += 3.0, shadow.at[i].y += 7.0;
    soft(c, &shadow, 5.0, (col){ 0.05, 0.08, 0.11, 0.38 }, clip, BLEND_OVER);
    ribbon_paint(c, at, 6, vane_shade, &v, clip);
}

/* Rows of the folded wing, hidden ones first: long dark quills, then shorter and paler toward the shoulder. */
static void wing(canvas *c)
{
    const vane quill = { hex(0x46535c), hex(0x1d262d), hex(0x4a5862), hex(0x0c1114), 0, 0 };
    const vane mid = { hex(0xaeb8bd), hex(0x4d5c67), hex(0x8296a2), hex(0x27323a), 0, 0 };
    const vane covert = { hex(0xdfe4e2), hex(0x74858f), hex(0xb0bfc6), hex(0x44525c), 0, 0 };
    for (int i = 0; i < 8; i++) {
        const double k = i / 7.0;
        feather(c, lerp(1650, 1500, k), lerp(872, 1104, k), lerp(0.82, 0.17, k), lerp(470, 470, k), 72, 0.05, quill, NULL);
    }
    for (int i = 0; i < 10; i++) {
        const double k = i / 9.0;
        feather(c, lerp(1500, 1370, k), lerp(806, 1086, k), lerp(0.56, 0.16, k), lerp(330, 300, k), 76, 0.1, mid, NULL);
    }
    for (int i = 0; i < 9; i++) {
        const double k = i / 8.0;
        feather(c, lerp(1380, 1284, k), lerp(784, 1044, k), lerp(0.42, 0.18, k), 236, 74, 0.08, covert, NULL);
    }
    for (int i = 0; i < 8; i++) {
        const double k = i / 7.0;
        feather(c, lerp(1290, 1216, k), lerp(784, 990, k), lerp(0.4, 0.2, k), 186, 66, 0.08, covert, NULL);
    }
    for (int i = 0; i < 6; i++) {
        const double k = i / 5.0;
        feather(c, lerp(1216, 1180, k), lerp(800, 930, k), lerp(0.36, 0.26, k), 136, 56, 0.06, covert, NULL);
    }
}

typedef struct two_tone {
    col dark, light;
    double root; /* how long the dark near the root is, 0 for none */
} two_tone;

static col plume(const ribbon_at *at, const void *ctx)
{
    const double t = at->t, s = at->s;
    const two_tone *p = ctx;
    return mix(p->dark, p->light, clamp01(0.55 - 0.5 * s - 0.25 * t) * smooth(-0.15, 0.3 * p->root, t));
}

/* Long loose plumes over the back, and the bib that hangs from the lower neck. */
static void plumes(canvas *c)
{
    const two_tone back = { hex(0x6c7e8a), hex(0xeef2f0), 0.0 }, bib = { hex(0x8d999e), hex(0xffffff), 0.0 };
    for (int i = 0; i < 7; i++) {
        const double k = i / 6.0, x = lerp(1330, 1480, k), y = lerp(800, 842, k);
        const double len = lerp(380, 330, k), drop = lerp(0.5, 0.62, k);
        ribbon_paint(c, (const spt[]){ { x, y, 2 }, { x + 0.4 * len, y + 0.4 * len * drop - 16, 15 }, { x + len, y + len * drop + 26, 2 } }, 3, plume, &back, NULL);
    }
    for (int i = 0; i < 22; i++) {
        const double k = fmod(i * 0.382, 1.0), row = i / 21.0, x = lerp(1082, 1200, k), y = lerp(796, 872, k) + 60.0 * row;
        const double len = 150 + 70 * sin(5.0 * k) + 30.0 * row;
        ribbon_paint(c, (const spt[]){ { x, y, 2 }, { x - 6 + 26 * k, y + 0.45 * len, 20 }, { x + 20 + 30 * k, y + len, 2 } }, 3, plume, &bib, NULL);
    }
}

/* ---- neck, head, legs ---- */

static col neck_shade(const ribbon_at *at, const void *ctx)
{
    const double t = at->t, s = at->s, x = at->x, y = at->y;
    (void)ctx;
    /* s is +1 on the front (the bird runs down its neck with the viewer's left to its right) */
    const double lit = clamp01(0.62 + 0.5 * s - 0.35 * s * s * (s < 0.0 ? 1.6 : 0.35));
    const col v = mix(hex(0x66757e), hex(0xf3f1ea), lit + 0.08 * fbm(x / 7.0, y / 30.0, 3, 5));
    return with_a(v, smooth(1.0, 0.84, t + 0.1 * s)); /* into the breast without an edge */
}

/* Dark dashes down the front of the neck, each a little lens along it. */
static void neck_marks(canvas *c)
{
    spt line[256];
    const size_t n = spline_points(NECK, LEN(NECK), line, 256);
    uint64_t seed = 31;
    for (int row = 0; row < 3; row++)
        for (size_t i = 14 + 2 * (size_t)row; i + 14 < n; i += 6) {
            const spt p = line[i], q = line[i + 5];
            const double s = 0.3 - 0.15 * row + 0.03 * rnd(&seed), len = hypot(q.x - p.x, q.y - p.y);
            const double nx = -(q.y - p.y) / len, ny = (q.x - p.x) / len, w = (row == 0 ? 12.0 : 8.0 - 2.0 * row) * rnd_range(&seed, 0.75, 1.1);
            path d = { 0 };
            path_stroke(&d, (const spt[]){ { p.x + s * p.w * nx, p.y + s * p.w * ny, 1 },
                                           { 0.5 * (p.x + q.x) + s * p.w * nx, 0.5 * (p.y + q.y) + s * p.w * ny, w },
                                           { q.x + s * q.w * nx, q.y + s * q.w * ny, 1 } }, 3);
            fill(c, &d, with_a(hex(0x1d2329), row == 2 ? 0.6 : 0.92));
        }
}

static void legs(canvas *c)
{
    const volume far = { hex(0x352f24), hex(0x6f6042), hex(0xa08e5e), 16, 1.1, 0.12, 9, 5, 7 };
    const volume near = { hex(0x3b3222), hex(0x8a7548), hex(0xd9c387), 16, 1.1, 0.14, 9, 5, 9 };
    path p = { 0 };
    path_stroke(&p, LEG_B, LEN(LEG_B));
    volume_paint(c, &p, &far, false);
    path_stroke(&p, LEG_A, LEN(LEG_A));
    volume_paint(c, &p, &near, false);
}

static void thighs(canvas *c)
{
    const two_tone down = { hex(0x3b4852), hex(0xc9d0d0), 1.6 };
    for (int leg = 0; leg < 2; leg++) {
        const double x0 = leg ? 1402 : 1534, y0 = leg ? 1110 : 1128;
        for (int i = 0; i < 7; i++) {
            const double k = (i - 3) / 3.0;
            ribbon_paint(c, (const spt[]){ { x0 + 40 * k, y0 - 6, 30 }, { x0 + 26 * k, y0 + 66, 24 }, { x0 + 5 * k + 2, y0 + 128 - 22 * fabs(k), 3 } }, 3, plume, &down, NULL);
        }
    }
}

static void beak(canvas *c)
{
    path p = { 0 };
    beak_lower(&p);
    volume_paint(c, &p, &(volume){ hex(0x6f4a1c), hex(0xc98b35), hex(0xe9b45a), 18, 1.0, 0, 1, 1, 0 }, false);
    beak_upper(&p);
    volume_paint(c, &p, &(volume){ hex(0x7d5320), hex(0xdca044), hex(0xffe19a), 26, 1.1, 0, 1, 1, 0 }, false);
    path_stroke(&p, (const spt[]){ { 1058, 318, 5 }, { 950, 327, 4 }, { 830, 343, 3 }, { 700, 362, 1.5 } }, 4); /* the line between */
    fill(c, &p, hex(0x3a2810));
    path_stroke(&p, (const spt[]){ { 1012, 298, 7 }, { 985, 303, 5 }, { 955, 311, 1 } }, 3); /* nostril */
    fill(c, &p, hex(0x4a3414));
}

static void eye(canvas *c)
{
    path p = { 0 };
    path_ellipse(&p, 1088, 300, 24, 22, 0.0);
    fill(c, &p, hex(0x20262b));
    path_ellipse(&p, 1087, 300, 18.5, 17.5, 0.0);
    fill(c, &p, hex(0xf2c230));
    path_ellipse(&p, 1089, 305, 14, 10, 0.0);
    soft(c, &p, 4.0, with_a(hex(0xb56c12), 0.7), NULL, BLEND_OVER);
    path_ellipse(&p, 1086, 300, 9.5, 9.5, 0.0);
    fill(c, &p, hex(0x07090b));
    path_ellipse(&p, 1082, 295, 3.6, 3.6, 0.0);
    fill(c, &p, hex(0xffffff));
}

static void head(canvas *c)
{
    const two_tone crest = { hex(0x0d1217), hex(0x3c4a57), 0.0 };
    ribbon_paint(c, (const spt[]){ { 1180, 282, 26 }, { 1270, 318, 20 }, { 1370, 398, 3 } }, 3, plume, &crest, NULL);
    path p = { 0 };
    path_spline(&p, HEAD, LEN(HEAD));
    mask m = volume_paint(c, &p, &(volume){ hex(0x77838a), hex(0xe9e8e2), hex(0xffffff), 60, 0.9, 0.05, 8, 5, 13 }, true);
    /* bare skin before the eye */
    path_spline(&p, (const pt[]){ { 1030, 292 }, { 1066, 292 }, { 1082, 312 }, { 1040, 324 } }, 4);
    soft(c, &p, 6.0, with_a(hex(0xb9a24c), 0.8), &m, BLEND_OVER);
    mask_free(&m);
    beak(c);
    /* the black band from above the eye into the crest */
    path_spline(&p, (const pt[]){ { 1064, 272 }, { 1100, 246 }, { 1160, 248 }, { 1214, 286 }, { 1290, 334 }, { 1390, 430 }, { 1390, 430 },
                                  { 1280, 352 }, { 1204, 318 }, { 1150, 292 }, { 1100, 284 } }, 11);
    volume_paint(c, &p, &(volume){ hex(0x05080b), hex(0x141b22), hex(0x4a5a68), 22, 1.0, 0.1, 30, 6, 17 }, false);
    eye(c);
}

/* Light on the back and shade below, over the feathers, so that the wing reads as one rounded form. */
static void round_wing(canvas *c)
{
    path p = { 0 };
    path_spline(&p, BODY, LEN(BODY));
    const mask body = mask_fill(c, &p, 0.0, false);
    path_free(&p);
    path_stroke(&p, (const spt[]){ { 1120, 1010, 60 }, { 1300, 1130, 120 }, { 1600, 1190, 150 }, { 2000, 1270, 120 } }, 4);
    soft(c, &p, 48.0, with_a(hex(0x4a5d70), 0.8), &body, BLEND_MULTIPLY);
    path_stroke(&p, (const spt[]){ { 1190, 810, 60 }, { 1330, 800, 90 }, { 1520, 846, 90 }, { 1700, 960, 40 } }, 4);
    soft(c, &p, 34.0, with_a(hex(0xb9b3a4), 0.42), &body, BLEND_SCREEN);
    mask m = body;
    mask_free(&m);
}

void heron_bird_draw(canvas *c)
{
    legs(c);
    path p = { 0 };
    path_spline(&p, BODY, LEN(BODY));
    volume_paint(c, &p, &(volume){ hex(0x2c3740), hex(0x7e8d96), hex(0xd5dcdc), 230, 0.9, 0.1, 60, 9, 19 }, false);
    thighs(c);
    ribbon_paint(c, NECK, LEN(NECK), neck_shade, NULL, NULL);
    neck_marks(c);
    path_ellipse(&p, 1140, 372, 62, 24, 0.1); /* shade of the chin */
    mask neck = { 0 };
    path under = { 0 };
    path_stroke(&under, NECK, LEN(NECK));
    neck = mask_fill(c, &under, 0.0, false);
    path_free(&under);
    soft(c, &p, 16.0, with_a(hex(0x3c4850), 0.75), &neck, BLEND_OVER);
    mask_free(&neck);
    wing(c);
    round_wing(c);
    plumes(c);
    head(c);
}
