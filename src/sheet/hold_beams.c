/* Beams between nodes whose cells touch. */
#include <stdlib.h>

#include "sheet/hold_rows.h"

#define PART_RATIO 0.5 /* of a wide slice */
#define SIDE_BY_SIDE 16u /* cells compared at once */

/* Sides of cells where two nodes touch; x and y in cells, of one or summed. */
typedef struct touch {
    uint32_t lo, hi, n;
    double x, y;
} touch;

typedef struct beams {
    hold_net *net;
    touch *touches; /* by lo, then hi */
    size_t n_touches, cap_touches;
} beams;

static bool add_touch(beams *b, size_t i, size_t j)
{
    const hold_net *const net = b->net;
    const uint32_t one = net->node_of[i], other = net->node_of[j];
    if (one == HOLD_NONE || other == HOLD_NONE || (one <= net->n_broad && other <= net->n_broad)) return true;
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

/* Are SIDE_BY_SIDE cells from i on like those that follow them by step? Most are. */
static bool are_like(const uint32_t *node_of, size_t i, size_t step)
{
    uint32_t off = 0;
    for (size_t k = i; k < i + SIDE_BY_SIDE; k++) off |= node_of[k] ^ node_of[k + step];
    return off == 0;
}

/* Cells begin <= i < end with those that follow them by step. */
static bool add_touches(beams *b, size_t begin, size_t end, size_t step)
{
    const uint32_t *const node_of = b->net->node_of;
    for (size_t i = begin; i < end; i++) {
        while (i + SIDE_BY_SIDE <= end && are_like(node_of, i, step)) i += SIDE_BY_SIDE;
        if (i < end && node_of[i] != node_of[i + step] && !add_touch(b, i, i + step)) return false;
    }
    return true;
}

/* One entry a pair of nodes. */
static bool find_touches(beams *b)
{
    const size_t w = b->net->width;
    for (size_t y = 0; y + 1 < b->net->height; y++)
        if (!add_touches(b, y * w, (y + 1) * w - 1, 1) || !add_touches(b, y * w, (y + 1) * w - 1, w)) return false;
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

/* Widths. A slice that leads on is as long as all are, whatever cells it got; one at an end is as long as it is. Where
 * ways from several sides meet, it has a part for each. */
static bool measure_widths(beams *b, double slice_mm)
{
    hold_net *const net = b->net;
    uint32_t *const n_ways = sw_alloc_array(net->n_nodes, sizeof *n_ways);
    if (n_ways == NULL) return false;
    for (size_t i = 0; i < b->n_touches; i++) {
        const uint32_t lo = b->touches[i].lo, hi = b->touches[i].hi;
        const bool is_lo_deeper = net->nodes[lo].depth > net->nodes[hi].depth; /* none are alike: slices of one depth are one */
        n_ways[is_lo_deeper ? lo : hi]++;
        net->nodes[is_lo_deeper ? hi : lo].long_mm = slice_mm;
    }
    for (size_t i = net->n_broad + 1; i < net->n_nodes; i++) {
        hold_node *const node = &net->nodes[i];
        node->long_mm *= (double)sw_max_size(n_ways[i], 1);
        node->width_mm = node->area_mm2 / node->long_mm;
    }
    sw_free(n_ways);
    return true;
}

/* Where a beam to another node starts: in the middle, but at a wide slice that the other takes only a part of, where they
 * touch. */
static sw_pt_mm start_of(const hold_node *node, const hold_node *other, sw_pt_mm touch_at)
{
    return node->is_wide && other->width_mm < PART_RATIO * node->width_mm ? touch_at : node->middle;
}

/* At broad parts all beams start where they touch. */
static bool link_pair(hold_net *net, const touch *t)
{
    const hold_node *const lo = &net->nodes[t->lo], *const hi = &net->nodes[t->hi];
    const sw_pt_mm at = { net->origin.x_mm + t->x / t->n * net->cell_mm, net->origin.y_mm + t->y / t->n * net->cell_mm };
    const bool is_broad = t->lo <= net->n_broad;
    return hold_net_link(net, (hold_link){
        .a = t->lo, .b = t->hi, .pa = is_broad ? at : start_of(lo, hi, at), .pb = is_broad ? hi->middle : start_of(hi, lo, at),
        .width_mm = is_broad ? hi->width_mm : 2.0 * lo->width_mm * hi->width_mm / (lo->width_mm + hi->width_mm) /* halves in a row */
    });
}

bool hold_beams_make(hold_net *net, double slice_mm)
{
    beams b = { .net = net };
    bool is_done = find_touches(&b) && measure_widths(&b, slice_mm);
    for (size_t i = 0; i < b.n_touches && is_done; i++) is_done = link_pair(net, &b.touches[i]);
    net->n_own = net->n_links;
    sw_free(b.touches);
    return is_done;
}
