/* What tests of bridges share: a window to bridge, and pieces counted by a flood of the tests' own. */
#ifndef SW_TEST_BRIDGE_SUPPORT_H
#define SW_TEST_BRIDGE_SUPPORT_H

#include "support.h"
#include <math.h>

#include "sheet/bridge_parts.h"

/* A window with everything a bridge job needs: white wall, black paint, all openings this pass's own. */
typedef struct scene {
    sw_separation sep;
    sw_mask before;
    uint8_t *below;
    sw_marks marks;
    sw_sheet sheet;
    sw_bridge_job job;
} scene;

static inline void *must(void *data)
{
    if (data == NULL) abort();
    return data;
}

static inline scene scene_make(sw_mask openings, double width_mm, double min_opening_mm)
{
    scene s = { .before = openings };
    const size_t n = openings.width_px * openings.height_px;
    s.sep = (sw_separation){ .grid = { openings.width_px, openings.height_px, 1.0 }, .n_passes = 2,
                             .colour = { { 255, 255, 255 }, { 20, 20, 20 }, { 120, 20, 20 } } };
    s.sep.label = must(sw_alloc_array(n, 1));
    s.sep.salience = must(sw_alloc_array(n, 1));
    s.below = must(sw_alloc_array(n, 1));
    s.marks = (sw_marks){ openings.width_px, openings.height_px, must(sw_alloc_array(n, 1)) };
    memcpy(s.sep.label, openings.at, n);
    s.sheet = (sw_sheet){ .pass = 1, .paint = s.sep.colour[1] };
    s.job = (sw_bridge_job){ .window = { 0, 0, openings.width_px, openings.height_px }, .width_mm = width_mm,
                             .min_opening_mm = min_opening_mm };
    return s;
}

static inline void scene_plan(scene *s)
{
    sw_note note = { 0 };
    sw_sheet_free(&s->sheet);
    s->sheet = (sw_sheet){ .pass = 1, .paint = s->sep.colour[1] };
    assert_ok(sw_mask_copy(&s->before, &s->sheet.openings, &note), note);
    s->job.separation = &s->sep;
    s->job.below = s->below;
    s->job.marks = &s->marks;
    assert_ok(sw_bridges_plan(&s->sheet, &s->job, &note), note);
}

static inline void scene_free(scene *s)
{
    sw_sheet_free(&s->sheet);
    sw_mask_free(&s->before);
    sw_separation_free(&s->sep);
    sw_free(s->below);
    sw_free(s->marks.at);
}

/* Pieces of material, with a frame all round, by a flood fill of the test's own. */
static inline size_t count_pieces(const sw_mask *mask)
{
    const size_t width = mask->width_px + 2, n = width * (mask->height_px + 2);
    uint8_t *solid = must(sw_alloc_array(n, 1));
    size_t *stack = must(sw_alloc_array(n, sizeof *stack)), pieces = 0;
    for (size_t i = 0; i < n; i++) {
        const size_t x = i % width, y = i / width;
        const bool is_in = x > 0 && y > 0 && x <= mask->width_px && y <= mask->height_px;
        solid[i] = !is_in || mask->at[(y - 1) * mask->width_px + x - 1] == 0;
    }
    for (size_t i = 0; i < n; i++) {
        if (!solid[i]) continue;
        pieces++;
        size_t top = 0;
        stack[top++] = i;
        solid[i] = 0;
        while (top > 0) {
            const size_t k = stack[--top];
            const size_t next[4] = { k + 1, k - 1, k + width, k - width };
            const bool has[4] = { k % width + 1 < width, k % width > 0, k + width < n, k >= width };
            for (size_t d = 0; d < 4; d++)
                if (has[d] && solid[next[d]]) {
                    solid[next[d]] = 0;
                    stack[top++] = next[d];
                }
        }
    }
    sw_free(solid);
    sw_free(stack);
    return pieces;
}

/* A ring: opening between two radii, about the middle. */
static inline void draw_ring(sw_mask *mask, double cx, double cy, double inner, double outer)
{
    for (size_t y = 0; y < mask->height_px; y++)
        for (size_t x = 0; x < mask->width_px; x++) {
            const double r = hypot((double)x + 0.5 - cx, (double)y + 0.5 - cy);
            if (r >= inner && r < outer) mask->at[y * mask->width_px + x] = 1;
        }
}

static inline sw_mask blank(size_t width, size_t height)
{
    sw_mask mask = { 0 };
    if (sw_mask_make(width, height, &mask, NULL) != SW_OK) abort();
    return mask;
}

/* A stroke: all within half its width of a segment. */
static inline void draw_stroke(sw_mask *m, double ax, double ay, double bx, double by, double width, uint8_t value)
{
    const double dx = bx - ax, dy = by - ay, sq = fmax(dx * dx + dy * dy, 1e-9);
    for (size_t y = 0; y < m->height_px; y++)
        for (size_t x = 0; x < m->width_px; x++) {
            const double px = (double)x + 0.5, py = (double)y + 0.5;
            const double t = fmin(fmax(((px - ax) * dx + (py - ay) * dy) / sq, 0.0), 1.0);
            if (hypot(px - ax - t * dx, py - ay - t * dy) <= 0.5 * width) m->at[y * m->width_px + x] = value;
        }
}

/* A bar along the axes. */
static inline void draw_bar(sw_mask *m, size_t x0, size_t y0, size_t x1, size_t y1)
{
    for (size_t y = y0; y < y1; y++)
        for (size_t x = x0; x < x1; x++) m->at[y * m->width_px + x] = 1;
}

/* An oval outline. */
static inline void draw_oval(sw_mask *m, double cx, double cy, double rx, double ry, double width)
{
    for (size_t y = 0; y < m->height_px; y++)
        for (size_t x = 0; x < m->width_px; x++) {
            const double u = (double)x + 0.5 - cx, v = (double)y + 0.5 - cy;
            const bool is_out = hypot(u / rx, v / ry) > 1.0, is_in = hypot(u / (rx - width), v / (ry - width)) < 1.0;
            if (!is_out && !is_in) m->at[y * m->width_px + x] = 1;
        }
}

static inline scene plan_held(sw_mask mask, double droop_mm)
{
    scene s = scene_make(mask, 6, 3);
    s.job.droop_mm = droop_mm;
    scene_plan(&s);
    assert_int_equal(count_pieces(&s.sheet.openings), 1);
    return s;
}

static inline sw_pt_mm middle_of_bridge(const sw_bridge *b)
{
    return (sw_pt_mm){ 0.5 * (b->a.x_mm + b->b.x_mm), 0.5 * (b->a.y_mm + b->b.y_mm) };
}

#endif
