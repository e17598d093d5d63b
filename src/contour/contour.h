/*
 * Contours: closed curves in mm with few nodes.
 *
 * Coordinates are mm from the artwork's top left corner, y down. Only closed paths exist here: a contour ends where
 * it starts. Outer edges of openings run clockwise as seen (positive area with y down), edges of material inside an
 * opening the other way round. Out parameters are untouched unless the call returns SW_OK.
 */
#ifndef SW_CONTOUR_H
#define SW_CONTOUR_H

#include "sheet/sheet.h"

/** One segment from the end of the one before: a straight line, or a cubic Bezier with handles c1, c2. */
typedef struct sw_seg {
    bool is_line;       /* then c1 and c2 have no meaning */
    bool is_corner;     /* the node at `end` is a corner; otherwise the curve is G1 there */
    sw_pt_mm c1, c2, end;
} sw_seg;

/** A closed curve: start, then segments; the last one ends exactly at start. */
typedef struct sw_contour {
    sw_pt_mm start;
    sw_seg *segs;
    size_t n_segs, cap_segs;
} sw_contour;

/** Owned list; free with sw_contours_free. */
typedef struct sw_contours {
    sw_contour *at;
    size_t n, cap;
} sw_contours;

void sw_contour_free(sw_contour *contour);
void sw_contours_free(sw_contours *contours);
SW_MUST_USE sw_status sw_contours_copy(const sw_contours *in, sw_contours *out, sw_note *note);
/** Append a contour; *contour is emptied on success. */
SW_MUST_USE sw_status sw_contours_take(sw_contours *list, sw_contour *contour, sw_note *note);
/** Append a segment. False when memory is out. */
SW_MUST_USE bool sw_contour_add_line(sw_contour *contour, sw_pt_mm end);
SW_MUST_USE bool sw_contour_add_cubic(sw_contour *contour, sw_pt_mm c1, sw_pt_mm c2, sw_pt_mm end);

/** A mask traced earlier and its curves, in mm from its top left corner; both borrowed. */
typedef struct sw_drawn {
    const sw_mask *mask;
    const sw_contours *curves;
} sw_drawn;

/** Edges that a mask has in common with masks drawn earlier. */
typedef struct sw_shared {
    double edge_mm;    /* length of them, in runs of least_shared_mm and more */
    double same_mm;    /* of that, with the very same curve */
    size_t n_curves;   /* stretches of curve taken over */
    size_t n_given_up; /* and those that were not kept because a curve would have crossed another */
} sw_shared;

/** Zero value: defaults. */
typedef struct sw_trace_opts {
    double tolerance_mm;  /* farthest the curve may be from the mask's smooth outline; required, above 0. No pixel edge
                           * is farther from the curve than a pixel and a quarter and half of this; the curve is as
                           * near to the pixel edges but at tips that the raster cut off. A contour that would cross
                           * another may be farther off */
    double min_opening_mm, min_web_mm; /* checked after fitting when above 0 */
    const sw_drawn *drawn; /* where this mask has the same edges as one of these (open on either side), it gets their curve,
                            * to half a step of rounding where a segment is split; NULL: none */
    const sw_mask *const *later; /* masks that will be drawn with this one among theirs: segments rather end where they
                            * will want to begin; NULL: none */
    size_t n_drawn, n_later; /* at most SW_MAX_PASSES each */
    size_t x_px, y_px;     /* this mask's place in theirs, which are at least as large */
    double least_shared_mm; /* shorter runs are left alone; 0: 4 mm */
    sw_shared *shared;     /* may be NULL; filled when the call returns SW_OK */
} sw_trace_opts;

/**
 * Trace every opening of a mask into closed curves.
 * grid gives the scale; mask has its size. Contours come in a fixed order: by their topmost point.
 * Returns SW_OK, SW_BAD_LENGTH, SW_NO_MEMORY. Same bytes for any thread count.
 */
SW_MUST_USE sw_status sw_contours_trace(const sw_mask *mask, const sw_grid *grid, const sw_trace_opts *opts,
                                        sw_contours *out, sw_note *note);

/** Called for each point of the polygon; the first point is not repeated at the end. Return false to stop. */
typedef bool (*sw_point_fn)(void *ctx, sw_pt_mm point);
/** Visit the contour as a polygon whose chords stay within tolerance_mm of the curve. False if fn stopped it. */
bool sw_contour_flatten(const sw_contour *contour, double tolerance_mm, sw_point_fn fn, void *ctx);
/** How many chords that walk takes for a segment that begins at p0. */
size_t sw_seg_chords(sw_pt_mm p0, const sw_seg *seg, double tolerance_mm);

typedef struct sw_contour_measure {
    double length_mm;  /* along the curves */
    double area_mm2;   /* signed; positive for outer edges */
    sw_pt_mm min, max; /* bounding box of the curves, exact */
    size_t n_nodes;
} sw_contour_measure;

sw_contour_measure sw_contour_measure_one(const sw_contour *contour);
/** Sums over the list; box over all; area is the net open area. */
sw_contour_measure sw_contours_measure(const sw_contours *contours);
/** The same but for the length, which takes nearly all the time: length_mm is 0. */
sw_contour_measure sw_contour_extent(const sw_contour *contour);
sw_contour_measure sw_contours_extent(const sw_contours *contours);

/**
 * Cut contours exactly to a rectangle: the curves are split where they cross an edge, never flattened, and what lies
 * inside is closed along the edge. Curves that touch an edge or run along it are fine; an edge of the rectangle that
 * the region ends on stays on it exactly. Nodes within 1e-6 mm of an edge count as on it, and slivers thinner than
 * that vanish. Material that meets an edge over less than 0.02 mm, a web's tip, does not hold there: it ends 0.05 mm
 * before the edge, and what it would part is one opening.
 *
 * in    outer edges one way round, inner edges the other, as sw_contours_trace makes them
 * rect  in mm, sides above 0
 * out   new list, caller frees; may be empty; contours that no edge cuts come first, in their order
 *
 * Returns SW_OK, SW_BAD_LENGTH (rect not finite or empty), SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_contours_clip(const sw_contours *in, sw_rect_mm rect, sw_contours *out, sw_note *note);

/** Contours ready to be clipped to many rectangles: each looks only at what is near it. Free with sw_clipper_free. */
typedef struct sw_clipper {
    const sw_contours *in; /* borrowed */
    struct sw_hull *hulls; /* a box for each */
} sw_clipper;

/**
 * Get contours ready.
 * in    lent for as long as the clipper lives, and not changed
 * out   caller frees
 * Returns SW_OK, SW_NO_MEMORY. Cost: 48 bytes a contour.
 */
SW_MUST_USE sw_status sw_clipper_make(const sw_contours *in, sw_clipper *out, sw_note *note);
/** What sw_contours_clip makes of all the contours, to the bit; may be called from several threads. */
SW_MUST_USE sw_status sw_clipper_cut(const sw_clipper *clipper, sw_rect_mm rect, sw_contours *out, sw_note *note);
void sw_clipper_free(sw_clipper *clipper);

/**
 * Move every edge sideways: delta_mm above 0 widens the openings, below 0 narrows them (half the kerf, so that the hole
 * has the drawn size). Smooth nodes stay smooth; a corner is rounded on the side that opens and trimmed on the other.
 * The number of contours and what lies in what never change: around a place where a contour would vanish, split or meet
 * another it is moved by half as much, and half again, until it holds, and from there gently by more; only where no such
 * place can be named, or that does not help, all of the contour is.
 *
 * in           as sw_contours_trace makes them
 * tolerance_mm farthest that an edge may be from its place; above 0
 * n_held_back  may be NULL: contours moved by less than asked anywhere
 * out          caller frees
 *
 * Returns SW_OK, SW_BAD_LENGTH, SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_contours_offset(const sw_contours *in, double delta_mm, double tolerance_mm,
                                         size_t *n_held_back, sw_contours *out, sw_note *note);

/** Round every coordinate to whole multiples of step_mm (what the writers print is then exactly what was proved). */
void sw_contours_round(sw_contours *contours, double step_mm);
/** Shift every coordinate. */
void sw_contours_shift(sw_contours *contours, double dx_mm, double dy_mm);

#endif
