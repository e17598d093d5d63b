/*
 * What every stage stands on: errors, memory, text, units, points, the grid, rows in parallel, progress.
 *
 * This is the only door of src/base/; it knows no other stage. Unless a comment says otherwise an
 * out parameter is untouched unless the call returns SW_OK.
 */
#ifndef SW_BASE_H
#define SW_BASE_H

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "stencilwright/status.h"

#define SW_ARRAY_LEN(array) (sizeof(array) / sizeof((array)[0]))

/** Hand a failure up unchanged. Only in functions that own nothing (no cleanup label). */
#define SW_TRY(call)                                                                                                   \
    do {                                                                                                               \
        const sw_status sw_try_status_ = (call);                                                                       \
        if (sw_try_status_ != SW_OK) return sw_try_status_;                                                            \
    } while (0)

/* ---- limits ---------------------------------------------------------------------------------- */

#define SW_MAX_PASSES 8        /* paint passes of one job; labels are 0 (ground) to SW_MAX_PASSES */
#define SW_MAX_MM 200000.0     /* longest length accepted anywhere: a 200 m wall */
#define SW_MAX_SIDE_PX 100000u /* longest side of a picture or grid, in pixels */
#define SW_MAX_PX 400000000u   /* most pixels of a picture or grid */

/* ---- errors ---------------------------------------------------------------------------------- */

/** Write the note (the first one stays; note may be NULL; control characters become '?') and return status. */
sw_status sw_fail(sw_note *note, sw_status status, const char *format, ...) SW_PRINTF(3, 4);

/** SW_NO_MEMORY with a note that says for what. */
sw_status sw_fail_memory(sw_note *note, const char *for_what);

/* Analysers see one file at a time (tests/lint.sh tells gcc's as well): that these two never return SW_OK has to stand here. */
#ifdef __clang_analyzer__
#define sw_fail(note, status, ...) ((void)sw_fail(note, status, __VA_ARGS__), (status))
#define sw_fail_memory(note, for_what) ((void)sw_fail_memory(note, for_what), SW_NO_MEMORY)
#endif

/* ---- memory ---------------------------------------------------------------------------------- */

/** Zeroed array of n elements of size bytes; NULL if n or size is 0, if n * size overflows, or if memory is out.
 *  Free with sw_free. */
void *sw_alloc_array(size_t n, size_t size);

/** Like sw_alloc_array but not zeroed: for big rasters that are written in full at once. */
void *sw_alloc_raw(size_t n, size_t size);

/** Make room for at least need elements; *data moves. False: *data and *cap are as before. New room is not zeroed. */
SW_MUST_USE bool sw_grow(void **data, size_t *cap, size_t need, size_t size);

/** Keep freed memory for what is allocated next. Rasters come and go a dozen times a job; given back to the system each time,
 *  a tenth of the job is spent on fresh pages. Of the whole process, so for programs to call, when they begin. */
void sw_memory_keep(void);

/** Free what sw_alloc_array, sw_alloc_raw or sw_grow made; NULL is fine. */
void sw_free(void *data);

/** a * b into *out; false when it overflows. */
SW_MUST_USE bool sw_mul_size(size_t a, size_t b, size_t *out);

/** Test hook, only in builds with SW_FAULTS: the nth allocation from now fails (1 = the next, 0 = none), and all
 *  after it succeed. Returns how many blocks are live, so that a test can see that frees match. */
size_t sw_alloc_fail_at(size_t nth);

/** Test hook, only in builds with SW_FAULTS: how many allocations were asked for since sw_alloc_fail_at. */
size_t sw_alloc_count(void);

/** Test hook, only in builds with SW_FAULTS: fn is called at every allocation that is asked for, from the thread that asks;
 *  NULL: no longer. So a test learns which ways lead to one. */
void sw_alloc_watch(void (*fn)(void *ctx), void *ctx);

/* ---- numbers and lengths --------------------------------------------------------------------- */

static inline double sw_min(double a, double b) { return a < b ? a : b; }
static inline double sw_max(double a, double b) { return a > b ? a : b; }
/** NaN becomes lo. */
static inline double sw_clamp(double v, double lo, double hi) { return v > lo ? (v < hi ? v : hi) : lo; }
static inline size_t sw_min_size(size_t a, size_t b) { return a < b ? a : b; }
static inline size_t sw_max_size(size_t a, size_t b) { return a > b ? a : b; }
/** As hypot() for lengths whose squares are far from both ends of the numbers, several times as quick. */
static inline double sw_hypot(double x, double y) { return sqrt(x * x + y * y); }

/** Parse a whole text as a decimal number, whatever the locale: sign, digits, '.', digits, exponent.
 *  False for anything else, for nan, inf and for text left over. */
SW_MUST_USE bool sw_number_parse(const char *text, double *out);

/** Parse a whole length with its unit (mm, cm, m, in, ft; a number alone is mm) into mm.
 *  what: the option's name for the note. Bounds: above 0, at most SW_MAX_MM; zero_ok allows 0.
 *  Returns SW_OK or SW_BAD_LENGTH. */
SW_MUST_USE sw_status sw_length_parse(const char *text, const char *what, bool zero_ok, double *out_mm, sw_note *note);

/** True if length_mm is a number, above 0 (or 0 if zero_ok) and at most SW_MAX_MM; NaN is false. */
bool sw_length_ok(double length_mm, bool zero_ok);

/* ---- text ------------------------------------------------------------------------------------ */

/** A growing text or byte string. Zero it to begin. After a failed add it says is_broken and ignores further adds,
 *  so that writers check once at the end. data is always terminated by a 0 byte that size does not count. */
typedef struct sw_text {
    char *data;
    size_t size, cap;
    bool is_broken;
} sw_text;

void sw_text_add(sw_text *text, const char *string);
void sw_text_add_bytes(sw_text *text, const void *bytes, size_t n);
/** printf without floating point: use sw_text_add_number for those, the locale must not reach a file. */
void sw_text_addf(sw_text *text, const char *format, ...) SW_PRINTF(2, 3);
/** A number with at most decimals (0..9) digits after the point, trailing zeros dropped, never "-0";
 *  a number that is not finite is written as 0. */
void sw_text_add_number(sw_text *text, double value, int decimals);
/** A JSON string with its quotes; bytes that are not UTF-8 become U+FFFD. */
void sw_text_add_json(sw_text *text, const char *string);
/** Text for XML or HTML content and attributes: & < > " ' escaped, control characters and non-UTF-8 replaced. */
void sw_text_add_xml(sw_text *text, const char *string);
/** Length in bytes, 1 to 4, of the UTF-8 sequence that begins at p (of a text that ends with a 0 byte); 0 if there is none:
 *  overlong forms, surrogates and values past U+10FFFF are not valid (RFC 3629). */
size_t sw_utf8_length(const char *p);
/** A name from a file system in a line for people: control characters become '?'. */
void sw_text_add_name(sw_text *text, const char *string);
/** The path of a file that another file names: beside that one, unless the name is absolute. */
void sw_text_add_beside(sw_text *text, const char *path, const char *name);
void sw_text_free(sw_text *text);

/* ---- points, rectangles, the grid ------------------------------------------------------------ */

/** A point on the wall, y down, in mm from the artwork's (or the panel's) top left corner. */
typedef struct sw_pt_mm {
    double x_mm, y_mm;
} sw_pt_mm;

/** A place on the grid in pixels: pixel (i, j) covers i..i+1, j..j+1, so its centre is i + 0.5, j + 0.5. */
typedef struct sw_pt_px {
    double x_px, y_px;
} sw_pt_px;

typedef struct sw_rect_mm {
    double x_mm, y_mm, width_mm, height_mm;
} sw_rect_mm;

/** Whole pixels x..x+width, y..y+height. */
typedef struct sw_rect_px {
    size_t x, y, width, height;
} sw_rect_px;

/** The working raster over the artwork. Pixels are square; the artwork is exactly width_px / px_per_mm wide. */
typedef struct sw_grid {
    size_t width_px, height_px;
    double px_per_mm;
} sw_grid;

static inline double sw_mm_from_px(const sw_grid *grid, double length_px) { return length_px / grid->px_per_mm; }
static inline double sw_px_from_mm(const sw_grid *grid, double length_mm) { return length_mm * grid->px_per_mm; }
static inline sw_pt_mm sw_pt_mm_from_px(const sw_grid *grid, sw_pt_px p)
{
    return (sw_pt_mm){ p.x_px / grid->px_per_mm, p.y_px / grid->px_per_mm };
}

/* ---- colour triple ----------------------------------------------------------------------------- */

/** An sRGB colour (IEC 61966-2-1), 8 bits a channel. */
typedef struct sw_rgb8 {
    uint8_t r, g, b;
} sw_rgb8;

/** Parse "#rrggbb" (or "#rgb"); the whole text. */
SW_MUST_USE bool sw_rgb8_parse(const char *text, sw_rgb8 *out);

/** Before a function whose inner loops are whole numbers or single floats side by side: compiled for wide vectors as
 *  well, chosen when the program starts. The same bits either way: nothing is contracted or reordered. */
#if defined(__x86_64__) && defined(__GLIBC__) && defined(__GNUC__) && !defined(__clang__) && !defined(SW_FAULTS) && \
    !defined(__clang_analyzer__)
#define SW_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define SW_WIDE
#endif

/* ---- JSON ------------------------------------------------------------------------------------ */

/** The name of an object's next field with its colon, after a comma unless the object has just been opened. Braces and
 *  brackets are the caller's, by sw_text_add. */
void sw_json_field(sw_text *out, const char *name);
/** A list's next element: a line of its own, after a comma unless the list has just been opened. */
void sw_json_element(sw_text *out);
/** A whole field; numbers with at most three decimals. */
void sw_json_number(sw_text *out, const char *name, double value);
void sw_json_count(sw_text *out, const char *name, size_t value);
void sw_json_bool(sw_text *out, const char *name, bool value);
void sw_json_string(sw_text *out, const char *name, const char *value);
void sw_json_colour(sw_text *out, const char *name, sw_rgb8 c); /* "#rrggbb" */
void sw_json_point(sw_text *out, const char *name, sw_pt_mm p); /* [x, y] */

/* ---- rows in parallel -------------------------------------------------------------------------- */

/** Work on rows begin <= row < end. Workers write disjoint rows; failures go into a flag in ctx. */
typedef void (*sw_rows_fn)(size_t row_begin, size_t row_end, void *ctx);

/** Call fn over 0..n_rows in bands, on up to sw_threads() threads. How rows are cut into bands depends on n_rows
 *  alone, so whatever a band computes is the same for any number of threads. A call from inside a band gets the threads
 *  that are idle then. Returns when all is done. */
void sw_parallel_rows(size_t n_rows, sw_rows_fn fn, void *ctx);

/** The same with a band height of the caller's: 1 for few, large, independent tasks. */
void sw_parallel_bands(size_t n_rows, size_t band_rows, sw_rows_fn fn, void *ctx);

/** One of several tasks that can fail. */
typedef sw_status (*sw_task_fn)(size_t task, void *ctx, sw_note *note);

/** Call fn for 0..n_tasks, side by side. If some fail, the status and note are those of the first in order, whatever the
 *  number of threads; tasks after one that has failed may not be called. */
SW_MUST_USE sw_status sw_parallel_tasks(size_t n_tasks, sw_task_fn fn, void *ctx, sw_note *note);

/** Number of threads for the whole process, 1..64; 0 means 2, the default. */
void sw_threads_set(int n_threads);
int sw_threads(void);

/* ---- progress ---------------------------------------------------------------------------------- */

/** Called from the thread that runs the job. stage: a few plain words; done_ratio of the whole job, 0..1. */
typedef struct sw_progress {
    void (*tell)(void *ctx, const char *stage, double done_ratio);
    void *ctx;
} sw_progress;

/** progress may be NULL. */
void sw_progress_tell(const sw_progress *progress, const char *stage, double done_ratio);

/** Ask the running job to stop as soon as it can (async-signal-safe); stages poll sw_is_interrupted. */
void sw_interrupt(void);
bool sw_is_interrupted(void);

/* ---- files ------------------------------------------------------------------------------------- */

/** How messages call a file: "-" is "standard input". */
const char *sw_path_shown(const char *path);

/** Read a whole file ("-" is standard input) of at most max_bytes. *out: bytes, caller frees with sw_free; *n may be 0
 *  and then *out is NULL. Returns SW_OK, SW_IO (cannot be read), SW_BAD_FILE (a folder, no such file), SW_TOO_LARGE,
 *  SW_NO_MEMORY, SW_INTERRUPTED. */
SW_MUST_USE sw_status sw_file_read(const char *path, size_t max_bytes, uint8_t **out, size_t *n, sw_note *note);

#endif
