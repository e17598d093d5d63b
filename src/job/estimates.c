/* What the job takes, told to people: the whole estimate on one page, with every rate it was made with. */
#include "job/html.h"

#include <stdio.h>
#include <string.h>

#define AT(field) offsetof(sw_rates, field)

static const sw_job_rate rates[] = {
    { "feed", "mm/s", "feed_mm_s", "cutting", AT(feed_mm_s), 1.0 },
    { "travel-speed", "mm/s", "travel_mm_s", "moving between cuts", AT(travel_mm_s), 1.0 },
    { "pierce-time", "s", "pierce_s", "going in, each time", AT(pierce_s), 1.0 },
    { "load-time", "min", "load_minutes", "a sheet on and off the machine", AT(load_minutes), 1.0 },
    { "coverage", "m2", "coverage_m2", "a can covers, in one coat", AT(coverage_m2), 1.0 },
    { "paint-waste", "%", "paint_waste_percent", "paint that lands on the sheet", AT(waste_ratio), 100.0 },
    { "place-time", "min", "place_minutes", "placing and taping a sheet", AT(place_minutes), 1.0 },
    { "spray-time", "min/m2", "spray_minutes_m2", "spraying", AT(spray_minutes_m2), 1.0 },
    { "dry-time", "min", "dry_minutes", "drying between two passes", AT(dry_minutes), 1.0 },
};

const sw_job_rate *sw_job_rate_at(size_t i) { return i < SW_ARRAY_LEN(rates) ? &rates[i] : NULL; }

double sw_job_rate_value(const sw_job_rate *rate, const sw_rates *of)
{
    return *(const double *)(const void *)((const char *)of + rate->offset) * rate->scale;
}

/* Name of a pass's place in the list of paints says what its can covers. */
static bool has_own_coverage(const sw_job *job)
{
    bool has_one = false;
    for (size_t i = 0; i < job->sheets.n; i++) has_one = has_one || sw_job_paint_coverage_m2(job, job->sheets.at[i].pass) > 0.0;
    return has_one;
}

/* ---- the report ----------------------------------------------------------------------------------- */

static void add_cell(sw_text *out, double value, int decimals, int width)
{
    sw_text cell = { 0 };
    sw_text_add_number(&cell, value, decimals);
    sw_text_addf(out, "%*s", width, cell.data != NULL ? cell.data : "");
    out->is_broken = out->is_broken || cell.is_broken;
    sw_text_free(&cell);
}

static void add_line(sw_text *out, const char *name, const sw_estimate *e)
{
    sw_text_addf(out, "        %-8s%6zu", name, e->n_panels);
    add_cell(out, e->material_m2, 2, 10);
    add_cell(out, e->cut_mm / 1000.0, 1, 9);
    add_cell(out, e->machine_minutes, 0, 9);
    add_cell(out, e->open_m2, 3, 9);
    sw_text_addf(out, "%6zu", e->n_cans);
    add_cell(out, e->painting_minutes, 0, 10);
    sw_text_add(out, "\n");
}

void sw_job_add_estimates(sw_text *out, const sw_job *job)
{
    sw_text_add(out, "about           sheets  material     cut  machine    paint  cans  painting\n"
                     "                              m2       m      min       m2             min\n");
    for (size_t i = 0; i < job->sheets.n; i++) {
        char name[16];
        snprintf(name, sizeof name, "pass %u", (unsigned)job->sheets.at[i].pass);
        add_line(out, name, &job->pass_estimates[i]);
    }
    add_line(out, "all", &job->estimate);
    sw_text_add(out, "rates   ");
    for (size_t i = 0; i < SW_ARRAY_LEN(rates); i++) {
        sw_text_addf(out, "%s--%s ", i == 0 ? "" : i % 5 == 0 ? "\n        " : " ", rates[i].option);
        sw_text_add_number(out, sw_job_rate_value(&rates[i], &job->opts.rates), 3);
        sw_text_add(out, rates[i].scale > 1.0 ? "" : rates[i].unit);
    }
    sw_text_addf(out, "\n        drying is in the last line; where no rate was given it is common practice, no source%s\n",
                 has_own_coverage(job) ? ";\n        what a can covers is from the list of paints where it says so" : "");
}

/* ---- job.html --------------------------------------------------------------------------------------- */

static void add_td(sw_text *out, double value, int decimals)
{
    sw_text_add(out, "<td>");
    sw_text_add_number(out, value, decimals);
    sw_text_add(out, "</td>");
}

static void add_row(sw_text *out, const sw_estimate *e)
{
    sw_text_addf(out, "</th><td>%zu</td>", e->n_panels);
    add_td(out, e->material_m2, 2);
    add_td(out, e->cut_mm / 1000.0, 1);
    add_td(out, e->travel_mm / 1000.0, 1);
    sw_text_addf(out, "<td>%zu</td>", e->n_pierces);
    add_td(out, e->machine_minutes, 0);
    add_td(out, e->open_m2, 3);
    sw_text_addf(out, "<td>%zu (", e->n_cans);
    sw_text_add_number(out, e->paint_cans, 2);
    sw_text_add(out, ")</td>");
    add_td(out, e->painting_minutes, 0);
    sw_text_add(out, "</tr>\n");
}

static void add_rates(sw_text *out, const sw_job *job)
{
    sw_text_add(out, "<h3>Rates used</h3>\n<dl class=\"table rates\">");
    for (size_t i = 0; i < SW_ARRAY_LEN(rates); i++) {
        sw_text_addf(out, "<dt>%s</dt><dd>", rates[i].words);
        sw_text_add_number(out, sw_job_rate_value(&rates[i], &job->opts.rates), 3);
        const size_t n = strlen(rates[i].unit);
        const bool is_area = rates[i].unit[n - 1] == '2';
        sw_text_addf(out, "&nbsp;%.*s%s <code>--%s</code></dd>", (int)(is_area ? n - 1 : n), rates[i].unit, is_area ? "²" : "", rates[i].option);
    }
    sw_text_addf(out, "</dl>\n<p class=quiet>Where no rate was given it is common practice, no source: the shop’s and your own are "
                      "better, and the can’s data sheet knows what it covers.%s</p>\n",
                 has_own_coverage(job) ? " Where the list of paints says what a can covers, that was used." : "");
}

void sw_html_add_estimates(sw_text *out, const sw_job *job)
{
    sw_text_add(out, "<section id=time><h2>Time and material</h2>\n<div class=wide tabindex=0 role=region aria-label=\"Estimates\">"
                     "<table class=numbers><thead><tr><th scope=col>Pass</th><th scope=col>Sheets</th><th scope=col>Material, m²</th>"
                     "<th scope=col>Cut, m</th><th scope=col>Travel, m</th><th scope=col>Starts</th><th scope=col>Machine, min</th>"
                     "<th scope=col>Painted, m²</th><th scope=col>Cans (exactly)</th><th scope=col>Painting, min</th></tr></thead><tbody>\n");
    for (size_t i = 0; i < job->sheets.n; i++) {
        sw_text_add(out, "<tr><th scope=row>");
        sw_html_add_swatch(out, job->sheets.at[i].paint, job->sheets.at[i].pass);
        add_row(out, &job->pass_estimates[i]);
    }
    sw_text_add(out, "<tr class=total><th scope=row>All");
    add_row(out, &job->estimate);
    sw_text_add(out, "</tbody></table></div>\n<p>Painting ");
    sw_text_add_number(out, job->estimate.painting_minutes / 60.0, 1);
    sw_text_add(out, "&nbsp;hours with drying between the passes; the machine ");
    sw_text_add_number(out, job->estimate.machine_minutes / 60.0, 1);
    sw_text_add(out, "&nbsp;hours.</p>\n");
    if (sw_surface_find(job->opts.surface) != sw_surface_at(0)) {
        sw_text_add(out, "<p>The wall: ");
        sw_surface_add_words(out, sw_surface_find(job->opts.surface), &job->asked, &job->opts);
        sw_text_add(out, ".</p>\n");
    }
    add_rates(out, job);
    sw_text_add(out, "</section>\n");
}
