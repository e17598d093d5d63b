/* Private to this folder: the smooth outline of one traced path, and the curves fitted to it. Pixels, y down. */
#ifndef SW_CONTOUR_OUTLINE_H
#define SW_CONTOUR_OUTLINE_H

#include <math.h>

#include "contour/contour.h"

typedef struct pt {
    double x, y;
} pt;

static inline pt pt_sub(pt a, pt b) { return (pt){ a.x - b.x, a.y - b.y }; }
static inline pt pt_add(pt a, pt b) { return (pt){ a.x + b.x, a.y + b.y }; }
static inline pt pt_mul(pt a, double k) { return (pt){ a.x * k, a.y * k }; }
static inline pt pt_mix(pt a, pt b, double t) { return (pt){ a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) }; }
static inline double pt_dot(pt a, pt b) { return a.x * b.x + a.y * b.y; }
static inline double pt_cross(pt a, pt b) { return a.x * b.y - a.y * b.x; }
static inline double pt_len(pt a) { return sqrt(a.x * a.x + a.y * a.y); }
/** The nearest place that is no farther out than the mask reaches. */
static inline pt pt_within(pt size, pt p) { return (pt){ sw_clamp(p.x, 0.0, size.x), sw_clamp(p.y, 0.0, size.y) }; }

static inline pt pt_unit(pt a)
{
    const double len = pt_len(a);
    return len > 0.0 ? (pt){ a.x / len, a.y / len } : (pt){ 1.0, 0.0 };
}

/** A point of the outline that the fit has to pass within a limit on each side. */
typedef struct sample {
    pt p, normal;        /* normal: unit, towards the inside of the contour */
    double s;            /* length along the outline from its start */
    float w_in, w_out;   /* 1 / limit^2, the limits in pixels: towards the normal and away from it */
    float bend;          /* curvature there, 1 / pixel, positive towards the normal; 0 on a line and at a corner */
    float shift;         /* along the normal, from the rounded polygon to where the mask's edge runs */
    uint32_t piece;      /* of the polygon, from here to the next sample: twice its vertex, one more on the edge after it */
} sample;

/** A place where a segment may end. */
typedef struct node {
    pt p, in, out;    /* unit tangents, pointing along the outline; equal unless it is a corner */
    size_t sample;    /* of p */
    double turn_in, turn_out; /* angle turned since the outline began, radians, signed; differ at a corner */
    bool is_corner;
    bool is_must;     /* a segment has to end here */
    float own_a, own_b; /* handles of the outline's own curve to the next node; 0 if it is a line */
    bool is_straight; /* from here to the next node the outline is a straight line that stays one */
    const sw_seg *given; /* from here to the next node the curve is this one, borrowed from an earlier mask; or NULL */
    uint32_t borrowed;   /* then index of what it belongs to */
    bool is_joint;       /* a given curve ends or begins here; its tangent stays */
    float wish;          /* what it is worth, in segments, that one ends here */
} node;

/** A closed outline, walked twice: nodes n..2n and samples m..2m repeat the first round, with s and turn carried on. */
typedef struct outline {
    node *nodes;
    sample *samples;
    size_t n, m;
    size_t cap_nodes, cap_samples;
    double length;
} outline;

void outline_free(outline *o);

/** A corner of pixels and the way from it along the next pixel edge, the opening on the right. */
typedef struct heading {
    ptrdiff_t x, y, dx, dy;
} heading;

/** At the end of an edge turn to the next; openings that touch over a corner stay joined. corner: may be NULL; the corner
 *  as it is drawn. False if it goes straight on. */
bool turn_heading(const sw_mask *m, heading *h, pt *corner);

/** The pixel edges along one contour, once round. */
typedef struct pixel_path {
    heading start;
    uint8_t *steps; /* n of them: 0 to the right, then clockwise; owned */
    size_t n;
} pixel_path;

/** The pixel edges that a ring of points runs along; *out untouched if there are none. False: out of memory. */
SW_MUST_USE bool find_pixel_path(const sw_mask *mask, bool is_outer, const pt *ring, size_t n, pixel_path *out);

/** Call fn for every pixel edge: its middle, the chord of the ring nearest to it, by the number of its first point, and how
 *  far off, positive towards the inside. */
typedef void (*pixel_fn)(void *ctx, pt middle, size_t chord, double off);
void visit_pixels(const pixel_path *path, const pt *ring, size_t n, pixel_fn fn, void *ctx);

/** A mask and which side of an outline is open. */
typedef struct mask_edge {
    const sw_mask *mask;
    bool is_outer; /* the inside of the outline is open */
    const pixel_path *path; /* the outline's own */
} mask_edge;

/** How far the mask's edge is from p, along the unit vector that points to the opening; see edge_bend. False if the
 *  place is not that of one smooth edge. */
bool edge_offset(const sw_mask *mask, pt p, pt open, double *off);
/** What edge_offset finds too far inside a bend of this curvature. */
double edge_bend(double curvature);

/** A polygon's vertex and the edge to the next. */
typedef struct vertex {
    pt p, dir;
    double len, turn;     /* turn: at this vertex, radians, signed */
    double before, after; /* contact lengths on the edges before and after */
    bool is_corner, is_straight, is_border;
    uint8_t n_sharp;        /* times it was made sharper to bring the outline near a pixel edge */
} vertex;

static inline size_t wrap(size_t i, size_t n) { return i >= n ? i - n : i; }

/** Signed distance from the point (u, v) to the pixel edge beside it, in the row or column of v, u along that: positive in
 *  direction side. False if there is none near that has the inside on that side. */
bool find_ledge(const mask_edge *m, bool is_column, ptrdiff_t v, double u, int side, double *off);

/** Call fn for the mask's pixel edges beside the line from a to b, one in each row or column that the line crosses: how far
 *  along the line, and how far off, positive towards the inside of the outline. False if fn stopped it. */
typedef bool (*ledge_fn)(void *ctx, double along, double off);
bool visit_ledges(const mask_edge *m, pt a, pt b, ledge_fn fn, void *ctx);
/** The farthest pixel edges towards the inside and away from it, for visit_ledges. */
typedef struct ledge_range {
    double in, out;
} ledge_range;
bool widen_range(void *ctx, double along, double off);
/** Farthest that a pixel edge may be from the fitted curve. */
double ledge_most(double tolerance_px);
/** Give bumps that stick out farther than that vertices of their own, as far as there is room. Returns the new number. */
size_t follow_bumps(const mask_edge *m, double tolerance_px, vertex *v, size_t n, size_t room);

/** The polygon with its edges where the mask has them, needless vertices gone and cut corners put back, unless it is to
 *  be plain. v: room for that many, at least n. Returns the number of vertices, 0 if memory is out. Vertices exactly on the border of the
 *  mask stay on it. */
size_t polygon_true(const pt *p, size_t n, const mask_edge *m, double tolerance_px, bool is_plain, vertex *v, size_t room);
/** Lengths, directions and turns from the points. */
void polygon_measure(vertex *v, size_t n);

/** Round the polygon of a traced path into an outline. Vertices in order, area positive; those exactly on the border
 *  of the mask are corners and edges along it straight. False: out of memory. */
SW_MUST_USE bool outline_make(const pt *p, size_t n, const mask_edge *edge, double tolerance_px, bool is_plain,
                              outline *out);

/** A polygon with room for more vertices. */
#define MOST_SHARP 3u /* times that a vertex is rounded by half as much before it is a corner */
typedef struct vertices {
    vertex *v;
    size_t n, room;
} vertices;

/** Tighten the samples' limits on the side away from a pixel edge; where one is too far off already, mend the outline's
 *  polygon: n_mended vertices, 0 if it is fine. False: out of memory. */
SW_MUST_USE bool limit_by_pixels(outline *o, const mask_edge *m, double tolerance_px, vertices *g, size_t *n_mended);

/** Repeat nodes and samples for the second round; turn: of the first. False: out of memory. */
SW_MUST_USE bool outline_double(outline *o, double turn);

/** One fitted segment between nodes. */
typedef struct span {
    float a, b;   /* handle lengths in pixels */
    float error;  /* largest square of distance over limit; at most 1 */
    uint32_t end; /* node, start < end <= start + n */
    bool is_line;
} span;

/** Best segment from node i to node j > i. False if none is within the limits and fit to be edited. */
bool fit_span(const outline *o, size_t i, size_t j, span *out);

/** Handle lengths of the cubic with these end tangents that passes n samples, first and last included, within their
 *  limits. a, b: a first guess, then the result. False if none is found. */
bool fit_handles(const sample *at, size_t n, pt t0, pt t3, double *a, double *b);

/** True if an ellipse passes the outline well within its limits and no corner or straight edge speaks against it. */
bool find_ellipse(const outline *o);
/** That ellipse in four segments, a circle with its nodes at the extremes. False: out of memory. */
SW_MUST_USE bool draw_ellipse(const outline *o, sw_contour *out);

/** Fewest segments for the outline, coordinates still in pixels. from: per segment the node it begins
 *  at, n_segs + 1 of them, freed by the caller. False: out of memory. */
SW_MUST_USE bool reduce_outline(const outline *o, sw_contour *out, uint32_t **from);

/** One contour on its way. */
typedef struct shape {
    outline o;
    pt *polygon;      /* the tracer's, n_polygon vertices */
    size_t n_polygon;
    pixel_path path;
    pt low, high;     /* box of the polygon, within the mask */
    double area_px;   /* pixels enclosed, border repetition included */
    bool is_clipped;  /* it was cut back to the mask */
    unsigned n_bad;   /* times it was found crossing */
    bool is_pixels;   /* fitted is the pixel edges, and final */
    bool is_outer;    /* an opening's outer edge, not an island's; the outline is walked the same way round for both */
    struct borrowing *borrowed; /* curves of earlier masks in the outline; NULL if none */
    sw_contour fitted; /* pixels */
    uint32_t *from;    /* nodes of fitted's segments, see reduce_outline */
} shape;

typedef struct shapes {
    shape *at;
    size_t n, cap;
} shapes;

void shapes_free(shapes *list);

/** Outlines of all contours of a mask, from top to bottom by their topmost point. False: out of memory. */
SW_MUST_USE bool trace_outlines(const sw_mask *mask, double tolerance_px, shapes *out);

/** Tighten the samples' limits where openings or webs are little wider than asked, and everywhere so far that
 *  neighbouring curves cannot meet. False: out of memory. */
SW_MUST_USE bool limit_by_width(shapes *list, double min_opening_px, double min_web_px, double tolerance_px);

/** Two places where curves have a point in common: contour, segment, parameter about there, length along. */
typedef struct crossing {
    struct crossing_side {
        uint32_t contour, segment;
        double t, along;
    } a, b;
} crossing;

/** How curves are walked: as polygons within tolerance of them, edges at most longest long. Two places nearer than gap
 *  count as crossing, unless they are next to each other along one contour. */
typedef struct crossing_walk {
    double tolerance, longest, gap;
} crossing_walk;

/** Call fn for every pair of places where contours cross or touch. False: out of memory, or fn returned false. */
typedef bool (*crossing_fn)(void *ctx, const crossing *c);
SW_MUST_USE bool visit_crossings(const sw_contours *list, const crossing_walk *how, crossing_fn fn, void *ctx);

/** Halve the limits along the stretch of outline that a fitted segment stands for. */
void tighten_segment(shape *s, uint32_t segment);

/** Tighten the limits of every segment that a pixel edge is too far from. is_far: if any. False: out of memory. */
SW_MUST_USE bool tighten_far(shape *s, double tolerance_px, bool *is_far);

/** Tighten the limits of every segment that crosses another and mark its shape in is_bad. False: out of memory. */
SW_MUST_USE bool find_crossings(shapes *list, bool *is_bad, size_t *n_bad);

/** Replace the fitted curves of the shapes wanted by their pixel edges. False: out of memory. */
SW_MUST_USE bool use_pixels(const sw_mask *mask, shapes *list, const bool *is_wanted);

#endif
