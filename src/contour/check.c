/* Where curves cross, themselves or another; the proof that fitted curves do not.
 *
 * The curves are walked as polygons, their edges sorted into a grid of cells, and edges that share a cell are tested
 * against each other. */
#include "contour/shared.h"

#define WALK_PX 0.015    /* of fitted curves: chords stay that near to them */
#define EDGE_PX 24.0     /* longer edges are cut up, so that a cell box stays small */
#define GAP_PX 0.0225    /* and two of them that near may hide a crossing */
#define TIP_RATIO 40.0   /* of the gap: edges of one contour that near to each other along it may be the two of a tip */
#define BACK_SIN 0.02    /* of the angle between neighbours: a tip that sharp, one degree, lies on itself */
#define CELLS_RATIO 0.5  /* of the longest edge: side of a cell */

typedef struct edge {
    pt a, b;
    double t0, t1, along; /* parameters of the segment at a and b; length along the contour at a */
    uint32_t contour, segment, order; /* order: along its contour */
} edge;

typedef struct edges {
    edge *at;
    size_t n, cap;
    uint32_t *n_of;    /* edges of each contour */
    double *length_of; /* and its length */
    double gap;        /* edges that near count as crossing */
} edges;

typedef struct walk {
    edges *all;
    pt last;
    double t, t_step, along, longest;
    uint32_t contour, segment, order;
} walk;

static bool add_edge(walk *w, pt to)
{
    const double len = pt_len(pt_sub(to, w->last)), t = w->t;
    w->t += w->t_step;
    if (len == 0.0) return true;
    const size_t n = (size_t)ceil(len / w->longest);
    void *at = w->all->at;
    if (!sw_grow(&at, &w->all->cap, w->all->n + n, sizeof *w->all->at)) return false;
    w->all->at = at;
    for (size_t k = 0; k < n; k++) {
        const double from = (double)k / (double)n, till = (double)(k + 1) / (double)n;
        w->all->at[w->all->n++] = (edge){ .a = pt_mix(w->last, to, from), .b = k + 1 == n ? to : pt_mix(w->last, to, till),
                                          .t0 = t + from * w->t_step, .t1 = t + till * w->t_step,
                                          .along = w->along + from * len, .contour = w->contour,
                                          .segment = w->segment, .order = w->order++ };
    }
    w->last = to;
    w->along += len;
    return true;
}

static bool take_point(void *ctx, sw_pt_mm p)
{
    walk *const w = ctx;
    const pt to = { p.x_mm, p.y_mm };
    if (to.x == w->last.x && to.y == w->last.y) return true; /* a segment's walk begins where we are */
    return add_edge(w, to);
}

/* Segment by segment, so that every edge knows its own. */
static bool walk_contour(const sw_contour *c, uint32_t index, double tolerance, double longest, edges *all)
{
    walk w = { .all = all, .contour = index, .longest = longest, .last = { c->start.x_mm, c->start.y_mm } };
    sw_pt_mm p0 = c->start;
    for (size_t k = 0; k < c->n_segs; k++) {
        const sw_contour one = { .start = p0, .segs = &c->segs[k], .n_segs = 1 };
        w.segment = (uint32_t)k;
        w.t = 0.0;
        w.t_step = 1.0 / (double)sw_seg_chords(p0, &c->segs[k], tolerance);
        if (!sw_contour_flatten(&one, tolerance, take_point, &w)) return false;
        if (!add_edge(&w, (pt){ c->segs[k].end.x_mm, c->segs[k].end.y_mm })) return false;
        p0 = c->segs[k].end;
    }
    all->n_of[index] = w.order;
    all->length_of[index] = w.along;
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

static double to_edge_sq(const edge *e, pt p)
{
    const pt d = pt_sub(e->b, e->a), q = pt_sub(p, e->a);
    const double t = sw_clamp(pt_dot(q, d) / pt_dot(d, d), 0.0, 1.0);
    const pt off = pt_sub(q, pt_mul(d, t));
    return pt_dot(off, off);
}

/* True if edges that do not cross come nearer than the chords are off the curves. */
static bool do_graze(const edge *e, const edge *f, double gap)
{
    return sw_min(sw_min(to_edge_sq(e, f->a), to_edge_sq(e, f->b)), sw_min(to_edge_sq(f, e->a), to_edge_sq(f, e->b))) <
           gap * gap;
}

static double length_of(const edge *e) { return pt_len(pt_sub(e->b, e->a)); }

/* Length of the way along one contour between two of its edges, the shorter way round. */
static double way_between(const edge *e, const edge *f, const edges *all)
{
    const edge *const first = e->along < f->along ? e : f, *const second = first == e ? f : e;
    const double way = second->along - first->along - length_of(first);
    return sw_min(way, all->length_of[e->contour] - (second->along + length_of(second) - first->along));
}

/* False if the boxes of two edges are farther apart than the gap: most pairs of a cell. */
static bool are_near(const edge *e, const edge *f, double gap)
{
    return sw_min(e->a.x, e->b.x) - gap <= sw_max(f->a.x, f->b.x) && sw_min(f->a.x, f->b.x) - gap <= sw_max(e->a.x, e->b.x) &&
           sw_min(e->a.y, e->b.y) - gap <= sw_max(f->a.y, f->b.y) && sw_min(f->a.y, f->b.y) - gap <= sw_max(e->a.y, e->b.y);
}

/* Neighbours share a point and may; but one that turns back lies on the other, and within a segment there is
 * no turning back at all. */
static bool do_offend(const edge *e, const edge *f, const edges *all)
{
    if (!are_near(e, f, all->gap)) return false;
    if (e->contour == f->contour) {
        const uint32_t n = all->n_of[e->contour];
        const bool is_next = f->order == e->order + 1 || (e->order + 1 == n && f->order == 0);
        const bool is_before = e->order == f->order + 1 || (f->order + 1 == n && e->order == 0);
        if (is_next && is_before) return false;
        if (is_next || is_before) {
            const pt u = pt_sub(e->b, e->a), v = pt_sub(f->b, f->a);
            return pt_dot(u, v) < 0.0 &&
                   (e->segment == f->segment || fabs(pt_cross(u, v)) <= BACK_SIN * pt_len(u) * pt_len(v));
        }
    }
    if (do_cross(e, f)) return true;
    return (e->contour != f->contour || way_between(e, f, all) > TIP_RATIO * all->gap) && do_graze(e, f, all->gap);
}

typedef struct cells {
    uint32_t *first, *edge_of; /* edge_of[first[c]..first[c + 1]] lie in cell c */
    size_t columns, rows;
    pt low;
    double size, gap;
} cells;

typedef struct cell_box {
    size_t x0, x1, y0, y1;
} cell_box;

static cell_box box_of(const cells *c, const edge *e)
{
    const double x = c->low.x, y = c->low.y, gap = c->gap;
    return (cell_box){ (size_t)((sw_min(e->a.x, e->b.x) - gap - x) / c->size),
                       (size_t)((sw_max(e->a.x, e->b.x) + gap - x) / c->size),
                       (size_t)((sw_min(e->a.y, e->b.y) - gap - y) / c->size),
                       (size_t)((sw_max(e->a.y, e->b.y) + gap - y) / c->size) };
}

static void measure_cells(const edges *all, double longest, cells *c)
{
    pt high = { -HUGE_VAL, -HUGE_VAL };
    c->low = (pt){ HUGE_VAL, HUGE_VAL };
    for (size_t i = 0; i < all->n; i++) {
        const edge *const e = &all->at[i];
        c->low = (pt){ sw_min(c->low.x, sw_min(e->a.x, e->b.x)), sw_min(c->low.y, sw_min(e->a.y, e->b.y)) };
        high = (pt){ sw_max(high.x, sw_max(e->a.x, e->b.x)), sw_max(high.y, sw_max(e->a.y, e->b.y)) };
    }
    c->gap = all->gap;
    c->low = pt_sub(c->low, (pt){ 2.0 * c->gap, 2.0 * c->gap });
    high = pt_add(high, (pt){ 2.0 * c->gap, 2.0 * c->gap });
    const pt side = pt_sub(high, c->low);
    c->size = sw_max(CELLS_RATIO * longest, sqrt((side.x + longest) * (side.y + longest) / (8.0 * (double)all->n)));
    c->columns = (size_t)(side.x / c->size) + 1;
    c->rows = (size_t)(side.y / c->size) + 1;
}

static bool sort_edges(const edges *all, double longest, cells *c)
{
    if (all->n == 0) return true;
    measure_cells(all, longest, c);
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

void tighten_segment(shape *s, uint32_t segment)
{
    outline *const o = &s->o;
    if (s->is_pixels) return;
    const size_t i = s->from[segment];
    size_t j = s->from[segment + 1];
    if (o->nodes[i].given != NULL) s->borrowed->at[o->nodes[i].borrowed].n_bad++;
    if (j <= i) j += o->n;
    for (size_t k = o->nodes[i].sample; k <= o->nodes[j].sample; k++) {
        for (size_t r = k % o->m; r <= 2 * o->m; r += o->m) {
            o->samples[r].w_in = fminf(o->samples[r].w_in * 4.0f, 1e12f);
            o->samples[r].w_out = fminf(o->samples[r].w_out * 4.0f, 1e12f);
        }
    }
}

/* Parameter on e of the crossing with f: where the lines meet, kept on the edge. */
static struct crossing_side side_at(const edge *e, const edge *f)
{
    const pt u = pt_sub(e->b, e->a), v = pt_sub(f->b, f->a);
    const double det = pt_cross(u, v);
    const double share = det != 0.0 ? sw_clamp(pt_cross(pt_sub(f->a, e->a), v) / det, 0.0, 1.0) : 0.5;
    return (struct crossing_side){ .contour = e->contour, .segment = e->segment,
                                   .t = e->t0 + share * (e->t1 - e->t0), .along = e->along + share * pt_len(u) };
}

/* Every crossing pair in cell k; a pair that shares several cells is told once, in the first. */
static bool visit_cell(const edges *all, const cells *c, size_t k, crossing_fn fn, void *ctx)
{
    for (size_t i = c->first[k]; i < c->first[k + 1]; i++) {
        const edge *const e = &all->at[c->edge_of[i]];
        for (size_t j = i + 1; j < c->first[k + 1]; j++) {
            const edge *const f = &all->at[c->edge_of[j]];
            if (!do_offend(e, f, all)) continue;
            const cell_box p = box_of(c, e), q = box_of(c, f);
            if (k != sw_max_size(p.y0, q.y0) * c->columns + sw_max_size(p.x0, q.x0)) continue;
            if (!fn(ctx, &(crossing){ side_at(e, f), side_at(f, e) })) return false;
        }
    }
    return true;
}

bool visit_crossings(const sw_contours *list, const crossing_walk *how, crossing_fn fn, void *ctx)
{
    if (list->n == 0) return true;
    edges all = { .n_of = sw_alloc_array(list->n, sizeof *all.n_of),
                  .length_of = sw_alloc_array(list->n, sizeof *all.length_of), .gap = how->gap };
    cells c = { 0 };
    bool is_ok = all.n_of != NULL && all.length_of != NULL;
    for (size_t i = 0; i < list->n && is_ok; i++)
        is_ok = walk_contour(&list->at[i], (uint32_t)i, how->tolerance, how->longest, &all);
    is_ok = is_ok && sort_edges(&all, how->longest, &c);
    for (size_t k = 0; k < c.columns * c.rows && is_ok; k++) is_ok = visit_cell(&all, &c, k, fn, ctx);
    sw_free(c.first);
    sw_free(c.edge_of);
    sw_free(all.n_of);
    sw_free(all.length_of);
    sw_free(all.at);
    return is_ok;
}

typedef struct marking {
    bool *marks;   /* by segment, contours one after the other */
    size_t *first; /* mark of each contour's first segment */
} marking;

static bool mark(void *ctx, const crossing *c)
{
    const marking *const m = ctx;
    m->marks[m->first[c->a.contour] + c->a.segment] = true;
    m->marks[m->first[c->b.contour] + c->b.segment] = true;
    return true;
}

/* Borrowed: the fitted curves as a list. */
static bool view_fitted(const shapes *list, sw_contours *view, marking *m)
{
    size_t n_segs = 0;
    for (size_t i = 0; i < list->n; i++) n_segs += list->at[i].fitted.n_segs;
    view->at = sw_alloc_array(list->n, sizeof *view->at);
    m->first = sw_alloc_array(list->n, sizeof *m->first);
    m->marks = sw_alloc_array(n_segs + 1, sizeof *m->marks);
    if (view->at == NULL || m->first == NULL || m->marks == NULL) return false;
    for (size_t i = 0, at = 0; i < list->n; at += list->at[i].fitted.n_segs, i++) {
        view->at[i] = list->at[i].fitted;
        m->first[i] = at;
    }
    view->n = list->n;
    return true;
}

bool find_crossings(shapes *list, bool *is_bad, size_t *n_bad)
{
    sw_contours view = { 0 };
    marking m = { 0 };
    const bool is_ok = view_fitted(list, &view, &m) && visit_crossings(&view, &(crossing_walk){ WALK_PX, EDGE_PX, GAP_PX }, mark, &m);
    if (is_ok) *n_bad = 0;
    for (size_t i = 0; i < list->n && is_ok; i++) {
        is_bad[i] = false;
        for (size_t k = 0; k < list->at[i].fitted.n_segs; k++) {
            if (!m.marks[m.first[i] + k]) continue;
            tighten_segment(&list->at[i], (uint32_t)k);
            is_bad[i] = true;
        }
        list->at[i].n_bad += is_bad[i];
        *n_bad += is_bad[i];
    }
    sw_free(view.at);
    sw_free(m.first);
    sw_free(m.marks);
    return is_ok;
}
