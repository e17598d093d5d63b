/* Bridges that hold less than they show. Each that the eye sees is taken away for a trial; it comes back only if some place
 * around it then sinks so much lower past the limit than with all of them that it is worth what is seen. What is left
 * hanging is said in the notes: a hand presses it flat, and nothing mends a face. */
#include <math.h>
#include <stdlib.h>

#include "sheet/bridge_hold.h"

/* What a bridge may show for each mm past the limit that it mends: an error as of so many squares of its own width on a
 * plain place that differs by 50 CIEDE2000. */
#define WORTH_SQUARES 0.25
#define SQUARE_CIEDE2000 50.0
/* What sinks lower hangs loose: no worse than this. Taste: at 160 a web of half a metre between reeds lost all it had, one
 * after another; at 220 hair got some of its sticks back, at 300 half of them, and hung loose all the same. */
#define LOOSE_MM 185.0
/* Shares of the length of a strip that sinks by the limit. */
#define AROUND_RATIO 1.5      /* as far as a bridge is answered for */
#define APART_RATIO 3.0       /* between those tried at once */
#define MOST_ROUNDS 12u       /* those that had no turn stay */

typedef enum turn { TURN_OPEN, TURN_TRIED, TURN_KEPT, TURN_GONE } turn;

typedef struct shown {
    double seen;
    uint32_t strip;
    turn turn;
    hold_link was; /* its beam */
} shown;

typedef struct spare {
    bridge_holder *h;
    hold_link *links; /* the strips' */
    shown *at;        /* strips that show, the dearest first */
    size_t n;
    float *excess_mm; /* of each node, before any trial: losses of one place add up */
} spare;

static int compare_shown(const void *left, const void *right)
{
    const shown *const a = left, *const b = right;
    if (a->seen != b->seen) return a->seen > b->seen ? -1 : 1;
    return a->strip < b->strip ? -1 : a->strip > b->strip;
}

static bool list_shown(spare *s)
{
    const bridge_holder *const h = s->h;
    s->at = sw_alloc_raw(h->n_strips, sizeof *s->at);
    s->excess_mm = sw_alloc_raw(h->net->n_nodes, sizeof *s->excess_mm);
    if (s->at == NULL || s->excess_mm == NULL) return false;
    for (uint32_t i = 0; i < h->n_strips; i++)
        if (bridge_is_shown(&h->strips[i].strip))
            s->at[s->n++] = (shown){ .seen = h->strips[i].strip.seen, .strip = i };
    if (s->n > 1) qsort(s->at, s->n, sizeof *s->at, compare_shown);
    return true;
}

static double excess(const bridge_holder *h, uint32_t node)
{
    sw_pt_mm at;
    if (h->net->nodes[node].before == HOLD_NONE) return LOOSE_MM;
    return sw_clamp(hold_node_sink_mm(h->net, node, &at) - h->limit_mm, 0.0, LOOSE_MM);
}

/* How much lower the lowest place around a strip sinks; of those that are within the limit while it is there, and of the
 * others. */
static void find_lower(const spare *s, const bridge_added *strip, double *cured_mm, double *eased_mm)
{
    const bridge_holder *const h = s->h;
    *cured_mm = *eased_mm = 0.0;
    for (uint32_t i = 1; i < h->net->n_nodes; i++) {
        const bool is_held = i == strip->node || i == strip->wanted.node;
        if (!is_held && !bridge_is_within(h->net->nodes[i].middle, strip->at, AROUND_RATIO * h->reach_mm)) continue;
        double *const most = s->excess_mm[i] > 0.0f ? eased_mm : cured_mm;
        *most = sw_max(*most, excess(h, i) - (double)s->excess_mm[i]);
    }
}

/* What hangs past the limit with the bridge too must be carried or pressed flat anyway: to sink less is worth what may be
 * seen of it. What is cured by it is worth any strip where nobody looks. */
static bool is_worth(const spare *s, const shown *tried)
{
    const bridge_holder *const h = s->h;
    const bridge_added *const strip = &h->strips[tried->strip];
    const double mm_worth = WORTH_SQUARES * h->g->width_px * h->g->width_px * SQUARE_CIEDE2000 * BRIDGE_UNIT;
    double cured_mm, eased_mm;
    find_lower(s, strip, &cured_mm, &eased_mm);
    if (mm_worth * sw_max(cured_mm, eased_mm) > tried->seen) return true;
    return cured_mm > 0.0 && mm_worth * cured_mm > bridge_gazed_at(h->g, &strip->strip);
}

/* Beams that join a node with itself hold nothing. */
static void take_away(spare *s, shown *tried)
{
    hold_link *const link = &s->links[tried->strip];
    hold_net_touch(s->h->net, link);
    tried->was = *link;
    link->b = link->a;
    tried->turn = TURN_TRIED;
}

static void put_back(spare *s, shown *tried)
{
    s->links[tried->strip] = tried->was;
    hold_net_touch(s->h->net, &tried->was);
    tried->turn = TURN_KEPT;
}

/* The dearest that had no turn, far enough from each other; how many. */
static size_t begin_trial(spare *s)
{
    const bridge_holder *const h = s->h;
    size_t n_tried = 0;
    for (size_t i = 0; i < s->n; i++) {
        bool is_apart = s->at[i].turn == TURN_OPEN;
        for (size_t k = 0; k < i && is_apart; k++)
            is_apart = s->at[k].turn != TURN_TRIED || !bridge_is_within(h->strips[s->at[i].strip].at, h->strips[s->at[k].strip].at,
                                                                        APART_RATIO * h->reach_mm);
        if (!is_apart) continue;
        take_away(s, &s->at[i]);
        n_tried++;
    }
    return n_tried;
}

/* What was tried goes, or comes back. */
static void end_trial(spare *s)
{
    for (size_t i = 0; i < s->n; i++)
        if (s->at[i].turn == TURN_TRIED) {
            if (is_worth(s, &s->at[i])) put_back(s, &s->at[i]);
            else s->at[i].turn = TURN_GONE;
        }
}

static sw_status run_trials(spare *s, sw_note *note)
{
    bridge_holder *const h = s->h;
    for (uint32_t i = 0; i < h->net->n_nodes; i++) s->excess_mm[i] = (float)excess(h, i);
    for (size_t round = 0; round < MOST_ROUNDS && begin_trial(s) > 0; round++) {
        SW_TRY(hold_net_solve(h->net, note));
        end_trial(s);
    }
    return hold_net_solve(h->net, note);
}

/* Without those that are gone, strips and beams in their order. */
static void close_ranks(spare *s)
{
    bridge_holder *const h = s->h;
    size_t kept = 0;
    for (size_t i = 0; i < s->n; i++)
        if (s->at[i].turn == TURN_GONE) h->strips[s->at[i].strip].node = HOLD_NONE;
    for (size_t i = 0; i < h->n_strips; i++) {
        if (h->strips[i].node == HOLD_NONE) continue;
        s->links[kept] = s->links[i];
        h->strips[kept++] = h->strips[i];
    }
    h->net->n_links -= h->n_strips - kept;
    h->n_strips = kept;
}

sw_status bridge_spare(bridge_holder *h, size_t first_link, sw_note *note)
{
    if (h->n_strips == 0) return SW_OK;
    spare s = { .h = h, .links = h->net->links + first_link };
    sw_status st = list_shown(&s) ? SW_OK : sw_fail_memory(note, "what hangs");
    if (st == SW_OK) st = run_trials(&s, note);
    if (st == SW_OK) close_ranks(&s);
    sw_free(s.at);
    sw_free(s.excess_mm);
    return st;
}
