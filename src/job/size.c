/* Size of the artwork on the wall and of the grid over it.
 *
 * The grid follows from the finest thing that must survive, not from the picture's pixels: PX_ACROSS pixels across the
 * smaller of min-opening and min-web. The scale is then nudged up so that the width is a whole number of pixels. */
#include "job/job.h"

#include <math.h>
#include <string.h>

#define SMOOTH_LEAST_RATIO 0.02 /* of min-opening, an eighth of a pixel of the grid: finer follows nothing that is there */
#define SMOOTH_MOST_RATIO 0.5
#define FINEST_STROKE_MM 0.001 /* the last decimal of cut files */
#define USUAL_FRAME_MM 40.0  /* common practice, no source */

#define PX_ACROSS 6.0        /* fewer, and a width measured in whole pixels is off by more than the tenth we promise */
#define SHAPE_TOLERANCE 0.01 /* both sides given: they may differ from the picture's shape by this much */

static double frame_needed_mm(const sw_cut_opts *opts)
{
    return sw_layout_frame_needed_mm(&(sw_layout_opts){ .min_web_mm = opts->min_web_mm, .min_opening_mm = opts->min_opening_mm,
                                                        .kerf_mm = opts->kerf_mm });
}

static sw_status check_length(double length_mm, bool zero_ok, const char *what, sw_note *note)
{
    if (sw_length_ok(length_mm, zero_ok)) return SW_OK;
    return sw_fail(note, SW_BAD_LENGTH, "%s must be a length %s 0 and at most 200m", what,
                   zero_ok ? "of at least" : "above");
}

/* The one place where defaults of lengths are decided: the material's value times what the wall asks for. */
void sw_cut_complete(sw_cut_opts *opts)
{
    const sw_material *const material = sw_material_find(opts->material);
    const sw_surface *const surface = sw_surface_find(opts->surface);
    if (material == NULL || surface == NULL) return;
    if (opts->min_opening_mm == 0.0) opts->min_opening_mm = sw_job_tidy_mm(material->min_opening_mm * surface->opening_ratio);
    if (opts->min_web_mm == 0.0) opts->min_web_mm = sw_job_tidy_mm(material->min_web_mm * surface->web_ratio);
    if (opts->kerf_mm < 0.0) opts->kerf_mm = material->kerf_mm;
    if (opts->thickness_mm == 0.0) opts->thickness_mm = material->thickness_mm;
    if (opts->frame_mm == 0.0) opts->frame_mm = sw_max(USUAL_FRAME_MM, ceil(frame_needed_mm(opts)));
}

/* A name stands in a line of job.options, between commas. */
static bool is_zone_name(const char name[32])
{
    const size_t n = strnlen(name, 32);
    for (size_t i = 0; i < n; i++) {
        if ((unsigned char)name[i] < 0x20 || name[i] == 0x7f || name[i] == ',') return false;
    }
    return n > 0 && n < 32;
}

static sw_status check_zones(const sw_cut_opts *opts, sw_note *note)
{
    if ((opts->zones != NULL) != (opts->n_zones > 0))
        return sw_fail(note, SW_BAD_USAGE, "--zones and --zone go together: a picture, and what its colours are");
    if (opts->n_zones > SW_CUT_MAX_ZONES) return sw_fail(note, SW_BAD_USAGE, "at most %d zones can be given", SW_CUT_MAX_ZONES);
    for (size_t z = 0; z < opts->n_zones; z++) {
        const sw_cut_zone *const zone = &opts->zone[z];
        if (!is_zone_name(zone->name))
            return sw_fail(note, SW_BAD_USAGE, "the name of zone %zu must have 1 to 31 letters and no comma or line break", z + 1);
        if (zone->n_passes < 1 || zone->n_passes > SW_MAX_PASSES)
            return sw_fail(note, SW_BAD_USAGE, "zone '%s' must have from 1 to %d passes", zone->name, SW_MAX_PASSES);
        for (size_t k = 0; k < z; k++) {
            if (strcmp(zone->name, opts->zone[k].name) == 0)
                return sw_fail(note, SW_BAD_USAGE, "two zones are called '%s'; give each a name of its own", zone->name);
            if (sw_job_is_zone_colour(sw_job_rgb8(zone->rgb), sw_job_rgb8(opts->zone[k].rgb)))
                return sw_fail(note, SW_BAD_USAGE, "zones '%s' and '%s' have colours too much alike to be told apart; paint one anew",
                               opts->zone[k].name, zone->name);
        }
    }
    const size_t n_passes = sw_job_n_passes(opts);
    if (opts->n_zones > 0 && n_passes > SW_MAX_PASSES)
        return sw_fail(note, SW_BAD_USAGE, "the zones ask for %zu passes together; at most %d", n_passes, SW_MAX_PASSES);
    return SW_OK;
}

sw_status sw_job_check_opts(const sw_cut_opts *asked, sw_note *note)
{
    sw_cut_opts completed = *asked;
    const sw_cut_opts *const opts = &completed;
    if (sw_material_find(asked->material) == NULL)
        return sw_fail(note, SW_BAD_USAGE, "--material '%s' is not in the table; see stencilwright cut --help",
                       asked->material);
    if (sw_surface_find(asked->surface) == NULL)
        return sw_fail(note, SW_BAD_USAGE, "--surface '%s' is not known; use smooth, render, brick or timber", asked->surface);
    sw_cut_complete(&completed);
    SW_TRY(check_length(opts->width_mm, true, "--width", note));
    SW_TRY(check_length(opts->height_mm, true, "--height", note));
    SW_TRY(check_length(opts->min_opening_mm, false, "--min-opening", note));
    SW_TRY(check_length(opts->min_web_mm, false, "--min-web", note));
    SW_TRY(check_length(opts->frame_mm, false, "--frame", note));
    SW_TRY(check_length(opts->trap_mm, true, "--trap", note));
    SW_TRY(check_length(opts->smooth_mm, true, "--smooth", note));
    if (opts->smooth_mm > 0.0 && (opts->smooth_mm < SMOOTH_LEAST_RATIO * opts->min_opening_mm ||
                                  opts->smooth_mm > SMOOTH_MOST_RATIO * opts->min_opening_mm))
        return sw_fail(note, SW_BAD_LENGTH, "--smooth must be from a fiftieth to a half of --min-opening");
    SW_TRY(check_length(opts->droop_mm, true, "--droop", note));
    SW_TRY(check_length(opts->kerf_mm, true, "--kerf", note));
    SW_TRY(check_length(opts->thickness_mm, false, "--thickness", note));
    SW_TRY(check_length(opts->stroke_mm, false, "--stroke", note));
    if (!(opts->stroke_mm >= FINEST_STROKE_MM))
        return sw_fail(note, SW_BAD_LENGTH, "--stroke must be at least 0.001mm; files hold no thinner line");
    SW_TRY(check_length(opts->bed_width_mm, true, "--bed", note));
    SW_TRY(check_length(opts->bed_height_mm, true, "--bed", note));
    SW_TRY(sw_rates_check(&opts->rates, note));
    if ((opts->bed_width_mm > 0.0) != (opts->bed_height_mm > 0.0))
        return sw_fail(note, SW_BAD_LENGTH, "--bed needs two sides, like 1200x800mm");
    if (opts->kerf_mm >= opts->min_opening_mm)
        return sw_fail(note, SW_BAD_LENGTH, "--kerf must be less than --min-opening; a beam that wide cuts no such opening");
    SW_TRY(check_zones(opts, note));
    if (opts->guides_pass > sw_job_n_passes(opts))
        return sw_fail(note, SW_BAD_USAGE, "--guides names pass %zu, there are %zu", opts->guides_pass, sw_job_n_passes(opts));
    const double frame_mm = frame_needed_mm(opts);
    if (!(opts->frame_mm >= frame_mm))
        return sw_fail(note, SW_BAD_LENGTH, "--frame must be at least %d mm to hold the registration marks",
                       (int)ceil(sw_min(frame_mm, 1e6)));
    if (opts->formats == 0 || opts->formats > (SW_FORMAT_SVG | SW_FORMAT_PDF | SW_FORMAT_EPS))
        return sw_fail(note, SW_BAD_USAGE, "--format must name svg, pdf or eps");
    if (!(opts->detail_ratio >= 0.0 && opts->detail_ratio <= 1.0))
        return sw_fail(note, SW_BAD_USAGE, "--detail must be from 0 to 100");
    if (opts->n_passes < 1 || opts->n_passes > SW_MAX_PASSES)
        return sw_fail(note, SW_BAD_USAGE, "--passes must be from 1 to %d", SW_MAX_PASSES);
    if (opts->n_paints > SW_CUT_MAX_PAINTS)
        return sw_fail(note, SW_BAD_USAGE, "at most %d paints can be given", SW_CUT_MAX_PAINTS);
    if ((int)opts->kind < SW_CUT_TONE || opts->kind > SW_CUT_LINE)
        return sw_fail(note, SW_BAD_USAGE, "the kind of separation is not known");
    return SW_OK;
}

/* Both sides in mm from whichever were given. */
static sw_status find_sides(const sw_picture_info *info, const char *name, sw_cut_opts *opts, sw_note *note)
{
    const double shape_ratio = (double)info->height_px / (double)info->width_px;
    const bool has_width = opts->width_mm > 0.0, has_height = opts->height_mm > 0.0;
    if (has_width && has_height) {
        const double stretch = fabs(opts->height_mm / (opts->width_mm * shape_ratio) - 1.0);
        if (stretch <= SHAPE_TOLERANCE) return SW_OK;
        return sw_fail(note, SW_BAD_LENGTH,
                       "'%s' is %zu x %zu pixels and would be stretched by %d %%; give only --width or --height", name,
                       info->width_px, info->height_px, (int)sw_clamp(round(stretch * 100.0), 1.0, 1e6));
    }
    if (has_width) {
        opts->height_mm = opts->width_mm * shape_ratio;
    } else if (has_height) {
        opts->width_mm = opts->height_mm / shape_ratio;
    } else if (info->x_px_per_mm > 0.0 && info->y_px_per_mm > 0.0) {
        opts->width_mm = (double)info->width_px / info->x_px_per_mm;
        opts->height_mm = (double)info->height_px / info->y_px_per_mm;
    } else {
        return sw_fail(note, SW_BAD_LENGTH,
                       "'%s' does not say how large it is; give its size on the wall, like --width 2.1m", name);
    }
    return SW_OK;
}

sw_status sw_job_sides(const sw_picture_info *info, const char *name, sw_cut_opts *opts, sw_note *note)
{
    SW_TRY(find_sides(info, name, opts, note));
    if (sw_max(opts->width_mm, opts->height_mm) <= SW_MAX_MM) return SW_OK;
    return sw_fail(note, SW_BAD_LENGTH, "'%s' would be %.0f m x %.0f m on the wall; the most is 200 m, ask for less", name,
                   opts->width_mm / 1000.0, opts->height_mm / 1000.0);
}

/* A sheet that is not split must fit the page it is written on; better told now than after the work. */
static sw_status check_page(const char *name, const sw_cut_opts *opts, sw_note *note)
{
    const double side_mm = sw_max(opts->width_mm, opts->height_mm) + 2.0 * opts->frame_mm;
    if ((opts->formats & (SW_FORMAT_PDF | SW_FORMAT_EPS)) == 0 || opts->bed_width_mm > 0.0 || side_mm <= SW_MAX_PAGE_MM) return SW_OK;
    return sw_fail(note, SW_BAD_LENGTH,
                   "'%s' would be a sheet %.2f m long; a page of PDF or EPS ends at 5.08 m: give the cutter's --bed, or write SVG alone",
                   name, side_mm / 1000.0);
}

sw_status sw_job_size(const sw_picture_info *info, const char *name, sw_cut_opts *opts, sw_grid *grid, sw_note *note)
{
    SW_TRY(sw_job_sides(info, name, opts, note));
    sw_cut_complete(opts);
    const double smallest_mm = sw_min(opts->min_opening_mm, opts->min_web_mm);
    if (!(sw_min(opts->width_mm, opts->height_mm) >= opts->min_opening_mm))
        return sw_fail(note, SW_BAD_LENGTH,
                       "'%s' would be %.2g mm x %.2g mm, less than one smallest opening; ask for a larger size", name,
                       opts->width_mm, opts->height_mm);
    SW_TRY(check_page(name, opts, note));
    const double width_px = ceil(opts->width_mm * PX_ACROSS / smallest_mm);
    const double px_per_mm = width_px / opts->width_mm;
    const double height_px = sw_max(1.0, round(opts->height_mm * px_per_mm));
    if (!(width_px <= SW_MAX_SIDE_PX && height_px <= SW_MAX_SIDE_PX && width_px * height_px <= (double)SW_MAX_PX))
        return sw_fail(note, SW_TOO_LARGE,
                       "'%s' at %.1f m x %.1f m with parts of %.2g mm needs too fine a grid; raise --min-opening and --min-web",
                       name, opts->width_mm / 1000.0, opts->height_mm / 1000.0, smallest_mm);
    *grid = (sw_grid){ .width_px = (size_t)width_px, .height_px = (size_t)height_px, .px_per_mm = px_per_mm };
    opts->height_mm = height_px / px_per_mm; /* whole pixels: at most a quarter of a millimetre from what was asked */
    return SW_OK;
}
