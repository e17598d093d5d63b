/* Where a viewer looks: fine structure that stands out from calm surroundings (eyes, mouths, outlines, lettering) weighs
 * more in the data term, fine structure among its like (grass, hair, paper grain) less. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "separate/parts.h"

/* Lengths are parts of the longer side, since where one looks follows the picture and not the wall. All values below
 * are taste, set on four photos (a portrait, a cat, a rocket at night, a cup) until eyes, mouth, whiskers and badge
 * lettering were bright and hair, fur and film grain were not. */
#define MAX_SIDE 1100u        /* px of the coarse picture looked at */
#define FINE_RATIO 0.005      /* radius of the finer structure: whiskers, lettering */
#define COARSE_RATIO 0.011    /* of the coarser: eyes and mouth of a half-length portrait */
#define SURROUND_RATIO 0.04   /* of the surroundings */
#define NOISE 8.0f            /* plane units: structure weaker than this stands out from nothing */
#define HALF_WAY 64.0f        /* what makes half of the full weight: strength^2 / (surroundings + noise) */
#define MIN_WEIGHT 0.5f
#define MAX_WEIGHT 3.0f
/* Beside a sharp edge of this contrast a pixel weighs this much, so that corners of flat shapes stay corners. */
#define EDGE 120.0f
#define EDGE_WEIGHT 1.5f
/* Thin structure that stands out is drawn with this much more contrast, as an illustrator would draw it: else whether
 * a mouth or a whisker is there at all hangs on which side of a cut-off it happens to fall. */
#define LIFT 0.6f
/* In textured surroundings of this strength what does not stand out weighs half. */
#define TEXTURE 40.0f
/* What is calm beside what is looked at is seen with it: the eye rests there, and its sharp sight reaches about a degree to
 * every side. Radius of a box that is run three times, and the share of the mean salience that comes back. */
#define GAZE_RATIO 0.045
#define GAZE_GAIN 1.2f
#define GAZE_MOST 0.6f
/* Pixels on the slope between two areas show neither colour; counted in full they would draw an outline in a colour
 * between. Where a pixel is this far from both the least and the most nearby and there is no thin structure, this much
 * of the weight goes. */
#define SLOPE_RADIUS 2u       /* px */
#define SLOPE 25.0
#define SLOPE_DROP 0.7f

#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC optimize("O3") /* the loops over bytes are vectors only then */
#endif

/* ---- thin structure: top-hats ------------------------------------------------------------------------------------ */

/* What an opening or a closing by the square takes away: lines and specks thinner than it. Edges of larger areas
 * leave nothing. Light on dark is above 0. */
static void find_tophats(const uint8_t *in, uint8_t *one, uint8_t *two, float *hat, const sw_attention *size,
                         size_t radius)
{
    const size_t n_px = size->width_px * size->height_px;
    for (size_t i = 0; i < n_px; i++) hat[i] = 0.0f;
    for (uint8_t flip = 0;; flip = 255) {
        sw_morph(in, one, size->width_px, size->height_px, radius, flip);
        sw_morph(one, two, size->width_px, size->height_px, radius, flip ^ 255);
        for (size_t i = 0; i < n_px; i++) {
            const float now = (float)(in[i] - two[i]);
            hat[i] = fabsf(now) > fabsf(hat[i]) ? now : hat[i];
        }
        if (flip == 255) return;
    }
}

/* ---- structure against surroundings --------------------------------------------------------------------------- */

typedef struct fields {
    float *thin, *light, *hat, *around, *spare, *slope, *edge;
    uint8_t *one, *two;
} fields;

static size_t radius_of(const sw_attention *size, double ratio)
{
    const double side = (double)sw_max_size(size->width_px, size->height_px);
    return sw_min_size(sw_max_size(1, (size_t)lrint(ratio * side)), SW_MORPH_RADIUS);
}

/* f->thin: the larger of the top-hats at both scales, summed over planes; f->light: of lightness alone, with its sign.
 * f->slope: how far a pixel is from both the
 * least and the most nearby. f->edge: how much nearer it is to one of them. */
static void find_structure(const sw_planes *planes, const fields *f, const sw_attention *size)
{
    static const double ratios[] = { FINE_RATIO, COARSE_RATIO };
    const size_t n_px = size->width_px * size->height_px;
    for (size_t scale = 0; scale < SW_ARRAY_LEN(ratios); scale++) {
        for (size_t i = 0; i < n_px; i++) f->around[i] = 0.0f;
        for (size_t p = 0; p < planes->n; p++) {
            find_tophats(planes->at[p], f->one, f->two, f->hat, size, radius_of(size, ratios[scale]));
            for (size_t i = 0; i < n_px; i++) f->around[i] += fabsf(f->hat[i]);
            for (size_t i = 0; i < n_px && p == 0; i++)
                f->light[i] = scale > 0 && fabsf(f->light[i]) > fabsf(f->hat[i]) ? f->light[i] : f->hat[i];
        }
        for (size_t i = 0; i < n_px; i++) f->thin[i] = scale > 0 && f->thin[i] > f->around[i] ? f->thin[i] : f->around[i];
    }
    for (size_t i = 0; i < n_px; i++) f->slope[i] = f->edge[i] = 0.0f;
    for (size_t p = 0; p < planes->n; p++) {
        sw_morph(planes->at[p], f->one, size->width_px, size->height_px, SLOPE_RADIUS, 0);
        sw_morph(planes->at[p], f->two, size->width_px, size->height_px, SLOPE_RADIUS, 255);
        for (size_t i = 0; i < n_px; i++) {
            const int above = planes->at[p][i] - f->one[i], below = f->two[i] - planes->at[p][i];
            f->slope[i] += (float)(above < below ? above : below);
            f->edge[i] += (float)abs(above - below);
        }
    }
}

static void weigh(const fields *f, const sw_attention *out)
{
    const size_t width = out->width_px, height = out->height_px;
    const size_t around = radius_of(out, SURROUND_RATIO);
    sw_box_mean(f->thin, f->spare, f->thin, width, height, 1);
    sw_box_mean(f->thin, f->spare, f->thin, width, height, 1);
    sw_box_mean(f->thin, f->spare, f->around, width, height, around);
    sw_box_mean(f->around, f->spare, f->around, width, height, around);
    for (size_t i = 0; i < width * height; i++) {
        const float stands_out = f->thin[i] * f->thin[i] / (f->around[i] + NOISE);
        const float x = stands_out / HALF_WAY, ratio = x * x / (1.0f + x * x);
        const float slope = (float)sw_clamp((double)(f->slope[i] - f->thin[i]) / SLOPE, 0.0, 1.0);
        const float edge = f->edge[i] < EDGE ? f->edge[i] / EDGE : 1.0f;
        const float calm = (MIN_WEIGHT + (EDGE_WEIGHT - MIN_WEIGHT) * edge) / (1.0f + f->around[i] / TEXTURE);
        const float weight = (calm + (MAX_WEIGHT - calm) * ratio) * (1.0f - SLOPE_DROP * slope);
        out->salience[i] = (uint8_t)(255.0f * ratio);
        out->lift[i] = (int8_t)sw_clamp((double)(LIFT * ratio * ratio * f->light[i]), -127.0, 127.0);
        out->weight[i] = (uint8_t)(weight * SW_WEIGHT_ONE);
    }
}

static void mark_detail(const sw_marks *marks, const sw_attention *out)
{
    for (size_t y = 0; y < marks->height_px; y++) {
        for (size_t x = 0; x < marks->width_px; x++) {
            if ((marks->at[y * marks->width_px + x] & SW_MARK_DETAIL) == 0) continue;
            const size_t at = (y >> out->shift) * out->width_px + (x >> out->shift);
            out->salience[at] = 255;
            out->weight[at] = SW_WEIGHT_MARKED;
        }
    }
}

static bool fields_alloc(fields *f, size_t n_px)
{
    float **const floats[] = { &f->thin, &f->light, &f->hat, &f->around, &f->spare, &f->slope, &f->edge };
    for (size_t i = 0; i < SW_ARRAY_LEN(floats); i++) {
        *floats[i] = sw_alloc_raw(n_px, sizeof **floats[i]);
        if (*floats[i] == NULL) return false;
    }
    f->one = sw_alloc_raw(n_px, 1);
    f->two = sw_alloc_raw(n_px, 1);
    return f->one != NULL && f->two != NULL;
}

static void fields_free(fields *f)
{
    sw_free(f->thin);
    sw_free(f->light);
    sw_free(f->hat);
    sw_free(f->around);
    sw_free(f->spare);
    sw_free(f->slope);
    sw_free(f->edge);
    sw_free(f->one);
    sw_free(f->two);
}

/* The first level of the pyramid that is small enough; *out may be the planes themselves, lent (shift 0). */
static sw_status coarse_planes(const sw_planes *planes, sw_planes *out, size_t *shift, sw_note *note)
{
    sw_planes coarse = *planes;
    *shift = 0;
    while (sw_max_size(coarse.width_px, coarse.height_px) > MAX_SIDE) {
        sw_planes half = { 0 };
        const sw_status st = sw_planes_half(&coarse, &half, note);
        if (*shift > 0) sw_planes_free(&coarse);
        if (st != SW_OK) return st;
        coarse = half;
        ++*shift;
    }
    *out = coarse;
    return SW_OK;
}

sw_status sw_attention_make(const sw_planes *planes, const sw_marks *marks, sw_attention *out, sw_note *note)
{
    sw_attention made = { 0 };
    sw_planes coarse = { 0 };
    fields f = { 0 };
    sw_status st = coarse_planes(planes, &coarse, &made.shift, note);
    if (st != SW_OK) goto cleanup;
    const size_t n_px = coarse.width_px * coarse.height_px;
    st = SW_NO_MEMORY;
    made.width_px = coarse.width_px;
    made.height_px = coarse.height_px;
    made.weight = sw_alloc_raw(n_px, 1);
    made.salience = sw_alloc_raw(n_px, 1);
    made.lift = sw_alloc_raw(n_px, 1);
    if (made.weight == NULL || made.salience == NULL || made.lift == NULL || !fields_alloc(&f, n_px)) goto cleanup;
    find_structure(&coarse, &f, &made);
    weigh(&f, &made);
    if (marks != NULL) mark_detail(marks, &made);
    *out = made;
    made = (sw_attention){ 0 };
    st = SW_OK;
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "where a viewer looks");
    fields_free(&f);
    if (coarse.at[0] != planes->at[0]) sw_planes_free(&coarse);
    sw_attention_free(&made);
    return st;
}

sw_status sw_attention_gaze(const sw_attention *attention, sw_note *note)
{
    const size_t width = attention->width_px, height = attention->height_px, n_px = width * height;
    const size_t radius = radius_of(attention, GAZE_RATIO);
    float *const near = sw_alloc_raw(n_px, sizeof *near), *const spare = sw_alloc_raw(n_px, sizeof *spare);
    const bool is_good = near != NULL && spare != NULL;
    if (is_good) {
        for (size_t i = 0; i < n_px; i++) near[i] = (float)(attention->salience[i] * attention->salience[i]) / (255.0f * 255.0f);
        for (size_t round = 0; round < 3; round++) sw_box_mean(near, spare, near, width, height, radius);
        for (size_t i = 0; i < n_px; i++) {
            const float ratio = GAZE_GAIN * sqrtf(near[i]);
            const uint8_t gaze = (uint8_t)(255.0f * (ratio < GAZE_MOST ? ratio : GAZE_MOST));
            if (attention->salience[i] < gaze) attention->salience[i] = gaze;
        }
    }
    sw_free(near);
    sw_free(spare);
    return is_good ? SW_OK : sw_fail_memory(note, "where a viewer looks");
}

void sw_attention_free(sw_attention *attention)
{
    if (attention == NULL) return;
    sw_free(attention->weight);
    sw_free(attention->salience);
    sw_free(attention->lift);
    *attention = (sw_attention){ 0 };
}

typedef struct lift_task {
    const sw_attention *attention;
    const sw_planes *planes;
    int64_t light, dark; /* strength for either, in 1/256 */
} lift_task;

/* Between four coarse pixels, bilinear: a step from coarse pixel to pixel would show as a stair in the boundary. */
static void lift_rows(size_t begin, size_t end, void *ctx)
{
    const lift_task *const t = ctx;
    const sw_attention *const a = t->attention;
    const int32_t side = 1 << a->shift;
    for (size_t y = begin; y < end; y++) {
        uint8_t *const row = t->planes->at[0] + y * t->planes->width_px;
        const int32_t at_y = (int32_t)(2 * y) + 1 - side; /* in half pixels from the first coarse centre */
        const size_t y0 = at_y < 0 ? 0 : (size_t)(at_y / (2 * side)), y1 = sw_min_size(y0 + 1, a->height_px - 1);
        const int32_t part_y = at_y < 0 ? 0 : at_y % (2 * side);
        const int8_t *const top = a->lift + y0 * a->width_px, *const low = a->lift + y1 * a->width_px;
        for (size_t cx = 0; cx <= a->width_px; cx++) { /* from coarse centre cx - 1 to cx */
            const size_t x0 = cx == 0 ? 0 : cx - 1, x1 = sw_min_size(cx, a->width_px - 1);
            const int32_t left = top[x0] * (2 * side - part_y) + low[x0] * part_y;
            const int32_t right = top[x1] * (2 * side - part_y) + low[x1] * part_y;
            if (left == 0 && right == 0) continue;
            for (int32_t i = 0; i < side; i++) {
                const int64_t x = (int64_t)cx * side - side / 2 + i;
                if (x < 0 || x >= (int64_t)t->planes->width_px) continue;
                const int32_t part = 2 * i + (side > 1 ? 1 : 0);
                const int32_t sum = left * (2 * side - part) + right * part;
                const int32_t lift = (int32_t)(sum * (sum > 0 ? t->light : t->dark) / (1024 * side * side));
                const int32_t v = row[x] + lift;
                row[x] = (uint8_t)(v < 0 ? 0 : v > 255 ? 255 : v);
            }
        }
    }
}

void sw_attention_lift(const sw_attention *attention, double light, double dark, sw_planes *planes)
{
    sw_parallel_rows(planes->height_px, lift_rows,
                     &(lift_task){ attention, planes, lrint(light * 256.0), lrint(dark * 256.0) });
}
