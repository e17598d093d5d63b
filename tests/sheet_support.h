/* What sheets are checked against: the definition of narrow of sheet.h in plain code, islands by flood. */
#ifndef SW_TEST_SHEET_SUPPORT_H
#define SW_TEST_SHEET_SUPPORT_H

#include "support.h"

/* Twice the distances, so that corners between pixels are whole. */
static inline bool disc_covers(size_t diameter, int64_t dx2, int64_t dy2)
{
    return dx2 * dx2 + dy2 * dy2 <= (int64_t)(diameter * diameter);
}

/* One part of what opening leaves: it touches opened at no stretch or several, or reaches far. */
static inline bool test_part_is_narrow(const sw_mask *opened, const uint32_t *label, const uint32_t *far, uint32_t id,
                                       sw_rect_px box, size_t diameter, bool is_eight)
{
    const size_t w = opened->width_px, bw = box.width - box.x + 2, bh = box.height - box.y + 2;
    sw_mask contact = { 0 };
    bool is_far = false;
    if (sw_mask_make(bw, bh, &contact, NULL) != SW_OK) abort();
    for (size_t y = box.y; y < box.height; y++)
        for (size_t x = box.x; x < box.width; x++) {
            if (label[y * w + x] != id) continue;
            is_far = is_far || far[y * w + x] > (uint32_t)(diameter * diameter);
            for (size_t k = 0; k < 9; k++) {
                if (!is_eight && k % 2 == 0) continue;
                const size_t u = x + k % 3 - 1, v = y + k / 3 - 1;
                if (opened->at[v * w + u]) contact.at[(v + 1 - box.y) * bw + u + 1 - box.x] = 1;
            }
        }
    uint32_t *const touch = sw_alloc_raw(bw * bh, sizeof *touch);
    size_t n_touch = 0;
    if (sw_components(&contact, 1, true, touch, &n_touch, NULL) != SW_OK) abort();
    sw_free(touch);
    sw_mask_free(&contact);
    return n_touch != 1 || is_far;
}

/* Narrow parts of the pixels that are 1 for the disc of this diameter; outside the mask lies more of the set if
 * is_outside_set. is_eight: the set joins over corners. */
static inline size_t count_narrow(const sw_mask *set_in, size_t diameter, bool is_eight, bool is_outside_set)
{
    /* a rim wide enough that what lies outside plays its part */
    const size_t rim = 2 * diameter + 3, w = set_in->width_px + 2 * rim, h = set_in->height_px + 2 * rim;
    sw_mask set = { 0 }, opened = { 0 }, rest = { 0 };
    if (sw_mask_make(w, h, &set, NULL) != SW_OK || sw_mask_make(w, h, &opened, NULL) != SW_OK ||
        sw_mask_make(w, h, &rest, NULL) != SW_OK)
        abort();
    memset(set.at, is_outside_set, w * h);
    for (size_t y = 0; y < set_in->height_px; y++)
        memcpy(set.at + (y + rim) * w + rim, set_in->at + y * set_in->width_px, set_in->width_px);
    const int64_t r = (int64_t)diameter, odd = (int64_t)(diameter % 2);
    for (int64_t cy = r; cy < (int64_t)h - r; cy++)
        for (int64_t cx = r; cx < (int64_t)w - r; cx++)
            for (int step = 0; step < 2; step++) {
                bool fits = true;
                for (int64_t y = cy - r / 2 - 1; y <= cy + r / 2 + 1 && fits; y++)
                    for (int64_t x = cx - r / 2 - 1; x <= cx + r / 2 + 1 && fits; x++) {
                        if (!disc_covers(diameter, 2 * (x - cx) + 1 - odd, 2 * (y - cy) + 1 - odd)) continue;
                        if (step == 0) fits = set.at[y * (int64_t)w + x] != 0;
                        else opened.at[y * (int64_t)w + x] = 1;
                    }
                if (!fits) break;
            }
    for (size_t y = 0; y < h; y++)
        for (size_t x = 0; x < w; x++) {
            const bool is_rim = x < (size_t)r || y < (size_t)r || x >= w - (size_t)r || y >= h - (size_t)r;
            if (is_rim) opened.at[y * w + x] = set.at[y * w + x];
            rest.at[y * w + x] = set.at[y * w + x] && !opened.at[y * w + x];
        }
    uint32_t *const label = sw_alloc_raw(w * h, sizeof *label), *const far = sw_alloc_raw(w * h, sizeof *far);
    size_t n = 0, n_narrow = 0;
    if (sw_components(&rest, 1, is_eight, label, &n, NULL) != SW_OK) abort();
    if (sw_distance_sq(&opened, 1, false, far, NULL) != SW_OK) abort();
    sw_rect_px *const box = sw_alloc_array(n + 1, sizeof *box); /* width and height hold the ends */
    for (size_t p = 0; p < w * h; p++) {
        sw_rect_px *const b = &box[label[p]];
        if (b->width == 0) *b = (sw_rect_px){ p % w, p / w, 0, 0 };
        b->x = sw_min_size(b->x, p % w);
        b->width = sw_max_size(b->width, p % w + 1);
        b->height = p / w + 1;
    }
    for (uint32_t id = 1; id <= n; id++)
        n_narrow += test_part_is_narrow(&opened, label, far, id, box[id], diameter, is_eight);
    sw_free(box);
    sw_free(label);
    sw_free(far);
    sw_mask *const mine[3] = { &set, &opened, &rest };
    for (int i = 0; i < 3; i++) sw_mask_free(mine[i]);
    return n_narrow;
}

static inline sw_mask complement(const sw_mask *mask)
{
    sw_mask out = { 0 };
    if (sw_mask_copy(mask, &out, NULL) != SW_OK) abort();
    for (size_t i = 0; i < mask->width_px * mask->height_px; i++) out.at[i] ^= 1u;
    return out;
}

static inline size_t n_islands(const sw_mask *openings)
{
    uint32_t *const label = sw_alloc_raw(openings->width_px * openings->height_px, sizeof *label);
    size_t n = 0, n_hang = 0;
    if (sw_components(openings, 0, false, label, &n, NULL) != SW_OK) abort();
    bool *const hangs = sw_alloc_array(n + 1, sizeof *hangs);
    for (size_t i = 0; i < openings->width_px * openings->height_px; i++) {
        const size_t x = i % openings->width_px, y = i / openings->width_px;
        if (x == 0 || y == 0 || x + 1 == openings->width_px || y + 1 == openings->height_px) hangs[label[i]] = true;
    }
    for (size_t id = 1; id <= n; id++) n_hang += hangs[id];
    sw_free(hangs);
    sw_free(label);
    return n - n_hang;
}

#endif
