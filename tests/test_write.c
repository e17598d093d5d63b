/* File formats: SVG text and PNG bytes. What other programs make of them is looked at in tests/reference/. */
#include "support.h"
#include "write/write.h"

#include <locale.h>
#include <png.h>

static sw_contour leaf(void)
{
    sw_contour c = { .start = { 1.0, 2.0 } };
    assert_true(sw_contour_add_line(&c, (sw_pt_mm){ 10.5, 2.0 }));
    assert_true(sw_contour_add_line(&c, (sw_pt_mm){ 10.5, -0.001 }));
    assert_true(sw_contour_add_line(&c, (sw_pt_mm){ 12.0, 30.25 }));
    assert_true(sw_contour_add_cubic(&c, (sw_pt_mm){ 12, 40 }, (sw_pt_mm){ 3.0004, 50 }, (sw_pt_mm){ 2, 40.1236 }));
    assert_true(sw_contour_add_line(&c, c.start));
    return c;
}

static const char leaf_path[] = "M1 2H10.5V-0.001L12 30.25C12 40 3 50 2 40.124Z";

static sw_panel small_panel(void)
{
    sw_panel panel = { .pass = 1, .width_mm = 100, .height_mm = 80.5 };
    sw_contour c = leaf(), mark = leaf();
    panel.outline = leaf();
    assert_int_equal(sw_contours_take(&panel.openings, &c, NULL), SW_OK);
    assert_int_equal(sw_contours_take(&panel.marks, &mark, NULL), SW_OK);
    panel.strokes = sw_alloc_array(1, sizeof *panel.strokes);
    panel.strokes[0].at = sw_alloc_array(2, sizeof(sw_pt_mm));
    panel.strokes[0].at[0] = (sw_pt_mm){ 5, 6 };
    panel.strokes[0].at[1] = (sw_pt_mm){ 5, 9 };
    panel.strokes[0].n = 2;
    panel.n_strokes = 1;
    return panel;
}

static void free_panel(sw_panel *panel)
{
    sw_contours_free(&panel->openings);
    sw_contours_free(&panel->marks);
    sw_contour_free(&panel->outline);
    sw_free(panel->strokes[0].at);
    sw_free(panel->strokes);
}

static void a_cut_file_has_openings_then_the_edge_then_what_is_drawn(void **state)
{
    (void)state;
    sw_panel panel = small_panel();
    sw_text text = { 0 };
    assert_int_equal(sw_write_cut_svg(&panel, "a < b", 0.088, &text, NULL), SW_OK);
    assert_int_equal(strlen(text.data), text.size);
    assert_non_null(strstr(text.data, "width=\"100mm\" height=\"80.5mm\" viewBox=\"0 0 100 80.5\""));
    assert_non_null(strstr(text.data, "<title>a &lt; b</title>"));
    const char *const cut = strstr(text.data, "<g id=\"cut\""), *const edge = strstr(text.data, "<g id=\"outline\"");
    const char *const marks = strstr(text.data, "<g id=\"marks\"");
    assert_true(cut != NULL && edge > cut && marks > edge);
    const char *p = text.data;
    size_t n = 0;
    for (; (p = strstr(p, leaf_path)) != NULL; p++) n++;
    assert_int_equal(n, 3);
    assert_non_null(strstr(marks, "M5 6V9"));
    assert_null(strstr(text.data, "transform"));
    sw_text_free(&text);
    free_panel(&panel);
}

static void layers_hold_one_path_a_pass_in_artwork_millimetres(void **state)
{
    (void)state;
    sw_contours openings = { 0 }, none = { 0 };
    sw_contour c = leaf();
    assert_int_equal(sw_contours_take(&openings, &c, NULL), SW_OK);
    const sw_panel panels[] = { { .pass = 1, .name = "A1", .art = { 0, 0, 1050.25, 1400 } },
                                { .pass = 1, .name = "A2", .art = { 1050.25, 0, 1050.25, 1400 } }, { .pass = 2 } };
    const sw_layer layers[] = { { 1, { 0x12, 0xab, 0 }, "moss & co", &openings, panels, 3 },
                                { 2, { 255, 255, 255 }, NULL, &none, panels, 3 } };
    const sw_grid grid = { 4201, 2800, 2.0 };
    sw_text text = { 0 };
    assert_int_equal(sw_write_layers_svg(&grid, NULL, layers, 2, &text, NULL), SW_OK);
    assert_non_null(strstr(text.data, "viewBox=\"0 0 2100.5 1400\""));
    assert_non_null(strstr(text.data, "<g id=\"pass-1\">\n<title>pass 1, moss &amp; co #12ab00</title>\n<desc>" SW_PANELS_DESC
                                      "A1 0 0 1050.25 1400; A2 1050.25 0 1050.25 1400</desc>\n<path"));
    assert_non_null(strstr(text.data, "<g id=\"pass-2\">\n<title>pass 2, #ffffff</title>\n<path")); /* one panel says nothing */
    assert_non_null(strstr(text.data, "<path id=\"pass-1-openings\" fill=\"#12ab00\" fill-rule=\"evenodd\" d=\"M1 2H"));
    assert_non_null(strstr(text.data, "<path id=\"pass-2-openings\" fill=\"#ffffff\""));
    sw_text_free(&text);
    sw_contours_free(&openings);
}

static void the_same_panel_gives_the_same_bytes_in_any_locale(void **state)
{
    (void)state;
    sw_panel panel = small_panel();
    sw_text one = { 0 }, two = { 0 };
    assert_int_equal(sw_write_cut_svg(&panel, "t", 0.088, &one, NULL), SW_OK);
    if (setlocale(LC_ALL, "de_DE.UTF-8") == NULL) print_message("no locale with a decimal comma here\n");
    assert_int_equal(sw_write_cut_svg(&panel, "t", 0.088, &two, NULL), SW_OK);
    setlocale(LC_ALL, "C");
    assert_string_equal(one.data, two.data);
    sw_text_free(&one);
    sw_text_free(&two);
    free_panel(&panel);
}

static void numbers_print_as_base_prints_them(void **state)
{
    (void)state;
    uint64_t seed = 1;
    for (int i = 0; i < 2000; i++) {
        const double v = ((double)(test_random(&seed) % 400000001u) - 200000000.0) / (i % 2 ? 1000.0 : 7.0);
        sw_panel panel = { .width_mm = v, .height_mm = 1 };
        sw_text text = { 0 }, number = { 0 };
        assert_int_equal(sw_write_cut_svg(&panel, "t", 1, &text, NULL), SW_OK);
        sw_text_add(&number, "width=\"");
        sw_text_add_number(&number, v, 3);
        sw_text_add(&number, "mm\"");
        if (strstr(text.data, number.data) == NULL) print_error("%s\n", number.data);
        assert_non_null(strstr(text.data, number.data));
        sw_text_free(&text);
        sw_text_free(&number);
    }
}

static void memory_that_ends_anywhere_is_told_and_freed(void **state)
{
    (void)state;
    sw_panel panel = small_panel();
    sw_rgb8 pixels[6] = { { 1, 2, 3 } };
    const sw_picture picture = { .width_px = 3, .height_px = 2, .at = pixels };
    const size_t live = sw_alloc_fail_at(0);
    for (int which = 0; which < 4; which++) {
        sw_status st = SW_NO_MEMORY;
        for (size_t nth = 1; st != SW_OK; nth++) {
            sw_text text = { 0 };
            sw_note note = { 0 };
            sw_alloc_fail_at(nth);
            if (which == 0) st = sw_write_cut_svg(&panel, "t", 0.088, &text, &note);
            if (which == 1) st = sw_write_png(&picture, 2, &text, &note);
            if (which == 2) st = sw_write_cut_pdf(&panel, 1, "t", 0.088, &text, &note);
            if (which == 3) st = sw_write_cut_eps(&panel, "t", 0.088, &text, &note);
            sw_alloc_fail_at(0);
            assert_true(st == SW_OK || (st == SW_NO_MEMORY && note.text[0] != '\0' && text.data == NULL));
            sw_text_free(&text);
        }
    }
    assert_int_equal(sw_alloc_fail_at(0), live);
    free_panel(&panel);
}

static void a_png_reads_back_with_its_pixels(void **state)
{
    (void)state;
    static const size_t sides[][2] = { { 1, 1 }, { 3, 2 }, { 127, 200 } };
    uint64_t seed = 4;
    for (size_t i = 0; i < SW_ARRAY_LEN(sides); i++) {
        static sw_rgb8 pixels[127 * 200], back[127 * 200];
        const sw_picture picture = { .width_px = sides[i][0], .height_px = sides[i][1], .at = pixels };
        const size_t n = sides[i][0] * sides[i][1];
        for (size_t k = 0; k < n; k++) pixels[k] = (sw_rgb8){ (uint8_t)test_random(&seed), (uint8_t)k, 7 };
        sw_text text = { 0 }, again = { 0 };
        assert_int_equal(sw_write_png(&picture, 2.5, &text, NULL), SW_OK);
        assert_int_equal(sw_write_png(&picture, 2.5, &again, NULL), SW_OK);
        assert_int_equal(text.size, again.size);
        assert_memory_equal(text.data, again.data, text.size);
        png_image image = { .version = PNG_IMAGE_VERSION };
        assert_true(png_image_begin_read_from_memory(&image, text.data, text.size));
        assert_int_equal(image.width, sides[i][0]);
        image.format = PNG_FORMAT_RGB;
        assert_true(png_image_finish_read(&image, NULL, back, 0, NULL));
        assert_memory_equal(pixels, back, n * 3);
        sw_text_free(&text);
        sw_text_free(&again);
    }
}

static bool has_text(const sw_text *text, const char *part)
{
    const size_t n = strlen(part);
    for (size_t i = 0; i + n <= text->size; i++) {
        if (memcmp(text->data + i, part, n) == 0) return true;
    }
    return false;
}

static void pdf_and_eps_are_the_same_each_time_and_hold_no_date(void **state)
{
    (void)state;
    sw_panel panel = small_panel();
    sw_contour_free(&panel.outline); /* the edge of the panel: it is what the boxes must hold */
    panel.outline.start = (sw_pt_mm){ 0, 0 };
    assert_true(sw_contour_add_line(&panel.outline, (sw_pt_mm){ 100, 0 }));
    assert_true(sw_contour_add_line(&panel.outline, (sw_pt_mm){ 100, 80.5 }));
    assert_true(sw_contour_add_line(&panel.outline, (sw_pt_mm){ 0, 80.5 }));
    assert_true(sw_contour_add_line(&panel.outline, (sw_pt_mm){ 0, 0 }));
    sw_text pdf[2] = { { 0 } }, eps[2] = { { 0 } };
    for (int i = 0; i < 2; i++) {
        assert_int_equal(sw_write_cut_pdf(&panel, 1, "caf\xc3\xa9 \xff \xed\xa0\x80", 0.088, &pdf[i], NULL), SW_OK);
        assert_int_equal(sw_write_cut_eps(&panel, "caf\xc3\xa9", 0.088, &eps[i], NULL), SW_OK);
    }
    assert_int_equal(pdf[0].size, pdf[1].size);
    assert_memory_equal(pdf[0].data, pdf[1].data, pdf[0].size);
    assert_string_equal(eps[0].data, eps[1].data);
    assert_false(has_text(&pdf[0], "Date") || has_text(&eps[0], "Date"));
    assert_true(has_text(&pdf[0], "/MediaBox [ 0 0 283.46"));
    assert_true(has_text(&eps[0], "%%BoundingBox: 0 0 284 229"));
    assert_true(has_text(&eps[0], "%%HiResBoundingBox: 0 0 283.4646 228.189"));
    assert_true(has_text(&eps[0], "%%Title: caf??"));
    for (int i = 0; i < 2; i++) {
        sw_text_free(&pdf[i]);
        sw_text_free(&eps[i]);
    }
    free_panel(&panel);
}

static void several_panels_are_pages_with_an_outline(void **state)
{
    (void)state;
    sw_panel panels[3] = { small_panel(), small_panel(), small_panel() };
    memcpy(panels[0].name, "A1", 3);
    memcpy(panels[1].name, "A2", 3);
    panels[2].pass = 2;
    sw_text text = { 0 };
    assert_int_equal(sw_write_cut_pdf(panels, 3, NULL, 0.088, &text, NULL), SW_OK);
    assert_true(has_text(&text, "/Count 3") && has_text(&text, "(panel A2)") && has_text(&text, "(pass 2)"));
    sw_text_free(&text);
    for (int i = 0; i < 3; i++) free_panel(&panels[i]);
}

static void a_panel_longer_than_a_page_is_told(void **state)
{
    (void)state;
    sw_panel panel = small_panel();
    panel.width_mm = 5080.1;
    sw_text text = { 0 };
    sw_note note = { 0 };
    assert_int_equal(sw_write_cut_pdf(&panel, 1, NULL, 0.088, &text, &note), SW_BAD_LENGTH);
    assert_non_null(strstr(note.text, "--bed"));
    assert_int_equal(sw_write_cut_eps(&panel, NULL, 0.088, &text, NULL), SW_BAD_LENGTH);
    panel.width_mm = 5080;
    assert_int_equal(sw_write_cut_eps(&panel, NULL, 0.088, &text, NULL), SW_OK);
    sw_text_free(&text);
    free_panel(&panel);
}

/* Bytes of the chunk's data, or NULL. */
static const unsigned char *find_chunk(const sw_text *text, const char *type)
{
    for (size_t i = 8; i + 12 <= text->size;) {
        const unsigned char *const p = (const unsigned char *)text->data + i;
        if (memcmp(p + 4, type, 4) == 0) return p + 8;
        i += 12 + ((size_t)p[0] << 24 | (size_t)p[1] << 16 | (size_t)p[2] << 8 | p[3]);
    }
    return NULL;
}

static void a_png_states_its_density_and_no_time(void **state)
{
    (void)state;
    sw_rgb8 pixels[1] = { { 1, 2, 3 } };
    const sw_picture picture = { .width_px = 1, .height_px = 1, .at = pixels };
    sw_text text = { 0 };
    assert_int_equal(sw_write_png(&picture, 3.2005, &text, NULL), SW_OK);
    const unsigned char *const density = find_chunk(&text, "pHYs");
    assert_non_null(density);
    assert_int_equal(density[2] << 8 | density[3], 3200);
    assert_int_equal(density[8], 1); /* per metre */
    assert_null(find_chunk(&text, "tIME"));
    assert_non_null(find_chunk(&text, "sRGB"));
    sw_text_free(&text);
    assert_int_equal(sw_write_png(&picture, 0, &text, NULL), SW_OK);
    assert_null(find_chunk(&text, "pHYs"));
    sw_text_free(&text);
    const sw_picture nothing = { 0 };
    assert_int_equal(sw_write_png(&nothing, 0, &text, NULL), SW_TOO_LARGE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_cut_file_has_openings_then_the_edge_then_what_is_drawn),
        cmocka_unit_test(layers_hold_one_path_a_pass_in_artwork_millimetres),
        cmocka_unit_test(the_same_panel_gives_the_same_bytes_in_any_locale),
        cmocka_unit_test(numbers_print_as_base_prints_them),
        cmocka_unit_test(memory_that_ends_anywhere_is_told_and_freed),
        cmocka_unit_test(pdf_and_eps_are_the_same_each_time_and_hold_no_date),
        cmocka_unit_test(several_panels_are_pages_with_an_outline),
        cmocka_unit_test(a_panel_longer_than_a_page_is_told),
        cmocka_unit_test(a_png_reads_back_with_its_pixels),
        cmocka_unit_test(a_png_states_its_density_and_no_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
