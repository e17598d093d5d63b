/*
 * One bit a pixel: openings and closings by discs in a few operations a word of 64 pixels.
 *
 * A disc is a stack of rows that get shorter away from the middle. Growing a set by it: begin with the row itself,
 * widen by the difference to the next row's half width, add the two rows one step away, widen again, and so on; every
 * row has then been widened by exactly its own half width. At a disc of 11 pixels that is about a hundred operations
 * for 64 pixels, some ten times faster than thresholding a distance transform, and exact.
 */
#include "sheet/bits.h"

#include <math.h>
#include <string.h>

sw_disc sw_disc_of_diameter(size_t diameter_px)
{
    if (diameter_px % 2 == 1) return sw_disc_of_radius((double)diameter_px / 2.0);
    sw_disc disc = { .is_even = true, .reach = diameter_px / 2 };
    const double r = (double)diameter_px / 2.0;
    for (size_t j = 1; j <= disc.reach; j++) {
        const double dy = (double)j - 0.5;
        disc.half_px[j] = (size_t)(sqrt(r * r - dy * dy) + 0.5);
    }
    return disc;
}

sw_disc sw_disc_of_radius(double radius_px)
{
    sw_disc disc = { .reach = (size_t)radius_px };
    for (size_t j = 0; j <= disc.reach; j++)
        disc.half_px[j] = (size_t)sqrt(radius_px * radius_px - (double)j * (double)j);
    return disc;
}

sw_status sw_bits_make(size_t width_px, size_t height_px, size_t margin_px, sw_bits *out, sw_note *note)
{
    /* a whole number of words to the left, so that packing stays aligned */
    sw_bits bits = { .width_px = width_px, .height_px = height_px, .pad_y = margin_px };
    bits.pad_x = (margin_px + 63) / 64 * 64;
    bits.words = (bits.pad_x + width_px + margin_px + 63) / 64;
    bits.rows = height_px + 2 * margin_px;
    bits.at = sw_alloc_array(bits.words * bits.rows, sizeof *bits.at);
    if (bits.at == NULL) return sw_fail_memory(note, "a mask");
    *out = bits;
    return SW_OK;
}

void sw_bits_free(sw_bits *bits)
{
    if (bits == NULL) return;
    sw_free(bits->at);
    *bits = (sw_bits){ 0 };
}

typedef struct bytes_job {
    sw_bits *bits;
    const uint8_t *from;
    uint8_t *to;
    size_t stride;
    uint8_t low, high;
    uint64_t margin;
} bytes_job;

/* Eight bytes of 0 or 1 in memory order to eight bits: one multiplication moves bit 0 of byte i to bit 56 + i. */
static uint64_t eight_bits(const uint8_t *at)
{
    const uint16_t probe = 1;
    uint8_t is_little;
    uint64_t eight;
    memcpy(&is_little, &probe, 1);
    memcpy(&eight, at, 8);
    return eight * (is_little ? 0x0102040810204080u : 0x8040201008040201u) >> 56;
}

/* Bit i from byte i being in low..low + span. */
static uint64_t pack(const uint8_t *at, size_t n, uint8_t low, uint8_t span)
{
    uint8_t is_in[64] = { 0 };
    if (n == 64)
        for (size_t i = 0; i < 64; i++) is_in[i] = (uint8_t)(at[i] - low) <= span;
    else
        for (size_t i = 0; i < n; i++) is_in[i] = (uint8_t)(at[i] - low) <= span;
    uint64_t word = 0;
    for (size_t i = 0; i < 8; i++) word |= eight_bits(is_in + 8 * i) << (8 * i);
    return word;
}

static void pack_rows(size_t row_begin, size_t row_end, void *arg)
{
    const bytes_job *const job = arg;
    sw_bits *const bits = job->bits;
    for (size_t y = row_begin; y < row_end; y++) {
        uint64_t *const row = bits->at + y * bits->words;
        const bool is_margin = y < bits->pad_y || y >= bits->pad_y + bits->height_px;
        for (size_t j = 0; j < bits->words; j++) {
            const size_t x = 64 * j - bits->pad_x; /* wraps in the margin, which the test below sees as beyond */
            if (is_margin || x >= bits->width_px) {
                row[j] = job->margin;
                continue;
            }
            const size_t n = sw_min_size(64, bits->width_px - x);
            row[j] = pack(job->from + (y - bits->pad_y) * job->stride + x, n, job->low,
                          (uint8_t)(job->high - job->low));
            if (n < 64) row[j] |= job->margin << n;
        }
    }
}

void sw_bits_from_bytes(sw_bits *bits, const uint8_t *at, size_t stride, uint8_t low, uint8_t high, bool margin)
{
    bytes_job job = { .bits = bits, .from = at, .stride = stride, .low = low, .high = high };
    job.margin = margin ? UINT64_MAX : 0;
    sw_parallel_rows(bits->rows, pack_rows, &job);
}

static void unpack_rows(size_t row_begin, size_t row_end, void *arg)
{
    const bytes_job *const job = arg;
    const sw_bits *const bits = job->bits;
    for (size_t y = row_begin; y < row_end; y++) {
        const uint64_t *const row = bits->at + (y + bits->pad_y) * bits->words + bits->pad_x / 64;
        uint8_t *const to = job->to + y * job->stride;
        for (size_t x = 0; x < bits->width_px; x += 64) {
            const uint64_t word = row[x / 64];
            const size_t n = sw_min_size(64, bits->width_px - x);
            if (word == 0 || word == UINT64_MAX) {
                memset(to + x, word != 0, n);
                continue;
            }
            for (size_t i = 0; i < n; i++) to[x + i] = word >> i & 1u;
        }
    }
}

void sw_bits_to_bytes(const sw_bits *bits, uint8_t *at, size_t stride)
{
    sw_bits view = *bits;
    bytes_job job = { .bits = &view, .to = at, .stride = stride };
    sw_parallel_rows(bits->height_px, unpack_rows, &job);
}

/* ---- growing --------------------------------------------------------------------------------- */

typedef struct dilate_job {
    const sw_bits *in;
    const sw_disc *disc;
    sw_disc_side side;
    uint64_t flip_in, flip_out;
    sw_bits *out;
} dilate_job;

/* Words of a row that are grown at a time, with as many beside them as the widest disc reaches. */
#define CHUNK_WORDS 120u
#define BESIDE_WORDS 4u
_Static_assert(64u * BESIDE_WORDS > SW_DISC_MAX_PX / 2 + 1, "even discs reach a pixel farther to one side");

/* n words of a row from begin on, grown from one of two arrays to the other and back; a word of zeros on both sides. Where
 * the row goes on beyond them the outermost lack what would come from there; those are not taken. */
typedef struct chunk {
    size_t begin, n;
    uint64_t *acc, *next;
    uint64_t one[CHUNK_WORDS + 2 * BESIDE_WORDS + 2], other[CHUNK_WORDS + 2 * BESIDE_WORDS + 2];
} chunk;

static inline void add_row(const dilate_job *job, size_t y, chunk *c)
{
    if (y >= job->in->rows) return; /* also rows above the first: the index has wrapped */
    const uint64_t *restrict const in = job->in->at + y * job->in->words + c->begin;
    uint64_t *restrict const acc = c->acc + 1;
    const uint64_t flip = job->flip_in;
    const size_t n = c->n;
    for (size_t i = 0; i < n; i++) acc[i] |= in[i] ^ flip;
}

/* One pixel to the left, to the right, or both. */
static inline void widen(chunk *c, bool is_left, bool is_right)
{
    uint64_t *restrict const acc = c->acc, *restrict const next = c->next;
    const size_t n = c->n;
    for (size_t i = 1; i <= n; i++) {
        const uint64_t left = is_left ? acc[i] >> 1 | acc[i + 1] << 63 : 0, right = is_right ? acc[i] << 1 | acc[i - 1] >> 63 : 0;
        next[i] = acc[i] | left | right;
    }
    c->acc = next;
    c->next = acc;
}

SW_WIDE static void dilate_chunk(const dilate_job *job, size_t y, chunk *c)
{
    const sw_disc *const disc = job->disc;
    const size_t first = disc->is_even ? 1 : 0;
    /* even: corner row y lies between pixel rows y - 1 and y; pixel row y between corner rows y and y + 1 */
    const size_t up = job->side == SW_DISC_FROM_CORNERS ? 1 : 0, down = job->side == SW_DISC_TO_CORNERS ? 1 : 0;
    c->acc = c->one;
    c->next = c->other;
    memset(c->acc, 0, (c->n + 2) * sizeof *c->acc);
    c->next[0] = c->next[c->n + 1] = 0;
    for (size_t j = first; j <= disc->reach; j++) {
        add_row(job, y - j + up, c);
        if (j > 0) add_row(job, y + j - down, c);
        const size_t next = j < disc->reach ? disc->half_px[j + 1] : first;
        for (size_t k = disc->half_px[j]; k > next; k--) widen(c, true, true);
    }
    /* even discs reach one pixel farther to one side */
    if (job->side == SW_DISC_TO_CORNERS) widen(c, false, true);
    if (job->side == SW_DISC_FROM_CORNERS) widen(c, true, false);
}

static void dilate_rows(size_t row_begin, size_t row_end, void *arg)
{
    const dilate_job *const job = arg;
    const size_t words = job->out->words, beside = (job->disc->reach + 1) / 64 + 1;
    chunk c;
    for (size_t y = row_begin; y < row_end; y++)
        for (size_t begin = 0; begin < words; begin += CHUNK_WORDS) {
            const size_t end = sw_min_size(begin + CHUNK_WORDS, words);
            c.begin = begin - sw_min_size(begin, beside);
            c.n = sw_min_size(end + beside, words) - c.begin;
            dilate_chunk(job, y, &c);
            uint64_t *const out = job->out->at + y * words;
            for (size_t i = begin; i < end; i++) out[i] = c.acc[i - c.begin + 1] ^ job->flip_out;
        }
}

void sw_bits_dilate(const sw_bits *in, const sw_disc *disc, sw_disc_side side, bool flip_in, bool flip_out,
                    sw_bits *out)
{
    dilate_job job = { .in = in, .disc = disc, .side = side, .out = out };
    job.flip_in = flip_in ? UINT64_MAX : 0;
    job.flip_out = flip_out ? UINT64_MAX : 0;
    sw_parallel_rows(out->rows, dilate_rows, &job);
}

void sw_bits_open(const sw_bits *set, bool is_flipped, const sw_disc *disc, sw_bits *middles, sw_bits *opened)
{
    sw_bits_dilate(set, disc, disc->is_even ? SW_DISC_TO_CORNERS : SW_DISC_PIXELS, !is_flipped, true, middles);
    sw_bits_dilate(middles, disc, disc->is_even ? SW_DISC_FROM_CORNERS : SW_DISC_PIXELS, false, false, opened);
}
