/* A tile of the grid while labels are settled; private to src/separate/. */
#ifndef SW_SEPARATE_TILE_H
#define SW_SEPARATE_TILE_H

#include "separate/parts.h"

#define SW_TILE_W 64u /* most boundaries cross a tile: a small one has less beside them to look at */
#define SW_TILE_H 32u
/* Sides of the boxes. A straight boundary stays where the data terms beside it differ by less than 6 lambda / (side^2 - 1):
 * in a soft slope of tone a narrow blur leaves straight runs along rows and columns, joined by ramps, where the boundary
 * ought to follow the slope. So coarse levels begin with a wide blur and end with one that knows thin parts better; the
 * finest two have no need to reach far. Blurred by two boxes: deviation 6.1, 3.7 and 2 px. */
#define SW_BOX_WIDE 15u /* its square must fit 8 bits, its fourth power 16 */
#define SW_BOX_COARSE 9u
#define SW_BOX_FINE 5u
#define SW_TILE_PAD_H (SW_TILE_H + 2 * (SW_BOX_WIDE - 1))
#define SW_TILE_PITCH 128u /* of rows with their halo, and room for whole vectors */

/** Columns x0 to x1 - 1 of rows y0 to y1 - 1 of a tile; empty where x0 == x1. */
typedef struct sw_patch {
    uint8_t x0, y0, x1, y1;
} sw_patch;

/** A patch of the grid with a halo of box - 1 pixels, mirrored at the grid's edge, and the blurred indicators of its labels.
 *  Large: one a thread, on its stack. */
typedef struct sw_tile {
    size_t x, y, width, height; /* in the grid */
    size_t box, halo;
    size_t left, top;           /* where the halo begins in label */
    uint32_t present;           /* a bit for each label that occurs in it or its halo; filled by sw_tile_blur */
    uint8_t label[SW_TILE_PAD_H][SW_TILE_PITCH];
    uint16_t along[SW_TILE_PAD_H][SW_TILE_W], once[SW_TILE_PAD_H][SW_TILE_W];
    uint16_t blurred[SW_MAX_LABELS][SW_TILE_H][SW_TILE_W]; /* 0..box^4; of labels that are present only */
} sw_tile;

/** Labels of a pixel's row in the tile, from the pixel's own column on. */
static inline const uint8_t *sw_tile_row(const sw_tile *tile, size_t y)
{
    return &tile->label[tile->top + tile->halo + y][tile->left + tile->halo];
}

/** Load a patch of the tile at column x, row y of a grid of labels. */
void sw_tile_load(const uint8_t *label, size_t width, size_t height, size_t box, size_t x, size_t y, sw_patch patch,
                  sw_tile *out);

/** Narrow the tile to where a blur sees more than one label; height is 0 if that is nowhere. */
void sw_tile_crop(sw_tile *tile);

/** Blur the indicators of all labels that occur. */
void sw_tile_blur(sw_tile *tile);

/** After the blur: *begin to *end - 1 hold all pixels of a row of which it saw more than one label; whole vectors. */
void sw_tile_mixed(const sw_tile *tile, size_t y, size_t *begin, size_t *end);

#endif
