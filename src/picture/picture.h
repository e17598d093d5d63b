/*
 * Pictures in: PNG and JPEG to upright 8-bit sRGB, resampling to the grid, colour spaces.
 *
 * Unless a comment says otherwise an out parameter is untouched unless the call returns SW_OK.
 */
#ifndef SW_PICTURE_H
#define SW_PICTURE_H

#include "base/base.h"

/** An upright picture in sRGB. Free with sw_picture_free. 3 bytes a pixel. */
typedef struct sw_picture {
    size_t width_px, height_px;
    sw_rgb8 *at;                         /* row-major, width_px * height_px; alpha already laid over the ground */
    size_t source_width_px, source_height_px; /* upright size in the file; larger than width_px if decoded reduced */
    double x_px_per_mm, y_px_per_mm;     /* density the file states for its own pixels, upright; 0 if it states none */
    bool has_alpha;                      /* some pixel was not opaque */
    bool is_all_clear;                   /* every pixel was fully transparent */
} sw_picture;

/** Zero means the default of each field; NULL for all of it means a white ground. */
typedef struct sw_picture_opts {
    sw_rgb8 ground;          /* what shows through transparent parts; the zero value is black, callers set it */
    size_t max_side_px;      /* 0: SW_MAX_SIDE_PX */
    size_t max_px;           /* 0: SW_MAX_PX */
    size_t enough_width_px;  /* a JPEG may be decoded at 1/2, 1/4 or 1/8 as long as both sides stay at least this; */
    size_t enough_height_px; /* 0: decode in full */
} sw_picture_opts;

/** What a file says of itself, from its header alone. */
typedef struct sw_picture_info {
    size_t width_px, height_px;      /* upright: Exif orientation applied */
    double x_px_per_mm, y_px_per_mm; /* 0: none stated */
} sw_picture_info;

/** Size and density from the header, without decoding. path may be "-" only in sw_picture_read. */
SW_MUST_USE sw_status sw_picture_probe(const char *path, const sw_picture_opts *opts, sw_picture_info *out,
                                       sw_note *note);

/** Read a PNG or JPEG file whole. See sw_picture_read_memory. */
SW_MUST_USE sw_status sw_picture_read(const char *path, const sw_picture_opts *opts, sw_picture *out, sw_note *note);

/** The same from bytes in memory; name is for messages. Fuzzed.
 *  PNG: every colour type and depth, interlaced, alpha over opts->ground (blended in encoded values, as viewers do),
 *  iCCP, else sRGB, else gAMA and cHRM. JPEG: grey, YCbCr, RGB, CMYK and YCCK. Exif orientation 1..8 in both. An
 *  embedded ICC profile is converted to sRGB with lcms2; a broken one is ignored. A file that is cut short is refused,
 *  never half read. 3 bytes a pixel, 6 while a picture is turned; interlaced PNG up to 8 more.
 *  Returns SW_OK, SW_BAD_FILE, SW_TOO_LARGE, SW_NO_MEMORY, SW_INTERRUPTED. */
SW_MUST_USE sw_status sw_picture_read_memory(const uint8_t *bytes, size_t n, const char *name,
                                             const sw_picture_opts *opts, sw_picture *out, sw_note *note);
SW_MUST_USE sw_status sw_picture_probe_memory(const uint8_t *bytes, size_t n, const char *name,
                                              const sw_picture_opts *opts, sw_picture_info *out, sw_note *note);

/** Resample to width_px x height_px: averaged down in linear light, interpolated up smoothly (no ringing beyond the
 *  8-bit range, no half-pixel shift). *out is owned by the caller. Same bytes for any thread count. */
SW_MUST_USE sw_status sw_picture_resample(const sw_picture *in, size_t width_px, size_t height_px, sw_picture *out,
                                          sw_note *note);

/** A picture of one colour; for previews and tests. */
SW_MUST_USE sw_status sw_picture_make(size_t width_px, size_t height_px, sw_rgb8 colour, sw_picture *out,
                                      sw_note *note);

/** NULL, zeroed and half-built pictures are fine; leaves it zeroed. */
void sw_picture_free(sw_picture *picture);

/* ---- colour ------------------------------------------------------------------------------------ */

/** OKLab (Ottosson 2020). L 0..1. */
typedef struct sw_oklab {
    float L, a, b;
} sw_oklab;

/** CIE 1976 L*a*b*, D65 white. L 0..100. */
typedef struct sw_lab {
    double L, a, b;
} sw_lab;

/** sRGB transfer function (IEC 61966-2-1), v and result 0..1. */
double sw_linear_from_srgb(double v);
double sw_srgb_from_linear(double v);
/** The same by table for 8-bit values: exact, one look-up. */
float sw_linear_from_srgb8(uint8_t v);
/** Nearest 8-bit value to a linear 0..1 value (clamped, NaN is 0). */
uint8_t sw_srgb8_from_linear(float v);

sw_oklab sw_oklab_from_rgb8(sw_rgb8 colour);
sw_rgb8 sw_rgb8_from_oklab(sw_oklab colour); /* clipped to the gamut a channel */
/** OKLab of n colours, L, a and b by themselves: n values each. */
void sw_oklab_from_rgb8_row(const sw_rgb8 *in, size_t n, float *L, float *a, float *b);
sw_lab sw_lab_from_rgb8(sw_rgb8 colour);
/** CIEDE2000 colour difference, kL = kC = kH = 1. Source: Sharma, Wu, Dalal 2005. */
double sw_ciede2000(sw_lab one, sw_lab two);

#endif
