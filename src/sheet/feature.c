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

#include <math.h>

#define NOWHERE UINT32_MAX
#define MEND_ROUNDS 3 /* a mended place can make a new one; what is left after three is for settling */

/* A line at least this many times as long as the disc is wide is a drawn line; losing it counts LINE_COUNTS times.
 * By taste: at 1 whiskers and lettering of half the smallest width went, at 4 texture was kept as ropes. */
#define LINE_LENGTHS 3
#define LINE_COUNTS 2.5

/* Salience of 255 makes an error count this much more. By taste. */
#define SALIENCE_COUNTS 8.0

typedef struct mender {
    sw_sheet *sheet;
    const sw_feature_job *job;
    sw_narrow room;
    sw_disc to_disc;    /* laid along what is narrow */
    sw_bits open, next; /* the openings now; the set after this round */
    sw_pixels line, add, remove;
    bool is_openings;   /* the set is the openings, else the material */
    bool is_settling;   /* only material may be added */
    bool is_changed;
} mender;

static void mender_free(mender *m)
{
    sw_narrow_free(&m->room);
    sw_bits_free(&m->open);
    sw_bits_free(&m->next);
    sw_free(m->line.at);
    sw_free(m->add.at);
    sw_free(m->remove.at);
}

static const uint8_t *window_at(const mender *m)
{
    const sw_rect_px w = m->job->window;
    return m->sheet->openings.at + w.y * m->sheet->openings.width_px + w.x;
}

static sw_status mender_make(sw_sheet *sheet, const sw_feature_job *job, bool is_settling, mender *out, sw_note *note)
{
    mender m = { .sheet = sheet, .job = job, .is_settling = is_settling };
    const sw_rect_px w = job->window;
    const size_t margin = sw_max_size(job->opening_to_px, job->web_to_px) + 2;
    sw_status st = sw_narrow_make(w.width, w.height, margin, &m.room, note);
    if (st == SW_OK) st = sw_bits_make(w.width, w.height, margin, &m.open, note);
    if (st == SW_OK) st = sw_bits_make(w.width, w.height, margin, &m.next, note);
    if (st != SW_OK) {
        mender_free(&m);
        return st;
    }
    sw_bits_from_bytes(&m.open, window_at(&m), sheet->openings.width_px, 1, 1, false);
    *out = m;
    return SW_OK;
}

static void write_back(const mender *m)
{
    const sw_rect_px w = m->job->window;
    sw_bits_to_bytes(&m->open, m->sheet->openings.at + w.y * m->sheet->openings.width_px + w.x,
                     m->sheet->openings.width_px);
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
    const size_t x = p % (m->open.words * 64) - m->open.pad_x, y = p / (m->open.words * 64) - m->open.pad_y;
    if (x >= m->open.width_px || y >= m->open.height_px) return false;
    *index = (m->job->window.y + y) * m->sheet->openings.width_px + m->job->window.x + x;
    return true;
}

/* ---- what a change shows --------------------------------------------------------------------------- */

/* What the wall shows at a pixel before this pass. */
static size_t below(const mender *m, size_t index)
{
    size_t k = m->sheet->pass - 1;
    while (k > 0 && m->job->stack[k - 1].at[index] == 0) k--;
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

static bool is_added_better(const mender *m)
{
    if (m->is_settling) return !m->is_openings;
    const double added = error_of_all(m, &m->add, m->is_openings);
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
    for (size_t i = 0; i < list->n; i++) {
        size_t index;
        if (!in_window(m, list->at[i], &index) || has(&m->next, list->at[i]) == is_added) continue;
        if (is_added) put(&m->next, list->at[i]);
        else drop(&m->next, list->at[i]);
        is_changed = true;
    }
    if (is_changed) count(m, is_added);
    m->is_changed = m->is_changed || is_changed;
    return true;
}

/* ---- all narrow parts of a set ----------------------------------------------------------------------- */

static bool gather_line(mender *m, uint32_t start)
{
    sw_bits *const todo = &m->room.todo;
    m->line.n = 0;
    drop(todo, start);
    if (!sw_pixels_add(&m->line, start)) return false;
    for (size_t i = 0; i < m->line.n; i++)
        for (int32_t k = 0; k < 9; k++) {
            const uint32_t q = moved(&m->open, m->line.at[i], k % 3 - 1, k / 3 - 1);
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
            if (!gather_line(m, p) || !mend_one(m)) return false;
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

static sw_status mend_set(mender *m, bool is_openings, sw_note *note)
{
    const size_t n_words = m->open.words * m->open.rows;
    const uint64_t flip = is_openings ? 0 : UINT64_MAX;
    m->is_openings = is_openings;
    SW_TRY(sw_narrow_set_disc(&m->room, is_openings ? m->job->opening_px : m->job->web_px, note));
    m->to_disc = sw_disc_of_diameter(is_openings ? m->job->opening_to_px : m->job->web_to_px);
    for (size_t i = 0; i < n_words; i++) m->next.at[i] = m->room.set.at[i] = m->open.at[i] ^ flip;
    SW_TRY(sw_narrow_find(&m->room, is_openings, note));
    if (!mend_lines(m) || !mend_rest(m)) return sw_fail_memory(note, "smallest features");
    for (size_t i = 0; i < n_words; i++) m->open.at[i] = m->next.at[i] ^ flip;
    return SW_OK;
}

static sw_status mend_rounds(mender *m, size_t max_rounds, sw_note *note)
{
    m->is_changed = true;
    for (size_t round = 0; round < max_rounds && m->is_changed; round++) {
        m->is_changed = false;
        SW_TRY(mend_set(m, true, note));
        SW_TRY(mend_set(m, false, note));
        if (sw_is_interrupted()) return sw_fail(note, SW_INTERRUPTED, "interrupted");
    }
    return SW_OK;
}

static sw_status mend_window(sw_sheet *sheet, const sw_feature_job *job, bool is_settling, sw_note *note)
{
    mender m = { 0 };
    SW_TRY(mender_make(sheet, job, is_settling, &m, note));
    const sw_status st = mend_rounds(&m, is_settling ? SIZE_MAX : MEND_ROUNDS, note);
    if (st == SW_OK) write_back(&m);
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
