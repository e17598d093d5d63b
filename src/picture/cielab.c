/* CIE 1976 L*a*b* (CIE 15:2004) under D65 and the CIEDE2000 difference (CIE 142-2001) after the implementation notes
 * of Sharma, Wu and Dalal, "The CIEDE2000 color-difference formula", Color Research and Application 30 (2005) 21. */
#include "picture/picture.h"

#include <math.h>

#define PI 3.14159265358979323846
#define POW7_25 6103515625.0 /* 25^7 */

static double lab_f(double t)
{
    const double delta = 6.0 / 29.0;
    return t > delta * delta * delta ? cbrt(t) : t / (3.0 * delta * delta) + 4.0 / 29.0;
}

sw_lab sw_lab_from_rgb8(sw_rgb8 colour)
{
    const double r = sw_linear_from_srgb(colour.r / 255.0);
    const double g = sw_linear_from_srgb(colour.g / 255.0);
    const double b = sw_linear_from_srgb(colour.b / 255.0);
    /* XYZ over the white point: the sRGB primaries' matrix, each row divided by its sum, so that grey has a = b = 0 */
    const double x = (0.4124564 * r + 0.3575761 * g + 0.1804375 * b) / (0.4124564 + 0.3575761 + 0.1804375);
    const double y = 0.2126729 * r + 0.7151522 * g + 0.0721750 * b;
    const double z = (0.0193339 * r + 0.1191920 * g + 0.9503041 * b) / (0.0193339 + 0.1191920 + 0.9503041);
    const double fx = lab_f(x), fy = lab_f(y / (0.2126729 + 0.7151522 + 0.0721750)), fz = lab_f(z);
    return (sw_lab){ 116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz) };
}

static double radians(double degrees) { return degrees * (PI / 180.0); }

/* 25-weighted root used for both G and R_C. */
static double chroma_root(double c)
{
    const double c7 = c * c * c * c * c * c * c;
    return sqrt(c7 / (c7 + POW7_25));
}

/* Hue angle in degrees, 0..360; 0 for grey. */
static double hue_degrees(double a, double b)
{
    if (a == 0.0 && b == 0.0) return 0.0;
    const double h = atan2(b, a) * (180.0 / PI);
    return h < 0.0 ? h + 360.0 : h;
}

double sw_ciede2000(sw_lab one, sw_lab two)
{
    const double mean_c = (hypot(one.a, one.b) + hypot(two.a, two.b)) / 2.0;
    const double stretch = 1.0 + 0.5 * (1.0 - chroma_root(mean_c));
    const double a1 = one.a * stretch, a2 = two.a * stretch;
    const double c1 = hypot(a1, one.b), c2 = hypot(a2, two.b);
    const double h1 = hue_degrees(a1, one.b), h2 = hue_degrees(a2, two.b);

    const bool is_grey = c1 * c2 == 0.0;
    double dh = is_grey ? 0.0 : h2 - h1; /* the shorter way round */
    if (dh > 180.0) dh -= 360.0;
    else if (dh < -180.0) dh += 360.0;
    double h_mean = h1 + h2; /* on the side of the shorter way; with a grey the other hue counts alone */
    if (!is_grey) {
        if (fabs(h1 - h2) > 180.0) h_mean += h1 + h2 < 360.0 ? 360.0 : -360.0;
        h_mean /= 2.0;
    }
    const double dl = two.L - one.L, dc = c2 - c1, dhue = 2.0 * sqrt(c1 * c2) * sin(radians(dh) / 2.0);
    const double l_mean = (one.L + two.L) / 2.0 - 50.0, c_mean = (c1 + c2) / 2.0;

    const double t = 1.0 - 0.17 * cos(radians(h_mean - 30.0)) + 0.24 * cos(radians(2.0 * h_mean)) +
                     0.32 * cos(radians(3.0 * h_mean + 6.0)) - 0.20 * cos(radians(4.0 * h_mean - 63.0));
    const double blue = (h_mean - 275.0) / 25.0;
    const double turn = -sin(radians(60.0 * exp(-blue * blue))) * 2.0 * chroma_root(c_mean);
    const double sl = 1.0 + 0.015 * l_mean * l_mean / sqrt(20.0 + l_mean * l_mean);
    const double sc = 1.0 + 0.045 * c_mean, sh = 1.0 + 0.015 * c_mean * t;
    const double l = dl / sl, c = dc / sc, h = dhue / sh;
    return sqrt(sw_max(0.0, l * l + c * c + h * h + turn * c * h));
}
