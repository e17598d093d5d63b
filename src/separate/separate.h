/*
 * Separation: from the picture on the grid to a palette and a label a pixel.
 *
 * Label 0 is the ground (bare wall, never painted, never cut). Label k is the k-th pass IN PAINTING ORDER, so a
 * later stage needs no other order. Out parameters are untouched unless the call returns SW_OK.
 */
#ifndef SW_SEPARATE_H
#define SW_SEPARATE_H

#include "picture/picture.h"

typedef enum sw_separate_kind {
    SW_SEPARATE_TONE = 0, /* steps of lightness, each in the mean colour of its pixels, parted so that they and the bare
                             wall are closest to the picture */
    SW_SEPARATE_COLOUR,   /* clusters in OKLab, or the paints given */
    SW_SEPARATE_LINE      /* a drawing on uneven paper: one label of lines (and shading if asked) */
} sw_separate_kind;

/* Bits of a mark a pixel (see sw_marks). */
#define SW_MARK_DETAIL 1u    /* pure green: keep detail here */
#define SW_MARK_NO_BRIDGE 2u /* pure red: no bridge may pass */
#define SW_MARK_BRIDGE 4u    /* pure blue: a bridge is welcome */

/** What the user painted over the picture, on the grid. 1 byte a pixel. */
typedef struct sw_marks {
    size_t width_px, height_px;
    uint8_t *at;
} sw_marks;

/**
 * Read marks from a PNG or JPEG of the same shape as the picture (any size, within 2 %), painted in any program:
 * pure green keeps detail, pure red forbids bridges, pure blue asks for a bridge; white, transparent and everything
 * else says nothing. Pure: the marking channel at least 190 of 255, the other two at most 90, so soft edges of a brush
 * and JPEG noise do no harm. Each grid pixel takes the mark of the nearest pixel.
 *
 * out     caller frees with sw_marks_free
 *
 * Returns SW_OK, SW_BAD_FILE (also: another shape), SW_TOO_LARGE, SW_IO, SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_marks_read(const char *path, const sw_grid *grid, sw_marks *out, sw_note *note);
/** The same from a picture already read over white. */
SW_MUST_USE sw_status sw_marks_from_picture(const sw_picture *painted, const sw_grid *grid, sw_marks *out,
                                            sw_note *note);
/** NULL and zeroed are fine; leaves it zeroed. */
void sw_marks_free(sw_marks *marks);

#define SW_MAX_PAINTS 1000

/** A paint the user owns. */
typedef struct sw_paint {
    char name[64];
    sw_rgb8 colour;
    double coverage_m2; /* of one can; 0: not said */
} sw_paint;

/** A list of paints. Free with sw_paints_free. */
typedef struct sw_paints {
    sw_paint *at;
    size_t n, cap;
} sw_paints;

/**
 * Read a list of paints: text lines `name,#rrggbb[,coverage_m2_per_can]`, names with commas or quotes in double
 * quotes, a heading allowed in the first line, empty lines skipped.
 *
 * out     at least one paint; caller frees with sw_paints_free
 *
 * Returns SW_OK, SW_BAD_FILE (the note names the line), SW_TOO_LARGE, SW_IO, SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_paints_read(const char *path, sw_paints *out, sw_note *note);
/** The same from bytes in memory; name is for messages. bytes may be NULL when n is 0. */
SW_MUST_USE sw_status sw_paints_read_memory(const uint8_t *bytes, size_t n, const char *name, sw_paints *out,
                                            sw_note *note);
/** NULL and zeroed are fine; leaves it zeroed. */
void sw_paints_free(sw_paints *paints);

/** Zero value is the default. */
typedef struct sw_separate_opts {
    sw_separate_kind kind;
    size_t n_passes;         /* 1..SW_MAX_PASSES; 0: 3, for line 1 (2: lines, and shading as a tone under them) */
    sw_rgb8 ground;          /* colour of the bare wall */
    const sw_rgb8 *paints;   /* paints the user has; NULL: free choice */
    size_t n_paints;
    double min_opening_mm;   /* the smallest opening; sets the scale of the regularisation */
    double min_web_mm;
    double detail_ratio;     /* 0 few quiet shapes .. 1 all detail; exactly 0 with !has_detail means 0.5 */
    bool has_detail;
    bool keeps_cuts;         /* tone: cut-offs of the clustering, not moved to bring the wall closer to the picture */
    const sw_marks *marks;   /* NULL: none */
} sw_separate_opts;

/** Result. Free with sw_separation_free. 2 bytes a pixel.
 *  Order of the passes: tone by distance in lightness from the ground (light to dark on a light wall, dark to light on a
 *  dark one, so that each tone lies inside the one before); colour the order that cuts least and shows the fewest
 *  bridges, light to dark where that gains little; line shading first, lines last. */
typedef struct sw_separation {
    sw_grid grid;
    size_t n_passes;                    /* may be fewer than asked if the picture has fewer colours */
    sw_rgb8 colour[SW_MAX_PASSES + 1];  /* 0: the ground; k: paint of pass k */
    size_t paint_index[SW_MAX_PASSES + 1]; /* index in opts->paints, or SIZE_MAX */
    uint8_t *label;                     /* grid.width_px * grid.height_px, row-major, 0..n_passes */
    uint8_t *salience;                  /* same shape: 0 a viewer does not mind an error here .. 255 never here */
} sw_separation;

/**
 * Choose the palette and label every pixel.
 *
 * art     the picture resampled to grid (same size)
 * out     caller frees; every label 1..n_passes occurs at least once
 *
 * Returns SW_OK, SW_BAD_LENGTH, SW_BAD_USAGE, SW_CANNOT_HOLD (all one colour: nothing to paint), SW_NO_MEMORY.
 * Same bytes for any thread count.
 */
SW_MUST_USE sw_status sw_separate(const sw_picture *art, const sw_grid *grid, const sw_separate_opts *opts,
                                  const sw_progress *progress, sw_separation *out, sw_note *note);

/** NULL, zeroed and half-built are fine; leaves it zeroed. */
void sw_separation_free(sw_separation *separation);

#endif
