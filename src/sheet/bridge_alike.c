/* Islands alike: of several nearly equal islands in one opening (two glints in the dark of a mask, portholes in a hull,
 * stones) each is bridged as the others are, as many bridges the same way, or the mirrored way where there are two. One of
 * them is the pattern: the one that most others can follow, and of those the one that then costs least. Islands that
 * are joined to each other are a chain and stay one. */
#include <math.h>
#include <stdlib.h>

#include "sheet/bridge_form.h"

#define MOST_KIN 16u       /* islands; of more nobody sees which are alike */
#define MOST_LOOKED_AT 1024u /* islands of about a size that are asked whether they are near */
#define MOST_PATTERN 4u    /* strips of an island */
#define MOST_STRIPS (MOST_KIN * MOST_PATTERN)
#define NEAR_SIZES 20.0    /* so many of their sizes apart at most: as eyes are of their glints */
#define MIRROR_RATIO 0.97  /* of two patterns that as many follow the first, unless another is cheaper by more than noise */
/* Islands are alike if their sizes differ by no more than this, and lie on each other but for their edges: as much of one,
 * or within this share of its size. Taste: what one takes for the same form a little off. */
#define SIZE_RATIO 1.15
#define SIDE_RATIO 1.15
#define OFF_RATIO 0.04
#define FIT_RATIO 0.96
#define FACING_RATIO 0.35  /* of their distances up and across */
#define SAMPLES 24u        /* places a side that are looked at */
#define REACH_WIDTHS 20.0  /* a strip is at most so long */
#define SLANT_WIDTHS 3.0   /* a side that reaches so much farther than the middle ends nowhere */
#define PI 3.14159265358979323846

/* An island and the strips that leave it. */
typedef struct isle {
    uint32_t part, strip[MOST_PATTERN];
    size_t n;
    bool is_out;           /* it has too many, or one that may not move, or had its turn */
} isle;

typedef struct isles {
    bridge_order *o;
    isle *at;              /* by size, then by number */
    size_t n;
} isles;

/* Those that are alike. */
typedef struct group {
    const isle *at[MOST_KIN];
    size_t n;
} group;

/* What strips of some islands would become if they followed a pattern. */
typedef struct moves {
    uint32_t which[MOST_STRIPS];
    bridge_strip to[MOST_STRIPS];
    size_t n, n_isles;     /* strips; islands that follow, the pattern too */
    double cost;
} moves;

/* An island's end of a strip. */
typedef struct strip_end {
    uint32_t part, strip;
    size_t area_px;
} strip_end;

static int compare_ends(const void *left, const void *right)
{
    const strip_end *const a = left, *const b = right;
    if (a->area_px != b->area_px) return a->area_px < b->area_px ? -1 : 1;
    if (a->part != b->part) return a->part < b->part ? -1 : 1;
    return a->strip < b->strip ? -1 : a->strip > b->strip;
}

static void add_end(isles *s, const strip_end *end)
{
    if (s->n == 0 || s->at[s->n - 1].part != end->part) s->at[s->n++] = (isle){ .part = end->part };
    isle *const i = &s->at[s->n - 1];
    if (i->n == MOST_PATTERN || s->o->is_settled[end->strip] == BRIDGE_SETTLED_FAST) i->is_out = true;
    else i->strip[i->n++] = end->strip;
}

/* Islands by the strips of an opening; ends: room for two a strip. */
static void list_isles(isles *s, strip_end *ends, const uint32_t *list, size_t n)
{
    const bridge_order *const o = s->o;
    size_t n_ends = 0;
    s->n = 0;
    for (size_t k = 0; k < n; k++) {
        const bridge_strip *const strip = &o->strips->at[list[k]];
        if (strip->from == strip->to) continue;
        const uint32_t part[2] = { strip->from, strip->to };
        for (int end = 0; end < 2; end++)
            if (part[end] != BRIDGE_ROOT) ends[n_ends++] = (strip_end){ part[end], list[k], o->g->parts[part[end]].area_px };
    }
    if (n_ends > 1) qsort(ends, n_ends, sizeof *ends, compare_ends);
    for (size_t k = 0; k < n_ends; k++) add_end(s, &ends[k]);
}

/* ---- are two alike? ------------------------------------------------------------------------------------------------ */

static sw_pt_px middle_of(const bridge_ground *g, uint32_t part)
{
    const bridge_part *const box = &g->parts[part];
    return (sw_pt_px){ 0.5 * (double)(box->x0 + box->x1), 0.5 * (double)(box->y0 + box->y1) };
}

static bool is_near_size(double a, double b, double ratio) { return a <= ratio * b && b <= ratio * a; }

static bool is_within(const bridge_ground *g, uint32_t part, sw_pt_px p, double off)
{
    static const double step[5][2] = { { 0, 0 }, { 1, 0 }, { -1, 0 }, { 0, 1 }, { 0, -1 } };
    for (size_t k = 0; k < SW_ARRAY_LEN(step); k++)
        if (bridge_part_at(g, p.x_px + off * step[k][0], p.y_px + off * step[k][1]) == part) return true;
    return false;
}

/* Share of an island whose image lies in the other's, or nearly. */
static double overlap(const bridge_ground *g, uint32_t a, uint32_t b, const bridge_turn *t)
{
    const bridge_part *const box = &g->parts[a];
    const size_t side = sw_max_size(box->x1 - box->x0, box->y1 - box->y0), every = side / SAMPLES + 1;
    const double off = sw_max(OFF_RATIO * (double)side, 1.0);
    double n_all = 0.0, n_in = 0.0;
    for (size_t y = box->y0; y < box->y1; y += every)
        for (size_t x = box->x0; x < box->x1; x += every) {
            if (g->part[y * g->mask.width_px + x] != a) continue;
            n_all += 1.0;
            n_in += is_within(g, b, bridge_turn_point(t, (sw_pt_px){ (double)x + 0.5, (double)y + 0.5 }), off);
        }
    return n_all > 0.0 ? n_in / n_all : 0.0;
}

static bool has_size_of(const bridge_ground *g, uint32_t a, uint32_t b)
{
    const bridge_part *const p = &g->parts[a], *const q = &g->parts[b];
    return is_near_size((double)p->area_px, (double)q->area_px, SIZE_RATIO) &&
           is_near_size((double)(p->x1 - p->x0), (double)(q->x1 - q->x0), SIDE_RATIO) &&
           is_near_size((double)(p->y1 - p->y0), (double)(q->y1 - q->y0), SIDE_RATIO);
}

static bool fits(const bridge_ground *g, uint32_t a, uint32_t b, const bridge_turn *t)
{
    return overlap(g, a, b, t) >= FIT_RATIO;
}

static bridge_turn shift_to(const bridge_ground *g, uint32_t a, uint32_t b)
{
    const sw_pt_px p = middle_of(g, a), q = middle_of(g, b);
    return (bridge_turn){ .dx = q.x_px - p.x_px, .dy = q.y_px - p.y_px };
}

static bridge_turn mirror_to(const bridge_ground *g, uint32_t a, uint32_t b)
{
    const sw_pt_px p = middle_of(g, a), q = middle_of(g, b);
    return bridge_mirror_at((sw_pt_px){ 0.5 * (p.x_px + q.x_px), 0.5 * (p.y_px + q.y_px) },
                            atan2(q.y_px - p.y_px, q.x_px - p.x_px) + 0.5 * PI);
}

/* Side by side or one above the other: else nobody sees that one mirrors the other. */
static bool is_facing(const bridge_ground *g, uint32_t a, uint32_t b)
{
    const sw_pt_px p = middle_of(g, a), q = middle_of(g, b);
    const double dx = fabs(q.x_px - p.x_px), dy = fabs(q.y_px - p.y_px);
    return sw_min(dx, dy) <= FACING_RATIO * sw_max(dx, dy);
}

/* ---- one as the other ------------------------------------------------------------------------------------------------ */

/* How much farther one side of a strip reaches than the other, past its far end: 0 where it meets an edge squarely. */
static double slant_px(const bridge_ground *g, const bridge_strip *s, uint32_t part)
{
    const sw_pt_px here = s->from == part ? s->a : s->b, there = s->from == part ? s->b : s->a;
    const double length = hypot(there.x_px - here.x_px, there.y_px - here.y_px), most = length + SLANT_WIDTHS * g->width_px;
    const double dx = (there.x_px - here.x_px) / length, dy = (there.y_px - here.y_px) / length;
    double reach[2];
    for (int k = 0; k < 2; k++) {
        const double side = (k == 0 ? -0.4 : 0.4) * g->width_px, start = 0.7 * length;
        const sw_pt_px from = { here.x_px + start * dx - side * dy, here.y_px + start * dy + side * dx };
        uint32_t met;
        reach[k] = bridge_ray(g, from, dx, dy, most, &met);
    }
    return fabs(reach[0] - reach[1]);
}

/* The strip's image, from its island's image out to whatever it meets there; cost HUGE_VAL if it cannot be. */
static bridge_strip image_of(const bridge_ground *g, const bridge_strip *s, uint32_t part, uint32_t image, const bridge_turn *t)
{
    const sw_pt_px here = s->from == part ? s->a : s->b, there = s->from == part ? s->b : s->a;
    const double angle = bridge_turn_angle(t, atan2(there.y_px - here.y_px, there.x_px - here.x_px));
    const sw_pt_px rim = bridge_turn_point(t, here);
    const double dx = cos(angle), dy = sin(angle);
    double out = -g->width_px;
    while (out < g->width_px && bridge_part_at(g, rim.x_px + out * dx, rim.y_px + out * dy) != image) out += 0.5;
    while (out < g->width_px && bridge_part_at(g, rim.x_px + out * dx, rim.y_px + out * dy) == image) out += 0.5;
    const sw_pt_px start = { rim.x_px + out * dx, rim.y_px + out * dy };
    bridge_strip made = bridge_strip_across(g, start, angle, REACH_WIDTHS * g->width_px);
    if (made.from != image || made.to == image) made.cost = HUGE_VAL;
    if (made.cost < HUGE_VAL && slant_px(g, &made, image) > sw_max(slant_px(g, s, part), g->width_px)) made.cost = HUGE_VAL;
    return made;
}

/* Does one of its strips lead to an island of its size? */
static bool is_chained(const bridge_order *o, const isle *of)
{
    for (size_t k = 0; k < of->n; k++) {
        const bridge_strip *const strip = &o->strips->at[of->strip[k]];
        const uint32_t other = strip->from == of->part ? strip->to : strip->from;
        if (other != BRIDGE_ROOT && has_size_of(o->g, of->part, other)) return true;
    }
    return false;
}

/* Images by the strips that are nearest to them. */
static void match_nearest(const bridge_order *o, const isle *of, const bridge_strip *to, uint32_t *which)
{
    bool is_used[MOST_PATTERN] = { false };
    for (size_t k = 0; k < of->n; k++) {
        size_t best = 0;
        double least = HUGE_VAL;
        for (size_t i = 0; i < of->n; i++) {
            const sw_pt_px p = bridge_middle(&o->strips->at[of->strip[i]]), q = bridge_middle(&to[k]);
            const double far = hypot(p.x_px - q.x_px, p.y_px - q.y_px);
            if (is_used[i] || !(far < least)) continue;
            least = far;
            best = i;
        }
        is_used[best] = true;
        which[k] = of->strip[best];
    }
}

/* The strips of one island as the pattern's, appended; not if they cannot be, or if is_alone and they may not move alone. */
static void follow(const bridge_order *o, const isle *pattern, const isle *other, const bridge_turn *t, bool is_alone, moves *m)
{
    bridge_strip *const to = m->to + m->n;
    uint32_t *const which = m->which + m->n;
    bool is_same = true;
    double cost;
    if (m->n + other->n > MOST_STRIPS) return;
    for (size_t k = 0; k < other->n; k++) {
        to[k] = image_of(o->g, &o->strips->at[pattern->strip[k]], pattern->part, other->part, t);
        if (!(to[k].cost < HUGE_VAL)) return;
    }
    match_nearest(o, other, to, which);
    for (size_t k = 0; k < other->n; k++) {
        const bridge_strip *const was = &o->strips->at[which[k]];
        if (!bridge_joins_same(&to[k], was)) return;
        if (bridge_strips_off_px(&to[k], was) < 2.0) to[k] = *was;
        else is_same = false;
    }
    if (is_alone && !is_same && !bridge_order_may_each(o, which, to, other->n, &cost)) return;
    m->n += other->n;
    m->n_isles++;
}

static void keep_as_it_is(const bridge_order *o, const isle *i, moves *m)
{
    for (size_t k = 0; k < i->n && m->n < MOST_STRIPS; k++) {
        m->which[m->n] = i->strip[k];
        m->to[m->n++] = o->strips->at[i->strip[k]];
    }
    m->n_isles++;
}

/* As many of its kin as can follow a pattern, all or those that may alone; false if none. */
static bool try_pattern(const bridge_order *o, const group *kin, size_t pattern, bool is_mirrored, moves *m)
{
    for (int is_alone = 0; is_alone < 2; is_alone++) {
        *m = (moves){ .n = 0 };
        keep_as_it_is(o, kin->at[pattern], m);
        for (size_t i = 0; i < kin->n; i++) {
            if (i == pattern) continue;
            const uint32_t a = kin->at[pattern]->part, b = kin->at[i]->part;
            const bridge_turn t = is_mirrored ? mirror_to(o->g, a, b) : shift_to(o->g, a, b);
            if (fits(o->g, a, b, &t)) follow(o, kin->at[pattern], kin->at[i], &t, is_alone, m);
        }
        if (m->n_isles > 1 && bridge_order_may_each(o, m->which, m->to, m->n, &m->cost)) return true;
    }
    return false;
}

/* Whether the opening is its own image: then what is alike may still be mirrored. */
static bool is_symmetric(const bridge_order *o, uint32_t opening)
{
    const bridge_form form = bridge_form_of(o, opening);
    bridge_turn axes[BRIDGE_AXES];
    return bridge_form_axes(o, &form, axes) > 0;
}

static void apply(bridge_order *o, const moves *m)
{
    uint8_t was[MOST_STRIPS] = { 0 };
    const bool is_open = is_symmetric(o, o->opening[m->which[0]]);
    for (size_t k = 0; k < m->n; k++) was[k] = o->is_settled[m->which[k]];
    bridge_order_move(o, m->which, m->to, m->n);
    for (size_t k = 0; k < m->n && is_open; k++) o->is_settled[m->which[k]] = was[k];
}

/* The pattern that most follow, and of those the cheapest. */
static void align_kin(bridge_order *o, const group *kin)
{
    moves tried, best = { .n_isles = 0 };
    const bool is_pair = kin->n == 2 && is_facing(o->g, kin->at[0]->part, kin->at[1]->part);
    for (size_t k = 0; k < kin->n; k++)
        for (int is_mirrored = 0; is_mirrored <= (int)is_pair; is_mirrored++) {
            if (!try_pattern(o, kin, k, is_mirrored, &tried)) continue;
            const bool is_cheaper = tried.n_isles == best.n_isles && tried.cost < MIRROR_RATIO * best.cost;
            if (tried.n_isles > best.n_isles || is_cheaper) best = tried;
        }
    if (best.n_isles > 1) apply(o, &best);
}

/* Those like the first that are near it and have as many strips; all have had their turn then. */
static void find_kin(isles *s, size_t first, group *kin)
{
    const bridge_ground *const g = s->o->g;
    isle *const i = &s->at[first];
    const bridge_part *const box = &g->parts[i->part];
    const double reach = NEAR_SIZES * hypot((double)(box->x1 - box->x0), (double)(box->y1 - box->y0));
    const sw_pt_px mid = middle_of(g, i->part);
    *kin = (struct group){ .at = { i }, .n = 1 };
    i->is_out = true;
    const size_t end = sw_min_size(s->n, first + MOST_LOOKED_AT);
    for (size_t k = first + 1; k < end && kin->n < MOST_KIN; k++) {
        isle *const other = &s->at[k];
        const sw_pt_px at = middle_of(g, other->part);
        if ((double)g->parts[other->part].area_px > SIZE_RATIO * (double)box->area_px) break; /* by size */
        if (other->is_out || other->n != i->n || hypot(at.x_px - mid.x_px, at.y_px - mid.y_px) > reach) continue;
        if (!has_size_of(g, i->part, other->part) || is_chained(s->o, other)) continue;
        const bridge_turn shift = shift_to(g, i->part, other->part), mirror = mirror_to(g, i->part, other->part);
        if (!fits(g, i->part, other->part, &shift) && !fits(g, i->part, other->part, &mirror)) continue;
        other->is_out = true;
        kin->at[kin->n++] = other;
    }
}

static void align_opening(isles *s)
{
    for (size_t i = 0; i + 1 < s->n; i++) {
        group kin;
        if (s->at[i].is_out || is_chained(s->o, &s->at[i])) continue;
        find_kin(s, i, &kin);
        if (kin.n > 1) align_kin(s->o, &kin);
    }
}

sw_status bridge_alike(bridge_order *o, sw_note *note)
{
    isles s = { .o = o, .at = sw_alloc_raw(2 * o->strips->n + 1, sizeof *s.at) };
    strip_end *const ends = sw_alloc_raw(2 * o->strips->n + 1, sizeof *ends);
    const bool is_good = s.at != NULL && ends != NULL;
    for (uint32_t k = 1; is_good && k <= o->runs.n_components; k++) {
        size_t n;
        const uint32_t *const list = bridge_order_list(o, k, &n);
        if (n < 2) continue;
        list_isles(&s, ends, list, n);
        align_opening(&s);
    }
    sw_free(s.at);
    sw_free(ends);
    return is_good ? SW_OK : sw_fail_memory(note, "the order of bridges");
}
