/* Panels drawn by hand for the proof's tests and its fuzz target. */
#ifndef SW_TEST_PROOF_SUPPORT_H
#define SW_TEST_PROOF_SUPPORT_H

#include <math.h>
#include <stdlib.h>

#include "proof/proof.h"

static inline void must(bool ok)
{
    if (!ok) abort();
}

/** A closed polygon from n points. */
static inline void add_polygon(sw_contours *list, size_t n, const sw_pt_mm *at)
{
    sw_contour contour = { .start = at[0] };
    for (size_t i = 1; i < n; i++) must(sw_contour_add_line(&contour, at[i]));
    must(sw_contour_add_line(&contour, at[0]));
    must(sw_contours_take(list, &contour, NULL) == SW_OK);
}

static inline void add_box(sw_contours *list, double x, double y, double width, double height)
{
    add_polygon(list, 4, (sw_pt_mm[]){ { x, y }, { x + width, y }, { x + width, y + height }, { x, y + height } });
}

/** A box turned about its centre. */
static inline void add_turned_box(sw_contours *list, double cx, double cy, double width, double height, double turn)
{
    sw_pt_mm at[4];
    for (int i = 0; i < 4; i++) {
        const double u = (i == 1 || i == 2 ? 0.5 : -0.5) * width, v = (i >= 2 ? 0.5 : -0.5) * height;
        at[i] = (sw_pt_mm){ cx + u * cos(turn) - v * sin(turn), cy + u * sin(turn) + v * cos(turn) };
    }
    add_polygon(list, 4, at);
}

/** Four cubics; off by less than 0.03 % of the radius. */
static inline void add_circle(sw_contours *list, double cx, double cy, double r)
{
    static const double way[5][2] = { { 1, 0 }, { 0, 1 }, { -1, 0 }, { 0, -1 }, { 1, 0 } };
    const double h = 0.5522847498 * r;
    sw_contour contour = { .start = { cx + r, cy } };
    for (int i = 0; i < 4; i++) {
        const double *const a = way[i], *const b = way[i + 1];
        must(sw_contour_add_cubic(&contour, (sw_pt_mm){ cx + r * a[0] + h * b[0], cy + r * a[1] + h * b[1] },
                                  (sw_pt_mm){ cx + r * b[0] + h * a[0], cy + r * b[1] + h * a[1] },
                                  (sw_pt_mm){ cx + r * b[0], cy + r * b[1] }));
    }
    contour.segs[3].end = contour.start;
    must(sw_contours_take(list, &contour, NULL) == SW_OK);
}

/** A panel with its outline and nothing cut. */
static inline sw_panel blank_panel(double width_mm, double height_mm)
{
    sw_panel panel = { .pass = 1, .width_mm = width_mm, .height_mm = height_mm };
    sw_contours list = { 0 };
    add_box(&list, 0, 0, width_mm, height_mm);
    panel.outline = list.at[0];
    sw_free(list.at);
    return panel;
}

static inline void free_panel(sw_panel *panel)
{
    sw_contours_free(&panel->openings);
    sw_contours_free(&panel->marks);
    sw_contour_free(&panel->outline);
}

/** Prove one panel alone, without a picture. */
static inline sw_status prove_one(sw_panel *panel, const sw_proof_opts *opts, sw_proof_panel *out, sw_note *note)
{
    const sw_layout layout = { .panels = panel, .n_panels = 1 };
    const sw_grid grid = { 8, 8, 0.1 };
    const sw_separation separation = { .grid = grid, .n_passes = 1, .colour = { { 255, 255, 255 } } };
    sw_proof proof = { 0 };
    const sw_status st = sw_proof_make(&layout, &grid, &separation, NULL, opts, NULL, &proof, NULL, note);
    if (st == SW_OK) *out = proof.panels[0];
    sw_proof_free(&proof);
    return st;
}

#endif
