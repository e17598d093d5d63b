/* What the files of bridging share; private to src/sheet/bridge*.c and droop.c. Lengths in px are of the window's
 * grid; places are in the padded window, whose outermost pixels are frame. */
#ifndef SW_SHEET_BRIDGE_PARTS_H
#define SW_SHEET_BRIDGE_PARTS_H

#include <math.h>

#include "sheet/bridge.h"
#include "sheet/notice.h"

#define BRIDGE_UNIT 16u         /* costs count in 1/16 CIEDE2000 a pixel */
/* A pixel of any bridge costs this much even where it is hidden: length weakens it. Taste: at 1 hidden bridges wound
 * across half a picture to save a few visible millimetres, at 6 long visible ones were taken instead. */
#define BRIDGE_LENGTH (2u * BRIDGE_UNIT)
/* What a regular place may cost more than the cheapest: more than the noise of pixels, less than anyone would see. */
#define BRIDGE_DEARER 1.12
#define BRIDGE_WALL UINT32_MAX  /* cost of a pixel no bridge may cover */
#define BRIDGE_ROOT 1u          /* the part that is the frame: first in raster order */

#define BRIDGE_SQUARE 16u
#define BRIDGE_HAS_SOME 1u    /* in has_material; 0 none */
#define BRIDGE_HAS_BRIDGE 2u  /* a bridge was left there since holding began, or ever if it has not */

/** Box (x0 <= x < x1) and area of an island. */
typedef struct bridge_part {
    size_t x0, y0, x1, y1, area_px;
} bridge_part;

/** One window with a pixel of frame all round. Free with bridge_ground_free. */
typedef struct bridge_ground {
    const sw_bridge_job *job;
    sw_grid grid;
    uint8_t pass;
    double width_px;             /* of a bridge */
    sw_mask mask;                /* 1 opening; the padded window */
    bridge_part *parts;          /* n_parts + 1; islands only are measured */
    uint32_t *part;              /* connected part of material, 1..n_parts; 0 opening; without bridges */
    bool is_flat;                /* all parts and bridges count as BRIDGE_ROOT: ask with bridge_part_of */
    size_t n_parts;
    uint8_t *has_material;       /* of each square of BRIDGE_SQUARE pixels a side; squares_wide in a row */
    size_t squares_wide;
    uint32_t error_of[SW_MAX_PASSES + 1]; /* leaving a pixel unpainted, by what lies below */
    uint32_t loss_of[SW_MAX_PASSES + 1];  /* painting over a pixel that should show this label */
    const sw_notice *notice;     /* what an error counts */
    sw_notice *own_notice;       /* the same if the job has none, else NULL */
    uint32_t loss_weight_of[256]; /* what a loss counts, 1/16, by salience */
} bridge_ground;

/** A strip from part to part, straight from a to b (both on the outline), or along the field's path. */
typedef struct bridge_strip {
    uint32_t from, to;    /* parts at a and at b */
    double width_px;
    sw_pt_px a, b;
    double cost;          /* sum of pixel costs; HUGE_VAL: no strip is possible here */
    double seen;          /* of that, what is seen on the wall */
    bool is_line_end;     /* a drawn line stops short of another: one side runs along the other's edge */
    bool is_path;         /* follows the cheapest path over the cells u and v ... */
    bool is_bent;         /* ... in a few straight pieces; else from cell to cell */
    size_t u, v;
} bridge_strip;

#define BRIDGE_SHOWN_RATIO 0.02 /* of a bridge's cost: less is an edge's rounding */

static inline bool bridge_is_shown(const bridge_strip *s) { return s->seen > BRIDGE_SHOWN_RATIO * s->cost; }

/** Do two join the same parts? */
static inline bool bridge_joins_same(const bridge_strip *a, const bridge_strip *b)
{
    return (a->from == b->from && a->to == b->to) || (a->from == b->to && a->to == b->from);
}

typedef struct bridge_strips {
    bridge_strip *at;
    size_t n, cap;
} bridge_strips;

SW_MUST_USE sw_status bridge_ground_make(const sw_mask *openings, const sw_bridge_job *job, size_t pass, sw_rgb8 paint,
                                         bridge_ground *out, sw_note *note);
void bridge_ground_free(bridge_ground *ground);

/** Index into the separation's rasters; x and y of the padded window, not of its frame. */
static inline size_t bridge_grid_index(const bridge_ground *g, size_t x, size_t y)
{
    const sw_rect_px *w = &g->job->window;
    return (w->y + y - 1) * g->grid.width_px + w->x + x - 1;
}

/** Visible error of leaving an opening pixel unpainted, unweighted, in 1/16 CIEDE2000; 0 where a later pass paints. */
static inline uint32_t bridge_pixel_error(const bridge_ground *g, size_t at)
{
    return g->job->separation->label[at] == g->pass ? g->error_of[g->job->below[at]] : 0;
}

/** What a bridge pays for an opening pixel; BRIDGE_WALL where none may be. */
static inline uint32_t bridge_pixel_cost(const bridge_ground *g, size_t x, size_t y)
{
    const size_t at = bridge_grid_index(g, x, y);
    const sw_rect_px *const w = &g->job->window;
    const uint32_t error = bridge_pixel_error(g, at);
    const uint32_t weighted = error == 0 ? 0 : error * sw_notice_at(g->notice, w->x + x - 1, w->y + y - 1) / SW_NOTICE_ONE;
    if (g->job->marks != NULL) {
        const uint8_t mark = g->job->marks->at[at];
        if ((mark & SW_MARK_NO_BRIDGE) != 0) return BRIDGE_WALL;
        if ((mark & SW_MARK_BRIDGE) != 0) return 1;
    }
    return BRIDGE_LENGTH + weighted;
}

/** The part that a pixel belongs to; 0 opening. Index into the padded window. */
static inline uint32_t bridge_part_of(const bridge_ground *g, size_t i)
{
    return g->is_flat ? (g->mask.at[i] == 0 ? BRIDGE_ROOT : 0) : g->part[i];
}

/** Is a place in the padded window? NaN is not. */
static inline bool bridge_is_inside(const bridge_ground *g, sw_pt_px at)
{
    return at.x_px >= 0.0 && at.y_px >= 0.0 && at.x_px < (double)(ptrdiff_t)g->mask.width_px &&
           at.y_px < (double)(ptrdiff_t)g->mask.height_px;
}

/** Of a place inside. */
static inline size_t bridge_index(const bridge_ground *g, sw_pt_px at)
{
    return (size_t)(ptrdiff_t)at.y_px * g->mask.width_px + (size_t)(ptrdiff_t)at.x_px;
}

static inline uint32_t bridge_part_at(const bridge_ground *g, double x, double y)
{
    const sw_pt_px at = { x, y };
    return bridge_is_inside(g, at) ? bridge_part_of(g, bridge_index(g, at)) : BRIDGE_ROOT;
}

/** What has_material says of a place inside. */
static inline uint8_t *bridge_square_at(const bridge_ground *g, sw_pt_px at)
{
    const size_t sx = (size_t)(ptrdiff_t)at.x_px / BRIDGE_SQUARE, sy = (size_t)(ptrdiff_t)at.y_px / BRIDGE_SQUARE;
    return &g->has_material[sy * g->squares_wide + sx];
}

/** Steps of a walk by (dx, dy) that take it a px to the right and down. */
static inline sw_pt_px bridge_steps_a_px(double dx, double dy)
{
    return (sw_pt_px){ dx != 0.0 ? 1.0 / dx : HUGE_VAL, dy != 0.0 ? 1.0 / dy : HUGE_VAL };
}

/** How many such steps lead from a place inside the window no farther than to the edge of its square, at least 1, if no
 *  material lies in that; else 1. */
static inline uint32_t bridge_steps_through_square(const bridge_ground *g, sw_pt_px at, sw_pt_px steps_a_px)
{
    const size_t sx = (size_t)(ptrdiff_t)at.x_px / BRIDGE_SQUARE, sy = (size_t)(ptrdiff_t)at.y_px / BRIDGE_SQUARE;
    if (g->has_material[sy * g->squares_wide + sx] != 0) return 1;
    const double x_left = ((double)(BRIDGE_SQUARE * (steps_a_px.x_px > 0.0 ? sx + 1 : sx)) - at.x_px) * steps_a_px.x_px;
    const double y_left = ((double)(BRIDGE_SQUARE * (steps_a_px.y_px > 0.0 ? sy + 1 : sy)) - at.y_px) * steps_a_px.y_px;
    const uint32_t n = (uint32_t)sw_min(sw_min(x_left, y_left), 4.0 * BRIDGE_SQUARE);
    return n > 0 ? n : 1;
}

/* ---- the cost field (bridge_field.c) ---------------------------------------------------------------- */

#define BRIDGE_SOURCE 8u /* in back: where a wave began */
#define BRIDGE_AROUND 8u /* parts around an island that are looked at */
#define BRIDGE_FEW_PARTS 128u /* up to so many, more places and directions are tried: time allows */
#define BRIDGE_TRIES 6u      /* places kept for a pair of parts, when there are few */
#define BRIDGE_TRIES_MANY 1u

/** What a wave asks about a cell, together: it comes to cells in no order. */
typedef struct bridge_cell {
    uint32_t owner;    /* nearest island; 0: not reached */
    uint32_t dist;
    uint16_t cost;     /* 0: not looked at yet */
    uint8_t back;      /* direction to the cell it was reached from */
} bridge_cell;

/** Cheapest ways from the islands across the openings, on cells of factor x factor pixels; 14 bytes a cell, most of
 *  them never touched. Free with bridge_field_free. */
typedef struct bridge_field {
    const bridge_ground *g;
    size_t width, height, factor;
    size_t reach;      /* half a bridge's width in cells */
    bridge_cell *cell;
    uint16_t *raw;     /* cost of a cell alone; 0: not looked at yet */
} bridge_field;

/** A place where the ways of two parts meet. */
typedef struct bridge_crossing {
    uint32_t lo, hi;   /* parts, lo < hi */
    uint32_t cost;
    size_t u, v;       /* cells, u on lo's side */
} bridge_crossing;

typedef struct bridge_crossings {
    bridge_crossing *at;
    size_t n, cap;
} bridge_crossings;

/** crossings: the best meeting places, a few a pair of parts, sorted by pair and cost; caller frees at with sw_free. */
SW_MUST_USE sw_status bridge_field_make(const bridge_ground *g, bridge_field *out, bridge_crossings *crossings,
                                        sw_note *note);
void bridge_field_free(bridge_field *field);
/** Walk back from a cell to the material its way began at. */
size_t bridge_field_back(const bridge_field *f, size_t cell);
/** Centre of a cell. */
static inline sw_pt_px bridge_field_centre(const bridge_field *f, size_t cell)
{
    const double half = 0.5 * (double)f->factor;
    return (sw_pt_px){ (double)(cell % f->width * f->factor) + half, (double)(cell / f->width * f->factor) + half };
}
/** One step of that walk; the cell itself where it ends. */
size_t bridge_field_step(const bridge_field *f, size_t cell);

#define BRIDGE_CELL_WALL 65534u /* in raw, from here on: a wall or material */

/* ---- bent strips (bridge_path.c) ---------------------------------------------------------------------- */

#define BRIDGE_PATH_POINTS (SW_BRIDGE_BENDS + 2u)

/** Corners of a bent strip; the first and the last lie on the outlines it joins. */
typedef struct bridge_path {
    sw_pt_px at[BRIDGE_PATH_POINTS];
    size_t n;
} bridge_path;

/** The way over s->u and s->v from s->from to s->to; false if it has too many bends or meets another part. */
bool bridge_path_make(const bridge_ground *g, const bridge_field *f, const bridge_strip *s, bridge_path *out);
double bridge_path_length(const bridge_path *p);
/** Set s->cost and s->seen by its pixels; cost HUGE_VAL where a wall is in the way; where it costs most or more, maybe. */
void bridge_path_measure(const bridge_ground *g, const bridge_path *p, double most, bridge_strip *s);
/** Leave its pixels in the mask; adds to out's area and error, counted in pixels. */
void bridge_path_stamp(bridge_ground *g, const bridge_path *p, sw_bridge *out);

/* ---- strips (bridge_strip.c, bridge_shape.c) -------------------------------------------------------- */

/** The best straight strip near a crossing; bent if that costs much less; is_path where no straight one is possible. known:
 *  what one between the parts costs that is at hand; where this one begins dearer than that, cost HUGE_VAL: of a hundred
 *  such eight end cheaper by a fiftieth. */
bridge_strip bridge_strip_fit(const bridge_ground *g, const bridge_field *f, const bridge_crossing *crossing, double known);

/** Cast a strip through a place in an opening at an angle; cost HUGE_VAL unless it joins the two parts, each met within
 *  most_px. */
bridge_strip bridge_strip_through(const bridge_ground *g, sw_pt_px at, double angle, uint32_t from, uint32_t to,
                                  double most_px);

/** The strip's ends alone, both on the root: what strips are cast between when all material is one. False if it meets
 *  none within most_px. */
bool bridge_strip_cast(const bridge_ground *g, sw_pt_px at, double angle, double most_px, bridge_strip *out);

/** What it costs and how much of that is seen, near enough to choose by; cost HUGE_VAL if more than limit. */
void bridge_strip_measure(const bridge_ground *g, bridge_strip *strip, double limit);

/** The strip with its ends changed over; of the same part at both. */
static inline bridge_strip bridge_strip_turned(bridge_strip s)
{
    const sw_pt_px end = s.a;
    s.a = s.b;
    s.b = end;
    return s;
}

/** The straight strip from one place in `from` to another in `to`; cost HUGE_VAL if a third part lies between. */
bridge_strip bridge_strip_between(const bridge_ground *g, sw_pt_px p, sw_pt_px q, uint32_t from, uint32_t to);

/** The strip cast from a rim just so, into best (BRIDGE_AROUND strips to different parts) if it is cheaper than the one
 *  there to the same part, or than the dearest of them. */
void bridge_strip_cheaper(const bridge_ground *g, sw_pt_px rim, double angle, uint32_t part, bridge_strip *best);

/** A strip moved and turned while its cost falls, its ends at most so far. */
bridge_strip bridge_strip_descend(const bridge_ground *g, bridge_strip strip, double a_px, double b_px);

/** The strip cast from there to another part just so, not moved. */
bridge_strip bridge_strip_upright(const bridge_ground *g, sw_pt_px rim, double angle, uint32_t part, uint32_t other);

/** The strip through a place at an angle, between whatever parts it meets within most_px; from and to may be one part.
 *  cost HUGE_VAL where no strip can be. */
bridge_strip bridge_strip_across(const bridge_ground *g, sw_pt_px at, double angle, double most_px);

/** How far it is from a place to material, up to most_px; *part is what is met, 0 if nothing is. */
double bridge_ray(const bridge_ground *g, sw_pt_px from, double dx, double dy, double most_px, uint32_t *part);

/** How wide a strip will be: hidden ones that are long come out wider than others. */
double bridge_strip_left_px(const bridge_ground *g, const bridge_strip *strip);

/** Leave the strip's pixels in the mask; adds to out's area and error, counted in pixels. */
void bridge_strip_stamp(bridge_ground *g, const bridge_field *f, const bridge_strip *strip, sw_bridge *out);

/** Turn an opening pixel into material and count it; nothing if it is material already. */
void bridge_leave_pixel(bridge_ground *g, size_t x, size_t y, sw_bridge *out);

/** A strip's box, and a bent one's corners between its ends. */
typedef struct bridge_box {
    sw_pt_px lo, hi;
    sw_pt_px bend[SW_BRIDGE_BENDS];
    size_t n_bends;
} bridge_box;

bridge_box bridge_shape_box(const bridge_ground *g, const bridge_field *f, const bridge_strip *strip);
/** How far around its box a bridge changes pixels or looks at them, px. */
double bridge_shape_reach(const bridge_ground *g);

/** The whole bridge: strip, rounded corners, no sliver beside it; describes it in mm. */
SW_MUST_USE sw_status bridge_shape_leave(bridge_ground *g, const bridge_field *f, const bridge_strip *strip,
                                         sw_bridge *out, sw_note *note);

/* ---- which strips (bridge_tree.c) ------------------------------------------------------------------- */

/** Choose strips that join all parts to the frame; chosen[i] is set for those. */
SW_MUST_USE sw_status bridge_tree_choose(const bridge_ground *g, const bridge_strips *strips, uint8_t *is_chosen,
                                         uint8_t *is_dropped, sw_note *note);

/** The cheapest strips that join all parts of the window to the frame, before any moves for the eye's sake; parts not
 *  worth one are cut away. field: filled for strips that follow a path; caller frees both, also where it failed. */
SW_MUST_USE sw_status bridge_choose(bridge_ground *g, bridge_field *field, bridge_strips *out, size_t *n_dropped,
                                    sw_note *note);

/* ---- more to choose from (bridge_improve.c) --------------------------------------------------------- */

/** Append to strips the cheapest from each island's rim to the parts around it. */
SW_MUST_USE sw_status bridge_improve(const bridge_ground *g, bridge_strips *strips, sw_note *note);

/* ---- lines that stop short (bridge_short.c) ------------------------------------------------------------ */

/** Strips across thin lines move to where the line runs into another, where a gap there costs less. */
void bridge_short(const bridge_ground *g, bridge_strips *strips);

/* ---- rhythm (bridge_rhythm.c) ------------------------------------------------------------------------ */

/** The island of a strip's two parts: the one whose box lies in the other's. */
uint32_t bridge_inner_part(const bridge_ground *g, const bridge_strip *s);

/** Move strips to the axes of their islands where that costs little more. */
void bridge_rhythm(const bridge_ground *g, bridge_strips *strips);

/* ---- order (bridge_order.c, bridge_held.c) ----------------------------------------------------------------- */

/** Move strips so that they read as meant: at even distances round islands, alike where openings are mirror images. Costs
 *  rise by a stated share at most. */
SW_MUST_USE sw_status bridge_order_tree(const bridge_ground *g, bridge_strips *strips, sw_note *note);

/* ---- bridges in the mask (bridge_leave.c) ------------------------------------------------------------------ */

/** Leave the strips whose numbers are in which, n of them, in the mask, as if in that order; each is told in out[number].
 *  f: may be NULL if none follows a path. Returns SW_OK, SW_NO_MEMORY. */
SW_MUST_USE sw_status bridge_leave_some(bridge_ground *g, const bridge_field *f, const bridge_strip *strips,
                                        const uint32_t *which, size_t n, sw_bridge *out, sw_note *note);

/** Leave strips in the mask and append them to the sheet's bridges. f: may be NULL if none follows a path. */
SW_MUST_USE sw_status bridge_leave(bridge_ground *g, const bridge_field *f, const bridge_strips *strips, sw_sheet *sheet,
                                   sw_note *note);

#endif
