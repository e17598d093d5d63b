/* Tiles: labels with a halo, and the blurred indicator of each. Bytes while sums fit: a vector holds twice as many. */
#include <assert.h>
#include <string.h>

#include "separate/level.h"
#include "separate/tile.h"

/* The inner loops are a few vector instructions long once unrolled, which gcc 12 does at -O3 only. */
#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC optimize("O3")
#endif

#define WHOLE 32u /* widest vector of bytes; loops run to a multiple of it, over what is there beyond the tile */


static size_t whole_vectors(size_t n) { return (n + WHOLE - 1) / WHOLE * WHOLE; }

/* ---- loading --------------------------------------------------------------------------------------------------- */

/* Mirrored about the edge between pixels; a grid narrower than the halo is folded again and again. */
static size_t mirror(ptrdiff_t at, size_t n)
{
    const ptrdiff_t period = 2 * (ptrdiff_t)n;
    ptrdiff_t i = at % period;
    if (i < 0) i += period;
    return (size_t)(i < (ptrdiff_t)n ? i : period - 1 - i);
}

void sw_tile_load(const uint8_t *label, size_t width, size_t height, size_t box, size_t x, size_t y, sw_patch patch,
                  sw_tile *t)
{
    t->box = box;
    t->halo = box - 1;
    t->x = x + patch.x0;
    t->y = y + patch.y0;
    t->width = (size_t)patch.x1 - patch.x0;
    t->height = (size_t)patch.y1 - patch.y0;
    t->left = t->top = 0;
    const size_t pad_w = t->width + 2 * t->halo;
    const bool is_inside = t->x >= t->halo && t->x + t->width + t->halo <= width;
    assert(t->width > 0 && t->width <= SW_TILE_W && t->height <= SW_TILE_H && box <= SW_BOX_WIDE);
    for (size_t v = 0; v < t->height + 2 * t->halo; v++) {
        const uint8_t *const row = label + mirror((ptrdiff_t)(t->y + v) - (ptrdiff_t)t->halo, height) * width;
        uint8_t *const out = t->label[v];
        if (is_inside) memcpy(out, row + t->x - t->halo, pad_w);
        else
            for (size_t u = 0; u < pad_w; u++) out[u] = row[mirror((ptrdiff_t)(t->x + u) - (ptrdiff_t)t->halo, width)];
    }
}

/* ---- cropping --------------------------------------------------------------------------------------------------- */

/* Pixels begin..end - 1 of n, rounded out to whole vectors, have one of the places first..last in their windows; places
 * count the halo. */
static void reach_of(size_t first, size_t last, size_t halo, size_t n, size_t *begin, size_t *end)
{
    *begin = (first > 2 * halo ? first - 2 * halo : 0) / SW_LANES * SW_LANES;
    *end = sw_min_size((last / SW_LANES + 1) * SW_LANES, n);
}

/* column[x] and row[y]: whether a label there differs from the one to its left or from the one above. */
SW_WIDE static void find_edges(const sw_tile *t, uint8_t column[SW_TILE_PITCH], uint8_t row[SW_TILE_PAD_H])
{
    const size_t pad_w = t->width + 2 * t->halo, pad_h = t->height + 2 * t->halo;
    memset(column, 0, SW_TILE_PITCH);
    for (size_t y = 0; y < pad_h; y++) {
        const uint8_t *const here = &t->label[t->top + y][t->left], *const above = y == 0 ? here : here - SW_TILE_PITCH;
        uint8_t any = here[0] ^ above[0];
        column[0] |= any;
        for (size_t x = 1; x < pad_w; x++) {
            const uint8_t differs = (uint8_t)((here[x] ^ here[x - 1]) | (here[x] ^ above[x]));
            column[x] |= differs;
            any |= differs;
        }
        row[y] = any;
    }
}

void sw_tile_crop(sw_tile *t)
{
    const size_t pad_w = t->width + 2 * t->halo, pad_h = t->height + 2 * t->halo;
    uint8_t column[SW_TILE_PITCH], row[SW_TILE_PAD_H];
    size_t left = 0, right = pad_w, top = 0, bottom = pad_h, begin = 0, end = 0;
    find_edges(t, column, row);
    while (top < bottom && row[top] == 0) top++;
    if (top == bottom) {
        t->height = 0;
        return;
    }
    while (row[bottom - 1] == 0) bottom--;
    while (column[left] == 0) left++;
    while (column[right - 1] == 0) right--;
    reach_of(left, right - 1, t->halo, t->width, &begin, &end);
    t->x += begin;
    t->left += begin;
    t->width = end - begin;
    reach_of(top, bottom - 1, t->halo, t->height, &begin, &end);
    t->y += begin;
    t->top += begin;
    t->height = end - begin;
}

/* ---- blurring --------------------------------------------------------------------------------------------------- */

SW_WIDE static uint32_t labels_of(const sw_tile *t)
{
    uint32_t seen = 0;
    for (size_t y = 0; y < t->height + 2 * t->halo; y++) {
        const uint8_t *const row = &t->label[t->top + y][t->left];
        for (size_t x = 0; x < t->width + 2 * t->halo; x++) seen |= 1u << row[x];
    }
    return seen;
}

/* out[i] = in[i] + in[i + gap] + ... , count of them. n is rounded up to whole vectors. */
static inline void add_up(const uint8_t *restrict in, size_t gap, uint8_t *restrict out, size_t n, size_t count)
{
    for (size_t begin = 0; begin < n; begin += WHOLE) {
        for (size_t i = begin; i < begin + WHOLE; i++) {
            unsigned sum = 0;
            for (size_t k = 0; k < count; k++) sum += in[i + k * gap]; /* NOLINT: the analyser loses what loops fill */
            out[i] = (uint8_t)sum;
        }
    }
}

/* Sums of `box` neighbours along a row. A box of 9 or 15 is three of 3 or 5 side by side. Counts are known where this is
 * compiled, so inner loops are unrolled. */
static inline void box_row(const uint8_t *restrict in, uint8_t *restrict out, size_t n, size_t box)
{
    uint8_t part[2 * SW_TILE_PITCH];
    if (box == SW_BOX_FINE) {
        add_up(in, 1, out, n, SW_BOX_FINE);
    } else if (box == SW_BOX_COARSE) {
        add_up(in, 1, part, n + 6, 3);
        add_up(part, 3, out, n, 3);
    } else {
        add_up(in, 1, part, n + 10, 5);
        add_up(part, 5, out, n, 3);
    }
}

/* Sums of `box` neighbours along columns: what comes in below is added, what goes out above is taken away. */
static inline void box_columns(const uint16_t (*restrict in)[SW_TILE_W], uint16_t (*restrict out)[SW_TILE_W], size_t width,
                               size_t n_rows, size_t box)
{
    memcpy(out[0], in[0], sizeof out[0]);
    for (size_t y = 1; y < box; y++) {
        for (size_t x = 0; x < width; x++) out[0][x] = (uint16_t)(out[0][x] + in[y][x]);
    }
    for (size_t y = 1; y < n_rows; y++) {
        for (size_t x = 0; x < width; x++) out[y][x] = (uint16_t)(out[y - 1][x] + in[y + box - 1][x] - in[y - 1][x]);
    }
}

SW_WIDE static void blur_one(sw_tile *t, uint8_t label)
{
    const size_t wide = whole_vectors(t->width), pad_w = whole_vectors(t->width + 2 * t->halo);
    const size_t pad_h = t->height + 2 * t->halo;
    /* rows are longer than what is summed, and what lies beyond the tile is never looked at */
    uint8_t is_label[4 * SW_TILE_PITCH] = { 0 }, flat[4 * SW_TILE_PITCH] = { 0 }, sum[SW_TILE_PITCH];
    for (size_t y = 0; y < pad_h; y++) {
        const uint8_t *const row = &t->label[t->top + y][t->left];
        for (size_t x = 0; x < pad_w; x++) is_label[x] = row[x] == label;
        box_row(is_label, flat, pad_w, t->box);
        box_row(flat, sum, wide, t->box);
        for (size_t x = 0; x < wide; x++) t->along[y][x] = sum[x];
    }
    box_columns((const uint16_t (*)[SW_TILE_W])t->along, t->once, wide, pad_h - t->halo, t->box);
    box_columns((const uint16_t (*)[SW_TILE_W])t->once, t->blurred[label], wide, t->height, t->box);
}

/* All indicators together are 1 everywhere: the last is what the others leave. */
SW_WIDE static void blur_last(sw_tile *t, uint8_t last)
{
    const unsigned full = (unsigned)(t->box * t->box * t->box * t->box);
    for (size_t y = 0; y < t->height; y++) {
        uint16_t *const out = t->blurred[last][y];
        for (size_t x = 0; x < SW_TILE_W; x++) out[x] = (uint16_t)full;
        for (uint8_t label = 0; label < last; label++) {
            if ((t->present >> label & 1u) == 0) continue;
            for (size_t x = 0; x < SW_TILE_W; x++) out[x] = (uint16_t)(out[x] - t->blurred[label][y][x]);
        }
    }
}

void sw_tile_blur(sw_tile *t)
{
    t->present = labels_of(t);
    uint8_t label = 0;
    for (; t->present >> label > 1u; label++) {
        if ((t->present >> label & 1u) != 0) blur_one(t, label);
    }
    blur_last(t, label);
}

SW_WIDE void sw_tile_mixed(const sw_tile *t, size_t y, size_t *begin, size_t *end)
{
    const uint16_t full = (uint16_t)(t->box * t->box * t->box * t->box);
    uint16_t is_mixed[SW_TILE_W] = { 0 };
    for (uint8_t label = 0; t->present >> label > 1u; label++) { /* the last is what the others leave */
        if ((t->present >> label & 1u) == 0) continue;
        const uint16_t *const blurred = t->blurred[label][y];
        for (size_t x = 0; x < SW_TILE_W; x++) is_mixed[x] |= blurred[x] != 0 && blurred[x] != full;
    }
    size_t first = 0, last = t->width;
    while (first < last && is_mixed[first] == 0) first++;
    while (first < last && is_mixed[last - 1] == 0) last--;
    *begin = first / SW_LANES * SW_LANES;
    *end = sw_min_size((last + SW_LANES - 1) / SW_LANES * SW_LANES, t->width);
}
