/*
 * check.png: the picture, pale, with what stands in its way, and a legend.
 *
 * Each kind has a colour, a lightness and a pattern of its own (colours from the palette of Okabe and Ito 2008 for
 * colour-blind eyes): openings too fine are full vermilion, circled; webs too thin dark blue dots, boxed; bridges black
 * bars edged in white.
 */
#include "check/parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define LONGEST_PX 1600.0   /* longer side of the picture */
#define TILE_PX 40          /* a mark stands for what a tile holds */
#define TILE_LEAST_PX 6     /* pixels of one kind that are worth a mark */
#define MOST_MARKS 80       /* more marks than this hide what they mark */
#define LEAST_WIDTH_PX 900  /* of the chart: the legend needs it */
#define LEGEND_PX 300

static const sw_rgb8 paper = { 255, 255, 255 }, ink = { 20, 20, 20 }, faint = { 190, 190, 190 };
static const sw_rgb8 opening_colour = { 213, 94, 0 }, web_colour = { 0, 60, 140 };

typedef struct chart {
    const sw_check *check;
    const sw_strokes *strokes;
    double px_per_mm;       /* of the separation */
    double chart_per_art;   /* pixels of the chart in one of the separation */
    size_t width_px, height_px; /* of the picture's part */
    sw_picture *canvas;
    double fine_opening, fine_web; /* in SW_GRANULE_STEPs: thinner is too thin */
} chart;

/* Thickness fields at a pixel of the chart. */
static size_t stroke_at(const chart *c, size_t x, size_t y)
{
    const double per = 1.0 / (c->chart_per_art * c->strokes->scale);
    const size_t sx = sw_min_size((size_t)((double)x * per), c->strokes->width_px - 1);
    const size_t sy = sw_min_size((size_t)((double)y * per), c->strokes->height_px - 1);
    return sy * c->strokes->width_px + sx;
}

static bool is_fine(uint16_t thick, double limit) { return thick > 0 && thick < SW_GRANULE_MOST && thick < limit; }

static sw_rgb8 pale(sw_rgb8 c)
{
    const double grey = 0.3 * c.r + 0.59 * c.g + 0.11 * c.b;
    const uint8_t v = (uint8_t)(165.0 + 85.0 * grey / 255.0);
    return (sw_rgb8){ v, v, v };
}

static void draw_picture(const chart *c, const sw_picture *shown)
{
    for (size_t y = 0; y < c->height_px; y++) {
        for (size_t x = 0; x < c->width_px; x++) {
            const size_t at = stroke_at(c, x, y);
            sw_rgb8 colour = pale(shown->at[y * shown->width_px + x]);
            if (is_fine(c->strokes->opening[at], c->fine_opening)) colour = opening_colour;
            else if (is_fine(c->strokes->web[at], c->fine_web)) colour = (x / 2 + y / 2) % 2 == 0 ? web_colour : paper;
            c->canvas->at[y * c->canvas->width_px + x] = colour;
        }
    }
}

static void draw_square(sw_picture *canvas, sw_pt_px middle, double half_px, double width_px, sw_rgb8 colour)
{
    const double x = middle.x_px, y = middle.y_px, h = half_px;
    const sw_pt_px corner[5] = { { x - h, y - h }, { x + h, y - h }, { x + h, y + h }, { x - h, y + h }, { x - h, y - h } };
    for (size_t i = 0; i < 4; i++) sw_canvas_line(canvas, corner[i], corner[i + 1], width_px, colour);
}

/* Pixels of a kind within a tile, and their middle. */
static size_t count_tile(const chart *c, size_t x0, size_t y0, bool is_web, sw_pt_px *middle)
{
    double sum_x = 0.0, sum_y = 0.0;
    size_t n = 0;
    for (size_t y = y0; y < sw_min_size(y0 + TILE_PX, c->height_px); y++) {
        for (size_t x = x0; x < sw_min_size(x0 + TILE_PX, c->width_px); x++) {
            const size_t at = stroke_at(c, x, y);
            if (!(is_web ? is_fine(c->strokes->web[at], c->fine_web) : is_fine(c->strokes->opening[at], c->fine_opening))) continue;
            sum_x += (double)x;
            sum_y += (double)y;
            n++;
        }
    }
    if (n > 0) *middle = (sw_pt_px){ sum_x / (double)n, sum_y / (double)n };
    return n;
}

/* A mark on each tile that has enough; none at all where they would cover everything. is_counting: only count. */
static size_t mark_tiles(const chart *c, bool is_web, bool is_counting)
{
    size_t n = 0;
    for (size_t y = 0; y < c->height_px; y += TILE_PX) {
        for (size_t x = 0; x < c->width_px; x += TILE_PX) {
            sw_pt_px middle;
            if (count_tile(c, x, y, is_web, &middle) < TILE_LEAST_PX) continue;
            n++;
            if (is_counting) continue;
            if (is_web) draw_square(c->canvas, middle, 0.5 * TILE_PX, 2.0, web_colour);
            else sw_canvas_ring(c->canvas, middle, 0.6 * TILE_PX, 2.0, opening_colour);
        }
    }
    return n;
}

static void draw_bar(sw_picture *canvas, sw_pt_px a, sw_pt_px b, double width_px)
{
    sw_canvas_line(canvas, a, b, width_px + 3.0, paper);
    sw_canvas_line(canvas, a, b, width_px, ink);
}

/* Bridges that will show, at least as broad as can be seen. */
static void draw_bridges(const chart *c, const sw_sheets *sheets)
{
    const double scale = c->px_per_mm * c->chart_per_art;
    for (size_t i = 0; i < sheets->n; i++) {
        for (size_t k = 0; k < sheets->at[i].n_bridges; k++) {
            const sw_bridge *const bridge = &sheets->at[i].bridges[k];
            if (!sw_passes_shows(bridge)) continue;
            draw_bar(c->canvas, (sw_pt_px){ bridge->a.x_mm * scale, bridge->a.y_mm * scale },
                     (sw_pt_px){ bridge->b.x_mm * scale, bridge->b.y_mm * scale }, sw_max(3.0, bridge->width_mm * scale));
        }
    }
}

/* ---- legend --------------------------------------------------------------------------------------------- */

static void add_length(sw_text *out, double length_mm)
{
    sw_text_add_number(out, length_mm >= 1000.0 ? length_mm / 1000.0 : length_mm, length_mm >= 1000.0 ? 2 : length_mm < 10 ? 1 : 0);
    sw_text_add(out, length_mm >= 1000.0 ? " m" : " mm");
}

static void write_line(const chart *c, double x, double y, double capital_px, sw_rgb8 colour, sw_text *text)
{
    if (text->data != NULL) sw_canvas_text(c->canvas, (sw_pt_px){ x, y }, capital_px, colour, text->data);
    sw_text_free(text);
}

static void add_share(sw_text *out, double ratio)
{
    sw_text_add(out, ": ");
    sw_text_add_number(out, 100.0 * ratio, 1);
    sw_text_add(out, " % of the drawing");
}

static void draw_legend(const chart *c, double top)
{
    const double x = 24.0, step = 46.0;
    static const char *const verdicts[] = { "YES", "YES, IF", "NO" };
    sw_text text = { 0 };
    sw_text_addf(&text, "%s at ", verdicts[c->check->reasons.verdict]);
    add_length(&text, c->check->judged_width_mm);
    sw_text_addf(&text, " wide, %zu pass%s", c->check->row.n_passes, c->check->row.n_passes == 1 ? "" : "es");
    write_line(c, x, top + 50.0, 24.0, ink, &text);
    double y = top + 104.0;
    sw_canvas_box(c->canvas, (sw_pt_px){ x, y - 18.0 }, (sw_pt_px){ x + 36.0, y }, opening_colour);
    sw_canvas_ring(c->canvas, (sw_pt_px){ x + 18.0, y - 9.0 }, 15.0, 2.0, opening_colour);
    sw_text_add(&text, "opening finer than ");
    add_length(&text, c->check->opts.min_opening_mm);
    add_share(&text, c->check->lost_opening_ratio);
    write_line(c, x + 52.0, y, 14.0, ink, &text);
    y += step;
    for (int64_t py = (int64_t)y - 18; py < (int64_t)y; py++) {
        for (int64_t px = (int64_t)x; px < (int64_t)x + 36; px++)
            sw_canvas_blend(c->canvas, px, py, (px / 2 + py / 2) % 2 == 0 ? web_colour : paper, 1.0);
    }
    draw_square(c->canvas, (sw_pt_px){ x + 18.0, y - 9.0 }, 15.0, 2.0, web_colour);
    sw_text_add(&text, "web thinner than ");
    add_length(&text, c->check->opts.min_web_mm);
    add_share(&text, c->check->lost_web_ratio);
    write_line(c, x + 52.0, y, 14.0, ink, &text);
    y += step;
    draw_bar(c->canvas, (sw_pt_px){ x, y - 9.0 }, (sw_pt_px){ x + 36.0, y - 9.0 }, 7.0);
    sw_text_addf(&text, "bridge that will show: %zu for %zu islands", c->check->row.n_visible_bridges, c->check->row.n_islands);
    write_line(c, x + 52.0, y, 14.0, ink, &text);
    y += step;
    sw_text_add(&text, "needs ");
    if (c->check->smallest_width_mm > 0.0) add_length(&text, c->check->smallest_width_mm);
    else sw_text_add(&text, "no width there is");
    sw_text_add(&text, " to lose 2 %, ");
    if (c->check->smallest_width_10_percent_mm > 0.0) add_length(&text, c->check->smallest_width_10_percent_mm);
    else sw_text_add(&text, "none");
    sw_text_add(&text, " to lose 10 %");
    write_line(c, x, y, 14.0, ink, &text);
}

/* ---- loss against width ---------------------------------------------------------------------------------- */

typedef struct plot {
    double x, y, width, height; /* y: of the base line */
    double least_mm, most_mm, most_ratio;
} plot;

static sw_pt_px place(const plot *p, double width_mm, double ratio)
{
    return (sw_pt_px){ p->x + p->width * log(width_mm / p->least_mm) / log(p->most_mm / p->least_mm),
                       p->y - p->height * sw_min(1.0, ratio / p->most_ratio) };
}

static void draw_ticks(const chart *c, const plot *p)
{
    static const double shares[] = { 0.02, 0.10, 0.30 };
    for (size_t i = 0; i < SW_ARRAY_LEN(shares); i++) {
        const sw_pt_px left = place(p, p->least_mm, shares[i]);
        sw_text text = { 0 };
        sw_canvas_dashes(c->canvas, left, place(p, p->most_mm, shares[i]), 5.0, 1.5, faint);
        sw_text_add_number(&text, 100.0 * shares[i], 0);
        sw_text_add(&text, " %");
        write_line(c, left.x_px - 46.0, left.y_px + 5.0, 10.0, ink, &text);
    }
    for (size_t i = 0; i <= 4; i++) {
        const double width_mm = p->least_mm * pow(p->most_mm / p->least_mm, (double)i / 4.0);
        const sw_pt_px base = place(p, width_mm, 0.0);
        sw_text text = { 0 };
        sw_canvas_line(c->canvas, base, (sw_pt_px){ base.x_px, base.y_px + 6.0 }, 1.5, ink);
        add_length(&text, width_mm);
        write_line(c, base.x_px - 24.0, base.y_px + 22.0, 10.0, ink, &text);
    }
}

static void draw_plot(const chart *c, double left, double top, double width, double height)
{
    const sw_check *const check = c->check;
    const plot p = { left + 60.0, top + height - 34.0, width - 90.0, height - 84.0, check->curve_width_mm[0],
                     check->curve_width_mm[SW_CHECK_CURVE - 1], 0.40 };
    sw_canvas_text(c->canvas, (sw_pt_px){ left + 60.0, top + 34.0 }, 14.0, ink, "lost at each width");
    draw_ticks(c, &p);
    sw_canvas_line(c->canvas, place(&p, p.least_mm, 0.0), place(&p, p.most_mm, 0.0), 1.5, ink);
    sw_canvas_line(c->canvas, place(&p, p.least_mm, 0.0), place(&p, p.least_mm, 1.0), 1.5, ink);
    for (size_t i = 1; i < SW_CHECK_CURVE; i++)
        sw_canvas_line(c->canvas, place(&p, check->curve_width_mm[i - 1], check->curve_lost_ratio[i - 1]),
                       place(&p, check->curve_width_mm[i], check->curve_lost_ratio[i]), 3.0, opening_colour);
    if (check->judged_width_mm >= p.least_mm && check->judged_width_mm <= p.most_mm) {
        const sw_pt_px at = place(&p, check->judged_width_mm, 0.0);
        sw_canvas_dashes(c->canvas, at, place(&p, check->judged_width_mm, 1.0), 5.0, 1.5, ink);
        sw_canvas_ring(c->canvas, place(&p, check->judged_width_mm, check->lost_ratio), 6.0, 2.5, ink);
    }
}

sw_status sw_chart_draw(const sw_check *check, const sw_picture *art, const sw_strokes *strokes, double px_per_mm,
                        const sw_sheets *sheets, sw_picture *out, sw_note *note)
{
    const double scale = LONGEST_PX / (double)sw_max_size(art->width_px, art->height_px);
    chart c = { .check = check, .strokes = strokes, .px_per_mm = px_per_mm };
    sw_picture shown = { 0 }, canvas = { 0 };
    c.width_px = sw_max_size(1, (size_t)((double)art->width_px * scale));
    c.height_px = sw_max_size(1, (size_t)((double)art->height_px * scale));
    c.chart_per_art = (double)c.width_px / (double)art->width_px;
    c.fine_opening = check->opts.min_opening_mm * px_per_mm * SW_GRANULE_STEP / strokes->scale;
    c.fine_web = check->opts.min_web_mm * px_per_mm * SW_GRANULE_STEP / strokes->scale;
    const size_t full_px = sw_max_size(c.width_px, LEAST_WIDTH_PX);
    sw_status st = sw_picture_resample(art, c.width_px, c.height_px, &shown, note);
    if (st == SW_OK) st = sw_picture_make(full_px, c.height_px + LEGEND_PX, paper, &canvas, note);
    if (st != SW_OK) goto cleanup;
    c.canvas = &canvas;
    draw_picture(&c, &shown);
    if (mark_tiles(&c, true, true) <= MOST_MARKS) mark_tiles(&c, true, false);
    if (mark_tiles(&c, false, true) <= MOST_MARKS) mark_tiles(&c, false, false);
    draw_bridges(&c, sheets);
    draw_legend(&c, (double)c.height_px);
    const double plot_px = sw_min(560.0, 0.4 * (double)full_px);
    draw_plot(&c, (double)full_px - plot_px, (double)c.height_px, plot_px, LEGEND_PX);
    *out = canvas;
    canvas = (sw_picture){ 0 };
cleanup:
    sw_picture_free(&shown);
    sw_picture_free(&canvas);
    return st;
}
