/* Openings that repeat together, like a leaf and its veins: one motion brings all of them to their copies.
 *
 * Every single repeat proposes its motion. Openings near its original that the same motion brings onto an opening join
 * it, and the motion is fitted again to all of them (closest points, Besl and McKay 1992), because the turn of one small
 * shape says little about what lies beside it. The largest proposals are taken first; what is left stays single. */
#include "layout/edge.h"

#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#define N_SAMPLES 48u       /* points of a member that the motion is fitted to ... */
#define N_SAMPLES_ALL 1024u /* ... and of all together: where there are many, fewer of each, and then of every so many-th */
#define N_SAMPLES_LEAST 6u
#define MAX_FITS 6
#define WORST_SHARE 4u      /* of the members that are off the worst such part goes before the fit */
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

/* What a group's members make of a shape. */
enum { MARK_MEMBER = 1, MARK_LINKED = 2 };

typedef struct group {
    member *at;     /* the seed first */
    size_t n, cap;
    motion motion;
    uint8_t *marks; /* of each shape */
} group;

/* Where a shape's middle is. */
typedef struct spot {
    double x_mm;
    size_t index;
} spot;

typedef struct work {
    const shape *shapes;
    size_t n;
    double tolerance_mm;
    part *parts;
    spot *spots;        /* of shapes that can be members, from left to right */
    size_t n_spots;
    double farthest_mm; /* that one reaches to the left or right of its middle */
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
    size_t stretch = 0;
    for (size_t i = 0; i < original->n && worst <= limit_mm; i++) {
        const sw_pt_mm p = move(t, original->at[i]);
        edge_nearest(copy, p, &stretch, &away_sq);
        worst = sw_max(worst, sqrt(away_sq));
    }
    for (size_t i = 0; i < copy->n && worst <= limit_mm; i++) {
        const sw_pt_mm p = move_back(t, copy->at[i]);
        edge_nearest(original, p, &stretch, &away_sq);
        worst = sw_max(worst, sqrt(away_sq));
    }
    return worst;
}

/* One round of closest points over all members, or every so many-th. */
static void fit(const work *w, group *g)
{
    sw_pt_mm from[N_SAMPLES_ALL], to[N_SAMPLES_ALL], from_sum = { 0 }, to_sum = { 0 };
    const size_t each = sw_max_size(N_SAMPLES_LEAST, sw_min_size(N_SAMPLES, N_SAMPLES_ALL / g->n));
    const size_t every = (g->n * each + N_SAMPLES_ALL - 1) / N_SAMPLES_ALL;
    size_t n = 0;
    for (size_t k = 0; k < g->n && n + each <= N_SAMPLES_ALL; k += every) {
        const edge *const s = &w->shapes[g->at[k].original].edge, *const c = &w->shapes[g->at[k].copy].edge;
        size_t stretch = 0;
        for (size_t i = 0; i < each; i++, n++) {
            double away_sq;
            const sw_pt_mm p = s->at[i * s->n / each];
            to[n] = edge_nearest(c, move(&g->motion, p), &stretch, &away_sq);
            from[n] = (sw_pt_mm){ g->motion.is_mirrored ? -p.x_mm : p.x_mm, p.y_mm };
            from_sum = (sw_pt_mm){ from_sum.x_mm + from[n].x_mm, from_sum.y_mm + from[n].y_mm };
            to_sum = (sw_pt_mm){ to_sum.x_mm + to[n].x_mm, to_sum.y_mm + to[n].y_mm };
        }
    }
    const sw_pt_mm s = { from_sum.x_mm / (double)n, from_sum.y_mm / (double)n }, t = { to_sum.x_mm / (double)n, to_sum.y_mm / (double)n };
    double re = 0.0, im = 0.0; /* of the turn about both middles */
    for (size_t i = 0; i < n; i++) {
        re += (from[i].x_mm - s.x_mm) * (to[i].x_mm - t.x_mm) + (from[i].y_mm - s.y_mm) * (to[i].y_mm - t.y_mm);
        im += (from[i].x_mm - s.x_mm) * (to[i].y_mm - t.y_mm) - (from[i].y_mm - s.y_mm) * (to[i].x_mm - t.x_mm);
    }
    const double size = sw_hypot(re, im);
    if (!(size > 0.0)) return;
    motion made = { .is_mirrored = g->motion.is_mirrored, .cos_turn = re / size, .sin_turn = im / size, .at = t };
    made.from = (sw_pt_mm){ made.is_mirrored ? -s.x_mm : s.x_mm, s.y_mm };
    const sw_pt_mm seed = g->motion.from; /* told by where the seed's middle goes */
    made.at = move(&made, seed);
    made.from = seed;
    g->motion = made;
}

static double gap_between(const sw_contour_measure *a, const sw_contour_measure *b)
{
    const double dx = sw_max(0.0, sw_max(a->min.x_mm - b->max.x_mm, b->min.x_mm - a->max.x_mm));
    const double dy = sw_max(0.0, sw_max(a->min.y_mm - b->max.y_mm, b->min.y_mm - a->max.y_mm));
    return sw_hypot(dx, dy);
}

/* The first spot at x or right of it. */
static size_t spot_from(const work *w, double x_mm)
{
    size_t low = 0, high = w->n_spots;
    while (low < high) {
        const size_t middle = (low + high) / 2;
        if (w->spots[middle].x_mm < x_mm) low = middle + 1;
        else high = middle;
    }
    return low;
}

/* The opening that this one would come to lie on, or w->n. */
static size_t find_copy(const work *w, const group *g, size_t original)
{
    const shape *const s = &w->shapes[original];
    const sw_pt_mm middle = move(&g->motion, s->middle);
    double least = w->tolerance_mm + LOOSE_RATIO * edge_apart(s->middle, g->motion.from);
    const double right_mm = middle.x_mm + least;
    size_t found = w->n;
    for (size_t k = spot_from(w, middle.x_mm - least); k < w->n_spots && w->spots[k].x_mm <= right_mm; k++) {
        const size_t i = w->spots[k].index;
        const shape *const c = &w->shapes[i];
        const double away = edge_apart(c->middle, middle);
        if (away > least || (away == least && found < w->n && i < found) || i == original) continue;
        if (w->parts[i] != PART_NONE || (g->marks[i] & MARK_MEMBER) != 0) continue;
        const double may_differ = w->tolerance_mm * sw_max(c->m.length_mm, s->m.length_mm);
        if (fabs(c->m.area_mm2 - s->m.area_mm2) > may_differ) continue;
        least = away;
        found = i;
    }
    return found;
}

/* Openings beside a member are linked to the group. */
static void link_beside(const work *w, group *g, size_t original)
{
    const shape *const seed = &w->shapes[g->at[0].original], *const s = &w->shapes[original];
    const double link_mm = LINK_RATIO * edge_apart(seed->m.min, seed->m.max), reach_mm = link_mm + w->farthest_mm;
    for (size_t k = spot_from(w, s->m.min.x_mm - reach_mm); k < w->n_spots; k++) {
        const size_t i = w->spots[k].index;
        if (w->spots[k].x_mm > s->m.max.x_mm + reach_mm) break;
        if (gap_between(&s->m, &w->shapes[i].m) <= link_mm) g->marks[i] |= MARK_LINKED;
    }
}

static bool add_member(const work *w, group *g, size_t original, size_t copy)
{
    void *data = g->at;
    if (!sw_grow(&data, &g->cap, g->n + 1, sizeof *g->at)) return false;
    g->at = data;
    g->at[g->n++] = (member){ .original = original, .copy = copy };
    g->marks[original] |= MARK_MEMBER;
    g->marks[copy] |= MARK_MEMBER;
    link_beside(w, g, original);
    return true;
}

static void take_out(group *g, size_t k)
{
    memmove(&g->at[k], &g->at[k + 1], (g->n - k - 1) * sizeof *g->at);
    g->n--;
}

/* How far off each member is; the worst one. *n_off: how many farther than the tolerance. */
static size_t judge(const work *w, group *g, size_t *n_off)
{
    size_t worst = 0;
    *n_off = 0;
    for (size_t k = 0; k < g->n; k++) {
        member *const m = &g->at[k];
        m->off_mm = farthest(&w->shapes[m->original].edge, &w->shapes[m->copy].edge, &g->motion, WORST_RATIO * w->tolerance_mm);
        *n_off += m->off_mm > w->tolerance_mm;
        if (m->off_mm > g->at[worst].off_mm) worst = k;
    }
    return worst;
}

/* Members that the fitted motion does not bring to their copies go, the worst first, since they drew the fit away from
 * the others. False if the seed is the worst. */
static bool keep_true(const work *w, group *g)
{
    for (;;) {
        size_t n_off, worst = judge(w, g, &n_off);
        if (n_off == 0) return true;
        if (worst == 0) return false;
        take_out(g, worst);
        for (size_t n_out = 1; n_out < n_off / WORST_SHARE; n_out++) { /* the seed is looked at again after the fit */
            worst = 1;
            for (size_t k = 2; k < g->n; k++) worst = g->at[k].off_mm > g->at[worst].off_mm ? k : worst;
            take_out(g, worst);
        }
        for (int round = 0; round < MAX_FITS; round++) fit(w, g);
    }
}

/* All that may go with one repeat. g is emptied first; g->n is 0 if the repeat itself is not free. False: no memory. */
static bool grow(const work *w, const sw_repeat *seed, group *g)
{
    g->n = 0;
    if (w->parts[seed->copy] != PART_NONE || w->parts[seed->original] == PART_COPY) return true;
    memset(g->marks, 0, w->n);
    g->motion = (motion){ .is_mirrored = seed->is_mirrored,
                          .cos_turn = cos(seed->turn_rad),
                          .sin_turn = sin(seed->turn_rad),
                          .from = seed->original_at,
                          .at = seed->at };
    if (!add_member(w, g, seed->original, seed->copy)) return false;
    for (size_t before = 0; before < g->n;) {
        before = g->n;
        for (size_t i = 0; i < w->n; i++) {
            if (g->marks[i] != MARK_LINKED || w->parts[i] == PART_COPY) continue;
            const size_t copy = find_copy(w, g, i);
            if (copy < w->n && !add_member(w, g, i, copy)) return false;
        }
        for (int round = 0; g->n > 1 && round < MAX_FITS; round++) fit(w, g);
    }
    return true;
}

/* ---- the list again ------------------------------------------------------------------------------------ */

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

/* How large the group of each repeat may be: members are not looked at closely. */
typedef struct guess_job {
    const work *w;
    const sw_repeats *singles;
    size_t *most;
    atomic_bool is_out_of_memory;
} guess_job;

static void guess_some(size_t begin, size_t end, void *ctx)
{
    guess_job *const job = ctx;
    group g = { .marks = sw_alloc_array(job->w->n, 1) };
    bool is_ok = g.marks != NULL;
    for (size_t i = begin; i < end && is_ok && !sw_is_interrupted(); i++) {
        is_ok = grow(job->w, &job->singles->at[i], &g);
        job->most[i] = g.n;
    }
    if (!is_ok) atomic_store(&job->is_out_of_memory, true);
    sw_free(g.marks);
    sw_free(g.at);
}

/* Groups, the largest first: one that comes out smaller than it may be waits until there is none that may be larger. Then
 * what is left of the single repeats. */
static sw_status regroup(const work *w, const sw_repeats *singles, size_t *most, group *g, sw_repeats *out, sw_note *note)
{
    size_t size = 0;
    if (sw_is_interrupted()) return SW_INTERRUPTED;
    for (size_t i = 0; i < singles->n; i++) size = sw_max_size(size, most[i]);
    for (; size > 1; size--) {
        for (size_t i = 0; i < singles->n; i++) {
            if (most[i] != size) continue;
            if (sw_is_interrupted()) return SW_INTERRUPTED;
            if (!grow(w, &singles->at[i], g)) return sw_fail_memory(note, "the repeats");
            most[i] = g->n < size || keep_true(w, g) ? g->n : 0;
            if (most[i] >= size) SW_TRY(add_group(w, g, out, note));
        }
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

static int compare_spots(const void *a, const void *b)
{
    const spot *const p = a, *const q = b;
    if (p->x_mm != q->x_mm) return p->x_mm < q->x_mm ? -1 : 1;
    return p->index < q->index ? -1 : p->index > q->index;
}

/* What is looked for again and again. False when memory is out. */
static bool fill_work(const sw_contours *openings, work *w, shape *shapes)
{
    w->parts = sw_alloc_array(w->n, sizeof *w->parts);
    w->spots = sw_alloc_array(w->n, sizeof *w->spots);
    if (w->parts == NULL || w->spots == NULL) return false;
    for (size_t i = 0; i < w->n; i++) {
        shape *const s = &shapes[i];
        if (!fill_shape(&openings->at[i], w->tolerance_mm, s)) return false;
        if (s->edge.n < 3) continue;
        w->spots[w->n_spots++] = (spot){ s->middle.x_mm, i };
        w->farthest_mm = sw_max(w->farthest_mm, sw_max(s->m.max.x_mm - s->middle.x_mm, s->middle.x_mm - s->m.min.x_mm));
    }
    if (w->n_spots > 1) qsort(w->spots, w->n_spots, sizeof *w->spots, compare_spots);
    return true;
}

sw_status sw_repeats_group(const sw_contours *openings, double tolerance_mm, sw_repeats *repeats, sw_note *note)
{
    sw_repeats made = { 0 };
    group g = { 0 };
    if (!sw_length_ok(tolerance_mm, false)) return sw_fail(note, SW_BAD_LENGTH, "the tolerance of repeats must be a length above 0");
    if (repeats->n == 0) return SW_OK;
    shape *const shapes = sw_alloc_array(openings->n, sizeof *shapes);
    size_t *const most = sw_alloc_array(repeats->n, sizeof *most);
    work w = { .shapes = shapes, .n = openings->n, .tolerance_mm = tolerance_mm };
    guess_job job = { .w = &w, .singles = repeats, .most = most };
    g.marks = sw_alloc_array(openings->n, 1);
    sw_status st = SW_NO_MEMORY;
    if (shapes != NULL && most != NULL && g.marks != NULL && fill_work(openings, &w, shapes)) {
        sw_parallel_bands(repeats->n, 8, guess_some, &job);
        if (!atomic_load(&job.is_out_of_memory)) st = regroup(&w, repeats, most, &g, &made, note);
    }
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "the repeats");
    if (st == SW_OK) {
        const sw_repeats old = *repeats;
        *repeats = made;
        made = old;
    }
    for (size_t i = 0; shapes != NULL && i < openings->n; i++) edge_free(&shapes[i].edge);
    sw_free(shapes);
    sw_free(most);
    sw_free(w.parts);
    sw_free(w.spots);
    sw_free(g.marks);
    sw_free(g.at);
    sw_repeats_free(&made);
    return st;
}
