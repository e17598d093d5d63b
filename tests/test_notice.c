/* What is noticed: errors weigh more where a viewer looks and away from all edges, and bridges keep off calm ground. */
#include "bridge_support.h"

#include "sheet/notice.h"

static sw_notice notice_of(const scene *s, double width_px)
{
    sw_notice notice = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_notice_make(&s->sep, width_px, &notice, &note), note);
    return notice;
}

/* A plain half and one of stripes: near the stripes an error counts one, far away four times as much, between in between. */
static void an_error_counts_more_far_from_all_edges(void **state)
{
    (void)state;
    scene s = scene_make(blank(401, 97), 6, 3);
    for (size_t i = 0; i < 401 * 97; i++) s.sep.label[i] = i % 401 >= 200 && i % 401 / 10 % 2 == 0;
    sw_notice notice = notice_of(&s, 6);
    uint32_t last = 16;
    for (size_t x = 400; x-- > 0;) {
        const uint32_t weight = sw_notice_at(&notice, x, 48);
        if (x >= 200 - 8) assert_int_equal(weight, 16);
        if (x <= 200 - 34) assert_int_equal(weight, 64);
        assert_true(weight >= last && weight <= last + 16);
        last = weight;
    }
    sw_notice_free(&notice);
    scene_free(&s);
}

static void one_colour_is_calm_everywhere_and_salience_counts_on_top(void **state)
{
    (void)state;
    for (size_t side = 1; side < 40; side += 13) {
        scene s = scene_make(blank(side, side + 2), 6, 3);
        s.sep.salience[0] = 255;
        sw_notice notice = notice_of(&s, 6);
        assert_int_equal(sw_notice_at(&notice, 0, 0), 255); /* six times four, as much as fits */
        assert_int_equal(sw_notice_at(&notice, side - 1, side + 1), 64);
        sw_notice_free(&notice);
        scene_free(&s);
    }
}

static void squares_are_smaller_than_half_a_bridge(void **state)
{
    (void)state;
    static const double widths_px[] = { 0.5, 5, 6, 12, 50, 1e6 };
    scene s = scene_make(blank(70, 70), 6, 3);
    s.sep.label[0] = 1;
    for (size_t i = 0; i < SW_ARRAY_LEN(widths_px); i++) {
        sw_notice notice = notice_of(&s, widths_px[i]);
        assert_true(notice.shift == 0 || (double)(1u << notice.shift) <= 0.4 * widths_px[i]);
        assert_int_equal(sw_notice_at(&notice, 0, 0), 16);
        sw_notice_free(&notice);
    }
    scene_free(&s);
}

static void threads_do_not_change_a_byte(void **state)
{
    (void)state;
    scene s = scene_make(blank(130, 90), 6, 3);
    for (size_t i = 0; i < 130 * 90; i++) s.sep.label[i] = i % 130 / 40 % 2 != i / 130 / 50 % 2;
    sw_notice one = { 0 };
    for (int threads = 1; threads < 8; threads += 3) {
        sw_threads_set(threads);
        sw_notice notice = notice_of(&s, 6);
        if (threads == 1) {
            one = notice;
            continue;
        }
        assert_memory_equal(notice.calm, one.calm, notice.wide * ((90 - 1) / (1u << notice.shift) + 1));
        sw_notice_free(&notice);
    }
    sw_threads_set(0);
    sw_notice_free(&one);
    scene_free(&s);
}

static void memory_that_fails_leaves_nothing(void **state)
{
    (void)state;
    scene s = scene_make(blank(50, 50), 6, 3);
    for (size_t nth = 1;; nth++) {
        sw_notice notice = { 0 };
        const size_t n_live = sw_alloc_fail_at(nth);
        const sw_status st = sw_notice_make(&s.sep, 6, &notice, NULL);
        const bool is_last = sw_alloc_count() < nth;
        assert_int_equal(sw_alloc_fail_at(0), n_live + is_last);
        assert_int_equal(st, is_last ? SW_OK : SW_NO_MEMORY);
        sw_notice_free(&notice);
        if (is_last) break;
    }
    scene_free(&s);
}

/* ---- bridges ------------------------------------------------------------------------------------------------------ */

/* An island in a plain opening, its upper and lower edges nearest; then hairs of another colour lie left of it. */
static void a_bridge_goes_between_others_rather_than_across_calm_ground(void **state)
{
    (void)state;
    const size_t width = 260, height = 180;
    sw_mask mask = blank(width, height);
    for (size_t y = 10; y < 170; y++)
        for (size_t x = 10; x < 250; x++) mask.at[y * width + x] = !(x >= 72 && x < 122 && y >= 60 && y < 120);
    scene s = scene_make(mask, 6, 3);
    scene_plan(&s);
    assert_int_equal(s.sheet.n_bridges, 1);
    const sw_bridge *b = &s.sheet.bridges[0];
    assert_true(fabs(b->a.x_mm - b->b.x_mm) < 3.0); /* 50 up or down */
    for (size_t y = 50; y < 130; y++)
        for (size_t x = 16; x < 72; x += 14) s.sep.label[y * width + x] = 2;
    scene_plan(&s);
    assert_int_equal(s.sheet.n_bridges, 1);
    b = &s.sheet.bridges[0];
    assert_true(sw_max(b->a.x_mm, b->b.x_mm) <= 74.0 && fabs(b->a.y_mm - b->b.y_mm) < 6.0); /* 62 to the left */
    assert_true(b->visible_mm2 > 50 * 6); /* no shorter: the hairs hide four */
    scene_free(&s);
}

/* A dot that is less than its stick shows in the calm goes; among other things, or where a viewer looks, it stays. */
static void a_dot_on_a_long_stick_goes_where_it_is_calm(void **state)
{
    (void)state;
    for (int kind = 0; kind < 3; kind++) {
        sw_mask mask = blank(160, 160);
        draw_ring(&mask, 80, 80, 14, 64);
        scene s = scene_make(mask, 6, 3);
        for (size_t i = 0; i < 160 * 160; i++) {
            const double r = hypot((double)(i % 160) + 0.5 - 80.0, (double)(i / 160) + 0.5 - 80.0);
            if (kind == 1 && mask.at[i] && fmod(r, 12.0) < 1.0) s.sep.label[i] = 2; /* hairs of the next colour */
            if (kind == 2 && r < 14) s.sep.salience[i] = 255;
        }
        scene_plan(&s);
        assert_int_equal(s.sheet.n_islands, 1);
        assert_int_equal(s.sheet.n_islands_dropped, kind == 0);
        assert_int_equal(s.sheet.n_bridges, kind != 0);
        scene_free(&s);
    }
}

/* A way in the dark of more than a hundred widths and a dozen corners, against a stick across calm ground. */
static void a_long_winding_way_that_hides_is_taken(void **state)
{
    (void)state;
    const size_t width = 460, height = 420;
    sw_mask mask = blank(width, height);
    scene s;
    for (size_t y = 10; y < height - 10; y++)
        for (size_t x = 10; x < width - 10; x++) mask.at[y * width + x] = !(x >= 150 && x < 190 && y >= 200 && y < 240);
    s = scene_make(mask, 5, 3);
    /* a corridor of the next colour: from the island in steps down to the right, then back under it to the edge */
    for (size_t y = 10; y < height - 10; y++)
        for (size_t x = 10; x < width - 10; x++) {
            bool is_dark = false;
            for (size_t k = 0; k < 5; k++) {
                const size_t x0 = 190 + 40 * k, y0 = 230 + 30 * k;
                is_dark = is_dark || (x >= x0 && x < x0 + 52 && y >= y0 - 14 && y < y0) ||
                          (x >= x0 + 40 && x < x0 + 52 && y >= y0 - 14 && y < y0 + 30);
            }
            is_dark = is_dark || (x >= 20 && x < 402 && y >= 370 && y < 382) || (x >= 10 && x < 32 && y >= 370 && y < 382);
            if (is_dark && mask.at[y * width + x]) s.sep.label[y * width + x] = 2;
        }
    scene_plan(&s);
    assert_int_equal(s.sheet.n_bridges, 1);
    const sw_bridge *const b = &s.sheet.bridges[0];
    assert_true(b->is_bent && b->n_bends > 8);
    assert_true(b->visible_mm2 < 0.1 * b->area_mm2);
    assert_int_equal(count_pieces(&s.sheet.openings), 1);
    scene_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_error_counts_more_far_from_all_edges),
        cmocka_unit_test(one_colour_is_calm_everywhere_and_salience_counts_on_top),
        cmocka_unit_test(squares_are_smaller_than_half_a_bridge),
        cmocka_unit_test(threads_do_not_change_a_byte),
        cmocka_unit_test(memory_that_fails_leaves_nothing),
        cmocka_unit_test(a_bridge_goes_between_others_rather_than_across_calm_ground),
        cmocka_unit_test(a_dot_on_a_long_stick_goes_where_it_is_calm),
        cmocka_unit_test(a_long_winding_way_that_hides_is_taken),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
