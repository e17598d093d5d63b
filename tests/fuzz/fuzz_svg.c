/* Fuzz target: drawings as somebody hands them in, read, judged and mended. */
#include "check/check.h"
#include "replay.h"

#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    const sw_svg_opts opts = { .min_opening_mm = 3.0, .min_web_mm = 5.0 };
    sw_svg_check check = { 0 };
    sw_text text = { 0 };
    sw_note note = { { 0 } };
    if (sw_svg_check_make(bytes, n, "fuzz.svg", &opts, &check, &note) != SW_OK) {
        if (note.text[0] == '\0' || check.name != NULL) abort();
        return 0;
    }
    sw_svg_check_report(&check, &text);
    sw_svg_check_json(&check, &text);
    if (text.is_broken || text.size == 0) abort();
    sw_text_free(&text);
    sw_svg_check_free(&check);
    sw_text fixed = { 0 };
    size_t n_bridges = 0, n_left = 0;
    if (sw_svg_fix(bytes, n, "fuzz.svg", &opts, &fixed, &n_bridges, &n_left, NULL) != SW_OK || fixed.is_broken) abort();
    if (n_bridges == 0 && fixed.size != n) abort();
    sw_text_free(&fixed);
    return 0;
}
