/*
 * Stacking: what each pass must cut, and what of the area that later passes paint over is worth cutting too.
 *
 * The label map is taken as a graph: its regions (connected areas of one label) with the length of edge they share.
 * For pass k the regions of label k must be cut, those of lower labels and what lies around the artwork must be kept,
 * and the regions of higher labels are free. The choice with the least length of cut line is a minimum cut of that
 * graph. Then trap: the pass spreads under later colours by trap_mm, and a free part that was cut stays as far away
 * from colours that are kept, so that a sheet laid a little off shows no hair of the earlier paint beside the later.
 *
 * Memory: 12 bytes a run of the label map and about 60 a region; 3/8 byte a pixel for trap; the masks themselves.
 */
#include "sheet/bits.h"
#include "sheet/flow.h"
#include "sheet/runs.h"

#include <stdlib.h>
#include <string.h>

/* The label map as a graph. Region ids are 0-based here. */
typedef struct region_graph {
    sw_runs runs;
    uint8_t *label;       /* of each region */
    uint32_t *rim_px;     /* of each region: length on the artwork's edge */
    sw_flow_edge *edges;  /* a < b, each pair once */
    size_t n, n_edges;
} region_graph;

static void graph_free(region_graph *g)
{
    sw_runs_free(&g->runs);
    sw_free(g->label);
    sw_free(g->rim_px);
    sw_free(g->edges);
    *g = (region_graph){ 0 };
}

/* Called for every stretch of common edge of two regions. */
typedef struct edge_sink {
    sw_flow_edge *edges; /* NULL: only count */
    size_t n;
} edge_sink;

static void add_edge(edge_sink *sink, uint32_t a, uint32_t b, uint32_t weight)
{
    if (sink->edges != NULL) sink->edges[sink->n] = (sw_flow_edge){ a < b ? a : b, a < b ? b : a, weight };
    sink->n++;
}

static void walk_edges(const sw_runs *runs, edge_sink *sink)
{
    for (size_t y = 0; y < runs->n_rows; y++) {
        for (size_t j = runs->row[y]; j + 1 < runs->row[y + 1]; j++)
            add_edge(sink, runs->at[j].id - 1, runs->at[j + 1].id - 1, 1);
        if (y == 0) continue;
        size_t i = runs->row[y - 1];
        for (size_t j = runs->row[y]; j < runs->row[y + 1]; j++) {
            const sw_run run = runs->at[j];
            for (size_t k = i; k < runs->row[y] && runs->at[k].begin < run.end; k++) {
                const sw_run above = runs->at[k];
                const uint32_t from = above.begin > run.begin ? above.begin : run.begin;
                const uint32_t to = above.end < run.end ? above.end : run.end;
                if (above.id != run.id) add_edge(sink, above.id - 1, run.id - 1, to - from);
            }
            while (i < runs->row[y] && runs->at[i].end <= run.end) i++;
        }
    }
}

static int by_ends(const void *p, const void *q)
{
    const sw_flow_edge *const a = p, *const b = q;
    if (a->a != b->a) return a->a < b->a ? -1 : 1;
    return a->b < b->b ? -1 : a->b > b->b;
}

/* Sort by ends and sum equal pairs. Buckets by the first end keep the sort near linear. */
static bool merge_edges(region_graph *g, sw_flow_edge *raw, size_t n_raw)
{
    size_t *const first = sw_alloc_array(g->n + 2, sizeof *first);
    if (first == NULL) return false;
    for (size_t i = 0; i < n_raw; i++) first[raw[i].a + 2]++;
    for (size_t i = 2; i <= g->n + 1; i++) first[i] += first[i - 1];
    for (size_t i = 0; i < n_raw; i++) g->edges[first[raw[i].a + 1]++] = raw[i];
    size_t n = 0;
    for (size_t a = 0; a < g->n; a++) {
        const size_t begin = first[a], end = first[a + 1];
        qsort(g->edges + begin, end - begin, sizeof *g->edges, by_ends);
        for (size_t i = begin; i < end; i++) {
            const bool is_same = n > 0 && g->edges[n - 1].a == g->edges[i].a && g->edges[n - 1].b == g->edges[i].b;
            if (is_same) g->edges[n - 1].weight += g->edges[i].weight;
            else g->edges[n++] = g->edges[i];
        }
    }
    g->n_edges = n;
    sw_free(first);
    return true;
}

static void describe_regions(region_graph *g, const uint8_t *label, size_t width)
{
    for (size_t y = 0; y < g->runs.n_rows; y++) {
        for (size_t i = g->runs.row[y]; i < g->runs.row[y + 1]; i++) {
            const sw_run run = g->runs.at[i];
            const uint32_t id = run.id - 1;
            g->label[id] = label[y * width + run.begin];
            g->rim_px[id] += (run.begin == 0 ? 1u : 0u) + (run.end == width ? 1u : 0u);
            if (y == 0) g->rim_px[id] += run.end - run.begin;
            if (y + 1 == g->runs.n_rows) g->rim_px[id] += run.end - run.begin;
        }
    }
}

static sw_status graph_make(const sw_separation *s, region_graph *out, sw_note *note)
{
    region_graph g = { 0 };
    sw_flow_edge *raw = NULL;
    sw_status st = SW_NO_MEMORY;
    const size_t width = s->grid.width_px;
    if (sw_runs_make(s->label, width, s->grid.height_px, width, SW_RUNS_ALL, false, &g.runs, note) != SW_OK)
        goto cleanup;
    g.n = g.runs.n_components;
    edge_sink counted = { 0 };
    walk_edges(&g.runs, &counted);
    raw = sw_alloc_raw(counted.n + 1, sizeof *raw);
    g.edges = sw_alloc_raw(counted.n + 1, sizeof *g.edges);
    g.label = sw_alloc_raw(g.n, sizeof *g.label);
    g.rim_px = sw_alloc_array(g.n, sizeof *g.rim_px);
    if (raw == NULL || g.edges == NULL || g.label == NULL || g.rim_px == NULL) goto cleanup;
    edge_sink sink = { .edges = raw };
    walk_edges(&g.runs, &sink);
    if (!merge_edges(&g, raw, sink.n)) goto cleanup;
    describe_regions(&g, s->label, width);
    *out = g;
    g = (region_graph){ 0 };
    st = SW_OK;
cleanup:
    if (st != SW_OK) sw_fail_memory(note, "the regions of the label map");
    sw_free(raw);
    graph_free(&g);
    return st;
}

/* ---- what to cut of the free area -------------------------------------------------------------- */

#define NOT_FREE UINT32_MAX

/* is_cut[region] for pass k. */
static sw_status choose(const region_graph *g, uint8_t k, uint8_t *is_cut, sw_note *note)
{
    uint32_t *const node = sw_alloc_raw(g->n, sizeof *node);
    uint64_t *const pull = sw_alloc_array(2 * g->n, sizeof *pull); /* to the source, then to the sink */
    sw_flow_edge *const edges = sw_alloc_raw(g->n_edges + 1, sizeof *edges);
    uint8_t *const side = sw_alloc_raw(g->n, sizeof *side);
    sw_status st = SW_OK;
    if (node == NULL || pull == NULL || edges == NULL || side == NULL) {
        st = sw_fail_memory(note, "stacking");
        goto cleanup;
    }
    uint32_t n = 0;
    for (size_t i = 0; i < g->n; i++) {
        node[i] = NOT_FREE;
        if (g->label[i] > k) node[i] = n++;
    }
    uint64_t *const source = pull, *const sink = pull + n;
    for (size_t i = 0; i < g->n; i++)
        if (node[i] != NOT_FREE) sink[node[i]] = g->rim_px[i];
    size_t n_edges = 0;
    for (size_t i = 0; i < g->n_edges; i++) {
        const sw_flow_edge e = g->edges[i];
        const uint32_t a = node[e.a], b = node[e.b];
        if (a != NOT_FREE && b != NOT_FREE) {
            edges[n_edges++] = (sw_flow_edge){ a, b, e.weight };
            continue;
        }
        const uint32_t free_end = a != NOT_FREE ? a : b;
        if (free_end == NOT_FREE) continue;
        const uint8_t other = g->label[a != NOT_FREE ? e.b : e.a];
        if (other == k) source[free_end] += e.weight;
        else sink[free_end] += e.weight;
    }
    st = sw_flow_cut(n, source, sink, edges, n_edges, side, note);
    if (st != SW_OK) goto cleanup;
    for (size_t i = 0; i < g->n; i++) is_cut[i] = node[i] == NOT_FREE ? g->label[i] == k : side[node[i]];
cleanup:
    sw_free(node);
    sw_free(pull);
    sw_free(edges);
    sw_free(side);
    return st;
}

typedef struct paint_job {
    const region_graph *g;
    const uint8_t *is_cut;
    sw_mask *mask;
} paint_job;

static void paint_rows(size_t row_begin, size_t row_end, void *arg)
{
    const paint_job *const job = arg;
    const sw_runs *const runs = &job->g->runs;
    for (size_t y = row_begin; y < row_end; y++) {
        uint8_t *const row = job->mask->at + y * job->mask->width_px;
        for (size_t i = runs->row[y]; i < runs->row[y + 1]; i++)
            memset(row + runs->at[i].begin, job->is_cut[runs->at[i].id - 1], runs->at[i].end - runs->at[i].begin);
    }
}

/* ---- trap -------------------------------------------------------------------------------------- */

typedef struct trap_room {
    sw_bits in, near_must, near_keep;
} trap_room;

static void trap_room_free(trap_room *room)
{
    sw_bits_free(&room->in);
    sw_bits_free(&room->near_must);
    sw_bits_free(&room->near_keep);
}

typedef struct trap_job {
    const sw_separation *s;
    const trap_room *room;
    sw_mask *mask;
    uint8_t pass;
} trap_job;

/* A pixel that later passes paint over, with the trap of this one. */
static inline uint8_t trapped(uint8_t mask, uint8_t label, uint8_t pass, uint8_t is_near_must, uint8_t is_near_keep)
{
    const uint8_t spread = (mask | is_near_must) & (uint8_t)(is_near_keep ^ 1u);
    return label > pass ? spread : mask;
}

/* Up to 64 pixels; most words are all 0 or all 1. */
static void trap_word(const uint8_t *restrict label, uint8_t pass, uint64_t must, uint64_t keep, size_t n, uint8_t *restrict mask)
{
    const uint8_t all_must = must != 0, all_keep = keep != 0;
    if (must + 1 <= 1 && keep + 1 <= 1)
        for (size_t i = 0; i < n; i++) mask[i] = trapped(mask[i], label[i], pass, all_must, all_keep);
    else
        for (size_t i = 0; i < n; i++) mask[i] = trapped(mask[i], label[i], pass, must >> i & 1, keep >> i & 1);
}

static void trap_rows(size_t row_begin, size_t row_end, void *arg)
{
    const trap_job *const job = arg;
    const size_t width = job->mask->width_px;
    const sw_bits *const must = &job->room->near_must, *const keep = &job->room->near_keep;
    for (size_t y = row_begin; y < row_end; y++) {
        const size_t row = (y + must->pad_y) * must->words + must->pad_x / 64;
        for (size_t x = 0; x < width; x += 64)
            trap_word(job->s->label + y * width + x, job->pass, must->at[row + x / 64], keep->at[row + x / 64],
                      sw_min_size(64, width - x), job->mask->at + y * width + x);
    }
}

static void trap_pass(const sw_separation *s, uint8_t k, const sw_disc *disc, trap_room *room, sw_mask *mask)
{
    const size_t width = s->grid.width_px;
    sw_bits_from_bytes(&room->in, s->label, width, k, k, false);
    sw_bits_dilate(&room->in, disc, SW_DISC_PIXELS, false, false, &room->near_must);
    sw_bits_from_bytes(&room->in, s->label, width, 0, (uint8_t)(k - 1), true);
    sw_bits_dilate(&room->in, disc, SW_DISC_PIXELS, false, false, &room->near_keep);
    trap_job job = { .s = s, .room = room, .mask = mask, .pass = k };
    sw_parallel_rows(s->grid.height_px, trap_rows, &job);
}

static sw_status trap_all(const sw_separation *s, double trap_mm, sw_mask *masks, sw_note *note)
{
    const double trap_px = sw_px_from_mm(&s->grid, trap_mm);
    /* half a pixel more: from the centre of the last pixel inside to the centre of the last one within the trap */
    const sw_disc disc = sw_disc_of_radius(sw_min(trap_px + 0.5, SW_DISC_MAX_PX / 2));
    trap_room room = { 0 };
    sw_bits *const each[3] = { &room.in, &room.near_must, &room.near_keep };
    sw_status st = SW_OK;
    for (size_t i = 0; i < 3 && st == SW_OK; i++)
        st = sw_bits_make(s->grid.width_px, s->grid.height_px, disc.reach + 1, each[i], note);
    for (size_t k = 1; k < s->n_passes && st == SW_OK; k++) /* nothing is painted after the last pass */
        trap_pass(s, (uint8_t)k, &disc, &room, &masks[k - 1]);
    trap_room_free(&room);
    return st;
}

sw_status sw_sheets_stack(const sw_separation *separation, double trap_mm, sw_mask *out, sw_note *note)
{
    const sw_separation *const s = separation;
    region_graph g = { 0 };
    sw_mask made[SW_MAX_PASSES] = { { 0 } };
    uint8_t *is_cut = NULL;
    sw_status st = sw_length_ok(trap_mm, true) ? SW_OK : sw_fail(note, SW_BAD_LENGTH, "the trap is not a length");
    if (st == SW_OK) st = graph_make(s, &g, note);
    if (st != SW_OK) goto cleanup;
    is_cut = sw_alloc_raw(g.n, 1);
    if (is_cut == NULL) {
        st = sw_fail_memory(note, "stacking");
        goto cleanup;
    }
    for (size_t k = 1; k <= s->n_passes; k++) {
        st = choose(&g, (uint8_t)k, is_cut, note);
        if (st == SW_OK) st = sw_mask_make_raw(s->grid.width_px, s->grid.height_px, &made[k - 1], note);
        if (st != SW_OK) goto cleanup;
        paint_job job = { .g = &g, .is_cut = is_cut, .mask = &made[k - 1] };
        sw_parallel_rows(s->grid.height_px, paint_rows, &job);
    }
    if (trap_mm > 0.0) st = trap_all(s, trap_mm, made, note);
    if (st != SW_OK) goto cleanup;
    for (size_t k = 0; k < s->n_passes; k++) {
        out[k] = made[k];
        made[k] = (sw_mask){ 0 };
    }
cleanup:
    for (size_t k = 0; k < SW_MAX_PASSES; k++) sw_mask_free(&made[k]);
    sw_free(is_cut);
    graph_free(&g);
    return st;
}
