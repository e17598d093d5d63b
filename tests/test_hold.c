/* What hangs: the net of beams against formulas (cantilever p L^4 / 8 D, clamped strip p L^4 / 384 D: Timoshenko and
 * Woinowsky-Krieger, Roark; from memory) and against the plate elements of droop.h. */
#include "support.h"
#include <math.h>

#include "sheet/hold.h"

#define SIDE_MM 500.0
#define CELL_MM 2.0

static void near_ratio(double got, double want, double tolerance)
{
    if (!(fabs(got / want - 1.0) <= tolerance)) print_error("%.6g against %.6g\n", got, want);
    assert_true(fabs(got / want - 1.0) <= tolerance);
}

/* Material is where inside says so: sampled 4 x 4 a cell. */
typedef bool (*shape)(double x, double y, const double *of);

static sw_hold_cells draw(shape inside, const double *of)
{
    sw_hold_cells cells = { 0 };
    if (sw_hold_cells_make(SIDE_MM, SIDE_MM, CELL_MM, (sw_pt_mm){ 0, 0 }, &cells, NULL) != SW_OK) abort();
    for (size_t row = 1; row + 1 < cells.height; row++)
        for (int sub = 0; sub < 4; sub++)
            for (double x = 0; x < SIDE_MM; x += CELL_MM / 4)
                if (inside(x + CELL_MM / 8, ((double)row - 1 + (sub + 0.5) / 4) * CELL_MM, of))
                    sw_hold_cells_add(&cells, row, x, x + CELL_MM / 4, 0.25);
    return cells;
}

static sw_hang measure(shape inside, const double *of)
{
    sw_hold_cells cells = draw(inside, of);
    sw_hang hang = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_hold_measure(&cells, NULL, 5.0, &hang, &note), note);
    sw_hold_cells_free(&cells);
    return hang;
}

/* Broad below y = 100; a strip from there at an angle: of = length, width, angle. */
static bool tongue(double x, double y, const double *of)
{
    if (y < 100) return true;
    const double dx = x - 150, dy = y - 100, along = dx * sin(of[2]) + dy * cos(of[2]);
    return along <= of[0] && fabs(dx * cos(of[2]) - dy * sin(of[2])) <= of[1] / 2;
}

static void a_tongue_sinks_as_a_cantilever(void **state)
{
    (void)state;
    const sw_material *m = sw_material_find(NULL);
    for (double length = 60; length < 380; length *= 1.7)
        for (double width = 5; width < 75; width *= 3) {
            const sw_hang hang = measure(tongue, (double[]){ length, width, 0 });
            const double bulge = 40 - sqrt(1600 - width * width / 4); /* the broad's disc reaches into its mouth */
            assert_true(hang.droop_mm < 1.06 * fmin(droop_tongue_mm(m, length), length));
            assert_true(hang.droop_mm > 0.94 * fmin(droop_tongue_mm(m, length - bulge), length - 4));
            assert_true(hang.length_mm > 0.97 * length && hang.length_mm < 1.03 * length + width / 2);
            assert_true(fabs(hang.at.y_mm - 100 - length) < 4 && fabs(hang.at.x_mm - 150) < 2 + width / 2);
        }
}

static void a_slanted_tongue_sinks_as_a_straight_one(void **state)
{
    (void)state;
    const double straight = measure(tongue, (double[]){ 160, 8, 0 }).droop_mm;
    for (double angle = 0.1; angle < 0.85; angle += 0.1) /* steeper, its clamp is long and holds better */
        near_ratio(measure(tongue, (double[]){ 160, 8, angle }).droop_mm, straight, 0.08);
}

/* Broad above and below, a web between. */
static bool span(double x, double y, const double *of)
{
    return y < 100 || y > 100 + of[0] || fabs(x - 250) <= of[1] / 2;
}

static void a_web_between_broad_parts_is_held_at_both_ends(void **state)
{
    (void)state;
    for (double length = 120; length < 380; length *= 1.6) {
        const sw_hang hang = measure(span, (double[]){ length, 6 });
        near_ratio(hang.droop_mm, droop_tongue_mm(sw_material_find(NULL), length) * 8 / 384, 0.06);
        assert_true(fabs(hang.at.y_mm - 100 - length / 2) < 12);
    }
}

/* A ring of material between radii of[1], of[2], on of[0] bridges 5 mm wide to the frame beyond 200. */
static bool ring(double x, double y, const double *of)
{
    const double dx = x - 250, dy = y - 250, r = hypot(dx, dy);
    if (r > 200 || (r >= of[1] && r <= of[2])) return true;
    if (r < of[1]) return false;
    for (double k = 0; k < of[0]; k++) {
        const double a = 6.283185307 * k / of[0], along = dx * cos(a) + dy * sin(a);
        if (along > 0 && fabs(dx * sin(a) - dy * cos(a)) <= 2.5) return true;
    }
    return false;
}

static void more_bridges_hold_a_ring_better(void **state)
{
    (void)state;
    for (int kind = 0; kind < 2; kind++) { /* a thin ring, a broad disc */
        double before = HUGE_VAL;
        for (double n = 1; n <= 4; n++) {
            const double droop = measure(ring, (double[]){ n, kind == 0 ? 160 : 0, 180 }).droop_mm;
            print_message("%g bridges: %.2f mm\n", n, droop);
            assert_true(droop < before);
            before = droop;
        }
        assert_true(before < 5);
    }
}

/* A spiral arm 8 mm wide, of[0] turns, from the frame inward. */
static bool spiral(double x, double y, const double *of)
{
    const double dx = x - 250, dy = y - 250, r = hypot(dx, dy), pitch = 24;
    if (r > 220) return true;
    const double turns = (220 - r) / pitch, angle = atan2(dy, dx) / 6.283185307 + 0.5;
    const double k = floor(turns - angle + 0.5) + angle;
    return k >= 0 && k <= of[0] && fabs((turns - k) * pitch) <= 4;
}

static void a_spiral_is_one_long_tongue(void **state)
{
    (void)state;
    const sw_hang hang = measure(spiral, (double[]){ 3.2 });
    assert_true(hang.length_mm > 3.2 * 6.28 * 160 && hang.length_mm < 3.2 * 6.28 * 220);
    assert_true(hang.droop_mm > 100);
    assert_int_equal(hang.n_over, 1);
}

/* A square of[0] wide on a neck of[1] long and of[2] wide. */
static bool head(double x, double y, const double *of)
{
    return y < 100 || (y < 100 + of[1] && fabs(x - 250) <= of[2] / 2) ||
           (y >= 100 + of[1] && y <= 100 + of[1] + of[0] && fabs(x - 250) <= of[0] / 2);
}

static void a_head_on_a_neck_turns_as_a_whole(void **state)
{
    (void)state;
    const sw_material *m = sw_material_find(NULL);
    const double a = 100, l = 24, w = 10, ei = droop_rigidity_nmm(m) * w, load = droop_weight_n_mm2(m) * a * a;
    const double end = load * l * l * l / (3 * ei) + load * a / 2 * l * l / (2 * ei);
    const double slope = load * l * l / (2 * ei) + load * a / 2 * l / ei;
    const sw_hang hang = measure(head, (double[]){ a, l, w });
    near_ratio(hang.droop_mm, end + a * slope, 0.12);
    assert_true(fabs(hang.width_mm - w) < 2);
}

static bool half_open(double x, double y, const double *of)
{
    (void)x;
    return y < of[0];
}

static void nothing_hangs_where_all_is_broad_or_open(void **state)
{
    (void)state;
    assert_true(measure(half_open, (double[]){ 250 }).droop_mm < 0.01);
    assert_true(measure(half_open, (double[]){ 0 }).droop_mm < 0.01);
    assert_true(measure(half_open, (double[]){ 500 }).droop_mm == 0.0);
}

static bool far_island(double x, double y, const double *of)
{
    (void)of;
    return fabs(x - 250) < 50 && fabs(y - 250) < 4;
}

static void what_hangs_on_nothing_is_left_to_others(void **state)
{
    (void)state;
    assert_true(measure(far_island, NULL).droop_mm == 0.0);
}

/* An L of two narrow legs clamped at one end bends and twists: the plate elements say how much. */
static bool elbow(double x, double y, const double *of)
{
    return y < 100 || (x > 100 && x < 110 && y < 100 + of[0]) || (x > 100 && x < 110 + of[0] && y > 90 + of[0] && y < 100 + of[0]);
}

static void an_elbow_sinks_as_its_plate(void **state)
{
    (void)state;
    enum { LEG = 40, CELLS = LEG + 4, WIDE = 4 }; /* cells of 2.5 mm: legs of 100 mm, 10 wide */
    static uint8_t solid[CELLS * CELLS], held[(CELLS + 1) * (CELLS + 1)];
    static double sink[(CELLS + 1) * (CELLS + 1)];
    for (size_t y = 0; y < LEG; y++)
        for (size_t x = 0; x < CELLS; x++) solid[y * CELLS + x] = x < WIDE || y >= LEG - WIDE;
    for (size_t x = 0; x <= WIDE; x++) held[x] = 2;
    sw_note note = { 0 };
    assert_ok(droop_plate(sw_material_find(NULL), solid, held, CELLS, CELLS, 2.5, SW_POISSON, sink, &note), note);
    double most = 0;
    for (size_t i = 0; i < (CELLS + 1) * (CELLS + 1); i++) most = fmax(most, sink[i]);
    const double droop = measure(elbow, (double[]){ 100 }).droop_mm;
    near_ratio(droop, most, 0.2);
}

static void every_failed_allocation_is_passed_up(void **state)
{
    (void)state;
    sw_hold_cells cells = draw(ring, (double[]){ 2, 0, 180 });
    for (size_t nth = 1;; nth++) {
        sw_hang hang = { .droop_mm = -1 };
        const size_t n_live = sw_alloc_fail_at(nth);
        const sw_status st = sw_hold_measure(&cells, NULL, 5.0, &hang, NULL);
        const bool is_last = sw_alloc_count() < nth;
        assert_int_equal(sw_alloc_fail_at(0), n_live);
        assert_int_equal(st, is_last ? SW_OK : SW_NO_MEMORY);
        if (is_last) break;
        assert_true(hang.droop_mm == -1);
        if (nth > 60) nth += nth / 8; /* rows grow one by one */
    }
    sw_hold_cells_free(&cells);
}

/* A frame 24 mm wide about one opening, narrower than what is broad, and a strip of of[0] from the middle of its right side into it. */
static bool framed(double x, double y, const double *of)
{
    return x < 24 || y < 24 || x > 476 || y > 476 || (fabs(y - 250) <= 4 && x > 476 - of[0]);
}

static void what_hangs_on_a_frame_hangs_where_it_meets_it(void **state)
{
    (void)state;
    const double length = 120;
    const sw_hang hang = measure(framed, &length);
    print_message("%g mm along %g mm\n", hang.droop_mm, hang.length_mm);
    assert_true(hang.length_mm > length - 5 && hang.length_mm < length + 35); /* its slices go all round */
    near_ratio(hang.droop_mm, droop_tongue_mm(sw_material_find(NULL), length + 5), 0.25);
}

/* A tongue so wide that its slices count as wide, but full of holes: nothing broad is in it. */
static bool lattice(double x, double y, const double *of)
{
    if (y < 100) return true;
    if (x < 100 || x > 400 || y > 100 + of[0]) return false;
    return fmod(x - 100, 30) < 6 || fmod(y - 100, 30) < 6;
}

static void a_wide_lattice_bends_along_its_way(void **state)
{
    (void)state;
    const double droop = measure(lattice, (double[]){ 246 }).droop_mm, strip = droop_tongue_mm(sw_material_find(NULL), 246);
    print_message("%g mm, a strip %g mm\n", droop, strip);
    assert_true(droop > 0.7 * fmin(strip, 246.0) && droop < 4.0 * strip);
}

/* An area that is no whole number of cells: its last ones reach past it, into what holds it. */
static void a_frame_is_held_on_all_four_sides(void **state)
{
    (void)state;
    for (double side = 500.0; side < 502.1; side += 0.3) {
        sw_hold_cells cells = { 0 };
        sw_hang hang = { 0 };
        sw_note note = { 0 };
        assert_ok(sw_hold_cells_make(side, side, CELL_MM, (sw_pt_mm){ 0, 0 }, &cells, &note), note);
        for (size_t row = 1; row + 1 < cells.height; row++) {
            const double top = ((double)row - 1) * CELL_MM, share = sw_min((side - top) / CELL_MM, 1.0);
            const bool is_frame = top < 40 || top > side - 42;
            sw_hold_cells_add(&cells, row, 0, is_frame ? side : 40, share);
            if (!is_frame) sw_hold_cells_add(&cells, row, side - 40, side, share);
        }
        assert_ok(sw_hold_measure(&cells, NULL, 5.0, &hang, &note), note);
        assert_true(hang.droop_mm < 0.2 && hang.length_mm < 60);
        sw_hold_cells_free(&cells);
    }
}

/* Random beams on a spiral and on rings: what a probe says of one more is what solving with it says, and the net stays. */
static void a_probe_says_what_solving_anew_says(void **state)
{
    (void)state;
    uint32_t seed = 7;
    size_t n_compared = 0;
    for (int kind = 0; kind < 3; kind++) {
        sw_hold_cells cells = kind == 0 ? draw(spiral, (double[]){ 3 }) : draw(ring, (double[]){ kind == 1 ? 2 : 3, kind == 1 ? 160 : 0, 180 });
        hold_net net = { 0 };
        sw_note note = { 0 };
        assert_ok(hold_net_make(&cells, NULL, hold_broad_mm(sw_material_find(NULL), 5.0), &net, &note), note);
        assert_ok(hold_net_solve(&net, &note), note);
        for (int i = 0; i < 60; i++) {
            seed = seed * 1664525u + 1013904223u;
            const uint32_t a = 1 + (seed >> 8) % ((uint32_t)net.n_nodes - 1);
            seed = seed * 1664525u + 1013904223u;
            const uint32_t b = i % 3 == 0 ? HOLD_ROOT : (seed >> 8) % (uint32_t)net.n_nodes;
            if (a == b || net.nodes[a].before == HOLD_NONE || net.nodes[b].before == HOLD_NONE) continue;
            const sw_pt_mm pa = net.nodes[a].middle, at = { pa.x_mm + 3, pa.y_mm - 2 };
            const sw_pt_mm pb = b == HOLD_ROOT ? (sw_pt_mm){ pa.x_mm + 20, pa.y_mm + 10 } : net.nodes[b].middle;
            const hold_link link = { .a = a, .b = b, .pa = pa, .pb = pb, .width_mm = 5.0 };
            double told = -1;
            assert_true(hold_probe(&net, &link, a, at, &told));
            assert_true(hold_net_link(&net, link));
            assert_ok(hold_net_solve(&net, &note), note);
            const double want = hold_pull_mm(&net, a, at);
            if (!(fabs(told - want) <= 1e-6 + 1e-6 * fabs(want))) print_error("%g against %g\n", told, want);
            assert_true(fabs(told - want) <= 1e-6 + 1e-6 * fabs(want));
            n_compared += fabs(want) > 1e-4;
            if (i % 2 == 0) continue; /* odd ones go again */
            net.n_links--;
            hold_net_touch(&net, &link);
            assert_ok(hold_net_solve(&net, &note), note);
        }
        hold_net_free(&net);
        sw_hold_cells_free(&cells);
    }
    print_message("%zu compared\n", n_compared);
    assert_true(n_compared > 100);
}

/* Islands of many widths, rods and a comb on the frame. */
static bool crowd(double x, double y, const double *of)
{
    const double u = fmod(x, 60) - 30, v = fmod(y, 60) - 30;
    if (x < 90 || y < 90 || x > 410 || y > 410) return x < 60 || y < 60 || x > 440 || y > 440 || fmod(x + y, of[0]) < 8;
    return hypot(u, v) < 8 + fmod(x / 60 + 3 * floor(y / 60), 18) || (fabs(u) < 3 && fmod(floor(y / 60), 3) > 0);
}

static uint32_t random_below(uint32_t *seed, size_t n)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (uint32_t)((*seed >> 8) % n);
}

/* The same net with the same bridges, never solved before. */
static void assert_as_new(const hold_net *net, const sw_hold_cells *cells)
{
    hold_net fresh = { 0 };
    sw_note note = { 0 };
    assert_ok(hold_net_make(cells, NULL, hold_broad_mm(sw_material_find(NULL), 5.0), &fresh, &note), note);
    for (size_t i = fresh.n_own; i < net->n_links; i++) assert_true(hold_net_link(&fresh, net->links[i]));
    assert_ok(hold_net_solve(&fresh, &note), note);
    for (uint32_t i = 1; i < net->n_nodes; i++) {
        const hold_node *const a = &net->nodes[i], *const b = &fresh.nodes[i];
        assert_int_equal(a->before, b->before);
        assert_int_equal(a->group, b->group);
        if (b->before == HOLD_NONE) continue;
        assert_true(!(a->way_mm < b->way_mm) && !(a->way_mm > b->way_mm));
        const double off = fabs(a->sink_mm - b->sink_mm), scale = 1.0 + fabs(b->sink_mm);
        if (!(off <= 1e-6 * scale)) print_error("node %u: %g against %g\n", i, a->sink_mm, b->sink_mm);
        assert_true(off <= 1e-6 * scale);
    }
    hold_net_free(&fresh);
}

static void bridges_that_come_and_go_leave_the_net_as_if_made_anew(void **state)
{
    (void)state;
    uint32_t seed = 11;
    for (int kind = 0; kind < 3; kind++) {
        sw_hold_cells cells = kind == 0 ? draw(crowd, (double[]){ 47 }) : kind == 1 ? draw(spiral, (double[]){ 3 })
                                                                                    : draw(ring, (double[]){ 2, 160, 180 });
        hold_net net = { 0 };
        sw_note note = { 0 };
        assert_ok(hold_net_make(&cells, NULL, hold_broad_mm(sw_material_find(NULL), 5.0), &net, &note), note);
        assert_true(net.n_nodes > 10);
        for (int round = 0; round < 60; round++) {
            for (uint32_t n = random_below(&seed, 6); n > 0; n--) { /* some come */
                const uint32_t a = 1 + random_below(&seed, net.n_nodes - 1);
                const uint32_t b = random_below(&seed, 4) == 0 ? HOLD_ROOT : random_below(&seed, net.n_nodes);
                const sw_pt_mm pa = net.nodes[a].middle;
                const sw_pt_mm pb = b == HOLD_ROOT || b == a ? (sw_pt_mm){ pa.x_mm + 20, pa.y_mm + 10 } : net.nodes[b].middle;
                assert_true(hold_net_link(&net, (hold_link){ .a = a, .b = b, .pa = pa, .pb = pb, .width_mm = 5.0, .area_mm2 = 100 }));
            }
            for (uint32_t n = random_below(&seed, 5); n > 0 && net.n_links > net.n_own; n--) { /* some go */
                const size_t i = net.n_own + random_below(&seed, net.n_links - net.n_own);
                hold_net_touch(&net, &net.links[i]);
                net.links[i] = net.links[--net.n_links];
            }
            if (net.n_links > net.n_own) { /* one is wider now */
                hold_link *const link = &net.links[net.n_own + random_below(&seed, net.n_links - net.n_own)];
                link->width_mm *= 1.5;
                hold_net_touch(&net, link);
            }
            assert_ok(hold_net_solve(&net, &note), note);
            assert_as_new(&net, &cells);
        }
        print_message("%zu nodes, %zu bridges at the end\n", net.n_nodes, net.n_links - net.n_own);
        hold_net_free(&net);
        sw_hold_cells_free(&cells);
    }
}

/* A body on a web of a hand's length, with crumbs all round its rim on beams of a millimetre, a million times as stiff:
 * the body sinks by P / EI of the integral of (100 - x)^2 over both beams it hangs on, crumbs or none (Timoshenko, from
 * memory: bending energy of a cantilever). */
static void short_beams_beside_long_ones_lose_nothing(void **state)
{
    (void)state;
    const sw_material *const m = sw_material_find(NULL);
    const double body_mm2 = 30000, load = droop_weight_n_mm2(m) * body_mm2, d = droop_rigidity_nmm(m);
    const double want = load / (5 * d) * (pow(145, 3) - pow(50, 3)) / 3 + load / (2 * d) * (pow(50, 3) - pow(49, 3)) / 3;
    for (uint32_t n_crumbs = 0; n_crumbs < 300; n_crumbs = 3 * n_crumbs + 1) {
        hold_net net = { .material = m, .n_broad = 1, .n_nodes = n_crumbs + 3, .cap_nodes = n_crumbs + 3 };
        sw_note note = { 0 };
        net.nodes = sw_alloc_array(net.n_nodes, sizeof *net.nodes);
        assert_non_null(net.nodes);
        net.nodes[1].area_mm2 = body_mm2;
        net.nodes[1].middle = (sw_pt_mm){ 100, 0 };
        net.nodes[2].middle = (sw_pt_mm){ 50, 0 };
        assert_true(hold_net_link(&net, (hold_link){ .a = 0, .b = 2, .pa = { -45, 0 }, .pb = { 50, 0 }, .width_mm = 5 }));
        assert_true(hold_net_link(&net, (hold_link){ .a = 1, .b = 2, .pa = { 51, 0 }, .pb = { 50, 0 }, .width_mm = 2 }));
        for (uint32_t i = 3; i < net.n_nodes; i++) {
            const double angle = 6.28 * (i - 2) / n_crumbs, x = cos(angle), y = sin(angle);
            net.nodes[i].middle = (sw_pt_mm){ 100 + 50 * x, 50 * y };
            assert_true(hold_net_link(&net, (hold_link){ .a = 1, .b = i, .pa = { 100 + 49 * x, 49 * y }, .pb = net.nodes[i].middle, .width_mm = 1.5 }));
        }
        assert_ok(hold_net_solve(&net, &note), note);
        near_ratio(net.nodes[1].sink_mm, want, 1e-6);
        hold_net_free(&net);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_tongue_sinks_as_a_cantilever),
        cmocka_unit_test(a_slanted_tongue_sinks_as_a_straight_one),
        cmocka_unit_test(a_web_between_broad_parts_is_held_at_both_ends),
        cmocka_unit_test(more_bridges_hold_a_ring_better),
        cmocka_unit_test(a_spiral_is_one_long_tongue),
        cmocka_unit_test(a_head_on_a_neck_turns_as_a_whole),
        cmocka_unit_test(nothing_hangs_where_all_is_broad_or_open),
        cmocka_unit_test(what_hangs_on_nothing_is_left_to_others),
        cmocka_unit_test(an_elbow_sinks_as_its_plate),
        cmocka_unit_test(what_hangs_on_a_frame_hangs_where_it_meets_it),
        cmocka_unit_test(a_wide_lattice_bends_along_its_way),
        cmocka_unit_test(a_frame_is_held_on_all_four_sides),
        cmocka_unit_test(a_probe_says_what_solving_anew_says),
        cmocka_unit_test(bridges_that_come_and_go_leave_the_net_as_if_made_anew),
        cmocka_unit_test(short_beams_beside_long_ones_lose_nothing),
        cmocka_unit_test(every_failed_allocation_is_passed_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
