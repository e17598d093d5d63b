/* The colour a label is best painted in: not the mean of its pixels but their geometric median, which is nearest to them
 * on average. Where a label holds two hues, a yellow sun and pale green rays, the mean is a grey that the picture does
 * not have; the median is the hue that covers more. Source: Weiszfeld 1937. */
#include <math.h>

#include "separate/parts.h"

#define SIDE_SAMPLES 192u /* at least so many pixels of the shorter side are looked at, or all */
#define FEWEST 24u        /* samples of a label; below that its mean stays */
#define MAX_STEPS 40      /* ten are usual */
#define NEAR 1.0          /* plane units; a pixel nearer than that pulls no harder */
#define STILL 0.02        /* plane units */

typedef struct sample {
    uint8_t label, at[SW_MAX_PLANES];
} sample;

static size_t take_samples(const sw_planes *planes, const uint8_t *label, size_t step, sample *out)
{
    size_t n = 0;
    for (size_t y = step / 2; y < planes->height_px; y += step) {
        for (size_t x = step / 2; x < planes->width_px; x += step) {
            const size_t at = y * planes->width_px + x;
            out[n++] = (sample){ label[at], { planes->at[0][at], planes->at[1][at], planes->at[2][at] } };
        }
    }
    return n;
}

/* One step of Weiszfeld's for all labels; the farthest that one moved. */
static double step_medians(const sample *samples, size_t n, size_t n_labels, const size_t *count, sw_plane_colour *colour)
{
    double sum[SW_MAX_LABELS][SW_MAX_PLANES + 1] = { { 0.0 } }, farthest = 0.0;
    for (size_t i = 0; i < n; i++) {
        const double *const c = colour[samples[i].label].at;
        double *const s = sum[samples[i].label];
        double d_sq = 0.0;
        for (size_t p = 0; p < SW_MAX_PLANES; p++) d_sq += (samples[i].at[p] - c[p]) * (samples[i].at[p] - c[p]);
        const double weight = 1.0 / sw_max(sqrt(d_sq), NEAR);
        for (size_t p = 0; p < SW_MAX_PLANES; p++) s[p] += weight * samples[i].at[p];
        s[SW_MAX_PLANES] += weight;
    }
    for (size_t k = 0; k < n_labels; k++) {
        if (count[k] < FEWEST) continue;
        for (size_t p = 0; p < SW_MAX_PLANES; p++) {
            const double now = sum[k][p] / sum[k][SW_MAX_PLANES];
            farthest = sw_max(farthest, fabs(now - colour[k].at[p]));
            colour[k].at[p] = now;
        }
    }
    return farthest;
}

sw_status sw_label_medians(const sw_planes *planes, const uint8_t *label, size_t n_labels,
                           sw_plane_colour colour[SW_MAX_LABELS], sw_note *note)
{
    const size_t shorter = sw_min_size(planes->width_px, planes->height_px), step = sw_max_size(shorter / SIDE_SAMPLES, 1);
    const size_t most = (planes->width_px / step + 1) * (planes->height_px / step + 1);
    size_t count[SW_MAX_LABELS] = { 0 };
    sample *const samples = sw_alloc_raw(most, sizeof *samples);
    if (samples == NULL) return sw_fail_memory(note, "the paints' colours");
    const size_t n = take_samples(planes, label, step, samples);
    for (size_t i = 0; i < n; i++) count[samples[i].label]++;
    for (size_t step_n = 0; step_n < MAX_STEPS; step_n++) {
        if (step_medians(samples, n, n_labels, count, colour) < STILL) break;
    }
    sw_free(samples);
    return SW_OK;
}
