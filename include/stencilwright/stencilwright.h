/*
 * stencilwright: from one picture and a few measurements to proved, cuttable paint stencils.
 *
 *     sw_note note = { 0 };
 *     sw_cut_opts opts = sw_cut_defaults();
 *     sw_job *job = NULL;
 *     opts.width_mm = 2100.0;
 *     sw_status st = sw_job_cut("heron.png", &opts, &job, &note);
 *     if (st == SW_OK) st = sw_job_write(job, "heron-job", false, &note);
 *     if (st != SW_OK) fprintf(stderr, "%s\n", note.text);
 *     sw_job_free(job);
 *
 * Lengths are mm on the wall. Calls may run at the same time in several threads; one job belongs to one thread.
 * No call changes the locale, prints, or ends the program. An out parameter is untouched unless the call says so.
 */
#ifndef STENCILWRIGHT_H
#define STENCILWRIGHT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "stencilwright/rates.h"
#include "stencilwright/status.h"

#ifdef __cplusplus
extern "C" {
#endif

#define SW_CUT_MAX_PAINTS 64

/* Bits of the formats that cut files are written in. */
#define SW_FORMAT_SVG 1u
#define SW_FORMAT_PDF 2u
#define SW_FORMAT_EPS 4u

/** How the picture is reduced to passes. */
typedef enum sw_cut_kind {
    SW_CUT_TONE = 0, /* steps of lightness */
    SW_CUT_COLOUR,   /* few colours, or the paints given */
    SW_CUT_LINE      /* a drawing on paper: its lines */
} sw_cut_kind;

#define SW_CUT_MAX_ZONES 8

/** A named group of the drawing, with passes of its own. */
typedef struct sw_cut_zone {
    char name[32];
    uint32_t rgb;               /* the colour of its area in the picture of zones */
    size_t n_passes;            /* 1..8; all zones together at most 8 */
} sw_cut_zone;

/** Everything a job is asked for. Begin with sw_cut_defaults(); a zeroed struct is not valid. */
typedef struct sw_cut_opts {
    double width_mm, height_mm; /* 0: from the other side or from the file's density; both given: they must agree with
                                   the picture's shape within 1 %, else SW_BAD_LENGTH */
    size_t n_passes;            /* 1..8 */
    sw_cut_kind kind;
    uint32_t paint_rgb[SW_CUT_MAX_PAINTS]; /* 0xrrggbb, the first n_paints; none, and no list: free choice */
    size_t n_paints;
    uint32_t ground_rgb;        /* the bare wall */
    double min_opening_mm, min_web_mm; /* 0: the material's */
    double frame_mm;            /* 0: 40 mm, or more where the registration marks need it */
    double trap_mm;
    double smooth_mm;           /* how far curves may be from the outline they follow; 0: a tenth of min_opening_mm */
    double detail_ratio;        /* 0 few quiet shapes .. 1 all detail */
    double droop_mm;            /* how far a part may sink when a sheet is carried flat; 0: not limited */
    double bed_width_mm, bed_height_mm; /* the cutter's bed, upright or turned; 0: sheets are not split */
    double kerf_mm;             /* width the beam or blade removes; below 0: the material's */
    double stroke_mm;           /* width of the lines in cut files */
    bool is_staggered;          /* each pass has seams of its own */
    size_t guides_pass;         /* the pass whose sheet gets guide slots; 0: none */
    bool has_key_windows;       /* corners of earlier paint that are seen through later sheets are looked for and told */
    bool is_reuse;              /* copies of openings are not cut, where to place the one that is cut is drawn and told */
    bool is_touch_up;           /* also write touch-up.png, the bridges to close by brush */
    unsigned formats;           /* SW_FORMAT_... of the cut files */
    const char *material;       /* name in the table of materials; NULL: the first. Strings are copied. */
    double thickness_mm;        /* of the material; 0: the usual */
    const char *surface;        /* what is painted on: "smooth", "render", "brick", "timber"; NULL: the first. A rough one
                                   asks for wider openings and webs where none are given, and for more paint and time. */
    sw_rates rates;             /* for the estimates */
    const char *marks;          /* path of a picture of marks; NULL: none */
    const char *zones;          /* path of a picture of zones; NULL: the picture is one */
    sw_cut_zone zone[SW_CUT_MAX_ZONES]; /* the first n_zones, in painting order */
    size_t n_zones;
    const char *paint_list;     /* path of a list of paints; NULL: none. They are used with paint_rgb. */
    size_t memory_bytes;        /* a job that would need more is refused at once, SW_TOO_LARGE; 0: no limit */
    int n_threads;              /* 0: 2 */
    void (*tell)(void *ctx, const char *stage, double done_ratio); /* progress; may be NULL */
    void *tell_ctx;
} sw_cut_opts;

/** A finished job: sheets, curves, proof. Opaque; free with sw_job_free. */
typedef struct sw_job sw_job;

/** Defaults for a picture about 2 m wide sprayed from a can (common practice, no source): 3 passes in tone on white,
 *  droop 5 mm. width_mm and height_mm are 0, and so is what the material decides. */
SW_API sw_cut_opts sw_cut_defaults(void);
/**
 * Put a number where min_opening_mm, min_web_mm, kerf_mm, thickness_mm or frame_mm are left to the material and the
 * surface: for the first ones openings of 3 mm, webs of 5 mm, no kerf and a frame of 40 mm (common practice, no source).
 * What is set stays; nothing changes when material or surface is not in its table. sw_job_cut does this by itself.
 */
SW_API void sw_cut_complete(sw_cut_opts *opts);

/**
 * Read a picture, separate, cut, prove.
 *
 * picture  path of a PNG or JPEG file, "-" for standard input
 * out      the job; untouched by a failure. SW_CANNOT_HOLD has two forms: the finished job fails its proof, and is then
 *          handed over to be reported, not written; or there is nothing to paint at all, and then there is no job
 * note     may be NULL
 *
 * Returns SW_OK, SW_BAD_USAGE, SW_BAD_LENGTH, SW_BAD_FILE, SW_TOO_LARGE, SW_CANNOT_HOLD, SW_NO_MEMORY, SW_IO,
 * SW_INTERRUPTED. Same result for any number of threads.
 * Memory, measured: 13 bytes a grid pixel and 1.2 more for each pass, 17.4 with three; reading takes 3 to 14 a pixel of
 * the picture and is over before. 2.1 m with openings of 3 mm are 12 million grid pixels: 208 MB.
 */
SW_API SW_MUST_USE sw_status sw_job_cut(const char *picture, const sw_cut_opts *opts, sw_job **out, sw_note *note);

/** Write layers.svg, cut/, preview.png, bridges.png, touch-up.png if asked, job.options, job.json and job.html into folder
 *  dir, which appears whole or not at all. An existing job folder is replaced only if is_replace. Returns SW_OK, SW_EXISTS, SW_CANNOT_HOLD (the proof
 *  failed), SW_NO_MEMORY, SW_IO. */
SW_API SW_MUST_USE sw_status sw_job_write(const sw_job *job, const char *dir, bool is_replace, sw_note *note);

/** The short report for people, and the same as JSON (what job.json holds). Text is the caller's: free with
 *  sw_string_free. NULL when memory is out. */
SW_API char *sw_job_report(const sw_job *job);
SW_API char *sw_job_json(const sw_job *job);
SW_API void sw_string_free(char *text);

/** NULL is fine. */
SW_API void sw_job_free(sw_job *job);

/** Version of the library, "MAJOR.MINOR.PATCH". */
SW_API const char *sw_version(void);

#ifdef __cplusplus
}
#endif

#endif
