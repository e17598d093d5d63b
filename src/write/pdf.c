/* Cut files as PDF and EPS, by cairo.
 *
 * The only file that writes through cairo. Every contour is stroked by itself, in cutting order, because a cutter takes
 * paths as they come. cairo keeps coordinates in 1/256 point, that is 0.0014 mm.
 * Its dates are taken out, so that the same panel gives the same bytes. */
#include "write/look.h"
#include "write/write.h"

#include <cairo-pdf.h>
#include <cairo-ps.h>
#include <cairo.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#define PT_PER_MM (72.0 / 25.4)

static cairo_status_t take_bytes(void *ctx, const unsigned char *data, unsigned int n)
{
    sw_text *const text = ctx;
    sw_text_add_bytes(text, data, n);
    return text->is_broken ? CAIRO_STATUS_WRITE_ERROR : CAIRO_STATUS_SUCCESS;
}

/* ---- drawing ---------------------------------------------------------------------------------- */

static void set_colour(cairo_t *cr, sw_rgb8 c) { cairo_set_source_rgb(cr, c.r / 255.0, c.g / 255.0, c.b / 255.0); }

static void stroke_contour(cairo_t *cr, const sw_contour *contour)
{
    if (contour->n_segs == 0) return;
    cairo_move_to(cr, contour->start.x_mm, contour->start.y_mm);
    for (size_t i = 0; i < contour->n_segs; i++) {
        const sw_seg *const seg = &contour->segs[i];
        if (!seg->is_line)
            cairo_curve_to(cr, seg->c1.x_mm, seg->c1.y_mm, seg->c2.x_mm, seg->c2.y_mm, seg->end.x_mm, seg->end.y_mm);
        else if (i + 1 < contour->n_segs)
            cairo_line_to(cr, seg->end.x_mm, seg->end.y_mm);
    }
    cairo_close_path(cr);
    cairo_stroke(cr);
}

static void stroke_label(cairo_t *cr, const sw_stroke *stroke)
{
    if (stroke->n < 2) return;
    cairo_move_to(cr, stroke->at[0].x_mm, stroke->at[0].y_mm);
    for (size_t i = 1; i < stroke->n; i++) cairo_line_to(cr, stroke->at[i].x_mm, stroke->at[i].y_mm);
    cairo_stroke(cr);
}

/* The panel with its upper left corner down_pt below the surface's. */
static void draw_panel(cairo_t *cr, const sw_panel *panel, double stroke_mm, double down_pt)
{
    cairo_save(cr);
    cairo_translate(cr, 0.0, down_pt);
    cairo_scale(cr, PT_PER_MM, PT_PER_MM);
    cairo_set_line_width(cr, stroke_mm);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    set_colour(cr, sw_look_cut);
    for (size_t i = 0; i < panel->marks.n; i++) stroke_contour(cr, &panel->marks.at[i]);
    for (size_t i = 0; i < panel->openings.n; i++) stroke_contour(cr, &panel->openings.at[i]);
    set_colour(cr, sw_look_outline);
    stroke_contour(cr, &panel->outline);
    set_colour(cr, sw_look_marks);
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    for (size_t i = 0; i < panel->n_strokes; i++) stroke_label(cr, &panel->strokes[i]);
    cairo_restore(cr);
}

static sw_status check_size(const sw_panel *panel, sw_note *note)
{
    if (panel->width_mm > 0.0 && panel->height_mm > 0.0 && panel->width_mm <= SW_MAX_PAGE_MM &&
        panel->height_mm <= SW_MAX_PAGE_MM)
        return SW_OK;
    return sw_fail(note, SW_BAD_LENGTH,
                   "a panel longer than 5080mm fits no page of PDF or EPS; give the cutter's --bed, or write SVG alone");
}

/* What went wrong with cairo can only be memory: sizes are checked, and nothing is read or written by it. */
static sw_status hand_over(bool is_done, sw_text *made, sw_text *out, sw_note *note)
{
    if (is_done && !made->is_broken) {
        *out = *made;
        return SW_OK;
    }
    sw_text_free(made);
    return sw_fail_memory(note, "a PDF or EPS file");
}

/* ---- PDF --------------------------------------------------------------------------------------- */

/* Text as cairo takes it: valid UTF-8. Bytes that are not become '?'. */
static void add_valid(sw_text *text, const char *string)
{
    for (const char *p = string; *p != '\0';) {
        const size_t n = sw_utf8_length(p);
        if (n == 0 || (unsigned char)*p < 0x20) sw_text_add(text, "?");
        else sw_text_add_bytes(text, p, n);
        p += n == 0 ? 1 : n;
    }
}

/* An outline entry a pass, and below it one a panel. */
static void add_outline(cairo_surface_t *surface, const sw_panel *panels, size_t n_panels)
{
    int parent = CAIRO_PDF_OUTLINE_ROOT;
    for (size_t i = 0; i < n_panels; i++) {
        char name[64], target[64];
        snprintf(target, sizeof target, "page=%zu", i + 1);
        if (i == 0 || panels[i].pass != panels[i - 1].pass) {
            snprintf(name, sizeof name, "pass %zu", panels[i].pass);
            parent = cairo_pdf_surface_add_outline(surface, CAIRO_PDF_OUTLINE_ROOT, name, target,
                                                   CAIRO_PDF_OUTLINE_FLAG_OPEN);
        }
        if (panels[i].name[0] == '\0') continue;
        snprintf(name, sizeof name, "panel %s", panels[i].name);
        cairo_pdf_surface_add_outline(surface, parent, name, target, 0);
    }
}

sw_status sw_write_cut_pdf(const sw_panel *panels, size_t n_panels, const char *title, double stroke_mm, sw_text *out,
                           sw_note *note)
{
    sw_text made = { 0 }, shown = { 0 };
    for (size_t i = 0; i < n_panels; i++) SW_TRY(check_size(&panels[i], note));
    cairo_surface_t *const surface = cairo_pdf_surface_create_for_stream(take_bytes, &made, 72.0, 72.0);
    cairo_pdf_surface_restrict_to_version(surface, CAIRO_PDF_VERSION_1_5);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, "");
    add_valid(&shown, title == NULL ? "" : title);
    if (shown.size > 0) cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, shown.data);
    cairo_t *const cr = cairo_create(surface);
    for (size_t i = 0; i < n_panels; i++) {
        cairo_pdf_surface_set_size(surface, panels[i].width_mm * PT_PER_MM, panels[i].height_mm * PT_PER_MM);
        draw_panel(cr, &panels[i], stroke_mm, 0.0);
        cairo_show_page(cr);
    }
    if (n_panels > 1) add_outline(surface, panels, n_panels);
    cairo_surface_finish(surface);
    const bool is_done =
        cairo_status(cr) == CAIRO_STATUS_SUCCESS && cairo_surface_status(surface) == CAIRO_STATUS_SUCCESS;
    cairo_destroy(cr);
    cairo_surface_destroy(surface);
    const bool is_titled = !shown.is_broken;
    sw_text_free(&shown);
    return hand_over(is_done && is_titled, &made, out, note);
}

/* ---- EPS --------------------------------------------------------------------------------------- */

/* Comments of the header: a title in ASCII, and the exact box beside the one in whole points. False when memory is
 * out. */
static bool add_comments(cairo_surface_t *surface, const sw_panel *panel, const char *title)
{
    char line[200] = "%%Title: ";
    size_t n = strlen(line);
    for (const char *p = title == NULL ? "" : title; *p != '\0' && n + 1 < sizeof line; p++)
        line[n++] = *p >= 0x20 && *p < 0x7f ? *p : '?';
    line[n] = '\0';
    if (title != NULL && title[0] != '\0') cairo_ps_surface_dsc_comment(surface, line);
    sw_text box = { 0 };
    sw_text_add(&box, "%%HiResBoundingBox: 0 0 ");
    sw_text_add_number(&box, panel->width_mm * PT_PER_MM, 4);
    sw_text_add(&box, " ");
    sw_text_add_number(&box, panel->height_mm * PT_PER_MM, 4);
    const bool is_fine = !box.is_broken;
    if (is_fine) cairo_ps_surface_dsc_comment(surface, box.data);
    sw_text_free(&box);
    return is_fine;
}

/* cairo writes the time of day into the header; the line goes. */
static void remove_date(sw_text *text)
{
    static const char key[] = "%%CreationDate:";
    char *const line = text->data == NULL ? NULL : strstr(text->data, key);
    const char *const end = line == NULL ? NULL : strchr(line, '\n');
    if (end == NULL) return;
    const size_t rest = text->size - (size_t)(end + 1 - text->data);
    memmove(line, end + 1, rest + 1);
    text->size -= (size_t)(end + 1 - line);
}

sw_status sw_write_cut_eps(const sw_panel *panel, const char *title, double stroke_mm, sw_text *out, sw_note *note)
{
    sw_text made = { 0 };
    SW_TRY(check_size(panel, note));
    const double height_pt = panel->height_mm * PT_PER_MM;
    /* whole points, so that cairo, which counts from the top, puts the panel's bottom at 0 */
    cairo_surface_t *const surface = cairo_ps_surface_create_for_stream(take_bytes, &made, ceil(panel->width_mm * PT_PER_MM),
                                                                        ceil(height_pt));
    cairo_ps_surface_set_eps(surface, 1);
    const bool is_commented = add_comments(surface, panel, title);
    cairo_t *const cr = cairo_create(surface);
    draw_panel(cr, panel, stroke_mm, ceil(height_pt) - height_pt);
    cairo_show_page(cr);
    cairo_surface_finish(surface);
    const bool is_done =
        cairo_status(cr) == CAIRO_STATUS_SUCCESS && cairo_surface_status(surface) == CAIRO_STATUS_SUCCESS;
    cairo_destroy(cr);
    cairo_surface_destroy(surface);
    if (is_done) remove_date(&made);
    return hand_over(is_done && is_commented, &made, out, note);
}
