/* From each sheet's contours to panels: the frame all round, the edge, marks, labels, the order of the cuts.
 *
 * Every coordinate that leaves is a whole multiple of SW_LAYOUT_STEP_MM, in the panel as in the artwork (the panel's
 * origin is one too), so that what the proof looks at is what the writers print. */
#include "layout/parts.h"

#include <math.h>

static double on_step(double v_mm) { return nearbyint(v_mm / SW_LAYOUT_STEP_MM) * SW_LAYOUT_STEP_MM; }

/* A number of mm for a note, rounded up to a tenth. */
static unsigned tenths_up(double v_mm) { return (unsigned)ceil(v_mm * 10.0 - 1e-6); }

static sw_status check_opts(const sw_layout_opts *opts, sw_note *note)
{
    const double needed = sw_layout_frame_needed_mm(opts);
    if (!sw_length_ok(opts->frame_mm, true) || !sw_length_ok(opts->kerf_mm, true) ||
        !sw_length_ok(opts->min_web_mm, true) || !sw_length_ok(opts->min_opening_mm, true) ||
        !sw_length_ok(opts->bed_width_mm, true) || !sw_length_ok(opts->bed_height_mm, true))
        return sw_fail(note, SW_BAD_LENGTH, "frame, kerf, bed, min-web and min-opening must be lengths of at most 200m");
    if (opts->frame_mm >= needed) return SW_OK;
    const unsigned tenths = tenths_up(needed);
    return sw_fail(note, SW_BAD_LENGTH,
                   "--frame must be at least %u.%umm: the registration marks stand in it with material all round",
                   tenths / 10u, tenths % 10u);
}

/* Does a panel of this size lie on the bed, as it is or turned by 90 degrees? */
static sw_status check_bed(const sw_panel *panel, const sw_layout_opts *opts, sw_note *note)
{
    const double w = panel->width_mm + opts->kerf_mm, h = panel->height_mm + opts->kerf_mm;
    if (!(opts->bed_width_mm > 0.0 && opts->bed_height_mm > 0.0)) return SW_OK;
    if (w <= opts->bed_width_mm && h <= opts->bed_height_mm) return SW_OK;
    if (h <= opts->bed_width_mm && w <= opts->bed_height_mm) return SW_OK;
    return sw_fail(note, SW_BAD_LENGTH, "a panel of %u x %u mm, frame and kerf included, does not fit the bed",
                   tenths_up(w) / 10u + 1u, tenths_up(h) / 10u + 1u);
}

static sw_status add_outline(sw_panel *panel, sw_note *note)
{
    const double w = panel->width_mm, h = panel->height_mm;
    const sw_pt_mm corners[] = { { w, 0.0 }, { w, h }, { 0.0, h }, { 0.0, 0.0 } };
    for (size_t i = 0; i < SW_ARRAY_LEN(corners); i++) {
        if (!sw_contour_add_line(&panel->outline, corners[i])) return sw_fail_memory(note, "a panel");
        panel->outline.segs[i].is_corner = true;
    }
    return SW_OK;
}

static sw_status fill_panel(sw_panel *panel, const sw_grid *grid, const sw_layout_sheet *sheet, size_t n_passes,
                            const sw_layout_opts *opts, size_t *n_replaced, sw_note *note)
{
    const double frame_mm = on_step(opts->frame_mm);
    panel->pass = sheet->pass;
    panel->art = (sw_rect_mm){ 0.0, 0.0, sw_mm_from_px(grid, (double)grid->width_px),
                               sw_mm_from_px(grid, (double)grid->height_px) };
    panel->width_mm = on_step(panel->art.width_mm + 2.0 * frame_mm);
    panel->height_mm = on_step(panel->art.height_mm + 2.0 * frame_mm);
    panel->origin = (sw_pt_mm){ -frame_mm, -frame_mm };
    SW_TRY(check_bed(panel, opts, note));
    SW_TRY(sw_contours_copy(sheet->openings, &panel->openings, note));
    sw_contours_shift(&panel->openings, -panel->origin.x_mm, -panel->origin.y_mm);
    sw_contours_round(&panel->openings, SW_LAYOUT_STEP_MM);
    SW_TRY(add_outline(panel, note));
    SW_TRY(sw_marks_add(panel, frame_mm, opts, note));
    const sw_label_info info = { opts->job_name,         sheet->paint_name,     sheet->pass, n_passes, sheet->paint,
                                 panel->art.width_mm, panel->art.height_mm };
    SW_TRY(sw_labels_add(panel, frame_mm, &info, n_replaced, note));
    return sw_order_cuts(panel, note);
}

sw_status sw_layout_make(const sw_grid *grid, const sw_layout_sheet *sheets, size_t n_sheets,
                         const sw_layout_opts *opts, sw_layout *out, sw_note *note)
{
    sw_layout made = { 0 };
    sw_status st = check_opts(opts, note);
    size_t n_passes = n_sheets;
    if (st != SW_OK) goto cleanup;
    for (size_t i = 0; i < n_sheets; i++) n_passes = sw_max_size(n_passes, sheets[i].pass);
    made.frame_mm = on_step(opts->frame_mm);
    if (n_sheets > 0) made.panels = sw_alloc_array(n_sheets, sizeof *made.panels);
    if (n_sheets > 0 && made.panels == NULL) {
        st = sw_fail_memory(note, "the panels");
        goto cleanup;
    }
    for (size_t i = 0; i < n_sheets; i++) {
        made.n_panels = i + 1; /* counted before it is filled: a half-built one is freed as well */
        st = fill_panel(&made.panels[i], grid, &sheets[i], n_passes, opts, &made.n_replaced, note);
        if (st != SW_OK) goto cleanup;
    }
    *out = made;
    made = (sw_layout){ 0 };
    st = SW_OK;
cleanup:
    sw_layout_free(&made);
    return st;
}

static void free_panel(sw_panel *panel)
{
    sw_contours_free(&panel->openings);
    sw_contours_free(&panel->marks);
    sw_contour_free(&panel->outline);
    for (size_t i = 0; i < panel->n_strokes; i++) sw_free(panel->strokes[i].at);
    sw_free(panel->strokes);
}

void sw_layout_free(sw_layout *layout)
{
    if (layout == NULL) return;
    for (size_t i = 0; i < layout->n_panels; i++) free_panel(&layout->panels[i]);
    sw_free(layout->panels);
    *layout = (sw_layout){ 0 };
}
