/* Openings under bridges: those that let a sheet hang are closed again. */
#include "bridge_support.h"

#define SIDE 400u

/* A sheet that is open but for a tongue a little broader than a hand from the left edge, 260 long. */
static scene tongue(void)
{
    sw_mask mask = blank(SIDE, SIDE);
    for (size_t i = 0; i < SIDE * SIDE; i++) mask.at[i] = !(i % SIDE < 260 && i / SIDE >= 150 && i / SIDE < 250);
    scene s = scene_make(mask, 5, 3);
    for (size_t i = 0; i < SIDE * SIDE; i++) s.sep.label[i] = 2;
    assert_int_equal(sw_mask_copy(&s.before, &s.sheet.openings, NULL), SW_OK);
    return s;
}

/* Upright, about a place; open from now on. */
static sw_back opening_at(const scene *s, const sw_sheets *sheets, double x, double y, double half)
{
    const sw_back back = { .pass = 2, .under = 1, .mid = { x, y }, .dy = 1.0, .half_px = half, .reach_px = 3.0,
                           .x0 = (size_t)(x - 5.0), .x1 = (size_t)(x + 5.0), .y0 = (size_t)(y - half), .y1 = (size_t)(y + half),
                           .end = (size_t)(2.0 * half), .error = 7.0 };
    sw_back_fill(sheets, &s->sep, &back, 1);
    return back;
}

static sw_back_window window_of(const scene *s, const sw_sheets *sheets)
{
    return (sw_back_window){ .sheets = sheets, .separation = &s->sep, .under = 1, .window = { 0, 0, SIDE, SIDE },
                             .width_mm = 5.0, .droop_mm = 5.0 };
}

static size_t n_open(const sw_mask *mask)
{
    size_t n = 0;
    for (size_t i = 0; i < mask->width_px * mask->height_px; i++) n += mask->at[i];
    return n;
}

static void an_opening_that_lets_a_part_hang_is_closed(void **state)
{
    (void)state;
    scene s = tongue();
    const sw_sheets sheets = { &s.sheet, 1 };
    sw_back at[2];
    at[0] = opening_at(&s, &sheets, 100.0, 200.0, 40.0); /* most of the way across: no hand holds what is beyond */
    at[1] = opening_at(&s, &sheets, 12.0, 240.0, 4.0);   /* in a corner */
    const size_t n_before = n_open(&s.before), n_small = 6 * 8;
    assert_true(n_open(&s.sheet.openings) > n_before + n_small);
    sw_backs backs = { at, 2, 2 };
    const sw_back_window window = window_of(&s, &sheets);
    sw_hang hang = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_backs_hold(&window, &backs, &hang, &note), note);
    assert_true(at[0].is_closed);
    assert_true(hang.droop_mm < 5.0);
    assert_int_equal(n_open(&s.sheet.openings), n_before + (at[1].is_closed ? 0 : n_small));
    scene_free(&s);
}

static void openings_that_hold_as_planned_stay_and_what_hangs_is_told(void **state)
{
    (void)state;
    scene s = tongue();
    const sw_sheets sheets = { &s.sheet, 1 };
    sw_back at[1] = { opening_at(&s, &sheets, 20.0, 242.0, 4.0) };
    const size_t n_with = n_open(&s.sheet.openings);
    sw_backs backs = { at, 1, 1 };
    sw_back_window window = window_of(&s, &sheets);
    sw_hang hang = { .droop_mm = 3.0 };
    sw_note note = { 0 };
    assert_ok(sw_backs_hold(&window, &backs, &hang, &note), note);
    assert_false(at[0].is_closed);
    assert_int_equal(n_open(&s.sheet.openings), n_with);
    assert_true(hang.droop_mm >= 3.0 && hang.droop_mm < 5.0);
    window.droop_mm = 0.0; /* not limited: nobody asks */
    hang.droop_mm = 1.0;
    assert_ok(sw_backs_hold(&window, &backs, &hang, &note), note);
    assert_true(hang.droop_mm < 1.5 && n_open(&s.sheet.openings) == n_with);
    scene_free(&s);
}

static void a_window_with_bent_bridges_is_measured_though_nothing_was_opened(void **state)
{
    (void)state;
    scene s = tongue();
    const sw_sheets sheets = { &s.sheet, 1 };
    for (size_t y = 150; y < 250; y++)
        if (y < 196 || y >= 204) memset(s.sheet.openings.at + y * SIDE + 60, 1, 150); /* a thin neck 150 long */
    sw_backs backs = { 0 };
    sw_back_window window = window_of(&s, &sheets);
    sw_hang hang = { .droop_mm = 1.0 };
    sw_note note = { 0 };
    assert_ok(sw_backs_hold(&window, &backs, &hang, &note), note);
    assert_true(hang.droop_mm < 1.5);
    window.is_bent = true;
    assert_ok(sw_backs_hold(&window, &backs, &hang, &note), note);
    assert_true(hang.droop_mm > 20.0);
    scene_free(&s);
}

static void every_failed_allocation_is_passed_up(void **state)
{
    (void)state;
    scene s = tongue();
    const sw_sheets sheets = { &s.sheet, 1 };
    for (size_t nth = 1;; nth++) {
        sw_back at[1] = { opening_at(&s, &sheets, 100.0, 200.0, 40.0) };
        sw_backs backs = { at, 1, 1 };
        const sw_back_window window = window_of(&s, &sheets);
        sw_hang hang = { 0 };
        const size_t n_live = sw_alloc_fail_at(nth);
        const sw_status st = sw_backs_hold(&window, &backs, &hang, NULL);
        const bool is_last = sw_alloc_count() < nth;
        assert_int_equal(sw_alloc_fail_at(0), n_live);
        assert_int_equal(st, is_last ? SW_OK : SW_NO_MEMORY);
        if (is_last) break;
    }
    scene_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_opening_that_lets_a_part_hang_is_closed),
        cmocka_unit_test(openings_that_hold_as_planned_stay_and_what_hangs_is_told),
        cmocka_unit_test(a_window_with_bent_bridges_is_measured_though_nothing_was_opened),
        cmocka_unit_test(every_failed_allocation_is_passed_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
