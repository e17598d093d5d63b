/* A picture through every stage, split for a bed: usage panels_job PICTURE NEW_FOLDER WIDTH_MM BED_W BED_H.
 * Prints a line a panel: file, pass, origin and art rectangle (micrometres), turned, pieces, crossings, contours past
 * the edge, narrow webs, narrow openings, good. panels_job.py looks at them. */
#include "write/write.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define MIN_OPENING_MM 3.0
#define MIN_WEB_MM 5.0
#define FRAME_MM 40.0
#define KERF_MM 0.2 /* for the size of panels; the lines are left as drawn, so that they can be put together */
#define TOLERANCE_MM 0.3

typedef struct job {
    sw_grid grid;
    sw_picture art, composite;
    sw_separation separation;
    sw_windows windows[SW_MAX_PASSES];
    sw_sheets sheets;
    sw_contours openings[SW_MAX_PASSES];
    sw_layout layout;
    sw_proof proof;
} job;

static sw_status read_art(job *j, const char *path, double width_mm, sw_note *note)
{
    sw_picture full = { 0 };
    SW_TRY(sw_picture_read(path, &(sw_picture_opts){ .ground = { 255, 255, 255 } }, &full, note));
    const double ratio = (double)full.height_px / (double)full.width_px;
    j->grid = (sw_grid){ (size_t)(width_mm * 2.0), (size_t)(width_mm * 2.0 * ratio), 2.0 };
    const sw_status st = sw_picture_resample(&full, j->grid.width_px, j->grid.height_px, &j->art, note);
    sw_picture_free(&full);
    return st;
}

static sw_status plan(job *j, const double bed[2], sw_note *note)
{
    sw_mask masks[SW_MAX_PASSES] = { 0 };
    const sw_separate_opts separate = { .n_passes = 3,
                                        .ground = { 255, 255, 255 },
                                        .min_opening_mm = MIN_OPENING_MM,
                                        .min_web_mm = MIN_WEB_MM,
                                        .detail_ratio = 0.2,
                                        .has_detail = true };
    const sw_seam_opts seams = { .bed_width_mm = bed[0],
                                 .bed_height_mm = bed[1],
                                 .frame_mm = FRAME_MM,
                                 .kerf_mm = KERF_MM,
                                 .min_opening_mm = MIN_OPENING_MM };
    SW_TRY(sw_separate(&j->art, &j->grid, &separate, NULL, &j->separation, note));
    SW_TRY(sw_sheets_stack(&j->separation, 1.5, masks, note));
    const sw_status st = sw_seams_plan(masks, j->separation.n_passes, &j->grid, &seams, j->windows, note);
    for (size_t k = 0; k < j->separation.n_passes; k++) sw_mask_free(&masks[k]);
    if (st != SW_OK) return st;
    const sw_sheet_opts sheets = { .min_opening_mm = MIN_OPENING_MM,
                                   .min_web_mm = MIN_WEB_MM,
                                   .slack_mm = TOLERANCE_MM,
                                   .trap_mm = 1.5,
                                   .windows = j->windows };
    return sw_sheets_make(&j->separation, &j->art, &sheets, NULL, &j->sheets, note);
}

static sw_status lay_out(job *j, const double bed[2], sw_note *note)
{
    sw_layout_sheet sheets[SW_MAX_PASSES];
    const sw_trace_opts trace = { .tolerance_mm = TOLERANCE_MM, .min_opening_mm = MIN_OPENING_MM, .min_web_mm = MIN_WEB_MM };
    const sw_layout_opts opts = { .frame_mm = FRAME_MM,
                                  .bed_width_mm = bed[0] - KERF_MM,
                                  .bed_height_mm = bed[1] - KERF_MM,
                                  .min_web_mm = MIN_WEB_MM,
                                  .min_opening_mm = MIN_OPENING_MM,
                                  .job_name = "Check" };
    for (size_t k = 0; k < j->sheets.n; k++) {
        SW_TRY(sw_windows_trace(&j->sheets.at[k].openings, &j->windows[k], &j->grid, &trace, &j->openings[k], note));
        sheets[k] = (sw_layout_sheet){ .pass = k + 1,
                                       .paint = j->sheets.at[k].paint,
                                       .openings = &j->openings[k],
                                       .windows = &j->windows[k] };
    }
    SW_TRY(sw_layout_make(&j->grid, sheets, j->sheets.n, &opts, &j->layout, note));
    const sw_proof_opts proof = { .min_opening_mm = MIN_OPENING_MM, .min_web_mm = MIN_WEB_MM };
    return sw_proof_make(&j->layout, &j->grid, &j->separation, &j->art, &proof, NULL, &j->proof, &j->composite, note);
}

static long long um(double v_mm) { return llround(v_mm * 1000.0); }

static sw_status put(sw_folder *folder, const char *name, sw_status made, sw_text *text, sw_note *note)
{
    const sw_status st = made == SW_OK ? sw_folder_write(folder, name, text->data, text->size, note) : made;
    sw_text_free(text);
    return st;
}

static sw_status write_panel(const job *j, size_t i, sw_folder *folder, sw_note *note)
{
    const sw_panel *const p = &j->layout.panels[i];
    const sw_proof_panel *const proof = &j->proof.panels[i];
    sw_text text = { 0 };
    char name[64];
    snprintf(name, sizeof name, p->name[0] == '\0' ? "cut/pass-%zu%s.svg" : "cut/pass-%zu-panel-%s.svg", p->pass, p->name);
    printf("%s %zu %lld %lld %lld %lld %lld %lld %d %zu %zu %zu %zu %zu %d\n", name, p->pass, um(p->origin.x_mm),
           um(p->origin.y_mm), um(p->art.x_mm), um(p->art.y_mm), um(p->art.width_mm), um(p->art.height_mm), p->is_turned,
           proof->n_pieces, proof->n_crossings + proof->n_open_contours, proof->n_outside, proof->n_narrow_webs,
           proof->n_narrow_openings, proof->is_good);
    const sw_status st = sw_write_cut_svg(p, name, 0.088, &text, note);
    return put(folder, name, st, &text, note);
}

static sw_status write_job(const job *j, const char *path, sw_note *note)
{
    sw_folder *folder = NULL;
    sw_layer layers[SW_MAX_PASSES];
    sw_text text = { 0 };
    for (size_t k = 0; k < j->sheets.n; k++) layers[k] = (sw_layer){ k + 1, j->sheets.at[k].paint, NULL, &j->openings[k] };
    SW_TRY(sw_folder_begin(path, false, &folder, note));
    sw_status st = sw_write_layers_svg(&j->grid, "Check", layers, j->sheets.n, &text, note);
    st = put(folder, "layers.svg", st, &text, note);
    if (st == SW_OK) st = put(folder, "preview.png", sw_write_png(&j->composite, 2.0, &text, note), &text, note);
    for (size_t i = 0; st == SW_OK && i < j->layout.n_panels; i++) st = write_panel(j, i, folder, note);
    if (st == SW_OK) st = sw_folder_write(folder, "job.json", "{}\n", 3, note);
    if (st == SW_OK) st = sw_folder_finish(folder, note);
    sw_folder_free(folder);
    return st;
}

int main(int argc, char **argv)
{
    static job j;
    double width_mm, bed[2];
    sw_note note = { 0 };
    if (argc != 6 || !sw_number_parse(argv[3], &width_mm) || !sw_number_parse(argv[4], &bed[0]) ||
        !sw_number_parse(argv[5], &bed[1]))
        return 2;
    sw_status st = read_art(&j, argv[1], width_mm, &note);
    if (st == SW_OK) st = plan(&j, bed, &note);
    if (st == SW_OK) st = lay_out(&j, bed, &note);
    if (st == SW_OK) st = write_job(&j, argv[2], &note);
    if (st != SW_OK) fprintf(stderr, "%s\n", note.text);
    return sw_status_exit(st);
}
