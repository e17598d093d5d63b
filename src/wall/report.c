/* The plan in words, and as JSON. Lengths in mm in the JSON, in metres or mm for people. */
#include "wall/wall.h"

#include <math.h>

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
        sw_text_addf(out, " %s %s", miss->area == SIZE_MAX ? "beyond" : "over", name_of(plan, miss->area));
    } else {
        add_length(out, miss->gap_mm);
        sw_text_addf(out, " from %s", name_of(plan, miss->area));
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
        sw_text_addf(out, " %s %s\n", plan->panels[i].miss.area == SIZE_MAX ? "beyond" : "over", name_of(plan, plan->panels[i].miss.area));
    }
    if (plan->n_panels > MOST_PANELS_SAID) sw_text_addf(out, "        and %zu more sheets\n", plan->n_panels - MOST_PANELS_SAID);
}

static void add_verdict(sw_text *out, const sw_wall_plan *plan)
{
    const sw_placement *const p = &plan->placement;
    if (plan->fits) {
        sw_text_add(out, "fits    nearest is ");
        sw_text_add(out, name_of(plan, p->worst.area));
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

static sw_cut_opts usual_cut(void)
{
    sw_cut_opts opts = sw_cut_defaults();
    sw_cut_complete(&opts);
    return opts;
}

static double surface_opening_mm(const sw_surface_factors *f) { return f->opening_ratio * usual_cut().min_opening_mm; }
static double surface_web_mm(const sw_surface_factors *f) { return f->web_ratio * usual_cut().min_web_mm; }
static double surface_cans(const sw_wall_plan *plan, const sw_surface_factors *f)
{
    return ceil((double)plan->job->n_cans * f->paint_ratio - 1e-9);
}

static void add_surface(sw_text *out, const sw_wall_plan *plan)
{
    const sw_surface_factors *const f = sw_surface_factors_of(plan->wall->surface);
    const sw_wall_job *const job = plan->job;
    if (f->opening_ratio == 1.0 && f->paint_ratio == 1.0) return;
    sw_text_addf(out, "surface %s: cut with --min-opening ", f->name);
    sw_text_add_number(out, surface_opening_mm(f), 1);
    sw_text_add(out, "mm --min-web ");
    sw_text_add_number(out, surface_web_mm(f), 1);
    sw_text_add(out, "mm (common practice, no source)\n");
    if (job == NULL) return;
    if (job->min_opening_mm < surface_opening_mm(f) - 1e-9 || job->min_web_mm < surface_web_mm(f) - 1e-9) {
        sw_text_add(out, "        this job was cut with ");
        sw_text_add_number(out, job->min_opening_mm, 1);
        sw_text_add(out, " and ");
        sw_text_add_number(out, job->min_web_mm, 1);
        sw_text_add(out, " mm: fine parts will blur\n");
    }
    sw_text_addf(out, "        paint about %zu cans instead of %zu, painting ", (size_t)surface_cans(plan, f), job->n_cans);
    sw_text_add_number(out, job->painting_minutes * f->time_ratio / 60.0, 1);
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
    sw_text_addf(out, "%s on the wall: ", name);
    add_length(out, plan->place.width_mm);
    sw_text_add(out, " x ");
    add_length(out, plan->place.height_mm);
    sw_text_add(out, ", lower left corner ");
    add_place(out, plan->place.x_mm, plan->place.y_mm);
    sw_text_addf(out, "\n        (%s)\n", plan->why);
    add_verdict(out, plan);
    add_surface(out, plan);
    add_photo(out, scene);
}

void sw_wall_plan_words(const sw_wall_plan *plan, sw_text *out)
{
    const sw_surface_factors *const f = sw_surface_factors_of(plan->wall->surface);
    sw_text_add(out, "Lower left corner ");
    add_place(out, plan->place.x_mm, plan->place.y_mm);
    sw_text_add(out, plan->fits ? "; clear of everything." : "; it does NOT fit there, see stencilwright wall.");
    if (plan->job == NULL || f->paint_ratio == 1.0) return;
    sw_text_addf(out, " On %s (common practice, no source) reckon with about %zu cans and ", f->name, (size_t)surface_cans(plan, f));
    sw_text_add_number(out, plan->job->painting_minutes * f->time_ratio / 60.0, 1);
    sw_text_add(out, " hours of painting instead of the numbers below.");
}

/* ---- for scripts -------------------------------------------------------------------------------------- */

static void add_key(sw_text *out, const char *name)
{
    const char last = out->size > 0 ? out->data[out->size - 1] : '{';
    sw_text_addf(out, "%s\"%s\":", last == '{' || last == '[' ? "" : ",", name);
}

static void add_number(sw_text *out, const char *name, double value)
{
    add_key(out, name);
    sw_text_add_number(out, value, 3);
}

static void add_word(sw_text *out, const char *name, const char *value)
{
    add_key(out, name);
    sw_text_add_json(out, value);
}

static void begin_element(sw_text *out)
{
    sw_text_add(out, out->size > 0 && out->data[out->size - 1] == '[' ? "{" : ",{");
}

static void add_miss_json(sw_text *out, const sw_wall_plan *plan, const sw_wall_miss *miss)
{
    add_word(out, "of", miss->area == SIZE_MAX ? "edge" : plan->wall->areas[miss->area].name);
    add_number(out, "gap_mm", miss->gap_mm);
}

static void add_misses_json(sw_text *out, const sw_wall_plan *plan)
{
    add_key(out, "misses");
    sw_text_add(out, "[");
    for (size_t i = 0; i < plan->n_misses; i++) {
        begin_element(out);
        add_miss_json(out, plan, &plan->misses[i]);
        sw_text_add(out, "}");
    }
    sw_text_add(out, "]");
    add_key(out, "sheets_over");
    sw_text_add(out, "[");
    for (size_t i = 0; i < plan->n_panels; i++) {
        const sw_wall_panel *const panel = &plan->job->panels[plan->panels[i].panel];
        begin_element(out);
        add_number(out, "pass", (double)panel->pass);
        add_word(out, "panel", panel->name);
        add_miss_json(out, plan, &plan->panels[i].miss);
        sw_text_add(out, "}");
    }
    sw_text_add(out, "]");
}

static void add_place_json(sw_text *out, const char *name, double left, double floor, double width, double height)
{
    add_key(out, name);
    sw_text_add(out, "{");
    add_number(out, "left_mm", left);
    add_number(out, "floor_mm", floor);
    add_number(out, "width_mm", width);
    add_number(out, "height_mm", height);
    sw_text_add(out, "}");
}

static void add_surface_json(sw_text *out, const sw_wall_plan *plan)
{
    const sw_surface_factors *const f = sw_surface_factors_of(plan->wall->surface);
    add_word(out, "surface", f->name);
    add_number(out, "min_opening_mm", surface_opening_mm(f));
    add_number(out, "min_web_mm", surface_web_mm(f));
    add_number(out, "paint_ratio", f->paint_ratio);
    add_number(out, "time_ratio", f->time_ratio);
    if (plan->job == NULL) return;
    add_number(out, "cans", surface_cans(plan, f));
    add_number(out, "painting_minutes", plan->job->painting_minutes * f->time_ratio);
}

void sw_wall_plan_json(const sw_wall_plan *plan, const char *name, const sw_wall_scene *scene, sw_text *out)
{
    const sw_placement *const p = &plan->placement;
    const double shape = plan->place.height_mm / plan->place.width_mm;
    sw_text_add(out, "{");
    add_number(out, "schema", 1);
    add_word(out, "artwork", name);
    add_key(out, "fits");
    sw_text_add(out, plan->fits ? "true" : "false");
    add_place_json(out, "place", plan->place.x_mm, plan->place.y_mm, plan->place.width_mm, plan->place.height_mm);
    add_number(out, "clear_mm", plan->wall->clear_mm);
    add_key(out, "nearest");
    sw_text_add(out, "{");
    add_miss_json(out, plan, &p->worst);
    sw_text_add(out, "}");
    add_misses_json(out, plan);
    if (p->has_move) add_place_json(out, "move", p->move_left_mm, p->move_floor_mm, plan->place.width_mm, plan->place.height_mm);
    if (p->largest_width_mm > 0.0)
        add_place_json(out, "largest", p->largest_left_mm, p->largest_floor_mm, p->largest_width_mm, p->largest_width_mm * shape);
    add_surface_json(out, plan);
    if (scene != NULL && !scene->is_drawn) {
        add_number(out, "photo_points", (double)scene->n_points);
        add_number(out, "photo_residual_mean_mm", scene->mean_mm);
        add_number(out, "photo_residual_worst_mm", scene->worst_mm);
    }
    sw_text_add(out, "}\n");
}
