/* Rows as runs of equal bytes, joined into connected components; private to src/sheet/. */
#ifndef SW_SHEET_RUNS_H
#define SW_SHEET_RUNS_H

#include "sheet/sheet.h"

#define SW_RUNS_ALL (-1)

/** Columns begin <= x < end of one row, all of one value. */
typedef struct sw_run {
    uint32_t begin, end;
    uint32_t id; /* component, 1..n_components, numbered in raster order of first pixels */
} sw_run;

/** Runs of all rows, row after row, left to right. Free with sw_runs_free. 12 bytes a run, 8 a row. */
typedef struct sw_runs {
    sw_run *at;
    size_t *row; /* n_rows + 1: runs of row y are row[y] .. row[y + 1] - 1 */
    size_t n, n_rows, n_components;
} sw_runs;

/**
 * Find runs of value (or of every value, with SW_RUNS_ALL) in a raster of bytes and join those of equal value that
 * touch: over sides, or over corners too if is_eight. With SW_RUNS_ALL is_eight must be false.
 * Same result for any thread count. Returns SW_OK, SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_runs_make(const uint8_t *at, size_t width, size_t height, size_t stride, int value,
                                   bool is_eight, sw_runs *out, sw_note *note);
void sw_runs_free(sw_runs *runs);

/** label: n_rows * width, each pixel's component; 0 outside the runs. */
void sw_runs_label(const sw_runs *runs, size_t width, uint32_t *label);

#endif
