/* Bridges that read as meant: those of a window listed by the openings they cross, and the one test of whether some may
 * move together. What moves them is in bridge_even.c and bridge_mirror.c. */
#include <math.h>

#include "sheet/bridge_order.h"

#define SALIENCE_SEEN 160 /* eyes, mouths, lettering reach it */
#define MOST_PARTS_JOINED 512u /* with more, strips only change places that join the same parts */

void bridge_order_free(bridge_order *o)
{
    sw_runs_free(&o->runs);
    sw_free(o->next_run);
    sw_free(o->first_run);
    sw_free(o->opening);
    sw_free(o->first);
    sw_free(o->listed);
    sw_free(o->is_settled);
    sw_free(o->is_moved);
    sw_free(o->stand_in);
    sw_free(o->twin);
    *o = (bridge_order){ 0 };
}

/* The opening at a place; 0 where there is material. */
static uint32_t opening_at(const bridge_order *o, sw_pt_px at)
{
    const bridge_ground *const g = o->g;
    if (bridge_part_at(g, at.x_px, at.y_px) != 0) return 0;
    const size_t x = (size_t)at.x_px, y = (size_t)at.y_px;
    size_t lo = o->runs.row[y], hi = o->runs.row[y + 1];
    while (lo < hi) { /* the first run that ends beyond x */
        const size_t mid = (lo + hi) / 2;
        if (o->runs.at[mid].end <= x) lo = mid + 1;
        else hi = mid;
    }
    return lo < o->runs.row[y + 1] && o->runs.at[lo].begin <= x ? o->runs.at[lo].id : 0;
}

static bool alloc_order(bridge_order *o)
{
    const size_t n = o->strips->n;
    o->next_run = sw_alloc_raw(o->runs.n + 1, sizeof *o->next_run);
    o->first_run = sw_alloc_array(o->runs.n_components + 1, sizeof *o->first_run);
    o->opening = sw_alloc_raw(n + 1, sizeof *o->opening);
    o->first = sw_alloc_array(o->runs.n_components + 2, sizeof *o->first);
    o->listed = sw_alloc_raw(n + 1, sizeof *o->listed);
    o->is_settled = sw_alloc_array(n + 1, 1);
    o->is_moved = sw_alloc_array(n + 1, 1);
    o->stand_in = sw_alloc_array(n + 1, sizeof *o->stand_in);
    o->twin = sw_alloc_array(o->runs.n_components + 1, sizeof *o->twin);
    return o->next_run != NULL && o->first_run != NULL && o->opening != NULL && o->first != NULL && o->listed != NULL &&
           o->is_settled != NULL && o->is_moved != NULL && o->stand_in != NULL && o->twin != NULL;
}

static void list_strips(bridge_order *o)
{
    const bridge_strips *const strips = o->strips;
    const size_t n_openings = o->runs.n_components;
    for (size_t i = 0; i < strips->n; i++) {
        const bridge_strip *const s = &strips->at[i];
        o->opening[i] = s->is_path || !(s->cost < HUGE_VAL) ? 0 : opening_at(o, bridge_middle(s));
        o->first[o->opening[i] + 1]++;
    }
    for (size_t k = 0; k <= n_openings; k++) o->first[k + 1] += o->first[k];
    for (size_t i = strips->n; i-- > 0;) o->listed[--o->first[o->opening[i] + 1]] = (uint32_t)i;
    for (size_t k = 0; k <= n_openings; k++) o->first[k] = o->first[k + 1];
    o->first[n_openings + 1] = (uint32_t)strips->n;
}

static void list_runs(bridge_order *o)
{
    for (size_t i = o->runs.n; i-- > 0;) {
        uint32_t *const first = &o->first_run[o->runs.at[i].id];
        o->next_run[i] = *first;
        *first = (uint32_t)i + 1;
    }
}

sw_status bridge_order_make(const bridge_ground *g, bridge_strips *strips, bridge_order *out, sw_note *note)
{
    bridge_order o = { .g = g, .strips = strips };
    const sw_mask *const mask = &g->mask;
    sw_status st = sw_runs_make(mask->at, mask->width_px, mask->height_px, mask->width_px, 1, true, &o.runs, note);
    if (st != SW_OK) goto cleanup;
    st = alloc_order(&o) ? SW_OK : sw_fail_memory(note, "the order of bridges");
    if (st != SW_OK) goto cleanup;
    list_strips(&o);
    list_runs(&o);
    *out = o;
    o = (bridge_order){ 0 };
cleanup:
    bridge_order_free(&o);
    return st;
}

bridge_walk_runs bridge_runs_of(const bridge_order *o, uint32_t opening)
{
    const uint32_t first = o->first_run[opening];
    size_t lo = 0, hi = o->runs.n_rows;
    while (first != 0 && lo < hi) { /* the first row that ends beyond it */
        const size_t mid = (lo + hi) / 2;
        if (o->runs.row[mid + 1] < first) lo = mid + 1;
        else hi = mid;
    }
    return (bridge_walk_runs){ o, first, lo };
}

const sw_run *bridge_runs_next(bridge_walk_runs *w)
{
    if (w->next == 0) return NULL;
    const sw_run *const run = &w->o->runs.at[w->next - 1];
    while (w->o->runs.row[w->row + 1] < w->next) w->row++;
    w->next = w->o->next_run[w->next - 1];
    return run;
}

/* ---- may they move? ------------------------------------------------------------------------------------------ */

static double cross(double ax, double ay, double bx, double by) { return ax * by - ay * bx; }

/* From a place to a segment. */
static double apart_from(sw_pt_px p, const bridge_strip *s)
{
    const double dx = s->b.x_px - s->a.x_px, dy = s->b.y_px - s->a.y_px, sq = dx * dx + dy * dy;
    const double along = (p.x_px - s->a.x_px) * dx + (p.y_px - s->a.y_px) * dy;
    const double t = sq > 0.0 ? sw_clamp(along / sq, 0.0, 1.0) : 0.0;
    return hypot(p.x_px - s->a.x_px - t * dx, p.y_px - s->a.y_px - t * dy);
}

double bridge_strips_apart(const bridge_strip *a, const bridge_strip *b)
{
    const double ux = a->b.x_px - a->a.x_px, uy = a->b.y_px - a->a.y_px, vx = b->b.x_px - b->a.x_px, vy = b->b.y_px - b->a.y_px;
    const double wx = b->a.x_px - a->a.x_px, wy = b->a.y_px - a->a.y_px, turn = cross(ux, uy, vx, vy);
    if (fabs(turn) > 1e-9) {
        const double s = cross(wx, wy, vx, vy) / turn, t = cross(wx, wy, ux, uy) / turn;
        if (s >= 0.0 && s <= 1.0 && t >= 0.0 && t <= 1.0) return 0.0;
    }
    return sw_min(sw_min(apart_from(a->a, b), apart_from(a->b, b)), sw_min(apart_from(b->a, a), apart_from(b->b, a)));
}

double bridge_strips_off_px(const bridge_strip *a, const bridge_strip *b)
{
    const double to = hypot(a->a.x_px - b->a.x_px, a->a.y_px - b->a.y_px) + hypot(a->b.x_px - b->b.x_px, a->b.y_px - b->b.y_px);
    const double fro = hypot(a->a.x_px - b->b.x_px, a->a.y_px - b->b.y_px) + hypot(a->b.x_px - b->a.x_px, a->b.y_px - b->a.y_px);
    return sw_min(to, fro);
}

static bool is_in(const uint32_t *which, size_t n, uint32_t strip)
{
    for (size_t k = 0; k < n; k++)
        if (which[k] == strip) return true;
    return false;
}

/* Are two strips surely farther apart than that? By circles about them. */
static bool are_far(const bridge_strip *a, const bridge_strip *b, double px)
{
    const double dx = a->a.x_px + a->b.x_px - b->a.x_px - b->b.x_px, dy = a->a.y_px + a->b.y_px - b->a.y_px - b->b.y_px;
    const double reach = 2.0 * px + fabs(a->b.x_px - a->a.x_px) + fabs(a->b.y_px - a->a.y_px) + fabs(b->b.x_px - b->a.x_px) +
                         fabs(b->b.y_px - b->a.y_px);
    return dx * dx + dy * dy > reach * reach;
}

/* Far enough from all strips of the opening that stay, and from each other. */
static bool keeps_apart(const bridge_order *o, const uint32_t *which, const bridge_strip *to, size_t n)
{
    const bridge_ground *const g = o->g;
    const double least_px = g->width_px + sw_px_from_mm(&g->grid, g->job->min_opening_mm) + 1.0;
    for (size_t k = 0; k < n; k++) {
        size_t n_beside;
        const uint32_t *const beside = bridge_order_list(o, o->opening[which[k]], &n_beside);
        const bridge_strip *const was = &o->strips->at[which[k]];
        for (size_t i = 0; i < n_beside; i++) {
            const bridge_strip *const other = &o->strips->at[beside[i]];
            if (o->stand_in[beside[i]] != 0 || are_far(&to[k], other, least_px) || is_in(which, n, beside[i])) continue;
            const double apart = bridge_strips_apart(&to[k], other);
            if (apart < least_px && apart < bridge_strips_apart(was, other) - 0.5) return false;
        }
        for (size_t i = 0; i < k; i++) {
            const double apart = bridge_strips_apart(&to[k], &to[i]);
            if (apart < least_px && apart < bridge_strips_apart(was, &o->strips->at[which[i]]) - 0.5) return false;
        }
    }
    return true;
}

static uint32_t find(uint32_t *up, uint32_t i)
{
    while (up[i] != i) {
        up[i] = up[up[i]];
        i = up[i];
    }
    return i;
}

static size_t join(uint32_t *up, uint32_t from, uint32_t to)
{
    const uint32_t a = find(up, from), b = find(up, to);
    up[a > b ? a : b] = a > b ? b : a;
    return a != b;
}

/* As many joins as the strips before made. */
static bool still_joins(const bridge_order *o, const uint32_t *which, const bridge_strip *to, size_t n)
{
    bool is_same = true;
    for (size_t k = 0; k < n && is_same; k++) {
        const bridge_strip *const was = &o->strips->at[which[k]];
        is_same = bridge_joins_same(was, &to[k]);
    }
    if (is_same || o->g->n_parts > MOST_PARTS_JOINED) return is_same;
    uint32_t up[2][MOST_PARTS_JOINED + 1];
    for (uint32_t i = 0; i <= o->g->n_parts; i++) up[0][i] = up[1][i] = i;
    size_t n_before = 0, n_after = 0;
    for (uint32_t i = 0; i < o->strips->n; i++) {
        const bridge_strip *const s = &o->strips->at[i];
        n_before += join(up[0], s->from, s->to);
        if (!is_in(which, n, i)) n_after += join(up[1], s->from, s->to);
    }
    for (size_t k = 0; k < n; k++) n_after += join(up[1], to[k].from, to[k].to);
    return n_after == n_before;
}

/* Length of a strip's axis over what shows and is looked at. */
static double looked_at_px(const bridge_ground *g, const bridge_strip *s)
{
    const double length = hypot(s->b.x_px - s->a.x_px, s->b.y_px - s->a.y_px);
    double sum = 0.0;
    for (double t = 0.5; t < length; t += 1.0) {
        const double x = s->a.x_px + t / length * (s->b.x_px - s->a.x_px), y = s->a.y_px + t / length * (s->b.y_px - s->a.y_px);
        if (bridge_part_at(g, x, y) != 0 || bridge_pixel_cost(g, (size_t)x, (size_t)y) <= BRIDGE_LENGTH) continue;
        sum += g->job->separation->salience[bridge_grid_index(g, (size_t)x, (size_t)y)] >= SALIENCE_SEEN;
    }
    return sum;
}

bool bridge_order_may(const bridge_order *o, const uint32_t *which, const bridge_strip *to, size_t n, double *cost)
{
    const bridge_ground *const g = o->g;
    for (size_t k = 0; k < n; k++)
        if (o->is_settled[which[k]] == BRIDGE_SETTLED_FAST) return false;
    double before = 0.0, after = 0.0, seen_before = 0.0, seen_after = 0.0, looked_before = 0.0, looked_after = 0.0;
    for (size_t k = 0; k < n; k++) {
        const bridge_strip *const was = &o->strips->at[which[k]];
        before += was->cost;
        seen_before += was->seen;
        after += to[k].cost;
        seen_after += to[k].seen;
    }
    if (!(seen_before > 0.0) || !(after <= BRIDGE_ORDER_DEARER * before)) return false; /* nobody sees them: no matter */
    if (seen_after > BRIDGE_ORDER_DEARER * seen_before + g->width_px * BRIDGE_LENGTH * (double)n) return false;
    for (size_t k = 0; k < n; k++) {
        looked_before += looked_at_px(g, &o->strips->at[which[k]]);
        looked_after += looked_at_px(g, &to[k]);
    }
    *cost = after;
    return looked_after <= 1.1 * looked_before + 0.5 && keeps_apart(o, which, to, n) && still_joins(o, which, to, n);
}

bool bridge_order_may_each(const bridge_order *o, const uint32_t *which, const bridge_strip *to, size_t n, double *cost)
{
    double mean = 0.0;
    for (size_t k = 0; k < n; k++) mean += o->strips->at[which[k]].seen / (double)n;
    for (size_t k = 0; k < n; k++) {
        const double most = BRIDGE_ORDER_EACH_DEARER * sw_max(o->strips->at[which[k]].seen, mean);
        if (to[k].seen > most + o->g->width_px * BRIDGE_LENGTH) return false;
    }
    return bridge_order_may(o, which, to, n, cost);
}

void bridge_order_move(bridge_order *o, const uint32_t *which, const bridge_strip *to, size_t n)
{
    for (size_t k = 0; k < n; k++) {
        bridge_strip *const s = &o->strips->at[which[k]];
        const bool is_same = hypot(s->a.x_px - to[k].a.x_px, s->a.y_px - to[k].a.y_px) < 1e-6 &&
                             hypot(s->b.x_px - to[k].b.x_px, s->b.y_px - to[k].b.y_px) < 1e-6;
        if (o->is_settled[which[k]] < BRIDGE_SETTLED) o->is_settled[which[k]] = BRIDGE_SETTLED;
        if (is_same) continue;
        *s = to[k];
        if (o->is_moved[which[k]] == 0) o->is_moved[which[k]] = BRIDGE_MOVED;
    }
}

sw_status bridge_order_all(bridge_order *o, bool is_last, sw_note *note)
{
    SW_TRY(bridge_even(o, 3, note));
    if (is_last) SW_TRY(bridge_alike(o, note));
    if (is_last && o->wish != BRIDGE_BY_IMAGE) SW_TRY(bridge_along(o, note));
    SW_TRY(bridge_mirror(o, note));
    SW_TRY(bridge_even(o, 2, note)); /* two that no axis wanted: opposite each other */
    return bridge_mirror_pairs(o, note);
}

sw_status bridge_order_tree(const bridge_ground *g, bridge_strips *strips, sw_note *note)
{
    bridge_order o = { 0 };
    if (strips->n == 0) return SW_OK;
    SW_TRY(bridge_order_make(g, strips, &o, note));
    const sw_status st = bridge_order_all(&o, !(g->job->droop_mm > 0.0), note);
    bridge_order_free(&o);
    return st;
}
