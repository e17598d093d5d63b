/* Openings that repeat together, like a leaf and its veins: one motion brings all of them to their copies.
 *
 * Every single repeat proposes its motion. Openings near its original that the same motion brings onto an opening join
 * it, and the motion is fitted again to all of them (closest points, Besl and McKay 1992), because the turn of one small
 * shape says little about what lies beside it. The largest proposals are taken first; what is left stays single. */
#include "layout/edge.h"

#include <math.h>
#include <stdlib.h>

#define N_SAMPLES 48u       /* points of a member that the motion is fitted to */
#define MAX_FITS 6
#define WORST_RATIO 20.0    /* of the tolerance: beyond it, how far off no longer matters */
#define LOOSE_RATIO 0.04    /* before the fit, the turn may be off by this much (rad) */
#define LINK_RATIO 0.5      /* a member lies within this share of the first one's diagonal from another; taste */

typedef enum part { PART_NONE = 0, PART_ORIGINAL, PART_COPY } part;

typedef struct shape {
    edge edge;
    sw_pt_mm middle;        /* of area */
    sw_contour_measure m;
} shape;

/* A flip about x = from.x, then a turn about from, then to at. */
typedef struct motion {
    bool is_mirrored;
    double cos_turn, sin_turn;
    sw_pt_mm from, at;
} motion;

typedef struct member {
    size_t original, copy;
    double off_mm;
} member;

typedef struct group {
    member *at;
    size_t n, cap;
    motion motion;
    size_t seed; /* index of the repeat */
} group;

typedef struct work {
    const shape *shapes;
    size_t n;
    double tolerance_mm;
    part *parts;
} work;

static sw_pt_mm move(const motion *t, sw_pt_mm p)
{
    const double x = t->is_mirrored ? t->from.x_mm - p.x_mm : p.x_mm - t->from.x_mm, y = p.y_mm - t->from.y_mm;
    return (sw_pt_mm){ t->at.x_mm + t->cos_turn * x - t->sin_turn * y, t->at.y_mm + t->sin_turn * x + t->cos_turn * y };
}

static sw_pt_mm move_back(const motion *t, sw_pt_mm p)
{
    const double dx = p.x_mm - t->at.x_mm, dy = p.y_mm - t->at.y_mm;
    const double x = t->cos_turn * dx + t->sin_turn * dy, y = t->cos_turn * dy - t->sin_turn * dx;
    return (sw_pt_mm){ t->is_mirrored ? t->from.x_mm - x : t->from.x_mm + x, t->from.y_mm + y };
}

/* Farthest that one edge is from the other after the motion, both ways; gives up above the limit. */
static double farthest(const edge *original, const edge *copy, const motion *t, double limit_mm)
{
    double worst = 0.0, away_sq;
    size_t chunk = 0;
    for (size_t i = 0; i < original->n && worst <= limit_mm; i++) {
        const sw_pt_mm p = move(t, original->at[i]);
        edge_nearest(copy, p, &chunk, &away_sq);
        worst = sw_max(worst, sqrt(away_sq));
    }
    for (size_t i = 0; i < copy->n && worst <= limit_mm; i++) {
        const sw_pt_mm p = move_back(t, copy->at[i]);
        edge_nearest(original, p, &chunk, &away_sq);
        worst = sw_max(worst, sqrt(away_sq));
    }
    return worst;
}

/* One round of closest points over all members. */
static void fit(const work *w, group *g)
{
    double sx = 0.0, sy = 0.0, tx = 0.0, ty = 0.0, re = 0.0, im = 0.0, n = 0.0;
    for (int pass = 0; pass < 2; pass++) { /* the middles first, then the turn about them */
        for (size_t k = 0; k < g->n; k++) {
            const edge *const s = &w->shapes[g->at[k].original].edge, *const c = &w->shapes[g->at[k].copy].edge;
            size_t chunk = 0;
            for (size_t i = 0; i < N_SAMPLES; i++) {
                double away_sq;
                const sw_pt_mm p = s->at[i * s->n / N_SAMPLES], q = edge_nearest(c, move(&g->motion, p), &chunk, &away_sq);
                const double x = g->motion.is_mirrored ? -p.x_mm : p.x_mm;
                if (pass == 0) {
                    sx += x, sy += p.y_mm, tx += q.x_mm, ty += q.y_mm, n += 1.0;
                } else {
                    re += (x - sx) * (q.x_mm - tx) + (p.y_mm - sy) * (q.y_mm - ty);
                    im += (x - sx) * (q.y_mm - ty) - (p.y_mm - sy) * (q.x_mm - tx);
                }
            }
        }
        if (pass == 0) sx /= n, sy /= n, tx /= n, ty /= n;
    }
    const double size = hypot(re, im);
    if (!(size > 0.0)) return;
    motion made = { .is_mirrored = g->motion.is_mirrored, .cos_turn = re / size, .sin_turn = im / size };
    made.from = (sw_pt_mm){ made.is_mirrored ? -sx : sx, sy };
    made.at = (sw_pt_mm){ tx, ty };
    const sw_pt_mm from = g->motion.from; /* told by where the seed's middle goes */
    made.at = move(&made, from);
    made.from = from;
    g->motion = made;
}

static double gap_between(const sw_contour_measure *a, const sw_contour_measure *b)
{
    const double dx = sw_max(0.0, sw_max(a->min.x_mm - b->max.x_mm, b->min.x_mm - a->max.x_mm));
    const double dy = sw_max(0.0, sw_max(a->min.y_mm - b->max.y_mm, b->min.y_mm - a->max.y_mm));
    return hypot(dx, dy);
}

static bool is_member(const group *g, size_t i)
{
    for (size_t k = 0; k < g->n; k++) {
        if (g->at[k].original == i || g->at[k].copy == i) return true;
    }
    return false;
}

static bool is_linked(const work *w, const group *g, size_t i)
{
    const shape *const seed = &w->shapes[g->at[0].original];
    const double link_mm = LINK_RATIO * edge_apart(seed->m.min, seed->m.max);
    for (size_t k = 0; k < g->n; k++) {
        if (gap_between(&w->shapes[g->at[k].original].m, &w->shapes[i].m) <= link_mm) return true;
    }
    return false;
}

/* The opening that this one would come to lie on, or w->n. */
static size_t find_copy(const work *w, const group *g, size_t original)
{
    const shape *const s = &w->shapes[original];
    const sw_pt_mm middle = move(&g->motion, s->middle);
    double least = w->tolerance_mm + LOOSE_RATIO * edge_apart(s->middle, g->motion.from);
    size_t found = w->n;
    for (size_t i = 0; i < w->n; i++) {
        const shape *const c = &w->shapes[i];
        const double away = edge_apart(c->middle, middle);
        if (away > least || i == original || w->parts[i] != PART_NONE || c->edge.n < 3 || is_member(g, i)) continue;
        const double may_differ = w->tolerance_mm * sw_max(c->m.length_mm, s->m.length_mm);
        if (fabs(c->m.area_mm2 - s->m.area_mm2) > may_differ) continue;
        least = away;
        found = i;
    }
    return found;
}

static bool add_member(group *g, size_t original, size_t copy)
{
    void *data = g->at;
    if (!sw_grow(&data, &g->cap, g->n + 1, sizeof *g->at)) return false;
    g->at = data;
    g->at[g->n++] = (member){ .original = original, .copy = copy };
    return true;
}

/* Members that the fitted motion does not bring to their copies go, the worst one first, since it drew the fit away from
 * the others. False if the seed is one of them. */
static bool keep_true(const work *w, group *g)
{
    while (g->n > 0) {
        size_t worst = 0;
        for (size_t k = 0; k < g->n; k++) {
            member *const m = &g->at[k];
            m->off_mm = farthest(&w->shapes[m->original].edge, &w->shapes[m->copy].edge, &g->motion, WORST_RATIO * w->tolerance_mm);
            if (m->off_mm > g->at[worst].off_mm) worst = k;
        }
        if (g->at[worst].off_mm <= w->tolerance_mm) return true;
        if (worst == 0) return false;
        for (size_t k = worst + 1; k < g->n; k++) g->at[k - 1] = g->at[k];
        g->n--;
        for (int round = 0; round < MAX_FITS; round++) fit(w, g);
    }
    return false;
}

/* All that goes with one repeat. g is emptied first; g->n is 0 if the repeat itself is not free. False: no memory. */
static bool grow(const work *w, const sw_repeat *seed, group *g)
{
    g->n = 0;
    if (w->parts[seed->copy] != PART_NONE || w->parts[seed->original] == PART_COPY) return true;
    g->motion = (motion){ .is_mirrored = seed->is_mirrored,
                          .cos_turn = cos(seed->turn_rad),
                          .sin_turn = sin(seed->turn_rad),
                          .from = seed->original_at,
                          .at = seed->at };
    if (!add_member(g, seed->original, seed->copy)) return false;
    for (size_t before = 0; before < g->n;) {
        before = g->n;
        for (size_t i = 0; i < w->n; i++) {
            if (w->shapes[i].edge.n < 3 || w->parts[i] == PART_COPY || is_member(g, i) || !is_linked(w, g, i)) continue;
            const size_t copy = find_copy(w, g, i);
            if (copy < w->n && !add_member(g, i, copy)) return false;
        }
        for (int round = 0; g->n > 1 && round < MAX_FITS; round++) fit(w, g);
    }
    if (!keep_true(w, g)) g->n = 0;
    return true;
}

/* ---- the list again ------------------------------------------------------------------------------------ */

typedef struct proposal {
    size_t n, seed; /* members, and which repeat */
} proposal;

static int larger_first(const void *a, const void *b)
{
    const proposal *const p = a, *const q = b;
    if (p->n != q->n) return p->n > q->n ? -1 : 1;
    return p->seed < q->seed ? -1 : p->seed > q->seed;
}

static sw_status add_repeat(const work *w, sw_repeats *list, const sw_repeat *repeat, sw_note *note)
{
    void *data = list->at;
    if (!sw_grow(&data, &list->cap, list->n + 1, sizeof *list->at)) return sw_fail_memory(note, "the repeats");
    list->at = data;
    list->at[list->n++] = *repeat;
    list->saved_cut_mm += w->shapes[repeat->copy].m.length_mm;
    w->parts[repeat->copy] = PART_COPY;
    w->parts[repeat->original] = PART_ORIGINAL;
    return SW_OK;
}

static sw_status add_group(const work *w, const group *g, sw_repeats *list, sw_note *note)
{
    list->n_groups++;
    for (size_t k = 0; k < g->n; k++) {
        const sw_repeat repeat = { .copy = g->at[k].copy,
                                   .original = g->at[k].original,
                                   .is_mirrored = g->motion.is_mirrored,
                                   .turn_rad = atan2(g->motion.sin_turn, g->motion.cos_turn),
                                   .original_at = g->motion.from,
                                   .at = g->motion.at,
                                   .off_mm = g->at[k].off_mm,
                                   .group = list->n_groups };
        SW_TRY(add_repeat(w, list, &repeat, note));
    }
    return SW_OK;
}

/* Groups, the largest first, then what is left of the single repeats. */
static sw_status regroup(const work *w, const sw_repeats *singles, proposal *proposals, group *g, sw_repeats *out,
                         sw_note *note)
{
    for (size_t i = 0; i < singles->n; i++) {
        if (sw_is_interrupted()) return SW_INTERRUPTED;
        if (!grow(w, &singles->at[i], g)) return sw_fail_memory(note, "the repeats");
        proposals[i] = (proposal){ g->n, i };
    }
    qsort(proposals, singles->n, sizeof *proposals, larger_first);
    for (size_t i = 0; i < singles->n && proposals[i].n > 1; i++) {
        if (!grow(w, &singles->at[proposals[i].seed], g)) return sw_fail_memory(note, "the repeats");
        if (g->n > 1) SW_TRY(add_group(w, g, out, note));
    }
    for (size_t i = 0; i < singles->n; i++) {
        const sw_repeat *const one = &singles->at[i];
        if (w->parts[one->copy] == PART_NONE && w->parts[one->original] != PART_COPY) SW_TRY(add_repeat(w, out, one, note));
    }
    return SW_OK;
}

static bool fill_shape(const sw_contour *contour, double tolerance_mm, shape *s)
{
    s->m = sw_contour_measure_one(contour);
    if (!(s->m.area_mm2 > 0.0)) return true;
    if (!edge_fill(contour, tolerance_mm * 0.1, &s->edge)) return false;
    if (s->edge.n < 3) return true;
    s->middle = edge_middle(&s->edge);
    return edge_box(&s->edge);
}

sw_status sw_repeats_group(const sw_contours *openings, double tolerance_mm, sw_repeats *repeats, sw_note *note)
{
    sw_repeats made = { 0 };
    shape *shapes = NULL;
    part *parts = NULL;
    proposal *proposals = NULL;
    group g = { 0 };
    sw_status st = SW_OK;
    if (!sw_length_ok(tolerance_mm, false)) return sw_fail(note, SW_BAD_LENGTH, "the tolerance of repeats must be a length above 0");
    if (repeats->n == 0) return SW_OK;
    shapes = sw_alloc_array(openings->n, sizeof *shapes);
    parts = sw_alloc_array(openings->n, sizeof *parts);
    proposals = sw_alloc_array(repeats->n, sizeof *proposals);
    bool is_filled = shapes != NULL && parts != NULL && proposals != NULL;
    for (size_t i = 0; is_filled && i < openings->n; i++) is_filled = fill_shape(&openings->at[i], tolerance_mm, &shapes[i]);
    st = is_filled ? SW_OK : sw_fail_memory(note, "the repeats");
    const work w = { shapes, openings->n, tolerance_mm, parts };
    if (st == SW_OK) st = regroup(&w, repeats, proposals, &g, &made, note);
    if (st == SW_OK) {
        const sw_repeats old = *repeats;
        *repeats = made;
        made = old;
    }
    for (size_t i = 0; shapes != NULL && i < openings->n; i++) edge_free(&shapes[i].edge);
    sw_free(shapes);
    sw_free(parts);
    sw_free(proposals);
    sw_free(g.at);
    sw_repeats_free(&made);
    return st;
}
