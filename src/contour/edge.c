/* Where exactly an edge runs between the pixels.
 *
 * Blurred with a Gaussian, a mask is one half on a straight edge; from the value at a point near an edge and the
 * slope of the blurred step follows how far off the edge is, to a few hundredths of a pixel. On a bend of radius r
 * the half value lies sigma^2 / (2 r) towards the centre, which is left to the caller to add. Where the slope is not
 * that of one edge alone (a corner, a second edge close by) there is no answer. */
#include "contour/outline.h"

#define SIGMA_PX 1.4
#define REACH 4               /* pixels on each side; nearly 3 sigma */
#define N_TAPS (2 * REACH + 1)
#define LEAST_SLOPE 0.94      /* of a lone straight edge's */
#define MOST_OFF_PX 1.2       /* farther away the blurred step is no longer nearly straight */
#define SQRT_2PI 2.5066282746310002

/* Gaussian weights of pixel centres about a point, and the same times their distance. Neighbouring values differ by a
 * factor that itself changes by a constant one, so two exponentials do. */
static void weights_at(double centre, ptrdiff_t first, double w[N_TAPS], double moment[N_TAPS])
{
    const double d0 = (double)first + 0.5 - centre;
    const double step = exp(-1.0 / (SIGMA_PX * SIGMA_PX));
    double value = exp(-0.5 * d0 * d0 / (SIGMA_PX * SIGMA_PX)), ratio = exp(-(d0 + 0.5) / (SIGMA_PX * SIGMA_PX)), sum = 0.0;
    for (int k = 0; k < N_TAPS; k++) {
        w[k] = value;
        sum += value;
        value *= ratio;
        ratio *= step;
    }
    for (int k = 0; k < N_TAPS; k++) {
        w[k] /= sum;
        moment[k] = w[k] * (d0 + (double)k);
    }
}

static size_t clamp_index(ptrdiff_t i, size_t n) { return i < 0 ? 0 : (size_t)i >= n ? n - 1 : (size_t)i; }

/* The row's pixels from x0 on; beyond the border the border pixel goes on. */
static const uint8_t *pixels_at(const sw_mask *mask, ptrdiff_t x0, ptrdiff_t y, uint8_t copy[N_TAPS])
{
    const uint8_t *const row = mask->at + clamp_index(y, mask->height_px) * mask->width_px;
    if (x0 >= 0 && (size_t)x0 + N_TAPS <= mask->width_px) return row + x0;
    for (int k = 0; k < N_TAPS; k++) copy[k] = row[clamp_index(x0 + k, mask->width_px)];
    return copy;
}

bool edge_offset(const sw_mask *mask, pt p, pt open, double *off)
{
    const ptrdiff_t x0 = (ptrdiff_t)floor(p.x) - REACH, y0 = (ptrdiff_t)floor(p.y) - REACH;
    double wx[N_TAPS], wy[N_TAPS], mx[N_TAPS], my[N_TAPS];
    weights_at(p.x, x0, wx, mx);
    weights_at(p.y, y0, wy, my);
    double value = 0.0, slope_x = 0.0, slope_y = 0.0;
    for (int j = 0; j < N_TAPS; j++) {
        uint8_t copy[N_TAPS];
        const uint8_t *const row = pixels_at(mask, x0, y0 + j, copy);
        double sum = 0.0, moment = 0.0;
        for (int k = 0; k < N_TAPS; k++) {
            const double m = (double)(row[k] & 1u);
            sum += m * wx[k];
            moment += m * mx[k];
        }
        value += wy[j] * sum;
        slope_x += wy[j] * moment;
        slope_y += my[j] * sum;
    }
    const double slope = (slope_x * open.x + slope_y * open.y) / (SIGMA_PX * SIGMA_PX);
    const double lone = 1.0 / (SIGMA_PX * SQRT_2PI), off_px = -(value - 0.5) / lone;
    if (fabs(off_px) > MOST_OFF_PX) return false;
    /* the step is the error function: steepest in its middle, and one term more than its tangent */
    const double share = off_px * off_px / (SIGMA_PX * SIGMA_PX);
    if (slope < LEAST_SLOPE * lone * (1.0 - 0.5 * share)) return false;
    *off = off_px * (1.0 + share / 6.0);
    return true;
}

double edge_bend(double curvature) { return 0.5 * SIGMA_PX * SIGMA_PX * curvature; }
