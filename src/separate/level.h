/* One level of the pyramid that labels are settled on; private to src/separate/. */
#ifndef SW_SEPARATE_LEVEL_H
#define SW_SEPARATE_LEVEL_H

#include "separate/parts.h"

#define SW_MAX_LEVELS 12
#define SW_ROW_PX 128u /* most pixels of a row whose data terms are computed at a time */
#define SW_LANES 16u   /* pixels that are computed side by side: a count known to the compiler makes whole vectors */
#define SW_FINE 4      /* colours are held in quarters of a plane unit, so data terms in sixteenths of its square */

typedef struct sw_level {
    const sw_planes *planes;
    const uint8_t *weight; /* of the data term, at 1 / 2^weight_shift of the planes' size; NULL: 1 */
    size_t weight_shift;
    size_t index;          /* 0: the finest */
    /* of the data term, in units of 1 / SW_FINE and of its square */
    size_t n_labels;
    int32_t colour[SW_MAX_LABELS][SW_MAX_PLANES], bias[SW_MAX_LABELS], cap;
} sw_level;

typedef struct sw_pyramid {
    sw_planes planes[SW_MAX_LEVELS]; /* 0 is borrowed */
    uint8_t *weight[SW_MAX_LEVELS];  /* own, where coarser than the task's attention */
    sw_level at[SW_MAX_LEVELS];
    size_t n;
} sw_pyramid;

/** Zero *out before; half-built is freed by sw_pyramid_free. Points into itself: not to be copied. */
SW_MUST_USE sw_status sw_pyramid_make(const sw_label_task *task, size_t n, sw_pyramid *out, sw_note *note);
void sw_pyramid_free(sw_pyramid *pyramid);

/** Weight of one pixel. */
uint8_t sw_level_weight(const sw_level *level, size_t x, size_t y);
/** The largest of a rectangle. */
uint8_t sw_level_most_weight(const sw_level *level, size_t x, size_t y, size_t width, size_t height);

/** The task's cap_sq, no more than keeps data terms below 2^30. */
double sw_level_cap(const sw_label_task *task);

/** Data terms of n pixels of row y from x on: weight * (squared distance to each label's colour, less the least of
 *  them, at most the cap), in units of 1 / (SW_WEIGHT_ONE * SW_FINE^2). n <= SW_ROW_PX; n is rounded up to SW_LANES, and
 *  what lies beyond it means nothing. */
void sw_level_data(const sw_level *level, size_t x, size_t y, size_t n, int32_t out[SW_MAX_LABELS][SW_ROW_PX]);

/**
 * Give up whole regions where that lessens data terms plus lambda times boundary: threshold dynamics cannot, since a
 * straight band has no curvature and a speck is wider than the blur. Regions too small to be cut always go.
 * core_px  0: regions are whole. Else the parts of a region in which a square of 2 core_px + 1 does not fit are regions
 *          of their own: tails, necks, bands along an edge
 * label    in and out
 * Method: iterated conditional modes (Besag 1986) on the graph of regions, smallest first.
 */
SW_MUST_USE sw_status sw_regions_merge(const sw_label_task *task, const sw_level *level, size_t core_px,
                                       uint8_t *label, sw_note *note);

#endif
