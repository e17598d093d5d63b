/* Curves that are drawn already, as points in a grid of cells: what is nearest, where a line meets them, a part of one. */
#include "contour/shared.h"

#define STEP_PX 1.5   /* between points */
#define N_NEWTON 3
#define N_HALVINGS 40

static pt in_px(const drawn_curves *d, sw_pt_mm p)
{
    return (pt){ p.x_mm * d->px_per_mm - (double)d->x_px, p.y_mm * d->px_per_mm - (double)d->y_px };
}

/* A segment's four points; those of a line stand at its thirds. */
static void controls_of(const drawn_curves *d, uint32_t contour, size_t segment, pt c[4])
{
    const sw_contour *const list = &d->list->at[contour];
    const sw_seg *const s = &list->segs[segment];
    c[0] = in_px(d, segment == 0 ? list->start : list->segs[segment - 1].end);
    c[3] = in_px(d, s->end);
    c[1] = s->is_line ? pt_mix(c[0], c[3], 1.0 / 3.0) : in_px(d, s->c1);
    c[2] = s->is_line ? pt_mix(c[0], c[3], 2.0 / 3.0) : in_px(d, s->c2);
}

static pt point_at(const pt c[4], double u)
{
    const pt ab = pt_mix(c[0], c[1], u), bc = pt_mix(c[1], c[2], u), cd = pt_mix(c[2], c[3], u);
    return pt_mix(pt_mix(ab, bc, u), pt_mix(bc, cd, u), u);
}

static pt along_at(const pt c[4], double u)
{
    const double v = 1.0 - u;
    const pt a = pt_sub(c[1], c[0]), b = pt_sub(c[2], c[1]), e = pt_sub(c[3], c[2]);
    const pt slope = pt_add(pt_add(pt_mul(a, v * v), pt_mul(b, 2.0 * u * v)), pt_mul(e, u * u));
    return pt_len(slope) > 1e-9 ? pt_unit(slope) : pt_unit(pt_sub(c[3], c[0]));
}

static size_t chords_of(const pt c[4])
{
    const double len = pt_len(pt_sub(c[1], c[0])) + pt_len(pt_sub(c[2], c[1])) + pt_len(pt_sub(c[3], c[2]));
    return (size_t)sw_clamp(ceil(len / STEP_PX), 1.0, 1e5);
}

static bool put_points(drawn_curves *d)
{
    size_t cap = 0;
    d->first = sw_alloc_array(d->list->n + 1, sizeof *d->first);
    if (d->first == NULL) return false;
    for (uint32_t i = 0; i < d->list->n; i++) {
        d->first[i] = (uint32_t)d->n;
        for (size_t k = 0; k < d->list->at[i].n_segs; k++) {
            pt c[4];
            controls_of(d, i, k, c);
            const size_t n = chords_of(c);
            void *at = d->at;
            if (!sw_grow(&at, &cap, d->n + n, sizeof *d->at)) return false;
            d->at = at;
            for (size_t j = 0; j < n; j++) {
                const double u = (double)j / (double)n;
                d->at[d->n++] = (drawn_point){ point_at(c, u), along_at(c, u), (double)k + u, i };
            }
        }
    }
    d->first[d->list->n] = (uint32_t)d->n;
    return true;
}

static size_t cell_of(const drawn_curves *d, pt p)
{
    const size_t x = (size_t)((p.x - d->low.x) / d->cell_px), y = (size_t)((p.y - d->low.y) / d->cell_px);
    return y * d->columns + x;
}

static bool sort_points(drawn_curves *d, double cell_px)
{
    pt high = { -HUGE_VAL, -HUGE_VAL };
    d->low = (pt){ HUGE_VAL, HUGE_VAL };
    for (size_t i = 0; i < d->n; i++) {
        const pt p = d->at[i].p;
        d->low = (pt){ sw_min(d->low.x, p.x), sw_min(d->low.y, p.y) };
        high = (pt){ sw_max(high.x, p.x), sw_max(high.y, p.y) };
    }
    d->cell_px = sw_max(cell_px, sqrt((high.x - d->low.x + 1.0) * (high.y - d->low.y + 1.0) / (4.0 * (double)d->n)));
    d->columns = (size_t)((high.x - d->low.x) / d->cell_px) + 1;
    d->rows = (size_t)((high.y - d->low.y) / d->cell_px) + 1;
    const size_t n_cells = d->columns * d->rows;
    d->cell_first = sw_alloc_array(n_cells + 2, sizeof *d->cell_first);
    d->of_cell = sw_alloc_raw(d->n, sizeof *d->of_cell);
    if (d->cell_first == NULL || d->of_cell == NULL) return false;
    uint32_t *const next = d->cell_first + 1; /* moved on while filling */
    for (size_t i = 0; i < d->n; i++) next[cell_of(d, d->at[i].p) + 1]++;
    for (size_t k = 0; k < n_cells; k++) next[k + 1] += next[k];
    for (size_t i = 0; i < d->n; i++) d->of_cell[next[cell_of(d, d->at[i].p)]++] = (uint32_t)i;
    return true;
}

bool drawn_make(const sw_drawn *from, const sw_trace_opts *opts, double px_per_mm, drawn_curves *out)
{
    drawn_curves made = { .mask = from->mask, .list = from->curves, .px_per_mm = px_per_mm, .x_px = opts->x_px,
                          .y_px = opts->y_px };
    const bool is_ok = put_points(&made) && (made.n == 0 || sort_points(&made, 8.0 * STEP_PX));
    if (is_ok) *out = made;
    else drawn_free(&made);
    return is_ok;
}

void drawn_free(drawn_curves *d)
{
    sw_free(d->at);
    sw_free(d->first);
    sw_free(d->cell_first);
    sw_free(d->of_cell);
    *d = (drawn_curves){ 0 };
}

/* Cell columns or rows that a look of most_px from v touches: [*from, *to). */
static void cells_near(double v, double low, double cell_px, double most_px, size_t n, size_t *from, size_t *to)
{
    *from = (size_t)sw_clamp((v - low - most_px) / cell_px, 0.0, (double)n);
    *to = (size_t)sw_clamp(floor((v - low + most_px) / cell_px) + 1.0, 0.0, (double)n);
}

size_t drawn_nearest(const drawn_curves *d, pt p, pt dir, double most_px)
{
    size_t best = SIZE_MAX, x0, x1, y0, y1;
    double least = most_px * most_px;
    if (d->n == 0) return best;
    cells_near(p.x, d->low.x, d->cell_px, most_px, d->columns, &x0, &x1);
    cells_near(p.y, d->low.y, d->cell_px, most_px, d->rows, &y0, &y1);
    for (size_t y = y0; y < y1 && x0 < x1; y++) {
        const size_t end = d->cell_first[y * d->columns + x1];
        for (size_t k = d->cell_first[y * d->columns + x0]; k < end; k++) {
            const drawn_point *const q = &d->at[d->of_cell[k]];
            const pt off = pt_sub(q->p, p);
            const double d2 = pt_dot(off, off);
            if (d2 > least || (d2 == least && d->of_cell[k] > best) || pt_dot(q->along, dir) < 0.7) continue;
            least = d2;
            best = d->of_cell[k];
        }
    }
    return best;
}

size_t drawn_index(const drawn_curves *d, uint32_t contour, double g)
{
    size_t lo = d->first[contour], hi = d->first[contour + 1];
    while (hi - lo > 1) {
        const size_t mid = (lo + hi) / 2;
        if (d->at[mid].g <= g) lo = mid;
        else hi = mid;
    }
    return lo;
}

size_t drawn_step(const drawn_curves *d, size_t at, ptrdiff_t by)
{
    const ptrdiff_t first = (ptrdiff_t)d->first[d->at[at].contour];
    const ptrdiff_t n = (ptrdiff_t)d->first[d->at[at].contour + 1] - first;
    ptrdiff_t k = ((ptrdiff_t)at - first + by) % n;
    if (k < 0) k += n;
    return (size_t)(first + k);
}

/* g's segment and the parameter there. */
static size_t split_place(const drawn_curves *d, uint32_t contour, double g, bool is_end, double *u)
{
    const size_t n = d->list->at[contour].n_segs;
    double whole = floor(g);
    *u = g - whole;
    if (is_end && *u == 0.0) {
        *u = 1.0;
        whole -= 1.0;
    }
    const double of_n = (double)n, k = fmod(whole, of_n);
    return (size_t)(k < 0.0 ? k + of_n : k);
}

void drawn_at(const drawn_curves *d, uint32_t contour, double g, bool is_end, pt *p, pt *along)
{
    pt c[4];
    double u;
    controls_of(d, contour, split_place(d, contour, g, is_end, &u), c);
    *p = point_at(c, u);
    *along = along_at(c, u);
}

/* g of the chord from point i to the next, its end. */
static double chord_end(const drawn_curves *d, size_t i, size_t next)
{
    const double g = d->at[next].g;
    return g > d->at[i].g ? g : (double)d->list->at[d->at[i].contour].n_segs;
}

double drawn_foot(const drawn_curves *d, size_t at, ptrdiff_t reach, pt p, double *g)
{
    double least = HUGE_VAL;
    const uint32_t contour = d->at[at].contour;
    for (ptrdiff_t k = -reach; k < reach; k++) {
        const size_t i = drawn_step(d, at, k), j = drawn_step(d, i, 1);
        const pt chord = pt_sub(d->at[j].p, d->at[i].p), off = pt_sub(p, d->at[i].p);
        const double len2 = pt_dot(chord, chord), t = len2 > 0.0 ? sw_clamp(pt_dot(off, chord) / len2, 0.0, 1.0) : 0.0;
        const double away = pt_len(pt_sub(off, pt_mul(chord, t)));
        if (away >= least) continue;
        least = away;
        *g = d->at[i].g + t * (chord_end(d, i, j) - d->at[i].g);
    }
    double u;
    const size_t segment = split_place(d, contour, *g, false, &u);
    pt c[4];
    controls_of(d, contour, segment, c);
    for (int round = 0; round < N_NEWTON; round++) { /* the foot on the curve itself */
        const pt here = point_at(c, u), ahead = point_at(c, sw_min(u + 1e-4, 1.0)), behind = point_at(c, sw_max(u - 1e-4, 0.0));
        const pt slope = pt_mul(pt_sub(ahead, behind), 1.0 / (sw_min(u + 1e-4, 1.0) - sw_max(u - 1e-4, 0.0)));
        const double speed2 = pt_dot(slope, slope);
        if (speed2 > 0.0) u = sw_clamp(u + pt_dot(pt_sub(p, here), slope) / speed2, 0.0, 1.0);
    }
    *g = (double)segment + u;
    return pt_len(pt_sub(p, point_at(c, u)));
}

bool drawn_meet(const drawn_curves *d, size_t at, ptrdiff_t reach, pt p, pt dir, double *g)
{
    double least = HUGE_VAL;
    const uint32_t contour = d->at[at].contour;
    for (ptrdiff_t k = -reach; k < reach; k++) {
        const size_t i = drawn_step(d, at, k), j = drawn_step(d, i, 1);
        const double a = pt_cross(dir, pt_sub(d->at[i].p, p)), b = pt_cross(dir, pt_sub(d->at[j].p, p));
        if ((a > 0.0) == (b > 0.0)) continue;
        const double away = pt_len(pt_sub(pt_mix(d->at[i].p, d->at[j].p, a / (a - b)), p));
        if (away >= least) continue;
        double lo = d->at[i].g, hi = chord_end(d, i, j);
        for (int round = 0; round < N_HALVINGS; round++) {
            const double mid = 0.5 * (lo + hi);
            pt q, along;
            drawn_at(d, contour, mid, false, &q, &along);
            if ((pt_cross(dir, pt_sub(q, p)) > 0.0) == (a > 0.0)) lo = mid;
            else hi = mid;
        }
        least = away;
        *g = lo;
    }
    return least < HUGE_VAL;
}

static sw_pt_mm as_point(pt p) { return (sw_pt_mm){ p.x, p.y }; }

/* The part of a segment from u0 to u1; u0 > u1 runs backwards. */
static bool add_part(const drawn_curves *d, uint32_t contour, size_t segment, double u0, double u1, sw_contour *out)
{
    pt c[4];
    controls_of(d, contour, segment, c);
    const sw_seg *const s = &d->list->at[contour].segs[segment];
    if (s->is_line) return sw_contour_add_line(out, as_point(u1 == 1.0 ? c[3] : u1 == 0.0 ? c[0] : point_at(c, u1)));
    if (u0 > u1) {
        const pt turned[4] = { c[3], c[2], c[1], c[0] };
        for (int k = 0; k < 4; k++) c[k] = turned[k];
        u0 = 1.0 - u0;
        u1 = 1.0 - u1;
    }
    if (u1 < 1.0) { /* keep what is before u1 */
        const pt ab = pt_mix(c[0], c[1], u1), bc = pt_mix(c[1], c[2], u1), cd = pt_mix(c[2], c[3], u1);
        const pt abc = pt_mix(ab, bc, u1), bcd = pt_mix(bc, cd, u1);
        c[1] = ab;
        c[2] = abc;
        c[3] = pt_mix(abc, bcd, u1);
        u0 /= u1;
    }
    if (u0 > 0.0) { /* and what is after u0 */
        const pt ab = pt_mix(c[0], c[1], u0), bc = pt_mix(c[1], c[2], u0), cd = pt_mix(c[2], c[3], u0);
        const pt abc = pt_mix(ab, bc, u0), bcd = pt_mix(bc, cd, u0);
        c[1] = bcd;
        c[2] = cd;
        c[0] = pt_mix(abc, bcd, u0);
    }
    return sw_contour_add_cubic(out, as_point(c[1]), as_point(c[2]), as_point(c[3]));
}

/* Is the node at the end of this segment a corner? */
static bool is_corner_after(const drawn_curves *d, uint32_t contour, size_t segment)
{
    return d->list->at[contour].segs[segment].is_corner;
}

bool drawn_part(const drawn_curves *d, uint32_t contour, double g0, double g1, bool is_forward, sw_contour *out)
{
    const size_t n = d->list->at[contour].n_segs;
    pt start, along;
    double u0, u1;
    drawn_at(d, contour, g0, !is_forward, &start, &along);
    out->start = as_point(start);
    size_t at = split_place(d, contour, g0, !is_forward, &u0);
    const size_t last = split_place(d, contour, g1, is_forward, &u1);
    const bool is_past = is_forward ? u1 <= u0 : u1 >= u0; /* once round if it ends behind its start */
    size_t n_parts = (is_forward ? last + n - at : at + n - last) % n;
    if (n_parts == 0 && is_past) n_parts = n;
    for (size_t k = 0; k <= n_parts; k++) {
        const double from = k == 0 ? u0 : is_forward ? 0.0 : 1.0, to = k == n_parts ? u1 : is_forward ? 1.0 : 0.0;
        const size_t before = at == 0 ? n - 1 : at - 1;
        if (from != to) {
            if (!add_part(d, contour, at, from, to, out)) return false;
            if (to == 0.0 || to == 1.0)
                out->segs[out->n_segs - 1].is_corner = is_corner_after(d, contour, is_forward ? at : before);
        }
        at = is_forward ? wrap(at + 1, n) : before;
    }
    return true;
}
