/* What is drawn on a panel about openings that are used again. Where a copy is left out: its edge in dashes, the original's
 * upright axes with an arrow at the upper end, and whose place it is. Beside the original: ticks on the same axes and its
 * number. A line is drawn only where there is material under all of it. */
#include "layout/parts.h"

#include <math.h>
#include <stdio.h>

#define DASH_MM 5.0     /* a dashed line cannot be taken for a cut */
#define GAP_MM 3.0
#define ARM_MM 9.0      /* of the cross, and of the ticks */
#define CLEAR_MM 2.0    /* between an edge and a tick */

/* ---- a place, an original ------------------------------------------------------------------------------ */

/* The edge in dashes; it lies in material all along, for its opening is left out. */
static bool add_dashes(sw_pen *p, const sw_contour *edge)
{
    sw_pt_mm dash[2];
    double way = 0.0;
    bool is_on = true;
    if (!sw_pen_flatten(p, edge)) return false;
    for (size_t i = 0; i < p->n; i++) {
        const sw_pt_mm a = p->line[i], b = p->line[i + 1 < p->n ? i + 1 : 0];
        const double length = sw_hypot(b.x_mm - a.x_mm, b.y_mm - a.y_mm);
        for (double done = 0.0; done < length;) {
            const double step = sw_min(length - done, (is_on ? DASH_MM : GAP_MM) - way);
            const double t0 = done / length, t1 = (done + step) / length;
            dash[0] = (sw_pt_mm){ a.x_mm + t0 * (b.x_mm - a.x_mm), a.y_mm + t0 * (b.y_mm - a.y_mm) };
            dash[1] = (sw_pt_mm){ a.x_mm + t1 * (b.x_mm - a.x_mm), a.y_mm + t1 * (b.y_mm - a.y_mm) };
            if (is_on && !sw_pen_stroke(p, dash, 2)) return false;
            done += step;
            way += step;
            if (way < (is_on ? DASH_MM : GAP_MM) - 1e-9) continue;
            way = 0.0;
            is_on = !is_on;
        }
    }
    return true;
}

static bool draw_place(sw_pen *p, const sw_reuse *reuse)
{
    char text[64];
    const double s = sin(reuse->turn_rad), c = cos(reuse->turn_rad);
    const sw_pt_mm at = { reuse->at.x_mm - p->panel->origin.x_mm, reuse->at.y_mm - p->panel->origin.y_mm };
    const sw_pt_mm up = { s * ARM_MM, -c * ARM_MM }, right = { c * ARM_MM, s * ARM_MM };
    snprintf(text, sizeof text, "%zu %s", reuse->number, reuse->is_mirrored ? "TURNED OVER" : "HERE");
    const double width = sw_pen_text_width_mm(text);
    const sw_pt_mm places[] = { { at.x_mm + ARM_MM + CLEAR_MM, at.y_mm + 0.5 * SW_PEN_CAPITAL_MM },
                                { at.x_mm - ARM_MM - CLEAR_MM - width, at.y_mm + 0.5 * SW_PEN_CAPITAL_MM },
                                { at.x_mm - 0.5 * width, at.y_mm + ARM_MM + CLEAR_MM + SW_PEN_CAPITAL_MM },
                                { at.x_mm - 0.5 * width, at.y_mm - ARM_MM - CLEAR_MM } };
    return sw_pen_line(p, (sw_pt_mm){ at.x_mm - up.x_mm, at.y_mm - up.y_mm }, (sw_pt_mm){ at.x_mm + up.x_mm, at.y_mm + up.y_mm }, true) &&
           sw_pen_line(p, (sw_pt_mm){ at.x_mm - right.x_mm, at.y_mm - right.y_mm },
                    (sw_pt_mm){ at.x_mm + right.x_mm, at.y_mm + right.y_mm }, false) &&
           sw_pen_text(p, text, places, SW_ARRAY_LEN(places));
}

static bool draw_original(sw_pen *p, const sw_reuse_plan *plan, const sw_reuse *reuse)
{
    char text[16];
    sw_rect_mm box = { INFINITY, INFINITY, -INFINITY, -INFINITY }; /* here from x, y to width, height */
    for (size_t k = 0; k < reuse->n_openings; k++) {
        const sw_contour_measure m = sw_contour_extent(&plan->openings->at[plan->repeats->at[reuse->first + k].original]);
        box = (sw_rect_mm){ sw_min(box.x_mm, m.min.x_mm), sw_min(box.y_mm, m.min.y_mm), sw_max(box.width_mm, m.max.x_mm),
                            sw_max(box.height_mm, m.max.y_mm) };
    }
    const double x = reuse->from.x_mm - p->panel->origin.x_mm, y = reuse->from.y_mm - p->panel->origin.y_mm;
    const double left = box.x_mm - p->panel->origin.x_mm - CLEAR_MM, right = box.width_mm - p->panel->origin.x_mm + CLEAR_MM;
    const double top = box.y_mm - p->panel->origin.y_mm - CLEAR_MM, low = box.height_mm - p->panel->origin.y_mm + CLEAR_MM;
    snprintf(text, sizeof text, "%zu", reuse->number);
    const sw_pt_mm places[] = { { x + CLEAR_MM, top - CLEAR_MM }, { right + CLEAR_MM, y - CLEAR_MM },
                                { x + CLEAR_MM, low + CLEAR_MM + SW_PEN_CAPITAL_MM }, { left - CLEAR_MM - SW_PEN_CAPITAL_MM, y - CLEAR_MM } };
    return sw_pen_line(p, (sw_pt_mm){ x, top }, (sw_pt_mm){ x, top - ARM_MM }, true) &&
           sw_pen_line(p, (sw_pt_mm){ x, low }, (sw_pt_mm){ x, low + ARM_MM }, false) &&
           sw_pen_line(p, (sw_pt_mm){ left, y }, (sw_pt_mm){ left - ARM_MM, y }, false) &&
           sw_pen_line(p, (sw_pt_mm){ right, y }, (sw_pt_mm){ right + ARM_MM, y }, false) &&
           sw_pen_text(p, text, places, SW_ARRAY_LEN(places));
}

sw_status sw_reuse_draw(const sw_reuse_plan *plan, size_t window, sw_panel *panel, sw_note *note)
{
    sw_pen p = { .panel = panel, .cap = panel->n_strokes };
    bool is_drawn = true;
    size_t last_number = 0; /* of the originals drawn: several places of one follow each other or not, by the list */
    for (size_t i = 0; is_drawn && i < panel->placed.n; i++) is_drawn = add_dashes(&p, &panel->placed.at[i]);
    for (size_t r = 0; is_drawn && r < plan->n; r++) {
        const sw_reuse *const reuse = &plan->at[r];
        if (reuse->at_window == window) is_drawn = draw_place(&p, reuse);
        if (!is_drawn || reuse->from_window != window || reuse->number <= last_number) continue;
        is_drawn = draw_original(&p, plan, reuse);
        last_number = reuse->number;
    }
    sw_pen_end(&p);
    return is_drawn ? SW_OK : sw_fail_memory(note, "openings used again");
}
