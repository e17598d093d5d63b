/* Ticks beside each key window of a panel: where the lines through them cross, there lies the corner of the earlier paint.
 * The nearest edge on each side gets one, and the key's number stands beside the first. */
#include "layout/parts.h"

#include <math.h>
#include <stdio.h>

#define STEP_MM 0.5
#define FARTHEST_MM 40.0 /* a little more than what keys were chosen for: curves are not the mask */
#define CLEAR_MM 1.0     /* between an edge and a tick */
#define TICK_MM 7.0

/* How far from the corner the material begins in this direction; above FARTHEST_MM if it does not. */
static double find_rim(sw_pen *p, sw_pt_mm at, double ux, double uy, bool *is_full)
{
    double away = STEP_MM;
    for (; away <= FARTHEST_MM && !*is_full; away += STEP_MM) {
        const sw_pt_mm q = { at.x_mm + away * ux, at.y_mm + away * uy };
        if (sw_pen_is_clear(p, q, q, is_full)) break;
    }
    return away;
}

/* Where a tick begins and ends. */
typedef struct tick {
    sw_pt_mm from, to;
} tick;

/* The text beside one of the ticks. False when memory is out. */
static bool add_name(sw_pen *p, const char *text, const tick *ticks, size_t n)
{
    sw_pt_mm places[8];
    const double width = sw_pen_text_width_mm(text);
    for (size_t i = 0; i < n; i++) {
        const bool is_level = ticks[i].from.y_mm == ticks[i].to.y_mm, is_back = ticks[i].to.x_mm < ticks[i].from.x_mm;
        const double up = sw_min(ticks[i].from.y_mm, ticks[i].to.y_mm), x = ticks[i].to.x_mm, y = ticks[i].to.y_mm;
        places[2 * i] = is_level ? (sw_pt_mm){ is_back ? x - CLEAR_MM - width : x + CLEAR_MM, y + 0.5 * SW_PEN_CAPITAL_MM }
                                 : (sw_pt_mm){ x + CLEAR_MM, up + SW_PEN_CAPITAL_MM };
        places[2 * i + 1] = is_level ? (sw_pt_mm){ sw_min(ticks[i].from.x_mm, x), y - CLEAR_MM }
                                     : (sw_pt_mm){ x - CLEAR_MM - width, up + SW_PEN_CAPITAL_MM };
    }
    return sw_pen_text(p, text, places, 2 * n);
}

static bool draw_key(sw_pen *p, const sw_key *key)
{
    static const double ways[4][2] = { { 0, -1 }, { 1, 0 }, { 0, 1 }, { -1, 0 } };
    const sw_pt_mm at = { key->at.x_mm - p->panel->origin.x_mm, key->at.y_mm - p->panel->origin.y_mm };
    tick ticks[4];
    size_t n = 0;
    bool is_full = false, is_drawn = true;
    for (size_t i = 0; is_drawn && !is_full && i < SW_ARRAY_LEN(ways); i++) {
        const double ux = ways[i][0], uy = ways[i][1], rim = find_rim(p, at, ux, uy, &is_full) + CLEAR_MM;
        if (rim > FARTHEST_MM) continue;
        const sw_pt_mm from = { at.x_mm + rim * ux, at.y_mm + rim * uy };
        ticks[n] = (tick){ from, { from.x_mm + TICK_MM * ux, from.y_mm + TICK_MM * uy } };
        if (!sw_pen_is_clear(p, ticks[n].from, ticks[n].to, &is_full)) continue;
        is_drawn = sw_pen_line(p, ticks[n].from, ticks[n].to, false);
        n++;
    }
    char text[32];
    snprintf(text, sizeof text, "KEY %zu", key->number);
    is_drawn = is_drawn && !is_full && add_name(p, text, ticks, n);
    return is_drawn && (p->is_written || add_name(p, text + 4, ticks, n)); /* the number alone where there is no more room */
}

sw_status sw_keys_draw(const sw_keys *keys, sw_panel *panel, sw_note *note)
{
    sw_pen p = { .panel = panel, .cap = panel->n_strokes };
    bool is_drawn = true;
    for (size_t i = 0; is_drawn && i < keys->n; i++) {
        const sw_key *const key = &keys->at[i];
        const sw_rect_mm art = panel->art;
        if (key->pass == panel->pass && key->at.x_mm >= art.x_mm && key->at.x_mm < art.x_mm + art.width_mm &&
            key->at.y_mm >= art.y_mm && key->at.y_mm < art.y_mm + art.height_mm)
            is_drawn = draw_key(&p, key);
    }
    sw_pen_end(&p);
    return is_drawn ? SW_OK : sw_fail_memory(note, "the key windows");
}
