/* Numbers, lengths and colours as people type them, read the same in every locale.
 *
 * A decimal number is collected as an integer of at most 18 digits and scaled by a power of ten; up to 15 digits and
 * 10^22 both are exact in a double, so the result is the nearest double. Nobody measures a wall to more digits. */
#include <math.h>
#include <string.h>

#include "base/base.h"

static bool is_digit(char c) { return c >= '0' && c <= '9'; }

/* Reads a number at *text and moves *text past it; false if there is none. */
static bool take_number(const char **text, double *out)
{
    const char *p = *text;
    const bool is_negative = *p == '-';
    if (*p == '-' || *p == '+') p++;
    double mantissa = 0.0;
    int n_digits = 0, n_kept = 0, scale = 0;
    bool seen_point = false;
    for (; is_digit(*p) || (*p == '.' && !seen_point); p++) {
        if (*p == '.') {
            seen_point = true;
            continue;
        }
        n_digits++;
        if (n_kept < 18) {
            mantissa = mantissa * 10.0 + (*p - '0');
            if (mantissa > 0.0) n_kept++;
            if (seen_point) scale--;
        } else if (!seen_point && ++scale > 400) {
            return false;
        }
    }
    if (n_digits == 0) return false;
    if ((*p == 'e' || *p == 'E') && (is_digit(p[1]) || ((p[1] == '-' || p[1] == '+') && is_digit(p[2])))) {
        const bool is_minus = p[1] == '-';
        p += is_digit(p[1]) ? 1 : 2;
        int exponent = 0;
        for (; is_digit(*p); p++) {
            if (exponent < 10000) exponent = exponent * 10 + (*p - '0');
        }
        scale += is_minus ? -exponent : exponent;
    }
    const double value = scale < 0 ? mantissa / pow(10.0, -scale) : mantissa * pow(10.0, scale);
    if (!isfinite(value)) return false;
    *out = is_negative ? -value : value;
    *text = p;
    return true;
}

bool sw_number_parse(const char *text, double *out)
{
    double value;
    if (text == NULL || !take_number(&text, &value) || *text != '\0') return false;
    *out = value;
    return true;
}

bool sw_length_ok(double length_mm, bool zero_ok)
{
    return (zero_ok ? length_mm >= 0.0 : length_mm > 0.0) && length_mm <= SW_MAX_MM;
}

sw_status sw_length_parse(const char *text, const char *what, bool zero_ok, double *out_mm, sw_note *note)
{
    static const struct {
        const char *unit;
        double mm;
    } units[] = { { "", 1.0 }, { "mm", 1.0 }, { "cm", 10.0 }, { "m", 1000.0 }, { "in", 25.4 }, { "ft", 304.8 } };
    const char *p = text;
    double value = 0.0;
    if (text == NULL || !take_number(&p, &value))
        return sw_fail(note, SW_BAD_LENGTH, "%s '%s' is not a length; write it like 2100mm, 210cm, 2.1m, 83in or 7ft",
                       what, text == NULL ? "" : text);
    while (*p == ' ') p++;
    for (size_t i = 0; i < SW_ARRAY_LEN(units); i++) {
        if (strcmp(p, units[i].unit) != 0) continue;
        const double length_mm = value * units[i].mm;
        if (!sw_length_ok(length_mm, zero_ok))
            return sw_fail(note, SW_BAD_LENGTH, "%s '%s' is out of range; it must be %s 0 and at most 200m", what, text,
                           zero_ok ? "at least" : "above");
        *out_mm = length_mm;
        return SW_OK;
    }
    return sw_fail(note, SW_BAD_LENGTH, "%s '%s' has a unit that is not known; use mm, cm, m, in or ft", what, text);
}

static int hex_digit(char c)
{
    if (is_digit(c)) return c - '0';
    if (c >= 'a' && c <= 'f') return c - 'a' + 10;
    if (c >= 'A' && c <= 'F') return c - 'A' + 10;
    return -1;
}

bool sw_rgb8_parse(const char *text, sw_rgb8 *out)
{
    if (text == NULL || text[0] != '#') return false;
    const size_t n = strlen(text + 1);
    if (n != 3 && n != 6) return false;
    int value[6] = { 0 };
    for (size_t i = 0; i < n; i++) {
        value[i] = hex_digit(text[1 + i]);
        if (value[i] < 0) return false;
    }
    if (n == 3) *out = (sw_rgb8){ (uint8_t)(value[0] * 17), (uint8_t)(value[1] * 17), (uint8_t)(value[2] * 17) };
    else
        *out = (sw_rgb8){ (uint8_t)(value[0] * 16 + value[1]), (uint8_t)(value[2] * 16 + value[3]),
                          (uint8_t)(value[4] * 16 + value[5]) };
    return true;
}
