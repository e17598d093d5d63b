/* A picture judged, step by step: read and measure the source, what is too fine at which size, what the passes take,
 * the verdict. */
#include "check/parts.h"

#include <math.h>
#include <string.h>

#define MAX_FILE_BYTES 2000000000u
#define WORKING_PX 1.2e6    /* raster on which thickness is measured */
#define COARSE_PX 0.1e6     /* raster of the passes: at twice and four times this the counts come no nearer to those of a job */
#define MOST_ENLARGED 4.0   /* a small picture is interpolated up this far: edges fall between its pixels */
#define QUIET_PX 2.0        /* specks of the usual step between tones below this are noise, not drawing */
#define LINEAR_ABOVE 2.0    /* reduced by more: edge pixels are mostly means in linear light, not the source's own */
#define FEW_LOST 0.02
#define SOME_LOST 0.10
#define NARROWEST_RATIO 0.005
#define ALL_DETAIL 0.9      /* of a job that would otherwise smooth everything away */

/* A picture of about this many pixels. */
static sw_status reduce(const sw_picture *full, double n_px, sw_picture *out, sw_note *note)
{
    const double w = (double)full->width_px, h = (double)full->height_px;
    const double scale = sw_min(MOST_ENLARGED, sqrt(n_px / (w * h)));
    const size_t width_px = (size_t)sw_clamp(round(w * scale), 1.0, SW_MAX_SIDE_PX);
    const size_t height_px = (size_t)sw_clamp(round(h * scale), 1.0, SW_MAX_SIDE_PX);
    return sw_picture_resample(full, width_px, height_px, out, note);
}

static sw_status keep_name(const char *path, sw_check *check, sw_note *note)
{
    const char *const slash = strrchr(path, '/');
    const char *base = slash != NULL && slash[1] != '\0' ? slash + 1 : path;
    if (strcmp(path, "-") == 0) base = "standard input";
    check->name = sw_alloc_array(strlen(base) + 1, 1);
    if (check->name == NULL) return sw_fail_memory(note, "the picture's name");
    memcpy(check->name, base, strlen(base) + 1);
    return SW_OK;
}

/* Width and height where they are known; without any size that is fine here. */
static sw_status find_size(const sw_picture_info *info, const char *path, sw_check *check, sw_note *note)
{
    sw_cut_opts *const opts = &check->opts;
    sw_grid grid;
    SW_TRY(sw_job_check_opts(opts, note));
    const bool has_density = info->x_px_per_mm > 0.0 && info->y_px_per_mm > 0.0;
    if (!(opts->width_mm > 0.0 || opts->height_mm > 0.0 || has_density)) return SW_OK;
    SW_TRY(sw_job_size(info, path, opts, &grid, note));
    check->has_width = true;
    return SW_OK;
}

static sw_status read_source(const uint8_t *bytes, size_t n, const char *path, sw_check *check, sw_picture *full,
                             sw_note *note)
{
    sw_picture_info info = { 0 };
    const uint32_t ground = check->opts.ground_rgb;
    sw_picture_opts opts = { .ground = { (uint8_t)(ground >> 16), (uint8_t)(ground >> 8), (uint8_t)ground } };
    SW_TRY(sw_picture_probe_memory(bytes, n, path, &opts, &info, note));
    SW_TRY(find_size(&info, path, check, note));
    const double scale = sw_min(1.0, sqrt(WORKING_PX / ((double)info.width_px * (double)info.height_px)));
    opts.enough_width_px = (size_t)ceil((double)info.width_px * scale);
    opts.enough_height_px = (size_t)ceil((double)info.height_px * scale);
    SW_TRY(sw_picture_read_memory(bytes, n, path, &opts, full, note));
    check->source.width_px = full->source_width_px;
    check->source.height_px = full->source_height_px;
    sw_source_measure(full, &check->source);
    return SW_OK;
}

/* All that is there, with only noise smoothed away. */
static sw_status separate_all(const sw_picture *art, const sw_cut_opts *cut, sw_separation *out, sw_note *note)
{
    sw_rgb8 paints[SW_CUT_MAX_PAINTS];
    const sw_grid grid = { art->width_px, art->height_px, 1.0 };
    sw_separate_opts opts = sw_passes_opts(cut, cut->n_passes, paints);
    opts.min_opening_mm = QUIET_PX / 3.0; /* one pixel is a millimetre here; detail 0.5 smooths three times this away */
    opts.min_web_mm = opts.min_opening_mm;
    opts.detail_ratio = 0.5;
    return sw_separate(art, &grid, &opts, NULL, out, note);
}

static double width_for(double limit_px_per_mm, size_t width_px)
{
    const double width_mm = (double)width_px / limit_px_per_mm;
    return width_mm > 0.0 && width_mm <= SW_MAX_MM ? width_mm : 0.0;
}

/* The size question: everything that follows from the thicknesses. */
static void answer_size(const sw_strokes *strokes, size_t width_px, sw_check *check)
{
    const double opening_mm = check->opts.min_opening_mm, web_mm = check->opts.min_web_mm;
    check->smallest_width_mm = width_for(sw_strokes_limit(strokes, FEW_LOST, opening_mm, web_mm), width_px);
    check->smallest_width_10_percent_mm = width_for(sw_strokes_limit(strokes, SOME_LOST, opening_mm, web_mm), width_px);
    const double few_mm = check->smallest_width_mm > 0.0 ? check->smallest_width_mm : SW_MAX_MM;
    check->judged_width_mm = check->has_width ? check->opts.width_mm : few_mm;
    const double px_per_mm = (double)width_px / check->judged_width_mm;
    sw_strokes_lost(strokes, px_per_mm, opening_mm, web_mm, &check->lost_opening_ratio, &check->lost_web_ratio);
    check->lost_ratio = sw_min(1.0, check->lost_opening_ratio + check->lost_web_ratio);
    check->narrowest_opening_mm = sw_strokes_quantile(strokes, false, NARROWEST_RATIO) / px_per_mm;
    check->narrowest_web_mm = sw_strokes_quantile(strokes, true, NARROWEST_RATIO) / px_per_mm;
    for (size_t i = 0; i < SW_CHECK_CURVE; i++) { /* from an eighth of it to twice, in even ratios */
        double opening, web;
        check->curve_width_mm[i] = few_mm * pow(2.0, -3.0 + 4.0 * (double)i / (SW_CHECK_CURVE - 1));
        sw_strokes_lost(strokes, (double)width_px / check->curve_width_mm[i], opening_mm, web_mm, &opening, &web);
        check->curve_lost_ratio[i] = sw_min(1.0, opening + web);
    }
}

/* The passes asked for; when their quiet shapes would be none at all, once more with the detail that is there. */
static sw_status try_passes(const sw_picture *coarse, sw_check *check, sw_sheets *sheets, sw_note *note)
{
    sw_note first = { 0 };
    const sw_status st = sw_passes_try(coarse, &check->opts, check->judged_width_mm, check->opts.n_passes, &check->row, NULL,
                                       sheets, &first);
    if (st != SW_CANNOT_HOLD || check->opts.detail_ratio >= ALL_DETAIL) return st == SW_OK ? st : sw_fail(note, st, "%s", first.text);
    check->opts.detail_ratio = ALL_DETAIL;
    SW_TRY(sw_passes_try(coarse, &check->opts, check->judged_width_mm, check->opts.n_passes, &check->row, NULL, sheets, note));
    sw_reasons_add(&check->reasons, "detail", check->has_width ? SW_VERDICT_YES_IF : SW_VERDICT_YES, 8.0,
                   "at this size the drawing is so fine that cut would smooth all of it away unless told to keep detail",
                   "--detail 90");
    return SW_OK;
}

static sw_status answer_passes(const sw_picture *art, const sw_check_opts *opts, const sw_strokes *strokes,
                               sw_check *check, sw_note *note)
{
    sw_picture coarse = { 0 };
    sw_sheets sheets = { 0 };
    sw_status st = reduce(art, sw_min(COARSE_PX, (double)art->width_px * (double)art->height_px), &coarse, note);
    if (st == SW_OK) st = try_passes(&coarse, check, &sheets, note);
    if (st == SW_OK) {
        const double height_mm = check->judged_width_mm * (double)art->height_px / (double)art->width_px;
        check->bridges_per_m2 = (double)check->row.n_visible_bridges / (check->judged_width_mm * height_mm * 1e-6);
    }
    if (st == SW_OK && opts->has_passes_table) st = sw_passes_table(&coarse, &check->opts, check->judged_width_mm, check, note);
    if (st == SW_OK) sw_check_judge(check);
    if (st == SW_OK && opts->has_chart)
        st = sw_chart_draw(check, art, strokes, (double)art->width_px / check->judged_width_mm, &sheets, &check->chart, note);
    sw_sheets_free(&sheets);
    sw_picture_free(&coarse);
    return st;
}

static sw_status answer(const sw_picture *full, const sw_check_opts *opts, sw_check *check, sw_note *note)
{
    sw_picture art = { 0 };
    sw_separation separation = { 0 };
    sw_strokes strokes = { 0 };
    sw_status st = reduce(full, WORKING_PX, &art, note);
    if (st != SW_OK) goto cleanup;
    check->source.working_width_px = art.width_px;
    check->source.working_height_px = art.height_px;
    st = separate_all(&art, &check->opts, &separation, note);
    if (st != SW_OK) goto cleanup;
    const bool is_linear = (double)full->source_width_px > LINEAR_ABOVE * (double)art.width_px;
    st = sw_strokes_measure(&separation, &art, art.width_px > full->width_px ? full : &art, is_linear,
                            check->opts.min_opening_mm, check->opts.min_web_mm, &strokes, note);
    if (st != SW_OK) goto cleanup;
    answer_size(&strokes, art.width_px, check);
    st = answer_passes(&art, opts, &strokes, check, note);
cleanup:
    sw_strokes_free(&strokes);
    sw_separation_free(&separation);
    sw_picture_free(&art);
    return st;
}

/* Separation found nothing to paint: in the picture, or of it at this size. */
static void refuse(sw_check *check)
{
    if (check->judged_width_mm > 0.0)
        sw_reasons_add(&check->reasons, "nothing-left", SW_VERDICT_NO, 90.0, "at this size nothing of the picture is left to cut",
                       "a larger size, or a smaller --min-opening");
    else
        sw_reasons_add(&check->reasons, "nothing", SW_VERDICT_NO, 1000.0,
                       "there is nothing to paint: no part of the picture stands out from the wall",
                       "give a picture with at least two tones, more contrast or another --ground");
}

sw_status sw_check_picture_memory(const uint8_t *bytes, size_t n, const char *path, const sw_check_opts *opts,
                                  sw_check *out, sw_note *note)
{
    sw_check made = { .opts = opts->cut };
    sw_picture full = { 0 };
    sw_cut_complete(&made.opts);
    sw_status st = keep_name(path, &made, note);
    if (st == SW_OK) st = read_source(bytes, n, path, &made, &full, note);
    if (st != SW_OK) goto cleanup;
    if (full.is_all_clear) {
        sw_reasons_add(&made.reasons, "clear", SW_VERDICT_NO, 1000.0, "the picture is transparent all over",
                       "save it with its colours, or give another file");
        goto done;
    }
    sw_note why = { 0 };
    st = answer(&full, opts, &made, &why);
    if (st != SW_OK && st != SW_CANNOT_HOLD) {
        sw_fail(note, st, "%s", why.text);
        goto cleanup;
    }
    if (st == SW_CANNOT_HOLD) { /* that is an answer, too */
        refuse(&made);
        if (made.judged_width_mm > 0.0) sw_check_judge(&made);
    }
done:
    st = SW_OK;
    *out = made;
    made = (sw_check){ 0 };
cleanup:
    sw_picture_free(&full);
    sw_check_free(&made);
    return st;
}

sw_status sw_check_picture(const char *path, const sw_check_opts *opts, sw_check *out, sw_note *note)
{
    uint8_t *bytes = NULL;
    size_t n = 0;
    sw_status st = sw_file_read(path, MAX_FILE_BYTES, &bytes, &n, note);
    if (st == SW_OK) st = sw_check_picture_memory(bytes, n, path, opts, out, note);
    sw_free(bytes);
    return st;
}

void sw_check_free(sw_check *check)
{
    if (check == NULL) return;
    sw_free(check->name);
    sw_picture_free(&check->chart);
    *check = (sw_check){ 0 };
}
