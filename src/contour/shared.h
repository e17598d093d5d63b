/* Private to this folder: edges that a mask shares with masks drawn before it, and the curves it takes over there.
 * Pixels of the mask being traced, y down. */
#ifndef SW_CONTOUR_SHARED_H
#define SW_CONTOUR_SHARED_H

#include "contour/outline.h"

/** A point of a drawn curve. */
typedef struct drawn_point {
    pt p, along;       /* along: unit, the way the curve runs */
    double g;          /* place on its contour: segment + parameter */
    uint32_t contour;
} drawn_point;

/** The curves of one earlier mask as points in a grid of cells. */
typedef struct drawn_curves {
    const sw_mask *mask;
    const sw_contours *list;
    double px_per_mm;
    size_t x_px, y_px;   /* of the mask being traced, in the earlier one */
    drawn_point *at;     /* contour by contour, in order */
    uint32_t *first;     /* point of each contour, list->n + 1 of them */
    uint32_t *cell_first, *of_cell;
    size_t n, columns, rows;
    pt low;
    double cell_px;
} drawn_curves;

/** False: out of memory. */
SW_MUST_USE bool drawn_make(const sw_drawn *from, const sw_trace_opts *opts, double px_per_mm, drawn_curves *out);
void drawn_free(drawn_curves *d);

/** The point nearest to p that runs within 45 degrees of dir; SIZE_MAX if none is within most_px. */
size_t drawn_nearest(const drawn_curves *d, pt p, pt dir, double most_px);
/** The point at or before place g of a contour. */
size_t drawn_index(const drawn_curves *d, uint32_t contour, double g);
/** The point that many further along its contour, round and round. */
size_t drawn_step(const drawn_curves *d, size_t at, ptrdiff_t by);
/** Place g of a contour; where segments meet, the tangent is that of the one before if is_end. */
void drawn_at(const drawn_curves *d, uint32_t contour, double g, bool is_end, pt *p, pt *along);
/** The place nearest to p within reach points of `at`; its distance. */
double drawn_foot(const drawn_curves *d, size_t at, ptrdiff_t reach, pt p, double *g);
/** Where the curve near `at` meets the line through p along dir, nearest to p; false if nowhere. */
bool drawn_meet(const drawn_curves *d, size_t at, ptrdiff_t reach, pt p, pt dir, double *g);
/** The curve from place g0 on to place g1 (the other way if not is_forward), round the contour's start if need be;
 *  all of it if both are the same node. Appends to *out, whose start is set. False: out of memory. */
SW_MUST_USE bool drawn_part(const drawn_curves *d, uint32_t contour, double g0, double g1, bool is_forward,
                            sw_contour *out);

/** A stretch of an outline whose pixel edges an earlier mask has as well. */
typedef struct edge_run {
    double s0, s1;      /* along the outline, 0 <= s0 < length, s0 < s1 <= s0 + length */
    uint32_t drawn;     /* index of the earlier mask */
    bool is_same;       /* it is open on the same side */
    bool is_ring;       /* the whole outline */
} edge_run;

typedef struct edge_runs {
    edge_run *at;
    size_t n, cap;
} edge_runs;

/** Runs of at least least_px: all of them, or, longest first, such that do not overlap, sorted by s0. Of drawn only masks
 *  and places count. False: out of memory. */
SW_MUST_USE bool find_runs(const outline *o, const mask_edge *edge, const drawn_curves *drawn, size_t n_drawn,
                           double least_px, bool is_all, edge_runs *out);

/** An end of a curve that is taken over. Directions: unit, along the outline. */
typedef struct joint {
    pt p, curve, own;  /* tangents of the curve taken over, and of the outline's own on the other side */
    double s, g;       /* along the outline; on the curve */
    double own_s;      /* where the outline is its own again, at s or past it */
    pt shift;          /* what the outline has to be moved by there to lead to p */
    bool is_corner;
} joint;

/* Steps and distances along outlines and curves. */
#define JOINT_STEP_PX 1.5          /* between looks at the earlier curve */
#define JOINT_REACH 8              /* points of the earlier curve on either side of the last */
#define JOINT_ANCHOR_PX 3.0        /* from a run's end to where its curve is looked for first */
#define JOINT_ON_BORDER_PX 1e-6
#define JOINT_SHIFT_PX 1.2         /* farthest that a joint may be beside the outline's own line */
#define JOINT_ROOM_PX 6.0          /* least length of outline between two joints */

/** A run on its way: the curve beside it. */
typedef struct follow {
    const outline *o;
    const drawn_curves *d;
    pt size;          /* of the mask */
    double most_px;   /* farthest that the curve may be from the outline */
    bool is_forward;
    size_t low, high; /* points of the curve at both ends */
    double s0, s1;    /* and where they are along the outline */
} follow;

static inline bool is_on_border(pt size, pt p)
{
    return p.x < JOINT_ON_BORDER_PX || p.y < JOINT_ON_BORDER_PX || p.x > size.x - JOINT_ON_BORDER_PX ||
           p.y > size.y - JOINT_ON_BORDER_PX;
}

/** A place along an outline; s anywhere near its two rounds. */
void own_at(const outline *o, double s, pt *p, pt *along);
/** Find the curve beside a run; s0 and s1 come out where it was lost. False if it is nowhere from s0 on. */
bool find_curve(follow *f);
/** Go along the curve beside the outline from s on, as far as it stays near and at most to till; way: 1 or -1. */
double follow_from(const follow *f, size_t *at, double s, double till, int way);
/** The joint at the end (way 1) or start (-1) of a run. back: how far before its end at least; 0: at the end, if it may be.
 *  False if outline and curve run nowhere alike. */
bool find_joint(const follow *f, int way, double back, joint *j);

/** A curve that is taken over for a stretch of an outline. */
typedef struct borrowed {
    joint start, end;   /* start.s < end.s */
    const drawn_curves *from;
    uint32_t contour;
    bool is_forward;    /* the curve runs as the outline does */
    bool is_ring, is_joined; /* joined: begins where the one before ends */
    bool is_loose_start, is_loose_end; /* what it was joined to is no more */
    unsigned n_far;     /* times that a pixel edge was too far from it or from a segment beside it, in one fit */
    unsigned n_bad;     /* times it was found crossing */
    sw_contour curve;   /* from start to end, open unless it is a ring */
} borrowed;

typedef struct borrowing {
    borrowed *at;       /* by start.s */
    size_t n, cap;
    pt size;            /* of the mask */
} borrowing;

void borrowing_free(borrowing *b);
/** If curve i is joined to the one before, both become loose there. */
void part_borrowed(borrowing *list, size_t i);

/** What of an outline can be taken over; *edge_px: the length of all its runs. False: out of memory. */
SW_MUST_USE bool borrow_curves(const outline *o, const mask_edge *edge, const drawn_curves *drawn, size_t n_drawn,
                               double least_px, double tolerance_px, double *edge_px, borrowing *out);

/** New joints for curves that lost what they were joined to; a curve that gets none is dropped. False: out of memory. */
SW_MUST_USE bool borrow_again(const outline *o, const mask_edge *edge, double least_px, double tolerance_px, borrowing *b);

/** Put borrowed curves in the place of their stretches; segments of the outline between them end on them. b has to outlive
 *  the outline. False: out of memory. */
SW_MUST_USE bool splice_outline(outline *o, const borrowing *b, double tolerance_px);

/** What tracing with earlier masks keeps. */
typedef struct sharing {
    drawn_curves drawn[SW_MAX_PASSES], later[SW_MAX_PASSES]; /* later: masks without curves */
    size_t n_drawn, n_later;
    double px_per_mm, least_px, tolerance_px;
    const sw_mask *mask;
    double edge_px;       /* length of shared runs */
    size_t n_given_up;
} sharing;

/** Find what the shapes share with opts->drawn and put it into their outlines. False: out of memory; free either way. */
SW_MUST_USE bool share_edges(shapes *list, const sw_mask *mask, const sw_trace_opts *opts, double px_per_mm, sharing *out);
void sharing_free(sharing *s);
/** A pixel edge is too far from a fitted segment: that counts against the borrowed curve that it is part of or begins or ends
 *  at. */
void blame_borrowed(shape *s, uint32_t segment);
/** Shapes with a borrowed curve that is too far from a pixel edge are due. */
void find_far(const shapes *list, bool *is_due, size_t *n_due);
/** Give up what is too far from pixel edges or crosses again and again, everything of a shape if is_all; *is_changed if its outline is another now. False:
 *  out of memory. */
SW_MUST_USE bool give_up(sharing *with, shape *s, bool is_all, bool *is_changed);
/** Lengths and counts of what the fitted shapes share. */
sw_shared shared_of(const sharing *with, const shapes *list);

/** Mark, or put into an outline, nodes where runs shared with masks yet to be drawn begin and end: if a segment ends there
 *  anyway, theirs need not be split. False: out of memory. */
SW_MUST_USE bool wish_nodes(outline *o, const mask_edge *edge, const drawn_curves *later, size_t n_later, double least_px);

#endif
