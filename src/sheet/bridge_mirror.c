/* Bridges alike on both sides. An opening that is its own mirror image (a letter, goggles, a butterfly) gets its bridges
 * in mirrored pairs or on its axis, and one that is the image of another near it (two eyes, two wheels, the same letter
 * twice) gets them where the other has them, as far as that costs little more. */
#include <math.h>
#include <stdlib.h>

#include "sheet/bridge_form.h"

#define MOST_STRIPS 48u    /* of an opening; with more nobody sees the pairs */
#define FAR_RATIO 0.35     /* a bridge moves at most this share of its opening's size */
/* Openings are a pair if their sizes differ by no more than this, and lie within so many sizes. Taste. */
#define SIZE_RATIO 1.10
#define SPREAD_RATIO 1.15
#define NEAR_SIZES 4.0
/* Of a pair that has at least so many strips each, so many more of one may go. */
#define LEAST_ALIKE 2u
#define MOST_SURPLUS 2u
#define FORMS_AT_ONCE 8u
#define MOST_LOOKED_AT 256u /* openings of the same size that are asked for the nearest */

typedef struct match {
    double far_px;      /* how far one of the two would have to move */
    uint32_t a, b;      /* strips; the same if it belongs on the axis */
} match;

static int compare_matches(const void *left, const void *right)
{
    const match *const a = left, *const b = right;
    if (a->far_px != b->far_px) return a->far_px < b->far_px ? -1 : 1;
    if (a->a != b->a) return a->a < b->a ? -1 : 1;
    return a->b < b->b ? -1 : a->b > b->b;
}

static bool has(const match *pairs, size_t n, uint32_t strip)
{
    for (size_t k = 0; k < n; k++)
        if (pairs[k].a == strip || pairs[k].b == strip) return true;
    return false;
}

/* Strips of one list (or two) by pairs, the nearest to each other's images first. */
static size_t match_strips(const bridge_order *o, const bridge_turn *t, const uint32_t *la, size_t na, const uint32_t *lb,
                           size_t nb, double most_px, match *pairs)
{
    match all[MOST_STRIPS * MOST_STRIPS];
    size_t n_all = 0, n = 0;
    for (size_t i = 0; i < na; i++)
        for (size_t k = la == lb ? i : 0; k < nb; k++) {
            const sw_pt_px image = bridge_turn_point(t, bridge_middle(&o->strips->at[la[i]]));
            const sw_pt_px other = bridge_middle(&o->strips->at[lb[k]]);
            const double far = hypot(image.x_px - other.x_px, image.y_px - other.y_px) * (la[i] == lb[k] ? 0.5 : 1.0);
            if (far <= most_px) all[n_all++] = (match){ far, la[i], lb[k] };
        }
    if (n_all > 1) qsort(all, n_all, sizeof *all, compare_matches);
    for (size_t i = 0; i < n_all; i++)
        if (!has(pairs, n, all[i].a) && !has(pairs, n, all[i].b)) pairs[n++] = all[i];
    return n;
}

static double angle_of(const bridge_strip *s) { return atan2(s->b.y_px - s->a.y_px, s->b.x_px - s->a.x_px); }

static double length_of(const bridge_strip *s) { return hypot(s->b.x_px - s->a.x_px, s->b.y_px - s->a.y_px); }

static bridge_strip image_of(const bridge_ground *g, const bridge_turn *t, const bridge_strip *s)
{
    bridge_strip image = bridge_strip_across(g, bridge_turn_point(t, bridge_middle(s)), bridge_turn_angle(t, angle_of(s)),
                                           length_of(s) + 2.0 * g->width_px);
    image.is_line_end = s->is_line_end;
    return image;
}

/* On the axis, along or across it, whichever is nearer to how it lies. */
static bridge_strip on_axis(const bridge_ground *g, const bridge_turn *t, const bridge_strip *s)
{
    const sw_pt_px mid = bridge_middle(s), image = bridge_turn_point(t, mid);
    const double across = sin(angle_of(s) - t->angle);
    const double angle = across * across > 0.5 ? t->angle + 1.57079632679489662 : t->angle;
    return bridge_strip_across(g, (sw_pt_px){ 0.5 * (mid.x_px + image.x_px), 0.5 * (mid.y_px + image.y_px) }, angle,
                             1.5 * length_of(s) + 2.0 * g->width_px);
}

static void align_one(bridge_order *o, const bridge_turn *t, uint32_t strip)
{
    double cost;
    if (o->is_settled[strip]) return;
    const bridge_strip moved = on_axis(o->g, t, &o->strips->at[strip]);
    if (bridge_strips_off_px(&moved, &o->strips->at[strip]) < 1.0 || bridge_order_may(o, &strip, &moved, 1, &cost))
        bridge_order_move(o, &strip, &moved, 1);
}

/* Either where the other's image is, or both halfway; what costs least. */
static void align_two(bridge_order *o, const bridge_turn *t, const bridge_turn *back, uint32_t a, uint32_t b)
{
    const bridge_ground *const g = o->g;
    const bridge_strip was[2] = { o->strips->at[a], o->strips->at[b] };
    const uint32_t which[2] = { a, b };
    bridge_strip tried[3][2] = { { was[0], image_of(g, t, &was[0]) }, { image_of(g, back, &was[1]), was[1] } };
    size_t n = 2;
    if (o->is_settled[a] && o->is_settled[b]) return;
    if (bridge_strips_off_px(&tried[0][1], &was[1]) < 1.0) {
        bridge_order_move(o, which, was, 2);
        return;
    }
    if (!o->is_settled[a] && !o->is_settled[b]) {
        const sw_pt_px one = bridge_middle(&was[0]), image = bridge_turn_point(back, bridge_middle(&was[1]));
        tried[n][0] = bridge_strip_across(g, (sw_pt_px){ 0.5 * (one.x_px + image.x_px), 0.5 * (one.y_px + image.y_px) },
                                        angle_of(&was[0]), length_of(&was[0]) + 2.0 * g->width_px);
        tried[n][1] = image_of(g, t, &tried[n][0]);
        n++;
    }
    const bridge_strip *best = NULL;
    double cost, least = HUGE_VAL;
    for (size_t k = 0; k < n; k++) {
        if ((k != 0 && o->is_settled[a]) || (k != 1 && o->is_settled[b])) continue;
        if (!bridge_order_may(o, which, tried[k], 2, &cost) || !(cost < least)) continue;
        least = cost;
        best = tried[k];
    }
    if (best != NULL) bridge_order_move(o, which, best, 2);
}

static void align(bridge_order *o, const bridge_turn *t, const bridge_turn *back, const match *pairs, size_t n)
{
    for (size_t k = 0; k < n; k++) {
        if (pairs[k].a == pairs[k].b) align_one(o, t, pairs[k].a);
        else align_two(o, t, back, pairs[k].a, pairs[k].b);
    }
}

static double far_px(const bridge_form *f)
{
    return FAR_RATIO * hypot((double)(f->x1 - f->x0), (double)(f->y1 - f->y0));
}

/* The axes of an opening's form. */
typedef struct axes_of {
    bridge_turn at[BRIDGE_AXES];
    size_t n;
} axes_of;

typedef struct axes_job {
    const bridge_order *o;
    const bridge_form *forms;
    axes_of *axes;
} axes_job;

static void find_axes(size_t begin, size_t end, void *ctx)
{
    const axes_job *const job = ctx;
    for (size_t i = begin; i < end; i++) job->axes[i].n = bridge_form_axes(job->o, &job->forms[i], job->axes[i].at);
}

/* By the axis that asks least; of those that ask the same, the first. */
static void mirror_itself(bridge_order *o, const bridge_form *f, const axes_of *found)
{
    const bridge_turn *const axes = found->at;
    match pairs[MOST_STRIPS] = { { 0 } }, best[MOST_STRIPS];
    size_t n, n_best = 0, chosen = 0;
    double least = HUGE_VAL;
    const uint32_t *const list = bridge_order_list(o, f->opening, &n);
    for (size_t i = 0; i < found->n; i++) {
        const size_t n_pairs = match_strips(o, &axes[i], list, n, list, n, far_px(f), pairs);
        double sum = 0.0;
        size_t n_matched = 0;
        for (size_t k = 0; k < n_pairs; k++) {
            sum += pairs[k].far_px;
            n_matched += pairs[k].a == pairs[k].b ? 1 : 2;
        }
        sum += (double)(n - n_matched) * far_px(f);
        if (!(sum < least - 1.0)) continue;
        least = sum;
        chosen = i;
        n_best = n_pairs;
        for (size_t k = 0; k < n_pairs; k++) best[k] = pairs[k];
    }
    align(o, &axes[chosen], &axes[chosen], best, n_best);
}

/* ---- pairs ------------------------------------------------------------------------------------------------------- */

static int compare_forms(const void *left, const void *right)
{
    const bridge_form *const a = left, *const b = right;
    if (a->area_px != b->area_px) return a->area_px < b->area_px ? -1 : 1;
    return a->opening < b->opening ? -1 : a->opening > b->opening;
}

static double middles_apart(const bridge_form *a, const bridge_form *b)
{
    return hypot(a->mid.x_px - b->mid.x_px, a->mid.y_px - b->mid.y_px);
}

static bool is_like(const bridge_form *a, const bridge_form *b)
{
    const double sa = a->xx + a->yy, sb = b->xx + b->yy;
    const double da = hypot(a->xx - a->yy, 2.0 * a->xy), db = hypot(b->xx - b->yy, 2.0 * b->xy);
    return sa <= SPREAD_RATIO * sb && sb <= SPREAD_RATIO * sa && fabs(da - db) <= (SPREAD_RATIO - 1.0) * sw_max(sa, sb);
}

typedef struct pair {
    double apart_px;
    size_t a, b;     /* forms, a < b */
    bridge_turn turn, back; /* lay one on the other */
    bool is_fit;     /* they do */
} pair;

static int compare_pairs(const void *left, const void *right)
{
    const pair *const a = left, *const b = right;
    if (a->apart_px != b->apart_px) return a->apart_px < b->apart_px ? -1 : 1;
    if (a->a != b->a) return a->a < b->a ? -1 : 1;
    return a->b < b->b ? -1 : a->b > b->b;
}

/* To each form the nearest like it. */
static size_t find_pairs(const bridge_form *forms, size_t n, pair *out)
{
    size_t n_pairs = 0;
    for (size_t i = 0; i < n; i++) {
        const bridge_form *const f = &forms[i];
        pair best = { .apart_px = NEAR_SIZES * hypot((double)(f->x1 - f->x0), (double)(f->y1 - f->y0)), .a = n, .b = n };
        for (int way = -1; way <= 1; way += 2)
            for (size_t step = 1; step <= MOST_LOOKED_AT; step++) {
                if (way < 0 ? step > i : i + step >= n) break;
                const size_t k = way < 0 ? i - step : i + step;
                const bridge_form *const other = &forms[k];
                if (sw_max(other->area_px, f->area_px) > SIZE_RATIO * sw_min(other->area_px, f->area_px)) break;
                if (!(fabs(f->mid.x_px - other->mid.x_px) < best.apart_px)) continue; /* no need to measure */
                const double apart = middles_apart(f, other);
                if (!(apart < best.apart_px) || !is_like(f, other)) continue;
                best = (pair){ .apart_px = apart, .a = sw_min_size(i, k), .b = sw_max_size(i, k) };
            }
        if (best.a < n) out[n_pairs++] = best;
    }
    if (n_pairs > 1) qsort(out, n_pairs, sizeof *out, compare_pairs);
    return n_pairs;
}

/* The motion that lays one form on the other: a reflection if that fits, else a shift. */
static bool find_turn(const bridge_order *o, const bridge_form *a, const bridge_form *b, bridge_turn *t, bridge_turn *back)
{
    bridge_raster raster;
    const double dx = b->mid.x_px - a->mid.x_px, dy = b->mid.y_px - a->mid.y_px;
    const bridge_turn mirror = bridge_mirror_at(
        (sw_pt_px){ 0.5 * (a->mid.x_px + b->mid.x_px), 0.5 * (a->mid.y_px + b->mid.y_px) }, atan2(dx, -dy));
    const bridge_turn shift = { .dx = dx, .dy = dy };
    bridge_raster_make(o, b, &raster);
    *t = *back = mirror;
    if (bridge_form_overlap(o, a, &mirror, &raster) >= BRIDGE_FIT_RATIO) return true;
    *t = shift;
    *back = (bridge_turn){ .dx = -dx, .dy = -dy };
    return bridge_form_overlap(o, a, &shift, &raster) >= BRIDGE_FIT_RATIO;
}

typedef struct turns_job {
    const bridge_order *o;
    const bridge_form *forms;
    pair *pairs;
} turns_job;

static void find_turns(size_t begin, size_t end, void *ctx)
{
    const turns_job *const job = ctx;
    for (size_t k = begin; k < end; k++) {
        pair *const p = &job->pairs[k];
        p->is_fit = find_turn(job->o, &job->forms[p->a], &job->forms[p->b], &p->turn, &p->back);
    }
}

/* All strips of one opening become the images of the other's, those of the one (0) or of the other (1); HUGE_VAL if they
 * may not, else the cost of both. */
static double image_all(const bridge_order *o, const bridge_turn *t, const match *pairs, size_t n, int of, uint32_t *which,
                        bridge_strip *to)
{
    double kept = 0.0, made;
    bool is_same = true;
    for (size_t k = 0; k < n; k++) {
        const bridge_strip *const from = &o->strips->at[of == 0 ? pairs[k].a : pairs[k].b];
        which[k] = of == 0 ? pairs[k].b : pairs[k].a;
        if (o->is_settled[which[k]] >= BRIDGE_SETTLED_PAIR) return HUGE_VAL;
        to[k] = image_of(o->g, t, from);
        kept += from->cost;
        if (bridge_strips_off_px(&to[k], &o->strips->at[which[k]]) < 1.0) to[k] = o->strips->at[which[k]];
        else is_same = false;
    }
    if (is_same) return 0.0;
    return bridge_order_may(o, which, to, n, &made) ? kept + made : HUGE_VAL;
}

static void settle_pair(bridge_order *o, const match *pairs, size_t n)
{
    const uint32_t a = o->opening[pairs[0].a], b = o->opening[pairs[0].b];
    o->twin[a] = b;
    o->twin[b] = a;
    for (size_t k = 0; k < n; k++) o->is_settled[pairs[k].a] = o->is_settled[pairs[k].b] = BRIDGE_SETTLED_PAIR;
}

/* A strip of the list that stays and joins what this one joins; UINT32_MAX if there is none. */
static uint32_t find_stay(const bridge_order *o, const uint32_t *list, size_t n_list, const match *pairs, size_t n, uint32_t strip)
{
    for (size_t k = 0; k < n_list; k++)
        if (has(pairs, n, list[k]) && bridge_joins_same(&o->strips->at[list[k]], &o->strips->at[strip])) return list[k];
    return UINT32_MAX;
}

/* Strips without a partner stand aside; false if one is needed, or nobody sees it. */
static bool set_aside(bridge_order *o, const uint32_t *list, size_t n_list, const match *pairs, size_t n)
{
    bool is_good = true;
    for (size_t k = 0; k < n_list && is_good; k++) {
        if (has(pairs, n, list[k])) continue;
        const uint32_t stay = find_stay(o, list, n_list, pairs, n, list[k]);
        is_good = stay != UINT32_MAX && o->is_settled[list[k]] < BRIDGE_SETTLED_PAIR && bridge_is_shown(&o->strips->at[list[k]]);
        if (is_good) o->stand_in[list[k]] = stay + 1;
    }
    return is_good;
}

/* One has a few strips more than the other: they go, the rest become the other's images. Whether the sheet is held without
 * them is seen later. of: 0 if the first has less. */
static bool follow_fewer(bridge_order *o, const bridge_turn *t, const match *pairs, size_t n, int of, const uint32_t *list, size_t n_list)
{
    uint32_t which[MOST_STRIPS];
    bridge_strip to[MOST_STRIPS];
    if (!o->is_held || o->wish != BRIDGE_BY_COST || n < LEAST_ALIKE || n_list - n > MOST_SURPLUS) return false;
    for (size_t k = 0; k < n_list; k++)
        if (o->stand_in[list[k]] != 0) return true; /* each of a pair may be the other's nearest */
    const bool is_good = set_aside(o, list, n_list, pairs, n) && image_all(o, t, pairs, n, of, which, to) < HUGE_VAL;
    for (size_t k = 0; k < n_list; k++) {
        if (o->stand_in[list[k]] == 0) continue;
        if (is_good) {
            o->is_moved[list[k]] = BRIDGE_MOVED;
            o->is_settled[list[k]] = BRIDGE_SETTLED_FAST;
        } else {
            o->stand_in[list[k]] = 0;
        }
    }
    if (!is_good) return false;
    bridge_order_move(o, which, to, n);
    settle_pair(o, pairs, n);
    return true;
}

static void mirror_pair(bridge_order *o, const bridge_form *a, const bridge_form *b, const pair *p)
{
    match pairs[MOST_STRIPS] = { { 0 } };
    uint32_t which[2][MOST_STRIPS];
    bridge_strip to[2][MOST_STRIPS];
    size_t na, nb;
    const uint32_t *const la = bridge_order_list(o, a->opening, &na), *const lb = bridge_order_list(o, b->opening, &nb);
    if (!p->is_fit) return;
    const size_t n = match_strips(o, &p->turn, la, na, lb, nb, far_px(a) / FAR_RATIO, pairs);
    if (n == na && n == nb) {
        const double cost[2] = { image_all(o, &p->turn, pairs, n, 0, which[0], to[0]), image_all(o, &p->back, pairs, n, 1, which[1], to[1]) };
        const int best = cost[1] < cost[0];
        if (!(cost[best] < HUGE_VAL)) return;
        bridge_order_move(o, which[best], to[best], n);
        settle_pair(o, pairs, n);
    } else if (n != sw_min_size(na, nb) || !(na < nb ? follow_fewer(o, &p->turn, pairs, n, 0, lb, nb)
                                                    : follow_fewer(o, &p->back, pairs, n, 1, la, na))) {
        align(o, &p->turn, &p->back, pairs, n);
    }
}

/* Has an opening strips that are seen, and, when only some openings are put in order again, may they move? What nobody sees
 * may lie as it does. */
static bool is_to_order(const bridge_order *o, uint32_t opening)
{
    size_t n;
    const uint32_t *const list = bridge_order_list(o, opening, &n);
    bool is_seen = false, may_move = o->wish == BRIDGE_BY_COST;
    for (size_t i = 0; i < n && !(is_seen && may_move); i++) {
        is_seen = is_seen || o->strips->at[list[i]].seen > 0.0;
        may_move = may_move || o->is_settled[list[i]] != BRIDGE_SETTLED_FAST;
    }
    return is_seen && may_move;
}

/* Openings with strips that are seen, few enough for a viewer to compare; *out: caller frees with sw_free. */
static sw_status list_forms(const bridge_order *o, bridge_form **out, size_t *n, sw_note *note)
{
    bridge_form *const forms = sw_alloc_raw(o->strips->n + 1, sizeof *forms);
    if (forms == NULL) return sw_fail_memory(note, "the order of bridges");
    *n = 0;
    for (uint32_t k = 1; k <= o->runs.n_components; k++) {
        const size_t n_strips = o->first[k + 1] - o->first[k];
        if (n_strips > 0 && n_strips <= MOST_STRIPS && is_to_order(o, k)) forms[(*n)++] = bridge_form_of(o, k);
    }
    *out = forms;
    return SW_OK;
}

sw_status bridge_mirror(bridge_order *o, sw_note *note)
{
    bridge_form *forms = NULL;
    size_t n;
    SW_TRY(list_forms(o, &forms, &n, note));
    axes_of *const axes = sw_alloc_raw(n + 1, sizeof *axes);
    if (axes != NULL) {
        sw_parallel_bands(n, FORMS_AT_ONCE, find_axes, &(axes_job){ o, forms, axes });
        for (size_t i = 0; i < n; i++) mirror_itself(o, &forms[i], &axes[i]);
    }
    sw_free(forms);
    sw_free(axes);
    return axes != NULL ? SW_OK : sw_fail_memory(note, "the order of bridges");
}

sw_status bridge_mirror_pairs(bridge_order *o, sw_note *note)
{
    bridge_form *forms = NULL;
    size_t n;
    SW_TRY(list_forms(o, &forms, &n, note));
    pair *const pairs = sw_alloc_raw(n + 1, sizeof *pairs);
    if (n > 1) qsort(forms, n, sizeof *forms, compare_forms);
    const size_t n_pairs = pairs == NULL ? 0 : find_pairs(forms, n, pairs);
    sw_parallel_bands(n_pairs, FORMS_AT_ONCE, find_turns, &(turns_job){ o, forms, pairs });
    for (size_t k = 0; k < n_pairs; k++) mirror_pair(o, &forms[pairs[k].a], &forms[pairs[k].b], &pairs[k]);
    sw_free(forms);
    sw_free(pairs);
    return pairs != NULL ? SW_OK : sw_fail_memory(note, "the order of bridges");
}
