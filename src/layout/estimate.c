/* What a job will take: material, machine time, paint, painting time.
 *
 * Sums over the panels with rates that the user may set. The defaults are round numbers of common practice, without a
 * source; a shop's and a painter's own are better, and the product's data sheet knows what a can covers. */
#include "layout/layout.h"

#include <math.h>

#define MM2_PER_M2 1e6
#define MAX_RATE 1e6 /* anything above is a slip of the pen */
#define LEAST_RATE 1e-3
#define MAX_WASTE 0.95

sw_rates sw_rates_usual(void)
{
    return (sw_rates){ .feed_mm_s = 20.0,
                       .travel_mm_s = 200.0,
                       .pierce_s = 0.5,
                       .load_minutes = 3.0,
                       .coverage_m2 = 2.0,
                       .waste_ratio = 0.35,
                       .place_minutes = 6.0,
                       .spray_minutes_m2 = 4.0,
                       .dry_minutes = 15.0 };
}

sw_status sw_rates_check(const sw_rates *r, sw_note *note)
{
    const double above_0[] = { r->feed_mm_s, r->travel_mm_s, r->coverage_m2 };
    const double from_0[] = { r->pierce_s, r->load_minutes, r->place_minutes, r->spray_minutes_m2, r->dry_minutes };
    bool is_good = true;
    for (size_t i = 0; i < SW_ARRAY_LEN(above_0); i++) is_good = is_good && above_0[i] >= LEAST_RATE && above_0[i] <= MAX_RATE;
    for (size_t i = 0; i < SW_ARRAY_LEN(from_0); i++) is_good = is_good && from_0[i] >= 0.0 && from_0[i] <= MAX_RATE;
    if (!is_good) return sw_fail(note, SW_BAD_LENGTH, "a rate is not a number, below 0 or far too large; speeds and coverage are above 0");
    if (!(r->waste_ratio >= 0.0 && r->waste_ratio <= MAX_WASTE))
        return sw_fail(note, SW_BAD_LENGTH, "--paint-waste must be at most 95; else no paint reaches the wall");
    return SW_OK;
}

static double ratio_of(double ratio) { return ratio > 0.0 ? ratio : 1.0; }

static void add_panel(sw_estimate *e, const sw_panel *panel, const sw_estimate_opts *opts, double coverage_m2)
{
    const sw_rates *const r = &opts->rates;
    const size_t n_pierces = panel->openings.n + panel->marks.n + 1;
    const double open_m2 = panel->open_area_mm2 / MM2_PER_M2;
    const double seconds = panel->cut_length_mm / r->feed_mm_s + panel->travel_length_mm / r->travel_mm_s +
                           (double)n_pierces * r->pierce_s;
    e->n_panels++;
    e->material_m2 += panel->width_mm * panel->height_mm / MM2_PER_M2;
    e->cut_mm += panel->cut_length_mm;
    e->travel_mm += panel->travel_length_mm;
    e->n_pierces += n_pierces;
    e->machine_minutes += seconds / 60.0 + r->load_minutes;
    e->open_m2 += open_m2;
    e->paint_cans += open_m2 / (1.0 - r->waste_ratio) / coverage_m2 * ratio_of(opts->paint_ratio);
    e->painting_minutes += (r->place_minutes * (double)(1 + panel->n_placings) + open_m2 * r->spray_minutes_m2) *
                           ratio_of(opts->time_ratio);
}

/* Whole cans: one for the smallest opening, but a thousandth over is no reason to buy another. */
static size_t whole_cans(double cans)
{
    return cans > 0.0 ? sw_max_size(1, (size_t)ceil(sw_clamp(cans - 1e-3, 0.0, 1e9))) : 0;
}

static sw_status check_opts(const sw_estimate_opts *opts, sw_note *note)
{
    SW_TRY(sw_rates_check(&opts->rates, note));
    for (size_t k = 0; k < SW_MAX_PASSES; k++) {
        if (!(opts->coverage_m2[k] >= 0.0 && opts->coverage_m2[k] <= MAX_RATE))
            return sw_fail(note, SW_BAD_LENGTH, "what a can of pass %zu covers is not a number of at least 0", k + 1);
    }
    if (!(opts->paint_ratio >= 0.0 && opts->paint_ratio <= MAX_RATE && opts->time_ratio >= 0.0 && opts->time_ratio <= MAX_RATE))
        return sw_fail(note, SW_BAD_LENGTH, "what the wall does to paint and time is not a number of at least 0");
    return SW_OK;
}

sw_status sw_layout_estimate(const sw_layout *layout, const sw_estimate_opts *opts, sw_estimate *passes, size_t n_passes,
                             sw_estimate *total, sw_note *note)
{
    const sw_rates *const r = &opts->rates;
    sw_estimate all = { 0 };
    size_t n_painted = 0;
    SW_TRY(check_opts(opts, note));
    for (size_t k = 0; k < n_passes; k++) passes[k] = (sw_estimate){ 0 };
    for (size_t i = 0; i < layout->n_panels; i++) {
        const sw_panel *const panel = &layout->panels[i];
        const double own_m2 = panel->pass >= 1 && panel->pass <= SW_MAX_PASSES ? opts->coverage_m2[panel->pass - 1] : 0.0;
        const double coverage_m2 = own_m2 > 0.0 ? own_m2 : r->coverage_m2;
        add_panel(&all, panel, opts, coverage_m2);
        if (panel->pass >= 1 && panel->pass <= n_passes) add_panel(&passes[panel->pass - 1], panel, opts, coverage_m2);
    }
    for (size_t k = 0; k < n_passes; k++) {
        passes[k].n_cans = whole_cans(passes[k].paint_cans);
        all.n_cans += passes[k].n_cans;
        n_painted += passes[k].n_panels > 0;
    }
    if (n_painted > 1) all.painting_minutes += (double)(n_painted - 1) * r->dry_minutes;
    *total = all;
    return SW_OK;
}
