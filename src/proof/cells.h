/* Chords sorted into the cells of a uniform grid by their middles; private to src/proof/. */
#ifndef SW_PROOF_CELLS_H
#define SW_PROOF_CELLS_H

#include "proof/shape.h"

/** Cell c holds entries first[c] .. first[c + 1] - 1; cells of a row follow each other. 24 bytes a chord. */
typedef struct sw_proof_cells {
    double size_mm, x0_mm, y0_mm;
    size_t n_x, n_y;
    size_t *first;
    uint32_t *chord;
    float *x_mm, *y_mm, *half_mm; /* middle relative to x0, y0 and half length of each entry's chord */
} sw_proof_cells;

/** A block of cells, inclusive. */
typedef struct sw_proof_block {
    size_t x0, y0, x1, y1;
} sw_proof_block;

/** shape needs at least one point. Returns SW_OK, SW_NO_MEMORY; *out is freed by sw_proof_cells_free. */
SW_MUST_USE sw_status sw_proof_cells_make(const sw_proof_shape *shape, sw_proof_cells *out, sw_note *note);
void sw_proof_cells_free(sw_proof_cells *cells);

/** Cells that hold all chords with a point within reach_mm of p. */
sw_proof_block sw_proof_cells_around(const sw_proof_cells *cells, sw_pt_mm p, double reach_mm);

#endif
