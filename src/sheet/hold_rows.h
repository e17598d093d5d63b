/* What the files of the net of beams share: the beams between its nodes, and their equations after elimination, which the
 * solver leaves and hold_probe.c asks. Private to src/sheet/hold_*.c. */
#ifndef SW_SHEET_HOLD_ROWS_H
#define SW_SHEET_HOLD_ROWS_H

#include "sheet/hold.h"

#define HOLD_MODES 3u

/* A block beside the diagonal. */
typedef struct hold_block {
    uint32_t to;
    double k[9];
} hold_block;

typedef struct hold_row {
    hold_block *at;    /* by to, rising; after elimination those that were left then */
    size_t n, cap;
    double ground[9];  /* what holds it to the root, of rows eliminated so far too */
    double d[9], f[3]; /* after elimination the diagonal's inverse; load */
    size_t turn;       /* of elimination */
    bool is_done;
} hold_row;

/* Widths of all slices, and the beams between nodes whose cells touch; false when memory is out. */
bool hold_beams_make(hold_net *net, double slice_mm);

/* How a beam bends and twists: the energy of mode i is rigidity[i] / 2 * (g[i] . unknowns)^2, for the three unknowns of a
 * and then of b. A bent beam is two modes: ends turned against each other (constant moment), and ends displaced against
 * the mean of their slopes (constant shear); the third is twist. */
void hold_link_modes(const hold_net *net, const hold_link *link, double rigidity[HOLD_MODES], double g[HOLD_MODES][6]);

/* Inverse of a symmetric 3 x 3 block; zero if it has none. */
void hold_invert(double d[9]);

#endif
