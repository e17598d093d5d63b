/* Labels by threshold dynamics: sum of weighted squared colour distance plus lambda times boundary length, lessened
 * step by step.
 *
 * One step blurs the indicator of every label and gives each pixel the label of least
 *     weight * distance^2 - c * blurred indicator.
 * The blur is two box filters along each axis with mirrored edges, so as a matrix it is symmetric and has no negative
 * eigenvalue; the energy is then concave in the relaxed labels, the step minimises its tangent, and the energy cannot
 * rise. Everything is in whole numbers, so this holds exactly and for any number of threads.
 * Coarse to fine: a step moves a boundary by about the blur's width, and a blur narrower than 1.5 px does not move it
 * at all, so far moves happen on coarse levels.
 * Sources: Merriman, Bence and Osher 1992; Esedoglu and Otto 2015 (the energy, several phases). */
#include <assert.h>
#include <math.h>
#include <string.h>

#include "separate/level.h"
#include "separate/tile.h"

/* The inner loops are a few vector instructions long once unrolled, which gcc 12 does at -O3 only. */
#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC optimize("O3")
#endif

#define FINE_LEVELS 2u
#define CORE_PX 1u /* parts thinner than three pixels of a level are asked whether they pay, see sw_regions_merge */
#define MOST_SHIFT 6
#define MOST_VALUE 2.5e8       /* data terms and blurs are scaled up to this; two of them differ by less than 2^31 */
#define MAX_LAMBDA 1.5e6       /* plane units^2 * px; keeps values below 2^31 */
/* Steps of a level: until a step gains less than this part of what they gained so far (4 to 15 are usual), and no
 * more than so many pixels in all. */
#define STOP_RATIO 0.001
#define MIN_STEPS 6u
#define MAX_STEPS 48u
#define MAX_STEP_PX 72000000u

typedef struct step_task {
    const sw_label_task *task;
    const sw_level *level;
    int32_t c;             /* of one unit of blurred indicator */
    int32_t shift;         /* data terms count 2^shift units, so that c is a whole number to within a small part */
    size_t box;
    bool is_present_only;  /* labels that occur nowhere near a pixel are not tried there */
    const uint8_t *from;
    uint8_t *to;           /* what from was before that step */
    size_t n_across, n_down;      /* tiles */
    const sw_patch *was_changed;  /* per tile, in the step before */
    sw_patch *is_changed;
    int64_t *gain;                /* per tile: what the step lessens the tangent by, at most the fall of the energy */
} step_task;

/* ---- one tile ----------------------------------------------------------------------------------------------- */

/* Whether a pixel keeps its label where all that its blur sees is of that label: at most the data term speaks against it,
 * and the whole blur for it. */
static bool is_kept_inside(const step_task *step, const sw_tile *t)
{
    if (step->is_present_only) return true;
    const int64_t box_sq = (int64_t)(step->box * step->box);
    const int64_t weight = sw_level_most_weight(step->level, t->x, t->y, t->width, t->height);
    return ((weight * step->level->cap) << step->shift) <= box_sq * box_sq * step->c;
}

/* The pixels of a row: which label is best, and at what value; the old label's value. All of one width: vectors. */
typedef struct choice {
    int32_t was[SW_TILE_W], label[SW_TILE_W], value[SW_TILE_W], old_value[SW_TILE_W];
    int32_t changed[SW_TILE_W]; /* a column: not 0 if a pixel of it changed in any row so far */
} choice;

/* n: whole vectors, so that no pixel is left over for a slower loop. */
static inline void try_label(const step_task *step, int32_t label, const int32_t *restrict data,
                             const uint16_t *restrict blurred, size_t n, choice *restrict best)
{
    const int32_t least_blurred = step->is_present_only ? 1 : 0; /* a label nowhere near does not begin anew */
    const int32_t c = step->c, shift = step->shift;
    for (size_t x = 0; x < n / SW_LANES * SW_LANES; x++) {
        const int32_t near = blurred[x], all = (data[x] << shift) - c * near;
        const int32_t value = near < least_blurred ? INT32_MAX : all, least = best->value[x];
        const int32_t is_less = -(value < least), is_own = -(best->was[x] == label); /* masks: no store is a condition's */
        best->old_value[x] |= value & is_own;
        best->label[x] = (label & is_less) | (best->label[x] & ~is_less);
        best->value[x] = value < least ? value : least;
    }
}

/* Pixels begin..end - 1 of row y of the tile get their best labels; one changes only for less, never for the same. Returns
 * what is gained, 0 if none changed. */
SW_WIDE static int64_t choose_row(const step_task *step, const sw_tile *t, size_t y, size_t begin, size_t end,
                                  choice *restrict best)
{
    static const uint16_t nowhere[SW_TILE_W];
    int32_t data[SW_MAX_LABELS][SW_ROW_PX];
    const uint8_t *const old = sw_tile_row(t, y) + begin;
    uint8_t *const out = step->to + (t->y + y) * step->level->planes->width_px + t->x + begin;
    const size_t n = end - begin, whole = (n + SW_LANES - 1) / SW_LANES * SW_LANES;
    int64_t gain = 0;
    sw_level_data(step->level, t->x + begin, t->y + y, n, data);
    for (size_t x = 0; x < whole; x++) {
        best->was[x] = best->label[x] = old[x];
        best->value[x] = INT32_MAX;
        best->old_value[x] = 0;
    }
    for (size_t label = 0; label < step->level->n_labels; label++) {
        const bool is_present = (t->present >> label & 1u) != 0;
        if (is_present || !step->is_present_only)
            try_label(step, (int32_t)label, data[label], is_present ? t->blurred[label][y] + begin : nowhere, whole, best);
    }
    for (size_t x = 0; x < n; x++) gain += best->old_value[x] - best->value[x]; /* NOLINT: the analyser loses what loops fill */
    if (gain == 0) return 0;
    for (size_t x = 0; x < n; x++) {
        best->changed[begin + x] |= best->old_value[x] - best->value[x];
        out[x] = (uint8_t)(best->old_value[x] > best->value[x] ? best->label[x] : best->was[x]);
    }
    return gain;
}

/* Give each pixel of the tile its best label. Returns where pixels changed, in the whole tile that this is a patch of. */
static sw_patch tile_choose(const step_task *step, const sw_tile *t, bool is_kept, int64_t *gain)
{
    choice best;
    const size_t x0 = t->x % SW_TILE_W, y0 = t->y % SW_TILE_H;
    size_t top = t->height, bottom = 0, left = 0, right = t->width;
    *gain = 0;
    memset(best.changed, 0, sizeof best.changed);
    for (size_t y = 0; y < t->height; y++) {
        size_t begin = 0, end = t->width;
        if (is_kept) sw_tile_mixed(t, y, &begin, &end);
        const int64_t more = begin < end ? choose_row(step, t, y, begin, end, &best) : 0;
        if (more == 0) continue;
        *gain += more;
        top = sw_min_size(top, y);
        bottom = y + 1;
    }
    if (bottom == 0) return (sw_patch){ 0 };
    while (best.changed[left] == 0) left++;
    while (best.changed[right - 1] == 0) right--;
    return (sw_patch){ (uint8_t)(x0 + left), (uint8_t)(y0 + top), (uint8_t)(x0 + right), (uint8_t)(y0 + bottom) };
}

/* ---- a step -------------------------------------------------------------------------------------------------- */

static size_t tile_width(const step_task *step, size_t across)
{
    return sw_min_size(SW_TILE_W, step->level->planes->width_px - across * SW_TILE_W);
}

static size_t tile_height(const step_task *step, size_t down)
{
    return sw_min_size(SW_TILE_H, step->level->planes->height_px - down * SW_TILE_H);
}

/* Widen *begin..*end by from..to grown by halo, as much of it as lies in 0..n. */
static void widen(ptrdiff_t from, ptrdiff_t to, ptrdiff_t halo, size_t n, ptrdiff_t *begin, ptrdiff_t *end)
{
    from = from < halo ? 0 : from - halo;
    to = to + halo > (ptrdiff_t)n ? (ptrdiff_t)n : to + halo;
    *begin = from < *begin ? from : *begin;
    *end = to > *end ? to : *end;
}

/* The part of a tile near changes of the step before. Anywhere else everything is as it was then, and would come out as it
 * did then. */
static sw_patch patch_near_changes(const step_task *step, size_t across, size_t down)
{
    const ptrdiff_t halo = (ptrdiff_t)step->box - 1;
    const size_t width = tile_width(step, across), height = tile_height(step, down);
    ptrdiff_t x0 = SW_TILE_W, x1 = 0, y0 = SW_TILE_H, y1 = 0;
    for (size_t v = down == 0 ? 0 : down - 1; v <= down + 1 && v < step->n_down; v++) {
        for (size_t u = across == 0 ? 0 : across - 1; u <= across + 1 && u < step->n_across; u++) {
            const sw_patch *const p = &step->was_changed[v * step->n_across + u];
            const ptrdiff_t dx = ((ptrdiff_t)u - (ptrdiff_t)across) * (ptrdiff_t)SW_TILE_W;
            const ptrdiff_t dy = ((ptrdiff_t)v - (ptrdiff_t)down) * (ptrdiff_t)SW_TILE_H;
            const bool is_near = p->x0 < p->x1 && dx + p->x0 - halo < (ptrdiff_t)width && dx + p->x1 + halo > 0 &&
                                 dy + p->y0 - halo < (ptrdiff_t)height && dy + p->y1 + halo > 0;
            if (!is_near) continue;
            widen(dx + p->x0, dx + p->x1, halo, width, &x0, &x1);
            widen(dy + p->y0, dy + p->y1, halo, height, &y0, &y1);
        }
    }
    if (x0 >= x1) return (sw_patch){ 0 };
    return (sw_patch){ (uint8_t)((size_t)x0 / SW_LANES * SW_LANES), (uint8_t)y0,
                       (uint8_t)sw_min_size(((size_t)x1 + SW_LANES - 1) / SW_LANES * SW_LANES, width), (uint8_t)y1 };
}

/* What the step before changed in a tile, in `to` as well: there it is as it was before that. */
static void tile_copy(const step_task *step, size_t across, size_t down)
{
    const size_t width = step->level->planes->width_px;
    const sw_patch *const p = &step->was_changed[down * step->n_across + across];
    for (size_t y = p->y0; y < p->y1; y++) {
        const size_t at = (down * SW_TILE_H + y) * width + across * SW_TILE_W + p->x0;
        memcpy(step->to + at, step->from + at, (size_t)p->x1 - p->x0);
    }
}

static void copy_tiles(size_t begin, size_t end, void *ctx)
{
    const step_task *const step = ctx;
    for (size_t down = begin; down < end; down++) {
        for (size_t across = 0; across < step->n_across; across++) tile_copy(step, across, down);
    }
}

static void step_tiles(size_t begin, size_t end, void *ctx)
{
    const step_task *const step = ctx;
    const sw_planes *const planes = step->level->planes;
    sw_tile t;
    for (size_t down = begin; down < end; down++) {
        for (size_t across = 0; across < step->n_across; across++) {
            const size_t at = down * step->n_across + across;
            const sw_patch patch = patch_near_changes(step, across, down);
            step->is_changed[at] = (sw_patch){ 0 };
            step->gain[at] = 0;
            tile_copy(step, across, down);
            if (patch.x0 == patch.x1) continue;
            sw_tile_load(step->from, planes->width_px, planes->height_px, step->box, across * SW_TILE_W, down * SW_TILE_H,
                         patch, &t);
            const bool is_kept = is_kept_inside(step, &t);
            if (is_kept) sw_tile_crop(&t);
            if (t.height == 0) continue;
            sw_tile_blur(&t);
            step->is_changed[at] = tile_choose(step, &t, is_kept, &step->gain[at]);
        }
    }
}

/* ---- energy, for those who watch ------------------------------------------------------------------------------ */

static int64_t energy_of(const step_task *step, const sw_tile *t)
{
    const int32_t full = (int32_t)(step->box * step->box * step->box * step->box);
    int32_t data[SW_MAX_LABELS][SW_ROW_PX];
    int64_t energy = 0;
    for (size_t y = 0; y < t->height; y++) {
        sw_level_data(step->level, t->x, t->y + y, t->width, data);
        for (size_t x = 0; x < t->width; x++) {
            const uint8_t label = sw_tile_row(t, y)[x];
            energy += 2 * ((int64_t)data[label][x] << step->shift) + (int64_t)step->c * (full - t->blurred[label][y][x]);
        }
    }
    return energy;
}

static void energy_tiles(size_t begin, size_t end, void *ctx)
{
    const step_task *const step = ctx;
    const sw_planes *const planes = step->level->planes;
    sw_tile t;
    for (size_t down = begin; down < end; down++) {
        for (size_t across = 0; across < step->n_across; across++) {
            const sw_patch whole = { 0, 0, (uint8_t)tile_width(step, across), (uint8_t)tile_height(step, down) };
            sw_tile_load(step->from, planes->width_px, planes->height_px, step->box, across * SW_TILE_W, down * SW_TILE_H,
                         whole, &t);
            sw_tile_blur(&t);
            step->gain[down * step->n_across + across] = energy_of(step, &t);
        }
    }
}

/* ---- a level, and all of them ---------------------------------------------------------------------------------- */

static int64_t sum_of(const int64_t *values, size_t n)
{
    int64_t sum = 0;
    for (size_t i = 0; i < n; i++) sum += values[i];
    return sum;
}

/* c from lambda: along a straight edge the blur takes from each side E|X| / 2, X being one coordinate of the blur,
 * and for two boxes of n pixels E|X| = (n^2 - 1) / (3 n). */
static double c_from_lambda(double lambda, size_t index, size_t box)
{
    const double n = (double)box, mean_reach = (n * n - 1.0) / (3.0 * n);
    const double here = sw_clamp(lambda, 0.0, MAX_LAMBDA) / (double)((size_t)1 << index);
    return 2.0 * here / mean_reach * SW_WEIGHT_ONE * SW_FINE * SW_FINE / (n * n * n * n);
}

/* Whole numbers are too coarse for a small c: data terms and c alike are counted in units 2^shift finer where there is
 * room. */
static int32_t shift_of(const sw_label_task *task, double c, size_t box)
{
    const double n = (double)box;
    const double most = sw_max(c * n * n * n * n, sw_level_cap(task) * SW_FINE * SW_FINE * UINT8_MAX);
    int32_t shift = 0;
    while (shift < MOST_SHIFT && most * (double)(1 << shift) < MOST_VALUE) shift++;
    return shift;
}

/* Steps on one level with one blur until the energy stands still. label: in and out; spare: same size, holds anything. */
static sw_status settle(const sw_label_task *task, const sw_level *at, size_t box, bool is_present_only, uint8_t *label,
                        uint8_t *spare, sw_note *note)
{
    const size_t n_px = at->planes->width_px * at->planes->height_px;
    const size_t max_steps = sw_max_size(MIN_STEPS, sw_min_size(MAX_STEPS, MAX_STEP_PX / n_px));
    const double c = c_from_lambda(task->lambda, at->index, box);
    const int32_t shift = shift_of(task, c, box);
    step_task step = { .task = task,
                       .level = at,
                       .box = box,
                       .c = (int32_t)lrint(c * (double)(1 << shift)),
                       .shift = shift,
                       .is_present_only = is_present_only,
                       .from = label,
                       .to = spare,
                       .n_across = (at->planes->width_px - 1) / SW_TILE_W + 1,
                       .n_down = (at->planes->height_px - 1) / SW_TILE_H + 1 };
    const size_t n_tiles = step.n_across * step.n_down;
    sw_patch *was = sw_alloc_raw(n_tiles, sizeof *was), *is = sw_alloc_raw(n_tiles, sizeof *is);
    sw_status st = SW_NO_MEMORY;
    uint8_t *from = label, *to = spare;
    double total = 0.0;
    step.gain = sw_alloc_raw(n_tiles, sizeof *step.gain);
    if (was == NULL || is == NULL || step.gain == NULL) goto cleanup;
    for (size_t i = 0; i < n_tiles; i++) /* at first everything is new */
        was[i] = (sw_patch){ 0, 0, (uint8_t)tile_width(&step, i % step.n_across),
                             (uint8_t)tile_height(&step, i / step.n_across) };
    st = SW_OK;
    for (size_t n = 0; n < max_steps; n++) {
        step.from = from;
        step.to = to;
        step.was_changed = was;
        step.is_changed = is;
        if (task->watch != NULL) {
            sw_parallel_bands(step.n_down, 1, energy_tiles, &step);
            task->watch(task->watch_ctx, at->index, box, sum_of(step.gain, n_tiles));
        }
        sw_parallel_bands(step.n_down, 1, step_tiles, &step);
        const double gain = (double)sum_of(step.gain, n_tiles) / (double)(1 << shift);
        uint8_t *const swap = from;
        sw_patch *const swap_patches = was;
        from = to;
        to = swap;
        was = is;
        is = swap_patches;
        total += gain;
        if (gain <= STOP_RATIO * total) break;
        if (sw_is_interrupted()) {
            st = sw_fail(note, SW_INTERRUPTED, "interrupted");
            break;
        }
    }
    step.from = from;
    step.to = to;
    step.was_changed = was;
    if (from != label) sw_parallel_bands(step.n_down, 1, copy_tiles, &step);
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "the labels");
    sw_free(step.gain);
    sw_free(is);
    sw_free(was);
    return st;
}

/* All steps of a level, and what only whole parts given up can gain on it. spare: same size as label, holds anything. */
static sw_status level_settle(const sw_label_task *task, const sw_level *at, size_t n_levels, uint8_t *label,
                              uint8_t *spare, sw_note *note)
{
    const bool is_fine = at->index < FINE_LEVELS;
    if (!is_fine) SW_TRY(settle(task, at, SW_BOX_WIDE, false, label, spare, note));
    SW_TRY(settle(task, at, is_fine ? SW_BOX_FINE : SW_BOX_COARSE, at->index == 0 && n_levels > 1, label, spare, note));
    if (at->index >= 1) SW_TRY(sw_regions_merge(task, at, CORE_PX, label, note));
    return at->index == 1 || n_levels == 1 ? sw_regions_merge(task, at, 0, label, note) : SW_OK;
}

typedef struct fill_task {
    const sw_level *level;
    const uint8_t *coarse; /* the level above, or NULL: nearest colour */
    size_t coarse_width;
    uint8_t *out;
} fill_task;

static void fill_from_coarse(const uint8_t *restrict coarse, size_t width, uint8_t *restrict out)
{
    for (size_t x = 0; x < width / 2; x++) out[2 * x] = out[2 * x + 1] = coarse[x];
    if (width % 2 == 1) out[width - 1] = coarse[width / 2];
}

static void fill_with_nearest(const sw_level *level, size_t y, uint8_t *out)
{
    int32_t data[SW_MAX_LABELS][SW_ROW_PX];
    for (size_t x = 0; x < level->planes->width_px; x += SW_ROW_PX) {
        const size_t n = sw_min_size(SW_ROW_PX, level->planes->width_px - x);
        sw_level_data(level, x, y, n, data);
        for (size_t i = 0; i < n; i++) { /* the nearest colour has nothing above the least */
            out[x + i] = 0;
            while (data[out[x + i]][i] != 0) out[x + i]++;
        }
    }
}

static void fill_rows(size_t begin, size_t end, void *ctx)
{
    const fill_task *const fill = ctx;
    const size_t width = fill->level->planes->width_px;
    for (size_t y = begin; y < end; y++) {
        uint8_t *const out = fill->out + y * width;
        if (fill->coarse != NULL) fill_from_coarse(fill->coarse + y / 2 * fill->coarse_width, width, out);
        else fill_with_nearest(fill->level, y, out);
    }
}

/* Labels of one level, begun with those of the level above or, if that is NULL, with the nearest colours. */
static sw_status level_make(const sw_label_task *task, const sw_pyramid *all, size_t i, const uint8_t *coarse, uint8_t *out,
                            sw_note *note)
{
    const sw_level *const at = &all->at[i];
    fill_task fill = { at, coarse, i + 1 < all->n ? all->planes[i + 1].width_px : 0, out };
    sw_parallel_rows(at->planes->height_px, fill_rows, &fill);
    if (!(task->lambda > 0.0)) return SW_OK;
    uint8_t *const spare = sw_alloc_raw(at->planes->width_px * at->planes->height_px, 1);
    const sw_status st = spare == NULL ? sw_fail_memory(note, "the labels") : level_settle(task, at, all->n, out, spare, note);
    sw_free(spare);
    return st;
}

sw_status sw_labels_make(const sw_label_task *task, uint8_t *label, sw_note *note)
{
    sw_pyramid all = { 0 };
    uint8_t *coarse = NULL;
    sw_status st = sw_pyramid_make(task, task->lambda > 0.0 ? sw_min_size(task->n_levels, SW_MAX_LEVELS) : 1, &all, note);
    if (st != SW_OK) goto cleanup;
    for (size_t i = all.n; i-- > 0;) {
        const size_t n_px = all.planes[i].width_px * all.planes[i].height_px;
        uint8_t *const fine = i == 0 ? label : sw_alloc_raw(n_px, 1);
        st = fine == NULL ? sw_fail_memory(note, "the labels") : level_make(task, &all, i, coarse, fine, note);
        sw_free(coarse);
        coarse = fine;
        if (st != SW_OK) goto cleanup;
    }
cleanup:
    sw_pyramid_free(&all);
    if (coarse != label) sw_free(coarse);
    return st;
}
