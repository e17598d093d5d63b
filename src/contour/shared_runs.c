/* Where an outline has its pixel edges in common with masks drawn before.
 *
 * Beside every stretch of outline the pixel edges are looked up row by row or column by column. An edge is shared if the
 * pixels on its two sides differ in the earlier mask as well; then both masks are open on the same side, or one where
 * the other is not. Runs of such edges are what two sheets have in common on the wall. */
#include <stdlib.h>

#include "contour/shared.h"

#define GAP_PX 4.0   /* along the outline without a pixel edge; more ends a run */
#define CLAMP_PX 0.5 /* rests shorter than that are nothing */

/* A pixel edge beside the outline. kinds: two bits an earlier mask, for open on the same side and on the other. */
typedef struct mark {
    double s;
    uint32_t kinds;
} mark;

typedef struct marking {
    const mask_edge *edge;
    const drawn_curves *drawn;
    size_t n_drawn;
    mark *at;
    size_t n, cap;
    pt from, dir; /* the line that is walked */
    double s;     /* at its start */
} marking;

static bool is_open(const sw_mask *m, size_t x, size_t y) { return (m->at[y * m->width_px + x] & 1u) != 0; }

/* In which earlier masks do these two pixels differ as well? */
static uint32_t kinds_of(const marking *m, size_t x0, size_t y0, size_t x1, size_t y1)
{
    const bool here0 = is_open(m->edge->mask, x0, y0), here1 = is_open(m->edge->mask, x1, y1);
    uint32_t kinds = 0;
    for (size_t k = 0; k < m->n_drawn; k++) {
        const drawn_curves *const d = &m->drawn[k];
        const bool there0 = is_open(d->mask, x0 + d->x_px, y0 + d->y_px), there1 = is_open(d->mask, x1 + d->x_px, y1 + d->y_px);
        if (there0 == there1 || here0 == here1) continue;
        kinds |= 1u << (2 * k + (there0 == here0 ? 0 : 1));
    }
    return kinds;
}

static bool take_mark(void *ctx, double along, double off)
{
    marking *const m = ctx;
    const bool is_column = fabs(m->dir.x) > fabs(m->dir.y);
    const pt on_line = pt_add(m->from, pt_mul(m->dir, along));
    /* off is at right angles to the line; the pixel edge lies in the column or row of on_line */
    const double cosine = is_column ? m->dir.x : -m->dir.y;
    const double edge = round((is_column ? on_line.y : on_line.x) + off / cosine);
    if (!(edge >= 1.0)) return true;
    const size_t v = (size_t)(is_column ? on_line.x : on_line.y), u = (size_t)edge;
    void *at = m->at;
    if (!sw_grow(&at, &m->cap, m->n + 1, sizeof *m->at)) return false;
    m->at = at;
    m->at[m->n++] = (mark){ m->s + along, is_column ? kinds_of(m, v, u - 1, v, u) : kinds_of(m, u - 1, v, u, v) };
    return true;
}

static bool mark_edges(const outline *o, marking *m)
{
    for (size_t k = 0; k < o->m; k++) {
        m->from = o->samples[k].p;
        m->dir = pt_unit(pt_sub(o->samples[k + 1].p, m->from));
        m->s = o->samples[k].s;
        if (!visit_ledges(m->edge, m->from, o->samples[k + 1].p, take_mark, m)) return false;
    }
    return true;
}

static bool add_run(edge_runs *list, const edge_run *add)
{
    void *at = list->at;
    if (!sw_grow(&at, &list->cap, list->n + 1, sizeof *list->at)) return false;
    list->at = at;
    list->at[list->n++] = *add;
    return true;
}

/* Does mark i carry on from the one before, round and round? */
static bool does_carry_on(const outline *o, const marking *m, size_t i, uint32_t bit)
{
    const mark *const now = &m->at[i], *const before = &m->at[i > 0 ? i - 1 : m->n - 1];
    const double step = now->s - before->s + (i > 0 ? 0.0 : o->length);
    return (now->kinds & bit) != 0 && (before->kinds & bit) != 0 && step <= GAP_PX;
}

/* All runs of one kind. */
static bool collect_runs(const outline *o, const marking *m, uint32_t kind, double least_px, edge_runs *out)
{
    const uint32_t bit = 1u << kind;
    edge_run run = { .drawn = kind / 2, .is_same = kind % 2 == 0 };
    size_t first = 0;
    while (first < m->n && does_carry_on(o, m, first, bit)) first++;
    if (first == m->n && m->n > 0) {
        run.is_ring = true;
        run.s1 = o->length;
        return o->length < least_px || add_run(out, &run);
    }
    for (size_t k = 0; k < m->n; k++) {
        const size_t i = (first + k) % m->n;
        if ((m->at[i].kinds & bit) == 0) continue;
        if (k == 0 || !does_carry_on(o, m, i, bit)) run.s0 = run.s1 = m->at[i].s;
        run.s1 = m->at[i].s < run.s0 ? m->at[i].s + o->length : m->at[i].s;
        const size_t next = (i + 1) % m->n;
        const bool is_last = k + 1 == m->n || !does_carry_on(o, m, next, bit);
        if (is_last && run.s1 - run.s0 >= least_px && !add_run(out, &run)) return false;
    }
    return true;
}

static int longest_first(const void *pa, const void *pb)
{
    const edge_run *const a = pa, *const b = pb;
    const double la = a->s1 - a->s0, lb = b->s1 - b->s0;
    if (la != lb) return la > lb ? -1 : 1;
    if (a->drawn != b->drawn) return a->drawn < b->drawn ? -1 : 1;
    if (a->is_same != b->is_same) return a->is_same ? -1 : 1;
    return (a->s0 > b->s0) - (a->s0 < b->s0);
}

static int by_start(const void *pa, const void *pb)
{
    const edge_run *const a = pa, *const b = pb;
    return (a->s0 > b->s0) - (a->s0 < b->s0);
}

/* What a taken run leaves of another: its longer side. */
static void cut_back(edge_run *r, const edge_run *taken, double length)
{
    for (int turn = -1; turn <= 1; turn++) {
        const double t0 = taken->s0 + turn * length, t1 = taken->s1 + turn * length;
        if (t0 >= r->s1 || t1 <= r->s0) continue;
        if (t0 - r->s0 >= r->s1 - t1) r->s1 = sw_max(t0, r->s0);
        else r->s0 = sw_min(t1, r->s1);
        r->is_ring = false;
    }
}

/* Keep the longest, and of the others what lies beside them. */
static void choose_runs(edge_runs *list, double length, double least_px)
{
    qsort(list->at, list->n, sizeof *list->at, longest_first);
    size_t n = 0;
    for (size_t i = 0; i < list->n; i++) {
        edge_run r = list->at[i];
        for (size_t k = 0; k < n && r.s1 - r.s0 > CLAMP_PX; k++) cut_back(&r, &list->at[k], length);
        if (r.s1 - r.s0 < least_px) continue;
        const double turns = floor(r.s0 / length) * length;
        r.s0 -= turns;
        r.s1 -= turns;
        list->at[n++] = r;
    }
    list->n = n;
    qsort(list->at, list->n, sizeof *list->at, by_start);
}

bool find_runs(const outline *o, const mask_edge *edge, const drawn_curves *drawn, size_t n_drawn, double least_px,
               bool is_all, edge_runs *out)
{
    marking m = { .edge = edge, .drawn = drawn, .n_drawn = n_drawn };
    edge_runs made = { 0 };
    bool is_ok = mark_edges(o, &m);
    for (uint32_t kind = 0; kind < 2 * n_drawn && is_ok; kind++) is_ok = collect_runs(o, &m, kind, least_px, &made);
    if (is_ok) {
        if (made.n > 0 && !is_all) choose_runs(&made, o->length, least_px);
        *out = made;
        made = (edge_runs){ 0 };
    }
    sw_free(made.at);
    sw_free(m.at);
    return is_ok;
}
