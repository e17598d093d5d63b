/* Proof that no fitted curve crosses itself or another.
 *
 * The curves are walked as polygons, their edges sorted into a grid of cells, and edges that share a cell are tested
 * against each other. */
#include <string.h>

#include "contour/outline.h"

#define WALK_PX 0.05  /* chords stay that near to the curves */
#define EDGE_PX 24.0  /* longer edges are cut up, so that a cell box stays small */
#define CELL_PX 12.0

typedef struct edge {
    pt a, b;
    uint32_t shape, segment, order; /* order: along its contour */
} edge;

typedef struct edges {
    edge *at;
    size_t n, cap;
} edges;

typedef struct walk {
    edges *all;
    pt last, first;
    uint32_t shape, segment, order;
    bool has_last, is_ok;
} walk;

static bool add_edge(walk *w, pt to)
{
    const double len = pt_len(pt_sub(to, w->last));
    if (len == 0.0) return true;
    const size_t n = (size_t)ceil(len / EDGE_PX);
    void *at = w->all->at;
    if (!sw_grow(&at, &w->all->cap, w->all->n + n, sizeof *w->all->at)) return false;
    w->all->at = at;
    for (size_t k = 0; k < n; k++) {
        const pt a = pt_mix(w->last, to, (double)k / (double)n);
        const pt b = k + 1 == n ? to : pt_mix(w->last, to, (double)(k + 1) / (double)n);
        w->all->at[w->all->n++] = (edge){ a, b, w->shape, w->segment, w->order++ };
    }
    w->last = to;
    return true;
}

static bool take_point(void *ctx, sw_pt_mm p)
{
    walk *const w = ctx;
    const pt to = { p.x_mm, p.y_mm };
    if (!w->has_last) {
        w->has_last = true;
        w->last = to;
        return true;
    }
    return add_edge(w, to);
}

/* Segment by segment, so that every edge knows its own. */
static bool walk_shape(const shape *s, uint32_t index, edges *all)
{
    walk w = { .all = all, .shape = index };
    w.last = (pt){ s->fitted.start.x_mm, s->fitted.start.y_mm };
    w.has_last = true;
    sw_pt_mm p0 = s->fitted.start;
    for (size_t k = 0; k < s->fitted.n_segs; k++) {
        sw_seg *const seg = &s->fitted.segs[k];
        w.segment = (uint32_t)k;
        const sw_contour one = { .start = p0, .segs = seg, .n_segs = 1 };
        w.has_last = false; /* the walk begins at the segment's start, where we are */
        if (!sw_contour_flatten(&one, WALK_PX, take_point, &w)) return false;
        if (!add_edge(&w, (pt){ seg->end.x_mm, seg->end.y_mm })) return false;
        p0 = seg->end;
    }
    return true;
}

static double side_of(pt a, pt b, pt p) { return pt_cross(pt_sub(b, a), pt_sub(p, a)); }

/* True if the edges have a point in common; touching counts. */
static bool do_cross(const edge *e, const edge *f)
{
    const double a = side_of(e->a, e->b, f->a), b = side_of(e->a, e->b, f->b);
    if ((a > 0.0 && b > 0.0) || (a < 0.0 && b < 0.0)) return false;
    const double c = side_of(f->a, f->b, e->a), d = side_of(f->a, f->b, e->b);
    if ((c > 0.0 && d > 0.0) || (c < 0.0 && d < 0.0)) return false;
    if (a != 0.0 || b != 0.0) return true;
    /* on one line: do they overlap? */
    const pt along = pt_sub(e->b, e->a);
    const double len2 = pt_dot(along, along);
    const double s = pt_dot(pt_sub(f->a, e->a), along), t = pt_dot(pt_sub(f->b, e->a), along);
    return sw_max(s, t) >= 0.0 && sw_min(s, t) <= len2;
}

/* Neighbours share a point and may; but one that turns straight back lies on the other. */
static bool do_offend(const edge *e, const edge *f, const uint32_t *n_edges)
{
    if (e->shape == f->shape) {
        const uint32_t n = n_edges[e->shape];
        const bool is_next = f->order == e->order + 1 || (e->order + 1 == n && f->order == 0);
        const bool is_before = e->order == f->order + 1 || (f->order + 1 == n && e->order == 0);
        if (is_next && is_before) return false;
        if (is_next || is_before) {
            const pt u = pt_sub(e->b, e->a), v = pt_sub(f->b, f->a);
            return pt_cross(u, v) == 0.0 && pt_dot(u, v) < 0.0;
        }
    }
    return do_cross(e, f);
}

typedef struct cells {
    uint32_t *first, *edge_of; /* edge_of[first[c]..first[c + 1]] lie in cell c */
    size_t columns, rows;
    pt low;
    double size;
} cells;

typedef struct cell_box {
    size_t x0, x1, y0, y1;
} cell_box;

static cell_box box_of(const cells *c, const edge *e)
{
    return (cell_box){ (size_t)((sw_min(e->a.x, e->b.x) - c->low.x) / c->size),
                       (size_t)((sw_max(e->a.x, e->b.x) - c->low.x) / c->size),
                       (size_t)((sw_min(e->a.y, e->b.y) - c->low.y) / c->size),
                       (size_t)((sw_max(e->a.y, e->b.y) - c->low.y) / c->size) };
}

static void measure_cells(const edges *all, cells *c)
{
    pt high = { -HUGE_VAL, -HUGE_VAL };
    c->low = (pt){ HUGE_VAL, HUGE_VAL };
    for (size_t i = 0; i < all->n; i++) {
        const edge *const e = &all->at[i];
        c->low = (pt){ sw_min(c->low.x, sw_min(e->a.x, e->b.x)), sw_min(c->low.y, sw_min(e->a.y, e->b.y)) };
        high = (pt){ sw_max(high.x, sw_max(e->a.x, e->b.x)), sw_max(high.y, sw_max(e->a.y, e->b.y)) };
    }
    const pt side = pt_sub(high, c->low);
    c->size = sw_max(CELL_PX, sqrt((side.x + 1.0) * (side.y + 1.0) / (8.0 * (double)all->n)));
    c->columns = (size_t)(side.x / c->size) + 1;
    c->rows = (size_t)(side.y / c->size) + 1;
}

static bool sort_edges(const edges *all, cells *c)
{
    measure_cells(all, c);
    const size_t n_cells = c->columns * c->rows;
    c->first = sw_alloc_array(n_cells + 2, sizeof *c->first);
    if (c->first == NULL) return false;
    uint32_t *const count = c->first + 1; /* shifted once more while filling */
    for (size_t i = 0; i < all->n; i++) {
        const cell_box b = box_of(c, &all->at[i]);
        for (size_t y = b.y0; y <= b.y1; y++) {
            for (size_t x = b.x0; x <= b.x1; x++) count[y * c->columns + x + 1]++;
        }
    }
    for (size_t k = 0; k < n_cells; k++) count[k + 1] += count[k];
    c->edge_of = sw_alloc_raw(count[n_cells], sizeof *c->edge_of);
    if (c->edge_of == NULL) return false;
    for (size_t i = 0; i < all->n; i++) {
        const cell_box b = box_of(c, &all->at[i]);
        for (size_t y = b.y0; y <= b.y1; y++) {
            for (size_t x = b.x0; x <= b.x1; x++) c->edge_of[count[y * c->columns + x]++] = (uint32_t)i;
        }
    }
    return true;
}

/* Halve the limits along the stretch of outline that a segment stands for. */
static void tighten_segment(shape *s, uint32_t segment)
{
    outline *const o = &s->o;
    if (s->is_pixels) return;
    const size_t i = s->from[segment];
    size_t j = s->from[segment + 1];
    if (j <= i) j += o->n;
    for (size_t k = o->nodes[i].sample; k <= o->nodes[j].sample; k++) {
        for (size_t r = k % o->m; r <= 2 * o->m; r += o->m) {
            o->samples[r].w_in = fminf(o->samples[r].w_in * 4.0f, 1e12f);
            o->samples[r].w_out = fminf(o->samples[r].w_out * 4.0f, 1e12f);
        }
    }
}

typedef struct marking {
    const edges *all;
    const cells *c;
    const uint32_t *n_edges;
    bool **is_bad; /* by shape, then segment */
} marking;

/* Both edges of every crossing pair in cell k are marked. */
static void mark_cell(const marking *m, size_t k)
{
    for (size_t i = m->c->first[k]; i < m->c->first[k + 1]; i++) {
        const edge *const e = &m->all->at[m->c->edge_of[i]];
        for (size_t j = i + 1; j < m->c->first[k + 1]; j++) {
            const edge *const f = &m->all->at[m->c->edge_of[j]];
            if (!do_offend(e, f, m->n_edges)) continue;
            m->is_bad[e->shape][e->segment] = true;
            m->is_bad[f->shape][f->segment] = true;
        }
    }
}

static bool walk_all(const shapes *list, edges *all, uint32_t *n_edges)
{
    for (size_t i = 0; i < list->n; i++) {
        const size_t before = all->n;
        if (!walk_shape(&list->at[i], (uint32_t)i, all)) return false;
        n_edges[i] = (uint32_t)(all->n - before);
    }
    return true;
}

bool find_crossings(shapes *list, bool *is_bad, size_t *n_bad)
{
    edges all = { 0 };
    cells c = { 0 };
    bool is_ok = false;
    bool *marks = NULL;
    size_t n_segs = 0;
    for (size_t i = 0; i < list->n; i++) n_segs += list->at[i].fitted.n_segs;
    uint32_t *const n_edges = sw_alloc_array(list->n, sizeof *n_edges);
    bool **const by_shape = sw_alloc_array(list->n, sizeof *by_shape);
    marks = sw_alloc_array(n_segs, sizeof *marks);
    if (n_edges == NULL || by_shape == NULL || marks == NULL) goto cleanup;
    for (size_t i = 0, at = 0; i < list->n; at += list->at[i].fitted.n_segs, i++) by_shape[i] = marks + at;
    if (!walk_all(list, &all, n_edges) || !sort_edges(&all, &c)) goto cleanup;
    const marking m = { &all, &c, n_edges, by_shape };
    for (size_t k = 0; k < c.columns * c.rows; k++) mark_cell(&m, k);
    *n_bad = 0;
    for (size_t i = 0; i < list->n; i++) {
        is_bad[i] = false;
        for (size_t k = 0; k < list->at[i].fitted.n_segs; k++) {
            if (!by_shape[i][k]) continue;
            tighten_segment(&list->at[i], (uint32_t)k);
            is_bad[i] = true;
        }
        list->at[i].n_bad += is_bad[i];
        *n_bad += is_bad[i];
    }
    is_ok = true;
cleanup:
    sw_free(marks);
    sw_free(by_shape);
    sw_free(n_edges);
    sw_free(c.first);
    sw_free(c.edge_of);
    sw_free(all.at);
    return is_ok;
}
