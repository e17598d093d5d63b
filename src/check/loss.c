/*
 * From thicknesses to sizes: a stroke t pixels thick is lost where t is less than the smallest width times the pixels a
 * millimetre has. So the share lost at any size is a sum over one distribution, and the smallest size a quantile of it.
 */
#include "check/parts.h"

#include <math.h>

static double step_px(const sw_strokes *s, size_t i) { return (double)i / SW_GRANULE_STEP * s->scale; }

/* Pixels thinner than width_px. What is too thick to be told never is. */
static uint64_t thinner(const sw_strokes *s, const uint64_t *counts, double width_px)
{
    uint64_t sum = 0;
    for (size_t i = 1; i < SW_GRANULE_MOST && step_px(s, i) < width_px; i++) sum += counts[i];
    return sum;
}

void sw_strokes_lost(const sw_strokes *strokes, double px_per_mm, double min_opening_mm, double min_web_mm,
                     double *opening_ratio, double *web_ratio)
{
    const double drawn = sw_max(1.0, (double)strokes->n_drawn);
    *opening_ratio = (double)thinner(strokes, strokes->openings, min_opening_mm * px_per_mm) / drawn;
    *web_ratio = (double)thinner(strokes, strokes->webs, min_web_mm * px_per_mm) / drawn;
}

double sw_strokes_limit(const sw_strokes *strokes, double lost_ratio, double min_opening_mm, double min_web_mm)
{
    const double allowed = lost_ratio * (double)strokes->n_drawn;
    double lost = 0.0;
    size_t opening = 1, web = 1; /* next thickness of each that is lost, thinnest need first */
    for (;;) {
        const bool has_opening = opening <= SW_GRANULE_MOST, has_web = web < SW_GRANULE_MOST;
        const double by_opening = has_opening ? step_px(strokes, opening) / min_opening_mm : INFINITY;
        const double by_web = has_web ? step_px(strokes, web) / min_web_mm : INFINITY;
        if (!has_opening && !has_web) return INFINITY;
        lost += (double)(by_opening <= by_web ? strokes->openings[opening++] : strokes->webs[web++]);
        if (lost > allowed) return sw_min(by_opening, by_web);
    }
}

double sw_strokes_quantile(const sw_strokes *strokes, bool is_web, double ratio)
{
    const uint64_t *const counts = is_web ? strokes->webs : strokes->openings;
    uint64_t total = 0, sum = 0;
    const size_t end = is_web ? SW_GRANULE_MOST : SW_GRANULE_MOST + 1;
    for (size_t i = 1; i < end; i++) total += counts[i];
    for (size_t i = 1; i < end; i++) {
        sum += counts[i];
        if (sum > 0 && (double)sum >= ratio * (double)total) return step_px(strokes, i);
    }
    return 0.0;
}
