/* Droop against handbook values (Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, tables 8 and 35: square
 * plates; Roark's Formulas for beams; coefficients from memory). */
#include "support.h"
#include <math.h>

#include "sheet/droop.h"

static void near_ratio(double got, double want, double tolerance)
{
    if (!(fabs(got / want - 1.0) <= tolerance)) print_error("%.6g against %.6g\n", got, want);
    assert_true(fabs(got / want - 1.0) <= tolerance);
}

typedef struct model {
    uint8_t solid[64 * 64], held[65 * 65];
    double sink[65 * 65];
} model;

static double most_of(const model *m, size_t n)
{
    double most = 0;
    for (size_t i = 0; i < n; i++) most = fmax(most, m->sink[i]);
    return most;
}

static double rigidity(const sw_material *m, double poisson)
{
    return m->modulus_mpa * pow(m->thickness_mm, 3) / (12 * (1 - poisson * poisson));
}

static double square_plate(size_t cells, uint8_t edge)
{
    static model m;
    memset(&m, 0, sizeof m);
    memset(m.solid, 1, cells * cells);
    for (size_t i = 0; i <= cells; i++)
        for (size_t j = 0; j <= cells; j++)
            if (i == 0 || j == 0 || i == cells || j == cells) m.held[i * (cells + 1) + j] = edge;
    sw_note note = { 0 };
    assert_ok(droop_plate(sw_material_find(NULL), m.solid, m.held, cells, cells, 300.0 / (double)cells, 0.3, m.sink, &note),
              note);
    return most_of(&m, (cells + 1) * (cells + 1));
}

static void square_plates_sink_as_in_the_handbook(void **state)
{
    (void)state;
    const sw_material *m = sw_material_find(NULL);
    const double unit = droop_weight_n_mm2(m) * pow(300, 4) / rigidity(m, 0.3);
    near_ratio(square_plate(16, 2), 0.00126 * unit, 0.05);
    near_ratio(square_plate(16, 1), 0.00406 * unit, 0.05);
}

static void a_finer_grid_comes_nearer(void **state)
{
    (void)state;
    const sw_material *m = sw_material_find(NULL);
    const double exact = 0.001265 * droop_weight_n_mm2(m) * pow(300, 4) / rigidity(m, 0.3);
    double before = HUGE_VAL;
    for (size_t cells = 4; cells <= 32; cells *= 2) {
        const double error = fabs(square_plate(cells, 2) / exact - 1.0);
        assert_true(error < before);
        before = error;
    }
    assert_true(before < 0.01);
}

/* A strip 20 cells long and 4 wide, without sideways strain: a beam. */
static double strip(uint8_t left, uint8_t right)
{
    static model m;
    memset(&m, 0, sizeof m);
    memset(m.solid, 1, 20 * 4);
    for (size_t j = 0; j <= 4; j++) {
        m.held[j * 21] = left;
        m.held[j * 21 + 20] = right;
    }
    sw_note note = { 0 };
    assert_ok(droop_plate(sw_material_find(NULL), m.solid, m.held, 20, 4, 10.0, 0.0, m.sink, &note), note);
    return most_of(&m, 21 * 5);
}

static void strips_sink_as_beams(void **state)
{
    (void)state;
    const sw_material *m = sw_material_find(NULL);
    const double unit = droop_weight_n_mm2(m) * pow(200, 4) / rigidity(m, 0.0);
    near_ratio(strip(2, 0), unit / 8, 0.05);
    near_ratio(strip(1, 1), 5 * unit / 384, 0.05);
    near_ratio(strip(2, 2), unit / 384, 0.05);
}

static void the_formula_for_tongues_is_the_cantilever(void **state)
{
    (void)state;
    const sw_material *m = sw_material_find("card");
    near_ratio(droop_tongue_mm(m, 150), droop_weight_n_mm2(m) * pow(150, 4) / (8 * droop_rigidity_nmm(m)), 1e-9);
    near_ratio(droop_tongue_mm(m, droop_tongue_length_mm(m, 5)), 5, 1e-9);
}

static void a_part_held_by_nothing_is_refused(void **state)
{
    (void)state;
    static model m;
    memset(&m, 0, sizeof m);
    memset(m.solid, 1, 16);
    assert_int_equal(droop_plate(sw_material_find(NULL), m.solid, m.held, 4, 4, 10, 0.3, m.sink, NULL), SW_CANNOT_HOLD);
}

static void the_table_has_names_and_numbers(void **state)
{
    (void)state;
    size_t n = 0;
    for (; sw_material_at(n) != NULL; n++) {
        const sw_material *m = sw_material_at(n);
        assert_ptr_equal(sw_material_find(m->name), m);
        assert_true(m->thickness_mm > 0 && m->density_kg_m3 > 0 && m->modulus_mpa > 0);
    }
    assert_true(n >= 4);
    assert_null(sw_material_find("air"));
    assert_ptr_equal(sw_material_find(NULL), sw_material_at(0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(square_plates_sink_as_in_the_handbook),
        cmocka_unit_test(a_finer_grid_comes_nearer),
        cmocka_unit_test(strips_sink_as_beams),
        cmocka_unit_test(the_formula_for_tongues_is_the_cantilever),
        cmocka_unit_test(a_part_held_by_nothing_is_refused),
        cmocka_unit_test(the_table_has_names_and_numbers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
