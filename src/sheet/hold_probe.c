/* What one more beam would do, without solving anew: a beam adds three modes to the stiffness K, so the change follows from
 * K's inverse between those modes and the places asked for (Sherman and Morrison 1950, Woodbury 1950). With K eliminated,
 * u K^-1 w is a sum over the nodes that both reach on their way through the elimination, which are few. */
#include "sheet/hold_rows.h"

#define N_VECTORS (HOLD_MODES + 1) /* the place last */

typedef struct probe_node {
    uint32_t node;
    size_t turn;
    double w[N_VECTORS][3]; /* each vector's part that has come here */
} probe_node;

/* Nodes reached and not gone through yet: a heap, the earliest turn on top. */
typedef struct probe {
    const hold_net *net;
    probe_node *heap;
    size_t n, cap;
    double on_modes[HOLD_MODES][HOLD_MODES], on_place[HOLD_MODES]; /* what the beam's modes do to each other and to the place */
} probe;

static void sift_down(probe *p, size_t i)
{
    for (;;) {
        size_t least = 2 * i + 1;
        if (least >= p->n) return;
        if (least + 1 < p->n && p->heap[least + 1].turn < p->heap[least].turn) least++;
        if (p->heap[i].turn <= p->heap[least].turn) return;
        const probe_node moved = p->heap[i];
        p->heap[i] = p->heap[least];
        p->heap[least] = moved;
        i = least;
    }
}

/* The entry of a node, made if it is not there; NULL when memory is out. Few are there at a time. */
static probe_node *entry_of(probe *p, uint32_t node)
{
    for (size_t i = 0; i < p->n; i++)
        if (p->heap[i].node == node) return &p->heap[i];
    void *heap = p->heap;
    const bool is_grown = sw_grow(&heap, &p->cap, p->n + 1, sizeof *p->heap);
    p->heap = heap;
    if (!is_grown) return NULL;
    size_t i = p->n++;
    const probe_node made = { .node = node, .turn = p->net->keep->rows[node].turn };
    for (; i > 0 && p->heap[(i - 1) / 2].turn > made.turn; i = (i - 1) / 2) p->heap[i] = p->heap[(i - 1) / 2];
    p->heap[i] = made;
    return &p->heap[i];
}

/* Add three numbers of a vector at a node; nothing at the root, which does not move. */
static bool add_part(probe *p, uint32_t node, size_t vector, const double part[3])
{
    if (node == HOLD_ROOT) return true;
    probe_node *const at = entry_of(p, node);
    if (at == NULL) return false;
    for (size_t c = 0; c < 3; c++) at->w[vector][c] += part[c];
    return true;
}

static bool begin(probe *p, const double g[HOLD_MODES][6], const hold_link *link, uint32_t node, sw_pt_mm at)
{
    const sw_pt_mm middle = p->net->nodes[node].middle;
    const double place[3] = { 1.0, at.x_mm - middle.x_mm, at.y_mm - middle.y_mm };
    for (size_t m = 0; m < HOLD_MODES; m++)
        if (!add_part(p, link->a, m, g[m]) || !add_part(p, link->b, m, g[m] + 3)) return false;
    return add_part(p, node, HOLD_MODES, place);
}

static double dot(const double a[3], const double b[3]) { return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]; }

/* Go through one node as elimination did: count what meets there, pass the rest on. */
static bool pass_on(probe *p, const probe_node *at)
{
    const hold_row *const r = &p->net->keep->rows[at->node];
    double y[N_VECTORS][3];
    for (size_t v = 0; v < N_VECTORS; v++)
        for (size_t c = 0; c < 3; c++) y[v][c] = dot(r->d + 3 * c, at->w[v]);
    for (size_t m = 0; m < HOLD_MODES; m++) {
        for (size_t k = 0; k < HOLD_MODES; k++) p->on_modes[k][m] += dot(at->w[k], y[m]);
        p->on_place[m] += dot(at->w[HOLD_MODES], y[m]);
    }
    for (size_t i = 0; i < r->n; i++) {
        probe_node *const to = entry_of(p, r->at[i].to);
        if (to == NULL) return false;
        const double *const b = r->at[i].k;
        for (size_t v = 0; v < N_VECTORS; v++)
            for (size_t c = 0; c < 3; c++) to->w[v][c] -= b[c] * y[v][0] + b[3 + c] * y[v][1] + b[6 + c] * y[v][2];
    }
    return true;
}

/* How far each mode of the beam is strained as things hang now. */
static double strain(const hold_net *net, const hold_link *link, const double g[6])
{
    const hold_node *const a = &net->nodes[link->a], *const b = &net->nodes[link->b];
    const double at_a[3] = { a->sink_mm, a->slope_x, a->slope_y }, at_b[3] = { b->sink_mm, b->slope_x, b->slope_y };
    return (link->a != HOLD_ROOT ? dot(g, at_a) : 0.0) + (link->b != HOLD_ROOT ? dot(g + 3, at_b) : 0.0);
}

bool hold_probe(const hold_net *net, const hold_link *link, uint32_t node, sw_pt_mm at, double *pull_mm)
{
    probe p = { .net = net };
    double rigidity[HOLD_MODES], g[HOLD_MODES][6], core[9], force[HOLD_MODES] = { 0 };
    hold_link_modes(net, link, rigidity, g);
    bool is_done = begin(&p, g, link, node, at);
    while (is_done && p.n > 0) {
        const probe_node top = p.heap[0];
        p.heap[0] = p.heap[--p.n];
        sift_down(&p, 0);
        is_done = pass_on(&p, &top);
    }
    sw_free(p.heap);
    if (!is_done) return false;
    for (size_t i = 0; i < 9; i++) core[i] = p.on_modes[i / 3][i % 3] + (i % 4 == 0 ? 1.0 / rigidity[i / 3] : 0.0);
    hold_invert(core);
    for (size_t m = 0; m < HOLD_MODES; m++)
        for (size_t k = 0; k < HOLD_MODES; k++) force[m] += core[3 * m + k] * strain(net, link, g[k]);
    *pull_mm = hold_pull_mm(net, node, at) - dot(p.on_place, force);
    return true;
}
