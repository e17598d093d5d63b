/* Openings that are copies or mirror images of each other.
 *
 * Each opening gets a profile: area, length, how its edge spreads about its middle along two axes, and points evenly
 * spaced along the edge. A copy within a tolerance cannot differ in the former by more than that tolerance allows, and
 * that sorts out nearly all pairs. For the rest the best turn is looked for over all starting points of the second edge
 * at once (for a given start the best turn is the argument of a complex sum), refined by closest points, and judged by
 * the distance of the true edges. */
#include "layout/layout.h"

#include <math.h>
#include <string.h>

#define N_POINTS 96u       /* evenly spaced along each edge, for the turn alone */
#define MAX_ROUNDS 12      /* of refinement; four are usual */
#define LENGTH_SLACK 0.05  /* lengths of two copies may differ by this share: small waves add length but not shape */

typedef struct polygon {
    sw_pt_mm *at;
    size_t n, cap;
} polygon;

typedef struct profile {
    polygon edge;               /* about its middle */
    sw_pt_mm middle;            /* of area */
    double area_mm2, length_mm;
    double wide_mm, slim_mm;    /* root mean square distance of the edge from the middle along its two axes */
    sw_pt_mm points[N_POINTS];  /* about the middle */
    bool is_used;
    bool is_copy;
} profile;

/* A flip, then a turn about the middle, then a small shift. */
typedef struct pose {
    bool is_mirrored;
    double cos_turn, sin_turn, dx, dy;
} pose;

/* ---- profiles ----------------------------------------------------------------------------------- */

static bool take_point(void *ctx, sw_pt_mm point)
{
    polygon *const p = ctx;
    void *data = p->at;
    if (!sw_grow(&data, &p->cap, p->n + 1, sizeof *p->at)) return false;
    p->at = data;
    p->at[p->n++] = point;
    return true;
}

static sw_pt_mm corner(const polygon *p, size_t i) { return p->at[i < p->n ? i : i - p->n]; }

static sw_pt_mm mix(sw_pt_mm a, sw_pt_mm b, double t)
{
    return (sw_pt_mm){ a.x_mm + t * (b.x_mm - a.x_mm), a.y_mm + t * (b.y_mm - a.y_mm) };
}

static double distance(sw_pt_mm a, sw_pt_mm b) { return hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm); }

/* Centre of area; sums are taken about the first corner, so that a place far from the origin loses nothing. */
static sw_pt_mm centre_of_area(const polygon *p)
{
    const sw_pt_mm o = p->at[0];
    double area = 0.0, x = 0.0, y = 0.0;
    for (size_t i = 0; i < p->n; i++) {
        const sw_pt_mm a = p->at[i], b = corner(p, i + 1);
        const double ax = a.x_mm - o.x_mm, ay = a.y_mm - o.y_mm, bx = b.x_mm - o.x_mm, by = b.y_mm - o.y_mm;
        const double twice = ax * by - bx * ay;
        area += twice;
        x += twice * (ax + bx);
        y += twice * (ay + by);
    }
    if (!(fabs(area) > 0.0)) return o;
    return (sw_pt_mm){ o.x_mm + x / (3.0 * area), o.y_mm + y / (3.0 * area) };
}

static void space_evenly(profile *p)
{
    double length = 0.0;
    for (size_t i = 0; i < p->edge.n; i++) length += distance(p->edge.at[i], corner(&p->edge, i + 1));
    size_t i = 0;
    double passed = 0.0;
    for (size_t k = 0; k < N_POINTS; k++) {
        const double wanted = length * (double)k / N_POINTS;
        double side = distance(p->edge.at[i], corner(&p->edge, i + 1));
        while (passed + side < wanted && i + 1 < p->edge.n) {
            passed += side;
            i++;
            side = distance(p->edge.at[i], corner(&p->edge, i + 1));
        }
        p->points[k] = mix(p->edge.at[i], corner(&p->edge, i + 1), side > 0.0 ? (wanted - passed) / side : 0.0);
    }
}

/* Spread along the principal axes, from the second moments of the edge's sides (exact for straight sides). */
static void measure_spread(profile *p)
{
    double xx = 0.0, xy = 0.0, yy = 0.0, length = 0.0;
    for (size_t i = 0; i < p->edge.n; i++) {
        const sw_pt_mm a = p->edge.at[i], b = corner(&p->edge, i + 1);
        const double side = distance(a, b) / 3.0;
        xx += side * (a.x_mm * a.x_mm + a.x_mm * b.x_mm + b.x_mm * b.x_mm);
        yy += side * (a.y_mm * a.y_mm + a.y_mm * b.y_mm + b.y_mm * b.y_mm);
        xy += side * (a.x_mm * a.y_mm + b.x_mm * b.y_mm + 0.5 * (a.x_mm * b.y_mm + b.x_mm * a.y_mm));
        length += side * 3.0;
    }
    const double mean = (xx + yy) / (2.0 * length), apart = hypot((xx - yy) / (2.0 * length), xy / length);
    p->wide_mm = sqrt(mean + apart);
    p->slim_mm = sqrt(sw_max(mean - apart, 0.0));
}

/* False when memory is out. */
static bool fill_profile(const sw_contour *contour, double tolerance_mm, double min_size_mm, profile *p)
{
    const sw_contour_measure m = sw_contour_measure_one(contour);
    p->area_mm2 = m.area_mm2;
    p->length_mm = m.length_mm;
    /* what runs the other way round is an island: it goes with the opening around it */
    if (!(m.area_mm2 > 0.0) || (m.max.x_mm - m.min.x_mm < min_size_mm && m.max.y_mm - m.min.y_mm < min_size_mm))
        return true;
    if (!sw_contour_flatten(contour, tolerance_mm * 0.1, take_point, &p->edge)) return false;
    if (p->edge.n < 3) return true;
    p->middle = centre_of_area(&p->edge);
    for (size_t i = 0; i < p->edge.n; i++) {
        p->edge.at[i].x_mm -= p->middle.x_mm;
        p->edge.at[i].y_mm -= p->middle.y_mm;
    }
    space_evenly(p);
    measure_spread(p);
    p->is_used = true;
    return true;
}

/* Can one be the other within the tolerance? Moving an edge by no more than t changes the area by at most about length
 * times t, and the spread by at most t for the edge and t for the middle. */
static bool can_match(const profile *a, const profile *b, double t)
{
    return fabs(a->area_mm2 - b->area_mm2) <= t * sw_max(a->length_mm, b->length_mm) + 4.0 * t * t &&
           fabs(a->length_mm - b->length_mm) <= LENGTH_SLACK * a->length_mm + 8.0 * t &&
           fabs(a->wide_mm - b->wide_mm) <= LENGTH_SLACK * a->wide_mm + 2.0 * t &&
           fabs(a->slim_mm - b->slim_mm) <= LENGTH_SLACK * a->wide_mm + 2.0 * t;
}

/* ---- the turn ----------------------------------------------------------------------------------- */

static sw_pt_mm place(const pose *p, sw_pt_mm q)
{
    const double x = p->is_mirrored ? -q.x_mm : q.x_mm;
    return (sw_pt_mm){ p->cos_turn * x - p->sin_turn * q.y_mm + p->dx, p->sin_turn * x + p->cos_turn * q.y_mm + p->dy };
}

/* Best pose over all starts: for start s the sum of conj(a) b over matching points is largest in size at the turn that
 * fits best. A mirrored edge is walked backwards. */
static pose first_pose(const profile *a, const profile *b, bool is_mirrored)
{
    double best = -1.0;
    pose made = { .is_mirrored = is_mirrored, .cos_turn = 1.0 };
    for (size_t s = 0; s < N_POINTS; s++) {
        double re = 0.0, im = 0.0;
        for (size_t k = 0; k < N_POINTS; k++) {
            const sw_pt_mm p = a->points[is_mirrored ? N_POINTS - 1 - k : k], q = b->points[(k + s) % N_POINTS];
            const double x = is_mirrored ? -p.x_mm : p.x_mm;
            re += x * q.x_mm + p.y_mm * q.y_mm;
            im += x * q.y_mm - p.y_mm * q.x_mm;
        }
        const double size = hypot(re, im);
        if (size <= best) continue;
        best = size;
        made.cos_turn = size > 0.0 ? re / size : 1.0;
        made.sin_turn = size > 0.0 ? im / size : 0.0;
    }
    return made;
}

/* Nearest point of the edge to p. */
static sw_pt_mm nearest(const polygon *edge, sw_pt_mm p, double *away_sq)
{
    sw_pt_mm best = edge->at[0];
    *away_sq = INFINITY;
    for (size_t i = 0; i < edge->n; i++) {
        const sw_pt_mm a = edge->at[i], b = corner(edge, i + 1);
        const double ux = b.x_mm - a.x_mm, uy = b.y_mm - a.y_mm, size = ux * ux + uy * uy;
        const double t = size > 0.0 ? ((p.x_mm - a.x_mm) * ux + (p.y_mm - a.y_mm) * uy) / size : 0.0;
        const sw_pt_mm q = mix(a, b, sw_clamp(t, 0.0, 1.0));
        const double d = (q.x_mm - p.x_mm) * (q.x_mm - p.x_mm) + (q.y_mm - p.y_mm) * (q.y_mm - p.y_mm);
        if (d < *away_sq) {
            *away_sq = d;
            best = q;
        }
    }
    return best;
}

/* One round of closest points: match each placed point with the edge's nearest, then take the best turn and shift. */
static pose refine(const profile *a, const profile *b, const pose *from)
{
    double sx = 0.0, sy = 0.0, tx = 0.0, ty = 0.0, re = 0.0, im = 0.0, away;
    sw_pt_mm target[N_POINTS];
    for (size_t k = 0; k < N_POINTS; k++) {
        target[k] = nearest(&b->edge, place(from, a->points[k]), &away);
        sx += from->is_mirrored ? -a->points[k].x_mm : a->points[k].x_mm;
        sy += a->points[k].y_mm;
        tx += target[k].x_mm;
        ty += target[k].y_mm;
    }
    sx /= N_POINTS, sy /= N_POINTS, tx /= N_POINTS, ty /= N_POINTS;
    for (size_t k = 0; k < N_POINTS; k++) {
        const double x = (from->is_mirrored ? -a->points[k].x_mm : a->points[k].x_mm) - sx, y = a->points[k].y_mm - sy;
        re += x * (target[k].x_mm - tx) + y * (target[k].y_mm - ty);
        im += x * (target[k].y_mm - ty) - y * (target[k].x_mm - tx);
    }
    const double size = hypot(re, im);
    pose made = *from;
    if (!(size > 0.0)) return made;
    made.cos_turn = re / size;
    made.sin_turn = im / size;
    made.dx = tx - (made.cos_turn * sx - made.sin_turn * sy);
    made.dy = ty - (made.sin_turn * sx + made.cos_turn * sy);
    return made;
}

static sw_pt_mm place_back(const pose *p, sw_pt_mm q)
{
    const double x = q.x_mm - p->dx, y = q.y_mm - p->dy, turned = p->cos_turn * x + p->sin_turn * y;
    return (sw_pt_mm){ p->is_mirrored ? -turned : turned, p->cos_turn * y - p->sin_turn * x };
}

/* Farthest that one placed edge is from the other, both ways; gives up above limit_mm. */
static double farthest(const profile *a, const profile *b, const pose *p, double limit_mm)
{
    double worst = 0.0, away;
    const double limit = limit_mm * limit_mm;
    for (size_t i = 0; i < a->edge.n && worst <= limit; i++) {
        nearest(&b->edge, place(p, a->edge.at[i]), &away);
        worst = sw_max(worst, away);
    }
    for (size_t i = 0; i < b->edge.n && worst <= limit; i++) {
        nearest(&a->edge, place_back(p, b->edge.at[i]), &away);
        worst = sw_max(worst, away);
    }
    return sqrt(worst);
}

/* True if b is a within the tolerance; unmirrored is tried first. */
static bool match(const profile *a, const profile *b, double tolerance_mm, pose *out, double *off_mm)
{
    for (int mirrored = 0; mirrored < 2; mirrored++) {
        pose p = first_pose(a, b, mirrored != 0);
        *off_mm = farthest(a, b, &p, tolerance_mm);
        for (int round = 0; round < MAX_ROUNDS && *off_mm > tolerance_mm; round++) {
            p = refine(a, b, &p);
            *off_mm = farthest(a, b, &p, tolerance_mm);
        }
        *out = p;
        if (*off_mm <= tolerance_mm) return true;
    }
    return false;
}

/* ---- the list ----------------------------------------------------------------------------------- */

static sw_status add_repeat(sw_repeats *list, const profile *profiles, size_t copy, size_t original, const pose *p,
                            double off_mm, sw_note *note)
{
    void *data = list->at;
    if (!sw_grow(&data, &list->cap, list->n + 1, sizeof *list->at)) return sw_fail_memory(note, "the repeats");
    list->at = data;
    list->at[list->n++] = (sw_repeat){ .copy = copy,
                                       .original = original,
                                       .is_mirrored = p->is_mirrored,
                                       .turn_rad = atan2(p->sin_turn, p->cos_turn),
                                       .original_at = profiles[original].middle,
                                       .at = { profiles[copy].middle.x_mm + p->dx, profiles[copy].middle.y_mm + p->dy },
                                       .off_mm = off_mm };
    list->saved_cut_mm += profiles[copy].length_mm;
    return SW_OK;
}

static sw_status find(profile *profiles, size_t n, double tolerance_mm, sw_repeats *out, sw_note *note)
{
    for (size_t copy = 1; copy < n; copy++) {
        if (sw_is_interrupted()) return SW_INTERRUPTED;
        for (size_t i = 0; profiles[copy].is_used && i < copy; i++) {
            pose p;
            double off_mm;
            if (!profiles[i].is_used || profiles[i].is_copy) continue;
            if (!can_match(&profiles[i], &profiles[copy], tolerance_mm)) continue;
            if (!match(&profiles[i], &profiles[copy], tolerance_mm, &p, &off_mm)) continue;
            SW_TRY(add_repeat(out, profiles, copy, i, &p, off_mm, note));
            profiles[copy].is_copy = true;
            break;
        }
    }
    return SW_OK;
}

sw_status sw_repeats_find(const sw_contours *openings, double tolerance_mm, double min_size_mm, sw_repeats *out,
                          sw_note *note)
{
    sw_repeats made = { 0 };
    profile *profiles = NULL;
    sw_status st = SW_BAD_LENGTH;
    if (!sw_length_ok(tolerance_mm, false) || !sw_length_ok(min_size_mm, true)) {
        sw_fail(note, st, "the tolerance of repeats must be a length above 0");
        goto cleanup;
    }
    if (openings->n > 0) {
        profiles = sw_alloc_array(openings->n, sizeof *profiles);
        st = profiles == NULL ? sw_fail_memory(note, "the repeats") : SW_OK;
        for (size_t i = 0; st == SW_OK && i < openings->n; i++) {
            if (!fill_profile(&openings->at[i], tolerance_mm, min_size_mm, &profiles[i]))
                st = sw_fail_memory(note, "the repeats");
        }
        if (st == SW_OK) st = find(profiles, openings->n, tolerance_mm, &made, note);
        if (st != SW_OK) goto cleanup;
    }
    *out = made;
    made = (sw_repeats){ 0 };
    st = SW_OK;
cleanup:
    for (size_t i = 0; profiles != NULL && i < openings->n; i++) sw_free(profiles[i].edge.at);
    sw_free(profiles);
    sw_repeats_free(&made);
    return st;
}

void sw_repeats_free(sw_repeats *repeats)
{
    if (repeats == NULL) return;
    sw_free(repeats->at);
    *repeats = (sw_repeats){ 0 };
}
