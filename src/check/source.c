/*
 * What the source is like: range of lightness, width of edges, noise.
 *
 * Noise is the middle of the absolute responses to Immerkaer's mask (1996, "Fast noise variance estimation"), which is
 * blind to even slopes; the middle rather than the mean, so that edges do not count. Width of an edge: the step between the
 * two ends of a monotone run along a row, over its steepest difference; of a sharp edge that is 1 to 2 pixels.
 */
#include "check/parts.h"

#include <math.h>
#include <stdlib.h>

#define MOST_SAMPLES 600000.0 /* pixels looked at */
#define END_RATIO 0.001        /* of the pixels is darker, or lighter, than the range says */
#define CLEAR_STEP 40          /* of 255: an edge is at least this high */
#define MIDDLE_ABSOLUTE 0.6745 /* of a normal distribution's absolute value, over its standard deviation */
#define EDGE_PARTS 8           /* of a pixel */
#define EDGE_BINS (64 * EDGE_PARTS)

static int grey(sw_rgb8 c) { return (c.r * 77 + c.g * 150 + c.b * 29 + 128) >> 8; }

static size_t quantile(const uint64_t *counts, size_t n, double ratio)
{
    double total = 0.0, sum = 0.0;
    for (size_t i = 0; i < n; i++) total += (double)counts[i];
    for (size_t i = 0; i < n; i++) {
        sum += (double)counts[i];
        if (sum > 0.0 && sum >= ratio * total) return i;
    }
    return n - 1;
}

static double lightness(size_t level)
{
    const uint8_t v = (uint8_t)level;
    return sw_lab_from_rgb8((sw_rgb8){ v, v, v }).L;
}

/* Edges along one row. */
static void add_edges(const sw_rgb8 *row, size_t n, uint64_t edges[EDGE_BINS])
{
    size_t begin = 0;
    int steepest = 0, direction = 0;
    for (size_t x = 1; x <= n; x++) {
        const int step = x < n ? grey(row[x]) - grey(row[x - 1]) : 0;
        const int sign = (step > 0) - (step < 0);
        if (sign == direction && sign != 0) {
            if (abs(step) > steepest) steepest = abs(step);
            continue;
        }
        const int height = direction == 0 ? 0 : abs(grey(row[x - 1]) - grey(row[begin]));
        if (height >= CLEAR_STEP) {
            const size_t bin = (size_t)(EDGE_PARTS * height / steepest);
            edges[sw_min_size(bin, EDGE_BINS - 1)]++;
        }
        begin = x - 1;
        direction = sign;
        steepest = abs(step);
    }
}

void sw_source_measure(const sw_picture *full, sw_check_source *out)
{
    const size_t w = full->width_px, h = full->height_px;
    uint64_t levels[256] = { 0 }, responses[1021] = { 0 }, edges[EDGE_BINS] = { 0 };
    const size_t step = (size_t)sw_max(1.0, ceil((double)w * (double)h / MOST_SAMPLES));
    for (size_t y = 0; y < h; y += step) {
        const sw_rgb8 *const row = full->at + y * w;
        for (size_t x = 0; x < w; x++) levels[grey(row[x])]++;
        add_edges(row, w, edges);
        if (y == 0 || y + 1 >= h) continue;
        for (size_t x = 1; x + 1 < w; x++) {
            const sw_rgb8 *const at = row + x, *const up = at - w, *const down = at + w;
            const int sum = grey(up[-1]) - 2 * grey(up[0]) + grey(up[1]) - 2 * grey(at[-1]) + 4 * grey(at[0]) -
                            2 * grey(at[1]) + grey(down[-1]) - 2 * grey(down[0]) + grey(down[1]);
            responses[sw_min_size((size_t)abs(sum), 1020)]++;
        }
    }
    uint64_t n_edges = 0;
    for (size_t i = 0; i < EDGE_BINS; i++) n_edges += edges[i];
    out->lightness_range = lightness(quantile(levels, 256, 1.0 - END_RATIO)) - lightness(quantile(levels, 256, END_RATIO));
    out->noise = (double)quantile(responses, SW_ARRAY_LEN(responses), 0.5) / MIDDLE_ABSOLUTE / 6.0;
    const double reduced = (double)full->source_width_px / (double)w;
    out->edge_px = n_edges == 0 ? 0.0 : ((double)quantile(edges, EDGE_BINS, 0.5) + 0.5) / EDGE_PARTS * reduced;
}
