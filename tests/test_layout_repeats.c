/* Openings that occur again: turned, mirrored, nearly the same, not the same. */
#include "layout/layout.h"
#include "support.h"

#include <math.h>

#define PI 3.14159265358979323846

/* A fish of curves and corners, turned, mirrored, moved; bulge changes one handle by that many mm. */
static void add_fish(sw_contours *list, double x, double y, double turn_rad, bool is_mirrored, double bulge)
{
    static const double at[][2] = { { 0, 0 },   { 20, -25 }, { 60, -22 }, { 80, 0 },  { 95, -14 }, { 95, 14 },
                                    { 80, 0 },  { 60, 28 },  { 20, 25 },  { 0, 0 } };
    sw_pt_mm p[10];
    for (int i = 0; i < 10; i++) {
        const double px = is_mirrored ? -at[i][0] : at[i][0], py = at[i][1] - (i == 2 ? bulge : 0);
        p[i] = (sw_pt_mm){ x + px * cos(turn_rad) - py * sin(turn_rad), y + px * sin(turn_rad) + py * cos(turn_rad) };
    }
    p[6].x_mm += 1e-3; /* body and tail meet, but not in one point */
    sw_contour c = { .start = p[0] };
    if (!is_mirrored) {
        assert_true(sw_contour_add_cubic(&c, p[1], p[2], p[3]) && sw_contour_add_line(&c, p[4]));
        assert_true(sw_contour_add_line(&c, p[5]) && sw_contour_add_line(&c, p[6]));
        assert_true(sw_contour_add_cubic(&c, p[7], p[8], p[9]));
    } else { /* keep the direction of outer edges */
        assert_true(sw_contour_add_cubic(&c, p[8], p[7], p[6]) && sw_contour_add_line(&c, p[5]));
        assert_true(sw_contour_add_line(&c, p[4]) && sw_contour_add_line(&c, p[3]));
        assert_true(sw_contour_add_cubic(&c, p[2], p[1], p[0]));
    }
    assert_int_equal(sw_contours_take(list, &c, NULL), SW_OK);
}

static void turned_and_mirrored_copies_are_found(void **state)
{
    (void)state;
    uint64_t seed = 12;
    for (int i = 0; i < 40; i++) {
        const double turn = (double)(test_random(&seed) % 62832) / 10000.0 - PI;
        const bool is_mirrored = test_random(&seed) % 2;
        sw_contours list = { 0 };
        sw_repeats found = { 0 };
        add_fish(&list, 100, 100, 0.3, false, 0);
        add_fish(&list, 1900, 1300, 0.3 + turn, is_mirrored, 0);
        assert_int_equal(sw_repeats_find(&list, 0.2, 0, &found, NULL), SW_OK);
        assert_int_equal(found.n, 1);
        assert_int_equal(found.at[0].copy, 1);
        assert_int_equal(found.at[0].is_mirrored, is_mirrored);
        assert_true(found.at[0].off_mm < 0.2);
        /* mirrored fish: flipping the original, itself turned by 0.3, leaves it turned by -0.3 */
        const double wanted = is_mirrored ? turn + 0.6 : turn;
        assert_true(fabs(remainder(found.at[0].turn_rad - wanted, 2 * PI)) < 0.01);
        const sw_contour_measure m = sw_contour_measure_one(&list.at[1]);
        assert_true(fabs(found.saved_cut_mm - m.length_mm) < 1e-9);
        sw_repeats_free(&found);
        sw_contours_free(&list);
    }
}

static void what_differs_by_more_than_the_tolerance_is_no_copy(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    sw_repeats found = { 0 };
    add_fish(&list, 100, 100, 0, false, 0);
    add_fish(&list, 400, 100, 2, false, 8); /* the back bulges by 3/8 of 8 mm */
    assert_int_equal(sw_repeats_find(&list, 0.5, 0, &found, NULL), SW_OK);
    assert_int_equal(found.n, 0);
    sw_repeats_free(&found);
    assert_int_equal(sw_repeats_find(&list, 3.2, 0, &found, NULL), SW_OK);
    assert_int_equal(found.n, 1);
    sw_repeats_free(&found);
    sw_contours_free(&list);
}

static void copies_of_a_copy_name_the_first(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    sw_repeats found = { 0 };
    for (int i = 0; i < 7; i++) add_fish(&list, 120.0 * i, 500, 0.7 * i, i % 2, 0);
    assert_int_equal(sw_repeats_find(&list, 0.2, 0, &found, NULL), SW_OK);
    assert_int_equal(found.n, 6);
    for (size_t i = 0; i < found.n; i++) {
        assert_int_equal(found.at[i].original, 0);
        assert_int_equal(found.at[i].copy, i + 1);
    }
    sw_repeats_free(&found);
    assert_int_equal(sw_repeats_find(&list, 0.2, 200, &found, NULL), SW_OK); /* all are smaller than that */
    assert_int_equal(found.n, 0);
    sw_contours_free(&list);
}

static void circles_and_squares_match_at_any_turn(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    sw_repeats found = { 0 };
    for (int i = 0; i < 4; i++) {
        const int n = i < 2 ? 4 : 60; /* squares, then circles of chords */
        sw_contour c = { 0 };
        for (int k = 0; k <= n; k++) {
            const double a = 0.37 * i + 2 * PI * (k % n) / n;
            const sw_pt_mm p = { 100.0 * i + 20 * cos(a), 20 * sin(a) };
            if (k == 0) c.start = p;
            else assert_true(sw_contour_add_line(&c, p));
        }
        assert_int_equal(sw_contours_take(&list, &c, NULL), SW_OK);
    }
    assert_int_equal(sw_repeats_find(&list, 0.2, 0, &found, NULL), SW_OK);
    assert_int_equal(found.n, 2);
    assert_int_equal(found.at[0].original, 0);
    assert_int_equal(found.at[1].original, 2);
    sw_repeats_free(&found);
    sw_contours_free(&list);
}

static void odd_input_is_fine_and_failures_are_told(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    sw_repeats found = { 0 };
    assert_int_equal(sw_repeats_find(&list, 0.2, 0, &found, NULL), SW_OK);
    static const double bad[] = { 0, -1, NAN, INFINITY };
    for (size_t i = 0; i < SW_ARRAY_LEN(bad); i++)
        assert_int_equal(sw_repeats_find(&list, bad[i], 0, &found, NULL), SW_BAD_LENGTH);
    sw_contour flat = { .start = { 1, 1 } }; /* no area at all */
    assert_true(sw_contour_add_line(&flat, (sw_pt_mm){ 5, 1 }) && sw_contour_add_line(&flat, flat.start));
    assert_int_equal(sw_contours_take(&list, &flat, NULL), SW_OK);
    for (int i = 0; i < 3; i++) add_fish(&list, 120.0 * i, 500, 0.7 * i, i % 2, 0);
    const size_t live = sw_alloc_fail_at(0);
    sw_status st = SW_NO_MEMORY;
    for (size_t nth = 1; st != SW_OK; nth++) {
        sw_alloc_fail_at(nth);
        st = sw_repeats_find(&list, 0.2, 0, &found, NULL);
        sw_alloc_fail_at(0);
        assert_true(st == SW_OK || (st == SW_NO_MEMORY && found.at == NULL));
    }
    assert_int_equal(found.n, 2);
    sw_repeats_free(&found);
    assert_int_equal(sw_alloc_fail_at(0), live);
    sw_contours_free(&list);
}

/* A leaf and n veins beside its middle, turned and moved; each vein is a slim kite of another length unless is_same. */
static void add_leaf(sw_contours *list, double x, double y, double turn_rad, bool is_mirrored, int n_veins, bool is_same)
{
    add_fish(list, x, y, turn_rad, is_mirrored, 0);
    for (int v = 0; v < n_veins; v++) {
        const double length = is_same ? 14 : 9 + 2 * v, from = 12 + 22 * v;
        const double kite[4][2] = { { from, -40 }, { from + length * 0.3, -42 }, { from + length, -40 }, { from + length * 0.3, -37 } };
        sw_contour c = { 0 };
        for (int i = 0; i <= 4; i++) {
            const double *const p = kite[is_mirrored ? (4 - i) % 4 : i % 4], px = is_mirrored ? -p[0] : p[0];
            const sw_pt_mm at = { x + px * cos(turn_rad) - p[1] * sin(turn_rad), y + px * sin(turn_rad) + p[1] * cos(turn_rad) };
            if (i == 0) c.start = at;
            else assert_true(sw_contour_add_line(&c, i == 4 ? c.start : at));
        }
        assert_int_equal(sw_contours_take(list, &c, NULL), SW_OK);
    }
}

static void a_leaf_repeats_with_its_veins(void **state)
{
    (void)state;
    for (int is_mirrored = 0; is_mirrored < 2; is_mirrored++) {
        sw_contours list = { 0 };
        sw_repeats found = { 0 };
        add_leaf(&list, 200, 200, 0.2, false, 3, false);
        add_leaf(&list, 900, 400, 1.4, is_mirrored, 3, false);
        add_leaf(&list, 500, 900, -2.0, false, 3, false);
        assert_int_equal(sw_repeats_find(&list, 0.3, 20, &found, NULL), SW_OK);
        assert_int_equal(found.n, 2); /* veins are smaller than that */
        assert_int_equal(sw_repeats_group(&list, 0.3, &found, NULL), SW_OK);
        assert_int_equal(found.n, 8);
        assert_int_equal(found.n_groups, 2);
        double saved = 0;
        for (size_t i = 0; i < found.n; i++) {
            const sw_repeat *const r = &found.at[i];
            assert_int_equal(r->group, 1 + i / 4);
            assert_true(r->original < 4 && r->copy % 4 == r->original);
            assert_int_equal(r->is_mirrored, is_mirrored && r->copy < 8);
            assert_true(r->off_mm < 0.05);
            assert_true(r->turn_rad == found.at[i / 4 * 4].turn_rad && r->at.x_mm == found.at[i / 4 * 4].at.x_mm);
            saved += sw_contour_measure_one(&list.at[r->copy]).length_mm;
        }
        assert_true(fabs(saved - found.saved_cut_mm) < 1e-9);
        sw_repeats_free(&found);
        sw_contours_free(&list);
    }
}

/* Veins that are all alike are copies of one another; with the leaf they move at once, and each is cut in the first. */
static void a_group_takes_its_members_from_single_repeats(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    sw_repeats found = { 0 };
    add_leaf(&list, 200, 200, 0, false, 3, true);
    add_leaf(&list, 900, 400, 0.5, false, 3, true);
    assert_int_equal(sw_repeats_find(&list, 0.3, 0, &found, NULL), SW_OK);
    assert_int_equal(found.n, 6); /* the second leaf, and five veins of the first vein */
    assert_int_equal(sw_repeats_group(&list, 0.3, &found, NULL), SW_OK);
    assert_int_equal(found.n_groups, 1);
    assert_int_equal(found.n, 4);
    for (size_t i = 0; i < found.n; i++) assert_int_equal(found.at[i].copy, found.at[i].original + 4);
    sw_repeats_free(&found);
    sw_contours_free(&list);
}

static void a_vein_out_of_place_stays_out_of_the_group(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    sw_repeats found = { 0 };
    add_leaf(&list, 200, 200, 0, false, 2, false);
    add_leaf(&list, 900, 400, 0, false, 2, false);
    for (size_t i = 0; i < list.at[5].n_segs; i++) list.at[5].segs[i].end.x_mm += 1.5;
    list.at[5].start.x_mm += 1.5;
    assert_int_equal(sw_repeats_find(&list, 0.3, 20, &found, NULL), SW_OK);
    assert_int_equal(sw_repeats_group(&list, 0.3, &found, NULL), SW_OK);
    assert_int_equal(found.n, 2);
    assert_int_equal(found.at[0].copy + found.at[1].copy, 3 + 4);
    sw_repeats_free(&found);
    sw_contours_free(&list);
}

/* A wall of fish, each with a vein; every tenth vein is a little out of place. */
static void a_pattern_of_many_is_one_group(void **state)
{
    (void)state;
    enum { COLUMNS = 32, ROWS = 12 };
    sw_contours list = { 0 };
    sw_repeats found = { 0 };
    size_t n_off = 0;
    for (int k = 0; k < COLUMNS * ROWS; k++) {
        const double x = 120.0 * (k % COLUMNS), y = 80.0 * (k / COLUMNS), off = k % 10 == 9 ? 2.0 : 0.0;
        add_leaf(&list, x, y, 0, false, 1, true);
        sw_contours vein = { .at = &list.at[list.n - 1], .n = 1 };
        sw_contours_shift(&vein, off, 0);
        n_off += off > 0;
    }
    assert_int_equal(sw_repeats_find(&list, 0.3, 20, &found, NULL), SW_OK);
    assert_int_equal(found.n, COLUMNS * ROWS - 1); /* veins are smaller than that */
    assert_int_equal(sw_repeats_group(&list, 0.3, &found, NULL), SW_OK);
    size_t n_first = 0, n_moved = 0;
    for (size_t i = 0; i < found.n; i++) {
        const sw_repeat *const r = &found.at[i];
        n_first += r->group == 1;
        n_moved += r->off_mm > 0.01 && r->group == 1;
    }
    assert_true(n_first >= COLUMNS * ROWS - n_off); /* half of all, less where one of two veins is out of place */
    assert_int_equal(n_moved, 0);
    sw_repeats_free(&found);
    sw_contours_free(&list);
}

static void groups_survive_every_failing_allocation(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    add_leaf(&list, 200, 200, 0, false, 2, false);
    add_leaf(&list, 900, 400, 0.4, true, 2, false);
    sw_status st = SW_NO_MEMORY;
    for (size_t nth = 1; st != SW_OK; nth++) {
        sw_repeats found = { 0 };
        assert_int_equal(sw_repeats_find(&list, 0.3, 20, &found, NULL), SW_OK);
        const size_t n = found.n;
        sw_alloc_fail_at(nth);
        st = sw_repeats_group(&list, 0.3, &found, NULL);
        sw_alloc_fail_at(0);
        assert_true(st == SW_OK ? found.n_groups == 1 : st == SW_NO_MEMORY && found.n == n && found.n_groups == 0);
        sw_repeats_free(&found);
    }
    sw_contours_free(&list);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(turned_and_mirrored_copies_are_found),
        cmocka_unit_test(what_differs_by_more_than_the_tolerance_is_no_copy),
        cmocka_unit_test(copies_of_a_copy_name_the_first),
        cmocka_unit_test(circles_and_squares_match_at_any_turn),
        cmocka_unit_test(a_leaf_repeats_with_its_veins),
        cmocka_unit_test(a_group_takes_its_members_from_single_repeats),
        cmocka_unit_test(a_vein_out_of_place_stays_out_of_the_group),
        cmocka_unit_test(a_pattern_of_many_is_one_group),
        cmocka_unit_test(groups_survive_every_failing_allocation),
        cmocka_unit_test(odd_input_is_fine_and_failures_are_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
