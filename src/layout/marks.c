/* Registration marks: small openings in the frame at the same place on every pass.
 *
 * The shape is a pennant on its pole: the pole's foot is down, the pennant flies to the right. Turned or mirrored it
 * looks different, and nothing in a frame looks like it. It is one simple contour, so nothing of it can fall out; the
 * narrowest part is the pole. Three stand at the corners of the frame, the fourth is moved in from its corner, so
 * that neither a turn nor a flip of the panel brings the marks over those on the wall. Where a seam ends at the
 * artwork's edge the corner mark stands on the seam's line, outside the artwork: both neighbours have it. */
#include "layout/parts.h"

#include <math.h>

/* All common practice, no source. */
#define MIN_POLE_MM 3.0      /* width of the pole */
#define MIN_AROUND_MM 3.0    /* material around a mark at least, also when min-web is less */
#define LONG_SIDE_MM 1500.0  /* longer sides get one more mark: a sheet sags between hands */
#define MOVED_IN_RATIO 0.2   /* the fourth mark, from its corner along the bottom */
#define LABEL_GAP_MM 8.0     /* between a mark and a label: an arrow beside a pennant must not look like part of it */
#define COMMON_MM 250.0      /* about this far apart round the artwork where passes are split differently */
#define EXTRA_RATIO 0.62     /* the extra mark of a long side; beside the middle, so that it shows a turn as well */

/* The pennant in pole widths, clockwise as seen from its top left; the last two points are the foot, which is longer
 * where the frame has room. Its tip is blunt enough (61 degrees) not to count as narrow. */
static const double shape[][2] = { { 0, 0 }, { 1, 0 }, { 2.7, 1 }, { 1, 2 }, { 1, 3 }, { 0, 3 } };
#define SHAPE_WIDTH 2.7
#define SHAPE_HEIGHT 3.0
#define SHAPE_TALL 4.0

static double pole_of(const sw_layout_opts *opts) { return sw_max(MIN_POLE_MM, opts->min_opening_mm); }

/* The beam takes half its width from both sides of that strip. */
static double around_of(const sw_layout_opts *opts) { return sw_max(MIN_AROUND_MM, opts->min_web_mm) + opts->kerf_mm; }

double sw_layout_frame_needed_mm(const sw_layout_opts *opts)
{
    return SHAPE_HEIGHT * pole_of(opts) + 2.0 * around_of(opts);
}

static double height_of(double frame_mm, const sw_layout_opts *opts)
{
    const double pole_mm = pole_of(opts);
    return sw_clamp(frame_mm - 2.0 * around_of(opts), SHAPE_HEIGHT * pole_mm, SHAPE_TALL * pole_mm);
}

static double on_step(double v_mm) { return nearbyint(v_mm / SW_LAYOUT_STEP_MM) * SW_LAYOUT_STEP_MM; }

/* One mark with the middle of its box at `middle`. */
static sw_status add_mark(sw_panel *panel, sw_pt_mm middle, double pole_mm, double height_mm, sw_note *note)
{
    sw_contour mark = { 0 };
    sw_status st = SW_NO_MEMORY;
    const double left = middle.x_mm - SHAPE_WIDTH * pole_mm * 0.5, top = middle.y_mm - height_mm * 0.5;
    mark.start = (sw_pt_mm){ on_step(left), on_step(top) };
    for (size_t i = 1; i <= SW_ARRAY_LEN(shape); i++) {
        const double *const p = shape[i % SW_ARRAY_LEN(shape)];
        const double down = p[1] < SHAPE_HEIGHT ? p[1] * pole_mm : height_mm;
        if (!sw_contour_add_line(&mark, (sw_pt_mm){ on_step(left + p[0] * pole_mm), on_step(top + down) })) {
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

/* Middle of the mark at one corner. */
static sw_pt_mm corner_mark(const sw_panel *panel, const sw_panel_place *place, double frame_mm, bool is_right,
                            bool is_low)
{
    const bool is_x_seam = sw_place_has_neighbour(place, is_right ? SW_SIDE_RIGHT : SW_SIDE_LEFT);
    const bool is_y_seam = sw_place_has_neighbour(place, is_low ? SW_SIDE_BOTTOM : SW_SIDE_TOP);
    const double dx = is_x_seam && !is_y_seam ? frame_mm : frame_mm * 0.5;
    const double dy = is_y_seam && !is_x_seam ? frame_mm : frame_mm * 0.5;
    return (sw_pt_mm){ is_right ? panel->width_mm - dx : dx, is_low ? panel->height_mm - dy : dy };
}

/* Is there room for another mark here, min-web away from the panel's edge and from the marks there are? */
static bool has_room(const sw_panel *panel, sw_pt_mm middle, const sw_layout_opts *opts)
{
    const double reach = 0.5 * SHAPE_TALL * pole_of(opts) + around_of(opts);
    if (middle.x_mm < reach || middle.x_mm > panel->width_mm - reach || middle.y_mm < reach ||
        middle.y_mm > panel->height_mm - reach)
        return false;
    for (size_t i = 0; i < panel->marks.n; i++) {
        const sw_contour_measure m = sw_contour_extent(&panel->marks.at[i]);
        if (middle.x_mm + reach > m.min.x_mm && middle.x_mm - reach < m.max.x_mm && middle.y_mm + reach > m.min.y_mm &&
            middle.y_mm - reach < m.max.y_mm)
            return false;
    }
    return true;
}

/* Marks at places that depend on the artwork's side alone, so that panels of passes with other seams have them too. */
static sw_status add_common(sw_panel *panel, const sw_panel_place *place, sw_side side, double frame_mm,
                            const sw_layout_opts *opts, sw_note *note)
{
    if (sw_place_has_neighbour(place, side)) return SW_OK;
    const bool is_level = side == SW_SIDE_TOP || side == SW_SIDE_BOTTOM;
    const double length = is_level ? place->sheet_width_mm : place->sheet_height_mm;
    const double n = sw_max(1.0, nearbyint(length / COMMON_MM)), half = frame_mm * 0.5;
    for (double k = 0.5; k < n; k += 1.0) {
        const double along = k * length / n - (is_level ? panel->origin.x_mm : panel->origin.y_mm);
        const sw_pt_mm middle = { is_level ? along : side == SW_SIDE_LEFT ? half : panel->width_mm - half,
                                  !is_level ? along : side == SW_SIDE_TOP ? half : panel->height_mm - half };
        if (has_room(panel, middle, opts))
            SW_TRY(add_mark(panel, middle, pole_of(opts), height_of(frame_mm, opts), note));
    }
    return SW_OK;
}

sw_status sw_marks_add(sw_panel *panel, const sw_panel_place *place, double frame_mm, const sw_layout_opts *opts,
                       sw_note *note)
{
    const double w = panel->width_mm, h = panel->height_mm, half = frame_mm * 0.5;
    const double pole_mm = pole_of(opts), height_mm = height_of(frame_mm, opts);
    const sw_pt_mm middles[] = { corner_mark(panel, place, frame_mm, false, false),
                                 corner_mark(panel, place, frame_mm, true, false),
                                 { half + MOVED_IN_RATIO * (w - frame_mm), h - half },
                                 corner_mark(panel, place, frame_mm, true, true) };
    const sw_pt_mm extra[] = { { w * EXTRA_RATIO, half },
                               { w * EXTRA_RATIO, h - half },
                               { half, h * EXTRA_RATIO },
                               { w - half, h * EXTRA_RATIO } };
    for (size_t i = 0; i < SW_ARRAY_LEN(middles); i++) SW_TRY(add_mark(panel, middles[i], pole_mm, height_mm, note));
    for (size_t i = 0; i < SW_ARRAY_LEN(extra); i++) {
        if ((i < 2 ? w : h) > LONG_SIDE_MM) SW_TRY(add_mark(panel, extra[i], pole_mm, height_mm, note));
    }
    if (!opts->is_staggered) return SW_OK;
    SW_TRY(add_common(panel, place, SW_SIDE_TOP, frame_mm, opts, note));
    SW_TRY(add_common(panel, place, SW_SIDE_RIGHT, frame_mm, opts, note));
    SW_TRY(add_common(panel, place, SW_SIDE_BOTTOM, frame_mm, opts, note));
    return add_common(panel, place, SW_SIDE_LEFT, frame_mm, opts, note);
}

/* Does the mark stand on this side's strip of the frame, and from where to where along it? */
static bool is_on_side(const sw_panel *panel, const sw_contour *mark, sw_side side, double frame_mm, double *from_mm,
                       double *to_mm)
{
    const sw_contour_measure m = sw_contour_extent(mark);
    const bool is_level = side == SW_SIDE_TOP || side == SW_SIDE_BOTTOM;
    *from_mm = (is_level ? m.min.x_mm : m.min.y_mm) - LABEL_GAP_MM;
    *to_mm = (is_level ? m.max.x_mm : m.max.y_mm) + LABEL_GAP_MM;
    switch (side) {
    case SW_SIDE_TOP: return m.min.y_mm < frame_mm;
    case SW_SIDE_BOTTOM: return m.max.y_mm > panel->height_mm - frame_mm;
    case SW_SIDE_LEFT: return m.min.x_mm < frame_mm;
    case SW_SIDE_RIGHT: break;
    }
    return m.max.x_mm > panel->width_mm - frame_mm;
}

/* First free place at or after lo; end if there is none. */
static double skip_marks(const sw_panel *panel, sw_side side, double frame_mm, double lo)
{
    double from, to;
    for (size_t i = 0; i < panel->marks.n; i++) {
        if (!is_on_side(panel, &panel->marks.at[i], side, frame_mm, &from, &to) || from > lo || to <= lo) continue;
        lo = to;
        i = SIZE_MAX; /* begin again: the next may stand right behind */
    }
    return lo;
}

void sw_marks_free_stretch(const sw_panel *panel, sw_side side, double frame_mm, double *from_mm, double *to_mm)
{
    const bool is_level = side == SW_SIDE_TOP || side == SW_SIDE_BOTTOM;
    const double end = (is_level ? panel->width_mm : panel->height_mm) - frame_mm;
    double lo = skip_marks(panel, side, frame_mm, frame_mm);
    *from_mm = *to_mm = lo;
    while (lo < end) {
        double from, to, hi = end;
        for (size_t i = 0; i < panel->marks.n; i++) {
            if (is_on_side(panel, &panel->marks.at[i], side, frame_mm, &from, &to) && from > lo) hi = sw_min(hi, from);
        }
        if (hi - lo > *to_mm - *from_mm) {
            *from_mm = lo;
            *to_mm = hi;
        }
        lo = hi < end ? skip_marks(panel, side, frame_mm, hi) : end;
    }
}
