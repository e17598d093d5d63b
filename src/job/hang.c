/* What is said about parts that hang. */
#include "job/job.h"

#include <stdio.h>

/* The drawn curves may hold so much worse than the planned sheet before it is said: a tenth of a web's width less. */
#define DRAWN_RATIO 1.5
#define DRAWN_MM 1.0

sw_hang sw_job_hang(const sw_job *job, size_t pass)
{
    sw_hang worst = { 0 };
    size_t n_over = 0;
    for (size_t p = 0; p < job->layout.n_panels && p < job->proof.n_panels; p++) {
        const sw_hang *const hang = &job->proof.panels[p].hang;
        if (job->layout.panels[p].pass != pass) continue;
        n_over += hang->n_over;
        if (hang->droop_mm > worst.droop_mm) worst = *hang;
    }
    worst.n_over = n_over;
    return worst;
}

static void describe(char *to, size_t size, double droop_mm)
{
    if (droop_mm > SW_JOB_LOOSE_MM) snprintf(to, size, "hangs loose");
    else snprintf(to, size, "droops %.0f mm", droop_mm);
}

void sw_job_warn_of_droop(sw_job *job, size_t i)
{
    const sw_sheet *const sheet = &job->sheets.at[i];
    const double limit_mm = job->opts.droop_mm;
    const sw_hang hang = sw_job_hang(job, sheet->pass);
    if (!(limit_mm > 0.0 && hang.droop_mm > SW_JOB_CLEARLY_RATIO * limit_mm)) return;
    char how[64];
    describe(how, sizeof how, hang.droop_mm);
    if (!(sheet->hang.droop_mm > SW_JOB_CLEARLY_RATIO * limit_mm) && hang.droop_mm > DRAWN_RATIO * sheet->hang.droop_mm + DRAWN_MM)
        sw_job_warn(job, "pass %zu: as drawn, the part at %.0f, %.0f mm %s, though %.1f mm was planned; carry the sheet on a "
                         "board",
                    sheet->pass, hang.at.x_mm, hang.at.y_mm, how, sheet->hang.droop_mm);
    else
        sw_job_warn(job, "pass %zu: the part at %.0f, %.0f mm %s (%.0f mm of material as narrow as %.0f mm hold it), and no "
                         "bridge that shows little enough helps; press it flat, carry the sheet on a board or choose a stiffer "
                         "--material",
                    sheet->pass, hang.at.x_mm, hang.at.y_mm, how, hang.length_mm, hang.width_mm);
}
