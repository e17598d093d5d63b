/* The pixel edges that an outline runs along, one after the other, each with the stretch of outline nearest to it.
 *
 * Looking up the edge beside a line finds none at a corner, where the outline turns away before the pixels do. Here the
 * mask's edge is walked itself, and the nearest chord of a ring beside it: both go round once, so that the next pixel
 * edge's chord is this one's or one close by. */
#include "contour/outline.h"

#define LOOK_PX 4.0     /* farther off it is another edge */
#define WINDOW_PX 5.0   /* chords that begin nearer than that are looked at, on each side of the last */
#define NEAR_PX 1.0     /* nearer to the last chord than that, */
#define INNER_PX 1.5    /* and farther from its end, no chord past that end is looked at */
#define N_STARTS 16u    /* places on the ring where the walk is tried to begin */
#define AREA_SHARE 0.5  /* of a pixel per pixel edge: how far the areas of ring and pixels differ */

static const int8_t steps[4][2] = { { 1, 0 }, { 0, 1 }, { -1, 0 }, { 0, -1 } };

/* ---- the path -------------------------------------------------------------------------------------------------- */

/* The pixel edge beside the middle of a line, as a heading with the opening on the right. */
static bool edge_beside(const mask_edge *m, pt a, pt b, heading *h)
{
    const pt d = pt_sub(b, a), p = pt_mix(a, b, 0.5);
    const bool is_column = fabs(d.x) > fabs(d.y);
    const ptrdiff_t v = (ptrdiff_t)floor(is_column ? p.x : p.y);
    const int side = (is_column ? d.x : -d.y) > 0.0 ? 1 : -1;
    const double u = is_column ? p.y : p.x;
    double off;
    if (pt_len(d) == 0.0 || !find_ledge(m, is_column, v, u, side, &off)) return false;
    const ptrdiff_t edge = (ptrdiff_t)floor(u + off * side + 0.5);
    const bool is_open_past = (side > 0) == m->is_outer; /* down or to the right of the edge */
    if (is_column) *h = is_open_past ? (heading){ v, edge, 1, 0 } : (heading){ v + 1, edge, -1, 0 };
    else *h = is_open_past ? (heading){ edge, v + 1, 0, -1 } : (heading){ edge, v, 0, 1 };
    return true;
}

static bool keep_step(pixel_path *path, size_t *cap, const heading *h)
{
    if (path->n == *cap) { /* this runs once a pixel edge */
        void *at = path->steps;
        if (!sw_grow(&at, cap, path->n + 1, 1)) return false;
        path->steps = at;
    }
    path->steps[path->n++] = (uint8_t)(h->dy == 0 ? 1 - h->dx : 2 - h->dy);
    return true;
}

/* Go round from a heading, at most so many edges. area_px: pixels enclosed. False: out of memory. */
static bool walk_path(const sw_mask *mask, heading start, size_t most, pixel_path *path, size_t *cap, double *area_px)
{
    heading h = start;
    ptrdiff_t area = 0;
    path->start = start;
    path->n = 0;
    do {
        if (!keep_step(path, cap, &h)) return false;
        area -= h.y * h.dx;
        h.x += h.dx;
        h.y += h.dy;
        (void)turn_heading(mask, &h, NULL);
    } while (path->n <= most && (h.x != start.x || h.y != start.y || h.dx != start.dx || h.dy != start.dy));
    *area_px = fabs((double)area);
    return true;
}

static double ring_area(const pt *ring, size_t n, double *length)
{
    double area = 0.0;
    *length = 0.0;
    for (size_t k = 0; k < n; k++) {
        const pt next = ring[wrap(k + 1, n)];
        area += 0.5 * pt_cross(ring[k], next);
        *length += pt_len(pt_sub(next, ring[k]));
    }
    return fabs(area);
}

bool find_pixel_path(const sw_mask *mask, bool is_outer, const pt *ring, size_t n, pixel_path *out)
{
    pixel_path made = { 0 };
    size_t cap = 0;
    double length, area_px = 0.0;
    const double area = ring_area(ring, n, &length);
    const size_t most = (size_t)(2.0 * length) + 64, step = sw_max_size(n / N_STARTS, 1);
    heading start;
    bool is_ok = true, is_found = false;
    for (size_t k = 0; k < n && is_ok && !is_found; k += step) {
        if (!edge_beside(&(mask_edge){ .mask = mask, .is_outer = is_outer }, ring[k], ring[wrap(k + 1, n)], &start)) continue;
        is_ok = walk_path(mask, start, most, &made, &cap, &area_px);
        is_found = made.n <= most && fabs(area_px - area) <= AREA_SHARE * (double)made.n;
    }
    if (is_ok && is_found) {
        *out = made;
        made = (pixel_path){ 0 };
    }
    sw_free(made.steps);
    return is_ok;
}

/* ---- beside a ring --------------------------------------------------------------------------------------------- */

typedef struct follower {
    const pt *ring;
    size_t n, chord; /* chord: the last one that was nearest */
    pt from, along;  /* its start and direction */
    double len;
} follower;

static void take_chord(follower *f, size_t chord)
{
    const pt d = pt_sub(f->ring[wrap(chord + 1, f->n)], f->ring[chord]);
    f->chord = chord;
    f->from = f->ring[chord];
    f->len = pt_len(d);
    f->along = f->len > 0.0 ? pt_mul(d, 1.0 / f->len) : d;
}

/* Squares of the distances of q from a chord, and from its start. */
static double near_chord(const follower *f, size_t chord, pt q, double *start_sq)
{
    const pt a = f->ring[chord], d = pt_sub(f->ring[wrap(chord + 1, f->n)], a), to = pt_sub(q, a);
    const double len2 = pt_dot(d, d), along = pt_dot(to, d);
    *start_sq = pt_dot(to, to);
    if (along <= 0.0 || len2 == 0.0) return *start_sq;
    if (along >= len2) return *start_sq - 2.0 * along + len2;
    const double across = pt_cross(d, to);
    return across * across / len2;
}

/* Look at the chords on one side until they are too far away to matter. */
static void look_on(const follower *f, pt q, bool is_forward, double *least, size_t *nearest)
{
    size_t k = f->chord;
    for (size_t i = 1; i < f->n; i++) {
        double start_sq;
        k = is_forward ? wrap(k + 1, f->n) : wrap(k + f->n - 1, f->n);
        const double sq = near_chord(f, k, q, &start_sq);
        if (sq < *least) {
            *least = sq;
            *nearest = k;
        }
        if (start_sq > WINDOW_PX * WINDOW_PX && (is_forward || sq > WINDOW_PX * WINDOW_PX)) return;
    }
}

/* Move on to the chord nearest to q and return how far off it is, positive towards the inside. */
static double go_near(follower *f, pt q)
{
    const pt to = pt_sub(q, f->from);
    const double along = pt_dot(to, f->along), off = pt_cross(f->along, to);
    const bool is_near = fabs(off) < NEAR_PX, is_past_start = is_near && along > INNER_PX;
    const bool is_before_end = is_near && along < f->len - INNER_PX;
    if (is_past_start && is_before_end) return off;
    double ignored, least = near_chord(f, f->chord, q, &ignored);
    size_t nearest = f->chord;
    if (!is_before_end) look_on(f, q, true, &least, &nearest);
    if (!is_past_start) look_on(f, q, false, &least, &nearest);
    if (nearest != f->chord) take_chord(f, nearest);
    return copysign(sqrt(sw_max(least, 0.0)), pt_cross(f->along, pt_sub(q, f->from)));
}

static size_t nearest_of_all(const follower *f, pt q)
{
    size_t nearest = 0;
    double least = HUGE_VAL, ignored;
    for (size_t k = 0; k < f->n; k++) {
        const double sq = near_chord(f, k, q, &ignored);
        if (sq >= least) continue;
        least = sq;
        nearest = k;
    }
    return nearest;
}

void visit_pixels(const pixel_path *path, const pt *ring, size_t n, pixel_fn fn, void *ctx)
{
    follower f = { .ring = ring, .n = n };
    pt at = { (double)path->start.x, (double)path->start.y };
    if (n < 3 || path->n == 0) return;
    take_chord(&f, nearest_of_all(&f, at));
    for (size_t k = 0; k < path->n; k++) {
        const pt step = { (double)steps[path->steps[k]][0], (double)steps[path->steps[k]][1] };
        const pt middle = pt_add(at, pt_mul(step, 0.5));
        const double off = go_near(&f, middle);
        if (fabs(off) <= LOOK_PX) fn(ctx, middle, f.chord, off);
        at = pt_add(at, step);
    }
}
