/*
 * wallphoto: the boat shed's plastered wall as a camera sees it, at a slant.
 *
 * A pinhole camera that turns about the vertical only: every pixel's ray is followed to the wall, the quay or the sky,
 * so lengths on the wall are true. The sunken panel of 4200 x 2400 mm is the known rectangle: its corners' pixels are
 * printed by `draw wall-corners` and stand in samples/README.md.
 */
#include <stdio.h>

#include "scenes.h"

/* Wall millimetres: x to the right, y down, origin at the panel's top left corner; z toward the viewer. */
static const double PANEL_W = 4200.0, PANEL_H = 2400.0;
static const double WALL_LEFT = -1900.0, WALL_FOOT = 2920.0, EAVE = -620.0, DOOR = 4560.0;
static const double CAM_X = 3420.0, CAM_Y = 1330.0, CAM_Z = 6100.0, YAW = 0.33, FOCAL = 2350.0;
static const double WINDOW_X = 3420.0, WINDOW_Y = 640.0, WINDOW_R = 330.0;

/* The picture is 3000 x 2000; its middle is the optical axis. */
static pt project(double x, double y, double z)
{
    const double dx = x - CAM_X, dz = CAM_Z - z;
    const double across = dx * cos(YAW) + dz * sin(YAW), deep = dz * cos(YAW) - dx * sin(YAW);
    return (pt){ 1500.0 + FOCAL * across / deep, 1000.0 + FOCAL * (y - CAM_Y) / deep };
}

void wall_corners_print(void)
{
    const double at[4][2] = { { 0, 0 }, { PANEL_W, 0 }, { PANEL_W, PANEL_H }, { 0, PANEL_H } };
    for (int i = 0; i < 4; i++) {
        const pt p = project(at[i][0], at[i][1], 0.0);
        printf("%ld.%ld %ld.%ld\n", (long)(p.x * 10.0 + 0.5) / 10, (long)(p.x * 10.0 + 0.5) % 10, (long)(p.y * 10.0 + 0.5) / 10, (long)(p.y * 10.0 + 0.5) % 10);
    }
}

/* 1 inside (d below 0), 0 outside, over one pixel's width. */
static double inside(double d, double px_mm) { return clamp01(0.5 - d / px_mm); }

/* ---- plaster ---- */

static double relief(double x, double y)
{
    return 5.0 * fbm(x / 210.0, y / 150.0, 4, 3) + 2.6 * fbm(x / 26.0, y / 22.0, 3, 7) + 1.2 * noise2(x / 90.0 + 2.0 * noise2(x / 300.0, y / 300.0, 9), y / 14.0, 11);
}

static double crack(double x, double y)
{
    const double wx = x + 60.0 * fbm(x / 130.0, y / 130.0, 4, 13), wy = y + 60.0 * fbm(x / 130.0, y / 130.0, 4, 17);
    const double n = fabs(noise2(wx / 900.0, wy / 700.0, 19)), where = smooth(0.0, 0.4, noise2(x / 1100.0, y / 1100.0, 23));
    return where * smooth(0.006, 0.0015, n);
}

static col bricks(double x, double y)
{
    const double row = floor(y / 77.0), sx = x + (((int)row & 1) ? 130.0 : 0.0), cell = floor(sx / 260.0);
    const double fx = sx - 260.0 * cell, fy = y - 77.0 * row, joint = fmax(smooth(9.0, 4.0, fmin(fx, 260.0 - fx)), smooth(9.0, 4.0, fmin(fy, 77.0 - fy)));
    const col brick = mix(hex(0x8a4a35), hex(0xb57552), hash01((int32_t)cell, (int32_t)row, 29) + 0.3 * fbm(x / 20.0, y / 20.0, 3, 31));
    return mix(brick, hex(0xa89d8c), joint);
}

static col plaster(double x, double y, double px)
{
    const double e = fmax(3.0, px), slope = (relief(x + e, y + e) - relief(x, y)) / e;
    double k = 1.0 + 0.5 * slope + 0.05 * fbm(x / 600.0, y / 420.0, 3, 37);
    col v = mix(hex(0xd8cfbf), hex(0xc3b8a4), 0.5 + 1.1 * fbm(x / 750.0, y / 520.0, 4, 41));
    v = mix(v, hex(0xb7a990), 0.35 * smooth(0.1, 0.5, fbm(x / 60.0, y / 900.0, 3, 43))); /* rain */
    const double damp = smooth(WALL_FOOT - 760.0, WALL_FOOT - 120.0, y + 170.0 * fbm(x / 260.0, 0.0, 3, 47));
    v = mix(v, hex(0x7d7860), 0.7 * damp);
    /* a run of rust and water under the window */
    const double run = bump(x, WINDOW_X - 90.0 + 20.0 * noise2(y / 200.0, 1.0, 51), 46.0) * smooth(WINDOW_Y + 380.0, WINDOW_Y + 460.0, y) * smooth(WINDOW_Y + 1500.0, WINDOW_Y + 500.0, y);
    v = mix(v, hex(0x8a6747), 0.5 * run);
    /* plaster has come off low down at the left end: brick shows */
    const double off = hypot((x + 1250.0) / 560.0, (y - 2560.0) / 420.0) + 0.5 * fbm(x / 150.0, y / 150.0, 4, 53);
    const double gone = inside((off - 0.86) * 400.0, fmax(px, 6.0)), lip = inside(fabs(off - 0.86) * 400.0 - 9.0, 14.0);
    v = mix(v, bricks(x, y), gone);
    k = mix(rgb(k, 0, 0), rgb(0.82 + 0.2 * smooth(0.86, 0.4, off), 0, 0), gone).r;
    k *= 1.0 - 0.4 * lip * (1.0 - gone);
    k *= 1.0 - 0.55 * crack(x, y) * (1.0 - gone);
    return rgb(v.r * k, v.g * k, v.b * k);
}

/* ---- what stands on the wall ---- */

static void panel(double x, double y, double px, double *k)
{
    /* 18 mm deep, sun from the upper left: shade inside the left and top rims, light on the right and lower ones */
    const double dx = fmax(-x, x - PANEL_W), dy = fmax(-y, y - PANEL_H), d = fmax(dx, dy);
    const double in = inside(d, px);
    const double shade = fmax(inside(x - 20.0, fmax(px, 9.0)), inside(y - 26.0, fmax(px, 12.0)));
    *k *= 1.0 - 0.5 * in * shade;
    const double lit = (1.0 - in) * inside(d - 15.0, px);
    const bool far_rim = (x > PANEL_W && y > -15.0) || (y > PANEL_H && x > -15.0);
    *k *= 1.0 + (far_rim ? 0.42 : -0.06) * lit;
    *k *= 1.0 + 0.03 * in;
}

static void window(double x, double y, double px, col *v, double *k)
{
    const double dx = x - WINDOW_X, dy = y - WINDOW_Y, r = hypot(dx, dy), a = atan2(dy, dx);
    if (r > WINDOW_R + 160.0) return;
    const double shadow = inside(hypot(dx - 26.0, dy - 34.0) - (WINDOW_R + 92.0), 30.0) * (1.0 - inside(r - WINDOW_R - 92.0, px));
    *k *= 1.0 - 0.4 * shadow;
    /* ring of cut stone in twelve pieces */
    const double piece = a * 6.0 / PI, joint = fabs(piece - floor(piece) - 0.5), ring = inside(r - WINDOW_R - 92.0, px);
    const double tone = 0.9 + 0.14 * hash01((int32_t)floor(piece), 3, 61) + 0.1 * fbm(x / 16.0, y / 16.0, 3, 63) - 0.3 * smooth(0.485, 0.497, joint);
    const double turn = (r - WINDOW_R - 46.0) / 46.0 * cos(a + 0.9 * PI - 0.6);
    *v = mix(*v, rgb(0.66 * tone, 0.63 * tone, 0.56 * tone), ring);
    if (ring > 0.5) *k = 1.0 + 0.16 * turn;
    /* the opening: reveal in shade above left, frame, glass */
    const double hole = inside(r - WINDOW_R, px);
    const double reveal = inside(WINDOW_R - 46.0 - hypot(dx - 22.0, dy - 28.0), 10.0);
    const double frame = fmax(inside(WINDOW_R - 62.0 - r, px), inside(fmin(fabs(dx), fabs(dy)) - 17.0, px));
    const double sky_in = fbm((x + 0.4 * y) / 300.0, y / 200.0, 3, 67);
    col glass = mix(hex(0x1c262c), hex(0x9fb4bd), clamp01(0.3 + 0.9 * sky_in - dy / 700.0 - dx / 900.0));
    const double bevel = 1.0 - 0.3 * smooth(6.0, 17.0, fmin(fabs(dx - 5.0), fabs(dy - 5.0)));
    glass = mix(glass, rgb(0.21 * bevel, 0.36 * bevel, 0.36 * bevel), frame);
    const double dark = 1.0 - 0.55 * reveal;
    *v = mix(*v, rgb(glass.r * dark, glass.g * dark, glass.b * dark), hole);
    *k = lerp(*k, 1.0, hole);
}

static void door(double x, double y, double px, col *v, double *k)
{
    if (x < DOOR - 220.0) return;
    const double d = fmax(DOOR - x, 520.0 - y), in = inside(d, px);
    const double post = inside(d + 110.0, px); /* beyond the frame post: the leaf of planks */
    const double board = (x - DOOR - 110.0) / 172.0, gap = fabs(board - floor(board) - 0.5), grain = fbm(x / 9.0, y / 160.0, 4, 71);
    const double weather = smooth(0.05, 0.3, fbm(x / 40.0, y / 200.0, 4, 73) + 0.2 * smooth(2000.0, 2900.0, y));
    col leaf = mix(hex(0x2f5a56), hex(0x8c8473), 0.65 * weather);
    leaf = mix(leaf, hex(0x0f1c1c), 0.8 * smooth(0.47, 0.495, gap));
    const double t = 1.0 + 0.22 * grain;
    leaf = rgb(leaf.r * t, leaf.g * t, leaf.b * t);
    const col wood = rgb(0.24 * t, 0.3 * t, 0.29 * t);
    *v = mix(*v, mix(wood, leaf, post), in);
    *k = lerp(*k, 1.0 - 0.45 * smooth(80.0, 20.0, -d - 110.0) * post, in);
    *k *= 1.0 + 0.2 * inside(fabs(d + 6.0) - 6.0, px);
}

/* Shadows that fall on the wall: the eave's, and a mast with its ropes from the slip. */
static double sun(double x, double y)
{
    double s = smooth(EAVE + 520.0, EAVE + 470.0, y + 0.02 * x);
    const double mast = fabs(x - 1100.0 + 0.42 * (y - 1000.0));
    s = fmax(s, 0.9 * smooth(62.0, 40.0, mast) * smooth(-700.0, -600.0, y));
    s = fmax(s, 0.75 * smooth(20.0, 6.0, fabs(x - 400.0 - 1.15 * (y + 300.0)) * 0.65));
    s = fmax(s, 0.75 * smooth(20.0, 6.0, fabs(x - 1620.0 + 1.5 * (y + 300.0)) * 0.55));
    return s;
}

static col wall_at(double x, double y, double px)
{
    col v = plaster(x, y, px);
    double k = 1.0;
    panel(x, y, px, &k);
    window(x, y, px, &v, &k);
    door(x, y, px, &v, &k);
    const double plinth = inside(WALL_FOOT - 210.0 - y, px);
    if (plinth > 0.0 && x < DOOR) {
        const double t = 0.46 + 0.1 * fbm(x / 24.0, y / 24.0, 4, 79) + 0.06 * hash01((int32_t)floor(x / 610.0), 0, 81) - 0.16 * smooth(0.012, 0.004, fabs(x / 610.0 - floor(x / 610.0) - 0.5));
        v = mix(v, rgb(t, t * 0.98, t * 0.9), plinth);
        k *= 1.0 - 0.35 * inside(fabs(WALL_FOOT - 210.0 - y + 10.0) - 10.0, px);
    }
    const double shade = sun(x, y), foot = smooth(260.0, 0.0, WALL_FOOT - y);
    const col light = mix(rgb(1.08, 1.04, 0.97), rgb(0.5, 0.54, 0.63), shade);
    k *= 1.0 - 0.3 * foot;
    return rgb(v.r * k * light.r, v.g * k * light.g, v.b * k * light.b);
}

/* ---- quay, sky, roof ---- */

static col quay_at(double x, double z)
{
    const double row = floor(z / 300.0), sx = x + 190.0 * hash01((int32_t)row, 0, 83), cell = floor(sx / 420.0);
    const double fx = fabs(sx / 420.0 - cell - 0.5), fz = fabs(z / 300.0 - row - 0.5);
    const double t = 0.5 + 0.1 * hash01((int32_t)cell, (int32_t)row, 85) + 0.16 * fbm(x / 60.0, z / 60.0, 4, 87) - 0.2 * fmax(smooth(0.47, 0.49, fx), smooth(0.46, 0.485, fz));
    const double k = t * (0.66 + 0.4 * smooth(0.0, 700.0, z));
    return rgb(k * 1.05, k, k * 0.9);
}

static col beyond_at(double x, double y, const col *low)
{
    const col blue = mix(*low, hex(0x6f9cc4), smooth(900.0, -200.0, y));
    return mix(blue, hex(0xffffff), 0.6 * smooth(0.05, 0.4, fbm(x / 420.0, y / 150.0, 4, 89)));
}

static col look(double x, double y, const void *ctx)
{
    (void)ctx;
    const double across = (x - 1500.0) / FOCAL, down = (y - 1000.0) / FOCAL;
    const double rx = across * cos(YAW) - sin(YAW), rz = -(cos(YAW) + across * sin(YAW)); /* toward the wall z falls */
    const double t = CAM_Z / -rz, wx = CAM_X + t * rx, wy = CAM_Y + t * down, px = t / FOCAL * 1.2;
    const col low = hex(0xd5dfe0);
    if (wy > WALL_FOOT) {
        const double g = (WALL_FOOT - CAM_Y) / down;
        return quay_at(CAM_X + g * rx, CAM_Z + g * rz);
    }
    col v = wx < WALL_LEFT - px ? beyond_at(x, y, &low) : wall_at(wx, wy, px);
    if (wx < WALL_LEFT && y > 1070.0) v = mix(hex(0x5f8592), hex(0xb9cdd0), smooth(1500.0, 1070.0, y) + 0.3 * noise2(x / 60.0, y / 5.0, 91));
    if (wx >= WALL_LEFT - px) v = mix(beyond_at(x, y, &low), v, inside(WALL_LEFT - wx, px));
    if (wy < EAVE && wx > WALL_LEFT - 260.0) {
        const double rafter = wx / 560.0, on = smooth(0.1, 0.085, fabs(rafter - floor(rafter) - 0.5)) * smooth(EAVE - 190.0, EAVE - 180.0, wy);
        const double board = 0.24 + 0.05 * fbm(wx / 200.0, wy / 8.0, 3, 93);
        v = mix(rgb(board, board * 0.86, board * 0.7), rgb(0.42, 0.36, 0.29), on);
        if (wy < EAVE - 200.0) v = mix(hex(0x4a5a5c), hex(0x6d7f80), smooth(EAVE - 330.0, EAVE - 200.0, wy));
    }
    return v;
}

/* ---- the tap ---- */

static void tube(canvas *c, double x0, double y0, double x1, double y1, double w, double z, col base)
{
    const pt a = project(x0, y0, z), b = project(x1, y1, z);
    const double k = 0.36 * w; /* pixels a millimetre hereabouts */
    path p = { 0 };
    path_stroke(&p, (const spt[]){ { a.x, a.y, k }, { 0.5 * (a.x + b.x), 0.5 * (a.y + b.y), k }, { b.x, b.y, k } }, 3);
    volume_paint(c, &p, &(volume){ mix(base, hex(0x0a0a0a), 0.75), base, mix(base, hex(0xfff4da), 0.75), 0.6 * k, 1.0, 0.1, 9, 9, 5 }, false);
}

static void tap(canvas *c)
{
    const double x = 480.0, y = 2020.0;
    path p = { 0 };
    static const double line[][2] = { { 480, 2900 }, { 480, 2010 }, { 600, 2010 }, { 606, 2090 } };
    spt s[4];
    for (int i = 0; i < 4; i++) {
        const pt q = project(line[i][0] + 40.0, line[i][1] + 52.0, 0.0);
        s[i] = (spt){ q.x, q.y, 13 };
    }
    path_stroke(&p, s, 2);
    path_stroke(&p, s + 1, 3);
    soft(c, &p, 4.0, (col){ 0.14, 0.13, 0.14, 0.6 }, NULL, BLEND_OVER);
    const col pipe = hex(0x7d766a), brass = hex(0xb08a3c);
    tube(c, x, 2890, x, y - 20, 34, 40, pipe);
    for (int i = 0; i < 2; i++) tube(c, x - 40, 2300 + 420.0 * i, x + 40, 2300 + 420.0 * i, 30, 44, hex(0x5b554c));
    tube(c, x - 6, y, x + 128, y, 44, 60, brass);
    tube(c, x + 122, y - 4, x + 128, y + 84, 36, 60, brass);
    tube(c, x + 56, y - 20, x + 56, y - 72, 26, 60, brass);
    tube(c, x - 4, y - 78, x + 116, y - 78, 26, 70, hex(0xa8382b));
    const pt drip = project(x + 130, 2905, 40);
    path_ellipse(&p, drip.x, drip.y + 24, 60, 14, 0.0);
    soft(c, &p, 7.0, (col){ 0.12, 0.12, 0.12, 0.6 }, NULL, BLEND_OVER);
}

void wall_draw(canvas *c)
{
    canvas_shade(c, look, NULL, BLEND_OVER);
    tap(c);
    canvas_blur(c, 0.8);
    harbour_sensor(c, 0.5);
}
