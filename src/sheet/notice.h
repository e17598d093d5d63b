/* How much an error is noticed where it is; private to src/sheet/. */
#ifndef SW_SHEET_NOTICE_H
#define SW_SHEET_NOTICE_H

#include "sheet/sheet.h"

#define SW_NOTICE_ONE 16u /* an error where nobody looks, close to an edge of the picture */
#define SW_NOTICE_LEVELS 16u

/** Weights of errors in parts of SW_NOTICE_ONE. Free with sw_notice_free. */
typedef struct sw_notice {
    const uint8_t *salience; /* the separation's, borrowed */
    uint8_t *calm;           /* of squares of 2^shift pixels a side, wide in a row: 0 .. SW_NOTICE_LEVELS - 1 */
    size_t width_px, wide;
    unsigned shift;
    uint8_t weight_of[SW_NOTICE_LEVELS][256]; /* by calm and salience */
} sw_notice;

/**
 * An error weighs more where a viewer looks, and more where it is calm, away from all edges between colours.
 *
 * width_px   of a bridge: how far from an edge counts as calm is told in widths, above 0
 * out        untouched unless SW_OK
 *
 * Returns SW_OK, SW_NO_MEMORY. A byte for each square of two fifths of a width and less, 6 while it works. Same bytes
 * for any thread count.
 * Method: a line is easier to see the longer it is (Lamar, Hecht, Shlaer and Hendley 1947: long thin targets), and edges
 * near it hide it (contrast masking, Legge and Foley 1980). How far they do and by how much is ours.
 */
SW_MUST_USE sw_status sw_notice_make(const sw_separation *separation, double width_px, sw_notice *out, sw_note *note);
void sw_notice_free(sw_notice *notice);

/** The weight at a pixel of the grid. */
static inline uint32_t sw_notice_at(const sw_notice *notice, size_t x, size_t y)
{
    const uint8_t calm = notice->calm[(y >> notice->shift) * notice->wide + (x >> notice->shift)];
    return notice->weight_of[calm][notice->salience[y * notice->width_px + x]];
}

#endif
