/* Pictures: making, freeing, recognising the format, limits, and the calls that read from files and memory. */
#include "picture/raster.h"

#include <string.h>

#define MAX_FILE_BYTES 4000000000u /* a 16-bit RGBA PNG of SW_MAX_PX that does not compress at all */
#define MIN_PX_PER_MM 0.05         /* below: some writers put "1 dot an inch" when they mean that they do not know */
#define MAX_PX_PER_MM 1000.0       /* above: a micron a pixel, no scanner does that */

double sw_density_ok(double px_per_mm)
{
    return px_per_mm >= MIN_PX_PER_MM && px_per_mm <= MAX_PX_PER_MM ? px_per_mm : 0.0;
}

void sw_density_take(double x_px_per_mm, double y_px_per_mm, double *x_out, double *y_out)
{
    if (!(sw_density_ok(x_px_per_mm) > 0.0 && sw_density_ok(y_px_per_mm) > 0.0)) return;
    *x_out = x_px_per_mm;
    *y_out = y_px_per_mm;
}

sw_picture_info sw_picture_info_upright(sw_picture_info stored, int orientation)
{
    if (!sw_orientation_swaps(orientation)) return stored;
    return (sw_picture_info){ .width_px = stored.height_px,
                              .height_px = stored.width_px,
                              .x_px_per_mm = stored.y_px_per_mm,
                              .y_px_per_mm = stored.x_px_per_mm };
}

sw_status sw_picture_too_short(const char *name, size_t width_px, size_t height_px, sw_note *note)
{
    return sw_fail(note, SW_BAD_FILE,
                   "'%s' says it is %zu x %zu pixels but is far too short for that; copy or export it again", name,
                   width_px, height_px);
}

sw_status sw_picture_cut_short(const char *name, sw_note *note)
{
    return sw_fail(note, SW_BAD_FILE,
                   "'%s' is cut short; copy or download it again, or save it anew from a program that still opens it",
                   name);
}

sw_status sw_picture_check_size(const char *name, size_t width_px, size_t height_px, const sw_picture_limits *limits,
                                sw_note *note)
{
    if (width_px == 0 || height_px == 0)
        return sw_fail(note, SW_BAD_FILE, "'%s' says it is %zu x %zu pixels; export it again", name, width_px,
                       height_px);
    if (width_px > limits->max_side_px || height_px > limits->max_side_px || width_px > limits->max_px / height_px)
        return sw_fail(note, SW_TOO_LARGE,
                       "'%s' says it is %zu x %zu pixels; at most %zu a side and %zu million in all can be read, "
                       "export it smaller",
                       name, width_px, height_px, limits->max_side_px, limits->max_px / 1000000u);
    return SW_OK;
}

sw_status sw_picture_alloc(size_t width_px, size_t height_px, sw_picture *out, sw_note *note)
{
    size_t n_px = 0;
    if (width_px == 0 || height_px == 0)
        return sw_fail(note, SW_BAD_LENGTH, "a picture of %zu x %zu pixels cannot be made", width_px, height_px);
    sw_rgb8 *const at = sw_mul_size(width_px, height_px, &n_px) ? sw_alloc_raw(n_px, sizeof *at) : NULL;
    if (at == NULL) return sw_fail_memory(note, "the picture");
    *out = (sw_picture){ .width_px = width_px,
                         .height_px = height_px,
                         .at = at,
                         .source_width_px = width_px,
                         .source_height_px = height_px };
    return SW_OK;
}

sw_status sw_picture_make(size_t width_px, size_t height_px, sw_rgb8 colour, sw_picture *out, sw_note *note)
{
    sw_picture made = { 0 };
    SW_TRY(sw_picture_alloc(width_px, height_px, &made, note));
    for (sw_rgb8 *at = made.at, *end = at + width_px * height_px; at != end; at++) *at = colour;
    *out = made;
    return SW_OK;
}

void sw_picture_free(sw_picture *picture)
{
    if (picture == NULL) return;
    sw_free(picture->at);
    *picture = (sw_picture){ 0 };
}

/* ---- what kind of file it is ---------------------------------------------------------------------- */

typedef enum file_kind { FILE_PNG, FILE_JPEG, FILE_OTHER } file_kind;

static bool begins(const uint8_t *bytes, size_t n, size_t at, const char *magic, size_t n_magic)
{
    return n >= at + n_magic && memcmp(bytes + at, magic, n_magic) == 0;
}

/* Name of a common format that is not read, or NULL; so that the message can say what to do. */
static const char *foreign_format(const uint8_t *bytes, size_t n)
{
    static const struct {
        size_t at;
        const char *magic;
        const char *name;
    } known[] = { { 0, "GIF8", "a GIF" },  { 8, "WEBP", "a WebP" },    { 0, "II*", "a TIFF" },  { 0, "MM", "a TIFF" },
                  { 0, "BM", "a BMP" },    { 4, "ftyp", "a HEIF" },    { 0, "%PDF", "a PDF" },  { 0, "<svg", "an SVG" },
                  { 0, "<?xml", "an XML" }, { 0, "8BPS", "a layered" } };
    for (size_t i = 0; i < SW_ARRAY_LEN(known); i++) {
        if (begins(bytes, n, known[i].at, known[i].magic, strlen(known[i].magic))) return known[i].name;
    }
    return NULL;
}

static sw_status recognise(const uint8_t *bytes, size_t n, const char *name, file_kind *out, sw_note *note)
{
    if (n == 0) return sw_fail(note, SW_BAD_FILE, "'%s' is empty; give a PNG or JPEG picture", name);
    if (begins(bytes, n, 0, "\x89PNG\r\n\x1a\n", 8)) {
        *out = FILE_PNG;
        return SW_OK;
    }
    if (begins(bytes, n, 0, "\xff\xd8\xff", 3)) {
        *out = FILE_JPEG;
        return SW_OK;
    }
    const char *const foreign = foreign_format(bytes, n);
    if (foreign != NULL)
        return sw_fail(note, SW_BAD_FILE, "'%s' is %s file; save it as PNG or JPEG", name, foreign);
    if (begins(bytes, n, 1, "PNG", 3) || begins(bytes, n, 0, "\xff\xd8", 2))
        return sw_fail(note, SW_BAD_FILE, "'%s' is damaged at its very beginning; copy it again from its source", name);
    return sw_fail(note, SW_BAD_FILE, "'%s' is not a PNG or JPEG picture; save it as PNG or JPEG", name);
}

static sw_picture_limits limits_of(const sw_picture_opts *opts)
{
    sw_picture_limits limits = { SW_MAX_SIDE_PX, SW_MAX_PX };
    if (opts != NULL && opts->max_side_px != 0) limits.max_side_px = opts->max_side_px;
    if (opts != NULL && opts->max_px != 0) limits.max_px = opts->max_px;
    return limits;
}

/* ---- public --------------------------------------------------------------------------------------- */

sw_status sw_picture_read_memory(const uint8_t *bytes, size_t n, const char *name, const sw_picture_opts *opts,
                                 sw_picture *out, sw_note *note)
{
    static const sw_picture_opts none = { .ground = { 255, 255, 255 } };
    const sw_picture_limits limits = limits_of(opts);
    file_kind kind = FILE_OTHER;
    SW_TRY(recognise(bytes, n, name, &kind, note));
    if (opts == NULL) opts = &none;
    return kind == FILE_PNG ? sw_png_read(bytes, n, name, opts, &limits, out, note)
                            : sw_jpeg_read(bytes, n, name, opts, &limits, out, note);
}

sw_status sw_picture_probe_memory(const uint8_t *bytes, size_t n, const char *name, const sw_picture_opts *opts,
                                  sw_picture_info *out, sw_note *note)
{
    const sw_picture_limits limits = limits_of(opts);
    file_kind kind = FILE_OTHER;
    SW_TRY(recognise(bytes, n, name, &kind, note));
    return kind == FILE_PNG ? sw_png_probe(bytes, n, name, &limits, out, note)
                            : sw_jpeg_probe(bytes, n, name, &limits, out, note);
}

sw_status sw_picture_read(const char *path, const sw_picture_opts *opts, sw_picture *out, sw_note *note)
{
    uint8_t *bytes = NULL;
    size_t n = 0;
    sw_status st = sw_file_read(path, MAX_FILE_BYTES, &bytes, &n, note);
    if (st == SW_OK) st = sw_picture_read_memory(bytes, n, sw_path_shown(path), opts, out, note);
    sw_free(bytes);
    return st;
}

sw_status sw_picture_probe(const char *path, const sw_picture_opts *opts, sw_picture_info *out, sw_note *note)
{
    uint8_t *bytes = NULL;
    size_t n = 0;
    sw_status st = sw_file_read(path, MAX_FILE_BYTES, &bytes, &n, note);
    if (st == SW_OK) st = sw_picture_probe_memory(bytes, n, sw_path_shown(path), opts, out, note);
    sw_free(bytes);
    return st;
}
