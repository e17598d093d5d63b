/*
 * The figurehead's face: a height field lit from the upper left for the broad forms, crisp painted shapes for eyes,
 * brows, nose and lips on top. The middle of the face is x = 1200; the chin is at 2085, the eye line at 1325.
 */
#include "scenes.h"

#include "base/base.h"

static const double MID = 1200.0;

/* ---- broad forms ---- */

static double blob(double x, double y, double cx, double cy, double sx, double sy)
{
    const double u = (x - cx) / sx, v = (y - cy) / sy;
    const double d = u * u + v * v;
    return d < 40.0 ? exp(-d) : 0.0;
}

/* The same blob left and right; both count everywhere, so that no crease stands in the middle. */
static double pair(double x, double y, double off, double cy, double sx, double sy)
{
    return blob(x, y, MID - off, cy, sx, sy) + blob(x, y, MID + off, cy, sx, sy);
}

/* Height above the paper in design units. Sizes come from trial on this face alone. */
static double height(double x, double y)
{
    const double ax = fabs(x - MID), u = ax / 540.0, v = (y - 1430.0) / 800.0;
    double h = 430.0 * sqrt(fmax(0.02, 1.06 - u * u * (1.0 + 0.12 * v) - 0.55 * v * v));
    h += 46.0 * blob(x, y, MID, 980.0, 330.0, 230.0);     /* forehead */
    h -= 74.0 * pair(x, y, 196.0, 1300.0, 150.0, 78.0);   /* eye socket */
    h += 30.0 * pair(x, y, 200.0, 1196.0, 190.0, 46.0);   /* brow ridge */
    h += 44.0 * pair(x, y, 200.0, 1318.0, 96.0, 58.0);    /* the ball of the eye under its lids */
    h += 44.0 * pair(x, y, 340.0, 1500.0, 150.0, 110.0);  /* cheek */
    h -= 34.0 * pair(x, y, 330.0, 1740.0, 140.0, 150.0);  /* hollow under it */
    const double down = clamp01((y - 1220.0) / 370.0);     /* along the nose */
    const double nose = smooth(1150.0, 1330.0, y) * smooth(1664.0, 1590.0, y);
    const double half = 56.0 + 22.0 * down * down;
    h += nose * (34.0 + 84.0 * down * down) * exp(-(ax / half) * (ax / half));
    h += 40.0 * blob(x, y, MID, 1594.0, 62.0, 50.0);      /* tip */
    h += 34.0 * pair(x, y, 80.0, 1606.0, 36.0, 36.0);     /* wings of the nose */
    h -= 9.0 * blob(x, y, MID, 1690.0, 20.0, 40.0);       /* groove above the lip */
    h += 30.0 * blob(x, y, MID, 1776.0, 170.0, 96.0);     /* the teeth behind the lips */
    h += 14.0 * pair(x, y, 52.0, 1744.0, 70.0, 30.0) + 26.0 * blob(x, y, MID, 1812.0, 92.0, 32.0);
    h -= 20.0 * blob(x, y, MID, 1886.0, 120.0, 30.0);     /* under the lower lip */
    h += 48.0 * blob(x, y, MID, 1990.0, 112.0, 84.0);     /* chin */
    h -= 5.0 * pair(x, y, 178.0, 1770.0, 34.0, 40.0);    /* corners of the mouth */
    return h;
}

typedef struct relief {
    const canvas *c;
    mask z; /* height, pixel by pixel */
} relief;

static void relief_rows(size_t begin, size_t end, void *ctx)
{
    const relief *r = ctx;
    for (size_t j = begin; j < end; j++)
        for (int i = 0; i < r->z.w; i++)
            r->z.a[j * (size_t)r->z.w + (size_t)i] = (float)height((r->z.x0 + i + 0.5 - r->c->ox) / r->c->sx, (r->z.y0 + (int)j + 0.5 - r->c->oy) / r->c->sy);
}

static col skin(double x, double y, const void *ctx)
{
    const relief *r = ctx;
    static const uint32_t stops[] = { 0x5e2a21, 0x93503b, 0xc58462, 0xe4ae88, 0xf5d0aa, 0xfff0d9 };
    col c[6];
    for (int i = 0; i < 6; i++) c[i] = hex(stops[i]);
    const int px = (int)floor(r->c->ox + r->c->sx * x), py = (int)floor(r->c->oy + r->c->sy * y);
    const int e = (int)fmax(1.0, 2.0 * r->c->sx);
    const double k = r->c->sx / (2.0 * e);
    const double nx = k * (mask_at(&r->z, px - e, py) - mask_at(&r->z, px + e, py));
    const double ny = k * (mask_at(&r->z, px, py - e) - mask_at(&r->z, px, py + e));
    double lit = (-0.5 * nx - 0.46 * ny + 0.73) / sqrt(nx * nx + ny * ny + 1.0);
    lit = 0.49 + 0.76 * (lit - 0.38);
    lit = lit > 0.3 ? lit : 0.3 - 0.5 * (0.3 - lit);
    /* grain of the wood under the paint, and a hint of the chisel */
    lit += 0.014 * fbm(x / 10.0, y / 210.0 + 0.4 * sin(x / 150.0), 3, 17) + 0.01 * noise2(x / 34.0, y / 40.0, 23);
    const col v = ramp(c, 6, lit);
    const double blush = 0.26 * (blob(fabs(x - MID), y, 330.0, 1540.0, 130.0, 90.0) + 0.4 * blob(fabs(x - MID), y, 0.0, 1580.0, 60.0, 50.0));
    return mix(v, (col){ v.r * 0.98, v.g * 0.72, v.b * 0.66, 1.0 }, blush);
}

static void face_outline(path *p)
{
    static const pt half[] = { { 1200, 700 }, { 1010, 730 }, { 830, 850 }, { 724, 1060 }, { 700, 1300 }, { 718, 1490 }, { 776, 1690 }, { 880, 1870 }, { 1020, 2016 }, { 1122, 2076 } };
    pt all[20];
    for (int i = 0; i < 10; i++) all[i] = half[i];
    all[10] = (pt){ 1200, 2090 };
    for (int i = 1; i < 10; i++) all[10 + i] = (pt){ 2.0 * MID - half[10 - i].x, half[10 - i].y };
    path_spline(p, all, 20);
}

/* ---- helpers for things that come in pairs ---- */

static void side_points(const pt *in, size_t n, int side, pt *out)
{
    for (size_t i = 0; i < n; i++) out[i] = (pt){ MID + side * (in[i].x - MID), in[i].y };
}

/* Points are given for the viewer's left side; side is 1 for that one, -1 for the other. */
static void shape(path *p, const pt *in, size_t n, int side)
{
    pt at[24];
    side_points(in, n, side, at);
    path_spline(p, at, n);
}

static void line(path *p, const spt *in, size_t n, int side)
{
    spt at[24];
    for (size_t i = 0; i < n; i++) at[i] = (spt){ MID + side * (in[i].x - MID), in[i].y, in[i].w };
    path_stroke(p, at, n);
}

#define LEN(a) (sizeof(a) / sizeof((a)[0]))

/* ---- eyes ---- */

static const pt LID[] = { { 880, 1328 }, { 880, 1328 }, { 920, 1292 }, { 980, 1272 }, { 1040, 1280 }, { 1084, 1314 }, { 1110, 1350 }, { 1110, 1350 },
                          { 1062, 1369 }, { 1000, 1377 }, { 936, 1362 } };

static col iris(double x, double y, const void *ctx)
{
    const pt *at = ctx;
    const double dx = x - at->x, dy = y - at->y, r = hypot(dx, dy) / 52.0, a = atan2(dy, dx);
    const double ray = 0.5 + 0.5 * noise2(14.0 * cos(a) + 40.0, 14.0 * sin(a) + 3.0 * r, 29);
    col v = mix(hex(0x17454d), hex(0x46979a), clamp01(0.3 + 0.5 * (dy + 18.0) / 52.0 + 0.35 * (ray - 0.5)));
    v = mix(v, hex(0xd9c27a), 0.5 * smooth(0.62, 0.42, r) * ray);
    return mix(v, hex(0x0b2026), smooth(0.78, 0.98, r));
}

static void eye(canvas *c, int side)
{
    const pt centre = { MID + side * (998.0 - MID), 1322.0 };
    path p = { 0 };
    /* lid above, socket shade toward the nose */
    shape(&p, (const pt[]){ { 872, 1316 }, { 910, 1268 }, { 980, 1242 }, { 1050, 1250 }, { 1112, 1300 }, { 1112, 1344 }, { 1040, 1268 }, { 980, 1258 }, { 922, 1284 } }, 9, side);
    soft(c, &p, 9.0, with_a(hex(0xffe7c8), side > 0 ? 0.55 : 0.38), NULL, BLEND_OVER);
    line(&p, (const spt[]){ { 860, 1296, 3 }, { 906, 1254, 10 }, { 980, 1228, 12 }, { 1052, 1238, 10 }, { 1106, 1292, 3 } }, 5, side);
    soft(c, &p, 3.0, with_a(hex(0x5d2b20), 0.8), NULL, BLEND_OVER);
    shape(&p, LID, LEN(LID), side);
    mask m = volume_paint(c, &p, &(volume){ hex(0xd3b49c), hex(0xf6ead9), hex(0xffffff), 50, 0.8, 0, 1, 1, 0 }, true);
    path_ellipse(&p, MID + side * (1104.0 - MID), 1346, 15, 12, 0.0);
    soft(c, &p, 4.0, with_a(hex(0xd0806a), 0.9), &m, BLEND_OVER);
    path_ellipse(&p, centre.x, centre.y, 52, 52, 0.0);
    mask ring = mask_fill(c, &p, 0.0, false);
    path_free(&p);
    mask_clip(&ring, &m, false);
    mask_paint(c, &ring, iris, &centre, BLEND_OVER);
    mask_free(&ring);
    path_ellipse(&p, centre.x, centre.y, 23, 23, 0.0);
    soft(c, &p, 0.8, hex(0x05090b), &m, BLEND_OVER);
    /* shade of the upper lid on the ball */
    line(&p, (const spt[]){ { 886, 1322, 10 }, { 926, 1280, 30 }, { 984, 1258, 40 }, { 1042, 1266, 34 }, { 1100, 1326, 12 } }, 5, side);
    soft(c, &p, 9.0, with_a(hex(0x2b1a18), 0.6), &m, BLEND_OVER);
    path_ellipse(&p, centre.x - 19.0, centre.y - 17.0, 12, 12, 0.0);
    soft(c, &p, 0.8, hex(0xffffff), &m, BLEND_OVER);
    path_ellipse(&p, centre.x + 20.0, centre.y + 22.0, 8, 6, 0.0);
    soft(c, &p, 2.0, with_a(hex(0xbfe6dc), 0.3), &m, BLEND_OVER);
    mask_free(&m);
    /* painted lash line with a wing, and the lower rim */
    line(&p, (const spt[]){ { 838, 1300, 2 }, { 878, 1326, 15 }, { 920, 1290, 22 }, { 980, 1269, 25 }, { 1040, 1277, 21 }, { 1084, 1311, 14 }, { 1112, 1352, 3 } }, 7, side);
    fill(c, &p, hex(0x24100c));
    line(&p, (const spt[]){ { 880, 1330, 8 }, { 936, 1366, 7 }, { 1000, 1381, 6 }, { 1062, 1373, 4 }, { 1106, 1350, 2 } }, 5, side);
    fill(c, &p, with_a(hex(0x6b3226), 0.9));
    line(&p, (const spt[]){ { 896, 1356, 4 }, { 940, 1392, 12 }, { 1002, 1408, 14 }, { 1066, 1394, 8 } }, 4, side);
    soft(c, &p, 6.0, with_a(hex(0xffeacc), 0.5), NULL, BLEND_OVER);
}

static void brow(canvas *c, int side)
{
    path p = { 0 };
    shape(&p, (const pt[]){ { 1110, 1186 }, { 1106, 1168 }, { 1076, 1154 }, { 1010, 1140 }, { 926, 1136 }, { 852, 1164 }, { 800, 1222 }, { 800, 1222 }, { 864, 1184 }, { 930, 1168 }, { 1020, 1178 } }, 11, side);
    volume_paint(c, &p, &(volume){ hex(0x2b130d), hex(0x55291a), hex(0x94593a), 26, 0.9, 0.22, 26, 6, 37 }, false);
}

/* ---- nose and mouth ---- */

static void nose(canvas *c)
{
    path p = { 0 };
    /* the shade it throws, to the right and below */
    path_spline(&p, (const pt[]){ { 1140, 1650 }, { 1210, 1664 }, { 1280, 1640 }, { 1316, 1672 }, { 1270, 1704 }, { 1200, 1690 } }, 6);
    soft(c, &p, 15.0, with_a(hex(0x7a3a2a), 0.5), NULL, BLEND_OVER);
    path_stroke(&p, (const spt[]){ { 1262, 1380, 6 }, { 1268, 1460, 20 }, { 1280, 1530, 36 }, { 1306, 1596, 20 } }, 4); /* its far side */
    soft(c, &p, 18.0, with_a(hex(0x8d4a36), 0.42), NULL, BLEND_OVER);
    for (int side = -1; side <= 1; side += 2) {
        line(&p, (const spt[]){ { 1100, 1574, 2 }, { 1084, 1606, 7 }, { 1094, 1638, 8 }, { 1116, 1646, 2 } }, 4, side);
        soft(c, &p, 3.5, with_a(hex(0x6b3022), side > 0 ? 0.6 : 0.75), NULL, BLEND_OVER);
        shape(&p, (const pt[]){ { 1118, 1644 }, { 1140, 1636 }, { 1166, 1646 }, { 1176, 1657 }, { 1148, 1655 } }, 5, side);
        soft(c, &p, 1.8, with_a(hex(0x3d160f), 0.92), NULL, BLEND_OVER);
    }
    path_stroke(&p, (const spt[]){ { 1116, 1646, 2 }, { 1150, 1657, 6 }, { 1176, 1656, 5 }, { 1200, 1666, 8 }, { 1224, 1656, 5 }, { 1250, 1657, 6 }, { 1284, 1646, 2 } }, 7);
    soft(c, &p, 3.0, with_a(hex(0x5e281d), 0.6), NULL, BLEND_OVER);
    path_stroke(&p, (const spt[]){ { 1190, 1270, 8 }, { 1187, 1400, 16 }, { 1184, 1510, 20 }, { 1182, 1566, 10 } }, 4);
    soft(c, &p, 9.0, with_a(hex(0xfff6e4), 0.55), NULL, BLEND_OVER);
    path_ellipse(&p, 1182, 1584, 20, 15, -0.4);
    soft(c, &p, 7.0, with_a(hex(0xffffff), 0.75), NULL, BLEND_OVER);
}

static void mouth(canvas *c)
{
    canvas up = canvas_view(c, 1.0, 1.0, 0.0, -24.0);
    c = &up;
    path p = { 0 };
    path_spline(&p, (const pt[]){ { 1026, 1782 }, { 1026, 1782 }, { 1110, 1759 }, { 1164, 1740 }, { 1200, 1752 }, { 1236, 1740 }, { 1290, 1759 }, { 1374, 1782 }, { 1374, 1782 },
                                  { 1296, 1804 }, { 1240, 1800 }, { 1200, 1810 }, { 1160, 1800 }, { 1104, 1804 } }, 14);
    volume_paint(c, &p, &(volume){ hex(0x5f1714), hex(0xa9382f), hex(0xe07f6a), 44, 0.9, 0.03, 12, 30, 43 }, false);
    path_spline(&p, (const pt[]){ { 1036, 1788 }, { 1036, 1788 }, { 1104, 1803 }, { 1160, 1799 }, { 1200, 1809 }, { 1240, 1799 }, { 1296, 1803 }, { 1364, 1788 }, { 1364, 1788 },
                                  { 1308, 1848 }, { 1250, 1876 }, { 1200, 1881 }, { 1150, 1876 }, { 1092, 1848 } }, 14);
    mask m = volume_paint(c, &p, &(volume){ hex(0x74211b), hex(0xc5493c), hex(0xf3a48e), 64, 1.0, 0.03, 12, 30, 47 }, true);
    path_stroke(&p, (const spt[]){ { 1124, 1834, 6 }, { 1176, 1842, 18 }, { 1240, 1840, 8 } }, 3);
    soft(c, &p, 7.0, with_a(hex(0xffe3d6), 0.85), &m, BLEND_OVER);
    mask_free(&m);
    path_stroke(&p, (const spt[]){ { 1018, 1776, 3 }, { 1040, 1788, 10 }, { 1104, 1804, 8 }, { 1160, 1800, 9 }, { 1200, 1811, 11 }, { 1240, 1800, 9 }, { 1296, 1804, 8 }, { 1360, 1788, 10 }, { 1382, 1776, 3 } }, 9);
    soft(c, &p, 1.2, hex(0x3d0d0c), NULL, BLEND_OVER);
    path_ellipse(&p, 1206, 1906, 110, 16, 0.0);
    soft(c, &p, 14.0, with_a(hex(0x8a4a38), 0.6), NULL, BLEND_OVER);
}

void figurehead_face(canvas *c)
{
    path p = { 0 };
    face_outline(&p);
    mask face = mask_fill(c, &p, 6.0, false);
    path_free(&p);
    relief r = { .c = c, .z = mask_copy(&face) };
    sw_parallel_rows((size_t)r.z.h, relief_rows, &r);
    mask_paint(c, &face, skin, &r, BLEND_OVER);
    mask_free(&r.z);
    /* shade of hair and crown on the brow, and of the side away from the light */
    path_stroke(&p, (const spt[]){ { 736, 1240, 50 }, { 800, 1010, 80 }, { 1000, 850, 100 }, { 1200, 800, 110 }, { 1400, 850, 110 }, { 1600, 1010, 100 }, { 1670, 1240, 70 } }, 7);
    soft(c, &p, 34.0, with_a(hex(0x6d3326), 0.75), &face, BLEND_OVER);
    path_stroke(&p, (const spt[]){ { 1690, 1000, 60 }, { 1704, 1400, 90 }, { 1640, 1720, 90 }, { 1500, 1930, 60 }, { 1300, 2080, 30 } }, 5);
    soft(c, &p, 46.0, with_a(hex(0x5d2a20), 0.65), &face, BLEND_OVER);
    mask_free(&face);
    nose(c);
    mouth(c);
    for (int side = -1; side <= 1; side += 2) {
        eye(c, side);
        brow(c, side);
    }
}
