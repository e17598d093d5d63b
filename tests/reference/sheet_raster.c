/* Driver of sheet_raster.py: reads "WIDTH HEIGHT" and a mask of 0 and 1 bytes from standard input, writes distances to
 * 1 and to 0 (with and without what lies outside) and component labels of 1 (corners join) and 0 (they do not), all
 * as 32-bit words in the machine's order, to standard output. */
#include <inttypes.h>
#include <stdio.h>

#include "sheet/sheet.h"

static int put(const uint32_t *at, size_t n) { return fwrite(at, sizeof *at, n, stdout) == n ? 0 : 1; }

int main(void)
{
    size_t width = 0, height = 0, n = 0;
    sw_mask mask = { 0 };
    if (scanf("%zu %zu", &width, &height) != 2 || getchar() != '\n') return 2;
    if (sw_mask_make(width, height, &mask, NULL) != SW_OK) return 2;
    const size_t n_px = width * height;
    uint32_t *const out = sw_alloc_raw(n_px, sizeof *out);
    if (out == NULL || fread(mask.at, 1, n_px, stdin) != n_px) return 2;
    int bad = 0;
    for (int k = 0; k < 4; k++) {
        bad |= sw_distance_sq(&mask, (uint8_t)(k & 1), k >= 2, out, NULL) != SW_OK;
        bad |= put(out, n_px);
    }
    for (uint8_t value = 0; value < 2; value++) {
        bad |= sw_components(&mask, value, value == 1, out, &n, NULL) != SW_OK;
        bad |= put(out, n_px);
    }
    sw_free(out);
    sw_mask_free(&mask);
    return bad;
}
