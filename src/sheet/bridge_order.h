/* What the files that give bridges an order share: bridges of a window by the openings they cross, and how they may
 * be moved; private to src/sheet/bridge_order.c, bridge_mirror.c, bridge_even.c,
 * bridge_along.c, bridge_alike.c, bridge_held.c and bridge_merge.c. */
#ifndef SW_SHEET_BRIDGE_ORDER_H
#define SW_SHEET_BRIDGE_ORDER_H

#include "sheet/bridge_parts.h"
#include "sheet/runs.h"

/* What bridges moved together may cost more than before, and show more. Taste: less than anyone would see; at a fifth
 * bridges of lettering went across thick strokes to match. */
#define BRIDGE_ORDER_DEARER 1.15

/* Rings and strokes: their outline or way is this many times as long as a bridge, and a bridge this many smallest openings
 * long at most. Taste: bold letters are rings still; round an island in a wide opening nobody sees one. */
#define BRIDGE_LONG_RATIO 4.0
#define BRIDGE_THIN_OPENINGS 8.0

/* What one of them may show more than before, or than they did on average. Taste: where only their sum was asked about, one of
 * a row of ten came to lie on what nine tenths of a row avoided. */
#define BRIDGE_ORDER_EACH_DEARER 1.25

#define BRIDGE_SETTLED 1u
#define BRIDGE_SETTLED_PAIR 2u
#define BRIDGE_SETTLED_FAST 3u

#define BRIDGE_MOVED 1u
#define BRIDGE_MOVED_FAR 2u

/* What even places of a row are chosen by: what they cost; where the sheet sinks lower then, the longest span between them, as
 * strips round a ring have none by how far they move; without rows along strokes, so that pairs are alike at least; and at
 * last by how far they move alone. */
typedef enum bridge_row_wish { BRIDGE_BY_COST, BRIDGE_BY_SPAN, BRIDGE_BY_IMAGE, BRIDGE_BY_MOVES } bridge_row_wish;

/** Strips of one window and the openings they cross. Free with bridge_order_free. 12 bytes a run of openings. */
typedef struct bridge_order {
    const bridge_ground *g; /* the mask without bridges */
    bridge_strips *strips;
    sw_runs runs;           /* of openings; corners join */
    uint32_t *next_run;     /* of the same opening, index + 1; 0 ends */
    uint32_t *first_run;    /* of each opening, index + 1 */
    uint32_t *opening;      /* each strip's; 0: it stays as it is */
    uint32_t *first, *listed; /* strips by opening: those of k are listed[first[k]] .. listed[first[k + 1] - 1] */
    uint8_t *is_settled;    /* has its place: BRIDGE_SETTLED for itself, _PAIR with those of another opening, _FAST for good */
    uint8_t *is_moved;      /* BRIDGE_MOVED, or BRIDGE_MOVED_FAR along a stroke */
    bridge_row_wish wish;
    bool is_held;           /* it is known what holds: strips may go */
    uint32_t *twin;         /* of each opening the one that it is bridged like; 0: none */
    uint32_t *stand_in;     /* the strip that stands for it, index + 1; 0: it is there itself */
} bridge_order;

SW_MUST_USE sw_status bridge_order_make(const bridge_ground *g, bridge_strips *strips, bridge_order *out, sw_note *note);
void bridge_order_free(bridge_order *order);

/** Strips of an opening. */
static inline const uint32_t *bridge_order_list(const bridge_order *o, uint32_t opening, size_t *n)
{
    *n = o->first[opening + 1] - o->first[opening];
    return o->listed + o->first[opening];
}

/** The runs of one opening, row by row. */
typedef struct bridge_walk_runs {
    const bridge_order *o;
    uint32_t next; /* index + 1 */
    size_t row;    /* of the run given last */
} bridge_walk_runs;

bridge_walk_runs bridge_runs_of(const bridge_order *o, uint32_t opening);
/** NULL when there are no more. */
const sw_run *bridge_runs_next(bridge_walk_runs *w);

static inline sw_pt_px bridge_middle(const bridge_strip *s)
{
    return (sw_pt_px){ 0.5 * (s->a.x_px + s->b.x_px), 0.5 * (s->a.y_px + s->b.y_px) };
}

/**
 * May n strips (which) of one opening or two become others (to)? They must cost and show little more than before in sum,
 * join what the old ones joined, cross no more of what a viewer looks at, and keep min-opening from all other strips
 * unless the old ones were as near. *cost: of the new ones.
 */
bool bridge_order_may(const bridge_order *o, const uint32_t *which, const bridge_strip *to, size_t n, double *cost);
/** The same, and none of them shows much more than before. */
bool bridge_order_may_each(const bridge_order *o, const uint32_t *which, const bridge_strip *to, size_t n, double *cost);
void bridge_order_move(bridge_order *o, const uint32_t *which, const bridge_strip *to, size_t n);

/** How far both ends of one lie from the other's, in sum. */
double bridge_strips_off_px(const bridge_strip *a, const bridge_strip *b);

/** Distance between the axes of two strips; 0 where they cross. */
double bridge_strips_apart(const bridge_strip *a, const bridge_strip *b);

/* ---- the kinds of order ------------------------------------------------------------------------------------- */

/** At least so many strips round an island at even distances, where they have no place yet. */
SW_MUST_USE sw_status bridge_even(bridge_order *o, size_t least, sw_note *note);

/** Strips of nearly equal islands in one opening: alike. */
SW_MUST_USE sw_status bridge_alike(bridge_order *o, sw_note *note);

/** Strips that have no place yet at even distances along strokes that are no rings. */
SW_MUST_USE sw_status bridge_along(bridge_order *o, sw_note *note);

/** Strips of openings that are their own mirror images: in pairs, or on the axis. */
SW_MUST_USE sw_status bridge_mirror(bridge_order *o, sw_note *note);

/** Strips of openings that are each other's images: alike. */
SW_MUST_USE sw_status bridge_mirror_pairs(bridge_order *o, sw_note *note);

/** Of two strips that pass close, or meet, and join the same parts one goes, or one between them stands for both. */
void bridge_merge(bridge_order *o);

/** Evenly, then alike. is_last: rows along strokes and equal islands as well, which want to know all strips there will be. */
SW_MUST_USE sw_status bridge_order_all(bridge_order *o, bool is_last, sw_note *note);

#endif
