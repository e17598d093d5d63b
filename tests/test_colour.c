/* Colour spaces against published values. */
#include "support.h"
#include "picture/raster.h"
#include "picture/srgb_table.h"
#include <math.h>

/* Table 1 of Sharma, Wu and Dalal, "The CIEDE2000 color-difference formula: implementation notes, supplementary test
 * data, and mathematical observations", Color Research and Application 30 (2005) 21-30: all 34 pairs. */
static void ciede2000_gives_the_34_published_differences(void **state)
{
    (void)state;
    static const struct {
        sw_lab one, two;
        double difference;
    } pair[] = {
        { { 50.0, 2.6772, -79.7751 }, { 50.0, 0.0, -82.7485 }, 2.0425 },
        { { 50.0, 3.1571, -77.2803 }, { 50.0, 0.0, -82.7485 }, 2.8615 },
        { { 50.0, 2.8361, -74.02 }, { 50.0, 0.0, -82.7485 }, 3.4412 },
        { { 50.0, -1.3802, -84.2814 }, { 50.0, 0.0, -82.7485 }, 1.0 },
        { { 50.0, -1.1848, -84.8006 }, { 50.0, 0.0, -82.7485 }, 1.0 },
        { { 50.0, -0.9009, -85.5211 }, { 50.0, 0.0, -82.7485 }, 1.0 },
        { { 50.0, 0.0, 0.0 }, { 50.0, -1.0, 2.0 }, 2.3669 },
        { { 50.0, -1.0, 2.0 }, { 50.0, 0.0, 0.0 }, 2.3669 },
        { { 50.0, 2.49, -0.001 }, { 50.0, -2.49, 0.0009 }, 7.1792 },
        { { 50.0, 2.49, -0.001 }, { 50.0, -2.49, 0.001 }, 7.1792 },
        { { 50.0, 2.49, -0.001 }, { 50.0, -2.49, 0.0011 }, 7.2195 },
        { { 50.0, 2.49, -0.001 }, { 50.0, -2.49, 0.0012 }, 7.2195 },
        { { 50.0, -0.001, 2.49 }, { 50.0, 0.0009, -2.49 }, 4.8045 },
        { { 50.0, -0.001, 2.49 }, { 50.0, 0.001, -2.49 }, 4.8045 },
        { { 50.0, -0.001, 2.49 }, { 50.0, 0.0011, -2.49 }, 4.7461 },
        { { 50.0, 2.5, 0.0 }, { 50.0, 0.0, -2.5 }, 4.3065 },
        { { 50.0, 2.5, 0.0 }, { 73.0, 25.0, -18.0 }, 27.1492 },
        { { 50.0, 2.5, 0.0 }, { 61.0, -5.0, 29.0 }, 22.8977 },
        { { 50.0, 2.5, 0.0 }, { 56.0, -27.0, -3.0 }, 31.903 },
        { { 50.0, 2.5, 0.0 }, { 58.0, 24.0, 15.0 }, 19.4535 },
        { { 50.0, 2.5, 0.0 }, { 50.0, 3.1736, 0.5854 }, 1.0 },
        { { 50.0, 2.5, 0.0 }, { 50.0, 3.2972, 0.0 }, 1.0 },
        { { 50.0, 2.5, 0.0 }, { 50.0, 1.8634, 0.5757 }, 1.0 },
        { { 50.0, 2.5, 0.0 }, { 50.0, 3.2592, 0.335 }, 1.0 },
        { { 60.2574, -34.0099, 36.2677 }, { 60.4626, -34.1751, 39.4387 }, 1.2644 },
        { { 63.0109, -31.0961, -5.8663 }, { 62.8187, -29.7946, -4.0864 }, 1.263 },
        { { 61.2901, 3.7196, -5.3901 }, { 61.4292, 2.248, -4.962 }, 1.8731 },
        { { 35.0831, -44.1164, 3.7933 }, { 35.0232, -40.0716, 1.5901 }, 1.8645 },
        { { 22.7233, 20.0904, -46.694 }, { 23.0331, 14.973, -42.5619 }, 2.0373 },
        { { 36.4612, 47.858, 18.3852 }, { 36.2715, 50.5065, 21.2231 }, 1.4146 },
        { { 90.8027, -2.0831, 1.441 }, { 91.1528, -1.6435, 0.0447 }, 1.4441 },
        { { 90.9257, -0.5406, -0.9208 }, { 88.6381, -0.8985, -0.7239 }, 1.5381 },
        { { 6.7747, -0.2908, -2.4247 }, { 5.8714, -0.0985, -2.2286 }, 0.6377 },
        { { 2.0776, 0.0795, -1.135 }, { 0.9033, -0.0636, -0.5514 }, 0.9082 },
    };
    assert_int_equal(SW_ARRAY_LEN(pair), 34);
    for (size_t i = 0; i < SW_ARRAY_LEN(pair); i++) {
        const double there = sw_ciede2000(pair[i].one, pair[i].two), back = sw_ciede2000(pair[i].two, pair[i].one);
        if (!(fabs(there - pair[i].difference) <= 0.5e-4 + 1e-9))
            fail_msg("pair %zu: %.6f, published %.4f", i + 1, there, pair[i].difference);
        assert_true(fabs(there - back) < 1e-9);
    }
}

/* IEC 61966-2-1:1999, 5.2: the curve's two branches and where they meet; the 18 % grey value is worked by hand. */
static void the_srgb_curve_is_the_standards(void **state)
{
    (void)state;
    static const struct {
        double encoded, linear;
    } worked[] = { { 0.0, 0.0 },
                   { 1.0, 1.0 },
                   { 0.04045, 0.04045 / 12.92 },
                   { 0.02, 0.02 / 12.92 },
                   { 0.5, 0.2140411404822325 },   /* ((0.5 + 0.055) / 1.055) ^ 2.4 */
                   { 0.4613561295004422, 0.18 } }; /* 1.055 * 0.18 ^ (1 / 2.4) - 0.055 */
    for (size_t i = 0; i < SW_ARRAY_LEN(worked); i++) {
        assert_true(fabs(sw_linear_from_srgb(worked[i].encoded) - worked[i].linear) < 1e-12);
        assert_true(fabs(sw_srgb_from_linear(worked[i].linear) - worked[i].encoded) < 1e-6);
    }
    /* the standard's rounded constants leave a step of under 3e-8 where the branches meet */
    assert_true(fabs(sw_linear_from_srgb(nextafter(0.04045, 1.0)) - 0.04045 / 12.92) < 3e-8);
}

static void the_tables_are_the_curve(void **state)
{
    (void)state;
    for (int i = 0; i < 256; i++) {
        const float exact = (float)sw_linear_from_srgb(i / 255.0);
        assert_true(sw_linear_from_srgb8((uint8_t)i) == exact);
        assert_int_equal(sw_srgb8_from_linear(exact), i);
    }
    for (int i = 0; i < 255; i++) { /* each border is the first float that rounds up */
        const float border = SW_SRGB_NEXT[i];
        assert_true(255.0 * sw_srgb_from_linear(border) >= i + 0.5);
        assert_true(255.0 * sw_srgb_from_linear(nextafterf(border, 0.0f)) < i + 0.5);
        assert_int_equal(sw_srgb8_from_linear(border), i + 1);
        assert_int_equal(sw_srgb8_from_linear(nextafterf(border, 0.0f)), i);
    }
}

static void light_out_of_range_is_clamped(void **state)
{
    (void)state;
    assert_int_equal(sw_srgb8_from_linear(NAN), 0);
    assert_int_equal(sw_srgb8_from_linear(-INFINITY), 0);
    assert_int_equal(sw_srgb8_from_linear(-1e-9f), 0);
    assert_int_equal(sw_srgb8_from_linear(INFINITY), 255);
    assert_int_equal(sw_srgb8_from_linear(1.0000001f), 255);
}

static void assert_oklab_near(sw_oklab got, double L, double a, double b, double tolerance)
{
    if (!(fabs(got.L - L) <= tolerance && fabs(got.a - a) <= tolerance && fabs(got.b - b) <= tolerance))
        fail_msg("%.5f %.5f %.5f, should be %.5f %.5f %.5f", (double)got.L, (double)got.a, (double)got.b, L, a, b);
}

/* Ottosson, "A perceptual color space for image processing" (2020), table of XYZ and OKLab pairs, three decimals.
 * XYZ becomes linear sRGB by the inverse of the matrix of IEC 61966-2-1. */
static void oklab_gives_the_published_pairs(void **state)
{
    (void)state;
    static const struct {
        double x, y, z, L, a, b;
    } pair[] = { { 0.950, 1.000, 1.089, 1.000, 0.000, 0.000 },
                 { 1.000, 0.000, 0.000, 0.450, 1.236, -0.019 },
                 { 0.000, 1.000, 0.000, 0.922, -0.671, 0.263 },
                 { 0.000, 0.000, 1.000, 0.153, -1.415, -0.449 } };
    for (size_t i = 0; i < SW_ARRAY_LEN(pair); i++) {
        const double x = pair[i].x, y = pair[i].y, z = pair[i].z;
        const double r = 3.2404542 * x - 1.5371385 * y - 0.4985314 * z;
        const double g = -0.9692660 * x + 1.8760108 * y + 0.0415560 * z;
        const double b = 0.0556434 * x - 0.2040259 * y + 1.0572252 * z;
        /* half a unit of the third decimal, and what the two roundings of the matrices make of a cube root near 0 */
        assert_oklab_near(sw_oklab_from_linear((float)r, (float)g, (float)b), pair[i].L, pair[i].a, pair[i].b, 0.002);
    }
}

/* Unlike fmax this does not swallow NaN. */
static double larger(double a, double b) { return b <= a ? a : b; }

/* The same formula in double with the library's cbrt, over a lattice of colours: bounds the fast cube root. */
static void fast_oklab_is_within_a_millionth(void **state)
{
    (void)state;
    double worst = 0.0;
    for (unsigned i = 0; i < 52 * 52 * 52; i++) {
        const sw_rgb8 c = { (uint8_t)(i % 52 * 5), (uint8_t)(i / 52 % 52 * 5), (uint8_t)(i / 2704 * 5) };
        const double r = sw_linear_from_srgb(c.r / 255.0), g = sw_linear_from_srgb(c.g / 255.0);
        const double b = sw_linear_from_srgb(c.b / 255.0);
        const double l = cbrt(0.4122214708 * r + 0.5363325363 * g + 0.0514459929 * b);
        const double m = cbrt(0.2119034982 * r + 0.6806995451 * g + 0.1073969566 * b);
        const double s = cbrt(0.0883024619 * r + 0.2817188376 * g + 0.6299787005 * b);
        const sw_oklab got = sw_oklab_from_rgb8(c);
        worst = larger(worst, fabs(got.L - (0.2104542553 * l + 0.7936177850 * m - 0.0040720468 * s)));
        worst = larger(worst, fabs(got.a - (1.9779984951 * l - 2.4285922050 * m + 0.4505937099 * s)));
        worst = larger(worst, fabs(got.b - (0.0259040371 * l + 0.7827717662 * m - 0.8086757660 * s)));
    }
    if (!(worst < 1e-6)) fail_msg("worst error %g", worst);
}

static void oklab_and_back_is_the_same_colour(void **state)
{
    (void)state;
    for (unsigned i = 0; i < 1u << 24; i += 61) { /* 61 divides no power of two: all values of all channels occur */
        const sw_rgb8 c = { (uint8_t)i, (uint8_t)(i >> 8), (uint8_t)(i >> 16) };
        const sw_rgb8 back = sw_rgb8_from_oklab(sw_oklab_from_rgb8(c));
        assert_memory_equal(&back, &c, sizeof c);
    }
    const sw_rgb8 hot = sw_rgb8_from_oklab((sw_oklab){ 0.7f, 0.5f, -0.4f });
    assert_int_equal(hot.r, 255);
    assert_int_equal(hot.g, 0);
    const sw_rgb8 no_number = sw_rgb8_from_oklab((sw_oklab){ NAN, 0.0f, 0.0f });
    assert_int_equal(no_number.r, 0);
}

static void a_row_is_its_colours_one_by_one(void **state)
{
    (void)state;
    uint64_t seed = 7;
    sw_rgb8 in[67];
    float out[3][67];
    for (size_t i = 0; i < 67; i++) {
        const uint64_t v = test_random(&seed);
        in[i] = (sw_rgb8){ (uint8_t)v, (uint8_t)(v >> 8), (uint8_t)(v >> 16) };
    }
    for (size_t n = 0; n <= 67; n++) {
        memset(out, 0x55, sizeof out);
        sw_oklab_from_rgb8_row(in, n, out[0], out[1], out[2]);
        for (size_t i = 0; i < n; i++) {
            const sw_oklab one = sw_oklab_from_rgb8(in[i]), row = { out[0][i], out[1][i], out[2][i] };
            assert_memory_equal(&row, &one, sizeof one);
        }
        for (size_t k = 0; k < 3 && n < 67; k++) /* nothing past the end */
            assert_int_equal(((const unsigned char *)&out[k][n])[0], 0x55);
    }
}

/* White and grey by definition; the primaries as scikit-image 0.19.3 rgb2lab gives them (D65, 2 degrees), whose matrix
 * is rounded one decimal shorter. */
static void lab_of_known_colours(void **state)
{
    (void)state;
    static const struct {
        sw_rgb8 colour;
        sw_lab lab;
    } known[] = { { { 255, 255, 255 }, { 100.0, 0.0, 0.0 } },
                  { { 0, 0, 0 }, { 0.0, 0.0, 0.0 } },
                  { { 119, 119, 119 }, { 50.034, 0.0, 0.0 } },
                  { { 255, 0, 0 }, { 53.241, 80.092, 67.203 } },
                  { { 0, 255, 0 }, { 87.735, -86.183, 83.180 } },
                  { { 0, 0, 255 }, { 32.297, 79.188, -107.860 } } };
    for (size_t i = 0; i < SW_ARRAY_LEN(known); i++) {
        const sw_lab got = sw_lab_from_rgb8(known[i].colour);
        if (!(fabs(got.L - known[i].lab.L) < 0.02 && fabs(got.a - known[i].lab.a) < 0.02 &&
              fabs(got.b - known[i].lab.b) < 0.02))
            fail_msg("colour %zu: %.4f %.4f %.4f", i, got.L, got.a, got.b);
    }
}

static void black_is_black_in_a_row(void **state)
{
    (void)state;
    const sw_rgb8 dark[] = { { 0, 0, 0 }, { 1, 0, 0 }, { 0, 1, 0 }, { 0, 0, 1 } };
    float lab[3][4];
    sw_oklab_from_rgb8_row(dark, 4, lab[0], lab[1], lab[2]);
    for (size_t i = 0; i < 4; i++) {
        const sw_rgb8 back = sw_rgb8_from_oklab((sw_oklab){ lab[0][i], lab[1][i], lab[2][i] });
        assert_true(lab[0][i] >= 0.0f && lab[0][i] < 0.1f && fabsf(lab[1][i]) < 0.1f && fabsf(lab[2][i]) < 0.1f);
        assert_memory_equal(&back, &dark[i], sizeof back);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(black_is_black_in_a_row),
        cmocka_unit_test(ciede2000_gives_the_34_published_differences),
        cmocka_unit_test(the_srgb_curve_is_the_standards),
        cmocka_unit_test(the_tables_are_the_curve),
        cmocka_unit_test(light_out_of_range_is_clamped),
        cmocka_unit_test(oklab_gives_the_published_pairs),
        cmocka_unit_test(fast_oklab_is_within_a_millionth),
        cmocka_unit_test(oklab_and_back_is_the_same_colour),
        cmocka_unit_test(a_row_is_its_colours_one_by_one),
        cmocka_unit_test(lab_of_known_colours),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
