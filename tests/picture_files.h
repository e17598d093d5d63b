/* PNG and JPEG files made in memory, for tests. What cannot be made aborts: that is the test's own mistake. */
#ifndef SW_TEST_PICTURE_FILES_H
#define SW_TEST_PICTURE_FILES_H

#include "support.h"

#include <png.h>
#include <jpeglib.h>
#include <lcms2.h>

typedef struct file {
    uint8_t bytes[1 << 17];
    size_t n;
} file;

static inline void file_add(file *f, const void *bytes, size_t n)
{
    if (n > sizeof f->bytes - f->n) abort();
    memcpy(f->bytes + f->n, bytes, n);
    f->n += n;
}

/* ---- PNG ------------------------------------------------------------------------------------------ */

typedef struct png_wish {
    int colour_type; /* PNG_COLOR_TYPE_... */
    int depth;       /* 0: 8 */
    bool is_interlaced;
    double gamma; /* gAMA; 0: none */
    bool has_wide_primaries; /* cHRM of Adobe RGB (1998) */
    const void *icc;
    size_t n_icc;
    uint32_t x_per_metre, y_per_metre; /* pHYs; 0: none */
    const uint8_t *exif;               /* eXIf; NULL: none */
    size_t n_exif;
} png_wish;

static inline void put_png_bytes(png_structp png, png_bytep data, size_t n) { file_add(png_get_io_ptr(png), data, n); }
static inline void put_png_flush(png_structp png) { (void)png; }

/* rows: as libpng wants them, stride bytes apart. */
static inline void png_make(const png_wish *wish, uint32_t width, uint32_t height, const uint8_t *rows, size_t stride,
                            file *out)
{
    png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, NULL, NULL, NULL);
    png_infop info = png == NULL ? NULL : png_create_info_struct(png);
    if (info == NULL || setjmp(png_jmpbuf(png)) != 0) abort();
    out->n = 0;
    png_set_write_fn(png, out, put_png_bytes, put_png_flush);
    png_set_IHDR(png, info, width, height, wish->depth == 0 ? 8 : wish->depth, wish->colour_type,
                 wish->is_interlaced ? PNG_INTERLACE_ADAM7 : PNG_INTERLACE_NONE, 0, 0);
    if (wish->gamma > 0.0) png_set_gAMA(png, info, wish->gamma);
    if (wish->has_wide_primaries)
        png_set_cHRM(png, info, 0.3127, 0.3290, 0.64, 0.33, 0.21, 0.71, 0.15, 0.06);
    if (wish->icc != NULL) png_set_iCCP(png, info, "p", 0, wish->icc, (png_uint_32)wish->n_icc);
    if (wish->x_per_metre != 0)
        png_set_pHYs(png, info, wish->x_per_metre, wish->y_per_metre, PNG_RESOLUTION_METER);
    if (wish->exif != NULL) png_set_eXIf_1(png, info, (png_uint_32)wish->n_exif, (png_bytep)(uintptr_t)wish->exif);
    png_write_info(png, info);
    const int n_passes = png_set_interlace_handling(png);
    for (int pass = 0; pass < n_passes; pass++) {
        for (uint32_t y = 0; y < height; y++) png_write_row(png, rows + y * stride);
    }
    png_write_end(png, NULL);
    png_destroy_write_struct(&png, &info);
}

/* CRC-32 of PNG (ISO/IEC 15948:2004, annex D). */
static inline uint32_t png_crc(const uint8_t *bytes, size_t n)
{
    uint32_t crc = 0xffffffffu;
    for (size_t i = 0; i < n; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++) crc = crc >> 1 ^ (crc & 1u ? 0xedb88320u : 0);
    }
    return ~crc;
}

static inline void put_u32(uint8_t *at, uint32_t v)
{
    for (size_t i = 0; i < 4; i++) at[i] = (uint8_t)(v >> (24 - 8 * i));
}

/* Put a chunk of any name and body between the header and what follows it. */
static inline void png_insert(file *f, const char *name, const uint8_t *body, size_t n)
{
    static file made;
    uint8_t frame[4];
    made.n = 0;
    file_add(&made, f->bytes, 33);
    put_u32(frame, (uint32_t)n);
    file_add(&made, frame, 4);
    file_add(&made, name, 4);
    file_add(&made, body, n);
    put_u32(frame, png_crc(made.bytes + 37, n + 4));
    file_add(&made, frame, 4);
    file_add(&made, f->bytes + 33, f->n - 33);
    *f = made;
}

/* A zlib stream of one stored block (RFC 1950, 1951); n under 65536. Returns its length. */
static inline size_t zlib_store(const uint8_t *in, size_t n, uint8_t *out)
{
    uint32_t a = 1, b = 0;
    const uint8_t head[7] = { 0x78, 0x01, 1, (uint8_t)n, (uint8_t)(n >> 8), (uint8_t)~n, (uint8_t)(~n >> 8) };
    memcpy(out, head, 7);
    memcpy(out + 7, in, n);
    for (size_t i = 0; i < n; i++) {
        a = (a + in[i]) % 65521u;
        b = (b + a) % 65521u;
    }
    put_u32(out + 7 + n, b << 16 | a);
    return n + 11;
}

/* ---- JPEG ----------------------------------------------------------------------------------------- */

typedef struct jpeg_wish {
    J_COLOR_SPACE in, stored; /* of the samples given, of the file */
    int quality;              /* 0: 95 */
    bool is_progressive;
    int density_unit; /* JFIF */
    unsigned x_density, y_density;
    const uint8_t *exif; /* TIFF part only; NULL: none */
    size_t n_exif;
    const uint8_t *icc;
    size_t n_icc, icc_part; /* bytes of the profile a marker; 0: 65519 */
} jpeg_wish;

static inline void put_icc(struct jpeg_compress_struct *c, const jpeg_wish *wish)
{
    const size_t part = wish->icc_part == 0 ? 65519 : wish->icc_part;
    const size_t n_parts = (wish->n_icc + part - 1) / part;
    for (size_t i = 0; i < n_parts; i++) {
        uint8_t marker[65533] = "ICC_PROFILE";
        const size_t n = wish->n_icc - i * part < part ? wish->n_icc - i * part : part;
        marker[12] = (uint8_t)(i + 1);
        marker[13] = (uint8_t)n_parts;
        memcpy(marker + 14, wish->icc + i * part, n);
        jpeg_write_marker(c, JPEG_APP0 + 2, marker, (unsigned)(14 + n));
    }
}

/* samples: interleaved, no padding. */
static inline void jpeg_make(const jpeg_wish *wish, unsigned width, unsigned height, const uint8_t *samples, file *out)
{
    struct jpeg_compress_struct c = { 0 };
    struct jpeg_error_mgr errors; /* libjpeg's own: prints and exits */
    unsigned char *made = NULL;
    unsigned long n_made = 0;
    c.err = jpeg_std_error(&errors);
    jpeg_create_compress(&c);
    jpeg_mem_dest(&c, &made, &n_made);
    c.image_width = width;
    c.image_height = height;
    c.input_components = wish->in == JCS_GRAYSCALE ? 1 : wish->in == JCS_CMYK ? 4 : 3;
    c.in_color_space = wish->in;
    jpeg_set_defaults(&c);
    jpeg_set_colorspace(&c, wish->stored);
    jpeg_set_quality(&c, wish->quality == 0 ? 95 : wish->quality, TRUE);
    if (wish->is_progressive) jpeg_simple_progression(&c);
    c.density_unit = (UINT8)wish->density_unit;
    c.X_density = (UINT16)wish->x_density;
    c.Y_density = (UINT16)wish->y_density;
    for (int i = 0; i < c.num_components; i++) c.comp_info[i].h_samp_factor = c.comp_info[i].v_samp_factor = 1;
    jpeg_start_compress(&c, TRUE);
    if (wish->exif != NULL) {
        uint8_t marker[4096] = "Exif\0";
        memcpy(marker + 6, wish->exif, wish->n_exif);
        jpeg_write_marker(&c, JPEG_APP0 + 1, marker, (unsigned)(6 + wish->n_exif));
    }
    if (wish->icc != NULL) put_icc(&c, wish);
    for (unsigned y = 0; y < height; y++) {
        JSAMPROW row = (JSAMPROW)(uintptr_t)(samples + (size_t)y * width * (size_t)c.input_components);
        jpeg_write_scanlines(&c, &row, 1);
    }
    jpeg_finish_compress(&c);
    out->n = 0;
    file_add(out, made, n_made);
    jpeg_destroy_compress(&c);
    free(made); /* libjpeg's */
}

/* ---- Exif and ICC --------------------------------------------------------------------------------- */

/* One little-endian TIFF directory with an orientation and nothing else; 26 bytes. */
static inline void exif_make(int orientation, uint8_t tiff[26])
{
    static const uint8_t frame[26] = { 'I', 'I', 42, 0, 8, 0, 0, 0, 1, 0, 0x12, 0x01, 3, 0, 1, 0, 0, 0 };
    memcpy(tiff, frame, 26);
    tiff[18] = (uint8_t)orientation;
}

static inline size_t profile_save(cmsHPROFILE profile, uint8_t *out, size_t room)
{
    cmsUInt32Number n = 0;
    if (!cmsSaveProfileToMem(profile, NULL, &n) || n > room || !cmsSaveProfileToMem(profile, out, &n)) abort();
    cmsCloseProfile(profile);
    return n;
}

/* Adobe RGB (1998): its primaries, D65, exponent 563/256. */
static inline size_t wide_profile_make(uint8_t *out, size_t room)
{
    const cmsCIExyY white = { 0.3127, 0.3290, 1.0 };
    const cmsCIExyYTRIPLE primaries = { { 0.64, 0.33, 1.0 }, { 0.21, 0.71, 1.0 }, { 0.15, 0.06, 1.0 } };
    cmsToneCurve *const curve = cmsBuildGamma(NULL, 563.0 / 256.0);
    cmsToneCurve *const curves[3] = { curve, curve, curve };
    const size_t n = profile_save(cmsCreateRGBProfile(&white, &primaries, curves), out, room);
    cmsFreeToneCurve(curve);
    return n;
}

#endif
