/* What a job will need, told before the first large allocation.
 *
 * Measured as peak resident memory of whole jobs (regatta, heron and harbour samples, 12 to 48 million grid pixels, 1 to
 * 8 passes, detail 50 and 100): 14.0 to 14.4 bytes a grid pixel with one pass, 17.0 to 17.6 with three, 22.6 to 23.2
 * with eight. Reading a picture is over before that begins, so the larger of the two counts. A picture of marks is read
 * beside the artwork and leaves a byte a grid pixel for the whole job (measured 1.17); one of zones stays, as decoded,
 * while the zones are separated one by one (measured 14.5 bytes a grid pixel besides). A panel has marks, labels, and
 * its lines in the records: 55 to 59 thousand bytes each (8 m in 827, 2147 and 4878 panels against the same sheet whole);
 * those on which nothing is painted are not made, but that shows only later. */
#include "job/job.h"

#include <math.h>
#include <string.h>

#define BASE_BYTES 24e6          /* program, libraries, tables, what the allocator keeps */
#define GRID_BYTES_PX 14.5
#define PASS_BYTES_PX 1.25       /* more for each pass */
#define ART_BYTES_PX 3.0         /* the picture on the grid, made while the decoded one is still there */
#define READ_BYTES_PX 6.0        /* of the picture while it is turned upright */
#define INTERLACED_BYTES_PX 8.0  /* all rows of an interlaced PNG */
#define PROGRESSIVE_BYTES_PX 6.0 /* all coefficients of a progressive JPEG */

#define MARKS_BYTES_PX 1.25      /* marks on the grid */
#define PICTURE_BYTES_PX 3.0     /* of a decoded picture */
#define PANEL_BYTES 60e3
#define MOST_PANELS 10000u       /* of a job: taste. 20 m x 13 m in three passes on a bed of 600 x 450 mm are 4000 */
#define MAX_FILE_BYTES 2000000000u

/* One moment of the job: what does not depend on the grid, and bytes a grid pixel. The largest moment counts. */
typedef struct moment {
    double fixed, grid_px;
    const char *name; /* of the picture that decides */
} moment;

/* FF C2 begins a progressive frame; in picture data FF is followed by 00 or D0..D7. */
static bool is_progressive(const uint8_t *bytes, size_t n)
{
    for (size_t i = 0; i + 1 < n; i++) {
        if (bytes[i] == 0xff && bytes[i + 1] == 0xc2) return true;
    }
    return false;
}

/* The file and the picture as decoded. A JPEG is decoded as small as the grid allows; grid NULL: as it is. */
static double reading_bytes(const uint8_t *bytes, size_t n, const sw_picture_info *info, const sw_grid *grid)
{
    const double source_px = (double)info->width_px * (double)info->height_px;
    const bool is_png = n > 28 && bytes[0] == 0x89;
    if (is_png) return (double)n + source_px * (READ_BYTES_PX + (bytes[28] != 0 ? INTERLACED_BYTES_PX : 0.0));
    size_t reduced_by = 1;
    while (grid != NULL && reduced_by < 8 && info->width_px / (2 * reduced_by) >= grid->width_px &&
           info->height_px / (2 * reduced_by) >= grid->height_px)
        reduced_by *= 2;
    return (double)n + source_px * READ_BYTES_PX / (double)(reduced_by * reduced_by) +
           (is_progressive(bytes, n) ? source_px * PROGRESSIVE_BYTES_PX : 0.0);
}

/* A second picture of the job: what reading it takes, and its pixels. Nothing if there is none. */
static sw_status measure_other(const char *path, double *reading, double *n_px, sw_note *note)
{
    uint8_t *bytes = NULL;
    size_t n = 0;
    sw_picture_info info = { 0 };
    const sw_picture_opts opts = { .ground = { 255, 255, 255 } };
    *reading = *n_px = 0.0;
    if (path == NULL || strcmp(path, "-") == 0) return SW_OK; /* a pipe can be read but once */
    SW_TRY(sw_file_read(path, MAX_FILE_BYTES, &bytes, &n, note));
    const sw_status st = sw_picture_probe_memory(bytes, n, sw_path_shown(path), &opts, &info, note);
    if (st == SW_OK) {
        *reading = reading_bytes(bytes, n, &info, NULL);
        *n_px = (double)info.width_px * (double)info.height_px;
    }
    sw_free(bytes);
    return st;
}

static unsigned whole_mb(double bytes) { return (unsigned)sw_clamp(ceil(bytes / 1e6), 0.0, 4e9); }

sw_seam_opts sw_job_seam_opts(const sw_cut_opts *opts)
{
    return (sw_seam_opts){ .bed_width_mm = opts->bed_width_mm,
                           .bed_height_mm = opts->bed_height_mm,
                           .frame_mm = opts->frame_mm,
                           .kerf_mm = opts->kerf_mm,
                           .min_opening_mm = opts->min_opening_mm,
                           .is_staggered = opts->is_staggered };
}

/* How many panels there are more than sheets, if something is painted on each. */
static sw_status count_panels(const char *name, const sw_cut_opts *opts, const sw_grid *grid, double *n_more, sw_note *note)
{
    const sw_seam_opts seams = sw_job_seam_opts(opts);
    size_t of_pass = 1;
    SW_TRY(sw_seams_count(grid, &seams, &of_pass, note));
    const double n = (double)of_pass * (double)sw_job_n_passes(opts);
    *n_more = n - (double)sw_job_n_passes(opts);
    if (n <= MOST_PANELS) return SW_OK;
    return sw_fail(note, SW_TOO_LARGE, "'%s' would be cut in %.0f panels, %u are the most; give a larger --bed or a smaller --width",
                   name, n, MOST_PANELS);
}

sw_status sw_job_check_memory(const uint8_t *bytes, size_t n, const char *name, const sw_picture_info *info,
                              const sw_cut_opts *opts, const sw_grid *grid, sw_note *note)
{
    double n_panels;
    SW_TRY(count_panels(name, opts, grid, &n_panels, note));
    if (opts->memory_bytes == 0) return SW_OK;
    const double room = (double)opts->memory_bytes - BASE_BYTES, px = (double)grid->width_px * (double)grid->height_px;
    double reading_marks, reading_zones, marks_px, zones_px, needed = 0.0, fits_px = INFINITY;
    SW_TRY(measure_other(opts->marks, &reading_marks, &marks_px, note));
    SW_TRY(measure_other(opts->zones, &reading_zones, &zones_px, note));
    const double marks = opts->marks != NULL ? MARKS_BYTES_PX : 0.0, passes = PASS_BYTES_PX * (double)sw_job_n_passes(opts);
    const moment moments[] = { { reading_bytes(bytes, n, info, grid), ART_BYTES_PX, name },
                               { reading_marks, ART_BYTES_PX + marks, opts->marks },
                               { reading_zones, ART_BYTES_PX + marks, opts->zones },
                               { PICTURE_BYTES_PX * zones_px, GRID_BYTES_PX + marks, opts->zones },
                               { 0.0, GRID_BYTES_PX + passes + marks + PANEL_BYTES * n_panels / px, name } };
    for (size_t i = 0; i < SW_ARRAY_LEN(moments); i++) {
        const moment *const m = &moments[i];
        if (m->fixed + m->grid_px * px > needed) {
            needed = m->fixed + m->grid_px * px;
            name = m->name;
        }
        fits_px = sw_min(fits_px, (room - m->fixed) / m->grid_px);
    }
    if (needed <= room) return SW_OK;
    const double ratio = sqrt(sw_max(0.0, fits_px) / px);
    const double width_cm = floor(opts->width_mm * ratio / 10.0);
    const double smallest_mm = ceil(sw_min(opts->min_opening_mm, opts->min_web_mm) / sw_max(ratio, 1e-9) * 10.0) / 10.0;
    if (!(width_cm >= 1.0 && smallest_mm < opts->width_mm))
        return sw_fail(note, SW_TOO_LARGE, "'%s' needs about %u MB, more than --memory allows; a smaller picture may fit",
                       name, whole_mb(BASE_BYTES + needed));
    return sw_fail(note, SW_TOO_LARGE,
                   "'%s' needs about %u MB, more than --memory allows; a --width of %.0fcm fits, or --min-opening and "
                   "--min-web of at least %.1fmm",
                   name, whole_mb(BASE_BYTES + needed), width_cm, smallest_mm);
}
