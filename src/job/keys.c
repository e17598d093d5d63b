/* Key windows, told: in the report, in job.json, on the job's page. */
#include "job/html.h"

static size_t count_cut(const sw_job *job)
{
    size_t n = 0;
    for (size_t i = 0; i < job->keys.n; i++) n += job->keys.at[i].is_cut;
    return n;
}

/* Name of the panel that has the key; "" when the sheet is one. */
static const char *panel_of(const sw_job *job, const sw_key *key)
{
    for (size_t p = 0; p < job->layout.n_panels; p++) {
        const sw_panel *const panel = &job->layout.panels[p];
        const sw_rect_mm art = panel->art;
        if (panel->pass == key->pass && key->at.x_mm >= art.x_mm && key->at.x_mm < art.x_mm + art.width_mm &&
            key->at.y_mm >= art.y_mm && key->at.y_mm < art.y_mm + art.height_mm)
            return panel->name;
    }
    return "";
}

void sw_job_add_keys(sw_text *out, const sw_job *job)
{
    if (!job->opts.has_key_windows) return;
    sw_text_addf(out, "keys    %zu corners of earlier paint to lay later sheets by, %zu of them through windows of their own\n", job->keys.n,
                 count_cut(job));
}

void sw_job_add_keys_json(sw_text *out, const sw_job *job)
{
    sw_json_field(out, "key_windows");
    sw_text_add(out, "[");
    for (size_t i = 0; i < job->keys.n; i++) {
        const sw_key *const key = &job->keys.at[i];
        sw_json_element(out);
        sw_text_add(out, "{");
        sw_json_count(out, "number", key->number);
        sw_json_count(out, "pass", key->pass);
        sw_json_string(out, "panel", panel_of(job, key));
        sw_json_point(out, "at_mm", key->at);
        sw_json_bool(out, "own_window", key->is_cut);
        sw_json_count(out, "shows_pass", key->inner);
        sw_json_count(out, "beside_pass", key->outer);
        sw_text_add(out, "}");
    }
    sw_text_add(out, "]");
}

static void add_colour(sw_text *out, const sw_job *job, size_t pass)
{
    sw_html_add_swatch(out, job->separation.colour[pass], pass);
    sw_text_add(out, pass == 0 ? " bare" : "");
}

static void add_row(sw_text *out, const sw_job *job, const sw_key *key)
{
    const char *const panel = panel_of(job, key);
    sw_text_addf(out, "<tr><th scope=row>%zu</th><td>pass %zu%s%s</td><td>", key->number, key->pass, panel[0] != '\0' ? ", panel " : "", panel);
    add_colour(out, job, key->inner);
    sw_text_add(out, " in ");
    add_colour(out, job, key->outer);
    sw_text_add(out, "</td><td>");
    sw_html_add_place(out, key->at.x_mm, job->opts.height_mm - key->at.y_mm, false);
    sw_text_addf(out, "</td><td>%s</td></tr>\n", key->is_cut ? "a window of its own" : "an opening of this pass");
}

void sw_html_add_keys(sw_text *out, const sw_job *job)
{
    if (job->keys.n == 0) return;
    sw_text_add(out, "<h3>Keys</h3>\n<p>Through later sheets you see a corner of what is already on the wall. Ticks at the edge, marked "
                     "KEY and a number, point at it from above, below, left or right: move the sheet until the corner lies where the "
                     "lines through the ticks cross. Two keys fix a sheet, a third shows that it is right. ");
    if (count_cut(job) > 0) sw_text_add(out, "A round window of its own is sprayed like any opening; a later pass paints over it. ");
    sw_text_add(out, "The pennants in the frame come first, keys are for the last millimetre.</p>\n<div class=wide tabindex=0 role=region "
                     "aria-label=\"Keys\"><table><thead><tr><th scope=col>Key</th><th scope=col>Sheet</th><th scope=col>Corner of</th>"
                     "<th scope=col>At</th><th scope=col>Seen through</th></tr></thead><tbody>\n");
    for (size_t i = 0; i < job->keys.n; i++) add_row(out, job, &job->keys.at[i]);
    sw_text_add(out, "</tbody></table></div>\n");
}
