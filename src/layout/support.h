/* How far an opening reaches in every direction, in a few numbers: what tells at once that it is no copy of another. */
#ifndef SW_LAYOUT_SUPPORT_H
#define SW_LAYOUT_SUPPORT_H

#include "layout/edge.h"

#define SUPPORT_LEAST 2u /* harmonics from this one on */
#define SUPPORT_N 8u     /* how many */

/** Of the support function of an edge's hull, mm: its mean and Fourier coefficients. */
typedef struct support {
    double mean;
    double re[SUPPORT_N], im[SUPPORT_N], size[SUPPORT_N]; /* size: the absolute value */
} support;

/** From an edge of three corners at least. False when memory is out. */
SW_MUST_USE bool support_fill(const edge *e, support *out);

/** False if no motion, mirrored or not, brings each edge within t_mm of the other. */
bool support_may_match(const support *a, const support *b, double t_mm);

/** False if no turn and shift of a, flipped before if is_mirrored, does. */
bool support_may_turn(const support *a, const support *b, bool is_mirrored, double t_mm);

#endif
