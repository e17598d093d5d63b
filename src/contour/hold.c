/* Contours held back where there is no room for the whole distance.
 *
 * Around such a place nodes move by a smaller share, and shares grow again with the way from there, so gently that the
 * moved edge is hardly bent. A long segment gets nodes beside the place, so that its far ends move by all of the distance. */
#include "contour/offset.h"

#define NEAR_RATIO 2.0   /* of the distance: segments that near to a place are held back */
#define HELD_RATIO 2.0   /* of the distance: along a segment, as far on each side it is held back */
#define TAPER_RATIO 7.0  /* and from as far on it moves by all of the distance */
#define LEAST_PART_RATIO 1.0 /* of the distance: no shorter part is split off */
#define SLOPE 0.2        /* of the distance moved, per length: 11 degrees */
#define LOOK_RATIO 0.5   /* of the distance: between points of a segment that a place's nearest is taken from */
#define MOST_LOOKS 4000.0

bool hold_make(const sw_contour *c, hold *out)
{
    hold made = { .c = { .start = c->start } };
    void *share = NULL;
    bool is_ok = add_stretch(&made.c, c, 0.0, (double)c->n_segs) && sw_grow(&share, &made.cap, c->n_segs, sizeof *made.share);
    made.share = share;
    for (size_t k = 0; k < c->n_segs && is_ok; k++) made.share[k] = 1.0;
    if (is_ok) *out = made;
    else hold_free(&made);
    return is_ok;
}

void hold_free(hold *h)
{
    sw_contour_free(&h->c);
    sw_free(h->share);
    *h = (hold){ 0 };
}

double hold_most(const hold *h)
{
    double most = 0.0;
    for (size_t k = 0; k < h->c.n_segs; k++) most = sw_max(most, h->share[k]);
    return most;
}

double hold_least(const hold *h)
{
    double least = 1.0;
    for (size_t k = 0; k < h->c.n_segs; k++) least = sw_min(least, h->share[k]);
    return least;
}

static double halved(double share, double least) { return share > least ? 0.5 * share : 0.0; }

void hold_all(hold *h, double least)
{
    for (size_t k = 0; k < h->c.n_segs; k++) h->share[k] = halved(h->share[k], least);
}

/* How far a segment is from p, and the parameter there. */
static double nearest_on(const bezier *b, pt p, double distance, double *t)
{
    const size_t n = (size_t)sw_clamp(ceil(bezier_way(b) / (LOOK_RATIO * distance)), 4.0, MOST_LOOKS);
    double least = HUGE_VAL;
    for (size_t k = 0; k <= n; k++) {
        const double at = (double)k / (double)n, d = pt_len(pt_sub(bezier_point(b, at), p));
        if (d >= least) continue;
        least = d;
        *t = at;
    }
    return least;
}

/* Put a node into segment k at parameter t. False: out of memory. */
static bool split(hold *h, size_t k, double t)
{
    const bezier whole = segment_of(&h->c, k), first = bezier_part(&whole, 0.0, t), second = bezier_part(&whole, t, 1.0);
    const sw_seg old = h->c.segs[k];
    const double s0 = h->share[k], s1 = h->share[wrap(k + 1, h->c.n_segs)];
    void *share = h->share;
    if (!sw_grow(&share, &h->cap, h->c.n_segs + 1, sizeof *h->share)) return false;
    h->share = share;
    if (!sw_contour_add_line(&h->c, h->c.start)) return false; /* room for one more */
    for (size_t i = h->c.n_segs - 1; i > k + 1; i--) {
        h->c.segs[i] = h->c.segs[i - 1];
        h->share[i] = h->share[i - 1];
    }
    h->share[k + 1] = s0 + (s1 - s0) * t * t * (3.0 - 2.0 * t);
    h->c.segs[k] = (sw_seg){ .is_line = old.is_line, .c1 = to_mm(first.p[1]), .c2 = to_mm(first.p[2]), .end = to_mm(first.p[3]) };
    h->c.segs[k + 1] = old;
    if (!old.is_line) {
        h->c.segs[k + 1].c1 = to_mm(second.p[1]);
        h->c.segs[k + 1].c2 = to_mm(second.p[2]);
    }
    return true;
}

/* Nodes on segment k beside parameter t, as far as it reaches. k: moved to its last part. False: out of memory. */
static bool split_beside(hold *h, size_t *k, double t, double distance)
{
    static const double beside[] = { TAPER_RATIO, HELD_RATIO, -HELD_RATIO, -TAPER_RATIO };
    const bezier b = segment_of(&h->c, *k);
    const double way = bezier_way(&b), least = LEAST_PART_RATIO * distance / way;
    double end = 1.0; /* of the part that is left, as a parameter of the whole */
    size_t n_added = 0;
    for (size_t j = 0; j < SW_ARRAY_LEN(beside); j++) {
        const double at = t + beside[j] * distance / way;
        if (!(at > least && at < end - least)) continue;
        if (!split(h, *k, at / end)) return false;
        end = at;
        n_added++;
    }
    *k += n_added;
    return true;
}

static bool split_near(hold *h, pt p, double distance)
{
    for (size_t k = 0; k < h->c.n_segs; k++) {
        const bezier b = segment_of(&h->c, k);
        double t = 0.0;
        if (nearest_on(&b, p, distance, &t) <= NEAR_RATIO * distance && !split_beside(h, &k, t, distance)) return false;
    }
    return true;
}

/* Both ends of every segment that comes near p. */
static void mark_near(const hold *h, pt p, double distance, bool *is_near)
{
    for (size_t k = 0; k < h->c.n_segs; k++) {
        const bezier b = segment_of(&h->c, k);
        double t = 0.0;
        if (nearest_on(&b, p, distance, &t) > NEAR_RATIO * distance) continue;
        is_near[k] = is_near[wrap(k + 1, h->c.n_segs)] = true;
    }
}

static double chord_of(const hold *h, size_t k)
{
    const sw_pt_mm a = k == 0 ? h->c.start : h->c.segs[k - 1].end, b = h->c.segs[k].end;
    return sw_hypot(b.x_mm - a.x_mm, b.y_mm - a.y_mm);
}

/* Let shares grow no faster than the slope, round both ways. */
static void taper(hold *h, double distance)
{
    const size_t n = h->c.n_segs;
    for (size_t i = 0; i < 2 * n; i++) {
        const size_t k = i % n, next = wrap(k + 1, n);
        h->share[next] = sw_min(h->share[next], h->share[k] + SLOPE * chord_of(h, k) / distance);
    }
    for (size_t i = 2 * n; i-- > 0;) {
        const size_t k = i % n, next = wrap(k + 1, n);
        h->share[k] = sw_min(h->share[k], h->share[next] + SLOPE * chord_of(h, k) / distance);
    }
}

bool hold_near(hold *h, const pt *at, size_t n, double distance, double least)
{
    for (size_t i = 0; i < n; i++) {
        if (!split_near(h, at[i], distance)) return false;
    }
    bool *const is_near = sw_alloc_array(h->c.n_segs, sizeof *is_near);
    if (is_near == NULL) return false;
    for (size_t i = 0; i < n; i++) mark_near(h, at[i], distance, is_near);
    for (size_t k = 0; k < h->c.n_segs; k++) {
        if (is_near[k]) h->share[k] = halved(h->share[k], least);
    }
    taper(h, distance);
    sw_free(is_near);
    return true;
}
