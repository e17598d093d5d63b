/* Key windows: found where earlier paint has a corner, and never a mark on the finished wall. */
#include "layout/layout.h"
#include "support.h"

#include <math.h>
#include <string.h>

#define W 400u
#define H 300u
#define N 3u

static const sw_grid grid = { W, H, 2.0 };
static const sw_key_opts usual = { .min_web_mm = 5, .n_wanted = 3 };

typedef struct stack {
    sw_mask mask[N];
    sw_mask *at[N];
    sw_separation separation;
} stack;

static void make_stack(stack *s)
{
    memset(s, 0, sizeof *s);
    s->separation.n_passes = N;
    for (unsigned k = 0; k <= N; k++) s->separation.colour[k] = (sw_rgb8){ (uint8_t)(255 - 80 * k), (uint8_t)(255 - 80 * k), (uint8_t)(255 - 75 * k) };
    for (size_t k = 0; k < N; k++) {
        assert_int_equal(sw_mask_make(W, H, &s->mask[k], NULL), SW_OK);
        s->at[k] = &s->mask[k];
    }
}

static void free_stack(stack *s)
{
    for (size_t k = 0; k < N; k++) sw_mask_free(&s->mask[k]);
}

static void open_rect(stack *s, size_t pass, size_t x0, size_t y0, size_t x1, size_t y1)
{
    for (size_t y = y0; y < y1; y++) memset(s->mask[pass - 1].at + y * W + x0, 1, x1 - x0);
}

/* What shows in the end. */
static void paint_wall(const stack *s, uint8_t *wall)
{
    memset(wall, 0, (size_t)W * H);
    for (size_t k = 0; k < N; k++) {
        for (size_t i = 0; i < (size_t)W * H; i++) wall[i] = s->mask[k].at[i] != 0 ? (uint8_t)(k + 1) : wall[i];
    }
}

static sw_status find(stack *s, size_t pass, const sw_key_opts *opts, sw_keys *keys)
{
    return sw_keys_find(s->at, N, pass, &s->separation, &grid, opts, keys, NULL);
}

static void a_corner_within_an_opening_is_a_key_and_nothing_is_cut(void **state)
{
    (void)state;
    stack s;
    sw_keys keys = { 0 };
    make_stack(&s);
    open_rect(&s, 1, 40, 40, 200, 150); /* its corner at 100, 75 mm lies within the next opening */
    open_rect(&s, 2, 170, 120, 240, 180);
    assert_int_equal(find(&s, 2, &usual, &keys), SW_OK);
    assert_int_equal(keys.n, 1);
    assert_false(keys.at[0].is_cut);
    assert_true(hypot(keys.at[0].at.x_mm - 100, keys.at[0].at.y_mm - 75) < 1.5);
    assert_int_equal(keys.at[0].inner, 1);
    assert_int_equal(keys.at[0].outer, 0);
    assert_int_equal(keys.at[0].number, 1);
    size_t n_open = 0;
    for (size_t i = 0; i < (size_t)W * H; i++) n_open += s.mask[1].at[i];
    assert_int_equal(n_open, 70 * 60);
    sw_keys_free(&keys);
    free_stack(&s);
}

static void a_window_is_cut_where_later_paint_covers_it(void **state)
{
    (void)state;
    stack s;
    sw_keys keys = { 0 };
    static uint8_t before[W * H], after[W * H];
    make_stack(&s);
    open_rect(&s, 1, 40, 40, 200, 150);
    open_rect(&s, 2, 300, 40, 380, 260);
    assert_int_equal(find(&s, 2, &usual, &keys), SW_OK);
    assert_int_equal(keys.n, 0); /* nobody paints over the corner */
    open_rect(&s, 3, 150, 100, 260, 200);
    paint_wall(&s, before);
    assert_int_equal(find(&s, 2, &usual, &keys), SW_OK);
    assert_int_equal(keys.n, 1);
    assert_true(keys.at[0].is_cut);
    assert_true(s.mask[1].at[150 * W + 200] == 1 && s.mask[1].at[150 * W + 230] == 0);
    paint_wall(&s, after);
    assert_memory_equal(before, after, sizeof before);
    sw_keys_free(&keys);
    free_stack(&s);
}

static void edges_and_faint_corners_are_no_keys(void **state)
{
    (void)state;
    stack s;
    sw_keys keys = { 0 };
    make_stack(&s);
    open_rect(&s, 1, 0, 0, W, 150); /* a straight edge */
    open_rect(&s, 2, 170, 120, 240, 180);
    assert_int_equal(find(&s, 2, &usual, &keys), SW_OK);
    assert_int_equal(keys.n, 0);
    memset(s.mask[0].at, 0, (size_t)W * H);
    open_rect(&s, 1, 40, 40, 200, 150);
    s.separation.colour[1] = (sw_rgb8){ 245, 245, 245 };
    assert_int_equal(find(&s, 2, &usual, &keys), SW_OK);
    assert_int_equal(keys.n, 0);
    sw_keys_free(&keys);
    free_stack(&s);
}

static void a_corner_on_a_seam_is_no_key(void **state)
{
    (void)state;
    stack s;
    sw_keys keys = { 0 };
    sw_rect_px rects[] = { { 0, 0, 202, H }, { 202, 0, W - 202, H } };
    const sw_windows windows = { rects, 2 };
    const sw_key_opts opts = { .min_web_mm = 5, .n_wanted = 3, .windows = &windows };
    make_stack(&s);
    open_rect(&s, 1, 40, 40, 200, 150);
    open_rect(&s, 2, 170, 120, 240, 180);
    assert_int_equal(find(&s, 2, &opts, &keys), SW_OK);
    assert_int_equal(keys.n, 0);
    sw_keys_free(&keys);
    free_stack(&s);
}

/* Random rectangles in all passes: whatever is cut, the finished wall is the same, and webs stay. */
static void the_finished_wall_never_shows_a_window(void **state)
{
    (void)state;
    uint64_t seed = 77;
    size_t n_cut = 0, n_seen = 0;
    static uint8_t before[W * H], after[W * H];
    for (int round = 0; round < 60; round++) {
        stack s;
        sw_keys keys = { 0 };
        make_stack(&s);
        for (size_t i = 0; i < 12; i++) {
            const size_t x = test_random(&seed) % 300, y = test_random(&seed) % 200;
            open_rect(&s, 1 + i % N, x, y, x + 20 + test_random(&seed) % 80, y + 20 + test_random(&seed) % 80);
        }
        paint_wall(&s, before);
        for (size_t pass = 2; pass <= N; pass++) {
            sw_mask own = { 0 };
            const size_t first = keys.n;
            assert_int_equal(sw_mask_copy(&s.mask[pass - 1], &own, NULL), SW_OK);
            assert_int_equal(find(&s, pass, &usual, &keys), SW_OK);
            for (size_t k = first; k < keys.n; k++) {
                const double cx = keys.at[k].at.x_mm * 2 - 0.5, cy = keys.at[k].at.y_mm * 2 - 0.5;
                assert_true(keys.at[k].pass == pass && keys.at[k].number == k + 1 && keys.at[k].inner < pass && keys.at[k].outer < pass);
                for (size_t y = 0; y < H; y++) {
                    for (size_t x = 0; x < W; x++) {
                        const double d = hypot((double)x - cx, (double)y - cy);
                        /* 8 mm and a web of 5: material all round what is cut, but for a pixel */
                        if (keys.at[k].is_cut && d < 25) assert_int_equal(own.at[y * W + x], 0);
                        if (!keys.at[k].is_cut && d < 7) assert_int_equal(own.at[y * W + x], 1);
                    }
                }
                n_cut += keys.at[k].is_cut;
                n_seen += !keys.at[k].is_cut;
            }
            sw_mask_free(&own);
        }
        paint_wall(&s, after);
        if (memcmp(before, after, sizeof before) != 0) fail_msg("round %d from seed 77: the wall differs", round);
        sw_keys_free(&keys);
        free_stack(&s);
    }
    assert_true(n_cut > 3 && n_seen > 20);
}

static void every_failing_allocation_is_survived(void **state)
{
    (void)state;
    stack s;
    make_stack(&s);
    open_rect(&s, 1, 40, 40, 200, 150);
    open_rect(&s, 2, 170, 120, 240, 180);
    sw_status st = SW_NO_MEMORY;
    for (size_t nth = 1; st != SW_OK; nth++) {
        sw_keys keys = { 0 };
        sw_alloc_fail_at(nth);
        st = find(&s, 2, &usual, &keys);
        sw_alloc_fail_at(0);
        assert_true(st == SW_OK ? keys.n == 1 : st == SW_NO_MEMORY);
        sw_keys_free(&keys);
    }
    free_stack(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_corner_within_an_opening_is_a_key_and_nothing_is_cut),
        cmocka_unit_test(a_window_is_cut_where_later_paint_covers_it),
        cmocka_unit_test(edges_and_faint_corners_are_no_keys),
        cmocka_unit_test(a_corner_on_a_seam_is_no_key),
        cmocka_unit_test(the_finished_wall_never_shows_a_window),
        cmocka_unit_test(every_failing_allocation_is_survived),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
