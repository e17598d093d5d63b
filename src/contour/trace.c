/* From a mask to contours. The tracer (Selinger 2003, the potrace library) follows the pixel edges.
 *
 * Its bitmap is bottom up, most significant bit first, and openings are its black. Black turns at corner touches
 * keep openings joined over corners and material over sides only, as everywhere else. */
#include <limits.h>
#include <potracelib.h>

#include "contour/contour.h"

#define WORD_BITS (CHAR_BIT * sizeof(potrace_word))

typedef struct packing {
    const sw_mask *mask;
    potrace_bitmap_t bitmap;
} packing;

static void pack_rows(size_t begin, size_t end, void *ctx)
{
    const packing *const p = ctx;
    const size_t width = p->mask->width_px, height = p->mask->height_px, n_words = (size_t)p->bitmap.dy;
    for (size_t y = begin; y < end; y++) {
        const uint8_t *const row = p->mask->at + y * width;
        potrace_word *const words = p->bitmap.map + (height - 1 - y) * n_words;
        for (size_t w = 0; w < n_words; w++) {
            potrace_word word = 0;
            const size_t x0 = w * WORD_BITS, n = sw_min_size(WORD_BITS, width - x0);
            for (size_t x = 0; x < n; x++) word |= (potrace_word)(row[x0 + x] & 1u) << (WORD_BITS - 1 - x);
            words[w] = word;
        }
    }
}

/* The mask's paths, or NULL. 1/8 byte a pixel here and as much again inside the tracer. */
static potrace_state_t *trace_mask(const sw_mask *mask, const potrace_param_t *param)
{
    const size_t n_words = (mask->width_px + WORD_BITS - 1) / WORD_BITS;
    size_t n;
    if (!sw_mul_size(n_words, mask->height_px, &n)) return NULL;
    packing p = { .mask = mask,
                  .bitmap = { .w = (int)mask->width_px, .h = (int)mask->height_px, .dy = (int)n_words,
                              .map = sw_alloc_raw(n, sizeof(potrace_word)) } };
    if (p.bitmap.map == NULL) return NULL;
    sw_parallel_rows(mask->height_px, pack_rows, &p);
    potrace_state_t *state = potrace_trace(param, &p.bitmap);
    sw_free(p.bitmap.map);
    if (state != NULL && state->status != POTRACE_STATUS_OK) {
        potrace_state_free(state);
        state = NULL;
    }
    return state;
}

typedef struct to_mm {
    double height_px, px_per_mm;
} to_mm;

static sw_pt_mm point_of(const to_mm *scale, potrace_dpoint_t p)
{
    return (sw_pt_mm){ p.x / scale->px_per_mm, (scale->height_px - p.y) / scale->px_per_mm };
}

/* Reversed, because the tracer's outer paths run against the clock as seen. */
static bool take_path(const potrace_curve_t *curve, const to_mm *scale, sw_contour *out)
{
    const int n = curve->n;
    out->start = point_of(scale, curve->c[n - 1][2]);
    for (int i = n - 1; i >= 0; i--) {
        const potrace_dpoint_t *const c = curve->c[i];
        const sw_pt_mm end = point_of(scale, curve->c[i > 0 ? i - 1 : n - 1][2]);
        if (curve->tag[i] == POTRACE_CORNER) {
            if (!sw_contour_add_line(out, point_of(scale, c[1]))) return false;
            out->segs[out->n_segs - 1].is_corner = true;
            if (!sw_contour_add_line(out, end)) return false;
        } else if (!sw_contour_add_cubic(out, point_of(scale, c[1]), point_of(scale, c[0]), end)) {
            return false;
        }
    }
    return true;
}

static sw_status take_paths(const potrace_state_t *state, const to_mm *scale, sw_contours *list, sw_note *note)
{
    for (const potrace_path_t *path = state->plist; path != NULL; path = path->next) {
        sw_contour contour = { 0 };
        if (!take_path(&path->curve, scale, &contour)) {
            sw_contour_free(&contour);
            return sw_fail_memory(note, "the contours");
        }
        const sw_status st = sw_contours_take(list, &contour, note);
        sw_contour_free(&contour);
        SW_TRY(st);
    }
    return SW_OK;
}

static sw_status check(const sw_mask *mask, const sw_grid *grid, const sw_trace_opts *opts, sw_note *note)
{
    if (!sw_length_ok(opts->tolerance_mm, false) || !(grid->px_per_mm > 0.0 && grid->px_per_mm < 1e6))
        return sw_fail(note, SW_BAD_LENGTH, "the curve tolerance must be above 0 mm and at most 200m");
    if (!sw_length_ok(opts->min_opening_mm, true) || !sw_length_ok(opts->min_web_mm, true))
        return sw_fail(note, SW_BAD_LENGTH, "the smallest opening and web must be 0 or more and at most 200m");
    if (mask->at == NULL || mask->width_px != grid->width_px || mask->height_px != grid->height_px ||
        mask->width_px > SW_MAX_SIDE_PX || mask->height_px > SW_MAX_SIDE_PX)
        return sw_fail(note, SW_BAD_LENGTH, "the mask does not have the size of the grid");
    return SW_OK;
}

sw_status sw_contours_trace(const sw_mask *mask, const sw_grid *grid, const sw_trace_opts *opts, sw_contours *out,
                            sw_note *note)
{
    sw_contours made = { 0 };
    potrace_state_t *state = NULL;
    potrace_param_t *param = NULL;
    sw_status st = check(mask, grid, opts, note);
    if (st != SW_OK) goto cleanup;
    st = SW_NO_MEMORY;
    param = potrace_param_default();
    if (param == NULL) goto cleanup;
    param->turdsize = 0;
    param->turnpolicy = POTRACE_TURNPOLICY_BLACK;
    param->alphamax = 1.0;
    param->opttolerance = sw_clamp(sw_px_from_mm(grid, opts->tolerance_mm), 0.01, 0.5);
    state = trace_mask(mask, param);
    if (state == NULL) goto cleanup;
    st = take_paths(state, &(to_mm){ (double)grid->height_px, grid->px_per_mm }, &made, note);
    if (st != SW_OK) goto cleanup;
    *out = made;
    made = (sw_contours){ 0 };
cleanup:
    if (state != NULL) potrace_state_free(state);
    if (param != NULL) potrace_param_free(param);
    sw_contours_free(&made);
    return st == SW_NO_MEMORY ? sw_fail_memory(note, "tracing") : st;
}
