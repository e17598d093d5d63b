/* Growing text for every writer. Floating-point numbers are written from integers, so no locale can change a file. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"

#define EXACT 9007199254740992.0 /* 2^53: whole numbers of a double are exact up to here */

void sw_text_add_bytes(sw_text *text, const void *bytes, size_t n)
{
    if (text->is_broken || n == 0) return;
    void *data = text->data;
    if (n > SIZE_MAX - text->size - 1 || !sw_grow(&data, &text->cap, text->size + n + 1, 1)) {
        text->is_broken = true;
        return;
    }
    text->data = data;
    memcpy(text->data + text->size, bytes, n);
    text->size += n;
    text->data[text->size] = '\0';
}

void sw_text_add(sw_text *text, const char *string) { sw_text_add_bytes(text, string, strlen(string)); }

void sw_text_addf(sw_text *text, const char *format, ...)
{
    if (text->is_broken) return;
    va_list args, again;
    va_start(args, format);
    va_copy(again, args);
    const int n = vsnprintf(NULL, 0, format, args);
    va_end(args);
    void *data = text->data;
    if (n < 0 || !sw_grow(&data, &text->cap, text->size + (size_t)n + 1, 1)) {
        text->is_broken = true;
    } else {
        text->data = data;
        vsnprintf(text->data + text->size, (size_t)n + 1, format, again);
        text->size += (size_t)n;
    }
    va_end(again);
}

void sw_text_add_number(sw_text *text, double value, int decimals)
{
    static const double powers[] = { 1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9 };
    decimals = decimals < 0 ? 0 : decimals > 9 ? 9 : decimals;
    if (!isfinite(value)) value = 0.0;
    for (; decimals > 0; decimals--) {
        if (fabs(value) * powers[decimals] <= EXACT) break; /* beyond are digits that a double does not have */
    }
    const double scaled = nearbyint(fabs(value) * powers[decimals]);
    if (scaled >= 9e18) { /* beyond whole numbers of 63 bits */
        sw_text_addf(text, "%s9000000000000000000", value < 0.0 ? "-" : "");
        return;
    }
    const unsigned long long units = (unsigned long long)scaled;
    const unsigned long long power = (unsigned long long)powers[decimals];
    char fraction[32] = "";
    if (decimals > 0) {
        snprintf(fraction, sizeof fraction, ".%09llu", units % power * (unsigned long long)powers[9 - decimals]);
        size_t n = strlen(fraction);
        while (n > 0 && fraction[n - 1] == '0') fraction[--n] = '\0';
        if (n == 1) fraction[0] = '\0';
    }
    sw_text_addf(text, "%s%llu%s", value < 0.0 && units > 0 ? "-" : "", units / power, fraction);
}

size_t sw_utf8_length(const char *at)
{
    const unsigned char *const p = (const unsigned char *)at;
    if (p[0] < 0x80) return 1;
    if (p[0] < 0xc2 || p[0] > 0xf4) return 0;
    const size_t n = p[0] < 0xe0 ? 2 : p[0] < 0xf0 ? 3 : 4;
    for (size_t i = 1; i < n; i++) {
        if ((p[i] & 0xc0) != 0x80) return 0;
    }
    if ((p[0] == 0xe0 && p[1] < 0xa0) || (p[0] == 0xed && p[1] > 0x9f)) return 0;
    if ((p[0] == 0xf0 && p[1] < 0x90) || (p[0] == 0xf4 && p[1] > 0x8f)) return 0;
    return n;
}

#define REPLACEMENT "\xef\xbf\xbd" /* U+FFFD */

void sw_text_add_json(sw_text *text, const char *string)
{
    sw_text_add(text, "\"");
    for (const char *p = string; *p != '\0';) {
        const size_t n = sw_utf8_length(p);
        const unsigned char c = (unsigned char)*p;
        if (n == 0) sw_text_add(text, REPLACEMENT);
        else if (c == '"' || c == '\\') sw_text_addf(text, "\\%c", c);
        else if (c < 0x20 || c == 0x7f) sw_text_addf(text, "\\u%04x", c);
        else sw_text_add_bytes(text, p, n);
        p += n == 0 ? 1 : n;
    }
    sw_text_add(text, "\"");
}

/* What XML 1.0 (2.2) has no place for, though it is UTF-8: most control characters, U+FFFE, U+FFFF. */
static bool is_no_xml(const char *p, size_t n)
{
    const unsigned char c = (unsigned char)*p;
    const bool is_control = (c < 0x20 && c != '\n' && c != '\t') || c == 0x7f;
    return is_control || (n == 3 && (memcmp(p, "\xef\xbf\xbe", 3) == 0 || memcmp(p, "\xef\xbf\xbf", 3) == 0));
}

void sw_text_add_xml(sw_text *text, const char *string)
{
    for (const char *p = string; *p != '\0';) {
        const size_t n = sw_utf8_length(p);
        if (n == 0 || is_no_xml(p, n)) sw_text_add(text, REPLACEMENT);
        else if (*p == '&') sw_text_add(text, "&amp;");
        else if (*p == '<') sw_text_add(text, "&lt;");
        else if (*p == '>') sw_text_add(text, "&gt;");
        else if (*p == '"') sw_text_add(text, "&quot;");
        else if (*p == '\'') sw_text_add(text, "&#39;");
        else sw_text_add_bytes(text, p, n);
        p += n == 0 ? 1 : n;
    }
}

void sw_text_add_name(sw_text *text, const char *string)
{
    const size_t begin = text->size;
    sw_text_add(text, string);
    for (size_t i = begin; i < text->size; i++) {
        if ((unsigned char)text->data[i] < 0x20 || text->data[i] == 0x7f) text->data[i] = '?';
    }
}

void sw_text_add_beside(sw_text *text, const char *path, const char *name)
{
    const char *const slash = strrchr(path, '/');
    if (name[0] != '/' && slash != NULL) sw_text_add_bytes(text, path, (size_t)(slash - path) + 1);
    sw_text_add(text, name);
}

void sw_text_free(sw_text *text)
{
    sw_free(text->data);
    *text = (sw_text){ 0 };
}
