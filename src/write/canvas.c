/* Drawing on a picture: shades, soft-edged lines, lettering. */
#include "write/write.h"

#include <math.h>

static uint8_t mix(uint8_t under, uint8_t over, double ratio)
{
    return (uint8_t)sw_clamp(nearbyint(under + (over - under) * ratio), 0.0, 255.0);
}

void sw_canvas_blend(sw_picture *canvas, int64_t x, int64_t y, sw_rgb8 colour, double ratio)
{
    if (x < 0 || y < 0 || x >= (int64_t)canvas->width_px || y >= (int64_t)canvas->height_px) return;
    sw_rgb8 *const at = &canvas->at[(size_t)y * canvas->width_px + (size_t)x];
    *at = (sw_rgb8){ mix(at->r, colour.r, ratio), mix(at->g, colour.g, ratio), mix(at->b, colour.b, ratio) };
}

void sw_canvas_box(sw_picture *canvas, sw_pt_px from, sw_pt_px to, sw_rgb8 colour)
{
    for (int64_t y = (int64_t)from.y_px; y < (int64_t)to.y_px; y++) {
        for (int64_t x = (int64_t)from.x_px; x < (int64_t)to.x_px; x++) sw_canvas_blend(canvas, x, y, colour, 1.0);
    }
}

/* How far a point is from a line's middle. */
static double apart_px(sw_pt_px p, sw_pt_px a, sw_pt_px b)
{
    const double dx = b.x_px - a.x_px, dy = b.y_px - a.y_px, length_sq = dx * dx + dy * dy;
    const double along = length_sq > 0.0 ? ((p.x_px - a.x_px) * dx + (p.y_px - a.y_px) * dy) / length_sq : 0.0;
    const double t = sw_clamp(along, 0.0, 1.0);
    return hypot(p.x_px - a.x_px - t * dx, p.y_px - a.y_px - t * dy);
}

void sw_canvas_line(sw_picture *canvas, sw_pt_px a, sw_pt_px b, double width_px, sw_rgb8 colour)
{
    const double reach = width_px / 2.0 + 1.0;
    const int64_t x_end = (int64_t)ceil(sw_max(a.x_px, b.x_px) + reach), y_end = (int64_t)ceil(sw_max(a.y_px, b.y_px) + reach);
    for (int64_t y = (int64_t)floor(sw_min(a.y_px, b.y_px) - reach); y < y_end; y++) {
        for (int64_t x = (int64_t)floor(sw_min(a.x_px, b.x_px) - reach); x < x_end; x++) {
            const sw_pt_px p = { (double)x + 0.5, (double)y + 0.5 };
            const double inside = sw_clamp(width_px / 2.0 + 0.5 - apart_px(p, a, b), 0.0, 1.0);
            if (inside > 0.0) sw_canvas_blend(canvas, x, y, colour, inside);
        }
    }
}

void sw_canvas_dashes(sw_picture *canvas, sw_pt_px a, sw_pt_px b, double dash_px, double width_px, sw_rgb8 colour)
{
    const double dx = b.x_px - a.x_px, dy = b.y_px - a.y_px, length = hypot(dx, dy);
    for (double s = 0.0; s < length; s += 2.0 * dash_px) {
        const double t0 = s / length, t1 = sw_min(1.0, (s + dash_px) / length);
        sw_canvas_line(canvas, (sw_pt_px){ a.x_px + dx * t0, a.y_px + dy * t0 },
                       (sw_pt_px){ a.x_px + dx * t1, a.y_px + dy * t1 }, width_px, colour);
    }
}

void sw_canvas_ring(sw_picture *canvas, sw_pt_px middle, double radius_px, double width_px, sw_rgb8 colour)
{
    enum { N = 32 };
    sw_pt_px last = { middle.x_px + radius_px, middle.y_px };
    for (int i = 1; i <= N; i++) {
        const double turn = 2.0 * 3.14159265358979323846 * i / N;
        const sw_pt_px next = { middle.x_px + radius_px * cos(turn), middle.y_px + radius_px * sin(turn) };
        sw_canvas_line(canvas, last, next, width_px, colour);
        last = next;
    }
}

typedef struct pen {
    sw_picture *canvas;
    sw_pt_px at;
    double unit_px;
    sw_rgb8 colour;
} pen;

static bool draw_stroke(void *ctx, const sw_pt_px *at, size_t n)
{
    const pen *const p = ctx;
    for (size_t i = 1; i < n; i++) {
        const sw_pt_px a = { p->at.x_px + at[i - 1].x_px * p->unit_px, p->at.y_px - at[i - 1].y_px * p->unit_px };
        const sw_pt_px b = { p->at.x_px + at[i].x_px * p->unit_px, p->at.y_px - at[i].y_px * p->unit_px };
        sw_canvas_line(p->canvas, a, b, sw_max(1.1, 0.75 * p->unit_px), p->colour);
    }
    return true;
}

double sw_canvas_text_width(double capital_px, const char *text)
{
    return sw_font_width(text) * capital_px / SW_FONT_CAPITAL;
}

double sw_canvas_text(sw_picture *canvas, sw_pt_px base, double capital_px, sw_rgb8 colour, const char *text)
{
    const double unit_px = capital_px / SW_FONT_CAPITAL;
    pen p = { canvas, base, unit_px, colour };
    sw_font_draw(text, draw_stroke, &p, NULL);
    return sw_canvas_text_width(capital_px, text);
}
