/* What a person at a terminal sees while a job runs, and how a failure is printed. */
#include "cli/cli.h"

#include <stdio.h>
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
