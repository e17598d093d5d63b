/* Cheapest ways across the openings: shortest paths from all islands at once (Dijkstra over cells, integer costs, a
 * ring of buckets: Dial 1969), and the places where they meet another part (Mehlhorn 1988: the best meeting place of
 * each neighbouring pair is enough for a tree at most twice as dear as the cheapest). Cells of a few pixels, at most half
 * as wide as a bridge or an opening, find the place; strips are then fitted on pixels.
 * The frame sends out no wave: its outline is by far the longest. A wave ends once its island hangs on the frame and
 * all ways a quarter dearer are known, so most of the cells are never looked at, and their pages never touched. */
#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/bridge_parts.h"

#define N_BUCKETS 65536u     /* power of two above the dearest step */
#define COST_MOST 8000u      /* of a cell; 7 * COST_MOST < N_BUCKETS */
#define COST_SOLID 65535u
#define COST_WALL BRIDGE_CELL_WALL
#define TILE_CELLS 32u       /* a side; looked at together */
#define N_RIMS 64u           /* bands of rows, as many as threads like to share */
#define IS_SETTLED 16u       /* in back, beside the direction */

static const int step_x[8] = { 1, -1, 0, 0, 1, 1, -1, -1 }, step_y[8] = { 0, 0, 1, -1, 1, -1, 1, -1 };
static const uint8_t opposite[8] = { 1, 0, 3, 2, 7, 6, 5, 4 };

/* ---- cells, looked at by tiles when a wave comes near ------------------------------------------------ */

/* A pixel of material in the cell, the first in raster order; SIZE_MAX if there is none. */
static size_t material_in_cell(const bridge_ground *g, size_t x0, size_t y0, size_t x1, size_t y1)
{
    for (size_t y = y0; y < y1; y++)
        for (size_t i = y * g->mask.width_px + x0; i < y * g->mask.width_px + x1; i++)
            if (g->mask.at[i] == 0) return i;
    return SIZE_MAX;
}

/* Cost of the cell's openings, at its middle (neighbours are averaged in later); or that it is material, which sets
 * its owner, or that a wall lies in it. */
static uint16_t raw_cost(bridge_field *f, size_t cx, size_t cy)
{
    const bridge_ground *const g = f->g;
    const size_t x0 = cx * f->factor, y0 = cy * f->factor;
    const size_t x1 = sw_min_size(x0 + f->factor, g->mask.width_px), y1 = sw_min_size(y0 + f->factor, g->mask.height_px);
    const size_t material = material_in_cell(g, x0, y0, x1, y1);
    if (material != SIZE_MAX) {
        f->cell[cy * f->width + cx].owner = g->part[material];
        return COST_SOLID;
    }
    uint32_t cost = bridge_pixel_cost(g, (x0 + x1) / 2, (y0 + y1) / 2);
    for (size_t y = y0; y < y1 && g->job->marks != NULL && cost != BRIDGE_WALL; y++)
        for (size_t x = x0; x < x1 && cost != BRIDGE_WALL; x++)
            if (bridge_pixel_cost(g, x, y) == BRIDGE_WALL) cost = BRIDGE_WALL;
    return cost == BRIDGE_WALL ? COST_WALL : (uint16_t)sw_min_size(1 + cost, COST_MOST);
}

/* What a whole bridge would pay at a cell: the mean over the openings of a square as wide, so that a path keeps off
 * dear places and walls by half a bridge. Nine of the square's cells do; all where a wall might hide between. */
static uint16_t wide_cost(const bridge_field *f, size_t cx, size_t cy)
{
    const uint16_t own = f->raw[cy * f->width + cx];
    if (own >= COST_WALL) return own;
    const size_t stride = f->g->job->marks != NULL || f->reach == 0 ? 1 : f->reach;
    const size_t x0 = cx < f->reach ? cx : cx - f->reach, x1 = sw_min_size(cx + f->reach, f->width - 1);
    const size_t y0 = cy < f->reach ? cy : cy - f->reach, y1 = sw_min_size(cy + f->reach, f->height - 1);
    uint32_t sum = 0, n = 0;
    for (size_t y = y0; y <= y1; y += stride)
        for (size_t x = x0; x <= x1; x += stride) {
            const uint16_t raw = f->raw[y * f->width + x];
            if (raw == COST_WALL) return COST_WALL;
            if (raw == COST_SOLID) continue;
            sum += raw;
            n++;
        }
    assert(n > 0); /* the cell itself */
    return (uint16_t)(sum / n);
}

/* Costs of all cells of the tile around one: row after row, which memory likes better than a wave's order. */
static void load_tile(bridge_field *f, size_t cx, size_t cy)
{
    const size_t tx = cx / TILE_CELLS * TILE_CELLS, ty = cy / TILE_CELLS * TILE_CELLS;
    const size_t tx1 = sw_min_size(tx + TILE_CELLS, f->width), ty1 = sw_min_size(ty + TILE_CELLS, f->height);
    const size_t x0 = tx < f->reach ? 0 : tx - f->reach, x1 = sw_min_size(tx1 + f->reach, f->width);
    const size_t y0 = ty < f->reach ? 0 : ty - f->reach, y1 = sw_min_size(ty1 + f->reach, f->height);
    for (size_t y = y0; y < y1; y++)
        for (size_t x = x0; x < x1; x++)
            if (f->raw[y * f->width + x] == 0) f->raw[y * f->width + x] = raw_cost(f, x, y);
    for (size_t y = ty; y < ty1; y++)
        for (size_t x = tx; x < tx1; x++) f->cell[y * f->width + x].cost = wide_cost(f, x, y);
}

/* ---- a ring of buckets ------------------------------------------------------------------------------- */

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

/* ---- waves -------------------------------------------------------------------------------------------- */

typedef struct waves {
    bridge_field *f;
    ring r;
    uint32_t *up;   /* parts known to be joined: union by smaller number, so the frame's set is number 1 */
    uint32_t *next; /* rings of the parts of a set */
    uint32_t *stop; /* where a part's wave ends */
    bridge_crossings found;
} waves;

static uint32_t find(uint32_t *up, uint32_t i)
{
    while (up[i] != i) {
        up[i] = up[up[i]];
        i = up[i];
    }
    return i;
}

static bool add_crossing(waves *w, bridge_crossing c)
{
    void *at = w->found.at;
    const bool is_grown = sw_grow(&at, &w->found.cap, w->found.n + 1, sizeof *w->found.at);
    w->found.at = at;
    if (!is_grown) return false;
    w->found.at[w->found.n++] = c;
    const uint32_t a = find(w->up, c.lo), b = find(w->up, c.hi);
    if (a == b) return true;
    const uint32_t keep = a < b ? a : b, gone = a < b ? b : a;
    if (keep == BRIDGE_ROOT) /* a set that now hangs on the frame */
        for (uint32_t part = gone, is_begin = 1; is_begin || part != gone; part = w->next[part], is_begin = 0)
            w->stop[part] = c.cost + c.cost / 4 + 4 * BRIDGE_UNIT;
    const uint32_t after = w->next[keep];
    w->next[keep] = w->next[gone];
    w->next[gone] = after;
    w->up[gone] = keep;
    return true;
}

static bridge_crossing crossing_of(const bridge_field *f, size_t u, size_t v, uint32_t cost)
{
    const uint32_t a = f->cell[u].owner, b = f->cell[v].owner;
    const bool is_up = a < b;
    return (bridge_crossing){ .lo = is_up ? a : b, .hi = is_up ? b : a, .cost = cost, .u = is_up ? u : v, .v = is_up ? v : u };
}

static bool is_neighbour(const bridge_field *f, size_t cell, size_t dir, size_t *out)
{
    const size_t x = cell % f->width + (size_t)step_x[dir], y = cell / f->width + (size_t)step_y[dir];
    *out = y * f->width + x; /* below zero wraps to huge and fails the test */
    return x < f->width && y < f->height;
}

/* A step's cost, 5 a cell's side; into material only the way's own half counts. */
static uint32_t step_cost(uint16_t from, uint16_t to, size_t dir)
{
    const uint32_t length = dir < 4 ? 5 : 7;
    const uint32_t a = from >= COST_WALL ? 0 : from, b = to >= COST_WALL ? 0 : to;
    return length * (a + b) / 2 + 1;
}

/* Settle a cell: its neighbours may be cheaper through it; where another part's ways or material begin they meet.
 * A cell beyond its wave's end is settled too, so that other waves meet it there, but leads no further. */
static bool relax(waves *w, size_t u, bool is_end)
{
    bridge_field *const f = w->f;
    bridge_cell *const at = &f->cell[u];
    bridge_crossing best = { .cost = UINT32_MAX };
    const size_t ux = u % f->width, uy = u / f->width;
    at->back |= IS_SETTLED;
    for (size_t dir = 0; dir < 8; dir++) {
        const size_t vx = ux + (size_t)step_x[dir], vy = uy + (size_t)step_y[dir], v = vy * f->width + vx;
        if (vx >= f->width || vy >= f->height) continue; /* below zero wraps to huge */
        bridge_cell *const to = &f->cell[v];
        if (to->cost == 0) load_tile(f, vx, vy);
        if (to->cost == COST_WALL) continue;
        const uint32_t dist = at->dist + step_cost(at->cost, to->cost, dir);
        if (to->cost == COST_SOLID || (to->back & IS_SETTLED) != 0) {
            const uint32_t meet = to->cost == COST_SOLID ? dist : dist + to->dist;
            if (to->owner != at->owner && meet < best.cost) best = crossing_of(f, u, v, meet);
        } else if (!is_end && (to->owner == 0 || dist < to->dist)) {
            to->dist = dist;
            to->owner = at->owner;
            to->back = opposite[dir];
            if (!ring_push(&w->r, dist, v)) return false;
        }
    }
    return best.cost == UINT32_MAX || add_crossing(w, best);
}

/* Waves start at the islands' outlines. Two parts in one cell meet there. */
static bool start_cell(waves *w, size_t x, size_t y, uint32_t part)
{
    bridge_field *const f = w->f;
    const size_t cx = x / f->factor, cy = y / f->factor, at = cy * f->width + cx;
    bridge_cell *const cell = &f->cell[at];
    if (cell->cost == 0) load_tile(f, cx, cy);
    if (cell->owner != part)
        return add_crossing(w, (bridge_crossing){ .lo = cell->owner < part ? cell->owner : part,
                                                  .hi = cell->owner < part ? part : cell->owner, .u = at, .v = at });
    if ((cell->back & IS_SETTLED) != 0) return true;
    cell->back = BRIDGE_SOURCE;
    cell->dist = 0;
    return relax(w, at, false);
}

/* Outline pixels of islands in a band of rows, in raster order. */
typedef struct rim {
    size_t *at;
    size_t n, cap;
    bool is_out_of_memory;
} rim;

typedef struct rim_job {
    const bridge_ground *g;
    rim rims[N_RIMS];
} rim_job;

static uint64_t eight_at(const uint8_t *at)
{
    uint64_t eight;
    memcpy(&eight, at, 8);
    return eight;
}

static void add_rim(const bridge_ground *g, rim *r, size_t i)
{
    const size_t width = g->mask.width_px;
    const uint8_t *const at = g->mask.at + i;
    if (at[0] != 0 || g->part[i] <= BRIDGE_ROOT || (at[-1] | at[1] | (at - width)[0] | at[width]) == 0) return;
    void *data = r->at;
    if (!r->is_out_of_memory && sw_grow(&data, &r->cap, r->n + 1, sizeof *r->at)) {
        r->at = data;
        r->at[r->n++] = i;
    } else {
        r->is_out_of_memory = true;
    }
}

static void find_rims(size_t begin, size_t end, void *ctx)
{
    rim_job *const job = ctx;
    const sw_mask *const mask = &job->g->mask;
    const size_t width = mask->width_px, n_rows = mask->height_px - 2;
    for (size_t band = begin; band < end; band++)
        for (size_t y = 1 + n_rows * band / N_RIMS; y < 1 + n_rows * (band + 1) / N_RIMS; y++) {
            size_t x = 1;
            for (; x + 9 <= width; x += 8) { /* eight pixels: nothing of interest among most */
                const uint8_t *const at = mask->at + y * width + x;
                const uint64_t around = eight_at(at - 1) | eight_at(at + 1) | eight_at(at - width) | eight_at(at + width);
                if ((around & ~eight_at(at)) == 0) continue;
                for (size_t k = 0; k < 8; k++) add_rim(job->g, &job->rims[band], y * width + x + k);
            }
            for (; x + 1 < width; x++) add_rim(job->g, &job->rims[band], y * width + x);
        }
}

static bool start_waves(waves *w)
{
    rim_job job = { .g = w->f->g };
    const size_t width = job.g->mask.width_px;
    bool is_good = true;
    sw_parallel_bands(N_RIMS, 1, find_rims, &job);
    for (size_t band = 0; band < N_RIMS; band++) {
        const rim *const r = &job.rims[band];
        is_good = is_good && !r->is_out_of_memory;
        for (size_t k = 0; k < r->n && is_good; k++)
            is_good = start_cell(w, r->at[k] % width, r->at[k] / width, job.g->part[r->at[k]]);
        sw_free(r->at);
    }
    return is_good;
}

static bool run_waves(waves *w)
{
    bridge_field *const f = w->f;
    if (!start_waves(w)) return false;
    for (uint32_t dist = 0; w->r.n_waiting != 0 && !sw_is_interrupted(); dist++)
        while (w->r.head[dist & (N_BUCKETS - 1)] != 0) {
            const size_t u = ring_pop(&w->r, dist);
            const bridge_cell *const at = &f->cell[u];
            if (at->dist != dist || (at->back & IS_SETTLED) != 0) continue;
            if (!relax(w, u, dist > w->stop[at->owner])) return false;
        }
    return true;
}

/* ---- meeting places ------------------------------------------------------------------------------------ */

static int compare_crossings(const void *left, const void *right)
{
    const bridge_crossing *a = left, *b = right;
    if (a->lo != b->lo) return a->lo < b->lo ? -1 : 1;
    if (a->hi != b->hi) return a->hi < b->hi ? -1 : 1;
    if (a->cost != b->cost) return a->cost < b->cost ? -1 : 1;
    if (a->u != b->u) return a->u < b->u ? -1 : 1;
    return a->v < b->v ? -1 : a->v > b->v;
}

static bool is_near(const bridge_field *f, size_t u, size_t v, size_t reach)
{
    const size_t ux = u % f->width, uy = u / f->width, vx = v % f->width, vy = v / f->width;
    return (ux > vx ? ux - vx : vx - ux) <= reach && (uy > vy ? uy - vy : vy - uy) <= reach;
}

/* Of each pair of parts the cheapest places, none near a cheaper one. */
static void keep_apart(const bridge_field *f, bridge_crossings *c)
{
    const size_t reach = 2 * f->reach + 2, tries = f->g->n_parts <= BRIDGE_FEW_PARTS ? BRIDGE_TRIES : BRIDGE_TRIES_MANY;
    size_t kept = 0, first = 0;
    for (size_t i = 0; i < c->n; i++) {
        const bridge_crossing now = c->at[i];
        if (kept == first || c->at[first].lo != now.lo || c->at[first].hi != now.hi) first = kept;
        bool is_good = kept - first < tries;
        for (size_t k = first; k < kept && is_good; k++) is_good = !is_near(f, c->at[k].u, now.u, reach);
        if (is_good) c->at[kept++] = now;
    }
    c->n = kept;
}

/* ---- the whole ----------------------------------------------------------------------------------------- */

void bridge_field_free(bridge_field *field)
{
    sw_free(field->cell);
    sw_free(field->raw);
    *field = (bridge_field){ 0 };
}

static bool alloc_field(bridge_field *f)
{
    const size_t n = f->width * f->height;
    f->cell = sw_alloc_array(n, sizeof *f->cell);
    f->raw = sw_alloc_array(n, sizeof *f->raw);
    return f->cell != NULL && f->raw != NULL;
}

static bool alloc_waves(const bridge_ground *g, waves *w)
{
    w->r.head = sw_alloc_array(N_BUCKETS, sizeof *w->r.head);
    w->up = sw_alloc_raw(g->n_parts + 1, sizeof *w->up);
    w->next = sw_alloc_raw(g->n_parts + 1, sizeof *w->next);
    w->stop = sw_alloc_raw(g->n_parts + 1, sizeof *w->stop);
    if (w->r.head == NULL || w->up == NULL || w->next == NULL || w->stop == NULL) return false;
    for (uint32_t i = 0; i <= g->n_parts; i++) {
        w->up[i] = w->next[i] = i;
        w->stop[i] = UINT32_MAX;
    }
    return true;
}

sw_status bridge_field_make(const bridge_ground *g, bridge_field *out, bridge_crossings *crossings, sw_note *note)
{
    bridge_field f = { .g = g };
    waves w = { .f = &f };
    const double finest_px = sw_min(g->width_px, sw_px_from_mm(&g->grid, g->job->min_opening_mm));
    f.factor = (size_t)sw_clamp(finest_px / 2.0, 1.0, 16.0);
    f.reach = (size_t)(0.5 * g->width_px / (double)f.factor + (g->job->marks != NULL ? 1.0 : 0.0));
    f.width = (g->mask.width_px + f.factor - 1) / f.factor;
    f.height = (g->mask.height_px + f.factor - 1) / f.factor;
    const bool is_done = alloc_field(&f) && alloc_waves(g, &w) && run_waves(&w);
    sw_free(w.r.head);
    sw_free(w.r.pool);
    sw_free(w.up);
    sw_free(w.next);
    sw_free(w.stop);
    if (!is_done) {
        bridge_field_free(&f);
        sw_free(w.found.at);
        return sw_fail_memory(note, "ways across the openings");
    }
    if (w.found.n > 1) qsort(w.found.at, w.found.n, sizeof *w.found.at, compare_crossings);
    keep_apart(&f, &w.found);
    *out = f;
    *crossings = w.found;
    return SW_OK;
}

size_t bridge_field_step(const bridge_field *f, size_t cell)
{
    const uint8_t dir = f->cell[cell].back & (uint8_t)~IS_SETTLED;
    size_t next = cell;
    if (f->raw[cell] == COST_SOLID || dir == BRIDGE_SOURCE || !is_neighbour(f, cell, dir, &next)) return cell;
    return next;
}

size_t bridge_field_back(const bridge_field *f, size_t cell)
{
    for (;;) {
        const size_t next = bridge_field_step(f, cell);
        if (next == cell) return cell;
        cell = next;
    }
}
