/* Exif orientation 1..8 applied: mirrored, turned, or both. Into a second raster of 3 bytes a pixel, in tiles, so that
 * a quarter turn reads whole cache lines. */
#include "picture/raster.h"

#define TILE 32

typedef struct turn {
    const sw_rgb8 *in;
    sw_rgb8 *out;
    size_t in_width, in_height, out_width;
    bool is_swapped, is_x_flipped, is_y_flipped; /* of the source coordinates, after swapping */
} turn;

static void turn_band(size_t begin, size_t end, void *ctx)
{
    const turn *const t = ctx;
    for (size_t tile = 0; tile < t->out_width; tile += TILE) {
        const size_t tile_end = sw_min_size(tile + TILE, t->out_width);
        for (size_t y = begin; y < end; y++) {
            for (size_t x = tile; x < tile_end; x++) {
                size_t from_x = t->is_swapped ? y : x, from_y = t->is_swapped ? x : y;
                if (t->is_x_flipped) from_x = t->in_width - 1 - from_x;
                if (t->is_y_flipped) from_y = t->in_height - 1 - from_y;
                t->out[y * t->out_width + x] = t->in[from_y * t->in_width + from_x];
            }
        }
    }
}

sw_status sw_picture_turn(sw_picture *picture, int orientation, sw_note *note)
{
    if (orientation <= 1 || orientation > 8) return SW_OK;
    const bool is_swapped = sw_orientation_swaps(orientation);
    const size_t width = is_swapped ? picture->height_px : picture->width_px;
    const size_t height = is_swapped ? picture->width_px : picture->height_px;
    sw_picture made = { 0 };
    SW_TRY(sw_picture_alloc(width, height, &made, note));
    turn t = { .in = picture->at,
               .out = made.at,
               .in_width = picture->width_px,
               .in_height = picture->height_px,
               .out_width = width,
               .is_swapped = is_swapped,
               .is_x_flipped = orientation == 2 || orientation == 3 || orientation == 7 || orientation == 8,
               .is_y_flipped = orientation == 3 || orientation == 4 || orientation == 6 || orientation == 7 };
    sw_parallel_rows(height, turn_band, &t);
    sw_rgb8 *const at = made.at;
    made = *picture;
    made.at = at;
    if (is_swapped) {
        made.width_px = width;
        made.height_px = height;
        made.source_width_px = picture->source_height_px;
        made.source_height_px = picture->source_width_px;
        made.x_px_per_mm = picture->y_px_per_mm;
        made.y_px_per_mm = picture->x_px_per_mm;
    }
    sw_picture_free(picture);
    *picture = made;
    return SW_OK;
}
