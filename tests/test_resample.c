/* Resampling: exact averages in linear light, enlarging without shift or halo, the same for any number of threads. */
#include "support.h"
#include "picture/picture.h"
#include <math.h>

static sw_picture make_noise(size_t width, size_t height, uint64_t seed)
{
    sw_picture p = { 0 };
    if (sw_picture_make(width, height, (sw_rgb8){ 0, 0, 0 }, &p, NULL) != SW_OK) abort();
    for (size_t i = 0; i < width * height; i++) {
        const uint64_t v = test_random(&seed);
        p.at[i] = (sw_rgb8){ (uint8_t)v, (uint8_t)(v >> 8), (uint8_t)(v >> 16) };
    }
    return p;
}

static sw_picture make_grey(size_t width, size_t height, const uint8_t *grey)
{
    sw_picture p = { 0 };
    if (sw_picture_make(width, height, (sw_rgb8){ 0, 0, 0 }, &p, NULL) != SW_OK) abort();
    for (size_t i = 0; i < width * height; i++) p.at[i] = (sw_rgb8){ grey[i], grey[i], grey[i] };
    return p;
}

static sw_picture resample_ok(const sw_picture *in, size_t width, size_t height)
{
    sw_picture out = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_picture_resample(in, width, height, &out, &note), note);
    assert_int_equal(out.width_px, width);
    assert_int_equal(out.height_px, height);
    return out;
}

static void the_same_size_is_a_copy(void **state)
{
    (void)state;
    sw_picture in = make_noise(31, 17, 1);
    in.x_px_per_mm = 3.0;
    in.has_alpha = true;
    in.source_width_px = 62;
    sw_picture out = resample_ok(&in, 31, 17);
    assert_memory_equal(out.at, in.at, 31 * 17 * sizeof *in.at);
    assert_ptr_not_equal(out.at, in.at);
    assert_true(out.x_px_per_mm == 3.0 && out.has_alpha && out.source_width_px == 62);
    sw_picture_free(&in);
    sw_picture_free(&out);
}

/* Half black and half white is half the light: 188, not 128. */
static void shrinking_averages_light(void **state)
{
    (void)state;
    sw_picture in = make_grey(2, 2, (const uint8_t[]){ 0, 255, 255, 0 });
    sw_picture out = resample_ok(&in, 1, 1);
    assert_int_equal(out.at[0].g, 188);
    sw_picture_free(&in);
    sw_picture_free(&out);
}

/* 5 pixels onto 3: the shares are 1, 2/3 | 1/3, 1, 1/3 | 2/3, 1 of 5/3. */
static void shrinking_covers_exactly(void **state)
{
    (void)state;
    static const uint8_t grey[5] = { 200, 10, 120, 250, 60 };
    double light[5];
    for (int i = 0; i < 5; i++) light[i] = sw_linear_from_srgb(grey[i] / 255.0);
    const double wanted[3] = { (light[0] + light[1] * 2 / 3) * 3 / 5, (light[1] / 3 + light[2] + light[3] / 3) * 3 / 5,
                               (light[3] * 2 / 3 + light[4]) * 3 / 5 };
    for (int is_tall = 0; is_tall < 2; is_tall++) {
        sw_picture in = make_grey(is_tall ? 1 : 5, is_tall ? 5 : 1, grey);
        sw_picture out = resample_ok(&in, is_tall ? 1 : 3, is_tall ? 3 : 1);
        for (int i = 0; i < 3; i++) {
            const double exact = 255.0 * sw_srgb_from_linear(wanted[i]);
            if (!(fabs(out.at[i].b - exact) <= 0.5001)) fail_msg("pixel %d: %d, exact %.4f", i, out.at[i].b, exact);
        }
        sw_picture_free(&in);
        sw_picture_free(&out);
    }
}

static void one_colour_stays_that_colour(void **state)
{
    (void)state;
    static const size_t size[][2] = { { 1, 1 },   { 300, 2 }, { 7, 7 },  { 8, 9 },  { 6, 5 },
                                      { 13, 100 }, { 3, 1 },   { 97, 4 }, { 1, 97 } };
    for (int v = 0; v < 256; v += 5) {
        sw_picture in = { 0 };
        const sw_rgb8 colour = { (uint8_t)v, (uint8_t)(255 - v), (uint8_t)(v * 7) };
        assert_int_equal(sw_picture_make(7, 7, colour, &in, NULL), SW_OK);
        for (size_t s = 0; s < SW_ARRAY_LEN(size); s++) {
            sw_picture out = resample_ok(&in, size[s][0], size[s][1]);
            for (size_t i = 0; i < size[s][0] * size[s][1]; i++)
                assert_memory_equal(&out.at[i], &colour, sizeof colour);
            sw_picture_free(&out);
        }
        sw_picture_free(&in);
    }
}

/* A picture and its mirror image, enlarged, are mirror images: nothing moves by half a pixel or any other part. */
static void enlarging_shifts_nothing(void **state)
{
    (void)state;
    const size_t to[][2] = { { 37, 29 }, { 24, 16 }, { 13, 9 }, { 100, 9 }, { 100, 5 }, { 5, 50 } };
    sw_picture in = make_noise(12, 8, 5), mirrored = make_noise(12, 8, 5);
    for (size_t i = 0; i < 96; i++) mirrored.at[i] = in.at[95 - i];
    for (size_t s = 0; s < SW_ARRAY_LEN(to); s++) {
        const size_t n = to[s][0] * to[s][1];
        sw_picture one = resample_ok(&in, to[s][0], to[s][1]), two = resample_ok(&mirrored, to[s][0], to[s][1]);
        for (size_t i = 0; i < n; i++) { /* sums run the other way round: one step of rounding */
            assert_true(abs(one.at[i].r - two.at[n - 1 - i].r) <= 1);
            assert_true(abs(one.at[i].g - two.at[n - 1 - i].g) <= 1);
        }
        sw_picture_free(&one);
        sw_picture_free(&two);
    }
    sw_picture_free(&in);
    sw_picture_free(&mirrored);
}

/* Away from the edges a cubic keeps a straight ramp straight: value at target centre x is the ramp's there. */
static void an_enlarged_ramp_is_a_ramp(void **state)
{
    (void)state;
    uint8_t grey[26];
    for (size_t i = 0; i < 26; i++) grey[i] = (uint8_t)(i * 10);
    sw_picture in = make_grey(26, 1, grey);
    sw_picture out = resample_ok(&in, 26 * 7, 3);
    for (size_t i = 14; i < 26 * 7 - 14; i++) {
        const double exact = (((double)i + 0.5) / 7.0 - 0.5) * 10.0;
        assert_true(fabs(out.at[i].r - exact) <= 0.51);
    }
    sw_picture_free(&in);
    sw_picture_free(&out);
}

/* Flat art stays flat: no pixel is lighter or darker than the source pixels around it. */
static void enlarging_makes_no_halo(void **state)
{
    (void)state;
    sw_picture in = make_noise(9, 9, 11);
    for (size_t i = 0; i < 81; i++) in.at[i] = in.at[i].r < 128 ? (sw_rgb8){ 100, 40, 0 } : (sw_rgb8){ 200, 90, 255 };
    sw_picture out = resample_ok(&in, 80, 70);
    bool is_low = false, is_high = false;
    for (size_t i = 0; i < 80 * 70; i++) {
        assert_in_range(out.at[i].r, 100, 200);
        assert_in_range(out.at[i].g, 40, 90);
        is_low = is_low || out.at[i].r < 110;
        is_high = is_high || out.at[i].r > 190;
    }
    assert_true(is_low && is_high); /* and the contrast is still there */
    sw_picture_free(&in);
    sw_picture_free(&out);
}

static void shrinking_keeps_the_light_of_the_whole(void **state)
{
    (void)state;
    sw_picture in = make_noise(211, 97, 3);
    sw_picture out = resample_ok(&in, 40, 31);
    double before = 0.0, after = 0.0;
    for (size_t i = 0; i < 211 * 97; i++) before += sw_linear_from_srgb8(in.at[i].g) / (211.0 * 97.0);
    for (size_t i = 0; i < 40 * 31; i++) after += sw_linear_from_srgb8(out.at[i].g) / (40.0 * 31.0);
    assert_true(fabs(before - after) < 2e-4); /* of rounding to 8 bits, averaged over 1240 pixels */
    sw_picture_free(&in);
    sw_picture_free(&out);
}

static void any_number_of_threads_gives_the_same_bytes(void **state)
{
    (void)state;
    static const size_t side[] = { 1, 2, 127, 200 };
    static const int threads[] = { 2, 7 };
    for (size_t from = 0; from < 4; from++) {
        for (size_t to = 0; to < 4; to++) {
            sw_picture in = make_noise(side[from], side[3 - from], 9);
            sw_threads_set(1);
            sw_picture one = resample_ok(&in, side[to], side[(to + 1) % 4]);
            for (size_t t = 0; t < 2; t++) {
                sw_threads_set(threads[t]);
                sw_picture many = resample_ok(&in, side[to], side[(to + 1) % 4]);
                assert_memory_equal(one.at, many.at, one.width_px * one.height_px * sizeof *one.at);
                sw_picture_free(&many);
            }
            sw_picture_free(&one);
            sw_picture_free(&in);
        }
    }
    sw_threads_set(0);
}

static void the_narrowest_pictures_are_resampled(void **state)
{
    (void)state;
    sw_picture in = make_noise(1, 20000, 2);
    sw_picture out = resample_ok(&in, 3, 7);
    sw_picture_free(&out);
    out = resample_ok(&in, 1, 20001);
    sw_picture_free(&out);
    sw_picture_free(&in);
    in = make_noise(20000, 1, 2);
    out = resample_ok(&in, 1, 1);
    sw_picture_free(&out);
    sw_picture_free(&in);
}

static void impossible_sizes_are_refused(void **state)
{
    (void)state;
    static const size_t size[][2] = { { 0, 5 }, { 5, 0 }, { SW_MAX_SIDE_PX + 1, 1 }, { 90000, 90000 },
                                      { SIZE_MAX, SIZE_MAX } };
    sw_picture in = make_noise(3, 3, 2), out = { .width_px = 5 };
    for (size_t s = 0; s < SW_ARRAY_LEN(size); s++) {
        sw_note note = { 0 };
        assert_int_equal(sw_picture_resample(&in, size[s][0], size[s][1], &out, &note), SW_TOO_LARGE);
        assert_non_null(strstr(note.text, "cannot be made"));
        assert_int_equal(out.width_px, 5);
    }
    sw_picture_free(&in);
}

static void every_failed_allocation_is_clean(void **state)
{
    (void)state;
    static const size_t size[][2] = { { 5, 3 }, { 40, 60 }, { 9, 9 } };
    for (size_t s = 0; s < SW_ARRAY_LEN(size); s++) {
        sw_picture in = make_noise(9, 9, 2);
        size_t n = 1;
        for (;; n++) {
            const size_t live = sw_alloc_fail_at(n);
            sw_picture out = { 0 };
            sw_note note = { 0 };
            const sw_status st = sw_picture_resample(&in, size[s][0], size[s][1], &out, &note);
            sw_picture_free(&out);
            assert_int_equal(sw_alloc_fail_at(0), live);
            if (st == SW_OK) break;
            assert_int_equal(st, SW_NO_MEMORY);
            assert_non_null(strstr(note.text, "memory"));
        }
        assert_true(n > (s == 2 ? 1u : 10u));
        sw_picture_free(&in);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_same_size_is_a_copy),
        cmocka_unit_test(shrinking_averages_light),
        cmocka_unit_test(shrinking_covers_exactly),
        cmocka_unit_test(one_colour_stays_that_colour),
        cmocka_unit_test(enlarging_shifts_nothing),
        cmocka_unit_test(an_enlarged_ramp_is_a_ramp),
        cmocka_unit_test(enlarging_makes_no_halo),
        cmocka_unit_test(shrinking_keeps_the_light_of_the_whole),
        cmocka_unit_test(any_number_of_threads_gives_the_same_bytes),
        cmocka_unit_test(the_narrowest_pictures_are_resampled),
        cmocka_unit_test(impossible_sizes_are_refused),
        cmocka_unit_test(every_failed_allocation_is_clean),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
