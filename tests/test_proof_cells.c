/* Stretches of chords and their cells: what the search for narrow places leaves out, and that it leaves nothing else out. */
#include <math.h>

#include "proof/cells.h"
#include "proof/chord.h"
#include "proof_support.h"
#include "support.h"

static double random_ratio(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (double)(*seed >> 8) / 16777216.0;
}

/* A star of straight or curved edges; some wind round themselves. */
static void add_star(sw_contours *list, uint32_t *seed)
{
    const size_t n = 3 + (size_t)(random_ratio(seed) * 12.0);
    const double cx = 40 + 120 * random_ratio(seed), cy = 40 + 80 * random_ratio(seed), turns = random_ratio(seed) < 0.2 ? 2.0 : 1.0;
    sw_contour contour = { 0 };
    for (size_t i = 0; i <= n; i++) {
        const double at = 6.283185307 * turns * (double)(i % n) / (double)n, r = 3 + 30 * random_ratio(seed);
        const sw_pt_mm p = { cx + r * cos(at), cy + r * sin(at) }, from = contour.n_segs > 0 ? contour.segs[contour.n_segs - 1].end : contour.start;
        const sw_pt_mm c1 = { from.x_mm + 20 * random_ratio(seed) - 10, from.y_mm + 20 * random_ratio(seed) - 10 };
        if (i == 0) contour.start = p;
        else if (i == n) must(sw_contour_add_line(&contour, contour.start));
        else if (random_ratio(seed) < 0.5) must(sw_contour_add_line(&contour, p));
        else must(sw_contour_add_cubic(&contour, c1, random_ratio(seed) < 0.1 ? p : (sw_pt_mm){ p.x_mm + 5, p.y_mm - 3 }, p));
    }
    must(sw_contours_take(list, &contour, NULL) == SW_OK);
}

static sw_proof_shape random_shape(uint32_t *seed)
{
    sw_panel panel = blank_panel(200, 160);
    sw_proof_shape shape = { 0 };
    for (size_t i = 0; i < 6; i++) add_star(&panel.openings, seed);
    add_circle(&panel.openings, 100, 80, 1 + 50 * random_ratio(seed));
    must(sw_proof_shape_make(&panel, &shape, NULL) == SW_OK);
    free_panel(&panel);
    return shape;
}

static void every_chord_is_of_one_stretch_and_in_its_box(void **state)
{
    (void)state;
    uint32_t seed = 20240701;
    for (int round = 0; round < 20; round++) {
        sw_proof_shape shape = random_shape(&seed);
        sw_proof_cells cells = { 0 };
        size_t next = 0;
        must(sw_proof_cells_make(&shape, &cells, NULL) == SW_OK);
        for (size_t a = 0; a < cells.n_stretches; a++) {
            const sw_proof_stretch *const s = &cells.stretches[a];
            assert_int_equal(s->first, next);
            assert_true(s->n > 0 && s->n <= SW_PROOF_STRETCH_MOST);
            assert_true(a >= cells.ring_first[s->ring] && a < cells.ring_first[s->ring + 1]);
            for (size_t i = next; i < next + s->n; i++) {
                const sw_pt_mm ends[] = { shape.at[i], shape.at[sw_proof_next(&shape, i)] };
                assert_int_equal(shape.ring_of[i], s->ring);
                for (size_t e = 0; e < 2; e++)
                    assert_true(ends[e].x_mm >= s->lo.x_mm && ends[e].x_mm <= s->hi.x_mm && ends[e].y_mm >= s->lo.y_mm && ends[e].y_mm <= s->hi.y_mm);
            }
            next += s->n;
        }
        assert_int_equal(next, shape.n);
        assert_int_equal(cells.first[cells.n_x * cells.n_y], cells.n_stretches);
        sw_proof_cells_free(&cells);
        sw_proof_shape_free(&shape);
    }
}

static bool is_in_block(const sw_proof_cells *cells, const sw_proof_block *block, size_t a)
{
    for (size_t y = block->y0; y <= block->y1; y++)
        for (size_t e = cells->first[y * cells->n_x + block->x0]; e < cells->first[y * cells->n_x + block->x1 + 1]; e++)
            if (cells->stretch[e] == a) return true;
    return false;
}

static void all_that_is_near_is_found(void **state)
{
    (void)state;
    uint32_t seed = 7;
    for (int round = 0; round < 10; round++) {
        sw_proof_shape shape = random_shape(&seed);
        sw_proof_cells cells = { 0 };
        must(sw_proof_cells_make(&shape, &cells, NULL) == SW_OK);
        for (int k = 0; k < 20; k++) {
            const sw_pt_mm p = { 220 * random_ratio(&seed) - 10, 180 * random_ratio(&seed) - 10 };
            const double reach_mm = 20 * random_ratio(&seed);
            const sw_proof_block block = sw_proof_cells_around(&cells, p, p, reach_mm);
            for (size_t a = 0; a < cells.n_stretches; a++)
                for (size_t i = cells.stretches[a].first; i < cells.stretches[a].first + cells.stretches[a].n; i++)
                    if (sw_proof_distance_mm(&shape, i, p) <= reach_mm) assert_true(is_in_block(&cells, &block, a));
        }
        sw_proof_cells_free(&cells);
        sw_proof_shape_free(&shape);
    }
}

/* Two chords of stretches that are calm beside each other. */
static void assert_calm(const sw_proof_shape *shape, size_t i, size_t k)
{
    const double apart_mm = sw_proof_nearest(shape, i, k).apart_mm;
    const double ring_mm = shape->rings[shape->ring_of[i]].length_mm, forth = shape->along_mm[k] - shape->along_mm[sw_proof_next(shape, i)];
    const double way = i == k ? 0.0 : fmod(forth + ring_mm, ring_mm);
    if (sw_proof_next(shape, i) == k || way > 0.5 * ring_mm) return; /* seen from k */
    assert_false(sw_proof_pair_meets(shape, i, k));
    assert_true(way <= apart_mm / SW_PROOF_CALM_RATIO + 1e-9);
}

static void what_is_calm_neither_meets_nor_comes_near(void **state)
{
    (void)state;
    uint32_t seed = 99;
    size_t n_calm = 0, n_other = 0;
    for (int round = 0; round < 40; round++) {
        sw_proof_shape shape = random_shape(&seed);
        sw_proof_cells cells = { 0 };
        must(sw_proof_cells_make(&shape, &cells, NULL) == SW_OK);
        for (size_t a = 0; a < cells.n_stretches; a++) {
            for (size_t b = 0; b < cells.n_stretches; b++) {
                const sw_proof_stretch *const s = &cells.stretches[a], *const t = &cells.stretches[b];
                assert_true(sw_proof_are_calm(&cells, a, b) == sw_proof_are_calm(&cells, b, a));
                n_other += !sw_proof_are_calm(&cells, a, b) && s->ring == t->ring;
                if (!sw_proof_are_calm(&cells, a, b)) continue;
                n_calm++;
                for (size_t i = s->first; i < s->first + s->n; i++)
                    for (size_t k = t->first; k < t->first + t->n; k++)
                        if (i != k) assert_calm(&shape, i, k);
            }
        }
        sw_proof_cells_free(&cells);
        sw_proof_shape_free(&shape);
    }
    assert_true(n_calm > 10000 && n_other > 10000);
}

/* Crossings at the same height, far apart: each is to be mended. */
static void every_crossing_has_a_place(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(300, 80);
    sw_proof_panel out = { 0 };
    size_t n_left = 0, n_right = 0;
    add_box(&panel.openings, 30, 20, 30, 30);
    add_turned_box(&panel.openings, 60, 35, 20, 20, 0.3);
    add_box(&panel.openings, 230, 20, 30, 30);
    add_turned_box(&panel.openings, 260, 35, 20, 20, 0.3);
    must(sw_proof_panel_make(&panel, &(sw_proof_opts){ .min_opening_mm = 3, .min_web_mm = 5 }, &out, NULL) == SW_OK);
    assert_int_equal(out.n_crossings, 4);
    for (size_t f = 0; f < out.n_faults; f++) {
        n_left += out.faults[f].kind == SW_FAULT_CROSSING && out.faults[f].at.x_mm < 150;
        n_right += out.faults[f].kind == SW_FAULT_CROSSING && out.faults[f].at.x_mm > 150;
    }
    assert_true(n_left > 0 && n_left == n_right);
    sw_free(out.faults);
    free_panel(&panel);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_chord_is_of_one_stretch_and_in_its_box),
        cmocka_unit_test(all_that_is_near_is_found),
        cmocka_unit_test(what_is_calm_neither_meets_nor_comes_near),
        cmocka_unit_test(every_crossing_has_a_place),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
