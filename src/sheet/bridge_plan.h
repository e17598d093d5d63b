/* The ground plan of a straight strip: which pixels it may cover and where they lie in it; private to bridge_strip.c,
 * which leaves them, and bridge_cost.c, which counts what they cost. */
#ifndef SW_SHEET_BRIDGE_PLAN_H
#define SW_SHEET_BRIDGE_PLAN_H

#include <math.h>
#include <stddef.h>

#include "sheet/bridge_parts.h"

/* How far a strip's axis runs into the parts it joins: with half the width round it, short of a web's far side. */
#define ROOT_WIDTHS 0.35

/* Geometry of a strip along its axis: middle, unit vector, half length. */
typedef struct frame {
    sw_pt_px mid;
    double dx, dy, half_px;
} frame;

static inline frame frame_of(const bridge_strip *s)
{
    const double dx = s->b.x_px - s->a.x_px, dy = s->b.y_px - s->a.y_px, length = sqrt(dx * dx + dy * dy);
    const bool is_point = length < 1e-9;
    return (frame){ .mid = { 0.5 * (s->a.x_px + s->b.x_px), 0.5 * (s->a.y_px + s->b.y_px) },
                    .dx = is_point ? 1.0 : dx / length, .dy = is_point ? 0.0 : dy / length, .half_px = 0.5 * length };
}

/* A bridge's ground plan: all places within radius of a segment that runs a little into the parts at both ends. There
 * a disc as wide as the bridge lies inside material, so no neck is left where the outline is round or oblique. */
typedef struct plan {
    frame fr;
    double half_px, radius_px;     /* of the segment, longer than the frame's */
    double across_row, along_row;  /* px of a row from the middle of either to the end of its bounding rectangle */
} plan;

static inline plan plan_of(const bridge_ground *g, const bridge_strip *s, double radius_px)
{
    plan p = { .fr = frame_of(s), .radius_px = radius_px };
    p.half_px = p.fr.half_px + ROOT_WIDTHS * g->width_px;
    p.across_row = radius_px / fabs(p.fr.dy);
    p.along_row = (p.half_px + radius_px) / fabs(p.fr.dx);
    return p;
}

/* Rows of pixel centres that a plan touches: first and one past the last, inside the mask's frame. */
static inline void plan_rows(const plan *p, size_t height, size_t *begin, size_t *end)
{
    const double reach = fabs(p->fr.dy) * p->half_px + p->radius_px;
    *begin = (size_t)sw_clamp(p->fr.mid.y_px - reach, 1.0, (double)height - 1.0);
    *end = (size_t)sw_clamp(p->fr.mid.y_px + reach + 1.0, 1.0, (double)height - 1.0);
}

/* The first whole number from v on, in least..most. Signed, because that is what processors convert in one go. */
static inline size_t whole_from(double v, size_t least, size_t most)
{
    if (!(v > (double)(ptrdiff_t)least)) return least;
    if (!(v < (double)(ptrdiff_t)most)) return most;
    const ptrdiff_t whole = (ptrdiff_t)v;
    return (size_t)(whole + ((double)whole < v));
}

/* Columns of pixel centres in one row that may lie in the plan, by its bounding rectangle along the axis. */
static inline void plan_columns(const plan *p, double y, size_t width, size_t *begin, size_t *end)
{
    const frame *fr = &p->fr;
    const double v = y - fr->mid.y_px;
    double x0 = -HUGE_VAL, x1 = HUGE_VAL; /* |across| <= radius and |along| <= length */
    if (fabs(fr->dy) > 1e-6) {
        const double m = v * fr->dx / fr->dy;
        x0 = m - p->across_row;
        x1 = m + p->across_row;
    }
    if (fabs(fr->dx) > 1e-6) {
        const double m = -v * fr->dy / fr->dx;
        x0 = sw_max(x0, m - p->along_row);
        x1 = sw_min(x1, m + p->along_row);
    }
    const double last = fr->mid.x_px + x1 - 0.5;
    *begin = whole_from(fr->mid.x_px + x0 - 0.5, 1, width - 1);
    *end = last < 1.0 ? 1 : last < (double)(ptrdiff_t)width - 1.0 ? (size_t)(ptrdiff_t)last + 1 : width - 1;
}

/* Where a pixel's centre lies along and across a strip's axis, from its middle. */
static inline void place_in(const frame *fr, size_t x, size_t y, double *along, double *across)
{
    const double dx = (double)(ptrdiff_t)x + 0.5 - fr->mid.x_px, dy = (double)(ptrdiff_t)y + 0.5 - fr->mid.y_px;
    *along = fabs(dx * fr->dx + dy * fr->dy);
    *across = fabs(dy * fr->dx - dx * fr->dy);
}

/* ---- what it costs (bridge_cost.c) --------------------------------------------------------------------- */

#define BRIDGE_LANES 8u
#define BRIDGE_PATCH 40u /* columns and rows of the stride */

/** What openings cost around a place, gathered once for all strips that are tried there; rows when they are asked for.
 *  In columns and rows of the stride by which a strip's place is sought; not for where there are marks. */
typedef struct bridge_patch {
    size_t step, row, column, column_end; /* step 0: of no use */
    uint8_t is_known[BRIDGE_PATCH];       /* PATCH_... of each row */
    float cost[BRIDGE_PATCH][BRIDGE_PATCH + BRIDGE_LANES];
} bridge_patch;

#define PATCH_UNKNOWN 0u
#define PATCH_OPEN 1u
#define PATCH_MATERIAL 2u /* all of the row */

void bridge_patch_around(const bridge_ground *g, sw_pt_px at, bridge_patch *out);

/** As bridge_strip_measure, and quicker where the strip lies in the patch; NULL: none. The same numbers. */
void bridge_strip_measure_in(const bridge_ground *g, bridge_patch *patch, bridge_strip *strip, double limit);

/** Cost and what is seen of it, of every pixel. HUGE_VAL where a wall is in the way. */
void bridge_strip_measure_all(const bridge_ground *g, bridge_strip *strip);

/** What a strip of this length costs more, because it flaps. */
double bridge_strip_slender_cost(const bridge_ground *g, double length_px);

#endif
