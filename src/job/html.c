/* job.html: the job for the person who paints it. One file, nothing to fetch, no date: the same job gives the same
 * bytes. The order of the page is the order in which its questions come up: what do I do next, what will it look like,
 * where does it go, which sheet, what is left over, how long. */
#include "job/html.h"

#include <stdio.h>

#define VIEW_UNITS 12000.0 /* whole units across the artwork's longer side: fine enough for a 12-fold zoom on a screen */
#define FINEST_MM 0.1      /* finer units than the curves' own tolerance only cost bytes */

static void add_mm(sw_text *out, double length_mm) { sw_text_add_number(out, length_mm, 0); }

static void add_metres(sw_text *out, double length_mm)
{
    sw_text_add_number(out, length_mm / 1000.0, 2);
    sw_text_add(out, "&nbsp;m");
}

static void add_head(sw_text *out, const sw_job *job)
{
    sw_text_add(out, "<!DOCTYPE html>\n<html lang=en>\n<head>\n<meta charset=utf-8>\n"
                     "<meta name=viewport content=\"width=device-width,initial-scale=1\">\n"
                     "<meta http-equiv=Content-Security-Policy content=\"default-src 'none';img-src data:;style-src "
                     "'unsafe-inline';script-src 'unsafe-inline'\">\n<title>Painting ");
    sw_text_add_xml(out, job->picture_name);
    sw_text_add(out, "</title>\n<link rel=icon href=\"data:,\">\n<style>\n");
    sw_text_add(out, sw_html_style);
    sw_text_add(out, "</style>\n</head>\n");
}

/* ---- what do I do next ---------------------------------------------------------------------------- */

static void add_next(sw_text *out, const sw_job *job)
{
    sw_text_add(out, "<header><h1>What do I do next?</h1>\n<div id=next class=noprint hidden><p id=now aria-live=polite></p>"
                     "<p class=row><button type=button id=done>Done, next step</button><button type=button id=back>Take "
                     "the last tick back</button><span id=count></span></p></div>\n<p class=facts>");
    sw_text_add_xml(out, job->picture_name);
    sw_text_add(out, ": ");
    add_metres(out, job->opts.width_mm);
    sw_text_add(out, " × ");
    add_metres(out, job->opts.height_mm);
    sw_text_addf(out, ", %zu pass%s, %zu sheet%s, %zu can%s, about ", job->sheets.n, job->sheets.n == 1 ? "" : "es",
                 job->layout.n_panels, job->layout.n_panels == 1 ? "" : "s", job->estimate.n_cans,
                 job->estimate.n_cans == 1 ? "" : "s");
    sw_text_add_number(out, job->estimate.painting_minutes / 60.0, 1);
    sw_text_add(out, "&nbsp;h at the wall.</p>\n<nav aria-label=\"On this page\"><a href=\"#steps\">All steps</a> <a "
                     "href=\"#passes\">Passes</a> <a href=\"#wall\">On the wall</a> <a href=\"#panels\">Sheets</a> <a "
                     "href=\"#bridges\">Bridges</a> <a href=\"#lining-up\">Lining up</a> <a href=\"#time\">Time and "
                     "material</a> <a href=\"#care\">Take care</a>");
    if (job->warnings.size > 0) sw_text_add(out, " <a href=\"#notes\">Good to know</a>");
    sw_text_add(out, "</nav></header>\n");
}

/* ---- the passes ----------------------------------------------------------------------------------- */

static void add_view(sw_text *out, const sw_job *job, double unit_mm)
{
    const long width = (long)(job->opts.width_mm / unit_mm + 0.5), height = (long)(job->opts.height_mm / unit_mm + 0.5);
    const sw_rgb8 g = job->separation.colour[0];
    sw_text_addf(out,
                 "<div id=view tabindex=0 role=group aria-label=\"The artwork. Arrow keys move it, plus and minus zoom, 0 shows "
                 "all, comma and full stop step through the passes.\"><svg id=art viewBox=\"0 0 %ld %ld\" role=img "
                 "aria-labelledby=saying><rect width=\"%ld\" height=\"%ld\" fill=\"#%02x%02x%02x\"/>\n",
                 width, height, width, height, g.r, g.g, g.b);
    for (size_t i = 0; i < job->sheets.n; i++) {
        const sw_rgb8 c = job->sheets.at[i].paint;
        sw_text_addf(out, "<path id=\"layer-%zu\" fill-rule=evenodd fill=\"#%02x%02x%02x\" d=\"", job->sheets.at[i].pass,
                     c.r, c.g, c.b);
        sw_html_add_path(out, &job->openings[i], 0.0, 0.0, unit_mm);
        sw_text_add(out, "\"/>\n");
    }
    sw_text_add(out, "<g id=rings hidden aria-hidden=true>");
    sw_html_add_bridge_rings(out, job, unit_mm);
    sw_text_add(out, "</g></svg></div>\n");
}

static void add_pass_row(sw_text *out, const sw_job *job, size_t i)
{
    const sw_estimate *const e = &job->pass_estimates[i];
    const size_t pass = job->sheets.at[i].pass;
    sw_text_addf(out, "<tr><th scope=row><label><input type=checkbox checked data-pass=\"%zu\" class=noprint> ", pass);
    sw_html_add_swatch(out, job->sheets.at[i].paint, pass);
    sw_text_addf(out, " Pass %zu</label></th><td>", pass);
    sw_html_add_paint(out, job, pass);
    sw_text_addf(out, "</td><td>%zu can%s (", e->n_cans, e->n_cans == 1 ? "" : "s");
    sw_text_add_number(out, e->open_m2, 2);
    sw_text_addf(out, "&nbsp;m²)</td><td>%zu</td></tr>\n", e->n_panels);
}

static void add_passes(sw_text *out, const sw_job *job)
{
    const double longest = sw_max(job->opts.width_mm, job->opts.height_mm);
    sw_text_add(out, "<section id=passes><h2>The passes, in painting order</h2>\n<div class=\"row noprint\" role=group "
                     "aria-label=\"Step through the passes\"><button type=button id=fewer>One pass back</button><button "
                     "type=button id=more>One pass on</button><button type=button id=every>All passes</button></div>\n"
                     "<p id=saying aria-live=polite>All passes, as the wall will look.</p>\n");
    add_view(out, job, sw_max(FINEST_MM, longest / VIEW_UNITS));
    sw_text_add(out, "<div class=\"row noprint\" role=group aria-label=\"Zoom\"><button type=button id=closer>Closer</button>"
                     "<button type=button id=farther>Farther</button><button type=button id=whole>Whole artwork</button>"
                     "<label><input type=checkbox id=numbers> Show the numbers of the bridges</label></div>\n"
                     "<p class=\"quiet noprint\">Drag to move, pinch or Ctrl and wheel to zoom. With the picture chosen by the "
                     "Tab key: arrow keys, + and −, 0, comma and full stop.</p>\n"
                     "<div class=wide tabindex=0 role=region aria-label=\"Passes and paints\"><table><thead><tr><th scope=col>"
                     "Order</th><th scope=col>Paint</th><th scope=col>Cans (area)</th><th scope=col>Sheets</th></tr></thead>"
                     "<tbody>\n<tr><th scope=row>");
    sw_html_add_swatch(out, job->separation.colour[0], 0);
    sw_text_add(out, " Bare</th><td>");
    sw_html_add_paint(out, job, 0);
    sw_text_add(out, ", the wall itself</td><td>none</td><td>none</td></tr>\n");
    for (size_t i = 0; i < job->sheets.n; i++) add_pass_row(out, job, i);
    sw_text_add(out, "</tbody></table></div></section>\n");
}

/* ---- the rest ------------------------------------------------------------------------------------- */

static void add_wall(sw_text *out)
{
    sw_text_add(out, "<section id=wall><h2>On the wall</h2>\n" SW_HTML_WALL_BEGIN SW_HTML_WALL_END
                     "\n<p>Where does the artwork’s <b>lower left corner</b> stand? With both numbers filled in, every place on "
                     "this page is counted from the wall’s left edge (x) and from the floor (y); without them, from that "
                     "corner, to the right and up.</p>\n<p class=row><label>From the wall’s left, mm <input id=from-left "
                     "inputmode=decimal size=7></label><label>From the floor, mm <input id=from-floor inputmode=decimal "
                     "size=7></label></p></section>\n");
}

static void add_lining_up(sw_text *out, const sw_job *job)
{
    sw_text_add(out, "<section id=lining-up><h2>Lining up</h2>\n<div class=beside><svg class=sign viewBox=\"-6 -6 40 52\" role=img "
                     "aria-label=\"A pennant on its pole\"><path d=\"M0 0h10l17 10-17 10v20H0z\"/></svg><div><p>Every sheet has "
                     "small <b>pennants</b> cut into its frame. The pole’s foot points down and the pennant flies to the "
                     "right: if yours flies left or hangs over, the sheet is turned or lies with its back to you.</p><ol>\n"
                     "<li>First pass: level the first sheet, tape it, and draw through its pennants with a pencil. Do not "
                     "spray them.</li>\n<li>Every later pass: move the sheet until each pencilled pennant fills its opening "
                     "evenly, then tape it.</li>\n");
    if (job->layout.n_panels > job->sheets.n)
        sw_text_add(out, "<li>Neighbouring panels share the pennants at the ends of their seam: bring those together first. "
                         "Letters of the names are rows from the top, numbers are columns from the left.</li>\n");
    sw_text_add(out, "<li>A paint reaches ");
    sw_text_add_number(out, job->opts.trap_mm, 1);
    sw_text_add(out, "&nbsp;mm under the next one, so being off by that much shows no gap.</li></ol></div></div>\n");
    sw_html_add_keys(out, job);
    sw_text_add(out, "</section>\n");
}

static void add_notes(sw_text *out, const sw_job *job)
{
    if (job->warnings.size == 0) return;
    char line[512];
    size_t n = 0;
    sw_text_add(out, "<section id=notes><h2>Good to know</h2>\n<ul>");
    for (size_t i = 0; i < job->warnings.size; i++) {
        const char c = job->warnings.data[i];
        if (c != '\n' && n + 1 < sizeof line) line[n++] = c;
        if (c != '\n') continue;
        line[n] = '\0';
        n = 0;
        sw_text_add(out, "<li>");
        sw_text_add_xml(out, line);
        sw_text_add(out, "</li>\n");
    }
    sw_text_add(out, "</ul></section>\n");
}

static void add_care(sw_text *out)
{
    sw_text_add(out,
                "<section id=care><h2>Take care</h2>\n<ul>\n<li><b>Spray paint:</b> a respirator that fits and suits the paint, "
                "gloves, eyes covered; fresh air, also for those who pass by; no flame, spark or cigarette near; cans out of "
                "the sun.</li>\n<li><b>Laser cutting:</b> lead the fumes away, never cut PVC or vinyl, never leave the machine "
                "alone while it cuts.</li>\n<li><b>Height:</b> ladders, scaffolds and lifts on firm ground, with a second "
                "person; step down before you reach out; no sheet in your arms when wind is up.</li>\n<li><b>The wall:</b> the "
                "owner’s permission, and what local rules say about facades.</li>\n</ul>\n<p>The products’ data sheets, local "
                "codes and licensed practice decide, not this page.</p></section>\n");
}

sw_status sw_job_html(const sw_job *job, sw_text *out, sw_note *note)
{
    sw_text made = { 0 };
    add_head(&made, job);
    sw_text_add(&made, "<body>\n");
    add_next(&made, job);
    sw_text_add(&made, "<main>\n");
    add_passes(&made, job);
    sw_text_add(&made, "<section id=steps><h2>All steps</h2>\n");
    sw_html_add_steps(&made, job);
    sw_text_add(&made, "</section>\n");
    add_wall(&made);
    sw_text_addf(&made, "<section id=panels><h2>The sheets</h2>\n<p>Seen from the side that faces you at the wall. The frame is ");
    add_mm(&made, job->opts.frame_mm);
    sw_text_add(&made, "&nbsp;mm wide and belongs to the sizes; places are from <span class=origin>the artwork’s lower left "
                       "corner, to the right and up</span>.</p>\n");
    sw_html_add_panels(&made, job);
    sw_text_add(&made, "</section>\n");
    sw_html_add_reuse(&made, job);
    sw_text_add(&made, "<section id=bridges><h2>Bridges to touch up</h2>\n");
    sw_html_add_bridges(&made, job);
    sw_text_add(&made, "</section>\n");
    add_lining_up(&made, job);
    sw_html_add_estimates(&made, job);
    add_notes(&made, job);
    add_care(&made);
    sw_text_add(&made, "</main>\n<script>\n");
    sw_text_add(&made, sw_html_script);
    sw_text_add(&made, "</script>\n</body>\n</html>\n");
    if (made.is_broken) {
        sw_text_free(&made);
        return sw_fail_memory(note, "job.html");
    }
    *out = made;
    return SW_OK;
}
