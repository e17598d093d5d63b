/* What a person at a terminal sees while a job runs, and how results and failures are printed. */
#include "cli/cli.h"

#include <stdio.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#define SHOW_AFTER_S 0.5 /* shorter work needs no progress */

static double now_s(void)
{
    struct timespec t = { 0 };
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

void sw_cli_progress_begin(sw_cli_progress *progress, bool is_quiet)
{
    *progress = (sw_cli_progress){ .begun_s = now_s(), .is_on = !is_quiet && isatty(STDERR_FILENO) == 1 };
}

void sw_cli_progress_tell(void *ctx, const char *stage, double done_ratio)
{
    sw_cli_progress *const progress = ctx;
    if (!progress->is_on || (!progress->is_shown && now_s() - progress->begun_s < SHOW_AFTER_S)) return;
    fprintf(stderr, "\r\033[K%3d %%  %s", (int)(done_ratio * 100.0), stage);
    fflush(stderr);
    progress->is_shown = true;
}

void sw_cli_progress_end(sw_cli_progress *progress)
{
    if (progress->is_shown) fprintf(stderr, "\r\033[K");
    progress->is_shown = false;
}

int sw_cli_fail(sw_status st, const sw_note *note)
{
    fprintf(stderr, "stencilwright: %s\n", note->text[0] != '\0' ? note->text : sw_status_text(st));
    return sw_status_exit(st);
}

sw_status sw_cli_print(const char *text, sw_note *note)
{
    if (fputs(text, stdout) >= 0 && fflush(stdout) == 0 && ferror(stdout) == 0) return SW_OK;
    return sw_fail(note, SW_IO, "the report cannot be printed; is standard output full or closed?");
}

bool sw_cli_is_same_file(const char *one, const char *two)
{
    struct stat a, b;
    return one != NULL && two != NULL && stat(one, &a) == 0 && stat(two, &b) == 0 && a.st_dev == b.st_dev && a.st_ino == b.st_ino;
}
