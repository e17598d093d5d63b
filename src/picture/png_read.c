/* PNG in, through libpng: every colour type and depth, interlaced or not. The only file that touches libpng.
 *
 * Size limits are checked on the header's own bytes before libpng is even created; a header that claims more pixels
 * than its data could possibly inflate to is refused as damaged, so that a hundred bytes cannot ask for a gigabyte.
 * Text and other chunks that carry no colour are skipped unread. libpng reports errors by a jump: each function with a
 * setjmp owns nothing, all that is made lives in the reader, which the callers of those functions own and free.
 *
 * What the numbers mean: iCCP, else sRGB, else gAMA with cHRM, else sRGB. A gAMA of 1/2.2 with no cHRM or that of sRGB
 * is sRGB written by old programs and is taken as that. */
#include "picture/raster.h"

#include <math.h>
#include <png.h>
#include <setjmp.h>
#include <string.h>

#define MAX_INFLATE 1032u             /* deflate cannot expand further (zlib technical notes) */
#define MAX_CHUNK_BYTES (16u << 20)   /* a colour profile, decompressed */
#define BAND_BYTES (4u << 20)         /* raw rows decoded before they are converted together */

typedef struct reader {
    const uint8_t *bytes;
    size_t n, at;
    png_structp png;
    png_infop info;
    bool is_out_of_memory, is_cut_short;
    char why[80];
    sw_raw_form form;
    sw_raw_space space;
    size_t width_px, height_px, row_bytes;
    int n_interlace_passes;
    int orientation;
    double x_px_per_mm, y_px_per_mm;
    uint8_t *rows; /* a band, or the whole raster when interlaced */
} reader;

/* ---- libpng's callbacks --------------------------------------------------------------------------- */

static void on_error(png_structp png, png_const_charp why)
{
    reader *const r = png_get_error_ptr(png);
    strncpy(r->why, why, sizeof r->why - 1);
    png_longjmp(png, 1);
}

static void on_warning(png_structp png, png_const_charp why)
{
    (void)png;
    (void)why;
}

static void on_read(png_structp png, png_bytep data, size_t n)
{
    reader *const r = png_get_io_ptr(png);
    if (n > r->n - r->at) {
        r->is_cut_short = true;
        png_error(png, "cut short");
    }
    memcpy(data, r->bytes + r->at, n);
    r->at += n;
}

/* libpng goes on without some blocks, a colour profile's for one; so the flag is looked at after successes too. */
static png_voidp on_alloc(png_structp png, png_alloc_size_t n)
{
    reader *const r = png_get_mem_ptr(png);
    void *const data = sw_alloc_raw(n, 1);
    if (data == NULL) r->is_out_of_memory = true;
    return data;
}

static void on_free(png_structp png, png_voidp data)
{
    (void)png;
    sw_free(data);
}

/* ---- header --------------------------------------------------------------------------------------- */

static uint32_t big_endian(const uint8_t *p)
{
    return (uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | p[3];
}

/* IHDR is the first chunk or the file is no PNG; its bytes are looked at before libpng allocates by them. */
static sw_status check_header(const uint8_t *bytes, size_t n, const char *name, const sw_picture_limits *limits,
                              sw_note *note)
{
    static const uint8_t n_samples[7] = { 1, 0, 3, 1, 2, 0, 4 }; /* a pixel, by colour type */
    if (n < 33) return sw_picture_cut_short(name, note);
    if (memcmp(bytes + 8, "\0\0\0\x0dIHDR", 8) != 0 || bytes[25] > 6 || n_samples[bytes[25]] == 0)
        return sw_fail(note, SW_BAD_FILE, "'%s' is a damaged PNG (its header makes no sense); export it again", name);
    const size_t width = big_endian(bytes + 16), height = big_endian(bytes + 20);
    SW_TRY(sw_picture_check_size(name, width, height, limits, note));
    /* both sides are at most max_side_px now: 64 bits hold the product */
    const uint64_t n_bits = (uint64_t)width * height * n_samples[bytes[25]] * bytes[24];
    if (n_bits / 8 / MAX_INFLATE > n)
        return sw_picture_too_short(name, width, height, note);
    return SW_OK;
}

static void skip_what_carries_no_colour(png_structp png)
{
    static const png_byte names[] = "tEXt\0zTXt\0iTXt\0sPLT\0hIST\0sCAL\0pCAL\0tIME\0oFFs\0sBIT\0bKGD";
    png_set_keep_unknown_chunks(png, PNG_HANDLE_CHUNK_NEVER, names, (int)(sizeof names / 5));
}

static void read_space(reader *r)
{
    char *profile_name = NULL;
    int compression = 0, intent = 0;
    png_bytep icc = NULL;
    png_uint_32 n_icc = 0;
    double gamma = 0.0;
    if (png_get_iCCP(r->png, r->info, &profile_name, &compression, &icc, &n_icc) != 0) {
        r->space.icc = icc;
        r->space.n_icc = n_icc;
        return;
    }
    if (png_get_sRGB(r->png, r->info, &intent) != 0) return;
    if (png_get_gAMA(r->png, r->info, &gamma) == 0 || !(gamma > 0.01 && gamma < 100.0)) return;
    static const double srgb[8] = { 0.3127, 0.3290, 0.64, 0.33, 0.30, 0.60, 0.15, 0.06 };
    double xy[8];
    if (png_get_cHRM(r->png, r->info, &xy[0], &xy[1], &xy[2], &xy[3], &xy[4], &xy[5], &xy[6], &xy[7]) == 0)
        memcpy(xy, srgb, sizeof xy);
    bool is_srgb = fabs(gamma - 1.0 / 2.2) < 0.005;
    for (int i = 0; i < 8; i++) is_srgb = is_srgb && fabs(xy[i] - srgb[i]) < 0.002;
    if (is_srgb) return;
    r->space.has_gamma = true;
    r->space.gamma = 1.0 / gamma;
    memcpy(r->space.white_xy, xy, 2 * sizeof *xy);
    memcpy(r->space.red_xy, xy + 2, 2 * sizeof *xy);
    memcpy(r->space.green_xy, xy + 4, 2 * sizeof *xy);
    memcpy(r->space.blue_xy, xy + 6, 2 * sizeof *xy);
}

/* Orientation and density. eXIf is looked for before the picture data only, where the writers put it. */
static void read_place(reader *r)
{
    png_bytep tiff = NULL;
    png_uint_32 n_tiff = 0, x = 0, y = 0;
    int unit = 0;
    r->orientation = 1;
    if (png_get_eXIf_1(r->png, r->info, &n_tiff, &tiff) != 0 && tiff != NULL) {
        const sw_exif exif = sw_exif_parse(tiff, n_tiff);
        r->orientation = exif.orientation;
        r->x_px_per_mm = exif.x_px_per_mm;
        r->y_px_per_mm = exif.y_px_per_mm;
    }
    if (png_get_pHYs(r->png, r->info, &x, &y, &unit) != 0 && unit == PNG_RESOLUTION_METER)
        sw_density_take(x / 1000.0, y / 1000.0, &r->x_px_per_mm, &r->y_px_per_mm);
}

/* After this every row is grey or RGB, with or without alpha, 8 or 16 bits in the machine's order. */
static void set_row_form(reader *r)
{
    const int colour_type = png_get_color_type(r->png, r->info);
    const bool has_key = png_get_valid(r->png, r->info, PNG_INFO_tRNS) != 0;
    const bool is_plain = r->space.icc == NULL && !r->space.has_gamma;
    r->form.kind = (colour_type & PNG_COLOR_MASK_COLOR) != 0 ? SW_RAW_RGB : SW_RAW_GREY;
    r->form.has_alpha = (colour_type & PNG_COLOR_MASK_ALPHA) != 0 || has_key;
    r->form.is_16 = png_get_bit_depth(r->png, r->info) == 16 && !is_plain;
    if (colour_type == PNG_COLOR_TYPE_PALETTE) png_set_palette_to_rgb(r->png);
    if (colour_type == PNG_COLOR_TYPE_GRAY) png_set_expand_gray_1_2_4_to_8(r->png);
    if (has_key) png_set_tRNS_to_alpha(r->png);
    if (is_plain) png_set_scale_16(r->png);
    else if (*(const uint8_t *)&(const uint16_t){ 1 } == 1) png_set_swap(r->png); /* file order is big-endian */
    r->n_interlace_passes = png_set_interlace_handling(r->png);
    png_read_update_info(r->png, r->info);
    r->row_bytes = png_get_rowbytes(r->png, r->info);
}

static bool read_info(reader *r)
{
    if (setjmp(png_jmpbuf(r->png)) != 0) return false;
    png_set_read_fn(r->png, r, on_read);
    png_set_user_limits(r->png, 0x7fffffff, 0x7fffffff); /* check_header was stricter */
    png_set_chunk_malloc_max(r->png, MAX_CHUNK_BYTES);
    skip_what_carries_no_colour(r->png);
    png_read_info(r->png, r->info);
    r->width_px = png_get_image_width(r->png, r->info);
    r->height_px = png_get_image_height(r->png, r->info);
    read_space(r);
    read_place(r);
    set_row_form(r);
    return true;
}

static sw_status failure(const reader *r, const char *name, sw_note *note)
{
    if (r->is_out_of_memory) return sw_fail_memory(note, name);
    if (r->is_cut_short) return sw_picture_cut_short(name, note);
    return sw_fail(note, SW_BAD_FILE, "'%s' is a damaged PNG (%s); copy or export it again", name, r->why);
}

static sw_status open_reader(reader *r, const uint8_t *bytes, size_t n, const char *name,
                             const sw_picture_limits *limits, sw_note *note)
{
    *r = (reader){ .bytes = bytes, .n = n };
    SW_TRY(check_header(bytes, n, name, limits, note));
    r->png = png_create_read_struct_2(PNG_LIBPNG_VER_STRING, r, on_error, on_warning, r, on_alloc, on_free);
    if (r->png != NULL) r->info = png_create_info_struct(r->png);
    if (r->info == NULL) return sw_fail_memory(note, name);
    if (!read_info(r) || r->is_out_of_memory) return failure(r, name, note);
    return SW_OK;
}

static void close_reader(reader *r)
{
    if (r->png != NULL) png_destroy_read_struct(&r->png, &r->info, NULL);
    sw_free(r->rows);
    r->rows = NULL;
}

/* ---- rows ----------------------------------------------------------------------------------------- */

/* The next n_rows rows; interlaced: all rows, n_interlace_passes times. */
static bool read_rows(reader *r, uint8_t *rows, size_t n_rows)
{
    if (setjmp(png_jmpbuf(r->png)) != 0) return false;
    for (int pass = 0; pass < r->n_interlace_passes; pass++) {
        for (size_t y = 0; y < n_rows; y++) png_read_row(r->png, rows + y * r->row_bytes, NULL);
    }
    return true;
}

static bool read_end(reader *r)
{
    if (setjmp(png_jmpbuf(r->png)) != 0) return false;
    png_read_end(r->png, NULL);
    return true;
}

static sw_status read_raster(reader *r, const char *name, sw_convert *convert, sw_picture *out, sw_note *note)
{
    const size_t band = r->n_interlace_passes > 1 ? r->height_px
                                                  : sw_min_size(r->height_px, BAND_BYTES / r->row_bytes + 1);
    if (r->row_bytes != r->width_px * sw_raw_bytes(&r->form)) /* libpng and we must agree, or rows would overrun */
        return sw_fail(note, SW_BAD_FILE, "'%s' has rows of an unknown form; export it again", name);
    const bool is_copy = sw_convert_is_copy(convert);
    if (!is_copy) r->rows = sw_alloc_raw(band, r->row_bytes);
    if (!is_copy && r->rows == NULL) return sw_fail_memory(note, name);
    for (size_t y = 0; y < r->height_px; y += band) {
        const size_t n_rows = sw_min_size(band, r->height_px - y);
        if (sw_is_interrupted()) return sw_fail(note, SW_INTERRUPTED, "interrupted");
        sw_rgb8 *const to = out->at + y * r->width_px;
        if (!read_rows(r, is_copy ? (uint8_t *)to : r->rows, n_rows)) return failure(r, name, note);
        if (!is_copy) sw_convert_rows(convert, r->rows, r->row_bytes, r->width_px, n_rows, to);
    }
    if (!read_end(r) || r->is_out_of_memory) return failure(r, name, note);
    return SW_OK;
}

sw_status sw_png_read(const uint8_t *bytes, size_t n, const char *name, const sw_picture_opts *opts,
                      const sw_picture_limits *limits, sw_picture *out, sw_note *note)
{
    reader r;
    sw_profile *profile = NULL;
    sw_picture made = { 0 };
    sw_convert convert = { .ground = opts->ground };
    sw_status st = open_reader(&r, bytes, n, name, limits, note);
    if (st != SW_OK) goto cleanup;
    st = sw_profile_make(&r.form, &r.space, &profile, note);
    if (st != SW_OK) goto cleanup;
    convert.form = r.form;
    convert.profile = profile;
    st = sw_picture_alloc(r.width_px, r.height_px, &made, note);
    if (st != SW_OK) goto cleanup;
    st = read_raster(&r, name, &convert, &made, note);
    if (st != SW_OK) goto cleanup;
    made.x_px_per_mm = r.x_px_per_mm;
    made.y_px_per_mm = r.y_px_per_mm;
    made.has_alpha = convert.is_any_clear;
    made.is_all_clear = r.form.has_alpha && !convert.is_any_visible;
    st = sw_picture_turn(&made, r.orientation, note);
    if (st != SW_OK) goto cleanup;
    *out = made;
    made = (sw_picture){ 0 };
cleanup:
    sw_picture_free(&made);
    sw_profile_free(profile);
    close_reader(&r);
    return st;
}

sw_status sw_png_probe(const uint8_t *bytes, size_t n, const char *name, const sw_picture_limits *limits,
                       sw_picture_info *out, sw_note *note)
{
    reader r;
    const sw_status st = open_reader(&r, bytes, n, name, limits, note);
    if (st == SW_OK)
        *out = sw_picture_info_upright((sw_picture_info){ r.width_px, r.height_px, r.x_px_per_mm, r.y_px_per_mm }, r.orientation);
    close_reader(&r);
    return st;
}
