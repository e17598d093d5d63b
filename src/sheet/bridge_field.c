/* Cheapest ways across the openings: shortest paths from all parts of material at once (Dijkstra over cells, integer
 * costs, a ring of buckets: Dial 1969), and the places where the regions of two parts meet (Mehlhorn 1988: the best
 * meeting place of each neighbouring pair is enough for a tree at most twice as dear as the cheapest).
 * Cells of a few pixels, a third of a bridge or an opening wide, find the place; strips are then fitted on pixels. */
#include <stdlib.h>
#include <string.h>

#include "sheet/bridge_parts.h"

#define N_BUCKETS 65536u /* power of two above the dearest step */
#define COST_MOST 8000u  /* of a cell; 7 * COST_MOST < N_BUCKETS */
#define BLOCK 16u        /* cells; one meeting place a pair is kept in each block */
#define MOST_PAIRS 1024u /* as many as a block has meetings */

static const int step_x[8] = { 1, -1, 0, 0, 1, 1, -1, -1 }, step_y[8] = { 0, 0, 1, -1, 1, -1, 1, -1 };
static const uint8_t opposite[8] = { 1, 0, 3, 2, 7, 6, 5, 4 };

/* ---- cells ----------------------------------------------------------------------------------------- */

typedef struct cells_job {
    const bridge_ground *g;
    bridge_field *f;
} cells_job;

static void fill_cell(const bridge_ground *g, bridge_field *f, size_t cx, size_t cy)
{
    const size_t cell = cy * f->width + cx, width = g->mask.width_px;
    const size_t x1 = sw_min_size((cx + 1) * f->factor, width), y1 = sw_min_size((cy + 1) * f->factor, g->mask.height_px);
    uint32_t owner = 0, sum = 0, n = 0;
    bool is_wall = false;
    for (size_t y = cy * f->factor; y < y1; y++)
        for (size_t x = cx * f->factor; x < x1; x++) {
            const uint32_t part = g->part[y * width + x];
            if (part != 0) {
                if (owner == 0) owner = part;
                continue;
            }
            const uint32_t cost = bridge_pixel_cost(g, x, y);
            is_wall |= cost == BRIDGE_WALL;
            if (cost != BRIDGE_WALL) sum += cost;
            n++;
        }
    f->owner[cell] = owner;
    f->dist[cell] = owner != 0 ? 0 : UINT32_MAX;
    f->cost[cell] = owner != 0 || is_wall ? 0 : (uint16_t)sw_min_size(1 + sum / n, COST_MOST);
    f->back[cell] = BRIDGE_SOURCE;
}

static void fill_cells(size_t begin, size_t end, void *ctx)
{
    const cells_job *job = ctx;
    for (size_t cy = begin; cy < end; cy++)
        for (size_t cx = 0; cx < job->f->width; cx++) fill_cell(job->g, job->f, cx, cy);
}

/* ---- what a whole bridge would pay ------------------------------------------------------------------ */

/* Sums over a square of cells as wide as a bridge; a cell's cost becomes the mean over the openings there, so that a
 * path keeps off dear places and walls by half a bridge. 7 bytes a cell while it runs. */
typedef struct widen_job {
    bridge_field *f;
    size_t reach;      /* cells to each side */
    uint32_t *sum;
    uint16_t *n_open;
    uint8_t *n_walls;
} widen_job;

static void sum_rows(size_t begin, size_t end, void *ctx)
{
    const widen_job *job = ctx;
    const bridge_field *f = job->f;
    for (size_t i = begin * f->width; i < end * f->width; i++) {
        const size_t x = i % f->width, x0 = x < job->reach ? 0 : x - job->reach;
        const size_t x1 = sw_min_size(x + job->reach, f->width - 1);
        uint32_t sum = 0, n_open = 0, n_walls = 0;
        for (const uint16_t *cost = f->cost + (i - x) + x0, *last = cost + (x1 - x0); cost <= last; cost++) {
            sum += *cost;
            n_open += *cost != 0;
            n_walls += *cost == 0 && f->owner[(size_t)(cost - f->cost)] == 0;
        }
        job->sum[i] = sum;
        job->n_open[i] = (uint16_t)n_open;
        job->n_walls[i] = n_walls != 0;
    }
}

static void widen_rows(size_t begin, size_t end, void *ctx)
{
    const widen_job *job = ctx;
    bridge_field *const f = job->f;
    for (size_t y = begin; y < end; y++) {
        const size_t y0 = y < job->reach ? 0 : y - job->reach, y1 = sw_min_size(y + job->reach, f->height - 1);
        for (size_t x = 0; x < f->width; x++) {
            uint16_t *const cost = &f->cost[y * f->width + x];
            if (*cost == 0) continue;
            uint32_t sum = 0, n_open = 0, n_walls = 0;
            for (size_t i = y0 * f->width + x; i <= y1 * f->width + x; i += f->width) {
                sum += job->sum[i];
                n_open += job->n_open[i];
                n_walls += job->n_walls[i];
            }
            *cost = n_walls != 0 ? 0 : (uint16_t)sw_max_size(1, sum / n_open);
        }
    }
}

static bool widen_costs(const bridge_ground *g, bridge_field *f)
{
    const size_t n = f->width * f->height;
    widen_job job = { .f = f, .reach = (size_t)(0.5 * g->width_px / (double)f->factor + 0.5) };
    job.sum = sw_alloc_raw(n, sizeof *job.sum);
    job.n_open = sw_alloc_raw(n, sizeof *job.n_open);
    job.n_walls = sw_alloc_raw(n, sizeof *job.n_walls);
    const bool is_made = job.sum != NULL && job.n_open != NULL && job.n_walls != NULL;
    if (is_made) {
        sw_parallel_rows(f->height, sum_rows, &job);
        sw_parallel_rows(f->height, widen_rows, &job);
    }
    sw_free(job.sum);
    sw_free(job.n_open);
    sw_free(job.n_walls);
    return is_made;
}

/* ---- a ring of buckets ----------------------------------------------------------------------------- */

typedef struct entry {
    uint32_t cell, next; /* next: index + 1 in the pool; 0 ends */
} entry;

typedef struct ring {
    uint32_t *head; /* N_BUCKETS */
    entry *pool;
    size_t n_pool, cap_pool, n_waiting;
    uint32_t free_entry;
} ring;

static bool ring_push(ring *r, uint32_t dist, size_t cell)
{
    uint32_t at = r->free_entry;
    if (at != 0) {
        r->free_entry = r->pool[at - 1].next;
    } else {
        void *pool = r->pool;
        const bool is_grown = sw_grow(&pool, &r->cap_pool, r->n_pool + 1, sizeof *r->pool);
        r->pool = pool;
        if (!is_grown) return false;
        at = (uint32_t)++r->n_pool;
    }
    uint32_t *const head = &r->head[dist & (N_BUCKETS - 1)];
    r->pool[at - 1] = (entry){ .cell = (uint32_t)cell, .next = *head };
    *head = at;
    r->n_waiting++;
    return true;
}

static size_t ring_pop(ring *r, uint32_t dist)
{
    uint32_t *const head = &r->head[dist & (N_BUCKETS - 1)];
    const uint32_t at = *head;
    *head = r->pool[at - 1].next;
    r->pool[at - 1].next = r->free_entry;
    r->free_entry = at;
    r->n_waiting--;
    return r->pool[at - 1].cell;
}

/* ---- shortest paths --------------------------------------------------------------------------------- */

static bool is_neighbour(const bridge_field *f, size_t cell, size_t dir, size_t *out)
{
    const size_t x = cell % f->width + (size_t)step_x[dir], y = cell / f->width + (size_t)step_y[dir];
    *out = y * f->width + x; /* below zero wraps to huge and fails the test */
    return x < f->width && y < f->height;
}

static uint32_t step_cost(const bridge_field *f, size_t u, size_t v, size_t dir)
{
    const uint32_t length = dir < 4 ? 5 : 7;
    return length * ((uint32_t)f->cost[u] + f->cost[v]) / 2 + 1;
}

static bool relax(bridge_field *f, ring *r, size_t u)
{
    for (size_t dir = 0; dir < 8; dir++) {
        size_t v;
        if (!is_neighbour(f, u, dir, &v) || f->cost[v] == 0) continue;
        const uint32_t dist = f->dist[u] + step_cost(f, u, v, dir);
        if (dist >= f->dist[v]) continue;
        f->dist[v] = dist;
        f->owner[v] = f->owner[u];
        f->back[v] = opposite[dir];
        if (!ring_push(r, dist, v)) return false;
    }
    return true;
}

static bool run_shortest(bridge_field *f, ring *r)
{
    const size_t n = f->width * f->height;
    for (size_t u = 0; u < n; u++) /* material at an edge of an opening starts the wave */
        if (f->cost[u] == 0 && f->owner[u] != 0 && !relax(f, r, u)) return false;
    for (uint32_t dist = 0; r->n_waiting != 0; dist++)
        while (r->head[dist & (N_BUCKETS - 1)] != 0) {
            const size_t u = ring_pop(r, dist);
            if (f->dist[u] == dist && !relax(f, r, u)) return false;
        }
    return true;
}

void bridge_field_free(bridge_field *field)
{
    sw_free(field->owner);
    sw_free(field->dist);
    sw_free(field->cost);
    sw_free(field->back);
    *field = (bridge_field){ 0 };
}

sw_status bridge_field_make(const bridge_ground *g, bridge_field *out, sw_note *note)
{
    bridge_field f = { 0 };
    ring r = { 0 };
    const double finest_px = sw_min(g->width_px, sw_px_from_mm(&g->grid, g->job->min_opening_mm));
    f.factor = (size_t)sw_clamp(finest_px / 3.0, 1.0, 16.0);
    f.width = (g->mask.width_px + f.factor - 1) / f.factor;
    f.height = (g->mask.height_px + f.factor - 1) / f.factor;
    const size_t n = f.width * f.height;
    f.owner = sw_alloc_raw(n, sizeof *f.owner);
    f.dist = sw_alloc_raw(n, sizeof *f.dist);
    f.cost = sw_alloc_raw(n, sizeof *f.cost);
    f.back = sw_alloc_raw(n, sizeof *f.back);
    r.head = sw_alloc_array(N_BUCKETS, sizeof *r.head);
    bool is_done = f.owner != NULL && f.dist != NULL && f.cost != NULL && f.back != NULL && r.head != NULL;
    if (is_done) {
        sw_parallel_rows(f.height, fill_cells, &(cells_job){ g, &f });
        is_done = widen_costs(g, &f) && run_shortest(&f, &r);
    }
    sw_free(r.head);
    sw_free(r.pool);
    if (!is_done) {
        bridge_field_free(&f);
        return sw_fail_memory(note, "ways across the openings");
    }
    *out = f;
    return SW_OK;
}

size_t bridge_field_step(const bridge_field *f, size_t cell)
{
    size_t next = cell;
    if (f->back[cell] != BRIDGE_SOURCE && !is_neighbour(f, cell, f->back[cell], &next)) return cell;
    return next;
}

size_t bridge_field_back(const bridge_field *f, size_t cell)
{
    while (f->back[cell] != BRIDGE_SOURCE) cell = bridge_field_step(f, cell);
    return cell;
}

/* ---- meeting places ---------------------------------------------------------------------------------- */

static bridge_crossing crossing_of(const bridge_field *f, size_t u, size_t v, size_t dir)
{
    const bool is_up = f->owner[u] < f->owner[v];
    return (bridge_crossing){ .lo = is_up ? f->owner[u] : f->owner[v], .hi = is_up ? f->owner[v] : f->owner[u],
                              .cost = f->dist[u] + f->dist[v] + step_cost(f, u, v, dir),
                              .u = is_up ? u : v, .v = is_up ? v : u };
}

static void keep_better(bridge_crossing *best, size_t *n, bridge_crossing c)
{
    for (size_t i = 0; i < *n; i++)
        if (best[i].lo == c.lo && best[i].hi == c.hi) {
            if (c.cost < best[i].cost) best[i] = c;
            return;
        }
    if (*n < MOST_PAIRS) best[(*n)++] = c;
}

static size_t block_crossings(const bridge_field *f, size_t bx, size_t by, bridge_crossing best[MOST_PAIRS])
{
    static const size_t ahead[4] = { 0, 2, 4, 6 }; /* right, down and both diagonals down */
    size_t n = 0;
    const size_t x1 = sw_min_size((bx + 1) * BLOCK, f->width), y1 = sw_min_size((by + 1) * BLOCK, f->height);
    for (size_t y = by * BLOCK; y < y1; y++)
        for (size_t x = bx * BLOCK; x < x1; x++) {
            const size_t u = y * f->width + x;
            if (f->owner[u] == 0) continue;
            for (size_t i = 0; i < SW_ARRAY_LEN(ahead); i++) {
                size_t v;
                if (is_neighbour(f, u, ahead[i], &v) && f->owner[v] != 0 && f->owner[v] != f->owner[u])
                    keep_better(best, &n, crossing_of(f, u, v, ahead[i]));
            }
        }
    return n;
}

static int compare_crossings(const void *left, const void *right)
{
    const bridge_crossing *a = left, *b = right;
    if (a->lo != b->lo) return a->lo < b->lo ? -1 : 1;
    if (a->hi != b->hi) return a->hi < b->hi ? -1 : 1;
    if (a->cost != b->cost) return a->cost < b->cost ? -1 : 1;
    if (a->u != b->u) return a->u < b->u ? -1 : 1;
    return a->v < b->v ? -1 : a->v > b->v;
}

sw_status bridge_field_crossings(const bridge_field *f, bridge_crossings *out, sw_note *note)
{
    bridge_crossings made = { 0 };
    bridge_crossing best[MOST_PAIRS];
    for (size_t by = 0; by * BLOCK < f->height; by++)
        for (size_t bx = 0; bx * BLOCK < f->width; bx++) {
            const size_t n = block_crossings(f, bx, by, best);
            if (n == 0) continue;
            void *at = made.at;
            const bool is_grown = sw_grow(&at, &made.cap, made.n + n, sizeof *made.at);
            made.at = at;
            if (!is_grown) {
                sw_free(made.at);
                return sw_fail_memory(note, "places for bridges");
            }
            memcpy(made.at + made.n, best, n * sizeof *best);
            made.n += n;
        }
    if (made.n > 1) qsort(made.at, made.n, sizeof *made.at, compare_crossings);
    *out = made;
    return SW_OK;
}
