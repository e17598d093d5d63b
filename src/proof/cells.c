/* A uniform grid over the chords. A chord stands in one cell only, that of its middle, so searches look farther by
 * half the longest chord; in return a row of cells is one stretch of memory. */
#include <math.h>

#include "proof/cells.h"

#define SMALLEST_MM 3.0

static size_t cell_index(double v_mm, double size_mm, size_t n)
{
    return (size_t)sw_clamp(floor(v_mm / size_mm), 0.0, (double)(n - 1));
}

static sw_pt_mm middle(const sw_proof_shape *shape, size_t i)
{
    const sw_pt_mm a = shape->at[i], b = shape->at[sw_proof_next(shape, i)];
    return (sw_pt_mm){ 0.5 * (a.x_mm + b.x_mm), 0.5 * (a.y_mm + b.y_mm) };
}

/* About one cell a chord where chords are few. */
static void choose_cells(const sw_proof_shape *shape, sw_proof_cells *cells)
{
    sw_pt_mm lo = shape->at[0], hi = shape->at[0];
    for (size_t i = 1; i < shape->n; i++) {
        const sw_pt_mm p = shape->at[i];
        lo = (sw_pt_mm){ sw_min(lo.x_mm, p.x_mm), sw_min(lo.y_mm, p.y_mm) };
        hi = (sw_pt_mm){ sw_max(hi.x_mm, p.x_mm), sw_max(hi.y_mm, p.y_mm) };
    }
    const double width_mm = hi.x_mm - lo.x_mm, height_mm = hi.y_mm - lo.y_mm;
    const double even_mm = sqrt(width_mm * height_mm / (double)shape->n);
    const double thin_mm = sw_max(width_mm, height_mm) / (double)shape->n; /* for shapes without height */
    cells->size_mm = sw_max(SMALLEST_MM, sw_max(even_mm, thin_mm));
    cells->x0_mm = lo.x_mm;
    cells->y0_mm = lo.y_mm;
    cells->n_x = (size_t)(width_mm / cells->size_mm) + 1;
    cells->n_y = (size_t)(height_mm / cells->size_mm) + 1;
}

static size_t cell_of(const sw_proof_shape *shape, const sw_proof_cells *cells, size_t i)
{
    const sw_pt_mm m = middle(shape, i);
    return cell_index(m.y_mm - cells->y0_mm, cells->size_mm, cells->n_y) * cells->n_x +
           cell_index(m.x_mm - cells->x0_mm, cells->size_mm, cells->n_x);
}

static void fill_cells(const sw_proof_shape *shape, sw_proof_cells *cells)
{
    for (size_t i = 0; i < shape->n; i++) { /* first[c + 1] moves from cell c's begin to its end */
        const size_t to = cells->first[cell_of(shape, cells, i) + 1]++;
        const sw_pt_mm a = shape->at[i], b = shape->at[sw_proof_next(shape, i)], m = middle(shape, i);
        cells->chord[to] = (uint32_t)i;
        cells->x_mm[to] = (float)(m.x_mm - cells->x0_mm);
        cells->y_mm[to] = (float)(m.y_mm - cells->y0_mm);
        cells->half_mm[to] = (float)(0.5 * hypot(b.x_mm - a.x_mm, b.y_mm - a.y_mm));
    }
}

sw_status sw_proof_cells_make(const sw_proof_shape *shape, sw_proof_cells *out, sw_note *note)
{
    sw_proof_cells made = { 0 };
    sw_status st = SW_OK;
    choose_cells(shape, &made);
    const size_t n_cells = made.n_x * made.n_y;
    made.first = sw_alloc_array(n_cells + 2, sizeof *made.first);
    made.chord = sw_alloc_raw(shape->n, sizeof *made.chord);
    made.x_mm = sw_alloc_raw(shape->n, sizeof *made.x_mm);
    made.y_mm = sw_alloc_raw(shape->n, sizeof *made.y_mm);
    made.half_mm = sw_alloc_raw(shape->n, sizeof *made.half_mm);
    if (made.first == NULL || made.chord == NULL || made.x_mm == NULL || made.y_mm == NULL || made.half_mm == NULL) {
        st = sw_fail_memory(note, "the proof's cells");
        goto cleanup;
    }
    for (size_t i = 0; i < shape->n; i++) made.first[cell_of(shape, &made, i) + 2]++; /* first[c + 2] counts cell c */
    for (size_t c = 2; c < n_cells + 2; c++) made.first[c] += made.first[c - 1];
    fill_cells(shape, &made);
    *out = made;
    made = (sw_proof_cells){ 0 };
cleanup:
    sw_proof_cells_free(&made);
    return st;
}

sw_proof_block sw_proof_cells_around(const sw_proof_cells *cells, sw_pt_mm p, double reach_mm)
{
    const double x = p.x_mm - cells->x0_mm, y = p.y_mm - cells->y0_mm, r = reach_mm + 0.5 * SW_PROOF_LONGEST_MM;
    return (sw_proof_block){ cell_index(x - r, cells->size_mm, cells->n_x), cell_index(y - r, cells->size_mm, cells->n_y),
                             cell_index(x + r, cells->size_mm, cells->n_x), cell_index(y + r, cells->size_mm, cells->n_y) };
}

void sw_proof_cells_free(sw_proof_cells *cells)
{
    if (cells == NULL) return;
    sw_free(cells->first);
    sw_free(cells->chord);
    sw_free(cells->x_mm);
    sw_free(cells->y_mm);
    sw_free(cells->half_mm);
    *cells = (sw_proof_cells){ 0 };
}
