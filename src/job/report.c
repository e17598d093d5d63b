/* The short report for people. */
#include "job/job.h"

static void add_metres(sw_text *out, double length_mm)
{
    sw_text_add_number(out, length_mm / 1000.0, length_mm < 100000.0 ? 2 : 0);
    sw_text_add(out, " m");
}

/* "1 island", "2 islands". */
static void add_count(sw_text *out, size_t n, const char *noun) { sw_text_addf(out, "%zu %s%s", n, noun, n == 1 ? "" : "s"); }

static void add_pass(sw_text *out, const sw_job *job, size_t i)
{
    const sw_sheet *const sheet = &job->sheets.at[i];
    const sw_contour_measure m = sw_contours_measure(&job->openings[i]);
    size_t n_visible = 0;
    for (size_t b = 0; b < sheet->n_bridges; b++) n_visible += !sheet->bridges[b].is_hidden;
    const char *const zone = job->opts.n_zones > 0 ? job->opts.zone[job->zone_of_pass[sheet->pass]].name : "";
    sw_text_addf(out, "pass %zu  %s%s#%02x%02x%02x  ", sheet->pass, zone, zone[0] != '\0' ? "  " : "", sheet->paint.r, sheet->paint.g,
                 sheet->paint.b);
    add_count(out, job->openings[i].n, "opening");
    sw_text_addf(out, ", %zu nodes, cut ", m.n_nodes);
    add_metres(out, m.length_mm);
    sw_text_add(out, ", paint ");
    sw_text_add_number(out, m.area_mm2 / 1e6, 3);
    sw_text_add(out, " m2\n                  ");
    add_count(out, sheet->n_islands, "island");
    sw_text_add(out, ": ");
    add_count(out, sheet->n_bridges, "bridge");
    sw_text_addf(out, " (%zu show%s on the wall), %zu cut away\n", n_visible, n_visible == 1 ? "s" : "", sheet->n_islands_dropped);
    if (sheet->n_openings_widened + sheet->n_openings_dropped + sheet->n_webs_thickened + sheet->n_webs_merged > 0)
        sw_text_addf(out,
                     "                  too fine for cutter and spray: openings %zu widened, %zu dropped; webs %zu "
                     "thickened, %zu cut away\n",
                     sheet->n_openings_widened, sheet->n_openings_dropped, sheet->n_webs_thickened,
                     sheet->n_webs_merged);
}

static void add_proof(sw_text *out, const sw_job *job)
{
    size_t n_good = 0;
    for (size_t p = 0; p < job->proof.n_panels; p++) n_good += job->proof.panels[p].is_good;
    sw_text_addf(out, "proof   %zu of %zu sheets hold: one piece, closed, nothing too narrow\n", n_good,
                 job->proof.n_panels);
    sw_text_add(out, "        mean colour difference to the picture (CIEDE2000) ");
    sw_text_add_number(out, job->proof.mean_ciede2000, 2);
    sw_text_add(out, "\n");
    if (job->proof.is_good) return;
    sw_text_add(out, "NOT GOOD ");
    sw_proof_explain(&job->proof, &job->layout, out);
    sw_text_add(out, "\n");
}

static void add_warnings(sw_text *out, const sw_job *job)
{
    bool is_line_start = true;
    for (size_t i = 0; i < job->warnings.size; i++) {
        if (is_line_start) sw_text_add(out, "note    ");
        sw_text_add_bytes(out, &job->warnings.data[i], 1);
        is_line_start = job->warnings.data[i] == '\n';
    }
}

char *sw_job_report(const sw_job *job)
{
    sw_text out = { 0 };
    sw_text_add_name(&out, job->picture_name);
    sw_text_add(&out, " on the wall: ");
    add_metres(&out, job->opts.width_mm);
    sw_text_add(&out, " x ");
    add_metres(&out, job->opts.height_mm);
    const sw_rgb8 ground = job->separation.colour[0];
    sw_text_addf(&out, ", %zu pass%s over ground #%02x%02x%02x\n", job->sheets.n, job->sheets.n == 1 ? "" : "es",
                 ground.r, ground.g, ground.b);
    for (size_t i = 0; i < job->sheets.n; i++) add_pass(&out, job, i);
    add_proof(&out, job);
    sw_job_add_estimates(&out, job);
    if (sw_surface_find(job->opts.surface) != sw_surface_at(0)) {
        sw_text_add(&out, "wall    ");
        sw_surface_add_words(&out, sw_surface_find(job->opts.surface), &job->asked, &job->opts);
        sw_text_add(&out, "\n");
    }
    if (job->n_guides > 0) sw_text_addf(&out, "guides  %zu dashes in the sheet of pass %zu\n", job->n_guides, job->opts.guides_pass);
    sw_job_add_keys(&out, job);
    sw_job_add_repeats(&out, job);
    add_warnings(&out, job);
    sw_text_add(&out, "caution spray in fresh air with a respirator, away from flames; laser shops: never PVC or vinyl, "
                      "never unattended;\n        ladders on firm ground. The data sheets and local rules decide.\n");
    if (out.is_broken) sw_text_free(&out);
    return out.data;
}

void sw_string_free(char *text) { sw_free(text); }
