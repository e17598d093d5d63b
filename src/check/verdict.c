/* From measures to a verdict: each finding by itself says yes-if or no, the gravest decides. Limits are taste unless a
 * comment says otherwise; they were tried on sketches, photographs and lettering. */
#include "check/parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define FEW_LOST 0.02
#define FINEST_MM 0.1      /* nobody cuts finer: no advice then */
#define SOME_LOST 0.10
#define LARGE_MM 3000.0    /* wider walls than this are not everybody's */
#define HUGE_MM 20000.0
#define FLAT_RANGE 12.0    /* CIE L*: less is one colour in any light */
#define PALE_RANGE 30.0
#define NEAR_CIEDE2000 5.0 /* two paints nearer than this look like one from across the street */
#define NOISY 8.0          /* 8-bit steps */
#define SOFT_RATIO 2.0     /* of min-opening: an edge this wide may lie anywhere within a stroke */
#define SOFT_PX 5.0        /* sharper than this an edge is the lens, not a blur */
#define COARSE_PX 1.0      /* pixels of the source across a smallest opening */
#define BRIDGED_RATIO 0.04 /* of the painted area shows as bridges */

const char *sw_verdict_name(sw_verdict verdict)
{
    static const char *const names[] = { "yes", "yes-if", "no" };
    return (size_t)verdict < SW_ARRAY_LEN(names) ? names[verdict] : "no";
}

/* Gravest verdict first, then weight; equal ones in the order they came. */
static bool comes_before(const sw_reason *one, const sw_reason *two)
{
    return one->verdict > two->verdict || (one->verdict == two->verdict && one->weight > two->weight);
}

void sw_reasons_add(sw_reasons *reasons, const char *name, sw_verdict verdict, double weight, const char *what,
                    const char *cure)
{
    if (verdict > reasons->verdict) reasons->verdict = verdict;
    if (reasons->n == SW_CHECK_MAX_REASONS) return;
    sw_reason reason = { .name = name, .verdict = verdict, .weight = weight };
    snprintf(reason.what, sizeof reason.what, "%s", what);
    snprintf(reason.cure, sizeof reason.cure, "%s", cure);
    size_t i = reasons->n++;
    for (; i > 0 && comes_before(&reason, &reasons->at[i - 1]); i--) reasons->at[i] = reasons->at[i - 1];
    reasons->at[i] = reason;
}

/* A sentence in two parts, numbers rounded for people; the locale does not matter here more than in any message. */
typedef struct sentence {
    sw_text what, cure;
} sentence;

static void add_length(sw_text *out, double length_mm)
{
    const bool is_metres = length_mm >= 1000.0;
    sw_text_add_number(out, is_metres ? length_mm / 1000.0 : length_mm, is_metres ? 2 : length_mm < 20.0 ? 1 : 0);
    sw_text_add(out, is_metres ? " m" : " mm");
}

/* As large as it must be: rounded up, so that following the advice is enough. */
static void add_length_up(sw_text *out, double length_mm)
{
    const double step = length_mm >= 1000.0 ? 10.0 : length_mm >= 100.0 ? 1.0 : 0.1;
    add_length(out, ceil(length_mm / step - 1e-6) * step);
}

static void add_percent(sw_text *out, double ratio)
{
    sw_text_add_number(out, 100.0 * ratio, ratio < 0.1 ? 1 : 0);
    sw_text_add(out, " %");
}

static void finish(sw_check *check, const char *name, sw_verdict verdict, double weight, sentence *s)
{
    sw_reasons_add(&check->reasons, name, verdict, weight, s->what.data == NULL ? "" : s->what.data,
                   s->cure.data == NULL ? "" : s->cure.data);
    sw_text_free(&s->what);
    sw_text_free(&s->cure);
}

/* What would bring the loss at this width under a share: smaller tools by the same factor as a larger wall. */
static void add_size_cures(const sw_check *check, double needed_mm, sw_text *cure)
{
    if (!(needed_mm > 0.0)) {
        sw_text_add(cure, "no wall is large enough; redraw it with broader strokes");
        return;
    }
    const double factor = check->judged_width_mm / needed_mm;
    sw_text_add(cure, "make it at least ");
    add_length_up(cure, needed_mm);
    sw_text_add(cure, " wide");
    if (sw_min(check->opts.min_opening_mm, check->opts.min_web_mm) * factor >= FINEST_MM) {
        sw_text_add(cure, ", or cut finer: --min-opening ");
        sw_text_add_number(cure, floor(check->opts.min_opening_mm * factor * 100.0) / 100.0, 2);
        sw_text_add(cure, "mm --min-web ");
        sw_text_add_number(cure, floor(check->opts.min_web_mm * factor * 100.0) / 100.0, 2);
        sw_text_add(cure, "mm");
    }
    if (check->picked_passes > 0 && check->picked_passes < check->opts.n_passes)
        sw_text_addf(cure, ", or fewer --passes: %zu", check->picked_passes);
}

static void judge_loss(sw_check *check)
{
    if (!check->has_width || check->lost_ratio <= FEW_LOST) return;
    const bool is_no = check->lost_ratio > SOME_LOST;
    sentence s = { 0 };
    sw_text_add(&s.what, "at ");
    add_length(&s.what, check->judged_width_mm);
    sw_text_add(&s.what, " wide ");
    add_percent(&s.what, check->lost_ratio);
    sw_text_add(&s.what, " of the drawing is too fine to cut (openings ");
    add_percent(&s.what, check->lost_opening_ratio);
    sw_text_add(&s.what, ", webs ");
    add_percent(&s.what, check->lost_web_ratio);
    sw_text_add(&s.what, ")");
    add_size_cures(check, check->smallest_width_mm, &s.cure);
    finish(check, "too-fine", is_no ? SW_VERDICT_NO : SW_VERDICT_YES_IF, 100.0 * check->lost_ratio, &s);
}

/* Without a width the size is the answer. */
static void judge_size(sw_check *check)
{
    if (check->has_width) return;
    sentence s = { 0 };
    const double width_mm = check->smallest_width_mm;
    if (!(width_mm > 0.0)) {
        sw_text_add(&s.what, "it is so fine that no wall is large enough");
        sw_text_add(&s.cure, "redraw it with broader strokes, or give a cleaner scan");
        finish(check, "size", SW_VERDICT_NO, 100.0, &s);
        return;
    }
    sw_text_add(&s.what, "it must be at least ");
    add_length_up(&s.what, width_mm);
    sw_text_add(&s.what, " wide to keep 98 % of the drawing, ");
    add_length_up(&s.what, check->smallest_width_10_percent_mm);
    sw_text_add(&s.what, " to keep 90 %");
    sw_text_add(&s.cure, width_mm > LARGE_MM ? "smaller --min-opening and --min-web, fewer --passes, or broader strokes make it smaller"
                                             : "say --width to judge one size");
    finish(check, "size", width_mm > HUGE_MM ? SW_VERDICT_NO : width_mm > LARGE_MM ? SW_VERDICT_YES_IF : SW_VERDICT_YES,
           10.0, &s);
}

static void judge_contrast(sw_check *check)
{
    const sw_check_source *const source = &check->source;
    const bool is_flat = source->lightness_range < FLAT_RANGE && check->opts.kind != SW_CUT_COLOUR;
    if (is_flat || source->lightness_range < PALE_RANGE) {
        sentence s = { 0 };
        sw_text_add(&s.what, "the picture has little contrast: lightness spans ");
        sw_text_add_number(&s.what, source->lightness_range, 0);
        sw_text_add(&s.what, " of 100");
        sw_text_add(&s.cure, "stretch its levels, or scan it again with the darkest parts black");
        finish(check, "contrast", is_flat ? SW_VERDICT_NO : SW_VERDICT_YES_IF, 20.0 + PALE_RANGE - source->lightness_range, &s);
    }
    if (check->row.n_passes > 0 && check->row.step_ciede2000 < NEAR_CIEDE2000) {
        sentence s = { 0 };
        sw_text_addf(&s.what, "of %zu paints two hardly differ (CIEDE2000 ", check->row.n_passes);
        sw_text_add_number(&s.what, check->row.step_ciede2000, 1);
        sw_text_add(&s.what, ")");
        sw_text_add(&s.cure, "fewer --passes, or name paints that are farther apart with --paint");
        finish(check, "paints-alike", SW_VERDICT_YES_IF, 4.0 * (NEAR_CIEDE2000 - check->row.step_ciede2000), &s);
    }
}

static void judge_source(sw_check *check)
{
    const sw_check_source *const source = &check->source;
    const double mm_per_px = check->judged_width_mm / (double)source->width_px;
    const double edge_mm = source->edge_px * mm_per_px, across_px = check->opts.min_opening_mm / mm_per_px;
    if (source->edge_px > SOFT_PX && edge_mm > SOFT_RATIO * check->opts.min_opening_mm) {
        sentence s = { 0 };
        sw_text_add(&s.what, "edges are soft: ");
        sw_text_add_number(&s.what, source->edge_px, 1);
        sw_text_add(&s.what, " pixels, which is ");
        add_length(&s.what, edge_mm);
        sw_text_add(&s.what, " on the wall; where they will be cut is a guess");
        sw_text_add(&s.cure, "a sharper picture, or a smaller size");
        finish(check, "soft", SW_VERDICT_YES_IF, edge_mm / check->opts.min_opening_mm, &s);
    }
    if (across_px < COARSE_PX && check->has_width) {
        sentence s = { 0 };
        sw_text_add(&s.what, "the picture is small for this wall: a pixel is ");
        add_length(&s.what, mm_per_px);
        sw_text_add(&s.what, ", so edges are guessed");
        sw_text_add(&s.cure, "a picture at least ");
        sw_text_add_number(&s.cure, ceil(check->judged_width_mm / check->opts.min_opening_mm), 0);
        sw_text_add(&s.cure, " pixels wide");
        finish(check, "few-pixels", SW_VERDICT_YES_IF, 5.0 / across_px, &s);
    }
    if (source->noise > NOISY) {
        sentence s = { 0 };
        sw_text_add(&s.what, "the picture is grainy: noise of ");
        sw_text_add_number(&s.what, source->noise, 1);
        sw_text_add(&s.what, " steps of 255 makes ragged edges and specks");
        sw_text_add(&s.cure, "a cleaner scan, or --detail 20");
        finish(check, "noise", SW_VERDICT_YES_IF, source->noise, &s);
    }
}

static void judge_bridges(sw_check *check)
{
    const double ratio = check->row.visible_bridge_mm2 / sw_max(1.0, check->row.open_mm2);
    if (check->row.n_islands == 0) return;
    sentence s = { 0 };
    const bool is_much = ratio > BRIDGED_RATIO;
    sw_text_addf(&s.what, "%zu islands need bridges; about %zu bridges show on the wall and take ", check->row.n_islands,
                 check->row.n_visible_bridges);
    add_percent(&s.what, ratio);
    sw_text_add(&s.what, " of the paint");
    sw_text_add(&s.cure, is_much ? "a larger size or a smaller --min-web makes them finer; more --passes hide some"
                                 : "none is needed; mark places where none may show");
    if (check->row.n_visible_bridges == 0) {
        sw_text_free(&s.cure);
        sw_text_add(&s.cure, "none is needed: all of them are painted over");
    }
    finish(check, "bridges", is_much ? SW_VERDICT_YES_IF : SW_VERDICT_YES, 100.0 * ratio, &s);
}

static void judge_passes(sw_check *check)
{
    sentence s = { 0 };
    if (check->row.n_passes == 0) return;
    if (check->row.n_passes < check->opts.n_passes && check->opts.kind != SW_CUT_LINE) {
        sw_text_addf(&s.what, "the picture has colours for %zu pass%s, not %zu", check->row.n_passes,
                     check->row.n_passes == 1 ? "" : "es", check->opts.n_passes);
        sw_text_addf(&s.cure, "--passes %zu", check->row.n_passes);
    } else if (check->picked_passes > 0 && check->picked_passes != check->opts.n_passes && check->opts.kind != SW_CUT_LINE) {
        sw_text_addf(&s.what, "%zu pass%s would be the best bargain of likeness and sheets", check->picked_passes,
                     check->picked_passes == 1 ? "" : "es");
        sw_text_addf(&s.cure, "--passes %zu", check->picked_passes);
    } else {
        return;
    }
    finish(check, "passes", SW_VERDICT_YES, 1.0, &s);
}

void sw_check_judge(sw_check *check)
{
    judge_loss(check);
    judge_size(check);
    judge_contrast(check);
    judge_source(check);
    judge_bridges(check);
    judge_passes(check);
}
