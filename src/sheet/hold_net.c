/* The beams' equations. Every node sinks and slopes two ways, so the matrix is of 3 x 3 blocks. Nets of webs are
 * nearly trees: nodes are eliminated in the order of how few others they touch, which leaves little fill.
 *
 * Beams of a millimetre stand beside ones of a hand's length, a million times softer, so nothing may be subtracted that
 * nearly cancels. A beam resists only what its ends do unlike each other: a row of the matrix applied to a motion of all
 * nodes as one rigid body leaves what holds the node to the root alone. That is kept, and passed on in elimination, in
 * place of the diagonal, which follows from it by sums (Grassmann, Taksar and Heyman 1985 do so for Markov chains, whose
 * rows sum to nothing). */
#include <math.h>
#include <stdatomic.h>
#include <string.h>

#include "sheet/hold_rows.h"

#define N_BUCKETS 64u  /* by degree; all beyond share the last */
#define NODES_AT_ONCE 2048u
#define LEAST_MM 0.5   /* shorter beams are taken as long as this: stiff enough, and no division by nothing */

typedef struct bucket {
    uint32_t *at;
    size_t n, cap;
} bucket;

typedef struct solver {
    hold_net *net;
    hold_row *rows;
    uint32_t *first, *incident; /* links of each node */
    uint32_t *order;            /* of elimination; scratch of searches before */
    size_t n_order;
    hold_block *merged;         /* scratch */
    size_t cap_merged;
    bucket buckets[N_BUCKETS];
    atomic_bool is_out;         /* of memory */
} solver;

static void solver_free(solver *s)
{
    sw_free(s->first);
    sw_free(s->incident);
    sw_free(s->order);
    sw_free(s->merged);
    for (size_t i = 0; i < N_BUCKETS; i++) sw_free(s->buckets[i].at);
}

/* ---- what hangs together, and on what ------------------------------------------------------------------ */

static bool list_links(solver *s)
{
    const hold_net *const net = s->net;
    s->first = sw_alloc_array(net->n_nodes + 2, sizeof *s->first);
    s->incident = sw_alloc_raw(2 * net->n_links + 1, sizeof *s->incident);
    s->order = sw_alloc_raw(net->n_nodes + 1, sizeof *s->order);
    if (s->first == NULL || s->incident == NULL || s->order == NULL) return false;
    uint32_t *const next = s->first + 1; /* becomes each node's end, the next one's begin */
    for (size_t i = 0; i < net->n_links; i++) {
        next[net->links[i].a + 1]++;
        next[net->links[i].b + 1]++;
    }
    for (size_t i = 1; i <= net->n_nodes; i++) next[i] += next[i - 1];
    for (size_t i = 0; i < net->n_links; i++) {
        s->incident[next[net->links[i].a]++] = (uint32_t)i;
        s->incident[next[net->links[i].b]++] = (uint32_t)i;
    }
    return true;
}

static double apart(sw_pt_mm a, sw_pt_mm b) { return hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm); }

/* From a node's middle; a wide slice has none that ways lead over. */
static double lever(const hold_node *node, sw_pt_mm at) { return node->is_wide ? 0.0 : apart(node->middle, at); }

/* From the root outward, link by link: who hangs, by which way. */
static void find_ways(solver *s)
{
    hold_net *const net = s->net;
    size_t n = 0;
    for (size_t i = 0; i < net->n_nodes; i++) net->nodes[i].before = HOLD_NONE;
    net->nodes[HOLD_ROOT].before = HOLD_ROOT;
    s->order[n++] = HOLD_ROOT;
    for (size_t i = 0; i < n; i++) {
        const uint32_t at = s->order[i];
        for (uint32_t k = s->first[at]; k < s->first[at + 1]; k++) {
            const hold_link *const l = &net->links[s->incident[k]];
            const uint32_t to = l->a == at ? l->b : l->a;
            hold_node *const node = &net->nodes[to];
            if (node->before != HOLD_NONE) continue;
            const sw_pt_mm from = l->a == at ? l->pa : l->pb, reached = l->a == at ? l->pb : l->pa;
            node->before = at;
            node->way_mm = (at == HOLD_ROOT ? 0.0 : net->nodes[at].way_mm + lever(&net->nodes[at], from)) +
                           apart(from, reached) + lever(node, reached);
            s->order[n++] = to;
        }
    }
}

/* Groups hang on the root each for itself; those with a dirty node are wholly dirty. */
static void find_groups(solver *s)
{
    hold_net *const net = s->net;
    for (size_t i = 0; i < net->n_nodes; i++) net->nodes[i].group = HOLD_NONE;
    for (uint32_t start = 1; start < net->n_nodes; start++) {
        if (net->nodes[start].group != HOLD_NONE || net->nodes[start].before == HOLD_NONE) continue;
        size_t n = 0;
        bool is_dirty = false;
        s->order[n++] = start;
        net->nodes[start].group = start;
        for (size_t i = 0; i < n; i++) {
            const uint32_t at = s->order[i];
            is_dirty |= net->nodes[at].is_dirty;
            for (uint32_t k = s->first[at]; k < s->first[at + 1]; k++) {
                const hold_link *const l = &net->links[s->incident[k]];
                const uint32_t to = l->a == at ? l->b : l->a;
                if (to == HOLD_ROOT || net->nodes[to].group != HOLD_NONE) continue;
                net->nodes[to].group = start;
                s->order[n++] = to;
            }
        }
        for (size_t i = 0; i < n; i++) net->nodes[s->order[i]].is_dirty = is_dirty;
    }
}

/* ---- stiffness ---------------------------------------------------------------------------------------------- */

static hold_block *block_of(hold_row *r, uint32_t to)
{
    size_t i = r->n;
    while (i > 0 && r->at[i - 1].to >= to) i--;
    if (i < r->n && r->at[i].to == to) return &r->at[i];
    void *at = r->at;
    const bool is_grown = sw_grow(&at, &r->cap, r->n + 1, sizeof *r->at);
    r->at = at;
    if (!is_grown) return NULL;
    memmove(r->at + i + 1, r->at + i, (r->n - i) * sizeof *r->at);
    r->n++;
    r->at[i] = (hold_block){ .to = to };
    return &r->at[i];
}

void hold_link_modes(const hold_net *net, const hold_link *l, double rigidity[HOLD_MODES], double g[HOLD_MODES][6])
{
    const sw_material *const m = net->material;
    const double t3 = m->thickness_mm * m->thickness_mm * m->thickness_mm;
    const double dx = l->pb.x_mm - l->pa.x_mm, dy = l->pb.y_mm - l->pa.y_mm, way = hypot(dx, dy);
    const double length = sw_max(way, LEAST_MM), ux = way > 0.0 ? dx / way : 1.0, uy = way > 0.0 ? dy / way : 0.0;
    const double ei = droop_rigidity_nmm(m) * l->width_mm;
    const double gj = m->modulus_mpa / (2.0 * (1.0 + SW_POISSON)) * l->width_mm * t3 / 3.0;
    const hold_node *const a = &net->nodes[l->a], *const b = &net->nodes[l->b];
    const double ax = l->pa.x_mm - a->middle.x_mm, ay = l->pa.y_mm - a->middle.y_mm;
    const double bx = l->pb.x_mm - b->middle.x_mm, by = l->pb.y_mm - b->middle.y_mm;
    const double half = 0.5 * way;
    const double modes[HOLD_MODES][6] = { { 0.0, -ux, -uy, 0.0, ux, uy },
                                          { -1.0, -ax - half * ux, -ay - half * uy, 1.0, bx - half * ux, by - half * uy },
                                          { 0.0, uy, -ux, 0.0, -uy, ux } };
    memcpy(g, modes, sizeof modes);
    rigidity[0] = ei / length;
    rigidity[1] = 12.0 * ei / (length * length * length);
    rigidity[2] = gj / length;
}

/* A block of a beam's matrix: what the motion of end j does to end i, 0 for a and 1 for b. Each mode's energy is
 * rigidity / 2 * (g . unknowns)^2. */
static void link_block(const hold_net *net, const hold_link *l, size_t i, size_t j, double k[9])
{
    double rigidity[HOLD_MODES], g[HOLD_MODES][6];
    hold_link_modes(net, l, rigidity, g);
    for (size_t c = 0; c < 9; c++) {
        k[c] = 0.0;
        for (size_t m = 0; m < HOLD_MODES; m++) k[c] += rigidity[m] * g[m][3 * i + c / 3] * g[m][3 * j + c % 3];
    }
}

static void add_to(double *to, const double *k)
{
    for (size_t i = 0; i < 9; i++) to[i] += k[i];
}

/* Half a beam's weight at one end, and the moment there that sinks it as the weight along the beam does: that of a beam
 * built in at both ends. Exact at the ends. */
static void add_weight(const hold_net *net, const hold_link *l, size_t end, double f[3])
{
    const double load = 0.5 * droop_weight_n_mm2(net->material) * l->area_mm2;
    const sw_pt_mm at = end == 0 ? l->pa : l->pb, other = end == 0 ? l->pb : l->pa;
    const sw_pt_mm middle = net->nodes[end == 0 ? l->a : l->b].middle;
    f[0] += load;
    f[1] += load * (at.x_mm - middle.x_mm + (other.x_mm - at.x_mm) / 6.0);
    f[2] += load * (at.y_mm - middle.y_mm + (other.y_mm - at.y_mm) / 6.0);
}

/* A beam in the row of its node at one end. */
static bool add_link(const hold_net *net, const hold_link *l, size_t end, hold_row *r)
{
    const uint32_t other = end == 0 ? l->b : l->a;
    double k[9];
    if (l->area_mm2 > 0.0) add_weight(net, l, end, r->f);
    link_block(net, l, end, other == HOLD_ROOT ? end : 1 - end, k);
    if (other == HOLD_ROOT) {
        add_to(r->ground, k);
        return true;
    }
    hold_block *const block = block_of(r, other);
    if (block == NULL) return false;
    add_to(block->k, k);
    return true;
}

/* Rows of dirty nodes. */
static void assemble(size_t begin, size_t end, void *ctx)
{
    solver *const s = ctx;
    const hold_net *const net = s->net;
    const double weight = droop_weight_n_mm2(net->material);
    for (size_t i = sw_max_size(begin, 1); i < end; i++) {
        if (!net->nodes[i].is_dirty || net->nodes[i].before == HOLD_NONE) continue;
        hold_row *const r = &s->rows[i];
        *r = (hold_row){ .at = r->at, .cap = r->cap, .f = { weight * net->nodes[i].area_mm2 } };
        for (uint32_t k = s->first[i]; k < s->first[i + 1]; k++) {
            const hold_link *const l = &net->links[s->incident[k]];
            if (l->a != l->b && !add_link(net, l, l->a == i ? 0 : 1, r)) atomic_store(&s->is_out, true);
        }
    }
}

/* ---- elimination ---------------------------------------------------------------------------------------------- */

static bool put(solver *s, uint32_t node)
{
    bucket *const b = &s->buckets[sw_min_size(s->rows[node].n, N_BUCKETS - 1)];
    void *at = b->at;
    const bool is_grown = sw_grow(&at, &b->cap, b->n + 1, sizeof *b->at);
    b->at = at;
    if (!is_grown) return false;
    b->at[b->n++] = node;
    return true;
}

/* A node of the least degree that is left; entries whose node has changed since are stale. */
static bool take(solver *s, uint32_t *node)
{
    for (size_t degree = 0; degree < N_BUCKETS; degree++) {
        bucket *const b = &s->buckets[degree];
        while (b->n > 0) {
            *node = b->at[--b->n];
            const hold_row *const r = &s->rows[*node];
            if (!r->is_done && sw_min_size(r->n, N_BUCKETS - 1) == degree) return true;
        }
    }
    return false;
}

void hold_invert(double d[9])
{
    const double c0 = d[4] * d[8] - d[5] * d[5], c1 = d[2] * d[5] - d[1] * d[8], c2 = d[1] * d[5] - d[2] * d[4];
    const double det = d[0] * c0 + d[1] * c1 + d[2] * c2, r = det > 0.0 ? 1.0 / det : 0.0;
    const double c4 = d[0] * d[8] - d[2] * d[2], c5 = d[1] * d[2] - d[0] * d[5], c8 = d[0] * d[4] - d[1] * d[1];
    const double out[9] = { c0 * r, c1 * r, c2 * r, c1 * r, c4 * r, c5 * r, c2 * r, c5 * r, c8 * r };
    memcpy(d, out, sizeof out);
}

/* k, which acts on the motion of node `of`, for the same motion of a rigid body given at node `at`. */
static void seen_from(const hold_net *net, const double k[9], uint32_t of, uint32_t at, double out[9])
{
    const double dx = net->nodes[of].middle.x_mm - net->nodes[at].middle.x_mm;
    const double dy = net->nodes[of].middle.y_mm - net->nodes[at].middle.y_mm;
    for (size_t i = 0; i < 9; i += 3) {
        out[i] = k[i];
        out[i + 1] = k[i + 1] + k[i] * dx;
        out[i + 2] = k[i + 2] + k[i] * dy;
    }
}

/* The diagonal block: what holds the node to the root, and to its neighbours. */
static void find_diagonal(const hold_net *net, uint32_t v, hold_row *r)
{
    memcpy(r->d, r->ground, sizeof r->d);
    for (size_t i = 0; i < r->n; i++) {
        double k[9];
        seen_from(net, r->at[i].k, r->at[i].to, v, k);
        for (size_t j = 0; j < 9; j++) r->d[j] -= k[j];
    }
}

/* to -= t * k */
static void subtract(double to[9], const double t[9], const double k[9])
{
    for (size_t i = 0; i < 3; i++)
        for (size_t j = 0; j < 3; j++)
            to[3 * i + j] -= t[3 * i] * k[j] + t[3 * i + 1] * k[3 + j] + t[3 * i + 2] * k[6 + j];
}

/* Row a without node v: what v passed on is spread over its other neighbours. */
static bool eliminate_from(solver *s, uint32_t v, uint32_t a)
{
    const hold_row *const gone = &s->rows[v];
    hold_row *const r = &s->rows[a];
    void *scratch = s->merged;
    const bool is_grown = sw_grow(&scratch, &s->cap_merged, r->n + gone->n, sizeof *s->merged);
    s->merged = scratch;
    if (!is_grown) return false;
    double t[9] = { 0 };
    for (size_t i = 0; i < r->n; i++)
        if (r->at[i].to == v)
            for (size_t j = 0; j < 9; j++) /* t = k_av * inverse */
                t[j] = r->at[i].k[j / 3 * 3] * gone->d[j % 3] + r->at[i].k[j / 3 * 3 + 1] * gone->d[3 + j % 3] +
                       r->at[i].k[j / 3 * 3 + 2] * gone->d[6 + j % 3];
    size_t n = 0, i = 0, j = 0;
    while (i < r->n || j < gone->n) {
        const uint32_t to = i == r->n ? gone->at[j].to : j == gone->n ? r->at[i].to
                            : r->at[i].to < gone->at[j].to ? r->at[i].to : gone->at[j].to;
        hold_block made = { .to = to };
        if (i < r->n && r->at[i].to == to) made = r->at[i++];
        const hold_block *const passed = j < gone->n && gone->at[j].to == to ? &gone->at[j++] : NULL;
        if (to == v || to == a) continue;
        if (passed != NULL) subtract(made.k, t, passed->k);
        s->merged[n++] = made;
    }
    double ground[9];
    seen_from(s->net, gone->ground, v, a, ground);
    subtract(r->ground, t, ground);
    for (size_t k = 0; k < 3; k++) r->f[k] -= t[3 * k] * gone->f[0] + t[3 * k + 1] * gone->f[1] + t[3 * k + 2] * gone->f[2];
    void *at = r->at;
    const bool has_room = sw_grow(&at, &r->cap, n + 1, sizeof *r->at);
    r->at = at;
    if (!has_room) return false;
    if (n > 0) memcpy(r->at, s->merged, n * sizeof *r->at);
    r->n = n;
    return put(s, a);
}

static bool eliminate(solver *s)
{
    uint32_t v;
    for (uint32_t i = 1; i < s->net->n_nodes; i++)
        if (s->net->nodes[i].is_dirty && s->net->nodes[i].before != HOLD_NONE && !put(s, i)) return false;
    s->n_order = 0;
    while (take(s, &v)) {
        hold_row *const r = &s->rows[v];
        find_diagonal(s->net, v, r);
        hold_invert(r->d);
        r->is_done = true;
        r->turn = ++s->net->n_turns;
        s->order[s->n_order++] = v;
        for (size_t k = 0; k < r->n; k++)
            if (!eliminate_from(s, v, r->at[k].to)) return false;
    }
    return true;
}

static void substitute(solver *s)
{
    for (size_t i = s->n_order; i-- > 0;) {
        const hold_row *const r = &s->rows[s->order[i]];
        hold_node *const node = &s->net->nodes[s->order[i]];
        double f[3] = { r->f[0], r->f[1], r->f[2] };
        for (size_t k = 0; k < r->n; k++) {
            const hold_node *const other = &s->net->nodes[r->at[k].to];
            const double *const b = r->at[k].k;
            for (size_t c = 0; c < 3; c++)
                f[c] -= b[3 * c] * other->sink_mm + b[3 * c + 1] * other->slope_x + b[3 * c + 2] * other->slope_y;
        }
        node->sink_mm = r->d[0] * f[0] + r->d[1] * f[1] + r->d[2] * f[2];
        node->slope_x = r->d[3] * f[0] + r->d[4] * f[1] + r->d[5] * f[2];
        node->slope_y = r->d[6] * f[0] + r->d[7] * f[1] + r->d[8] * f[2];
        node->is_dirty = false;
    }
}

static bool make_rows(hold_net *net)
{
    if (net->rows == NULL) net->rows = sw_alloc_array(net->n_nodes, sizeof *net->rows);
    return net->rows != NULL;
}

sw_status hold_net_solve(hold_net *net, sw_note *note)
{
    solver s = { .net = net };
    if (!net->is_changed) return SW_OK;
    bool is_done = make_rows(net) && list_links(&s);
    s.rows = net->rows;
    if (is_done) {
        find_ways(&s);
        find_groups(&s);
        sw_parallel_bands(net->n_nodes, NODES_AT_ONCE, assemble, &s);
        is_done = !s.is_out && eliminate(&s);
    }
    if (is_done) substitute(&s);
    net->is_changed = !is_done;
    solver_free(&s);
    return is_done ? SW_OK : sw_fail_memory(note, "what hangs");
}

void hold_net_touch(hold_net *net, const hold_link *link)
{
    net->nodes[link->a].is_dirty = net->nodes[link->b].is_dirty = true;
    net->is_changed = true;
}
