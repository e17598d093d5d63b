/* Exif in as few lines as orientation and density need (CIPA DC-008-2019, TIFF 6.0 structure). Every read is checked
 * against the end of the block; a tag that cannot be read is as if it were missing. */
#include "picture/raster.h"

#define TAG_ORIENTATION 0x0112u
#define TAG_X_RESOLUTION 0x011au
#define TAG_Y_RESOLUTION 0x011bu
#define TAG_RESOLUTION_UNIT 0x0128u
#define TYPE_SHORT 3u
#define TYPE_RATIONAL 5u
#define ENTRY_BYTES 12u

typedef struct block {
    const uint8_t *at;
    size_t n;
    bool is_little;
} block;

/* 0 outside the block: no tag used here has 0 as a value that means anything. */
static uint32_t u16(const block *b, size_t at)
{
    if (b->n < 2 || at > b->n - 2) return 0;
    const uint8_t *const p = b->at + at;
    return b->is_little ? (uint32_t)(p[0] | p[1] << 8) : (uint32_t)(p[0] << 8 | p[1]);
}

static uint32_t u32(const block *b, size_t at)
{
    if (b->n < 4 || at > b->n - 4) return 0;
    const uint32_t one = u16(b, at), two = u16(b, at + 2);
    return b->is_little ? one | two << 16 : one << 16 | two;
}

/* Value of a rational entry, 0 if it is none. */
static double rational(const block *b, size_t entry)
{
    if (u16(b, entry + 2) != TYPE_RATIONAL || u32(b, entry + 4) != 1) return 0.0;
    const size_t at = u32(b, entry + 8);
    const double under = u32(b, at + 4);
    return under > 0.0 ? u32(b, at) / under : 0.0;
}

sw_exif sw_exif_parse(const uint8_t *tiff, size_t n)
{
    sw_exif exif = { .orientation = 1 };
    if (n < 8 || !((tiff[0] == 'I' && tiff[1] == 'I') || (tiff[0] == 'M' && tiff[1] == 'M'))) return exif;
    const block b = { tiff, n, tiff[0] == 'I' };
    if (u16(&b, 2) != 42) return exif;
    const size_t directory = u32(&b, 4);
    const size_t n_entries = u16(&b, directory);
    double x = 0.0, y = 0.0, unit_mm = 25.4; /* inches unless stated, as the standard says */
    for (size_t i = 0; i < n_entries; i++) {
        const size_t entry = directory + 2 + i * ENTRY_BYTES;
        if (entry + ENTRY_BYTES > n) break;
        const uint32_t tag = u16(&b, entry);
        const uint32_t value = u16(&b, entry + 2) == TYPE_SHORT ? u16(&b, entry + 8) : 0;
        if (tag == TAG_ORIENTATION && value >= 1 && value <= 8) exif.orientation = (int)value;
        else if (tag == TAG_X_RESOLUTION) x = rational(&b, entry);
        else if (tag == TAG_Y_RESOLUTION) y = rational(&b, entry);
        else if (tag == TAG_RESOLUTION_UNIT && value != 0) unit_mm = value == 2 ? 25.4 : value == 3 ? 10.0 : 0.0;
    }
    if (unit_mm > 0.0) {
        exif.x_px_per_mm = sw_density_ok(x / unit_mm);
        exif.y_px_per_mm = sw_density_ok(y / unit_mm);
    }
    return exif;
}
