/* Where a sheet is split: layers.svg says so in the desc of a pass's group, because openings that meet at a seam are two
 * cuts on two panels and not one that is broken. */
#include "vector/parts.h"
#include "write/write.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define MOST_PANELS 20000u /* of one document; a description that names more is not believed */

/* The rectangle as it stands in the document; false where it is turned, skewed or empty. */
static bool map_rect(const affine *to_mm, const double v[4], sw_rect_mm *out)
{
    const sw_pt_mm a = affine_map(to_mm, v[0], v[1]), b = affine_map(to_mm, v[0] + v[2], v[1] + v[3]);
    *out = (sw_rect_mm){ sw_min(a.x_mm, b.x_mm), sw_min(a.y_mm, b.y_mm), fabs(b.x_mm - a.x_mm), fabs(b.y_mm - a.y_mm) };
    return v[2] > 0.0 && v[3] > 0.0 && to_mm->b == 0.0 && to_mm->c == 0.0 && fabs(out->x_mm) <= SW_MAX_MM && fabs(out->y_mm) <= SW_MAX_MM && out->width_mm > 0.0 &&
           out->width_mm <= SW_MAX_MM && out->height_mm > 0.0 && out->height_mm <= SW_MAX_MM;
}

bool read_panels(sw_vector *vector, const char *layer, const affine *to_mm, const char *text)
{
    const size_t n_before = vector->n_panels, n_words = strlen(SW_PANELS_DESC);
    if (strncmp(text, SW_PANELS_DESC, n_words) != 0) return true;
    for (const char *at = text + n_words; at != NULL && *at != '\0'; at = strchr(at, ';')) {
        sw_vector_panel panel = { .rect = { 0 } };
        double v[4];
        at += strspn(at, "; \t\r\n");
        at += strcspn(at, " ;"); /* its name */
        bool is_sound = true;
        for (size_t i = 0; i < 4 && is_sound; i++) is_sound = take_number(&at, &v[i]);
        if (!is_sound || !map_rect(to_mm, v, &panel.rect) || vector->n_panels >= MOST_PANELS) {
            vector->n_panels = n_before; /* half a description is none */
            return true;
        }
        snprintf(panel.layer, sizeof panel.layer, "%s", layer);
        void *data = vector->panels;
        if (!sw_grow(&data, &vector->cap_panels, vector->n_panels + 1, sizeof panel)) return false;
        vector->panels = data;
        vector->panels[vector->n_panels++] = panel;
    }
    return true;
}
