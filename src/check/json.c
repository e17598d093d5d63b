/* The same for scripts. Names are part of the interface: fields are added, never renamed. */
#include "check/parts.h"

#include <math.h>

static void add_name(sw_text *out, const char *name)
{
    sw_text_add(out, ",\n  ");
    sw_text_add_json(out, name);
    sw_text_add(out, ": ");
}

static void add_number(sw_text *out, const char *name, double value, int decimals)
{
    add_name(out, name);
    sw_text_add_number(out, value, decimals);
}

/* A width that may not exist. */
static void add_width(sw_text *out, const char *name, double width_mm)
{
    add_name(out, name);
    if (width_mm > 0.0) sw_text_add_number(out, width_mm, 2);
    else sw_text_add(out, "null");
}

static void add_count(sw_text *out, const char *name, size_t n)
{
    add_name(out, name);
    sw_text_addf(out, "%zu", n);
}

void sw_reasons_add_json(const sw_reasons *reasons, sw_text *out)
{
    add_name(out, "reasons");
    sw_text_add(out, "[");
    for (size_t i = 0; i < reasons->n; i++) {
        const sw_reason *const r = &reasons->at[i];
        sw_text_addf(out, "%s\n    {\"name\": \"%s\", \"verdict\": \"%s\", \"weight\": ", i == 0 ? "" : ",", r->name,
                     sw_verdict_name(r->verdict));
        sw_text_add_number(out, r->weight, 3);
        sw_text_add(out, ", \"what\": ");
        sw_text_add_json(out, r->what);
        sw_text_add(out, ", \"cure\": ");
        sw_text_add_json(out, r->cure);
        sw_text_add(out, "}");
    }
    sw_text_add(out, reasons->n > 0 ? "\n  ]" : "]");
}

static void add_row(sw_text *out, const sw_check_row *row)
{
    sw_text_addf(out, "{\"passes\": %zu, \"sheets\": %zu, \"mean_ciede2000\": ", row->n_passes, row->n_passes);
    sw_text_add_number(out, row->mean_ciede2000, 3);
    sw_text_add(out, ", \"cut_length_mm\": ");
    sw_text_add_number(out, row->cut_length_mm, 0);
    sw_text_addf(out, ", \"islands\": %zu, \"bridges\": %zu, \"visible_bridges\": %zu, \"visible_bridge_mm2\": ",
                 row->n_islands, row->n_bridges, row->n_visible_bridges);
    sw_text_add_number(out, row->visible_bridge_mm2, 0);
    sw_text_add(out, "}");
}

static void add_curve(sw_text *out, const sw_check *check)
{
    add_name(out, "loss_curve");
    sw_text_add(out, "[");
    for (size_t i = 0; i < SW_CHECK_CURVE; i++) {
        sw_text_addf(out, "%s\n    {\"width_mm\": ", i == 0 ? "" : ",");
        sw_text_add_number(out, check->curve_width_mm[i], 1);
        sw_text_add(out, ", \"lost_ratio\": ");
        sw_text_add_number(out, check->curve_lost_ratio[i], 5);
        sw_text_add(out, "}");
    }
    sw_text_add(out, "\n  ]");
}

static void add_source(sw_text *out, const sw_check *check)
{
    const sw_check_source *const s = &check->source;
    add_count(out, "source_width_px", s->width_px);
    add_count(out, "source_height_px", s->height_px);
    add_number(out, "source_px_per_mm", (double)s->width_px / check->judged_width_mm, 4);
    add_number(out, "source_edge_px", s->edge_px, 2);
    add_number(out, "source_edge_mm", s->edge_px * check->judged_width_mm / (double)s->width_px, 2);
    add_number(out, "source_noise", s->noise, 2);
    add_number(out, "source_lightness_range", s->lightness_range, 1);
}

static void add_measures(sw_text *out, const sw_check *check)
{
    add_number(out, "judged_width_mm", check->judged_width_mm, 2);
    add_number(out, "min_opening_mm", check->opts.min_opening_mm, 3);
    add_number(out, "min_web_mm", check->opts.min_web_mm, 3);
    add_number(out, "lost_ratio", check->lost_ratio, 5);
    add_number(out, "lost_opening_ratio", check->lost_opening_ratio, 5);
    add_number(out, "lost_web_ratio", check->lost_web_ratio, 5);
    add_number(out, "narrowest_opening_mm", check->narrowest_opening_mm, 3);
    add_number(out, "narrowest_web_mm", check->narrowest_web_mm, 3);
    add_count(out, "passes", check->row.n_passes);
    add_count(out, "islands", check->row.n_islands);
    add_count(out, "bridges", check->row.n_bridges);
    add_count(out, "visible_bridges", check->row.n_visible_bridges);
    add_number(out, "visible_bridge_mm2", check->row.visible_bridge_mm2, 0);
    add_number(out, "visible_bridges_per_m2", check->bridges_per_m2, 2);
    add_number(out, "cut_length_mm", check->row.cut_length_mm, 0);
    add_number(out, "mean_ciede2000", check->row.mean_ciede2000, 3);
    add_number(out, "smallest_step_ciede2000", check->row.step_ciede2000, 2);
}

static void add_table(sw_text *out, const sw_check *check)
{
    if (check->n_rows == 0) return;
    add_name(out, "colours_needed");
    if (check->colours_needed > 0) sw_text_addf(out, "%zu", check->colours_needed);
    else sw_text_add(out, "null");
    add_number(out, "colours_needed_for_ciede2000", SW_CHECK_GOOD_CIEDE2000, 1);
    add_count(out, "passes_to_pick", check->picked_passes);
    add_name(out, "passes_table");
    sw_text_add(out, "[");
    for (size_t i = 0; i < check->n_rows; i++) {
        sw_text_add(out, i == 0 ? "\n    " : ",\n    ");
        add_row(out, &check->rows[i]);
    }
    sw_text_add(out, "\n  ]");
}

void sw_check_json(const sw_check *check, sw_text *out)
{
    sw_text_add(out, "{\n  \"schema\": 1");
    add_name(out, "picture");
    sw_text_add_json(out, check->name);
    add_name(out, "verdict");
    sw_text_add_json(out, sw_verdict_name(check->reasons.verdict));
    sw_reasons_add_json(&check->reasons, out);
    add_width(out, "smallest_width_mm", check->smallest_width_mm);
    add_width(out, "smallest_width_10_percent_mm", check->smallest_width_10_percent_mm);
    if (check->judged_width_mm > 0.0) {
        add_measures(out, check);
        add_source(out, check);
        add_curve(out, check);
        add_table(out, check);
    }
    sw_text_add(out, "\n}\n");
}
