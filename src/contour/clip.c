/* Clipping closed curves to a rectangle, one half plane after the other.
 *
 * For one half plane every contour falls into pieces inside and pieces outside. Inside pieces end on the line; sorted
 * along it, the ends of pieces bound the stretches of the line that lie in the region, two and two, and each stretch
 * becomes a straight segment from the piece that leaves to the piece that comes back. A point on the line counts as
 * outside: what runs along the line is dropped and then drawn again as such a stretch, so touching needs no cases.
 * Where a stretch ends and the next begins at one point, material meets the line in a tip alone. Material holds over sides
 * only, so it does not hold there: the two stretches become one, and the tip is drawn a little before the line, as where
 * openings touch over a corner.
 * Roots are found between the extremes of the coordinate, from the signs at their ends alone; neighbours share the
 * node and so its sign, and every contour leaves as often as it comes back. */
#include <math.h>
#include <stdlib.h>

#include "contour/contour.h"

#define ON_LINE_MM 1e-6 /* nearer than that is on the line; a thousandth of what the writers print */
#define N_PIECES 4      /* of one cubic: three roots at most */
#define TOUCH_MM 0.02   /* width of material on the line that is a tip: what the proof takes for touching */
#define JOINT_MM 0.05   /* how far before the line a tip is drawn: more than that, and less than any cutter shows */
#define LEAST_RISE_RATIO 0.3 /* of a tip's way back: flatter tips go back steeper */

typedef struct half_plane {
    bool is_x;   /* the line is x = at, else y = at */
    double sign; /* inside: sign * (coordinate - at) > 0 */
    double at;
} half_plane;

/* A run of segments inside, both ends on the line. Points at segs of the pool. */
typedef struct chain {
    sw_contour path;  /* start, segs; not closed */
    size_t next;      /* chain that follows, once paired */
    bool is_used;
} chain;

typedef struct chains {
    chain *at;
    size_t n, cap;
} chains;

/* One end of a chain on the line. */
typedef struct line_end {
    double along;
    size_t chain;
    bool is_exit; /* the chain's last point, else its first */
} line_end;

static double height(const half_plane *h, sw_pt_mm p)
{
    const double d = h->sign * ((h->is_x ? p.x_mm : p.y_mm) - h->at);
    return fabs(d) < ON_LINE_MM ? 0.0 : d;
}

static sw_pt_mm put_on_line(const half_plane *h, sw_pt_mm p)
{
    if (h->is_x) p.x_mm = h->at;
    else p.y_mm = h->at;
    return p;
}

static sw_pt_mm mix(sw_pt_mm a, sw_pt_mm b, double t)
{
    return (sw_pt_mm){ a.x_mm + t * (b.x_mm - a.x_mm), a.y_mm + t * (b.y_mm - a.y_mm) };
}

/* The part of a segment between parameters t0 < t1, with its start. */
static sw_seg part_of(sw_pt_mm p0, const sw_seg *seg, double t0, double t1, sw_pt_mm *start)
{
    if (seg->is_line) {
        *start = t0 == 0.0 ? p0 : mix(p0, seg->end, t0);
        const sw_pt_mm end = t1 == 1.0 ? seg->end : mix(p0, seg->end, t1);
        return (sw_seg){ .is_line = true, .is_corner = true, .c1 = end, .c2 = end, .end = end };
    }
    sw_pt_mm p[4] = { p0, seg->c1, seg->c2, seg->end };
    if (t1 < 1.0) { /* keep the first part */
        for (int level = 1; level < 4; level++) {
            for (int k = 3; k >= level; k--) p[k] = mix(p[k - 1], p[k], t1);
        }
    }
    const double t = t1 < 1.0 ? t0 / t1 : t0;
    if (t > 0.0) { /* then its last part */
        for (int level = 1; level < 4; level++) {
            for (int k = 0; k <= 3 - level; k++) p[k] = mix(p[k], p[k + 1], t);
        }
    }
    *start = p[0];
    return (sw_seg){ .is_corner = true, .c1 = p[1], .c2 = p[2], .end = p[3] };
}

/* Heights of the control points over the line. */
typedef struct heights {
    double h[4];
} heights;

static double height_at(const heights *f, double t)
{
    const double s = 1.0 - t;
    const double d = s * s * s * f->h[0] + 3.0 * s * t * (s * f->h[1] + t * f->h[2]) + t * t * t * f->h[3];
    return fabs(d) < ON_LINE_MM ? 0.0 : d;
}

/* Parameters of the extremes of the height in 0..1, ascending. */
static size_t extremes(const heights *f, double t[2])
{
    const double a = f->h[3] - 3.0 * f->h[2] + 3.0 * f->h[1] - f->h[0];
    const double b = 2.0 * (f->h[2] - 2.0 * f->h[1] + f->h[0]), c = f->h[1] - f->h[0];
    const double under_root = b * b - 4.0 * a * c;
    if (!(under_root > 0.0)) return 0;
    const double q = -0.5 * (b + copysign(sqrt(under_root), b));
    double root[2] = { a != 0.0 ? q / a : -1.0, q != 0.0 ? c / q : -1.0 };
    if (root[0] > root[1]) {
        const double swap = root[0];
        root[0] = root[1];
        root[1] = swap;
    }
    size_t n = 0;
    for (int k = 0; k < 2; k++) {
        if (root[k] > 0.0 && root[k] < 1.0) t[n++] = root[k];
    }
    return n;
}

/* Where the height changes between inside and not inside, from lo to hi, between which it is monotone. */
static double root_between(const heights *f, double lo, double hi, bool is_inside_at_lo)
{
    for (int k = 0; k < 60 && hi - lo > 1e-15; k++) {
        const double mid = 0.5 * (lo + hi);
        if ((height_at(f, mid) > 0.0) == is_inside_at_lo) lo = mid;
        else hi = mid;
    }
    return 0.5 * (lo + hi);
}

/* Parameters at which a segment crosses; is_inside: at its start. */
static size_t crossings(const half_plane *h, sw_pt_mm p0, const sw_seg *seg, double t[N_PIECES])
{
    const double h0 = height(h, p0), h3 = height(h, seg->end);
    if (seg->is_line) {
        if ((h0 > 0.0) == (h3 > 0.0)) return 0;
        t[0] = h0 / (h0 - h3);
        return 1;
    }
    const heights f = { { h0, height(h, seg->c1), height(h, seg->c2), h3 } };
    double stop[4];
    const size_t n_stops = extremes(&f, stop) + 1;
    stop[n_stops - 1] = 1.0;
    size_t n = 0;
    double from = 0.0;
    bool is_inside = h0 > 0.0;
    for (size_t k = 0; k < n_stops; k++) {
        const bool is_inside_then = (k + 1 == n_stops ? h3 : height_at(&f, stop[k])) > 0.0;
        if (is_inside_then != is_inside) t[n++] = root_between(&f, from, stop[k], is_inside);
        is_inside = is_inside_then;
        from = stop[k];
    }
    return n;
}

static bool add_segment(sw_contour *path, const sw_seg *seg)
{
    const bool is_ok = seg->is_line ? sw_contour_add_line(path, seg->end)
                                    : sw_contour_add_cubic(path, seg->c1, seg->c2, seg->end);
    if (is_ok) path->segs[path->n_segs - 1].is_corner = seg->is_corner;
    return is_ok;
}

static chain *begin_chain(chains *list)
{
    void *at = list->at;
    if (!sw_grow(&at, &list->cap, list->n + 1, sizeof *list->at)) return NULL;
    list->at = at;
    list->at[list->n] = (chain){ 0 };
    return &list->at[list->n++];
}

static void free_chains(chains *list)
{
    for (size_t i = 0; i < list->n; i++) sw_contour_free(&list->at[i].path);
    sw_free(list->at);
}

/* Index of a segment that begins outside, or n_segs if none does. */
static size_t first_outside(const half_plane *h, const sw_contour *c)
{
    sw_pt_mm p0 = c->start;
    for (size_t i = 0; i < c->n_segs; i++) {
        if (!(height(h, p0) > 0.0)) return i;
        p0 = c->segs[i].end;
    }
    return c->n_segs;
}

static bool has_crossing(const half_plane *h, const sw_contour *c)
{
    sw_pt_mm p0 = c->start;
    double t[N_PIECES];
    for (size_t i = 0; i < c->n_segs; i++) {
        if (crossings(h, p0, &c->segs[i], t) > 0) return true;
        p0 = c->segs[i].end;
    }
    return false;
}

/* What the line does to a contour. */
typedef enum fate { STAYS, GOES, IS_CUT } fate;

/* A curve lies between its control points: while they are all on one side, no crossing need be looked for. */
static fate fate_of(const half_plane *h, const sw_contour *c)
{
    const bool is_inside = height(h, c->start) > 0.0;
    const fate uncut = is_inside ? STAYS : GOES;
    for (size_t i = 0; i < c->n_segs; i++) {
        const sw_seg *const seg = &c->segs[i];
        if ((height(h, seg->end) > 0.0) != is_inside) return IS_CUT;
        if (!seg->is_line && ((height(h, seg->c1) > 0.0) != is_inside || (height(h, seg->c2) > 0.0) != is_inside))
            return has_crossing(h, c) ? IS_CUT : uncut;
    }
    return uncut;
}

/* One segment's inside parts go to the chain that is open, or begin and end chains. */
static bool cut_segment(const half_plane *h, sw_pt_mm p0, const sw_seg *seg, chains *list, bool *is_inside)
{
    double t[N_PIECES + 1];
    const size_t n = crossings(h, p0, seg, t);
    t[n] = 1.0;
    double from = 0.0;
    for (size_t k = 0; k <= n; k++) {
        if (*is_inside) {
            chain *const open = &list->at[list->n - 1];
            sw_pt_mm start;
            sw_seg part = part_of(p0, seg, from, t[k], &start);
            if (k < n) part.end = put_on_line(h, part.end);
            else part.is_corner = seg->is_corner;
            if (!add_segment(&open->path, &part)) return false;
        }
        if (k == n) break;
        *is_inside = !*is_inside;
        from = t[k];
        if (!*is_inside) continue;
        chain *const open = begin_chain(list);
        if (open == NULL) return false;
        part_of(p0, seg, from, 1.0, &open->path.start);
        open->path.start = put_on_line(h, open->path.start);
    }
    return true;
}

/* The inside pieces of a contour that crosses the line. */
static bool cut_contour(const half_plane *h, const sw_contour *c, chains *list)
{
    const size_t first = first_outside(h, c);
    /* all nodes inside and yet a crossing: a curve dips out between nodes; begin after its first way out */
    bool is_inside = first == c->n_segs;
    const size_t begin = is_inside ? 0 : first;
    const size_t n_before = list->n;
    if (is_inside) {
        chain *const open = begin_chain(list);
        if (open == NULL) return false;
        open->path.start = c->start;
    }
    for (size_t k = 0; k < c->n_segs; k++) {
        const size_t i = (begin + k) % c->n_segs;
        const sw_pt_mm p0 = i == 0 ? c->start : c->segs[i - 1].end;
        if (!cut_segment(h, p0, &c->segs[i], list, &is_inside)) return false;
    }
    if (!is_inside) return true;
    /* the last chain goes on in the one that began at the start node */
    chain *const head = &list->at[n_before], *const tail = &list->at[list->n - 1];
    for (size_t k = 0; k < head->path.n_segs; k++) {
        if (!add_segment(&tail->path, &head->path.segs[k])) return false;
    }
    sw_contour_free(&head->path);
    *head = *tail;
    list->n--;
    return true;
}

static int compare_ends(const void *pa, const void *pb)
{
    const line_end *const a = pa, *const b = pb;
    if (a->along != b->along) return a->along < b->along ? -1 : 1;
    if (a->chain != b->chain) return a->chain < b->chain ? -1 : 1;
    return (int)b->is_exit - (int)a->is_exit;
}

static void sort_ends(line_end *at, size_t n)
{
    qsort(at, n, sizeof *at, compare_ends);
}

static double along_line(const half_plane *h, sw_pt_mm p) { return h->is_x ? p.y_mm : p.x_mm; }

/* Along the line ways out and ways in take turns. Bring ends that coincide into that order; false if it cannot be. */
static bool take_turns(line_end *ends, size_t n, bool is_exit_first)
{
    for (size_t k = 0; k < n; k++) {
        const bool want_exit = (k % 2 == 0) == is_exit_first;
        size_t j = k;
        while (j < n && ends[j].is_exit != want_exit && ends[j].along - ends[k].along < ON_LINE_MM) j++;
        if (j == n || ends[j].is_exit != want_exit) return false;
        const line_end found = ends[j];
        for (; j > k; j--) ends[j] = ends[j - 1];
        ends[k] = found;
    }
    return true;
}

/* How far a chain goes from the line. */
static double rise_of(const half_plane *h, const sw_contour *path)
{
    const sw_contour_measure m = sw_contour_extent(path);
    return sw_max(height(h, m.min), height(h, m.max));
}

/* Unit vector from a to the first of the points that is not there. */
static sw_pt_mm way_to(sw_pt_mm a, sw_pt_mm b, sw_pt_mm c, sw_pt_mm d)
{
    const sw_pt_mm to[3] = { b, c, d };
    for (int k = 0; k < 3; k++) {
        const double dx = to[k].x_mm - a.x_mm, dy = to[k].y_mm - a.y_mm, len = sw_hypot(dx, dy);
        if (len > ON_LINE_MM) return (sw_pt_mm){ dx / len, dy / len };
    }
    return (sw_pt_mm){ 0.0, 0.0 };
}

/* A path has a segment at least. */
static sw_pt_mm end_of(const sw_contour *path)
{
    return path->segs[path->n_segs - 1].end; /* NOLINT(clang-analyzer-core.NullDereference) */
}

/* Where the tip between a way out and the way in beside it is drawn: back between its two sides. */
static sw_pt_mm tip_of(const half_plane *h, const sw_contour *out, const sw_contour *in)
{
    const sw_seg *const last = &out->segs[out->n_segs - 1], *const first = &in->segs[0];
    const sw_pt_mm before = out->n_segs > 1 ? out->segs[out->n_segs - 2].end : out->start, a = last->end, b = in->start;
    const sw_pt_mm u = last->is_line ? way_to(a, before, before, before) : way_to(a, last->c2, last->c1, before);
    const sw_pt_mm v = first->is_line ? way_to(b, first->end, first->end, first->end) : way_to(b, first->c1, first->c2, first->end);
    const double x = u.x_mm + v.x_mm, y = u.y_mm + v.y_mm, len = sw_hypot(x, y);
    const double rise = len > 0.0 ? h->sign * (h->is_x ? x : y) / len : 0.0;
    const double back = rise > 0.0 ? JOINT_MM / (len * sw_max(rise, LEAST_RISE_RATIO)) : 0.0, at = h->at + h->sign * JOINT_MM;
    if (h->is_x) return (sw_pt_mm){ at, 0.5 * (a.y_mm + b.y_mm) + back * y };
    return (sw_pt_mm){ 0.5 * (a.x_mm + b.x_mm) + back * x, at };
}

static void move_by(sw_pt_mm *p, double dx, double dy)
{
    p->x_mm += dx;
    p->y_mm += dy;
}

/* Move node k of an open path, 0 its start, and the handles at it. */
static void move_node(sw_contour *path, size_t k, double dx, double dy)
{
    move_by(k == 0 ? &path->start : &path->segs[k - 1].end, dx, dy);
    if (k > 0) move_by(&path->segs[k - 1].c2, dx, dy);
    if (k < path->n_segs) move_by(&path->segs[k].c1, dx, dy);
}

static sw_pt_mm node_of(const sw_contour *path, size_t k) { return k == 0 ? path->start : path->segs[k - 1].end; }

/* Lift node k off the line if it is nearer than a tip may be. */
static bool lift(const half_plane *h, sw_contour *path, size_t k)
{
    const double up = JOINT_MM - height(h, node_of(path, k));
    if (!(up > 0.0)) return false;
    move_node(path, k, h->is_x ? h->sign * up : 0.0, h->is_x ? 0.0 : h->sign * up);
    return true;
}

/* Let a way out and a way in meet in a tip. */
static void join_in_tip(const half_plane *h, sw_contour *out, sw_contour *in)
{
    const sw_pt_mm tip = tip_of(h, out, in), end = end_of(out), start = in->start;
    move_node(out, out->n_segs, tip.x_mm - end.x_mm, tip.y_mm - end.y_mm);
    move_node(in, 0, tip.x_mm - start.x_mm, tip.y_mm - start.y_mm);
    out->segs[out->n_segs - 1].end = in->start = tip; /* to the last bit */
    for (size_t k = out->n_segs - 1; k > 0 && lift(h, out, k); k--) continue;
    for (size_t k = 1; k < in->n_segs && lift(h, in, k); k++) continue;
}

/* Join stretches between which hardly any material reaches the line. ends: in turns. */
static void join_tips(const half_plane *h, chains *list, const line_end *ends, size_t n)
{
    size_t first = 0; /* of the stretch that others are joined to */
    for (size_t k = 2; k < n; k += 2) {
        const line_end *const end = &ends[k - 1], *const next = &ends[k];
        chain *const from = &list->at[end->is_exit ? end->chain : next->chain];
        chain *const to = &list->at[end->is_exit ? next->chain : end->chain];
        if (next->along - end->along >= TOUCH_MM || rise_of(h, &from->path) < 4.0 * JOINT_MM || rise_of(h, &to->path) < 4.0 * JOINT_MM) {
            first = k;
            continue;
        }
        const line_end *const a = &ends[first], *const b = &ends[k + 1];
        list->at[a->is_exit ? a->chain : b->chain].next = a->is_exit ? b->chain : a->chain;
        from->next = end->is_exit ? next->chain : end->chain;
        join_in_tip(h, &from->path, &to->path);
    }
}

/* Which chain follows which. Two neighbours along the line always are a way out and a way in; if rounding put ends
 * that coincide the other way round, the nth way out takes the nth way in, which closes every contour too. */
static bool pair_chains(const half_plane *h, chains *list)
{
    const size_t n = list->n;
    if (n == 0) return true;
    line_end *const ends = sw_alloc_array(2 * n, sizeof *ends);
    if (ends == NULL) return false;
    for (size_t i = 0; i < n; i++) {
        ends[2 * i] = (line_end){ along_line(h, list->at[i].path.start), i, false };
        ends[2 * i + 1] = (line_end){ along_line(h, end_of(&list->at[i].path)), i, true };
    }
    sort_ends(ends, 2 * n);
    const bool is_exit_first = h->is_x ? h->sign < 0.0 : h->sign > 0.0; /* with the opening on the right */
    const bool is_regular = take_turns(ends, 2 * n, is_exit_first) || take_turns(ends, 2 * n, !is_exit_first);
    size_t in = 0, out = 0;
    for (size_t k = 0; k < n; k++) {
        if (is_regular) {
            out = ends[2 * k].is_exit ? 2 * k : 2 * k + 1;
            in = ends[2 * k].is_exit ? 2 * k + 1 : 2 * k;
        } else {
            while (!ends[out].is_exit) out++;
            while (ends[in].is_exit) in++;
        }
        list->at[ends[out].chain].next = ends[in].chain;
        if (!is_regular) {
            out++;
            in++;
        }
    }
    if (is_regular) join_tips(h, list, ends, 2 * n);
    sw_free(ends);
    return true;
}

static bool is_same(sw_pt_mm a, sw_pt_mm b)
{
    return fabs(a.x_mm - b.x_mm) < ON_LINE_MM && fabs(a.y_mm - b.y_mm) < ON_LINE_MM;
}

/* A contour that never leaves a line encloses nothing. */
static bool is_flat(const sw_contour *c)
{
    const sw_contour_measure m = sw_contour_extent(c);
    return !(m.max.x_mm - m.min.x_mm > ON_LINE_MM && m.max.y_mm - m.min.y_mm > ON_LINE_MM);
}

/* Join the chains from first on into one contour. */
static sw_status join_chains(chains *list, size_t first, sw_contours *out, sw_note *note)
{
    sw_contour made = { .start = list->at[first].path.start };
    size_t i = first;
    bool is_ok = true;
    do {
        chain *const c = &list->at[i];
        c->is_used = true;
        for (size_t k = 0; is_ok && k < c->path.n_segs; k++) is_ok = add_segment(&made, &c->path.segs[k]);
        const sw_pt_mm to = list->at[c->next].path.start;
        if (is_ok && is_same(end_of(&made), to)) made.segs[made.n_segs - 1].end = to;
        else if (is_ok) is_ok = add_segment(&made, &(sw_seg){ .is_line = true, .is_corner = true, .end = to });
        i = c->next;
    } while (is_ok && i != first);
    sw_status st = is_ok ? SW_OK : sw_fail_memory(note, "clipped contours");
    if (is_ok && !is_flat(&made)) st = sw_contours_take(out, &made, note);
    sw_contour_free(&made);
    return st;
}

/* What the line does not cut is taken out of *in as it is. */
static sw_status clip_half(sw_contours *in, const half_plane *h, sw_contours *out, sw_note *note)
{
    sw_contours made = { 0 };
    chains list = { 0 };
    sw_status st = SW_OK;
    for (size_t i = 0; i < in->n; i++) {
        sw_contour *const c = &in->at[i];
        const fate what = c->n_segs == 0 ? GOES : fate_of(h, c);
        if (what == IS_CUT && !cut_contour(h, c, &list)) st = SW_NO_MEMORY;
        if (what == STAYS) st = sw_contours_take(&made, c, note);
        if (st != SW_OK) goto cleanup;
    }
    st = pair_chains(h, &list) ? SW_OK : SW_NO_MEMORY;
    for (size_t i = 0; i < list.n && st == SW_OK; i++) {
        if (!list.at[i].is_used) st = join_chains(&list, i, &made, note);
    }
    if (st != SW_OK) goto cleanup;
    *out = made;
    made = (sw_contours){ 0 };
cleanup:
    sw_contours_free(&made);
    free_chains(&list);
    return st == SW_NO_MEMORY ? sw_fail_memory(note, "clipped contours") : st;
}

sw_status sw_contours_clip(const sw_contours *in, sw_rect_mm rect, sw_contours *out, sw_note *note)
{
    if (!(rect.width_mm > 0.0 && rect.width_mm <= SW_MAX_MM && rect.height_mm > 0.0 && rect.height_mm <= SW_MAX_MM &&
          fabs(rect.x_mm) <= SW_MAX_MM && fabs(rect.y_mm) <= SW_MAX_MM))
        return sw_fail(note, SW_BAD_LENGTH, "the rectangle to clip to must have sides above 0 mm");
    const half_plane sides[4] = { { true, 1.0, rect.x_mm },
                                  { true, -1.0, rect.x_mm + rect.width_mm },
                                  { false, 1.0, rect.y_mm },
                                  { false, -1.0, rect.y_mm + rect.height_mm } };
    sw_contours now = { 0 };
    sw_status st = sw_contours_copy(in, &now, note);
    for (int k = 0; k < 4 && st == SW_OK; k++) {
        sw_contours next = { 0 };
        st = clip_half(&now, &sides[k], &next, note);
        sw_contours_free(&now);
        now = next;
    }
    if (st == SW_OK) *out = now;
    return st;
}
