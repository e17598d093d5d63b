/* Seams: windows that tile the mask, fit the bed and cross as little opening as can be. */
#include "layout/layout.h"
#include "support.h"

#include <math.h>

static sw_mask noise(size_t w, size_t h, uint64_t *seed, size_t n_boxes)
{
    sw_mask mask = { 0 };
    assert_int_equal(sw_mask_make(w, h, &mask, NULL), SW_OK);
    for (size_t i = 0; i < n_boxes; i++) {
        const size_t x = test_random(seed) % w, y = test_random(seed) % h;
        const size_t bw = 1 + test_random(seed) % 14, bh = 1 + test_random(seed) % 14;
        for (size_t r = y; r < sw_min_size(h, y + bh); r++) {
            for (size_t c = x; c < sw_min_size(w, x + bw); c++) mask.at[r * w + c] = 1;
        }
    }
    return mask;
}

static void assert_tiles(const sw_windows *windows, size_t w, size_t h)
{
    uint8_t *const seen = sw_alloc_array(w * h, 1);
    for (size_t i = 0; i < windows->n; i++) {
        const sw_rect_px r = windows->at[i];
        assert_true(r.width > 0 && r.height > 0 && r.x + r.width <= w && r.y + r.height <= h);
        for (size_t y = r.y; y < r.y + r.height; y++) {
            for (size_t x = r.x; x < r.x + r.width; x++) seen[y * w + x]++;
        }
    }
    for (size_t i = 0; i < w * h; i++) assert_int_equal(seen[i], 1);
    sw_free(seen);
}

static void windows_tile_the_mask_and_every_panel_fits_the_bed(void **state)
{
    (void)state;
    uint64_t seed = 21;
    for (int i = 0; i < 60; i++) {
        const size_t w = 1 + test_random(&seed) % 300, h = 1 + test_random(&seed) % 200;
        const sw_grid grid = { w, h, 0.5 + (double)(test_random(&seed) % 30) / 10.0 };
        sw_mask masks[3];
        for (int k = 0; k < 3; k++) masks[k] = noise(w, h, &seed, 20);
        const sw_seam_opts opts = { .bed_width_mm = 60 + (double)(test_random(&seed) % 100),
                                    .bed_height_mm = 60 + (double)(test_random(&seed) % 100),
                                    .frame_mm = 22.5,
                                    .kerf_mm = 0.3,
                                    .min_opening_mm = 3,
                                    .is_staggered = i % 2 };
        sw_windows windows[3] = { 0 };
        sw_note note = { 0 };
        assert_ok(sw_seams_plan(masks, 3, &grid, &opts, windows, &note), note);
        size_t n_told = 0;
        assert_ok(sw_seams_count(&grid, &opts, &n_told, &note), note);
        for (int k = 0; k < 3; k++) {
            assert_tiles(&windows[k], w, h);
            assert_int_equal(windows[k].n, n_told);
            if (i % 2 == 0) {
                assert_int_equal(windows[k].n, windows[0].n);
                assert_memory_equal(windows[k].at, windows[0].at, windows[k].n * sizeof *windows[k].at);
            }
            for (size_t p = 0; p < windows[k].n; p++) {
                const double pw = sw_mm_from_px(&grid, (double)windows[k].at[p].width) + 45.3;
                const double ph = sw_mm_from_px(&grid, (double)windows[k].at[p].height) + 45.3;
                assert_true((pw <= opts.bed_width_mm && ph <= opts.bed_height_mm) ||
                            (ph <= opts.bed_width_mm && pw <= opts.bed_height_mm));
            }
            sw_mask_free(&masks[k]);
        }
        for (int k = 0; k < 3; k++) sw_windows_free(&windows[k]);
    }
}

static void without_a_bed_a_sheet_is_one_window(void **state)
{
    (void)state;
    sw_mask mask = test_mask("##..\n..##\n");
    const sw_grid grid = { 4, 2, 1.0 };
    sw_windows windows = { 0 };
    assert_int_equal(sw_seams_plan(&mask, 1, &grid, &(sw_seam_opts){ .frame_mm = 40 }, &windows, NULL), SW_OK);
    assert_int_equal(windows.n, 1);
    assert_int_equal(windows.at[0].width, 4);
    sw_windows_free(&windows);
    sw_mask_free(&mask);
}

/* Opening crossed by the seam at column x, pixels. */
static size_t crossed(const sw_mask *mask, size_t x)
{
    size_t n = 0;
    for (size_t y = 0; y < mask->height_px; y++)
        n += mask->at[y * mask->width_px + x - 1] && mask->at[y * mask->width_px + x];
    return n;
}

static void a_seam_goes_where_nothing_is_crossed(void **state)
{
    (void)state;
    sw_mask mask = { 0 };
    assert_int_equal(sw_mask_make(100, 30, &mask, NULL), SW_OK);
    for (size_t y = 2; y < 28; y++) {
        memset(mask.at + y * 100 + 3, 1, 40);
        memset(mask.at + y * 100 + 46, 1, 50); /* material between 43 and 46 */
    }
    const sw_grid grid = { 100, 30, 1.0 };
    sw_windows windows = { 0 };
    const sw_seam_opts opts = { .bed_width_mm = 60.1, .bed_height_mm = 60, .min_opening_mm = 3 };
    assert_int_equal(sw_seams_plan(&mask, 1, &grid, &opts, &windows, NULL), SW_OK);
    assert_int_equal(windows.n, 2);
    assert_in_range(windows.at[1].x, 43, 46);
    assert_int_equal(crossed(&mask, windows.at[1].x), 0);
    sw_windows_free(&windows);
    sw_mask_free(&mask);
}

/* The cost as the door tells it, counted the slow way: crossed pixels, those near an edge three times more. */
static long slow_cost(const sw_mask *mask, size_t x, size_t near_px)
{
    long cost = 0;
    const size_t w = mask->width_px;
    for (size_t y = 0; y < mask->height_px; y++) {
        const uint8_t *const row = mask->at + y * w;
        if (!row[x - 1] || !row[x]) continue;
        size_t a = x, b = x;
        while (a > 0 && row[a - 1]) a--;
        while (b < w && row[b]) b++;
        cost += 64 + (x - a < near_px || b - x < near_px ? 192 : 0);
    }
    return cost;
}

static void no_other_two_seams_cross_less(void **state)
{
    (void)state;
    uint64_t seed = 77;
    for (int round = 0; round < 20; round++) {
        const size_t w = 90;
        sw_mask mask = noise(w, 40, &seed, 25);
        const sw_grid grid = { w, 40, 1.0 };
        const sw_seam_opts opts = { .bed_width_mm = 40.1, .bed_height_mm = 40.1, .min_opening_mm = 4 };
        sw_windows windows = { 0 };
        assert_int_equal(sw_seams_plan(&mask, 1, &grid, &opts, &windows, NULL), SW_OK);
        assert_int_equal(windows.n, 3);
        const size_t x1 = windows.at[1].x, x2 = windows.at[2].x;
        const long found = slow_cost(&mask, x1, 4) + labs((long)x1 - 30) + slow_cost(&mask, x2, 4) + labs((long)x2 - 60);
        long best = 1000000000;
        for (size_t a = 12; a <= 40; a++) { /* no window below 0.3 of the largest, 40 */
            for (size_t b = a + 12; b <= a + 40 && b <= w - 12; b++) {
                if (w - b > 40) continue;
                const long cost = slow_cost(&mask, a, 4) + labs((long)a - 30) + slow_cost(&mask, b, 4) + labs((long)b - 60);
                if (cost < best) best = cost;
            }
        }
        assert_int_equal(found, best);
        sw_windows_free(&windows);
        sw_mask_free(&mask);
    }
}

static void a_bed_is_used_turned_when_that_takes_fewer_panels(void **state)
{
    (void)state;
    sw_mask mask = { 0 };
    assert_int_equal(sw_mask_make(100, 190, &mask, NULL), SW_OK);
    const sw_grid grid = { 100, 190, 1.0 };
    sw_windows windows = { 0 };
    const sw_seam_opts opts = { .bed_width_mm = 200, .bed_height_mm = 110 };
    assert_int_equal(sw_seams_plan(&mask, 1, &grid, &opts, &windows, NULL), SW_OK);
    assert_int_equal(windows.n, 1);
    sw_windows_free(&windows);
    sw_mask_free(&mask);
}

static void staggered_passes_keep_their_seams_apart(void **state)
{
    (void)state;
    const sw_grid grid = { 600, 100, 1.0 };
    sw_mask masks[3] = { 0 };
    sw_windows windows[3] = { 0 };
    for (int k = 0; k < 3; k++) assert_int_equal(sw_mask_make(600, 100, &masks[k], NULL), SW_OK);
    const sw_seam_opts opts = { .bed_width_mm = 400, .bed_height_mm = 150, .is_staggered = true };
    assert_int_equal(sw_seams_plan(masks, 3, &grid, &opts, windows, NULL), SW_OK);
    for (int k = 0; k < 3; k++) {
        assert_int_equal(windows[k].n, 2);
        for (int other = 0; other < k; other++)
            assert_true(fabs((double)windows[k].at[1].x - (double)windows[other].at[1].x) > 25);
    }
    for (int k = 0; k < 3; k++) {
        sw_windows_free(&windows[k]);
        sw_mask_free(&masks[k]);
    }
}

static void a_bed_that_the_frame_fills_is_refused(void **state)
{
    (void)state;
    sw_mask mask = test_mask("##..\n..##\n");
    const sw_grid grid = { 4, 2, 1.0 };
    static const double beds[] = { 80, 89, NAN, INFINITY, -5, 300000 };
    for (size_t i = 0; i < SW_ARRAY_LEN(beds); i++) {
        sw_windows windows = { 0 };
        sw_note note = { 0 };
        const sw_seam_opts opts = { .bed_width_mm = beds[i], .bed_height_mm = 500, .frame_mm = 40 };
        assert_int_equal(sw_seams_plan(&mask, 1, &grid, &opts, &windows, &note), SW_BAD_LENGTH);
        assert_non_null(strstr(note.text, "--bed"));
        assert_null(windows.at);
    }
    sw_mask_free(&mask);
}

static void the_plan_is_the_same_for_any_number_of_threads(void **state)
{
    (void)state;
    uint64_t seed = 5;
    sw_mask masks[2] = { noise(300, 200, &seed, 200), noise(300, 200, &seed, 200) };
    const sw_grid grid = { 300, 200, 1.0 };
    const sw_seam_opts opts = { .bed_width_mm = 120, .bed_height_mm = 90, .frame_mm = 10, .min_opening_mm = 3 };
    sw_windows first[2] = { 0 };
    for (int threads = 1; threads <= 7; threads += 3) {
        sw_windows windows[2] = { 0 };
        sw_threads_set(threads);
        assert_int_equal(sw_seams_plan(masks, 2, &grid, &opts, windows, NULL), SW_OK);
        for (int k = 0; k < 2; k++) {
            if (threads == 1) {
                first[k] = windows[k];
                continue;
            }
            assert_memory_equal(first[k].at, windows[k].at, first[k].n * sizeof *first[k].at);
            sw_windows_free(&windows[k]);
        }
    }
    sw_threads_set(0);
    for (int k = 0; k < 2; k++) {
        sw_windows_free(&first[k]);
        sw_mask_free(&masks[k]);
    }
}

static void seams_without_memory_are_told_and_freed(void **state)
{
    (void)state;
    uint64_t seed = 5;
    sw_mask mask = noise(100, 100, &seed, 40);
    const sw_grid grid = { 100, 100, 1.0 };
    const sw_seam_opts opts = { .bed_width_mm = 50, .bed_height_mm = 60 };
    const size_t live = sw_alloc_fail_at(0);
    sw_status st = SW_NO_MEMORY;
    for (size_t nth = 1; st != SW_OK; nth++) {
        sw_windows windows = { 0 };
        sw_alloc_fail_at(nth);
        st = sw_seams_plan(&mask, 1, &grid, &opts, &windows, NULL);
        sw_alloc_fail_at(0);
        assert_true(st == SW_OK || (st == SW_NO_MEMORY && windows.at == NULL));
        sw_windows_free(&windows);
    }
    assert_int_equal(sw_alloc_fail_at(0), live);
    sw_mask_free(&mask);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(windows_tile_the_mask_and_every_panel_fits_the_bed),
        cmocka_unit_test(without_a_bed_a_sheet_is_one_window),
        cmocka_unit_test(a_seam_goes_where_nothing_is_crossed),
        cmocka_unit_test(no_other_two_seams_cross_less),
        cmocka_unit_test(a_bed_is_used_turned_when_that_takes_fewer_panels),
        cmocka_unit_test(staggered_passes_keep_their_seams_apart),
        cmocka_unit_test(a_bed_that_the_frame_fills_is_refused),
        cmocka_unit_test(the_plan_is_the_same_for_any_number_of_threads),
        cmocka_unit_test(seams_without_memory_are_told_and_freed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
