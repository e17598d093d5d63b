/* The sRGB transfer function (IEC 61966-2-1): by formula in double, by table for 8-bit values. */
#include "picture/picture.h"
#include "picture/srgb_table.h"

#include <math.h>

double sw_linear_from_srgb(double v) { return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4); }

double sw_srgb_from_linear(double v) { return v <= 0.0031308 ? v * 12.92 : 1.055 * pow(v, 1.0 / 2.4) - 0.055; }

float sw_linear_from_srgb8(uint8_t v) { return SW_SRGB_LINEAR[v]; }

uint8_t sw_srgb8_from_linear(float v)
{
    unsigned code = 0; /* NaN passes no comparison and stays 0 */
    for (unsigned step = 128; step > 0; step /= 2) {
        if (v >= SW_SRGB_NEXT[code + step - 1]) code += step;
    }
    return (uint8_t)code;
}
