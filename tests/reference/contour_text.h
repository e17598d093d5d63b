/* Curves as text, for the scripts beside it: "c N_SEGS x y", then for each segment "L corner x y" or
 * "C corner x1 y1 x2 y2 x y", in mm with so many decimals. */
#ifndef SW_TESTS_REFERENCE_CONTOUR_TEXT_H
#define SW_TESTS_REFERENCE_CONTOUR_TEXT_H

#include "contour/contour.h"

static void add_point(sw_text *text, sw_pt_mm p, int decimals)
{
    sw_text_add(text, " ");
    sw_text_add_number(text, p.x_mm, decimals);
    sw_text_add(text, " ");
    sw_text_add_number(text, p.y_mm, decimals);
}

static void add_contour(sw_text *text, const sw_contour *c, int decimals)
{
    sw_text_addf(text, "c %zu", c->n_segs);
    add_point(text, c->start, decimals);
    sw_text_add(text, "\n");
    for (size_t i = 0; i < c->n_segs; i++) {
        const sw_seg *const s = &c->segs[i];
        sw_text_addf(text, "%s %d", s->is_line ? "L" : "C", s->is_corner ? 1 : 0);
        if (!s->is_line) {
            add_point(text, s->c1, decimals);
            add_point(text, s->c2, decimals);
        }
        add_point(text, s->end, decimals);
        sw_text_add(text, "\n");
    }
}

#endif
