/* From each sheet's contours to panels: the frame all round, the edge, marks, labels, the order of the cuts.
 *
 * Every coordinate that leaves is a whole multiple of SW_LAYOUT_STEP_MM, in the panel as in the artwork (the panel's
 * origin is one too), so that what the proof looks at is what the writers print. */
#include "layout/parts.h"

#include <math.h>

/* Slips at seams thinner than this share of min-opening are dropped; a little above the tolerance of the curves. */
#define SLIVER_RATIO 0.12
/* How far a moved edge may be from half the kerf: far below what a machine holds. */
#define KERF_TOLERANCE_MM 0.02
#define KERF_RATIO 0.1
#define USUAL_OPENING_MM 3.0 /* min-opening where none is given; common practice, no source */

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
static sw_status check_bed(sw_panel *panel, const sw_layout_opts *opts, sw_note *note)
{
    const double w = panel->width_mm + opts->kerf_mm, h = panel->height_mm + opts->kerf_mm;
    if (!(opts->bed_width_mm > 0.0 && opts->bed_height_mm > 0.0)) return SW_OK;
    if (w <= opts->bed_width_mm && h <= opts->bed_height_mm) return SW_OK;
    panel->is_turned = true;
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

/* What a sheet's panels share. */
typedef struct common {
    sw_reuse_plan reuse;
    sw_contours openings; /* without those that another one is used for; the curves are the sheet's */
    sw_clipper clipper;   /* of them */
} common;

/* One panel to be made, and what became of it. */
typedef struct task {
    const sw_layout_sheet *sheet;
    sw_panel_place place;
    sw_rect_mm art; /* seams on whole steps */
    const common *common; /* of its sheet */
    size_t window;              /* which of its sheet's */
    sw_status st;
    sw_note note;
    size_t n_replaced, n_slivers, n_held_back;
} task;

typedef struct work {
    const sw_layout_opts *opts;
    size_t n_passes;
    double frame_mm;
    task *tasks;
    sw_panel *panels;
} work;

static bool is_split(const sw_panel_place *place) { return place->n_rows * place->n_columns > 1; }

/* A slip of opening along a seam: what is left when a curve, fitted within a tenth of min-opening, swings over a seam
 * on which an opening ends. Planned openings are many times wider. */
static bool is_sliver(const sw_contour *contour, const task *t, double thin_mm)
{
    const sw_contour_measure m = sw_contour_extent(contour);
    const double right = t->art.x_mm + t->art.width_mm, low = t->art.y_mm + t->art.height_mm, on = SW_LAYOUT_STEP_MM;
    const bool is_left = sw_place_has_neighbour(&t->place, SW_SIDE_LEFT) && m.min.x_mm <= t->art.x_mm + on;
    const bool is_right = sw_place_has_neighbour(&t->place, SW_SIDE_RIGHT) && m.max.x_mm >= right - on;
    const bool is_top = sw_place_has_neighbour(&t->place, SW_SIDE_TOP) && m.min.y_mm <= t->art.y_mm + on;
    const bool is_low = sw_place_has_neighbour(&t->place, SW_SIDE_BOTTOM) && m.max.y_mm >= low - on;
    return ((is_left || is_right) && m.max.x_mm - m.min.x_mm < thin_mm) ||
           ((is_top || is_low) && m.max.y_mm - m.min.y_mm < thin_mm);
}

static void drop_slivers(sw_contours *list, task *t, double thin_mm)
{
    size_t kept = 0;
    for (size_t i = 0; i < list->n; i++) {
        if (is_sliver(&list->at[i], t, thin_mm)) {
            sw_contour_free(&list->at[i]);
            t->n_slivers++;
        } else {
            list->at[kept++] = list->at[i];
        }
    }
    list->n = kept;
}

/* Openings in the panel's window: all of them, or cut at the seams and nowhere else. */
static sw_status take_openings(task *t, const sw_layout_opts *opts, sw_contours *out, sw_note *note)
{
    if (!is_split(&t->place)) return sw_contours_copy(&t->common->openings, out, note);
    sw_rect_mm rect = t->art;
    const double far_mm = 1.0; /* past the artwork's own edges, which must not cut anything */
    if (!sw_place_has_neighbour(&t->place, SW_SIDE_LEFT)) rect.x_mm -= far_mm, rect.width_mm += far_mm;
    if (!sw_place_has_neighbour(&t->place, SW_SIDE_RIGHT)) rect.width_mm += far_mm;
    if (!sw_place_has_neighbour(&t->place, SW_SIDE_TOP)) rect.y_mm -= far_mm, rect.height_mm += far_mm;
    if (!sw_place_has_neighbour(&t->place, SW_SIDE_BOTTOM)) rect.height_mm += far_mm;
    SW_TRY(sw_clipper_cut(&t->common->clipper, rect, out, note));
    drop_slivers(out, t, SLIVER_RATIO * (opts->min_opening_mm > 0.0 ? opts->min_opening_mm : USUAL_OPENING_MM));
    return SW_OK;
}

/* Cut half the kerf inside, so that what is open has the size drawn. */
static sw_status allow_for_kerf(sw_contours *list, double kerf_mm, size_t *n_held_back, sw_note *note)
{
    sw_contours moved = { 0 };
    size_t n = 0;
    if (!(kerf_mm > 0.0) || list->n == 0) return SW_OK;
    SW_TRY(sw_contours_offset(list, -0.5 * kerf_mm, sw_min(KERF_TOLERANCE_MM, KERF_RATIO * kerf_mm), &n, &moved, note));
    sw_contours_free(list);
    *list = moved;
    *n_held_back += n;
    return SW_OK;
}

/* As it is cut, in panel coordinates. */
static sw_status bring_home(const work *w, const sw_panel *panel, sw_contours *list, size_t *n_held_back, sw_note *note)
{
    SW_TRY(allow_for_kerf(list, w->opts->kerf_mm, n_held_back, note));
    sw_contours_shift(list, -panel->origin.x_mm, -panel->origin.y_mm);
    sw_contours_round(list, SW_LAYOUT_STEP_MM);
    return SW_OK;
}

static sw_status fill_panel(const work *w, task *t, sw_panel *panel)
{
    const double frame_mm = w->frame_mm;
    sw_note *const note = &t->note;
    panel->pass = t->sheet->pass;
    panel->art = t->art;
    sw_place_name(&t->place, panel->name);
    panel->width_mm = on_step(panel->art.width_mm + 2.0 * frame_mm);
    panel->height_mm = on_step(panel->art.height_mm + 2.0 * frame_mm);
    panel->origin = (sw_pt_mm){ on_step(t->art.x_mm - frame_mm), on_step(t->art.y_mm - frame_mm) };
    SW_TRY(check_bed(panel, w->opts, note));
    SW_TRY(take_openings(t, w->opts, &panel->openings, note));
    SW_TRY(sw_reuse_place(&t->common->reuse, t->window, &panel->placed, note));
    panel->open_area_mm2 = sw_contours_extent(&panel->openings).area_mm2 + sw_contours_extent(&panel->placed).area_mm2;
    SW_TRY(bring_home(w, panel, &panel->openings, &t->n_held_back, note));
    size_t n_held_back = 0; /* counted where they are cut */
    const sw_reuse_plan *const reuse = &t->common->reuse;
    for (size_t r = 0; r < reuse->n; r++) panel->n_placings += reuse->at[r].at_window == t->window;
    return bring_home(w, panel, &panel->placed, &n_held_back, note);
}

/* Is there something to cut, or is it the sheet's only panel? */
static bool is_needed(const task *t, const sw_panel *panel) { return !is_split(&t->place) || panel->openings.n > 0; }

/* Everything around the openings. */
static sw_status finish_panel(const work *w, task *t, sw_panel *panel)
{
    const double frame_mm = w->frame_mm;
    sw_note *const note = &t->note;
    SW_TRY(add_outline(panel, note));
    SW_TRY(sw_marks_add(panel, &t->place, frame_mm, w->opts, note));
    const sw_label_info info = { .job_name = w->opts->job_name,
                                 .paint_name = t->sheet->paint_name,
                                 .pass = t->sheet->pass,
                                 .n_passes = w->n_passes,
                                 .paint = t->sheet->paint,
                                 .art_width_mm = t->place.sheet_width_mm,
                                 .art_height_mm = t->place.sheet_height_mm,
                                 .place = t->place };
    SW_TRY(sw_labels_add(panel, frame_mm, &info, &t->n_replaced, note));
    SW_TRY(sw_reuse_draw(&t->common->reuse, t->window, panel, note));
    if (t->sheet->keys != NULL) SW_TRY(sw_keys_draw(t->sheet->keys, panel, note));
    return sw_order_cuts(panel, note);
}

static void fill_panels(size_t begin, size_t end, void *ctx)
{
    const work *const w = ctx;
    for (size_t i = begin; i < end; i++) w->tasks[i].st = fill_panel(w, &w->tasks[i], &w->panels[i]);
}

static void finish_panels(size_t begin, size_t end, void *ctx)
{
    const work *const w = ctx;
    for (size_t i = begin; i < end; i++) {
        if (is_needed(&w->tasks[i], &w->panels[i])) w->tasks[i].st = finish_panel(w, &w->tasks[i], &w->panels[i]);
    }
}

/* Which panels next to each one will be there: labels name no others. */
static void look_for_neighbours(const work *w, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        sw_panel_place *const place = &w->tasks[i].place;
        const size_t at[4] = { i - place->n_columns, i + 1, i + place->n_columns, i - 1 }; /* as sw_side counts */
        for (int side = 0; side < 4; side++)
            place->is_written[side] = sw_place_has_neighbour(place, (sw_side)side) &&
                                      is_needed(&w->tasks[at[side]], &w->panels[at[side]]);
    }
}

static size_t windows_in(const sw_layout_sheet *sheet)
{
    return sheet->windows == NULL || sheet->windows->n == 0 ? 1 : sheet->windows->n;
}

/* A sheet's windows as tasks. False if they are not rows x columns. */
static bool list_windows(const sw_grid *grid, const sw_layout_sheet *sheet, task *tasks)
{
    const sw_rect_px whole = { 0, 0, grid->width_px, grid->height_px };
    const size_t n = windows_in(sheet);
    const sw_rect_px *const at = n > 1 ? sheet->windows->at : &whole;
    size_t n_columns = 0;
    while (n_columns < n && at[n_columns].y == at[0].y) n_columns++;
    for (size_t i = 0; i < n; i++) {
        const size_t right = at[i].x + at[i].width, low = at[i].y + at[i].height;
        if (right > grid->width_px || low > grid->height_px || at[i].width == 0 || at[i].height == 0) return false;
        tasks[i] = (task){ .sheet = sheet,
                           .window = i,
                           .place = { .row = i / n_columns,
                                      .column = i % n_columns,
                                      .n_rows = n / n_columns,
                                      .n_columns = n_columns,
                                      .sheet_width_mm = sw_mm_from_px(grid, (double)grid->width_px),
                                      .sheet_height_mm = sw_mm_from_px(grid, (double)grid->height_px) },
                           .art = sw_window_art(grid, &at[i]) };
    }
    return n % n_columns == 0;
}

static sw_status list_tasks(const sw_grid *grid, const sw_layout_sheet *sheets, size_t n_sheets, task *tasks,
                            sw_note *note)
{
    size_t n = 0;
    for (size_t i = 0; i < n_sheets; i++) {
        if (!list_windows(grid, &sheets[i], tasks + n))
            return sw_fail(note, SW_BAD_LENGTH, "the windows of pass %zu are not rows and columns of the grid",
                           sheets[i].pass);
        n += windows_in(&sheets[i]);
    }
    return SW_OK;
}

/* A sheet's openings that are cut, ready for its panels. */
static sw_status list_openings(const sw_contours *all, common *c, sw_note *note)
{
    if (all->n == 0) return sw_clipper_make(&c->openings, &c->clipper, note);
    c->openings.at = sw_alloc_array(all->n, sizeof *c->openings.at);
    if (c->openings.at == NULL) return sw_fail_memory(note, "the openings");
    for (size_t i = 0; i < all->n; i++) {
        if (c->reuse.is_left_out == NULL || !c->reuse.is_left_out[i]) c->openings.at[c->openings.n++] = all->at[i];
    }
    return sw_clipper_make(&c->openings, &c->clipper, note);
}

static void free_common(common *c)
{
    sw_reuse_plan_free(&c->reuse);
    sw_clipper_free(&c->clipper);
    sw_free(c->openings.at);
}

/* Which copies each sheet leaves out, and what it cuts; tasks are told, and *made gets the list. */
static sw_status plan_sheets(const sw_layout_sheet *sheets, size_t n_sheets, task *tasks, common *commons, sw_layout *made,
                             sw_note *note)
{
    size_t n_numbers = 0, at = 0, cap = 0;
    for (size_t s = 0; s < n_sheets; s++) {
        const size_t n = windows_in(&sheets[s]);
        sw_reuse_plan *const plan = &commons[s].reuse;
        sw_rect_mm *const windows = sw_alloc_array(n, sizeof *windows);
        if (windows == NULL) return sw_fail_memory(note, "the panels");
        for (size_t i = 0; i < n; i++) {
            windows[i] = tasks[at + i].art;
            tasks[at + i].common = &commons[s];
        }
        const sw_status st = sw_reuse_plan_make(&sheets[s], windows, n, &n_numbers, plan, note);
        sw_free(windows);
        SW_TRY(st);
        SW_TRY(list_openings(sheets[s].openings, &commons[s], note));
        for (size_t r = 0; r < plan->n; r++) {
            void *data = made->reused;
            if (!sw_grow(&data, &cap, made->n_reused + 1, sizeof *made->reused)) return sw_fail_memory(note, "the panels");
            made->reused = data;
            sw_reuse *const reuse = &made->reused[made->n_reused++];
            *reuse = plan->at[r];
            sw_place_name(&tasks[at + reuse->from_window].place, reuse->from_panel);
            sw_place_name(&tasks[at + reuse->at_window].place, reuse->at_panel);
        }
        at += n;
    }
    return SW_OK;
}

/* First failure in order, so that the note does not depend on threads. */
static sw_status first_failure(const task *tasks, size_t n, sw_note *note)
{
    for (size_t i = 0; i < n; i++) {
        if (tasks[i].st != SW_OK) return sw_fail(note, tasks[i].st, "%s", tasks[i].note.text);
    }
    return SW_OK;
}

static void free_panel(sw_panel *panel)
{
    sw_contours_free(&panel->openings);
    sw_contours_free(&panel->marks);
    sw_contours_free(&panel->placed);
    sw_contour_free(&panel->outline);
    for (size_t i = 0; i < panel->n_strokes; i++) sw_free(panel->strokes[i].at);
    sw_free(panel->strokes);
}

/* Panels of a split sheet with nothing to cut go; the rest moves up. */
static void keep_cut_panels(sw_layout *layout, const task *tasks)
{
    size_t kept = 0;
    for (size_t i = 0; i < layout->n_panels; i++) {
        layout->n_replaced += tasks[i].n_replaced;
        layout->n_slivers += tasks[i].n_slivers;
        layout->n_held_back += tasks[i].n_held_back;
        if (is_needed(&tasks[i], &layout->panels[i])) layout->panels[kept++] = layout->panels[i];
        else free_panel(&layout->panels[i]);
    }
    layout->n_panels = kept;
}

sw_status sw_layout_make(const sw_grid *grid, const sw_layout_sheet *sheets, size_t n_sheets,
                         const sw_layout_opts *opts, sw_layout *out, sw_note *note)
{
    sw_layout made = { 0 };
    task *tasks = NULL;
    common *commons = NULL;
    sw_status st = check_opts(opts, note);
    size_t n = 0, n_passes = n_sheets;
    if (st != SW_OK) goto cleanup;
    for (size_t i = 0; i < n_sheets; i++) {
        n_passes = sw_max_size(n_passes, sheets[i].pass);
        n += windows_in(&sheets[i]);
    }
    made.frame_mm = on_step(opts->frame_mm);
    made.kerf_mm = opts->kerf_mm;
    if (n > 0) {
        made.panels = sw_alloc_array(n, sizeof *made.panels);
        tasks = sw_alloc_array(n, sizeof *tasks);
        commons = sw_alloc_array(n_sheets, sizeof *commons);
        st = made.panels == NULL || tasks == NULL || commons == NULL ? sw_fail_memory(note, "the panels") : SW_OK;
        if (st == SW_OK) st = list_tasks(grid, sheets, n_sheets, tasks, note);
        if (st == SW_OK) st = plan_sheets(sheets, n_sheets, tasks, commons, &made, note);
        if (st != SW_OK) goto cleanup;
        made.n_panels = n;
        work w = { opts, n_passes, made.frame_mm, tasks, made.panels };
        sw_parallel_bands(n, 1, fill_panels, &w);
        st = first_failure(tasks, n, note);
        if (st != SW_OK) goto cleanup;
        look_for_neighbours(&w, n);
        sw_parallel_bands(n, 1, finish_panels, &w);
        st = first_failure(tasks, n, note);
        if (st != SW_OK) goto cleanup;
        keep_cut_panels(&made, tasks);
    }
    *out = made;
    made = (sw_layout){ 0 };
cleanup:
    sw_layout_free(&made);
    for (size_t s = 0; commons != NULL && s < n_sheets; s++) free_common(&commons[s]);
    sw_free(commons);
    sw_free(tasks);
    return st;
}

void sw_layout_free(sw_layout *layout)
{
    if (layout == NULL) return;
    for (size_t i = 0; i < layout->n_panels; i++) free_panel(&layout->panels[i]);
    sw_free(layout->panels);
    sw_free(layout->reused);
    *layout = (sw_layout){ 0 };
}
