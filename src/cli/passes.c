/* --passes auto: the table of 1 to 6 passes that `check` makes, and the number it picks. */
#include "check/check.h"
#include "cli/cli.h"

#include <string.h>

sw_status sw_cli_pick_passes(const char *picture, sw_cut_opts *opts, bool is_quiet, sw_note *note)
{
    if (opts->n_passes != 0) return SW_OK;
    if (strcmp(picture, "-") == 0)
        return sw_fail(note, SW_BAD_USAGE, "--passes auto looks at the picture twice; give a file instead of '-'");
    sw_check_opts check_opts = { .cut = *opts, .has_passes_table = true };
    sw_check check = { 0 };
    check_opts.cut.n_passes = SW_CHECK_MAX_PASSES;
    sw_threads_set(opts->n_threads);
    SW_TRY(sw_check_picture(picture, &check_opts, &check, note));
    opts->n_passes = check.picked_passes > 0 ? check.picked_passes : 1;
    sw_text table = { 0 };
    sw_check_passes_table(&check, &table);
    sw_status st = table.is_broken ? sw_fail_memory(note, "the table of passes") : SW_OK;
    if (st == SW_OK && !is_quiet && table.data != NULL) st = sw_cli_print(table.data, note);
    sw_text_free(&table);
    sw_check_free(&check);
    return st;
}
