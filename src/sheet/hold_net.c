/* What hangs together, and on what: which nodes a change of beams concerns, and their ways from what cannot sink. The beams
 * between nodes stay as they are made; bridges, the last of the links, come and go. */
#include <stdlib.h>
#include <string.h>

#include "sheet/hold_rows.h"

/* ---- what is kept between solutions -------------------------------------------------------------------------- */

void hold_keep_free(hold_net *net)
{
    hold_keep *const keep = net->keep;
    if (keep == NULL) return;
    for (size_t i = 0; keep->rows != NULL && i < net->n_nodes; i++) {
        sw_free(keep->rows[i].at);
        sw_free(keep->rows[i].from);
    }
    sw_free(keep->rows);
    sw_free(keep->first);
    sw_free(keep->incident);
    sw_free(keep->head);
    sw_free(keep->mark);
    sw_free(keep->is_dirty);
    sw_free(keep->turn_of);
    sw_free(keep);
    net->keep = NULL;
}

/* The nodes' own beams. */
static void list_own(const hold_net *net, hold_keep *keep)
{
    uint32_t *const next = keep->first + 1; /* becomes each node's end, the next one's begin */
    for (size_t i = 0; i < net->n_own; i++) {
        next[net->links[i].a + 1]++;
        next[net->links[i].b + 1]++;
    }
    for (size_t i = 1; i <= net->n_nodes; i++) next[i] += next[i - 1];
    for (size_t i = 0; i < net->n_own; i++) {
        const uint32_t a = net->links[i].a, b = net->links[i].b;
        keep->incident[next[a]++] = (hold_incident){ (uint32_t)i, b };
        keep->incident[next[b]++] = (hold_incident){ (uint32_t)i, a };
    }
}

/* Nothing is solved yet: all is dirty. */
static bool keep_make(hold_net *net)
{
    const size_t n = net->n_nodes;
    if (net->keep != NULL) return true;
    hold_keep *const keep = net->keep = sw_alloc_array(1, sizeof *keep);
    if (keep == NULL) return false;
    keep->rows = sw_alloc_array(n, sizeof *keep->rows);
    keep->first = sw_alloc_array(n + 2, sizeof *keep->first);
    keep->incident = sw_alloc_raw(2 * net->n_own + 1, sizeof *keep->incident);
    keep->head = sw_alloc_array(n, sizeof *keep->head);
    keep->mark = sw_alloc_array(n, 1);
    keep->is_dirty = sw_alloc_raw(n, 1);
    keep->turn_of = sw_alloc_raw(HOLD_TURNS * n, sizeof *keep->turn_of);
    if (keep->rows == NULL || keep->first == NULL || keep->incident == NULL || keep->head == NULL || keep->mark == NULL ||
        keep->is_dirty == NULL || keep->turn_of == NULL) {
        hold_keep_free(net);
        return false;
    }
    memset(keep->is_dirty, HOLD_DIRTY, n);
    for (size_t i = 0; i < n; i++) net->nodes[i].before = net->nodes[i].group = HOLD_NONE;
    net->nodes[HOLD_ROOT].before = HOLD_ROOT;
    list_own(net, keep);
    return true;
}

void hold_net_touch(hold_net *net, const hold_link *link)
{
    if (net->keep != NULL) net->keep->is_dirty[link->a] = net->keep->is_dirty[link->b] = HOLD_DIRTY;
    net->is_changed = true;
}

/* ---- a node's beams, and bridges after them ------------------------------------------------------------------ */

/* The ends of bridges in lists of their nodes, by rising number. */
static void list_bridges(hold_change *c)
{
    const hold_net *const net = c->net;
    for (size_t i = net->n_links; i-- > net->n_own;) {
        const hold_link *const l = &net->links[i];
        const uint32_t end = (uint32_t)(2 * (i - net->n_own));
        if (l->a == l->b) continue;
        c->next[end] = net->keep->head[l->a];
        net->keep->head[l->a] = end + 1;
        c->next[end + 1] = net->keep->head[l->b];
        net->keep->head[l->b] = end + 2;
    }
}

static void forget_bridges(hold_change *c)
{
    const hold_net *const net = c->net;
    for (size_t i = net->n_own; i < net->n_links; i++)
        net->keep->head[net->links[i].a] = net->keep->head[net->links[i].b] = 0;
}

hold_walk hold_walk_begin(const hold_change *c, uint32_t node)
{
    const hold_keep *const keep = c->net->keep;
    return (hold_walk){ keep->first[node], keep->first[node + 1], keep->head[node], { 0 } };
}

bool hold_walk_next(const hold_change *c, hold_walk *walk)
{
    const hold_net *const net = c->net;
    if (walk->own < walk->own_end) {
        walk->at = net->keep->incident[walk->own++];
        return true;
    }
    if (walk->end == 0) return false;
    const uint32_t end = walk->end - 1, link = (uint32_t)net->n_own + end / 2;
    walk->end = c->next[end];
    walk->at = (hold_incident){ link, end % 2 == 0 ? net->links[link].b : net->links[link].a };
    return true;
}

/* ---- groups and ways ------------------------------------------------------------------------------------------ */

static double apart(sw_pt_mm a, sw_pt_mm b) { return sw_hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm); }

/* From a node's middle; a wide slice has none that ways lead over. */
static double lever(const hold_node *node, sw_pt_mm at) { return node->is_wide ? 0.0 : apart(node->middle, at); }

void hold_change_again(hold_change *c, uint32_t node)
{
    uint8_t *const mark = &c->net->keep->mark[node];
    if ((*mark & HOLD_AGAIN) != 0) return;
    *mark |= HOLD_AGAIN;
    c->again[c->n_again++] = node;
}

static bool add_root(hold_change *c, uint32_t link)
{
    void *roots = c->roots;
    const bool is_grown = sw_grow(&roots, &c->cap_roots, c->n_roots + 1, sizeof *c->roots);
    c->roots = roots;
    if (is_grown) c->roots[c->n_roots++] = link;
    return is_grown;
}

/* The next group begins here. */
static bool add_group(hold_change *c)
{
    void *groups = c->groups;
    const bool is_grown = sw_grow(&groups, &c->cap_groups, c->n_groups + 1, sizeof *c->groups);
    c->groups = groups;
    if (is_grown) c->groups[c->n_groups++] = (hold_group){ c->n_nodes, c->n_roots };
    return is_grown;
}

/* All nodes that hang together with one, put after the others, and their links to the root. */
static bool find_group(hold_change *c, uint32_t start)
{
    uint8_t *const mark = c->net->keep->mark;
    size_t n = c->n_nodes;
    mark[start] |= HOLD_SEEN;
    c->nodes[n++] = start;
    for (size_t i = c->n_nodes; i < n; i++) {
        hold_walk walk = hold_walk_begin(c, c->nodes[i]);
        while (hold_walk_next(c, &walk)) {
            const uint32_t to = walk.at.to;
            if (to == HOLD_ROOT) {
                if (!add_root(c, walk.at.link)) return false;
            } else if ((mark[to] & HOLD_SEEN) == 0) {
                mark[to] |= HOLD_SEEN;
                c->nodes[n++] = to;
            }
        }
    }
    c->n_nodes = n;
    return true;
}

/* The last group's rows that change: of dirty nodes; of all if the group hangs on nothing. */
static void list_again(hold_change *c)
{
    const hold_keep *const keep = c->net->keep;
    const hold_group group = c->groups[c->n_groups - 1];
    const bool is_loose = c->n_roots == group.root;
    for (size_t i = group.node; i < c->n_nodes; i++) {
        const uint32_t at = c->nodes[i];
        if (keep->is_dirty[at] != 0 || is_loose) hold_change_again(c, at);
        keep->is_dirty[at] = is_loose ? HOLD_LOOSE : 0;
        keep->mark[at] &= (uint8_t)~HOLD_SEEN;
    }
}

static bool find_groups(hold_change *c)
{
    const hold_keep *const keep = c->net->keep;
    for (uint32_t i = 1; i < c->net->n_nodes; i++) {
        if (keep->is_dirty[i] != HOLD_DIRTY) continue;
        if (!add_group(c) || !find_group(c, i)) return false;
        list_again(c);
    }
    if (!add_group(c)) return false;
    c->n_groups--;
    return true;
}

/* A node's way by one of its beams, from the node before it. */
static void reach(const hold_change *c, uint32_t from, hold_incident by)
{
    hold_net *const net = c->net;
    const hold_link *const l = &net->links[by.link];
    hold_node *const node = &net->nodes[by.to];
    const sw_pt_mm left = l->a == from ? l->pa : l->pb, reached = l->a == from ? l->pb : l->pa;
    node->before = from;
    node->way_mm = (from == HOLD_ROOT ? 0.0 : net->nodes[from].way_mm + lever(&net->nodes[from], left)) + apart(left, reached) +
                   lever(node, reached);
}

/* The ways of a group from the root outward, link by link. One without links to the root hangs on nothing and has none. */
static void find_ways(const hold_change *c, const hold_group *g)
{
    const size_t begin = g->node, end = g[1].node, n_roots = g[1].root - g->root;
    hold_net *const net = c->net;
    uint32_t *const roots = c->roots + g->root, group = c->nodes[begin];
    for (size_t i = begin; i < end; i++) group = c->nodes[i] < group ? c->nodes[i] : group;
    for (size_t i = begin; i < end; i++) {
        net->nodes[c->nodes[i]].before = HOLD_NONE;
        net->nodes[c->nodes[i]].group = n_roots > 0 ? group : HOLD_NONE;
    }
    if (n_roots > 1) qsort(roots, n_roots, sizeof *roots, hold_by_number);
    size_t n = begin; /* nodes come again in the order in which ways reach them */
    for (size_t i = 0; i < n_roots; i++) {
        const hold_link *const l = &net->links[roots[i]];
        const uint32_t to = l->a == HOLD_ROOT ? l->b : l->a;
        if (net->nodes[to].before != HOLD_NONE) continue;
        reach(c, HOLD_ROOT, (hold_incident){ roots[i], to });
        c->nodes[n++] = to;
    }
    for (size_t i = begin; i < n; i++) {
        hold_walk walk = hold_walk_begin(c, c->nodes[i]);
        while (hold_walk_next(c, &walk)) {
            if (net->nodes[walk.at.to].before != HOLD_NONE) continue;
            reach(c, c->nodes[i], walk.at);
            c->nodes[n++] = walk.at.to;
        }
    }
}

/* Ways and equations know nothing of each other. */
static sw_status solve_task(size_t task, void *ctx, sw_note *note)
{
    hold_change *const c = ctx;
    if (task == 1) return hold_rows_solve(c) ? SW_OK : sw_fail_memory(note, "what hangs");
    for (size_t i = 0; i < c->n_groups; i++) find_ways(c, &c->groups[i]);
    return SW_OK;
}

sw_status hold_net_solve(hold_net *net, sw_note *note)
{
    if (!net->is_changed) return SW_OK;
    hold_change c = { .net = net };
    bool is_done = keep_make(net);
    if (is_done) {
        c.next = sw_alloc_raw(2 * (net->n_links - net->n_own) + 1, sizeof *c.next);
        c.nodes = sw_alloc_raw(net->n_nodes, sizeof *c.nodes);
        c.again = sw_alloc_raw(net->n_nodes, sizeof *c.again);
        is_done = c.next != NULL && c.nodes != NULL && c.again != NULL;
    }
    if (is_done) {
        list_bridges(&c);
        is_done = find_groups(&c) && sw_parallel_tasks(2, solve_task, &c, note) == SW_OK;
        forget_bridges(&c);
    }
    net->is_changed = !is_done;
    sw_free(c.next);
    sw_free(c.nodes);
    sw_free(c.again);
    sw_free(c.roots);
    sw_free(c.groups);
    return is_done ? SW_OK : sw_fail_memory(note, "what hangs");
}
