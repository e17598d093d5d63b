/* Chords that follow each other along a ring, in stretches that bend little, and a grid of cells to find those that are
 * near; private to src/proof/. */
#ifndef SW_PROOF_CELLS_H
#define SW_PROOF_CELLS_H

#include "proof/shape.h"

/** Chords of a stretch, and of stretches after it that are calm beside it, go on by at least this much of their length in
 *  one direction, the stretch's own. */
#define SW_PROOF_CALM_RATIO 0.6

#define SW_PROOF_STRETCH_MOST 32u /* chords */

/** Chords first .. first + n - 1 of one ring. */
typedef struct sw_proof_stretch {
    uint32_t first, n, ring;
    uint32_t n_calm;     /* so many stretches after it along the ring are calm beside it */
    double length_mm;
    sw_pt_mm lo, hi;     /* the box of its chords */
} sw_proof_stretch;

/** Cell c holds stretches stretch[first[c]] .. stretch[first[c + 1] - 1]; cells of a row follow each other. About 10 bytes a
 *  chord. */
typedef struct sw_proof_cells {
    sw_proof_stretch *stretches; /* along the rings, one ring after the other */
    size_t n_stretches, cap_stretches;
    uint32_t *ring_first;        /* each ring's first stretch, and one past the last */
    double size_mm, x0_mm, y0_mm;
    size_t n_x, n_y;
    uint32_t *first, *stretch;
} sw_proof_cells;

/** A block of cells, inclusive. */
typedef struct sw_proof_block {
    size_t x0, y0, x1, y1;
} sw_proof_block;

/** shape needs at least one point. Returns SW_OK, SW_NO_MEMORY; *out is freed by sw_proof_cells_free. */
SW_MUST_USE sw_status sw_proof_cells_make(const sw_proof_shape *shape, sw_proof_cells *out, sw_note *note);
void sw_proof_cells_free(sw_proof_cells *cells);

/** Cells that hold all stretches with a point within reach_mm of the box lo, hi. */
sw_proof_block sw_proof_cells_around(const sw_proof_cells *cells, sw_pt_mm lo, sw_pt_mm hi, double reach_mm);

/** Are two stretches the same, or calm beside each other? Then none of their chords meet, but where they follow each other,
 *  and the way along the ring between two places on them is at most 1 / SW_PROOF_CALM_RATIO of what they are apart. */
bool sw_proof_are_calm(const sw_proof_cells *cells, size_t a, size_t b);

#endif
