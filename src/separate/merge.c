/* Whole regions given up where that costs less than keeping them: see sw_regions_merge in level.h. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "separate/level.h"

#define MAX_SWEEPS 4
/* A lone speck reads as dirt or as a slip of the blade where the same speck as a part of something (a pupil in an eye, a
 * letter among letters) reads as that. All around it is one label, and the region there is so much larger; or it is compact,
 * lies where several meet, and nothing of its own label is near, by so many times its size. It costs so much more as a
 * shape. Taste: on the samples dashes of 8 mm x 14 mm on a neck go, pupils of that size stay; at two sizes bits of hair went
 * as well, and at a cost of 2.5 the line beside a smile. */
#define LONE_HOST 30
#define LONE_SHAPE 1.75
#define LONE_SIZES 3u
#define LONE_COMPACT 4u /* the square over its longer side is at most so many times its area */
#define EDGE_TO_LENGTH 0.7853981633974483 /* pi / 4: mean length of a boundary over its count of pixel edges */

typedef struct run {
    uint32_t y, x, n, region;
    uint8_t label;
    bool is_core; /* not in a part thinner than the square of find_cores */
} run;

typedef struct link {
    uint32_t to, n_edges;
} link;

typedef struct regions {
    run *run;
    size_t n_runs, cap_runs;
    size_t *row;          /* first run of each row, and the end */
    size_t n, height;     /* regions; rows */
    uint8_t *label;       /* a region */
    uint64_t *area;
    uint32_t *first;      /* links and runs of region r: first[r] .. first[r + 1] */
    uint32_t *first_run, *run_of;
    link *link;
    uint32_t *candidate;  /* regions that may go, smallest first */
    size_t n_candidates;
    int64_t (*data)[SW_MAX_LABELS]; /* a candidate: sum of data terms for each label */
    bool *is_marked;      /* a candidate: the user marked a part of it */
    uint8_t *core, *spare; /* a pixel: 255 in a core, see find_cores; NULL: regions are whole */
} regions;

static void regions_free(regions *g)
{
    sw_free(g->run);
    sw_free(g->row);
    sw_free(g->label);
    sw_free(g->area);
    sw_free(g->first);
    sw_free(g->first_run);
    sw_free(g->run_of);
    sw_free(g->link);
    sw_free(g->candidate);
    sw_free(g->data);
    sw_free(g->is_marked);
    sw_free(g->core);
    sw_free(g->spare);
}

/* ---- cores ----------------------------------------------------------------------------------------------------- */

/* The opening of all labels at once by a square: where least and most of a window are the same label the square fits,
 * and its pixels are core. What is left are tails, necks and bands: parts thinner than the square, each a region of its
 * own here, since whether it pays is another question than whether the whole does. */
static bool find_cores(regions *g, const uint8_t *label, size_t width, size_t height, size_t radius)
{
    const size_t n_px = width * height;
    if (radius == 0) return true;
    g->core = sw_alloc_raw(n_px, 1);
    g->spare = sw_alloc_raw(n_px, 1);
    if (g->core == NULL || g->spare == NULL) return false;
    sw_morph(label, g->core, width, height, radius, 0);
    sw_morph(label, g->spare, width, height, radius, 255);
    for (size_t i = 0; i < n_px; i++) g->spare[i] = g->spare[i] == g->core[i] ? 255 : 0;
    sw_morph(g->spare, g->core, width, height, radius, 255);
    return true;
}

/* ---- runs and regions ------------------------------------------------------------------------------------------ */

static bool find_runs(regions *g, const uint8_t *label, size_t width, size_t height)
{
    g->row = sw_alloc_raw(height + 1, sizeof *g->row);
    if (g->row == NULL) return false;
    for (size_t y = 0; y < height; y++) {
        const uint8_t *const row = label + y * width, *const core = g->core == NULL ? row : g->core + y * width;
        g->row[y] = g->n_runs;
        for (size_t x = 0; x < width;) {
            size_t end = x + 1;
            while (end < width && row[end] == row[x] && core[end] == core[x]) end++;
            void *data = g->run;
            if (g->n_runs >= UINT32_MAX || !sw_grow(&data, &g->cap_runs, g->n_runs + 1, sizeof *g->run)) return false;
            g->run = data;
            g->run[g->n_runs] = (run){ (uint32_t)y, (uint32_t)x, (uint32_t)(end - x), (uint32_t)g->n_runs, row[x],
                                      core[x] != 0 };
            g->n_runs++;
            x = end;
        }
    }
    g->row[height] = g->n_runs;
    return true;
}

static uint32_t root_of(run *all, uint32_t i)
{
    while (all[i].region != i) i = all[i].region = all[all[i].region].region;
    return i;
}

/* Call fn for every pair of runs that touch in rows y and y + 1, with the length along which they do. */
typedef void (*touch_fn)(regions *g, uint32_t upper, uint32_t lower, uint32_t n_edges);

static void for_touching(regions *g, size_t height, touch_fn fn)
{
    for (size_t y = 0; y + 1 < height; y++) {
        size_t one = g->row[y], two = g->row[y + 1];
        while (one < g->row[y + 1] && two < g->row[y + 2]) {
            const run *const a = &g->run[one], *const b = &g->run[two];
            const uint32_t end_a = a->x + a->n, end_b = b->x + b->n;
            const uint32_t begin = a->x > b->x ? a->x : b->x, end = end_a < end_b ? end_a : end_b;
            fn(g, (uint32_t)one, (uint32_t)two, end - begin);
            one += end_a <= end_b;
            two += end_b <= end_a;
        }
    }
}

static void join_equal(regions *g, uint32_t upper, uint32_t lower, uint32_t n_edges)
{
    (void)n_edges;
    if (g->run[upper].label != g->run[lower].label || g->run[upper].is_core != g->run[lower].is_core) return;
    const uint32_t a = root_of(g->run, upper), b = root_of(g->run, lower);
    if (a < b) g->run[b].region = a;
    else g->run[a].region = b;
}

/* Regions are numbered in order of their first run; runs of a region are gathered. */
static bool find_regions(regions *g, size_t height)
{
    for_touching(g, height, join_equal);
    for (size_t i = 0; i < g->n_runs; i++) { /* roots come before their members */
        const uint32_t parent = g->run[i].region;
        g->run[i].region = parent == i ? (uint32_t)g->n++ : g->run[parent].region;
    }
    g->label = sw_alloc_raw(g->n, 1);
    g->area = sw_alloc_array(g->n, sizeof *g->area);
    g->first_run = sw_alloc_array(g->n + 2, sizeof *g->first_run);
    g->run_of = sw_alloc_raw(g->n_runs, sizeof *g->run_of);
    if (g->label == NULL || g->area == NULL || g->first_run == NULL || g->run_of == NULL) return false;
    for (size_t i = 0; i < g->n_runs; i++) {
        g->label[g->run[i].region] = g->run[i].label;
        g->area[g->run[i].region] += g->run[i].n;
        g->first_run[g->run[i].region + 2]++;
    }
    for (size_t r = 0; r < g->n; r++) g->first_run[r + 2] += g->first_run[r + 1];
    for (size_t i = 0; i < g->n_runs; i++) g->run_of[g->first_run[g->run[i].region + 1]++] = (uint32_t)i;
    return true;
}

/* ---- links ------------------------------------------------------------------------------------------------------ */

static void count_link(regions *g, uint32_t upper, uint32_t lower, uint32_t n_edges)
{
    (void)n_edges;
    const uint32_t a = g->run[upper].region, b = g->run[lower].region;
    if (a == b) return;
    g->first[a + 2]++;
    g->first[b + 2]++;
}

static void add_link(regions *g, uint32_t upper, uint32_t lower, uint32_t n_edges)
{
    const uint32_t a = g->run[upper].region, b = g->run[lower].region;
    if (a == b) return;
    g->link[g->first[a + 1]++] = (link){ b, n_edges };
    g->link[g->first[b + 1]++] = (link){ a, n_edges };
}

static void for_neighbours(regions *g, size_t height, touch_fn fn)
{
    for_touching(g, height, fn);
    for (size_t y = 0; y < height; y++) {
        for (size_t i = g->row[y] + 1; i < g->row[y + 1]; i++) fn(g, (uint32_t)(i - 1), (uint32_t)i, 1);
    }
}

/* Links of each region, one for every pair of runs that touch: several to the same neighbour are fine. */
static bool find_links(regions *g, size_t height)
{
    g->first = sw_alloc_array(g->n + 2, sizeof *g->first);
    if (g->first == NULL) return false;
    for_neighbours(g, height, count_link);
    for (size_t r = 0; r < g->n; r++) g->first[r + 2] += g->first[r + 1];
    g->link = sw_alloc_raw(sw_max_size(g->first[g->n + 1], 1), sizeof *g->link);
    if (g->link == NULL) return false;
    for_neighbours(g, height, add_link);
    return true;
}

/* ---- candidates ------------------------------------------------------------------------------------------------ */

typedef struct order {
    uint64_t area;
    uint32_t region;
} order;

static int by_area(const void *one, const void *two)
{
    const order *const a = one, *const b = two;
    if (a->area != b->area) return a->area < b->area ? -1 : 1;
    return a->region < b->region ? -1 : a->region > b->region;
}

static uint64_t edges_of(const regions *g, size_t r)
{
    uint64_t n = 0;
    for (uint32_t i = g->first[r]; i < g->first[r + 1]; i++) n += g->link[i].n_edges;
    return n;
}

/* A region is worth a look if its mean half width is below max_half_px. */
static bool find_candidates(regions *g, double max_half_px)
{
    order *const found = sw_alloc_raw(g->n, sizeof *found);
    bool is_done = false;
    if (found == NULL) goto cleanup;
    for (size_t r = 0; r < g->n; r++) {
        if ((double)g->area[r] <= max_half_px * EDGE_TO_LENGTH * (double)edges_of(g, r))
            found[g->n_candidates++] = (order){ g->area[r], (uint32_t)r };
    }
    qsort(found, g->n_candidates, sizeof *found, by_area);
    g->candidate = sw_alloc_raw(sw_max_size(g->n_candidates, 1), sizeof *g->candidate);
    g->data = sw_alloc_array(sw_max_size(g->n_candidates, 1), sizeof *g->data);
    g->is_marked = sw_alloc_array(sw_max_size(g->n_candidates, 1), sizeof *g->is_marked);
    if (g->candidate == NULL || g->data == NULL || g->is_marked == NULL) goto cleanup;
    for (size_t i = 0; i < g->n_candidates; i++) g->candidate[i] = found[i].region;
    is_done = true;
cleanup:
    sw_free(found);
    return is_done;
}

typedef struct sum_task {
    const sw_label_task *task;
    const sw_level *level;
    regions *g;
    double min_area_px;
} sum_task;

/* A part of something larger of the same label. */
static bool is_attached(const regions *g, uint32_t r)
{
    for (uint32_t k = g->first[r]; k < g->first[r + 1]; k++) {
        if (g->label[g->link[k].to] == g->label[r]) return true;
    }
    return false;
}

/* Data terms of candidates. One too small to be cut has none: its neighbours decide. */
static void sum_candidates(size_t begin, size_t end, void *ctx)
{
    const sum_task *const t = ctx;
    int32_t data[SW_MAX_LABELS][SW_ROW_PX];
    for (size_t i = begin; i < end; i++) {
        const uint32_t r = t->g->candidate[i];
        if ((double)t->g->area[r] < t->min_area_px && !is_attached(t->g, r)) continue;
        bool is_marked = false;
        for (uint32_t k = t->g->first_run[r]; k < t->g->first_run[r + 1]; k++) {
            const run *const at = &t->g->run[t->g->run_of[k]];
            is_marked |= sw_level_weight(t->level, at->x + at->n / 2, at->y) == SW_WEIGHT_MARKED;
            for (uint32_t x = 0; x < at->n; x += SW_ROW_PX) {
                const size_t n = sw_min_size(SW_ROW_PX, at->n - x);
                sw_level_data(t->level, at->x + x, at->y, n, data);
                for (size_t label = 0; label < t->task->n_labels; label++) {
                    for (size_t px = 0; px < n; px++) t->g->data[i][label] += data[label][px];
                }
            }
        }
        t->g->is_marked[i] = is_marked;
    }
}

/* ---- the choice ------------------------------------------------------------------------------------------------- */

/* Best label for candidate i: its own, or that of a neighbour. lambda per pixel edge. */
static uint8_t best_label(const regions *g, size_t i, double lambda, double shape, bool is_too_small)
{
    const uint32_t r = g->candidate[i];
    uint64_t edges[SW_MAX_LABELS] = { 0 };
    for (uint32_t k = g->first[r]; k < g->first[r + 1]; k++) edges[g->label[g->link[k].to]] += g->link[k].n_edges;
    uint8_t best = g->label[r];
    /* boundary cost is lambda * (all edges - edges to the same label); all edges are the same for every choice. Once a
     * neighbour has its label the region is no shape of its own any more */
    double least = (double)g->data[i][best] - lambda * (double)edges[best] + (edges[best] == 0 ? shape : 0.0);
    if (is_too_small && edges[best] == 0) least = INFINITY;
    for (uint8_t label = 0; label < SW_MAX_LABELS; label++) {
        if (edges[label] == 0 || label == g->label[r]) continue;
        const double cost = (double)g->data[i][label] - lambda * (double)edges[label];
        if (cost >= least) continue;
        least = cost;
        best = label;
    }
    return best;
}

/* Is a region compact, and nothing of its own label near? */
static bool is_far_from_like(const regions *g, uint32_t r)
{
    size_t x0 = SIZE_MAX, x1 = 0, y0 = SIZE_MAX, y1 = 0;
    for (uint32_t k = g->first_run[r]; k < g->first_run[r + 1]; k++) {
        const run *const at = &g->run[g->run_of[k]];
        x0 = sw_min_size(x0, at->x);
        x1 = sw_max_size(x1, (size_t)at->x + at->n);
        y0 = sw_min_size(y0, at->y);
        y1 = sw_max_size(y1, (size_t)at->y + 1);
    }
    const size_t size = sw_max_size(x1 - x0, y1 - y0), far = LONE_SIZES * size;
    if (size * size > LONE_COMPACT * g->area[r]) return false;
    x0 = x0 < far ? 0 : x0 - far;
    y0 = y0 < far ? 0 : y0 - far;
    for (size_t y = y0; y < sw_min_size(y1 + far, g->height); y++)
        for (size_t k = g->row[y]; k < g->row[y + 1] && g->run[k].x < x1 + far; k++) {
            const run *const at = &g->run[k];
            if (at->x + at->n > x0 && at->region != r && g->label[at->region] == g->label[r]) return false;
        }
    return true;
}

static bool is_lone(const regions *g, uint32_t r)
{
    bool has_host = false, is_one_label = true;
    for (uint32_t k = g->first[r]; k < g->first[r + 1]; k++) {
        const uint32_t to = g->link[k].to;
        if (g->label[to] == g->label[r]) return false;
        is_one_label = is_one_label && g->label[to] == g->label[g->link[g->first[r]].to];
        has_host |= g->area[to] / LONE_HOST >= g->area[r];
    }
    return has_host && (is_one_label || is_far_from_like(g, r));
}

sw_status sw_regions_merge(const sw_label_task *task, const sw_level *level, size_t core_px, uint8_t *label,
                           sw_note *note)
{
    const size_t width = level->planes->width_px, height = level->planes->height_px;
    const double scale = (double)((size_t)1 << level->index), unit = SW_WEIGHT_ONE * SW_FINE * SW_FINE;
    const double lambda = task->lambda / scale * unit;
    const double min_area_px = task->min_area_px / (scale * scale);
    regions g = { .height = height };
    sw_status st = SW_NO_MEMORY;
    if (!find_cores(&g, label, width, height, core_px)) goto cleanup;
    if (!find_runs(&g, label, width, height) || !find_regions(&g, height) || !find_links(&g, height)) goto cleanup;
    /* half the width of a band that pays: data terms below the cap cannot hold less */
    const double half_px = sw_max(4.0 * task->lambda / scale / sw_max(task->cap_sq, 1.0), sqrt(min_area_px));
    if (!find_candidates(&g, half_px)) goto cleanup;
    sw_parallel_rows(g.n_candidates, sum_candidates, &(sum_task){ task, level, &g, min_area_px });
    for (size_t sweep = 0, n_changed = 1; sweep < MAX_SWEEPS && n_changed > 0; sweep++) {
        n_changed = 0;
        for (size_t i = 0; i < g.n_candidates; i++) {
            const uint32_t r = g.candidate[i];
            const double lone = is_lone(&g, r) ? LONE_SHAPE : 1.0;
            const double shape = g.is_marked[i] ? 0.0 : lone * lambda * task->shape_px / scale;
            const uint8_t best = best_label(&g, i, lambda * EDGE_TO_LENGTH, shape,
                                            (double)g.area[r] < min_area_px);
            n_changed += best != g.label[r];
            g.label[r] = best;
        }
    }
    for (size_t i = 0; i < g.n_runs; i++) {
        if (g.label[g.run[i].region] != g.run[i].label)
            memset(label + g.run[i].y * width + g.run[i].x, g.label[g.run[i].region], g.run[i].n);
    }
    st = SW_OK;
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "the regions");
    regions_free(&g);
    return st;
}
