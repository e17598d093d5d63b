/* Copies that are left out: which, what stands in for them, what is drawn. */
#include "layout/parts.h"
#include "support.h"

#include <math.h>
#include <string.h>

#define PI 3.14159265358979323846

/* A boot: no turn and no flip of it is itself. Its heel is at (x, y) before the turn. */
static void add_boot(sw_contours *list, double x, double y, double turn_rad, bool is_mirrored)
{
    static const double at[][2] = { { 0, 0 }, { 30, 0 }, { 30, 60 }, { 70, 66 }, { 70, 90 }, { 0, 90 } };
    sw_contour c = { 0 };
    for (size_t k = 0; k <= SW_ARRAY_LEN(at); k++) {
        const size_t n = SW_ARRAY_LEN(at), i = is_mirrored ? (n - k) % n : k % n;
        const double px = is_mirrored ? -at[i][0] : at[i][0], py = at[i][1];
        const sw_pt_mm p = { x + px * cos(turn_rad) - py * sin(turn_rad), y + px * sin(turn_rad) + py * cos(turn_rad) };
        if (k == 0) c.start = p;
        else assert_true(sw_contour_add_line(&c, k == n ? c.start : p));
    }
    assert_int_equal(sw_contours_take(list, &c, NULL), SW_OK);
}

static const sw_grid grid = { 1000, 400, 1.0 };
static const sw_layout_opts opts = { .frame_mm = 40, .min_web_mm = 5, .min_opening_mm = 3 };

/* Lay the openings out with their repeats; windows may be NULL. */
static sw_status lay_out(const sw_contours *openings, const sw_windows *windows, double kerf_mm, sw_layout *out)
{
    sw_repeats repeats = { 0 };
    sw_status st = sw_repeats_find(openings, 0.5, 10, &repeats, NULL);
    sw_layout_sheet sheet = { .pass = 1, .openings = openings, .windows = windows, .reuse = &repeats };
    sw_layout_opts with_kerf = opts;
    with_kerf.kerf_mm = kerf_mm;
    if (st == SW_OK) st = sw_layout_make(&grid, &sheet, 1, &with_kerf, out, NULL);
    sw_repeats_free(&repeats);
    return st;
}

static bool is_same_box(const sw_contour *a, const sw_contour *b, double dx, double dy)
{
    const sw_contour_measure m = sw_contour_measure_one(a), n = sw_contour_measure_one(b);
    return fabs(m.min.x_mm + dx - n.min.x_mm) < 0.02 && fabs(m.min.y_mm + dy - n.min.y_mm) < 0.02 &&
           fabs(m.max.x_mm + dx - n.max.x_mm) < 0.02 && fabs(m.area_mm2 - n.area_mm2) < 1.0;
}

static void copies_are_not_cut_and_stand_where_they_were(void **state)
{
    (void)state;
    for (int is_mirrored = 0; is_mirrored < 2; is_mirrored++) {
        for (int turn = 0; turn < 7; turn++) {
            sw_contours list = { 0 };
            sw_layout layout = { 0 };
            add_boot(&list, 100, 100, 0, false);
            add_boot(&list, 500, 200, turn * 0.9, is_mirrored);
            assert_int_equal(lay_out(&list, NULL, 0, &layout), SW_OK);
            const sw_panel *const panel = &layout.panels[0];
            assert_int_equal(panel->openings.n, 1);
            assert_int_equal(panel->placed.n, 1);
            assert_int_equal(panel->n_placings, 1);
            assert_int_equal(layout.n_reused, 1);
            assert_true(is_same_box(&panel->openings.at[0], &list.at[0], -40, -40));
            assert_true(is_same_box(&panel->placed.at[0], &list.at[1], -40, -40));
            assert_true(fabs(panel->open_area_mm2 - sw_contours_measure(&list).area_mm2) < 1.0);
            assert_true(fabs(layout.reused[0].cut_mm - sw_contour_measure_one(&list.at[1]).length_mm) < 1e-9);
            assert_int_equal(layout.reused[0].is_mirrored, is_mirrored);
            sw_layout_free(&layout);
            sw_contours_free(&list);
        }
    }
}

/* Three panels; the seams are at 300 and 650. */
static void what_a_seam_meets_is_cut(void **state)
{
    (void)state;
    sw_rect_px at[] = { { 0, 0, 300, 400 }, { 300, 0, 350, 400 }, { 650, 0, 350, 400 } };
    const sw_windows windows = { at, 3 };
    sw_contours list = { 0 };
    sw_layout layout = { 0 };
    add_boot(&list, 40, 40, 0, false);
    add_boot(&list, 160, 250, 0, false); /* in the original's panel */
    add_boot(&list, 270, 40, 0, false);  /* across the first seam */
    add_boot(&list, 450, 40, 0, false);  /* in the second panel, beside what is left of the third boot */
    add_boot(&list, 800, 40, 0, false);  /* all there is in the third panel: it stays */
    assert_int_equal(lay_out(&list, &windows, 0, &layout), SW_OK);
    assert_int_equal(layout.n_panels, 3);
    assert_int_equal(layout.n_reused, 2);
    assert_int_equal(layout.panels[0].openings.n, 2);
    assert_int_equal(layout.panels[0].placed.n, 1);
    assert_int_equal(layout.panels[1].openings.n, 1);
    assert_int_equal(layout.panels[1].placed.n, 1);
    assert_int_equal(layout.panels[2].openings.n, 1);
    assert_int_equal(layout.panels[2].placed.n, 0);
    assert_string_equal(layout.reused[1].from_panel, "A1");
    assert_string_equal(layout.reused[1].at_panel, "A2");
    assert_true(layout.reused[0].number == 1 && layout.reused[1].number == 1);
    sw_layout_free(&layout);
    sw_contours_free(&list);
}

static void the_kerf_is_allowed_for_in_what_is_placed(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    sw_layout layout = { 0 };
    add_boot(&list, 100, 100, 0, false);
    add_boot(&list, 500, 200, 1.0, true);
    assert_int_equal(lay_out(&list, NULL, 1.0, &layout), SW_OK);
    const double cut = sw_contour_measure_one(&layout.panels[0].openings.at[0]).area_mm2;
    const double placed = sw_contour_measure_one(&layout.panels[0].placed.at[0]).area_mm2;
    assert_true(cut > 0.0 && fabs(cut - placed) < 1.0);
    assert_true(placed < sw_contour_measure_one(&list.at[1]).area_mm2 - 0.4 * sw_contour_measure_one(&list.at[1]).length_mm);
    sw_layout_free(&layout);
    sw_contours_free(&list);
}

/* Every line that is drawn lies in material: within the panel and in no opening. */
static bool is_in(const sw_contour *c, sw_pt_mm p)
{
    bool is_inside = false;
    sw_pt_mm a = c->start;
    for (size_t i = 0; i < c->n_segs; a = c->segs[i++].end) {
        const sw_pt_mm b = c->segs[i].end;
        if ((a.y_mm > p.y_mm) != (b.y_mm > p.y_mm) &&
            p.x_mm < a.x_mm + (p.y_mm - a.y_mm) / (b.y_mm - a.y_mm) * (b.x_mm - a.x_mm))
            is_inside = !is_inside;
    }
    return is_inside;
}

static void places_are_drawn_on_material(void **state)
{
    (void)state;
    for (int step = 0; step < 12; step++) {
        sw_contours list = { 0 };
        sw_layout layout = { 0 };
        add_boot(&list, 100, 100, 0, false);
        add_boot(&list, 500, 200, 0.5 * step, step % 2);
        sw_contour other = { .start = { 165 + 3 * step, 120 } }; /* comes nearer to the original's ticks */
        assert_true(sw_contour_add_line(&other, (sw_pt_mm){ 260, 118 }) && sw_contour_add_line(&other, (sw_pt_mm){ 250, 190 }));
        assert_true(sw_contour_add_line(&other, other.start));
        assert_int_equal(sw_contours_take(&list, &other, NULL), SW_OK);
        assert_int_equal(lay_out(&list, NULL, 0, &layout), SW_OK);
        const sw_panel *const panel = &layout.panels[0];
        size_t n_inner = 0;
        for (size_t s = 0; s < panel->n_strokes; s++) {
            for (size_t i = 0; i < panel->strokes[s].n; i++) {
                const sw_pt_mm p = panel->strokes[s].at[i];
                assert_true(p.x_mm > 0 && p.y_mm > 0 && p.x_mm < panel->width_mm && p.y_mm < panel->height_mm);
                for (size_t k = 0; k < panel->openings.n; k++) assert_false(is_in(&panel->openings.at[k], p));
                n_inner += p.x_mm > 40 && p.y_mm > 40 && p.x_mm < panel->width_mm - 40 && p.y_mm < panel->height_mm - 40;
            }
        }
        assert_true(n_inner > 80); /* dashes, cross, ticks, number */
        sw_layout_free(&layout);
        sw_contours_free(&list);
    }
}

static void every_failing_allocation_is_survived(void **state)
{
    (void)state;
    sw_contours list = { 0 };
    add_boot(&list, 100, 100, 0, false);
    add_boot(&list, 500, 200, 1.0, true);
    const size_t live = sw_alloc_fail_at(0);
    sw_status st = SW_NO_MEMORY;
    for (size_t nth = 1; st != SW_OK; nth++) {
        sw_layout layout = { 0 };
        sw_alloc_fail_at(nth);
        st = lay_out(&list, NULL, 0.2, &layout);
        sw_alloc_fail_at(0);
        assert_true(st == SW_OK || (st == SW_NO_MEMORY && layout.panels == NULL));
        sw_layout_free(&layout);
    }
    assert_int_equal(sw_alloc_fail_at(0), live);
    sw_contours_free(&list);
}

static void add_box(sw_contours *list, double x, double y, double width, double height)
{
    sw_contour c = { .start = { x, y } };
    const sw_pt_mm corners[] = { { x + width, y }, { x + width, y + height }, { x, y + height }, { x, y } };
    for (size_t k = 0; k < 4; k++) assert_true(sw_contour_add_line(&c, corners[k]));
    assert_int_equal(sw_contours_take(list, &c, NULL), SW_OK);
}

/* Neither the ends nor the middle of these lines lie over what is cut, but something between does. */
static void a_line_over_anything_cut_is_not_drawn(void **state)
{
    (void)state;
    sw_panel panel = { .width_mm = 100.0, .height_mm = 100.0 };
    sw_pen pen = { .panel = &panel };
    bool is_full = false;
    add_box(&panel.openings, 26.0, 10.0, 3.0, 30.0);
    add_box(&panel.marks, 70.0, 60.0, 3.0, 12.0);
    assert_true(sw_pen_is_clear(&pen, (sw_pt_mm){ 10, 50 }, (sw_pt_mm){ 90, 50 }, &is_full));
    assert_false(sw_pen_is_clear(&pen, (sw_pt_mm){ 10, 20 }, (sw_pt_mm){ 90, 20 }, &is_full));
    assert_false(sw_pen_is_clear(&pen, (sw_pt_mm){ 10, 65 }, (sw_pt_mm){ 90, 65 }, &is_full));
    assert_true(sw_pen_is_clear(&pen, (sw_pt_mm){ 10, 65 }, (sw_pt_mm){ 10, 65 }, &is_full));
    assert_false(sw_pen_is_clear(&pen, (sw_pt_mm){ 71, 65 }, (sw_pt_mm){ 71, 65 }, &is_full));
    assert_false(is_full);
    sw_pen_end(&pen);
    sw_contours_free(&panel.openings);
    sw_contours_free(&panel.marks);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(copies_are_not_cut_and_stand_where_they_were),
        cmocka_unit_test(what_a_seam_meets_is_cut),
        cmocka_unit_test(the_kerf_is_allowed_for_in_what_is_placed),
        cmocka_unit_test(places_are_drawn_on_material),
        cmocka_unit_test(every_failing_allocation_is_survived),
        cmocka_unit_test(a_line_over_anything_cut_is_not_drawn),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
