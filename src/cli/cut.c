/* stencilwright cut PICTURE --out DIR */
#include "cli/cli.h"

#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

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
      "Take picture and options from this file, such as the job.options of an earlier job; options given here win." },
    { "width", SW_CLI_LENGTH, "LENGTH", AT(opts.width_mm), 0, 0, NULL, NULL,
      "Width of the artwork on the wall, like 2100mm, 210cm, 2.1m, 83in or 7ft. Without width and height the density "
      "stated in the file decides." },
    { "height", SW_CLI_LENGTH, "LENGTH", AT(opts.height_mm), 0, 0, NULL, NULL, "Height instead of width." },
    { "passes", SW_CLI_COUNT, "N", AT(opts.n_passes), 1, SW_MAX_PASSES, NULL, "3",
      "Paint passes, 1 to 8. The bare wall is one more colour and costs no sheet." },
    { "separate", SW_CLI_CHOICE, "HOW", AT(kind), 0, 0, "tone|colour|line", "tone",
      "tone: steps of lightness. colour: few colours. line: the lines of a drawing on paper." },
    { "paint", SW_CLI_PAINT, "'#rrggbb'", AT(paints), 0, 0, NULL, NULL,
      "A paint that may be used; repeat it. Without it paints are chosen freely." },
    { "paint-list", SW_CLI_TEXT, "FILE", AT(opts.paint_list), 0, 0, NULL, NULL,
      "A list of the paints you own, a line each: name,#rrggbb[,square metres a can covers]. The best of them are used." },
    { "ground", SW_CLI_COLOUR, "'#rrggbb'", AT(opts.ground_rgb), 0, 0, NULL, "#ffffff", "Colour of the bare wall." },
    { "detail", SW_CLI_PERCENT, "0..100", AT(opts.detail_ratio), 0, 100, NULL, "50",
      "0 gives few quiet shapes, 100 keeps every small one that can be cut." },
    { "min-opening", SW_CLI_LENGTH, "LENGTH", AT(opts.min_opening_mm), 0, 0, NULL, "3mm",
      "Narrowest opening that cutter and spray manage." },
    { "min-web", SW_CLI_LENGTH, "LENGTH", AT(opts.min_web_mm), 0, 0, NULL, "5mm",
      "Narrowest strip of material that lasts; also the width of bridges." },
    { "frame", SW_CLI_LENGTH, "LENGTH", AT(opts.frame_mm), 0, 0, NULL, "40mm",
      "Uncut margin around a sheet; it carries registration marks and labels." },
    { "trap", SW_CLI_LENGTH0, "LENGTH", AT(opts.trap_mm), 0, 0, NULL, "1.5mm",
      "How far a paint spreads under a later one, so that a sheet taped a little off shows no gap." },
    { "droop", SW_CLI_LENGTH0, "LENGTH", AT(opts.droop_mm), 0, 0, NULL, "5mm",
      "How far a part may sink when a sheet is carried flat; more bridges are left where it would be more. 0: no limit." },
    { "material", SW_CLI_TEXT, "NAME", AT(opts.material), 0, 0, NULL, "plastic",
      "What is cut: plastic (polypropylene), film (polyester), card, hardboard, plywood or acrylic; never PVC or vinyl. Sets thickness and stiffness for the droop; the data sheet decides." },
    { "marks", SW_CLI_TEXT, "FILE", AT(opts.marks), 0, 0, NULL, NULL,
      "A picture of the same shape on which you painted: pure green keeps detail, pure red forbids bridges, pure blue asks "
      "for a bridge; the rest says nothing." },
    { "bed", SW_CLI_BED, "WIDTHxHEIGHT", AT(opts.bed_width_mm), 0, 0, NULL, NULL,
      "Size of the cutter's bed, like 1200x800mm: sheets are split into panels that fit it, upright or turned." },
    { "stagger", SW_CLI_FLAG, NULL, AT(opts.is_staggered), 0, 0, NULL, NULL,
      "Seams of one pass do not lie over those of another." },
    { "guides", SW_CLI_COUNT, "N", AT(opts.guides_pass), 1, SW_MAX_PASSES, NULL, NULL,
      "Guide slots in the sheet of pass N: short dashes along edges of the picture that no sheet paints, to find them "
      "again with a brush." },
    { "kerf", SW_CLI_LENGTH0, "LENGTH", AT(opts.kerf_mm), 0, 0, NULL, "0mm",
      "Width the beam or blade removes; cut lines lie half of it inside what is to be open." },
    { "format", SW_CLI_SET, "LIST", AT(opts.formats), 0, 0, "svg|pdf|eps", "svg",
      "Formats of the cut files, with commas: svg,pdf,eps." },
    { "stroke", SW_CLI_POINTS, "WIDTH", AT(opts.stroke_mm), 0, 0, NULL, "0.25pt",
      "Width of the lines in cut files; shops ask for 0.1 to 2.5 points (common practice)." },
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
static sw_status check_args(const cut_args *args, const char *picture, sw_note *note)
{
    if (picture == NULL) return sw_fail(note, SW_BAD_USAGE, "a picture is missing: stencilwright cut PICTURE --out DIR");
    if (args->out == NULL || args->out[0] == '\0')
        return sw_fail(note, SW_BAD_USAGE, "--out is missing; name the folder to write, like --out heron-job");
    if (is_inside(picture, args->out))
        return sw_fail(note, SW_BAD_USAGE, "'%s' lies inside '%s', which would be replaced; choose another --out", picture,
                       args->out);
    return sw_folder_check(args->out, args->is_replace, note);
}

static sw_status print_result(const cut_args *args, const sw_job *job, sw_note *note)
{
    if (args->is_quiet && !args->is_json) return SW_OK;
    char *const text = args->is_json ? sw_job_json(job) : sw_job_report(job);
    if (text == NULL) return sw_fail_memory(note, "the report");
    const bool is_printed = fputs(text, stdout) >= 0 && fflush(stdout) == 0;
    sw_string_free(text);
    return is_printed ? SW_OK : sw_fail(note, SW_IO, "the report cannot be printed; is standard output full or closed?");
}

/* The command line; when it names an options file, that file first and the command line again over it. */
static sw_status parse_args(const sw_cli_command *command, int argc, char **argv, cut_args *args, const char **picture,
                            char **file_text, bool *is_help, sw_note *note)
{
    size_t n_operands = 0;
    const cut_args defaults = *args;
    SW_TRY(sw_cli_parse(command, argc, argv, args, picture, 1, &n_operands, is_help, note));
    if (*is_help || args->job_file == NULL) return SW_OK;
    const char *const path = args->job_file;
    *args = defaults;
    *picture = NULL;
    SW_TRY(sw_cli_read_options(command, path, args, file_text, picture, note));
    const size_t n_file_paints = args->paints.n;
    SW_TRY(sw_cli_parse(command, argc, argv, args, picture, 1, &n_operands, is_help, note));
    if (args->paints.n > n_file_paints && n_file_paints > 0) { /* paints given here replace the file's */
        args->paints.n -= n_file_paints;
        memmove(args->paints.rgb, args->paints.rgb + n_file_paints, args->paints.n * sizeof args->paints.rgb[0]);
    }
    return SW_OK;
}

static int run_cut(const sw_cli_command *command, int argc, char **argv)
{
    cut_args args = { .opts = sw_cut_defaults() };
    const char *picture = NULL;
    bool is_help = false;
    sw_note note = { 0 };
    sw_job *job = NULL;
    char *file_text = NULL;
    sw_status st = parse_args(command, argc, argv, &args, &picture, &file_text, &is_help, &note);
    if (st == SW_OK && !is_help) st = check_args(&args, picture, &note);
    if (is_help || st != SW_OK) {
        sw_free(file_text);
        return is_help ? sw_cli_help(command), 0 : sw_cli_fail(st, &note);
    }

    sw_cli_progress progress;
    sw_cli_progress_begin(&progress, args.is_quiet);
    args.opts.kind = (sw_cut_kind)args.kind;
    args.opts.n_threads = (int)args.n_threads;
    args.opts.n_paints = args.paints.n;
    memcpy(args.opts.paint_rgb, args.paints.rgb, sizeof args.paints.rgb);
    args.opts.tell = sw_cli_progress_tell;
    args.opts.tell_ctx = &progress;
    st = sw_job_cut(picture, &args.opts, &job, &note);
    if (st == SW_OK) st = sw_job_write(job, args.out, args.is_replace, &note);
    sw_cli_progress_end(&progress);
    sw_note print_note = { 0 };
    const sw_status printed = job != NULL ? print_result(&args, job, &print_note) : SW_OK;
    sw_job_free(job);
    sw_free(file_text);
    if (st != SW_OK) return sw_cli_fail(st, &note);
    return printed != SW_OK ? sw_cli_fail(printed, &print_note) : 0;
}

const sw_cli_command sw_cli_cut = {
    .name = "cut",
    .operands = "PICTURE",
    .summary = "make the stencils of a picture",
    .about = "Reduce a PNG or JPEG picture (\"-\" reads standard input) to a few paint passes, draw each as closed cut "
             "lines, leave bridges so that nothing falls out, prove the result and write it into a folder:\n"
             "layers.svg all passes; cut/ a file a sheet for the cutting shop; preview.png the wall as sprayed; "
             "job.json every measurement.",
    .options = options,
    .n_options = SW_ARRAY_LEN(options),
    .run = run_cut,
};
