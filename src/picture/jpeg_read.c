/* JPEG in, through libjpeg (libjpeg-turbo): grey, YCbCr, RGB, CMYK and YCCK. The only file that touches it.
 *
 * A file far larger than needed is decoded at 1/2, 1/4 or 1/8 by the codec, which is faster than decoding in full and
 * averaging; each reduced pixel is then a mean of encoded values rather than of light. That shows only in texture as
 * fine as the pixels, and what is left to average is averaged in linear light. A side that is no multiple of the
 * reduction ends in a pixel that reaches past the picture's edge: the picture is stretched by less than that one pixel
 * over its whole width, and is left so.
 *
 * The source runs dry with an error instead of the codec's invented end marker: no grey half pictures. libjpeg reports
 * errors by a jump: each function with a setjmp owns nothing, all that is made lives in the reader, which the callers
 * of those functions own and free. */
#include "picture/raster.h"

#include <setjmp.h>
#include <stdio.h>
#include <string.h>

#include <jpeglib.h>
#include <jerror.h>

#define BAND_BYTES (1u << 20)
#define MAX_SCANS 500 /* a progressive file has about ten; each costs a pass over the whole picture */
#define MAX_PX_PER_BYTE 2048u /* a bit a block of 8 x 8, of a component sampled at a quarter; real files: under 300 */

typedef struct reader {
    struct jpeg_decompress_struct codec;
    struct jpeg_error_mgr errors;
    struct jpeg_source_mgr source;
    struct jpeg_progress_mgr progress;
    jmp_buf jump;
    bool is_made, is_cut_short, is_out_of_memory;
    char why[JMSG_LENGTH_MAX];
    sw_raw_form form;
    sw_exif exif;
    double x_px_per_mm, y_px_per_mm;
    uint8_t *icc, *rows;
    size_t n_icc, row_bytes;
} reader;

/* ---- libjpeg's callbacks -------------------------------------------------------------------------- */

static void on_error(j_common_ptr codec)
{
    reader *const r = codec->client_data;
    r->is_out_of_memory = codec->err->msg_code == JERR_OUT_OF_MEMORY;
    codec->err->format_message(codec, r->why);
    longjmp(r->jump, 1);
}

/* Warnings that mean lost pixels are errors here; the rest are quirks of writers. */
static void on_message(j_common_ptr codec, int level)
{
    if (level >= 0) return;
    switch (codec->err->msg_code) {
    case JWRN_HIT_MARKER:
    case JWRN_HUFF_BAD_CODE:
    case JWRN_JPEG_EOF:
    case JWRN_MUST_RESYNC:
    case JWRN_ARITH_BAD_CODE: on_error(codec); break;
    default: break;
    }
}

static void on_print(j_common_ptr codec) { (void)codec; }

static void on_start(j_decompress_ptr codec) { (void)codec; }

static boolean on_empty(j_decompress_ptr codec)
{
    reader *const r = codec->client_data;
    r->is_cut_short = true;
    longjmp(r->jump, 1);
}

static void on_skip(j_decompress_ptr codec, long n)
{
    if (n <= 0) return;
    if ((size_t)n > codec->src->bytes_in_buffer) (void)on_empty(codec);
    codec->src->next_input_byte += n;
    codec->src->bytes_in_buffer -= (size_t)n;
}

static void on_progress(j_common_ptr codec)
{
    reader *const r = codec->client_data;
    if (r->codec.input_scan_number <= MAX_SCANS) return;
    strcpy(r->why, "more scans than any picture needs");
    longjmp(r->jump, 1);
}

/* ---- markers -------------------------------------------------------------------------------------- */

static bool is_marker(jpeg_saved_marker_ptr marker, int code, const char *head, size_t n_head)
{
    return marker->marker == code && marker->data_length >= n_head && memcmp(marker->data, head, n_head) == 0;
}

static void read_exif(reader *r)
{
    for (jpeg_saved_marker_ptr m = r->codec.marker_list; m != NULL; m = m->next) {
        if (!is_marker(m, JPEG_APP0 + 1, "Exif\0\0", 6)) continue;
        r->exif = sw_exif_parse(m->data + 6, m->data_length - 6);
        return;
    }
}

#define ICC_HEAD "ICC_PROFILE" /* with its 0 byte; then number of this part, number of parts (ICC.1 annex B.4) */
#define ICC_HEAD_BYTES 14u

/* Join the parts of the profile in their own order. A part missing or twice: no profile, as for any broken one. */
static bool join_icc(reader *r)
{
    jpeg_saved_marker_ptr part[256] = { NULL };
    size_t n_parts = 0, n = 0;
    for (jpeg_saved_marker_ptr m = r->codec.marker_list; m != NULL; m = m->next) {
        if (!is_marker(m, JPEG_APP0 + 2, ICC_HEAD, sizeof ICC_HEAD) || m->data_length < ICC_HEAD_BYTES) continue;
        const size_t number = m->data[12];
        if (n_parts == 0) n_parts = m->data[13];
        if (number == 0 || number > n_parts || m->data[13] != n_parts || part[number] != NULL) return true;
        part[number] = m;
        n += m->data_length - ICC_HEAD_BYTES;
    }
    for (size_t i = 1; i <= n_parts; i++) {
        if (part[i] == NULL) return true;
    }
    if (n == 0) return true;
    r->icc = sw_alloc_raw(n, 1);
    if (r->icc == NULL) return false;
    for (size_t i = 1; i <= n_parts; i++) {
        const size_t n_part = part[i]->data_length - ICC_HEAD_BYTES;
        memcpy(r->icc + r->n_icc, part[i]->data + ICC_HEAD_BYTES, n_part);
        r->n_icc += n_part;
    }
    return true;
}

static void read_density(reader *r)
{
    const struct jpeg_decompress_struct *const c = &r->codec;
    r->x_px_per_mm = r->exif.x_px_per_mm;
    r->y_px_per_mm = r->exif.y_px_per_mm;
    if (!c->saw_JFIF_marker || (c->density_unit != 1 && c->density_unit != 2)) return;
    const double unit_mm = c->density_unit == 1 ? 25.4 : 10.0;
    sw_density_take(c->X_density / unit_mm, c->Y_density / unit_mm, &r->x_px_per_mm, &r->y_px_per_mm);
}

/* ---- header --------------------------------------------------------------------------------------- */

static bool read_header(reader *r)
{
    if (setjmp(r->jump) != 0) return false;
    jpeg_create_decompress(&r->codec);
    r->is_made = true;
    r->codec.client_data = r;
    r->codec.src = &r->source;
    r->codec.progress = &r->progress;
    jpeg_save_markers(&r->codec, JPEG_APP0 + 1, 0xffff);
    jpeg_save_markers(&r->codec, JPEG_APP0 + 2, 0xffff);
    jpeg_read_header(&r->codec, TRUE);
    return true;
}

static sw_status failure(const reader *r, const char *name, sw_note *note)
{
    if (r->is_out_of_memory) return sw_fail_memory(note, name);
    if (r->is_cut_short) return sw_picture_cut_short(name, note);
    return sw_fail(note, SW_BAD_FILE, "'%s' is damaged or a rare kind of JPEG (%s); export it again", name, r->why);
}

static sw_status open_reader(reader *r, const uint8_t *bytes, size_t n, const char *name,
                             const sw_picture_limits *limits, sw_note *note)
{
    *r = (reader){ .exif = { .orientation = 1 } };
    r->codec.err = jpeg_std_error(&r->errors);
    r->codec.client_data = r;
    r->errors.error_exit = on_error;
    r->errors.emit_message = on_message;
    r->errors.output_message = on_print;
    r->progress.progress_monitor = on_progress;
    r->source = (struct jpeg_source_mgr){ .next_input_byte = bytes,
                                          .bytes_in_buffer = n,
                                          .init_source = on_start,
                                          .fill_input_buffer = on_empty,
                                          .skip_input_data = on_skip,
                                          .resync_to_restart = jpeg_resync_to_restart,
                                          .term_source = on_start };
    if (!read_header(r)) return failure(r, name, note);
    const size_t width = r->codec.image_width, height = r->codec.image_height;
    SW_TRY(sw_picture_check_size(name, width, height, limits, note));
    if (!r->codec.arith_code && (uint64_t)width * height / MAX_PX_PER_BYTE > n)
        return sw_picture_too_short(name, width, height, note);
    read_exif(r);
    read_density(r);
    return SW_OK;
}

static void close_reader(reader *r)
{
    if (r->is_made) jpeg_destroy_decompress(&r->codec);
    sw_free(r->icc);
    sw_free(r->rows);
    r->icc = NULL;
    r->rows = NULL;
}

/* ---- pixels --------------------------------------------------------------------------------------- */

/* Largest of 1, 2, 4, 8 that leaves both upright sides with what the caller needs. */
static unsigned reduction(const reader *r, const sw_picture_opts *opts)
{
    const bool is_swapped = sw_orientation_swaps(r->exif.orientation);
    const size_t enough_x = is_swapped ? opts->enough_height_px : opts->enough_width_px;
    const size_t enough_y = is_swapped ? opts->enough_width_px : opts->enough_height_px;
    if (enough_x == 0 || enough_y == 0) return 1;
    unsigned by = 8;
    while (by > 1 && (r->codec.image_width / by < enough_x || r->codec.image_height / by < enough_y)) by /= 2;
    return by;
}

static bool start(reader *r, unsigned reduced_by)
{
    if (setjmp(r->jump) != 0) return false;
    struct jpeg_decompress_struct *const c = &r->codec;
    c->scale_num = 1;
    c->scale_denom = reduced_by;
    switch (c->jpeg_color_space) {
    case JCS_GRAYSCALE: r->form.kind = SW_RAW_GREY; c->out_color_space = JCS_GRAYSCALE; break;
    case JCS_CMYK:
    case JCS_YCCK:
        r->form.kind = SW_RAW_CMYK;
        r->form.is_inverted = c->saw_Adobe_marker != 0; /* Adobe writes ink as 255 - ink, and says so by its marker */
        c->out_color_space = JCS_CMYK;
        break;
    default: r->form.kind = SW_RAW_RGB; c->out_color_space = JCS_RGB; break;
    }
    jpeg_start_decompress(c);
    r->row_bytes = c->output_width * sw_raw_bytes(&r->form);
    strcpy(r->why, "unknown colour form"); /* only told if this is false */
    return (size_t)c->output_components == sw_raw_bytes(&r->form);
}

static bool read_rows(reader *r, uint8_t *rows, size_t n_rows)
{
    if (setjmp(r->jump) != 0) return false;
    for (size_t y = 0; y < n_rows;) {
        JSAMPROW row = rows + y * r->row_bytes;
        y += jpeg_read_scanlines(&r->codec, &row, 1);
    }
    return true;
}

static bool finish(reader *r)
{
    if (setjmp(r->jump) != 0) return false;
    jpeg_finish_decompress(&r->codec);
    return true;
}

static sw_status read_raster(reader *r, const char *name, sw_convert *convert, sw_picture *out, sw_note *note)
{
    const size_t height = r->codec.output_height;
    const size_t band = sw_min_size(height, BAND_BYTES / r->row_bytes + 1);
    const bool is_copy = sw_convert_is_copy(convert);
    if (!is_copy) r->rows = sw_alloc_raw(band, r->row_bytes);
    if (!is_copy && r->rows == NULL) return sw_fail_memory(note, name);
    for (size_t y = 0; y < height; y += band) {
        const size_t n_rows = sw_min_size(band, height - y);
        if (sw_is_interrupted()) return sw_fail(note, SW_INTERRUPTED, "interrupted");
        sw_rgb8 *const to = out->at + y * out->width_px;
        if (!read_rows(r, is_copy ? (uint8_t *)to : r->rows, n_rows)) return failure(r, name, note);
        if (!is_copy) sw_convert_rows(convert, r->rows, r->row_bytes, out->width_px, n_rows, to);
    }
    if (!finish(r)) return failure(r, name, note);
    return SW_OK;
}

sw_status sw_jpeg_read(const uint8_t *bytes, size_t n, const char *name, const sw_picture_opts *opts,
                       const sw_picture_limits *limits, sw_picture *out, sw_note *note)
{
    reader r;
    sw_profile *profile = NULL;
    sw_picture made = { 0 };
    sw_convert convert = { .ground = opts->ground };
    sw_status st = open_reader(&r, bytes, n, name, limits, note);
    if (st != SW_OK) goto cleanup;
    st = start(&r, reduction(&r, opts)) ? SW_OK : failure(&r, name, note);
    if (st != SW_OK) goto cleanup;
    st = join_icc(&r) ? sw_profile_make(&r.form, &(sw_raw_space){ .icc = r.icc, .n_icc = r.n_icc }, &profile, note)
                      : sw_fail_memory(note, name);
    if (st != SW_OK) goto cleanup;
    convert.form = r.form;
    convert.profile = profile;
    st = sw_picture_alloc(r.codec.output_width, r.codec.output_height, &made, note);
    if (st != SW_OK) goto cleanup;
    st = read_raster(&r, name, &convert, &made, note);
    if (st != SW_OK) goto cleanup;
    made.source_width_px = r.codec.image_width;
    made.source_height_px = r.codec.image_height;
    made.x_px_per_mm = r.x_px_per_mm;
    made.y_px_per_mm = r.y_px_per_mm;
    st = sw_picture_turn(&made, r.exif.orientation, note);
    if (st != SW_OK) goto cleanup;
    *out = made;
    made = (sw_picture){ 0 };
cleanup:
    sw_picture_free(&made);
    sw_profile_free(profile);
    close_reader(&r);
    return st;
}

sw_status sw_jpeg_probe(const uint8_t *bytes, size_t n, const char *name, const sw_picture_limits *limits,
                        sw_picture_info *out, sw_note *note)
{
    reader r;
    const sw_status st = open_reader(&r, bytes, n, name, limits, note);
    if (st == SW_OK)
        *out = sw_picture_info_upright(
            (sw_picture_info){ r.codec.image_width, r.codec.image_height, r.x_px_per_mm, r.y_px_per_mm }, r.exif.orientation);
    close_reader(&r);
    return st;
}
