/* Masks: sizes, copies, frees. */
#include "support.h"

static void a_new_mask_is_all_material(void **state)
{
    (void)state;
    sw_mask mask = { 0 };
    assert_ok(sw_mask_make(5, 3, &mask, NULL), (sw_note){ 0 });
    for (size_t i = 0; i < 15; i++) assert_int_equal(mask.at[i], 0);
    sw_mask_free(&mask);
    assert_null(mask.at);
    sw_mask_free(&mask);
    sw_mask_free(NULL);
}

static void empty_and_huge_masks_are_refused(void **state)
{
    (void)state;
    sw_mask mask = { .width_px = 7 };
    sw_note note = { 0 };
    assert_int_equal(sw_mask_make(0, 3, &mask, &note), SW_BAD_LENGTH);
    assert_int_equal(sw_mask_make(3, 0, &mask, &note), SW_BAD_LENGTH);
    assert_int_equal(sw_mask_make(SW_MAX_SIDE_PX + 1, 1, &mask, &note), SW_TOO_LARGE);
    assert_int_equal(sw_mask_make(SW_MAX_SIDE_PX, SW_MAX_SIDE_PX, &mask, &note), SW_TOO_LARGE);
    assert_int_equal(sw_mask_make(SIZE_MAX, SIZE_MAX, &mask, &note), SW_TOO_LARGE);
    assert_int_equal(mask.width_px, 7); /* untouched */
    assert_true(note.text[0] != '\0');
}

static void a_copy_is_deep(void **state)
{
    (void)state;
    sw_mask mask = test_mask("#..\n.#.\n"), copy = { 0 };
    assert_ok(sw_mask_copy(&mask, &copy, NULL), (sw_note){ 0 });
    mask.at[0] = 0;
    assert_int_equal(copy.at[0], 1);
    assert_int_equal(copy.at[4], 1);
    assert_int_equal(copy.width_px, 3);
    sw_mask_free(&mask);
    sw_mask_free(&copy);
}

static void memory_that_fails_leaves_nothing(void **state)
{
    (void)state;
    sw_mask mask = test_mask("#."), copy = { 0 };
    const size_t live = sw_alloc_fail_at(1);
    sw_note note = { 0 };
    assert_int_equal(sw_mask_copy(&mask, &copy, &note), SW_NO_MEMORY);
    assert_null(copy.at);
    assert_int_equal(sw_alloc_fail_at(0), live);
    sw_mask_free(&mask);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_new_mask_is_all_material),
        cmocka_unit_test(empty_and_huge_masks_are_refused),
        cmocka_unit_test(a_copy_is_deep),
        cmocka_unit_test(memory_that_fails_leaves_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
