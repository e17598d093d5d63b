/* Traces the masks of a map of labels one after the other and prints their curves as contour_dump does.
 * usage: shared_dump PX_PER_MM TOLERANCE_MM N_MASKS over|beside shared|alone < maps
 * A map is a PGM (P5); several may follow each other. Mask k of 1..N_MASKS is open where the label is k (beside), or k
 * and more (over). shared: each mask knows those before and after it. Each mask's contours are followed by
 * "s EDGE_MM SAME_MM N_CURVES N_GIVEN_UP". Coordinates are rounded to 0.001 mm. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "contour_text.h"

static void add_shared(sw_text *text, const sw_shared *s)
{
    sw_text_add(text, "s ");
    sw_text_add_number(text, s->edge_mm, 3);
    sw_text_add(text, " ");
    sw_text_add_number(text, s->same_mm, 3);
    sw_text_addf(text, " %zu %zu\n", s->n_curves, s->n_given_up);
}

typedef struct asked {
    double px_per_mm, tolerance_mm;
    size_t n;
    bool is_over, is_shared;
} asked;

/* All masks of one map. */
static bool trace_map(const uint8_t *label, const sw_grid *grid, const asked *a, sw_text *text)
{
    sw_mask masks[SW_MAX_PASSES] = { { 0 } };
    sw_contours curves[SW_MAX_PASSES] = { { 0 } };
    sw_drawn drawn[SW_MAX_PASSES];
    const sw_mask *later[SW_MAX_PASSES];
    bool is_ok = true;
    for (size_t k = 0; k < a->n && is_ok; k++) {
        is_ok = sw_mask_make(grid->width_px, grid->height_px, &masks[k], NULL) == SW_OK;
        for (size_t i = 0; i < grid->width_px * grid->height_px && is_ok; i++)
            masks[k].at[i] = a->is_over ? label[i] > k : label[i] == k + 1;
        later[k] = &masks[k];
        drawn[k] = (sw_drawn){ &masks[k], &curves[k] };
    }
    for (size_t k = 0; k < a->n && is_ok; k++) {
        sw_shared shared = { 0 };
        sw_trace_opts opts = { .tolerance_mm = a->tolerance_mm, .shared = &shared };
        if (a->is_shared) {
            opts.drawn = drawn;
            opts.n_drawn = k;
            opts.later = later + k + 1;
            opts.n_later = a->n - 1 - k;
        }
        is_ok = sw_contours_trace(&masks[k], grid, &opts, &curves[k], NULL) == SW_OK;
        sw_contours_round(&curves[k], 0.001);
        sw_text_addf(text, "mask %zu\n", curves[k].n);
        for (size_t i = 0; i < curves[k].n && is_ok; i++) add_contour(text, &curves[k].at[i], 6);
        add_shared(text, &shared);
    }
    for (size_t k = 0; k < a->n; k++) {
        sw_mask_free(&masks[k]);
        sw_contours_free(&curves[k]);
    }
    return is_ok && !text->is_broken;
}

int main(int argc, char **argv)
{
    double n;
    asked a = { 0 };
    if (argc != 6 || !sw_number_parse(argv[1], &a.px_per_mm) || !sw_number_parse(argv[2], &a.tolerance_mm) ||
        !sw_number_parse(argv[3], &n) || !(n >= 1 && n <= SW_MAX_PASSES))
        return 2;
    a.n = (size_t)n;
    a.is_over = strcmp(argv[4], "over") == 0;
    a.is_shared = strcmp(argv[5], "shared") == 0;
    size_t width, height;
    while (scanf("P5 %zu %zu 255", &width, &height) == 2 && getchar() != EOF) {
        sw_text text = { 0 };
        uint8_t *const label = sw_alloc_array(width * height, 1);
        if (label == NULL || fread(label, 1, width * height, stdin) != width * height) return 3;
        if (!trace_map(label, &(sw_grid){ width, height, a.px_per_mm }, &a, &text)) return 3;
        fwrite(text.data, 1, text.size, stdout);
        sw_text_free(&text);
        sw_free(label);
    }
    return 0;
}
