/* Two bridges that pass so close that no opening fits between them become one: what lies between would be filled, so that
 * they show as a clump wider than both. The one that costs less stays, or one midway stands for both. */
#include <math.h>

#include "sheet/bridge_order.h"

static double angle_of(const bridge_strip *s) { return atan2(s->b.y_px - s->a.y_px, s->b.x_px - s->a.x_px); }

/* Through the point midway, at the mean of both angles. */
static bridge_strip midway(const bridge_ground *g, const bridge_strip *a, const bridge_strip *b)
{
    const sw_pt_px p = bridge_middle(a), q = bridge_middle(b);
    const double one = angle_of(a), turn = remainder(angle_of(b) - one, 3.14159265358979323846);
    const double most_px = 2.0 * g->width_px + hypot(a->b.x_px - a->a.x_px, a->b.y_px - a->a.y_px);
    return bridge_strip_across(g, (sw_pt_px){ 0.5 * (p.x_px + q.x_px), 0.5 * (p.y_px + q.y_px) }, one + 0.5 * turn, most_px);
}

static void merge(bridge_order *o, uint32_t first, uint32_t second)
{
    const bridge_strip *const a = &o->strips->at[first], *const b = &o->strips->at[second];
    const bridge_strip between = midway(o->g, a, b);
    const bool is_second = b->cost < a->cost;
    const uint32_t stays = is_second ? second : first, goes = is_second ? first : second;
    if (bridge_joins_same(&between, a) && between.cost < o->strips->at[stays].cost) o->strips->at[stays] = between;
    o->is_moved[stays] = o->is_moved[goes] = BRIDGE_MOVED;
    o->stand_in[goes] = stays + 1;
}

static bool may_merge(const bridge_order *o, uint32_t a, uint32_t b, double least_px)
{
    return o->stand_in[a] == 0 && o->stand_in[b] == 0 && o->is_settled[a] != BRIDGE_SETTLED_FAST && bridge_joins_same(&o->strips->at[a], &o->strips->at[b]) &&
           bridge_strips_apart(&o->strips->at[a], &o->strips->at[b]) < least_px;
}

void bridge_merge(bridge_order *o)
{
    const bridge_ground *const g = o->g;
    const double least_px = g->width_px + sw_px_from_mm(&g->grid, g->job->min_opening_mm);
    for (uint32_t k = 1; k <= o->runs.n_components; k++) {
        size_t n;
        const uint32_t *const list = bridge_order_list(o, k, &n);
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j < i; j++)
                if (may_merge(o, list[i], list[j], least_px)) merge(o, list[i], list[j]);
    }
}
