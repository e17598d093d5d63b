/* Fuzz target: any map of labels becomes sheets, and the material of every window is one piece with its edge: what the
 * bridges are for. Told by a flood of plain code. Bytes: width, height, passes and windows, widths, then labels, a byte
 * a block of 4 x 4 pixels. */
#include "sheet/sheet.h"
#include "replay.h"

#include <stdlib.h>
#include <string.h>

#define BLOCK_PX 4u

static void must(bool ok)
{
    if (!ok) abort();
}

/* Material of the window that no way over sides joins to the window's edge. */
static size_t count_fallen(const sw_mask *openings, sw_rect_px w)
{
    uint8_t *const seen = sw_alloc_array(w.width * w.height, 1);
    size_t *const todo = sw_alloc_array(w.width * w.height, sizeof *todo);
    size_t n = 0, n_fallen = 0;
    must(seen != NULL && todo != NULL);
    for (size_t i = 0; i < w.width * w.height; i++) {
        const size_t x = i % w.width, y = i / w.width;
        if (openings->at[(w.y + y) * openings->width_px + w.x + x] != 0) seen[i] = 2;
        else if (x == 0 || y == 0 || x + 1 == w.width || y + 1 == w.height) seen[i] = 1, todo[n++] = i;
    }
    while (n > 0) {
        const size_t i = todo[--n], x = i % w.width, y = i / w.width;
        if (x > 0 && seen[i - 1] == 0) seen[i - 1] = 1, todo[n++] = i - 1;
        if (x + 1 < w.width && seen[i + 1] == 0) seen[i + 1] = 1, todo[n++] = i + 1;
        if (y > 0 && seen[i - w.width] == 0) seen[i - w.width] = 1, todo[n++] = i - w.width;
        if (y + 1 < w.height && seen[i + w.width] == 0) seen[i + w.width] = 1, todo[n++] = i + w.width;
    }
    for (size_t i = 0; i < w.width * w.height; i++) n_fallen += seen[i] == 0;
    sw_free(seen);
    sw_free(todo);
    return n_fallen;
}

static void take_labels(const uint8_t *bytes, size_t n, sw_separation *s)
{
    const size_t columns = (s->grid.width_px + BLOCK_PX - 1) / BLOCK_PX;
    for (size_t y = 0; y < s->grid.height_px; y++)
        for (size_t x = 0; x < s->grid.width_px; x++) {
            const uint8_t b = bytes[(y / BLOCK_PX * columns + x / BLOCK_PX) % n];
            s->label[y * s->grid.width_px + x] = (uint8_t)(b % (s->n_passes + 1));
            s->salience[y * s->grid.width_px + x] = b;
        }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    if (n < 6 || n > 1024) return 0;
    sw_threads_set(1);
    sw_separation s = { .grid = { BLOCK_PX * (4u + bytes[0] % 24u), BLOCK_PX * (4u + bytes[1] % 24u), 2.0 }, .n_passes = 1u + bytes[2] % 3u };
    for (size_t k = 0; k <= SW_MAX_PASSES; k++) s.colour[k] = (sw_rgb8){ (uint8_t)(255 - 80 * k % 256), (uint8_t)(40 * k), 90 };
    s.label = sw_alloc_array(s.grid.width_px * s.grid.height_px, 1);
    s.salience = sw_alloc_array(s.grid.width_px * s.grid.height_px, 1);
    must(s.label != NULL && s.salience != NULL);
    take_labels(bytes + 5, n - 5, &s);
    const size_t half = s.grid.width_px / 2;
    sw_rect_px two[2] = { { 0, 0, half, s.grid.height_px }, { half, 0, s.grid.width_px - half, s.grid.height_px } };
    sw_rect_px one = { 0, 0, s.grid.width_px, s.grid.height_px };
    const bool is_split = (bytes[2] & 128) != 0;
    sw_windows windows[SW_MAX_PASSES];
    for (size_t k = 0; k < SW_MAX_PASSES; k++) windows[k] = (sw_windows){ .at = is_split ? two : &one, .n = is_split ? 2 : 1 };
    const sw_sheet_opts opts = { .min_opening_mm = 1.0 + (bytes[3] & 7) / 2.0, .min_web_mm = 1.0 + (bytes[3] >> 3 & 7) / 2.0,
                                 .slack_mm = 0.1, .trap_mm = (bytes[3] >> 6) / 2.0, .droop_mm = bytes[4] % 8, .windows = windows };
    sw_sheets sheets = { 0 };
    sw_note note = { { 0 } };
    must(sw_sheets_make(&s, NULL, &opts, NULL, &sheets, &note) == SW_OK);
    for (size_t i = 0; i < sheets.n; i++) {
        must(sheets.at[i].is_one_piece);
        for (size_t k = 0; k < windows[i].n; k++) must(count_fallen(&sheets.at[i].openings, windows[i].at[k]) == 0);
    }
    sw_sheets_free(&sheets);
    sw_free(s.label);
    sw_free(s.salience);
    return 0;
}
