/* Bridges in the order people are told of them: the one list that files and pictures take their numbers from. */
#include "job/bridges.h"

#include <stdlib.h>

#define LINES 10.0 /* lines a wall is read in; taste: a number's neighbours are found within an arm's length */

static int by_size(size_t a, size_t b) { return a < b ? -1 : a > b; }
static int by_place(double a, double b) { return a < b ? -1 : a > b; }

static int by_index(const sw_job_bridge *a, const sw_job_bridge *b)
{
    return a->pass != b->pass ? by_size(a->pass, b->pass) : by_size(a->index, b->index);
}

/* As one reads; a total order. */
static int by_reading(const void *one, const void *two)
{
    const sw_job_bridge *const a = one, *const b = two;
    if (a->pass != b->pass) return by_size(a->pass, b->pass);
    if (a->line != b->line) return by_size(a->line, b->line);
    if (a->middle.x_mm != b->middle.x_mm) return by_place(a->middle.x_mm, b->middle.x_mm);
    if (a->middle.y_mm != b->middle.y_mm) return by_place(a->middle.y_mm, b->middle.y_mm);
    return by_index(a, b);
}

/* Largest visible area first; a total order. */
static int by_area(const void *one, const void *two)
{
    const sw_job_bridge *const a = one, *const b = two;
    const int order = by_place(b->bridge->visible_mm2, a->bridge->visible_mm2);
    return order != 0 ? order : by_index(a, b);
}

static sw_job_bridge entry(const sw_job *job, size_t pass, const sw_bridge *bridge, size_t index)
{
    const size_t half = bridge->n_bends / 2; /* a bent one's middle is on its way */
    const sw_pt_mm a = bridge->n_bends == 0 ? bridge->a : bridge->bend[half];
    const sw_pt_mm b = bridge->n_bends == 0 ? bridge->b : bridge->n_bends % 2 != 0 ? a : bridge->bend[half - 1];
    const sw_pt_mm middle = { 0.5 * (a.x_mm + b.x_mm), 0.5 * (a.y_mm + b.y_mm) };
    const double line = job->opts.height_mm > 0.0 ? LINES * middle.y_mm / job->opts.height_mm : 0.0;
    return (sw_job_bridge){ bridge, pass, index, middle, (size_t)sw_clamp(line, 0.0, LINES - 1.0) };
}

static sw_status list(const sw_job *job, bool is_visible_only, sw_job_bridge **out, size_t *n, sw_note *note)
{
    size_t n_all = 0, n_listed = 0;
    for (size_t i = 0; i < job->sheets.n; i++) n_all += job->sheets.at[i].n_bridges;
    sw_job_bridge *const made = sw_alloc_array(sw_max_size(n_all, 1), sizeof *made);
    if (made == NULL) return sw_fail_memory(note, "bridges");
    for (size_t i = 0; i < job->sheets.n; i++) {
        const sw_sheet *const sheet = &job->sheets.at[i];
        for (size_t b = 0; b < sheet->n_bridges; b++) {
            if (is_visible_only && sheet->bridges[b].is_hidden) continue;
            made[n_listed++] = entry(job, sheet->pass, &sheet->bridges[b], b);
        }
    }
    if (n_listed > 1) qsort(made, n_listed, sizeof *made, is_visible_only ? by_area : by_reading);
    *out = made;
    *n = n_listed;
    return SW_OK;
}

sw_status sw_job_list_bridges(const sw_job *job, sw_job_bridge **out, size_t *n, sw_note *note)
{
    return list(job, false, out, n, note);
}

sw_status sw_job_list_visible(const sw_job *job, sw_job_bridge **out, size_t *n, sw_note *note)
{
    return list(job, true, out, n, note);
}
