/* What the picture takes with 1 to 6 passes, on a coarse raster: real separations and real sheets, their masks measured
 * instead of traced. A pixel is often wider there than the smallest opening; what is thinner than a pixel is not in the
 * raster, and its lone pixels would count as islands that no job has. So openings and webs are kept at a pixel and one
 * and a half at least. Tried on three drawings at 2.1 m against their jobs: one with 46 islands in three sheets shows 129
 * without that and 105 with it. */
#include "check/parts.h"

#include <math.h>
#include <string.h>

#define SAMPLE_PX 3       /* colours are compared at every third pixel of every third row */
#define LEAST_OPENING_PX 1.0
#define LEAST_WEB_PX 1.5
#define KNEE_RATIO 0.12   /* of the gain from the first row to the best: a pass that brings less is not worth a sheet; taste */
#define KNEE_CIEDE2000 0.7

sw_separate_opts sw_passes_opts(const sw_cut_opts *cut, size_t n_passes, sw_rgb8 *paints)
{
    for (size_t i = 0; i < cut->n_paints; i++)
        paints[i] = (sw_rgb8){ (uint8_t)(cut->paint_rgb[i] >> 16), (uint8_t)(cut->paint_rgb[i] >> 8), (uint8_t)cut->paint_rgb[i] };
    return (sw_separate_opts){ .kind = (sw_separate_kind)cut->kind,
                               .n_passes = n_passes,
                               .ground = { (uint8_t)(cut->ground_rgb >> 16), (uint8_t)(cut->ground_rgb >> 8),
                                           (uint8_t)cut->ground_rgb },
                               .paints = cut->n_paints > 0 ? paints : NULL,
                               .n_paints = cut->n_paints,
                               .min_opening_mm = cut->min_opening_mm,
                               .min_web_mm = cut->min_web_mm,
                               .detail_ratio = cut->detail_ratio,
                               .has_detail = true };
}

/* Edge of a mask in pixels: each 2 x 2 square cut by it adds the straight line through it. Exact along rows, columns and
 * diagonals, up to 8 % too long between. */
static double edge_px(const sw_mask *mask)
{
    uint64_t n_straight = 0, n_corner = 0;
    for (size_t y = 0; y + 1 < mask->height_px; y++) {
        const uint8_t *const row = mask->at + y * mask->width_px, *const below = row + mask->width_px;
        for (size_t x = 0; x + 1 < mask->width_px; x++) {
            const int sum = row[x] + row[x + 1] + below[x] + below[x + 1];
            const bool is_saddle = sum == 2 && row[x] == below[x + 1];
            if (sum == 1 || sum == 3) n_corner++;
            else if (is_saddle) n_corner += 2;
            else if (sum == 2) n_straight++;
        }
    }
    return (double)n_straight + sqrt(0.5) * (double)n_corner;
}

typedef struct comparison {
    const sw_picture *art;
    const sw_separation *separation;
    const sw_sheets *sheets;
    double *row_sum;
} comparison;

static size_t shown_at(const sw_sheets *sheets, size_t at)
{
    for (size_t i = sheets->n; i-- > 0;) {
        if (sheets->at[i].openings.at[at] != 0) return sheets->at[i].pass;
    }
    return 0;
}

static void compare_rows(size_t begin, size_t end, void *ctx)
{
    const comparison *const c = ctx;
    const size_t w = c->art->width_px;
    sw_lab shown[SW_MAX_PASSES + 1];
    for (size_t i = 0; i <= c->separation->n_passes; i++) shown[i] = sw_lab_from_rgb8(c->separation->colour[i]);
    for (size_t row = begin; row < end; row++) {
        const size_t y = row * SAMPLE_PX;
        sw_rgb8 last = { 0 };
        sw_lab lab = sw_lab_from_rgb8(last);
        double sum = 0.0;
        for (size_t x = 0; x < w; x += SAMPLE_PX) {
            const sw_rgb8 colour = c->art->at[y * w + x];
            if (memcmp(&colour, &last, sizeof colour) != 0) lab = sw_lab_from_rgb8(last = colour);
            sum += sw_ciede2000(lab, shown[shown_at(c->sheets, y * w + x)]);
        }
        c->row_sum[row] = sum;
    }
}

static sw_status compare(const sw_picture *art, const sw_separation *separation, const sw_sheets *sheets, double *mean,
                         sw_note *note)
{
    const size_t n_rows = (art->height_px + SAMPLE_PX - 1) / SAMPLE_PX;
    const size_t n_columns = (art->width_px + SAMPLE_PX - 1) / SAMPLE_PX;
    comparison c = { art, separation, sheets, sw_alloc_array(n_rows, sizeof *c.row_sum) };
    double sum = 0.0;
    if (c.row_sum == NULL) return sw_fail_memory(note, "the passes");
    sw_parallel_rows(n_rows, compare_rows, &c);
    for (size_t i = 0; i < n_rows; i++) sum += c.row_sum[i];
    sw_free(c.row_sum);
    *mean = sum / ((double)n_rows * (double)n_columns);
    return SW_OK;
}

static double smallest_step(const sw_separation *s)
{
    double least = INFINITY;
    for (size_t i = 0; i <= s->n_passes; i++) {
        for (size_t k = 0; k < i; k++)
            least = sw_min(least, sw_ciede2000(sw_lab_from_rgb8(s->colour[i]), sw_lab_from_rgb8(s->colour[k])));
    }
    return least;
}

bool sw_passes_shows(const sw_bridge *bridge) { return !bridge->is_hidden || !(bridge->area_mm2 > 0.0); }

/* planned_ratio: width of the bridges over the width they were planned with. */
static void count_sheets(const sw_sheets *sheets, double px_per_mm, double planned_ratio, sw_check_row *row)
{
    for (size_t i = 0; i < sheets->n; i++) {
        const sw_sheet *const sheet = &sheets->at[i];
        const size_t n_px = sheet->openings.width_px * sheet->openings.height_px;
        size_t n_open = 0;
        for (size_t at = 0; at < n_px; at++) n_open += sheet->openings.at[at];
        row->open_mm2 += (double)n_open / (px_per_mm * px_per_mm);
        row->cut_length_mm += edge_px(&sheet->openings) / px_per_mm;
        row->n_islands += sheet->n_islands;
        row->n_bridges += sheet->n_bridges;
        for (size_t b = 0; b < sheet->n_bridges; b++) {
            const sw_bridge *const bridge = &sheet->bridges[b];
            const double length_mm = hypot(bridge->b.x_mm - bridge->a.x_mm, bridge->b.y_mm - bridge->a.y_mm);
            if (!sw_passes_shows(bridge)) continue;
            row->n_visible_bridges++;
            row->visible_bridge_mm2 += planned_ratio * (bridge->area_mm2 > 0.0 ? bridge->visible_mm2 : length_mm * bridge->width_mm);
        }
    }
}

sw_status sw_passes_try(const sw_picture *coarse, const sw_cut_opts *cut, double width_mm, size_t n_passes,
                        sw_check_row *out, sw_separation *separation, sw_sheets *sheets, sw_note *note)
{
    sw_rgb8 paints[SW_CUT_MAX_PAINTS];
    sw_separation made = { 0 };
    sw_sheets made_sheets = { 0 };
    const sw_grid grid = { coarse->width_px, coarse->height_px, (double)coarse->width_px / width_mm };
    const sw_separate_opts opts = sw_passes_opts(cut, n_passes, paints);
    const sw_sheet_opts sheet_opts = { .min_opening_mm = sw_max(cut->min_opening_mm, sw_mm_from_px(&grid, LEAST_OPENING_PX)),
                                       .min_web_mm = sw_max(cut->min_web_mm, sw_mm_from_px(&grid, LEAST_WEB_PX)),
                                       .slack_mm = 0.1 * cut->min_opening_mm,
                                       .trap_mm = cut->trap_mm,
                                       .is_rough = true };
    sw_check_row row = { 0 };
    sw_status st = sw_separate(coarse, &grid, &opts, NULL, &made, note);
    if (st == SW_OK) st = sw_sheets_make(&made, coarse, &sheet_opts, NULL, &made_sheets, note);
    if (st == SW_OK) st = compare(coarse, &made, &made_sheets, &row.mean_ciede2000, note);
    if (st == SW_OK) {
        row.n_passes = made_sheets.n;
        row.step_ciede2000 = smallest_step(&made);
        count_sheets(&made_sheets, grid.px_per_mm,
                     (cut->min_web_mm + sheet_opts.slack_mm) / (sheet_opts.min_web_mm + sheet_opts.slack_mm), &row);
        *out = row;
        if (separation != NULL) {
            *separation = made;
            made = (sw_separation){ 0 };
        }
        if (sheets != NULL) {
            *sheets = made_sheets;
            made_sheets = (sw_sheets){ 0 };
        }
    }
    sw_separation_free(&made);
    sw_sheets_free(&made_sheets);
    return st;
}

typedef struct table {
    const sw_picture *coarse;
    const sw_cut_opts *cut;
    double width_mm;
    const sw_check *check;
    sw_check_row rows[SW_CHECK_MAX_PASSES];
    sw_status status[SW_CHECK_MAX_PASSES];
} table;

static void fill_rows(size_t begin, size_t end, void *ctx)
{
    table *const t = ctx;
    for (size_t i = begin; i < end; i++) {
        const size_t row = SW_CHECK_MAX_PASSES - 1 - i; /* the longest first */
        if (row + 1 == t->check->opts.n_passes) {
            t->rows[row] = t->check->row; /* measured already */
            continue;
        }
        t->status[row] = sw_passes_try(t->coarse, t->cut, t->width_mm, row + 1, &t->rows[row], NULL, NULL, NULL);
    }
}

/* The last pass that is still worth its sheet. */
static size_t knee(const sw_check_row *rows, size_t n)
{
    double best = rows[0].mean_ciede2000;
    for (size_t i = 1; i < n; i++) best = sw_min(best, rows[i].mean_ciede2000);
    const double least = sw_max(KNEE_CIEDE2000, KNEE_RATIO * (rows[0].mean_ciede2000 - best));
    size_t pick = 0;
    for (size_t i = 1; i < n; i++) {
        if (rows[pick].mean_ciede2000 - rows[i].mean_ciede2000 >= least * (double)(i - pick)) pick = i;
    }
    return pick;
}

sw_status sw_passes_table(const sw_picture *coarse, const sw_cut_opts *cut, double width_mm, sw_check *check,
                          sw_note *note)
{
    table t = { .coarse = coarse, .cut = cut, .width_mm = width_mm, .check = check };
    sw_parallel_bands(SW_CHECK_MAX_PASSES, 1, fill_rows, &t);
    for (size_t i = 0; i < SW_CHECK_MAX_PASSES; i++) {
        if (t.status[i] == SW_CANNOT_HOLD) continue;
        if (t.status[i] == SW_NO_MEMORY) return sw_fail_memory(note, "the passes");
        if (t.status[i] != SW_OK) return sw_fail(note, t.status[i], "the passes cannot be compared");
        if (check->n_rows > 0 && t.rows[i].n_passes == check->rows[check->n_rows - 1].n_passes) continue; /* no more colours */
        check->rows[check->n_rows++] = t.rows[i];
    }
    if (check->n_rows == 0) return SW_OK;
    check->picked_passes = check->rows[knee(check->rows, check->n_rows)].n_passes;
    for (size_t i = check->n_rows; i-- > 0;) {
        if (check->rows[i].mean_ciede2000 <= SW_CHECK_GOOD_CIEDE2000) check->colours_needed = check->rows[i].n_passes;
    }
    return SW_OK;
}
