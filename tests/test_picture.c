/* Reading pictures: PNG, limits, bad files, memory running out. JPEG has its own file. */
#include "picture_files.h"
#include <math.h>
#include <sys/wait.h>
#include <unistd.h>

static const sw_picture_opts on_white = { .ground = { 255, 255, 255 } };
static file f; /* large: not on the stack */

static sw_picture read_ok(const sw_picture_opts *opts)
{
    sw_picture picture = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_picture_read_memory(f.bytes, f.n, "x.png", opts, &picture, &note), note);
    return picture;
}

/* The call fails so, writes one line that names the file, and leaves the picture alone. */
static void assert_refused(const uint8_t *bytes, size_t n, const sw_picture_opts *opts, sw_status wanted,
                           const char *words)
{
    sw_picture picture = { .width_px = 77 };
    sw_note note = { 0 };
    const sw_status got = sw_picture_read_memory(bytes, n, "x.png", opts, &picture, &note);
    if (got != wanted || strstr(note.text, "'x.png'") == NULL || strstr(note.text, words) == NULL)
        fail_msg("status %d, should be %d; note: %s", got, wanted, note.text);
    assert_null(strchr(note.text, '\n'));
    assert_int_equal(picture.width_px, 77);
    assert_null(picture.at);
}

/* w x h RGB with every pixel different. */
static void make_rgb(uint32_t width, uint32_t height, bool is_interlaced)
{
    static uint8_t rows[64 * 64 * 3];
    for (size_t i = 0; i < (size_t)width * height * 3; i++) rows[i] = (uint8_t)(i * 7 + i / 3);
    png_make(&(png_wish){ .colour_type = PNG_COLOR_TYPE_RGB, .is_interlaced = is_interlaced }, width, height, rows,
             width * 3, &f);
}

static void an_rgb_png_comes_back_as_it_was(void **state)
{
    (void)state;
    for (int is_interlaced = 0; is_interlaced < 2; is_interlaced++) {
        make_rgb(13, 9, is_interlaced != 0);
        sw_picture p = read_ok(&on_white);
        assert_int_equal(p.width_px, 13);
        assert_int_equal(p.height_px, 9);
        assert_int_equal(p.source_width_px, 13);
        assert_int_equal(p.source_height_px, 9);
        assert_true(p.x_px_per_mm == 0.0 && p.y_px_per_mm == 0.0 && !p.has_alpha && !p.is_all_clear);
        for (size_t i = 0; i < 13 * 9 * 3; i++)
            assert_int_equal(((const uint8_t *)p.at)[i], (uint8_t)(i * 7 + i / 3));
        sw_picture_free(&p);
        assert_null(p.at);
    }
}

/* 0 at alpha 128 over 255 is 127 as viewers show it; in linear light it would be 188. */
static void a_half_clear_edge_looks_as_viewers_show_it(void **state)
{
    (void)state;
    static const uint8_t rows[] = { 0, 0, 0, 128, 255, 0, 10, 255, 9, 9, 9, 0, 200, 100, 0, 51 };
    png_make(&(png_wish){ .colour_type = PNG_COLOR_TYPE_RGBA }, 4, 1, rows, 16, &f);
    sw_picture p = read_ok(&on_white);
    const sw_rgb8 wanted[] = { { 127, 127, 127 }, { 255, 0, 10 }, { 255, 255, 255 }, { 244, 224, 204 } };
    assert_memory_equal(p.at, wanted, sizeof wanted);
    assert_true(p.has_alpha);
    assert_false(p.is_all_clear);
    sw_picture_free(&p);
}

static void a_picture_with_nothing_in_it_says_so(void **state)
{
    (void)state;
    static const uint8_t rows[8 * 4];
    png_make(&(png_wish){ .colour_type = PNG_COLOR_TYPE_RGBA }, 2, 4, rows, 8, &f);
    sw_picture p = read_ok(&(sw_picture_opts){ .ground = { 10, 20, 30 } });
    assert_true(p.has_alpha && p.is_all_clear);
    for (size_t i = 0; i < 8; i++) assert_true(p.at[i].r == 10 && p.at[i].g == 20 && p.at[i].b == 30);
    sw_picture_free(&p);
}

static void opaque_alpha_is_no_alpha(void **state)
{
    (void)state;
    static const uint8_t rows[] = { 80, 255, 90, 255 };
    png_make(&(png_wish){ .colour_type = PNG_COLOR_TYPE_GRAY_ALPHA }, 2, 1, rows, 4, &f);
    sw_picture p = read_ok(&on_white);
    assert_false(p.has_alpha);
    assert_int_equal(p.at[1].g, 90);
    sw_picture_free(&p);
}

/* PNG specification, 12: gAMA 1.0 is linear light; half of it is 188 in sRGB (187.5). gAMA 1/2.2 is sRGB. */
static void gamma_is_obeyed_for_grey_and_colour(void **state)
{
    (void)state;
    static const uint8_t eight[] = { 0, 128, 255, 64, 64, 64 };
    static const uint8_t sixteen[] = { 0x00, 0x00, 0x80, 0x00, 0xff, 0xff, 0x02, 0x8f, 0x02, 0x8f, 0x02, 0x8f };
    static const int types[] = { PNG_COLOR_TYPE_RGB, PNG_COLOR_TYPE_GRAY };
    for (size_t t = 0; t < 2; t++) {
        const uint32_t width = t == 0 ? 2 : 6;
        png_make(&(png_wish){ .colour_type = types[t], .gamma = 1.0 }, width, 1, eight, 6, &f);
        sw_picture p = read_ok(&on_white);
        assert_int_equal(p.at[0].r, 0);
        assert_in_range(t == 0 ? p.at[0].g : p.at[1].g, 187, 189);
        assert_int_equal(t == 0 ? p.at[0].b : p.at[2].b, 255);
        assert_in_range(p.at[width - 1].r, 136, 138); /* 64 / 255 in linear light */
        sw_picture_free(&p);

        png_make(&(png_wish){ .colour_type = types[t], .depth = 16, .gamma = 1.0 }, width, 1, sixteen, 12, &f);
        p = read_ok(&on_white);
        assert_in_range(t == 0 ? p.at[0].g : p.at[1].g, 187, 189);
        assert_in_range(p.at[width - 1].r, 24, 26); /* 0.01: linear data is why people use 16 bits */
        sw_picture_free(&p);

        png_make(&(png_wish){ .colour_type = types[t], .gamma = 0.45455 }, width, 1, eight, 6, &f);
        p = read_ok(&on_white);
        assert_int_equal(p.at[width - 1].r, 64);
        sw_picture_free(&p);
    }
}

/* Adobe RGB (1998) encoding specification, 4.3.1.1: primaries and exponent; matrices of IEC 61966-2-1. */
static void a_wide_profile_is_converted(void **state)
{
    (void)state;
    static uint8_t icc[4096];
    const size_t n_icc = wide_profile_make(icc, sizeof icc);
    static const struct {
        uint8_t wide[3];
        uint8_t srgb[3];
    } pair[] = { { { 255, 255, 255 }, { 255, 255, 255 } }, { { 0, 0, 0 }, { 0, 0, 0 } },
                 { { 0, 255, 0 }, { 0, 255, 0 } },         { { 128, 128, 128 }, { 129, 129, 129 } },
                 { { 200, 100, 50 }, { 227, 100, 42 } } };
    for (int depth = 8; depth <= 16; depth += 8) {
        for (size_t i = 0; i < SW_ARRAY_LEN(pair); i++) {
            uint8_t row[6];
            for (size_t c = 0; c < 3; c++) {
                if (depth == 8) row[c] = pair[i].wide[c];
                else row[2 * c] = row[2 * c + 1] = pair[i].wide[c];
            }
            png_make(&(png_wish){ .colour_type = PNG_COLOR_TYPE_RGB, .depth = depth, .icc = icc, .n_icc = n_icc }, 1, 1,
                     row, 6, &f);
            sw_picture p = read_ok(&on_white);
            const int got[3] = { p.at[0].r, p.at[0].g, p.at[0].b };
            for (size_t c = 0; c < 3; c++) {
                if (abs(got[c] - pair[i].srgb[c]) > 1)
                    fail_msg("%d bits, colour %zu channel %zu: %d, should be %d", depth, i, c, got[c], pair[i].srgb[c]);
            }
            sw_picture_free(&p);
        }
    }
}

/* The same colours said by gAMA and cHRM. */
static void wide_primaries_without_a_profile_are_converted(void **state)
{
    (void)state;
    static const uint8_t row[3] = { 200, 100, 50 };
    png_make(&(png_wish){ .colour_type = PNG_COLOR_TYPE_RGB, .gamma = 256.0 / 563.0, .has_wide_primaries = true }, 1, 1,
             row, 3, &f);
    sw_picture p = read_ok(&on_white);
    assert_in_range(p.at[0].r, 226, 228);
    assert_in_range(p.at[0].g, 99, 101);
    assert_in_range(p.at[0].b, 41, 43);
    sw_picture_free(&p);
}

/* Profile, alpha, 8 and 16 bits: rows are shared out among the threads and must not care. */
static void any_number_of_threads_reads_the_same_bytes(void **state)
{
    (void)state;
    static uint8_t icc[4096], rows[70 * 61 * 8];
    const size_t n_icc = wide_profile_make(icc, sizeof icc);
    uint64_t seed = 4;
    for (size_t i = 0; i < sizeof rows; i++) rows[i] = (uint8_t)test_random(&seed);
    for (int depth = 8; depth <= 16; depth += 8) {
        png_make(&(png_wish){ .colour_type = PNG_COLOR_TYPE_RGBA, .depth = depth, .icc = icc, .n_icc = n_icc }, 61, 70,
                 rows, (size_t)(61 * depth / 2), &f);
        sw_threads_set(1);
        sw_picture one = read_ok(&on_white);
        for (int n_threads = 2; n_threads <= 7; n_threads += 5) {
            sw_threads_set(n_threads);
            sw_picture many = read_ok(&on_white);
            assert_memory_equal(one.at, many.at, 70 * 61 * sizeof *one.at);
            assert_true(many.has_alpha && !many.is_all_clear);
            sw_picture_free(&many);
        }
        sw_picture_free(&one);
    }
    sw_threads_set(0);
}

static void a_broken_profile_is_ignored(void **state)
{
    (void)state;
    static uint8_t icc[4096];
    const size_t n_icc = wide_profile_make(icc, sizeof icc);
    static const uint8_t row[3] = { 200, 100, 50 };
    for (size_t at = 128; at < n_icc; at += 4) memset(icc + at, 0xff, 4); /* tag table and tags */
    png_make(&(png_wish){ .colour_type = PNG_COLOR_TYPE_RGB, .gamma = 0.45455 }, 1, 1, row, 3, &f);
    uint8_t body[4200] = "p\0"; /* libpng does not write such a profile */
    png_insert(&f, "iCCP", body, 3 + zlib_store(icc, n_icc, body + 3));
    sw_picture p = read_ok(&on_white);
    assert_true(p.at[0].r == 200 && p.at[0].g == 100 && p.at[0].b == 50);
    sw_picture_free(&p);
}

/* sRGB under its own name: no colour may move, not by the one step that going through a profile costs. */
static void an_srgb_profile_changes_nothing(void **state)
{
    (void)state;
    static uint8_t icc[8192], rows[256 * 6];
    const size_t n_icc = profile_save(cmsCreate_sRGBProfile(), icc, sizeof icc);
    for (int depth = 8; depth <= 16; depth += 8) {
        for (size_t i = 0; i < 256; i++) {
            for (size_t c = 0; c < 3; c++) {
                const uint8_t v = (uint8_t)(i * (2 * c + 1));
                if (depth == 8) rows[i * 3 + c] = v;
                else rows[i * 6 + 2 * c] = rows[i * 6 + 2 * c + 1] = v;
            }
        }
        png_make(&(png_wish){ .colour_type = PNG_COLOR_TYPE_RGB, .depth = depth, .icc = icc, .n_icc = n_icc }, 256, 1,
                 rows, sizeof rows, &f);
        sw_picture p = read_ok(&on_white);
        for (size_t i = 0; i < 256; i++)
            assert_true(p.at[i].r == i && p.at[i].g == (uint8_t)(i * 3) && p.at[i].b == (uint8_t)(i * 5));
        sw_picture_free(&p);
    }
}

static void density_and_orientation_of_a_png(void **state)
{
    (void)state;
    uint8_t tiff[26];
    static const uint8_t rows[] = { 10, 20, 30, 40, 50, 60 };
    exif_make(6, tiff);
    png_make(&(png_wish){ .colour_type = PNG_COLOR_TYPE_GRAY, .x_per_metre = 2000, .y_per_metre = 4000, .exif = tiff,
                          .n_exif = sizeof tiff },
             3, 2, rows, 3, &f);
    sw_picture p = read_ok(&on_white);
    sw_picture_info info = { 0 };
    assert_int_equal(sw_picture_probe_memory(f.bytes, f.n, "x.png", NULL, &info, NULL), SW_OK);
    assert_int_equal(p.width_px, 2);
    assert_int_equal(p.height_px, 3);
    assert_true(p.x_px_per_mm == 4.0 && p.y_px_per_mm == 2.0);
    assert_true(info.width_px == 2 && info.height_px == 3 && info.x_px_per_mm == 4.0 && info.y_px_per_mm == 2.0);
    static const uint8_t turned[] = { 40, 10, 50, 20, 60, 30 }; /* the first row becomes the right column */
    for (size_t i = 0; i < 6; i++) assert_int_equal(p.at[i].r, turned[i]);
    sw_picture_free(&p);
}

/* ---- bad files ------------------------------------------------------------------------------------ */

static void what_is_no_picture_is_refused_in_one_line(void **state)
{
    (void)state;
    assert_refused(NULL, 0, &on_white, SW_BAD_FILE, "empty");
    assert_refused((const uint8_t *)"just some text\n", 15, &on_white, SW_BAD_FILE, "not a PNG or JPEG");
    assert_refused((const uint8_t *)"x", 1, &on_white, SW_BAD_FILE, "not a PNG or JPEG");
    assert_refused((const uint8_t *)"GIF89a......", 12, &on_white, SW_BAD_FILE, "a GIF");
    assert_refused((const uint8_t *)"RIFF....WEBPVP8 ", 16, &on_white, SW_BAD_FILE, "a WebP");
    assert_refused((const uint8_t *)"\x89PNG\n\x1a\n....", 11, &on_white, SW_BAD_FILE, "damaged");
    assert_refused((const uint8_t *)"\x89PNG\r\n\x1a\n", 8, &on_white, SW_BAD_FILE, "cut short");
}

static void every_beginning_of_a_png_is_refused(void **state)
{
    (void)state;
    for (int is_interlaced = 0; is_interlaced < 2; is_interlaced++) {
        make_rgb(17, 11, is_interlaced != 0);
        for (size_t n = 8; n < f.n; n++) assert_refused(f.bytes, n, &on_white, SW_BAD_FILE, "cut short");
    }
}

static void every_damaged_byte_is_survived(void **state)
{
    (void)state;
    make_rgb(9, 5, true);
    static file damaged;
    for (size_t at = 0; at < f.n; at++) {
        for (unsigned bit = 0; bit < 8; bit++) {
            damaged = f;
            damaged.bytes[at] ^= (uint8_t)(1u << bit);
            sw_picture p = { 0 };
            sw_note note = { 0 };
            const sw_status st = sw_picture_read_memory(damaged.bytes, damaged.n, "x.png", &on_white, &p, &note);
            assert_true(st == SW_OK || ((st == SW_BAD_FILE || st == SW_TOO_LARGE) && note.text[0] != '\0'));
            sw_picture_free(&p);
        }
    }
}

/* Signature and IHDR with a right checksum, then the real file's rest. */
static void claim_size(uint32_t width, uint32_t height)
{
    make_rgb(8, 8, false);
    put_u32(f.bytes + 16, width);
    put_u32(f.bytes + 20, height);
    put_u32(f.bytes + 29, png_crc(f.bytes + 12, 17));
}

static void lying_headers_cost_no_memory(void **state)
{
    (void)state;
    sw_alloc_fail_at(0);
    claim_size(100000, 100000);
    assert_refused(f.bytes, f.n, &on_white, SW_TOO_LARGE, "100000 x 100000");
    claim_size(100001, 1);
    assert_refused(f.bytes, f.n, &on_white, SW_TOO_LARGE, "100001 x 1");
    claim_size(0xffffffffu, 0xffffffffu);
    assert_refused(f.bytes, f.n, &on_white, SW_TOO_LARGE, "pixels");
    claim_size(0, 5);
    assert_refused(f.bytes, f.n, &on_white, SW_BAD_FILE, "0 x 5");
    claim_size(20000, 20000);
    assert_refused(f.bytes, f.n, &on_white, SW_BAD_FILE, "far too short");
    assert_int_equal(sw_alloc_count(), 0);
}

static void the_callers_limits_are_kept(void **state)
{
    (void)state;
    make_rgb(30, 20, false);
    sw_picture p = read_ok(&(sw_picture_opts){ .max_px = 600, .max_side_px = 30 });
    sw_picture_free(&p);
    assert_refused(f.bytes, f.n, &(sw_picture_opts){ .max_px = 599 }, SW_TOO_LARGE, "30 x 20");
    assert_refused(f.bytes, f.n, &(sw_picture_opts){ .max_side_px = 29 }, SW_TOO_LARGE, "30 x 20");
}

static void the_narrowest_pictures_are_read(void **state)
{
    (void)state;
    static uint8_t column[20000];
    for (size_t i = 0; i < sizeof column; i++) column[i] = (uint8_t)(i * 3);
    for (int is_interlaced = 0; is_interlaced < 2; is_interlaced++) {
        const png_wish wish = { .colour_type = PNG_COLOR_TYPE_GRAY, .is_interlaced = is_interlaced != 0 };
        png_make(&wish, 1, 20000, column, 1, &f);
        sw_picture p = read_ok(&on_white);
        assert_int_equal(p.height_px, 20000);
        for (size_t i = 0; i < sizeof column; i++) assert_int_equal(p.at[i].g, column[i]);
        sw_picture_free(&p);
        png_make(&wish, 1, 1, column + 5, 1, &f);
        p = read_ok(&on_white);
        assert_int_equal(p.at[0].b, 15);
        sw_picture_free(&p);
    }
}

/* ---- files ---------------------------------------------------------------------------------------- */

static void a_file_and_standard_input_are_read(void **state)
{
    (void)state;
    char path[] = "/tmp/sw-picture-XXXXXX";
    const int handle = mkstemp(path);
    assert_true(handle >= 0);
    make_rgb(5, 4, false);
    assert_int_equal(write(handle, f.bytes, f.n), (long)f.n);
    close(handle);
    sw_picture p = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_picture_read(path, &on_white, &p, &note), note);
    assert_int_equal(p.width_px, 5);
    sw_picture_free(&p);
    sw_picture_info info = { 0 };
    assert_ok(sw_picture_probe(path, &on_white, &info, &note), note);
    assert_int_equal(info.height_px, 4);
    assert_non_null(freopen(path, "rb", stdin));
    assert_ok(sw_picture_read("-", &on_white, &p, &note), note);
    assert_int_equal(p.height_px, 4);
    sw_picture_free(&p);
    assert_int_equal(sw_picture_read("-", &on_white, &p, &note), SW_BAD_FILE); /* at its end now */
    assert_non_null(strstr(note.text, "standard input"));
    unlink(path);
    note = (sw_note){ 0 };
    assert_int_equal(sw_picture_read(path, &on_white, &p, &note), SW_BAD_FILE);
    assert_non_null(strstr(note.text, path));
    note = (sw_note){ 0 };
    assert_int_equal(sw_picture_read("/tmp", &on_white, &p, &note), SW_BAD_FILE);
    assert_non_null(strstr(note.text, "folder"));
}

/* In a process of its own: being asked to stop cannot be taken back. */
static void an_interrupt_stops_the_reading(void **state)
{
    (void)state;
    make_rgb(13, 9, false);
    const pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        sw_picture p = { 0 };
        sw_interrupt();
        const sw_status st = sw_picture_read_memory(f.bytes, f.n, "x.png", &on_white, &p, NULL);
        _exit(st == SW_INTERRUPTED && p.at == NULL ? 0 : 1);
    }
    int status = -1;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
}

/* ---- memory --------------------------------------------------------------------------------------- */

/* Fail the nth allocation for every n until the call succeeds. */
static void assert_every_failure_is_clean(size_t n_least)
{
    size_t n = 1;
    for (;; n++) {
        const size_t live = sw_alloc_fail_at(n);
        sw_picture p = { 0 };
        sw_note note = { 0 };
        const sw_status st = sw_picture_read_memory(f.bytes, f.n, "x.png", &on_white, &p, &note);
        sw_picture_free(&p);
        assert_int_equal(sw_alloc_fail_at(0), live);
        if (st == SW_OK) break;
        assert_int_equal(st, SW_NO_MEMORY);
        assert_non_null(strstr(note.text, "memory"));
        assert_true(n < 10000);
    }
    if (n <= n_least) fail_msg("only %zu allocations", n - 1);
}

static void every_failed_allocation_of_a_png_is_clean(void **state)
{
    (void)state;
    static uint8_t icc[4096];
    const size_t n_icc = wide_profile_make(icc, sizeof icc);
    uint8_t tiff[26];
    exif_make(8, tiff);
    make_rgb(9, 7, false);
    assert_every_failure_is_clean(4);
    make_rgb(9, 7, true);
    assert_every_failure_is_clean(4);
    static const uint8_t rows[3 * 4 * 3] = { 1, 2, 3 };
    png_make(&(png_wish){ .colour_type = PNG_COLOR_TYPE_RGB, .icc = icc, .n_icc = n_icc, .exif = tiff,
                          .n_exif = sizeof tiff },
             3, 4, rows, 9, &f);
    assert_every_failure_is_clean(40);
    png_make(&(png_wish){ .colour_type = PNG_COLOR_TYPE_GRAY, .gamma = 1.0 }, 3, 4, rows, 3, &f);
    assert_every_failure_is_clean(40);
}

static void free_takes_anything(void **state)
{
    (void)state;
    sw_picture zero = { 0 };
    sw_picture_free(NULL);
    sw_picture_free(&zero);
    sw_picture p = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_picture_make(3, 2, (sw_rgb8){ 1, 2, 3 }, &p, &note), note);
    assert_true(p.at[5].r == 1 && p.at[5].g == 2 && p.at[5].b == 3 && p.source_width_px == 3);
    sw_picture_free(&p);
    sw_picture_free(&p);
    assert_int_equal(sw_picture_make(0, 2, (sw_rgb8){ 1, 2, 3 }, &p, &note), SW_BAD_LENGTH);
    note = (sw_note){ 0 };
    assert_int_equal(sw_picture_make(SIZE_MAX / 2, 4, (sw_rgb8){ 1, 2, 3 }, &p, &note), SW_NO_MEMORY);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_rgb_png_comes_back_as_it_was),
        cmocka_unit_test(a_half_clear_edge_looks_as_viewers_show_it),
        cmocka_unit_test(a_picture_with_nothing_in_it_says_so),
        cmocka_unit_test(opaque_alpha_is_no_alpha),
        cmocka_unit_test(gamma_is_obeyed_for_grey_and_colour),
        cmocka_unit_test(a_wide_profile_is_converted),
        cmocka_unit_test(wide_primaries_without_a_profile_are_converted),
        cmocka_unit_test(any_number_of_threads_reads_the_same_bytes),
        cmocka_unit_test(a_broken_profile_is_ignored),
        cmocka_unit_test(an_srgb_profile_changes_nothing),
        cmocka_unit_test(density_and_orientation_of_a_png),
        cmocka_unit_test(what_is_no_picture_is_refused_in_one_line),
        cmocka_unit_test(every_beginning_of_a_png_is_refused),
        cmocka_unit_test(every_damaged_byte_is_survived),
        cmocka_unit_test(lying_headers_cost_no_memory),
        cmocka_unit_test(the_callers_limits_are_kept),
        cmocka_unit_test(the_narrowest_pictures_are_read),
        cmocka_unit_test(a_file_and_standard_input_are_read),
        cmocka_unit_test(an_interrupt_stops_the_reading),
        cmocka_unit_test(every_failed_allocation_of_a_png_is_clean),
        cmocka_unit_test(free_takes_anything),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
