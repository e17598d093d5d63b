/* The artwork on the wall: painted into a scene, planned with its sheets, written into the job's page. */
#include "support.h"

#include <math.h>
#include <stdlib.h>
#include <unistd.h>

#include "wall/json.h"
#include "wall/wall.h"

/* A job of one pass that is a square hole of 400 mm in the middle of 1000 x 800 mm. */
static sw_wall_job square_job(sw_rgb8 paint)
{
    sw_wall_job job = { .width_mm = 1000, .height_mm = 800, .frame_mm = 40, .n_passes = 1, .n_cans = 2, .painting_minutes = 60 };
    sw_contour square = { .start = { 300, 200 } };
    job.paint[0] = paint;
    assert_true(sw_contour_add_line(&square, (sw_pt_mm){ 700, 200 }));
    assert_true(sw_contour_add_line(&square, (sw_pt_mm){ 700, 600 }));
    assert_true(sw_contour_add_line(&square, (sw_pt_mm){ 300, 600 }));
    assert_true(sw_contour_add_line(&square, (sw_pt_mm){ 300, 200 }));
    assert_int_equal(sw_contours_take(&job.openings[0], &square, NULL), SW_OK);
    return job;
}

static sw_rgb8 pixel(const sw_wall_scene *scene, double x_mm, double y_mm)
{
    double x, y;
    assert_true(sw_homography_map(&scene->to_photo, x_mm, y_mm, &x, &y));
    return scene->photo.at[(size_t)y * scene->photo.width_px + (size_t)x];
}

static void assert_colour(sw_rgb8 c, int r, int g, int b)
{
    if (abs(c.r - r) > 1 || abs(c.g - g) > 1 || abs(c.b - b) > 1) print_error("%d %d %d is not %d %d %d\n", c.r, c.g, c.b, r, g, b);
    assert_true(abs(c.r - r) <= 1 && abs(c.g - g) <= 1 && abs(c.b - b) <= 1);
}

/* A wall of 4 m x 3 m at 0.25 px/mm, the job at 1500 from the left, 1000 from the floor: its square then covers
 * x 1800..2200, y 1200..1600. */
static sw_wall_scene painted(sw_wall_job *job, sw_rgb8 wall_colour, bool is_photo, uint8_t *front)
{
    const sw_rect_mm place = { 1500, 1000, 1000, 800 };
    sw_wall wall = { .width_mm = 4000, .height_mm = 3000 };
    sw_wall_scene scene = { 0 };
    sw_wall_art art = { 0 };
    sw_note note = { { 0 } };
    assert_ok(sw_wall_scene_flat(4000, 3000, 0.25, wall_colour, &scene, &note), note);
    scene.is_drawn = !is_photo;
    scene.front = front;
    assert_true(fabs(sw_wall_scene_scale(&scene, place) - 0.25) < 1e-9);
    assert_ok(sw_wall_art_from_job(job, sw_wall_scene_scale(&scene, place), &art, &note), note);
    assert_ok(sw_wall_scene_paint(&scene, &wall, &art, place, &note), note);
    sw_wall_art_free(&art);
    return scene;
}

static void paint_lies_where_it_was_planned(void **state)
{
    (void)state;
    sw_wall_job job = square_job((sw_rgb8){ 200, 30, 40 });
    sw_wall_scene scene = painted(&job, (sw_rgb8){ 220, 210, 200 }, false, NULL);
    assert_colour(pixel(&scene, 2000, 1400), 200, 30, 40);
    assert_colour(pixel(&scene, 1806, 1206), 200, 30, 40);
    assert_colour(pixel(&scene, 2194, 1594), 200, 30, 40);
    assert_colour(pixel(&scene, 1786, 1400), 220, 210, 200);
    assert_colour(pixel(&scene, 2214, 1400), 220, 210, 200);
    assert_colour(pixel(&scene, 2000, 1186), 220, 210, 200);
    assert_colour(pixel(&scene, 2000, 1614), 220, 210, 200);
    sw_wall_scene_free(&scene);
    sw_wall_job_free(&job);
}

static void light_on_the_wall_falls_on_the_paint(void **state)
{
    (void)state;
    /* the right half of the wall lies in shade: half the light (sRGB 188 is half of 255 in linear light) */
    const sw_rect_mm place = { 1500, 1000, 1000, 800 };
    sw_wall wall = { .width_mm = 4000, .height_mm = 3000 };
    sw_wall_job job = square_job((sw_rgb8){ 255, 255, 255 });
    sw_wall_scene scene = { 0 };
    sw_wall_art art = { 0 };
    sw_note note = { { 0 } };
    assert_ok(sw_wall_scene_flat(4000, 3000, 0.25, (sw_rgb8){ 160, 160, 160 }, &scene, &note), note);
    const uint8_t shaded = sw_srgb8_from_linear(0.5f * sw_linear_from_srgb8(160));
    for (size_t i = 0; i < scene.photo.width_px * scene.photo.height_px; i++) {
        if (i % scene.photo.width_px >= 500) scene.photo.at[i] = (sw_rgb8){ shaded, shaded, shaded };
    }
    scene.is_drawn = false;
    assert_ok(sw_wall_art_from_job(&job, 0.25, &art, &note), note);
    assert_ok(sw_wall_scene_paint(&scene, &wall, &art, place, &note), note);
    const int half = sw_srgb8_from_linear(0.5f);
    assert_true(abs(pixel(&scene, 1900, 1400).g - 255) <= 2);
    assert_true(abs(pixel(&scene, 2100, 1400).g - half) <= 3);
    assert_colour(pixel(&scene, 1600, 1400), 160, 160, 160);
    sw_wall_art_free(&art);
    sw_wall_scene_free(&scene);
    sw_wall_job_free(&job);
}

static void paint_hides_a_stain_and_keeps_the_shadow_over_it(void **state)
{
    (void)state;
    /* rust on the upper half of the wall's middle, a shadow over the right half of everything */
    const sw_rect_mm place = { 1500, 1000, 1000, 800 };
    sw_wall wall = { .width_mm = 4000, .height_mm = 3000 };
    sw_wall_job job = square_job((sw_rgb8){ 255, 255, 255 });
    sw_wall_scene scene = { 0 };
    sw_wall_art art = { 0 };
    sw_note note = { { 0 } };
    assert_ok(sw_wall_scene_flat(4000, 3000, 0.25, (sw_rgb8){ 170, 165, 150 }, &scene, &note), note);
    for (size_t y = 0; y < scene.photo.height_px; y++) {
        for (size_t x = 0; x < scene.photo.width_px; x++) {
            const bool is_rusty = y < 400 && x > 470 && x < 530, is_shaded = x >= 500;
            const float light = is_shaded ? 0.5f : 1.0f, rust[3] = { is_rusty ? 0.8f : 1.0f, is_rusty ? 0.5f : 1.0f, is_rusty ? 0.25f : 1.0f };
            sw_rgb8 *const at = &scene.photo.at[y * scene.photo.width_px + x];
            *at = (sw_rgb8){ sw_srgb8_from_linear(light * rust[0] * sw_linear_from_srgb8(at->r)),
                             sw_srgb8_from_linear(light * rust[1] * sw_linear_from_srgb8(at->g)),
                             sw_srgb8_from_linear(light * rust[2] * sw_linear_from_srgb8(at->b)) };
        }
    }
    scene.is_drawn = false;
    assert_ok(sw_wall_art_from_job(&job, 0.25, &art, &note), note);
    assert_ok(sw_wall_scene_paint(&scene, &wall, &art, place, &note), note);
    const int half = sw_srgb8_from_linear(0.5f);
    assert_true(abs(pixel(&scene, 1850, 1450).g - 255) <= 2); /* beside the rust */
    assert_true(abs(pixel(&scene, 1910, 1450).g - 255) <= 6); /* over it */
    assert_true(abs(pixel(&scene, 2090, 1450).g - half) <= 8);
    assert_true(abs(pixel(&scene, 1960, 1450).g - pixel(&scene, 2040, 1450).g) > 30); /* the shadow goes on through it */
    sw_wall_art_free(&art);
    sw_wall_scene_free(&scene);
    sw_wall_job_free(&job);
}

static void what_stands_in_front_is_not_painted(void **state)
{
    (void)state;
    sw_wall_job job = square_job((sw_rgb8){ 200, 30, 40 });
    uint8_t *const front = sw_alloc_array(1000u * 750u, 1);
    for (size_t i = 0; i < 1000u * 750u; i++) front[i] = i % 1000u < 500u ? 255 : 0;
    sw_wall_scene scene = painted(&job, (sw_rgb8){ 220, 210, 200 }, false, front);
    assert_colour(pixel(&scene, 1950, 1400), 220, 210, 200);
    assert_colour(pixel(&scene, 2050, 1400), 200, 30, 40);
    sw_wall_scene_free(&scene);
    sw_wall_job_free(&job);
}

static void a_later_pass_covers_an_earlier_one_without_a_seam(void **state)
{
    (void)state;
    sw_wall_job job = square_job((sw_rgb8){ 10, 10, 10 });
    sw_wall_job other = square_job((sw_rgb8){ 0, 0, 0 });
    job.openings[1] = other.openings[0];
    other.openings[0] = (sw_contours){ 0 };
    sw_contours_shift(&job.openings[1], 171.3, 0.0); /* its left edge lies inside a pixel of the first pass */
    job.n_passes = 2;
    job.paint[1] = (sw_rgb8){ 10, 10, 10 };
    sw_wall_scene scene = painted(&job, (sw_rgb8){ 250, 250, 250 }, false, NULL);
    for (double x = 1806; x < 2360; x += 1) assert_colour(pixel(&scene, x, 1400), 10, 10, 10);
    sw_wall_scene_free(&scene);
    sw_wall_job_free(&job);
    sw_wall_job_free(&other);
}

static void any_number_of_threads_paints_the_same(void **state)
{
    (void)state;
    sw_picture first = { 0 };
    for (int n = 1; n <= 7; n += 3) {
        sw_threads_set(n);
        sw_wall_job job = square_job((sw_rgb8){ 200, 30, 40 });
        sw_wall_scene scene = painted(&job, (sw_rgb8){ 220, 210, 200 }, true, NULL);
        if (first.at == NULL) {
            first = scene.photo;
            scene.photo = (sw_picture){ 0 };
        } else {
            assert_memory_equal(first.at, scene.photo.at, first.width_px * first.height_px * sizeof *first.at);
        }
        sw_wall_scene_free(&scene);
        sw_wall_job_free(&job);
    }
    sw_threads_set(0);
    sw_picture_free(&first);
}

static void a_place_outside_the_photograph_is_refused(void **state)
{
    (void)state;
    sw_wall wall = { .width_mm = 4000, .height_mm = 3000 };
    sw_wall_job job = square_job((sw_rgb8){ 200, 30, 40 });
    sw_wall_scene scene = { 0 };
    sw_wall_art art = { 0 };
    sw_note note = { { 0 } };
    assert_ok(sw_wall_scene_flat(4000, 3000, 0.1, (sw_rgb8){ 1, 2, 3 }, &scene, &note), note);
    assert_ok(sw_wall_art_from_job(&job, 0.1, &art, &note), note);
    assert_int_equal(sw_wall_scene_paint(&scene, &wall, &art, (sw_rect_mm){ 9000, 0, 1000, 800 }, &note), SW_BAD_LENGTH);
    sw_wall_art_free(&art);
    sw_wall_scene_free(&scene);
    sw_wall_job_free(&job);
}

static void the_person_is_as_tall_as_it_says(void **state)
{
    (void)state;
    sw_wall wall = { .width_mm = 6000, .height_mm = 3000 };
    const sw_rect_mm place = { 500, 800, 2000, 1500 };
    sw_wall_scene scene = { 0 };
    sw_note note = { { 0 } };
    assert_ok(sw_wall_scene_flat(6000, 3000, 0.2, (sw_rgb8){ 240, 240, 240 }, &scene, &note), note);
    assert_true(sw_wall_scene_person(&scene, &wall, place));
    /* the figure is the only dark thing right of the artwork: its column of dark pixels is 1.7 m */
    double top = 0;
    for (double y = 1740; y > 0 && top == 0; y -= 1) {
        for (double x = 2650; x < 3230; x += 5) {
            if (pixel(&scene, x, y).g < 60) top = y;
        }
    }
    if (!(fabs(top - 1700) < 12)) print_error("dark from %g mm\n", top);
    assert_true(fabs(top - 1700) < 12);
    sw_wall narrow = { .width_mm = 600, .height_mm = 3000 };
    assert_false(sw_wall_scene_person(&scene, &narrow, place)); /* no room */
    sw_wall_scene_free(&scene);
}

static sw_wall parse(const char *text)
{
    sw_wall wall = { 0 };
    sw_note note = { { 0 } };
    assert_ok(sw_wall_parse(text, strlen(text), "w", &wall, &note), note);
    return wall;
}

static void snapping_puts_the_point_on_the_feature(void **state)
{
    (void)state;
    sw_wall wall = parse("wall 6m 3m\nfeature window 3.1m 1.9m 0.62 0.41\nartwork 0 0\n");
    sw_wall_plan plan;
    sw_note note = { { 0 } };
    const sw_wall_wish wish = { .width_mm = 2000, .height_mm = 1500, .snap = "window" };
    assert_ok(sw_wall_plan_make(&wall, NULL, &wish, &plan, &note), note);
    assert_true(fabs(plan.place.x_mm - (3100 - 0.62 * 2000)) < 1e-9);
    assert_true(fabs(plan.place.y_mm - (1900 - (1 - 0.41) * 1500)) < 1e-9);
    assert_true(plan.fits);
    sw_wall_plan_free(&plan);
    const sw_wall_wish wrong = { .width_mm = 2000, .height_mm = 1500, .snap = "door" };
    assert_int_equal(sw_wall_plan_make(&wall, NULL, &wrong, &plan, &note), SW_BAD_USAGE);
    assert_non_null(strstr(note.text, "window"));
    sw_wall_free(&wall);
}

static void a_sheet_over_the_tap_is_named(void **state)
{
    (void)state;
    /* the artwork keeps 30 mm from the tap, but its sheet has a frame of 40 mm */
    sw_wall wall = parse("wall 6m 3m\nclear 20mm\nkeep tap 900 300 100 500\nartwork 1030 500\n");
    sw_wall_job job = square_job((sw_rgb8){ 0, 0, 0 });
    sw_wall_panel panels[2] = { { "A1", 1, { -40, -40, 580, 880 } }, { "A2", 1, { 460, -40, 580, 880 } } };
    job.panels = panels;
    job.n_panels = 2;
    sw_wall_plan plan;
    sw_note note = { { 0 } };
    const sw_wall_wish wish = { .width_mm = 1000, .height_mm = 800 };
    assert_ok(sw_wall_plan_make(&wall, &job, &wish, &plan, &note), note);
    assert_int_equal(plan.n_misses, 0);
    assert_int_equal(plan.n_panels, 1);
    assert_int_equal(plan.panels[0].panel, 0);
    assert_true(fabs(plan.panels[0].miss.gap_mm + 10) < 1e-9);
    assert_false(plan.fits);
    assert_true(fabs(plan.placement.move_left_mm - 1040) < 1e-6); /* room for the frame */
    sw_text text = { 0 };
    sw_wall_plan_report(&plan, "x.png", NULL, &text);
    assert_non_null(strstr(text.data, "the panel A1 of pass 1 would lie 10 mm over tap"));
    sw_text_free(&text);
    sw_wall_plan_free(&plan);
    job.panels = NULL;
    sw_wall_job_free(&job);
    sw_wall_free(&wall);
}

static void a_rough_wall_asks_for_more(void **state)
{
    (void)state;
    sw_wall wall = parse("wall 6m 3m\nsurface brick\n");
    sw_wall_job job = square_job((sw_rgb8){ 0, 0, 0 });
    job.min_opening_mm = 3;
    job.min_web_mm = 5;
    sw_wall_plan plan;
    sw_note note = { { 0 } };
    const sw_wall_wish wish = { .width_mm = 1000, .height_mm = 800 };
    assert_ok(sw_wall_plan_make(&wall, &job, &wish, &plan, &note), note);
    sw_text text = { 0 };
    sw_wall_plan_report(&plan, "x.png", NULL, &text);
    assert_non_null(strstr(text.data, "cut with --surface brick, openings of 6 mm and webs of 7.5 mm (common practice, no source)"));
    assert_non_null(strstr(text.data, "paint about 4 cans instead of 2, painting 1.5 h instead of 1 h"));
    sw_text_free(&text);
    sw_wall_plan_free(&plan);
    sw_wall_job_free(&job);
    sw_wall_free(&wall);
}

static void a_broken_record_is_no_job(void **state)
{
    (void)state;
    static const char *const bad[] = { "", "{", "[", "{\"a\":", "{\"a\":\"", "{\"a\":1", "{\"a\\", "{\"b\":2,}", "{\"a\" 1}", "{,\"a\":1}" };
    for (size_t i = 0; i < SW_ARRAY_LEN(bad); i++) {
        const json root = { bad[i], bad[i] + strlen(bad[i]) };
        json value;
        double v;
        assert_false(json_member(root, "z", &value));
        assert_false(json_first(root, &value) && json_number(value, &v));
    }
    static const char zero[] = "{\"x\":[\0],\"a\":1}"; /* a 0 byte outside a string is no value */
    const json with_zero = { zero, zero + sizeof zero - 1 };
    json found;
    assert_false(json_member(with_zero, "a", &found));
    static const char good[] = "{\"x\":{\"a\":[1,2]},\"y\" : [ \"q\\\"r\", -2.5 ] ,\"a\":3}";
    const json root = { good, good + sizeof good - 1 };
    json value, element;
    double v;
    char text[8];
    assert_true(json_member(root, "a", &value) && json_number(value, &v) && v == 3.0);
    assert_true(json_member(root, "y", &value) && json_first(value, &element) && json_string(element, text, sizeof text));
    assert_string_equal(text, "q\"r");
    assert_true(json_next(&element) && json_number(element, &v) && v == -2.5);
    assert_false(json_next(&element));
}

static void a_jpeg_reads_back(void **state)
{
    (void)state;
    sw_picture picture = { 0 }, back = { 0 };
    sw_text jpeg = { 0 };
    sw_note note = { { 0 } };
    assert_ok(sw_picture_make(400, 300, (sw_rgb8){ 180, 90, 60 }, &picture, &note), note);
    for (size_t i = 0; i < 400u * 300u; i++) picture.at[i].g = (uint8_t)(i % 400u / 2u);
    assert_ok(sw_write_jpeg(&picture, 90, &jpeg, &note), note);
    assert_ok(sw_picture_read_memory((const uint8_t *)jpeg.data, jpeg.size, "x.jpg", NULL, &back, &note), note);
    assert_int_equal(back.width_px, 400);
    for (size_t i = 0; i < 400u * 300u; i += 97) assert_true(abs(back.at[i].g - picture.at[i].g) < 12);
    sw_text_free(&jpeg);
    sw_picture_free(&picture);
    sw_picture_free(&back);
}

static void the_page_takes_the_picture_and_takes_another(void **state)
{
    (void)state;
    char dir[] = "/tmp/sw_page_XXXXXX", path[64];
    assert_non_null(mkdtemp(dir));
    snprintf(path, sizeof path, "%s/job.html", dir);
    static const char page[] = "<main>before" SW_HTML_WALL_BEGIN SW_HTML_WALL_END "after</main>";
    sw_note note = { { 0 } };
    assert_ok(sw_file_write(path, true, page, sizeof page - 1, &note), note);
    sw_text one = { 0 }, two = { 0 };
    sw_text_add(&one, "foobar");
    sw_text_add(&two, "fooba");
    assert_ok(sw_wall_page_add(dir, &one, (sw_rect_mm){ 1200, 400, 1, 1 }, "a < b", &note), note);
    assert_ok(sw_wall_page_add(dir, &two, (sw_rect_mm){ 1300, 400, 1, 1 }, "again", &note), note);
    uint8_t *bytes = NULL;
    size_t n = 0;
    assert_ok(sw_file_read(path, 100000, &bytes, &n, &note), note);
    sw_text text = { 0 };
    sw_text_add_bytes(&text, bytes, n);
    assert_non_null(strstr(text.data, "base64,Zm9vYmE=\"")); /* RFC 4648, 10 */
    assert_null(strstr(text.data, "Zm9vYmFy"));
    assert_non_null(strstr(text.data, "data-left=\"1300\""));
    assert_true(strncmp(text.data, "<main>before", 12) == 0);
    assert_string_equal(text.data + text.size - 12, "after</main>");
    assert_int_equal(sw_wall_page_add("/nowhere", &one, (sw_rect_mm){ 0 }, "", &note), SW_BAD_FILE);
    sw_text_free(&text);
    sw_text_free(&one);
    sw_text_free(&two);
    sw_free(bytes);
    unlink(path);
    rmdir(dir);
}

static sw_status once(const char *wall_text)
{
    const sw_rect_mm place = { 1500, 1000, 1000, 800 };
    sw_wall wall = { 0 };
    sw_wall_job job = { .width_mm = 1000, .height_mm = 800, .n_passes = 1 };
    sw_wall_scene scene = { 0 };
    sw_wall_art art = { 0 };
    sw_wall_plan plan = { 0 };
    const sw_wall_wish wish = { .width_mm = 1000, .height_mm = 800, .snap = "f" };
    sw_status st = sw_wall_parse(wall_text, strlen(wall_text), "w", &wall, NULL);
    if (st == SW_OK) st = sw_wall_plan_make(&wall, &job, &wish, &plan, NULL);
    if (st == SW_OK) st = sw_wall_scene_read(&wall, "w", &scene, NULL);
    if (st == SW_OK) st = sw_wall_art_from_job(&job, 0.1, &art, NULL);
    if (st == SW_OK) st = sw_wall_scene_paint(&scene, &wall, &art, place, NULL);
    sw_wall_plan_free(&plan);
    sw_wall_scene_free(&scene);
    sw_wall_art_free(&art);
    sw_wall_job_free(&job);
    sw_wall_free(&wall);
    return st;
}

static void every_failing_allocation_is_survived(void **state)
{
    (void)state;
    const size_t live = sw_alloc_fail_at(0);
    sw_status st = SW_NO_MEMORY;
    sw_threads_set(1);
    for (size_t nth = 1; st != SW_OK && nth < 400; nth++) {
        sw_alloc_fail_at(nth);
        st = once("wall 4m 3m\nkeep a 1 1 1 1\nfeature f 2000 1400\n");
        assert_true(st == SW_OK || st == SW_NO_MEMORY);
        assert_int_equal(sw_alloc_fail_at(0), live);
    }
    sw_threads_set(0);
    assert_int_equal(st, SW_OK);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(paint_lies_where_it_was_planned),
        cmocka_unit_test(light_on_the_wall_falls_on_the_paint),
        cmocka_unit_test(paint_hides_a_stain_and_keeps_the_shadow_over_it),
        cmocka_unit_test(what_stands_in_front_is_not_painted),
        cmocka_unit_test(a_later_pass_covers_an_earlier_one_without_a_seam),
        cmocka_unit_test(any_number_of_threads_paints_the_same),
        cmocka_unit_test(a_place_outside_the_photograph_is_refused),
        cmocka_unit_test(the_person_is_as_tall_as_it_says),
        cmocka_unit_test(snapping_puts_the_point_on_the_feature),
        cmocka_unit_test(a_sheet_over_the_tap_is_named),
        cmocka_unit_test(a_rough_wall_asks_for_more),
        cmocka_unit_test(a_broken_record_is_no_job),
        cmocka_unit_test(a_jpeg_reads_back),
        cmocka_unit_test(the_page_takes_the_picture_and_takes_another),
        cmocka_unit_test(every_failing_allocation_is_survived),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
