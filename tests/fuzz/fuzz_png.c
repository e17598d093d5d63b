/* Fuzz target: PNG bytes through probe and read, as they are and with every chunk's checksum put right, or mutations
 * would end there. Limits are low so that time goes into the parser, not into pixels. */
#include "picture/picture.h"
#include "replay.h"

#include <stdlib.h>
#include <string.h>

static void read_once(const uint8_t *bytes, size_t n)
{
    const sw_picture_opts opts = { .ground = { 200, 100, 50 }, .max_px = 1u << 18, .max_side_px = 1u << 14 };
    sw_picture picture = { 0 };
    sw_picture_info info = { 0 };
    sw_note note = { { 0 } };
    const sw_status probed = sw_picture_probe_memory(bytes, n, "fuzz", &opts, &info, &note);
    const sw_status read = sw_picture_read_memory(bytes, n, "fuzz", &opts, &picture, &note);
    if (read == SW_OK && (probed != SW_OK || info.width_px != picture.width_px || info.height_px != picture.height_px))
        abort(); /* what can be read was announced rightly */
    if (read != SW_OK && (picture.at != NULL || note.text[0] == '\0')) abort();
    sw_picture_free(&picture);
}

/* CRC-32 of PNG (ISO/IEC 15948:2004, annex D). */
static uint32_t crc_of(const uint8_t *bytes, size_t n)
{
    uint32_t crc = 0xffffffffu;
    for (size_t i = 0; i < n; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++) crc = crc >> 1 ^ (crc & 1u ? 0xedb88320u : 0);
    }
    return ~crc;
}

static void mend_checksums(uint8_t *bytes, size_t n)
{
    for (size_t at = 8; n - at >= 12;) {
        size_t body = 0;
        for (size_t i = 0; i < 4; i++) body = body << 8 | bytes[at + i];
        if (body > n - at - 12) return;
        const uint32_t crc = crc_of(bytes + at + 4, body + 4);
        for (size_t i = 0; i < 4; i++) bytes[at + 8 + body + i] = (uint8_t)(crc >> (24 - 8 * i));
        at += 12 + body;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    if (n < 8 || memcmp(bytes, "\x89PNG\r\n\x1a\n", 8) != 0) return 0;
    read_once(bytes, n);
    uint8_t *const mended = sw_alloc_raw(n, 1);
    if (mended == NULL) return 0;
    memcpy(mended, bytes, n);
    mend_checksums(mended, n);
    read_once(mended, n);
    sw_free(mended);
    return 0;
}
