/* From a panel's curves to polygons. The proof has a flattening of its own: it must not share a mistake with the
 * stage that made the curves.
 *
 * A cubic is cut into n equal steps of its parameter, n from the bound |error| <= |B''| / (8 n^2) with |B''| bounded
 * by six times the larger second difference of the control points (Wang 1984, from memory). Long chords are cut as
 * well, so that searches may assume short ones. */
#include <math.h>

#include "proof/chord.h"

/* A place worth measuring: nowhere near the panel is a fault already, and would only cost chords without end. */
static bool is_place(const sw_proof_shape *shape, sw_pt_mm p)
{
    const double reach_mm = shape->width_mm + shape->height_mm;
    return fabs(p.x_mm) <= 2.0 * reach_mm && fabs(p.y_mm) <= 2.0 * reach_mm;
}

static bool is_usable(const sw_proof_shape *shape, const sw_contour *contour)
{
    bool ok = contour->n_segs > 0 && is_place(shape, contour->start);
    for (size_t i = 0; i < contour->n_segs && ok; i++) {
        const sw_seg *const seg = &contour->segs[i];
        ok = is_place(shape, seg->end) && (seg->is_line || (is_place(shape, seg->c1) && is_place(shape, seg->c2)));
    }
    return ok;
}

static bool same_place(sw_pt_mm a, sw_pt_mm b) { return a.x_mm == b.x_mm && a.y_mm == b.y_mm; }

static bool add_point(sw_proof_shape *shape, size_t first, sw_pt_mm p)
{
    if (shape->n > first && same_place(shape->at[shape->n - 1], p)) return true;
    void *data = shape->at;
    if (!sw_grow(&data, &shape->cap, shape->n + 1, sizeof *shape->at)) return false;
    shape->at = data;
    shape->at[shape->n++] = p;
    return true;
}

static double second_difference(sw_pt_mm a, sw_pt_mm b, sw_pt_mm c)
{
    return sw_proof_length(a.x_mm - 2.0 * b.x_mm + c.x_mm, a.y_mm - 2.0 * b.y_mm + c.y_mm);
}

static double apart_mm(sw_pt_mm a, sw_pt_mm b) { return sw_proof_length(b.x_mm - a.x_mm, b.y_mm - a.y_mm); }

static bool add_line(sw_proof_shape *shape, size_t first, sw_pt_mm from, sw_pt_mm to)
{
    const double n = ceil(apart_mm(from, to) / SW_PROOF_LONGEST_MM);
    for (double k = 1.0; k < n; k += 1.0) {
        const double t = k / n;
        if (!add_point(shape, first, (sw_pt_mm){ from.x_mm + (to.x_mm - from.x_mm) * t,
                                                 from.y_mm + (to.y_mm - from.y_mm) * t }))
            return false;
    }
    return add_point(shape, first, to);
}

static bool add_cubic(sw_proof_shape *shape, size_t first, sw_pt_mm p, const sw_seg *seg)
{
    const double bend = sw_max(second_difference(p, seg->c1, seg->c2), second_difference(seg->c1, seg->c2, seg->end));
    const double leg = sw_max(apart_mm(p, seg->c1), sw_max(apart_mm(seg->c1, seg->c2), apart_mm(seg->c2, seg->end)));
    /* |B'| is at most three times the longest leg, so a step is at most 3 leg / n long */
    const double n = ceil(sw_max(sqrt(6.0 * bend / (8.0 * SW_PROOF_FLAT_MM)), 3.0 * leg / SW_PROOF_LONGEST_MM));
    for (double k = 1.0; k < n; k += 1.0) {
        const double t = k / n, u = 1.0 - t;
        const double a = u * u * u, b = 3.0 * u * u * t, c = 3.0 * u * t * t, d = t * t * t;
        if (!add_point(shape, first,
                       (sw_pt_mm){ a * p.x_mm + b * seg->c1.x_mm + c * seg->c2.x_mm + d * seg->end.x_mm,
                                   a * p.y_mm + b * seg->c1.y_mm + c * seg->c2.y_mm + d * seg->end.y_mm }))
            return false;
    }
    return add_point(shape, first, seg->end);
}

static bool is_ring_outside(const sw_proof_shape *shape, size_t first)
{
    for (size_t i = first; i < shape->n; i++) {
        const sw_pt_mm p = shape->at[i];
        if (!(p.x_mm >= 0.0 && p.x_mm <= shape->width_mm && p.y_mm >= 0.0 && p.y_mm <= shape->height_mm)) return true;
    }
    return false;
}

static bool add_contour(sw_proof_shape *shape, const sw_contour *contour)
{
    const size_t first = shape->n;
    sw_pt_mm p = contour->start;
    bool ok = add_point(shape, first, p);
    for (size_t i = 0; i < contour->n_segs && ok; i++) {
        const sw_seg *const seg = &contour->segs[i];
        ok = seg->is_line ? add_line(shape, first, p, seg->end) : add_cubic(shape, first, p, seg);
        p = seg->end;
    }
    const bool is_open = !same_place(p, contour->start);
    if (ok && is_open) ok = add_line(shape, first, p, contour->start);
    if (!ok) return false;
    while (shape->n > first + 1 && same_place(shape->at[shape->n - 1], shape->at[first])) shape->n--;
    void *data = shape->rings;
    if (!sw_grow(&data, &shape->cap_rings, shape->n_rings + 1, sizeof *shape->rings)) return false;
    shape->rings = data;
    shape->rings[shape->n_rings++] = (sw_proof_ring){ .first = first, .n = shape->n - first, .is_open = is_open };
    return true;
}

/* A contour that cannot be used is counted and left out. */
static bool add_contours(sw_proof_shape *shape, const sw_contours *contours)
{
    for (size_t i = 0; i < contours->n; i++) {
        const size_t first = shape->n;
        if (!is_usable(shape, &contours->at[i])) {
            shape->n_unusable++;
            shape->n_outside++;
            continue;
        }
        if (!add_contour(shape, &contours->at[i])) return false;
        if (is_ring_outside(shape, first)) shape->n_outside++;
    }
    return true;
}

/* Which ring each point is of, and the way along it. */
static bool measure_rings(sw_proof_shape *shape)
{
    if (shape->n == 0) return true;
    shape->along_mm = sw_alloc_raw(shape->n, sizeof *shape->along_mm);
    shape->ring_of = sw_alloc_raw(shape->n, sizeof *shape->ring_of);
    if (shape->along_mm == NULL || shape->ring_of == NULL) return false;
    for (size_t r = 0; r < shape->n_rings; r++) {
        sw_proof_ring *const ring = &shape->rings[r];
        double way = 0.0;
        for (size_t i = ring->first; i < ring->first + ring->n; i++) {
            shape->ring_of[i] = (uint32_t)r;
            shape->along_mm[i] = way;
            way += apart_mm(shape->at[i], shape->at[sw_proof_next(shape, i)]);
        }
        ring->length_mm = way;
    }
    return true;
}

sw_status sw_proof_shape_make(const sw_panel *panel, sw_proof_shape *out, sw_note *note)
{
    sw_proof_shape made = { .width_mm = panel->width_mm, .height_mm = panel->height_mm };
    sw_status st = SW_OK;
    bool ok = true;
    ok = add_contours(&made, &(sw_contours){ .at = (sw_contour *)&panel->outline, .n = 1 });
    /* ring 0 is always the outline: a single point stands in for one that cannot be used */
    if (ok && made.n_rings == 0) ok = add_contour(&made, &(sw_contour){ .start = { 0.0, 0.0 } });
    ok = ok && add_contours(&made, &panel->openings);
    if (ok) made.n_openings = made.n_rings - 1;
    ok = ok && add_contours(&made, &panel->marks);
    if (ok && (made.n > UINT32_MAX - 1 || made.n_rings > UINT32_MAX - 1)) {
        st = sw_fail(note, SW_TOO_LARGE, "a panel has too many nodes to be proved; ask for a larger --min-opening");
        goto cleanup;
    }
    if (!ok || !measure_rings(&made)) {
        st = sw_fail_memory(note, "the proof's polygons");
        goto cleanup;
    }
    *out = made;
    made = (sw_proof_shape){ 0 };
cleanup:
    sw_proof_shape_free(&made);
    return st;
}

void sw_proof_shape_free(sw_proof_shape *shape)
{
    if (shape == NULL) return;
    sw_free(shape->at);
    sw_free(shape->along_mm);
    sw_free(shape->ring_of);
    sw_free(shape->rings);
    *shape = (sw_proof_shape){ 0 };
}
