/* Masks: one byte a pixel, owned by whoever made them. */
#include "sheet/sheet.h"

#include <string.h>

static sw_status make(size_t width_px, size_t height_px, void *(*alloc)(size_t n, size_t size), sw_mask *out, sw_note *note)
{
    size_t n_px;
    if (width_px == 0 || height_px == 0) return sw_fail(note, SW_BAD_LENGTH, "a mask needs at least one pixel");
    if (width_px > SW_MAX_SIDE_PX || height_px > SW_MAX_SIDE_PX || !sw_mul_size(width_px, height_px, &n_px) ||
        n_px > SW_MAX_PX)
        return sw_fail(note, SW_TOO_LARGE, "a mask of %zu x %zu pixels is larger than the limit", width_px, height_px);
    uint8_t *const at = alloc(n_px, 1);
    if (at == NULL) return sw_fail_memory(note, "a mask");
    *out = (sw_mask){ .width_px = width_px, .height_px = height_px, .at = at };
    return SW_OK;
}

sw_status sw_mask_make(size_t width_px, size_t height_px, sw_mask *out, sw_note *note)
{
    return make(width_px, height_px, sw_alloc_array, out, note);
}

sw_status sw_mask_make_raw(size_t width_px, size_t height_px, sw_mask *out, sw_note *note)
{
    return make(width_px, height_px, sw_alloc_raw, out, note);
}

typedef struct copying {
    const sw_mask *from;
    uint8_t *to;
} copying;

static void copy_rows(size_t begin, size_t end, void *ctx)
{
    const copying *const c = ctx;
    const size_t width = c->from->width_px;
    memcpy(c->to + begin * width, c->from->at + begin * width, (end - begin) * width);
}

sw_status sw_mask_copy(const sw_mask *in, sw_mask *out, sw_note *note)
{
    sw_mask made = { 0 };
    SW_TRY(sw_mask_make_raw(in->width_px, in->height_px, &made, note));
    sw_parallel_rows(in->height_px, copy_rows, &(copying){ in, made.at });
    *out = made;
    return SW_OK;
}

void sw_mask_free(sw_mask *mask)
{
    if (mask == NULL) return;
    sw_free(mask->at);
    *mask = (sw_mask){ 0 };
}
