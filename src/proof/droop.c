/* What hangs on one panel, from its final curves: scanned anew into cells a few to a web's width, then measured as the
 * sheet was when it was planned. The way the cells are filled is the proof's own; the panel's edge is held. */
#include <math.h>

#include "proof/shape.h"

#define CELLS_ACROSS 2.5 /* in the narrowest web that may be */
#define ROWS 4u          /* scanned in each row of cells; along a row the cover is exact */

typedef struct cover_work {
    const sw_proof_rows *rows;
    double px_per_mm;
    sw_pt_mm origin;
    sw_hold_cells *cells;
} cover_work;

/* Material lies between odd and even crossings of a row: inside the outline, not in an opening, but in an island. Rows of
 * cells without their border. */
static void cover_cells(size_t row_begin, size_t row_end, void *ctx)
{
    const cover_work *const w = ctx;
    const sw_proof_rows *const rows = w->rows;
    const size_t end = sw_min_size(row_end * ROWS, rows->height_px);
    for (size_t y = row_begin * ROWS; y < end; y++)
        for (size_t i = rows->first[y]; i + 1 < rows->first[y + 1]; i += 2)
            sw_hold_cells_add(w->cells, y / ROWS + 1, w->origin.x_mm + rows->at[i].x_px / w->px_per_mm,
                              w->origin.x_mm + rows->at[i + 1].x_px / w->px_per_mm, 1.0 / ROWS);
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
    sw_parallel_rows(cells.height - 2, cover_cells, &(cover_work){ &rows, px_per_mm, panel->origin, &cells });
    st = sw_hold_measure(&cells, opts->material, opts->droop_mm, out, note);
cleanup:
    sw_proof_rows_free(&rows);
    sw_hold_cells_free(&cells);
    return st;
}
