/* Where the artwork goes, and whether it and its sheets fit there. */
#include "wall/wall.h"

#include <math.h>
#include <string.h>

#define TOUCH_MM 1e-6

static const sw_wall_feature *find_feature(const sw_wall *wall, const char *name)
{
    for (size_t i = 0; i < wall->n_features; i++) {
        if (strcmp(wall->features[i].name, name) == 0) return &wall->features[i];
    }
    return NULL;
}

static sw_status choose_place(const sw_wall *wall, const sw_wall_wish *wish, sw_wall_plan *plan, sw_note *note)
{
    sw_rect_mm *const place = &plan->place;
    *place = (sw_rect_mm){ 0.5 * (wall->width_mm - wish->width_mm), 0.5 * (wall->height_mm - wish->height_mm), wish->width_mm,
                           wish->height_mm };
    plan->why = "the middle of the wall, as no place is given";
    if (wall->has_place) {
        place->x_mm = wall->art_left_mm;
        place->y_mm = wall->art_floor_mm;
        plan->why = "the wall file's place";
    }
    if (wish->snap != NULL) {
        const sw_wall_feature *const feature = find_feature(wall, wish->snap);
        if (feature == NULL) {
            sw_text names = { 0 };
            for (size_t i = 0; i < wall->n_features; i++) sw_text_addf(&names, "%s%s", i > 0 ? ", " : "", wall->features[i].name);
            sw_fail(note, SW_BAD_USAGE, "the wall file has no feature '%s'; it has: %s", wish->snap,
                    names.data == NULL ? "none" : names.data);
            sw_text_free(&names);
            return SW_BAD_USAGE;
        }
        place->x_mm = feature->at.x_mm - feature->art_x_ratio * wish->width_mm;
        place->y_mm = feature->at.y_mm - (1.0 - feature->art_y_ratio) * wish->height_mm;
        plan->why = "its point lies on the feature";
    }
    if (wish->has_left) place->x_mm = wish->left_mm;
    if (wish->has_floor) place->y_mm = wish->floor_mm;
    if (wish->has_left || wish->has_floor) plan->why = "as asked";
    return SW_OK;
}

static double edge_gap(const sw_wall *wall, sw_rect_mm r)
{
    return sw_min(sw_min(r.x_mm, r.y_mm), sw_min(wall->width_mm - r.x_mm - r.width_mm, wall->height_mm - r.y_mm - r.height_mm));
}

/* Everything nearer to the rectangle than it may be; the wall's edge last. out: room for n_areas + 1. */
static size_t find_misses(const sw_wall *wall, sw_rect_mm r, double needed_mm, sw_wall_miss *out)
{
    size_t n = 0;
    for (size_t i = 0; i < wall->n_areas; i++) {
        const double gap = sw_wall_gap(&wall->areas[i], r.x_mm, r.y_mm, r.width_mm, r.height_mm);
        if (gap < needed_mm - TOUCH_MM) out[n++] = (sw_wall_miss){ i, gap };
    }
    if (edge_gap(wall, r) < needed_mm - TOUCH_MM) out[n++] = (sw_wall_miss){ SIZE_MAX, edge_gap(wall, r) };
    return n;
}

static sw_rect_mm on_wall(const sw_wall_plan *plan, const sw_wall_panel *panel)
{
    return (sw_rect_mm){ plan->place.x_mm + panel->art.x_mm,
                         plan->place.y_mm + plan->place.height_mm - panel->art.y_mm - panel->art.height_mm,
                         panel->art.width_mm, panel->art.height_mm };
}

/* A sheet may touch what the artwork must stay clear of, but not lie over it: it would not lie flat. */
static sw_status check_panels(sw_wall_plan *plan, sw_note *note)
{
    const sw_wall_job *const job = plan->job;
    if (job == NULL || job->n_panels == 0) return SW_OK;
    plan->panels = sw_alloc_array(job->n_panels, sizeof *plan->panels);
    sw_wall_miss *const misses = sw_alloc_array(plan->wall->n_areas + 1, sizeof *misses);
    if (plan->panels == NULL || misses == NULL) {
        sw_free(misses);
        return sw_fail_memory(note, "the panels");
    }
    for (size_t p = 0; p < job->n_panels; p++) {
        const size_t n = find_misses(plan->wall, on_wall(plan, &job->panels[p]), 0.0, misses);
        sw_wall_panel_miss worst = { p, { SIZE_MAX, INFINITY } };
        for (size_t i = 0; i < n; i++) {
            if (misses[i].gap_mm < worst.miss.gap_mm) worst.miss = misses[i];
        }
        if (n > 0) plan->panels[plan->n_panels++] = worst;
    }
    sw_free(misses);
    return SW_OK;
}

static sw_status check_place(sw_wall_plan *plan, sw_note *note)
{
    const sw_rect_mm at = plan->place;
    sw_wall roomy = *plan->wall; /* the same arrays: it is only looked at */
    roomy.clear_mm = sw_max(roomy.clear_mm, plan->job == NULL ? 0.0 : plan->job->frame_mm);
    SW_TRY(sw_wall_place(&roomy, at.x_mm, at.y_mm, at.width_mm, at.height_mm, &plan->placement, note));
    plan->misses = sw_alloc_array(plan->wall->n_areas + 1, sizeof *plan->misses);
    if (plan->misses == NULL) return sw_fail_memory(note, "placing the artwork");
    plan->n_misses = find_misses(plan->wall, at, plan->wall->clear_mm, plan->misses);
    SW_TRY(check_panels(plan, note));
    plan->fits = plan->n_misses == 0 && plan->n_panels == 0;
    return SW_OK;
}

sw_status sw_wall_plan_make(const sw_wall *wall, const sw_wall_job *job, const sw_wall_wish *wish, sw_wall_plan *out,
                            sw_note *note)
{
    sw_wall_plan made = { .wall = wall, .job = job };
    sw_status st = choose_place(wall, wish, &made, note);
    if (st == SW_OK) st = check_place(&made, note);
    if (st == SW_OK) *out = made;
    else sw_wall_plan_free(&made);
    return st;
}

void sw_wall_plan_free(sw_wall_plan *plan)
{
    sw_free(plan->misses);
    sw_free(plan->panels);
    *plan = (sw_wall_plan){ 0 };
}
