/* From cells of material to the net: what is broad (an opening by a disc), the way of every other cell from it (Dijkstra
 * with whole steps and a few buckets: Dial 1969), slices of equal way, and beams between slices that touch. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/bits.h"
#include "sheet/hold_rows.h"

#define SIDE 5u          /* a step to the side of a cell; to a corner 7 */
#define CORNER 7u
#define N_WAVES 8u       /* more than the longest step */
#define SLICE_MM 5.0     /* of way in a slice, about; a strip a hand long has 30 of them: its sag is right to 1 % */
#define SOLID_SHARE 0.5f /* of a cell */

typedef struct wave {
    uint32_t *at;
    size_t n, cap;
} wave;

typedef struct maker {
    const sw_hold_cells *cells;
    hold_net *net;
    sw_mask mask;         /* scratch: 1 is what is looked at */
    uint32_t *way;        /* of each cell; first scratch of distances */
    uint32_t *node_of;    /* the net's */
    uint32_t *stack;      /* scratch; shares the net's cells' count */
    uint32_t slice_steps; /* way in a slice */
    size_t most_wide;     /* cells across a slice that is not wide */
    wave waves[N_WAVES];
} maker;

static bool is_solid(const maker *m, size_t i) { return m->cells->cover[i] >= SOLID_SHARE; }

static sw_pt_mm place_of(const hold_net *net, double x, double y)
{
    return (sw_pt_mm){ net->origin.x_mm + x * net->cell_mm, net->origin.y_mm + y * net->cell_mm };
}

static bool add_node(hold_net *net, uint32_t *id)
{
    void *at = net->nodes;
    const bool is_grown = sw_grow(&at, &net->cap_nodes, net->n_nodes + 1, sizeof *net->nodes);
    net->nodes = at;
    if (!is_grown) return false;
    *id = (uint32_t)net->n_nodes;
    net->nodes[net->n_nodes++] = (hold_node){ .before = HOLD_NONE };
    net->is_changed = true;
    return true;
}

bool hold_net_link(hold_net *net, hold_link link)
{
    void *at = net->links;
    const bool is_grown = sw_grow(&at, &net->cap_links, net->n_links + 1, sizeof *net->links);
    net->links = at;
    if (!is_grown) return false;
    net->links[net->n_links++] = link;
    hold_net_touch(net, &link);
    return true;
}

/* ---- broad parts ------------------------------------------------------------------------------------------ */

static void mark_solid(size_t row_begin, size_t row_end, void *ctx)
{
    const maker *const m = ctx;
    const size_t w = m->cells->width;
    for (size_t i = row_begin * w; i < row_end * w; i++) m->mask.at[i] = is_solid(m, i);
}

/* mask becomes 1 where a disc of the diameter fits in material: its centre lies half a cell farther from openings' centres
 * than its radius, because cells are open to their sides. */
static sw_status open_by_disc(maker *m, double diameter_cells, sw_note *note)
{
    const double reach = sw_min(0.5 * diameter_cells, SW_DISC_MAX_PX / 2.0 - 1.0);
    const sw_disc clear = sw_disc_of_radius(nextafter(reach + 0.5, 0.0)), disc = sw_disc_of_radius(reach);
    const size_t w = m->cells->width, h = m->cells->height;
    sw_bits bits[2] = { { 0 } };
    sw_status st = SW_OK;
    for (size_t i = 0; i < 2 && st == SW_OK; i++) st = sw_bits_make(w, h, clear.reach + 1, &bits[i], note);
    if (st == SW_OK) {
        sw_parallel_rows(h, mark_solid, m);
        sw_bits_from_bytes(&bits[0], m->mask.at, w, 1, 1, true);
        sw_bits_dilate(&bits[0], &clear, SW_DISC_PIXELS, true, true, &bits[1]);
        sw_bits_dilate(&bits[1], &disc, SW_DISC_PIXELS, false, false, &bits[0]);
        sw_bits_to_bytes(&bits[0], m->mask.at, w);
    }
    for (size_t i = 0; i < 2; i++) sw_bits_free(&bits[i]);
    return st;
}

/* From the numbers of broad parts, 0 none, to nodes, and where ways begin. */
static void number_cells(size_t row_begin, size_t row_end, void *ctx)
{
    const maker *const m = ctx;
    const size_t w = m->cells->width;
    for (size_t i = row_begin * w; i < row_end * w; i++) {
        const uint32_t part = m->node_of[i];
        m->node_of[i] = part - 1; /* HOLD_NONE where there is none */
        m->way[i] = part == 0 ? UINT32_MAX : 0;
    }
}

/* Broad parts become nodes 1.., those joined with the border are the root. */
static sw_status find_broad(maker *m, double diameter_mm, sw_note *note)
{
    const size_t w = m->cells->width, h = m->cells->height;
    SW_TRY(open_by_disc(m, diameter_mm / m->cells->cell_mm, note));
    memset(m->mask.at, 1, w);
    memset(m->mask.at + (h - 1) * w, 1, w);
    for (size_t y = 0; y < h; y++) m->mask.at[y * w] = m->mask.at[y * w + w - 1] = 1;
    size_t n = 0;
    SW_TRY(sw_components(&m->mask, 1, false, m->node_of, &n, note)); /* the border is number 1: first in raster order */
    sw_parallel_rows(h, number_cells, m);
    for (size_t i = 0; i < n; i++) {
        uint32_t id;
        if (!add_node(m->net, &id)) return sw_fail_memory(note, "what hangs");
    }
    m->net->n_broad = n - 1;
    return SW_OK;
}

/* ---- ways ---------------------------------------------------------------------------------------------------- */

static bool wave_put(maker *m, uint32_t way, size_t cell)
{
    wave *const b = &m->waves[way % N_WAVES];
    void *at = b->at;
    const bool is_grown = sw_grow(&at, &b->cap, b->n + 1, sizeof *b->at);
    b->at = at;
    if (!is_grown) return false;
    m->way[cell] = way;
    b->at[b->n++] = (uint32_t)cell;
    return true;
}

/* A step to a corner needs material beside it. Cells of the border are broad, so no step leaves the raster. */
static bool spread(maker *m, size_t i)
{
    const size_t w = m->cells->width;
    const size_t side[4] = { i - 1, i + 1, i - w, i + w };
    const uint32_t way = m->way[i];
    bool is_open[4];
    for (size_t k = 0; k < 4; k++) {
        is_open[k] = is_solid(m, side[k]);
        if (is_open[k] && m->way[side[k]] > way + SIDE && !wave_put(m, way + SIDE, side[k])) return false;
    }
    for (size_t k = 0; k < 4; k++) {
        const size_t corner = side[2 + k / 2] + (k % 2 == 0 ? (size_t)-1 : 1);
        if (!is_open[k % 2] && !is_open[2 + k / 2]) continue;
        if (is_solid(m, corner) && m->way[corner] > way + CORNER && !wave_put(m, way + CORNER, corner)) return false;
    }
    return true;
}

/* All that hangs together with the cells that wait. */
static bool spread_all(maker *m)
{
    size_t n_empty = 0;
    for (uint32_t way = SIDE; n_empty < N_WAVES; way++) {
        wave *const b = &m->waves[way % N_WAVES];
        n_empty = b->n == 0 ? n_empty + 1 : 0;
        for (size_t k = 0; k < b->n; k++)
            if (m->way[b->at[k]] == way && !spread(m, b->at[k])) return false;
        b->n = 0;
    }
    return true;
}

static bool find_ways(maker *m)
{
    const size_t w = m->cells->width;
    for (size_t y = 1; y + 1 < m->cells->height; y++)
        for (size_t i = y * w + 1; i < (y + 1) * w - 1; i++) {
            if (m->way[i] == 0 || !is_solid(m, i)) continue;
            const bool is_side = m->way[i - 1] == 0 || m->way[i + 1] == 0 || m->way[i - w] == 0 || m->way[i + w] == 0;
            if (is_side && !wave_put(m, SIDE, i)) return false;
        }
    return spread_all(m);
}

/* ---- slices ----------------------------------------------------------------------------------------------- */

static uint32_t slice_of(const maker *m, size_t i) { return (m->way[i] - SIDE) / m->slice_steps; }

/* What the cells at the edge of material have beyond half: shared by the material cells beside them. */
static double area_of(const maker *m, size_t i)
{
    const size_t w = m->cells->width, side[4] = { i - 1, i + 1, i - w, i + w };
    double area = sw_min((double)m->cells->cover[i], 1.0);
    for (size_t k = 0; k < 4; k++) {
        const size_t j = side[k];
        if (is_solid(m, j) || !(m->cells->cover[j] > 0.0f)) continue;
        const int n = is_solid(m, j - 1) + is_solid(m, j + 1) + is_solid(m, j - w) + is_solid(m, j + w);
        area += (double)m->cells->cover[j] / n;
    }
    return area;
}

/* The slice of the first n cells of the stack. */
static void measure_slice(maker *m, size_t n, uint32_t id)
{
    hold_net *const net = m->net;
    const size_t w = m->cells->width;
    double area = 0.0, sum_x = 0.0, sum_y = 0.0;
    size_t far = m->stack[0], near = far;
    for (size_t k = 0; k < n; k++) {
        const size_t i = m->stack[k];
        const double share = area_of(m, i);
        area += share;
        sum_x += share * ((double)(i % w) + 0.5);
        sum_y += share * ((double)(i / w) + 0.5);
        if (m->way[i] > m->way[far]) far = i;
        if (m->way[i] < m->way[near]) near = i;
    }
    hold_node *const node = &net->nodes[id];
    node->area_mm2 = area * net->cell_mm * net->cell_mm;
    node->middle = place_of(net, sum_x / area, sum_y / area);
    node->far = place_of(net, (double)(far % w) + 0.5, (double)(far / w) + 0.5);
    node->depth = slice_of(m, far) + 1;
    node->long_mm = (double)sw_min_size(m->way[far] - m->way[near] + SIDE, m->slice_steps) / SIDE * net->cell_mm;
}

/* One slice: all cells of the same depth that hang together over sides. */
static bool fill_slice(maker *m, size_t start)
{
    const size_t w = m->cells->width, y0 = start / w;
    uint32_t id;
    if (!add_node(m->net, &id)) return false;
    const uint32_t slice = slice_of(m, start);
    size_t n = 0, x0 = start % w, x1 = x0, y1 = y0; /* raster order: the first is the topmost */
    m->stack[n++] = (uint32_t)start;
    m->node_of[start] = id;
    for (size_t k = 0; k < n; k++) { /* the stack is a list here: every cell is put once */
        const size_t i = m->stack[k], side[4] = { i - 1, i + 1, i - w, i + w };
        x0 = sw_min_size(x0, i % w);
        x1 = sw_max_size(x1, i % w);
        y1 = sw_max_size(y1, i / w);
        for (size_t d = 0; d < 4; d++) {
            const size_t j = side[d];
            if (m->node_of[j] != HOLD_NONE || m->way[j] == UINT32_MAX || slice_of(m, j) != slice) continue;
            m->node_of[j] = id;
            m->stack[n++] = (uint32_t)j;
        }
    }
    measure_slice(m, n, id);
    m->net->nodes[id].is_wide = x1 - x0 > m->most_wide || y1 - y0 > m->most_wide;
    return true;
}

/* What no way has reached is an island without broad material: its ways begin at its first cell. */
static bool fill_slices(maker *m)
{
    const size_t w = m->cells->width;
    for (size_t y = 1; y + 1 < m->cells->height; y++)
        for (size_t i = y * w + 1; i < (y + 1) * w - 1; i++) {
            if (m->node_of[i] != HOLD_NONE || !is_solid(m, i)) continue;
            if (m->way[i] == UINT32_MAX && (!wave_put(m, SIDE, i) || !spread_all(m))) return false;
            if (!fill_slice(m, i)) return false;
        }
    return true;
}

/* Area, middle and farthest places of the broad parts. */
static sw_status measure_broad(maker *m, sw_note *note)
{
    hold_net *const net = m->net;
    const size_t w = net->width, n = w * net->height;
    if (net->n_broad == 0) return SW_OK;
    net->corners = sw_alloc_array(net->n_broad * HOLD_CORNERS, sizeof *net->corners);
    double *const best = sw_alloc_raw(net->n_broad * HOLD_CORNERS, sizeof *best);
    if (net->corners == NULL || best == NULL) {
        sw_free(best);
        return sw_fail_memory(note, "what hangs");
    }
    double dx[HOLD_CORNERS], dy[HOLD_CORNERS];
    for (size_t k = 0; k < HOLD_CORNERS; k++) {
        dx[k] = cos(6.283185307179586 * (double)k / HOLD_CORNERS);
        dy[k] = sin(6.283185307179586 * (double)k / HOLD_CORNERS);
    }
    for (size_t i = 0; i < net->n_broad * HOLD_CORNERS; i++) best[i] = -HUGE_VAL;
    for (size_t i = 0; i < n; i++) {
        const uint32_t id = net->node_of[i];
        if (id == HOLD_ROOT || id > net->n_broad) continue;
        hold_node *const node = &net->nodes[id];
        const sw_pt_mm at = place_of(net, (double)(i % w) + 0.5, (double)(i / w) + 0.5);
        node->area_mm2 += net->cell_mm * net->cell_mm;
        node->middle.x_mm += at.x_mm; /* sums, until divided */
        node->middle.y_mm += at.y_mm;
        if (m->way[i - 1] == 0 && m->way[i + 1] == 0 && m->way[i - w] == 0 && m->way[i + w] == 0) continue;
        for (size_t k = 0; k < HOLD_CORNERS; k++) {
            const double reach = at.x_mm * dx[k] + at.y_mm * dy[k];
            if (!(reach > best[(id - 1) * HOLD_CORNERS + k])) continue;
            best[(id - 1) * HOLD_CORNERS + k] = reach;
            net->corners[(id - 1) * HOLD_CORNERS + k] = at;
        }
    }
    for (uint32_t id = 1; id <= net->n_broad; id++) {
        hold_node *const node = &net->nodes[id];
        const double n_cells = node->area_mm2 / (net->cell_mm * net->cell_mm);
        node->middle = (sw_pt_mm){ node->middle.x_mm / n_cells, node->middle.y_mm / n_cells };
        node->far = net->corners[(id - 1) * HOLD_CORNERS];
    }
    sw_free(best);
    return SW_OK;
}

/* ---- the whole ------------------------------------------------------------------------------------------------- */

void hold_net_free(hold_net *net)
{
    if (net == NULL) return;
    hold_keep_free(net);
    sw_free(net->nodes);
    sw_free(net->corners);
    sw_free(net->links);
    sw_free(net->node_of);
    *net = (hold_net){ 0 };
}

static sw_status make_parts(maker *m, double broad_mm, sw_note *note)
{
    SW_TRY(find_broad(m, broad_mm, note));
    if (!find_ways(m)) return sw_fail_memory(note, "what hangs");
    SW_TRY(measure_broad(m, note));
    if (!fill_slices(m) || !hold_beams_make(m->net, (double)m->slice_steps / SIDE * m->cells->cell_mm)) return sw_fail_memory(note, "what hangs");
    return SW_OK;
}

sw_status hold_net_make(const sw_hold_cells *cells, const sw_material *material, double broad_mm, hold_net *out,
                        sw_note *note)
{
    hold_net net = { .material = material != NULL ? material : sw_material_find(NULL), .width = cells->width,
                     .height = cells->height, .cell_mm = cells->cell_mm, .origin = cells->origin };
    maker m = { .cells = cells, .net = &net };
    const size_t n = cells->width * cells->height;
    m.most_wide = (size_t)sw_clamp(broad_mm / cells->cell_mm, 2.0, 65536.0);
    m.slice_steps = SIDE * (uint32_t)sw_clamp(nearbyint(SLICE_MM / cells->cell_mm), 1.0, 64.0);
    sw_status st = sw_mask_make_raw(cells->width, cells->height, &m.mask, note);
    if (st != SW_OK) goto cleanup;
    m.way = sw_alloc_raw(n, sizeof *m.way);
    m.stack = sw_alloc_raw(n, sizeof *m.stack);
    m.node_of = net.node_of = sw_alloc_raw(n, sizeof *net.node_of);
    st = m.way == NULL || m.stack == NULL || m.node_of == NULL ? sw_fail_memory(note, "what hangs") : SW_OK;
    if (st == SW_OK) st = make_parts(&m, broad_mm, note);
    if (st != SW_OK) goto cleanup;
    *out = net;
    net = (hold_net){ 0 };
cleanup:
    for (size_t i = 0; i < N_WAVES; i++) sw_free(m.waves[i].at);
    sw_mask_free(&m.mask);
    sw_free(m.way);
    sw_free(m.stack);
    hold_net_free(&net);
    return st;
}
