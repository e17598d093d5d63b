/* Layout of sheets in several panels. */
#include "layout/parts.h"
#include "support.h"

#include <math.h>

static const sw_grid grid = { 600, 400, 1.0 }; /* 600 x 400 mm */
static const sw_layout_opts plain = { .frame_mm = 40, .min_web_mm = 5, .min_opening_mm = 3, .job_name = "Quay" };

/* 3 columns x 2 rows. */
static sw_rect_px six[] = { { 0, 0, 210, 190 },   { 210, 0, 200, 190 },   { 410, 0, 190, 190 },
                            { 0, 190, 210, 210 }, { 210, 190, 200, 210 }, { 410, 190, 190, 210 } };
static const sw_windows windows = { six, 6 };

static void add_box(sw_contours *list, double x, double y, double w, double h)
{
    sw_contour c = { .start = { x, y } };
    assert_true(sw_contour_add_line(&c, (sw_pt_mm){ x + w, y }) && sw_contour_add_line(&c, (sw_pt_mm){ x + w, y + h }));
    assert_true(sw_contour_add_line(&c, (sw_pt_mm){ x, y + h }) && sw_contour_add_line(&c, c.start));
    assert_int_equal(sw_contours_take(list, &c, NULL), SW_OK);
}

static sw_layout make(const sw_contours *first, const sw_contours *second)
{
    const sw_layout_sheet sheets[] = { { .pass = 1, .openings = first, .windows = &windows },
                                       { .pass = 2, .openings = second, .windows = &windows } };
    sw_layout layout = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_layout_make(&grid, sheets, 2, &plain, &layout, &note), note);
    return layout;
}

static void an_opening_goes_on_to_the_same_seam_in_both_panels(void **state)
{
    (void)state;
    sw_contours openings = { 0 };
    add_box(&openings, 0, 0, 600, 400);
    sw_layout layout = make(&openings, &openings);
    assert_int_equal(layout.n_panels, 12);
    double area = 0;
    for (size_t i = 0; i < layout.n_panels; i++) {
        const sw_panel *const p = &layout.panels[i];
        const sw_contour_measure m = sw_contours_measure(&p->openings);
        const sw_rect_px *const r = &six[i % 6];
        assert_int_equal(p->pass, 1 + i / 6);
        assert_true(fabs(m.min.x_mm + p->origin.x_mm - (double)r->x) < 1e-9);
        assert_true(fabs(m.max.x_mm + p->origin.x_mm - (double)(r->x + r->width)) < 1e-9);
        assert_true(fabs(m.max.y_mm + p->origin.y_mm - (double)(r->y + r->height)) < 1e-9);
        assert_true(fabs(p->width_mm - (double)r->width - 80) < 1e-9);
        area += p->open_area_mm2;
    }
    assert_true(fabs(area - 2 * 600 * 400) < 1e-6);
    sw_layout_free(&layout);
    sw_contours_free(&openings);
}

static void panels_are_named_by_row_and_column_and_empty_ones_left_out(void **state)
{
    (void)state;
    sw_contours one = { 0 }, two = { 0 };
    add_box(&one, 20, 20, 50, 50);
    add_box(&one, 400, 300, 50, 50);
    add_box(&two, 300, 20, 20, 20);
    sw_layout layout = make(&one, &two);
    static const char *const names[] = { "A1", "B2", "B3", "A2" };
    assert_int_equal(layout.n_panels, 4);
    for (size_t i = 0; i < 4; i++) assert_string_equal(layout.panels[i].name, names[i]);
    sw_layout_free(&layout);
    sw_contours_free(&one);
    sw_contours_free(&two);
}

static void names_run_past_z(void **state)
{
    (void)state;
    static const struct {
        size_t row, column;
        const char *name;
    } cases[] = { { 0, 0, "A1" }, { 25, 9, "Z10" }, { 26, 0, "AA1" }, { 51, 0, "AZ1" }, { 52, 0, "BA1" }, { 702, 0, "AAA1" } };
    for (size_t i = 0; i < SW_ARRAY_LEN(cases); i++) {
        char name[16];
        sw_place_name(&(sw_panel_place){ .row = cases[i].row, .column = cases[i].column, .n_rows = 1000, .n_columns = 50 }, name);
        assert_string_equal(name, cases[i].name);
    }
    char name[16];
    sw_place_name(&(sw_panel_place){ .n_rows = 1, .n_columns = 1 }, name);
    assert_string_equal(name, "");
}

/* Middle of a mark on the wall. */
static sw_pt_mm wall_middle(const sw_panel *p, size_t mark)
{
    const sw_contour_measure m = sw_contour_measure_one(&p->marks.at[mark]);
    return (sw_pt_mm){ (m.min.x_mm + m.max.x_mm) / 2 + p->origin.x_mm, (m.min.y_mm + m.max.y_mm) / 2 + p->origin.y_mm };
}

static size_t n_common(const sw_panel *p, const sw_panel *q)
{
    size_t n = 0;
    for (size_t i = 0; i < p->marks.n; i++) {
        for (size_t k = 0; k < q->marks.n; k++) {
            const sw_pt_mm a = wall_middle(p, i), b = wall_middle(q, k);
            n += hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm) < 1e-6;
        }
    }
    return n;
}

static void marks_agree_between_passes_and_neighbours_share_them(void **state)
{
    (void)state;
    sw_contours openings = { 0 };
    add_box(&openings, 0, 0, 600, 400);
    sw_layout layout = make(&openings, &openings);
    for (size_t i = 0; i < 6; i++) {
        const sw_panel *const p = &layout.panels[i];
        assert_true(p->marks.n >= 3);
        assert_int_equal(n_common(p, &layout.panels[i + 6]), p->marks.n);
    }
    assert_int_equal(n_common(&layout.panels[0], &layout.panels[1]), 1); /* on the seam, above the artwork */
    assert_int_equal(n_common(&layout.panels[2], &layout.panels[5]), 1); /* on the seam, right of it */
    sw_layout_free(&layout);
    sw_contours_free(&openings);
}

static void marks_of_a_turned_panel_miss_those_on_the_wall(void **state)
{
    (void)state;
    sw_contours openings = { 0 };
    add_box(&openings, 0, 0, 600, 400);
    sw_layout layout = make(&openings, &openings);
    for (size_t i = 0; i < 6; i++) {
        const sw_panel *const p = &layout.panels[i];
        size_t n_over = 0;
        for (size_t a = 0; a < p->marks.n; a++) {
            for (size_t b = 0; b < p->marks.n; b++) {
                const sw_pt_mm at = wall_middle(p, a), other = wall_middle(p, b);
                const double x = 2 * p->origin.x_mm + p->width_mm - at.x_mm, y = 2 * p->origin.y_mm + p->height_mm - at.y_mm;
                n_over += hypot(x - other.x_mm, y - other.y_mm) < 5;
            }
        }
        assert_true(n_over < p->marks.n);
        for (size_t a = 0; a < p->marks.n; a++) { /* clear of the openings: outside the art by min-web at least */
            const sw_contour_measure m = sw_contour_measure_one(&p->marks.at[a]);
            assert_true(m.max.x_mm <= 35 + 1e-9 || m.min.x_mm >= p->width_mm - 35 - 1e-9 || m.max.y_mm <= 35 + 1e-9 ||
                        m.min.y_mm >= p->height_mm - 35 - 1e-9);
        }
    }
    sw_layout_free(&layout);
    sw_contours_free(&openings);
}

static void passes_split_differently_share_marks_around_the_artwork(void **state)
{
    (void)state;
    sw_contours openings = { 0 };
    add_box(&openings, 0, 0, 600, 400);
    sw_rect_px other[] = { { 0, 0, 260, 240 },   { 260, 0, 150, 240 },   { 410, 0, 190, 240 },
                           { 0, 240, 260, 160 }, { 260, 240, 150, 160 }, { 410, 240, 190, 160 } };
    const sw_windows second = { other, 6 };
    const sw_layout_sheet sheets[] = { { .pass = 1, .openings = &openings, .windows = &windows },
                                       { .pass = 2, .openings = &openings, .windows = &second } };
    sw_layout_opts opts = plain;
    opts.is_staggered = true;
    sw_layout layout = { 0 };
    assert_int_equal(sw_layout_make(&grid, sheets, 2, &opts, &layout, NULL), SW_OK);
    assert_int_equal(layout.n_panels, 12);
    for (size_t i = 6; i < 12; i++) { /* corner panels have two of pass 1's marks at least, middle ones one */
        size_t n = 0;
        for (size_t k = 0; k < layout.panels[i].marks.n; k++) {
            const sw_pt_mm a = wall_middle(&layout.panels[i], k);
            bool is_common = false;
            for (size_t p = 0; p < 6; p++) {
                for (size_t q = 0; q < layout.panels[p].marks.n; q++) {
                    const sw_pt_mm b = wall_middle(&layout.panels[p], q);
                    is_common = is_common || hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm) < 1e-6;
                }
            }
            n += is_common;
        }
        assert_true(n >= (i == 7 || i == 10 ? 1 : 2));
    }
    sw_layout_free(&layout);
    sw_contours_free(&openings);
}

static void a_slip_over_a_seam_is_dropped_and_counted(void **state)
{
    (void)state;
    sw_contours openings = { 0 };
    add_box(&openings, 100, 50, 110.3, 100); /* swings 0.3 mm over the seam at 210 */
    sw_layout layout = make(&openings, &openings);
    assert_int_equal(layout.n_panels, 2);
    assert_int_equal(layout.n_slivers, 2);
    assert_string_equal(layout.panels[0].name, "A1");
    sw_layout_free(&layout);
    sw_contours_free(&openings);
}

static void windows_that_are_no_rows_and_columns_are_refused(void **state)
{
    (void)state;
    sw_contours openings = { 0 };
    add_box(&openings, 0, 0, 600, 400);
    sw_rect_px three[] = { { 0, 0, 300, 200 }, { 300, 0, 300, 200 }, { 0, 200, 600, 200 } };
    sw_rect_px large[] = { { 0, 0, 300, 400 }, { 300, 0, 301, 400 } };
    const sw_windows bad[] = { { three, 3 }, { large, 2 } };
    for (size_t i = 0; i < SW_ARRAY_LEN(bad); i++) {
        const sw_layout_sheet sheet = { .pass = 1, .openings = &openings, .windows = &bad[i] };
        sw_layout layout = { 0 };
        assert_int_equal(sw_layout_make(&grid, &sheet, 1, &plain, &layout, NULL), SW_BAD_LENGTH);
    }
    sw_contours_free(&openings);
}

static void panels_are_the_same_for_any_number_of_threads(void **state)
{
    (void)state;
    sw_contours openings = { 0 };
    for (int i = 0; i < 40; i++) add_box(&openings, 7 + 14 * i, 5 + 9 * i, 40, 27);
    sw_layout first = { 0 };
    for (int threads = 1; threads <= 7; threads += 3) {
        sw_threads_set(threads);
        sw_layout layout = make(&openings, &openings);
        if (threads == 1) {
            first = layout;
            continue;
        }
        assert_int_equal(first.n_panels, layout.n_panels);
        for (size_t i = 0; i < first.n_panels; i++) {
            const sw_contours *const a = &first.panels[i].openings, *const b = &layout.panels[i].openings;
            assert_int_equal(a->n, b->n);
            for (size_t k = 0; k < a->n; k++) {
                assert_int_equal(a->at[k].n_segs, b->at[k].n_segs);
                assert_memory_equal(a->at[k].segs, b->at[k].segs, a->at[k].n_segs * sizeof *a->at[k].segs);
            }
            assert_int_equal(first.panels[i].n_strokes, layout.panels[i].n_strokes);
        }
        sw_layout_free(&layout);
    }
    sw_threads_set(0);
    sw_layout_free(&first);
    sw_contours_free(&openings);
}

static void panels_without_memory_are_told_and_freed(void **state)
{
    (void)state;
    sw_contours openings = { 0 };
    add_box(&openings, 50, 50, 400, 20);
    const sw_layout_sheet sheet = { .pass = 1, .openings = &openings, .windows = &windows };
    const size_t live = sw_alloc_fail_at(0);
    sw_status st = SW_NO_MEMORY;
    sw_threads_set(1);
    for (size_t nth = 1; st != SW_OK; nth++) {
        sw_layout layout = { 0 };
        sw_note note = { 0 };
        sw_alloc_fail_at(nth);
        st = sw_layout_make(&grid, &sheet, 1, &plain, &layout, &note);
        sw_alloc_fail_at(0);
        assert_true(st == SW_OK || (st == SW_NO_MEMORY && note.text[0] != '\0' && layout.panels == NULL));
        sw_layout_free(&layout);
        assert_int_equal(sw_alloc_fail_at(0), live);
    }
    sw_threads_set(0);
    sw_contours_free(&openings);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_opening_goes_on_to_the_same_seam_in_both_panels),
        cmocka_unit_test(panels_are_named_by_row_and_column_and_empty_ones_left_out),
        cmocka_unit_test(names_run_past_z),
        cmocka_unit_test(marks_agree_between_passes_and_neighbours_share_them),
        cmocka_unit_test(marks_of_a_turned_panel_miss_those_on_the_wall),
        cmocka_unit_test(passes_split_differently_share_marks_around_the_artwork),
        cmocka_unit_test(a_slip_over_a_seam_is_dropped_and_counted),
        cmocka_unit_test(windows_that_are_no_rows_and_columns_are_refused),
        cmocka_unit_test(panels_are_the_same_for_any_number_of_threads),
        cmocka_unit_test(panels_without_memory_are_told_and_freed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
