/*
 * Layout: from a sheet's contours to the panels that go to the cutter.
 *
 * A panel's coordinates are mm from the panel's OWN top left corner, y down; artwork coordinates are mm from the
 * artwork's top left. Out parameters are untouched unless the call returns SW_OK.
 */
#ifndef SW_LAYOUT_H
#define SW_LAYOUT_H

#include "contour/contour.h"
#include "stencilwright/rates.h"

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
    sw_contours openings;     /* panel coordinates, in cutting order, rounded to 0.001 mm; half the kerf inside what
                                 will be open */
    sw_contours marks;        /* registration marks, cut too, as they are: all passes have the same; panel coordinates */
    sw_contour outline;       /* the panel's edge, cut last */
    sw_contours placed;       /* not cut: what openings of this pass, cut elsewhere, paint here when their panel is moved */
    size_t n_placings;        /* how often a panel is moved for that */
    sw_stroke *strokes;       /* labels, panel coordinates */
    size_t n_strokes;
    double cut_length_mm, travel_length_mm;
    double open_area_mm2;     /* as drawn, which is as painted: the kerf and what is placed included */
    bool is_turned;           /* lies on the bed turned by 90 degrees; coordinates are upright all the same */
} sw_panel;

/** Openings cut once and painted again elsewhere by moving their panel. What was cut at p lies at: p flipped left to right
 *  about `from` if is_mirrored, turned about it by turn_rad (clockwise as seen), then moved so that `from` is at `at`. */
typedef struct sw_reuse {
    size_t pass;
    size_t number;            /* of the openings used, 1.. over all passes; several places may have the same */
    size_t n_openings;
    bool is_mirrored;
    double turn_rad;
    sw_pt_mm from, at;        /* artwork coordinates */
    double cut_mm;            /* length that is not cut */
    char from_panel[16], at_panel[16]; /* empty when the sheet is one panel */
    size_t first, from_window, at_window; /* of the pass's repeats; of its sheet's windows */
} sw_reuse;

typedef struct sw_layout {
    sw_panel *panels;         /* by pass, then row, then column */
    size_t n_panels;
    sw_reuse *reused;         /* by pass */
    size_t n_reused;
    double frame_mm;
    double kerf_mm;           /* what opens is wider than the cut lines by half of it on every side */
    size_t n_replaced;        /* characters of the labels that the stroke font lacks; drawn as '?' */
    size_t n_held_back;       /* openings moved by less than half the kerf, because more would have closed them */
    size_t n_slivers;         /* slips of opening left over at seams and dropped, thinner than 0.12 min-opening */
} sw_layout;

/** Zero value is the default of each field where one exists. */
typedef struct sw_layout_opts {
    double frame_mm;                   /* uncut margin all round */
    double bed_width_mm, bed_height_mm; /* 0: one panel a sheet */
    double kerf_mm;                    /* width the beam or blade removes; openings are cut half of it inside */
    double min_web_mm;
    double min_opening_mm;             /* 0: 3 mm; marks are never narrower */
    bool is_staggered;                 /* passes are split differently: more marks, at places all passes have */
    const char *job_name;              /* for labels; NULL: none */
} sw_layout_opts;

/** One sheet's contours and what belongs to them. */
typedef struct sw_layout_sheet {
    size_t pass;
    sw_rgb8 paint;
    const char *paint_name;            /* for the label; may be NULL */
    const sw_contours *openings;       /* artwork coordinates, whole sheet */
    const sw_windows *windows;         /* how it is split, in grid pixels; NULL or n == 1: one panel */
    const struct sw_keys *keys;        /* ticks are drawn beside those of this pass; NULL: none */
    const struct sw_repeats *reuse;    /* copies to leave out where that is safe; NULL: none */
} sw_layout_sheet;

/** How sheets are split. Zero value of each field: none. */
typedef struct sw_seam_opts {
    double bed_width_mm, bed_height_mm; /* 0: one window a sheet */
    double frame_mm, kerf_mm;           /* round every panel, so a window is that much smaller than the bed */
    double min_opening_mm;              /* no seam closer than this along an edge of an opening if it can be helped */
    bool is_staggered;                  /* each pass its own seams, apart from those of the passes before */
} sw_seam_opts;

/**
 * Choose straight seams for all passes so that no panel is larger than the bed and the seams cross as little opening
 * as can be.
 *
 * masks  n_passes masks of the grid's size, openings as far as they are known (the stack is enough)
 * out    n_passes entries, each caller-freed with sw_windows_free(): rows x columns of windows, row by row, that tile
 *        the mask; the same for all passes unless staggered. As few panels as the bed allows, upright or turned.
 *
 * Returns SW_OK, SW_BAD_LENGTH (nothing of the bed is left inside the frame), SW_NO_MEMORY.
 * Cost: two passes over each mask, 4 bytes a column. Same result for any thread count.
 * Method: dynamic programming over seam places with a sliding minimum.
 */
SW_MUST_USE sw_status sw_seams_plan(const sw_mask *masks, size_t n_passes, const sw_grid *grid,
                                    const sw_seam_opts *opts, sw_windows *out, sw_note *note);

/**
 * How many windows a pass sw_seams_plan would make. *n: 1 without a bed; SW_MAX_PX at most.
 *
 * Returns SW_OK, SW_BAD_LENGTH (nothing of the bed is left inside the frame).
 */
SW_MUST_USE sw_status sw_seams_count(const sw_grid *grid, const sw_seam_opts *opts, size_t *n, sw_note *note);

/** NULL and zeroed are fine; leaves it zeroed. */
void sw_windows_free(sw_windows *windows);

/**
 * Trace a mask window by window, as the panels will be cut: along a seam every opening ends on the seam's line exactly,
 * with a corner, and no curve is fitted across. For masks whose windows were worked on one by one, so that what an
 * opening does may change at a seam.
 *
 * out   artwork coordinates, rounded to 0.001 mm, window after window; caller frees
 *
 * Returns SW_OK, SW_BAD_LENGTH, SW_NO_MEMORY. 1 byte a pixel of the windows being traced. Same bytes for any thread
 * count.
 */
SW_MUST_USE sw_status sw_windows_trace(const sw_mask *mask, const sw_windows *windows, const sw_grid *grid,
                                       const sw_trace_opts *opts, sw_contours *out, sw_note *note);

/** Zero value is the default of each field where one exists. */
typedef struct sw_guide_opts {
    double min_opening_mm, min_web_mm; /* required, above 0 */
    double dash_mm, gap_mm;            /* 0: 15 and 25 */
    double least_contrast_ratio;       /* step of lightness (OKLab L, 0..1) that counts as an edge; 0: 0.08 */
    bool is_everywhere;                /* also inside painted areas; otherwise where the bare wall stays */
    const sw_windows *windows;         /* of the mask's sheet; no dash crosses a seam; NULL: none */
} sw_guide_opts;

/**
 * Cut guide slots into a sheet: short dashes along edges of the picture that no sheet paints, so that the painter finds
 * the curve again with a brush.
 *
 * art         the picture on the grid
 * separation  its labels: edges between two labels are painted and get no dash
 * mask        in and out, the chosen pass's openings; every dash keeps min-web from other openings and from seams, so
 *             a sheet that is one piece stays so. Unchanged unless SW_OK.
 * n_dashes    may be NULL
 *
 * Returns SW_OK, SW_BAD_LENGTH, SW_NO_MEMORY. About 14 bytes a square millimetre. Same bytes for any thread count.
 * Method: edges by Canny 1986 (smoothing, gradient maxima, two thresholds) on the lightness at 1 px/mm.
 */
SW_MUST_USE sw_status sw_guides_add(const sw_picture *art, const sw_separation *separation, const sw_guide_opts *opts,
                                    sw_mask *mask, size_t *n_dashes, sw_note *note);

/** A corner of earlier paint that is seen through a sheet and harms nothing on the wall. */
typedef struct sw_key {
    size_t pass;          /* whose sheet it is seen through */
    size_t number;        /* 1.. over all passes */
    sw_pt_mm at;          /* the corner, artwork coordinates */
    bool is_cut;          /* through a window of its own, which later passes paint over; else through an opening of the pass */
    uint8_t inner, outer; /* what meets: the colour within the corner and the other; 0 the ground, else an earlier pass */
} sw_key;

/** Owned list; free with sw_keys_free. */
typedef struct sw_keys {
    sw_key *at;
    size_t n, cap;
} sw_keys;

typedef struct sw_key_opts {
    double min_web_mm;         /* what stays around a window of its own; required, above 0 */
    size_t n_wanted;           /* a panel, at most; required */
    const sw_windows *windows; /* of this pass's sheet; NULL: one */
} sw_key_opts;

/**
 * Choose key windows for one pass and cut those that are not openings of the drawing.
 *
 * masks  n_masks openings of all passes as far as they will be cut, pass k at masks[k - 1]; of them masks[pass - 1] is
 *        changed. A window keeps min-web from other openings and from seams, so a sheet that is one piece stays so.
 * pass   2.. (nothing is painted before the first)
 * keys   appended to; caller frees. On failure it holds what had been found.
 *
 * Returns SW_OK (also if no place is good enough), SW_NO_MEMORY, SW_INTERRUPTED. 1 byte a pixel. Same result for any thread
 * count.
 */
SW_MUST_USE sw_status sw_keys_find(sw_mask *const *masks, size_t n_masks, size_t pass, const sw_separation *separation,
                                   const sw_grid *grid, const sw_key_opts *opts, sw_keys *keys, sw_note *note);

/** NULL and zeroed are fine; leaves it zeroed. */
void sw_keys_free(sw_keys *keys);

/** Smallest frame that holds a registration mark with enough material around it. */
double sw_layout_frame_needed_mm(const sw_layout_opts *opts);

/**
 * Place frames, marks and labels, split, order the cuts.
 * Registration marks have the same artwork position on every pass that is split the same way; where the frame lies
 * outside the artwork neighbouring panels share them. Passes split differently share the marks around the artwork.
 * Of a split sheet, panels with nothing to cut are left out.
 * Returns SW_OK, SW_BAD_LENGTH (frame too small for a mark, panel larger than the bed), SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_layout_make(const sw_grid *grid, const sw_layout_sheet *sheets, size_t n_sheets,
                                     const sw_layout_opts *opts, sw_layout *out, sw_note *note);

void sw_layout_free(sw_layout *layout);

/* ---- openings that occur again (repeats.c) --------------------------------------------------------- */

/** An opening that is a copy of another. The original, flipped left to right about its middle if is_mirrored, then
 *  turned about it by turn_rad (clockwise as seen), then moved so that its middle is at `at`, is the copy. */
typedef struct sw_repeat {
    size_t copy, original;    /* indices in the list; an original is never itself a copy */
    bool is_mirrored;
    double turn_rad;
    sw_pt_mm original_at, at; /* centres of area */
    double off_mm;            /* farthest that one lies from the other (Hausdorff distance of the edges) */
    size_t group;             /* 1..: copied by one motion together with the others of this group; 0: by itself */
} sw_repeat;

/** Owned list; free with sw_repeats_free. */
typedef struct sw_repeats {
    sw_repeat *at;            /* by copy; once grouped: group by group, then the rest by copy */
    size_t n, cap, n_groups;
    double saved_cut_mm;      /* length of all copies: not cut if the original is used again */
} sw_repeats;

/**
 * Find openings that are copies or mirror images of an opening before them in the list.
 *
 * tolerance_mm  farthest that a copy's edge may lie from the original's; above 0
 * min_size_mm   openings whose box is smaller both ways are passed over (0: none)
 * out           caller frees
 *
 * Returns SW_OK, SW_BAD_LENGTH, SW_NO_MEMORY.
 * Method: areas and second moments of the edges sort out most pairs; cyclic correlation of evenly spaced points gives
 * the turn, closest points (Besl and McKay 1992) refine it, the Hausdorff distance decides.
 */
SW_MUST_USE sw_status sw_repeats_find(const sw_contours *openings, double tolerance_mm, double min_size_mm,
                                      sw_repeats *out, sw_note *note);

/**
 * Put repeats together that one motion brings to their copies at once, such as a leaf and its veins. Openings too small to
 * be repeats by themselves join a group; a copy may get another original, so that fewer motions are needed. Members of a
 * group have the same turn and the same original_at and at, where the middle of its first member lies and goes.
 *
 * openings, tolerance_mm  as given to sw_repeats_find, which made the list
 *
 * Returns SW_OK, SW_BAD_LENGTH, SW_NO_MEMORY, SW_INTERRUPTED; else the list is unchanged. Same result for any thread count.
 */
SW_MUST_USE sw_status sw_repeats_group(const sw_contours *openings, double tolerance_mm, sw_repeats *repeats, sw_note *note);

/** NULL and zeroed are fine; leaves it zeroed. */
void sw_repeats_free(sw_repeats *repeats);

/* ---- what it will take (estimate.c) ---------------------------------------------------------------- */

/** Rates of common practice, no source. */
sw_rates sw_rates_usual(void);
/** Returns SW_OK, SW_BAD_LENGTH (a speed or a coverage that is not above 0, a time below 0, a waste above 95 %, anything
 *  that is not finite or is a slip of the pen). */
SW_MUST_USE sw_status sw_rates_check(const sw_rates *rates, sw_note *note);

typedef struct sw_estimate_opts {
    sw_rates rates;                     /* required, see sw_rates_usual */
    double coverage_m2[SW_MAX_PASSES];  /* of the paint of pass k at k - 1; 0: the rates' */
    double paint_ratio;                 /* paint a rough wall takes over what a smooth one does; 0: 1 */
    double time_ratio;                  /* the same for placing and spraying; 0: 1 */
} sw_estimate_opts;

/** What one pass takes, or all. */
typedef struct sw_estimate {
    size_t n_panels;
    double material_m2;        /* of the panels, frames included */
    double cut_mm, travel_mm;
    size_t n_pierces;          /* contours: openings, marks, edges */
    double machine_minutes;
    double open_m2;
    size_t n_cans;             /* whole cans; of all passes: their sum, each pass has its own paint */
    double paint_cans;         /* the same before rounding up */
    double painting_minutes;   /* placing and spraying; of all passes also drying between them */
} sw_estimate;

/**
 * Estimate each pass and the whole job.
 *
 * passes  n_passes entries, pass k at passes[k - 1]; panels of other passes count in the total only
 * total   of all panels; drying between passes included
 *
 * Returns SW_OK, SW_BAD_LENGTH (see sw_rates_check; a coverage of a paint that is below 0 or not finite).
 */
SW_MUST_USE sw_status sw_layout_estimate(const sw_layout *layout, const sw_estimate_opts *opts, sw_estimate *passes,
                                         size_t n_passes, sw_estimate *total, sw_note *note);

/* ---- lettering (stroke_font.c) ----------------------------------------------------------------------- */

#define SW_FONT_CAPITAL 6.0 /* height of capitals, in units */

/** Width of a text in units, from the left of the first stroke to the right of the last. */
double sw_font_width(const char *text);

/** Gets each stroke of a text: n points, x right, y up, in units from the left end of the base line. False stops. */
typedef bool (*sw_font_fn)(void *ctx, const sw_pt_px *at, size_t n);
/** Draw a text. False if fn stopped it. n_replaced (may be NULL) counts the characters the font lacks. */
bool sw_font_draw(const char *text, sw_font_fn fn, void *ctx, size_t *n_replaced);

#endif
