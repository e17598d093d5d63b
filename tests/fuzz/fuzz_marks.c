/* Fuzz target: marks painted over a picture. Only known bits come out, each grid pixel by the rule of the door: that of
 * the nearest pixel, read here in plain code. Bytes: width, height, grid width, grid height, then colours. */
#include "separate/separate.h"
#include "replay.h"

#include <stdlib.h>

static uint8_t plain_mark(sw_rgb8 c)
{
    if (c.g >= 190 && c.r <= 90 && c.b <= 90) return SW_MARK_DETAIL;
    if (c.r >= 190 && c.g <= 90 && c.b <= 90) return SW_MARK_NO_BRIDGE;
    if (c.b >= 190 && c.r <= 90 && c.g <= 90) return SW_MARK_BRIDGE;
    return 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    sw_picture painted = { 0 };
    sw_marks marks = { 0 };
    sw_note note = { { 0 } };
    if (n < 5) return 0;
    const sw_grid grid = { 1u + bytes[2] % 64u, 1u + bytes[3] % 64u, 2.0 };
    if (sw_picture_make(1u + bytes[0] % 64u, 1u + bytes[1] % 64u, (sw_rgb8){ 255, 255, 255 }, &painted, &note) != SW_OK) abort();
    for (size_t i = 0; i < painted.width_px * painted.height_px; i++) { /* six bits a colour, stretched over the range */
        const uint8_t b = bytes[4 + i % (n - 4)];
        painted.at[i] = (sw_rgb8){ (uint8_t)((b & 3) * 85), (uint8_t)((b >> 2 & 3) * 85), (uint8_t)((b >> 4 & 3) * 85) };
    }
    const sw_status st = sw_marks_from_picture(&painted, &grid, &marks, &note);
    if (st != SW_OK && (marks.at != NULL || note.text[0] == '\0')) abort();
    const bool is_same_size = painted.width_px == grid.width_px && painted.height_px == grid.height_px;
    for (size_t i = 0; st == SW_OK && i < grid.width_px * grid.height_px; i++) {
        if (marks.at[i] > SW_MARK_BRIDGE || (marks.at[i] & (marks.at[i] - 1u)) != 0) abort();
        if (is_same_size && marks.at[i] != plain_mark(painted.at[i])) abort();
    }
    sw_marks_free(&marks);
    sw_picture_free(&painted);
    return 0;
}
