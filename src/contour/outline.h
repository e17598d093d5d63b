/* Private to this folder: the smooth outline of one traced path, and the curves fitted to it. Pixels, y down. */
#ifndef SW_CONTOUR_OUTLINE_H
#define SW_CONTOUR_OUTLINE_H

#include <math.h>

#include "contour/contour.h"

typedef struct pt {
    double x, y;
} pt;

static inline pt pt_sub(pt a, pt b) { return (pt){ a.x - b.x, a.y - b.y }; }
static inline pt pt_add(pt a, pt b) { return (pt){ a.x + b.x, a.y + b.y }; }
static inline pt pt_mul(pt a, double k) { return (pt){ a.x * k, a.y * k }; }
static inline pt pt_mix(pt a, pt b, double t) { return (pt){ a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) }; }
static inline double pt_dot(pt a, pt b) { return a.x * b.x + a.y * b.y; }
static inline double pt_cross(pt a, pt b) { return a.x * b.y - a.y * b.x; }
static inline double pt_len(pt a) { return sqrt(a.x * a.x + a.y * a.y); }
static inline pt pt_unit(pt a)
{
    const double len = pt_len(a);
    return len > 0.0 ? (pt){ a.x / len, a.y / len } : (pt){ 1.0, 0.0 };
}

/** A point of the outline that the fit has to pass within tolerance. */
typedef struct sample {
    pt p, normal; /* normal: unit, zero at a corner */
    double s;     /* length along the outline from its start */
} sample;

/** A place where a segment may end. */
typedef struct node {
    pt p, in, out;    /* unit tangents, pointing along the outline; equal unless it is a corner */
    size_t sample;    /* of p */
    double turn_in, turn_out; /* angle turned since the outline began, radians, signed; differ at a corner */
    bool is_corner;
    bool is_must;     /* a segment has to end here */
    bool is_straight; /* from here to the next node the outline is a straight line that stays one */
} node;

/** A closed outline, walked twice: nodes n..2n and samples m..2m repeat the first round, with s and turn carried on. */
typedef struct outline {
    node *nodes;
    sample *samples;
    size_t n, m;
    size_t cap_nodes, cap_samples;
    double length;
} outline;

void outline_free(outline *o);

/** Round the polygon of a traced path into an outline. Vertices in order, area positive; those exactly on the border
 *  of the artwork (0..size.x, 0..size.y) are corners and edges along it straight. False: out of memory. */
SW_MUST_USE bool outline_make(const pt *vertex, size_t n, pt size, double tolerance_px, outline *out);

/** One fitted segment between nodes. */
typedef struct span {
    float a, b;   /* handle lengths in pixels */
    float error;  /* largest distance of a sample, pixels */
    uint32_t end; /* node, start < end <= start + n */
    bool is_line;
} span;

/** Best segment from node i to node j > i. False if none is within tolerance and fit to be edited. */
bool fit_span(const outline *o, size_t i, size_t j, double tolerance_px, span *out);

/** Fewest segments for the outline, coordinates still in pixels. False: out of memory. */
SW_MUST_USE bool reduce_outline(const outline *o, double tolerance_px, sw_contour *out);

#endif
