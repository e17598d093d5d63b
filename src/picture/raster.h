/*
 * What the files of src/picture/ share: decoded rows on their way to sRGB. Not a door; no other stage includes it.
 */
#ifndef SW_PICTURE_RASTER_H
#define SW_PICTURE_RASTER_H

#include "picture/picture.h"

/** Limits after defaults are filled in. */
typedef struct sw_picture_limits {
    size_t max_side_px, max_px;
} sw_picture_limits;

typedef enum sw_raw_kind { SW_RAW_GREY = 0, SW_RAW_RGB, SW_RAW_CMYK } sw_raw_kind;

/** How a decoder's rows look: samples interleaved, 8 bits or 16 in the machine's order, alpha last. */
typedef struct sw_raw_form {
    sw_raw_kind kind;
    bool has_alpha; /* never with CMYK */
    bool is_16;
    bool is_inverted; /* CMYK as Adobe writes it: 255 is no ink */
} sw_raw_form;

/** Bytes a pixel of that form. */
size_t sw_raw_bytes(const sw_raw_form *form);

/** What the file says its numbers mean. All zero: sRGB. */
typedef struct sw_raw_space {
    const uint8_t *icc; /* borrowed; NULL: none */
    size_t n_icc;
    bool has_gamma;     /* PNG gAMA and cHRM */
    double gamma;       /* decoding exponent, 2.2 for gAMA 45455 */
    double white_xy[2], red_xy[2], green_xy[2], blue_xy[2];
} sw_raw_space;

/** A colour transform to sRGB (profile.c). Opaque; NULL stands for "already sRGB". */
typedef struct sw_profile sw_profile;

/** Build the transform; *out is NULL when none is needed or the profile is broken, which is no failure.
 *  Returns SW_OK, SW_NO_MEMORY. Free with sw_profile_free. */
SW_MUST_USE sw_status sw_profile_make(const sw_raw_form *form, const sw_raw_space *space, sw_profile **out,
                                      sw_note *note);
/** Convert n pixels; alpha is skipped. Safe from several threads at once. */
void sw_profile_row(const sw_profile *profile, const void *in, size_t n, sw_rgb8 *out);
void sw_profile_free(sw_profile *profile);

/** Rows of a form to sRGB over the ground, not yet turned upright. */
typedef struct sw_convert {
    sw_raw_form form;
    const sw_profile *profile; /* borrowed; NULL: the numbers are sRGB, or plain ink for CMYK */
    sw_rgb8 ground;
    bool is_any_clear, is_any_visible; /* gathered over all rows so far, only with alpha */
} sw_convert;

_Static_assert(sizeof(sw_rgb8) == 3, "decoded RGB rows are read in place");

/** True if rows need no conversion at all: the decoder may write them into the picture itself. */
bool sw_convert_is_copy(const sw_convert *convert);

/** Convert n_rows rows of width_px, stride bytes apart, in parallel. */
void sw_convert_rows(sw_convert *convert, const uint8_t *rows, size_t stride, size_t width_px, size_t n_rows,
                     sw_rgb8 *out);

/** Check a file's stated size before anything is allocated for it. Returns SW_OK, SW_BAD_FILE, SW_TOO_LARGE. */
SW_MUST_USE sw_status sw_picture_check_size(const char *name, size_t width_px, size_t height_px,
                                            const sw_picture_limits *limits, sw_note *note);

/** The file is far too short for the size it states: write the note, return SW_BAD_FILE. */
sw_status sw_picture_too_short(const char *name, size_t width_px, size_t height_px, sw_note *note);

/** The file ends too early: write the note, return SW_BAD_FILE. */
sw_status sw_picture_cut_short(const char *name, sw_note *note);

/** A picture whose pixels are not set yet. */
SW_MUST_USE sw_status sw_picture_alloc(size_t width_px, size_t height_px, sw_picture *out, sw_note *note);

/** Exif (CIPA DC-008): what is of use here. */
typedef struct sw_exif {
    int orientation;                 /* 1..8; 1 if the tag is missing or makes no sense */
    double x_px_per_mm, y_px_per_mm; /* 0 if not stated */
} sw_exif;

/** Parse the TIFF structure of an Exif block (without its "Exif\0\0"). Never fails: what cannot be read is default. */
sw_exif sw_exif_parse(const uint8_t *tiff, size_t n);

/** A density that makes sense, else 0. */
double sw_density_ok(double px_per_mm);
/** Take the density of both axes if it makes sense; else what another part of the file said stays. */
void sw_density_take(double x_px_per_mm, double y_px_per_mm, double *x_out, double *y_out);

/** Size and density as stored, turned upright. */
sw_picture_info sw_picture_info_upright(sw_picture_info stored, int orientation);

/** True if the orientation swaps width and height. */
static inline bool sw_orientation_swaps(int orientation) { return orientation >= 5; }

/** Turn a picture upright: pixels, sizes and densities, source sizes too. Returns SW_OK or SW_NO_MEMORY; the picture
 *  is as before then. */
SW_MUST_USE sw_status sw_picture_turn(sw_picture *picture, int orientation, sw_note *note);

/* ---- decoders: bytes are known to begin with the right signature ---------------------------------- */

SW_MUST_USE sw_status sw_png_read(const uint8_t *bytes, size_t n, const char *name, const sw_picture_opts *opts,
                                  const sw_picture_limits *limits, sw_picture *out, sw_note *note);
SW_MUST_USE sw_status sw_png_probe(const uint8_t *bytes, size_t n, const char *name, const sw_picture_limits *limits,
                                   sw_picture_info *out, sw_note *note);
SW_MUST_USE sw_status sw_jpeg_read(const uint8_t *bytes, size_t n, const char *name, const sw_picture_opts *opts,
                                   const sw_picture_limits *limits, sw_picture *out, sw_note *note);
SW_MUST_USE sw_status sw_jpeg_probe(const uint8_t *bytes, size_t n, const char *name, const sw_picture_limits *limits,
                                    sw_picture_info *out, sw_note *note);

/* ---- colour, for tests of the published values ---------------------------------------------------- */

/** OKLab of linear sRGB, also outside the gamut. */
sw_oklab sw_oklab_from_linear(float r, float g, float b);

#endif
