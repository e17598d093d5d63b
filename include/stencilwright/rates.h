/*
 * Rates for the estimates of a job: how fast a machine cuts, what a can covers, how long things take.
 */
#ifndef STENCILWRIGHT_RATES_H
#define STENCILWRIGHT_RATES_H

/** Every usual value (sw_cut_defaults has them) is common practice, no source: a shop's and a painter's own are better. */
typedef struct sw_rates {
    double feed_mm_s;        /* along a cut; usually 20 */
    double travel_mm_s;      /* between cuts; 200 */
    double pierce_s;         /* each time the tool goes in; 0.5 */
    double load_minutes;     /* a panel on and off the machine; 3 */
    double coverage_m2;      /* what one can covers in one coat; 2 */
    double waste_ratio;      /* share of the paint that lands on the sheet; 0.35 */
    double place_minutes;    /* line up one panel and tape it; 6 */
    double spray_minutes_m2; /* spray a square metre of opening; 4 */
    double dry_minutes;      /* wait between two passes; 15 */
} sw_rates;

#endif
