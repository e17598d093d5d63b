/* job.html: small pieces used everywhere on the page: paths, colours in words, swatches, places. */
#include "job/html.h"

#include <math.h>
#include <stdio.h>

/* ---- paths ---------------------------------------------------------------------------------------- */

typedef struct place {
    long long x, y;
} place;

typedef struct path_pen {
    sw_text *out;
    double dx_mm, dy_mm, unit_mm;
    place at;
    char command; /* the last one written: the same one need not be repeated */
} path_pen;

static place on_unit(const path_pen *pen, sw_pt_mm p)
{
    const double x = nearbyint((p.x_mm + pen->dx_mm) / pen->unit_mm), y = nearbyint((p.y_mm + pen->dy_mm) / pen->unit_mm);
    const bool is_sane = fabs(x) < 1e12 && fabs(y) < 1e12;
    return is_sane ? (place){ (long long)x, (long long)y } : (place){ 0, 0 };
}

/* By hand: a job prints some hundred thousand of them. */
static void add_whole(sw_text *out, long long value, bool is_after_number)
{
    char digits[24];
    size_t at = sizeof digits;
    unsigned long long rest = value < 0 ? (unsigned long long)-value : (unsigned long long)value;
    do digits[--at] = (char)('0' + (int)(rest % 10u));
    while ((rest /= 10u) != 0);
    if (value < 0) digits[--at] = '-';
    else if (is_after_number) digits[--at] = ' ';
    sw_text_add_bytes(out, digits + at, sizeof digits - at);
}

static void add_step(path_pen *pen, char command, const place *to, size_t n)
{
    bool is_after_number = pen->command == command;
    if (!is_after_number) sw_text_add_bytes(pen->out, &command, 1);
    pen->command = command;
    for (size_t i = 0; i < n; i++) {
        add_whole(pen->out, to[i].x - pen->at.x, is_after_number);
        add_whole(pen->out, to[i].y - pen->at.y, true);
        is_after_number = true;
    }
    pen->at = to[n - 1];
}

static bool is_same(place a, place b) { return a.x == b.x && a.y == b.y; }

static void add_contour(path_pen *pen, const sw_contour *contour)
{
    const place start = on_unit(pen, contour->start);
    bool is_begun = false;
    for (size_t i = 0; i < contour->n_segs; i++) {
        const sw_seg *const seg = &contour->segs[i];
        const place end = on_unit(pen, seg->end), from = is_begun ? pen->at : start;
        const place to[3] = { on_unit(pen, seg->is_line ? seg->end : seg->c1), on_unit(pen, seg->is_line ? seg->end : seg->c2), end };
        if (is_same(end, from) && is_same(to[0], from) && is_same(to[1], from)) continue;
        if (!is_begun) {
            sw_text_add(pen->out, "M");
            add_whole(pen->out, start.x, false);
            add_whole(pen->out, start.y, true);
            pen->at = start;
            pen->command = 'M';
            is_begun = true;
        }
        if (seg->is_line) add_step(pen, 'l', &end, 1);
        else add_step(pen, 'c', to, 3);
    }
    if (is_begun) sw_text_add(pen->out, "z");
}

void sw_html_add_path(sw_text *out, const sw_contours *contours, double dx_mm, double dy_mm, double unit_mm)
{
    path_pen pen = { .out = out, .dx_mm = dx_mm, .dy_mm = dy_mm, .unit_mm = unit_mm };
    for (size_t i = 0; i < contours->n; i++) add_contour(&pen, &contours->at[i]);
}

/* ---- colours -------------------------------------------------------------------------------------- */

/* Hue angles in OKLab where one word gives way to the next; matched by eye to a wheel of equal lightness. Taste. */
static const char *hue_word(double degrees, double lightness)
{
    static const struct {
        double until;
        const char *word;
    } hues[] = { { 12, "pink" },   { 42, "red" },   { 75, "orange" }, { 115, "yellow" }, { 165, "green" },
                 { 205, "teal" },  { 235, "sky blue" }, { 285, "blue" },  { 325, "violet" }, { 360, "pink" } };
    if (lightness < 0.62 && degrees >= 30 && degrees < 85) return "brown";
    if (lightness < 0.7 && degrees >= 85 && degrees < 120) return "olive";
    for (size_t i = 0; i < SW_ARRAY_LEN(hues); i++) {
        if (degrees < hues[i].until) return hues[i].word;
    }
    return hues[0].word;
}

void sw_html_colour_words(sw_rgb8 colour, char *out, size_t size)
{
    const sw_oklab lab = sw_oklab_from_rgb8(colour);
    const double chroma = hypot(lab.a, lab.b), degrees = fmod(atan2(lab.b, lab.a) * 57.295779513082323 + 360.0, 360.0);
    const char *const depth = lab.L > 0.88 ? "very light" : lab.L > 0.72 ? "light" : lab.L > 0.5 ? "middle" : lab.L > 0.3 ? "dark" : "very dark";
    if (chroma < 0.012) {
        if (lab.L > 0.97) snprintf(out, size, "white");
        else if (lab.L < 0.16) snprintf(out, size, "black");
        else snprintf(out, size, "%s grey", depth);
        return;
    }
    const char *const word = hue_word(degrees, lab.L);
    if (chroma < 0.045) snprintf(out, size, "%s grey, a little %s", depth, word);
    else snprintf(out, size, "%s %s%s", depth, chroma > 0.15 ? "strong " : "", word);
}

void sw_html_add_paint(sw_text *out, const sw_job *job, size_t pass)
{
    const sw_rgb8 c = job->separation.colour[pass];
    const char *const name = pass > 0 ? sw_job_paint_name(job, pass) : NULL;
    char words[80];
    sw_html_colour_words(c, words, sizeof words);
    if (name != NULL) {
        sw_text_add(out, "<b>");
        sw_text_add_xml(out, name);
        sw_text_add(out, "</b>, ");
    }
    sw_text_addf(out, "%s <code>#%02x%02x%02x</code>", words, c.r, c.g, c.b);
}

void sw_html_add_swatch(sw_text *out, sw_rgb8 c, size_t pass)
{
    /* of black and white one always has a contrast of 4.58 or more (WCAG 2.1, relative luminance) */
    const double light = 0.2126 * (double)sw_linear_from_srgb8(c.r) + 0.7152 * (double)sw_linear_from_srgb8(c.g) +
                         0.0722 * (double)sw_linear_from_srgb8(c.b);
    sw_text_addf(out, "<span class=chip style=\"background:#%02x%02x%02x;color:%s\">", c.r, c.g, c.b,
                 light > 0.179 ? "#000" : "#fff");
    if (pass > 0) sw_text_addf(out, "%zu", pass);
    else sw_text_add(out, "<span class=quiet>wall</span>");
    sw_text_add(out, "</span>");
}

/* ---- places --------------------------------------------------------------------------------------- */

void sw_html_add_place(sw_text *out, double dx_mm, double up_mm, bool is_full)
{
    sw_text_addf(out, "<span class=at%s data-x=\"", is_full ? " data-full=1" : "");
    sw_text_add_number(out, dx_mm, 0);
    sw_text_add(out, "\" data-y=\"");
    sw_text_add_number(out, up_mm, 0);
    sw_text_add(out, "\">x&nbsp;");
    sw_text_add_number(out, dx_mm, 0);
    sw_text_add(out, ", y&nbsp;");
    sw_text_add_number(out, up_mm, 0);
    sw_text_addf(out, "&nbsp;mm%s</span>", is_full ? " from the artwork’s corner" : "");
}
