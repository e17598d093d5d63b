/*
 * Smallest features.
 *
 * Openings and material are handled by the same code: find the narrow parts of a set, then for each either add to the
 * set (lay the disc along the part's middle line, so that it is just wide enough) or take the part away. Which of the
 * two is decided by what it shows on the wall: colour error times area, more where a viewer looks, nothing where a
 * later pass covers. After bridging there is no choice any more: only material may be added.
 *
 * Openings first, webs second: a drawn line that is widened may leave a web too thin, and webs hold the sheet.
 */
#include "sheet/feature.h"

#include "sheet/neck.h"
#include "sheet/runs.h"

#include <math.h>
#include <string.h>

#define NOWHERE UINT32_MAX
#define MEND_ROUNDS 3 /* a mended place can make a new one; what is left after three is for settling */
#define TILE_PX 64u    /* changes are gathered by tiles as wide as a word */
#define CONTEXT_WIDTHS 6u /* so many disc widths around a change are looked at again */

/* A line at least this many times as long as the disc is wide is a drawn line; losing it counts LINE_COUNTS times.
 * By taste: at 1 whiskers and lettering of half the smallest width went, at 4 texture was kept as ropes. */
#define LINE_LENGTHS 3
#define LINE_COUNTS 2.5

/* Thickening a web where the wall below has another colour than the web draws a fringe of a third colour around it;
 * that counts so many times. By taste: at 1 the tips of lights on the heron's reeds got white collars. */
#define FRINGE_COUNTS 2.0

/* Corner parts are rid of what a disc of this share of the smallest width does not reach, if it is more than a right
 * angle leaves: hairs along an edge, which no blade follows and every curve would have to. */
#define OPENING_HAIR_RATIO 0.6
#define WEB_HAIR_RATIO 0.4
#define HAIR_LEAST_PX 3u

/* Salience of 255 makes an error count this much more. By taste. */
#define SALIENCE_COUNTS 8.0

typedef struct mender {
    sw_sheet *sheet;
    const sw_feature_job *job;
    sw_narrow room;
    sw_disc to_disc;    /* laid along what is narrow */
    sw_bits open, next; /* the openings now; the set after this round */
    size_t off_x, off_y; /* added to a padded raster's column and row they give those of the window (wrapping) */
    sw_pixels line, add, remove;
    sw_pixels changed;  /* pixels of open that this round changed */
    size_t n_cut;       /* parts seen at a raster's edge and not judged */
    bool is_openings;   /* the set is the openings, else the material */
    bool is_settling;   /* only material may be added */
    bool is_line_cut;   /* the line runs out of the raster */
} mender;

static void mender_free(mender *m)
{
    sw_narrow_free(&m->room);
    sw_bits_free(&m->open);
    sw_bits_free(&m->next);
    sw_pixels *const list[4] = { &m->line, &m->add, &m->remove, &m->changed };
    for (size_t i = 0; i < 4; i++) sw_free(list[i]->at);
}

static sw_status mender_make(sw_sheet *sheet, const sw_feature_job *job, bool is_settling, size_t width, size_t height,
                             size_t margin, mender *out, sw_note *note)
{
    mender m = { .sheet = sheet, .job = job, .is_settling = is_settling };
    sw_status st = sw_narrow_make(width, height, margin, &m.room, note);
    if (st == SW_OK) st = sw_bits_make(width, height, margin, &m.open, note);
    if (st == SW_OK) st = sw_bits_make(width, height, margin, &m.next, note);
    if (st != SW_OK) {
        mender_free(&m);
        return st;
    }
    m.off_x = 0 - m.open.pad_x;
    m.off_y = 0 - m.open.pad_y;
    *out = m;
    return SW_OK;
}

/* ---- pixels ---------------------------------------------------------------------------------------- */

static inline bool has(const sw_bits *bits, uint32_t p) { return (bits->at[p / 64] >> (p % 64) & 1u) != 0; }
static inline void put(sw_bits *bits, uint32_t p) { bits->at[p / 64] |= (uint64_t)1 << (p % 64); }
static inline void drop(sw_bits *bits, uint32_t p) { bits->at[p / 64] &= ~((uint64_t)1 << (p % 64)); }

static inline uint32_t moved(const sw_bits *bits, uint32_t p, int32_t dx, int32_t dy)
{
    const int64_t width = (int64_t)bits->words * 64;
    const int64_t x = p % width + dx, y = p / width + dy;
    if (x < 0 || y < 0 || x >= width || y >= (int64_t)bits->rows) return NOWHERE;
    return (uint32_t)(y * width + x);
}

/* Index of the pixel in the whole grid; false if it lies in the frame. */
static bool in_window(const mender *m, uint32_t p, size_t *index)
{
    const size_t x = p % (m->open.words * 64) + m->off_x, y = p / (m->open.words * 64) + m->off_y;
    if (x >= m->job->window.width || y >= m->job->window.height) return false;
    *index = (m->job->window.y + y) * m->sheet->openings.width_px + m->job->window.x + x;
    return true;
}

/* ---- what a change shows --------------------------------------------------------------------------- */

/* What the wall shows at a pixel before this pass. */
static size_t below(const mender *m, size_t index)
{
    const size_t width = m->sheet->openings.width_px;
    size_t k = m->sheet->pass - 1;
    while (k > 0 && !sw_bit(&m->job->stack[k - 1], index % width, index / width)) k--;
    return k;
}

/* Error of painting (or of not painting) a pixel, per pixel; 0 where a later pass covers it or where it is right. */
static double error_of(const mender *m, size_t index, bool is_painted)
{
    const sw_separation *const s = m->job->separation;
    const size_t pass = m->sheet->pass, label = s->label[index];
    const bool is_right = is_painted ? label >= pass : label != pass;
    if (is_right) return 0.0;
    const size_t shown = is_painted ? pass : below(m, index);
    const double weight = 1.0 + SALIENCE_COUNTS * (double)s->salience[index] / 255.0;
    return m->job->error[label][shown] * weight;
}

static double error_of_all(const mender *m, const sw_pixels *pixels, bool is_painted)
{
    double sum = 0.0;
    for (size_t i = 0; i < pixels->n; i++) {
        size_t index;
        if (in_window(m, pixels->at[i], &index)) sum += error_of(m, index, is_painted);
    }
    return sum;
}

/* ---- one narrow part --------------------------------------------------------------------------------- */

static bool add_new(mender *m, sw_pixels *list, uint32_t p)
{
    if (has(&m->room.mark, p)) return true;
    put(&m->room.mark, p);
    return sw_pixels_add(list, p);
}

static void unmark(mender *m, const sw_pixels *list)
{
    for (size_t i = 0; i < list->n; i++) drop(&m->room.mark, list->at[i]);
}

/* The discs at p: pixels inside the window that are not in the set. Both discs, because a wider one centred on a
 * pixel does not hold all of a narrower one centred on a corner. */
static bool lay_disc(mender *m, uint32_t p)
{
    for (size_t which = 0; which < 2; which++) {
        const sw_disc *const disc = which == 0 ? &m->to_disc : &m->room.disc;
        const int32_t reach = (int32_t)disc->reach, odd = disc->is_even ? 0 : 1;
        for (int32_t dy = -reach; dy < reach + odd; dy++) {
            const size_t level = disc->is_even && dy >= 0 ? (size_t)dy + 1 : (size_t)(dy < 0 ? -dy : dy);
            const int32_t half = (int32_t)disc->half_px[level];
            for (int32_t dx = -half; dx < half + odd; dx++) {
                const uint32_t q = moved(&m->open, p, dx, dy);
                size_t index;
                if (q == NOWHERE || has(&m->room.set, q) || !in_window(m, q, &index)) continue;
                if (!add_new(m, &m->add, q)) return false;
            }
        }
    }
    return true;
}

static bool lay_discs(mender *m)
{
    m->add.n = 0;
    for (size_t i = 0; i < m->line.n; i++)
        if (!lay_disc(m, m->line.at[i])) return false;
    unmark(m, &m->add);
    return true;
}

/* All of the narrow part around p that is not in the list yet. */
static bool take_part(mender *m, uint32_t p)
{
    if (!has(&m->room.narrow, p) || has(&m->room.mark, p)) return true;
    size_t i = m->remove.n;
    if (!add_new(m, &m->remove, p)) return false;
    for (; i < m->remove.n; i++)
        for (int32_t k = 0; k < 9; k++) {
            const uint32_t q = moved(&m->open, m->remove.at[i], k % 3 - 1, k / 3 - 1);
            if (q != NOWHERE && has(&m->room.narrow, q) && !add_new(m, &m->remove, q)) return false;
        }
    return true;
}

/* What would go: the narrow parts the line runs through; of a waist that opening does not see, the waist. */
static bool take_parts(mender *m)
{
    m->remove.n = 0;
    uint32_t least = UINT32_MAX;
    for (size_t i = 0; i < m->line.n; i++)
        if (!take_part(m, m->line.at[i])) return false;
    for (size_t i = 0; i < m->line.n && m->remove.n == 0; i++) {
        const uint32_t depth = sw_narrow_depth(&m->room, m->line.at[i]);
        least = depth < least ? depth : least;
    }
    const double reach = least == UINT32_MAX ? 0.0 : sqrt((double)least) + 0.75; /* just over the edge */
    const size_t n_before = m->remove.n;
    for (size_t i = 0; i < m->line.n && n_before == 0; i++) {
        if (sw_narrow_depth(&m->room, m->line.at[i]) > least) continue;
        for (size_t k = 0; k < m->room.n_offsets && m->room.offsets[k].d2 <= reach * reach; k++) {
            const uint32_t q = moved(&m->open, m->line.at[i], m->room.offsets[k].dx, m->room.offsets[k].dy);
            if (q != NOWHERE && has(&m->room.set, q) && !add_new(m, &m->remove, q)) return false;
        }
    }
    unmark(m, &m->remove);
    return true;
}

/* Error of thickening the web whose middle line is in m->line. */
static double error_of_web(const mender *m)
{
    double sum = 0.0;
    size_t index = 0;
    const bool is_in = in_window(m, m->line.at[m->line.n / 2], &index);
    const size_t own = is_in ? m->job->separation->label[index] : 0;
    for (size_t i = 0; i < m->add.n; i++) {
        if (!in_window(m, m->add.at[i], &index)) continue;
        const double error = error_of(m, index, false);
        sum += error > 0.0 && below(m, index) != own ? FRINGE_COUNTS * error : error;
    }
    return sum;
}

static bool is_added_better(const mender *m)
{
    if (m->is_settling) return !m->is_openings;
    const double added = m->is_openings ? error_of_all(m, &m->add, true) : error_of_web(m);
    const double removed = error_of_all(m, &m->remove, !m->is_openings);
    const bool is_line = m->line.n >= LINE_LENGTHS * m->room.width_px;
    return added < removed * (is_line ? LINE_COUNTS : 1.0);
}

static void count(mender *m, bool is_added)
{
    sw_sheet *const s = m->sheet;
    size_t *const n = m->is_openings ? (is_added ? &s->n_openings_widened : &s->n_openings_dropped)
                                     : (is_added ? &s->n_webs_thickened : &s->n_webs_merged);
    ++*n;
}

/* Turn one pixel over in next; out of the window it stays. */
static bool turn(mender *m, uint32_t p, bool is_added, bool *is_changed)
{
    size_t index;
    if (!in_window(m, p, &index) || has(&m->next, p) == is_added) return true;
    if (is_added) put(&m->next, p);
    else drop(&m->next, p);
    *is_changed = true;
    return sw_pixels_add(&m->changed, p);
}

static bool touches_material(const mender *m, uint32_t p)
{
    static const int8_t side[4][2] = { { 1, 0 }, { 0, 1 }, { -1, 0 }, { 0, -1 } };
    for (size_t k = 0; k < 4; k++) {
        const uint32_t q = moved(&m->open, p, side[k][0], side[k][1]);
        if (q != NOWHERE && !has(&m->next, q)) return true;
    }
    return false;
}

/* Take pixels out of the openings. After bridging only from the edge inwards, so that no pixel becomes an island. */
static bool take_out(mender *m, const sw_pixels *list, bool *is_changed)
{
    const bool is_careful = m->is_settling && m->is_openings;
    for (bool is_on = true; is_on;) {
        is_on = false;
        for (size_t i = 0; i < list->n; i++) {
            const size_t n_before = m->changed.n;
            if (is_careful && !touches_material(m, list->at[i])) continue;
            if (!turn(m, list->at[i], false, is_changed)) return false;
            is_on = is_on || (is_careful && m->changed.n > n_before);
        }
    }
    return true;
}

/* The part whose middle line is in m->line. */
static bool mend_one(mender *m)
{
    if (!m->is_settling || !m->is_openings) {
        if (!lay_discs(m)) return false;
    }
    if (!m->is_settling || m->is_openings) {
        if (!take_parts(m)) return false;
    }
    const bool is_added = is_added_better(m);
    const sw_pixels *const list = is_added ? &m->add : &m->remove;
    bool is_changed = false;
    for (size_t i = 0; i < list->n && is_added; i++)
        if (!turn(m, list->at[i], true, &is_changed)) return false;
    if (!is_added && !take_out(m, list, &is_changed)) return false;
    /* crumbs of a few pixels are no loss that anybody would look for; lost_mm2 has them */
    if (is_changed && (is_added || 4 * list->n >= m->room.width_px * m->room.width_px)) count(m, is_added);
    return true;
}

/* ---- all narrow parts of a set ----------------------------------------------------------------------- */

static bool gather_line(mender *m, uint32_t start)
{
    sw_bits *const todo = &m->room.todo;
    m->line.n = 0;
    m->is_line_cut = false;
    drop(todo, start);
    if (!sw_pixels_add(&m->line, start)) return false;
    for (size_t i = 0; i < m->line.n; i++)
        for (int32_t k = 0; k < 9; k++) {
            const uint32_t q = moved(&m->open, m->line.at[i], k % 3 - 1, k / 3 - 1);
            m->is_line_cut = m->is_line_cut || q == NOWHERE;
            if (q == NOWHERE || !has(todo, q)) continue;
            drop(todo, q);
            if (!sw_pixels_add(&m->line, q)) return false;
        }
    return true;
}

static bool mend_lines(mender *m)
{
    sw_narrow *const room = &m->room;
    const size_t n_words = m->open.words * m->open.rows;
    for (size_t i = 0; i < n_words; i++) room->todo.at[i] = room->thin.at[i] & ~room->core.at[i];
    for (size_t i = 0; i < n_words; i++)
        while (room->todo.at[i] != 0) {
            const uint32_t p = (uint32_t)(64 * i) + (uint32_t)__builtin_ctzll(room->todo.at[i]);
            if (!gather_line(m, p)) return false;
            if (!m->is_line_cut && !mend_one(m)) return false;
        }
    return true;
}

/* Narrow parts without a middle line (small loops round a pore, for instance): all their pixels serve as the line. */
static bool mend_rest(mender *m)
{
    for (size_t i = 0; i < m->room.parts.n; i++) {
        m->remove.n = 0;
        if (!take_part(m, m->room.parts.at[i])) return false;
        unmark(m, &m->remove);
        bool has_line = false;
        m->line.n = 0;
        for (size_t k = 0; k < m->remove.n; k++) {
            has_line = has_line || has(&m->room.thin, m->remove.at[k]);
            if (!sw_pixels_add(&m->line, m->remove.at[k])) return false;
        }
        if (!has_line && !mend_one(m)) return false;
    }
    return true;
}

/* Hairs on corners; opened, narrow and firm are as the find left them. */
static bool trim_hairs(mender *m)
{
    sw_narrow *const room = &m->room;
    const size_t n_words = m->open.words * m->open.rows;
    for (size_t i = 0; i < n_words; i++)
        room->todo.at[i] = room->set.at[i] & ~room->opened.at[i] & ~room->narrow.at[i] & ~room->firm.at[i];
    for (size_t i = 0; i < n_words; i++)
        while (room->todo.at[i] != 0) {
            const uint32_t p = (uint32_t)(64 * i) + (uint32_t)__builtin_ctzll(room->todo.at[i]);
            if (!gather_line(m, p)) return false;
            bool is_much = m->line.n >= HAIR_LEAST_PX;
            for (size_t k = 0; k < m->line.n && !is_much; k++)
                is_much = sw_narrow_is_far(room, m->line.at[k], (double)room->width_px);
            if (m->is_line_cut || !is_much) continue;
            bool is_changed = false;
            if (!take_out(m, &m->line, &is_changed)) return false;
        }
    return true;
}

/* The disc that hairs do not let in, 0 if the grid is too coarse to tell them. */
static size_t hair_px(const mender *m, bool is_openings)
{
    const double px = is_openings ? OPENING_HAIR_RATIO * (double)m->job->opening_px
                                  : WEB_HAIR_RATIO * (double)m->job->web_px;
    return px < 3.5 ? 0 : (size_t)(px + 0.5);
}

static sw_status mend_set(mender *m, bool is_openings, sw_note *note)
{
    const size_t n_words = m->open.words * m->open.rows;
    const uint64_t flip = is_openings ? 0 : UINT64_MAX;
    m->is_openings = is_openings;
    const size_t width_px = is_openings ? m->job->opening_px : m->job->web_px;
    SW_TRY(sw_narrow_set_disc(&m->room, width_px, hair_px(m, is_openings), note));
    m->room.can_trim = m->room.has_hairs && (!m->is_settling || is_openings); /* no material is cut away any more */
    m->to_disc = sw_disc_of_diameter(is_openings ? m->job->opening_to_px : m->job->web_to_px);
    for (size_t i = 0; i < n_words; i++) m->next.at[i] = m->room.set.at[i] = m->open.at[i] ^ flip;
    SW_TRY(sw_narrow_find(&m->room, is_openings, note));
    if (!mend_lines(m) || !mend_rest(m)) return sw_fail_memory(note, "smallest features");
    if (m->room.can_trim && !trim_hairs(m)) return sw_fail_memory(note, "smallest features");
    for (size_t i = 0; i < n_words; i++) m->open.at[i] = m->next.at[i] ^ flip;
    m->n_cut += m->room.n_cut;
    return SW_OK;
}

static sw_status mend_both(mender *m, sw_note *note)
{
    m->changed.n = 0;
    SW_TRY(mend_set(m, true, note));
    return mend_set(m, false, note);
}

/* ---- only where something changed -------------------------------------------------------------------- */

/* Part of a padded raster in words and rows. */
typedef struct patch {
    size_t word, row, words, rows;
} patch;

typedef struct patches {
    patch *at;
    size_t n, most_words; /* words of the largest */
    size_t n_words;       /* of all */
} patches;

/* The box of one group of tiles, grown by the context and cut to the raster. */
static patch patch_of(const mender *m, sw_rect_px tiles)
{
    const size_t context = CONTEXT_WIDTHS * sw_max_size(m->job->opening_to_px, m->job->web_to_px);
    const size_t words = (context + 63) / 64, row = tiles.y * TILE_PX, end = (tiles.y + tiles.height) * TILE_PX;
    patch p = { .word = tiles.x > words ? tiles.x - words : 0, .row = row > context ? row - context : 0 };
    p.words = sw_min_size(m->open.words, tiles.x + tiles.width + words) - p.word;
    p.rows = sw_min_size(m->open.rows, end + context) - p.row;
    return p;
}

static bool boxes_of(const sw_runs *runs, patches *out, const mender *m)
{
    sw_rect_px *const box = sw_alloc_array(runs->n_components + 1, sizeof *box); /* width and height hold the ends */
    out->at = sw_alloc_array(runs->n_components + 1, sizeof *out->at);
    const bool has_room = box != NULL && out->at != NULL;
    for (size_t y = 0; y < runs->n_rows && has_room; y++)
        for (size_t i = runs->row[y]; i < runs->row[y + 1]; i++) {
            sw_rect_px *const b = &box[runs->at[i].id];
            if (b->height == 0) *b = (sw_rect_px){ .x = runs->at[i].begin, .y = y };
            b->x = sw_min_size(b->x, runs->at[i].begin);
            b->width = sw_max_size(b->width, runs->at[i].end);
            b->height = y + 1;
        }
    for (size_t id = 1; id <= runs->n_components && has_room; id++) {
        const sw_rect_px b = box[id];
        const patch p = patch_of(m, (sw_rect_px){ b.x, b.y, b.width - b.x, b.height - b.y });
        out->at[out->n++] = p;
        out->n_words += p.words * p.rows;
        out->most_words = sw_max_size(out->most_words, p.words * p.rows);
    }
    sw_free(box);
    return has_room;
}

/* Boxes around what the last round changed. */
static sw_status find_patches(const mender *m, patches *out, sw_note *note)
{
    const size_t columns = m->open.words, rows = (m->open.rows + TILE_PX - 1) / TILE_PX;
    sw_runs runs = { 0 };
    sw_status st = SW_NO_MEMORY;
    uint8_t *const tile = sw_alloc_array(columns * rows, 1);
    if (tile == NULL) goto cleanup;
    for (size_t i = 0; i < m->changed.n; i++) {
        const size_t word = m->changed.at[i] / 64;
        tile[word / columns / TILE_PX * columns + word % columns] = 1;
    }
    if (sw_runs_make(tile, columns, rows, columns, 1, true, &runs, note) != SW_OK) goto cleanup;
    if (!boxes_of(&runs, out, m)) goto cleanup;
    st = SW_OK;
cleanup:
    if (st != SW_OK) sw_fail_memory(note, "smallest features");
    sw_free(tile);
    sw_runs_free(&runs);
    return st;
}

static void set_size(mender *m, size_t words, size_t rows)
{
    sw_bits *const plane[10] = { &m->room.set,  &m->room.opened, &m->room.core, &m->room.thin, &m->room.narrow,
                                 &m->room.todo, &m->room.mark,   &m->room.firm, &m->open,      &m->next };
    for (size_t i = 0; i < 10; i++) {
        plane[i]->words = words;
        plane[i]->rows = rows;
    }
}

/* All patches, one after the other. */
typedef struct patch_job {
    mender *whole, *small;
    const patches *todo;
    sw_pixels changed;
    sw_note *note;
    sw_status st;
} patch_job;

static sw_status mend_patch(patch_job *job, patch p)
{
    mender *const whole = job->whole, *const m = job->small;
    set_size(m, p.words, p.rows);
    m->off_x = whole->off_x + 64 * p.word;
    m->off_y = whole->off_y + p.row;
    for (size_t y = 0; y < p.rows; y++)
        memcpy(m->open.at + y * p.words, whole->open.at + (p.row + y) * whole->open.words + p.word, p.words * 8);
    SW_TRY(mend_both(m, job->note));
    for (size_t y = 0; y < p.rows; y++)
        memcpy(whole->open.at + (p.row + y) * whole->open.words + p.word, m->open.at + y * p.words, p.words * 8);
    for (size_t i = 0; i < m->changed.n; i++) {
        const size_t x = m->changed.at[i] % (64 * p.words), y = m->changed.at[i] / (64 * p.words);
        const size_t at = (p.row + y) * 64 * whole->open.words + 64 * p.word + x;
        if (!sw_pixels_add(&job->changed, (uint32_t)at)) return sw_fail_memory(job->note, "smallest features");
    }
    return SW_OK;
}

/* As one task: what runs inside it starts no threads, which would cost more than the patches do. */
static void mend_patches(size_t begin, size_t end, void *arg)
{
    patch_job *const job = arg;
    if (begin == end) return;
    for (size_t i = 0; i < job->todo->n && job->st == SW_OK; i++) job->st = mend_patch(job, job->todo->at[i]);
}

static sw_status mend_where(mender *m, const patches *todo, sw_note *note)
{
    mender small = { 0 };
    SW_TRY(mender_make(m->sheet, m->job, m->is_settling, 64 * todo->most_words, 1, 0, &small, note));
    patch_job job = { .whole = m, .small = &small, .todo = todo, .note = note };
    sw_parallel_bands(1, 1, mend_patches, &job);
    m->n_cut += small.n_cut;
    mender_free(&small);
    sw_free(m->changed.at);
    m->changed = job.changed;
    return job.st;
}

/* Round after round until nothing changes; the first looks everywhere, later ones around the changes. */
static sw_status mend_rounds(mender *m, size_t max_rounds, sw_note *note)
{
    m->n_cut = 0;
    SW_TRY(mend_both(m, note));
    for (size_t round = 1; round < max_rounds && m->changed.n > 0; round++) {
        if (sw_is_interrupted()) return sw_fail(note, SW_INTERRUPTED, "interrupted");
        patches todo = { 0 };
        sw_status st = find_patches(m, &todo, note);
        if (st == SW_OK)
            st = todo.n_words < m->open.words * m->open.rows / 2 ? mend_where(m, &todo, note) : mend_both(m, note);
        sw_free(todo.at);
        if (st != SW_OK) return st;
    }
    return SW_OK;
}

static sw_status mend_window(sw_sheet *sheet, const sw_feature_job *job, bool is_settling, sw_note *note)
{
    mender m = { 0 };
    const sw_rect_px w = job->window;
    const size_t margin = sw_max_size(job->opening_to_px, job->web_to_px) + 2, stride = sheet->openings.width_px;
    uint8_t *const at = sheet->openings.at + w.y * stride + w.x;
    SW_TRY(mender_make(sheet, job, is_settling, w.width, w.height, margin, &m, note));
    sw_bits_from_bytes(&m.open, at, stride, 1, 1, false);
    sw_status st = mend_rounds(&m, is_settling ? SIZE_MAX : MEND_ROUNDS, note);
    while (st == SW_OK && is_settling && m.n_cut > 0) st = mend_rounds(&m, SIZE_MAX, note);
    if (st == SW_OK) sw_bits_to_bytes(&m.open, at, stride);
    mender_free(&m);
    return st;
}

sw_status sw_features_mend(sw_sheet *sheet, const sw_feature_job *job, sw_note *note)
{
    return mend_window(sheet, job, false, note);
}

sw_status sw_features_settle(sw_sheet *sheet, const sw_feature_job *job, sw_note *note)
{
    return mend_window(sheet, job, true, note);
}
