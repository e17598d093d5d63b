/* The pixel edges themselves, as contours: what is left when a place is too narrow for any smooth outline.
 *
 * Edges are walked with the opening on the right. Where two openings touch at a corner the walk turns left, so they
 * stay joined, and the corner is drawn a quarter pixel into the material: the joint gets a width, and the contour
 * never touches itself. A shape finds its pixels by their box and, away from the border, by their number. */
#include "contour/outline.h"

#include <assert.h>

#define JOINT_PX 0.25

typedef struct walker {
    const sw_mask *mask;
    uint8_t *is_seen; /* horizontal edges above pixel (x, y), y up to the height; 1 byte a pixel */
} walker;

static bool is_open(const sw_mask *m, ptrdiff_t x, ptrdiff_t y)
{
    if (x < 0 || y < 0 || x >= (ptrdiff_t)m->width_px || y >= (ptrdiff_t)m->height_px) return false;
    return (m->at[(size_t)y * m->width_px + (size_t)x] & 1u) != 0;
}

/* Is the pixel ahead of the point (x, y) open, on the left or right side of the heading? */
static bool is_open_ahead(const sw_mask *m, const heading *h, bool is_right)
{
    const ptrdiff_t side_x = is_right ? -h->dy : h->dy, side_y = is_right ? h->dx : -h->dx;
    const ptrdiff_t x2 = 2 * h->x + h->dx + side_x, y2 = 2 * h->y + h->dy + side_y; /* twice the pixel's centre */
    return is_open(m, (x2 - 1) / 2, (y2 - 1) / 2);
}

/* Mark the edge from the heading's point if it is horizontal, and step along it. */
static void step(const walker *w, heading *h)
{
    if (h->dy == 0) {
        const ptrdiff_t x = h->dx > 0 ? h->x : h->x - 1;
        w->is_seen[(size_t)h->y * w->mask->width_px + (size_t)x] = 1;
    }
    h->x += h->dx;
    h->y += h->dy;
}

bool turn_heading(const sw_mask *m, heading *h, pt *corner)
{
    const bool left = is_open_ahead(m, h, false), right = is_open_ahead(m, h, true);
    if (!left && right) return false;
    const double joint = left && !right ? JOINT_PX : 0.0;
    if (corner != NULL)
        *corner = (pt){ (double)h->x + joint * (double)(h->dy - h->dx), (double)h->y + joint * (double)(-h->dx - h->dy) };
    const ptrdiff_t dx = h->dx;
    h->dx = left ? h->dy : -h->dy;
    h->dy = left ? -dx : dx;
    return true;
}

/* Walk once round from a heading. Outer edges come out positive. area_px: pixels enclosed. */
static bool walk_round(const walker *w, heading start, sw_contour *out, double *area_px)
{
    heading h = start;
    ptrdiff_t area = 0;
    do {
        pt corner;
        area -= h.y * h.dx;
        step(w, &h);
        if (!turn_heading(w->mask, &h, &corner)) continue;
        const sw_pt_mm p = { corner.x, corner.y };
        if (!sw_contour_add_line(out, p)) return false;
        out->segs[out->n_segs - 1].is_corner = true;
    } while (h.x != start.x || h.y != start.y || h.dx != start.dx || h.dy != start.dy);
    assert(out->n_segs > 0); /* whoever comes back to where he started has turned */
    out->start = out->segs[out->n_segs - 1].end;
    *area_px = fabs((double)area);
    return true;
}

/* The same contour the other way round: edges of islands are kept like those of openings until they are handed over. */
static void turn_round(sw_contour *c)
{
    const size_t n = c->n_segs;
    for (size_t a = 0, b = n - 2; n >= 2 && a < b; a++, b--) {
        const sw_seg seg = c->segs[a];
        c->segs[a] = c->segs[b];
        c->segs[b] = seg;
    }
}

/* How badly pixel edges match a shape: 0 is perfect. */
static double mismatch(const shape *s, const sw_contour_measure *m, bool is_outer, double area_px)
{
    if (s->is_outer != is_outer || (!s->is_clipped && fabs(s->area_px - area_px) > 0.5)) return HUGE_VAL;
    return fabs(m->min.x_mm - s->low.x) + fabs(m->min.y_mm - s->low.y) + fabs(m->max.x_mm - s->high.x) +
           fabs(m->max.y_mm - s->high.y);
}

typedef struct search {
    shapes *list;
    const bool *is_wanted;
    double *least; /* mismatch of the best found so far, per shape */
} search;

/* Give the pixel edges to the shape that they match better than any before. */
static bool offer(const search *f, const walker *w, heading start, bool is_outer)
{
    sw_contour made = { 0 };
    double area_px;
    sw_contours one = { 0 };
    bool is_ok = walk_round(w, start, &made, &area_px);
    const sw_contour_measure m = sw_contour_extent(&made);
    if (is_ok && !is_outer) turn_round(&made);
    for (size_t i = 0; i < f->list->n && is_ok; i++) {
        const double off = f->is_wanted[i] ? mismatch(&f->list->at[i], &m, is_outer, area_px) : HUGE_VAL;
        if (off == HUGE_VAL || (f->list->at[i].is_pixels && f->list->at[i].fitted.n_segs > 0 && off >= f->least[i]))
            continue;
        is_ok = sw_contours_copy(&(sw_contours){ .at = &made, .n = 1, .cap = 1 }, &one, NULL) == SW_OK;
        if (!is_ok) break;
        sw_contour_free(&f->list->at[i].fitted);
        f->list->at[i].fitted = one.at[0];
        f->list->at[i].is_pixels = true;
        f->least[i] = off;
        one.at[0] = (sw_contour){ 0 };
        sw_contours_free(&one);
    }
    sw_contour_free(&made);
    return is_ok;
}

bool use_pixels(const sw_mask *mask, shapes *list, const bool *is_wanted)
{
    size_t n;
    if (!sw_mul_size(mask->width_px, mask->height_px + 1, &n)) return false;
    const walker w = { .mask = mask, .is_seen = sw_alloc_array(n, 1) };
    const search f = { list, is_wanted, sw_alloc_array(list->n, sizeof(double)) };
    bool is_ok = w.is_seen != NULL && f.least != NULL;
    for (size_t y = 0; y <= mask->height_px && is_ok; y++) {
        for (size_t x = 0; x < mask->width_px && is_ok; x++) {
            const ptrdiff_t px = (ptrdiff_t)x, py = (ptrdiff_t)y;
            const bool below = is_open(mask, px, py), above = is_open(mask, px, py - 1);
            if (below == above || w.is_seen[y * mask->width_px + x] != 0) continue;
            is_ok = offer(&f, &w, below ? (heading){ px, py, 1, 0 } : (heading){ px + 1, py, -1, 0 }, below);
        }
    }
    sw_free(f.least);
    sw_free(w.is_seen);
    return is_ok;
}
