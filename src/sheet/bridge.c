/* Bridges of one window: parts of material, cheapest ways between them, strips fitted on pixels, the cheapest set,
 * and their material left in the mask. */
#include <string.h>

#include "sheet/bridge_hold.h"

typedef struct fit_job {
    const bridge_ground *g;
    const bridge_field *f;
    const bridge_crossings *crossings;
    double *known; /* what the cheapest strip at hand between a crossing's parts costs */
    bridge_strip *strips;
} fit_job;

static void fit_strips(size_t begin, size_t end, void *ctx)
{
    const fit_job *job = ctx;
    for (size_t i = begin; i < end && !sw_is_interrupted(); i++)
        job->strips[i] = bridge_strip_fit(job->g, job->f, &job->crossings->at[i], job->known[i]);
}

static int compare_pair(const bridge_crossing *c, uint32_t lo, uint32_t hi)
{
    if (c->lo != lo) return c->lo < lo ? -1 : 1;
    return c->hi < hi ? -1 : c->hi > hi;
}

/* Of each crossing. Where there are few parts none counts: time allows for more. */
static void find_known(const bridge_ground *g, const bridge_crossings *crossings, const bridge_strips *strips, double *known)
{
    for (size_t i = 0; i < crossings->n; i++) known[i] = HUGE_VAL;
    for (size_t i = 0; i < strips->n && g->n_parts > BRIDGE_FEW_PARTS; i++) {
        const bridge_strip *const s = &strips->at[i];
        const uint32_t from_lo = s->from < s->to ? s->from : s->to, from_hi = s->from < s->to ? s->to : s->from;
        size_t lo = 0, hi = crossings->n;
        while (lo < hi) {
            const size_t mid = (lo + hi) / 2;
            if (compare_pair(&crossings->at[mid], from_lo, from_hi) < 0) lo = mid + 1;
            else hi = mid;
        }
        for (; lo < crossings->n && compare_pair(&crossings->at[lo], from_lo, from_hi) == 0; lo++) known[lo] = sw_min(known[lo], s->cost);
    }
}

/* Append a strip of each crossing, but where one at hand will do. */
static sw_status make_strips(const bridge_ground *g, const bridge_field *f, const bridge_crossings *crossings,
                             bridge_strips *out, sw_note *note)
{
    void *at = out->at;
    if (crossings->n == 0) return SW_OK;
    const bool is_grown = sw_grow(&at, &out->cap, out->n + crossings->n, sizeof *out->at);
    out->at = at;
    double *const known = is_grown ? sw_alloc_raw(crossings->n, sizeof *known) : NULL;
    if (known == NULL) return sw_fail_memory(note, "bridges");
    find_known(g, crossings, out, known);
    sw_parallel_bands(crossings->n, 8, fit_strips, &(fit_job){ g, f, crossings, known, out->at + out->n });
    sw_free(known);
    if (sw_is_interrupted()) return sw_fail(note, SW_INTERRUPTED, "interrupted"); /* not all were made */
    for (size_t i = out->n, end = out->n + crossings->n; i < end; i++)
        if (out->at[i].cost < HUGE_VAL) out->at[out->n++] = out->at[i];
    return SW_OK;
}

static void keep_chosen(bridge_strips *strips, const uint8_t *is_chosen)
{
    size_t kept = 0;
    for (size_t i = 0; i < strips->n; i++)
        if (is_chosen[i]) strips->at[kept++] = strips->at[i];
    strips->n = kept;
}

static void cut_away(bridge_ground *g, uint32_t part)
{
    const bridge_part *const box = &g->parts[part];
    for (size_t y = box->y0; y < box->y1; y++)
        for (size_t i = y * g->mask.width_px + box->x0; i < y * g->mask.width_px + box->x1; i++)
            if (g->part[i] == part) {
                g->mask.at[i] = 1;
                g->part[i] = 0; /* strips pass here as through any opening */
            }
}

static size_t count_set(const uint8_t *flags, size_t n)
{
    size_t sum = 0;
    for (size_t i = 0; i < n; i++) sum += flags[i] != 0;
    return sum;
}

typedef struct copying {
    const bridge_ground *g;
    sw_mask *openings;
} copying;

static void copy_rows(size_t begin, size_t end, void *ctx)
{
    const copying *const c = ctx;
    const sw_rect_px *const w = &c->g->job->window;
    for (size_t y = begin; y < end; y++)
        memcpy(c->openings->at + (w->y + y) * c->openings->width_px + w->x,
               c->g->mask.at + (y + 1) * c->g->mask.width_px + 1, w->width);
}

sw_status bridge_choose(bridge_ground *g, bridge_field *field, bridge_strips *out, size_t *n_dropped, sw_note *note)
{
    bridge_crossings crossings = { 0 };
    bridge_strips strips = { 0 };
    uint8_t *is_chosen = NULL, *is_dropped = NULL;
    sw_status st = bridge_field_make(g, field, &crossings, note);
    if (st != SW_OK) goto cleanup;
    if (!g->job->is_rough) st = bridge_improve(g, &strips, note);
    if (st == SW_OK) st = make_strips(g, field, &crossings, &strips, note);
    if (st != SW_OK) goto cleanup;
    is_chosen = sw_alloc_array(strips.n + 1, 1);
    is_dropped = sw_alloc_array(g->n_parts + 1, 1);
    if (is_chosen == NULL || is_dropped == NULL) {
        st = sw_fail_memory(note, "the choice of bridges");
        goto cleanup;
    }
    st = bridge_tree_choose(g, &strips, is_chosen, is_dropped, note);
    if (st != SW_OK) goto cleanup;
    for (uint32_t part = BRIDGE_ROOT + 1; part <= g->n_parts; part++)
        if (is_dropped[part]) cut_away(g, part);
    keep_chosen(&strips, is_chosen);
    *n_dropped = count_set(is_dropped, g->n_parts + 1);
    *out = strips;
    strips = (bridge_strips){ 0 };
cleanup:
    sw_free(crossings.at);
    sw_free(strips.at);
    sw_free(is_chosen);
    sw_free(is_dropped);
    return st;
}

/* The cheapest strips, moved to where they read as meant. */
static sw_status find_strips(bridge_ground *g, bridge_field *field, bridge_strips *strips, sw_sheet *sheet, sw_note *note)
{
    size_t n_dropped = 0;
    SW_TRY(bridge_choose(g, field, strips, &n_dropped, note));
    sheet->n_islands_dropped += n_dropped;
    if (!g->job->is_rough) bridge_short(g, strips);
    bridge_rhythm(g, strips);
    return g->job->is_rough ? SW_OK : bridge_order_tree(g, strips, note);
}

/* Where bridges go, and what there is to be held: neither needs the other. Islands that are cut away meanwhile stay in the
 * net, where they hang on nothing and nothing on them. */
typedef struct join_job {
    bridge_ground *g;
    sw_sheet *sheet;
    bridge_field field;
    bridge_strips strips;
    sw_hold_cells cells;
    hold_net *net;
} join_job;

static sw_status join_task(size_t task, void *ctx, sw_note *note)
{
    join_job *const j = ctx;
    if (task == 1) return bridge_net_make(j->g, &j->cells, j->net, note);
    return j->g->n_parts > 1 ? find_strips(j->g, &j->field, &j->strips, j->sheet, note) : SW_OK;
}

/* Bridges that join islands. net: what they and all others hold; left alone if the job asks for no droop. */
static sw_status join_parts(bridge_ground *g, sw_sheet *sheet, hold_net *net, sw_note *note)
{
    join_job j = { .g = g, .sheet = sheet, .net = net };
    const size_t first = sheet->n_bridges;
    const bool is_holding = g->job->droop_mm > 0.0;
    sw_status st = is_holding ? bridge_cells_make(g, &j.cells, note) : SW_OK;
    if (st == SW_OK) st = sw_parallel_tasks(is_holding ? 2 : 1, join_task, &j, note);
    sw_hold_cells_free(&j.cells);
    if (st == SW_OK) st = bridge_leave(g, &j.field, &j.strips, sheet, note);
    if (st == SW_OK && is_holding && !bridge_net_join(g, &j.strips, sheet, first, net)) st = sw_fail_memory(note, "what hangs");
    bridge_field_free(&j.field);
    sw_free(j.strips.at);
    return st;
}

sw_status sw_bridges_plan(sw_sheet *sheet, const sw_bridge_job *job, sw_note *note)
{
    bridge_ground g = { 0 };
    hold_net net = { 0 };
    SW_TRY(bridge_ground_make(&sheet->openings, job, sheet->pass, sheet->paint, &g, note));
    const size_t first = sheet->n_bridges;
    sheet->n_islands += g.n_parts - 1;
    sw_status st = join_parts(&g, sheet, &net, note);
    const size_t n_joining = sheet->n_bridges;
    if (st == SW_OK && job->droop_mm > 0.0) st = bridge_hold(&g, &net, sheet, note);
    for (size_t i = n_joining; i < sheet->n_bridges; i++) sheet->bridges[i].is_for_droop = true;
    const bool is_order = job->droop_mm > 0.0 && sheet->n_bridges > first + 1 && !job->is_rough;
    if (st == SW_OK && is_order) st = bridge_order_held(&g, &net, sheet, first, note);
    if (st == SW_OK) sw_parallel_rows(job->window.height, copy_rows, &(copying){ &g, &sheet->openings });
    hold_net_free(&net);
    bridge_ground_free(&g);
    return st;
}
