/* What the files of the net of beams share: the beams between its nodes, and their equations after elimination, which the
 * solver leaves and hold_probe.c asks. Private to src/sheet/hold_*.c. */
#ifndef SW_SHEET_HOLD_ROWS_H
#define SW_SHEET_HOLD_ROWS_H

#include "sheet/hold.h"

#define HOLD_MODES 3u

/* A block beside the diagonal. */
typedef struct hold_block {
    uint32_t to;
    double k[9];
} hold_block;

typedef struct hold_row {
    hold_block *at;    /* by to, rising; after elimination those that were left then */
    size_t n, cap;
    uint32_t *from;    /* nodes eliminated before it that passed something on to it */
    size_t n_from, cap_from;
    double ground[9];  /* what holds it to the root, of rows eliminated so far too */
    double d[9], f[3]; /* after elimination the diagonal's inverse; load */
    size_t turn;       /* of elimination, from 1 */
    bool is_done;
} hold_row;

/* A beam at a node, and the node at its other end. */
typedef struct hold_incident {
    uint32_t link, to;
} hold_incident;

/* What a net keeps from one solution to the next. */
typedef struct hold_keep {
    hold_row *rows;             /* of each node */
    uint32_t *first;            /* own beams of each node, in incident */
    hold_incident *incident;
    uint32_t *head;             /* of each node, its first end of a bridge, plus 1; 0 between solutions */
    uint8_t *mark;              /* 0 between solutions */
    uint8_t *is_dirty;          /* HOLD_DIRTY, HOLD_LOOSE or 0 */
    uint32_t *turn_of;          /* nodes in the order of elimination, room for HOLD_TURNS of each; of a node the one that its
                                 * row tells counts */
    size_t n_turns;
} hold_keep;

#define HOLD_TURNS 2u

#define HOLD_DIRTY 1u /* beams of the node came, went or changed */
#define HOLD_LOOSE 2u /* it hung on nothing and has no row */

#define HOLD_SEEN 1u  /* in mark: listed in its group */
#define HOLD_AGAIN 2u /* its row is made anew */

/* Nodes that hang together: where they begin in the change's nodes, and their links to the root in its roots. */
typedef struct hold_group {
    size_t node, root;
} hold_group;

/* What changes in one solution. */
typedef struct hold_change {
    hold_net *net;
    uint32_t *next;     /* of each end of a bridge, the node's next, plus 1 */
    uint32_t *nodes;    /* of all groups with a dirty node, group after group */
    size_t n_nodes;
    uint32_t *again;    /* nodes whose rows are made anew */
    size_t n_again;
    uint32_t *roots;    /* links to the root, of one group after another */
    size_t n_roots, cap_roots;
    hold_group *groups; /* n_groups, and one that begins where they end */
    size_t n_groups, cap_groups;
} hold_change;

/* A node's beams in the order of their numbers; none that join a node with itself. */
typedef struct hold_walk {
    uint32_t own, own_end, end;
    hold_incident at; /* the beam it has come to */
} hold_walk;

hold_walk hold_walk_begin(const hold_change *change, uint32_t node);
/* On to the next; false if there is none. */
bool hold_walk_next(const hold_change *change, hold_walk *walk);

/* For qsort: numbers of nodes or beams, rising. */
int hold_by_number(const void *p, const void *q);

/* Put a node on the list once. */
void hold_change_again(hold_change *change, uint32_t node);

/* Rows anew of the nodes that are listed, and of those that depend on them; then all nodes of their groups sink. False when
 * memory is out. */
SW_MUST_USE bool hold_rows_solve(hold_change *change);

void hold_keep_free(hold_net *net);

/* Widths of all slices, and the beams between nodes whose cells touch; false when memory is out. */
bool hold_beams_make(hold_net *net, double slice_mm);

/* How a beam bends and twists: the energy of mode i is rigidity[i] / 2 * (g[i] . unknowns)^2, for the three unknowns of a
 * and then of b. A bent beam is two modes: ends turned against each other (constant moment), and ends displaced against
 * the mean of their slopes (constant shear); the third is twist. */
void hold_link_modes(const hold_net *net, const hold_link *link, double rigidity[HOLD_MODES], double g[HOLD_MODES][6]);

/* Inverse of a symmetric 3 x 3 block; zero if it has none. */
void hold_invert(double d[9]);

#endif
