/* Which contours a rectangle needs be clipped from.
 *
 * Left out is only what sw_contours_clip would drop without a trace. A contour beside the rectangle, in x, crosses neither
 * of the vertical lines that cut first. One above or below is dropped only by the lines that cut last: if it crosses a
 * vertical line, its ends there decide with which others are paired and where a joined contour begins, so it stays.
 * Sorted by their left sides, contours that reach a rectangle are a stretch of the list: it begins where the farthest
 * right side so far passes the rectangle's left, and ends where left sides pass its right. */
#include <math.h>
#include <stdlib.h>

#include "contour/contour.h"

#define CLEAR_MM 1e-5 /* of a line: ten times what clipping takes for on it */

/* Around a curve's control points, and so around the curve. */
struct sw_hull {
    double left_mm, right_mm, top_mm, bottom_mm;
    double farthest_mm; /* right side of any up to here */
    size_t contour;
};

static void widen(struct sw_hull *h, sw_pt_mm p)
{
    h->left_mm = sw_min(h->left_mm, p.x_mm);
    h->right_mm = sw_max(h->right_mm, p.x_mm);
    h->top_mm = sw_min(h->top_mm, p.y_mm);
    h->bottom_mm = sw_max(h->bottom_mm, p.y_mm);
}

static struct sw_hull hull_of(const sw_contour *c, size_t contour)
{
    struct sw_hull h = { c->start.x_mm, c->start.x_mm, c->start.y_mm, c->start.y_mm, 0.0, contour };
    for (size_t i = 0; i < c->n_segs; i++) {
        widen(&h, c->segs[i].end);
        if (c->segs[i].is_line) continue;
        widen(&h, c->segs[i].c1);
        widen(&h, c->segs[i].c2);
    }
    return h;
}

static int by_left(const void *pa, const void *pb)
{
    const struct sw_hull *const a = pa, *const b = pb;
    if (a->left_mm != b->left_mm) return a->left_mm < b->left_mm ? -1 : 1;
    return a->contour < b->contour ? -1 : a->contour > b->contour;
}

sw_status sw_clipper_make(const sw_contours *in, sw_clipper *out, sw_note *note)
{
    sw_clipper made = { .in = in };
    if (in->n > 0) {
        made.hulls = sw_alloc_raw(in->n, sizeof *made.hulls);
        if (made.hulls == NULL) return sw_fail_memory(note, "the contours to clip");
        for (size_t i = 0; i < in->n; i++) made.hulls[i] = hull_of(&in->at[i], i);
        qsort(made.hulls, in->n, sizeof *made.hulls, by_left);
    }
    double farthest_mm = -INFINITY;
    for (size_t i = 0; i < in->n; i++) made.hulls[i].farthest_mm = farthest_mm = sw_max(farthest_mm, made.hulls[i].right_mm);
    *out = made;
    return SW_OK;
}

/* The first in order whose left side, or farthest right side so far, is past x; in->n if none is. */
static size_t first_past(const sw_clipper *c, double x_mm, bool is_left)
{
    size_t low = 0, high = c->in->n;
    while (low < high) {
        const size_t middle = (low + high) / 2;
        if ((is_left ? c->hulls[middle].left_mm : c->hulls[middle].farthest_mm) > x_mm) high = middle;
        else low = middle + 1;
    }
    return low;
}

/* Whether clipping has to see it. */
static bool is_near(const struct sw_hull *h, const sw_rect_mm *r)
{
    const double right_mm = r->x_mm + r->width_mm;
    if (!(h->right_mm > r->x_mm && h->left_mm < right_mm)) return false;
    if (h->bottom_mm > r->y_mm && h->top_mm < r->y_mm + r->height_mm) return true;
    return h->left_mm < r->x_mm + CLEAR_MM || h->right_mm > right_mm - CLEAR_MM;
}

static int by_number(const void *pa, const void *pb)
{
    const size_t a = *(const size_t *)pa, b = *(const size_t *)pb;
    return a < b ? -1 : a > b;
}

sw_status sw_clipper_cut(const sw_clipper *clipper, sw_rect_mm rect, sw_contours *out, sw_note *note)
{
    sw_contours near = { 0 };
    size_t *numbers = NULL;
    const size_t from = first_past(clipper, rect.x_mm, false), till = first_past(clipper, rect.x_mm + rect.width_mm, true);
    sw_status st = SW_OK;
    if (from < till) {
        near.at = sw_alloc_raw(till - from, sizeof *near.at);
        numbers = sw_alloc_raw(till - from, sizeof *numbers);
        st = near.at == NULL || numbers == NULL ? sw_fail_memory(note, "the contours to clip") : SW_OK;
        if (st != SW_OK) goto cleanup;
        for (size_t i = from; i < till; i++)
            if (is_near(&clipper->hulls[i], &rect)) numbers[near.n++] = clipper->hulls[i].contour;
        if (near.n > 1) qsort(numbers, near.n, sizeof *numbers, by_number);
        for (size_t i = 0; i < near.n; i++) near.at[i] = clipper->in->at[numbers[i]];
    }
    st = sw_contours_clip(&near, rect, out, note);
cleanup:
    sw_free(near.at); /* the contours are the clipper's list's */
    sw_free(numbers);
    return st;
}

void sw_clipper_free(sw_clipper *clipper)
{
    if (clipper == NULL) return;
    sw_free(clipper->hulls);
    *clipper = (sw_clipper){ 0 };
}
