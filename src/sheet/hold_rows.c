/* The beams' equations. Every node sinks and slopes two ways, so the matrix is of 3 x 3 blocks. Nets of webs are
 * nearly trees: nodes are eliminated in the order of how few others they touch, which leaves little fill.
 *
 * Beams of a millimetre stand beside ones of a hand's length, a million times softer, so nothing may be subtracted that
 * nearly cancels. A beam resists only what its ends do unlike each other: a row of the matrix applied to a motion of all
 * nodes as one rigid body leaves what holds the node to the root alone. That is kept, and passed on in elimination, in
 * place of the diagonal, which follows from it by sums (Grassmann, Taksar and Heyman 1985 do so for Markov chains, whose
 * rows sum to nothing).
 *
 * A beam that comes or goes changes the rows of its ends and of those that are eliminated after them and reached from
 * them, row by row: few, as nodes with few neighbours come first. The rest stays, and passes on to those what it did. */
#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/hold_rows.h"

#define N_BUCKETS 64u  /* by degree; all beyond share the last */
#define ROWS_AT_ONCE 512u
#define ROWS_AHEAD 16u /* fetched before they are needed */
#define BLOCKS_AHEAD 6u
#define LEAST_MM 0.5   /* shorter beams are taken as long as this: stiff enough, and no division by nothing */

typedef struct bucket {
    uint32_t *at;
    size_t n, cap;
} bucket;

/* Room for a row that is being merged. */
typedef struct merging {
    hold_block *at;
    size_t cap;
} merging;

typedef struct solver {
    const hold_change *change;
    hold_net *net;
    hold_row *rows;
    merging merged;
    bucket buckets[N_BUCKETS];
    atomic_bool is_out;  /* of memory */
} solver;

/* ---- which rows ------------------------------------------------------------------------------------------- */

/* All that is eliminated after a row that changes and reached from it changes too. What hangs on nothing has no row. */
static void find_again(hold_change *c)
{
    hold_net *const net = c->net;
    hold_row *const rows = net->keep->rows;
    for (size_t i = 0; i < c->n_again; i++) {
        hold_row *const r = &rows[c->again[i]];
        for (size_t k = 0; r->is_done && k < r->n; k++) hold_change_again(c, r->at[k].to);
        r->is_done = false;
    }
    size_t kept = 0;
    for (size_t i = 0; i < c->n_again; i++) {
        const uint32_t node = c->again[i];
        if (net->keep->is_dirty[node] != HOLD_LOOSE) c->again[kept++] = node;
        else rows[node].n = rows[node].n_from = 0;
        net->keep->mark[node] = 0;
    }
    c->n_again = kept;
}

int hold_by_number(const void *p, const void *q)
{
    const uint32_t a = *(const uint32_t *)p, b = *(const uint32_t *)q;
    return a < b ? -1 : a > b;
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

/* A beam in the row of its node at one end; rows that stay pass on themselves what the beam does. */
static bool add_link(const solver *s, const hold_link *l, size_t end, hold_row *r)
{
    const uint32_t other = end == 0 ? l->b : l->a;
    double k[9];
    if (l->area_mm2 > 0.0) add_weight(s->net, l, end, r->f);
    if (other != HOLD_ROOT && s->rows[other].is_done) return true;
    link_block(s->net, l, end, other == HOLD_ROOT ? end : 1 - end, k);
    if (other == HOLD_ROOT) {
        add_to(r->ground, k);
        return true;
    }
    hold_block *const block = block_of(r, other);
    if (block == NULL) return false;
    add_to(block->k, k);
    return true;
}

/* A node's row as its beams make it. Others ask meanwhile whether it is done, so that is not written. */
static bool begin_row(const solver *s, uint32_t node)
{
    hold_row *const r = &s->rows[node];
    hold_walk walk = hold_walk_begin(s->change, node);
    r->n = 0;
    memset(r->ground, 0, sizeof r->ground);
    memset(r->f, 0, sizeof r->f);
    r->f[0] = droop_weight_n_mm2(s->net->material) * s->net->nodes[node].area_mm2;
    while (hold_walk_next(s->change, &walk)) {
        const hold_link *const l = &s->net->links[walk.at.link];
        if (!add_link(s, l, l->a == node ? 0 : 1, r)) return false;
    }
    return true;
}

/* ---- elimination ---------------------------------------------------------------------------------------------- */

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

/* Row a without node v, which is done: what v passed on is spread over its other neighbours. */
static bool take_over(const solver *s, uint32_t v, uint32_t a, merging *m)
{
    const hold_row *const gone = &s->rows[v];
    hold_row *const r = &s->rows[a];
    void *scratch = m->at;
    const bool is_grown = sw_grow(&scratch, &m->cap, r->n + gone->n + 1, sizeof *m->at);
    m->at = scratch;
    if (!is_grown) return false;
    double t[9] = { 0 };
    for (size_t i = 0; i < gone->n; i++)
        if (gone->at[i].to == a)
            for (size_t j = 0; j < 9; j++) /* t = k_av * inverse; k_av is k_va turned over */
                t[j] = gone->at[i].k[j / 3] * gone->d[j % 3] + gone->at[i].k[3 + j / 3] * gone->d[3 + j % 3] +
                       gone->at[i].k[6 + j / 3] * gone->d[6 + j % 3];
    size_t n = 0, i = 0, j = 0;
    while (i < r->n || j < gone->n) {
        const uint32_t to = i == r->n ? gone->at[j].to : j == gone->n ? r->at[i].to
                            : r->at[i].to < gone->at[j].to ? r->at[i].to : gone->at[j].to;
        const hold_block *const own = i < r->n && r->at[i].to == to ? &r->at[i++] : NULL;
        const hold_block *const passed = j < gone->n && gone->at[j].to == to ? &gone->at[j++] : NULL;
        if (to == a || s->rows[to].is_done) continue;
        hold_block *const made = &m->at[n++];
        *made = own != NULL ? *own : (hold_block){ .to = to };
        if (passed != NULL) subtract(made->k, t, passed->k);
    }
    double ground[9];
    seen_from(s->net, gone->ground, v, a, ground);
    subtract(r->ground, t, ground);
    for (size_t k = 0; k < 3; k++) r->f[k] -= t[3 * k] * gone->f[0] + t[3 * k + 1] * gone->f[1] + t[3 * k + 2] * gone->f[2];
    void *at = r->at;
    const bool has_room = sw_grow(&at, &r->cap, n + 1, sizeof *r->at);
    r->at = at;
    if (!has_room) return false;
    if (n > 0) memcpy(r->at, m->at, n * sizeof *r->at);
    r->n = n;
    return true;
}

/* Rows that change, as they are when all that stay are eliminated. */
static void assemble(size_t begin, size_t end, void *ctx)
{
    solver *const s = ctx;
    merging merged = { 0 };
    bool is_good = true;
    for (size_t i = begin; i < end && is_good; i++) {
        const uint32_t node = s->change->again[i];
        hold_row *const r = &s->rows[node];
        size_t kept = 0;
        is_good = begin_row(s, node);
        for (size_t k = 0; k < r->n_from && is_good; k++) {
            if (!s->rows[r->from[k]].is_done) continue;
            r->from[kept++] = r->from[k];
            is_good = take_over(s, r->from[k], node, &merged);
        }
        r->n_from = kept;
    }
    sw_free(merged.at);
    if (!is_good) atomic_store(&s->is_out, true);
}

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

static bool note_from(hold_row *r, uint32_t v)
{
    void *from = r->from;
    const bool is_grown = sw_grow(&from, &r->cap_from, r->n_from + 1, sizeof *r->from);
    r->from = from;
    if (is_grown) r->from[r->n_from++] = v;
    return is_grown;
}

static bool eliminate(solver *s)
{
    hold_keep *const keep = s->net->keep;
    uint32_t v;
    for (size_t i = 0; i < s->change->n_again; i++)
        if (!put(s, s->change->again[i])) return false;
    while (take(s, &v)) {
        hold_row *const r = &s->rows[v];
        find_diagonal(s->net, v, r);
        hold_invert(r->d);
        r->is_done = true;
        keep->turn_of[keep->n_turns] = v;
        r->turn = ++keep->n_turns;
        for (size_t k = 0; k < r->n; k++) {
            const uint32_t a = r->at[k].to;
            if (!take_over(s, v, a, &s->merged) || !note_from(&s->rows[a], v) || !put(s, a)) return false;
        }
    }
    return true;
}

/* ---- what sinks ----------------------------------------------------------------------------------------------- */

/* Does its node sink otherwise than before? */
static bool substitute(const solver *s, uint32_t v)
{
    const hold_row *const r = &s->rows[v];
    hold_node *const node = &s->net->nodes[v];
    double f[3] = { r->f[0], r->f[1], r->f[2] };
    for (size_t k = 0; k < r->n; k++) {
        const hold_node *const other = &s->net->nodes[r->at[k].to];
        const double *const b = r->at[k].k;
        for (size_t c = 0; c < 3; c++)
            f[c] -= b[3 * c] * other->sink_mm + b[3 * c + 1] * other->slope_x + b[3 * c + 2] * other->slope_y;
    }
    const double was[3] = { node->sink_mm, node->slope_x, node->slope_y };
    node->sink_mm = r->d[0] * f[0] + r->d[1] * f[1] + r->d[2] * f[2];
    node->slope_x = r->d[3] * f[0] + r->d[4] * f[1] + r->d[5] * f[2];
    node->slope_y = r->d[6] * f[0] + r->d[7] * f[1] + r->d[8] * f[2];
    return was[0] != node->sink_mm || was[1] != node->slope_x || was[2] != node->slope_y;
}

/* Room for as many turns more; those of rows that are no longer so are left out. */
static void renumber(hold_net *net, size_t n_more)
{
    hold_keep *const keep = net->keep;
    size_t kept = 0;
    if (keep->n_turns + n_more <= HOLD_TURNS * net->n_nodes) return;
    for (size_t i = 0; i < keep->n_turns; i++) {
        hold_row *const r = &keep->rows[keep->turn_of[i]];
        if (!r->is_done || r->turn != i + 1) continue;
        keep->turn_of[kept++] = keep->turn_of[i];
        r->turn = kept;
    }
    keep->n_turns = kept;
}

/* Memory that a row will be asked for in a moment: rows come in no order, and each would be waited for. */
static void fetch_row(const solver *s, uint32_t v)
{
    const hold_row *const r = &s->rows[v];
    __builtin_prefetch(r);
    __builtin_prefetch(r->d);
    __builtin_prefetch(r->f);
}

static void fetch_blocks(const solver *s, uint32_t v)
{
    const hold_row *const r = &s->rows[v];
    __builtin_prefetch(r->at);
    __builtin_prefetch(&s->net->nodes[v].sink_mm, 1);
}

/* Nodes with new rows, and those that depend on one that sinks otherwise now, the last eliminated first. */
static void substitute_all(const solver *s)
{
    const hold_change *const c = s->change;
    const hold_keep *const keep = s->net->keep;
    for (size_t i = 0; i < c->n_again; i++) keep->mark[c->again[i]] = 1;
    for (size_t i = keep->n_turns; i-- > 0;) {
        const uint32_t v = keep->turn_of[i];
        const hold_row *const r = &s->rows[v];
        if (i >= ROWS_AHEAD && keep->mark[keep->turn_of[i - ROWS_AHEAD]] != 0) fetch_row(s, keep->turn_of[i - ROWS_AHEAD]);
        if (i >= BLOCKS_AHEAD && keep->mark[keep->turn_of[i - BLOCKS_AHEAD]] != 0) fetch_blocks(s, keep->turn_of[i - BLOCKS_AHEAD]);
        if (keep->mark[v] == 0 || r->turn != i + 1) continue;
        keep->mark[v] = 0;
        if (!substitute(s, v)) continue;
        for (size_t k = 0; k < r->n_from; k++) keep->mark[r->from[k]] = 1;
    }
}

bool hold_rows_solve(hold_change *change)
{
    hold_net *const net = change->net;
    solver s = { .change = change, .net = net, .rows = net->keep->rows };
    find_again(change);
    renumber(net, change->n_again);
    if (change->n_again > 1) qsort(change->again, change->n_again, sizeof *change->again, hold_by_number);
    sw_parallel_bands(change->n_again, ROWS_AT_ONCE, assemble, &s);
    const bool is_done = !s.is_out && eliminate(&s);
    if (is_done) substitute_all(&s);
    sw_free(s.merged.at);
    for (size_t i = 0; i < N_BUCKETS; i++) sw_free(s.buckets[i].at);
    return is_done;
}
