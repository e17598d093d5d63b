/*
 * Thinning on words of 64 pixels.
 *
 * A pixel is simple when taking it away changes no connection among its eight neighbours (Rosenfeld 1970; counted with
 * the crossing numbers of Yokoi, Toriwaki and Fukumura 1975 as four terms of which exactly one must hold). The pixels
 * of one of the four parity classes of (column, row) never touch, so the simple ones of a class can be taken together
 * and in any order, also by several threads: topology is kept exactly. Layers keep the rest near the middle: only
 * pixels that were at the edge when the layer began are taken, the edge meaning sides and sides with corners in turn,
 * so that distance grows like in an octagon.
 */
#include "sheet/thin.h"

#include <stdatomic.h>

typedef struct thin_job {
    sw_bits *set;
    const sw_bits *keep;
    bool is_eight;
    uint32_t *word; /* those with something to take, ascending */
    uint64_t *edge; /* the layer's pixels, for each of word */
    size_t n;
    bool is_octagon;      /* this layer takes corners too */
    unsigned parity_x, parity_y;
    atomic_bool is_changed;
} thin_job;

/* The eight neighbours of all pixels of a word, each moved onto the pixel: E, NE, N, NW, W, SW, S, SE. */
static void look_around(const sw_bits *set, size_t i, uint64_t out[8])
{
    const size_t words = set->words, row = i / words, j = i % words;
    uint64_t at[3][3] = { { 0 } }; /* [row above, here, below][word to the left, here, right] */
    for (size_t r = 0; r < 3; r++) {
        if (row + r == 0 || row + r > set->rows) continue;
        const uint64_t *const line = set->at + (row + r - 1) * words;
        at[r][0] = j > 0 ? line[j - 1] : 0;
        at[r][1] = line[j];
        at[r][2] = j + 1 < words ? line[j + 1] : 0;
    }
    uint64_t east[3], west[3];
    for (size_t r = 0; r < 3; r++) {
        east[r] = at[r][1] >> 1 | at[r][2] << 63;
        west[r] = at[r][1] << 1 | at[r][0] >> 63;
    }
    out[0] = east[1];
    out[1] = east[0];
    out[2] = at[0][1];
    out[3] = west[0];
    out[4] = west[1];
    out[5] = west[2];
    out[6] = at[2][1];
    out[7] = east[2];
}

static uint64_t simple_pixels(const uint64_t x[8], bool is_eight)
{
    uint64_t one = 0, more = 0; /* how many of the four terms hold */
    for (size_t k = 0; k < 8; k += 2) {
        const uint64_t next = x[k + 1], after = x[(k + 2) % 8];
        const uint64_t term = is_eight ? ~x[k] & (next | after) : x[k] & ~(next & after);
        more |= one & term;
        one |= term;
    }
    return one & ~more;
}

static uint64_t inner_pixels(const uint64_t x[8], bool is_octagon)
{
    const uint64_t sides = x[0] & x[2] & x[4] & x[6];
    return is_octagon ? sides & x[1] & x[3] & x[5] & x[7] : sides;
}

/* The list's share of rows row_begin..row_end. */
static void share(const thin_job *job, size_t row_begin, size_t row_end, size_t *begin, size_t *end)
{
    const size_t bound[2] = { row_begin * job->set->words, row_end * job->set->words };
    size_t found[2];
    for (int side = 0; side < 2; side++) {
        size_t low = 0, high = job->n;
        while (low < high) {
            const size_t middle = (low + high) / 2;
            if (job->word[middle] < bound[side]) low = middle + 1;
            else high = middle;
        }
        found[side] = low;
    }
    *begin = found[0];
    *end = found[1];
}

static void find_edge(size_t row_begin, size_t row_end, void *arg)
{
    thin_job *const job = arg;
    size_t begin, end;
    share(job, row_begin, row_end, &begin, &end);
    for (size_t k = begin; k < end; k++) {
        const size_t i = job->word[k];
        uint64_t around[8];
        look_around(job->set, i, around);
        job->edge[k] = job->set->at[i] & ~job->keep->at[i] & ~inner_pixels(around, job->is_octagon);
    }
}

static void take_class(size_t row_begin, size_t row_end, void *arg)
{
    thin_job *const job = arg;
    size_t begin, end;
    share(job, row_begin, row_end, &begin, &end);
    const uint64_t columns = job->parity_x == 0 ? 0x5555555555555555u : 0xaaaaaaaaaaaaaaaau;
    bool is_changed = false;
    for (size_t k = begin; k < end; k++) {
        const size_t i = job->word[k];
        const uint64_t wanted = job->edge[k] & columns;
        if (wanted == 0 || i / job->set->words % 2 != job->parity_y) continue;
        uint64_t around[8];
        look_around(job->set, i, around);
        const uint64_t gone = wanted & simple_pixels(around, job->is_eight);
        if (gone == 0) continue;
        job->set->at[i] &= ~gone;
        is_changed = true;
    }
    if (is_changed) atomic_store(&job->is_changed, true);
}

static void drop_finished(thin_job *job)
{
    size_t n = 0;
    for (size_t k = 0; k < job->n; k++) {
        const uint32_t i = job->word[k];
        if ((job->set->at[i] & ~job->keep->at[i]) != 0) job->word[n++] = i;
    }
    job->n = n;
}

static bool take_layer(thin_job *job)
{
    const size_t rows = job->set->rows;
    atomic_store(&job->is_changed, false);
    sw_parallel_rows(rows, find_edge, job);
    for (unsigned parity = 0; parity < 4; parity++) {
        job->parity_x = parity & 1u;
        job->parity_y = parity >> 1;
        sw_parallel_rows(rows, take_class, job);
    }
    drop_finished(job);
    return atomic_load(&job->is_changed);
}

sw_status sw_bits_thin(sw_bits *set, const sw_bits *keep, bool is_eight, sw_note *note)
{
    const size_t n_words = set->words * set->rows;
    thin_job job = { .set = set, .keep = keep, .is_eight = is_eight };
    atomic_init(&job.is_changed, false);
    for (size_t i = 0; i < n_words; i++) job.n += (set->at[i] & ~keep->at[i]) != 0;
    if (job.n == 0) return SW_OK;
    job.word = sw_alloc_raw(job.n, sizeof *job.word);
    job.edge = sw_alloc_raw(job.n, sizeof *job.edge);
    const bool has_room = job.word != NULL && job.edge != NULL;
    if (has_room) {
        job.n = 0;
        for (size_t i = 0; i < n_words; i++)
            if ((set->at[i] & ~keep->at[i]) != 0) job.word[job.n++] = (uint32_t)i;
        for (int quiet = 0; quiet < 2; job.is_octagon = !job.is_octagon) quiet = take_layer(&job) ? 0 : quiet + 1;
    }
    sw_free(job.word);
    sw_free(job.edge);
    return has_room ? SW_OK : sw_fail_memory(note, "thinning");
}
