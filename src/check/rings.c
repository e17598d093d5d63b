/* Contours of a drawing as polygons: where they cross, and which lies in which. */
#include "check/parts.h"

#include <math.h>
#include <string.h>

#define FLAT_MM 0.01         /* a chord may be this far from its curve */
#define MOST_CELLS 1048576u
#define MOST_PAIRS 60000000u /* chords compared; a drawing that needs more is no drawing to cut */

typedef struct adder {
    sw_rings *rings;
    sw_ring *ring;
    bool is_broken;
} adder;

static bool add_point(void *ctx, sw_pt_mm p)
{
    adder *const a = ctx;
    void *data = a->rings->points;
    if (a->ring->n > 0) {
        const sw_pt_mm last = a->rings->points[a->rings->n_points - 1];
        if (last.x_mm == p.x_mm && last.y_mm == p.y_mm) return true;
    }
    if (!sw_grow(&data, &a->rings->cap_points, a->rings->n_points + 1, sizeof p)) {
        a->is_broken = true;
        return false;
    }
    a->rings->points = data;
    a->rings->points[a->rings->n_points++] = p;
    sw_ring *const r = a->ring;
    if (r->n++ == 0) r->low = r->high = p;
    r->low = (sw_pt_mm){ sw_min(r->low.x_mm, p.x_mm), sw_min(r->low.y_mm, p.y_mm) };
    r->high = (sw_pt_mm){ sw_max(r->high.x_mm, p.x_mm), sw_max(r->high.y_mm, p.y_mm) };
    return true;
}

static sw_pt_mm point_at(const sw_rings *rings, const sw_ring *ring, size_t i)
{
    return rings->points[ring->first + (i < ring->n ? i : 0)];
}

static double area_of(const sw_rings *rings, const sw_ring *ring)
{
    double area = 0.0;
    const sw_pt_mm o = rings->points[ring->first];
    for (size_t i = 0; i < ring->n; i++) {
        const sw_pt_mm a = point_at(rings, ring, i), b = point_at(rings, ring, i + 1);
        area += (a.x_mm - o.x_mm) * (b.y_mm - o.y_mm) - (b.x_mm - o.x_mm) * (a.y_mm - o.y_mm);
    }
    return 0.5 * area;
}

static bool is_sane(const sw_contour *contour)
{
    bool ok = fabs(contour->start.x_mm) < 1e7 && fabs(contour->start.y_mm) < 1e7;
    for (size_t i = 0; i < contour->n_segs && ok; i++) {
        const sw_seg *const s = &contour->segs[i];
        ok = fabs(s->end.x_mm) < 1e7 && fabs(s->end.y_mm) < 1e7;
        if (ok && !s->is_line)
            ok = fabs(s->c1.x_mm) < 1e7 && fabs(s->c1.y_mm) < 1e7 && fabs(s->c2.x_mm) < 1e7 && fabs(s->c2.y_mm) < 1e7;
    }
    return ok;
}

static bool is_same(sw_pt_mm a, sw_pt_mm b)
{
    return a.x_mm == b.x_mm && a.y_mm == b.y_mm;
}

static bool add_contour(sw_rings *rings, const sw_vector *vector, size_t shape, size_t c)
{
    const sw_contour *const contour = &vector->shapes[shape].contours.at[c];
    sw_ring ring = { .first = rings->n_points, .shape = shape, .contour = c, .parent = SIZE_MAX };
    adder a = { rings, &ring, false };
    void *data = rings->at;
    if (!is_sane(contour)) return true;
    if (!sw_contour_flatten(contour, FLAT_MM, add_point, &a) && a.is_broken) return false;
    while (ring.n > 1 && is_same(rings->points[ring.first], rings->points[rings->n_points - 1])) {
        ring.n--;
        rings->n_points--;
    }
    if (ring.n < 3) {
        rings->n_points = ring.first;
        return true;
    }
    ring.area_mm2 = area_of(rings, &ring);
    if (!sw_grow(&data, &rings->cap, rings->n + 1, sizeof ring)) return false;
    rings->at = data;
    rings->at[rings->n++] = ring;
    return true;
}

bool sw_rings_add(sw_rings *rings, const sw_vector *vector, size_t shape)
{
    for (size_t c = 0; c < vector->shapes[shape].contours.n; c++) {
        if (!add_contour(rings, vector, shape, c)) return false;
    }
    return true;
}

/* ---- panels of a layer -------------------------------------------------------------------------------------- */

size_t sw_panel_after(const sw_vector *vector, const char *layer, size_t panel)
{
    for (size_t i = panel == SW_NO_PANEL ? 0 : panel + 1; i < vector->n_panels; i++) {
        if (strcmp(vector->panels[i].layer, layer) == 0) return i;
    }
    return SW_NO_PANEL;
}

/* Middle of the box around a contour's nodes. */
static sw_pt_mm middle_of(const sw_contour *contour)
{
    sw_pt_mm low = contour->start, high = low;
    for (size_t i = 0; i < contour->n_segs; i++) {
        const sw_pt_mm p = contour->segs[i].end;
        low = (sw_pt_mm){ sw_min(low.x_mm, p.x_mm), sw_min(low.y_mm, p.y_mm) };
        high = (sw_pt_mm){ sw_max(high.x_mm, p.x_mm), sw_max(high.y_mm, p.y_mm) };
    }
    return (sw_pt_mm){ 0.5 * (low.x_mm + high.x_mm), 0.5 * (low.y_mm + high.y_mm) };
}

/* On a seam is on the panel right of it, or below: no contour has its middle on its own panel's edge. */
static bool is_on_panel(const sw_rect_mm *r, sw_pt_mm p)
{
    return p.x_mm >= r->x_mm && p.x_mm < r->x_mm + r->width_mm && p.y_mm >= r->y_mm && p.y_mm < r->y_mm + r->height_mm;
}

static bool is_on_any(const sw_vector *vector, const char *layer, sw_pt_mm p)
{
    for (size_t i = sw_panel_after(vector, layer, SW_NO_PANEL); i != SW_NO_PANEL; i = sw_panel_after(vector, layer, i)) {
        if (is_on_panel(&vector->panels[i].rect, p)) return true;
    }
    return false;
}

bool sw_rings_add_layer(sw_rings *rings, const sw_vector *vector, const char *layer, size_t panel)
{
    const bool is_split = vector->n_panels > 0;
    for (size_t i = 0; i < vector->n_shapes; i++) {
        const sw_vector_shape *const shape = &vector->shapes[i];
        if (strcmp(shape->layer, layer) != 0) continue;
        for (size_t c = 0; c < shape->contours.n; c++) {
            const sw_pt_mm p = is_split ? middle_of(&shape->contours.at[c]) : (sw_pt_mm){ 0 };
            const bool is_here = panel != SW_NO_PANEL ? is_on_panel(&vector->panels[panel].rect, p) : !is_split || !is_on_any(vector, layer, p);
            if (is_here && !add_contour(rings, vector, i, c)) return false;
        }
    }
    return true;
}

/* ---- crossings -------------------------------------------------------------------------------------------- */

/* A chord in a cell of a grid over the sheet. */
typedef struct entry {
    uint32_t ring, chord;
} entry;

typedef struct cells {
    double x_mm, y_mm, side_mm;
    size_t n_x, n_y;
    size_t n;        /* cells that are filled: the first ones, as many as may be compared */
    size_t *first;   /* of each cell, n_x * n_y + 1 */
    entry *at;
} cells;

static size_t cell_of(double at_mm, double side_mm, size_t n)
{
    return (size_t)sw_clamp(floor(at_mm / side_mm), 0.0, (double)n - 1.0);
}

typedef struct box {
    size_t x0, y0, x1, y1;
} box;

static box box_of(const cells *c, sw_pt_mm a, sw_pt_mm b)
{
    return (box){ cell_of(sw_min(a.x_mm, b.x_mm) - c->x_mm, c->side_mm, c->n_x),
                  cell_of(sw_min(a.y_mm, b.y_mm) - c->y_mm, c->side_mm, c->n_y),
                  cell_of(sw_max(a.x_mm, b.x_mm) - c->x_mm, c->side_mm, c->n_x),
                  cell_of(sw_max(a.y_mm, b.y_mm) - c->y_mm, c->side_mm, c->n_y) };
}

/* Does the line come near the cell? Cells of a long slanted chord's box that it never meets are spared. */
static bool is_near(const cells *c, size_t x, size_t y, sw_pt_mm a, sw_pt_mm b)
{
    const double px = c->x_mm + ((double)x + 0.5) * c->side_mm, py = c->y_mm + ((double)y + 0.5) * c->side_mm;
    const double dx = b.x_mm - a.x_mm, dy = b.y_mm - a.y_mm;
    return fabs((px - a.x_mm) * dy - (py - a.y_mm) * dx) <= 0.7072 * c->side_mm * hypot(dx, dy) + 1e-9;
}

/* Columns of a row outside which is_near is false: *x0 to *x1, within the box as they come. */
static void narrow_row(const cells *c, size_t y, sw_pt_mm a, sw_pt_mm b, size_t *x0, size_t *x1)
{
    const double dx = b.x_mm - a.x_mm, dy = b.y_mm - a.y_mm, rise_mm = c->y_mm + ((double)y + 0.5) * c->side_mm - a.y_mm;
    if (dy == 0.0) return;
    const double middle = (a.x_mm + rise_mm * dx / dy - c->x_mm) / c->side_mm - 0.5;
    const double reach = (0.7072 * hypot(dx, dy) + 1e-9 / c->side_mm) / fabs(dy) + 1.0;
    *x0 = (size_t)sw_clamp(middle - reach, (double)*x0, (double)*x1);
    *x1 = (size_t)sw_clamp(middle + reach, (double)*x0, (double)*x1);
}

/* Count entries a cell, or put them in place once first[] says where. */
static void visit_chords(const sw_rings *rings, cells *c, bool is_placing)
{
    for (size_t r = 0; r < rings->n; r++) {
        const sw_ring *const ring = &rings->at[r];
        for (size_t i = 0; i < ring->n; i++) {
            const sw_pt_mm a = point_at(rings, ring, i), b = point_at(rings, ring, i + 1);
            const box k = box_of(c, a, b);
            for (size_t y = k.y0; y <= k.y1 && y * c->n_x < c->n; y++) {
                size_t x = k.x0, end = k.x1;
                narrow_row(c, y, a, b, &x, &end);
                for (; x <= end; x++) {
                    const size_t cell = y * c->n_x + x;
                    if (cell >= c->n || !is_near(c, x, y, a, b)) continue;
                    if (is_placing) c->at[c->first[cell]++] = (entry){ (uint32_t)r, (uint32_t)i };
                    else c->first[cell + 1]++;
                }
            }
        }
    }
}

/* Where each cell's entries begin; cells end where MOST_PAIRS would be passed. */
static void count_up(cells *c)
{
    size_t n_pairs = 0;
    for (size_t cell = 0; cell < c->n; cell++) {
        const size_t n = c->first[cell + 1];
        n_pairs += n * n / 2;
        if (n_pairs > MOST_PAIRS) c->n = cell;
        else c->first[cell + 1] += c->first[cell];
    }
}

static sw_status cells_make(const sw_rings *rings, cells *c, sw_note *note)
{
    sw_pt_mm low = rings->at[0].low, high = rings->at[0].high;
    for (size_t r = 1; r < rings->n; r++) {
        low = (sw_pt_mm){ sw_min(low.x_mm, rings->at[r].low.x_mm), sw_min(low.y_mm, rings->at[r].low.y_mm) };
        high = (sw_pt_mm){ sw_max(high.x_mm, rings->at[r].high.x_mm), sw_max(high.y_mm, rings->at[r].high.y_mm) };
    }
    const double width = sw_max(1e-3, high.x_mm - low.x_mm), height = sw_max(1e-3, high.y_mm - low.y_mm);
    const double wanted = sw_clamp((double)rings->n_points, 1.0, MOST_CELLS / 4);
    *c = (cells){ .x_mm = low.x_mm, .y_mm = low.y_mm };
    c->side_mm = sw_max(sqrt(width * height / wanted), sw_max(width, height) / 2048.0);
    c->n_x = (size_t)(width / c->side_mm) + 1;
    c->n_y = (size_t)(height / c->side_mm) + 1;
    c->n = c->n_x * c->n_y;
    c->first = sw_alloc_array(c->n + 1, sizeof *c->first);
    if (c->first == NULL) return sw_fail_memory(note, "the search for crossings");
    visit_chords(rings, c, false);
    count_up(c);
    c->at = sw_alloc_raw(c->first[c->n] + 1, sizeof *c->at);
    if (c->at == NULL) return sw_fail_memory(note, "the search for crossings");
    visit_chords(rings, c, true); /* moves every first[] to its end: the begin is the one before */
    return SW_OK;
}

static double side_of(sw_pt_mm a, sw_pt_mm b, sw_pt_mm p)
{
    return (b.x_mm - a.x_mm) * (p.y_mm - a.y_mm) - (b.y_mm - a.y_mm) * (p.x_mm - a.x_mm);
}

/* Across each other. A node exactly on the other line counts as on its one side: an outline that passes through it crosses
 * once, one that touches it may count, and touching is no better than crossing. */
static bool find_crossing(sw_pt_mm a, sw_pt_mm b, sw_pt_mm c, sw_pt_mm d, sw_pt_mm *at)
{
    const double c_side = side_of(a, b, c), d_side = side_of(a, b, d);
    const double a_side = side_of(c, d, a), b_side = side_of(c, d, b);
    if ((c_side < 0.0) == (d_side < 0.0) || (a_side < 0.0) == (b_side < 0.0)) return false;
    const double t = a_side / (a_side - b_side);
    *at = (sw_pt_mm){ a.x_mm + t * (b.x_mm - a.x_mm), a.y_mm + t * (b.y_mm - a.y_mm) };
    return true;
}

static bool compare(sw_rings *rings, const cells *c, size_t cell, entry e, entry f, sw_crossing_fn fn, void *ctx)
{
    const sw_ring *const one = &rings->at[e.ring], *const two = &rings->at[f.ring];
    const bool is_same = e.ring == f.ring;
    if (is_same) {
        const size_t gap = e.chord > f.chord ? e.chord - f.chord : f.chord - e.chord;
        if (gap <= 1 || gap + 1 == one->n) return true;
    }
    sw_pt_mm at;
    if (!find_crossing(point_at(rings, one, e.chord), point_at(rings, one, e.chord + 1), point_at(rings, two, f.chord),
                       point_at(rings, two, f.chord + 1), &at))
        return true;
    const size_t x = cell_of(at.x_mm - c->x_mm, c->side_mm, c->n_x), y = cell_of(at.y_mm - c->y_mm, c->side_mm, c->n_y);
    if (y * c->n_x + x != cell) return true; /* another cell's find */
    rings->at[e.ring].is_crossing = rings->at[f.ring].is_crossing = true;
    return fn(ctx, e.ring, f.ring, at);
}

sw_status sw_rings_cross(sw_rings *rings, sw_crossing_fn fn, void *ctx, bool *is_complete, sw_note *note)
{
    cells c = { 0 };
    *is_complete = true;
    if (rings->n == 0) return SW_OK;
    sw_status st = cells_make(rings, &c, note);
    *is_complete = c.n == c.n_x * c.n_y;
    for (size_t cell = 0; st == SW_OK && cell < c.n; cell++) {
        const size_t begin = cell == 0 ? 0 : c.first[cell - 1], end = c.first[cell];
        for (size_t i = begin; i < end && st == SW_OK; i++) {
            for (size_t k = i + 1; k < end && st == SW_OK; k++) {
                if (!compare(rings, &c, cell, c.at[i], c.at[k], fn, ctx)) st = sw_fail_memory(note, "the findings");
            }
        }
    }
    sw_free(c.first);
    sw_free(c.at);
    return st;
}

/* ---- which in which ----------------------------------------------------------------------------------------- */

static bool is_in_box(const sw_ring *r, sw_pt_mm p)
{
    return p.x_mm >= r->low.x_mm && p.x_mm <= r->high.x_mm && p.y_mm >= r->low.y_mm && p.y_mm <= r->high.y_mm;
}

int sw_ring_winding(const sw_rings *rings, size_t ring, sw_pt_mm p)
{
    const sw_ring *const r = &rings->at[ring];
    int winding = 0;
    if (!is_in_box(r, p)) return 0;
    for (size_t i = 0; i < r->n; i++) {
        const sw_pt_mm a = point_at(rings, r, i), b = point_at(rings, r, i + 1);
        if ((a.y_mm <= p.y_mm) == (b.y_mm <= p.y_mm)) continue;
        const double side = side_of(a, b, p);
        if (a.y_mm <= p.y_mm && side > 0.0) winding++;
        else if (a.y_mm > p.y_mm && side < 0.0) winding--;
    }
    return winding;
}

bool sw_ring_holds(const sw_rings *rings, size_t ring, sw_pt_mm p) { return sw_ring_winding(rings, ring, p) % 2 != 0; }

/* A point of the ring that stands for it: the middle of its first chord, which lies on no node of a neighbour. */
static sw_pt_mm place_of(const sw_rings *rings, const sw_ring *r)
{
    const sw_pt_mm a = point_at(rings, r, 0), b = point_at(rings, r, 1);
    return (sw_pt_mm){ 0.5 * (a.x_mm + b.x_mm), 0.5 * (a.y_mm + b.y_mm) };
}

void sw_rings_apply_fill(sw_rings *rings, const sw_vector *vector)
{
    for (size_t r = 0; r < rings->n; r++) {
        sw_ring *const ring = &rings->at[r];
        const sw_vector_shape *const shape = &vector->shapes[ring->shape];
        if (shape->is_even_odd || shape->is_cut_line || shape->contours.n < 2) continue;
        int around = 0;
        for (size_t other = r; other-- > 0 && rings->at[other].shape == ring->shape;)
            around += sw_ring_winding(rings, other, place_of(rings, ring));
        for (size_t other = r + 1; other < rings->n && rings->at[other].shape == ring->shape; other++)
            around += sw_ring_winding(rings, other, place_of(rings, ring));
        const int within = around + (ring->area_mm2 > 0.0 ? 1 : -1);
        ring->is_left_out = (around != 0) == (within != 0);
    }
}

void sw_rings_nest(sw_rings *rings)
{
    for (size_t r = 0; r < rings->n; r++) {
        sw_ring *const ring = &rings->at[r];
        const sw_pt_mm p = place_of(rings, ring);
        ring->depth = 0;
        ring->parent = SIZE_MAX;
        if (ring->is_left_out || ring->is_crossing) continue;
        for (size_t other = 0; other < rings->n; other++) {
            const sw_ring *const o = &rings->at[other];
            if (other == r || o->is_left_out || o->is_crossing || !is_in_box(o, p) || !sw_ring_holds(rings, other, p)) continue;
            ring->depth++;
            if (ring->parent == SIZE_MAX || fabs(o->area_mm2) < fabs(rings->at[ring->parent].area_mm2)) ring->parent = other;
        }
    }
}

sw_pt_mm sw_ring_middle(const sw_rings *rings, size_t ring)
{
    const sw_ring *const r = &rings->at[ring];
    const sw_pt_mm o = rings->points[r->first];
    double x = 0.0, y = 0.0, area = 0.0;
    for (size_t i = 0; i < r->n; i++) {
        const sw_pt_mm a = point_at(rings, r, i), b = point_at(rings, r, i + 1);
        const double part = (a.x_mm - o.x_mm) * (b.y_mm - o.y_mm) - (b.x_mm - o.x_mm) * (a.y_mm - o.y_mm);
        x += part * (a.x_mm + b.x_mm - 2.0 * o.x_mm);
        y += part * (a.y_mm + b.y_mm - 2.0 * o.y_mm);
        area += part;
    }
    if (area == 0.0) return o;
    const sw_pt_mm middle = { o.x_mm + x / (3.0 * area), o.y_mm + y / (3.0 * area) };
    return sw_ring_holds(rings, ring, middle) ? middle : o;
}

static double distance_mm(sw_pt_mm a, sw_pt_mm b, sw_pt_mm p)
{
    const double dx = b.x_mm - a.x_mm, dy = b.y_mm - a.y_mm, length_sq = dx * dx + dy * dy;
    const double along = length_sq > 0.0 ? ((p.x_mm - a.x_mm) * dx + (p.y_mm - a.y_mm) * dy) / length_sq : 0.0;
    const double t = sw_clamp(along, 0.0, 1.0);
    return hypot(p.x_mm - a.x_mm - t * dx, p.y_mm - a.y_mm - t * dy);
}

size_t sw_svg_shape_near(const sw_rings *rings, sw_pt_mm p)
{
    size_t found = SIZE_MAX;
    double least = INFINITY;
    for (size_t r = 0; r < rings->n; r++) {
        const sw_ring *const ring = &rings->at[r];
        if (p.x_mm < ring->low.x_mm - least || p.x_mm > ring->high.x_mm + least || p.y_mm < ring->low.y_mm - least ||
            p.y_mm > ring->high.y_mm + least)
            continue;
        for (size_t i = 0; i < ring->n; i++) {
            const double d = distance_mm(point_at(rings, ring, i), point_at(rings, ring, i + 1), p);
            if (d >= least) continue;
            least = d;
            found = ring->shape;
        }
    }
    return found;
}

void sw_rings_free(sw_rings *rings)
{
    if (rings == NULL) return;
    sw_free(rings->at);
    sw_free(rings->points);
    *rings = (sw_rings){ 0 };
}
