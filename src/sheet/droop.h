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
