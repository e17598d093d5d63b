/* Droop by beam formulas: quick enough to ask again for each bridge that might be added. */
#include <math.h>

#include "sheet/droop.h"

#define GRAVITY_M_S2 9.80665

/* Supports on several sides leave this much of a cantilever's sinking to the body itself: a strip clamped at both ends
 * sinks a third of what a cantilever of half its length does, p L^4 / 384 D against p (L/2)^4 / 8 D. */
#define SHARED_RATIO 0.35

double droop_rigidity_nmm(const sw_material *m)
{
    const double t = m->thickness_mm;
    return m->modulus_mpa * t * t * t / (12.0 * (1.0 - SW_POISSON * SW_POISSON));
}

double droop_weight_n_mm2(const sw_material *m) { return m->density_kg_m3 * 1e-9 * GRAVITY_M_S2 * m->thickness_mm; }

double droop_tongue_mm(const sw_material *m, double length_mm)
{
    const double l2 = length_mm * length_mm;
    return droop_weight_n_mm2(m) * l2 * l2 / (8.0 * droop_rigidity_nmm(m));
}

double droop_tongue_length_mm(const sw_material *m, double droop_mm)
{
    return sqrt(sqrt(8.0 * droop_rigidity_nmm(m) * droop_mm / droop_weight_n_mm2(m)));
}

/* Stiffness of one neck against the body's three motions: down, and down per mm to the right and below. */
static void add_neck(const sw_material *m, const droop_body *body, const droop_neck *neck, double k[3][3])
{
    const double t3 = m->thickness_mm * m->thickness_mm * m->thickness_mm;
    const double length = sw_max(neck->length_mm, 0.5 * neck->width_mm);
    const double ei = m->modulus_mpa * neck->width_mm * t3 / 12.0;
    const double gj = m->modulus_mpa / (2.0 * (1.0 + SW_POISSON)) * neck->width_mm * t3 / 3.0;
    const double down[3] = { 1.0, neck->at.x_mm - body->middle.x_mm, neck->at.y_mm - body->middle.y_mm };
    const double slope[3] = { 0.0, neck->ux, neck->uy }, twist[3] = { 0.0, -neck->uy, neck->ux };
    const double k_down = 12.0 * ei / (length * length * length), k_mixed = -6.0 * ei / (length * length);
    const double k_slope = 4.0 * ei / length, k_twist = gj / length;
    for (size_t i = 0; i < 3; i++)
        for (size_t j = 0; j < 3; j++)
            k[i][j] += k_down * down[i] * down[j] + k_mixed * (down[i] * slope[j] + slope[i] * down[j]) +
                       k_slope * slope[i] * slope[j] + k_twist * twist[i] * twist[j];
}

/* Cramer's rule for a load on the first unknown alone. False if the matrix is singular. */
static bool solve_first(const double k[3][3], double load, double out[3])
{
    const double c0 = k[1][1] * k[2][2] - k[1][2] * k[2][1], c1 = k[1][2] * k[2][0] - k[1][0] * k[2][2];
    const double c2 = k[1][0] * k[2][1] - k[1][1] * k[2][0];
    const double det = k[0][0] * c0 + k[0][1] * c1 + k[0][2] * c2;
    if (!(det > 0.0)) return false;
    out[0] = load * c0 / det;
    out[1] = load * c1 / det;
    out[2] = load * c2 / det;
    return true;
}

/* The point of the rim that is farthest from all necks: how far. */
static double reach_mm(const droop_body *body, const droop_neck *necks, size_t n_necks)
{
    double most = 0.0;
    for (size_t i = 0; i < body->n_rim; i++) {
        double nearest = HUGE_VAL;
        for (size_t k = 0; k < n_necks; k++)
            nearest = sw_min(nearest, hypot(body->rim[i].x_mm - necks[k].at.x_mm, body->rim[i].y_mm - necks[k].at.y_mm));
        most = sw_max(most, nearest);
    }
    return most;
}

double droop_body_mm(const sw_material *m, const droop_body *body, const droop_neck *necks, size_t n_necks)
{
    double k[3][3] = { { 0 } }, q[3];
    for (size_t i = 0; i < n_necks; i++) add_neck(m, body, &necks[i], k);
    if (n_necks == 0 || !solve_first((const double(*)[3])k, droop_weight_n_mm2(m) * body->area_mm2, q)) return HUGE_VAL;
    double lowest = 0.0;
    for (size_t i = 0; i < body->n_rim; i++)
        lowest = sw_max(lowest, q[0] + q[1] * (body->rim[i].x_mm - body->middle.x_mm) +
                                    q[2] * (body->rim[i].y_mm - body->middle.y_mm));
    const double reach = reach_mm(body, necks, n_necks), bend = droop_tongue_mm(m, reach);
    return sw_min(lowest + (n_necks == 1 ? bend : SHARED_RATIO * bend), reach + necks[0].length_mm);
}
