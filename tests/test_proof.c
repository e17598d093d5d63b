/* The proof: hand-drawn panels whose faults are known. */
#include "support.h"
#include "proof_support.h"

static const sw_proof_opts usual = { .min_opening_mm = 3.0, .min_web_mm = 5.0 };

/* Prove and free. */
static sw_proof_panel proved(sw_panel panel)
{
    sw_proof_panel out = { 0 };
    sw_note note = { 0 };
    assert_ok(prove_one(&panel, &usual, &out, &note), note);
    free_panel(&panel);
    return out;
}

static void a_blank_panel_is_good(void **state)
{
    (void)state;
    const sw_proof_panel out = proved(blank_panel(100, 80));
    assert_true(out.is_good);
    assert_int_equal(out.n_pieces, 1);
}

static void plain_openings_are_good(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(200, 100);
    add_circle(&panel.openings, 50, 50, 20);
    add_box(&panel.openings, 80, 20, 40, 60);
    add_circle(&panel.marks, 10, 10, 3);
    const sw_proof_panel out = proved(panel);
    assert_int_equal(out.n_pieces, 1);
    assert_int_equal(out.n_crossings, 0);
    assert_int_equal(out.n_narrow_webs, 0);
    assert_int_equal(out.n_narrow_openings, 0);
    assert_true(out.is_good);
}

static void an_island_is_a_second_piece(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(200, 100);
    add_circle(&panel.openings, 50, 50, 30);
    add_circle(&panel.openings, 50, 50, 10);
    const sw_proof_panel out = proved(panel);
    assert_int_equal(out.n_pieces, 2);
    assert_int_equal(out.n_crossings, 0);
    assert_false(out.is_good);
}

static void an_island_smaller_than_a_pixel_is_a_piece(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(200, 100);
    add_circle(&panel.openings, 50, 50, 30);
    add_circle(&panel.openings, 50, 50, 0.4);
    assert_int_equal(proved(panel).n_pieces, 2);
}

static void a_panel_that_is_cut_away_has_no_piece(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(50, 50);
    add_box(&panel.openings, 0, 0, 50, 50);
    const sw_proof_panel out = proved(panel);
    assert_int_equal(out.n_pieces, 0);
    assert_true(out.n_crossings > 0);
}

static void an_open_contour_is_counted(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(100, 100);
    add_box(&panel.openings, 20, 20, 30, 30);
    panel.openings.at[0].segs[3].end.x_mm += 0.001;
    const sw_proof_panel out = proved(panel);
    assert_int_equal(out.n_open_contours, 1);
    assert_false(out.is_good);
}

static void a_figure_of_eight_crosses_itself(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(100, 100);
    add_polygon(&panel.openings, 4, (sw_pt_mm[]){ { 20, 20 }, { 60, 60 }, { 60, 20 }, { 20, 61 } });
    assert_int_equal(proved(panel).n_crossings, 1);
}

static void openings_that_touch_at_a_corner_cross(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(100, 100);
    add_box(&panel.openings, 20, 20, 20, 20);
    add_box(&panel.openings, 40, 40, 20, 20);
    assert_true(proved(panel).n_crossings > 0);
}

static void a_corner_on_an_edge_crosses(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(100, 100);
    add_box(&panel.openings, 20, 20, 20, 20);
    add_polygon(&panel.openings, 3, (sw_pt_mm[]){ { 40, 31.3 }, { 60, 20 }, { 60, 50 } });
    assert_true(proved(panel).n_crossings > 0);
}

static void a_line_there_and_back_crosses(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(100, 100);
    add_polygon(&panel.openings, 5,
                (sw_pt_mm[]){ { 20, 20 }, { 60, 20 }, { 80, 20 }, { 60, 20 }, { 40, 60 } });
    assert_true(proved(panel).n_crossings > 0);
}

static void a_loop_of_one_cubic_crosses_itself(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(100, 100);
    sw_contour loop = { .start = { 40, 60 } };
    must(sw_contour_add_cubic(&loop, (sw_pt_mm){ 90, 10 }, (sw_pt_mm){ 10, 10 }, (sw_pt_mm){ 60, 60 }));
    must(sw_contour_add_line(&loop, loop.start));
    must(sw_contours_take(&panel.openings, &loop, NULL) == SW_OK);
    assert_int_equal(proved(panel).n_crossings, 1);
}

static void an_opening_outside_the_panel_is_counted(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(100, 100);
    add_circle(&panel.openings, 95, 50, 10);
    add_circle(&panel.openings, 300, 50, 10);
    const sw_proof_panel out = proved(panel);
    assert_int_equal(out.n_outside, 2);
    assert_true(out.n_crossings > 0);
}

static void a_coordinate_that_is_no_number_is_a_fault(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(100, 100);
    add_circle(&panel.openings, 50, 50, 10);
    panel.openings.at[0].segs[2].c1.y_mm = NAN;
    const sw_proof_panel out = proved(panel);
    assert_int_equal(out.n_outside, 1);
    assert_false(out.is_good);
}

/* Two boxes with a web of width w between them, the whole turned. */
static size_t webs_at(double width, double turn)
{
    sw_panel panel = blank_panel(300, 300);
    const double u = cos(turn), v = sin(turn), reach = 0.5 * (40.0 + width);
    add_turned_box(&panel.openings, 150 - u * reach, 150 - v * reach, 40, 60, turn);
    add_turned_box(&panel.openings, 150 + u * reach, 150 + v * reach, 40, 60, turn);
    const sw_proof_panel out = proved(panel);
    assert_int_equal(out.n_pieces, 1);
    assert_int_equal(out.n_narrow_openings, 0);
    return out.n_narrow_webs;
}

static void a_thin_web_is_found_at_any_angle(void **state)
{
    (void)state;
    for (int k = 0; k < 12; k++) {
        const double turn = 0.05 + k * 0.262;
        assert_int_equal(webs_at(3.8, turn), 1);
        assert_int_equal(webs_at(1.0, turn), 1);
        assert_int_equal(webs_at(5.0, turn), 0);
    }
}

static void a_thin_frame_is_a_thin_web(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(100, 100);
    add_box(&panel.openings, 2, 20, 40, 60);
    assert_int_equal(proved(panel).n_narrow_webs, 1);
}

static void slits_and_specks_are_narrow_openings(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(200, 100);
    add_turned_box(&panel.openings, 50, 50, 40, 2.0, 0.4); /* a slit */
    add_circle(&panel.openings, 100, 50, 1.0);             /* a speck */
    add_box(&panel.openings, 120, 40, 60, 3.0);            /* wide enough */
    assert_int_equal(proved(panel).n_narrow_openings, 2);
}

/* Webs may be asked wider than openings: a slit is no web, though its two sides are as near as one would be. */
static void a_slit_with_square_ends_is_no_web(void **state)
{
    (void)state;
    for (int k = 0; k < 12; k++) {
        sw_panel panel = blank_panel(200, 100);
        sw_proof_panel out = { 0 };
        sw_note note = { 0 };
        add_turned_box(&panel.openings, 50, 50, 10, 1.0, k * 0.262);
        add_turned_box(&panel.openings, 150, 50, 38, 1.2, k * 0.262);
        assert_ok(prove_one(&panel, &(sw_proof_opts){ .min_opening_mm = 1.0, .min_web_mm = 2.0 }, &out, &note), note);
        assert_int_equal(out.n_narrow_webs, 0);
        assert_int_equal(out.n_narrow_openings, 0);
        assert_ok(prove_one(&panel, &(sw_proof_opts){ .min_opening_mm = 1.5, .min_web_mm = 2.0 }, &out, &note), note);
        assert_int_equal(out.n_narrow_webs, 0);
        assert_int_equal(out.n_narrow_openings, 2);
        free_panel(&panel);
    }
}

static void corners_may_stay(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(300, 200);
    for (int k = 0; k < 5; k++) add_turned_box(&panel.openings, 40 + 50 * k, 60, 25, 25, 0.3 * k);
    add_polygon(&panel.openings, 3, (sw_pt_mm[]){ { 60, 120 }, { 120, 120 }, { 90, 172 } });
    const sw_proof_panel out = proved(panel);
    assert_int_equal(out.n_narrow_openings, 0);
    assert_int_equal(out.n_narrow_webs, 0);
    assert_true(out.is_good);
}

static void a_long_spike_is_narrow(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(300, 200);
    add_polygon(&panel.openings, 3, (sw_pt_mm[]){ { 60, 90 }, { 60, 110 }, { 180, 100 } });
    assert_int_equal(proved(panel).n_narrow_openings, 1);
}

/* ---- the wall ---- */

static void the_wall_shows_later_passes_over_earlier_ones(void **state)
{
    (void)state;
    sw_note note = { 0 };
    sw_panel panels[2] = { blank_panel(120, 120), blank_panel(120, 120) };
    panels[1].pass = 2;
    panels[0].origin = panels[1].origin = (sw_pt_mm){ -10, -10 };
    add_box(&panels[0].openings, 20, 20, 60, 60);
    add_box(&panels[1].openings, 50, 50, 30, 30);
    add_circle(&panels[1].marks, 5, 5, 2);
    const sw_layout layout = { .panels = panels, .n_panels = 2 };
    const sw_grid grid = { 50, 50, 0.5 };
    const sw_separation separation = { .grid = grid, .n_passes = 2, .colour = { { 250, 250, 250 }, { 90, 90, 90 }, { 9, 9, 9 } } };
    sw_picture art = { 0 }, wall = { 0 };
    assert_ok(sw_picture_make(50, 50, (sw_rgb8){ 250, 250, 250 }, &art, &note), note);
    sw_proof proof = { 0 };
    assert_ok(sw_proof_make(&layout, &grid, &separation, &art, &usual, NULL, &proof, &wall, &note), note);
    size_t n[3] = { 0 };
    for (size_t i = 0; i < 2500; i++) n[wall.at[i].r == 250 ? 0 : wall.at[i].r == 90 ? 1 : 2]++;
    assert_int_equal(n[1] + n[2], 30 * 30);
    assert_int_equal(n[2], 15 * 15);
    assert_int_equal(wall.at[5 * 50 + 5].r, 90);
    assert_int_equal(wall.at[4 * 50 + 5].r, 250);
    const sw_lab white = sw_lab_from_rgb8((sw_rgb8){ 250, 250, 250 });
    const double wanted = (675 * sw_ciede2000(white, sw_lab_from_rgb8((sw_rgb8){ 90, 90, 90 })) +
                           225 * sw_ciede2000(white, sw_lab_from_rgb8((sw_rgb8){ 9, 9, 9 }))) / 2500;
    assert_true(fabs(proof.mean_ciede2000 - wanted) < 1e-9);
    sw_proof_free(&proof);
    sw_picture_free(&art);
    sw_picture_free(&wall);
    free_panel(&panels[0]);
    free_panel(&panels[1]);
}

/* ---- in words ---- */

static void a_good_proof_has_nothing_to_explain(void **state)
{
    (void)state;
    sw_text text = { 0 };
    sw_proof_explain(&(sw_proof){ .is_good = true }, &(sw_layout){ 0 }, &text);
    assert_int_equal(text.size, 0);
    sw_proof_explain(&(sw_proof){ 0 }, &(sw_layout){ 0 }, &text);
    assert_true(text.size > 0);
    sw_text_free(&text);
}

static void each_fault_is_one_line_with_a_mend(void **state)
{
    (void)state;
    const sw_proof_panel faults[] = {
        { .n_pieces = 0 }, { .n_pieces = 3 }, { .n_pieces = 1, .n_open_contours = 1 },
        { .n_pieces = 1, .n_crossings = 2 }, { .n_pieces = 1, .n_outside = 1 },
        { .n_pieces = 1, .n_narrow_webs = 1, .narrowest_web_mm = 1.25, .narrowest_web_at = { 30, 40 } },
        { .n_pieces = 1, .n_narrow_openings = 2 },
    };
    sw_panel panels[2] = { { .pass = 1 }, { .pass = 2, .name = "B3" } };
    const sw_layout layout = { .panels = panels, .n_panels = 2 };
    for (size_t i = 0; i < SW_ARRAY_LEN(faults); i++) {
        sw_proof_panel proved_panels[2] = { { .n_pieces = 1, .is_good = true }, faults[i] };
        sw_text text = { 0 };
        sw_proof_explain(&(sw_proof){ .panels = proved_panels, .n_panels = 2 }, &layout, &text);
        assert_non_null(strstr(text.data, "pass 2, panel B3: "));
        assert_null(strchr(text.data, '\n'));
        assert_true(strlen(text.data) < 300);
        if (faults[i].n_narrow_webs > 0) assert_non_null(strstr(text.data, "1.25 mm at 30, 40 mm"));
        sw_text_free(&text);
    }
}

/* ---- properties ---- */

static double between(uint64_t *seed, double lo, double hi)
{
    return lo + (hi - lo) * (double)(test_random(seed) >> 11) / 9007199254740992.0;
}

/* Good openings in the cells of a 6 x 5 board of 60 mm; one cell is left free. */
static sw_panel random_good_panel(uint64_t *seed, size_t free_cell)
{
    sw_panel panel = blank_panel(360, 300);
    for (size_t cell = 0; cell < 30; cell++) {
        const double x = 30.0 + 60.0 * (double)(cell % 6), y = 30.0 + 60.0 * (double)(cell / 6);
        if (cell == free_cell) continue;
        if (test_random(seed) % 2 == 0) add_circle(&panel.openings, x, y, between(seed, 4, 25));
        else add_turned_box(&panel.openings, x, y, between(seed, 4, 36), between(seed, 4, 36), between(seed, 0, 3));
    }
    return panel;
}

static void assert_near(sw_pt_mm at, double x, double y)
{
    assert_true(hypot(at.x_mm - x, at.y_mm - y) < 1.0);
}

static void random_panels_without_fault_are_good(void **state)
{
    (void)state;
    uint64_t seed = 41;
    for (int round = 0; round < 60; round++) {
        const sw_proof_panel out = proved(random_good_panel(&seed, 99));
        if (!out.is_good) print_error("round %d\n", round);
        assert_true(out.is_good);
    }
}

static void a_planted_fault_is_found_where_it_is(void **state)
{
    (void)state;
    uint64_t seed = 4711;
    for (int round = 0; round < 100; round++) {
        const size_t cell = test_random(&seed) % 30;
        const double x = 30.0 + 60.0 * (double)(cell % 6), y = 30.0 + 60.0 * (double)(cell / 6);
        const double turn = between(&seed, 0, 3.1), thin = between(&seed, 0.05, 0.85), u = cos(turn), v = sin(turn);
        sw_panel panel = random_good_panel(&seed, cell);
        switch (round % 4) {
        case 0: { /* a web */
            const double width = thin * 5.0, off = 0.5 * (8.0 + width);
            add_turned_box(&panel.openings, x - u * off, y - v * off, 8, 20, turn);
            add_turned_box(&panel.openings, x + u * off, y + v * off, 8, 20, turn);
            const sw_proof_panel out = proved(panel);
            assert_int_equal(out.n_narrow_webs, 1);
            assert_int_equal(out.n_narrow_openings, 0);
            assert_true(fabs(out.narrowest_web_mm - width) < 0.001);
            assert_true(fabs((out.narrowest_web_at.x_mm - x) * u + (out.narrowest_web_at.y_mm - y) * v) < 0.01);
            break;
        }
        case 1: { /* a slit */
            add_turned_box(&panel.openings, x, y, thin * 3.0, 30, turn);
            const sw_proof_panel out = proved(panel);
            assert_int_equal(out.n_narrow_openings, 1);
            assert_int_equal(out.n_narrow_webs, 0);
            assert_true(fabs(out.narrowest_opening_mm - thin * 3.0) < 0.001);
            break;
        }
        case 2: { /* a speck */
            add_circle(&panel.openings, x, y, thin * 1.5);
            const sw_proof_panel out = proved(panel);
            assert_int_equal(out.n_narrow_openings, 1);
            assert_near(out.narrowest_opening_at, x, y);
            break;
        }
        default: { /* an island */
            add_circle(&panel.openings, x, y, 25);
            add_circle(&panel.openings, x + u, y + v, thin * 15.0);
            const sw_proof_panel out = proved(panel);
            assert_int_equal(out.n_pieces, 2);
            break;
        }
        }
    }
}

static void two_sharp_points_that_come_near_are_no_neck(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(200, 200); /* discs from above and below reach between them */
    add_polygon(&panel.openings, 3, (sw_pt_mm[]){ { 100.5, 100 }, { 150, 92 }, { 150, 108 } });
    add_polygon(&panel.openings, 3, (sw_pt_mm[]){ { 99.5, 100 }, { 50, 92 }, { 50, 108 } });
    assert_int_equal(proved(panel).n_narrow_webs, 0);
    panel = blank_panel(200, 200); /* square corners keep them off */
    add_turned_box(&panel.openings, 100 - 21.5, 100, 30, 30, 0.7853981634);
    add_turned_box(&panel.openings, 100 + 21.5, 100, 30, 30, 0.7853981634);
    assert_int_equal(proved(panel).n_narrow_webs, 1);
}

static void a_finger_is_narrow_when_it_is_longer_than_wide(void **state)
{
    (void)state;
    for (int is_long = 0; is_long < 2; is_long++) {
        const double length = is_long != 0 ? 7.0 : 2.5; /* of a finger of material 2 wide, min-web 5 */
        sw_panel panel = blank_panel(200, 200);
        add_polygon(&panel.openings, 8, (sw_pt_mm[]){ { 50, 50 }, { 150, 50 }, { 150, 120 }, { 102, 120 },
                                                      { 102, 120 - length }, { 100, 120 - length }, { 100, 120 }, { 50, 120 } });
        assert_int_equal(proved(panel).n_narrow_webs, is_long);
    }
}

/* ---- every failure, any number of threads ---- */

static sw_layout busy_layout(sw_panel *panel)
{
    uint64_t seed = 9;
    *panel = random_good_panel(&seed, 3);
    add_turned_box(&panel->openings, 210, 30, 1, 20, 0.3); /* narrow, so that clusters are counted */
    add_circle(&panel->openings, 210, 50, 0.7);            /* a speck */
    add_box(&panel->marks, 3, 3, 8, 8);
    return (sw_layout){ .panels = panel, .n_panels = 1 };
}

static void every_failing_allocation_ends_clean(void **state)
{
    (void)state;
    sw_panel panel;
    const sw_layout layout = busy_layout(&panel);
    const sw_grid grid = { 36, 30, 0.1 };
    const sw_separation separation = { .grid = grid, .n_passes = 1 };
    sw_proof proof = { 0 };
    sw_picture wall = { 0 };
    const size_t live = sw_alloc_fail_at(0);
    sw_status st = SW_NO_MEMORY;
    size_t nth = 0;
    while (st != SW_OK) {
        sw_note note = { 0 };
        sw_alloc_fail_at(++nth);
        st = sw_proof_make(&layout, &grid, &separation, NULL, &usual, NULL, &proof, &wall, &note);
        const size_t left = sw_alloc_fail_at(0);
        if (st == SW_OK) break;
        assert_int_equal(st, SW_NO_MEMORY);
        assert_int_equal(left, live);
        assert_true(note.text[0] != '\0');
        assert_null(proof.panels);
        assert_null(wall.at);
    }
    assert_true(nth > 30);
    assert_false(proof.is_good);
    sw_proof_free(&proof);
    sw_picture_free(&wall);
    free_panel(&panel);
}

static void threads_do_not_change_the_proof(void **state)
{
    (void)state;
    static const int counts[] = { 1, 2, 7 };
    sw_panel panel;
    const sw_layout layout = busy_layout(&panel);
    const sw_grid grid = { 127, 200, 0.4 };
    const sw_separation separation = { .grid = grid, .n_passes = 1, .colour = { { 240, 230, 220 }, { 10, 20, 30 } } };
    sw_picture art = { 0 }, walls[3] = { 0 };
    sw_proof proofs[3] = { 0 };
    assert_int_equal(sw_picture_make(127, 200, (sw_rgb8){ 90, 120, 10 }, &art, NULL), SW_OK);
    for (size_t k = 0; k < 3; k++) {
        sw_threads_set(counts[k]);
        assert_int_equal(sw_proof_make(&layout, &grid, &separation, &art, &usual, NULL, &proofs[k], &walls[k], NULL), SW_OK);
        const sw_proof_panel *const a = &proofs[0].panels[0], *const b = &proofs[k].panels[0];
        assert_true(proofs[k].mean_ciede2000 == proofs[0].mean_ciede2000);
        assert_memory_equal(walls[k].at, walls[0].at, 127 * 200 * sizeof(sw_rgb8));
        assert_int_equal(a->n_faults, b->n_faults);
        for (size_t f = 0; f < a->n_faults; f++) assert_true(a->faults[f].at.x_mm == b->faults[f].at.x_mm);
        assert_true(a->narrowest_web_mm == b->narrowest_web_mm && a->narrowest_web_at.x_mm == b->narrowest_web_at.x_mm);
        assert_true(a->narrowest_opening_mm == b->narrowest_opening_mm);
    }
    sw_threads_set(0);
    for (size_t k = 0; k < 3; k++) {
        sw_proof_free(&proofs[k]);
        sw_picture_free(&walls[k]);
    }
    sw_picture_free(&art);
    free_panel(&panel);
}

/* A panel whose opening leaves a tongue of 150 mm; the proof's own droop is the cantilever's, and lies where its end is. */
static void a_tongue_droops_as_drawn(void **state)
{
    (void)state;
    sw_panel panel = blank_panel(500, 400);
    panel.origin = (sw_pt_mm){ -40, -40 };
    add_polygon(&panel.openings, 8,
                (sw_pt_mm[]){ { 200, 100 }, { 240, 100 }, { 240, 250 }, { 252, 250 }, { 252, 100 }, { 292, 100 },
                              { 292, 290 }, { 200, 290 } });
    sw_proof_panel out = { 0 };
    sw_note note = { 0 };
    const sw_proof_opts opts = { .min_opening_mm = 3, .min_web_mm = 5, .droop_mm = 5 };
    assert_ok(prove_one(&panel, &opts, &out, &note), note);
    const sw_material *const m = sw_material_find(NULL);
    const double rigidity = m->modulus_mpa * pow(m->thickness_mm, 3) / (12 * (1 - SW_POISSON * SW_POISSON));
    const double want = m->density_kg_m3 * 1e-9 * 9.80665 * m->thickness_mm * pow(150, 4) / (8 * rigidity);
    assert_true(fabs(out.hang.droop_mm / want - 1) < 0.08);
    assert_true(fabs(out.hang.at.x_mm - 206) < 7 && fabs(out.hang.at.y_mm - 210) < 4);
    assert_true(fabs(out.hang.length_mm - 150) < 8 && fabs(out.hang.width_mm - 12) < 2);
    assert_int_equal(out.hang.n_over, 1);
    assert_ok(prove_one(&panel, &(sw_proof_opts){ .min_opening_mm = 3, .min_web_mm = 5 }, &out, &note), note);
    assert_true(out.hang.droop_mm == 0.0);
    free_panel(&panel);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_blank_panel_is_good),
        cmocka_unit_test(plain_openings_are_good),
        cmocka_unit_test(an_island_is_a_second_piece),
        cmocka_unit_test(an_island_smaller_than_a_pixel_is_a_piece),
        cmocka_unit_test(a_panel_that_is_cut_away_has_no_piece),
        cmocka_unit_test(an_open_contour_is_counted),
        cmocka_unit_test(a_figure_of_eight_crosses_itself),
        cmocka_unit_test(openings_that_touch_at_a_corner_cross),
        cmocka_unit_test(a_corner_on_an_edge_crosses),
        cmocka_unit_test(a_line_there_and_back_crosses),
        cmocka_unit_test(a_loop_of_one_cubic_crosses_itself),
        cmocka_unit_test(an_opening_outside_the_panel_is_counted),
        cmocka_unit_test(a_coordinate_that_is_no_number_is_a_fault),
        cmocka_unit_test(a_thin_web_is_found_at_any_angle),
        cmocka_unit_test(a_thin_frame_is_a_thin_web),
        cmocka_unit_test(slits_and_specks_are_narrow_openings),
        cmocka_unit_test(a_slit_with_square_ends_is_no_web),
        cmocka_unit_test(corners_may_stay),
        cmocka_unit_test(a_long_spike_is_narrow),
        cmocka_unit_test(the_wall_shows_later_passes_over_earlier_ones),
        cmocka_unit_test(a_good_proof_has_nothing_to_explain),
        cmocka_unit_test(each_fault_is_one_line_with_a_mend),
        cmocka_unit_test(random_panels_without_fault_are_good),
        cmocka_unit_test(a_planted_fault_is_found_where_it_is),
        cmocka_unit_test(two_sharp_points_that_come_near_are_no_neck),
        cmocka_unit_test(a_finger_is_narrow_when_it_is_longer_than_wide),
        cmocka_unit_test(every_failing_allocation_ends_clean),
        cmocka_unit_test(threads_do_not_change_the_proof),
        cmocka_unit_test(a_tongue_droops_as_drawn),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
