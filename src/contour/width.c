/* How far a fitted curve may stray, from how much room there is.
 *
 * Every point of every outline looks across its opening and across its web for the outline on the other side. Each of
 * the two curves may use up less than half of the room between them, so they cannot meet, and where a smallest width
 * is asked for, half of what the place is wider than that, so that it stays so wide. Points are found through a grid
 * of cells as wide as the farthest look. */
#include <string.h>

#include "contour/outline.h"

#define STEP_PX 3.0        /* between points along an outline */
#define SHARE_RATIO 0.4    /* of the room between two curves that one may use */
#define LEAST_PX 0.15      /* a limit is not tightened below this: the outline itself is no better */
#define FACING_COS (-0.3)   /* outlines face each other if their normals do, within about 70 degrees */
#define KEPT_RATIO 0.8     /* narrower than that share of what was asked, the mask had it so: a corner, a tip */

typedef struct place {
    pt p, open; /* open: unit, towards the opening */
    uint32_t shape, sample;
} place;

typedef struct places {
    place *at;       /* sorted by cell */
    uint32_t *first; /* first place of each cell, n_cells + 1 */
    float *open_room, *web_room; /* per place: width of opening and web there, or HUGE_VALF */
    size_t n, columns, rows;
    pt origin;
    double cell_px;
} places;

typedef void (*place_fn)(void *ctx, const place *p);

/* Points along the first round of a shape's outline, no farther apart than a step. */
static void visit_shape(const shape *s, uint32_t index, place_fn fn, void *ctx)
{
    const double side = s->is_outer ? 1.0 : -1.0;
    for (size_t k = 0; k < s->o.m; k++) {
        const sample *const a = &s->o.samples[k], *const b = a + 1;
        const double len = b->s - a->s;
        const size_t n = (size_t)sw_clamp(ceil(len / STEP_PX), 1.0, 1e6);
        const pt chord = pt_unit(pt_sub(b->p, a->p));
        for (size_t j = 0; j < n; j++) {
            const pt normal = j == 0 ? a->normal : (pt){ -chord.y, chord.x };
            fn(ctx, &(place){ .p = pt_mix(a->p, b->p, (double)j / (double)n), .open = pt_mul(normal, side),
                              .shape = index, .sample = (uint32_t)k });
        }
    }
}

typedef struct counting {
    places *all;
    pt low, high;
    uint32_t *next;
} counting;

static void count_place(void *ctx, const place *p)
{
    counting *const c = ctx;
    c->all->n++;
    c->low = (pt){ sw_min(c->low.x, p->p.x), sw_min(c->low.y, p->p.y) };
    c->high = (pt){ sw_max(c->high.x, p->p.x), sw_max(c->high.y, p->p.y) };
}

static size_t cell_of(const places *all, pt p)
{
    const size_t x = (size_t)((p.x - all->origin.x) / all->cell_px), y = (size_t)((p.y - all->origin.y) / all->cell_px);
    return y * all->columns + x;
}

static void count_cell(void *ctx, const place *p)
{
    counting *const c = ctx;
    c->all->first[cell_of(c->all, p->p) + 1]++;
}

static void put_place(void *ctx, const place *p)
{
    counting *const c = ctx;
    c->all->at[c->next[cell_of(c->all, p->p)]++] = *p;
}

static void visit_all(const shapes *list, place_fn fn, void *ctx)
{
    for (size_t i = 0; i < list->n; i++) visit_shape(&list->at[i], (uint32_t)i, fn, ctx);
}

static bool sort_places(const shapes *list, double look_px, places *all)
{
    counting c = { .all = all, .low = { HUGE_VAL, HUGE_VAL }, .high = { -HUGE_VAL, -HUGE_VAL } };
    visit_all(list, count_place, &c);
    if (all->n == 0) return true;
    all->origin = c.low;
    /* cells no smaller than the look, and no more of them than a few a place */
    all->cell_px = sw_max(look_px, sqrt((c.high.x - c.low.x + 1.0) * (c.high.y - c.low.y + 1.0) / (4.0 * (double)all->n)));
    all->columns = (size_t)((c.high.x - c.low.x) / all->cell_px) + 1;
    all->rows = (size_t)((c.high.y - c.low.y) / all->cell_px) + 1;
    const size_t n_cells = all->columns * all->rows;
    all->at = sw_alloc_raw(all->n, sizeof *all->at);
    all->first = sw_alloc_array(n_cells + 1, sizeof *all->first);
    all->open_room = sw_alloc_raw(all->n, sizeof *all->open_room);
    all->web_room = sw_alloc_raw(all->n, sizeof *all->web_room);
    c.next = sw_alloc_raw(n_cells, sizeof *c.next);
    const bool is_ok = all->at != NULL && all->first != NULL && all->open_room != NULL && all->web_room != NULL &&
                       c.next != NULL;
    if (is_ok) {
        visit_all(list, count_cell, &c);
        for (size_t k = 0; k < n_cells; k++) all->first[k + 1] += all->first[k];
        memcpy(c.next, all->first, n_cells * sizeof *c.next);
        visit_all(list, put_place, &c);
    }
    sw_free(c.next);
    return is_ok;
}

static void free_places(places *all)
{
    sw_free(all->at);
    sw_free(all->first);
    sw_free(all->open_room);
    sw_free(all->web_room);
}

/* Width between a and b if they face each other: positive across an opening, negative across a web, 0 if not. */
static double facing_width(const place *a, const place *b, double look_px)
{
    const pt across = pt_sub(b->p, a->p);
    const double d2 = pt_dot(across, across);
    if (d2 > look_px * look_px || pt_dot(a->open, b->open) > FACING_COS) return 0.0;
    const double from_a = pt_dot(across, a->open), from_b = -pt_dot(across, b->open);
    if ((from_a > 0.0) != (from_b > 0.0) || from_a * from_a < 0.36 * d2 || from_b * from_b < 0.36 * d2) return 0.0;
    return from_a > 0.0 ? sw_min(from_a, from_b) : sw_max(from_a, from_b);
}

static void look_from(places *all, size_t i, double look_px)
{
    const place *const a = &all->at[i];
    float open = HUGE_VALF, web = HUGE_VALF;
    const size_t cx = (size_t)((a->p.x - all->origin.x) / all->cell_px);
    const size_t cy = (size_t)((a->p.y - all->origin.y) / all->cell_px);
    const size_t x0 = cx > 0 ? cx - 1 : 0, x1 = sw_min_size(cx + 2, all->columns);
    for (size_t y = cy > 0 ? cy - 1 : 0; y < sw_min_size(cy + 2, all->rows); y++) {
        const size_t end = all->first[y * all->columns + x1];
        for (size_t k = all->first[y * all->columns + x0]; k < end; k++) {
            const float width = (float)facing_width(a, &all->at[k], look_px);
            if (width > 0.0f) open = fminf(open, width);
            else if (width < 0.0f) web = fminf(web, -width);
        }
    }
    all->open_room[i] = open;
    all->web_room[i] = web;
}

typedef struct looking {
    places *all;
    double look_px;
} looking;

static void look_some(size_t begin, size_t end, void *ctx)
{
    const looking *const l = ctx;
    for (size_t i = begin; i < end; i++) look_from(l->all, i, l->look_px);
}

/* The limit on a side with this much room. */
static float weight_of(float room, double asked_px, double tolerance_px)
{
    double limit = sw_min(tolerance_px, SHARE_RATIO * (double)room);
    if ((double)room >= KEPT_RATIO * asked_px) limit = sw_min(limit, 0.5 * ((double)room - asked_px));
    limit = sw_max(limit, sw_min(LEAST_PX, tolerance_px));
    return (float)(1.0 / (limit * limit));
}

static void tighten(sample *s, bool is_outer, float open, float web)
{
    float *const towards_open = is_outer ? &s->w_in : &s->w_out, *const towards_web = is_outer ? &s->w_out : &s->w_in;
    *towards_open = fmaxf(*towards_open, open);
    *towards_web = fmaxf(*towards_web, web);
}

static void apply(shapes *list, const places *all, double min_opening_px, double min_web_px, double tolerance_px)
{
    for (size_t i = 0; i < all->n; i++) {
        shape *const s = &list->at[all->at[i].shape];
        const float open = weight_of(all->open_room[i], min_opening_px, tolerance_px);
        const float web = weight_of(all->web_room[i], min_web_px, tolerance_px);
        const size_t k = all->at[i].sample;
        tighten(&s->o.samples[k], s->is_outer, open, web);
        tighten(&s->o.samples[k + 1], s->is_outer, open, web);
    }
    for (size_t i = 0; i < list->n; i++) { /* the second round is the first again */
        outline *const o = &list->at[i].o;
        if (o->m == 0) continue;
        tighten(&o->samples[0], true, o->samples[o->m].w_in, o->samples[o->m].w_out);
        for (size_t k = 0; k <= o->m; k++) {
            const sample *const from = &o->samples[k == o->m ? 0 : k];
            o->samples[o->m + k].w_in = from->w_in;
            o->samples[o->m + k].w_out = from->w_out;
        }
    }
}

bool limit_by_width(shapes *list, double min_opening_px, double min_web_px, double tolerance_px)
{
    const double look_px = sw_max(min_opening_px, min_web_px) + 2.5 * tolerance_px + 1.0;
    places all = { 0 };
    const bool is_ok = sort_places(list, look_px, &all);
    if (is_ok) {
        sw_parallel_rows(all.n, look_some, &(looking){ &all, look_px });
        apply(list, &all, min_opening_px, min_web_px, tolerance_px);
    }
    free_places(&all);
    return is_ok;
}
