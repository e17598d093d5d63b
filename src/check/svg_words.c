/* What is wrong with a drawing, for people and for scripts. */
#include "check/parts.h"

#include <math.h>

#define MOST_SHOWN 12 /* findings of a kind in the report; JSON has all */

static void add_place(sw_text *out, sw_pt_mm at)
{
    sw_text_add_number(out, at.x_mm, 1);
    sw_text_add(out, ", ");
    sw_text_add_number(out, at.y_mm, 1);
    sw_text_add(out, " mm");
}

static const char *cure_of(sw_finding_kind kind)
{
    switch (kind) {
    case SW_FIND_NO_SIZE: return "give the root a width and height in mm; 96 units an inch are taken meanwhile";
    case SW_FIND_OPEN_PATH: return "join the two ends";
    case SW_FIND_CROSSING: return "redraw it so that outlines neither cross nor touch";
    case SW_FIND_OVERLAP: return "unite the shapes, or put them on sheets of their own (groups pass-1, pass-2)";
    case SW_FIND_ISLAND: return "leave a bridge; --fix draws them";
    case SW_FIND_NARROW_WEB: return "move the openings apart, or cut from something stronger with a smaller --min-web";
    case SW_FIND_NARROW_OPENING: return "widen or drop it, or cut and spray finer with a smaller --min-opening";
    case SW_FIND_STROKE: return "turn the stroke into an outline";
    case SW_FIND_OUTSIDE: return "move it in, or make the document larger";
    case SW_FIND_TEXT: return "convert it to outlines";
    case SW_FIND_IMAGE: return "trace it, or take it out";
    case SW_FIND_NOTHING: return "draw closed shapes with a fill or a line";
    default: return "simplify this part of the drawing";
    }
}

static void add_finding(const sw_finding *f, sw_text *out)
{
    sw_text_add(out, "        ");
    add_place(out, f->at);
    if (f->kind == SW_FIND_OPEN_PATH) {
        sw_text_add(out, " to ");
        add_place(out, f->to);
        sw_text_add(out, ", gap");
    }
    if (f->measure_mm > 0.0 && f->kind != SW_FIND_ISLAND) {
        sw_text_add(out, f->kind == SW_FIND_OUTSIDE ? ", by " : f->kind == SW_FIND_OPEN_PATH ? " " : ", width ");
        sw_text_add_number(out, f->measure_mm, 2);
        sw_text_add(out, " mm");
    }
    if (f->shape[0] != '\0') {
        sw_text_add(out, "  ");
        sw_text_add_name(out, f->shape);
    }
    if (f->line > 0) sw_text_addf(out, "  line %zu", f->line);
    sw_text_add(out, "\n");
}

void sw_svg_check_report(const sw_svg_check *check, sw_text *out)
{
    static const char *const verdicts[] = { "YES", "YES, IF", "NO" };
    sw_text_add_name(out, check->name);
    sw_text_addf(out, "  %s\n", verdicts[check->verdict]);
    for (size_t i = 0; i < check->vector.n_findings;) {
        const sw_finding_kind kind = check->vector.findings[i].kind;
        size_t shown = 0;
        sw_text_addf(out, "  %-5s %s: %zu\n        mend: %s\n", sw_svg_verdict_of(kind) == SW_VERDICT_NO ? "no" : "if",
                     sw_finding_words(kind), check->counts[kind], cure_of(kind));
        for (; i < check->vector.n_findings && check->vector.findings[i].kind == kind; i++) {
            if (shown++ < MOST_SHOWN) add_finding(&check->vector.findings[i], out);
        }
        if (shown > MOST_SHOWN || check->counts[kind] > shown)
            sw_text_addf(out, "        and %zu more\n", check->counts[kind] - sw_min_size(shown, MOST_SHOWN));
    }
    sw_text_addf(out, "%zu sheet%s", check->n_sheets, check->n_sheets == 1 ? "" : "s");
    if (check->n_panels > 0) sw_text_addf(out, " in %zu panel%s", check->n_panels, check->n_panels == 1 ? "" : "s");
    sw_text_addf(out, ", %zu outlines, cut ", check->n_contours);
    sw_text_add_number(out, check->cut_length_mm / 1000.0, 2);
    sw_text_add(out, " m; the document is ");
    sw_text_add_number(out, check->vector.width_mm, 1);
    sw_text_add(out, " x ");
    sw_text_add_number(out, check->vector.height_mm, 1);
    sw_text_add(out, " mm\n");
}

void sw_svg_check_line(const sw_svg_check *check, sw_text *out)
{
    sw_text_addf(out, "%-6s  ", sw_verdict_name(check->verdict));
    sw_text_add_name(out, check->name);
    for (size_t kind = 0; kind < SW_FINDING_END; kind++) {
        if (check->counts[kind] > 0) sw_text_addf(out, "  %zu %s", check->counts[kind], sw_finding_name((sw_finding_kind)kind));
    }
}

static void add_point(sw_text *out, const char *name, sw_pt_mm p)
{
    sw_text_addf(out, ", \"%s\": [", name);
    sw_text_add_number(out, p.x_mm, 3);
    sw_text_add(out, ", ");
    sw_text_add_number(out, p.y_mm, 3);
    sw_text_add(out, "]");
}

void sw_svg_check_json(const sw_svg_check *check, sw_text *out)
{
    sw_text_add(out, "{\n  \"schema\": 1,\n  \"drawing\": ");
    sw_text_add_json(out, check->name);
    sw_text_addf(out, ",\n  \"verdict\": \"%s\",\n  \"width_mm\": ", sw_verdict_name(check->verdict));
    sw_text_add_number(out, check->vector.width_mm, 3);
    sw_text_add(out, ",\n  \"height_mm\": ");
    sw_text_add_number(out, check->vector.height_mm, 3);
    sw_text_add(out, ",\n  \"min_opening_mm\": ");
    sw_text_add_number(out, check->opts.min_opening_mm, 3);
    sw_text_add(out, ",\n  \"min_web_mm\": ");
    sw_text_add_number(out, check->opts.min_web_mm, 3);
    sw_text_addf(out, ",\n  \"sheets\": %zu,\n  \"panels\": %zu,\n  \"outlines\": %zu,\n  \"cut_length_mm\": ", check->n_sheets, check->n_panels, check->n_contours);
    sw_text_add_number(out, check->cut_length_mm, 1);
    sw_text_add(out, ",\n  \"counts\": {");
    for (size_t kind = 0; kind < SW_FINDING_END; kind++)
        sw_text_addf(out, "%s\"%s\": %zu", kind == 0 ? "" : ", ", sw_finding_name((sw_finding_kind)kind), check->counts[kind]);
    sw_text_add(out, "},\n  \"findings\": [");
    for (size_t i = 0; i < check->vector.n_findings; i++) {
        const sw_finding *const f = &check->vector.findings[i];
        sw_text_addf(out, "%s\n    {\"kind\": \"%s\"", i == 0 ? "" : ",", sw_finding_name(f->kind));
        add_point(out, "at_mm", f->at);
        if (f->kind == SW_FIND_OPEN_PATH) add_point(out, "to_mm", f->to);
        sw_text_add(out, ", \"measure_mm\": ");
        sw_text_add_number(out, f->measure_mm, 3);
        sw_text_addf(out, ", \"line\": %zu, \"element\": ", f->line);
        sw_text_add_json(out, f->shape);
        sw_text_add(out, ", \"what\": ");
        sw_text_add_json(out, sw_finding_words(f->kind));
        sw_text_add(out, "}");
    }
    sw_text_add(out, check->vector.n_findings > 0 ? "\n  ]\n}\n" : "]\n}\n");
}
