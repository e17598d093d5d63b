/*
 * The wall: its description, where the artwork sits on it, and a photograph of it.
 *
 * Wall coordinates are mm, x from the wall's left edge, y from the FLOOR UP, as a person with a tape measures them.
 * Out parameters are untouched unless the call returns SW_OK.
 */
#ifndef SW_WALL_H
#define SW_WALL_H

#include "job/job.h"

#define SW_WALL_NAME_SIZE 64

/** What the paint goes on. Rough walls need larger openings and webs, more paint and more time. */
typedef enum sw_surface { SW_SURFACE_SMOOTH = 0, SW_SURFACE_RENDER, SW_SURFACE_BRICK, SW_SURFACE_TIMBER } sw_surface;

/** How a surface changes defaults and estimates: factors of 1 and above; common practice, no source. */
typedef struct sw_surface_factors {
    const char *name;  /* as written in a wall file */
    double opening_ratio, web_ratio, paint_ratio, time_ratio;
} sw_surface_factors;
const sw_surface_factors *sw_surface_factors_of(sw_surface surface);

/** A named area that the artwork must stay clear of: a simple polygon in wall coordinates. */
typedef struct sw_wall_area {
    char name[SW_WALL_NAME_SIZE];
    sw_pt_mm *at;
    size_t n, cap;
} sw_wall_area;

/** A point of the wall that a point of the artwork should lie on. */
typedef struct sw_wall_feature {
    char name[SW_WALL_NAME_SIZE];
    sw_pt_mm at;
    double art_x_ratio, art_y_ratio; /* the artwork's point, 0..1 from its left and its TOP */
} sw_wall_feature;

/** A place in the photograph and the wall point it shows. */
typedef struct sw_photo_point {
    sw_pt_px photo;  /* pixels from the photograph's top left, upright */
    sw_pt_mm wall;
} sw_photo_point;

/** A described wall. Free with sw_wall_free. */
typedef struct sw_wall {
    double width_mm, height_mm;
    sw_surface surface;
    bool has_place;                   /* the artwork's place is given */
    double art_left_mm, art_floor_mm; /* of the artwork's lower left corner */
    double clear_mm;                  /* wanted distance from keep-clear areas and the wall's edges */
    sw_wall_area *areas;
    size_t n_areas, cap_areas;
    sw_wall_feature *features;
    size_t n_features, cap_features;
    sw_photo_point *points;
    size_t n_points, cap_points;
    char photo[512];                  /* file name as written; empty: none */
    char mask[512];                   /* picture of what stands in front of the wall in the photo; empty: none */
} sw_wall;

/**
 * Parse a wall file: one statement a line, '#' begins a comment, names may stand in double quotes.
 *
 *     wall 6.2m 3.1m               width and height; required
 *     surface render               smooth, render, brick or timber
 *     artwork 1.2m 0.4m            lower left corner: from the left, from the floor
 *     clear 50mm                   distance to keep from areas and edges
 *     keep tap 0.9m 0.3m 25cm 50cm        a rectangle: name, from left, from floor, width, height
 *     keep-shape vent 4m 2m 4.4m 2m 4.2m 2.4m     a polygon: name and corners
 *     feature window 3.1m 1.9m 0.62 0.41  a wall point and the artwork point for it (shares from its left and top)
 *     photo shed.jpg               a photograph of the wall
 *     in-front mask.png            white where something stands in front of the wall in the photograph
 *     point 410 1620 0m 0m         a pixel of the photograph (from left, from top) and its wall point
 *
 * text need not end with 0; name is for messages. Fuzzed. Returns SW_OK, SW_BAD_FILE, SW_BAD_LENGTH, SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_wall_parse(const char *text, size_t n, const char *name, sw_wall *out, sw_note *note);
void sw_wall_free(sw_wall *wall);

/* ---- placing (place.c) ------------------------------------------------------------------------------ */

/** How the artwork lies to one area, or to the wall's edge (area SIZE_MAX). */
typedef struct sw_wall_miss {
    size_t area;
    double gap_mm;      /* distance; negative: how far it would have to move to be clear of it */
} sw_wall_miss;

typedef struct sw_placement {
    double left_mm, floor_mm, width_mm, height_mm;
    bool fits;                  /* on the wall and clear of everything by wall->clear_mm */
    sw_wall_miss worst;         /* the smallest gap */
    bool has_move;              /* a place for this size exists */
    double move_left_mm, move_floor_mm; /* the nearest such place */
    double largest_width_mm;    /* widest artwork of this shape that fits anywhere; 0: none */
    double largest_left_mm, largest_floor_mm;
} sw_placement;

/**
 * Check a place, and find the nearest place and the largest size that fit.
 *
 * wall, width_mm, height_mm   the artwork's size, above 0
 * left_mm, floor_mm           its lower left corner
 *
 * Exact to 0.01 mm: candidate places are where two contacts hold at once, the largest size is found by halving.
 * Touching at exactly clear_mm is clear. Returns SW_OK, SW_BAD_LENGTH, SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_wall_place(const sw_wall *wall, double left_mm, double floor_mm, double width_mm,
                                    double height_mm, sw_placement *out, sw_note *note);

/** Signed distance between the artwork's rectangle and an area: 0 touching, negative the least way to move apart. */
double sw_wall_gap(const sw_wall_area *area, double left_mm, double floor_mm, double width_mm, double height_mm);

/* ---- the photograph (homography.c) ------------------------------------------------------------------ */

/** A plane-to-plane map, row-major 3 x 3, scaled so that at[8] is 1 where it can be. */
typedef struct sw_homography {
    double at[9];
} sw_homography;

/**
 * The map from wall points to photo points.
 *
 * Four points give it exactly, more the least squares of the normalised direct linear transform (Hartley 1997,
 * "In defense of the eight-point algorithm", on normalising; Hartley and Zisserman, Multiple View Geometry, 4.4),
 * followed by Gauss-Newton on the distance in the photo.
 * residual_mm   may be NULL; n values: how far from its wall point each photo point lies on the wall
 *
 * Returns SW_OK, SW_BAD_LENGTH (fewer than four points, or three of four in a line), SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_homography_find(const sw_photo_point *points, size_t n, sw_homography *out,
                                         double *residual_mm, sw_note *note);

/** Map a point: x and y in the units of the map's source, results in those of its target (mm of the wall, pixels of the
 *  photo). False when it lies on the horizon or behind. */
SW_MUST_USE bool sw_homography_map(const sw_homography *h, double x, double y, double *x_out, double *y_out);
/** The inverse map; false when there is none. */
SW_MUST_USE bool sw_homography_invert(const sw_homography *h, sw_homography *out);

#endif
