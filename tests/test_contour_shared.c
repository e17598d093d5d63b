/* Masks with edges in common get the same curve there. */
#include "faults.h"
#include <math.h>

#include "contour/contour.h"

#define SIDE 220
#define TOLERANCE 0.6
#define N_MASKS 3

/* Which of the masks a place belongs to: 1.., or 0 for none. */
typedef int (*label_fn)(double x, double y);

typedef struct drawing {
    sw_mask masks[N_MASKS];
    sw_contours curves[N_MASKS];
    sw_shared shared[N_MASKS];
    size_t n;
} drawing;

static const sw_grid grid = { SIDE, SIDE, 2.0 };

static void draw(drawing *d, label_fn label, size_t n)
{
    *d = (drawing){ .n = n };
    for (size_t k = 0; k < n; k++) {
        assert_int_equal(sw_mask_make(SIDE, SIDE, &d->masks[k], NULL), SW_OK);
        for (size_t y = 0; y < SIDE; y++) {
            for (size_t x = 0; x < SIDE; x++)
                d->masks[k].at[y * SIDE + x] = label((double)x + 0.5, (double)y + 0.5) == (int)k + 1;
        }
    }
}

static sw_status trace_all(drawing *d, sw_note *note)
{
    for (size_t k = 0; k < d->n; k++) {
        sw_drawn drawn[N_MASKS];
        const sw_mask *later[N_MASKS];
        for (size_t i = 0; i < k; i++) drawn[i] = (sw_drawn){ &d->masks[i], &d->curves[i] };
        for (size_t i = k + 1; i < d->n; i++) later[i - k - 1] = &d->masks[i];
        const sw_trace_opts opts = { .tolerance_mm = TOLERANCE / 2.0, .drawn = drawn, .n_drawn = k, .later = later,
                                     .n_later = d->n - 1 - k, .shared = &d->shared[k] };
        SW_TRY(sw_contours_trace(&d->masks[k], &grid, &opts, &d->curves[k], note));
        sw_contours_round(&d->curves[k], 0.001);
    }
    return SW_OK;
}

static void draw_and_trace(drawing *d, label_fn label, size_t n)
{
    sw_note note = { 0 };
    draw(d, label, n);
    assert_ok(trace_all(d, &note), note);
}

static void free_drawing(drawing *d)
{
    for (size_t k = 0; k < d->n; k++) {
        sw_mask_free(&d->masks[k]);
        sw_contours_free(&d->curves[k]);
    }
}

/* ---- how near two masks' curves are ------------------------------------------------------------------------------ */

typedef struct nearest {
    sw_pt_mm q, last;
    bool has_last;
    double mm;
} nearest;

static void measure_chord(nearest *n, sw_pt_mm a, sw_pt_mm b)
{
    const double dx = b.x_mm - a.x_mm, dy = b.y_mm - a.y_mm, len2 = dx * dx + dy * dy;
    const double along = (n->q.x_mm - a.x_mm) * dx + (n->q.y_mm - a.y_mm) * dy;
    const double t = len2 > 0 ? sw_clamp(along / len2, 0, 1) : 0;
    n->mm = fmin(n->mm, hypot(n->q.x_mm - a.x_mm - t * dx, n->q.y_mm - a.y_mm - t * dy));
}

static bool measure_point(void *ctx, sw_pt_mm p)
{
    nearest *const n = ctx;
    if (n->has_last) measure_chord(n, n->last, p);
    n->last = p;
    n->has_last = true;
    return true;
}

static double distance_to(const sw_contours *list, sw_pt_mm q)
{
    nearest n = { .q = q, .mm = HUGE_VAL };
    for (size_t i = 0; i < list->n; i++) {
        n.has_last = false;
        (void)sw_contour_flatten(&list->at[i], 0.0005, measure_point, &n);
        measure_chord(&n, n.last, list->at[i].start);
    }
    return n.mm;
}

typedef struct comparing {
    const sw_contours *other;
    bool (*is_wanted)(double x, double y);
    double worst;
    size_t n;
} comparing;

static bool compare_point(void *ctx, sw_pt_mm p)
{
    comparing *const c = ctx;
    if (!c->is_wanted(2 * p.x_mm, 2 * p.y_mm)) return true;
    c->worst = fmax(c->worst, distance_to(c->other, p));
    c->n++;
    return true;
}

/* Farthest that one list's curves are from another's where the drawing says that they share an edge. */
static double farthest(const sw_contours *one, const sw_contours *other, bool (*is_wanted)(double x, double y))
{
    comparing c = { .other = other, .is_wanted = is_wanted };
    for (size_t i = 0; i < one->n; i++) (void)sw_contour_flatten(&one->at[i], 0.0005, compare_point, &c);
    assert_true(c.n > 50);
    return c.worst;
}

static size_t n_nodes(const sw_contours *list) { return sw_contours_measure(list).n_nodes; }

/* ---- drawings ---------------------------------------------------------------------------------------------------- */

#define SAME_MM 0.002 /* two roundings and two flattenings */

static double wave(double y) { return 112 + 14 * sin(y / 17) + 5 * sin(y / 7 + 1); }
static double from_middle(double x, double y) { return hypot(x - 110, y - 110); }
static int halves(double x, double y) { return from_middle(x, y) >= 85 ? 0 : x < wave(y) ? 1 : 2; }
static bool is_on_wave(double x, double y) { return from_middle(x, y) < 78 && fabs(x - wave(y)) < 3; }

static void half_discs_meet_in_one_curve(void **state)
{
    (void)state;
    drawing d;
    draw_and_trace(&d, halves, 2);
    assert_true(farthest(&d.curves[1], &d.curves[0], is_on_wave) < SAME_MM);
    assert_true(farthest(&d.curves[0], &d.curves[1], is_on_wave) < SAME_MM);
    assert_true(d.shared[1].edge_mm > 85 && d.shared[1].same_mm > 0.95 * d.shared[1].edge_mm);
    assert_int_equal(d.shared[1].n_curves, 1);
    /* where it began and ends both have a node, so nothing is left between them */
    sw_contours alone = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_contours_trace(&d.masks[1], &grid, &(sw_trace_opts){ .tolerance_mm = TOLERANCE / 2.0 }, &alone, &note), note);
    sw_contours_round(&alone, 0.001);
    assert_true(farthest(&alone, &d.curves[0], is_on_wave) > 0.02); /* by itself it gets a curve of its own */
    assert_true(n_nodes(&d.curves[1]) <= n_nodes(&alone) + 2);
    sw_contours_free(&alone);
    free_drawing(&d);
}

static int thirds(double x, double y)
{
    if (from_middle(x, y) >= 90) return 0;
    const double third = 2 * 3.14159265358979 / 3;
    const double angle = atan2(y - 110, x - 110) + 0.25 * sin(from_middle(x, y) / 15) + third;
    return 1 + (int)floor(fmod(angle + 3 * third, 3 * third) / third);
}

static bool is_near_spoke(double x, double y)
{
    const double r = from_middle(x, y);
    if (r < 10 || r > 84) return false;
    const int here = thirds(x, y);
    return thirds(x + 1.5, y) != here || thirds(x - 1.5, y) != here || thirds(x, y + 1.5) != here || thirds(x, y - 1.5) != here;
}

static void three_meet_at_a_point(void **state)
{
    (void)state;
    drawing d;
    draw_and_trace(&d, thirds, 3);
    for (size_t k = 1; k < 3; k++) {
        sw_contours others = { .at = (sw_contour[]){ d.curves[0].at[0], d.curves[1].at[0] }, .n = k };
        if (k == 2) assert_true(farthest(&d.curves[2], &others, is_near_spoke) < SAME_MM);
        assert_true(d.shared[k].same_mm > 0.93 * d.shared[k].edge_mm);
    }
    assert_true(d.shared[1].edge_mm > 38 && d.shared[2].edge_mm > 76);
    free_drawing(&d);
}

static double blob(double x, double y) { return from_middle(x, y) - 55 - 12 * sin(3 * atan2(y - 110, x - 110)) - 4 * sin(x / 8); }
static int island(double x, double y) { return blob(x, y) < 0 ? 2 : from_middle(x, y) < 95 ? 1 : 0; }

static void an_island_is_the_hole_it_lies_in(void **state)
{
    (void)state;
    drawing d;
    draw_and_trace(&d, island, 2);
    assert_int_equal(d.curves[0].n, 2);
    assert_int_equal(d.curves[1].n, 1);
    const sw_contour *const hole = &d.curves[0].at[1], *const in_it = &d.curves[1].at[0];
    const size_t n = hole->n_segs;
    assert_int_equal(in_it->n_segs, n);
    size_t first = 0; /* segment of the hole whose end is where the other begins */
    while (first < n && (hole->segs[first].end.x_mm != in_it->start.x_mm || hole->segs[first].end.y_mm != in_it->start.y_mm)) first++;
    assert_true(first < n);
    for (size_t k = 0; k < n; k++) {
        const sw_seg *const there = &hole->segs[(first + n - k) % n], *const here = &in_it->segs[k];
        const sw_pt_mm from = (first + n - k) % n == 0 ? hole->start : hole->segs[(first + n - k) % n - 1].end;
        assert_true(here->end.x_mm == from.x_mm && here->end.y_mm == from.y_mm);
        assert_int_equal(here->is_line, there->is_line);
        if (here->is_line) continue;
        assert_true(here->c1.x_mm == there->c2.x_mm && here->c1.y_mm == there->c2.y_mm);
        assert_true(here->c2.x_mm == there->c1.x_mm && here->c2.y_mm == there->c1.y_mm);
    }
    assert_true(d.shared[1].same_mm > 0.99 * sw_contour_measure_one(in_it).length_mm);
    free_drawing(&d);
}

static int to_the_border(double x, double y) { return x < wave(y) ? 1 : y < 150 ? 2 : 0; }
static bool is_on_border_wave(double x, double y) { return y < 140 && fabs(x - wave(y)) < 3; }

static void a_shared_edge_ends_on_the_border_in_one_point(void **state)
{
    (void)state;
    drawing d;
    draw_and_trace(&d, to_the_border, 2);
    assert_true(farthest(&d.curves[1], &d.curves[0], is_on_border_wave) < SAME_MM);
    size_t n_meet = 0;
    for (size_t i = 0; i < d.curves[1].at[0].n_segs; i++) {
        const sw_pt_mm p = d.curves[1].at[0].segs[i].end;
        for (size_t k = 0; k < d.curves[0].at[0].n_segs; k++) {
            const sw_pt_mm q = d.curves[0].at[0].segs[k].end;
            n_meet += p.y_mm == 0 && q.y_mm == 0 && p.x_mm == q.x_mm && p.x_mm > 0 && p.x_mm < 110;
        }
    }
    assert_int_equal(n_meet, 1);
    free_drawing(&d);
}

/* The later mask lies over the earlier: both are open on the same side of what they share. */
static void a_later_mask_over_an_earlier_ends_where_that_ends(void **state)
{
    (void)state;
    drawing d;
    sw_note note = { 0 };
    draw(&d, halves, 2);
    for (size_t i = 0; i < SIDE * SIDE; i++) d.masks[0].at[i] |= d.masks[1].at[i];
    assert_ok(trace_all(&d, &note), note);
    assert_int_equal(n_nodes(&d.curves[0]), 4); /* the whole disc, still four segments */
    assert_true(d.shared[1].same_mm > 0.95 * d.shared[1].edge_mm && d.shared[1].edge_mm > 100);
    free_drawing(&d);
}

static void short_runs_are_left_alone(void **state)
{
    (void)state;
    drawing d;
    draw(&d, halves, 2);
    sw_note note = { 0 };
    assert_ok(sw_contours_trace(&d.masks[0], &grid, &(sw_trace_opts){ .tolerance_mm = 0.3 }, &d.curves[0], &note), note);
    const sw_drawn drawn = { &d.masks[0], &d.curves[0] };
    sw_contours alone = { 0 };
    assert_ok(sw_contours_trace(&d.masks[1], &grid, &(sw_trace_opts){ .tolerance_mm = 0.3 }, &alone, &note), note);
    const sw_trace_opts opts = { .tolerance_mm = 0.3, .drawn = &drawn, .n_drawn = 1, .least_shared_mm = 120, .shared = &d.shared[1] };
    assert_ok(sw_contours_trace(&d.masks[1], &grid, &opts, &d.curves[1], &note), note);
    assert_int_equal(d.shared[1].n_curves, 0);
    assert_true(d.shared[1].edge_mm == 0);
    assert_int_equal(d.curves[1].n, 1);
    assert_int_equal(d.curves[1].at[0].n_segs, alone.at[0].n_segs);
    assert_memory_equal(d.curves[1].at[0].segs, alone.at[0].segs, alone.at[0].n_segs * sizeof *alone.at[0].segs);
    sw_contours_free(&alone);
    free_drawing(&d);
}

static void smooth_joints_are_smooth(void **state)
{
    (void)state;
    drawing d;
    draw_and_trace(&d, thirds, 3);
    for (size_t i = 0; i < 3; i++) {
        const sw_contour *const c = &d.curves[i].at[0];
        for (size_t k = 0; k < c->n_segs; k++) {
            const sw_seg *const a = &c->segs[k], *const b = &c->segs[(k + 1) % c->n_segs];
            if (a->is_corner) continue;
            const sw_pt_mm from = k == 0 ? c->start : c->segs[k - 1].end, u = a->is_line ? from : a->c2, v = b->is_line ? b->end : b->c1;
            const double ux = a->end.x_mm - u.x_mm, uy = a->end.y_mm - u.y_mm, vx = v.x_mm - a->end.x_mm, vy = v.y_mm - a->end.y_mm;
            assert_true(ux * vx + uy * vy > 0);
            assert_true(fabs(ux * vy - uy * vx) < 0.004 * hypot(ux, uy) * hypot(vx, vy) + 0.001 * (hypot(ux, uy) + hypot(vx, vy)));
        }
    }
    free_drawing(&d);
}

static void threads_do_not_change_a_byte(void **state)
{
    (void)state;
    drawing one;
    sw_threads_set(1);
    draw_and_trace(&one, thirds, 3);
    for (int threads = 2; threads <= 7; threads += 5) {
        drawing d;
        sw_threads_set(threads);
        draw_and_trace(&d, thirds, 3);
        for (size_t k = 0; k < 3; k++) {
            assert_int_equal(d.curves[k].at[0].n_segs, one.curves[k].at[0].n_segs);
            assert_memory_equal(d.curves[k].at[0].segs, one.curves[k].at[0].segs, one.curves[k].at[0].n_segs * sizeof(sw_seg));
        }
        free_drawing(&d);
    }
    sw_threads_set(0);
    free_drawing(&one);
}

static void a_mask_outside_the_earlier_is_refused(void **state)
{
    (void)state;
    drawing d;
    draw_and_trace(&d, halves, 1);
    sw_contours out = { 0 };
    sw_note note = { 0 };
    const sw_drawn drawn = { &d.masks[0], &d.curves[0] };
    const sw_mask *const later = &d.masks[0];
    const sw_trace_opts bad[] = { { .tolerance_mm = 1, .drawn = &drawn, .n_drawn = 1, .x_px = 1 },
                                  { .tolerance_mm = 1, .drawn = &drawn, .n_drawn = 1, .y_px = SIZE_MAX },
                                  { .tolerance_mm = 1, .later = &later, .n_later = 1, .x_px = 1 },
                                  { .tolerance_mm = 1, .drawn = &drawn, .n_drawn = SW_MAX_PASSES + 1 },
                                  { .tolerance_mm = 1, .least_shared_mm = NAN } };
    for (size_t i = 0; i < SW_ARRAY_LEN(bad); i++)
        assert_int_equal(sw_contours_trace(&d.masks[0], &grid, &bad[i], &out, &note), SW_BAD_LENGTH);
    assert_null(out.at);
    free_drawing(&d);
}

static void every_failing_allocation_is_reported(void **state)
{
    (void)state;
    drawing d;
    draw(&d, thirds, 3);
    const size_t before = sw_alloc_fail_at(0);
    sw_threads_set(1);
    for (size_t nth = 1;; nth = nth < 40 ? nth + 1 : nth + 7) {
        sw_note note = { 0 };
        sw_alloc_fail_at(nth);
        const sw_status st = trace_all(&d, &note);
        sw_alloc_fail_at(0);
        for (size_t k = 0; k < d.n; k++) sw_contours_free(&d.curves[k]);
        assert_int_equal(sw_alloc_fail_at(0), before);
        if (st == SW_OK) {
            assert_true(nth > 100);
            break;
        }
        assert_int_equal(st, SW_NO_MEMORY);
    }
    sw_threads_set(0);
    free_drawing(&d);
}

/* ---- a busy map ------------------------------------------------------------------------------------------------------- */

static uint64_t map_seed;

static double node_value(uint64_t layer, long x, long y)
{
    uint64_t s = map_seed * 1000003u + layer * 7919u + (uint64_t)x * 40503u + (uint64_t)y * 65537u;
    return (double)(test_random(&s) % 1000) / 1000.0;
}

/* Values at the nodes of a net 14 pixels wide, and between them what lies between. */
static double layer_at(uint64_t layer, double x, double y)
{
    const double cell = 14.0;
    const long i = (long)floor(x / cell), j = (long)floor(y / cell);
    const double u = x / cell - (double)i, v = y / cell - (double)j;
    return (node_value(layer, i, j) * (1 - u) + node_value(layer, i + 1, j) * u) * (1 - v) +
           (node_value(layer, i, j + 1) * (1 - u) + node_value(layer, i + 1, j + 1) * u) * v;
}

/* Ragged countries with narrow straits, one of them nobody's. */
static int busy_map(double x, double y)
{
    int best = 0;
    for (int k = 1; k <= N_MASKS; k++) {
        if (layer_at((uint64_t)k, x, y) > layer_at((uint64_t)best, x, y)) best = k;
    }
    return best;
}

static sw_status trace_and_free(void *ctx, sw_note *note)
{
    drawing *const d = ctx;
    const sw_status st = trace_all(d, note);
    for (size_t k = 0; k < d->n; k++) sw_contours_free(&d->curves[k]);
    return st;
}

/* Curves that cross others or are too far off are given up, their neighbours get joints of their own: no allocation on
 * these ways may fail badly either. */
static void what_is_given_up_survives_failing_allocations(void **state)
{
    (void)state;
    size_t n_given_up = 0;
    for (map_seed = 15; map_seed <= 16; map_seed++) {
        drawing d;
        draw_and_trace(&d, busy_map, N_MASKS);
        for (size_t k = 0; k < d.n; k++) {
            n_given_up += d.shared[k].n_given_up;
            sw_contours_free(&d.curves[k]);
        }
        assert_true(fault_walk(trace_and_free, &d) > 50);
        free_drawing(&d);
    }
    assert_true(n_given_up > 4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(half_discs_meet_in_one_curve),
        cmocka_unit_test(three_meet_at_a_point),
        cmocka_unit_test(an_island_is_the_hole_it_lies_in),
        cmocka_unit_test(a_shared_edge_ends_on_the_border_in_one_point),
        cmocka_unit_test(a_later_mask_over_an_earlier_ends_where_that_ends),
        cmocka_unit_test(short_runs_are_left_alone),
        cmocka_unit_test(smooth_joints_are_smooth),
        cmocka_unit_test(threads_do_not_change_a_byte),
        cmocka_unit_test(a_mask_outside_the_earlier_is_refused),
        cmocka_unit_test(every_failing_allocation_is_reported),
        cmocka_unit_test(what_is_given_up_survives_failing_allocations),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
