/* The material of a bridge in the mask: the strip's pixels, then what lies too narrow beside it. Openings that a disc
 * of min-opening could reach before and cannot now are filled: that rounds the four inner corners with half of
 * min-opening as radius, because sharp corners tear, and closes slivers between a bridge and the end of its opening.
 * Only material is added, so the strip is nowhere thinner than its width. */
#include <math.h>
#include <string.h>

#include "sheet/bridge_parts.h"

/* A piece of the padded window around one strip. */
typedef struct patch {
    size_t x, y, width, height, margin;
    uint8_t *before, *after; /* before: openings as they were; after: as they are */
    uint8_t *was_wide, *is_wide;
    uint8_t *scratch;
    uint8_t *grown[2];       /* scratch */
    uint32_t *stack;         /* scratch, one a pixel */
} patch;

static void patch_free(patch *p)
{
    sw_free(p->before);
    sw_free(p->after);
    sw_free(p->was_wide);
    sw_free(p->is_wide);
    sw_free(p->scratch);
    for (size_t i = 0; i < 2; i++) sw_free(p->grown[i]);
    sw_free(p->stack);
    *p = (patch){ 0 };
}

static size_t margin_px(const bridge_ground *g)
{
    return (size_t)ceil(2.0 * sw_px_from_mm(&g->grid, g->job->min_opening_mm)) + 3;
}

double bridge_shape_reach(const bridge_ground *g) { return (double)margin_px(g) + g->width_px; }

static sw_status patch_make(const bridge_ground *g, sw_pt_px lo, sw_pt_px hi, patch *out, sw_note *note)
{
    const size_t margin = margin_px(g);
    const double reach = bridge_shape_reach(g);
    const size_t x0 = (size_t)sw_clamp(lo.x_px - reach, 0.0, (double)g->mask.width_px - 1.0);
    const size_t y0 = (size_t)sw_clamp(lo.y_px - reach, 0.0, (double)g->mask.height_px - 1.0);
    const size_t x1 = (size_t)sw_clamp(hi.x_px + reach + 1.0, 1.0, (double)g->mask.width_px);
    const size_t y1 = (size_t)sw_clamp(hi.y_px + reach + 1.0, 1.0, (double)g->mask.height_px);
    patch p = { .x = x0, .y = y0, .width = x1 - x0, .height = y1 - y0, .margin = margin };
    const size_t n = p.width * p.height;
    p.before = sw_alloc_raw(n, 1);
    p.after = sw_alloc_raw(n, 1);
    p.was_wide = sw_alloc_raw(n, 1);
    p.is_wide = sw_alloc_raw(n, 1);
    p.scratch = sw_alloc_raw(n, 1);
    for (size_t i = 0; i < 2; i++) p.grown[i] = sw_alloc_raw(n, 1);
    p.stack = sw_alloc_raw(n, sizeof *p.stack);
    if (p.before == NULL || p.after == NULL || p.was_wide == NULL || p.is_wide == NULL || p.scratch == NULL ||
        p.grown[0] == NULL || p.grown[1] == NULL || p.stack == NULL) {
        patch_free(&p);
        return sw_fail_memory(note, "the shape of a bridge");
    }
    *out = p;
    return SW_OK;
}

static void patch_read(const patch *p, const bridge_ground *g, uint8_t *to)
{
    for (size_t y = 0; y < p->height; y++)
        memcpy(to + y * p->width, g->mask.at + (p->y + y) * g->mask.width_px + p->x, p->width);
}

/* ---- openings by a disc -------------------------------------------------------------------------------- */

/* One pixel to both sides; beyond the patch lies nothing that matters. */
static inline void grow_row(const uint8_t *restrict in, size_t n, uint8_t *restrict out)
{
    if (n < 2) {
        memcpy(out, in, n);
        return;
    }
    out[0] = in[0] | in[1];
    for (size_t i = 1; i + 1 < n; i++) out[i] = in[i - 1] | in[i] | in[i + 1];
    out[n - 1] = in[n - 2] | in[n - 1];
}

static inline void add_row(const uint8_t *restrict in, size_t n, uint8_t *restrict out)
{
    for (size_t i = 0; i < n; i++) out[i] |= in[i];
}

/* out: 1 where a pixel with value lies closer than radius (centre to centre): rows from the farthest to the same one, in
 * which that pixel may be farther and farther to the sides. */
SW_WIDE static void near_disc(const patch *p, const uint8_t *in, uint8_t value, double radius_px, uint8_t *out)
{
    const size_t n = p->width * p->height;
    uint8_t *grown = p->grown[0], *next = p->grown[1];
    size_t grown_px = 0;
    for (size_t i = 0; i < n; i++) grown[i] = in[i] == value;
    memset(out, 0, n);
    for (size_t dy = (size_t)ceil(radius_px) + 1; dy-- > 0;) {
        const double rest = radius_px * radius_px - (double)(dy * dy);
        if (!(rest > 0.0)) continue;
        const size_t half = (size_t)(ceil(sqrt(rest)) - 1.0); /* largest whole dx with dx * dx < rest */
        for (; grown_px < half; grown_px++) {
            for (size_t y = 0; y < p->height; y++) grow_row(grown + y * p->width, p->width, next + y * p->width);
            uint8_t *const was = grown;
            grown = next;
            next = was;
        }
        for (size_t y = 0; y + dy < p->height; y++) {
            add_row(grown + (y + dy) * p->width, p->width, out + y * p->width);
            add_row(grown + y * p->width, p->width, out + (y + dy) * p->width);
        }
    }
}

/* wide: 1 where a disc of min-opening inside the opening covers the pixel. */
static void open_by_disc(const patch *p, const uint8_t *open, double radius_px, uint8_t *wide)
{
    near_disc(p, open, 0, radius_px, p->scratch); /* where a disc's centre cannot be */
    near_disc(p, p->scratch, 0, radius_px, wide);
}

/* ---- filling ------------------------------------------------------------------------------------------- */

static void fill_pixel(bridge_ground *g, const patch *p, size_t i, sw_bridge *out)
{
    const size_t x = p->x + i % p->width, y = p->y + i / p->width;
    if (g->job->marks != NULL && bridge_pixel_cost(g, x, y) == BRIDGE_WALL) return;
    bridge_leave_pixel(g, x, y, out);
}

static bool is_inner(const patch *p, size_t i)
{
    const size_t m = p->margin / 2, x = i % p->width, y = i / p->width;
    return x >= m && y >= m && x + m < p->width && y + m < p->height;
}

/* Pixels of one connected rest of opening (corners join) that no disc reaches; stack holds them. */
static size_t gather_rest(const patch *p, size_t start, bool *is_closed)
{
    size_t n = 0;
    p->stack[n++] = (uint32_t)start;
    p->after[start] = 2;
    *is_closed = true;
    for (size_t i = 0; i < n; i++) {
        const size_t x = p->stack[i] % p->width, y = p->stack[i] / p->width;
        if (x == 0 || y == 0 || x + 1 == p->width || y + 1 == p->height) {
            *is_closed = false;
            continue;
        }
        for (size_t k = 0; k < 9; k++) {
            const size_t j = (y + k / 3 - 1) * p->width + x + k % 3 - 1;
            if (p->after[j] != 1) continue;
            if (p->is_wide[j]) {
                *is_closed = false;
            } else {
                p->after[j] = 2;
                p->stack[n++] = (uint32_t)j;
            }
        }
    }
    return n;
}

static void fill_narrow(bridge_ground *g, const patch *p, double radius_px, sw_bridge *out)
{
    const size_t n = p->width * p->height;
    patch_read(p, g, p->after);
    open_by_disc(p, p->after, radius_px, p->is_wide);
    for (size_t i = 0; i < n; i++)
        if (p->after[i] == 1 && p->was_wide[i] && !p->is_wide[i] && is_inner(p, i)) fill_pixel(g, p, i, out);
    patch_read(p, g, p->after);
    for (size_t i = 0; i < n; i++) {
        if (p->after[i] != 1 || p->is_wide[i]) continue;
        bool is_closed;
        const size_t n_rest = gather_rest(p, i, &is_closed);
        for (size_t k = 0; is_closed && k < n_rest; k++) fill_pixel(g, p, p->stack[k], out);
    }
}

/* A side of the strip that runs past a round end can leave crumbs that touch nothing: give them back. */
static void drop_crumbs(bridge_ground *g, const patch *p)
{
    const size_t n = p->width * p->height, stride = g->mask.width_px;
    patch_read(p, g, p->after);
    for (size_t i = 0; i < n; i++) {
        if (p->after[i] != 0) continue;
        size_t n_found = 0;
        bool is_crumb = true;
        p->stack[n_found++] = (uint32_t)i;
        p->after[i] = 3;
        for (size_t k = 0; k < n_found; k++) {
            const size_t x = p->stack[k] % p->width, y = p->stack[k] / p->width;
            is_crumb &= p->before[p->stack[k]] != 0;
            if (x == 0 || y == 0 || x + 1 == p->width || y + 1 == p->height) is_crumb = false;
            const size_t beside[4] = { p->stack[k] - 1u, p->stack[k] + 1u, p->stack[k] - p->width,
                                       p->stack[k] + p->width };
            const bool has[4] = { x > 0, x + 1 < p->width, y > 0, y + 1 < p->height };
            for (size_t d = 0; d < 4; d++)
                if (has[d] && p->after[beside[d]] == 0) {
                    p->after[beside[d]] = 3;
                    p->stack[n_found++] = (uint32_t)beside[d];
                }
        }
        for (size_t k = 0; is_crumb && k < n_found; k++)
            g->mask.at[(p->y + p->stack[k] / p->width) * stride + p->x + p->stack[k] % p->width] = 1;
    }
}

void bridge_leave_pixel(bridge_ground *g, size_t x, size_t y, sw_bridge *out)
{
    uint8_t *const open = &g->mask.at[y * g->mask.width_px + x];
    if (*open == 0) return;
    *open = 0;
    g->has_material[y / BRIDGE_SQUARE * g->squares_wide + x / BRIDGE_SQUARE] = BRIDGE_HAS_BRIDGE;
    const uint32_t error = bridge_pixel_error(g, bridge_grid_index(g, x, y));
    out->area_mm2 += 1.0; /* in pixels until the end */
    out->visible_mm2 += error != 0;
    out->visible_error += error;
}

static void path_box(const bridge_field *f, size_t cell, sw_pt_px *lo, sw_pt_px *hi)
{
    for (;;) {
        const sw_pt_px c = bridge_field_centre(f, cell);
        *lo = (sw_pt_px){ sw_min(lo->x_px, c.x_px), sw_min(lo->y_px, c.y_px) };
        *hi = (sw_pt_px){ sw_max(hi->x_px, c.x_px), sw_max(hi->y_px, c.y_px) };
        const size_t next = bridge_field_step(f, cell);
        if (next == cell) return;
        cell = next;
    }
}

bridge_box bridge_shape_box(const bridge_ground *g, const bridge_field *f, const bridge_strip *s)
{
    bridge_box box = { .lo = { sw_min(s->a.x_px, s->b.x_px), sw_min(s->a.y_px, s->b.y_px) },
                       .hi = { sw_max(s->a.x_px, s->b.x_px), sw_max(s->a.y_px, s->b.y_px) } };
    bridge_path path;
    if (s->is_bent && bridge_path_make(g, f, s, &path)) {
        for (size_t k = 0; k < path.n; k++) {
            box.lo = (sw_pt_px){ sw_min(box.lo.x_px, path.at[k].x_px), sw_min(box.lo.y_px, path.at[k].y_px) };
            box.hi = (sw_pt_px){ sw_max(box.hi.x_px, path.at[k].x_px), sw_max(box.hi.y_px, path.at[k].y_px) };
            if (k > 0 && k + 1 < path.n) box.bend[box.n_bends++] = path.at[k];
        }
    } else if (s->is_path) {
        path_box(f, s->u, &box.lo, &box.hi);
        path_box(f, s->v, &box.lo, &box.hi);
    }
    return box;
}

sw_status bridge_shape_leave(bridge_ground *g, const bridge_field *f, const bridge_strip *s, sw_bridge *out,
                             sw_note *note)
{
    const sw_rect_px *w = &g->job->window;
    const double x0 = (double)w->x - 1.0, y0 = (double)w->y - 1.0;
    const double radius_px = 0.5 * sw_px_from_mm(&g->grid, g->job->min_opening_mm);
    const bridge_box box = bridge_shape_box(g, f, s);
    const double wider = s->is_path ? 0.0 : 0.05 * hypot(box.hi.x_px - box.lo.x_px, box.hi.y_px - box.lo.y_px); /* a long one may become so */
    const sw_pt_px lo = { box.lo.x_px - wider, box.lo.y_px - wider }, hi = { box.hi.x_px + wider, box.hi.y_px + wider };
    patch p = { 0 };
    SW_TRY(patch_make(g, lo, hi, &p, note));
    patch_read(&p, g, p.before);
    open_by_disc(&p, p.before, radius_px, p.was_wide);
    *out = (sw_bridge){ .a = sw_pt_mm_from_px(&g->grid, (sw_pt_px){ s->a.x_px + x0, s->a.y_px + y0 }),
                        .b = sw_pt_mm_from_px(&g->grid, (sw_pt_px){ s->b.x_px + x0, s->b.y_px + y0 }),
                        .width_mm = g->job->width_mm, .is_line_end = s->is_line_end, .is_bent = s->is_path,
                        .n_bends = box.n_bends };
    for (size_t k = 0; k < box.n_bends; k++)
        out->bend[k] = sw_pt_mm_from_px(&g->grid, (sw_pt_px){ box.bend[k].x_px + x0, box.bend[k].y_px + y0 });
    bridge_strip_stamp(g, f, s, out);
    fill_narrow(g, &p, radius_px, out);
    drop_crumbs(g, &p);
    patch_free(&p);
    const double px_mm2 = 1.0 / (g->grid.px_per_mm * g->grid.px_per_mm);
    out->area_mm2 *= px_mm2;
    out->visible_mm2 *= px_mm2;
    out->visible_error *= px_mm2 / BRIDGE_UNIT;
    out->is_hidden = !(out->visible_mm2 > 0.0);
    return SW_OK;
}
