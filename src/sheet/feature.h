/* Smallest features of one window of one sheet; private to src/sheet/. */
#ifndef SW_SHEET_FEATURE_H
#define SW_SHEET_FEATURE_H

#include "sheet/bits.h"

/** What mending one window needs to know. Borrowed. */
typedef struct sw_feature_job {
    const sw_separation *separation;
    const sw_bits *stack;  /* first masks of all passes, n_passes of them, whole grid without a margin */
    double error[SW_MAX_PASSES + 1][SW_MAX_PASSES + 1]; /* CIEDE2000 between the colours of two labels */
    sw_rect_px window;     /* all around it is frame */
    size_t opening_px, web_px; /* narrower than this is mended, up to SW_DISC_MAX_PX */
    size_t opening_to_px, web_to_px; /* what is widened or thickened becomes so wide, at least the above */
} sw_feature_job;

/**
 * Before bridging: widen or drop narrow openings, thicken or merge narrow webs, whichever shows less on the wall.
 * Changes sheet->openings inside the window and the sheet's counts. Narrow parts may be left: sw_features_settle.
 * On failure the openings are undefined. Returns SW_OK, SW_NO_MEMORY. 10/8 bytes a pixel of the window.
 */
SW_MUST_USE sw_status sw_features_mend(sw_sheet *sheet, const sw_feature_job *job, sw_note *note);

/**
 * After bridging: fill narrow openings and thicken narrow webs until nothing narrow is left. Material is only added,
 * and only where it touches material, so what was one piece stays one piece.
 */
SW_MUST_USE sw_status sw_features_settle(sw_sheet *sheet, const sw_feature_job *job, sw_note *note);

#endif
