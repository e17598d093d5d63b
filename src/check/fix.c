/*
 * --fix: every island gets its bridges, and only the elements that change are written anew.
 *
 * First those that a job's sheet would get (hold.c): one joins two outlines, a further one parts an outline in two. An
 * island left then is joined to what is nearest: the edge of the opening around it, or another island in that opening.
 * What comes out is looked at before it is kept; where the outline would cross itself the next nearest place is tried.
 */
#include "check/parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define CANDIDATES 24u      /* places of an island's edge that are tried */
#define WIDER_RATIO 1.02    /* than the narrowest that lasts: coordinates are rounded */
#define STRIP_MOST 2.0      /* a strip that meets an edge at a slant takes away more than its length times its width */
#define AREA_SLACK 1e-3     /* of an area: outlines are looked at as polygons */
#define LARGE_WEBS 16.0     /* side of an island that one bridge does not do for; taste: 80 mm at 5 mm */
#define NEAR_MM 2.5         /* from a planned bridge's end to the edge it is meant for: a pixel or two of the plan */

typedef struct fixer {
    sw_vector *vector;
    const sw_svg_opts *opts;
    const char *layer;
    size_t panel;           /* of the layer, or SW_NO_PANEL */
    bool *is_changed;       /* a shape each */
    sw_pt_mm *given_up;     /* middles of islands that no bridge reaches */
    size_t n_given_up, cap_given_up;
    size_t n_bridges;
} fixer;

/* A place to bridge. */
typedef struct candidate {
    size_t ring;            /* joined to this one */
    sw_pt_mm on_island, there;
    double length_mm;
} candidate;

static int by_length(const void *one, const void *two)
{
    const candidate *const a = one, *const b = two;
    if (a->length_mm != b->length_mm) return a->length_mm < b->length_mm ? -1 : 1;
    return a->ring < b->ring ? -1 : a->ring > b->ring;
}

static bool keep_going(void *ctx, size_t ring, size_t other, sw_pt_mm at)
{
    (void)ctx;
    (void)ring;
    (void)other;
    (void)at;
    return true;
}

static sw_status read_rings(const fixer *f, sw_rings *out, sw_note *note)
{
    bool is_complete = true;
    if (!sw_rings_add_layer(out, f->vector, f->layer, f->panel)) return sw_fail_memory(note, "the drawing");
    SW_TRY(sw_rings_cross(out, keep_going, NULL, &is_complete, note));
    sw_rings_apply_fill(out, f->vector);
    sw_rings_nest(out);
    return SW_OK;
}

static bool is_given_up(const fixer *f, sw_pt_mm p)
{
    for (size_t i = 0; i < f->n_given_up; i++) {
        if (hypot(f->given_up[i].x_mm - p.x_mm, f->given_up[i].y_mm - p.y_mm) < 1e-6) return true;
    }
    return false;
}

static bool can_change(const fixer *f, const sw_ring *ring) { return !f->vector->shapes[ring->shape].is_reused; }

/* The first island from there on that may still be helped; rings->n: none. */
static size_t find_island(const fixer *f, const sw_rings *rings, size_t r)
{
    for (; r < rings->n; r++) {
        const sw_ring *const ring = &rings->at[r];
        if (ring->is_crossing || ring->is_left_out || ring->depth % 2 == 0 || ring->parent == SIZE_MAX) continue;
        if (can_change(f, ring) && !is_given_up(f, sw_ring_middle(rings, r))) return r;
    }
    return rings->n;
}

/* May an island be joined to this ring? */
static bool is_beside(const sw_rings *rings, size_t island, size_t r)
{
    const sw_ring *const ring = &rings->at[island], *const other = &rings->at[r];
    return r == ring->parent || (r != island && other->parent == ring->parent && other->depth == ring->depth);
}

/* Has the island, or what is beside it, got a bridge since the rings were read? */
static bool is_out_of_date(const sw_rings *rings, size_t island)
{
    bool is_old = rings->at[island].is_changed;
    for (size_t r = 0; r < rings->n && !is_old; r++) is_old = rings->at[r].is_changed && is_beside(rings, island, r);
    return is_old;
}

/* Nearest point of a ring to p. */
static double nearest_on(const sw_rings *rings, const sw_ring *ring, sw_pt_mm p, sw_pt_mm *at)
{
    double least = INFINITY;
    for (size_t i = 0; i < ring->n; i++) {
        const sw_pt_mm a = rings->points[ring->first + i], b = rings->points[ring->first + (i + 1 < ring->n ? i + 1 : 0)];
        const double dx = b.x_mm - a.x_mm, dy = b.y_mm - a.y_mm, length_sq = dx * dx + dy * dy;
        const double along = length_sq > 0.0 ? ((p.x_mm - a.x_mm) * dx + (p.y_mm - a.y_mm) * dy) / length_sq : 0.0;
        const double t = sw_clamp(along, 0.0, 1.0);
        const sw_pt_mm q = { a.x_mm + t * dx, a.y_mm + t * dy };
        const double d = hypot(p.x_mm - q.x_mm, p.y_mm - q.y_mm);
        if (d >= least) continue;
        least = d;
        *at = q;
    }
    return least;
}

/* Places along the island's edge, evenly by way, each with what is nearest there; the shortest first. */
static size_t find_candidates(const fixer *f, const sw_rings *rings, size_t island, candidate out[CANDIDATES])
{
    const sw_ring *const ring = &rings->at[island];
    double length = 0.0;
    size_t n = 0;
    for (size_t i = 0; i < ring->n; i++) {
        const sw_pt_mm a = rings->points[ring->first + i], b = rings->points[ring->first + (i + 1 < ring->n ? i + 1 : 0)];
        length += hypot(b.x_mm - a.x_mm, b.y_mm - a.y_mm);
    }
    double next = 0.5 * length / CANDIDATES, way = 0.0;
    for (size_t i = 0; i < ring->n && n < CANDIDATES; i++) {
        const sw_pt_mm a = rings->points[ring->first + i], b = rings->points[ring->first + (i + 1 < ring->n ? i + 1 : 0)];
        const double step = hypot(b.x_mm - a.x_mm, b.y_mm - a.y_mm);
        for (; next <= way + step && n < CANDIDATES; next += length / CANDIDATES) {
            const double t = step > 0.0 ? (next - way) / step : 0.0;
            candidate c = { .on_island = { a.x_mm + t * (b.x_mm - a.x_mm), a.y_mm + t * (b.y_mm - a.y_mm) }, .length_mm = INFINITY };
            for (size_t r = 0; r < rings->n; r++) {
                const sw_ring *const other = &rings->at[r];
                sw_pt_mm there = c.there;
                if (!is_beside(rings, island, r) || other->is_crossing || other->is_left_out || !can_change(f, other)) continue;
                const double d = nearest_on(rings, other, c.on_island, &there);
                if (d >= c.length_mm) continue;
                c.length_mm = d;
                c.ring = r;
                c.there = there;
            }
            if (c.length_mm < INFINITY) out[n++] = c;
        }
        way += step;
    }
    qsort(out, n, sizeof *out, by_length);
    return n;
}

/* Put the joined contour in place of the outer one; the inner one's stays empty, so that the others keep their numbers. */
static void replace(fixer *f, sw_ring *outer, sw_ring *inner, sw_contour *joined)
{
    sw_contours *const list = &f->vector->shapes[outer->shape].contours;
    sw_contour_free(&list->at[outer->contour]);
    list->at[outer->contour] = *joined;
    *joined = (sw_contour){ 0 };
    sw_contour_free(&f->vector->shapes[inner->shape].contours.at[inner->contour]);
    outer->is_changed = inner->is_changed = true;
    f->is_changed[outer->shape] = f->is_changed[inner->shape] = true;
}

static bool do_boxes_meet(const sw_ring *one, const sw_ring *two)
{
    return one->low.x_mm <= two->high.x_mm && one->high.x_mm >= two->low.x_mm && one->low.y_mm <= two->high.y_mm &&
           one->high.y_mm >= two->low.y_mm;
}

/* Would any of the new contours cross itself, or anything, or bound more or less than they should? They take the place of
 * rings one and two, less a strip of at most strip_mm2. */
static sw_status is_sound(const sw_rings *rings, const sw_ring *one, const sw_ring *two, const fixer *f, sw_contour *new_ones,
                          size_t n_new, double strip_mm2, bool *out, sw_note *note)
{
    const bool is_inside = one != two && one->parent == two->parent; /* two islands become one with the strip */
    const double before_mm2 = one == two ? fabs(one->area_mm2) : is_inside ? fabs(one->area_mm2) + fabs(two->area_mm2)
                                                                           : fabs(fabs(one->area_mm2) - fabs(two->area_mm2));
    double after_mm2 = 0.0;
    sw_rings all = { 0 };
    bool is_complete = true, ok = true;
    sw_vector_shape shape = { .contours = { .at = new_ones, .n = n_new, .cap = n_new } };
    const sw_vector alone = { .shapes = &shape, .n_shapes = 1 };
    ok = sw_rings_add(&all, &alone, 0);
    const size_t n_rings = all.n;
    for (size_t r = 0; r < rings->n && ok; r++) {
        const sw_ring *const ring = &rings->at[r];
        if (ring == one || ring == two || ring->is_crossing || ring->is_left_out) continue;
        bool is_near = false;
        for (size_t k = 0; k < n_rings; k++) is_near = is_near || do_boxes_meet(ring, &all.at[k]);
        if (!is_near) continue;
        const sw_contours other = { .at = &f->vector->shapes[ring->shape].contours.at[ring->contour], .n = 1, .cap = 1 };
        sw_vector_shape lone = { .contours = other };
        const sw_vector it = { .shapes = &lone, .n_shapes = 1 };
        ok = sw_rings_add(&all, &it, 0);
    }
    sw_status st = ok ? sw_rings_cross(&all, keep_going, NULL, &is_complete, note) : sw_fail_memory(note, "a bridge");
    *out = st == SW_OK && n_rings == n_new;
    for (size_t r = 0; r < n_rings; r++) {
        *out = *out && !all.at[r].is_crossing;
        after_mm2 += fabs(all.at[r].area_mm2);
    }
    const double less_mm2 = is_inside ? after_mm2 - before_mm2 : before_mm2 - after_mm2;
    *out = *out && less_mm2 > -AREA_SLACK * before_mm2 && less_mm2 < strip_mm2 + AREA_SLACK * before_mm2;
    sw_rings_free(&all);
    return st;
}

/* Join two rings where the anchors are, if that makes a sound outline. */
static sw_status join_at(fixer *f, const sw_rings *rings, sw_ring *outer, sw_ring *inner, sw_pt_mm on_outer, sw_pt_mm on_inner,
                         double width_mm, bool *is_done, sw_note *note)
{
    sw_contour joined = { 0 };
    bool is_joined = false, is_good = false;
    *is_done = false;
    SW_TRY(sw_bridge_join(&f->vector->shapes[outer->shape].contours.at[outer->contour],
                          &f->vector->shapes[inner->shape].contours.at[inner->contour], on_outer, on_inner, width_mm, &joined,
                          &is_joined, note));
    if (!is_joined) return SW_OK;
    const double strip_mm2 = STRIP_MOST * width_mm * (width_mm + hypot(on_outer.x_mm - on_inner.x_mm, on_outer.y_mm - on_inner.y_mm));
    const sw_status st = is_sound(rings, outer, inner, f, &joined, 1, strip_mm2, &is_good, note);
    if (st == SW_OK && is_good) {
        replace(f, outer, inner, &joined);
        f->n_bridges++;
        *is_done = true;
        return SW_OK;
    }
    sw_contour_free(&joined);
    return st;
}

/* Part one ring, the same way: a second bridge to material that hangs already. */
static sw_status part_at(fixer *f, const sw_rings *rings, sw_ring *ring, sw_pt_mm a, sw_pt_mm b, double width_mm,
                         sw_note *note)
{
    sw_contours *const list = &f->vector->shapes[ring->shape].contours;
    sw_contour parts[2] = { { .n_segs = 0 } };
    bool is_parted = false, is_good = false;
    SW_TRY(sw_bridge_part(&list->at[ring->contour], a, b, width_mm, &parts[0], &parts[1], &is_parted, note));
    if (!is_parted) return SW_OK;
    const double strip_mm2 = STRIP_MOST * width_mm * (width_mm + hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm));
    sw_status st = is_sound(rings, ring, ring, f, parts, 2, strip_mm2, &is_good, note);
    if (st == SW_OK && is_good) st = sw_contours_take(list, &parts[1], note);
    if (st == SW_OK && is_good) {
        sw_contour_free(&list->at[ring->contour]);
        list->at[ring->contour] = parts[0];
        ring->is_changed = true;
        f->is_changed[ring->shape] = true;
        f->n_bridges++;
        return SW_OK;
    }
    sw_contour_free(&parts[0]);
    sw_contour_free(&parts[1]);
    return st;
}

/* Bridge one island, or give it up. */
static sw_status bridge(fixer *f, const sw_rings *rings, size_t island, sw_note *note)
{
    candidate places[CANDIDATES];
    const size_t n = find_candidates(f, rings, island, places);
    sw_ring *const inner = &rings->at[island];
    for (size_t i = 0; i < n; i++) {
        bool is_done = false;
        SW_TRY(join_at(f, rings, &rings->at[places[i].ring], inner, places[i].there, places[i].on_island,
                       WIDER_RATIO * f->opts->min_web_mm, &is_done, note));
        if (is_done) return SW_OK;
    }
    void *data = f->given_up;
    if (!sw_grow(&data, &f->cap_given_up, f->n_given_up + 1, sizeof *f->given_up)) return sw_fail_memory(note, "a bridge");
    f->given_up = data;
    f->given_up[f->n_given_up++] = sw_ring_middle(rings, island);
    return SW_OK;
}

/* ---- planned bridges ---------------------------------------------------------------------------------------- */

static bool is_near_box(const sw_ring *ring, sw_pt_mm p)
{
    return p.x_mm >= ring->low.x_mm - NEAR_MM && p.x_mm <= ring->high.x_mm + NEAR_MM && p.y_mm >= ring->low.y_mm - NEAR_MM &&
           p.y_mm <= ring->high.y_mm + NEAR_MM;
}

/* May a bridge that was drawn since the rings were read pass there? */
static bool is_near_changed(const sw_rings *rings, sw_pt_mm p)
{
    for (size_t r = 0; r < rings->n; r++) {
        if (rings->at[r].is_changed && is_near_box(&rings->at[r], p)) return true;
    }
    return false;
}

/* The ring that passes nearest to p and may be changed; rings->n: none. */
static size_t ring_near(const fixer *f, const sw_rings *rings, sw_pt_mm p, sw_pt_mm *at, double *off_mm)
{
    size_t found = rings->n;
    *off_mm = INFINITY;
    for (size_t r = 0; r < rings->n; r++) {
        const sw_ring *const ring = &rings->at[r];
        sw_pt_mm there;
        if (ring->is_crossing || ring->is_left_out || !can_change(f, ring) || !is_near_box(ring, p)) continue;
        const double off = nearest_on(rings, ring, p, &there);
        if (off >= *off_mm) continue;
        *off_mm = off;
        *at = there;
        found = r;
    }
    return found;
}

/* Draw one planned bridge between the edges that its ends are nearest to; nothing where they are not near. */
static sw_status draw_planned(fixer *f, sw_rings *rings, const sw_planned *plan, sw_note *note)
{
    sw_pt_mm a, b;
    double off_a, off_b;
    bool is_done;
    if (is_near_changed(rings, plan->a) || is_near_changed(rings, plan->b)) {
        sw_rings_free(rings);
        SW_TRY(read_rings(f, rings, note));
    }
    const size_t ra = ring_near(f, rings, plan->a, &a, &off_a), rb = ring_near(f, rings, plan->b, &b, &off_b);
    if (!(off_a <= NEAR_MM && off_b <= NEAR_MM)) return SW_OK;
    sw_ring *const one = &rings->at[ra], *const two = &rings->at[rb];
    const double width_mm = WIDER_RATIO * plan->width_mm;
    if (ra == rb) return one->depth % 2 == 0 ? part_at(f, rings, one, a, b, width_mm, note) : SW_OK;
    if (two->parent == ra && two->depth % 2 == 1) return join_at(f, rings, one, two, a, b, width_mm, &is_done, note);
    if (one->parent == rb && one->depth % 2 == 1) return join_at(f, rings, two, one, b, a, width_mm, &is_done, note);
    if (one->parent != two->parent || one->depth != two->depth || one->depth % 2 == 0) return SW_OK;
    return join_at(f, rings, one, two, a, b, width_mm, &is_done, note);
}

/* How many planned bridges touch an island, and where the last one does. */
static size_t count_on(const sw_rings *rings, size_t island, const sw_planned *plan, size_t n, sw_pt_mm *where)
{
    size_t found = 0;
    for (size_t i = 0; i < n; i++) {
        sw_pt_mm at;
        const bool is_a = nearest_on(rings, &rings->at[island], plan[i].a, &at) <= NEAR_MM;
        if (!is_a && nearest_on(rings, &rings->at[island], plan[i].b, &at) > NEAR_MM) continue;
        *where = at;
        found++;
    }
    return found;
}

/* A large island that got a single bridge turns about it when the sheet is lifted, however little it droops: it gets
 * another, far from the first and short. */
static sw_status add_second(const fixer *f, const sw_rings *rings, size_t island, sw_planned **plan, size_t *n, sw_note *note)
{
    candidate places[CANDIDATES];
    sw_pt_mm first = { 0 };
    const sw_ring *const ring = &rings->at[island];
    if (ring->is_crossing || ring->is_left_out || ring->depth % 2 == 0 || ring->parent == SIZE_MAX) return SW_OK;
    if (!(sqrt(fabs(ring->area_mm2)) >= LARGE_WEBS * f->opts->min_web_mm) || count_on(rings, island, *plan, *n, &first) != 1) return SW_OK;
    const size_t n_places = find_candidates(f, rings, island, places), none = CANDIDATES;
    size_t best = none;
    double most = 0.0;
    for (size_t i = 0; i < n_places; i++) {
        const double away = hypot(places[i].on_island.x_mm - first.x_mm, places[i].on_island.y_mm - first.y_mm);
        if (away - places[i].length_mm <= most) continue;
        most = away - places[i].length_mm;
        best = i;
    }
    if (best == none) return SW_OK;
    size_t cap = *n;
    void *data = *plan;
    if (!sw_grow(&data, &cap, *n + 1, sizeof **plan)) return sw_fail_memory(note, "a bridge");
    *plan = data;
    (*plan)[(*n)++] = (sw_planned){ places[best].on_island, places[best].there, f->opts->min_web_mm };
    return SW_OK;
}

static sw_status draw_all_planned(fixer *f, sw_note *note)
{
    sw_rings rings = { 0 };
    sw_planned *plan = NULL;
    size_t n = 0;
    sw_status st = read_rings(f, &rings, note);
    if (st == SW_OK && find_island(f, &rings, 0) < rings.n) st = sw_bridges_for(&rings, f->opts, &plan, &n, note);
    for (size_t r = 0; n > 0 && r < rings.n && st == SW_OK; r++) st = add_second(f, &rings, r, &plan, &n, note);
    for (size_t i = 0; i < n && st == SW_OK; i++) st = draw_planned(f, &rings, &plan[i], note);
    sw_rings_free(&rings);
    sw_free(plan);
    return st;
}

/* One bridge for each island that none was drawn beside; the others wait. *n_left: islands looked at. */
static sw_status bridge_once(fixer *f, size_t *n_left, sw_note *note)
{
    sw_rings rings = { 0 };
    sw_status st = read_rings(f, &rings, note);
    *n_left = 0;
    for (size_t r = 0; st == SW_OK && (r = find_island(f, &rings, r)) < rings.n; r++) {
        ++*n_left;
        if (!is_out_of_date(&rings, r)) st = bridge(f, &rings, r, note);
    }
    sw_rings_free(&rings);
    return st;
}

static sw_status fix_panel(fixer *f, sw_note *note)
{
    size_t n_left = 1;
    SW_TRY(draw_all_planned(f, note));
    while (n_left > 0) SW_TRY(bridge_once(f, &n_left, note)); /* each time one at least is joined or given up */
    return SW_OK;
}

static sw_status fix_layer(fixer *f, sw_note *note)
{
    for (f->panel = sw_panel_after(f->vector, f->layer, SW_NO_PANEL); f->panel != SW_NO_PANEL;
         f->panel = sw_panel_after(f->vector, f->layer, f->panel))
        SW_TRY(fix_panel(f, note));
    return fix_panel(f, note); /* what lies on none */
}

/* ---- writing ----------------------------------------------------------------------------------------------- */

static void add_point(sw_text *out, const double m[6], sw_pt_mm p, int decimals)
{
    const double det = m[0] * m[3] - m[1] * m[2], x = p.x_mm - m[4], y = p.y_mm - m[5];
    sw_text_add_number(out, (m[3] * x - m[2] * y) / det, decimals);
    sw_text_add(out, " ");
    sw_text_add_number(out, (m[0] * y - m[1] * x) / det, decimals);
}

static bool has_contour(const sw_vector_shape *shape)
{
    size_t i = 0;
    while (i < shape->contours.n && shape->contours.at[i].n_segs == 0) i++;
    return i < shape->contours.n;
}

static void add_contour(sw_text *out, const sw_vector_shape *shape, const sw_contour *c)
{
    if (c->n_segs == 0) return; /* joined to another */
    const double *const m = shape->to_mm;
    const double scale = sqrt(fabs(m[0] * m[3] - m[1] * m[2])); /* mm in a user unit */
    const int decimals = (int)sw_clamp(ceil(3.5 + log10(scale)), 2.0, 9.0);
    sw_text_add(out, "M");
    add_point(out, m, c->start, decimals);
    for (size_t i = 0; i < c->n_segs; i++) {
        const sw_seg *const s = &c->segs[i];
        sw_text_add(out, s->is_line ? "L" : "C");
        if (!s->is_line) {
            add_point(out, m, s->c1, decimals);
            sw_text_add(out, " ");
            add_point(out, m, s->c2, decimals);
            sw_text_add(out, " ");
        }
        add_point(out, m, s->end, decimals);
    }
    sw_text_add(out, "Z");
}

static bool is_space(char c) { return c == ' ' || c == '\t' || c == '\n' || c == '\r'; }

static bool is_geometry(const char *name, size_t n)
{
    static const char *const names[] = { "d", "x", "y", "width", "height", "rx", "ry", "r", "cx", "cy", "points", "x1", "y1", "x2", "y2" };
    for (size_t i = 0; i < SW_ARRAY_LEN(names); i++) {
        if (strlen(names[i]) == n && memcmp(names[i], name, n) == 0) return true;
    }
    return false;
}

/* The element as a path: its attributes but for those of its old shape, the new shape, and what was inside it. */
static void add_element(sw_text *out, const char *bytes, const sw_vector_shape *shape)
{
    const char *p = bytes + shape->byte_begin, *const end = bytes + shape->byte_end;
    if (!has_contour(shape)) return;
    const char *name = ++p, *colon = NULL;
    for (; p < end && !is_space(*p) && *p != '/' && *p != '>'; p++) {
        if (*p == ':') colon = p;
    }
    const size_t prefix = colon == NULL ? 0 : (size_t)(colon + 1 - name), name_size = (size_t)(p - name);
    sw_text_add(out, "<");
    sw_text_add_bytes(out, name, prefix);
    sw_text_add(out, "path");
    while (p < end && *p != '/' && *p != '>') {
        const char *const begin = p;
        while (p < end && is_space(*p)) p++;
        const char *const attribute = p;
        while (p < end && *p != '=' && !is_space(*p) && *p != '/' && *p != '>') p++;
        const size_t n = (size_t)(p - attribute);
        while (p < end && *p != '"' && *p != '\'' && *p != '/' && *p != '>') p++;
        if (p < end && (*p == '"' || *p == '\'')) {
            const char quote = *p++;
            while (p < end && *p != quote) p++;
            if (p < end) p++;
        }
        if (n > 0 && !is_geometry(attribute, n)) sw_text_add_bytes(out, begin, (size_t)(p - begin));
    }
    sw_text_add(out, " d=\"");
    for (size_t i = 0; i < shape->contours.n; i++) add_contour(out, shape, &shape->contours.at[i]);
    sw_text_add(out, "\"");
    if (p < end && *p == '/') {
        sw_text_add(out, "/>");
        return;
    }
    const char *last = end - 1;
    while (last > p && *last != '<') last--;
    sw_text_add_bytes(out, p, (size_t)(last - p)); /* ">" and what follows, up to the end tag */
    sw_text_add(out, "</");
    sw_text_add_bytes(out, name, prefix);
    sw_text_add(out, "path");
    sw_text_add_bytes(out, last + 2 + name_size, (size_t)(end - last) - 2 - name_size);
}

/* Shapes come in the order of the file; reused ones are never changed, so bytes do not overlap. */
static void write_all(const fixer *f, const uint8_t *bytes, size_t n, sw_text *out)
{
    size_t at = 0;
    for (size_t i = 0; i < f->vector->n_shapes; i++) {
        const sw_vector_shape *const shape = &f->vector->shapes[i];
        if (!f->is_changed[i] || shape->byte_begin < at || shape->byte_end <= shape->byte_begin || shape->byte_end > n) continue;
        sw_text_add_bytes(out, bytes + at, shape->byte_begin - at);
        add_element(out, (const char *)bytes, shape);
        at = shape->byte_end;
    }
    sw_text_add_bytes(out, bytes + at, n - at);
}

sw_status sw_svg_fix(const uint8_t *bytes, size_t n, const char *path, const sw_svg_opts *opts, sw_text *out, size_t *n_bridges,
                     size_t *n_left, sw_note *note)
{
    sw_vector vector = { 0 };
    fixer f = { .vector = &vector, .opts = opts };
    sw_status st = sw_vector_read(bytes, n, path, &vector, note);
    if (st != SW_OK) goto cleanup;
    f.is_changed = sw_alloc_array(vector.n_shapes + 1, sizeof *f.is_changed);
    if (f.is_changed == NULL) st = sw_fail_memory(note, "the drawing");
    for (size_t i = 0; i < vector.n_shapes && st == SW_OK; i++) {
        bool is_seen = strcmp(vector.shapes[i].layer, "outline") == 0 || strcmp(vector.shapes[i].layer, "marks") == 0;
        for (size_t k = 0; k < i && !is_seen; k++) is_seen = strcmp(vector.shapes[k].layer, vector.shapes[i].layer) == 0;
        f.layer = vector.shapes[i].layer;
        if (!is_seen) st = fix_layer(&f, note);
    }
    if (st != SW_OK) goto cleanup;
    write_all(&f, bytes, n, out);
    if (out->is_broken) st = sw_fail_memory(note, "the drawing");
    *n_bridges = f.n_bridges;
    *n_left = f.n_given_up;
cleanup:
    sw_free(f.is_changed);
    sw_free(f.given_up);
    sw_vector_free(&vector);
    return st;
}
