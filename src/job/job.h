/*
 * Job: the whole pipeline in one call, what it made, and what is said about it.
 *
 * The public side is stencilwright/stencilwright.h; this door adds what the writers of reports need to see.
 */
#ifndef SW_JOB_H
#define SW_JOB_H

#include "stencilwright/stencilwright.h"
#include "write/write.h"

/** Everything a finished job holds. Every part is owned; zeroed parts are fine. */
struct sw_job {
    sw_cut_opts asked;            /* as asked, lengths in whole nanometres */
    sw_cut_opts opts;             /* the same, filled in: width, height, what the material decides */
    sw_material material;         /* as thick as asked */
    const char *picture_path;     /* as asked; the job's own, as all strings of asked and opts */
    const char *picture_name;     /* base name of the picture's file */
    size_t source_width_px, source_height_px; /* upright, in the file */
    sw_grid grid;
    double tolerance_mm;          /* of the curves */
    sw_paints paints;             /* what may be used: the options' own, then the list's; none: free choice */
    sw_marks marks;               /* none if no width_px */
    size_t zone_of_pass[SW_MAX_PASSES + 1]; /* index in opts.zone, when there are zones */
    sw_windows *windows;          /* how each sheet is split, n_windows entries; NULL: not split */
    size_t n_windows;
    sw_separation separation;
    sw_sheets sheets;
    sw_contours *openings;        /* a list a pass: pass k at openings[k - 1]; artwork coordinates, rounded */
    size_t n_openings;            /* number of lists */
    sw_shared shared[SW_MAX_PASSES]; /* what pass k's curves have in common with earlier ones, at k - 1 */
    sw_proof_known known[SW_MAX_PASSES]; /* until the proof: what mending measured last on pass k's sheet, at k - 1 */
    sw_layout layout;
    sw_keys keys;                 /* key windows, by pass */
    size_t n_guides;              /* guide slots cut */
    sw_repeats repeats[SW_MAX_PASSES]; /* openings that are copies of another in their sheet; pass k at k - 1 */
    sw_estimate estimate, pass_estimates[SW_MAX_PASSES]; /* pass k at k - 1 */
    sw_proof proof;
    sw_picture composite;         /* the wall as sprayed, on the grid */
    sw_text warnings;             /* one a line */
};

/** Fill in width_mm and height_mm from what was asked of them and the picture's header. Returns SW_OK, SW_BAD_LENGTH (neither
 *  side nor density; sides that do not fit the picture's shape; longer than SW_MAX_MM). */
SW_MUST_USE sw_status sw_job_sides(const sw_picture_info *info, const char *name, sw_cut_opts *opts, sw_note *note);

/**
 * Fill in both sides, what the material decides, and the grid from the options and the picture's size.
 *
 * info    the picture's size and density, from its header
 * opts    in: what was asked; out: width_mm and height_mm are both set
 * grid    out: at least 6 px across the smaller of min-opening and min-web
 *
 * Returns SW_OK, SW_BAD_LENGTH (neither side nor density; sides that do not fit the picture's shape; smaller than one
 * opening; longer than SW_MAX_MM or, unsplit, than a page of PDF or EPS), SW_TOO_LARGE (more pixels than SW_MAX_PX).
 */
SW_MUST_USE sw_status sw_job_size(const sw_picture_info *info, const char *name, sw_cut_opts *opts, sw_grid *grid,
                                  sw_note *note);

/** How the job's sheets are split. */
sw_seam_opts sw_job_seam_opts(const sw_cut_opts *opts);

/** Will the job stay within opts->memory_bytes, and be of a number of panels that somebody could lay out? bytes, n: the
 *  picture's file; width and grid are filled in. Returns SW_OK, SW_TOO_LARGE with a size that would fit, SW_BAD_LENGTH (a bed
 *  that is all frame). */
SW_MUST_USE sw_status sw_job_check_memory(const uint8_t *bytes, size_t n, const char *name, const sw_picture_info *info,
                                          const sw_cut_opts *opts, const sw_grid *grid, sw_note *note);

/** What the paint goes on, and how it changes defaults and estimates: factors of 1 and above; common practice, no source. */
typedef struct sw_surface {
    const char *name;
    double opening_ratio, web_ratio; /* of the material's smallest */
    double paint_ratio;              /* of the cans */
    double time_ratio;               /* of placing and spraying */
} sw_surface;
/** The table in a fixed order; the first is the default. NULL beyond its end. */
const sw_surface *sw_surface_at(size_t i);
/** By name; NULL if there is none, the default if name is NULL. */
const sw_surface *sw_surface_find(const char *name);
/** Append what a surface that is not smooth changed, without a full stop. asked: as given; used: completed. */
void sw_surface_add_words(sw_text *out, const sw_surface *surface, const sw_cut_opts *asked, const sw_cut_opts *used);

/** How many passes are asked for: those of all zones together when there are zones. */
size_t sw_job_n_passes(const sw_cut_opts *opts);
/** Is a pixel of the picture of zones in this zone? Soft edges and JPEG noise are allowed for. */
bool sw_job_is_zone_colour(sw_rgb8 pixel, sw_rgb8 zone);

/** Check every number of the options. Returns SW_OK, SW_BAD_USAGE, SW_BAD_LENGTH. */
SW_MUST_USE sw_status sw_job_check_opts(const sw_cut_opts *opts, sw_note *note);

/** Add a warning line to the job; a failure to allocate loses the line only. */
void sw_job_warn(sw_job *job, const char *format, ...) SW_PRINTF(2, 3);

/**
 * Change a sheet's mask where a panel's proof found narrow parts, so that drawing it again does better.
 * round: 0 for the first attempt; later rounds give more room, then only add material.
 * Returns how many places were changed.
 */
size_t sw_job_mend(sw_job *job, sw_sheet *sheet, const sw_panel *panel, const sw_proof_panel *proof, size_t round);

#define SW_JOB_CLEARLY_RATIO 1.1 /* droop is measured to about a tenth: so much more than asked is said */
#define SW_JOB_LOOSE_MM 100.0 /* a droop beyond this means nothing but that the part hangs loose */
/** What of a sheet sinks most by its final curves: the worst of its panels. Zero if droop is not limited. */
sw_hang sw_job_hang(const sw_job *job, size_t pass);
/** Warn if something of sheets.at[i] sinks clearly more than asked, with where and why; and if clearly more than planned. */
void sw_job_warn_of_droop(sw_job *job, size_t i);

/** The nearest whole nanometre: lengths that files repeat exactly. */
double sw_job_tidy_mm(double length_mm);
/** Every number of the options rounded so that job.options repeats it to the bit. */
void sw_job_tidy_opts(sw_cut_opts *opts);
/** Names of the kinds of separation and of the formats of cut files, in the order of sw_cut_kind and of SW_FORMAT_...'s bits. */
extern const char *const sw_job_kinds[3], *const sw_job_formats[3];
/** Append job.options: the picture's path and every option as the command line names it. */
void sw_job_add_options(sw_text *out, const char *picture, const sw_cut_opts *asked);

#define SW_PANEL_NAME_SIZE 64
/** A colour from 0xrrggbb. */
sw_rgb8 sw_job_rgb8(uint32_t rgb);
/**
 * Fill job->separation zone by zone, in the order of job->opts.zone; opts says everything but the number of passes.
 * Returns what sw_picture_read and sw_separate return, and SW_BAD_FILE (another shape, a zone without area).
 */
SW_MUST_USE sw_status sw_job_separate_zones(sw_job *job, const sw_picture *art, const sw_separate_opts *opts,
                                            sw_note *note);

/** Name of the paint of pass k in painting order, or NULL if it has none. */
const char *sw_job_paint_name(const sw_job *job, size_t pass);

/** What a can of the paint of pass k covers as the list of paints says; 0: it does not say. */
double sw_job_paint_coverage_m2(const sw_job *job, size_t pass);

/** One of the rates, as options, job.json and people name it. */
typedef struct sw_job_rate {
    const char *option, *unit;   /* "feed", "mm/s" */
    const char *json;            /* name in job.json, in the same unit */
    const char *words;           /* "cutting" */
    size_t offset;               /* of the number in sw_rates */
    double scale;                /* from the number to the unit: 100 for a ratio told in percent */
} sw_job_rate;
/** The table in the order of the work; NULL beyond its end. */
const sw_job_rate *sw_job_rate_at(size_t i);
/** A rate's number, in its unit. */
double sw_job_rate_value(const sw_job_rate *rate, const sw_rates *rates);
/** What the job takes, a line a pass and one for all, and the rates used, for the report. */
void sw_job_add_estimates(sw_text *out, const sw_job *job);

/** How many openings are copies, how many motions bring them about, what it saves; what --reuse left out. For the report. */
void sw_job_add_repeats(sw_text *out, const sw_job *job);
/** The same as fields of job.json, after its last field. */
void sw_job_add_repeats_json(sw_text *out, const sw_job *job);

/** Key windows: for the report, and as fields of job.json after its last field. */
void sw_job_add_keys(sw_text *out, const sw_job *job);
void sw_job_add_keys_json(sw_text *out, const sw_job *job);

/** In job.html: the wall picture stands between these; an empty place when there is none yet. */
#define SW_HTML_WALL_BEGIN "<!--wall-begin-->"
#define SW_HTML_WALL_END "<!--wall-end-->"

/** job.html: the job for people, one offline page. *out: the file, caller frees. Returns SW_OK, SW_NO_MEMORY. */
SW_MUST_USE sw_status sw_job_html(const sw_job *job, sw_text *out, sw_note *note);

/** Name of a panel's cut file without folder and ending: "pass-2" or "pass-2-panel-A1". */
void sw_job_panel_name(const sw_panel *panel, char out[SW_PANEL_NAME_SIZE]);

#endif
