/* A line followed along its middle, by the distances to both its edges. */
#include <math.h>

#include "sheet/bridge_track.h"

#define WIDER_RATIO 1.4       /* a line that widens more than that in a step ends there */

bridge_tracker bridge_track_from(const bridge_strip *s, double way)
{
    const double length = hypot(s->b.x_px - s->a.x_px, s->b.y_px - s->a.y_px);
    return (bridge_tracker){ { 0.5 * (s->a.x_px + s->b.x_px), 0.5 * (s->a.y_px + s->b.y_px) },
                             -way * (s->b.y_px - s->a.y_px) / length, way * (s->b.x_px - s->a.x_px) / length, length };
}

bool bridge_track_edges(const bridge_ground *g, sw_pt_px at, const bridge_tracker *k, double turn, double *left, double *right)
{
    const double c = cos(turn), s = sin(turn), nx = k->dy * c - k->dx * s, ny = -k->dx * c - k->dy * s;
    uint32_t part;
    if (bridge_part_at(g, at.x_px, at.y_px) != 0) return false;
    *left = bridge_ray(g, at, nx, ny, 3.0 * k->width_px, &part);
    *right = bridge_ray(g, at, -nx, -ny, 3.0 * k->width_px, &part);
    return true;
}

bool bridge_track_step(const bridge_ground *g, bridge_tracker *k)
{
    static const double turns[3] = { 0.0, 0.2, -0.2 };
    const sw_pt_px next = { k->at.x_px + BRIDGE_TRACK_PX * k->dx, k->at.y_px + BRIDGE_TRACK_PX * k->dy };
    double least = HUGE_VAL, turn = 0.0, off = 0.0, left, right;
    for (size_t i = 0; i < SW_ARRAY_LEN(turns); i++) {
        if (!bridge_track_edges(g, next, k, turns[i], &left, &right)) return false;
        if (!(left + right < least - 0.6)) continue;
        least = left + right;
        turn = turns[i];
        off = 0.5 * (left - right);
    }
    if (least > WIDER_RATIO * k->width_px + 1.0) return false;
    const double c = cos(turn), s = sin(turn), nx = k->dy * c - k->dx * s, ny = -k->dx * c - k->dy * s;
    const sw_pt_px at = { next.x_px + off * nx, next.y_px + off * ny };
    /* half the old way, a quarter square to the edges, a quarter from where it was */
    const double dx = 2.0 * k->dx - ny + (at.x_px - k->at.x_px) / BRIDGE_TRACK_PX, dy = 2.0 * k->dy + nx + (at.y_px - k->at.y_px) / BRIDGE_TRACK_PX;
    const double length = hypot(dx, dy);
    k->at = at;
    k->dx = dx / length;
    k->dy = dy / length;
    k->width_px += 0.15 * (least - k->width_px);
    return true;
}
