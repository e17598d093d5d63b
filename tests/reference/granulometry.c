/* Thickness of strokes in a mask: reads "W H\n" and W * H bytes (1 inside), writes for each pixel the squared radius of
 * the largest disc that covers it (uint32) and then its thickness (uint16, 1/16 px). Outside the raster nothing is set. */
#include <stdio.h>

#include "check/parts.h"

int main(void)
{
    size_t w, h;
    sw_mask mask = { 0 };
    sw_note note = { 0 };
    if (scanf("%zu %zu", &w, &h) != 2 || getchar() != '\n' || sw_mask_make(w, h, &mask, &note) != SW_OK) return 2;
    if (fread(mask.at, 1, w * h, stdin) != w * h) return 2;
    uint16_t *const thick = sw_alloc_array(w * h, sizeof *thick);
    uint32_t *const opened_sq = sw_alloc_array(w * h, sizeof *opened_sq);
    if (thick == NULL || opened_sq == NULL) return 3;
    if (sw_granules_measure(&mask, true, NULL, thick, opened_sq, &note) != SW_OK) return 3;
    fwrite(opened_sq, sizeof *opened_sq, w * h, stdout);
    fwrite(thick, sizeof *thick, w * h, stdout);
    sw_free(thick);
    sw_free(opened_sq);
    sw_mask_free(&mask);
    return 0;
}
