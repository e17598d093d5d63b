/* Fuzz target: a list of paints. What is read is within its bounds; what is refused has one line that says why. */
#include "separate/separate.h"
#include "replay.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    sw_paints paints = { 0 };
    sw_note note = { { 0 } };
    const sw_status st = sw_paints_read_memory(bytes, n, "fuzz", &paints, &note);
    if (st != SW_OK && (paints.at != NULL || note.text[0] == '\0' || strchr(note.text, '\n') != NULL)) abort();
    if (st == SW_OK && (paints.n == 0 || paints.n > SW_MAX_PAINTS)) abort();
    for (size_t i = 0; i < paints.n; i++) {
        if (memchr(paints.at[i].name, '\0', sizeof paints.at[i].name) == NULL) abort();
        if (!(isfinite(paints.at[i].coverage_m2) && paints.at[i].coverage_m2 >= 0.0)) abort();
    }
    sw_paints_free(&paints);
    return 0;
}
