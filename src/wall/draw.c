/* What is drawn over a scene: the person with the scale, the grid of marks, names. */
#include "wall/scene.h"

#include <math.h>
#include <stdio.h>

static const sw_rgb8 dark = { 24, 26, 30 }, pale = { 250, 248, 243 }, signal = { 178, 44, 20 };

static void blend(sw_wall_scene *scene, size_t i, sw_rgb8 colour, double cover)
{
    sw_rgb8 *const at = &scene->photo.at[i];
    const double a = sw_clamp(cover, 0.0, 1.0), b = 1.0 - a;
    at->r = sw_srgb8_from_linear((float)(b * (double)sw_linear_from_srgb8(at->r) + a * (double)sw_linear_from_srgb8(colour.r)));
    at->g = sw_srgb8_from_linear((float)(b * (double)sw_linear_from_srgb8(at->g) + a * (double)sw_linear_from_srgb8(colour.g)));
    at->b = sw_srgb8_from_linear((float)(b * (double)sw_linear_from_srgb8(at->b) + a * (double)sw_linear_from_srgb8(colour.b)));
}

typedef struct box {
    size_t left, right, top, bottom;
} box;

static box box_of(const sw_wall_scene *scene, double lo_x, double lo_y, double hi_x, double hi_y)
{
    const double w = (double)scene->photo.width_px, h = (double)scene->photo.height_px;
    return (box){ (size_t)sw_clamp(floor(lo_x), 0.0, w), (size_t)sw_clamp(ceil(hi_x), 0.0, w),
                  (size_t)sw_clamp(floor(lo_y), 0.0, h), (size_t)sw_clamp(ceil(hi_y), 0.0, h) };
}

static bool is_inside(const sw_pt_px *at, size_t n, double x, double y)
{
    bool is_in = false;
    for (size_t i = 0, j = n - 1; i < n; j = i++) {
        if ((at[i].y_px > y) != (at[j].y_px > y) &&
            x < (at[j].x_px - at[i].x_px) * (y - at[i].y_px) / (at[j].y_px - at[i].y_px) + at[i].x_px)
            is_in = !is_in;
    }
    return is_in;
}

void sw_scene_fill(sw_wall_scene *scene, const sw_pt_px *at, size_t n, sw_rgb8 colour, double cover)
{
    double lo_x = INFINITY, lo_y = INFINITY, hi_x = -INFINITY, hi_y = -INFINITY;
    for (size_t i = 0; i < n; i++) {
        lo_x = sw_min(lo_x, at[i].x_px);
        hi_x = sw_max(hi_x, at[i].x_px);
        lo_y = sw_min(lo_y, at[i].y_px);
        hi_y = sw_max(hi_y, at[i].y_px);
    }
    const box b = box_of(scene, lo_x, lo_y, hi_x, hi_y);
    for (size_t y = b.top; y < b.bottom; y++) {
        for (size_t x = b.left; x < b.right; x++) {
            int hits = 0;
            for (int k = 0; k < 16; k++) hits += is_inside(at, n, (double)x + (k % 4 + 0.5) / 4, (double)y + (k / 4 + 0.5) / 4);
            if (hits > 0) blend(scene, y * scene->photo.width_px + x, colour, cover * hits / 16.0);
        }
    }
}

void sw_scene_line(sw_wall_scene *scene, sw_pt_px p, sw_pt_px q, double width_px, sw_rgb8 colour, double cover)
{
    const double r = 0.5 * width_px, dx = q.x_px - p.x_px, dy = q.y_px - p.y_px, length2 = dx * dx + dy * dy;
    const box b = box_of(scene, sw_min(p.x_px, q.x_px) - r - 1, sw_min(p.y_px, q.y_px) - r - 1, sw_max(p.x_px, q.x_px) + r + 1,
                         sw_max(p.y_px, q.y_px) + r + 1);
    const double length = sqrt(length2), slack = (r + 1.5) * length;
    for (size_t y = b.top; y < b.bottom; y++) {
        for (size_t x = b.left; x < b.right; x++) {
            const double vx = (double)x + 0.5 - p.x_px, vy = (double)y + 0.5 - p.y_px;
            if (fabs(vx * dy - vy * dx) > slack && length2 > 0.0) continue;
            const double t = length2 > 0.0 ? sw_clamp((vx * dx + vy * dy) / length2, 0.0, 1.0) : 0.0;
            const double ink = r + 0.5 - hypot(vx - t * dx, vy - t * dy);
            if (ink > 0.0) blend(scene, y * scene->photo.width_px + x, colour, cover * sw_min(1.0, ink));
        }
    }
}

/* ---- lettering -------------------------------------------------------------------------------------- */

typedef struct pen {
    sw_wall_scene *scene;
    sw_pt_px at;
    double unit_px, width_px;
    sw_rgb8 colour;
} pen;

static bool draw_stroke(void *ctx, const sw_pt_px *at, size_t n)
{
    const pen *const p = ctx;
    for (size_t i = 1; i < n; i++) {
        const sw_pt_px a = { p->at.x_px + at[i - 1].x_px * p->unit_px, p->at.y_px - at[i - 1].y_px * p->unit_px };
        const sw_pt_px b = { p->at.x_px + at[i].x_px * p->unit_px, p->at.y_px - at[i].y_px * p->unit_px };
        sw_scene_line(p->scene, a, b, p->width_px, p->colour, 1.0);
    }
    return true;
}

void sw_scene_text(sw_wall_scene *scene, const char *text, sw_pt_px at, double height_px)
{
    pen p = { .scene = scene, .at = at, .unit_px = height_px / SW_FONT_CAPITAL, .colour = pale };
    p.width_px = sw_max(1.2, 0.16 * height_px);
    const double ink_px = p.width_px;
    p.width_px = ink_px + sw_max(3.0, 0.28 * height_px);
    (void)sw_font_draw(text, draw_stroke, &p, NULL);
    p.width_px = ink_px;
    p.colour = dark;
    (void)sw_font_draw(text, draw_stroke, &p, NULL);
}

static double text_width(const char *text, double height_px) { return sw_font_width(text) * height_px / SW_FONT_CAPITAL; }

/* ---- the wall without a photograph ------------------------------------------------------------------ */

void sw_scene_areas(sw_wall_scene *scene, const sw_wall *wall)
{
    for (size_t a = 0; a < wall->n_areas; a++) {
        const sw_wall_area *const area = &wall->areas[a];
        sw_pt_px at[64], low = { INFINITY, -INFINITY };
        const size_t n = sw_min_size(area->n, SW_ARRAY_LEN(at));
        for (size_t i = 0; i < n; i++) {
            if (!sw_scene_at(scene, area->at[i].x_mm, area->at[i].y_mm, &at[i])) return;
            low.x_px = sw_min(low.x_px, at[i].x_px);
            low.y_px = sw_max(low.y_px, at[i].y_px);
        }
        sw_scene_fill(scene, at, n, (sw_rgb8){ 120, 112, 100 }, 0.55);
        for (size_t i = 0; i < n; i++) sw_scene_line(scene, at[i], at[(i + 1) % n], 2.5, dark, 1.0);
        low.x_px += 8.0;
        low.y_px = sw_min(low.y_px, (double)scene->photo.height_px) - 10.0;
        sw_scene_text(scene, area->name, low, 15.0);
    }
}

/* ---- the person ------------------------------------------------------------------------------------- */

static bool is_in_view(const sw_wall_scene *scene, double x_mm, double y_mm)
{
    sw_pt_px p;
    return sw_scene_at(scene, x_mm, y_mm, &p) && p.x_px >= -0.5 && p.y_px >= -0.5 && p.x_px <= (double)scene->photo.width_px + 0.5 &&
           p.y_px <= (double)scene->photo.height_px + 0.5; /* a drawn wall ends at the floor */
}

/* Nearest place beside the artwork for the figure (700 mm wide, with its scale): clear of everything, else clear of the
 * artwork, else anywhere. */
static bool find_stand(const sw_wall_scene *scene, const sw_wall *wall, sw_rect_mm place, double *x_mm)
{
    const double half = 350.0, step = 50.0, beside = 150.0;
    for (int round = 0; round < 3; round++) {
        double best = INFINITY;
        for (double x = half; x <= wall->width_mm - half; x += step) {
            const bool is_over_art = x + half + beside > place.x_mm && x - half - beside < place.x_mm + place.width_mm;
            bool is_clear = true;
            for (size_t a = 0; a < wall->n_areas; a++)
                is_clear = is_clear && sw_wall_gap(&wall->areas[a], x - half, 0.0, 2.0 * half, SW_WALL_PERSON_MM) > 0.0;
            if ((round < 2 && is_over_art) || (round == 0 && !is_clear)) continue;
            if (!is_in_view(scene, x - half, 0.0) || !is_in_view(scene, x + half, 0.0) ||
                !is_in_view(scene, x - half, SW_WALL_PERSON_MM + 150.0) || !is_in_view(scene, x + half, SW_WALL_PERSON_MM + 150.0))
                continue;
            const double far = fabs(x - place.x_mm - 0.5 * place.width_mm);
            if (far < best) {
                best = far;
                *x_mm = x;
            }
        }
        if (best < INFINITY) return true;
    }
    return false;
}

/* Half of a standing figure in mm from its middle line and the floor; the other half mirrors it. Proportions of an
 * adult, simplified (common practice, no source). */
static const double figure[][2] = { { 0, 1700 },   { 55, 1690 },  { 95, 1650 }, { 105, 1590 }, { 90, 1520 }, { 50, 1475 },
                                    { 50, 1430 },  { 190, 1390 }, { 230, 1330 }, { 250, 1050 }, { 260, 800 }, { 215, 795 },
                                    { 195, 1040 }, { 175, 1180 }, { 165, 900 }, { 150, 480 },  { 130, 60 },  { 135, 0 },
                                    { 35, 0 },     { 35, 60 },    { 30, 480 },  { 0, 800 } };

static bool draw_figure(sw_wall_scene *scene, double x_mm)
{
    sw_pt_px at[2 * SW_ARRAY_LEN(figure)];
    const size_t n = SW_ARRAY_LEN(figure);
    for (size_t i = 0; i < 2 * n; i++) {
        const double *const p = figure[i < n ? i : 2 * n - 1 - i];
        if (!sw_scene_at(scene, x_mm + (i < n ? p[0] : -p[0]), p[1], &at[i])) return false;
    }
    for (size_t i = 0; i < 2 * n; i++) sw_scene_line(scene, at[i], at[(i + 1) % (2 * n)], 3.0, pale, 0.8);
    sw_scene_fill(scene, at, 2 * n, dark, 0.95);
    return true;
}

bool sw_wall_scene_person(sw_wall_scene *scene, const sw_wall *wall, sw_rect_mm place)
{
    double x_mm = 0.0;
    if (!find_stand(scene, wall, place, &x_mm) || !draw_figure(scene, x_mm - 40.0)) return false;
    sw_pt_px foot, top;
    const double bar_mm = x_mm + 290.0;
    if (!sw_scene_at(scene, bar_mm, 0.0, &foot) || !sw_scene_at(scene, bar_mm, SW_WALL_PERSON_MM, &top)) return false;
    sw_scene_line(scene, foot, top, 7.0, pale, 1.0);
    sw_scene_line(scene, foot, top, 3.0, dark, 1.0);
    for (int i = 0; i <= 17; i++) {
        const double reach = i % 5 == 0 || i == 17 ? 60.0 : 30.0;
        sw_pt_px a, b;
        if (!sw_scene_at(scene, bar_mm - reach, 100.0 * i, &a) || !sw_scene_at(scene, bar_mm + reach, 100.0 * i, &b)) return false;
        sw_scene_line(scene, a, b, 6.0, pale, 1.0);
        sw_scene_line(scene, a, b, 2.5, dark, 1.0);
    }
    const double height = sw_clamp(0.055 * hypot(top.x_px - foot.x_px, top.y_px - foot.y_px), 11.0, 60.0);
    sw_pt_px head;
    if (!sw_scene_at(scene, x_mm, SW_WALL_PERSON_MM, &head)) return false;
    sw_scene_text(scene, "1.7 m", (sw_pt_px){ head.x_px - 0.5 * text_width("1.7 m", height), head.y_px - 0.7 * height }, height);
    return true;
}

/* ---- the grid --------------------------------------------------------------------------------------- */

static void draw_rule(sw_wall_scene *scene, double x0, double y0, double x1, double y1, double width_px)
{
    sw_pt_px a, b;
    if (!sw_scene_at(scene, x0, y0, &a) || !sw_scene_at(scene, x1, y1, &b)) return;
    sw_scene_line(scene, a, b, width_px + 1.6, pale, 0.75);
    sw_scene_line(scene, a, b, width_px, signal, 1.0);
}

static void draw_mark(sw_wall_scene *scene, double x, double y, double arm_mm, const char *name, double height_px)
{
    sw_pt_px at;
    draw_rule(scene, x - arm_mm, y, x + arm_mm, y, 3.0);
    draw_rule(scene, x, y - arm_mm, x, y + arm_mm, 3.0);
    if (!sw_scene_at(scene, x, y, &at)) return;
    sw_scene_text(scene, name, (sw_pt_px){ at.x_px + 0.45 * height_px, at.y_px - 0.5 * height_px }, height_px);
}

/* "A", ..., "Z", "AA", ... and the row's number. */
static void name_mark(size_t column, size_t row, char name[16])
{
    char letters[8];
    size_t at = sizeof letters - 1;
    letters[at] = '\0';
    for (size_t rest = column + 1; rest > 0 && at > 0; rest = (rest - 1) / 26) letters[--at] = (char)('A' + (rest - 1) % 26);
    snprintf(name, 16, "%s%u", letters + at, (unsigned)(row + 1) % 100000u);
}

void sw_wall_scene_grid(sw_wall_scene *scene, sw_rect_mm place, double step_mm)
{
    const size_t n_columns = (size_t)(place.width_mm / step_mm + 1e-9), n_rows = (size_t)(place.height_mm / step_mm + 1e-9);
    const double right = place.x_mm + place.width_mm, top = place.y_mm + place.height_mm;
    const double step_px = sw_wall_scene_scale(scene, place) * step_mm, height_px = sw_clamp(0.11 * step_px, 8.0, 34.0);
    for (size_t i = 0; i <= n_columns; i++)
        draw_rule(scene, place.x_mm + (double)i * step_mm, place.y_mm, place.x_mm + (double)i * step_mm, top, 1.2);
    for (size_t j = 0; j <= n_rows; j++)
        draw_rule(scene, place.x_mm, place.y_mm + (double)j * step_mm, right, place.y_mm + (double)j * step_mm, 1.2);
    draw_rule(scene, right, place.y_mm, right, top, 1.2);
    draw_rule(scene, place.x_mm, top, right, top, 1.2);
    for (size_t j = 0; j <= n_rows; j++) {
        for (size_t i = 0; i <= n_columns; i++) {
            char name[16];
            name_mark(i, j, name);
            draw_mark(scene, place.x_mm + (double)i * step_mm, place.y_mm + (double)j * step_mm, 0.05 * step_mm, name, height_px);
        }
    }
}
