/* Filters over whole fields: box means of floats, least and most of bytes. Each is two passes, along rows and along
 * columns; columns are done in strips, so that every row of a strip is one or a few cache lines. */
#include <string.h>

#include "separate/parts.h"

#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC optimize("O3") /* the loops over bytes are vectors only then */
#endif

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

/* ---- least and most of bytes ------------------------------------------------------------------------------------- */

typedef struct morph_task {
    const uint8_t *in;
    uint8_t *out;
    size_t width, height, radius;
    uint8_t flip; /* 255 turns the least of a window into the most */
} morph_task;

/* Least value of every window of n along a line of `size + n - 1`, in place: windows double in length, and two that
 * overlap make the last. Each entry is `step` bytes wide and all are done at once. */
static void least_in_windows(uint8_t *line, size_t size, size_t n, size_t step)
{
    size_t have = 1;
    for (; have * 2 <= n; have *= 2) {
        const size_t last = (size + n - 2 * have) * step;
        for (size_t i = 0; i < last; i++) line[i] = line[i] < line[i + have * step] ? line[i] : line[i + have * step];
    }
    if (have == n) return;
    const size_t gap = (n - have) * step;
    for (size_t i = 0; i < size * step; i++) line[i] = line[i] < line[i + gap] ? line[i] : line[i + gap];
}

#define CHUNK 2048u /* px of a line done at a time */

static void morph_along_rows(size_t begin, size_t end, void *ctx)
{
    const morph_task *const t = ctx;
    uint8_t line[CHUNK + 2 * SW_MORPH_RADIUS];
    for (size_t y = begin; y < end; y++) {
        const uint8_t *const in = t->in + y * t->width;
        for (size_t x0 = 0; x0 < t->width; x0 += CHUNK) {
            const size_t n = sw_min_size(CHUNK, t->width - x0);
            const size_t first = x0 < t->radius ? 0 : x0 - t->radius;
            const size_t last = sw_min_size(x0 + n + t->radius, t->width);
            uint8_t *const to = line + (first + t->radius - x0);
            memset(line, 255, n + 2 * t->radius);
            for (size_t x = first; x < last; x++) to[x - first] = in[x] ^ t->flip;
            least_in_windows(line, n, 2 * t->radius + 1, 1);
            memcpy(t->out + y * t->width + x0, line, n);
        }
    }
}

/* In place, chunk by chunk: the rows above a chunk that its windows reach are kept before they are written over. */
static void morph_along_columns(size_t begin, size_t end, void *ctx)
{
    const morph_task *const t = ctx;
    uint8_t line[(CHUNK + 2 * SW_MORPH_RADIUS) * STRIP], above[SW_MORPH_RADIUS * STRIP];
    for (size_t strip = begin; strip < end; strip++) {
        const size_t x0 = strip * STRIP, width = sw_min_size(STRIP, t->width - x0);
        memset(above, 255, t->radius * STRIP);
        for (size_t y0 = 0; y0 < t->height; y0 += CHUNK) {
            const size_t n = sw_min_size(CHUNK, t->height - y0);
            const size_t n_in = sw_min_size(n + t->radius, t->height - y0);
            memset(line, 255, (n + 2 * t->radius) * STRIP);
            memcpy(line, above, t->radius * STRIP);
            for (size_t y = 0; y < n_in; y++)
                memcpy(line + (t->radius + y) * STRIP, t->out + (y0 + y) * t->width + x0, width);
            memcpy(above, line + n * STRIP, t->radius * STRIP);
            least_in_windows(line, n, 2 * t->radius + 1, STRIP);
            for (size_t y = 0; y < n; y++) {
                for (size_t x = 0; x < width; x++) t->out[(y0 + y) * t->width + x0 + x] = line[y * STRIP + x] ^ t->flip;
            }
        }
    }
}

void sw_morph(const uint8_t *in, uint8_t *out, size_t width, size_t height, size_t radius, uint8_t flip)
{
    morph_task task = { in, out, width, height, radius, flip };
    sw_parallel_rows(height, morph_along_rows, &task);
    sw_parallel_bands((width - 1) / STRIP + 1, 1, morph_along_columns, &task);
}
