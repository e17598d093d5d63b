/* stencilwright check FILE... */
#include "check/check.h"
#include "cli/cli.h"

#include <string.h>

#define MAX_FILES 4096
#define MAX_FILE_BYTES 2000000000u

typedef struct check_args {
    sw_cut_opts opts;
    sw_cli_paints paints;
    int kind;
    size_t n_threads;
    const char *out;
    bool is_json, is_replace, is_fix;
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
    { "detail", SW_CLI_PERCENT, "0..100", AT(opts.detail_ratio), 0, 100, NULL, "55", "As for cut." },
    { "min-opening", SW_CLI_LENGTH, "LENGTH", AT(opts.min_opening_mm), 0, 0, NULL, "by material and surface",
      "Narrowest opening that cutter and spray manage." },
    { "min-web", SW_CLI_LENGTH, "LENGTH", AT(opts.min_web_mm), 0, 0, NULL, "by material and surface", "Narrowest strip of material that lasts." },
    { "material", SW_CLI_TEXT, "NAME", AT(opts.material), 0, 0, NULL, "plastic", "As for cut: it sets the two above." },
    { "surface", SW_CLI_TEXT, "NAME", AT(opts.surface), 0, 0, NULL, "smooth", "As for cut: smooth, render, brick or timber; a rough wall needs wider parts." },
    { "out", SW_CLI_TEXT, "FILE", AT(out), 0, 0, NULL, NULL,
      "Of a picture: write it as a PNG, pale, with what will be lost, what is too thin and where bridges must fall. With "
      "--fix: the mended drawing." },
    { "fix", SW_CLI_FLAG, NULL, AT(is_fix), 0, 0, NULL, NULL,
      "Draw a bridge to every island of an SVG and write the result to --out; what needs no change stays to the byte. The "
      "answer is then about the result." },
    { "replace", SW_CLI_FLAG, NULL, AT(is_replace), 0, 0, NULL, NULL, "Replace an existing file." },
    { "json", SW_CLI_FLAG, NULL, AT(is_json), 0, 0, NULL, NULL, "Print everything measured as JSON." },
    { "threads", SW_CLI_COUNT, "N", AT(n_threads), 1, 64, NULL, "2", "Processor threads. The result is the same for any number." },
};

static sw_status print_text(sw_text *text, sw_note *note)
{
    const sw_status st = text->is_broken ? sw_fail_memory(note, "the report") : sw_cli_print(text->data == NULL ? "" : text->data, note);
    sw_text_free(text);
    return st;
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

/* One file's answer, as text. */
typedef struct answer {
    sw_status status;
    sw_note note;
    bool is_no;
    sw_text text;
} answer;

/* One file is told at length; of several the passes are not compared. */
typedef enum form { FORM_REPORT, FORM_JSON, FORM_LINE, FORM_JSON_OF_MANY } form;

static bool is_json(form f) { return f == FORM_JSON || f == FORM_JSON_OF_MANY; }

static void add_drawing(const check_args *args, const uint8_t *bytes, size_t n, const char *path, form f, answer *out)
{
    const sw_svg_opts opts = { args->opts.min_opening_mm, args->opts.min_web_mm, args->opts.droop_mm, args->opts.material };
    sw_svg_check check = { 0 };
    sw_text fixed = { 0 };
    size_t n_bridges = 0, n_left = 0;
    if (args->is_fix) {
        out->status = sw_svg_fix(bytes, n, path, &opts, &fixed, &n_bridges, &n_left, &out->note);
        if (out->status == SW_OK) out->status = sw_file_write(args->out, args->is_replace, fixed.data, fixed.size, &out->note);
        bytes = (const uint8_t *)fixed.data;
        n = fixed.size;
        if (f == FORM_REPORT)
            sw_text_addf(&out->text, "%zu bridge%s drawn, %zu island%s left; written to %s\n", n_bridges, n_bridges == 1 ? "" : "s",
                         n_left, n_left == 1 ? "" : "s", args->out);
    }
    if (out->status == SW_OK) out->status = sw_svg_check_make(bytes, n, path, &opts, &check, &out->note);
    if (out->status == SW_OK) {
        if (is_json(f)) sw_svg_check_json(&check, &out->text);
        else if (f == FORM_REPORT) sw_svg_check_report(&check, &out->text);
        else sw_svg_check_line(&check, &out->text);
        out->is_no = check.verdict == SW_VERDICT_NO;
    }
    sw_svg_check_free(&check);
    sw_text_free(&fixed);
}

static void add_picture(const check_args *args, const uint8_t *bytes, size_t n, const char *path, form f, answer *out)
{
    const sw_check_opts opts = { .cut = args->opts, .has_passes_table = f == FORM_REPORT || f == FORM_JSON, .has_chart = args->out != NULL };
    sw_check check = { 0 };
    out->status = sw_check_picture_memory(bytes, n, path, &opts, &check, &out->note);
    if (out->status == SW_OK) out->status = write_chart(args, &check, &out->note);
    if (out->status == SW_OK) {
        if (is_json(f)) sw_check_json(&check, &out->text);
        else if (f == FORM_REPORT) sw_check_report(&check, &out->text);
        else sw_check_line(&check, &out->text);
        out->is_no = check.reasons.verdict == SW_VERDICT_NO;
    }
    sw_check_free(&check);
}

/* What a file is, its content says. */
static void add_file(const check_args *args, const char *path, form f, answer *out)
{
    uint8_t *bytes = NULL;
    size_t n = 0;
    out->status = sw_file_read(path, MAX_FILE_BYTES, &bytes, &n, &out->note);
    if (out->status == SW_OK) {
        if (sw_svg_is_one(bytes, n)) add_drawing(args, bytes, n, path, f, out);
        else if (args->is_fix) out->status = sw_fail(&out->note, SW_BAD_USAGE, "'%s' is a picture; --fix mends drawings (SVG)", path);
        else add_picture(args, bytes, n, path, f, out);
    }
    if (out->status == SW_OK && out->text.is_broken) out->status = sw_fail_memory(&out->note, path);
    sw_free(bytes);
}

static int check_one(const check_args *args, const char *path)
{
    answer a = { .status = SW_OK };
    add_file(args, path, args->is_json ? FORM_JSON : FORM_REPORT, &a);
    if (a.status == SW_OK) a.status = print_text(&a.text, &a.note);
    sw_text_free(&a.text);
    return a.status == SW_OK ? a.is_no : sw_cli_fail(a.status, &a.note);
}

typedef struct many {
    const check_args *args;
    char *const *files;
    answer *answers;
} many;

static void check_some(size_t begin, size_t end, void *ctx)
{
    const many *const m = ctx;
    for (size_t i = begin; i < end; i++)
        add_file(m->args, m->files[i], m->args->is_json ? FORM_JSON_OF_MANY : FORM_LINE, &m->answers[i]);
}

/* Several files side by side; answers in the order asked, one line each (with --json, one list). */
static int check_many(const check_args *args, char *const *files, size_t n)
{
    many m = { args, files, sw_alloc_array(n, sizeof *m.answers) };
    sw_text all = { 0 };
    sw_note note = { 0 };
    int worst = 0;
    bool is_first = true;
    if (m.answers == NULL) return sw_cli_fail(sw_fail_memory(&note, "the answers"), &note);
    sw_parallel_bands(n, 1, check_some, &m);
    if (args->is_json) sw_text_add(&all, "[\n");
    for (size_t i = 0; i < n; i++) {
        answer *const a = &m.answers[i];
        const bool is_told = a->status == SW_INTERRUPTED && worst == sw_status_exit(SW_INTERRUPTED); /* once is enough */
        const int one = a->status == SW_OK ? a->is_no : is_told ? worst : sw_cli_fail(a->status, &a->note);
        worst = one > worst ? one : worst;
        if (a->status == SW_OK) {
            if (args->is_json && !is_first) sw_text_add(&all, ",\n");
            sw_text_add(&all, a->text.data == NULL ? "" : a->text.data);
            if (!args->is_json) sw_text_add(&all, "\n");
            is_first = false;
        }
        sw_text_free(&a->text);
    }
    if (args->is_json) sw_text_add(&all, "]\n");
    sw_free(m.answers);
    const sw_status st = print_text(&all, &note);
    return st == SW_OK ? worst : sw_cli_fail(st, &note);
}

static sw_status check_args_ok(const check_args *args, const char **files, size_t n_files, sw_note *note)
{
    if (n_files == 0) return sw_fail(note, SW_BAD_USAGE, "a file is missing: stencilwright check FILE");
    if (args->out != NULL && n_files > 1) return sw_fail(note, SW_BAD_USAGE, "--out needs a single file to check");
    if (args->is_fix && args->out == NULL) return sw_fail(note, SW_BAD_USAGE, "--fix needs --out, the file to write");
    if (args->out != NULL && sw_cli_is_same_file(files[0], args->out))
        return sw_fail(note, SW_BAD_USAGE, "--out '%s' is the file to check itself; name another", args->out);
    return args->out == NULL ? SW_OK : sw_file_check(args->out, args->is_replace, note);
}

static int run_check(const sw_cli_command *command, int argc, char **argv)
{
    check_args args = { .opts = sw_cut_defaults() };
    static const char *files[MAX_FILES];
    const check_args defaults = args;
    sw_cli_operands operands = { .at = files, .max = MAX_FILES };
    sw_note note = { 0 };
    sw_status st = sw_cli_parse(command, argc, argv, &args, &defaults, &operands, &note);
    const size_t n_files = operands.n;
    if (operands.is_help) return sw_cli_help(command);
    if (st == SW_OK) st = check_args_ok(&args, files, n_files, &note);
    if (st != SW_OK) return sw_cli_fail(st, &note);
    st = sw_job_check_opts(&args.opts, &note);
    if (st != SW_OK) return sw_cli_fail(st, &note);
    sw_cut_complete(&args.opts);
    args.opts.kind = (sw_cut_kind)args.kind;
    args.opts.n_paints = args.paints.n;
    memcpy(args.opts.paint_rgb, args.paints.rgb, sizeof args.paints.rgb);
    sw_threads_set((int)args.n_threads);
    sw_cli_files found = { 0 };
    st = sw_cli_files_find(files, n_files, &found, &note);
    if (st == SW_OK && found.has_folder && args.out != NULL)
        st = sw_fail(&note, SW_BAD_USAGE, "--out needs a single file to check, not a folder");
    if (st != SW_OK) {
        sw_cli_files_free(&found);
        return sw_cli_fail(st, &note);
    }
    const bool is_one = n_files == 1 && !found.has_folder;
    const int exit_status = is_one ? check_one(&args, found.at[0]) : check_many(&args, found.at, found.n);
    sw_cli_files_free(&found);
    return exit_status;
}

const sw_cli_command sw_cli_check = {
    .name = "check",
    .operands = "FILE|FOLDER...",
    .summary = "say whether a picture can be a stencil, and how large it must be",
    .about = "Judge PNG, JPEG or SVG files (\"-\" reads standard input): yes, no, or yes if; the reasons by weight, each with "
             "what would mend it; how much is lost at which width; what 1 to 6 passes take.\n"
             "Several files, or the pictures and drawings of a folder, are judged side by side, a line each. Exit status 0 for yes and yes-if, 1 for no.",
    .options = options,
    .n_options = SW_ARRAY_LEN(options),
    .run = run_check,
};
