/* Reads panels as text, proves them and prints what was found, for proof_widths.py.
 *
 * In:  panel WIDTH HEIGHT MIN_OPENING MIN_WEB, then for each contour M x y, L x y, C x y x y x y and Z, each on a line
 *      of its own; prove ends the panel.
 * Out: one line "panel pieces P crossings X webs N narrowest W openings N narrowest W", then a line "gap KIND WIDTH X Y"
 *      for each narrow gap that no disc reaches. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../proof_support.h"
#include "proof/gap.h"

static void print_gaps(const sw_panel *panel, const sw_proof_opts *opts)
{
    const sw_proof_asked asked = { { 0.9 * opts->min_web_mm, 0.9 * opts->min_opening_mm },
                                   { 0.9 * opts->min_web_mm, 0.9 * opts->min_opening_mm } };
    sw_proof_shape shape = { 0 };
    sw_proof_cells cells = { 0 };
    sw_proof_gaps gaps = { 0 };
    size_t n_pieces;
    const sw_proof_raster raster = { (size_t)(panel->width_mm * 4) + 1, (size_t)(panel->height_mm * 4) + 1, 4.0, { 0, 0 } };
    must(sw_proof_shape_make(panel, &shape, NULL) == SW_OK);
    must(sw_proof_pieces(&shape, &raster, &n_pieces, NULL) == SW_OK);
    must(sw_proof_cells_make(&shape, &cells, NULL) == SW_OK);
    must(sw_proof_gaps_find(&shape, &cells, &asked, &gaps, NULL) == SW_OK);
    for (int kind = 0; kind < 2; kind++) {
        for (size_t i = 0; i < gaps.n_narrow[kind]; i++) {
            const sw_proof_gap *const gap = &gaps.narrow[kind][i];
            if (sw_proof_gap_is_reached(&shape, &cells, gap, asked.narrow_mm[kind])) continue;
            printf("gap %s %.4f %.4f %.4f\n", kind == SW_PROOF_WEB ? "web" : "opening", gap->width_mm,
                   0.5 * (gap->q.x_mm + gap->b.x_mm), 0.5 * (gap->q.y_mm + gap->b.y_mm));
        }
    }
    sw_proof_gaps_free(&gaps);
    sw_proof_cells_free(&cells);
    sw_proof_shape_free(&shape);
}

static void prove(sw_panel *panel, const sw_proof_opts *opts)
{
    sw_proof_panel out = { 0 };
    must(prove_one(panel, opts, &out, NULL) == SW_OK);
    printf("panel pieces %zu crossings %zu webs %zu narrowest %.4f openings %zu narrowest %.4f\n", out.n_pieces,
           out.n_crossings, out.n_narrow_webs, out.narrowest_web_mm, out.n_narrow_openings, out.narrowest_opening_mm);
    print_gaps(panel, opts);
    free_panel(panel);
    *panel = (sw_panel){ 0 };
}

int main(void)
{
    char line[256];
    sw_panel panel = { 0 };
    sw_proof_opts opts = { 0 };
    sw_contour contour = { 0 };
    while (fgets(line, sizeof line, stdin) != NULL) {
        double v[6];
        if (sscanf(line, "panel %lf %lf %lf %lf", &v[0], &v[1], &v[2], &v[3]) == 4) {
            panel = blank_panel(v[0], v[1]);
            opts = (sw_proof_opts){ .min_opening_mm = v[2], .min_web_mm = v[3] };
        } else if (sscanf(line, "M %lf %lf", &v[0], &v[1]) == 2) {
            contour = (sw_contour){ .start = { v[0], v[1] } };
        } else if (sscanf(line, "L %lf %lf", &v[0], &v[1]) == 2) {
            must(sw_contour_add_line(&contour, (sw_pt_mm){ v[0], v[1] }));
        } else if (sscanf(line, "C %lf %lf %lf %lf %lf %lf", &v[0], &v[1], &v[2], &v[3], &v[4], &v[5]) == 6) {
            must(sw_contour_add_cubic(&contour, (sw_pt_mm){ v[0], v[1] }, (sw_pt_mm){ v[2], v[3] },
                                      (sw_pt_mm){ v[4], v[5] }));
        } else if (line[0] == 'Z') {
            must(sw_contour_add_line(&contour, contour.start));
            must(sw_contours_take(&panel.openings, &contour, NULL) == SW_OK);
        } else if (strncmp(line, "prove", 5) == 0) {
            prove(&panel, &opts);
        }
    }
    return 0;
}
