/* How far an opening reaches in every direction.
 *
 * The support function h of a shape tells for each direction how far the shape's hull reaches that way. If every corner of
 * one edge lies within t of another edge, and the other way round, then no value of h differs by more than t (Schneider
 * 2013, Convex Bodies, 1.8), so neither does the root mean square. A shift of the shape adds a first harmonic to h, a turn
 * turns the phases of the others, a flip makes them conjugate. So with the first one left out, the sum of squares of what
 * the harmonics differ by is at most t squared, at the best turn; and at any turn at least what their sizes differ by.
 * Harmonics that are left out only make the sum smaller.
 * For a polygon h + h'' is the length of each hull edge at its normal, which gives the coefficients without an integral. */
#include "layout/support.h"

#include <math.h>
#include <stdlib.h>

#define ROUNDING 1.001 /* on the square of t: far above what sums lose */
#define N_TURNS 128    /* looked at round the circle */
#define PI 3.14159265358979323846

static int by_place(const void *pa, const void *pb)
{
    const sw_pt_mm *const a = pa, *const b = pb;
    if (a->x_mm != b->x_mm) return a->x_mm < b->x_mm ? -1 : 1;
    return a->y_mm < b->y_mm ? -1 : a->y_mm > b->y_mm;
}

static bool is_left_turn(sw_pt_mm a, sw_pt_mm b, sw_pt_mm c)
{
    return (b.x_mm - a.x_mm) * (c.y_mm - b.y_mm) - (b.y_mm - a.y_mm) * (c.x_mm - b.x_mm) > 0.0;
}

/* One chain of the hull (Andrew 1979): corners at hull[from..] in order of `at`. Returns how many there are then. */
static size_t add_chain(const sw_pt_mm *at, size_t n, bool is_back, sw_pt_mm *hull, size_t from)
{
    size_t n_hull = from;
    for (size_t k = 0; k < n; k++) {
        const sw_pt_mm p = at[is_back ? n - 1 - k : k];
        while (n_hull >= from + 2 && !is_left_turn(hull[n_hull - 2], hull[n_hull - 1], p)) n_hull--;
        hull[n_hull++] = p;
    }
    return n_hull - 1; /* the last one begins the other chain */
}

/* Lengths of hull edges at the powers of their directions. */
static void add_up(const sw_pt_mm *hull, size_t n, support *s)
{
    for (size_t i = 0; i < n; i++) {
        const sw_pt_mm a = hull[i], b = hull[i + 1 < n ? i + 1 : 0];
        const double length = edge_apart(a, b);
        if (!(length > 0.0)) continue;
        const double c = (b.x_mm - a.x_mm) / length, d = (b.y_mm - a.y_mm) / length;
        double re = length * c, im = length * d;
        s->mean += length;
        for (size_t k = 0; k < SUPPORT_N; k++) {
            const double turned = re * c - im * d;
            im = re * d + im * c;
            re = turned;
            s->re[k] += re;
            s->im[k] += im;
        }
    }
}

bool support_fill(const edge *e, support *out)
{
    support s = { 0 };
    sw_pt_mm *const at = sw_alloc_raw(e->n, sizeof *at), *const hull = sw_alloc_raw(2 * e->n, sizeof *hull);
    const bool is_ok = at != NULL && hull != NULL;
    if (is_ok) {
        for (size_t i = 0; i < e->n; i++) at[i] = e->at[i];
        qsort(at, e->n, sizeof *at, by_place);
        const size_t n = add_chain(at, e->n, false, hull, 0);
        add_up(hull, add_chain(at, e->n, true, hull, n), &s);
        s.mean /= 2.0 * PI;
        for (size_t k = 0; k < SUPPORT_N; k++) {
            const double order = (double)(k + SUPPORT_LEAST), share = 1.0 / (2.0 * PI * (1.0 - order * order));
            s.re[k] *= share;
            s.im[k] *= share;
            s.size[k] = sw_hypot(s.re[k], s.im[k]);
        }
        *out = s;
    }
    sw_free(at);
    sw_free(hull);
    return is_ok;
}

bool support_may_match(const support *a, const support *b, double t_mm)
{
    double sum = (a->mean - b->mean) * (a->mean - b->mean);
    for (size_t k = 0; k < SUPPORT_N; k++) sum += 2.0 * (a->size[k] - b->size[k]) * (a->size[k] - b->size[k]);
    return !(sum > ROUNDING * t_mm * t_mm);
}

/* The turn only matters in the products of coefficients. Between two turns that are looked at, their sum is above the larger
 * by at most what its second derivative allows. */
bool support_may_turn(const support *a, const support *b, bool is_mirrored, double t_mm)
{
    double re[SUPPORT_N], im[SUPPORT_N], slack = 0.0, best = -INFINITY;
    double sum = (a->mean - b->mean) * (a->mean - b->mean);
    for (size_t k = 0; k < SUPPORT_N; k++) {
        const double from_im = is_mirrored ? -a->im[k] : a->im[k], order = (double)(k + SUPPORT_LEAST);
        re[k] = a->re[k] * b->re[k] + from_im * b->im[k];
        im[k] = from_im * b->re[k] - a->re[k] * b->im[k];
        slack += order * order * a->size[k] * b->size[k];
        sum += 2.0 * (a->size[k] * a->size[k] + b->size[k] * b->size[k]);
    }
    slack *= 0.5 * (PI / N_TURNS) * (PI / N_TURNS);
    const double step_c = cos(2.0 * PI / N_TURNS), step_d = sin(2.0 * PI / N_TURNS);
    double c = 1.0, d = 0.0;
    for (int turn = 0; turn < N_TURNS; turn++) {
        double x = re[SUPPORT_N - 1], y = im[SUPPORT_N - 1];
        for (size_t k = SUPPORT_N - 1; k > 0; k--) {
            const double turned = x * c - y * d + re[k - 1];
            y = x * d + y * c + im[k - 1];
            x = turned;
        }
        best = sw_max(best, x * (c * c - d * d) - y * 2.0 * c * d); /* the second harmonic is the first here */
        const double next = c * step_c - d * step_d;
        d = c * step_d + d * step_c;
        c = next;
    }
    return !(sum - 4.0 * (best + slack) > ROUNDING * t_mm * t_mm);
}
