/* Attribute values: numbers, lengths, transforms, style properties. */
#include "vector/parts.h"

#include <math.h>
#include <string.h>

#define PI 3.14159265358979323846
#define MAX_NUMBER_CHARS 63

static bool is_space(char c) { return c == ' ' || c == '\t' || c == '\n' || c == '\r'; }

static const char *skip_space(const char *p)
{
    while (is_space(*p)) p++;
    return p;
}

/* Length of the number that begins at p, by the grammar of SVG 1.1, 4.2; 0 if there is none. */
static size_t number_length(const char *p)
{
    const char *const begin = p;
    if (*p == '+' || *p == '-') p++;
    size_t n_digits = 0;
    for (; *p >= '0' && *p <= '9'; p++) n_digits++;
    if (*p == '.') {
        for (p++; *p >= '0' && *p <= '9'; p++) n_digits++;
    }
    if (n_digits == 0) return 0;
    if (*p == 'e' || *p == 'E') {
        const char *q = p + 1;
        if (*q == '+' || *q == '-') q++;
        if (*q >= '0' && *q <= '9') {
            while (*q >= '0' && *q <= '9') q++;
            p = q;
        }
    }
    return (size_t)(p - begin);
}

bool take_number(const char **p, double *out)
{
    const char *const at = skip_space(*p);
    const size_t n = number_length(at);
    char text[MAX_NUMBER_CHARS + 1];
    if (n == 0 || n > MAX_NUMBER_CHARS) return false;
    memcpy(text, at, n);
    text[n] = '\0';
    if (!sw_number_parse(text, out)) return false;
    *p = skip_space(at + n);
    if (**p == ',') *p = skip_space(*p + 1);
    return true;
}

static const struct {
    const char *unit;
    double user_units;
    bool is_real;
} units[] = { { "", 1.0, false },          { "px", 1.0, true },       { "mm", 96.0 / 25.4, true }, { "cm", 960.0 / 25.4, true },
              { "in", 96.0, true },        { "pt", 96.0 / 72, true }, { "pc", 16.0, true },        { "em", 16.0, false },
              { "ex", 8.0, false } };

static const char *unit_of(const char *text)
{
    const char *const at = skip_space(text);
    return at + number_length(at);
}

/* Index in units, or SIZE_MAX. */
static size_t find_unit(const char *unit)
{
    const size_t n = strcspn(unit, " \t\r\n");
    if (*skip_space(unit + n) != '\0') return SIZE_MAX;
    for (size_t i = 0; i < SW_ARRAY_LEN(units); i++) {
        if (strlen(units[i].unit) == n && memcmp(units[i].unit, unit, n) == 0) return i;
    }
    return SIZE_MAX;
}

bool parse_length(const char *text, double percent_of, double *out)
{
    const char *p = text;
    double value;
    const char *const unit = unit_of(text);
    if (!take_number(&p, &value)) return false;
    if (*unit == '%') {
        *out = value / 100.0 * percent_of;
        return true;
    }
    const size_t i = find_unit(unit);
    if (i == SIZE_MAX) return false;
    *out = value * units[i].user_units;
    return isfinite(*out);
}

bool has_real_unit(const char *text)
{
    const size_t i = find_unit(unit_of(text));
    return i != SIZE_MAX && units[i].is_real;
}

static bool make_transform(const char *name, size_t n, const double *v, size_t n_values, affine *out)
{
    const double angle = v[0] * PI / 180.0;
    if (n == 6 && memcmp(name, "matrix", n) == 0 && n_values == 6) {
        *out = (affine){ v[0], v[1], v[2], v[3], v[4], v[5] };
    } else if (n == 9 && memcmp(name, "translate", n) == 0 && (n_values == 1 || n_values == 2)) {
        *out = (affine){ 1, 0, 0, 1, v[0], n_values == 2 ? v[1] : 0.0 };
    } else if (n == 5 && memcmp(name, "scale", n) == 0 && (n_values == 1 || n_values == 2)) {
        *out = (affine){ v[0], 0, 0, n_values == 2 ? v[1] : v[0], 0, 0 };
    } else if (n == 6 && memcmp(name, "rotate", n) == 0 && (n_values == 1 || n_values == 3)) {
        const affine turn = { cos(angle), sin(angle), -sin(angle), cos(angle), 0, 0 };
        *out = turn;
        if (n_values == 3)
            *out = affine_times(affine_times((affine){ 1, 0, 0, 1, v[1], v[2] }, turn), (affine){ 1, 0, 0, 1, -v[1], -v[2] });
    } else if (n == 5 && memcmp(name, "skewX", n) == 0 && n_values == 1) {
        *out = (affine){ 1, 0, tan(angle), 1, 0, 0 };
    } else if (n == 5 && memcmp(name, "skewY", n) == 0 && n_values == 1) {
        *out = (affine){ 1, tan(angle), 0, 1, 0, 0 };
    } else {
        return false;
    }
    return true;
}

bool parse_transform(const char *text, affine *out)
{
    affine all = affine_identity;
    for (const char *p = skip_space(text); *p != '\0';) {
        const char *const name = p;
        while ((*p >= 'a' && *p <= 'z') || (*p >= 'A' && *p <= 'Z')) p++;
        const size_t n = (size_t)(p - name);
        p = skip_space(p);
        if (n == 0 || *p != '(') return false;
        p = skip_space(p + 1);
        double v[6] = { 0 };
        size_t n_values = 0;
        while (n_values < 6 && take_number(&p, &v[n_values])) n_values++;
        affine one;
        if (*p != ')' || !make_transform(name, n, v, n_values, &one)) return false;
        all = affine_times(all, one);
        p = skip_space(p + 1);
        if (*p == ',') p = skip_space(p + 1);
    }
    *out = all;
    return true;
}

bool find_style(const char *style, const char *property, char *out, size_t size)
{
    const size_t n = strlen(property);
    bool is_found = false;
    for (const char *p = style; *p != '\0';) {
        p = skip_space(p);
        const size_t whole = strcspn(p, ";"), name = strcspn(p, ":;");
        size_t name_end = name;
        while (name_end > 0 && is_space(p[name_end - 1])) name_end--;
        if (name < whole && name_end == n && memcmp(p, property, n) == 0) { /* the last one holds */
            const char *value = skip_space(p + name + 1);
            size_t length = value < p + whole ? (size_t)(p + whole - value) : 0;
            while (length > 0 && is_space(value[length - 1])) length--;
            if (length >= size) length = size - 1;
            memcpy(out, value, length);
            out[length] = '\0';
            is_found = true;
        }
        p += whole + (p[whole] == ';');
    }
    return is_found;
}
