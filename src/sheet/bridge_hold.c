/* Bridges for what hangs: islands on few bridges, heads on necks, tongues, webs and spirals of the sheet itself. The net
 * of beams (hold.h) tells how far every place sinks. In rounds, each place that sinks most among its neighbours gets
 * the bridge that costs the eye least for what it mends, to something that sinks much less; then the net is solved
 * again. Ends come first, then the middles between what holds: long tongues get bridges at even distances. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/bridge_hold.h"

#define MOST_ROUNDS 48u       /* from the frame inward, an arm or a tooth in each */
#define APART_RATIO 1.0       /* bridges of one round are this far apart: each changes what its neighbours need */
/* One that shows must, in the end, bring the place where it stands and the one it was looked for under the limit, or leave
 * at most this share: else it costs the picture and cures nothing. */
#define LEFT_SEEN_RATIO 0.5
#define MOST_AT_ONCE 64u      /* places looked at together */
#define LOOK_AHEAD 1024u      /* sites on from the lowest, for places to be looked at */

/* ---- rounds ----------------------------------------------------------------------------------------------------------- */

static bool add_strip(bridge_holder *h, const bridge_added *made)
{
    void *at = h->strips;
    const bool is_grown = sw_grow(&at, &h->cap_strips, h->n_strips + 1, sizeof *h->strips);
    h->strips = at;
    if (!is_grown) return false;
    h->strips[h->n_strips++] = *made;
    hold_link link = bridge_link_of(h, made);
    link.width_mm = sw_mm_from_px(&h->g->grid, bridge_strip_left_px(h->g, &made->strip));
    link.area_mm2 = link.width_mm * hypot(link.pb.x_mm - link.pa.x_mm, link.pb.y_mm - link.pa.y_mm);
    return hold_net_link(h->net, link);
}

static bool note_failed(bridge_holder *h, sw_pt_mm at)
{
    void *failed = h->failed;
    const bool is_grown = sw_grow(&failed, &h->cap_failed, h->n_failed + 1, sizeof *h->failed);
    h->failed = failed;
    if (is_grown) h->failed[h->n_failed++] = at;
    return is_grown;
}

/* Where a bridge was added, places that nothing helped may be helped now. */
static void forget_failed(bridge_holder *h, sw_pt_mm near)
{
    size_t kept = 0;
    for (size_t i = 0; i < h->n_failed; i++)
        if (!bridge_is_within(h->failed[i], near, h->reach_mm)) h->failed[kept++] = h->failed[i];
    h->n_failed = kept;
}

/* Places looked at together by all threads, in their order. */
typedef struct batch {
    const bridge_holder *h;
    size_t site[MOST_AT_ONCE], n, next;
    size_t n_strips; /* there were, when they were looked at */
    bridge_added made[MOST_AT_ONCE];
    bridge_found found[MOST_AT_ONCE];
} batch;

static void look_at_places(size_t begin, size_t end, void *ctx)
{
    batch *const b = ctx;
    for (size_t k = begin; k < end; k++) {
        b->made[k] = (bridge_added){ .node = HOLD_NONE };
        b->found[k] = bridge_find_strip(b->h, &b->h->sites[b->site[k]], &b->made[k]);
    }
}

/* From this site on, those that are open and will not be closed when one before them is tried. */
static void look_from(batch *b, size_t site)
{
    const bridge_holder *const h = b->h;
    const size_t most = sw_threads() > 1 ? sw_min_size(8 * (size_t)sw_threads(), MOST_AT_ONCE) : 1;
    b->n = b->next = 0;
    b->n_strips = h->n_strips;
    for (size_t i = site; i < h->n_sites && i < site + LOOK_AHEAD && b->n < most; i++) {
        bool is_apart = !h->sites[i].is_closed;
        for (size_t k = 0; k < b->n && is_apart; k++)
            is_apart = !bridge_is_within(h->sites[i].at, h->sites[b->site[k]].at, BRIDGE_TRIED_RATIO * h->reach_mm);
        if (is_apart) b->site[b->n++] = i;
    }
    sw_parallel_bands(b->n, 1, look_at_places, b);
}

/* The bridge for a site as if it were looked for now. Bridges added since it was can only take ways, and only near ones:
 * what was in vain stays so. */
static bridge_found find_now(batch *b, size_t site, bridge_added *out)
{
    const bridge_holder *const h = b->h;
    while (b->next < b->n && b->site[b->next] < site) b->next++;
    if (b->next == b->n || b->site[b->next] != site) look_from(b, site);
    const size_t k = b->next++;
    const double reach_mm = bridge_find_reach_mm(h);
    *out = b->made[k];
    bool is_stale = false;
    for (size_t i = b->n_strips; i < h->n_strips && b->found[k] == BRIDGE_FOUND && !is_stale; i++)
        is_stale = bridge_is_within(h->strips[i].at, h->sites[site].at, reach_mm);
    if (!is_stale) return b->found[k];
    *out = (bridge_added){ .node = HOLD_NONE };
    return bridge_find_strip(h, &h->sites[site], out);
}

/* No other bridge this round near a place that got one; a broad part turns as a whole: one at a time. */
static void close_helped(bridge_holder *h, const bridge_site *worst)
{
    const uint32_t body = bridge_body_of(h->net, worst->node);
    bridge_sites_close(h, worst->at, APART_RATIO * h->reach_mm);
    for (size_t k = 0; body <= h->net->n_broad && k < h->n_sites; k++)
        if (bridge_body_of(h->net, h->sites[k].node) == body) h->sites[k].is_closed = true;
}

/* Nothing more is tried near a place this round. */
static bool give_up(bridge_holder *h, sw_pt_mm at)
{
    bridge_sites_close(h, at, BRIDGE_TRIED_RATIO * h->reach_mm);
    return note_failed(h, at);
}

/* One bridge for each neighbourhood; *n_added: how many. */
static bool add_round(bridge_holder *h, size_t *n_added)
{
    batch looked = { .h = h };
    *n_added = 0;
    if (!bridge_sites_find(h)) return false;
    for (size_t i = 0; i < h->n_sites && !sw_is_interrupted(); i++) {
        const bridge_site *const worst = &h->sites[i];
        bridge_added made;
        if (worst->is_closed) continue;
        const bridge_found found = find_now(&looked, i, &made);
        if (found == BRIDGE_NO_MEMORY || (found == BRIDGE_USELESS && !give_up(h, made.at))) return false;
        if (found != BRIDGE_FOUND) {
            if (!give_up(h, worst->at)) return false;
            continue;
        }
        close_helped(h, worst);
        if (!add_strip(h, &made)) return false;
        ++*n_added;
    }
    return true;
}

/* This round's bridges that did not help leave again; their beams are the net's last. */
static bool judge_round(bridge_holder *h, size_t n_before, size_t n_links)
{
    size_t kept = n_before;
    for (size_t i = n_before; i < h->n_strips; i++) {
        bridge_added now = h->strips[i];
        const hold_link link = h->net->links[n_links + i - n_before];
        if (bridge_leaves_most(h, &now, hold_sink_mm(h->net, now.node, now.at))) {
            hold_net_touch(h->net, &link);
            if (!note_failed(h, now.at) || !note_failed(h, now.wanted.at)) return false;
            continue;
        }
        h->net->links[n_links + kept - n_before] = link;
        h->strips[kept++] = now;
        forget_failed(h, now.at);
    }
    h->net->n_links = n_links + kept - n_before;
    h->n_strips = kept;
    return true;
}

/* The round's bridges in the mask. */
static sw_status leave_round(bridge_holder *h, size_t n_before, size_t n_links, sw_sheet *sheet, sw_note *note)
{
    for (size_t i = n_before; i < h->n_strips; i++) {
        bridge_strips one = { &h->strips[i].strip, 1, 1 };
        SW_TRY(bridge_leave(h->g, NULL, &one, sheet, note));
        hold_link *const link = &h->net->links[n_links + i - n_before];
        const double width_mm = sheet->bridges[sheet->n_bridges - 1].width_mm;
        if (fabs(width_mm - link->width_mm) < 1e-9) continue;
        link->width_mm = width_mm; /* others of the round took its room */
        hold_net_touch(h->net, link);
    }
    return SW_OK;
}

static sw_status hold_all(bridge_holder *h, sw_sheet *sheet, sw_note *note)
{
    h->is_strict = true;
    for (size_t round = 0; round < MOST_ROUNDS; round++) {
        const size_t n_before = h->n_strips, n_links = h->net->n_links;
        size_t n_added;
        if (!add_round(h, &n_added)) return sw_fail_memory(note, "what hangs");
        if (n_added == 0 && (!h->is_strict || h->n_sites == 0)) return SW_OK;
        if (n_added == 0) {
            h->is_strict = false; /* all is tried once more, for what holds less well */
            h->n_failed = 0;
            continue;
        }
        SW_TRY(hold_net_solve(h->net, note));
        if (!judge_round(h, n_before, n_links)) return sw_fail_memory(note, "what hangs");
        SW_TRY(leave_round(h, n_before, n_links, sheet, note));
        SW_TRY(hold_net_solve(h->net, note));
    }
    return SW_OK;
}

/* ---- what was in vain --------------------------------------------------------------------------------------------- */

static bool leaves_much(const bridge_holder *h, uint32_t node, sw_pt_mm at, double sank_mm)
{
    const double sink = hold_sink_mm(h->net, node, at);
    return sink > h->limit_mm && sink > LEFT_SEEN_RATIO * sank_mm;
}

static bool is_in_vain(const bridge_holder *h, const bridge_added *s)
{
    return bridge_is_shown(&s->strip) &&
           (leaves_much(h, s->node, s->at, s->sink_mm) || leaves_much(h, s->wanted.node, s->wanted.at, s->wanted.sink_mm));
}

/* Forget a strip and its beam, the first of the strips' being first_link. */
static void forget_strip(bridge_holder *h, size_t strip, size_t first_link)
{
    const hold_link *const link = &h->net->links[first_link + strip];
    hold_net_touch(h->net, link);
    const size_t n_after = --h->n_strips - strip;
    memmove(h->strips + strip, h->strips + strip + 1, n_after * sizeof *h->strips);
    memmove(h->net->links + first_link + strip, h->net->links + first_link + strip + 1, n_after * sizeof *h->net->links);
    h->net->n_links--;
}

/* Does a strip still end on material? It may have stood on one that is gone. */
static bool is_joined(const bridge_ground *g, const bridge_strip *s)
{
    const double length = hypot(s->b.x_px - s->a.x_px, s->b.y_px - s->a.y_px), past = 1.5;
    const double dx = past * (s->b.x_px - s->a.x_px) / length, dy = past * (s->b.y_px - s->a.y_px) / length;
    return bridge_part_at(g, s->a.x_px - dx, s->a.y_px - dy) != 0 && bridge_part_at(g, s->b.x_px + dx, s->b.y_px + dy) != 0;
}

/* Bridges anew from the mask as it was, in the same order. */
static sw_status leave_again(bridge_holder *h, size_t first_link, size_t first_bridge, sw_sheet *sheet, sw_note *note)
{
    sw_bits_to_bytes(&h->before, h->g->mask.at, h->g->mask.width_px);
    sheet->n_bridges = first_bridge;
    for (size_t i = 0; i < h->n_strips;) {
        bridge_strips one = { &h->strips[i].strip, 1, 1 };
        if (!is_joined(h->g, one.at)) {
            forget_strip(h, i, first_link);
            continue;
        }
        SW_TRY(bridge_leave(h->g, NULL, &one, sheet, note));
        i++;
    }
    return hold_net_solve(h->net, note);
}

/* Take away what shows in vain; others may have counted on it, so until nothing is. */
static sw_status drop_vain(bridge_holder *h, size_t first_link, size_t first_bridge, sw_sheet *sheet, sw_note *note)
{
    const size_t n_before = h->n_strips;
    for (size_t n_last = SIZE_MAX; h->n_strips < n_last;) {
        n_last = h->n_strips;
        for (size_t i = h->n_strips; i-- > 0;)
            if (is_in_vain(h, &h->strips[i])) forget_strip(h, i, first_link);
        if (h->n_strips < n_last) SW_TRY(hold_net_solve(h->net, note));
    }
    SW_TRY(bridge_spare(h, first_link, note));
    return h->n_strips == n_before ? SW_OK : leave_again(h, first_link, first_bridge, sheet, note);
}

static void note_worst(bridge_holder *h, sw_sheet *sheet)
{
    const sw_hang worst = hold_worst(h->net, h->g->job->droop_mm);
    const size_t n_over = sheet->hang.n_over + worst.n_over;
    if (worst.droop_mm > sheet->hang.droop_mm) sheet->hang = worst;
    sheet->hang.n_over = n_over;
}

/* From here on bridges are told from what was there. */
static void forget_squares(bridge_ground *g)
{
    const size_t n = g->squares_wide * ((g->mask.height_px + BRIDGE_SQUARE - 1) / BRIDGE_SQUARE);
    for (size_t i = 0; i < n; i++) g->has_material[i] = g->has_material[i] != 0 ? BRIDGE_HAS_SOME : 0;
}

sw_status bridge_hold(bridge_ground *g, hold_net *net, sw_sheet *sheet, sw_note *note)
{
    bridge_holder h = { .g = g, .net = net, .limit_mm = BRIDGE_AIM_RATIO * g->job->droop_mm };
    h.reach_mm = droop_tongue_length_mm(net->material, h.limit_mm);
    h.broad_mm = hold_broad_mm(net->material, h.limit_mm);
    const size_t first_link = net->n_links, first_bridge = sheet->n_bridges;
    g->is_flat = true;
    forget_squares(g);
    sw_status st = sw_bits_make(g->mask.width_px, g->mask.height_px, 0, &h.before, note);
    if (st == SW_OK) sw_bits_from_bytes(&h.before, g->mask.at, g->mask.width_px, 1, 1, false);
    if (st == SW_OK) st = hold_net_solve(net, note);
    if (st == SW_OK) st = hold_all(&h, sheet, note);
    if (st == SW_OK) st = drop_vain(&h, first_link, first_bridge, sheet, note);
    if (st == SW_OK) note_worst(&h, sheet);
    sw_bits_free(&h.before);
    sw_free(h.sites);
    sw_free(h.first);
    sw_free(h.listed);
    sw_free(h.strips);
    sw_free(h.failed);
    return st;
}
