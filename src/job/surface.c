/* What the paint goes on. One table for cut and for the wall file. */
#include "job/job.h"

#include <string.h>

static const sw_surface surfaces[] = {
    /* common practice, no source: relief blurs an edge by about its own depth */
    { "smooth", 1.0, 1.0, 1.0, 1.0 },
    { "render", 1.5, 1.2, 1.4, 1.3 },
    { "brick", 2.0, 1.5, 1.6, 1.5 },
    { "timber", 1.2, 1.2, 1.2, 1.2 },
};

const sw_surface *sw_surface_at(size_t i) { return i < SW_ARRAY_LEN(surfaces) ? &surfaces[i] : NULL; }

const sw_surface *sw_surface_find(const char *name)
{
    if (name == NULL) return &surfaces[0];
    for (size_t i = 0; i < SW_ARRAY_LEN(surfaces); i++) {
        if (strcmp(surfaces[i].name, name) == 0) return &surfaces[i];
    }
    return NULL;
}

/* "render: openings of 4.5 mm and webs of 6 mm, ..." */
void sw_surface_add_words(sw_text *out, const sw_surface *surface, const sw_cut_opts *asked, const sw_cut_opts *used)
{
    const bool has_own_opening = asked->min_opening_mm > 0.0, has_own_web = asked->min_web_mm > 0.0;
    sw_text_addf(out, "%s asks for %sopenings of ", surface->name, has_own_opening && has_own_web ? "wider parts than smooth plaster; you set " : "");
    sw_text_add_number(out, used->min_opening_mm, 2);
    sw_text_add(out, " mm and webs of ");
    sw_text_add_number(out, used->min_web_mm, 2);
    sw_text_add(out, " mm");
    if (has_own_opening != has_own_web) sw_text_addf(out, " (the %s are as you set them)", has_own_opening ? "openings" : "webs");
    sw_text_add(out, "; cans are reckoned times ");
    sw_text_add_number(out, surface->paint_ratio, 2);
    sw_text_add(out, ", placing and spraying times ");
    sw_text_add_number(out, surface->time_ratio, 2);
    sw_text_add(out, " (common practice, no source)");
}
