/* What is drawn on a panel about openings that are used again. Where a copy is left out: its edge in dashes, the original's
 * upright axes with an arrow at the upper end, and whose place it is. Beside the original: ticks on the same axes and its
 * number. A line is drawn only where there is material under all of it. */
#include "layout/parts.h"

#include <math.h>
#include <stdio.h>

#define FLAT_MM 0.1
#define DASH_MM 5.0     /* a dashed line cannot be taken for a cut */
#define GAP_MM 3.0
#define ARM_MM 9.0      /* of the cross, and of the ticks */
#define HEAD_MM 2.5
#define CLEAR_MM 2.0    /* between an edge and a tick */
#define CAPITAL_MM 4.0

typedef struct pen {
    sw_panel *panel;
    size_t cap;
    sw_pt_mm origin;    /* of lettering */
    double unit_mm;
    sw_pt_mm *line;     /* a flattened edge */
    size_t n, cap_line;
} pen;

static double on_step(double v_mm) { return nearbyint(v_mm / SW_LAYOUT_STEP_MM) * SW_LAYOUT_STEP_MM; }

static bool take_point(void *ctx, sw_pt_mm point)
{
    pen *const p = ctx;
    void *data = p->line;
    if (!sw_grow(&data, &p->cap_line, p->n + 1, sizeof *p->line)) return false;
    p->line = data;
    p->line[p->n++] = point;
    return true;
}

/* False when memory is out. */
static bool add_stroke(pen *p, const sw_pt_mm *at, size_t n)
{
    void *data = p->panel->strokes;
    if (!sw_grow(&data, &p->cap, p->panel->n_strokes + 1, sizeof *p->panel->strokes)) return false;
    p->panel->strokes = data;
    sw_pt_mm *const points = sw_alloc_array(n, sizeof *points);
    if (points == NULL) return false;
    for (size_t i = 0; i < n; i++) points[i] = (sw_pt_mm){ on_step(at[i].x_mm), on_step(at[i].y_mm) };
    p->panel->strokes[p->panel->n_strokes++] = (sw_stroke){ points, n };
    return true;
}

/* ---- is there material ------------------------------------------------------------------------------ */

/* Even-odd over one opening's chords. *is_full: memory is out. */
static bool is_in(pen *p, const sw_contour *opening, sw_pt_mm at, bool *is_full)
{
    bool is_inside = false;
    p->n = 0;
    if (!sw_contour_flatten(opening, FLAT_MM, take_point, p)) *is_full = true;
    for (size_t i = 0, j = p->n - 1; i < p->n; j = i++) {
        const sw_pt_mm a = p->line[i], b = p->line[j];
        if ((a.y_mm > at.y_mm) == (b.y_mm > at.y_mm)) continue;
        if (at.x_mm < a.x_mm + (at.y_mm - a.y_mm) / (b.y_mm - a.y_mm) * (b.x_mm - a.x_mm)) is_inside = !is_inside;
    }
    return is_inside;
}

/* Both ends and the middle on material and within the panel. */
static bool is_clear(pen *p, sw_pt_mm a, sw_pt_mm b, bool *is_full)
{
    const sw_pt_mm at[] = { a, b, { 0.5 * (a.x_mm + b.x_mm), 0.5 * (a.y_mm + b.y_mm) } };
    for (size_t k = 0; k < SW_ARRAY_LEN(at); k++) {
        if (at[k].x_mm < 1.0 || at[k].y_mm < 1.0 || at[k].x_mm > p->panel->width_mm - 1.0 || at[k].y_mm > p->panel->height_mm - 1.0)
            return false;
        for (size_t i = 0; i < p->panel->openings.n; i++) {
            const sw_contour_measure m = sw_contour_measure_one(&p->panel->openings.at[i]);
            const bool is_near = at[k].x_mm >= m.min.x_mm && at[k].x_mm <= m.max.x_mm && at[k].y_mm >= m.min.y_mm && at[k].y_mm <= m.max.y_mm;
            if (is_near && is_in(p, &p->panel->openings.at[i], at[k], is_full)) return false;
        }
    }
    return true;
}

/* A line if it is clear, with an arrow head at its end if asked. False when memory is out. */
static bool add_line(pen *p, sw_pt_mm a, sw_pt_mm b, bool has_head)
{
    bool is_full = false;
    if (!is_clear(p, a, b, &is_full)) return !is_full;
    const sw_pt_mm line[] = { a, b };
    if (!add_stroke(p, line, 2)) return false;
    if (!has_head) return true;
    const double length = hypot(b.x_mm - a.x_mm, b.y_mm - a.y_mm), ux = (b.x_mm - a.x_mm) / length, uy = (b.y_mm - a.y_mm) / length;
    const sw_pt_mm head[] = { { b.x_mm - HEAD_MM * (ux - 0.6 * uy), b.y_mm - HEAD_MM * (uy + 0.6 * ux) },
                              b,
                              { b.x_mm - HEAD_MM * (ux + 0.6 * uy), b.y_mm - HEAD_MM * (uy - 0.6 * ux) } };
    return add_stroke(p, head, 3);
}

static bool take_letter(void *ctx, const sw_pt_px *at, size_t n)
{
    pen *const p = ctx;
    sw_pt_mm points[64];
    if (n > SW_ARRAY_LEN(points)) return true; /* no letter has so many */
    for (size_t i = 0; i < n; i++)
        points[i] = (sw_pt_mm){ p->origin.x_mm + at[i].x_px * p->unit_mm, p->origin.y_mm - at[i].y_px * p->unit_mm };
    return add_stroke(p, points, n);
}

/* Lettering at the first of the places (its lower left) where it is clear; none is fine. False when memory is out. */
static bool add_text(pen *p, const char *text, const sw_pt_mm *places, size_t n_places)
{
    bool is_full = false;
    p->unit_mm = CAPITAL_MM / SW_FONT_CAPITAL;
    const double width = sw_font_width(text) * p->unit_mm;
    for (size_t i = 0; i < n_places && !is_full; i++) {
        const sw_pt_mm a = places[i], right = { a.x_mm + width, a.y_mm }, top = { a.x_mm, a.y_mm - CAPITAL_MM };
        if (!is_clear(p, a, right, &is_full) || !is_clear(p, top, (sw_pt_mm){ right.x_mm, top.y_mm }, &is_full)) continue;
        p->origin = a;
        return sw_font_draw(text, take_letter, p, NULL);
    }
    return !is_full;
}

/* ---- a place, an original ------------------------------------------------------------------------------ */

/* The edge in dashes; it lies in material all along, for its opening is left out. */
static bool add_dashes(pen *p, const sw_contour *edge)
{
    sw_pt_mm dash[2];
    double way = 0.0;
    bool is_on = true;
    p->n = 0;
    if (!sw_contour_flatten(edge, FLAT_MM, take_point, p)) return false;
    for (size_t i = 0; i < p->n; i++) {
        const sw_pt_mm a = p->line[i], b = p->line[i + 1 < p->n ? i + 1 : 0];
        const double length = hypot(b.x_mm - a.x_mm, b.y_mm - a.y_mm);
        for (double done = 0.0; done < length;) {
            const double step = sw_min(length - done, (is_on ? DASH_MM : GAP_MM) - way);
            const double t0 = done / length, t1 = (done + step) / length;
            dash[0] = (sw_pt_mm){ a.x_mm + t0 * (b.x_mm - a.x_mm), a.y_mm + t0 * (b.y_mm - a.y_mm) };
            dash[1] = (sw_pt_mm){ a.x_mm + t1 * (b.x_mm - a.x_mm), a.y_mm + t1 * (b.y_mm - a.y_mm) };
            if (is_on && !add_stroke(p, dash, 2)) return false;
            done += step;
            way += step;
            if (way < (is_on ? DASH_MM : GAP_MM) - 1e-9) continue;
            way = 0.0;
            is_on = !is_on;
        }
    }
    return true;
}

static bool draw_place(pen *p, const sw_reuse *reuse)
{
    char text[64];
    const double s = sin(reuse->turn_rad), c = cos(reuse->turn_rad);
    const sw_pt_mm at = { reuse->at.x_mm - p->panel->origin.x_mm, reuse->at.y_mm - p->panel->origin.y_mm };
    const sw_pt_mm up = { s * ARM_MM, -c * ARM_MM }, right = { c * ARM_MM, s * ARM_MM };
    snprintf(text, sizeof text, "%zu %s", reuse->number, reuse->is_mirrored ? "TURNED OVER" : "HERE");
    const double width = sw_font_width(text) * CAPITAL_MM / SW_FONT_CAPITAL;
    const sw_pt_mm places[] = { { at.x_mm + ARM_MM + CLEAR_MM, at.y_mm + 0.5 * CAPITAL_MM },
                                { at.x_mm - ARM_MM - CLEAR_MM - width, at.y_mm + 0.5 * CAPITAL_MM },
                                { at.x_mm - 0.5 * width, at.y_mm + ARM_MM + CLEAR_MM + CAPITAL_MM },
                                { at.x_mm - 0.5 * width, at.y_mm - ARM_MM - CLEAR_MM } };
    return add_line(p, (sw_pt_mm){ at.x_mm - up.x_mm, at.y_mm - up.y_mm }, (sw_pt_mm){ at.x_mm + up.x_mm, at.y_mm + up.y_mm }, true) &&
           add_line(p, (sw_pt_mm){ at.x_mm - right.x_mm, at.y_mm - right.y_mm },
                    (sw_pt_mm){ at.x_mm + right.x_mm, at.y_mm + right.y_mm }, false) &&
           add_text(p, text, places, SW_ARRAY_LEN(places));
}

static bool draw_original(pen *p, const sw_reuse_plan *plan, const sw_reuse *reuse)
{
    char text[16];
    sw_rect_mm box = { INFINITY, INFINITY, -INFINITY, -INFINITY }; /* here from x, y to width, height */
    for (size_t k = 0; k < reuse->n_openings; k++) {
        const sw_contour_measure m = sw_contour_measure_one(&plan->openings->at[plan->repeats->at[reuse->first + k].original]);
        box = (sw_rect_mm){ sw_min(box.x_mm, m.min.x_mm), sw_min(box.y_mm, m.min.y_mm), sw_max(box.width_mm, m.max.x_mm),
                            sw_max(box.height_mm, m.max.y_mm) };
    }
    const double x = reuse->from.x_mm - p->panel->origin.x_mm, y = reuse->from.y_mm - p->panel->origin.y_mm;
    const double left = box.x_mm - p->panel->origin.x_mm - CLEAR_MM, right = box.width_mm - p->panel->origin.x_mm + CLEAR_MM;
    const double top = box.y_mm - p->panel->origin.y_mm - CLEAR_MM, low = box.height_mm - p->panel->origin.y_mm + CLEAR_MM;
    snprintf(text, sizeof text, "%zu", reuse->number);
    const sw_pt_mm places[] = { { x + CLEAR_MM, top - CLEAR_MM }, { right + CLEAR_MM, y - CLEAR_MM },
                                { x + CLEAR_MM, low + CLEAR_MM + CAPITAL_MM }, { left - CLEAR_MM - CAPITAL_MM, y - CLEAR_MM } };
    return add_line(p, (sw_pt_mm){ x, top }, (sw_pt_mm){ x, top - ARM_MM }, true) &&
           add_line(p, (sw_pt_mm){ x, low }, (sw_pt_mm){ x, low + ARM_MM }, false) &&
           add_line(p, (sw_pt_mm){ left, y }, (sw_pt_mm){ left - ARM_MM, y }, false) &&
           add_line(p, (sw_pt_mm){ right, y }, (sw_pt_mm){ right + ARM_MM, y }, false) &&
           add_text(p, text, places, SW_ARRAY_LEN(places));
}

sw_status sw_reuse_draw(const sw_reuse_plan *plan, size_t window, sw_panel *panel, sw_note *note)
{
    pen p = { .panel = panel, .cap = panel->n_strokes };
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
    sw_free(p.line);
    return is_drawn ? SW_OK : sw_fail_memory(note, "openings used again");
}
