/* The proof of a job: every panel's final curves measured again, the wall put together from them, and one sentence
 * about what is wrong. Each measure is a file of its own; this one only asks for them in order. */
#include <math.h>

#include "proof/shape.h"

#define ACROSS_PX 10.0 /* pixels across the smaller of the two asked widths */

static double resolution(const sw_proof_opts *opts)
{
    if (opts->px_per_mm > 0.0) return opts->px_per_mm;
    return ACROSS_PX / sw_min(opts->min_opening_mm, opts->min_web_mm);
}

static sw_status raster_of(const sw_panel *panel, double px_per_mm, sw_proof_raster *out, sw_note *note)
{
    const double width_px = ceil(panel->width_mm * px_per_mm), height_px = ceil(panel->height_mm * px_per_mm);
    if (!(width_px >= 1.0 && height_px >= 1.0 && width_px <= 1e7 && height_px <= 1e7))
        return sw_fail(note, SW_TOO_LARGE, "panel %s of pass %zu has no size that can be proved", panel->name,
                       panel->pass);
    *out = (sw_proof_raster){ (size_t)width_px, (size_t)height_px, px_per_mm, { 0.0, 0.0 } };
    return SW_OK;
}

static bool is_panel_good(const sw_proof_panel *panel)
{
    return panel->n_pieces == 1 && panel->n_open_contours == 0 && panel->n_crossings == 0 && panel->n_outside == 0 &&
           panel->n_narrow_webs == 0 && panel->n_narrow_openings == 0;
}

/* Fills *out in place: what it owns is freed with the proof, also when this fails half-way. */
static sw_status measure_panel(const sw_panel *panel, sw_proof_shape *shape, const sw_proof_opts *opts,
                               sw_proof_panel *out, sw_note *note)
{
    sw_proof_raster raster;
    out->n_outside = shape->n_outside;
    for (size_t r = 0; r < shape->n_rings; r++) out->n_open_contours += shape->rings[r].is_open;
    SW_TRY(raster_of(panel, resolution(opts), &raster, note));
    SW_TRY(sw_proof_pieces(shape, &raster, &out->n_pieces, note));
    SW_TRY(sw_proof_widths(shape, opts, out, note));
    out->is_good = is_panel_good(out);
    return SW_OK;
}

/* The same, or what is known of it; not yet what hangs. */
static sw_status prove_panel(const sw_panel *panel, sw_proof_shape *shape, const sw_proof_opts *opts,
                             sw_proof_panel *out, sw_note *note)
{
    bool has_hang;
    const sw_proof_panel *const known = sw_proof_known_find(opts, panel, &has_hang);
    if (known == NULL) return measure_panel(panel, shape, opts, out, note);
    *out = *known;
    return SW_OK;
}

static sw_status hang_panel(const sw_panel *panel, const sw_proof_shape *shape, const sw_proof_opts *opts,
                            sw_proof_panel *out, sw_note *note)
{
    bool has_hang;
    if (sw_proof_known_find(opts, panel, &has_hang) != NULL && has_hang) return SW_OK;
    out->hang = (sw_hang){ 0 };
    return opts->droop_mm > 0.0 ? sw_proof_droop(shape, panel, opts, &out->hang, note) : SW_OK;
}

static sw_status check_opts(const sw_proof_opts *opts, sw_note *note)
{
    if (!sw_length_ok(opts->min_opening_mm, false) || !sw_length_ok(opts->min_web_mm, false))
        return sw_fail(note, SW_BAD_LENGTH, "the proof needs --min-opening and --min-web above 0");
    return SW_OK;
}

sw_status sw_proof_panel_make(const sw_panel *panel, const sw_proof_opts *opts, sw_proof_panel *out, sw_note *note)
{
    sw_proof_shape shape = { 0 };
    sw_proof_panel made = { 0 };
    bool has_hang;
    sw_status st = check_opts(opts, note);
    const sw_proof_panel *const known = sw_proof_known_find(opts, panel, &has_hang);
    if (st == SW_OK && known != NULL && has_hang) { /* its shape is not needed */
        *out = *known;
        return SW_OK;
    }
    if (st == SW_OK) st = sw_proof_shape_make(panel, &shape, note);
    if (st == SW_OK) st = prove_panel(panel, &shape, opts, &made, note);
    if (st == SW_OK) st = hang_panel(panel, &shape, opts, &made, note);
    if (st == SW_OK) *out = made;
    else sw_free(made.faults);
    sw_proof_shape_free(&shape);
    return st;
}

/* Panels side by side. */
typedef struct panels_work {
    const sw_layout *layout;
    const sw_proof_opts *opts;
    sw_proof_shape *shapes;
    sw_proof_panel *made;
    size_t first;      /* of those at work */
    /* for the wall */
    const sw_grid *grid;
    const sw_separation *separation;
    const sw_picture *art;
    sw_picture *composite;
    double *mean;
} panels_work;

static sw_status prove_one(size_t task, void *ctx, sw_note *note)
{
    const panels_work *const w = ctx;
    const size_t p = w->first + task;
    SW_TRY(sw_proof_shape_make(&w->layout->panels[p], &w->shapes[p], note));
    return prove_panel(&w->layout->panels[p], &w->shapes[p], w->opts, &w->made[p], note);
}

/* What hangs, panel by panel; after them the wall, which one thread can do while another is at the last net. */
static sw_status finish_one(size_t task, void *ctx, sw_note *note)
{
    const panels_work *const w = ctx;
    const size_t p = w->first + task;
    if (p < w->layout->n_panels) return hang_panel(&w->layout->panels[p], &w->shapes[p], w->opts, &w->made[p], note);
    return sw_proof_wall(w->layout, w->shapes, w->grid, w->separation, w->art, w->composite, w->mean, note);
}

/* Tasks 0 .. n - 1, a few at a time, for progress. */
static sw_status do_tasks(size_t n, sw_task_fn fn, panels_work *w, const sw_progress *progress, const char *what, sw_note *note)
{
    const size_t most = 4 * (size_t)sw_threads();
    for (w->first = 0; w->first < n; w->first += most) {
        sw_progress_tell(progress, what, (double)w->first / (double)n);
        SW_TRY(sw_parallel_tasks(sw_min_size(most, n - w->first), fn, w, note));
    }
    return SW_OK;
}

/* Shapes are not kept. */
static sw_status know_one(size_t task, void *ctx, sw_note *note)
{
    const panels_work *const w = ctx;
    return sw_proof_panel_make(&w->layout->panels[task], w->opts, &w->made[task], note);
}

sw_status sw_proof_known_make(sw_layout *layout, const sw_proof_opts *opts, sw_proof_known *out, sw_note *note)
{
    sw_proof_opts asked = *opts;
    sw_proof made = { .n_panels = layout->n_panels, .is_good = layout->n_panels > 0 };
    sw_status st = SW_OK;
    asked.droop_mm = 0.0;
    made.panels = sw_alloc_array(layout->n_panels + 1, sizeof *made.panels);
    st = made.panels == NULL ? sw_fail_memory(note, "the proof") : SW_OK;
    panels_work work = { .layout = layout, .opts = &asked, .made = made.panels };
    if (st == SW_OK) st = sw_parallel_tasks(layout->n_panels, know_one, &work, note);
    if (st != SW_OK) goto cleanup;
    for (size_t p = 0; p < layout->n_panels; p++) made.is_good = made.is_good && made.panels[p].is_good;
    *out = (sw_proof_known){ .layout = *layout,
                             .proof = made,
                             .min_opening_mm = opts->min_opening_mm,
                             .min_web_mm = opts->min_web_mm,
                             .px_per_mm = opts->px_per_mm };
    *layout = (sw_layout){ 0 };
    made = (sw_proof){ 0 };
cleanup:
    sw_proof_free(&made);
    return st;
}

sw_status sw_proof_make(const sw_layout *layout, const sw_grid *grid, const sw_separation *separation,
                        const sw_picture *art, const sw_proof_opts *opts, const sw_progress *progress, sw_proof *out,
                        sw_picture *composite, sw_note *note)
{
    sw_proof made = { .n_panels = layout->n_panels, .is_good = layout->n_panels > 0 };
    sw_picture wall = { 0 };
    panels_work work = { .layout = layout,
                         .opts = opts,
                         .grid = grid,
                         .separation = separation,
                         .art = art,
                         .composite = composite != NULL ? &wall : NULL,
                         .mean = &made.mean_ciede2000 };
    sw_proof_shape *shapes = NULL;
    sw_status st = check_opts(opts, note);
    if (st != SW_OK) goto cleanup;
    shapes = work.shapes = sw_alloc_array(layout->n_panels + 1, sizeof *shapes);
    made.panels = work.made = sw_alloc_array(layout->n_panels + 1, sizeof *made.panels);
    if (shapes == NULL || made.panels == NULL) {
        st = sw_fail_memory(note, "the proof");
        goto cleanup;
    }
    st = do_tasks(layout->n_panels, prove_one, &work, progress, "proving the curves", note);
    if (st == SW_OK) st = do_tasks(layout->n_panels + 1, finish_one, &work, progress, "measuring what hangs", note);
    if (st != SW_OK) goto cleanup;
    for (size_t p = 0; p < layout->n_panels; p++) made.is_good = made.is_good && made.panels[p].is_good;
    if (composite != NULL) *composite = wall;
    wall = (sw_picture){ 0 };
    *out = made;
    made = (sw_proof){ 0 };
cleanup:
    sw_picture_free(&wall);
    for (size_t p = 0; shapes != NULL && p < layout->n_panels; p++) sw_proof_shape_free(&shapes[p]);
    sw_free(shapes);
    sw_proof_free(&made);
    return st;
}

/* ---- in words -------------------------------------------------------------------------------------------- */

static void add_where(sw_text *out, sw_pt_mm at)
{
    sw_text_add(out, " at ");
    sw_text_add_number(out, at.x_mm, 0);
    sw_text_add(out, ", ");
    sw_text_add_number(out, at.y_mm, 0);
    sw_text_add(out, " mm from the panel's top left");
}

static void add_narrow(sw_text *out, size_t n, const char *one, const char *many, double width_mm, sw_pt_mm at,
                       const char *mend)
{
    sw_text_addf(out, "%zu %s narrower than asked", n, n == 1 ? one : many);
    if (width_mm > 0.0) {
        sw_text_add(out, ", the narrowest ");
        sw_text_add_number(out, width_mm, 2);
        sw_text_add(out, " mm");
        add_where(out, at);
    }
    sw_text_add(out, mend);
}

/* The gravest fault of a panel: what no cutter can mend comes first. */
static void add_fault(sw_text *out, const sw_proof_panel *panel)
{
    if (panel->n_pieces == 0)
        sw_text_add(out, "no material is left; a wider --frame or another ground is needed");
    else if (panel->n_pieces > 1)
        sw_text_addf(out, "%zu parts of the material hang on nothing; a larger --width or a smaller --min-web leaves "
                          "room for bridges", panel->n_pieces - 1);
    else if (panel->n_open_contours > 0)
        sw_text_addf(out, "%zu cut line(s) do not close; this is a fault of the program", panel->n_open_contours);
    else if (panel->n_crossings > 0)
        sw_text_addf(out, "cut lines cross or touch in %zu place(s); a smaller tolerance or a larger --width helps",
                     panel->n_crossings);
    else if (panel->n_outside > 0)
        sw_text_addf(out, "%zu cut line(s) leave the panel; a wider --frame is needed", panel->n_outside);
    else if (panel->n_narrow_webs > 0)
        add_narrow(out, panel->n_narrow_webs, "web is", "webs are", panel->narrowest_web_mm,
                   panel->narrowest_web_at, "; a larger --width or a smaller --min-web would hold");
    else
        add_narrow(out, panel->n_narrow_openings, "opening is", "openings are", panel->narrowest_opening_mm,
                   panel->narrowest_opening_at, "; a larger --width or a smaller --min-opening would hold");
}

void sw_proof_explain(const sw_proof *proof, const sw_layout *layout, sw_text *out)
{
    if (proof->is_good) return;
    for (size_t p = 0; p < proof->n_panels && p < layout->n_panels; p++) {
        if (proof->panels[p].is_good) continue;
        sw_text_addf(out, "pass %zu", layout->panels[p].pass);
        if (layout->panels[p].name[0] != '\0') sw_text_addf(out, ", panel %s", layout->panels[p].name);
        sw_text_add(out, ": ");
        add_fault(out, &proof->panels[p]);
        return;
    }
    sw_text_add(out, "there is no sheet to cut");
}

void sw_proof_free(sw_proof *proof)
{
    if (proof == NULL) return;
    for (size_t p = 0; proof->panels != NULL && p < proof->n_panels; p++) sw_free(proof->panels[p].faults);
    sw_free(proof->panels);
    *proof = (sw_proof){ 0 };
}
