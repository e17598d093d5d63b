/* Bridges for parts of the sheet itself that hang: tongues, spirals, combs; and what is said where none may be. */
#include "bridge_support.h"
#include "sheet/bridge_hold.h"

typedef bool (*is_open)(double x, double y);

static scene hanging_scene(size_t side, is_open open)
{
    sw_mask mask = blank(side, side);
    for (size_t i = 0; i < side * side; i++) mask.at[i] = open((double)(i % side) + 0.5, (double)(i / side) + 0.5);
    scene s = scene_make(mask, 5, 3);
    s.sep.colour[1] = (sw_rgb8){ 150, 150, 150 };
    return s;
}

/* Planned without a limit that matters it sinks too far; with 5 mm it gets bridges, is one piece, and sinks less. */
static void check_held(scene *s, double at_least_mm)
{
    s->job.droop_mm = 5;
    s->job.width_mm = 5;
    assert_int_equal(count_pieces(&s->before), 1);
    sw_hang hang = { 0 };
    sw_hold_cells cells = { 0 };
    for (int round = 0; round < 2; round++) { /* measured on cells of the test's own making */
        if (round == 1) scene_plan(s);
        const sw_mask *const mask = round == 0 ? &s->before : &s->sheet.openings;
        assert_int_equal(sw_hold_cells_make((double)mask->width_px, (double)mask->height_px, 1.0, (sw_pt_mm){ 0, 0 }, &cells, NULL), SW_OK);
        for (size_t i = 0; i < mask->width_px * mask->height_px; i++)
            if (!mask->at[i])
                sw_hold_cells_add(&cells, i / mask->width_px + 1, (double)(i % mask->width_px), (double)(i % mask->width_px) + 1, 1);
        assert_int_equal(sw_hold_measure(&cells, NULL, 5, &hang, NULL), SW_OK);
        sw_hold_cells_free(&cells);
        if (round == 0) assert_true(hang.droop_mm > at_least_mm);
    }
    print_message("%zu bridges, %.2f mm, planned %.2f mm\n", s->sheet.n_bridges, hang.droop_mm, s->sheet.hang.droop_mm);
    assert_true(s->sheet.hang.droop_mm <= 5.0);
    assert_true(hang.droop_mm <= 5.5);
    assert_int_equal(s->sheet.hang.n_over, 0);
    assert_int_equal(count_pieces(&s->sheet.openings), 1);
    assert_int_equal(s->sheet.n_islands, 0);
}

static bool in_spiral(double x, double y)
{
    const double dx = x - 250, dy = y - 250, r = hypot(dx, dy), pitch = 32;
    if (r > 135) return false;
    const double turns = (135 - r) / pitch - atan2(dy, dx) / 6.283185307 - 0.5;
    return r > 25 && turns - floor(turns) < 0.45; /* an arm of material 17 mm wide that ends in the middle */
}

static void a_spiral_gets_bridges(void **state)
{
    (void)state;
    scene s = hanging_scene(500, in_spiral);
    check_held(&s, 50);
    assert_in_range(s.sheet.n_bridges, 4, 40);
    scene_free(&s);
}

static bool in_comb(double x, double y)
{
    return y > 60 && y < 340 && x > 30 && x < 470 && (fmod(x, 40) < 12 || y > 325); /* teeth 265 mm long */
}

static void teeth_of_a_comb_get_bridges(void **state)
{
    (void)state;
    scene s = hanging_scene(500, in_comb);
    check_held(&s, 50);
    assert_in_range(s.sheet.n_bridges, 11, 50);
    scene_free(&s);
}

static bool in_slits(double x, double y)
{
    return y > 100 && y < 400 && ((x > 230 && x < 236) || (x > 256 && x < 262) || (y > 394 && x > 230 && x < 262));
}

static void a_tongue_between_slits_gets_a_bridge_near_its_end(void **state)
{
    (void)state;
    scene s = hanging_scene(500, in_slits);
    check_held(&s, 50);
    assert_in_range(s.sheet.n_bridges, 1, 3);
    double lowest = 0;
    for (size_t i = 0; i < s.sheet.n_bridges; i++) lowest = fmax(lowest, s.sheet.bridges[i].a.y_mm);
    assert_true(lowest > 300);
    scene_free(&s);
}

/* Nothing across the opening is near: said, with the place. */
static bool in_moat(double x, double y)
{
    return y > 100 && y < 480 && x > 20 && x < 480 && !(fabs(x - 250) < 5 && y < 400);
}

static void what_no_bridge_can_hold_is_said(void **state)
{
    (void)state;
    scene s = hanging_scene(500, in_moat);
    memset(s.sep.salience, 255, 500 * 500);
    s.job.droop_mm = 5;
    scene_plan(&s);
    assert_true(s.sheet.hang.droop_mm > 50);
    assert_int_equal(s.sheet.hang.n_over, 1);
    assert_true(fabs(s.sheet.hang.at.x_mm - 250) < 8 && fabs(s.sheet.hang.at.y_mm - 400) < 8);
    assert_true(fabs(s.sheet.hang.length_mm - 300) < 20 && fabs(s.sheet.hang.width_mm - 10) < 2);
    scene_free(&s);
}

static bool in_short_slits(double x, double y)
{
    return y > 100 && y < 200 && ((x > 230 && x < 236) || (x > 256 && x < 262) || (y > 194 && x > 230 && x < 262));
}

static void what_holds_gets_no_bridge(void **state)
{
    (void)state;
    scene s = hanging_scene(500, in_short_slits);
    s.job.droop_mm = 5;
    scene_plan(&s);
    assert_int_equal(s.sheet.n_bridges, 0);
    assert_true(s.sheet.hang.droop_mm > 0.5 && s.sheet.hang.droop_mm < 2);
    scene_free(&s);
}

/* Salience of a drawn map; opened by the pass itself, so that bridges show. */
static scene watched_scene(is_open open, uint8_t salience)
{
    scene s = hanging_scene(500, open);
    memset(s.sep.salience, salience, 500 * 500);
    s.job.droop_mm = 5;
    return s;
}

static void bridges_that_show_keep_off_what_is_looked_at(void **state)
{
    (void)state;
    scene s = watched_scene(in_slits, 200);
    scene_plan(&s);
    assert_int_equal(s.sheet.n_bridges, 0);
    assert_int_equal(s.sheet.hang.n_over, 1);
    for (size_t y = 290; y < 340; y++) memset(s.sep.salience + y * 500, 100, 500); /* a calmer stretch */
    scene_plan(&s);
    assert_in_range(s.sheet.n_bridges, 1, 3);
    for (size_t i = 0; i < s.sheet.n_bridges; i++) {
        const sw_bridge *const b = &s.sheet.bridges[i];
        assert_true(fmin(b->a.y_mm, b->b.y_mm) > 287 && fmax(b->a.y_mm, b->b.y_mm) < 343);
    }
    scene_free(&s);
}

static void hidden_bridges_may_lie_anywhere(void **state)
{
    (void)state;
    scene s = watched_scene(in_slits, 255);
    for (size_t i = 0; i < 500 * 500; i++) s.sep.label[i] = s.before.at[i] ? 2 : 0;
    scene_plan(&s);
    assert_in_range(s.sheet.n_bridges, 1, 3);
    assert_true(s.sheet.hang.droop_mm <= 5.0);
    scene_free(&s);
}

static bool in_longer_slits(double x, double y)
{
    return y > 100 && y < 280 && ((x > 230 && x < 236) || (x > 256 && x < 262) || (y > 274 && x > 230 && x < 262));
}

static void what_sinks_little_gets_no_bridge_where_one_would_be_noticed(void **state)
{
    (void)state;
    scene s = watched_scene(in_longer_slits, 140);
    scene_plan(&s);
    assert_true(s.sheet.hang.droop_mm > 5.0 && s.sheet.hang.droop_mm < 20.0);
    assert_int_equal(s.sheet.n_bridges, 0);
    memset(s.sep.salience, 20, 500 * 500);
    scene_plan(&s);
    assert_in_range(s.sheet.n_bridges, 1, 3);
    assert_true(s.sheet.hang.droop_mm <= 5.0);
    scene_free(&s);
}

/* Two tongues in a moat: joined, the short one would take a third off what the long one sinks. */
static bool in_moat_of_two(double x, double y)
{
    return y > 100 && y < 480 && x > 20 && x < 480 && !(fabs(x - 240) < 5 && y < 400) && !(fabs(x - 260) < 5 && y < 300);
}

static void a_bridge_that_cures_nothing_is_not_shown(void **state)
{
    (void)state;
    scene s = watched_scene(in_moat_of_two, 0);
    for (size_t i = 0; i < 500 * 500; i++) /* no way but between the two */
        s.marks.at[i] = fabs((double)(i % 500) - 250) < 5 ? 0 : SW_MARK_NO_BRIDGE;
    scene_plan(&s);
    print_message("%zu bridges, %.1f mm\n", s.sheet.n_bridges, s.sheet.hang.droop_mm);
    assert_int_equal(s.sheet.n_bridges, 0);
    assert_true(s.sheet.hang.droop_mm > 50.0);
    scene_free(&s);
}

/* Of strips across the slit at the left of a tongue, by hand, how many are left; fewest of those that show. */
static size_t strips_left(const double *y, size_t n, uint8_t salience, double *droop_mm)
{
    scene s = watched_scene(in_slits, salience);
    s.job.separation = &s.sep;
    s.job.below = s.below;
    sw_note note = { 0 };
    bridge_ground g = { 0 };
    assert_ok(bridge_ground_make(&s.before, &s.job, 1, s.sep.colour[1], &g, &note), note);
    hold_net net = { 0 };
    sw_hold_cells cells = { 0 };
    assert_ok(bridge_cells_make(&g, &cells, &note), note);
    assert_ok(bridge_net_make(&g, &cells, &net, &note), note);
    sw_hold_cells_free(&cells);
    assert_ok(hold_net_solve(&net, &note), note);
    bridge_holder h = { .g = &g, .net = &net, .limit_mm = 5, .reach_mm = droop_tongue_length_mm(net.material, 5) };
    const size_t first_link = net.n_links;
    bridge_added added[4];
    for (size_t i = 0; i < n; i++) {
        bridge_strip strip = bridge_strip_across(&g, (sw_pt_px){ 234, y[i] + 1 }, 0, 40);
        assert_true(strip.cost < HUGE_VAL);
        if (strip.a.x_px < strip.b.x_px) strip = bridge_strip_turned(strip);
        added[i] = (bridge_added){ .strip = strip, .node = bridge_node_at_end(&h, strip.a, 1, 0), .at = bridge_to_mm(&g, strip.a) };
        added[i].wanted = (bridge_site){ .at = added[i].at, .node = added[i].node };
        assert_true(added[i].node != HOLD_NONE && hold_net_link(&net, bridge_link_of(&h, &added[i])));
    }
    assert_ok(hold_net_solve(&net, &note), note);
    h.strips = added;
    h.n_strips = n;
    assert_ok(bridge_spare(&h, first_link, &note), note);
    assert_int_equal(net.n_links, first_link + h.n_strips);
    *droop_mm = hold_worst(&net, 5).droop_mm;
    g.is_flat = true;
    for (size_t i = 0; i < h.n_strips; i++) { /* counted alike once it is left */
        const double gazed = bridge_gazed_at(&g, &added[i].strip);
        const bridge_strips one = { &added[i].strip, 1, 1 };
        assert_true((gazed > 0.0) == (salience > 0));
        assert_ok(bridge_leave(&g, NULL, &one, &s.sheet, &note), note);
        assert_true(fabs(bridge_gazed_at(&g, &added[i].strip) - gazed) < 1e-9);
    }
    hold_net_free(&net);
    bridge_ground_free(&g);
    scene_free(&s);
    return h.n_strips;
}

static void bridges_that_hold_less_than_they_show_go(void **state)
{
    (void)state;
    static const double near[] = { 370, 350, 330 }, early[] = { 112, 360 };
    double droop_mm, plain_mm;
    assert_int_equal(strips_left(near, 3, 0, &droop_mm), 1); /* one is enough */
    assert_true(droop_mm <= 5.0);
    assert_int_equal(strips_left(near, 1, 0, &droop_mm), 1); /* where nobody looks */
    assert_true(droop_mm <= 5.0);
    assert_int_equal(strips_left(early, 2, 0, &plain_mm), 1); /* near its root it holds nothing */
    assert_true(plain_mm <= 5.0);
    assert_int_equal(strips_left(near, 1, 40, &droop_mm), 1);
    assert_int_equal(strips_left(early, 1, 255, &droop_mm), 0); /* across an eye it had better hang */
    assert_true(droop_mm > 50.0);
}

static void threads_do_not_show(void **state)
{
    (void)state;
    scene s = watched_scene(in_comb, 20);
    sw_threads_set(1);
    scene_plan(&s);
    sw_mask alone = { 0 };
    const size_t n_bridges = s.sheet.n_bridges;
    assert_int_equal(sw_mask_copy(&s.sheet.openings, &alone, NULL), SW_OK);
    for (int n = 2; n <= 5; n += 3) {
        sw_threads_set(n);
        scene_plan(&s);
        assert_int_equal(s.sheet.n_bridges, n_bridges);
        assert_memory_equal(s.sheet.openings.at, alone.at, 500 * 500);
    }
    sw_threads_set(0);
    sw_mask_free(&alone);
    scene_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_spiral_gets_bridges),
        cmocka_unit_test(teeth_of_a_comb_get_bridges),
        cmocka_unit_test(a_tongue_between_slits_gets_a_bridge_near_its_end),
        cmocka_unit_test(what_no_bridge_can_hold_is_said),
        cmocka_unit_test(what_holds_gets_no_bridge),
        cmocka_unit_test(bridges_that_show_keep_off_what_is_looked_at),
        cmocka_unit_test(hidden_bridges_may_lie_anywhere),
        cmocka_unit_test(what_sinks_little_gets_no_bridge_where_one_would_be_noticed),
        cmocka_unit_test(a_bridge_that_cures_nothing_is_not_shown),
        cmocka_unit_test(bridges_that_hold_less_than_they_show_go),
        cmocka_unit_test(threads_do_not_show),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
