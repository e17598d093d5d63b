/* Bridges that read as meant: even round rings, alike on both sides of letters, goggles and wings, at the ends of lines. */
#include "bridge_support.h"
#include "sheet/bridge_form.h"

#define PI 3.14159265358979323846

static void near(double got, double want, double within)
{
    if (!(fabs(got - want) <= within)) print_error("%.9g is not %.9g\n", got, want);
    assert_true(fabs(got - want) <= within);
}

/* Has every bridge an image, or is its own, within 2 px, left and right of x? */
static void assert_mirrored(const sw_sheet *sheet, double x_mm)
{
    assert_true(sheet->n_bridges > 0);
    for (size_t i = 0; i < sheet->n_bridges; i++) {
        const sw_pt_mm at = middle_of_bridge(&sheet->bridges[i]);
        double nearest = HUGE_VAL;
        for (size_t k = 0; k < sheet->n_bridges; k++) {
            const sw_pt_mm other = middle_of_bridge(&sheet->bridges[k]);
            nearest = fmin(nearest, hypot(2.0 * x_mm - at.x_mm - other.x_mm, at.y_mm - other.y_mm));
        }
        if (nearest > 2.0) print_error("bridge %zu at %.1f %.1f has no image: %.1f\n", i, at.x_mm, at.y_mm, nearest);
        assert_true(nearest <= 2.0);
    }
}

static int compare_doubles(const void *left, const void *right)
{
    const double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

/* ---- evenly ------------------------------------------------------------------------------------------------------- */

/* A ring too wide for one bridge: however many it gets, they stand at equal angles within 3 degrees. */
static void assert_even_ring(double radius, double droop_mm, size_t least)
{
    const size_t side = (size_t)(2.0 * radius) + 60;
    sw_mask mask = blank(side, side);
    const double c = 0.5 * (double)side;
    draw_ring(&mask, c, c, radius - 8, radius);
    scene s = plan_held(mask, droop_mm);
    const size_t n = s.sheet.n_bridges;
    double angle[64];
    assert_in_range(n, least, 64);
    assert_true(s.sheet.hang.droop_mm <= droop_mm);
    for (size_t i = 0; i < n; i++) {
        const sw_pt_mm at = middle_of_bridge(&s.sheet.bridges[i]);
        angle[i] = atan2(at.y_mm - c, at.x_mm - c);
    }
    qsort(angle, n, sizeof *angle, compare_doubles);
    for (size_t i = 0; i < n; i++) {
        const double gap = i + 1 < n ? angle[i + 1] - angle[i] : angle[0] + 2.0 * PI - angle[i];
        if (fabs(gap - 2.0 * PI / (double)n) > 0.05) print_error("%zu bridges: %.1f degrees\n", n, gap * 180.0 / PI);
        assert_true(fabs(gap - 2.0 * PI / (double)n) <= 0.05);
    }
    assert_mirrored(&s.sheet, c);
    scene_free(&s);
}

static void rings_have_theirs_at_even_distances(void **state)
{
    (void)state;
    assert_even_ring(120, 5, 2);
    assert_even_ring(160, 3, 3);
    assert_even_ring(260, 1, 3);
    assert_even_ring(300, 0.3, 4);
}

/* Strips of a ring by hand, uneven: they are turned to even places and stay as many. */
static void four_round_a_ring_become_even(void **state)
{
    (void)state;
    sw_mask mask = blank(200, 200);
    draw_ring(&mask, 100, 100, 80, 88);
    scene s = scene_make(mask, 6, 3);
    s.job.separation = &s.sep;
    s.job.below = s.below;
    sw_note note = { 0 };
    bridge_ground g = { 0 };
    assert_ok(bridge_ground_make(&mask, &s.job, 1, s.sep.colour[1], &g, &note), note);
    static const double at[4] = { -1.7, -0.2, 0.9, 2.6 };
    bridge_strip strip[4];
    for (size_t i = 0; i < 4; i++) {
        strip[i] = bridge_strip_across(&g, (sw_pt_px){ 101 + 84 * cos(at[i]), 101 + 84 * sin(at[i]) }, at[i], 40);
        assert_true(strip[i].cost < HUGE_VAL);
    }
    bridge_strips strips = { strip, 4, 4 };
    assert_ok(bridge_order_tree(&g, &strips, &note), note);
    double angle[4];
    for (size_t i = 0; i < 4; i++) {
        const sw_pt_px mid = bridge_middle(&strip[i]);
        angle[i] = atan2(mid.y_px - 101, mid.x_px - 101);
    }
    qsort(angle, 4, sizeof *angle, compare_doubles);
    for (size_t i = 0; i < 3; i++) assert_true(fabs(angle[i + 1] - angle[i] - 0.5 * PI) < 0.03);
    bridge_ground_free(&g);
    scene_free(&s);
}

/* Where half a ring is painted over later, bridges stay there: evenness is not worth that. */
static void hidden_bridges_do_not_come_out_to_be_even(void **state)
{
    (void)state;
    sw_mask mask = blank(200, 200);
    draw_ring(&mask, 100, 100, 80, 88);
    scene s = scene_make(mask, 6, 3);
    for (size_t i = 0; i < 200 * 200; i++)
        if (mask.at[i] && i % 200 < 100) s.sep.label[i] = 2;
    s.job.separation = &s.sep;
    s.job.below = s.below;
    sw_note note = { 0 };
    bridge_ground g = { 0 };
    assert_ok(bridge_ground_make(&mask, &s.job, 1, s.sep.colour[1], &g, &note), note);
    static const double at[3] = { 2.0, -1.9, 2.8 };
    bridge_strip strip[3], was[3];
    for (size_t i = 0; i < 3; i++)
        was[i] = strip[i] = bridge_strip_across(&g, (sw_pt_px){ 101 + 84 * cos(at[i]), 101 + 84 * sin(at[i]) }, at[i], 40);
    assert_ok(bridge_order_tree(&g, &(bridge_strips){ strip, 3, 3 }, &note), note);
    for (size_t i = 0; i < 3; i++) assert_true(strip[i].seen == 0.0 && strip[i].a.x_px == was[i].a.x_px);
    bridge_ground_free(&g);
    scene_free(&s);
}

/* ---- alike -------------------------------------------------------------------------------------------------------- */

static void letters_are_mirrored(void **state)
{
    (void)state;
    for (int letter = 0; letter < 5; letter++)
        for (int is_held = 0; is_held < 2; is_held++) {
            if (is_held && letter != 2) continue; /* A and 8 get one more on one side: nothing to pair it with */
            sw_mask m = blank(200, 240);
            switch (letter) {
            case 0: /* A */
                draw_stroke(&m, 100, 30, 40, 210, 18, 1);
                draw_stroke(&m, 100, 30, 160, 210, 18, 1);
                draw_stroke(&m, 62, 150, 138, 150, 14, 1);
                break;
            case 1: /* H */
                draw_bar(&m, 30, 20, 50, 220);
                draw_bar(&m, 150, 20, 170, 220);
                draw_bar(&m, 40, 110, 160, 128);
                break;
            case 2: draw_oval(&m, 100, 120, 80, 100, 18); break; /* O */
            case 3: /* M */
                draw_bar(&m, 20, 20, 38, 220);
                draw_bar(&m, 162, 20, 180, 220);
                draw_stroke(&m, 30, 30, 100, 160, 16, 1);
                draw_stroke(&m, 170, 30, 100, 160, 16, 1);
                break;
            default: /* 8 */
                draw_oval(&m, 100, 74, 48, 48, 16);
                draw_oval(&m, 100, 160, 60, 56, 16);
            }
            scene s = plan_held(m, is_held ? 1.0 : 0.0);
            if (s.sheet.n_bridges > 0) assert_mirrored(&s.sheet, 100);
            assert_true(s.sheet.n_bridges > 0 || letter == 1 || letter == 3);
            scene_free(&s);
        }
}

static void goggles_have_theirs_alike(void **state)
{
    (void)state;
    for (int is_held = 0; is_held < 2; is_held++) {
        sw_mask m = blank(300, 140);
        draw_oval(&m, 84, 70, 60, 50, 12);
        draw_oval(&m, 216, 70, 60, 50, 12);
        draw_stroke(&m, 138, 62, 162, 62, 12, 1);
        draw_stroke(&m, 10, 60, 30, 66, 10, 1); /* straps */
        draw_stroke(&m, 290, 60, 270, 66, 10, 1);
        scene s = plan_held(m, is_held ? 1.0 : 0.0);
        assert_int_equal(s.sheet.n_islands, 2);
        assert_mirrored(&s.sheet, 150);
        scene_free(&s);
    }
}

/* Wings drawn by hand: the right ones a little larger than the left ones, the body a stroke. */
static void a_butterfly_has_theirs_alike(void **state)
{
    (void)state;
    sw_mask m = blank(340, 260);
    draw_oval(&m, 94, 90, 66, 60, 9);
    draw_oval(&m, 246, 90, 67, 61, 9);
    draw_oval(&m, 108, 190, 50, 44, 9);
    draw_oval(&m, 232, 190, 50, 44, 9);
    draw_stroke(&m, 170, 40, 170, 230, 20, 1);
    scene s = plan_held(m, 0.0);
    assert_int_equal(s.sheet.n_islands, 4);
    for (size_t i = 0; i < s.sheet.n_bridges; i++) {
        const sw_pt_mm at = middle_of_bridge(&s.sheet.bridges[i]);
        double nearest = HUGE_VAL;
        for (size_t k = 0; k < s.sheet.n_bridges; k++) {
            const sw_pt_mm other = middle_of_bridge(&s.sheet.bridges[k]);
            nearest = fmin(nearest, hypot(340.0 - at.x_mm - other.x_mm, at.y_mm - other.y_mm));
        }
        assert_true(nearest <= 3.0); /* as the wings are off by one */
    }
    scene_free(&s);
}

/* Two wheels apart: openings of their own, one partly painted over, so that its cheapest place would be another. */
static void two_wheels_have_theirs_alike(void **state)
{
    (void)state;
    sw_mask m = blank(300, 140);
    draw_oval(&m, 75, 70, 50, 50, 10);
    draw_oval(&m, 225, 70, 50, 50, 10);
    draw_stroke(&m, 180, 118, 176, 126, 4, 1); /* a stone beside one: no part of it */
    scene s = plan_held(m, 0.0);
    assert_int_equal(s.sheet.n_bridges, 2);
    assert_mirrored(&s.sheet, 150);
    scene_free(&s);
}

/* Bridges are not moved where a viewer looks: one of two eyes has its cheapest place in front of a pupil's glint. */
static void symmetry_does_not_cross_what_is_looked_at(void **state)
{
    (void)state;
    sw_mask m = blank(300, 140);
    draw_oval(&m, 75, 70, 50, 50, 10);
    draw_oval(&m, 225, 70, 50, 50, 10);
    scene s = scene_make(m, 6, 3);
    for (size_t y = 0; y < 140; y++)
        for (size_t x = 150; x < 300; x++)
            if (y < 50 || (y > 55 && y < 300 && x < 215)) s.sep.salience[y * 300 + x] = 255;
    scene_plan(&s);
    for (size_t i = 0; i < s.sheet.n_bridges; i++) {
        const sw_pt_mm at = middle_of_bridge(&s.sheet.bridges[i]);
        assert_int_equal(s.sep.salience[(size_t)at.y_mm * 300 + (size_t)at.x_mm], 0);
    }
    scene_free(&s);
}

/* ---- forms -------------------------------------------------------------------------------------------------------- */

typedef struct formed {
    scene s;
    bridge_ground g;
    bridge_strips strips;
    bridge_order o;
} formed;

static void form_make(formed *f, sw_mask mask)
{
    sw_note note = { 0 };
    *f = (formed){ .s = scene_make(mask, 6, 3) };
    f->s.job.separation = &f->s.sep;
    f->s.job.below = f->s.below;
    assert_ok(bridge_ground_make(&mask, &f->s.job, 1, f->s.sep.colour[1], &f->g, &note), note);
    assert_ok(bridge_order_make(&f->g, &f->strips, &f->o, &note), note);
}

static void form_free(formed *f)
{
    bridge_order_free(&f->o);
    bridge_ground_free(&f->g);
    scene_free(&f->s);
}

/* Moments against sums over pixels. */
static void moments_are_sums_over_pixels(void **state)
{
    (void)state;
    sw_mask m = blank(90, 70);
    draw_stroke(&m, 20, 15, 70, 55, 17, 1);
    draw_stroke(&m, 60, 20, 40, 22, 9, 1);
    formed f;
    form_make(&f, m);
    const bridge_form form = bridge_form_of(&f.o, 1);
    double n = 0, sx = 0, sy = 0, xx = 0, xy = 0, yy = 0, cx = 0, cy = 0;
    for (size_t i = 0; i < 90 * 70; i++)
        if (m.at[i]) {
            n += 1;
            sx += (double)(i % 90) + 1.5; /* the window is padded by a pixel */
            sy += (double)(i / 90) + 1.5;
        }
    for (size_t i = 0; i < 90 * 70; i++)
        if (m.at[i]) {
            const double x = (double)(i % 90) + 1.5 - sx / n, y = (double)(i / 90) + 1.5 - sy / n;
            xx += x * x;
            xy += x * y;
            yy += y * y;
            cx += x * (x * x + y * y);
            cy += y * (x * x + y * y);
        }
    near(form.area_px, n, 0);
    near(form.mid.x_px, sx / n, 1e-9);
    near(form.mid.y_px, sy / n, 1e-9);
    near(form.xx, xx, 1e-6 * xx);
    near(form.xy, xy, 1e-6 * xx);
    near(form.yy, yy, 1e-6 * xx);
    near(form.cx, cx, 1e-6 * xx * 50);
    near(form.cy, cy, 1e-6 * xx * 50);
    form_free(&f);
}

/* A heart as broad as long, turned: only the third moments know its axis. */
static void a_slanted_axis_is_found(void **state)
{
    (void)state;
    const double turn = 0.5;
    sw_mask m = blank(160, 160);
    const double c = cos(turn), s = sin(turn);
    draw_stroke(&m, 80, 80, 80 + 50 * c, 80 + 50 * s, 20, 1);
    for (int side = -1; side <= 1; side += 2) {
        const double a = turn + side * 2.0;
        draw_stroke(&m, 80, 80, 80 + 50 * cos(a), 80 + 50 * sin(a), 14, 1);
    }
    formed f;
    form_make(&f, m);
    const bridge_form form = bridge_form_of(&f.o, 1);
    bridge_turn axes[BRIDGE_AXES];
    const size_t n = bridge_form_axes(&f.o, &form, axes);
    assert_in_range(n, 1, BRIDGE_AXES);
    double off = HUGE_VAL;
    for (size_t i = 0; i < n; i++) off = fmin(off, fabs(sin(axes[i].angle - turn)));
    assert_true(off < 0.02);
    form_free(&f);
}

static void what_is_not_symmetric_has_no_axis(void **state)
{
    (void)state;
    sw_mask m = blank(140, 140);
    draw_bar(&m, 30, 20, 46, 120); /* F */
    draw_bar(&m, 30, 20, 100, 36);
    draw_bar(&m, 30, 60, 80, 76);
    formed f;
    form_make(&f, m);
    const bridge_form form = bridge_form_of(&f.o, 1);
    bridge_turn axes[BRIDGE_AXES];
    assert_int_equal(bridge_form_axes(&f.o, &form, axes), 0);
    form_free(&f);
}

/* ---- lines that stop short ------------------------------------------------------------------------------------------ */

/* A box whose lid is thin and runs into strong sides: the lid stops before one of them, which stays whole. */
static void a_thin_line_stops_short_of_a_strong_one(void **state)
{
    (void)state;
    sw_mask m = blank(200, 160);
    draw_bar(&m, 30, 20, 50, 140);  /* strong sides and floor */
    draw_bar(&m, 150, 40, 170, 140);
    draw_bar(&m, 30, 120, 170, 140);
    draw_bar(&m, 30, 60, 170, 68);  /* the lid */
    scene s = plan_held(m, 0.0);
    assert_int_equal(s.sheet.n_bridges, 1);
    const sw_bridge *const b = &s.sheet.bridges[0];
    const double x = middle_of_bridge(b).x_mm;
    assert_true(b->is_line_end);
    assert_true(fabs(x - 53) < 1.0 || fabs(x - 147) < 1.0); /* half a bridge from the side's edge */
    assert_true(fabs(b->a.x_mm - b->b.x_mm) < 0.5);
    const size_t edge = x < 100 ? 50 : 149; /* flush with it: nothing of the side is lost, no sliver of the lid stays */
    for (size_t y = 55; y < 73; y++)
        for (size_t k = 30; k < 50; k++) assert_int_equal(s.sheet.openings.at[y * 200 + (x < 100 ? k : 199 - k)], m.at[y * 200 + (x < 100 ? k : 199 - k)]);
    for (size_t y = 60; y < 68; y++) assert_int_equal(s.sheet.openings.at[y * 200 + edge], 0);
    scene_free(&s);
}

/* The same at a slant: the cut is parallel to the strong line's edge, not square to the thin one. */
static void the_cut_is_parallel_to_the_other_line(void **state)
{
    (void)state;
    sw_mask m = blank(240, 200);
    draw_stroke(&m, 40, 20, 80, 180, 18, 1);
    draw_stroke(&m, 60, 170, 100, 190, 18, 1);
    draw_stroke(&m, 100, 190, 190, 30, 18, 1);
    draw_stroke(&m, 50, 60, 170, 60, 8, 1);
    scene s = plan_held(m, 0.0);
    assert_int_equal(s.sheet.n_bridges, 1);
    const sw_bridge *const b = &s.sheet.bridges[0];
    assert_true(b->is_line_end);
    const double angle = atan2(b->b.y_mm - b->a.y_mm, b->b.x_mm - b->a.x_mm);
    const double edge = middle_of_bridge(b).x_mm < 110 ? atan2(160, 40) : atan2(160, -90);
    assert_true(fabs(sin(angle - edge)) < 0.15);
    scene_free(&s);
}

/* e: the bar stops short of the bowl, which goes on whole. */
static void the_bar_of_an_e_stops_short_of_its_bowl(void **state)
{
    (void)state;
    sw_mask m = blank(240, 240);
    draw_oval(&m, 120, 120, 90, 96, 22);
    for (size_t y = 132; y < 190; y++)
        for (size_t x = 170; x < 240; x++) m.at[y * 240 + x] = 0;
    draw_bar(&m, 36, 114, 208, 126);
    scene s = plan_held(m, 0.0);
    assert_int_equal(s.sheet.n_bridges, 1);
    const sw_bridge *const b = &s.sheet.bridges[0];
    const double x = middle_of_bridge(b).x_mm;
    assert_true(b->is_line_end);
    assert_true(fabs(x - (30 + 22 + 3)) < 2.5 || fabs(x - (210 - 22 - 3)) < 2.5);
    scene_free(&s);
}

/* A lone ring has no line's end. */
static void a_ring_has_no_line_end(void **state)
{
    (void)state;
    sw_mask m = blank(140, 140);
    draw_oval(&m, 70, 70, 50, 50, 8);
    scene s = plan_held(m, 0.0);
    assert_int_equal(s.sheet.n_bridges, 1);
    assert_false(s.sheet.bridges[0].is_line_end);
    scene_free(&s);
}

/* Where a gap at the end would be looked at, or is forbidden, the strip stays where it was. */
static void a_line_does_not_stop_where_it_must_not(void **state)
{
    (void)state;
    sw_mask m = blank(200, 160);
    draw_bar(&m, 30, 20, 50, 140);
    draw_bar(&m, 150, 40, 170, 140);
    draw_bar(&m, 30, 120, 170, 140);
    draw_bar(&m, 30, 60, 170, 68);
    scene s = scene_make(m, 6, 3);
    for (size_t y = 0; y < 160; y++)
        for (size_t x = 0; x < 200; x++)
            if (x < 80 || x >= 120) s.marks.at[y * 200 + x] = SW_MARK_NO_BRIDGE;
    scene_plan(&s);
    assert_int_equal(s.sheet.n_bridges, 1);
    assert_false(s.sheet.bridges[0].is_line_end);
    for (size_t i = 0; i < 200 * 160; i++)
        if (s.marks.at[i] != 0) assert_int_equal(s.sheet.openings.at[i], m.at[i]);
    scene_free(&s);
}

/* ---- what must hold all the while ---------------------------------------------------------------------------------------- */

static double uniform(uint64_t *seed) { return (double)(test_random(seed) >> 11) * 0x1p-53; }

/* Outlines and strokes at random, mirrored half of the time. */
static sw_mask draw_anything(uint64_t seed)
{
    sw_mask m = blank(220, 160);
    const bool is_mirrored = test_random(&seed) % 2;
    const double span = is_mirrored ? 110 : 220;
    for (int k = 0; k < 5; k++) {
        const double cx = 25 + (span - 30) * uniform(&seed), cy = 25 + 110 * uniform(&seed), rx = 10 + 45 * uniform(&seed);
        const double ry = 10 + 40 * uniform(&seed), width = 4 + 7 * uniform(&seed);
        const double bx = 220 * uniform(&seed), by = 160 * uniform(&seed);
        for (int side = 0; side <= is_mirrored; side++) {
            const double x = side ? 220 - cx : cx;
            if (k % 2 == 0) draw_oval(&m, x, cy, rx, ry, width);
            else draw_stroke(&m, x, cy, side ? 220 - bx : bx, by, width, 1);
        }
    }
    return m;
}

/* Many drawings that are held as well: one piece, bridges of full width, none where it is forbidden. */
static void order_leaves_every_sheet_one_piece(void **state)
{
    (void)state;
    size_t n_ends = 0, n_bridges = 0;
    for (uint64_t round = 0; round < 150; round++) {
        sw_mask m = draw_anything(round * 7919 + 3);
        scene s = scene_make(m, 5, 3);
        for (size_t i = 0; i < 220 * 160; i++) {
            if (m.at[i] && (i / 220 / 23 + i % 220 / 31) % 3 == round % 5) s.sep.label[i] = 2;
            if (round % 3 == 0 && (i / 220 / 19 + i % 220 / 17) % 4 == 0) s.marks.at[i] = SW_MARK_NO_BRIDGE;
        }
        s.job.droop_mm = round % 2 == 0 ? 0.5 : 0.0;
        scene_plan(&s);
        bool is_reachable = round % 3 != 0; /* else an island may lie behind what is forbidden */
        if (is_reachable) assert_int_equal(count_pieces(&s.sheet.openings), 1);
        for (size_t i = 0; i < 220 * 160; i++)
            if (s.marks.at[i] != 0 && m.at[i] != 0) assert_int_equal(s.sheet.openings.at[i], 1);
        for (size_t b = 0; b < s.sheet.n_bridges; b++) {
            const sw_bridge *const bridge = &s.sheet.bridges[b];
            n_ends += bridge->is_line_end;
            n_bridges++;
            if (bridge->is_bent) continue;
            const double dx = bridge->b.x_mm - bridge->a.x_mm, dy = bridge->b.y_mm - bridge->a.y_mm, sq = fmax(dx * dx + dy * dy, 1e-9);
            for (size_t k = 0; k < 220 * 160; k++) {
                const double x = (double)(k % 220) + 0.5 - bridge->a.x_mm, y = (double)(k / 220) + 0.5 - bridge->a.y_mm;
                const double t = fmin(fmax((x * dx + y * dy) / sq, 0.0), 1.0);
                if (hypot(x - t * dx, y - t * dy) < 2.0 && s.sheet.openings.at[k] != 0)
                    print_error("round %d: bridge %zu is thin\n", (int)round, b);
                assert_true(hypot(x - t * dx, y - t * dy) >= 2.0 || s.sheet.openings.at[k] == 0);
            }
        }
        scene_free(&s);
    }
    print_message("%zu bridges, %zu of them at the ends of lines\n", n_bridges, n_ends);
    assert_true(n_ends > 10);
}

/* The same bytes for any number of threads, held and ordered. */
static void threads_do_not_change_the_order(void **state)
{
    (void)state;
    for (uint64_t round = 0; round < 6; round++) {
        scene s = scene_make(draw_anything(round * 31 + 11), 5, 3);
        sw_sheet first = { 0 };
        s.job.droop_mm = 0.5;
        for (int threads = 1; threads <= 7; threads += 3) {
            sw_threads_set(threads);
            scene_plan(&s);
            if (threads == 1) {
                first = s.sheet;
                s.sheet = (sw_sheet){ 0 };
                continue;
            }
            assert_int_equal(s.sheet.n_bridges, first.n_bridges);
            assert_memory_equal(s.sheet.openings.at, first.openings.at, 220 * 160);
        }
        sw_threads_set(0);
        sw_sheet_free(&first);
        scene_free(&s);
    }
}

/* ---- memory -------------------------------------------------------------------------------------------------------- */

static void allocations_that_fail_are_passed_up(void **state)
{
    (void)state;
    sw_mask mask = blank(320, 320);
    draw_ring(&mask, 160, 160, 110, 118);
    scene s = scene_make(mask, 5, 3);
    s.job.separation = &s.sep;
    s.job.below = s.below;
    s.job.droop_mm = 3;
    sw_threads_set(1); /* more look at places that are then not asked for: what fails there does not matter */
    for (size_t nth = 1;; nth++) {
        sw_sheet_free(&s.sheet);
        s.sheet = (sw_sheet){ .pass = 1, .paint = s.sep.colour[1] };
        assert_int_equal(sw_mask_copy(&s.before, &s.sheet.openings, NULL), SW_OK);
        const size_t n_live = sw_alloc_fail_at(nth);
        const sw_status st = sw_bridges_plan(&s.sheet, &s.job, NULL);
        const bool is_list = s.sheet.bridges != NULL, is_last = sw_alloc_count() < nth;
        assert_int_equal(sw_alloc_fail_at(0), n_live + is_list);
        assert_int_equal(st, is_last ? SW_OK : SW_NO_MEMORY);
        if (is_last) break;
    }
    sw_threads_set(0);
    scene_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rings_have_theirs_at_even_distances),
        cmocka_unit_test(four_round_a_ring_become_even),
        cmocka_unit_test(hidden_bridges_do_not_come_out_to_be_even),
        cmocka_unit_test(letters_are_mirrored),
        cmocka_unit_test(goggles_have_theirs_alike),
        cmocka_unit_test(a_butterfly_has_theirs_alike),
        cmocka_unit_test(two_wheels_have_theirs_alike),
        cmocka_unit_test(symmetry_does_not_cross_what_is_looked_at),
        cmocka_unit_test(moments_are_sums_over_pixels),
        cmocka_unit_test(a_slanted_axis_is_found),
        cmocka_unit_test(what_is_not_symmetric_has_no_axis),
        cmocka_unit_test(a_thin_line_stops_short_of_a_strong_one),
        cmocka_unit_test(the_cut_is_parallel_to_the_other_line),
        cmocka_unit_test(the_bar_of_an_e_stops_short_of_its_bowl),
        cmocka_unit_test(a_ring_has_no_line_end),
        cmocka_unit_test(a_line_does_not_stop_where_it_must_not),
        cmocka_unit_test(order_leaves_every_sheet_one_piece),
        cmocka_unit_test(threads_do_not_change_the_order),
        cmocka_unit_test(allocations_that_fail_are_passed_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
