/* Bridges that read as meant. Round a ring every place costs nearly the same, and the cheapest by a hair looks like an
 * accident: a bridge moves to the top, bottom, left or right of its island where that costs little more. Rings in rings
 * then carry theirs in line, and letters where a sign painter puts them. */
#include <math.h>

#include "sheet/bridge_parts.h"

uint32_t bridge_inner_part(const bridge_ground *g, const bridge_strip *s)
{
    if (s->from == BRIDGE_ROOT) return s->to;
    if (s->to == BRIDGE_ROOT) return s->from;
    const bridge_part *const a = &g->parts[s->from], *const b = &g->parts[s->to];
    return (a->x1 - a->x0) * (a->y1 - a->y0) < (b->x1 - b->x0) * (b->y1 - b->y0) ? s->from : s->to;
}

/* The outermost pixel of the part on a ray from the middle of its box along an axis. */
static bool rim_on_axis(const bridge_ground *g, uint32_t part, int dx, int dy, sw_pt_px *out)
{
    const bridge_part *const box = &g->parts[part];
    const double cx = 0.5 * (double)(box->x0 + box->x1), cy = 0.5 * (double)(box->y0 + box->y1);
    const double reach = 0.5 * (double)(dx != 0 ? box->x1 - box->x0 : box->y1 - box->y0);
    for (double r = reach; r > 0.0; r -= 1.0) {
        *out = (sw_pt_px){ cx + r * dx, cy + r * dy };
        if (bridge_part_at(g, out->x_px, out->y_px) == part) return true;
    }
    return false;
}

static bridge_strip better_placed(const bridge_ground *g, const bridge_strip *s)
{
    static const int axis[4][2] = { { 0, -1 }, { 0, 1 }, { -1, 0 }, { 1, 0 } };
    const uint32_t part = bridge_inner_part(g, s), other = s->from == part ? s->to : s->from;
    bridge_strip best = *s;
    double most = BRIDGE_DEARER * s->cost;
    for (size_t i = 0; i < SW_ARRAY_LEN(axis); i++) {
        sw_pt_px rim;
        if (!rim_on_axis(g, part, axis[i][0], axis[i][1], &rim)) continue;
        const bridge_strip tried =
            bridge_strip_upright(g, rim, atan2((double)axis[i][1], (double)axis[i][0]), part, other);
        if (!(tried.cost < most) || tried.seen > BRIDGE_DEARER * s->seen + g->width_px * BRIDGE_LENGTH) continue;
        best = tried;
        most = 0.97 * tried.cost; /* the top, unless another is cheaper by more than noise */
    }
    return best;
}

typedef struct rhythm_job {
    const bridge_ground *g;
    bridge_strips *strips;
} rhythm_job;

static void place_some(size_t begin, size_t end, void *ctx)
{
    const rhythm_job *const job = ctx;
    for (size_t i = begin; i < end; i++)
        if (!job->strips->at[i].is_path && !job->strips->at[i].is_line_end) job->strips->at[i] = better_placed(job->g, &job->strips->at[i]);
}

void bridge_rhythm(const bridge_ground *g, bridge_strips *strips)
{
    sw_parallel_bands(strips->n, 8, place_some, &(rhythm_job){ g, strips });
}
