/* What sheets are checked against: the definition of narrow of sheet.h in plain code, islands by flood. */
#ifndef SW_TEST_SHEET_SUPPORT_H
#define SW_TEST_SHEET_SUPPORT_H

#include "support.h"

/* Twice the distances, so that corners between pixels are whole. */
static inline bool disc_covers(size_t diameter, int64_t dx2, int64_t dy2)
{
    return dx2 * dx2 + dy2 * dy2 <= (int64_t)(diameter * diameter);
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
    uint32_t *const label = sw_alloc_raw(2 * w * h, sizeof *label), *const touch = label + w * h;
    uint32_t *const far = sw_alloc_raw(w * h, sizeof *far);
    size_t n = 0, n_narrow = 0;
    if (sw_components(&rest, 1, is_eight, label, &n, NULL) != SW_OK) abort();
    if (sw_distance_sq(&opened, 1, false, far, NULL) != SW_OK) abort();
    sw_mask contact = { 0 };
    if (sw_mask_make(w, h, &contact, NULL) != SW_OK) abort();
    for (uint32_t id = 1; id <= n; id++) {
        size_t n_touch = 0;
        bool is_far = false;
        memset(contact.at, 0, w * h);
        for (size_t p = 0; p < w * h; p++) {
            if (label[p] != id) continue;
            is_far = is_far || far[p] > (uint32_t)(diameter * diameter);
            for (int dy = -1; dy <= 1; dy++)
                for (int dx = -1; dx <= 1; dx++) {
                    if (!is_eight && dx != 0 && dy != 0) continue;
                    const size_t q = (size_t)((int64_t)p + dy * (int64_t)w + dx);
                    if (opened.at[q]) contact.at[q] = 1;
                }
        }
        if (sw_components(&contact, 1, true, touch, &n_touch, NULL) != SW_OK) abort();
        n_narrow += n_touch != 1 || is_far;
    }
    sw_free(label);
    sw_free(far);
    sw_mask *const mine[4] = { &set, &opened, &rest, &contact };
    for (int i = 0; i < 4; i++) sw_mask_free(mine[i]);
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
