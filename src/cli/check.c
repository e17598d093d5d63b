/* stencilwright check FILE... */
#include "check/check.h"
#include "cli/cli.h"

#include <stdio.h>
#include <string.h>

#define MAX_FILES 4096
#define MAX_FILE_BYTES 2000000000u

typedef struct check_args {
    sw_cut_opts opts;
    sw_cli_paints paints;
    int kind;
    size_t n_threads;
    const char *out;
    bool is_json, is_replace;
} check_args;

#define AT(field) offsetof(check_args, field)

static const sw_cli_option options[] = {
    { "width", SW_CLI_LENGTH, "LENGTH", AT(opts.width_mm), 0, 0, NULL, NULL,
      "Width on the wall to judge. Without width and height the density stated in the file decides; without that, how "
      "large it must be is the answer." },
    { "height", SW_CLI_LENGTH, "LENGTH", AT(opts.height_mm), 0, 0, NULL, NULL, "Height instead of width." },
    { "passes", SW_CLI_COUNT, "N", AT(opts.n_passes), 1, SW_MAX_PASSES, NULL, "3", "Paint passes, 1 to 8." },
    { "separate", SW_CLI_CHOICE, "HOW", AT(kind), 0, 0, "tone|colour|line", "tone",
      "tone: steps of lightness. colour: few colours. line: the lines of a drawing on paper." },
    { "paint", SW_CLI_PAINT, "'#rrggbb'", AT(paints), 0, 0, NULL, NULL, "A paint that may be used; repeat it." },
    { "ground", SW_CLI_COLOUR, "'#rrggbb'", AT(opts.ground_rgb), 0, 0, NULL, "#ffffff", "Colour of the bare wall." },
    { "detail", SW_CLI_PERCENT, "0..100", AT(opts.detail_ratio), 0, 100, NULL, "50", "As for cut." },
    { "min-opening", SW_CLI_LENGTH, "LENGTH", AT(opts.min_opening_mm), 0, 0, NULL, "3mm",
      "Narrowest opening that cutter and spray manage." },
    { "min-web", SW_CLI_LENGTH, "LENGTH", AT(opts.min_web_mm), 0, 0, NULL, "5mm", "Narrowest strip of material that lasts." },
    { "out", SW_CLI_TEXT, "FILE.png", AT(out), 0, 0, NULL, NULL,
      "Write the picture dimmed, with what will be lost, what is too thin and where bridges must fall." },
    { "replace", SW_CLI_FLAG, NULL, AT(is_replace), 0, 0, NULL, NULL, "Replace an existing file." },
    { "json", SW_CLI_FLAG, NULL, AT(is_json), 0, 0, NULL, NULL, "Print everything measured as JSON." },
    { "threads", SW_CLI_COUNT, "N", AT(n_threads), 1, 64, NULL, "2", "Processor threads. The result is the same for any number." },
};

static sw_status print_text(sw_text *text, sw_note *note)
{
    const bool is_broken = text->is_broken;
    const bool is_printed = is_broken || (fputs(text->data == NULL ? "" : text->data, stdout) >= 0 && fflush(stdout) == 0);
    sw_text_free(text);
    if (is_broken) return sw_fail_memory(note, "the report");
    return is_printed ? SW_OK : sw_fail(note, SW_IO, "the report cannot be printed; is standard output full or closed?");
}

static sw_status write_chart(const check_args *args, const sw_check *check, sw_note *note)
{
    sw_text png = { 0 };
    if (args->out == NULL || check->chart.at == NULL) return SW_OK;
    sw_status st = sw_write_png(&check->chart, 0.0, &png, note);
    if (st == SW_OK) st = sw_file_write(args->out, args->is_replace, png.data, png.size, note);
    sw_text_free(&png);
    return st;
}

static int check_one(const check_args *args, const char *path)
{
    const sw_check_opts opts = { .cut = args->opts, .has_passes_table = true, .has_chart = args->out != NULL };
    sw_check check = { 0 };
    sw_text text = { 0 };
    sw_note note = { 0 };
    sw_status st = sw_check_picture(path, &opts, &check, &note);
    if (st == SW_OK) {
        if (args->is_json) sw_check_json(&check, &text);
        else sw_check_report(&check, &text);
        st = print_text(&text, &note);
    }
    if (st == SW_OK) st = write_chart(args, &check, &note);
    const int answer = check.reasons.verdict == SW_VERDICT_NO;
    sw_check_free(&check);
    return st == SW_OK ? answer : sw_cli_fail(st, &note);
}

static sw_status check_args_ok(const check_args *args, size_t n_files, sw_note *note)
{
    if (n_files == 0) return sw_fail(note, SW_BAD_USAGE, "a file is missing: stencilwright check FILE");
    if (args->out != NULL && n_files > 1) return sw_fail(note, SW_BAD_USAGE, "--out needs a single file to check");
    return SW_OK;
}

static int run_check(const sw_cli_command *command, int argc, char **argv)
{
    check_args args = { .opts = sw_cut_defaults() };
    static const char *files[MAX_FILES];
    size_t n_files = 0;
    bool is_help = false;
    sw_note note = { 0 };
    sw_status st = sw_cli_parse(command, argc, argv, &args, files, MAX_FILES, &n_files, &is_help, &note);
    if (is_help) return sw_cli_help(command), 0;
    if (st == SW_OK) st = check_args_ok(&args, n_files, &note);
    if (st != SW_OK) return sw_cli_fail(st, &note);
    args.opts.kind = (sw_cut_kind)args.kind;
    args.opts.n_paints = args.paints.n;
    memcpy(args.opts.paint_rgb, args.paints.rgb, sizeof args.paints.rgb);
    sw_threads_set((int)args.n_threads);
    return check_one(&args, files[0]);
}

const sw_cli_command sw_cli_check = {
    .name = "check",
    .operands = "FILE...",
    .summary = "say whether a picture can be a stencil, and how large it must be",
    .about = "Judge PNG, JPEG or SVG files (\"-\" reads standard input): yes, no, or yes if; the reasons by weight, each with "
             "what would mend it; how much is lost at which width; what 1 to 6 passes take.\n"
             "Exit status 0 for yes and yes-if, 1 for no.",
    .options = options,
    .n_options = SW_ARRAY_LEN(options),
    .run = run_check,
};
