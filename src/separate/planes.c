/* The picture in bytes: OKLab planes and their pyramid. Bytes because every later pass over the grid reads them many
 * times; 1/255 of lightness is below what a viewer sees between two flat areas (about 1/100). */
#include <math.h>

#include "separate/parts.h"

#define CHUNK 256 /* pixels converted at a time: the OKLab values stay in the nearest cache */

sw_plane_colour sw_plane_colour_from_rgb8(sw_rgb8 colour)
{
    const sw_oklab lab = sw_oklab_from_rgb8(colour);
    return (sw_plane_colour){ { (double)lab.L * 255.0, (double)lab.a * 255.0 + 128.0, (double)lab.b * 255.0 + 128.0 } };
}

sw_rgb8 sw_rgb8_from_plane_colour(sw_plane_colour colour)
{
    return sw_rgb8_from_oklab((sw_oklab){ (float)(colour.at[0] / 255.0), (float)((colour.at[1] - 128.0) / 255.0),
                                          (float)((colour.at[2] - 128.0) / 255.0) });
}

static sw_status planes_alloc(size_t width_px, size_t height_px, size_t n, sw_planes *out, sw_note *note)
{
    sw_planes made = { .width_px = width_px, .height_px = height_px, .n = n };
    for (size_t p = 0; p < n; p++) {
        made.at[p] = sw_alloc_raw(width_px * height_px, 1);
        if (made.at[p] != NULL) continue;
        sw_planes_free(&made);
        return sw_fail_memory(note, "the colours of the grid");
    }
    *out = made;
    return SW_OK;
}

typedef struct convert_task {
    const sw_picture *art;
    const sw_planes *out;
} convert_task;

/* Values times 255, moved by `zero`, rounded, held in a byte. */
static inline void bytes_from(const float *restrict in, float zero, size_t n, uint8_t *restrict out)
{
    for (size_t i = 0; i < n; i++) {
        const float v = in[i] * 255.0f + zero, raised = v + 0.5f;
        const float above = raised > 0.0f ? raised : 0.0f, held = above < 255.0f ? above : 255.0f;
        out[i] = (uint8_t)(int32_t)held;
    }
}

SW_WIDE static void convert_rows(size_t begin, size_t end, void *ctx)
{
    const convert_task *const task = ctx;
    const size_t width = task->art->width_px;
    float lab[SW_MAX_PLANES][CHUNK];
    for (size_t y = begin; y < end; y++) {
        for (size_t x = 0; x < width; x += CHUNK) {
            const size_t n = sw_min_size(CHUNK, width - x), at = y * width + x;
            sw_oklab_from_rgb8_row(task->art->at + at, n, lab[0], lab[1], lab[2]);
            for (size_t p = 0; p < task->out->n; p++) bytes_from(lab[p], p == 0 ? 0.0f : 128.0f, n, task->out->at[p] + at);
        }
    }
}

sw_status sw_planes_make(const sw_picture *art, size_t n, sw_planes *out, sw_note *note)
{
    SW_TRY(planes_alloc(art->width_px, art->height_px, n, out, note));
    sw_parallel_rows(art->height_px, convert_rows, &(convert_task){ art, out });
    return SW_OK;
}

typedef struct half_task {
    const sw_planes *in, *out;
} half_task;

/* Rounded up or down by a pattern, up as often as down: rounded alike, a soft slope would go down the pyramid as terraces
 * a unit high, and boundaries would follow their edges. */
SW_WIDE static void half_rows(size_t begin, size_t end, void *ctx)
{
    const half_task *const task = ctx;
    const size_t width = task->in->width_px, half = task->out->width_px;
    for (size_t p = 0; p < task->in->n; p++) {
        for (size_t y = begin; y < end; y++) {
            const uint8_t *const top = task->in->at[p] + 2 * y * width;
            const uint8_t *const low = 2 * y + 1 < task->in->height_px ? top + width : top;
            uint8_t *const out = task->out->at[p] + y * half;
            const int even = y % 2 == 0 ? 0 : 3, odd = y % 2 == 0 ? 2 : 1;
            for (size_t x = 0; x < width / 2; x++) {
                const int sum = top[2 * x] + top[2 * x + 1] + low[2 * x] + low[2 * x + 1];
                out[x] = (uint8_t)((sum + (x % 2 == 0 ? even : odd)) / 4);
            }
            if (width % 2 == 1) out[half - 1] = (uint8_t)((top[width - 1] + low[width - 1] + 1) / 2);
        }
    }
}

sw_status sw_planes_half(const sw_planes *in, sw_planes *out, sw_note *note)
{
    SW_TRY(planes_alloc((in->width_px + 1) / 2, (in->height_px + 1) / 2, in->n, out, note));
    sw_parallel_rows(out->height_px, half_rows, &(half_task){ in, out });
    return SW_OK;
}

void sw_planes_free(sw_planes *planes)
{
    if (planes == NULL) return;
    for (size_t p = 0; p < SW_MAX_PLANES; p++) sw_free(planes->at[p]);
    *planes = (sw_planes){ 0 };
}
