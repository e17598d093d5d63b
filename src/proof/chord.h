/* Two chords: do they meet, how near are they, and on which side of a ring a direction goes; private to src/proof/. */
#ifndef SW_PROOF_CHORD_H
#define SW_PROOF_CHORD_H

#include <math.h>

#include "proof/shape.h"

#define SW_PROOF_TOUCH_MM 1e-7 /* nearer than this is touching; coordinates are whole multiples of 1e-3 */

/** Lengths here are between a micrometre and 200 m: no need for hypot's care with huge and tiny numbers, which cost a
 *  sixth of a whole job. */
static inline double sw_proof_length(double dx, double dy) { return sqrt(dx * dx + dy * dy); }

/** Where two chords are nearest: q on the first, at q_ratio of its length, b on the second. */
typedef struct sw_proof_near {
    double apart_mm;
    double q_ratio, b_ratio; /* exactly 0 and 1 at the ends */
    sw_pt_mm q, b;
} sw_proof_near;

/** True when a-b and c-d have a point in common, or all but. */
bool sw_proof_chords_meet(sw_pt_mm a, sw_pt_mm b, sw_pt_mm c, sw_pt_mm d);

/** The same for chords i and k of a shape. The node that neighbours on a ring share is no meeting; a ring that turns
 *  back along itself is. */
bool sw_proof_pair_meets(const sw_proof_shape *shape, size_t i, size_t k);

/** Nearest points of two chords that do not cross. */
sw_proof_near sw_proof_nearest(const sw_proof_shape *shape, size_t i, size_t k);

/** The ways from each end of either chord to the nearest point of the other, all as from i to k. */
void sw_proof_from_ends(const sw_proof_shape *shape, size_t i, size_t k, sw_proof_near out[4]);

/** From a point to the nearest point of chord i. */
double sw_proof_distance_mm(const sw_proof_shape *shape, size_t i, sw_pt_mm p);

/** From the point at ratio of chord i, does the direction u go into the opening (1), into the material (-1), or along
 *  the edge (0)? Exact also at corners. The outline has material inside and counts what is around it as open. */
int sw_proof_leads_into(const sw_proof_shape *shape, size_t i, double ratio, sw_pt_mm u);

/** Going along the ring either way from the point at ratio of chord i: does that lead nearer to what lies in
 *  direction u? */
bool sw_proof_is_nearer_along(const sw_proof_shape *shape, size_t i, double ratio, sw_pt_mm u);

#endif
