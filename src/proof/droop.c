/* What hangs on one panel, from its final curves: scanned anew into cells a few to a web's width, then measured as the
 * sheet was when it was planned. The way the cells are filled is the proof's own; the panel's edge is held. */
#include <math.h>

#include "proof/shape.h"

#define CELLS_ACROSS 2.5 /* in the narrowest web that may be */
#define ROWS 4u          /* scanned in each row of cells; along a row the cover is exact */

/* Material lies between odd and even crossings of a row: inside the outline, not in an opening, but in an island. */
static void cover_rows(const sw_proof_rows *rows, double px_per_mm, sw_pt_mm origin, sw_hold_cells *cells)
{
    for (size_t y = 0; y < rows->height_px; y++)
        for (size_t i = rows->first[y]; i + 1 < rows->first[y + 1]; i += 2)
            sw_hold_cells_add(cells, y / ROWS + 1, origin.x_mm + rows->at[i].x_px / px_per_mm,
                              origin.x_mm + rows->at[i + 1].x_px / px_per_mm, 1.0 / ROWS);
}

sw_status sw_proof_droop(const sw_proof_shape *shape, const sw_panel *panel, const sw_proof_opts *opts, sw_hang *out,
                         sw_note *note)
{
    const double cell_mm = opts->min_web_mm / CELLS_ACROSS, px_per_mm = ROWS / cell_mm;
    const double width_px = ceil(panel->width_mm * px_per_mm), height_px = ceil(panel->height_mm * px_per_mm);
    const sw_proof_raster raster = { (size_t)sw_clamp(width_px, 1.0, 1e7), (size_t)sw_clamp(height_px, 1.0, 1e7), px_per_mm,
                                     { 0.0, 0.0 } };
    sw_proof_rows rows = { 0 };
    sw_hold_cells cells = { 0 };
    sw_status st = sw_proof_scan(shape, 0, shape->n_openings + 1, &raster, &rows, note);
    if (st != SW_OK) goto cleanup;
    st = sw_hold_cells_make(panel->width_mm, panel->height_mm, cell_mm, panel->origin, &cells, note);
    if (st != SW_OK) goto cleanup;
    cover_rows(&rows, px_per_mm, panel->origin, &cells);
    st = sw_hold_measure(&cells, opts->material, opts->droop_mm, out, note);
cleanup:
    sw_proof_rows_free(&rows);
    sw_hold_cells_free(&cells);
    return st;
}
