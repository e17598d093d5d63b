/* job.json: everything measured, for scripts. Lengths in mm, areas in mm2, colours "#rrggbb". */
#include "job/bridges.h"

#define SCHEMA 1

/* Where a bridge turns on its way; nothing if it is straight. */
static void add_bends(sw_text *out, const sw_bridge *b)
{
    if (b->n_bends == 0) return;
    sw_json_field(out, "bends_mm");
    for (size_t k = 0; k < b->n_bends; k++) {
        sw_text_add(out, k == 0 ? "[[" : ",[");
        sw_text_add_number(out, b->bend[k].x_mm, 3);
        sw_text_add(out, ",");
        sw_text_add_number(out, b->bend[k].y_mm, 3);
        sw_text_add(out, "]");
    }
    sw_text_add(out, "]");
}

/* list: of all passes; a bridge's number is its place there. */
static void add_bridges(sw_text *out, const sw_job_bridge *list, size_t n, size_t pass)
{
    sw_json_field(out, "bridges");
    sw_text_add(out, "[");
    for (size_t i = 0; i < n; i++) {
        const sw_bridge *const b = list[i].bridge;
        if (list[i].pass != pass) continue;
        sw_json_element(out);
        sw_text_add(out, "{");
        sw_json_count(out, "number", i + 1);
        sw_json_point(out, "from_mm", b->a);
        sw_json_point(out, "to_mm", b->b);
        add_bends(out, b);
        sw_json_number(out, "width_mm", b->width_mm);
        sw_json_string(out, "holds", b->is_for_droop ? "droop" : "island");
        sw_json_string(out, "kind", b->is_bent ? "bent" : b->is_line_end ? "line end" : "strip");
        sw_json_bool(out, "hidden", b->is_hidden);
        sw_json_number(out, "area_mm2", b->area_mm2);
        sw_json_number(out, "visible_mm2", b->visible_mm2);
        sw_json_number(out, "visible_error", b->visible_error);
        sw_text_add(out, "}");
    }
    sw_text_add(out, "]");
}

static void add_files(sw_text *out, const sw_job *job, const char *name)
{
    sw_json_field(out, "files");
    sw_text_add(out, "[");
    for (unsigned format = 0, n = 0; format < SW_ARRAY_LEN(sw_job_formats); format++) {
        if ((job->opts.formats >> format & 1u) != 0) sw_text_addf(out, "%s\"cut/%s.%s\"", n++ > 0 ? "," : "", name, sw_job_formats[format]);
    }
    sw_text_add(out, "]");
}

static void add_estimate(sw_text *out, const sw_estimate *estimate)
{
    sw_json_field(out, "estimate");
    sw_text_add(out, "{");
    sw_json_count(out, "panels", estimate->n_panels);
    sw_json_number(out, "material_m2", estimate->material_m2);
    sw_json_number(out, "cut_mm", estimate->cut_mm);
    sw_json_number(out, "travel_mm", estimate->travel_mm);
    sw_json_count(out, "pierces", estimate->n_pierces);
    sw_json_number(out, "machine_minutes", estimate->machine_minutes);
    sw_json_number(out, "open_m2", estimate->open_m2);
    sw_json_count(out, "cans", estimate->n_cans);
    sw_json_number(out, "cans_exactly", estimate->paint_cans);
    sw_json_number(out, "painting_minutes", estimate->painting_minutes);
    sw_text_add(out, "}");
}

static void add_rates(sw_text *out, const sw_rates *rates)
{
    sw_json_field(out, "rates");
    sw_text_add(out, "{");
    for (size_t i = 0; sw_job_rate_at(i) != NULL; i++)
        sw_json_number(out, sw_job_rate_at(i)->json, sw_job_rate_value(sw_job_rate_at(i), rates));
    sw_text_add(out, "}");
}

static void add_panel(sw_text *out, const sw_job *job, const sw_panel *panel, const sw_proof_panel *proof)
{
    char name[SW_PANEL_NAME_SIZE];
    sw_job_panel_name(panel, name);
    sw_json_element(out);
    sw_text_add(out, "{");
    sw_json_string(out, "name", panel->name);
    add_files(out, job, name);
    sw_json_number(out, "width_mm", panel->width_mm);
    sw_json_number(out, "height_mm", panel->height_mm);
    sw_json_point(out, "origin_mm", panel->origin);
    sw_json_bool(out, "turned", panel->is_turned);
    sw_json_count(out, "openings", panel->openings.n);
    sw_json_count(out, "registration_marks", panel->marks.n);
    sw_json_number(out, "cut_length_mm", panel->cut_length_mm);
    sw_json_number(out, "travel_length_mm", panel->travel_length_mm);
    sw_json_number(out, "open_area_mm2", panel->open_area_mm2);
    sw_json_count(out, "pieces", proof->n_pieces);
    sw_json_count(out, "open_contours", proof->n_open_contours);
    sw_json_count(out, "crossings", proof->n_crossings);
    sw_json_count(out, "narrow_webs", proof->n_narrow_webs);
    sw_json_count(out, "narrow_openings", proof->n_narrow_openings);
    sw_json_number(out, "narrowest_web_mm", proof->narrowest_web_mm);
    sw_json_number(out, "narrowest_opening_mm", proof->narrowest_opening_mm);
    sw_json_number(out, "droop_mm", proof->hang.droop_mm);
    if (proof->hang.droop_mm > 0.0) {
        sw_json_point(out, "droop_at_mm", proof->hang.at);
        sw_json_number(out, "droop_length_mm", proof->hang.length_mm);
        sw_json_number(out, "droop_width_mm", proof->hang.width_mm);
        sw_json_count(out, "parts_over_droop", proof->hang.n_over);
    }
    sw_json_bool(out, "good", proof->is_good);
    sw_text_add(out, "}");
}

/* Without trap, edges in common with earlier passes have their curves. */
static void add_shared(sw_text *out, const sw_shared *shared)
{
    sw_json_field(out, "shared_edges");
    sw_text_add(out, "{");
    sw_json_number(out, "length_mm", shared->edge_mm);
    sw_json_number(out, "one_curve_mm", shared->same_mm);
    sw_json_count(out, "curves", shared->n_curves);
    sw_json_count(out, "given_up", shared->n_given_up);
    sw_text_add(out, "}");
}

static void add_pass(sw_text *out, const sw_job *job, size_t i, const sw_job_bridge *list, size_t n_listed)
{
    const sw_sheet *const sheet = &job->sheets.at[i];
    const sw_contour_measure m = sw_contours_measure(&job->openings[i]);
    double visible_mm2 = 0.0;
    for (size_t b = 0; b < sheet->n_bridges; b++) visible_mm2 += sheet->bridges[b].visible_mm2;
    sw_json_element(out);
    sw_text_add(out, "{");
    sw_json_count(out, "pass", sheet->pass);
    sw_json_colour(out, "paint", sheet->paint);
    if (sw_job_paint_name(job, sheet->pass) != NULL) sw_json_string(out, "paint_name", sw_job_paint_name(job, sheet->pass));
    if (job->opts.n_zones > 0) sw_json_string(out, "zone", job->opts.zone[job->zone_of_pass[sheet->pass]].name);
    sw_json_count(out, "openings", job->openings[i].n);
    sw_json_count(out, "nodes", m.n_nodes);
    sw_json_number(out, "cut_length_mm", m.length_mm);
    sw_json_number(out, "open_area_mm2", m.area_mm2);
    sw_json_count(out, "islands_found", sheet->n_islands);
    sw_json_count(out, "islands_cut_away", sheet->n_islands_dropped);
    sw_json_count(out, "openings_widened", sheet->n_openings_widened);
    sw_json_count(out, "openings_dropped", sheet->n_openings_dropped);
    sw_json_count(out, "webs_thickened", sheet->n_webs_thickened);
    sw_json_count(out, "webs_merged", sheet->n_webs_merged);
    sw_json_number(out, "opening_lost_mm2", sheet->lost_mm2);
    sw_json_number(out, "opening_gained_mm2", sheet->gained_mm2);
    sw_json_number(out, "visible_bridge_mm2", visible_mm2);
    sw_json_number(out, "droop_planned_mm", sheet->hang.droop_mm);
    sw_json_number(out, "droop_mm", sw_job_hang(job, sheet->pass).droop_mm);
    if (!(job->opts.trap_mm > 0.0)) add_shared(out, &job->shared[i]);
    add_estimate(out, &job->pass_estimates[i]);
    add_bridges(out, list, n_listed, sheet->pass);
    sw_json_field(out, "panels");
    sw_text_add(out, "[");
    for (size_t p = 0; p < job->layout.n_panels; p++) {
        if (job->layout.panels[p].pass == sheet->pass) add_panel(out, job, &job->layout.panels[p], &job->proof.panels[p]);
    }
    sw_text_add(out, "]}");
}

static void add_warnings(sw_text *out, const sw_job *job)
{
    sw_json_field(out, "warnings");
    sw_text_add(out, "[");
    char line[512];
    size_t n = 0;
    for (size_t i = 0; i < job->warnings.size; i++) {
        const char c = job->warnings.data[i];
        if (c != '\n') {
            if (n + 1 < sizeof line) line[n++] = c;
            continue;
        }
        line[n] = '\0';
        sw_json_element(out);
        sw_text_add_json(out, line);
        n = 0;
    }
    sw_text_add(out, "]");
}

char *sw_job_json(const sw_job *job)
{
    sw_text out = { 0 };
    sw_text_add(&out, "{");
    sw_json_count(&out, "schema", SCHEMA);
    sw_json_string(&out, "program", "stencilwright " SW_VERSION);
    sw_json_string(&out, "picture", job->picture_name);
    sw_json_count(&out, "picture_width_px", job->source_width_px);
    sw_json_count(&out, "picture_height_px", job->source_height_px);
    sw_json_number(&out, "width_mm", job->opts.width_mm);
    sw_json_number(&out, "height_mm", job->opts.height_mm);
    sw_json_count(&out, "grid_width_px", job->grid.width_px);
    sw_json_count(&out, "grid_height_px", job->grid.height_px);
    sw_json_number(&out, "grid_px_per_mm", job->grid.px_per_mm);
    sw_json_string(&out, "separation", sw_job_kinds[job->opts.kind]);
    sw_json_colour(&out, "ground", job->separation.colour[0]);
    sw_json_number(&out, "min_opening_mm", job->opts.min_opening_mm);
    sw_json_number(&out, "min_web_mm", job->opts.min_web_mm);
    sw_json_number(&out, "frame_mm", job->opts.frame_mm);
    sw_json_number(&out, "trap_mm", job->opts.trap_mm);
    sw_json_number(&out, "tolerance_mm", job->tolerance_mm);
    sw_json_number(&out, "kerf_mm", job->opts.kerf_mm);
    sw_json_number(&out, "droop_mm", job->opts.droop_mm);
    sw_json_string(&out, "material", job->material.name);
    sw_json_number(&out, "thickness_mm", job->material.thickness_mm);
    sw_json_string(&out, "surface", sw_surface_find(job->opts.surface)->name);
    sw_json_number(&out, "mean_ciede2000", job->proof.mean_ciede2000);
    sw_json_bool(&out, "good", job->proof.is_good);
    add_estimate(&out, &job->estimate);
    add_rates(&out, &job->opts.rates);
    sw_json_count(&out, "guide_slots", job->n_guides);
    sw_job_add_keys_json(&out, job);
    sw_job_add_repeats_json(&out, job);
    sw_json_field(&out, "passes");
    sw_text_add(&out, "[");
    sw_job_bridge *list = NULL;
    size_t n_listed = 0;
    if (sw_job_list_bridges(job, &list, &n_listed, NULL) != SW_OK) out.is_broken = true;
    for (size_t i = 0; i < job->sheets.n; i++) add_pass(&out, job, i, list, n_listed);
    sw_free(list);
    sw_text_add(&out, "]");
    add_warnings(&out, job);
    sw_text_add(&out, "}\n");
    if (out.is_broken) sw_text_free(&out);
    return out.data;
}
