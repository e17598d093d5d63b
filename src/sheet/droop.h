/* How far parts of a sheet sink under their own weight when it is carried flat; private to src/sheet/ and its tests.
 * This is a measure to compare parts by, no certificate of strength: it knows no gust, no wet board, no hand.
 * Lengths in mm, loads in N. */
#ifndef SW_SHEET_DROOP_H
#define SW_SHEET_DROOP_H

#include "sheet/sheet.h"

/** Bending stiffness of the material as a plate, E t^3 / (12 (1 - nu^2)), in N mm. */
double droop_rigidity_nmm(const sw_material *material);
/** Weight on an area, in N per mm^2. */
double droop_weight_n_mm2(const sw_material *material);

/** End of a wide strip clamped at one end: p L^4 / (8 D). */
double droop_tongue_mm(const sw_material *material, double length_mm);
/** The length of such a strip that sinks by droop_mm. */
double droop_tongue_length_mm(const sw_material *material, double droop_mm);

/** A bridge as a beam from something that holds to the rim of a body. */
typedef struct droop_neck {
    sw_pt_mm at;              /* where it meets the body */
    double ux, uy;            /* unit vector from what holds it into the body */
    double length_mm, width_mm;
} droop_neck;

/** A body that hangs on necks: weight at its middle, and points of its rim (its hull at least). */
typedef struct droop_body {
    double area_mm2;
    sw_pt_mm middle;
    const sw_pt_mm *rim;
    size_t n_rim;
} droop_body;

/**
 * How far the lowest point of the body's rim sinks: the necks bend and twist as beams while the body turns as a whole
 * (three unknowns), and the body itself bends as a plate between its supports (a wide strip as long as the farthest
 * way to a neck; shared by several it sinks less). At most what hangs straight down: beyond small slopes the formulas
 * say no more than that it hangs. HUGE_VAL when nothing holds it.
 * Source: beam stiffness by Euler and Bernoulli, torsion by Saint-Venant for a thin strip (Roark's tables).
 */
double droop_body_mm(const sw_material *material, const droop_body *body, const droop_neck *necks, size_t n_necks);

/**
 * Thin plate by finite elements: rectangles of 12 unknowns (Adini and Clough 1960, Melosh 1963) on a grid.
 *
 * is_solid   width * height cells, 1 material
 * held       (width + 1) * (height + 1) grid points, 0 free, 1 cannot sink, 2 clamped
 * cell_mm    side of a cell
 * poisson    of the material
 * out_mm     sinking at every grid point, the caller's; 0 where there is no material
 *
 * Returns SW_OK, SW_CANNOT_HOLD (a part is not held), SW_NO_MEMORY. Meant for parts of up to some thousand cells:
 * work grows with cells * (shorter side)^2.
 */
SW_MUST_USE sw_status droop_plate(const sw_material *material, const uint8_t *is_solid, const uint8_t *held,
                                  size_t width, size_t height, double cell_mm, double poisson, double *out_mm,
                                  sw_note *note);

#endif
