/* A drawing on uneven paper: how far each pixel is beyond a threshold that follows the paper.
 * Source: Sauvola and Pietikainen 2000, threshold = mean * (1 + k * (deviation / R - 1)) over a window; mean and
 * deviation are taken on a coarse picture, since the window is many lines wide. */
#include <math.h>

#include "separate/parts.h"

#define SAUVOLA_K 0.2f
#define SAUVOLA_R 128.0f  /* of lightness 0..255, as in the source */
#define MIN_SPREAD 12.0f  /* lightness steps from threshold to full line where there is no contrast: paper grain */

typedef struct flatten_task {
    sw_planes *planes;
    const float *threshold, *spread;
    size_t width, height, shift;
} flatten_task;

static void flatten_rows(size_t begin, size_t end, void *ctx)
{
    const flatten_task *const t = ctx;
    for (size_t y = begin; y < end; y++) {
        uint8_t *const row = t->planes->at[0] + y * t->planes->width_px;
        const size_t at = (y >> t->shift) * t->width;
        for (size_t x = 0; x < t->planes->width_px; x++) {
            const size_t i = at + (x >> t->shift);
            const float v = 128.0f + 127.0f * (t->threshold[i] - (float)row[x]) / t->spread[i];
            row[x] = (uint8_t)(v > 0.0f ? (v < 255.0f ? v : 255.0f) : 0.0f);
        }
    }
}

static void thresholds(const uint8_t *light, float *mean, float *square, float *spare, size_t width, size_t height,
                       size_t radius)
{
    const size_t n_px = width * height;
    for (size_t i = 0; i < n_px; i++) {
        mean[i] = light[i];
        square[i] = mean[i] * mean[i];
    }
    sw_box_mean(mean, spare, mean, width, height, radius);
    sw_box_mean(square, spare, square, width, height, radius);
    for (size_t i = 0; i < n_px; i++) {
        const float variance = square[i] - mean[i] * mean[i];
        const float deviation = variance > 0.0f ? sqrtf(variance) : 0.0f;
        mean[i] *= 1.0f + SAUVOLA_K * (deviation / SAUVOLA_R - 1.0f);
        square[i] = deviation > MIN_SPREAD ? deviation : MIN_SPREAD;
    }
}

sw_status sw_line_flatten(sw_planes *planes, double window_px, sw_note *note)
{
    sw_planes coarse = { .width_px = planes->width_px, .height_px = planes->height_px, .n = 1,
                         .at = { planes->at[0] } };
    float *mean = NULL, *square = NULL, *spare = NULL;
    size_t shift = 0;
    sw_status st = SW_OK;
    for (; shift < 2; shift++) {
        sw_planes half = { 0 };
        st = sw_planes_half(&coarse, &half, note);
        if (shift > 0) sw_planes_free(&coarse);
        coarse = half;
        if (st != SW_OK) goto cleanup;
    }
    const size_t n_px = coarse.width_px * coarse.height_px;
    st = SW_NO_MEMORY;
    mean = sw_alloc_raw(n_px, sizeof *mean);
    square = sw_alloc_raw(n_px, sizeof *square);
    spare = sw_alloc_raw(n_px, sizeof *spare);
    if (mean == NULL || square == NULL || spare == NULL) goto cleanup;
    const size_t radius = sw_max_size(2, (size_t)lrint(window_px / 2.0 / (double)((size_t)1 << shift)));
    thresholds(coarse.at[0], mean, square, spare, coarse.width_px, coarse.height_px, radius);
    sw_parallel_rows(planes->height_px, flatten_rows,
                     &(flatten_task){ planes, mean, square, coarse.width_px, coarse.height_px, shift });
    st = SW_OK;
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "the lines");
    sw_free(mean);
    sw_free(square);
    sw_free(spare);
    if (coarse.at[0] != planes->at[0]) sw_planes_free(&coarse);
    return st;
}
