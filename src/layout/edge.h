/* The edge of an opening as straight sides, and how near a point is to it: what the search for repeats stands on. */
#ifndef SW_LAYOUT_EDGE_H
#define SW_LAYOUT_EDGE_H

#include "layout/layout.h"

#define EDGE_STRETCH 16u /* sides that share a box */

/** Sides one after the other and the box around them, coordinate by coordinate, as vector instructions want them. */
typedef struct edge_stretch {
    double x0, y0, x1, y1;
    double ax[EDGE_STRETCH], ay[EDGE_STRETCH]; /* where each begins; infinity past the last */
    double ux[EDGE_STRETCH], uy[EDGE_STRETCH]; /* from there to its end */
    double size[EDGE_STRETCH];                 /* square of its length; 1 if that is 0 */
} edge_stretch;

/** Corners in order; the last side leads back to the first corner. Zeroed it is empty; edge_free() frees. */
typedef struct edge {
    sw_pt_mm *at;
    size_t n, cap;
    edge_stretch *stretches; /* once edge_box() made them */
} edge;

/** Add the corners of a contour flattened within tolerance_mm. False when memory is out. */
bool edge_fill(const sw_contour *contour, double tolerance_mm, edge *e);

/** Corner i; i may be n, which is the first one again. */
static inline sw_pt_mm edge_corner(const edge *e, size_t i) { return e->at[i < e->n ? i : i - e->n]; }

/** Distance of two points. */
double edge_apart(sw_pt_mm a, sw_pt_mm b);

/** Between a (t = 0) and b (t = 1). */
sw_pt_mm edge_mix(sw_pt_mm a, sw_pt_mm b, double t);

/** Centre of the area inside. */
sw_pt_mm edge_middle(const edge *e);

/** Make the stretches that edge_nearest() needs; the corners stay from now on. False when memory is out. */
bool edge_box(edge *e);

/** Nearest point of the edge. *stretch: where to look first, and where it was found; start with 0. *away_sq in mm2. */
sw_pt_mm edge_nearest(const edge *e, sw_pt_mm p, size_t *stretch, double *away_sq);

/** Free what an edge holds. */
void edge_free(edge *e);

#endif
