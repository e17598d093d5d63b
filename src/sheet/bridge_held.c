/* Order among all bridges of a window, after those that only hold were added. They are laid into the openings as these
 * were without any; an opening whose bridges moved changes places with the one that is held, its beams in the net as well,
 * and comes back if the sheet then sinks lower than before. */
#include <math.h>
#include <string.h>

#include "sheet/bridge_order.h"
#include "sheet/bridge_sag.h"

/* A bridge's ends found anew lie as near to where they were; if farther than that many widths, it stays as it is. */
#define SAME_END_PX 2.0
#define OTHER_END_WIDTHS 1.5
#define STRIPS_AT_ONCE 8u
#define BACK 1u
#define BACK_WITH_ROW 2u
#define MOST_ALONE 16u  /* openings tried one after the other */
#define MOST_ROUNDS 4u /* in which openings are taken back; then all are */

typedef struct held {
    bridge_ground *g;     /* as it is held */
    bridge_ground bare;   /* g, but without bridges, then with those of changed openings in their new places */
    hold_net *net;
    hold_link *links;     /* the net's; the window's bridges' */
    sw_sheet *sheet;
    size_t first;         /* the window's bridges are the sheet's from this on */
    bridge_strips strips;
    bridge_order order;
    bridge_strip *was;    /* strips before they moved */
    uint8_t *is_changed;  /* openings */
    uint8_t *is_back;     /* was taken back: BACK, or BACK_WITH_ROW along a stroke */
    sw_bridge *other;     /* of each bridge, what is not in the sheet now */
    hold_link *other_link; /* its beam */
    uint32_t *laid;       /* bridges of changed openings */
} held;

static void held_free(held *h)
{
    bridge_order_free(&h->order);
    sw_mask_free(&h->bare.mask);
    sw_free(h->strips.at);
    sw_free(h->was);
    sw_free(h->is_changed);
    sw_free(h->is_back);
    sw_free(h->other);
    sw_free(h->other_link);
    sw_free(h->laid);
}

static void open_rows(size_t row_begin, size_t row_end, void *ctx)
{
    const bridge_ground *const bare = ctx;
    const size_t w = bare->mask.width_px;
    for (size_t i = row_begin * w; i < row_end * w; i++) bare->mask.at[i] = bare->part[i] == 0;
}

/* The window without bridges; all but its mask is g's. */
static sw_status make_bare(held *h, sw_note *note)
{
    sw_mask mask = { 0 };
    SW_TRY(sw_mask_make_raw(h->g->mask.width_px, h->g->mask.height_px, &mask, note));
    h->bare = *h->g;
    h->bare.mask = mask;
    h->bare.is_flat = false;
    sw_parallel_rows(mask.height_px, open_rows, &h->bare);
    return SW_OK;
}

/* The strip of a bridge; cost HUGE_VAL if it cannot be laid anew. */
static bridge_strip strip_of(const held *h, const sw_bridge *bridge)
{
    const bridge_ground *const bare = &h->bare;
    const sw_pt_px a = bridge_to_px(bare, bridge->a), b = bridge_to_px(bare, bridge->b);
    const double length = hypot(b.x_px - a.x_px, b.y_px - a.y_px);
    const sw_pt_px mid = { 0.5 * (a.x_px + b.x_px), 0.5 * (a.y_px + b.y_px) };
    bridge_strip s = bridge_strip_across(bare, mid, atan2(b.y_px - a.y_px, b.x_px - a.x_px), length + 4.0 * bare->width_px);
    const double off = sw_max(hypot(s.a.x_px - a.x_px, s.a.y_px - a.y_px), hypot(s.b.x_px - b.x_px, s.b.y_px - b.y_px));
    if (bridge->is_bent || off > OTHER_END_WIDTHS * bare->width_px) s.cost = HUGE_VAL;
    if (off > SAME_END_PX) return s;
    s.a = a;
    s.b = b;
    s.is_line_end = bridge->is_line_end;
    return s;
}

static void find_strips(size_t begin, size_t end, void *ctx)
{
    held *const h = ctx;
    for (size_t i = begin; i < end; i++) h->strips.at[i] = strip_of(h, &h->sheet->bridges[h->first + i]);
}

/* Openings near a bridge that must stay keep all theirs. */
static void freeze_around(held *h, const bridge_strip *s)
{
    bridge_order *const o = &h->order;
    const bridge_ground *const bare = &h->bare;
    const double more = 2.0 * bare->width_px, w = (double)bare->mask.width_px, t = (double)bare->mask.height_px;
    const size_t x0 = (size_t)sw_clamp(sw_min(s->a.x_px, s->b.x_px) - more, 0.0, w);
    const size_t x1 = (size_t)sw_clamp(sw_max(s->a.x_px, s->b.x_px) + more, 0.0, w);
    const size_t y0 = (size_t)sw_clamp(sw_min(s->a.y_px, s->b.y_px) - more, 0.0, t);
    const size_t y1 = (size_t)sw_clamp(sw_max(s->a.y_px, s->b.y_px) + more, 0.0, t);
    for (size_t y = y0; y < y1; y++)
        for (size_t k = o->runs.row[y]; k < o->runs.row[y + 1]; k++) {
            const sw_run *const run = &o->runs.at[k];
            size_t n;
            if (run->end <= x0 || run->begin >= x1) continue;
            const uint32_t *const list = bridge_order_list(o, run->id, &n);
            for (size_t i = 0; i < n; i++) o->is_settled[list[i]] = BRIDGE_SETTLED_FAST;
        }
}

static sw_status held_make(held *h, sw_note *note)
{
    sw_sheet *const sheet = h->sheet;
    const size_t n = sheet->n_bridges - h->first;
    SW_TRY(make_bare(h, note));
    h->links = h->net->links + h->net->n_links - n;
    h->strips.at = sw_alloc_raw(n, sizeof *h->strips.at);
    h->other = sw_alloc_array(n, sizeof *h->other);
    h->other_link = sw_alloc_array(n, sizeof *h->other_link); /* between the root and itself: none */
    h->laid = sw_alloc_raw(n, sizeof *h->laid);
    h->was = sw_alloc_raw(n, sizeof *h->was);
    if (h->strips.at == NULL || h->was == NULL || h->other == NULL || h->other_link == NULL || h->laid == NULL) return sw_fail_memory(note, "the order of bridges");
    h->strips.n = h->strips.cap = n;
    sw_parallel_bands(n, STRIPS_AT_ONCE, find_strips, h);
    SW_TRY(bridge_order_make(&h->bare, &h->strips, &h->order, note));
    h->order.is_held = true;
    h->is_changed = sw_alloc_array(h->order.runs.n_components + 1, 1);
    h->is_back = sw_alloc_array(h->order.runs.n_components + 1, 1);
    if (h->is_changed == NULL || h->is_back == NULL) return sw_fail_memory(note, "the order of bridges");
    memcpy(h->was, h->strips.at, n * sizeof *h->was);
    for (size_t i = 0; i < n && h->order.opening != NULL; i++) /* as many as strips; analysers cannot know */
        if (h->order.opening[i] == 0) freeze_around(h, &h->strips.at[i]);
    return SW_OK;
}

/* Changed openings of the bare window with their bridges. */
static sw_status lay_changed(held *h, size_t *n_changed, sw_note *note)
{
    const bridge_order *const o = &h->order;
    *n_changed = 0;
    for (size_t i = 0; i < h->strips.n; i++) {
        if (o->is_moved[i] == 0 || h->is_changed[o->opening[i]]) continue;
        h->is_changed[o->opening[i]] = 1;
        ++*n_changed;
    }
    size_t n = 0;
    for (uint32_t i = 0; i < h->strips.n; i++)
        if (h->is_changed[o->opening[i]] && o->stand_in[i] == 0) h->laid[n++] = i;
    SW_TRY(bridge_leave_some(&h->bare, NULL, h->strips.at, h->laid, n, h->other, note));
    for (size_t k = 0; k < n; k++) {
        const size_t i = h->laid[k];
        h->other[i].is_for_droop = h->sheet->bridges[h->first + i].is_for_droop;
        h->other_link[i] = o->is_moved[i] ? bridge_link_between(&h->bare, h->net, &h->strips.at[i], &h->other[i]) : h->links[i];
    }
    for (size_t i = 0; i < h->strips.n; i++) {
        size_t last = i;
        while (o->stand_in[last] != 0) last = o->stand_in[last] - 1;
        if (last != i && !h->sheet->bridges[h->first + i].is_for_droop) h->other[last].is_for_droop = false;
    }
    return SW_OK;
}

/* An opening with its bridges changes places with the one that is kept. */
static void exchange(held *h, uint32_t opening)
{
    const bridge_order *const o = &h->order;
    const size_t width = h->g->mask.width_px;
    bridge_walk_runs w = bridge_runs_of(o, opening);
    for (const sw_run *run; (run = bridge_runs_next(&w)) != NULL;)
        for (size_t i = w.row * width + run->begin; i < w.row * width + run->end; i++) {
            const uint8_t was = h->g->mask.at[i];
            h->g->mask.at[i] = h->bare.mask.at[i];
            h->bare.mask.at[i] = was;
        }
    size_t n;
    const uint32_t *const list = bridge_order_list(o, opening, &n);
    for (size_t i = 0; i < n; i++) {
        sw_bridge *const bridge = &h->sheet->bridges[h->first + list[i]], was = *bridge;
        *bridge = h->other[list[i]];
        h->other[list[i]] = was;
        const hold_link beam = h->links[list[i]];
        h->links[list[i]] = h->other_link[list[i]];
        h->other_link[list[i]] = beam;
        hold_net_touch(h->net, &beam);
        hold_net_touch(h->net, &h->links[list[i]]);
    }
}

static void exchange_all(held *h)
{
    for (uint32_t k = 1; k <= h->order.runs.n_components; k++)
        if (h->is_changed[k]) exchange(h, k);
}

static size_t take_one_back(held *h, uint32_t opening)
{
    exchange(h, opening);
    h->is_changed[opening] = 0;
    if (h->is_back[opening] == 0) h->is_back[opening] = BACK;
    return 1;
}

/* Take back changed openings with a bridge, where it was or is, near what sinks lower now; how many. One that moved far
 * holds what others counted on: that stays within what was aimed at. */
static size_t take_back(held *h, const bridge_sag *before, const bridge_sag *now)
{
    size_t n_back = 0;
    for (size_t i = 0; i < h->strips.n; i++) {
        const uint32_t opening = h->order.opening[i];
        const sw_pt_mm at = bridge_to_mm(&h->bare, bridge_middle(&h->strips.at[i])), was = h->other[i].a;
        if (!h->is_changed[opening]) continue;
        const double limit_mm = (h->order.is_moved[i] == BRIDGE_MOVED_FAR ? BRIDGE_AIM_RATIO : 1.0) * h->g->job->droop_mm;
        if (!bridge_sag_is_worse(now, before, at, limit_mm) &&
            !(h->order.is_moved[i] && bridge_sag_is_worse(now, before, was, limit_mm)))
            continue;
        const uint32_t twin = h->order.twin[opening];
        n_back += take_one_back(h, opening);
        if (twin != 0 && h->is_changed[twin]) n_back += take_one_back(h, twin); /* it would be alone in what it is */
    }
    return n_back;
}

static sw_status take_all_back(held *h, sw_note *note)
{
    exchange_all(h);
    for (uint32_t k = 1; k <= h->order.runs.n_components; k++)
        if (h->is_changed[k] && h->is_back[k] == 0) h->is_back[k] = BACK;
    return hold_net_solve(h->net, note);
}

/* What sinks lower within the limit is told. */
static void note_lower(held *h, const bridge_sag *before, const bridge_sag *now)
{
    if (now->worst.droop_mm > before->worst.droop_mm && now->worst.droop_mm <= h->g->job->droop_mm)
        h->sheet->hang.droop_mm = sw_max(h->sheet->hang.droop_mm, now->worst.droop_mm);
}

/* Until nothing sinks lower than before. */
static sw_status settle(held *h, sw_note *note)
{
    bridge_sag before = { 0 }, now = { 0 };
    sw_status st = bridge_sag_make(h->g, h->net, &before, note);
    if (st != SW_OK) return st;
    exchange_all(h);
    size_t n_back = 1;
    for (size_t round = 0; round < MOST_ROUNDS && n_back > 0 && st == SW_OK; round++) {
        bridge_sag_free(&now);
        st = hold_net_solve(h->net, note);
        if (st == SW_OK) st = bridge_sag_make(h->g, h->net, &now, note);
        if (st == SW_OK) n_back = take_back(h, &before, &now);
    }
    if (st == SW_OK && n_back > 0) st = take_all_back(h, note); /* no end to it */
    else if (st == SW_OK) note_lower(h, &before, &now);
    bridge_sag_free(&before);
    bridge_sag_free(&now);
    return st;
}

/* The same for one opening; those before it have their place. */
static sw_status settle_one(held *h, uint32_t opening, sw_note *note)
{
    bridge_sag before = { 0 }, now = { 0 };
    sw_status st = bridge_sag_make(h->g, h->net, &before, note);
    if (st != SW_OK) return st;
    h->is_changed[opening] = 1;
    exchange(h, opening);
    st = hold_net_solve(h->net, note);
    if (st == SW_OK) st = bridge_sag_make(h->g, h->net, &now, note);
    if (st == SW_OK && take_back(h, &before, &now) > 0) st = hold_net_solve(h->net, note);
    else if (st == SW_OK) note_lower(h, &before, &now);
    h->is_changed[opening] = 0;
    bridge_sag_free(&before);
    bridge_sag_free(&now);
    return st;
}

/* Two rows beside each other that hold one web may not both move, but one of them: one after the other, some. */
static sw_status settle_alone(held *h, sw_note *note)
{
    size_t n = 0;
    for (uint32_t k = 1; k <= h->order.runs.n_components; k++) {
        h->is_back[k] = h->is_changed[k] && n < MOST_ALONE;
        h->is_changed[k] = 0;
        n += h->is_back[k];
    }
    for (uint32_t k = 1; k <= h->order.runs.n_components; k++)
        if (h->is_back[k]) SW_TRY(settle_one(h, k, note));
    return SW_OK;
}

/* Two that became one left an empty place in the list. */
static void close_ranks(held *h)
{
    sw_sheet *const sheet = h->sheet;
    const size_t n = sheet->n_bridges - h->first;
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        if (!(sheet->bridges[h->first + i].width_mm > 0.0)) continue;
        sheet->bridges[h->first + kept] = sheet->bridges[h->first + i];
        h->links[kept++] = h->links[i];
    }
    sheet->n_bridges = h->first + kept;
    h->net->n_links -= n - kept;
}

static void clear_opening(held *h, uint32_t opening)
{
    const size_t width = h->bare.mask.width_px;
    bridge_walk_runs w = bridge_runs_of(&h->order, opening);
    for (const sw_run *run; (run = bridge_runs_next(&w)) != NULL;)
        memset(h->bare.mask.at + w.row * width + run->begin, 1, run->end - run->begin);
}

/* Is an opening that was taken back tried again? One with a row along a stroke by every wish, others once. */
static bool is_tried(held *h, uint32_t opening)
{
    size_t n;
    const uint32_t *const list = bridge_order_list(&h->order, opening, &n);
    for (size_t i = 0; i < n && h->is_back[opening] == BACK; i++)
        if (h->order.is_moved[list[i]] == BRIDGE_MOVED_FAR) h->is_back[opening] = BACK_WITH_ROW;
    const bool is_due = h->is_back[opening] == BACK_WITH_ROW || (h->is_back[opening] == BACK && h->order.wish == BRIDGE_BY_COST);
    return is_due && !h->is_changed[opening] && n > 1;
}

/* Strips of openings that were taken back are where they were, and may move again; all others have their place. *n: of
 * openings with several. */
static void begin_again(held *h, size_t *n)
{
    bridge_order *const o = &h->order;
    *n = 0;
    for (uint32_t k = 1; k <= o->runs.n_components; k++) {
        size_t n_strips;
        const uint32_t *const list = bridge_order_list(o, k, &n_strips);
        const bool is_again = is_tried(h, k);
        for (size_t i = 0; i < n_strips; i++) {
            o->is_settled[list[i]] = is_again ? 0 : BRIDGE_SETTLED_FAST;
            o->is_moved[list[i]] = 0;
            if (!is_again) continue;
            h->strips.at[list[i]] = h->was[list[i]];
            o->stand_in[list[i]] = 0;
            h->other[list[i]] = (sw_bridge){ 0 };
            h->other_link[list[i]] = (hold_link){ 0 };
        }
        if (is_again) clear_opening(h, k);
        *n += is_again;
        h->is_changed[k] = 0;
        if (!is_again) h->is_back[k] = 0;
        else o->twin[k] = 0;
    }
}

/* Order that sank too low is tried again by other wishes. */
static sw_status order_again(held *h, sw_note *note)
{
    for (bridge_row_wish wish = BRIDGE_BY_SPAN; wish <= BRIDGE_BY_MOVES; wish++) {
        size_t n;
        begin_again(h, &n);
        if (n == 0) return SW_OK;
        h->order.wish = wish;
        SW_TRY(bridge_order_all(&h->order, true, note));
        SW_TRY(lay_changed(h, &n, note));
        if (n > 0) SW_TRY(wish == BRIDGE_BY_MOVES ? settle_alone(h, note) : settle(h, note));
    }
    return SW_OK;
}

/* One kind of change: two become one, or all get their order. */
static sw_status change(bridge_ground *g, hold_net *net, sw_sheet *sheet, size_t first, bool is_merging, sw_note *note)
{
    held h = { .g = g, .net = net, .sheet = sheet, .first = first };
    size_t n_changed = 0;
    sw_status st = held_make(&h, note);
    if (st == SW_OK && is_merging) bridge_merge(&h.order);
    if (st == SW_OK && !is_merging) st = bridge_order_all(&h.order, true, note);
    if (st == SW_OK) st = lay_changed(&h, &n_changed, note);
    if (st == SW_OK && n_changed > 0) st = settle(&h, note);
    if (st == SW_OK && n_changed > 0 && !is_merging) st = order_again(&h, note);
    if (st == SW_OK) close_ranks(&h);
    held_free(&h);
    return st;
}

/* Do two of them pass close? Sorted by nothing: a window has some hundred. */
static bool are_any_close(const bridge_ground *g, const sw_sheet *sheet, size_t first)
{
    const double least_mm = g->job->width_mm + g->job->min_opening_mm;
    for (size_t i = first; i < sheet->n_bridges; i++)
        for (size_t k = first; k < i; k++) {
            const sw_bridge *const a = &sheet->bridges[i], *const b = &sheet->bridges[k];
            if (sw_min(a->a.x_mm, a->b.x_mm) > sw_max(b->a.x_mm, b->b.x_mm) + least_mm ||
                sw_min(b->a.x_mm, b->b.x_mm) > sw_max(a->a.x_mm, a->b.x_mm) + least_mm)
                continue;
            const bridge_strip s = { .a = bridge_to_px(g, a->a), .b = bridge_to_px(g, a->b) };
            const bridge_strip t = { .a = bridge_to_px(g, b->a), .b = bridge_to_px(g, b->b) };
            if (bridge_strips_apart(&s, &t) < sw_px_from_mm(&g->grid, least_mm)) return true;
        }
    return false;
}

sw_status bridge_order_held(bridge_ground *g, hold_net *net, sw_sheet *sheet, size_t first, sw_note *note)
{
    if (are_any_close(g, sheet, first)) SW_TRY(change(g, net, sheet, first, true, note));
    return change(g, net, sheet, first, false, note);
}
