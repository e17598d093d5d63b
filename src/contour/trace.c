/* From a mask to contours: outlines, limits by width, fewest segments, and then the proof that no two curves cross.
 * Where two do, the limits of just those stretches are halved and their contours fitted again; in the end a stretch
 * is the outline itself. */
#include <stdatomic.h>

#include "contour/shared.h"

#define N_REPAIRS 24  /* rounds; a shape is through with all it can try after N_PIXELS of them */
#define N_FITS 5      /* of one shape with ever tighter limits where pixel edges are too far from the curve */
#define N_PLAIN 3u    /* times found crossing before corners that were put back are left cut */
#define N_PIXELS 7u   /* times before a shape is given up for its pixel edges */

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

typedef struct fitting_job {
    shapes *list;
    const sw_mask *mask;
    double min_opening_px, min_web_px, tolerance_px;
    sharing *with; /* NULL: nothing to share */
    bool *is_due;  /* shapes to fit */
    atomic_bool is_out_of_memory;
} fitting_job;

/* How much of a handle is within the mask: all of it, or as far as the border. */
static double share_within(double from, double to, double most)
{
    if (to < 0.0) return sw_clamp(from / (from - to), 0.0, 1.0);
    return to > most ? sw_clamp((most - from) / (to - from), 0.0, 1.0) : 1.0;
}

static void shorten(sw_pt_mm from, sw_pt_mm *to, pt size)
{
    const double share = sw_min(share_within(from.x_mm, to->x_mm, size.x), share_within(from.y_mm, to->y_mm, size.y));
    if (share >= 1.0) return;
    to->x_mm = sw_clamp(from.x_mm + share * (to->x_mm - from.x_mm), 0.0, size.x);
    to->y_mm = sw_clamp(from.y_mm + share * (to->y_mm - from.y_mm), 0.0, size.y);
}

/* A curve lies between its control points: where none is beyond the border, not even by the hair that limits allow, nothing
 * reaches over a seam. */
static void keep_within(shape *s, pt size)
{
    sw_contour *const c = &s->fitted;
    sw_pt_mm from = c->start;
    for (size_t k = 0; k < c->n_segs && s->from != NULL; k++) { /* from: as many as segments; analysers cannot know */
        sw_seg *const seg = &c->segs[k];
        if (s->o.nodes[s->from[k]].given == NULL && !seg->is_line) { /* what is given is as the earlier mask has it */
            shorten(from, &seg->c1, size);
            shorten(seg->end, &seg->c2, size);
        }
        from = seg->end;
    }
}

/* Fit until no pixel edge is too far from the curve, or it is clear that limits do not help. False: out of memory. */
static bool fit_shape(const fitting_job *job, shape *s)
{
    const pt size = { (double)job->mask->width_px, (double)job->mask->height_px };
    bool is_far = true;
    for (size_t k = 0; s->borrowed != NULL && k < s->borrowed->n; k++) s->borrowed->at[k].n_far = 0;
    for (int round = 0; round < N_FITS && is_far; round++) {
        sw_contour_free(&s->fitted);
        sw_free(s->from);
        s->from = NULL;
        if (!reduce_outline(&s->o, &s->fitted, &s->from)) return false;
        keep_within(s, size);
        if (!tighten_far(s, job->tolerance_px, &is_far)) return false;
    }
    return true;
}

static void fit_some(size_t begin, size_t end, void *ctx)
{
    fitting_job *const job = ctx;
    for (size_t i = begin; i < end; i++) {
        shape *const s = &job->list->at[i];
        if (job->is_due[i] && !s->is_pixels && !fit_shape(job, s)) atomic_store(&job->is_out_of_memory, true);
    }
}

static bool set_limits(fitting_job *job)
{
    return limit_by_width(job->list, job->min_opening_px, job->min_web_px, job->tolerance_px);
}

/* What halved limits could not mend: the outline itself crosses another, by corners put back or by places a pixel
 * wide. */
static bool change_outlines(fitting_job *job, bool is_first)
{
    bool is_changed = false, needs_pixels = false;
    bool *const is_wanted = sw_alloc_array(job->list->n, sizeof *is_wanted);
    if (is_wanted == NULL) return false;
    bool is_ok = true;
    for (size_t i = 0; i < job->list->n && is_ok; i++) {
        shape *const s = &job->list->at[i];
        is_wanted[i] = is_first ? s->is_pixels : job->is_due[i] && !s->is_pixels && s->n_bad == N_PIXELS;
        needs_pixels = needs_pixels || is_wanted[i];
        if (is_first || !job->is_due[i] || s->is_pixels) continue;
        if (s->borrowed != NULL) {
            is_ok = give_up(job->with, s, s->n_bad >= N_PLAIN, &is_changed);
            continue;
        }
        if (s->n_bad != N_PLAIN) continue;
        outline_free(&s->o);
        is_ok = outline_make(s->polygon, s->n_polygon, &(mask_edge){ job->mask, s->is_outer, &s->path }, job->tolerance_px,
                             true, &s->o);
        is_changed = true;
    }
    if (needs_pixels && is_ok) is_ok = use_pixels(job->mask, job->list, is_wanted);
    if (is_changed && is_ok) is_ok = set_limits(job);
    sw_free(is_wanted);
    return is_ok;
}

static bool fit_shapes(fitting_job *job)
{
    const size_t n = job->list->n;
    if (n == 0) return true;
    job->is_due = sw_alloc_array(n, sizeof *job->is_due);
    bool is_ok = job->is_due != NULL && set_limits(job) && change_outlines(job, true);
    size_t n_bad = n;
    for (size_t i = 0; i < n && is_ok; i++) job->is_due[i] = true;
    for (int round = 0; round < N_REPAIRS && n_bad > 0 && is_ok; round++) {
        sw_parallel_bands(n, 1, fit_some, job);
        is_ok = !atomic_load(&job->is_out_of_memory) && find_crossings(job->list, job->is_due, &n_bad);
        if (is_ok) find_far(job->list, job->is_due, &n_bad);
        if (is_ok && n_bad > 0) is_ok = change_outlines(job, false);
    }
    sw_free(job->is_due);
    return is_ok;
}

static sw_status hand_over(shapes *list, double px_per_mm, sw_contours *out, sw_note *note)
{
    for (size_t i = 0; i < list->n; i++) {
        shape *const s = &list->at[i];
        if (!s->is_outer) reverse_contour(&s->fitted);
        scale_contour(&s->fitted, px_per_mm);
        SW_TRY(sw_contours_take(out, &s->fitted, note));
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
    if (!sw_length_ok(opts->least_shared_mm, true) || opts->n_drawn > SW_MAX_PASSES || opts->n_later > SW_MAX_PASSES)
        return sw_fail(note, SW_BAD_LENGTH, "what is shared must be a length, and with few masks");
    for (size_t i = 0; i < opts->n_drawn + opts->n_later; i++) {
        const sw_mask *const m = i < opts->n_drawn ? opts->drawn[i].mask : opts->later[i - opts->n_drawn];
        if (m->width_px < mask->width_px || m->height_px < mask->height_px || opts->x_px > m->width_px - mask->width_px ||
            opts->y_px > m->height_px - mask->height_px)
            return sw_fail(note, SW_BAD_LENGTH, "the mask does not lie within one drawn earlier");
    }
    return SW_OK;
}

sw_status sw_contours_trace(const sw_mask *mask, const sw_grid *grid, const sw_trace_opts *opts, sw_contours *out,
                            sw_note *note)
{
    sw_contours made = { 0 };
    shapes list = { 0 };
    sharing with = { 0 };
    sw_status st = check(mask, grid, opts, note);
    if (st != SW_OK) goto cleanup;
    st = SW_NO_MEMORY;
    fitting_job job = { .list = &list, .mask = mask, .tolerance_px = sw_px_from_mm(grid, opts->tolerance_mm),
                        .min_opening_px = sw_px_from_mm(grid, opts->min_opening_mm),
                        .min_web_px = sw_px_from_mm(grid, opts->min_web_mm) };
    if (!trace_outlines(mask, job.tolerance_px, &list)) goto cleanup;
    if (opts->n_drawn + opts->n_later > 0) {
        if (!share_edges(&list, mask, opts, grid->px_per_mm, &with)) goto cleanup;
        job.with = &with;
    }
    if (!fit_shapes(&job)) goto cleanup;
    const sw_shared shared = shared_of(&with, &list);
    st = hand_over(&list, grid->px_per_mm, &made, note);
    if (st != SW_OK) goto cleanup;
    *out = made;
    made = (sw_contours){ 0 };
    if (opts->shared != NULL) *opts->shared = shared;
cleanup:
    sharing_free(&with);
    shapes_free(&list);
    sw_contours_free(&made);
    return st == SW_NO_MEMORY ? sw_fail_memory(note, "tracing") : st;
}
