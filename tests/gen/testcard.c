/*
 * testcard: pictures whose measures are known before anything is run, for known-answer tests.
 *
 *   testcard gratings W H PERIOD DUTY OUT.png      upright bars PERIOD apart, DUTY * PERIOD wide (DUTY 0 to 1)
 *   testcard discs    W H SMALLEST LARGEST OUT.png eight discs in a row, diameters from SMALLEST to LARGEST in even steps
 *   testcard rings    W H LINE GAP OUT.png         rings about the middle, LINE wide and GAP apart: islands in islands
 *   testcard bars     W H LINE OUT.png             text-like signs (E H O 8 T) drawn with bars LINE wide
 *   testcard wedge    W H WIDEST OUT.png           one upright wedge, WIDEST at the top and a point at the bottom
 *   testcard checker  W H CELL OUT.png             a checkerboard: dark cells touch at corners only
 *   testcard steps    W H COUNT OUT.png            COUNT upright strips of grey, black to white in even sRGB steps
 *
 * Black on white, eight-bit grey. Lengths are in pixels and may have decimals; edges are the mean of 8 x 8 samples a
 * pixel. There is a margin of a tenth of the shorter side except for wedge, checker and steps.
 */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include <png.h>

#include "base/base.h"

enum { SUB = 8, MAX_ARGS = 2 };

typedef struct card {
    double w, h, margin;
    double arg[MAX_ARGS];
    double (*ink)(const struct card *card, double x, double y); /* 0 white to 1 black */
} card;

static bool in_margin(const card *c, double x, double y)
{
    return x < c->margin || y < c->margin || x >= c->w - c->margin || y >= c->h - c->margin;
}

static double gratings(const card *c, double x, double y)
{
    const double period = c->arg[0], bar = period * c->arg[1], n = floor((c->w - 2.0 * c->margin) / period);
    const double at = x - c->margin;
    if (in_margin(c, x, y) || at >= n * period) return 0.0; /* whole bars only */
    return at - period * floor(at / period) < bar ? 1.0 : 0.0;
}

static double discs(const card *c, double x, double y)
{
    const double pitch = (c->w - 2.0 * c->margin) / 8.0, k = floor((x - c->margin) / pitch);
    if (k < 0.0 || k > 7.0) return 0.0;
    const double d = c->arg[0] + (c->arg[1] - c->arg[0]) * k / 7.0;
    return hypot(x - c->margin - pitch * (k + 0.5), y - 0.5 * c->h) < 0.5 * d ? 1.0 : 0.0;
}

static double rings(const card *c, double x, double y)
{
    const double period = c->arg[0] + c->arg[1], r = hypot(x - 0.5 * c->w, y - 0.5 * c->h);
    const double n = floor((0.5 * fmin(c->w, c->h) - c->margin) / period);
    /* the first ring begins one gap away from the middle, so that there is an island in it too */
    return r < n * period && r - period * floor(r / period) >= c->arg[1] ? 1.0 : 0.0;
}

static bool box(double x, double y, double x0, double y0, double x1, double y1)
{
    return x >= x0 && x < x1 && y >= y0 && y < y1;
}

static double bars(const card *c, double x, double y)
{
    const double l = c->arg[0], pitch = (c->w - 2.0 * c->margin) / 5.0, k = floor((x - c->margin) / pitch);
    const double w = 0.72 * pitch, h = c->h - 2.0 * c->margin, u = x - c->margin - pitch * k - 0.14 * pitch, v = y - c->margin;
    if (k < 0.0 || k > 4.0 || !box(u, v, 0.0, 0.0, w, h)) return 0.0;
    const bool left = u < l, right = u >= w - l, top = v < l, low = v >= h - l;
    const bool mid = fabs(v - 0.5 * h) < 0.5 * l, stem = fabs(u - 0.5 * w) < 0.5 * l;
    const bool signs[5] = { left || top || mid || low, left || right || mid, left || right || top || low,
                            left || right || top || mid || low, top || stem };
    return signs[(int)k] ? 1.0 : 0.0;
}

static double wedge(const card *c, double x, double y)
{
    return fabs(x - 0.5 * c->w) < 0.5 * c->arg[0] * (1.0 - y / c->h) ? 1.0 : 0.0;
}

static double checker(const card *c, double x, double y)
{
    return fmod(floor(x / c->arg[0]) + floor(y / c->arg[0]), 2.0) == 0.0 ? 1.0 : 0.0;
}

static double steps(const card *c, double x, double y)
{
    (void)y;
    const double n = c->arg[0] < 2.0 ? 2.0 : floor(c->arg[0]);
    return 1.0 - floor(x / c->w * n) / (n - 1.0);
}

typedef struct mode {
    const char *name;
    int n_args;
    bool has_margin;
    double (*ink)(const card *card, double x, double y);
} mode;

static const mode modes[] = {
    { "gratings", 2, true, gratings }, { "discs", 2, true, discs },        { "rings", 2, true, rings }, { "bars", 1, true, bars },
    { "wedge", 1, false, wedge },      { "checker", 1, false, checker }, { "steps", 1, false, steps },
};

static void draw_row(const card *c, int y, uint8_t *row)
{
    for (int x = 0; x < (int)c->w; x++) {
        double sum = 0.0;
        for (int j = 0; j < SUB; j++)
            for (int i = 0; i < SUB; i++) sum += c->ink(c, x + (i + 0.5) / SUB, y + (j + 0.5) / SUB);
        row[x] = (uint8_t)(255.0 * (1.0 - sum / (SUB * SUB)) + 0.5);
    }
}

static bool write_card(const card *c, FILE *f, uint8_t *row)
{
    png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, NULL, NULL, NULL);
    png_infop info = png != NULL ? png_create_info_struct(png) : NULL;
    if (info == NULL || setjmp(png_jmpbuf(png))) {
        png_destroy_write_struct(&png, &info);
        return false;
    }
    png_init_io(png, f);
    png_set_IHDR(png, info, (png_uint_32)c->w, (png_uint_32)c->h, 8, PNG_COLOR_TYPE_GRAY, PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    png_write_info(png, info);
    for (int y = 0; y < (int)c->h; y++) {
        draw_row(c, y, row);
        png_write_row(png, row);
    }
    png_write_end(png, info);
    png_destroy_write_struct(&png, &info);
    return true;
}

static int usage(void)
{
    fputs("usage: testcard gratings|discs|rings|bars|wedge|checker|steps W H NUMBER... OUT.png\n", stderr);
    return 2;
}

int main(int argc, char **argv)
{
    const mode *m = NULL;
    for (size_t i = 0; argc > 1 && i < SW_ARRAY_LEN(modes); i++)
        if (strcmp(argv[1], modes[i].name) == 0) m = &modes[i];
    if (m == NULL || argc != 5 + m->n_args) return usage();
    card c = { .ink = m->ink };
    if (!sw_number_parse(argv[2], &c.w) || !sw_number_parse(argv[3], &c.h)) return usage();
    c.w = floor(c.w);
    c.h = floor(c.h);
    if (!(c.w >= 1.0 && c.w <= 20000.0 && c.h >= 1.0 && c.h <= 20000.0)) return usage();
    for (int i = 0; i < m->n_args; i++)
        if (!sw_number_parse(argv[4 + i], &c.arg[i]) || !(c.arg[i] > 0.0)) return usage();
    c.margin = m->has_margin ? floor(0.1 * fmin(c.w, c.h)) : 0.0;
    uint8_t *row = sw_alloc_array((size_t)c.w, 1);
    FILE *f = fopen(argv[argc - 1], "wb");
    bool ok = row != NULL && f != NULL && write_card(&c, f, row);
    if (f != NULL && fclose(f) != 0) ok = false;
    sw_free(row);
    if (!ok) fprintf(stderr, "testcard: %s cannot be written\n", argv[argc - 1]);
    return ok ? 0 : 3;
}
