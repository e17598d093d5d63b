/* Thin plate bending by finite elements: square elements with sinking and two slopes at each corner, twelve unknowns
 * (Adini and Clough 1960, Melosh 1963). Not conforming, but convergent on rectangles. The element matrix is integrated
 * once; the band matrix is factored by Cholesky's method. */
#include <math.h>
#include <string.h>

#include "sheet/droop.h"

#define N 12 /* unknowns of an element: w, dw/dx, dw/dy at (0,0), (1,0), (1,1), (0,1) of a unit square */

/* Powers of x and y in the element's shape: full cubic and x^3 y, x y^3. */
static const int power_x[N] = { 0, 1, 0, 2, 1, 0, 3, 2, 1, 0, 3, 1 };
static const int power_y[N] = { 0, 0, 1, 0, 1, 2, 0, 1, 2, 3, 1, 3 };

/* d^i/dx^i d^j/dy^j of x^a y^b. */
static double term(int a, int b, int i, int j, double x, double y)
{
    double v = 1.0;
    for (; i > 0; i--, a--) v *= a;
    for (; j > 0; j--, b--) v *= b;
    for (; a > 0; a--) v *= x;
    for (; b > 0; b--) v *= y;
    return v;
}

/* Gauss and Jordan with the largest pivot: in becomes its inverse. */
static void invert(double in[N][N])
{
    double out[N][N] = { { 0 } };
    for (size_t i = 0; i < N; i++) out[i][i] = 1.0;
    for (size_t c = 0; c < N; c++) {
        size_t best = c;
        for (size_t r = c; r < N; r++)
            if (fabs(in[r][c]) > fabs(in[best][c])) best = r;
        for (size_t k = 0; k < N; k++) {
            const double a = in[c][k], b = out[c][k];
            in[c][k] = in[best][k], in[best][k] = a;
            out[c][k] = out[best][k], out[best][k] = b;
        }
        const double pivot = 1.0 / in[c][c];
        for (size_t k = 0; k < N; k++) in[c][k] *= pivot, out[c][k] *= pivot;
        for (size_t r = 0; r < N; r++) {
            const double f = r == c ? 0.0 : in[r][c];
            for (size_t k = 0; k < N && f != 0.0; k++) in[r][k] -= f * in[c][k], out[r][k] -= f * out[c][k];
        }
    }
    memcpy(in, out, sizeof out);
}

/* Stiffness (rigidity 1, side 1) and load (1 on the whole element) of the unit element. */
static void unit_element(double poisson, double k[N][N], double load[N])
{
    static const double corner[4][2] = { { 0, 0 }, { 1, 0 }, { 1, 1 }, { 0, 1 } };
    static const double at[3] = { 0.1127016653792583, 0.5, 0.8872983346207417 }, by[3] = { 5. / 18, 8. / 18, 5. / 18 };
    double c[N][N]; /* unknowns from coefficients; inverted: coefficients from unknowns */
    for (int p = 0; p < 4; p++)
        for (int i = 0; i < N; i++)
            for (int d = 0; d < 3; d++)
                c[3 * p + d][i] = term(power_x[i], power_y[i], d == 1, d == 2, corner[p][0], corner[p][1]);
    invert(c);
    memset(k, 0, N * sizeof k[0]);
    memset(load, 0, N * sizeof load[0]);
    for (int g = 0; g < 9; g++) {
        const double x = at[g % 3], y = at[g / 3], weight = by[g % 3] * by[g / 3];
        double b[4][N] = { { 0 } }; /* w, w_xx, w_yy, w_xy by unknown */
        for (int u = 0; u < N; u++)
            for (int i = 0; i < N; i++) {
                b[0][u] += c[i][u] * term(power_x[i], power_y[i], 0, 0, x, y);
                b[1][u] += c[i][u] * term(power_x[i], power_y[i], 2, 0, x, y);
                b[2][u] += c[i][u] * term(power_x[i], power_y[i], 0, 2, x, y);
                b[3][u] += c[i][u] * term(power_x[i], power_y[i], 1, 1, x, y);
            }
        for (int u = 0; u < N; u++) {
            load[u] += weight * b[0][u];
            for (int v = 0; v < N; v++)
                k[u][v] += weight * (b[1][u] * b[1][v] + b[2][u] * b[2][v] +
                                     poisson * (b[1][u] * b[2][v] + b[2][u] * b[1][v]) +
                                     2.0 * (1.0 - poisson) * b[3][u] * b[3][v]);
        }
    }
}

/* ---- band matrix --------------------------------------------------------------------------------------- */

typedef struct band {
    size_t n, width; /* unknowns; entries kept below the diagonal, itself included */
    double *at;      /* row i, column j <= i at i * width + (i - j) */
} band;

static bool factor(band *b)
{
    for (size_t i = 0; i < b->n; i++) {
        const size_t j0 = i + 1 > b->width ? i + 1 - b->width : 0;
        for (size_t j = j0; j <= i; j++) {
            const size_t k0 = sw_max_size(j0, j + 1 > b->width ? j + 1 - b->width : 0);
            const double *ri = b->at + i * b->width + i, *rj = b->at + j * b->width + j; /* [-k]: column k */
            double sum = *(ri - j);
            for (size_t k = k0; k < j; k++) sum -= *(ri - k) * *(rj - k);
            if (j < i) {
                b->at[i * b->width + (i - j)] = sum / b->at[j * b->width];
            } else {
                if (!(sum > 1e-14)) return false;
                b->at[i * b->width] = sqrt(sum);
            }
        }
    }
    return true;
}

static void solve(const band *b, double *x)
{
    for (size_t i = 0; i < b->n; i++) {
        double sum = x[i];
        for (size_t k = i + 1 > b->width ? i + 1 - b->width : 0; k < i; k++) sum -= b->at[i * b->width + (i - k)] * x[k];
        x[i] = sum / b->at[i * b->width];
    }
    for (size_t i = b->n; i-- > 0;) {
        double sum = x[i];
        for (size_t k = i + 1; k < b->n && k < i + b->width; k++) sum -= b->at[k * b->width + (k - i)] * x[k];
        x[i] = sum / b->at[i * b->width];
    }
}

/* ---- the plate ------------------------------------------------------------------------------------------ */

typedef struct plate {
    const uint8_t *is_solid, *held;
    size_t width, height;
    bool is_turned;      /* points are numbered along the shorter side */
    uint32_t *unknown;   /* first unknown of a point + 1; 0: none there, or clamped */
} plate;

static size_t point_of(const plate *p, size_t i)
{
    const size_t across = p->is_turned ? p->height + 1 : p->width + 1;
    const size_t a = i % across, b = i / across;
    return p->is_turned ? a * (p->width + 1) + b : b * (p->width + 1) + a;
}

static bool touches_solid(const plate *p, size_t point)
{
    const size_t x = point % (p->width + 1), y = point / (p->width + 1);
    for (size_t k = 0; k < 4; k++) {
        const size_t cx = x - k % 2, cy = y - k / 2; /* below zero wraps to huge */
        if (cx < p->width && cy < p->height && p->is_solid[cy * p->width + cx]) return true;
    }
    return false;
}

/* Unknowns 3 a free point; one that cannot sink keeps its slopes. */
static size_t number_points(plate *p)
{
    const size_t n_points = (p->width + 1) * (p->height + 1);
    size_t n = 0;
    for (size_t i = 0; i < n_points; i++) {
        const size_t point = point_of(p, i);
        if (!touches_solid(p, point) || p->held[point] == 2) continue;
        p->unknown[point] = (uint32_t)n + 1;
        n += 3;
    }
    return n;
}

/* A slope's unknown is slope times cell side, so that the element's matrix is the unit one. */
static void add_element(const plate *p, size_t cx, size_t cy, const double k[N][N], const double load[N], band *b,
                        double *x)
{
    const size_t stride = p->width + 1, first = cy * stride + cx;
    const size_t corner[4] = { first, first + 1, first + stride + 1, first + stride };
    for (size_t u = 0; u < N; u++) {
        if (p->unknown[corner[u / 3]] == 0) continue;
        const size_t i = p->unknown[corner[u / 3]] - 1 + u % 3;
        x[i] += load[u];
        for (size_t v = 0; v < N; v++) {
            if (p->unknown[corner[v / 3]] == 0) continue;
            const size_t j = p->unknown[corner[v / 3]] - 1 + v % 3;
            if (j <= i) b->at[i * b->width + (i - j)] += k[u][v];
        }
    }
}

/* Points that cannot sink: their first unknown becomes very stiff. */
static void hold_points(const plate *p, band *b)
{
    for (size_t i = 0; i < (p->width + 1) * (p->height + 1); i++)
        if (p->held[i] == 1 && p->unknown[i] != 0) b->at[(p->unknown[i] - 1) * b->width] += 1e9;
}

sw_status droop_plate(const sw_material *m, const uint8_t *is_solid, const uint8_t *held, size_t width, size_t height,
                      double cell_mm, double poisson, double *out_mm, sw_note *note)
{
    const size_t n_points = (width + 1) * (height + 1);
    plate p = { is_solid, held, width, height, height < width, NULL };
    band b = { 0 };
    double *x = NULL, k[N][N], load[N];
    sw_status st = SW_NO_MEMORY;
    p.unknown = sw_alloc_array(n_points, sizeof *p.unknown);
    if (p.unknown == NULL) goto cleanup;
    b.n = number_points(&p);
    b.width = 3 * (sw_min_size(width, height) + 3);
    b.at = sw_alloc_array(b.n * b.width + 1, sizeof *b.at);
    x = sw_alloc_array(b.n + 1, sizeof *x);
    if (b.at == NULL || x == NULL) goto cleanup;
    unit_element(poisson, k, load);
    for (size_t i = 0; i < width * height; i++)
        if (is_solid[i]) add_element(&p, i % width, i / width, (const double(*)[N])k, load, &b, x);
    hold_points(&p, &b);
    st = factor(&b) ? SW_OK : SW_CANNOT_HOLD;
    if (st != SW_OK) goto cleanup;
    solve(&b, x);
    const double t = m->thickness_mm, rigidity = m->modulus_mpa * t * t * t / (12.0 * (1.0 - poisson * poisson));
    const double scale = droop_weight_n_mm2(m) * cell_mm * cell_mm * cell_mm * cell_mm / rigidity;
    for (size_t i = 0; i < n_points; i++) out_mm[i] = p.unknown[i] != 0 ? scale * x[p.unknown[i] - 1] : 0.0;
cleanup:
    if (st != SW_OK) (void)sw_fail(note, st, st == SW_NO_MEMORY ? "memory is out for droop" : "a part is held by nothing");
    sw_free(p.unknown);
    sw_free(b.at);
    sw_free(x);
    return st;
}
