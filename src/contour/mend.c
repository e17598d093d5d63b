/* An outline against the pixel edges it runs along: how far its curve may stray on each side, and a polygon mended where a
 * pixel edge is too far off already.
 *
 * Rounding cuts corners, and the raster's blurred edge passes lone pixels by. Where that leaves a pixel edge too far off, the
 * vertex there is rounded by half as much, in the end not at all, or moved, or a new one is put in; the other vertices
 * stay as they are, so that a small tolerance makes no rough curve but where it has to. */
#include <string.h>

#include "contour/shared.h"

#define LEAST_PX 0.15    /* a limit is not tightened below this */
#define TOO_FAR_PX 0.1   /* past the farthest allowed, a polygon is mended */
#define CURVE_TOO_FAR_PX 0.25 /* past it, a segment is fitted anew */
#define WALK_PX 0.05     /* chords of a fitted curve are that near to it */
#define SLACK_PX 0.15    /* a vertex that moves leaves that much room for rounding it */
#define LEAST_MOVE_PX 0.02 /* and is made sharper instead where it would hardly move */
#define END_PX 2.5       /* as near to an edge's end its vertex moves and no new one is put in */

typedef struct stray {
    pt at;
    double off; /* from the outline, positive towards the inside; 0 if none is too far */
} stray;

typedef struct measuring {
    const outline *o;
    ledge_range *of_chord;
    stray *of_piece;
    double too_far;
    bool is_any;
} measuring;

static void take_pixel(void *ctx, pt middle, size_t chord, double off)
{
    measuring *const m = ctx;
    widen_range(&m->of_chord[chord], 0.0, off);
    if (fabs(off) <= m->too_far) return;
    stray *const s = &m->of_piece[m->o->samples[chord].piece];
    if (fabs(off) > fabs(s->off)) *s = (stray){ middle, off };
    m->is_any = true;
}

static float weight_of(double most, double ledge, double tolerance_px)
{
    const double limit = sw_clamp(most - ledge, sw_min(LEAST_PX, tolerance_px), tolerance_px);
    return (float)(1.0 / (limit * limit));
}

static void set_limits(outline *o, const ledge_range *of_chord, double tolerance_px)
{
    const double most = ledge_most(tolerance_px);
    for (size_t k = 0; k < o->m; k++) {
        const float in = weight_of(most, of_chord[k].out, tolerance_px), out = weight_of(most, of_chord[k].in, tolerance_px);
        for (size_t j = k; j <= k + 1; j++) {
            o->samples[j].w_in = fmaxf(o->samples[j].w_in, in);
            o->samples[j].w_out = fmaxf(o->samples[j].w_out, out);
        }
    }
    o->samples[0].w_in = fmaxf(o->samples[0].w_in, o->samples[o->m].w_in);
    o->samples[0].w_out = fmaxf(o->samples[0].w_out, o->samples[o->m].w_out);
    for (size_t k = 0; k <= o->m; k++) { /* the second round is the first again */
        o->samples[o->m + k].w_in = o->samples[k == o->m ? 0 : k].w_in;
        o->samples[o->m + k].w_out = o->samples[k == o->m ? 0 : k].w_out;
    }
}

/* From the nearest point of a polygon's edge to q. */
static pt from_edge(const vertices *g, size_t i, pt q)
{
    const vertex *const e = &g->v[i];
    const pt to = pt_sub(q, e->p);
    return pt_sub(to, pt_mul(e->dir, sw_clamp(pt_dot(to, e->dir), 0.0, e->len)));
}

/* Move a vertex so far along the way that a pixel edge is within what is left of it. */
static bool pull(vertex *v, pt way, double most)
{
    const double len = pt_len(way), excess = len - (most - SLACK_PX);
    if (v->is_border || excess < LEAST_MOVE_PX) return false;
    v->p = pt_add(v->p, pt_mul(way, excess / len));
    v->n_sharp = v->n_sharp > 0 ? v->n_sharp : 1;
    return true;
}

/* The arc at vertex i is too far off. */
static bool mend_vertex(vertices *g, size_t i, const stray *s, double most)
{
    vertex *const v = &g->v[i];
    const pt before = from_edge(g, wrap(i + g->n - 1, g->n), s->at), after = from_edge(g, i, s->at);
    if (pull(v, pt_len(before) < pt_len(after) ? before : after, most)) return true;
    if (v->is_border || v->n_sharp >= MOST_SHARP) return false;
    v->n_sharp++;
    return true;
}

/* The line after vertex i is too far off. */
static bool mend_edge(vertices *g, size_t i, const stray *s, double most)
{
    vertex *const start = &g->v[i], *const end = &g->v[wrap(i + 1, g->n)];
    const double along = pt_dot(pt_sub(s->at, start->p), start->dir);
    const pt way = from_edge(g, i, s->at);
    if (start->is_border && end->is_border) return false;
    if (along < END_PX) return pull(start, way, most);
    if (along > start->len - END_PX) return pull(end, way, most);
    vertex add = { .p = pt_add(start->p, pt_mul(start->dir, along)) };
    if (g->n == g->room || !pull(&add, way, most)) return false;
    memmove(&g->v[i + 2], &g->v[i + 1], (g->n - i - 1) * sizeof *g->v);
    g->v[i + 1] = add;
    g->n++;
    return true;
}

/* From the last piece to the first, so that new vertices change no number still to come. */
static size_t mend(vertices *g, const stray *of_piece, double most)
{
    size_t n_mended = 0;
    for (size_t k = 2 * g->n; k-- > 0;) {
        if (of_piece[k].off == 0.0) continue;
        n_mended += k % 2 == 0 ? mend_vertex(g, k / 2, &of_piece[k], most) : mend_edge(g, k / 2, &of_piece[k], most);
    }
    return n_mended;
}

bool limit_by_pixels(outline *o, const mask_edge *edge, double tolerance_px, vertices *g, size_t *n_mended)
{
    const double most = ledge_most(tolerance_px);
    pt *const ring = sw_alloc_raw(o->m, sizeof *ring);
    measuring m = { .o = o, .too_far = most + TOO_FAR_PX, .of_chord = sw_alloc_array(o->m, sizeof *m.of_chord),
                    .of_piece = sw_alloc_array(2 * g->n, sizeof *m.of_piece) };
    const bool is_ok = ring != NULL && m.of_chord != NULL && m.of_piece != NULL;
    if (is_ok) {
        for (size_t k = 0; k < o->m; k++) ring[k] = o->samples[k].p;
        visit_pixels(edge->path, ring, o->m, take_pixel, &m);
        set_limits(o, m.of_chord, tolerance_px);
        *n_mended = m.is_any ? mend(g, m.of_piece, most) : 0;
    }
    sw_free(ring);
    sw_free(m.of_chord);
    sw_free(m.of_piece);
    return is_ok;
}

/* ---- the fitted curve -------------------------------------------------------------------------------------------- */

typedef struct fitted_ring {
    pt *at;
    uint32_t *segment; /* that the point begins a chord of */
    size_t n, cap, cap_segment;
    uint32_t now;
    double too_far;
    bool *is_far; /* by segment */
} fitted_ring;

static bool add_ring_point(void *ctx, sw_pt_mm p)
{
    fitted_ring *const r = ctx;
    void *at = r->at, *segment = r->segment;
    if (!sw_grow(&at, &r->cap, r->n + 1, sizeof *r->at)) return false;
    r->at = at;
    if (!sw_grow(&segment, &r->cap_segment, r->n + 1, sizeof *r->segment)) return false;
    r->segment = segment;
    r->at[r->n] = (pt){ p.x_mm, p.y_mm };
    r->segment[r->n++] = r->now;
    return true;
}

static bool make_ring(const sw_contour *c, fitted_ring *r)
{
    sw_pt_mm p0 = c->start;
    for (size_t k = 0; k < c->n_segs; k++) {
        r->now = (uint32_t)k;
        if (!sw_contour_flatten(&(sw_contour){ .start = p0, .segs = &c->segs[k], .n_segs = 1 }, WALK_PX, add_ring_point, r))
            return false;
        p0 = c->segs[k].end;
    }
    return true;
}

static void mark_far(void *ctx, pt middle, size_t chord, double off)
{
    const fitted_ring *const r = ctx;
    (void)middle;
    if (fabs(off) > r->too_far) r->is_far[r->segment[chord]] = true;
}

/* A node at the middle sample between node i and the next, in both rounds. False: out of memory. */
static bool split_piece(outline *o, size_t i)
{
    const node a = o->nodes[i], b = o->nodes[i + 1];
    if (b.sample < a.sample + 2 || a.own_a == 0.0f) return true;
    void *nodes = o->nodes;
    if (!sw_grow(&nodes, &o->cap_nodes, 2 * o->n + 3, sizeof *o->nodes)) return false;
    o->nodes = nodes;
    const size_t k = (a.sample + b.sample) / 2;
    const pt before = o->samples[k - 1].p, p = o->samples[k].p, after = o->samples[k + 1].p;
    const pt along = pt_unit(pt_sub(after, before));
    const double turn = 0.5 * (a.turn_out + b.turn_in), round = o->nodes[o->n].turn_in - o->nodes[0].turn_in;
    node add = { .p = p, .in = along, .out = along, .sample = k, .turn_in = turn, .turn_out = turn,
                 .own_a = (float)(pt_len(pt_sub(b.p, p)) / 3.0), .own_b = (float)(pt_len(pt_sub(b.p, p)) / 3.0) };
    o->nodes[i].own_a = o->nodes[i].own_b = (float)(pt_len(pt_sub(p, a.p)) / 3.0);
    memmove(&o->nodes[i + 2], &o->nodes[i + 1], (2 * o->n - i) * sizeof *o->nodes);
    o->nodes[i + 1] = add;
    o->n++; /* node i of the second round is now at o->n + i */
    const size_t again = o->n + i;
    o->nodes[again].own_a = o->nodes[again].own_b = o->nodes[i].own_a;
    memmove(&o->nodes[again + 2], &o->nodes[again + 1], (2 * o->n - 1 - again) * sizeof *o->nodes);
    add.sample += o->m;
    add.turn_in += round;
    add.turn_out += round;
    o->nodes[again + 1] = add;
    return true;
}

/* A piece of outline that has no cubic within the limits is drawn as it is, and then not through its samples: give those
 * a node in the middle. From the last to the first, so that new nodes change no number still to come. */
static bool split_far(shape *s, const bool *is_far)
{
    const size_t n = s->o.n;
    bool *const is_due = sw_alloc_array(n, sizeof *is_due);
    bool is_ok = is_due != NULL;
    for (size_t k = 0; k < s->fitted.n_segs && is_ok; k++)
        is_due[s->from[k]] = is_far[k] && wrap(s->from[k] + 1, n) == s->from[k + 1];
    for (size_t i = n; i-- > 0 && is_ok;) is_ok = !is_due[i] || split_piece(&s->o, i);
    sw_free(is_due);
    return is_ok;
}

bool tighten_far(shape *s, double tolerance_px, bool *is_far)
{
    const size_t n = s->fitted.n_segs;
    fitted_ring r = { .too_far = ledge_most(tolerance_px) + CURVE_TOO_FAR_PX, .is_far = sw_alloc_array(n + 1, sizeof *r.is_far) };
    bool is_ok = r.is_far != NULL && make_ring(&s->fitted, &r);
    *is_far = false;
    if (is_ok) visit_pixels(&s->path, r.at, r.n, mark_far, &r);
    for (size_t k = 0; k < n && is_ok; k++) {
        if (!r.is_far[k]) continue;
        if (s->borrowed != NULL) blame_borrowed(s, (uint32_t)k);
        if (s->o.nodes[s->from[k]].given != NULL) { /* limits do not change it */
            r.is_far[k] = false;
            continue;
        }
        tighten_segment(s, (uint32_t)k);
        *is_far = true;
    }
    if (is_ok && *is_far) is_ok = split_far(s, r.is_far);
    sw_free(r.at);
    sw_free(r.segment);
    sw_free(r.is_far);
    return is_ok;
}
