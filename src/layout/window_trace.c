/* Tracing a mask window by window.
 *
 * The windows of a sheet are planned one by one, so an opening may end at a seam, or a bridge stand on one side of it
 * alone. A curve fitted across such a step swings over the seam and leaves slips thinner than paper on the other side.
 * So each window is cut out of the mask and traced as if it were alone; where it ends the tracer's line is the window's
 * edge, and both neighbours end on the same seam. */
#include "layout/parts.h"

#include <math.h>
#include <string.h>

#define SNAP_MM (1.5 * SW_LAYOUT_STEP_MM) /* two roundings of half a step, and a little */

typedef struct work {
    const sw_mask *mask;
    const sw_windows *windows;
    const sw_grid *grid;
    const sw_trace_opts *opts;
    sw_contours *made;  /* a list a window */
    sw_shared *shared;  /* and what each has in common with earlier masks */
    sw_status *st;
    sw_note *notes;
} work;

static double snap(double v_mm, double lo_mm, double hi_mm)
{
    if (fabs(v_mm - lo_mm) < SNAP_MM) return lo_mm;
    return fabs(v_mm - hi_mm) < SNAP_MM ? hi_mm : v_mm;
}

static void snap_point(sw_pt_mm *p, const sw_rect_mm *art)
{
    p->x_mm = snap(p->x_mm, art->x_mm, art->x_mm + art->width_mm);
    p->y_mm = snap(p->y_mm, art->y_mm, art->y_mm + art->height_mm);
}

/* Into artwork coordinates on whole steps; what the tracer put on the window's edge is exactly on the seam. */
static void put_in_place(sw_contours *list, const sw_rect_mm *art)
{
    sw_contours_shift(list, art->x_mm, art->y_mm);
    sw_contours_round(list, SW_LAYOUT_STEP_MM);
    for (size_t i = 0; i < list->n; i++) {
        sw_contour *const contour = &list->at[i];
        snap_point(&contour->start, art);
        for (size_t k = 0; k < contour->n_segs; k++) {
            snap_point(&contour->segs[k].c1, art);
            snap_point(&contour->segs[k].c2, art);
            snap_point(&contour->segs[k].end, art);
        }
    }
    sw_contours_round(list, SW_LAYOUT_STEP_MM); /* the artwork's own edges need not be on a step */
}

static sw_status trace_window(const work *w, size_t i, sw_note *note)
{
    const sw_rect_px r = w->windows->at[i];
    const sw_grid part_grid = { r.width, r.height, w->grid->px_per_mm };
    const sw_rect_mm art = sw_window_art(w->grid, &r);
    sw_mask part = { 0 };
    SW_TRY(sw_mask_make(r.width, r.height, &part, note));
    for (size_t y = 0; y < r.height; y++)
        memcpy(part.at + y * r.width, w->mask->at + (r.y + y) * w->mask->width_px + r.x, r.width);
    sw_trace_opts opts = *w->opts;
    opts.x_px += r.x;
    opts.y_px += r.y;
    opts.shared = &w->shared[i];
    const sw_status st = sw_contours_trace(&part, &part_grid, &opts, &w->made[i], note);
    sw_mask_free(&part);
    if (st == SW_OK) put_in_place(&w->made[i], &art);
    return st;
}

static void trace_some(size_t begin, size_t end, void *ctx)
{
    const work *const w = ctx;
    for (size_t i = begin; i < end; i++) w->st[i] = trace_window(w, i, &w->notes[i]);
}

/* All lists into one, in order; they are emptied. */
static sw_status join(sw_contours *lists, size_t n, sw_contours *out, sw_note *note)
{
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 0; k < lists[i].n; k++) SW_TRY(sw_contours_take(out, &lists[i].at[k], note));
    }
    return SW_OK;
}

static sw_shared sum_of(const sw_shared *shared, size_t n)
{
    sw_shared sum = { 0 };
    for (size_t i = 0; i < n; i++) {
        sum.edge_mm += shared[i].edge_mm;
        sum.same_mm += shared[i].same_mm;
        sum.n_curves += shared[i].n_curves;
        sum.n_given_up += shared[i].n_given_up;
    }
    return sum;
}

static bool is_inside(const sw_mask *mask, const sw_rect_px *r)
{
    return r->width > 0 && r->height > 0 && r->x < mask->width_px && r->width <= mask->width_px - r->x &&
           r->y < mask->height_px && r->height <= mask->height_px - r->y;
}

sw_status sw_windows_trace(const sw_mask *mask, const sw_windows *windows, const sw_grid *grid,
                           const sw_trace_opts *opts, sw_contours *out, sw_note *note)
{
    const size_t n = windows->n;
    work w = { .mask = mask, .windows = windows, .grid = grid, .opts = opts };
    sw_contours all = { 0 };
    sw_status st = SW_BAD_LENGTH;
    for (size_t i = 0; i < n; i++) {
        if (is_inside(mask, &windows->at[i])) continue;
        sw_fail(note, st, "a window lies outside the mask");
        goto cleanup;
    }
    if (n > 0) {
        w.made = sw_alloc_array(n, sizeof *w.made);
        w.shared = sw_alloc_array(n, sizeof *w.shared);
        w.st = sw_alloc_array(n, sizeof *w.st);
        w.notes = sw_alloc_array(n, sizeof *w.notes);
        st = w.made == NULL || w.shared == NULL || w.st == NULL || w.notes == NULL ? sw_fail_memory(note, "the curves") : SW_OK;
        if (st == SW_OK) sw_parallel_bands(n, 1, trace_some, &w);
        for (size_t i = 0; st == SW_OK && i < n; i++) {
            if (w.st[i] != SW_OK) st = sw_fail(note, w.st[i], "%s", w.notes[i].text);
        }
        if (st == SW_OK) st = join(w.made, n, &all, note);
        if (st != SW_OK) goto cleanup;
    }
    if (opts->shared != NULL) *opts->shared = sum_of(w.shared, n);
    *out = all;
    all = (sw_contours){ 0 };
    st = SW_OK;
cleanup:
    for (size_t i = 0; w.made != NULL && i < n; i++) sw_contours_free(&w.made[i]);
    sw_free(w.made);
    sw_free(w.shared);
    sw_free(w.st);
    sw_free(w.notes);
    sw_contours_free(&all);
    return st;
}
