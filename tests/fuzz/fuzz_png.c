/* Fuzz target: PNG bytes through probe and read. Limits are low so that time goes into the parser, not into pixels. */
#include "picture/picture.h"
#include "replay.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    const sw_picture_opts opts = { .ground = { 200, 100, 50 }, .max_px = 1u << 18, .max_side_px = 1u << 14 };
    sw_picture picture = { 0 };
    sw_picture_info info = { 0 };
    sw_note note = { { 0 } };
    if (n < 8 || memcmp(bytes, "\x89PNG\r\n\x1a\n", 8) != 0) return 0;
    const sw_status probed = sw_picture_probe_memory(bytes, n, "fuzz", &opts, &info, &note);
    const sw_status read = sw_picture_read_memory(bytes, n, "fuzz", &opts, &picture, &note);
    if (read == SW_OK && (probed != SW_OK || info.width_px != picture.width_px || info.height_px != picture.height_px))
        abort(); /* what can be read was announced rightly */
    if (read != SW_OK && (picture.at != NULL || note.text[0] == '\0')) abort();
    sw_picture_free(&picture);
    return 0;
}
