/* Exact minimum cut of a graph with two terminals; private to src/sheet/. */
#ifndef SW_SHEET_FLOW_H
#define SW_SHEET_FLOW_H

#include "base/base.h"

/** An undirected edge; the cut pays weight when its ends fall on different sides. */
typedef struct sw_flow_edge {
    uint32_t a, b;
    uint32_t weight;
} sw_flow_edge;

/**
 * Put each of n nodes on the source side (1) or the sink side (0) so that the sum of the weights of separated edges,
 * plus source[i] for each node on the sink side and sink[i] for each on the source side, is least. Of all least cuts
 * the one with few nodes on the source side.
 *
 * side: n values, the caller's. Deterministic. Returns SW_OK, SW_NO_MEMORY. 80 bytes a node, 32 an edge.
 * Method: Dinic 1970 on what is left after nodes with an obvious side have been fixed.
 */
SW_MUST_USE sw_status sw_flow_cut(size_t n, const uint64_t *source, const uint64_t *sink, const sw_flow_edge *edges,
                                  size_t n_edges, uint8_t *side, sw_note *note);

#endif
