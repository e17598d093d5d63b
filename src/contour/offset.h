/* Private to this folder: contours moved sideways, mm. */
#ifndef SW_CONTOUR_OFFSET_H
#define SW_CONTOUR_OFFSET_H

#include "contour/outline.h"

typedef struct bezier {
    pt p[4];
} bezier;

static inline pt from_mm(sw_pt_mm p) { return (pt){ p.x_mm, p.y_mm }; }
static inline sw_pt_mm to_mm(pt p) { return (sw_pt_mm){ p.x, p.y }; }

bezier bezier_of(sw_pt_mm p0, const sw_seg *seg);
/** Segment k of a contour. */
bezier segment_of(const sw_contour *c, size_t k);
pt bezier_point(const bezier *b, double t);
/** Unit tangent; where the derivative vanishes at an end, the direction to the next control point that differs. */
pt bezier_tangent(const bezier *b, double t);
bezier bezier_part(const bezier *b, double t0, double t1);
/** Length of the way over the control points; the curve is no longer. */
double bezier_way(const bezier *b);
SW_MUST_USE bool add_bezier(sw_contour *out, const bezier *b);
/** The stretch of a contour from one place to another, later one; a place is segment + parameter. */
SW_MUST_USE bool add_stretch(sw_contour *out, const sw_contour *c, double from, double to);

/** The parallel of a contour with its loops still in it. share: of delta, per node, that of the start first; between nodes
 *  that move by different shares the distance changes gently. False: out of memory. */
SW_MUST_USE bool make_parallel(const sw_contour *in, double delta, const double *share, double tolerance, sw_contour *out);

/** Where a contour meets itself: what lies between goes. */
typedef struct loop {
    struct loop_end {
        double at;    /* segment + parameter; may lie past the end */
        double along; /* length */
    } from, to;
    double length;
} loop;

/** The shorter way between the places where a contour of that length meets itself. */
loop loop_of(const sw_contour *c, const crossing *x, double length);
/** Cut n > 0 loops out of a raw parallel. has_room false: what is left cannot be the contour moved. False: out of memory. */
SW_MUST_USE bool cut_loops(const sw_contour *raw, loop *loops, size_t n, sw_contour *out, bool *has_room);
/** Leave out segments too short to show and draw hooks straight. False: out of memory. */
SW_MUST_USE bool tidy_parallel(sw_contour *c, double tolerance);

/** One contour to be moved, and by how much at each node. */
typedef struct hold {
    sw_contour c;    /* as it came, with nodes put in beside places without room */
    double *share;   /* of the distance, a node each: share[0] at the start */
    size_t cap;      /* of share */
    unsigned n_local; /* rounds that it was held back in places alone */
} hold;

/** Copy a contour, to be moved by all of the distance. False: out of memory. */
SW_MUST_USE bool hold_make(const sw_contour *c, hold *out);
void hold_free(hold *h);
/** Largest and smallest share of a contour's nodes. */
double hold_most(const hold *h);
double hold_least(const hold *h);
/** Halve all shares; below least they are 0. */
void hold_all(hold *h, double least);
/** Halve the shares around points, within a few times the distance; below least they are 0. False: out of memory. */
SW_MUST_USE bool hold_near(hold *h, const pt *at, size_t n, double distance, double least);

#endif
