/* Pictures judged: known answers, the loss as one distribution, memory. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "check/parts.h"
#include "support.h"

/* Upright bars: bar_px black, gap_px white, over a margin of 40 px all round. */
static sw_picture bars(size_t width_px, size_t height_px, size_t bar_px, size_t gap_px)
{
    sw_picture p = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_picture_make(width_px, height_px, (sw_rgb8){ 255, 255, 255 }, &p, &note), note);
    for (size_t y = 40; y + 40 < height_px; y++) {
        for (size_t x = 40; x + 40 < width_px; x++) {
            if ((x - 40) % (bar_px + gap_px) < bar_px) p.at[y * width_px + x] = (sw_rgb8){ 0, 0, 0 };
        }
    }
    return p;
}

static sw_text png_of(const sw_picture *p)
{
    sw_text png = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_write_png(p, 0.0, &png, &note), note);
    return png;
}

static sw_check check_picture(const sw_picture *p, double width_mm, bool has_all)
{
    sw_check_opts opts = { .cut = sw_cut_defaults(), .has_passes_table = has_all, .has_chart = has_all };
    sw_check check = { 0 };
    sw_note note = { 0 };
    sw_text png = png_of(p);
    opts.cut.n_passes = 1;
    opts.cut.width_mm = width_mm;
    assert_ok(sw_check_picture_memory((const uint8_t *)png.data, png.size, "dir/bars.png", &opts, &check, &note), note);
    sw_text_free(&png);
    return check;
}

static void a_grating_needs_its_exact_width(void **state)
{
    (void)state;
    sw_picture p = bars(480, 320, 8, 12); /* openings: 3 * 480 / 8 = 180 mm; webs: 5 * 480 / 12 = 200 mm */
    sw_check check = check_picture(&p, 0.0, false);
    assert_true(fabs(check.smallest_width_mm / 200.0 - 1.0) < 0.03);
    assert_true(fabs(check.smallest_width_10_percent_mm / 200.0 - 1.0) < 0.03);
    assert_string_equal(check.name, "bars.png");
    sw_check_free(&check);
    sw_picture_free(&p);
}

static void a_larger_wall_never_loses_more(void **state)
{
    (void)state;
    sw_picture p = bars(300, 200, 5, 9);
    sw_check check = check_picture(&p, 0.0, false);
    for (size_t i = 1; i < SW_CHECK_CURVE; i++) {
        assert_true(check.curve_width_mm[i] > check.curve_width_mm[i - 1]);
        assert_true(check.curve_lost_ratio[i] <= check.curve_lost_ratio[i - 1]);
    }
    sw_check_free(&check);
    sw_picture_free(&p);
}

static void too_small_a_wall_is_a_no_with_the_cure(void **state)
{
    (void)state;
    sw_picture p = bars(480, 320, 8, 12);
    sw_check check = check_picture(&p, 150.0, false);
    assert_int_equal(check.reasons.verdict, SW_VERDICT_NO);
    assert_string_equal(check.reasons.at[0].name, "too-fine");
    assert_non_null(strstr(check.reasons.at[0].cure, "at least 20"));
    sw_check_free(&check);
    check = check_picture(&p, 900.0, false);
    assert_int_equal(check.reasons.verdict, SW_VERDICT_YES);
    sw_check_free(&check);
    sw_picture_free(&p);
}

static void reasons_stand_by_weight(void **state)
{
    (void)state;
    sw_reasons r = { 0 };
    sw_reasons_add(&r, "note", SW_VERDICT_YES, 99.0, "", "");
    sw_reasons_add(&r, "if", SW_VERDICT_YES_IF, 1.0, "", "");
    sw_reasons_add(&r, "no", SW_VERDICT_NO, 1.0, "", "");
    sw_reasons_add(&r, "heavier", SW_VERDICT_YES_IF, 2.0, "", "");
    assert_int_equal(r.verdict, SW_VERDICT_NO);
    static const char *const order[] = { "no", "heavier", "if", "note" };
    for (size_t i = 0; i < 4; i++) assert_string_equal(r.at[i].name, order[i]);
}

static uint16_t thickness_of(const sw_mask *mask, size_t x, size_t y)
{
    uint16_t *const thick = sw_alloc_array(mask->width_px * mask->height_px, sizeof *thick);
    sw_note note = { 0 };
    assert_non_null(thick);
    assert_ok(sw_granules_measure(mask, true, NULL, thick, NULL, &note), note);
    const uint16_t found = thick[y * mask->width_px + x];
    sw_free(thick);
    return found;
}

static void a_corner_is_as_thick_as_its_stroke(void **state)
{
    (void)state;
    sw_mask mask = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_mask_make(100, 80, &mask, &note), note);
    for (size_t y = 10; y < 50; y++) memset(mask.at + y * 100 + 10, 1, 40);
    for (size_t y = 28; y < 32; y++) memset(mask.at + y * 100 + 50, 1, 40); /* a thin line hangs on the square */
    assert_int_equal(thickness_of(&mask, 10, 10), 40 * SW_GRANULE_STEP);
    assert_int_equal(thickness_of(&mask, 49, 49), 40 * SW_GRANULE_STEP);
    assert_int_equal(thickness_of(&mask, 30, 30), 40 * SW_GRANULE_STEP);
    assert_int_equal(thickness_of(&mask, 70, 30), 4 * SW_GRANULE_STEP);
    assert_int_equal(thickness_of(&mask, 89, 28), 4 * SW_GRANULE_STEP);
    assert_int_equal(thickness_of(&mask, 5, 5), 0);
    sw_mask_free(&mask);
}

static void answers_do_not_depend_on_threads(void **state)
{
    (void)state;
    static const size_t sides[] = { 1, 2, 127, 200 };
    for (size_t i = 0; i < SW_ARRAY_LEN(sides); i++) {
        sw_picture p = { 0 };
        sw_note note = { 0 };
        sw_text first = { 0 };
        assert_ok(sw_picture_make(sides[i], sides[i], (sw_rgb8){ 255, 255, 255 }, &p, &note), note);
        for (size_t at = 0; at < sides[i] * sides[i]; at++) {
            if (at / 7 % 3 == 0) p.at[at] = (sw_rgb8){ (uint8_t)(at % 90), 30, 20 };
        }
        for (int n_threads = 1; n_threads <= 7; n_threads += 3) {
            sw_text json = { 0 };
            sw_threads_set(n_threads);
            sw_check check = check_picture(&p, 500.0, true);
            sw_check_json(&check, &json);
            if (n_threads == 1) first = json;
            else {
                assert_string_equal(json.data, first.data);
                sw_text_free(&json);
            }
            sw_check_free(&check);
        }
        sw_text_free(&first);
        sw_picture_free(&p);
    }
    sw_threads_set(0);
}

static void nothing_leaks_when_memory_is_out(void **state)
{
    (void)state;
    sw_picture p = bars(120, 100, 8, 12);
    sw_text png = png_of(&p);
    sw_check_opts opts = { .cut = sw_cut_defaults(), .has_passes_table = true, .has_chart = true };
    opts.cut.n_passes = 1;
    sw_threads_set(1);
    const size_t live = sw_alloc_fail_at(0);
    sw_status st = SW_NO_MEMORY;
    size_t step = 1;
    for (size_t nth = 1; st != SW_OK && nth < 200000; nth += step, step = 1 + nth / 8) { /* ever wider apart: it is a long way */
        sw_check check = { 0 };
        sw_alloc_fail_at(nth);
        st = sw_check_picture_memory((const uint8_t *)png.data, png.size, "p.png", &opts, &check, NULL);
        sw_check_free(&check);
        assert_int_equal(sw_alloc_fail_at(0), live);
        assert_true(st == SW_OK || st == SW_NO_MEMORY);
    }
    assert_int_equal(st, SW_OK);
    sw_threads_set(0);
    sw_text_free(&png);
    sw_picture_free(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_grating_needs_its_exact_width),  cmocka_unit_test(a_larger_wall_never_loses_more),
        cmocka_unit_test(too_small_a_wall_is_a_no_with_the_cure), cmocka_unit_test(reasons_stand_by_weight),
        cmocka_unit_test(a_corner_is_as_thick_as_its_stroke), cmocka_unit_test(answers_do_not_depend_on_threads),
        cmocka_unit_test(nothing_leaks_when_memory_is_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
