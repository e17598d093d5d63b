/* Separation as a whole: labels, paints, order, what is refused. */
#include "support.h"

#include <math.h>

#include "separate/separate.h"

#define PX_PER_MM 2.0

static sw_grid grid_of(size_t width, size_t height) { return (sw_grid){ width, height, PX_PER_MM }; }

static sw_picture blank(size_t width, size_t height, sw_rgb8 colour)
{
    sw_picture made = { 0 };
    if (sw_picture_make(width, height, colour, &made, NULL) != SW_OK) abort();
    return made;
}

static void fill_rect(sw_picture *art, size_t x0, size_t y0, size_t width, size_t height, sw_rgb8 colour)
{
    for (size_t y = y0; y < y0 + height; y++) {
        for (size_t x = x0; x < x0 + width; x++) art->at[y * art->width_px + x] = colour;
    }
}

static void fill_disc(sw_picture *art, double cx, double cy, double radius, sw_rgb8 colour)
{
    for (size_t y = 0; y < art->height_px; y++) {
        for (size_t x = 0; x < art->width_px; x++) {
            if (hypot((double)x + 0.5 - cx, (double)y + 0.5 - cy) <= radius) art->at[y * art->width_px + x] = colour;
        }
    }
}

/* Stripes of grey from dark to light, with noise. */
static sw_picture noisy_stripes(size_t width, size_t height, size_t n_stripes, int noise)
{
    sw_picture art = blank(width, height, (sw_rgb8){ 0, 0, 0 });
    uint64_t random = 7;
    for (size_t i = 0; i < width * height; i++) {
        const int level = (int)(i % width * n_stripes / width) * 200 / (int)(n_stripes - 1) + 25;
        const int v = level + (int)(test_random(&random) % (uint64_t)(2 * noise + 1)) - noise;
        art.at[i] = (sw_rgb8){ (uint8_t)v, (uint8_t)v, (uint8_t)v };
    }
    return art;
}

static sw_separate_opts opts_of(sw_separate_kind kind, size_t n_passes)
{
    return (sw_separate_opts){ .kind = kind, .n_passes = n_passes, .ground = { 255, 255, 255 }, .min_opening_mm = 3.0,
                               .min_web_mm = 5.0 };
}

static size_t count_label(const sw_separation *s, uint8_t label)
{
    size_t n = 0;
    for (size_t i = 0; i < s->grid.width_px * s->grid.height_px; i++) n += s->label[i] == label;
    return n;
}

static void every_pass_occurs_and_no_other(const sw_separation *s)
{
    for (uint8_t label = 1; label <= s->n_passes; label++) assert_true(count_label(s, label) > 0);
    for (size_t i = 0; i < s->grid.width_px * s->grid.height_px; i++) assert_true(s->label[i] <= s->n_passes);
}

/* ---- tone ------------------------------------------------------------------------------------------------------ */

static void noisy_stripes_become_clean_stripes(void **state)
{
    (void)state;
    sw_picture art = noisy_stripes(400, 200, 4, 24);
    const sw_grid grid = grid_of(400, 200);
    const sw_separate_opts opts = opts_of(SW_SEPARATE_TONE, 3);
    sw_separation s = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
    assert_int_equal(s.n_passes, 3);
    every_pass_occurs_and_no_other(&s);
    for (size_t y = 0; y < 200; y++) {
        for (size_t x = 0; x < 400; x++) {
            if (x % 100 < 4 || x % 100 >= 96) continue; /* beside the edge of a stripe */
            assert_int_equal(s.label[y * 400 + x], 3 - x / 100);
        }
    }
    sw_separation_free(&s);
    sw_picture_free(&art);
}

static void tone_goes_light_to_dark_on_a_light_wall_and_back_on_a_dark_one(void **state)
{
    (void)state;
    sw_picture art = noisy_stripes(400, 200, 4, 10);
    const sw_grid grid = grid_of(400, 200);
    sw_separate_opts opts = opts_of(SW_SEPARATE_TONE, 3);
    for (int is_dark = 0; is_dark < 2; is_dark++) {
        sw_separation s = { 0 };
        sw_note note = { 0 };
        if (is_dark) opts.ground = (sw_rgb8){ 10, 10, 10 };
        assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
        for (size_t k = 2; k <= s.n_passes; k++) {
            if (is_dark) assert_true(s.colour[k].g > s.colour[k - 1].g);
            else assert_true(s.colour[k].g < s.colour[k - 1].g);
        }
        assert_int_equal(s.label[is_dark ? 0 : 399], 0);
        assert_int_equal(s.colour[0].r, opts.ground.r);
        sw_separation_free(&s);
    }
    sw_picture_free(&art);
}

static void a_pass_has_the_mean_colour_of_its_pixels(void **state)
{
    (void)state;
    sw_picture art = blank(200, 200, (sw_rgb8){ 250, 250, 250 });
    const sw_grid grid = grid_of(200, 200);
    fill_rect(&art, 0, 0, 100, 200, (sw_rgb8){ 40, 90, 160 });
    const sw_separate_opts opts = opts_of(SW_SEPARATE_TONE, 1);
    sw_separation s = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
    assert_int_equal(s.n_passes, 1);
    assert_in_range(s.colour[1].r, 36, 44);
    assert_in_range(s.colour[1].g, 87, 93);
    assert_in_range(s.colour[1].b, 156, 164);
    assert_true(s.paint_index[1] == SIZE_MAX);
    sw_separation_free(&s);
    sw_picture_free(&art);
}

static void tone_paints_keep_their_order_of_lightness(void **state)
{
    (void)state;
    static const sw_rgb8 paints[] = { { 20, 20, 20 }, { 200, 200, 190 }, { 250, 0, 0 }, { 110, 110, 110 } };
    sw_picture art = noisy_stripes(400, 200, 4, 10);
    const sw_grid grid = grid_of(400, 200);
    sw_separate_opts opts = opts_of(SW_SEPARATE_TONE, 3);
    opts.paints = paints;
    opts.n_paints = SW_ARRAY_LEN(paints);
    sw_separation s = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
    assert_int_equal(s.n_passes, 3);
    double before = 2.0;
    for (size_t k = 1; k <= 3; k++) {
        assert_true(s.paint_index[k] < SW_ARRAY_LEN(paints));
        assert_memory_equal(&s.colour[k], &paints[s.paint_index[k]], sizeof(sw_rgb8));
        const double light = (double)sw_oklab_from_rgb8(s.colour[k]).L;
        assert_true(light < before);
        before = light;
    }
    sw_separation_free(&s);
    sw_picture_free(&art);
}

/* ---- colour ---------------------------------------------------------------------------------------------------- */

static sw_picture flags(void)
{
    sw_picture art = blank(400, 200, (sw_rgb8){ 255, 255, 255 });
    fill_rect(&art, 20, 20, 100, 160, (sw_rgb8){ 200, 30, 40 });
    fill_rect(&art, 150, 20, 100, 160, (sw_rgb8){ 30, 60, 170 });
    fill_rect(&art, 280, 20, 100, 160, (sw_rgb8){ 240, 200, 40 });
    return art;
}

static void flat_colours_are_found_as_they_are(void **state)
{
    (void)state;
    sw_picture art = flags();
    const sw_grid grid = grid_of(400, 200);
    const sw_separate_opts opts = opts_of(SW_SEPARATE_COLOUR, 3);
    sw_separation s = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
    assert_int_equal(s.n_passes, 3);
    size_t n_off = 0;
    for (size_t i = 0; i < 400 * 200; i++) {
        const sw_rgb8 is = s.colour[s.label[i]], want = art.at[i];
        n_off += abs(is.r - want.r) > 5 || abs(is.g - want.g) > 5 || abs(is.b - want.b) > 5;
    }
    assert_true(n_off <= 12 * 31); /* twelve corners, rounded by less than two openings: 0.215 * 12 px squared */
    sw_separation_free(&s);
    sw_picture_free(&art);
}

/* Two passes for three colours: orange and pale green share one, and the mean of them would be neither. */
static void colours_that_share_a_paint_show_the_one_that_covers_more(void **state)
{
    (void)state;
    const sw_rgb8 orange = { 246, 178, 60 }, pale = { 168, 211, 200 }, dark = { 20, 48, 80 };
    for (int is_more_orange = 0; is_more_orange < 2; is_more_orange++) {
        sw_picture art = blank(300, 200, dark);
        const size_t part = is_more_orange ? 120 : 80;
        fill_rect(&art, 0, 0, part, 200, orange);
        fill_rect(&art, part, 0, 200 - part, 200, pale);
        const sw_grid grid = grid_of(300, 200);
        const sw_separate_opts opts = opts_of(SW_SEPARATE_COLOUR, 2);
        sw_separation s = { 0 };
        assert_int_equal(sw_separate(&art, &grid, &opts, NULL, &s, NULL), SW_OK);
        const sw_rgb8 wanted = is_more_orange ? orange : pale, shown = s.colour[s.label[100 * 300 + 20]];
        assert_true(sw_ciede2000(sw_lab_from_rgb8(wanted), sw_lab_from_rgb8(shown)) < 2.0);
        sw_separation_free(&s);
        sw_picture_free(&art);
    }
}

static void fewer_colours_than_passes_make_fewer_passes(void **state)
{
    (void)state;
    sw_picture art = flags();
    const sw_grid grid = grid_of(400, 200);
    for (int kind = SW_SEPARATE_TONE; kind <= SW_SEPARATE_COLOUR; kind++) {
        const sw_separate_opts opts = opts_of((sw_separate_kind)kind, 8);
        sw_separation s = { 0 };
        sw_note note = { 0 };
        assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
        assert_int_equal(s.n_passes, 3);
        every_pass_occurs_and_no_other(&s);
        sw_separation_free(&s);
    }
    sw_picture_free(&art);
}

static void the_best_paints_are_picked_not_the_first(void **state)
{
    (void)state;
    static const sw_rgb8 paints[] = { { 0, 255, 0 }, { 235, 190, 50 }, { 90, 90, 90 }, { 190, 40, 40 },
                                      { 255, 0, 255 }, { 40, 60, 160 } };
    sw_picture art = flags();
    const sw_grid grid = grid_of(400, 200);
    sw_separate_opts opts = opts_of(SW_SEPARATE_COLOUR, 3);
    opts.paints = paints;
    opts.n_paints = SW_ARRAY_LEN(paints);
    sw_separation s = { 0 };
    sw_note note = { 0 };
    bool is_used[SW_ARRAY_LEN(paints)] = { false };
    assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
    assert_int_equal(s.n_passes, 3);
    for (size_t k = 1; k <= 3; k++) is_used[s.paint_index[k]] = true;
    assert_true(is_used[1] && is_used[3] && is_used[5]);
    sw_separation_free(&s);
    sw_picture_free(&art);
}

/* ---- line -------------------------------------------------------------------------------------------------------- */

/* Yellow paper that darkens to the right, with grain. */
static sw_picture paper(size_t width, size_t height)
{
    sw_picture art = blank(width, height, (sw_rgb8){ 0, 0, 0 });
    uint64_t random = 3;
    for (size_t i = 0; i < width * height; i++) {
        const double shade = 1.0 - 0.55 * (double)(i % width) / (double)width;
        const double grain = (double)(test_random(&random) % 9) - 4.0;
        art.at[i] = (sw_rgb8){ (uint8_t)(235.0 * shade + grain), (uint8_t)(220.0 * shade + grain),
                               (uint8_t)(180.0 * shade + grain) };
    }
    return art;
}

/* A band of the paper darkened by a factor for each channel. */
static void shade_rect(sw_picture *art, size_t x0, size_t y0, size_t width, size_t height, double r, double g, double b)
{
    for (size_t y = y0; y < y0 + height; y++) {
        for (size_t x = x0; x < x0 + width; x++) {
            sw_rgb8 *const at = &art->at[y * art->width_px + x];
            *at = (sw_rgb8){ (uint8_t)sw_min(255.0, r * at->r), (uint8_t)sw_min(255.0, g * at->g),
                             (uint8_t)sw_min(255.0, b * at->b) };
        }
    }
}

static double share_of_lines(const sw_separation *s, size_t x0, size_t y0, size_t width, size_t height)
{
    size_t n = 0;
    for (size_t y = y0; y < y0 + height; y++) {
        for (size_t x = x0; x < x0 + width; x++) n += s->label[y * s->grid.width_px + x] == s->n_passes;
    }
    return (double)n / (double)(width * height);
}

static void lines_survive_and_paper_does_not(void **state)
{
    (void)state;
    sw_picture art = paper(1200, 800);
    const sw_grid grid = grid_of(1200, 800);
    for (size_t x = 100; x < 1000; x++) { /* ink; the second line has gaps of 3 px */
        fill_rect(&art, x, 200, 1, 8, (sw_rgb8){ 40, 40, 45 });
        if (x % 100 < 97) fill_rect(&art, x, 300, 1, 8, (sw_rgb8){ 60, 60, 62 });
    }
    shade_rect(&art, 100, 400, 900, 8, 0.78, 0.79, 0.84); /* faint pencil: greyer than the paper */
    shade_rect(&art, 100, 500, 900, 14, 0.78, 0.62, 0.50); /* coffee: redder */
    shade_rect(&art, 100, 600, 900, 8, 1.25, 1.25, 1.25); /* a crease: its ridge, */
    shade_rect(&art, 100, 608, 900, 10, 0.80, 0.80, 0.80); /* and its shadow */
    shade_rect(&art, 700, 680, 500, 120, 0.6, 0.6, 0.6);  /* somebody's shadow */
    const sw_separate_opts opts = opts_of(SW_SEPARATE_LINE, 0);
    sw_separation s = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
    assert_int_equal(s.n_passes, 1);
    assert_true(share_of_lines(&s, 110, 201, 880, 6) > 0.98);
    assert_true(share_of_lines(&s, 110, 301, 880, 6) > 0.98); /* gaps closed */
    assert_true(share_of_lines(&s, 110, 401, 880, 6) > 0.9);
    assert_true(share_of_lines(&s, 0, 440, 1200, 360) < 0.0005);
    assert_true(share_of_lines(&s, 110, 194, 880, 20) < 0.5); /* widths are kept: 8 of 20 */
    assert_true(share_of_lines(&s, 0, 0, 1200, 180) == 0.0);
    sw_separation_free(&s);
    sw_picture_free(&art);
}

static void ink_wider_than_a_stroke_is_whole_and_what_the_sheet_lies_on_is_none(void **state)
{
    (void)state;
    sw_picture art = paper(1200, 800);
    const sw_grid grid = grid_of(1200, 800);
    const sw_rgb8 ink = { 40, 40, 45 };
    for (size_t i = 0; i < 2; i++) fill_rect(&art, 100 + 80 * i, 100, 12, 300, ink); /* an N's uprights and its slant */
    for (size_t y = 0; y < 300; y++) fill_rect(&art, 100 + 80 * y / 300, 100 + y, 14, 1, ink);
    fill_rect(&art, 300, 200, 300, 8, ink);
    fill_rect(&art, 600, 150, 150, 150, ink);  /* solid black at a stroke's end */
    fill_rect(&art, 100, 600, 40, 30, ink);    /* alone */
    fill_rect(&art, 0, 740, 1200, 60, ink);    /* a table */
    fill_rect(&art, 900, 600, 8, 160, ink);    /* a stroke down to it */
    const sw_separate_opts opts = opts_of(SW_SEPARATE_LINE, 1);
    sw_separation s = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
    assert_true(share_of_lines(&s, 101, 101, 10, 298) == 1.0);
    assert_true(share_of_lines(&s, 181, 101, 10, 298) == 1.0);
    for (size_t y = 2; y < 298; y++) assert_true(share_of_lines(&s, 102 + 80 * y / 300, 100 + y, 9, 1) == 1.0);
    assert_true(share_of_lines(&s, 310, 201, 280, 6) > 0.98);
    assert_true(share_of_lines(&s, 601, 151, 148, 148) == 1.0);
    assert_true(share_of_lines(&s, 103, 603, 34, 24) == 1.0);
    assert_true(share_of_lines(&s, 901, 610, 6, 90) > 0.98);
    assert_true(share_of_lines(&s, 0, 765, 850, 35) == 0.0);
    assert_true(share_of_lines(&s, 250, 250, 300, 300) == 0.0);
    sw_separation_free(&s);
    sw_picture_free(&art);
}

static void a_drawing_in_coloured_ink_is_no_stain(void **state)
{
    (void)state;
    sw_picture art = paper(800, 600);
    const sw_grid grid = grid_of(800, 600);
    for (size_t i = 1; i < 6; i++) fill_rect(&art, 60, 100 * i, 680, 8, (sw_rgb8){ 150, 40, 20 });
    const sw_separate_opts opts = opts_of(SW_SEPARATE_LINE, 1);
    sw_separation s = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
    for (size_t i = 1; i < 6; i++) assert_true(share_of_lines(&s, 70, 100 * i + 1, 660, 6) > 0.98);
    sw_separation_free(&s);
    sw_picture_free(&art);
}

static void hatching_becomes_a_tone_under_the_lines_when_two_passes_are_asked_for(void **state)
{
    (void)state;
    sw_picture art = paper(1200, 800);
    const sw_grid grid = grid_of(1200, 800);
    for (size_t i = 0; i < 20; i++) fill_rect(&art, 200 + 20 * i, 200, 6, 400, (sw_rgb8){ 60, 60, 60 });
    fill_rect(&art, 800, 200, 8, 400, (sw_rgb8){ 30, 30, 30 });
    const sw_separate_opts opts = opts_of(SW_SEPARATE_LINE, 2);
    sw_separation s = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
    assert_int_equal(s.n_passes, 2);
    assert_int_equal(s.label[400 * 1200 + 411], 1); /* between two strokes */
    assert_int_equal(s.label[400 * 1200 + 403], 2);
    assert_int_equal(s.label[400 * 1200 + 804], 2);
    assert_int_equal(s.label[400 * 1200 + 1000], 0);
    assert_true(s.colour[1].g > s.colour[2].g);
    sw_separation_free(&s);
    sw_picture_free(&art);
}

/* ---- shapes ---------------------------------------------------------------------------------------------------- */

static void specks_go_and_discs_stay(void **state)
{
    (void)state;
    sw_picture art = blank(600, 300, (sw_rgb8){ 255, 255, 255 });
    const sw_grid grid = grid_of(600, 300);
    for (size_t i = 0; i < 30; i++) fill_disc(&art, 15.0 + 19.0 * (double)i, 20.0 + (double)(i % 7), 2.5, (sw_rgb8){ 0, 0, 0 });
    fill_disc(&art, 300.0, 180.0, 60.0, (sw_rgb8){ 0, 0, 0 });
    const sw_separate_opts opts = opts_of(SW_SEPARATE_TONE, 1);
    sw_separation s = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
    for (size_t i = 0; i < 600 * 40; i++) assert_int_equal(s.label[i], 0);
    const double area = (double)count_label(&s, 1), want = 3.14159265 * 60.0 * 60.0;
    assert_true(fabs(area / want - 1.0) < 0.02);
    sw_separation_free(&s);
    sw_picture_free(&art);
}

static void an_interpolated_edge_draws_no_band(void **state)
{
    (void)state;
    sw_picture small = blank(60, 40, (sw_rgb8){ 245, 245, 245 }), art = { 0 };
    fill_rect(&small, 20, 0, 20, 40, (sw_rgb8){ 15, 15, 15 });
    fill_rect(&small, 0, 30, 60, 10, (sw_rgb8){ 120, 120, 120 });
    sw_note note = { 0 };
    assert_ok(sw_picture_resample(&small, 600, 400, &art, &note), note);
    const sw_grid grid = grid_of(600, 400);
    const sw_separate_opts opts = opts_of(SW_SEPARATE_TONE, 2);
    sw_separation s = { 0 };
    assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
    assert_int_equal(s.n_passes, 2);
    for (size_t y = 20; y < 260; y++) { /* white, black, white: two changes and no grey between */
        size_t n_changes = 0;
        for (size_t x = 1; x < 600; x++) n_changes += s.label[y * 600 + x] != s.label[y * 600 + x - 1];
        assert_int_equal(n_changes, 2);
    }
    sw_separation_free(&s);
    sw_picture_free(&art);
    sw_picture_free(&small);
}

static void detail_keeps_more_boundary(void **state)
{
    (void)state;
    sw_picture art = noisy_stripes(300, 300, 3, 60);
    const sw_grid grid = grid_of(300, 300);
    size_t before = 0;
    for (int step = 0; step <= 4; step++) {
        sw_separate_opts opts = opts_of(SW_SEPARATE_TONE, 2);
        opts.detail_ratio = step / 4.0;
        opts.has_detail = true;
        sw_separation s = { 0 };
        sw_note note = { 0 };
        assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
        size_t n = 0;
        for (size_t i = 1; i < 300 * 300; i++) n += s.label[i] != s.label[i - 1];
        assert_true(n >= before);
        before = n;
        sw_separation_free(&s);
    }
    assert_true(before > 10000); /* all detail: the noise itself */
    sw_picture_free(&art);
}

static void a_green_mark_keeps_a_detail(void **state)
{
    (void)state;
    sw_picture art = blank(600, 300, (sw_rgb8){ 200, 200, 200 });
    const sw_grid grid = grid_of(600, 300);
    fill_rect(&art, 0, 200, 600, 100, (sw_rgb8){ 90, 90, 90 });
    for (size_t i = 0; i < 2; i++) fill_disc(&art, 150.0 + 300.0 * (double)i, 100.0, 4.2, (sw_rgb8){ 90, 90, 90 });
    sw_marks marks = { 600, 300, sw_alloc_array(600 * 300, 1) };
    for (size_t y = 80; y < 120; y++) memset(marks.at + y * 600 + 130, SW_MARK_DETAIL, 40);
    sw_separate_opts opts = opts_of(SW_SEPARATE_TONE, 1);
    opts.marks = &marks;
    opts.min_opening_mm = 2.0;
    opts.has_detail = true; /* and 0: as quiet as can be */
    sw_separation s = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
    assert_int_equal(s.label[100 * 600 + 150], 1);
    assert_int_equal(s.label[100 * 600 + 450], 0);
    assert_int_equal(s.salience[100 * 600 + 150], 255);
    sw_separation_free(&s);
    sw_marks_free(&marks);
    sw_picture_free(&art);
}

/* A face of two eyes and a mouth, and the same bare skin far from any. */
static void what_lies_between_eyes_and_mouth_is_looked_at_too(void **state)
{
    (void)state;
    sw_picture art = blank(600, 300, (sw_rgb8){ 200, 200, 200 });
    const sw_grid grid = grid_of(600, 300);
    fill_disc(&art, 130.0, 130.0, 5.0, (sw_rgb8){ 40, 40, 40 });
    fill_disc(&art, 170.0, 130.0, 5.0, (sw_rgb8){ 40, 40, 40 });
    fill_rect(&art, 135, 170, 30, 6, (sw_rgb8){ 40, 40, 40 });
    const sw_separate_opts opts = opts_of(SW_SEPARATE_TONE, 1);
    sw_separation s = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_separate(&art, &grid, &opts, NULL, &s, &note), note);
    const uint8_t eye = s.salience[130 * 600 + 130], cheek = s.salience[150 * 600 + 150], far = s.salience[150 * 600 + 450];
    print_message("eye %d, cheek %d, far %d\n", eye, cheek, far);
    assert_true(eye > 200 && cheek > 40 && cheek < 160 && far == 0);
    sw_separation_free(&s);
    sw_picture_free(&art);
}

/* ---- sizes, threads, refusals ------------------------------------------------------------------------------------ */

static void the_bytes_do_not_depend_on_threads(void **state)
{
    (void)state;
    static const size_t sides[] = { 1, 2, 127, 200 };
    for (size_t i = 0; i < SW_ARRAY_LEN(sides); i++) {
        for (int kind = SW_SEPARATE_TONE; kind <= SW_SEPARATE_LINE; kind++) {
            const size_t width = sides[i] + 3, height = sides[i], n = width * height;
            sw_picture art = noisy_stripes(width, height, 5, 20);
            const sw_grid grid = grid_of(width, height);
            const sw_separate_opts opts = opts_of((sw_separate_kind)kind, 3);
            static const int threads[] = { 1, 2, 7 };
            sw_separation first = { 0 };
            sw_status first_st = SW_OK;
            for (size_t k = 0; k < SW_ARRAY_LEN(threads); k++) {
                sw_separation s = { 0 };
                sw_threads_set(threads[k]);
                const sw_status st = sw_separate(&art, &grid, &opts, NULL, &s, NULL);
                assert_true(st == SW_OK || st == SW_CANNOT_HOLD);
                if (k == 0) {
                    first = s;
                    first_st = st;
                    continue;
                }
                assert_int_equal(st, first_st);
                if (st == SW_OK) {
                    assert_memory_equal(s.label, first.label, n);
                    assert_memory_equal(s.salience, first.salience, n);
                    assert_memory_equal(s.colour, first.colour, sizeof s.colour);
                }
                sw_separation_free(&s);
            }
            sw_threads_set(0);
            sw_separation_free(&first);
            sw_picture_free(&art);
        }
    }
}

static void one_colour_cannot_be_held(void **state)
{
    (void)state;
    static const sw_rgb8 colours[] = { { 255, 255, 255 }, { 0, 0, 0 }, { 90, 140, 20 } };
    const sw_grid grid = grid_of(64, 48);
    for (size_t i = 0; i < SW_ARRAY_LEN(colours); i++) {
        sw_picture art = blank(64, 48, colours[i]);
        for (int kind = SW_SEPARATE_TONE; kind <= SW_SEPARATE_LINE; kind++) {
            const sw_separate_opts opts = opts_of((sw_separate_kind)kind, 3);
            sw_separation s = { 0 };
            sw_note note = { 0 };
            assert_int_equal(sw_separate(&art, &grid, &opts, NULL, &s, &note), SW_CANNOT_HOLD);
            assert_true(note.text[0] != '\0');
            assert_null(s.label);
        }
        sw_picture_free(&art);
    }
}

static void wrong_sizes_and_counts_are_refused(void **state)
{
    (void)state;
    sw_picture art = flags();
    const sw_grid grid = grid_of(400, 200), other = grid_of(400, 201);
    sw_separation s = { 0 };
    sw_separate_opts opts = opts_of(SW_SEPARATE_TONE, 9);
    assert_int_equal(sw_separate(&art, &grid, &opts, NULL, &s, NULL), SW_BAD_USAGE);
    opts.n_passes = 3;
    assert_int_equal(sw_separate(&art, &other, &opts, NULL, &s, NULL), SW_BAD_LENGTH);
    static const double bad[] = { 0.0, -1.0, NAN, INFINITY };
    for (size_t i = 0; i < SW_ARRAY_LEN(bad); i++) {
        opts.min_opening_mm = bad[i];
        assert_int_equal(sw_separate(&art, &grid, &opts, NULL, &s, NULL), SW_BAD_LENGTH);
    }
    opts.min_opening_mm = 3.0;
    const sw_marks marks = { 3, 3, NULL };
    opts.marks = &marks;
    assert_int_equal(sw_separate(&art, &grid, &opts, NULL, &s, NULL), SW_BAD_LENGTH);
    sw_picture_free(&art);
}

#ifdef SW_FAULTS
static void every_allocation_may_fail(void **state)
{
    (void)state;
    static const sw_rgb8 paints[] = { { 20, 20, 20 }, { 200, 200, 190 } };
    sw_picture art = noisy_stripes(150, 90, 3, 20);
    const sw_grid grid = grid_of(150, 90);
    sw_threads_set(1);
    for (int with = 0; with < 4; with++) {
        sw_separate_opts opts = opts_of((sw_separate_kind)(with % 3), 2);
        opts.paints = with == 3 ? paints : NULL;
        opts.n_paints = with == 3 ? 2 : 0;
        if (with == 3) opts.kind = SW_SEPARATE_COLOUR;
        for (size_t nth = 1;; nth++) {
            sw_separation s = { 0 };
            sw_note note = { 0 };
            const size_t live = sw_alloc_fail_at(nth);
            const sw_status st = sw_separate(&art, &grid, &opts, NULL, &s, &note);
            const bool is_reached = sw_alloc_count() >= nth;
            sw_separation_free(&s);
            assert_int_equal(sw_alloc_fail_at(0), live);
            if (!is_reached) {
                assert_true(st == SW_OK || st == SW_CANNOT_HOLD); /* stripes are no drawing */
                break;
            }
            assert_int_equal(st, SW_NO_MEMORY);
            assert_true(note.text[0] != '\0');
        }
    }
    sw_threads_set(0);
    sw_picture_free(&art);
}
#endif

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(noisy_stripes_become_clean_stripes),
        cmocka_unit_test(tone_goes_light_to_dark_on_a_light_wall_and_back_on_a_dark_one),
        cmocka_unit_test(a_pass_has_the_mean_colour_of_its_pixels),
        cmocka_unit_test(tone_paints_keep_their_order_of_lightness),
        cmocka_unit_test(flat_colours_are_found_as_they_are),
        cmocka_unit_test(colours_that_share_a_paint_show_the_one_that_covers_more),
        cmocka_unit_test(fewer_colours_than_passes_make_fewer_passes),
        cmocka_unit_test(the_best_paints_are_picked_not_the_first),
        cmocka_unit_test(lines_survive_and_paper_does_not),
        cmocka_unit_test(ink_wider_than_a_stroke_is_whole_and_what_the_sheet_lies_on_is_none),
        cmocka_unit_test(a_drawing_in_coloured_ink_is_no_stain),
        cmocka_unit_test(hatching_becomes_a_tone_under_the_lines_when_two_passes_are_asked_for),
        cmocka_unit_test(specks_go_and_discs_stay),
        cmocka_unit_test(an_interpolated_edge_draws_no_band),
        cmocka_unit_test(detail_keeps_more_boundary),
        cmocka_unit_test(a_green_mark_keeps_a_detail),
        cmocka_unit_test(what_lies_between_eyes_and_mouth_is_looked_at_too),
        cmocka_unit_test(the_bytes_do_not_depend_on_threads),
        cmocka_unit_test(one_colour_cannot_be_held),
        cmocka_unit_test(wrong_sizes_and_counts_are_refused),
#ifdef SW_FAULTS
        cmocka_unit_test(every_allocation_may_fail),
#endif
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
