/* Marks a user paints over the picture, by pure colour. */
#include <math.h>

#include "separate/separate.h"

/* A mark is pure within this much: brushes blend at their edge and a JPEG shifts colours. Half-blended edge pixels say
 * nothing, so a mark never grows. */
#define MIN_PURE 190u /* of the marking channel */
#define MAX_OTHER 90u /* of the other two */
#define SHAPE_RATIO 0.02

static uint8_t mark_of(sw_rgb8 c)
{
    if (c.g >= MIN_PURE && c.r <= MAX_OTHER && c.b <= MAX_OTHER) return SW_MARK_DETAIL;
    if (c.r >= MIN_PURE && c.g <= MAX_OTHER && c.b <= MAX_OTHER) return SW_MARK_NO_BRIDGE;
    if (c.b >= MIN_PURE && c.r <= MAX_OTHER && c.g <= MAX_OTHER) return SW_MARK_BRIDGE;
    return 0;
}

typedef struct mark_task {
    const sw_picture *from;
    const sw_marks *out;
} mark_task;

static void mark_rows(size_t begin, size_t end, void *ctx)
{
    const mark_task *const t = ctx;
    for (size_t y = begin; y < end; y++) {
        const size_t from_y = (2 * y + 1) * t->from->height_px / (2 * t->out->height_px);
        const sw_rgb8 *const row = t->from->at + from_y * t->from->width_px;
        uint8_t *const out = t->out->at + y * t->out->width_px;
        for (size_t x = 0; x < t->out->width_px; x++)
            out[x] = mark_of(row[(2 * x + 1) * t->from->width_px / (2 * t->out->width_px)]);
    }
}

sw_status sw_marks_from_picture(const sw_picture *painted, const sw_grid *grid, sw_marks *out, sw_note *note)
{
    const double shape = (double)painted->width_px / (double)painted->height_px;
    const double wanted = (double)grid->width_px / (double)grid->height_px;
    /* one pixel of rounding at either size is no other shape */
    const double slack = SHAPE_RATIO + 1.0 / (double)sw_min_size(painted->width_px, painted->height_px) +
                         1.0 / (double)sw_min_size(grid->width_px, grid->height_px);
    if (!(fabs(shape / wanted - 1.0) <= slack))
        return sw_fail(note, SW_BAD_FILE, "the marks are %zu x %zu, another shape than the picture; paint them over a "
                                          "copy of the picture", painted->width_px, painted->height_px);
    sw_marks made = { grid->width_px, grid->height_px, sw_alloc_raw(grid->width_px * grid->height_px, 1) };
    if (made.at == NULL) return sw_fail_memory(note, "the marks");
    sw_parallel_rows(grid->height_px, mark_rows, &(mark_task){ painted, &made });
    *out = made;
    return SW_OK;
}

sw_status sw_marks_read(const char *path, const sw_grid *grid, sw_marks *out, sw_note *note)
{
    sw_picture painted = { 0 };
    SW_TRY(sw_picture_read(path, &(sw_picture_opts){ .ground = { 255, 255, 255 } }, &painted, note));
    const sw_status st = sw_marks_from_picture(&painted, grid, out, note);
    sw_picture_free(&painted);
    return st;
}

void sw_marks_free(sw_marks *marks)
{
    if (marks == NULL) return;
    sw_free(marks->at);
    *marks = (sw_marks){ 0 };
}
