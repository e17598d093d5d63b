/* Layout of one panel a sheet: frame, marks, labels, cutting order. */
#include "layout/parts.h"
#include "support.h"

#include <math.h>

static const sw_grid grid = { 600, 400, 1.0 }; /* 600 x 400 mm */

static void add_box(sw_contours *list, double x, double y, double w, double h, bool is_inner)
{
    sw_contour c = { .start = { x, y } };
    const sw_pt_mm right = { x + w, y }, low = { x, y + h };
    assert_true(sw_contour_add_line(&c, is_inner ? low : right));
    assert_true(sw_contour_add_line(&c, (sw_pt_mm){ x + w, y + h }));
    assert_true(sw_contour_add_line(&c, is_inner ? right : low));
    assert_true(sw_contour_add_line(&c, c.start));
    assert_int_equal(sw_contours_take(list, &c, NULL), SW_OK);
}

static sw_contours scattered(size_t n, uint64_t seed)
{
    sw_contours list = { 0 };
    for (size_t i = 0; i < n; i++) {
        const double x = (double)(test_random(&seed) % 590000) / 1000.0;
        const double y = (double)(test_random(&seed) % 390000) / 1000.0;
        add_box(&list, x, y, 4.0005, 4.0, false);
    }
    return list;
}

static const sw_layout_opts plain = { .frame_mm = 40, .min_web_mm = 5, .min_opening_mm = 3, .job_name = "Quay" };

static sw_layout make(const sw_contours *openings, const sw_layout_opts *opts)
{
    const sw_layout_sheet sheets[] = { { .pass = 1, .paint = { 200, 100, 50 }, .openings = openings },
                                       { .pass = 2, .paint = { 20, 10, 50 }, .openings = openings } };
    sw_layout layout = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_layout_make(&grid, sheets, 2, opts, &layout, &note), note);
    return layout;
}

static void a_sheet_has_its_frame_all_round(void **state)
{
    (void)state;
    sw_contours openings = { 0 };
    add_box(&openings, 0, 0, 600, 400, false);
    sw_layout layout = make(&openings, &plain);
    assert_int_equal(layout.n_panels, 2);
    const sw_panel *const p = &layout.panels[1];
    assert_int_equal(p->pass, 2);
    assert_true(fabs(p->width_mm - 680) < 1e-9 && fabs(p->height_mm - 480) < 1e-9);
    assert_true(fabs(p->origin.x_mm + 40) < 1e-9 && fabs(p->origin.y_mm + 40) < 1e-9);
    const sw_contour_measure m = sw_contours_measure(&p->openings);
    assert_true(fabs(m.min.x_mm - 40) < 1e-9 && fabs(m.max.y_mm - 440) < 1e-9);
    assert_true(fabs(p->open_area_mm2 - 240000) < 1e-6);
    assert_true(fabs(sw_contour_measure_one(&p->outline).area_mm2 - 680 * 480) < 1e-6);
    sw_layout_free(&layout);
    sw_contours_free(&openings);
}

static void add_circle(sw_contours *list, double x, double y, double r)
{
    const double k = r * 0.5522847498; /* quarter circles within 0.03 % of r */
    sw_contour c = { .start = { x + r, y } };
    assert_true(sw_contour_add_cubic(&c, (sw_pt_mm){ x + r, y + k }, (sw_pt_mm){ x + k, y + r }, (sw_pt_mm){ x, y + r }));
    assert_true(sw_contour_add_cubic(&c, (sw_pt_mm){ x - k, y + r }, (sw_pt_mm){ x - r, y + k }, (sw_pt_mm){ x - r, y }));
    assert_true(sw_contour_add_cubic(&c, (sw_pt_mm){ x - r, y - k }, (sw_pt_mm){ x - k, y - r }, (sw_pt_mm){ x, y - r }));
    assert_true(sw_contour_add_cubic(&c, (sw_pt_mm){ x + k, y - r }, (sw_pt_mm){ x + r, y - k }, c.start));
    assert_int_equal(sw_contours_take(list, &c, NULL), SW_OK);
}

/* Steiner's formula: a convex shape moved outwards by d gains length * d + pi d^2. The beam does that to the cut line, so
 * the cut line's area and what the beam adds must give the drawn area. */
static void with_the_kerf_the_hole_has_the_drawn_size(void **state)
{
    (void)state;
    const double pi = 3.14159265358979323846;
    sw_contours openings = { 0 };
    add_circle(&openings, 100, 100, 30);
    add_circle(&openings, 300, 200, 4);
    sw_layout_opts opts = plain;
    for (int i = 0; i < 3; i++) {
        opts.kerf_mm = i * 0.6;
        const double d = 0.5 * opts.kerf_mm;
        sw_layout layout = make(&openings, &opts);
        const sw_panel *const p = &layout.panels[0];
        assert_int_equal(layout.n_held_back, 0);
        for (size_t k = 0; k < 2; k++) {
            const sw_contour_measure m = sw_contour_measure_one(&p->openings.at[k]);
            const double drawn = m.area_mm2 + m.length_mm * d + pi * d * d;
            const double r = m.area_mm2 > 1000 ? 30 : 4;
            assert_true(fabs(drawn - pi * r * r) < 0.005 * pi * r * r);
        }
        assert_true(fabs(p->open_area_mm2 - pi * (900 + 16)) < 0.002 * pi * 916);
        const sw_contour_measure mark = sw_contour_measure_one(&p->marks.at[0]);
        assert_true(fabs(mark.max.y_mm - mark.min.y_mm - 12) < 1e-9);
        assert_true(fabs(sw_contour_measure_one(&p->outline).area_mm2 - 680 * 480) < 1e-6);
        sw_layout_free(&layout);
    }
    sw_contours_free(&openings);
}

static bool is_whole_step(double v_mm) { return fabs(v_mm * 1000.0 - nearbyint(v_mm * 1000.0)) < 1e-6; }

static void coordinates_are_whole_thousandths(void **state)
{
    (void)state;
    sw_contours openings = scattered(50, 3);
    sw_layout_opts opts = plain;
    opts.frame_mm = 40.00049;
    opts.min_opening_mm = 3.3333;
    sw_layout layout = make(&openings, &opts);
    const sw_panel *const p = &layout.panels[0];
    assert_true(is_whole_step(p->origin.x_mm));
    for (int which = 0; which < 2; which++) {
        const sw_contours *const list = which == 0 ? &p->openings : &p->marks;
        for (size_t i = 0; i < list->n; i++) {
            for (size_t k = 0; k < list->at[i].n_segs; k++) {
                assert_true(is_whole_step(list->at[i].segs[k].end.x_mm));
                assert_true(is_whole_step(list->at[i].segs[k].end.y_mm));
            }
        }
    }
    sw_layout_free(&layout);
    sw_contours_free(&openings);
}

static sw_pt_mm middle_of(const sw_contour *contour)
{
    const sw_contour_measure m = sw_contour_measure_one(contour);
    return (sw_pt_mm){ (m.min.x_mm + m.max.x_mm) / 2, (m.min.y_mm + m.max.y_mm) / 2 };
}

/* How many marks of one panel lie over a mark of the other after x, y become mapped. */
static size_t n_over(const sw_panel *p, bool is_flip_x, bool is_flip_y)
{
    size_t n = 0;
    for (size_t i = 0; i < p->marks.n; i++) {
        sw_pt_mm a = middle_of(&p->marks.at[i]);
        if (is_flip_x) a.x_mm = p->width_mm - a.x_mm;
        if (is_flip_y) a.y_mm = p->height_mm - a.y_mm;
        for (size_t k = 0; k < p->marks.n; k++) {
            const sw_pt_mm b = middle_of(&p->marks.at[k]);
            n += hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm) < 5.0;
        }
    }
    return n;
}

static void marks_lie_over_each_other_on_all_passes_and_never_when_turned(void **state)
{
    (void)state;
    static const double sides[] = { 60, 150, 600, 1600, 5000 };
    sw_contours openings = { 0 };
    add_box(&openings, 5, 5, 10, 10, false);
    for (size_t i = 0; i < SW_ARRAY_LEN(sides); i++) {
        for (size_t k = 0; k < SW_ARRAY_LEN(sides); k++) {
            const sw_grid g = { (size_t)sides[i], (size_t)sides[k], 1.0 };
            const sw_layout_sheet sheets[] = { { .pass = 1, .openings = &openings }, { .pass = 2, .openings = &openings } };
            sw_layout layout = { 0 };
            assert_int_equal(sw_layout_make(&g, sheets, 2, &plain, &layout, NULL), SW_OK);
            const sw_panel *const p = &layout.panels[0], *const q = &layout.panels[1];
            assert_true(p->marks.n >= 3);
            assert_int_equal(p->marks.n, q->marks.n);
            for (size_t m = 0; m < p->marks.n; m++) {
                const sw_pt_mm a = middle_of(&p->marks.at[m]), b = middle_of(&q->marks.at[m]);
                assert_true(hypot(a.x_mm + p->origin.x_mm - b.x_mm - q->origin.x_mm, a.y_mm - b.y_mm) < 1e-9);
            }
            assert_int_equal(n_over(p, false, false), p->marks.n);
            assert_true(n_over(p, true, true) < p->marks.n);
            assert_true(n_over(p, true, false) < p->marks.n);
            assert_true(n_over(p, false, true) < p->marks.n);
            sw_layout_free(&layout);
        }
    }
    sw_contours_free(&openings);
}

static void marks_keep_off_the_artwork_and_the_edge(void **state)
{
    (void)state;
    sw_contours openings = { 0 };
    add_box(&openings, 0, 0, 600, 400, false);
    sw_layout_opts opts = plain;
    opts.frame_mm = sw_layout_frame_needed_mm(&plain);
    sw_layout layout = make(&openings, &opts);
    const sw_panel *const p = &layout.panels[0];
    for (size_t i = 0; i < p->marks.n; i++) {
        const sw_contour_measure m = sw_contour_measure_one(&p->marks.at[i]);
        assert_true(m.min.x_mm >= 5 - 1e-9 && m.min.y_mm >= 5 - 1e-9);
        assert_true(m.max.x_mm <= p->width_mm - 5 + 1e-9 && m.max.y_mm <= p->height_mm - 5 + 1e-9);
        const bool is_beside = m.max.x_mm <= opts.frame_mm - 5 + 1e-9 || m.min.x_mm >= 600 + opts.frame_mm + 5 - 1e-9;
        const bool is_above = m.max.y_mm <= opts.frame_mm - 5 + 1e-9 || m.min.y_mm >= 400 + opts.frame_mm + 5 - 1e-9;
        assert_true(is_beside || is_above);
        assert_true(m.area_mm2 > 0);
    }
    sw_layout_free(&layout);
    sw_contours_free(&openings);
}

static void a_frame_too_small_for_a_mark_is_refused_with_the_size_needed(void **state)
{
    (void)state;
    sw_contours openings = { 0 };
    add_box(&openings, 5, 5, 10, 10, false);
    const sw_layout_sheet sheet = { .pass = 1, .openings = &openings };
    sw_layout layout = { 0 };
    sw_layout_opts opts = plain;
    static const double bad[] = { 0, 18.9, -1, NAN, INFINITY };
    for (size_t i = 0; i < SW_ARRAY_LEN(bad); i++) {
        sw_note note = { 0 };
        opts.frame_mm = bad[i];
        assert_int_equal(sw_layout_make(&grid, &sheet, 1, &opts, &layout, &note), SW_BAD_LENGTH);
        if (i < 2) assert_non_null(strstr(note.text, "--frame must be at least 19.0mm"));
        assert_null(layout.panels);
    }
    opts.frame_mm = 19;
    assert_int_equal(sw_layout_make(&grid, &sheet, 1, &opts, &layout, NULL), SW_OK);
    sw_layout_free(&layout);
    sw_contours_free(&openings);
}

static void a_panel_larger_than_the_bed_is_refused(void **state)
{
    (void)state;
    sw_contours openings = { 0 };
    add_box(&openings, 5, 5, 10, 10, false);
    const sw_layout_sheet sheet = { .pass = 1, .openings = &openings };
    sw_layout layout = { 0 };
    sw_layout_opts opts = plain;
    opts.bed_width_mm = 480;
    opts.bed_height_mm = 680;
    assert_int_equal(sw_layout_make(&grid, &sheet, 1, &opts, &layout, NULL), SW_OK); /* turned */
    sw_layout_free(&layout);
    opts.kerf_mm = 0.2;
    assert_int_equal(sw_layout_make(&grid, &sheet, 1, &opts, &layout, NULL), SW_BAD_LENGTH);
    sw_contours_free(&openings);
}

static void labels_stay_on_the_frame_and_off_the_marks(void **state)
{
    (void)state;
    static const char long_name[] =
        "\xc3\x84\xc3\x96\xc3\x9c a very long name for a wall by the water that somebody typed in full \xe6\xbc\xa2";
    sw_contours openings = { 0 };
    add_box(&openings, 5, 5, 10, 10, false);
    for (size_t w = 40; w < 4000; w += w / 2) {
        const sw_grid g = { w, 200, 1.0 };
        sw_layout_opts opts = plain;
        opts.job_name = long_name;
        const sw_layout_sheet sheet = { .pass = 1, .paint_name = "brick (old)", .openings = &openings };
        sw_layout layout = { 0 };
        assert_int_equal(sw_layout_make(&g, &sheet, 1, &opts, &layout, NULL), SW_OK);
        const sw_panel *const p = &layout.panels[0];
        assert_true(p->n_strokes > 0 || w < 60);
        for (size_t i = 0; i < p->n_strokes; i++) {
            for (size_t k = 0; k < p->strokes[i].n; k++) {
                const sw_pt_mm at = p->strokes[i].at[k];
                assert_true(at.x_mm >= 1 && at.x_mm <= p->width_mm - 1 && at.y_mm >= 1 && at.y_mm <= p->height_mm - 1);
                assert_true(at.x_mm <= 40 || at.x_mm >= p->width_mm - 40 || at.y_mm <= 39 || at.y_mm >= p->height_mm - 39);
                for (size_t m = 0; m < p->marks.n; m++) {
                    const sw_contour_measure box = sw_contour_measure_one(&p->marks.at[m]);
                    assert_false(at.x_mm > box.min.x_mm - 1 && at.x_mm < box.max.x_mm + 1 &&
                                 at.y_mm > box.min.y_mm - 1 && at.y_mm < box.max.y_mm + 1);
                }
            }
        }
        sw_layout_free(&layout);
    }
    sw_contours_free(&openings);
}

static size_t place_of(const sw_contours *list, double area_mm2)
{
    for (size_t i = 0; i < list->n; i++) {
        if (fabs(fabs(sw_contour_measure_one(&list->at[i]).area_mm2) - area_mm2) < 1e-6) return i;
    }
    return SIZE_MAX;
}

static void inner_is_cut_before_outer(void **state)
{
    (void)state;
    sw_contours openings = scattered(40, 11);
    add_box(&openings, 100, 100, 200, 200, false); /* an opening with an island that has an opening */
    add_box(&openings, 120, 120, 150, 150, true);
    add_box(&openings, 140, 140, 100, 100, false);
    sw_layout layout = make(&openings, &plain);
    const sw_contours *const list = &layout.panels[0].openings;
    assert_int_equal(list->n, openings.n);
    const size_t outer = place_of(list, 40000), island = place_of(list, 22500), inner = place_of(list, 10000);
    assert_true(inner < island && island < outer);
    sw_layout_free(&layout);
    sw_contours_free(&openings);
}

static double travel_in_order(const sw_contours *list)
{
    double sum = 0;
    for (size_t i = 1; i < list->n; i++)
        sum += hypot(list->at[i].start.x_mm - list->at[i - 1].start.x_mm,
                     list->at[i].start.y_mm - list->at[i - 1].start.y_mm);
    return sum;
}

/* For points scattered evenly the shortest tour tends to 0.7124 sqrt(n area) (Johnson and McGeoch 1996); nearest
 * neighbour alone ends about 25 % above it. */
static void travel_is_near_the_shortest(void **state)
{
    (void)state;
    sw_contours openings = scattered(2000, 5);
    sw_layout layout = make(&openings, &plain);
    const double shortest = 0.7124 * sqrt(2000.0 * 590 * 390);
    const double travel = travel_in_order(&layout.panels[0].openings);
    assert_true(travel < 1.15 * shortest);
    assert_true(travel_in_order(&openings) > 10 * shortest);
    assert_true(layout.panels[0].travel_length_mm > travel);
    sw_layout_free(&layout);
    sw_contours_free(&openings);
}

static void the_same_curves_are_cut_whatever_the_order(void **state)
{
    (void)state;
    sw_contours openings = { 0 };
    sw_contour c = { .start = { 100, 50 } };
    assert_true(sw_contour_add_cubic(&c, (sw_pt_mm){ 130, 50 }, (sw_pt_mm){ 150, 80 }, (sw_pt_mm){ 150, 100 }));
    assert_true(sw_contour_add_line(&c, (sw_pt_mm){ 90, 160 }));
    c.segs[1].is_corner = true;
    assert_true(sw_contour_add_cubic(&c, (sw_pt_mm){ 50, 120 }, (sw_pt_mm){ 70, 50 }, (sw_pt_mm){ 100, 50 }));
    const sw_contour_measure before = sw_contour_measure_one(&c);
    assert_int_equal(sw_contours_take(&openings, &c, NULL), SW_OK);
    sw_layout layout = make(&openings, &plain);
    const sw_contour *const cut = &layout.panels[0].openings.at[0];
    const sw_contour_measure after = sw_contour_measure_one(cut);
    assert_true(fabs(cut->start.x_mm - 130) < 1e-9 && fabs(cut->start.y_mm - 200) < 1e-9); /* the corner */
    assert_true(fabs(cut->segs[2].end.x_mm - 130) < 1e-9 && cut->segs[2].is_line);
    assert_true(fabs(before.length_mm - after.length_mm) < 1e-9 && fabs(before.area_mm2 - after.area_mm2) < 1e-6);
    assert_true(fabs(before.max.x_mm + 40 - after.max.x_mm) < 1e-9);
    sw_layout_free(&layout);
    sw_contours_free(&openings);
}

static void the_font_has_all_of_latin_1_and_counts_the_rest(void **state)
{
    (void)state;
    for (uint32_t code = 0x20; code < 0x100; code++) {
        if (code < 0x7f || code >= 0xa0) assert_true(sw_font_has(code));
        else assert_false(sw_font_has(code));
    }
    assert_false(sw_font_has(0x6f22));
    sw_contours openings = { 0 };
    add_box(&openings, 5, 5, 10, 10, false);
    sw_layout_opts opts = plain;
    opts.job_name = "a \xe6\xbc\xa2 \xff \xe2\x80\x93 \xc3"; /* two broken, one foreign, one dash with a plain twin */
    sw_layout layout = make(&openings, &opts);
    assert_int_equal(layout.n_replaced, 2 * 3);
    sw_layout_free(&layout);
    sw_contours_free(&openings);
}

static void every_failed_allocation_is_reported_and_freed(void **state)
{
    (void)state;
    sw_contours openings = scattered(12, 9);
    const sw_layout_sheet sheet = { .pass = 1, .openings = &openings };
    sw_status st = SW_NO_MEMORY;
    size_t nth = 0;
    const size_t live = sw_alloc_fail_at(0);
    while (st != SW_OK) {
        sw_layout layout = { 0 };
        sw_note note = { 0 };
        sw_alloc_fail_at(++nth);
        st = sw_layout_make(&grid, &sheet, 1, &plain, &layout, &note);
        sw_alloc_fail_at(0);
        if (st != SW_OK) {
            assert_int_equal(st, SW_NO_MEMORY);
            assert_true(note.text[0] != '\0');
            assert_null(layout.panels);
        }
        sw_layout_free(&layout);
        assert_int_equal(sw_alloc_fail_at(0), live);
    }
    assert_true(nth > 20);
    sw_contours_free(&openings);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_sheet_has_its_frame_all_round),
        cmocka_unit_test(with_the_kerf_the_hole_has_the_drawn_size),
        cmocka_unit_test(coordinates_are_whole_thousandths),
        cmocka_unit_test(marks_lie_over_each_other_on_all_passes_and_never_when_turned),
        cmocka_unit_test(marks_keep_off_the_artwork_and_the_edge),
        cmocka_unit_test(a_frame_too_small_for_a_mark_is_refused_with_the_size_needed),
        cmocka_unit_test(a_panel_larger_than_the_bed_is_refused),
        cmocka_unit_test(labels_stay_on_the_frame_and_off_the_marks),
        cmocka_unit_test(inner_is_cut_before_outer),
        cmocka_unit_test(travel_is_near_the_shortest),
        cmocka_unit_test(the_same_curves_are_cut_whatever_the_order),
        cmocka_unit_test(the_font_has_all_of_latin_1_and_counts_the_rest),
        cmocka_unit_test(every_failed_allocation_is_reported_and_freed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
