/* The order of painting: what it cuts, and the bridges it leaves to be seen. */
#include "support.h"

#include "separate/parts.h"

#define SIDE 60u

/* Squares of one label, in text art's place: many tests need only these. */
static void fill(uint8_t *label, size_t x0, size_t y0, size_t side, uint8_t value)
{
    for (size_t y = y0; y < y0 + side; y++)
        for (size_t x = x0; x < x0 + side; x++) label[y * SIDE + x] = value;
}

static void what_lies_inside_is_painted_later(void **state)
{
    (void)state;
    uint8_t label[40 * 40] = { 0 }, place[SW_MAX_LABELS] = { 0 };
    for (size_t i = 0; i < 40 * 40; i++) {
        const size_t x = i % 40, y = i / 40, edge = sw_min_size(sw_min_size(x, y), sw_min_size(39 - x, 39 - y));
        label[i] = edge < 4 ? 0 : edge < 8 ? 3 : edge < 12 ? 1 : 2; /* rings: 3 around 1 around 2 */
    }
    const sw_order_task task = { .label = label, .width = 40, .height = 40, .n_passes = 3 };
    assert_int_equal(sw_order_find(&task, place, NULL), SW_OK);
    assert_int_equal(place[3], 1);
    assert_int_equal(place[1], 2);
    assert_int_equal(place[2], 3);
}

static void habit_decides_where_nothing_is_gained(void **state)
{
    (void)state;
    uint8_t label[30 * 10], place[SW_MAX_LABELS] = { 0 };
    for (size_t i = 0; i < 300; i++) label[i] = (uint8_t)(i % 30 % 6 < 3 ? 0 : 1 + i % 30 / 10);
    const sw_order_task task = { .label = label, .width = 30, .height = 10, .n_passes = 3 };
    assert_int_equal(sw_order_find(&task, place, NULL), SW_OK);
    for (uint8_t k = 0; k <= 3; k++) assert_int_equal(place[k], k);
}

static const sw_rgb8 colours[3] = { { 255, 255, 255 }, { 40, 90, 160 }, { 160, 60, 40 } };

/* Two blocks with spots of the other label: the boundary of both labels is the same, 4 spots against one of four times
 * the outline. Whichever is painted first, its spots in the other are islands there. */
static sw_order_task two_blocks(uint8_t label[SIDE * SIDE])
{
    memset(label, 0, SIDE * SIDE);
    fill(label, 2, 2, 26, 2);
    for (uint8_t k = 0; k < 4; k++) fill(label, 6u + 12u * (k & 1u), 6u + 12u * (k >> 1), 5, 1);
    fill(label, 32, 2, 26, 1);
    fill(label, 35, 5, 20, 2);
    return (sw_order_task){ .label = label, .width = SIDE, .height = SIDE, .n_passes = 2, .web_px = 3.0, .step_px = 1 };
}

static void where_cuts_are_alike_the_order_leaves_fewer_bridges(void **state)
{
    (void)state;
    uint8_t label[SIDE * SIDE], place[SW_MAX_LABELS] = { 0 };
    sw_order_task task = two_blocks(label);
    assert_int_equal(sw_order_find(&task, place, NULL), SW_OK);
    assert_int_equal(place[1], 1); /* by habit: four islands in pass 2 */
    task.colour = colours;
    assert_int_equal(sw_order_find(&task, place, NULL), SW_OK);
    assert_int_equal(place[2], 1); /* one island in pass 1's place */
    assert_int_equal(place[1], 2);
}

static void islands_of_a_label_are_all_that_it_surrounds(void **state)
{
    (void)state;
    uint8_t label[SIDE * SIDE] = { 0 };
    fill(label, 10, 10, 30, 1);
    fill(label, 14, 20, 10, 2); /* 4 px from the outside */
    fill(label, 16, 22, 4, 3);
    fill(label, 30, 31, 3, 0);  /* 7 px from both edges, 9 and 10 from the other */
    fill(label, 40, 40, 5, 2);  /* a corner's touch joins no material: outside */
    const sw_order_task task = { .label = label, .width = SIDE, .height = SIDE, .n_passes = 3, .colour = colours, .web_px = 3.0,
                                 .step_px = 1 };
    sw_islands islands = { 0 };
    assert_int_equal(sw_islands_find(&task, 1, &islands, NULL), SW_OK);
    assert_int_equal(islands.n, 2);
    assert_int_equal(islands.at[0].n[2], 100 - 16);
    assert_int_equal(islands.at[0].n[3], 16);
    assert_true(islands.at[0].gap_px == 4.0);
    assert_int_equal(islands.at[1].n[0], 9);
    assert_true(islands.at[1].gap_px >= 6.0 && islands.at[1].gap_px <= 7.0);
    const double error[SW_MAX_LABELS] = { 30.0, 0.0, 20.0, 10.0 };
    assert_true(sw_island_cost(&islands.at[0], &task, 0, error, 5.0) == 4.0 * 3.0 * 5.0);
    assert_true(sw_island_cost(&islands.at[0], &task, 6, error, 5.0) == 0.0);             /* 2 and 3 cover it */
    assert_true(sw_island_cost(&islands.at[0], &task, 2, error, 30.0) == 160.0);          /* what is lost costs less */
    sw_islands_free(&islands);
}

static void a_label_without_another_area_has_islands_without_a_gap(void **state)
{
    (void)state;
    uint8_t label[SIDE * SIDE];
    memset(label, 1, sizeof label);
    fill(label, 20, 20, 4, 2);
    const sw_order_task task = { .label = label, .width = SIDE, .height = SIDE, .n_passes = 2, .colour = colours, .web_px = 3.0,
                                 .step_px = 1 };
    sw_islands islands = { 0 };
    const double error[SW_MAX_LABELS] = { 30.0, 0.0, 20.0 };
    assert_int_equal(sw_islands_find(&task, 1, &islands, NULL), SW_OK);
    assert_int_equal(islands.n, 1);
    assert_true(sw_island_cost(&islands.at[0], &task, 0, error, 20.0) == 0.0); /* dear in any order */
    sw_islands_free(&islands);
    uint8_t place[SW_MAX_LABELS] = { 0 };
    assert_int_equal(sw_order_find(&task, place, NULL), SW_OK);
}

static void the_order_survives_any_allocation_that_fails(void **state)
{
    (void)state;
    uint8_t label[SIDE * SIDE], place[SW_MAX_LABELS] = { 0 };
    sw_order_task task = two_blocks(label);
    task.colour = colours;
    sw_status st = SW_NO_MEMORY;
    size_t nth = 1;
    sw_threads_set(1);
    for (; st != SW_OK && nth < 200; nth++) {
        const size_t live = sw_alloc_fail_at(nth);
        st = sw_order_find(&task, place, NULL);
        assert_int_equal(sw_alloc_fail_at(0), live);
        assert_true(st == SW_OK || (st == SW_NO_MEMORY && place[1] == 0));
    }
    sw_threads_set(0);
    assert_true(st == SW_OK && nth > 8);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_lies_inside_is_painted_later),
        cmocka_unit_test(habit_decides_where_nothing_is_gained),
        cmocka_unit_test(where_cuts_are_alike_the_order_leaves_fewer_bridges),
        cmocka_unit_test(islands_of_a_label_are_all_that_it_surrounds),
        cmocka_unit_test(a_label_without_another_area_has_islands_without_a_gap),
        cmocka_unit_test(the_order_survives_any_allocation_that_fails),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
