/* The wall: its file, placing worked by hand, and the map into a photograph. */
#include "support.h"

#include <math.h>

#include "wall/wall.h"

static sw_wall parse(const char *text)
{
    sw_wall wall = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_wall_parse(text, strlen(text), "shed.wall", &wall, &note), note);
    return wall;
}

static void assert_near(double value, double wanted, double within)
{
    if (!(fabs(value - wanted) <= within)) print_error("%.9g is not %.9g\n", value, wanted);
    assert_true(fabs(value - wanted) <= within);
}

static void a_wall_file_is_read(void **state)
{
    (void)state;
    sw_wall wall = parse("# boat shed\nwall 6.2m 310cm\nsurface render\nartwork 1.2m 0.4m\nclear 5cm\n"
                         "keep \"water tap\" 0.9m 0.3m 25cm 50cm\nkeep-shape vent 4m 2m 4.4m 2m 4.2m 2.4m\n"
                         "feature window 3.1m 1.9m 0.62 0.41\nphoto \"my shed.jpg\"\npoint 410 1620 0 0\n");
    assert_near(wall.width_mm, 6200, 1e-9);
    assert_near(wall.height_mm, 3100, 1e-9);
    assert_string_equal(sw_surface_at(wall.surface)->name, "render");
    assert_near(wall.art_left_mm, 1200, 1e-9);
    assert_int_equal(wall.n_areas, 2);
    assert_string_equal(wall.areas[0].name, "water tap");
    assert_near(wall.areas[0].at[2].y_mm, 800, 1e-9);
    assert_int_equal(wall.areas[1].n, 3);
    assert_near(wall.features[0].art_y_ratio, 0.41, 1e-12);
    assert_string_equal(wall.photo, "my shed.jpg");
    assert_near(wall.points[0].photo.y_px, 1620, 1e-9);
    sw_wall_free(&wall);
}

static void a_fault_names_its_line(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "", "wall 6m", "wall 6m 3m\nsurface glass", "wall 6m 3m\nkeep tap 1m 1m 1m", "wall 6m 3m\nkeep-shape v 1m 1m 2m 2m 3m",
        "wall 6m 3m\nfeature w 1m 1m 0.5", "wall 6m 3m\nfeature w 1m 1m 0.5 nan", "wall 6 parsecs 3m",
        "wall 6m 3m\nartwork inf 0", "wall 6m 3m\nhello", "wall 6m 3m\nkeep \"tap 1m 1m 1m 1m", "wall 0 3m",
    };
    for (size_t i = 0; i < SW_ARRAY_LEN(bad); i++) {
        sw_wall wall = { 0 };
        sw_note note = { 0 };
        assert_int_equal(sw_status_exit(sw_wall_parse(bad[i], strlen(bad[i]), "shed.wall", &wall, &note)), 2);
        assert_true(note.text[0] != '\0');
        assert_null(wall.areas);
    }
}

/* Worked by hand: the wall is 6 m x 3 m; the tap's rectangle is x 900..1150, y 300..800. */
static void clear_of_the_tap_by_its_gap(void **state)
{
    (void)state;
    sw_wall wall = parse("wall 6m 3m\nkeep tap 900 300 250 500\n");
    sw_placement p;
    sw_note note = { 0 };
    assert_ok(sw_wall_place(&wall, 1200, 400, 2100, 1400, &p, &note), note);
    assert_true(p.fits);
    assert_int_equal(p.worst.area, 0);
    assert_near(p.worst.gap_mm, 50, 1e-9); /* 1200 - 1150 */
    sw_wall_free(&wall);
}

static void over_the_tap_by_a_known_overlap(void **state)
{
    (void)state;
    sw_wall wall = parse("wall 6m 3m\nkeep tap 900 300 250 500\n");
    sw_placement p;
    sw_note note = { 0 };
    assert_ok(sw_wall_place(&wall, 1030, 400, 2100, 1400, &p, &note), note);
    assert_false(p.fits);
    assert_near(p.worst.gap_mm, -120, 1e-9); /* 1150 - 1030, less than 800 - 400 */
    assert_true(p.has_move);
    assert_near(p.move_left_mm, 1150, 1e-6); /* the least way: 120 to the right */
    assert_near(p.move_floor_mm, 400, 1e-6);
    sw_wall_free(&wall);
}

static void too_large_for_the_wall(void **state)
{
    (void)state;
    sw_wall wall = parse("wall 6m 3m\n");
    sw_placement p;
    sw_note note = { 0 };
    assert_ok(sw_wall_place(&wall, 0, 0, 6300, 4200, &p, &note), note);
    assert_false(p.fits);
    assert_false(p.has_move);
    assert_near(p.worst.gap_mm, -1200, 1e-9);         /* 3000 - 4200 */
    assert_near(p.largest_width_mm, 4500, 0.011);     /* 3000 x 3 / 2 */
    sw_wall_free(&wall);
}

static void the_largest_size_stands_beside_the_door(void **state)
{
    (void)state;
    /* a door 1 m wide in the middle of 6 m, to the ceiling: 2.5 m on either side, less 0.1 m clearance at each end */
    sw_wall wall = parse("wall 6m 3m\nclear 100mm\nkeep door 2500 0 1000 3000\n");
    sw_placement p;
    sw_note note = { 0 };
    assert_ok(sw_wall_place(&wall, 3000, 500, 3000, 2000, &p, &note), note);
    assert_false(p.fits);
    assert_false(p.has_move);
    assert_near(p.largest_width_mm, 2300, 0.011);
    assert_near(p.largest_left_mm, 3600, 0.02); /* right of the door: nearer to the wish */
    sw_wall_free(&wall);
}

static void a_slanted_area_is_kept_clear_of(void **state)
{
    (void)state;
    /* a stair: triangle with corners at floor left, floor right and up the right side; its slope is x + ... = 45 degrees */
    sw_wall wall = parse("wall 6m 3m\nkeep-shape stair 0 0 3m 0 0 3m\n");
    sw_placement p;
    sw_note note = { 0 };
    assert_ok(sw_wall_place(&wall, 2000, 1500, 1000, 800, &p, &note), note);
    assert_true(p.fits);
    assert_near(p.worst.gap_mm, 500 / sqrt(2.0), 1e-6); /* the corner (2000, 1500) to x + y = 3000 */
    assert_ok(sw_wall_place(&wall, 1200, 1500, 1000, 800, &p, &note), note);
    assert_near(p.worst.gap_mm, -300 / sqrt(2.0), 1e-6);
    assert_near(p.move_left_mm, 1350, 1e-3);
    assert_near(p.move_floor_mm, 1650, 1e-3);
    sw_wall_free(&wall);
}

static void an_exact_map_is_found_back(void **state)
{
    (void)state;
    /* worked by hand: u = (x + 100) / (1 + x / 1000), v = 500 - y / (1 + x / 1000) */
    sw_photo_point points[6];
    static const double xy[6][2] = { { 0, 0 }, { 1000, 0 }, { 1000, 800 }, { 0, 800 }, { 300, 500 }, { 700, 200 } };
    for (size_t i = 0; i < 6; i++) {
        const double w = 1 + xy[i][0] / 1000;
        points[i] = (sw_photo_point){ { (xy[i][0] + 100) / w, 500 - xy[i][1] / w }, { xy[i][0], xy[i][1] } };
    }
    for (size_t n = 4; n <= 6; n += 2) {
        sw_homography h;
        sw_note note = { 0 };
        double residual_mm[6];
        assert_ok(sw_homography_find(points, n, &h, residual_mm, &note), note);
        for (size_t i = 0; i < 6; i++) {
            double u, v;
            assert_true(sw_homography_map(&h, xy[i][0], xy[i][1], &u, &v));
            assert_near(u, points[i].photo.x_px, 1e-6);
            assert_near(v, points[i].photo.y_px, 1e-6);
            if (i < n) assert_near(residual_mm[i], 0, 1e-5);
        }
    }
}

static void points_in_a_line_are_refused(void **state)
{
    (void)state;
    sw_photo_point points[4] = { { { 0, 0 }, { 0, 0 } }, { { 10, 0 }, { 10, 0 } }, { { 20, 0 }, { 20, 0 } }, { { 0, 9 }, { 0, 9 } } };
    sw_homography h;
    sw_note note = { 0 };
    assert_int_equal(sw_homography_find(points, 4, &h, NULL, &note), SW_BAD_LENGTH);
    note = (sw_note){ 0 };
    assert_int_equal(sw_homography_find(points, 3, &h, NULL, &note), SW_BAD_LENGTH);
    points[2] = points[0];
    note = (sw_note){ 0 };
    assert_int_equal(sw_homography_find(points, 4, &h, NULL, &note), SW_BAD_LENGTH);
}

static void every_failing_allocation_is_survived(void **state)
{
    (void)state;
    static const char text[] = "wall 6m 3m\nkeep a 1 1 1 1\nkeep-shape b 1 1 2 2 3 1\nfeature f 1 1\npoint 1 1 1 1\n";
    const size_t live = sw_alloc_fail_at(0);
    sw_status st = SW_NO_MEMORY;
    for (size_t nth = 1; st != SW_OK && nth < 50; nth++) {
        sw_wall wall = { 0 };
        sw_alloc_fail_at(nth);
        st = sw_wall_parse(text, sizeof text - 1, "w", &wall, NULL);
        sw_wall_free(&wall);
        assert_int_equal(sw_alloc_fail_at(0), live);
    }
    assert_int_equal(st, SW_OK);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_wall_file_is_read),
        cmocka_unit_test(a_fault_names_its_line),
        cmocka_unit_test(clear_of_the_tap_by_its_gap),
        cmocka_unit_test(over_the_tap_by_a_known_overlap),
        cmocka_unit_test(too_large_for_the_wall),
        cmocka_unit_test(the_largest_size_stands_beside_the_door),
        cmocka_unit_test(a_slanted_area_is_kept_clear_of),
        cmocka_unit_test(an_exact_map_is_found_back),
        cmocka_unit_test(points_in_a_line_are_refused),
        cmocka_unit_test(every_failing_allocation_is_survived),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
