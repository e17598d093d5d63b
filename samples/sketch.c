/*
 * sketch: a moored boat in soft pencil on old paper. Strokes vary in width and darkness and catch the paper's grain;
 * the paper is yellowed, stained, folded twice and lit from one side only.
 */
#include "scenes.h"

#define LEN(a) (sizeof(a) / sizeof((a)[0]))

/* ---- paper ---- */

static double grain_at(double x, double y)
{
    return 0.6 * noise2((x + 0.5 * y) / 2.6, (y - 0.5 * x) / 2.6, 3) + 0.4 * noise2((x - 0.3 * y) / 5.3, (y + 0.3 * x) / 5.3, 5);
}

/* Rusty specks: at most one in each cell of a grid, more of them where a slow noise is high. */
static double foxing(double x, double y)
{
    const double cell = 74.0;
    const int32_t ix = (int32_t)floor(x / cell), iy = (int32_t)floor(y / cell);
    double most = 0.0;
    for (int32_t j = iy - 1; j <= iy + 1; j++)
        for (int32_t i = ix - 1; i <= ix + 1; i++) {
            if (hash01(i, j, 17) > 0.46 || hash01(i, j, 17) > 0.16 + 0.3 * noise2(i / 6.0, j / 6.0, 19)) continue;
            const double big = hash01(i, j, 21), r = 3.0 + 13.0 * big * big;
            const double d = hypot(x - cell * (i + hash01(i, j, 23)), y - cell * (j + hash01(i, j, 25))) + 0.25 * r * noise2(x / 7.0, y / 7.0, 27);
            most = fmax(most, (0.5 - 0.26 * big) * smooth(r, 0.45 * r, d));
        }
    return most;
}

static col paper(double x, double y, const void *ctx)
{
    (void)ctx;
    const double cloud = fbm(x / 520.0, y / 430.0, 4, 11), g = grain_at(x, y);
    col v = mix(hex(0xefe3c4), hex(0xdcc693), 0.5 + 0.9 * cloud);
    /* browner toward the rim, as old sheets are */
    const double rim = fmin(fmin(x + 60.0, 3060.0 - x), fmin(y + 60.0, 2310.0 - y));
    v = mix(v, hex(0xa97f45), 0.62 * exp(-rim / (150.0 + 60.0 * noise2(x / 240.0, y / 240.0, 13))));
    v = mix(v, hex(0xa8743a), foxing(x, y));
    const double k = 1.0 + 0.022 * g + 0.01 * noise2(x / 40.0, y / 2.2, 23); /* tooth and fibres */
    return rgb(v.r * k, v.g * k, v.b * k);
}

/* A ring left by a cup: thin dark lip, paler inside, broken where the cup did not touch. */
static col ring_stain(double x, double y, const void *ctx)
{
    (void)ctx;
    const double dx = x - 2440.0, dy = y - 1830.0, a = atan2(dy, dx);
    if (dx * dx + dy * dy > 290.0 * 290.0) return (col){ 0 };
    const double r = hypot(dx, dy) + 5.0 * noise2(3.0 * cos(a), 3.0 * sin(a), 29) + 3.0 * noise2(x / 30.0, y / 30.0, 31);
    const double lip = bump(r, 248.0, 9.0), band = smooth(216.0, 230.0, r) * smooth(256.0, 250.0, r), in = 0.16 * smooth(235.0, 170.0, r);
    const double broken = 0.35 + 0.65 * smooth(-0.45, 0.25, noise2(1.6 * cos(a - 0.6), 1.6 * sin(a - 0.6), 37) + 0.2);
    return with_a(hex(0x8a5a2a), fmin(1.0, broken * (0.62 * lip + 0.32 * band) + in * 0.4));
}

/* Shading of one fold: light on one flank, shade on the other, the very edge worn. d is the signed distance. */
static double fold(double d, double along, uint32_t seed)
{
    if (fabs(d) > 420.0) return 0.0; /* less than a thousandth from here on */
    const double w = d + 3.0 * noise2(along / 60.0, 0.0, seed) + 1.2 * noise2(along / 9.0, 2.0, seed);
    const double flank = w > 0.0 ? -0.16 * exp(-w / 46.0) : 0.085 * exp(w / 60.0);
    return flank - 0.3 * bump(w, 2.0, 3.2) * (0.6 + 0.4 * noise2(along / 25.0, 5.0, seed)) + 0.22 * bump(w, -3.0, 2.6);
}

/* All that happens to the sheet after it was drawn on: folds and the uneven light, times what is there. */
static col light(double x, double y, const void *ctx)
{
    (void)ctx;
    double k = 1.06 - 0.46 * smooth(-0.1, 1.25, 0.62 * x / 3000.0 + 0.5 * y / 2250.0);
    k += fold(x - 1512.0 - 0.012 * y, y, 41) + fold(y - 1102.0 + 0.016 * x, x, 43);
    k += 0.5 * fold(0.86 * (x - 2560.0) + 0.5 * (y - 300.0), y, 47) * smooth(1250.0, 500.0, y) * smooth(1900.0, 2500.0, x);
    /* shadow of something beside the sheet */
    const double edge = 0.52 * x + y - 3240.0 + 40.0 * noise2(x / 420.0, y / 420.0, 53);
    k *= 1.0 - 0.34 * smooth(-60.0, 130.0, edge);
    return rgb(k, k * (0.985 + 0.015 * k), k * (0.95 + 0.05 * k));
}

/* ---- pencil ---- */

typedef struct pencil {
    double dark; /* 0 to 1 */
    uint32_t seed;
} pencil;

static col graphite(const ribbon_at *at, const void *ctx)
{
    const pencil *p = ctx;
    const double ends = smooth(0.0, 0.07, at->t) * smooth(1.0, 0.84, at->t);
    const double press = p->dark * (0.72 + 0.34 * noise2(at->t * 5.0, (double)(p->seed & 1023u), p->seed)) * (0.35 + 0.65 * ends);
    /* the lead fills the tooth of the paper only where it is pressed */
    const double tooth = grain_at(at->x, at->y), cover = smooth(-0.6, 0.5, tooth + 2.3 * press - 0.78);
    const double a = clamp01(press * 1.2) * cover * (1.0 - 0.55 * at->s * at->s);
    return with_a(hex(0x26262b), clamp01(a));
}

/* One stroke with a hand's wobble. Ends run out. */
static void stroke(canvas *c, uint64_t *seed, const spt *at, size_t n, double w, double dark)
{
    spt even[256], line[40];
    const size_t m = spline_points(at, n, even, 256), use = 30;
    const uint32_t s = (uint32_t)(rnd(seed) * 4294967295.0);
    for (size_t i = 0; i < use; i++) {
        const double f = (double)i * (double)(m - 1) / (double)(use - 1), fi = floor(f);
        const size_t k = (size_t)fi < m - 1 ? (size_t)fi : m - 2;
        const double t = f - (double)k, u = (double)i / (double)(use - 1);
        const double dx = 2.6 * noise2(u * 4.0, 0.3, s) + 1.1 * noise2(u * 13.0, 7.3, s);
        const double dy = 2.6 * noise2(u * 4.0, 5.3, s) + 1.1 * noise2(u * 13.0, 9.3, s);
        const double width = w * (0.62 + 0.5 * fabs(noise2(u * 3.0, 2.0, s + 1)) + 0.25 * sin(PI * u)) * (at[0].w > 0.0 ? lerp(even[k].w, even[k + 1].w, t) : 1.0);
        line[i] = (spt){ lerp(even[k].x, even[k + 1].x, t) + dx, lerp(even[k].y, even[k + 1].y, t) + dy, width * (0.3 + 0.7 * smooth(0.0, 0.06, u) * smooth(1.0, 0.9, u)) };
    }
    ribbon_paint(c, line, use, graphite, &(pencil){ dark, s }, NULL);
}

/* A drawn line: the sure stroke and a second, lighter one that nearly follows it. */
static void drawn(canvas *c, uint64_t *seed, const spt *at, size_t n, double w, double dark)
{
    stroke(c, seed, at, n, w, dark);
    spt near[24];
    const double dx = rnd_range(seed, -5.0, 5.0), dy = rnd_range(seed, -5.0, 5.0);
    for (size_t i = 0; i < n; i++) near[i] = (spt){ at[i].x + dx, at[i].y + dy + 3.0 * (double)(i & 1), at[i].w };
    stroke(c, seed, near, n, 0.7 * w, 0.6 * dark);
}

static void straight(canvas *c, uint64_t *seed, double x0, double y0, double x1, double y1, double w, double dark)
{
    const double bow = rnd_range(seed, -0.012, 0.012);
    stroke(c, seed, (const spt[]){ { x0, y0, 1 }, { 0.5 * (x0 + x1) - bow * (y1 - y0), 0.5 * (y0 + y1) + bow * (x1 - x0), 1 }, { x1, y1, 1 } }, 3, w, dark);
}

/* Hatching between two curves: lines from a to b at even steps, a little uneven as a hand is. */
static void hatch(canvas *c, uint64_t *seed, const spt *a, size_t na, const spt *b, size_t nb, int lines, double w, double dark, double slant)
{
    spt top[256], low[256];
    const size_t m = spline_points(a, na, top, 256), k = spline_points(b, nb, low, 256);
    for (int i = 0; i < lines; i++) {
        const double u = clamp01((i + rnd_range(seed, 0.1, 0.9)) / lines), v = clamp01(u + slant);
        const spt p = top[(size_t)(u * (double)(m - 1))], q = low[(size_t)(v * (double)(k - 1))];
        const double from = rnd_range(seed, 0.0, 0.1), to = rnd_range(seed, 0.82, 1.0);
        straight(c, seed, lerp(p.x, q.x, from), lerp(p.y, q.y, from), lerp(p.x, q.x, to), lerp(p.y, q.y, to), w, dark * rnd_range(seed, 0.75, 1.15));
    }
}

/* ---- the boat ---- */

static const spt SHEER[] = { { 560, 812, 1 }, { 800, 1010, 1 }, { 1160, 1150, 1 }, { 1560, 1200, 1 }, { 1960, 1164, 1 }, { 2290, 1040, 1 } };
static const spt FAR_SIDE[] = { { 560, 812, 1 }, { 860, 890, 1 }, { 1240, 962, 1 }, { 1640, 980, 1 }, { 2040, 960, 1 }, { 2410, 938, 1 } };
static const spt KEEL[] = { { 748, 1452, 1 }, { 980, 1530, 1 }, { 1300, 1572, 1 }, { 1640, 1580, 1 }, { 1980, 1544, 1 }, { 2250, 1450, 1 } };

/* A plank's edge: part of the way from the sheer to the keel. */
static void plank(spt *out, double k)
{
    for (int i = 0; i < 6; i++) {
        const double belly = 26.0 * sin(PI * k) * sin(PI * i / 5.0);
        out[i] = (spt){ lerp(SHEER[i].x, KEEL[i].x, k) - (i == 0 ? 34.0 * sin(PI * k) : 0.0), lerp(SHEER[i].y, KEEL[i].y, k) + belly, 1 };
    }
}

static void hull(canvas *c, uint64_t *seed)
{
    drawn(c, seed, SHEER, LEN(SHEER), 9.0, 0.95);
    spt rail[6];
    for (int i = 0; i < 6; i++) rail[i] = (spt){ SHEER[i].x + 4, SHEER[i].y + 30 - (i == 0 ? 14 : 0), 1 };
    drawn(c, seed, rail, 6, 5.5, 0.8);
    drawn(c, seed, FAR_SIDE, LEN(FAR_SIDE), 7.0, 0.85);
    drawn(c, seed, KEEL, LEN(KEEL), 8.5, 0.9);
    static const spt stem[] = { { 548, 796, 1.3 }, { 580, 1000, 1 }, { 640, 1240, 1 }, { 748, 1454, 1 } };
    drawn(c, seed, stem, 4, 10.0, 0.95);
    static const spt stem_in[] = { { 590, 836, 1 }, { 618, 1010, 1 }, { 676, 1240, 1 }, { 776, 1440, 1 } };
    drawn(c, seed, stem_in, 4, 5.0, 0.7);
    for (int k = 1; k <= 4; k++) {
        spt edge[6];
        plank(edge, k / 5.0);
        drawn(c, seed, edge, 6, 5.0, 0.72);
        for (int i = 0; i < 6; i++) edge[i].y += 9.0, edge[i].x += 2.0;
        stroke(c, seed, edge, 6, 8.0, 0.34); /* the shade each lap throws */
    }
    /* transom */
    drawn(c, seed, (const spt[]){ { 2290, 1040, 1 }, { 2350, 975, 1 }, { 2410, 938, 1 } }, 3, 7.5, 0.9);
    drawn(c, seed, (const spt[]){ { 2290, 1040, 1 }, { 2292, 1250, 1 }, { 2250, 1452, 1 } }, 3, 8.0, 0.9);
    drawn(c, seed, (const spt[]){ { 2410, 938, 1 }, { 2420, 1140, 1 }, { 2370, 1310, 1 }, { 2250, 1452, 1 } }, 4, 8.0, 0.9);
    drawn(c, seed, (const spt[]){ { 2350, 1010, 1.4 }, { 2356, 1200, 1.2 }, { 2340, 1420, 1 } }, 3, 7.0, 0.85); /* rudder post */
}

static void shading(canvas *c, uint64_t *seed)
{
    spt mid[6], low[6];
    plank(mid, 0.52);
    plank(low, 0.98);
    hatch(c, seed, mid, 6, low, 6, 150, 5.2, 0.56, -0.035);
    plank(mid, 0.74);
    hatch(c, seed, mid, 6, low, 6, 150, 5.6, 0.62, 0.02);
    plank(low, 0.24);
    plank(mid, 0.07);
    hatch(c, seed, mid, 6, low, 6, 60, 3.6, 0.34, -0.02);
    /* the dark inside, twice over */
    hatch(c, seed, FAR_SIDE + 1, 5, SHEER + 1, 5, 130, 5.6, 0.62, -0.05);
    hatch(c, seed, FAR_SIDE + 1, 4, SHEER + 1, 4, 110, 6.0, 0.66, 0.07);
    static const spt t0[] = { { 2300, 1046, 1 }, { 2404, 950, 1 } }, t1[] = { { 2262, 1440, 1 }, { 2366, 1304, 1 } };
    hatch(c, seed, t0, 2, t1, 2, 26, 5.0, 0.6, 0.0);
    static const spt c0[] = { { 2300, 1060, 1 }, { 2262, 1440, 1 } }, c1[] = { { 2410, 960, 1 }, { 2370, 1310, 1 } };
    hatch(c, seed, c0, 2, c1, 2, 34, 4.6, 0.5, 0.0);
}

static void inside(canvas *c, uint64_t *seed)
{
    for (int k = 0; k < 3; k++) { /* thwarts */
        const double u = 0.3 + 0.24 * k, x0 = lerp(760, 2250, u), dy = 30.0 * sin(PI * u);
        const double yn = 1000 + 170 * sin(PI * (u + 0.05)), yf = 900 + 66 * sin(PI * u) + dy;
        path p = { 0 };
        path_poly(&p, (const pt[]){ { x0 - 60, yn - 8 }, { x0 + 60, yf }, { x0 + 170, yf }, { x0 + 64, yn + 6 } }, 4);
        fill_shade(c, &p, paper, NULL); /* rubbed out again over the hatching */
        straight(c, seed, x0 - 60, yn - 8, x0 + 60, yf, 6.0, 0.85);
        straight(c, seed, x0 + 64, yn + 6, x0 + 170, yf, 6.5, 0.9);
        straight(c, seed, x0 - 60, yn + 4, x0 + 66, yn + 20, 6.0, 0.85);
        straight(c, seed, x0 + 70, yn + 22, x0 + 174, yf + 14, 8.0, 0.8);
    }
    for (int k = 0; k < 9; k++) { /* ribs against the far side */
        const double u = 0.1 + 0.095 * k, x = lerp(700, 2330, u), y = 852 + 118 * sin(PI * fmin(1.0, u + 0.08));
        stroke(c, seed, (const spt[]){ { x, y, 1 }, { x - 12, y + 36, 1 }, { x - 34, y + 72, 1 } }, 3, 6.0, 0.75);
    }
}

static void rig(canvas *c, uint64_t *seed)
{
    drawn(c, seed, (const spt[]){ { 1150, 1090, 1 }, { 1136, 700, 1 }, { 1118, 210, 0.7 } }, 3, 9.0, 0.95);
    drawn(c, seed, (const spt[]){ { 1182, 1092, 1 }, { 1164, 700, 1 }, { 1132, 210, 0.7 } }, 3, 8.0, 0.9);
    for (int i = 0; i < 26; i++) { /* round shade on the mast */
        const double y = 250 + 32.0 * i, x = 1160 + 0.027 * (y - 250);
        straight(c, seed, x - 8, y, x + 8, y + 20, 4.0, 0.5);
    }
    /* the sail, furled along its yard: a long bundle with ties */
    static const spt top[] = { { 1010, 470, 1 }, { 1230, 420, 1 }, { 1500, 450, 1 }, { 1800, 560, 1 }, { 2090, 716, 1 } };
    static const spt low[] = { { 1016, 500, 1 }, { 1200, 560, 1 }, { 1480, 610, 1 }, { 1780, 680, 1 }, { 2086, 736, 1 } };
    path p = { 0 };
    path_spline(&p, (const pt[]){ { 1010, 470 }, { 1230, 420 }, { 1500, 450 }, { 1800, 560 }, { 2090, 716 }, { 2086, 736 }, { 1780, 680 }, { 1480, 610 }, { 1200, 560 }, { 1016, 500 } }, 10);
    fill_shade(c, &p, paper, NULL);
    drawn(c, seed, (const spt[]){ { 940, 440, 0.8 }, { 1240, 404, 1.3 }, { 1520, 436, 1.3 }, { 1830, 546, 1.2 }, { 2150, 728, 0.8 } }, 5, 9.0, 0.92);
    drawn(c, seed, top, 5, 8.0, 0.9);
    drawn(c, seed, low, 5, 9.0, 0.92);
    for (int k = 1; k < 5; k++) {
        spt fold_line[5];
        for (int i = 0; i < 5; i++) fold_line[i] = (spt){ lerp(top[i].x, low[i].x, k / 5.0), lerp(top[i].y, low[i].y, k / 5.0 + 0.06 * sin(i * 2.1 + k)), 1 };
        stroke(c, seed, fold_line + (k & 1), 4, 5.0, 0.66);
    }
    spt half[5];
    for (int i = 0; i < 5; i++) half[i] = (spt){ lerp(top[i].x, low[i].x, 0.62), lerp(top[i].y, low[i].y, 0.62), 1 };
    hatch(c, seed, half, 5, low, 5, 120, 4.8, 0.58, -0.012);
    for (int k = 1; k < 7; k++) { /* ties */
        const double u = k / 7.0;
        spt a[256], b[256];
        const size_t m = spline_points(top, 5, a, 256), n = spline_points(low, 5, b, 256);
        const spt s = a[(size_t)(u * (double)(m - 1))], e = b[(size_t)(u * (double)(n - 1))];
        for (int w = 0; w < 2; w++)
            stroke(c, seed, (const spt[]){ { s.x + 9 * w, s.y - 6, 1 }, { 0.5 * (s.x + e.x) + 26 + 9 * w, 0.5 * (s.y + e.y), 1 }, { e.x + 9 * w, e.y + 8, 1 } }, 3, 6.0, 0.85);
    }
    /* stays and sheet */
    straight(c, seed, 1124, 226, 566, 806, 4.6, 0.85);
    straight(c, seed, 1128, 232, 2396, 936, 4.4, 0.8);
    straight(c, seed, 1128, 250, 1420, 1176, 4.4, 0.8);
    stroke(c, seed, (const spt[]){ { 2082, 738, 1 }, { 2060, 860, 1 }, { 2110, 1010, 1 } }, 3, 4.0, 0.75);
    drawn(c, seed, (const spt[]){ { 1122, 214, 1 }, { 1190, 222, 1 }, { 1250, 208, 1 }, { 1196, 248, 1 }, { 1124, 250, 1 } }, 5, 4.5, 0.8);
}

/* ---- around it ---- */

static void water(canvas *c, uint64_t *seed)
{
    for (int i = 0; i < 96; i++) {
        const double y = 1480 + 5.6 * i + rnd_range(seed, -8, 8), reach = rnd_range(seed, 60, 340) * (0.5 + 0.006 * i);
        const double x = rnd_range(seed, 240, 2760);
        if (x > 700 && x < 2300 && y < 1600) continue;
        stroke(c, seed, (const spt[]){ { x, y, 1 }, { x + 0.3 * reach, y - 7, 1 }, { x + 0.6 * reach, y + 6, 1 }, { x + reach, y - 3, 1 } }, 4, 4.5, rnd_range(seed, 0.3, 0.7));
    }
    for (int i = 0; i < 60; i++) { /* what the water gives back of the hull, in zigzags */
        const double y = 1592 + 4.2 * i, half = 640.0 - 5.0 * i, mid = 1510 + rnd_range(seed, -50, 50);
        const double x0 = mid - half * rnd_range(seed, 0.3, 1.0), x1 = mid + half * rnd_range(seed, 0.2, 1.0);
        stroke(c, seed, (const spt[]){ { x0, y, 1 }, { lerp(x0, x1, 0.35), y + 7, 1 }, { lerp(x0, x1, 0.7), y - 6, 1 }, { x1, y + 3, 1 } }, 4, 6.0, rnd_range(seed, 0.4, 0.68) * (1.0 - 0.009 * i));
    }
}

static void shore(canvas *c, uint64_t *seed)
{
    static const spt hill[] = { { 170, 930, 1 }, { 380, 850, 1 }, { 620, 800, 1 }, { 860, 842, 1 }, { 1090, 880, 1 } };
    static const spt hill2[] = { { 1900, 900, 1 }, { 2200, 820, 1 }, { 2520, 768, 1 }, { 2840, 850, 1 } };
    static const spt foot[] = { { 170, 960, 1 }, { 500, 952, 1 } }, foot2[] = { { 2440, 920, 1 }, { 2840, 930, 1 } };
    stroke(c, seed, hill, 5, 5.0, 0.55);
    stroke(c, seed, hill2, 4, 5.0, 0.52);
    hatch(c, seed, hill, 3, foot, 2, 50, 4.6, 0.42, 0.05);
    hatch(c, seed, hill2 + 1, 3, foot2, 2, 60, 4.6, 0.42, 0.05);
    straight(c, seed, 150, 962, 560, 956, 4.0, 0.5);
    straight(c, seed, 2440, 930, 2860, 936, 4.0, 0.48);
    /* mooring post and its rope */
    drawn(c, seed, (const spt[]){ { 268, 1120, 1 }, { 262, 1420, 1 }, { 270, 1640, 1 } }, 3, 9.0, 0.95);
    drawn(c, seed, (const spt[]){ { 352, 1126, 1 }, { 352, 1420, 1 }, { 346, 1650, 1 } }, 3, 9.0, 0.95);
    drawn(c, seed, (const spt[]){ { 268, 1120, 1 }, { 310, 1100, 1 }, { 352, 1126, 1 }, { 310, 1144, 1 }, { 268, 1120, 1 } }, 5, 6.0, 0.9);
    static const spt l[] = { { 318, 1150, 1 }, { 316, 1640, 1 } }, r[] = { { 350, 1140, 1 }, { 346, 1640, 1 } };
    hatch(c, seed, l, 2, r, 2, 90, 5.0, 0.66, 0.03);
    drawn(c, seed, (const spt[]){ { 352, 1196, 1 }, { 430, 1216, 1 }, { 520, 1130, 1 }, { 574, 900, 1 } }, 4, 6.5, 0.9);
    for (int k = 0; k < 3; k++) drawn(c, seed, (const spt[]){ { 258, 1180.0 + 15 * k, 1 }, { 310, 1204.0 + 15 * k, 1 }, { 360, 1182.0 + 15 * k, 1 } }, 3, 6.0, 0.85);
    for (int k = 0; k < 3; k++) { /* gulls */
        const double x = 1760 + 300.0 * k - 90.0 * (k == 1), y = 300 + 70.0 * (k & 1) - 40.0 * k;
        stroke(c, seed, (const spt[]){ { x - 62, y - 16, 1 }, { x - 26, y - 32, 1 }, { x, y, 1 } }, 3, 6.0, 0.8);
        stroke(c, seed, (const spt[]){ { x, y, 1 }, { x + 24, y - 36, 1 }, { x + 70, y - 28, 1 } }, 3, 6.0, 0.8);
    }
}

void sketch_draw(canvas *c)
{
    uint64_t seed = 2026;
    canvas_shade(c, paper, NULL, BLEND_OVER);
    shore(c, &seed);
    water(c, &seed);
    path p = { 0 }; /* the boat is in front: what lies behind it was rubbed out */
    path_spline(&p, (const pt[]){ { 560, 812 }, { 560, 812 }, { 860, 890 }, { 1240, 962 }, { 1640, 980 }, { 2040, 960 }, { 2410, 938 }, { 2410, 938 }, { 2420, 1140 }, { 2370, 1310 }, { 2250, 1452 },
                                  { 1980, 1544 }, { 1640, 1580 }, { 1300, 1572 }, { 980, 1530 }, { 748, 1452 }, { 640, 1240 }, { 580, 1000 } }, 18);
    fill_shade(c, &p, paper, NULL);
    shading(c, &seed);
    inside(c, &seed);
    hull(c, &seed);
    rig(c, &seed);
    canvas_shade(c, ring_stain, NULL, BLEND_MULTIPLY);
    canvas_shade(c, light, NULL, BLEND_MULTIPLY);
}
