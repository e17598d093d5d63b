/* Inside src/layout/ only: what its files ask of each other. */
#ifndef SW_LAYOUT_PARTS_H
#define SW_LAYOUT_PARTS_H

#include "layout/layout.h"

#define SW_LAYOUT_STEP_MM 0.001 /* everything that is cut lies on whole multiples of this */

/* ---- stroke font (stroke_font.c). Units: a capital is 6 high; y up. ---------------------------------- */

/** Next character of UTF-8 text; *text moves past it. 0 at the end; U+FFFD for bytes that are not UTF-8. */
uint32_t sw_font_next(const char **text);

#define SW_FONT_UP_ARROW 1u      /* a code of our own: an arrow that points up */
#define SW_FONT_LINE 12.0        /* from one base line to the next, accents and descenders included */
#define SW_FONT_ABOVE 8.5        /* above the base line at most, accents included */
#define SW_FONT_BELOW 2.0        /* below the base line at most */

/** True if the font has the character; others are drawn as '?'. */
bool sw_font_has(uint32_t code);
/* ---- where a panel lies (place.c) ------------------------------------------------------------------- */

/** A panel among those of its sheet. */
typedef struct sw_panel_place {
    size_t row, column, n_rows, n_columns;
    double sheet_width_mm, sheet_height_mm; /* of the whole artwork */
    bool is_written[4]; /* by sw_side: there is a panel next to it, and it has something to cut */
} sw_panel_place;

typedef enum sw_side { SW_SIDE_TOP, SW_SIDE_RIGHT, SW_SIDE_BOTTOM, SW_SIDE_LEFT } sw_side;

/** Whether the artwork goes on past this side. */
bool sw_place_has_neighbour(const sw_panel_place *place, sw_side side);

/** A window in artwork mm: seams on whole steps of SW_LAYOUT_STEP_MM, the artwork's own edges where they are. */
sw_rect_mm sw_window_art(const sw_grid *grid, const sw_rect_px *window);

/** "A1": rows are letters from the top, columns numbers from the left. Empty for the only panel of a sheet. */
void sw_place_name(const sw_panel_place *place, char name[16]);
/** Name of the panel next to this one on a side; empty if none is written there. */
void sw_place_neighbour_name(const sw_panel_place *place, sw_side side, char name[16]);

/* ---- registration marks (marks.c) ------------------------------------------------------------------- */

/** Add the panel's marks; its size must be set. */
SW_MUST_USE sw_status sw_marks_add(sw_panel *panel, const sw_panel_place *place, double frame_mm,
                                   const sw_layout_opts *opts, sw_note *note);
/** The longest stretch of one side of the frame, between the corners, that is free of marks: room for labels. In mm
 *  from the panel's left (top and bottom) or top (left and right). */
void sw_marks_free_stretch(const sw_panel *panel, sw_side side, double frame_mm, double *from_mm, double *to_mm);

/* ---- labels (label.c) ------------------------------------------------------------------------------- */

typedef struct sw_label_info {
    const char *job_name, *paint_name; /* may be NULL */
    size_t pass, n_passes;
    sw_rgb8 paint;
    double art_width_mm, art_height_mm;
    sw_panel_place place;
} sw_label_info;

/** Draw the panel's labels on its frame; what does not fit is left out from the least important on. */
SW_MUST_USE sw_status sw_labels_add(sw_panel *panel, double frame_mm, const sw_label_info *info, size_t *n_replaced,
                                    sw_note *note);

/* ---- lines on a panel (pen.c) -------------------------------------------------------------------------- */

#define SW_PEN_CAPITAL_MM 4.0

/** Draws strokes onto a panel. Begin with { .panel = panel, .cap = panel->n_strokes }; end with sw_pen_end. */
typedef struct sw_pen {
    sw_panel *panel;
    size_t cap;
    sw_pt_mm origin;    /* of lettering */
    double unit_mm;
    sw_pt_mm *line;     /* a flattened edge of n points */
    size_t n, cap_line;
    sw_rect_mm *boxes;  /* around the panel's openings and marks */
    bool is_written;    /* the last lettering found a place */
} sw_pen;

/** Free what the pen holds; the strokes are the panel's. */
void sw_pen_end(sw_pen *p);

/** Each returns false when memory is out. */
SW_MUST_USE bool sw_pen_stroke(sw_pen *p, const sw_pt_mm *at, size_t n);
/** A line if it is clear, with an arrow head at its end if asked. */
SW_MUST_USE bool sw_pen_line(sw_pen *p, sw_pt_mm a, sw_pt_mm b, bool has_head);
/** Lettering at the first of the places (its lower left) where it is clear; none is fine: p->is_written tells. */
SW_MUST_USE bool sw_pen_text(sw_pen *p, const char *text, const sw_pt_mm *places, size_t n_places);
/** Chords of a closed edge into p->line. */
SW_MUST_USE bool sw_pen_flatten(sw_pen *p, const sw_contour *edge);
/** All of the line on material, that is over no opening and no registration mark, and within the panel. *is_full is set when memory is out. */
bool sw_pen_is_clear(sw_pen *p, sw_pt_mm a, sw_pt_mm b, bool *is_full);
double sw_pen_text_width_mm(const char *text);

/** Draw ticks beside the keys that this panel has (keys_draw.c). */
SW_MUST_USE sw_status sw_keys_draw(const sw_keys *keys, sw_panel *panel, sw_note *note);

/* ---- openings used again (reuse.c, reuse_draw.c) ------------------------------------------------------ */

/** Of one sheet. Free with sw_reuse_plan_free. */
typedef struct sw_reuse_plan {
    const sw_repeats *repeats;   /* the sheet's */
    const sw_contours *openings;
    bool *is_left_out;           /* one an opening; NULL: none */
    sw_reuse *at;
    size_t n, cap;
} sw_reuse_plan;

/** Choose the copies that are left out. windows: of the sheet, artwork mm. n_numbers: given so far. *out is made anew. */
SW_MUST_USE sw_status sw_reuse_plan_make(const sw_layout_sheet *sheet, const sw_rect_mm *windows, size_t n_windows,
                                         size_t *n_numbers, sw_reuse_plan *out, sw_note *note);
void sw_reuse_plan_free(sw_reuse_plan *plan);
/** Where a point of the originals comes to lie. */
sw_pt_mm sw_reuse_move(const sw_reuse *reuse, sw_pt_mm p);
/** Append what is painted in a window by moving a panel; artwork coordinates. */
SW_MUST_USE sw_status sw_reuse_place(const sw_reuse_plan *plan, size_t window, sw_contours *out, sw_note *note);
/** Draw the places and the originals that this panel has; panel->placed must be set. */
SW_MUST_USE sw_status sw_reuse_draw(const sw_reuse_plan *plan, size_t window, sw_panel *panel, sw_note *note);

/* ---- cutting order (order.c) ------------------------------------------------------------------------ */

/** Put marks and openings in cutting order, choose where each starts, set cut and travel length. */
SW_MUST_USE sw_status sw_order_cuts(sw_panel *panel, sw_note *note);

#endif
