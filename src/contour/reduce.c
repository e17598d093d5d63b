/* The fewest segments for an outline.
 *
 * Dynamic programming over the outline's nodes: every stretch that one segment can follow within tolerance is an
 * arc of a graph, the cheapest way once round is the answer; cost is one a segment, and its error breaks ties. The
 * way round has no natural beginning: every node that the shortest reach from some node passes is tried as one. */
#include "contour/outline.h"

#include <assert.h>

#define MAX_TURN 3.0    /* radians in one segment; 170 degrees, beyond that it is hard to edit */
#define N_MISSES 3      /* fits tried past the last that failed, before a node's spans are taken to end */
#define ERROR_WEIGHT 1e-5 /* of the worst squared distance over limit: the sum over any contour stays below one segment */

typedef struct graph {
    span *spans;    /* those of node i: first[i]..first[i + 1] */
    size_t *first;  /* n + 1 */
    size_t n_spans, cap_spans;
} graph;

static bool keep_span(graph *g, const span *add)
{
    void *at = g->spans;
    if (!sw_grow(&at, &g->cap_spans, g->n_spans + 1, sizeof *g->spans)) return false;
    g->spans = at;
    g->spans[g->n_spans++] = *add;
    return true;
}

/* The outline itself between neighbouring nodes: always there, so that a way round exists. */
static span own_piece(const outline *o, size_t i)
{
    const node *const from = &o->nodes[i];
    return (span){ .a = from->own_a, .b = from->own_b, .is_line = from->own_a == 0.0f, .end = (uint32_t)(i + 1) };
}

static bool find_spans(const outline *o, size_t i, graph *g)
{
    int n_missed = 0;
    const size_t before = g->n_spans;
    const node *const from = &o->nodes[i];
    for (size_t j = i + 1; j <= i + o->n && n_missed < N_MISSES && from->given == NULL; j++) {
        const node *const to = &o->nodes[j];
        const double turn = to->turn_in - from->turn_out;
        span found;
        if (fabs(turn) <= MAX_TURN && j < i + o->n && fit_span(o, i, j, &found)) {
            n_missed = 0;
            if (!keep_span(g, &found)) return false;
        } else {
            n_missed++;
        }
        if (to->is_must || to->is_straight || from->is_straight) break;
    }
    if (g->n_spans > before && g->spans[before].end == i + 1) return true;
    const span piece = own_piece(o, i);
    return keep_span(g, &piece);
}

static bool make_graph(const outline *o, graph *g)
{
    g->first = sw_alloc_array(o->n + 1, sizeof *g->first);
    if (g->first == NULL) return false;
    for (size_t i = 0; i < o->n; i++) {
        g->first[i] = g->n_spans;
        if (!find_spans(o, i, g)) return false;
    }
    g->first[o->n] = g->n_spans;
    return true;
}

typedef struct way {
    double *cost;   /* to each node of a round from the start, n + 1 */
    uint32_t *used; /* span that came last */
} way;

/* Cheapest way once round from node start. */
static double go_round(const outline *o, const graph *g, size_t start, way *w)
{
    for (size_t k = 0; k <= o->n; k++) w->cost[k] = HUGE_VAL;
    w->cost[0] = 0.0;
    for (size_t k = 0; k < o->n; k++) {
        const size_t i = start + k < o->n ? start + k : start + k - o->n;
        if (w->cost[k] == HUGE_VAL) continue;
        for (size_t e = g->first[i]; e < g->first[i + 1]; e++) {
            const span *const s = &g->spans[e];
            const size_t to = k + (s->end - i);
            if (to > o->n) continue;
            const double cost = w->cost[k] + 1.0 + ERROR_WEIGHT * (double)s->error - (double)o->nodes[s->end].wish;
            if (cost < w->cost[to]) {
                w->cost[to] = cost;
                w->used[to] = (uint32_t)e;
            }
        }
    }
    return w->cost[o->n];
}

static size_t reach_of_node(const graph *g, size_t i)
{
    size_t most = 0;
    for (size_t e = g->first[i]; e < g->first[i + 1]; e++) most = sw_max_size(most, g->spans[e].end - i);
    return most;
}

/* Leaves the best way in w and returns its start. */
static size_t best_round(const outline *o, const graph *g, way *w)
{
    size_t start = 0, reach = SIZE_MAX;
    assert(o->n > 0);
    for (size_t i = 0; i < o->n; i++) {
        if (o->nodes[i].is_must) {
            go_round(o, g, i, w);
            return i;
        }
        const size_t r = reach_of_node(g, i);
        if (r < reach) {
            reach = r;
            start = i;
        }
    }
    size_t best = start;
    double least = HUGE_VAL;
    for (size_t k = 0; k <= reach; k++) { /* the way has a node among these */
        const size_t i = (start + k) % o->n;
        const double cost = go_round(o, g, i, w);
        if (cost < least) {
            least = cost;
            best = i;
        }
    }
    go_round(o, g, best, w);
    return best;
}

static sw_pt_mm as_point(pt p) { return (sw_pt_mm){ p.x, p.y }; }

static pt chord_of(const outline *o, size_t i, const span *s) { return pt_unit(pt_sub(o->nodes[s->end].p, o->nodes[i].p)); }

/* Write the segment from node i. Beside a line a smooth node has the line's own direction, not one a hair beside it;
 * before, after: the neighbours, and the node that before begins at. */
static bool write_span(const outline *o, size_t i, const span *s, size_t before_node, const span *before,
                       const span *after, sw_contour *out)
{
    const node *const from = &o->nodes[i], *const to = &o->nodes[s->end];
    bool is_corner = to->is_corner;
    bool is_ok;
    if (s->is_line) {
        is_corner = is_corner || after->is_line; /* two lines make a corner, however flat */
        is_ok = sw_contour_add_line(out, as_point(to->p));
    } else if (from->given != NULL) {
        is_ok = sw_contour_add_cubic(out, from->given->c1, from->given->c2, as_point(to->p));
    } else {
        const pt t0 = before->is_line && !from->is_corner ? chord_of(o, before_node, before) : from->out;
        const pt t3 = after->is_line && !to->is_corner ? chord_of(o, s->end % o->n, after) : to->in;
        is_ok = sw_contour_add_cubic(out, as_point(pt_add(from->p, pt_mul(t0, (double)s->a))),
                                     as_point(pt_sub(to->p, pt_mul(t3, (double)s->b))), as_point(to->p));
    }
    if (is_ok) out->segs[out->n_segs - 1].is_corner = is_corner;
    return is_ok;
}

/* The spans of the way in order, into list (n of them at most); returns how many. */
static size_t unroll(const outline *o, const graph *g, const way *w, uint32_t *list)
{
    size_t n = 0;
    for (size_t k = o->n; k > 0;) {
        const uint32_t e = w->used[k];
        list[n++] = e;
        size_t from = 0, high = o->n; /* the node whose spans hold e */
        while (high - from > 1) {
            const size_t mid = (from + high) / 2;
            if (g->first[mid] <= e) from = mid;
            else high = mid;
        }
        k -= g->spans[e].end - from;
    }
    for (size_t a = 0, b = n; a + 1 < b; a++) {
        b--;
        const uint32_t e = list[a];
        list[a] = list[b];
        list[b] = e;
    }
    return n;
}

/* Its segments stand for a quarter of the nodes each: near enough to say where to look closer. */
static bool reduce_ellipse(const outline *o, sw_contour *out, uint32_t **nodes)
{
    sw_contour made = { 0 };
    uint32_t *const list = sw_alloc_array(5, sizeof *list);
    const bool is_ok = list != NULL && draw_ellipse(o, &made);
    for (size_t k = 0; k < 4 && is_ok; k++) list[k] = (uint32_t)(k * o->n / 4);
    if (is_ok) {
        *out = made;
        *nodes = list;
    } else {
        sw_contour_free(&made);
        sw_free(list);
    }
    return is_ok;
}

static bool write_way(const outline *o, const graph *g, const uint32_t *list, size_t n, size_t start, sw_contour *out)
{
    size_t before = start, i = start;
    for (size_t k = 0; k + 1 < n; k++) before = g->spans[list[k]].end % o->n; /* where the last span begins */
    for (size_t k = 0; k < n; k++) {
        const span *const s = &g->spans[list[k]];
        if (!write_span(o, i, s, before, &g->spans[list[k > 0 ? k - 1 : n - 1]], &g->spans[list[k + 1 < n ? k + 1 : 0]], out))
            return false;
        before = i;
        i = s->end % o->n;
    }
    return true;
}

static bool reduce_way(const outline *o, sw_contour *out, uint32_t **nodes)
{
    graph g = { 0 };
    way w = { 0 };
    uint32_t *list = NULL;
    sw_contour made = { 0 };
    bool is_ok = false;
    if (!make_graph(o, &g)) goto cleanup;
    w.cost = sw_alloc_array(o->n + 1, sizeof *w.cost);
    w.used = sw_alloc_array(o->n + 1, sizeof *w.used);
    list = sw_alloc_array(o->n + 1, sizeof *list);
    if (w.cost == NULL || w.used == NULL || list == NULL) goto cleanup;
    const size_t start = best_round(o, &g, &w);
    const size_t n = unroll(o, &g, &w, list);
    made.start = as_point(o->nodes[start].p);
    if (!write_way(o, &g, list, n, start, &made)) goto cleanup;
    for (size_t k = 0, i = start; k < n; k++) { /* from spans to the nodes they begin at */
        const size_t next = g.spans[list[k]].end % o->n;
        list[k] = (uint32_t)i;
        i = next;
    }
    list[n] = (uint32_t)start;
    *out = made;
    made = (sw_contour){ 0 };
    *nodes = list;
    list = NULL;
    is_ok = true;
cleanup:
    sw_contour_free(&made);
    sw_free(list);
    sw_free(w.used);
    sw_free(w.cost);
    sw_free(g.first);
    sw_free(g.spans);
    return is_ok;
}

bool reduce_outline(const outline *o, sw_contour *out, uint32_t **nodes)
{
    return find_ellipse(o) ? reduce_ellipse(o, out, nodes) : reduce_way(o, out, nodes);
}
