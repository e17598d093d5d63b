/*
 * Sheets: one mask a pass, whose openings and webs are wide enough and whose material is one piece.
 *
 * A mask is the artwork's area only; outside it lies the frame, which is material. Material joins over sides only
 * (4 neighbours), openings over corners too (8). Widths are measured edge to edge.
 *
 * NARROW. For a set and a width w, let O be the set opened by the closed disc of diameter w. A connected part of
 * set minus O is narrow when it touches O at no place (a speck), at two or more separate stretches (a neck), or
 * reaches farther than w from O (a spike). Corners leave parts that are none of these; corners may stay.
 * The proof and the tests use the same definition, in their own code.
 *
 * Out parameters are untouched unless the call returns SW_OK.
 */
#ifndef SW_SHEET_H
#define SW_SHEET_H

#include "separate/separate.h"

/** 1 byte a pixel, row-major: 1 opening (paint goes through), 0 material. Free with sw_mask_free. */
typedef struct sw_mask {
    size_t width_px, height_px;
    uint8_t *at;
} sw_mask;

SW_MUST_USE sw_status sw_mask_make(size_t width_px, size_t height_px, sw_mask *out, sw_note *note);
/** The same, but what it holds is left to chance until its owner has written all of it. */
SW_MUST_USE sw_status sw_mask_make_raw(size_t width_px, size_t height_px, sw_mask *out, sw_note *note);
SW_MUST_USE sw_status sw_mask_copy(const sw_mask *in, sw_mask *out, sw_note *note);
void sw_mask_free(sw_mask *mask);

/* ---- distance, components (distance.c, component.c) ----------------------------------------------- */

/**
 * Exact squared Euclidean distance, in pixels^2, from each pixel's centre to the centre of the nearest pixel of the
 * mask's area whose value equals target (0 or 1). UINT32_MAX where there is none; a distance of 65535 px or more is
 * UINT32_MAX - 1 or, if mostly along a column, at least 65535^2. is_outside_target: everything
 * outside the mask counts as target too. Method: Felzenszwalb and Huttenlocher 2012.
 * From centre distance d to the edge of the target set: between d - 0.5 and d - 0.5 * sqrt(2) (on the axes d - 0.5).
 * out: width_px * height_px values, the caller's. Same bytes for any thread count.
 */
SW_MUST_USE sw_status sw_distance_sq(const sw_mask *mask, uint8_t target, bool is_outside_target, uint32_t *out,
                                     sw_note *note);

/** Connected components of the pixels whose value equals value; labels 1..*n in raster order of their first pixel, 0
 *  elsewhere. is_eight: corners join too. label: the caller's, width_px * height_px. */
SW_MUST_USE sw_status sw_components(const sw_mask *mask, uint8_t value, bool is_eight, uint32_t *label, size_t *n,
                                    sw_note *note);

/* ---- stacking (stack.c) ---------------------------------------------------------------------------- */

/**
 * First masks of all passes: what must be cut, and of the free area (painted over later) what is worth cutting.
 * trap_mm: how far a pass spreads under a later colour; never outward past its own edge to ground or earlier paint.
 * out: separation->n_passes masks, pass k at out[k - 1], each caller-freed.
 * Invariant, tested: painting the masks in order gives the separation's labels at every pixel.
 */
SW_MUST_USE sw_status sw_sheets_stack(const sw_separation *separation, double trap_mm, sw_mask *out, sw_note *note);

/* ---- material (material.c) ------------------------------------------------------------------------ */

/** What sheets are cut from. Typical values; measure your own where it matters. */
typedef struct sw_material {
    const char *name;      /* a plain word */
    double thickness_mm;
    double density_kg_m3;
    double modulus_mpa;    /* of elasticity, in bending */
    double min_opening_mm, min_web_mm; /* what is cut and lasts, where nothing else is asked */
    double kerf_mm;        /* of the tool that usually cuts it */
} sw_material;

#define SW_POISSON 0.3     /* ratio used for every material */

/** The table in a fixed order; the first is the default. NULL beyond its end. */
const sw_material *sw_material_at(size_t i);
/** By name; NULL if there is none, the default if name is NULL. */
const sw_material *sw_material_find(const char *name);

/* ---- what hangs (hold.c) --------------------------------------------------------------------------- */

/** The part of a sheet that sinks most under its own weight when the sheet is carried flat. Zero: nothing hangs. */
typedef struct sw_hang {
    double droop_mm;
    sw_pt_mm at;           /* its lowest place */
    double length_mm;      /* from there, through material, to what is broad and held */
    double width_mm;       /* the narrowest on that way */
    size_t n_over;         /* parts that droop more than the limit */
} sw_hang;

/** Material in square cells, a border of frame one cell wide all round. Free with sw_hold_cells_free. */
typedef struct sw_hold_cells {
    size_t width, height;
    double cell_mm;
    sw_pt_mm origin;       /* the corner of cell (0, 0) */
    float *cover;          /* share of each cell that is material */
} sw_hold_cells;

/** Cells for an area from corner on; all is open but the border and what reaches past the area. Returns SW_OK, SW_NO_MEMORY. 4 bytes a cell. */
SW_MUST_USE sw_status sw_hold_cells_make(double width_mm, double height_mm, double cell_mm, sw_pt_mm corner,
                                         sw_hold_cells *out, sw_note *note);
void sw_hold_cells_free(sw_hold_cells *cells);
/** A run of material from x0_mm to x1_mm in cell row row, which counts share of a cell's height. */
void sw_hold_cells_add(sw_hold_cells *cells, size_t row, double x0_mm, double x1_mm, double share);

/**
 * How far the worst part sinks: a net of beams between the broad and what hangs on it (hold.h). A measure to compare
 * parts by, no certificate of strength. limit_mm: what is asked, above 0; it sets from which width on material counts
 * as stiff. Returns SW_OK, SW_NO_MEMORY. About 50 bytes a cell.
 */
SW_MUST_USE sw_status sw_hold_measure(const sw_hold_cells *cells, const sw_material *material, double limit_mm,
                                      sw_hang *out, sw_note *note);

/* ---- one sheet ------------------------------------------------------------------------------------- */

#define SW_BRIDGE_BENDS 24u

/** A strip of material across an opening. Centre line from a over n_bends bends to b, in mm from the artwork's top left. */
typedef struct sw_bridge {
    sw_pt_mm a, b;
    double width_mm;
    double area_mm2;     /* opening it takes away */
    double visible_mm2;  /* of that, what no later pass paints */
    double visible_error; /* CIEDE2000 x mm2 on the wall */
    bool is_hidden;      /* visible_mm2 is nothing */
    bool is_line_end;    /* a drawn line stops short of another, whose edge the bridge's side continues */
    bool is_bent;        /* follows a path from a to b: over the bends, or, if there are none, one of many turns */
    size_t n_bends;
    sw_pt_mm bend[SW_BRIDGE_BENDS];
    bool is_for_droop;   /* only helps to hold; else an island would fall without it */
} sw_bridge;

/** One pass's sheet. Free with sw_sheet_free. 1 byte a pixel. */
typedef struct sw_sheet {
    size_t pass;          /* 1.. in painting order */
    sw_rgb8 paint;
    sw_mask openings;     /* after features and bridges */
    sw_bridge *bridges;
    size_t n_bridges, cap_bridges;
    size_t n_islands;     /* found before bridging */
    size_t n_islands_dropped; /* too small to bridge: cut away with the opening around */
    size_t n_openings_widened, n_openings_dropped, n_webs_thickened, n_webs_merged;
    double lost_mm2, gained_mm2; /* opening area lost and gained against the stack */
    sw_hang hang;         /* the worst part; zero if droop is not limited */
    bool is_one_piece;    /* every bit of material hangs on the frame */
} sw_sheet;

typedef struct sw_sheets {
    sw_sheet *at;
    size_t n;
} sw_sheets;

/** Zero value is the default of each field where one exists. */
typedef struct sw_sheet_opts {
    double min_opening_mm, min_web_mm; /* required, above 0 */
    double slack_mm;   /* planned wider by this on top, because curves are fitted within a tolerance */
    double trap_mm;
    double droop_mm;   /* 0: not limited */
    const sw_material *material;       /* for droop; NULL: the default */
    const sw_marks *marks;             /* NULL: none */
    bool is_rough;     /* bridges where the search first finds them: to estimate, not to cut */
    /* Seams of each pass (windows are worked on as if each had a frame all round); NULL: one window a sheet. */
    const struct sw_windows *windows;  /* n_passes entries */
} sw_sheet_opts;

/** How one sheet is split: rows x columns of whole-pixel rectangles that tile the mask exactly. */
typedef struct sw_windows {
    sw_rect_px *at;
    size_t n;
} sw_windows;

/**
 * All sheets of a job: stack, smallest features, islands, bridges, until each window of each sheet is one piece and
 * has nothing narrow left.
 * art: the picture on the grid, for visible error; may be NULL, then error is counted between label colours.
 * out: caller frees with sw_sheets_free.
 * Returns SW_OK, SW_BAD_LENGTH, SW_NO_MEMORY. A sheet that cannot be held is SW_OK with is_one_piece false.
 */
SW_MUST_USE sw_status sw_sheets_make(const sw_separation *separation, const sw_picture *art, const sw_sheet_opts *opts,
                                     const sw_progress *progress, sw_sheets *out, sw_note *note);

void sw_sheet_free(sw_sheet *sheet);
void sw_sheets_free(sw_sheets *sheets);

#endif
