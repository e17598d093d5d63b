/* Fuzz target: JPEG bytes through probe and read, in full and reduced. Limits are low so that time goes into the
 * parser, not into pixels. */
#include "picture/picture.h"
#include "replay.h"

#include <stdlib.h>
#include <string.h>

static void read_once(const uint8_t *bytes, size_t n, const sw_picture_opts *opts)
{
    sw_picture picture = { 0 };
    sw_picture_info info = { 0 };
    sw_note note = { { 0 } };
    const sw_status probed = sw_picture_probe_memory(bytes, n, "fuzz", opts, &info, &note);
    const sw_status read = sw_picture_read_memory(bytes, n, "fuzz", opts, &picture, &note);
    if (read == SW_OK && (probed != SW_OK || info.width_px != picture.source_width_px ||
                          info.height_px != picture.source_height_px))
        abort(); /* what can be read was announced rightly */
    if (read != SW_OK && (picture.at != NULL || note.text[0] == '\0')) abort();
    sw_picture_free(&picture);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    if (n < 3 || memcmp(bytes, "\xff\xd8\xff", 3) != 0) return 0;
    sw_picture_opts opts = { .max_px = 1u << 18, .max_side_px = 1u << 14 };
    read_once(bytes, n, &opts);
    opts.enough_width_px = 5;
    opts.enough_height_px = 4;
    read_once(bytes, n, &opts);
    return 0;
}
