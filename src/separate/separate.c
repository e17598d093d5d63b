/* Separation, step by step: planes, where a viewer looks, palette, labels, what is left of the palette, order. */
#include <math.h>
#include <string.h>

#include "separate/parts.h"

#define DEFAULT_PASSES 3u
#define MIN_SIDE_PX 24u /* of the coarsest level */

/* How quiet the labels are. Taste, set on four photos (portrait, cat, rocket at night, cup) at 2.1 m and 3 mm: the
 * least that keeps eyes, mouth, whiskers and lattice masts while hair, fur and wood grain calm down. */
#define SPECK_OPENINGS 5.0  /* a lone disc one tone off is given up below this size; see lambda_of */
#define SHAPE_OPENINGS 12.0 /* length of cut that one more shape is worth: it is one more part to hold and to peel */
#define COLOUR_QUIET 1.12   /* both times this in colour, where neighbours differ in more than lightness */
#define LINE_SPECK 0.5        /* in line both are less: lines are thin, and a short stroke is a stroke */
#define LINE_SHAPE 1.5
#define MIN_OPENINGS 1.3   /* a shape smaller than a disc of this size is given up in any case */
#define FULL_SIDE_OPENINGS 500.0 /* of an artwork this many openings wide and high; smaller ones are seen from nearer */
#define CAP_STEPS 1.0      /* no pixel pulls harder than this many steps squared */
#define MIXED_PART 16.0    /* spread in a coarse pixel that halves its weight: 1/16 of a step squared */
#define SLOPE_OPENINGS 1.3 /* slopes up to twice this become steps where a viewer looks ... */
#define SLOPE_STEPS 0.6    /* ... and that climb at least this part of a step */
#define STEP_OPENINGS 0.67 /* of an opening: islands are sought on a raster so fine */
#define COLOUR_LIFT 0.5    /* in colour, dark structure is lifted by this and light not at all: skin is not white */

typedef struct palette {
    size_t n;                              /* labels, ground included */
    sw_plane_colour colour[SW_MAX_LABELS]; /* what the data term compares with */
    sw_rgb8 shown[SW_MAX_LABELS];          /* what is painted */
    double bias[SW_MAX_LABELS];            /* of the data term */
    size_t paint[SW_MAX_LABELS];           /* index in opts->paints or SIZE_MAX */
    size_t n_planes;                       /* of the data term: 1 or 3 */
} palette;

/* ---- checks ---------------------------------------------------------------------------------------------------- */

static sw_status check(const sw_picture *art, const sw_grid *grid, const sw_separate_opts *opts, sw_note *note)
{
    if (opts->n_passes > SW_MAX_PASSES)
        return sw_fail(note, SW_BAD_USAGE, "%zu passes are too many; give 1 to %d", opts->n_passes, SW_MAX_PASSES);
    if (!sw_length_ok(opts->min_opening_mm, false))
        return sw_fail(note, SW_BAD_LENGTH, "the smallest opening must be a length above 0");
    if (!(grid->px_per_mm > 0.0) || art->width_px != grid->width_px || art->height_px != grid->height_px ||
        art->width_px == 0 || art->height_px == 0)
        return sw_fail(note, SW_BAD_LENGTH, "the picture does not have the size of the grid");
    if (opts->marks != NULL &&
        (opts->marks->width_px != grid->width_px || opts->marks->height_px != grid->height_px))
        return sw_fail(note, SW_BAD_LENGTH, "the marks do not have the size of the grid");
    return SW_OK;
}

static sw_status one_colour(sw_note *note)
{
    return sw_fail(note, SW_CANNOT_HOLD, "the picture is all one colour, so there is nothing to paint; "
                                         "give a picture with at least two");
}

/* ---- palettes -------------------------------------------------------------------------------------------------- */

static void histogram_of(const sw_planes *planes, uint64_t histogram[256])
{
    const size_t n_px = planes->width_px * planes->height_px;
    uint32_t parts[4][256] = { { 0 } }; /* four, so that equal neighbours do not wait for each other */
    for (size_t i = 0; i < n_px; i++) parts[i % 4][planes->at[0][i]]++;
    for (size_t v = 0; v < 256; v++)
        histogram[v] = (uint64_t)parts[0][v] + parts[1][v] + parts[2][v] + parts[3][v];
}

static double mean_between(const uint64_t histogram[256], size_t first, size_t last)
{
    double n = 0.0, sum = 0.0;
    for (size_t v = first; v <= last; v++) {
        n += (double)histogram[v];
        sum += (double)histogram[v] * (double)v;
    }
    return n > 0.0 ? sum / n : (double)first;
}

/* Sort labels 1.. by distance of lightness from label 0, the lighter first where two are as far: on a light wall that
 * is light to dark, on a dark wall dark to light; in both cases each tone lies inside the one before. */
static bool comes_before(const palette *p, size_t one, size_t two)
{
    const double base = p->colour[0].at[0], l1 = p->colour[one].at[0], l2 = p->colour[two].at[0];
    const double d1 = fabs(l1 - base), d2 = fabs(l2 - base);
    return d1 < d2 || (d1 == d2 && l1 > l2);
}

static void swap_labels(palette *p, size_t one, size_t two)
{
    const sw_plane_colour colour = p->colour[one];
    const sw_rgb8 shown = p->shown[one];
    const size_t paint = p->paint[one];
    p->colour[one] = p->colour[two];
    p->shown[one] = p->shown[two];
    p->paint[one] = p->paint[two];
    p->colour[two] = colour;
    p->shown[two] = shown;
    p->paint[two] = paint;
}

static void sort_labels(palette *p)
{
    for (size_t i = 2; i < p->n; i++) {
        for (size_t k = i; k > 1 && comes_before(p, k, k - 1); k--) swap_labels(p, k, k - 1);
    }
}

/* Paints for tone steps: in order of lightness, so that a darker step never gets a lighter paint; of all such choices
 * the one nearest in lightness. Dynamic programming over (step, paint). */
static void paints_for_tone(palette *p, const sw_separate_opts *opts, const double *share)
{
    size_t step[SW_MAX_LABELS] = { 0 }, paint[64] = { 0 }, n_steps = 0;
    const size_t n_paints = sw_min_size(opts->n_paints, SW_ARRAY_LEN(paint));
    double light[64] = { 0 }, cost[SW_MAX_LABELS][65];
    for (size_t i = 1; i < p->n; i++) { /* steps, darkest first */
        size_t k = n_steps++;
        for (; k > 0 && p->colour[step[k - 1]].at[0] > p->colour[i].at[0]; k--) step[k] = step[k - 1];
        step[k] = i;
    }
    for (size_t i = 0; i < n_paints; i++) {
        const double l = sw_plane_colour_from_rgb8(opts->paints[i]).at[0];
        size_t k = i;
        for (; k > 0 && light[k - 1] > l; k--) {
            light[k] = light[k - 1];
            paint[k] = paint[k - 1];
        }
        light[k] = l;
        paint[k] = i;
    }
    /* cost[s][j]: steps s.. from paints j.. */
    for (size_t j = 0; j <= n_paints; j++) cost[n_steps][j] = 0.0;
    for (size_t s = n_steps; s-- > 0;) {
        cost[s][n_paints] = INFINITY;
        for (size_t j = n_paints; j-- > 0;) {
            const double d = p->colour[step[s]].at[0] - light[j];
            cost[s][j] = sw_min(cost[s][j + 1], share[step[s]] * d * d + cost[s + 1][j + 1]);
        }
    }
    for (size_t s = 0, j = 0; s < n_steps && j < n_paints; j++) {
        if (cost[s][j] >= cost[s][j + 1]) continue; /* as good without this paint */
        p->paint[step[s]] = paint[j];
        p->shown[step[s]] = opts->paints[paint[j]];
        s++;
    }
}

/* Move the cut-offs for what the classes will show, and with them the biases that put them there: between neighbours the
 * cut-off t is where both distances with their biases are the same. */
static void refine_tone(const sw_planes *planes, const sw_separate_opts *opts, palette *p, const uint8_t *old_cuts)
{
    size_t at[SW_MAX_LABELS] = { 0 };
    const sw_rgb8 *fixed[SW_MAX_LABELS];
    uint8_t cuts[SW_MAX_LABELS];
    for (size_t i = 0; i < p->n; i++) { /* labels, darkest first */
        size_t k = i;
        for (; k > 0 && p->colour[at[k - 1]].at[0] > p->colour[i].at[0]; k--) at[k] = at[k - 1];
        at[k] = i;
    }
    for (size_t i = 0; i < p->n; i++)
        fixed[i] = at[i] == 0 ? &opts->ground : p->paint[at[i]] != SIZE_MAX ? &p->shown[at[i]] : NULL;
    memcpy(cuts, old_cuts, p->n - 1);
    sw_cuts_refine(planes, p->n, fixed, cuts);
    for (size_t i = 0; i + 1 < p->n; i++) {
        const double one = p->colour[at[i]].at[0], two = p->colour[at[i + 1]].at[0];
        const double t = cuts[i] == old_cuts[i] ? (one + two) / 2.0 : (double)cuts[i] + 0.5;
        p->bias[at[i + 1]] = p->bias[at[i]] + (t - one) * (t - one) - (t - two) * (t - two);
    }
}

static sw_status palette_tone(const sw_planes *planes, const sw_separate_opts *opts, size_t n_passes, palette *p,
                              sw_note *note)
{
    uint64_t histogram[256];
    uint8_t cuts[SW_MAX_LABELS];
    double share[SW_MAX_LABELS] = { 0.0 };
    histogram_of(planes, histogram);
    p->n = sw_cluster_tone(histogram, n_passes + 1, cuts);
    p->n_planes = 1;
    if (p->n < 2) return one_colour(note);
    const double ground = sw_plane_colour_from_rgb8(opts->ground).at[0];
    size_t nearest = 0;
    for (size_t i = 0; i < p->n; i++) {
        const size_t first = i == 0 ? 0 : (size_t)cuts[i - 1] + 1, last = i + 1 == p->n ? 255 : cuts[i];
        p->colour[i].at[0] = mean_between(histogram, first, last);
        if (fabs(p->colour[i].at[0] - ground) < fabs(p->colour[nearest].at[0] - ground)) nearest = i;
    }
    swap_labels(p, 0, nearest);
    p->shown[0] = opts->ground; /* the bare wall stands for the tone nearest to it */
    sort_labels(p);
    for (size_t i = 0; i < p->n; i++) { /* pixels nearest to each step, for the choice of paints */
        for (size_t v = 0; v < 256; v++) {
            bool is_mine = true;
            for (size_t k = 0; k < p->n; k++)
                is_mine &= fabs((double)v - p->colour[i].at[0]) <= fabs((double)v - p->colour[k].at[0]);
            if (is_mine) share[i] += (double)histogram[v];
        }
    }
    if (opts->n_paints > 0) paints_for_tone(p, opts, share);
    if (!opts->keeps_cuts) refine_tone(planes, opts, p, cuts);
    return SW_OK;
}

static sw_status palette_colour(const sw_planes *planes, const sw_separate_opts *opts, size_t n_passes, palette *p,
                                sw_note *note)
{
    sw_colour_cells cells = { 0 };
    size_t picked[SW_MAX_PASSES], n_picked = 0;
    sw_status st = sw_colour_cells_make(planes, &cells, note);
    if (st != SW_OK) goto cleanup;
    if (cells.n < 2) {
        st = one_colour(note);
        goto cleanup;
    }
    p->n_planes = SW_MAX_PLANES;
    p->colour[0] = sw_plane_colour_from_rgb8(opts->ground);
    if (opts->n_paints > 0) {
        st = sw_pick_paints(&cells, opts->ground, opts->paints, opts->n_paints, n_passes, picked, &n_picked, note);
        p->n = n_picked + 1;
        for (size_t k = 0; k < n_picked; k++) {
            p->paint[k + 1] = picked[k];
            p->shown[k + 1] = opts->paints[picked[k]];
            p->colour[k + 1] = sw_plane_colour_from_rgb8(opts->paints[picked[k]]);
        }
    } else {
        st = sw_cluster_colour(&cells, n_passes + 1, 1, p->colour, &p->n, NULL, note);
    }
    sort_labels(p);
cleanup:
    sw_free(cells.at);
    return st;
}

/* Lines are the last label; shading, if asked for, is a tone under them. Colours are places on the scales of
 * sw_line_find, as far below the threshold as above it. */
static sw_status palette_line(sw_planes *planes, const sw_separate_opts *opts, palette *p, sw_note *note)
{
    const bool has_shading = opts->n_passes >= 2 && (opts->n_paints == 0 || opts->n_paints >= 2);
    SW_TRY(sw_line_find(planes, has_shading, note));
    p->n = has_shading ? 3 : 2;
    p->n_planes = has_shading ? 2 : 1;
    p->colour[0] = (sw_plane_colour){ { 64.0, 64.0 } };
    p->colour[1] = has_shading ? (sw_plane_colour){ { 64.0, 192.0 } } : (sw_plane_colour){ { 192.0 } };
    p->colour[2] = (sw_plane_colour){ { 192.0, 128.0 } };
    if (opts->n_paints == 0) return SW_OK;
    size_t dark = 0, light = 0; /* lines in the darkest paint, shading in the lightest */
    for (size_t i = 1; i < opts->n_paints; i++) {
        const float l = sw_oklab_from_rgb8(opts->paints[i]).L;
        if (l < sw_oklab_from_rgb8(opts->paints[dark]).L) dark = i;
        if (l > sw_oklab_from_rgb8(opts->paints[light]).L) light = i;
    }
    p->paint[p->n - 1] = dark;
    p->shown[p->n - 1] = opts->paints[dark];
    if (!has_shading) return SW_OK;
    p->paint[1] = light;
    p->shown[1] = opts->paints[light];
    return SW_OK;
}

/* ---- lambda ---------------------------------------------------------------------------------------------------- */

/* Squared distance of a label to the one nearest to it, mean over labels. */
static double step_sq_of(const palette *p)
{
    double step_sq = 0.0;
    for (size_t i = 0; i < p->n; i++) {
        double nearest = INFINITY;
        for (size_t k = 0; k < p->n; k++) {
            double d = 0.0;
            for (size_t plane = 0; plane < p->n_planes; plane++) {
                const double one = p->colour[i].at[plane] - p->colour[k].at[plane];
                d += one * one;
            }
            if (i != k) nearest = sw_min(nearest, d);
        }
        step_sq += nearest / (double)p->n;
    }
    return step_sq;
}

/* How much of the quiet above an artwork of this size takes: people stand back about as far as it is wide, so a shape
 * counts by its share of the picture. 1 at 1.5 m and 3 mm openings; next to nothing for a sheet of paper. */
static double quiet_of(const sw_grid *grid, const sw_separate_opts *opts)
{
    const double side_mm = sqrt((double)grid->width_px * (double)grid->height_px) / grid->px_per_mm;
    return sw_min(1.0, side_mm / (FULL_SIDE_OPENINGS * opts->min_opening_mm));
}

/* A lone disc of diameter d in a neighbour tone at squared distance c is given up when lambda > c * d / 4. Detail 0.5
 * gives up SPECK_OPENINGS; detail 0 four times, detail 1 nothing. */
static double lambda_of(double step_sq, const sw_grid *grid, const sw_separate_opts *opts)
{
    const double detail = opts->has_detail || opts->detail_ratio > 0.0 ? opts->detail_ratio : 0.5;
    const double openings = opts->kind == SW_SEPARATE_LINE     ? LINE_SPECK
                            : opts->kind == SW_SEPARATE_COLOUR ? COLOUR_QUIET * SPECK_OPENINGS
                                                               : SPECK_OPENINGS;
    const double d_mm = quiet_of(grid, opts) * openings * opts->min_opening_mm * pow(16.0, 0.5 - detail);
    return detail >= 1.0 ? 0.0 : step_sq * sw_px_from_mm(grid, d_mm) / 4.0;
}

static size_t levels_of(const sw_grid *grid)
{
    size_t n = 1;
    while (n < 6 && (sw_min_size(grid->width_px, grid->height_px) >> n) >= MIN_SIDE_PX) n++;
    return n;
}

/* ---- after the labels ------------------------------------------------------------------------------------------- */

typedef struct renumber_task {
    uint8_t *label;
    size_t width;
    const uint8_t *place;
} renumber_task;

static void renumber_rows(size_t begin, size_t end, void *ctx)
{
    const renumber_task *const t = ctx;
    for (size_t i = begin * t->width; i < end * t->width; i++) t->label[i] = t->place[t->label[i]];
}

/* Label k becomes place[k], in the palette and on the grid. */
static void renumber(palette *p, const sw_grid *grid, uint8_t *label, const uint8_t *place, size_t n)
{
    const palette old = *p;
    bool is_same = n == p->n;
    for (size_t k = 0; k < old.n; k++) {
        if (k > 0 && place[k] == 0) continue;
        is_same &= place[k] == k;
        p->colour[place[k]] = old.colour[k];
        p->shown[place[k]] = old.shown[k];
        p->paint[place[k]] = old.paint[k];
    }
    p->n = n;
    if (!is_same) sw_parallel_rows(grid->height_px, renumber_rows, &(renumber_task){ label, grid->width_px, place });
}

/* Drop labels that no pixel has; label 0 stays in any case. */
static void close_ranks(palette *p, const sw_grid *grid, uint8_t *label, const uint64_t *count)
{
    uint8_t place[SW_MAX_LABELS] = { 0 };
    size_t n = 1;
    for (size_t i = 1; i < p->n; i++) place[i] = count[i] == 0 ? 0 : (uint8_t)n++;
    renumber(p, grid, label, place, n);
}

typedef struct sum_task {
    const sw_planes *planes;
    const uint8_t *label;
    uint64_t (*row)[SW_MAX_LABELS][SW_MAX_PLANES + 1];
} sum_task;

static uint32_t sum_bytes(const uint8_t *at, size_t n) /* of less than a row, so it fits */
{
    uint32_t sum = 0;
    for (size_t i = 0; i < n; i++) sum += at[i];
    return sum;
}

static void sum_rows(size_t begin, size_t end, void *ctx)
{
    const sum_task *const t = ctx;
    for (size_t y = begin; y < end; y++) {
        const uint8_t *const label = t->label + y * t->planes->width_px;
        memset(t->row[y], 0, sizeof t->row[y]);
        for (size_t x = 0, run_end; x < t->planes->width_px; x = run_end) { /* runs of one label are long */
            uint64_t *const sum = t->row[y][label[x]];
            for (run_end = x + 1; run_end < t->planes->width_px && label[run_end] == label[x];) run_end++;
            sum[SW_MAX_PLANES] += run_end - x;
            for (size_t p = 0; p < t->planes->n; p++)
                sum[p] += sum_bytes(t->planes->at[p] + y * t->planes->width_px + x, run_end - x);
        }
    }
}

/* Count each label and set its shown colour, unless a paint was given: for flat colours the one nearest to its pixels,
 * for tones their mean, which takes no side where one tone holds skin and sky. */
static sw_status show_labels(const sw_planes *planes, const uint8_t *label, bool is_flat, palette *p, uint64_t *count,
                             sw_note *note)
{
    uint64_t sum[SW_MAX_LABELS][SW_MAX_PLANES + 1] = { { 0 } };
    sw_plane_colour colour[SW_MAX_LABELS] = { 0 };
    sum_task task = { planes, label, sw_alloc_raw(planes->height_px, sizeof *task.row) };
    if (task.row == NULL) return sw_fail_memory(note, "the mean colours");
    sw_parallel_rows(planes->height_px, sum_rows, &task);
    for (size_t y = 0; y < planes->height_px; y++) {
        for (size_t i = 0; i < p->n; i++) {
            for (size_t k = 0; k <= SW_MAX_PLANES; k++) sum[i][k] += task.row[y][i][k];
        }
    }
    sw_free(task.row);
    for (size_t i = 0; i < p->n; i++) {
        const double n = (double)sum[i][SW_MAX_PLANES];
        count[i] = sum[i][SW_MAX_PLANES];
        for (size_t k = 0; k < SW_MAX_PLANES && count[i] > 0; k++) colour[i].at[k] = (double)sum[i][k] / n;
    }
    if (is_flat) SW_TRY(sw_label_medians(planes, label, p->n, colour, note));
    for (size_t i = 1; i < p->n; i++) {
        if (count[i] > 0 && p->paint[i] == SIZE_MAX) p->shown[i] = sw_rgb8_from_plane_colour(colour[i]);
    }
    return SW_OK;
}

typedef struct spread_task {
    const sw_attention *attention;
    sw_separation *out;
} spread_task;

static void spread_rows(size_t begin, size_t end, void *ctx)
{
    const spread_task *const t = ctx;
    for (size_t y = begin; y < end; y++) {
        const uint8_t *const row = t->attention->salience + (y >> t->attention->shift) * t->attention->width_px;
        uint8_t *const out = t->out->salience + y * t->out->grid.width_px;
        for (size_t x = 0; x < t->out->grid.width_px; x++) out[x] = row[x >> t->attention->shift];
    }
}

/* ---- the stage --------------------------------------------------------------------------------------------------- */

static sw_status palette_make(sw_planes *planes, const sw_separate_opts *opts, palette *p,
                              sw_note *note)
{
    size_t n_passes = opts->n_passes == 0 ? DEFAULT_PASSES : opts->n_passes;
    if (opts->n_paints > 0) n_passes = sw_min_size(n_passes, opts->n_paints);
    *p = (palette){ 0 };
    for (size_t i = 0; i < SW_MAX_LABELS; i++) p->paint[i] = SIZE_MAX;
    p->shown[0] = opts->ground;
    if (opts->kind == SW_SEPARATE_LINE) return palette_line(planes, opts, p, note);
    if (opts->kind == SW_SEPARATE_TONE) return palette_tone(planes, opts, n_passes, p, note);
    return palette_colour(planes, opts, n_passes, p, note);
}

static sw_status label_all(const sw_planes *planes, const sw_attention *attention, const palette *p,
                           const sw_separate_opts *opts, sw_separation *made, sw_note *note)
{
    sw_planes view = *planes;
    view.n = p->n_planes;
    const double step_sq = step_sq_of(p);
    const double shape = opts->kind == SW_SEPARATE_LINE     ? LINE_SHAPE
                         : opts->kind == SW_SEPARATE_COLOUR ? COLOUR_QUIET * SHAPE_OPENINGS
                                                            : SHAPE_OPENINGS;
    sw_label_task task = { .planes = &view, .n_labels = p->n, .attention = opts->kind == SW_SEPARATE_LINE ? NULL : attention,
                           .lambda = lambda_of(step_sq, &made->grid, opts),
                           .mixed_sq = step_sq / MIXED_PART, .cap_sq = step_sq * CAP_STEPS,
                           .min_area_px = 0.785 * pow(sw_px_from_mm(&made->grid, MIN_OPENINGS * opts->min_opening_mm), 2),
                           .shape_px = sw_px_from_mm(&made->grid, quiet_of(&made->grid, opts) * shape * opts->min_opening_mm),
                           .slope_px = sw_px_from_mm(&made->grid, SLOPE_OPENINGS * opts->min_opening_mm),
                           .slope_step = SLOPE_STEPS * sqrt(step_sq),
                           .n_levels = levels_of(&made->grid) };
    memcpy(task.colour, p->colour, sizeof task.colour);
    memcpy(task.bias, p->bias, sizeof task.bias);
    return sw_labels_make(&task, made->label, note);
}

sw_status sw_separate(const sw_picture *art, const sw_grid *grid, const sw_separate_opts *opts,
                      const sw_progress *progress, sw_separation *out, sw_note *note)
{
    sw_separation made = { .grid = *grid };
    sw_planes planes = { 0 }, colours = { 0 };
    sw_attention attention = { 0 };
    palette p;
    uint64_t count[SW_MAX_LABELS];
    const size_t n_px = grid->width_px * grid->height_px;
    sw_status st = check(art, grid, opts, note);
    if (st != SW_OK) goto cleanup;
    st = sw_planes_make(art, SW_MAX_PLANES, &planes, note);
    if (st != SW_OK) goto cleanup;
    sw_progress_tell(progress, "separating", 0.0);
    sw_planes seen = planes;
    if (opts->kind != SW_SEPARATE_COLOUR) seen.n = 1; /* in tone, structure of colour alone cannot be shown */
    st = sw_attention_make(&seen, opts->marks, &attention, note);
    if (st != SW_OK) goto cleanup;
    st = SW_NO_MEMORY;
    made.label = sw_alloc_raw(n_px, 1);
    made.salience = sw_alloc_raw(n_px, 1);
    if (made.label == NULL || made.salience == NULL) goto cleanup;
    st = palette_make(&planes, opts, &p, note);
    if (st != SW_OK) goto cleanup;
    if (opts->kind == SW_SEPARATE_TONE) sw_attention_lift(&attention, 1.0, 1.0, &planes);
    if (opts->kind == SW_SEPARATE_COLOUR) sw_attention_lift(&attention, 0.0, COLOUR_LIFT, &planes);
    st = label_all(&planes, &attention, &p, opts, &made, note);
    if (st != SW_OK) goto cleanup;
    if (opts->kind == SW_SEPARATE_LINE) { /* its first plane holds lines by now, not colours */
        st = sw_planes_make(art, SW_MAX_PLANES, &colours, note);
        if (st != SW_OK) goto cleanup;
    }
    st = show_labels(colours.n > 0 ? &colours : &planes, made.label, opts->kind == SW_SEPARATE_COLOUR, &p, count, note);
    if (st != SW_OK) goto cleanup;
    st = sw_attention_gaze(&attention, note);
    if (st != SW_OK) goto cleanup;
    close_ranks(&p, grid, made.label, count);
    if (p.n < 2) {
        st = sw_fail(note, SW_CANNOT_HOLD, "nothing is left to paint: no part of the picture differs from the wall at "
                                           "this size; a larger width or more --detail may help");
        goto cleanup;
    }
    if (opts->kind == SW_SEPARATE_COLOUR) {
        uint8_t place[SW_MAX_LABELS];
        const double opening_px = sw_px_from_mm(grid, opts->min_opening_mm);
        const sw_order_task order = { .label = made.label, .width = grid->width_px, .height = grid->height_px,
                                      .n_passes = p.n - 1, .colour = p.shown, .attention = &attention,
                                      .web_px = sw_px_from_mm(grid, sw_max(opts->min_web_mm, opts->min_opening_mm)),
                                      .step_px = (size_t)sw_max(1.0, STEP_OPENINGS * opening_px) };
        st = sw_order_find(&order, place, note);
        if (st != SW_OK) goto cleanup;
        renumber(&p, grid, made.label, place, p.n);
    }
    sw_parallel_rows(grid->height_px, spread_rows, &(spread_task){ &attention, &made });
    made.n_passes = p.n - 1;
    memcpy(made.colour, p.shown, sizeof made.colour);
    memcpy(made.paint_index, p.paint, sizeof made.paint_index);
    *out = made;
    made = (sw_separation){ 0 };
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "the labels");
    sw_planes_free(&colours);
    sw_planes_free(&planes);
    sw_attention_free(&attention);
    sw_separation_free(&made);
    return st;
}

void sw_separation_free(sw_separation *separation)
{
    if (separation == NULL) return;
    sw_free(separation->label);
    sw_free(separation->salience);
    *separation = (sw_separation){ 0 };
}
