/* Lines and lettering on a panel's material: a line is drawn only where there is material under all of it. */
#include "layout/parts.h"

#include <math.h>

#define FLAT_MM 0.1
#define HEAD_MM 2.5
#define STEP_MM 0.5 /* material is looked for this often along a line: narrower than any opening */

static double on_step(double v_mm) { return nearbyint(v_mm / SW_LAYOUT_STEP_MM) * SW_LAYOUT_STEP_MM; }

static bool take_point(void *ctx, sw_pt_mm point)
{
    sw_pen *const p = ctx;
    void *data = p->line;
    if (!sw_grow(&data, &p->cap_line, p->n + 1, sizeof *p->line)) return false;
    p->line = data;
    p->line[p->n++] = point;
    return true;
}

bool sw_pen_stroke(sw_pen *p, const sw_pt_mm *at, size_t n)
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
static bool is_in(sw_pen *p, const sw_contour *opening, sw_pt_mm at, bool *is_full)
{
    bool is_inside = false;
    if (!sw_pen_flatten(p, opening)) *is_full = true;
    for (size_t i = 0, j = p->n - 1; i < p->n; j = i++) {
        const sw_pt_mm a = p->line[i], b = p->line[j];
        if ((a.y_mm > at.y_mm) == (b.y_mm > at.y_mm)) continue;
        if (at.x_mm < a.x_mm + (at.y_mm - a.y_mm) / (b.y_mm - a.y_mm) * (b.x_mm - a.x_mm)) is_inside = !is_inside;
    }
    return is_inside;
}

static void stretch(sw_rect_mm *box, sw_pt_mm p) /* a box from (x, y) to (width, height) while it grows */
{
    *box = (sw_rect_mm){ sw_min(box->x_mm, p.x_mm), sw_min(box->y_mm, p.y_mm), sw_max(box->width_mm, p.x_mm), sw_max(box->height_mm, p.y_mm) };
}

/* What is cut: openings, then registration marks. */
static size_t count_cut(const sw_panel *panel) { return panel->openings.n + panel->marks.n; }

static const sw_contour *cut_at(const sw_panel *panel, size_t i)
{
    return i < panel->openings.n ? &panel->openings.at[i] : &panel->marks.at[i - panel->openings.n];
}

/* Boxes around the nodes and handles of what is cut, once a panel. False when memory is out. */
static bool fill_boxes(sw_pen *p)
{
    const size_t n = count_cut(p->panel);
    if (p->boxes != NULL || n == 0) return true;
    p->boxes = sw_alloc_array(n, sizeof *p->boxes);
    if (p->boxes == NULL) return false;
    for (size_t i = 0; i < n; i++) {
        const sw_contour *const c = cut_at(p->panel, i);
        sw_rect_mm box = { c->start.x_mm, c->start.y_mm, c->start.x_mm, c->start.y_mm };
        for (size_t k = 0; k < c->n_segs; k++) {
            stretch(&box, c->segs[k].end);
            if (c->segs[k].is_line) continue;
            stretch(&box, c->segs[k].c1);
            stretch(&box, c->segs[k].c2);
        }
        p->boxes[i] = (sw_rect_mm){ box.x_mm, box.y_mm, box.width_mm - box.x_mm, box.height_mm - box.y_mm };
    }
    return true;
}

static bool is_material(sw_pen *p, sw_pt_mm at, bool *is_full)
{
    if (at.x_mm < 1.0 || at.y_mm < 1.0 || at.x_mm > p->panel->width_mm - 1.0 || at.y_mm > p->panel->height_mm - 1.0) return false;
    for (size_t i = 0; i < count_cut(p->panel); i++) {
        const sw_rect_mm r = p->boxes[i];
        const bool is_near = at.x_mm >= r.x_mm && at.x_mm <= r.x_mm + r.width_mm && at.y_mm >= r.y_mm && at.y_mm <= r.y_mm + r.height_mm;
        if (is_near && is_in(p, cut_at(p->panel, i), at, is_full)) return false;
    }
    return true;
}

bool sw_pen_is_clear(sw_pen *p, sw_pt_mm a, sw_pt_mm b, bool *is_full)
{
    if (!fill_boxes(p)) {
        *is_full = true;
        return false;
    }
    const double n = ceil(sw_hypot(b.x_mm - a.x_mm, b.y_mm - a.y_mm) / STEP_MM);
    for (double k = 0.0; k <= n; k += 1.0) {
        const double t = n > 0.0 ? k / n : 0.0;
        if (!is_material(p, (sw_pt_mm){ a.x_mm + t * (b.x_mm - a.x_mm), a.y_mm + t * (b.y_mm - a.y_mm) }, is_full)) return false;
    }
    return true;
}

bool sw_pen_line(sw_pen *p, sw_pt_mm a, sw_pt_mm b, bool has_head)
{
    bool is_full = false;
    if (!sw_pen_is_clear(p, a, b, &is_full)) return !is_full;
    const sw_pt_mm line[] = { a, b };
    if (!sw_pen_stroke(p, line, 2)) return false;
    if (!has_head) return true;
    const double length = sw_hypot(b.x_mm - a.x_mm, b.y_mm - a.y_mm), ux = (b.x_mm - a.x_mm) / length, uy = (b.y_mm - a.y_mm) / length;
    const sw_pt_mm head[] = { { b.x_mm - HEAD_MM * (ux - 0.6 * uy), b.y_mm - HEAD_MM * (uy + 0.6 * ux) },
                              b,
                              { b.x_mm - HEAD_MM * (ux + 0.6 * uy), b.y_mm - HEAD_MM * (uy - 0.6 * ux) } };
    return sw_pen_stroke(p, head, 3);
}

static bool take_letter(void *ctx, const sw_pt_px *at, size_t n)
{
    sw_pen *const p = ctx;
    sw_pt_mm points[64];
    if (n > SW_ARRAY_LEN(points)) return true; /* no letter has so many */
    for (size_t i = 0; i < n; i++)
        points[i] = (sw_pt_mm){ p->origin.x_mm + at[i].x_px * p->unit_mm, p->origin.y_mm - at[i].y_px * p->unit_mm };
    return sw_pen_stroke(p, points, n);
}

bool sw_pen_text(sw_pen *p, const char *text, const sw_pt_mm *places, size_t n_places)
{
    bool is_full = false;
    p->unit_mm = SW_PEN_CAPITAL_MM / SW_FONT_CAPITAL;
    p->is_written = false;
    const double width = sw_font_width(text) * p->unit_mm;
    for (size_t i = 0; i < n_places && !is_full; i++) {
        const sw_pt_mm a = places[i], right = { a.x_mm + width, a.y_mm }, top = { a.x_mm, a.y_mm - SW_PEN_CAPITAL_MM };
        if (!sw_pen_is_clear(p, a, right, &is_full) || !sw_pen_is_clear(p, top, (sw_pt_mm){ right.x_mm, top.y_mm }, &is_full)) continue;
        p->origin = a;
        p->is_written = true;
        return sw_font_draw(text, take_letter, p, NULL);
    }
    return !is_full;
}

bool sw_pen_flatten(sw_pen *p, const sw_contour *edge)
{
    p->n = 0;
    return sw_contour_flatten(edge, FLAT_MM, take_point, p);
}

double sw_pen_text_width_mm(const char *text) { return sw_font_width(text) * SW_PEN_CAPITAL_MM / SW_FONT_CAPITAL; }

void sw_pen_end(sw_pen *p)
{
    sw_free(p->line);
    sw_free(p->boxes);
    *p = (sw_pen){ 0 };
}
