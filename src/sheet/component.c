/*
 * Connected components by runs.
 *
 * Rows are cut into runs in parallel (eight bytes at a time: most of a mask is one value for long), runs that touch
 * are joined by union-find with the smaller index as root, so components come out numbered in raster order. Only the
 * union is serial, and it sees runs, not pixels.
 *
 * 12 bytes a run; a picture has about one run in thirty pixels, the worst case (a checkerboard) one a pixel.
 */
#include "sheet/runs.h"

#include <string.h>

typedef struct run_job {
    const uint8_t *at;
    size_t width, stride;
    int value;
    const sw_runs *runs;
    uint32_t *label;
} run_job;

/* First column at or after x whose value differs from row[x]. */
static size_t run_end(const uint8_t *row, size_t x, size_t width)
{
    const uint8_t v = row[x];
    const uint64_t all = 0x0101010101010101u * v;
    while (x + 8 <= width) {
        uint64_t word;
        memcpy(&word, row + x, 8);
        if (word != all) break;
        x += 8;
    }
    while (x < width && row[x] == v) x++;
    return x;
}

static void count_rows(size_t row_begin, size_t row_end, void *arg)
{
    const run_job *const job = arg;
    for (size_t y = row_begin; y < row_end; y++) {
        const uint8_t *const row = job->at + y * job->stride;
        size_t n = 0;
        for (size_t x = 0; x < job->width; x = run_end(row, x, job->width))
            n += job->value == SW_RUNS_ALL || row[x] == job->value;
        job->runs->row[y + 1] = n;
    }
}

static void fill_rows(size_t row_begin, size_t row_end, void *arg)
{
    const run_job *const job = arg;
    for (size_t y = row_begin; y < row_end; y++) {
        const uint8_t *const row = job->at + y * job->stride;
        sw_run *run = job->runs->at + job->runs->row[y];
        size_t end;
        for (size_t x = 0; x < job->width; x = end) {
            end = run_end(row, x, job->width);
            if (job->value != SW_RUNS_ALL && row[x] != job->value) continue;
            *run++ = (sw_run){ .begin = (uint32_t)x, .end = (uint32_t)end };
        }
    }
}

/* While joining, id holds the index of a run nearer to the root; a root holds itself. */
static uint32_t root_of(sw_run *run, uint32_t i)
{
    while (run[i].id != i) {
        run[i].id = run[run[i].id].id;
        i = run[i].id;
    }
    return i;
}

static void join(sw_run *run, size_t i, size_t j)
{
    const uint32_t a = root_of(run, (uint32_t)i), b = root_of(run, (uint32_t)j);
    if (a < b) run[b].id = a;
    else run[a].id = b;
}

/* Runs of row y with those of the row above. Both lists are walked once. */
static void join_row(const run_job *job, size_t y, uint32_t reach)
{
    sw_run *const run = job->runs->at;
    const size_t *const row = job->runs->row;
    size_t i = row[y - 1];
    for (size_t j = row[y]; j < row[y + 1]; j++) {
        while (i < row[y] && run[i].end + reach <= run[j].begin) i++;
        for (size_t k = i; k < row[y] && run[k].begin < run[j].end + reach; k++) {
            if (job->value == SW_RUNS_ALL && job->at[(y - 1) * job->stride + run[k].begin] !=
                                                 job->at[y * job->stride + run[j].begin])
                continue;
            join(run, k, j);
        }
    }
}

static void number_components(sw_runs *runs)
{
    uint32_t n = 0;
    for (size_t i = 0; i < runs->n; i++) { /* a root comes before all that hang on it */
        const uint32_t up = runs->at[i].id;
        runs->at[i].id = up == i ? ++n : runs->at[up].id;
    }
    runs->n_components = n;
}

sw_status sw_runs_make(const uint8_t *at, size_t width, size_t height, size_t stride, int value, bool is_eight,
                       sw_runs *out, sw_note *note)
{
    sw_runs made = { .n_rows = height };
    sw_status st = SW_NO_MEMORY;
    made.row = sw_alloc_array(height + 1, sizeof *made.row);
    if (made.row == NULL) goto cleanup;
    run_job job = { .at = at, .width = width, .stride = stride, .value = value, .runs = &made };
    sw_parallel_rows(height, count_rows, &job);
    for (size_t y = 0; y < height; y++) made.row[y + 1] += made.row[y];
    made.n = made.row[height];
    made.at = sw_alloc_raw(made.n == 0 ? 1 : made.n, sizeof *made.at);
    if (made.at == NULL) goto cleanup;
    sw_parallel_rows(height, fill_rows, &job);
    for (size_t i = 0; i < made.n; i++) made.at[i].id = (uint32_t)i;
    for (size_t y = 1; y < height; y++) join_row(&job, y, is_eight ? 1 : 0);
    number_components(&made);
    *out = made;
    made = (sw_runs){ 0 };
    st = SW_OK;
cleanup:
    if (st != SW_OK) sw_fail_memory(note, "connected components");
    sw_runs_free(&made);
    return st;
}

void sw_runs_free(sw_runs *runs)
{
    if (runs == NULL) return;
    sw_free(runs->at);
    sw_free(runs->row);
    *runs = (sw_runs){ 0 };
}

static void label_rows(size_t row_begin, size_t row_end, void *arg)
{
    const run_job *const job = arg;
    for (size_t y = row_begin; y < row_end; y++) {
        uint32_t *const label = job->label + y * job->width;
        size_t x = 0;
        for (size_t i = job->runs->row[y]; i < job->runs->row[y + 1]; i++) {
            const sw_run run = job->runs->at[i];
            memset(label + x, 0, (run.begin - x) * sizeof *label);
            for (x = run.begin; x < run.end; x++) label[x] = run.id;
        }
        memset(label + x, 0, (job->width - x) * sizeof *label);
    }
}

void sw_runs_label(const sw_runs *runs, size_t width, uint32_t *label)
{
    run_job job = { .width = width, .runs = runs, .label = label };
    sw_parallel_rows(runs->n_rows, label_rows, &job);
}

sw_status sw_components(const sw_mask *mask, uint8_t value, bool is_eight, uint32_t *label, size_t *n, sw_note *note)
{
    sw_runs runs = { 0 };
    SW_TRY(sw_runs_make(mask->at, mask->width_px, mask->height_px, mask->width_px, value, is_eight, &runs, note));
    sw_runs_label(&runs, mask->width_px, label);
    *n = runs.n_components;
    sw_runs_free(&runs);
    return SW_OK;
}
