/* Stacking: the least cut, the invariant, trap. */
#include "support.h"

#include "sheet/flow.h"

/* A separation from text art: digits are labels. */
static sw_separation separation_of(const char *art, size_t n_passes)
{
    sw_separation s = { .n_passes = n_passes, .grid.px_per_mm = 1.0 };
    s.grid.width_px = strcspn(art, "\n");
    const size_t n_px = strlen(art) / (s.grid.width_px + 1) * s.grid.width_px;
    s.grid.height_px = n_px / s.grid.width_px;
    s.label = sw_alloc_raw(n_px, 1);
    s.salience = sw_alloc_array(n_px, 1);
    for (size_t i = 0; i < n_px; i++)
        s.label[i] = (uint8_t)(art[i / s.grid.width_px * (s.grid.width_px + 1) + i % s.grid.width_px] - '0');
    return s;
}

/* Blobs: a coarse grid of random labels, each cell of several pixels, some single pixels changed. */
static sw_separation random_separation(size_t width, size_t height, size_t n_passes, uint64_t *seed)
{
    sw_separation s = { .n_passes = n_passes, .grid = { .width_px = width, .height_px = height, .px_per_mm = 1.0 } };
    s.label = sw_alloc_raw(width * height, 1);
    s.salience = sw_alloc_array(width * height, 1);
    uint8_t cell[16 * 16];
    const size_t cell_px = 1 + test_random(seed) % 8;
    for (size_t i = 0; i < 256; i++) cell[i] = (uint8_t)(test_random(seed) % (n_passes + 1));
    for (size_t y = 0; y < height; y++)
        for (size_t x = 0; x < width; x++) {
            s.label[y * width + x] = cell[y / cell_px % 16 * 16 + x / cell_px % 16];
            if (test_random(seed) % 40 == 0) s.label[y * width + x] = (uint8_t)(test_random(seed) % (n_passes + 1));
        }
    return s;
}

static void separation_free(sw_separation *s)
{
    sw_free(s->label);
    sw_free(s->salience);
}

static void masks_free(sw_mask *masks)
{
    for (size_t k = 0; k < SW_MAX_PASSES; k++) sw_mask_free(&masks[k]);
}

static void assert_art(const sw_mask *mask, const char *art)
{
    for (size_t y = 0; y < mask->height_px; y++)
        for (size_t x = 0; x < mask->width_px; x++)
            assert_int_equal(mask->at[y * mask->width_px + x], art[y * (mask->width_px + 1) + x] == '#');
}

static void free_area_inside_an_opening_is_cut(void **state)
{
    (void)state;
    sw_separation s = separation_of("000000\n"
                                    "011110\n"
                                    "012210\n"
                                    "012210\n"
                                    "011110\n"
                                    "000000\n",
                                    2);
    sw_mask masks[SW_MAX_PASSES] = { { 0 } };
    assert_int_equal(sw_sheets_stack(&s, 0, masks, NULL), SW_OK);
    assert_art(&masks[0], "......\n.####.\n.####.\n.####.\n.####.\n......\n");
    assert_art(&masks[1], "......\n......\n..##..\n..##..\n......\n......\n");
    masks_free(masks);
    separation_free(&s);
}

static void free_area_mostly_beside_ground_is_left(void **state)
{
    (void)state;
    sw_separation s = separation_of("00000000\n"
                                    "01100000\n"
                                    "01122220\n"
                                    "00000000\n",
                                    2);
    sw_mask masks[SW_MAX_PASSES] = { { 0 } };
    assert_int_equal(sw_sheets_stack(&s, 0, masks, NULL), SW_OK);
    assert_art(&masks[0], "........\n.##.....\n.##.....\n........\n");
    masks_free(masks);
    separation_free(&s);
}

static void trap_spreads_under_later_paint_and_stays_off_ground(void **state)
{
    (void)state;
    sw_separation s = separation_of("11111222220000\n"
                                    "11111222220000\n"
                                    "11111222220000\n"
                                    "11111222220000\n"
                                    "11111222220000\n",
                                    2);
    sw_mask masks[SW_MAX_PASSES] = { { 0 } };
    assert_int_equal(sw_sheets_stack(&s, 2.0, masks, NULL), SW_OK);
    /* the frame around is material too: the spread keeps away from the artwork's edge */
    assert_art(&masks[0], "#####.........\n"
                          "#####.........\n"
                          "#######.......\n"
                          "#####.........\n"
                          "#####.........\n");
    masks_free(masks);
    separation_free(&s);
}

static void painting_in_order_gives_the_labels(void **state)
{
    (void)state;
    uint64_t seed = 21;
    for (int i = 0; i < 300; i++) {
        const uint64_t begin = seed;
        const size_t n_passes = 1 + test_random(&seed) % SW_MAX_PASSES;
        sw_separation s = random_separation(1 + test_random(&seed) % 90, 1 + test_random(&seed) % 90, n_passes, &seed);
        sw_mask masks[SW_MAX_PASSES] = { { 0 } };
        assert_int_equal(sw_sheets_stack(&s, (double)(i % 4), masks, NULL), SW_OK);
        for (size_t p = 0; p < s.grid.width_px * s.grid.height_px; p++) {
            uint8_t shown = 0;
            for (size_t k = 0; k < n_passes; k++)
                if (masks[k].at[p]) shown = (uint8_t)(k + 1);
            if (shown != s.label[p]) print_error("seed %llu\n", (unsigned long long)begin);
            assert_int_equal(shown, s.label[p]);
        }
        masks_free(masks);
        separation_free(&s);
    }
}

static uint64_t cut_length(const sw_mask *mask)
{
    uint64_t n = 0;
    const size_t w = mask->width_px, h = mask->height_px;
    for (size_t y = 0; y <= h; y++)
        for (size_t x = 0; x <= w; x++) {
            const int here = x < w && y < h ? mask->at[y * w + x] : 0;
            if (y < h) n += here != (x > 0 ? mask->at[y * w + x - 1] : 0);
            if (x < w) n += here != (y > 0 ? mask->at[(y - 1) * w + x] : 0);
        }
    return n;
}

/* Every choice of the free regions tried: none is shorter. */
static void the_cut_is_the_shortest_of_all(void **state)
{
    (void)state;
    uint64_t seed = 33;
    size_t n_tried = 0;
    for (int i = 0; i < 400; i++) {
        sw_separation s = random_separation(4 + test_random(&seed) % 9, 4 + test_random(&seed) % 9, 3, &seed);
        const size_t n_px = s.grid.width_px * s.grid.height_px;
        sw_mask masks[SW_MAX_PASSES] = { { 0 } }, try = { 0 };
        assert_int_equal(sw_sheets_stack(&s, 0, masks, NULL), SW_OK);
        assert_int_equal(sw_mask_make(s.grid.width_px, s.grid.height_px, &try, NULL), SW_OK);
        /* regions of labels above 1, one label after another */
        uint32_t *const label = sw_alloc_array(n_px, sizeof *label), *const part = sw_alloc_raw(n_px, sizeof *part);
        size_t n = 0;
        for (uint8_t v = 2; v <= 3; v++) {
            size_t n_parts = 0;
            for (size_t p = 0; p < n_px; p++) try.at[p] = s.label[p] == v;
            assert_int_equal(sw_components(&try, 1, false, part, &n_parts, NULL), SW_OK);
            for (size_t p = 0; p < n_px; p++)
                if (part[p] != 0) label[p] = part[p] + (uint32_t)n;
            n += n_parts;
        }
        for (uint32_t choice = 0; n <= 11 && choice < 1u << n; choice++) {
            for (size_t p = 0; p < n_px; p++)
                try.at[p] = (uint8_t)(label[p] != 0 ? choice >> (label[p] - 1) & 1u : s.label[p] == 1);
            assert_true(cut_length(&try) >= cut_length(&masks[0]));
            n_tried++;
        }
        sw_free(label);
        sw_free(part);
        sw_mask_free(&try);
        masks_free(masks);
        separation_free(&s);
    }
    assert_true(n_tried > 10000);
}

static uint64_t cost_of(size_t n, const uint64_t *pull, const sw_flow_edge *edges, size_t n_edges, uint32_t side)
{
    uint64_t cost = 0;
    for (size_t i = 0; i < n; i++) cost += side >> i & 1u ? pull[n + i] : pull[i];
    for (size_t i = 0; i < n_edges; i++)
        if ((side >> edges[i].a & 1u) != (side >> edges[i].b & 1u)) cost += edges[i].weight;
    return cost;
}

static void the_least_cut_equals_brute_force(void **state)
{
    (void)state;
    uint64_t seed = 8;
    for (int i = 0; i < 500; i++) {
        const size_t n = 1 + test_random(&seed) % 10, n_edges = n < 2 ? 0 : test_random(&seed) % 25;
        uint64_t pull[20];
        sw_flow_edge edges[25];
        for (size_t k = 0; k < 2 * n; k++) pull[k] = test_random(&seed) % 20;
        for (size_t k = 0; k < n_edges; k++) {
            const uint32_t a = (uint32_t)(test_random(&seed) % n), b = (uint32_t)(test_random(&seed) % (n - 1));
            edges[k] = (sw_flow_edge){ a, b >= a ? b + 1 : b, (uint32_t)(test_random(&seed) % 15) };
        }
        uint8_t side[10];
        assert_int_equal(sw_flow_cut(n, pull, pull + n, edges, n_edges, side, NULL), SW_OK);
        uint32_t got = 0;
        for (size_t k = 0; k < n; k++) got |= (uint32_t)side[k] << k;
        uint64_t best = UINT64_MAX;
        for (uint32_t choice = 0; choice < 1u << n; choice++)
            if (cost_of(n, pull, edges, n_edges, choice) < best) best = cost_of(n, pull, edges, n_edges, choice);
        assert_int_equal(cost_of(n, pull, edges, n_edges, got), best);
    }
}

static void threads_do_not_change_a_byte(void **state)
{
    (void)state;
    static const size_t side[4] = { 1, 2, 127, 200 };
    static const int threads[3] = { 1, 2, 7 };
    for (int i = 0; i < 4; i++) {
        uint64_t seed = 77;
        sw_separation s = random_separation(side[i], side[i], 3, &seed);
        sw_mask masks[3][SW_MAX_PASSES] = { { { 0 } } };
        for (int t = 0; t < 3; t++) {
            sw_threads_set(threads[t]);
            assert_int_equal(sw_sheets_stack(&s, 1.0, masks[t], NULL), SW_OK);
            for (size_t k = 0; k < 3; k++) assert_memory_equal(masks[0][k].at, masks[t][k].at, side[i] * side[i]);
        }
        for (int t = 0; t < 3; t++) masks_free(masks[t]);
        separation_free(&s);
    }
    sw_threads_set(0);
}

static void memory_that_fails_leaves_nothing(void **state)
{
    (void)state;
    uint64_t seed = 5;
    sw_separation s = random_separation(40, 30, 3, &seed);
    sw_threads_set(1);
    for (size_t nth = 1;; nth++) {
        sw_mask masks[SW_MAX_PASSES] = { { 0 } };
        const size_t live = sw_alloc_fail_at(nth);
        sw_note note = { 0 };
        const sw_status st = sw_sheets_stack(&s, 1.0, masks, &note);
        const bool is_through = sw_alloc_count() < nth;
        if (st == SW_OK) masks_free(masks);
        else assert_true(st == SW_NO_MEMORY && masks[0].at == NULL && note.text[0] != '\0');
        assert_int_equal(sw_alloc_fail_at(0), live);
        assert_int_equal(st == SW_OK, is_through);
        if (is_through) break;
    }
    sw_threads_set(0);
    separation_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(free_area_inside_an_opening_is_cut),
        cmocka_unit_test(free_area_mostly_beside_ground_is_left),
        cmocka_unit_test(trap_spreads_under_later_paint_and_stays_off_ground),
        cmocka_unit_test(painting_in_order_gives_the_labels),
        cmocka_unit_test(the_cut_is_the_shortest_of_all),
        cmocka_unit_test(the_least_cut_equals_brute_force),
        cmocka_unit_test(threads_do_not_change_a_byte),
        cmocka_unit_test(memory_that_fails_leaves_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
