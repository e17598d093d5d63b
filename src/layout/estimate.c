/* What a job will take: material, machine time, paint, painting time.
 *
 * Sums over the panels with rates that the user may set. The defaults are round numbers of common practice, without a
 * source; a shop's and a painter's own are better, and the product's data sheet knows what a can covers. */
#include "layout/layout.h"

#include <math.h>

static const sw_rates usual = { .feed_mm_s = 20.0,
                                .travel_mm_s = 200.0,
                                .pierce_s = 0.5,
                                .load_minutes = 3.0,
                                .coverage_m2 = 2.0,
                                .waste_ratio = 0.35,
                                .place_minutes = 6.0,
                                .spray_minutes_m2 = 4.0,
                                .dry_minutes = 15.0 };

#define MM2_PER_M2 1e6
#define MAX_RATE 1e6 /* anything above is a slip of the pen */

static bool take_rate(double given, double standard, double *out)
{
    *out = given > 0.0 ? given : standard;
    return given >= 0.0 && given <= MAX_RATE;
}

sw_status sw_rates_complete(const sw_rates *rates, sw_rates *out, sw_note *note)
{
    sw_rates made;
    bool is_good = take_rate(rates->feed_mm_s, usual.feed_mm_s, &made.feed_mm_s);
    is_good = take_rate(rates->travel_mm_s, usual.travel_mm_s, &made.travel_mm_s) && is_good;
    is_good = take_rate(rates->pierce_s, usual.pierce_s, &made.pierce_s) && is_good;
    is_good = take_rate(rates->load_minutes, usual.load_minutes, &made.load_minutes) && is_good;
    is_good = take_rate(rates->coverage_m2, usual.coverage_m2, &made.coverage_m2) && is_good;
    is_good = take_rate(rates->waste_ratio, usual.waste_ratio, &made.waste_ratio) && is_good;
    is_good = take_rate(rates->place_minutes, usual.place_minutes, &made.place_minutes) && is_good;
    is_good = take_rate(rates->spray_minutes_m2, usual.spray_minutes_m2, &made.spray_minutes_m2) && is_good;
    is_good = take_rate(rates->dry_minutes, usual.dry_minutes, &made.dry_minutes) && is_good;
    if (!is_good || made.waste_ratio >= 1.0)
        return sw_fail(note, SW_BAD_LENGTH, "a rate is not a number above 0, or the waste is not below 1");
    *out = made;
    return SW_OK;
}

static void add_panel(sw_estimate *e, const sw_panel *panel, const sw_rates *r)
{
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
    e->paint_cans += open_m2 / (1.0 - r->waste_ratio) / r->coverage_m2;
    e->painting_minutes += r->place_minutes + open_m2 * r->spray_minutes_m2;
}

/* Whole cans: one for the smallest opening, but a thousandth over is no reason to buy another. */
static size_t whole_cans(double cans)
{
    return cans > 0.0 ? sw_max_size(1, (size_t)ceil(sw_clamp(cans - 1e-3, 0.0, 1e9))) : 0;
}

sw_status sw_layout_estimate(const sw_layout *layout, const sw_rates *rates, sw_estimate *passes, size_t n_passes,
                             sw_estimate *total, sw_note *note)
{
    sw_rates r;
    sw_estimate all = { 0 };
    size_t n_painted = 0;
    SW_TRY(sw_rates_complete(rates, &r, note));
    for (size_t k = 0; k < n_passes; k++) passes[k] = (sw_estimate){ 0 };
    for (size_t i = 0; i < layout->n_panels; i++) {
        const sw_panel *const panel = &layout->panels[i];
        add_panel(&all, panel, &r);
        if (panel->pass >= 1 && panel->pass <= n_passes) add_panel(&passes[panel->pass - 1], panel, &r);
    }
    for (size_t k = 0; k < n_passes; k++) {
        passes[k].n_cans = whole_cans(passes[k].paint_cans);
        all.n_cans += passes[k].n_cans;
        n_painted += passes[k].n_panels > 0;
    }
    if (n_painted > 1) all.painting_minutes += (double)(n_painted - 1) * r.dry_minutes;
    *total = all;
    return SW_OK;
}
