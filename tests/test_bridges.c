/* Bridges: every sheet one piece, bridges of full width, walls respected, cheap where the eye does not mind. */
#include "support.h"
#include <math.h>

#include "sheet/bridge.h"

/* A window with everything a bridge job needs: white wall, black paint, all openings this pass's own. */
typedef struct scene {
    sw_separation sep;
    sw_mask before;
    uint8_t *below;
    sw_marks marks;
    sw_sheet sheet;
    sw_bridge_job job;
} scene;

static void *must(void *data)
{
    if (data == NULL) abort();
    return data;
}

static scene scene_make(sw_mask openings, double width_mm, double min_opening_mm)
{
    scene s = { .before = openings };
    const size_t n = openings.width_px * openings.height_px;
    s.sep = (sw_separation){ .grid = { openings.width_px, openings.height_px, 1.0 }, .n_passes = 2,
                             .colour = { { 255, 255, 255 }, { 20, 20, 20 }, { 120, 20, 20 } } };
    s.sep.label = must(sw_alloc_array(n, 1));
    s.sep.salience = must(sw_alloc_array(n, 1));
    s.below = must(sw_alloc_array(n, 1));
    s.marks = (sw_marks){ openings.width_px, openings.height_px, must(sw_alloc_array(n, 1)) };
    memcpy(s.sep.label, openings.at, n);
    s.sheet = (sw_sheet){ .pass = 1, .paint = s.sep.colour[1] };
    s.job = (sw_bridge_job){ .window = { 0, 0, openings.width_px, openings.height_px }, .width_mm = width_mm,
                             .min_opening_mm = min_opening_mm };
    return s;
}

static void scene_plan(scene *s)
{
    sw_note note = { 0 };
    sw_sheet_free(&s->sheet);
    s->sheet = (sw_sheet){ .pass = 1, .paint = s->sep.colour[1] };
    assert_ok(sw_mask_copy(&s->before, &s->sheet.openings, &note), note);
    s->job.separation = &s->sep;
    s->job.below = s->below;
    s->job.marks = &s->marks;
    assert_ok(sw_bridges_plan(&s->sheet, &s->job, &note), note);
}

static void scene_free(scene *s)
{
    sw_sheet_free(&s->sheet);
    sw_mask_free(&s->before);
    sw_separation_free(&s->sep);
    sw_free(s->below);
    sw_free(s->marks.at);
}

/* Pieces of material, with a frame all round, by a flood fill of the test's own. */
static size_t count_pieces(const sw_mask *mask)
{
    const size_t width = mask->width_px + 2, n = width * (mask->height_px + 2);
    uint8_t *solid = must(sw_alloc_array(n, 1));
    size_t *stack = must(sw_alloc_array(n, sizeof *stack)), pieces = 0;
    for (size_t i = 0; i < n; i++) {
        const size_t x = i % width, y = i / width;
        const bool is_in = x > 0 && y > 0 && x <= mask->width_px && y <= mask->height_px;
        solid[i] = !is_in || mask->at[(y - 1) * mask->width_px + x - 1] == 0;
    }
    for (size_t i = 0; i < n; i++) {
        if (!solid[i]) continue;
        pieces++;
        size_t top = 0;
        stack[top++] = i;
        solid[i] = 0;
        while (top > 0) {
            const size_t k = stack[--top];
            const size_t next[4] = { k + 1, k - 1, k + width, k - width };
            const bool has[4] = { k % width + 1 < width, k % width > 0, k + width < n, k >= width };
            for (size_t d = 0; d < 4; d++)
                if (has[d] && solid[next[d]]) {
                    solid[next[d]] = 0;
                    stack[top++] = next[d];
                }
        }
    }
    sw_free(solid);
    sw_free(stack);
    return pieces;
}

/* A ring: opening between two radii, about the middle. */
static void draw_ring(sw_mask *mask, double cx, double cy, double inner, double outer)
{
    for (size_t y = 0; y < mask->height_px; y++)
        for (size_t x = 0; x < mask->width_px; x++) {
            const double r = hypot((double)x + 0.5 - cx, (double)y + 0.5 - cy);
            if (r >= inner && r < outer) mask->at[y * mask->width_px + x] = 1;
        }
}

static sw_mask blank(size_t width, size_t height)
{
    sw_mask mask = { 0 };
    if (sw_mask_make(width, height, &mask, NULL) != SW_OK) abort();
    return mask;
}

static void a_ring_is_joined_to_the_frame(void **state)
{
    (void)state;
    sw_mask mask = blank(100, 100);
    draw_ring(&mask, 50, 50, 25, 35);
    scene s = scene_make(mask, 6, 3);
    assert_int_equal(count_pieces(&mask), 2);
    scene_plan(&s);
    assert_int_equal(count_pieces(&s.sheet.openings), 1);
    assert_int_equal(s.sheet.n_islands, 1);
    assert_in_range(s.sheet.n_bridges, 1, 4);
    scene_free(&s);
}

static void rings_in_rings_are_one_piece(void **state)
{
    (void)state;
    sw_mask mask = blank(160, 160);
    for (int i = 0; i < 4; i++) draw_ring(&mask, 80, 80, 10 + 18 * i, 18 + 18 * i);
    scene s = scene_make(mask, 5, 3);
    scene_plan(&s);
    assert_int_equal(count_pieces(&s.sheet.openings), 1);
    assert_int_equal(s.sheet.n_islands, 4);
    scene_free(&s);
}

static void a_bridge_hides_where_a_later_pass_paints(void **state)
{
    (void)state;
    sw_mask mask = blank(100, 100);
    draw_ring(&mask, 50, 50, 25, 35);
    scene s = scene_make(mask, 6, 3);
    for (size_t y = 40; y < 60; y++) /* only the left side of the ring is painted over */
        for (size_t x = 0; x < 30; x++)
            if (mask.at[y * 100 + x]) s.sep.label[y * 100 + x] = 2;
    scene_plan(&s);
    assert_int_equal(count_pieces(&s.sheet.openings), 1);
    assert_int_equal(s.sheet.n_bridges, 1);
    assert_true(s.sheet.bridges[0].is_hidden);
    assert_true(s.sheet.bridges[0].visible_error == 0.0);
    assert_true(s.sheet.bridges[0].a.x_mm < 30);
    scene_free(&s);
}

static void no_bridge_passes_where_it_is_forbidden(void **state)
{
    (void)state;
    sw_mask mask = blank(100, 100);
    draw_ring(&mask, 50, 50, 25, 35);
    scene s = scene_make(mask, 6, 3);
    for (size_t y = 0; y < 100; y++)
        for (size_t x = 0; x < 100; x++)
            if (x < 75) s.marks.at[y * 100 + x] = SW_MARK_NO_BRIDGE;
    scene_plan(&s);
    assert_int_equal(count_pieces(&s.sheet.openings), 1);
    for (size_t i = 0; i < 100 * 100; i++)
        if (s.marks.at[i] != 0) assert_int_equal(s.sheet.openings.at[i], mask.at[i]);
    scene_free(&s);
}

static void an_island_that_nothing_may_reach_stays(void **state)
{
    (void)state;
    sw_mask mask = blank(100, 100);
    draw_ring(&mask, 50, 50, 25, 35);
    scene s = scene_make(mask, 6, 3);
    memset(s.marks.at, SW_MARK_NO_BRIDGE, 100 * 100);
    scene_plan(&s);
    assert_int_equal(count_pieces(&s.sheet.openings), 2);
    assert_int_equal(s.sheet.n_bridges, 0);
    scene_free(&s);
}

static void a_bridge_goes_where_it_is_welcome(void **state)
{
    (void)state;
    sw_mask mask = blank(100, 100);
    draw_ring(&mask, 50, 50, 25, 35);
    scene s = scene_make(mask, 6, 3);
    for (size_t y = 0; y < 30; y++)
        for (size_t x = 43; x < 57; x++) s.marks.at[y * 100 + x] = SW_MARK_BRIDGE;
    scene_plan(&s);
    assert_int_equal(s.sheet.n_bridges, 1);
    assert_true(s.sheet.bridges[0].a.y_mm < 30 && fabs(s.sheet.bridges[0].a.x_mm - 50) < 6);
    scene_free(&s);
}

static void every_failed_allocation_is_passed_up(void **state)
{
    (void)state;
    sw_mask mask = blank(80, 80);
    draw_ring(&mask, 40, 40, 8, 14);
    draw_ring(&mask, 40, 40, 22, 30);
    scene s = scene_make(mask, 5, 3);
    for (size_t nth = 1;; nth++) {
        sw_sheet_free(&s.sheet);
        s.sheet = (sw_sheet){ .pass = 1, .paint = s.sep.colour[1] };
        assert_int_equal(sw_mask_copy(&s.before, &s.sheet.openings, NULL), SW_OK);
        s.job.separation = &s.sep;
        s.job.below = s.below;
        s.job.marks = NULL;
        const size_t n_live = sw_alloc_fail_at(nth);
        const sw_status st = sw_bridges_plan(&s.sheet, &s.job, NULL);
        const bool is_list = s.sheet.bridges != NULL;
        const bool is_last = sw_alloc_count() < nth;
        assert_int_equal(sw_alloc_fail_at(0), n_live + is_list);
        assert_int_equal(st, is_last ? SW_OK : SW_NO_MEMORY);
        if (is_last) break;
    }
    scene_free(&s);
}

/* ---- properties on generated masks ---------------------------------------------------------------------- */

static double uniform(uint64_t *seed) { return (double)(test_random(seed) >> 11) * 0x1p-53; }

static void draw_spiral(sw_mask *m, uint64_t *seed)
{
    const double pitch = 14 + 14 * uniform(seed), ratio = 0.3 + 0.4 * uniform(seed), cx = 20 + 20 * uniform(seed);
    for (size_t y = 0; y < m->height_px; y++)
        for (size_t x = 0; x < m->width_px; x++) {
            const double dx = (double)x - cx, dy = (double)y - 30, r = hypot(dx, dy);
            const double turn = fmod(r - pitch * atan2(dy, dx) / 6.283185307 + 20 * pitch, pitch);
            m->at[y * m->width_px + x] = turn < ratio * pitch && r < 28;
        }
}

static void draw_rings(sw_mask *m, uint64_t *seed)
{
    const double cx = 25 + 12 * uniform(seed), cy = 25 + 12 * uniform(seed);
    double r = 2 + 6 * uniform(seed);
    while (r < 34) {
        const double outer = r + 3 + 5 * uniform(seed);
        draw_ring(m, cx, cy, r, outer);
        r = outer + 3 + 6 * uniform(seed);
    }
}

static void draw_comb(sw_mask *m, uint64_t *seed)
{
    const size_t pitch = 8 + test_random(seed) % 8, gap = 3 + test_random(seed) % 4;
    for (size_t y = 6; y < 54; y++)
        for (size_t x = 6; x < 58; x++)
            m->at[y * m->width_px + x] = x % pitch < gap || y < 10 || y >= 50; /* teeth closed at both ends: islands */
}

static void draw_checkers(sw_mask *m, uint64_t *seed)
{
    const size_t side = 4 + test_random(seed) % 7;
    for (size_t y = 3; y < m->height_px - 3; y++)
        for (size_t x = 3; x < m->width_px - 3; x++) m->at[y * m->width_px + x] = ((x / side) ^ (y / side)) & 1;
}

/* Noise as blobs: the sum of a few waves, cut at a level. */
static void draw_blobs(sw_mask *m, uint64_t *seed)
{
    double wave[8][4];
    for (size_t k = 0; k < 8; k++)
        for (size_t i = 0; i < 4; i++) wave[k][i] = uniform(seed);
    const double level = 1.5 * (uniform(seed) - 0.5);
    for (size_t y = 0; y < m->height_px; y++)
        for (size_t x = 0; x < m->width_px; x++) {
            double sum = level;
            for (size_t k = 0; k < 8; k++)
                sum += sin(((wave[k][0] - 0.5) * (double)x + (wave[k][1] - 0.5) * (double)y) * 1.1 + 6.3 * wave[k][2]);
            m->at[y * m->width_px + x] = sum > 0;
        }
}

static void draw_noise(sw_mask *m, uint64_t *seed)
{
    const uint64_t share = 20 + test_random(seed) % 60;
    const size_t side = 2 + test_random(seed) % 7;
    uint8_t cell[62 * 62];
    for (size_t i = 0; i < sizeof cell; i++) cell[i] = test_random(seed) % 100 < share;
    for (size_t y = 0; y < m->height_px; y++)
        for (size_t x = 0; x < m->width_px; x++) m->at[y * m->width_px + x] = cell[y / side * 62 + x / side];
}

/* Boxes in boxes, some over the edge of the picture, as letters are: strokes about counters. */
static void draw_boxes(sw_mask *m, uint64_t *seed)
{
    for (int k = 0; k < 6; k++) {
        const size_t x0 = test_random(seed) % 56, y0 = test_random(seed) % 56, stroke = 3 + test_random(seed) % 5;
        const size_t x1 = x0 + 10 + test_random(seed) % 30, y1 = y0 + 10 + test_random(seed) % 30;
        for (size_t y = y0; y < y1 && y < m->height_px; y++)
            for (size_t x = x0; x < x1 && x < m->width_px; x++)
                m->at[y * m->width_px + x] = x < x0 + stroke || y < y0 + stroke || x + stroke >= x1 || y + stroke >= y1;
    }
}

typedef void (*draw_fn)(sw_mask *mask, uint64_t *seed);
static const draw_fn kinds[] = { draw_spiral, draw_rings, draw_comb, draw_checkers, draw_blobs, draw_noise, draw_boxes };

/* Every pixel whose centre is nearer to the bridge's axis than half its width, less half a pixel, is material. */
static void check_widths(const scene *s, uint64_t round)
{
    const double reach = 0.5 * s->job.width_mm - 0.5;
    const sw_mask *m = &s->sheet.openings;
    for (size_t i = 0; i < s->sheet.n_bridges; i++) {
        const sw_bridge *b = &s->sheet.bridges[i];
        if (b->is_bent) continue;
        const double dx = b->b.x_mm - b->a.x_mm, dy = b->b.y_mm - b->a.y_mm, sq = fmax(dx * dx + dy * dy, 1e-9);
        for (size_t k = 0; k < m->width_px * m->height_px; k++) {
            const double x = (double)(k % m->width_px) + 0.5 - b->a.x_mm, y = (double)(k / m->width_px) + 0.5 - b->a.y_mm;
            const double t = fmin(fmax((x * dx + y * dy) / sq, 0.0), 1.0);
            if (hypot(x - t * dx, y - t * dy) >= reach || m->at[k] == 0) continue;
            print_error("round %llu: bridge %zu is thin\n", (unsigned long long)round, i);
            assert_int_equal(m->at[k], 0);
        }
    }
}

static void every_generated_sheet_is_one_piece(void **state)
{
    (void)state;
    size_t n_bridges = 0, n_bent = 0;
    for (uint64_t round = 0; round < 3080; round++) {
        uint64_t seed = round * 7919 + 1;
        sw_mask mask = blank(62, 60);
        kinds[round % SW_ARRAY_LEN(kinds)](&mask, &seed);
        scene s = scene_make(mask, 3.0 + (double)(round % 5), 3);
        for (size_t i = 0; i < 62 * 60; i++)
            if (mask.at[i] && (i / 62 / 7 + i % 62 / 9) % 3 == round % 4) s.sep.label[i] = 2; /* hidden patches */
        scene_plan(&s);
        const size_t n_pieces = count_pieces(&s.sheet.openings);
        if (n_pieces != 1) print_error("round %llu: %zu pieces\n", (unsigned long long)round, n_pieces);
        assert_int_equal(n_pieces, 1);
        check_widths(&s, round);
        n_bridges += s.sheet.n_bridges;
        for (size_t i = 0; i < s.sheet.n_bridges; i++) n_bent += s.sheet.bridges[i].is_bent;
        scene_free(&s);
    }
    assert_true(n_bridges > 3000);
    assert_true(n_bent * 20 < n_bridges); /* bent ones are the exception */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_ring_is_joined_to_the_frame),
        cmocka_unit_test(rings_in_rings_are_one_piece),
        cmocka_unit_test(a_bridge_hides_where_a_later_pass_paints),
        cmocka_unit_test(no_bridge_passes_where_it_is_forbidden),
        cmocka_unit_test(an_island_that_nothing_may_reach_stays),
        cmocka_unit_test(a_bridge_goes_where_it_is_welcome),
        cmocka_unit_test(every_generated_sheet_is_one_piece),
        cmocka_unit_test(every_failed_allocation_is_passed_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
