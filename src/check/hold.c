/*
 * Where the bridges of a drawing go: the openings are filled on a raster, and the bridges that a job's sheet would get there
 * (cheapest ones first, then more until nothing droops) are planned on it. The drawing gets them as strips; what the
 * sheet stage would do to thin parts it does to the raster only.
 */
#include "check/parts.h"

#include <math.h>
#include <string.h>

#define PX_ACROSS 6.0    /* of the smaller of opening and web, as in a job ... */
#define LEAST_ACROSS 2.5 /* ... or fewer in a large drawing; below this no plan is worth having */
#define MOST_PX 6.0e6
#define MARGIN_WEBS 3.0  /* of material around the outermost openings: everything hangs on it */
#define SURE 255         /* of material: no island is given up, somebody drew it; a bridge may cross any opening */

/* The raster over the drawing. */
typedef struct raster {
    sw_pt_mm origin;
    sw_grid grid;
    sw_separation separation; /* label 1: opening */
} raster;

static bool find_box(const sw_rings *rings, sw_pt_mm *low, sw_pt_mm *high)
{
    *low = (sw_pt_mm){ INFINITY, INFINITY };
    *high = (sw_pt_mm){ -INFINITY, -INFINITY };
    for (size_t i = 0; i < rings->n; i++) {
        if (rings->at[i].is_left_out) continue;
        *low = (sw_pt_mm){ sw_min(low->x_mm, rings->at[i].low.x_mm), sw_min(low->y_mm, rings->at[i].low.y_mm) };
        *high = (sw_pt_mm){ sw_max(high->x_mm, rings->at[i].high.x_mm), sw_max(high->y_mm, rings->at[i].high.y_mm) };
    }
    return high->x_mm - low->x_mm > 0.0 && high->y_mm - low->y_mm > 0.0 && high->x_mm - low->x_mm <= SW_MAX_MM &&
           high->y_mm - low->y_mm <= SW_MAX_MM;
}

/* False where a raster of MOST_PX is too coarse. */
static bool lay_grid(const sw_rings *rings, const sw_svg_opts *opts, raster *out)
{
    sw_pt_mm low, high;
    if (!find_box(rings, &low, &high)) return false;
    const double margin_mm = MARGIN_WEBS * opts->min_web_mm, smaller_mm = sw_min(opts->min_opening_mm, opts->min_web_mm);
    const double width_mm = high.x_mm - low.x_mm + 2.0 * margin_mm, height_mm = high.y_mm - low.y_mm + 2.0 * margin_mm;
    const double px_per_mm = sw_min(PX_ACROSS / smaller_mm, sqrt(MOST_PX / (width_mm * height_mm)));
    if (!(px_per_mm * smaller_mm >= LEAST_ACROSS)) return false;
    const double width_px = ceil(width_mm * px_per_mm), height_px = ceil(height_mm * px_per_mm);
    if (!(width_px <= SW_MAX_SIDE_PX && height_px <= SW_MAX_SIDE_PX)) return false;
    out->origin = (sw_pt_mm){ low.x_mm - margin_mm, low.y_mm - margin_mm };
    out->grid = (sw_grid){ (size_t)width_px, (size_t)height_px, px_per_mm };
    return true;
}

/* Even-odd: every edge turns over the pixel right of it in each row, and what is right of that follows. */
static void turn_over(const raster *r, sw_pt_mm a, sw_pt_mm b, uint8_t *label)
{
    const sw_pt_mm top = a.y_mm < b.y_mm ? a : b, low = a.y_mm < b.y_mm ? b : a;
    const double s = r->grid.px_per_mm, y0 = (top.y_mm - r->origin.y_mm) * s, y1 = (low.y_mm - r->origin.y_mm) * s;
    const double x0 = (top.x_mm - r->origin.x_mm) * s, slope = y1 > y0 ? (low.x_mm - top.x_mm) * s / (y1 - y0) : 0.0;
    for (size_t y = (size_t)ceil(sw_max(0.0, y0 - 0.5)); (double)y + 0.5 < y1 && y < r->grid.height_px; y++) {
        const double x = ceil(sw_max(0.0, x0 + ((double)y + 0.5 - y0) * slope - 0.5));
        if (x < (double)r->grid.width_px) label[y * r->grid.width_px + (size_t)x] ^= 1;
    }
}

static sw_status fill(const sw_rings *rings, raster *r, sw_note *note)
{
    const size_t width = r->grid.width_px, n_px = width * r->grid.height_px;
    sw_separation *const s = &r->separation;
    *s = (sw_separation){ .grid = r->grid, .n_passes = 1, .colour = { { 255, 255, 255 }, { 0, 0, 0 } } };
    s->label = sw_alloc_array(n_px, 1);
    s->salience = sw_alloc_raw(n_px, 1);
    if (s->label == NULL || s->salience == NULL) return sw_fail_memory(note, "the bridges");
    for (size_t i = 0; i < rings->n; i++) {
        const sw_ring *const ring = &rings->at[i];
        if (ring->is_left_out) continue;
        for (size_t k = 0; k < ring->n; k++)
            turn_over(r, rings->points[ring->first + k], rings->points[ring->first + (k + 1 < ring->n ? k + 1 : 0)], s->label);
    }
    for (size_t i = 0; i < n_px; i++) {
        if (i % width > 0) s->label[i] ^= s->label[i - 1];
        s->salience[i] = s->label[i] == 0 ? SURE : 0;
    }
    return SW_OK;
}

typedef struct planned {
    sw_planned *at;
    size_t n, cap;
} planned;

static bool add_one(planned *list, const sw_planned *one)
{
    void *data = list->at;
    if (!sw_grow(&data, &list->cap, list->n + 1, sizeof *list->at)) return false;
    list->at = data;
    list->at[list->n++] = *one;
    return true;
}

/* Bridges of the raster's sheet, in mm of the drawing. */
static sw_status add_plan(const raster *r, const sw_sheet_opts *opts, planned *list, sw_note *note)
{
    sw_sheets sheets = { 0 };
    sw_note why = { 0 };
    sw_status st = sw_sheets_make(&r->separation, NULL, opts, NULL, &sheets, &why);
    if (st == SW_BAD_LENGTH) return SW_OK; /* widths too different to be planned together: no plan */
    if (st != SW_OK) return sw_fail(note, st, "%s", why.text);
    for (size_t i = 0; sheets.n > 0 && i < sheets.at[0].n_bridges && st == SW_OK; i++) {
        const sw_bridge *const b = &sheets.at[0].bridges[i];
        const sw_planned one = { .a = { b->a.x_mm + r->origin.x_mm, b->a.y_mm + r->origin.y_mm },
                                 .b = { b->b.x_mm + r->origin.x_mm, b->b.y_mm + r->origin.y_mm }, .width_mm = b->width_mm };
        if (!b->is_bent && !add_one(list, &one)) st = sw_fail_memory(note, "the bridges");
    }
    sw_sheets_free(&sheets);
    return st;
}

sw_status sw_bridges_for(const sw_rings *rings, const sw_svg_opts *opts, sw_planned **out, size_t *n, sw_note *note)
{
    raster r = { 0 };
    planned list = { 0 };
    *n = 0;
    *out = NULL;
    sw_status st = SW_OK;
    if (!lay_grid(rings, opts, &r)) goto cleanup;
    st = fill(rings, &r, note);
    if (st != SW_OK || memchr(r.separation.label, 1, r.grid.width_px * r.grid.height_px) == NULL) goto cleanup; /* finer than a pixel */
    const sw_material *const material = sw_material_find(opts->material) != NULL ? sw_material_find(opts->material) : sw_material_find(NULL);
    const sw_sheet_opts sheet_opts = { .min_opening_mm = opts->min_opening_mm, .min_web_mm = opts->min_web_mm,
                                       .droop_mm = opts->droop_mm, .material = material };
    st = add_plan(&r, &sheet_opts, &list, note);
    if (st != SW_OK) goto cleanup;
    *out = list.at;
    *n = list.n;
    list.at = NULL;
cleanup:
    sw_separation_free(&r.separation);
    sw_free(list.at);
    return st;
}
