/* Openings under bridges weaken what they lie in: a row of them across a neck, or one in material just as broad as a hand,
 * and a part hangs that did not when its own bridges were planned. So what hangs on a window is measured again with them.
 * Where all held within the limit and does not any more those on the way of the worst part are closed again. What hangs
 * past the limit without them is carried on a board or pressed flat anyway, and told as it is with them. */
#include <math.h>

#include "sheet/bridge_hold.h"

/* Sinking to so many limits is clearly too much. Taste: nobody would measure less. Where what hung before as well got the
 * same care, white ticks joined the windows of a house front for a part that hung 100 mm instead of 233. */
#define WORSE_RATIO 1.25
#define MOST_ROUNDS 6u /* then all of the window's are closed */

/* What hangs on the window now; broad is what is broad for the plan. */
static sw_status measure(const sw_back_window *b, sw_hang *out, sw_note *note)
{
    const sw_grid *const grid = &b->separation->grid;
    const sw_material *const material = b->material != NULL ? b->material : sw_material_find(NULL);
    const sw_mask *const openings = &b->sheets->at[b->under - 1].openings;
    sw_hold_cells cells = { 0 };
    hold_net net = { 0 };
    SW_TRY(bridge_cover_make(openings->at + b->window.y * openings->width_px + b->window.x, openings->width_px, &b->window, grid,
                             sw_px_from_mm(grid, b->width_mm), &cells, note));
    sw_status st = hold_net_make(&cells, material, BRIDGE_BROADER_RATIO * hold_broad_mm(material, b->droop_mm), &net, note);
    sw_hold_cells_free(&cells);
    if (st == SW_OK) st = hold_net_solve(&net, note);
    if (st == SW_OK) *out = hold_worst(&net, b->droop_mm);
    hold_net_free(&net);
    return st;
}

static bool is_in_window(const sw_back_window *b, const sw_back *back)
{
    const sw_rect_px *const w = &b->window;
    const double x = back->mid.x_px - (double)w->x, y = back->mid.y_px - (double)w->y;
    return back->under == b->under && !back->is_closed && x >= 0.0 && y >= 0.0 && x < (double)w->width && y < (double)w->height;
}

static size_t count_in_window(const sw_back_window *b, const sw_backs *backs)
{
    size_t n = 0;
    for (size_t i = 0; i < backs->n; i++) n += is_in_window(b, &backs->at[i]);
    return n;
}

/* Those within a distance of a place; how many. */
static size_t close_near(const sw_back_window *b, sw_backs *backs, sw_pt_mm at, double within_mm)
{
    size_t n = 0;
    for (size_t i = 0; i < backs->n; i++) {
        sw_back *const back = &backs->at[i];
        if (!is_in_window(b, back) || !bridge_is_within(sw_pt_mm_from_px(&b->separation->grid, back->mid), at, within_mm)) continue;
        sw_back_fill(b->sheets, b->separation, back, 0);
        back->is_closed = true;
        n++;
    }
    return n;
}

/* What hung without any of them, counted in the same way: bridges are beams to the plan and material here. */
static sw_status measure_without(const sw_back_window *b, const sw_backs *backs, sw_hang *out, sw_note *note)
{
    for (size_t i = 0; i < backs->n; i++)
        if (is_in_window(b, &backs->at[i])) sw_back_fill(b->sheets, b->separation, &backs->at[i], 0);
    SW_TRY(measure(b, out, note));
    for (size_t i = 0; i < backs->n; i++)
        if (is_in_window(b, &backs->at[i])) sw_back_fill(b->sheets, b->separation, &backs->at[i], 1);
    return SW_OK;
}

/* Close what lets hang what held before; now: as measured with all of them, then with those that stay. */
static sw_status close_worse(const sw_back_window *b, sw_backs *backs, sw_hang *now, sw_note *note)
{
    sw_hang before = { 0 };
    SW_TRY(measure_without(b, backs, &before, note));
    if (before.droop_mm > b->droop_mm) return SW_OK;
    for (size_t round = 1; now->droop_mm > WORSE_RATIO * b->droop_mm; round++) {
        if (round == MOST_ROUNDS || close_near(b, backs, now->at, now->length_mm) == 0) (void)close_near(b, backs, now->at, HUGE_VAL);
        *now = before;
        if (count_in_window(b, backs) > 0) SW_TRY(measure(b, now, note));
    }
    return SW_OK;
}

sw_status sw_backs_hold(const sw_back_window *b, sw_backs *backs, sw_hang *hang, sw_note *note)
{
    sw_hang now = { 0 };
    const size_t n = count_in_window(b, backs);
    if (!(b->droop_mm > 0.0) || (n == 0 && !b->is_bent)) return SW_OK;
    SW_TRY(measure(b, &now, note));
    if (n > 0 && now.droop_mm > WORSE_RATIO * b->droop_mm && hang->droop_mm <= WORSE_RATIO * b->droop_mm) SW_TRY(close_worse(b, backs, &now, note));
    if (now.droop_mm > hang->droop_mm) *hang = now;
    return SW_OK;
}
