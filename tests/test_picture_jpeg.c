/* Reading pictures: JPEG, its colour forms, Exif, profiles in parts, decoding at a fraction. */
#include "picture_files.h"
#include "picture/raster.h"
#include <math.h>

static const sw_picture_opts on_white = { .ground = { 255, 255, 255 } };
static file f; /* large: not on the stack */

#define W 24
#define H 16

static sw_picture read_ok(const sw_picture_opts *opts)
{
    sw_picture picture = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_picture_read_memory(f.bytes, f.n, "x.jpg", opts, &picture, &note), note);
    return picture;
}

static void assert_near(sw_rgb8 got, sw_rgb8 wanted, int tolerance)
{
    if (abs(got.r - wanted.r) > tolerance || abs(got.g - wanted.g) > tolerance || abs(got.b - wanted.b) > tolerance)
        fail_msg("%d %d %d, should be %d %d %d", got.r, got.g, got.b, wanted.r, wanted.g, wanted.b);
}

/* One colour all over: what the codec loses is then under two steps. */
static void make_flat(const jpeg_wish *wish, const uint8_t *colour)
{
    static uint8_t samples[W * H * 4];
    const size_t n = wish->in == JCS_GRAYSCALE ? 1 : wish->in == JCS_CMYK ? 4 : 3;
    for (size_t i = 0; i < W * H * n; i++) samples[i] = colour[i % n];
    jpeg_make(wish, W, H, samples, &f);
}

static void every_colour_form_is_read(void **state)
{
    (void)state;
    static const struct {
        jpeg_wish wish;
        uint8_t colour[4];
        sw_rgb8 wanted;
    } form[] = { { { .in = JCS_GRAYSCALE, .stored = JCS_GRAYSCALE }, { 90 }, { 90, 90, 90 } },
                 { { .in = JCS_RGB, .stored = JCS_YCbCr }, { 200, 100, 50 }, { 200, 100, 50 } },
                 { { .in = JCS_RGB, .stored = JCS_YCbCr, .is_progressive = true }, { 10, 20, 200 }, { 10, 20, 200 } },
                 { { .in = JCS_RGB, .stored = JCS_RGB }, { 200, 100, 50 }, { 200, 100, 50 } },
                 /* Adobe's way round, which libjpeg marks: 255 is no ink. 200 * 255 / 255, 100 * 128 / 255 ... */
                 { { .in = JCS_CMYK, .stored = JCS_CMYK }, { 200, 100, 50, 255 }, { 200, 100, 50 } },
                 { { .in = JCS_CMYK, .stored = JCS_CMYK }, { 200, 100, 50, 128 }, { 100, 50, 25 } },
                 { { .in = JCS_CMYK, .stored = JCS_YCCK }, { 200, 100, 50, 255 }, { 200, 100, 50 } },
                 { { .in = JCS_CMYK, .stored = JCS_YCCK }, { 255, 255, 255, 60 }, { 60, 60, 60 } } };
    for (size_t i = 0; i < SW_ARRAY_LEN(form); i++) {
        make_flat(&form[i].wish, form[i].colour);
        sw_picture p = read_ok(&on_white);
        assert_int_equal(p.width_px, W);
        assert_int_equal(p.height_px, H);
        assert_false(p.has_alpha || p.is_all_clear);
        assert_near(p.at[0], form[i].wanted, 2);
        assert_near(p.at[W * H - 1], form[i].wanted, 2);
        sw_picture_free(&p);
    }
}

/* Without Adobe's marker 0 is no ink. */
static void plain_cmyk_is_ink(void **state)
{
    (void)state;
    make_flat(&(jpeg_wish){ .in = JCS_CMYK, .stored = JCS_CMYK }, (const uint8_t[]){ 55, 155, 205, 0 });
    for (size_t i = 0; i + 6 < f.n; i++) { /* APP14 "Adobe" becomes APP13, which nobody reads */
        if (f.bytes[i] == 0xff && f.bytes[i + 1] == 0xee) f.bytes[i + 1] = 0xed;
    }
    sw_picture p = read_ok(&on_white);
    assert_near(p.at[5], (sw_rgb8){ 200, 100, 50 }, 2);
    sw_picture_free(&p);
}

/* Four quarters of a picture: A B over C D, each its own grey, so that every orientation looks different. */
static void make_quarters(int orientation, uint8_t tiff[26])
{
    static uint8_t samples[W * H];
    static const uint8_t grey[4] = { 20, 90, 160, 230 };
    for (size_t y = 0; y < H; y++) {
        for (size_t x = 0; x < W; x++) samples[y * W + x] = grey[(y >= H / 2) * 2 + (x >= W / 2)];
    }
    exif_make(orientation, tiff);
    jpeg_make(&(jpeg_wish){ .in = JCS_GRAYSCALE, .stored = JCS_GRAYSCALE, .density_unit = 2, .x_density = 100,
                            .y_density = 50, .exif = tiff, .n_exif = 26 },
              W, H, samples, &f);
}

/* CIPA DC-008-2019, 4.6.5.1.6: where row 0 and column 0 of the file are to be seen. */
static void all_eight_orientations_come_upright(void **state)
{
    (void)state;
    /* what stands at the top left, top right, bottom left, bottom right once upright */
    static const char *const upright[9] = { NULL, "ABCD", "BADC", "DCBA", "CDAB", "ACBD", "CADB", "DBCA", "BDAC" };
    static const uint8_t grey[4] = { 20, 90, 160, 230 };
    uint8_t tiff[26];
    for (int orientation = 1; orientation <= 8; orientation++) {
        make_quarters(orientation, tiff);
        sw_picture p = read_ok(&on_white);
        sw_picture_info info = { 0 };
        assert_int_equal(sw_picture_probe_memory(f.bytes, f.n, "x.jpg", NULL, &info, NULL), SW_OK);
        const bool is_tall = orientation >= 5;
        assert_int_equal(p.width_px, is_tall ? H : W);
        assert_int_equal(p.height_px, is_tall ? W : H);
        assert_int_equal(p.source_width_px, p.width_px);
        assert_int_equal(info.width_px, p.width_px);
        assert_int_equal(info.height_px, p.height_px);
        assert_true(p.x_px_per_mm == (is_tall ? 5.0 : 10.0) && p.y_px_per_mm == (is_tall ? 10.0 : 5.0));
        assert_true(info.x_px_per_mm == p.x_px_per_mm && info.y_px_per_mm == p.y_px_per_mm);
        for (size_t y = 0; y < p.height_px; y++) {
            for (size_t x = 0; x < p.width_px; x++) {
                const size_t quarter = (y >= p.height_px / 2) * 2u + (x >= p.width_px / 2);
                const uint8_t wanted = grey[upright[orientation][quarter] - 'A'];
                if (abs(p.at[y * p.width_px + x].r - wanted) > 3)
                    fail_msg("orientation %d at %zu, %zu: %d, should be %d", orientation, x, y,
                             p.at[y * p.width_px + x].r, wanted);
            }
        }
        sw_picture_free(&p);
    }
}

static void exif_that_makes_no_sense_is_upright(void **state)
{
    (void)state;
    uint8_t tiff[26];
    static const int odd[] = { 0, 9, 255 };
    for (size_t i = 0; i < 3; i++) {
        exif_make(odd[i], tiff);
        assert_int_equal(sw_exif_parse(tiff, 26).orientation, 1);
    }
    exif_make(6, tiff);
    assert_int_equal(sw_exif_parse(tiff, 26).orientation, 6);
    for (size_t n = 0; n < 22; n++) { /* exact blocks, so that a read past the end is seen by the sanitizer */
        uint8_t *const exact = n == 0 ? NULL : sw_alloc_raw(n, 1);
        if (n > 0) memcpy(exact, tiff, n);
        assert_int_equal(sw_exif_parse(exact, n).orientation, 1);
        sw_free(exact);
    }
    tiff[4] = 0xff; /* directory beyond the end, and at the last byte there is */
    tiff[7] = 0xff;
    assert_int_equal(sw_exif_parse(tiff, 26).orientation, 1);
    exif_make(6, tiff);
    tiff[4] = 25;
    assert_int_equal(sw_exif_parse(tiff, 26).orientation, 1);
    exif_make(6, tiff);
    tiff[8] = tiff[9] = 0xff; /* 65535 entries promised, one there */
    assert_int_equal(sw_exif_parse(tiff, 26).orientation, 6);
}

static void exif_of_either_byte_order_gives_the_density(void **state)
{
    (void)state;
    /* orientation 3; 300 / 1 and 600 / 2 px a cm; motor order */
    static const uint8_t big[] = { 'M', 'M', 0, 42, 0, 0, 0, 8, 0, 4,                    /* 4 entries */
                                   0x01, 0x12, 0, 3, 0, 0, 0, 1, 0, 3, 0, 0,             /* orientation */
                                   0x01, 0x1a, 0, 5, 0, 0, 0, 1, 0, 0, 0, 62,            /* x resolution at 62 */
                                   0x01, 0x1b, 0, 5, 0, 0, 0, 1, 0, 0, 0, 70,            /* y resolution at 70 */
                                   0x01, 0x28, 0, 3, 0, 0, 0, 1, 0, 3, 0, 0, 0, 0, 0, 0, /* cm; no next directory */
                                   0, 0, 1, 44, 0, 0, 0, 1, 0, 0, 2, 88, 0, 0, 0, 2 };
    const sw_exif exif = sw_exif_parse(big, sizeof big);
    assert_int_equal(exif.orientation, 3);
    assert_true(exif.x_px_per_mm == 30.0 && exif.y_px_per_mm == 30.0);
    const sw_exif cut = sw_exif_parse(big, sizeof big - 4);
    assert_true(cut.x_px_per_mm == 30.0 && cut.y_px_per_mm == 0.0); /* its denominator is gone */
    make_flat(&(jpeg_wish){ .in = JCS_GRAYSCALE, .stored = JCS_GRAYSCALE, .exif = big, .n_exif = sizeof big },
              (const uint8_t[]){ 100 });
    sw_picture p = read_ok(&on_white); /* JFIF says nothing here */
    assert_true(p.x_px_per_mm == 30.0 && p.y_px_per_mm == 30.0);
    sw_picture_free(&p);
}

static void jfif_density_goes_before_exif(void **state)
{
    (void)state;
    make_flat(&(jpeg_wish){ .in = JCS_GRAYSCALE, .stored = JCS_GRAYSCALE, .density_unit = 1, .x_density = 254,
                            .y_density = 508 },
              (const uint8_t[]){ 100 });
    sw_picture p = read_ok(&on_white);
    assert_true(fabs(p.x_px_per_mm - 10.0) < 1e-12 && fabs(p.y_px_per_mm - 20.0) < 1e-12);
    sw_picture_free(&p);
    make_flat(&(jpeg_wish){ .in = JCS_GRAYSCALE, .stored = JCS_GRAYSCALE, .density_unit = 1, .x_density = 1,
                            .y_density = 1 },
              (const uint8_t[]){ 100 });
    p = read_ok(&on_white); /* nobody means 25 mm a pixel */
    assert_true(p.x_px_per_mm == 0.0 && p.y_px_per_mm == 0.0);
    sw_picture_free(&p);
    /* 600 px an inch in Exif */
    static const uint8_t tiff[] = { 'M', 'M', 0, 42, 0, 0, 0, 8, 0, 2, 0x01, 0x1a, 0, 5, 0, 0, 0, 1, 0, 0, 0, 38,
                                    0x01, 0x1b, 0, 5, 0, 0, 0, 1, 0, 0, 0, 38, 0, 0, 0, 0, 0, 0, 2, 88, 0, 0, 0, 1 };
    make_flat(&(jpeg_wish){ .in = JCS_GRAYSCALE, .stored = JCS_GRAYSCALE, .density_unit = 1, .x_density = 1,
                            .y_density = 1, .exif = tiff, .n_exif = sizeof tiff },
              (const uint8_t[]){ 100 });
    p = read_ok(&on_white); /* nonsense in JFIF hides nothing */
    assert_true(fabs(p.x_px_per_mm - 600.0 / 25.4) < 1e-9 && fabs(p.y_px_per_mm - 600.0 / 25.4) < 1e-9);
    sw_picture_free(&p);
}

static void a_profile_in_parts_is_joined(void **state)
{
    (void)state;
    static uint8_t icc[4096];
    const size_t n_icc = wide_profile_make(icc, sizeof icc);
    const uint8_t colour[] = { 200, 100, 50 };
    static const size_t parts[] = { 0, 100, 7 }; /* bytes a marker: one, some, many */
    for (size_t i = 0; i < 3; i++) {
        make_flat(&(jpeg_wish){ .in = JCS_RGB, .stored = JCS_RGB, .icc = icc, .n_icc = n_icc, .icc_part = parts[i] },
                  colour);
        sw_picture p = read_ok(&on_white);
        assert_near(p.at[0], (sw_rgb8){ 227, 100, 42 }, 1); /* see a_wide_profile_is_converted */
        sw_picture_free(&p);
    }
}

static void a_profile_with_a_part_missing_is_ignored(void **state)
{
    (void)state;
    static uint8_t icc[4096];
    const size_t n_icc = wide_profile_make(icc, sizeof icc);
    make_flat(&(jpeg_wish){ .in = JCS_RGB, .stored = JCS_RGB, .icc = icc, .n_icc = n_icc, .icc_part = 200 },
              (const uint8_t[]){ 200, 100, 50 });
    for (size_t i = 0; i + 16 < f.n; i++) {
        if (memcmp(f.bytes + i, "ICC_PROFILE\0\2", 13) == 0) f.bytes[i + 12] = 1; /* two first parts, no second */
    }
    sw_picture p = read_ok(&on_white);
    assert_near(p.at[0], (sw_rgb8){ 200, 100, 50 }, 1);
    sw_picture_free(&p);
}

static void a_profile_of_another_kind_is_ignored(void **state)
{
    (void)state;
    static uint8_t icc[4096];
    const size_t n_icc = wide_profile_make(icc, sizeof icc);
    make_flat(&(jpeg_wish){ .in = JCS_GRAYSCALE, .stored = JCS_GRAYSCALE, .icc = icc, .n_icc = n_icc },
              (const uint8_t[]){ 90 });
    sw_picture p = read_ok(&on_white);
    assert_int_equal(p.at[0].r, 90);
    sw_picture_free(&p);
}

/* ---- decoding at a fraction ----------------------------------------------------------------------- */

static void a_large_jpeg_is_decoded_no_larger_than_needed(void **state)
{
    (void)state;
    static uint8_t samples[203 * 101];
    for (size_t i = 0; i < sizeof samples; i++) samples[i] = (uint8_t)(i % 203 * 255 / 202); /* a ramp along x */
    jpeg_make(&(jpeg_wish){ .in = JCS_GRAYSCALE, .stored = JCS_GRAYSCALE }, 203, 101, samples, &f);
    static const struct {
        size_t enough_width, enough_height, width, height;
    } asked[] = { { 0, 0, 203, 101 },  { 204, 0, 203, 101 },  { 102, 50, 203, 101 }, { 101, 50, 102, 51 },
                  { 50, 25, 51, 26 },  { 25, 12, 26, 13 },    { 1, 1, 26, 13 },      { 25, 13, 51, 26 },
                  { 0, 12, 203, 101 }, { 400, 400, 203, 101 } };
    for (size_t i = 0; i < SW_ARRAY_LEN(asked); i++) {
        sw_picture p = read_ok(&(sw_picture_opts){ .enough_width_px = asked[i].enough_width,
                                                   .enough_height_px = asked[i].enough_height });
        if (p.width_px != asked[i].width || p.height_px != asked[i].height)
            fail_msg("case %zu: %zu x %zu", i, p.width_px, p.height_px);
        assert_int_equal(p.source_width_px, 203);
        assert_int_equal(p.source_height_px, 101);
        const double wanted = ((double)(p.width_px / 2) + 0.5) * 203.0 / (double)p.width_px * 255.0 / 202.0;
        assert_true(fabs(p.at[p.width_px / 2].r - wanted) < 4.0);
        sw_picture_free(&p);
    }
}

static void a_fraction_is_chosen_for_the_upright_sides(void **state)
{
    (void)state;
    uint8_t tiff[26];
    make_quarters(6, tiff); /* 24 x 16 in the file, 16 x 24 upright */
    sw_picture p = read_ok(&(sw_picture_opts){ .enough_width_px = 8, .enough_height_px = 12 });
    assert_int_equal(p.width_px, 8);
    assert_int_equal(p.height_px, 12);
    assert_int_equal(p.source_width_px, 16);
    assert_int_equal(p.source_height_px, 24);
    sw_picture_free(&p);
    p = read_ok(&(sw_picture_opts){ .enough_width_px = 12, .enough_height_px = 8 });
    assert_int_equal(p.width_px, 16);
    sw_picture_free(&p);
}

/* ---- bad files ------------------------------------------------------------------------------------ */

static void every_beginning_of_a_jpeg_is_refused(void **state)
{
    (void)state;
    static uint8_t samples[W * H * 3];
    for (size_t i = 0; i < sizeof samples; i++) samples[i] = (uint8_t)(i * i);
    for (int is_progressive = 0; is_progressive < 2; is_progressive++) {
        jpeg_make(&(jpeg_wish){ .in = JCS_RGB, .stored = JCS_YCbCr, .is_progressive = is_progressive != 0 }, W, H,
                  samples, &f);
        for (size_t n = 3; n < f.n; n++) {
            sw_picture p = { 0 };
            sw_note note = { 0 };
            assert_int_equal(sw_picture_read_memory(f.bytes, n, "x.jpg", &on_white, &p, &note), SW_BAD_FILE);
            assert_null(p.at);
            assert_non_null(strstr(note.text, "'x.jpg' is cut short"));
        }
    }
}

/* The end marker set into the middle, as by a program that mends broken downloads. */
static void lost_scan_data_is_refused(void **state)
{
    (void)state;
    static uint8_t samples[W * H * 3];
    for (size_t i = 0; i < sizeof samples; i++) samples[i] = (uint8_t)(i * i);
    jpeg_make(&(jpeg_wish){ .in = JCS_RGB, .stored = JCS_YCbCr }, W, H, samples, &f);
    memcpy(f.bytes + f.n - 200, "\xff\xd9", 2);
    sw_picture p = { 0 };
    sw_note note = { 0 };
    assert_int_equal(sw_picture_read_memory(f.bytes, f.n, "x.jpg", &on_white, &p, &note), SW_BAD_FILE);
    assert_non_null(strstr(note.text, "damaged"));
}

/* A progressive file whose first scan comes 600 times: each would cost a pass over the whole picture. */
static void endless_scans_are_refused(void **state)
{
    (void)state;
    static file g;
    make_flat(&(jpeg_wish){ .in = JCS_GRAYSCALE, .stored = JCS_GRAYSCALE, .is_progressive = true },
              (const uint8_t[]){ 77 });
    size_t begin = 0, end = 0; /* of the first scan: its marker, and the next marker after its data */
    for (size_t i = 2; i + 1 < f.n && end == 0; i++) {
        if (f.bytes[i] != 0xff || f.bytes[i + 1] == 0) continue;
        if (begin != 0) end = i;
        else if (f.bytes[i + 1] == 0xda) begin = i;
    }
    g.n = 0;
    file_add(&g, f.bytes, begin);
    for (int i = 0; i < 600; i++) file_add(&g, f.bytes + begin, end - begin);
    file_add(&g, f.bytes + begin, f.n - begin);
    sw_picture p = { 0 };
    sw_note note = { 0 };
    assert_int_equal(sw_picture_read_memory(g.bytes, g.n, "x.jpg", &on_white, &p, &note), SW_BAD_FILE);
    assert_non_null(strstr(note.text, "more scans"));
}

static void what_follows_the_end_does_not_matter(void **state)
{
    (void)state;
    make_flat(&(jpeg_wish){ .in = JCS_GRAYSCALE, .stored = JCS_GRAYSCALE }, (const uint8_t[]){ 77 });
    file_add(&f, "\0\0rubbish\xff\xd8\xff", 12);
    sw_picture p = read_ok(&on_white);
    assert_int_equal(p.at[3].r, 77);
    sw_picture_free(&p);
}

static void every_damaged_byte_is_survived(void **state)
{
    (void)state;
    uint8_t tiff[26];
    make_quarters(5, tiff);
    static file damaged;
    for (size_t at = 2; at < f.n; at++) {
        for (unsigned bit = 0; bit < 8; bit++) {
            damaged = f;
            damaged.bytes[at] ^= (uint8_t)(1u << bit);
            sw_picture p = { 0 };
            sw_note note = { 0 };
            const sw_picture_opts small = { .max_px = 1u << 20 };
            const sw_status st = sw_picture_read_memory(damaged.bytes, damaged.n, "x.jpg", &small, &p, &note);
            assert_true(st == SW_OK || ((st == SW_BAD_FILE || st == SW_TOO_LARGE) && note.text[0] != '\0'));
            sw_picture_free(&p);
        }
    }
}

static void claim_size(unsigned width, unsigned height)
{
    make_flat(&(jpeg_wish){ .in = JCS_GRAYSCALE, .stored = JCS_GRAYSCALE }, (const uint8_t[]){ 77 });
    for (size_t i = 0; i + 9 < f.n; i++) {
        if (f.bytes[i] != 0xff || f.bytes[i + 1] != 0xc0) continue;
        f.bytes[i + 5] = (uint8_t)(height >> 8);
        f.bytes[i + 6] = (uint8_t)height;
        f.bytes[i + 7] = (uint8_t)(width >> 8);
        f.bytes[i + 8] = (uint8_t)width;
    }
}

static void lying_headers_cost_no_memory(void **state)
{
    (void)state;
    static const struct {
        unsigned width, height;
        sw_status wanted;
    } claim[] = { { 65500, 65500, SW_TOO_LARGE }, { 0, 10, SW_BAD_FILE }, { 10, 0, SW_BAD_FILE },
                  { 20000, 20000, SW_BAD_FILE } };
    for (size_t i = 0; i < SW_ARRAY_LEN(claim); i++) {
        claim_size(claim[i].width, claim[i].height);
        sw_alloc_fail_at(0);
        sw_picture p = { 0 };
        sw_note note = { 0 };
        assert_int_equal(sw_picture_read_memory(f.bytes, f.n, "x.jpg", &on_white, &p, &note), claim[i].wanted);
        assert_non_null(strstr(note.text, "'x.jpg'"));
        assert_int_equal(sw_alloc_count(), 0);
    }
}

static void every_failed_allocation_of_a_jpeg_is_clean(void **state)
{
    (void)state;
    static uint8_t icc[4096];
    const size_t n_icc = wide_profile_make(icc, sizeof icc);
    uint8_t tiff[26];
    exif_make(7, tiff);
    make_flat(&(jpeg_wish){ .in = JCS_RGB, .stored = JCS_YCbCr, .icc = icc, .n_icc = n_icc, .exif = tiff,
                            .n_exif = 26 },
              (const uint8_t[]){ 200, 100, 50 });
    size_t n = 1;
    for (;; n++) {
        const size_t live = sw_alloc_fail_at(n);
        sw_picture p = { 0 };
        sw_note note = { 0 };
        const sw_status st = sw_picture_read_memory(f.bytes, f.n, "x.jpg", &on_white, &p, &note);
        sw_picture_free(&p);
        assert_int_equal(sw_alloc_fail_at(0), live);
        if (st == SW_OK) break;
        assert_int_equal(st, SW_NO_MEMORY);
        assert_true(note.text[0] != '\0' && n < 10000);
    }
    assert_true(n > 40);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_colour_form_is_read),
        cmocka_unit_test(plain_cmyk_is_ink),
        cmocka_unit_test(all_eight_orientations_come_upright),
        cmocka_unit_test(exif_that_makes_no_sense_is_upright),
        cmocka_unit_test(exif_of_either_byte_order_gives_the_density),
        cmocka_unit_test(jfif_density_goes_before_exif),
        cmocka_unit_test(a_profile_in_parts_is_joined),
        cmocka_unit_test(a_profile_with_a_part_missing_is_ignored),
        cmocka_unit_test(a_profile_of_another_kind_is_ignored),
        cmocka_unit_test(a_large_jpeg_is_decoded_no_larger_than_needed),
        cmocka_unit_test(a_fraction_is_chosen_for_the_upright_sides),
        cmocka_unit_test(every_beginning_of_a_jpeg_is_refused),
        cmocka_unit_test(lost_scan_data_is_refused),
        cmocka_unit_test(endless_scans_are_refused),
        cmocka_unit_test(what_follows_the_end_does_not_matter),
        cmocka_unit_test(every_damaged_byte_is_survived),
        cmocka_unit_test(lying_headers_cost_no_memory),
        cmocka_unit_test(every_failed_allocation_of_a_jpeg_is_clean),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
