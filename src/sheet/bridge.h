/* Bridges of one window of one sheet; private to src/sheet/. */
#ifndef SW_SHEET_BRIDGE_H
#define SW_SHEET_BRIDGE_H

#include "sheet/sheet.h"

/** What bridging one window needs to know. Borrowed. */
typedef struct sw_bridge_job {
    const sw_separation *separation;
    const uint8_t *below;     /* label of what the wall shows before this pass, whole grid (0 ground) */
    const struct sw_notice *notice; /* what an error at a pixel counts (notice.h); NULL: made for this call */
    const sw_picture *art;    /* the picture on the grid; NULL: errors between label colours */
    const sw_marks *marks;    /* NULL: none */
    sw_rect_px window;        /* all around it is frame: everything that touches its edge hangs */
    double width_mm;          /* of a bridge: min-web plus slack */
    double min_opening_mm;    /* an opening left beside a bridge must be at least this */
    double droop_mm;          /* 0: not limited */
    const sw_material *material; /* for droop; NULL: the default */
    bool is_rough;            /* the first strips found will do */
} sw_bridge_job;

/**
 * Join every island of sheet->openings inside job->window to the frame by leaving material across openings.
 *
 * Changes sheet->openings inside the window (only from 1 to 0, or from 0 to 1 where an island too small to bridge is
 * cut away), appends to sheet->bridges, adds to n_islands and n_islands_dropped; on failure the sheet's openings are
 * undefined, its lists still freeable. An island that cannot be reached (keep-clear all round) stays: the caller
 * counts pieces itself.
 * Returns SW_OK, SW_NO_MEMORY. Memory: at most 40 bytes a pixel of the window. Same bytes for any thread count.
 */
SW_MUST_USE sw_status sw_bridges_plan(sw_sheet *sheet, const sw_bridge_job *job, sw_note *note);

/** An opening in an earlier sheet under a straight piece of a visible bridge: px begin to end along it. */
typedef struct sw_back {
    size_t pass, under, bridge;       /* whose bridge, in that sheet's list; the sheet that has the opening */
    sw_pt_px mid;                     /* of the piece, and its direction, half its length and half the opening's width */
    double dx, dy, half_px, reach_px;
    size_t x0, y0, x1, y1;            /* box that holds it */
    size_t begin, end;
    double error;                     /* that the bridge shows less because of it */
    bool is_closed;
} sw_back;

typedef struct sw_backs {
    sw_back *at; /* free with sw_free */
    size_t n, cap;
} sw_backs;

/**
 * After all sheets are planned: openings in earlier sheets under visible bridges of later ones, where the earlier colour
 * stands out less than what the bridge shows now. Each keeps min_web_mm from all other openings of its sheet, lies under
 * the later pass's own label alone, and lowers the bridges' visible_error.
 *
 * windows: n_passes entries, NULL for one window a sheet. out: zeroed before, caller frees out->at, also where it failed.
 * Returns SW_OK, SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_bridges_back(sw_sheets *sheets, const sw_separation *separation, const sw_windows *windows,
                                      double min_opening_mm, double min_web_mm, sw_backs *out, sw_note *note);

/** Open (value 1) or close (0) such an opening in its sheet's mask. */
void sw_back_fill(const sw_sheets *sheets, const sw_separation *separation, const sw_back *back, uint8_t value);

/** One window of an earlier sheet. Borrowed. */
typedef struct sw_back_window {
    const sw_sheets *sheets;
    const sw_separation *separation;
    size_t under;                     /* the sheet, from 1 */
    sw_rect_px window;
    double width_mm, droop_mm;        /* of a bridge; the limit, 0 none */
    const sw_material *material;      /* NULL: the default */
    bool is_bent;                     /* it has bent bridges, which are straight beams to the plan: measure in any case */
} sw_back_window;

/**
 * Close openings of a window whose material holds within the limit without them, and does not with them; they are marked,
 * and the bridges' errors left to the caller. Windows may be looked at by threads at once.
 *
 * hang   in: as planned; out: as measured with the openings that stay, if that is lower; the window as it is if it has none
 * Returns SW_OK, SW_NO_MEMORY. What is cut stays as it was if it holds as planned. Memory: as sw_hold_measure.
 */
SW_MUST_USE sw_status sw_backs_hold(const sw_back_window *window, sw_backs *backs, sw_hang *hang, sw_note *note);

#endif
