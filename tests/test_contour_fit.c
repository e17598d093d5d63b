/* What curves are fitted: shapes drawn analytically come back with the nodes that anybody would draw. */
#include "support.h"
#include <math.h>

#include "contour/contour.h"

#define SIDE 200
#define PI 3.14159265358979323846

typedef struct figure {
    const char *name;
    size_t n_ideal;
    double most_px; /* farthest from the true edge */
    double (*distance)(double x, double y, const double *p); /* signed, below 0 inside; to first order near the edge */
    double p[6];
} figure;

static double ellipse(double x, double y, const double *p)
{
    const double c = cos(p[2]), s = sin(p[2]), u = (c * x + s * y) / p[0], v = (c * y - s * x) / p[1];
    const double f = hypot(u, v);
    return (f - 1) * f / hypot(u / p[0], v / p[1]);
}

static double rounded(double x, double y, const double *p) /* half side, corner radius, angle */
{
    const double c = cos(p[2]), s = sin(p[2]);
    const double u = fabs(c * x + s * y) - p[0] + p[1], v = fabs(c * y - s * x) - p[0] + p[1];
    return hypot(fmax(u, 0), fmax(v, 0)) + fmin(fmax(u, v), 0) - p[1];
}

static double to_edge(double x, double y, double ax, double ay, double bx, double by)
{
    const double dx = bx - ax, dy = by - ay, t = sw_clamp(((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy), 0, 1);
    return hypot(x - ax - t * dx, y - ay - t * dy);
}

static double polygon(double x, double y, const double *xy, size_t n)
{
    double least = 1e9;
    bool is_in = false;
    for (size_t i = 0, j = n - 1; i < n; j = i++) {
        const double *const a = xy + 2 * j, *const b = xy + 2 * i;
        least = fmin(least, to_edge(x, y, a[0], a[1], b[0], b[1]));
        if ((a[1] > y) != (b[1] > y) && x < (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0]) is_in = !is_in;
    }
    return is_in ? -least : least;
}

static double star(double x, double y, const double *p) /* radii, angle, points */
{
    double xy[64];
    const size_t n = 2 * (size_t)p[3];
    for (size_t k = 0; k < n; k++) {
        const double a = p[2] + PI * (double)k / p[3], r = p[k % 2];
        xy[2 * k] = r * cos(a);
        xy[2 * k + 1] = r * sin(a);
    }
    return polygon(x, y, xy, n);
}

static double letter(double x, double y, const double *p) /* which, angle */
{
    static const double l[] = { -40, -60, -15, -60, -15, 35, 40, 35, 40, 60, -40, 60 };
    static const double t[] = { -50, -60, 50, -60, 50, -36, 13, -36, 13, 60, -13, 60, -13, -36, -50, -36 };
    static const double e[] = { -40, -60, 40, -60, 40, -38, -15, -38, -15, -10, 30, -10,
                                30,  12,  -15, 12, -15, 38, 40, 38,  40,  60,  -40, 60 };
    const double c = cos(p[1]), s = sin(p[1]), u = c * x + s * y, v = c * y - s * x;
    if (p[0] == 0) return polygon(u, v, l, 6);
    if (p[0] == 1) return polygon(u, v, t, 8);
    if (p[0] == 2) return polygon(u, v, e, 12);
    return fmax(ellipse(u, v, (const double[]){ 45, 60, 0 }), -ellipse(u, v, (const double[]){ 22, 38, 0 })); /* O */
}

static const figure figures[] = {
    { "circle", 4, 0.5, ellipse, { 6, 6, 0 } },
    { "circle", 4, 0.5, ellipse, { 10, 10, 0 } },
    { "circle", 4, 0.5, ellipse, { 23.3, 23.3, 0 } },
    { "circle", 4, 0.5, ellipse, { 60, 60, 0 } },
    { "circle", 4, 0.5, ellipse, { 90, 90, 0 } },
    { "ellipse", 4, 0.5, ellipse, { 40, 20, 0 } },
    { "ellipse", 4, 0.5, ellipse, { 40, 20, 0.5 } },
    { "ellipse", 4, 0.5, ellipse, { 80, 30, 1.3 } },
    { "ellipse", 4, 0.5, ellipse, { 60, 55, 0.2 } },
    { "ellipse", 4, 0.5, ellipse, { 25, 8, 0.8 } },
    { "square", 4, 0.5, rounded, { 10, 0, 0 } },
    { "square", 4, 0.5, rounded, { 30, 0, 0.5 } },
    { "square", 4, 0.5, rounded, { 30, 0, 0.3 } },
    { "square", 4, 0.5, rounded, { 70, 0, 0.5236 } },
    { "square", 4, 0.55, rounded, { 70, 0, 0.7854 } }, /* the raster itself is off by 0.5 at its tips */
    { "rounded square", 8, 0.5, rounded, { 30, 8, 0 } },
    { "rounded square", 8, 0.5, rounded, { 30, 8, 0.23 } },
    { "rounded square", 8, 0.5, rounded, { 60, 20, 0 } },
    { "rounded square", 8, 0.5, rounded, { 60, 20, 0.7854 } },
    { "rounded square", 8, 0.5, rounded, { 70, 12, 0.23 } },
    { "star", 10, 0.5, star, { 60, 23, 0.2, 5 } },
    { "star", 10, 0.5, star, { 80, 40, 0.1, 5 } },
    { "star", 10, 0.5, star, { 90, 34, 0.2, 5 } },
    { "star", 12, 0.5, star, { 80, 45, 0.33, 6 } },
    { "L", 6, 0.5, letter, { 0, 0 } },
    { "L", 6, 0.5, letter, { 0, 0.35 } },
    { "T", 8, 0.5, letter, { 1, 0 } },
    { "T", 8, 0.5, letter, { 1, 0.35 } },
    { "E", 12, 0.5, letter, { 2, 0 } },
    { "E", 12, 0.5, letter, { 2, 0.35 } },
    { "O", 8, 0.5, letter, { 3, 0 } },
    { "O", 8, 0.5, letter, { 3, 0.2 } },
};

static sw_mask draw(const figure *f)
{
    sw_mask mask = { 0 };
    assert_int_equal(sw_mask_make(SIDE, SIDE, &mask, NULL), SW_OK);
    for (size_t y = 0; y < SIDE; y++) {
        for (size_t x = 0; x < SIDE; x++)
            mask.at[y * SIDE + x] = f->distance((double)x + 0.5 - 100, (double)y + 0.5 - 100, f->p) < 0;
    }
    return mask;
}

static sw_contours trace(const sw_mask *mask, const sw_trace_opts *opts)
{
    sw_contours list = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_contours_trace(mask, &(sw_grid){ mask->width_px, mask->height_px, 1.0 }, opts, &list, &note), note);
    return list;
}

typedef struct worst {
    const figure *f;
    double px;
} worst;

static bool take_distance(void *ctx, sw_pt_mm p)
{
    worst *const w = ctx;
    w->px = fmax(w->px, fabs(w->f->distance(p.x_mm - 100, p.y_mm - 100, w->f->p)));
    return true;
}

static void figures_come_back_with_their_own_nodes(void **state)
{
    (void)state;
    int n_bad = 0;
    for (size_t i = 0; i < SW_ARRAY_LEN(figures); i++) {
        const figure *const f = &figures[i];
        sw_mask mask = draw(f);
        sw_contours list = trace(&mask, &(sw_trace_opts){ .tolerance_mm = 0.5 });
        const sw_contour_measure m = sw_contours_measure(&list);
        worst w = { f, 0 };
        for (size_t k = 0; k < list.n; k++) (void)sw_contour_flatten(&list.at[k], 0.01, take_distance, &w);
        if (m.n_nodes + 1 < f->n_ideal || m.n_nodes > f->n_ideal + 1 || w.px >= f->most_px) {
            print_error("%s %g %g %g: %zu nodes for %zu, off by %.2f px\n", f->name, f->p[0], f->p[1], f->p[2], m.n_nodes,
                        f->n_ideal, w.px);
            n_bad++;
        }
        sw_contours_free(&list);
        sw_mask_free(&mask);
    }
    assert_int_equal(n_bad, 0);
}

static void polygons_are_lines_and_circles_are_not(void **state)
{
    (void)state;
    for (size_t i = 0; i < SW_ARRAY_LEN(figures); i++) {
        const figure *const f = &figures[i];
        const bool is_round = f->distance == ellipse, is_straight = f->distance == star || f->name[0] == 's';
        if (!is_round && !is_straight) continue;
        sw_mask mask = draw(f);
        sw_contours list = trace(&mask, &(sw_trace_opts){ .tolerance_mm = 0.5 });
        for (size_t k = 0; k < list.at[0].n_segs; k++) {
            assert_int_equal(list.at[0].segs[k].is_line, !is_round);
            assert_int_equal(list.at[0].segs[k].is_corner, !is_round);
        }
        sw_contours_free(&list);
        sw_mask_free(&mask);
    }
}

/* Blurred noise: what separations look like. */
static sw_mask blots(size_t width, size_t height, uint64_t seed)
{
    sw_mask mask = { 0 };
    assert_int_equal(sw_mask_make(width, height, &mask, NULL), SW_OK);
    double wave[24][3];
    for (size_t k = 0; k < 24; k++) {
        wave[k][0] = (double)(test_random(&seed) % 2001) / 1e4 - 0.1;
        wave[k][1] = (double)(test_random(&seed) % 2001) / 1e4 - 0.1;
        wave[k][2] = (double)(test_random(&seed) % 6283) / 1e3;
    }
    for (size_t y = 0; y < height; y++) {
        for (size_t x = 0; x < width; x++) {
            double sum = 0;
            for (size_t k = 0; k < 24; k++) sum += cos(wave[k][0] * (double)x + wave[k][1] * (double)y + wave[k][2]);
            mask.at[y * width + x] = sum > 1;
        }
    }
    return mask;
}

static sw_pt_mm direction(sw_pt_mm a, sw_pt_mm b)
{
    const double len = hypot(b.x_mm - a.x_mm, b.y_mm - a.y_mm);
    assert_true(len > 0);
    return (sw_pt_mm){ (b.x_mm - a.x_mm) / len, (b.y_mm - a.y_mm) / len };
}

static void nodes_are_smooth_unless_they_are_corners(void **state)
{
    (void)state;
    size_t n_smooth = 0;
    for (uint64_t seed = 1; seed < 6; seed++) {
        sw_mask mask = blots(300, 250, seed);
        sw_contours list = trace(&mask, &(sw_trace_opts){ .tolerance_mm = 0.6 });
        for (size_t i = 0; i < list.n; i++) {
            const sw_contour *const c = &list.at[i];
            for (size_t k = 0; k < c->n_segs; k++) {
                const sw_seg *const s = &c->segs[k], *const t = &c->segs[(k + 1) % c->n_segs];
                const sw_pt_mm from = k == 0 ? c->start : c->segs[k - 1].end;
                if (s->is_corner) continue;
                const sw_pt_mm u = direction(s->is_line ? from : s->c2, s->end), v = direction(s->end, t->is_line ? t->end : t->c1);
                assert_true(u.x_mm * v.x_mm + u.y_mm * v.y_mm > 0.99999);
                n_smooth++;
            }
        }
        sw_contours_free(&list);
        sw_mask_free(&mask);
    }
    assert_true(n_smooth > 100);
}

static void handles_are_no_longer_than_their_segment(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed < 6; seed++) {
        sw_mask mask = blots(300, 250, seed);
        sw_contours list = trace(&mask, &(sw_trace_opts){ .tolerance_mm = 0.6 });
        for (size_t i = 0; i < list.n; i++) {
            sw_pt_mm from = list.at[i].start;
            for (size_t k = 0; k < list.at[i].n_segs; k++) {
                sw_seg s = list.at[i].segs[k];
                const sw_contour one = { .start = from, .segs = &s, .n_segs = 1 };
                const double length = sw_contour_measure_one(&one).length_mm;
                if (!s.is_line) {
                    assert_true(hypot(s.c1.x_mm - from.x_mm, s.c1.y_mm - from.y_mm) < length);
                    assert_true(hypot(s.c2.x_mm - s.end.x_mm, s.c2.y_mm - s.end.y_mm) < length);
                }
                from = s.end;
            }
        }
        sw_contours_free(&list);
        sw_mask_free(&mask);
    }
}

static void threads_do_not_change_a_byte(void **state)
{
    (void)state;
    static const size_t sides[] = { 1, 2, 127, 200, 600 };
    for (size_t i = 0; i < SW_ARRAY_LEN(sides); i++) {
        sw_mask mask = blots(sides[i], sides[i], 11);
        sw_threads_set(1);
        sw_contours first = trace(&mask, &(sw_trace_opts){ .tolerance_mm = 0.6, .min_web_mm = 4, .min_opening_mm = 4 });
        for (int threads = 2; threads <= 7; threads += 5) {
            sw_threads_set(threads);
            sw_contours other = trace(&mask, &(sw_trace_opts){ .tolerance_mm = 0.6, .min_web_mm = 4, .min_opening_mm = 4 });
            assert_int_equal(first.n, other.n);
            for (size_t k = 0; k < first.n; k++) {
                const sw_contour *const a = &first.at[k], *const b = &other.at[k];
                assert_int_equal(a->n_segs, b->n_segs);
                assert_memory_equal(&a->start, &b->start, sizeof a->start);
                for (size_t j = 0; j < a->n_segs; j++) { /* field by field: padding is nobody's */
                    assert_memory_equal(&a->segs[j].c1, &b->segs[j].c1, 3 * sizeof(sw_pt_mm));
                    assert_true(a->segs[j].is_line == b->segs[j].is_line && a->segs[j].is_corner == b->segs[j].is_corner);
                }
            }
            sw_contours_free(&other);
        }
        sw_contours_free(&first);
        sw_mask_free(&mask);
    }
    sw_threads_set(0);
}

typedef struct points {
    sw_pt_mm at[4000];
    size_t n;
} points;

static bool keep_point(void *ctx, sw_pt_mm p)
{
    points *const list = ctx;
    if (list->n < SW_ARRAY_LEN(list->at)) list->at[list->n++] = p;
    return true;
}

/* Largest distance of a vertical pixel edge's middle from the one contour. */
static double farthest_edge(const sw_mask *mask, const sw_contours *list)
{
    static points p;
    p.n = 0;
    assert_int_equal(list->n, 1);
    (void)sw_contour_flatten(&list->at[0], 0.005, keep_point, &p);
    assert_true(p.n < SW_ARRAY_LEN(p.at));
    double most = 0;
    for (size_t y = 0; y < mask->height_px; y++) {
        for (size_t x = 1; x < mask->width_px; x++) {
            if (mask->at[y * mask->width_px + x] == mask->at[y * mask->width_px + x - 1]) continue;
            double least = 1e9;
            for (size_t i = 0; i < p.n; i++) {
                const sw_pt_mm a = p.at[i], b = p.at[(i + 1) % p.n];
                least = fmin(least, to_edge((double)x, (double)y + 0.5, a.x_mm, a.y_mm, b.x_mm, b.y_mm));
            }
            most = fmax(most, least);
        }
    }
    return most;
}

/* A tall box whose left side has a bump, high px out over the rows from..to, half as high for a few rows around. */
static sw_mask box_with_bump(int high, size_t from, size_t to)
{
    sw_mask mask = { 0 };
    assert_int_equal(sw_mask_make(90, 160, &mask, NULL), SW_OK);
    for (size_t y = 20; y < 140; y++) {
        const int out = y >= from && y < to ? high : y + 4 >= from && y < to + 4 ? high / 2 : 0;
        for (size_t x = (size_t)(40 - out); x < 75; x++) mask.at[y * 90 + x] = 1;
    }
    return mask;
}

static void no_pixel_edge_is_left_far_beside(void **state)
{
    (void)state;
    static const size_t rows[][2] = { { 70, 90 }, { 78, 84 }, { 24, 44 }, { 116, 136 }, { 60, 100 }, { 30, 34 } };
    for (int high = -2; high <= 2; high++) {
        for (size_t k = 0; k < SW_ARRAY_LEN(rows); k++) {
            for (double tolerance = 0.1; tolerance < 1; tolerance += 0.2) {
                sw_mask mask = box_with_bump(high, rows[k][0], rows[k][1]);
                sw_contours list = trace(&mask, &(sw_trace_opts){ .tolerance_mm = tolerance });
                const double most = farthest_edge(&mask, &list);
                if (most > 1.25 + 0.5 * tolerance)
                    print_error("bump %d, rows %zu to %zu, tolerance %g: %.2f px\n", high, rows[k][0], rows[k][1], tolerance, most);
                assert_true(most <= 1.25 + 0.5 * tolerance);
                assert_in_range(sw_contours_measure(&list).n_nodes, 4, 16);
                sw_contours_free(&list);
                sw_mask_free(&mask);
            }
        }
    }
}

/* A random polygon with random pixels on its edge taken away or added: lone pixels at corners, dents beside steps. */
static sw_mask ragged_polygon(uint64_t *seed)
{
    sw_mask mask = { 0 };
    double xy[16];
    const size_t n = 4 + test_random(seed) % 5;
    for (size_t k = 0; k < n; k++) {
        const double angle = 2 * PI * (double)k / (double)n, r = 25 + (double)(test_random(seed) % 60);
        xy[2 * k] = 100 + r * cos(angle);
        xy[2 * k + 1] = 100 + r * sin(angle);
    }
    assert_int_equal(sw_mask_make(SIDE, SIDE, &mask, NULL), SW_OK);
    for (size_t y = 0; y < SIDE; y++) {
        for (size_t x = 0; x < SIDE; x++) mask.at[y * SIDE + x] = polygon((double)x + 0.5, (double)y + 0.5, xy, n) < 0;
    }
    for (size_t k = 0; k < 4000; k++) { /* most are not beside the edge */
        const size_t x = 2 + test_random(seed) % (SIDE - 4), y = 2 + test_random(seed) % (SIDE - 4), i = y * SIDE + x;
        const int beside = mask.at[i - 1] + mask.at[i + 1] + mask.at[i - SIDE] + mask.at[i + SIDE];
        if (beside == 3 && mask.at[i] != 0) mask.at[i] = 0;
        else if (beside == 1) mask.at[i] = 1;
    }
    return mask;
}

static void no_pixel_edge_is_left_far_from_a_corner(void **state)
{
    (void)state;
    uint64_t seed = 4;
    size_t n_bad = 0, n_one = 0;
    for (int k = 0; k < 60; k++) {
        sw_mask mask = ragged_polygon(&seed);
        for (double tolerance = 0.1; tolerance < 1.2; tolerance *= 3) {
            sw_contours list = trace(&mask, &(sw_trace_opts){ .tolerance_mm = tolerance });
            const double most = list.n == 1 ? farthest_edge(&mask, &list) : 0;
            n_one += list.n == 1;
            if (most > 1.25 + 0.5 * tolerance + 0.02) { /* curves are measured as walks */
                print_error("polygon %d, tolerance %g: %.2f px\n", k, tolerance, most);
                n_bad++;
            }
            sw_contours_free(&list);
        }
        sw_mask_free(&mask);
    }
    assert_int_equal(n_bad, 0);
    assert_true(n_one > 60);
}

/* How much the one contour turns in all, either way: 2 pi if it is convex. */
static double turning(const sw_contours *list)
{
    static points p;
    p.n = 0;
    assert_int_equal(list->n, 1);
    (void)sw_contour_flatten(&list->at[0], 0.005, keep_point, &p);
    double turned = 0;
    for (size_t i = 0; i < p.n; i++) {
        const sw_pt_mm u = direction(p.at[i], p.at[(i + 1) % p.n]), v = direction(p.at[(i + 1) % p.n], p.at[(i + 2) % p.n]);
        turned += fabs(atan2(u.x_mm * v.y_mm - u.y_mm * v.x_mm, u.x_mm * v.x_mm + u.y_mm * v.y_mm));
    }
    return turned;
}

/* Beside a bump the curve swings out and back; it never turns by more than that, which a hook would. */
static void a_bump_makes_no_hook(void **state)
{
    (void)state;
    for (size_t from = 21; from < 134; from++) {
        sw_mask mask = box_with_bump(2, from, from + 9 < 140 ? from + 9 : 140);
        sw_contours list = trace(&mask, &(sw_trace_opts){ .tolerance_mm = 0.1 });
        const double turned = turning(&list);
        if (turned > 2 * PI + 2.5) print_error("bump at row %zu: turned by %.2f\n", from, turned);
        assert_true(turned <= 2 * PI + 2.5);
        sw_contours_free(&list);
        sw_mask_free(&mask);
    }
}

/* A notch a pixel deep and two wide anywhere round an egg: where it falls beside a step of the raster it is more than a
 * pixel deep and stays, nine times of ten the curve does not wriggle through it. */
static void a_notch_of_a_pixel_hardly_ever_makes_a_wriggle(void **state)
{
    (void)state;
    size_t n = 0, n_wriggles = 0;
    const figure egg = { "ellipse", 4, 0.5, ellipse, { 30, 12, 0.4 } };
    for (double angle = 0; angle < 2 * PI; angle += 0.05) {
        sw_mask mask = draw(&egg);
        double r = 40;
        while (mask.at[(size_t)(100 + r * sin(angle)) * SIDE + (size_t)(100 + r * cos(angle))] == 0) r -= 0.1;
        for (int k = 0; k < 2; k++) /* the outermost pixel and the next along the edge */
            mask.at[(size_t)(100 + r * sin(angle + k / r)) * SIDE + (size_t)(100 + r * cos(angle + k / r))] = 0;
        sw_contours list = trace(&mask, &(sw_trace_opts){ .tolerance_mm = 0.6 });
        n_wriggles += turning(&list) > 2 * PI + 1;
        n++;
        sw_contours_free(&list);
        sw_mask_free(&mask);
    }
    if (10 * n_wriggles > n) print_error("%zu wriggles of %zu notches\n", n_wriggles, n);
    assert_true(10 * n_wriggles <= n);
}

static void a_web_stays_as_wide_as_asked(void **state)
{
    (void)state;
    static points a, b;
    for (double tolerance = 0.5; tolerance < 5; tolerance *= 2) {
        sw_mask mask = { 0 };
        assert_int_equal(sw_mask_make(240, 160, &mask, NULL), SW_OK);
        for (size_t y = 10; y < 150; y++) { /* two openings; the web between, 8 px wide, winds */
            const double middle = 120 + 14 * sin((double)y / 30);
            for (size_t x = 10; x < 230; x++) mask.at[y * 240 + x] = fabs((double)x + 0.5 - middle) > 4.6;
        }
        sw_contours list = trace(&mask, &(sw_trace_opts){ .tolerance_mm = tolerance, .min_web_mm = 6 });
        assert_int_equal(list.n, 2);
        a.n = b.n = 0;
        (void)sw_contour_flatten(&list.at[0], 0.005, keep_point, &a);
        (void)sw_contour_flatten(&list.at[1], 0.005, keep_point, &b);
        double least = 1e9;
        for (size_t i = 0; i < a.n; i++) {
            for (size_t j = 0; j < b.n; j++)
                least = fmin(least, hypot(a.at[i].x_mm - b.at[j].x_mm, a.at[i].y_mm - b.at[j].y_mm));
        }
        if (least < 5.9) print_error("tolerance %g: the web is %g wide\n", tolerance, least);
        assert_true(least >= 5.9);
        sw_contours_free(&list);
        sw_mask_free(&mask);
    }
}

static void an_island_has_the_curve_of_the_opening_that_fits_it(void **state)
{
    (void)state;
    sw_mask opening = { 0 }, around = { 0 };
    assert_int_equal(sw_mask_make(SIDE, SIDE, &opening, NULL), SW_OK);
    for (size_t y = 0; y < SIDE; y++) {
        for (size_t x = 0; x < SIDE; x++) {
            const double angle = atan2((double)y - 100, (double)x - 100);
            opening.at[y * SIDE + x] = hypot((double)x - 100, (double)y - 100) < 55 + 12 * sin(3 * angle) + 5 * cos(5 * angle);
        }
    }
    assert_int_equal(sw_mask_copy(&opening, &around, NULL), SW_OK);
    for (size_t k = 0; k < SIDE * SIDE; k++) around.at[k] = !opening.at[k];
    sw_contours a = trace(&opening, &(sw_trace_opts){ .tolerance_mm = 0.7 });
    sw_contours b = trace(&around, &(sw_trace_opts){ .tolerance_mm = 0.7 });
    assert_int_equal(a.n, 1);
    assert_int_equal(b.n, 2);
    const sw_contour *const c = &a.at[0], *const d = &b.at[1];
    assert_int_equal(c->n_segs, d->n_segs);
    assert_true(fabs(c->start.x_mm - d->start.x_mm) < 1e-9 && fabs(c->start.y_mm - d->start.y_mm) < 1e-9);
    for (size_t k = 0; k < c->n_segs; k++) { /* the same curve, walked the other way */
        const sw_seg *const s = &c->segs[k], *const t = &d->segs[c->n_segs - 1 - k];
        assert_true(fabs(s->c1.x_mm - t->c2.x_mm) < 1e-9 && fabs(s->c2.y_mm - t->c1.y_mm) < 1e-9);
    }
    sw_contours_free(&a);
    sw_contours_free(&b);
    sw_mask_free(&opening);
    sw_mask_free(&around);
}

static void fault_at_every_allocation(const sw_mask *mask)
{
    const sw_grid grid = { mask->width_px, mask->height_px, 1.0 };
    const sw_trace_opts opts = { .tolerance_mm = 0.5, .min_web_mm = 3 };
    for (size_t nth = 1;; nth++) {
        assert_true(nth < 20000);
        sw_contours list = { 0 };
        sw_note note = { 0 };
        const size_t live = sw_alloc_fail_at(nth);
        const sw_status st = sw_contours_trace(mask, &grid, &opts, &list, &note);
        const bool is_done = sw_alloc_count() < nth;
        if (st != SW_OK) assert_null(list.at);
        sw_contours_free(&list);
        assert_int_equal(sw_alloc_fail_at(0), live);
        assert_int_equal(st, is_done ? SW_OK : SW_NO_MEMORY);
        if (is_done) return;
        assert_true(note.text[0] != '\0');
    }
}

static void every_failing_allocation_is_reported(void **state)
{
    (void)state;
    sw_mask mask = blots(60, 50, 3);
    fault_at_every_allocation(&mask);
    sw_mask_free(&mask);
    mask = test_mask("#.#..#.##.#\n.#.##.#..#.\n#.#.#.##.#.\n.##.#..#.##\n#..#.##.#..\n.##.#.#.##.\n"); /* to the pixels */
    fault_at_every_allocation(&mask);
    sw_mask_free(&mask);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(figures_come_back_with_their_own_nodes),
        cmocka_unit_test(polygons_are_lines_and_circles_are_not),
        cmocka_unit_test(nodes_are_smooth_unless_they_are_corners),
        cmocka_unit_test(handles_are_no_longer_than_their_segment),
        cmocka_unit_test(threads_do_not_change_a_byte),
        cmocka_unit_test(no_pixel_edge_is_left_far_beside),
        cmocka_unit_test(no_pixel_edge_is_left_far_from_a_corner),
        cmocka_unit_test(a_bump_makes_no_hook),
        cmocka_unit_test(a_notch_of_a_pixel_hardly_ever_makes_a_wriggle),
        cmocka_unit_test(a_web_stays_as_wide_as_asked),
        cmocka_unit_test(an_island_has_the_curve_of_the_opening_that_fits_it),
        cmocka_unit_test(every_failing_allocation_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
