/* Path data: every command of SVG 1.1, 8.3, absolute and relative. */
#include "vector/parts.h"

#include <string.h>

typedef struct reader {
    const char *at;
    pen *pen;
    double control_x, control_y; /* last control point, for smooth commands */
    char last;                   /* last command, upper case */
} reader;

static bool take_numbers(reader *r, double *out, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (!take_number(&r->at, &out[i])) return false;
    }
    return true;
}

/* Flags of an arc may stand without a separator: "a1 1 0 0150 50". */
static bool take_flag(reader *r, bool *out)
{
    while (*r->at == ' ' || *r->at == '\t' || *r->at == '\n' || *r->at == '\r' || *r->at == ',') r->at++;
    if (*r->at != '0' && *r->at != '1') return false;
    *out = *r->at++ == '1';
    return true;
}

static bool draw_arc(reader *r, double dx, double dy)
{
    double v[3], end[2];
    bool is_large, is_sweep;
    if (!take_numbers(r, v, 3) || !take_flag(r, &is_large) || !take_flag(r, &is_sweep)) return false;
    while (*r->at == ',' || *r->at == ' ') r->at++;
    if (!take_numbers(r, end, 2)) return false;
    pen_arc(r->pen, v[0], v[1], v[2], is_large, is_sweep, end[0] + dx, end[1] + dy);
    return true;
}

/* One repetition of a command; upper is its letter in upper case, dx and dy what its points are relative to. */
static bool draw_once(reader *r, char upper, double dx, double dy, bool is_first)
{
    pen *const p = r->pen;
    double v[6];
    const bool after_cubic = r->last == 'C' || r->last == 'S', after_quad = r->last == 'Q' || r->last == 'T';
    const double mirror_x = 2.0 * p->x - r->control_x, mirror_y = 2.0 * p->y - r->control_y;
    switch (upper) {
    case 'M':
        if (!take_numbers(r, v, 2)) return false;
        if (is_first) pen_move(p, v[0] + dx, v[1] + dy);
        else pen_line(p, v[0] + dx, v[1] + dy);
        return true;
    case 'L':
        if (!take_numbers(r, v, 2)) return false;
        pen_line(p, v[0] + dx, v[1] + dy);
        return true;
    case 'H':
        if (!take_numbers(r, v, 1)) return false;
        pen_line(p, v[0] + dx, p->y);
        return true;
    case 'V':
        if (!take_numbers(r, v, 1)) return false;
        pen_line(p, p->x, v[0] + dy);
        return true;
    case 'C':
        if (!take_numbers(r, v, 6)) return false;
        r->control_x = v[2] + dx;
        r->control_y = v[3] + dy;
        pen_cubic(p, v[0] + dx, v[1] + dy, r->control_x, r->control_y, v[4] + dx, v[5] + dy);
        return true;
    case 'S':
        if (!take_numbers(r, v, 4)) return false;
        r->control_x = v[0] + dx;
        r->control_y = v[1] + dy;
        pen_cubic(p, after_cubic ? mirror_x : p->x, after_cubic ? mirror_y : p->y, r->control_x, r->control_y, v[2] + dx,
                  v[3] + dy);
        return true;
    case 'Q':
        if (!take_numbers(r, v, 4)) return false;
        r->control_x = v[0] + dx;
        r->control_y = v[1] + dy;
        pen_quad(p, r->control_x, r->control_y, v[2] + dx, v[3] + dy);
        return true;
    case 'T':
        if (!take_numbers(r, v, 2)) return false;
        r->control_x = after_quad ? mirror_x : p->x;
        r->control_y = after_quad ? mirror_y : p->y;
        pen_quad(p, r->control_x, r->control_y, v[0] + dx, v[1] + dy);
        return true;
    case 'A': return draw_arc(r, dx, dy);
    default: return false;
    }
}

bool draw_path_data(pen *p, const char *d)
{
    reader r = { .at = d, .pen = p };
    char command = '\0';
    bool is_first = true;
    for (;;) {
        while (*r.at == ' ' || *r.at == '\t' || *r.at == '\n' || *r.at == '\r' || *r.at == ',') r.at++;
        if (*r.at == '\0') return true;
        if (strchr("MmLlHhVvCcSsQqTtAaZz", *r.at) != NULL) {
            command = *r.at++;
            is_first = true;
        } else if (command == '\0' || command == 'Z' || command == 'z') {
            return false;
        }
        const bool is_relative = command >= 'a';
        const char upper = (char)(is_relative ? command - 'a' + 'A' : command);
        if (!p->has_start && upper != 'M') return false;
        if (upper == 'Z') {
            pen_close(p);
        } else if (!draw_once(&r, upper, is_relative ? p->x : 0.0, is_relative ? p->y : 0.0, is_first)) {
            return false;
        }
        r.last = upper;
        is_first = false;
        if (p->is_broken) return true;
    }
}
