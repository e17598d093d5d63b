/*
 * Rings and numbers on the bridges of a wall.
 *
 * A bridge that shows and a hidden one differ in shape, in line style and in colour (palette of Okabe and Ito 2008 for
 * colour-blind eyes). Each number takes the nearest place around its ring that covers least of what is drawn already,
 * counted on a coarse grid of the wall; one that has to stand off gets a line to its ring.
 */
#include "job/bridges.h"

#include <math.h>
#include <stdio.h>

/* Sizes in pixels, by taste: readable on an A4 print of a picture 2400 px long. */
#define RING_LEAST_PX 15.0
#define RING_MOST_PX 60.0   /* a longer bridge sticks out of its ring */
#define RING_CLEAR_PX 7.0   /* from the bridge's ends to its ring */
#define LINE_PX 3.5
#define DIAMOND_RATIO 1.3   /* a diamond as large as a circle looks smaller */
#define HALO_PX 3.0         /* white around every line, so that it is seen on any paint */
#define CAPITAL_PX 26.0
#define CAPITAL_MANY_PX 17.0
#define MANY 120            /* more bridges than this are lettered smaller */
#define PLATE_PX 5.0        /* white around a number */

#define CELL_PX 4.0         /* of the grid of taken places */
#define LABEL_WEIGHT 12     /* covering a number is worse than covering a ring */
#define FAR_COST 3          /* of each step away from the ring, in cells covered */

static const sw_rgb8 paper = { 255, 255, 255 }, ink = { 20, 20, 20 };
static const sw_rgb8 shown_colour = { 190, 70, 0 }, hidden_colour = { 0, 80, 160 };

typedef struct box {
    double x0, y0, x1, y1;
} box;

/* What is drawn where: 0 nothing, 1 a ring, LABEL_WEIGHT a number. 1 byte a cell. */
typedef struct places {
    uint8_t *at;
    size_t width, height; /* in cells */
    double width_px, height_px;
} places;

/* ---- signs ------------------------------------------------------------------------------------------ */

static void draw_diamond(sw_picture *canvas, sw_pt_px m, double half_px, double width_px, double dash_px, sw_rgb8 colour)
{
    const sw_pt_px corner[5] = { { m.x_px, m.y_px - half_px }, { m.x_px + half_px, m.y_px }, { m.x_px, m.y_px + half_px },
                                 { m.x_px - half_px, m.y_px }, { m.x_px, m.y_px - half_px } };
    for (size_t i = 0; i < 4; i++) {
        if (dash_px > 0.0) sw_canvas_dashes(canvas, corner[i], corner[i + 1], dash_px, width_px, colour);
        else sw_canvas_line(canvas, corner[i], corner[i + 1], width_px, colour);
    }
}

static void draw_halo(sw_picture *canvas, sw_pt_px middle, double half_px, bool is_hidden)
{
    if (is_hidden) draw_diamond(canvas, middle, DIAMOND_RATIO * half_px, LINE_PX + 2.0 * HALO_PX, 0.0, paper);
    else sw_canvas_ring(canvas, middle, half_px, LINE_PX + 2.0 * HALO_PX, paper);
}

void sw_bridge_chart_sign(sw_picture *canvas, sw_pt_px middle, double half_px, bool is_hidden)
{
    const double half = DIAMOND_RATIO * half_px;
    if (is_hidden) draw_diamond(canvas, middle, half, LINE_PX - 0.5, half * sqrt(2.0) / 5.0, hidden_colour);
    else sw_canvas_ring(canvas, middle, half_px, LINE_PX, shown_colour);
}

static sw_pt_px on_chart(const sw_bridge_chart *chart, sw_pt_mm p)
{
    return (sw_pt_px){ p.x_mm * chart->px_per_mm, p.y_mm * chart->px_per_mm };
}

static double ring_px(const sw_bridge_chart *chart, const sw_bridge *b)
{
    const double length_px = hypot(b->b.x_mm - b->a.x_mm, b->b.y_mm - b->a.y_mm) * chart->px_per_mm;
    return sw_clamp(0.5 * length_px + RING_CLEAR_PX, RING_LEAST_PX, RING_MOST_PX);
}

static void draw_pieces(sw_bridge_chart *chart, const sw_bridge *b, double width_px, sw_rgb8 colour)
{
    sw_pt_px from = on_chart(chart, b->a);
    for (size_t k = 0; k <= b->n_bends; k++) {
        const sw_pt_px to = on_chart(chart, k < b->n_bends ? b->bend[k] : b->b);
        sw_canvas_line(&chart->canvas, from, to, width_px, colour);
        from = to;
    }
}

/* The strip itself: one that shows is a solid bar, a hidden one a thin line. */
static void draw_strip(sw_bridge_chart *chart, const sw_bridge *b)
{
    const double width_px = b->is_hidden ? 2.0 : sw_max(4.0, b->width_mm * chart->px_per_mm);
    draw_pieces(chart, b, width_px + 3.0, paper);
    draw_pieces(chart, b, width_px, b->is_hidden ? hidden_colour : ink);
}

/* ---- places of numbers ------------------------------------------------------------------------------ */

static size_t cell_of(double at_px, size_t n)
{
    return sw_min_size((size_t)sw_max(0.0, at_px / CELL_PX), n - 1);
}

static void take_box(places *p, const box *b, uint8_t weight)
{
    for (size_t y = cell_of(b->y0, p->height); y <= cell_of(b->y1, p->height); y++) {
        for (size_t x = cell_of(b->x0, p->width); x <= cell_of(b->x1, p->width); x++) {
            uint8_t *const cell = &p->at[y * p->width + x];
            if (*cell < weight) *cell = weight;
        }
    }
}

static void take_strip(places *p, sw_pt_px from, sw_pt_px to)
{
    const size_t n = (size_t)(hypot(to.x_px - from.x_px, to.y_px - from.y_px) / CELL_PX) + 1;
    for (size_t i = 0; i <= n; i++) {
        const double t = (double)i / (double)n, x = from.x_px + t * (to.x_px - from.x_px), y = from.y_px + t * (to.y_px - from.y_px);
        take_box(p, &(box){ x - CELL_PX, y - CELL_PX, x + CELL_PX, y + CELL_PX }, 1);
    }
}

/* What a number would cover; SIZE_MAX outside the wall. */
static size_t cost_of(const places *p, const box *b)
{
    size_t sum = 0;
    if (b->x0 < 0.0 || b->y0 < 0.0 || b->x1 >= p->width_px || b->y1 >= p->height_px) return SIZE_MAX;
    for (size_t y = cell_of(b->y0, p->height); y <= cell_of(b->y1, p->height); y++) {
        for (size_t x = cell_of(b->x0, p->width); x <= cell_of(b->x1, p->width); x++) sum += p->at[y * p->width + x];
    }
    return sum;
}

/* The best of eight directions at growing distance; nearest first, so that a tie is near. Always finds one. */
static box find_place(const places *p, sw_pt_px middle, double half_px, double width_px, double height_px)
{
    static const double turn[8][2] = { { 0.75, -0.75 }, { 0.75, 0.75 },  { -0.75, -0.75 }, { -0.75, 0.75 },
                                       { 1.0, 0.0 },    { -1.0, 0.0 }, { 0.0, -1.0 },    { 0.0, 1.0 } };
    static const double away_px[] = { 0.0, 14.0, 32.0, 54.0, 80.0, 112.0, 150.0, 200.0, 260.0 };
    const sw_pt_px inside = { sw_clamp(middle.x_px, 0.5 * width_px, sw_max(0.5 * width_px, p->width_px - 0.5 * width_px - 1.0)),
                              sw_clamp(middle.y_px, 0.5 * height_px, sw_max(0.5 * height_px, p->height_px - 0.5 * height_px - 1.0)) };
    box best = { inside.x_px - 0.5 * width_px, inside.y_px - 0.5 * height_px, inside.x_px + 0.5 * width_px,
                 inside.y_px + 0.5 * height_px };
    size_t best_cost = SIZE_MAX;
    for (size_t a = 0; a < SW_ARRAY_LEN(away_px) && best_cost > a * FAR_COST; a++) {
        for (size_t t = 0; t < SW_ARRAY_LEN(turn); t++) {
            const double x = middle.x_px + turn[t][0] * (half_px + LINE_PX + away_px[a] + 0.5 * width_px);
            const double y = middle.y_px + turn[t][1] * (half_px + LINE_PX + away_px[a] + 0.5 * height_px);
            const box b = { x - 0.5 * width_px, y - 0.5 * height_px, x + 0.5 * width_px, y + 0.5 * height_px };
            const size_t covered = cost_of(p, &b);
            if (covered == SIZE_MAX || covered + a * FAR_COST >= best_cost) continue;
            best = b;
            best_cost = covered + a * FAR_COST;
        }
    }
    return best;
}

static void draw_number(sw_bridge_chart *chart, const box *b, double capital_px, const char *text)
{
    sw_canvas_box(&chart->canvas, (sw_pt_px){ b->x0, b->y0 }, (sw_pt_px){ b->x1, b->y1 }, paper);
    sw_canvas_text(&chart->canvas, (sw_pt_px){ b->x0 + PLATE_PX, b->y1 - PLATE_PX }, capital_px, ink, text);
}

/* From the number's plate to the edge of the ring, if they stand apart. */
static void draw_leader(sw_bridge_chart *chart, const box *b, sw_pt_px middle, double half_px, bool is_hidden)
{
    const sw_pt_px near = { sw_clamp(middle.x_px, b->x0, b->x1), sw_clamp(middle.y_px, b->y0, b->y1) };
    const double dx = near.x_px - middle.x_px, dy = near.y_px - middle.y_px, apart = hypot(dx, dy);
    if (apart < half_px + 8.0) return;
    const sw_pt_px edge = { middle.x_px + dx * half_px / apart, middle.y_px + dy * half_px / apart };
    sw_canvas_line(&chart->canvas, edge, near, 5.0, paper);
    sw_canvas_line(&chart->canvas, edge, near, 2.0, is_hidden ? hidden_colour : shown_colour);
}

/* ---- the whole ------------------------------------------------------------------------------------------ */

static void mark(sw_bridge_chart *chart, const sw_job_bridge *list, size_t n, places *p, box *labels)
{
    const double capital_px = n > MANY ? CAPITAL_MANY_PX : CAPITAL_PX;
    char text[24];
    for (size_t i = 0; i < n; i++) { /* every ring is known before the first number looks for a place */
        const sw_pt_px m = on_chart(chart, list[i].middle);
        const double half = ring_px(chart, list[i].bridge) + LINE_PX;
        take_box(p, &(box){ m.x_px - half, m.y_px - half, m.x_px + half, m.y_px + half }, 1);
        take_strip(p, on_chart(chart, list[i].bridge->a), on_chart(chart, list[i].bridge->b));
        draw_halo(&chart->canvas, m, half - LINE_PX, list[i].bridge->is_hidden);
    }
    for (size_t i = 0; i < n; i++) { /* over every halo, so that rings that cross stay whole */
        const bool is_hidden = list[i].bridge->is_hidden;
        draw_strip(chart, list[i].bridge);
        sw_bridge_chart_sign(&chart->canvas, on_chart(chart, list[i].middle), ring_px(chart, list[i].bridge), is_hidden);
    }
    for (size_t i = 0; i < n; i++) {
        const sw_pt_px m = on_chart(chart, list[i].middle);
        const double half = ring_px(chart, list[i].bridge);
        snprintf(text, sizeof text, "%zu", i + 1);
        labels[i] = find_place(p, m, half, sw_canvas_text_width(capital_px, text) + 2.0 * PLATE_PX, capital_px + 2.0 * PLATE_PX);
        take_box(p, &labels[i], LABEL_WEIGHT);
        draw_leader(chart, &labels[i], m, half, list[i].bridge->is_hidden);
    }
    for (size_t i = 0; i < n; i++) { /* over every line */
        snprintf(text, sizeof text, "%zu", i + 1);
        draw_number(chart, &labels[i], capital_px, text);
    }
}

sw_status sw_bridge_chart_mark(sw_bridge_chart *chart, const sw_job_bridge *list, size_t n, sw_note *note)
{
    if (n == 0) return SW_OK;
    places p = { .width_px = (double)chart->width_px, .height_px = (double)chart->height_px };
    p.width = (size_t)(p.width_px / CELL_PX) + 1;
    p.height = (size_t)(p.height_px / CELL_PX) + 1;
    p.at = sw_alloc_array(p.width * p.height, sizeof *p.at);
    box *const labels = sw_alloc_array(n, sizeof *labels);
    const bool is_ready = p.at != NULL && labels != NULL;
    if (is_ready) mark(chart, list, n, &p, labels);
    sw_free(p.at);
    sw_free(labels);
    return is_ready ? SW_OK : sw_fail_memory(note, "bridges.png");
}
