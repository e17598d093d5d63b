/* One bridge as a straight strip of constant width: where it starts and ends, what it costs, and its pixels.
 * A strip is cast from a place inside the opening in two opposite directions until it meets material; the place and
 * the direction are then moved downhill in cost. The cost is a sum over the strip's pixels, so a strip at right
 * angles to the edges, being the shortest, wins by itself. */
#include <math.h>

#include "sheet/bridge_parts.h"

/* px along a ray. 0.5: no pixel that the strip's axis passes within a fifth of its centre is missed. */
#define RAY_STEP 0.5
/* Straight strips are tried up to this many widths long. */
#define REACH_WIDTHS 400.0

typedef struct ray {
    double length_px; /* to the first pixel of material */
    uint32_t part;
} ray;

static ray cast(const bridge_ground *g, sw_pt_px from, double dx, double dy, double most_px)
{
    for (double s = 0.0; s <= most_px; s += RAY_STEP) {
        const uint32_t part = bridge_part_at(g, from.x_px + s * dx, from.y_px + s * dy);
        if (part != 0) return (ray){ s, part };
    }
    return (ray){ most_px, 0 };
}

/* Where a strip's side runs out: the first pixel of the end's part, beyond the start. */
static double side_length(const bridge_ground *g, sw_pt_px mid, double dx, double dy, double from_px, double most_px,
                          uint32_t part)
{
    for (double s = from_px; s <= most_px; s += RAY_STEP)
        if (bridge_part_at(g, mid.x_px + s * dx, mid.y_px + s * dy) == part) return s;
    return most_px;
}

/* Geometry of a strip along its axis: middle, unit vector, half length, how far past the ends it may reach. */
typedef struct frame {
    sw_pt_px mid;
    double dx, dy, half_px, reach_px;
} frame;

static frame frame_of(const bridge_ground *g, const bridge_strip *s)
{
    const double dx = s->b.x_px - s->a.x_px, dy = s->b.y_px - s->a.y_px, length = sqrt(dx * dx + dy * dy);
    const bool is_point = length < 1e-9;
    return (frame){ .mid = { 0.5 * (s->a.x_px + s->b.x_px), 0.5 * (s->a.y_px + s->b.y_px) },
                    .dx = is_point ? 1.0 : dx / length, .dy = is_point ? 0.0 : dy / length,
                    .half_px = 0.5 * length, .reach_px = 0.5 * length + 0.6 * g->width_px };
}

/* Sum over the strip's pixels. Sides that find no material within reach make the strip hang in the air: they pay
 * double, so that a place where the strip meets the outline in its full width is preferred. */
static double strip_cost(const bridge_ground *g, const bridge_strip *s)
{
    const frame fr = frame_of(g, s);
    const double half_width = 0.5 * g->width_px;
    double sum = 0.0;
    for (double t = -half_width + 0.5; t <= half_width - 0.25; t += 1.0) {
        const sw_pt_px base = { fr.mid.x_px - t * fr.dy, fr.mid.y_px + t * fr.dx };
        for (int side = -1; side <= 1; side += 2) {
            const uint32_t end = side < 0 ? s->from : s->to;
            double factor = 1.0;
            for (double p = 0.5; p <= fr.reach_px; p += 1.0) {
                const double x = base.x_px + side * p * fr.dx, y = base.y_px + side * p * fr.dy;
                const uint32_t part = bridge_part_at(g, x, y);
                if (part == end) break;
                if (p > fr.half_px) factor = 3.0;
                if (part != 0) continue;
                const uint32_t cost = bridge_pixel_cost(g, (size_t)x, (size_t)y);
                if (cost == BRIDGE_WALL) return HUGE_VAL;
                sum += factor * cost;
            }
        }
    }
    return sum;
}

/* Cast a strip through a place; cost HUGE_VAL unless it joins the two parts. */
static bridge_strip strip_through(const bridge_ground *g, sw_pt_px at, double angle, uint32_t from, uint32_t to)
{
    const double dx = cos(angle), dy = sin(angle), most_px = REACH_WIDTHS * g->width_px;
    bridge_strip s = { .from = from, .to = to, .cost = HUGE_VAL };
    const ray ahead = cast(g, at, dx, dy, most_px);
    if (ahead.part != from && ahead.part != to) return s;
    const ray behind = cast(g, at, -dx, -dy, most_px);
    if (!((ahead.part == to && behind.part == from) || (ahead.part == from && behind.part == to))) return s;
    const sw_pt_px front = { at.x_px + ahead.length_px * dx, at.y_px + ahead.length_px * dy };
    const sw_pt_px rear = { at.x_px - behind.length_px * dx, at.y_px - behind.length_px * dy };
    s.a = ahead.part == to ? rear : front;
    s.b = ahead.part == to ? front : rear;
    s.cost = strip_cost(g, &s);
    return s;
}

/* Move the place across the strip and turn it, with shrinking steps, while the cost falls. */
static bridge_strip descend(const bridge_ground *g, bridge_strip s)
{
    double shift = 0.5 * g->width_px, turn = 0.35;
    while (shift > 0.4) {
        const frame fr = frame_of(g, &s);
        const double angle = atan2(fr.dy, fr.dx);
        bridge_strip best = s;
        static const double moves[][2] = { { 1, 0 }, { -1, 0 }, { 0, 1 }, { 0, -1 }, { 1, 1 }, { -1, -1 }, { 1, -1 }, { -1, 1 } };
        for (size_t i = 0; i < SW_ARRAY_LEN(moves); i++) {
            const double t = moves[i][0] * shift;
            const bridge_strip tried = strip_through(g, (sw_pt_px){ fr.mid.x_px - t * fr.dy, fr.mid.y_px + t * fr.dx },
                                                     angle + moves[i][1] * turn, s.from, s.to);
            if (tried.cost < best.cost) best = tried;
        }
        if (best.cost < s.cost) {
            s = best;
        } else {
            shift *= 0.5;
            turn *= 0.5;
        }
    }
    return s;
}

bridge_strip bridge_strip_fit(const bridge_ground *g, const bridge_field *f, const bridge_crossing *c)
{
    const sw_pt_px a = bridge_field_centre(f, bridge_field_back(f, c->u));
    const sw_pt_px b = bridge_field_centre(f, bridge_field_back(f, c->v));
    const sw_pt_px at[3] = { { 0.5 * (a.x_px + b.x_px), 0.5 * (a.y_px + b.y_px) },
                             bridge_field_centre(f, c->u), bridge_field_centre(f, c->v) };
    const double along = atan2(b.y_px - a.y_px, b.x_px - a.x_px);
    static const double turns[] = { 0.0, 0.4, -0.4, 0.8, -0.8, 1.2, -1.2, 1.57 };
    bridge_strip best = { .from = c->lo, .to = c->hi, .cost = HUGE_VAL };
    for (size_t i = 0; i < SW_ARRAY_LEN(at); i++) {
        for (size_t k = 0; k < SW_ARRAY_LEN(turns); k++) {
            const bridge_strip tried = strip_through(g, at[i], along + turns[k], c->lo, c->hi);
            if (tried.cost < best.cost) best = tried;
        }
    }
    if (best.cost < HUGE_VAL) return descend(g, best);
    best.is_path = true;
    best.u = c->u;
    best.v = c->v;
    best.a = a;
    best.b = b;
    /* the path's cost is a centre line's; 5 counts a cell's side */
    best.cost = (double)c->cost / 5.0 * (double)f->factor * g->width_px;
    return best;
}

/* ---- pixels ------------------------------------------------------------------------------------------- */

/* Pixels whose centres lie within half the width of a ray's line; a ray sets what it passes. */
static void stamp_straight(bridge_ground *g, const bridge_strip *s, sw_bridge *out)
{
    const frame fr = frame_of(g, s);
    const double half_width = 0.5 * g->width_px + 0.25;
    for (double t = -half_width - 0.5; t <= half_width + 0.5; t += 0.35) {
        const sw_pt_px base = { fr.mid.x_px - t * fr.dy, fr.mid.y_px + t * fr.dx };
        for (int side = -1; side <= 1; side += 2) {
            const double end = side_length(g, base, side * fr.dx, side * fr.dy, 0.0, fr.reach_px,
                                           side < 0 ? s->from : s->to);
            for (double p = 0.0; p <= end; p += 0.35) {
                const double x = base.x_px + side * p * fr.dx, y = base.y_px + side * p * fr.dy;
                if (bridge_part_at(g, x, y) != 0) continue;
                const double cx = floor(x) + 0.5 - fr.mid.x_px, cy = floor(y) + 0.5 - fr.mid.y_px;
                if (fabs(cy * fr.dx - cx * fr.dy) <= half_width) bridge_leave_pixel(g, (size_t)x, (size_t)y, out);
            }
        }
    }
}

static void stamp_disc(bridge_ground *g, sw_pt_px at, sw_bridge *out)
{
    const double r = 0.5 * g->width_px + 0.25;
    for (double y = floor(at.y_px - r); y <= at.y_px + r; y += 1.0)
        for (double x = floor(at.x_px - r); x <= at.x_px + r; x += 1.0) {
            const double dx = x + 0.5 - at.x_px, dy = y + 0.5 - at.y_px;
            if (dx * dx + dy * dy > r * r || bridge_part_at(g, x, y) != 0) continue;
            const size_t ix = (size_t)x, iy = (size_t)y;
            if (bridge_pixel_cost(g, ix, iy) != BRIDGE_WALL) bridge_leave_pixel(g, ix, iy, out);
        }
}

static void stamp_segment(bridge_ground *g, sw_pt_px p, sw_pt_px q, sw_bridge *out)
{
    for (double s = 0.0; s <= 1.0; s += 0.125)
        stamp_disc(g, (sw_pt_px){ p.x_px + s * (q.x_px - p.x_px), p.y_px + s * (q.y_px - p.y_px) }, out);
}

static void stamp_path(bridge_ground *g, const bridge_field *f, size_t cell, sw_bridge *out)
{
    for (;;) {
        const size_t next = bridge_field_step(f, cell);
        stamp_segment(g, bridge_field_centre(f, cell), bridge_field_centre(f, next), out);
        if (next == cell) return;
        cell = next;
    }
}

void bridge_strip_stamp(bridge_ground *g, const bridge_field *f, const bridge_strip *s, sw_bridge *out)
{
    if (!s->is_path) {
        stamp_straight(g, s, out);
        return;
    }
    stamp_path(g, f, s->u, out);
    stamp_path(g, f, s->v, out);
    stamp_segment(g, bridge_field_centre(f, s->u), bridge_field_centre(f, s->v), out);
}
