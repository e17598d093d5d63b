/* Forms and their symmetry. An axis of symmetry passes through the middle of a form, and every complex moment tells a
 * few directions it can have: of order two the principal axes, and of (x + iy) |x + iy|^2 one more, which decides where a
 * form is as broad as long (Marola 1989; Shen, Ip, Cheung and Teoh 1999 on complex moments; from memory). Whether a
 * direction is one is then seen by laying the form over its image. Moments are exact sums over runs; images are compared
 * on a coarse raster, because symmetry is a matter of the whole, and drawings by hand are symmetric by a few percent. */
#include <math.h>
#include <string.h>

#include "sheet/bridge_form.h"

/* A form's image may lie off by this share of its size. How much must fit: BRIDGE_FIT_RATIO, and along a slanted axis more.
 * Taste: letters drawn by hand pass, B does not pass for upright, and Q is not symmetric about its tail. */
#define OFF_RATIO 0.02
#define SLANTED_FIT_RATIO 0.98
#define SLANTED_LEAST_RATIO 0.8 /* from which on angles near one are looked at */
#define ANGLES 5                /* to either side */
#define ANGLE_STEP_RAD 0.015
#define SAMPLES 48u /* places a side that are looked at */
#define EDGE 2u /* cells round a raster's form */
#define PI 3.14159265358979323846

/* ---- moments --------------------------------------------------------------------------------------------------- */

static void measure_box(const bridge_order *o, bridge_form *f)
{
    double sum_x = 0.0, sum_y = 0.0;
    bridge_walk_runs w = bridge_runs_of(o, f->opening);
    for (const sw_run *run; (run = bridge_runs_next(&w)) != NULL;) {
        const double n = (double)(run->end - run->begin);
        f->x0 = sw_min_size(f->x0, run->begin);
        f->x1 = sw_max_size(f->x1, run->end);
        f->y0 = sw_min_size(f->y0, w.row);
        f->y1 = w.row + 1;
        f->area_px += n;
        sum_x += n * 0.5 * (double)(run->begin + run->end);
        sum_y += n * ((double)w.row + 0.5);
    }
    if (f->area_px > 0.0) f->mid = (sw_pt_px){ sum_x / f->area_px, sum_y / f->area_px };
}

bridge_form bridge_form_of(const bridge_order *o, uint32_t opening)
{
    bridge_form f = { .opening = opening, .x0 = SIZE_MAX, .y0 = SIZE_MAX };
    measure_box(o, &f);
    bridge_walk_runs w = bridge_runs_of(o, opening);
    for (const sw_run *run; (run = bridge_runs_next(&w)) != NULL;) {
        const double n = (double)(run->end - run->begin), y = (double)w.row + 0.5 - f.mid.y_px;
        const double m = 0.5 * (double)(run->begin + run->end) - f.mid.x_px, spread = n * n - 1.0;
        const double x1 = n * m, x2 = n * (m * m + spread / 12.0), x3 = x1 * (m * m + spread / 4.0); /* sums of powers */
        f.xx += x2;
        f.xy += x1 * y;
        f.yy += n * y * y;
        f.cx += x3 + x1 * y * y;
        f.cy += x2 * y + n * y * y * y;
    }
    return f;
}

/* ---- motions ---------------------------------------------------------------------------------------------------- */

bridge_turn bridge_mirror_at(sw_pt_px at, double angle)
{
    return (bridge_turn){ .is_mirror = true, .at = at, .angle = angle, .c = cos(2.0 * angle), .s = sin(2.0 * angle) };
}

sw_pt_px bridge_turn_point(const bridge_turn *t, sw_pt_px p)
{
    if (!t->is_mirror) return (sw_pt_px){ p.x_px + t->dx, p.y_px + t->dy };
    const double x = p.x_px - t->at.x_px, y = p.y_px - t->at.y_px;
    return (sw_pt_px){ t->at.x_px + t->c * x + t->s * y, t->at.y_px + t->s * x - t->c * y };
}

double bridge_turn_angle(const bridge_turn *t, double angle) { return t->is_mirror ? 2.0 * t->angle - angle : angle; }

/* ---- images ------------------------------------------------------------------------------------------------------- */

void bridge_raster_make(const bridge_order *o, const bridge_form *f, bridge_raster *out)
{
    const double size_px = (double)sw_max_size(f->x1 - f->x0, f->y1 - f->y0);
    bridge_raster *const r = out;
    r->cell_px = sw_max(1.0, size_px / BRIDGE_FORM_CELLS);
    const size_t by = (size_t)sw_clamp(floor(OFF_RATIO * size_px / r->cell_px + 0.5), 1.0, EDGE);
    r->x0 = (double)f->x0 - EDGE * r->cell_px;
    r->y0 = (double)f->y0 - EDGE * r->cell_px;
    r->width = (size_t)ceil((double)(f->x1 - f->x0) / r->cell_px) + 2 * EDGE;
    r->height = (size_t)ceil((double)(f->y1 - f->y0) / r->cell_px) + 2 * EDGE;
    memset(r->at, 0, r->width * r->height);
    bridge_walk_runs w = bridge_runs_of(o, f->opening);
    for (const sw_run *run; (run = bridge_runs_next(&w)) != NULL;) {
        const size_t y = (size_t)(((double)w.row + 0.5 - r->y0) / r->cell_px);
        const size_t a = (size_t)(((double)run->begin + 0.5 - r->x0) / r->cell_px) - by;
        const size_t b = (size_t)(((double)run->end - 0.5 - r->x0) / r->cell_px) + by;
        for (size_t v = y - by; v <= y + by; v++) memset(r->at + v * r->width + a, 1, b - a + 1);
    }
}

static bool is_in_raster(const bridge_raster *r, sw_pt_px p)
{
    const double x = (p.x_px - r->x0) / r->cell_px, y = (p.y_px - r->y0) / r->cell_px;
    return x >= 0.0 && y >= 0.0 && x < (double)r->width && y < (double)r->height && r->at[(size_t)y * r->width + (size_t)x] != 0;
}

double bridge_form_overlap(const bridge_order *o, const bridge_form *f, const bridge_turn *t, const bridge_raster *r)
{
    const size_t every = sw_max_size(1, sw_max_size(f->x1 - f->x0, f->y1 - f->y0) / SAMPLES);
    double n_all = 0.0, n_in = 0.0;
    bridge_walk_runs w = bridge_runs_of(o, f->opening);
    for (const sw_run *run; (run = bridge_runs_next(&w)) != NULL;) {
        if (w.row % every != 0) continue;
        for (size_t x = (run->begin + every - 1) / every * every; x < run->end; x += every) {
            n_all += 1.0;
            n_in += is_in_raster(r, bridge_turn_point(t, (sw_pt_px){ (double)x + 0.5, (double)w.row + 0.5 }));
        }
    }
    return n_all > 0.0 ? n_in / n_all : 0.0;
}

static bool is_near_one(const bridge_turn *axes, size_t n, double angle)
{
    for (size_t i = 0; i < n; i++)
        if (fabs(sin(axes[i].angle - angle)) < 0.02) return true;
    return false;
}

/* A slanted axis near an angle: where a form is nearly as broad as long its moments tell only about where. The middle of
 * the angles that fit best; *fit: how well. */
static double refine_angle(const bridge_order *o, const bridge_form *f, const bridge_raster *raster, double angle, double *fit)
{
    double fits[2 * ANGLES + 1], sum = 0.0, n = 0.0;
    *fit = 0.0;
    for (int k = -ANGLES; k <= ANGLES; k++) {
        const bridge_turn t = bridge_mirror_at(f->mid, angle + ANGLE_STEP_RAD * k);
        fits[k + ANGLES] = bridge_form_overlap(o, f, &t, raster);
        *fit = sw_max(*fit, fits[k + ANGLES]);
    }
    for (int k = -ANGLES; k <= ANGLES; k++) {
        if (fits[k + ANGLES] < *fit - 0.002) continue;
        sum += k;
        n += 1.0;
    }
    return angle + ANGLE_STEP_RAD * sum / n;
}

size_t bridge_form_axes(const bridge_order *o, const bridge_form *f, bridge_turn *out)
{
    const double second = 0.5 * atan2(2.0 * f->xy, f->xx - f->yy), third = atan2(f->cy, f->cx);
    const double upright[2] = { 0.5 * PI, 0.0 }, slanted[3] = { second, second + 0.5 * PI, third };
    bridge_raster raster;
    size_t n = 0;
    bridge_raster_make(o, f, &raster);
    for (size_t i = 0; i < SW_ARRAY_LEN(upright); i++) {
        const bridge_turn t = bridge_mirror_at(f->mid, upright[i]);
        if (bridge_form_overlap(o, f, &t, &raster) >= BRIDGE_FIT_RATIO) out[n++] = t;
    }
    if (n > 0) return n; /* nobody sees a slanted one beside those */
    for (size_t i = 0; i < SW_ARRAY_LEN(slanted); i++) {
        double fit;
        const bridge_turn t = bridge_mirror_at(f->mid, slanted[i]);
        if (is_near_one(out, n, slanted[i]) || bridge_form_overlap(o, f, &t, &raster) < SLANTED_LEAST_RATIO) continue;
        const double angle = refine_angle(o, f, &raster, slanted[i], &fit);
        if (fit >= SLANTED_FIT_RATIO && !is_near_one(out, n, angle)) out[n++] = bridge_mirror_at(f->mid, angle);
    }
    return n;
}
