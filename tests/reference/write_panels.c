/* A made-up job of two passes, split for a bed: usage write_panels NEW_FOLDER WIDTH_MM HEIGHT_MM BED_W BED_H KERF
 * [stagger].
 Prints a line a panel: pass, name, origin, art rectangle (micrometres), turned, lengths. write_panels.py puts
 * them together. */
#include "write/write.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#define N_PASSES 2

static int fail(const char *what, const sw_note *note)
{
    fprintf(stderr, "%s: %s\n", what, note->text);
    return 1;
}

/* Waves whose openings have every direction and touch every seam somewhere. */
static sw_status draw(const sw_grid *grid, size_t pass, sw_mask *out)
{
    const sw_status st = sw_mask_make(grid->width_px, grid->height_px, out, NULL);
    for (size_t y = 0; st == SW_OK && y < grid->height_px; y++) {
        for (size_t x = 0; x < grid->width_px; x++) {
            const double mx = (double)x / grid->px_per_mm, my = (double)y / grid->px_per_mm;
            const double v = sin(mx / 23.0 + (double)pass) * cos(my / 31.0) + 0.6 * sin((mx + 1.7 * my) / 57.0);
            out->at[y * grid->width_px + x] = v > 0.45 && (mx < 300.0 || my < 250.0 || pass == 1);
        }
    }
    return st;
}

static long long um(double v_mm) { return llround(v_mm * 1000.0); }

static sw_status write_panel(sw_folder *folder, const sw_panel *p, sw_note *note)
{
    char name[64];
    sw_text text = { 0 };
    snprintf(name, sizeof name, p->name[0] == '\0' ? "cut/pass-%zu%s.svg" : "cut/pass-%zu-panel-%s.svg", p->pass, p->name);
    sw_status st = sw_write_cut_svg(p, name, 0.088, &text, note);
    if (st == SW_OK) st = sw_folder_write(folder, name, text.data, text.size, note);
    printf("%s %zu %lld %lld %lld %lld %lld %lld %d %lld %lld\n", name, p->pass, um(p->origin.x_mm), um(p->origin.y_mm),
           um(p->art.x_mm), um(p->art.y_mm), um(p->art.width_mm), um(p->art.height_mm), p->is_turned,
           um(p->cut_length_mm), um(p->travel_length_mm));
    sw_text_free(&text);
    return st;
}

static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

int main(int argc, char **argv)
{
    double size[5] = { 0 };
    sw_note note = { 0 };
    if (argc < 7) return 2;
    for (int i = 0; i < 5; i++) {
        if (!sw_number_parse(argv[2 + i], &size[i])) return 2;
    }
    const sw_grid grid = { (size_t)(size[0] * 2), (size_t)(size[1] * 2), 2.0 };
    sw_mask masks[N_PASSES] = { 0 };
    sw_contours openings[N_PASSES] = { 0 };
    sw_windows windows[N_PASSES] = { 0 };
    sw_layout_sheet sheets[N_PASSES];
    sw_layer layers[N_PASSES];
    for (size_t k = 0; k < N_PASSES; k++) {
        if (draw(&grid, k, &masks[k]) != SW_OK) return 3;
        if (sw_contours_trace(&masks[k], &grid, &(sw_trace_opts){ .tolerance_mm = 0.15 }, &openings[k], &note) != SW_OK)
            return fail("trace", &note);
        sw_contours_round(&openings[k], 0.001);
    }
    const sw_seam_opts seams = { size[2], size[3], 40, size[4], 3, argc > 7 };
    const double begin = seconds();
    if (sw_seams_plan(masks, N_PASSES, &grid, &seams, windows, &note) != SW_OK) return fail("seams", &note);
    const double planned = seconds();
    for (size_t k = 0; k < N_PASSES; k++) {
        const sw_rgb8 paint = { (uint8_t)(200 - 150 * k), 120, (uint8_t)(60 + 100 * k) };
        sheets[k] = (sw_layout_sheet){ k + 1, paint, NULL, &openings[k], &windows[k] };
        layers[k] = (sw_layer){ k + 1, paint, NULL, &openings[k] };
    }
    /* a min-opening far below what is drawn: the masks are not planned for the seams, slips are part of them */
    const sw_layout_opts opts = { 40, size[2], size[3], size[4], 5, 0.5, argc > 7, "Waves" };
    sw_layout layout = { 0 };
    if (sw_layout_make(&grid, sheets, N_PASSES, &opts, &layout, &note) != SW_OK) return fail("layout", &note);
    fprintf(stderr, "seams %.0f ms, layout %.0f ms, %zu panels\n", (planned - begin) * 1e3, (seconds() - planned) * 1e3,
            layout.n_panels);
    sw_folder *folder = NULL;
    sw_text text = { 0 };
    if (sw_folder_begin(argv[1], false, &folder, &note) != SW_OK) return fail("folder", &note);
    if (sw_write_layers_svg(&grid, "Waves", layers, N_PASSES, &text, &note) != SW_OK ||
        sw_folder_write(folder, "layers.svg", text.data, text.size, &note) != SW_OK)
        return fail("layers", &note);
    sw_text_free(&text);
    for (size_t i = 0; i < layout.n_panels; i++) {
        if (write_panel(folder, &layout.panels[i], &note) != SW_OK) return fail("panel", &note);
    }
    if (sw_folder_write(folder, "job.json", "{}\n", 3, &note) != SW_OK || sw_folder_finish(folder, &note) != SW_OK)
        return fail("finish", &note);
    sw_folder_free(folder);
    sw_layout_free(&layout);
    for (size_t k = 0; k < N_PASSES; k++) {
        sw_windows_free(&windows[k]);
        sw_contours_free(&openings[k]);
        sw_mask_free(&masks[k]);
    }
    return 0;
}
