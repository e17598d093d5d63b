/* The parts of the separation stage; private to src/separate/ (and its tests). */
#ifndef SW_SEPARATE_PARTS_H
#define SW_SEPARATE_PARTS_H

#include "separate/separate.h"

#define SW_MAX_LABELS (SW_MAX_PASSES + 1)
#define SW_MAX_PLANES 3
#define SW_WEIGHT_MARKED 255 /* where the user asked for detail; structure found by itself weighs less */
#define SW_WEIGHT_ONE 32 /* weight 1 of the data term; a byte holds up to 8 */

/* ---- planes: the picture in bytes, one level of the pyramid ------------------------------------------------- */

/** OKLab in bytes: L * 255, a and b * 255 + 128 (+-0.4 is all of sRGB), so that one unit is the same distance in
 *  each plane. Tone and line use the first plane alone. 1 byte a plane and pixel. */
typedef struct sw_planes {
    size_t width_px, height_px, n;
    uint8_t *at[SW_MAX_PLANES];
} sw_planes;

/** A colour in plane units, not rounded. */
typedef struct sw_plane_colour {
    double at[SW_MAX_PLANES];
} sw_plane_colour;

sw_plane_colour sw_plane_colour_from_rgb8(sw_rgb8 colour);
sw_rgb8 sw_rgb8_from_plane_colour(sw_plane_colour colour);

/** All n planes (1 or 3) of a picture. Caller frees with sw_planes_free. */
SW_MUST_USE sw_status sw_planes_make(const sw_picture *art, size_t n, sw_planes *out, sw_note *note);
/** Half the size, rounded up: means of 2 x 2 pixels. The mean of a squared distance to a colour over a block is the
 *  squared distance of the mean plus a number that is the same for every colour, so nothing is lost for labelling. */
SW_MUST_USE sw_status sw_planes_half(const sw_planes *in, sw_planes *out, sw_note *note);
void sw_planes_free(sw_planes *planes);

/* ---- filters (fields.c) -------------------------------------------------------------------------------------- */

/** Mean over the square of radius pixels around each pixel, as much of it as lies in the field. spare: same size.
 *  out may be in. */
void sw_box_mean(const float *in, float *spare, float *out, size_t width, size_t height, size_t radius);

#define SW_MORPH_RADIUS 48u  /* px */

/** Least (flip 0) or most (flip 255) over the square of radius pixels around each pixel, as much of it as lies in the
 *  field. out is not in. */
void sw_morph(const uint8_t *in, uint8_t *out, size_t width, size_t height, size_t radius, uint8_t flip);

/* ---- clusters ----------------------------------------------------------------------------------------------- */

/**
 * Exact optimal 1-D k-means of a histogram: cuts[i] is the last bin of cluster i, i < k - 1.
 * Returns the number of clusters found (fewer than k when fewer bins are filled). Method: dynamic programming, Wang
 * and Song 2011; the same optimum as multi-level Otsu. Cost: k * 256^2.
 */
size_t sw_cluster_tone(const uint64_t histogram[256], size_t k, uint8_t cuts[SW_MAX_LABELS]);

/**
 * Move the cut-offs of n tone classes (darkest first, as sw_cluster_tone gives them) so that the composite is closest to
 * the picture: a class shows its fixed colour (the bare wall, a paint) or, where that is NULL, its own mean.
 * planes: three. No class gives up more than a tenth of its pixels. Never worse by mean CIEDE2000 of lightness's mean colours.
 */
void sw_cuts_refine(const sw_planes *planes, size_t n, const sw_rgb8 *const *fixed, uint8_t *cuts);

/** One filled cell of the colour histogram. */
typedef struct sw_colour_cell {
    double at[SW_MAX_PLANES]; /* mean colour of its pixels, plane units */
    double weight;            /* pixels */
} sw_colour_cell;

typedef struct sw_colour_cells {
    sw_colour_cell *at;
    size_t n;
} sw_colour_cells;

/** 64 x 64 x 64 cells over the planes; only filled ones, in order of their place. Caller frees at with sw_free. */
SW_MUST_USE sw_status sw_colour_cells_make(const sw_planes *planes, sw_colour_cells *out, sw_note *note);

/**
 * k-means over cells: the first n_fixed centres are given and stay, the others up to k are found.
 * Several seeds by k-means++ (Arthur and Vassilvitskii 2007) with fixed random numbers; the best is kept.
 * Returns the number of centres (fewer than k when there are fewer different colours). *cost: sum of weight * squared
 * distance; may be NULL.
 */
SW_MUST_USE sw_status sw_cluster_colour(const sw_colour_cells *cells, size_t k, size_t n_fixed,
                                        sw_plane_colour centre[SW_MAX_LABELS], size_t *n_found, double *cost,
                                        sw_note *note);

/** The best subset of at most n_pick paints together with the ground: picked[] are indices into paints. */
SW_MUST_USE sw_status sw_pick_paints(const sw_colour_cells *cells, sw_rgb8 ground, const sw_rgb8 *paints,
                                     size_t n_paints, size_t n_pick, size_t picked[SW_MAX_PASSES], size_t *n_picked,
                                     sw_note *note);

/**
 * Colour of each label that is nearest to its pixels on average (geometric median, Weiszfeld 1937), over an even sample.
 * planes: all three. colour: in, the means; out, the medians, but for labels with hardly a pixel.
 */
SW_MUST_USE sw_status sw_label_medians(const sw_planes *planes, const uint8_t *label, size_t n_labels,
                                       sw_plane_colour colour[SW_MAX_LABELS], sw_note *note);

/* ---- where a viewer looks ------------------------------------------------------------------------------------ */

/** Weights and salience at 1 / 2^shift of the grid. 3 bytes a coarse pixel. */
typedef struct sw_attention {
    size_t width_px, height_px, shift;
    uint8_t *weight;   /* of the data term, SW_WEIGHT_ONE is 1 */
    uint8_t *salience; /* 0..255 */
    int8_t *lift;      /* added to lightness: more contrast for thin structure that stands out */
} sw_attention;

SW_MUST_USE sw_status sw_attention_make(const sw_planes *planes, const sw_marks *marks, sw_attention *out,
                                        sw_note *note);
/** Turn slopes of up to about twice radius_px into steps, where they climb at least min_step in lightness and a viewer
 *  looks. planes: level `level` of the pyramid. 8 bytes a pixel while it works. */
SW_MUST_USE sw_status sw_planes_sharpen(sw_planes *planes, const sw_attention *attention, size_t level,
                                        double radius_px, double min_step, sw_note *note);
/** Add the lift to the lightness plane: light times where it lightens, dark times where it darkens. */
void sw_attention_lift(const sw_attention *attention, double light, double dark, sw_planes *planes);
/** Raise the salience around what is looked at: an error there is seen with it. After labels are chosen: nothing is drawn
 *  for it. 8 bytes a coarse pixel while it works. */
SW_MUST_USE sw_status sw_attention_gaze(const sw_attention *attention, sw_note *note);
void sw_attention_free(sw_attention *attention);

/* ---- labels ------------------------------------------------------------------------------------------------- */

/** What the regularisation minimises: sum over pixels of weight * squared colour distance (less that of the
 *  nearest label, capped), plus lambda times the length of all boundaries. */
typedef struct sw_label_task {
    const sw_planes *planes;   /* the finest level */
    size_t n_labels;
    sw_plane_colour colour[SW_MAX_LABELS];
    double bias[SW_MAX_LABELS]; /* added to the squared distance to each colour, plane units^2: moves cut-offs */
    const sw_attention *attention; /* weight of the data term; NULL: 1 */
    double slope_px, slope_step; /* edges narrower than twice slope_px that climb slope_step in lightness are steps */
    double cap_sq;             /* a pixel never pulls harder than this, plane units^2; so a bright speck must be of some
                                  size as well */
    double mixed_sq;           /* spread of colour in a coarse pixel that halves its weight, plane units^2 */
    double min_area_px;        /* of a region, in pixels of the finest level; smaller ones are given up */
    double shape_px;           /* a region costs lambda times this on top of its boundary */
    double lambda;             /* plane units^2 * pixels of the finest level; 0: nearest colour */
    size_t n_levels;           /* at least 1 */
    /* energy before each step, and the box of its blur, which is what falls; NULL: nobody watches */
    void (*watch)(void *ctx, size_t level, size_t box, int64_t energy);
    void *watch_ctx;
} sw_label_task;

/** label: width * height, the caller's, written in full. Returns SW_OK, SW_NO_MEMORY, SW_INTERRUPTED. */
SW_MUST_USE sw_status sw_labels_make(const sw_label_task *task, uint8_t *label, sw_note *note);

/* ---- order ---------------------------------------------------------------------------------------------------- */

/** What is to be put in order. Borrowed. */
typedef struct sw_order_task {
    const uint8_t *label;          /* width * height, 0..n_passes */
    size_t width, height, n_passes;
    const sw_rgb8 *colour;         /* of each label; NULL: bridges are not looked at, and nothing below is */
    const sw_attention *attention; /* NULL: no place matters more than another */
    double web_px;                 /* width of a bridge */
    size_t step_px;                /* islands are sought on every so many-th pixel; no more than an opening is wide */
} sw_order_task;

/** The order of painting that cuts least and shows least of bridges: place[k] is the new number of label k; 0 stays 0.
 *  Labels come in the order of habit, which is kept where little is gained otherwise. */
SW_MUST_USE sw_status sw_order_find(const sw_order_task *task, uint8_t place[SW_MAX_LABELS], sw_note *note);

/** A closed area that a label surrounds. */
typedef struct sw_island {
    uint32_t n[SW_MAX_LABELS]; /* steps of each label in it */
    double gap_px;             /* through the label to the next area; below 0: there is none */
    double weight;             /* how much an error counts there, 1 at least */
} sw_island;

typedef struct sw_islands {
    sw_island *at;
    size_t n, cap;
} sw_islands;

/** All islands that a pass of this label could have; caller frees with sw_islands_free. Returns SW_OK, SW_NO_MEMORY. 13 bytes a
 *  step and 56 an island. */
SW_MUST_USE sw_status sw_islands_find(const sw_order_task *task, size_t pass, sw_islands *out, sw_note *note);
/** NULL and zeroed are fine; leaves it zeroed. */
void sw_islands_free(sw_islands *islands);
/** CIEDE2000 x px2 that a bridge to the island shows, or its loss if that is less; 0 where all of it is painted later (bit
 *  k - 1 of later stands for label k). error: of each label against the pass's; least_error: of those a bridge may show. */
double sw_island_cost(const sw_island *island, const sw_order_task *task, unsigned later,
                      const double error[SW_MAX_LABELS], double least_error);

/* ---- line --------------------------------------------------------------------------------------------------- */

/**
 * Replace the lightness plane by how much of a drawn line a pixel is: 128 is the threshold, 255 surely line, 0 surely
 * paper. Shadows, creases and stains of the paper are left out. With n >= 2 planes wanted, the second becomes how much
 * of hatched or shaded ground a pixel is, on the same scale.
 * planes: 3 planes in. Memory: about 45 bytes a pixel of a picture of at most 2304 px a side.
 */
SW_MUST_USE sw_status sw_line_find(sw_planes *planes, bool has_shading, sw_note *note);

#endif
