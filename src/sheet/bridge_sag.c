/* How far material sinks, by squares: what a bridge holds is near it, and one that moved holds something beside. */
#include <math.h>

#include "sheet/bridge_sag.h"

#define MOST_SQUARES 256.0 /* a side */
/* Sinking more than this share of what was is worse: less is nothing anyone would measure. */
#define WORSE_RATIO 1.02

void bridge_sag_free(bridge_sag *sag)
{
    sw_free(sag->sink_mm);
    *sag = (bridge_sag){ 0 };
}

static size_t square_of(double mm, double corner_mm, double square_mm, size_t n)
{
    return (size_t)sw_clamp((mm - corner_mm) / square_mm, 0.0, (double)n - 1.0);
}

/* As large as what a bridge holds. */
static void lay_squares(const bridge_ground *g, const hold_net *net, bridge_sag *s)
{
    const double px_mm = sw_mm_from_px(&g->grid, 1.0);
    const double wide_mm = px_mm * (double)g->mask.width_px, high_mm = px_mm * (double)g->mask.height_px;
    s->corner = bridge_to_mm(g, (sw_pt_px){ 0.0, 0.0 });
    s->square_mm = sw_max(droop_tongue_length_mm(net->material, g->job->droop_mm), sw_max(wide_mm, high_mm) / MOST_SQUARES);
    s->width = (size_t)(wide_mm / s->square_mm) + 1;
    s->height = (size_t)(high_mm / s->square_mm) + 1;
}

static void note_sinks(const hold_net *net, bridge_sag *s)
{
    for (uint32_t i = 1; i < net->n_nodes; i++) {
        sw_pt_mm at;
        if (net->nodes[i].before == HOLD_NONE) continue;
        const float sink = (float)hold_node_sink_mm(net, i, &at);
        float *const square = &s->sink_mm[square_of(at.y_mm, s->corner.y_mm, s->square_mm, s->height) * s->width +
                                          square_of(at.x_mm, s->corner.x_mm, s->square_mm, s->width)];
        if (sink > *square) *square = sink;
    }
}

sw_status bridge_sag_make(const bridge_ground *g, hold_net *net, bridge_sag *out, sw_note *note)
{
    bridge_sag s = { 0 };
    lay_squares(g, net, &s);
    s.sink_mm = sw_alloc_array(s.width * s.height, sizeof *s.sink_mm);
    if (s.sink_mm == NULL) return sw_fail_memory(note, "what hangs");
    note_sinks(net, &s);
    s.worst = hold_worst(net, g->job->droop_mm);
    *out = s;
    return SW_OK;
}

/* The lowest of a square and those around it. */
static double around(const bridge_sag *s, size_t x, size_t y)
{
    double most = 0.0;
    for (size_t v = y > 0 ? y - 1 : 0; v <= y + 1 && v < s->height; v++)
        for (size_t u = x > 0 ? x - 1 : 0; u <= x + 1 && u < s->width; u++) most = sw_max(most, s->sink_mm[v * s->width + u]);
    return most;
}

bool bridge_sag_is_worse(const bridge_sag *now, const bridge_sag *before, sw_pt_mm at, double limit_mm)
{
    const size_t x = square_of(at.x_mm, now->corner.x_mm, now->square_mm, now->width);
    const size_t y = square_of(at.y_mm, now->corner.y_mm, now->square_mm, now->height);
    for (size_t v = y > 0 ? y - 1 : 0; v <= y + 1 && v < now->height; v++)
        for (size_t u = x > 0 ? x - 1 : 0; u <= x + 1 && u < now->width; u++)
            if (now->sink_mm[v * now->width + u] > sw_max(limit_mm, WORSE_RATIO * around(before, u, v))) return true;
    return false;
}
