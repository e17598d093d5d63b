/* Most chords that are near each other follow each other along an edge that hardly bends, and nothing can be wrong between
 * them. So chords are put together in stretches with a box round each, and it is known which stretches are calm beside
 * each other: of a million pairs of chords a few thousand are left to look at.
 *
 * Stretches stand in the cells of a uniform grid, each in one cell only, that of its middle, so searches look farther by
 * half the longest stretch; in return a row of cells is one piece of memory. */
#include <math.h>

#include "proof/cells.h"
#include "proof/chord.h"

#define LONGEST_MM 14.0      /* a stretch, along the ring; tried from 5 to 20 on the bench's jobs */
#define MOST_CALM 8u         /* stretches after one that are compared with it: more are too far to matter */
#define LEAST_CHORD_MM 1e-5  /* a shorter one has no direction, and what it is between may touch */
#define SMALLEST_MM 3.0
#define CELLS_A_STRETCH 4.0

/* ---- stretches ------------------------------------------------------------------------------------------- */

/* The directions of a stretch's chords lie between two of them, less than a right angle apart. Unit vectors. */
typedef struct fan {
    sw_pt_mm left, right;
} fan;

static double dot(sw_pt_mm a, sw_pt_mm b) { return a.x_mm * b.x_mm + a.y_mm * b.y_mm; }
static double cross(sw_pt_mm a, sw_pt_mm b) { return a.x_mm * b.y_mm - a.y_mm * b.x_mm; }

/* Zero if the chord is too short to have a direction: it is calm beside nothing. */
static sw_pt_mm direction(const sw_proof_shape *shape, size_t i, double *length_mm)
{
    const sw_pt_mm a = shape->at[i], b = shape->at[sw_proof_next(shape, i)];
    const double dx = b.x_mm - a.x_mm, dy = b.y_mm - a.y_mm, length = sw_proof_length(dx, dy);
    *length_mm = length;
    return length >= LEAST_CHORD_MM ? (sw_pt_mm){ dx / length, dy / length } : (sw_pt_mm){ 0.0, 0.0 };
}

static bool is_within(const fan *f, sw_pt_mm way)
{
    return dot(f->left, way) >= SW_PROOF_CALM_RATIO && dot(f->right, way) >= SW_PROOF_CALM_RATIO;
}

static void take_point(sw_proof_stretch *s, sw_pt_mm p)
{
    s->lo = (sw_pt_mm){ sw_min(s->lo.x_mm, p.x_mm), sw_min(s->lo.y_mm, p.y_mm) };
    s->hi = (sw_pt_mm){ sw_max(s->hi.x_mm, p.x_mm), sw_max(s->hi.y_mm, p.y_mm) };
}

/* As many chords as go together, from first on, before end. */
static sw_proof_stretch stretch_from(const sw_proof_shape *shape, size_t first, size_t end, fan *f)
{
    sw_proof_stretch s = { .first = (uint32_t)first, .n = 1, .ring = shape->ring_of[first], .lo = shape->at[first], .hi = shape->at[first] };
    double length_mm;
    f->left = direction(shape, first, &s.length_mm);
    f->right = f->left;
    for (size_t i = first + 1; i < end && s.n < SW_PROOF_STRETCH_MOST; i++, s.n++) {
        const sw_pt_mm way = direction(shape, i, &length_mm);
        if (s.length_mm + length_mm > LONGEST_MM || !is_within(f, way)) break;
        s.length_mm += length_mm;
        if (cross(f->left, way) > 0.0) f->left = way;
        if (cross(f->right, way) < 0.0) f->right = way;
        take_point(&s, shape->at[i]);
    }
    take_point(&s, shape->at[sw_proof_next(shape, s.first + s.n - 1)]);
    return s;
}

/* fans: one a stretch. */
typedef struct made_stretches {
    sw_proof_cells *cells;
    fan *fans;
    size_t cap_fans;
} made_stretches;

static bool add_stretch(made_stretches *m, const sw_proof_stretch *s, const fan *f)
{
    sw_proof_cells *const cells = m->cells;
    void *data = cells->stretches, *fans = m->fans;
    const bool ok = sw_grow(&data, &cells->cap_stretches, cells->n_stretches + 1, sizeof *cells->stretches);
    cells->stretches = data;
    if (!ok || !sw_grow(&fans, &m->cap_fans, cells->n_stretches + 1, sizeof *m->fans)) return false;
    m->fans = fans;
    m->fans[cells->n_stretches] = *f;
    cells->stretches[cells->n_stretches++] = *s;
    return true;
}

/* How many of the stretches after it on its ring are calm beside stretch a. All the chords up to there go forward along one
 * line, so the ring cannot come round to a itself. */
static uint32_t count_calm(const sw_proof_cells *cells, const fan *fans, size_t a)
{
    const uint32_t ring = cells->stretches[a].ring, begin = cells->ring_first[ring], end = cells->ring_first[ring + 1];
    const sw_pt_mm sum = { fans[a].left.x_mm + fans[a].right.x_mm, fans[a].left.y_mm + fans[a].right.y_mm };
    const double length = sw_proof_length(sum.x_mm, sum.y_mm);
    if (!(length > 0.0)) return 0;
    const sw_pt_mm along = { sum.x_mm / length, sum.y_mm / length };
    const fan line = { along, along };
    uint32_t n = 0;
    for (size_t b = a; n < MOST_CALM; n++) {
        b = b + 1 < end ? b + 1 : begin;
        if (!is_within(&line, fans[b].left) || !is_within(&line, fans[b].right)) break;
    }
    return n;
}

static bool make_stretches(const sw_proof_shape *shape, sw_proof_cells *cells)
{
    made_stretches m = { .cells = cells };
    bool ok = true;
    cells->ring_first = sw_alloc_array(shape->n_rings + 1, sizeof *cells->ring_first);
    ok = cells->ring_first != NULL;
    for (size_t r = 0; r < shape->n_rings && ok; r++) {
        const size_t end = shape->rings[r].first + shape->rings[r].n;
        for (size_t i = shape->rings[r].first; i < end && ok;) {
            fan f;
            const sw_proof_stretch s = stretch_from(shape, i, end, &f);
            ok = add_stretch(&m, &s, &f);
            i += s.n;
        }
        cells->ring_first[r + 1] = (uint32_t)cells->n_stretches;
    }
    for (size_t a = 0; a < cells->n_stretches && ok; a++) cells->stretches[a].n_calm = count_calm(cells, m.fans, a);
    sw_free(m.fans);
    return ok;
}

/* Is b one of those after a that are calm beside it? */
static bool is_calm_after(const sw_proof_cells *cells, size_t a, size_t b)
{
    const uint32_t ring = cells->stretches[a].ring, n = cells->ring_first[ring + 1] - cells->ring_first[ring];
    return (b >= a ? b - a : b + n - a) <= cells->stretches[a].n_calm;
}

bool sw_proof_are_calm(const sw_proof_cells *cells, size_t a, size_t b)
{
    return cells->stretches[a].ring == cells->stretches[b].ring && (is_calm_after(cells, a, b) || is_calm_after(cells, b, a));
}

/* ---- cells ----------------------------------------------------------------------------------------------- */

static size_t cell_index(double v_mm, double size_mm, size_t n)
{
    return (size_t)sw_clamp(floor(v_mm / size_mm), 0.0, (double)(n - 1));
}

/* A few cells a stretch where stretches are few. */
static void choose_cells(sw_proof_cells *cells)
{
    sw_proof_stretch all = cells->stretches[0]; /* NOLINT(clang-analyzer-core.NullDereference): there is one */
    for (size_t i = 1; i < cells->n_stretches; i++) {
        take_point(&all, cells->stretches[i].lo);
        take_point(&all, cells->stretches[i].hi);
    }
    const double width_mm = all.hi.x_mm - all.lo.x_mm, height_mm = all.hi.y_mm - all.lo.y_mm;
    const double n_wanted = CELLS_A_STRETCH * (double)cells->n_stretches;
    const double even_mm = sqrt(width_mm * height_mm / n_wanted);
    const double thin_mm = sw_max(width_mm, height_mm) / n_wanted; /* for shapes without height */
    cells->size_mm = sw_max(SMALLEST_MM, sw_max(even_mm, thin_mm));
    cells->x0_mm = all.lo.x_mm;
    cells->y0_mm = all.lo.y_mm;
    cells->n_x = (size_t)(width_mm / cells->size_mm) + 1;
    cells->n_y = (size_t)(height_mm / cells->size_mm) + 1;
}

static size_t cell_of(const sw_proof_cells *cells, const sw_proof_stretch *s)
{
    const double x = 0.5 * (s->lo.x_mm + s->hi.x_mm) - cells->x0_mm, y = 0.5 * (s->lo.y_mm + s->hi.y_mm) - cells->y0_mm;
    return cell_index(y, cells->size_mm, cells->n_y) * cells->n_x + cell_index(x, cells->size_mm, cells->n_x);
}

/* first[c + 2] counts cell c, then first[c + 1] moves from its begin to its end. */
static void fill_cells(sw_proof_cells *cells)
{
    const size_t n_cells = cells->n_x * cells->n_y;
    for (size_t i = 0; i < cells->n_stretches; i++) cells->first[cell_of(cells, &cells->stretches[i]) + 2]++;
    for (size_t c = 2; c < n_cells + 2; c++) cells->first[c] += cells->first[c - 1];
    for (size_t i = 0; i < cells->n_stretches; i++)
        cells->stretch[cells->first[cell_of(cells, &cells->stretches[i]) + 1]++] = (uint32_t)i;
}

sw_status sw_proof_cells_make(const sw_proof_shape *shape, sw_proof_cells *out, sw_note *note)
{
    sw_proof_cells made = { 0 };
    sw_status st = SW_OK;
    if (!make_stretches(shape, &made)) goto no_memory;
    choose_cells(&made);
    made.first = sw_alloc_array(made.n_x * made.n_y + 2, sizeof *made.first);
    made.stretch = sw_alloc_raw(made.n_stretches, sizeof *made.stretch);
    if (made.first == NULL || made.stretch == NULL) goto no_memory;
    fill_cells(&made);
    *out = made;
    made = (sw_proof_cells){ 0 };
    goto cleanup;
no_memory:
    st = sw_fail_memory(note, "the proof's cells");
cleanup:
    sw_proof_cells_free(&made);
    return st;
}

sw_proof_block sw_proof_cells_around(const sw_proof_cells *cells, sw_pt_mm lo, sw_pt_mm hi, double reach_mm)
{
    const double r = reach_mm + 0.5 * LONGEST_MM, x0 = cells->x0_mm, y0 = cells->y0_mm;
    return (sw_proof_block){ cell_index(lo.x_mm - x0 - r, cells->size_mm, cells->n_x),
                             cell_index(lo.y_mm - y0 - r, cells->size_mm, cells->n_y),
                             cell_index(hi.x_mm - x0 + r, cells->size_mm, cells->n_x),
                             cell_index(hi.y_mm - y0 + r, cells->size_mm, cells->n_y) };
}

void sw_proof_cells_free(sw_proof_cells *cells)
{
    if (cells == NULL) return;
    sw_free(cells->stretches);
    sw_free(cells->ring_first);
    sw_free(cells->first);
    sw_free(cells->stretch);
    *cells = (sw_proof_cells){ 0 };
}
