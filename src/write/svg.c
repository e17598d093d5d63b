/* SVG 1.1: all passes over the artwork, and one panel for the cutter.
 *
 * One user unit is one millimetre. Coordinates are written as thousandths of a millimetre in whole numbers, so what
 * is read back is exactly what the layout rounded to; paths use M, L, H, V, C and Z only. */
#include "write/look.h"
#include "write/write.h"

#include <math.h>
#include <string.h>

/* ---- numbers and paths ------------------------------------------------------------------------ */

static long long thousandths(double v_mm)
{
    const double scaled = nearbyint(v_mm * 1000.0);
    return fabs(scaled) < 9e15 ? (long long)scaled : 0;
}

/* The number at thousandths / 1000, at most three decimals. By hand: a job prints some hundred thousand of them. */
static void add_mm(sw_text *text, long long units)
{
    char digits[32];
    size_t at = sizeof digits;
    unsigned long long rest = units < 0 ? (unsigned long long)-units : (unsigned long long)units;
    unsigned long long fraction = rest % 1000u;
    rest /= 1000u;
    if (fraction != 0) {
        bool is_digit_seen = false;
        for (int i = 0; i < 3; i++, fraction /= 10u) {
            const char digit = (char)('0' + (int)(fraction % 10u));
            is_digit_seen = is_digit_seen || digit != '0';
            if (is_digit_seen) digits[--at] = digit;
        }
        digits[--at] = '.';
    }
    do digits[--at] = (char)('0' + (int)(rest % 10u));
    while ((rest /= 10u) != 0);
    if (units < 0) digits[--at] = '-';
    sw_text_add_bytes(text, digits + at, sizeof digits - at);
}

static void add_length(sw_text *text, double v_mm) { add_mm(text, thousandths(v_mm)); }

static void add_pair(sw_text *text, double x_mm, double y_mm)
{
    add_length(text, x_mm);
    sw_text_add(text, " ");
    add_length(text, y_mm);
}

static void add_point(sw_text *text, char command, sw_pt_mm p)
{
    sw_text_add_bytes(text, &command, 1);
    add_pair(text, p.x_mm, p.y_mm);
}

static void add_line(sw_text *text, sw_pt_mm from, sw_pt_mm to)
{
    const bool is_same_x = thousandths(from.x_mm) == thousandths(to.x_mm);
    if (!is_same_x && thousandths(from.y_mm) == thousandths(to.y_mm)) {
        sw_text_add(text, "H");
        add_length(text, to.x_mm);
    } else if (is_same_x) {
        sw_text_add(text, "V");
        add_length(text, to.y_mm);
    } else {
        add_point(text, 'L', to);
    }
}

static void add_contour(sw_text *text, const sw_contour *contour)
{
    sw_pt_mm from = contour->start;
    add_point(text, 'M', from);
    for (size_t i = 0; i < contour->n_segs; i++) {
        const sw_seg *const seg = &contour->segs[i];
        const bool is_closing = i + 1 == contour->n_segs && seg->is_line; /* Z draws it */
        if (!seg->is_line) {
            add_point(text, 'C', seg->c1);
            sw_text_add(text, " ");
            add_pair(text, seg->c2.x_mm, seg->c2.y_mm);
            sw_text_add(text, " ");
            add_pair(text, seg->end.x_mm, seg->end.y_mm);
        } else if (!is_closing) {
            add_line(text, from, seg->end);
        }
        from = seg->end;
    }
    sw_text_add(text, "Z");
}

static void add_stroke(sw_text *text, const sw_stroke *stroke)
{
    add_point(text, 'M', stroke->at[0]);
    for (size_t i = 1; i < stroke->n; i++) add_line(text, stroke->at[i - 1], stroke->at[i]);
}

static void add_strokes(sw_text *text, const sw_panel *panel)
{
    if (panel->n_strokes == 0) return;
    sw_text_add(text, "<path id=\"label\" d=\"");
    for (size_t i = 0; i < panel->n_strokes; i++) {
        if (panel->strokes[i].n < 2) continue;
        add_stroke(text, &panel->strokes[i]);
        sw_text_add(text, "\n");
    }
    sw_text_add(text, "\"/>\n");
}

/* ---- the document ----------------------------------------------------------------------------- */

static void add_colour(sw_text *text, sw_rgb8 c) { sw_text_addf(text, "#%02x%02x%02x", c.r, c.g, c.b); }

static void begin_document(sw_text *text, double width_mm, double height_mm, const char *title)
{
    sw_text_add(text, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
                      "<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"");
    add_length(text, width_mm);
    sw_text_add(text, "mm\" height=\"");
    add_length(text, height_mm);
    sw_text_add(text, "mm\" viewBox=\"0 0 ");
    add_length(text, width_mm);
    sw_text_add(text, " ");
    add_length(text, height_mm);
    sw_text_add(text, "\">\n<title>");
    sw_text_add_xml(text, title == NULL ? "stencil" : title);
    sw_text_add(text, "</title>\n");
}

static void begin_group(sw_text *text, const char *id, sw_rgb8 colour, double stroke_mm, const char *title)
{
    sw_text_addf(text, "<g id=\"%s\" fill=\"none\" stroke=\"", id);
    add_colour(text, colour);
    sw_text_add(text, "\" stroke-width=\"");
    add_length(text, stroke_mm);
    sw_text_addf(text, "\" stroke-linecap=\"round\" stroke-linejoin=\"round\">\n<title>%s</title>\n", title);
}

static void add_path(sw_text *text, const char *id, size_t number, const sw_contour *contour)
{
    if (contour->n_segs == 0) return;
    sw_text_addf(text, "<path id=\"%s-%zu\" d=\"", id, number);
    add_contour(text, contour);
    sw_text_add(text, "\"/>\n");
}

/* Hands a finished text over, or says that memory was out. */
static sw_status hand_over(sw_text *made, sw_text *out, sw_note *note)
{
    if (made->is_broken) {
        sw_text_free(made);
        return sw_fail_memory(note, "an SVG file");
    }
    *out = *made;
    return SW_OK;
}

/* Where a split sheet's panels lie: openings that meet at a seam are whole again on the wall, and nowhere else. */
static void add_panels(sw_text *text, const sw_layer *layer)
{
    size_t n = 0;
    for (size_t i = 0; i < layer->n_panels; i++) {
        const sw_panel *const panel = &layer->panels[i];
        if (panel->pass != layer->pass || panel->name[0] == '\0') continue;
        sw_text_addf(text, "%s%s ", n++ == 0 ? "<desc>" SW_PANELS_DESC : "; ", panel->name);
        add_pair(text, panel->art.x_mm, panel->art.y_mm);
        sw_text_add(text, " ");
        add_pair(text, panel->art.width_mm, panel->art.height_mm);
    }
    if (n > 0) sw_text_add(text, "</desc>\n");
}

static void add_layer(sw_text *text, const sw_layer *layer)
{
    sw_text_addf(text, "<g id=\"pass-%zu\">\n<title>pass %zu, ", layer->pass, layer->pass);
    if (layer->paint_name != NULL && layer->paint_name[0] != '\0') {
        sw_text_add_xml(text, layer->paint_name);
        sw_text_add(text, " ");
    }
    add_colour(text, layer->paint);
    sw_text_add(text, "</title>\n");
    add_panels(text, layer);
    sw_text_addf(text, "<path id=\"pass-%zu-openings\" fill=\"", layer->pass);
    add_colour(text, layer->paint);
    sw_text_add(text, "\" fill-rule=\"evenodd\" d=\"");
    for (size_t i = 0; i < layer->openings->n; i++) {
        if (layer->openings->at[i].n_segs == 0) continue;
        add_contour(text, &layer->openings->at[i]);
        sw_text_add(text, "\n");
    }
    sw_text_add(text, "\"/>\n</g>\n");
}

sw_status sw_write_layers_svg(const sw_grid *grid, const char *title, const sw_layer *layers, size_t n_layers,
                              sw_text *out, sw_note *note)
{
    sw_text text = { 0 };
    begin_document(&text, sw_mm_from_px(grid, (double)grid->width_px), sw_mm_from_px(grid, (double)grid->height_px),
                   title);
    for (size_t i = 0; i < n_layers; i++) add_layer(&text, &layers[i]);
    sw_text_add(&text, "</svg>\n");
    return hand_over(&text, out, note);
}

sw_status sw_write_cut_svg(const sw_panel *panel, const char *title, double stroke_mm, sw_text *out, sw_note *note)
{
    sw_text text = { 0 };
    begin_document(&text, panel->width_mm, panel->height_mm, title);
    begin_group(&text, "cut", sw_look_cut, stroke_mm, "cut first: registration marks, then openings");
    for (size_t i = 0; i < panel->marks.n; i++) add_path(&text, "mark", i + 1, &panel->marks.at[i]);
    for (size_t i = 0; i < panel->openings.n; i++) add_path(&text, "opening", i + 1, &panel->openings.at[i]);
    sw_text_add(&text, "</g>\n");
    begin_group(&text, "outline", sw_look_outline, stroke_mm, "cut last: the panel's edge");
    add_path(&text, "edge", 1, &panel->outline);
    sw_text_add(&text, "</g>\n");
    begin_group(&text, "marks", sw_look_marks, stroke_mm, "draw or engrave, never cut");
    add_strokes(&text, panel);
    sw_text_add(&text, "</g>\n</svg>\n");
    return hand_over(&text, out, note);
}
