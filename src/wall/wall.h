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
    size_t surface;                   /* in the table of surfaces, see sw_surface_at */
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
 * Touching at exactly clear_mm is clear. Returns SW_OK, SW_BAD_LENGTH, SW_TOO_LARGE (areas of more than 300 corners),
 * SW_NO_MEMORY.
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

/* ---- the artwork (job_read.c, art.c) ---------------------------------------------------------------- */

/** Where a panel lies: artwork coordinates, y down, frame included. */
typedef struct sw_wall_panel {
    char name[24];            /* "A1"; empty: the whole sheet */
    size_t pass;
    sw_rect_mm art;
} sw_wall_panel;

/** A job folder read back. Free with sw_wall_job_free. */
typedef struct sw_wall_job {
    char picture[256];
    double width_mm, height_mm, frame_mm, min_opening_mm, min_web_mm;
    double painting_minutes, drying_minutes; /* the first holds the second */
    char material[32], surface[32];          /* as in job.json; empty: not said */
    size_t n_cans;
    sw_rgb8 ground;
    size_t n_passes;
    sw_rgb8 paint[SW_MAX_PASSES];
    sw_contours openings[SW_MAX_PASSES]; /* artwork coordinates; from layers.svg, so a mended one counts */
    sw_wall_panel *panels;
    size_t n_panels, cap_panels;
} sw_wall_job;

/** Read job.json and layers.svg of a folder that sw_job_write made. Returns SW_OK, SW_BAD_FILE, SW_TOO_LARGE, SW_IO,
 *  SW_NO_MEMORY. */
SW_MUST_USE sw_status sw_wall_job_read(const char *dir, sw_wall_job *out, sw_note *note);
/** NULL is not allowed; zeroed is fine; leaves it zeroed. */
void sw_wall_job_free(sw_wall_job *job);

/** What lies on the wall: linear light times cover (r, g, b) and cover, each 0..65535. 8 bytes a pixel. Free with
 *  sw_wall_art_free. */
typedef struct sw_wall_art {
    size_t width_px, height_px;
    double width_mm, height_mm;
    uint16_t *at;
} sw_wall_art;

/** The passes as they will be sprayed, drawn from their curves. px_per_mm: above 0, about as fine as the photograph;
 *  lowered above 40 MP. Returns SW_OK, SW_NO_MEMORY. Same bytes for any thread count. */
SW_MUST_USE sw_status sw_wall_art_from_job(const sw_wall_job *job, double px_per_mm, sw_wall_art *out, sw_note *note);
/** A picture separated into cut's passes, at its width_mm and height_mm: the paints without bridges and without what sheets
 *  make of fine parts. Returns SW_OK and what reading and separating return. */
SW_MUST_USE sw_status sw_wall_art_sprayed(const char *path, const sw_cut_opts *cut, double px_per_mm, sw_wall_art *out,
                                          sw_note *note);
/** A picture as it is; transparent parts stay wall. Returns SW_OK and what reading a picture returns. */
SW_MUST_USE sw_status sw_wall_art_from_picture(const char *path, double width_mm, double height_mm, double px_per_mm,
                                               sw_wall_art *out, sw_note *note);
/** Zeroed is fine; leaves it zeroed. */
void sw_wall_art_free(sw_wall_art *art);

/* ---- the scene (scene.c, draw.c) -------------------------------------------------------------------- */

#define SW_WALL_PERSON_MM 1700.0 /* height of the figure that shows the size */

/** A photograph of the wall, or a drawing of it where there is none. Free with sw_wall_scene_free. */
typedef struct sw_wall_scene {
    sw_picture photo;          /* painted in place */
    uint8_t *front;            /* a byte a pixel: 255 something stands in front of the wall; NULL: nothing does */
    bool is_drawn;             /* no photograph: flat wall, no shading */
    sw_homography to_photo, to_wall; /* pixels of photo <-> mm on the wall, y up */
    size_t n_points;
    double worst_mm, mean_mm;  /* residuals; meaningful with more than four points */
    size_t worst_point;        /* 0.. */
} sw_wall_scene;

/**
 * Read the wall's photograph and mask, averaged down to at most 2400 pixels a side, and find the map; without a
 * photograph draw the wall with its keep-clear areas.
 * wall_path   the wall file: names in it are looked up beside it
 * Returns SW_OK, SW_BAD_FILE, SW_BAD_LENGTH (points), SW_TOO_LARGE, SW_IO, SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_wall_scene_read(const sw_wall *wall, const char *wall_path, sw_wall_scene *out, sw_note *note);
/** A flat scene of one colour: width_mm x height_mm at px_per_mm. */
SW_MUST_USE sw_status sw_wall_scene_flat(double width_mm, double height_mm, double px_per_mm, sw_rgb8 colour,
                                         sw_wall_scene *out, sw_note *note);
/** How many pixels of the scene a mm of the artwork takes where it is largest; 0 when no corner is in front. */
double sw_wall_scene_scale(const sw_wall_scene *scene, sw_rect_mm place);

/**
 * Paint the artwork: place.x_mm, place.y_mm is its LOWER left corner on the wall.
 *
 * Each pixel samples the artwork at least as finely as it has pixels there and averages in linear light. Paint takes
 * the light that falls on the wall: the pixel's luminance over that of the lit bare wall (85th percentile under the
 * artwork, keep-clear areas left out; taste), so shadows and relief stay; so do stains, which paint would cover.
 * Returns SW_OK, SW_BAD_LENGTH (the place is not in the photograph). Same bytes for any thread count.
 */
SW_MUST_USE sw_status sw_wall_scene_paint(sw_wall_scene *scene, const sw_wall *wall, const sw_wall_art *art,
                                          sw_rect_mm place, sw_note *note);
/** Draw a person 1.7 m tall with a scale beside the artwork. False if the scene shows no place for it. */
bool sw_wall_scene_person(sw_wall_scene *scene, const sw_wall *wall, sw_rect_mm place);
/** Draw a grid of named marks over the artwork: letters from its left, numbers from its lower edge. */
void sw_wall_scene_grid(sw_wall_scene *scene, sw_rect_mm place, double step_mm);
/** Zeroed is fine; leaves it zeroed. */
void sw_wall_scene_free(sw_wall_scene *scene);

/* ---- the plan (plan.c, report.c) -------------------------------------------------------------------- */

/** What is asked of a plan. A zeroed struct asks for the wall file's own place. */
typedef struct sw_wall_wish {
    double width_mm, height_mm;      /* the artwork's size; required */
    bool has_left, has_floor;        /* a place given here wins over the wall file's */
    double left_mm, floor_mm;
    const char *snap;                /* name of a feature: the artwork's point goes onto it; NULL: none */
} sw_wall_wish;

/** How a panel lies to what is nearest. */
typedef struct sw_wall_panel_miss {
    size_t panel;      /* index in the job */
    sw_wall_miss miss; /* below 0: it would lie over something */
} sw_wall_panel_miss;

/** Where the artwork goes and whether that works. Free with sw_wall_plan_free. */
typedef struct sw_wall_plan {
    const sw_wall *wall;             /* borrowed */
    const sw_wall_job *job;          /* borrowed; NULL for a picture */
    sw_rect_mm place;                /* x, y: lower left corner on the wall */
    const char *why;                 /* how the place came about, in words */
    sw_placement placement;          /* proposals leave room for the sheets' frames too */
    sw_wall_miss *misses;            /* every area, and the wall's edge, that is nearer than it may be; owned */
    size_t n_misses;
    sw_wall_panel_miss *panels;      /* every panel that lies over something; owned */
    size_t n_panels;
    bool fits;
} sw_wall_plan;

/** Choose the place and check it. job may be NULL. wall and job must outlive *out. Returns SW_OK (also when it does not
 *  fit), SW_BAD_USAGE (no such feature), SW_BAD_LENGTH, SW_NO_MEMORY. */
SW_MUST_USE sw_status sw_wall_plan_make(const sw_wall *wall, const sw_wall_job *job, const sw_wall_wish *wish,
                                        sw_wall_plan *out, sw_note *note);
/** Zeroed is fine; leaves it zeroed. */
void sw_wall_plan_free(sw_wall_plan *plan);

/** The plan for people, and as JSON. scene may be NULL. */
void sw_wall_plan_report(const sw_wall_plan *plan, const char *name, const sw_wall_scene *scene, sw_text *out);
void sw_wall_plan_json(const sw_wall_plan *plan, const char *name, const sw_wall_scene *scene, sw_text *out);
/** One line about place and surface, for the job sheet. */
void sw_wall_plan_words(const sw_wall_plan *plan, sw_text *out);

/* ---- the job sheet (page.c) ------------------------------------------------------------------------- */

/** Put the wall picture and the artwork's place into the job.html of a job folder, in place of what was there.
 *  jpeg: the picture's file; words: a line about it. Returns SW_OK, SW_BAD_FILE (not a page of ours), SW_IO,
 *  SW_NO_MEMORY. */
SW_MUST_USE sw_status sw_wall_page_add(const char *dir, const sw_text *jpeg, sw_rect_mm place, const char *words,
                                       sw_note *note);

#endif
