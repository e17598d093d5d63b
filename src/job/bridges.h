/* Inside src/job/ only: bridges in the order people are told of them, and the pictures that show them. */
#ifndef SW_JOB_BRIDGES_H
#define SW_JOB_BRIDGES_H

#include "job/job.h"

/** A bridge in a list; its number is its place, from 1. */
typedef struct sw_job_bridge {
    const sw_bridge *bridge; /* the job's */
    size_t pass, index;      /* of the sheet, and within its list */
    sw_pt_mm middle;         /* from the artwork's top left */
    size_t line;             /* which tenth of the height it lies in */
} sw_job_bridge;

/** All bridges by pass, then as one reads: in lines of a tenth of the height, from left to right. *out: n entries, caller
 *  frees with sw_free; NULL if there are none. Returns SW_OK, SW_NO_MEMORY. */
SW_MUST_USE sw_status sw_job_list_bridges(const sw_job *job, sw_job_bridge **out, size_t *n, sw_note *note);
/** The bridges that show on the wall, largest visible area first. Else the same. */
SW_MUST_USE sw_status sw_job_list_visible(const sw_job *job, sw_job_bridge **out, size_t *n, sw_note *note);

/** What rings and numbers are drawn on: the wall made pale, and white below. */
typedef struct sw_bridge_chart {
    sw_picture canvas;       /* the chart's own */
    size_t width_px, height_px; /* of the wall's part, at the top left */
    double px_per_mm;
} sw_bridge_chart;

/** Ring every bridge of the list and letter its number beside it. Rings: one that shows has a circle, a hidden one a
 *  dashed diamond. Numbers stand clear of each other where there is room. Returns SW_OK, SW_NO_MEMORY. */
SW_MUST_USE sw_status sw_bridge_chart_mark(sw_bridge_chart *chart, const sw_job_bridge *list, size_t n, sw_note *note);
/** The sign alone, for legends: half its size is half_px. */
void sw_bridge_chart_sign(sw_picture *canvas, sw_pt_px middle, double half_px, bool is_hidden);

/** How wide the wall is in a chart of a small picture of it. */
size_t sw_bridge_chart_width_px(const sw_picture *small);
/** bridges.png: every bridge. small: the wall as preview.png shows it. *out: caller frees with sw_picture_free; untouched
 *  unless SW_OK. Returns SW_OK, SW_NO_MEMORY. */
SW_MUST_USE sw_status sw_job_draw_bridges(const sw_job *job, const sw_picture *small, sw_picture *out, sw_note *note);
/** touch-up.png: the bridges that show, with a table to work through. Else the same. */
SW_MUST_USE sw_status sw_job_draw_touch_up(const sw_job *job, const sw_picture *small, sw_picture *out, sw_note *note);

#endif
