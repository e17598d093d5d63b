/* Visible error of bridges against the plain rule: bridge_plain PICTURE WIDTH_MM N_PASSES [KIND].
 * Planned means placed, and backed by openings of earlier passes where those stand out less.
 * The plain rule joins every island by its shortest gap: the same planner in a world where nothing is hidden, no place
 * matters more than another and islands are too dear to lose. Both are then measured on the real wall: the sum of
 * CIEDE2000 x mm2 over what this pass should paint and a bridge keeps bare; beside it what islands cut away show.
 * Prints a line: planned error, plain error, error of islands cut away, bridges planned and plain, islands cut away,
 * hidden share of the planned area. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/bridge.h"

typedef struct world {
    sw_separation sep, flat; /* the real one; everything alike */
    uint8_t *below, *flat_below;
    size_t n;
} world;

/* Error of what was left (1 -> 0) or cut away (0 -> 1) against the mask before. */
static double error_of(const world *w, size_t pass, const sw_mask *before, const sw_mask *after, uint8_t was)
{
    const sw_lab paint = sw_lab_from_rgb8(w->sep.colour[pass]);
    double by_label[SW_MAX_PASSES + 1], sum = 0.0;
    for (size_t k = 0; k <= w->sep.n_passes; k++) by_label[k] = sw_ciede2000(paint, sw_lab_from_rgb8(w->sep.colour[k]));
    for (size_t i = 0; i < w->n; i++) {
        const uint8_t label = w->sep.label[i];
        if (before->at[i] == after->at[i] || before->at[i] != was) continue;
        if (was == 1) sum += label == pass ? by_label[w->below[i]] : 0.0;
        else sum += label < pass ? by_label[label] : 0.0;
    }
    return sum / (w->sep.grid.px_per_mm * w->sep.grid.px_per_mm);
}

/* All openings are of one pass (2), black on dark grey; islands are white. */
static void flatten(world *w, const sw_mask *mask)
{
    w->flat.n_passes = 2;
    w->flat.colour[0] = (sw_rgb8){ 255, 255, 255 };
    w->flat.colour[1] = (sw_rgb8){ 48, 48, 48 };
    w->flat.colour[2] = (sw_rgb8){ 0, 0, 0 };
    for (size_t i = 0; i < w->n; i++) {
        w->flat.label[i] = mask->at[i] ? 2 : 0;
        w->flat.salience[i] = mask->at[i] ? 0 : 255;
    }
    memset(w->flat_below, 1, w->n);
}

static int plan(const sw_mask *mask, const sw_separation *sep, const uint8_t *below, size_t pass, sw_sheet *out)
{
    *out = (sw_sheet){ .pass = pass, .paint = sep->colour[pass] };
    const sw_bridge_job job = { .separation = sep, .below = below,
                                .window = { 0, 0, sep->grid.width_px, sep->grid.height_px }, .width_mm = 5.25,
                                .min_opening_mm = 3.0 };
    return sw_mask_copy(mask, &out->openings, NULL) == SW_OK && sw_bridges_plan(out, &job, NULL) == SW_OK;
}

int main(int argc, char **argv)
{
    if (argc < 4) return 2;
    sw_note note = { 0 };
    sw_picture in = { 0 }, art = { 0 };
    const double width_mm = atof(argv[2]);
    if (sw_picture_read(argv[1], &(sw_picture_opts){ .ground = { 255, 255, 255 } }, &in, &note) != SW_OK) return 2;
    const size_t width = (size_t)(2.0 * width_mm + 0.5);
    const size_t height = (size_t)((double)width * (double)in.height_px / (double)in.width_px + 0.5);
    const sw_grid grid = { width, height, 2.0 };
    const sw_separate_opts opts = { .kind = argc > 4 ? (sw_separate_kind)atoi(argv[4]) : SW_SEPARATE_TONE,
                                    .n_passes = (size_t)atoi(argv[3]), .ground = { 255, 255, 255 },
                                    .min_opening_mm = 3.0, .min_web_mm = 5.0 };
    world w = { .n = width * height };
    sw_mask masks[SW_MAX_PASSES] = { { 0 } };
    static sw_sheet made[SW_MAX_PASSES];
    if (sw_picture_resample(&in, width, height, &art, &note) != SW_OK ||
        sw_separate(&art, &grid, &opts, NULL, &w.sep, &note) != SW_OK ||
        sw_sheets_stack(&w.sep, 1.0, masks, &note) != SW_OK) {
        fprintf(stderr, "%s\n", note.text);
        return 1;
    }
    w.flat = w.sep;
    w.flat.label = malloc(w.n);
    w.flat.salience = malloc(w.n);
    w.below = calloc(w.n, 1);
    w.flat_below = calloc(w.n, 1);
    if (w.flat.label == NULL || w.flat.salience == NULL || w.below == NULL || w.flat_below == NULL) return 3;
    double planned = 0.0, plain = 0.0, lost = 0.0, area = 0.0, seen = 0.0;
    size_t n_bridges = 0, n_plain = 0, n_lost = 0;
    for (size_t pass = 1; pass <= w.sep.n_passes; pass++) {
        const sw_mask *mask = &masks[pass - 1];
        sw_sheet *const a = &made[pass - 1], b;
        flatten(&w, mask);
        if (!plan(mask, &w.sep, w.below, pass, a) || !plan(mask, &w.flat, w.flat_below, 2, &b)) return 3;
        lost += error_of(&w, pass, mask, &a->openings, 0);
        plain += error_of(&w, pass, mask, &b.openings, 1);
        for (size_t i = 0; i < a->n_bridges; i++) {
            area += a->bridges[i].area_mm2;
            seen += a->bridges[i].visible_mm2;
        }
        n_bridges += a->n_bridges;
        n_plain += b.n_bridges;
        n_lost += a->n_islands_dropped;
        for (size_t i = 0; i < w.n; i++)
            if (a->openings.at[i]) w.below[i] = (uint8_t)pass;
        sw_sheet_free(&b);
    }
    sw_sheets sheets = { made, w.sep.n_passes };
    sw_mask plan_masks[SW_MAX_PASSES];
    for (size_t k = 0; k < w.sep.n_passes; k++)
        if (sw_mask_copy(&made[k].openings, &plan_masks[k], NULL) != SW_OK) return 3;
    sw_backs backs = { 0 };
    if (sw_bridges_back(&sheets, &w.sep, NULL, 3.0, 5.25, &backs, &note) != SW_OK) return 3;
    memset(w.below, 0, w.n);
    for (size_t pass = 1; pass <= w.sep.n_passes; pass++) { /* what each bridge shows in the end */
        planned += error_of(&w, pass, &masks[pass - 1], &plan_masks[pass - 1], 1);
        for (size_t i = 0; i < w.n; i++)
            if (made[pass - 1].openings.at[i]) w.below[i] = (uint8_t)pass;
    }
    printf("%.0f %.0f %.0f %zu %zu %zu %.3f\n", planned, plain, lost, n_bridges, n_plain, n_lost, area > 0.0 ? 1.0 - seen / area : 0.0);
    return 0;
}
