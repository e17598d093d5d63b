/* Finding what is narrow; private to src/sheet/. */
#ifndef SW_SHEET_NECK_H
#define SW_SHEET_NECK_H

#include "sheet/bits.h"

#define SW_SPIKE_RATIO 0.8      /* a corner of 45 degrees just is none */
#define SW_HAIRY_SPIKE_RATIO 1.5 /* with a hair that will be trimmed; beyond it is a line that ends there */

/** A growing list of pixels of a padded raster (row * 64 * words + column). */
typedef struct sw_pixels {
    uint32_t *at;
    size_t n, cap;
} sw_pixels;

SW_MUST_USE bool sw_pixels_add(sw_pixels *list, uint32_t pixel);

/** An offset within a disc, in order of distance. */
typedef struct sw_offset {
    int32_t dx, dy;
    uint32_t d2;
} sw_offset;

/** Room for one window: 1 byte a pixel, and lists as long as the narrow parts. Free with sw_narrow_free. */
typedef struct sw_narrow {
    sw_bits set;    /* in: what is looked at, openings or material; kept */
    sw_bits opened; /* the part of set that the disc covers */
    sw_bits core;   /* wide without doubt: pixels of places where the disc fits, or outside narrow parts nearly fits */
    sw_bits thin;   /* core and the middle lines of everything narrow */
    sw_bits narrow; /* all pixels of narrow parts, by the definition in sheet.h */
    sw_bits todo, mark;
    sw_bits firm;   /* set without its hairs */
    sw_pixels parts;  /* one pixel of each narrow part */
    sw_pixels list, contact, stretch, tips;
    uint32_t *parent, *height, *leaf; /* of the walk through a part; as long as list.cap */
    size_t walk_cap;
    size_t width_px; /* of the disc */
    sw_disc disc, waist_disc, hair_disc;
    bool has_hairs;     /* the grid is fine enough to tell hairs */
    bool can_trim;      /* in: hairs on corners will be trimmed */
    sw_offset *offsets; /* all within SW_HAIRY_SPIKE_RATIO of the width, nearest first */
    size_t n_offsets;
    bool is_eight;
    size_t n_cut;       /* parts that would be narrow but run out of the padded raster: not judged */
} sw_narrow;

SW_MUST_USE sw_status sw_narrow_make(size_t width_px, size_t height_px, size_t margin_px, sw_narrow *out,
                                     sw_note *note);
void sw_narrow_free(sw_narrow *room);

/** Which disc from now on; hair_px: the disc that does not fit into hairs, or 0: the grid is too coarse to tell.
 * Returns SW_OK, SW_NO_MEMORY. */
SW_MUST_USE sw_status sw_narrow_set_disc(sw_narrow *room, size_t diameter_px, size_t hair_px, sw_note *note);

/**
 * Find everything in room->set narrower than the disc; is_eight: set connects over corners (openings).
 *
 * Afterwards opened, core, narrow and parts are as described, and thin minus core holds a line, one pixel wide, along
 * the middle of each neck, each spike up to about half a disc from its tip, and each speck (at least one pixel).
 * Besides necks by the definition, thin also holds waists that a disc one pixel narrower does not pass: the place
 * between two round holes, where discs from both sides meet and so opening by the disc leaves nothing. (One pixel,
 * because on the grid a slanted bar just as wide as the disc lets it through only here and there.)
 * Spikes are parts that reach farther than SW_SPIKE_RATIO of the width: less than the definition, because a fitted
 * curve may sharpen a corner. A corner that is only so long because of a hair at its tip is none, if the hair is
 * trimmed or does not make it longer than the definition allows.
 * What lies outside the padded raster counts as set, as far as discs go; parts that reach its edge are not judged.
 * Returns SW_OK, SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_narrow_find(sw_narrow *room, bool is_eight, sw_note *note);

/** Is the pixel farther from opened than reach_px (up to SW_HAIRY_SPIKE_RATIO of the width)? */
bool sw_narrow_is_far(const sw_narrow *room, uint32_t pixel, double reach_px);

/** Squared distance from a pixel's centre to the nearest pixel not in set, or UINT32_MAX beyond the disc's width. */
uint32_t sw_narrow_depth(const sw_narrow *room, uint32_t pixel);

#endif
