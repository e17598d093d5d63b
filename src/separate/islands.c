/* What the islands of a pass would cost the eye, whatever is painted before and after: material of a pass is all that it
 * does not paint, so its islands are the closed areas of the other labels. One that holds only labels painted later
 * needs no bridge, and labels painted later carry bridges that nobody sees; so the areas are those of all other labels
 * together, and each says how much of which label lies in it. The gap to the next is measured by a chamfer distance
 * (Borgefors 1986) that carries its source along. Every step-th pixel is looked at: enough to tell orders apart. */
#include <string.h>

#include "separate/parts.h"

#define SIDE 5u     /* a step to a neighbour over a side, and over a corner */
#define CORNER 7u
#define FRAME 1u    /* area that touches the artwork's edge: it hangs on the frame */
#define FAR UINT32_MAX
/* An error at full salience counts this many times one at none, as for the bridges themselves. */
#define SALIENCE_MOST 6.0

typedef struct raster {
    size_t width, height;
    uint8_t *label;   /* of every step-th pixel */
    uint32_t *area;   /* number of the area a pixel lies in, then of the nearest; 0: none yet */
    uint32_t *dist;   /* in fifths of a coarse pixel */
    uint32_t *stack;
} raster;

static void raster_free(raster *r)
{
    sw_free(r->label);
    sw_free(r->area);
    sw_free(r->dist);
    sw_free(r->stack);
    *r = (raster){ 0 };
}

static bool raster_make(const sw_order_task *t, raster *r)
{
    *r = (raster){ .width = (t->width + t->step_px - 1) / t->step_px, .height = (t->height + t->step_px - 1) / t->step_px };
    const size_t n = r->width * r->height;
    r->label = sw_alloc_raw(n, 1);
    r->area = sw_alloc_array(n, sizeof *r->area);
    r->dist = sw_alloc_raw(n, sizeof *r->dist);
    r->stack = sw_alloc_raw(n, sizeof *r->stack);
    if (r->label == NULL || r->area == NULL || r->dist == NULL || r->stack == NULL) return false;
    for (size_t y = 0; y < r->height; y++) {
        const uint8_t *const row = t->label + sw_min_size(y * t->step_px + t->step_px / 2, t->height - 1) * t->width;
        for (size_t x = 0; x < r->width; x++)
            r->label[y * r->width + x] = row[sw_min_size(x * t->step_px + t->step_px / 2, t->width - 1)];
    }
    return true;
}

/* ---- areas ------------------------------------------------------------------------------------------------------ */

/* Fill the area around a pixel over sides; adds its pixels to island->n. */
static void fill(const raster *r, uint8_t pass, size_t start, uint32_t number, sw_island *island)
{
    size_t n = 0;
    r->area[start] = number;
    r->stack[n++] = (uint32_t)start;
    while (n > 0) {
        const size_t at = r->stack[--n], x = at % r->width, y = at / r->width;
        if (island != NULL) island->n[r->label[at]]++;
        const size_t beside[4] = { at - 1, at + 1, at - r->width, at + r->width };
        const bool has[4] = { x > 0, x + 1 < r->width, y > 0, y + 1 < r->height };
        for (size_t k = 0; k < 4; k++) {
            if (!has[k] || r->area[beside[k]] != 0 || r->label[beside[k]] == pass) continue;
            r->area[beside[k]] = number;
            r->stack[n++] = (uint32_t)beside[k];
        }
    }
}

static void fill_from_edge(const raster *r, uint8_t pass)
{
    for (size_t y = 0; y < r->height; y++)
        for (size_t x = 0; x < r->width; x++) {
            const bool is_inside = x > 0 && y > 0 && x + 1 < r->width && y + 1 < r->height;
            const size_t at = y * r->width + x;
            if (!is_inside && r->label[at] != pass && r->area[at] == 0) fill(r, pass, at, FRAME, NULL);
            if (is_inside) x = r->width - 2; /* on to the row's end */
        }
}

static bool find_areas(const raster *r, uint8_t pass, sw_islands *out)
{
    fill_from_edge(r, pass);
    for (size_t i = 0; i < r->width * r->height; i++) {
        if (r->label[i] == pass || r->area[i] != 0) continue;
        void *at = out->at;
        const bool is_grown = sw_grow(&at, &out->cap, out->n + 1, sizeof *out->at);
        out->at = at;
        if (!is_grown) return false;
        out->at[out->n] = (sw_island){ .gap_px = -1.0 };
        fill(r, pass, i, FRAME + 1 + (uint32_t)out->n, &out->at[out->n]);
        out->n++;
    }
    return true;
}

/* ---- gaps ------------------------------------------------------------------------------------------------------- */

static void reach_from(const raster *r, size_t at, size_t from, uint32_t step)
{
    if (r->area[from] == 0 || r->dist[from] + step >= r->dist[at]) return;
    r->dist[at] = r->dist[from] + step;
    r->area[at] = r->area[from];
}

/* Nearest area of each pixel of the pass: down the raster, then up. */
static void spread(const raster *r, uint8_t pass)
{
    const size_t w = r->width, h = r->height;
    for (size_t i = 0; i < w * h; i++) r->dist[i] = r->area[i] != 0 ? 0 : FAR;
    for (size_t y = 0; y < h; y++)
        for (size_t x = 0; x < w; x++) {
            const size_t at = y * w + x;
            if (r->label[at] != pass) continue;
            if (x > 0) reach_from(r, at, at - 1, SIDE);
            if (y > 0) reach_from(r, at, at - w, SIDE);
            if (x > 0 && y > 0) reach_from(r, at, at - w - 1, CORNER);
            if (x + 1 < w && y > 0) reach_from(r, at, at - w + 1, CORNER);
        }
    for (size_t y = h; y-- > 0;)
        for (size_t x = w; x-- > 0;) {
            const size_t at = y * w + x;
            if (r->label[at] != pass) continue;
            if (x + 1 < w) reach_from(r, at, at + 1, SIDE);
            if (y + 1 < h) reach_from(r, at, at + w, SIDE);
            if (x + 1 < w && y + 1 < h) reach_from(r, at, at + w + 1, CORNER);
            if (x > 0 && y + 1 < h) reach_from(r, at, at + w - 1, CORNER);
        }
}

static double weight_at(const sw_order_task *t, const raster *r, size_t at)
{
    if (t->attention == NULL) return 1.0;
    const size_t x = (at % r->width * t->step_px) >> t->attention->shift, y = (at / r->width * t->step_px) >> t->attention->shift;
    const double ratio = t->attention->salience[y * t->attention->width_px + x] / 255.0;
    return 1.0 + (SALIENCE_MOST - 1.0) * ratio * ratio;
}

static void meet(sw_islands *out, uint32_t area, double gap_px, double weight)
{
    if (area <= FRAME || area - FRAME > out->n) return; /* none is beyond; analysers cannot know */
    sw_island *const island = &out->at[area - FRAME - 1];
    if (island->gap_px >= 0.0 && island->gap_px * island->weight <= gap_px * weight) return;
    island->gap_px = gap_px;
    island->weight = weight;
}

static void find_gaps(const sw_order_task *t, const raster *r, sw_islands *out)
{
    const size_t w = r->width;
    for (size_t at = 0; at < w * r->height; at++) {
        const size_t beside[2] = { at + 1, at + w };
        const bool has[2] = { at % w + 1 < w, at + w < w * r->height };
        for (size_t k = 0; k < 2; k++) {
            if (!has[k] || r->area[at] == 0 || r->area[beside[k]] == 0 || r->area[at] == r->area[beside[k]]) continue;
            /* both count from the last pixel outside: the gap is the pixels between */
            const double gap_px = (double)(t->step_px * (r->dist[at] + r->dist[beside[k]])) / SIDE;
            const double weight = weight_at(t, r, at);
            meet(out, r->area[at], gap_px, weight);
            meet(out, r->area[beside[k]], gap_px, weight);
        }
    }
}

void sw_islands_free(sw_islands *islands)
{
    if (islands == NULL) return;
    sw_free(islands->at);
    *islands = (sw_islands){ 0 };
}

sw_status sw_islands_find(const sw_order_task *task, size_t pass, sw_islands *out, sw_note *note)
{
    raster r = { 0 };
    sw_islands made = { 0 };
    const bool is_done = raster_make(task, &r) && find_areas(&r, (uint8_t)pass, &made);
    if (is_done) {
        spread(&r, (uint8_t)pass);
        find_gaps(task, &r, &made);
        *out = made;
    } else {
        sw_islands_free(&made);
    }
    raster_free(&r);
    return is_done ? SW_OK : sw_fail_memory(note, "the order of passes");
}

double sw_island_cost(const sw_island *island, const sw_order_task *task, unsigned later,
                      const double error[SW_MAX_LABELS], double least_error)
{
    double loss = 0.0;
    const double px2 = (double)(task->step_px * task->step_px);
    for (size_t k = 0; k <= task->n_passes; k++)
        if (k == 0 || (later >> (k - 1) & 1u) == 0) loss += island->n[k] * px2 * error[k];
    if (!(loss > 0.0) || island->gap_px < 0.0) return 0.0;
    return island->weight * sw_min(island->gap_px * task->web_px * least_error, loss);
}
