/* Contours moved sideways. */
#include "support.h"
#include <math.h>

#include "proof/proof.h"

#define PI 3.14159265358979323846
#define KAPPA 0.5522847498307936

static sw_pt_mm at(double x, double y) { return (sw_pt_mm){ x, y }; }

static void add_ellipse(sw_contours *list, double cx, double cy, double a, double b)
{
    sw_contour c = { .start = at(cx + a, cy) };
    for (int k = 0; k < 4; k++) {
        const double u = cos(PI / 2 * k), v = sin(PI / 2 * k), s = cos(PI / 2 * (k + 1)), t = sin(PI / 2 * (k + 1));
        assert_true(sw_contour_add_cubic(&c, at(cx + a * (u - KAPPA * v), cy + b * (v + KAPPA * u)),
                                         at(cx + a * (s + KAPPA * t), cy + b * (t - KAPPA * s)),
                                         k == 3 ? c.start : at(cx + a * s, cy + b * t)));
    }
    assert_int_equal(sw_contours_take(list, &c, NULL), SW_OK);
}

static void add_polygon(sw_contours *list, const double *xy, size_t n)
{
    sw_contour c = { .start = at(xy[0], xy[1]) };
    for (size_t k = 1; k <= n; k++) assert_true(sw_contour_add_line(&c, k == n ? c.start : at(xy[2 * k], xy[2 * k + 1])));
    for (size_t k = 0; k < n; k++) c.segs[k].is_corner = true;
    assert_int_equal(sw_contours_take(list, &c, NULL), SW_OK);
}

static void add_regular(sw_contours *list, size_t n, double r, double inner, double turn)
{
    double xy[64];
    for (size_t k = 0; k < n; k++) {
        const double angle = turn + 2 * PI * (double)k / (double)n, s = k % 2 == 0 ? r : inner;
        xy[2 * k] = 50 + s * cos(angle);
        xy[2 * k + 1] = 50 + s * sin(angle);
    }
    add_polygon(list, xy, n);
}

static sw_contours offset(const sw_contours *list, double delta, size_t n_held_wanted)
{
    sw_contours out = { 0 };
    sw_note note = { 0 };
    size_t n_held = SIZE_MAX;
    assert_ok(sw_contours_offset(list, delta, 0.002 * fabs(delta), &n_held, &out, &note), note);
    assert_int_equal(n_held, n_held_wanted);
    assert_int_equal(out.n, list->n);
    for (size_t i = 0; i < out.n; i++) {
        const sw_contour *const c = &out.at[i];
        const sw_pt_mm end = c->segs[c->n_segs - 1].end;
        assert_true(end.x_mm == c->start.x_mm && end.y_mm == c->start.y_mm);
    }
    return out;
}

static void convex_shapes_grow_by_steiners_formula(void **state)
{
    (void)state;
    for (size_t shape = 0; shape < 9; shape++) {
        sw_contours list = { 0 };
        if (shape == 0) add_ellipse(&list, 50, 50, 20, 20);
        else if (shape == 1) add_ellipse(&list, 50, 50, 30, 12);
        else if (shape == 2) add_ellipse(&list, 50, 50, 30, 6);
        else add_regular(&list, shape, 25, 25, 0.3 * (double)shape);
        const sw_contour_measure before = sw_contours_measure(&list);
        static const double deltas[] = { 0.05, 0.2, 1.5, 6.0 };
        for (size_t k = 0; k < SW_ARRAY_LEN(deltas); k++) {
            const double d = deltas[k];
            sw_contours out = offset(&list, d, 0);
            const double want = before.area_mm2 + before.length_mm * d + PI * d * d;
            const double got = sw_contours_measure(&out).area_mm2;
            assert_true(fabs(got - want) <= 0.0005 * want);
            /* the change itself, not only the sum, is right */
            assert_true(fabs((got - before.area_mm2) - (want - before.area_mm2)) <= 0.005 * (want - before.area_mm2));
            sw_contours_free(&out);
        }
        sw_contours_free(&list);
    }
}

static void polygons_shrink_by_their_corners(void **state)
{
    (void)state;
    for (size_t n = 3; n < 9; n++) {
        sw_contours list = { 0 };
        add_regular(&list, n, 25, 25, 0.2);
        const sw_contour_measure before = sw_contours_measure(&list);
        for (double d = 0.05; d < 8; d *= 3) {
            sw_contours out = offset(&list, -d, 0);
            const double want = before.area_mm2 - before.length_mm * d + (double)n * tan(PI / (double)n) * d * d;
            assert_true(fabs(sw_contours_measure(&out).area_mm2 - want) < 1e-3);
            assert_int_equal(sw_contours_measure(&out).n_nodes, n); /* trimmed corners stay corners, no node more */
            sw_contours_free(&out);
        }
        sw_contours_free(&list);
    }
}

static void a_star_is_trimmed_inside_and_rounded_outside(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    add_regular(&list, 10, 40, 16, 0.1);
    sw_contours out = offset(&list, -1, 0); /* five tips trimmed, five notches rounded */
    assert_int_equal(sw_contours_measure(&out).n_nodes, 15);
    sw_contours_free(&out);
    out = offset(&list, 1, 0);
    assert_in_range(sw_contours_measure(&out).n_nodes, 15, 20); /* a sharp tip may take two arcs */
    sw_contours_free(&out);
    sw_contours_free(&list);
}

static void a_ring_keeps_its_island(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    add_ellipse(&list, 50, 50, 30, 30);
    add_ellipse(&list, 50, 50, 20, 20);
    /* turn the inner one round */
    sw_contour *const c = &list.at[1];
    for (size_t a = 0, b = 3; a < b; a++, b--) {
        const sw_seg seg = c->segs[a];
        c->segs[a] = c->segs[b];
        c->segs[b] = seg;
    }
    for (size_t k = 0; k < 4; k++) {
        const sw_pt_mm c1 = c->segs[k].c1;
        c->segs[k].c1 = c->segs[k].c2;
        c->segs[k].c2 = c1;
        c->segs[k].end = k < 3 ? c->segs[k + 1].end : c->start;
    }
    assert_true(fabs(sw_contours_measure(&list).area_mm2 - PI * 500) < 1);
    sw_contours out = offset(&list, -2, 0);
    assert_true(fabs(sw_contours_measure(&out).area_mm2 - PI * (28 * 28 - 22 * 22)) < 1);
    sw_contours_free(&out);
    out = offset(&list, -6, 2); /* no room: both are held back, and still one lies in the other */
    assert_true(sw_contour_measure_one(&out.at[0]).area_mm2 > -sw_contour_measure_one(&out.at[1]).area_mm2);
    sw_contours_free(&out);
    sw_contours_free(&list);
}

static void an_opening_too_small_is_held_back(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    add_polygon(&list, (const double[]){ 10, 10, 13, 10, 13, 40, 10, 40 }, 4);
    sw_contours out = offset(&list, -2, 1);
    assert_true(sw_contours_measure(&out).area_mm2 > 0);
    sw_contours_free(&out);
    sw_contours_free(&list);
}

static bool widen_box(void *ctx, sw_pt_mm p)
{
    sw_contour_measure *const box = ctx; /* of what lies left of x 30 */
    if (p.x_mm > 30) return true;
    box->min = at(fmin(box->min.x_mm, p.x_mm), fmin(box->min.y_mm, p.y_mm));
    box->max = at(fmax(box->max.x_mm, p.x_mm), fmax(box->max.y_mm, p.y_mm));
    return true;
}

/* A tip that leaves a neck of 0.3 mm in a long opening: nothing else is held back, and beside it the edge bends gently. */
static void room_that_lacks_in_one_place_holds_back_that_place(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    add_polygon(&list, (const double[]){ 0, 0, 45, 0, 50, 9.7, 55, 0, 100, 0, 100, 10, 0, 10 }, 7);
    const double area = sw_contours_measure(&list).area_mm2;
    sw_contours out = offset(&list, -0.5, 1);
    sw_contour_measure box = { .min = at(1e9, 1e9), .max = at(-1e9, -1e9) };
    (void)sw_contour_flatten(&out.at[0], 0.002, widen_box, &box);
    assert_true(fabs(box.min.x_mm - 0.5) < 0.02 && fabs(box.min.y_mm - 0.5) < 0.02 && fabs(box.max.y_mm - 9.5) < 0.02);
    const double lost = area - sw_contours_measure(&out).area_mm2, all = 0.5 * (2 * 100 + 2 * 10 - 10 + 2 * hypot(5, 9.7));
    assert_true(lost < all && lost > 0.9 * all);
    sw_contours_free(&out);
    sw_contours_free(&list);
}

/* Two openings with 0.3 mm of web between a tip and a long edge: widened everywhere but there. */
static void a_web_that_would_go_holds_back_its_two_sides_there(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    add_polygon(&list, (const double[]){ 0, 0, 100, 0, 100, 10, 0, 10 }, 4);
    add_polygon(&list, (const double[]){ 0, 20, 45, 20, 50, 10.3, 55, 20, 100, 20, 100, 30, 0, 30 }, 7);
    sw_contours out = offset(&list, 0.5, 2);
    sw_contour_measure box = { .min = at(1e9, 1e9), .max = at(-1e9, -1e9) };
    (void)sw_contour_flatten(&out.at[0], 0.002, widen_box, &box);
    assert_true(fabs(box.min.x_mm + 0.5) < 0.02 && fabs(box.max.y_mm - 10.5) < 0.02);
    box = (sw_contour_measure){ .min = at(1e9, 1e9), .max = at(-1e9, -1e9) };
    (void)sw_contour_flatten(&out.at[1], 0.002, widen_box, &box);
    assert_true(fabs(box.min.y_mm - 19.5) < 0.02 && fabs(box.max.y_mm - 30.5) < 0.02);
    assert_true(sw_contour_measure_one(&out.at[0]).max.y_mm < sw_contour_measure_one(&out.at[1]).min.y_mm + 0.5);
    sw_contours_free(&out);
    sw_contours_free(&list);
}

/* Cells drawn as squares of 1 to 4 pixels: hooks, steps, corner touches, webs and openings with hardly any room. */
static sw_contours noise(uint64_t *seed, double *width_mm, double *height_mm)
{
    const size_t scale = 1 + test_random(seed) % 4, width = 1 + test_random(seed) % 14, height = 1 + test_random(seed) % 14;
    const uint64_t share = 10 + test_random(seed) % 80;
    sw_mask mask = { 0 };
    sw_contours list = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_mask_make(width * scale, height * scale, &mask, &note), note);
    for (size_t cell = 0; cell < width * height; cell++) {
        const bool is_open = test_random(seed) % 100 < share;
        for (size_t k = 0; k < scale * scale; k++)
            mask.at[(cell / width * scale + k / scale) * mask.width_px + cell % width * scale + k % scale] = is_open;
    }
    const sw_grid grid = { mask.width_px, mask.height_px, 2.0 };
    const sw_trace_opts opts = { .tolerance_mm = 0.1 + (double)(test_random(seed) % 40) / 100, .min_opening_mm = 1, .min_web_mm = 1 };
    assert_ok(sw_contours_trace(&mask, &grid, &opts, &list, &note), note);
    *width_mm = (double)mask.width_px / 2;
    *height_mm = (double)mask.height_px / 2;
    sw_mask_free(&mask);
    return list;
}

/* The proof's own count, on the coordinates that would be written. */
static size_t count_crossings(const sw_contours *list, double width_mm, double height_mm)
{
    const double frame_mm = 8;
    sw_panel panel = { .pass = 1, .width_mm = width_mm + 2 * frame_mm, .height_mm = height_mm + 2 * frame_mm };
    sw_proof_panel proof = { 0 };
    sw_note note = { 0 };
    const double w = panel.width_mm, h = panel.height_mm;
    sw_contours outline = { 0 };
    add_polygon(&outline, (const double[]){ 0, 0, w, 0, w, h, 0, h }, 4);
    panel.outline = outline.at[0];
    assert_ok(sw_contours_copy(list, &panel.openings, &note), note);
    sw_contours_shift(&panel.openings, frame_mm, frame_mm);
    sw_contours_round(&panel.openings, 0.001);
    assert_ok(sw_proof_panel_make(&panel, &(sw_proof_opts){ .min_opening_mm = 1, .min_web_mm = 1, .px_per_mm = 4 }, &proof, &note), note);
    const size_t n = proof.n_crossings + proof.n_open_contours;
    sw_free(proof.faults);
    sw_contours_free(&panel.openings);
    sw_contours_free(&outline); /* panel.outline is in it */
    return n;
}

static void noise_never_crosses_whichever_way_it_moves(void **state)
{
    (void)state;
    for (uint64_t k = 0; k < 400; k++) {
        uint64_t seed = k;
        double width_mm, height_mm;
        sw_contours list = noise(&seed, &width_mm, &height_mm), out = { 0 };
        sw_note note = { 0 };
        const double delta = ((double)(test_random(&seed) % 6001) / 1000 - 3) * (k % 2 == 0 ? 0.2 : 1);
        assert_ok(sw_contours_offset(&list, delta, 0.02, NULL, &out, &note), note);
        assert_int_equal(out.n, list.n);
        const size_t n = count_crossings(&out, width_mm, height_mm);
        if (n > 0) print_error("seed %d, moved by %g: %zu crossings\n", (int)k, delta, n);
        assert_int_equal(n, 0);
        sw_contours_free(&out);
        sw_contours_free(&list);
    }
}

static void bad_kerfs_are_refused(void **state)
{
    (void)state;
    sw_contours list = { 0 }, out = { 0 };
    assert_int_equal(sw_contours_offset(&list, NAN, 0.01, NULL, &out, NULL), SW_BAD_LENGTH);
    assert_int_equal(sw_contours_offset(&list, 1, 0, NULL, &out, NULL), SW_BAD_LENGTH);
    assert_int_equal(sw_contours_offset(&list, 1, 0.1, NULL, &out, NULL), SW_OK);
    assert_int_equal(out.n, 0);
}

static void every_failing_allocation_is_reported(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    add_regular(&list, 10, 40, 16, 0.1);
    for (size_t nth = 1;; nth++) {
        sw_contours out = { 0 };
        sw_note note = { 0 };
        const size_t live = sw_alloc_fail_at(nth);
        const sw_status st = sw_contours_offset(&list, -1, 0.01, NULL, &out, &note);
        const bool is_done = sw_alloc_count() < nth;
        sw_contours_free(&out);
        assert_int_equal(sw_alloc_fail_at(0), live);
        assert_int_equal(st, is_done ? SW_OK : SW_NO_MEMORY);
        if (is_done) break;
        assert_true(note.text[0] != '\0');
    }
    sw_contours_free(&list);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(convex_shapes_grow_by_steiners_formula),
        cmocka_unit_test(polygons_shrink_by_their_corners),
        cmocka_unit_test(a_star_is_trimmed_inside_and_rounded_outside),
        cmocka_unit_test(a_ring_keeps_its_island),
        cmocka_unit_test(an_opening_too_small_is_held_back),
        cmocka_unit_test(room_that_lacks_in_one_place_holds_back_that_place),
        cmocka_unit_test(a_web_that_would_go_holds_back_its_two_sides_there),
        cmocka_unit_test(noise_never_crosses_whichever_way_it_moves),
        cmocka_unit_test(bad_kerfs_are_refused),
        cmocka_unit_test(every_failing_allocation_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
