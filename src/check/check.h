/*
 * Check: can this be a stencil, how large must it be, and what is in the way? For pictures and for vector work.
 *
 * Out parameters are untouched unless the call returns SW_OK. Same result for any thread count.
 */
#ifndef SW_CHECK_H
#define SW_CHECK_H

#include "job/job.h"
#include "vector/vector.h"

typedef enum sw_verdict { SW_VERDICT_YES = 0, SW_VERDICT_YES_IF, SW_VERDICT_NO } sw_verdict;

/** "yes", "yes-if" or "no". */
const char *sw_verdict_name(sw_verdict verdict);

/** Why, in plain words, and what would cure it. */
typedef struct sw_reason {
    const char *name;    /* for scripts: "too-fine", "soft", ... */
    sw_verdict verdict;  /* what this alone would make of it; yes: merely worth knowing */
    double weight;       /* the gravest first */
    char what[240], cure[240];
} sw_reason;

#define SW_CHECK_MAX_REASONS 16

/** What was decided, gravest reason first. */
typedef struct sw_reasons {
    sw_verdict verdict;
    sw_reason at[SW_CHECK_MAX_REASONS];
    size_t n;
} sw_reasons;

/* ---- pictures ------------------------------------------------------------------------------------------ */

#define SW_CHECK_CURVE 25      /* points of the loss curve */
#define SW_CHECK_MAX_PASSES 6  /* rows of the table */

/** What the same picture takes with so many passes. Measured coarsely: see sw_check_picture. */
typedef struct sw_check_row {
    size_t n_passes;           /* sheets; fewer than asked for if the picture has fewer colours */
    double mean_ciede2000;     /* the wall as sprayed against the picture */
    double cut_length_mm;
    size_t n_islands, n_bridges, n_visible_bridges;
    double visible_bridge_mm2, open_mm2;
    double step_ciede2000;     /* smallest difference between two of its colours, ground included */
} sw_check_row;

/** Measures of the source, before anything is separated. */
typedef struct sw_check_source {
    size_t width_px, height_px;
    double lightness_range;    /* CIE L*, from the darkest to the lightest thousandth */
    double edge_px;            /* middle width of its edges, in its own pixels; 0 if it has none */
    double noise;              /* standard deviation in 8-bit steps, after reduction to the working raster */
    size_t working_width_px, working_height_px;
} sw_check_source;

typedef struct sw_check {
    char *name;                /* base name of the file */
    sw_cut_opts opts;          /* as asked, width and height filled in where known */
    bool has_width;
    double judged_width_mm;    /* width that the measures below are for: as asked, else the smallest that holds */
    sw_check_source source;
    /* the size question; widths are 0 if no width up to SW_MAX_MM holds */
    double smallest_width_mm, smallest_width_10_percent_mm; /* at most 2 % and 10 % of the drawing are lost */
    double curve_width_mm[SW_CHECK_CURVE], curve_lost_ratio[SW_CHECK_CURVE];
    /* at judged_width_mm */
    double lost_ratio, lost_opening_ratio, lost_web_ratio; /* shares of the drawing; the first is their sum, at most 1 */
    double narrowest_opening_mm, narrowest_web_mm; /* a twohundredth of each is thinner */
    sw_check_row row;          /* for the passes asked for */
    double bridges_per_m2;     /* visible ones, of the artwork */
    /* the passes question */
    sw_check_row rows[SW_CHECK_MAX_PASSES];
    size_t n_rows, picked_passes; /* 0: no table */
    size_t colours_needed;     /* passes for a mean difference of at most SW_CHECK_GOOD_CIEDE2000; 0: six are not enough */
    sw_reasons reasons;
    sw_picture chart;          /* check.png; empty unless asked for */
} sw_check;

#define SW_CHECK_GOOD_CIEDE2000 6.0 /* the difference of flat paint to a picture that most take for the same picture; taste */

typedef struct sw_check_opts {
    sw_cut_opts cut;           /* n_threads is ignored: see sw_threads_set */
    bool has_passes_table;
    bool has_chart;
} sw_check_opts;

/**
 * Judge a picture.
 *
 * opts    as for a job; width and height may be 0
 * out     caller frees with sw_check_free; also made when the answer is no
 *
 * The loss is measured on the picture at its own resolution or 1.2 megapixels. Islands, bridges, cut length and
 * fidelity come from separations and sheets on 0.1 megapixels: fidelity is good to a tenth, cut length (openings alone) to
 * about a third, counts of islands and bridges to a factor of two to three. They tell pass counts apart; a job measures.
 *
 * Returns SW_OK (whatever the verdict), SW_BAD_USAGE, SW_BAD_LENGTH, SW_BAD_FILE, SW_TOO_LARGE, SW_NO_MEMORY, SW_IO,
 * SW_INTERRUPTED.
 */
SW_MUST_USE sw_status sw_check_picture(const char *path, const sw_check_opts *opts, sw_check *out, sw_note *note);
/** The same from bytes in memory. */
SW_MUST_USE sw_status sw_check_picture_memory(const uint8_t *bytes, size_t n, const char *path, const sw_check_opts *opts,
                                              sw_check *out, sw_note *note);

/** Append the whole report, or only the table of 1 to 6 passes. */
void sw_check_report(const sw_check *check, sw_text *out);
void sw_check_passes_table(const sw_check *check, sw_text *out);
/** One line, without its end. */
void sw_check_line(const sw_check *check, sw_text *out);
void sw_check_json(const sw_check *check, sw_text *out);

/** NULL and zeroed are fine; leaves it zeroed. */
void sw_check_free(sw_check *check);

/* ---- vector work ----------------------------------------------------------------------------------------- */

typedef struct sw_svg_opts {
    double min_opening_mm, min_web_mm;
    double droop_mm;           /* how far a part may sink: more bridges where it would be more; 0: not limited */
    const char *material;      /* name, for the droop; NULL: the default */
} sw_svg_opts;

#define SW_SVG_MAX_FINDINGS 2000 /* of one kind that are listed; more are counted */

/** What is wrong with a drawing and where. Free with sw_svg_check_free. */
typedef struct sw_svg_check {
    char *name;
    sw_svg_opts opts;
    sw_vector vector;          /* its findings in order of kind, then line, then place */
    size_t counts[SW_FINDING_END];
    size_t n_sheets, n_contours;
    size_t n_panels;           /* of sheets that are split; 0 if none is */
    double cut_length_mm;
    sw_verdict verdict;
} sw_svg_check;

/** True if bytes look like XML or SVG rather than a picture. */
bool sw_svg_is_one(const uint8_t *bytes, size_t n);

/**
 * Find everything in a drawing that cannot be cut, or would not hold when it is.
 *
 * A group named pass-N is a sheet of its own and the document its artwork; groups cut, outline and marks are one panel, as
 * in cut files. A pass whose desc names panels (SW_PANELS_DESC) is judged panel by panel: openings may meet where two do,
 * and what lies between hangs on their frames. Everything else is one sheet; unless there is an outline the material is
 * taken to go on beyond the document.
 *
 * out     caller frees; also made when much is wrong
 *
 * Returns SW_OK, SW_BAD_LENGTH, SW_BAD_FILE (no SVG, broken XML), SW_TOO_LARGE, SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_svg_check_make(const uint8_t *bytes, size_t n, const char *path, const sw_svg_opts *opts,
                                        sw_svg_check *out, sw_note *note);
void sw_svg_check_report(const sw_svg_check *check, sw_text *out);
/** One line, without its end. */
void sw_svg_check_line(const sw_svg_check *check, sw_text *out);
void sw_svg_check_json(const sw_svg_check *check, sw_text *out);
/**
 * Give every island of a drawing bridges of min_web_mm: where a job's sheet would get them, as many as it takes that
 * nothing droops; where no such place can be drawn as a straight strip, one bridge to what is nearest.
 *
 * out        the whole file, appended; elements that needed no change are the same to the byte. Caller frees.
 * n_bridges  drawn
 * n_left     islands that no straight bridge reaches, or that a use element draws
 *
 * Returns SW_OK, SW_BAD_FILE, SW_TOO_LARGE, SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_svg_fix(const uint8_t *bytes, size_t n, const char *path, const sw_svg_opts *opts, sw_text *out,
                                 size_t *n_bridges, size_t *n_left, sw_note *note);
/** NULL and zeroed are fine; leaves it zeroed. */
void sw_svg_check_free(sw_svg_check *check);

#endif
