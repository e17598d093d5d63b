/* More bridges for islands that droop. In the order in which parts hang on each other, from the frame outward: how far
 * does the part sink on the bridges it has, and which further bridge, at what cost, would mend it best? Places are
 * looked for all round the island, so that what is added stands opposite to what is there. */
#include <assert.h>
#include <math.h>
#include <string.h>

#include "sheet/bridge_parts.h"
#include "sheet/droop.h"

#define MOST_NECKS 12u   /* bridges of one island */
#define N_DIRECTIONS 32u /* in which a place is looked for */
#define MOST_ROWS 256u   /* of an island's rim that are looked at */
/* Two bridges of an island are at least this many widths apart. */
#define APART_WIDTHS 4.0
/* A bridge that leaves more than this share of the droop, and more than the limit, is not worth its sight; nor are all
 * that were added to a part if together they leave more than this many limits. Taste: five sticks side by side hold a
 * helmet no better than two. */
#define LEFT_MOST_RATIO 0.75
#define LEFT_MOST_LIMITS 4.0
/* Parts whose droop cannot be more than this share of the limit are not looked at closely. */
#define TRIFLE 0.2

/* A further bridge may show at most this share of what its island is worth to the eye. Taste: a small highlight may hang
 * a little lower rather than on two sticks as large as itself. */
#define SEEN_MOST 0.3

typedef struct holder {
    const bridge_ground *g;
    const sw_material *material;
    bridge_strips *strips;   /* chosen; grows */
    uint32_t *first, *next;  /* strips of a part: heads (index + 1), and the rest, two slots a strip */
    size_t cap_next;
    double *droop_mm;        /* of each part, with what it hangs on; below 0: not known yet */
    uint32_t *order;
    sw_pt_mm rim[2 * MOST_ROWS];
    droop_body body;
    droop_neck necks[MOST_NECKS];
    size_t n_necks;
} holder;

static sw_pt_mm to_mm(const bridge_ground *g, double x_px, double y_px)
{
    return (sw_pt_mm){ sw_mm_from_px(&g->grid, x_px), sw_mm_from_px(&g->grid, y_px) };
}

/* ---- the parts and their strips ------------------------------------------------------------------------ */

static bool link_strip(holder *h, size_t i)
{
    void *next = h->next;
    const bool is_grown = sw_grow(&next, &h->cap_next, 2 * i + 2, sizeof *h->next);
    h->next = next;
    if (!is_grown) return false;
    const uint32_t ends[2] = { h->strips->at[i].from, h->strips->at[i].to };
    for (size_t k = 0; k < 2; k++) {
        h->next[2 * i + k] = h->first[ends[k]];
        h->first[ends[k]] = (uint32_t)(2 * i + k + 1);
    }
    return true;
}

/* A strip as the neck of one of its parts. */
static droop_neck neck_of(const holder *h, const bridge_strip *s, uint32_t part)
{
    const bool is_to = s->to == part;
    const sw_pt_px at = is_to ? s->b : s->a, other = is_to ? s->a : s->b;
    const double dx = at.x_px - other.x_px, dy = at.y_px - other.y_px, length = hypot(dx, dy);
    return (droop_neck){ .at = to_mm(h->g, at.x_px, at.y_px), .ux = length > 0 ? dx / length : 1.0,
                         .uy = length > 0 ? dy / length : 0.0, .length_mm = sw_mm_from_px(&h->g->grid, length),
                         .width_mm = h->g->job->width_mm };
}

/* Area, middle and the ends of rows of an island. */
static void measure_body(holder *h, uint32_t part)
{
    const bridge_ground *const g = h->g;
    const bridge_part *const box = &g->parts[part];
    const size_t every = (box->y1 - box->y0 + MOST_ROWS - 1) / MOST_ROWS;
    double sum_x = 0.0, sum_y = 0.0;
    size_t n = 0, n_rim = 0;
    for (size_t y = box->y0; y < box->y1; y += every) {
        const uint32_t *const row = g->part + y * g->mask.width_px;
        size_t begin = SIZE_MAX, end = 0;
        for (size_t x = box->x0; x < box->x1; x++) {
            if (row[x] != part) continue;
            begin = sw_min_size(begin, x);
            end = x + 1;
            sum_x += (double)x + 0.5;
            sum_y += (double)y + 0.5;
            n++;
        }
        if (end == 0) continue;
        h->rim[n_rim++] = to_mm(g, (double)begin, (double)y + 0.5);
        h->rim[n_rim++] = to_mm(g, (double)end, (double)y + 0.5);
    }
    const double mm = sw_mm_from_px(&g->grid, 1.0);
    h->body = (droop_body){ .area_mm2 = (double)box->area_px * mm * mm, .rim = h->rim, .n_rim = n_rim,
                            .middle = to_mm(g, sum_x / (double)n, sum_y / (double)n) };
}

static void gather_necks(holder *h, uint32_t part)
{
    h->n_necks = 0;
    for (uint32_t k = h->first[part]; k != 0 && h->n_necks < MOST_NECKS; k = h->next[k - 1])
        h->necks[h->n_necks++] = neck_of(h, &h->strips->at[(k - 1) / 2], part);
}

/* The least that the part's holders have sunk: the one it rests on. */
static double base_droop(const holder *h, uint32_t part)
{
    double least = HUGE_VAL;
    for (uint32_t k = h->first[part]; k != 0; k = h->next[k - 1]) {
        const bridge_strip *const s = &h->strips->at[(k - 1) / 2];
        const double other = h->droop_mm[s->from == part ? s->to : s->from];
        if (other >= 0.0) least = sw_min(least, other);
    }
    return least < HUGE_VAL ? least : 0.0;
}

/* No less than the droop of any part of this box's size on one bridge of this length. */
static double bound_droop(const holder *h, uint32_t part, double length_mm)
{
    const bridge_part *const box = &h->g->parts[part];
    const double diagonal = sw_mm_from_px(&h->g->grid, hypot((double)(box->x1 - box->x0), (double)(box->y1 - box->y0)));
    const double mm = sw_mm_from_px(&h->g->grid, 1.0);
    const sw_pt_mm far = { diagonal, 0.0 };
    const droop_body body = { .area_mm2 = (double)box->area_px * mm * mm, .middle = far, .rim = &far, .n_rim = 1 };
    const droop_neck neck = { .ux = 1.0, .length_mm = length_mm, .width_mm = h->g->job->width_mm };
    return droop_body_mm(h->material, &body, &neck, 1);
}

/* ---- where another bridge might stand --------------------------------------------------------------------- */

/* The rim's farthest point in each direction from the middle, in px; false where there is none. */
static bool rim_point(const holder *h, size_t direction, sw_pt_px *out)
{
    double best = 0.0;
    for (size_t i = 0; i < h->body.n_rim; i++) {
        const double dx = h->rim[i].x_mm - h->body.middle.x_mm, dy = h->rim[i].y_mm - h->body.middle.y_mm;
        const double turn = atan2(dy, dx) / 6.283185307179586 + 1.0;
        if ((size_t)(turn * N_DIRECTIONS + 0.5) % N_DIRECTIONS != direction || hypot(dx, dy) <= best) continue;
        best = hypot(dx, dy);
        *out = (sw_pt_px){ sw_px_from_mm(&h->g->grid, h->rim[i].x_mm), sw_px_from_mm(&h->g->grid, h->rim[i].y_mm) };
    }
    return best > 0.0;
}

static bool is_apart(const holder *h, const droop_neck *neck)
{
    for (size_t i = 0; i < h->n_necks; i++)
        if (hypot(h->necks[i].at.x_mm - neck->at.x_mm, h->necks[i].at.y_mm - neck->at.y_mm) <
            APART_WIDTHS * h->g->job->width_mm)
            return false;
    return true;
}

/* The best strip that leaves the island in one direction; cost HUGE_VAL if none does. */
static bridge_strip strip_towards(const holder *h, uint32_t part, size_t direction)
{
    const double angle = (double)direction * 6.283185307179586 / N_DIRECTIONS;
    bridge_strip none = { .cost = HUGE_VAL };
    sw_pt_px rim = { 0 };
    if (!rim_point(h, direction, &rim)) return none;
    return bridge_strip_from(h->g, rim, angle, part);
}

/* Try all round; the strip that pays best is returned, with the droop it leaves. */
static bridge_strip best_further(holder *h, uint32_t part, double limit_mm, double *left_mm)
{
    bridge_strip best = { .cost = HUGE_VAL };
    double best_price = HUGE_VAL, worth = 0.0; /* as if all of the island differed as much as anything can */
    for (size_t k = 0; k <= SW_MAX_PASSES; k++) worth = sw_max(worth, (double)h->g->error_of[k]);
    worth *= (double)h->g->parts[part].area_px;
    for (size_t direction = 0; direction < N_DIRECTIONS; direction++) {
        const bridge_strip s = strip_towards(h, part, direction);
        if (!(s.cost < HUGE_VAL) || s.seen > SEEN_MOST * worth) continue;
        const uint32_t other = s.from == part ? s.to : s.from;
        const droop_neck neck = neck_of(h, &s, part);
        if (h->droop_mm[other] < 0.0 || h->droop_mm[other] > limit_mm || !is_apart(h, &neck)) continue;
        h->necks[h->n_necks] = neck;
        const double droop = droop_body_mm(h->material, &h->body, h->necks, h->n_necks + 1);
        const double price = s.cost * sw_max(droop, limit_mm) * sw_max(droop, limit_mm);
        if (!(price < best_price)) continue;
        best_price = price;
        best = s;
        *left_mm = droop;
    }
    return best;
}

/* ---- part by part -------------------------------------------------------------------------------------------- */

static bool add_strip(holder *h, bridge_strip s)
{
    void *at = h->strips->at;
    const bool is_grown = sw_grow(&at, &h->strips->cap, h->strips->n + 1, sizeof *h->strips->at);
    h->strips->at = at;
    if (!is_grown) return false;
    h->strips->at[h->strips->n++] = s;
    return link_strip(h, h->strips->n - 1);
}

/* The strips added last, each the head of both its parts' lists, taken back. */
static void take_back(holder *h, size_t n)
{
    while (h->strips->n > n) {
        const size_t i = --h->strips->n;
        h->first[h->strips->at[i].to] = h->next[2 * i + 1];
        h->first[h->strips->at[i].from] = h->next[2 * i];
    }
}

/* Bridges to the part until it droops no more than is left to it, or none helps. */
static bool mend_part(holder *h, uint32_t part, double limit_mm, double *own_mm)
{
    const double begun_mm = *own_mm;
    const size_t n_strips = h->strips->n;
    while (*own_mm > limit_mm && h->n_necks + 1 < MOST_NECKS) {
        double left_mm = *own_mm;
        const bridge_strip s = best_further(h, part, limit_mm, &left_mm);
        if (!(s.cost < HUGE_VAL) || (left_mm > limit_mm && left_mm > LEFT_MOST_RATIO * *own_mm)) break;
        if (!add_strip(h, s)) return false;
        h->necks[h->n_necks++] = neck_of(h, &s, part);
        *own_mm = left_mm;
    }
    if (*own_mm > LEFT_MOST_LIMITS * limit_mm) {
        take_back(h, n_strips);
        *own_mm = begun_mm;
    }
    return true;
}

static bool hold_part(holder *h, uint32_t part)
{
    const double limit_mm = h->g->job->droop_mm, base_mm = base_droop(h, part);
    gather_necks(h, part);
    double longest_mm = h->g->job->width_mm;
    for (size_t i = 0; i < h->n_necks; i++) longest_mm = sw_max(longest_mm, h->necks[i].length_mm);
    double own_mm = bound_droop(h, part, longest_mm);
    if (own_mm > TRIFLE * limit_mm) {
        measure_body(h, part);
        own_mm = droop_body_mm(h->material, &h->body, h->necks, h->n_necks);
        if (!mend_part(h, part, sw_max(limit_mm - base_mm, 0.5 * limit_mm), &own_mm)) return false;
    }
    h->droop_mm[part] = base_mm + own_mm;
    return true;
}

/* Parts as they hang on each other; each is held before what hangs on it. */
static bool hold_all(holder *h, double *worst_mm)
{
    size_t n = 0;
    h->order[n++] = BRIDGE_ROOT;
    h->droop_mm[BRIDGE_ROOT] = 0.0;
    for (size_t i = 0; i < n; i++) {
        if (i > 0 && !hold_part(h, h->order[i])) return false;
        *worst_mm = sw_max(*worst_mm, h->droop_mm[h->order[i]]);
        for (uint32_t k = h->first[h->order[i]]; k != 0; k = h->next[k - 1]) {
            assert(h->next != NULL);
            const bridge_strip *const s = &h->strips->at[(k - 1) / 2];
            const uint32_t other = s->from == h->order[i] ? s->to : s->from;
            if (h->droop_mm[other] != -1.0) continue;
            h->droop_mm[other] = -2.0; /* in the queue */
            h->order[n++] = other;
        }
    }
    return true;
}

sw_status bridge_hold(const bridge_ground *g, bridge_strips *strips, double *worst_mm, sw_note *note)
{
    holder *h = sw_alloc_array(1, sizeof *h);
    bool is_done = h != NULL;
    if (is_done) {
        *h = (holder){ .g = g, .strips = strips };
        h->material = g->job->material != NULL ? g->job->material : sw_material_find(NULL);
        h->first = sw_alloc_array(g->n_parts + 1, sizeof *h->first);
        h->order = sw_alloc_array(g->n_parts + 1, sizeof *h->order);
        h->droop_mm = sw_alloc_array(g->n_parts + 1, sizeof *h->droop_mm);
        is_done = h->first != NULL && h->order != NULL && h->droop_mm != NULL;
        for (size_t i = 0; is_done && i <= g->n_parts; i++) h->droop_mm[i] = -1.0;
        for (size_t i = 0; is_done && i < strips->n; i++) is_done = link_strip(h, i);
        is_done = is_done && hold_all(h, worst_mm);
        sw_free(h->first);
        sw_free(h->next);
        sw_free(h->order);
        sw_free(h->droop_mm);
    }
    sw_free(h);
    return is_done ? SW_OK : sw_fail_memory(note, "holding the islands");
}
