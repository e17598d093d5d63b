/* Openings and webs of every pass, as thick as the free choice under later paints lets them be. */
#include "check/parts.h"

#include <string.h>

#define LEAST_SIDE_PX 100 /* no halving below this: everything is thick by then */
#define FINE_RATIO 0.02   /* what must be told apart: see sw_strokes_limit */

void sw_strokes_free(sw_strokes *strokes)
{
    if (strokes == NULL) return;
    sw_free(strokes->opening);
    sw_free(strokes->web);
    sw_free(strokes->openings);
    sw_free(strokes->webs);
    *strokes = (sw_strokes){ 0 };
}

/* Sums of colour over the pixels of each label: those at least `apart` from another label, and as far from the ground's
 * colour as least_sq says. */
typedef struct colour_sums {
    uint64_t sum[SW_MAX_PASSES + 1][3], n[SW_MAX_PASSES + 1];
    double distance_sq[SW_MAX_PASSES + 1];
} colour_sums;

static double distance_sq(sw_rgb8 one, sw_rgb8 two)
{
    const double r = (double)one.r - two.r, g = (double)one.g - two.g, b = (double)one.b - two.b;
    return r * r + g * g + b * b;
}

static void sum_colours(const sw_separation *s, const sw_picture *art, size_t apart, sw_rgb8 ground, const double *least_sq,
                        colour_sums *out)
{
    const size_t w = s->grid.width_px, h = s->grid.height_px;
    *out = (colour_sums){ 0 };
    for (size_t y = apart; y + apart < h; y++) {
        for (size_t x = apart; x + apart < w; x++) {
            const uint8_t *const at = s->label + y * w + x;
            const size_t l = at[0];
            if (at[0] != *(at - apart) || at[0] != at[apart] || at[0] != *(at - apart * w) || at[0] != at[apart * w]) continue;
            const sw_rgb8 c = art->at[y * w + x];
            const double d = distance_sq(c, ground);
            if (d < least_sq[l]) continue;
            out->sum[l][0] += c.r;
            out->sum[l][1] += c.g;
            out->sum[l][2] += c.b;
            out->n[l]++;
            out->distance_sq[l] += d;
        }
    }
}

/* Colour of each label where no edge is near, so that soft edges do not colour the measure of edges: the mean over pixels
 * two away from another label. Lines too thin for that: of their pixels the quarter or so that are farthest from the
 * ground, for the others are mixed with it. */
static void core_colours(const sw_separation *s, const sw_picture *art, sw_rgb8 colour[SW_MAX_PASSES + 1])
{
    static const size_t aparts[] = { 2, 0, 0, 0 };
    double least_sq[SW_MAX_PASSES + 1] = { 0.0 };
    bool is_core[SW_MAX_PASSES + 1] = { false }, is_all = false;
    colour_sums sums;
    for (size_t round = 0; round < SW_ARRAY_LEN(aparts) && !is_all; round++) {
        sum_colours(s, art, aparts[round], colour[0], least_sq, &sums);
        is_all = true;
        for (size_t l = 0; l <= s->n_passes; l++) {
            const uint64_t n = sums.n[l];
            if (is_core[l]) continue;
            is_core[l] = round == 0 && n > 0;
            is_all = is_all && is_core[l];
            if (n == 0 || (l == 0 && round > 1)) continue;
            colour[l] = (sw_rgb8){ (uint8_t)(sums.sum[l][0] / n), (uint8_t)(sums.sum[l][1] / n), (uint8_t)(sums.sum[l][2] / n) };
            if (round > 0) least_sq[l] = sums.distance_sq[l] / (double)n;
        }
    }
}

/* One task a pass for openings, one for webs. */
typedef struct tasks {
    const sw_edge_field *edge;
    size_t width_px, height_px, n_passes;
    uint16_t *thick[2 * SW_MAX_PASSES];
    sw_status status[2 * SW_MAX_PASSES];
} tasks;

static void measure_one(tasks *t, size_t task)
{
    const size_t pass = task / 2 + 1, n_px = t->width_px * t->height_px;
    const bool is_web = task % 2 == 1;
    sw_mask set = { 0 };
    t->status[task] = sw_mask_make(t->width_px, t->height_px, &set, NULL);
    t->thick[task] = sw_alloc_raw(n_px, sizeof *t->thick[task]);
    if (t->thick[task] == NULL) t->status[task] = SW_NO_MEMORY;
    if (t->status[task] == SW_OK) {
        for (size_t i = 0; i < n_px; i++) {
            const size_t label = t->edge->label[i];
            set.at[i] = is_web ? label != pass : label >= pass;
        }
        t->status[task] = sw_granules_measure(&set, !is_web, t->edge, t->thick[task], NULL, NULL);
    }
    sw_mask_free(&set);
}

static void measure_some(size_t begin, size_t end, void *ctx)
{
    for (size_t task = begin; task < end; task++) measure_one(ctx, task);
}

static uint64_t *count(const uint16_t *thick, size_t n)
{
    uint64_t *const counts = sw_alloc_array(SW_GRANULE_MOST + 1, sizeof *counts);
    for (size_t i = 0; i < n && counts != NULL; i++) counts[thick[i]]++;
    return counts;
}

/* Openings of each pixel's own pass; of webs the thinnest over all later passes. */
static bool gather(const tasks *t, sw_strokes *out)
{
    const size_t n_px = t->width_px * t->height_px;
    out->opening = sw_alloc_array(n_px, sizeof *out->opening);
    out->web = sw_alloc_array(n_px, sizeof *out->web);
    if (out->opening == NULL || out->web == NULL) return false;
    for (size_t i = 0; i < n_px; i++) {
        const size_t label = t->edge->label[i];
        uint16_t web = 0;
        if (label > 0) out->opening[i] = t->thick[2 * (label - 1)][i];
        for (size_t pass = label + 1; pass <= t->n_passes; pass++) {
            const uint16_t one = t->thick[2 * (pass - 1) + 1][i];
            if (web == 0 || one < web) web = one;
        }
        out->web[i] = web;
        out->n_drawn += label > 0;
    }
    out->openings = count(out->opening, n_px);
    out->webs = count(out->web, n_px);
    return out->openings != NULL && out->webs != NULL;
}

static sw_status measure_level(const sw_edge_field *edge, size_t width_px, size_t height_px, size_t n_passes,
                               double scale, sw_strokes *out, sw_note *note)
{
    tasks *const t = sw_alloc_array(1, sizeof *t);
    sw_strokes made = { .width_px = width_px, .height_px = height_px, .scale = scale };
    sw_status st = SW_NO_MEMORY;
    if (t == NULL) goto cleanup;
    *t = (tasks){ .edge = edge, .width_px = width_px, .height_px = height_px, .n_passes = n_passes };
    sw_parallel_bands(2 * n_passes, 1, measure_some, t);
    st = SW_OK;
    for (size_t i = 0; i < 2 * n_passes && st == SW_OK; i++) st = t->status[i];
    if (st == SW_OK && !gather(t, &made)) st = SW_NO_MEMORY;
    if (st != SW_OK) goto cleanup;
    *out = made;
    made = (sw_strokes){ 0 };
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "the thickness of strokes");
    for (size_t i = 0; t != NULL && i < 2 * SW_MAX_PASSES; i++) sw_free(t->thick[i]);
    sw_free(t);
    sw_strokes_free(&made);
    return st;
}

/* True if what is lost first is thicker than can be told. */
static bool is_capped(const sw_strokes *s, double min_opening_mm, double min_web_mm)
{
    const double limit = sw_strokes_limit(s, FINE_RATIO, min_opening_mm, min_web_mm);
    const double most_px = SW_GRANULE_MOST / (double)SW_GRANULE_STEP * s->scale;
    return limit >= most_px / sw_max(min_opening_mm, min_web_mm) * 0.999;
}

/* Every other pixel: at this thickness half a pixel is nothing. */
static uint8_t *halve(const uint8_t *label, size_t *width_px, size_t *height_px)
{
    const size_t w = *width_px / 2, h = *height_px / 2;
    uint8_t *const out = sw_alloc_raw(w * h, 1);
    if (out == NULL) return NULL;
    for (size_t y = 0; y < h; y++) {
        for (size_t x = 0; x < w; x++) out[y * w + x] = label[2 * y * *width_px + 2 * x];
    }
    *width_px = w;
    *height_px = h;
    return out;
}

sw_status sw_strokes_measure(const sw_separation *separation, const sw_picture *art, const sw_picture *edges,
                             bool is_linear, double min_opening_mm, double min_web_mm, sw_strokes *out, sw_note *note)
{
    sw_strokes made = { 0 };
    uint8_t *label = NULL;
    size_t width_px = separation->grid.width_px, height_px = separation->grid.height_px;
    double scale = 1.0;
    sw_edge_field edge = { .art = edges, .label = separation->label, .is_linear = is_linear };
    memcpy(edge.colour, separation->colour, sizeof edge.colour);
    core_colours(separation, art, edge.colour);
    sw_status st = measure_level(&edge, width_px, height_px, separation->n_passes, scale, &made, note);
    while (st == SW_OK && is_capped(&made, min_opening_mm, min_web_mm) &&
           sw_min_size(width_px, height_px) >= 2 * LEAST_SIDE_PX) {
        uint8_t *const half = halve(edge.label, &width_px, &height_px);
        sw_free(label);
        label = half;
        if (half == NULL) {
            st = sw_fail_memory(note, "the thickness of strokes");
            break;
        }
        sw_strokes_free(&made);
        edge.label = label;
        edge.art = NULL; /* nothing thin enough for its edges to matter */
        scale *= 2.0;
        st = measure_level(&edge, width_px, height_px, separation->n_passes, scale, &made, note);
    }
    if (st == SW_OK) {
        *out = made;
        made = (sw_strokes){ 0 };
    }
    sw_strokes_free(&made);
    sw_free(label);
    return st;
}
