/* Openings under bridges. A bridge that the eye sees shows what lies below it, often the bare wall, because an earlier
 * pass was not cut where a later one paints over it. Where the nearest earlier colour stands out less, that pass gets
 * an opening under the bridge: paint that the later pass covers on both sides. It keeps a web's width from every other
 * opening of its sheet, so it parts nothing and holds nothing up; a short end of the bridge stays as it was. */
#include <math.h>
#include <string.h>

#include "sheet/bridge.h"

/* How far the opening reaches under the paint on both sides of the bridge, mm: what the hand misplaces. */
#define SPREAD_MM 1.5
/* An earlier colour must take away at least this share of what is seen. Taste: less is not worth a cut. */
#define WORTH_RATIO 0.3
#define MOST_BINS 4096u /* px along a bridge */

typedef struct back_job {
    const sw_separation *sep;
    sw_sheets *sheets;
    const sw_windows *windows;  /* of every pass; NULL: one window each */
    size_t pass, under;         /* whose bridge; the earlier pass that gets the opening */
    size_t bridge;              /* in its sheet's list */
    sw_backs *made;
    double min_opening_px, min_web_px;
    sw_pt_px mid;               /* of the bridge */
    double dx, dy, half_px, reach_px; /* axis, half length, half width of the opening */
    size_t x0, y0, x1, y1;      /* box that is looked at */
    bool is_bad[MOST_BINS];     /* bins of one px along the axis where no opening may be */
    bool is_done[MOST_BINS];    /* where a nearer colour has one already */
    uint32_t n_all[MOST_BINS], n_own[MOST_BINS]; /* pixels across the opening, and those of the pass's own label */
} back_job;

static void place_of(const back_job *b, size_t x, size_t y, double *along, double *across)
{
    const double dx = (double)x + 0.5 - b->mid.x_px, dy = (double)y + 0.5 - b->mid.y_px;
    *along = dx * b->dx + dy * b->dy;
    *across = fabs(dy * b->dx - dx * b->dy);
}

static size_t n_bins(const back_job *b) { return (size_t)(2.0 * b->half_px); }

/* The straight piece from one place to the next. */
static void set_piece(back_job *b, const sw_bridge *bridge, sw_pt_mm from, sw_pt_mm to)
{
    const sw_grid *const grid = &b->sep->grid;
    const double ax = sw_px_from_mm(grid, from.x_mm), ay = sw_px_from_mm(grid, from.y_mm);
    const double bx = sw_px_from_mm(grid, to.x_mm), by = sw_px_from_mm(grid, to.y_mm);
    const double length = hypot(bx - ax, by - ay);
    b->mid = (sw_pt_px){ 0.5 * (ax + bx), 0.5 * (ay + by) };
    b->dx = length > 0.0 ? (bx - ax) / length : 1.0;
    b->dy = length > 0.0 ? (by - ay) / length : 0.0;
    b->half_px = sw_min(0.5 * length, 0.5 * (double)MOST_BINS - 1.0);
    b->reach_px = sw_px_from_mm(grid, 0.5 * bridge->width_mm + SPREAD_MM);
    const double far = b->half_px + b->reach_px + b->min_web_px + 2.0;
    b->x0 = (size_t)sw_clamp(b->mid.x_px - far, 0.0, (double)grid->width_px);
    b->x1 = (size_t)sw_clamp(b->mid.x_px + far, 0.0, (double)grid->width_px);
    b->y0 = (size_t)sw_clamp(b->mid.y_px - far, 0.0, (double)grid->height_px);
    b->y1 = (size_t)sw_clamp(b->mid.y_px + far, 0.0, (double)grid->height_px);
}

static void spoil(back_job *b, double from, double to)
{
    const size_t n = n_bins(b);
    const double lo = sw_clamp(floor(from + b->half_px), 0.0, (double)n), hi = sw_clamp(ceil(to + b->half_px), 0.0, (double)n);
    for (size_t i = (size_t)lo; i < (size_t)hi; i++) b->is_bad[i] = true;
}

/* Near a seam the two panels' frames meet: no opening there that was not planned for both. */
static bool is_near_edge(const back_job *b, size_t x, size_t y)
{
    const size_t margin = (size_t)b->min_web_px + 1;
    if (b->windows == NULL) return false;
    const sw_windows *const windows = &b->windows[b->under - 1];
    for (size_t i = 0; i < windows->n; i++) {
        const sw_rect_px *const w = &windows->at[i];
        if (x >= w->x && y >= w->y && x < w->x + w->width && y < w->y + w->height)
            return x < w->x + margin || y < w->y + margin || x + margin >= w->x + w->width || y + margin >= w->y + w->height;
    }
    return true;
}

/* Which bins may open: far enough from the sheet's openings, and under this pass's own paint in nearly full width. */
static void judge_bins(back_job *b)
{
    const size_t stride = b->sep->grid.width_px, n = n_bins(b);
    const sw_mask *const under = &b->sheets->at[b->under - 1].openings;
    memset(b->is_bad, 0, n);
    memset(b->n_all, 0, n * sizeof *b->n_all);
    memset(b->n_own, 0, n * sizeof *b->n_own);
    for (size_t y = b->y0; y < b->y1; y++)
        for (size_t x = b->x0; x < b->x1; x++) {
            double along, across;
            place_of(b, x, y, &along, &across);
            if (under->at[y * stride + x] != 0 && across <= b->reach_px + b->min_web_px + 1.0)
                spoil(b, along - b->min_web_px - 1.0, along + b->min_web_px + 1.0);
            if (across > b->reach_px || fabs(along) >= b->half_px) continue;
            const size_t bin = sw_min_size((size_t)(along + b->half_px), n - 1);
            b->n_all[bin]++;
            b->n_own[bin] += b->sep->label[y * stride + x] == b->pass;
            if (is_near_edge(b, x, y)) b->is_bad[bin] = true;
        }
    for (size_t i = 0; i < n; i++)
        if (b->is_done[i] || b->n_own[i] * 5 < b->n_all[i] * 4) b->is_bad[i] = true;
}

/* The pixels of its bins under the pass's own label. */
void sw_back_fill(const sw_sheets *sheets, const sw_separation *separation, const sw_back *back, uint8_t value)
{
    const size_t stride = separation->grid.width_px;
    const sw_mask *const under = &sheets->at[back->under - 1].openings;
    for (size_t y = back->y0; y < back->y1; y++)
        for (size_t x = back->x0; x < back->x1; x++) {
            const double dx = (double)x + 0.5 - back->mid.x_px, dy = (double)y + 0.5 - back->mid.y_px;
            const double bin = dx * back->dx + dy * back->dy + back->half_px;
            if (fabs(dy * back->dx - dx * back->dy) <= back->reach_px && bin >= (double)back->begin &&
                bin < (double)back->end && separation->label[y * stride + x] == back->pass)
                under->at[y * stride + x] = value;
        }
}

static bool open_bins(back_job *b, size_t begin, size_t end, double error)
{
    void *at = b->made->at;
    const bool is_grown = sw_grow(&at, &b->made->cap, b->made->n + 1, sizeof *b->made->at);
    b->made->at = at;
    if (!is_grown) return false;
    sw_back *const back = &b->made->at[b->made->n++];
    *back = (sw_back){ .pass = b->pass, .under = b->under, .bridge = b->bridge, .mid = b->mid, .dx = b->dx, .dy = b->dy,
                       .half_px = b->half_px, .reach_px = b->reach_px, .x0 = b->x0, .y0 = b->y0, .x1 = b->x1, .y1 = b->y1,
                       .begin = begin, .end = end, .error = error };
    sw_back_fill(b->sheets, b->sep, back, 1);
    return true;
}

/* What the bridge shows, in place of what it showed, is the earlier paint; counted anew. By how much less. */
static double count_again(const back_job *b, sw_bridge *bridge, double error_then, double error_now, size_t n_opened)
{
    const double mm = sw_mm_from_px(&b->sep->grid, 1.0);
    const double area = sw_min((double)n_opened * mm * bridge->width_mm, bridge->visible_mm2);
    const double less = sw_min(area * (error_then - error_now), bridge->visible_error);
    bridge->visible_error -= less;
    return less;
}

/* Openings of one earlier pass wherever they may be. */
static bool back_with(back_job *b, sw_bridge *bridge, double error_then, double error_now)
{
    const size_t n = n_bins(b);
    judge_bins(b);
    for (size_t begin = 0, end; begin < n; begin = end) {
        for (end = begin; end < n && b->is_bad[end] == b->is_bad[begin]; end++) continue;
        if (b->is_bad[begin] || (double)(end - begin) < b->min_opening_px + 1.0) continue;
        const double less = count_again(b, bridge, error_then, error_now, end - begin);
        if (!open_bins(b, begin, end, less)) return false;
        memset(b->is_done + begin, 1, end - begin);
        spoil(b, (double)begin - b->half_px - b->min_web_px, (double)end - b->half_px + b->min_web_px);
    }
    return true;
}

/* The colour that stands out least first, then the others where it could not be. */
static bool back_piece(back_job *b, sw_bridge *bridge, double error_then, const double error[SW_MAX_PASSES + 1])
{
    memset(b->is_done, 0, n_bins(b));
    bool is_tried[SW_MAX_PASSES + 1] = { false };
    for (size_t n_tried = 1; n_tried < b->pass; n_tried++) {
        size_t best = 0;
        for (size_t under = 1; under < b->pass; under++)
            if (!is_tried[under] && (best == 0 || error[under] < error[best])) best = under;
        if (best == 0 || error[best] > (1.0 - WORTH_RATIO) * error_then) return true;
        is_tried[best] = true;
        b->under = best;
        if (!back_with(b, bridge, error_then, error[best])) return false;
    }
    return true;
}

static bool back_bridge(back_job *b, sw_bridge *bridge, const double error[SW_MAX_PASSES + 1])
{
    const double error_then = bridge->visible_error / bridge->visible_mm2;
    for (size_t k = 0; k <= bridge->n_bends; k++) {
        set_piece(b, bridge, k == 0 ? bridge->a : bridge->bend[k - 1], k == bridge->n_bends ? bridge->b : bridge->bend[k]);
        if (!back_piece(b, bridge, error_then, error)) return false;
    }
    return true;
}

sw_status sw_bridges_back(sw_sheets *sheets, const sw_separation *separation, const sw_windows *windows,
                          double min_opening_mm, double min_web_mm, sw_backs *out, sw_note *note)
{
    bool is_good = true;
    back_job *b = sw_alloc_array(1, sizeof *b);
    if (b == NULL) return sw_fail_memory(note, "openings under bridges");
    b->sep = separation;
    b->sheets = sheets;
    b->made = out;
    b->windows = windows;
    b->min_opening_px = sw_px_from_mm(&separation->grid, min_opening_mm);
    b->min_web_px = sw_px_from_mm(&separation->grid, min_web_mm);
    for (size_t pass = 2; pass <= sheets->n; pass++) {
        sw_sheet *const sheet = &sheets->at[pass - 1];
        const sw_lab paint = sw_lab_from_rgb8(sheet->paint);
        double error[SW_MAX_PASSES + 1] = { 0 };
        for (size_t k = 0; k <= separation->n_passes; k++)
            error[k] = sw_ciede2000(paint, sw_lab_from_rgb8(separation->colour[k]));
        b->pass = pass;
        for (size_t i = 0; i < sheet->n_bridges && is_good; i++) {
            b->bridge = i;
            if ((!sheet->bridges[i].is_bent || sheet->bridges[i].n_bends > 0) && sheet->bridges[i].visible_mm2 > 0.0)
                is_good = back_bridge(b, &sheet->bridges[i], error);
        }
    }
    sw_free(b);
    return is_good ? SW_OK : sw_fail_memory(note, "openings under bridges");
}
