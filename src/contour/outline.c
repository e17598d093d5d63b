/* The smooth outline of a traced path.
 *
 * The tracer's polygon (Selinger 2003) is as straight as the pixels allow, its vertices placed by least squares. Here
 * it gets its corners back where the pixels cut them off, and every other vertex is rounded between two contact
 * points, with Selinger's measure for how far the curve reaches into the vertex. Contact points are where a segment
 * may end: the tangent there is the polygon edge, which many pixels agree on. */
#include <string.h>

#include "contour/outline.h"

#define NEEDLESS_PX 0.2       /* a vertex that near to the chord of its neighbours is none */
#define SIDE_PX 5.0           /* shortest edge that counts as the side of a corner */
#define SIDE_RUN_PX 9.0       /* longest run of shorter edges between two sides */
#define MOST_RUN 6u           /* edges in it */
#define ON_LINE_PX 0.6        /* vertices nearer than that to a side's line may belong to it */
#define CHAMFER_PX 3.2        /* longest run that belongs to neither side: the raster's cut across the corner */
#define RESTORE_TURN 0.45     /* radians; below that an arc looks the same */
#define TIP_TURN 2.9          /* radians; a tip sharper than 14 degrees stays as the raster has it */
#define TIP_PX 0.65           /* what the raster takes off a corner, besides half a pixel over the tangent of its half */
#define CORNER_TURN 0.21      /* radians; 12 degrees: less is drawn as a bend */
#define MUST_TURN 0.5         /* radians; a corner that sharp is always kept if it stands out */
#define CONTACT_RATIO 1.5     /* contact points lie at most this many times the shorter half edge from the vertex */
#define STUB_PX 1.5           /* an edge shorter than that between the border and a vertex is the border's doing */
#define STRAIGHT_PX 10.0      /* shorter edges say nothing about straightness */
#ifndef STRAIGHT_BEND_PX
#define STRAIGHT_BEND_PX 2.5  /* see is_straight */
#endif

typedef struct vertex {
    pt p, dir;           /* dir, len: of the edge to the next vertex */
    double len, turn;    /* turn: at this vertex, signed */
    double before, after; /* contact lengths on the edges before and after */
    bool is_corner, is_straight, is_border;
} vertex;

void outline_free(outline *o)
{
    sw_free(o->nodes);
    sw_free(o->samples);
    *o = (outline){ 0 };
}

static size_t wrap(size_t i, size_t n) { return i >= n ? i - n : i; }

static void measure_edges(vertex *v, size_t n)
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
    const double lost = TIP_PX + 0.5 * tan(0.5 * turn);
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

/* Put cut corners back; returns the new number of vertices. */
static size_t restore_corners(vertex *v, size_t n, bool *is_dropped)
{
    measure_edges(v, n);
    memset(is_dropped, 0, n);
    size_t left = n;
    for (size_t i = 0; i < n && left > 4; i++) {
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

/* Selinger's measure of how far a curve reaches into the vertex: 1 and more is a corner. */
static double reach_of(pt before, pt p, pt after)
{
    const pt chord = pt_sub(after, before);
    const double across = fabs(pt_cross(chord, pt_sub(p, before)));
    const double dd = across / (fabs(chord.x) + fabs(chord.y) + 1e-12);
    return dd > 1.0 ? (1.0 - 1.0 / dd) / 0.75 : 0.0;
}

/* The same with arms of about one length: a long edge beside a short one says no more than its neighbour. */
static double reach_at(const vertex *in, const vertex *v)
{
    const double most = CONTACT_RATIO * sw_min(in->len, v->len);
    return reach_of(pt_sub(v->p, pt_mul(in->dir, sw_min(most, in->len))), v->p,
                    pt_add(v->p, pt_mul(v->dir, sw_min(most, v->len))));
}

/* Largest turn within half the edge's length past its end, on one side. */
static double turn_beyond(const vertex *v, size_t n, size_t at, double reach, bool is_forward)
{
    double turn = 0.0, most = 0.0;
    for (size_t k = 0; k < n && reach >= 0.0; k++) {
        turn += v[at].turn;
        most = sw_max(most, fabs(turn));
        if (is_forward) {
            reach -= v[at].len;
            at = wrap(at + 1, n);
        } else {
            at = wrap(at + n - 1, n);
            reach -= v[at].len;
        }
    }
    return most;
}

/* An edge is a straight line and not a stretch of an arc if an arc as bent as its surroundings would have left it:
 * an arc that turns by t within half a length of the edge's end stands off the edge by about t * length / 8. */
static bool is_straight(const vertex *v, size_t n, size_t i, double tolerance_px)
{
    const double len = v[i].len;
    if (len < sw_max(STRAIGHT_PX, 5.0 * tolerance_px)) return false;
    const double need = 8.0 * sw_max(STRAIGHT_BEND_PX, tolerance_px) / len;
    return turn_beyond(v, n, wrap(i + 1, n), 0.5 * len, true) >= need && turn_beyond(v, n, i, 0.5 * len, false) >= need;
}

static bool is_along_border(const vertex *v, const vertex *next)
{
    return v->is_border && next->is_border && (v->p.x == next->p.x || v->p.y == next->p.y);
}

static void classify(vertex *v, size_t n, double tolerance_px)
{
    for (size_t i = 0; i < n; i++) {
        const vertex *const in = &v[wrap(i + n - 1, n)];
        v[i].is_corner = v[i].is_border || (fabs(v[i].turn) >= CORNER_TURN && reach_at(in, &v[i]) >= 1.0);
        v[i].is_straight = is_along_border(&v[i], &v[wrap(i + 1, n)]) || is_straight(v, n, i, tolerance_px);
        const double most = CONTACT_RATIO * 0.5 * sw_min(in->len, v[i].len);
        v[i].before = v[i].is_corner ? 0.0 : sw_min(most, 0.5 * in->len);
        v[i].after = v[i].is_corner ? 0.0 : sw_min(most, 0.5 * v[i].len);
    }
    for (size_t i = 0; i < n; i++) { /* no room for a line between two contacts: let them meet */
        vertex *const next = &v[wrap(i + 1, n)];
        const double used = v[i].after + next->before, left = v[i].len - used;
        if (v[i].is_corner || next->is_corner || v[i].is_straight || left > sw_max(1.5, 0.15 * v[i].len)) continue;
        v[i].after = v[i].after / used * v[i].len;
        next->before = v[i].len - v[i].after;
    }
}

static bool add_sample(outline *o, pt p, pt along)
{
    void *at = o->samples;
    if (!sw_grow(&at, &o->cap_samples, o->m + 1, sizeof *o->samples)) return false;
    o->samples = at;
    const pt tangent = pt_unit(along);
    const double step = o->m == 0 ? 0.0 : pt_len(pt_sub(p, o->samples[o->m - 1].p));
    o->samples[o->m] = (sample){ .p = p, .normal = { -tangent.y, tangent.x }, .s = o->m == 0 ? 0.0 : o->samples[o->m - 1].s + step };
    o->m++;
    return true;
}

static bool add_node(outline *o, const node *add)
{
    void *at = o->nodes;
    if (!sw_grow(&at, &o->cap_nodes, o->n + 1, sizeof *o->nodes)) return false;
    o->nodes = at;
    o->nodes[o->n] = *add;
    o->nodes[o->n].sample = o->m;
    o->n++;
    return add_sample(o, add->p, pt_add(add->in, add->out));
}

static pt cubic_point(pt a, pt b, pt c, pt d, double t)
{
    const pt ab = pt_mix(a, b, t), bc = pt_mix(b, c, t), cd = pt_mix(c, d, t);
    return pt_mix(pt_mix(ab, bc, t), pt_mix(bc, cd, t), t);
}

/* The vertex's corner node, or its arc from the contact before (already a node) to the contact after. */
static bool add_vertex(outline *o, const vertex *in, const vertex *v, double tolerance_px, double *turn)
{
    const double turn_in = *turn;
    *turn += v->turn;
    if (v->is_corner) {
        const bool stands_out = sw_min(in->len, v->len) * sin(0.5 * fabs(v->turn)) > 1.2 * tolerance_px;
        return add_node(o, &(node){ .p = v->p, .in = in->dir, .out = v->dir, .turn_in = turn_in, .turn_out = *turn,
                                    .is_corner = true, .is_must = v->is_border || (stands_out && fabs(v->turn) >= MUST_TURN),
                                    .is_straight = v->is_straight });
    }
    const pt a = pt_sub(v->p, pt_mul(in->dir, v->before)), d = pt_add(v->p, pt_mul(v->dir, v->after));
    const double reach = sw_clamp(reach_of(pt_sub(v->p, pt_mul(in->dir, 2.0 * v->before)), v->p,
                                           pt_add(v->p, pt_mul(v->dir, 2.0 * v->after))), 0.55, 1.0);
    const pt b = pt_mix(a, v->p, reach), c = pt_mix(d, v->p, reach);
    node *const from = &o->nodes[o->n - 1];
    from->own_a = (float)(reach * v->before);
    from->own_b = (float)(reach * v->after);
    const pt mid = cubic_point(a, b, c, d, 0.5);
    const pt slope = pt_add(pt_sub(c, a), pt_sub(d, b));
    if (v->before + v->after > 16.0) {
        if (!add_sample(o, cubic_point(a, b, c, d, 0.25), pt_sub(c, a))) return false;
        if (!add_sample(o, mid, slope)) return false;
        if (!add_sample(o, cubic_point(a, b, c, d, 0.75), pt_sub(d, b))) return false;
    } else if (!add_sample(o, mid, slope)) {
        return false;
    }
    return add_node(o, &(node){ .p = d, .in = v->dir, .out = v->dir, .turn_in = *turn, .turn_out = *turn,
                                .is_straight = v->is_straight });
}

/* True if the arc after v ends where the arc at next begins. */
static bool do_meet(const vertex *v, const vertex *next)
{
    return !v->is_corner && !next->is_corner && v->len - v->after - next->before < 0.5;
}

/* The line from the contact after this vertex to the contact before the next, whose node it adds unless they meet. */
static bool add_edge(outline *o, const vertex *v, const vertex *next, double turn)
{
    const double left = v->len - v->after - next->before;
    if (do_meet(v, next)) return true;
    const size_t n_between = left > 24.0 ? 3 : left > 6.0 ? 1 : 0;
    for (size_t k = 1; k <= n_between; k++) {
        const double along = v->after + left * (double)k / (double)(n_between + 1);
        if (!add_sample(o, pt_add(v->p, pt_mul(v->dir, along)), v->dir)) return false;
    }
    if (next->is_corner) return true;
    return add_node(o, &(node){ .p = pt_sub(next->p, pt_mul(v->dir, next->before)), .in = v->dir, .out = v->dir,
                                .turn_in = turn, .turn_out = turn });
}

/* Repeat nodes and samples for a second round. */
static bool double_round(outline *o, double turn, double tolerance_px)
{
    for (size_t k = 0; k < o->m; k++) o->samples[k].w_in = o->samples[k].w_out = (float)(1.0 / (tolerance_px * tolerance_px));
    void *nodes = o->nodes, *samples = o->samples;
    if (!sw_grow(&nodes, &o->cap_nodes, 2 * o->n + 1, sizeof *o->nodes)) return false;
    o->nodes = nodes;
    if (!sw_grow(&samples, &o->cap_samples, 2 * o->m + 1, sizeof *o->samples)) return false;
    o->samples = samples;
    o->length = o->samples[o->m - 1].s + pt_len(pt_sub(o->samples[0].p, o->samples[o->m - 1].p));
    for (size_t k = 0; k <= o->m; k++) {
        o->samples[o->m + k] = o->samples[k == o->m ? 0 : k];
        o->samples[o->m + k].s += k == o->m ? 2.0 * o->length : o->length;
    }
    for (size_t k = 0; k <= o->n; k++) {
        node *const to = &o->nodes[o->n + k];
        *to = o->nodes[k == o->n ? 0 : k];
        to->sample += k == o->n ? 2 * o->m : o->m;
        to->turn_in += k == o->n ? 2.0 * turn : turn;
        to->turn_out += k == o->n ? 2.0 * turn : turn;
    }
    return true;
}

static size_t first_vertex(const pt *p, size_t n)
{
    size_t first = 0;
    for (size_t i = 1; i < n; i++) {
        if (p[i].y < p[first].y || (p[i].y == p[first].y && p[i].x < p[first].x)) first = i;
    }
    return first;
}

static bool fill(outline *o, vertex *v, size_t n, double tolerance_px)
{
    classify(v, n, tolerance_px);
    double turn = 0.0;
    /* the walk begins on the last edge, so that the first vertex finds its contact before */
    const vertex *const last = &v[n - 1];
    if (!v[0].is_corner && !add_node(o, &(node){ .p = pt_sub(v[0].p, pt_mul(last->dir, v[0].before)), .in = last->dir,
                                                 .out = last->dir }))
        return false;
    for (size_t i = 0; i < n; i++) {
        if (!add_vertex(o, &v[wrap(i + n - 1, n)], &v[i], tolerance_px, &turn)) return false;
        const vertex *const next = &v[wrap(i + 1, n)];
        if (!add_edge(o, &v[i], next, turn)) return false;
        if (i + 1 < n || next->is_corner) continue;
        if (do_meet(&v[i], next)) o->nodes[0].is_straight = v[i].is_straight;
        o->n--; /* the contact before vertex 0 came first already */
        o->m--;
    }
    return double_round(o, turn, tolerance_px);
}

bool outline_make(const pt *p, size_t n, pt size, double tolerance_px, bool is_plain, outline *out)
{
    outline made = { 0 };
    bool is_ok = false;
    vertex *const v = sw_alloc_array(n, sizeof *v);
    bool *const is_dropped = sw_alloc_array(n, sizeof *is_dropped);
    if (v == NULL || is_dropped == NULL) goto cleanup;
    const size_t first = first_vertex(p, n);
    for (size_t i = 0; i < n; i++) v[i].p = p[wrap(first + i, n)];
    mark_border(v, n, size);
    n = drop_stubs(v, n, is_dropped);
    if (!is_plain) {
        n = drop_needless(v, n, is_dropped);
        n = restore_corners(v, n, is_dropped);
    }
    measure_edges(v, n);
    if (!fill(&made, v, n, tolerance_px)) goto cleanup;
    *out = made;
    made = (outline){ 0 };
    is_ok = true;
cleanup:
    outline_free(&made);
    sw_free(is_dropped);
    sw_free(v);
    return is_ok;
}
