/* Distances: against brute force, at known bars, for any number of threads. */
#include "support.h"

static sw_mask random_mask(size_t width, size_t height, unsigned of_256, uint64_t *seed)
{
    sw_mask mask = { 0 };
    if (sw_mask_make(width, height, &mask, NULL) != SW_OK) abort();
    for (size_t i = 0; i < width * height; i++) mask.at[i] = (test_random(seed) & 255) < of_256;
    return mask;
}

static uint32_t brute(const sw_mask *mask, uint8_t target, bool is_outside, size_t x, size_t y)
{
    uint64_t best = UINT32_MAX;
    for (size_t v = 0; v < mask->height_px; v++)
        for (size_t u = 0; u < mask->width_px; u++) {
            const int64_t dx = (int64_t)u - (int64_t)x, dy = (int64_t)v - (int64_t)y;
            const uint64_t d = (uint64_t)(dx * dx + dy * dy);
            if (mask->at[v * mask->width_px + u] == target && d < best) best = d;
        }
    if (is_outside) {
        const uint64_t side[4] = { x + 1, y + 1, mask->width_px - x, mask->height_px - y };
        for (int i = 0; i < 4; i++)
            if (side[i] * side[i] < best) best = side[i] * side[i];
    }
    return (uint32_t)best;
}

static void distances_equal_brute_force(void **state)
{
    (void)state;
    uint64_t seed = 11;
    for (int i = 0; i < 300; i++) {
        const uint64_t begin = seed;
        const size_t width = 1 + test_random(&seed) % 40, height = 1 + test_random(&seed) % 40;
        static const unsigned share[6] = { 0, 1, 4, 128, 250, 256 };
        sw_mask mask = random_mask(width, height, share[i % 6], &seed);
        uint32_t *const d = sw_alloc_raw(width * height, sizeof *d);
        const uint8_t target = (uint8_t)(test_random(&seed) & 1);
        const bool is_outside = (test_random(&seed) & 1) != 0;
        assert_int_equal(sw_distance_sq(&mask, target, is_outside, d, NULL), SW_OK);
        for (size_t k = 0; k < width * height; k++) {
            const uint32_t want = brute(&mask, target, is_outside, k % width, k / width);
            if (d[k] != want) print_error("seed %llu\n", (unsigned long long)begin);
            assert_int_equal(d[k], want);
        }
        sw_free(d);
        sw_mask_free(&mask);
    }
}

static void a_bar_of_seven_is_four_deep(void **state)
{
    (void)state;
    sw_mask mask = test_mask("..#######..\n..#######..\n..#######..\n");
    uint32_t d[33];
    assert_int_equal(sw_distance_sq(&mask, 0, false, d, NULL), SW_OK);
    static const uint32_t row[11] = { 0, 0, 1, 4, 9, 16, 9, 4, 1, 0, 0 };
    for (size_t i = 0; i < 33; i++) assert_int_equal(d[i], row[i % 11]);
    sw_mask_free(&mask);
}

static void no_target_is_infinitely_far(void **state)
{
    (void)state;
    sw_mask mask = test_mask("...\n...\n");
    uint32_t d[6];
    assert_int_equal(sw_distance_sq(&mask, 1, false, d, NULL), SW_OK);
    for (int i = 0; i < 6; i++) assert_int_equal(d[i], UINT32_MAX);
    assert_int_equal(sw_distance_sq(&mask, 1, true, d, NULL), SW_OK);
    for (int i = 0; i < 6; i++) assert_int_equal(d[i], 1);
    sw_mask_free(&mask);
}

static void distances_too_long_for_the_type_stay_finite(void **state)
{
    (void)state;
    sw_mask mask = { 0 };
    assert_int_equal(sw_mask_make(70000, 2, &mask, NULL), SW_OK);
    uint32_t *const d = sw_alloc_raw(140000, sizeof *d);
    mask.at[0] = 1;
    assert_int_equal(sw_distance_sq(&mask, 1, false, d, NULL), SW_OK);
    assert_int_equal(d[60000], 3600000000u);
    assert_int_equal(d[69999], UINT32_MAX - 1);
    assert_int_equal(d[70000 + 60000], 3600000001u);
    sw_mask tall = { 0 };
    assert_int_equal(sw_mask_make(2, 70000, &tall, NULL), SW_OK);
    tall.at[1] = 1;
    assert_int_equal(sw_distance_sq(&tall, 1, false, d, NULL), SW_OK);
    assert_int_equal(d[120000], 3600000001u);
    assert_true(d[139999] >= 4294836225u && d[139999] < UINT32_MAX);
    sw_free(d);
    sw_mask_free(&mask);
    sw_mask_free(&tall);
}

static void threads_do_not_change_a_byte(void **state)
{
    (void)state;
    static const size_t side[4] = { 1, 2, 127, 200 };
    static const int threads[3] = { 1, 2, 7 };
    for (int s = 0; s < 4; s++) {
        uint64_t seed = 5;
        const size_t n = side[s] * side[s];
        sw_mask mask = random_mask(side[s], side[s], 3, &seed);
        uint32_t *const d = sw_alloc_raw(3 * n, sizeof *d);
        for (int t = 0; t < 3; t++) {
            sw_threads_set(threads[t]);
            assert_int_equal(sw_distance_sq(&mask, 1, false, d + (size_t)t * n, NULL), SW_OK);
        }
        assert_memory_equal(d, d + n, n * sizeof *d);
        assert_memory_equal(d, d + 2 * n, n * sizeof *d);
        sw_free(d);
        sw_mask_free(&mask);
    }
    sw_threads_set(0);
}

static void memory_that_fails_leaves_nothing(void **state)
{
    (void)state;
    sw_mask mask = test_mask("..#\n#..\n...\n");
    uint32_t d[9];
    for (size_t nth = 1; nth <= 2; nth++) {
        sw_note note = { 0 };
        const size_t live = sw_alloc_fail_at(nth);
        assert_int_equal(sw_distance_sq(&mask, 1, false, d, &note), SW_NO_MEMORY);
        assert_true(note.text[0] != '\0');
        assert_int_equal(sw_alloc_fail_at(0), live);
    }
    sw_mask_free(&mask);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(distances_equal_brute_force),
        cmocka_unit_test(a_bar_of_seven_is_four_deep),
        cmocka_unit_test(no_target_is_infinitely_far),
        cmocka_unit_test(distances_too_long_for_the_type_stay_finite),
        cmocka_unit_test(threads_do_not_change_a_byte),
        cmocka_unit_test(memory_that_fails_leaves_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
