/* Rasters of one bit a pixel with room around them, and discs moved over them; private to src/sheet/. */
#ifndef SW_SHEET_BITS_H
#define SW_SHEET_BITS_H

#include "sheet/sheet.h"

#define SW_DISC_MAX_PX 508u /* widest disc, in pixels */

/** A disc as a set of pixel offsets: rows -reach..reach with a half width each. */
typedef struct sw_disc {
    size_t reach;                             /* rows above and below the middle */
    size_t half_px[SW_DISC_MAX_PX / 2 + 2];   /* columns left and right of the middle, by row distance */
    bool is_even;                             /* the middle is a corner between pixels */
} sw_disc;

/** The closed disc of a whole diameter of 1..SW_DISC_MAX_PX pixels: centred on a pixel if odd, on a corner if even, so
 *  that a bar of diameter_px pixels holds it and one of diameter_px - 1 does not. */
sw_disc sw_disc_of_diameter(size_t diameter_px);

/** Pixels whose centres are at most radius_px (up to SW_DISC_MAX_PX / 2) from the middle pixel's centre. */
sw_disc sw_disc_of_radius(double radius_px);

/**
 * A window of a raster with a margin on all sides. Bit i of word j of a row is column 64 * j + i of the padded
 * raster. 1/8 byte a pixel. Free with sw_bits_free.
 */
typedef struct sw_bits {
    size_t words, rows;       /* padded size: 64 * words columns */
    size_t pad_x, pad_y;      /* where the window begins */
    size_t width_px, height_px; /* of the window */
    uint64_t *at;
} sw_bits;

/** All zero; the margin is at least margin_px. */
SW_MUST_USE sw_status sw_bits_make(size_t width_px, size_t height_px, size_t margin_px, sw_bits *out, sw_note *note);
void sw_bits_free(sw_bits *bits);

/** Set the window from bytes: bit = (byte >= low && byte <= high). The margin becomes margin. */
void sw_bits_from_bytes(sw_bits *bits, const uint8_t *at, size_t stride, uint8_t low, uint8_t high, bool margin);
/** The window to bytes, 0 or 1. */
void sw_bits_to_bytes(const sw_bits *bits, uint8_t *at, size_t stride);

static inline bool sw_bit(const sw_bits *bits, size_t x, size_t y)
{
    return (bits->at[y * bits->words + x / 64] >> (x % 64) & 1u) != 0;
}
static inline void sw_bit_set(sw_bits *bits, size_t x, size_t y)
{
    bits->at[y * bits->words + x / 64] |= (uint64_t)1 << (x % 64);
}
static inline void sw_bit_clear(sw_bits *bits, size_t x, size_t y)
{
    bits->at[y * bits->words + x / 64] &= ~((uint64_t)1 << (x % 64));
}

typedef enum sw_disc_side {
    SW_DISC_PIXELS = 0,   /* odd discs: pixels to pixels */
    SW_DISC_TO_CORNERS,   /* even discs: pixels to the corners at their top left */
    SW_DISC_FROM_CORNERS
} sw_disc_side;

/** out = in grown by the disc; what would come from outside the padded raster counts as 0. flip_in and flip_out
 *  complement on the way, so that both set make an erosion. Same bytes for any thread count. in and out differ. */
void sw_bits_dilate(const sw_bits *in, const sw_disc *disc, sw_disc_side side, bool flip_in, bool flip_out,
                    sw_bits *out);

/** middles = places where the disc fits into set (set complemented first if is_flipped); opened = their discs. */
void sw_bits_open(const sw_bits *set, bool is_flipped, const sw_disc *disc, sw_bits *middles, sw_bits *opened);

#endif
