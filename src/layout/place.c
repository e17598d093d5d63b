/* Where a panel lies among those of its sheet, and what it is called. */
#include "layout/parts.h"

#include <math.h>
#include <stdio.h>

bool sw_place_has_neighbour(const sw_panel_place *place, sw_side side)
{
    switch (side) {
    case SW_SIDE_TOP: return place->row > 0;
    case SW_SIDE_LEFT: return place->column > 0;
    case SW_SIDE_BOTTOM: return place->row + 1 < place->n_rows;
    case SW_SIDE_RIGHT: break;
    }
    return place->column + 1 < place->n_columns;
}

static double on_step(double v_mm) { return nearbyint(v_mm / SW_LAYOUT_STEP_MM) * SW_LAYOUT_STEP_MM; }

sw_rect_mm sw_window_art(const sw_grid *grid, const sw_rect_px *window)
{
    const size_t right = window->x + window->width, low = window->y + window->height;
    const double x = on_step(sw_mm_from_px(grid, (double)window->x)), y = on_step(sw_mm_from_px(grid, (double)window->y));
    const double x_end = sw_mm_from_px(grid, (double)right), y_end = sw_mm_from_px(grid, (double)low);
    return (sw_rect_mm){ x, y, (right == grid->width_px ? x_end : on_step(x_end)) - x,
                         (low == grid->height_px ? y_end : on_step(y_end)) - y };
}

/* Row letters run A..Z, AA, AB, ... */
static void name_at(size_t row, size_t column, char name[16])
{
    char letters[8];
    size_t at = sizeof letters - 1;
    letters[at] = '\0';
    for (size_t rest = row + 1; rest > 0 && at > 0; rest = (rest - 1) / 26) letters[--at] = (char)('A' + (rest - 1) % 26);
    snprintf(name, 16, "%s%u", letters + at, (unsigned)(column + 1) % 10000000u);
}

void sw_place_name(const sw_panel_place *place, char name[16])
{
    name[0] = '\0';
    if (place->n_rows * place->n_columns > 1) name_at(place->row, place->column, name);
}

void sw_place_neighbour_name(const sw_panel_place *place, sw_side side, char name[16])
{
    name[0] = '\0';
    if (!place->is_written[side]) return;
    const size_t row = place->row + (side == SW_SIDE_BOTTOM) - (side == SW_SIDE_TOP);
    const size_t column = place->column + (side == SW_SIDE_RIGHT) - (side == SW_SIDE_LEFT);
    name_at(row, column, name);
}
