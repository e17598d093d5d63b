/* Writes a proved job into its folder: layers, cut files, pictures, job.json, job.html. */
#include "job/bridges.h"

#include <stdio.h>
#include <string.h>

#define PREVIEW_SIDE_PX 2400 /* longest side: sharp on a screen and an A4 print, small enough to mail */

void sw_job_panel_name(const sw_panel *panel, char out[SW_PANEL_NAME_SIZE])
{
    if (panel->name[0] == '\0') snprintf(out, SW_PANEL_NAME_SIZE, "pass-%zu", panel->pass);
    else snprintf(out, SW_PANEL_NAME_SIZE, "pass-%zu-panel-%s", panel->pass, panel->name);
}

/* Hand a finished file to the folder; text is emptied. */
static sw_status put(sw_folder *folder, const char *name, sw_status made, sw_text *text, sw_note *note)
{
    sw_status st = made;
    if (st == SW_OK && text->is_broken) st = sw_fail_memory(note, name);
    if (st == SW_OK) st = sw_folder_write(folder, name, text->data, text->size, note);
    sw_text_free(text);
    return st;
}

static sw_status put_layers(const sw_job *job, sw_folder *folder, sw_note *note)
{
    sw_layer layers[SW_MAX_PASSES];
    for (size_t i = 0; i < job->sheets.n; i++)
        layers[i] = (sw_layer){ .pass = job->sheets.at[i].pass,
                                .paint = job->sheets.at[i].paint,
                                .paint_name = sw_job_paint_name(job, job->sheets.at[i].pass),
                                .openings = &job->openings[i],
                                .panels = job->layout.panels,
                                .n_panels = job->layout.n_panels };
    sw_text text = { 0 };
    const sw_status st = sw_write_layers_svg(&job->grid, job->picture_name, layers, job->sheets.n, &text, note);
    return put(folder, "layers.svg", st, &text, note);
}

static sw_status put_panel(const sw_job *job, const sw_panel *panel, sw_folder *folder, sw_note *note)
{
    char name[SW_PANEL_NAME_SIZE], path[SW_PANEL_NAME_SIZE + 16];
    sw_job_panel_name(panel, name);
    for (unsigned format = 0; format < SW_ARRAY_LEN(sw_job_formats); format++) {
        if ((job->opts.formats >> format & 1u) == 0) continue;
        const double stroke_mm = job->opts.stroke_mm;
        sw_text text = { 0 };
        sw_status st = SW_OK;
        snprintf(path, sizeof path, "cut/%s.%s", name, sw_job_formats[format]);
        switch (1u << format) {
        case SW_FORMAT_SVG: st = sw_write_cut_svg(panel, name, stroke_mm, &text, note); break;
        case SW_FORMAT_PDF: st = sw_write_cut_pdf(panel, 1, name, stroke_mm, &text, note); break;
        default: st = sw_write_cut_eps(panel, name, stroke_mm, &text, note); break;
        }
        SW_TRY(put(folder, path, st, &text, note));
    }
    return SW_OK;
}

/* All panels, a page each. */
static sw_status put_pages(const sw_job *job, sw_folder *folder, sw_note *note)
{
    if ((job->opts.formats & SW_FORMAT_PDF) == 0) return SW_OK;
    sw_text text = { 0 };
    const sw_status st = sw_write_cut_pdf(job->layout.panels, job->layout.n_panels, job->picture_name,
                                          job->opts.stroke_mm, &text, note);
    return put(folder, "cut/all.pdf", st, &text, note);
}

/* Hand a picture of the wall to the folder. width_px: of the wall in it, for its density. */
static sw_status put_picture(const sw_job *job, sw_folder *folder, const char *name, const sw_picture *picture,
                             size_t width_px, sw_note *note)
{
    sw_text text = { 0 };
    const sw_status st = sw_write_png(picture, (double)width_px / job->opts.width_mm, &text, note);
    return put(folder, name, st, &text, note);
}

/* The wall as sprayed, small enough to look at. */
static sw_status make_small(const sw_job *job, sw_picture *out, sw_note *note)
{
    const sw_picture *const full = &job->composite;
    const size_t longest = sw_max_size(full->width_px, full->height_px);
    const double scale = sw_min(1.0, PREVIEW_SIDE_PX / (double)longest);
    return sw_picture_resample(full, sw_max_size(1, (size_t)((double)full->width_px * scale + 0.5)),
                               sw_max_size(1, (size_t)((double)full->height_px * scale + 0.5)), out, note);
}

static sw_status put_bridges(const sw_job *job, const sw_picture *small, sw_folder *folder, sw_note *note)
{
    sw_picture bridges = { 0 };
    sw_status st = sw_job_draw_bridges(job, small, &bridges, note);
    if (st == SW_OK) st = put_picture(job, folder, "bridges.png", &bridges, sw_bridge_chart_width_px(small), note);
    sw_picture_free(&bridges);
    return st;
}

static sw_status put_touch_up(const sw_job *job, const sw_picture *small, sw_folder *folder, sw_note *note)
{
    sw_picture touch_up = { 0 };
    if (!job->opts.is_touch_up) return SW_OK;
    sw_status st = sw_job_draw_touch_up(job, small, &touch_up, note);
    if (st == SW_OK) st = put_picture(job, folder, "touch-up.png", &touch_up, sw_bridge_chart_width_px(small), note);
    sw_picture_free(&touch_up);
    return st;
}

static sw_status put_options(const sw_job *job, sw_folder *folder, sw_note *note)
{
    sw_text text = { 0 };
    sw_job_add_options(&text, job->picture_path, &job->asked);
    return put(folder, "job.options", SW_OK, &text, note);
}

static sw_status put_json(const sw_job *job, sw_folder *folder, sw_note *note)
{
    char *const json = sw_job_json(job);
    if (json == NULL) return sw_fail_memory(note, "job.json");
    const sw_status st = sw_folder_write(folder, "job.json", json, strlen(json), note);
    sw_string_free(json);
    return st;
}

static sw_status put_html(const sw_job *job, sw_folder *folder, sw_note *note)
{
    sw_text text = { 0 };
    const sw_status st = sw_job_html(job, &text, note);
    return put(folder, "job.html", st, &text, note);
}

/* Everything that goes into the folder. Files do not depend on each other, so they are made side by side; the longest first. */
typedef enum file { FILE_BRIDGES, FILE_TOUCH_UP, FILE_PREVIEW, FILE_HTML, FILE_LAYERS, FILE_JSON, FILE_PAGES, FILE_OPTIONS,
                    FILE_FIRST_PANEL } file;

typedef struct write_task {
    const sw_job *job;
    const sw_picture *small;
    sw_folder *folder;
} write_task;

static sw_status put_file(size_t which, void *ctx, sw_note *note)
{
    const write_task *const t = ctx;
    switch (which) {
    case FILE_BRIDGES: return put_bridges(t->job, t->small, t->folder, note);
    case FILE_TOUCH_UP: return put_touch_up(t->job, t->small, t->folder, note);
    case FILE_PREVIEW: return put_picture(t->job, t->folder, "preview.png", t->small, t->small->width_px, note);
    case FILE_HTML: return put_html(t->job, t->folder, note);
    case FILE_LAYERS: return put_layers(t->job, t->folder, note);
    case FILE_JSON: return put_json(t->job, t->folder, note);
    case FILE_PAGES: return put_pages(t->job, t->folder, note);
    case FILE_OPTIONS: return put_options(t->job, t->folder, note);
    default: return put_panel(t->job, &t->job->layout.panels[which - FILE_FIRST_PANEL], t->folder, note);
    }
}

sw_status sw_job_write(const sw_job *job, const char *dir, bool is_replace, sw_note *note)
{
    if (note != NULL) note->text[0] = '\0';
    if (!job->proof.is_good)
        return sw_fail(note, SW_CANNOT_HOLD, "'%s' was not written: the job failed its proof", dir);
    sw_folder *folder = NULL;
    sw_picture small = { 0 };
    sw_status st = sw_folder_begin(dir, is_replace, &folder, note);
    if (st == SW_OK) st = make_small(job, &small, note);
    write_task task = { job, &small, folder };
    if (st == SW_OK) st = sw_parallel_tasks(FILE_FIRST_PANEL + job->layout.n_panels, put_file, &task, note);
    if (st == SW_OK && sw_is_interrupted()) st = sw_fail(note, SW_INTERRUPTED, "interrupted; nothing was written");
    if (st == SW_OK) st = sw_folder_finish(folder, note);
    sw_picture_free(&small);
    sw_folder_free(folder);
    return st;
}
