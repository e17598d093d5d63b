/* One bridge as a straight strip of constant width: where it starts and ends, what it costs, and its pixels.
 * A strip is cast from a place inside the opening in two opposite directions until it meets material; the place and
 * the direction are then moved downhill in cost. The cost is a sum over the strip's pixels, so a strip at right
 * angles to the edges, being the shortest, wins by itself. */
#include <math.h>

#include "sheet/bridge_plan.h"

/* px along a ray: short enough to stop at thin parts. */
#define RAY_STEP 0.5
/* Straight strips are tried up to this many times as long as the path they replace, and some widths. */
#define REACH_RATIO 1.5
#define REACH_WIDTHS 3.0

/* Bridges that only help to hold are at most this long. */
#define FURTHER_WIDTHS 20.0
/* Hidden ones are made this many times as long as wide at most. */
#define STOUT_RATIO 10.0
#define MOST_BESIDE 20u   /* strips beside a hidden one */
#define BESIDE_WIDTHS 0.8
/* A bent strip must cost and show less than this part of the straight one, and is at most this many widths long: it is not
 * made stout. Taste: at 0.85 one photograph of four showed more than with straight ones; at 40 widths another half as much
 * again; at 80 a portrait's teeth hung on a stick across the cheek, at 240 on a way over lips, nose and neck. */
#define BENT_RATIO 0.7
#define BENT_MOST_WIDTHS 240.0

typedef struct ray {
    double length_px; /* to the first pixel of material */
    uint32_t part;
} ray;

static ray cast(const bridge_ground *g, sw_pt_px from, double dx, double dy, double most_px)
{
    const sw_pt_px per = bridge_steps_a_px(RAY_STEP * dx, RAY_STEP * dy);
    for (double s = 0.0; s <= most_px;) {
        const sw_pt_px at = { from.x_px + s * dx, from.y_px + s * dy };
        if (!bridge_is_inside(g, at)) return (ray){ s, BRIDGE_ROOT };
        const uint32_t n = bridge_steps_through_square(g, at, per);
        const uint32_t part = n == 1 ? bridge_part_of(g, bridge_index(g, at)) : 0;
        if (part != 0) return (ray){ s, part };
        s += RAY_STEP * n;
    }
    return (ray){ most_px, 0 };
}

/* Cast a strip through a place, s->from to s->to; false unless it joins the two. */
static bool cast_both(const bridge_ground *g, sw_pt_px at, double angle, double most_px, bridge_strip *s)
{
    const double dx = cos(angle), dy = sin(angle);
    const ray ahead = cast(g, at, dx, dy, most_px);
    if (ahead.part != s->from && ahead.part != s->to) return false;
    const ray behind = cast(g, at, -dx, -dy, most_px);
    if (!((ahead.part == s->to && behind.part == s->from) || (ahead.part == s->from && behind.part == s->to))) return false;
    const sw_pt_px front = { at.x_px + ahead.length_px * dx, at.y_px + ahead.length_px * dy };
    const sw_pt_px rear = { at.x_px - behind.length_px * dx, at.y_px - behind.length_px * dy };
    s->a = ahead.part == s->to ? rear : front;
    s->b = ahead.part == s->to ? front : rear;
    return true;
}

/* The same with its cost; HUGE_VAL unless it joins the two parts for at most limit. */
static bridge_strip through(const bridge_ground *g, bridge_patch *patch, sw_pt_px at, double angle, uint32_t from,
                            uint32_t to, double most_px, double limit)
{
    bridge_strip s = { .from = from, .to = to, .width_px = g->width_px, .cost = HUGE_VAL };
    if (cast_both(g, at, angle, most_px, &s)) bridge_strip_measure_in(g, patch, &s, limit);
    return s;
}

bool bridge_strip_cast(const bridge_ground *g, sw_pt_px at, double angle, double most_px, bridge_strip *out)
{
    *out = (bridge_strip){ .from = BRIDGE_ROOT, .to = BRIDGE_ROOT, .width_px = g->width_px, .cost = HUGE_VAL };
    return cast_both(g, at, angle, most_px, out);
}

bridge_strip bridge_strip_through(const bridge_ground *g, sw_pt_px at, double angle, uint32_t from, uint32_t to,
                                  double most_px)
{
    return through(g, NULL, at, angle, from, to, most_px, HUGE_VAL);
}

bridge_strip bridge_strip_between(const bridge_ground *g, sw_pt_px p, sw_pt_px q, uint32_t from, uint32_t to)
{
    const double dx = q.x_px - p.x_px, dy = q.y_px - p.y_px, length = sqrt(dx * dx + dy * dy);
    bridge_strip s = { .from = from, .to = to, .a = p, .b = q, .width_px = g->width_px, .cost = HUGE_VAL };
    const double step = length > 0.0 ? 0.25 / length : 1.0;
    for (double t = 0.0; t <= 1.0; t += step) {
        const sw_pt_px at = { p.x_px + t * dx, p.y_px + t * dy };
        const uint32_t part = bridge_part_at(g, at.x_px, at.y_px);
        if (part == from) s.a = at;
        if (part == to) {
            s.b = at;
            break;
        }
        if (part != from && part != 0) return s;
    }
    bridge_strip_measure_all(g, &s);
    return s;
}

double bridge_ray(const bridge_ground *g, sw_pt_px from, double dx, double dy, double most_px, uint32_t *part)
{
    const ray met = cast(g, from, dx, dy, most_px);
    *part = met.part;
    return met.length_px;
}

bridge_strip bridge_strip_across(const bridge_ground *g, sw_pt_px at, double angle, double most_px)
{
    const double dx = cos(angle), dy = sin(angle);
    const ray ahead = cast(g, at, dx, dy, most_px), behind = cast(g, at, -dx, -dy, most_px);
    bridge_strip s = { .from = behind.part, .to = ahead.part, .width_px = g->width_px, .cost = HUGE_VAL };
    s.a = (sw_pt_px){ at.x_px - behind.length_px * dx, at.y_px - behind.length_px * dy };
    s.b = (sw_pt_px){ at.x_px + ahead.length_px * dx, at.y_px + ahead.length_px * dy };
    if (behind.part != 0 && ahead.part != 0 && bridge_part_at(g, at.x_px, at.y_px) == 0)
        bridge_strip_measure_all(g, &s);
    return s;
}

static bool is_near(sw_pt_px a, sw_pt_px b, double px)
{
    const double dx = a.x_px - b.x_px, dy = a.y_px - b.y_px;
    return dx * dx + dy * dy <= px * px;
}

/* Move the strip sideways or turn it, where neither helps do both, and else turn it about one of its ends, with shrinking
 * steps, while the cost falls and its ends stay near where they were. */
static bridge_strip descend(const bridge_ground *g, bridge_patch *patch, bridge_strip s, double most_px, double a_px,
                            double b_px)
{
    const bridge_strip start = s;
    static const double moves[][2] = { { 1, 0 }, { -1, 0 }, { 0, 1 }, { 0, -1 }, { 1, 1 }, { -1, -1 }, { 1, -1 }, { -1, 1 } };
    double shift = 0.5 * g->width_px, turn = 0.35;
    while (shift > 0.4) {
        const frame fr = frame_of(&s);
        const double angle = atan2(fr.dy, fr.dx), pivot = shift / sw_max(fr.half_px, shift);
        bridge_strip best = s;
        for (size_t i = 0; i < SW_ARRAY_LEN(moves) + 4 && (i % 4 != 0 || best.cost >= s.cost); i++) {
            const bool is_pivot = i >= SW_ARRAY_LEN(moves);
            const double *const move = moves[is_pivot ? i - SW_ARRAY_LEN(moves) + 4 : i];
            const double t = move[0] * shift * (is_pivot ? 0.5 : 1.0);
            const bridge_strip tried =
                through(g, patch, (sw_pt_px){ fr.mid.x_px - t * fr.dy, fr.mid.y_px + t * fr.dx },
                        angle + move[1] * (is_pivot ? 0.5 * pivot : turn), s.from, s.to, most_px, best.cost);
            if (tried.cost < best.cost && is_near(tried.a, start.a, a_px) && is_near(tried.b, start.b, b_px)) best = tried;
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

/* The path that the waves found, in straight pieces; cost HUGE_VAL if it costs most or more, is long, or winds. */
static bridge_strip bent_strip(const bridge_ground *g, const bridge_field *f, const bridge_crossing *c, double most)
{
    bridge_strip s = { .from = c->lo, .to = c->hi, .width_px = g->width_px, .is_path = true, .is_bent = true, .u = c->u, .v = c->v,
                       .cost = HUGE_VAL };
    bridge_path path;
    /* by cells first: 5 counts a cell's side */
    if (!((double)c->cost / 5.0 * (double)f->factor * g->width_px < most) || !bridge_path_make(g, f, &s, &path)) return s;
    const double length = bridge_path_length(&path);
    if (length > BENT_MOST_WIDTHS * g->width_px) return s;
    s.a = path.at[0];
    s.b = path.at[path.n - 1];
    const double slender = bridge_strip_slender_cost(g, length);
    if (!(slender < most)) return s;
    bridge_path_measure(g, &path, most - slender + 1.0, &s); /* 1: the last digits of both sums */
    s.cost += slender;
    return s;
}

bridge_strip bridge_strip_fit(const bridge_ground *g, const bridge_field *f, const bridge_crossing *c, double known)
{
    const sw_pt_px a = bridge_field_centre(f, bridge_field_back(f, c->u));
    const sw_pt_px b = bridge_field_centre(f, bridge_field_back(f, c->v));
    const sw_pt_px at[3] = { { 0.5 * (a.x_px + b.x_px), 0.5 * (a.y_px + b.y_px) },
                             bridge_field_centre(f, c->u), bridge_field_centre(f, c->v) };
    const double along = atan2(b.y_px - a.y_px, b.x_px - a.x_px);
    const double most_px = REACH_WIDTHS * g->width_px + REACH_RATIO * hypot(b.x_px - a.x_px, b.y_px - a.y_px);
    static const double turns[] = { 0.0, 0.4, -0.4, 0.8, -0.8, 1.2, -1.2, 1.57 };
    bridge_strip best = { .from = c->lo, .to = c->hi, .width_px = g->width_px, .cost = HUGE_VAL };
    bridge_patch patch;
    bridge_patch_around(g, at[0], &patch);
    for (size_t i = 0; i < SW_ARRAY_LEN(at) && best.cost == HUGE_VAL; i++)
        for (size_t k = 0; k < SW_ARRAY_LEN(turns); k++) {
            const bridge_strip tried = through(g, &patch, at[i], along + turns[k], c->lo, c->hi, most_px, best.cost);
            if (tried.cost < best.cost) best = tried;
        }
    if (best.cost < HUGE_VAL && best.cost > known) {
        best.cost = HUGE_VAL;
        return best;
    }
    if (best.cost < HUGE_VAL) best = descend(g, &patch, best, most_px, HUGE_VAL, HUGE_VAL);
    if (best.cost < HUGE_VAL) bridge_strip_measure_all(g, &best);
    if (!(best.cost < HUGE_VAL)) best = bridge_strip_between(g, a, b, c->lo, c->hi);
    const bridge_strip bent = bent_strip(g, f, c, BENT_RATIO * best.cost);
    if (bent.cost < BENT_RATIO * best.cost && (best.cost == HUGE_VAL || bent.seen < BENT_RATIO * best.seen)) return bent;
    if (best.cost < HUGE_VAL) return best;
    best.is_path = true;
    best.u = c->u;
    best.v = c->v;
    best.a = a;
    best.b = b;
    /* the path's cost is a centre line's; 5 counts a cell's side */
    best.cost = (double)c->cost / 5.0 * (double)f->factor * g->width_px;
    best.seen = 0.5 * best.cost; /* nobody has counted */
    return best;
}

bridge_strip bridge_strip_descend(const bridge_ground *g, bridge_strip s, double a_px, double b_px)
{
    const frame fr = frame_of(&s);
    bridge_patch patch;
    bridge_patch_around(g, fr.mid, &patch);
    s = descend(g, &patch, s, 2.0 * fr.half_px + REACH_WIDTHS * g->width_px, a_px, b_px);
    bridge_strip_measure_all(g, &s);
    return s;
}

/* From a place on a part's rim outward: the first pixel of opening. */
static sw_pt_px leave_rim(const bridge_ground *g, sw_pt_px rim, double dx, double dy)
{
    double t = -1.0;
    while (t < g->width_px && bridge_part_at(g, rim.x_px + t * dx, rim.y_px + t * dy) != 0) t += 0.5;
    return (sw_pt_px){ rim.x_px + t * dx, rim.y_px + t * dy };
}

/* Cost of a strip judged by its axis alone. */
static double axis_cost(const bridge_ground *g, sw_pt_px from, double dx, double dy, double length_px)
{
    double sum = 0.0;
    for (double s = 0.5; s < length_px; s += 2.0) {
        const double x = from.x_px + s * dx, y = from.y_px + s * dy;
        if (bridge_part_at(g, x, y) != 0) continue;
        const uint32_t cost = bridge_pixel_cost(g, (size_t)x, (size_t)y);
        if (cost == BRIDGE_WALL) return HUGE_VAL;
        sum += cost;
    }
    return 2.0 * sum * g->width_px;
}

void bridge_strip_cheaper(const bridge_ground *g, sw_pt_px rim, double angle, uint32_t part, bridge_strip *best)
{
    const double dx = cos(angle), dy = sin(angle);
    const sw_pt_px start = leave_rim(g, rim, dx, dy);
    const ray met = cast(g, start, dx, dy, FURTHER_WIDTHS * g->width_px);
    if (met.part == 0 || met.part == part) return;
    size_t slot = 0, dearest = 0; /* the one of this part, else the dearest, to be replaced */
    for (; slot < BRIDGE_AROUND && best[slot].to != met.part; slot++)
        if (best[slot].cost > best[dearest].cost) dearest = slot;
    if (slot == BRIDGE_AROUND) slot = dearest;
    if (axis_cost(g, start, dx, dy, met.length_px) > 1.5 * best[slot].cost) return;
    const bridge_strip tried =
        through(g, NULL, start, angle, part, met.part, met.length_px + 2.0 * g->width_px, best[slot].cost);
    if (tried.cost < best[slot].cost) best[slot] = tried;
}

bridge_strip bridge_strip_upright(const bridge_ground *g, sw_pt_px rim, double angle, uint32_t part, uint32_t other)
{
    bridge_strip s = bridge_strip_through(g, leave_rim(g, rim, cos(angle), sin(angle)), angle, part, other,
                                          FURTHER_WIDTHS * g->width_px);
    if (s.cost < HUGE_VAL) bridge_strip_measure_all(g, &s);
    return s;
}

/* ---- pixels ------------------------------------------------------------------------------------------- */

static bool is_wall(const bridge_ground *g, size_t x, size_t y)
{
    return g->job->marks != NULL && bridge_pixel_cost(g, x, y) == BRIDGE_WALL;
}

static void stamp_straight(bridge_ground *g, const bridge_strip *s, sw_bridge *out)
{
    const plan p = plan_of(g, s, 0.5 * g->width_px + 0.25);
    size_t y0, y1, x0, x1;
    plan_rows(&p, g->mask.height_px, &y0, &y1);
    for (size_t y = y0; y < y1; y++) {
        plan_columns(&p, (double)y + 0.5, g->mask.width_px, &x0, &x1);
        for (size_t x = x0; x < x1; x++) {
            double along, across;
            if (g->mask.at[y * g->mask.width_px + x] == 0 || is_wall(g, x, y)) continue;
            place_in(&p.fr, x, y, &along, &across);
            if (hypot(sw_max(along - p.half_px, 0.0), across) <= p.radius_px) bridge_leave_pixel(g, x, y, out);
        }
    }
}

/* A long strip where nobody sees it is made wider by strips side by side, up to a tenth of its length, as long as they
 * join the same parts and show nothing more. How many. */
static size_t list_beside(const bridge_ground *g, const bridge_strip *s, bridge_strip beside[MOST_BESIDE])
{
    const frame fr = frame_of(s);
    const double length = 2.0 * fr.half_px, step = BESIDE_WIDTHS * g->width_px, angle = atan2(fr.dy, fr.dx);
    const size_t most = (size_t)sw_clamp((length / STOUT_RATIO - g->width_px) / step, 0.0, MOST_BESIDE);
    size_t n = 0;
    for (int side = -1; side <= 1; side += 2)
        for (int k = 1; n < most; k++) {
            const double t = side * k * step;
            const sw_pt_px at = { fr.mid.x_px - t * fr.dy, fr.mid.y_px + t * fr.dx };
            if (bridge_part_at(g, at.x_px, at.y_px) != 0) break;
            const bridge_strip one = bridge_strip_through(g, at, angle, s->from, s->to, 0.75 * length);
            if (!(one.cost < HUGE_VAL) || one.seen > 0.1 * s->seen) break;
            beside[n++] = one;
        }
    return n;
}

double bridge_strip_left_px(const bridge_ground *g, const bridge_strip *s)
{
    bridge_strip beside[MOST_BESIDE];
    return g->width_px * (1.0 + BESIDE_WIDTHS * (double)(s->is_path ? 0 : list_beside(g, s, beside)));
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
        bridge_strip beside[MOST_BESIDE];
        const size_t n = list_beside(g, s, beside);
        stamp_straight(g, s, out);
        for (size_t i = 0; i < n; i++) stamp_straight(g, &beside[i], out);
        out->width_mm = sw_mm_from_px(&g->grid, g->width_px * (1.0 + BESIDE_WIDTHS * (double)n));
        return;
    }
    bridge_path path;
    if (s->is_bent && bridge_path_make(g, f, s, &path)) {
        bridge_path_stamp(g, &path, out);
        return;
    }
    stamp_path(g, f, s->u, out);
    stamp_path(g, f, s->v, out);
    stamp_segment(g, bridge_field_centre(f, s->u), bridge_field_centre(f, s->v), out);
}
