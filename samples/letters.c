/*
 * A bold upright alphabet: bars with level ends and elliptical bows, in a cell of height 1 with y down.
 *
 * Each letter is a sum of pieces that turn the same way; pieces meet edge to edge wherever their rims would show.
 */
#include "letters.h"

#include <stddef.h>

static const double S = 0.205; /* upright stroke */
static const double T = 0.165; /* level stroke, thinner as the eye wants it */

typedef struct pen {
    path *p; /* NULL: only measure */
    double x, y, h;
    warp_fn warp;
    const void *ctx;
} pen;

static void put_point(const pen *q, double x, double y)
{
    pt v = { q->x + q->h * x, q->y + q->h * y };
    if (q->warp != NULL) v = q->warp(v, q->ctx);
    path_add(q->p, v.x, v.y);
}

/* Corners clockwise as seen; sides are cut up so that a warp can bend them. */
static void quad(const pen *q, pt a, pt b, pt c, pt d)
{
    if (q->p == NULL) return;
    const pt at[5] = { a, b, c, d, a };
    for (int i = 0; i < 4; i++)
        for (int k = 0; k < 12; k++) put_point(q, lerp(at[i].x, at[i + 1].x, k / 12.0), lerp(at[i].y, at[i + 1].y, k / 12.0));
    path_close(q->p);
}

static void bar(const pen *q, double x0, double y0, double x1, double y1)
{
    quad(q, (pt){ x0, y0 }, (pt){ x1, y0 }, (pt){ x1, y1 }, (pt){ x0, y1 });
}

/* A slanted stroke with level ends, w wide along x. */
static void slant(const pen *q, double x0, double y0, double x1, double y1, double w)
{
    quad(q, (pt){ x0, y0 }, (pt){ x0 + w, y0 }, (pt){ x1 + w, y1 }, (pt){ x1, y1 });
}

/* A band of an ellipse from angle a to b in degrees (0 is right, 90 is down), b above a. */
static void bow(const pen *q, double cx, double cy, double rx, double ry, double a, double b)
{
    if (q->p == NULL) return;
    for (int i = 0; i <= 64; i++) {
        const double u = lerp(a, b, i / 64.0) * PI / 180.0;
        put_point(q, cx + rx * cos(u), cy + ry * sin(u));
    }
    for (int i = 64; i >= 0; i--) {
        const double u = lerp(a, b, i / 64.0) * PI / 180.0;
        put_point(q, cx + (rx - S) * cos(u), cy + (ry - T) * sin(u));
    }
    path_close(q->p);
}

/* A polygon with its sides cut up so that a warp can bend them. */
static void outline(const pen *q, const pt *at, int n)
{
    if (q->p == NULL) return;
    for (int i = 0; i < n; i++) {
        const pt a = at[i], b = at[(i + 1) % n];
        for (int k = 0; k < 12; k++) put_point(q, lerp(a.x, b.x, k / 12.0), lerp(a.y, b.y, k / 12.0));
    }
    path_close(q->p);
}

/* The outer half of a bowl; the pieces meet edge to edge, an overlap would count the pixels of its rim twice. */
static void bowl(const pen *q, double y0, double y1, double w, double rx)
{
    bow(q, w - rx, 0.5 * (y0 + y1), rx, 0.5 * (y1 - y0), -90.0, 90.0);
}

static void letter_n(const pen *q, double w)
{
    const double d = 1.25 * S, in = (w - S - d) / (w - d);
    outline(q, (const pt[]){ { 0, 0 }, { d, 0 }, { w - S, in }, { w - S, 0 }, { w, 0 }, { w, 1 }, { w - d, 1 }, { S, 1.0 - in }, { S, 1 }, { 0, 1 } }, 10);
}

static double upright_letter(const pen *q, char ch)
{
    const double w = ch == 'H' || ch == 'N' || ch == 'U' ? 0.72 : ch == 'L' || ch == 'F' ? 0.55 : ch == 'E' ? 0.58 : ch == 'I' ? S : 0.66;
    if (ch == 'N') {
        letter_n(q, w);
        return w;
    }
    if (ch == 'U') {
        bar(q, 0.0, 0.0, S, 0.645);
        bar(q, w - S, 0.0, w, 0.645);
        bow(q, 0.5 * w, 0.645, 0.5 * w, 0.37, 0.0, 180.0);
        return w;
    }
    bar(q, 0.0, 0.0, S, 1.0);
    switch (ch) {
    case 'H': bar(q, w - S, 0.0, w, 1.0); bar(q, S, 0.41, w - S, 0.41 + T); break;
    case 'L': bar(q, S, 1.0 - T, w, 1.0); break;
    case 'E': bar(q, S, 1.0 - T, w, 1.0); /* fall through */
    case 'F': bar(q, S, 0.0, w, T); bar(q, S, 0.42, w - 0.06, 0.42 + T); break;
    case 'B':
        bar(q, S, 0.0, w - 0.29, T);
        bar(q, S, 0.42, w - 0.29, 0.42 + T);
        bar(q, S, 1.0 - T, w - 0.29, 1.0);
        bowl(q, 0.0, 0.42 + T, w - 0.03, 0.26);
        bowl(q, 0.42, 1.0, w, 0.29);
        break;
    case 'P':
    case 'R':
        bar(q, S, 0.0, w - 0.3, T);
        bar(q, S, 0.42, w - 0.3, 0.42 + T);
        bowl(q, 0.0, 0.42 + T, w - 0.02, 0.28);
        if (ch == 'R') slant(q, 0.25, 0.5, w - 0.19, 1.0, 1.15 * S);
        break;
    default: break;
    }
    return w + (ch == 'R' ? 0.03 : 0.0);
}

/* A, and V as the same turned over; in = how far down the inner edges meet. */
static void letter_a(const pen *q, double w, bool turned)
{
    const double d = 1.12 * S, mid = 0.5 * w, in = 0.44 * d / (mid - 0.56 * d);
    pt at[] = { { mid - 0.56 * d, 0 }, { mid + 0.56 * d, 0 }, { w, 1 }, { w - d, 1 }, { mid, in }, { d, 1 }, { 0, 1 } };
    pt turn[7];
    for (int i = 0; i < 7; i++) turn[i] = (pt){ at[6 - i].x, 1.0 - at[6 - i].y };
    outline(q, turned ? turn : at, 7);
    if (turned) return;
    const double y0 = 0.61, y1 = 0.61 + T, l0 = lerp(mid + 0.44 * d, d, y0), l1 = lerp(mid + 0.44 * d, d, y1);
    quad(q, (pt){ l0, y0 }, (pt){ w - l0, y0 }, (pt){ w - l1, y1 }, (pt){ l1, y1 });
}

static double slanted_letter(const pen *q, char ch)
{
    if (ch != 'Y') {
        letter_a(q, 0.84, ch == 'V');
        return 0.84;
    }
    const double w = 0.8, d = 1.12 * S, mid = 0.5 * w, h = 0.5 * S, in = 0.6 * (mid - d) / (mid + h - d);
    outline(q, (const pt[]){ { 0, 0 }, { d, 0 }, { mid, in }, { w - d, 0 }, { w, 0 }, { mid + h, 0.6 }, { mid + h, 1 }, { mid - h, 1 }, { mid - h, 0.6 } }, 9);
    return w;
}

static double round_letter(const pen *q, char ch)
{
    const double w = ch == 'S' ? 0.64 : 0.82;
    switch (ch) {
    case 'O': bow(q, 0.5 * w, 0.5, 0.5 * w, 0.515, 0.0, 360.0); break;
    case 'G':
        bow(q, 0.5 * w, 0.5, 0.5 * w, 0.515, 0.0, 318.0);
        bar(q, 0.44, 0.5, w, 0.5 + T);
        break;
    default: /* S */
        bow(q, 0.5 * w, 0.28375, 0.5 * w, 0.29875, 90.0, 335.0);
        bow(q, 0.5 * w, 0.71625, 0.5 * w, 0.29875, -90.0, 155.0);
        break;
    }
    return w;
}

/* Draws (or only measures) one letter; returns its width. */
static double letter(const pen *q, char ch)
{
    switch (ch) {
    case 'A': case 'V': case 'Y': return slanted_letter(q, ch);
    case 'G': case 'O': case 'S': return round_letter(q, ch);
    case 'B': case 'E': case 'F': case 'H': case 'I': case 'L': case 'N': case 'P': case 'R': case 'U': return upright_letter(q, ch);
    case 'T':
        bar(q, 0.0, 0.0, 0.7, T);
        bar(q, 0.35 - 0.5 * S, T, 0.35 + 0.5 * S, 1.0);
        return 0.7;
    default: return 0.3;
    }
}

/* Slanted neighbours leave a hole between them that a fixed gap does not know of. */
static double kern(char a, char b)
{
    const bool av = (a == 'A' && (b == 'V' || b == 'Y' || b == 'T')) || (b == 'A' && (a == 'V' || a == 'Y' || a == 'T'));
    const bool lv = a == 'L' && (b == 'V' || b == 'Y' || b == 'T');
    return av ? -0.2 : lv ? -0.14 : 0.0;
}

double letters_width(const char *text, double gap)
{
    const pen measure = { 0 };
    double w = 0.0;
    for (const char *ch = text; *ch != '\0'; ch++) w += letter(&measure, *ch) + (ch[1] != '\0' ? gap + kern(ch[0], ch[1]) : 0.0);
    return w;
}

void letters_add(path *p, const char *text, double x, double y, double height, double gap, warp_fn warp, const void *ctx)
{
    pen q = { .p = p, .x = x, .y = y, .h = height, .warp = warp, .ctx = ctx };
    for (const char *ch = text; *ch != '\0'; ch++) q.x += height * (letter(&q, *ch) + gap + kern(ch[0], ch[1]));
}
