/* Openings that are copies or mirror images of each other.
 *
 * Each opening gets a profile: area, length, how its edge spreads about its middle along two axes, how near it comes to
 * the middle and how far from it it goes, how far it reaches in every direction, and points evenly spaced along the edge.
 * What a copy within a tolerance may differ in there sorts out nearly all pairs. For the rest the best turn is looked for
 * over all starting points of the second edge at once (for a given start the best turn is the argument of a complex sum),
 * refined by closest points, and judged by the distance of the true edges. */
#include "layout/edge.h"
#include "layout/support.h"

#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#define N_POINTS 96u       /* evenly spaced along each edge, for the turn alone */
#define N_SIDE_BY_SIDE 8u   /* starts tried together; they divide N_POINTS */
#define MAX_ROUNDS 12      /* of refinement; four are usual */
#define REACH_SLACK 1.2    /* tolerances: one for the edge, the rest for its chords */
#define LENGTH_SLACK 0.05  /* lengths of two copies may differ by this share: small waves add length but not shape */

typedef struct profile {
    edge edge;                  /* about its middle */
    sw_pt_mm middle;            /* of area */
    double area_mm2, length_mm;
    double wide_mm, slim_mm;    /* root mean square distance of the edge from the middle along its two axes */
    double near_mm, far_mm;     /* least and largest distance */
    support support;
    sw_pt_mm points[N_POINTS];  /* about the middle */
    bool is_used;
    bool is_copy;
} profile;

/* A flip, then a turn about the middle, then a small shift. */
typedef struct pose {
    bool is_mirrored;
    double cos_turn, sin_turn, dx, dy;
} pose;

/* ---- profiles ----------------------------------------------------------------------------------- */

static void space_evenly(profile *p)
{
    double length = 0.0;
    for (size_t i = 0; i < p->edge.n; i++) length += edge_apart(p->edge.at[i], edge_corner(&p->edge, i + 1));
    size_t i = 0;
    double passed = 0.0;
    for (size_t k = 0; k < N_POINTS; k++) {
        const double wanted = length * (double)k / N_POINTS;
        double side = edge_apart(p->edge.at[i], edge_corner(&p->edge, i + 1));
        while (passed + side < wanted && i + 1 < p->edge.n) {
            passed += side;
            i++;
            side = edge_apart(p->edge.at[i], edge_corner(&p->edge, i + 1));
        }
        p->points[k] = edge_mix(p->edge.at[i], edge_corner(&p->edge, i + 1), side > 0.0 ? (wanted - passed) / side : 0.0);
    }
}

/* Spread along the principal axes, from the second moments of the edge's sides (exact for straight sides). */
static void measure_spread(profile *p)
{
    double xx = 0.0, xy = 0.0, yy = 0.0, length = 0.0;
    for (size_t i = 0; i < p->edge.n; i++) {
        const sw_pt_mm a = p->edge.at[i], b = edge_corner(&p->edge, i + 1);
        const double side = edge_apart(a, b) / 3.0;
        xx += side * (a.x_mm * a.x_mm + a.x_mm * b.x_mm + b.x_mm * b.x_mm);
        yy += side * (a.y_mm * a.y_mm + a.y_mm * b.y_mm + b.y_mm * b.y_mm);
        xy += side * (a.x_mm * a.y_mm + b.x_mm * b.y_mm + 0.5 * (a.x_mm * b.y_mm + b.x_mm * a.y_mm));
        length += side * 3.0;
    }
    const double mean = (xx + yy) / (2.0 * length), apart = sw_hypot((xx - yy) / (2.0 * length), xy / length);
    p->wide_mm = sqrt(mean + apart);
    p->slim_mm = sqrt(sw_max(mean - apart, 0.0));
}

/* Of the straight sides, which are within a tenth of the tolerance of the curve. */
static void measure_reach(profile *p)
{
    size_t stretch = 0;
    double near_sq;
    (void)edge_nearest(&p->edge, (sw_pt_mm){ 0.0, 0.0 }, &stretch, &near_sq);
    p->near_mm = sqrt(near_sq);
    for (size_t i = 0; i < p->edge.n; i++) p->far_mm = sw_max(p->far_mm, sw_hypot(p->edge.at[i].x_mm, p->edge.at[i].y_mm));
}

/* False when memory is out. */
static bool fill_profile(const sw_contour *contour, double tolerance_mm, double min_size_mm, profile *p)
{
    const sw_contour_measure m = sw_contour_measure_one(contour);
    p->area_mm2 = m.area_mm2;
    p->length_mm = m.length_mm;
    /* what runs the other way round is an island: it goes with the opening around it */
    if (!(m.area_mm2 > 0.0) || (m.max.x_mm - m.min.x_mm < min_size_mm && m.max.y_mm - m.min.y_mm < min_size_mm))
        return true;
    if (!edge_fill(contour, tolerance_mm * 0.1, &p->edge)) return false;
    if (p->edge.n < 3) return true;
    p->middle = edge_middle(&p->edge);
    for (size_t i = 0; i < p->edge.n; i++) {
        p->edge.at[i].x_mm -= p->middle.x_mm;
        p->edge.at[i].y_mm -= p->middle.y_mm;
    }
    if (!edge_box(&p->edge) || !support_fill(&p->edge, &p->support)) return false;
    space_evenly(p);
    measure_spread(p);
    measure_reach(p);
    p->is_used = true;
    return true;
}

/* What sorts out pairs, of one opening. */
typedef struct key {
    double area_mm2, length_mm, wide_mm, slim_mm, near_mm, far_mm;
    size_t index;
} key;

static key key_of(const profile *profiles, size_t i)
{
    const profile *const p = &profiles[i];
    return (key){ p->area_mm2, p->length_mm, p->wide_mm, p->slim_mm, p->near_mm, p->far_mm, i };
}

/* Can one be the other within the tolerance? Moving an edge by no more than t changes the area by at most about length
 * times t, and the spread by at most t for the edge and t for the middle. The middle itself moves by at most the mean of
 * the edge's distance from it times length times t over area. */
static bool can_match(const key *a, const key *b, double t)
{
    const double reach = t * (REACH_SLACK + sw_max(a->length_mm * a->wide_mm / a->area_mm2, b->length_mm * b->wide_mm / b->area_mm2));
    return fabs(a->far_mm - b->far_mm) <= reach && fabs(a->near_mm - b->near_mm) <= reach &&
           fabs(a->area_mm2 - b->area_mm2) <= t * sw_max(a->length_mm, b->length_mm) + 4.0 * t * t &&
           fabs(a->length_mm - b->length_mm) <= LENGTH_SLACK * a->length_mm + 8.0 * t &&
           fabs(a->wide_mm - b->wide_mm) <= LENGTH_SLACK * a->wide_mm + 2.0 * t &&
           fabs(a->slim_mm - b->slim_mm) <= LENGTH_SLACK * a->wide_mm + 2.0 * t;
}

/* How far the area of anything that can match may be from b's. */
static double area_reach(const key *b, double t)
{
    return t * (b->length_mm + 8.0 * t) / (1.0 - LENGTH_SLACK) + 4.0 * t * t;
}

/* ---- the turn ----------------------------------------------------------------------------------- */

static sw_pt_mm place(const pose *p, sw_pt_mm q)
{
    const double x = p->is_mirrored ? -q.x_mm : q.x_mm;
    return (sw_pt_mm){ p->cos_turn * x - p->sin_turn * q.y_mm + p->dx, p->sin_turn * x + p->cos_turn * q.y_mm + p->dy };
}

/* Sums of conj(a) b over all points, for starts one after the other. */
SW_WIDE static void correlate(const double *ax, const double *ay, const double *bx, const double *by, double *re, double *im)
{
    for (size_t s = 0; s < N_SIDE_BY_SIDE; s++) re[s] = im[s] = 0.0;
    for (size_t k = 0; k < N_POINTS; k++) {
        for (size_t s = 0; s < N_SIDE_BY_SIDE; s++) {
            re[s] += ax[k] * bx[k + s] + ay[k] * by[k + s];
            im[s] += ax[k] * by[k + s] - ay[k] * bx[k + s];
        }
    }
}

/* Best pose over all starts: for start s the sum of conj(a) b over matching points is largest in size at the turn that
 * fits best. A mirrored edge is walked backwards. */
static pose first_pose(const profile *a, const profile *b, bool is_mirrored)
{
    double best = -1.0, re[N_SIDE_BY_SIDE], im[N_SIDE_BY_SIDE];
    pose made = { .is_mirrored = is_mirrored, .cos_turn = 1.0 };
    double ax[N_POINTS], ay[N_POINTS], bx[2 * N_POINTS], by[2 * N_POINTS]; /* a's in b's order; b's, so that every start goes on */
    for (size_t k = 0; k < N_POINTS; k++) {
        const sw_pt_mm p = a->points[is_mirrored ? N_POINTS - 1 - k : k];
        ax[k] = is_mirrored ? -p.x_mm : p.x_mm;
        ay[k] = p.y_mm;
        bx[k] = bx[k + N_POINTS] = b->points[k].x_mm;
        by[k] = by[k + N_POINTS] = b->points[k].y_mm;
    }
    for (size_t first = 0; first < N_POINTS; first += N_SIDE_BY_SIDE) {
        correlate(ax, ay, bx + first, by + first, re, im);
        for (size_t s = 0; s < N_SIDE_BY_SIDE; s++) {
            const double size = sw_hypot(re[s], im[s]);
            if (size <= best) continue;
            best = size;
            made.cos_turn = size > 0.0 ? re[s] / size : 1.0;
            made.sin_turn = size > 0.0 ? im[s] / size : 0.0;
        }
    }
    return made;
}

/* One round of closest points: match each placed point with the edge's nearest, then take the best turn and shift.
 * off_sq: mean square of the distances it began with. */
static pose refine(const profile *a, const profile *b, const pose *from, double *off_sq)
{
    double sx = 0.0, sy = 0.0, tx = 0.0, ty = 0.0, re = 0.0, im = 0.0, away;
    sw_pt_mm target[N_POINTS];
    size_t stretch = 0;
    *off_sq = 0.0;
    for (size_t k = 0; k < N_POINTS; k++) {
        target[k] = edge_nearest(&b->edge, place(from, a->points[k]), &stretch, &away);
        *off_sq += away / N_POINTS;
        sx += from->is_mirrored ? -a->points[k].x_mm : a->points[k].x_mm;
        sy += a->points[k].y_mm;
        tx += target[k].x_mm;
        ty += target[k].y_mm;
    }
    sx /= N_POINTS, sy /= N_POINTS, tx /= N_POINTS, ty /= N_POINTS;
    for (size_t k = 0; k < N_POINTS; k++) {
        const double x = (from->is_mirrored ? -a->points[k].x_mm : a->points[k].x_mm) - sx, y = a->points[k].y_mm - sy;
        re += x * (target[k].x_mm - tx) + y * (target[k].y_mm - ty);
        im += x * (target[k].y_mm - ty) - y * (target[k].x_mm - tx);
    }
    const double size = sw_hypot(re, im);
    pose made = *from;
    if (!(size > 0.0)) return made;
    made.cos_turn = re / size;
    made.sin_turn = im / size;
    made.dx = tx - (made.cos_turn * sx - made.sin_turn * sy);
    made.dy = ty - (made.sin_turn * sx + made.cos_turn * sy);
    return made;
}

static sw_pt_mm place_back(const pose *p, sw_pt_mm q)
{
    const double x = q.x_mm - p->dx, y = q.y_mm - p->dy, turned = p->cos_turn * x + p->sin_turn * y;
    return (sw_pt_mm){ p->is_mirrored ? -turned : turned, p->cos_turn * y - p->sin_turn * x };
}

/* Farthest that one placed edge is from the other, both ways; gives up above limit_mm. */
static double farthest(const profile *a, const profile *b, const pose *p, double limit_mm)
{
    double worst = 0.0, away;
    size_t stretch = 0;
    const double limit = limit_mm * limit_mm;
    for (size_t i = 0; i < a->edge.n && worst <= limit; i++) {
        edge_nearest(&b->edge, place(p, a->edge.at[i]), &stretch, &away);
        worst = sw_max(worst, away);
    }
    for (size_t i = 0; i < b->edge.n && worst <= limit; i++) {
        edge_nearest(&a->edge, place_back(p, b->edge.at[i]), &stretch, &away);
        worst = sw_max(worst, away);
    }
    return sqrt(worst);
}

/* Rounds bring the edges nearer at an even pace at best. If even twice the last one's pace would not bring the mean
 * within the tolerance in the rounds left, the farthest never comes there. */
static bool is_hopeless(double before_sq, double now_sq, int n_left, double tolerance_mm)
{
    const double pace = now_sq / before_sq; /* 0 for the first round */
    return now_sq > 0.0 && isfinite(before_sq) && now_sq * pow(pace, 2.0 * n_left) > tolerance_mm * tolerance_mm;
}

/* True if b is a within the tolerance; unmirrored is tried first. */
static bool match(const profile *a, const profile *b, double tolerance_mm, pose *out, double *off_mm)
{
    for (int mirrored = 0; mirrored < 2; mirrored++) {
        if (!support_may_turn(&a->support, &b->support, mirrored != 0, tolerance_mm)) continue;
        pose p = first_pose(a, b, mirrored != 0);
        *off_mm = farthest(a, b, &p, tolerance_mm);
        double off_sq = INFINITY;
        for (int round = 0; round < MAX_ROUNDS && *off_mm > tolerance_mm; round++) {
            const double before_sq = off_sq;
            p = refine(a, b, &p, &off_sq);
            if (is_hopeless(before_sq, off_sq, MAX_ROUNDS - round, tolerance_mm)) break;
            *off_mm = farthest(a, b, &p, tolerance_mm);
        }
        *out = p;
        if (*off_mm <= tolerance_mm) return true;
    }
    return false;
}

/* ---- the list ----------------------------------------------------------------------------------- */

static sw_status add_repeat(sw_repeats *list, const profile *profiles, size_t copy, size_t original, const pose *p,
                            double off_mm, sw_note *note)
{
    void *data = list->at;
    if (!sw_grow(&data, &list->cap, list->n + 1, sizeof *list->at)) return sw_fail_memory(note, "the repeats");
    list->at = data;
    list->at[list->n++] = (sw_repeat){ .copy = copy,
                                       .original = original,
                                       .is_mirrored = p->is_mirrored,
                                       .turn_rad = atan2(p->sin_turn, p->cos_turn),
                                       .original_at = profiles[original].middle,
                                       .at = { profiles[copy].middle.x_mm + p->dx, profiles[copy].middle.y_mm + p->dy },
                                       .off_mm = off_mm };
    list->saved_cut_mm += profiles[copy].length_mm;
    return SW_OK;
}

/* One that an opening may be a copy of, and how. */
typedef struct candidate {
    size_t index;
    pose pose;
    double off_mm;
} candidate;

static int by_area(const void *p, const void *q)
{
    const key *const a = p, *const b = q;
    if (a->area_mm2 != b->area_mm2) return a->area_mm2 < b->area_mm2 ? -1 : 1;
    return a->index < b->index ? -1 : a->index > b->index;
}

static int by_index(const void *p, const void *q)
{
    const candidate *const a = p, *const b = q;
    return a->index < b->index ? -1 : a->index > b->index;
}

/* Openings by area, and room for the few that one could be a copy of. */
typedef struct shelf {
    key *keys;
    size_t n;
    candidate *some;
} shelf;

static sw_status fill_shelf(const profile *profiles, size_t n, shelf *s, sw_note *note)
{
    s->keys = sw_alloc_raw(n, sizeof *s->keys);
    s->some = sw_alloc_raw(n, sizeof *s->some);
    if (s->keys == NULL || s->some == NULL) return sw_fail_memory(note, "the repeats");
    for (size_t i = 0; i < n; i++)
        if (profiles[i].is_used) s->keys[s->n++] = key_of(profiles, i);
    if (s->n > 1) qsort(s->keys, s->n, sizeof *s->keys, by_area);
    return SW_OK;
}

/* Earlier openings, no copies themselves, that the opening may be a copy of, in their order; returns how many. */
static size_t candidates(shelf *s, const profile *profiles, size_t copy, double tolerance_mm)
{
    const key wanted = key_of(profiles, copy);
    const double reach = area_reach(&wanted, tolerance_mm);
    size_t low = 0, high = s->n, n = 0;
    while (low < high) {
        const size_t middle = (low + high) / 2;
        if (s->keys[middle].area_mm2 < wanted.area_mm2 - reach) low = middle + 1;
        else high = middle;
    }
    for (size_t k = low; k < s->n && s->keys[k].area_mm2 <= wanted.area_mm2 + reach; k++) {
        const size_t i = s->keys[k].index;
        if (i < copy && can_match(&s->keys[k], &wanted, tolerance_mm) && !profiles[i].is_copy &&
            support_may_match(&profiles[i].support, &profiles[copy].support, tolerance_mm))
            s->some[n++] = (candidate){ .index = i };
    }
    if (n > 1) qsort(s->some, n, sizeof *s->some, by_index);
    return n;
}

/* The first candidate that matches: none after one that does need be looked at. */
typedef struct match_job {
    const profile *profiles;
    size_t copy;
    double tolerance_mm;
    candidate *some;
    atomic_size_t first;
} match_job;

static void match_some(size_t begin, size_t end, void *ctx)
{
    match_job *const job = ctx;
    for (size_t k = begin; k < end; k++) {
        candidate *const c = &job->some[k];
        size_t first = atomic_load(&job->first);
        if (k > first || !match(&job->profiles[c->index], &job->profiles[job->copy], job->tolerance_mm, &c->pose, &c->off_mm)) continue;
        while (k < first && !atomic_compare_exchange_weak(&job->first, &first, k)) {}
    }
}

static sw_status find(profile *profiles, size_t n, shelf *s, double tolerance_mm, sw_repeats *out, sw_note *note)
{
    SW_TRY(fill_shelf(profiles, n, s, note));
    for (size_t copy = 1; copy < n; copy++) {
        if (sw_is_interrupted()) return SW_INTERRUPTED;
        const size_t n_some = profiles[copy].is_used ? candidates(s, profiles, copy, tolerance_mm) : 0;
        match_job job = { .profiles = profiles, .copy = copy, .tolerance_mm = tolerance_mm, .some = s->some, .first = n_some };
        sw_parallel_bands(n_some, 1, match_some, &job);
        if (job.first == n_some) continue;
        const candidate *const c = &s->some[job.first];
        SW_TRY(add_repeat(out, profiles, copy, c->index, &c->pose, c->off_mm, note));
        profiles[copy].is_copy = true;
    }
    return SW_OK;
}

typedef struct fill_job {
    const sw_contours *openings;
    double tolerance_mm, min_size_mm;
    profile *profiles;
    bool *is_filled; /* false: memory was out */
} fill_job;

static void fill_some(size_t begin, size_t end, void *ctx)
{
    const fill_job *const job = ctx;
    for (size_t i = begin; i < end; i++)
        job->is_filled[i] =
            fill_profile(&job->openings->at[i], job->tolerance_mm, job->min_size_mm, &job->profiles[i]);
}

static sw_status fill_profiles(const fill_job *job, sw_note *note)
{
    bool is_good = true;
    sw_parallel_bands(job->openings->n, 16, fill_some, (void *)(uintptr_t)job);
    for (size_t i = 0; i < job->openings->n; i++) is_good = is_good && job->is_filled[i];
    return is_good ? SW_OK : sw_fail_memory(note, "the repeats");
}

sw_status sw_repeats_find(const sw_contours *openings, double tolerance_mm, double min_size_mm, sw_repeats *out,
                          sw_note *note)
{
    sw_repeats made = { 0 };
    profile *profiles = NULL;
    bool *is_filled = NULL;
    shelf sorted = { 0 };
    sw_status st = SW_BAD_LENGTH;
    if (!sw_length_ok(tolerance_mm, false) || !sw_length_ok(min_size_mm, true)) {
        sw_fail(note, st, "the tolerance of repeats must be a length above 0");
        goto cleanup;
    }
    if (openings->n > 0) {
        profiles = sw_alloc_array(openings->n, sizeof *profiles);
        is_filled = sw_alloc_array(openings->n, sizeof *is_filled);
        st = profiles == NULL || is_filled == NULL ? sw_fail_memory(note, "the repeats") : SW_OK;
        if (st == SW_OK)
            st = fill_profiles(&(fill_job){ openings, tolerance_mm, min_size_mm, profiles, is_filled }, note);
        if (st == SW_OK) st = find(profiles, openings->n, &sorted, tolerance_mm, &made, note);
        if (st != SW_OK) goto cleanup;
    }
    *out = made;
    made = (sw_repeats){ 0 };
    st = SW_OK;
cleanup:
    for (size_t i = 0; profiles != NULL && i < openings->n; i++) edge_free(&profiles[i].edge);
    sw_free(profiles);
    sw_free(is_filled);
    sw_free(sorted.keys);
    sw_free(sorted.some);
    sw_repeats_free(&made);
    return st;
}

void sw_repeats_free(sw_repeats *repeats)
{
    if (repeats == NULL) return;
    sw_free(repeats->at);
    *repeats = (sw_repeats){ 0 };
}
