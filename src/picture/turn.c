/* Exif orientation 1..8 applied: mirrored, turned, or both. Into a second raster of 3 bytes a pixel, in tiles, so that
 * a quarter turn reads whole cache lines. */
#include "picture/raster.h"

#define TILE 32

/* Target (x, y) comes from source pixel first + x * step_x + y * step_y. */
typedef struct turn {
    const sw_rgb8 *first;
    ptrdiff_t step_x, step_y;
    sw_rgb8 *out;
    size_t out_width;
} turn;

static void turn_band(size_t begin, size_t end, void *ctx)
{
    const turn *const t = ctx;
    const ptrdiff_t step = t->step_x;
    for (size_t tile = 0; tile < t->out_width; tile += TILE) {
        const size_t n = sw_min_size(TILE, t->out_width - tile);
        for (size_t y = begin; y < end; y++) {
            const sw_rgb8 *from = t->first + (ptrdiff_t)tile * step + (ptrdiff_t)y * t->step_y;
            sw_rgb8 *const to = t->out + y * t->out_width + tile;
            for (size_t x = 0; x < n; x++) to[x] = from[(ptrdiff_t)x * step];
        }
    }
}

/* Orientation 1..8: is the source read from its right, from its bottom? (Exif names where row 0 and column 0 go.) */
static turn plan(const sw_picture *in, int orientation)
{
    const bool is_from_right = orientation == 2 || orientation == 3 || orientation == 7 || orientation == 8;
    const bool is_from_bottom = orientation == 3 || orientation == 4 || orientation == 6 || orientation == 7;
    const ptrdiff_t width = (ptrdiff_t)in->width_px;
    const ptrdiff_t along_row = is_from_right ? -1 : 1, along_column = is_from_bottom ? -width : width;
    const size_t x = is_from_right ? in->width_px - 1 : 0, y = is_from_bottom ? in->height_px - 1 : 0;
    const bool is_swapped = sw_orientation_swaps(orientation);
    return (turn){ .first = in->at + y * in->width_px + x,
                   .step_x = is_swapped ? along_column : along_row,
                   .step_y = is_swapped ? along_row : along_column };
}

sw_status sw_picture_turn(sw_picture *picture, int orientation, sw_note *note)
{
    if (orientation <= 1 || orientation > 8) return SW_OK;
    const bool is_swapped = sw_orientation_swaps(orientation);
    const size_t width = is_swapped ? picture->height_px : picture->width_px;
    const size_t height = is_swapped ? picture->width_px : picture->height_px;
    sw_picture made = { 0 };
    SW_TRY(sw_picture_alloc(width, height, &made, note));
    turn t = plan(picture, orientation);
    t.out = made.at;
    t.out_width = width;
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
