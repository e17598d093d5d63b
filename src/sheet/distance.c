/*
 * Exact squared Euclidean distance transform.
 *
 * Two passes (Felzenszwalb and Huttenlocher 2012; the integer form of the crossing points is Meijster, Roerdink and
 * Hesselink 2000). First down and up the columns, in strips of columns so that every step is a short run of bytes in
 * cache and vectorises; then along each row the lower envelope of the parabolas (x - u)^2 + g(u)^2. Rows fall apart
 * at pixels that are target themselves: between two of them nothing from beyond can be nearest, so the envelope is
 * built for each such stretch alone.
 *
 * 4 bytes a pixel (the result, which also holds the first pass) and 16 bytes a column for each band of rows.
 */
#include "sheet/sheet.h"

#include <stdatomic.h>
#include <string.h>

#define STRIP_PX 512u  /* columns worked on together: 2 kB of the result a row, a few rows stay in the first cache */
#define FAR_PX 65535u  /* column distances stop here: their squares still fit 32 bits */
#define NONE UINT32_MAX
#define FARTHEST (UINT32_MAX - 1u) /* a distance that exists but does not fit */

typedef struct transform {
    const sw_mask *mask;
    uint32_t *out;
    uint8_t target;
    bool is_outside_target;
    atomic_bool is_out_of_memory;
} transform;

/* one step away from the neighbour in the column; NONE stays NONE */
static inline uint32_t step(uint32_t g) { return g + (g < FAR_PX ? 1u : 0u); }

static void columns(size_t strip_begin, size_t strip_end, void *arg)
{
    transform *const t = arg;
    const size_t width = t->mask->width_px, height = t->mask->height_px;
    const size_t x0 = strip_begin, n = strip_end - strip_begin;
    const uint8_t target = t->target;
    for (size_t y = 0; y < height; y++) {
        const uint8_t *const restrict in = t->mask->at + y * width + x0;
        uint32_t *const restrict g = t->out + y * width + x0;
        if (y == 0) {
            const uint32_t edge = t->is_outside_target ? 1 : NONE;
            for (size_t x = 0; x < n; x++) g[x] = in[x] == target ? 0 : edge;
            continue;
        }
        const uint32_t *const restrict above = g - width;
        for (size_t x = 0; x < n; x++) g[x] = in[x] == target ? 0 : step(above[x]);
    }
    for (size_t y = height; y-- > 0;) {
        uint32_t *const restrict g = t->out + y * width + x0;
        if (y + 1 == height) {
            if (t->is_outside_target)
                for (size_t x = 0; x < n; x++) g[x] = g[x] < 1 ? g[x] : 1;
            continue;
        }
        const uint32_t *const restrict below = g + width;
        for (size_t x = 0; x < n; x++) {
            const uint32_t b = step(below[x]);
            g[x] = g[x] < b ? g[x] : b;
        }
    }
}

/* Scratch of one band of rows: the parabolas of the envelope. */
typedef struct envelope {
    uint32_t *at;    /* column of parabola i */
    uint32_t *from;  /* first column where it is the lowest */
    uint32_t *g;     /* the row's column distances */
} envelope;

static inline uint64_t square(uint64_t v) { return v * v; }

/* Last column where the parabola at u is at most the one at v (u < v), or -1 if before column 0. The quotient of two
 * integers below 2^53 that is not whole differs from a whole number by more than a double's rounding, so the division
 * in double is exact enough to be cut to a whole number. */
static inline int64_t last_column(uint64_t u, uint64_t gu, uint64_t v, uint64_t gv)
{
    const uint64_t high = square(v) + square(gv), low = square(u) + square(gu);
    if (high < low) return -1;
    return (int64_t)((double)(high - low) / (double)(2 * (v - u)));
}

/* Columns begin..end (end excluded) from the parabolas standing in them. */
static void envelope_of(const envelope *e, size_t begin, size_t end, uint32_t *out)
{
    size_t n = 0;
    for (size_t x = begin; x < end; x++) {
        const uint32_t g = e->g[x];
        if (g == NONE) continue;
        size_t from = begin;
        while (n > 0) {
            const uint32_t u = e->at[n - 1];
            const int64_t last = last_column(u, e->g[u], x, g);
            if (last < (int64_t)e->from[n - 1]) {
                n--;
                continue;
            }
            from = (size_t)last + 1;
            break;
        }
        if (from >= end) continue;
        e->at[n] = (uint32_t)x;
        e->from[n] = (uint32_t)from;
        n++;
    }
    if (n == 0) {
        for (size_t x = begin; x < end; x++) out[x] = NONE;
        return;
    }
    for (size_t i = 0; i < n; i++) {
        const size_t stop = i + 1 < n ? e->from[i + 1] : end;
        const uint64_t g2 = square(e->g[e->at[i]]);
        const int64_t u = e->at[i];
        for (size_t x = e->from[i]; x < stop; x++) {
            const int64_t dx = (int64_t)x - u;
            const uint64_t d = g2 + (uint64_t)(dx * dx);
            out[x] = d < FARTHEST ? (uint32_t)d : FARTHEST;
        }
    }
}

static void row(const transform *t, const envelope *e, size_t y)
{
    const size_t width = t->mask->width_px;
    uint32_t *const out = t->out + y * width;
    memcpy(e->g, out, width * sizeof *out);
    size_t x = 0;
    while (x < width) {
        if (e->g[x] == 0) {
            out[x++] = 0;
            continue;
        }
        size_t end = x + 1;
        while (end < width && e->g[end] != 0) end++;
        /* the stretch with the target pixels that bound it */
        const size_t begin = x == 0 ? 0 : x - 1;
        envelope_of(e, begin, end < width ? end + 1 : end, out);
        if (t->is_outside_target) {
            for (size_t i = x; i < end; i++) {
                const uint64_t side = square(sw_min_size(i + 1, width - i));
                if (side < out[i]) out[i] = (uint32_t)side;
            }
        }
        x = end;
    }
}

static void rows(size_t row_begin, size_t row_end, void *arg)
{
    transform *const t = arg;
    const size_t width = t->mask->width_px;
    uint32_t *const scratch = sw_alloc_raw(width, 3 * sizeof *scratch);
    if (scratch == NULL) {
        atomic_store(&t->is_out_of_memory, true);
        return;
    }
    const envelope e = { .at = scratch, .from = scratch + width, .g = scratch + 2 * width };
    for (size_t y = row_begin; y < row_end; y++) row(t, &e, y);
    sw_free(scratch);
}

sw_status sw_distance_sq(const sw_mask *mask, uint8_t target, bool is_outside_target, uint32_t *out, sw_note *note)
{
    transform t = { .mask = mask, .out = out, .target = target, .is_outside_target = is_outside_target };
    atomic_init(&t.is_out_of_memory, false);
    sw_parallel_bands(mask->width_px, STRIP_PX, columns, &t);
    sw_parallel_rows(mask->height_px, rows, &t);
    if (atomic_load(&t.is_out_of_memory)) return sw_fail_memory(note, "the distance transform");
    return SW_OK;
}
