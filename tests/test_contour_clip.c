/* Clipping of curves to rectangles. */
#include "support.h"
#include <math.h>

#include "contour/contour.h"

#define PI 3.14159265358979323846
#define KAPPA 0.5522847498307936

static sw_pt_mm at(double x, double y) { return (sw_pt_mm){ x, y }; }

/* Quarter arcs from the angle given, so that nodes need not lie on the axes. */
static void add_circle(sw_contours *list, double cx, double cy, double r, double angle, bool is_hole)
{
    sw_contour c = { .start = at(cx + r * cos(angle), cy + r * sin(angle)) };
    for (int k = 0; k < 4; k++) {
        const double turn = is_hole ? -PI / 2 : PI / 2, a = angle + turn * k, b = a + turn;
        const double h = (is_hole ? -KAPPA : KAPPA) * r;
        const sw_pt_mm end = k == 3 ? c.start : at(cx + r * cos(b), cy + r * sin(b));
        assert_true(sw_contour_add_cubic(&c, at(cx + r * cos(a) - h * sin(a), cy + r * sin(a) + h * cos(a)),
                                         at(cx + r * cos(b) + h * sin(b), cy + r * sin(b) - h * cos(b)), end));
    }
    assert_int_equal(sw_contours_take(list, &c, NULL), SW_OK);
}

static void add_polygon(sw_contours *list, const double *xy, size_t n)
{
    sw_contour c = { .start = at(xy[0], xy[1]) };
    for (size_t k = 1; k < n; k++) assert_true(sw_contour_add_line(&c, at(xy[2 * k], xy[2 * k + 1])));
    assert_true(sw_contour_add_line(&c, c.start));
    assert_int_equal(sw_contours_take(list, &c, NULL), SW_OK);
}

static sw_contours clip(const sw_contours *list, double x, double y, double w, double h)
{
    sw_contours out = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_contours_clip(list, (sw_rect_mm){ x, y, w, h }, &out, &note), note);
    for (size_t i = 0; i < out.n; i++) {
        const sw_contour *const c = &out.at[i];
        const sw_pt_mm end = c->segs[c->n_segs - 1].end;
        assert_true(end.x_mm == c->start.x_mm && end.y_mm == c->start.y_mm);
        const sw_contour_measure m = sw_contour_measure_one(c);
        assert_true(m.min.x_mm >= x - 1e-6 && m.max.x_mm <= x + w + 1e-6);
        assert_true(m.min.y_mm >= y - 1e-6 && m.max.y_mm <= y + h + 1e-6);
    }
    return out;
}

static void a_circle_cut_through_its_centre_leaves_half(void **state)
{
    (void)state;
    for (double angle = 0; angle < 1.6; angle += 0.13) {
        sw_contours list = { 0 };
        add_circle(&list, 50, 50, 20, angle, false);
        const double area = sw_contours_measure(&list).area_mm2;
        sw_contours out = clip(&list, 0, 0, 50, 100);
        assert_int_equal(out.n, 1);
        assert_true(fabs(sw_contours_measure(&out).area_mm2 - area / 2) < 1e-3 * area);
        assert_true(sw_contours_measure(&out).max.x_mm == 50.0);
        assert_in_range(out.at[0].n_segs, 3, 4); /* the line, and no more curves than before */
        sw_contours_free(&out);
        sw_contours_free(&list);
    }
}

static void a_ring_cut_through_is_one_piece_a_side(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    add_circle(&list, 50, 50, 30, 0.3, false);
    add_circle(&list, 50, 50, 10, 0.7, true);
    sw_contours out = clip(&list, 0, 0, 50, 100);
    assert_int_equal(out.n, 1);
    assert_true(fabs(sw_contours_measure(&out).area_mm2 - PI * 800 / 2) < 1);
    sw_contours_free(&out);
    out = clip(&list, 0, 0, 55, 100);
    assert_int_equal(out.n, 1);
    sw_contours_free(&out);
    out = clip(&list, 0, 0, 70, 100); /* past the hole */
    assert_int_equal(out.n, 2);
    sw_contours_free(&out);
    sw_contours_free(&list);
}

static void an_opening_around_the_rectangle_gives_the_rectangle(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    add_circle(&list, 0, 0, 100, 0, false);
    sw_contours out = clip(&list, -10, -20, 30, 40);
    assert_int_equal(out.n, 1);
    assert_int_equal(out.at[0].n_segs, 4);
    assert_true(sw_contours_measure(&out).area_mm2 == 1200.0);
    sw_contours_free(&out);
    sw_contours_free(&list);
}

static void an_edge_along_the_line_stays_on_it(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    add_polygon(&list, (const double[]){ 10, 10, 40, 10, 40, 30, 10, 30 }, 4);
    for (int k = 0; k < 3; k++) { /* exactly on the edge, and off by what rounding may do */
        const double off = (k - 1) * 1e-9;
        sw_contours out = clip(&list, 10 + off, 0, 30, 50);
        assert_int_equal(out.n, 1);
        assert_int_equal(out.at[0].n_segs, 4);
        assert_true(fabs(sw_contours_measure(&out).area_mm2 - 600) < 1e-6);
        sw_contours_free(&out);
        out = clip(&list, 40 + off, 0, 30, 50); /* it only touches from outside */
        assert_int_equal(out.n, 0);
        sw_contours_free(&out);
        out = clip(&list, 0, 10 + off, 25, 20);
        assert_int_equal(out.n, 1);
        assert_true(fabs(sw_contours_measure(&out).area_mm2 - 300) < 1e-6);
        sw_contours_free(&out);
    }
    sw_contours_free(&list);
}

static void comb_teeth_come_apart(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    add_polygon(&list, (const double[]){ 0, 0, 50, 0, 50, 40, 40, 40, 40, 10, 30, 10, 30, 40, 20, 40, 20, 10, 10, 10, 10, 40, 0, 40 }, 12);
    sw_contours out = clip(&list, -10, 20, 100, 100);
    assert_int_equal(out.n, 3);
    for (size_t i = 0; i < 3; i++) assert_true(sw_contour_measure_one(&out.at[i]).area_mm2 == 200.0);
    sw_contours_free(&out);
    out = clip(&list, -10, 10, 100, 100); /* the comb's back lies on the line */
    assert_int_equal(out.n, 3);
    assert_true(sw_contours_measure(&out).area_mm2 == 900.0);
    sw_contours_free(&out);
    out = clip(&list, 0, 0, 50, 10);
    assert_int_equal(out.n, 1);
    assert_true(sw_contours_measure(&out).area_mm2 == 500.0);
    sw_contours_free(&out);
    sw_contours_free(&list);
}

static void a_curve_that_touches_the_line_is_not_lost(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    add_circle(&list, 50, 50, 20, 0, false);
    const double area = sw_contours_measure(&list).area_mm2;
    sw_contours out = clip(&list, 0, 0, 70, 100); /* touches from inside, at a node */
    assert_int_equal(out.n, 1);
    assert_true(fabs(sw_contours_measure(&out).area_mm2 - area) < 1e-3);
    sw_contours_free(&out);
    out = clip(&list, 70, 0, 70, 100); /* from outside */
    assert_int_equal(out.n, 0);
    sw_contours_free(&out);
    sw_contours_free(&list);
    add_circle(&list, 50, 50, 20, PI / 4, false);
    const double reach = sw_contours_measure(&list).max.x_mm;
    out = clip(&list, 0, 0, reach, 100); /* between nodes */
    assert_int_equal(out.n, 1);
    assert_true(fabs(sw_contours_measure(&out).area_mm2 - area) < 1e-3);
    sw_contours_free(&out);
    out = clip(&list, reach - 0.01, 0, 1, 100); /* a sliver: two nodes, one line and one curve */
    assert_int_equal(out.n, 1);
    assert_int_equal(out.at[0].n_segs, 2);
    sw_contours_free(&out);
    sw_contours_free(&list);
}

typedef struct places {
    sw_pt_mm at[4000];
    size_t n;
} places;

static bool keep_place(void *ctx, sw_pt_mm p)
{
    places *const list = ctx;
    assert_true(list->n < SW_ARRAY_LEN(list->at));
    list->at[list->n++] = p;
    return true;
}

/* Smallest distance between nodes of the walk that are not neighbours along it, over all contours, and from nodes to edges. */
static double least_gap(const sw_contours *list)
{
    static places walk[8];
    double least = 1e9;
    assert_true(list->n <= SW_ARRAY_LEN(walk));
    for (size_t i = 0; i < list->n; i++) {
        walk[i].n = 0;
        (void)sw_contour_flatten(&list->at[i], 0.02, keep_place, &walk[i]);
    }
    for (size_t i = 0; i < list->n; i++) {
        for (size_t j = 0; j < list->n; j++) {
            for (size_t a = 0; a < walk[i].n; a++) {
                for (size_t b = 0; b < walk[j].n; b++) {
                    const size_t next = (b + 1) % walk[j].n;
                    if (i == j && (a == b || a == next)) continue;
                    const sw_pt_mm p = walk[i].at[a], q = walk[j].at[b], r = walk[j].at[next];
                    const double dx = r.x_mm - q.x_mm, dy = r.y_mm - q.y_mm, len2 = dx * dx + dy * dy;
                    const double t = sw_clamp(((p.x_mm - q.x_mm) * dx + (p.y_mm - q.y_mm) * dy) / len2, 0, 1);
                    const double d = hypot(p.x_mm - q.x_mm - t * dx, p.y_mm - q.y_mm - t * dy);
                    /* neighbours but one share a node's surroundings */
                    if (i == j && (a == (next + 1) % walk[j].n || (a + 1) % walk[j].n == b)) continue;
                    least = fmin(least, d);
                }
            }
        }
    }
    return least;
}

/* Material holds over sides only: a web that meets the edge in its tip ends before it, and what it would part is one opening. */
static void a_web_cut_through_its_tip_lets_go(void **state)
{
    (void)state;
    static const double lean[] = { 0, 6, -6, 25 };
    for (size_t k = 0; k < SW_ARRAY_LEN(lean); k++) {
        for (int side = 0; side < 4; side++) {
            for (double past = 0; past < 0.011; past += 0.005) { /* the tip beyond the line by that much */
                const double tip = 50 + lean[k];
                sw_contours list = { 0 };
                const double all[] = { 10, 10, 40, 10, tip, 60 + past, 60, 10, 90, 10, 90, 70, 10, 70 };
                double turned[14];
                for (size_t i = 0; i < 7; i++) { /* the line below, left, above, right of the tip */
                    const double x = all[2 * i] - 50, y = all[2 * i + 1] - 50;
                    const double u[] = { x, -y, -x, y }, v[] = { y, x, -y, -x };
                    turned[2 * i] = u[side] + 50;
                    turned[2 * i + 1] = v[side] + 50;
                }
                add_polygon(&list, turned, 7);
                const sw_rect_mm rects[] = { { 0, 0, 100, 60 }, { 40, 0, 60, 100 }, { 0, 40, 100, 60 }, { 0, 0, 60, 100 } };
                const sw_rect_mm r = rects[side];
                sw_contours out = clip(&list, r.x_mm, r.y_mm, r.width_mm, r.height_mm);
                assert_int_equal(out.n, 1);
                assert_true(fabs(sw_contours_measure(&out).area_mm2 - (80 * 50 - 20 * 50 / 2)) < 3);
                assert_true(least_gap(&out) > 0.03);
                sw_contours_free(&out);
                sw_contours_free(&list);
            }
        }
    }
}

/* An island that touches the edge from inside is an island. */
static void an_island_that_touches_the_edge_stays_clear_of_it(void **state)
{
    (void)state;
    for (double angle = 0; angle < 1.6; angle += 0.19) { /* it touches in a node or between two */
        sw_contours list = { 0 };
        add_polygon(&list, (const double[]){ 0, 0, 100, 0, 100, 100, 0, 100 }, 4);
        add_circle(&list, 50, 50, 20, angle, true);
        const double reach = sw_contour_measure_one(&list.at[1]).max.x_mm;
        sw_contours out = clip(&list, 5, 5, reach - 5, 90);
        assert_int_equal(out.n, 2);
        assert_true(fabs(fabs(sw_contours_measure(&out).area_mm2) - ((reach - 5) * 90 - PI * 400)) < 3);
        assert_true(least_gap(&out) > 0.03);
        sw_contours_free(&out);
        sw_contours_free(&list);
    }
}

static void panels_put_together_have_the_area_of_the_whole(void **state)
{
    (void)state;
    uint64_t seed = 7;
    for (int round = 0; round < 60; round++) {
        sw_mask mask = { 0 };
        sw_note note = { 0 };
        assert_ok(sw_mask_make(60, 50, &mask, &note), note);
        for (int k = 0; k < 14; k++) {
            const size_t x0 = test_random(&seed) % 60, y0 = test_random(&seed) % 50, r = 2 + test_random(&seed) % 11;
            for (size_t y = 0; y < 50; y++) {
                for (size_t x = 0; x < 60; x++) {
                    const double dx = (double)x - (double)x0, dy = (double)y - (double)y0;
                    if (dx * dx + dy * dy <= (double)(r * r)) mask.at[y * 60 + x] = k % 3 != 2;
                }
            }
        }
        sw_contours list = { 0 };
        assert_ok(sw_contours_trace(&mask, &(sw_grid){ 60, 50, 1.0 }, &(sw_trace_opts){ .tolerance_mm = 0.5 }, &list,
                                    &note), note);
        for (int k = 0; k < 2; k++) { /* along pixel edges seams meet tips, a tenth of a mm2 each; others do not */
            const double aside = k == 0 ? 0 : 0.37, most = k == 0 ? 0.25 : 1e-4;
            sw_contours inside = clip(&list, aside, aside, 60, 50);
            const double whole = sw_contours_measure(&inside).area_mm2;
            sw_contours_free(&inside);
            double sum = 0;
            for (int panel = 0; panel < 6; panel++) {
                sw_contours out = clip(&list, aside + 20.0 * (panel % 3), aside + 25.0 * (panel / 3), 20, 25);
                const double area = sw_contours_measure(&out).area_mm2;
                assert_true(area >= -1e-9 && area <= 500 + 1e-9);
                sum += area;
                sw_contours_free(&out);
            }
            if (fabs(sum - whole) > most) print_error("round %d: %.6f of %.6f mm2\n", round, sum, whole);
            assert_true(fabs(sum - whole) <= most);
        }
        sw_contours_free(&list);
        sw_mask_free(&mask);
    }
}

static bool is_same_point(sw_pt_mm a, sw_pt_mm b) { return a.x_mm == b.x_mm && a.y_mm == b.y_mm; }

static void assert_same(const sw_contours *a, const sw_contours *b)
{
    assert_int_equal(a->n, b->n);
    for (size_t i = 0; i < a->n; i++) {
        const sw_contour *const c = &a->at[i], *const d = &b->at[i];
        assert_int_equal(c->n_segs, d->n_segs);
        assert_true(is_same_point(c->start, d->start));
        for (size_t k = 0; k < c->n_segs; k++) {
            assert_int_equal(c->segs[k].is_line, d->segs[k].is_line);
            assert_int_equal(c->segs[k].is_corner, d->segs[k].is_corner);
            assert_true(is_same_point(c->segs[k].end, d->segs[k].end));
            assert_true(c->segs[k].is_line || (is_same_point(c->segs[k].c1, d->segs[k].c1) && is_same_point(c->segs[k].c2, d->segs[k].c2)));
        }
    }
}

/* Rings, and squares that begin and end on whole mm as panels do, so that many touch edges and corners of rectangles. */
static void what_is_near_is_cut_as_if_all_were_there(void **state)
{
    (void)state;
    uint64_t seed = 11;
    for (int round = 0; round < 40; round++) {
        sw_contours list = { 0 };
        for (int k = 0; k < 60; k++) {
            const double x = (double)(test_random(&seed) % 90), y = (double)(test_random(&seed) % 90);
            const double w = (double)(1 + test_random(&seed) % 30), h = (double)(1 + test_random(&seed) % 30);
            if (k % 2 == 0) add_polygon(&list, (const double[]){ x, y, x + w, y, x + w, y + h, x, y + h }, 4);
            else add_circle(&list, x, y, 0.5 * w, h, false);
            if (k % 4 == 3) add_circle(&list, x, y, 0.3 * w, h, true);
        }
        sw_clipper clipper = { 0 };
        assert_int_equal(sw_clipper_make(&list, &clipper, NULL), SW_OK);
        for (int panel = 0; panel < 36; panel++) {
            const sw_rect_mm rect = { 20.0 * (panel % 6), 20.0 * (panel / 6), 20, 20 };
            sw_contours all = { 0 }, near = { 0 };
            assert_int_equal(sw_contours_clip(&list, rect, &all, NULL), SW_OK);
            assert_int_equal(sw_clipper_cut(&clipper, rect, &near, NULL), SW_OK);
            assert_same(&all, &near);
            sw_contours_free(&all);
            sw_contours_free(&near);
        }
        sw_clipper_free(&clipper);
        sw_contours_free(&list);
    }
}

static void nothing_is_cut_from_an_empty_list(void **state)
{
    (void)state;
    const sw_contours list = { 0 };
    sw_contours out = { 0 };
    sw_clipper clipper = { 0 };
    assert_int_equal(sw_clipper_make(&list, &clipper, NULL), SW_OK);
    assert_int_equal(sw_clipper_cut(&clipper, (sw_rect_mm){ 0, 0, 1, 1 }, &out, NULL), SW_OK);
    assert_int_equal(out.n, 0);
    assert_int_equal(sw_clipper_cut(&clipper, (sw_rect_mm){ 0, 0, 0, 1 }, &out, NULL), SW_BAD_LENGTH);
    sw_clipper_free(&clipper);
}

static void bad_rectangles_are_refused(void **state)
{
    (void)state;
    sw_contours list = { 0 }, out = { 0 };
    assert_int_equal(sw_contours_clip(&list, (sw_rect_mm){ 0, 0, 0, 1 }, &out, NULL), SW_BAD_LENGTH);
    assert_int_equal(sw_contours_clip(&list, (sw_rect_mm){ NAN, 0, 1, 1 }, &out, NULL), SW_BAD_LENGTH);
    assert_int_equal(sw_contours_clip(&list, (sw_rect_mm){ 0, 0, 1, NAN }, &out, NULL), SW_BAD_LENGTH);
    assert_int_equal(sw_contours_clip(&list, (sw_rect_mm){ 0, 0, 1, 1 }, &out, NULL), SW_OK);
    assert_int_equal(out.n, 0);
}

static void every_failing_allocation_is_reported(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    add_circle(&list, 50, 50, 30, 0.3, false);
    add_circle(&list, 50, 50, 10, 0.7, true);
    for (size_t nth = 1;; nth++) {
        sw_contours out = { 0 };
        sw_note note = { 0 };
        const size_t live = sw_alloc_fail_at(nth);
        sw_clipper clipper = { 0 };
        sw_status st = sw_clipper_make(&list, &clipper, &note);
        if (st == SW_OK) st = sw_clipper_cut(&clipper, (sw_rect_mm){ 0, 0, 50, 50 }, &out, &note);
        const bool is_done = sw_alloc_count() < nth;
        sw_clipper_free(&clipper);
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
        cmocka_unit_test(a_circle_cut_through_its_centre_leaves_half),
        cmocka_unit_test(a_ring_cut_through_is_one_piece_a_side),
        cmocka_unit_test(an_opening_around_the_rectangle_gives_the_rectangle),
        cmocka_unit_test(an_edge_along_the_line_stays_on_it),
        cmocka_unit_test(comb_teeth_come_apart),
        cmocka_unit_test(a_curve_that_touches_the_line_is_not_lost),
        cmocka_unit_test(a_web_cut_through_its_tip_lets_go),
        cmocka_unit_test(an_island_that_touches_the_edge_stays_clear_of_it),
        cmocka_unit_test(panels_put_together_have_the_area_of_the_whole),
        cmocka_unit_test(what_is_near_is_cut_as_if_all_were_there),
        cmocka_unit_test(nothing_is_cut_from_an_empty_list),
        cmocka_unit_test(bad_rectangles_are_refused),
        cmocka_unit_test(every_failing_allocation_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
