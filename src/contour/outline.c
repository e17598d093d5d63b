/* The smooth outline of a traced path.
 *
 * The tracer's polygon (Selinger 2003) is as straight as the pixels allow, its vertices placed by least squares. Here
 * it gets its corners back where the pixels cut them off, and every other vertex is rounded between two contact
 * points, with Selinger's measure for how far the curve reaches into the vertex. Contact points are where a segment
 * may end: the tangent there is the polygon edge, which many pixels agree on. */
#include <string.h>

#include "contour/outline.h"

#define CORNER_TURN 0.21      /* radians; 12 degrees: less is drawn as a bend */
#define SHARP_TURN 1.2        /* radians; with sides of some length a corner whatever else */
#define SHARP_SIDE_PX 4.0
#define MUST_TURN 0.5         /* radians; a corner that sharp is always kept if it stands out */
#define CONTACT_RATIO 1.5     /* contact points lie at most this many times the shorter half edge from the vertex */
#define MOST_SHIFT_PX 0.8     /* of a sample */
#define LONG_PX 16.0           /* arcs and edges from there on have room to be measured along */
#define SHARP_BEND 0.1f        /* 1 / pixel; on gentler bends the steps of the raster would show */
#define STRAIGHT_PX 10.0      /* shorter edges say nothing about straightness */
#define ROOM 64u              /* vertices besides twice the polygon's */
#define STRAIGHT_BEND_PX 3.0  /* see is_straight */
#define N_MENDS 6             /* rounds of looking for pixel edges too far off */

void outline_free(outline *o)
{
    sw_free(o->nodes);
    sw_free(o->samples);
    *o = (outline){ 0 };
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

/* A corner, and not the bend of an arc. */
static bool is_sharp(const vertex *in, const vertex *v)
{
    if (fabs(v->turn) >= SHARP_TURN && sw_min(in->len, v->len) >= SHARP_SIDE_PX) return true;
    return fabs(v->turn) >= CORNER_TURN && reach_at(in, v) >= 1.0;
}

static void classify(vertex *v, size_t n, double tolerance_px)
{
    for (size_t i = 0; i < n; i++) {
        const vertex *const in = &v[wrap(i + n - 1, n)];
        v[i].is_corner = v[i].is_border || v[i].n_sharp >= MOST_SHARP || is_sharp(in, &v[i]);
        v[i].is_straight = is_along_border(&v[i], &v[wrap(i + 1, n)]) || is_straight(v, n, i, tolerance_px);
        const double most = CONTACT_RATIO * 0.5 * sw_min(in->len, v[i].len) / (double)(1u << v[i].n_sharp);
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

static bool add_sample(outline *o, pt p, pt along, double bend)
{
    void *at = o->samples;
    if (!sw_grow(&at, &o->cap_samples, o->m + 1, sizeof *o->samples)) return false;
    o->samples = at;
    const pt tangent = pt_unit(along);
    const double step = o->m == 0 ? 0.0 : pt_len(pt_sub(p, o->samples[o->m - 1].p));
    const double before = o->m == 0 ? 0.0 : o->samples[o->m - 1].s;
    o->samples[o->m] = (sample){ .p = p, .normal = { -tangent.y, tangent.x }, .s = before + step, .bend = (float)bend };
    o->m++;
    return true;
}

static bool add_node(outline *o, const node *add, double bend)
{
    void *at = o->nodes;
    if (!sw_grow(&at, &o->cap_nodes, o->n + 1, sizeof *o->nodes)) return false;
    o->nodes = at;
    o->nodes[o->n] = *add;
    o->nodes[o->n].sample = o->m;
    o->n++;
    return add_sample(o, add->p, pt_add(add->in, add->out), bend);
}

static pt cubic_point(pt a, pt b, pt c, pt d, double t)
{
    const pt ab = pt_mix(a, b, t), bc = pt_mix(b, c, t), cd = pt_mix(c, d, t);
    return pt_mix(pt_mix(ab, bc, t), pt_mix(bc, cd, t), t);
}

/* How far the mask's edge is along the normal to the inside. */
static bool shift_at(const mask_edge *edge, pt p, pt normal, double bend, double *shift)
{
    double off;
    if (!edge_offset(edge->mask, p, edge->is_outer ? normal : pt_mul(normal, -1.0), &off)) return false;
    *shift = (edge->is_outer ? off : -off) - edge_bend(bend);
    return true;
}

/* The same for the middle of an arc, a mean along it, because on a gentle bend the steps of the raster are long. */
static float arc_shift(const mask_edge *edge, pt a, pt b, pt c, pt d, double bend)
{
    double sum = 0.0, n = 0.0;
    for (int k = -2; k <= 2; k++) {
        const double t = 0.5 + 0.1 * k, s = 1.0 - t;
        const pt slope = pt_unit(pt_add(pt_add(pt_mul(pt_sub(b, a), s * s), pt_mul(pt_sub(c, b), 2.0 * s * t)),
                                        pt_mul(pt_sub(d, c), t * t)));
        double shift;
        if (!shift_at(edge, cubic_point(a, b, c, d, t), (pt){ -slope.y, slope.x }, bend, &shift)) continue;
        sum += shift;
        n += 1.0;
    }
    return n < 3.0 ? 0.0f : (float)(sum / n);
}

/* The vertex's corner node, or its arc from the contact before (already a node) to the contact after. */
static bool add_vertex(outline *o, const mask_edge *edge, const vertex *in, const vertex *v, double tolerance_px,
                       double *turn)
{
    const double turn_in = *turn;
    *turn += v->turn;
    if (v->is_corner) {
        const bool stands_out = sw_min(in->len, v->len) * sin(0.5 * fabs(v->turn)) > 1.2 * tolerance_px;
        return add_node(o, &(node){ .p = v->p, .in = in->dir, .out = v->dir, .turn_in = turn_in, .turn_out = *turn,
                                    .is_corner = true, .is_must = v->is_border || (stands_out && fabs(v->turn) >= MUST_TURN),
                                    .is_straight = v->is_straight }, 0.0);
    }
    const pt a = pt_sub(v->p, pt_mul(in->dir, v->before)), d = pt_add(v->p, pt_mul(v->dir, v->after));
    const double reach = sw_clamp(reach_of(pt_sub(v->p, pt_mul(in->dir, 2.0 * v->before)), v->p,
                                           pt_add(v->p, pt_mul(v->dir, 2.0 * v->after))), 0.55, 1.0);
    const pt b = pt_mix(a, v->p, reach), c = pt_mix(d, v->p, reach);
    node *const from = &o->nodes[o->n - 1];
    from->own_a = (float)(reach * v->before);
    from->own_b = (float)(reach * v->after);
    const bool is_kept = v->n_sharp > 0; /* it is where a pixel edge needs it, whatever the mask says when blurred */
    const double bend = is_kept ? 0.0 : v->turn / (v->before + v->after);
    const pt mid = cubic_point(a, b, c, d, 0.5);
    const pt slope = pt_add(pt_sub(c, a), pt_sub(d, b));
    const bool is_long = v->before + v->after > LONG_PX;
    const float shift = edge == NULL || !is_long || is_kept ? 0.0f : arc_shift(edge, a, b, c, d, bend);
    if (is_long && !add_sample(o, cubic_point(a, b, c, d, 0.25), pt_sub(c, a), bend)) return false;
    o->samples[o->m - 1].shift += is_long ? 0.8f * shift : 0.0f;
    if (!add_sample(o, mid, slope, bend)) return false;
    o->samples[o->m - 1].shift = shift;
    if (is_long && !add_sample(o, cubic_point(a, b, c, d, 0.75), pt_sub(d, b), bend)) return false;
    o->samples[o->m - 1].shift = is_long ? 0.8f * shift : shift;
    return add_node(o, &(node){ .p = d, .in = v->dir, .out = v->dir, .turn_in = *turn, .turn_out = *turn,
                                .is_straight = v->is_straight }, v->is_straight ? 0.0 : bend);
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
        if (!add_sample(o, pt_add(v->p, pt_mul(v->dir, along)), v->dir, 0.0)) return false;
    }
    if (next->is_corner) return true;
    return add_node(o, &(node){ .p = pt_sub(next->p, pt_mul(v->dir, next->before)), .in = v->dir, .out = v->dir,
                                .turn_in = turn, .turn_out = turn },
                    v->is_straight || next->n_sharp > 0 ? 0.0 : next->turn / (2.0 * next->before));
}

/* What a node between two arcs is off by. The edge it lies on is the least squares line of a piece of arc, and that
 * lies a third of the arc's height inside it, here length * turn / 24. */
static float chord_shift(const vertex *v, const vertex *next)
{
    if ((v->turn > 0.0) != (next->turn > 0.0) || v->len < LONG_PX || v->n_sharp + next->n_sharp > 0) return 0.0f;
    return (float)sw_clamp(-0.5 * (v->turn + next->turn) * v->len / 24.0, -0.4, 0.4);
}

/* Move what lies on bends to where the mask's edge runs. Corners and straight lines are there already. On sharp bends
 * the mask is asked point by point. */
static void true_samples(outline *o, const mask_edge *edge)
{
    const pt size = { (double)edge->mask->width_px, (double)edge->mask->height_px };
    for (size_t k = 0; k < o->m; k++) {
        sample *const s = &o->samples[k];
        double off = (double)s->shift;
        if (fabsf(s->bend) >= SHARP_BEND) (void)shift_at(edge, s->p, s->normal, (double)s->bend, &off);
        s->p = pt_within(size, pt_add(s->p, pt_mul(s->normal, sw_clamp(off, -MOST_SHIFT_PX, MOST_SHIFT_PX))));
    }
    for (size_t i = 0; i < o->n; i++) {
        node *const at = &o->nodes[i];
        if (!at->is_corner) at->p = o->samples[at->sample].p;
    }
    for (size_t k = 1; k < o->m; k++)
        o->samples[k].s = o->samples[k - 1].s + pt_len(pt_sub(o->samples[k].p, o->samples[k - 1].p));
}

bool outline_double(outline *o, double turn)
{
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

static bool fill(outline *o, vertex *v, size_t n, const mask_edge *edge, double tolerance_px)
{
    classify(v, n, tolerance_px);
    double turn = 0.0;
    /* the walk begins on the last edge, so that the first vertex finds its contact before */
    const vertex *const last = &v[n - 1];
    if (!v[0].is_corner && !add_node(o, &(node){ .p = pt_sub(v[0].p, pt_mul(last->dir, v[0].before)), .in = last->dir,
                                                 .out = last->dir }, last->is_straight ? 0.0 : v[0].turn / (v[0].before + v[0].after)))
        return false;
    for (size_t i = 0; i < n; i++) {
        const size_t before = v[i].is_corner ? o->m : o->m - 1; /* an arc begins at the contact that is there already */
        if (!add_vertex(o, edge, &v[wrap(i + n - 1, n)], &v[i], tolerance_px, &turn)) return false;
        for (size_t k = before; k < o->m; k++) o->samples[k].piece = (uint32_t)(2 * i + (k + 1 == o->m));
        const vertex *const next = &v[wrap(i + 1, n)];
        const size_t on_edge = o->m;
        if (do_meet(&v[i], next)) o->samples[o->m - 1].shift = chord_shift(&v[i], next);
        if (!add_edge(o, &v[i], next, turn)) return false;
        for (size_t k = on_edge; k < o->m; k++) o->samples[k].piece = (uint32_t)(2 * i + 1);
        if (i + 1 < n || next->is_corner) continue;
        if (do_meet(&v[i], next)) o->nodes[0].is_straight = v[i].is_straight;
        o->samples[0].shift = o->samples[o->m - 1].shift;
        o->n--; /* the contact before vertex 0 came first already */
        o->m--;
    }
    if (edge != NULL) true_samples(o, edge);
    for (size_t k = 0; k < o->m; k++) o->samples[k].w_in = o->samples[k].w_out = (float)(1.0 / (tolerance_px * tolerance_px));
    return outline_double(o, turn);
}

bool outline_make(const pt *p, size_t n, const mask_edge *edge, double tolerance_px, bool is_plain, outline *out)
{
    outline made = { 0 };
    bool is_ok = false;
    const size_t room = 2 * n + ROOM; /* for bumps */
    vertices g = { .v = sw_alloc_array(room, sizeof *g.v), .room = room };
    if (g.v == NULL) goto cleanup;
    g.n = polygon_true(p, n, edge, tolerance_px, is_plain, g.v, room);
    if (g.n == 0 || !fill(&made, g.v, g.n, is_plain ? NULL : edge, tolerance_px)) goto cleanup;
    for (int round = 0; !is_plain; round++) {
        size_t n_mended;
        if (!limit_by_pixels(&made, edge, tolerance_px, &g, &n_mended)) goto cleanup;
        if (n_mended == 0 || round == N_MENDS) break;
        polygon_measure(g.v, g.n);
        made.n = made.m = 0;
        if (!fill(&made, g.v, g.n, edge, tolerance_px)) goto cleanup;
    }
    *out = made;
    made = (outline){ 0 };
    is_ok = true;
cleanup:
    outline_free(&made);
    sw_free(g.v);
    return is_ok;
}
