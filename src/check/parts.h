/* Between the files of src/check/. */
#ifndef SW_CHECK_PARTS_H
#define SW_CHECK_PARTS_H

#include "check/check.h"

/* ---- thickness (granule.c) --------------------------------------------------------------------------- */

#define SW_GRANULE_STEP 16   /* steps of a thickness in a pixel */
#define SW_GRANULE_CAP_PX 64 /* largest radius told apart; what is thicker counts as twice this */
#define SW_GRANULE_MOST (2 * SW_GRANULE_CAP_PX * SW_GRANULE_STEP)

/** What is known of edges beyond the mask: the picture itself, from which their place within a pixel follows. */
typedef struct sw_edge_field {
    const sw_picture *art;  /* of the mask's shape; its size may be another */
    const uint8_t *label;   /* of the mask's size */
    sw_rgb8 colour[SW_MAX_PASSES + 1];
    bool is_linear;     /* edge pixels are means in linear light, else in encoded values */
} sw_edge_field;

/**
 * Local thickness of a set: for each pixel the width, edge to edge, of the largest disc within the set that covers it.
 * A pixel in a corner takes the thickness of the stroke that the corner ends.
 *
 * set         in: 1 inside
 * is_closed   what lies outside the raster is not set; else it is
 * edge        NULL: edges run between pixels
 * thick       out: width * height, in 1 / SW_GRANULE_STEP px, 0 outside the set, SW_GRANULE_MOST at most
 * opened_sq   may be NULL; out: of each pixel of the set the squared radius of the largest disc that covers it, corners
 *             as they are: the set opened by a disc of radius r is where this is above r * r. Capped like thick.
 *
 * Returns SW_OK, SW_NO_MEMORY. 14 bytes a pixel. Same bytes for any thread count.
 * Method: exact distance transform; discs about its ridge are painted from small to large (Hildebrand and Ruegsegger
 * 1997 define local thickness so); their width is then measured across, between edges, on the picture.
 */
SW_MUST_USE sw_status sw_granules_measure(const sw_mask *set, bool is_closed, const sw_edge_field *edge, uint16_t *thick,
                                          uint32_t *opened_sq, sw_note *note);

/* ---- strokes: what is too fine at which size (strokes.c, loss.c) ------------------------------------- */

/** Thickness of what each pixel belongs to. 4 bytes a pixel. Free with sw_strokes_free. */
typedef struct sw_strokes {
    size_t width_px, height_px;
    double scale;       /* pixels of the separation in one of these */
    uint16_t *opening;  /* of the opening that paints a pixel, in SW_GRANULE_STEPs; 0 on the ground */
    uint16_t *web;      /* of the thinnest material that keeps paint off it; 0 where none does */
    uint64_t *openings, *webs; /* how many pixels have each thickness: SW_GRANULE_MOST + 1 */
    uint64_t n_drawn;   /* pixels that are painted */
} sw_strokes;

/**
 * Measure openings and webs of all passes. art: on the separation's grid; edges: the picture to measure edges on, the source
 * itself where art was enlarged. An opening may run on under later paints, a web may as well: both are taken
 * as thick as that makes them.
 * Halved as often as it takes until all but the thickest is told apart. Returns SW_OK, SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_strokes_measure(const sw_separation *separation, const sw_picture *art,
                                         const sw_picture *edges, bool is_linear, double min_opening_mm, double min_web_mm, sw_strokes *out, sw_note *note);
void sw_strokes_free(sw_strokes *strokes);

/** Share of the drawing lost when px_per_mm pixels of the separation stand for a millimetre of wall. */
void sw_strokes_lost(const sw_strokes *strokes, double px_per_mm, double min_opening_mm, double min_web_mm,
                     double *opening_ratio, double *web_ratio);
/** Most px_per_mm at which no more than this is lost: the smallest size. INFINITY if nothing ever is. */
double sw_strokes_limit(const sw_strokes *strokes, double lost_ratio, double min_opening_mm, double min_web_mm);
/** Thickness in pixels of the separation that a share of all openings (or webs thinner than can be told apart) stays
 *  below. 0 if there are none. */
double sw_strokes_quantile(const sw_strokes *strokes, bool is_web, double ratio);

/* ---- the source (source.c) ----------------------------------------------------------------------------- */

/** Measure a decoded picture. Never fails; one byte row at a time. */
void sw_source_measure(const sw_picture *full, sw_check_source *out);

/* ---- passes (passes.c) ----------------------------------------------------------------------------------- */

/** Separate and bridge the coarse picture with so many passes. sheets and separation may be NULL; else the caller frees
 *  them. Returns what separating and sheets return. */
SW_MUST_USE sw_status sw_passes_try(const sw_picture *coarse, const sw_cut_opts *cut, double width_mm, size_t n_passes,
                                    sw_check_row *out, sw_separation *separation, sw_sheets *sheets, sw_note *note);
/** Fill rows 1..SW_CHECK_MAX_PASSES, side by side; check->row is filled already and is one of them. */
SW_MUST_USE sw_status sw_passes_table(const sw_picture *coarse, const sw_cut_opts *cut, double width_mm, sw_check *check,
                                      sw_note *note);
/** Will a bridge show on the wall? One that is thinner than a pixel and so covers none is taken to. */
bool sw_passes_shows(const sw_bridge *bridge);
/** Options of a separation as a job makes them. paints: room for cut->n_paints colours. */
sw_separate_opts sw_passes_opts(const sw_cut_opts *cut, size_t n_passes, sw_rgb8 *paints);

/* ---- words (verdict.c, report.c, json.c) ------------------------------------------------------------------ */

/** Add a reason; the verdict becomes the gravest. */
void sw_reasons_add(sw_reasons *reasons, const char *name, sw_verdict verdict, double weight, const char *what,
                    const char *cure);
void sw_check_judge(sw_check *check);
/** Append ',\n  "reasons": [...]'. */
void sw_reasons_add_json(const sw_reasons *reasons, sw_text *out);

/* ---- check.png (chart.c) ---------------------------------------------------------------------------------- */

/** Draw the picture with what will be lost, what is too thin and where bridges fall. */
SW_MUST_USE sw_status sw_chart_draw(const sw_check *check, const sw_picture *art, const sw_strokes *strokes,
                                    double px_per_mm, const sw_sheets *sheets, sw_picture *out, sw_note *note);

/* ---- rings of a drawing (rings.c) ------------------------------------------------------------------------ */

/** One closed contour of one sheet as a polygon: points first .. first + n - 1 of the list. */
typedef struct sw_ring {
    size_t first, n;
    size_t shape, contour;      /* where it comes from: vector->shapes[shape].contours.at[contour] */
    sw_pt_mm low, high;         /* its box */
    double area_mm2;            /* signed */
    bool is_crossing;           /* crosses itself or another */
    bool is_left_out;           /* is no edge of the openings: both sides are open */
    bool is_changed;            /* its contour got a bridge since */
    size_t depth;               /* rings around it, those left out not counted */
    size_t parent;              /* the nearest of them; SIZE_MAX: none */
} sw_ring;

/** All rings of one sheet. Free with sw_rings_free. */
typedef struct sw_rings {
    sw_ring *at;
    size_t n, cap;
    sw_pt_mm *points;
    size_t n_points, cap_points;
} sw_rings;

#define SW_NO_PANEL SIZE_MAX

/** Add the contours of a layer that lie in one of its panels (an index into vector->panels), by the middle of their boxes;
 *  SW_NO_PANEL: those that lie in none, which is all of them if the layer is not split. False when memory is out. */
SW_MUST_USE bool sw_rings_add_layer(sw_rings *rings, const sw_vector *vector, const char *layer, size_t panel);
/** The layer's first panel after this one; SW_NO_PANEL before the first and after the last. */
size_t sw_panel_after(const sw_vector *vector, const char *layer, size_t panel);
/** Add the contours of a shape. False when memory is out. */
SW_MUST_USE bool sw_rings_add(sw_rings *rings, const sw_vector *vector, size_t shape);

/** Where two rings (or one with itself) cross. False stops. */
typedef bool (*sw_crossing_fn)(void *ctx, size_t ring, size_t other, sw_pt_mm at);
/** Find all crossings; rings that have one are marked. Most touches count as well. is_complete: false if there was too much
 *  to compare. Returns SW_OK, SW_NO_MEMORY (also when fn stopped). */
SW_MUST_USE sw_status sw_rings_cross(sw_rings *rings, sw_crossing_fn fn, void *ctx, bool *is_complete, sw_note *note);

bool sw_ring_holds(const sw_rings *rings, size_t ring, sw_pt_mm p);
/** Winding number of a ring about a point: 0 outside, else +-1 of a simple ring. */
int sw_ring_winding(const sw_rings *rings, size_t ring, sw_pt_mm p);
/** Fill is_left_out of contours that the fill rule makes no edges. */
void sw_rings_apply_fill(sw_rings *rings, const sw_vector *vector);
/** Fill depth and parent. Rings that cross are left out. */
void sw_rings_nest(sw_rings *rings);
/** Centre of a ring's area if it lies inside, else its start. */
sw_pt_mm sw_ring_middle(const sw_rings *rings, size_t ring);
/** Shape of the ring that passes nearest; SIZE_MAX if there is none. */
size_t sw_svg_shape_near(const sw_rings *rings, sw_pt_mm p);
/** What a finding makes of a drawing. */
sw_verdict sw_svg_verdict_of(sw_finding_kind kind);
void sw_rings_free(sw_rings *rings);

/**
 * Join an inner contour to the outer one (or to another inner one) by a strip of material from one anchor to the other.
 * *out: caller frees; set only if *is_joined, which is false where the strip's edges do not meet both contours.
 * Returns SW_OK, SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_bridge_join(const sw_contour *outer, const sw_contour *inner, sw_pt_mm on_outer, sw_pt_mm on_inner,
                                     double width_mm, sw_contour *out, bool *is_joined, sw_note *note);
/** Part one contour in two by a strip of material from one anchor on it across to the other. *one, *two: caller frees; set
 *  only if *is_parted. Returns SW_OK, SW_NO_MEMORY. */
SW_MUST_USE sw_status sw_bridge_part(const sw_contour *contour, sw_pt_mm a, sw_pt_mm b, double width_mm, sw_contour *one,
                                     sw_contour *two, bool *is_parted, sw_note *note);

/* ---- planned bridges (hold.c) ------------------------------------------------------------------------------- */

typedef struct sw_planned {
    sw_pt_mm a, b;   /* within about a pixel of the edges of the material that it joins */
    double width_mm;
} sw_planned;

/** Bridges that a sheet with these openings would get. *out: *n of them, caller frees with sw_free; none where the
 *  drawing is too large for a raster that shows its smallest parts. Returns SW_OK, SW_NO_MEMORY, SW_INTERRUPTED. */
SW_MUST_USE sw_status sw_bridges_for(const sw_rings *rings, const sw_svg_opts *opts, sw_planned **out, size_t *n, sw_note *note);

#endif
