/* Material as a net of beams, to find what hangs and how far it sinks; private to src/sheet/ and its tests.
 *
 * Broad material is stiff. Where a disc of hold_broad_mm fits, a hand or a board carries the sheet; the frame and all
 * that is broad and broadly joined to it do not sink. Broad parts elsewhere (islands, heads on necks) turn as a whole.
 * Narrow material bends: it is cut into slices by its way from the broad, and slices that touch are joined by beams
 * as wide as they are, which bend and twist (Euler and Bernoulli; torsion of a thin strip by Saint-Venant). Several
 * necks share a load, spans hold at both ends, rings hold in themselves: the net knows.
 * Lengths in mm, loads in N. */
#ifndef SW_SHEET_HOLD_H
#define SW_SHEET_HOLD_H

#include "sheet/droop.h"

#define HOLD_NONE UINT32_MAX /* in node_of: no material */
#define HOLD_ROOT 0u         /* the node that cannot sink */
#define HOLD_CORNERS 32u     /* directions in which a broad part's farthest points are known */

/** A slice, or a broad part. */
typedef struct hold_node {
    double area_mm2;
    sw_pt_mm middle, far;    /* far: of a slice, its place farthest from the broad */
    double width_mm, long_mm; /* a slice's across and along its way; 0 of a broad part */
    double sink_mm, slope_x, slope_y; /* at its middle; filled by hold_net_solve */
    double way_mm;           /* from what cannot sink */
    uint32_t depth;          /* a slice's number from the broad, from 1; 0 of a broad part */
    uint32_t before;         /* the node on that way; HOLD_NONE: hangs on nothing */
    uint32_t group;          /* the first of the nodes that hang together */
    bool is_wide;            /* a slice wider than what is broad: round a frame, say; beams start where they touch it */
    bool is_over;            /* of a group's first: one of them sinks more than the limit */
} hold_node;

/** A beam between two nodes: from pa, which moves with node a, to pb. */
typedef struct hold_link {
    uint32_t a, b;
    sw_pt_mm pa, pb;
    double width_mm;
    double area_mm2; /* that it weighs, evenly along it; 0: its nodes' slices weigh it */
} hold_link;

/** The net. Node HOLD_ROOT first, then n_broad broad parts, then slices. Free with hold_net_free. */
typedef struct hold_net {
    const sw_material *material;
    hold_node *nodes;
    size_t n_nodes, cap_nodes, n_broad;
    sw_pt_mm *corners;       /* HOLD_CORNERS a broad part */
    hold_link *links;
    size_t n_links, cap_links, n_own; /* n_own: between its nodes; bridges after them */
    size_t width, height;    /* cells */
    double cell_mm;
    sw_pt_mm origin;
    uint32_t *node_of;       /* each cell's */
    struct hold_keep *keep;  /* its equations after elimination (hold_rows.h); NULL before it is solved */
    bool is_changed;         /* since it was solved */
} hold_net;

/** Diameter of the disc that fits where material is broad. */
double hold_broad_mm(const sw_material *material, double limit_mm);
/** Parts and beams of the cells' material, not solved; broad is where a disc of broad_mm fits. material NULL: the usual one.
 *  Returns SW_OK, SW_NO_MEMORY. 18 bytes a cell, the cells' own among them. */
SW_MUST_USE sw_status hold_net_make(const sw_hold_cells *cells, const sw_material *material, double broad_mm,
                                    hold_net *out, sw_note *note);
void hold_net_free(hold_net *net);
/** Add a beam; false when memory is out. */
SW_MUST_USE bool hold_net_link(hold_net *net, hold_link link);
/** Sinking of all nodes that hang together with a beam that changed. Method: direct stiffness, three unknowns a node, blocks
 *  eliminated in the order of least degree; anew only what follows from the change. Returns SW_OK, SW_NO_MEMORY; after
 *  that the net can only be freed. */
SW_MUST_USE sw_status hold_net_solve(hold_net *net, sw_note *note);
/** Say that a bridge came, went or changed. */
void hold_net_touch(hold_net *net, const hold_link *link);
/** How far a place that moves with a node would sink if nothing ended that but stiffness: of what hangs straight down, the
 *  measure of how much is still missing. */
double hold_pull_mm(const hold_net *net, uint32_t node, sw_pt_mm at);
/** The same if a beam were there too, exactly. The net is solved and stays as it is; threads may ask at once. False when
 *  memory is out. */
SW_MUST_USE bool hold_probe(const hold_net *net, const hold_link *link, uint32_t node, sw_pt_mm at, double *pull_mm);
/** How far a place that moves with a node sinks; at most its way, which is hanging straight down. */
double hold_sink_mm(const hold_net *net, uint32_t node, sw_pt_mm at);
/** The lowest place of a node. */
double hold_node_sink_mm(const hold_net *net, uint32_t node, sw_pt_mm *at);
/** The node at a place; HOLD_NONE where there is none. */
uint32_t hold_node_at(const hold_net *net, sw_pt_mm at);
/** The lowest place of all, and how many parts sink more than limit_mm. */
sw_hang hold_worst(hold_net *net, double limit_mm);

#endif
