/* Bent bridges: a strip along the cheapest path over the field's cells, as a few straight pieces. The path winds from one
 * hidden place to the next where a straight strip would show; a chord takes the place of a stretch where it costs no more.
 * Costs are counted over pixels as for straight strips, so that the two can be compared. */
#include <math.h>

#include "sheet/bridge_parts.h"

/* A chord may cost this many times its stretch, and the length of one cell; more where the way has too many bends. */
static const double chord_dearer[] = { 1.05, 1.2, 1.5 };
/* As in bridge_strip.c: the verge beside a strip, what hangs in the air past its end, how far it runs into the parts. */
#define VERGE_WIDTHS 0.4
#define VERGE_FACTOR 0.15
#define OVERHANG_FACTOR 3.0
#define ROOT_WIDTHS 0.35

/* ---- from cells to corners --------------------------------------------------------------------------------------- */

static double step_length(const bridge_field *f, size_t from, size_t to)
{
    return from % f->width != to % f->width && from / f->width != to / f->width ? sqrt(2.0) : 1.0;
}

/* What a cell costs a way; HUGE_VAL where there is none. */
static double cell_cost(const bridge_field *f, double x, double y)
{
    const size_t cx = (size_t)(x / (double)f->factor), cy = (size_t)(y / (double)f->factor);
    const bridge_cell *const cell = &f->cell[sw_min_size(cy, f->height - 1) * f->width + sw_min_size(cx, f->width - 1)];
    const uint16_t raw = f->raw[sw_min_size(cy, f->height - 1) * f->width + sw_min_size(cx, f->width - 1)];
    return raw == 0 || cell->cost == 0 || raw >= BRIDGE_CELL_WALL ? HUGE_VAL : (double)cell->cost;
}

/* Cost of the straight way between two cells' middles, by cells' sides; the ends' own cells do not count. */
static double chord_cost(const bridge_field *f, sw_pt_px p, sw_pt_px q, double most)
{
    const double dx = q.x_px - p.x_px, dy = q.y_px - p.y_px, sides = hypot(dx, dy) / (double)f->factor;
    const size_t n = (size_t)(2.0 * sides) + 1;
    double sum = 0.0;
    for (size_t k = 1; k < n && sum <= most; k++) {
        const double t = (double)k / (double)n;
        if (t * sides < 0.75 || (1.0 - t) * sides < 0.75) continue;
        sum += sides / (double)n * cell_cost(f, p.x_px + t * dx, p.y_px + t * dy);
    }
    return sum;
}

static bool add_point(bridge_path *path, sw_pt_px p)
{
    if (path->n == BRIDGE_PATH_POINTS) return false;
    path->at[path->n++] = p;
    return true;
}

/* From a cell back to where its way began: corners, the cell's middle first. */
static bool follow(const bridge_field *f, size_t cell, double dearer, bridge_path *path)
{
    sw_pt_px anchor = bridge_field_centre(f, cell);
    double sum = 0.0;
    if (!add_point(path, anchor)) return false;
    for (size_t next; (next = bridge_field_step(f, cell)) != cell; cell = next) {
        const sw_pt_px here = bridge_field_centre(f, cell), there = bridge_field_centre(f, next);
        const double step = step_length(f, cell, next) * (f->raw[cell] >= BRIDGE_CELL_WALL ? 0.0 : (double)f->cell[cell].cost);
        const double most = dearer * (sum + step) + BRIDGE_LENGTH;
        if (chord_cost(f, anchor, there, most) <= most) {
            sum += step;
            continue;
        }
        if (!add_point(path, here)) return false;
        anchor = here;
        sum = step;
    }
    return add_point(path, bridge_field_centre(f, cell));
}

/* An end moved along its piece to the first pixel of its part. */
static bool meet_part(const bridge_ground *g, const bridge_field *f, sw_pt_px from, uint32_t part, sw_pt_px *end)
{
    const double dx = end->x_px - from.x_px, dy = end->y_px - from.y_px, length = hypot(dx, dy);
    if (!(length > 0.0)) return bridge_part_at(g, end->x_px, end->y_px) == part;
    for (double t = 0.0; t < length + 2.0 * (double)f->factor; t += 0.5) {
        const sw_pt_px at = { from.x_px + t * dx / length, from.y_px + t * dy / length };
        const uint32_t met = bridge_part_at(g, at.x_px, at.y_px);
        if (met == 0) continue;
        *end = at;
        return met == part;
    }
    return false;
}

/* Corners that a chord does without: where the two halves meet, for one. */
static void drop_corners(const bridge_field *f, double dearer, bridge_path *path)
{
    for (size_t k = 1; k + 1 < path->n;) {
        const sw_pt_px before = path->at[k - 1], at = path->at[k], after = path->at[k + 1];
        const double most = dearer * (chord_cost(f, before, at, HUGE_VAL) + chord_cost(f, at, after, HUGE_VAL)) + BRIDGE_LENGTH;
        if (most < HUGE_VAL && chord_cost(f, before, after, most) <= most) {
            for (size_t j = k; j + 1 < path->n; j++) path->at[j] = path->at[j + 1];
            path->n--;
        } else {
            k++;
        }
    }
}

/* From cell to cell of the way over u and v; false if it has too many corners. */
static bool find_corners(const bridge_field *f, const bridge_strip *s, double dearer, bridge_path *out)
{
    bridge_path back = { .n = 0 }, path = { .n = 0 };
    if (!follow(f, s->u, dearer, &back)) return false;
    while (back.n > 0) path.at[path.n++] = back.at[--back.n];
    if (s->v != s->u && !follow(f, s->v, dearer, &path)) return false;
    drop_corners(f, dearer, &path);
    *out = path;
    return true;
}

bool bridge_path_make(const bridge_ground *g, const bridge_field *f, const bridge_strip *s, bridge_path *out)
{
    bridge_path path = { .n = 0 };
    bool is_found = false;
    for (size_t i = 0; i < SW_ARRAY_LEN(chord_dearer) && !is_found; i++) is_found = find_corners(f, s, chord_dearer[i], &path);
    if (!is_found) return false;
    if (path.n < 2 || !meet_part(g, f, path.at[1], s->from, &path.at[0])) return false;
    if (!meet_part(g, f, path.at[path.n - 2], s->to, &path.at[path.n - 1])) return false;
    *out = path;
    return true;
}

/* ---- pixels of a piece ------------------------------------------------------------------------------------------- */

/* A path's pieces: from where, which way and how far. */
typedef struct pieces {
    struct piece {
        sw_pt_px from;
        double ux, uy, length;
    } at[BRIDGE_PATH_POINTS - 1];
    size_t n;
} pieces;

static pieces pieces_of(const bridge_path *p)
{
    pieces out = { .n = p->n - 1 };
    for (size_t k = 0; k < out.n; k++) {
        const double dx = p->at[k + 1].x_px - p->at[k].x_px, dy = p->at[k + 1].y_px - p->at[k].y_px, length = hypot(dx, dy);
        out.at[k] = (struct piece){ p->at[k], length > 0.0 ? dx / length : 1.0, length > 0.0 ? dy / length : 0.0, length };
    }
    return out;
}

/* Where a pixel lies by one piece: how far along it from its begin, and the squared distance to it. */
typedef struct place {
    double along, d2;
} place;

static inline place place_by(const struct piece *p, double x, double y)
{
    const double dx = x - p->from.x_px, dy = y - p->from.y_px;
    const double u = dx * p->ux + dy * p->uy, v = dy * p->ux - dx * p->uy;
    const double past = u < 0.0 ? u : u > p->length ? u - p->length : 0.0;
    return (place){ u, v * v + past * past };
}

/* Is a pixel of piece k the business of the one before or after? */
static inline bool is_elsewhere(const pieces *p, size_t k, double x, double y, double d2)
{
    return (k > 0 && place_by(&p->at[k - 1], x, y).d2 <= d2) || (k + 1 < p->n && place_by(&p->at[k + 1], x, y).d2 < d2);
}

/* Columns of pixel centres within reach of a piece in one row, a little too many. */
static void piece_columns(const bridge_path *p, size_t k, double y, double reach, size_t width, size_t *begin, size_t *end)
{
    const sw_pt_px a = p->at[k], b = p->at[k + 1];
    double t0 = 0.0, t1 = 1.0;
    if (fabs(b.y_px - a.y_px) > 1e-6) {
        const double low = (y - reach - a.y_px) / (b.y_px - a.y_px), high = (y + reach - a.y_px) / (b.y_px - a.y_px);
        t0 = sw_clamp(sw_min(low, high), 0.0, 1.0);
        t1 = sw_clamp(sw_max(low, high), 0.0, 1.0);
    }
    const double x0 = a.x_px + t0 * (b.x_px - a.x_px), x1 = a.x_px + t1 * (b.x_px - a.x_px);
    *begin = (size_t)sw_clamp(sw_min(x0, x1) - reach, 1.0, (double)width - 1.0);
    *end = (size_t)sw_clamp(sw_max(x0, x1) + reach + 1.0, 1.0, (double)width - 1.0);
}

static void piece_rows(const bridge_path *p, size_t k, double reach, size_t height, size_t *begin, size_t *end)
{
    const double low = sw_min(p->at[k].y_px, p->at[k + 1].y_px), high = sw_max(p->at[k].y_px, p->at[k + 1].y_px);
    *begin = (size_t)sw_clamp(low - reach, 1.0, (double)height - 1.0);
    *end = (size_t)sw_clamp(high + reach + 1.0, 1.0, (double)height - 1.0);
}

double bridge_path_length(const bridge_path *p)
{
    double sum = 0.0;
    for (size_t k = 0; k + 1 < p->n; k++) sum += hypot(p->at[k + 1].x_px - p->at[k].x_px, p->at[k + 1].y_px - p->at[k].y_px);
    return sum;
}

/* The ends run into the parts by so much that no neck is left. */
static bridge_path rooted(const bridge_path *p, double by_px)
{
    bridge_path out = *p;
    for (size_t end = 0; end < 2; end++) {
        sw_pt_px *const at = &out.at[end == 0 ? 0 : p->n - 1];
        const sw_pt_px next = p->at[end == 0 ? 1 : p->n - 2];
        const double dx = at->x_px - next.x_px, dy = at->y_px - next.y_px, length = hypot(dx, dy);
        if (!(length > 0.0)) continue;
        at->x_px += by_px * dx / length;
        at->y_px += by_px * dy / length;
    }
    return out;
}

/* Adds what one piece costs, of a path whose ends run into the parts; false where a wall lies in it, and soon if it costs
 * most or more. */
static bool measure_piece(const bridge_ground *g, const bridge_path *p, size_t k, double most, bridge_strip *s)
{
    const double half = 0.5 * g->width_px, reach = half + VERGE_WIDTHS * g->width_px, root = ROOT_WIDTHS * g->width_px;
    const pieces all = pieces_of(p);
    size_t y0, y1, x0, x1;
    piece_rows(p, k, reach, g->mask.height_px, &y0, &y1);
    for (size_t y = y0; y < y1; y++) {
        if (!(s->cost < most)) return false;
        piece_columns(p, k, (double)y + 0.5, reach, g->mask.width_px, &x0, &x1);
        for (size_t x = x0; x < x1; x++) {
            if (bridge_part_of(g, y * g->mask.width_px + x) != 0) continue;
            const double px = (double)x + 0.5, py = (double)y + 0.5;
            const place at = place_by(&all.at[k], px, py);
            if (at.d2 >= reach * reach || is_elsewhere(&all, k, px, py, at.d2)) continue;
            const uint32_t cost = bridge_pixel_cost(g, x, y);
            const double away = sqrt(at.d2), inside = sw_clamp(half + 0.5 - away, 0.0, 1.0);
            if (cost == BRIDGE_WALL) {
                if (away < half + 1.5) return false;
                continue;
            }
            const double before = k == 0 ? root - at.along : 0.0, after = k + 2 == p->n ? at.along - all.at[k].length + root : 0.0;
            const double beyond = sw_clamp(sw_max(before, after), 0.0, 1.0);
            const double share = inside * (1.0 + (OVERHANG_FACTOR - 1.0) * beyond) + (1.0 - inside) * (1.0 - beyond) * VERGE_FACTOR;
            s->cost += share * cost;
            if (cost > BRIDGE_LENGTH) s->seen += share * (cost - BRIDGE_LENGTH);
        }
    }
    return true;
}

void bridge_path_measure(const bridge_ground *g, const bridge_path *path, double most, bridge_strip *s)
{
    const bridge_path p = rooted(path, ROOT_WIDTHS * g->width_px);
    s->cost = s->seen = 0.0;
    for (size_t k = 0; k + 1 < p.n; k++)
        if (!measure_piece(g, &p, k, most, s)) {
            s->cost = HUGE_VAL;
            return;
        }
}

void bridge_path_stamp(bridge_ground *g, const bridge_path *path, sw_bridge *out)
{
    const bridge_path p = rooted(path, ROOT_WIDTHS * g->width_px);
    const pieces all = pieces_of(&p);
    const double radius = 0.5 * g->width_px + 0.25;
    size_t y0, y1, x0, x1;
    for (size_t k = 0; k + 1 < p.n; k++) {
        piece_rows(&p, k, radius, g->mask.height_px, &y0, &y1);
        for (size_t y = y0; y < y1; y++) {
            piece_columns(&p, k, (double)y + 0.5, radius, g->mask.width_px, &x0, &x1);
            for (size_t x = x0; x < x1; x++) {
                if (g->mask.at[y * g->mask.width_px + x] == 0) continue;
                if (place_by(&all.at[k], (double)x + 0.5, (double)y + 0.5).d2 > radius * radius) continue;
                if (bridge_pixel_cost(g, x, y) != BRIDGE_WALL) bridge_leave_pixel(g, x, y, out);
            }
        }
    }
}
