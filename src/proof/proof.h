/*
 * Proof: the last stage trusts nothing before it. It looks only at what is about to be written.
 *
 * Out parameters are untouched unless the call returns SW_OK.
 */
#ifndef SW_PROOF_H
#define SW_PROOF_H

#include "layout/layout.h"

typedef enum sw_fault_kind { SW_FAULT_WEB = 0, SW_FAULT_OPENING, SW_FAULT_CROSSING } sw_fault_kind;

/** A place that is narrower than it may be, or where cut lines cross. */
typedef struct sw_proof_fault {
    sw_fault_kind kind;
    sw_pt_mm at;              /* the middle of the way across, panel coordinates */
    double width_mm;          /* 0 of a crossing */
} sw_proof_fault;

/** What was measured on one panel's final curves. */
typedef struct sw_proof_panel {
    size_t n_pieces;          /* connected parts of material; 1 is right, 0 means nothing is left */
    size_t n_open_contours;   /* contours that do not end where they start */
    size_t n_crossings;       /* a contour through itself or another */
    size_t n_outside;         /* contours that leave the panel */
    size_t n_narrow_webs, n_narrow_openings; /* parts narrower than asked, as sheet.h defines narrow */
    double narrowest_web_mm, narrowest_opening_mm; /* of necks and specks up to 1.3 times what was asked; 0 if
                                                       there is none; openings: marks only if too narrow */
    sw_pt_mm narrowest_web_at, narrowest_opening_at; /* panel coordinates */
    sw_proof_fault *faults;   /* every place of every narrow part, and places of crossings; owned by the proof */
    size_t n_faults, cap_faults;
    sw_hang hang;             /* what sinks lowest, artwork coordinates; zero if droop is not asked */
    bool is_good;             /* whatever hangs */
} sw_proof_panel;

typedef struct sw_proof {
    sw_proof_panel *panels;   /* as in the layout */
    size_t n_panels;
    double mean_ciede2000;    /* composite of all panels as sprayed against the picture on the grid */
    bool is_good;             /* every panel is */
} sw_proof;

/** Panels that were measured before, and what was asked of them then. Free with sw_proof_known_free. */
typedef struct sw_proof_known {
    sw_layout layout;
    sw_proof proof;           /* of its panels; the composite is not measured */
    double min_opening_mm, min_web_mm, px_per_mm;
    double droop_mm;          /* 0: what hangs is not measured */
    sw_material material;     /* then: of what */
} sw_proof_known;

typedef struct sw_proof_opts {
    double min_opening_mm, min_web_mm; /* as asked by the user; a panel is good down to 0.9 times each */
    double px_per_mm;         /* resolution of the scan conversion; 0: 10 px across the smaller of the two */
    double droop_mm;          /* as asked; 0: droop is not measured */
    const sw_material *material; /* NULL: the default */
    const sw_proof_known *known; /* n_known; a panel that had no fault, and has the same size and to the bit the same curves
                                    to be cut, is not measured again when the same was asked */
    size_t n_known;
} sw_proof_opts;

/**
 * Scan-convert every panel's curves and measure them.
 * composite: when not NULL, filled with the wall as sprayed on the grid: ground, then each pass where it is open.
 * Returns SW_OK (also when the proof fails: see is_good), SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_proof_make(const sw_layout *layout, const sw_grid *grid, const sw_separation *separation,
                                    const sw_picture *art, const sw_proof_opts *opts, const sw_progress *progress,
                                    sw_proof *out, sw_picture *composite, sw_note *note);

/**
 * Measure the curves of one panel: everything but the composite.
 * out: caller frees out->faults with sw_free. Returns SW_OK (also when the panel fails: see is_good), SW_BAD_LENGTH,
 * SW_TOO_LARGE, SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_proof_panel_make(const sw_panel *panel, const sw_proof_opts *opts, sw_proof_panel *out,
                                          sw_note *note);

/**
 * Measure the curves of all panels of a layout: everything but droop and composite; opts->droop_mm counts for nothing.
 * layout: emptied if SW_OK. *out: caller frees with sw_proof_known_free; untouched unless SW_OK. Returns as
 * sw_proof_panel_make.
 */
SW_MUST_USE sw_status sw_proof_known_make(sw_layout *layout, const sw_proof_opts *opts, sw_proof_known *out, sw_note *note);
/** Measure as well what hangs on each panel, for droop_mm and material of opts, unless one has a fault. Returns SW_OK,
 *  SW_NO_MEMORY: then nothing is known of what hangs. */
SW_MUST_USE sw_status sw_proof_known_hang(sw_proof_known *known, const sw_proof_opts *opts, sw_note *note);
/** NULL and zeroed are fine; leaves it zeroed. */
void sw_proof_known_free(sw_proof_known *known);

/** One line that says what is wrong with the first bad panel and what would mend it; empty if the proof is good. */
void sw_proof_explain(const sw_proof *proof, const sw_layout *layout, sw_text *out);

void sw_proof_free(sw_proof *proof);

#endif
