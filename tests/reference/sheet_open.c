/* Driver of sheet_raster.py: "WIDTH HEIGHT" and a mask of 0 and 1 bytes in, the mask opened by the disc out. */
#include <stdio.h>
#include <stdlib.h>

#include "sheet/bits.h"

int main(int argc, char **argv)
{
    size_t width = 0, height = 0;
    const int diameter = argc == 2 ? atoi(argv[1]) : 0;
    sw_mask mask = { 0 };
    sw_bits set = { 0 }, middles = { 0 }, opened = { 0 };
    if (diameter < 1 || scanf("%zu %zu", &width, &height) != 2 || getchar() != '\n') return 2;
    const size_t margin = (size_t)diameter + 1;
    if (sw_mask_make(width, height, &mask, NULL) != SW_OK || sw_bits_make(width, height, margin, &set, NULL) != SW_OK ||
        sw_bits_make(width, height, margin, &middles, NULL) != SW_OK ||
        sw_bits_make(width, height, margin, &opened, NULL) != SW_OK)
        return 2;
    if (fread(mask.at, 1, width * height, stdin) != width * height) return 2;
    const sw_disc disc = sw_disc_of_diameter((size_t)diameter);
    sw_bits_from_bytes(&set, mask.at, width, 1, 1, false);
    sw_bits_open(&set, false, &disc, &middles, &opened);
    sw_bits_to_bytes(&opened, mask.at, width);
    const int bad = fwrite(mask.at, 1, width * height, stdout) != width * height;
    sw_bits_free(&set);
    sw_bits_free(&middles);
    sw_bits_free(&opened);
    sw_mask_free(&mask);
    return bad;
}
