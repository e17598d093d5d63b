/* Beams between nodes whose cells touch: slices along their way, and the pieces of a wide slice side by side. */
#include <stdlib.h>

#include "sheet/hold_rows.h"

/* Sides of cells where two nodes touch; x and y in cells, of one or summed. */
typedef struct touch {
    uint32_t lo, hi, n;
    double x, y;
} touch;

/* All touches of a node with the pieces of one slice, or with one broad part. */
typedef struct contact {
    uint32_t node, whole, n;
} contact;

typedef struct beams {
    hold_net *net;
    touch *touches;    /* by lo, then hi */
    size_t n_touches, cap_touches;
    contact *contacts; /* by node, then whole */
    size_t n_contacts;
} beams;

static bool add_touch(beams *b, size_t i, size_t j)
{
    const hold_net *const net = b->net;
    const uint32_t one = net->node_of[i], other = net->node_of[j];
    if (one == other || one == HOLD_NONE || other == HOLD_NONE || (one <= net->n_broad && other <= net->n_broad)) return true;
    const double x = 0.5 * (double)(i % net->width + j % net->width + 1), y = 0.5 * (double)(i / net->width + j / net->width + 1);
    const touch add = { one < other ? one : other, one < other ? other : one, 1, x, y };
    touch *const last = b->n_touches > 0 ? &b->touches[b->n_touches - 1] : NULL;
    if (last != NULL && last->lo == add.lo && last->hi == add.hi) { /* cells in a row touch in a row */
        *last = (touch){ add.lo, add.hi, last->n + 1, last->x + x, last->y + y };
        return true;
    }
    void *at = b->touches;
    const bool is_grown = sw_grow(&at, &b->cap_touches, b->n_touches + 1, sizeof *b->touches);
    b->touches = at;
    if (is_grown) b->touches[b->n_touches++] = add;
    return is_grown;
}

static int compare_touches(const void *left, const void *right)
{
    const touch *const a = left, *const b = right;
    if (a->lo != b->lo) return a->lo < b->lo ? -1 : 1;
    if (a->hi != b->hi) return a->hi < b->hi ? -1 : 1;
    if (a->y != b->y) return a->y < b->y ? -1 : 1;
    return a->x < b->x ? -1 : a->x > b->x;
}

/* One entry a pair of nodes. */
static bool find_touches(beams *b)
{
    const size_t w = b->net->width;
    for (size_t y = 0; y + 1 < b->net->height; y++) {
        for (size_t i = y * w; i < (y + 1) * w - 1; i++)
            if (!add_touch(b, i, i + 1)) return false;
        for (size_t i = y * w; i < (y + 1) * w - 1; i++)
            if (!add_touch(b, i, i + w)) return false;
    }
    if (b->n_touches > 1) qsort(b->touches, b->n_touches, sizeof *b->touches, compare_touches);
    size_t n = 0;
    for (size_t i = 0; i < b->n_touches; i++) {
        const touch *const t = &b->touches[i];
        touch *const last = n > 0 ? &b->touches[n - 1] : NULL;
        if (last != NULL && last->lo == t->lo && last->hi == t->hi)
            *last = (touch){ t->lo, t->hi, last->n + t->n, last->x + t->x, last->y + t->y };
        else b->touches[n++] = *t;
    }
    b->n_touches = n;
    return true;
}

static int compare_contacts(const void *left, const void *right)
{
    const contact *const a = left, *const b = right;
    if (a->node != b->node) return a->node < b->node ? -1 : 1;
    return a->whole < b->whole ? -1 : a->whole > b->whole;
}

static bool find_contacts(beams *b)
{
    size_t n = 0;
    b->contacts = sw_alloc_raw(2 * b->n_touches + 1, sizeof *b->contacts);
    if (b->contacts == NULL) return false;
    for (size_t i = 0; i < b->n_touches; i++) {
        const touch *const t = &b->touches[i];
        b->contacts[n++] = (contact){ t->lo, b->net->nodes[t->hi].whole, t->n };
        b->contacts[n++] = (contact){ t->hi, b->net->nodes[t->lo].whole, t->n };
    }
    if (n > 1) qsort(b->contacts, n, sizeof *b->contacts, compare_contacts);
    for (size_t i = 0; i < n; i++) {
        contact *const last = b->n_contacts > 0 ? &b->contacts[b->n_contacts - 1] : NULL;
        if (last != NULL && compare_contacts(last, &b->contacts[i]) == 0) last->n += b->contacts[i].n;
        else b->contacts[b->n_contacts++] = b->contacts[i];
    }
    return true;
}

/* Widths. A slice that leads on is as long as all are, whatever cells it got; one at an end is as long as it is. Where
 * ways from several sides meet, it has a part for each. */
static bool measure_widths(beams *b, double slice_mm)
{
    hold_net *const net = b->net;
    uint32_t *const n_ways = sw_alloc_array(net->n_nodes, sizeof *n_ways);
    if (n_ways == NULL) return false;
    for (size_t i = 0; i < b->n_contacts; i++) {
        const contact *const c = &b->contacts[i];
        const uint32_t depth = net->nodes[c->node].depth, other = net->nodes[c->whole].depth;
        n_ways[c->node] += depth > other;
        if (depth < other) net->nodes[c->node].long_mm = slice_mm;
    }
    for (size_t i = net->n_broad + 1; i < net->n_nodes; i++) {
        hold_node *const node = &net->nodes[i];
        node->long_mm *= (double)sw_max_size(n_ways[i], 1);
        node->width_mm = node->area_mm2 / node->long_mm;
    }
    sw_free(n_ways);
    return true;
}

/* Of a node's width what leads to this one of a slice's pieces. */
static double width_towards(const beams *b, uint32_t node, uint32_t other, uint32_t n)
{
    const contact key = { node, b->net->nodes[other].whole, 0 };
    const contact *const all = bsearch(&key, b->contacts, b->n_contacts, sizeof *b->contacts, compare_contacts);
    return b->net->nodes[node].width_mm * (double)n / (double)(all != NULL ? all->n : n);
}

/* From middle to middle, but at a broad part from where they touch. */
static bool link_pair(const beams *b, const touch *t)
{
    hold_net *const net = b->net;
    const hold_node *const lo = &net->nodes[t->lo], *const hi = &net->nodes[t->hi];
    hold_link link = { .a = t->lo, .b = t->hi, .pa = lo->middle, .pb = hi->middle };
    const double to_lo = width_towards(b, t->hi, t->lo, t->n);
    if (t->lo <= net->n_broad) {
        const double x = t->x / t->n * net->cell_mm, y = t->y / t->n * net->cell_mm;
        link.pa = (sw_pt_mm){ net->origin.x_mm + x, net->origin.y_mm + y };
        link.width_mm = to_lo;
    } else if (lo->depth == hi->depth) {
        link.width_mm = t->n * net->cell_mm; /* pieces of one slice, side by side */
    } else {
        const double to_hi = width_towards(b, t->lo, t->hi, t->n);
        link.width_mm = 2.0 * to_lo * to_hi / (to_lo + to_hi); /* halves in a row */
    }
    return hold_net_link(net, link);
}

bool hold_beams_make(hold_net *net, double slice_mm)
{
    beams b = { .net = net };
    bool is_done = find_touches(&b) && find_contacts(&b) && measure_widths(&b, slice_mm);
    for (size_t i = 0; i < b.n_touches && is_done; i++) is_done = link_pair(&b, &b.touches[i]);
    sw_free(b.touches);
    sw_free(b.contacts);
    return is_done;
}
