/* How far material sinks, by squares; private to src/sheet/bridge_sag.c and bridge_held.c. */
#ifndef SW_SHEET_BRIDGE_SAG_H
#define SW_SHEET_BRIDGE_SAG_H

#include "sheet/bridge_hold.h"

/** The lowest place of each square. Free with bridge_sag_free. */
typedef struct bridge_sag {
    double square_mm;
    sw_pt_mm corner;
    size_t width, height;
    float *sink_mm;
    sw_hang worst;
} bridge_sag;

/** Of a window's net, solved. Returns SW_OK, SW_NO_MEMORY. */
SW_MUST_USE sw_status bridge_sag_make(const bridge_ground *g, hold_net *net, bridge_sag *out, sw_note *note);
void bridge_sag_free(bridge_sag *sag);

/** Does a square near a place sink lower than it did, and too low? Both of the same window. */
bool bridge_sag_is_worse(const bridge_sag *now, const bridge_sag *before, sw_pt_mm at, double limit_mm);

#endif
