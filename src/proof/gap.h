/* Gaps: places where two stretches of edge face each other across a web or an opening; private to src/proof/. */
#ifndef SW_PROOF_GAP_H
#define SW_PROOF_GAP_H

#include "proof/cells.h"
#include "proof/chord.h"

enum { SW_PROOF_WEB = 0, SW_PROOF_OPENING = 1 };

/** Two chords facing each other. */
typedef struct sw_proof_gap {
    double width_mm;      /* 0: none */
    sw_pt_mm q, b;        /* the ends of the shortest way across */
    uint32_t chord, other;
} sw_proof_gap;

/** What the search asks for, by kind. */
typedef struct sw_proof_asked {
    double narrow_mm[2];  /* narrower than this is a fault */
    double search_mm[2];  /* how wide a neck is looked for to report the narrowest; less than 3 times narrow_mm */
} sw_proof_asked;

/** What the search found. Free with sw_proof_gaps_free. */
typedef struct sw_proof_gaps {
    size_t n_crossings;
    sw_pt_mm *crossings;     /* a place for every stretch that crosses a later one: the first on it */
    size_t n_crossing_places;
    sw_proof_gap *narrow[2]; /* of every chord that faces another across less than narrow_mm, its nearest; by chord */
    size_t n_narrow[2];
    sw_proof_gap neck[2];    /* the narrowest neck below search_mm */
} sw_proof_gaps;

SW_MUST_USE sw_status sw_proof_gaps_find(const sw_proof_shape *shape, const sw_proof_cells *cells,
                                         const sw_proof_asked *asked, sw_proof_gaps *out, sw_note *note);
void sw_proof_gaps_free(sw_proof_gaps *gaps);

/** Does a disc of this diameter that lies on one side of all edges reach the middle of the gap? Then the gap is a
 *  place where two corners come near each other, not a neck of that width. */
bool sw_proof_gap_is_reached(const sw_proof_shape *shape, const sw_proof_cells *cells, const sw_proof_gap *gap,
                             double diameter_mm);

#endif
