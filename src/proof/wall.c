/* The wall as it will be sprayed, on the grid: the ground, then every panel's paint wherever its openings are. Marks
 * are covered when paint is sprayed and leave no paint. Then how far it is from the picture: mean CIEDE2000 over a
 * lattice of pixels, since the mean of a quarter million pixels is good to a few hundredths and 12 million would take
 * longer than all the rest of the proof. */
#include <math.h>
#include <string.h>

#include "proof/shape.h"

#define N_SAMPLES 250000.0 /* about; error of the mean below 0.02 at the spread of photographs (about 6) */

typedef struct wall_work {
    const sw_layout *layout;
    const sw_proof_rows *rows; /* two a panel: its openings, and what openings of other places paint there */
    const sw_grid *grid;
    const sw_separation *separation;
    const sw_picture *art;     /* NULL: no difference asked */
    sw_rgb8 *composite;        /* NULL: not wanted */
    sw_lab paint_lab[SW_MAX_PASSES + 1];
    size_t step, x0, y0;       /* of the lattice: every step-th pixel from column x0, row y0 */
    double *sum;               /* one a row, added up in row order */
    uint8_t *label;            /* one row a band */
    size_t band_rows;
} wall_work;

/* Which paint shows on each pixel of a row; later panels cover earlier ones. */
static void paint_row(const wall_work *work, size_t y, uint8_t *label)
{
    const size_t width_px = work->grid->width_px;
    memset(label, 0, width_px);
    for (size_t p = 0; p < 2 * work->layout->n_panels; p++) {
        const sw_proof_rows *const rows = &work->rows[p];
        if (rows->first == NULL) continue;
        const size_t end = rows->first[y + 1];
        for (size_t i = rows->first[y]; i + 1 < end; i += 2) {
            const size_t x0 = sw_proof_column(rows->at[i].x_px, width_px);
            const size_t x1 = sw_proof_column(rows->at[i + 1].x_px, width_px);
            memset(label + x0, (int)work->layout->panels[p / 2].pass, x1 - x0);
        }
    }
}

static double row_difference(const wall_work *work, size_t y, const uint8_t *label)
{
    const sw_rgb8 *const art = work->art->at + y * work->grid->width_px;
    double sum = 0.0;
    for (size_t x = work->x0; x < work->grid->width_px; x += work->step)
        sum += sw_ciede2000(sw_lab_from_rgb8(art[x]), work->paint_lab[label[x]]);
    return sum;
}

static void work_rows(size_t row_begin, size_t row_end, void *ctx)
{
    const wall_work *const work = ctx;
    const size_t width_px = work->grid->width_px;
    uint8_t *const label = work->label + row_begin / work->band_rows * width_px;
    for (size_t y = row_begin; y < row_end; y++) {
        const bool is_sampled = work->art != NULL && y % work->step == work->y0;
        if (!is_sampled && work->composite == NULL) continue;
        paint_row(work, y, label);
        if (work->composite != NULL) {
            sw_rgb8 *const out = work->composite + y * width_px;
            for (size_t x = 0; x < width_px; x++) out[x] = work->separation->colour[label[x]];
        }
        if (is_sampled) work->sum[y] = row_difference(work, y, label);
    }
}

static double mean_of(const wall_work *work)
{
    size_t n_rows = 0, n_columns = 0;
    double sum = 0.0;
    for (size_t y = work->y0; y < work->grid->height_px; y += work->step) {
        sum += work->sum[y];
        n_rows++;
    }
    for (size_t x = work->x0; x < work->grid->width_px; x += work->step) n_columns++;
    return n_rows * n_columns > 0 ? sum / (double)(n_rows * n_columns) : 0.0;
}

static sw_status scan_placed(const sw_panel *panel, const sw_proof_raster *raster, sw_proof_rows *rows, sw_note *note)
{
    const sw_panel placed = { .width_mm = panel->width_mm, .height_mm = panel->height_mm, .outline = panel->outline,
                              .openings = panel->placed };
    sw_proof_shape shape = { 0 };
    if (panel->placed.n == 0) return SW_OK;
    SW_TRY(sw_proof_shape_make(&placed, &shape, note));
    const sw_status st = sw_proof_scan(&shape, 1, shape.n_openings + 1, raster, rows, note);
    sw_proof_shape_free(&shape);
    return st;
}

static sw_status scan_panels(const sw_layout *layout, const sw_proof_shape *shapes, const sw_grid *grid,
                             sw_proof_rows *rows, sw_note *note)
{
    for (size_t p = 0; p < layout->n_panels; p++) {
        const sw_pt_mm origin = layout->panels[p].origin;
        const sw_proof_raster raster = { grid->width_px, grid->height_px, grid->px_per_mm,
                                         { -origin.x_mm, -origin.y_mm } };
        if (layout->panels[p].pass > SW_MAX_PASSES)
            return sw_fail(note, SW_BAD_USAGE, "panel %zu has pass %zu; at most %d are possible", p,
                           layout->panels[p].pass, SW_MAX_PASSES);
        SW_TRY(sw_proof_scan(&shapes[p], 1, shapes[p].n_openings + 1, &raster, &rows[2 * p], note));
        SW_TRY(scan_placed(&layout->panels[p], &raster, &rows[2 * p + 1], note));
    }
    return SW_OK;
}

sw_status sw_proof_wall(const sw_layout *layout, const sw_proof_shape *shapes, const sw_grid *grid,
                        const sw_separation *separation, const sw_picture *art, sw_picture *composite, double *mean,
                        sw_note *note)
{
    wall_work work = { .layout = layout, .grid = grid, .separation = separation, .art = art, .band_rows = 64 };
    sw_picture wall = { 0 };
    sw_proof_rows *rows = NULL;
    sw_status st = SW_OK;
    const double n_px = (double)grid->width_px * (double)grid->height_px;
    const size_t n_bands = (grid->height_px + work.band_rows - 1) / work.band_rows;
    work.step = sw_max_size(1, (size_t)floor(sqrt(n_px / N_SAMPLES)));
    work.x0 = sw_min_size(work.step, grid->width_px) / 2;
    work.y0 = sw_min_size(work.step, grid->height_px) / 2;
    for (size_t k = 0; k <= SW_MAX_PASSES; k++) work.paint_lab[k] = sw_lab_from_rgb8(separation->colour[k]);
    rows = sw_alloc_array(2 * layout->n_panels + 1, sizeof *rows);
    work.rows = rows;
    work.sum = sw_alloc_array(grid->height_px, sizeof *work.sum);
    work.label = sw_alloc_raw(n_bands, grid->width_px);
    if (rows == NULL || work.sum == NULL || work.label == NULL) {
        st = sw_fail_memory(note, "the wall's rows");
        goto cleanup;
    }
    st = scan_panels(layout, shapes, grid, rows, note);
    if (st != SW_OK) goto cleanup;
    if (composite != NULL) {
        st = sw_picture_make(grid->width_px, grid->height_px, separation->colour[0], &wall, note);
        if (st != SW_OK) goto cleanup;
        work.composite = wall.at;
    }
    sw_parallel_bands(grid->height_px, work.band_rows, work_rows, &work);
    if (composite != NULL) {
        *composite = wall;
        wall = (sw_picture){ 0 };
    }
    *mean = mean_of(&work);
cleanup:
    for (size_t p = 0; rows != NULL && p < 2 * layout->n_panels; p++) sw_proof_rows_free(&rows[p]);
    sw_free(rows);
    sw_free(work.sum);
    sw_free(work.label);
    sw_picture_free(&wall);
    return st;
}
