/* Smallest features: discs on bits, thinning, what is found, what is done about it. */
#include "sheet_support.h"

#include <math.h>
#include <stdlib.h>

#include "sheet/feature.h"
#include "sheet/neck.h"
#include "sheet/thin.h"

static sw_mask random_blobs(size_t width, size_t height, uint64_t *seed)
{
    sw_mask mask = { 0 };
    if (sw_mask_make(width, height, &mask, NULL) != SW_OK) abort();
    const size_t n = 1 + test_random(seed) % (40 + width * height / 200);
    for (size_t i = 0; i < n; i++) {
        const int64_t cx = (int64_t)(test_random(seed) % width), cy = (int64_t)(test_random(seed) % height);
        const int64_t rx = 1 + (int64_t)(test_random(seed) % 12), ry = 1 + (int64_t)(test_random(seed) % 12);
        const uint8_t value = test_random(seed) % 3 != 0;
        const bool is_box = test_random(seed) % 2 != 0;
        for (int64_t y = 0; y < (int64_t)height; y++)
            for (int64_t x = 0; x < (int64_t)width; x++) {
                const int64_t dx = x - cx, dy = y - cy;
                const bool is_in = is_box ? llabs(dx) < rx && llabs(dy) < ry
                                          : dx * dx * ry * ry + dy * dy * rx * rx < rx * rx * ry * ry;
                if (is_in) mask.at[y * (int64_t)width + x] = value;
            }
    }
    return mask;
}

/* ---- discs ------------------------------------------------------------------------------------------- */

static void opening_equals_the_definition(void **state)
{
    (void)state;
    uint64_t seed = 9;
    for (int round = 0; round < 60; round++) {
        const uint64_t begin = seed;
        const size_t w = 20 + test_random(&seed) % 90, h = 20 + test_random(&seed) % 30;
        const size_t diameter = 1 + test_random(&seed) % 9;
        sw_mask mask = random_blobs(w, h, &seed);
        sw_bits set = { 0 }, middles = { 0 }, opened = { 0 };
        assert_int_equal(sw_bits_make(w, h, diameter + 2, &set, NULL), SW_OK);
        assert_int_equal(sw_bits_make(w, h, diameter + 2, &middles, NULL), SW_OK);
        assert_int_equal(sw_bits_make(w, h, diameter + 2, &opened, NULL), SW_OK);
        sw_bits_from_bytes(&set, mask.at, w, 1, 1, false);
        const sw_disc disc = sw_disc_of_diameter(diameter);
        sw_bits_open(&set, false, &disc, &middles, &opened);
        /* brute force: every disc whose pixels are all openings paints itself */
        sw_mask want = { 0 };
        assert_int_equal(sw_mask_make(w, h, &want, NULL), SW_OK);
        const int64_t odd = (int64_t)(diameter % 2), r = (int64_t)diameter;
        for (int64_t cy = 0; cy < (int64_t)h; cy++)
            for (int64_t cx = 0; cx < (int64_t)w; cx++)
                for (int step = 0; step < 2; step++) {
                    bool fits = true;
                    for (int64_t y = cy - r; y <= cy + r && fits; y++)
                        for (int64_t x = cx - r; x <= cx + r && fits; x++) {
                            if (!disc_covers(diameter, 2 * (x - cx) + 1 - odd, 2 * (y - cy) + 1 - odd)) continue;
                            const bool is_in = x >= 0 && y >= 0 && x < (int64_t)w && y < (int64_t)h;
                            if (step == 0) fits = is_in && mask.at[y * (int64_t)w + x] != 0;
                            else want.at[y * (int64_t)w + x] = 1;
                        }
                    if (!fits) break;
                }
        sw_mask got = { 0 };
        assert_int_equal(sw_mask_make(w, h, &got, NULL), SW_OK);
        sw_bits_to_bytes(&opened, got.at, w);
        if (memcmp(got.at, want.at, w * h) != 0) print_error("seed %llu\n", (unsigned long long)begin);
        assert_memory_equal(got.at, want.at, w * h);
        sw_mask *const mine[3] = { &mask, &want, &got };
        for (int i = 0; i < 3; i++) sw_mask_free(mine[i]);
        sw_bits *const bits[3] = { &set, &middles, &opened };
        for (int i = 0; i < 3; i++) sw_bits_free(bits[i]);
    }
}

static void a_bar_as_wide_as_the_disc_stays_and_a_narrower_one_goes(void **state)
{
    (void)state;
    for (size_t diameter = 1; diameter <= 40; diameter++) {
        const sw_disc disc = sw_disc_of_diameter(diameter);
        for (size_t bar = diameter - (diameter > 1); bar <= diameter; bar++) {
            sw_bits set = { 0 }, middles = { 0 }, opened = { 0 };
            sw_mask mask = { 0 };
            assert_int_equal(sw_mask_make(150, 80, &mask, NULL), SW_OK);
            for (size_t y = 10; y < 10 + bar; y++) memset(mask.at + y * 150, 1, 150);
            assert_int_equal(sw_bits_make(150, 80, 42, &set, NULL), SW_OK);
            assert_int_equal(sw_bits_make(150, 80, 42, &middles, NULL), SW_OK);
            assert_int_equal(sw_bits_make(150, 80, 42, &opened, NULL), SW_OK);
            sw_bits_from_bytes(&set, mask.at, 150, 1, 1, false);
            sw_bits_open(&set, false, &disc, &middles, &opened);
            assert_int_equal(sw_bit(&opened, opened.pad_x + 75, opened.pad_y + 10), bar == diameter);
            sw_bits_free(&set);
            sw_bits_free(&middles);
            sw_bits_free(&opened);
            sw_mask_free(&mask);
        }
    }
}

/* ---- thinning ---------------------------------------------------------------------------------------- */

static size_t n_pieces(const sw_mask *mask, uint8_t value, bool is_eight)
{
    uint32_t *const label = sw_alloc_raw(mask->width_px * mask->height_px, sizeof *label);
    size_t n = 0;
    if (sw_components(mask, value, is_eight, label, &n, NULL) != SW_OK) abort();
    sw_free(label);
    return n;
}

static void thinning_keeps_every_connection(void **state)
{
    (void)state;
    uint64_t seed = 14;
    for (int round = 0; round < 200; round++) {
        const uint64_t begin = seed;
        const bool is_eight = round % 2 == 0;
        sw_mask mask = random_blobs(70, 50, &seed), thin = { 0 };
        for (size_t i = 0; i < 3500; i++) { /* an empty rim: outside counts as not in the set */
            if (i % 70 == 0 || i % 70 == 69 || i < 70 || i >= 3430) mask.at[i] = 0;
            if (test_random(&seed) % 60 == 0 && mask.at[i] != 0) mask.at[i] = 0;
        }
        sw_bits set = { 0 }, keep = { 0 };
        assert_int_equal(sw_bits_make(70, 50, 3, &set, NULL), SW_OK);
        assert_int_equal(sw_bits_make(70, 50, 3, &keep, NULL), SW_OK);
        sw_bits_from_bytes(&set, mask.at, 70, 1, 1, false);
        assert_int_equal(sw_bits_thin(&set, &keep, is_eight, NULL), SW_OK);
        assert_int_equal(sw_mask_make(70, 50, &thin, NULL), SW_OK);
        sw_bits_to_bytes(&set, thin.at, 70);
        const bool is_same = n_pieces(&mask, 1, is_eight) == n_pieces(&thin, 1, is_eight) &&
                             n_pieces(&mask, 0, !is_eight) == n_pieces(&thin, 0, !is_eight);
        if (!is_same) print_error("seed %llu\n", (unsigned long long)begin);
        assert_true(is_same);
        for (size_t i = 0; i < 3500; i++) assert_true(thin.at[i] <= mask.at[i]);
        sw_bits_free(&set);
        sw_bits_free(&keep);
        sw_mask_free(&mask);
        sw_mask_free(&thin);
    }
}

/* ---- mending ------------------------------------------------------------------------------------------- */

/* A job of one pass: '#' is the pass's colour, '.' ground, 1 px a mm. */
typedef struct bench {
    sw_separation s;
    sw_mask stack;
    sw_bits bits; /* of stack */
    sw_sheet sheet;
    sw_feature_job job;
} bench;

static bench bench_of(sw_mask mask, size_t opening_px, size_t web_px)
{
    bench b = { .s = { .n_passes = 1, .grid = { mask.width_px, mask.height_px, 1.0 } }, .stack = mask };
    const size_t n_px = mask.width_px * mask.height_px;
    b.s.label = sw_alloc_raw(n_px, 1);
    b.s.salience = sw_alloc_array(n_px, 1);
    memcpy(b.s.label, mask.at, n_px);
    b.sheet.pass = 1;
    if (sw_bits_make(mask.width_px, mask.height_px, 0, &b.bits, NULL) != SW_OK) abort();
    sw_bits_from_bytes(&b.bits, mask.at, mask.width_px, 1, 1, false);
    if (sw_mask_copy(&mask, &b.sheet.openings, NULL) != SW_OK) abort();
    b.job = (sw_feature_job){ .window = { 0, 0, mask.width_px, mask.height_px },
                              .opening_px = opening_px, .opening_to_px = opening_px,
                              .web_px = web_px, .web_to_px = web_px };
    b.job.error[0][1] = b.job.error[1][0] = 50.0;
    return b;
}

static void bench_free(bench *b)
{
    sw_free(b->s.label);
    sw_free(b->s.salience);
    sw_mask_free(&b->stack);
    sw_bits_free(&b->bits);
    sw_sheet_free(&b->sheet);
}

static sw_status mend(bench *b, sw_note *note)
{
    b->job.separation = &b->s;
    b->job.stack = &b->bits;
    return sw_features_mend(&b->sheet, &b->job, note);
}

static sw_status settle(bench *b, sw_note *note)
{
    b->job.separation = &b->s;
    b->job.stack = &b->bits;
    return sw_features_settle(&b->sheet, &b->job, note);
}

static sw_mask box(size_t width, size_t height, size_t x, size_t y, size_t w, size_t h)
{
    sw_mask mask = { 0 };
    if (sw_mask_make(width, height, &mask, NULL) != SW_OK) abort();
    for (size_t j = y; j < y + h; j++) memset(mask.at + j * width + x, 1, w);
    return mask;
}

static size_t area(const sw_mask *mask)
{
    size_t n = 0;
    for (size_t i = 0; i < mask->width_px * mask->height_px; i++) n += mask->at[i];
    return n;
}

static void a_thin_line_is_widened_along_its_length(void **state)
{
    (void)state;
    for (size_t width = 6; width <= 7; width++) {
        bench b = bench_of(box(120, 60, 20, 30, 80, 3), width, 9);
        assert_int_equal(mend(&b, NULL), SW_OK);
        assert_int_equal(b.sheet.n_openings_widened, 1);
        assert_int_equal(b.sheet.n_openings_dropped, 0);
        size_t across = 0;
        for (size_t y = 0; y < 60; y++) across += b.sheet.openings.at[y * 120 + 60];
        assert_int_equal(across, width);
        /* no longer and no shorter than it was, within a pixel or two */
        size_t along = 0;
        for (size_t x = 0; x < 120; x++) along += b.sheet.openings.at[31 * 120 + x];
        assert_in_range(along, 78, 83);
        assert_int_equal(settle(&b, NULL), SW_OK);
        assert_int_equal(b.sheet.n_openings_dropped, 0);
        bench_free(&b);
    }
}

static void a_speck_is_dropped(void **state)
{
    (void)state;
    for (size_t height = 2; height <= 5; height++) { /* the small ones are not worth counting */
        bench b = bench_of(box(60, 60, 30, 30, 3, height), 7, 9);
        assert_int_equal(mend(&b, NULL), SW_OK);
        assert_int_equal(area(&b.sheet.openings), 0);
        assert_int_equal(b.sheet.n_openings_dropped, height == 5);
        bench_free(&b);
    }
}

static void a_dot_nearly_wide_enough_grows(void **state)
{
    (void)state;
    bench b = bench_of(box(60, 60, 30, 30, 5, 6), 7, 9);
    assert_int_equal(mend(&b, NULL), SW_OK);
    assert_int_equal(b.sheet.n_openings_widened, 1);
    assert_in_range(area(&b.sheet.openings), 37, 45);
    assert_int_equal(settle(&b, NULL), SW_OK);
    assert_true(area(&b.sheet.openings) > 30);
    bench_free(&b);
}

static void corners_of_a_wide_opening_stay_sharp(void **state)
{
    (void)state;
    bench b = bench_of(box(80, 80, 20, 20, 40, 40), 7, 11);
    assert_int_equal(mend(&b, NULL), SW_OK);
    assert_int_equal(settle(&b, NULL), SW_OK);
    assert_memory_equal(b.sheet.openings.at, b.stack.at, 6400);
    bench_free(&b);
}

static void hairs_along_an_edge_go_and_the_edge_stays(void **state)
{
    (void)state;
    sw_mask mask = box(80, 80, 20, 20, 40, 40), plain = box(80, 80, 20, 20, 40, 40);
    for (size_t y = 15; y < 20; y++) mask.at[y * 80 + 50] = 1; /* a hair of opening */
    memset(mask.at + 40 * 80 + 20, 0, 6);                      /* and one of material */
    bench b = bench_of(mask, 7, 11);
    assert_int_equal(mend(&b, NULL), SW_OK);
    assert_memory_equal(b.sheet.openings.at, plain.at, 6400);
    sw_mask_free(&plain);
    bench_free(&b);
}

static void a_wedge_of_material_gets_no_collar(void **state)
{
    (void)state;
    sw_mask mask = box(160, 160, 10, 10, 140, 140);
    for (size_t y = 10; y < 90; y++) /* 40 degrees at the tip */
        for (size_t x = 0; x < 160; x++)
            if (fabs((double)x - 80.0) < 0.36 * (90.0 - (double)y)) mask.at[y * 160 + x] = 0;
    bench b = bench_of(mask, 6, 10);
    assert_int_equal(mend(&b, NULL), SW_OK);
    assert_int_equal(settle(&b, NULL), SW_OK);
    size_t lost = 0, gained = 0;
    for (size_t i = 0; i < 160 * 160; i++) {
        lost += b.stack.at[i] > b.sheet.openings.at[i];
        gained += b.sheet.openings.at[i] > b.stack.at[i];
    }
    assert_true(lost <= 4 && gained <= 40);
    bench_free(&b);
}

static void a_thin_web_becomes_as_wide_as_asked(void **state)
{
    (void)state;
    sw_mask mask = box(120, 80, 10, 10, 100, 60);
    for (size_t y = 10; y < 70; y++) memset(mask.at + y * 120 + 58, 0, 5);
    bench b = bench_of(mask, 7, 9);
    assert_int_equal(settle(&b, NULL), SW_OK);
    assert_int_equal(b.sheet.n_webs_thickened, 1);
    size_t across = 0;
    for (size_t x = 11; x < 109; x++) across += b.sheet.openings.at[40 * 120 + x] == 0;
    assert_int_equal(across, 9);
    bench_free(&b);
}

static void the_waist_between_two_round_holes_is_found(void **state)
{
    (void)state;
    sw_mask mask = { 0 };
    assert_int_equal(sw_mask_make(80, 60, &mask, NULL), SW_OK);
    for (int y = 0; y < 60; y++)
        for (int x = 0; x < 80; x++)
            mask.at[y * 80 + x] = (x - 30) * (x - 30) + (y - 30) * (y - 30) <= 25 ||
                                  (x - 48) * (x - 48) + (y - 30) * (y - 30) <= 25; /* 7 px between */
    bench b = bench_of(mask, 5, 11);
    assert_int_equal(settle(&b, NULL), SW_OK);
    size_t across = 0;
    for (size_t x = 30; x <= 48; x++) across += b.sheet.openings.at[30 * 80 + x] == 0;
    assert_true(across >= 11);
    bench_free(&b);
}

/* ---- nothing narrow is left ------------------------------------------------------------------------ */

static void nothing_narrow_is_left_and_no_island_is_made(void **state)
{
    (void)state;
    uint64_t seed = 40;
    for (int round = 0; round < 80; round++) {
        const uint64_t begin = seed;
        const size_t opening_px = 3 + test_random(&seed) % 4, web_px = 3 + test_random(&seed) % 6;
        const size_t more = round % 10 == 9 ? 500 : 0; /* large ones are looked at again in patches */
        const size_t width = more + 30 + test_random(&seed) % 60, height = more + 30 + test_random(&seed) % 40;
        bench b = bench_of(random_blobs(width, height, &seed), opening_px, web_px);
        b.job.opening_to_px += (size_t)(round % 3 % 2);
        b.job.web_to_px += (size_t)(round % 5 % 2);
        if (round % 2 == 0) assert_int_equal(mend(&b, NULL), SW_OK);
        sw_mask before = { 0 };
        assert_int_equal(sw_mask_copy(&b.sheet.openings, &before, NULL), SW_OK);
        assert_int_equal(settle(&b, NULL), SW_OK);
        for (size_t i = 0; i < b.s.grid.width_px * b.s.grid.height_px; i++)
            assert_true(b.sheet.openings.at[i] <= before.at[i]);
        sw_mask material = complement(&b.sheet.openings);
        const bool is_good = count_narrow(&b.sheet.openings, opening_px, true, false) == 0 &&
                             count_narrow(&material, web_px, false, true) == 0 &&
                             n_islands(&b.sheet.openings) <= n_islands(&before);
        if (!is_good) print_error("seed %llu round %d\n", (unsigned long long)begin, round);
        assert_true(is_good);
        sw_mask_free(&material);
        sw_mask_free(&before);
        bench_free(&b);
    }
}

static void memory_that_fails_leaves_nothing(void **state)
{
    (void)state;
    uint64_t seed = 6;
    bench b = bench_of(random_blobs(60, 50, &seed), 4, 6);
    sw_threads_set(1);
    for (int kind = 0; kind < 2; kind++)
        for (size_t nth = 1;; nth++) {
            const size_t live = sw_alloc_fail_at(nth);
            sw_note note = { 0 };
            const sw_status st = kind == 0 ? mend(&b, &note) : settle(&b, &note);
            const bool is_through = sw_alloc_count() < nth;
            assert_int_equal(sw_alloc_fail_at(0), live);
            assert_int_equal(st, is_through ? SW_OK : SW_NO_MEMORY);
            if (is_through) break;
        }
    sw_threads_set(0);
    bench_free(&b);
}

/* Does a disc about a pixel (x, y) reach another, or a corner at its top left? */
static bool disc_reaches(const sw_disc *disc, size_t x, size_t y, size_t to_x, size_t to_y)
{
    const long dx = (long)to_x - (long)x, dy = (long)to_y - (long)y;
    if (!disc->is_even) return (size_t)labs(dy) <= disc->reach && (size_t)labs(dx) <= disc->half_px[labs(dy)];
    const size_t j = dy <= 0 ? (size_t)(1 - dy) : (size_t)dy;
    return j <= disc->reach && dx <= (long)disc->half_px[j] && -dx < (long)disc->half_px[j];
}

static void discs_grow_over_the_whole_of_a_wide_row(void **state)
{
    (void)state;
    enum { W = 16200, H = 5, N = 40 };
    static const size_t diameters[] = { 3, 6, 11, 128, 257, 508 };
    uint64_t seed = 5;
    for (size_t k = 0; k < SW_ARRAY_LEN(diameters); k++) {
        const sw_disc disc = sw_disc_of_diameter(diameters[k]);
        sw_mask mask = { 0 };
        sw_bits set = { 0 }, grown = { 0 };
        size_t at[N];
        assert_int_equal(sw_mask_make(W, H, &mask, NULL), SW_OK);
        for (size_t i = 0; i < N; i++) mask.at[at[i] = test_random(&seed) % H * W + i * (W / N) + test_random(&seed) % 64] = 1;
        assert_int_equal(sw_bits_make(W, H, 0, &set, NULL), SW_OK);
        assert_int_equal(sw_bits_make(W, H, 0, &grown, NULL), SW_OK);
        sw_bits_from_bytes(&set, mask.at, W, 1, 1, false);
        sw_bits_dilate(&set, &disc, disc.is_even ? SW_DISC_TO_CORNERS : SW_DISC_PIXELS, false, false, &grown);
        for (size_t i = 0; i < W * H; i++) {
            bool is_reached = false;
            for (size_t n = 0; n < N && !is_reached; n++)
                is_reached = disc_reaches(&disc, at[n] % W, at[n] / W, i % W, i / W);
            if (is_reached != sw_bit(&grown, i % W, i / W)) fail_msg("disc of %zu px at %zu, %zu", diameters[k], i % W, i / W);
        }
        sw_mask_free(&mask);
        sw_bits_free(&set);
        sw_bits_free(&grown);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(opening_equals_the_definition),
        cmocka_unit_test(discs_grow_over_the_whole_of_a_wide_row),
        cmocka_unit_test(a_bar_as_wide_as_the_disc_stays_and_a_narrower_one_goes),
        cmocka_unit_test(thinning_keeps_every_connection),
        cmocka_unit_test(a_thin_line_is_widened_along_its_length),
        cmocka_unit_test(a_speck_is_dropped),
        cmocka_unit_test(a_dot_nearly_wide_enough_grows),
        cmocka_unit_test(corners_of_a_wide_opening_stay_sharp),
        cmocka_unit_test(hairs_along_an_edge_go_and_the_edge_stays),
        cmocka_unit_test(a_wedge_of_material_gets_no_collar),
        cmocka_unit_test(a_thin_web_becomes_as_wide_as_asked),
        cmocka_unit_test(the_waist_between_two_round_holes_is_found),
        cmocka_unit_test(nothing_narrow_is_left_and_no_island_is_made),
        cmocka_unit_test(memory_that_fails_leaves_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
