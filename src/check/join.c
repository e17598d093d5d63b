/*
 * One bridge: a strip of material between two contours of an opening makes them one contour.
 *
 * The strip's two edges run parallel to the line between the anchors, half a width to each side. Each edge meets each
 * contour nearest to its anchor; there the curves are cut exactly, the parts around the anchors go, and the strip's edges
 * join what is left.
 */
#include "check/parts.h"

#include <math.h>

#define STEPS 48 /* parts of a cubic that are looked at one by one */
#define HALVINGS 50

/* A place on a contour: segment and parameter. */
typedef struct cut {
    size_t seg;
    double t;
    sw_pt_mm at;
} cut;

static sw_pt_mm start_of(const sw_contour *c, size_t seg) { return seg == 0 ? c->start : c->segs[seg - 1].end; }

static sw_pt_mm mix(sw_pt_mm a, sw_pt_mm b, double t)
{
    return (sw_pt_mm){ a.x_mm + (b.x_mm - a.x_mm) * t, a.y_mm + (b.y_mm - a.y_mm) * t };
}

static sw_pt_mm point_of(const sw_contour *c, size_t seg, double t)
{
    const sw_seg *const s = &c->segs[seg];
    const sw_pt_mm p = start_of(c, seg);
    if (s->is_line) return mix(p, s->end, t);
    const sw_pt_mm ab = mix(p, s->c1, t), bc = mix(s->c1, s->c2, t), cd = mix(s->c2, s->end, t);
    return mix(mix(ab, bc, t), mix(bc, cd, t), t);
}

static double side_of(sw_pt_mm origin, sw_pt_mm u, sw_pt_mm p)
{
    return u.x_mm * (p.y_mm - origin.y_mm) - u.y_mm * (p.x_mm - origin.x_mm);
}

/* No point of the segment is nearer to p than this: it lies within the box of its controls. */
static double least_distance(const sw_contour *c, size_t seg, sw_pt_mm p)
{
    const sw_seg *const s = &c->segs[seg];
    const sw_pt_mm a = start_of(c, seg), at[4] = { a, s->is_line ? a : s->c1, s->is_line ? s->end : s->c2, s->end };
    sw_pt_mm low = a, high = a;
    for (size_t i = 1; i < 4; i++) {
        low = (sw_pt_mm){ sw_min(low.x_mm, at[i].x_mm), sw_min(low.y_mm, at[i].y_mm) };
        high = (sw_pt_mm){ sw_max(high.x_mm, at[i].x_mm), sw_max(high.y_mm, at[i].y_mm) };
    }
    const double dx = sw_max(0.0, sw_max(low.x_mm - p.x_mm, p.x_mm - high.x_mm));
    const double dy = sw_max(0.0, sw_max(low.y_mm - p.y_mm, p.y_mm - high.y_mm));
    return sqrt(dx * dx + dy * dy);
}

/* Where the line through origin along u meets the contour, nearest to origin. */
static bool find_cut(const sw_contour *c, sw_pt_mm origin, sw_pt_mm u, cut *out)
{
    double least = INFINITY;
    for (size_t seg = 0; seg < c->n_segs; seg++) {
        const size_t n = c->segs[seg].is_line ? 1 : STEPS;
        if (least_distance(c, seg, origin) >= least) continue;
        for (size_t i = 0; i < n; i++) {
            double low = (double)i / (double)n, high = (double)(i + 1) / (double)n;
            const bool is_low_left = side_of(origin, u, point_of(c, seg, low)) < 0.0;
            if (is_low_left == (side_of(origin, u, point_of(c, seg, high)) < 0.0)) continue;
            for (int k = 0; k < HALVINGS; k++) {
                const double t = 0.5 * (low + high);
                if ((side_of(origin, u, point_of(c, seg, t)) < 0.0) == is_low_left) low = t;
                else high = t;
            }
            const sw_pt_mm at = point_of(c, seg, low);
            const double d = hypot(at.x_mm - origin.x_mm, at.y_mm - origin.y_mm);
            if (d >= least) continue;
            least = d;
            *out = (cut){ seg, low, at };
        }
    }
    return least < INFINITY;
}

static double distance_at(const sw_contour *c, size_t seg, double t, sw_pt_mm p)
{
    const sw_pt_mm at = point_of(c, seg, t);
    return hypot(at.x_mm - p.x_mm, at.y_mm - p.y_mm);
}

/* The place of one segment nearest to p between two parameters within which the distance has one valley. */
static double nearest_between(const sw_contour *c, size_t seg, double low, double high, sw_pt_mm p)
{
    for (int k = 0; k < HALVINGS; k++) {
        const double third = (high - low) / 3.0;
        if (distance_at(c, seg, low + third, p) <= distance_at(c, seg, high - third, p)) high -= third;
        else low += third;
    }
    return 0.5 * (low + high);
}

/* Place of a contour nearest to a point. It has to be exact: the cuts beside it are half a bridge away, and a segment may
 * be metres long. */
static cut find_anchor(const sw_contour *c, sw_pt_mm p)
{
    cut found = { 0, 0.0, c->start };
    double least = INFINITY;
    for (size_t seg = 0; seg < c->n_segs; seg++) {
        const size_t n = c->segs[seg].is_line ? 1 : STEPS;
        double best = INFINITY, low = 0.0, high = 1.0;
        if (least_distance(c, seg, p) >= least) continue;
        for (size_t i = 0; i < n && n > 1; i++) {
            const double d = distance_at(c, seg, ((double)i + 0.5) / (double)n, p);
            if (d >= best) continue;
            best = d;
            low = sw_max(0.0, ((double)i - 0.5) / (double)n);
            high = sw_min(1.0, ((double)i + 1.5) / (double)n);
        }
        const double t = nearest_between(c, seg, low, high, p), d = distance_at(c, seg, t, p);
        if (d >= least) continue;
        least = d;
        found = (cut){ seg, t, point_of(c, seg, t) };
    }
    return found;
}

static double way_to(const sw_contour *c, const cut *from, const cut *to)
{
    const double way = (double)to->seg + to->t - (double)from->seg - from->t;
    return way >= 0.0 ? way : way + (double)c->n_segs;
}

/* Part of a cubic from t0 to t1, by blossoming. */
static sw_pt_mm blossom(const sw_pt_mm p[4], double a, double b, double c)
{
    const sw_pt_mm p01 = mix(p[0], p[1], a), p12 = mix(p[1], p[2], a), p23 = mix(p[2], p[3], a);
    return mix(mix(p01, p12, b), mix(p12, p23, b), c);
}

static bool add_part(const sw_contour *c, size_t seg, double t0, double t1, sw_contour *out)
{
    const sw_seg *const s = &c->segs[seg];
    if (!(t1 > t0)) return true;
    if (s->is_line) return sw_contour_add_line(out, point_of(c, seg, t1));
    const sw_pt_mm p[4] = { start_of(c, seg), s->c1, s->c2, s->end };
    return sw_contour_add_cubic(out, blossom(p, t0, t0, t1), blossom(p, t0, t1, t1), point_of(c, seg, t1));
}

/* Go forward along a contour from one cut to another. */
static bool add_way(const sw_contour *c, const cut *from, const cut *to, sw_contour *out)
{
    size_t seg = from->seg;
    double t = from->t;
    if (seg == to->seg && t < to->t) return add_part(c, seg, t, to->t, out);
    for (size_t i = 0; i <= c->n_segs; i++) {
        if (!add_part(c, seg, t, 1.0, out)) return false;
        seg = seg + 1 < c->n_segs ? seg + 1 : 0;
        t = 0.0;
        if (seg == to->seg) return add_part(c, seg, 0.0, to->t, out);
    }
    return true;
}

/* The same contour the other way round. */
static bool reverse(const sw_contour *c, sw_contour *out)
{
    out->start = c->start;
    for (size_t seg = c->n_segs; seg-- > 0;) {
        const sw_seg *const s = &c->segs[seg];
        const sw_pt_mm end = start_of(c, seg);
        if (!(s->is_line ? sw_contour_add_line(out, end) : sw_contour_add_cubic(out, s->c2, s->c1, end))) return false;
    }
    return true;
}

/* Cuts of one contour by the strip; first the one from which a way forward avoids the anchor. *is_swapped: that is the one
 * on the strip's right. */
static bool cut_both(const sw_contour *c, sw_pt_mm anchor, sw_pt_mm u, double half_mm, cut cuts[2], bool *is_swapped)
{
    const sw_pt_mm left = { anchor.x_mm + u.y_mm * half_mm, anchor.y_mm - u.x_mm * half_mm };
    const sw_pt_mm right = { anchor.x_mm - u.y_mm * half_mm, anchor.y_mm + u.x_mm * half_mm };
    cut l = { 0 }, r = { 0 };
    if (!find_cut(c, left, u, &l) || !find_cut(c, right, u, &r)) return false;
    const cut a = find_anchor(c, anchor);
    *is_swapped = way_to(c, &l, &a) < way_to(c, &l, &r); /* going forward from the left one meets the anchor first */
    cuts[0] = *is_swapped ? r : l;
    cuts[1] = *is_swapped ? l : r;
    return true;
}

static bool join(const sw_contour *outer, const sw_contour *inner, sw_pt_mm on_outer, sw_pt_mm on_inner, double width_mm,
                 sw_contour *out, bool *is_joined)
{
    const double length = hypot(on_outer.x_mm - on_inner.x_mm, on_outer.y_mm - on_inner.y_mm);
    sw_contour turned = { 0 };
    cut o[2], i[2];
    bool is_o_swapped, is_i_swapped, ok = true;
    *is_joined = false;
    if (!(length > 1e-6)) return true;
    const sw_pt_mm u = { (on_outer.x_mm - on_inner.x_mm) / length, (on_outer.y_mm - on_inner.y_mm) / length };
    if (!cut_both(outer, on_outer, u, 0.5 * width_mm, o, &is_o_swapped) ||
        !cut_both(inner, on_inner, u, 0.5 * width_mm, i, &is_i_swapped))
        return true;
    /* the way along the outer one ends on the strip's other edge; the inner one has to begin on that same edge */
    const sw_contour *from = inner;
    if (is_i_swapped == is_o_swapped) {
        ok = reverse(inner, &turned);
        if (ok && !cut_both(&turned, on_inner, u, 0.5 * width_mm, i, &is_i_swapped)) goto done;
        from = &turned;
    }
    if (is_i_swapped == is_o_swapped) goto done; /* cuts that make no strip */
    out->start = o[0].at;
    ok = ok && add_way(outer, &o[0], &o[1], out) && sw_contour_add_line(out, i[0].at) && add_way(from, &i[0], &i[1], out) &&
         sw_contour_add_line(out, o[0].at);
    *is_joined = ok;
done:
    sw_contour_free(&turned);
    return ok;
}

/* The strip's left edge closes one part, its right edge the other. */
static bool part(const sw_contour *c, sw_pt_mm a, sw_pt_mm b, double width_mm, sw_contour *one, sw_contour *two, bool *is_parted)
{
    const double length = hypot(b.x_mm - a.x_mm, b.y_mm - a.y_mm);
    cut at_a[2], at_b[2];
    bool is_a_swapped, is_b_swapped;
    *is_parted = false;
    if (!(length > 1e-6)) return true;
    const sw_pt_mm u = { (b.x_mm - a.x_mm) / length, (b.y_mm - a.y_mm) / length };
    if (!cut_both(c, a, u, 0.5 * width_mm, at_a, &is_a_swapped) || !cut_both(c, b, u, 0.5 * width_mm, at_b, &is_b_swapped)) return true;
    /* leaving a on one edge of the strip, the first way meets b on that same edge; and so for the other */
    if (is_a_swapped == is_b_swapped || way_to(c, &at_a[0], &at_b[1]) >= way_to(c, &at_a[0], &at_a[1]) ||
        way_to(c, &at_b[0], &at_a[1]) >= way_to(c, &at_b[0], &at_b[1]))
        return true;
    one->start = at_a[0].at;
    two->start = at_b[0].at;
    *is_parted = add_way(c, &at_a[0], &at_b[1], one) && sw_contour_add_line(one, at_a[0].at) && add_way(c, &at_b[0], &at_a[1], two) &&
                 sw_contour_add_line(two, at_b[0].at);
    return *is_parted;
}

sw_status sw_bridge_part(const sw_contour *contour, sw_pt_mm a, sw_pt_mm b, double width_mm, sw_contour *one,
                         sw_contour *two, bool *is_parted, sw_note *note)
{
    sw_contour parts[2] = { { .n_segs = 0 } };
    *is_parted = false;
    if (contour->n_segs == 0) return SW_OK;
    const bool ok = part(contour, a, b, width_mm, &parts[0], &parts[1], is_parted);
    if (ok && *is_parted) {
        *one = parts[0];
        *two = parts[1];
        return SW_OK;
    }
    sw_contour_free(&parts[0]);
    sw_contour_free(&parts[1]);
    return ok ? SW_OK : sw_fail_memory(note, "a bridge");
}

sw_status sw_bridge_join(const sw_contour *outer, const sw_contour *inner, sw_pt_mm on_outer, sw_pt_mm on_inner,
                         double width_mm, sw_contour *out, bool *is_joined, sw_note *note)
{
    sw_contour made = { 0 };
    if (outer->n_segs == 0 || inner->n_segs == 0) {
        *is_joined = false;
        return SW_OK;
    }
    if (!join(outer, inner, on_outer, on_inner, width_mm, &made, is_joined)) {
        sw_contour_free(&made);
        return sw_fail_memory(note, "a bridge");
    }
    if (*is_joined) *out = made;
    else sw_contour_free(&made);
    return SW_OK;
}
