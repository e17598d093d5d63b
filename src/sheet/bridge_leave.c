/* Many bridges left in the mask by all threads, with the result of one after the other: a bridge waits for those before it
 * in the list that come within its reach, and those that wait for as many go side by side. */
#include <math.h>
#include <string.h>

#include "sheet/bridge_parts.h"

#define TILE_PX (4u * BRIDGE_SQUARE) /* bridges with a tile in common wait for each other; squares are marked as well */
/* Strips beside a long one are looked for along rays, each way up to three quarters of its length from a place in its
 * middle or a tenth of its length beside it: how much farther than its ends that is. */
#define RAYS_RATIO 0.4

typedef struct leaver {
    bridge_ground *g;
    const bridge_field *f;
    const bridge_strip *strips;
    sw_bridge *out;
    uint32_t *round;     /* of each bridge, from 1 */
    uint32_t *turn;      /* strips in the order of their rounds */
    uint32_t *tile;      /* the last round that touches it, 0 none */
    size_t tiles_wide, tiles_high;
    size_t *first;       /* in turn, of each round, and the end */
    size_t begin;        /* of the round at work */
} leaver;

static size_t tile_of(double px, size_t n) { return sw_min_size((size_t)(sw_max(px, 0.0) / TILE_PX), n - 1); }

/* The round after all that touch its tiles so far. */
static uint32_t find_round(const leaver *l, const bridge_strip *s)
{
    const bridge_box box = bridge_shape_box(l->g, l->f, s);
    const double length = hypot(box.hi.x_px - box.lo.x_px, box.hi.y_px - box.lo.y_px);
    const double far = bridge_shape_reach(l->g) + 2.0 * l->g->width_px + RAYS_RATIO * length + 2.0;
    const size_t x0 = tile_of(box.lo.x_px - far, l->tiles_wide), x1 = tile_of(box.hi.x_px + far, l->tiles_wide);
    const size_t y0 = tile_of(box.lo.y_px - far, l->tiles_high), y1 = tile_of(box.hi.y_px + far, l->tiles_high);
    uint32_t last = 0;
    for (size_t y = y0; y <= y1; y++)
        for (size_t x = x0; x <= x1; x++) {
            const uint32_t round = l->tile[y * l->tiles_wide + x];
            last = round > last ? round : last;
        }
    for (size_t y = y0; y <= y1; y++)
        for (size_t x = x0; x <= x1; x++) l->tile[y * l->tiles_wide + x] = last + 1;
    return last + 1;
}

static sw_status leave_one(size_t task, void *ctx, sw_note *note)
{
    leaver *const l = ctx;
    const uint32_t i = l->turn[l->begin + task];
    return bridge_shape_leave(l->g, l->f, &l->strips[i], &l->out[i], note);
}

/* Rounds of all strips, and strips in the order of their rounds, those of one round in theirs; how many rounds. */
static bool sort_rounds(leaver *l, const uint32_t *which, size_t n, uint32_t *n_rounds)
{
    *n_rounds = 0;
    for (size_t k = 0; k < n; k++) {
        l->round[k] = find_round(l, &l->strips[which[k]]);
        *n_rounds = l->round[k] > *n_rounds ? l->round[k] : *n_rounds;
    }
    l->first = sw_alloc_array((size_t)*n_rounds + 2, sizeof *l->first);
    if (l->first == NULL) return false;
    for (size_t k = 0; k < n; k++) l->first[l->round[k]]++;
    for (uint32_t r = 1; r <= *n_rounds + 1; r++) l->first[r] += l->first[r - 1]; /* ends; become begins */
    for (size_t k = n; k-- > 0;) l->turn[--l->first[l->round[k]]] = which[k];
    return true;
}

static sw_status leave_rounds(leaver *l, const uint32_t *which, size_t n, sw_note *note)
{
    uint32_t n_rounds;
    if (!sort_rounds(l, which, n, &n_rounds)) return sw_fail_memory(note, "bridges");
    for (uint32_t round = 1; round <= n_rounds; round++) {
        l->begin = l->first[round];
        SW_TRY(sw_parallel_tasks(l->first[round + 1] - l->begin, leave_one, l, note));
    }
    return SW_OK;
}

sw_status bridge_leave_some(bridge_ground *g, const bridge_field *f, const bridge_strip *strips, const uint32_t *which, size_t n,
                            sw_bridge *out, sw_note *note)
{
    leaver l = { .g = g, .f = f, .strips = strips, .out = out };
    if (n == 1) return bridge_shape_leave(g, f, &strips[which[0]], &out[which[0]], note);
    l.tiles_wide = (g->mask.width_px + TILE_PX - 1) / TILE_PX;
    l.tiles_high = (g->mask.height_px + TILE_PX - 1) / TILE_PX;
    l.round = sw_alloc_raw(n + 1, sizeof *l.round);
    l.turn = sw_alloc_raw(n + 1, sizeof *l.turn);
    l.tile = sw_alloc_array(l.tiles_wide * l.tiles_high, sizeof *l.tile);
    const bool has_room = l.round != NULL && l.turn != NULL && l.tile != NULL;
    const sw_status st = has_room ? leave_rounds(&l, which, n, note) : sw_fail_memory(note, "bridges");
    sw_free(l.round);
    sw_free(l.turn);
    sw_free(l.tile);
    sw_free(l.first);
    return st;
}

sw_status bridge_leave(bridge_ground *g, const bridge_field *f, const bridge_strips *strips, sw_sheet *sheet, sw_note *note)
{
    const size_t n = strips->n;
    void *at = sheet->bridges;
    if (n == 0) return SW_OK;
    const bool is_grown = sw_grow(&at, &sheet->cap_bridges, sheet->n_bridges + n, sizeof *sheet->bridges);
    sheet->bridges = at;
    uint32_t *const which = is_grown ? sw_alloc_raw(n, sizeof *which) : NULL;
    if (which == NULL) return sw_fail_memory(note, "bridges");
    for (uint32_t i = 0; i < n; i++) which[i] = i;
    const sw_status st = bridge_leave_some(g, f, strips->at, which, n, sheet->bridges + sheet->n_bridges, note);
    sw_free(which);
    if (st == SW_OK) sheet->n_bridges += n;
    return st;
}
