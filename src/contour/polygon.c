/* The tracer's polygon made true: edges moved to where the mask's edge really runs, vertices that are none dropped, and
 * corners put back where the raster cut them off. */
#include <string.h>

#include "contour/outline.h"

#define NEEDLESS_PX 0.2       /* a vertex that near to the chord of its neighbours is none */
#define TAIL_SIDE_PX 15.0     /* an edge that long may have a tail: a short edge at its end, turned by the raster */
#define TAIL_RATIO 0.4
#define TAIL_TURN 0.14         /* radians */
#define TAIL_OFF_PX 0.65
#define TAIL_OFF_AT_CORNER_PX 1.1 /* where the tail ends in a corner, which the tracer may have put a pixel off */
#define TAIL_END_TURN 0.7      /* radians; that is a corner */
#define NOTCH_PX 4.6           /* edges of a notch that is the raster's */
#define NOTCH_TURN 0.9         /* radians; at its bottom */
#define STEP_PX 3.2            /* length of a step that is the raster's */
#define STEP_TURN 0.6          /* radians; at its ends */
#define SIDE_PX 5.0           /* shortest edge that counts as the side of a corner */
#define SIDE_RUN_PX 9.0       /* longest run of shorter edges between two sides */
#define MOST_RUN 6u           /* edges in it */
#define ON_LINE_PX 0.6        /* vertices nearer than that to a side's line may belong to it */
#define CHAMFER_PX 3.2        /* longest run that belongs to neither side: the raster's cut across the corner */
#define RESTORE_TURN 0.45     /* radians; below that an arc looks the same */
#define TIP_TURN 2.9          /* radians; a tip sharper than 14 degrees stays as the raster has it */
#define MOST_TIP_PX 2.2       /* no tip is made longer than that */
#define TIP_PX 0.65           /* what the raster takes off a corner, besides half a pixel over the tangent of its half */
#define SHIFT_PX 4.0          /* shorter edges are left where they are */
#define TILT_PX 8.0           /* and shorter ones than that are not turned */
#define MOST_POINTS 24.0      /* along an edge */
#define MOST_SHIFT_PX 1.0     /* the tracer's polygon is not farther off */
#define MOST_VERTEX_PX 1.8
#define BEND_TURN 0.8         /* radians; edges that turn by less at both ends follow an arc */
#define STUB_PX 1.5           /* an edge shorter than that between the border and a vertex is the border's doing */

void polygon_measure(vertex *v, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const pt edge = pt_sub(v[wrap(i + 1, n)].p, v[i].p);
        v[i].len = pt_len(edge);
        v[i].dir = pt_unit(edge);
    }
    for (size_t i = 0; i < n; i++) {
        const pt in = v[wrap(i + n - 1, n)].dir;
        v[i].turn = atan2(pt_cross(in, v[i].dir), pt_dot(in, v[i].dir));
    }
}

/* How many vertices past an edge's end (forward) or start lie on its line and go on in its direction. */
static size_t grow_edge(const vertex *v, size_t n, size_t i, bool is_forward)
{
    const pt from = v[i].p, dir = v[i].dir;
    const size_t end = is_forward ? wrap(i + 1, n) : i;
    double reached = pt_dot(pt_sub(v[end].p, from), dir);
    size_t at = end, grown = 0;
    for (; grown + 3 < n; grown++) {
        if (v[at].is_border) break; /* the border is no place to look past */
        at = is_forward ? wrap(at + 1, n) : wrap(at + n - 1, n);
        const pt d = pt_sub(v[at].p, from);
        const double along = pt_dot(d, dir);
        if (fabs(pt_cross(dir, d)) > ON_LINE_PX || (is_forward ? along <= reached : along >= reached)) break;
        reached = along;
    }
    return grown;
}

/* The next edge of some length after edge i, if only a short run lies between; its distance in vertices, or 0. */
static size_t next_side(const vertex *v, size_t n, size_t i)
{
    double run = 0.0;
    for (size_t k = 1; k <= MOST_RUN && k < n - 1; k++) {
        const vertex *const e = &v[wrap(i + k, n)];
        if (e->len >= SIDE_PX) return k;
        run += e->len;
        if (run > SIDE_RUN_PX) return 0;
    }
    return 0;
}

/* Distance from x to the run of edges between vertices first and first + n_edges. */
static double distance_to_run(const vertex *v, size_t n, size_t first, size_t n_edges, pt x)
{
    double least = pt_len(pt_sub(v[first].p, x));
    for (size_t k = 0; k < n_edges; k++) {
        const vertex *const e = &v[wrap(first + k, n)];
        const double along = sw_clamp(pt_dot(pt_sub(x, e->p), e->dir), 0.0, e->len);
        least = sw_min(least, pt_len(pt_sub(x, pt_add(e->p, pt_mul(e->dir, along)))));
    }
    return least;
}

/* The corner between edges i and i + gap, whose lines meet where the raster cut it off. */
static bool find_corner(const vertex *v, size_t n, size_t i, size_t gap, pt *corner)
{
    const size_t first = wrap(i + 1, n), j = wrap(i + gap, n);
    const vertex *const in = &v[i], *const out = &v[j];
    for (size_t k = 0; k < gap; k++) {
        if (v[wrap(first + k, n)].is_border) return false;
    }
    const double sine = pt_cross(in->dir, out->dir), cosine = pt_dot(in->dir, out->dir);
    const double turn = fabs(atan2(sine, cosine));
    if (turn < RESTORE_TURN || turn > TIP_TURN) return false;
    const size_t grown = grow_edge(v, n, i, true) + grow_edge(v, n, j, false);
    double run = 0.0; /* what neither line covers */
    for (size_t k = grow_edge(v, n, i, true); k + grow_edge(v, n, j, false) + 1 < gap; k++) run += v[wrap(first + k, n)].len;
    if (run > CHAMFER_PX && grown + 1 < gap) return false;
    const pt between = pt_sub(out->p, in->p);
    const pt x = pt_add(in->p, pt_mul(in->dir, pt_cross(between, out->dir) / sine));
    /* both lines have to come out ahead of their own middles */
    const pt out_end = pt_add(out->p, pt_mul(out->dir, 0.5 * out->len));
    if (pt_dot(pt_sub(x, in->p), in->dir) < 0.5 * in->len || pt_dot(pt_sub(out_end, x), out->dir) < 0.0) return false;
    const double lost = sw_min(TIP_PX + 0.5 * tan(0.5 * turn), MOST_TIP_PX);
    if (distance_to_run(v, n, first, gap - 1, x) > lost) return false;
    *corner = x;
    return true;
}

static size_t drop_marked(vertex *v, const bool *is_dropped, size_t n)
{
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        if (!is_dropped[i]) v[kept++] = v[i];
    }
    return kept;
}

static void mark_border(vertex *v, size_t n, pt size)
{
    for (size_t i = 0; i < n; i++)
        v[i].is_border = v[i].p.x == 0.0 || v[i].p.y == 0.0 || v[i].p.x == size.x || v[i].p.y == size.y;
}

/* True if vertex i is hardly inside the border at its neighbour `at` and the outline goes on inward from it. */
static bool is_stub(const vertex *v, size_t at, size_t i, size_t beyond, const bool *is_dropped)
{
    return v[at].is_border && pt_len(pt_sub(v[i].p, v[at].p)) < STUB_PX && !v[beyond].is_border &&
           !is_dropped[beyond] && pt_len(pt_sub(v[beyond].p, v[i].p)) > STUB_PX;
}

/* Vertices hardly inside the border make a hook there; the border keeps its own. Returns the new number. */
static size_t drop_stubs(vertex *v, size_t n, bool *is_dropped)
{
    memset(is_dropped, 0, n);
    size_t left = n;
    for (size_t i = 0; i < n && left > 4; i++) {
        const size_t before = wrap(i + n - 1, n), after = wrap(i + 1, n);
        if (v[i].is_border || is_dropped[before] || is_dropped[after]) continue;
        is_dropped[i] = is_stub(v, before, i, after, is_dropped) || is_stub(v, after, i, before, is_dropped);
        left -= is_dropped[i];
    }
    return drop_marked(v, is_dropped, n);
}

/* Vertices between edges that are one line but for the rounding. Returns the new number. */
static size_t drop_needless(vertex *v, size_t n, bool *is_dropped)
{
    memset(is_dropped, 0, n);
    size_t left = n, last = n - 1, first = 0;
    for (size_t i = 0; i < n && left > 4; i++) {
        const pt from = v[last].p, to = v[i + 1 < n ? i + 1 : first].p, d = pt_sub(v[i].p, from);
        const double len = pt_len(pt_sub(to, from)), along = pt_dot(d, pt_unit(pt_sub(to, from)));
        is_dropped[i] = !v[i].is_border && fabs(pt_cross(pt_unit(pt_sub(to, from)), d)) < NEEDLESS_PX && along > 0.0 &&
                        along < len;
        if (is_dropped[i]) {
            left--;
            first += i == first;
        } else {
            last = i;
        }
    }
    return drop_marked(v, is_dropped, n);
}

/* True if the short edge on one side of vertex i only bends the end of the long edge on its other side. */
static bool is_tail(const vertex *v, size_t n, size_t i)
{
    const vertex *const before = &v[wrap(i + n - 1, n)], *const at = &v[i];
    const bool is_after = at->len < before->len;
    const vertex *const side = is_after ? before : at;
    const double tail = is_after ? at->len : before->len;
    if (side->len < TAIL_SIDE_PX || tail > TAIL_RATIO * side->len || fabs(at->turn) > TAIL_TURN) return false;
    const vertex *const end = is_after ? &v[wrap(i + 1, n)] : before;
    const double most = fabs(end->turn) > TAIL_END_TURN ? TAIL_OFF_AT_CORNER_PX : TAIL_OFF_PX;
    return !end->is_border && tail * fabs(sin(at->turn)) < most;
}

static size_t drop_tails(vertex *v, size_t n, bool *is_dropped)
{
    memset(is_dropped, 0, n);
    size_t left = n;
    for (size_t i = 0; i < n && left > 4; i++) {
        if (v[i].is_border || is_dropped[wrap(i + n - 1, n)] || is_dropped[wrap(i + 1, n)]) continue;
        is_dropped[i] = is_tail(v, n, i);
        left -= is_dropped[i];
    }
    return drop_marked(v, is_dropped, n);
}

/* True if the line from a to b leaves every pixel edge beside it near enough. */
static bool is_near(const mask_edge *m, pt a, pt b, double most)
{
    ledge_range range = { 0 };
    (void)visit_ledges(m, a, b, widen_range, &range);
    return sw_max(range.in, range.out) <= most;
}

/* True if vertex i is the bottom of a notch, or the top of a bump, of the raster's making: hardly wider than the tracer's
 * shortest edges, turned sharply against both its neighbours, and the line past it is near enough. */
static bool is_notch(const vertex *v, size_t n, size_t i, const mask_edge *m, double most)
{
    const vertex *const before = &v[wrap(i + n - 1, n)], *const at = &v[i], *const after = &v[wrap(i + 1, n)];
    if (before->len > NOTCH_PX || at->len > NOTCH_PX || fabs(at->turn) < NOTCH_TURN) return false;
    if ((before->turn > 0.0) == (at->turn > 0.0) || (after->turn > 0.0) == (at->turn > 0.0)) return false;
    if (fabs(before->turn) < STEP_TURN || fabs(after->turn) < STEP_TURN) return false;
    return is_near(m, before->p, after->p, most);
}

/* True if the short edge from vertex i is a step between two edges that could as well be one: then middle stands for both
 * its ends. */
static bool is_step(const vertex *v, size_t n, size_t i, const mask_edge *m, double most, pt *middle)
{
    const vertex *const before = &v[wrap(i + n - 1, n)], *const at = &v[i], *const after = &v[wrap(i + 1, n)];
    const pt beyond = v[wrap(i + 2, n)].p;
    if (at->len > STEP_PX || fabs(at->turn) < STEP_TURN || fabs(after->turn) < STEP_TURN) return false;
    if ((at->turn > 0.0) == (after->turn > 0.0) || after->is_border) return false;
    *middle = pt_mix(at->p, after->p, 0.5);
    return is_near(m, before->p, *middle, most) && is_near(m, *middle, beyond, most);
}

/* Notches and steps of a pixel or two, which make a curve wriggle. Returns the new number. */
static size_t drop_wriggles(const mask_edge *m, double most, vertex *v, size_t n, bool *is_dropped)
{
    memset(is_dropped, 0, n);
    size_t left = n;
    for (size_t i = 0; i < n && left > 6; i++) {
        const size_t before = wrap(i + n - 1, n), after = wrap(i + 1, n), beyond = wrap(i + 2, n);
        if (v[i].is_border || is_dropped[before] || is_dropped[i] || is_dropped[after] || is_dropped[beyond]) continue;
        pt middle;
        if (is_notch(v, n, i, m, most)) {
            is_dropped[i] = true;
        } else if (is_step(v, n, i, m, most, &middle)) {
            is_dropped[i] = true;
            v[after].p = middle;
        } else {
            continue;
        }
        left--;
        i++; /* what follows was measured with it */
    }
    return drop_marked(v, is_dropped, n);
}

/* How far an edge is from where the mask's edge runs, at its two ends, along the normal to the inside. */
typedef struct edge_shift {
    double start, end;
} edge_shift;

static pt inside_of(const vertex *v) { return (pt){ -v->dir.y, v->dir.x }; }

/* Least squares over points along the edge, away from its ends. Zero where the mask gives no answer. */
static edge_shift measure_shift(const mask_edge *m, const vertex *v, size_t n, size_t i)
{
    const vertex *const e = &v[i], *const next = &v[wrap(i + 1, n)];
    if (e->len < SHIFT_PX || (e->is_border && next->is_border)) return (edge_shift){ 0.0, 0.0 };
    const pt in = inside_of(e), open = m->is_outer ? in : pt_mul(in, -1.0);
    const double margin = sw_min(3.0, 0.2 * e->len), step_px = sw_max(1.5, (e->len - 2.0 * margin) / MOST_POINTS);
    const size_t n_points = (size_t)((e->len - 2.0 * margin) / step_px) + 1;
    double sum = 0.0, sum_s = 0.0, sum_ss = 0.0, sum_so = 0.0, count = 0.0;
    for (size_t k = 0; k < n_points; k++) {
        const double along = margin + (double)k * step_px, s = along - 0.5 * e->len;
        double off;
        if (!edge_offset(m->mask, pt_add(e->p, pt_mul(e->dir, along)), open, &off)) continue;
        if (!m->is_outer) off = -off;
        sum += off;
        sum_s += s;
        sum_ss += s * s;
        sum_so += s * off;
        count += 1.0;
    }
    if (count < 0.6 * (double)n_points || count < 2.0) return (edge_shift){ 0.0, 0.0 };
    const double mean = sum / count, mean_s = sum_s / count, spread = sum_ss - sum_s * mean_s;
    double slope = e->len >= TILT_PX && spread > 0.0 ? (sum_so - sum_s * mean) / spread : 0.0;
    slope = sw_clamp(slope, -2.0 * MOST_SHIFT_PX / e->len, 2.0 * MOST_SHIFT_PX / e->len);
    const bool is_bend = (e->turn > 0.0) == (next->turn > 0.0) && fabs(e->turn) < BEND_TURN && fabs(next->turn) < BEND_TURN;
    const double bend = is_bend ? edge_bend(0.5 * (e->turn + next->turn) / e->len) : 0.0;
    const double middle = sw_clamp(mean - slope * mean_s - bend, -MOST_SHIFT_PX, MOST_SHIFT_PX);
    return (edge_shift){ middle - 0.5 * slope * e->len, middle + 0.5 * slope * e->len };
}

/* The vertex between two moved edges: where their lines meet, or, nearly straight on, between what both say. */
static pt moved_vertex(const vertex *in, const vertex *v, edge_shift before, edge_shift after)
{
    const pt a0 = pt_add(in->p, pt_mul(inside_of(in), before.start)), a1 = pt_add(v->p, pt_mul(inside_of(in), before.end));
    const pt b0 = pt_add(v->p, pt_mul(inside_of(v), after.start));
    const pt b1 = pt_add(pt_add(v->p, pt_mul(v->dir, v->len)), pt_mul(inside_of(v), after.end));
    const pt u = pt_sub(a1, a0), w = pt_sub(b1, b0);
    const double sine = pt_cross(pt_unit(u), pt_unit(w));
    const pt between = pt_mix(a1, b0, 0.5);
    if (fabs(sine) < 0.15) return between;
    const pt x = pt_add(a0, pt_mul(u, pt_cross(pt_sub(b0, a0), w) / pt_cross(u, w)));
    return pt_len(pt_sub(x, v->p)) < MOST_VERTEX_PX ? x : between;
}

/* A vertex on the border moves along it to where the edge that leaves it arrives. */
static pt moved_on_border(const vertex *v, pt size, const vertex *e, edge_shift shift)
{
    const bool is_x = v->p.x == 0.0 || v->p.x == size.x;
    const double across = is_x ? e->dir.x : e->dir.y;
    if (fabs(across) < 0.2) return v->p;
    const pt at = pt_add(e->p, pt_mul(inside_of(e), shift.start));
    const pt end = pt_add(pt_add(e->p, pt_mul(e->dir, e->len)), pt_mul(inside_of(e), shift.end));
    const pt d = pt_sub(end, at);
    pt p = v->p;
    if (is_x) p.y = at.y + (v->p.x - at.x) / d.x * d.y;
    else p.x = at.x + (v->p.y - at.y) / d.y * d.x;
    if (!(pt_len(pt_sub(p, v->p)) < MOST_SHIFT_PX)) return v->p;
    return (pt){ sw_clamp(p.x, 0.0, size.x), sw_clamp(p.y, 0.0, size.y) };
}

/* Move every edge to where the mask has it. shift: room for n. */
static void true_edges(const mask_edge *m, vertex *v, size_t n, pt size, edge_shift *shift)
{
    for (size_t i = 0; i < n; i++) shift[i] = measure_shift(m, v, n, i);
    vertex before = v[n - 1]; /* as it was: vertices move in place */
    for (size_t i = 0; i < n; i++) {
        const vertex now = v[i];
        const size_t in = wrap(i + n - 1, n), out = wrap(i + 1, n);
        const bool is_after = before.is_border && !v[out].is_border, is_before = !before.is_border && v[out].is_border;
        if (!now.is_border) v[i].p = moved_vertex(&before, &now, shift[in], shift[i]);
        else if (is_after) v[i].p = moved_on_border(&now, size, &now, shift[i]);
        else if (is_before) v[i].p = moved_on_border(&now, size, &before, shift[in]);
        before = now;
    }
}

/* Put cut corners back; returns the new number of vertices. */
static size_t restore_corners(vertex *v, size_t n, bool *is_dropped)
{
    memset(is_dropped, 0, n);
    size_t left = n;
    for (size_t i = 0; i < n && left > 3; i++) {
        if (v[i].len < SIDE_PX || is_dropped[wrap(i + 1, n)]) continue; /* a side whose start went is one still */
        const size_t gap = next_side(v, n, i);
        pt x;
        if (gap < 2 || left < gap + 2 || !find_corner(v, n, i, gap, &x)) continue;
        v[wrap(i + 1, n)].p = x; /* edge directions stay: the lines do not move */
        for (size_t k = 2; k <= gap; k++) is_dropped[wrap(i + k, n)] = true;
        left -= gap - 1;
    }
    return drop_marked(v, is_dropped, n);
}

/* How far p is inside one side of the mask: 0 left, 1 top, 2 right, 3 bottom. */
static double inside_side(pt p, pt size, int side)
{
    return side == 0 ? p.x : side == 1 ? p.y : side == 2 ? size.x - p.x : size.y - p.y;
}

/* Where the line from a to b meets the side, exactly on it. */
static vertex on_side(pt a, pt b, pt size, int side)
{
    const double da = inside_side(a, size, side), db = inside_side(b, size, side);
    pt p = pt_mix(a, b, da / (da - db));
    if (side % 2 == 0) p.x = side == 0 ? 0.0 : size.x;
    else p.y = side == 1 ? 0.0 : size.y;
    return (vertex){ .p = p, .is_border = true };
}

/* Drop vertices between two others on the same side: what goes there and back again, or straight on. */
static size_t drop_on_side(vertex *v, size_t n, pt size, int side)
{
    for (size_t i = 0; i < n && n > 3;) {
        const pt before = v[wrap(i + n - 1, n)].p, after = v[wrap(i + 1, n)].p;
        if (inside_side(v[i].p, size, side) != 0.0 || inside_side(before, size, side) != 0.0 || inside_side(after, size, side) != 0.0) {
            i++;
            continue;
        }
        memmove(&v[i], &v[i + 1], (n - i - 1) * sizeof *v);
        n--;
        i -= i > 0;
    }
    return n;
}

/* Lines that were moved or made longer may meet beyond the border: what lies there is cut off (Sutherland and Hodgman
 * 1974), so that no curve reaches over a seam. Returns the new number. */
static size_t cut_at_border(vertex *v, size_t n, size_t room, pt size)
{
    for (int side = 0; side < 4; side++) {
        bool is_any = false;
        for (size_t i = 0; i < n; i++) {
            const pt after = v[wrap(i + 1, n)].p;
            const double here = inside_side(v[i].p, size, side), next = inside_side(after, size, side);
            if ((here < 0.0) == (next < 0.0) || here == 0.0 || next == 0.0 || n == room) continue;
            const vertex add = on_side(v[i].p, after, size, side);
            memmove(&v[i + 2], &v[i + 1], (n - i - 1) * sizeof *v);
            v[++i] = add;
            n++;
        }
        for (size_t i = 0; i < n && n > 3;) {
            if (inside_side(v[i].p, size, side) < 0.0) {
                memmove(&v[i], &v[i + 1], (n - i - 1) * sizeof *v);
                n--;
                is_any = true;
            } else {
                i++;
            }
        }
        if (is_any) n = drop_on_side(v, n, size, side);
    }
    return n;
}

static size_t first_vertex(const pt *p, size_t n)
{
    size_t first = 0;
    for (size_t i = 1; i < n; i++) {
        if (p[i].y < p[first].y || (p[i].y == p[first].y && p[i].x < p[first].x)) first = i;
    }
    return first;
}

size_t polygon_true(const pt *p, size_t n, const mask_edge *m, double tolerance_px, bool is_plain, vertex *v, size_t room)
{
    const pt size = { (double)m->mask->width_px, (double)m->mask->height_px };
    bool *const is_dropped = sw_alloc_array(n, sizeof *is_dropped);
    edge_shift *const shift = sw_alloc_array(n, sizeof *shift);
    if (is_dropped != NULL && shift != NULL) {
        const size_t first = first_vertex(p, n);
        for (size_t i = 0; i < n; i++) v[i] = (vertex){ .p = p[wrap(first + i, n)] };
        mark_border(v, n, size);
        n = drop_stubs(v, n, is_dropped);
        if (!is_plain) {
            n = drop_needless(v, n, is_dropped);
            polygon_measure(v, n);
            n = drop_tails(v, n, is_dropped);
            polygon_measure(v, n);
            n = drop_wriggles(m, ledge_most(tolerance_px) - 0.25, v, n, is_dropped);
            polygon_measure(v, n);
            true_edges(m, v, n, size, shift);
            polygon_measure(v, n);
            n = restore_corners(v, n, is_dropped);
            polygon_measure(v, n);
            n = follow_bumps(m, tolerance_px, v, n, room);
        }
        n = cut_at_border(v, n, room, size);
        polygon_measure(v, n);
    } else {
        n = 0;
    }
    sw_free(shift);
    sw_free(is_dropped);
    return n;
}
