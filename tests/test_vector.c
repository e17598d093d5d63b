/* SVG in: every command and shape becomes the curves it should, and what cannot be cut is found where it is. */
#include "support.h"

#include <math.h>

#include "vector/vector.h"

static sw_vector read_text(const char *text)
{
    sw_vector v = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_vector_read((const uint8_t *)text, strlen(text), "t.svg", &v, &note), note);
    return v;
}

/* The document is 100 mm x 100 mm and one user unit is one millimetre. */
#define DOCUMENT(inside)                                                                                               \
    "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='100mm' viewBox='0 0 100 100'>" inside "</svg>"

static void assert_near(double value, double wanted, double within)
{
    if (!(fabs(value - wanted) <= within)) print_error("%g is not %g\n", value, wanted);
    assert_true(fabs(value - wanted) <= within);
}

static void shapes_have_their_area(void **state)
{
    (void)state;
    const double pi = 3.14159265358979;
    static const char *const inside[] = {
        DOCUMENT("<rect x='10' y='10' width='20' height='30'/>"),
        DOCUMENT("<circle cx='50' cy='50' r='20'/>"),
        DOCUMENT("<ellipse cx='50' cy='50' rx='20' ry='10'/>"),
        DOCUMENT("<rect x='10' y='10' width='20' height='30' rx='5'/>"),
        DOCUMENT("<polygon points='0,0 10,0 10,10'/>"),
        DOCUMENT("<path d='M10 10h20v30h-20z'/>"),
        DOCUMENT("<path d='M30 50a20 20 0 1 1 40 0a20 20 0 1 1-40 0Z'/>"),
        DOCUMENT("<path d='M0 0Q10 0 10 10L0 10Z'/>"),
        DOCUMENT("<path d='M0 0c5 0 10 5 10 10s-5 10-10 10z'/>"),
        DOCUMENT("<g transform='translate(5 5) scale(2)'><rect width='10' height='10'/></g>"),
        DOCUMENT("<g transform='rotate(30) skewX(20)'><rect x='20' width='10' height='10'/></g>"),
        DOCUMENT("<defs><rect id='r' width='10' height='10'/></defs><use href='#r' x='5'/>"),
        DOCUMENT("<svg x='10' y='10' width='50' height='50' viewBox='0 0 10 10'><rect width='10' height='10'/></svg>"),
    };
    const double area_mm2[] = { 600, pi * 400, pi * 200, 600 - (4 - pi) * 25, 50, 600, pi * 400, 50 + 100.0 / 3,
                                0,   400,      100,      100,                 2500 };
    for (size_t i = 0; i < SW_ARRAY_LEN(inside); i++) {
        sw_vector v = read_text(inside[i]);
        assert_int_equal(v.n_findings, 0);
        assert_int_equal(v.n_shapes, 1);
        const sw_contour_measure m = sw_contours_measure(&v.shapes[0].contours);
        if (area_mm2[i] > 0) assert_near(fabs(m.area_mm2), area_mm2[i], area_mm2[i] * 4e-4); /* arcs as cubics: 0.03 % */
        sw_vector_free(&v);
    }
}

static void an_open_path_is_found_with_both_ends(void **state)
{
    (void)state;
    sw_vector v = read_text(DOCUMENT("<g transform='translate(10 20)'>\n"
                                     "<path id='gap' fill='none' stroke='red' d='M0 0L10 0L10 10L0 3'/></g>"));
    assert_int_equal(v.n_findings, 1);
    assert_int_equal(v.findings[0].kind, SW_FIND_OPEN_PATH);
    assert_near(v.findings[0].at.x_mm, 10, 1e-6);
    assert_near(v.findings[0].at.y_mm, 20, 1e-6);
    assert_near(v.findings[0].to.y_mm, 23, 1e-6);
    assert_near(v.findings[0].measure_mm, 3, 1e-6);
    assert_int_equal(v.findings[0].line, 2);
    assert_string_equal(v.findings[0].shape, "gap");
    sw_vector_free(&v);
}

static void what_cannot_be_cut_is_found(void **state)
{
    (void)state;
    sw_vector v = read_text(DOCUMENT("<text x='5' y='6'>Boat</text><image x='1' y='2' href='a.png'/>"
                                     "<path style='fill:none;stroke:#000;stroke-width:3' d='M0 0H9V9Z'/>"));
    assert_int_equal(v.n_findings, 3);
    assert_int_equal(v.findings[0].kind, SW_FIND_TEXT);
    assert_near(v.findings[0].at.y_mm, 6, 1e-6);
    assert_int_equal(v.findings[1].kind, SW_FIND_IMAGE);
    assert_int_equal(v.findings[2].kind, SW_FIND_STROKE);
    sw_vector_free(&v);
}

static void a_file_without_units_has_no_size(void **state)
{
    (void)state;
    sw_vector v = read_text("<svg viewBox='0 0 96 192'><rect width='96' height='96'/></svg>");
    assert_int_equal(v.n_findings, 1);
    assert_int_equal(v.findings[0].kind, SW_FIND_NO_SIZE);
    assert_near(v.width_mm, 25.4, 1e-9);
    assert_near(v.height_mm, 50.8, 1e-9);
    sw_vector_free(&v);
}

static void layers_and_bytes_are_kept(void **state)
{
    (void)state;
    static const char text[] = DOCUMENT("<g id='pass-2'><rect id='a' width='9' height='9'/></g>");
    sw_vector v = read_text(text);
    assert_string_equal(v.shapes[0].layer, "pass-2");
    assert_int_equal(strncmp(text + v.shapes[0].byte_begin, "<rect id='a'", 12), 0);
    sw_vector_free(&v);
}

/* Of two elements with one id the first is meant; one may stand after what uses it. */
static void a_use_finds_the_first_of_its_id(void **state)
{
    (void)state;
    sw_vector v = read_text(DOCUMENT("<use href='#b' id='u'/><defs><rect id='ab' width='1' height='1'/><rect id='b' width='2' "
                                     "height='3'/><rect id='b' width='4' height='5'/><rect id='a' width='6' height='7'/></defs>"
                                     "<use href='#a'/><use href='#c'/>"));
    assert_int_equal(v.n_shapes, 2);
    assert_near(fabs(sw_contours_measure(&v.shapes[0].contours).area_mm2), 6.0, 1e-9);
    assert_near(fabs(sw_contours_measure(&v.shapes[1].contours).area_mm2), 42.0, 1e-9);
    assert_int_equal(v.n_findings, 1); /* there is no c */
    sw_vector_free(&v);
}

static void hidden_and_foreign_things_are_left_out(void **state)
{
    (void)state;
    sw_vector v = read_text(DOCUMENT("<rect display='none' width='9' height='9'/><x:thing xmlns:x='u'><rect width='1' "
                                     "height='1'/></x:thing><g style='visibility:hidden'><circle r='3'/></g>"));
    assert_int_equal(v.n_shapes, 0);
    assert_int_equal(v.n_findings, 0);
    sw_vector_free(&v);
}

static void bad_files_are_refused(void **state)
{
    (void)state;
    static const char *const bad[] = { "", "hello", "<svg", "<html/>", "<svg><g></svg>" };
    for (size_t i = 0; i < SW_ARRAY_LEN(bad); i++) {
        sw_vector v = { 0 };
        sw_note note = { 0 };
        assert_int_equal(sw_vector_read((const uint8_t *)bad[i], strlen(bad[i]), "t.svg", &v, &note), SW_BAD_FILE);
        assert_non_null(strstr(note.text, "t.svg"));
        assert_null(v.shapes);
    }
}

static void reuse_that_never_ends_is_stopped(void **state)
{
    (void)state;
    sw_vector v = read_text(DOCUMENT("<g id='a'><use href='#a'/></g>"));
    assert_true(v.n_findings >= 1);
    assert_int_equal(v.findings[0].kind, SW_FIND_UNSUPPORTED);
    sw_vector_free(&v);
    sw_text text = { 0 };
    sw_text_add(&text, "<svg><g id='a0'><rect width='1' height='1'/></g>");
    for (int i = 1; i < 8; i++) { /* 20^7 rectangles */
        sw_text_addf(&text, "<g id='a%d'>", i);
        for (int k = 0; k < 20; k++) sw_text_addf(&text, "<use href='#a%d'/>", i - 1);
        sw_text_add(&text, "</g>");
    }
    sw_text_add(&text, "</svg>");
    sw_note note = { 0 };
    assert_int_equal(sw_vector_read((const uint8_t *)text.data, text.size, "t.svg", &v, &note), SW_TOO_LARGE);
    sw_text_free(&text);
}

static void every_failing_allocation_is_survived(void **state)
{
    (void)state;
    static const char text[] = DOCUMENT("<g id='cut'><path id='p' fill='none' stroke='#000' d='M0 0H9V9Z M1 1L2 2'/><circle r='3'/></g>");
    const size_t live = sw_alloc_fail_at(0);
    sw_status st = SW_NO_MEMORY;
    for (size_t nth = 1; st != SW_OK && nth < 500; nth++) {
        sw_vector v = { 0 };
        sw_alloc_fail_at(nth);
        st = sw_vector_read((const uint8_t *)text, sizeof text - 1, "t.svg", &v, NULL);
        sw_vector_free(&v);
        assert_int_equal(sw_alloc_fail_at(0), live);
        assert_true(st == SW_OK || st == SW_NO_MEMORY);
    }
    assert_int_equal(st, SW_OK);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shapes_have_their_area),
        cmocka_unit_test(an_open_path_is_found_with_both_ends),
        cmocka_unit_test(what_cannot_be_cut_is_found),
        cmocka_unit_test(a_file_without_units_has_no_size),
        cmocka_unit_test(layers_and_bytes_are_kept),
        cmocka_unit_test(a_use_finds_the_first_of_its_id),
        cmocka_unit_test(hidden_and_foreign_things_are_left_out),
        cmocka_unit_test(bad_files_are_refused),
        cmocka_unit_test(reuse_that_never_ends_is_stopped),
        cmocka_unit_test(every_failing_allocation_is_survived),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
