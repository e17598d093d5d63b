/* The window that bridging works on: a copy of the openings with frame all round, its parts of material, and what it
 * costs to leave or to lose a pixel there. 5 bytes a pixel of the window. */
#include <string.h>

#include "sheet/bridge_parts.h"
#include "sheet/runs.h"

/* Losing a part of the picture against a bridge of equal error, at no salience and at full. Taste: a highlight on a
 * sleeve had better go than hang on a stick as large as itself; the light in an eye must stay. */
#define LOSS_LEAST 0.6
#define LOSS_MOST 4.0

static void fill_tables(bridge_ground *g, sw_rgb8 paint)
{
    const sw_separation *s = g->job->separation;
    const sw_lab paint_lab = sw_lab_from_rgb8(paint);
    for (size_t k = 0; k <= s->n_passes; k++) {
        const double error = sw_ciede2000(paint_lab, sw_lab_from_rgb8(s->colour[k]));
        g->error_of[k] = (uint32_t)(BRIDGE_UNIT * error + 0.5);
        g->loss_of[k] = k < g->pass ? g->error_of[k] : 0;
    }
    for (size_t i = 0; i < 256; i++) {
        const double ratio = (double)i / 255.0;
        g->loss_weight_of[i] =
            (uint32_t)(BRIDGE_UNIT * (LOSS_LEAST + (LOSS_MOST - LOSS_LEAST) * ratio * ratio) + 0.5);
    }
}

/* Openings of some rows, and frame at both ends of them. */
typedef struct window_copy {
    const sw_mask *openings;
    const sw_rect_px *window;
    sw_mask *mask;
} window_copy;

static void copy_rows(size_t begin, size_t end, void *ctx)
{
    const window_copy *const c = ctx;
    for (size_t y = begin; y < end; y++) {
        uint8_t *const row = c->mask->at + (y + 1) * c->mask->width_px;
        row[0] = row[c->mask->width_px - 1] = 0;
        memcpy(row + 1, c->openings->at + (c->window->y + y) * c->openings->width_px + c->window->x, c->window->width);
    }
}

static void copy_window(const sw_mask *openings, const sw_rect_px *window, sw_mask *mask)
{
    memset(mask->at, 0, mask->width_px);
    memset(mask->at + (mask->height_px - 1) * mask->width_px, 0, mask->width_px);
    sw_parallel_rows(window->height, copy_rows, &(window_copy){ openings, window, mask });
}

/* Row by row of squares. */
static void look_for_material(size_t begin, size_t end, void *ctx)
{
    const bridge_ground *const g = ctx;
    const size_t width = g->mask.width_px;
    for (size_t row = begin; row < end; row++) {
        uint8_t *const has = g->has_material + row * g->squares_wide;
        memset(has, 0, g->squares_wide);
        for (size_t y = row * BRIDGE_SQUARE; y < sw_min_size((row + 1) * BRIDGE_SQUARE, g->mask.height_px); y++)
            for (size_t k = 0; k < g->squares_wide; k++) {
                const uint8_t *const at = g->mask.at + y * width + k * BRIDGE_SQUARE;
                const size_t n = sw_min_size(BRIDGE_SQUARE, width - k * BRIDGE_SQUARE);
                if (has[k] == 0) has[k] = memchr(at, 0, n) != NULL;
            }
    }
}

static bool find_squares(bridge_ground *g)
{
    const size_t n_rows = (g->mask.height_px + BRIDGE_SQUARE - 1) / BRIDGE_SQUARE;
    g->squares_wide = (g->mask.width_px + BRIDGE_SQUARE - 1) / BRIDGE_SQUARE;
    g->has_material = sw_alloc_raw(n_rows * g->squares_wide, 1);
    if (g->has_material == NULL) return false;
    sw_parallel_rows(n_rows, look_for_material, g);
    return true;
}

/* Boxes and areas of the islands. */
static void measure_parts(bridge_ground *g, const sw_runs *runs)
{
    for (uint32_t i = 0; i <= g->n_parts; i++) g->parts[i] = (bridge_part){ .x0 = SIZE_MAX, .y0 = SIZE_MAX };
    for (size_t y = 0; y < runs->n_rows; y++)
        for (size_t i = runs->row[y]; i < runs->row[y + 1]; i++) {
            const sw_run *const run = &runs->at[i];
            bridge_part *const p = &g->parts[run->id];
            if (run->id == BRIDGE_ROOT) continue;
            p->x0 = sw_min_size(p->x0, run->begin);
            p->x1 = sw_max_size(p->x1, run->end);
            p->y0 = sw_min_size(p->y0, y);
            p->y1 = y + 1;
            p->area_px += run->end - run->begin;
        }
}

/* What hangs together, and the squares it lies in. */
static sw_status find_parts(bridge_ground *g, sw_note *note)
{
    sw_runs runs = { 0 };
    const size_t width = g->mask.width_px;
    SW_TRY(sw_runs_make(g->mask.at, width, g->mask.height_px, width, 0, false, &runs, note));
    g->n_parts = runs.n_components;
    g->part = sw_alloc_raw(width * g->mask.height_px, sizeof *g->part);
    g->parts = sw_alloc_raw(g->n_parts + 1, sizeof *g->parts);
    const bool is_done = g->part != NULL && g->parts != NULL && find_squares(g);
    if (is_done) {
        sw_runs_label(&runs, width, g->part);
        measure_parts(g, &runs);
    }
    sw_runs_free(&runs);
    return is_done ? SW_OK : sw_fail_memory(note, "the parts of a sheet");
}

void bridge_ground_free(bridge_ground *ground)
{
    sw_mask_free(&ground->mask);
    sw_free(ground->part);
    sw_free(ground->parts);
    sw_free(ground->has_material);
    sw_notice_free(ground->own_notice);
    sw_free(ground->own_notice);
    *ground = (bridge_ground){ 0 };
}

static sw_status make_notice(bridge_ground *g, sw_note *note)
{
    g->own_notice = sw_alloc_array(1, sizeof *g->own_notice);
    if (g->own_notice == NULL) return sw_fail_memory(note, "what is noticed");
    return sw_notice_make(g->job->separation, g->width_px, g->own_notice, note);
}

sw_status bridge_ground_make(const sw_mask *openings, const sw_bridge_job *job, size_t pass, sw_rgb8 paint,
                             bridge_ground *out, sw_note *note)
{
    bridge_ground g = { .job = job, .grid = job->separation->grid, .pass = (uint8_t)pass };
    g.width_px = sw_px_from_mm(&g.grid, job->width_mm);
    sw_status st = sw_mask_make_raw(job->window.width + 2, job->window.height + 2, &g.mask, note);
    if (st != SW_OK) goto cleanup;
    copy_window(openings, &job->window, &g.mask);
    st = find_parts(&g, note);
    if (st != SW_OK) goto cleanup;
    if (job->notice == NULL) st = make_notice(&g, note);
    if (st != SW_OK) goto cleanup;
    g.notice = job->notice != NULL ? job->notice : g.own_notice;
    fill_tables(&g, paint);
    *out = g;
    g = (bridge_ground){ 0 };
cleanup:
    bridge_ground_free(&g);
    return st;
}
