/* Levels of the pyramid: planes, weights, data terms. */
#include <math.h>
#include <string.h>

#include "separate/level.h"

/* The inner loops are a few vector instructions long once unrolled, which gcc 12 does at -O3 only. */
#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC optimize("O3")
#endif

#define MAX_CAP 120000.0 /* above any squared distance in sRGB; keeps data terms below 2^30 */

/* ---- the data term ------------------------------------------------------------------------------------------ */

static const uint8_t *weight_row(const sw_level *at, size_t y)
{
    return at->weight + (y >> at->weight_shift) * (((at->planes->width_px - 1) >> at->weight_shift) + 1);
}

static void weights_of_row(const sw_level *at, size_t x, size_t y, size_t n, int32_t *restrict out)
{
    const size_t shift = at->weight_shift, side = (size_t)1 << shift;
    const uint8_t *const row = at->weight == NULL ? NULL : weight_row(at, y);
    if (row == NULL || shift == 0) {
        for (size_t i = 0; i < n; i++) out[i] = row == NULL ? SW_WEIGHT_ONE : row[x + i];
        return;
    }
    for (size_t i = 0, end = side - x % side; i < n; end += side) { /* as many as have the same weight */
        const int32_t weight = row[(x + i) >> shift];
        for (; i < end && i < n; i++) out[i] = weight;
    }
}

uint8_t sw_level_weight(const sw_level *level, size_t x, size_t y)
{
    return level->weight == NULL ? SW_WEIGHT_ONE : weight_row(level, y)[x >> level->weight_shift];
}

uint8_t sw_level_most_weight(const sw_level *level, size_t x, size_t y, size_t width, size_t height)
{
    const size_t shift = level->weight_shift;
    uint8_t most = 0;
    if (level->weight == NULL) return SW_WEIGHT_ONE;
    for (size_t v = y >> shift; v <= (y + height - 1) >> shift; v++) {
        const uint8_t *const row = weight_row(level, v << shift);
        for (size_t u = x >> shift; u <= (x + width - 1) >> shift; u++) most = row[u] > most ? row[u] : most;
    }
    return most;
}

double sw_level_cap(const sw_label_task *task) { return sw_clamp(task->cap_sq, 0.0, MAX_CAP); }

/* Colours, biases and the cap as whole numbers. */
static void set_terms(const sw_label_task *task, sw_level *out)
{
    out->n_labels = task->n_labels;
    out->cap = (int32_t)lrint(sw_level_cap(task) * SW_FINE * SW_FINE);
    for (size_t label = 0; label < task->n_labels; label++) {
        out->bias[label] = (int32_t)lrint(sw_clamp(task->bias[label], -MAX_CAP, MAX_CAP) * SW_FINE * SW_FINE);
        for (size_t p = 0; p < task->planes->n; p++)
            out->colour[label][p] = (int32_t)lrint(task->colour[label].at[p] * SW_FINE);
    }
}

/* The picture under a stretch of a row, and the least squared distance to any colour. */
typedef struct stretch {
    uint8_t value[SW_MAX_PLANES][SW_ROW_PX];
    int32_t weight[SW_ROW_PX], least[SW_ROW_PX];
} stretch;

/* Squared distances to one colour. n: whole vectors; n_planes is known where this is compiled. */
static inline void distances(const int32_t *colour, int32_t bias, size_t n, size_t n_planes, stretch *restrict s,
                             int32_t *restrict out)
{
    for (size_t i = 0; i < n / SW_LANES * SW_LANES; i++) {
        int32_t sum = bias;
        for (size_t p = 0; p < n_planes; p++) {
            const int32_t more = s->value[p][i] * SW_FINE - colour[p];
            sum += more * more;
        }
        const int32_t least = s->least[i];
        out[i] = sum;
        s->least[i] = sum < least ? sum : least;
    }
}

/* Distances less the least, no more than the cap, times the weight. */
static inline void weigh(const stretch *restrict s, int32_t cap, size_t n, int32_t *restrict out)
{
    for (size_t i = 0; i < n / SW_LANES * SW_LANES; i++) {
        const int32_t more = out[i] - s->least[i];
        out[i] = (more < cap ? more : cap) * s->weight[i];
    }
}

SW_WIDE void sw_level_data(const sw_level *level, size_t x, size_t y, size_t n, int32_t out[SW_MAX_LABELS][SW_ROW_PX])
{
    const size_t whole = (n + SW_LANES - 1) / SW_LANES * SW_LANES, n_planes = level->planes->n;
    stretch s;
    for (size_t p = 0; p < n_planes; p++) {
        /* cppcheck-suppress uninitvar ; filled here */
        memcpy(s.value[p], level->planes->at[p] + y * level->planes->width_px + x, n);
        memset(s.value[p] + n, 0, whole - n);
    }
    for (size_t i = 0; i < whole; i++) {
        s.least[i] = INT32_MAX;
        s.weight[i] = 0;
    }
    weights_of_row(level, x, y, n, s.weight);
    for (size_t label = 0; label < level->n_labels; label++) {
        const int32_t *const colour = level->colour[label], bias = level->bias[label];
        if (n_planes == 1) distances(colour, bias, whole, 1, &s, out[label]);
        else if (n_planes == 2) distances(colour, bias, whole, 2, &s, out[label]);
        else distances(colour, bias, whole, 3, &s, out[label]);
    }
    for (size_t label = 0; label < level->n_labels; label++) weigh(&s, level->cap, whole, out[label]);
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
        set_terms(task, &out->at[i]);
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
