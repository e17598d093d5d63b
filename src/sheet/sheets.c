/*
 * Sheets of a job.
 *
 * Stack; then smallest features of every window of every pass, which need only the stack and so run side by side; then
 * pass by pass in painting order bridges, again the windows side by side, and what bridges made narrow is settled by
 * adding material alone. Bridges of a pass need to know what the wall shows before it, which the finished sheets of the
 * passes before tell.
 *
 * Memory: 9/8 bytes a pixel and pass (sheets and stack), 1 for what the wall shows, 5/4 for each window at work (a
 * thread each), and what bridging one window needs.
 */
#include "sheet/bits.h"
#include "sheet/bridge.h"
#include "sheet/feature.h"
#include "sheet/notice.h"
#include "sheet/runs.h"

#include <math.h>
#include <string.h>

void sw_sheet_free(sw_sheet *sheet)
{
    if (sheet == NULL) return;
    sw_mask_free(&sheet->openings);
    sw_free(sheet->bridges);
    *sheet = (sw_sheet){ 0 };
}

void sw_sheets_free(sw_sheets *sheets)
{
    if (sheets == NULL) return;
    for (size_t i = 0; i < sheets->n && sheets->at != NULL; i++) sw_sheet_free(&sheets->at[i]);
    sw_free(sheets->at);
    *sheets = (sw_sheets){ 0 };
}

/* Everything the steps share. */
typedef struct maker {
    const sw_separation *separation;
    const sw_picture *art;
    const sw_sheet_opts *opts;
    const sw_progress *progress;
    sw_bits stack[SW_MAX_PASSES]; /* what each pass would cut if anything could be cut */
    sw_bits now;          /* room for measuring */
    sw_sheets sheets;
    sw_windows whole;     /* one window, for sheets that are not split */
    sw_rect_px whole_at;
    uint8_t *below;       /* label of what the wall shows */
    sw_notice notice;     /* what an error at a pixel counts */
    sw_backs backs;       /* openings under bridges */
    sw_feature_job feature; /* but for its window */
    size_t task_pass[SW_MAX_PASSES + 1]; /* first task of each pass; a task is one window */
    sw_sheet *task_sheet; /* each task's window: counts and bridges of its own, the mask of its sheet */
    size_t n_tasks, task_begin; /* task_begin: of those at work */
} maker;

static void maker_free(maker *m)
{
    for (size_t k = 0; k < SW_MAX_PASSES; k++) sw_bits_free(&m->stack[k]);
    sw_bits_free(&m->now);
    sw_sheets_free(&m->sheets);
    sw_free(m->below);
    sw_notice_free(&m->notice);
    sw_free(m->backs.at);
    for (size_t task = 0; m->task_sheet != NULL && task < m->n_tasks; task++) sw_free(m->task_sheet[task].bridges);
    sw_free(m->task_sheet);
}

static const sw_windows *windows_of(const maker *m, size_t pass)
{
    return m->opts->windows != NULL ? &m->opts->windows[pass - 1] : &m->whole;
}

/* Widths in whole pixels. What is made becomes as wide as planned, rounded up; what is found may be narrower by the
 * rounding, but never than the width asked for without slack: on the grid a slanted bar is uneven by half a pixel, and
 * a test as strict as the plan would mend its own work. */
static size_t made_px(const sw_grid *grid, double min_mm, double slack_mm)
{
    return sw_max_size(1, (size_t)ceil(sw_px_from_mm(grid, min_mm + slack_mm) - 1e-6));
}

static size_t tested_px(const sw_grid *grid, double min_mm, double slack_mm)
{
    const size_t asked = made_px(grid, min_mm, 0.0);
    return sw_max_size(asked, (size_t)floor(sw_px_from_mm(grid, min_mm + slack_mm) + 1e-6));
}

static sw_status check_opts(maker *m, sw_note *note)
{
    const sw_sheet_opts *const o = m->opts;
    const sw_grid *const grid = &m->separation->grid;
    if (!sw_length_ok(o->min_opening_mm, false) || !sw_length_ok(o->min_web_mm, false))
        return sw_fail(note, SW_BAD_LENGTH, "the smallest opening and web must be lengths above 0");
    if (!sw_length_ok(o->slack_mm, true) || !sw_length_ok(o->trap_mm, true) || !sw_length_ok(o->droop_mm, true))
        return sw_fail(note, SW_BAD_LENGTH, "slack, trap and droop must be lengths");
    const double widest_mm = sw_max(o->min_opening_mm, o->min_web_mm) + o->slack_mm;
    if (!(sw_px_from_mm(grid, widest_mm) <= SW_DISC_MAX_PX - 1.0))
        return sw_fail(note, SW_BAD_LENGTH, "the smallest opening and web differ too much: one is %u pixels wide",
                       (unsigned)sw_min(sw_px_from_mm(grid, widest_mm), 1e9));
    m->feature.opening_px = tested_px(grid, o->min_opening_mm, o->slack_mm);
    m->feature.opening_to_px = made_px(grid, o->min_opening_mm, o->slack_mm);
    m->feature.web_px = tested_px(grid, o->min_web_mm, o->slack_mm);
    m->feature.web_to_px = made_px(grid, o->min_web_mm, o->slack_mm);
    return SW_OK;
}

static void fill_errors(sw_feature_job *job)
{
    const sw_separation *const s = job->separation;
    for (size_t i = 0; i <= s->n_passes; i++)
        for (size_t j = 0; j <= s->n_passes; j++)
            job->error[i][j] = sw_ciede2000(sw_lab_from_rgb8(s->colour[i]), sw_lab_from_rgb8(s->colour[j]));
}

/* The stack's masks become the sheets' and are kept as bits. */
static sw_status stack_all(maker *m, sw_note *note)
{
    const sw_separation *const s = m->separation;
    sw_mask masks[SW_MAX_PASSES] = { { 0 } };
    SW_TRY(sw_sheets_stack(s, m->opts->trap_mm, masks, note));
    for (size_t k = 0; k < s->n_passes; k++) {
        m->sheets.at[k].pass = k + 1;
        m->sheets.at[k].paint = s->colour[k + 1];
        m->sheets.at[k].openings = masks[k];
        for (size_t task = m->task_pass[k]; task < m->task_pass[k + 1]; task++) {
            m->task_sheet[task].pass = k + 1;
            m->task_sheet[task].paint = s->colour[k + 1];
            m->task_sheet[task].openings = masks[k]; /* shared: windows do not overlap */
        }
    }
    SW_TRY(sw_bits_make(s->grid.width_px, s->grid.height_px, 0, &m->now, note));
    for (size_t k = 0; k < s->n_passes; k++) {
        SW_TRY(sw_bits_make(s->grid.width_px, s->grid.height_px, 0, &m->stack[k], note));
        sw_bits_from_bytes(&m->stack[k], masks[k].at, masks[k].width_px, 1, 1, false);
    }
    return SW_OK;
}

static sw_status begin(maker *m, sw_note *note)
{
    const sw_separation *const s = m->separation;
    m->whole_at = (sw_rect_px){ 0, 0, s->grid.width_px, s->grid.height_px };
    m->whole = (sw_windows){ .at = &m->whole_at, .n = 1 };
    m->feature.separation = s;
    m->feature.stack = m->stack;
    fill_errors(&m->feature);
    for (size_t pass = 1; pass <= s->n_passes; pass++)
        m->task_pass[pass] = m->task_pass[pass - 1] + windows_of(m, pass)->n;
    const size_t n_tasks = m->n_tasks = m->task_pass[s->n_passes];
    m->below = sw_alloc_array(s->grid.width_px * s->grid.height_px, 1);
    m->task_sheet = sw_alloc_array(n_tasks, sizeof *m->task_sheet);
    m->sheets.at = sw_alloc_array(s->n_passes, sizeof *m->sheets.at);
    if (m->below == NULL || m->task_sheet == NULL ||
        m->sheets.at == NULL)
        return sw_fail_memory(note, "the sheets");
    m->sheets.n = s->n_passes;
    return stack_all(m, note);
}

/* ---- windows side by side ------------------------------------------------------------------------------- */

static sw_status run_tasks(maker *m, size_t begin, size_t end, sw_task_fn fn, sw_note *note)
{
    m->task_begin = begin;
    return sw_parallel_tasks(end - begin, fn, m, note);
}

static sw_rect_px window_of(const maker *m, size_t task)
{
    size_t pass = 1;
    while (m->task_pass[pass] <= task) pass++;
    return windows_of(m, pass)->at[task - m->task_pass[pass - 1]];
}

static sw_status mend_task(size_t task, void *arg, sw_note *note)
{
    maker *const m = arg;
    sw_feature_job job = m->feature;
    task += m->task_begin;
    job.window = window_of(m, task);
    return sw_features_mend(&m->task_sheet[task], &job, note);
}

/* ---- one pass --------------------------------------------------------------------------------------- */

/* Material that touches no edge of the window would fall. */
static sw_status is_held(const sw_mask *openings, sw_rect_px w, bool *out, sw_note *note)
{
    sw_runs runs = { 0 };
    const uint8_t *const at = openings->at + w.y * openings->width_px + w.x;
    SW_TRY(sw_runs_make(at, w.width, w.height, openings->width_px, 0, false, &runs, note));
    bool *const hangs = sw_alloc_array(runs.n_components + 1, sizeof *hangs);
    if (hangs == NULL) {
        sw_runs_free(&runs);
        return sw_fail_memory(note, "the pieces of a sheet");
    }
    for (size_t y = 0; y < w.height; y++)
        for (size_t i = runs.row[y]; i < runs.row[y + 1]; i++)
            if (y == 0 || y + 1 == w.height || runs.at[i].begin == 0 || runs.at[i].end == w.width)
                hangs[runs.at[i].id] = true;
    *out = true;
    for (size_t id = 1; id <= runs.n_components; id++) *out = *out && hangs[id];
    sw_free(hangs);
    sw_runs_free(&runs);
    return SW_OK;
}

static sw_status make_window(const maker *m, sw_sheet *sheet, sw_rect_px window, sw_note *note)
{
    const sw_sheet_opts *const o = m->opts;
    const sw_bridge_job bridge = { .separation = m->separation,
                                   .below = m->below,
                                   .notice = &m->notice,
                                   .art = m->art,
                                   .marks = o->marks,
                                   .window = window,
                                   .width_mm = o->min_web_mm + o->slack_mm,
                                   .min_opening_mm = o->min_opening_mm,
                                   .droop_mm = o->droop_mm,
                                   .material = o->material,
                                   .is_rough = o->is_rough };
    if (sw_is_interrupted()) return sw_fail(note, SW_INTERRUPTED, "interrupted");
    SW_TRY(sw_bridges_plan(sheet, &bridge, note));
    sw_feature_job feature = m->feature;
    feature.window = window;
    SW_TRY(sw_features_settle(sheet, &feature, note));
    return is_held(&sheet->openings, window, &sheet->is_one_piece, note);
}

static sw_status make_task(size_t task, void *arg, sw_note *note)
{
    maker *const m = arg;
    task += m->task_begin;
    return make_window(m, &m->task_sheet[task], window_of(m, task), note);
}

/* What the sheet gained and lost against the stack, row by row, and what the wall shows after it. */
typedef struct measure_job {
    const sw_bits *stack, *now;
    const sw_mask *openings;
    uint8_t *below, pass;
    uint32_t *lost, *gained; /* of each row */
} measure_job;

static void measure_rows(size_t row_begin, size_t row_end, void *arg)
{
    const measure_job *const job = arg;
    const size_t width = job->openings->width_px, words = job->now->words;
    for (size_t y = row_begin; y < row_end; y++) {
        const uint64_t *const stack = job->stack->at + y * words, *const now = job->now->at + y * words;
        uint32_t lost = 0, gained = 0;
        for (size_t i = 0; i < words; i++) {
            lost += (uint32_t)__builtin_popcountll(stack[i] & ~now[i]);
            gained += (uint32_t)__builtin_popcountll(now[i] & ~stack[i]);
        }
        job->lost[y] = lost;
        job->gained[y] = gained;
        const uint8_t *const restrict openings = job->openings->at + y * width;
        uint8_t *const restrict below = job->below + y * width;
        for (size_t x = 0; x < width; x++) below[x] = openings[x] != 0 ? job->pass : below[x];
    }
}

static sw_status measure(maker *m, sw_sheet *sheet, sw_note *note)
{
    const size_t height = sheet->openings.height_px;
    uint32_t *const rows = sw_alloc_raw(height, 2 * sizeof *rows);
    if (rows == NULL) return sw_fail_memory(note, "the sheets");
    sw_bits_from_bytes(&m->now, sheet->openings.at, sheet->openings.width_px, 1, 1, false);
    measure_job job = { .stack = &m->stack[sheet->pass - 1], .now = &m->now, .openings = &sheet->openings };
    job.below = m->below;
    job.pass = (uint8_t)sheet->pass;
    job.lost = rows;
    job.gained = rows + height;
    sw_parallel_rows(height, measure_rows, &job);
    uint64_t lost = 0, gained = 0;
    for (size_t y = 0; y < height; y++) {
        lost += job.lost[y];
        gained += job.gained[y];
    }
    sw_free(rows);
    const double px_mm2 = 1.0 / (m->separation->grid.px_per_mm * m->separation->grid.px_per_mm);
    sheet->lost_mm2 = (double)lost * px_mm2;
    sheet->gained_mm2 = (double)gained * px_mm2;
    return SW_OK;
}

static void add_hang(sw_sheet *sheet, const sw_hang *window)
{
    const size_t n_over = sheet->hang.n_over + window->n_over;
    if (window->droop_mm > sheet->hang.droop_mm) sheet->hang = *window;
    sheet->hang.n_over = n_over;
}

/* What a window counted and left, but for the mask, which is the sheet's own. */
static bool add_window(sw_sheet *sheet, const sw_sheet *window)
{
    const size_t n = window->n_bridges;
    void *bridges = sheet->bridges;
    const bool is_grown = sw_grow(&bridges, &sheet->cap_bridges, sheet->n_bridges + n, sizeof *sheet->bridges);
    sheet->bridges = bridges;
    if (!is_grown) return false;
    if (n > 0) memcpy(sheet->bridges + sheet->n_bridges, window->bridges, n * sizeof *sheet->bridges);
    sheet->n_bridges += n;
    sheet->n_islands += window->n_islands;
    sheet->n_islands_dropped += window->n_islands_dropped;
    sheet->n_openings_widened += window->n_openings_widened;
    sheet->n_openings_dropped += window->n_openings_dropped;
    sheet->n_webs_thickened += window->n_webs_thickened;
    sheet->n_webs_merged += window->n_webs_merged;
    add_hang(sheet, &window->hang);
    sheet->is_one_piece = sheet->is_one_piece && window->is_one_piece;
    return true;
}

static sw_status make_pass(maker *m, size_t pass, sw_note *note)
{
    sw_sheet *const sheet = &m->sheets.at[pass - 1];
    SW_TRY(run_tasks(m, m->task_pass[pass - 1], m->task_pass[pass], make_task, note));
    sheet->is_one_piece = true;
    for (size_t task = m->task_pass[pass - 1]; task < m->task_pass[pass]; task++)
        if (!add_window(sheet, &m->task_sheet[task])) return sw_fail_memory(note, "the sheets");
    return measure(m, sheet, note);
}

static sw_status hold_task(size_t task, void *arg, sw_note *note)
{
    maker *const m = arg;
    sw_sheet *const sheet = &m->task_sheet[task];
    sw_back_window window = { .sheets = &m->sheets,
                              .separation = m->separation,
                              .under = sheet->pass,
                              .window = window_of(m, task),
                              .width_mm = m->opts->min_web_mm + m->opts->slack_mm,
                              .droop_mm = m->opts->droop_mm,
                              .material = m->opts->material };
    for (size_t i = 0; i < sheet->n_bridges; i++) window.is_bent = window.is_bent || sheet->bridges[i].is_bent;
    if (sw_is_interrupted()) return sw_fail(note, SW_INTERRUPTED, "interrupted");
    return sw_backs_hold(&window, &m->backs, &sheet->hang, note);
}

/* Openings under bridges that show, where the sheets they lie in hold as planned with them. */
static sw_status back_bridges(maker *m, sw_note *note)
{
    const sw_sheet_opts *const o = m->opts;
    SW_TRY(sw_bridges_back(&m->sheets, m->separation, o->windows, o->min_opening_mm, o->min_web_mm, &m->backs, note));
    if (!(o->droop_mm > 0.0)) return SW_OK;
    SW_TRY(run_tasks(m, 0, m->n_tasks, hold_task, note));
    for (size_t i = 0; i < m->backs.n; i++) {
        const sw_back *const back = &m->backs.at[i];
        if (back->is_closed) m->sheets.at[back->pass - 1].bridges[back->bridge].visible_error += back->error;
    }
    for (size_t k = 0; k < m->sheets.n; k++) {
        m->sheets.at[k].hang = (sw_hang){ 0 };
        for (size_t task = m->task_pass[k]; task < m->task_pass[k + 1]; task++) add_hang(&m->sheets.at[k], &m->task_sheet[task].hang);
    }
    return SW_OK;
}

sw_status sw_sheets_make(const sw_separation *separation, const sw_picture *art, const sw_sheet_opts *opts,
                         const sw_progress *progress, sw_sheets *out, sw_note *note)
{
    maker m = { .separation = separation, .art = art, .opts = opts, .progress = progress };
    sw_status st = check_opts(&m, note);
    if (st != SW_OK) goto cleanup;
    sw_progress_tell(progress, "stacking passes", 0.0);
    st = begin(&m, note);
    if (st != SW_OK) goto cleanup;
    sw_progress_tell(progress, "smallest features", 0.2);
    const double bridge_px = sw_px_from_mm(&separation->grid, opts->min_web_mm + opts->slack_mm);
    st = sw_notice_make(separation, bridge_px, &m.notice, note);
    if (st == SW_OK) st = run_tasks(&m, 0, m.task_pass[separation->n_passes], mend_task, note);
    for (size_t pass = 1; pass <= separation->n_passes && st == SW_OK; pass++) {
        sw_progress_tell(progress, "bridges", 0.5 + 0.5 * (double)(pass - 1) / (double)separation->n_passes);
        st = make_pass(&m, pass, note);
    }
    if (st == SW_OK) st = back_bridges(&m, note);
    if (st != SW_OK) goto cleanup;
    *out = m.sheets;
    m.sheets = (sw_sheets){ 0 };
cleanup:
    maker_free(&m);
    return st;
}
