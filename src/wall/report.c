/* The plan in words, and as JSON. Lengths in mm in the JSON, in metres or mm for people. */
#include "wall/wall.h"

#include <math.h>
#include <string.h>

#define MOST_PANELS_SAID 3u

static void add_length(sw_text *out, double length_mm)
{
    const bool is_long = fabs(length_mm) >= 1000.0;
    sw_text_add_number(out, is_long ? length_mm / 1000.0 : length_mm, is_long ? 3 : 1);
    sw_text_add(out, is_long ? " m" : " mm");
}

static const char *name_of(const sw_wall_plan *plan, size_t area)
{
    return area == SIZE_MAX ? "the wall's edge" : plan->wall->areas[area].name;
}

static void add_place(sw_text *out, double left_mm, double floor_mm)
{
    add_length(out, left_mm);
    sw_text_add(out, " from the left, ");
    add_length(out, floor_mm);
    sw_text_add(out, " from the floor");
}

/* ---- for people --------------------------------------------------------------------------------------- */

static void add_miss(sw_text *out, const sw_wall_plan *plan, const sw_wall_miss *miss)
{
    sw_text_add(out, "        ");
    if (miss->gap_mm < 0.0) {
        add_length(out, -miss->gap_mm);
        sw_text_add(out, miss->area == SIZE_MAX ? " beyond " : " over ");
        sw_text_add_name(out, name_of(plan, miss->area));
    } else {
        add_length(out, miss->gap_mm);
        sw_text_add(out, " from ");
        sw_text_add_name(out, name_of(plan, miss->area));
    }
    if (plan->wall->clear_mm > 0.0) {
        sw_text_add(out, ", ");
        add_length(out, plan->wall->clear_mm);
        sw_text_add(out, " are wanted");
    }
    sw_text_add(out, "\n");
}

static void add_panel_misses(sw_text *out, const sw_wall_plan *plan)
{
    for (size_t i = 0; i < plan->n_panels && i < MOST_PANELS_SAID; i++) {
        const sw_wall_panel *const panel = &plan->job->panels[plan->panels[i].panel];
        sw_text_addf(out, "        the %s%s of pass %zu would lie ", panel->name[0] == '\0' ? "sheet" : "panel ", panel->name, panel->pass);
        add_length(out, -plan->panels[i].miss.gap_mm);
        sw_text_add(out, plan->panels[i].miss.area == SIZE_MAX ? " beyond " : " over ");
        sw_text_add_name(out, name_of(plan, plan->panels[i].miss.area));
        sw_text_add(out, "\n");
    }
    if (plan->n_panels > MOST_PANELS_SAID) sw_text_addf(out, "        and %zu more sheets\n", plan->n_panels - MOST_PANELS_SAID);
}

static void add_verdict(sw_text *out, const sw_wall_plan *plan)
{
    const sw_placement *const p = &plan->placement;
    if (plan->fits) {
        sw_text_add(out, "fits    nearest is ");
        sw_text_add_name(out, name_of(plan, p->worst.area));
        sw_text_add(out, ", ");
        add_length(out, p->worst.gap_mm);
        sw_text_add(out, " away\n");
    } else {
        sw_text_add(out, "DOES NOT FIT\n");
        for (size_t i = 0; i < plan->n_misses; i++) add_miss(out, plan, &plan->misses[i]);
        add_panel_misses(out, plan);
        sw_text_add(out, "move    ");
        if (p->has_move) {
            sw_text_add(out, "nearest place for this size: ");
            add_place(out, p->move_left_mm, p->move_floor_mm);
        } else {
            sw_text_add(out, "no place of this wall holds this size");
        }
        sw_text_add(out, "\n");
    }
    sw_text_add(out, "largest ");
    if (p->largest_width_mm > 0.0) {
        add_length(out, p->largest_width_mm);
        sw_text_add(out, " wide, ");
        add_length(out, p->largest_width_mm * plan->place.height_mm / plan->place.width_mm);
        sw_text_add(out, " high: ");
        add_place(out, p->largest_left_mm, p->largest_floor_mm);
    } else {
        sw_text_add(out, "none of this shape fits");
    }
    sw_text_add(out, plan->job != NULL ? " (with room for the sheets' frames)\n" : "\n");
}

/* What the wall's surface asks for, and what that makes of the job's estimates. */
typedef struct rough {
    const sw_surface *surface;
    double opening_mm, web_mm;
    size_t n_cans;
    double painting_minutes;
} rough;

/* A job that was cut for some surface has that in its numbers already; what is spent on drying does not grow. */
static rough rough_of(const sw_wall_plan *plan)
{
    const sw_wall_job *const job = plan->job;
    const sw_surface *const surface = sw_surface_at(plan->wall->surface);
    sw_cut_opts opts = sw_cut_defaults();
    if (job != NULL && sw_material_find(job->material) != NULL) opts.material = job->material;
    opts.surface = surface->name;
    sw_cut_complete(&opts);
    rough r = { .surface = surface, .opening_mm = opts.min_opening_mm, .web_mm = opts.min_web_mm };
    if (job == NULL) return r;
    const sw_surface *const cut_for = sw_surface_find(job->surface) != NULL ? sw_surface_find(job->surface) : sw_surface_at(0);
    r.n_cans = (size_t)ceil((double)job->n_cans * surface->paint_ratio / cut_for->paint_ratio - 1e-9);
    r.painting_minutes = job->drying_minutes + (job->painting_minutes - job->drying_minutes) * surface->time_ratio / cut_for->time_ratio;
    return r;
}

static bool is_other(const sw_wall_plan *plan, const rough *r)
{
    return r->n_cans != plan->job->n_cans || fabs(r->painting_minutes - plan->job->painting_minutes) > 0.5;
}

static void add_surface(sw_text *out, const sw_wall_plan *plan)
{
    const rough r = rough_of(plan);
    const sw_wall_job *const job = plan->job;
    if (plan->wall->surface == 0 && (job == NULL || !is_other(plan, &r))) return;
    if (job != NULL && strcmp(job->surface, r.surface->name) == 0) {
        sw_text_addf(out, "surface %s, as the job was cut for\n", r.surface->name);
        return;
    }
    sw_text_addf(out, "surface %s: cut with --surface %s, openings of ", r.surface->name, r.surface->name);
    sw_text_add_number(out, r.opening_mm, 2);
    sw_text_add(out, " mm and webs of ");
    sw_text_add_number(out, r.web_mm, 2);
    sw_text_add(out, " mm (common practice, no source)\n");
    if (job == NULL) return;
    if (job->min_opening_mm < r.opening_mm - 1e-9 || job->min_web_mm < r.web_mm - 1e-9) {
        sw_text_add(out, "        this job was cut with ");
        sw_text_add_number(out, job->min_opening_mm, 2);
        sw_text_add(out, " and ");
        sw_text_add_number(out, job->min_web_mm, 2);
        sw_text_add(out, " mm: fine parts will blur\n");
    }
    if (!is_other(plan, &r)) return;
    sw_text_addf(out, "        paint about %zu can%s instead of %zu, painting ", r.n_cans, r.n_cans == 1 ? "" : "s", job->n_cans);
    sw_text_add_number(out, r.painting_minutes / 60.0, 1);
    sw_text_add(out, " h instead of ");
    sw_text_add_number(out, job->painting_minutes / 60.0, 1);
    sw_text_add(out, " h\n");
}

static void add_photo(sw_text *out, const sw_wall_scene *scene)
{
    if (scene == NULL || scene->is_drawn) return;
    sw_text_addf(out, "photo   %zu points", scene->n_points);
    if (scene->n_points > 4) {
        sw_text_add(out, ", they miss the wall by ");
        sw_text_add_number(out, scene->mean_mm, 1);
        sw_text_add(out, " mm on average, the worst (point ");
        sw_text_addf(out, "%zu) by ", scene->worst_point + 1);
        sw_text_add_number(out, scene->worst_mm, 1);
        sw_text_add(out, " mm");
    }
    sw_text_add(out, "\n");
}

void sw_wall_plan_report(const sw_wall_plan *plan, const char *name, const sw_wall_scene *scene, sw_text *out)
{
    sw_text_add_name(out, name);
    sw_text_add(out, " on the wall: ");
    add_length(out, plan->place.width_mm);
    sw_text_add(out, " x ");
    add_length(out, plan->place.height_mm);
    sw_text_add(out, ", lower left corner ");
    add_place(out, plan->place.x_mm, plan->place.y_mm);
    sw_text_add(out, "\n        (");
    sw_text_add_name(out, plan->why);
    sw_text_add(out, ")\n");
    add_verdict(out, plan);
    add_surface(out, plan);
    add_photo(out, scene);
}

void sw_wall_plan_words(const sw_wall_plan *plan, sw_text *out)
{
    sw_text_add(out, "Lower left corner ");
    add_place(out, plan->place.x_mm, plan->place.y_mm);
    sw_text_add(out, plan->fits ? "; clear of everything." : "; it does NOT fit there, see stencilwright wall.");
    if (plan->job == NULL) return;
    const rough r = rough_of(plan);
    if (!is_other(plan, &r)) return;
    sw_text_addf(out, " On %s (common practice, no source) reckon with about %zu can%s and ", r.surface->name, r.n_cans,
                 r.n_cans == 1 ? "" : "s");
    sw_text_add_number(out, r.painting_minutes / 60.0, 1);
    sw_text_add(out, " hours of painting instead of the numbers below.");
}

/* ---- for scripts -------------------------------------------------------------------------------------- */

static void add_miss_json(sw_text *out, const sw_wall_plan *plan, const sw_wall_miss *miss)
{
    sw_json_string(out, "of", miss->area == SIZE_MAX ? "edge" : plan->wall->areas[miss->area].name);
    sw_json_number(out, "gap_mm", miss->gap_mm);
}

static void add_misses_json(sw_text *out, const sw_wall_plan *plan)
{
    sw_json_field(out, "misses");
    sw_text_add(out, "[");
    for (size_t i = 0; i < plan->n_misses; i++) {
        sw_json_element(out);
        sw_text_add(out, "{");
        add_miss_json(out, plan, &plan->misses[i]);
        sw_text_add(out, "}");
    }
    sw_text_add(out, "]");
    sw_json_field(out, "sheets_over");
    sw_text_add(out, "[");
    for (size_t i = 0; i < plan->n_panels; i++) {
        const sw_wall_panel *const panel = &plan->job->panels[plan->panels[i].panel];
        sw_json_element(out);
        sw_text_add(out, "{");
        sw_json_number(out, "pass", (double)panel->pass);
        sw_json_string(out, "panel", panel->name);
        add_miss_json(out, plan, &plan->panels[i].miss);
        sw_text_add(out, "}");
    }
    sw_text_add(out, "]");
}

static void add_place_json(sw_text *out, const char *name, double left, double floor, double width, double height)
{
    sw_json_field(out, name);
    sw_text_add(out, "{");
    sw_json_number(out, "left_mm", left);
    sw_json_number(out, "floor_mm", floor);
    sw_json_number(out, "width_mm", width);
    sw_json_number(out, "height_mm", height);
    sw_text_add(out, "}");
}

static void add_surface_json(sw_text *out, const sw_wall_plan *plan)
{
    const rough r = rough_of(plan);
    sw_json_string(out, "surface", r.surface->name);
    sw_json_number(out, "min_opening_mm", r.opening_mm);
    sw_json_number(out, "min_web_mm", r.web_mm);
    sw_json_number(out, "paint_ratio", r.surface->paint_ratio);
    sw_json_number(out, "time_ratio", r.surface->time_ratio);
    if (plan->job == NULL) return;
    sw_json_number(out, "cans", (double)r.n_cans);
    sw_json_number(out, "painting_minutes", r.painting_minutes);
}

void sw_wall_plan_json(const sw_wall_plan *plan, const char *name, const sw_wall_scene *scene, sw_text *out)
{
    const sw_placement *const p = &plan->placement;
    const double shape = plan->place.height_mm / plan->place.width_mm;
    sw_text_add(out, "{");
    sw_json_number(out, "schema", 1);
    sw_json_string(out, "artwork", name);
    sw_json_bool(out, "fits", plan->fits);
    add_place_json(out, "place", plan->place.x_mm, plan->place.y_mm, plan->place.width_mm, plan->place.height_mm);
    sw_json_number(out, "clear_mm", plan->wall->clear_mm);
    sw_json_field(out, "nearest");
    sw_text_add(out, "{");
    add_miss_json(out, plan, &p->worst);
    sw_text_add(out, "}");
    add_misses_json(out, plan);
    if (p->has_move) add_place_json(out, "move", p->move_left_mm, p->move_floor_mm, plan->place.width_mm, plan->place.height_mm);
    if (p->largest_width_mm > 0.0)
        add_place_json(out, "largest", p->largest_left_mm, p->largest_floor_mm, p->largest_width_mm, p->largest_width_mm * shape);
    add_surface_json(out, plan);
    if (scene != NULL && !scene->is_drawn) {
        sw_json_number(out, "photo_points", (double)scene->n_points);
        sw_json_number(out, "photo_residual_mean_mm", scene->mean_mm);
        sw_json_number(out, "photo_residual_worst_mm", scene->worst_mm);
    }
    sw_text_add(out, "}\n");
}
