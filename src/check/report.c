/* What a person reads: verdict, reasons with cures, measures, the loss as a small plot, the passes as a table. */
#include "check/parts.h"

#include <math.h>
#include <string.h>

#define PLOT_CELLS 40 /* characters for 100 % */

static void add_metres(sw_text *out, double length_mm)
{
    sw_text_add_number(out, length_mm / 1000.0, 2);
    sw_text_add(out, " m");
}

static void add_percent(sw_text *out, double ratio)
{
    sw_text_add_number(out, 100.0 * ratio, 1);
    sw_text_add(out, " %");
}

static const char *shout(sw_verdict verdict)
{
    return verdict == SW_VERDICT_YES ? "YES" : verdict == SW_VERDICT_YES_IF ? "YES, IF" : "NO";
}

static void add_reasons(sw_text *out, const sw_reasons *reasons)
{
    static const char *const marks[] = { "note", "if", "no" };
    for (size_t i = 0; i < reasons->n; i++) {
        const sw_reason *const r = &reasons->at[i];
        sw_text_addf(out, "  %-5s %s\n", marks[r->verdict], r->what);
        if (r->cure[0] != '\0') sw_text_addf(out, "        mend: %s\n", r->cure);
    }
}

/* A number right-aligned in a column. */
static void add_cell(sw_text *out, double value, int decimals, size_t width)
{
    sw_text cell = { 0 };
    sw_text_add_number(&cell, value, decimals);
    for (size_t i = cell.size; i < width; i++) sw_text_add(out, " ");
    if (cell.data != NULL) sw_text_add(out, cell.data);
    sw_text_free(&cell);
}

static void add_plot(sw_text *out, const sw_check *check)
{
    if (!(check->smallest_width_mm > 0.0)) return;
    sw_text_add(out, "lost at each width\n");
    for (size_t i = 0; i < SW_CHECK_CURVE; i += 2) {
        const double lost = check->curve_lost_ratio[i];
        add_cell(out, check->curve_width_mm[i] / 1000.0, 2, 9);
        sw_text_add(out, " m ");
        add_cell(out, 100.0 * lost, 1, 6);
        sw_text_add(out, " % |");
        for (double cell = 0.5; cell < lost * PLOT_CELLS; cell += 1.0) sw_text_add(out, "#");
        sw_text_add(out, "\n");
    }
}

void sw_check_passes_table(const sw_check *check, sw_text *out)
{
    if (check->n_rows == 0) return;
    sw_text_add(out, "passes   difference   cut m   islands   bridges that show   they cover cm2   sheets\n");
    for (size_t i = 0; i < check->n_rows; i++) {
        const sw_check_row *const row = &check->rows[i];
        sw_text_add(out, row->n_passes == check->picked_passes ? ">" : " ");
        add_cell(out, (double)row->n_passes, 0, 5);
        add_cell(out, row->mean_ciede2000, 1, 13);
        add_cell(out, row->cut_length_mm / 1000.0, 1, 8);
        add_cell(out, (double)row->n_islands, 0, 10);
        add_cell(out, (double)row->n_visible_bridges, 0, 20);
        add_cell(out, row->visible_bridge_mm2 / 100.0, 0, 17);
        add_cell(out, (double)row->n_passes, 0, 9);
        sw_text_add(out, "\n");
    }
    sw_text_add(out, "(> the one to pick; difference: mean CIEDE2000 of the wall to the picture)\n");
}

static void add_measures(sw_text *out, const sw_check *check)
{
    const sw_check_source *const s = &check->source;
    sw_text_addf(out, "source  %zu x %zu pixels, ", s->width_px, s->height_px);
    sw_text_add_number(out, (double)s->width_px / check->judged_width_mm, 2);
    sw_text_add(out, " a mm; edges ");
    sw_text_add_number(out, s->edge_px, 1);
    sw_text_add(out, " pixels wide; noise ");
    sw_text_add_number(out, s->noise, 1);
    sw_text_add(out, "; lightness spans ");
    sw_text_add_number(out, s->lightness_range, 0);
    sw_text_add(out, " of 100\nat ");
    add_metres(out, check->judged_width_mm);
    sw_text_add(out, "  lost ");
    add_percent(out, check->lost_ratio);
    sw_text_add(out, "; narrowest opening ");
    sw_text_add_number(out, check->narrowest_opening_mm, 1);
    sw_text_add(out, " mm, web ");
    sw_text_add_number(out, check->narrowest_web_mm, 1);
    sw_text_add(out, " mm; cut ");
    sw_text_add_number(out, check->row.cut_length_mm / 1000.0, 1);
    sw_text_addf(out, " m; %zu islands, %zu bridges, %zu show (", check->row.n_islands, check->row.n_bridges,
                 check->row.n_visible_bridges);
    sw_text_add_number(out, check->bridges_per_m2, 1);
    sw_text_add(out, " a m2)\n");
}

void sw_check_report(const sw_check *check, sw_text *out)
{
    sw_text_add_name(out, check->name);
    sw_text_addf(out, "  %s\n", shout(check->reasons.verdict));
    add_reasons(out, &check->reasons);
    if (!(check->judged_width_mm > 0.0)) return;
    add_measures(out, check);
    add_plot(out, check);
    sw_check_passes_table(check, out);
}

void sw_check_line(const sw_check *check, sw_text *out)
{
    sw_text_addf(out, "%-6s  ", sw_verdict_name(check->reasons.verdict));
    if (check->smallest_width_mm > 0.0) {
        sw_text_add(out, "at least ");
        add_metres(out, ceil(check->smallest_width_mm / 10.0) * 10.0);
    } else {
        sw_text_add(out, "no size");
    }
    sw_text_add(out, "  ");
    sw_text_add_name(out, check->name);
    if (check->reasons.n > 0 && check->reasons.at[0].verdict > SW_VERDICT_YES)
        sw_text_addf(out, "  %s", check->reasons.at[0].what);
}
