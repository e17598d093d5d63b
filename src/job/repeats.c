/* Openings that occur again: what is reported of them, and how people use one of them again. */
#include "job/html.h"

#define DEGREES_RAD (180.0 / 3.14159265358979323846)

typedef struct sums {
    size_t n_openings, n_groups, n_motions; /* copies; groups; groups and single copies */
    double cut_mm;
    size_t n_left_out, n_places; /* by --reuse */
    double left_out_mm;
} sums;

static sums add_up(const sw_job *job)
{
    sums all = { 0 };
    for (size_t i = 0; i < job->sheets.n; i++) {
        const sw_repeats *const repeats = &job->repeats[i];
        all.n_openings += repeats->n;
        all.n_groups += repeats->n_groups;
        all.cut_mm += repeats->saved_cut_mm;
        for (size_t k = 0; k < repeats->n; k++)
            all.n_motions += repeats->at[k].group == 0 || k == 0 || repeats->at[k - 1].group != repeats->at[k].group;
    }
    for (size_t r = 0; r < job->layout.n_reused; r++) {
        all.n_left_out += job->layout.reused[r].n_openings;
        all.left_out_mm += job->layout.reused[r].cut_mm;
    }
    all.n_places = job->layout.n_reused;
    return all;
}

static double machine_minutes(const sw_job *job, double cut_mm, size_t n)
{
    return (cut_mm / job->opts.rates.feed_mm_s + (double)n * job->opts.rates.pierce_s) / 60.0;
}

void sw_job_add_repeats(sw_text *out, const sw_job *job)
{
    const sums all = add_up(job);
    if (all.n_openings == 0) return;
    sw_text_addf(out, "repeats %zu opening%s of another", all.n_openings, all.n_openings == 1 ? " is a copy" : "s are copies");
    if (all.n_groups > 0) sw_text_addf(out, ", %zu group%s as one", all.n_groups, all.n_groups == 1 ? " moves" : "s move");
    if (!job->opts.is_reuse) {
        sw_text_addf(out, "; --reuse would hold a sheet up again %zu time%s\n        and save at most ", all.n_motions,
                     all.n_motions == 1 ? "" : "s");
        sw_text_add_number(out, all.cut_mm / 1000.0, 2);
        sw_text_add(out, " m of cutting, machine ");
        sw_text_add_number(out, machine_minutes(job, all.cut_mm, all.n_openings), 1);
        sw_text_add(out, " min\n");
        return;
    }
    sw_text_addf(out, "; %zu are not cut\n        saved ", all.n_left_out);
    sw_text_add_number(out, all.left_out_mm / 1000.0, 2);
    sw_text_add(out, " m of cutting, machine ");
    sw_text_add_number(out, machine_minutes(job, all.left_out_mm, all.n_left_out), 1);
    sw_text_addf(out, " min; a sheet is held up again %zu time%s, ", all.n_places, all.n_places == 1 ? "" : "s");
    sw_text_add_number(out, (double)all.n_places * job->opts.rates.place_minutes, 0);
    sw_text_add(out, " min\n");
}

/* ---- job.json --------------------------------------------------------------------------------------- */

void sw_job_add_repeats_json(sw_text *out, const sw_job *job)
{
    const sums all = add_up(job);
    sw_json_count(out, "repeated_openings", all.n_openings);
    sw_json_count(out, "repeated_groups", all.n_groups);
    sw_json_number(out, "repeated_cut_mm", all.cut_mm);
    sw_json_count(out, "reused_openings", all.n_left_out);
    sw_json_number(out, "reused_cut_mm", all.left_out_mm);
    sw_json_field(out, "reused");
    sw_text_add(out, "[");
    for (size_t r = 0; r < job->layout.n_reused; r++) {
        const sw_reuse *const reuse = &job->layout.reused[r];
        sw_json_element(out);
        sw_text_add(out, "{");
        sw_json_count(out, "number", reuse->number);
        sw_json_count(out, "pass", reuse->pass);
        sw_json_count(out, "openings", reuse->n_openings);
        sw_json_string(out, "original_panel", reuse->from_panel);
        sw_json_string(out, "panel", reuse->at_panel);
        sw_json_point(out, "original_mm", reuse->from);
        sw_json_point(out, "at_mm", reuse->at);
        sw_json_number(out, "turn_degrees", reuse->turn_rad * DEGREES_RAD);
        sw_json_bool(out, "mirrored", reuse->is_mirrored);
        sw_text_add(out, "}");
    }
    sw_text_add(out, "]");
}

/* ---- job.html ---------------------------------------------------------------------------------------- */

static void add_sheet_of(sw_text *out, const char *panel)
{
    if (panel[0] != '\0') sw_text_addf(out, "panel %s", panel);
    else sw_text_add(out, "the sheet");
}

static void add_turn(sw_text *out, const sw_reuse *reuse)
{
    const double degrees = reuse->turn_rad * DEGREES_RAD;
    if (reuse->is_mirrored) sw_text_add(out, "turned over left to right, then ");
    if (degrees > -0.05 && degrees < 0.05) {
        sw_text_add(out, "upright");
        return;
    }
    sw_text_add_number(out, degrees < 0.0 ? -degrees : degrees, 1);
    sw_text_add(out, degrees > 0.0 ? "° clockwise" : "° anticlockwise");
}

static void add_row(sw_text *out, const sw_job *job, const sw_reuse *reuse)
{
    sw_text_addf(out, "<tr><th scope=row>%zu</th><td>", reuse->number);
    sw_html_add_swatch(out, job->separation.colour[reuse->pass], reuse->pass);
    sw_text_addf(out, " pass %zu, ", reuse->pass);
    add_sheet_of(out, reuse->from_panel);
    sw_text_addf(out, "</td><td>%zu</td><td>", reuse->n_openings);
    sw_html_add_place(out, reuse->at.x_mm, job->opts.height_mm - reuse->at.y_mm, false);
    sw_text_add(out, "</td><td>");
    add_turn(out, reuse);
    sw_text_add(out, "</td></tr>\n");
}

void sw_html_add_reuse(sw_text *out, const sw_job *job)
{
    const sums all = add_up(job);
    if (all.n_places == 0) return;
    sw_text_addf(out,
                 "<section id=again><h2>Openings used again</h2>\n<p>%zu openings are not cut, because others of their sheet are copies of "
                 "them: that saves ",
                 all.n_left_out);
    sw_text_add_number(out, all.left_out_mm / 1000.0, 1);
    sw_text_addf(out,
                 "&nbsp;m of cutting. Beside what is used again stand its number and four ticks; the one with an arrow is up. The "
                 "lines through the ticks cross at its middle.</p>\n<ol>\n<li>Chalk a cross on the wall where the table says, turned as it "
                 "says.</li>\n<li>When the first paint is dry, hold the sheet so that its ticks lie on the cross, arrow up the cross; a sheet "
                 "that is turned over must be clean and dry on its face.</li>\n<li>Cover every other opening, spray thin, take it "
                 "off, rub out the chalk.</li></ol>\n"
                 "<p>On the sheets the places are drawn in dashes with the same number. Places from <span class=origin>the artwork’s "
                 "lower left corner, to the right and up</span>.</p>\n<div class=wide tabindex=0 role=region aria-label=\"Openings used "
                 "again\"><table><thead><tr><th scope=col>No.</th><th scope=col>Cut in</th><th scope=col>Openings</th><th scope=col>Middle "
                 "at</th><th scope=col>Held</th></tr></thead><tbody>\n");
    for (size_t r = 0; r < job->layout.n_reused; r++) add_row(out, job, &job->layout.reused[r]);
    sw_text_add(out, "</tbody></table></div></section>\n");
}

void sw_html_add_reuse_step(sw_text *out, const sw_job *job, size_t pass)
{
    size_t n = 0;
    for (size_t r = 0; r < job->layout.n_reused; r++) n += job->layout.reused[r].pass == pass;
    if (n == 0) return;
    sw_text_addf(out,
                 "<li><label><input type=checkbox><span>Paint the %zu place%s where an <a href=\"#again\">opening is used again</a>: "
                 "chalk the cross, hold the sheet’s ticks on it, cover the other openings, spray thin.</span></label></li>\n",
                 n, n == 1 ? "" : "s");
}
