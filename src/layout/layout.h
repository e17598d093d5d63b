/*
 * Layout: from a sheet's contours to the panels that go to the cutter.
 *
 * A panel's coordinates are mm from the panel's OWN top left corner, y down; artwork coordinates are mm from the
 * artwork's top left. Out parameters are untouched unless the call returns SW_OK.
 */
#ifndef SW_LAYOUT_H
#define SW_LAYOUT_H

#include "contour/contour.h"

/** An open pen stroke: drawn on the material, never cut through. */
typedef struct sw_stroke {
    sw_pt_mm *at;
    size_t n;
} sw_stroke;

/** One piece of material that fits the cutter. Free through sw_layout_free. */
typedef struct sw_panel {
    size_t pass;              /* 1.. in painting order */
    char name[16];            /* "A1", "B3"; empty when the sheet is one panel */
    double width_mm, height_mm; /* the outline: frame included */
    sw_pt_mm origin;          /* the panel's top left corner in artwork coordinates (negative: in the frame) */
    sw_rect_mm art;           /* the part of the artwork it paints, artwork coordinates */
    sw_contours openings;     /* panel coordinates, in cutting order, rounded to 0.001 mm */
    sw_contours marks;        /* registration marks, cut too; panel coordinates */
    sw_contour outline;       /* the panel's edge, cut last */
    sw_stroke *strokes;       /* labels, panel coordinates */
    size_t n_strokes;
    double cut_length_mm, travel_length_mm;
    double open_area_mm2;
} sw_panel;

typedef struct sw_layout {
    sw_panel *panels;         /* by pass, then row, then column */
    size_t n_panels;
    double frame_mm;
    size_t n_replaced;        /* characters of the labels that the stroke font lacks; drawn as '?' */
} sw_layout;

/** Zero value is the default of each field where one exists. */
typedef struct sw_layout_opts {
    double frame_mm;                   /* uncut margin all round */
    double bed_width_mm, bed_height_mm; /* 0: one panel a sheet */
    double kerf_mm;
    double min_web_mm;
    double min_opening_mm;             /* 0: 3 mm; marks are never narrower */
    const char *job_name;              /* for labels; NULL: none */
} sw_layout_opts;

/** One sheet's contours and what belongs to them. */
typedef struct sw_layout_sheet {
    size_t pass;
    sw_rgb8 paint;
    const char *paint_name;            /* for the label; may be NULL */
    const sw_contours *openings;       /* artwork coordinates, whole sheet */
    const sw_windows *windows;         /* how it is split, in grid pixels; NULL or n == 1: one panel */
} sw_layout_sheet;

/** Smallest frame that holds a registration mark with enough material around it. */
double sw_layout_frame_needed_mm(const sw_layout_opts *opts);

/**
 * Place frames, marks and labels, split, order the cuts.
 * Registration marks have the same artwork position on every pass.
 * Returns SW_OK, SW_BAD_LENGTH (frame too small for a mark, panel larger than the bed), SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_layout_make(const sw_grid *grid, const sw_layout_sheet *sheets, size_t n_sheets,
                                     const sw_layout_opts *opts, sw_layout *out, sw_note *note);

void sw_layout_free(sw_layout *layout);

#endif
