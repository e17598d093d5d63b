/* job.options: what was asked, one "name value" a line, in the names of the command line. `cut --job` reads it back. */
#include "job/job.h"

#include <math.h>
#include <string.h>

#define LENGTH_DECIMALS 6 /* lengths are whole nanometres, so what is printed is exactly what was used */

const char *const sw_job_kinds[3] = { "tone", "colour", "line" }, *const sw_job_formats[3] = { "svg", "pdf", "eps" };

double sw_job_tidy_mm(double length_mm)
{
    return length_mm < 1e9 ? nearbyint(length_mm * 1e6) / 1e6 : length_mm; /* a NaN stays one and is refused later */
}

void sw_job_tidy_opts(sw_cut_opts *opts)
{
    double *const lengths[] = { &opts->width_mm,   &opts->height_mm, &opts->min_opening_mm, &opts->min_web_mm,
                                &opts->frame_mm,   &opts->trap_mm,   &opts->droop_mm,       &opts->bed_width_mm,
                                &opts->bed_height_mm, &opts->kerf_mm, &opts->stroke_mm,     &opts->thickness_mm,
                                &opts->smooth_mm,
                                &opts->rates.feed_mm_s, &opts->rates.travel_mm_s, &opts->rates.pierce_s,
                                &opts->rates.load_minutes, &opts->rates.coverage_m2, &opts->rates.place_minutes,
                                &opts->rates.spray_minutes_m2, &opts->rates.dry_minutes };
    double *const ratios[] = { &opts->detail_ratio, &opts->rates.waste_ratio };
    for (size_t i = 0; i < SW_ARRAY_LEN(lengths); i++) *lengths[i] = sw_job_tidy_mm(*lengths[i]);
    for (size_t i = 0; i < SW_ARRAY_LEN(ratios); i++) *ratios[i] = nearbyint(*ratios[i] * 1e8) / 1e8;
}

static void add_length(sw_text *out, const char *name, double length_mm)
{
    sw_text_addf(out, "%s ", name);
    sw_text_add_number(out, length_mm, LENGTH_DECIMALS);
    sw_text_add(out, "mm\n");
}

/* A path with a line break in it cannot stand in a line, and would be read back as something else. */
static void add_path(sw_text *out, const char *name, const char *path)
{
    if (path == NULL) return;
    if (strpbrk(path, "\r\n") == NULL) sw_text_addf(out, "%s %s\n", name, path);
    else sw_text_addf(out, "# The path of the %s has a line break in it; name it on the command line.\n", name);
}

void sw_job_add_options(sw_text *out, const char *picture, const sw_cut_opts *asked)
{
    sw_text_add(out, "# What was asked; stencilwright cut --job job.options --out DIR does it again.\n");
    if (strcmp(picture, "-") != 0) add_path(out, "picture", picture);
    else sw_text_add(out, "# The picture came from standard input; name one on the command line.\n");
    if (asked->width_mm > 0.0) add_length(out, "width", asked->width_mm);
    if (asked->height_mm > 0.0) add_length(out, "height", asked->height_mm);
    sw_text_addf(out, "passes %zu\n", asked->n_passes);
    sw_text_addf(out, "separate %s\n", sw_job_kinds[asked->kind]);
    for (size_t i = 0; i < asked->n_paints; i++) sw_text_addf(out, "paint #%06x\n", (unsigned)asked->paint_rgb[i]);
    sw_text_addf(out, "ground #%06x\n", (unsigned)asked->ground_rgb);
    sw_text_add(out, "detail ");
    sw_text_add_number(out, asked->detail_ratio * 100.0, LENGTH_DECIMALS);
    sw_text_add(out, "\n");
    if (asked->min_opening_mm > 0.0) add_length(out, "min-opening", asked->min_opening_mm);
    if (asked->min_web_mm > 0.0) add_length(out, "min-web", asked->min_web_mm);
    if (asked->frame_mm > 0.0) add_length(out, "frame", asked->frame_mm);
    add_length(out, "trap", asked->trap_mm);
    if (asked->smooth_mm > 0.0) add_length(out, "smooth", asked->smooth_mm);
    add_length(out, "droop", asked->droop_mm);
    add_path(out, "zones", asked->zones);
    for (size_t z = 0; z < asked->n_zones; z++)
        sw_text_addf(out, "zone %s,#%06x,%zu\n", asked->zone[z].name, (unsigned)asked->zone[z].rgb, asked->zone[z].n_passes);
    if (asked->material != NULL) sw_text_addf(out, "material %s\n", asked->material);
    if (asked->surface != NULL) sw_text_addf(out, "surface %s\n", asked->surface);
    if (asked->thickness_mm > 0.0) add_length(out, "thickness", asked->thickness_mm);
    add_path(out, "marks", asked->marks);
    add_path(out, "paint-list", asked->paint_list);
    if (asked->bed_width_mm > 0.0) {
        sw_text_add(out, "bed ");
        sw_text_add_number(out, asked->bed_width_mm, LENGTH_DECIMALS);
        sw_text_add(out, "x");
        sw_text_add_number(out, asked->bed_height_mm, LENGTH_DECIMALS);
        sw_text_add(out, "mm\n");
    }
    if (asked->has_key_windows) sw_text_add(out, "key-windows\n");
    if (asked->is_reuse) sw_text_add(out, "reuse\n");
    if (asked->is_touch_up) sw_text_add(out, "touch-up\n");
    if (asked->is_staggered) sw_text_add(out, "stagger\n");
    if (asked->guides_pass > 0) sw_text_addf(out, "guides %zu\n", asked->guides_pass);
    if (asked->kerf_mm >= 0.0) add_length(out, "kerf", asked->kerf_mm);
    add_length(out, "stroke", asked->stroke_mm);
    for (size_t i = 0; sw_job_rate_at(i) != NULL; i++) {
        const sw_job_rate *const rate = sw_job_rate_at(i);
        sw_text_addf(out, "%s ", rate->option);
        sw_text_add_number(out, sw_job_rate_value(rate, &asked->rates), LENGTH_DECIMALS);
        sw_text_addf(out, "%s\n", strcmp(rate->unit, "%") == 0 ? "" : rate->unit);
    }
    if (asked->memory_bytes > 0) sw_text_addf(out, "memory %zuB\n", asked->memory_bytes);
    sw_text_add(out, "format ");
    for (size_t i = 0, n = 0; i < SW_ARRAY_LEN(sw_job_formats); i++) {
        if ((asked->formats >> i & 1u) != 0) sw_text_addf(out, "%s%s", n++ > 0 ? "," : "", sw_job_formats[i]);
    }
    sw_text_add(out, "\n");
}
