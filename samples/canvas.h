/*
 * The small paint box the sample pictures are drawn with: paths, soft masks, shaders, noise of our own.
 *
 * Pictures are drawn in design units; a canvas maps them to pixels, so the same scene comes out at any size. Nothing
 * here depends on fonts, clocks or thread count, so the same call gives the same bytes. Colours are sRGB values,
 * 0 to 1. There is no error handling to speak of: a generator that cannot go on says why and ends.
 */
#ifndef SAMPLES_CANVAS_H
#define SAMPLES_CANVAS_H

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define PI 3.14159265358979323846

typedef struct pt {
    double x, y;
} pt;

/** A point of a stroke: place and full width there. */
typedef struct spt {
    double x, y, w;
} spt;

typedef struct col {
    double r, g, b, a;
} col;

/** Pixels of three floats. pixel = design * (sx, sy) + (ox, oy); sy may be negative (a mirror image). */
typedef struct canvas {
    int w, h;
    double sx, sy, ox, oy;
    float *px;
} canvas;

/** Closed polygons in design units; contour i ends before end[i]. */
typedef struct path {
    pt *at;
    size_t n, cap;
    size_t *end;
    size_t n_ends, cap_ends;
} path;

/** Coverage of 0 to 1 over a box of pixels; outside the box it is 0. */
typedef struct mask {
    int x0, y0, w, h;
    float *a;
} mask;

/** Colour at a place in design units. */
typedef col (*shade_fn)(double x, double y, const void *ctx);

/** A place on a ribbon: t runs 0 to 1 along it, s -1 to 1 across it (-1 is left of the way it runs), at x, y in design
 *  units; dx, dy is the way it runs there, of length 1. */
typedef struct ribbon_at {
    double t, s, x, y, dx, dy;
} ribbon_at;
typedef col (*ribbon_fn)(const ribbon_at *at, const void *ctx);

typedef enum blend { BLEND_OVER, BLEND_MULTIPLY, BLEND_SCREEN } blend;

_Noreturn void die(const char *why);

/* ---- numbers ---- */
static inline double lerp(double a, double b, double t) { return a + (b - a) * t; }
static inline double clamp01(double v) { return v > 0.0 ? (v < 1.0 ? v : 1.0) : 0.0; }
static inline double smooth(double lo, double hi, double v)
{
    const double t = clamp01((v - lo) / (hi - lo));
    return t * t * (3.0 - 2.0 * t);
}
static inline double bump(double v, double centre, double width)
{
    const double d = (v - centre) / width;
    return d * d < 40.0 ? exp(-d * d) : 0.0; /* exp is slow where its result vanishes */
}

uint32_t hash2(int32_t x, int32_t y, uint32_t seed);
/** 0 to 1, the same for the same place and seed. */
double hash01(int32_t x, int32_t y, uint32_t seed);
/** Smooth noise of -1 to 1 with features of about one unit. */
double noise2(double x, double y, uint32_t seed);
/** Several octaves of noise2. */
double fbm(double x, double y, int octaves, uint32_t seed);
/** Next number of 0 to 1 of a stream. */
double rnd(uint64_t *state);
double rnd_range(uint64_t *state, double lo, double hi);

/* ---- colours ---- */
static inline col rgb(double r, double g, double b) { return (col){ r, g, b, 1.0 }; }
static inline col hex(uint32_t v)
{
    return rgb((double)(v >> 16 & 255u) / 255.0, (double)(v >> 8 & 255u) / 255.0, (double)(v & 255u) / 255.0);
}
static inline col with_a(col c, double a) { return (col){ c.r, c.g, c.b, a }; }
static inline col mix(col p, col q, double t)
{
    return (col){ lerp(p.r, q.r, t), lerp(p.g, q.g, t), lerp(p.b, q.b, t), lerp(p.a, q.a, t) };
}
/** Colour along stops at even distances. */
col ramp(const col *stops, int n, double t);

/* ---- canvas ---- */
canvas canvas_make(int w, int h, double design_w, double design_h);
/** What a shader may read while the canvas itself is being written: rows are shaded side by side. */
canvas canvas_copy(const canvas *c);
void canvas_free(canvas *c);
/** The same pixels seen through another mapping: design' = design * (kx, ky) + (dx, dy) in the units of c. */
canvas canvas_view(const canvas *c, double kx, double ky, double dx, double dy);
col canvas_get(const canvas *c, double x, double y);
/** Every pixel through the shader. */
void canvas_shade(canvas *c, shade_fn fn, const void *ctx, blend mode);
/** Blur the whole canvas. */
void canvas_blur(canvas *c, double sigma);

/* ---- paths ---- */
void path_free(path *p);
void path_close(path *p);
void path_add(path *p, double x, double y);
void path_poly(path *p, const pt *at, size_t n);
/** A smooth curve through the points, closed; a point given twice is a corner. */
void path_spline(path *p, const pt *at, size_t n);
void path_ellipse(path *p, double cx, double cy, double rx, double ry, double turn);
void path_rect(path *p, double x0, double y0, double x1, double y1);
/** A stroke of varying width along a smooth open curve, with round ends. */
void path_stroke(path *p, const spt *at, size_t n);
/** Points of the open smooth curve, at most max of them. */
size_t spline_points(const spt *at, size_t n, spt *out, size_t max);

/* ---- masks ---- */
mask mask_fill(const canvas *c, const path *p, double pad, bool even_odd);
mask mask_copy(const mask *m);
void mask_free(mask *m);
void mask_blur(const canvas *c, mask *m, double sigma);
/** m = m * other, or m * (1 - other) when outside. */
void mask_clip(mask *m, const mask *other, bool outside);
void mask_shift(const canvas *c, mask *m, double dx, double dy);
double mask_at(const mask *m, int x, int y);
void mask_paint(canvas *c, const mask *m, shade_fn fn, const void *ctx, blend mode);
void mask_flat(canvas *c, const mask *m, col colour, blend mode);

/* ---- the usual ways to use them; each empties the path ---- */
void fill(canvas *c, path *p, col colour);
void fill_shade(canvas *c, path *p, shade_fn fn, const void *ctx);
/** An airbrushed shape: blurred, kept inside clip (may be NULL). */
void soft(canvas *c, path *p, double sigma, col colour, const mask *clip, blend mode);

/** How a shape that is blown up like a cushion takes the light. */
typedef struct volume {
    col dark, base, light;
    double radius;   /* how far the roundness reaches in from the edge, design units */
    double strength; /* 1: as round as a half cylinder */
    double grain;    /* depth of the surface noise, 0 for none */
    double grain_x, grain_y; /* size of its features */
    uint32_t seed;
} volume;
/** Paint a shape as a rounded body lit from the upper left. Returns its mask when keep is true. */
mask volume_paint(canvas *c, path *p, const volume *v, bool keep);

/** Light from the upper left on a ribbon as round as a cylinder: 0 to 1, 0.6 where it faces the viewer. */
double ribbon_lit(const ribbon_at *at, double roundness);

/** Paint a ribbon along a smooth open curve; clip may be NULL. */
void ribbon_paint(canvas *c, const spt *at, size_t n, ribbon_fn fn, const void *ctx, const mask *clip);

/* ---- files ---- */
/** PNG or, for names in .jpg, a JPEG of quality 92. */
void canvas_write(const canvas *c, const char *name);

#endif
