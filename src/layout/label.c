/* Labels: which pass, which paint, which way is up, drawn as single strokes on the top frame between the marks; at a
 * seam the name of the panel that follows.
 *
 * Short ticks outside the corners show where the artwork's window ends, to line panels up with a chalk line.
 *
 * Items are set in lines as words are; the largest size at which all fit is taken. When even the smallest size does
 * not hold them, items are left out from the least important on. Nothing here is cut. */
#include "layout/parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define MAX_ITEMS 8u
#define MAX_LINES 4u
#define MAX_NAME_CHARS 60u /* longer names are cut: a label is no letter */
#define ITEM_GAP 7.0       /* between items of a line, units */
#define EDGE_MM 3.0        /* free at the frame's edges */
#define TICK_FROM_MM 3.0   /* ticks: from here */
#define TICK_TO_MM 8.0     /* to here outside the artwork's corner; not cut, so they may be near an opening */

/* Capital heights tried, mm. 10 is read from two steps away and is taken when all fits in one line of that size; 6 is
 * read at arm's length; below 2.5 a pen closes the letters. Taste. */
static const double sizes_mm[] = { 10.0, 6.0, 5.0, 4.0, 3.0, 2.5 };
#define MOST_WRAPPED_MM 6.0 /* larger than this in one line or not at all */

typedef struct item {
    sw_text text;
    double width; /* units */
    size_t line;
    double x; /* units from the left of the room */
} item;

typedef struct pen {
    sw_stroke *strokes;
    size_t n, cap;
    sw_pt_mm origin; /* where the base line begins */
    bool is_rising;  /* the text reads from below upwards */
    double unit_mm;
} pen;

/* ---- what is written -------------------------------------------------------------------------- */

static void add_name(sw_text *text, const char *name)
{
    const char *p = name;
    size_t n = 0;
    while (n < MAX_NAME_CHARS && sw_font_next(&p) != 0) n++;
    sw_text_add_bytes(text, name, (size_t)(p - name));
    if (*p != '\0') sw_text_add(text, "...");
}

static bool has_text(const char *text) { return text != NULL && text[0] != '\0'; }

/* Most important first. Returns how many. */
static size_t compose(const sw_panel *panel, const sw_label_info *info, item items[MAX_ITEMS])
{
    char above[16];
    size_t n = 0;
    sw_text_addf(&items[n++].text, "%c UP", (char)SW_FONT_UP_ARROW);
    sw_text_addf(&items[n++].text, "pass %zu of %zu", info->pass, info->n_passes);
    if (panel->name[0] != '\0') sw_text_addf(&items[n++].text, "panel %s", panel->name);
    sw_place_neighbour_name(&info->place, SW_SIDE_TOP, above);
    if (above[0] != '\0') sw_text_addf(&items[n++].text, "above: %s", above);
    sw_text_addf(&items[n].text, "#%02x%02x%02x", info->paint.r, info->paint.g, info->paint.b);
    if (has_text(info->paint_name)) {
        sw_text_add(&items[n].text, " ");
        add_name(&items[n].text, info->paint_name);
    }
    n++;
    if (has_text(info->job_name)) add_name(&items[n++].text, info->job_name);
    sw_text_add_number(&items[n].text, info->art_width_mm, 0);
    sw_text_add(&items[n].text, " x ");
    sw_text_add_number(&items[n].text, info->art_height_mm, 0);
    sw_text_add(&items[n++].text, " mm");
    return n;
}

/* ---- where it goes ---------------------------------------------------------------------------- */

/* Lines needed to set n items in room units, or 0 if an item is wider than the room. */
static size_t flow(item *items, size_t n, double room)
{
    size_t line = 0;
    double x = 0.0;
    for (size_t i = 0; i < n; i++) {
        if (items[i].width > room) return 0;
        if (x > 0.0 && x + items[i].width > room) {
            line++;
            x = 0.0;
        }
        items[i].line = line;
        items[i].x = x;
        x += items[i].width + ITEM_GAP;
    }
    return line + 1;
}

/* Sets items in lines at the largest size that holds them, fewer items if it must be. Returns how many are set; 0:
 * there is no room at all. */
static size_t fit(item *items, size_t n, double width_mm, double height_mm, double *unit_mm, size_t *n_lines)
{
    for (; n > 0; n--) {
        for (size_t i = 0; i < SW_ARRAY_LEN(sizes_mm); i++) {
            *unit_mm = sizes_mm[i] / SW_FONT_CAPITAL;
            *n_lines = flow(items, n, width_mm / *unit_mm);
            if (*n_lines == 0 || *n_lines > (sizes_mm[i] > MOST_WRAPPED_MM ? 1 : MAX_LINES)) continue;
            const double needed = ((double)(*n_lines - 1) * SW_FONT_LINE + SW_FONT_ABOVE + SW_FONT_BELOW) * *unit_mm;
            if (needed <= height_mm) return n;
        }
    }
    return 0;
}

static double on_step(double v_mm) { return nearbyint(v_mm / SW_LAYOUT_STEP_MM) * SW_LAYOUT_STEP_MM; }

static bool take_stroke(void *ctx, const sw_pt_px *at, size_t n)
{
    pen *const p = ctx;
    void *data = p->strokes;
    if (!sw_grow(&data, &p->cap, p->n + 1, sizeof *p->strokes)) return false;
    p->strokes = data;
    sw_pt_mm *const points = sw_alloc_array(n, sizeof *points);
    if (points == NULL) return false;
    for (size_t i = 0; i < n; i++) {
        const double along = at[i].x_px * p->unit_mm, up = at[i].y_px * p->unit_mm;
        points[i].x_mm = on_step(p->origin.x_mm + (p->is_rising ? -up : along));
        points[i].y_mm = on_step(p->origin.y_mm - (p->is_rising ? along : up));
    }
    p->strokes[p->n++] = (sw_stroke){ points, n };
    return true;
}

static void free_strokes(sw_stroke *strokes, size_t n)
{
    for (size_t i = 0; i < n; i++) sw_free(strokes[i].at);
    sw_free(strokes);
}

/* Sets the items on the top frame. False when memory is out. */
static bool draw_items(const sw_panel *panel, double frame_mm, item *items, size_t n_items, pen *p,
                       size_t *n_replaced)
{
    double from_mm = 0.0, to_mm = 0.0;
    size_t n_lines = 0;
    for (size_t i = 0; i < n_items; i++) {
        if (items[i].text.is_broken) return false;
        items[i].width = sw_font_width(items[i].text.data);
    }
    sw_marks_free_stretch(panel, SW_SIDE_TOP, frame_mm, &from_mm, &to_mm);
    from_mm += TICK_FROM_MM; /* a tick may stand where the stretch begins */
    const double edge_mm = sw_min(EDGE_MM, 0.1 * frame_mm);
    const size_t n_set = fit(items, n_items, to_mm - from_mm, frame_mm - 2.0 * edge_mm, &p->unit_mm, &n_lines);
    const double block = ((double)(n_lines - 1) * SW_FONT_LINE + SW_FONT_ABOVE + SW_FONT_BELOW) * p->unit_mm;
    for (size_t i = 0; i < n_set; i++) {
        const double down = (SW_FONT_ABOVE + SW_FONT_LINE * (double)items[i].line) * p->unit_mm;
        p->origin = (sw_pt_mm){ from_mm + items[i].x * p->unit_mm, (frame_mm - block) * 0.5 + down };
        if (!sw_font_draw(items[i].text.data, take_stroke, p, n_replaced)) return false;
    }
    return true;
}

/* The neighbour's name in the middle of the longest free stretch of one side. False when memory is out. */
static bool draw_neighbour(const sw_panel *panel, double frame_mm, const sw_panel_place *place, sw_side side, pen *p)
{
    char name[16], text[32];
    double from_mm, to_mm;
    sw_place_neighbour_name(place, side, name);
    if (name[0] == '\0') return true;
    snprintf(text, sizeof text, "joins %s", name);
    sw_marks_free_stretch(panel, side, frame_mm, &from_mm, &to_mm);
    for (size_t i = 1; i < SW_ARRAY_LEN(sizes_mm); i++) { /* the largest is for the panel's own label */
        p->unit_mm = sizes_mm[i] / SW_FONT_CAPITAL;
        const double length = sw_font_width(text) * p->unit_mm, middle = (from_mm + to_mm) * 0.5;
        if (length > to_mm - from_mm || (SW_FONT_ABOVE + SW_FONT_BELOW) * p->unit_mm > frame_mm * 0.8) continue;
        const double half_capital = SW_FONT_CAPITAL * p->unit_mm * 0.5;
        p->is_rising = side != SW_SIDE_BOTTOM;
        if (side == SW_SIDE_BOTTOM)
            p->origin = (sw_pt_mm){ middle - length * 0.5, panel->height_mm - frame_mm * 0.5 + half_capital };
        else
            p->origin = (sw_pt_mm){ (side == SW_SIDE_LEFT ? frame_mm * 0.5 : panel->width_mm - frame_mm * 0.5) +
                                        half_capital,
                                    middle + length * 0.5 };
        return sw_font_draw(text, take_stroke, p, NULL);
    }
    return true;
}

static bool is_near_mark(const sw_panel *panel, sw_pt_mm a, sw_pt_mm b)
{
    for (size_t i = 0; i < panel->marks.n; i++) {
        const sw_contour_measure m = sw_contour_extent(&panel->marks.at[i]);
        if (sw_min(a.x_mm, b.x_mm) < m.max.x_mm + 1.0 && sw_max(a.x_mm, b.x_mm) > m.min.x_mm - 1.0 &&
            sw_min(a.y_mm, b.y_mm) < m.max.y_mm + 1.0 && sw_max(a.y_mm, b.y_mm) > m.min.y_mm - 1.0)
            return true;
    }
    return false;
}

/* Two ticks at each corner of the window, left out where a mark stands. False when memory is out. */
static bool draw_ticks(const sw_panel *panel, double frame_mm, pen *p)
{
    p->origin = (sw_pt_mm){ 0.0, 0.0 };
    p->unit_mm = 1.0;
    p->is_rising = false;
    for (int corner = 0; corner < 4 && frame_mm > TICK_TO_MM; corner++) {
        const double x = corner % 2 ? panel->width_mm - frame_mm : frame_mm, out_x = corner % 2 ? 1.0 : -1.0;
        const double y = corner / 2 ? panel->height_mm - frame_mm : frame_mm, out_y = corner / 2 ? 1.0 : -1.0;
        const sw_pt_mm ends[2][2] = {
            { { x + TICK_FROM_MM * out_x, y }, { x + TICK_TO_MM * out_x, y } },
            { { x, y + TICK_FROM_MM * out_y }, { x, y + TICK_TO_MM * out_y } },
        };
        for (int k = 0; k < 2; k++) {
            /* the pen counts upwards from its origin */
            const sw_pt_px at[2] = { { ends[k][0].x_mm, -ends[k][0].y_mm }, { ends[k][1].x_mm, -ends[k][1].y_mm } };
            if (!is_near_mark(panel, ends[k][0], ends[k][1]) && !take_stroke(p, at, 2)) return false;
        }
    }
    return true;
}

sw_status sw_labels_add(sw_panel *panel, double frame_mm, const sw_label_info *info, size_t *n_replaced, sw_note *note)
{
    item items[MAX_ITEMS] = { 0 };
    pen p = { 0 };
    const size_t n_items = compose(panel, info, items);
    bool is_drawn = draw_items(panel, frame_mm, items, n_items, &p, n_replaced);
    for (int side = SW_SIDE_RIGHT; is_drawn && side <= SW_SIDE_LEFT; side++)
        is_drawn = draw_neighbour(panel, frame_mm, &info->place, (sw_side)side, &p);
    is_drawn = is_drawn && draw_ticks(panel, frame_mm, &p);
    for (size_t i = 0; i < n_items; i++) sw_text_free(&items[i].text);
    if (!is_drawn) {
        free_strokes(p.strokes, p.n);
        return sw_fail_memory(note, "the labels");
    }
    panel->strokes = p.strokes;
    panel->n_strokes = p.n;
    return SW_OK;
}
