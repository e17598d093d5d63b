/* Connected components: corners, order of labels, against flood fill, for any number of threads. */
#include "support.h"

#include "sheet/runs.h"

static void corners_join_openings_and_not_material(void **state)
{
    (void)state;
    sw_mask mask = test_mask("#.\n.#\n");
    uint32_t label[4];
    size_t n = 0;
    assert_int_equal(sw_components(&mask, 1, true, label, &n, NULL), SW_OK);
    assert_int_equal(n, 1);
    assert_int_equal(sw_components(&mask, 1, false, label, &n, NULL), SW_OK);
    assert_int_equal(n, 2);
    assert_int_equal(label[0], 1);
    assert_int_equal(label[1], 0);
    assert_int_equal(label[3], 2);
    sw_mask_free(&mask);
}

static void a_spiral_is_one(void **state)
{
    (void)state;
    sw_mask mask = test_mask("#########\n"
                             ".........\n"
                             "########.\n"
                             "#......#.\n"
                             "#.####.#.\n"
                             "#.#..#.#.\n"
                             "#.#.##.#.\n"
                             "#.#....#.\n"
                             "#.######.\n"
                             "#........\n"
                             "#########\n");
    uint32_t label[99];
    size_t n = 0;
    assert_int_equal(sw_components(&mask, 0, false, label, &n, NULL), SW_OK);
    assert_int_equal(n, 1);
    sw_mask_free(&mask);
}

static void fill(const uint8_t *at, size_t width, size_t height, bool is_eight, uint32_t *label, size_t k, uint32_t id)
{
    static size_t stack[64 * 64];
    size_t n = 0;
    stack[n++] = k;
    label[k] = id;
    while (n > 0) {
        const size_t c = stack[--n];
        for (int dy = -1; dy <= 1; dy++)
            for (int dx = -1; dx <= 1; dx++) {
                const int64_t x = (int64_t)(c % width) + dx, y = (int64_t)(c / width) + dy;
                if ((!is_eight && dx != 0 && dy != 0) || x < 0 || y < 0 || x >= (int64_t)width || y >= (int64_t)height)
                    continue;
                const size_t m = (size_t)y * width + (size_t)x;
                if (label[m] != 0 || at[m] != at[c]) continue;
                label[m] = id;
                stack[n++] = m;
            }
    }
}

static void components_equal_flood_fill(void **state)
{
    (void)state;
    uint64_t seed = 3;
    for (int i = 0; i < 400; i++) {
        const uint64_t begin = seed;
        const size_t width = 1 + test_random(&seed) % 60, height = 1 + test_random(&seed) % 60, n_px = width * height;
        const unsigned share = (unsigned)(test_random(&seed) & 255);
        const bool is_eight = i % 2 == 0;
        const uint8_t value = (uint8_t)(i / 2 % 2);
        sw_mask mask = { 0 };
        assert_int_equal(sw_mask_make(width, height, &mask, NULL), SW_OK);
        for (size_t k = 0; k < n_px; k++) mask.at[k] = (test_random(&seed) & 255) < share;
        uint32_t *const want = sw_alloc_array(2 * n_px, sizeof *want), *const got = want + n_px;
        uint32_t n_want = 0;
        for (size_t k = 0; k < n_px; k++)
            if (mask.at[k] == value && want[k] == 0) fill(mask.at, width, height, is_eight, want, k, ++n_want);
        size_t n = 0;
        assert_int_equal(sw_components(&mask, value, is_eight, got, &n, NULL), SW_OK);
        if (n != n_want) print_error("seed %llu\n", (unsigned long long)begin);
        assert_int_equal(n, n_want);
        assert_memory_equal(want, got, n_px * sizeof *want);
        sw_free(want);
        sw_mask_free(&mask);
    }
}

static void regions_of_equal_labels_equal_flood_fill(void **state)
{
    (void)state;
    uint64_t seed = 4;
    for (int i = 0; i < 200; i++) {
        const size_t width = 1 + test_random(&seed) % 60, height = 1 + test_random(&seed) % 60, n_px = width * height;
        uint8_t *const at = sw_alloc_raw(n_px, 1);
        for (size_t k = 0; k < n_px; k++) at[k] = (uint8_t)(test_random(&seed) % (2 + (size_t)i % 3));
        uint32_t *const want = sw_alloc_array(n_px, sizeof *want);
        uint32_t n_want = 0;
        for (size_t k = 0; k < n_px; k++)
            if (want[k] == 0) fill(at, width, height, false, want, k, ++n_want);
        sw_runs runs = { 0 };
        assert_int_equal(sw_runs_make(at, width, height, width, SW_RUNS_ALL, false, &runs, NULL), SW_OK);
        assert_int_equal(runs.n_components, n_want);
        for (size_t y = 0; y < height; y++)
            for (size_t r = runs.row[y]; r < runs.row[y + 1]; r++)
                for (uint32_t x = runs.at[r].begin; x < runs.at[r].end; x++)
                    assert_int_equal(runs.at[r].id, want[y * width + x]);
        sw_runs_free(&runs);
        sw_free(want);
        sw_free(at);
    }
}

static void threads_do_not_change_a_byte(void **state)
{
    (void)state;
    static const size_t side[4] = { 1, 2, 127, 200 };
    static const int threads[3] = { 1, 2, 7 };
    for (int s = 0; s < 4; s++) {
        uint64_t seed = 5;
        const size_t n_px = side[s] * side[s];
        sw_mask mask = { 0 };
        assert_int_equal(sw_mask_make(side[s], side[s], &mask, NULL), SW_OK);
        for (size_t k = 0; k < n_px; k++) mask.at[k] = test_random(&seed) & 1;
        uint32_t *const label = sw_alloc_raw(3 * n_px, sizeof *label);
        size_t n[3];
        for (size_t t = 0; t < 3; t++) {
            sw_threads_set(threads[t]);
            assert_int_equal(sw_components(&mask, 1, true, label + t * n_px, &n[t], NULL), SW_OK);
        }
        assert_true(n[0] == n[1] && n[0] == n[2]);
        assert_memory_equal(label, label + n_px, n_px * sizeof *label);
        assert_memory_equal(label, label + 2 * n_px, n_px * sizeof *label);
        sw_free(label);
        sw_mask_free(&mask);
    }
    sw_threads_set(0);
}

static void memory_that_fails_leaves_nothing(void **state)
{
    (void)state;
    sw_mask mask = test_mask("..#\n#..\n...\n");
    uint32_t label[9];
    for (size_t nth = 1; nth <= 2; nth++) {
        sw_note note = { 0 };
        size_t n = 77;
        const size_t live = sw_alloc_fail_at(nth);
        assert_int_equal(sw_components(&mask, 1, false, label, &n, &note), SW_NO_MEMORY);
        assert_int_equal(n, 77);
        assert_int_equal(sw_alloc_fail_at(0), live);
    }
    sw_mask_free(&mask);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(corners_join_openings_and_not_material),
        cmocka_unit_test(a_spiral_is_one),
        cmocka_unit_test(components_equal_flood_fill),
        cmocka_unit_test(regions_of_equal_labels_equal_flood_fill),
        cmocka_unit_test(threads_do_not_change_a_byte),
        cmocka_unit_test(memory_that_fails_leaves_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
