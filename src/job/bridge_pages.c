/*
 * bridges.png and touch-up.png: the wall made pale, its bridges ringed and numbered, and what the numbers mean below.
 *
 * The first shows every bridge in the numbers of job.json, for whoever checks the sheets; the second only those that show,
 * with a table to tick off brush in hand. Its numbers are those of job.html.
 */
#include "job/bridges.h"

#include <math.h>
#include <stdio.h>

/* Pixels, by taste: see bridge_chart.c. */
#define WALL_LEAST_PX 1200u  /* a smaller wall is enlarged: rings and numbers need room */
#define CHART_LEAST_PX 1250u /* width of the whole: the legend needs it */
#define EDGE_PX 40.0         /* left of all text */
#define TITLE_PX 34.0        /* capitals */
#define TEXT_PX 22.0
#define STEP_PX 54.0         /* between lines of the legend */
#define ROW_PX 40.0          /* between rows of the table */
#define COLUMN_PX 780.0      /* one column of the table */
#define MOST_LISTED 600u     /* more is a list nobody ticks off */
#define PALE_RATIO 0.42      /* what is left of a colour */

static const sw_rgb8 paper = { 255, 255, 255 }, ink = { 20, 20, 20 }, faint = { 190, 190, 190 };

static uint8_t pale(uint8_t v) { return (uint8_t)(255.5 - PALE_RATIO * (255 - v)); }

static void draw_frame(sw_picture *canvas, double x0, double y0, double x1, double y1, sw_rgb8 colour)
{
    const sw_pt_px corner[5] = { { x0, y0 }, { x1, y0 }, { x1, y1 }, { x0, y1 }, { x0, y0 } };
    for (size_t i = 0; i < 4; i++) sw_canvas_line(canvas, corner[i], corner[i + 1], 2.0, colour);
}

/* How much larger than its small picture the wall is drawn. */
static double scale_of(const sw_picture *small)
{
    return sw_max(1.0, WALL_LEAST_PX / (double)sw_max_size(small->width_px, small->height_px));
}

size_t sw_bridge_chart_width_px(const sw_picture *small)
{
    return sw_max_size(1, (size_t)((double)small->width_px * scale_of(small) + 0.5));
}

/* The pale wall above, white below. */
static sw_status make_chart(const sw_job *job, const sw_picture *small, size_t below_px, sw_bridge_chart *out, sw_note *note)
{
    const double scale = scale_of(small);
    const size_t width_px = sw_bridge_chart_width_px(small);
    const size_t height_px = sw_max_size(1, (size_t)((double)small->height_px * scale + 0.5));
    sw_picture enlarged = { 0 };
    const sw_picture *wall = small;
    if (scale > 1.0) {
        SW_TRY(sw_picture_resample(small, width_px, height_px, &enlarged, note));
        wall = &enlarged;
    }
    sw_bridge_chart made = { .width_px = width_px, .height_px = height_px, .px_per_mm = (double)width_px / job->opts.width_mm };
    const sw_status st = sw_picture_make(sw_max_size(width_px, CHART_LEAST_PX), height_px + below_px, paper, &made.canvas, note);
    for (size_t y = 0; st == SW_OK && y < height_px; y++) {
        for (size_t x = 0; x < width_px; x++) {
            const sw_rgb8 c = wall->at[y * width_px + x];
            made.canvas.at[y * made.canvas.width_px + x] = (sw_rgb8){ pale(c.r), pale(c.g), pale(c.b) };
        }
    }
    if (st == SW_OK) draw_frame(&made.canvas, 1.0, 1.0, (double)width_px - 1.0, (double)height_px - 1.0, faint);
    if (st == SW_OK) *out = made;
    sw_picture_free(&enlarged);
    return st;
}

static void write_text(sw_picture *canvas, double x, double y, double capital_px, const char *text)
{
    sw_canvas_text(canvas, (sw_pt_px){ x, y }, capital_px, ink, text);
}

static void write_right(sw_picture *canvas, double right, double y, double capital_px, const char *text)
{
    write_text(canvas, right - sw_canvas_text_width(capital_px, text), y, capital_px, text);
}

static void draw_swatch(sw_picture *canvas, double x, double y, sw_rgb8 paint)
{
    sw_canvas_box(canvas, (sw_pt_px){ x, y - TEXT_PX - 3.0 }, (sw_pt_px){ x + 44.0, y + 3.0 }, paint);
    draw_frame(canvas, x, y - TEXT_PX - 3.0, x + 44.0, y + 3.0, ink);
}

/* ---- bridges.png ------------------------------------------------------------------------------------------ */

static size_t count_hidden(const sw_sheet *sheet)
{
    size_t n = 0;
    for (size_t b = 0; b < sheet->n_bridges; b++) n += sheet->bridges[b].is_hidden;
    return n;
}

/* "pass 2  #657c80  Slate: numbers 3 to 14 (12 to touch up, 0 hidden)" */
static void describe_pass(const sw_job *job, const sw_sheet *sheet, size_t first, char *out, size_t size)
{
    const sw_rgb8 c = sheet->paint;
    const char *const name = sw_job_paint_name(job, sheet->pass);
    const size_t n = sheet->n_bridges, n_hidden = count_hidden(sheet);
    char numbers[64] = "no bridges";
    if (n == 1) snprintf(numbers, sizeof numbers, "number %zu", first);
    if (n > 1) snprintf(numbers, sizeof numbers, "numbers %zu to %zu", first, first + n - 1);
    int used = snprintf(out, size, "pass %zu  #%02x%02x%02x%s%.60s: %s", sheet->pass, c.r, c.g, c.b, name != NULL ? "  " : "",
                        name != NULL ? name : "", numbers);
    if (n > 0 && used > 0 && (size_t)used < size)
        snprintf(out + used, size - (size_t)used, " (%zu to touch up, %zu hidden)", n - n_hidden, n_hidden);
}

static void draw_legend(const sw_job *job, sw_bridge_chart *chart, size_t n, size_t n_hidden)
{
    sw_picture *const canvas = &chart->canvas;
    char text[300];
    double y = (double)chart->height_px + 68.0;
    snprintf(text, sizeof text, "%zu bridge%s: %.200s", n, n == 1 ? "" : "s", job->picture_name);
    write_text(canvas, EDGE_PX, y, TITLE_PX, text);
    y += STEP_PX + 8.0;
    sw_bridge_chart_sign(canvas, (sw_pt_px){ EDGE_PX + 22.0, y - 0.5 * TEXT_PX }, 17.0, false);
    snprintf(text, sizeof text, "circle: shows on the wall, touch up by brush (%zu)", n - n_hidden);
    write_text(canvas, EDGE_PX + 64.0, y, TEXT_PX, text);
    y += STEP_PX;
    sw_bridge_chart_sign(canvas, (sw_pt_px){ EDGE_PX + 22.0, y - 0.5 * TEXT_PX }, 15.0, true);
    snprintf(text, sizeof text, "dashed diamond: hidden, a later pass paints it (%zu)", n_hidden);
    write_text(canvas, EDGE_PX + 64.0, y, TEXT_PX, text);
    for (size_t i = 0, first = 1; i < job->sheets.n; first += job->sheets.at[i++].n_bridges) {
        y += STEP_PX;
        draw_swatch(canvas, EDGE_PX, y, job->sheets.at[i].paint);
        describe_pass(job, &job->sheets.at[i], first, text, sizeof text);
        write_text(canvas, EDGE_PX + 64.0, y, TEXT_PX, text);
    }
}

sw_status sw_job_draw_bridges(const sw_job *job, const sw_picture *small, sw_picture *out, sw_note *note)
{
    const size_t below_px = (size_t)(120.0 + STEP_PX * (double)(2 + job->sheets.n));
    sw_bridge_chart chart = { 0 };
    sw_job_bridge *list = NULL;
    size_t n = 0, n_hidden = 0;
    sw_status st = sw_job_list_bridges(job, &list, &n, note);
    if (st == SW_OK) st = make_chart(job, small, below_px, &chart, note);
    if (st == SW_OK) st = sw_bridge_chart_mark(&chart, list, n, note);
    if (st == SW_OK) {
        for (size_t i = 0; i < n; i++) n_hidden += list[i].bridge->is_hidden;
        draw_legend(job, &chart, n, n_hidden);
        *out = chart.canvas;
        chart.canvas = (sw_picture){ 0 };
    }
    sw_picture_free(&chart.canvas);
    sw_free(list);
    return st;
}

/* ---- touch-up.png ----------------------------------------------------------------------------------------- */

/* Right or left edges of a table column's parts. */
#define AT_NUMBER 60.0   /* right */
#define AT_PASS 148.0    /* right */
#define AT_SWATCH 178.0  /* left */
#define AT_HEX 234.0     /* left */
#define AT_LEFT 480.0    /* right */
#define AT_TOP 600.0     /* right */
#define AT_SIZE 720.0    /* right */

static void draw_heading(sw_picture *canvas, double x, double y)
{
    write_right(canvas, x + AT_NUMBER, y, 16.0, "no.");
    write_right(canvas, x + AT_PASS, y, 16.0, "pass");
    write_text(canvas, x + AT_SWATCH, y, 16.0, "paint");
    write_right(canvas, x + AT_LEFT, y, 16.0, "left cm");
    write_right(canvas, x + AT_TOP, y, 16.0, "top cm");
    write_right(canvas, x + AT_SIZE, y, 16.0, "size cm\xc2\xb2");
    sw_canvas_line(canvas, (sw_pt_px){ x, y + 12.0 }, (sw_pt_px){ x + AT_SIZE, y + 12.0 }, 2.0, ink);
}

static void draw_row(const sw_job *job, sw_picture *canvas, const sw_job_bridge *item, size_t number, double x, double y)
{
    const sw_rgb8 paint = job->separation.colour[item->pass];
    const long left_mm = lround(item->middle.x_mm), top_mm = lround(item->middle.y_mm), mm2 = lround(item->bridge->visible_mm2);
    char text[64];
    snprintf(text, sizeof text, "%zu", number);
    write_right(canvas, x + AT_NUMBER, y, TEXT_PX, text);
    snprintf(text, sizeof text, "%zu", item->pass);
    write_right(canvas, x + AT_PASS, y, TEXT_PX, text);
    draw_swatch(canvas, x + AT_SWATCH, y, paint);
    snprintf(text, sizeof text, "#%02x%02x%02x", paint.r, paint.g, paint.b);
    write_text(canvas, x + AT_HEX, y, TEXT_PX, text);
    snprintf(text, sizeof text, "%ld.%ld", left_mm / 10, left_mm % 10);
    write_right(canvas, x + AT_LEFT, y, TEXT_PX, text);
    snprintf(text, sizeof text, "%ld.%ld", top_mm / 10, top_mm % 10);
    write_right(canvas, x + AT_TOP, y, TEXT_PX, text);
    if (mm2 < 1) snprintf(text, sizeof text, "<0.01");
    else snprintf(text, sizeof text, "%ld.%02ld", mm2 / 100, mm2 % 100);
    write_right(canvas, x + AT_SIZE, y, TEXT_PX, text);
    sw_canvas_line(canvas, (sw_pt_px){ x, y + 10.0 }, (sw_pt_px){ x + AT_SIZE, y + 10.0 }, 1.0, faint);
}

static void draw_table(const sw_job *job, sw_bridge_chart *chart, const sw_job_bridge *list, size_t n, size_t n_all, size_t n_rows)
{
    sw_picture *const canvas = &chart->canvas;
    char text[300];
    double y = (double)chart->height_px + 68.0;
    if (n == 0) snprintf(text, sizeof text, "no bridge shows: nothing to touch up");
    else snprintf(text, sizeof text, "%zu bridge%s to touch up: %.200s", n_all, n_all == 1 ? "" : "s", job->picture_name);
    write_text(canvas, EDGE_PX, y, TITLE_PX, text);
    if (n == 0) return;
    y += 46.0;
    write_text(canvas, EDGE_PX, y, 20.0, "Largest first. Close each in the paint of its pass, before the next pass.");
    y += 40.0;
    write_text(canvas, EDGE_PX, y, 20.0, "Places: the middle, from the artwork's left edge and from its top edge.");
    if (n < n_all) {
        y += 40.0;
        snprintf(text, sizeof text, "%zu smaller ones are in job.json.", n_all - n);
        write_text(canvas, EDGE_PX, y, 20.0, text);
    }
    y += 56.0;
    for (size_t i = 0; i < n; i++) {
        const double x = EDGE_PX - 10.0 + COLUMN_PX * (double)(i / n_rows);
        if (i % n_rows == 0) draw_heading(canvas, x, y);
        draw_row(job, canvas, &list[i], i + 1, x, y + 4.0 + ROW_PX * (double)(i % n_rows + 1));
    }
}

sw_status sw_job_draw_touch_up(const sw_job *job, const sw_picture *small, sw_picture *out, sw_note *note)
{
    sw_bridge_chart chart = { 0 };
    sw_job_bridge *list = NULL;
    size_t n_all = 0;
    sw_status st = sw_job_list_visible(job, &list, &n_all, note);
    const size_t n = sw_min_size(n_all, MOST_LISTED);
    const double width_px = (double)sw_max_size(CHART_LEAST_PX, sw_bridge_chart_width_px(small));
    const size_t n_columns = sw_max_size(1, (size_t)((width_px - EDGE_PX) / COLUMN_PX));
    const size_t n_rows = (n + n_columns - 1) / n_columns;
    const size_t below_px = n == 0 ? 120 : (size_t)(320.0 + ROW_PX * (double)n_rows);
    if (st == SW_OK) st = make_chart(job, small, below_px, &chart, note);
    if (st == SW_OK) st = sw_bridge_chart_mark(&chart, list, n, note);
    if (st == SW_OK) {
        draw_table(job, &chart, list, n, n_all, n_rows);
        *out = chart.canvas;
        chart.canvas = (sw_picture){ 0 };
    }
    sw_picture_free(&chart.canvas);
    sw_free(list);
    return st;
}
