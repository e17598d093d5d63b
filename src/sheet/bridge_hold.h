/* What the files of bridging for hold share: the places that sink, and the search of a bridge for one; private to
 * src/sheet/bridge_hold.c, bridge_sites.c and bridge_find.c. */
#ifndef SW_SHEET_BRIDGE_HOLD_H
#define SW_SHEET_BRIDGE_HOLD_H

#include "sheet/bits.h"
#include "sheet/bridge_parts.h"
#include "sheet/hold.h"

#define BRIDGE_AIM_RATIO 0.85 /* of the limit asked: drawn curves hold a little worse than the plan */
/* Measures below are shares of the length of a strip that sinks by the limit. */
#define BRIDGE_NEAR_RATIO 0.25  /* places this near are tried together, the cheapest wins */
#define BRIDGE_TRIED_RATIO 0.25 /* where nothing was found, places this near are not tried again in a round */
#define BRIDGE_SITES_NEAR 9u  /* squares that a place's neighbours lie in */

/* Broad for the plan is a little more than broad for the proof: material of just that breadth is rigid to the one and hangs to
 * the other, by half a cell. */
#define BRIDGE_BROADER_RATIO 1.06

/* A place that sinks. */
typedef struct bridge_site {
    double sink_mm;
    sw_pt_mm at;
    uint32_t node;
    bool is_closed;   /* this round: near one that was mended or cannot be */
} bridge_site;

typedef struct bridge_added {
    bridge_strip strip;
    uint32_t node;    /* that it holds, where it meets it, and how far that sank */
    sw_pt_mm at;
    double sink_mm;
    bridge_site wanted;      /* the place it was looked for */
} bridge_added;

typedef struct bridge_holder {
    bridge_ground *g;
    hold_net *net;    /* of the window without bridges; its last beams are the window's bridges, in their order */
    double limit_mm, reach_mm; /* what is aimed at; a strip that sinks by that */
    double broad_mm;  /* what is not to sink at all is as broad */
    bool is_strict;   /* look for what holds well */
    sw_bits before;   /* openings without bridges that only hold */
    bridge_site *sites;
    size_t n_sites, cap_sites;
    uint32_t *first, *listed;   /* of a square its first in listed; sites by square, in their order */
    size_t cap_first, cap_listed, squares_wide, squares_high;
    double square_mm;
    sw_pt_mm corner;
    bridge_added *strips;
    size_t n_strips, cap_strips;
    sw_pt_mm *failed; /* places that nothing helped */
    size_t n_failed, cap_failed;
} bridge_holder;

/** Sites near one, the lowest first. */
typedef struct bridge_walk {
    uint32_t at[BRIDGE_SITES_NEAR], end[BRIDGE_SITES_NEAR]; /* in listed */
    size_t n;
} bridge_walk;

static inline sw_pt_mm bridge_to_mm(const bridge_ground *g, sw_pt_px p)
{
    const sw_rect_px *const w = &g->job->window;
    return sw_pt_mm_from_px(&g->grid, (sw_pt_px){ (double)w->x + p.x_px - 1.0, (double)w->y + p.y_px - 1.0 });
}

static inline sw_pt_px bridge_to_px(const bridge_ground *g, sw_pt_mm p)
{
    const sw_rect_px *const w = &g->job->window;
    return (sw_pt_px){ sw_px_from_mm(&g->grid, p.x_mm) - (double)w->x + 1.0,
                       sw_px_from_mm(&g->grid, p.y_mm) - (double)w->y + 1.0 };
}

static inline bool bridge_is_within(sw_pt_mm a, sw_pt_mm b, double mm)
{
    const double dx = a.x_mm - b.x_mm, dy = a.y_mm - b.y_mm;
    return dx * dx + dy * dy < mm * mm;
}

/* ---- the net and bridges (bridge_net.c) ------------------------------------------------------------------------ */

/** How much of each cell a window's material covers. at: its first pixel, 1 opening, 0 material; width_px: of a bridge. Caller
 *  frees with sw_hold_cells_free. */
SW_MUST_USE sw_status bridge_cover_make(const uint8_t *at, size_t stride, const sw_rect_px *window, const sw_grid *grid,
                                        double width_px, sw_hold_cells *out, sw_note *note);
/** How much of each cell the window's material covers, by its mask as it is now; caller frees with sw_hold_cells_free. */
SW_MUST_USE sw_status bridge_cells_make(const bridge_ground *g, sw_hold_cells *out, sw_note *note);
/** The net of those cells, not solved; the mask is not looked at. Caller frees with hold_net_free. */
SW_MUST_USE sw_status bridge_net_make(const bridge_ground *g, const sw_hold_cells *cells, hold_net *net, sw_note *note);
/** The beam that a strip between two parts is; between the root and itself if one of them is too small to be in the net.
 *  The ground is not flat. */
hold_link bridge_link_between(const bridge_ground *g, const hold_net *net, const bridge_strip *s, const sw_bridge *bridge);
/** A beam for each strip, left as the sheet's bridges from first on; false when memory is out. The ground is not flat. */
SW_MUST_USE bool bridge_net_join(const bridge_ground *g, const bridge_strips *strips, const sw_sheet *sheet, size_t first,
                                 hold_net *net);

/* ---- what hangs, and what holds it -------------------------------------------------------------------------------- */

/** Leave further bridges where the window's material, one piece by now, sinks more than the job allows; what hangs lowest
 *  then is put into sheet->hang. The net has a beam for each bridge of the window, then gets those that are added. The
 *  ground is flat from now on. */
SW_MUST_USE sw_status bridge_hold(bridge_ground *g, hold_net *net, sw_sheet *sheet, sw_note *note);
/** Order among the window's bridges, the sheet's from first on, which g's mask holds and sheet's openings do not yet: they
 *  move to where they read as meant, and two that pass close become one; where the sheet would sink lower they stay. net: as
 *  bridge_hold left it. */
SW_MUST_USE sw_status bridge_order_held(bridge_ground *g, hold_net *net, sw_sheet *sheet, size_t first, sw_note *note);

/** All places that sink too far, the lowest first, and the squares they lie in; false when memory is out. */
bool bridge_sites_find(bridge_holder *h);
void bridge_sites_close(bridge_holder *h, sw_pt_mm middle, double within_mm);
/** Walk from a site through those in the squares around it; within BRIDGE_NEAR_RATIO all, farther ones too. */
bridge_walk bridge_sites_walk(const bridge_holder *h, const bridge_site *from);
/** The next, not before from; NULL when there is none. */
const bridge_site *bridge_sites_next(const bridge_holder *h, const bridge_site *from, bridge_walk *walk);

/** The broad part that a slice at its rim belongs to, or the node itself. */
uint32_t bridge_body_of(const hold_net *net, uint32_t node);
/** The node a strip's end stands on: a little inside the material, because cells at its edge belong to nobody. */
uint32_t bridge_node_at_end(const bridge_holder *h, sw_pt_px end, double dx, double dy);
/** The beam that a bridge is, and whether it leaves so much of its place's sinking that it is not worth it. */
hold_link bridge_link_of(const bridge_holder *h, const bridge_added *made);
bool bridge_leaves_most(const bridge_holder *h, const bridge_added *made, double sink_mm);

typedef enum bridge_found { BRIDGE_NONE, BRIDGE_FOUND, BRIDGE_USELESS, BRIDGE_NO_MEMORY } bridge_found;

/** The bridge that pays best for a place; BRIDGE_USELESS: out would leave most as it is. Reads only: threads may look at
 *  once. */
bridge_found bridge_find_strip(const bridge_holder *h, const bridge_site *worst, bridge_added *out);
/** What is seen of a strip more than if nobody looked there in particular; about. */
double bridge_gazed_at(const bridge_ground *g, const bridge_strip *s);
/** A bridge found for a place holds alone up to here: strips farther from the place do not matter to it. */
double bridge_find_reach_mm(const bridge_holder *h);

/** Take away strips that show more than what they hold is worth; the strips' beams begin at first_link and are the net's
 *  last. The net is solved; the mask still has them. */
SW_MUST_USE sw_status bridge_spare(bridge_holder *h, size_t first_link, sw_note *note);

#endif
