/* Cutting order: inner before outer, openings before the edge, little travel between.
 *
 * What lies inside another contour is cut first, because afterwards its material is loose. Such a family is one stop
 * of the tour; stops are joined by nearest neighbour, then crossings are taken out by 2-opt over a few near
 * neighbours (Croes 1958; neighbour lists as Johnson and McGeoch 1997 describe). Each contour then starts at the node
 * nearest to the way in and out, at a corner if it has one: that is where a burn mark is least seen. */
#include "layout/parts.h"

#include <math.h>
#include <string.h>

#define N_NEAR 8u             /* near neighbours tried for an exchange */
#define MAX_ROUNDS 12         /* of 2-opt; it ends long before on what we have seen */
#define MAX_TURNED 60000000u  /* tour places turned round in all: bounds the time, not the result's validity */
#define INSIDE_TOLERANCE_MM 0.05

typedef struct stop {
    sw_contour_measure measure;
    size_t parent;  /* index of the contour around it, or SIZE_MAX */
    size_t depth;   /* 0: lies in no other */
    size_t root;    /* outermost contour of the family */
    size_t rank;    /* place of the root in the tour */
    size_t first;   /* index in the list as it came: the last tie */
} stop;

/* ---- nesting ---------------------------------------------------------------------------------- */

typedef struct ray {
    sw_pt_mm from, first, last;
    bool has_first, is_inside;
} ray;

/* Even-odd count of edges that a ray to the right crosses; half-open in y, so a vertex counts once. */
static void cross_edge(ray *r, sw_pt_mm a, sw_pt_mm b)
{
    if ((a.y_mm > r->from.y_mm) == (b.y_mm > r->from.y_mm)) return;
    const double x = a.x_mm + (r->from.y_mm - a.y_mm) / (b.y_mm - a.y_mm) * (b.x_mm - a.x_mm);
    if (x > r->from.x_mm) r->is_inside = !r->is_inside;
}

static bool follow_ray(void *ctx, sw_pt_mm point)
{
    ray *const r = ctx;
    if (!r->has_first) r->first = point;
    else cross_edge(r, r->last, point);
    r->has_first = true;
    r->last = point;
    return true;
}

static bool is_inside(const sw_contour *contour, sw_pt_mm point)
{
    ray r = { .from = point };
    if (!sw_contour_flatten(contour, INSIDE_TOLERANCE_MM, follow_ray, &r) || !r.has_first) return false;
    cross_edge(&r, r.last, r.first);
    return r.is_inside;
}

static bool is_box_inside(const sw_contour_measure *in, const sw_contour_measure *out)
{
    return in->min.x_mm >= out->min.x_mm && in->min.y_mm >= out->min.y_mm && in->max.x_mm <= out->max.x_mm &&
           in->max.y_mm <= out->max.y_mm;
}

/* The smallest contour around each. Only material inside an opening runs the other way round, and without any such
 * contour nothing can lie inside another: then there is nothing to look for. */
static void find_parents(const sw_contours *list, stop *stops)
{
    bool has_inner = false;
    for (size_t i = 0; i < list->n; i++) has_inner = has_inner || stops[i].measure.area_mm2 < 0.0;
    for (size_t i = 0; has_inner && i < list->n; i++) {
        double best = INFINITY;
        for (size_t j = 0; j < list->n; j++) {
            const double area = fabs(stops[j].measure.area_mm2);
            if (j == i || area >= best || area <= fabs(stops[i].measure.area_mm2)) continue;
            if (!is_box_inside(&stops[i].measure, &stops[j].measure)) continue;
            if (!is_inside(&list->at[j], list->at[i].start)) continue;
            best = area;
            stops[i].parent = j;
        }
    }
    for (size_t i = 0; i < list->n; i++) {
        stops[i].root = i;
        /* parents are larger in area, so this ends */
        for (size_t up = stops[i].parent; up != SIZE_MAX; up = stops[up].parent) {
            stops[i].depth++;
            stops[i].root = up;
        }
    }
}

/* ---- the tour over the families ---------------------------------------------------------------- */

typedef struct tour {
    size_t n;
    sw_pt_mm *at;          /* of each family */
    sw_pt_mm begin, end;   /* where the head comes from and where it goes after the last */
    uint32_t *by_x;        /* families from left to right */
    uint32_t *place_by_x;  /* inverse of by_x */
    uint32_t *next, *before; /* links of by_x places that are still free; n is the end mark */
    uint32_t *order, *place; /* the tour and its inverse */
    uint32_t *near;        /* N_NEAR a family, nearest first; UINT32_MAX where there are fewer */
} tour;

static double distance(sw_pt_mm a, sw_pt_mm b) { return sw_hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm); }

static bool is_left(const tour *t, uint32_t a, uint32_t b)
{
    if (t->at[a].x_mm < t->at[b].x_mm) return true;
    if (t->at[b].x_mm < t->at[a].x_mm) return false;
    return a < b;
}

/* Heap sort by x, ties by index: no scratch, no recursion. */
static void sift_down(const tour *t, size_t root, size_t n)
{
    for (size_t child; (child = 2 * root + 1) < n; root = child) {
        if (child + 1 < n && is_left(t, t->by_x[child], t->by_x[child + 1])) child++;
        if (!is_left(t, t->by_x[root], t->by_x[child])) return;
        const uint32_t held = t->by_x[root];
        t->by_x[root] = t->by_x[child];
        t->by_x[child] = held;
    }
}

static void sort_by_x(const tour *t)
{
    for (size_t i = 0; i < t->n; i++) t->by_x[i] = (uint32_t)i;
    for (size_t i = t->n / 2; i-- > 0;) sift_down(t, i, t->n);
    for (size_t n = t->n; n > 1; n--) {
        const uint32_t held = t->by_x[0];
        t->by_x[0] = t->by_x[n - 1];
        t->by_x[n - 1] = held;
        sift_down(t, 0, n - 1);
    }
    for (size_t i = 0; i < t->n; i++) t->place_by_x[t->by_x[i]] = (uint32_t)i;
}

/* Nearest free family to `from`; left and right are the free places in x around it. */
static uint32_t nearest_free(const tour *t, sw_pt_mm from, uint32_t left, uint32_t right)
{
    uint32_t best = UINT32_MAX;
    double best_mm = INFINITY;
    while (left < t->n || right < t->n) {
        const double dl = left < t->n ? from.x_mm - t->at[t->by_x[left]].x_mm : INFINITY;
        const double dr = right < t->n ? t->at[t->by_x[right]].x_mm - from.x_mm : INFINITY;
        if (sw_min(dl, dr) > best_mm) break;
        const uint32_t family = t->by_x[dl <= dr ? left : right];
        const double d = distance(from, t->at[family]);
        if (d < best_mm || (d <= best_mm && family < best)) {
            best_mm = d;
            best = family;
        }
        if (dl <= dr) left = t->before[left];
        else right = t->next[right];
    }
    return best;
}

static void unlink_place(const tour *t, uint32_t place)
{
    const uint32_t left = t->before[place], right = t->next[place];
    if (left < t->n) t->next[left] = right;
    if (right < t->n) t->before[right] = left;
}

static void go_nearest(const tour *t)
{
    const uint32_t end = (uint32_t)t->n;
    for (uint32_t i = 0; i < end; i++) {
        t->before[i] = i == 0 ? end : i - 1;
        t->next[i] = i + 1;
    }
    uint32_t left = end, right = 0;
    while (right < end && t->at[t->by_x[right]].x_mm < t->begin.x_mm) left = right++;
    sw_pt_mm from = t->begin;
    for (size_t k = 0; k < t->n; k++) {
        const uint32_t family = nearest_free(t, from, left, right), place = t->place_by_x[family];
        t->order[k] = family;
        unlink_place(t, place);
        left = t->before[place];
        right = t->next[place];
        from = t->at[family];
    }
}

/* The N_NEAR nearest of one family, by walking outwards in x. */
static void find_near(const tour *t, uint32_t family)
{
    uint32_t *const near = t->near + (size_t)family * N_NEAR;
    double near_mm[N_NEAR];
    for (size_t i = 0; i < N_NEAR; i++) {
        near[i] = UINT32_MAX;
        near_mm[i] = INFINITY;
    }
    const sw_pt_mm from = t->at[family];
    size_t left = t->place_by_x[family], right = left + 1; /* left: one past */
    while (left > 0 || right < t->n) {
        const double dl = left > 0 ? from.x_mm - t->at[t->by_x[left - 1]].x_mm : INFINITY;
        const double dr = right < t->n ? t->at[t->by_x[right]].x_mm - from.x_mm : INFINITY;
        if (sw_min(dl, dr) >= near_mm[N_NEAR - 1]) break;
        const uint32_t other = t->by_x[dl <= dr ? --left : right++];
        const double d = distance(from, t->at[other]);
        if (d >= near_mm[N_NEAR - 1]) continue;
        size_t i = N_NEAR - 1;
        for (; i > 0 && near_mm[i - 1] > d; i--) {
            near_mm[i] = near_mm[i - 1];
            near[i] = near[i - 1];
        }
        near_mm[i] = d;
        near[i] = other;
    }
}

static void turn_round(const tour *t, size_t from, size_t to)
{
    for (; from < to; from++, to--) {
        const uint32_t held = t->order[from];
        t->order[from] = t->order[to];
        t->order[to] = held;
        t->place[t->order[from]] = (uint32_t)from;
        t->place[t->order[to]] = (uint32_t)to;
    }
}

static sw_pt_mm at_place(const tour *t, size_t place) { return place < t->n ? t->at[t->order[place]] : t->end; }

/* Tries to shorten the way from place i to the next by going to a near neighbour instead. Returns places turned. */
static size_t improve_at(const tour *t, size_t i)
{
    const uint32_t a = t->order[i];
    const sw_pt_mm pa = t->at[a], pb = at_place(t, i + 1);
    for (size_t k = 0; k < N_NEAR; k++) {
        const uint32_t c = t->near[(size_t)a * N_NEAR + k];
        if (c == UINT32_MAX || distance(pa, t->at[c]) >= distance(pa, pb)) return 0;
        const size_t j = t->place[c];
        const sw_pt_mm pd = at_place(t, j + 1);
        const double gain =
            distance(pa, pb) + distance(t->at[c], pd) - distance(pa, t->at[c]) - distance(pb, pd);
        if (!(gain > 1e-6)) continue;
        const size_t from = sw_min_size(i, j) + 1, to = sw_max_size(i, j);
        turn_round(t, from, to);
        return to - from + 1;
    }
    return 0;
}

static void untangle(const tour *t)
{
    size_t n_turned = 0;
    bool is_better = true;
    for (size_t i = 0; i < t->n; i++) t->place[t->order[i]] = (uint32_t)i;
    for (size_t i = 0; i < t->n; i++) find_near(t, (uint32_t)i);
    for (int round = 0; round < MAX_ROUNDS && is_better && n_turned < MAX_TURNED; round++) {
        is_better = false;
        for (size_t i = 0; i < t->n && n_turned < MAX_TURNED; i++) {
            const size_t n = improve_at(t, i);
            n_turned += n;
            is_better = is_better || n > 0;
        }
    }
}

/* All arrays of a tour in one block; false when memory is out. */
static bool make_tour(size_t n, tour *t, uint32_t **block)
{
    *t = (tour){ .n = n };
    t->at = sw_alloc_array(n, sizeof *t->at);
    *block = sw_alloc_array(n, (6 + N_NEAR) * sizeof **block);
    if (t->at == NULL || *block == NULL) return false;
    uint32_t **const parts[] = { &t->by_x, &t->place_by_x, &t->next, &t->before, &t->order, &t->place, &t->near };
    for (size_t i = 0; i < SW_ARRAY_LEN(parts); i++) *parts[i] = *block + i * n;
    return true;
}

/* Ranks of the roots along the tour. */
static sw_status plan_tour(const sw_contours *list, stop *stops, sw_pt_mm begin, sw_pt_mm end, sw_note *note)
{
    tour t = { 0 };
    uint32_t *block = NULL, *root_of = NULL;
    sw_status st = SW_NO_MEMORY;
    size_t n = 0;
    for (size_t i = 0; i < list->n; i++) n += stops[i].depth == 0;
    root_of = sw_alloc_array(n, sizeof *root_of);
    if (root_of == NULL || !make_tour(n, &t, &block)) {
        sw_fail_memory(note, "the cutting order");
        goto cleanup;
    }
    t.begin = begin;
    t.end = end;
    for (size_t i = 0, k = 0; i < list->n; i++) {
        if (stops[i].depth != 0) continue;
        root_of[k] = (uint32_t)i;
        t.at[k++] = list->at[i].start;
    }
    sort_by_x(&t);
    go_nearest(&t);
    untangle(&t);
    for (size_t i = 0; i < n; i++) stops[root_of[t.order[i]]].rank = i;
    st = SW_OK;
cleanup:
    sw_free(t.at);
    sw_free(block);
    sw_free(root_of);
    return st;
}

/* ---- the list in order ------------------------------------------------------------------------- */

static bool is_earlier(const stop *stops, const stop *a, const stop *b)
{
    const size_t rank_a = stops[a->root].rank, rank_b = stops[b->root].rank;
    if (rank_a != rank_b) return rank_a < rank_b;
    if (a->depth != b->depth) return a->depth > b->depth;
    return a->first < b->first;
}

/* order[k]: which contour is cut k-th. Families are short, so insertion from a list already by rank is quick. */
static void order_families(const stop *stops, size_t n, size_t *count, size_t *order)
{
    for (size_t i = 0; i < n; i++) count[stops[stops[i].root].rank + 1]++;
    for (size_t i = 0; i < n; i++) count[i + 1] += count[i];
    for (size_t i = 0; i < n; i++) order[count[stops[stops[i].root].rank]++] = i;
    for (size_t i = 1; i < n; i++) {
        const size_t held = order[i];
        size_t j = i;
        for (; j > 0 && is_earlier(stops, &stops[held], &stops[order[j - 1]]); j--) order[j] = order[j - 1];
        order[j] = held;
    }
}

static sw_status sort_list(sw_contours *list, const stop *stops, sw_note *note)
{
    sw_status st = SW_NO_MEMORY;
    sw_contour *const sorted = sw_alloc_array(list->n, sizeof *sorted);
    size_t *const order = sw_alloc_array(list->n, sizeof *order);
    size_t *const count = sw_alloc_array(list->n + 1, sizeof *count);
    if (sorted == NULL || order == NULL || count == NULL) {
        sw_fail_memory(note, "the cutting order");
        goto cleanup;
    }
    order_families(stops, list->n, count, order);
    for (size_t i = 0; i < list->n; i++) sorted[i] = list->at[order[i]];
    memcpy(list->at, sorted, list->n * sizeof *sorted);
    st = SW_OK;
cleanup:
    sw_free(sorted);
    sw_free(order);
    sw_free(count);
    return st;
}

static void turn_segs(sw_seg *segs, size_t from, size_t to)
{
    for (; from + 1 < to; from++, to--) {
        const sw_seg held = segs[from];
        segs[from] = segs[to - 1];
        segs[to - 1] = held;
    }
}

/* The node to start from: least way in and out; corners first. Then the contour is turned to begin there: the same
 * nodes and handles, so the same curve to the last bit. */
static void choose_start(sw_contour *contour, sw_pt_mm from, sw_pt_mm to)
{
    bool has_corner = false;
    size_t best = SIZE_MAX;
    double best_mm = INFINITY;
    for (size_t i = 0; i < contour->n_segs; i++) has_corner = has_corner || contour->segs[i].is_corner;
    for (size_t i = 0; i < contour->n_segs; i++) {
        if (has_corner && !contour->segs[i].is_corner) continue;
        const double d = distance(from, contour->segs[i].end) + distance(contour->segs[i].end, to);
        if (d < best_mm) {
            best_mm = d;
            best = i;
        }
    }
    if (best == SIZE_MAX || best + 1 == contour->n_segs) return;
    contour->start = contour->segs[best].end;
    turn_segs(contour->segs, 0, best + 1);
    turn_segs(contour->segs, best + 1, contour->n_segs);
    turn_segs(contour->segs, 0, contour->n_segs);
}

static sw_status order_list(sw_contours *list, sw_pt_mm begin, sw_pt_mm end, sw_note *note)
{
    sw_status st = SW_OK;
    if (list->n == 0) return SW_OK;
    stop *const stops = sw_alloc_array(list->n, sizeof *stops);
    if (stops == NULL) return sw_fail_memory(note, "the cutting order");
    for (size_t i = 0; i < list->n; i++)
        stops[i] = (stop){ .measure = sw_contour_extent(&list->at[i]), .parent = SIZE_MAX, .first = i };
    find_parents(list, stops);
    st = plan_tour(list, stops, begin, end, note);
    if (st == SW_OK) st = sort_list(list, stops, note);
    sw_free(stops);
    for (size_t i = 0; st == SW_OK && i < list->n; i++)
        choose_start(&list->at[i], i == 0 ? begin : list->at[i - 1].start,
                     i + 1 < list->n ? list->at[i + 1].start : end);
    return st;
}

static double travel_over(const sw_contours *list, sw_pt_mm *from)
{
    double length = 0.0;
    for (size_t i = 0; i < list->n; i++) {
        length += distance(*from, list->at[i].start);
        *from = list->at[i].start;
    }
    return length;
}

sw_status sw_order_cuts(sw_panel *panel, sw_note *note)
{
    sw_pt_mm from = { 0.0, 0.0 }; /* where a cutter has its zero differs; a corner is the honest guess */
    const sw_pt_mm end = panel->outline.start;
    SW_TRY(order_list(&panel->marks, from, end, note));
    panel->travel_length_mm = travel_over(&panel->marks, &from);
    SW_TRY(order_list(&panel->openings, from, end, note));
    panel->travel_length_mm += travel_over(&panel->openings, &from);
    panel->travel_length_mm += distance(from, end);
    panel->cut_length_mm = sw_contours_measure(&panel->openings).length_mm +
                           sw_contours_measure(&panel->marks).length_mm +
                           sw_contour_measure_one(&panel->outline).length_mm;
    return SW_OK;
}
