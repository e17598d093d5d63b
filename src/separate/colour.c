/* Palettes: k-means in OKLab over a histogram, and the best subset of the paints a user owns.
 * The histogram makes the cost the same for one megapixel and for a hundred. Sources: Arthur and Vassilvitskii 2007
 * (k-means++), Lloyd 1982, Ottosson 2020 (OKLab). */
#include <math.h>
#include <string.h>

#include "separate/parts.h"

#define CELL_BITS 6
#define CELL_SIDE (1u << CELL_BITS)
#define N_CELLS (CELL_SIDE * CELL_SIDE * CELL_SIDE)
#define N_SEEDS 16      /* runs from different first centres; on the photos the best is found within 8 */
#define MAX_STEPS 100   /* of one run; 20 to 60 are usual */

/* ---- histogram ---------------------------------------------------------------------------------------------- */

typedef struct tally {
    uint32_t n;
    uint64_t sum[SW_MAX_PLANES];
} tally;

sw_status sw_colour_cells_make(const sw_planes *planes, sw_colour_cells *out, sw_note *note)
{
    sw_colour_cells made = { 0 };
    sw_status st = SW_NO_MEMORY;
    tally *const tallies = sw_alloc_array(N_CELLS, sizeof *tallies);
    if (tallies == NULL) goto cleanup;
    const size_t n_px = planes->width_px * planes->height_px;
    for (size_t i = 0; i < n_px; i++) {
        const size_t l = planes->at[0][i], a = planes->at[1][i], b = planes->at[2][i];
        tally *const t = &tallies[((l >> (8 - CELL_BITS)) * CELL_SIDE + (a >> (8 - CELL_BITS))) * CELL_SIDE +
                                  (b >> (8 - CELL_BITS))];
        made.n += t->n == 0;
        t->n++;
        t->sum[0] += l;
        t->sum[1] += a;
        t->sum[2] += b;
    }
    made.at = sw_alloc_array(made.n, sizeof *made.at);
    if (made.at == NULL) goto cleanup;
    for (size_t i = 0, cell = 0; i < N_CELLS; i++) {
        if (tallies[i].n == 0) continue;
        made.at[cell].weight = tallies[i].n;
        for (size_t p = 0; p < SW_MAX_PLANES; p++) made.at[cell].at[p] = (double)tallies[i].sum[p] / tallies[i].n;
        cell++;
    }
    *out = made;
    made.at = NULL;
    st = SW_OK;
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "the colour histogram");
    sw_free(made.at);
    sw_free(tallies);
    return st;
}

static double distance_sq(const double *one, const double *two)
{
    const double l = one[0] - two[0], a = one[1] - two[1], b = one[2] - two[2];
    return l * l + a * a + b * b;
}

static size_t nearest(const double *colour, const sw_plane_colour *centre, size_t n, double *cost)
{
    size_t best = 0;
    *cost = INFINITY;
    for (size_t k = 0; k < n; k++) {
        const double d = distance_sq(colour, centre[k].at);
        if (d >= *cost) continue;
        *cost = d;
        best = k;
    }
    return best;
}

/* ---- k-means ------------------------------------------------------------------------------------------------ */

/* splitmix64 (Steele, Lea and Flood 2014): fixed seeds, so the same palette on every run. */
static double random_ratio(uint64_t *state)
{
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

/* k-means++: every next centre is a cell drawn with probability weight * squared distance to the centres so far.
 * Returns the number of centres; fewer than k when every cell sits on one. */
static size_t draw_centres(const sw_colour_cells *cells, size_t k, size_t n_fixed, uint64_t *random,
                           sw_plane_colour *centre, double *gap)
{
    for (size_t i = 0; i < cells->n; i++) gap[i] = INFINITY;
    for (size_t n = 0; n < k; n++) {
        double total = 0.0;
        for (size_t i = 0; i < cells->n; i++) {
            if (n > 0) gap[i] = sw_min(gap[i], distance_sq(cells->at[i].at, centre[n - 1].at));
            total += cells->at[i].weight * (n > 0 ? gap[i] : 1.0);
        }
        if (n < n_fixed) continue;
        if (total <= 0.0) return n;
        double left = random_ratio(random) * total;
        size_t pick = SIZE_MAX;
        for (size_t i = 0; i < cells->n; i++) {
            const double share = cells->at[i].weight * (n > 0 ? gap[i] : 1.0);
            if (share <= 0.0) continue;
            pick = i;
            left -= share;
            if (left < 0.0) break;
        }
        memcpy(centre[n].at, cells->at[pick].at, sizeof centre[n].at);
    }
    return k;
}

/* Lloyd's steps until the cost stands still; a centre that loses all its cells stays where it is. */
static double settle(const sw_colour_cells *cells, size_t k, size_t n_fixed, sw_plane_colour *centre)
{
    double before = INFINITY;
    for (size_t step = 0; step < MAX_STEPS; step++) {
        double sum[SW_MAX_LABELS][SW_MAX_PLANES + 1] = { { 0.0 } }, total = 0.0;
        for (size_t i = 0; i < cells->n; i++) {
            double cost;
            double *const s = sum[nearest(cells->at[i].at, centre, k, &cost)];
            for (size_t p = 0; p < SW_MAX_PLANES; p++) s[p] += cells->at[i].weight * cells->at[i].at[p];
            s[SW_MAX_PLANES] += cells->at[i].weight;
            total += cells->at[i].weight * cost;
        }
        if (total >= before * (1.0 - 1e-9)) return total;
        before = total;
        for (size_t c = n_fixed; c < k; c++) {
            for (size_t p = 0; p < SW_MAX_PLANES && sum[c][SW_MAX_PLANES] > 0.0; p++)
                centre[c].at[p] = sum[c][p] / sum[c][SW_MAX_PLANES];
        }
    }
    return before;
}

sw_status sw_cluster_colour(const sw_colour_cells *cells, size_t k, size_t n_fixed,
                            sw_plane_colour centre[SW_MAX_LABELS], size_t *n_found, double *cost, sw_note *note)
{
    double *const gap = sw_alloc_raw(cells->n, sizeof *gap);
    if (gap == NULL) return sw_fail_memory(note, "the palette");
    sw_plane_colour best[SW_MAX_LABELS], trial[SW_MAX_LABELS];
    double best_cost = INFINITY;
    size_t n_best = n_fixed;
    uint64_t random = 1;
    memcpy(trial, centre, n_fixed * sizeof *trial);
    for (size_t seed = 0; seed < N_SEEDS; seed++) {
        const size_t n = draw_centres(cells, k, n_fixed, &random, trial, gap);
        const double trial_cost = settle(cells, n, n_fixed, trial);
        if (trial_cost >= best_cost) continue;
        best_cost = trial_cost;
        n_best = n;
        memcpy(best, trial, n * sizeof *best);
    }
    memcpy(centre + n_fixed, best + n_fixed, (n_best - n_fixed) * sizeof *best);
    *n_found = n_best;
    if (cost != NULL) *cost = best_cost;
    sw_free(gap);
    return SW_OK;
}

/* ---- the user's paints -------------------------------------------------------------------------------------- */

static double cost_with(const sw_colour_cells *cells, const double *gap, sw_plane_colour paint)
{
    double total = 0.0;
    for (size_t i = 0; i < cells->n; i++)
        total += cells->at[i].weight * sw_min(gap[i], distance_sq(cells->at[i].at, paint.at));
    return total;
}

/* Squared distance of every cell to the ground and to the picked paints but one (skip == SIZE_MAX: all). */
static void gaps_of(const sw_colour_cells *cells, const sw_plane_colour *paint, sw_plane_colour ground,
                    const size_t *picked, size_t n_picked, size_t skip, double *gap)
{
    for (size_t i = 0; i < cells->n; i++) {
        gap[i] = distance_sq(cells->at[i].at, ground.at);
        for (size_t k = 0; k < n_picked; k++) {
            if (k != skip) gap[i] = sw_min(gap[i], distance_sq(cells->at[i].at, paint[picked[k]].at));
        }
    }
}

/* The paint that helps most beside those in gap; SIZE_MAX if none helps. */
static size_t best_paint(const sw_colour_cells *cells, const sw_plane_colour *paint, size_t n_paints, const double *gap,
                         double *cost)
{
    size_t best = SIZE_MAX;
    for (size_t i = 0; i < n_paints; i++) {
        const double with = cost_with(cells, gap, paint[i]);
        if (with >= *cost * (1.0 - 1e-9)) continue;
        *cost = with;
        best = i;
    }
    return best;
}

sw_status sw_pick_paints(const sw_colour_cells *cells, sw_rgb8 ground, const sw_rgb8 *paints, size_t n_paints,
                         size_t n_pick, size_t picked[SW_MAX_PASSES], size_t *n_picked, sw_note *note)
{
    sw_status st = SW_NO_MEMORY;
    const sw_plane_colour bare = sw_plane_colour_from_rgb8(ground);
    sw_plane_colour *const paint = sw_alloc_raw(n_paints, sizeof *paint);
    double *const gap = sw_alloc_raw(cells->n, sizeof *gap);
    size_t n = 0;
    if (paint == NULL || gap == NULL) goto cleanup;
    for (size_t i = 0; i < n_paints; i++) paint[i] = sw_plane_colour_from_rgb8(paints[i]);
    double cost = INFINITY;
    while (n < n_pick) { /* one by one, each the best beside those before */
        gaps_of(cells, paint, bare, picked, n, SIZE_MAX, gap);
        if (n == 0) {
            cost = 0.0;
            for (size_t i = 0; i < cells->n; i++) cost += cells->at[i].weight * gap[i];
        }
        const size_t add = best_paint(cells, paint, n_paints, gap, &cost);
        if (add == SIZE_MAX) break;
        picked[n++] = add;
    }
    for (bool is_better = n > 1; is_better;) { /* then exchange while an exchange helps */
        is_better = false;
        for (size_t k = 0; k < n; k++) {
            gaps_of(cells, paint, bare, picked, n, k, gap);
            const size_t other = best_paint(cells, paint, n_paints, gap, &cost);
            if (other == SIZE_MAX) continue;
            picked[k] = other;
            is_better = true;
        }
    }
    *n_picked = n;
    st = SW_OK;
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "the choice of paints");
    sw_free(gap);
    sw_free(paint);
    return st;
}
