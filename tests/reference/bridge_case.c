/* One bridging case from a file, for scripts: bridge_case IN OUT.
 * IN: a line "width height pass n_passes px_per_mm width_mm min_opening_mm droop_mm", a line of n_passes + 1 colours
 * rrggbb, then the rasters openings, label, below, salience, marks, one byte a pixel each.
 * OUT: a line "n_bridges n_islands n_dropped droop_um", a line a bridge (a, b in um, width um, area and visible in
 * 1/1000 mm2, error in 1/1000), then the openings. */
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "sheet/bridge.h"

static uint8_t *read_raster(FILE *in, size_t n)
{
    uint8_t *const at = malloc(n);
    if (at == NULL || fread(at, 1, n, in) != n) exit(3);
    return at;
}

static long thousandths(double v) { return (long)(1000.0 * v + (v < 0 ? -0.5 : 0.5)); }

int main(int argc, char **argv)
{
    if (argc < 3) return 2;
    FILE *const in = fopen(argv[1], "rb");
    if (in == NULL) return 2;
    sw_separation sep = { 0 };
    size_t pass;
    sw_bridge_job job = { .separation = &sep };
    if (fscanf(in, "%zu %zu %zu %zu %lf %lf %lf %lf", &sep.grid.width_px, &sep.grid.height_px, &pass, &sep.n_passes,
               &sep.grid.px_per_mm, &job.width_mm, &job.min_opening_mm, &job.droop_mm) != 8)
        return 2;
    for (size_t i = 0; i <= sep.n_passes; i++) {
        unsigned rgb;
        if (fscanf(in, "%x", &rgb) != 1) return 2;
        sep.colour[i] = (sw_rgb8){ (uint8_t)(rgb >> 16), (uint8_t)(rgb >> 8 & 255), (uint8_t)(rgb & 255) };
    }
    (void)fgetc(in);
    const size_t n = sep.grid.width_px * sep.grid.height_px;
    sw_sheet sheet = { .pass = pass, .paint = sep.colour[pass] };
    sw_note note = { 0 };
    if (sw_mask_make(sep.grid.width_px, sep.grid.height_px, &sheet.openings, &note) != SW_OK) return 3;
    if (fread(sheet.openings.at, 1, n, in) != n) return 2;
    sep.label = read_raster(in, n);
    job.below = read_raster(in, n);
    sep.salience = read_raster(in, n);
    const sw_marks marks = { sep.grid.width_px, sep.grid.height_px, read_raster(in, n) };
    job.marks = &marks;
    job.window = (sw_rect_px){ 0, 0, sep.grid.width_px, sep.grid.height_px };
    const clock_t begin = clock();
    const sw_status st = sw_bridges_plan(&sheet, &job, &note);
    fprintf(stderr, "%.1f ms, %s %s\n", 1e3 * (double)(clock() - begin) / CLOCKS_PER_SEC, sw_status_text(st), note.text);
    if (st != SW_OK) return 1;
    FILE *const out = fopen(argv[2], "wb");
    if (out == NULL) return 3;
    fprintf(out, "%zu %zu %zu %ld\n", sheet.n_bridges, sheet.n_islands, sheet.n_islands_dropped,
            thousandths(sheet.hang.droop_mm));
    for (size_t i = 0; i < sheet.n_bridges; i++) {
        const sw_bridge *b = &sheet.bridges[i];
        fprintf(out, "%ld %ld %ld %ld %ld %ld %ld %ld\n", thousandths(b->a.x_mm), thousandths(b->a.y_mm),
                thousandths(b->b.x_mm), thousandths(b->b.y_mm), thousandths(b->width_mm), thousandths(b->area_mm2),
                thousandths(b->visible_mm2), thousandths(b->visible_error));
    }
    fwrite(sheet.openings.at, 1, n, out);
    return fclose(out) == 0 ? 0 : 3;
}
