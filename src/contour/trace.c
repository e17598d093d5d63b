/* From a mask to contours. The tracer (Selinger 2003, the potrace library) follows the pixel edges.
 *
 * Its bitmap is bottom up, most significant bit first, and openings are its black. Black turns at corner touches
 * keep openings joined over corners and material over sides only, as everywhere else. The mask is traced with its
 * border pixels repeated outward and the polygon cut back to the artwork, so that an outline meets the border at the
 * angle it comes with and edges along the border lie on it exactly. */
#include <limits.h>
#include <potracelib.h>
#include <stdatomic.h>
#include <string.h>

#include "contour/outline.h"

#define WORD_BITS (CHAR_BIT * sizeof(potrace_word))
#define PAD_X_PX ((size_t)WORD_BITS) /* border repeated left and right: a word, so that no pixel has to be shifted */
#define PAD_Y_PX 16u

typedef struct packing {
    const sw_mask *mask;
    potrace_bitmap_t bitmap;
} packing;

static potrace_word pack_word(const uint8_t *row, size_t n)
{
    potrace_word word = 0;
    for (size_t x = 0; x < n; x++) word |= (potrace_word)(row[x] & 1u) << (WORD_BITS - 1 - x);
    return word;
}

static void pack_rows(size_t begin, size_t end, void *ctx)
{
    const packing *const p = ctx;
    const size_t width = p->mask->width_px, height = p->mask->height_px, n_words = (size_t)p->bitmap.dy;
    const size_t n_full = width / WORD_BITS, n_rest = width % WORD_BITS;
    for (size_t y = begin; y < end; y++) {
        const size_t from = y < PAD_Y_PX ? 0 : sw_min_size(y - PAD_Y_PX, height - 1);
        const uint8_t *const row = p->mask->at + from * width;
        potrace_word *const words = p->bitmap.map + ((size_t)p->bitmap.h - 1 - y) * n_words;
        words[0] = (row[0] & 1u) != 0 ? ~(potrace_word)0 : 0;
        for (size_t w = 0; w < n_full; w++) words[1 + w] = pack_word(row + w * WORD_BITS, WORD_BITS);
        const potrace_word fill = (row[width - 1] & 1u) != 0 ? ~(potrace_word)0 : 0;
        for (size_t w = 1 + n_full; w < n_words; w++) words[w] = fill;
        if (n_rest > 0) words[1 + n_full] = pack_word(row + n_full * WORD_BITS, n_rest) | (fill >> n_rest);
    }
}

/* The mask's paths, or NULL. 1/8 byte a pixel here and as much again inside the tracer. */
static potrace_state_t *trace_mask(const sw_mask *mask, const potrace_param_t *param)
{
    const size_t n_words = (mask->width_px + WORD_BITS - 1) / WORD_BITS + 2;
    const size_t n_rows = mask->height_px + 2 * PAD_Y_PX;
    size_t n;
    if (!sw_mul_size(n_words, n_rows, &n)) return NULL;
    packing p = { .mask = mask,
                  .bitmap = { .w = (int)(n_words * WORD_BITS), .h = (int)n_rows, .dy = (int)n_words,
                              .map = sw_alloc_raw(n, sizeof(potrace_word)) } };
    if (p.bitmap.map == NULL) return NULL;
    sw_parallel_rows(n_rows, pack_rows, &p);
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
    sw_contours *made; /* one a path */
    pt size;           /* of the mask, pixels */
    double px_per_mm, tolerance_px;
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

/* The path's polygon in pixels of the mask. Edges of openings and of islands are walked the same way round, so that
 * an island of one pass and the opening of another that has its shape get the same curve. */
static bool take_polygon(const fitting_job *job, const potrace_path_t *path, sw_contours *out)
{
    const int n = path->curve.n;
    const bool is_outer = path->sign == '+';
    sw_contour polygon = { 0 };
    bool is_ok = true;
    for (int i = 0; i < n && is_ok; i++) {
        const potrace_dpoint_t p = path->curve.c[is_outer ? n - 1 - i : i][1];
        is_ok = sw_contour_add_line(&polygon, (sw_pt_mm){ p.x - (double)PAD_X_PX, job->size.y + PAD_Y_PX - p.y });
    }
    if (is_ok && n > 0) polygon.start = polygon.segs[n - 1].end;
    is_ok = is_ok && sw_contours_take(out, &polygon, NULL) == SW_OK;
    sw_contour_free(&polygon);
    return is_ok;
}

/* Cut what was traced outside the artwork; a path inside it is left alone. */
static bool clip_polygon(const fitting_job *job, sw_contours *polygons)
{
    const sw_contour_measure m = sw_contours_measure(polygons);
    if (m.min.x_mm >= 0.0 && m.min.y_mm >= 0.0 && m.max.x_mm <= job->size.x && m.max.y_mm <= job->size.y) return true;
    sw_contours clipped = { 0 };
    if (sw_contours_clip(polygons, (sw_rect_mm){ 0.0, 0.0, job->size.x, job->size.y }, &clipped, NULL) != SW_OK)
        return false;
    sw_contours_free(polygons);
    *polygons = clipped;
    return true;
}

static bool fit_polygon(const fitting_job *job, const sw_contour *polygon, bool is_outer, sw_contours *out)
{
    outline o = { 0 };
    sw_contour fitted = { 0 };
    bool is_ok = false;
    pt *const vertex = sw_alloc_array(polygon->n_segs, sizeof *vertex);
    if (vertex == NULL) goto cleanup;
    for (size_t i = 0; i < polygon->n_segs; i++)
        vertex[i] = (pt){ polygon->segs[i].end.x_mm, polygon->segs[i].end.y_mm };
    if (!outline_make(vertex, polygon->n_segs, job->size, job->tolerance_px, &o)) goto cleanup;
    if (!reduce_outline(&o, job->tolerance_px, &fitted)) goto cleanup;
    if (!is_outer) reverse_contour(&fitted);
    scale_contour(&fitted, job->px_per_mm);
    is_ok = sw_contours_take(out, &fitted, NULL) == SW_OK;
cleanup:
    sw_contour_free(&fitted);
    outline_free(&o);
    sw_free(vertex);
    return is_ok;
}

static bool fit_path(const fitting_job *job, const potrace_path_t *path, sw_contours *out)
{
    sw_contours polygons = { 0 };
    bool is_ok = take_polygon(job, path, &polygons) && clip_polygon(job, &polygons);
    for (size_t i = 0; i < polygons.n && is_ok; i++) is_ok = fit_polygon(job, &polygons.at[i], path->sign == '+', out);
    sw_contours_free(&polygons);
    return is_ok;
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
            for (size_t k = 0; k < job->made[i].n && st == SW_OK; k++)
                st = sw_contours_take(list, &job->made[i].at[k], note);
            sw_contours_free(&job->made[i]);
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
    st = fit_all(state, &(fitting_job){ .size = { (double)grid->width_px, (double)grid->height_px },
                                        .px_per_mm = grid->px_per_mm,
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
