/* Thinning that keeps connections; private to src/sheet/. */
#ifndef SW_SHEET_THIN_H
#define SW_SHEET_THIN_H

#include "sheet/bits.h"

/**
 * Take away pixels of set, layer by layer from its edge, as long as no part of it breaks, joins or vanishes; pixels of
 * keep stay. What is left outside keep are the lines that connect kept places, one pixel wide, near the middle.
 * is_eight: set connects over corners and its complement over sides; else the other way round.
 *
 * Pixels at the edge of the padded raster should be in keep or not in set. Returns SW_OK, SW_NO_MEMORY (set is then
 * half thinned). 12 bytes a word of 64 pixels that has something to take. Same bytes for any thread count.
 * Pixels of one parity of row and column are no neighbours, so all simple ones among them may go at once.
 */
SW_MUST_USE sw_status sw_bits_thin(sw_bits *set, const sw_bits *keep, bool is_eight, sw_note *note);

#endif
