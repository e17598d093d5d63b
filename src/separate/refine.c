/* Cut-offs of tone moved so that the wall, and not the label map, is closest to the picture.
 *
 * The optimum of clustering gives each class its own mean; but one class stays bare and shows the wall's colour whatever
 * its mean is, and others may have paints that the user owns. Each cut-off climbs down the mean CIEDE2000 between the
 * picture and what each class will show, in steps that halve. A lightness stands for the mean colour of its pixels. */
#include <math.h>

#include "separate/parts.h"

#define FIRST_STEP 8 /* in 1/255 of lightness */
#define MAX_SWEEPS 12
/* Of its pixels every class keeps so many. With half, tones parted by hue, and a pale face on a pale wall broke up into
 * islands with bridges across it; taste, seen on the figurehead and on the portrait. */
#define KEPT_PART 0.9
#define SAMPLE_PX 1000000u /* more pixels than this are not looked at: every 2nd, 3rd, ... row is */

typedef struct tones {
    double n[256];
    double sum[256][SW_MAX_PLANES];
    sw_lab lab[256]; /* of the mean colour */
} tones;

static void tones_make(const sw_planes *planes, tones *out)
{
    const size_t n_px = planes->width_px * planes->height_px, every = n_px / SAMPLE_PX + 1;
    uint32_t n[256] = { 0 };
    uint64_t sum[256][2] = { { 0 } };
    for (size_t y = every / 2 < planes->height_px ? every / 2 : 0; y < planes->height_px; y += every) {
        for (size_t at = y * planes->width_px; at < (y + 1) * planes->width_px; at++) {
            const uint8_t v = planes->at[0][at];
            n[v]++;
            sum[v][0] += planes->at[1][at];
            sum[v][1] += planes->at[2][at];
        }
    }
    for (size_t v = 0; v < 256; v++) {
        out->n[v] = n[v];
        out->sum[v][0] = (double)n[v] * (double)v;
        out->sum[v][1] = (double)sum[v][0];
        out->sum[v][2] = (double)sum[v][1];
        if (n[v] == 0) continue;
        const sw_plane_colour mean = { { (double)v, (double)sum[v][0] / n[v], (double)sum[v][1] / n[v] } };
        out->lab[v] = sw_lab_from_rgb8(sw_rgb8_from_plane_colour(mean));
    }
}

static size_t first_of(const uint8_t *cuts, size_t class) { return class == 0 ? 0 : (size_t)cuts[class - 1] + 1; }
static size_t end_of(const uint8_t *cuts, size_t n, size_t class) { return class + 1 == n ? 256 : (size_t)cuts[class] + 1; }

static double pixels_of(const tones *t, const uint8_t *cuts, size_t n, size_t class)
{
    double sum = 0.0;
    for (size_t v = first_of(cuts, class); v < end_of(cuts, n, class); v++) sum += t->n[v];
    return sum;
}

/* Summed CIEDE2000 of a class against its fixed colour or its mean. */
static double error_of(const tones *t, const uint8_t *cuts, size_t n, size_t class, const sw_rgb8 *fixed)
{
    double sum[SW_MAX_PLANES] = { 0.0 }, pixels = 0.0, error = 0.0;
    for (size_t v = first_of(cuts, class); v < end_of(cuts, n, class); v++) {
        pixels += t->n[v];
        for (size_t p = 0; p < SW_MAX_PLANES; p++) sum[p] += t->sum[v][p];
    }
    if (pixels <= 0.0) return 0.0;
    const sw_plane_colour mean = { { sum[0] / pixels, sum[1] / pixels, sum[2] / pixels } };
    const sw_lab shown = sw_lab_from_rgb8(fixed != NULL ? *fixed : sw_rgb8_from_plane_colour(mean));
    for (size_t v = first_of(cuts, class); v < end_of(cuts, n, class); v++) {
        if (t->n[v] > 0.0) error += t->n[v] * (double)sw_ciede2000(t->lab[v], shown);
    }
    return error;
}

/* Errors of the two classes beside a cut. */
static double error_beside(const tones *t, const uint8_t *cuts, size_t n, size_t cut, const sw_rgb8 *const *fixed)
{
    return error_of(t, cuts, n, cut, fixed[cut]) + error_of(t, cuts, n, cut + 1, fixed[cut + 1]);
}

/* Move one cut by `step` if that helps and both classes keep enough. */
static bool try_cut(const tones *t, uint8_t *cuts, size_t n, size_t cut, int step, const double *least,
                    const sw_rgb8 *const *fixed)
{
    const int was = cuts[cut], to = was + step;
    const int low = cut == 0 ? 0 : cuts[cut - 1] + 1, high = cut + 2 == n ? 254 : cuts[cut + 1] - 1;
    if (to < low || to > high) return false;
    const double before = error_beside(t, cuts, n, cut, fixed);
    cuts[cut] = (uint8_t)to;
    if (pixels_of(t, cuts, n, cut) >= least[cut] && pixels_of(t, cuts, n, cut + 1) >= least[cut + 1] &&
        error_beside(t, cuts, n, cut, fixed) < before * (1.0 - 1e-9))
        return true;
    cuts[cut] = (uint8_t)was;
    return false;
}

void sw_cuts_refine(const sw_planes *planes, size_t n, const sw_rgb8 *const *fixed, uint8_t *cuts)
{
    tones t;
    double least[SW_MAX_LABELS];
    tones_make(planes, &t);
    for (size_t i = 0; i < n; i++) least[i] = KEPT_PART * pixels_of(&t, cuts, n, i);
    for (int step = FIRST_STEP; step > 0; step /= 2) {
        bool is_better = true;
        for (size_t sweep = 0; sweep < MAX_SWEEPS && is_better; sweep++) {
            is_better = false;
            for (size_t cut = 0; cut + 1 < n; cut++)
                is_better |= try_cut(&t, cuts, n, cut, step, least, fixed) || try_cut(&t, cuts, n, cut, -step, least, fixed);
        }
    }
}
