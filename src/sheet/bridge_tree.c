/* Which strips: the cheapest spanning tree over parts (Kruskal 1956, rooted at the frame); then a part at the end of
 * a branch is cut away where losing it shows less than its bridge. */
#include <math.h>
#include <stdlib.h>

#include "sheet/bridge_parts.h"

/* Losing a part of the picture is worse than a strip across it of equal error: taste. */
#define LOSS_FACTOR 2.0
/* Only parts up to this many squares of a bridge's width may be cut away: larger ones are the picture. */
#define LOSS_MOST_WIDTHS2 3.0

static uint32_t find(uint32_t *up, uint32_t i)
{
    while (up[i] != i) {
        up[i] = up[up[i]];
        i = up[i];
    }
    return i;
}

typedef struct ranked {
    double cost;
    size_t strip;
} ranked;

static int compare_ranked(const void *left, const void *right)
{
    const ranked *a = left, *b = right;
    if (a->cost != b->cost) return a->cost < b->cost ? -1 : 1;
    return a->strip < b->strip ? -1 : a->strip > b->strip;
}

static void kruskal(const bridge_strips *strips, const ranked *order, uint32_t *up, uint8_t *is_chosen)
{
    for (size_t i = 0; i < strips->n; i++) {
        const bridge_strip *s = &strips->at[order[i].strip];
        const uint32_t a = find(up, s->from), b = find(up, s->to);
        if (a == b || !(s->cost < HUGE_VAL)) continue;
        up[a > b ? a : b] = a > b ? b : a;
        is_chosen[order[i].strip] = 1;
    }
}

/* ---- parts not worth a bridge ------------------------------------------------------------------------- */

typedef struct part_loss {
    double loss;     /* summed cost of painting it over; HUGE_VAL: too large to be cut away */
    size_t n_strips; /* chosen ones that end here */
    size_t strip;    /* sum of their indices: the one strip when n_strips is 1 */
} part_loss;

static double measure_loss(const bridge_ground *g, uint32_t part)
{
    const bridge_part *const box = &g->parts[part];
    const sw_separation *const sep = g->job->separation;
    double loss = 0.0;
    if ((double)box->area_px > LOSS_MOST_WIDTHS2 * g->width_px * g->width_px) return HUGE_VAL;
    for (size_t y = box->y0; y < box->y1; y++)
        for (size_t x = box->x0; x < box->x1; x++) {
            if (g->part[y * g->mask.width_px + x] != part) continue;
            const size_t at = bridge_grid_index(g, x, y);
            loss += (double)(g->loss_of[sep->label[at]] * g->weight_of[sep->salience[at]] / BRIDGE_UNIT);
        }
    return loss;
}

static void count_strip(const bridge_strips *strips, size_t i, part_loss *loss, bool is_added)
{
    const uint32_t ends[2] = { strips->at[i].from, strips->at[i].to };
    for (size_t k = 0; k < 2; k++) {
        part_loss *const p = &loss[ends[k]];
        p->n_strips += is_added ? 1 : (size_t)-1;
        p->strip += is_added ? i : (size_t)0 - i;
    }
}

static void drop_leaves(const bridge_ground *g, const bridge_strips *strips, part_loss *loss, uint8_t *is_chosen,
                        uint8_t *is_dropped)
{
    bool is_changed = true;
    while (is_changed) {
        is_changed = false;
        for (uint32_t part = BRIDGE_ROOT + 1; part <= g->n_parts; part++) {
            part_loss *const p = &loss[part];
            if (p->n_strips != 1 || is_dropped[part] || !(p->loss * LOSS_FACTOR < strips->at[p->strip].cost)) continue;
            const size_t strip = p->strip;
            is_dropped[part] = 1;
            is_chosen[strip] = 0;
            count_strip(strips, strip, loss, false);
            is_changed = true;
        }
    }
}

sw_status bridge_tree_choose(const bridge_ground *g, const bridge_strips *strips, uint8_t *is_chosen,
                             uint8_t *is_dropped, sw_note *note)
{
    uint32_t *up = sw_alloc_raw(g->n_parts + 1, sizeof *up);
    ranked *order = sw_alloc_raw(strips->n + 1, sizeof *order);
    part_loss *loss = sw_alloc_array(g->n_parts + 1, sizeof *loss);
    sw_status st = SW_OK;
    if (up == NULL || order == NULL || loss == NULL) {
        st = sw_fail_memory(note, "the choice of bridges");
        goto cleanup;
    }
    for (uint32_t i = 0; i <= g->n_parts; i++) up[i] = i;
    for (size_t i = 0; i < strips->n; i++) order[i] = (ranked){ strips->at[i].cost, i };
    if (strips->n > 1) qsort(order, strips->n, sizeof *order, compare_ranked);
    kruskal(strips, order, up, is_chosen);
    for (uint32_t part = BRIDGE_ROOT + 1; part <= g->n_parts; part++) loss[part].loss = measure_loss(g, part);
    for (size_t i = 0; i < strips->n; i++)
        if (is_chosen[i]) count_strip(strips, i, loss, true);
    drop_leaves(g, strips, loss, is_chosen, is_dropped);
cleanup:
    sw_free(up);
    sw_free(order);
    sw_free(loss);
    return st;
}
