/* Where exactly an edge runs between the pixels.
 *
 * Blurred with a Gaussian, a mask is one half on a straight edge; from the value at a point near an edge and the
 * slope of the blurred step follows how far off the edge is, to a few hundredths of a pixel. On a bend of radius r
 * the half value lies sigma^2 / (2 r) towards the centre, which is left to the caller to add. Where the slope is not
 * that of one edge alone (a corner, a second edge close by) there is no answer. */
#include "contour/outline.h"

#define SIGMA_PX 1.4
#define REACH 5               /* pixels on each side; 3.5 sigma */
#define LEAST_SLOPE 0.9       /* of a lone straight edge's */
#define MOST_OFF_PX 1.2       /* farther away the blurred step is no longer nearly straight */
#define SQRT_2PI 2.5066282746310002

static void weights_at(double centre, ptrdiff_t first, double w[2 * REACH + 1])
{
    double sum = 0.0;
    for (int k = 0; k <= 2 * REACH; k++) {
        const double d = (double)(first + k) + 0.5 - centre;
        w[k] = exp(-0.5 * d * d / (SIGMA_PX * SIGMA_PX));
        sum += w[k];
    }
    for (int k = 0; k <= 2 * REACH; k++) w[k] /= sum;
}

static size_t clamp_index(ptrdiff_t i, size_t n) { return i < 0 ? 0 : (size_t)i >= n ? n - 1 : (size_t)i; }

bool edge_offset(const sw_mask *mask, pt p, pt open, double *off)
{
    const ptrdiff_t x0 = (ptrdiff_t)floor(p.x) - REACH, y0 = (ptrdiff_t)floor(p.y) - REACH;
    double wx[2 * REACH + 1], wy[2 * REACH + 1];
    weights_at(p.x, x0, wx);
    weights_at(p.y, y0, wy);
    double value = 0.0, slope_x = 0.0, slope_y = 0.0;
    for (int j = 0; j <= 2 * REACH; j++) { /* beyond the border the border pixels go on */
        const uint8_t *const row = mask->at + clamp_index(y0 + j, mask->height_px) * mask->width_px;
        double sum = 0.0, moment = 0.0;
        for (int k = 0; k <= 2 * REACH; k++) {
            const double m = (double)(row[clamp_index(x0 + k, mask->width_px)] & 1u) * wx[k];
            sum += m;
            moment += m * ((double)(x0 + k) + 0.5 - p.x);
        }
        value += wy[j] * sum;
        slope_x += wy[j] * moment;
        slope_y += wy[j] * sum * ((double)(y0 + j) + 0.5 - p.y);
    }
    const double slope = (slope_x * open.x + slope_y * open.y) / (SIGMA_PX * SIGMA_PX);
    const double lone = 1.0 / (SIGMA_PX * SQRT_2PI), off_px = -(value - 0.5) / lone;
    if (fabs(off_px) > MOST_OFF_PX) return false;
    /* slope of the step as far from its middle as we are */
    if (slope < LEAST_SLOPE * lone * exp(-0.5 * off_px * off_px / (SIGMA_PX * SIGMA_PX))) return false;
    /* the step is the error function: one term more than its tangent */
    *off = off_px * (1.0 + off_px * off_px / (6.0 * SIGMA_PX * SIGMA_PX));
    return true;
}

double edge_bend(double curvature) { return 0.5 * SIGMA_PX * SIGMA_PX * curvature; }
