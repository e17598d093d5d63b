/* What tells at once that openings are no copies, and the nearest point of an edge. */
#include "support.h"
#include <math.h>

#include "layout/support.h"

#define PI 3.14159265358979323846

static double from_to(uint64_t *seed, double low, double high)
{
    return low + (high - low) * (double)(test_random(seed) % 1000001) / 1e6;
}

/* A stone: a circle with waves. */
static edge stone(uint64_t *seed, double rough)
{
    edge e = { 0 };
    double high[6], phase[6];
    for (int k = 0; k < 6; k++) {
        high[k] = from_to(seed, -rough, rough);
        phase[k] = from_to(seed, 0, 2 * PI);
    }
    e.n = e.cap = 40 + test_random(seed) % 80;
    e.at = sw_alloc_array(e.n, sizeof *e.at);
    assert_non_null(e.at);
    for (size_t i = 0; i < e.n; i++) {
        const double a = 2 * PI * (double)i / (double)e.n;
        double r = 40;
        for (int k = 0; k < 6; k++) r += 40 * high[k] * cos((k + 2) * a + phase[k]);
        e.at[i] = (sw_pt_mm){ r * cos(a), r * sin(a) };
    }
    return e;
}

/* Flipped, turned and shifted, each corner moved by off_mm at most. */
static edge moved(const edge *from, uint64_t *seed, bool is_mirrored, double off_mm)
{
    edge e = { 0 };
    const double turn = from_to(seed, 0, 2 * PI), c = cos(turn), s = sin(turn), dx = from_to(seed, -99, 99);
    e.n = e.cap = from->n;
    e.at = sw_alloc_array(e.n, sizeof *e.at);
    assert_non_null(e.at);
    for (size_t i = 0; i < e.n; i++) {
        const sw_pt_mm p = from->at[is_mirrored ? e.n - 1 - i : i];
        const double x = is_mirrored ? -p.x_mm : p.x_mm, way = from_to(seed, 0, 2 * PI), off = from_to(seed, 0, off_mm);
        e.at[i] = (sw_pt_mm){ c * x - s * p.y_mm + dx + off * cos(way), s * x + c * p.y_mm + off * sin(way) };
    }
    return e;
}

static support support_of(const edge *e)
{
    support s = { 0 };
    assert_true(support_fill(e, &s));
    return s;
}

static void a_circle_is_all_mean_and_a_square_has_every_fourth(void **state)
{
    (void)state;
    sw_pt_mm round[360], square[4] = { { 5, 5 }, { 9, 5 }, { 9, 9 }, { 5, 9 } };
    for (int i = 0; i < 360; i++) round[i] = (sw_pt_mm){ 7 + 3 * cos(i * PI / 180), 3 * sin(i * PI / 180) };
    const support c = support_of(&(edge){ .at = round, .n = 360 }), s = support_of(&(edge){ .at = square, .n = 4 });
    assert_true(fabs(c.mean - 3) < 1e-3);
    assert_true(fabs(s.mean - 8 / PI) < 1e-12);
    for (unsigned k = 0; k < SUPPORT_N; k++) {
        assert_true(c.size[k] < 1e-9);
        const double order = k + SUPPORT_LEAST, wanted = (k + SUPPORT_LEAST) % 4 == 0 ? 16 / (2 * PI * (order * order - 1)) : 0;
        assert_true(fabs(s.size[k] - wanted) < 1e-12);
    }
}

static void no_copy_within_the_tolerance_is_turned_away(void **state)
{
    (void)state;
    uint64_t seed = 21;
    for (int round = 0; round < 600; round++) {
        const bool is_mirrored = round % 2 != 0;
        edge a = stone(&seed, 0.05 * (round % 5)), b = moved(&a, &seed, is_mirrored, 1.0);
        const support p = support_of(&a), q = support_of(&b);
        assert_true(support_may_match(&p, &q, 1.0));
        assert_true(support_may_turn(&p, &q, is_mirrored, 1.0));
        edge_free(&a);
        edge_free(&b);
    }
}

static void other_stones_and_the_wrong_side_are_turned_away(void **state)
{
    (void)state;
    uint64_t seed = 22;
    int n_matched = 0, n_turned = 0, n_flipped = 0;
    for (int round = 0; round < 200; round++) {
        edge a = stone(&seed, 0.15), b = stone(&seed, 0.15), c = moved(&a, &seed, true, 0.1);
        const support p = support_of(&a), q = support_of(&b), r = support_of(&c);
        n_matched += support_may_match(&p, &q, 1.0);
        n_turned += support_may_turn(&p, &q, false, 1.0) || support_may_turn(&p, &q, true, 1.0);
        n_flipped += support_may_turn(&p, &r, false, 1.0);
        edge_free(&a);
        edge_free(&b);
        edge_free(&c);
    }
    assert_true(n_matched < 10 && n_turned < 5 && n_flipped < 40);
}

static void the_nearest_point_is_the_nearest_of_all_sides(void **state)
{
    (void)state;
    uint64_t seed = 23;
    for (int round = 0; round < 50; round++) {
        edge e = stone(&seed, 0.2);
        e.at[3] = e.at[2]; /* a side without length */
        size_t stretch = test_random(&seed) % 9;
        assert_true(edge_box(&e));
        for (int k = 0; k < 100; k++) {
            const sw_pt_mm p = { from_to(&seed, -60, 60), from_to(&seed, -60, 60) };
            double least = INFINITY, away_sq;
            for (size_t i = 0; i < e.n; i++) {
                for (int t = 0; t <= 200; t++) {
                    const sw_pt_mm q = edge_mix(e.at[i], edge_corner(&e, i + 1), t / 200.0);
                    least = sw_min(least, edge_apart(p, q));
                }
            }
            const sw_pt_mm found = edge_nearest(&e, p, &stretch, &away_sq);
            assert_true(fabs(edge_apart(p, found) - sqrt(away_sq)) < 1e-9);
            assert_true(sqrt(away_sq) <= least + 1e-9 && sqrt(away_sq) > least - 0.05);
        }
        edge_free(&e);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_circle_is_all_mean_and_a_square_has_every_fourth),
        cmocka_unit_test(no_copy_within_the_tolerance_is_turned_away),
        cmocka_unit_test(other_stones_and_the_wrong_side_are_turned_away),
        cmocka_unit_test(the_nearest_point_is_the_nearest_of_all_sides),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
