/* Contours: lists, walking, measuring, and tracing of masks. */
#include "support.h"
#include <math.h>

#include "contour/contour.h"

#define PI 3.14159265358979323846
#define KAPPA 0.5522847498307936 /* handle of a quarter circle, 4/3 tan(pi/8) */

static sw_contour circle(double cx, double cy, double r)
{
    const double k = KAPPA * r;
    sw_contour c = { .start = { cx + r, cy } };
    assert_true(sw_contour_add_cubic(&c, (sw_pt_mm){ cx + r, cy + k }, (sw_pt_mm){ cx + k, cy + r }, (sw_pt_mm){ cx, cy + r }));
    assert_true(sw_contour_add_cubic(&c, (sw_pt_mm){ cx - k, cy + r }, (sw_pt_mm){ cx - r, cy + k }, (sw_pt_mm){ cx - r, cy }));
    assert_true(sw_contour_add_cubic(&c, (sw_pt_mm){ cx - r, cy - k }, (sw_pt_mm){ cx - k, cy - r }, (sw_pt_mm){ cx, cy - r }));
    assert_true(sw_contour_add_cubic(&c, (sw_pt_mm){ cx + k, cy - r }, (sw_pt_mm){ cx + r, cy - k }, (sw_pt_mm){ cx + r, cy }));
    return c;
}

static void a_circle_measures_as_a_circle(void **state)
{
    (void)state;
    sw_contour c = circle(70, 40, 10);
    const sw_contour_measure m = sw_contour_measure_one(&c);
    assert_true(fabs(m.length_mm - 2 * PI * 10) < 0.02); /* the four cubics are 0.027 % off the circle */
    assert_true(fabs(m.area_mm2 - PI * 100) < 0.1);
    assert_true(fabs(m.min.x_mm - 60) < 1e-12 && fabs(m.max.x_mm - 80) < 1e-12);
    assert_true(fabs(m.min.y_mm - 30) < 1e-12 && fabs(m.max.y_mm - 50) < 1e-12);
    assert_int_equal(m.n_nodes, 4);
    sw_contour_free(&c);
}

static void the_box_reaches_past_the_nodes(void **state)
{
    (void)state;
    sw_contour c = { 0 };
    assert_true(sw_contour_add_cubic(&c, (sw_pt_mm){ 0, 4 }, (sw_pt_mm){ 6, 4 }, (sw_pt_mm){ 6, 0 }));
    assert_true(sw_contour_add_line(&c, (sw_pt_mm){ 0, 0 }));
    const sw_contour_measure m = sw_contour_measure_one(&c);
    assert_true(fabs(m.max.y_mm - 3) < 1e-12 && m.min.y_mm == 0 && m.max.x_mm == 6);
    assert_true(m.area_mm2 < 0); /* against the clock as seen with y down */
    sw_contour_free(&c);
}

static bool add_up(void *ctx, sw_pt_mm p)
{
    double *const sum = ctx; /* first x, y, last x, y, twice the area, points */
    if (sum[5] == 0) {
        sum[0] = p.x_mm;
        sum[1] = p.y_mm;
    } else {
        sum[4] += sum[2] * p.y_mm - p.x_mm * sum[3];
    }
    sum[2] = p.x_mm;
    sum[3] = p.y_mm;
    sum[5] += 1;
    return true;
}

static bool stop_at_once(void *ctx, sw_pt_mm p)
{
    (void)p;
    ++*(int *)ctx;
    return false;
}

static void the_walk_stays_within_its_tolerance(void **state)
{
    (void)state;
    sw_contour c = circle(0, 0, 100);
    const double area = sw_contour_measure_one(&c).area_mm2;
    for (double tolerance = 10; tolerance > 1e-4; tolerance /= 3) {
        double sum[6] = { 0 };
        assert_true(sw_contour_flatten(&c, tolerance, add_up, sum));
        const double walked = 0.5 * (sum[4] + sum[2] * sum[1] - sum[0] * sum[3]);
        assert_true(walked <= area && area - walked <= 2 * PI * 101 * tolerance);
        assert_true(sum[0] != sum[2] || sum[1] != sum[3]); /* the first point is not repeated */
    }
    int n = 0;
    assert_false(sw_contour_flatten(&c, 1, stop_at_once, &n));
    assert_int_equal(n, 1);
    sw_contour_free(&c);
}

static void lists_copy_shift_and_round(void **state)
{
    (void)state;
    sw_note note = { 0 };
    sw_contours list = { 0 }, copy = { 0 };
    sw_contour c = circle(5, 5, 2);
    assert_ok(sw_contours_take(&list, &c, &note), note);
    assert_null(c.segs);
    assert_ok(sw_contours_copy(&list, &copy, &note), note);
    sw_contours_shift(&copy, 1.00049, -2.0);
    assert_true(copy.at[0].start.x_mm != list.at[0].start.x_mm);
    sw_contours_round(&copy, 0.001);
    const double x = copy.at[0].start.x_mm;
    assert_true(fabs(x - 8.0) < 1e-9);
    assert_true(fabs(copy.at[0].segs[0].c2.y_mm * 1000 - nearbyint(copy.at[0].segs[0].c2.y_mm * 1000)) < 1e-6);
    const sw_contour_measure m = sw_contours_measure(&list);
    assert_true(fabs(m.area_mm2 - 4 * PI) < 0.01);
    sw_contours_free(&list);
    sw_contours_free(&copy);
    const sw_contour_measure none = sw_contours_measure(&list);
    assert_int_equal(none.n_nodes, 0);
    assert_true(none.min.x_mm == 0 && none.length_mm == 0);
}

static void the_extent_is_the_measure_without_its_length(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    for (int k = 0; k < 3; k++) {
        sw_contour c = circle(5 + 7 * k, 5 - k, 2 + k);
        assert_true(sw_contour_add_line(&c, (sw_pt_mm){ 40 + k, 3 }) && sw_contour_add_line(&c, c.start));
        sw_contour_measure whole = sw_contour_measure_one(&c);
        const sw_contour_measure extent = sw_contour_extent(&c);
        assert_true(whole.length_mm > 0);
        whole.length_mm = 0;
        assert_memory_equal(&whole, &extent, sizeof whole);
        assert_int_equal(sw_contours_take(&list, &c, NULL), SW_OK);
    }
    sw_contour_measure whole = sw_contours_measure(&list);
    const sw_contour_measure extent = sw_contours_extent(&list);
    whole.length_mm = 0;
    assert_memory_equal(&whole, &extent, sizeof whole);
    sw_contours_free(&list);
    assert_int_equal(sw_contours_extent(&list).n_nodes, 0);
}

static bool count_point(void *ctx, sw_pt_mm p)
{
    (void)p;
    ++*(size_t *)ctx;
    return true;
}

static void the_walk_takes_as_many_chords_as_it_says(void **state)
{
    (void)state;
    for (double tolerance_mm = 1e-4; tolerance_mm < 1; tolerance_mm *= 3) {
        sw_contour c = circle(5, 5, 3);
        size_t n_points = 0, n_chords = 0;
        assert_true(sw_contour_add_line(&c, (sw_pt_mm){ 40, 3 }) && sw_contour_add_line(&c, c.start));
        for (size_t k = 0; k < c.n_segs; k++)
            n_chords += sw_seg_chords(k == 0 ? c.start : c.segs[k - 1].end, &c.segs[k], tolerance_mm);
        assert_true(sw_contour_flatten(&c, tolerance_mm, count_point, &n_points));
        assert_int_equal(n_points, n_chords);
        sw_contour_free(&c);
    }
}

static sw_contours trace(const sw_mask *mask, double px_per_mm, double tolerance_mm)
{
    sw_note note = { 0 };
    sw_contours list = { 0 };
    const sw_grid grid = { mask->width_px, mask->height_px, px_per_mm };
    assert_ok(sw_contours_trace(mask, &grid, &(sw_trace_opts){ .tolerance_mm = tolerance_mm }, &list, &note), note);
    for (size_t i = 0; i < list.n; i++) {
        const sw_contour *const c = &list.at[i];
        assert_true(c->n_segs >= 2);
        const sw_pt_mm end = c->segs[c->n_segs - 1].end;
        assert_true(end.x_mm == c->start.x_mm && end.y_mm == c->start.y_mm);
    }
    return list;
}

static void an_opening_with_an_island_gives_two_contours(void **state)
{
    (void)state;
    sw_mask mask = test_mask("..............\n"
                             ".############.\n"
                             ".############.\n"
                             ".###......###.\n"
                             ".###......###.\n"
                             ".###......###.\n"
                             ".############.\n"
                             ".############.\n"
                             ".............."
                             );
    sw_contours list = trace(&mask, 2.0, 0.25);
    assert_int_equal(list.n, 2);
    assert_true(sw_contour_measure_one(&list.at[0]).area_mm2 > 0);
    assert_true(sw_contour_measure_one(&list.at[1]).area_mm2 < 0);
    const sw_contour_measure m = sw_contours_measure(&list);
    assert_true(fabs(m.area_mm2 - (12 * 7 - 6 * 3) / 4.0) < 2);
    assert_true(fabs(m.min.x_mm - 0.5) < 0.1 && fabs(m.max.y_mm - 4) < 0.1);
    sw_contours_free(&list);
    sw_mask_free(&mask);
}

static void openings_join_over_corners(void **state)
{
    (void)state;
    sw_mask mask = test_mask("........\n.###....\n.###....\n.###....\n....###.\n....###.\n....###.\n........");
    sw_contours list = trace(&mask, 1.0, 0.1);
    assert_int_equal(list.n, 1);
    sw_contours_free(&list);
    sw_mask_free(&mask);
}

static void an_empty_and_a_full_mask_are_fine(void **state)
{
    (void)state;
    sw_mask mask = test_mask("...\n...\n...");
    sw_contours list = trace(&mask, 1.0, 0.1);
    assert_int_equal(list.n, 0);
    sw_contours_free(&list);
    sw_mask_free(&mask);
    sw_note note = { 0 };
    assert_ok(sw_mask_make(40, 30, &mask, &note), note);
    memset(mask.at, 1, 1200);
    list = trace(&mask, 1.0, 0.1);
    assert_int_equal(list.n, 1);
    assert_true(fabs(sw_contours_measure(&list).area_mm2 - 1200) < 1e-6);
    sw_contours_free(&list);
    sw_mask_free(&mask);
}

/* Blobs of random discs, openings and islands. */
static sw_mask blobs(size_t width, size_t height, size_t n_discs, size_t largest, uint64_t seed)
{
    sw_mask mask = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_mask_make(width, height, &mask, &note), note);
    for (size_t k = 0; k < n_discs; k++) {
        const double x0 = (double)(test_random(&seed) % width), y0 = (double)(test_random(&seed) % height);
        const double r = 2.0 + (double)(test_random(&seed) % largest);
        for (size_t y = 0; y < height; y++) {
            for (size_t x = 0; x < width; x++) {
                if (hypot((double)x - x0, (double)y - y0) <= r) mask.at[y * width + x] = k % 3 != 2;
            }
        }
    }
    return mask;
}

/* Length of the mask's border that is open, in pixels, and of the contours' segments that lie on the border. */
static double open_border(const sw_mask *mask)
{
    double n = 0;
    for (size_t x = 0; x < mask->width_px; x++)
        n += mask->at[x] + mask->at[(mask->height_px - 1) * mask->width_px + x];
    for (size_t y = 0; y < mask->height_px; y++)
        n += mask->at[y * mask->width_px] + mask->at[y * mask->width_px + mask->width_px - 1];
    return n;
}

static double border_drawn(const sw_contours *list, double width, double height)
{
    double n = 0;
    for (size_t i = 0; i < list->n; i++) {
        sw_pt_mm p = list->at[i].start;
        for (size_t k = 0; k < list->at[i].n_segs; k++) {
            const sw_seg *const s = &list->at[i].segs[k];
            const bool is_on = (p.x_mm == s->end.x_mm && (p.x_mm == 0 || p.x_mm == width)) ||
                               (p.y_mm == s->end.y_mm && (p.y_mm == 0 || p.y_mm == height));
            if (is_on && s->is_line) n += hypot(s->end.x_mm - p.x_mm, s->end.y_mm - p.y_mm);
            p = s->end;
        }
    }
    return n;
}

static void edges_on_the_border_stay_on_it(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 40; seed++) {
        sw_mask mask = blobs(90 + seed, 70, 16, 20, seed);
        sw_contours list = trace(&mask, 1.0, 1.0);
        const double width = (double)mask.width_px, height = 70;
        const sw_contour_measure m = sw_contours_measure(&list);
        assert_true(m.min.x_mm >= 0 && m.min.y_mm >= 0 && m.max.x_mm <= width && m.max.y_mm <= height);
        const double open = open_border(&mask), drawn = border_drawn(&list, width, height);
        if (fabs(open - drawn) > 0.02 * open + 12) print_error("seed %d: open %g drawn %g\n", (int)seed, open, drawn);
        assert_true(fabs(open - drawn) <= 0.02 * open + 12); /* each end of an edge may move by a pixel or so */
        sw_contours_free(&list);
        sw_mask_free(&mask);
    }
}

/* Open bars at any angle, of which many end at the border or run over it. */
static sw_mask bars(size_t width, size_t height, size_t n, uint64_t seed)
{
    sw_mask mask = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_mask_make(width, height, &mask, &note), note);
    for (size_t k = 0; k < n; k++) {
        const double x0 = (double)(test_random(&seed) % width), y0 = (double)(test_random(&seed) % height);
        const double angle = (double)(test_random(&seed) % 314) / 100.0, half = 2.0 + (double)(test_random(&seed) % 8);
        const double reach = 10.0 + (double)(test_random(&seed) % 40);
        for (size_t y = 0; y < height; y++) {
            for (size_t x = 0; x < width; x++) {
                const double dx = (double)x - x0, dy = (double)y - y0, u = dx * cos(angle) + dy * sin(angle);
                if (fabs(u) <= reach && fabs(dy * cos(angle) - dx * sin(angle)) <= half) mask.at[y * width + x] = k % 3 != 2;
            }
        }
    }
    return mask;
}

static void curves_never_leave_the_mask(void **state)
{
    (void)state;
    static const uint64_t known[] = { 642, 802, 882, 1330, 1546, 3599 }; /* of the first 8000 twelve did */
    for (uint64_t k = 0; k < 60 + SW_ARRAY_LEN(known); k++) {
        const uint64_t seed = k < 60 ? k + 1 : known[k - 60];
        const size_t side = 60 + seed % 50;
        sw_mask mask = seed % 2 != 0 ? bars(side, 70, 6, seed) : blobs(side, 70, 16, 20, seed);
        sw_mask later = bars(side, 70, 4, seed + 1000); /* shares some of its edges with the mask */
        for (size_t i = 0; i < side * 70; i++) later.at[i] = later.at[i] && !mask.at[i];
        const sw_mask *const all_later[] = { &later };
        const sw_trace_opts opts = { .tolerance_mm = seed % 3 == 0 ? 1.5 : 0.6, .later = all_later, .n_later = seed / 2 % 2 };
        sw_contours list = { 0 };
        sw_note note = { 0 };
        assert_ok(sw_contours_trace(&mask, &(sw_grid){ side, 70, 1.0 }, &opts, &list, &note), note);
        const sw_contour_measure m = sw_contours_measure(&list);
        const double out = fmax(fmax(-m.min.x_mm, -m.min.y_mm), fmax(m.max.x_mm - (double)side, m.max.y_mm - 70));
        if (out > 1e-9) print_error("seed %d: %g pixels outside\n", (int)seed, out);
        assert_true(out <= 1e-9);
        sw_contours_free(&list);
        sw_mask_free(&later);
        sw_mask_free(&mask);
    }
}

static void bad_lengths_are_refused(void **state)
{
    (void)state;
    sw_mask mask = test_mask("...\n.#.\n...");
    sw_contours list = { 0 };
    const sw_grid grid = { 3, 3, 1.0 }, other = { 3, 4, 1.0 };
    static const double bad[] = { 0.0, -1.0, NAN, INFINITY };
    for (size_t i = 0; i < SW_ARRAY_LEN(bad); i++) {
        sw_note note = { 0 };
        assert_int_equal(sw_contours_trace(&mask, &grid, &(sw_trace_opts){ .tolerance_mm = bad[i] }, &list, &note),
                         SW_BAD_LENGTH);
        assert_true(note.text[0] != '\0');
    }
    assert_int_equal(sw_contours_trace(&mask, &other, &(sw_trace_opts){ .tolerance_mm = 1.0 }, &list, NULL),
                     SW_BAD_LENGTH);
    assert_int_equal(
        sw_contours_trace(&mask, &grid, &(sw_trace_opts){ .tolerance_mm = 1.0, .min_web_mm = NAN }, &list, NULL),
        SW_BAD_LENGTH);
    assert_null(list.at);
    sw_mask_free(&mask);
}

static void every_failing_allocation_is_reported(void **state)
{
    (void)state;
    sw_mask mask = test_mask("..........\n.########.\n.##....##.\n.##....##.\n.########.\n..........");
    const sw_grid grid = { mask.width_px, mask.height_px, 1.0 };
    for (size_t nth = 1;; nth++) {
        assert_true(nth < 1000);
        sw_contours list = { 0 };
        sw_note note = { 0 };
        const size_t live = sw_alloc_fail_at(nth);
        const sw_status st = sw_contours_trace(&mask, &grid, &(sw_trace_opts){ .tolerance_mm = 0.5 }, &list, &note);
        const size_t n_asked = sw_alloc_count();
        if (st == SW_OK) {
            sw_contours_free(&list);
            assert_true(n_asked < nth);
            assert_int_equal(sw_alloc_fail_at(0), live);
            break;
        }
        assert_int_equal(st, SW_NO_MEMORY);
        assert_true(note.text[0] != '\0');
        assert_null(list.at);
        assert_int_equal(sw_alloc_fail_at(0), live);
    }
    sw_mask_free(&mask);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_circle_measures_as_a_circle),
        cmocka_unit_test(the_box_reaches_past_the_nodes),
        cmocka_unit_test(the_walk_stays_within_its_tolerance),
        cmocka_unit_test(lists_copy_shift_and_round),
        cmocka_unit_test(the_walk_takes_as_many_chords_as_it_says),
        cmocka_unit_test(the_extent_is_the_measure_without_its_length),
        cmocka_unit_test(an_opening_with_an_island_gives_two_contours),
        cmocka_unit_test(openings_join_over_corners),
        cmocka_unit_test(an_empty_and_a_full_mask_are_fine),
        cmocka_unit_test(edges_on_the_border_stay_on_it),
        cmocka_unit_test(curves_never_leave_the_mask),
        cmocka_unit_test(bad_lengths_are_refused),
        cmocka_unit_test(every_failing_allocation_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
