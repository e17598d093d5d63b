/* Where an outline leaves the curve of an earlier mask.
 *
 * A run of shared pixel edges is followed along the earlier curve. At its ends there is a joint, of one of three kinds: at
 * a corner of the earlier curve; where the outline's own line, coming in at an angle, meets the curve; or, if both go on
 * side by side, where they still run alike, and then the joint is smooth. */
#include "contour/shared.h"

#define CORNER_PX 2.5        /* a corner that near to the end of a run is where it ends */
#define FAIR_PX 0.9          /* and what the line takes the place of */
#define LEAVE_TURN 0.6       /* radians; more makes a joint a corner */
#define CORNER_TURN 0.21     /* and at a corner of the curve that much */
#define BEND_TURN 0.5        /* the curve itself bends less where it is met */
#define ALIKE_TURN 0.12      /* radians; and curves that close in direction */
#define ALIKE_PX 0.8         /* and place run alike */
#define MOST_BACK_PX 16.0    /* how far back along a run to look for that */
#define SNAP_PX 1.2          /* a node that near is taken as the joint, so that no stub is left */
#define SNAP_SMOOTH_PX 2.0   /* the same for a smooth joint, which may as well be elsewhere */
#define NODE_BACK_PX 8.0     /* and so far back a node is preferred */

static void outline_at(const outline *o, double s, pt *p, pt *along)
{
    size_t lo = 0, hi = 2 * o->m;
    while (hi - lo > 1) {
        const size_t mid = (lo + hi) / 2;
        if (o->samples[mid].s <= s) lo = mid;
        else hi = mid;
    }
    const sample *const a = &o->samples[lo], *const b = &o->samples[hi];
    const double len = b->s - a->s, t = len > 0.0 ? sw_clamp((s - a->s) / len, 0.0, 1.0) : 0.0;
    *p = pt_mix(a->p, b->p, t);
    *along = pt_unit(pt_sub(b->p, a->p));
}

void own_at(const outline *o, double s, pt *p, pt *along)
{
    while (s < 0.0) s += o->length;
    while (s >= 2.0 * o->length) s -= o->length;
    outline_at(o, s, p, along);
}

static double turn_between(pt a, pt b) { return fabs(atan2(pt_cross(a, b), pt_dot(a, b))); }

double follow_from(const follow *f, size_t *at, double s, double till, int way)
{
    const ptrdiff_t step = (way > 0) == f->is_forward ? 1 : -1;
    while (way * (till - s) > 0.0) {
        const double next = way > 0 ? sw_min(s + JOINT_STEP_PX, till) : sw_max(s - JOINT_STEP_PX, till);
        pt p, along;
        own_at(f->o, next, &p, &along);
        size_t best = *at;
        double least = HUGE_VAL;
        for (ptrdiff_t k = -1; k <= 6; k++) {
            const size_t i = drawn_step(f->d, *at, k * step);
            const double away = pt_len(pt_sub(f->d->at[i].p, p));
            if (away >= least) continue;
            least = away;
            best = i;
        }
        if (least > f->most_px + 0.5 * JOINT_STEP_PX) break;
        *at = best;
        s = next;
    }
    return s;
}

bool find_curve(follow *f)
{
    for (double s = f->s0 + JOINT_ANCHOR_PX; s < f->s1 - JOINT_ANCHOR_PX; s += JOINT_ANCHOR_PX) {
        pt p, along;
        own_at(f->o, s, &p, &along);
        const size_t at = drawn_nearest(f->d, p, f->is_forward ? along : pt_mul(along, -1.0), f->most_px + JOINT_STEP_PX);
        if (at == SIZE_MAX) continue;
        f->low = f->high = at;
        f->s0 = follow_from(f, &f->low, s, f->s0, -1);
        f->s1 = follow_from(f, &f->high, s, f->s1, 1);
        return true;
    }
    return false;
}

/* ---- joints ------------------------------------------------------------------------------------------------------ */

/* An end of a run; directions point out of it. */
typedef struct ending {
    const follow *f;
    double s;
    size_t at;
    int way;
    const node *corner; /* the outline's own near the end, or NULL */
    double corner_s;
    pt p, own;          /* of the outline: at the end, and the direction it goes on in */
    pt on_line;         /* a point it goes through in that direction, at own_s */
    double own_s;
    pt curve;           /* direction the curve comes in with */
} ending;

/* The curve's place g and its direction out of the run there. */
static void curve_at(const ending *e, double g, pt *p, pt *curve)
{
    const bool is_outward = (e->way > 0) == e->f->is_forward;
    drawn_at(e->f->d, e->f->d->at[e->at].contour, g, is_outward, p, curve);
    if (!is_outward) *curve = pt_mul(*curve, -1.0);
}

static void find_own_corner(ending *e)
{
    const outline *const o = e->f->o;
    double least = CORNER_PX;
    for (size_t i = 0; i < o->n; i++) {
        const double off = remainder(o->samples[o->nodes[i].sample].s - e->s, o->length);
        if (!o->nodes[i].is_corner || !(fabs(off) < least)) continue;
        least = fabs(off);
        e->corner = &o->nodes[i];
        e->corner_s = e->s + off;
    }
}

static void begin_ending(const follow *f, int way, ending *e)
{
    *e = (ending){ .f = f, .way = way, .s = way > 0 ? f->s1 : f->s0, .at = way > 0 ? f->high : f->low };
    pt along, p, inside;
    double g;
    own_at(f->o, e->s, &e->p, &along);
    find_own_corner(e);
    own_at(f->o, e->s - way * JOINT_ANCHOR_PX, &inside, &along);
    (void)drawn_foot(f->d, e->at, JOINT_REACH, inside, &g);
    curve_at(e, g, &p, &e->curve);
}

/* The outline's own way from its corner on, or from so far past the end. */
static void leave_from(ending *e, double beyond_px)
{
    e->own_s = e->s + e->way * beyond_px;
    own_at(e->f->o, e->own_s, &e->on_line, &e->own);
    if (e->corner != NULL) {
        e->own_s = e->corner_s;
        e->on_line = e->corner->p;
        e->own = e->way > 0 ? e->corner->out : e->corner->in;
    }
    e->own = pt_mul(e->own, (double)e->way);
}

/* Directions of a joint along the outline, from those out of the run. */
static void finish_joint(const ending *e, joint *j)
{
    if (!j->is_corner) j->own = j->curve;
    if (e->way > 0) return;
    j->own = pt_mul(j->own, -1.0);
    j->curve = pt_mul(j->curve, -1.0);
}

/* A joint at place g where the outline comes in by its own line. */
static void put_corner(const ending *e, double g, joint *j)
{
    j->g = g;
    curve_at(e, g, &j->p, &j->curve);
    const pt off = pt_sub(j->p, e->on_line);
    j->own = e->own;
    j->own_s = e->own_s;
    j->shift = pt_sub(off, pt_mul(e->own, pt_dot(off, e->own)));
    j->s = e->corner != NULL ? e->corner_s : e->s;
}

/* A corner of the curve near the end. */
static bool join_at_corner(const ending *e, joint *j)
{
    const drawn_curves *const d = e->f->d;
    const uint32_t contour = d->at[e->at].contour;
    const sw_contour *const c = &d->list->at[contour];
    double least = CORNER_PX, g = 0.0;
    for (ptrdiff_t k = -JOINT_REACH; k <= JOINT_REACH; k++) {
        const drawn_point *const q = &d->at[drawn_step(d, e->at, k)];
        const size_t segment = (size_t)q->g;
        const double away = pt_len(pt_sub(q->p, e->p));
        if (q->g != (double)segment || !c->segs[segment > 0 ? segment - 1 : c->n_segs - 1].is_corner || away >= least) continue;
        least = away;
        g = q->g;
    }
    if (least == CORNER_PX) return false;
    put_corner(e, g, j);
    j->is_corner = turn_between(j->curve, j->own) > CORNER_TURN;
    if (j->is_corner) return true;
    pt p, along;
    own_at(e->f->o, j->s, &p, &along);
    j->own_s = j->s;
    j->shift = pt_sub(j->p, p);
    return true;
}

/* The nearer node of a place, if it is near enough. */
static double snap_place(const ending *e, double g, double most_px)
{
    pt p, q, along;
    curve_at(e, g, &p, &along);
    double snapped = g, least = most_px;
    for (int k = 0; k < 2; k++) {
        const double whole = floor(g) + (double)k;
        curve_at(e, whole, &q, &along);
        if (!(pt_len(pt_sub(p, q)) < least)) continue;
        least = pt_len(pt_sub(p, q));
        snapped = whole;
    }
    return snapped;
}

/* Where the outline's own line meets the curve at an angle. */
static bool join_at_angle(const ending *e, joint *j)
{
    if (turn_between(e->curve, e->own) < LEAVE_TURN) return false;
    double g;
    if (!drawn_meet(e->f->d, e->at, JOINT_REACH, e->on_line, e->own, &g)) (void)drawn_foot(e->f->d, e->at, JOINT_REACH, e->p, &g);
    const bool is_border = e->corner != NULL && is_on_border(e->f->size, e->corner->p);
    put_corner(e, is_border ? g : snap_place(e, g, SNAP_PX), j);
    j->is_corner = true;
    return pt_len(pt_sub(j->p, e->p)) < 2.0 * CORNER_PX && turn_between(j->curve, e->curve) < BEND_TURN;
}

/* Do outline and curve run alike at place g, near s? Then that is the joint. */
static bool is_alike(const ending *e, double s, double g, joint *j)
{
    pt p, along, q, curve;
    own_at(e->f->o, s, &p, &along);
    curve_at(e, g, &q, &curve);
    s += pt_dot(pt_sub(q, p), along);
    own_at(e->f->o, s, &p, &along);
    if (pt_len(pt_sub(p, q)) > ALIKE_PX || turn_between(curve, pt_mul(along, (double)e->way)) > ALIKE_TURN) return false;
    *j = (joint){ .p = q, .curve = curve, .own = curve, .g = g, .s = s, .own_s = s, .shift = pt_sub(q, p) };
    return true;
}

/* Where both run alike, looked for backwards from the end; a node if there is one not far back. */
static bool join_smoothly(const ending *e, double from, joint *j)
{
    size_t at = e->at;
    double s = e->s;
    bool is_found = false;
    joint split = { 0 };
    for (double back = from; back < from + MOST_BACK_PX; back += 1.0) {
        pt p, along;
        double g;
        s = follow_from(e->f, &at, s, e->s - e->way * back, -e->way);
        own_at(e->f->o, s, &p, &along);
        if (drawn_foot(e->f->d, at, JOINT_REACH, p, &g) > ALIKE_PX) continue;
        const double snapped = snap_place(e, g, SNAP_SMOOTH_PX);
        if (snapped == floor(snapped) && is_alike(e, s, snapped, j)) return true;
        if (is_found && back > from + NODE_BACK_PX) break;
        is_found = is_found || is_alike(e, s, g, &split);
    }
    if (is_found) *j = split;
    return is_found;
}

/* Is the outline between the end and where it is its own again near the line that takes its place? */
static bool is_fair(const ending *e, const joint *j)
{
    if (pt_len(j->shift) > JOINT_SHIFT_PX) return false;
    if (e->corner != NULL)
        return pt_len(pt_sub(j->p, e->corner->p)) < CORNER_PX && is_on_border(e->f->size, e->corner->p) == is_on_border(e->f->size, j->p);
    if (is_on_border(e->f->size, j->p)) return false;
    const pt leg = pt_sub(e->on_line, j->p);
    const double len2 = sw_max(pt_dot(leg, leg), 1e-9);
    for (int k = 0; k < 4; k++) {
        pt p, along;
        own_at(e->f->o, e->s + 0.25 * (double)k * (e->own_s - e->s), &p, &along);
        const pt to = pt_sub(p, j->p);
        if (pt_len(pt_sub(to, pt_mul(leg, sw_clamp(pt_dot(to, leg) / len2, 0.0, 1.0)))) > FAIR_PX) return false;
    }
    return true;
}

/* A joint where the outline leaves at an angle, or at a corner of the curve. */
static bool join_sharply(ending *e, joint *j)
{
    static const double beyond_px[] = { 4.0, 2.5, 1.0 };
    for (size_t k = 0; k < (e->corner != NULL ? 1 : SW_ARRAY_LEN(beyond_px)); k++) {
        leave_from(e, beyond_px[k]);
        if (join_at_corner(e, j) && is_fair(e, j)) return true;
        if (join_at_angle(e, j) && is_fair(e, j)) return true;
    }
    return false;
}

bool find_joint(const follow *f, int way, double back, joint *j)
{
    ending e;
    begin_ending(f, way, &e);
    *j = (joint){ 0 };
    const bool is_found = (back == 0.0 && join_sharply(&e, j)) ||
                          join_smoothly(&e, sw_max(back, is_on_border(f->size, e.p) ? JOINT_ROOM_PX : 0.0), j);
    if (is_found) finish_joint(&e, j);
    return is_found;
}
