/* A small reader for JSON (RFC 8259): enough for the files this program writes. */
#include "wall/json.h"

#include <string.h>

static void skip_space(json *j)
{
    while (j->p < j->end && (*j->p == ' ' || *j->p == '\n' || *j->p == '\r' || *j->p == '\t')) j->p++;
}

static bool take(json *j, char c)
{
    skip_space(j);
    if (j->p >= j->end || *j->p != c) return false;
    j->p++;
    return true;
}

/* p stands on the opening quote; it ends behind the closing one. */
static bool skip_string(json *j)
{
    if (!take(j, '"')) return false;
    for (; j->p < j->end && *j->p != '"'; j->p++) {
        if (*j->p == '\\' && j->p + 1 < j->end) j->p++;
    }
    if (j->p >= j->end) return false;
    j->p++;
    return true;
}

static bool skip_value(json *j)
{
    size_t depth = 0;
    do {
        skip_space(j);
        if (j->p >= j->end) return false;
        const char c = *j->p;
        if (c == '"') {
            if (!skip_string(j)) return false;
        } else if (c == '{' || c == '[') {
            depth++;
            j->p++;
        } else if (c == '}' || c == ']') {
            if (depth == 0) return false;
            depth--;
            j->p++;
        } else if (c == ',' || c == ':') {
            if (depth == 0) return false;
            j->p++;
        } else {
            const char *const begin = j->p;
            while (j->p < j->end && strchr(",:]} \n\r\t\"[{", *j->p) == NULL) j->p++;
            if (j->p == begin) return false; /* a 0 byte */
        }
    } while (depth > 0);
    return true;
}

bool json_member(json object, const char *key, json *value)
{
    const size_t n = strlen(key);
    if (!take(&object, '{')) return false;
    for (;;) {
        skip_space(&object);
        const char *const begin = object.p;
        if (!skip_string(&object)) return false;
        const bool is_it = (size_t)(object.p - begin) == n + 2 && memcmp(begin + 1, key, n) == 0;
        if (!take(&object, ':')) return false;
        skip_space(&object);
        if (is_it) {
            *value = object;
            return object.p < object.end;
        }
        if (!skip_value(&object) || !take(&object, ',')) return false;
    }
}

bool json_first(json list, json *element)
{
    if (!take(&list, '[')) return false;
    skip_space(&list);
    if (list.p >= list.end || *list.p == ']') return false;
    *element = list;
    return true;
}

bool json_next(json *element)
{
    json j = *element;
    if (!skip_value(&j) || !take(&j, ',')) return false;
    skip_space(&j);
    *element = j;
    return j.p < j.end;
}

bool json_number(json value, double *out)
{
    char text[48];
    size_t n = 0;
    skip_space(&value);
    while (value.p + n < value.end && n + 1 < sizeof text && strchr(",]} \n\r\t", value.p[n]) == NULL) n++;
    memcpy(text, value.p, n);
    text[n] = '\0';
    return sw_number_parse(text, out);
}

bool json_string(json value, char *out, size_t size)
{
    size_t n = 0;
    if (!take(&value, '"')) return false;
    for (; value.p < value.end && *value.p != '"'; value.p++) {
        char c = *value.p;
        if (c == '\\') {
            if (++value.p >= value.end) return false;
            c = *value.p == 'u' ? '?' : *value.p == 'n' || *value.p == 't' || *value.p == 'r' ? ' ' : *value.p;
            if (*value.p == 'u') value.p += value.end - value.p > 4 ? 4 : 0;
        }
        if (n + 1 < size) out[n++] = c;
    }
    if (size > 0) out[n] = '\0';
    return value.p < value.end;
}
