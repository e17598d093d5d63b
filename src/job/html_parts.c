/* job.html: the panels with their thumbnails, and the bridges that show and want touching up. */
#include "job/bridges.h"
#include "job/html.h"

#define MOST_BRIDGES 60u       /* listed one by one; more is a list nobody ticks off */
#define THUMB_UNITS 900.0      /* a thumbnail's longer side: finer than it is ever printed */
#define RING_UNITS 9           /* radius of a ring at the size the whole artwork fits a screen */

static void add_mm(sw_text *out, double length_mm) { sw_text_add_number(out, length_mm, 0); }

/* ---- panels --------------------------------------------------------------------------------------- */

static void add_thumbnail(sw_text *out, const sw_panel *panel, const char *name)
{
    const double unit_mm = sw_max(panel->width_mm, panel->height_mm) / THUMB_UNITS;
    const long width = (long)(panel->width_mm / unit_mm + 0.5), height = (long)(panel->height_mm / unit_mm + 0.5);
    sw_text_addf(out, "<svg class=thumb viewBox=\"-6 -6 %ld %ld\" role=img aria-label=\"Outline of ", width + 12, height + 12);
    sw_text_add_xml(out, name);
    sw_text_addf(out, "\"><rect width=\"%ld\" height=\"%ld\" class=sheet /><path class=open d=\"", width, height);
    sw_html_add_path(out, &panel->openings, 0.0, 0.0, unit_mm);
    if (panel->placed.n > 0) {
        sw_text_add(out, "\"/><path class=again d=\"");
        sw_html_add_path(out, &panel->placed, 0.0, 0.0, unit_mm);
    }
    sw_text_add(out, "\"/><path class=pennant d=\"");
    sw_html_add_path(out, &panel->marks, 0.0, 0.0, unit_mm);
    sw_text_add(out, "\"/></svg>");
}

/* "cut/pass-1.svg, .pdf" */
static void add_files(sw_text *out, const char *name, unsigned formats)
{
    bool is_first = true;
    for (size_t i = 0; i < SW_ARRAY_LEN(sw_job_formats); i++) {
        if ((formats >> i & 1u) == 0) continue;
        if (is_first) sw_text_addf(out, "<code>cut/%s.%s</code>", name, sw_job_formats[i]);
        else sw_text_addf(out, ", <code>.%s</code>", sw_job_formats[i]);
        is_first = false;
    }
}

/* How far the lowest part sinks by the proof. */
static void add_droop(sw_text *out, const sw_job *job, const sw_hang *hang)
{
    if (!(job->opts.droop_mm > 0.0) || !(hang->droop_mm >= 0.5)) return;
    sw_text_add(out, "<dt>Droop</dt><dd>");
    if (hang->droop_mm > SW_JOB_LOOSE_MM) sw_text_add(out, "hangs loose");
    else add_mm(out, hang->droop_mm);
    sw_text_add(out, hang->droop_mm > SW_JOB_LOOSE_MM ? " at " : "&nbsp;mm at ");
    sw_html_add_place(out, hang->at.x_mm, job->opts.height_mm - hang->at.y_mm, false);
    sw_text_add(out, hang->droop_mm > SW_JOB_CLEARLY_RATIO * job->opts.droop_mm ? "; press it flat or carry it on a board</dd>" : "</dd>");
}

static void add_panel(sw_text *out, const sw_job *job, const sw_panel *panel, const sw_hang *hang)
{
    char name[SW_PANEL_NAME_SIZE];
    sw_job_panel_name(panel, name);
    sw_text_addf(out, "<li class=panel id=\"%s\">", name);
    add_thumbnail(out, panel, name);
    sw_text_add(out, "<div><h3>");
    sw_html_add_swatch(out, job->separation.colour[panel->pass], panel->pass);
    if (panel->name[0] != '\0') sw_text_addf(out, " Pass %zu, panel %s</h3>", panel->pass, panel->name);
    else sw_text_addf(out, " Pass %zu, whole sheet</h3>", panel->pass);
    sw_text_add(out, "<dl><dt>Size</dt><dd>");
    add_mm(out, panel->width_mm);
    sw_text_add(out, " × ");
    add_mm(out, panel->height_mm);
    sw_text_add(out, "&nbsp;mm</dd><dt>Lower left</dt><dd>");
    sw_html_add_place(out, panel->origin.x_mm, job->opts.height_mm - panel->origin.y_mm - panel->height_mm, false);
    sw_text_addf(out, "</dd><dt>To cut</dt><dd>%zu opening%s, %zu pennants, ", panel->openings.n,
                 panel->openings.n == 1 ? "" : "s", panel->marks.n);
    sw_text_add_number(out, panel->cut_length_mm / 1000.0, 1);
    if (panel->placed.n > 0) sw_text_addf(out, "&nbsp;m; <a href=\"#again\">%zu more</a> painted by moving a sheet", panel->placed.n);
    else sw_text_add(out, "&nbsp;m");
    sw_text_addf(out, "%s</dd>", panel->is_turned ? "; lies turned on the bed" : "");
    add_droop(out, job, hang);
    sw_text_add(out, "<dt>File</dt><dd>");
    add_files(out, name, job->opts.formats);
    sw_text_add(out, "</dd></dl></div></li>\n");
}

void sw_html_add_panels(sw_text *out, const sw_job *job)
{
    sw_text_add(out, "<ul class=panels>\n");
    for (size_t p = 0; p < job->layout.n_panels; p++) add_panel(out, job, &job->layout.panels[p], &job->proof.panels[p].hang);
    sw_text_add(out, "</ul>\n");
}

/* ---- bridges -------------------------------------------------------------------------------------- */

/* The bridges that show, in order; caller frees with sw_free. NULL: none, or out->is_broken. */
static sw_job_bridge *find_visible(sw_text *out, const sw_job *job, size_t *n)
{
    sw_job_bridge *list = NULL;
    if (sw_job_list_visible(job, &list, n, NULL) != SW_OK) out->is_broken = true;
    return list;
}

static void add_bridge(sw_text *out, const sw_job *job, const sw_job_bridge *item, size_t number)
{
    const sw_bridge *const b = item->bridge;
    sw_text_addf(out, "<tr><th scope=row>%zu</th><td>", number);
    sw_html_add_swatch(out, job->separation.colour[item->pass], item->pass);
    sw_text_addf(out, " pass %zu</td><td>", item->pass);
    sw_html_add_place(out, 0.5 * (b->a.x_mm + b->b.x_mm), job->opts.height_mm - 0.5 * (b->a.y_mm + b->b.y_mm), false);
    sw_text_add(out, "</td><td>");
    sw_text_add_number(out, b->width_mm, 1);
    sw_text_add(out, "&nbsp;mm wide</td><td>");
    sw_text_add_number(out, b->visible_mm2, 0);
    sw_text_add(out, "&nbsp;mm²</td></tr>\n");
}

void sw_html_add_bridges(sw_text *out, const sw_job *job)
{
    size_t n = 0;
    sw_job_bridge *const list = find_visible(out, job, &n);
    if (n == 0) {
        sw_text_add(out, "<p>None. Every bridge is painted over by a later pass, or there are none.</p>\n");
        sw_free(list);
        return;
    }
    sw_text_addf(out,
                 "<p>%zu bridge%s leave%s a bare strip on the wall. Fill them with a small brush or a short burst through a "
                 "piece of card, in the paint of their pass, before the next pass goes on. Largest first; places from <span class=origin>the artwork’s lower left corner, to the right and up</span>.</p>\n"
                 "<div class=wide tabindex=0 role=region aria-label=\"Bridges to touch up\"><table><thead><tr><th scope=col>No."
                 "</th><th scope=col>Paint</th><th scope=col>Middle</th><th scope=col>Bridge</th><th scope=col>Bare"
                 "</th></tr></thead><tbody>\n",
                 n, n == 1 ? "" : "s", n == 1 ? "s" : "");
    for (size_t i = 0; i < n && i < MOST_BRIDGES; i++) add_bridge(out, job, &list[i], i + 1);
    sw_text_add(out, "</tbody></table></div>\n");
    if (n > MOST_BRIDGES)
        sw_text_addf(out, "<p>%zu smaller ones are in <code>job.json</code>.</p>\n", n - MOST_BRIDGES);
    sw_free(list);
}

void sw_html_add_bridge_rings(sw_text *out, const sw_job *job, double unit_mm)
{
    size_t n = 0;
    sw_job_bridge *const list = find_visible(out, job, &n);
    for (size_t i = 0; i < n && i < MOST_BRIDGES; i++) {
        const sw_bridge *const b = list[i].bridge;
        const long x = (long)(0.5 * (b->a.x_mm + b->b.x_mm) / unit_mm + 0.5), y = (long)(0.5 * (b->a.y_mm + b->b.y_mm) / unit_mm + 0.5);
        sw_text_addf(out, "<g data-x=\"%ld\" data-y=\"%ld\"><circle r=\"%d\"/><text y=\"4\">%zu</text></g>", x, y, RING_UNITS, i + 1);
    }
    sw_free(list);
}
