/* job.html: what to do, in order. Every step is one thing a person does and can tick. Rates and habits here are common
 * practice, no source. */
#include "job/html.h"

static void begin_group(sw_text *out, const char *name)
{
    sw_text_add(out, "<li><h3>");
    sw_text_add(out, name);
    sw_text_add(out, "</h3><ol>\n");
}

static void end_group(sw_text *out) { sw_text_add(out, "</ol></li>\n"); }

static void begin_step(sw_text *out) { sw_text_add(out, "<li><label><input type=checkbox><span>"); }

static void end_step(sw_text *out) { sw_text_add(out, "</span></label></li>\n"); }

static void add_step(sw_text *out, const char *text)
{
    begin_step(out);
    sw_text_add(out, text);
    end_step(out);
}

static void add_metres(sw_text *out, double length_mm)
{
    sw_text_add_number(out, length_mm / 1000.0, 3);
    sw_text_add(out, "&nbsp;m");
}

/* ---- before painting day ---------------------------------------------------------------------------- */

static void add_measuring(sw_text *out, const sw_job *job)
{
    begin_step(out);
    sw_text_add(out, "Measure the wall: the artwork needs ");
    add_metres(out, job->opts.width_mm);
    sw_text_add(out, " across and ");
    add_metres(out, job->opts.height_mm);
    sw_text_add(out, " up, and the sheets ");
    sw_text_add_number(out, job->opts.frame_mm, 0);
    sw_text_add(out, "&nbsp;mm more all round.");
    end_step(out);
    begin_step(out);
    sw_text_add(out, "<span class=unplaced>Decide where its lower left corner stands, and write that into <a href=\"#wall\">On the "
                     "wall</a>: all places on this page are then counted from the wall’s left edge and the floor.</span>"
                     "<span class=placed hidden>Mark its lower left corner on the wall: ");
    sw_html_add_place(out, 0.0, 0.0, false);
    sw_text_add(out, ". To move it, change <a href=\"#wall\">On the wall</a>.</span>");
    end_step(out);
}

static void add_cutting(sw_text *out, const sw_job *job)
{
    double longest = 0.0, shortest = 0.0;
    for (size_t p = 0; p < job->layout.n_panels; p++) {
        longest = sw_max(longest, sw_max(job->layout.panels[p].width_mm, job->layout.panels[p].height_mm));
        shortest = sw_max(shortest, sw_min(job->layout.panels[p].width_mm, job->layout.panels[p].height_mm));
    }
    begin_step(out);
    sw_text_addf(out, "Send the folder <code>cut</code> to the cutting shop: %zu sheet%s, the largest ", job->layout.n_panels,
                 job->layout.n_panels == 1 ? "" : "s");
    sw_text_add_number(out, longest, 0);
    sw_text_add(out, " × ");
    sw_text_add_number(out, shortest, 0);
    sw_text_addf(out, "&nbsp;mm, %s, true to size. Lines of the group “cut” are cut first, “outline” last, “marks” only drawn.",
                 job->material.name);
    end_step(out);
}

static void add_shopping(sw_text *out, const sw_job *job)
{
    begin_step(out);
    sw_text_add(out, "Get the paint: ");
    for (size_t i = 0; i < job->sheets.n; i++) {
        const size_t cans = job->pass_estimates[i].n_cans;
        sw_text_add(out, "<br>");
        sw_html_add_swatch(out, job->sheets.at[i].paint, job->sheets.at[i].pass);
        sw_text_addf(out, " %zu can%s of ", cans, cans == 1 ? "" : "s");
        sw_html_add_paint(out, job, job->sheets.at[i].pass);
    }
    sw_text_add(out, "<br>Spray a patch of each on card and look at it by daylight, at the wall.");
    end_step(out);
}

static void add_before(sw_text *out, const sw_job *job)
{
    begin_group(out, "Before painting day");
    add_step(out, "Read <a href=\"#care\">Take care</a> with everyone who will be there.");
    add_measuring(out, job);
    add_cutting(out, job);
    add_shopping(out, job);
    begin_step(out);
    sw_text_addf(out, "Lay out the cut sheets, count %zu, and read their labels: pass, panel, arrow up.", job->layout.n_panels);
    end_step(out);
    add_step(out, "Clean the wall, let it dry, and prime it if the paint’s data sheet asks for it.");
    end_group(out);
}

/* ---- a pass ---------------------------------------------------------------------------------------- */

static void add_hanging(sw_text *out, const sw_job *job, const sw_panel *panel, bool is_first_pass, bool is_first_panel)
{
    char name[SW_PANEL_NAME_SIZE];
    sw_job_panel_name(panel, name);
    begin_step(out);
    sw_text_addf(out, "<a href=\"#%s\">", name);
    if (panel->name[0] != '\0') sw_text_addf(out, "Panel %s</a>: hold it so that its lower left corner is at ", panel->name);
    else sw_text_add(out, "The sheet</a>: hold it so that its lower left corner is at ");
    sw_html_add_place(out, panel->origin.x_mm, job->opts.height_mm - panel->origin.y_mm - panel->height_mm, true);
    if (is_first_pass && is_first_panel) sw_text_add(out, ", level it, tape it flat, pencil its pennants onto the wall");
    else if (is_first_pass) sw_text_add(out, ", bring the pennants it shares over those on the wall, tape it flat, pencil the others");
    else sw_text_add(out, ", bring its pennants over those on the wall, tape it flat");
    if (job->opts.droop_mm > 0.0 && sw_job_hang(job, panel->pass).droop_mm > SW_JOB_CLEARLY_RATIO * job->opts.droop_mm)
        sw_text_add(out, " (a part of this sheet droops: carry it on a board)");
    sw_text_add(out, "; cover what is around it, spray thin, take it off.");
    end_step(out);
}

static size_t count_visible(const sw_sheet *sheet)
{
    size_t n = 0;
    for (size_t b = 0; b < sheet->n_bridges; b++) n += !sheet->bridges[b].is_hidden;
    return n;
}

static void add_pass(sw_text *out, const sw_job *job, size_t i, double dry_minutes)
{
    const sw_sheet *const sheet = &job->sheets.at[i];
    const size_t n_visible = count_visible(sheet);
    sw_text_addf(out, "<li><h3>");
    sw_html_add_swatch(out, sheet->paint, sheet->pass);
    sw_text_addf(out, " Pass %zu of %zu, ", sheet->pass, job->sheets.n);
    sw_html_add_paint(out, job, sheet->pass);
    sw_text_add(out, "</h3><ol>\n");
    bool is_first_panel = true;
    for (size_t p = 0; p < job->layout.n_panels; p++) {
        if (job->layout.panels[p].pass != sheet->pass) continue;
        add_hanging(out, job, &job->layout.panels[p], i == 0, is_first_panel);
        is_first_panel = false;
    }
    sw_html_add_reuse_step(out, job, sheet->pass);
    if (n_visible > 0) {
        begin_step(out);
        sw_text_addf(out, "Touch up %zu <a href=\"#bridges\">bridge%s</a> of this pass with the same paint.", n_visible,
                     n_visible == 1 ? "" : "s");
        end_step(out);
    }
    if (i + 1 < job->sheets.n) {
        begin_step(out);
        sw_text_add(out, "Let it dry: about ");
        sw_text_add_number(out, dry_minutes, 0);
        sw_text_add(out, " minutes, longer when it is cold or damp; the can’s data sheet decides.");
        end_step(out);
    }
    end_group(out);
}

void sw_html_add_steps(sw_text *out, const sw_job *job)
{
    sw_text_add(out, "<ol id=list>\n");
    add_before(out, job);
    for (size_t i = 0; i < job->sheets.n; i++) add_pass(out, job, i, job->opts.rates.dry_minutes);
    begin_group(out, "When the last pass is dry");
    add_step(out, "Rub out the pencilled pennants.");
    add_step(out, "Step back, compare with the picture above, mend drips and soft edges.");
    add_step(out, "Take a photograph straight on, and take empty cans and used sheets where local rules want them.");
    end_group(out);
    sw_text_add(out, "</ol>\n");
}
