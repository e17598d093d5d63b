/* The net of a window's material, and the bridges in it. The net is made once, without bridges; each of them is a beam
 * then, which comes, goes and moves with it. */
#include <math.h>
#include <string.h>

#include "sheet/bridge_hold.h"

#define CELLS_ACROSS 2.5 /* cells in a bridge's width: a slanted one stays joined over sides */
#define COLUMNS 4096u         /* of pixels, counted together */
#define CELLS_AROUND 7   /* a side, around a bridge's end */

typedef struct cover_job {
    const uint8_t *at;  /* the window's first pixel */
    size_t stride, width, height, factor;
    sw_hold_cells *cells;
} cover_job;

/* Open pixels of each column in rows y0 to y1, x0 to x0 + n. */
static void sum_columns(const cover_job *job, size_t y0, size_t y1, size_t x0, size_t n, uint16_t *restrict sum)
{
    memset(sum, 0, n * sizeof *sum);
    for (size_t y = y0; y < y1; y++) {
        const uint8_t *const restrict at = job->at + y * job->stride + x0;
        for (size_t x = 0; x < n; x++) sum[x] = (uint16_t)(sum[x] + at[x]);
    }
}

/* Material pixels of each cell, some thousand columns at a time; what lies past the window is frame. */
static void cover_rows(size_t row_begin, size_t row_end, void *ctx)
{
    const cover_job *const job = ctx;
    const size_t f = job->factor;
    const size_t at_once = COLUMNS / f * f; /* a bridge is at most SW_DISC_MAX_PX wide */
    uint16_t sum[COLUMNS];
    for (size_t row = row_begin; row < row_end; row++) {
        float *cover = job->cells->cover + (row + 1) * job->cells->width + 1;
        for (size_t x0 = 0; x0 < job->width; x0 += at_once) {
            const size_t n = sw_min_size(at_once, job->width - x0);
            sum_columns(job, row * f, sw_min_size(row * f + f, job->height), x0, n, sum);
            for (size_t x = 0; x < n; x += f) {
                size_t n_open = 0;
                for (size_t k = x; k < sw_min_size(x + f, n); k++) n_open += sum[k];
                *cover++ = (float)(f * f - n_open) / (float)(f * f);
            }
        }
    }
}

sw_status bridge_cover_make(const uint8_t *at, size_t stride, const sw_rect_px *window, const sw_grid *grid, double width_px,
                            sw_hold_cells *out, sw_note *note)
{
    const size_t factor = (size_t)sw_max(floor(width_px / CELLS_ACROSS), 1.0);
    const double mm = sw_mm_from_px(grid, 1.0);
    const sw_pt_mm corner = sw_pt_mm_from_px(grid, (sw_pt_px){ (double)window->x, (double)window->y });
    SW_TRY(sw_hold_cells_make(mm * (double)window->width, mm * (double)window->height, mm * (double)factor, corner, out, note));
    sw_parallel_rows(out->height - 2, cover_rows, &(cover_job){ at, stride, window->width, window->height, factor, out });
    return SW_OK;
}

sw_status bridge_cells_make(const bridge_ground *g, sw_hold_cells *out, sw_note *note)
{
    const size_t stride = g->mask.width_px;
    return bridge_cover_make(g->mask.at + stride + 1, stride, &g->job->window, &g->grid, g->width_px, out, note);
}

sw_status bridge_net_make(const bridge_ground *g, const sw_hold_cells *cells, hold_net *net, sw_note *note)
{
    const sw_material *const material = g->job->material != NULL ? g->job->material : sw_material_find(NULL);
    return hold_net_make(cells, material, BRIDGE_BROADER_RATIO * hold_broad_mm(material, g->job->droop_mm), net, note);
}

/* ---- bridges as beams ---------------------------------------------------------------------------------------- */

/* The node of a part that an end of a bridge stands on: of the nearest cell. */
static uint32_t stands_on(const bridge_ground *g, const hold_net *net, sw_pt_px end, uint32_t part)
{
    const sw_pt_mm at = bridge_to_mm(g, end);
    uint32_t nearest = HOLD_NONE;
    double least = HUGE_VAL;
    for (int k = 0; k < CELLS_AROUND * CELLS_AROUND; k++) {
        const int u = k % CELLS_AROUND - CELLS_AROUND / 2, v = k / CELLS_AROUND - CELLS_AROUND / 2;
        const double x = floor((at.x_mm - net->origin.x_mm) / net->cell_mm) + u + 0.5;
        const double y = floor((at.y_mm - net->origin.y_mm) / net->cell_mm) + v + 0.5;
        const sw_pt_mm middle = { net->origin.x_mm + x * net->cell_mm, net->origin.y_mm + y * net->cell_mm };
        const double away = hypot(middle.x_mm - at.x_mm, middle.y_mm - at.y_mm);
        const sw_pt_px px = bridge_to_px(g, middle);
        if (away >= least || bridge_part_at(g, px.x_px, px.y_px) != part) continue;
        const uint32_t node = hold_node_at(net, middle);
        if (node == HOLD_NONE) continue;
        least = away;
        nearest = node;
    }
    return nearest;
}

hold_link bridge_link_between(const bridge_ground *g, const hold_net *net, const bridge_strip *s, const sw_bridge *bridge)
{
    const uint32_t a = stands_on(g, net, s->a, s->from), b = stands_on(g, net, s->b, s->to);
    if (a == HOLD_NONE || b == HOLD_NONE) return (hold_link){ .a = HOLD_ROOT, .b = HOLD_ROOT };
    return (hold_link){ .a = a, .b = b, .pa = bridge_to_mm(g, s->a), .pb = bridge_to_mm(g, s->b), .width_mm = bridge->width_mm,
                        .area_mm2 = bridge->area_mm2 };
}

bool bridge_net_join(const bridge_ground *g, const bridge_strips *strips, const sw_sheet *sheet, size_t first, hold_net *net)
{
    for (size_t i = 0; i < strips->n; i++)
        if (!hold_net_link(net, bridge_link_between(g, net, &strips->at[i], &sheet->bridges[first + i]))) return false;
    return true;
}
