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

/* The inner loops are a few vector instructions long once unrolled, which gcc 12 does at -O3 only. */
#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC optimize("O3")
#endif

#define TILE_W 64u /* most boundaries cross a tile: a small one has less beside them to look at */
#define TILE_H 32u
/* Sides of the boxes. A straight boundary stays where the data terms beside it differ by less than 6 lambda / (side^2 - 1):
 * in a soft slope of tone a narrow blur leaves straight runs along rows and columns, joined by ramps, where the boundary
 * ought to follow the slope. So coarse levels begin with a wide blur and end with one that knows thin parts better; the
 * finest two have no need to reach far. Blurred by two boxes: deviation 6.1, 3.7 and 2 px. */
#define BOX_WIDE 15u /* its fourth power must fit 16 bits */
#define BOX_COARSE 9u
#define BOX_FINE 5u
#define FINE_LEVELS 2u
#define PAD_W (TILE_W + 2 * (BOX_WIDE - 1))
#define PAD_H (TILE_H + 2 * (BOX_WIDE - 1))
#define CORE_PX 1u /* parts thinner than three pixels of a level are asked whether they pay, see sw_regions_merge */
#define MOST_SCALE 64
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
    int32_t scale;         /* data terms count this many units, so that c is a whole number to within a small part */
    size_t box;
    bool is_present_only;  /* labels that occur nowhere near a tile are not tried there */
    const uint8_t *from;
    uint8_t *to;
    size_t n_across, n_down;     /* tiles */
    const uint8_t *was_changed;  /* per tile, in the step before */
    uint8_t *is_changed;
    int64_t *gain;               /* per tile: what the step lessens the tangent by, at most the fall of the energy */
} step_task;

typedef struct tile {
    size_t x, y, width, height, halo;
    uint8_t label[PAD_H][PAD_W];
    uint16_t one[PAD_H][PAD_W], two[PAD_H][PAD_W], three[PAD_H][PAD_W];
    uint16_t blurred[SW_MAX_LABELS][TILE_H][TILE_W]; /* indicator of each label, 0..box^4 */
} tile;

/* ---- one tile ----------------------------------------------------------------------------------------------- */

/* Mirrored about the edge between pixels; a grid narrower than the halo is folded again and again. */
static size_t mirror(ptrdiff_t at, size_t n)
{
    const ptrdiff_t period = 2 * (ptrdiff_t)n;
    ptrdiff_t i = at % period;
    if (i < 0) i += period;
    return (size_t)(i < (ptrdiff_t)n ? i : period - 1 - i);
}

/* Rows begin..end - 1 of the tile stay as they are. */
static void tile_copy(const step_task *step, const tile *t, size_t begin, size_t end)
{
    for (size_t y = begin; y < end; y++)
        memcpy(step->to + (t->y + y) * step->level->planes->width_px + t->x, &t->label[y + t->halo][t->halo], t->width);
}

/* A bit for each label that occurs; most rows have one only, which is soon seen. */
static uint32_t labels_of_row(const uint8_t *row, size_t n)
{
    uint32_t seen = 1u << row[0]; /* NOLINT: the analyser loses what loops fill */
    unsigned differs = 0;
    for (size_t x = 0; x < n; x++) differs |= row[x] ^ row[0];
    for (size_t x = 0; x < n && differs != 0; x++) seen |= 1u << row[x];
    return seen;
}

/* Labels of the tile and its halo; in_row: a bit for each label that occurs in a row. */
static void tile_load(const step_task *step, tile *t, uint32_t in_row[PAD_H])
{
    const size_t width = step->level->planes->width_px, height = step->level->planes->height_px;
    const size_t pad_w = t->width + 2 * t->halo;
    const bool is_inside = t->x >= t->halo && t->x + t->width + t->halo <= width;
    assert(t->width > 0 && pad_w <= PAD_W);
    for (size_t y = 0; y < t->height + 2 * t->halo; y++) {
        const uint8_t *const row = step->from + mirror((ptrdiff_t)(t->y + y) - (ptrdiff_t)t->halo, height) * width;
        uint8_t *const out = t->label[y];
        if (is_inside) memcpy(out, row + t->x - t->halo, pad_w);
        else
            for (size_t x = 0; x < pad_w; x++) out[x] = row[mirror((ptrdiff_t)(t->x + x) - (ptrdiff_t)t->halo, width)];
        in_row[y] = labels_of_row(out, pad_w);
    }
}

static bool is_one(uint32_t labels) { return (labels & (labels - 1)) == 0; }

/* How many of the first rows of the tile, or of the last, have a single label all around them. */
static size_t quiet_rows(const tile *t, const uint32_t *in_row, bool is_last)
{
    const size_t pad_h = t->height + 2 * t->halo;
    uint32_t seen = 0;
    size_t n = 0;
    while (n < pad_h && is_one(seen |= in_row[is_last ? pad_h - 1 - n : n])) n++;
    return n <= 2 * t->halo ? 0 : sw_min_size(n - 2 * t->halo, t->height);
}

/* Rows that cannot change are done with; the tile becomes the rest, maybe of no rows. */
static void tile_crop(const step_task *step, tile *t, uint32_t *in_row)
{
    const size_t first = quiet_rows(t, in_row, false), last = first == t->height ? 0 : quiet_rows(t, in_row, true);
    tile_copy(step, t, 0, first);
    tile_copy(step, t, t->height - last, t->height);
    t->y += first;
    t->height -= first + last;
    if (first == 0) return;
    memmove(t->label, t->label[first], (t->height + 2 * t->halo) * sizeof t->label[0]);
    memmove(in_row, in_row + first, (t->height + 2 * t->halo) * sizeof *in_row);
}

static uint32_t labels_of(const tile *t, const uint32_t *in_row)
{
    uint32_t seen = 0;
    for (size_t y = 0; y < t->height + 2 * t->halo; y++) seen |= in_row[y];
    return seen;
}

/* out[i] = in[i] + in[i + gap] + ... , count of them. */
static inline void add_up(const uint16_t *in, size_t gap, uint16_t *out, size_t n, size_t count)
{
    for (size_t i = 0; i < n; i++) {
        unsigned sum = 0;
        for (size_t k = 0; k < count; k++) sum += in[i + k * gap]; /* NOLINT: the analyser loses what loops fill */
        out[i] = (uint16_t)sum;
    }
}

/* Sums of `box` neighbours along a row. A box of 9 or 15 is three of 3 or 5 side by side. spare holds n + box. Counts are
 * known where this is compiled, so inner loops are unrolled. */
static inline void box_row(const uint16_t *in, uint16_t *spare, uint16_t *out, size_t n, size_t box)
{
    if (box == BOX_FINE) {
        add_up(in, 1, out, n, BOX_FINE);
    } else if (box == BOX_COARSE) {
        add_up(in, 1, spare, n + 6, 3);
        add_up(spare, 3, out, n, 3);
    } else {
        add_up(in, 1, spare, n + 10, 5);
        add_up(spare, 5, out, n, 3);
    }
}

/* The same along columns: n_rows rows of `width`, out_pitch apart in out. */
static inline void box_columns(uint16_t (*in)[PAD_W], uint16_t (*spare)[PAD_W], uint16_t *out, size_t out_pitch,
                               size_t width, size_t n_rows, size_t box)
{
    if (box == BOX_FINE) {
        for (size_t y = 0; y < n_rows; y++) add_up(in[y], PAD_W, out + y * out_pitch, width, BOX_FINE);
    } else if (box == BOX_COARSE) {
        for (size_t y = 0; y < n_rows + 6; y++) add_up(in[y], PAD_W, spare[y], width, 3);
        for (size_t y = 0; y < n_rows; y++) add_up(spare[y], 3 * PAD_W, out + y * out_pitch, width, 3);
    } else {
        for (size_t y = 0; y < n_rows + 10; y++) add_up(in[y], PAD_W, spare[y], width, 5);
        for (size_t y = 0; y < n_rows; y++) add_up(spare[y], 5 * PAD_W, out + y * out_pitch, width, 3);
    }
}

SW_WIDE static void tile_blur(tile *t, uint8_t label)
{
    const size_t box = t->halo + 1, pad_w = t->width + 2 * t->halo, pad_h = t->height + 2 * t->halo;
    uint16_t flat[PAD_W], spare[PAD_W + BOX_WIDE];
    for (size_t y = 0; y < pad_h; y++) {
        for (size_t x = 0; x < pad_w; x++) t->one[y][x] = t->label[y][x] == label;
        box_row(t->one[y], spare, flat, pad_w - t->halo, box);
        box_row(flat, spare, t->two[y], t->width, box);
    }
    box_columns(t->two, t->three, t->one[0], PAD_W, t->width, pad_h - t->halo, box);
    box_columns(t->one, t->three, t->blurred[label][0], TILE_W, t->width, t->height, box);
}

/* Give each pixel of the tile its best label; a pixel changes only for less, never for the same.
 * tried: a bit for each label. Returns whether any pixel changed. */
SW_WIDE static bool tile_choose(const step_task *step, const tile *t, uint32_t tried, int64_t *gain)
{
    int32_t data[SW_MAX_LABELS][SW_ROW_PX];
    const int32_t c = step->c, scale = step->scale;
    const int32_t least_blurred = step->is_present_only ? 1 : 0; /* a label nowhere near does not begin anew */
    const size_t width = t->width;
    *gain = 0;
    for (size_t y = 0; y < t->height; y++) {
        const uint8_t *const old = &t->label[y + t->halo][t->halo];
        uint8_t *const out = step->to + (t->y + y) * step->level->planes->width_px + t->x;
        int32_t was[TILE_W], choice[TILE_W], best[TILE_W], now[TILE_W]; /* all of one width: vectors */
        sw_level_data(step->task, step->level, t->x, t->y + y, width, data);
        for (size_t x = 0; x < width; x++) {
            was[x] = choice[x] = old[x];
            best[x] = now[x] = INT32_MAX;
        }
        for (int32_t label = 0; label < (int32_t)step->task->n_labels; label++) {
            if ((tried >> label & 1u) == 0) continue;
            const uint16_t *const blurred = t->blurred[label][y];
            for (size_t x = 0; x < width; x++) {
                const int32_t near = blurred[x], all = data[label][x] * scale - c * near;
                const int32_t value = near < least_blurred ? INT32_MAX : all;
                now[x] = was[x] == label ? value : now[x];
                choice[x] = value < best[x] ? label : choice[x];
                best[x] = value < best[x] ? value : best[x];
            }
        }
        for (size_t x = 0; x < width; x++) out[x] = (uint8_t)(now[x] > best[x] ? choice[x] : was[x]);
        for (size_t x = 0; x < width; x++) *gain += now[x] - best[x];
    }
    return *gain > 0;
}

static bool was_near_changed(const step_task *step, size_t across, size_t down)
{
    for (size_t y = down == 0 ? 0 : down - 1; y <= down + 1 && y < step->n_down; y++) {
        for (size_t x = across == 0 ? 0 : across - 1; x <= across + 1 && x < step->n_across; x++) {
            if (step->was_changed[y * step->n_across + x]) return true;
        }
    }
    return false;
}

static void step_tiles(size_t begin, size_t end, void *ctx)
{
    const step_task *const step = ctx;
    const size_t width = step->level->planes->width_px, height = step->level->planes->height_px;
    uint32_t in_row[PAD_H];
    tile t;
    for (size_t down = begin; down < end; down++) {
        for (size_t across = 0; across < step->n_across; across++) {
            const size_t at = down * step->n_across + across;
            step->is_changed[at] = 0;
            step->gain[at] = 0;
            /* nothing moved near here in the last step: `to` already holds these labels */
            if (!was_near_changed(step, across, down)) continue;
            t.halo = step->box - 1;
            t.x = across * TILE_W;
            t.y = down * TILE_H;
            t.width = sw_min_size(TILE_W, width - t.x);
            t.height = sw_min_size(TILE_H, height - t.y);
            tile_load(step, &t, in_row);
            if (step->is_present_only) tile_crop(step, &t, in_row);
            if (t.height == 0) continue;
            const uint32_t labels = step->is_present_only ? labels_of(&t, in_row) : (1u << step->task->n_labels) - 1;
            for (uint8_t label = 0; label < step->task->n_labels; label++) {
                if ((labels >> label & 1u) != 0) tile_blur(&t, label);
            }
            step->is_changed[at] = tile_choose(step, &t, labels, &step->gain[at]);
        }
    }
}

/* ---- energy, for those who watch ------------------------------------------------------------------------------ */

static void energy_tiles(size_t begin, size_t end, void *ctx)
{
    const step_task *const step = ctx;
    const sw_planes *const planes = step->level->planes;
    const int32_t full = (int32_t)(step->box * step->box * step->box * step->box);
    uint32_t in_row[PAD_H];
    tile t;
    for (size_t down = begin; down < end; down++) {
        for (size_t across = 0; across < step->n_across; across++) {
            int64_t *const energy = &step->gain[down * step->n_across + across];
            t.halo = step->box - 1;
            t.x = across * TILE_W;
            t.y = down * TILE_H;
            t.width = sw_min_size(TILE_W, planes->width_px - t.x);
            t.height = sw_min_size(TILE_H, planes->height_px - t.y);
            tile_load(step, &t, in_row);
            const uint32_t labels = labels_of(&t, in_row);
            *energy = 0;
            for (uint8_t label = 0; label < step->task->n_labels; label++) {
                if ((labels >> label & 1u) != 0) tile_blur(&t, label);
            }
            for (size_t y = 0; y < t.height; y++) {
                int32_t data[SW_MAX_LABELS][SW_ROW_PX];
                sw_level_data(step->task, step->level, t.x, t.y + y, t.width, data);
                for (size_t x = 0; x < t.width; x++) {
                    const uint8_t label = t.label[y + t.halo][x + t.halo];
                    *energy += 2 * (int64_t)data[label][x] * step->scale +
                               (int64_t)step->c * (full - t.blurred[label][y][x]);
                }
            }
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

/* Whole numbers are too coarse for a small c: data terms and c alike are counted in finer units where there is room. */
static int32_t scale_of(const sw_label_task *task, double c, size_t box)
{
    const double n = (double)box;
    const double most = sw_max(c * n * n * n * n, sw_level_cap(task) * SW_FINE * SW_FINE * UINT8_MAX);
    int32_t scale = 1;
    while (scale < MOST_SCALE && most * scale < MOST_VALUE) scale *= 2;
    return scale;
}

/* Steps on one level with one blur until the energy stands still. label: in and out; spare: same size, holds anything. */
static sw_status settle(const sw_label_task *task, const sw_level *at, size_t box, bool is_present_only, uint8_t *label,
                        uint8_t *spare, sw_note *note)
{
    const size_t n_px = at->planes->width_px * at->planes->height_px;
    const size_t max_steps = sw_max_size(MIN_STEPS, sw_min_size(MAX_STEPS, MAX_STEP_PX / n_px));
    const double c = c_from_lambda(task->lambda, at->index, box);
    const int32_t scale = scale_of(task, c, box);
    step_task step = { .task = task,
                       .level = at,
                       .box = box,
                       .c = (int32_t)lrint(c * scale),
                       .scale = scale,
                       .is_present_only = is_present_only,
                       .n_across = (at->planes->width_px - 1) / TILE_W + 1,
                       .n_down = (at->planes->height_px - 1) / TILE_H + 1 };
    const size_t n_tiles = step.n_across * step.n_down;
    uint8_t *was = sw_alloc_raw(n_tiles, 1), *is = sw_alloc_raw(n_tiles, 1);
    sw_status st = SW_NO_MEMORY;
    uint8_t *from = label, *to = spare;
    double total = 0.0;
    step.gain = sw_alloc_raw(n_tiles, sizeof *step.gain);
    if (was == NULL || is == NULL || step.gain == NULL) goto cleanup;
    memset(was, 1, n_tiles);
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
        const double gain = (double)sum_of(step.gain, n_tiles) / scale;
        uint8_t *const swap = from, *const swap_flags = was;
        from = to;
        to = swap;
        was = is;
        is = swap_flags;
        total += gain;
        if (gain <= STOP_RATIO * total) break;
        if (sw_is_interrupted()) {
            st = sw_fail(note, SW_INTERRUPTED, "interrupted");
            break;
        }
    }
    if (from != label) memcpy(label, from, n_px);
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "the labels");
    sw_free(step.gain);
    sw_free(is);
    sw_free(was);
    return st;
}

/* All steps of a level, and what only whole parts given up can gain on it. */
static sw_status level_settle(const sw_label_task *task, const sw_level *at, size_t n_levels, uint8_t *label,
                              sw_note *note)
{
    const bool is_fine = at->index < FINE_LEVELS;
    uint8_t *const spare = sw_alloc_raw(at->planes->width_px * at->planes->height_px, 1);
    sw_status st = SW_NO_MEMORY;
    if (spare == NULL) goto cleanup;
    st = SW_OK;
    if (!is_fine) st = settle(task, at, BOX_WIDE, false, label, spare, note);
    if (st != SW_OK) goto cleanup;
    st = settle(task, at, is_fine ? BOX_FINE : BOX_COARSE, at->index == 0 && n_levels > 1, label, spare, note);
    if (st == SW_OK && at->index >= 1) st = sw_regions_merge(task, at, CORE_PX, label, note);
    if (st == SW_OK && (at->index == 1 || n_levels == 1)) st = sw_regions_merge(task, at, 0, label, note);
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "the labels");
    sw_free(spare);
    return st;
}

typedef struct fill_task {
    const sw_label_task *task;
    const sw_level *level;
    const uint8_t *coarse; /* the level above, or NULL: nearest colour */
    size_t coarse_width;
    uint8_t *out;
} fill_task;

static void fill_rows(size_t begin, size_t end, void *ctx)
{
    const fill_task *const fill = ctx;
    const sw_planes *const planes = fill->level->planes;
    int32_t data[SW_MAX_LABELS][SW_ROW_PX];
    for (size_t y = begin; y < end; y++) {
        uint8_t *const out = fill->out + y * planes->width_px;
        if (fill->coarse != NULL) {
            const uint8_t *const row = fill->coarse + y / 2 * fill->coarse_width;
            for (size_t x = 0; x < planes->width_px; x++) out[x] = row[x / 2];
            continue;
        }
        for (size_t x = 0; x < planes->width_px; x += SW_ROW_PX) {
            const size_t n = sw_min_size(SW_ROW_PX, planes->width_px - x);
            sw_level_data(fill->task, fill->level, x, y, n, data);
            for (size_t i = 0; i < n; i++) { /* the nearest colour has nothing above the least */
                out[x + i] = 0;
                while (data[out[x + i]][i] != 0) out[x + i]++;
            }
        }
    }
}

sw_status sw_labels_make(const sw_label_task *task, uint8_t *label, sw_note *note)
{
    sw_pyramid all = { 0 };
    uint8_t *coarse = NULL;
    sw_status st = sw_pyramid_make(task, task->lambda > 0.0 ? sw_min_size(task->n_levels, SW_MAX_LEVELS) : 1, &all, note);
    if (st != SW_OK) goto cleanup;
    for (size_t i = all.n; i-- > 0;) {
        const sw_level *const at = &all.at[i];
        const size_t n_px = at->planes->width_px * at->planes->height_px;
        uint8_t *const fine = i == 0 ? label : sw_alloc_raw(n_px, 1);
        st = SW_NO_MEMORY;
        if (fine == NULL) goto cleanup;
        fill_task fill = { task, at, coarse, i + 1 < all.n ? all.planes[i + 1].width_px : 0, fine };
        sw_parallel_rows(at->planes->height_px, fill_rows, &fill);
        sw_free(coarse);
        coarse = fine;
        st = task->lambda > 0.0 ? level_settle(task, at, all.n, fine, note) : SW_OK;
        if (st != SW_OK) goto cleanup;
    }
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "the labels");
    sw_pyramid_free(&all);
    if (coarse != label) sw_free(coarse);
    return st;
}
