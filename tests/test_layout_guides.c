/* Guide slots: where the picture has an edge that no sheet paints, and only there. */
#include "layout/layout.h"
#include "support.h"

#include <math.h>

#define W 300u
#define H 200u

/* 300 x 200 mm at 2 px/mm: grey left of the line x = edge_mm + slant y, lighter right of it; one label all over. */
typedef struct scene {
    sw_picture art;
    sw_separation separation;
    sw_mask mask;
} scene;

static scene make_scene(double edge_mm, double slant, uint8_t left, uint8_t right)
{
    scene s = { .separation = { .grid = { 2 * W, 2 * H, 2.0 }, .n_passes = 1 } };
    assert_int_equal(sw_picture_make(2 * W, 2 * H, (sw_rgb8){ right, right, right }, &s.art, NULL), SW_OK);
    assert_int_equal(sw_mask_make(2 * W, 2 * H, &s.mask, NULL), SW_OK);
    s.separation.label = sw_alloc_array(4u * W * H, 1);
    assert_non_null(s.separation.label);
    for (size_t y = 0; y < 2 * H; y++) {
        for (size_t x = 0; x < 2 * W; x++) {
            if ((double)x < 2 * edge_mm + slant * (double)y) s.art.at[y * 2 * W + x] = (sw_rgb8){ left, left, left };
        }
    }
    return s;
}

static void free_scene(scene *s)
{
    sw_picture_free(&s->art);
    sw_mask_free(&s->mask);
    sw_free(s->separation.label);
}

static const sw_guide_opts opts = { .min_opening_mm = 3, .min_web_mm = 5 };

static void dashes_stand_along_the_edge_at_even_distances(void **state)
{
    (void)state;
    static const double slants[] = { 0, 0.3, -0.5 };
    for (size_t i = 0; i < SW_ARRAY_LEN(slants); i++) {
        scene s = make_scene(150, slants[i], 170, 235);
        size_t n = 0;
        assert_int_equal(sw_guides_add(&s.art, &s.separation, &opts, &s.mask, &n, NULL), SW_OK);
        const double length = H * hypot(1, slants[i]);
        assert_true(fabs((double)n - length / 40) <= 1.0); /* a dash of 15 and a gap of 25 */
        uint32_t *const label = sw_alloc_array(4u * W * H, sizeof *label);
        size_t n_parts = 0, open_px = 0;
        assert_int_equal(sw_components(&s.mask, 1, true, label, &n_parts, NULL), SW_OK);
        assert_int_equal(n_parts, n);
        for (size_t y = 0; y < 2 * H; y++) {
            for (size_t x = 0; x < 2 * W; x++) {
                if (!s.mask.at[y * 2 * W + x]) continue;
                open_px++;
                const double off = ((double)x / 2 - 150 - slants[i] * (double)y / 2) / hypot(1, slants[i]);
                assert_true(fabs(off) < 1.8 + 1.5); /* half a dash's width, and an edge found to 1.5 mm */
            }
        }
        /* a dash of 15 mm with round ends, 3.6 mm wide */
        const double area_mm2 = (double)open_px / 4 / (double)n;
        assert_true(area_mm2 > 0.8 * (15 * 3.6 + 10) && area_mm2 < 1.2 * (15 * 3.6 + 10));
        sw_free(label);
        free_scene(&s);
    }
}

static bool is_unchanged(const scene *s, uint8_t value)
{
    for (size_t i = 0; i < 4u * W * H; i++) {
        if (s->mask.at[i] != value) return false;
    }
    return true;
}

static void a_painted_edge_and_a_flat_picture_get_none(void **state)
{
    (void)state;
    size_t n = 9;
    scene s = make_scene(150, 0, 170, 235);
    for (size_t i = 0; i < 4u * W * H; i++) s.separation.label[i] = i % (2 * W) < 300; /* the sheet's edge is there too */
    assert_int_equal(sw_guides_add(&s.art, &s.separation, &opts, &s.mask, &n, NULL), SW_OK);
    assert_int_equal(n, 0);
    assert_true(is_unchanged(&s, 0));
    free_scene(&s);
    s = make_scene(150, 0, 230, 235); /* too faint a step */
    assert_int_equal(sw_guides_add(&s.art, &s.separation, &opts, &s.mask, &n, NULL), SW_OK);
    assert_int_equal(n, 0);
    free_scene(&s);
}

static void dashes_keep_min_web_from_openings_and_seams(void **state)
{
    (void)state;
    scene s = make_scene(150, 0, 170, 235);
    for (size_t y = 100; y < 140; y++) memset(s.mask.at + y * 2 * W + 310, 1, 100); /* from 155 mm, at 50 to 70 mm */
    sw_rect_px halves[] = { { 0, 0, 2 * W, 250 }, { 0, 250, 2 * W, 150 } };
    const sw_windows windows = { halves, 2 };
    sw_guide_opts split = opts;
    split.windows = &windows;
    sw_mask before = { 0 };
    assert_int_equal(sw_mask_copy(&s.mask, &before, NULL), SW_OK);
    size_t n = 0;
    assert_int_equal(sw_guides_add(&s.art, &s.separation, &split, &s.mask, &n, NULL), SW_OK);
    assert_true(n >= 2);
    for (size_t y = 0; y < 2 * H; y++) {
        for (size_t x = 0; x < 2 * W; x++) {
            const size_t i = y * 2 * W + x;
            if (!s.mask.at[i] || before.at[i]) continue;
            assert_true((double)y < 2 * (50 - 5) || (double)y >= 2 * (70 + 5));
            assert_true(fabs((double)y + 0.5 - 250) > 2 * 5);
        }
    }
    sw_mask_free(&before);
    free_scene(&s);
}

static void nonsense_is_refused_and_memory_that_ends_is_told(void **state)
{
    (void)state;
    scene s = make_scene(150, 0, 170, 235);
    const sw_guide_opts bad[] = { { 0 }, { .min_opening_mm = NAN, .min_web_mm = 5 },
                                  { .min_opening_mm = 3, .min_web_mm = 5, .least_contrast_ratio = 2 } };
    for (size_t i = 0; i < SW_ARRAY_LEN(bad); i++)
        assert_int_equal(sw_guides_add(&s.art, &s.separation, &bad[i], &s.mask, NULL, NULL), SW_BAD_LENGTH);
    const size_t live = sw_alloc_fail_at(0);
    sw_status st = SW_NO_MEMORY;
    for (size_t nth = 1; st != SW_OK; nth++) {
        sw_alloc_fail_at(nth);
        st = sw_guides_add(&s.art, &s.separation, &opts, &s.mask, NULL, NULL);
        sw_alloc_fail_at(0);
        assert_true(st == SW_OK || (st == SW_NO_MEMORY && is_unchanged(&s, 0)));
    }
    assert_int_equal(sw_alloc_fail_at(0), live);
    free_scene(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(dashes_stand_along_the_edge_at_even_distances),
        cmocka_unit_test(a_painted_edge_and_a_flat_picture_get_none),
        cmocka_unit_test(dashes_keep_min_web_from_openings_and_seams),
        cmocka_unit_test(nonsense_is_refused_and_memory_that_ends_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
