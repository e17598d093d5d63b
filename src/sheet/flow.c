/*
 * Minimum cut. Nearly every node of a picture's region graph is decided by itself: its pull to one terminal is at
 * least all its other edges together. Those are fixed first, their edges becoming pulls on their neighbours, until no
 * such node is left; the hard rest goes to Dinic's method with all nodes that have a surplus as sources.
 */
#include "sheet/flow.h"

#define UNDECIDED 2
#define MAX_PHASES 1000 /* Dinic needs tens; a graph made to be hard gets a good cut in place of the best one */

typedef struct arc {
    uint32_t to, twin; /* node, index of the reverse arc */
    int64_t left;      /* what still fits through */
} arc;

typedef struct flow {
    size_t n;
    size_t *first;   /* n + 1: arcs of node i */
    arc *arcs;
    int64_t *surplus; /* above 0: still to be sent from the source; below: the sink still takes this much */
    int64_t *around;  /* sum of a node's arcs to undecided nodes */
    uint8_t *side;
    uint32_t *queue, *level;
    size_t *next;     /* arc to try next */
} flow;

static void flow_free(flow *f)
{
    sw_free(f->first);
    sw_free(f->arcs);
    sw_free(f->surplus);
    sw_free(f->around);
    sw_free(f->queue);
    sw_free(f->level);
    sw_free(f->next);
    *f = (flow){ 0 };
}

static bool flow_make(flow *f, size_t n, size_t n_edges)
{
    f->n = n;
    f->first = sw_alloc_array(n + 2, sizeof *f->first);
    f->arcs = sw_alloc_array(2 * n_edges + 1, sizeof *f->arcs);
    f->surplus = sw_alloc_array(n, sizeof *f->surplus);
    f->around = sw_alloc_array(n, sizeof *f->around);
    f->queue = sw_alloc_array(n, sizeof *f->queue);
    f->level = sw_alloc_array(n, sizeof *f->level);
    f->next = sw_alloc_array(n, sizeof *f->next);
    return f->first != NULL && f->arcs != NULL && f->surplus != NULL && f->around != NULL && f->queue != NULL &&
           f->level != NULL && f->next != NULL;
}

static void link_edges(flow *f, const sw_flow_edge *edges, size_t n_edges)
{
    size_t *const fill = f->first + 1; /* first[i + 1] serves as the fill mark of node i and ends as its end */
    for (size_t i = 0; i < n_edges; i++) {
        if (edges[i].a + 1 < f->n) fill[edges[i].a + 1]++;
        if (edges[i].b + 1 < f->n) fill[edges[i].b + 1]++;
    }
    for (size_t i = 1; i < f->n; i++) fill[i] += fill[i - 1];
    for (size_t i = 0; i < n_edges; i++) {
        const uint32_t a = edges[i].a, b = edges[i].b;
        const uint32_t at_a = (uint32_t)fill[a]++, at_b = (uint32_t)fill[b]++;
        f->arcs[at_a] = (arc){ .to = b, .twin = at_b, .left = edges[i].weight };
        f->arcs[at_b] = (arc){ .to = a, .twin = at_a, .left = edges[i].weight };
        f->around[a] += edges[i].weight;
        f->around[b] += edges[i].weight;
    }
}

/* Fix nodes whose own pull is at least all that could pull the other way. */
static void fix_obvious(flow *f)
{
    size_t head = 0, tail = 0;
    for (size_t i = 0; i < f->n; i++) {
        f->side[i] = UNDECIDED;
        if (f->surplus[i] > f->around[i] || -f->surplus[i] >= f->around[i]) {
            f->side[i] = f->surplus[i] > f->around[i];
            f->queue[tail++] = (uint32_t)i;
        }
    }
    while (head < tail) {
        const uint32_t i = f->queue[head++];
        for (size_t k = f->first[i]; k < f->first[i + 1]; k++) {
            const uint32_t j = f->arcs[k].to;
            if (f->side[j] != UNDECIDED) continue;
            f->around[j] -= f->arcs[k].left;
            f->surplus[j] += f->side[i] == 1 ? f->arcs[k].left : -f->arcs[k].left;
            if (f->surplus[j] > f->around[j] || -f->surplus[j] >= f->around[j]) {
                f->side[j] = f->surplus[j] > f->around[j];
                f->queue[tail++] = j;
            }
        }
    }
}

/* Levels from all nodes with a surplus; true if one that the sink drains was reached. */
static bool find_levels(flow *f)
{
    size_t head = 0, tail = 0;
    bool is_reached = false;
    for (size_t i = 0; i < f->n; i++) {
        f->level[i] = UINT32_MAX;
        f->next[i] = f->first[i];
        if (f->side[i] != UNDECIDED || f->surplus[i] <= 0) continue;
        f->level[i] = 0;
        f->queue[tail++] = (uint32_t)i;
    }
    while (head < tail) {
        const uint32_t i = f->queue[head++];
        is_reached = is_reached || f->surplus[i] < 0;
        for (size_t k = f->first[i]; k < f->first[i + 1]; k++) {
            const uint32_t j = f->arcs[k].to;
            if (f->arcs[k].left == 0 || f->side[j] != UNDECIDED || f->level[j] != UINT32_MAX) continue;
            f->level[j] = f->level[i] + 1;
            f->queue[tail++] = j;
        }
    }
    return is_reached;
}

/* One path from node start to a node that the sink drains, along rising levels; queue holds the arcs of the path.
 * Returns false when start can send no more in this phase. */
static bool send_one(flow *f, uint32_t start)
{
    size_t depth = 0;
    uint32_t i = start;
    while (f->surplus[i] >= 0) {
        while (f->next[i] < f->first[i + 1]) {
            const arc *const a = &f->arcs[f->next[i]];
            if (a->left > 0 && f->side[a->to] == UNDECIDED && f->level[a->to] == f->level[i] + 1) break;
            f->next[i]++;
        }
        if (f->next[i] < f->first[i + 1]) {
            f->queue[depth++] = (uint32_t)f->next[i];
            i = f->arcs[f->next[i]].to;
            continue;
        }
        if (depth == 0) return false;
        i = f->arcs[f->arcs[f->queue[--depth]].twin].to;
        f->next[i]++;
    }
    int64_t amount = f->surplus[start] < -f->surplus[i] ? f->surplus[start] : -f->surplus[i];
    for (size_t k = 0; k < depth; k++)
        if (f->arcs[f->queue[k]].left < amount) amount = f->arcs[f->queue[k]].left;
    for (size_t k = 0; k < depth; k++) {
        arc *const a = &f->arcs[f->queue[k]];
        a->left -= amount;
        f->arcs[a->twin].left += amount;
    }
    f->surplus[start] -= amount;
    f->surplus[i] += amount;
    return true;
}

static void dinic(flow *f)
{
    for (int phase = 0; phase < MAX_PHASES && find_levels(f); phase++)
        for (size_t i = 0; i < f->n; i++)
            while (f->side[i] == UNDECIDED && f->surplus[i] > 0 && send_one(f, (uint32_t)i)) {}
    /* what can still be reached is the source side */
    (void)find_levels(f);
    for (size_t i = 0; i < f->n; i++)
        if (f->side[i] == UNDECIDED) f->side[i] = f->level[i] != UINT32_MAX;
}

sw_status sw_flow_cut(size_t n, const uint64_t *source, const uint64_t *sink, const sw_flow_edge *edges,
                      size_t n_edges, uint8_t *side, sw_note *note)
{
    flow f = { 0 };
    sw_status st = SW_OK;
    if (n == 0) goto cleanup;
    if (!flow_make(&f, n, n_edges)) {
        st = sw_fail_memory(note, "the least cut");
        goto cleanup;
    }
    f.side = side;
    for (size_t i = 0; i < n; i++) f.surplus[i] = (int64_t)source[i] - (int64_t)sink[i];
    link_edges(&f, edges, n_edges);
    fix_obvious(&f);
    dinic(&f);
cleanup:
    flow_free(&f);
    return st;
}
