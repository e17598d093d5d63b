/* The panel as the proof sees it: polygons, rows of crossings, and what is counted on them; private to src/proof/. */
#ifndef SW_PROOF_SHAPE_H
#define SW_PROOF_SHAPE_H

#include "proof/proof.h"

#define SW_PROOF_FLAT_MM 0.01     /* farthest a chord may be from its curve: a tenth of a hairline */
#define SW_PROOF_LONGEST_MM 2.0   /* longest chord, so that searches need not look far */

/** One contour as a polygon: points first .. first + n - 1, closed from the last to the first. */
typedef struct sw_proof_ring {
    size_t first, n;
    double length_mm;
    bool is_open;    /* the contour did not end where it starts; it is closed by a chord here */
    int8_t side;     /* where the opening lies: 1 on the side of (-dy, dx), -1 on the other, 0 not known: the ring
                        met no row of pixels. Filled by sw_proof_pieces. */
} sw_proof_ring;

/** All that is cut from one panel. Rings: the outline, the openings, the marks. Owned; free with
 *  sw_proof_shape_free. 28 bytes a chord, 40 a ring. */
typedef struct sw_proof_shape {
    double width_mm, height_mm;
    sw_pt_mm *at;
    double *along_mm;   /* way along its ring from the ring's first point */
    uint32_t *ring_of;  /* which ring a point belongs to */
    size_t n, cap;
    sw_proof_ring *rings;
    size_t n_rings, cap_rings;
    size_t n_openings;  /* rings 1 .. n_openings are openings, the rest are marks */
    size_t n_unusable;  /* contours with a coordinate that is no number or far away; left out */
    size_t n_outside;   /* contours with a point outside the panel, the unusable ones too */
} sw_proof_shape;

/** Flatten the panel's curves. *out is made anew. Returns SW_OK, SW_NO_MEMORY, SW_TOO_LARGE. */
SW_MUST_USE sw_status sw_proof_shape_make(const sw_panel *panel, sw_proof_shape *out, sw_note *note);
void sw_proof_shape_free(sw_proof_shape *shape);

/** The point after i on its ring. */
static inline size_t sw_proof_next(const sw_proof_shape *shape, size_t i)
{
    const sw_proof_ring *const ring = &shape->rings[shape->ring_of[i]];
    return i + 1 < ring->first + ring->n ? i + 1 : ring->first;
}

/** Where the centre line of a row of pixels meets a ring, in pixels from the left. */
typedef struct sw_proof_hit {
    double x_px;
    uint32_t chord; /* the point it begins at */
} sw_proof_hit;

/** Crossings of all rows, each row sorted. Row y: at[first[y]] .. at[first[y + 1]] - 1. 16 bytes a crossing. */
typedef struct sw_proof_rows {
    size_t width_px, height_px;
    size_t *first;
    sw_proof_hit *at;
} sw_proof_rows;

/** A raster laid over panel coordinates: pixel (0, 0) has its corner at corner. */
typedef struct sw_proof_raster {
    size_t width_px, height_px;
    double px_per_mm;
    sw_pt_mm corner;
} sw_proof_raster;

/** Scan-convert rings ring_begin .. ring_end - 1: a pixel is in where its centre is in; centres on an edge belong to
 *  the lower and the right side. Returns SW_OK, SW_NO_MEMORY. */
SW_MUST_USE sw_status sw_proof_scan(const sw_proof_shape *shape, size_t ring_begin, size_t ring_end,
                                    const sw_proof_raster *raster, sw_proof_rows *out, sw_note *note);
void sw_proof_rows_free(sw_proof_rows *rows);

/** First pixel whose centre is at or right of x_px, within 0..width_px. */
size_t sw_proof_column(double x_px, size_t width_px);

/** Connected parts of material (sides join), of the whole shape on this raster. Fills the rings' side. Returns SW_OK,
 *  SW_NO_MEMORY. */
SW_MUST_USE sw_status sw_proof_pieces(sw_proof_shape *shape, const sw_proof_raster *raster, size_t *n_pieces,
                                      sw_note *note);

/** Fill the n_crossings, narrow and narrowest fields of out. Needs the rings' side. Returns SW_OK, SW_NO_MEMORY. */
SW_MUST_USE sw_status sw_proof_widths(const sw_proof_shape *shape, const sw_proof_opts *opts, sw_proof_panel *out,
                                      sw_note *note);

/** What of the panel sinks most under its own weight. Returns SW_OK, SW_NO_MEMORY. */
SW_MUST_USE sw_status sw_proof_droop(const sw_proof_shape *shape, const sw_panel *panel, const sw_proof_opts *opts,
                                     sw_hang *out, sw_note *note);

/** What is known of a panel with the same curves, if nothing was wrong with it; else NULL. *has_hang: its hang is what
 *  would be measured. */
const sw_proof_panel *sw_proof_known_find(const sw_proof_opts *opts, const sw_panel *panel, bool *has_hang);

/** The wall as sprayed, on the grid, and its mean difference from art. shapes: one a panel. */
SW_MUST_USE sw_status sw_proof_wall(const sw_layout *layout, const sw_proof_shape *shapes, const sw_grid *grid,
                                    const sw_separation *separation, const sw_picture *art, sw_picture *composite,
                                    double *mean, sw_note *note);

#endif
