/* Whole jobs, checks and walls with an allocation or a write failing: every way to an allocation, every write. A check of a
 * picture takes too long for that; test_check.c walks it in widening steps. */
#include "faults.h"

#include <math.h>
#include <sys/stat.h>
#include <unistd.h>

#include "check/check.h"
#include "wall/wall.h"

#define WIDE_MM 160.0

/* Two dark hooks of one shape, rings, a grey field and a red disc on white: copies, islands, something for every pass. */
static sw_rgb8 colour_at(double x, double y)
{
    const double d = hypot(x - 90.0, y - 60.0);
    for (int copy = 0; copy < 2; copy++) {
        const double u = x - (copy == 0 ? 8.0 : 132.0), v = y - 70.0;
        if ((u >= 0.0 && u < 12.0 && v >= 0.0 && v < 40.0) || (u >= 0.0 && u < 36.0 && v >= 28.0 && v < 40.0))
            return (sw_rgb8){ 20, 20, 20 };
    }
    if ((d > 12.0 && d < 22.0) || (d > 31.0 && d < 41.0)) return (sw_rgb8){ 20, 20, 20 };
    if (x > 6.0 && x < 60.0 && y > 6.0 && y < 26.0) return (sw_rgb8){ 130, 130, 130 };
    if (hypot(x - 150.0, y - 25.0) < 16.0) return (sw_rgb8){ 200, 40, 30 };
    return (sw_rgb8){ 255, 255, 255 };
}

/* Three tones side by side along a wave, and a ring over all of them: every pass shares edges with those before, in long
 * runs and short ones, all round and across. */
static sw_rgb8 neighbour_at(double x, double y)
{
    static const uint8_t tones[] = { 20, 90, 170 };
    const double wave = 40.0 + 10.0 * sin(x / 14.0), d = hypot(x - 90.0, y - 58.0);
    if (x < 8.0 || x > 172.0 || y < 8.0 || y > 112.0) return (sw_rgb8){ 255, 255, 255 };
    const uint8_t tone = d > 20.0 && d < 33.0 ? tones[1] : d <= 20.0 ? tones[2] : y < wave ? tones[2] : y < wave + 34.0 ? tones[0] : tones[1];
    return (sw_rgb8){ tone, tone, tone };
}

static void write_picture(const char *path, sw_picture *picture, bool is_jpeg)
{
    sw_text file = { 0 };
    sw_note note = { { 0 } };
    assert_ok(is_jpeg ? sw_write_jpeg(picture, 90, &file, &note) : sw_write_png(picture, 0.0, &file, &note), note);
    assert_ok(sw_file_write(path, true, file.data, file.size, &note), note);
    sw_text_free(&file);
}

static int enter_folder(void **state)
{
    static char folder[] = "/tmp/sw-faults-XXXXXX";
    sw_picture picture = { 0 };
    sw_note note = { { 0 } };
    if (mkdtemp(folder) == NULL || chdir(folder) != 0) return -1;
    *state = folder;
    assert_ok(sw_picture_make(180, 120, (sw_rgb8){ 255, 255, 255 }, &picture, &note), note);
    for (size_t i = 0; i < 180 * 120; i++) picture.at[i] = colour_at((double)(i % 180) + 0.5, (double)(i / 180) + 0.5);
    write_picture("art.png", &picture, false);
    write_picture("art.jpg", &picture, true);
    for (size_t i = 0; i < 180 * 120; i++) picture.at[i] = neighbour_at((double)(i % 180) + 0.5, (double)(i / 180) + 0.5);
    write_picture("neighbours.png", &picture, false);
    for (size_t i = 0; i < 180 * 120; i++) picture.at[i] = i % 180 < 90 ? (sw_rgb8){ 255, 0, 0 } : (sw_rgb8){ 0, 0, 255 };
    write_picture("zones.png", &picture, false);
    for (size_t i = 0; i < 180 * 120; i++)
        picture.at[i] = i < 180 * 4 ? (sw_rgb8){ 255, 0, 0 } : i % 180 < 60 ? (sw_rgb8){ 0, 255, 0 } : (sw_rgb8){ 0, 0, 255 };
    write_picture("marks.png", &picture, false);
    sw_picture_free(&picture);
    static const char paints[] = "soot,#141414,2\nstone,#828282,1.5\nbrick,#c8281e\nsand,#d8cfbf\n";
    static const char wall[] = "wall 4m 3m\nsurface brick\nclear 50mm\nkeep tap 0.9m 0.3m 25cm 50cm\n"
                               "keep-shape vent 3m 2m 3.4m 2m 3.2m 2.4m\nfeature window 2m 1.5m 0.5 0.5\nphoto photo.jpg\n"
                               "point 10 110 0m 0m\npoint 170 110 4m 0m\npoint 170 10 4m 3m\npoint 10 10 0m 3m\nin-front front.png\n";
    assert_ok(sw_file_write("paints.txt", true, paints, sizeof paints - 1, &note), note);
    assert_ok(sw_file_write("shed.wall", true, wall, sizeof wall - 1, &note), note);
    assert_ok(sw_picture_make(180, 120, (sw_rgb8){ 210, 200, 190 }, &picture, &note), note);
    write_picture("photo.jpg", &picture, true);
    memset(picture.at, 0, 180 * 120 * sizeof *picture.at);
    write_picture("front.png", &picture, false);
    sw_picture_free(&picture);
    return 0;
}

static int leave_folder(void **state)
{
    char command[64];
    snprintf(command, sizeof command, "rm -rf %s", (const char *)*state);
    return chdir("/") == 0 ? system(command) : -1;
}

/* ---- cut ---------------------------------------------------------------------------------------------------- */

static sw_cut_opts small_job(void)
{
    sw_cut_opts opts = sw_cut_defaults();
    opts.width_mm = WIDE_MM;
    opts.min_opening_mm = opts.min_web_mm = 8.0; /* a coarse grid: it is the ways that count */
    opts.n_passes = 2;
    opts.n_threads = 1;
    return opts;
}

/* Everything that can be asked for at once. */
static sw_cut_opts full_job(void)
{
    sw_cut_opts opts = small_job();
    opts.bed_width_mm = 210.0;
    opts.bed_height_mm = 170.0;
    opts.is_staggered = opts.has_key_windows = opts.is_reuse = opts.is_touch_up = true;
    opts.guides_pass = 1;
    opts.kerf_mm = 0.2;
    opts.droop_mm = 0.05;
    opts.trap_mm = 0.0; /* neighbours share their edges */
    opts.material = "card";
    opts.surface = "timber";
    opts.formats = SW_FORMAT_SVG | SW_FORMAT_PDF | SW_FORMAT_EPS;
    opts.kind = SW_CUT_COLOUR;
    opts.paint_list = "paints.txt";
    opts.paint_rgb[opts.n_paints++] = 0x203040;
    opts.marks = "marks.png";
    opts.zones = "zones.png";
    opts.zone[opts.n_zones++] = (sw_cut_zone){ "left", 0xff0000, 1 };
    opts.zone[opts.n_zones++] = (sw_cut_zone){ "right", 0x0000ff, 1 };
    return opts;
}

typedef struct cutting {
    const char *picture;
    sw_cut_opts opts;
} cutting;

static sw_status cut(void *ctx, sw_note *note)
{
    const cutting *const c = ctx;
    sw_job *job = NULL;
    const sw_status st = sw_job_cut(c->picture, &c->opts, &job, note);
    sw_job_free(job);
    return st;
}

static void walk_cut(const char *picture, const sw_cut_opts *opts)
{
    cutting c = { picture, *opts };
    const size_t n = fault_walk(cut, &c);
    print_message("%zu allocations failed\n", n);
    assert_true(n > 100);
}

static void a_job_with_everything_survives(void **state)
{
    (void)state;
    const sw_cut_opts opts = full_job();
    walk_cut("art.png", &opts);
}

static void lines_survive(void **state)
{
    (void)state;
    sw_cut_opts opts = small_job();
    opts.kind = SW_CUT_LINE;
    opts.n_passes = 1;
    opts.min_opening_mm = opts.min_web_mm = 4.0; /* lines are thinner than fields */
    opts.detail_ratio = 1.0;
    walk_cut("art.jpg", &opts);
}

static void passes_that_share_their_edges_survive(void **state)
{
    (void)state;
    sw_cut_opts opts = small_job();
    opts.n_passes = 3;
    opts.trap_mm = 0.0;
    sw_job *job = NULL;
    sw_note note = { { 0 } };
    assert_ok(sw_job_cut("neighbours.png", &opts, &job, &note), note);
    char *const json = sw_job_json(job);
    assert_non_null(json);
    assert_non_null(strstr(json, "\"shared_edges\"")); /* there is something to walk through */
    sw_string_free(json);
    sw_job_free(job);
    walk_cut("neighbours.png", &opts);
}

/* ---- writing ------------------------------------------------------------------------------------------------- */

typedef struct writing {
    const sw_job *job;
    const char *dir;
    bool is_replace;
} writing;

static sw_status tell_and_write(void *ctx, sw_note *note)
{
    const writing *const w = ctx;
    char *const report = sw_job_report(w->job);
    if (report == NULL) return sw_fail(note, SW_NO_MEMORY, "the report");
    sw_string_free(report);
    return sw_job_write(w->job, w->dir, w->is_replace, note);
}

static void writing_everything_survives_every_failing_allocation(void **state)
{
    (void)state;
    const sw_cut_opts opts = full_job();
    sw_job *job = NULL;
    sw_note note = { { 0 } };
    assert_ok(sw_job_cut("art.png", &opts, &job, &note), note);
    writing w = { job, "walked", true };
    assert_ok(sw_job_write(job, "walked", false, &note), note);
    assert_true(fault_walk(tell_and_write, &w) > 100);
    sw_job_free(job);
}

static bool holds_line(const char *path, const char *line)
{
    uint8_t *bytes = NULL;
    size_t n = 0;
    if (sw_file_read(path, 1000000, &bytes, &n, NULL) != SW_OK) return false;
    bool is_there = false;
    for (size_t i = 0; i + strlen(line) <= n && !is_there; i++) is_there = memcmp(bytes + i, line, strlen(line)) == 0;
    sw_free(bytes);
    return is_there;
}

/* A job of two passes over one of one pass: old or new, and never a third thing. */
static void every_failing_write_leaves_the_old_job_or_the_new_one(void **state)
{
    (void)state;
    sw_cut_opts opts = full_job();
    sw_job *old = NULL, *new = NULL;
    sw_note note = { { 0 } };
    assert_ok(sw_job_cut("art.png", &opts, &new, &note), note);
    opts = small_job();
    opts.n_passes = 1;
    assert_ok(sw_job_cut("art.png", &opts, &old, &note), note);
    assert_ok(sw_job_write(old, "kept", false, &note), note);
    sw_status st = SW_IO;
    size_t nth = 0;
    while (st != SW_OK && nth < 2000) {
        sw_write_fail_at(++nth);
        note = (sw_note){ { 0 } };
        st = sw_job_write(new, "kept", true, &note);
        sw_write_fail_at(0);
        assert_true(holds_line("kept/job.options", st == SW_OK ? "zone right" : "passes 1\n"));
        assert_int_equal(access("kept/touch-up.png", F_OK), st == SW_OK ? 0 : -1);
        if (st == SW_OK) break;
        assert_int_equal(st, SW_IO);
        assert_non_null(strstr(note.text, "No space left"));
    }
    assert_int_equal(st, SW_OK);
    assert_true(nth > 40);
    assert_int_equal(system("[ -z \"$(ls -A | grep being-written)\" ]"), 0);
    sw_job_free(old);
    sw_job_free(new);
}

/* ---- check and wall ------------------------------------------------------------------------------------------ */

static const char drawing[] =
    "<svg xmlns='http://www.w3.org/2000/svg' width='200mm' height='200mm' viewBox='0 0 200 200'>"
    "<path d='M10 10H90V90H10Z M40 40V60H60V40Z'/><rect x='80' y='30' width='40' height='20' transform='rotate(9)'/>"
    "<g stroke='#000' stroke-width='4' fill='none'><path d='M120 120C150 90 180 90 190 120S150 190 120 150'/></g>"
    "<circle cx='150' cy='50' r='20'/><ellipse cx='50' cy='150' rx='30' ry='9'/><polygon points='100,150 110,180 90,170'/></svg>";

static sw_status check_drawing(void *ctx, sw_note *note)
{
    const sw_svg_opts opts = { .min_opening_mm = 3.0, .min_web_mm = 5.0, .droop_mm = 1.0 };
    sw_svg_check check = { 0 };
    sw_text fixed = { 0 }, text = { 0 };
    size_t n_bridges = 0, n_left = 0;
    (void)ctx;
    sw_status st = sw_svg_fix((const uint8_t *)drawing, sizeof drawing - 1, "d.svg", &opts, &fixed, &n_bridges, &n_left, note);
    if (st == SW_OK) st = sw_svg_check_make((const uint8_t *)fixed.data, fixed.size, "d.svg", &opts, &check, note);
    if (st == SW_OK) {
        sw_svg_check_report(&check, &text);
        sw_svg_check_json(&check, &text);
        if (text.is_broken) st = sw_fail_memory(note, "the report");
    }
    sw_svg_check_free(&check);
    sw_text_free(&fixed);
    sw_text_free(&text);
    return st;
}

static void checking_and_mending_a_drawing_survives(void **state)
{
    (void)state;
    assert_true(fault_walk(check_drawing, NULL) > 50);
}

/* Everything `wall` makes of a job or, without one, of a picture. */
static sw_status show_on_wall(void *ctx, sw_note *note)
{
    const char *const dir = ctx;
    uint8_t *bytes = NULL;
    size_t n = 0;
    sw_wall wall = { 0 };
    sw_wall_job job = { 0 };
    sw_wall_plan plan = { 0 };
    sw_wall_scene scene = { 0 };
    sw_wall_art art = { 0 };
    sw_text text = { 0 }, jpeg = { 0 };
    const sw_wall_wish wish = { .width_mm = 900.0, .height_mm = 600.0, .snap = "window" };
    sw_cut_opts opts = small_job();
    opts.width_mm = wish.width_mm;
    opts.surface = "brick";
    sw_status st = sw_file_read("shed.wall", 10000, &bytes, &n, note);
    if (st == SW_OK) st = sw_wall_parse((const char *)bytes, n, "shed.wall", &wall, note);
    if (st == SW_OK && dir != NULL) st = sw_wall_job_read(dir, &job, note);
    if (st == SW_OK) st = sw_wall_plan_make(&wall, dir != NULL ? &job : NULL, &wish, &plan, note);
    if (st == SW_OK) st = sw_wall_scene_read(&wall, "shed.wall", &scene, note);
    if (st == SW_OK) st = dir != NULL ? sw_wall_art_from_job(&job, 0.04, &art, note) : sw_wall_art_sprayed("art.png", &opts, 0.04, &art, note);
    if (st == SW_OK) st = sw_wall_scene_paint(&scene, &wall, &art, plan.place, note);
    if (st == SW_OK) st = sw_write_jpeg(&scene.photo, 80, &jpeg, note);
    if (st == SW_OK) {
        sw_wall_plan_report(&plan, "art.png", &scene, &text);
        sw_wall_plan_json(&plan, "art.png", &scene, &text);
        if (text.is_broken) st = sw_fail_memory(note, "the report");
    }
    if (st == SW_OK && dir != NULL) st = sw_wall_page_add(dir, &jpeg, plan.place, "placed", note);
    sw_wall_plan_free(&plan);
    sw_wall_scene_free(&scene);
    sw_wall_art_free(&art);
    sw_wall_job_free(&job);
    sw_wall_free(&wall);
    sw_text_free(&text);
    sw_text_free(&jpeg);
    sw_free(bytes);
    return st;
}

static void a_picture_on_a_wall_survives(void **state)
{
    (void)state;
    assert_true(fault_walk(show_on_wall, NULL) > 30);
}

static void a_job_on_a_wall_survives(void **state)
{
    (void)state;
    static char dir[] = "on-wall";
    sw_cut_opts opts = small_job();
    sw_job *job = NULL;
    sw_note note = { { 0 } };
    opts.width_mm = 900.0;
    opts.min_opening_mm = 12.0;
    opts.min_web_mm = 12.0;
    assert_ok(sw_job_cut("art.png", &opts, &job, &note), note);
    assert_ok(sw_job_write(job, dir, false, &note), note);
    sw_job_free(job);
    assert_true(fault_walk(show_on_wall, dir) > 30);
    assert_int_equal(system("[ -z \"$(ls -A on-wall | grep being-written)\" ]"), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_job_with_everything_survives),
        cmocka_unit_test(lines_survive),
        cmocka_unit_test(passes_that_share_their_edges_survive),
        cmocka_unit_test(writing_everything_survives_every_failing_allocation),
        cmocka_unit_test(every_failing_write_leaves_the_old_job_or_the_new_one),
        cmocka_unit_test(checking_and_mending_a_drawing_survives),
        cmocka_unit_test(a_picture_on_a_wall_survives),
        cmocka_unit_test(a_job_on_a_wall_survives),
    };
    return cmocka_run_group_tests(tests, enter_folder, leave_folder);
}
