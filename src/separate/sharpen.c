/* Slopes into steps: a pixel between two areas takes the colour of the nearer side.
 *
 * An interpolated or slightly soft edge passes through every tone between its sides, and labels would draw it as a
 * band, or as slivers of one, too narrow to cut. Source of the idea: toggle mappings, Kramer and Bruckner 1975 (each
 * pixel becomes the local least or most, whichever is nearer), here with the colour carried along by lightness. */
#include <string.h>

#include "separate/parts.h"

#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC optimize("O3") /* vectors */
#endif

#define MAX_RADIUS 16u /* px */
#define CHUNK 256u     /* px of a row done at a time */
#define MIN_SALIENCE 80 /* below it slopes stay: in fur, grass and grain steps would be as many as hairs */

typedef struct sharpen_task {
    sw_planes *planes;
    int32_t *least, *most; /* along the row: lightness << 16 | a << 8 | b, so that a compare carries the colour */
    size_t radius;
    int32_t min_step;      /* of lightness between least and most; below it a slope is left alone */
    const uint8_t *salience; /* at 1 / 2^shift of the planes' size */
    size_t shift, salience_width;
} sharpen_task;

static int32_t packed_at(const sw_planes *planes, size_t at)
{
    const int32_t l = planes->at[0][at];
    return planes->n < 3 ? l << 16 : l << 16 | planes->at[1][at] << 8 | planes->at[2][at];
}

SW_WIDE static void extremes_of_rows(size_t begin, size_t end, void *ctx)
{
    const sharpen_task *const t = ctx;
    const size_t width = t->planes->width_px, r = t->radius;
    int32_t in[CHUNK + 2 * MAX_RADIUS];
    for (size_t y = begin; y < end; y++) {
        for (size_t x0 = 0; x0 < width; x0 += CHUNK) {
            const size_t n = sw_min_size(CHUNK, width - x0);
            int32_t *const least = t->least + y * width + x0, *const most = t->most + y * width + x0;
            for (size_t i = 0; i < n + 2 * r; i++) { /* past the edge the last pixel is repeated */
                const size_t x = x0 + i < r ? 0 : sw_min_size(x0 + i - r, width - 1);
                in[i] = packed_at(t->planes, y * width + x);
            }
            memcpy(least, in, n * sizeof *in);
            memcpy(most, in, n * sizeof *in);
            for (size_t k = 1; k <= 2 * r; k++) {
                for (size_t i = 0; i < n; i++) {
                    /* NOLINTNEXTLINE: the analyser loses what loops fill */
                    least[i] = in[i + k] < least[i] ? in[i + k] : least[i];
                    most[i] = in[i + k] > most[i] ? in[i + k] : most[i];
                }
            }
        }
    }
}

static int32_t distance_sq(int32_t one, int32_t two)
{
    const int32_t l = (one >> 16) - (two >> 16), a = (one >> 8 & 255) - (two >> 8 & 255), b = (one & 255) - (two & 255);
    return l * l + a * a + b * b;
}

SW_WIDE static void sharpen_chunk(const sharpen_task *t, size_t x0, size_t y, size_t n)
{
    const size_t width = t->planes->width_px, height = t->planes->height_px;
    const size_t first = y < t->radius ? 0 : y - t->radius, last = sw_min_size(y + t->radius, height - 1);
    int32_t least[CHUNK], most[CHUNK];
    memcpy(least, t->least + first * width + x0, n * sizeof *least);
    memcpy(most, t->most + first * width + x0, n * sizeof *most);
    for (size_t row = first + 1; row <= last; row++) {
        const int32_t *const low = t->least + row * width + x0, *const high = t->most + row * width + x0;
        for (size_t i = 0; i < n; i++) {
            least[i] = low[i] < least[i] ? low[i] : least[i];
            most[i] = high[i] > most[i] ? high[i] : most[i];
        }
    }
    for (size_t i = 0; i < n; i++) {
        const size_t at = y * width + x0 + i;
        if ((most[i] >> 16) - (least[i] >> 16) < t->min_step) continue;
        if (t->salience[(y >> t->shift) * t->salience_width + ((x0 + i) >> t->shift)] < MIN_SALIENCE) continue;
        const int32_t here = packed_at(t->planes, at);
        const int32_t side = distance_sq(here, least[i]) <= distance_sq(here, most[i]) ? least[i] : most[i];
        t->planes->at[0][at] = (uint8_t)(side >> 16);
        if (t->planes->n < 3) continue;
        t->planes->at[1][at] = (uint8_t)(side >> 8 & 255);
        t->planes->at[2][at] = (uint8_t)(side & 255);
    }
}

static void sharpen_rows(size_t begin, size_t end, void *ctx)
{
    const sharpen_task *const t = ctx;
    for (size_t y = begin; y < end; y++) {
        for (size_t x = 0; x < t->planes->width_px; x += CHUNK)
            sharpen_chunk(t, x, y, sw_min_size(CHUNK, t->planes->width_px - x));
    }
}

static sw_status sharpen(sharpen_task *task, sw_note *note)
{
    sw_status st = SW_NO_MEMORY;
    const size_t n_px = task->planes->width_px * task->planes->height_px;
    task->least = sw_alloc_raw(n_px, sizeof *task->least);
    task->most = sw_alloc_raw(n_px, sizeof *task->most);
    if (task->least == NULL || task->most == NULL) goto cleanup;
    sw_parallel_rows(task->planes->height_px, extremes_of_rows, task);
    sw_parallel_rows(task->planes->height_px, sharpen_rows, task);
    st = SW_OK;
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "the edges");
    sw_free(task->least);
    sw_free(task->most);
    return st;
}

sw_status sw_planes_sharpen(sw_planes *planes, const sw_attention *attention, size_t level, double radius_px,
                            double min_step, sw_note *note)
{
    const size_t radius = (size_t)(sw_clamp(radius_px, 0.0, MAX_RADIUS) + 0.5);
    if (radius == 0 || attention->shift < level) return SW_OK; /* a coarse look at a picture of small size */
    sharpen_task task = { .planes = planes, .radius = radius, .min_step = (int32_t)sw_clamp(min_step, 1.0, 255.0),
                          .salience = attention->salience, .shift = attention->shift - level,
                          .salience_width = attention->width_px };
    return sharpen(&task, note);
}
