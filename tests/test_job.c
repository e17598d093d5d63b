/* The public interface: a job in ten lines of C, and what it promises when something is wrong. */
#include "support.h"

#include <math.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "job/bridges.h"

/* A PNG of dark rings on white, so that every pass has islands within islands. */
static void make_picture(const char *path)
{
    sw_picture picture = { 0 };
    sw_text png = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_picture_make(180, 120, (sw_rgb8){ 255, 255, 255 }, &picture, &note), note);
    for (size_t y = 0; y < 120; y++) {
        for (size_t x = 0; x < 180; x++) {
            const double d = hypot((double)x - 90.0, (double)y - 60.0) / 120.0;
            const uint8_t level = (d > 0.1 && d < 0.18) || (d > 0.26 && d < 0.34) ? 20 : d > 0.4 && d < 0.46 ? 130 : 255;
            picture.at[y * 180 + x] = (sw_rgb8){ level, level, level };
        }
    }
    assert_ok(sw_write_png(&picture, 0.0, &png, &note), note);
    assert_ok(sw_file_write(path, true, png.data, png.size, &note), note);
    sw_text_free(&png);
    sw_picture_free(&picture);
}

static int enter_folder(void **state)
{
    static char folder[] = "/tmp/sw-job-XXXXXX";
    if (mkdtemp(folder) == NULL || chdir(folder) != 0) return -1;
    *state = folder;
    make_picture("rings.png");
    return 0;
}

static int leave_folder(void **state)
{
    char command[64];
    snprintf(command, sizeof command, "rm -rf %s", (const char *)*state);
    return chdir("/") == 0 ? system(command) : -1;
}

static void ten_lines_of_c_make_a_job(void **state)
{
    (void)state;
    sw_note note = { 0 };
    sw_cut_opts opts = sw_cut_defaults();
    sw_job *job = NULL;
    opts.width_mm = 600.0;
    opts.n_passes = 2;
    sw_status st = sw_job_cut("rings.png", &opts, &job, &note);
    if (st == SW_OK) st = sw_job_write(job, "job", false, &note);
    if (st != SW_OK) print_error("%s\n", note.text);
    sw_job_free(job);

    assert_int_equal(st, SW_OK);
    struct stat info;
    assert_int_equal(stat("job/layers.svg", &info), 0);
    assert_int_equal(stat("job/cut/pass-2.svg", &info), 0);
    assert_int_equal(sw_job_cut("rings.png", &opts, &job, &note), SW_OK);
    assert_int_equal(sw_job_write(job, "job", false, &note), SW_EXISTS);
    sw_job_free(job);
}

static void numbers_that_are_none_are_refused(void **state)
{
    (void)state;
    double *field;
    sw_cut_opts opts;
    sw_job *const none = NULL;
    for (int i = 0; i < 6; i++) {
        opts = sw_cut_defaults();
        opts.width_mm = 600.0;
        double *const fields[] = { &opts.width_mm, &opts.min_opening_mm, &opts.min_web_mm,
                                   &opts.frame_mm, &opts.trap_mm,        &opts.detail_ratio };
        field = fields[i];
        const double bad[] = { NAN, -1.0, INFINITY, 1e9 };
        for (size_t b = 0; b < SW_ARRAY_LEN(bad); b++) {
            *field = bad[b];
            sw_job *job = none;
            sw_note note = { 0 };
            assert_int_equal(sw_status_exit(sw_job_cut("rings.png", &opts, &job, &note)), 2);
            assert_null(job);
            assert_true(note.text[0] != '\0');
        }
    }
}

static void zones_that_cannot_be_told_apart_are_refused(void **state)
{
    (void)state;
    static const struct {
        sw_cut_zone zone[3];
        size_t n;
        const char *says;
    } cases[] = {
        { { { "sky", 0x0000ff, 1 }, { "sky", 0xff0000, 1 } }, 2, "two zones are called 'sky'" },
        { { { "sky", 0x0000ff, 1 }, { "sea", 0x1020f0, 1 } }, 2, "'sky' and 'sea' have colours too much alike" },
        { { { "sky", 0x0000ff, 0 } }, 1, "from 1 to 8" },
        { { { "sky", 0x0000ff, 4 }, { "sea", 0xff0000, 5 } }, 2, "9 passes together" },
        { { { "sky\npasses 8", 0x0000ff, 1 } }, 1, "no comma or line break" },
        { { { "sky,sea", 0x0000ff, 1 } }, 1, "no comma or line break" },
        { { { "", 0x0000ff, 1 } }, 1, "1 to 31" },
        { { { "sky", 0x0000ff, 1 } }, SW_CUT_MAX_ZONES + 1, "at most 8 zones" },
    };
    sw_cut_opts opts = sw_cut_defaults();
    opts.zones = "zones.png";
    for (size_t i = 0; i < SW_ARRAY_LEN(cases); i++) {
        sw_note note = { 0 };
        memcpy(opts.zone, cases[i].zone, sizeof cases[i].zone);
        opts.n_zones = cases[i].n;
        assert_int_equal(sw_job_check_opts(&opts, &note), SW_BAD_USAGE);
        assert_non_null(strstr(note.text, cases[i].says));
    }
}

/* Two zones of two passes: pass 4 is there, though --passes says 3, and pass 5 is not. */
static void zones_say_how_many_passes_there_are(void **state)
{
    (void)state;
    sw_cut_opts opts = sw_cut_defaults();
    opts.zones = "zones.png";
    opts.zone[0] = (sw_cut_zone){ "sky", 0x0000ff, 2 };
    opts.zone[1] = (sw_cut_zone){ "sea", 0xff0000, 2 };
    opts.n_zones = 2;
    opts.guides_pass = 4;
    assert_int_equal(sw_job_check_opts(&opts, NULL), SW_OK);
    opts.guides_pass = 5;
    assert_int_equal(sw_job_check_opts(&opts, NULL), SW_BAD_USAGE);
}

static void the_grid_follows_from_the_finest_part(void **state)
{
    (void)state;
    const sw_picture_info info = { .width_px = 1000, .height_px = 500 };
    sw_cut_opts opts = sw_cut_defaults();
    sw_grid grid;
    sw_note note = { 0 };
    opts.width_mm = 2100.0;
    assert_ok(sw_job_size(&info, "p", &opts, &grid, &note), note);
    assert_int_equal(grid.width_px, 4200);
    assert_int_equal(grid.height_px, 2100);
    assert_true(fabs(opts.height_mm - 1050.0) < 1e-9);
    opts = sw_cut_defaults();
    opts.height_mm = 333.3;
    opts.min_web_mm = 2.0;
    assert_ok(sw_job_size(&info, "p", &opts, &grid, &note), note);
    assert_true(grid.px_per_mm * 2.0 >= 6.0);
    assert_true(fabs((double)grid.width_px / grid.px_per_mm - 666.6) < 1e-9);
}

/* Two passes on a wall of 1000 x 500 mm: three bridges and one. */
static void bridges_are_numbered_by_pass_and_as_one_reads(void **state)
{
    (void)state;
    sw_bridge first[] = { { .a = { 800, 490 }, .b = { 810, 490 }, .visible_mm2 = 5.0 },
                          { .a = { 700, 12 }, .b = { 710, 12 }, .is_hidden = true },
                          { .a = { 100, 30 }, .b = { 110, 30 }, .visible_mm2 = 7.0 } };
    sw_bridge second[] = { { .a = { 5, 5 }, .b = { 15, 5 }, .visible_mm2 = 5.0 } };
    sw_job job = { .opts = { .width_mm = 1000.0, .height_mm = 500.0 } };
    sw_sheet sheets[] = { { .pass = 1, .bridges = first, .n_bridges = 3 }, { .pass = 2, .bridges = second, .n_bridges = 1 } };
    sw_job_bridge *list = NULL;
    size_t n = 0;
    sw_note note = { 0 };
    job.sheets.at = sheets;
    job.sheets.n = 2;
    assert_ok(sw_job_list_bridges(&job, &list, &n, &note), note);
    assert_int_equal(n, 4);
    assert_ptr_equal(list[0].bridge, &first[2]); /* one line with the next, though it lies lower */
    assert_ptr_equal(list[1].bridge, &first[1]);
    assert_ptr_equal(list[2].bridge, &first[0]);
    assert_ptr_equal(list[3].bridge, &second[0]);
    sw_free(list);
    assert_ok(sw_job_list_visible(&job, &list, &n, &note), note);
    assert_int_equal(n, 3);
    assert_ptr_equal(list[0].bridge, &first[2]);
    assert_ptr_equal(list[1].bridge, &first[0]); /* as large as the next: the earlier pass first */
    assert_ptr_equal(list[2].bridge, &second[0]);
    sw_free(list);
}

/* Many rings on one spot, at a corner: no number may lie outside the wall or make the drawing fail. */
static void rings_on_one_spot_are_drawn(void **state)
{
    (void)state;
    sw_bridge many[40];
    sw_job_bridge list[40];
    sw_note note = { 0 };
    sw_bridge_chart chart = { .width_px = 120, .height_px = 90, .px_per_mm = 1.0 };
    assert_ok(sw_picture_make(120, 100, (sw_rgb8){ 200, 200, 200 }, &chart.canvas, &note), note);
    for (size_t i = 0; i < 40; i++) {
        many[i] = (sw_bridge){ .a = { 119, 89 }, .b = { 119, 90 }, .width_mm = 5.0, .is_hidden = i % 2 == 0 };
        list[i] = (sw_job_bridge){ .bridge = &many[i], .pass = 1, .index = i, .middle = { 119, 89.5 } };
    }
    assert_ok(sw_bridge_chart_mark(&chart, list, 40, &note), note);
    sw_picture_free(&chart.canvas);
}

static void every_failing_allocation_ends_cleanly(void **state)
{
    (void)state;
    sw_cut_opts opts = sw_cut_defaults();
    opts.width_mm = 120.0;
    opts.n_passes = 2;
    opts.n_threads = 1;
    const size_t live_before = sw_alloc_fail_at(0);
    bool is_done = false;
    for (size_t nth = 1; !is_done; nth++) {
        sw_job *job = NULL;
        sw_note note = { 0 };
        sw_alloc_fail_at(nth);
        const sw_status st = sw_job_cut("rings.png", &opts, &job, &note);
        is_done = sw_alloc_count() < nth;
        if (!is_done && st != SW_OK) {
            assert_int_equal(sw_status_exit(st), 3);
            assert_null(job);
        }
        sw_job_free(job);
        assert_int_equal(sw_alloc_fail_at(0), live_before);
        if (nth > 400) nth += nth / 50; /* deep in: every path has been hit, walk on in growing steps */
    }
}

static void telling_of_a_job_survives_every_failing_allocation(void **state)
{
    (void)state;
    sw_cut_opts opts = sw_cut_defaults();
    opts.width_mm = 120.0;
    opts.n_passes = 2;
    opts.is_touch_up = true;
    sw_job *job = NULL;
    sw_note note = { 0 };
    assert_ok(sw_job_cut("rings.png", &opts, &job, &note), note);
    const size_t live_before = sw_alloc_fail_at(0);
    char *(*const tell[])(const sw_job *) = { sw_job_json, sw_job_report };
    for (size_t i = 0; i < SW_ARRAY_LEN(tell); i++) {
        bool is_done = false;
        for (size_t nth = 1; !is_done; nth++) {
            sw_alloc_fail_at(nth);
            char *const text = tell[i](job);
            is_done = sw_alloc_count() < nth;
            if (is_done) assert_non_null(text);
            sw_string_free(text);
            assert_int_equal(sw_alloc_fail_at(0), live_before);
        }
    }
    sw_status st = SW_NO_MEMORY;
    for (size_t nth = 1; st != SW_OK; nth++) {
        struct stat info;
        sw_alloc_fail_at(nth);
        st = sw_job_write(job, "poor", false, &note);
        assert_int_equal(sw_alloc_fail_at(0), live_before);
        if (st == SW_OK) break;
        assert_int_equal(st, SW_NO_MEMORY);
        assert_int_not_equal(stat("poor", &info), 0);
    }
    sw_job_free(job);
}

static void every_failing_write_leaves_nothing(void **state)
{
    (void)state;
    sw_cut_opts opts = sw_cut_defaults();
    opts.width_mm = 120.0;
    opts.n_passes = 2;
    sw_job *job = NULL;
    sw_note note = { 0 };
    assert_ok(sw_job_cut("rings.png", &opts, &job, &note), note);
    sw_status st = SW_IO;
    for (size_t nth = 1; st != SW_OK && nth < 200; nth++) {
        sw_write_fail_at(nth);
        st = sw_job_write(job, "fragile", false, &note);
        sw_write_fail_at(0);
        struct stat info;
        if (st != SW_OK) {
            assert_int_equal(st, SW_IO);
            assert_int_not_equal(stat("fragile", &info), 0);
        }
    }
    assert_int_equal(st, SW_OK);
    sw_job_free(job);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ten_lines_of_c_make_a_job),
        cmocka_unit_test(numbers_that_are_none_are_refused),
        cmocka_unit_test(zones_that_cannot_be_told_apart_are_refused),
        cmocka_unit_test(zones_say_how_many_passes_there_are),
        cmocka_unit_test(the_grid_follows_from_the_finest_part),
        cmocka_unit_test(bridges_are_numbered_by_pass_and_as_one_reads),
        cmocka_unit_test(rings_on_one_spot_are_drawn),
        cmocka_unit_test(every_failing_allocation_ends_cleanly),
        cmocka_unit_test(telling_of_a_job_survives_every_failing_allocation),
        cmocka_unit_test(every_failing_write_leaves_nothing),
    };
    return cmocka_run_group_tests(tests, enter_folder, leave_folder);
}
