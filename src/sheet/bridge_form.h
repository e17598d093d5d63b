/* Forms (openings, islands) by their moments, and whether one is another's image; private to src/sheet/bridge_form.c,
 * bridge_mirror.c and tests. */
#ifndef SW_SHEET_BRIDGE_FORM_H
#define SW_SHEET_BRIDGE_FORM_H

#include "sheet/bridge_order.h"

/** An opening's pixels, and its moments about their middle. */
typedef struct bridge_form {
    uint32_t opening;
    size_t x0, y0, x1, y1; /* box, x0 <= x < x1 */
    double area_px;
    sw_pt_px mid;
    double xx, xy, yy;     /* second moments, px^4 */
    double cx, cy;         /* third: of (x + iy) * |x + iy|^2 */
} bridge_form;

/** A motion that keeps lengths: a reflection in the axis through a place at an angle, or a shift. */
typedef struct bridge_turn {
    bool is_mirror;
    sw_pt_px at;           /* on the axis */
    double angle, c, s;    /* of the axis; cosine and sine of twice it */
    double dx, dy;         /* the shift */
} bridge_turn;

bridge_form bridge_form_of(const bridge_order *o, uint32_t opening);
bridge_turn bridge_mirror_at(sw_pt_px at, double angle);
sw_pt_px bridge_turn_point(const bridge_turn *t, sw_pt_px p);
double bridge_turn_angle(const bridge_turn *t, double angle);

#define BRIDGE_FORM_CELLS 96u /* a side of the raster that forms are compared on */

/** A form on a raster of cells, widened by about a fiftieth of its size. 10 kB. */
typedef struct bridge_raster {
    double x0, y0, cell_px;
    size_t width, height;
    uint8_t at[(BRIDGE_FORM_CELLS + 6) * (BRIDGE_FORM_CELLS + 6)];
} bridge_raster;

void bridge_raster_make(const bridge_order *o, const bridge_form *form, bridge_raster *out);
/** Share of a form's area whose image lies in the raster's form or within a fiftieth of that one's size. */
double bridge_form_overlap(const bridge_order *o, const bridge_form *form, const bridge_turn *t, const bridge_raster *raster);

#define BRIDGE_FIT_RATIO 0.96 /* of the area, for a form to pass for another's image; about nine tenths of their union */
#define BRIDGE_AXES 5u
/** Axes that mirror a form onto itself, at most BRIDGE_AXES, in the order in which a viewer minds them: upright, level, and if
 *  neither is one, others. */
size_t bridge_form_axes(const bridge_order *o, const bridge_form *form, bridge_turn *out);

#endif
