/* The pipeline: picture -> separation -> sheets -> contours -> layout -> proof, in this order and no other. */
#include "job/job.h"

#include <math.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <string.h>

#define MAX_FILE_BYTES 2000000000u
#define WRITTEN_STEP_MM 0.001 /* files hold three decimals: curves are rounded before they are proved */
#define MEND_ROUNDS 6
#define REPEAT_LEAST_MM 20.0  /* smaller copies are not worth holding in place twice; taste */
#define REPEAT_RATIO 0.35     /* of min-opening: how far copies may differ; the edge of a spray is softer; taste */
#define KEYS_A_PANEL 3u       /* two fix a sheet, the third shows that it is right; common practice, no source */
#define TOLERANCE_RATIO 0.1   /* of min-opening: how far a curve may be from the mask's outline */

sw_cut_opts sw_cut_defaults(void)
{
    return (sw_cut_opts){ .n_passes = 3,
                          .kind = SW_CUT_TONE,
                          .ground_rgb = 0xffffff,
                          .kerf_mm = -1.0,
                          .trap_mm = 1.5,
                          .detail_ratio = 0.55,
                          .droop_mm = 5.0,
                          .stroke_mm = 0.25 * 25.4 / 72.0,
                          .formats = SW_FORMAT_SVG,
                          .rates = sw_rates_usual() };
}

const char *sw_version(void) { return SW_VERSION; }

void sw_job_warn(sw_job *job, const char *format, ...)
{
    char line[512];
    va_list args;
    va_start(args, format);
    vsnprintf(line, sizeof line, format, args);
    va_end(args);
    sw_text_addf(&job->warnings, "%s\n", line);
}

/* *text becomes a copy of its own; NULL stays. */
static sw_status copy_text(const char **text, sw_note *note)
{
    if (*text == NULL) return SW_OK;
    const size_t n = strlen(*text) + 1;
    char *const copy = sw_alloc_array(n, 1);
    if (copy == NULL) return sw_fail_memory(note, "the job's options");
    memcpy(copy, *text, n);
    *text = copy;
    return SW_OK;
}

static const char *base_name(const char *path)
{
    const char *const slash = strrchr(path, '/');
    return slash != NULL && slash[1] != '\0' ? slash + 1 : sw_path_shown(path);
}

/* Keep what was asked, with strings of the job's own. On failure all of them are freed by sw_job_free. */
static sw_status keep_options(sw_job *job, const char *path, const sw_cut_opts *asked, sw_note *note)
{
    job->asked = *asked;
    job->asked.material = job->asked.surface = job->asked.marks = job->asked.paint_list = job->asked.zones = NULL;
    const struct {
        const char **to, *from;
    } texts[] = { { &job->picture_path, path },
                  { &job->picture_name, base_name(path) },
                  { &job->asked.material, asked->material },
                  { &job->asked.surface, asked->surface },
                  { &job->asked.marks, asked->marks },
                  { &job->asked.zones, asked->zones },
                  { &job->asked.paint_list, asked->paint_list } };
    for (size_t i = 0; i < SW_ARRAY_LEN(texts); i++) {
        const char *text = texts[i].from;
        SW_TRY(copy_text(&text, note));
        *texts[i].to = text;
    }
    job->opts = job->asked;
    sw_cut_complete(&job->opts);
    job->material = *sw_material_find(job->opts.material);
    job->material.thickness_mm = job->opts.thickness_mm;
    job->tolerance_mm = job->opts.smooth_mm > 0.0 ? job->opts.smooth_mm : TOLERANCE_RATIO * job->opts.min_opening_mm;
    return SW_OK;
}

/* Decode the picture and bring it onto the grid; fills size, grid and source size of the job. */
static sw_status read_art(sw_job *job, const char *path, sw_picture *art, sw_note *note)
{
    sw_picture full = { 0 };
    uint8_t *bytes = NULL;
    size_t n = 0;
    sw_picture_opts opts = { .ground = sw_job_rgb8(job->opts.ground_rgb) };
    sw_picture_info info = { 0 };
    const char *const name = sw_path_shown(path);
    sw_status st = sw_file_read(path, MAX_FILE_BYTES, &bytes, &n, note);
    if (st != SW_OK) goto cleanup;
    st = sw_picture_probe_memory(bytes, n, name, &opts, &info, note);
    if (st != SW_OK) goto cleanup;
    st = sw_job_size(&info, name, &job->opts, &job->grid, note);
    if (st != SW_OK) goto cleanup;
    st = sw_job_check_memory(bytes, n, name, &info, &job->opts, &job->grid, note);
    if (st != SW_OK) goto cleanup;
    opts.enough_width_px = job->grid.width_px;
    opts.enough_height_px = job->grid.height_px;
    st = sw_picture_read_memory(bytes, n, name, &opts, &full, note);
    if (st != SW_OK) goto cleanup;
    if (full.is_all_clear) {
        st = sw_fail(note, SW_CANNOT_HOLD, "'%s' is transparent all over; there is nothing to paint", name);
        goto cleanup;
    }
    job->source_width_px = full.source_width_px;
    job->source_height_px = full.source_height_px;
    st = sw_picture_resample(&full, job->grid.width_px, job->grid.height_px, art, note);
cleanup:
    sw_picture_free(&full);
    sw_free(bytes);
    return st;
}

/* A stage that sees only pixels cannot name the file: put the name before its line. */
static void name_picture(const char *path, sw_note *note)
{
    if (note == NULL || note->text[0] == '\0' || note->text[0] == '\'') return;
    const sw_note line = *note;
    note->text[0] = '\0';
    sw_fail(note, SW_OK, "'%s': %s", sw_path_shown(path), line.text);
}

/* The options' paints and then the list's, in one list. */
static sw_status gather_paints(sw_job *job, sw_note *note)
{
    if (job->opts.paint_list != NULL) SW_TRY(sw_paints_read(job->opts.paint_list, &job->paints, note));
    const size_t n_own = job->opts.n_paints, n_list = job->paints.n;
    if (n_own == 0) return SW_OK;
    void *data = job->paints.at;
    if (!sw_grow(&data, &job->paints.cap, n_own + n_list, sizeof *job->paints.at)) return sw_fail_memory(note, "the paints");
    job->paints.at = data;
    if (n_list > 0) memmove(job->paints.at + n_own, job->paints.at, n_list * sizeof *job->paints.at);
    for (size_t i = 0; i < n_own; i++) job->paints.at[i] = (sw_paint){ .colour = sw_job_rgb8(job->opts.paint_rgb[i]) };
    job->paints.n = n_own + n_list;
    return SW_OK;
}

static sw_status separate(sw_job *job, const sw_picture *art, sw_note *note)
{
    if (job->opts.marks != NULL) SW_TRY(sw_marks_read(job->opts.marks, &job->grid, &job->marks, note));
    SW_TRY(gather_paints(job, note));
    sw_rgb8 *const paints = job->paints.n > 0 ? sw_alloc_array(job->paints.n, sizeof *paints) : NULL;
    if (job->paints.n > 0 && paints == NULL) return sw_fail_memory(note, "the paints");
    for (size_t i = 0; i < job->paints.n; i++) paints[i] = job->paints.at[i].colour;
    const sw_separate_opts opts = { .kind = (sw_separate_kind)job->opts.kind,
                                    .n_passes = job->opts.n_passes,
                                    .ground = sw_job_rgb8(job->opts.ground_rgb),
                                    .paints = paints,
                                    .n_paints = job->paints.n,
                                    .min_opening_mm = job->opts.min_opening_mm,
                                    .min_web_mm = job->opts.min_web_mm,
                                    .detail_ratio = job->opts.detail_ratio,
                                    .has_detail = true,
                                    .marks = job->marks.at != NULL ? &job->marks : NULL };
    const sw_status st = job->opts.zones != NULL
                             ? sw_job_separate_zones(job, art, &opts, note)
                             : sw_separate(art, &job->grid, &opts, NULL, &job->separation, note);
    sw_free(paints);
    return st;
}

const char *sw_job_paint_name(const sw_job *job, size_t pass)
{
    const size_t i = job->separation.paint_index[pass];
    return i < job->paints.n && job->paints.at[i].name[0] != '\0' ? job->paints.at[i].name : NULL;
}

double sw_job_paint_coverage_m2(const sw_job *job, size_t pass)
{
    const size_t i = job->separation.paint_index[pass];
    return i < job->paints.n ? job->paints.at[i].coverage_m2 : 0.0;
}

/* How the sheets are split to fit the bed: seams where they cross least of what will be open. */
static sw_status plan_seams(sw_job *job, sw_note *note)
{
    const size_t n = job->separation.n_passes;
    sw_mask stack[SW_MAX_PASSES] = { { 0 } };
    sw_status st = SW_OK;
    if (!(job->opts.bed_width_mm > 0.0)) goto cleanup;
    const sw_seam_opts opts = sw_job_seam_opts(&job->opts);
    job->windows = sw_alloc_array(n, sizeof *job->windows);
    st = job->windows == NULL ? sw_fail_memory(note, "the seams") : SW_OK;
    if (st == SW_OK) st = sw_sheets_stack(&job->separation, job->opts.trap_mm, stack, note);
    if (st == SW_OK) st = sw_seams_plan(stack, n, &job->grid, &opts, job->windows, note);
    if (st == SW_OK) job->n_windows = n;
cleanup:
    for (size_t i = 0; i < SW_MAX_PASSES; i++) sw_mask_free(&stack[i]);
    return st;
}

/* Guide slots, when asked, in the sheet of the pass that was named. */
static sw_status cut_guides(sw_job *job, const sw_picture *art, sw_note *note)
{
    const size_t pass = job->opts.guides_pass;
    if (pass == 0 || pass > job->sheets.n) return SW_OK;
    const sw_guide_opts opts = { .min_opening_mm = job->opts.min_opening_mm + job->tolerance_mm,
                                 .min_web_mm = job->opts.min_web_mm + job->tolerance_mm,
                                 .windows = job->windows != NULL ? &job->windows[pass - 1] : NULL };
    return sw_guides_add(art, &job->separation, &opts, &job->sheets.at[pass - 1].openings, &job->n_guides, note);
}

/* Key windows, when asked, in every sheet but the first. */
static sw_status cut_keys(sw_job *job, sw_note *note)
{
    sw_mask *masks[SW_MAX_PASSES];
    if (!job->opts.has_key_windows) return SW_OK;
    for (size_t i = 0; i < job->sheets.n; i++) masks[i] = &job->sheets.at[i].openings;
    for (size_t pass = 2; pass <= job->sheets.n; pass++) {
        const sw_key_opts opts = { .min_web_mm = job->opts.min_web_mm + job->tolerance_mm,
                                   .n_wanted = KEYS_A_PANEL,
                                   .windows = job->windows != NULL ? &job->windows[pass - 1] : NULL };
        SW_TRY(sw_keys_find(masks, job->sheets.n, pass, &job->separation, &job->grid, &opts, &job->keys, note));
    }
    return SW_OK;
}

static sw_status make_sheets(sw_job *job, const sw_picture *art, sw_note *note)
{
    SW_TRY(plan_seams(job, note));
    const sw_sheet_opts opts = { .min_opening_mm = job->opts.min_opening_mm,
                                 .min_web_mm = job->opts.min_web_mm,
                                 .slack_mm = job->tolerance_mm,
                                 .trap_mm = job->opts.trap_mm,
                                 .droop_mm = job->opts.droop_mm,
                                 .material = &job->material,
                                 .marks = job->marks.at != NULL ? &job->marks : NULL,
                                 .windows = job->windows };
    SW_TRY(sw_sheets_make(&job->separation, art, &opts, NULL, &job->sheets, note));
    SW_TRY(cut_guides(job, art, note));
    return cut_keys(job, note);
}

static sw_status trace_sheet(sw_job *job, size_t i, sw_note *note)
{
    sw_drawn drawn[SW_MAX_PASSES];
    const sw_mask *later[SW_MAX_PASSES];
    const size_t n_later = job->sheets.n - 1 - i;
    for (size_t k = 0; k < i; k++) drawn[k] = (sw_drawn){ &job->sheets.at[k].openings, &job->openings[k] };
    for (size_t k = 0; k < n_later; k++) later[k] = &job->sheets.at[i + 1 + k].openings;
    const sw_trace_opts opts = { .tolerance_mm = job->tolerance_mm,
                                 .min_opening_mm = job->opts.min_opening_mm,
                                 .min_web_mm = job->opts.min_web_mm,
                                 .drawn = drawn,
                                 .later = later,
                                 .n_drawn = job->opts.trap_mm > 0.0 ? 0 : i,
                                 .n_later = job->opts.trap_mm > 0.0 ? 0 : n_later,
                                 .shared = &job->shared[i] };
    sw_contours made = { 0 };
    if (job->windows != NULL) {
        SW_TRY(sw_windows_trace(&job->sheets.at[i].openings, &job->windows[i], &job->grid, &opts, &made, note));
    } else {
        SW_TRY(sw_contours_trace(&job->sheets.at[i].openings, &job->grid, &opts, &made, note));
        sw_contours_round(&made, WRITTEN_STEP_MM);
    }
    sw_contours_free(&job->openings[i]);
    job->openings[i] = made;
    return SW_OK;
}

/* Lay out sheets first..first + n - 1 into *out. */
static sw_status lay_out(const sw_job *job, size_t first, size_t n, sw_layout *out, sw_note *note)
{
    sw_layout_sheet sheets[SW_MAX_PASSES];
    for (size_t i = 0; i < n; i++)
        sheets[i] = (sw_layout_sheet){ .pass = job->sheets.at[first + i].pass,
                                       .paint = job->sheets.at[first + i].paint,
                                       .paint_name = sw_job_paint_name(job, job->sheets.at[first + i].pass),
                                       .openings = &job->openings[first + i],
                                       .windows = job->windows != NULL ? &job->windows[first + i] : NULL,
                                       .keys = &job->keys,
                                       .reuse = job->opts.is_reuse ? &job->repeats[first + i] : NULL };
    const sw_layout_opts opts = { .frame_mm = job->opts.frame_mm,
                                  .bed_width_mm = job->opts.bed_width_mm,
                                  .bed_height_mm = job->opts.bed_height_mm,
                                  .kerf_mm = job->opts.kerf_mm,
                                  .min_web_mm = job->opts.min_web_mm,
                                  .min_opening_mm = job->opts.min_opening_mm,
                                  .is_staggered = job->opts.is_staggered,
                                  .job_name = job->picture_name };
    return sw_layout_make(&job->grid, sheets, n, &opts, out, note);
}

static sw_proof_opts proof_opts(const sw_job *job)
{
    /* cut lines lie half the kerf inside what will be open: the beam widens openings and takes from webs */
    return (sw_proof_opts){ .min_opening_mm = job->opts.min_opening_mm - job->opts.kerf_mm,
                            .min_web_mm = job->opts.min_web_mm + job->opts.kerf_mm,
                            .droop_mm = job->opts.droop_mm,
                            .material = &job->material };
}

/* Measure one drawn sheet and mend its mask; *n_mended is 0 when it is good or nothing more can be done. */
static sw_status mend_sheet(sw_job *job, size_t i, size_t round, size_t *n_mended, sw_note *note)
{
    sw_layout layout = { 0 };
    sw_proof_known now = { 0 };
    sw_proof_known *const before = &job->known[i];
    sw_proof_opts opts = proof_opts(job);
    opts.known = before;
    opts.n_known = 1;
    *n_mended = 0;
    sw_status st = lay_out(job, i, 1, &layout, note);
    if (st == SW_OK) st = sw_proof_known_make(&layout, &opts, &now, note);
    if (st != SW_OK) goto cleanup;
    for (size_t p = 0; p < now.layout.n_panels; p++)
        *n_mended += sw_job_mend(job, &job->sheets.at[i], &now.layout.panels[p], &now.proof.panels[p], round);
    sw_proof_known_free(before);
    *before = now;
cleanup:
    sw_layout_free(&layout);
    return st;
}

/* Draw a sheet, and draw it again wherever its curves came out too narrow. */
static sw_status draw_sheet(sw_job *job, size_t i, sw_note *note)
{
    size_t n_mended = 1;
    for (size_t round = 0; n_mended > 0 && round <= MEND_ROUNDS; round++) {
        SW_TRY(trace_sheet(job, i, note));
        if (round == MEND_ROUNDS) break; /* the proof will say what is left */
        SW_TRY(mend_sheet(job, i, round, &n_mended, note));
    }
    return SW_OK;
}

/* Sheets that are drawn side by side, and those of them that are good and wait for what hangs to be measured. */
typedef struct drawing {
    sw_job *job;
    atomic_bool is_waiting[SW_MAX_PASSES];
} drawing;

/* Draw a sheet; or, past the last one, measure what hangs on one that waits: a thread that has no sheet left to draw need not
 * stand idle till all are drawn. Those that nobody had time for are left to the proof. */
static sw_status draw_or_hang(size_t task, void *ctx, sw_note *note)
{
    drawing *const d = ctx;
    sw_job *const job = d->job;
    const sw_proof_opts opts = proof_opts(job);
    if (task < job->sheets.n) {
        SW_TRY(draw_sheet(job, task, note));
        atomic_store(&d->is_waiting[task], job->known[task].proof.is_good);
        return SW_OK;
    }
    for (size_t i = 0; i < job->sheets.n; i++)
        if (atomic_exchange(&d->is_waiting[i], false)) return sw_proof_known_hang(&job->known[i], &opts, note);
    return SW_OK;
}

/* Openings that are copies of others in their sheet. */
static sw_status find_repeats(size_t i, void *ctx, sw_note *note)
{
    sw_job *const job = ctx;
    const double tolerance_mm = REPEAT_RATIO * job->opts.min_opening_mm;
    SW_TRY(sw_repeats_find(&job->openings[i], tolerance_mm, REPEAT_LEAST_MM, &job->repeats[i], note));
    return sw_repeats_group(&job->openings[i], tolerance_mm, &job->repeats[i], note);
}

static sw_status trace(sw_job *job, sw_note *note)
{
    job->openings = sw_alloc_array(job->sheets.n, sizeof *job->openings);
    if (job->openings == NULL) return sw_fail_memory(note, "the curves");
    job->n_openings = job->sheets.n;
    drawing d = { .job = job };
    const bool is_hung = job->opts.droop_mm > 0.0 && !job->opts.is_reuse; /* what is left out changes the sheet */
    if (job->opts.trap_mm > 0.0) return sw_parallel_tasks(job->sheets.n * (is_hung ? 2 : 1), draw_or_hang, &d, note);
    for (size_t i = 0; i < job->sheets.n; i++) SW_TRY(draw_sheet(job, i, note)); /* each takes over curves of those before */
    return SW_OK;
}

static sw_status estimate(sw_job *job, sw_note *note)
{
    const sw_surface *const surface = sw_surface_find(job->opts.surface);
    sw_estimate_opts opts = { .rates = job->opts.rates, .paint_ratio = surface->paint_ratio, .time_ratio = surface->time_ratio };
    for (size_t k = 1; k <= job->sheets.n; k++) opts.coverage_m2[k - 1] = sw_job_paint_coverage_m2(job, k);
    return sw_layout_estimate(&job->layout, &opts, job->pass_estimates, job->sheets.n, &job->estimate, note);
}

static void forget(sw_job *job)
{
    for (size_t i = 0; i < SW_MAX_PASSES; i++) sw_proof_known_free(&job->known[i]);
}

/* The final word, on everything as it will be written. What was measured while mending counts where it is the same. */
static sw_status prove(sw_job *job, const sw_picture *art, sw_note *note)
{
    sw_proof_opts opts = proof_opts(job);
    opts.known = job->known;
    opts.n_known = job->sheets.n;
    const sw_status st = sw_proof_make(&job->layout, &job->grid, &job->separation, art, &opts, NULL, &job->proof,
                                       &job->composite, note);
    forget(job);
    return st;
}

/* What the user should know although the job is good. */
static void collect_warnings(sw_job *job)
{
    const double source_px_per_mm = (double)job->source_width_px / job->opts.width_mm;
    if (source_px_per_mm * job->opts.min_opening_mm < 1.0)
        sw_job_warn(job, "the picture has less than one pixel across a smallest opening, so edges are guessed; a larger "
                         "picture would be sharper");
    if (job->separation.n_passes < sw_job_n_passes(&job->opts) && job->opts.kind != SW_CUT_LINE)
        sw_job_warn(job, "the picture has colours for %zu passes only, %zu were asked", job->separation.n_passes,
                    sw_job_n_passes(&job->opts));
    if (job->opts.guides_pass > job->sheets.n)
        sw_job_warn(job, "there is no pass %zu, so no sheet has guide slots", job->opts.guides_pass);
    if (job->layout.n_replaced > 0)
        sw_job_warn(job, "%zu characters of the labels cannot be drawn and are '?'", job->layout.n_replaced);
    if (job->layout.n_held_back > 0)
        sw_job_warn(job, "%zu openings have no room for the whole kerf and come out a little off there", job->layout.n_held_back);
    for (size_t i = 0; i < job->sheets.n; i++) {
        sw_job_warn_of_droop(job, i);
        if (!job->sheets.at[i].is_one_piece)
            sw_job_warn(job, "pass %zu: an island could not be bridged", job->sheets.at[i].pass);
    }
}

static sw_status run(sw_job *job, const char *path, sw_picture *art, sw_note *note)
{
    static const char *const names[] = { "reading the picture", "choosing paints", "making sheets",
                                         "drawing curves",      "laying out",      "proving" };
    static const double done[] = { 0.0, 0.12, 0.35, 0.65, 0.85, 0.9 }; /* shares of a 12 MP job, from the benchmark */
    const sw_progress progress = { .tell = job->opts.tell, .ctx = job->opts.tell_ctx };
    for (size_t step = 0; step < SW_ARRAY_LEN(names); step++) {
        if (sw_is_interrupted()) return sw_fail(note, SW_INTERRUPTED, "interrupted; nothing was written");
        sw_progress_tell(&progress, names[step], done[step]);
        sw_status st = SW_OK;
        switch (step) {
        case 0: st = read_art(job, path, art, note); break;
        case 1: st = separate(job, art, note); break;
        case 2: st = make_sheets(job, art, note); break;
        case 3: st = trace(job, note); break;
        case 4:
            st = sw_parallel_tasks(job->sheets.n, find_repeats, job, note);
            if (st == SW_OK) st = lay_out(job, 0, job->sheets.n, &job->layout, note);
            if (st == SW_OK) st = estimate(job, note);
            break;
        default: st = prove(job, art, note); break;
        }
        if (st == SW_CANNOT_HOLD) name_picture(path, note);
        if (st != SW_OK) return st;
    }
    collect_warnings(job);
    sw_progress_tell(&progress, "done", 1.0);
    return SW_OK;
}

/* Says why a job is not good; the job itself is fine to look at. */
static sw_status verdict(const sw_job *job, sw_note *note)
{
    if (job->proof.is_good) return SW_OK;
    sw_text why = { 0 };
    sw_proof_explain(&job->proof, &job->layout, &why);
    sw_fail(note, SW_CANNOT_HOLD, "'%s' failed its proof: %s", job->picture_name,
            why.data != NULL ? why.data : "see the report");
    sw_text_free(&why);
    return SW_CANNOT_HOLD;
}

sw_status sw_job_cut(const char *picture, const sw_cut_opts *opts, sw_job **out, sw_note *note)
{
    sw_job *job = NULL;
    sw_picture art = { 0 };
    if (note != NULL) note->text[0] = '\0';
    sw_cut_opts asked = *opts;
    sw_job_tidy_opts(&asked);
    sw_status st = sw_job_check_opts(&asked, note);
    if (st != SW_OK) goto cleanup;
    sw_threads_set(opts->n_threads);
    job = sw_alloc_array(1, sizeof *job);
    if (job == NULL) {
        st = sw_fail_memory(note, "the job");
        goto cleanup;
    }
    st = keep_options(job, picture, &asked, note);
    if (st != SW_OK) goto cleanup;
    st = run(job, picture, &art, note);
    if (st != SW_OK) goto cleanup;
    st = verdict(job, note);
    *out = job;
    job = NULL;
cleanup:
    sw_picture_free(&art);
    sw_job_free(job);
    return st;
}

void sw_job_free(sw_job *job)
{
    if (job == NULL) return;
    for (size_t i = 0; i < job->n_openings; i++) sw_contours_free(&job->openings[i]);
    sw_free(job->openings);
    const char *const texts[] = { job->picture_path, job->picture_name, job->asked.material, job->asked.surface, job->asked.marks,
                                  job->asked.paint_list, job->asked.zones };
    for (size_t i = 0; i < SW_ARRAY_LEN(texts); i++) sw_free((void *)(uintptr_t)texts[i]);
    for (size_t i = 0; i < job->n_windows; i++) sw_windows_free(&job->windows[i]);
    sw_free(job->windows);
    for (size_t i = 0; i < SW_MAX_PASSES; i++) sw_repeats_free(&job->repeats[i]);
    sw_keys_free(&job->keys);
    sw_paints_free(&job->paints);
    sw_marks_free(&job->marks);
    sw_separation_free(&job->separation);
    sw_sheets_free(&job->sheets);
    sw_layout_free(&job->layout);
    forget(job);
    sw_proof_free(&job->proof);
    sw_picture_free(&job->composite);
    sw_text_free(&job->warnings);
    sw_free(job);
}
