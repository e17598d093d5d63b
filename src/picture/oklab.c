/* OKLab (Bjorn Ottosson, "A perceptual color space for image processing", 2020; matrices as revised 2021).
 *
 * The cost is three cube roots a pixel. cube_root starts from the exponent bits divided by three (within 4 %) and
 * takes two Halley steps, each of which cubes the relative error, so what is left is float rounding: OKLab within 1e-6,
 * measured over a lattice of colours by tests/test_colour.c. It has no branch and no call, so compilers vectorise the
 * row function. One colour goes through the same code and gives the same bits. */
#include "picture/raster.h"
#include "picture/srgb_table.h"

#include <math.h>
#include <string.h>

#define CHUNK 128 /* pixels whose light is in the nearest cache */

#define TINY 1e-24f /* keeps the cubes of black out of the subnormals; vanishes beside the light of any other value */

/* x >= 0. The result for 0 is 1e-8. */
static inline float cube_root(float x)
{
    int32_t bits;
    x += TINY;
    memcpy(&bits, &x, sizeof bits);
    /* in float: SSE2 has no integer division; 24 bits of precision are plenty for a first guess */
    bits = (int32_t)((float)bits * (1.0f / 3.0f)) + 709921077;
    float y;
    memcpy(&y, &bits, sizeof y);
    for (int step = 0; step < 2; step++) {
        const float cube = y * y * y;
        y *= (cube + x + x) / (cube + cube + x); /* the ratio first: y times cube underflows near black */
    }
    return y;
}

static inline float lms_l(float r, float g, float b)
{
    return 0.4122214708f * r + 0.5363325363f * g + 0.0514459929f * b;
}
static inline float lms_m(float r, float g, float b)
{
    return 0.2119034982f * r + 0.6806995451f * g + 0.1073969566f * b;
}
static inline float lms_s(float r, float g, float b)
{
    return 0.0883024619f * r + 0.2817188376f * g + 0.6299787005f * b;
}
static inline float lab_l(float l, float m, float s)
{
    return 0.2104542553f * l + 0.7936177850f * m - 0.0040720468f * s;
}
static inline float lab_a(float l, float m, float s)
{
    return 1.9779984951f * l - 2.4285922050f * m + 0.4505937099f * s;
}
static inline float lab_b(float l, float m, float s)
{
    return 0.0259040371f * l + 0.7827717662f * m - 0.8086757660f * s;
}

sw_oklab sw_oklab_from_linear(float r, float g, float b)
{
    const float light[3] = { lms_l(r, g, b), lms_m(r, g, b), lms_s(r, g, b) };
    float root[3];
    for (int i = 0; i < 3; i++) root[i] = copysignf(cube_root(fabsf(light[i])), light[i]);
    return (sw_oklab){ lab_l(root[0], root[1], root[2]), lab_a(root[0], root[1], root[2]),
                       lab_b(root[0], root[1], root[2]) };
}

/* n pixels of linear light; every loop is over equal lanes. */
static inline void convert_light(const float *restrict r, const float *restrict g, const float *restrict b, size_t n,
                                 float *restrict L, float *restrict A, float *restrict B)
{
    for (size_t i = 0; i < n; i++) {
        const float l = cube_root(lms_l(r[i], g[i], b[i])), m = cube_root(lms_m(r[i], g[i], b[i]));
        const float s = cube_root(lms_s(r[i], g[i], b[i]));
        L[i] = lab_l(l, m, s);
        A[i] = lab_a(l, m, s);
        B[i] = lab_b(l, m, s);
    }
}

SW_WIDE void sw_oklab_from_rgb8_row(const sw_rgb8 *in, size_t n, float *L, float *a, float *b)
{
    float red[CHUNK], green[CHUNK], blue[CHUNK];
    for (size_t at = 0; at < n; at += CHUNK) {
        const size_t n_here = sw_min_size(CHUNK, n - at);
        for (size_t i = 0; i < n_here; i++) {
            red[i] = SW_SRGB_LINEAR[in[at + i].r];
            green[i] = SW_SRGB_LINEAR[in[at + i].g];
            blue[i] = SW_SRGB_LINEAR[in[at + i].b];
        }
        convert_light(red, green, blue, n_here, L + at, a + at, b + at);
    }
}

sw_oklab sw_oklab_from_rgb8(sw_rgb8 colour)
{
    sw_oklab lab = { 0 };
    sw_oklab_from_rgb8_row(&colour, 1, &lab.L, &lab.a, &lab.b);
    return lab;
}

sw_rgb8 sw_rgb8_from_oklab(sw_oklab colour)
{
    const float l = colour.L + 0.3963377774f * colour.a + 0.2158037573f * colour.b;
    const float m = colour.L - 0.1055613458f * colour.a - 0.0638541728f * colour.b;
    const float s = colour.L - 0.0894841775f * colour.a - 1.2914855480f * colour.b;
    const float l3 = l * l * l, m3 = m * m * m, s3 = s * s * s;
    return (sw_rgb8){ sw_srgb8_from_linear(4.0767416621f * l3 - 3.3077115913f * m3 + 0.2309699292f * s3),
                      sw_srgb8_from_linear(-1.2684380046f * l3 + 2.6097574011f * m3 - 0.3413193965f * s3),
                      sw_srgb8_from_linear(-0.0041960863f * l3 - 0.7034186147f * m3 + 1.7076147010f * s3) };
}
