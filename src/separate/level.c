/* Levels of the pyramid: planes, weights, data terms. */
#include <math.h>

#include "separate/level.h"

/* The inner loops are a few vector instructions long once unrolled, which gcc 12 does at -O3 only. */
#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC optimize("O3")
#endif

#define MAX_CAP 120000.0 /* above any squared distance in sRGB; keeps data terms below 2^30 */

/* ---- the data term ------------------------------------------------------------------------------------------ */

static void weights_of_row(const sw_level *at, size_t x, size_t y, size_t n, int32_t *out)
{
    if (at->weight == NULL) {
        for (size_t i = 0; i < n; i++) out[i] = SW_WEIGHT_ONE;
        return;
    }
    const size_t shift = at->weight_shift;
    const uint8_t *const row = at->weight + (y >> shift) * (((at->planes->width_px - 1) >> shift) + 1);
    for (size_t i = 0; i < n; i++) out[i] = row[(x + i) >> shift];
}

uint8_t sw_level_weight(const sw_level *level, size_t x, size_t y)
{
    if (level->weight == NULL) return SW_WEIGHT_ONE;
    const size_t shift = level->weight_shift;
    return level->weight[(y >> shift) * (((level->planes->width_px - 1) >> shift) + 1) + (x >> shift)];
}

double sw_level_cap(const sw_label_task *task) { return sw_clamp(task->cap_sq, 0.0, MAX_CAP); }

/* Squared distances to every label's colour, less the smallest, no more than the cap, times the weight. */
SW_WIDE void sw_level_data(const sw_label_task *task, const sw_level *at, size_t x, size_t y, size_t n,
                   int32_t out[SW_MAX_LABELS][SW_ROW_PX])
{
    int32_t least[SW_ROW_PX], weight[SW_ROW_PX];
    const int32_t cap = (int32_t)lrint(sw_level_cap(task) * SW_FINE * SW_FINE);
    const size_t start = y * at->planes->width_px + x;
    for (size_t label = 0; label < task->n_labels; label++) {
        int32_t *const d = out[label];
        const int32_t bias = (int32_t)lrint(sw_clamp(task->bias[label], -MAX_CAP, MAX_CAP) * SW_FINE * SW_FINE);
        for (size_t p = 0; p < at->planes->n; p++) {
            const int32_t colour = (int32_t)lrint(task->colour[label].at[p] * SW_FINE);
            const uint8_t *const row = at->planes->at[p] + start;
            if (p == 0) {
                for (size_t i = 0; i < n; i++) d[i] = (row[i] * SW_FINE - colour) * (row[i] * SW_FINE - colour) + bias;
            } else {
                for (size_t i = 0; i < n; i++) d[i] += (row[i] * SW_FINE - colour) * (row[i] * SW_FINE - colour);
            }
        }
        for (size_t i = 0; i < n; i++) least[i] = label == 0 || d[i] < least[i] ? d[i] : least[i];
    }
    weights_of_row(at, x, y, n, weight);
    for (size_t label = 0; label < task->n_labels; label++) {
        int32_t *const d = out[label];
        for (size_t i = 0; i < n; i++) {
            const int32_t more = d[i] - least[i];
            d[i] = (more < cap ? more : cap) * weight[i];
        }
    }
}

/* ---- the pyramid ---------------------------------------------------------------------------------------------- */

typedef struct blend_task {
    const sw_planes *fine, *coarse;
    const uint8_t *weight; /* of the fine level */
    uint8_t *out;
    double mixed_sq;
} blend_task;

/* Weights of a level from those of the finer one: the mean, less where the four pixels differ. A mixed pixel has a
 * colour that is in neither area, and in full it would begin a band in a colour between them, which is too straight
 * for any step on a finer level to remove. */
static void blend_rows(size_t begin, size_t end, void *ctx)
{
    const blend_task *const t = ctx;
    const size_t width = t->fine->width_px, height = t->fine->height_px;
    for (size_t y = begin; y < end; y++) {
        for (size_t x = 0; x < t->coarse->width_px; x++) {
            const size_t x0 = 2 * x, x1 = sw_min_size(x0 + 1, width - 1);
            const size_t row0 = 2 * y * width, row1 = sw_min_size(2 * y + 1, height - 1) * width;
            const size_t at[4] = { row0 + x0, row0 + x1, row1 + x0, row1 + x1 };
            double spread = 0.0;
            unsigned weight = 2;
            for (size_t k = 0; k < 4; k++) weight += t->weight[at[k]];
            for (size_t p = 0; p < t->fine->n; p++) {
                const uint8_t *const v = t->fine->at[p];
                const double mean = t->coarse->at[p][y * t->coarse->width_px + x];
                for (size_t k = 0; k < 4; k++) spread += (v[at[k]] - mean) * (v[at[k]] - mean) / 4.0;
            }
            const double kept = (double)(weight / 4) / (1.0 + spread / t->mixed_sq);
            t->out[y * t->coarse->width_px + x] = (uint8_t)sw_max(kept, 1.0);
        }
    }
}

sw_status sw_pyramid_make(const sw_label_task *task, size_t n, sw_pyramid *out, sw_note *note)
{
    const sw_attention *const look = task->attention;
    out->planes[0] = *task->planes;
    out->n = n;
    for (size_t i = 0; i < n; i++) {
        out->at[i] = (sw_level){ .planes = &out->planes[i], .index = i };
        if (look != NULL && i <= look->shift) {
            out->at[i].weight = look->weight;
            out->at[i].weight_shift = look->shift - i;
        }
        if (i == 0) continue;
        SW_TRY(sw_planes_half(&out->planes[i - 1], &out->planes[i], note));
        if (look == NULL) continue;
        if (i == 1) SW_TRY(sw_planes_sharpen(&out->planes[1], look, 1, task->slope_px / 2.0, task->slope_step, note));
        if (i <= look->shift) continue;
        const uint8_t *const fine = i - 1 == look->shift ? look->weight : out->weight[i - 1];
        out->weight[i] = sw_alloc_raw(out->planes[i].width_px * out->planes[i].height_px, 1);
        if (out->weight[i] == NULL) return sw_fail_memory(note, "the labels");
        out->at[i].weight = out->weight[i];
        sw_parallel_rows(out->planes[i].height_px, blend_rows,
                         &(blend_task){ &out->planes[i - 1], &out->planes[i], fine, out->weight[i], task->mixed_sq });
    }
    return SW_OK;
}

void sw_pyramid_free(sw_pyramid *made)
{
    for (size_t i = 1; i < SW_MAX_LEVELS; i++) sw_planes_free(&made->planes[i]);
    for (size_t i = 0; i < SW_MAX_LEVELS; i++) sw_free(made->weight[i]);
}
