/* Times the whole job, every stage, and in the same run the floor: decoding the JPEG plus one potrace_trace a finished
 * mask. Arguments: PICTURE WIDTH MIN_OPENING [more triples]. Prints a table and the growth exponent over all jobs and
 * from each job to the next. A job that fails ends the run with a bad exit status.
 *
 * BED=1200x800 in the environment splits the sheets, writes SVG, PDF and EPS, and prints the estimates.
 * Fastest of N_RUNS; stages are timed by the progress calls that the job makes anyway. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <potracelib.h>

#include "job/job.h"

#ifndef N_RUNS
#define N_RUNS 3
#endif
#define MAX_STAGES 16

static double now_s(void)
{
    struct timespec t = { 0 };
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

/* Processor time of all threads, without the kernel's. */
static double cpu_s(void)
{
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    return (double)usage.ru_utime.tv_sec + (double)usage.ru_utime.tv_usec / 1e6;
}

typedef struct stages {
    char name[MAX_STAGES][32];
    double begun_s[MAX_STAGES + 1], cpu_s[MAX_STAGES + 1];
    size_t n;
} stages;

static void note_stage(void *ctx, const char *stage, double done_ratio)
{
    (void)done_ratio;
    stages *const s = ctx;
    if (s->n == MAX_STAGES) return;
    snprintf(s->name[s->n], sizeof s->name[0], "%s", stage);
    s->cpu_s[s->n] = cpu_s();
    s->begun_s[s->n++] = now_s();
}

/* potrace wants rows of words, bottom up, most significant bit first. */
static double trace_floor_s(const sw_mask *mask)
{
    const size_t word_bits = 8 * sizeof(potrace_word), dy = (mask->width_px + word_bits - 1) / word_bits;
    potrace_word *const map = sw_alloc_array(dy * mask->height_px, sizeof *map);
    potrace_param_t *const param = potrace_param_default();
    if (map == NULL || param == NULL) exit(3);
    for (size_t y = 0; y < mask->height_px; y++) {
        for (size_t x = 0; x < mask->width_px; x++) {
            if (mask->at[y * mask->width_px + x])
                map[(mask->height_px - 1 - y) * dy + x / word_bits] |= (potrace_word)1 << (word_bits - 1 - x % word_bits);
        }
    }
    potrace_bitmap_t bitmap = { (int)mask->width_px, (int)mask->height_px, (int)dy, map };
    const double begun_s = now_s();
    potrace_state_t *const state = potrace_trace(param, &bitmap);
    const double took_s = now_s() - begun_s;
    potrace_state_free(state);
    potrace_param_free(param);
    sw_free(map);
    return took_s;
}

static double decode_floor_s(const char *path, const sw_grid *grid)
{
    sw_note note = { 0 };
    sw_picture picture = { 0 };
    const sw_picture_opts opts = { .enough_width_px = grid->width_px, .enough_height_px = grid->height_px };
    const double begun_s = now_s();
    if (sw_picture_read(path, &opts, &picture, &note) != SW_OK) exit(3);
    const double took_s = now_s() - begun_s;
    sw_picture_free(&picture);
    return took_s;
}

typedef struct result {
    double total_s, floor_s, grid_mpx, peak_mb;
} result;

/* A bed from the environment; false if there is none. */
static bool take_bed(sw_cut_opts *opts)
{
    const char *const bed = getenv("BED");
    if (bed == NULL || sscanf(bed, "%lfx%lf", &opts->bed_width_mm, &opts->bed_height_mm) != 2) return false;
    opts->formats = SW_FORMAT_SVG | SW_FORMAT_PDF | SW_FORMAT_EPS;
    return true;
}

static void print_estimates(const sw_job *job)
{
    sw_text text = { 0 };
    sw_job_add_estimates(&text, job);
    if (text.data != NULL) printf("%s\n", text.data);
    sw_text_free(&text);
}

static result run_job(const char *path, double width_mm, double min_opening_mm)
{
    result best = { .total_s = 1e9 };
    stages best_stages = { .n = 0 };
    for (int run = 0; run < N_RUNS; run++) {
        sw_note note = { 0 };
        sw_job *job = NULL;
        stages s = { .n = 0 };
        sw_cut_opts opts = sw_cut_defaults();
        opts.width_mm = width_mm;
        opts.min_opening_mm = min_opening_mm;
        opts.min_web_mm = sw_max(5.0, min_opening_mm);
        const bool has_bed = take_bed(&opts);
        opts.tell = note_stage;
        opts.tell_ctx = &s;
        char dir[] = "/tmp/sw-bench-XXXXXX";
        if (mkdtemp(dir) == NULL) exit(3);
        char out[64], command[96];
        snprintf(out, sizeof out, "%s/job", dir);
        const double begun_s = now_s();
        sw_status st = sw_job_cut(path, &opts, &job, &note);
        if (st == SW_OK) st = sw_job_write(job, out, false, &note);
        if (st != SW_OK) {
            fprintf(stderr, "bench_job: the job failed: %s\n", note.text);
            _exit(3);
        }
        const double ended_s = now_s();
        s.cpu_s[s.n] = cpu_s();
        s.begun_s[s.n] = ended_s;
        if (ended_s - begun_s < best.total_s) {
            best = (result){ .total_s = ended_s - begun_s,
                             .grid_mpx = (double)job->grid.width_px * (double)job->grid.height_px / 1e6 };
            best_stages = s;
            if (run == N_RUNS - 1 || best.floor_s <= 0.0) {
                best.floor_s = decode_floor_s(path, &job->grid);
                for (size_t i = 0; i < job->sheets.n; i++) best.floor_s += trace_floor_s(&job->sheets.at[i].openings);
            }
        }
        if (has_bed && run == 0) print_estimates(job);
        sw_job_free(job);
        snprintf(command, sizeof command, "rm -rf %s", dir);
        if (system(command) != 0) exit(3);
    }
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    best.peak_mb = (double)usage.ru_maxrss / 1024.0;
    printf("%s at %.1f m, smallest opening %.1f mm: grid %.1f MP\n", path, width_mm / 1000.0, min_opening_mm, best.grid_mpx);
    for (size_t i = 0; i < best_stages.n; i++) {
        const double took_s = best_stages.begun_s[i + 1] - best_stages.begun_s[i];
        const char *const name = i + 1 == best_stages.n ? "writing" : best_stages.name[i];
        printf("  %-22s %7.3f s  %4.1f %%  cpu %7.3f s\n", name, took_s, 100.0 * took_s / best.total_s,
               best_stages.cpu_s[i + 1] - best_stages.cpu_s[i]);
    }
    printf("  %-22s %7.3f s, cpu %.3f s, floor %.3f s, ratio %.1f, peak %.0f MB\n\n", "whole job", best.total_s,
           best_stages.cpu_s[best_stages.n] - best_stages.cpu_s[0], best.floor_s,
           best.total_s / best.floor_s, best.peak_mb);
    return best;
}

int main(int argc, char **argv)
{
    sw_memory_keep(); /* as the program does */
    double sum_x = 0, sum_y = 0, sum_xx = 0, sum_xy = 0, n = 0, last_x = 0, last_y = 0;
    for (int i = 1; i + 2 < argc; i += 3) {
        double width_mm, min_opening_mm;
        sw_note note = { 0 };
        if (sw_length_parse(argv[i + 1], "width", false, &width_mm, &note) != SW_OK ||
            sw_length_parse(argv[i + 2], "opening", false, &min_opening_mm, &note) != SW_OK) {
            fprintf(stderr, "%s\n", note.text);
            return 2;
        }
        /* a process each, so that peak memory is the job's own */
        int ends[2];
        result r = { 0 };
        if (pipe(ends) != 0) return 3;
        fflush(stdout);
        const pid_t child = fork();
        if (child == 0) {
            const result made = run_job(argv[i], width_mm, min_opening_mm);
            fflush(stdout);
            _exit(write(ends[1], &made, sizeof made) == (ssize_t)sizeof made ? 0 : 3);
        }
        close(ends[1]);
        const bool is_read = read(ends[0], &r, sizeof r) == (ssize_t)sizeof r;
        close(ends[0]);
        waitpid(child, NULL, 0);
        if (!is_read) {
            fprintf(stderr, "bench_job: %s at %s gave no measurement\n", argv[i], argv[i + 1]);
            return 3;
        }
        const double x = log(r.grid_mpx), y = log(r.total_s);
        if (n > 0 && fabs(x - last_x) > 1e-9) printf("step from the job before: exponent %.2f\n\n", (y - last_y) / (x - last_x));
        last_x = x, last_y = y;
        sum_x += x, sum_y += y, sum_xx += x * x, sum_xy += x * y, n += 1;
    }
    if (n >= 2 && n * sum_xx - sum_x * sum_x > 1e-9)
        printf("growth exponent of time in grid pixels over %d jobs: %.2f\n", (int)n,
               (n * sum_xy - sum_x * sum_y) / (n * sum_xx - sum_x * sum_x));
    return 0;
}
