/* How the light falls on the bare wall, so that it can fall on the paint in the same way.
 *
 * Light and relief scale a wall's colour; a stain, a repaired patch or a brick beside its mortar changes it, and paint
 * hides that. So where a place has another hue or saturation than the wall at large, its light is taken from the unchanged
 * wall around it (a mean over places of the wall's own colour, near ones before far ones) and only its grain, the ratio to its own
 * surroundings, is kept. A shadow outdoors is lit by the sky and a little bluer: that counts less. Grey dirt looks like a
 * shadow and stays one: from one photograph nothing tells them apart. Values are taste, set on drawn walls. */
#include "wall/scene.h"

#include <math.h>
#include <string.h>

#define FAINT 0.004f        /* linear light; darker than this a hue says nothing */
#define SAME 0.10f          /* difference of log(R/G) and log(B/G) that is no stain ... */
#define OTHER 0.22f         /* ... and that surely is one */
#define SKY_RATIO 0.35f     /* what a difference towards blue counts when the place is dark */
#define HUE_PX 2u           /* hues are means over this radius: noise of a camera is coloured */
#define GRAIN_PX 5u         /* grain is what differs from the mean over this radius */
#define ENOUGH 0.2f         /* share of the wall's own colour near by that is trusted alone */
#define GRAIN_RANGE 2.0     /* a stain's grain is at most this many times as strong as the wall's is on average: no rims */
#define HUE_BINS 400        /* of -2 .. 2 */
#define COLUMNS 64u         /* in a band */

/* Planes over one rectangle of the photograph. */
typedef struct field {
    const sw_wall_scene *scene;
    size_t left, top, width, height;
    float *light, *red, *blue; /* luminance; log(R/G), log(B/G) */
    float *stain;              /* 0 the wall's own colour .. 1 surely not */
    float *mean, *weight, *spare;
} field;

/* ---- box means --------------------------------------------------------------------------------------- */

typedef struct box {
    const float *in;
    float *out;
    size_t width, height, radius;
} box;

/* Running mean of n values `stride` apart, as many as there are. */
static void mean_along(const float *in, float *out, size_t n, size_t stride, size_t radius)
{
    double sum = 0.0;
    size_t begin = 0, end = 0;
    for (size_t i = 0; i < n; i++) {
        while (end < n && end <= i + radius) sum += (double)in[end++ * stride];
        while (begin + radius < i) sum -= (double)in[begin++ * stride];
        out[i * stride] = (float)(sum / (double)(end - begin));
    }
}

static void mean_rows(size_t begin, size_t end, void *ctx)
{
    const box *const b = ctx;
    for (size_t y = begin; y < end; y++) mean_along(b->in + y * b->width, b->out + y * b->width, b->width, 1, b->radius);
}

static void mean_columns(size_t begin, size_t end, void *ctx)
{
    const box *const b = ctx;
    for (size_t x = begin; x < end; x++) mean_along(b->in + x, b->out + x, b->height, b->width, b->radius);
}

/* in and out may be the same; spare is neither. */
static void box_mean(const field *f, const float *in, float *out, size_t radius)
{
    sw_parallel_rows(f->height, mean_rows, &(box){ in, f->spare, f->width, f->height, radius });
    sw_parallel_bands(f->width, COLUMNS, mean_columns, &(box){ f->spare, out, f->width, f->height, radius });
}

/* ---- hues ----------------------------------------------------------------------------------------------- */

static sw_rgb8 photo_at(const field *f, size_t x, size_t y)
{
    return f->scene->photo.at[(f->top + y) * f->scene->photo.width_px + f->left + x];
}

static bool is_front(const field *f, size_t x, size_t y)
{
    return f->scene->front != NULL && f->scene->front[(f->top + y) * f->scene->photo.width_px + f->left + x] > 127;
}

static void read_rows(size_t begin, size_t end, void *ctx)
{
    const field *const f = ctx;
    for (size_t y = begin; y < end; y++) {
        for (size_t x = 0; x < f->width; x++) {
            const sw_rgb8 c = photo_at(f, x, y);
            const float r = sw_linear_from_srgb8(c.r), g = sw_linear_from_srgb8(c.g), b = sw_linear_from_srgb8(c.b);
            const size_t i = y * f->width + x;
            f->light[i] = 0.2126f * r + 0.7152f * g + 0.0722f * b;
            f->red[i] = logf((r + FAINT) / (g + FAINT));
            f->blue[i] = logf((b + FAINT) / (g + FAINT));
        }
    }
}

/* The middle value of a plane over the bare wall. */
static float middle_of(const field *f, const float *plane)
{
    size_t count[HUE_BINS + 1] = { 0 }, n = 0, seen = 0;
    for (size_t y = 0; y < f->height; y += 2) {
        for (size_t x = 0; x < f->width; x += 2) {
            if (is_front(f, x, y)) continue;
            count[(size_t)sw_clamp(((double)plane[y * f->width + x] + 2.0) * 0.25 * HUE_BINS + 0.5, 0.0, HUE_BINS)]++;
            n++;
        }
    }
    for (size_t bin = 0; bin <= HUE_BINS; bin++) {
        seen += count[bin];
        if (2 * seen >= n) return (float)bin * 4.0f / HUE_BINS - 2.0f;
    }
    return 0.0f;
}

static void find_stains(const field *f, float lit)
{
    const float red = middle_of(f, f->red), blue = middle_of(f, f->blue);
    for (size_t y = 0; y < f->height; y++) {
        for (size_t x = 0; x < f->width; x++) {
            const size_t i = y * f->width + x;
            const float du = f->red[i] - red, dv = f->blue[i] - blue;
            const bool is_sky_lit = f->light[i] < lit && du <= 0.0f && dv >= 0.0f;
            const float away = sqrtf(du * du + dv * dv) * (is_sky_lit ? SKY_RATIO : 1.0f);
            const float t = (float)sw_clamp((double)((away - SAME) / (OTHER - SAME)), 0.0, 1.0);
            f->stain[i] = is_front(f, x, y) ? 1.0f : t * t * (3.0f - 2.0f * t);
        }
    }
}

/* ---- light ---------------------------------------------------------------------------------------------- */

/* mean: the light of the wall's own colour round each place, from far to near. */
static void spread_light(const field *f)
{
    const size_t n_px = f->width * f->height;
    double sum = 0.0, weight = 0.0;
    for (size_t i = 0; i < n_px; i++) {
        sum += (double)((1.0f - f->stain[i]) * f->light[i]);
        weight += 1.0 - (double)f->stain[i];
    }
    const float all = weight > 0.0 ? (float)(sum / weight) : 0.0f;
    for (size_t i = 0; i < n_px; i++) f->red[i] = all; /* hues are known by now: their planes are free */
    for (size_t radius = sw_max_size(f->width, f->height) / 4; radius >= 2; radius /= 3) {
        for (size_t i = 0; i < n_px; i++) {
            f->weight[i] = 1.0f - f->stain[i];
            f->mean[i] = f->weight[i] * f->light[i];
        }
        box_mean(f, f->weight, f->weight, radius);
        box_mean(f, f->mean, f->mean, radius);
        for (size_t i = 0; i < n_px; i++) {
            const float trust = f->weight[i] >= ENOUGH ? 1.0f : f->weight[i] / ENOUGH;
            if (f->weight[i] > 1e-4f) f->red[i] += trust * (f->mean[i] / f->weight[i] - f->red[i]);
        }
    }
}

/* How much the wall's own colour differs from its surroundings on average, as a ratio. */
static double grain_of(const field *f)
{
    double sum = 0.0, weight = 0.0;
    box_mean(f, f->light, f->mean, GRAIN_PX);
    for (size_t i = 0; i < f->width * f->height; i++) {
        if (!(f->mean[i] > 0.0f)) continue;
        const double own = 1.0 - (double)f->stain[i];
        sum += own * fabs((double)(f->light[i] / f->mean[i]) - 1.0);
        weight += own;
    }
    return weight > 0.0 ? sum / weight : 0.0;
}

/* light becomes what it would be on a wall of one colour. */
static void replace_stains(const field *f)
{
    const size_t n_px = f->width * f->height;
    const double range = GRAIN_RANGE * grain_of(f);
    for (size_t i = 0; i < n_px; i++) f->mean[i] = f->stain[i] * f->light[i];
    box_mean(f, f->mean, f->mean, GRAIN_PX);
    box_mean(f, f->stain, f->weight, GRAIN_PX);
    for (size_t i = 0; i < n_px; i++) {
        if (!(f->stain[i] > 0.0f && f->weight[i] > 0.0f)) continue;
        const float around = f->mean[i] / f->weight[i];
        const float grain = around > 0.0f ? (float)sw_clamp((double)(f->light[i] / around), 1.0 - range, 1.0 + range) : 1.0f;
        f->light[i] += f->stain[i] * (f->red[i] * grain - f->light[i]);
    }
}

sw_status sw_scene_shade(const sw_wall_scene *scene, size_t left, size_t top, size_t width, size_t height, float **out,
                         sw_note *note)
{
    field f = { .scene = scene, .left = left, .top = top, .width = width, .height = height };
    float **const planes[] = { &f.light, &f.red, &f.blue, &f.stain, &f.mean, &f.weight, &f.spare };
    sw_status st = SW_OK;
    for (size_t i = 0; i < SW_ARRAY_LEN(planes) && st == SW_OK; i++) {
        *planes[i] = sw_alloc_raw(width * height, sizeof **planes[i]);
        if (*planes[i] == NULL) st = sw_fail_memory(note, "the light on the wall");
    }
    if (st == SW_OK) {
        sw_parallel_rows(height, read_rows, &f);
        box_mean(&f, f.red, f.red, HUE_PX);
        box_mean(&f, f.blue, f.blue, HUE_PX);
        double sum = 0.0;
        for (size_t i = 0; i < width * height; i++) sum += (double)f.light[i];
        find_stains(&f, (float)(sum / (double)(width * height)));
        spread_light(&f);
        replace_stains(&f);
        *out = f.light;
        f.light = NULL;
    }
    for (size_t i = 0; i < SW_ARRAY_LEN(planes); i++) sw_free(*planes[i]);
    return st;
}
