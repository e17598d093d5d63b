/* From a mask to contours. The tracer (Selinger 2003, the potrace library) follows the pixel edges.
 *
 * Its bitmap is bottom up, most significant bit first, and openings are its black. Black turns at corner touches
 * keep openings joined over corners and material over sides only, as everywhere else. */
#include <limits.h>
#include <potracelib.h>

#include <stdatomic.h>

#include "contour/outline.h"

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

/* Paths are fitted each on its own; which thread takes which cannot show. */
typedef struct fitting_job {
    const potrace_path_t **paths;
    sw_contour *made; /* one a path */
    double height_px, px_per_mm, tolerance_px;
    atomic_bool is_out_of_memory;
} fitting_job;

static void to_mm(sw_pt_mm *p, double px_per_mm)
{
    p->x_mm /= px_per_mm;
    p->y_mm /= px_per_mm;
}

static void scale_contour(sw_contour *c, double px_per_mm)
{
    to_mm(&c->start, px_per_mm);
    for (size_t k = 0; k < c->n_segs; k++) {
        to_mm(&c->segs[k].c1, px_per_mm);
        to_mm(&c->segs[k].c2, px_per_mm);
        to_mm(&c->segs[k].end, px_per_mm);
    }
}

/* The same curve walked the other way; start stays. */
static void reverse_contour(sw_contour *c)
{
    const size_t n = c->n_segs;
    if (n == 0) return;
    for (size_t a = 0, b = n - 1; a < b; a++, b--) {
        const sw_seg seg = c->segs[a];
        c->segs[a] = c->segs[b];
        c->segs[b] = seg;
    }
    const bool is_start_corner = c->segs[0].is_corner;
    for (size_t k = 0; k < n; k++) {
        sw_seg *const seg = &c->segs[k];
        const sw_pt_mm c1 = seg->c1;
        seg->c1 = seg->c2;
        seg->c2 = c1;
        seg->end = k + 1 < n ? c->segs[k + 1].end : c->start;
        seg->is_corner = k + 1 < n ? c->segs[k + 1].is_corner : is_start_corner;
        if (seg->is_line) seg->c1 = seg->c2 = seg->end;
    }
}

/* Edges of openings and of islands are fitted walking the same way round, so that an island of one pass and the
 * opening of another that has its shape get the same curve. */
static bool fit_path(const fitting_job *job, const potrace_path_t *path, sw_contour *out)
{
    const size_t n = (size_t)path->curve.n;
    pt *const vertex = sw_alloc_array(n, sizeof *vertex);
    if (vertex == NULL) return false;
    const bool is_outer = path->sign == '+';
    for (size_t i = 0; i < n; i++) {
        const potrace_dpoint_t p = path->curve.c[is_outer ? n - 1 - i : i][1];
        vertex[i] = (pt){ p.x, job->height_px - p.y };
    }
    outline o = { 0 };
    bool is_ok = outline_make(vertex, n, job->tolerance_px, &o);
    sw_free(vertex);
    if (!is_ok) return false;
    is_ok = reduce_outline(&o, job->tolerance_px, out);
    outline_free(&o);
    if (!is_ok) return false;
    if (!is_outer) reverse_contour(out);
    scale_contour(out, job->px_per_mm);
    return true;
}

static void fit_paths(size_t begin, size_t end, void *ctx)
{
    fitting_job *const job = ctx;
    for (size_t i = begin; i < end; i++) {
        if (!fit_path(job, job->paths[i], &job->made[i])) atomic_store(&job->is_out_of_memory, true);
    }
}

static sw_status fit_all(const potrace_state_t *state, fitting_job *job, sw_contours *list, sw_note *note)
{
    sw_status st = SW_OK;
    size_t n = 0;
    for (const potrace_path_t *path = state->plist; path != NULL; path = path->next) n++;
    if (n == 0) return SW_OK;
    job->paths = sw_alloc_array(n, sizeof *job->paths);
    job->made = sw_alloc_array(n, sizeof *job->made);
    if (job->paths == NULL || job->made == NULL) {
        st = sw_fail_memory(note, "the contours");
    } else {
        n = 0;
        for (const potrace_path_t *path = state->plist; path != NULL; path = path->next) job->paths[n++] = path;
        sw_parallel_bands(n, 1, fit_paths, job);
        if (atomic_load(&job->is_out_of_memory)) st = sw_fail_memory(note, "the contours");
        for (size_t i = 0; i < n; i++) {
            if (st == SW_OK) st = sw_contours_take(list, &job->made[i], note);
            sw_contour_free(&job->made[i]);
        }
    }
    sw_free(job->paths);
    sw_free(job->made);
    return st;
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
    param->alphamax = 0.0; /* the polygon is all we take */
    param->opticurve = 0;
    state = trace_mask(mask, param);
    if (state == NULL) goto cleanup;
    st = fit_all(state, &(fitting_job){ .height_px = (double)grid->height_px, .px_per_mm = grid->px_per_mm,
                                        .tolerance_px = sw_px_from_mm(grid, opts->tolerance_mm) }, &made, note);
    if (st != SW_OK) goto cleanup;
    *out = made;
    made = (sw_contours){ 0 };
cleanup:
    if (state != NULL) potrace_state_free(state);
    if (param != NULL) potrace_param_free(param);
    sw_contours_free(&made);
    return st == SW_NO_MEMORY ? sw_fail_memory(note, "tracing") : st;
}
