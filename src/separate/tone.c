/* Steps of lightness: the exact optimum of 1-D k-means over the histogram.
 * Source: Wang and Song 2011, Ckmeans.1d.dp (dynamic programming over sorted values, prefix sums for the cost). For a
 * given number of classes this is also Otsu's criterion: total variance is fixed, so least within is most between. */
#include <math.h>

#include "separate/parts.h"

#define N_BINS 256

/* Sums over bins 0..i - 1. Whole numbers up to 4e8 pixels * 255^2 are exact in a double. */
typedef struct prefix {
    double weight[N_BINS + 1], sum[N_BINS + 1], square[N_BINS + 1];
} prefix;

static void prefix_make(const uint64_t histogram[N_BINS], prefix *out)
{
    out->weight[0] = out->sum[0] = out->square[0] = 0.0;
    for (size_t i = 0; i < N_BINS; i++) {
        const double n = (double)histogram[i], v = (double)i;
        out->weight[i + 1] = out->weight[i] + n;
        out->sum[i + 1] = out->sum[i] + n * v;
        out->square[i + 1] = out->square[i] + n * v * v;
    }
}

/* Squared deviation of bins first..last from their mean. */
static double cost_of(const prefix *sums, size_t first, size_t last)
{
    const double n = sums->weight[last + 1] - sums->weight[first];
    if (n <= 0.0) return 0.0;
    const double sum = sums->sum[last + 1] - sums->sum[first];
    return sums->square[last + 1] - sums->square[first] - sum * sum / n;
}

size_t sw_cluster_tone(const uint64_t histogram[N_BINS], size_t k, uint8_t cuts[SW_MAX_LABELS])
{
    static const double never = INFINITY;
    prefix sums;
    uint8_t from[SW_MAX_LABELS][N_BINS]; /* first bin of the last cluster when bins 0..i make c + 1 clusters */
    double best[2][N_BINS];
    size_t n_filled = 0, last_filled = 0;
    for (size_t i = 0; i < N_BINS; i++) {
        if (histogram[i] == 0) continue;
        n_filled++;
        last_filled = i;
    }
    k = sw_min_size(sw_min_size(k, SW_MAX_LABELS), n_filled);
    if (k == 0) return 0;
    prefix_make(histogram, &sums);
    for (size_t i = 0; i < N_BINS; i++) best[0][i] = sums.weight[i + 1] > 0.0 ? cost_of(&sums, 0, i) : never;
    for (size_t c = 1; c < k; c++) {
        double *const now = best[c % 2];
        const double *const before = best[(c + 1) % 2];
        for (size_t i = 0; i < N_BINS; i++) {
            now[i] = never;
            from[c][i] = (uint8_t)i;
            for (size_t first = 1; first <= i; first++) {
                /* a cluster begins at a filled bin, so none is empty and equal optima do not depend on gaps */
                if (histogram[first] == 0) continue;
                const double cost = before[first - 1] + cost_of(&sums, first, i);
                if (cost >= now[i]) continue;
                now[i] = cost;
                from[c][i] = (uint8_t)first;
            }
        }
    }
    for (size_t c = k - 1, last = last_filled; c > 0; c--) {
        last = (size_t)from[c][last] - 1;
        cuts[c - 1] = (uint8_t)last;
    }
    return k;
}
