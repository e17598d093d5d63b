/* Writes a made-up job of two passes into a folder: usage write_svg NEW_FOLDER [WIDTH_MM HEIGHT_MM [STROKE_MM]].
 * write_svg.py and write_pdf.py then look at the files with other programs. */
#include "write/write.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* A wavy ring segment, so that curves of every direction occur. */
static bool add_blob(sw_contours *list, double x, double y, double r)
{
    sw_contour c = { .start = { x + r, y } };
    const int n = 8;
    const double turn = 2.0 * 3.14159265358979323846 / n, reach = r * 4.0 / 3.0 * tan(turn / 4.0);
    bool is_fine = true;
    for (int i = 0; i < n; i++) {
        const double a = turn * i, b = turn * (i + 1), rb = i + 1 == n ? r : r * (1.0 + 0.25 * ((i + 1) % 2));
        const double ra = i == 0 ? r : r * (1.0 + 0.25 * (i % 2));
        const sw_pt_mm p0 = { x + ra * cos(a), y + ra * sin(a) };
        const sw_pt_mm p3 = i + 1 == n ? c.start : (sw_pt_mm){ x + rb * cos(b), y + rb * sin(b) };
        is_fine = is_fine && sw_contour_add_cubic(&c, (sw_pt_mm){ p0.x_mm - reach * sin(a), p0.y_mm + reach * cos(a) },
                                                  (sw_pt_mm){ p3.x_mm + reach * sin(b), p3.y_mm - reach * cos(b) }, p3);
    }
    return is_fine && sw_contours_take(list, &c, NULL) == SW_OK;
}

static bool add_box(sw_contours *list, double x, double y, double w, double h)
{
    sw_contour c = { .start = { x, y } };
    return sw_contour_add_line(&c, (sw_pt_mm){ x + w, y }) && sw_contour_add_line(&c, (sw_pt_mm){ x + w, y + h }) &&
           sw_contour_add_line(&c, (sw_pt_mm){ x, y + h }) && sw_contour_add_line(&c, (sw_pt_mm){ x, y }) &&
           sw_contours_take(list, &c, NULL) == SW_OK;
}

static int fail(const char *what, const sw_note *note)
{
    fprintf(stderr, "%s: %s\n", what, note->text);
    return 1;
}

int main(int argc, char **argv)
{
    double w = 600, h = 400, stroke = 0.088;
    sw_note note = { 0 };
    if (argc > 3 && (!sw_number_parse(argv[2], &w) || !sw_number_parse(argv[3], &h))) return 2;
    if (argc > 4 && !sw_number_parse(argv[4], &stroke)) return 2;
    if (argc < 2) return 2;
    const sw_grid grid = { (size_t)(w * 2), (size_t)(h * 2), 2.0 };
    sw_contours lists[2] = { 0 };
    uint64_t seed = 7;
    for (int row = 0; row * 60 + 60 < (int)h; row++) {
        for (int column = 0; column * 60 + 60 < (int)w; column++) {
            seed = seed * 6364136223846793005u + 1442695040888963407u;
            const double r = 8.0 + (double)(seed >> 40) / 16777216.0 * 12.0;
            if (!add_blob(&lists[(row + column) % 2], column * 60 + 30, row * 60 + 30, r)) return 3;
        }
    }
    if (!add_box(&lists[1], 0, h - 20, w, 20)) return 3;
    const sw_layout_sheet sheets[] = { { 1, { 0xd8, 0xb0, 0x60 }, "straw", &lists[0], NULL },
                                       { 2, { 0x30, 0x40, 0x58 }, NULL, &lists[1], NULL } };
    const sw_layout_opts opts = { .frame_mm = 40, .min_web_mm = 5, .job_name = "H\xc3\xa9ron & co <quay>" };
    sw_layout layout = { 0 };
    if (sw_layout_make(&grid, sheets, 2, &opts, &layout, &note) != SW_OK) return fail("layout", &note);
    sw_folder *folder = NULL;
    sw_text text = { 0 };
    const sw_layer layers[] = { { 1, sheets[0].paint, "straw", &lists[0] }, { 2, sheets[1].paint, NULL, &lists[1] } };
    if (sw_folder_begin(argv[1], false, &folder, &note) != SW_OK) return fail("folder", &note);
    if (sw_write_layers_svg(&grid, opts.job_name, layers, 2, &text, &note) != SW_OK) return fail("layers", &note);
    if (sw_folder_write(folder, "layers.svg", text.data, text.size, &note) != SW_OK) return fail("layers", &note);
    sw_text_free(&text);
    for (size_t i = 0; i < layout.n_panels; i++) {
        char name[64];
        snprintf(name, sizeof name, "cut/pass-%zu.svg", layout.panels[i].pass);
        if (sw_write_cut_svg(&layout.panels[i], name, stroke, &text, &note) != SW_OK) return fail(name, &note);
        if (sw_folder_write(folder, name, text.data, text.size, &note) != SW_OK) return fail(name, &note);
        sw_text_free(&text);
        snprintf(name, sizeof name, "cut/pass-%zu.pdf", layout.panels[i].pass);
        if (sw_write_cut_pdf(&layout.panels[i], 1, opts.job_name, stroke, &text, &note) != SW_OK) return fail(name, &note);
        if (sw_folder_write(folder, name, text.data, text.size, &note) != SW_OK) return fail(name, &note);
        sw_text_free(&text);
        snprintf(name, sizeof name, "cut/pass-%zu.eps", layout.panels[i].pass);
        if (sw_write_cut_eps(&layout.panels[i], opts.job_name, stroke, &text, &note) != SW_OK) return fail(name, &note);
        if (sw_folder_write(folder, name, text.data, text.size, &note) != SW_OK) return fail(name, &note);
        sw_text_free(&text);
        printf("%s cut %lld travel %lld um open %lld mm2 strokes %zu\n", name,
               llround(layout.panels[i].cut_length_mm * 1000), llround(layout.panels[i].travel_length_mm * 1000),
               llround(layout.panels[i].open_area_mm2), layout.panels[i].n_strokes);
    }
    if (sw_write_cut_pdf(layout.panels, layout.n_panels, NULL, stroke, &text, &note) != SW_OK) return fail("PDF", &note);
    if (sw_folder_write(folder, "all.pdf", text.data, text.size, &note) != SW_OK) return fail("all.pdf", &note);
    sw_text_free(&text);
    if (sw_folder_write(folder, "job.json", "{}\n", 3, &note) != SW_OK) return fail("job.json", &note);
    if (sw_folder_finish(folder, &note) != SW_OK) return fail("finish", &note);
    sw_folder_free(folder);
    sw_layout_free(&layout);
    for (int i = 0; i < 2; i++) sw_contours_free(&lists[i]);
    return 0;
}
