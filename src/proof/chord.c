/* Geometry of two chords. Double precision; what lies within SW_PROOF_TOUCH_MM counts as touching, so the answer on
 * an edge is always yes. */
#include <math.h>

#include "proof/chord.h"

static double cross(double ax, double ay, double bx, double by) { return ax * by - ay * bx; }

/* -1, 0, 1: on which side of the line through a and b the point lies; 0 when all but on it. */
static int side_of(sw_pt_mm a, sw_pt_mm b, sw_pt_mm p)
{
    const double dx = b.x_mm - a.x_mm, dy = b.y_mm - a.y_mm;
    const double limit = SW_PROOF_TOUCH_MM * (fabs(dx) + fabs(dy));
    const double c = cross(dx, dy, p.x_mm - a.x_mm, p.y_mm - a.y_mm);
    return c > limit ? 1 : c < -limit ? -1 : 0;
}

static bool ranges_meet(double a0, double a1, double b0, double b1)
{
    return sw_max(sw_min(a0, a1), sw_min(b0, b1)) <= sw_min(sw_max(a0, a1), sw_max(b0, b1)) + SW_PROOF_TOUCH_MM;
}

bool sw_proof_chords_meet(sw_pt_mm a, sw_pt_mm b, sw_pt_mm c, sw_pt_mm d)
{
    if (!ranges_meet(a.x_mm, b.x_mm, c.x_mm, d.x_mm) || !ranges_meet(a.y_mm, b.y_mm, c.y_mm, d.y_mm)) return false;
    return side_of(a, b, c) * side_of(a, b, d) <= 0 && side_of(c, d, a) * side_of(c, d, b) <= 0;
}

/* a-b then b-c: does the ring turn back along itself? */
static bool turns_back(sw_pt_mm a, sw_pt_mm b, sw_pt_mm c)
{
    const double dot = (b.x_mm - a.x_mm) * (c.x_mm - b.x_mm) + (b.y_mm - a.y_mm) * (c.y_mm - b.y_mm);
    return dot < 0.0 && side_of(a, b, c) == 0;
}

bool sw_proof_pair_meets(const sw_proof_shape *shape, size_t i, size_t k)
{
    const size_t i_end = sw_proof_next(shape, i), k_end = sw_proof_next(shape, k);
    const sw_pt_mm *const at = shape->at;
    if (i_end == k && k_end == i) return true; /* a ring of two chords has no inside */
    if (i_end == k) return turns_back(at[i], at[k], at[k_end]);
    if (k_end == i) return turns_back(at[k], at[i], at[i_end]);
    return sw_proof_chords_meet(at[i], at[i_end], at[k], at[k_end]);
}

/* Ratio of a-b at which it is nearest to p. */
static double nearest_ratio(sw_pt_mm a, sw_pt_mm b, sw_pt_mm p)
{
    const double dx = b.x_mm - a.x_mm, dy = b.y_mm - a.y_mm, sq = dx * dx + dy * dy;
    return sq > 0.0 ? sw_clamp(((p.x_mm - a.x_mm) * dx + (p.y_mm - a.y_mm) * dy) / sq, 0.0, 1.0) : 0.0;
}

static sw_pt_mm point_at(sw_pt_mm a, sw_pt_mm b, double ratio)
{
    return ratio >= 1.0 ? b : (sw_pt_mm){ a.x_mm + (b.x_mm - a.x_mm) * ratio, a.y_mm + (b.y_mm - a.y_mm) * ratio };
}

double sw_proof_distance_mm(const sw_proof_shape *shape, size_t i, sw_pt_mm p)
{
    const sw_pt_mm a = shape->at[i], b = shape->at[sw_proof_next(shape, i)];
    const sw_pt_mm on = point_at(a, b, nearest_ratio(a, b, p));
    return sw_proof_length(on.x_mm - p.x_mm, on.y_mm - p.y_mm);
}

static sw_proof_near way_between(sw_pt_mm q, double q_ratio, sw_pt_mm b, double b_ratio)
{
    return (sw_proof_near){ sw_proof_length(b.x_mm - q.x_mm, b.y_mm - q.y_mm), q_ratio, b_ratio, q, b };
}

void sw_proof_from_ends(const sw_proof_shape *shape, size_t i, size_t k, sw_proof_near out[4])
{
    const sw_pt_mm i0 = shape->at[i], i1 = shape->at[sw_proof_next(shape, i)];
    const sw_pt_mm k0 = shape->at[k], k1 = shape->at[sw_proof_next(shape, k)];
    for (int end = 0; end < 2; end++) {
        const sw_pt_mm q = end == 0 ? i0 : i1, b = end == 0 ? k0 : k1;
        const double on_k = nearest_ratio(k0, k1, q), on_i = nearest_ratio(i0, i1, b);
        out[2 * end] = way_between(q, end, point_at(k0, k1, on_k), on_k);
        out[2 * end + 1] = way_between(point_at(i0, i1, on_i), on_i, b, end);
    }
}

/* apart_mm holds the square while the four ends are compared */
static void take_nearer(sw_proof_near *best, sw_pt_mm q, double q_ratio, sw_pt_mm b, double b_ratio)
{
    const double dx = b.x_mm - q.x_mm, dy = b.y_mm - q.y_mm, square = dx * dx + dy * dy;
    if (square < best->apart_mm) *best = (sw_proof_near){ square, q_ratio, b_ratio, q, b };
}

sw_proof_near sw_proof_nearest(const sw_proof_shape *shape, size_t i, size_t k)
{
    const sw_pt_mm i0 = shape->at[i], i1 = shape->at[sw_proof_next(shape, i)];
    const sw_pt_mm k0 = shape->at[k], k1 = shape->at[sw_proof_next(shape, k)];
    sw_proof_near best = { .apart_mm = INFINITY };
    /* without a crossing one of the four ends is at the nearest place */
    for (int end = 0; end < 2; end++) {
        const sw_pt_mm q = end == 0 ? i0 : i1, b = end == 0 ? k0 : k1;
        const double on_k = nearest_ratio(k0, k1, q), on_i = nearest_ratio(i0, i1, b);
        take_nearer(&best, q, end, point_at(k0, k1, on_k), on_k);
        take_nearer(&best, point_at(i0, i1, on_i), on_i, b, end);
    }
    best.apart_mm = sqrt(best.apart_mm);
    return best;
}

static size_t before(const sw_proof_shape *shape, size_t i)
{
    const sw_proof_ring *const ring = &shape->rings[shape->ring_of[i]];
    return i > ring->first ? i - 1 : ring->first + ring->n - 1;
}

/* Directions of the ring into and out of a point: twice the chord's own unless the point is a node. */
typedef struct ways {
    double in_x, in_y, out_x, out_y;
} ways;

static ways ways_at(const sw_proof_shape *shape, size_t i, double ratio)
{
    size_t in = i, out = i;
    if (ratio <= 0.0) in = before(shape, i);
    if (ratio >= 1.0) out = sw_proof_next(shape, i);
    const sw_pt_mm a = shape->at[in], b = shape->at[sw_proof_next(shape, in)];
    const sw_pt_mm c = shape->at[out], d = shape->at[sw_proof_next(shape, out)];
    return (ways){ b.x_mm - a.x_mm, b.y_mm - a.y_mm, d.x_mm - c.x_mm, d.y_mm - c.y_mm };
}

int sw_proof_leads_into(const sw_proof_shape *shape, size_t i, double ratio, sw_pt_mm u)
{
    const ways w = ways_at(shape, i, ratio);
    const double into_in = cross(w.in_x, w.in_y, u.x_mm, u.y_mm), into_out = cross(w.out_x, w.out_y, u.x_mm, u.y_mm);
    const bool is_left_turn = cross(w.in_x, w.in_y, w.out_x, w.out_y) >= 0.0; /* towards (-dy, dx) */
    if (into_in == 0.0 && into_out == 0.0) return 0;
    const bool is_left = is_left_turn ? into_in > 0.0 && into_out > 0.0 : into_in > 0.0 || into_out > 0.0;
    return is_left ? shape->rings[shape->ring_of[i]].side : -shape->rings[shape->ring_of[i]].side;
}

bool sw_proof_is_nearer_along(const sw_proof_shape *shape, size_t i, double ratio, sw_pt_mm u)
{
    const ways w = ways_at(shape, i, ratio);
    const double forth = w.out_x * u.x_mm + w.out_y * u.y_mm, back = -(w.in_x * u.x_mm + w.in_y * u.y_mm);
    /* in the middle of a chord both are nothing but for rounding */
    return (ratio >= 1.0 || ratio <= 0.0) && sw_max(forth, back) > 1e-9;
}
