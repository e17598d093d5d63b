/* Tracing window by window: openings end on the seams, and everything else is as the tracer alone would have it. */
#include "layout/layout.h"
#include "support.h"

#include <math.h>

/* 240 x 160 px of smooth blobs; shift moves them. */
static sw_mask blobs(double shift)
{
    sw_mask mask = { 0 };
    assert_int_equal(sw_mask_make(240, 160, &mask, NULL), SW_OK);
    for (size_t y = 0; y < 160; y++) {
        for (size_t x = 0; x < 240; x++)
            mask.at[y * 240 + x] = sin(((double)x + shift) / 11.0) * cos((double)y / 13.0) > 0.2;
    }
    return mask;
}

static sw_rect_px four[] = { { 0, 0, 131, 71 }, { 131, 0, 109, 71 }, { 0, 71, 131, 89 }, { 131, 71, 109, 89 } };
static const sw_windows windows = { four, 4 };
static const sw_trace_opts opts = { .tolerance_mm = 0.2 };

static sw_rect_mm box_of(const sw_contour *contour)
{
    const sw_contour_measure m = sw_contour_measure_one(contour);
    return (sw_rect_mm){ m.min.x_mm, m.min.y_mm, m.max.x_mm - m.min.x_mm, m.max.y_mm - m.min.y_mm };
}

static void every_opening_lies_in_its_window_and_ends_on_the_seam(void **state)
{
    (void)state;
    static const double scales[] = { 1.0, 2.0, 2.137, 0.77 };
    for (size_t s = 0; s < SW_ARRAY_LEN(scales); s++) {
        const sw_grid grid = { 240, 160, scales[s] };
        sw_mask mask = blobs(0);
        sw_contours list = { 0 };
        sw_note note = { 0 };
        assert_ok(sw_windows_trace(&mask, &windows, &grid, &opts, &list, &note), note);
        const double x = nearbyint(131 / scales[s] * 1000) / 1000, y = nearbyint(71 / scales[s] * 1000) / 1000;
        size_t n_on_seam = 0;
        for (size_t i = 0; i < list.n; i++) {
            const sw_rect_mm b = box_of(&list.at[i]);
            assert_true(b.x_mm >= x - 1e-9 || b.x_mm + b.width_mm <= x + 1e-9);
            assert_true(b.y_mm >= y - 1e-9 || b.y_mm + b.height_mm <= y + 1e-9);
            n_on_seam += fabs(b.x_mm - x) < 1e-9 || fabs(b.x_mm + b.width_mm - x) < 1e-9;
        }
        assert_true(n_on_seam >= 4); /* two blobs, both sides of each */
        sw_contours whole = { 0 };
        assert_int_equal(sw_contours_trace(&mask, &grid, &opts, &whole, NULL), SW_OK);
        const double wanted = sw_contours_measure(&whole).area_mm2;
        assert_true(fabs(sw_contours_measure(&list).area_mm2 - wanted) < 0.01 * wanted);
        sw_contours_free(&whole);
        sw_contours_free(&list);
        sw_mask_free(&mask);
    }
}

static void what_changes_at_a_seam_leaves_no_slips(void **state)
{
    (void)state;
    const sw_grid grid = { 240, 160, 2.0 };
    sw_mask mask = blobs(0), other = blobs(9);
    sw_contours list = { 0 };
    for (size_t y = 0; y < 160; y++) /* the right half was planned otherwise */
        memcpy(mask.at + y * 240 + 131, other.at + y * 240 + 131, 109);
    assert_int_equal(sw_windows_trace(&mask, &windows, &grid, &opts, &list, NULL), SW_OK);
    const sw_layout_sheet sheet = { .pass = 1, .openings = &list, .windows = &windows };
    const sw_layout_opts layout_opts = { .frame_mm = 40, .min_web_mm = 5, .min_opening_mm = 3 };
    sw_layout layout = { 0 };
    assert_int_equal(sw_layout_make(&grid, &sheet, 1, &layout_opts, &layout, NULL), SW_OK);
    assert_int_equal(layout.n_panels, 4);
    assert_int_equal(layout.n_slivers, 0);
    size_t n = 0;
    double area = 0;
    for (size_t i = 0; i < 4; i++) {
        n += layout.panels[i].openings.n;
        area += layout.panels[i].open_area_mm2;
    }
    assert_int_equal(n, list.n); /* clipping took nothing and added nothing */
    assert_true(fabs(area - sw_contours_measure(&list).area_mm2) < 1e-3);
    sw_layout_free(&layout);
    sw_contours_free(&list);
    sw_mask_free(&mask);
    sw_mask_free(&other);
}

static void windows_outside_the_mask_are_refused(void **state)
{
    (void)state;
    const sw_grid grid = { 240, 160, 2.0 };
    sw_mask mask = blobs(0);
    sw_rect_px bad[] = { { 0, 0, 241, 1 }, { 240, 0, 1, 1 }, { 0, 0, 0, 5 }, { 5, 159, 5, 2 }, { SIZE_MAX, 0, 2, 2 } };
    for (size_t i = 0; i < SW_ARRAY_LEN(bad); i++) {
        sw_contours list = { 0 };
        assert_int_equal(sw_windows_trace(&mask, &(sw_windows){ &bad[i], 1 }, &grid, &opts, &list, NULL), SW_BAD_LENGTH);
        assert_null(list.at);
    }
    sw_mask_free(&mask);
}

static void the_curves_are_the_same_for_any_number_of_threads(void **state)
{
    (void)state;
    const sw_grid grid = { 240, 160, 2.0 };
    sw_mask mask = blobs(3);
    sw_contours first = { 0 };
    for (int threads = 1; threads <= 7; threads += 3) {
        sw_contours list = { 0 };
        sw_threads_set(threads);
        assert_int_equal(sw_windows_trace(&mask, &windows, &grid, &opts, &list, NULL), SW_OK);
        if (threads == 1) {
            first = list;
            continue;
        }
        assert_int_equal(first.n, list.n);
        for (size_t i = 0; i < list.n; i++) {
            assert_int_equal(first.at[i].n_segs, list.at[i].n_segs);
            assert_memory_equal(first.at[i].segs, list.at[i].segs, list.at[i].n_segs * sizeof *list.at[i].segs);
        }
        sw_contours_free(&list);
    }
    sw_threads_set(0);
    sw_contours_free(&first);
    sw_mask_free(&mask);
}

static void memory_that_ends_is_told_and_freed(void **state)
{
    (void)state;
    const sw_grid grid = { 60, 40, 2.0 };
    sw_mask mask = { 0 };
    sw_rect_px two[] = { { 0, 0, 31, 40 }, { 31, 0, 29, 40 } };
    assert_int_equal(sw_mask_make(60, 40, &mask, NULL), SW_OK);
    for (size_t y = 10; y < 30; y++) memset(mask.at + y * 60 + 12, 1, 40);
    const size_t live = sw_alloc_fail_at(0);
    sw_status st = SW_NO_MEMORY;
    sw_threads_set(1);
    for (size_t nth = 1; st != SW_OK; nth++) {
        sw_contours list = { 0 };
        sw_alloc_fail_at(nth);
        st = sw_windows_trace(&mask, &(sw_windows){ two, 2 }, &grid, &opts, &list, NULL);
        sw_alloc_fail_at(0);
        assert_true(st == SW_OK || (st == SW_NO_MEMORY && list.at == NULL));
        sw_contours_free(&list);
        assert_int_equal(sw_alloc_fail_at(0), live);
    }
    sw_threads_set(0);
    sw_mask_free(&mask);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_opening_lies_in_its_window_and_ends_on_the_seam),
        cmocka_unit_test(what_changes_at_a_seam_leaves_no_slips),
        cmocka_unit_test(windows_outside_the_mask_are_refused),
        cmocka_unit_test(the_curves_are_the_same_for_any_number_of_threads),
        cmocka_unit_test(memory_that_ends_is_told_and_freed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
