/* Seams: where a sheet is cut into panels.
 *
 * Seams are straight and run across the whole sheet, so that rows and columns of panels line up on the wall. A seam
 * costs the length of opening that it crosses, more where it runs close along an edge of an opening (it would leave a
 * sliver on one side). Which places for n seams cost least, with no panel larger than the bed, is found by dynamic
 * programming; the minimum over all places of the seam before is a sliding one, so a plan takes time in proportion to
 * places times seams. */
#include "layout/parts.h"

#include <math.h>
#include <string.h>

#define COST_CROSSED 64      /* a pixel of opening crossed */
#define COST_NEAR_EDGE 192   /* on top where the seam is nearer to the opening's edge than min-opening. Taste. */
#define COST_OFF_EVEN 1      /* a pixel away from evenly spaced: decides between places that cross nothing */
#define COST_STAGGER 20000   /* a place too near to another pass's seam */
#define STAGGER_MM 25.0      /* how far apart the seams of two passes are kept. Taste: a hand's overlap of spray */
#define MIN_WINDOW_MM 10.0   /* a bed that leaves less than this inside the frame is refused */
#define MIN_SHARE 0.3        /* no window narrower than this share of the widest possible: slips are a nuisance */

/* Costs of every place of one axis; place p lies between pixels p - 1 and p. */
typedef struct axis {
    size_t n_px;
    int64_t *cost; /* n_px + 1 */
} axis;

typedef struct measuring {
    const sw_mask *masks;
    size_t near_px;
    int64_t *cost;      /* for each pass width_px + 2 for columns, then height_px + 2 for rows */
    uint32_t *start;    /* width_px for each pass: where the opening above began */
    size_t stride;
} measuring;

/* A run of opening from a to b (past the end) adds to the places strictly inside. diff holds differences. */
static void add_run(int64_t *diff, size_t a, size_t b, size_t near_px)
{
    if (b - a < 2) return;
    diff[a + 1] += COST_CROSSED;
    diff[b] -= COST_CROSSED;
    if (b - a < 2 * near_px) { /* near one edge or the other everywhere */
        diff[a + 1] += COST_NEAR_EDGE;
        diff[b] -= COST_NEAR_EDGE;
        return;
    }
    diff[a + 1] += COST_NEAR_EDGE;
    diff[a + near_px] -= COST_NEAR_EDGE;
    diff[b - near_px + 1] += COST_NEAR_EDGE;
    diff[b] -= COST_NEAR_EDGE;
}

static void measure_columns(const sw_mask *mask, size_t near_px, int64_t *diff)
{
    const size_t w = mask->width_px;
    for (size_t y = 0; y < mask->height_px; y++) {
        const uint8_t *const row = mask->at + y * w;
        for (size_t x = 0; x < w;) {
            const uint8_t *const one = memchr(row + x, 1, w - x);
            if (one == NULL) break;
            const size_t a = (size_t)(one - row);
            const uint8_t *const zero = memchr(one, 0, w - a);
            x = zero == NULL ? w : (size_t)(zero - row);
            add_run(diff, a, x, near_px);
        }
    }
}

static void measure_rows(const sw_mask *mask, size_t near_px, uint32_t *start, int64_t *diff)
{
    const size_t w = mask->width_px, h = mask->height_px;
    for (size_t y = 0; y <= h; y++) {
        for (size_t x = 0; x < w; x++) {
            if (y > 0 && y < h && x % 8 == 0 && x + 8 <= w &&
                memcmp(mask->at + y * w + x, mask->at + (y - 1) * w + x, 8) == 0) {
                x += 7; /* most of a mask is like the row above: eight at a time */
                continue;
            }
            const bool is_open = y < h && mask->at[y * w + x] != 0, was_open = y > 0 && mask->at[(y - 1) * w + x] != 0;
            if (is_open == was_open) continue;
            if (is_open) start[x] = (uint32_t)y;
            else add_run(diff, start[x], y, near_px);
        }
    }
}

/* Tasks 2k and 2k + 1: columns and rows of pass k. */
static void measure_some(size_t begin, size_t end, void *ctx)
{
    const measuring *const m = ctx;
    for (size_t task = begin; task < end; task++) {
        const sw_mask *const mask = &m->masks[task / 2];
        int64_t *diff = m->cost + task / 2 * m->stride;
        size_t n = mask->width_px + 2;
        if (task % 2 == 0) {
            measure_columns(mask, m->near_px, diff);
        } else {
            diff += n;
            n = mask->height_px + 2;
            measure_rows(mask, m->near_px, m->start + task / 2 * mask->width_px, diff);
        }
        for (size_t i = 1; i < n; i++) diff[i] += diff[i - 1];
    }
}

/* ---- the cheapest places ------------------------------------------------------------------------ */

/* Cost of a seam at place p as number k of n windows. */
static int64_t place_cost(const axis *a, size_t p, size_t k, size_t n)
{
    const int64_t even = (int64_t)(a->n_px * k / n), off = (int64_t)p - even;
    return a->cost[p] + COST_OFF_EVEN * (off < 0 ? -off : off);
}

/* One step: best[p] = cost of seam k at p + the least of before[q] with least <= p - q <= most; ties take the smallest
 * q. queue: scratch of n_px + 1. from: where the least was. */
static void step(const axis *a, size_t k, size_t n, size_t least, size_t most, const int64_t *before, int64_t *best,
                 uint32_t *from, uint32_t *queue)
{
    size_t head = 0, tail = 0;
    for (size_t p = 0; p <= a->n_px; p++) {
        best[p] = INT64_MAX;
        if (p < least) continue;
        const size_t q = p - least;
        if (before[q] != INT64_MAX) {
            while (tail > head && before[queue[tail - 1]] > before[q]) tail--;
            queue[tail++] = (uint32_t)q;
        }
        while (head < tail && queue[head] + most < p) head++;
        if (head == tail) continue;
        from[p] = queue[head];
        best[p] = before[queue[head]] + (k < n ? place_cost(a, p, k, n) : 0);
    }
}

/* Places of the n - 1 seams of one axis into seams (0 and n_px at the ends: n + 1 numbers) and their cost. */
static sw_status plan_axis(const axis *a, size_t n, size_t most, uint32_t *seams, int64_t *cost, sw_note *note)
{
    const size_t n_places = a->n_px + 1;
    const size_t least = n == 1 ? 1 : sw_max_size(1, sw_min_size(a->n_px / n, (size_t)(MIN_SHARE * (double)most)));
    int64_t *const best = sw_alloc_array(n_places, 2 * sizeof *best);
    uint32_t *const from = sw_alloc_array(n_places, (n + 1) * sizeof *from); /* n steps and the queue */
    const bool is_made = best != NULL && from != NULL;
    if (is_made) {
        for (size_t p = 1; p < n_places; p++) best[p] = INT64_MAX;
        for (size_t k = 1; k <= n; k++)
            step(a, k, n, least, most, best + (k + 1) % 2 * n_places, best + k % 2 * n_places,
                 from + (k - 1) * n_places, from + n * n_places);
        *cost = best[n % 2 * n_places + a->n_px];
        seams[n] = (uint32_t)a->n_px;
        for (size_t k = n; k > 0; k--) seams[k - 1] = from[(k - 1) * n_places + seams[k]];
    }
    sw_free(best);
    sw_free(from);
    return is_made ? SW_OK : sw_fail_memory(note, "the seams");
}

/* ---- the whole plan ----------------------------------------------------------------------------- */

typedef struct plan {
    size_t most_x, most_y;  /* largest window, px */
    size_t n_columns, n_rows;
    uint32_t *x, *y;        /* seams with both ends */
    int64_t cost;
} plan;

static void free_plan(plan *p)
{
    sw_free(p->x);
    sw_free(p->y);
    *p = (plan){ 0 };
}

static size_t n_windows(size_t n_px, size_t most) { return (n_px + most - 1) / most; }

static sw_status make_plan(const axis *columns, const axis *rows, size_t most_x, size_t most_y, plan *out,
                           sw_note *note)
{
    plan made = { .most_x = most_x, .most_y = most_y };
    int64_t cost_x = 0, cost_y = 0;
    made.n_columns = n_windows(columns->n_px, most_x);
    made.n_rows = n_windows(rows->n_px, most_y);
    made.x = sw_alloc_array(made.n_columns + 1, sizeof *made.x);
    made.y = sw_alloc_array(made.n_rows + 1, sizeof *made.y);
    sw_status st = made.x == NULL || made.y == NULL ? sw_fail_memory(note, "the seams") : SW_OK;
    if (st == SW_OK) st = plan_axis(columns, made.n_columns, most_x, made.x, &cost_x, note);
    if (st == SW_OK) st = plan_axis(rows, made.n_rows, most_y, made.y, &cost_y, note);
    made.cost = cost_x + cost_y;
    if (st == SW_OK) *out = made;
    else free_plan(&made);
    return st;
}

/* Upright or turned, whichever takes fewer panels, then whichever crosses less; upright when equal. */
static sw_status choose_plan(const axis *columns, const axis *rows, size_t most_x, size_t most_y, plan *out,
                             sw_note *note)
{
    const size_t n_upright = n_windows(columns->n_px, most_x) * n_windows(rows->n_px, most_y);
    const size_t n_turned = n_windows(columns->n_px, most_y) * n_windows(rows->n_px, most_x);
    plan turned = { 0 };
    if (n_turned < n_upright) return make_plan(columns, rows, most_y, most_x, out, note);
    SW_TRY(make_plan(columns, rows, most_x, most_y, out, note));
    if (n_turned > n_upright || most_x == most_y) return SW_OK;
    const sw_status st = make_plan(columns, rows, most_y, most_x, &turned, note);
    if (st != SW_OK) {
        free_plan(out);
        return st;
    }
    if (turned.cost < out->cost) {
        const plan held = *out;
        *out = turned;
        turned = held;
    }
    free_plan(&turned);
    return SW_OK;
}

static sw_status windows_of(const plan *p, sw_windows *out, sw_note *note)
{
    sw_windows made = { .n = p->n_columns * p->n_rows };
    made.at = sw_alloc_array(made.n, sizeof *made.at);
    if (made.at == NULL) return sw_fail_memory(note, "the seams");
    for (size_t r = 0; r < p->n_rows; r++) {
        for (size_t c = 0; c < p->n_columns; c++)
            made.at[r * p->n_columns + c] =
                (sw_rect_px){ p->x[c], p->y[r], p->x[c + 1] - p->x[c], p->y[r + 1] - p->y[r] };
    }
    *out = made;
    return SW_OK;
}

/* Places near this pass's seams become dear for the passes after it. */
static void keep_apart(axis *a, const uint32_t *seams, size_t n, size_t apart_px)
{
    for (size_t k = 1; k < n; k++) {
        const size_t lo = seams[k] > apart_px ? seams[k] - apart_px : 0, hi = sw_min_size(a->n_px, seams[k] + apart_px);
        for (size_t p = lo; p <= hi; p++) a->cost[p] += COST_STAGGER;
    }
}

/* Plans from the measured costs: one over the sum of all passes, or one a pass. */
static sw_status plan_passes(measuring *m, size_t n_passes, const sw_grid *grid, const sw_seam_opts *opts,
                             size_t most_x, size_t most_y, sw_windows *made, sw_note *note)
{
    axis columns = { grid->width_px, m->cost }, rows = { grid->height_px, m->cost + grid->width_px + 2 };
    const size_t apart_px = (size_t)sw_px_from_mm(grid, STAGGER_MM);
    sw_status st = SW_OK;
    plan p = { 0 };
    for (size_t k = 1; !opts->is_staggered && k < n_passes; k++) {
        for (size_t i = 0; i < m->stride; i++) m->cost[i] += m->cost[k * m->stride + i];
    }
    for (size_t k = 0; st == SW_OK && k < n_passes; k++) {
        if (k == 0 || opts->is_staggered) {
            free_plan(&p);
            columns.cost = m->cost + k * m->stride;
            rows.cost = columns.cost + grid->width_px + 2;
            st = choose_plan(&columns, &rows, most_x, most_y, &p, note);
        }
        for (size_t later = k + 1; st == SW_OK && opts->is_staggered && later < n_passes; later++) {
            axis x = { grid->width_px, m->cost + later * m->stride };
            axis y = { grid->height_px, x.cost + grid->width_px + 2 };
            keep_apart(&x, p.x, p.n_columns, apart_px);
            keep_apart(&y, p.y, p.n_rows, apart_px);
        }
        if (st == SW_OK) st = windows_of(&p, &made[k], note);
    }
    free_plan(&p);
    return st;
}

/* Largest window that the bed allows, in whole pixels. A step of the layout's rounding is kept free. */
static sw_status window_limit(const sw_grid *grid, const sw_seam_opts *opts, double bed_mm, size_t *most_px,
                              sw_note *note)
{
    const double left_mm = bed_mm - 2.0 * opts->frame_mm - opts->kerf_mm - 2.0 * SW_LAYOUT_STEP_MM;
    if (!sw_length_ok(bed_mm, false) || !sw_length_ok(opts->frame_mm, true) || !sw_length_ok(opts->kerf_mm, true) ||
        !(left_mm >= MIN_WINDOW_MM && sw_px_from_mm(grid, left_mm) >= 1.0))
        return sw_fail(note, SW_BAD_LENGTH,
                       "--bed leaves no room inside the frame; give a larger --bed or a smaller --frame");
    *most_px = (size_t)sw_min(floor(sw_px_from_mm(grid, left_mm)), SW_MAX_SIDE_PX);
    return SW_OK;
}

/* Largest windows upright; all of the grid without a bed. */
static sw_status window_limits(const sw_grid *grid, const sw_seam_opts *opts, size_t *most_x, size_t *most_y, sw_note *note)
{
    *most_x = grid->width_px;
    *most_y = grid->height_px;
    if (!(opts->bed_width_mm > 0.0 || opts->bed_height_mm > 0.0)) return SW_OK;
    SW_TRY(window_limit(grid, opts, opts->bed_width_mm, most_x, note));
    return window_limit(grid, opts, opts->bed_height_mm, most_y, note);
}

static sw_status measure_and_plan(const sw_mask *masks, size_t n_passes, const sw_grid *grid,
                                  const sw_seam_opts *opts, sw_windows *made, sw_note *note)
{
    const bool has_bed = opts->bed_width_mm > 0.0 || opts->bed_height_mm > 0.0;
    size_t most_x, most_y;
    SW_TRY(window_limits(grid, opts, &most_x, &most_y, note));
    measuring m = { .masks = masks, .stride = grid->width_px + grid->height_px + 4 };
    m.near_px = sw_max_size(1, (size_t)ceil(sw_px_from_mm(grid, sw_clamp(opts->min_opening_mm, 0.0, SW_MAX_MM))));
    m.cost = sw_alloc_array(n_passes * m.stride, sizeof *m.cost);
    m.start = sw_alloc_array(n_passes * grid->width_px, sizeof *m.start);
    sw_status st = m.cost == NULL || m.start == NULL ? sw_fail_memory(note, "the seams") : SW_OK;
    if (st == SW_OK && has_bed) sw_parallel_bands(2 * n_passes, 1, measure_some, &m);
    if (st == SW_OK) st = plan_passes(&m, n_passes, grid, opts, most_x, most_y, made, note);
    sw_free(m.cost);
    sw_free(m.start);
    return st;
}

sw_status sw_seams_plan(const sw_mask *masks, size_t n_passes, const sw_grid *grid, const sw_seam_opts *opts,
                        sw_windows *out, sw_note *note)
{
    sw_windows made[SW_MAX_PASSES] = { 0 };
    if (n_passes == 0 || n_passes > SW_MAX_PASSES || grid->width_px == 0 || grid->height_px == 0)
        return sw_fail(note, SW_BAD_LENGTH, "seams need 1 to %d passes and a grid", SW_MAX_PASSES);
    const sw_status st = measure_and_plan(masks, n_passes, grid, opts, made, note);
    for (size_t k = 0; k < n_passes; k++) {
        if (st == SW_OK) out[k] = made[k];
        else sw_windows_free(&made[k]);
    }
    return st;
}

sw_status sw_seams_count(const sw_grid *grid, const sw_seam_opts *opts, size_t *n, sw_note *note)
{
    size_t most_x, most_y;
    SW_TRY(window_limits(grid, opts, &most_x, &most_y, note));
    *n = n_windows(grid->width_px, most_x) * n_windows(grid->height_px, most_y);
    if (opts->bed_width_mm > 0.0) *n = sw_min_size(*n, n_windows(grid->width_px, most_y) * n_windows(grid->height_px, most_x));
    return SW_OK;
}

void sw_windows_free(sw_windows *windows)
{
    if (windows == NULL) return;
    sw_free(windows->at);
    *windows = (sw_windows){ 0 };
}
