/* What droop is reckoned with: stiffness and weight of a material, and the strip that all else is measured by. */
#include <math.h>

#include "sheet/droop.h"

#define GRAVITY_M_S2 9.80665

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
