/* Where a viewer looks: fine structure that stands out from calm surroundings (eyes, mouths, outlines, lettering) weighs
 * more in the data term, fine structure among its like (grass, hair, paper grain) less. */
#include <math.h>
#include <string.h>

#include "separate/parts.h"

#define MAX_SIDE 1100u    /* px of the coarse picture looked at: salience follows the picture, not the wall */
#define FINE_RATIO 0.004  /* radius of fine structure, part of the longer side (taste: an eye in a half-length portrait) */
#define SURROUND 8        /* radius of the surroundings, in radii of fine structure */

/* ---- box means of floats ------------------------------------------------------------------------------------- */

typedef struct box_task {
    const float *in;
    float *out;
    size_t width, height, radius;
} box_task;

static void box_along_rows(size_t begin, size_t end, void *ctx)
{
    const box_task *const t = ctx;
    for (size_t y = begin; y < end; y++) {
        const float *const in = t->in + y * t->width;
        double sum = 0.0;
        size_t n = 0;
        for (size_t x = 0; x < t->radius && x < t->width; x++, n++) sum += (double)in[x];
        for (size_t x = 0; x < t->width; x++) {
            if (x + t->radius < t->width) sum += (double)in[x + t->radius], n++;
            if (x > t->radius) sum -= (double)in[x - t->radius - 1], n--;
            t->out[y * t->width + x] = (float)(sum / (double)n);
        }
    }
}

#define STRIP 64 /* columns a task: a row of a strip is one to four cache lines */

static void box_along_columns(size_t begin, size_t end, void *ctx)
{
    const box_task *const t = ctx;
    for (size_t strip = begin; strip < end; strip++) {
        const size_t x0 = strip * STRIP, width = sw_min_size(STRIP, t->width - x0);
        double sum[STRIP] = { 0.0 };
        size_t n = 0;
        for (size_t y = 0; y < t->radius && y < t->height; y++, n++) {
            for (size_t x = 0; x < width; x++) sum[x] += (double)t->in[y * t->width + x0 + x];
        }
        for (size_t y = 0; y < t->height; y++) {
            const bool is_add = y + t->radius < t->height, is_drop = y > t->radius;
            n = n + is_add - is_drop;
            const float *const add = t->in + (is_add ? y + t->radius : 0) * t->width + x0;
            const float *const drop = t->in + (is_drop ? y - t->radius - 1 : 0) * t->width + x0;
            float *const out = t->out + y * t->width + x0;
            for (size_t x = 0; x < width; x++) {
                sum[x] += (is_add ? (double)add[x] : 0.0) - (is_drop ? (double)drop[x] : 0.0);
                out[x] = (float)(sum[x] / (double)n);
            }
        }
    }
}

void sw_box_mean(const float *in, float *spare, float *out, size_t width, size_t height, size_t radius)
{
    sw_parallel_rows(height, box_along_rows, &(box_task){ in, spare, width, height, radius });
    sw_parallel_bands((width - 1) / STRIP + 1, 1, box_along_columns, &(box_task){ spare, out, width, height, radius });
}

/* ---- structure against surroundings --------------------------------------------------------------------------- */

static void measure(const float *light, float *fine, float *spare, float *around, const sw_attention *size)
{
    const size_t width = size->width_px, height = size->height_px, n_px = width * height;
    const size_t radius = sw_max_size(1, (size_t)lrint(FINE_RATIO * (double)sw_max_size(width, height)));
    sw_box_mean(light, spare, around, width, height, radius);
    for (size_t i = 0; i < n_px; i++) fine[i] = fabsf(light[i] - around[i]);
    sw_box_mean(fine, spare, fine, width, height, radius);
    sw_box_mean(fine, spare, around, width, height, SURROUND * radius);
    for (size_t i = 0; i < n_px; i++) {
        const float ratio = fine[i] / (around[i] + 2.0f);
        const float salience = 16.0f * fine[i] * ratio;
        size->salience[i] = (uint8_t)(salience < 255.0f ? salience : 255.0f);
        const float weight = 0.75f + 3.25f * (float)size->salience[i] / 255.0f;
        size->weight[i] = (uint8_t)(weight * SW_WEIGHT_ONE);
    }
}

static void mark_detail(const sw_marks *marks, const sw_attention *out)
{
    for (size_t y = 0; y < marks->height_px; y++) {
        for (size_t x = 0; x < marks->width_px; x++) {
            if ((marks->at[y * marks->width_px + x] & SW_MARK_DETAIL) == 0) continue;
            const size_t at = (y >> out->shift) * out->width_px + (x >> out->shift);
            out->salience[at] = 255;
            out->weight[at] = 255;
        }
    }
}

sw_status sw_attention_make(const sw_planes *planes, const sw_marks *marks, sw_attention *out, sw_note *note)
{
    sw_attention made = { 0 };
    sw_planes coarse = { .width_px = planes->width_px, .height_px = planes->height_px, .n = 1,
                         .at = { planes->at[0] } };
    float *field[4] = { NULL };
    sw_status st = SW_OK;
    for (; sw_max_size(coarse.width_px, coarse.height_px) > MAX_SIDE; made.shift++) {
        sw_planes half = { 0 };
        st = sw_planes_half(&coarse, &half, note);
        if (made.shift > 0) sw_planes_free(&coarse);
        coarse = half;
        if (st != SW_OK) goto cleanup;
    }
    const size_t n_px = coarse.width_px * coarse.height_px;
    st = SW_NO_MEMORY;
    made.width_px = coarse.width_px;
    made.height_px = coarse.height_px;
    made.weight = sw_alloc_raw(n_px, 1);
    made.salience = sw_alloc_raw(n_px, 1);
    if (made.weight == NULL || made.salience == NULL) goto cleanup;
    for (size_t i = 0; i < SW_ARRAY_LEN(field); i++) {
        field[i] = sw_alloc_raw(n_px, sizeof *field[i]);
        if (field[i] == NULL) goto cleanup;
    }
    for (size_t i = 0; i < n_px; i++) field[0][i] = coarse.at[0][i];
    measure(field[0], field[1], field[2], field[3], &made);
    if (marks != NULL) mark_detail(marks, &made);
    *out = made;
    made = (sw_attention){ 0 };
    st = SW_OK;
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "where a viewer looks");
    for (size_t i = 0; i < SW_ARRAY_LEN(field); i++) sw_free(field[i]);
    if (coarse.at[0] != planes->at[0]) sw_planes_free(&coarse);
    sw_attention_free(&made);
    return st;
}

void sw_attention_free(sw_attention *attention)
{
    if (attention == NULL) return;
    sw_free(attention->weight);
    sw_free(attention->salience);
    *attention = (sw_attention){ 0 };
}
