/* Fuzz target: the option parser of `cut`, as a command line and as an options file. What is accepted and passes the
 * job's own check is written as job.options and read back: the second text must equal the first. */
#define _GNU_SOURCE /* memfd_create */
#include "../../src/cli/parse.c"
#include "../../src/cli/cut.c"
#include "../../src/cli/passes.c"
#include "replay.h"

#include <stdlib.h>
#include <sys/mman.h>

#define MAX_WORDS 40

/* What the table of `cut` needs of the rest of the program; never called here. */
int sw_cli_help(const sw_cli_command *command) { return (void)command, 0; }
sw_status sw_cli_print(const char *text, sw_note *note) { return (void)text, (void)note, SW_OK; }
void sw_cli_progress_begin(sw_cli_progress *progress, bool is_quiet) { (void)progress, (void)is_quiet; }
void sw_cli_progress_tell(void *ctx, const char *stage, double done_ratio) { (void)ctx, (void)stage, (void)done_ratio; }
void sw_cli_progress_end(sw_cli_progress *progress) { (void)progress; }
int sw_cli_fail(sw_status st, const sw_note *note) { return (void)note, sw_status_exit(st); }

static sw_status read_text(const void *bytes, size_t n, cut_args *args, char **text, const char **picture)
{
    char path[64];
    sw_note note = { { 0 } };
    *args = (cut_args){ .opts = sw_cut_defaults() };
    const int fd = memfd_create("options", 0);
    if (fd < 0 || write(fd, bytes, n) != (ssize_t)n) abort();
    snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
    const sw_status st = sw_cli_read_options(&sw_cli_cut, path, args, text, picture, &note);
    close(fd);
    if (st != SW_OK && (note.text[0] == '\0' || strchr(note.text, '\n') != NULL)) abort();
    return st;
}

static void write_text(const cut_args *args, const char *picture, sw_text *out)
{
    sw_cut_opts opts = args->opts;
    opts.kind = (sw_cut_kind)args->kind;
    opts.n_paints = args->paints.n;
    memcpy(opts.paint_rgb, args->paints.rgb, sizeof args->paints.rgb);
    sw_job_tidy_opts(&opts);
    if (sw_job_check_opts(&opts, NULL) == SW_OK) sw_job_add_options(out, picture != NULL ? picture : "-", &opts);
}

static void as_file(const uint8_t *bytes, size_t n)
{
    cut_args first, second;
    char *text = NULL, *again = NULL;
    const char *picture = NULL, *picture_again = NULL;
    sw_text one = { 0 }, two = { 0 };
    if (read_text(bytes, n, &first, &text, &picture) == SW_OK) write_text(&first, picture, &one);
    if (one.data != NULL) {
        if (read_text(one.data, one.size, &second, &again, &picture_again) != SW_OK) abort();
        write_text(&second, picture_again, &two);
        if (one.size != two.size || memcmp(one.data, two.data, one.size) != 0) abort();
    }
    sw_text_free(&one);
    sw_text_free(&two);
    sw_free(text);
    sw_free(again);
}

static void as_command_line(const uint8_t *bytes, size_t n)
{
    char text[4096], *words[MAX_WORDS + 1] = { text };
    const char *operands[3];
    int n_words = 1;
    sw_cli_operands found = { .at = operands, .max = 3 };
    sw_note note = { { 0 } };
    const cut_args defaults = { .opts = sw_cut_defaults() };
    cut_args args = defaults;
    memcpy(text, bytes, n);
    text[n] = '\0';
    for (size_t i = 0; i < n && n_words < MAX_WORDS; i++) {
        if (text[i] != '\n') continue;
        text[i] = '\0';
        words[n_words++] = text + i + 1;
    }
    const sw_status st = sw_cli_parse(&sw_cli_cut, n_words, words, &args, &defaults, &found, &note);
    if (found.n > 3 || (st != SW_OK && note.text[0] == '\0')) abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    if (n >= 4096) return 0;
    as_file(bytes, n);
    as_command_line(bytes, n);
    return 0;
}
