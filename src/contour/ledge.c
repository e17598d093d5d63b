/* Ledges: where the mask's own pixel edges run beside an outline.
 *
 * A polygon that is as straight as most pixels say passes bumps and dents of two pixels by. That is right for quiet
 * curves and wrong if they are to be near every pixel edge. So the pixel edges beside every stretch of polygon are looked
 * up, row by row or column by column, and bumps that stick out too far get vertices of their own: no pixel edge is to be
 * farther from the curve than a pixel and half the tolerance, give or take a quarter of a pixel. mend.c sees to the
 * rest, once corners are rounded. */
#include <string.h>

#include "contour/outline.h"

#define LOOK_PX 4           /* farther away it is another edge */
#define BASE_PX 1.0         /* what the steps of a slope come to, and a little */
#define TOLERANCE_SHARE 0.5
#define SLACK_PX 0.25       /* a bump's vertices leave that much room for rounding them */
#define ROUNDING_RATIO 1.4  /* a lone vertex is rounded: the curve passes it at five sevenths of its height */
#define LEAD_PX 3.0         /* from the bump's end to where the outline leaves the straight line */
#define LEAST_EDGE_PX 8.0   /* shorter edges are ledges themselves */

double ledge_most(double tolerance_px) { return BASE_PX + TOLERANCE_SHARE * tolerance_px; }

bool find_ledge(const mask_edge *m, bool is_column, ptrdiff_t v, double u, int side, double *off)
{
    const ptrdiff_t width = (ptrdiff_t)m->mask->width_px, height = (ptrdiff_t)m->mask->height_px;
    const ptrdiff_t n = is_column ? height : width;
    if (v < 0 || v >= (is_column ? width : height)) return false;
    const ptrdiff_t start = (ptrdiff_t)floor(u), step = is_column ? width : 1;
    const uint8_t *const line = m->mask->at + (is_column ? v : v * width);
    if (start < 0 || start >= n) return false;
    const bool starts_inside = (line[start * step] != 0) == m->is_outer;
    const ptrdiff_t way = starts_inside ? -side : side; /* towards the pixel of the other kind */
    ptrdiff_t at = start;
    for (int k = 0; k < LOOK_PX; k++) {
        at += way;
        if (at < 0 || at >= n) return false;
        if (((line[at * step] != 0) == m->is_outer) == starts_inside) continue;
        const double edge = (double)(way > 0 ? at : at + 1);
        *off = (edge - u) * side;
        return true;
    }
    return false;
}

bool visit_ledges(const mask_edge *m, pt a, pt b, ledge_fn fn, void *ctx)
{
    const pt d = pt_sub(b, a);
    const double len = pt_len(d);
    const bool is_column = fabs(d.x) > fabs(d.y); /* flat: look up and down */
    const double from = is_column ? a.x : a.y, to = is_column ? b.x : b.y, across = to - from;
    if (!(fabs(across) > 0.5)) return true;
    const double slope = is_column ? d.y / d.x : d.x / d.y, cosine = fabs(across) / len;
    const double inside = is_column ? d.x : -d.y; /* the normal to the inside is (-d.y, d.x) */
    const int side = inside > 0.0 ? 1 : -1, step = across > 0.0 ? 1 : -1;
    const ptrdiff_t last = (ptrdiff_t)floor(to);
    for (ptrdiff_t v = (ptrdiff_t)floor(from); v != last + step; v += step) {
        const double middle = (double)v + 0.5, along = (middle - from) / across;
        double off;
        if (along < 0.0 || along > 1.0) continue;
        if (!find_ledge(m, is_column, v, (is_column ? a.y : a.x) + slope * (middle - from), side, &off)) continue;
        if (!fn(ctx, along * len, off * cosine)) return false;
    }
    return true;
}

bool widen_range(void *ctx, double along, double off)
{
    ledge_range *const range = ctx;
    (void)along;
    range->in = sw_max(range->in, off);
    range->out = sw_max(range->out, -off);
    return true;
}

/* ---- bumps ----------------------------------------------------------------------------------------------------- */

typedef struct bump {
    double from, to, high; /* along the edge; signed height */
} bump;

typedef struct bumps {
    bump at[8]; /* of one edge; more are noise */
    size_t n;
    double most;
} bumps;

static bool take_bump(void *ctx, double along, double off)
{
    bumps *const b = ctx;
    if (fabs(off) <= b->most) return true;
    bump *const last = b->n > 0 ? &b->at[b->n - 1] : NULL;
    if (last != NULL && along - last->to < 2.0 * LEAD_PX && (last->high > 0.0) == (off > 0.0)) {
        last->to = along;
        if (fabs(off) > fabs(last->high)) last->high = off;
    } else if (b->n < SW_ARRAY_LEN(b->at)) {
        b->at[b->n++] = (bump){ along, along, off };
    }
    return true;
}

static pt beside_edge(const vertex *e, double along, double off)
{
    return pt_add(e->p, pt_add(pt_mul(e->dir, along), pt_mul((pt){ -e->dir.y, e->dir.x }, off)));
}

/* Vertices of one bump on edge e, in order; returns how many. A bump that reaches an end of the edge takes the vertex there
 * along, unless that is on the border: beside it another would make a hook. */
static size_t bump_vertices(const bump *b, const vertex *e, double most, vertex *start, vertex *end, pt out[4])
{
    const double high = b->high - (b->high > 0.0 ? 1.0 : -1.0) * (most - SLACK_PX);
    const double len = e->len, first = b->from - 0.5 - LEAD_PX, last = b->to + 0.5 + LEAD_PX;
    const bool is_at_start = b->from < LEAD_PX, is_at_end = b->to > len - LEAD_PX, is_long = b->to - b->from > 2.0 * LEAD_PX;
    const pt move = pt_mul((pt){ -e->dir.y, e->dir.x }, high);
    size_t n = 0;
    if (is_at_start && !start->is_border) start->p = pt_add(start->p, move);
    if (first > LEAD_PX) out[n++] = beside_edge(e, first, 0.0);
    if (!is_long && !is_at_start && !is_at_end) out[n++] = beside_edge(e, 0.5 * (b->from + b->to), ROUNDING_RATIO * high);
    if (is_long && !is_at_start) out[n++] = beside_edge(e, b->from + 0.5, high);
    if (is_long && !is_at_end) out[n++] = beside_edge(e, b->to - 0.5, high);
    if (last < len - LEAD_PX) out[n++] = beside_edge(e, last, 0.0);
    if (is_at_end && !end->is_border) end->p = pt_add(end->p, move);
    return n;
}

size_t follow_bumps(const mask_edge *m, double tolerance_px, vertex *v, size_t n, size_t room)
{
    const double most = ledge_most(tolerance_px);
    for (size_t i = 0; i < n && n + 32 <= room; i++) {
        vertex edge = v[i];
        const pt to = v[wrap(i + 1, n)].p;
        bumps found = { .most = most };
        edge.len = pt_len(pt_sub(to, edge.p)); /* the bump before may have moved its start */
        edge.dir = pt_unit(pt_sub(to, edge.p));
        if (edge.len < LEAST_EDGE_PX || (edge.is_border && v[wrap(i + 1, n)].is_border)) continue;
        (void)visit_ledges(m, edge.p, to, take_bump, &found);
        vertex *const start = &v[i];
        for (size_t k = 0; k < found.n; k++) {
            pt add[4];
            const size_t n_add = bump_vertices(&found.at[k], &edge, most, start, &v[wrap(i + 1, n)], add);
            memmove(v + i + 1 + n_add, v + i + 1, (n - i - 1) * sizeof *v);
            for (size_t j = 0; j < n_add; j++) v[i + 1 + j] = (vertex){ .p = add[j] };
            i += n_add;
            n += n_add;
        }
    }
    return n;
}
