/* Resampling to the grid: separable, one filter an axis.
 *
 * An axis that gets smaller is averaged by exact coverage in linear light: each target pixel is the mean of the source
 * area under it, as a camera standing farther away would see it. An axis that grows is interpolated by the cubic of
 * Mitchell and Netravali (1988), B = C = 1/3. If no axis shrinks, the encoded sRGB values are interpolated: they are
 * close to even steps for the eye, so a contour of middle lightness runs in the middle between a dark and a light pixel;
 * in linear light dark shapes would come out thinner. Results are clamped to 8 bits.
 *
 * A source row is widened to four floats a pixel, filtered along x into a ring of rows, and the ring is filtered along
 * y. Scratch a thread: 16 bytes times (source width + (ring + 1) target widths). Each target row is computed the same
 * way whatever thread or band it falls into. */
#include "picture/raster.h"
#include "picture/srgb_table.h"

#include <math.h>
#include <stdatomic.h>
#include <string.h>

#define RING 4            /* the cubic needs four rows at once; an average needs one */
#define ENCODE_STEPS 4096 /* finer than the steps of dark 8-bit values in linear light (1 / 3295) */

typedef float lane __attribute__((vector_size(16))); /* r, g, b, unused */

/* Filter of one axis: target i is the sum of weight[first_weight[i] ...] over source first[i] ... */
typedef struct axis {
    uint32_t *first, *n;
    size_t *first_weight;
    float *weight;
} axis;

typedef struct job {
    const sw_picture *in;
    sw_rgb8 *out;
    size_t out_width, out_height;
    axis x, y;
    bool is_linear;
    uint8_t code[ENCODE_STEPS + 1]; /* 8-bit value at i / ENCODE_STEPS of linear light */
    float value[256];               /* of an 8-bit value, in the space of the filters */
    atomic_bool is_out_of_memory;
} job;

/* ---- filters -------------------------------------------------------------------------------------- */

static void axis_free(axis *a)
{
    sw_free(a->first);
    sw_free(a->n);
    sw_free(a->first_weight);
    sw_free(a->weight);
    *a = (axis){ 0 };
}

static double mitchell(double t)
{
    t = fabs(t);
    if (t < 1.0) return (7.0 * t * t * t - 12.0 * t * t + 16.0 / 3.0) / 6.0;
    if (t < 2.0) return (-7.0 / 3.0 * t * t * t + 12.0 * t * t - 20.0 * t + 32.0 / 3.0) / 6.0;
    return 0.0;
}

/* Weights of target pixel i; at most taps_max of them. Returns how many, *first the source they begin at. */
static size_t coverage_weights(size_t i, size_t n_in, size_t n_out, float *weight, uint32_t *first)
{
    /* in units of 1 / n_out source pixels all borders are whole numbers: coverage is exact */
    const uint64_t begin = (uint64_t)i * n_in, end = begin + n_in;
    size_t n = 0;
    *first = (uint32_t)(begin / n_out);
    for (uint64_t source = *first; source * n_out < end; source++) {
        const uint64_t from = source * n_out > begin ? source * n_out : begin;
        const uint64_t to = (source + 1) * n_out < end ? (source + 1) * n_out : end;
        weight[n++] = (float)((double)(to - from) / (double)n_in);
    }
    return n;
}

static size_t cubic_weights(size_t i, size_t n_in, size_t n_out, float *weight, uint32_t *first)
{
    const double centre = ((double)i + 0.5) * (double)n_in / (double)n_out - 0.5;
    const double base = floor(centre);
    double tap[4] = { 0 };
    const double last = (double)(n_in - 1);
    const double begin = sw_clamp(base - 1.0, 0.0, last);
    for (int k = -1; k <= 2; k++) { /* beyond the edge the edge pixel repeats */
        const double at = sw_clamp(base + k, 0.0, last);
        tap[(size_t)(at - begin)] += mitchell(centre - base - k);
    }
    const size_t n = (size_t)(sw_clamp(base + 2.0, 0.0, last) - begin) + 1;
    for (size_t k = 0; k < n; k++) weight[k] = (float)tap[k];
    *first = (uint32_t)begin;
    return n;
}

static bool axis_make(size_t n_in, size_t n_out, axis *a)
{
    const size_t taps_max = n_in > n_out ? n_in / n_out + 2 : 4;
    size_t n_weights = 0, used = 0;
    if (!sw_mul_size(n_out, taps_max, &n_weights)) return false;
    a->first = sw_alloc_array(n_out, sizeof *a->first);
    a->n = sw_alloc_array(n_out, sizeof *a->n);
    a->first_weight = sw_alloc_array(n_out, sizeof *a->first_weight);
    a->weight = sw_alloc_array(n_weights, sizeof *a->weight);
    if (a->first == NULL || a->n == NULL || a->first_weight == NULL || a->weight == NULL) return false;
    for (size_t i = 0; i < n_out; i++) {
        a->first_weight[i] = used;
        a->n[i] = (uint32_t)(n_in >= n_out ? coverage_weights(i, n_in, n_out, a->weight + used, &a->first[i])
                                           : cubic_weights(i, n_in, n_out, a->weight + used, &a->first[i]));
        used += a->n[i];
    }
    return true;
}

/* ---- rows ----------------------------------------------------------------------------------------- */

static void filter_x(const job *j, size_t y, lane *wide, lane *out)
{
    const sw_rgb8 *const in = j->in->at + y * j->in->width_px;
    for (size_t x = 0; x < j->in->width_px; x++)
        wide[x] = (lane){ j->value[in[x].r], j->value[in[x].g], j->value[in[x].b], 0.0f };
    for (size_t x = 0; x < j->out_width; x++) {
        const float *const weight = j->x.weight + j->x.first_weight[x];
        const lane *const from = wide + j->x.first[x];
        lane sum = from[0] * weight[0];
        for (uint32_t k = 1; k < j->x.n[x]; k++) sum += from[k] * weight[k];
        out[x] = sum;
    }
}

static inline uint8_t encode_linear(const job *j, float v)
{
    if (!(v > 0.0f)) return 0;
    if (v >= 1.0f) return 255;
    /* at most one change of value lies in a step, so one comparison makes the table exact */
    const unsigned code = j->code[(size_t)(v * ENCODE_STEPS)];
    return (uint8_t)(code + (v >= SW_SRGB_NEXT[code]));
}

static inline uint8_t encode_plain(float v) { return !(v > 0.0f) ? 0 : v >= 255.0f ? 255 : (uint8_t)(v + 0.5f); }

static void encode_row(const job *j, const lane *in, sw_rgb8 *out)
{
    if (j->is_linear) {
        for (size_t x = 0; x < j->out_width; x++)
            out[x] = (sw_rgb8){ encode_linear(j, in[x][0]), encode_linear(j, in[x][1]), encode_linear(j, in[x][2]) };
    } else {
        for (size_t x = 0; x < j->out_width; x++)
            out[x] = (sw_rgb8){ encode_plain(in[x][0]), encode_plain(in[x][1]), encode_plain(in[x][2]) };
    }
}

static void resample_band(size_t begin, size_t end, void *ctx)
{
    job *const j = ctx;
    const size_t out_width = j->out_width;
    lane *const scratch = sw_alloc_raw(j->in->width_px + (RING + 1) * out_width, sizeof *scratch);
    if (scratch == NULL) {
        atomic_store(&j->is_out_of_memory, true);
        return;
    }
    lane *const ring = scratch + j->in->width_px, *const sum = ring + RING * out_width;
    size_t held[RING]; /* which source row each ring row holds */
    for (size_t i = 0; i < RING; i++) held[i] = SIZE_MAX;
    for (size_t y = begin; y < end; y++) {
        const float *const weight = j->y.weight + j->y.first_weight[y];
        memset(sum, 0, out_width * sizeof *sum);
        for (uint32_t k = 0; k < j->y.n[y]; k++) {
            const size_t source = j->y.first[y] + k;
            lane *const row = ring + source % RING * out_width;
            if (held[source % RING] != source) filter_x(j, source, scratch, row);
            held[source % RING] = source;
            for (size_t x = 0; x < out_width; x++) sum[x] += row[x] * weight[k];
        }
        encode_row(j, sum, j->out + y * out_width);
    }
    sw_free(scratch);
}

static void fill_tables(job *j)
{
    unsigned code = 0;
    for (size_t i = 0; i <= ENCODE_STEPS; i++) {
        while (code < 255 && (float)i / ENCODE_STEPS >= SW_SRGB_NEXT[code]) code++;
        j->code[i] = (uint8_t)code;
    }
    for (size_t i = 0; i < 256; i++) j->value[i] = j->is_linear ? SW_SRGB_LINEAR[i] : (float)i;
}

static bool fits(size_t width_px, size_t height_px)
{
    return width_px > 0 && height_px > 0 && width_px <= SW_MAX_SIDE_PX && height_px <= SW_MAX_SIDE_PX &&
           width_px <= SW_MAX_PX / height_px;
}

sw_status sw_picture_resample(const sw_picture *in, size_t width_px, size_t height_px, sw_picture *out, sw_note *note)
{
    sw_picture made = { 0 };
    job *j = NULL;
    sw_status st = SW_TOO_LARGE;
    if (!fits(width_px, height_px)) {
        sw_fail(note, st, "a picture of %zu x %zu pixels cannot be made; at most %u a side and %u million in all",
                width_px, height_px, SW_MAX_SIDE_PX, SW_MAX_PX / 1000000u);
        goto cleanup;
    }
    st = sw_picture_alloc(width_px, height_px, &made, note);
    if (st != SW_OK) goto cleanup;
    made = (sw_picture){ .width_px = width_px, .height_px = height_px, .at = made.at,
                         .source_width_px = in->source_width_px, .source_height_px = in->source_height_px,
                         .x_px_per_mm = in->x_px_per_mm, .y_px_per_mm = in->y_px_per_mm,
                         .has_alpha = in->has_alpha, .is_all_clear = in->is_all_clear };
    if (in->width_px == width_px && in->height_px == height_px) {
        memcpy(made.at, in->at, width_px * height_px * sizeof *made.at);
    } else {
        st = SW_NO_MEMORY;
        j = sw_alloc_array(1, sizeof *j);
        if (j == NULL) goto cleanup;
        j->in = in;
        j->out = made.at;
        j->out_width = width_px;
        j->out_height = height_px;
        j->is_linear = in->width_px > width_px || in->height_px > height_px;
        atomic_init(&j->is_out_of_memory, false);
        fill_tables(j);
        if (!axis_make(in->width_px, width_px, &j->x) || !axis_make(in->height_px, height_px, &j->y)) goto cleanup;
        sw_parallel_rows(height_px, resample_band, j);
        if (atomic_load(&j->is_out_of_memory)) goto cleanup;
    }
    st = SW_OK;
    *out = made;
    made = (sw_picture){ 0 };
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "resampling the picture");
    if (j != NULL) {
        axis_free(&j->x);
        axis_free(&j->y);
    }
    sw_free(j);
    sw_picture_free(&made);
    return st;
}
