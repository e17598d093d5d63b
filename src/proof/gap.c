/* One pass over all pairs of chords that are near each other: do they cross, and do they face each other across a
 * narrow web or opening? Stretches of chords are paired first; where two are far apart, or calm beside each other, their
 * chords are not looked at.
 *
 * The definition of narrow in sheet.h speaks of discs; on polygons it comes down to pairs of points of the edge. Two
 * points less than w apart, with the set between them and nothing else, are a neck or a spike unless
 * - a disc of diameter w inside the set reaches the middle between them, or
 * - they are two sides of a corner, a bump or a round end: on one contour, the way from one to the other along it
 *   shorter than 2 w plus their distance. A finger of that way reaches w; a straight tip of that way, where it is w
 *   wide, has sin(angle / 2) = 1 / 3, and then its point lies w beyond the disc that fits into it: the limit between
 *   corner and spike.
 * Widths are exact to the flattening, whatever the direction; no raster is asked. */
#include <assert.h>
#include <math.h>

#include "proof/gap.h"

#define LEAST_WAY_RATIO 2.0
#define SLACK_MM 1e-6  /* sums of lengths are rounded */
#define NECK_RATIO 1.1 /* a neck is one to a disc a little wider than itself */

#define NOT_CROSSED UINT32_MAX

/* What a row of cells holds. */
typedef struct gap_row {
    size_t n_crossings;
    sw_proof_gap neck[2];
} gap_row;

typedef struct gap_work {
    const sw_proof_shape *shape;
    const sw_proof_cells *cells;
    const sw_proof_asked *asked;
    double both_mm;           /* nearer than this both kinds are looked for */
    double least_way_mm[2];   /* shortest way along a ring to a narrow place: nearer than both_mm, and farther */
    sw_proof_gap *nearest[2]; /* by chord */
    uint32_t *crossed;        /* by stretch: its first chord that crosses a later one; NOT_CROSSED: none does */
    gap_row *rows;            /* by row of cells */
} gap_work;

/* ---- what lies around a place ------------------------------------------------------------------------- */

static double past(double lo, double hi, double lo2, double hi2) { return sw_max(0.0, sw_max(lo2 - hi, lo - hi2)); }

/* Square of the distance between two boxes. */
static double boxes_apart_sq(sw_pt_mm lo, sw_pt_mm hi, sw_pt_mm lo2, sw_pt_mm hi2)
{
    const double dx = past(lo.x_mm, hi.x_mm, lo2.x_mm, hi2.x_mm), dy = past(lo.y_mm, hi.y_mm, lo2.y_mm, hi2.y_mm);
    return dx * dx + dy * dy;
}

typedef bool chord_fn(const sw_proof_shape *shape, size_t chord, const void *ctx);

/* Is is_free true of all chords that may have a point within reach of the box? */
static bool are_all_free(const sw_proof_shape *shape, const sw_proof_cells *cells, sw_pt_mm lo, sw_pt_mm hi, double reach_mm,
                         chord_fn *is_free, const void *ctx)
{
    const sw_proof_block block = sw_proof_cells_around(cells, lo, hi, reach_mm);
    for (size_t y = block.y0; y <= block.y1; y++) {
        const size_t end = cells->first[y * cells->n_x + block.x1 + 1];
        for (size_t e = cells->first[y * cells->n_x + block.x0]; e < end; e++) {
            const sw_proof_stretch *const s = &cells->stretches[cells->stretch[e]];
            if (boxes_apart_sq(lo, hi, s->lo, s->hi) > reach_mm * reach_mm) continue;
            for (size_t k = s->first; k < s->first + s->n; k++) {
                if (!is_free(shape, k, ctx)) return false;
            }
        }
    }
    return true;
}

typedef struct across {
    sw_pt_mm from, to;
} across;

static bool does_not_meet(const sw_proof_shape *shape, size_t chord, const void *ctx)
{
    const across *const w = ctx;
    return !sw_proof_chords_meet(w->from, w->to, shape->at[chord], shape->at[sw_proof_next(shape, chord)]);
}

static bool is_way_free(const sw_proof_shape *shape, const sw_proof_cells *cells, sw_pt_mm q, sw_pt_mm b)
{
    const double dx = b.x_mm - q.x_mm, dy = b.y_mm - q.y_mm, inset = 0.01;
    const across w = { { q.x_mm + inset * dx, q.y_mm + inset * dy }, { b.x_mm - inset * dx, b.y_mm - inset * dy } };
    const sw_pt_mm lo = { sw_min(q.x_mm, b.x_mm), sw_min(q.y_mm, b.y_mm) };
    const sw_pt_mm hi = { sw_max(q.x_mm, b.x_mm), sw_max(q.y_mm, b.y_mm) };
    return are_all_free(shape, cells, lo, hi, SLACK_MM, does_not_meet, &w);
}

typedef struct disc {
    sw_pt_mm centre;
    double radius_mm;
} disc;

static bool is_outside(const sw_proof_shape *shape, size_t chord, const void *ctx)
{
    const disc *const d = ctx;
    return sw_proof_distance_mm(shape, chord, d->centre) >= d->radius_mm;
}

static bool is_disc_free(const sw_proof_shape *shape, const sw_proof_cells *cells, sw_pt_mm centre, double radius_mm)
{
    const disc d = { centre, radius_mm - SW_PROOF_FLAT_MM };
    return are_all_free(shape, cells, centre, centre, radius_mm, is_outside, &d);
}

bool sw_proof_gap_is_reached(const sw_proof_shape *shape, const sw_proof_cells *cells, const sw_proof_gap *gap,
                             double diameter_mm)
{
    static const double turns[] = { 0.0, 0.15, -0.15, 0.3, -0.3, 0.5, -0.5 }; /* radians off square to the gap */
    const double r = 0.5 * diameter_mm, half = 0.5 * gap->width_mm;
    const double ux = (gap->b.x_mm - gap->q.x_mm) / gap->width_mm, uy = (gap->b.y_mm - gap->q.y_mm) / gap->width_mm;
    const double mx = 0.5 * (gap->q.x_mm + gap->b.x_mm), my = 0.5 * (gap->q.y_mm + gap->b.y_mm);
    const double least = r > half ? sqrt(r * r - half * half) : 0.0; /* nearer, the disc would cover q and b */
    for (int side = -1; side <= 1; side += 2) {
        for (size_t k = 0; k < SW_ARRAY_LEN(turns); k++) {
            const double c = cos(turns[k]) * side, s = sin(turns[k]) * side;
            for (double step = 0.0; step <= 1.0; step += 0.5) {
                const double away = least + (r - least) * step;
                const sw_pt_mm centre = { mx + away * (-uy * c - ux * s), my + away * (ux * c - uy * s) };
                if (is_disc_free(shape, cells, centre, r)) return true;
            }
        }
    }
    return false;
}

/* ---- one pair ------------------------------------------------------------------------------------------- */

/* The shorter way from q to b along the ring; infinite when they are on two rings. */
static double way_mm(const sw_proof_shape *shape, size_t i, size_t k, const sw_proof_near *near)
{
    if (shape->ring_of[i] != shape->ring_of[k]) return INFINITY;
    const sw_pt_mm a = shape->at[i], c = shape->at[k];
    const double on_i = shape->along_mm[i] + sw_proof_length(near->q.x_mm - a.x_mm, near->q.y_mm - a.y_mm);
    const double on_k = shape->along_mm[k] + sw_proof_length(near->b.x_mm - c.x_mm, near->b.y_mm - c.y_mm);
    const double way = fabs(on_i - on_k);
    return sw_min(way, shape->rings[shape->ring_of[i]].length_mm - way);
}

/* SW_PROOF_WEB, SW_PROOF_OPENING, or -1 when the two do not face each other across one of them. */
static int kind_of(const sw_proof_shape *shape, size_t i, size_t k, const sw_proof_near *near)
{
    const sw_pt_mm u = { near->b.x_mm - near->q.x_mm, near->b.y_mm - near->q.y_mm };
    const int into = sw_proof_leads_into(shape, i, near->q_ratio, u);
    if (into == 0 || into != sw_proof_leads_into(shape, k, near->b_ratio, (sw_pt_mm){ -u.x_mm, -u.y_mm })) return -1;
    if (into < 0) return SW_PROOF_WEB;
    return shape->ring_of[i] == 0 || shape->ring_of[k] == 0 ? -1 : SW_PROOF_OPENING;
}

static bool is_local_least(const sw_proof_shape *shape, size_t i, size_t k, const sw_proof_near *near)
{
    const sw_pt_mm u = { near->b.x_mm - near->q.x_mm, near->b.y_mm - near->q.y_mm };
    return !sw_proof_is_nearer_along(shape, i, near->q_ratio, u) &&
           !sw_proof_is_nearer_along(shape, k, near->b_ratio, (sw_pt_mm){ -u.x_mm, -u.y_mm });
}

static bool is_way_long(const sw_proof_shape *shape, size_t i, size_t k, const sw_proof_near *near, double narrow_mm)
{
    return way_mm(shape, i, k, near) >= LEAST_WAY_RATIO * narrow_mm + near->apart_mm;
}

/* At the root of a finger or spike the nearest points of two chords may still lie on its far side: any narrow place
 * between them with a long enough way counts, if it is of the same kind: at the square end of a slot they may lie at the
 * ends of that edge, and the way between neither in the opening nor in material. Takes that place into near. */
static bool find_long_way(const sw_proof_shape *shape, size_t i, size_t k, int kind, double narrow_mm, sw_proof_near *near)
{
    sw_proof_near ways[4];
    if (is_way_long(shape, i, k, near, narrow_mm)) return true;
    sw_proof_from_ends(shape, i, k, ways);
    for (size_t w = 0; w < 4; w++) {
        if (ways[w].apart_mm < narrow_mm && is_way_long(shape, i, k, &ways[w], narrow_mm) && kind_of(shape, i, k, &ways[w]) == kind) {
            *near = ways[w];
            return true;
        }
    }
    return false;
}

/* Among equals the first pair of chords stands, in whatever order they are looked at. */
static bool is_better(const sw_proof_gap *gap, double width_mm, size_t i, size_t k)
{
    if (gap->width_mm <= 0.0 || width_mm != gap->width_mm) return gap->width_mm <= 0.0 || width_mm < gap->width_mm;
    return i != gap->chord ? i < gap->chord : k < gap->other;
}

static void look_for_neck(const gap_work *work, sw_proof_gap *neck, size_t i, size_t k, const sw_proof_near *near,
                          int kind)
{
    const double narrow_mm = work->asked->narrow_mm[kind];
    if (!is_local_least(work->shape, i, k, near) || !is_way_long(work->shape, i, k, near, narrow_mm) ||
        !is_way_free(work->shape, work->cells, near->q, near->b))
        return;
    const sw_proof_gap gap = { near->apart_mm, near->q, near->b, (uint32_t)i, (uint32_t)k };
    if (!sw_proof_gap_is_reached(work->shape, work->cells, &gap, sw_max(narrow_mm, NECK_RATIO * gap.width_mm)))
        *neck = gap;
}

/* Farther apart than most_mm they do not matter. */
static void look_at_gap(const gap_work *work, gap_row *row, size_t i, size_t k, double most_mm)
{
    sw_proof_near near = sw_proof_nearest(work->shape, i, k);
    if (near.apart_mm <= SW_PROOF_TOUCH_MM || near.apart_mm > most_mm) return;
    const int kind = kind_of(work->shape, i, k, &near);
    if (kind < 0 || near.apart_mm >= work->asked->search_mm[kind]) return;
    const double narrow_mm = work->asked->narrow_mm[kind];
    /* marks are made as wide as asked: they would hide the narrowest opening of the artwork */
    const bool is_mark = kind == SW_PROOF_OPENING && work->shape->ring_of[i] > work->shape->n_openings;
    if (i < k && !is_mark && is_better(&row->neck[kind], near.apart_mm, i, k))
        look_for_neck(work, &row->neck[kind], i, k, &near, kind);
    sw_proof_gap *const nearest = &work->nearest[kind][i];
    if (near.apart_mm >= narrow_mm || !is_better(nearest, near.apart_mm, i, k)) return;
    if (!find_long_way(work->shape, i, k, kind, narrow_mm, &near) || !is_better(nearest, near.apart_mm, i, k)) return;
    if (!is_way_free(work->shape, work->cells, near.q, near.b)) return;
    *nearest = (sw_proof_gap){ near.apart_mm, near.q, near.b, (uint32_t)i, (uint32_t)k };
}

/* ---- all pairs -------------------------------------------------------------------------------------------- */

/* How far from chord i another one can still matter. A pair counts as a narrow place of i below narrow_mm and below
 * what i has already, and, seen from its first chord, as a neck below the narrowest of its row: most pairs within reach
 * are neither and need no measuring. */
static double useful_mm(const gap_work *work, const gap_row *row, size_t i, bool with_necks)
{
    double most_mm = 0.0;
    for (int kind = 0; kind < 2; kind++) {
        const double nearest_mm = work->nearest[kind][i].width_mm, neck_mm = row->neck[kind].width_mm;
        const double narrow_mm = work->asked->narrow_mm[kind];
        most_mm = sw_max(most_mm, nearest_mm > 0.0 ? sw_min(nearest_mm, narrow_mm) : narrow_mm);
        if (with_necks) most_mm = sw_max(most_mm, neck_mm > 0.0 ? neck_mm : work->asked->search_mm[kind]);
    }
    return most_mm;
}

/* A chord, or a stretch, in the search. */
typedef struct ends {
    sw_pt_mm middle;
    double half_mm;
    double along_mm, length_mm; /* from the ring's first point to its own first, and on to its last */
} ends;

static ends ends_of(const sw_proof_shape *shape, size_t i)
{
    const sw_pt_mm a = shape->at[i], b = shape->at[sw_proof_next(shape, i)];
    const double length_mm = sw_proof_length(b.x_mm - a.x_mm, b.y_mm - a.y_mm);
    return (ends){ { 0.5 * (a.x_mm + b.x_mm), 0.5 * (a.y_mm + b.y_mm) }, 0.5 * length_mm, shape->along_mm[i], length_mm };
}

/* Are all ways along a ring of ring_mm between two parts of it too short to make a narrow place? */
static bool is_way_short(double ring_mm, const ends *a, const ends *b, double least_mm)
{
    const double apart = b->along_mm - a->along_mm;
    const double most = sw_max(apart + b->length_mm, a->length_mm - apart);
    const double least = sw_max(apart - a->length_mm, -apart - b->length_mm);
    return sw_min(most, ring_mm - sw_max(least, 0.0)) + SLACK_MM < least_mm;
}

/* Chords of stretch a that cross chords of a later stretch. */
static void look_for_crossings(const gap_work *work, gap_row *row, size_t a, const sw_proof_stretch *other)
{
    const sw_proof_shape *const shape = work->shape;
    const sw_proof_stretch *const s = &work->cells->stretches[a];
    for (size_t i = s->first; i < s->first + s->n; i++) {
        const ends at = ends_of(shape, i);
        const double reach_mm = at.half_mm + SLACK_MM;
        if (boxes_apart_sq(at.middle, at.middle, other->lo, other->hi) > reach_mm * reach_mm) continue;
        for (size_t k = other->first; k < other->first + other->n; k++) {
            if (!sw_proof_pair_meets(shape, i, k)) continue;
            row->n_crossings++;
            work->crossed[a] = (uint32_t)sw_min_size(work->crossed[a], i);
        }
    }
}

/* Chord i and all chords of a stretch other than its own, whose ends are in the list. Pairs are seen from both sides.
 * ring_mm: length of the ring that both are of; 0 if they are of two. */
static void look_across(const gap_work *work, gap_row *row, size_t i, const sw_proof_stretch *other, const ends *list, double ring_mm)
{
    const ends at = ends_of(work->shape, i);
    const double most_mm = useful_mm(work, row, i, i < other->first) + SLACK_MM, reach_mm = most_mm + at.half_mm;
    if (boxes_apart_sq(at.middle, at.middle, other->lo, other->hi) > reach_mm * reach_mm) return;
    for (size_t n = 0; n < other->n; n++) {
        const ends *const to = &list[n];
        const double dx = to->middle.x_mm - at.middle.x_mm, dy = to->middle.y_mm - at.middle.y_mm, sq = dx * dx + dy * dy;
        const double limit_mm = reach_mm + to->half_mm;
        const double both_mm = work->both_mm + at.half_mm + to->half_mm + SLACK_MM; /* farther, only one kind is looked for */
        if (sq > limit_mm * limit_mm) continue;
        if (ring_mm > 0.0 && is_way_short(ring_mm, &at, to, work->least_way_mm[sq > both_mm * both_mm])) continue;
        look_at_gap(work, row, i, other->first + n, most_mm);
    }
}

/* Two stretches that are near each other, seen from the first. */
static void look_at_stretches(const gap_work *work, gap_row *row, size_t a, size_t b)
{
    const sw_proof_shape *const shape = work->shape;
    const sw_proof_stretch *const s = &work->cells->stretches[a], *const other = &work->cells->stretches[b];
    const ends here = { .along_mm = shape->along_mm[s->first], .length_mm = s->length_mm };
    const ends there = { .along_mm = shape->along_mm[other->first], .length_mm = other->length_mm };
    const double ring_mm = s->ring == other->ring ? shape->rings[s->ring].length_mm : 0.0;
    ends list[SW_PROOF_STRETCH_MOST];
    if (a < b && boxes_apart_sq(s->lo, s->hi, other->lo, other->hi) <= SLACK_MM * SLACK_MM) look_for_crossings(work, row, a, other);
    if (ring_mm > 0.0 && is_way_short(ring_mm, &here, &there, work->least_way_mm[0])) return;
    for (size_t n = 0; n < other->n; n++) list[n] = ends_of(shape, other->first + n);
    for (size_t i = s->first; i < s->first + s->n; i++) look_across(work, row, i, other, list, ring_mm);
}

/* Everything near stretch a. */
static void look_around(const gap_work *work, gap_row *row, size_t a)
{
    const sw_proof_cells *const cells = work->cells;
    const sw_proof_stretch *const s = &cells->stretches[a];
    const double reach_mm = sw_max(work->asked->search_mm[0], work->asked->search_mm[1]) + SLACK_MM;
    const sw_proof_block block = sw_proof_cells_around(cells, s->lo, s->hi, reach_mm);
    for (size_t v = block.y0; v <= block.y1; v++) {
        const size_t end = cells->first[v * cells->n_x + block.x1 + 1];
        for (size_t f = cells->first[v * cells->n_x + block.x0]; f < end; f++) {
            const size_t b = cells->stretch[f];
            const sw_proof_stretch *const other = &cells->stretches[b];
            if (boxes_apart_sq(s->lo, s->hi, other->lo, other->hi) <= reach_mm * reach_mm && !sw_proof_are_calm(cells, a, b))
                look_at_stretches(work, row, a, b);
        }
    }
}

static void look_rows(size_t row_begin, size_t row_end, void *ctx)
{
    const gap_work *const work = ctx;
    const sw_proof_cells *const cells = work->cells;
    for (size_t y = row_begin; y < row_end; y++) {
        const size_t end = cells->first[(y + 1) * cells->n_x];
        for (size_t e = cells->first[y * cells->n_x]; e < end; e++) look_around(work, &work->rows[y], cells->stretch[e]);
    }
}

/* What all rows found, together. */
static void gather(const gap_work *work, sw_proof_gaps *made)
{
    for (size_t y = 0; y < work->cells->n_y; y++) {
        made->n_crossings += work->rows[y].n_crossings;
        for (int kind = 0; kind < 2; kind++) {
            const sw_proof_gap *const neck = &work->rows[y].neck[kind];
            if (neck->width_mm > 0.0 && is_better(&made->neck[kind], neck->width_mm, neck->chord, neck->other)) made->neck[kind] = *neck;
        }
    }
    for (size_t a = 0; a < work->cells->n_stretches; a++) {
        if (work->crossed[a] != NOT_CROSSED) made->crossings[made->n_crossing_places++] = ends_of(work->shape, work->crossed[a]).middle;
    }
}

/* Keep only the chords that have a gap, in their order. */
static void pack(sw_proof_gap *gaps, size_t n, size_t *n_kept)
{
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        if (gaps[i].width_mm > 0.0) gaps[kept++] = gaps[i];
    }
    *n_kept = kept;
}

sw_status sw_proof_gaps_find(const sw_proof_shape *shape, const sw_proof_cells *cells, const sw_proof_asked *asked,
                             sw_proof_gaps *out, sw_note *note)
{
    sw_proof_gaps made = { 0 };
    const int wide = asked->search_mm[SW_PROOF_OPENING] > asked->search_mm[SW_PROOF_WEB];
    gap_work work = { .shape = shape, .cells = cells, .asked = asked, .both_mm = asked->search_mm[1 - wide],
                      .least_way_mm = { LEAST_WAY_RATIO * sw_min(asked->narrow_mm[0], asked->narrow_mm[1]),
                                        LEAST_WAY_RATIO * asked->narrow_mm[wide] } };
    sw_status st = SW_OK;
    for (int kind = 0; kind < 2; kind++) {
        assert(asked->search_mm[kind] * (1.0 / SW_PROOF_CALM_RATIO - 1.0) < LEAST_WAY_RATIO * asked->narrow_mm[kind]);
        made.narrow[kind] = work.nearest[kind] = sw_alloc_array(shape->n, sizeof *made.narrow[kind]);
    }
    made.crossings = sw_alloc_array(cells->n_stretches, sizeof *made.crossings);
    work.crossed = sw_alloc_raw(cells->n_stretches, sizeof *work.crossed);
    work.rows = sw_alloc_array(cells->n_y, sizeof *work.rows);
    if (made.narrow[0] == NULL || made.narrow[1] == NULL || made.crossings == NULL || work.crossed == NULL || work.rows == NULL) {
        st = sw_fail_memory(note, "the proof's widths");
        goto cleanup;
    }
    for (size_t a = 0; a < cells->n_stretches; a++) work.crossed[a] = NOT_CROSSED;
    sw_parallel_rows(cells->n_y, look_rows, &work);
    gather(&work, &made);
    for (int kind = 0; kind < 2; kind++) pack(made.narrow[kind], shape->n, &made.n_narrow[kind]);
    *out = made;
    made = (sw_proof_gaps){ 0 };
cleanup:
    sw_proof_gaps_free(&made);
    sw_free(work.crossed);
    sw_free(work.rows);
    return st;
}

void sw_proof_gaps_free(sw_proof_gaps *gaps)
{
    if (gaps == NULL) return;
    sw_free(gaps->crossings);
    sw_free(gaps->narrow[0]);
    sw_free(gaps->narrow[1]);
    *gaps = (sw_proof_gaps){ 0 };
}
