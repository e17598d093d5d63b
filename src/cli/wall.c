/* stencilwright wall WALLFILE PICTURE|JOBFOLDER */
#include "cli/cli.h"
#include "wall/wall.h"

#include <math.h>
#include <string.h>
#include <sys/stat.h>

#define MAX_WALL_BYTES 1000000u
#define PAGE_WIDTH_PX 1400u /* of the wall picture inside job.html */
#define PAGE_QUALITY 82
#define GRID_ART_SIDE_PX 1800.0

typedef struct wall_args {
    double width_mm, height_mm, left_mm, floor_mm, grid_mm;
    const char *snap, *out;
    size_t n_threads, n_passes;
    int kind;
    uint32_t ground_rgb;
    bool is_plain, is_into_job, is_json, is_quiet, is_replace;
} wall_args;

#define AT(field) offsetof(wall_args, field)

static const sw_cli_option options[] = {
    { "width", SW_CLI_LENGTH, "LENGTH", AT(width_mm), 0, 0, NULL, NULL,
      "Width of a picture on the wall. A job folder has its size. Without width and height the density stated in the file "
      "decides." },
    { "height", SW_CLI_LENGTH, "LENGTH", AT(height_mm), 0, 0, NULL, NULL, "Height instead of width." },
    { "left", SW_CLI_LENGTH0, "LENGTH", AT(left_mm), 0, 0, NULL, NULL,
      "The artwork's lower left corner from the wall's left edge; wins over the wall file and --snap." },
    { "floor", SW_CLI_LENGTH0, "LENGTH", AT(floor_mm), 0, 0, NULL, NULL, "The same corner from the floor." },
    { "snap", SW_CLI_TEXT, "FEATURE", AT(snap), 0, 0, NULL, NULL,
      "Place the artwork so that its point lies on this feature of the wall file." },
    { "out", SW_CLI_TEXT, "FILE", AT(out), 0, 0, NULL, NULL,
      "Write the artwork on the wall's photograph as PNG, with a person 1.7 m tall beside it. Without a photograph the wall "
      "is drawn." },
    { "passes", SW_CLI_COUNT, "N", AT(n_passes), 1, SW_MAX_PASSES, NULL, "3",
      "A picture is shown as so many passes would be sprayed, without bridges; a job folder has its own." },
    { "separate", SW_CLI_CHOICE, "HOW", AT(kind), 0, 0, "tone|colour|line", "tone", "How a picture is separated, as for cut." },
    { "ground", SW_CLI_COLOUR, "'#rrggbb'", AT(ground_rgb), 0, 0, NULL, "#ffffff",
      "Colour of the bare wall, for a picture, as for cut: what is nearest to it is not painted." },
    { "plain", SW_CLI_FLAG, NULL, AT(is_plain), 0, 0, NULL, NULL,
      "Show a picture as it is, with all its colours: for painting by hand along a grid." },
    { "grid", SW_CLI_LENGTH, "LENGTH", AT(grid_mm), 0, 0, NULL, NULL,
      "With --out wall.png also write wall-grid.png and wall-grid-art.png: the same grid of named marks, this far apart, on "
      "the wall and on the artwork, to paint without cutting (common practice)." },
    { "into-job", SW_CLI_FLAG, NULL, AT(is_into_job), 0, 0, NULL, NULL,
      "Write wall.png into the job folder, and picture and place into its job.html." },
    { "replace", SW_CLI_FLAG, NULL, AT(is_replace), 0, 0, NULL, NULL, "Replace pictures that are there already." },
    { "json", SW_CLI_FLAG, NULL, AT(is_json), 0, 0, NULL, NULL, "Print the result as JSON instead of the report." },
    { "quiet", SW_CLI_FLAG, NULL, AT(is_quiet), 0, 0, NULL, NULL, "No report." },
    { "threads", SW_CLI_COUNT, "N", AT(n_threads), 1, 64, NULL, "2",
      "Processor threads. The result is the same for any number." },
};

/* Everything of one run, so that one function owns it. */
typedef struct wall_run {
    const wall_args *args;
    const char *wall_path, *art_path;
    bool is_job;
    sw_wall wall;
    sw_wall_job job;
    sw_wall_plan plan;
    sw_wall_scene scene;
    sw_wall_art art;
    bool has_scene, has_person;
} wall_run;

static sw_status read_wall(wall_run *run, sw_note *note)
{
    uint8_t *bytes = NULL;
    size_t n = 0;
    SW_TRY(sw_file_read(run->wall_path, MAX_WALL_BYTES, &bytes, &n, note));
    const sw_status st = sw_wall_parse(bytes == NULL ? "" : (const char *)bytes, n, run->wall_path, &run->wall, note);
    sw_free(bytes);
    return st;
}

/* The artwork's size: the job's, or the picture's as cut would take it. */
static sw_status find_size(wall_run *run, double *width_mm, double *height_mm, sw_note *note)
{
    const wall_args *const args = run->args;
    if (run->is_job) {
        if (args->width_mm > 0.0 || args->height_mm > 0.0)
            return sw_fail(note, SW_BAD_USAGE, "--width and --height are for pictures; '%s' is a job and has its size", run->art_path);
        SW_TRY(sw_wall_job_read(run->art_path, &run->job, note));
        *width_mm = run->job.width_mm;
        *height_mm = run->job.height_mm;
        return SW_OK;
    }
    sw_picture_info info = { 0 };
    const sw_picture_opts probe = { .ground = { 255, 255, 255 } };
    sw_cut_opts opts = sw_cut_defaults();
    opts.width_mm = args->width_mm;
    opts.height_mm = args->height_mm;
    SW_TRY(sw_picture_probe(run->art_path, &probe, &info, note));
    SW_TRY(sw_job_sides(&info, run->art_path, &opts, note));
    *width_mm = opts.width_mm;
    *height_mm = opts.height_mm;
    return SW_OK;
}

static sw_status make_plan(wall_run *run, sw_note *note)
{
    const wall_args *const args = run->args;
    sw_wall_wish wish = { .has_left = args->left_mm >= 0.0, .left_mm = args->left_mm, .has_floor = args->floor_mm >= 0.0,
                          .floor_mm = args->floor_mm, .snap = args->snap };
    SW_TRY(find_size(run, &wish.width_mm, &wish.height_mm, note));
    return sw_wall_plan_make(&run->wall, run->is_job ? &run->job : NULL, &wish, &run->plan, note);
}

/* ---- pictures --------------------------------------------------------------------------------------- */

static sw_status make_art(const wall_run *run, double px_per_mm, sw_wall_art *out, sw_note *note)
{
    const sw_rect_mm at = run->plan.place;
    if (run->is_job) return sw_wall_art_from_job(&run->job, px_per_mm, out, note);
    if (run->args->is_plain) return sw_wall_art_from_picture(run->art_path, at.width_mm, at.height_mm, px_per_mm, out, note);
    sw_cut_opts cut = sw_cut_defaults();
    cut.width_mm = at.width_mm;
    cut.height_mm = at.height_mm;
    cut.n_passes = run->args->n_passes;
    cut.kind = (sw_cut_kind)run->args->kind;
    cut.ground_rgb = run->args->ground_rgb;
    cut.surface = sw_surface_at(run->wall.surface)->name;
    return sw_wall_art_sprayed(run->art_path, &cut, px_per_mm, out, note);
}

static sw_status paint_scene(wall_run *run, sw_note *note)
{
    SW_TRY(sw_wall_scene_read(&run->wall, run->wall_path, &run->scene, note));
    run->has_scene = true;
    const double scale = sw_wall_scene_scale(&run->scene, run->plan.place);
    if (!(scale > 0.0)) return sw_fail(note, SW_BAD_LENGTH, "the artwork's place is not in the photograph");
    SW_TRY(make_art(run, scale, &run->art, note));
    SW_TRY(sw_wall_scene_paint(&run->scene, &run->wall, &run->art, run->plan.place, note));
    return SW_OK;
}

static sw_status write_png(const sw_wall_scene *scene, const char *path, bool is_replace, sw_note *note)
{
    sw_text png = { 0 };
    sw_status st = sw_write_png(&scene->photo, 0.0, &png, note);
    if (st == SW_OK) st = sw_file_write(path, is_replace, png.data, png.size, note);
    sw_text_free(&png);
    return st;
}

/* "wall.png" and "-grid" -> "wall-grid.png". */
static void add_suffix(sw_text *out, const char *path, const char *suffix)
{
    /* NOLINTNEXTLINE(clang-analyzer-core.NonNullParamChecker): callers have a path */
    const char *const dot = strrchr(path, '.'), *const slash = strrchr(path, '/');
    const size_t n = dot != NULL && (slash == NULL || dot > slash + 1) && dot != path ? (size_t)(dot - path) : strlen(path);
    sw_text_add_bytes(out, path, n);
    sw_text_add(out, suffix);
    sw_text_add(out, path + n);
}

static sw_status write_suffixed(const sw_wall_scene *scene, const wall_args *args, const char *suffix, sw_note *note)
{
    sw_text path = { 0 };
    add_suffix(&path, args->out, suffix);
    const sw_status st = path.is_broken ? sw_fail_memory(note, "a path") : write_png(scene, path.data, args->is_replace, note);
    sw_text_free(&path);
    return st;
}

/* The artwork alone, over the ground, with the same grid. */
static sw_status write_art_grid(const wall_run *run, sw_note *note)
{
    const sw_rect_mm at = { 0.0, 0.0, run->plan.place.width_mm, run->plan.place.height_mm };
    const double scale = GRID_ART_SIDE_PX / sw_max(at.width_mm, at.height_mm);
    const sw_rgb8 ground = run->is_job ? run->job.ground : sw_job_rgb8(run->args->ground_rgb);
    sw_wall_scene scene = { 0 };
    sw_wall_art art = { 0 };
    sw_status st = make_art(run, scale, &art, note);
    if (st == SW_OK) st = sw_wall_scene_flat(at.width_mm, at.height_mm, scale, ground, &scene, note);
    if (st == SW_OK) st = sw_wall_scene_paint(&scene, &run->wall, &art, at, note);
    if (st == SW_OK) {
        sw_wall_scene_grid(&scene, at, run->args->grid_mm);
        st = write_suffixed(&scene, run->args, "-grid-art", note);
    }
    sw_wall_scene_free(&scene);
    sw_wall_art_free(&art);
    return st;
}

static sw_status write_into_job(wall_run *run, sw_note *note)
{
    sw_picture small = { 0 };
    sw_text jpeg = { 0 }, words = { 0 }, path = { 0 };
    const sw_picture *const photo = &run->scene.photo;
    const double scale = sw_min(1.0, PAGE_WIDTH_PX / (double)photo->width_px);
    sw_text_addf(&path, "%s/wall.png", run->art_path);
    sw_status st = path.is_broken ? sw_fail_memory(note, "a path") : write_png(&run->scene, path.data, true, note);
    if (st == SW_OK)
        st = sw_picture_resample(photo, sw_max_size(1, (size_t)((double)photo->width_px * scale)),
                                 sw_max_size(1, (size_t)((double)photo->height_px * scale)), &small, note);
    if (st == SW_OK) st = sw_write_jpeg(&small, PAGE_QUALITY, &jpeg, note);
    sw_wall_plan_words(&run->plan, &words);
    if (st == SW_OK && words.is_broken) st = sw_fail_memory(note, "job.html");
    if (st == SW_OK) st = sw_wall_page_add(run->art_path, &jpeg, run->plan.place, words.data, note);
    sw_picture_free(&small);
    sw_text_free(&jpeg);
    sw_text_free(&words);
    sw_text_free(&path);
    return st;
}

static sw_status write_pictures(wall_run *run, sw_note *note)
{
    const wall_args *const args = run->args;
    if (args->out == NULL && !args->is_into_job) return SW_OK;
    SW_TRY(paint_scene(run, note));
    if (args->grid_mm > 0.0) { /* the grid is drawn on a copy: the person stands on the other */
        SW_TRY(write_art_grid(run, note));
        sw_wall_scene grid = run->scene;
        grid.photo = (sw_picture){ 0 };
        SW_TRY(sw_picture_resample(&run->scene.photo, run->scene.photo.width_px, run->scene.photo.height_px, &grid.photo, note));
        sw_wall_scene_grid(&grid, run->plan.place, args->grid_mm);
        const sw_status st = write_suffixed(&grid, args, "-grid", note);
        sw_picture_free(&grid.photo);
        if (st != SW_OK) return st;
    }
    run->has_person = sw_wall_scene_person(&run->scene, &run->wall, run->plan.place);
    if (args->out != NULL) SW_TRY(write_png(&run->scene, args->out, args->is_replace, note));
    return args->is_into_job ? write_into_job(run, note) : SW_OK;
}

/* ---- the command ------------------------------------------------------------------------------------ */

static sw_status check_args(const wall_args *args, size_t n_operands, const wall_run *run, sw_note *note)
{
    if (n_operands < 2)
        return sw_fail(note, SW_BAD_USAGE, "a wall file and a picture or job folder are needed: stencilwright wall shed.wall heron-job");
    if (args->grid_mm > 0.0 && args->out == NULL) return sw_fail(note, SW_BAD_USAGE, "--grid needs --out wall.png");
    if (args->is_into_job && !run->is_job)
        return sw_fail(note, SW_BAD_USAGE, "--into-job is for job folders; '%s' is none", run->art_path);
    if (run->art_path != NULL && strcmp(run->art_path, "-") == 0)
        return sw_fail(note, SW_BAD_USAGE, "the picture is looked at twice; name a file or a job folder instead of '-'");
    return SW_OK;
}

/* A picture to be written must not be there unless --replace is said, and must not be one that is read. The job's own may
 * be there. path is freed. */
static sw_status check_output(const wall_run *run, sw_text *path, bool is_in_job, sw_note *note)
{
    struct stat there;
    sw_text photo = { 0 }, mask = { 0 };
    sw_text_add_beside(&photo, run->wall_path, run->wall.photo);
    sw_text_add_beside(&mask, run->wall_path, run->wall.mask);
    sw_status st = SW_OK;
    if (path->is_broken || photo.is_broken || mask.is_broken) st = sw_fail_memory(note, "a path");
    else if (sw_cli_is_same_file(path->data, run->wall_path) || sw_cli_is_same_file(path->data, run->art_path) ||
             sw_cli_is_same_file(path->data, photo.data) || sw_cli_is_same_file(path->data, mask.data))
        st = sw_fail(note, SW_BAD_USAGE, "'%s' is read by this command and would be written over; %s", path->data,
                     is_in_job ? "copy it and name the copy" : "choose another --out");
    else if (!is_in_job && !run->args->is_replace && stat(path->data, &there) == 0)
        st = sw_fail(note, SW_EXISTS, "'%s' is already there; choose another --out or say --replace", path->data);
    else
        st = sw_file_check(path->data, true, note);
    sw_text_free(path);
    sw_text_free(&photo);
    sw_text_free(&mask);
    return st;
}

static sw_status check_suffixed(const wall_run *run, const char *suffix, sw_note *note)
{
    sw_text path = { 0 };
    add_suffix(&path, run->args->out, suffix);
    return check_output(run, &path, false, note);
}

static sw_status check_outputs(const wall_run *run, sw_note *note)
{
    if (run->args->is_into_job) {
        sw_text path = { 0 };
        sw_text_addf(&path, "%s/wall.png", run->art_path);
        SW_TRY(check_output(run, &path, true, note));
    }
    if (run->args->out == NULL) return SW_OK;
    SW_TRY(check_suffixed(run, "", note));
    if (!(run->args->grid_mm > 0.0)) return SW_OK;
    SW_TRY(check_suffixed(run, "-grid", note));
    return check_suffixed(run, "-grid-art", note);
}

/* What of a picture the wall picture shows. */
static void add_shown(sw_text *out, const wall_args *args)
{
    if (args->is_plain) {
        sw_text_add(out, "note    the picture is shown as it is, NOT as sprayed\n");
        return;
    }
    sw_text_addf(out, "note    the picture is shown as %zu pass%s (%s) would be sprayed, without bridges; cut it and name the job "
                      "folder to see its sheets\n", args->n_passes, args->n_passes == 1 ? "" : "es", sw_job_kinds[args->kind]);
}

static sw_status print_result(const wall_run *run, sw_note *note)
{
    const char *const slash = strrchr(run->art_path, '/');
    const char *const name = run->is_job ? run->job.picture : slash != NULL ? slash + 1 : run->art_path;
    const sw_wall_scene *const scene = run->has_scene ? &run->scene : NULL;
    sw_text text = { 0 };
    if (run->args->is_json) sw_wall_plan_json(&run->plan, name, scene, &text);
    else if (!run->args->is_quiet) sw_wall_plan_report(&run->plan, name, scene, &text);
    if (!run->args->is_json && !run->args->is_quiet && run->has_scene && !run->is_job)
        add_shown(&text, run->args);
    if (!run->args->is_json && !run->args->is_quiet && run->has_scene && !run->has_person)
        sw_text_add(&text, "note    the picture shows no 1.7 m of wall from the floor up, so no person is drawn\n");
    sw_status st = text.is_broken ? sw_fail_memory(note, "the report") : SW_OK;
    if (st == SW_OK && text.size > 0) st = sw_cli_print(text.data, note);
    sw_text_free(&text);
    return st;
}

static void free_run(wall_run *run)
{
    sw_wall_plan_free(&run->plan);
    sw_wall_scene_free(&run->scene);
    sw_wall_art_free(&run->art);
    sw_wall_job_free(&run->job);
    sw_wall_free(&run->wall);
}

static int run_wall(const sw_cli_command *command, int argc, char **argv)
{
    wall_args args = { .left_mm = -1.0, .floor_mm = -1.0, .n_passes = 3, .ground_rgb = 0xffffff };
    const wall_args defaults = args;
    const char *files[2] = { NULL, NULL };
    sw_cli_operands operands = { .at = files, .max = 2 };
    sw_note note = { 0 };
    wall_run run = { .args = &args };
    struct stat there;
    sw_status st = sw_cli_parse(command, argc, argv, &args, &defaults, &operands, &note);
    if (operands.is_help) return sw_cli_help(command);
    run.wall_path = files[0];
    run.art_path = files[1];
    run.is_job = files[1] != NULL && stat(files[1], &there) == 0 && S_ISDIR(there.st_mode);
    if (st == SW_OK) st = check_args(&args, operands.n, &run, &note);
    if (st != SW_OK) return sw_cli_fail(st, &note);
    sw_threads_set((int)args.n_threads);
    st = read_wall(&run, &note);
    if (st == SW_OK) st = check_outputs(&run, &note);
    if (st == SW_OK) st = make_plan(&run, &note);
    if (st == SW_OK) st = write_pictures(&run, &note);
    if (st == SW_OK) st = print_result(&run, &note);
    const bool fits = run.plan.fits;
    free_run(&run);
    if (st != SW_OK) return sw_cli_fail(st, &note);
    return fits ? 0 : 1;
}

const sw_cli_command sw_cli_wall = {
    .name = "wall",
    .operands = "WALLFILE PICTURE|JOBFOLDER",
    .summary = "place the artwork on a wall and show it there",
    .about = "Check that a picture, or a job with its sheets, fits on a described wall and stays clear of taps, vents and doors; "
             "say by how much it misses, the nearest place and the largest size that fit; show it on a photograph of the wall. "
             "Exit status 0: it fits; 1: it does not.\n"
             "The wall file has one statement a line; '#' begins a comment; names with spaces stand in double quotes:\n"
             "wall 6.2m 3.1m  (width and height; required)\n"
             "surface render  (smooth, render, brick or timber)\n"
             "artwork 1.2m 0.4m  (lower left corner: from the left, from the floor)\n"
             "clear 50mm  (distance to keep from everything)\n"
             "keep tap 0.9m 0.3m 25cm 50cm  (keep clear: name, from the left, from the floor, width, height)\n"
             "keep-shape vent 4m 2m 4.4m 2m 4.2m 2.4m  (the same as a polygon)\n"
             "feature window 3.1m 1.9m 0.62 0.41  (a point of the wall, and the artwork's point for it as shares from its left "
             "and top)\n"
             "photo shed.jpg  (a photograph of the wall)\n"
             "point 410 1620 0m 0m  (a pixel of the photograph, from left and top, and its place on the wall; four or more)\n"
             "in-front mask.png  (white where something stands in front of the wall in the photograph)",
    .options = options,
    .n_options = SW_ARRAY_LEN(options),
    .run = run_wall,
};
