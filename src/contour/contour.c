/* Contours as data: lists that own their curves, copies, shifting, rounding, and the walk along a curve as a polygon. */
#include <math.h>
#include <string.h>

#include "contour/contour.h"

#define MAX_CHORDS 4096.0 /* of one segment; only a tolerance far below the writers' step asks for more */

void sw_contour_free(sw_contour *contour)
{
    if (contour == NULL) return;
    sw_free(contour->segs);
    *contour = (sw_contour){ 0 };
}

void sw_contours_free(sw_contours *contours)
{
    if (contours == NULL) return;
    for (size_t i = 0; i < contours->n; i++) sw_contour_free(&contours->at[i]);
    sw_free(contours->at);
    *contours = (sw_contours){ 0 };
}

sw_status sw_contours_take(sw_contours *list, sw_contour *contour, sw_note *note)
{
    void *at = list->at;
    if (!sw_grow(&at, &list->cap, list->n + 1, sizeof *list->at)) return sw_fail_memory(note, "the contours");
    list->at = at;
    list->at[list->n++] = *contour;
    *contour = (sw_contour){ 0 };
    return SW_OK;
}

static bool copy_one(const sw_contour *in, sw_contour *out)
{
    sw_contour made = { .start = in->start };
    if (in->n_segs > 0) {
        made.segs = sw_alloc_array(in->n_segs, sizeof *made.segs);
        if (made.segs == NULL) return false;
        memcpy(made.segs, in->segs, in->n_segs * sizeof *made.segs);
        made.n_segs = made.cap_segs = in->n_segs;
    }
    *out = made;
    return true;
}

sw_status sw_contours_copy(const sw_contours *in, sw_contours *out, sw_note *note)
{
    sw_contours made = { 0 };
    sw_status st = SW_NO_MEMORY;
    if (in->n > 0) {
        made.at = sw_alloc_array(in->n, sizeof *made.at);
        if (made.at == NULL) goto cleanup;
        made.n = made.cap = in->n; /* zeroed contours are fine to free */
        for (size_t i = 0; i < in->n; i++) {
            if (!copy_one(&in->at[i], &made.at[i])) goto cleanup;
        }
    }
    *out = made;
    made = (sw_contours){ 0 };
    st = SW_OK;
cleanup:
    sw_contours_free(&made);
    return st == SW_OK ? st : sw_fail_memory(note, "a copy of the contours");
}

static bool add_seg(sw_contour *contour, const sw_seg *seg)
{
    void *segs = contour->segs;
    if (!sw_grow(&segs, &contour->cap_segs, contour->n_segs + 1, sizeof *contour->segs)) return false;
    contour->segs = segs;
    contour->segs[contour->n_segs++] = *seg;
    return true;
}

bool sw_contour_add_line(sw_contour *contour, sw_pt_mm end)
{
    return add_seg(contour, &(sw_seg){ .is_line = true, .c1 = end, .c2 = end, .end = end });
}

bool sw_contour_add_cubic(sw_contour *contour, sw_pt_mm c1, sw_pt_mm c2, sw_pt_mm end)
{
    return add_seg(contour, &(sw_seg){ .c1 = c1, .c2 = c2, .end = end });
}

/* Number of equal steps of the parameter that keep every chord within tolerance of the cubic: a chord over a step h
 * is off by at most h^2 / 8 times the largest second derivative, and that is at an end of the cubic. */
size_t sw_seg_chords(sw_pt_mm p0, const sw_seg *seg, double tolerance_mm)
{
    if (seg->is_line) return 1;
    const double ax = p0.x_mm - 2.0 * seg->c1.x_mm + seg->c2.x_mm, ay = p0.y_mm - 2.0 * seg->c1.y_mm + seg->c2.y_mm;
    const double bx = seg->c1.x_mm - 2.0 * seg->c2.x_mm + seg->end.x_mm;
    const double by = seg->c1.y_mm - 2.0 * seg->c2.y_mm + seg->end.y_mm;
    const double second = 6.0 * sqrt(sw_max(ax * ax + ay * ay, bx * bx + by * by));
    return (size_t)sw_clamp(ceil(sqrt(second / (8.0 * tolerance_mm))), 1.0, MAX_CHORDS);
}

static sw_pt_mm cubic_at(sw_pt_mm p0, const sw_seg *seg, double t)
{
    const double s = 1.0 - t, b0 = s * s * s, b1 = 3.0 * s * s * t, b2 = 3.0 * s * t * t, b3 = t * t * t;
    return (sw_pt_mm){ b0 * p0.x_mm + b1 * seg->c1.x_mm + b2 * seg->c2.x_mm + b3 * seg->end.x_mm,
                       b0 * p0.y_mm + b1 * seg->c1.y_mm + b2 * seg->c2.y_mm + b3 * seg->end.y_mm };
}

bool sw_contour_flatten(const sw_contour *contour, double tolerance_mm, sw_point_fn fn, void *ctx)
{
    if (contour->n_segs == 0) return true;
    if (!fn(ctx, contour->start)) return false;
    sw_pt_mm p0 = contour->start;
    for (size_t i = 0; i < contour->n_segs; i++) {
        const sw_seg *const seg = &contour->segs[i];
        const size_t n = sw_seg_chords(p0, seg, tolerance_mm);
        for (size_t k = 1; k < n; k++) {
            if (!fn(ctx, cubic_at(p0, seg, (double)k / (double)n))) return false;
        }
        if (i + 1 < contour->n_segs && !fn(ctx, seg->end)) return false;
        p0 = seg->end;
    }
    return true;
}

/* Calls change on every coordinate pair of the list. */
static void change_points(sw_contours *contours, void (*change)(sw_pt_mm *p, const double *by), const double *by)
{
    for (size_t i = 0; i < contours->n; i++) {
        sw_contour *const c = &contours->at[i];
        change(&c->start, by);
        for (size_t k = 0; k < c->n_segs; k++) {
            change(&c->segs[k].c1, by);
            change(&c->segs[k].c2, by);
            change(&c->segs[k].end, by);
        }
    }
}

static void round_point(sw_pt_mm *p, const double *by)
{
    p->x_mm = nearbyint(p->x_mm / by[0]) * by[0];
    p->y_mm = nearbyint(p->y_mm / by[0]) * by[0];
}

static void shift_point(sw_pt_mm *p, const double *by)
{
    p->x_mm += by[0];
    p->y_mm += by[1];
}

void sw_contours_round(sw_contours *contours, double step_mm)
{
    change_points(contours, round_point, &step_mm);
}

void sw_contours_shift(sw_contours *contours, double dx_mm, double dy_mm)
{
    change_points(contours, shift_point, (const double[2]){ dx_mm, dy_mm });
}
