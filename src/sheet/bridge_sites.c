/* Places that sink too far, sorted by how far, and by the squares they lie in: there are thousands, and neighbours are
 * asked for thousands of times. */
#include <math.h>
#include <stdlib.h>

#include "sheet/bridge_hold.h"

#define MOST_SQUARES 512.0 /* a side */

static bool add_site(bridge_holder *h, uint32_t node, sw_pt_mm at)
{
    const double sink = hold_sink_mm(h->net, node, at);
    if (!(sink > h->limit_mm)) return true;
    void *sites = h->sites;
    const bool is_grown = sw_grow(&sites, &h->cap_sites, h->n_sites + 1, sizeof *h->sites);
    h->sites = sites;
    if (!is_grown) return false;
    h->sites[h->n_sites++] = (bridge_site){ .sink_mm = sink, .at = at, .node = node };
    return true;
}

static int compare_sites(const void *left, const void *right)
{
    const bridge_site *const a = left, *const b = right;
    if (a->sink_mm != b->sink_mm) return a->sink_mm > b->sink_mm ? -1 : 1;
    if (a->node != b->node) return a->node < b->node ? -1 : 1;
    if (a->at.y_mm != b->at.y_mm) return a->at.y_mm < b->at.y_mm ? -1 : 1;
    return a->at.x_mm < b->at.x_mm ? -1 : a->at.x_mm > b->at.x_mm;
}

static uint32_t square_of(double mm, double corner_mm, double square_mm, size_t n)
{
    return (uint32_t)sw_clamp(floor((mm - corner_mm) / square_mm), 0.0, (double)n - 1.0);
}

static size_t square_at(const bridge_holder *h, sw_pt_mm at)
{
    return (size_t)square_of(at.y_mm, h->corner.y_mm, h->square_mm, h->squares_high) * h->squares_wide +
           square_of(at.x_mm, h->corner.x_mm, h->square_mm, h->squares_wide);
}

/* As large as a neighbourhood, so that one lies in 3 x 3. */
static void lay_squares(bridge_holder *h)
{
    sw_pt_mm least = h->sites[0].at, most = least;
    for (size_t i = 1; i < h->n_sites; i++) {
        const sw_pt_mm at = h->sites[i].at;
        least = (sw_pt_mm){ sw_min(least.x_mm, at.x_mm), sw_min(least.y_mm, at.y_mm) };
        most = (sw_pt_mm){ sw_max(most.x_mm, at.x_mm), sw_max(most.y_mm, at.y_mm) };
    }
    const double wide = most.x_mm - least.x_mm, high = most.y_mm - least.y_mm;
    h->corner = least;
    h->square_mm = sw_max(1.01 * BRIDGE_NEAR_RATIO * h->reach_mm, sw_max(wide, high) / MOST_SQUARES);
    h->squares_wide = (size_t)(wide / h->square_mm) + 1;
    h->squares_high = (size_t)(high / h->square_mm) + 1;
}

static bool list_squares(bridge_holder *h)
{
    lay_squares(h);
    const size_t n = h->squares_wide * h->squares_high;
    void *first = h->first, *listed = h->listed;
    const bool is_first = sw_grow(&first, &h->cap_first, n + 2, sizeof *h->first);
    const bool is_listed = sw_grow(&listed, &h->cap_listed, h->n_sites, sizeof *h->listed);
    h->first = first;
    h->listed = listed;
    if (!is_first || !is_listed) return false;
    for (size_t k = 0; k < n + 2; k++) h->first[k] = 0;
    for (size_t i = 0; i < h->n_sites; i++) h->first[square_at(h, h->sites[i].at) + 2]++;
    for (size_t k = 2; k < n + 2; k++) h->first[k] += h->first[k - 1];
    for (uint32_t i = 0; i < h->n_sites; i++) h->listed[h->first[square_at(h, h->sites[i].at) + 1]++] = i;
    return true;
}

void bridge_sites_close(bridge_holder *h, sw_pt_mm middle, double within_mm)
{
    const double s = h->square_mm;
    const size_t x0 = square_of(middle.x_mm - within_mm, h->corner.x_mm, s, h->squares_wide);
    const size_t x1 = square_of(middle.x_mm + within_mm, h->corner.x_mm, s, h->squares_wide);
    const size_t y0 = square_of(middle.y_mm - within_mm, h->corner.y_mm, s, h->squares_high);
    const size_t y1 = square_of(middle.y_mm + within_mm, h->corner.y_mm, s, h->squares_high);
    for (size_t y = y0; y <= y1; y++)
        for (uint32_t k = h->first[y * h->squares_wide + x0]; k < h->first[y * h->squares_wide + x1 + 1]; k++) {
            bridge_site *const at = &h->sites[h->listed[k]];
            if (bridge_is_within(at->at, middle, within_mm)) at->is_closed = true;
        }
}

bridge_walk bridge_sites_walk(const bridge_holder *h, const bridge_site *from)
{
    const size_t middle = square_at(h, from->at), x = middle % h->squares_wide, y = middle / h->squares_wide;
    bridge_walk walk = { .n = 0 };
    for (size_t row = y > 0 ? y - 1 : 0; row <= y + 1 && row < h->squares_high; row++)
        for (size_t column = x > 0 ? x - 1 : 0; column <= x + 1 && column < h->squares_wide; column++) {
            walk.at[walk.n] = h->first[row * h->squares_wide + column];
            walk.end[walk.n++] = h->first[row * h->squares_wide + column + 1];
        }
    return walk;
}

const bridge_site *bridge_sites_next(const bridge_holder *h, const bridge_site *from, bridge_walk *walk)
{
    const size_t least = (size_t)(from - h->sites);
    size_t square = walk->n;
    for (size_t k = 0; k < walk->n; k++) {
        while (walk->at[k] < walk->end[k] && h->listed[walk->at[k]] < least) walk->at[k]++;
        if (walk->at[k] == walk->end[k]) continue;
        if (square == walk->n || h->listed[walk->at[k]] < h->listed[walk->at[square]]) square = k;
    }
    return square == walk->n ? NULL : &h->sites[h->listed[walk->at[square]++]];
}

bool bridge_sites_find(bridge_holder *h)
{
    const hold_net *const net = h->net;
    h->n_sites = 0;
    for (uint32_t i = 1; i < net->n_nodes; i++) {
        const hold_node *const node = &net->nodes[i];
        if (node->before == HOLD_NONE) continue;
        for (size_t k = 0; i <= net->n_broad && k < HOLD_CORNERS; k++)
            if (!add_site(h, i, net->corners[(i - 1) * HOLD_CORNERS + k])) return false;
        if (i > net->n_broad && !add_site(h, i, node->middle)) return false;
    }
    if (h->n_sites == 0) return true;
    qsort(h->sites, h->n_sites, sizeof *h->sites, compare_sites);
    if (!list_squares(h)) return false;
    for (size_t k = 0; k < h->n_failed; k++) bridge_sites_close(h, h->failed[k], BRIDGE_TRIED_RATIO * h->reach_mm);
    return true;
}
