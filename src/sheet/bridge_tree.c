/* Which strips: the cheapest spanning tree over parts (Kruskal 1956), then, from its leaves to the frame, each branch
 * is cut away whose loss shows less than the bridges that would hold it. */
#include <math.h>
#include <stdlib.h>

#include "sheet/bridge_parts.h"

/* Only parts up to this many squares of a bridge's width may be cut away: larger ones are the picture. */
#define LOSS_MOST_WIDTHS2 40.0

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

/* A part in the tree that hangs on the frame. */
typedef struct branch {
    uint32_t first;  /* of its links, index + 1 */
    double loss;     /* of the whole branch cut away */
    double kept;     /* what is seen if it stays and is pruned as is best */
} branch;

typedef struct hang {
    uint32_t above;  /* part it hangs on; 0: none */
    size_t strip;    /* by which */
} hang;

typedef struct link {
    size_t strip;
    uint32_t next;   /* index + 1 */
} link;

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
            loss += (double)(g->loss_of[sep->label[at]] * g->loss_weight_of[sep->salience[at]] / BRIDGE_UNIT);
        }
    return loss;
}

static void link_strips(const bridge_strips *strips, const uint8_t *is_chosen, branch *branches, link *links)
{
    uint32_t n = 0;
    for (size_t i = 0; i < strips->n; i++) {
        if (!is_chosen[i]) continue;
        const uint32_t ends[2] = { strips->at[i].from, strips->at[i].to };
        for (size_t k = 0; k < 2; k++) {
            links[n] = (link){ i, branches[ends[k]].first };
            branches[ends[k]].first = ++n;
        }
    }
}

/* Parts in the order in which they are met from the frame. */
static size_t walk_tree(const bridge_strips *strips, const branch *branches, const link *links, hang *hangs,
                        uint32_t *order)
{
    size_t n = 0;
    order[n++] = BRIDGE_ROOT;
    for (size_t i = 0; i < n; i++) {
        const uint32_t part = order[i];
        for (uint32_t k = branches[part].first; k != 0; k = links[k - 1].next) {
            const bridge_strip *const s = &strips->at[links[k - 1].strip];
            const uint32_t other = s->from == part ? s->to : s->from;
            if (other == hangs[part].above) continue;
            hangs[other] = (hang){ part, links[k - 1].strip };
            order[n++] = other;
        }
    }
    return n;
}

/* From the leaves inward: what each branch costs at best; then from the frame outward: what is cut away. */
static void prune(const bridge_ground *g, const bridge_strips *strips, branch *branches, const hang *hangs,
                  const uint32_t *order, size_t n, uint8_t *is_chosen, uint8_t *is_dropped)
{
    for (size_t i = n; i-- > 1;) {
        const hang *const h = &hangs[order[i]];
        branch *const b = &branches[order[i]], *const above = &branches[h->above];
        b->loss += measure_loss(g, order[i]);
        b->kept += strips->at[h->strip].seen;
        above->loss += b->loss;
        above->kept += sw_min(b->kept, b->loss);
    }
    for (size_t i = 1; i < n; i++) {
        const branch *const b = &branches[order[i]];
        if (!is_dropped[hangs[order[i]].above] && !(b->loss < b->kept)) continue;
        is_dropped[order[i]] = 1;
        is_chosen[hangs[order[i]].strip] = 0;
    }
}

sw_status bridge_tree_choose(const bridge_ground *g, const bridge_strips *strips, uint8_t *is_chosen, uint8_t *is_dropped,
                             sw_note *note)
{
    const size_t n_parts = g->n_parts + 1;
    uint32_t *up = sw_alloc_raw(n_parts, sizeof *up);
    ranked *order = sw_alloc_raw(strips->n + 1, sizeof *order);
    branch *branches = sw_alloc_array(n_parts, sizeof *branches);
    hang *hangs = sw_alloc_array(n_parts, sizeof *hangs);
    link *links = sw_alloc_raw(2 * n_parts, sizeof *links);
    sw_status st = SW_OK;
    if (up == NULL || order == NULL || branches == NULL || hangs == NULL || links == NULL) {
        st = sw_fail_memory(note, "the choice of bridges");
        goto cleanup;
    }
    for (uint32_t i = 0; i < n_parts; i++) up[i] = i;
    for (size_t i = 0; i < strips->n; i++) order[i] = (ranked){ strips->at[i].cost, i };
    if (strips->n > 1) qsort(order, strips->n, sizeof *order, compare_ranked);
    kruskal(strips, order, up, is_chosen);
    link_strips(strips, is_chosen, branches, links);
    const size_t n_hung = walk_tree(strips, branches, links, hangs, up); /* `up` has done its work */
    prune(g, strips, branches, hangs, up, n_hung, is_chosen, is_dropped);
cleanup:
    sw_free(up);
    sw_free(order);
    sw_free(branches);
    sw_free(hangs);
    sw_free(links);
    return st;
}
