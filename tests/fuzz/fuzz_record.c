/* Fuzz target: job.json of a job folder, as `wall` reads it: measures, passes and panels. */
#include "../../src/wall/job_read.c"
#include "replay.h"

#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    sw_wall_job job = { 0 };
    sw_note note = { { 0 } };
    const sw_status st = take_json((const char *)bytes, n, "job.json", &job, &note);
    if (st != SW_OK && note.text[0] == '\0') abort();
    if (st == SW_OK && (!(job.width_mm > 0.0) || job.n_passes < 1 || job.n_passes > SW_MAX_PASSES)) abort();
    for (size_t i = 0; i < job.n_panels; i++) {
        if (job.panels[i].pass < 1 || job.panels[i].pass > job.n_passes || !(job.panels[i].art.width_mm > 0.0)) abort();
    }
    sw_wall_job_free(&job);
    return 0;
}
