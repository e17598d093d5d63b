/* More strips to choose from: every island looks all along its own rim for the cheapest strip to each part around it.
 * The field's waves stop early and judge by averages; this sees the strips themselves. */
#include <math.h>

#include "sheet/bridge_parts.h"

#define MOST_SAMPLES 160u  /* places on a rim */
#define MOST_BOX_PX 4000000u /* larger islands are the picture's main shapes: the waves have seen enough of them */
#define TURN_RAD 0.3       /* to either side of straight out */
#define MANY_DESCENTS 1u   /* with more parts, so many strips of each are moved to their best place */

typedef struct improve_job {
    const bridge_ground *g;
    bridge_strip *best; /* BRIDGE_AROUND of each part */
} improve_job;

static bool is_rim(const bridge_ground *g, uint32_t part, size_t i)
{
    const size_t width = g->mask.width_px;
    return g->part[i] == part &&
           (g->part[i - 1] == 0 || g->part[i + 1] == 0 || g->part[i - width] == 0 || g->part[i + width] == 0);
}

/* Direction out of the material at a rim pixel: where the openings near it lie. False if nowhere in particular. */
static bool outward(const bridge_ground *g, size_t i, double *angle)
{
    const size_t width = g->mask.width_px, x = i % width, y = i / width;
    int dx = 0, dy = 0;
    for (int v = -3; v <= 3; v++)
        for (int u = -3; u <= 3; u++)
            if (bridge_part_at(g, (double)x + u + 0.5, (double)y + v + 0.5) == 0) {
                dx += u;
                dy += v;
            }
    *angle = atan2((double)dy, (double)dx);
    return dx != 0 || dy != 0;
}

static void try_place(const improve_job *job, uint32_t part, size_t i, bridge_strip *best)
{
    const bridge_ground *const g = job->g;
    double angle;
    if (!outward(g, i, &angle)) return;
    const sw_pt_px rim = { (double)(i % g->mask.width_px) + 0.5, (double)(i / g->mask.width_px) + 0.5 };
    const int turns = g->n_parts <= BRIDGE_FEW_PARTS ? 3 : 0;
    for (int turn = -turns; turn <= turns; turn++) bridge_strip_cheaper(g, rim, angle + TURN_RAD * turn, part, best);
}

static size_t count_rim(const bridge_ground *g, uint32_t part)
{
    const bridge_part *const box = &g->parts[part];
    size_t n = 0;
    for (size_t y = box->y0; y < box->y1; y++)
        for (size_t i = y * g->mask.width_px + box->x0; i < y * g->mask.width_px + box->x1; i++)
            n += is_rim(g, part, i);
    return n;
}

static void improve_part(const improve_job *job, uint32_t part)
{
    const bridge_ground *const g = job->g;
    const bridge_part *const box = &g->parts[part];
    bridge_strip *const best = &job->best[BRIDGE_AROUND * part];
    for (size_t k = 0; k < BRIDGE_AROUND; k++) best[k] = (bridge_strip){ .cost = HUGE_VAL };
    if (part <= BRIDGE_ROOT || (box->x1 - box->x0) * (box->y1 - box->y0) > MOST_BOX_PX) return;
    const double spacing_px = (g->n_parts <= BRIDGE_FEW_PARTS ? 0.15 : 0.5) * g->width_px;
    const size_t every = sw_max_size(count_rim(g, part) / MOST_SAMPLES + 1, (size_t)spacing_px);
    size_t n = 0;
    for (size_t y = box->y0; y < box->y1; y++)
        for (size_t i = y * g->mask.width_px + box->x0; i < y * g->mask.width_px + box->x1; i++)
            if (is_rim(g, part, i) && n++ % every == 0) try_place(job, part, i, best);
    const size_t most = g->n_parts <= BRIDGE_FEW_PARTS ? BRIDGE_AROUND : MANY_DESCENTS;
    for (size_t done = 0; done < most; done++) { /* the cheapest first; one that was moved has its descent behind it */
        size_t k = done;
        for (size_t j = done; j < BRIDGE_AROUND; j++)
            if (best[j].cost < best[k].cost) k = j;
        const bridge_strip strip = best[k];
        best[k] = best[done];
        best[done] = strip.cost < HUGE_VAL ? bridge_strip_descend(g, strip, HUGE_VAL, HUGE_VAL) : strip;
    }
}

static void improve_some(size_t begin, size_t end, void *ctx)
{
    for (size_t part = begin; part < end; part++) improve_part(ctx, (uint32_t)part);
}

sw_status bridge_improve(const bridge_ground *g, bridge_strips *strips, sw_note *note)
{
    const size_t n = BRIDGE_AROUND * (g->n_parts + 1);
    bridge_strip *const best = sw_alloc_raw(n, sizeof *best);
    void *at = strips->at;
    const bool is_grown = best != NULL && sw_grow(&at, &strips->cap, strips->n + n, sizeof *strips->at);
    strips->at = at;
    if (is_grown) {
        sw_parallel_bands(g->n_parts + 1, 4, improve_some, &(improve_job){ g, best });
        for (size_t i = 0; i < n; i++)
            if (best[i].cost < HUGE_VAL) strips->at[strips->n++] = best[i];
    }
    sw_free(best);
    return is_grown ? SW_OK : sw_fail_memory(note, "bridges");
}
