/* Sharing from beginning to end: earlier curves are made ready, every outline takes over what it can, what crosses is given
 * up again and the rest of the outline kept, and what came of it is counted. */
#include <stdatomic.h>
#include <string.h>

#include "contour/shared.h"

#define LEAST_SHARED_MM 8.0  /* shorter runs cost more nodes at their joints than they are worth; taste */
#define N_FAR 3u             /* times that limits tightened by half did not bring its neighbours near the pixel edges */
#define N_GIVE_UP 2u         /* times a borrowed curve is found crossing before it is given up */

typedef struct share_job {
    sharing *with;
    shapes *list;
    double *edge_px;  /* one a shape */
    atomic_bool is_out_of_memory;
} share_job;

/* Put what is borrowed into the outline; an empty list is no list. */
static bool splice(const sharing *with, shape *s)
{
    if (s->borrowed->n > 0) return splice_outline(&s->o, s->borrowed, with->tolerance_px);
    borrowing_free(s->borrowed);
    sw_free(s->borrowed);
    s->borrowed = NULL;
    return true;
}

static bool share_shape(const sharing *with, shape *s, double *edge_px)
{
    const mask_edge edge = { with->mask, s->is_outer, &s->path };
    borrowing found = { 0 };
    *edge_px = 0.0;
    if (s->is_pixels || s->o.m == 0) return true;
    if (with->n_later > 0 && !wish_nodes(&s->o, &edge, with->later, with->n_later, with->least_px)) return false;
    if (with->n_drawn == 0) return true;
    if (!borrow_curves(&s->o, &edge, with->drawn, with->n_drawn, with->least_px, with->tolerance_px, edge_px, &found))
        return false;
    if (found.n == 0) {
        borrowing_free(&found);
        return true;
    }
    s->borrowed = sw_alloc_array(1, sizeof *s->borrowed);
    if (s->borrowed == NULL) {
        borrowing_free(&found);
        return false;
    }
    *s->borrowed = found;
    return splice(with, s);
}

static void share_some(size_t begin, size_t end, void *ctx)
{
    share_job *const job = ctx;
    for (size_t i = begin; i < end; i++) {
        if (!share_shape(job->with, &job->list->at[i], &job->edge_px[i])) atomic_store(&job->is_out_of_memory, true);
    }
}

bool share_edges(shapes *list, const sw_mask *mask, const sw_trace_opts *opts, double px_per_mm, sharing *out)
{
    const double least_mm = opts->least_shared_mm > 0.0 ? opts->least_shared_mm : LEAST_SHARED_MM;
    *out = (sharing){ .mask = mask, .px_per_mm = px_per_mm, .least_px = least_mm * px_per_mm,
                      .tolerance_px = opts->tolerance_mm * px_per_mm };
    if (list->n == 0) return true;
    for (; out->n_later < opts->n_later; out->n_later++)
        out->later[out->n_later] = (drawn_curves){ .mask = opts->later[out->n_later], .x_px = opts->x_px, .y_px = opts->y_px };
    share_job job = { .with = out, .list = list, .edge_px = sw_alloc_array(list->n, sizeof *job.edge_px) };
    bool is_ok = job.edge_px != NULL;
    for (size_t i = 0; i < opts->n_drawn && is_ok; i++) {
        is_ok = drawn_make(&opts->drawn[i], opts, px_per_mm, &out->drawn[i]);
        out->n_drawn += is_ok;
    }
    if (is_ok) {
        sw_parallel_bands(list->n, 1, share_some, &job);
        is_ok = !atomic_load(&job.is_out_of_memory);
        for (size_t i = 0; i < list->n; i++) out->edge_px += job.edge_px[i];
    }
    sw_free(job.edge_px);
    return is_ok;
}

void sharing_free(sharing *s)
{
    for (size_t i = 0; i < s->n_drawn; i++) drawn_free(&s->drawn[i]);
    *s = (sharing){ 0 };
}

static bool is_far(const borrowed *b) { return b->n_far >= N_FAR; }
static bool is_bad(const borrowed *b) { return is_far(b) || b->n_bad >= N_GIVE_UP; }

void blame_borrowed(shape *s, uint32_t segment)
{
    const outline *const o = &s->o;
    const size_t i = s->from[segment] % o->n, j = s->from[segment + 1] % o->n, before = i > 0 ? i - 1 : o->n - 1;
    if (o->nodes[i].given != NULL) {
        s->borrowed->at[o->nodes[i].borrowed].n_far += N_FAR;
        return;
    }
    if (o->nodes[before].given != NULL) s->borrowed->at[o->nodes[before].borrowed].n_far++;
    if (o->nodes[j].given != NULL) s->borrowed->at[o->nodes[j].borrowed].n_far++;
}

void find_far(const shapes *list, bool *is_due, size_t *n_due)
{
    for (size_t i = 0; i < list->n; i++) {
        const borrowing *const b = list->at[i].borrowed;
        bool has_far = false;
        for (size_t k = 0; b != NULL && k < b->n; k++) has_far = has_far || is_far(&b->at[k]);
        if (!has_far || is_due[i] || list->at[i].is_pixels) continue;
        is_due[i] = true;
        ++*n_due;
    }
}

/* A curve that was joined to a bad one needs a joint of its own there. */
static void part_from_bad(borrowing *b)
{
    for (size_t i = 0; i < b->n; i++) {
        if (is_bad(&b->at[i]) != is_bad(&b->at[i > 0 ? i - 1 : b->n - 1])) part_borrowed(b, i);
    }
}

/* Drop the curves that are bad, or all. */
static void drop_bad(borrowing *b, bool is_all)
{
    size_t n = 0;
    part_from_bad(b);
    for (size_t i = 0; i < b->n; i++) {
        borrowed it = b->at[i];
        b->at[i] = (borrowed){ 0 };
        if (is_all || is_bad(&it)) sw_contour_free(&it.curve);
        else b->at[n++] = it;
    }
    b->n = n;
}

bool give_up(sharing *with, shape *s, bool is_all, bool *is_changed)
{
    const size_t n_before = s->borrowed->n;
    const mask_edge edge = { with->mask, s->is_outer, &s->path };
    drop_bad(s->borrowed, is_all);
    if (s->borrowed->n == n_before) return true;
    s->n_bad = 0;
    *is_changed = true;
    outline_free(&s->o);
    const bool is_ok = outline_make(s->polygon, s->n_polygon, &edge, with->tolerance_px, false, &s->o) &&
                       borrow_again(&s->o, &edge, with->least_px, with->tolerance_px, s->borrowed);
    with->n_given_up += n_before - s->borrowed->n;
    return is_ok && splice(with, s);
}

sw_shared shared_of(const sharing *with, const shapes *list)
{
    sw_shared sum = { .n_given_up = with->n_given_up };
    if (with->n_drawn == 0) return sum;
    double same_px = 0.0;
    for (size_t i = 0; i < list->n; i++) {
        const shape *const s = &list->at[i];
        for (size_t k = 0; s->borrowed != NULL && k < s->borrowed->n; k++) {
            sum.n_given_up += s->is_pixels;
            sum.n_curves += !s->is_pixels;
            same_px += s->is_pixels ? 0.0 : sw_contour_measure_one(&s->borrowed->at[k].curve).length_mm;
        }
    }
    sum.edge_mm = with->edge_px / with->px_per_mm;
    sum.same_mm = same_px / with->px_per_mm;
    return sum;
}
