/*
 * Finding what is narrow.
 *
 * What is left of a set after opening it by the disc falls into parts; a part that touches the rest at two stretches
 * is a neck, one that reaches far a spike, one that touches nothing a speck, and all others are corners. Necks are
 * also found by their middle lines: the set is thinned down to the places where the disc fits, and what has to stay
 * outside those to keep the set's connections is a neck. Spikes and specks get anchors at their tips first, so that
 * their lines stay too.
 *
 * Tips: a walk breadth first from where the part touches makes a tree; branches longer than the disc end in tips. The
 * line should stop half a disc before the end, because the disc that is later laid along it reaches that much on.
 */
#include "sheet/neck.h"

#include "sheet/thin.h"

#include <stdlib.h>

#define NOWHERE UINT32_MAX

bool sw_pixels_add(sw_pixels *list, uint32_t pixel)
{
    void *data = list->at;
    const bool is_ok = list->n < list->cap || sw_grow(&data, &list->cap, list->n + 1, sizeof *list->at);
    list->at = data;
    if (is_ok) list->at[list->n++] = pixel;
    return is_ok;
}

sw_status sw_narrow_make(size_t width_px, size_t height_px, size_t margin_px, sw_narrow *out, sw_note *note)
{
    sw_narrow made = { 0 };
    sw_bits *const plane[8] = { &made.set,    &made.opened, &made.core, &made.thin,
                                &made.narrow, &made.todo,   &made.mark, &made.firm };
    for (size_t i = 0; i < 8; i++) {
        const sw_status st = sw_bits_make(width_px, height_px, margin_px, plane[i], note);
        if (st == SW_OK) continue;
        sw_narrow_free(&made);
        return st;
    }
    *out = made;
    return SW_OK;
}

void sw_narrow_free(sw_narrow *room)
{
    if (room == NULL) return;
    sw_bits *const plane[8] = { &room->set,    &room->opened, &room->core, &room->thin,
                                &room->narrow, &room->todo,   &room->mark, &room->firm };
    for (size_t i = 0; i < 8; i++) sw_bits_free(plane[i]);
    sw_pixels *const list[5] = { &room->parts, &room->list, &room->contact, &room->stretch, &room->tips };
    for (size_t i = 0; i < 5; i++) sw_free(list[i]->at);
    sw_free(room->parent);
    sw_free(room->height);
    sw_free(room->leaf);
    sw_free(room->offsets);
    *room = (sw_narrow){ 0 };
}

static int by_distance(const void *p, const void *q)
{
    const sw_offset *const a = p, *const b = q;
    if (a->d2 != b->d2) return a->d2 < b->d2 ? -1 : 1;
    if (a->dy != b->dy) return a->dy < b->dy ? -1 : 1;
    return a->dx < b->dx ? -1 : a->dx > b->dx;
}

sw_status sw_narrow_set_disc(sw_narrow *room, size_t diameter_px, size_t hair_px, sw_note *note)
{
    const int32_t reach = (int32_t)(SW_HAIRY_SPIKE_RATIO * (double)diameter_px + 1.0);
    sw_offset *const offsets = sw_alloc_raw((size_t)(2 * reach + 1) * (size_t)(2 * reach + 1), sizeof *offsets);
    if (offsets == NULL) return sw_fail_memory(note, "a disc");
    size_t n = 0;
    for (int32_t dy = -reach; dy <= reach; dy++)
        for (int32_t dx = -reach; dx <= reach; dx++)
            if (dx * dx + dy * dy <= reach * reach)
                offsets[n++] = (sw_offset){ dx, dy, (uint32_t)(dx * dx + dy * dy) };
    qsort(offsets, n, sizeof *offsets, by_distance);
    sw_free(room->offsets);
    room->offsets = offsets;
    room->n_offsets = n;
    room->width_px = diameter_px;
    room->disc = sw_disc_of_diameter(diameter_px);
    room->has_hairs = hair_px > 0;
    room->hair_disc = sw_disc_of_diameter(hair_px > 0 ? hair_px : 1);
    room->waist_disc = sw_disc_of_diameter(diameter_px > 1 ? diameter_px - 1 : 1);
    return SW_OK;
}

/* ---- pixels by number ---------------------------------------------------------------------------- */

static inline bool has(const sw_bits *bits, uint32_t p) { return (bits->at[p / 64] >> (p % 64) & 1u) != 0; }
static inline void put(sw_bits *bits, uint32_t p) { bits->at[p / 64] |= (uint64_t)1 << (p % 64); }
static inline void drop(sw_bits *bits, uint32_t p) { bits->at[p / 64] &= ~((uint64_t)1 << (p % 64)); }

/* Pixel p moved by (dx, dy), NOWHERE outside the padded raster. */
static inline uint32_t moved(const sw_bits *bits, uint32_t p, int32_t dx, int32_t dy)
{
    const int64_t width = (int64_t)bits->words * 64;
    const int64_t x = p % width + dx, y = p / width + dy;
    if (x < 0 || y < 0 || x >= width || y >= (int64_t)bits->rows) return NOWHERE;
    return (uint32_t)(y * width + x);
}

static const int8_t AROUND[8][2] = { { 1, 0 },  { 0, -1 },  { -1, 0 }, { 0, 1 },
                                     { 1, -1 }, { -1, -1 }, { -1, 1 }, { 1, 1 } };

uint32_t sw_narrow_depth(const sw_narrow *room, uint32_t pixel)
{
    for (size_t i = 0; i < room->n_offsets; i++) {
        const uint32_t q = moved(&room->set, pixel, room->offsets[i].dx, room->offsets[i].dy);
        if (q == NOWHERE || !has(&room->set, q)) return room->offsets[i].d2;
    }
    return UINT32_MAX;
}

/* ---- the parts that opening leaves ------------------------------------------------------------- */

/* What the walk through one part has seen. */
typedef struct part {
    uint32_t low_x, high_x, low_y, high_y;
    bool is_cut; /* reaches the edge of the padded raster */
    size_t n_stretches;
} part;

static void stretch_box(part *seen, uint32_t p, uint32_t width)
{
    const uint32_t x = p % width, y = p / width;
    if (x < seen->low_x) seen->low_x = x;
    if (x > seen->high_x) seen->high_x = x;
    if (y < seen->low_y) seen->low_y = y;
    if (y > seen->high_y) seen->high_y = y;
}

/* All pixels of the part at start, into list; what it touches of opened, into contact. todo loses them. */
static bool gather(sw_narrow *room, uint32_t start, part *seen)
{
    const size_t n_around = room->is_eight ? 8 : 4;
    *seen = (part){ .low_x = UINT32_MAX, .low_y = UINT32_MAX };
    room->list.n = room->contact.n = 0;
    drop(&room->todo, start);
    if (!sw_pixels_add(&room->list, start)) return false;
    for (size_t i = 0; i < room->list.n; i++) {
        const uint32_t p = room->list.at[i];
        stretch_box(seen, p, (uint32_t)(room->set.words * 64));
        for (size_t k = 0; k < n_around; k++) {
            const uint32_t q = moved(&room->set, p, AROUND[k][0], AROUND[k][1]);
            if (q == NOWHERE) {
                seen->is_cut = true;
            } else if (has(&room->todo, q)) {
                drop(&room->todo, q);
                if (!sw_pixels_add(&room->list, q)) return false;
            } else if (has(&room->opened, q) && !has(&room->mark, q)) {
                put(&room->mark, q);
                if (!sw_pixels_add(&room->contact, q)) return false;
            }
        }
    }
    return true;
}

bool sw_narrow_is_far(const sw_narrow *room, uint32_t pixel, double reach_px)
{
    for (size_t k = 0; k < room->n_offsets && room->offsets[k].d2 <= reach_px * reach_px; k++) {
        const uint32_t q = moved(&room->set, pixel, room->offsets[k].dx, room->offsets[k].dy);
        if (q == NOWHERE || has(&room->opened, q)) return false;
    }
    return true;
}

/* Does the part, or what is firm of it, reach farther from opened than ratio times the disc's width? One that fits a
 * box with a shorter diagonal and touches opened does not. */
static bool is_far(const sw_narrow *room, const part *seen, double ratio, bool is_all)
{
    const double dx = seen->high_x - seen->low_x + 1, dy = seen->high_y - seen->low_y + 1;
    const double reach_px = ratio * (double)room->width_px;
    if (dx * dx + dy * dy <= reach_px * reach_px) return false;
    for (size_t i = 0; i < room->list.n; i++) {
        const uint32_t p = room->list.at[i];
        if ((is_all || has(&room->firm, p)) && sw_narrow_is_far(room, p, reach_px)) return true;
    }
    return false;
}

static bool is_spike(const sw_narrow *room, const part *seen)
{
    if (!room->has_hairs) return is_far(room, seen, SW_SPIKE_RATIO, true);
    return is_far(room, seen, SW_SPIKE_RATIO, false) ||
           is_far(room, seen, room->can_trim ? SW_HAIRY_SPIKE_RATIO : 1.0, true);
}

/* Connected stretches among contact, whose marks go. After it stretch holds the same pixels, stretch by stretch;
 * n_first of them are the first. */
static bool count_stretches(sw_narrow *room, part *seen, size_t *n_first)
{
    sw_pixels *const order = &room->stretch;
    order->n = *n_first = 0;
    for (size_t c = 0; c < room->contact.n; c++) {
        if (!has(&room->mark, room->contact.at[c])) continue;
        seen->n_stretches++;
        drop(&room->mark, room->contact.at[c]);
        const size_t begin = order->n;
        if (!sw_pixels_add(order, room->contact.at[c])) return false;
        for (size_t i = begin; i < order->n; i++) {
            for (size_t k = 0; k < 8; k++) {
                const uint32_t q = moved(&room->set, order->at[i], AROUND[k][0], AROUND[k][1]);
                if (q == NOWHERE || !has(&room->mark, q)) continue;
                drop(&room->mark, q);
                if (!sw_pixels_add(order, q)) return false;
            }
        }
        if (begin == 0) *n_first = order->n;
    }
    return true;
}

/* ---- tips ---------------------------------------------------------------------------------------- */

static bool has_walk_room(sw_narrow *room)
{
    if (room->walk_cap >= room->list.cap) return true;
    uint32_t **const array[3] = { &room->parent, &room->height, &room->leaf };
    for (size_t i = 0; i < 3; i++) {
        sw_free(*array[i]);
        *array[i] = sw_alloc_raw(room->list.cap, sizeof **array[i]);
    }
    room->walk_cap = room->parent != NULL && room->height != NULL && room->leaf != NULL ? room->list.cap : 0;
    return room->walk_cap != 0;
}

/* Reorder list breadth first from its first n_roots pixels; parent[i] is the index in list it was reached from. */
static void walk(sw_narrow *room, size_t n_roots)
{
    sw_pixels *const list = &room->list;
    for (size_t i = n_roots; i < list->n; i++) put(&room->mark, list->at[i]);
    size_t end = n_roots;
    for (size_t i = 0; i < n_roots; i++) room->parent[i] = NOWHERE;
    for (size_t i = 0; i < end; i++) {
        const uint32_t p = list->at[i];
        for (size_t k = 0; k < 8; k++) {
            const uint32_t q = moved(&room->set, p, AROUND[k][0], AROUND[k][1]);
            if (q == NOWHERE || !has(&room->mark, q)) continue;
            drop(&room->mark, q);
            room->parent[end] = (uint32_t)i;
            list->at[end++] = q;
        }
    }
    list->n = end;
}

/* The deepest pixel near p: uphill in depth. */
static uint32_t climb(const sw_narrow *room, uint32_t p)
{
    uint32_t depth = sw_narrow_depth(room, p);
    for (size_t step = 0; step < room->width_px; step++) {
        uint32_t best = p;
        for (size_t k = 0; k < 8; k++) {
            const uint32_t q = moved(&room->set, p, AROUND[k][0], AROUND[k][1]);
            if (q == NOWHERE || !has(&room->set, q)) continue;
            const uint32_t d = sw_narrow_depth(room, q);
            if (d > depth) {
                depth = d;
                best = q;
            }
        }
        if (best == p) break;
        p = best;
    }
    return p;
}

static bool add_tip(sw_narrow *room, uint32_t leaf)
{
    uint32_t i = leaf;
    for (size_t back = 0; back < room->width_px / 2 && room->parent[i] != NOWHERE; back++) i = room->parent[i];
    const uint32_t p = climb(room, room->list.at[i]);
    return has(&room->core, p) || sw_pixels_add(&room->tips, p);
}

/* Branches of the walk about as long as the disc is wide end in tips; so does the longest of a root if is_speck. */
static bool find_tips(sw_narrow *room, bool is_speck)
{
    for (size_t i = 0; i < room->list.n; i++) {
        room->height[i] = 0;
        room->leaf[i] = (uint32_t)i;
    }
    for (size_t i = room->list.n; i-- > 0;) {
        const uint32_t up = room->parent[i];
        const bool is_main = up != NOWHERE && room->height[i] + 1 > room->height[up];
        uint32_t height = room->height[i], leaf = room->leaf[i]; /* of the chain that goes no farther up */
        if (is_main) {
            const uint32_t other = room->height[up], other_leaf = room->leaf[up];
            room->height[up] = height + 1;
            room->leaf[up] = leaf;
            height = other;
            leaf = other_leaf;
        }
        if (5 * height >= 4 * room->width_px || (is_speck && up == NOWHERE)) {
            if (!add_tip(room, leaf)) return false;
        }
    }
    return true;
}

/* Tips of a part that touches nothing: walked from one end to the other. */
static bool tips_of_speck(sw_narrow *room)
{
    walk(room, 1);
    const uint32_t end = room->list.at[room->list.n - 1];
    room->list.at[room->list.n - 1] = room->list.at[0];
    room->list.at[0] = end;
    walk(room, 1);
    /* how far the other end is */
    size_t length = 0;
    for (uint32_t i = (uint32_t)room->list.n - 1; room->parent[i] != NOWHERE; i = room->parent[i]) length++;
    if (length < room->width_px) { /* compact: one disc in the middle will do */
        uint32_t i = (uint32_t)room->list.n - 1;
        for (size_t back = 0; back < length / 2; back++) i = room->parent[i];
        return sw_pixels_add(&room->tips, climb(room, room->list.at[i]));
    }
    if (!find_tips(room, true)) return false;
    uint32_t i = (uint32_t)room->list.n - 1; /* the root's own end: as far back from it as the others */
    for (size_t up = length; up > room->width_px / 2; up--) i = room->parent[i];
    return sw_pixels_add(&room->tips, climb(room, room->list.at[i]));
}

/* Tips of a spike: walked from where it touches, the pixels of list beside the first stretch being the roots. */
static bool tips_of_spike(sw_narrow *room, size_t n_first)
{
    for (size_t i = 0; i < n_first; i++) put(&room->mark, room->stretch.at[i]);
    size_t n_roots = 0;
    for (size_t i = 0; i < room->list.n; i++) {
        const uint32_t p = room->list.at[i];
        bool is_root = false;
        for (size_t k = 0; k < 8 && !is_root; k++) {
            const uint32_t q = moved(&room->set, p, AROUND[k][0], AROUND[k][1]);
            is_root = q != NOWHERE && has(&room->mark, q);
        }
        if (!is_root) continue;
        room->list.at[i] = room->list.at[n_roots];
        room->list.at[n_roots++] = p;
    }
    for (size_t i = 0; i < n_first; i++) drop(&room->mark, room->stretch.at[i]);
    walk(room, n_roots);
    return find_tips(room, false);
}

/* ---- all together ---------------------------------------------------------------------------------- */

/* A part at the edge of the raster: only one that comes well inside is worth another look from farther off. */
static bool is_deep(const sw_narrow *room, const part *seen)
{
    const size_t width = room->set.words * 64, w = room->width_px;
    return seen->high_x >= w && seen->low_x + w < width && seen->high_y >= w && seen->low_y + w < room->set.rows &&
           room->list.n > w;
}

static bool judge_part(sw_narrow *room, uint32_t start)
{
    part seen;
    size_t n_first;
    if (!gather(room, start, &seen) || !count_stretches(room, &seen, &n_first)) return false;
    const bool reaches_far = seen.n_stretches > 0 && is_spike(room, &seen);
    if (seen.n_stretches == 1 && !reaches_far) return true; /* a corner */
    if (seen.is_cut) {
        room->n_cut += is_deep(room, &seen);
        return true;
    }
    for (size_t i = 0; i < room->list.n; i++) put(&room->narrow, room->list.at[i]);
    if (!sw_pixels_add(&room->parts, start)) return false;
    if (seen.n_stretches > 0 && !reaches_far) return true;
    if (!has_walk_room(room)) return false;
    return seen.n_stretches == 0 ? tips_of_speck(room) : tips_of_spike(room, n_first);
}

/* Pixels at whose centre the disc fits, or, if even, at one of whose corners; room is overwritten. */
static void find_middles(const sw_bits *set, const sw_disc *disc, sw_bits *room, sw_bits *out)
{
    if (!disc->is_even) {
        sw_bits_dilate(set, disc, SW_DISC_PIXELS, true, true, out);
        return;
    }
    const sw_disc four = sw_disc_of_diameter(2);
    sw_bits_dilate(set, disc, SW_DISC_TO_CORNERS, true, true, room);
    sw_bits_dilate(room, &four, SW_DISC_FROM_CORNERS, false, false, out);
}

static void open_set(sw_narrow *room)
{
    if (room->disc.is_even) {
        const sw_disc four = sw_disc_of_diameter(2);
        sw_bits_open(&room->set, false, &room->disc, &room->thin, &room->opened);
        sw_bits_dilate(&room->thin, &four, SW_DISC_FROM_CORNERS, false, false, &room->core);
    } else {
        sw_bits_open(&room->set, false, &room->disc, &room->core, &room->opened);
    }
    if (room->has_hairs) sw_bits_open(&room->set, false, &room->hair_disc, &room->todo, &room->firm);
    const size_t n_words = room->set.words * room->set.rows;
    for (size_t i = 0; i < n_words; i++) {
        room->todo.at[i] = room->set.at[i] & ~room->opened.at[i];
        room->narrow.at[i] = 0;
        room->mark.at[i] = 0;
    }
}

sw_status sw_narrow_find(sw_narrow *room, bool is_eight, sw_note *note)
{
    const size_t n_words = room->set.words * room->set.rows;
    room->is_eight = is_eight;
    room->parts.n = room->tips.n = room->n_cut = 0;
    open_set(room);
    for (size_t i = 0; i < n_words; i++)
        while (room->todo.at[i] != 0) {
            const uint32_t p = (uint32_t)(64 * i) + (uint32_t)__builtin_ctzll(room->todo.at[i]);
            if (!judge_part(room, p)) return sw_fail_memory(note, "narrow parts");
        }
    /* todo is empty now and serves as room */
    find_middles(&room->set, &room->waist_disc, &room->todo, &room->thin);
    for (size_t i = 0; i < n_words; i++) {
        room->core.at[i] |= room->thin.at[i] & ~room->narrow.at[i];
        room->thin.at[i] = room->set.at[i];
    }
    for (size_t i = 0; i < room->tips.n; i++) put(&room->core, room->tips.at[i]);
    const sw_status st = sw_bits_thin(&room->thin, &room->core, is_eight, note);
    for (size_t i = 0; i < room->tips.n; i++) drop(&room->core, room->tips.at[i]);
    return st;
}
