/* The map from the wall to its photograph: normalised direct linear transform, then Gauss-Newton on photo distance.
 *
 * The linear system is solved through its normal matrix and the eigenvector of its smallest eigenvalue by Jacobi
 * rotations: 9 x 9, symmetric, and accurate because the points are normalised first (Hartley 1997). */
#include "wall/wall.h"

#include <math.h>
#include <string.h>

typedef struct normal {
    double scale, x, y; /* v -> scale * (v - centre) */
} normal;

bool sw_homography_map(const sw_homography *h, double x, double y, double *x_out, double *y_out)
{
    const double w = h->at[6] * x + h->at[7] * y + h->at[8];
    const double u = (h->at[0] * x + h->at[1] * y + h->at[2]) / w, v = (h->at[3] * x + h->at[4] * y + h->at[5]) / w;
    if (!isfinite(u) || !isfinite(v) || w <= 0.0) return false;
    *x_out = u;
    *y_out = v;
    return true;
}

static sw_homography times(const sw_homography *a, const sw_homography *b)
{
    sw_homography c;
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++)
            c.at[3 * i + j] = a->at[3 * i] * b->at[j] + a->at[3 * i + 1] * b->at[3 + j] + a->at[3 * i + 2] * b->at[6 + j];
    }
    return c;
}

bool sw_homography_invert(const sw_homography *h, sw_homography *out)
{
    const double *const m = h->at;
    const double c0 = m[4] * m[8] - m[5] * m[7], c1 = m[5] * m[6] - m[3] * m[8], c2 = m[3] * m[7] - m[4] * m[6];
    const double det = m[0] * c0 + m[1] * c1 + m[2] * c2;
    const sw_homography inverse = { { c0 / det, (m[2] * m[7] - m[1] * m[8]) / det, (m[1] * m[5] - m[2] * m[4]) / det,
                                      c1 / det, (m[0] * m[8] - m[2] * m[6]) / det, (m[2] * m[3] - m[0] * m[5]) / det,
                                      c2 / det, (m[1] * m[6] - m[0] * m[7]) / det, (m[0] * m[4] - m[1] * m[3]) / det } };
    for (int i = 0; i < 9; i++) {
        if (!isfinite(inverse.at[i])) return false;
    }
    *out = inverse;
    return true;
}

/* Centre of the points to 0, mean distance from it to sqrt 2. */
static normal normal_of(const sw_photo_point *points, size_t n, bool is_wall)
{
    normal t = { 0 };
    double far = 0.0;
    for (size_t i = 0; i < n; i++) {
        t.x += (is_wall ? points[i].wall.x_mm : points[i].photo.x_px) / (double)n;
        t.y += (is_wall ? points[i].wall.y_mm : points[i].photo.y_px) / (double)n;
    }
    for (size_t i = 0; i < n; i++)
        far += hypot((is_wall ? points[i].wall.x_mm : points[i].photo.x_px) - t.x,
                     (is_wall ? points[i].wall.y_mm : points[i].photo.y_px) - t.y) / (double)n;
    t.scale = sqrt(2.0) / far;
    return t;
}

/* Eigenvector of the smallest eigenvalue of a symmetric 9 x 9 matrix (cyclic Jacobi); a is destroyed. */
static void smallest_eigenvector(double a[9][9], double out[9])
{
    double v[9][9];
    for (int i = 0; i < 9; i++) {
        for (int j = 0; j < 9; j++) v[i][j] = i == j;
    }
    for (int sweep = 0; sweep < 60; sweep++) {
        double off = 0.0;
        for (int p = 0; p < 9; p++) {
            for (int q = p + 1; q < 9; q++) {
                off += a[p][q] * a[p][q];
                if (a[p][q] == 0.0) continue;
                const double theta = (a[q][q] - a[p][p]) / (2.0 * a[p][q]);
                const double t = copysign(1.0, theta) / (fabs(theta) + sqrt(theta * theta + 1.0));
                const double c = 1.0 / sqrt(t * t + 1.0), s = t * c;
                for (int k = 0; k < 9; k++) {
                    const double x = a[k][p], y = a[k][q];
                    a[k][p] = c * x - s * y;
                    a[k][q] = s * x + c * y;
                }
                for (int k = 0; k < 9; k++) {
                    const double x = a[p][k], y = a[q][k];
                    a[p][k] = c * x - s * y;
                    a[q][k] = s * x + c * y;
                    const double z = v[k][p], w = v[k][q];
                    v[k][p] = c * z - s * w;
                    v[k][q] = s * z + c * w;
                }
            }
        }
        if (off < 1e-30) break;
    }
    int best = 0;
    for (int i = 1; i < 9; i++) {
        if (a[i][i] < a[best][best]) best = i;
    }
    for (int i = 0; i < 9; i++) out[i] = v[i][best];
}

/* Solve the symmetric 8 x 8 system in place by elimination with pivoting; false if it is singular. */
static bool solve8(double m[8][9])
{
    for (int i = 0; i < 8; i++) {
        int pivot = i;
        for (int r = i + 1; r < 8; r++) {
            if (fabs(m[r][i]) > fabs(m[pivot][i])) pivot = r;
        }
        if (!(fabs(m[pivot][i]) > 1e-300)) return false;
        for (int c = 0; c < 9; c++) {
            const double keep = m[i][c];
            m[i][c] = m[pivot][c];
            m[pivot][c] = keep;
        }
        for (int r = 0; r < 8; r++) {
            if (r == i) continue;
            const double f = m[r][i] / m[i][i];
            for (int c = i; c < 9; c++) m[r][c] -= f * m[i][c];
        }
    }
    for (int i = 0; i < 8; i++) m[i][8] /= m[i][i];
    return true;
}

/* Sum of squared distances in the photo, in normalised units. */
static double cost_of(const sw_homography *h, const double (*xy)[4], size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++) {
        double u = 0.0, v = 0.0;
        if (!sw_homography_map(h, xy[i][0], xy[i][1], &u, &v)) return INFINITY;
        sum += (u - xy[i][2]) * (u - xy[i][2]) + (v - xy[i][3]) * (v - xy[i][3]);
    }
    return sum;
}

/* Gauss-Newton over the first eight entries, the ninth fixed at 1; keeps a step only if it helps. */
static void refine(sw_homography *h, const double (*xy)[4], size_t n)
{
    for (int i = 0; i < 9; i++) h->at[i] /= h->at[8] == 0.0 ? 1.0 : h->at[8];
    double cost = cost_of(h, xy, n);
    for (int step = 0; step < 20; step++) {
        double m[8][9];
        memset(m, 0, sizeof m);
        for (size_t i = 0; i < n; i++) {
            const double x = xy[i][0], y = xy[i][1];
            const double w = h->at[6] * x + h->at[7] * y + h->at[8];
            const double u = (h->at[0] * x + h->at[1] * y + h->at[2]) / w, v = (h->at[3] * x + h->at[4] * y + h->at[5]) / w;
            const double ju[8] = { x / w, y / w, 1 / w, 0, 0, 0, -u * x / w, -u * y / w };
            const double jv[8] = { 0, 0, 0, x / w, y / w, 1 / w, -v * x / w, -v * y / w };
            for (int r = 0; r < 8; r++) {
                for (int c = 0; c < 8; c++) m[r][c] += ju[r] * ju[c] + jv[r] * jv[c];
                m[r][8] += ju[r] * (xy[i][2] - u) + jv[r] * (xy[i][3] - v);
            }
        }
        sw_homography next = *h;
        if (!solve8(m)) return;
        for (int i = 0; i < 8; i++) next.at[i] += m[i][8];
        const double next_cost = cost_of(&next, xy, n);
        if (!(next_cost < cost)) return;
        *h = next;
        cost = next_cost;
    }
}

/* True if some three of any four points lie in a line, as far as the map can tell them apart. */
static bool is_degenerate(const double (*xy)[4], size_t n)
{
    /* enough independent points: look for four, no three of which are in a line, greedily from all triples of corners */
    for (int side = 0; side < 4; side += 2) {
        double widest = 0.0;
        size_t a = 0, b = 0;
        for (size_t i = 0; i < n; i++) {
            for (size_t j = i + 1; j < n; j++) {
                const double d = hypot(xy[i][side] - xy[j][side], xy[i][side + 1] - xy[j][side + 1]);
                if (d > widest) widest = d, a = i, b = j;
            }
        }
        size_t n_off = 0;
        for (size_t i = 0; i < n; i++) {
            const double off = (xy[b][side] - xy[a][side]) * (xy[i][side + 1] - xy[a][side + 1]) -
                               (xy[b][side + 1] - xy[a][side + 1]) * (xy[i][side] - xy[a][side]);
            n_off += fabs(off) > 1e-4 * widest * widest;
        }
        if (n_off < 2) return true;
        if (n > 4) continue;
        for (size_t i = 0; i < n; i++) { /* exactly four: every triple must span an area */
            const size_t p = (i + 1) % 4, q = (i + 2) % 4, r = (i + 3) % 4;
            const double area = (xy[q][side] - xy[p][side]) * (xy[r][side + 1] - xy[p][side + 1]) -
                                (xy[q][side + 1] - xy[p][side + 1]) * (xy[r][side] - xy[p][side]);
            if (!(fabs(area) > 1e-4 * widest * widest)) return true;
        }
    }
    return false;
}

static void solve_linear(const double (*xy)[4], size_t n, sw_homography *h)
{
    double a[9][9];
    memset(a, 0, sizeof a);
    for (size_t i = 0; i < n; i++) {
        const double x = xy[i][0], y = xy[i][1], u = xy[i][2], v = xy[i][3];
        const double rows[2][9] = { { x, y, 1, 0, 0, 0, -u * x, -u * y, -u }, { 0, 0, 0, x, y, 1, -v * x, -v * y, -v } };
        for (int k = 0; k < 2; k++) {
            for (int r = 0; r < 9; r++) {
                for (int c = 0; c < 9; c++) a[r][c] += rows[k][r] * rows[k][c];
            }
        }
    }
    smallest_eigenvector(a, h->at);
}

sw_status sw_homography_find(const sw_photo_point *points, size_t n, sw_homography *out, double *residual_mm,
                             sw_note *note)
{
    if (n < 4)
        return sw_fail(note, SW_BAD_LENGTH, "the photograph needs at least four points with their place on the wall, it has %zu", n);
    double(*const xy)[4] = sw_alloc_array(n, sizeof *xy);
    if (xy == NULL) return sw_fail_memory(note, "the photograph's points");
    const normal from = normal_of(points, n, true), to = normal_of(points, n, false);
    for (size_t i = 0; i < n; i++) {
        xy[i][0] = from.scale * (points[i].wall.x_mm - from.x);
        xy[i][1] = from.scale * (points[i].wall.y_mm - from.y);
        xy[i][2] = to.scale * (points[i].photo.x_px - to.x);
        xy[i][3] = to.scale * (points[i].photo.y_px - to.y);
    }
    sw_homography h, inverse = { { 0 } };
    bool is_good = isfinite(from.scale) && isfinite(to.scale) && !is_degenerate((const double(*)[4])xy, n);
    if (is_good) {
        solve_linear((const double(*)[4])xy, n, &h);
        if (h.at[8] < 0.0) {
            for (int i = 0; i < 9; i++) h.at[i] = -h.at[i];
        }
        refine(&h, (const double(*)[4])xy, n);
        const sw_homography into = { { from.scale, 0, -from.scale * from.x, 0, from.scale, -from.scale * from.y, 0, 0, 1 } };
        const sw_homography back = { { 1 / to.scale, 0, to.x, 0, 1 / to.scale, to.y, 0, 0, 1 } };
        const sw_homography half = times(&h, &into);
        h = times(&back, &half);
        if (h.at[8] != 0.0) {
            const double last = h.at[8];
            for (int i = 0; i < 9; i++) h.at[i] /= fabs(last);
        }
        is_good = sw_homography_invert(&h, &inverse);
    }
    sw_free(xy);
    if (!is_good)
        return sw_fail(note, SW_BAD_LENGTH, "the photograph's points do not fix the wall: three of four lie in a line; spread them out");
    for (size_t i = 0; residual_mm != NULL && i < n; i++) {
        double x = INFINITY, y = INFINITY;
        const double w = inverse.at[6] * points[i].photo.x_px + inverse.at[7] * points[i].photo.y_px + inverse.at[8];
        x = (inverse.at[0] * points[i].photo.x_px + inverse.at[1] * points[i].photo.y_px + inverse.at[2]) / w;
        y = (inverse.at[3] * points[i].photo.x_px + inverse.at[4] * points[i].photo.y_px + inverse.at[5]) / w;
        residual_mm[i] = hypot(x - points[i].wall.x_mm, y - points[i].wall.y_mm);
    }
    *out = h;
    return SW_OK;
}
