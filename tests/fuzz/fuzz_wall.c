/* Fuzz target: a wall file through the parser and, when it is one, through placing, the map and the report. */
#include "replay.h"
#include "wall/wall.h"

#include <math.h>
#include <stdlib.h>

#define MOST_CORNERS 40u /* placing looks at pairs of contacts: keep a run short */

static void use(const sw_wall *wall)
{
    sw_note note = { { 0 } };
    sw_wall_plan plan = { 0 };
    sw_homography h;
    size_t n_corners = 0;
    for (size_t i = 0; i < wall->n_areas; i++) n_corners += wall->areas[i].n;
    if (n_corners > MOST_CORNERS) return;
    const sw_wall_wish wish = { .width_mm = 2100.0, .height_mm = 1400.0, .snap = wall->n_features > 0 ? wall->features[0].name : NULL };
    if (sw_wall_plan_make(wall, NULL, &wish, &plan, &note) == SW_OK) {
        const sw_placement *const p = &plan.placement;
        sw_text text = { 0 };
        if (p->has_move) { /* what is proposed must fit */
            sw_placement again;
            if (sw_wall_place(wall, p->move_left_mm, p->move_floor_mm, 2100.0, 1400.0, &again, NULL) == SW_OK && !again.fits) abort();
        }
        sw_wall_plan_report(&plan, "fuzz.png", NULL, &text);
        sw_wall_plan_json(&plan, "fuzz.png", NULL, &text);
        sw_text_free(&text);
    }
    sw_wall_plan_free(&plan);
    if (wall->n_points <= 200 && sw_homography_find(wall->points, wall->n_points, &h, NULL, NULL) == SW_OK) {
        for (int i = 0; i < 9; i++) {
            if (!isfinite(h.at[i])) abort();
        }
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    sw_wall wall = { 0 };
    sw_note note = { { 0 } };
    const sw_status st = sw_wall_parse((const char *)bytes, n, "fuzz.wall", &wall, &note);
    if (st == SW_OK) use(&wall);
    else if (note.text[0] == '\0' || wall.areas != NULL) abort();
    sw_wall_free(&wall);
    return 0;
}
