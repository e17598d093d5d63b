/* One segment for a stretch of outline.
 *
 * Ends and tangents are given, so the two handle lengths are all that is free (Schneider 1990). They are found by
 * least squares on the distances along the outline's normals rather than on the distances between points of equal
 * parameter: the parameter drops out to first order, and two rounds do what takes the classical way ten. */
#include "contour/outline.h"

#define N_ROUNDS 3
#define SIDE_BY_SIDE 8u  /* samples looked at together */
#define MOST_SAMPLES 256 /* in one segment; they would make it some thousand pixels long */
#define MIN_HANDLE_RATIO 0.1   /* of the outline's length: shorter handles make a sharp bend at the node */
#define MAX_HANDLE_RATIO 0.65  /* longer ones pull a curve about from afar */
#define BEND_SIN 0.5           /* of the angle between the end tangents: from there on handles stop where they meet */
#define KEEP_RATIO 5e-5        /* weight of the usual handle lengths against one sample */
#define SAG_PX 0.3 /* an outline's own arc stands off the chord between its samples by less */
#define LINE_SIN 0.005     /* a line may leave a smooth node by a third of a degree; its neighbours then follow it */
#define HOPELESS 12.0     /* squared distance over limit after the first round */

/* Normal equations, and the largest square of distance over limit. */
typedef struct sums {
    double aa, ab, bb, ra, rb, worst;
} sums;

typedef struct fitting {
    pt p0, p3, t0, t3; /* t3 points along the outline, so the second handle is p3 - b t3 */
    double a, b, length;
    double usual_a, usual_b;
    double least, most_a, most_b;
    sums now; /* of the last round */
} fitting;

/* The curve as a polynomial of its parameter. */
typedef struct powers {
    pt c0, c1, c2, c3;
} powers;

static powers powers_of(const fitting *f)
{
    const pt p1 = pt_add(f->p0, pt_mul(f->t0, f->a)), p2 = pt_sub(f->p3, pt_mul(f->t3, f->b));
    const pt first = pt_sub(p1, f->p0), second = pt_sub(p2, p1);
    return (powers){ f->p0, pt_mul(first, 3.0), pt_mul(pt_sub(second, first), 3.0),
                     pt_add(pt_sub(f->p3, f->p0), pt_mul(second, -3.0)) };
}

static pt point_of(const powers *c, double u)
{
    return (pt){ ((c->c3.x * u + c->c2.x) * u + c->c1.x) * u + c->c0.x, ((c->c3.y * u + c->c2.y) * u + c->c1.y) * u + c->c0.y };
}

/* What some samples, one after the other, say about the curve. */
typedef struct views {
    double foot[SIDE_BY_SIDE];                      /* parameters of their feet */
    double ratio[SIDE_BY_SIDE];                     /* squares of distance over limit */
    double ja[SIDE_BY_SIDE], jb[SIDE_BY_SIDE];      /* what the handles do to the distance along the normal */
    double off[SIDE_BY_SIDE];                       /* that distance */
} views;

/* Move u to the feet of n samples on the curve (one Newton step without the curvature term) and look at them from there. */
SW_WIDE static void view_some(const fitting *f, const powers *curve, const sample *at, const double *u, size_t n, views *restrict out)
{
    const powers c = *curve;
    const pt t0 = f->t0, t3 = f->t3;
    for (size_t k = 0; k < n; k++) {
        const pt p = at[k].p, normal = at[k].normal;
        pt off = pt_sub(point_of(&c, u[k]), p);
        const pt slope = { (3.0 * c.c3.x * u[k] + 2.0 * c.c2.x) * u[k] + c.c1.x, (3.0 * c.c3.y * u[k] + 2.0 * c.c2.y) * u[k] + c.c1.y };
        const double speed2 = pt_dot(slope, slope), step = speed2 > 0.0 ? pt_dot(off, slope) / speed2 : 0.0;
        const double foot = sw_clamp(u[k] - step, 0.0, 1.0), v = 1.0 - foot;
        off = pt_sub(point_of(&c, foot), p);
        const double r = pt_dot(off, normal), w_in = (double)at[k].w_in, w_out = (double)at[k].w_out;
        out->foot[k] = foot;
        out->ratio[k] = pt_dot(off, off) * (r > 0.0 ? w_in : w_out);
        out->ja[k] = 3.0 * v * v * foot * pt_dot(t0, normal);
        out->jb[k] = -3.0 * v * foot * foot * pt_dot(t3, normal);
        out->off[k] = r;
    }
}

/* Add them to the equations in their order. */
static inline void add_views(const views *some, size_t n, sums *s)
{
    for (size_t k = 0; k < n; k++) {
        const double ja = some->ja[k], jb = some->jb[k], r = some->off[k];
        s->worst = sw_max(s->worst, some->ratio[k]);
        s->aa += ja * ja;
        s->ab += ja * jb;
        s->bb += jb * jb;
        s->ra += ja * r;
        s->rb += jb * r;
    }
}

/* New handle lengths. Where the outline hardly bends the normals say nothing about them, and the usual ones are kept: a
 * third of the length, the handle of a straight line. A length outside its bounds is put on the bound and the other solved anew. */
static void solve(fitting *f, double n)
{
    const double keep = KEEP_RATIO * n;
    const double aa = f->now.aa + keep, bb = f->now.bb + keep;
    const double ra = f->now.ra + keep * (f->a - f->usual_a), rb = f->now.rb + keep * (f->b - f->usual_b);
    const double det = aa * bb - f->now.ab * f->now.ab;
    double da = -(ra * bb - rb * f->now.ab) / det, db = -(rb * aa - ra * f->now.ab) / det;
    const double a = sw_clamp(f->a + da, f->least, f->most_a);
    if (a != f->a + da) {
        da = a - f->a;
        db = -(rb + f->now.ab * da) / bb;
    }
    const double b = sw_clamp(f->b + db, f->least, f->most_b);
    if (b != f->b + db) {
        db = b - f->b;
        da = -(ra + f->now.ab * db) / aa;
    }
    f->a = sw_clamp(f->a + da, f->least, f->most_a);
    f->b = sw_clamp(f->b + db, f->least, f->most_b);
}

/* No handle too short or too long, and in a bend none past the point where the end tangents meet: no loops. */
static void set_bounds(fitting *f)
{
    f->least = MIN_HANDLE_RATIO * f->length;
    f->most_a = f->most_b = MAX_HANDLE_RATIO * f->length;
    const pt chord = pt_sub(f->p3, f->p0);
    const double sine = pt_cross(f->t0, f->t3);
    if (fabs(sine) < BEND_SIN) return;
    const double to_a = pt_cross(chord, f->t3) / sine, to_b = pt_cross(f->t0, chord) / sine;
    if (to_a <= f->least || to_b <= f->least) return;
    f->most_a = sw_min(f->most_a, to_a);
    f->most_b = sw_min(f->most_b, to_b);
}

static bool fit_line(const outline *o, const node *from, const node *to, span *out)
{
    const pt chord = pt_unit(pt_sub(to->p, from->p));
    if ((from->is_joint && !from->is_corner) || (to->is_joint && !to->is_corner)) return false;
    if (!from->is_corner && !(fabs(pt_cross(chord, from->out)) < LINE_SIN && pt_dot(chord, from->out) > 0.0)) return false;
    if (!to->is_corner && !(fabs(pt_cross(chord, to->in)) < LINE_SIN && pt_dot(chord, to->in) > 0.0)) return false;
    double worst = 0.0;
    const pt normal = { -chord.y, chord.x };
    for (size_t k = from->sample + 1; k < to->sample; k++) {
        const sample *const q = &o->samples[k];
        const double off = pt_dot(normal, pt_sub(from->p, q->p));
        worst = sw_max(worst, off * off * (double)(off > 0.0 ? q->w_in : q->w_out));
    }
    if (worst > 1.0) return false;
    *out = (span){ .is_line = true, .error = (float)worst };
    return true;
}

/* The other way round: half way between the feet of two samples the curve is near the outline too, and it never runs
 * backwards. */
static bool is_quiet(const fitting *f, const outline *o, size_t first, const double *u, size_t n)
{
    const powers c = powers_of(f);
    for (size_t k = 0; k <= n; k++) {
        const double u0 = k == 0 ? 0.0 : u[k - 1], u1 = k == n ? 1.0 : u[k];
        if (u1 < u0) return false;
        const sample *const a = &o->samples[first + k], *const b = a + 1;
        const pt chord = pt_sub(b->p, a->p), off = pt_sub(point_of(&c, 0.5 * (u0 + u1)), a->p);
        const double len2 = pt_dot(chord, chord);
        const double along = len2 > 0.0 ? sw_clamp(pt_dot(off, chord) / len2, 0.0, 1.0) : 0.0;
        const double away = pt_len(pt_sub(off, pt_mul(chord, along)));
        const double limit = 1.0 / sqrt((double)fminf(a->w_in, a->w_out)) + SAG_PX;
        if (away > limit) return false;
    }
    return true;
}

/* Rounds of feet and handles until the curve passes every sample within its limits. u: a parameter a sample. */
static bool find_handles(fitting *f, const sample *at, size_t n, double s0, double *u)
{
    f->a = f->usual_a;
    f->b = f->usual_b;
    for (size_t k = 0; k < n; k++) u[k] = (at[k].s - s0) / f->length;
    for (int round = 0; round <= N_ROUNDS; round++) {
        const powers c = powers_of(f);
        const double most = round == 0 ? HUGE_VAL : HOPELESS;
        sums now = { 0 }; /* by itself, so that it stays in registers */
        for (size_t k = 0; k < n; k += SIDE_BY_SIDE) {
            const size_t n_some = sw_min_size(SIDE_BY_SIDE, n - k);
            views some;
            view_some(f, &c, &at[k], &u[k], n_some, &some);
            add_views(&some, n_some, &now);
            for (size_t i = 0; i < n_some; i++) u[k + i] = some.foot[i];
            if (now.worst > most) return false;
        }
        f->now = now;
        if (round > 0 && now.worst <= 1.0) return true;
        solve(f, (double)n + 1.0);
    }
    return false;
}

bool fit_handles(const sample *at, size_t n, pt t0, pt t3, double *a, double *b)
{
    fitting f = { .p0 = at[0].p, .p3 = at[n - 1].p, .t0 = t0, .t3 = t3, .length = at[n - 1].s - at[0].s,
                  .usual_a = *a, .usual_b = *b };
    f.most_a = f.most_b = f.length; /* longer ones make a loop */
    double u[MOST_SAMPLES];
    if (n < 3 || n - 2 > MOST_SAMPLES || !(f.length > 0.0)) return false;
    if (!find_handles(&f, at + 1, n - 2, at[0].s, u)) return false;
    for (size_t k = 1; k + 2 < n; k++) {
        if (u[k] <= u[k - 1]) return false; /* it runs backwards there */
    }
    *a = f.a;
    *b = f.b;
    return true;
}

bool fit_span(const outline *o, size_t i, size_t j, span *out)
{
    const node *const from = &o->nodes[i], *const to = &o->nodes[j];
    if (fit_line(o, from, to, out)) {
        out->end = (uint32_t)j;
        return true;
    }
    const double s0 = o->samples[from->sample].s, length = o->samples[to->sample].s - s0;
    const size_t n = to->sample - from->sample - 1;
    double u[MOST_SAMPLES];
    if (n > MOST_SAMPLES) return false;
    fitting f = { .p0 = from->p, .p3 = to->p, .t0 = from->out, .t3 = to->in, .length = length,
                  .usual_a = length / 3.0, .usual_b = length / 3.0 };
    set_bounds(&f);
    if (!find_handles(&f, &o->samples[from->sample + 1], n, s0, u)) return false;
    if (!is_quiet(&f, o, from->sample, u, n)) return false;
    *out = (span){ .a = (float)f.a, .b = (float)f.b, .error = (float)f.now.worst, .end = (uint32_t)j };
    return true;
}
