/* Openings that are cut once and painted again by moving their sheet: which copies may be left out, and what they will be.
 *
 * A copy is left out only where nothing of it or of its original is cut by a seam, all of its group lie in one panel, and
 * its own panel keeps something to cut. What is painted in its place is the original as moved, not the copy as drawn. */
#include "layout/parts.h"

#include <math.h>

#define SEAM_CLEAR_MM 0.5 /* farther from seams than any curve swings over one */

/* ---- one motion ------------------------------------------------------------------------------------ */

sw_pt_mm sw_reuse_move(const sw_reuse *reuse, sw_pt_mm p)
{
    const double c = cos(reuse->turn_rad), s = sin(reuse->turn_rad);
    const double x = reuse->is_mirrored ? reuse->from.x_mm - p.x_mm : p.x_mm - reuse->from.x_mm, y = p.y_mm - reuse->from.y_mm;
    return (sw_pt_mm){ reuse->at.x_mm + c * x - s * y, reuse->at.y_mm + s * x + c * y };
}

/* The contour moved; a flipped one is walked backwards, so that openings stay openings. */
static sw_status add_moved(const sw_reuse *reuse, const sw_contour *in, sw_contours *out, sw_note *note)
{
    sw_contour made = { .start = sw_reuse_move(reuse, in->start) };
    bool is_drawn = true;
    for (size_t k = 0; is_drawn && k < in->n_segs; k++) {
        const size_t i = reuse->is_mirrored ? in->n_segs - 1 - k : k;
        const sw_seg *const seg = &in->segs[i];
        const sw_pt_mm from = i == 0 ? in->start : in->segs[i - 1].end;
        const sw_pt_mm end = sw_reuse_move(reuse, reuse->is_mirrored ? from : seg->end);
        const sw_pt_mm c1 = sw_reuse_move(reuse, reuse->is_mirrored ? seg->c2 : seg->c1);
        const sw_pt_mm c2 = sw_reuse_move(reuse, reuse->is_mirrored ? seg->c1 : seg->c2);
        is_drawn = seg->is_line ? sw_contour_add_line(&made, end) : sw_contour_add_cubic(&made, c1, c2, end);
    }
    if (made.n_segs > 0) made.segs[made.n_segs - 1].end = made.start; /* the same place to the bit */
    const sw_status st = is_drawn ? sw_contours_take(out, &made, note) : sw_fail_memory(note, "openings used again");
    sw_contour_free(&made);
    return st;
}

sw_status sw_reuse_place(const sw_reuse_plan *plan, size_t window, sw_contours *out, sw_note *note)
{
    for (size_t r = 0; r < plan->n; r++) {
        const sw_reuse *const reuse = &plan->at[r];
        if (reuse->at_window != window) continue;
        for (size_t k = 0; k < reuse->n_openings; k++) {
            const sw_repeat *const repeat = &plan->repeats->at[reuse->first + k];
            SW_TRY(add_moved(reuse, &plan->openings->at[repeat->original], out, note));
        }
    }
    return SW_OK;
}

/* ---- which ------------------------------------------------------------------------------------------ */

/* The window that has all of the opening, or n. */
static size_t window_of(const sw_contour *opening, const sw_rect_mm *windows, size_t n)
{
    const sw_contour_measure m = sw_contour_extent(opening);
    if (n == 1) return 0;
    for (size_t i = 0; i < n; i++) {
        const sw_rect_mm r = windows[i];
        if (m.min.x_mm > r.x_mm + SEAM_CLEAR_MM && m.max.x_mm < r.x_mm + r.width_mm - SEAM_CLEAR_MM &&
            m.min.y_mm > r.y_mm + SEAM_CLEAR_MM && m.max.y_mm < r.y_mm + r.height_mm - SEAM_CLEAR_MM)
            return i;
    }
    return n;
}

/* Openings that each window has some part of. */
static void count_openings(const sw_contours *openings, const sw_rect_mm *windows, size_t n, size_t *n_in)
{
    for (size_t k = 0; k < openings->n; k++) {
        const sw_contour_measure m = sw_contour_extent(&openings->at[k]);
        for (size_t i = 0; i < n; i++) {
            const sw_rect_mm r = windows[i];
            n_in[i] += m.max.x_mm > r.x_mm && m.min.x_mm < r.x_mm + r.width_mm && m.max.y_mm > r.y_mm &&
                       m.min.y_mm < r.y_mm + r.height_mm;
        }
    }
}

/* All originals in one window and all copies in one: *reuse gets them. */
static bool is_whole(const sw_reuse_plan *plan, const sw_rect_mm *windows, size_t n_windows, sw_reuse *reuse)
{
    for (size_t k = 0; k < reuse->n_openings; k++) {
        const sw_repeat *const repeat = &plan->repeats->at[reuse->first + k];
        const size_t from = window_of(&plan->openings->at[repeat->original], windows, n_windows);
        const size_t at = window_of(&plan->openings->at[repeat->copy], windows, n_windows);
        if (from == n_windows || at == n_windows || (k > 0 && (from != reuse->from_window || at != reuse->at_window)))
            return false;
        reuse->from_window = from;
        reuse->at_window = at;
        reuse->cut_mm += sw_contour_measure_one(&plan->openings->at[repeat->copy]).length_mm;
    }
    return true;
}

/* The same openings used again have the same number. */
static size_t number_of(const sw_reuse_plan *plan, const sw_reuse *reuse, size_t *n_numbers)
{
    const sw_repeat *const at = plan->repeats->at;
    for (size_t r = 0; r < plan->n; r++) {
        if (at[plan->at[r].first].original == at[reuse->first].original && plan->at[r].n_openings == reuse->n_openings)
            return plan->at[r].number;
    }
    return ++*n_numbers;
}

static sw_status add_reuse(sw_reuse_plan *plan, sw_reuse *reuse, size_t *n_numbers, sw_note *note)
{
    void *data = plan->at;
    reuse->number = number_of(plan, reuse, n_numbers);
    if (!sw_grow(&data, &plan->cap, plan->n + 1, sizeof *plan->at)) return sw_fail_memory(note, "openings used again");
    plan->at = data;
    plan->at[plan->n++] = *reuse;
    for (size_t k = 0; k < reuse->n_openings; k++) plan->is_left_out[plan->repeats->at[reuse->first + k].copy] = true;
    return SW_OK;
}

static size_t members_from(const sw_repeats *repeats, size_t first)
{
    size_t n = 1;
    if (repeats->at[first].group == 0) return 1;
    while (first + n < repeats->n && repeats->at[first + n].group == repeats->at[first].group) n++;
    return n;
}

sw_status sw_reuse_plan_make(const sw_layout_sheet *sheet, const sw_rect_mm *windows, size_t n_windows, size_t *n_numbers,
                             sw_reuse_plan *out, sw_note *note)
{
    sw_reuse_plan made = { .repeats = sheet->reuse, .openings = sheet->openings };
    size_t *n_in = NULL;
    sw_status st = SW_OK;
    if (sheet->reuse == NULL || sheet->reuse->n == 0) goto cleanup;
    made.is_left_out = sw_alloc_array(sheet->openings->n, sizeof *made.is_left_out);
    n_in = sw_alloc_array(n_windows, sizeof *n_in);
    st = made.is_left_out == NULL || n_in == NULL ? sw_fail_memory(note, "openings used again") : SW_OK;
    if (st != SW_OK) goto cleanup;
    count_openings(sheet->openings, windows, n_windows, n_in);
    for (size_t i = 0, n = 0; st == SW_OK && i < sheet->reuse->n; i += n) {
        const sw_repeat *const first = &sheet->reuse->at[i];
        n = members_from(sheet->reuse, i);
        sw_reuse reuse = { .pass = sheet->pass, .first = i, .n_openings = n, .is_mirrored = first->is_mirrored,
                           .turn_rad = first->turn_rad, .from = first->original_at, .at = first->at };
        if (!is_whole(&made, windows, n_windows, &reuse) || n_in[reuse.at_window] <= n) continue;
        n_in[reuse.at_window] -= n;
        st = add_reuse(&made, &reuse, n_numbers, note);
    }
    if (st != SW_OK) goto cleanup;
    *out = made;
    made = (sw_reuse_plan){ 0 };
cleanup:
    sw_reuse_plan_free(&made);
    sw_free(n_in);
    return st;
}

void sw_reuse_plan_free(sw_reuse_plan *plan)
{
    sw_free(plan->is_left_out);
    sw_free(plan->at);
    *plan = (sw_reuse_plan){ 0 };
}
