/* Contours moved sideways, for the kerf.
 *
 * Parallels are made with loops where corners close (parallel.c). Loops turn against their contour; they are found as
 * crossings of a contour with itself and cut out (loops.c), and what crosses after that is not a matter of a corner but of
 * room: around those places the contours are made again with half the distance (hold.c), and half again; where no place
 * can be named or that does not help, the whole contour is. On convex shapes the area grows by Steiner's formula. */
#include "contour/offset.h"

#define LEAST_SHARE 0.01 /* of the distance: a contour that cannot move by more stays where it is */
#define N_LOCAL 8u       /* rounds in which a contour is held back in places alone, enough to come to rest there */
#define N_ROUNDS 32      /* of moving and halving; after that whatever is short stays where it is */
#define LONGEST_RATIO 50.0 /* of the tolerance: longest edge when crossings are looked for */
#define WALK_RATIO 0.03  /* of the tolerance: what the proof would see of a crossing, and less */
#define GAP_MM 0.02      /* edges nearer than two chords of the proof are off their curves, 0.01 each, count as crossing */
#define PROOF_WALK_MM 0.01 /* chords of the proof: at a tip, where the gap is not asked for, they may cross when curves do not */
#define TOUCH_MM 1e-6    /* and what it takes for one point, and more */
#define LEAST_WIDTH_MM 0.02 /* of a contour in the mean: what is narrower is as good as gone */
#define ROUND_MM 0.001   /* what the writers round to: crossings are looked for in curves rounded like that */
#define LOOP_RATIO 40.0 /* of the distance: longest loop that a corner makes; a tip of 6 degrees has 38 */

typedef struct crossings {
    crossing *at;
    size_t n, cap;
} crossings;

static bool keep(void *ctx, const crossing *c)
{
    crossings *const list = ctx;
    void *at = list->at;
    if (!sw_grow(&at, &list->cap, list->n + 1, sizeof *list->at)) return false;
    list->at = at;
    list->at[list->n++] = *c;
    return true;
}

/* Points without room, of one contour. */
typedef struct spots {
    pt *at;
    size_t n, cap;
} spots;

typedef struct moving {
    const sw_contours *in;
    double delta, tolerance;
    hold *holds;     /* one a contour */
    bool *is_short;  /* has to be moved by less */
    bool *is_whole;  /* all of it, for want of a spot */
    bool *is_raw;    /* no loops were cut out of it */
    spots *spots;    /* one a contour */
} moving;

static bool add_spot(moving *m, size_t contour, pt p)
{
    spots *const s = &m->spots[contour];
    void *at = s->at;
    m->is_short[contour] = true;
    if (!sw_grow(&at, &s->cap, s->n + 1, sizeof *s->at)) return false;
    s->at = at;
    s->at[s->n++] = p;
    return true;
}

static pt point_on(const sw_contour *c, size_t segment, double t)
{
    const bezier b = segment_of(c, segment);
    return bezier_point(&b, t);
}

static bool moves_as_asked(const sw_contour *before, const sw_contour *after, double delta)
{
    if (delta == 0.0) return true;
    const double a = sw_contour_extent(before).area_mm2;
    const sw_contour_measure m = sw_contour_measure_one(after);
    const double change = m.area_mm2 - a;
    if (2.0 * fabs(m.area_mm2) < LEAST_WIDTH_MM * m.length_mm) return false; /* nothing but a sliver is left */
    return after->n_segs >= 2 && (a > 0.0) == (m.area_mm2 > 0.0) && (change > 0.0) == (delta > 0.0);
}

/* True if one loop begins in the other and ends outside it. */
static bool do_overlap(const loop *a, const loop *b)
{
    return a->from.at < b->from.at && b->from.at < a->to.at && a->to.at < b->to.at;
}

/* Spots where loops that overlap begin; the whole contour if none does. */
static bool add_overlaps(moving *m, size_t i, const sw_contour *c, const crossings *found, double length)
{
    m->is_short[i] = m->is_whole[i] = true;
    for (size_t k = 0; k < found->n; k++) {
        const crossing *const x = &found->at[k];
        if (x->a.contour != i || x->b.contour != i) continue;
        const loop one = loop_of(c, x, length);
        bool is_any = false;
        for (size_t j = 0; j < found->n && !is_any; j++) {
            if (j == k || found->at[j].a.contour != i || found->at[j].b.contour != i) continue;
            const loop other = loop_of(c, &found->at[j], length);
            is_any = do_overlap(&one, &other) || do_overlap(&other, &one);
        }
        if (is_any && !add_spot(m, i, point_on(c, x->a.segment, x->a.t))) return false;
        if (is_any) m->is_whole[i] = false;
    }
    return true;
}

/* Sort the crossings of one raw parallel into loops and cut them. False: out of memory. */
static bool clean_one(moving *m, size_t i, const sw_contour *c, const crossings *found, loop *loops, sw_contour *made)
{
    const double length = sw_contour_measure_one(c).length_mm, share = hold_most(&m->holds[i]);
    const double longest_loop = sw_min(LOOP_RATIO * fabs(m->delta * share), 0.4 * length);
    size_t n = 0;
    bool is_ok = true, has_room = true;
    for (size_t k = 0; k < found->n && is_ok; k++) {
        const crossing *const x = &found->at[k];
        if (x->a.contour != i || x->b.contour != i) continue;
        loops[n] = loop_of(c, x, length);
        if (loops[n].length > longest_loop) is_ok = add_spot(m, i, point_on(c, x->a.segment, x->a.t));
        n++;
    }
    if (n == 0 || m->is_short[i]) is_ok = is_ok && add_stretch(made, c, 0.0, (double)c->n_segs);
    else is_ok = is_ok && cut_loops(c, loops, n, made, &has_room);
    if (n == 0) made->start = c->start;
    if (!has_room) is_ok = is_ok && add_overlaps(m, i, c, found, length);
    m->is_raw[i] = m->is_short[i];
    is_ok = is_ok && (share == 0.0 || tidy_parallel(made, m->tolerance));
    if (!moves_as_asked(&m->in->at[i], made, m->delta * share)) m->is_short[i] = m->is_whole[i] = true;
    return is_ok;
}

static bool clean(moving *m, const sw_contours *raw, sw_contours *out)
{
    crossings found = { 0 };
    loop *loops = NULL;
    const crossing_walk how = { 0.1 * m->tolerance, LONGEST_RATIO * m->tolerance, 0.15 * m->tolerance };
    bool is_ok = visit_crossings(raw, &how, keep, &found);
    loops = sw_alloc_array(found.n + 1, sizeof *loops);
    is_ok = is_ok && loops != NULL;
    for (size_t i = 0; i < raw->n && is_ok; i++) {
        sw_contour made = { 0 };
        is_ok = clean_one(m, i, &raw->at[i], &found, loops, &made) && sw_contours_take(out, &made, NULL) == SW_OK;
        sw_contour_free(&made);
    }
    sw_free(loops);
    sw_free(found.at);
    return is_ok;
}

typedef struct marking {
    moving *m;
    const sw_contours *walked; /* the curves that crossings are told of */
} marking;

static bool mark_both(void *ctx, const crossing *c)
{
    const marking *const k = ctx;
    moving *const m = k->m;
    if (c->a.contour == c->b.contour && m->is_raw[c->a.contour]) return true; /* its loops are in it still */
    return add_spot(m, c->a.contour, point_on(&k->walked->at[c->a.contour], c->a.segment, c->a.t)) &&
           add_spot(m, c->b.contour, point_on(&k->walked->at[c->b.contour], c->b.segment, c->b.t));
}

/* Mark contours that cross themselves or another once rounded. */
static bool mark_crossings(moving *m, const sw_contours *moved_list)
{
    sw_contours rounded = { 0 };
    if (sw_contours_copy(moved_list, &rounded, NULL) != SW_OK) return false;
    sw_contours_round(&rounded, ROUND_MM);
    marking both = { m, &rounded };
    const crossing_walk how = { WALK_RATIO * m->tolerance, LONGEST_RATIO * m->tolerance, GAP_MM };
    const crossing_walk proof = { PROOF_WALK_MM, LONGEST_RATIO * m->tolerance, TOUCH_MM };
    const bool is_ok = visit_crossings(&rounded, &how, mark_both, &both) &&
                       visit_crossings(&rounded, &proof, mark_both, &both);
    sw_contours_free(&rounded);
    return is_ok;
}

/* Even-odd test of a point against a walked contour: crossings of the ray to the right. On an edge: either way. */
typedef struct ray {
    sw_pt_mm from, last, first;
    bool has_last, is_inside;
} ray;

static void cross_edge(ray *r, sw_pt_mm a, sw_pt_mm b)
{
    if ((a.y_mm > r->from.y_mm) == (b.y_mm > r->from.y_mm)) return;
    const double x = a.x_mm + (r->from.y_mm - a.y_mm) / (b.y_mm - a.y_mm) * (b.x_mm - a.x_mm);
    if (x > r->from.x_mm) r->is_inside = !r->is_inside;
}

static bool ray_point(void *ctx, sw_pt_mm p)
{
    ray *const r = ctx;
    if (r->has_last) cross_edge(r, r->last, p);
    else r->first = p;
    r->has_last = true;
    r->last = p;
    return true;
}

static bool is_inside(const sw_contour *c, const sw_contour_measure *box, sw_pt_mm p, double tolerance)
{
    if (p.x_mm < box->min.x_mm || p.x_mm > box->max.x_mm || p.y_mm < box->min.y_mm || p.y_mm > box->max.y_mm) return false;
    ray r = { .from = p };
    (void)sw_contour_flatten(c, tolerance, ray_point, &r);
    cross_edge(&r, r.last, r.first);
    return r.is_inside;
}

/* Contours that do not cross may still have passed through each other: what lies in what has to be as before. */
static bool compare_nesting(const moving *m, const sw_contours *out)
{
    const size_t n = out->n;
    sw_contour_measure *const before = sw_alloc_array(n, sizeof *before), *const after = sw_alloc_array(n, sizeof *after);
    const bool is_ok = before != NULL && after != NULL;
    for (size_t i = 0; i < n && is_ok; i++) {
        before[i] = sw_contour_extent(&m->in->at[i]);
        after[i] = sw_contour_extent(&out->at[i]);
    }
    for (size_t i = 0; i < n && is_ok; i++) {
        for (size_t j = 0; j < n; j++) {
            if (i == j || is_inside(&m->in->at[j], &before[j], m->in->at[i].start, m->tolerance) ==
                              is_inside(&out->at[j], &after[j], out->at[i].start, m->tolerance))
                continue;
            m->is_short[i] = m->is_short[j] = m->is_whole[i] = m->is_whole[j] = true;
        }
    }
    sw_free(before);
    sw_free(after);
    return is_ok;
}

/* One round: parallels, loops cut, and what is short of room marked. */
static bool move_all(moving *m, sw_contours *out, size_t *n_short)
{
    sw_contours raw = { 0 };
    bool is_ok = true;
    for (size_t i = 0; i < m->in->n && is_ok; i++) {
        sw_contour made = { 0 };
        const hold *const h = &m->holds[i];
        m->is_short[i] = m->is_whole[i] = m->is_raw[i] = false;
        m->spots[i].n = 0;
        if (hold_most(h) > 0.0) {
            is_ok = make_parallel(&h->c, m->delta, h->share, m->tolerance, &made);
        } else { /* stays where it is */
            made.start = m->in->at[i].start;
            is_ok = add_stretch(&made, &m->in->at[i], 0.0, (double)m->in->at[i].n_segs);
        }
        is_ok = is_ok && sw_contours_take(&raw, &made, NULL) == SW_OK;
        sw_contour_free(&made);
    }
    is_ok = is_ok && clean(m, &raw, out) && mark_crossings(m, out) && compare_nesting(m, out);
    *n_short = 0;
    for (size_t i = 0; i < m->in->n && is_ok; i++) *n_short += m->is_short[i] && hold_most(&m->holds[i]) > 0.0;
    sw_contours_free(&raw);
    return is_ok;
}

/* Less distance for what was short of room. */
static bool hold_back(moving *m, size_t round)
{
    for (size_t i = 0; i < m->in->n; i++) {
        hold *const h = &m->holds[i];
        if (!m->is_short[i]) continue;
        const double least = round < N_ROUNDS ? LEAST_SHARE : 1.0;
        if (m->is_whole[i] || h->n_local == N_LOCAL || round >= N_ROUNDS) {
            hold_all(h, least);
        } else {
            h->n_local++;
            if (!hold_near(h, m->spots[i].at, m->spots[i].n, fabs(m->delta), least)) return false;
        }
    }
    return true;
}

static void free_moving(moving *m)
{
    for (size_t i = 0; i < m->in->n; i++) {
        if (m->holds != NULL) hold_free(&m->holds[i]);
        if (m->spots != NULL) sw_free(m->spots[i].at);
    }
    sw_free(m->holds);
    sw_free(m->spots);
    sw_free(m->is_short);
    sw_free(m->is_whole);
    sw_free(m->is_raw);
}

static bool begin_moving(moving *m)
{
    const size_t n = m->in->n;
    m->holds = sw_alloc_array(n, sizeof *m->holds);
    m->spots = sw_alloc_array(n, sizeof *m->spots);
    m->is_short = sw_alloc_array(n, sizeof *m->is_short);
    m->is_whole = sw_alloc_array(n, sizeof *m->is_whole);
    m->is_raw = sw_alloc_array(n, sizeof *m->is_raw);
    bool is_ok = m->holds != NULL && m->spots != NULL && m->is_short != NULL && m->is_whole != NULL &&
                 m->is_raw != NULL;
    for (size_t i = 0; i < n && is_ok; i++) is_ok = hold_make(&m->in->at[i], &m->holds[i]);
    return is_ok;
}

sw_status sw_contours_offset(const sw_contours *in, double delta_mm, double tolerance_mm, size_t *n_held_back,
                             sw_contours *out, sw_note *note)
{
    if (!sw_length_ok(fabs(delta_mm), true) || !sw_length_ok(tolerance_mm, false))
        return sw_fail(note, SW_BAD_LENGTH, "the kerf and its tolerance must be lengths of 0 to 200m");
    bool is_whole = true;
    for (size_t i = 0; i < in->n; i++) is_whole = is_whole && in->at[i].n_segs >= 2;
    if (!is_whole) return sw_fail(note, SW_BAD_LENGTH, "a contour without an inside cannot be moved");
    if (in->n == 0 || delta_mm == 0.0) {
        if (n_held_back != NULL) *n_held_back = 0;
        return sw_contours_copy(in, out, note);
    }
    sw_contours made = { 0 };
    moving m = { .in = in, .delta = delta_mm, .tolerance = tolerance_mm };
    bool is_ok = begin_moving(&m);
    size_t n_short = 1, n_held = 0;
    for (size_t round = 0; n_short > 0 && is_ok; round++) { /* ends: in time each round moves a contour less, or none any more */
        sw_contours_free(&made);
        is_ok = move_all(&m, &made, &n_short) && (n_short == 0 || hold_back(&m, round));
    }
    for (size_t i = 0; i < in->n && is_ok; i++) n_held += hold_least(&m.holds[i]) < 1.0;
    free_moving(&m);
    if (!is_ok) {
        sw_contours_free(&made);
        return sw_fail_memory(note, "the kerf");
    }
    if (n_held_back != NULL) *n_held_back = n_held;
    *out = made;
    return SW_OK;
}
