/* Traces masks and prints the curves as text, for the scripts beside it.
 * usage: contour_dump PX_PER_MM TOLERANCE_MM MIN_MM [OFFSET_MM] < masks
 * A mask is a PGM (P5, above 0 is opening); several may follow each other. For each: "mask N_CONTOURS", for each
 * contour "c N_SEGS x y", for each segment "L corner x y" or "C corner x1 y1 x2 y2 x y", in mm. */
#include <stdio.h>
#include <stdlib.h>

#include "contour_text.h"

int main(int argc, char **argv)
{
    double px_per_mm, tolerance_mm, min_mm, offset_mm = 0.0;
    if (argc < 4 || argc > 5 || (argc == 5 && !sw_number_parse(argv[4], &offset_mm)) || !sw_number_parse(argv[1], &px_per_mm) || !sw_number_parse(argv[2], &tolerance_mm) ||
        !sw_number_parse(argv[3], &min_mm))
        return 2;
    size_t width, height;
    while (scanf("P5 %zu %zu 255", &width, &height) == 2 && getchar() != EOF) {
        sw_mask mask = { 0 };
        sw_contours list = { 0 };
        sw_note note = { 0 };
        sw_text text = { 0 };
        if (sw_mask_make(width, height, &mask, &note) != SW_OK) return 3;
        if (fread(mask.at, 1, width * height, stdin) != width * height) return 3;
        for (size_t i = 0; i < width * height; i++) mask.at[i] = mask.at[i] > 0;
        const sw_grid grid = { width, height, px_per_mm };
        const sw_trace_opts opts = { .tolerance_mm = tolerance_mm, .min_opening_mm = min_mm, .min_web_mm = min_mm };
        if (sw_contours_trace(&mask, &grid, &opts, &list, &note) != SW_OK) {
            fprintf(stderr, "%s\n", note.text);
            return 3;
        }
        if (offset_mm != 0.0) {
            sw_contours moved = { 0 };
            if (sw_contours_offset(&list, offset_mm, 0.02, NULL, &moved, &note) != SW_OK) return 3;
            sw_contours_free(&list);
            list = moved;
        }
        sw_text_addf(&text, "mask %zu\n", list.n);
        for (size_t i = 0; i < list.n; i++) add_contour(&text, &list.at[i], 9);
        if (text.is_broken) return 3;
        fwrite(text.data, 1, text.size, stdout);
        sw_text_free(&text);
        sw_contours_free(&list);
        sw_mask_free(&mask);
    }
    return 0;
}
