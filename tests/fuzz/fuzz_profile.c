/* Fuzz target: an embedded colour profile as a picture file brings it. The first byte picks the form of the pixels. */
#include "picture/raster.h"
#include "replay.h"

#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    if (n < 2) return 0;
    const sw_raw_form form = { .kind = (sw_raw_kind)(bytes[0] % 3), .is_16 = (bytes[0] & 16) != 0 && bytes[0] % 3 != 2,
                               .has_alpha = (bytes[0] & 32) != 0 && bytes[0] % 3 != 2,
                               .is_inverted = (bytes[0] & 64) != 0 && bytes[0] % 3 == 2 };
    const sw_raw_space space = { .icc = bytes + 1, .n_icc = n - 1 };
    sw_profile *profile = NULL;
    sw_note note = { { 0 } };
    if (sw_profile_make(&form, &space, &profile, &note) != SW_OK) {
        if (profile != NULL || note.text[0] == '\0') abort();
        return 0;
    }
    const uint16_t row[4 * 5] = { 0, 1, 257, 65535, 32768, 40000, 3, 2, 1, 0, 65535, 65535, 65535, 65535, 7, 8, 9 };
    sw_rgb8 out[5];
    if (profile != NULL) sw_profile_row(profile, row, 5, out);
    sw_profile_free(profile);
    return 0;
}
