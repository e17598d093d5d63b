/* All sheets of a job: every window one piece, nothing narrow, openings only where they may be. */
#include "sheet_support.h"

/* ---- jobs by chance -------------------------------------------------------------------------------- */

static sw_separation blank(size_t width, size_t height, size_t n_passes)
{
    sw_separation s = { .n_passes = n_passes, .grid = { .width_px = width, .height_px = height, .px_per_mm = 2.0 } };
    static const sw_rgb8 colour[4] = { { 255, 255, 255 }, { 200, 160, 90 }, { 120, 60, 50 }, { 10, 10, 20 } };
    memcpy(s.colour, colour, sizeof colour);
    s.label = sw_alloc_array(width * height, 1);
    s.salience = sw_alloc_array(width * height, 1);
    return s;
}

static void separation_free(sw_separation *s)
{
    sw_free(s->label);
    sw_free(s->salience);
}

static void draw(sw_separation *s, uint64_t *seed)
{
    const int64_t w = (int64_t)s->grid.width_px, h = (int64_t)s->grid.height_px;
    const int64_t cx = (int64_t)(test_random(seed) % (uint64_t)w), cy = (int64_t)(test_random(seed) % (uint64_t)h);
    const int64_t outer = 2 + (int64_t)(test_random(seed) % 40), inner = (int64_t)(test_random(seed) % (uint64_t)outer);
    const uint8_t label = (uint8_t)(test_random(seed) % (s->n_passes + 1)), kind = (uint8_t)(test_random(seed) % 3);
    for (int64_t y = 0; y < h; y++)
        for (int64_t x = 0; x < w; x++) {
            const int64_t dx = x - cx, dy = y - cy, d2 = dx * dx + dy * dy;
            const bool is_ring = d2 <= outer * outer && d2 >= inner * inner;
            const bool is_bar = llabs(dx + dy) <= inner / 4 + 1 && llabs(dx - dy) < 2 * outer;
            const bool is_box = llabs(dx) <= outer && llabs(dy) <= inner;
            if (kind == 0 ? is_ring : kind == 1 ? is_bar : is_box) s->label[y * w + x] = label;
        }
}

static sw_separation random_job(uint64_t *seed)
{
    sw_separation s = blank(60 + test_random(seed) % 90, 60 + test_random(seed) % 60, 1 + test_random(seed) % 3);
    const size_t n = 2 + test_random(seed) % 14;
    for (size_t i = 0; i < n; i++) draw(&s, seed);
    for (size_t i = 0; i < s.grid.width_px * s.grid.height_px; i++) s.salience[i] = (uint8_t)(test_random(seed) & 15);
    return s;
}

/* ---- what must hold -------------------------------------------------------------------------------- */

static sw_mask cut_out(const sw_mask *mask, sw_rect_px w)
{
    sw_mask out = { 0 };
    if (sw_mask_make(w.width, w.height, &out, NULL) != SW_OK) abort();
    for (size_t y = 0; y < w.height; y++)
        memcpy(out.at + y * w.width, mask->at + (w.y + y) * mask->width_px + w.x, w.width);
    return out;
}

static void assert_sheet_is_good(const sw_sheet *sheet, sw_rect_px window, uint64_t seed)
{
    sw_mask openings = cut_out(&sheet->openings, window);
    sw_mask material = complement(&openings);
    const bool is_good = n_islands(&openings) == 0 && count_narrow(&openings, 6, true, false) == 0 &&
                         count_narrow(&material, 10, false, true) == 0;
    sw_mask_free(&material);
    if (!is_good) print_error("seed %llu pass %zu\n", (unsigned long long)seed, sheet->pass);
    assert_true(is_good);
    sw_mask_free(&openings);
}

static const sw_sheet_opts usual = { .min_opening_mm = 3.0, .min_web_mm = 5.0, .slack_mm = 0.3, .trap_mm = 1.0 };

static void every_window_of_every_sheet_is_one_piece(void **state)
{
    (void)state;
    uint64_t seed = 100;
    for (int round = 0; round < 60; round++) {
        const uint64_t begin = seed;
        sw_separation s = random_job(&seed);
        const size_t w = s.grid.width_px, h = s.grid.height_px, x = 30 + test_random(&seed) % (w - 59);
        sw_rect_px part[2] = { { 0, 0, x, h }, { x, 0, w - x, h } };
        sw_windows windows[3] = { { part, 2 }, { part, 2 }, { part, 2 } };
        sw_sheet_opts opts = usual;
        if (round % 2 == 1) opts.windows = windows;
        sw_sheets sheets = { 0 };
        sw_note note = { 0 };
        assert_ok(sw_sheets_make(&s, NULL, &opts, NULL, &sheets, &note), note);
        assert_int_equal(sheets.n, s.n_passes);
        for (size_t k = 0; k < sheets.n; k++) {
            if (!sheets.at[k].is_one_piece) print_error("seed %llu\n", (unsigned long long)begin);
            assert_true(sheets.at[k].is_one_piece);
            if (round % 2 == 0) assert_sheet_is_good(&sheets.at[k], (sw_rect_px){ 0, 0, w, h }, begin);
            for (size_t i = 0; i < 2 && round % 2 == 1; i++) assert_sheet_is_good(&sheets.at[k], part[i], begin);
        }
        sw_sheets_free(&sheets);
        separation_free(&s);
    }
}

static void windows_of_one_pixel_are_fine(void **state)
{
    (void)state;
    uint64_t seed = 300;
    sw_separation s = blank(90, 80, 2);
    for (int k = 0; k < 12; k++) draw(&s, &seed);
    sw_rect_px part[4] = { { 0, 0, 1, 80 }, { 1, 0, 89, 1 }, { 1, 1, 44, 79 }, { 45, 1, 45, 79 } };
    sw_windows windows[2] = { { part, 4 }, { part, 4 } };
    sw_sheet_opts opts = usual;
    opts.windows = windows;
    sw_sheets sheets = { 0 };
    assert_int_equal(sw_sheets_make(&s, NULL, &opts, NULL, &sheets, NULL), SW_OK);
    for (size_t k = 0; k < 2; k++)
        for (size_t i = 0; i < 4; i++) assert_sheet_is_good(&sheets.at[k], part[i], 300);
    for (size_t y = 0; y < 80; y++) assert_int_equal(sheets.at[1].openings.at[y * 90], 0); /* nothing fits there */
    sw_sheets_free(&sheets);
    separation_free(&s);
}

static void openings_stay_near_where_they_may_be(void **state)
{
    (void)state;
    uint64_t seed = 200;
    for (int round = 0; round < 30; round++) {
        sw_separation s = random_job(&seed);
        const size_t n_px = s.grid.width_px * s.grid.height_px;
        sw_sheets sheets = { 0 };
        assert_int_equal(sw_sheets_make(&s, NULL, &usual, NULL, &sheets, NULL), SW_OK);
        sw_mask may = { 0 };
        assert_int_equal(sw_mask_make(s.grid.width_px, s.grid.height_px, &may, NULL), SW_OK);
        uint32_t *const d = sw_alloc_raw(n_px, sizeof *d);
        for (size_t k = 1; k <= s.n_passes; k++) {
            for (size_t i = 0; i < n_px; i++) may.at[i] = s.label[i] >= k;
            assert_int_equal(sw_distance_sq(&may, 1, false, d, NULL), SW_OK);
            /* a widened line grows by less than its width; a web that is cut away is narrower than the smallest */
            for (size_t i = 0; i < n_px; i++) assert_true(sheets.at[k - 1].openings.at[i] == 0 || d[i] <= 11 * 11);
        }
        sw_free(d);
        sw_mask_free(&may);
        sw_sheets_free(&sheets);
        separation_free(&s);
    }
}

static void a_plain_opening_is_left_alone(void **state)
{
    (void)state;
    sw_separation s = blank(120, 100, 1);
    for (size_t y = 30; y < 70; y++) memset(s.label + y * 120 + 40, 1, 50);
    sw_sheets sheets = { 0 };
    assert_int_equal(sw_sheets_make(&s, NULL, &usual, NULL, &sheets, NULL), SW_OK);
    assert_memory_equal(sheets.at[0].openings.at, s.label, 12000);
    const sw_sheet *const sheet = &sheets.at[0];
    assert_int_equal(sheet->n_islands + sheet->n_bridges + sheet->n_openings_widened + sheet->n_openings_dropped +
                         sheet->n_webs_thickened + sheet->n_webs_merged, 0);
    assert_true(sheet->lost_mm2 == 0.0 && sheet->gained_mm2 == 0.0 && sheet->is_one_piece);
    assert_int_equal(sheet->paint.r, s.colour[1].r);
    sw_sheets_free(&sheets);
    separation_free(&s);
}

static void a_ring_is_held_and_what_it_lost_is_counted(void **state)
{
    (void)state;
    sw_separation s = blank(160, 160, 1);
    for (int y = 0; y < 160; y++)
        for (int x = 0; x < 160; x++) {
            const int d2 = (x - 80) * (x - 80) + (y - 80) * (y - 80);
            s.label[y * 160 + x] = d2 < 60 * 60 && d2 > 40 * 40;
        }
    sw_sheets sheets = { 0 };
    assert_int_equal(sw_sheets_make(&s, NULL, &usual, NULL, &sheets, NULL), SW_OK);
    assert_int_equal(sheets.at[0].n_islands, 1);
    assert_true(sheets.at[0].n_bridges >= 1 && sheets.at[0].is_one_piece);
    assert_true(sheets.at[0].lost_mm2 > 30.0);
    size_t lost = 0;
    for (size_t i = 0; i < 25600; i++) lost += s.label[i] == 1 && sheets.at[0].openings.at[i] == 0;
    assert_true((double)lost / 4.0 == sheets.at[0].lost_mm2);
    sw_sheets_free(&sheets);
    separation_free(&s);
}

static void lengths_that_are_none_are_refused(void **state)
{
    (void)state;
    sw_separation s = blank(20, 20, 1);
    sw_sheets sheets = { .n = 7 };
    const double nan = strtod("nan", NULL);
    const sw_sheet_opts bad[6] = { { .min_opening_mm = 0, .min_web_mm = 5 },
                                   { .min_opening_mm = 3, .min_web_mm = -5 },
                                   { .min_opening_mm = nan, .min_web_mm = 5 },
                                   { .min_opening_mm = 3, .min_web_mm = 5, .slack_mm = nan },
                                   { .min_opening_mm = 3, .min_web_mm = 5, .trap_mm = -1 },
                                   { .min_opening_mm = 3, .min_web_mm = 5000 } };
    for (size_t i = 0; i < SW_ARRAY_LEN(bad); i++) {
        sw_note note = { 0 };
        assert_int_equal(sw_sheets_make(&s, NULL, &bad[i], NULL, &sheets, &note), SW_BAD_LENGTH);
        assert_true(note.text[0] != '\0');
        assert_int_equal(sheets.n, 7);
    }
    separation_free(&s);
}

static void threads_do_not_change_a_byte(void **state)
{
    (void)state;
    static const size_t side[4] = { 1, 2, 127, 200 };
    static const int threads[3] = { 1, 2, 7 };
    for (int i = 0; i < 4; i++) {
        uint64_t seed = 11;
        sw_separation s = blank(side[i], side[i], 3);
        for (int k = 0; k < 14; k++) draw(&s, &seed);
        sw_sheets made[3] = { { 0 } };
        for (int t = 0; t < 3; t++) {
            sw_threads_set(threads[t]);
            assert_int_equal(sw_sheets_make(&s, NULL, &usual, NULL, &made[t], NULL), SW_OK);
            for (size_t k = 0; k < 3; k++) {
                const sw_sheet *const a = &made[0].at[k], *const b = &made[t].at[k];
                assert_memory_equal(a->openings.at, b->openings.at, side[i] * side[i]);
                assert_int_equal(a->n_bridges, b->n_bridges);
                assert_int_equal(a->n_webs_thickened, b->n_webs_thickened);
                for (size_t j = 0; j < a->n_bridges; j++)
                    assert_true(a->bridges[j].a.x_mm == b->bridges[j].a.x_mm &&
                                a->bridges[j].visible_error == b->bridges[j].visible_error);
            }
        }
        for (int t = 0; t < 3; t++) sw_sheets_free(&made[t]);
        separation_free(&s);
    }
    sw_threads_set(0);
}

static void memory_that_fails_leaves_nothing(void **state)
{
    (void)state;
    uint64_t seed = 12;
    sw_separation s = blank(70, 60, 2);
    for (int k = 0; k < 8; k++) draw(&s, &seed);
    sw_threads_set(1);
    for (size_t nth = 1;; nth++) {
        sw_sheets sheets = { 0 };
        const size_t live = sw_alloc_fail_at(nth);
        sw_note note = { 0 };
        const sw_status st = sw_sheets_make(&s, NULL, &usual, NULL, &sheets, &note);
        const bool is_through = sw_alloc_count() < nth;
        if (st == SW_OK) sw_sheets_free(&sheets);
        else assert_true(st == SW_NO_MEMORY && sheets.at == NULL && note.text[0] != '\0');
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
        cmocka_unit_test(every_window_of_every_sheet_is_one_piece),
        cmocka_unit_test(windows_of_one_pixel_are_fine),
        cmocka_unit_test(openings_stay_near_where_they_may_be),
        cmocka_unit_test(a_plain_opening_is_left_alone),
        cmocka_unit_test(a_ring_is_held_and_what_it_lost_is_counted),
        cmocka_unit_test(lengths_that_are_none_are_refused),
        cmocka_unit_test(threads_do_not_change_a_byte),
        cmocka_unit_test(memory_that_fails_leaves_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
