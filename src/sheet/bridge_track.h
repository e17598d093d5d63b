/* A line followed by both its edges; private to src/sheet/bridge_track.c, bridge_short.c and bridge_along.c. */
#ifndef SW_SHEET_BRIDGE_TRACK_H
#define SW_SHEET_BRIDGE_TRACK_H

#include "sheet/bridge_parts.h"

#define BRIDGE_TRACK_PX 3.0 /* a step */

/** A place on a line that is followed. */
typedef struct bridge_tracker {
    sw_pt_px at;      /* midway between its edges */
    double dx, dy;    /* along it */
    double width_px;
} bridge_tracker;

/** From a strip across a line; way: 1 or -1. */
bridge_tracker bridge_track_from(const bridge_strip *s, double way);

/** Distance to the line's two edges at a place, across at an angle from square; false if there is material. */
bool bridge_track_edges(const bridge_ground *g, sw_pt_px at, const bridge_tracker *k, double turn, double *left, double *right);

/** One step along the line; false where it ends, widens or is blocked: the tracker stays before that. */
bool bridge_track_step(const bridge_ground *g, bridge_tracker *k);

#endif
