/* Estimates: sums that can be checked by hand. */
#include "layout/layout.h"
#include "support.h"

#include <math.h>
#include <string.h>

static sw_contour no_contours[4];

static sw_panel panel(size_t pass, size_t n_openings, double cut_mm, double travel_mm, double open_mm2)
{
    return (sw_panel){ .pass = pass,
                       .width_mm = 1000,
                       .height_mm = 500,
                       .openings = { no_contours, n_openings, 0 },
                       .marks = { no_contours, 4, 0 },
                       .cut_length_mm = cut_mm,
                       .travel_length_mm = travel_mm,
                       .open_area_mm2 = open_mm2 };
}

static bool is_near(double a, double b) { return fabs(a - b) < 1e-9 * (1 + fabs(b)); }

static void an_estimate_is_the_sum_of_its_panels(void **state)
{
    (void)state;
    sw_panel panels[] = { panel(1, 3, 6000, 2000, 400000), panel(1, 1, 3000, 0, 100000), panel(2, 2, 1200, 400, 0) };
    const sw_layout layout = { .panels = panels, .n_panels = 3 };
    const sw_estimate_opts opts = { .rates = { .feed_mm_s = 10, .travel_mm_s = 100, .pierce_s = 2, .load_minutes = 5,
                                               .coverage_m2 = 0.5, .waste_ratio = 0.5, .place_minutes = 7,
                                               .spray_minutes_m2 = 10, .dry_minutes = 30 } };
    sw_estimate passes[2], total;
    assert_int_equal(sw_layout_estimate(&layout, &opts, passes, 2, &total, NULL), SW_OK);
    assert_int_equal(passes[0].n_panels, 2);
    assert_true(is_near(passes[0].material_m2, 1.0));
    assert_int_equal(passes[0].n_pierces, 3 + 1 + 4 + 4 + 2);
    assert_true(is_near(passes[0].machine_minutes, (900.0 + 20.0 + 14 * 2.0) / 60.0 + 10.0));
    assert_true(is_near(passes[0].paint_cans, 0.5 / 0.5 / 0.5));
    assert_int_equal(passes[0].n_cans, 2);
    assert_true(is_near(passes[0].painting_minutes, 14 + 5));
    assert_int_equal(passes[1].n_cans, 0);
    assert_true(is_near(total.painting_minutes, 14 + 5 + 7 + 30)); /* one wait between two passes */
    assert_true(is_near(total.cut_mm, 10200) && is_near(total.travel_mm, 2400));
    assert_true(is_near(total.material_m2, 1.5) && total.n_cans == 2);
}

/* By hand: pass 2's own paint covers 1 m2 a can, pass 1 has the rate's 2 m2; 0.65 of the paint reaches the wall. */
static void a_paint_covers_what_its_list_says(void **state)
{
    (void)state;
    sw_panel panels[] = { panel(1, 1, 10, 0, 1300000), panel(2, 1, 10, 0, 1300000) };
    const sw_layout layout = { .panels = panels, .n_panels = 2 };
    const sw_estimate_opts opts = { .rates = sw_rates_usual(), .coverage_m2 = { 0, 1.0 } };
    sw_estimate passes[2], total;
    assert_int_equal(sw_layout_estimate(&layout, &opts, passes, 2, &total, NULL), SW_OK);
    assert_true(is_near(passes[0].paint_cans, 1.0) && passes[0].n_cans == 1);
    assert_true(is_near(passes[1].paint_cans, 2.0) && passes[1].n_cans == 2);
    assert_true(total.n_cans == 3);
}

static void each_pass_needs_its_own_can(void **state)
{
    (void)state;
    sw_panel panels[] = { panel(1, 1, 10, 0, 1000), panel(2, 1, 10, 0, 1000), panel(3, 1, 10, 0, 1000) };
    const sw_layout layout = { .panels = panels, .n_panels = 3 };
    sw_estimate passes[3], total;
    assert_int_equal(sw_layout_estimate(&layout, &(sw_estimate_opts){ .rates = sw_rates_usual() }, passes, 3, &total, NULL), SW_OK);
    assert_int_equal(total.n_cans, 3);
    assert_true(total.paint_cans < 0.1);
}

static void a_rough_wall_takes_paint_and_time_but_dries_no_slower(void **state)
{
    (void)state;
    sw_panel panels[] = { panel(1, 1, 10, 0, 500000), panel(2, 1, 10, 0, 500000) };
    const sw_layout layout = { .panels = panels, .n_panels = 2 };
    sw_estimate passes[2], smooth, rough;
    sw_estimate_opts opts = { .rates = sw_rates_usual() };
    assert_int_equal(sw_layout_estimate(&layout, &opts, passes, 2, &smooth, NULL), SW_OK);
    opts.paint_ratio = 1.6;
    opts.time_ratio = 1.5;
    assert_int_equal(sw_layout_estimate(&layout, &opts, passes, 2, &rough, NULL), SW_OK);
    assert_true(fabs(rough.paint_cans - 1.6 * smooth.paint_cans) < 1e-9);
    assert_true(fabs(rough.painting_minutes - opts.rates.dry_minutes - 1.5 * (smooth.painting_minutes - opts.rates.dry_minutes)) < 1e-9);
    assert_true(fabs(rough.machine_minutes - smooth.machine_minutes) < 1e-9);
    opts.time_ratio = NAN;
    assert_int_equal(sw_layout_estimate(&layout, &opts, passes, 2, &rough, NULL), SW_BAD_LENGTH);
}

static void rates_that_make_no_sense_are_refused(void **state)
{
    (void)state;
    const struct {
        size_t offset;
        double value;
    } bad[] = { { offsetof(sw_rates, feed_mm_s), -1 },     { offsetof(sw_rates, feed_mm_s), 0 },
                { offsetof(sw_rates, pierce_s), NAN },     { offsetof(sw_rates, dry_minutes), -0.1 },
                { offsetof(sw_rates, coverage_m2), INFINITY }, { offsetof(sw_rates, coverage_m2), 0 },
                { offsetof(sw_rates, waste_ratio), 1 } };
    const sw_layout layout = { 0 };
    for (size_t i = 0; i < SW_ARRAY_LEN(bad); i++) {
        sw_estimate total;
        sw_note note = { 0 };
        sw_estimate_opts opts = { .rates = sw_rates_usual() };
        memcpy((char *)&opts.rates + bad[i].offset, &bad[i].value, sizeof bad[i].value);
        assert_int_equal(sw_layout_estimate(&layout, &opts, NULL, 0, &total, &note), SW_BAD_LENGTH);
        assert_true(note.text[0] != '\0');
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_estimate_is_the_sum_of_its_panels),
        cmocka_unit_test(a_paint_covers_what_its_list_says),
        cmocka_unit_test(each_pass_needs_its_own_can),
        cmocka_unit_test(a_rough_wall_takes_paint_and_time_but_dries_no_slower),
        cmocka_unit_test(rates_that_make_no_sense_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
