/* Mends what the proof finds. The sheets are planned wide enough, yet a curve fitted within its tolerance can still leave
 * a place a hair too narrow. Such places are mended in the mask and the sheet is drawn and proved again, a few rounds:
 * first by room (a narrow web gets material, a narrow opening is opened), in later rounds by material alone, which
 * cannot make anything fall out and so comes to an end. */
#include "job/job.h"

#include <math.h>

#define ROUNDS_WITH_ROOM 2 /* then material only: an opening beside a web would take turns with it for ever */
#define EXTRA_MM 0.35      /* wider than asked by this at first, and by as much again each round */

/* Set all pixels whose centre is within radius of the artwork point to value. */
static void paint_disc(sw_mask *mask, const sw_grid *grid, sw_pt_mm at, double radius_mm, uint8_t value)
{
    const double x = sw_px_from_mm(grid, at.x_mm), y = sw_px_from_mm(grid, at.y_mm), r = sw_px_from_mm(grid, radius_mm);
    const double last_x = (double)mask->width_px - 1.0, last_y = (double)mask->height_px - 1.0;
    const size_t x0 = (size_t)sw_clamp(floor(x - r), 0.0, last_x), x1 = (size_t)sw_clamp(ceil(x + r), 0.0, last_x);
    const size_t y0 = (size_t)sw_clamp(floor(y - r), 0.0, last_y), y1 = (size_t)sw_clamp(ceil(y + r), 0.0, last_y);
    for (size_t j = y0; j <= y1; j++) {
        for (size_t i = x0; i <= x1; i++) {
            const double dx = (double)i + 0.5 - x, dy = (double)j + 0.5 - y;
            if (dx * dx + dy * dy <= r * r) mask->at[j * mask->width_px + i] = value;
        }
    }
}

size_t sw_job_mend(sw_job *job, sw_sheet *sheet, const sw_panel *panel, const sw_proof_panel *proof, size_t round)
{
    const double extra_mm = EXTRA_MM * (double)(round + 1);
    for (size_t f = 0; f < proof->n_faults; f++) {
        const sw_proof_fault *const fault = &proof->faults[f];
        const sw_pt_mm place = { fault->at.x_mm + panel->origin.x_mm, fault->at.y_mm + panel->origin.y_mm };
        const bool is_opened = fault->kind == SW_FAULT_OPENING && round < ROUNDS_WITH_ROOM;
        const double width_mm = is_opened ? job->opts.min_opening_mm : job->opts.min_web_mm;
        paint_disc(&sheet->openings, &job->grid, place, (width_mm + extra_mm) / 2.0, is_opened ? 1 : 0);
    }
    return proof->n_faults;
}
