/* What mending measured on a panel counts for the proof where the curves are the same, and nowhere else. */
#include <string.h>

#include "proof_support.h"
#include "support.h"

static const sw_proof_opts usual = { .min_opening_mm = 3, .min_web_mm = 5 };

/* A good panel: its edge, two openings and a mark, straight and curved. */
static sw_panel good_panel(void)
{
    sw_panel panel = blank_panel(120, 90);
    add_box(&panel.openings, 20, 20, 30, 40);
    add_circle(&panel.openings, 80, 45, 15);
    add_box(&panel.marks, 6, 6, 4, 4);
    return panel;
}

/* A layout that owns the panel. */
static sw_layout layout_of(sw_panel panel)
{
    sw_panel *const at = sw_alloc_array(1, sizeof *at);
    must(at != NULL);
    *at = panel;
    return (sw_layout){ .panels = at, .n_panels = 1 };
}

#define TOLD_MM 77.0 /* no measuring would give it */

/* What is known of a panel, which it takes, with that number in it. */
static sw_proof_known known_of(sw_panel panel, const sw_proof_opts *opts)
{
    sw_layout layout = layout_of(panel);
    sw_proof_known known = { 0 };
    must(sw_proof_known_make(&layout, opts, &known, NULL) == SW_OK);
    must(layout.panels == NULL);
    known.proof.panels[0].narrowest_web_mm = TOLD_MM;
    return known;
}

/* Does the proof of this panel say what is known? */
static bool is_taken_over(sw_panel *panel, const sw_proof_known *known, const sw_proof_opts *opts)
{
    sw_proof_opts with = *opts;
    sw_proof_panel alone = { 0 }, whole = { 0 };
    with.known = known;
    with.n_known = 1;
    must(sw_proof_panel_make(panel, &with, &alone, NULL) == SW_OK);
    must(prove_one(panel, &with, &whole, NULL) == SW_OK);
    assert_true(alone.narrowest_web_mm == whole.narrowest_web_mm);
    sw_free(alone.faults);
    return alone.narrowest_web_mm == TOLD_MM;
}

static void the_same_curves_are_not_measured_again(void **state)
{
    (void)state;
    sw_panel panel = good_panel();
    sw_proof_known known = known_of(good_panel(), &usual);
    assert_true(known.proof.is_good);
    assert_true(is_taken_over(&panel, &known, &usual));
    panel.pass = 2; /* nothing that is measured */
    panel.origin = (sw_pt_mm){ 5, 5 };
    panel.openings.at[0].segs[0].c1 = (sw_pt_mm){ 9, 9 }; /* a line has no handles */
    assert_true(is_taken_over(&panel, &known, &usual));
    sw_proof_known_free(&known);
    free_panel(&panel);
}

/* One number of a panel, changed by what a file can show. */
static double *number_of(sw_panel *panel, size_t i)
{
    double *const numbers[] = { &panel->width_mm,
                                &panel->height_mm,
                                &panel->outline.segs[1].end.x_mm,
                                &panel->marks.at[0].segs[0].end.y_mm,
                                &panel->openings.at[0].start.x_mm,
                                &panel->openings.at[0].segs[2].end.y_mm,
                                &panel->openings.at[1].segs[0].c1.x_mm,
                                &panel->openings.at[1].segs[3].c2.y_mm,
                                &panel->openings.at[1].segs[2].end.x_mm };
    return i < SW_ARRAY_LEN(numbers) ? numbers[i] : NULL;
}

static void one_number_changed_is_measured_again(void **state)
{
    (void)state;
    sw_panel panel = good_panel();
    sw_proof_known known = known_of(good_panel(), &usual);
    for (size_t i = 0; number_of(&panel, i) != NULL; i++) {
        double *const number = number_of(&panel, i);
        const double was = *number;
        *number = was - 0.001;
        assert_false(is_taken_over(&panel, &known, &usual));
        *number = was;
    }
    assert_true(is_taken_over(&panel, &known, &usual));
    sw_proof_known_free(&known);
    free_panel(&panel);
}

static void a_contour_more_or_less_is_measured_again(void **state)
{
    (void)state;
    sw_panel panel = good_panel();
    sw_proof_known known = known_of(good_panel(), &usual);
    panel.openings.n--;
    assert_false(is_taken_over(&panel, &known, &usual));
    panel.openings.n++;
    panel.marks.n--;
    assert_false(is_taken_over(&panel, &known, &usual));
    panel.marks.n++;
    panel.openings.at[0].segs[1].is_line = false;
    panel.openings.at[0].segs[1].c1 = panel.openings.at[0].segs[1].c2 = panel.openings.at[0].segs[1].end;
    assert_false(is_taken_over(&panel, &known, &usual));
    panel.openings.at[0].segs[1].is_line = true;
    assert_true(is_taken_over(&panel, &known, &usual));
    sw_proof_known_free(&known);
    free_panel(&panel);
}

static void other_widths_are_measured_again(void **state)
{
    (void)state;
    sw_panel panel = good_panel();
    sw_proof_known known = known_of(good_panel(), &usual);
    assert_false(is_taken_over(&panel, &known, &(sw_proof_opts){ .min_opening_mm = 3.1, .min_web_mm = 5 }));
    assert_false(is_taken_over(&panel, &known, &(sw_proof_opts){ .min_opening_mm = 3, .min_web_mm = 4 }));
    assert_false(is_taken_over(&panel, &known, &(sw_proof_opts){ .min_opening_mm = 3, .min_web_mm = 5, .px_per_mm = 3 }));
    sw_proof_known_free(&known);
    free_panel(&panel);
}

static void what_had_a_fault_is_measured_again(void **state)
{
    (void)state;
    sw_panel panel = good_panel(), same = good_panel();
    add_box(&panel.openings, 52, 20, 20, 5); /* 2 mm from the first */
    add_box(&same.openings, 52, 20, 20, 5);
    sw_proof_known known = known_of(same, &usual);
    assert_true(known.proof.panels[0].n_faults > 0);
    assert_false(is_taken_over(&panel, &known, &usual));
    sw_proof_known_free(&known);
    free_panel(&panel);
}

/* A panel with a tongue that sinks, its corner at x_mm, 0 of the artwork. */
static sw_panel tongue_panel(double x_mm)
{
    sw_panel panel = blank_panel(500, 400);
    panel.origin = (sw_pt_mm){ x_mm, 0 };
    add_polygon(&panel.openings, 8,
                (sw_pt_mm[]){ { 200, 100 }, { 240, 100 }, { 240, 250 }, { 252, 250 }, { 252, 100 }, { 292, 100 }, { 292, 290 }, { 200, 290 } });
    return panel;
}

static const sw_proof_opts with_droop = { .min_opening_mm = 3, .min_web_mm = 5, .droop_mm = 5 };

/* Alone and with the wall; both say the same. */
static sw_hang hang_of(sw_panel *panel, const sw_proof_known *known, const sw_proof_opts *opts)
{
    sw_proof_opts with = *opts;
    sw_proof_panel alone = { 0 }, whole = { 0 };
    with.known = known;
    with.n_known = 1;
    must(sw_proof_panel_make(panel, &with, &alone, NULL) == SW_OK);
    must(prove_one(panel, &with, &whole, NULL) == SW_OK);
    assert_memory_equal(&alone.hang, &whole.hang, sizeof alone.hang);
    assert_true(alone.narrowest_web_mm == TOLD_MM);
    return alone.hang;
}

static void droop_is_measured_when_it_is_not_known(void **state)
{
    (void)state;
    sw_panel panel = tongue_panel(0);
    sw_proof_panel want = { 0 };
    must(sw_proof_panel_make(&panel, &with_droop, &want, NULL) == SW_OK);
    sw_proof_known known = known_of(tongue_panel(0), &with_droop);
    assert_true(want.hang.droop_mm > 5.0);
    assert_true(known.proof.panels[0].hang.droop_mm == 0.0);
    const sw_hang hang = hang_of(&panel, &known, &with_droop);
    assert_memory_equal(&hang, &want.hang, sizeof hang);
    must(sw_proof_known_hang(&known, &with_droop, NULL) == SW_OK);
    assert_memory_equal(&known.proof.panels[0].hang, &want.hang, sizeof want.hang);
    sw_proof_known_free(&known);
    free_panel(&panel);
}

static void droop_that_is_known_is_not_measured_again(void **state)
{
    (void)state;
    sw_panel panel = tongue_panel(0), moved = tongue_panel(1);
    sw_proof_known known = known_of(tongue_panel(0), &with_droop);
    sw_material thick = *sw_material_find(NULL);
    sw_proof_opts other = with_droop;
    thick.thickness_mm += 1.0;
    must(sw_proof_known_hang(&known, &with_droop, NULL) == SW_OK);
    known.proof.panels[0].hang.droop_mm = TOLD_MM;
    assert_true(hang_of(&panel, &known, &with_droop).droop_mm == TOLD_MM);
    assert_true(hang_of(&moved, &known, &with_droop).droop_mm != TOLD_MM);
    other.material = sw_material_find(NULL);
    assert_true(hang_of(&panel, &known, &other).droop_mm == TOLD_MM);
    other.material = &thick;
    assert_true(hang_of(&panel, &known, &other).droop_mm != TOLD_MM);
    other = with_droop;
    other.droop_mm = 6.0;
    assert_true(hang_of(&panel, &known, &other).droop_mm != TOLD_MM);
    other.droop_mm = 0.0;
    assert_true(hang_of(&panel, &known, &other).droop_mm == 0.0);
    must(sw_proof_known_hang(&known, &other, NULL) == SW_OK); /* not asked: known no more */
    assert_true(hang_of(&panel, &known, &with_droop).droop_mm != TOLD_MM);
    sw_proof_known_free(&known);
    free_panel(&panel);
    free_panel(&moved);
}

static void a_hang_without_memory_is_not_known(void **state)
{
    (void)state;
    sw_panel panel = tongue_panel(0);
    sw_proof_known known = known_of(tongue_panel(0), &with_droop);
    const double want_mm = hang_of(&panel, &known, &with_droop).droop_mm;
    const size_t live = sw_alloc_fail_at(0);
    for (size_t nth = 1; nth < 12; nth++) {
        sw_note note = { 0 };
        sw_alloc_fail_at(nth);
        const sw_status st = sw_proof_known_hang(&known, &with_droop, &note);
        assert_int_equal(sw_alloc_fail_at(0), live);
        assert_int_equal(st, SW_NO_MEMORY);
        assert_true(note.text[0] != '\0');
        assert_true(known.droop_mm == 0.0);
    }
    assert_true(hang_of(&panel, &known, &with_droop).droop_mm == want_mm);
    sw_proof_known_free(&known);
    free_panel(&panel);
}

static void a_layout_that_cannot_be_measured_is_left_alone(void **state)
{
    (void)state;
    sw_panel panel = good_panel();
    sw_layout layout = layout_of(panel);
    sw_proof_known known = { 0 };
    sw_note note = { 0 };
    assert_int_equal(sw_proof_known_make(&layout, &(sw_proof_opts){ .min_web_mm = 5 }, &known, &note), SW_BAD_LENGTH);
    assert_true(note.text[0] != '\0');
    assert_null(known.proof.panels);
    const size_t live = sw_alloc_fail_at(0);
    sw_status st = SW_NO_MEMORY;
    for (size_t nth = 1; st != SW_OK; nth++) {
        sw_alloc_fail_at(nth);
        st = sw_proof_known_make(&layout, &usual, &known, &note);
        const size_t left = sw_alloc_fail_at(0);
        if (st == SW_OK) break;
        assert_int_equal(st, SW_NO_MEMORY);
        assert_int_equal(left, live);
        assert_int_equal(layout.n_panels, 1);
    }
    assert_null(layout.panels);
    sw_proof_known_free(&known);
    sw_proof_known_free(&known);
    sw_proof_known_free(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_same_curves_are_not_measured_again),
        cmocka_unit_test(one_number_changed_is_measured_again),
        cmocka_unit_test(a_contour_more_or_less_is_measured_again),
        cmocka_unit_test(other_widths_are_measured_again),
        cmocka_unit_test(what_had_a_fault_is_measured_again),
        cmocka_unit_test(droop_is_measured_when_it_is_not_known),
        cmocka_unit_test(droop_that_is_known_is_not_measured_again),
        cmocka_unit_test(a_hang_without_memory_is_not_known),
        cmocka_unit_test(a_layout_that_cannot_be_measured_is_left_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
