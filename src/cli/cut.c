/* stencilwright cut PICTURE --out DIR */
#include "cli/cli.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

typedef struct cut_args {
    sw_cut_opts opts;
    sw_cli_paints paints;
    int kind;
    size_t n_threads;
    const char *out, *job_file;
    bool is_quiet, is_json, is_replace;
} cut_args;

#define AT(field) offsetof(cut_args, field)

static const sw_cli_option options[] = {
    { "out", SW_CLI_TEXT, "DIR", AT(out), 0, 0, NULL, NULL, "The job folder to write. It appears whole or not at all." },
    { "job", SW_CLI_TEXT, "FILE", AT(job_file), 0, 0, NULL, NULL,
      "Take picture and options from this file, such as the job.options of an earlier job; options given here win, and "
      "--no-NAME drops one of the file's." },
    { "width", SW_CLI_LENGTH, "LENGTH", AT(opts.width_mm), 0, 0, NULL, NULL,
      "Width of the artwork on the wall, like 2100mm, 210cm, 2.1m, 83in or 7ft. Without width and height the density "
      "stated in the file decides." },
    { "height", SW_CLI_LENGTH, "LENGTH", AT(opts.height_mm), 0, 0, NULL, NULL, "Height instead of width." },
    { "passes", SW_CLI_COUNT_AUTO, "N|auto", AT(opts.n_passes), 1, SW_MAX_PASSES, NULL, "3",
      "Paint passes, 1 to 8. The bare wall is one more colour and costs no sheet. auto tries 1 to 6 and picks where more "
      "gain little." },
    { "separate", SW_CLI_CHOICE, "HOW", AT(kind), 0, 0, "tone|colour|line", "tone",
      "tone: steps of lightness. colour: few colours. line: the lines of a drawing on paper." },
    { "paint", SW_CLI_PAINT, "'#rrggbb'", AT(paints), 0, 0, NULL, NULL,
      "A paint that may be used; repeat it. Without it paints are chosen freely." },
    { "paint-list", SW_CLI_TEXT, "FILE", AT(opts.paint_list), 0, 0, NULL, NULL,
      "A list of the paints you own, a line each: name,#rrggbb[,square metres a can covers]. The best of them are used." },
    { "ground", SW_CLI_COLOUR, "'#rrggbb'", AT(opts.ground_rgb), 0, 0, NULL, "#ffffff", "Colour of the bare wall." },
    { "detail", SW_CLI_PERCENT, "0..100", AT(opts.detail_ratio), 0, 100, NULL, "55",
      "0 gives few quiet shapes, 100 keeps every small one that can be cut." },
    { "min-opening", SW_CLI_LENGTH, "LENGTH", AT(opts.min_opening_mm), 0, 0, NULL, "by material and surface",
      "Narrowest opening that cutter and spray manage." },
    { "min-web", SW_CLI_LENGTH, "LENGTH", AT(opts.min_web_mm), 0, 0, NULL, "by material and surface",
      "Narrowest strip of material that lasts; also the width of bridges." },
    { "frame", SW_CLI_LENGTH, "LENGTH", AT(opts.frame_mm), 0, 0, NULL, "40mm, or what the marks need",
      "Uncut margin around a sheet; it carries registration marks and labels." },
    { "trap", SW_CLI_LENGTH0, "LENGTH", AT(opts.trap_mm), 0, 0, NULL, "1.5mm",
      "How far a paint spreads under a later one, so that a sheet taped a little off shows no gap. 0: paints meet edge to edge, and "
      "passes that share an edge are cut along the same curve there." },
    { "smooth", SW_CLI_LENGTH, "LENGTH", AT(opts.smooth_mm), 0, 0, NULL, "a tenth of min-opening",
      "How far curves may be from the outline they follow: more gives fewer nodes, less keeps small corners. Openings and webs are "
      "planned wider by as much." },
    { "droop", SW_CLI_LENGTH0, "LENGTH", AT(opts.droop_mm), 0, 0, NULL, "5mm",
      "How far a part may sink when a sheet is carried flat; more bridges are left where it would be more. 0: no limit." },
    { "material", SW_CLI_TEXT, "NAME", AT(opts.material), 0, 0, NULL, "plastic",
      "What is cut. It sets what is used where no option says otherwise (common practice, no source), and stiffness and "
      "weight for the droop. Never PVC or vinyl under a laser: the fumes are poisonous. The shop and the data sheet decide.\n"
      "plastic: opening 3mm, web 5mm, kerf 0mm, 0.8mm thick\n"
      "film: opening 3mm, web 6mm, kerf 0mm, 0.25mm thick\n"
      "oiled-board: opening 3mm, web 6mm, kerf 0mm, 0.5mm thick\n"
      "card: opening 3mm, web 6mm, kerf 0mm, 1mm thick\n"
      "hardboard: opening 4mm, web 7mm, kerf 0.25mm, 3.2mm thick\n"
      "plywood: opening 5mm, web 8mm, kerf 0.25mm, 4mm thick\n"
      "acrylic: opening 3mm, web 6mm, kerf 0.2mm, 2mm thick" },
    { "surface", SW_CLI_TEXT, "NAME", AT(opts.surface), 0, 0, NULL, "smooth",
      "What is painted on. A rough wall blurs edges, drinks paint and takes longer: where no option says otherwise the "
      "material's smallest opening and web grow, and the estimates with them (common practice, no source).\n"
      "smooth: plaster, as the material says\n"
      "render: opening x1.5, web x1.2, paint x1.4, time x1.3\n"
      "brick: opening x2, web x1.5, paint x1.6, time x1.5\n"
      "timber: opening x1.2, web x1.2, paint x1.2, time x1.2" },
    { "thickness", SW_CLI_LENGTH, "LENGTH", AT(opts.thickness_mm), 0, 0, NULL, "by material",
      "How thick the material is, for the droop." },
    { "marks", SW_CLI_TEXT, "FILE", AT(opts.marks), 0, 0, NULL, NULL,
      "A picture of the same shape on which you painted: pure green keeps detail, pure red forbids bridges, pure blue asks "
      "for a bridge; the rest says nothing." },
    { "zones", SW_CLI_TEXT, "FILE", AT(opts.zones), 0, 0, NULL, NULL,
      "A picture of the same shape that gives every group of the drawing (sky, boats, lettering) an area in one colour." },
    { "zone", SW_CLI_ZONE, "NAME,#rrggbb,N", AT(opts), 0, 0, NULL, NULL,
      "A group, its colour in that picture, and how many passes it gets; repeat it in painting order." },
    { "bed", SW_CLI_BED, "WIDTHxHEIGHT", AT(opts.bed_width_mm), 0, 0, NULL, NULL,
      "Size of the cutter's bed, like 1200x800mm: sheets are split into panels that fit it, upright or turned." },
    { "stagger", SW_CLI_FLAG, NULL, AT(opts.is_staggered), 0, 0, NULL, NULL,
      "Seams of one pass do not lie over those of another." },
    { "guides", SW_CLI_COUNT, "N", AT(opts.guides_pass), 1, SW_MAX_PASSES, NULL, NULL,
      "Guide slots in the sheet of pass N: short dashes along edges of the picture that no sheet paints, to find them "
      "again with a brush." },
    { "key-windows", SW_CLI_FLAG, NULL, AT(opts.has_key_windows), 0, 0, NULL, NULL,
      "To lay later sheets by eye: up to three corners of earlier paint a panel, seen through an opening that the pass paints "
      "anyway or through a small window that a later pass paints over; ticks on the sheet point at each." },
    { "reuse", SW_CLI_FLAG, NULL, AT(opts.is_reuse), 0, 0, NULL, NULL,
      "Openings that are copies or mirror images of another in their sheet are not cut, except where a seam meets them: "
      "dashes on the sheet, the job's page and job.json say where the one that is cut is held again." },
    { "touch-up", SW_CLI_FLAG, NULL, AT(opts.is_touch_up), 0, 0, NULL, NULL,
      "Also write touch-up.png: the bridges that show on the wall, numbered, with a table of paint, place and size, to close "
      "them by brush." },
    { "kerf", SW_CLI_LENGTH0, "LENGTH", AT(opts.kerf_mm), 0, 0, NULL, "by material",
      "Width the beam or blade removes; cut lines lie half of it inside what is to be open." },
    { "format", SW_CLI_SET, "LIST", AT(opts.formats), 0, 0, "svg|pdf|eps", "svg",
      "Formats of the cut files, with commas: svg,pdf,eps." },
    { "stroke", SW_CLI_POINTS, "WIDTH", AT(opts.stroke_mm), 0, 0, NULL, "0.25pt",
      "Width of the lines in cut files; shops ask for 0.1 to 2.5 points (common practice)." },
    { "feed", SW_CLI_MEASURE, "SPEED", AT(opts.rates.feed_mm_s), 0.01, 10000, "mm/s|m/min|mm/min|in/min",
      "20mm/s; common practice, no source", "For the estimates: how fast the machine cuts." },
    { "travel-speed", SW_CLI_MEASURE, "SPEED", AT(opts.rates.travel_mm_s), 0.01, 10000, "mm/s|m/min|mm/min|in/min",
      "200mm/s; common practice, no source", "How fast it moves between cuts." },
    { "pierce-time", SW_CLI_MEASURE, "TIME", AT(opts.rates.pierce_s), 0, 600, "s|min", "0.5s; common practice, no source",
      "How long it takes to go in, each time." },
    { "load-time", SW_CLI_MEASURE, "TIME", AT(opts.rates.load_minutes), 0, 600, "min|s|h",
      "3min; common practice, no source", "A sheet on and off the machine." },
    { "coverage", SW_CLI_MEASURE, "AREA", AT(opts.rates.coverage_m2), 0.01, 1000, "m2|sqft",
      "2m2; common practice, no source", "What one can covers in one coat, where the list of paints does not say." },
    { "paint-waste", SW_CLI_PERCENT, "0..95", AT(opts.rates.waste_ratio), 0, 95, NULL, "35; common practice, no source",
      "Share of the paint that lands on the sheet, in percent." },
    { "place-time", SW_CLI_MEASURE, "TIME", AT(opts.rates.place_minutes), 0, 600, "min|s|h",
      "6min; common practice, no source", "To line up a sheet and tape it." },
    { "spray-time", SW_CLI_MEASURE, "TIME", AT(opts.rates.spray_minutes_m2), 0, 600, "min/m2",
      "4min/m2; common practice, no source", "To spray a square metre." },
    { "dry-time", SW_CLI_MEASURE, "TIME", AT(opts.rates.dry_minutes), 0, 100000, "min|h|s",
      "15min; common practice, no source", "Drying between two passes; the can's data sheet knows." },
    { "memory", SW_CLI_SIZE, "SIZE", AT(opts.memory_bytes), 0, 0, NULL, NULL,
      "Refuse at once what would need more memory than this, like 600MB or 2GB." },
    { "replace", SW_CLI_FLAG, NULL, AT(is_replace), 0, 0, NULL, NULL, "Replace an existing job folder." },
    { "json", SW_CLI_FLAG, NULL, AT(is_json), 0, 0, NULL, NULL, "Print the measurements as JSON instead of the report." },
    { "quiet", SW_CLI_FLAG, NULL, AT(is_quiet), 0, 0, NULL, NULL, "No report, no progress." },
    { "threads", SW_CLI_COUNT, "N", AT(n_threads), 1, 64, NULL, "2",
      "Processor threads. The result is the same for any number." },
};

/* The picture must not lie in a folder that is about to be replaced: walk up from the picture's folder and compare
 * device and inode, so that links and odd spellings cannot hide it. */
static bool is_inside(const char *picture, const char *dir)
{
    struct stat outer, level, above;
    char path[PATH_MAX];
    const char *const slash = strrchr(picture, '/');
    const int n = slash == NULL ? snprintf(path, sizeof path, ".")
                                : snprintf(path, sizeof path, "%.*s/.", (int)(slash - picture), picture);
    if (n < 0 || stat(dir, &outer) != 0 || stat(path, &level) != 0) return false;
    for (size_t end = (size_t)n; end + 4 < sizeof path; end += 3) {
        if (level.st_dev == outer.st_dev && level.st_ino == outer.st_ino) return true;
        memcpy(path + end, "/..", 4);
        if (stat(path, &above) != 0 || (above.st_dev == level.st_dev && above.st_ino == level.st_ino)) return false;
        level = above;
    }
    return false;
}

/* What can be known to fail before the long work begins. */
static sw_status check_out(const cut_args *args, const char *picture, const char *out, sw_note *note)
{
    if (strcmp(picture, "-") != 0 && is_inside(picture, out))
        return sw_fail(note, SW_BAD_USAGE, "'%s' lies inside '%s', which would be replaced; choose another --out", picture,
                       out);
    return sw_folder_check(out, args->is_replace, note);
}

/* The command line; when it names an options file, that file first and the command line again over it. pictures: room
 * for argc. */
static sw_status parse_args(const sw_cli_command *command, int argc, char **argv, cut_args *args, sw_cli_operands *pictures,
                            char **file_text, sw_note *note)
{
    const cut_args defaults = *args;
    SW_TRY(sw_cli_parse(command, argc, argv, args, &defaults, pictures, note));
    if (pictures->is_help || args->job_file == NULL) return SW_OK;
    const cut_args alone = *args;
    const char *const path = args->job_file;
    *args = defaults;
    pictures->at[0] = NULL;
    SW_TRY(sw_cli_read_options(command, path, args, file_text, &pictures->at[0], note));
    if (args->job_file != NULL)
        return sw_fail(note, SW_BAD_USAGE, "'%s' names another file of options; write them into one", path);
    const bool has_picture = pictures->at[0] != NULL;
    /* what can be repeated is not added to: given here, it replaces all of the file's */
    if (alone.paints.n > 0) args->paints.n = 0;
    if (alone.opts.n_zones > 0) args->opts.n_zones = 0;
    SW_TRY(sw_cli_parse(command, argc, argv, args, &defaults, pictures, note));
    if (pictures->n == 0 && has_picture) pictures->n = 1;
    return SW_OK;
}

static sw_status check_args(const cut_args *args, size_t n_pictures, sw_note *note)
{
    if (n_pictures == 0) return sw_fail(note, SW_BAD_USAGE, "a picture is missing: stencilwright cut PICTURE --out DIR");
    if (args->out == NULL || args->out[0] == '\0')
        return sw_fail(note, SW_BAD_USAGE, "--out is missing; name the folder to write, like --out heron-job");
    return SW_OK;
}

/* ---- one picture ------------------------------------------------------------------------------------------ */

/* What is printed of a finished job: the report, or in a batch one line; JSON if asked. */
typedef struct printer {
    bool is_json, is_quiet, is_batch;
    size_t n_printed;
} printer;

static void add_line(sw_text *out, const sw_job *job, const char *dir)
{
    size_t n_openings = 0;
    double cut_mm = 0.0;
    for (size_t i = 0; i < job->n_openings; i++) n_openings += job->openings[i].n;
    for (size_t p = 0; p < job->layout.n_panels; p++) cut_mm += job->layout.panels[p].cut_length_mm;
    sw_text_add_name(out, dir);
    sw_text_addf(out, ": %zu sheet%s, %zu openings, ", job->layout.n_panels, job->layout.n_panels == 1 ? "" : "s", n_openings);
    sw_text_add_number(out, cut_mm / 1000.0, 1);
    sw_text_add(out, " m to cut, colour difference ");
    sw_text_add_number(out, job->proof.mean_ciede2000, 2);
    sw_text_add(out, job->proof.is_good ? ", proved\n" : ", NOT GOOD\n");
}

static sw_status print_result(printer *print, const sw_job *job, const char *dir, sw_note *note)
{
    if (print->is_quiet && !print->is_json) return SW_OK;
    sw_text line = { 0 };
    char *text = NULL;
    if (print->is_json) text = sw_job_json(job);
    else if (!print->is_batch) text = sw_job_report(job);
    else add_line(&line, job, dir);
    if (text == NULL && (line.data == NULL || line.is_broken)) {
        sw_text_free(&line);
        return sw_fail_memory(note, "the report");
    }
    sw_status st = SW_OK;
    if (print->is_json && print->is_batch) st = sw_cli_print(print->n_printed == 0 ? "[\n" : ",\n", note);
    if (st == SW_OK) st = sw_cli_print(text != NULL ? text : line.data, note);
    print->n_printed++;
    sw_string_free(text);
    sw_text_free(&line);
    return st;
}

/* Returns the exit status. */
static int cut_one(const cut_args *args, const char *picture, const char *out, printer *print)
{
    sw_note note = { 0 }, print_note = { 0 };
    sw_job *job = NULL;
    sw_status st = check_out(args, picture, out, &note);
    if (st != SW_OK) return sw_cli_fail(st, &note);
    sw_cli_progress progress;
    sw_cli_progress_begin(&progress, args->is_quiet);
    sw_cut_opts opts = args->opts;
    opts.tell = sw_cli_progress_tell;
    opts.tell_ctx = &progress;
    st = sw_cli_pick_passes(picture, &opts, args->is_quiet || args->is_json, &note);
    if (st == SW_OK) st = sw_job_cut(picture, &opts, &job, &note);
    if (st == SW_OK) st = sw_job_write(job, out, args->is_replace, &note);
    sw_cli_progress_end(&progress);
    const sw_status printed = job != NULL ? print_result(print, job, out, &print_note) : SW_OK;
    sw_job_free(job);
    if (st != SW_OK) return sw_cli_fail(st, &note);
    return printed != SW_OK ? sw_cli_fail(printed, &print_note) : 0;
}

/* ---- several pictures --------------------------------------------------------------------------------------- */

/* DIR/NAME, the name being the picture's without its ending. */
static void add_out(sw_text *out, const char *dir, const char *picture)
{
    const char *const slash = strrchr(picture, '/');
    const char *const name = slash == NULL ? picture : slash + 1;
    const char *const dot = strrchr(name, '.');
    const size_t n = dot == NULL ? 0 : (size_t)(dot - name);
    sw_text_addf(out, "%s/", dir);
    sw_text_add_bytes(out, name, n > strspn(name, ".") ? n : strlen(name)); /* "..png" without its ending is no name */
}

static sw_status name_all(const cut_args *args, const char **pictures, size_t n, sw_text *outs, sw_note *note)
{
    for (size_t i = 0; i < n; i++) {
        if (strcmp(pictures[i], "-") == 0)
            return sw_fail(note, SW_BAD_USAGE, "standard input can only be cut alone; it has no name to make a folder of");
        add_out(&outs[i], args->out, pictures[i]);
        if (outs[i].is_broken) return sw_fail_memory(note, "the names of the jobs");
        for (size_t k = 0; k < i; k++) {
            if (strcmp(outs[k].data, outs[i].data) == 0)
                return sw_fail(note, SW_BAD_USAGE, "'%s' and '%s' would both become '%s'; cut them one by one", pictures[k],
                               pictures[i], outs[i].data);
        }
    }
    return SW_OK;
}

/* The folder that will hold the jobs; it may be there already, but not be a job itself. */
static sw_status make_parent(const char *dir, bool *is_made, sw_note *note)
{
    struct stat info;
    sw_text record = { 0 };
    sw_text_addf(&record, "%s/job.json", dir);
    const bool is_job = !record.is_broken && stat(record.data, &info) == 0;
    sw_text_free(&record);
    if (is_job)
        return sw_fail(note, SW_EXISTS, "'%s' is a job folder; name another --out to hold the jobs of several pictures", dir);
    *is_made = mkdir(dir, (mode_t)0777) == 0;
    if (*is_made) return SW_OK;
    if (errno == ENOENT || errno == ENOTDIR)
        return sw_fail(note, SW_BAD_USAGE, "'%s' cannot be made: the folder for it is not there; correct the name or make that folder first",
                       dir);
    if (errno != EEXIST) return sw_fail(note, SW_IO, "'%s' cannot be made (%s)", dir, strerror(errno));
    if (stat(dir, &info) == 0 && S_ISDIR(info.st_mode)) return SW_OK;
    return sw_fail(note, SW_EXISTS, "'%s' is there and is no folder; choose another --out", dir);
}

/* A job each in args->out; returns the worst exit status. */
static int cut_all(const cut_args *args, const char **pictures, size_t n, printer *print)
{
    sw_note note = { 0 };
    bool is_made = false;
    int worst = 0;
    sw_text *const outs = sw_alloc_array(n, sizeof *outs);
    if (outs == NULL) return sw_cli_fail(sw_fail_memory(&note, "the names of the jobs"), &note);
    sw_status st = name_all(args, pictures, n, outs, &note);
    if (st == SW_OK) st = make_parent(args->out, &is_made, &note);
    for (size_t i = 0; st == SW_OK && i < n && !sw_is_interrupted(); i++) {
        const int one = cut_one(args, pictures[i], outs[i].data, print);
        worst = one > worst ? one : worst;
    }
    if (st == SW_OK && print->is_json) st = sw_cli_print(print->n_printed == 0 ? "[]\n" : "]\n", &note);
    if (st == SW_OK && sw_is_interrupted() && worst < 3) st = sw_fail(&note, SW_INTERRUPTED, "interrupted; not every picture was cut");
    if (st != SW_OK) worst = sw_cli_fail(st, &note);
    if (is_made) rmdir(args->out); /* goes only when nothing was put into it */
    for (size_t i = 0; i < n; i++) sw_text_free(&outs[i]);
    sw_free(outs);
    return worst;
}

static int run_cut(const sw_cli_command *command, int argc, char **argv)
{
    cut_args args = { .opts = sw_cut_defaults() };
    const char **const pictures = sw_alloc_array((size_t)argc + 1, sizeof *pictures);
    sw_cli_operands operands = { .at = pictures, .max = (size_t)argc };
    int status = 0;
    sw_note note = { 0 };
    char *file_text = NULL;
    if (pictures == NULL) return sw_cli_fail(sw_fail_memory(&note, "the command line"), &note);
    sw_status st = parse_args(command, argc, argv, &args, &operands, &file_text, &note);
    const size_t n = operands.n;
    if (st == SW_OK && !operands.is_help) st = check_args(&args, n, &note);
    args.opts.kind = (sw_cut_kind)args.kind;
    args.opts.n_threads = (int)args.n_threads;
    args.opts.n_paints = args.paints.n;
    memcpy(args.opts.paint_rgb, args.paints.rgb, sizeof args.paints.rgb);
    printer print = { .is_json = args.is_json, .is_quiet = args.is_quiet, .is_batch = n > 1 };
    if (st != SW_OK) status = sw_cli_fail(st, &note);
    else if (operands.is_help) status = sw_cli_help(command);
    else if (n == 1) status = cut_one(&args, pictures[0], args.out, &print);
    else status = cut_all(&args, pictures, n, &print);
    sw_free(file_text);
    sw_free(pictures);
    return status;
}

const sw_cli_command sw_cli_cut = {
    .name = "cut",
    .operands = "PICTURE...",
    .summary = "make the stencils of a picture",
    .about = "Reduce a PNG or JPEG picture (\"-\" reads standard input) to a few paint passes, draw each as closed cut "
             "lines, leave bridges so that nothing falls out, prove the result and write it into a folder:\n"
             "layers.svg all passes; cut/ a file a sheet for the cutting shop; preview.png the wall as sprayed; "
             "bridges.png every bridge numbered; job.html what to do, in order; job.json every measurement; job.options what was asked.\n"
             "Several pictures become a job folder each inside the folder that --out names.",
    .options = options,
    .n_options = SW_ARRAY_LEN(options),
    .run = run_cut,
};
