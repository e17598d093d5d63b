/* Registration marks: small openings in the frame at the same place on every pass.
 *
 * The shape is a pennant on its pole: the pole's foot is down, the pennant flies to the right. Turned or mirrored it
 * looks different, and nothing in a frame looks like it. It is one simple contour, so nothing of it can fall out; the
 * narrowest part is the pole. Three stand in the corners of the frame, the fourth is moved in from its corner, so
 * that neither a turn nor a flip of the panel brings the marks over those on the wall. */
#include "layout/parts.h"

#include <math.h>

/* All common practice, no source. */
#define MIN_POLE_MM 3.0      /* width of the pole */
#define MIN_AROUND_MM 3.0    /* material around a mark at least, also when min-web is less */
#define LONG_SIDE_MM 1500.0  /* longer sides get one more mark: a sheet sags between hands */
#define MOVED_IN_RATIO 0.2   /* the fourth mark, from its corner along the bottom */
#define EXTRA_RATIO 0.62     /* the extra mark of a long side; beside the middle, so that it shows a turn as well */

/* The pennant in pole widths, clockwise as seen from its top left. */
static const double shape[][2] = { { 0, 0 }, { 1, 0 }, { 3, 1.3 }, { 1, 2.6 }, { 1, 4 }, { 0, 4 } };
#define SHAPE_WIDTH 3.0
#define SHAPE_HEIGHT 4.0

static double pole_mm(const sw_layout_opts *opts) { return sw_max(MIN_POLE_MM, opts->min_opening_mm); }

double sw_layout_frame_needed_mm(const sw_layout_opts *opts)
{
    return SHAPE_HEIGHT * pole_mm(opts) + 2.0 * sw_max(MIN_AROUND_MM, opts->min_web_mm);
}

static double on_step(double v_mm) { return nearbyint(v_mm / SW_LAYOUT_STEP_MM) * SW_LAYOUT_STEP_MM; }

/* One mark with the middle of its box at `middle`. */
static sw_status add_mark(sw_panel *panel, sw_pt_mm middle, double pole, sw_note *note)
{
    sw_contour mark = { 0 };
    sw_status st = SW_NO_MEMORY;
    const double left = middle.x_mm - SHAPE_WIDTH * pole * 0.5, top = middle.y_mm - SHAPE_HEIGHT * pole * 0.5;
    mark.start = (sw_pt_mm){ on_step(left), on_step(top) };
    for (size_t i = 1; i <= SW_ARRAY_LEN(shape); i++) {
        const double *const p = shape[i % SW_ARRAY_LEN(shape)];
        if (!sw_contour_add_line(&mark, (sw_pt_mm){ on_step(left + p[0] * pole), on_step(top + p[1] * pole) })) {
            sw_fail_memory(note, "the registration marks");
            goto cleanup;
        }
        mark.segs[i - 1].is_corner = true;
    }
    st = sw_contours_take(&panel->marks, &mark, note);
cleanup:
    sw_contour_free(&mark);
    return st;
}

sw_status sw_marks_add(sw_panel *panel, double frame_mm, const sw_layout_opts *opts, sw_note *note)
{
    const double w = panel->width_mm, h = panel->height_mm, half = frame_mm * 0.5, pole = pole_mm(opts);
    const sw_pt_mm middles[] = { { half, half },
                                 { w - half, half },
                                 { half + MOVED_IN_RATIO * (w - frame_mm), h - half },
                                 { w - half, h - half } };
    const sw_pt_mm extra[] = { { w * EXTRA_RATIO, half },
                               { w * EXTRA_RATIO, h - half },
                               { half, h * EXTRA_RATIO },
                               { w - half, h * EXTRA_RATIO } };
    for (size_t i = 0; i < SW_ARRAY_LEN(middles); i++) SW_TRY(add_mark(panel, middles[i], pole, note));
    for (size_t i = 0; i < SW_ARRAY_LEN(extra); i++) {
        if ((i < 2 ? w : h) > LONG_SIDE_MM) SW_TRY(add_mark(panel, extra[i], pole, note));
    }
    return SW_OK;
}

void sw_marks_label_room(const sw_panel *panel, double frame_mm, double *from_mm, double *to_mm)
{
    *from_mm = frame_mm;
    *to_mm = panel->width_mm > LONG_SIDE_MM ? panel->width_mm * EXTRA_RATIO - frame_mm : panel->width_mm - frame_mm;
}
