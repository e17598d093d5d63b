/* Fuzz target: a mask through tracing, fitting, clipping and offsetting, with the proof's scan as the judge: every
 * contour closed, none crossing itself or another, all inside. Bytes: width, height, tolerance, window, move, then the
 * mask, a bit a pixel, each drawn as a square of 1 to 3 pixels. */
#include "../proof_support.h"
#include "replay.h"

#define FRAME_MM 4.0

/* Places where cut lines cross or touch. */
static size_t judge(const sw_contours *openings, double width_mm, double height_mm)
{
    sw_panel panel = blank_panel(width_mm + 2.0 * FRAME_MM, height_mm + 2.0 * FRAME_MM);
    sw_proof_panel proof = { 0 };
    must(sw_contours_copy(openings, &panel.openings, NULL) == SW_OK);
    sw_contours_shift(&panel.openings, FRAME_MM, FRAME_MM);
    sw_contours_round(&panel.openings, 0.001);
    must(sw_proof_panel_make(&panel, &(sw_proof_opts){ .min_opening_mm = 1.0, .min_web_mm = 1.0, .px_per_mm = 4.0 }, &proof, NULL) == SW_OK);
    must(proof.n_open_contours == 0 && proof.n_outside == 0);
    sw_free(proof.faults);
    free_panel(&panel);
    return proof.n_crossings;
}

/* As a panel is made: what a cut leaves over that no cutter cuts goes. */
static void drop_slivers(sw_contours *list)
{
    size_t kept = 0;
    for (size_t i = 0; i < list->n; i++) {
        const sw_contour_measure m = sw_contour_measure_one(&list->at[i]);
        if (2.0 * fabs(m.area_mm2) < 0.12 * m.length_mm) sw_contour_free(&list->at[i]);
        else list->at[kept++] = list->at[i];
    }
    list->n = kept;
}

static sw_mask take_mask(const uint8_t *bytes, size_t n, size_t width, size_t height, size_t scale)
{
    sw_mask mask = { 0 };
    must(sw_mask_make(width * scale, height * scale, &mask, NULL) == SW_OK);
    for (size_t y = 0; y < mask.height_px; y++)
        for (size_t x = 0; x < mask.width_px; x++) {
            const size_t bit = y / scale * width + x / scale;
            mask.at[y * mask.width_px + x] = n > 0 && (bytes[bit / 8 % n] >> bit % 8 & 1) != 0;
        }
    return mask;
}

/* A window's edge that runs along a curve closer than the proof's chords are to it is told as touching: another, a little
 * further on, is not. They lie beside the pixels' corners for the same reason. */
static void clip_and_judge(const sw_contours *traced, uint8_t where, double width_mm, double height_mm)
{
    size_t n_crossings = 1;
    for (int k = 0; k < 3 && n_crossings > 0; k++) {
        const double aside_mm = 0.0137 + 0.0531 * k;
        const sw_rect_mm rect = { width_mm * (where & 15) / 32.0 + aside_mm, height_mm * (where >> 4) / 32.0 + aside_mm,
                                  width_mm / 2.0, height_mm / 2.0 };
        sw_contours clipped = { 0 };
        must(sw_contours_clip(traced, rect, &clipped, NULL) == SW_OK);
        drop_slivers(&clipped);
        n_crossings = judge(&clipped, width_mm, height_mm);
        sw_contours_free(&clipped);
    }
    must(n_crossings == 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    if (n < 6 || n > 512) return 0;
    sw_threads_set(1);
    const size_t scale = 1u + bytes[2] % 3u;
    sw_mask mask = take_mask(bytes + 5, n - 5, 1u + bytes[0] % 12u, 1u + bytes[1] % 12u, scale);
    const sw_grid grid = { mask.width_px, mask.height_px, 2.0 };
    const double width_mm = (double)mask.width_px / 2.0, height_mm = (double)mask.height_px / 2.0;
    const sw_trace_opts opts = { .tolerance_mm = 0.1 + (double)(bytes[2] / 3) / 200.0, .min_opening_mm = 1.0, .min_web_mm = 1.0 };
    sw_contours traced = { 0 }, moved = { 0 };
    must(sw_contours_trace(&mask, &grid, &opts, &traced, NULL) == SW_OK);
    must(judge(&traced, width_mm, height_mm) == 0);
    clip_and_judge(&traced, bytes[3], width_mm, height_mm);
    must(sw_contours_offset(&traced, ((double)bytes[4] - 128.0) / 200.0, 0.02, NULL, &moved, NULL) == SW_OK);
    must(judge(&moved, width_mm, height_mm) == 0);
    must(moved.n == traced.n);
    sw_contours_free(&traced);
    sw_contours_free(&moved);
    sw_mask_free(&mask);
    return 0;
}
