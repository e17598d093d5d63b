/* Parts of the separation: clusters, labels, marks, the list of paints. */
#include "support.h"

#include <math.h>
#include <string.h>

#include "separate/parts.h"
#include "separate/tile.h"

/* ---- clusters -------------------------------------------------------------------------------------------------- */

static double cost_of(const uint64_t *histogram, const size_t *cut, size_t k)
{
    double cost = 0.0;
    for (size_t c = 0; c < k; c++) {
        double n = 0.0, sum = 0.0, square = 0.0;
        for (size_t v = c == 0 ? 0 : cut[c - 1] + 1; v <= (c + 1 == k ? 255 : cut[c]); v++) {
            n += (double)histogram[v];
            sum += (double)histogram[v] * (double)v;
            square += (double)histogram[v] * (double)(v * v);
        }
        if (n > 0.0) cost += square - sum * sum / n;
    }
    return cost;
}

static void tone_cuts_cost_no_more_than_any_others(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 12; seed++) {
        uint64_t random = seed, histogram[256] = { 0 };
        size_t filled[20], n_filled = 0;
        for (size_t v = test_random(&random) % 20; v < 256 && n_filled < 20; v += 1 + test_random(&random) % 20) {
            histogram[v] = 1 + test_random(&random) % 1000;
            filled[n_filled++] = v;
        }
        uint8_t got[SW_MAX_LABELS];
        assert_int_equal(sw_cluster_tone(histogram, 4, got), 4);
        const size_t cut[3] = { got[0], got[1], got[2] };
        const double cost = cost_of(histogram, cut, 4);
        for (size_t a = 0; a + 3 < n_filled; a++) {
            for (size_t b = a + 1; b + 2 < n_filled; b++) {
                for (size_t c = b + 1; c + 1 < n_filled; c++) {
                    const size_t other[3] = { filled[a], filled[b], filled[c] };
                    if (cost > cost_of(histogram, other, 4) * (1.0 + 1e-9)) fail_msg("seed %d", (int)seed);
                }
            }
        }
    }
}

static void few_tones_make_few_clusters(void **state)
{
    (void)state;
    uint64_t histogram[256] = { 0 };
    uint8_t cuts[SW_MAX_LABELS];
    assert_int_equal(sw_cluster_tone(histogram, 3, cuts), 0);
    histogram[200] = 5;
    assert_int_equal(sw_cluster_tone(histogram, 3, cuts), 1);
    histogram[255] = 1;
    assert_int_equal(sw_cluster_tone(histogram, 3, cuts), 2);
    assert_in_range(cuts[0], 200, 254);
    histogram[0] = 1;
    assert_int_equal(sw_cluster_tone(histogram, 9, cuts), 3);
}

static void a_fixed_centre_stays_and_the_others_fit_around_it(void **state)
{
    (void)state;
    sw_colour_cell at[] = { { { 250, 128, 128 }, 50 }, { { 100, 160, 128 }, 10 }, { { 104, 160, 128 }, 30 },
                            { { 60, 100, 150 }, 20 } };
    const sw_colour_cells cells = { at, SW_ARRAY_LEN(at) };
    sw_plane_colour centre[SW_MAX_LABELS] = { { { 255, 128, 128 } } };
    size_t n = 0;
    double cost = 0.0;
    assert_int_equal(sw_cluster_colour(&cells, 3, 1, centre, &n, &cost, NULL), SW_OK);
    assert_int_equal(n, 3);
    assert_true(centre[0].at[0] == 255.0);
    assert_true(fabs(cost - (50.0 * 25.0 + 10.0 * 9.0 + 30.0 * 1.0)) < 1e-6);
    assert_int_equal(sw_cluster_colour(&cells, 9, 1, centre, &n, &cost, NULL), SW_OK);
    assert_int_equal(n, 5); /* the ground and every colour there is */
    assert_true(cost < 1e-9);
}

static void as_many_paints_as_help_are_picked(void **state)
{
    (void)state;
    sw_colour_cell at[2] = { { .weight = 10 }, { .weight = 10 } };
    static const sw_rgb8 paints[] = { { 250, 250, 250 }, { 0, 0, 200 }, { 210, 0, 0 }, { 200, 0, 0 } };
    memcpy(at[0].at, sw_plane_colour_from_rgb8(paints[3]).at, sizeof at[0].at);
    memcpy(at[1].at, sw_plane_colour_from_rgb8(paints[1]).at, sizeof at[1].at);
    const sw_colour_cells cells = { at, 2 };
    size_t picked[SW_MAX_PASSES], n = 0;
    assert_int_equal(sw_pick_paints(&cells, (sw_rgb8){ 255, 255, 255 }, paints, 4, 4, picked, &n, NULL), SW_OK);
    assert_int_equal(n, 2);
    assert_true((picked[0] == 3 && picked[1] == 1) || (picked[0] == 1 && picked[1] == 3));
}

/* ---- filters --------------------------------------------------------------------------------------------------- */

static void least_and_most_of_long_fields_are_as_by_hand(void **state)
{
    (void)state;
    static const size_t sizes[][3] = { { 5000, 3, 2 }, { 3, 5000, 48 }, { 2050, 70, 7 }, { 66, 2049, 5 }, { 1, 1, 9 } };
    for (size_t i = 0; i < SW_ARRAY_LEN(sizes); i++) {
        const size_t width = sizes[i][0], height = sizes[i][1], r = sizes[i][2];
        uint8_t *const in = sw_alloc_array(width * height, 1), *const out = sw_alloc_array(width * height, 1);
        uint64_t random = i + 1;
        for (size_t k = 0; k < width * height; k++) in[k] = (uint8_t)(test_random(&random) % 256);
        for (int flip = 0; flip < 256; flip += 255) {
            sw_morph(in, out, width, height, r, (uint8_t)flip);
            for (size_t k = 0; k < width * height; k += 1 + k % 7) {
                const size_t x = k % width, y = k / width;
                uint8_t want = (uint8_t)(255 - flip);
                for (size_t v = y < r ? 0 : y - r; v <= y + r && v < height; v++) {
                    for (size_t u = x < r ? 0 : x - r; u <= x + r && u < width; u++) {
                        const uint8_t one = in[v * width + u];
                        if (flip == 0 ? one < want : one > want) want = one;
                    }
                }
                assert_int_equal(out[k], want);
            }
        }
        sw_free(in);
        sw_free(out);
    }
}

/* ---- labels ---------------------------------------------------------------------------------------------------- */

typedef struct watched {
    int64_t energy;
    size_t level, box, n_steps, n_rises;
} watched;

static void watch(void *ctx, size_t level, size_t box, int64_t energy)
{
    watched *const w = ctx;
    if (w->n_steps > 0 && level == w->level && box == w->box) w->n_rises += energy > w->energy;
    w->energy = energy;
    w->level = level;
    w->box = box;
    w->n_steps++;
}

static void the_energy_never_rises(void **state)
{
    (void)state;
    static const size_t sizes[][2] = { { 1, 1 }, { 3, 90 }, { 200, 150 }, { 300, 41 } };
    for (size_t i = 0; i < SW_ARRAY_LEN(sizes); i++) {
        uint64_t random = i + 1;
        const size_t width = sizes[i][0], height = sizes[i][1], n_px = width * height;
        sw_planes planes = { width, height, 3, { NULL } };
        uint8_t *const label = sw_alloc_array(n_px, 1);
        for (size_t p = 0; p < 3; p++) {
            planes.at[p] = sw_alloc_array(n_px, 1);
            for (size_t px = 0; px < n_px; px++)
                planes.at[p][px] = (uint8_t)(px % width * 120 / width + test_random(&random) % 100);
        }
        watched seen = { 0 };
        sw_label_task task = { .planes = &planes, .n_labels = 5, .lambda = 4000.0, .n_levels = 4, .cap_sq = 3000.0,
                               .mixed_sq = 500.0, .watch = watch, .watch_ctx = &seen };
        for (size_t k = 0; k < 5; k++)
            task.colour[k] = (sw_plane_colour){ { 30.0 + 40.0 * (double)k, 60.0 + 20.0 * (double)(k % 3), 110.0 } };
        assert_int_equal(sw_labels_make(&task, label, NULL), SW_OK);
        assert_true(seen.n_steps >= 4);
        assert_int_equal(seen.n_rises, 0);
        sw_free(label);
        sw_planes_free(&planes);
    }
}

/* Label of a place beyond the grid's edge: mirrored about it, again and again. */
static uint8_t mirrored(const uint8_t *label, size_t width, size_t height, ptrdiff_t x, ptrdiff_t y)
{
    while (x < 0 || x >= (ptrdiff_t)width) x = x < 0 ? -1 - x : 2 * (ptrdiff_t)width - 1 - x;
    while (y < 0 || y >= (ptrdiff_t)height) y = y < 0 ? -1 - y : 2 * (ptrdiff_t)height - 1 - y;
    return label[(size_t)y * width + (size_t)x];
}

/* Two boxes along each axis are one weight a place: how often the sums of two numbers below box come to it. */
static unsigned blurred_by_hand(const uint8_t *label, size_t width, size_t height, size_t x, size_t y, size_t box, uint8_t of)
{
    const ptrdiff_t reach = (ptrdiff_t)box - 1;
    unsigned sum = 0;
    for (ptrdiff_t v = -reach; v <= reach; v++) {
        for (ptrdiff_t u = -reach; u <= reach; u++) {
            const ptrdiff_t across = (ptrdiff_t)box - (u < 0 ? -u : u), down = (ptrdiff_t)box - (v < 0 ? -v : v);
            if (mirrored(label, width, height, (ptrdiff_t)x + u, (ptrdiff_t)y + v) == of) sum += (unsigned)(across * down);
        }
    }
    return sum;
}

/* All pixels of a patch: inside the cropped tile and of mixed surroundings the blur is checked, elsewhere that there is but
 * one label all around. */
static void check_tile(const uint8_t *label, size_t width, size_t height, size_t box, sw_patch patch, bool is_cropped)
{
    static sw_tile t;
    const unsigned full = (unsigned)(box * box * box * box);
    sw_tile_load(label, width, height, box, 0, 0, patch, &t);
    if (is_cropped) sw_tile_crop(&t);
    if (t.height > 0) sw_tile_blur(&t);
    for (size_t y = patch.y0; y < patch.y1; y++) {
        for (size_t x = patch.x0; x < patch.x1; x++) {
            const bool is_in = x >= t.x && x < t.x + t.width && y >= t.y && y < t.y + t.height;
            size_t begin = 0, end = 0;
            if (is_in) sw_tile_mixed(&t, y - t.y, &begin, &end);
            const bool is_mixed = is_in && x - t.x >= begin && x - t.x < end;
            if (is_in) assert_int_equal(sw_tile_row(&t, y - t.y)[x - t.x], label[y * width + x]);
            for (uint8_t of = 0; of < 4; of++) {
                const unsigned want = blurred_by_hand(label, width, height, x, y, box, of);
                const bool is_present = is_in && (t.present >> of & 1u) != 0;
                if (is_in) assert_int_equal(is_present ? t.blurred[of][y - t.y][x - t.x] : 0, want);
                if (!is_mixed) assert_true(want == 0 || want == full);
            }
        }
    }
}

static void a_tile_is_blurred_as_by_hand_and_cropped_to_where_labels_meet(void **state)
{
    (void)state;
    static const size_t boxes[] = { SW_BOX_FINE, SW_BOX_COARSE, SW_BOX_WIDE }, sizes[][2] = { { 64, 32 }, { 90, 50 }, { 7, 3 } };
    for (size_t i = 0; i < SW_ARRAY_LEN(sizes); i++) {
        const size_t width = sizes[i][0], height = sizes[i][1];
        const uint8_t right = (uint8_t)sw_min_size(width, SW_TILE_W), bottom = (uint8_t)sw_min_size(height, SW_TILE_H);
        uint8_t *const label = sw_alloc_array(width * height, 1);
        uint64_t random = i + 1;
        for (size_t box = 0; box < SW_ARRAY_LEN(boxes); box++) {
            for (size_t k = 0; k < width * height; k++) label[k] = (uint8_t)(test_random(&random) % 20 == 0 ? 3 : k % width / 30);
            check_tile(label, width, height, boxes[box], (sw_patch){ 0, 0, right, bottom }, false);
            check_tile(label, width, height, boxes[box], (sw_patch){ right / 2, 1, right, bottom }, false);
            memset(label, 2, width * height);
            check_tile(label, width, height, boxes[box], (sw_patch){ 0, 0, right, bottom }, true);
            label[height / 2 * width + width / 3] = 1;
            check_tile(label, width, height, boxes[box], (sw_patch){ 0, 0, right, bottom }, true);
        }
        sw_free(label);
    }
}

/* A field of one plane whose value at each pixel is fn(x, y), labelled with colours 100, 150 and, of three, 50. Caller
 * frees. */
static uint8_t *labels_of(double (*fn)(double x, double y), size_t n_labels, size_t width, size_t height, double shape_px)
{
    sw_planes planes = { width, height, 1, { sw_alloc_array(width * height, 1) } };
    uint8_t *const label = sw_alloc_array(width * height, 1);
    uint64_t random = 7; /* bytes as cameras make them: a slope is not a stair of flat treads */
    for (size_t i = 0; i < width * height; i++) {
        const double noise = (double)(test_random(&random) % 1000) / 1000.0;
        planes.at[0][i] = (uint8_t)floor(fn((double)(i % width) + 0.5, (double)(i / width) + 0.5) + noise);
    }
    sw_label_task task = { .planes = &planes, .n_labels = n_labels, .lambda = 16000.0, .n_levels = 5, .cap_sq = 2500.0,
                           .mixed_sq = 156.0, .shape_px = shape_px };
    task.colour[0].at[0] = 100.0;
    task.colour[1].at[0] = 150.0;
    task.colour[2].at[0] = 50.0;
    assert_int_equal(sw_labels_make(&task, label, NULL), SW_OK);
    sw_planes_free(&planes);
    return label;
}

/* A tone step over 330 px, and the middle of it rises by 36 px along the field. */
static double soft_slope(double x, double y) { return 125.0 + 0.15 * (y - 150.0 - x / 25.0); }

static void in_a_soft_slope_the_boundary_follows_the_level_line(void **state)
{
    (void)state;
    const size_t width = 900, height = 360;
    uint8_t *const label = labels_of(soft_slope, 2, width, height, 0.0);
    double deviation = 0.0;
    for (size_t x = 0, before = 0, run = 0; x < width; x++) {
        size_t n = 0; /* the boundary is at this y */
        for (size_t y = 0; y < height; y++) n += label[y * width + x] == 0;
        run = n == before ? run + 1 : 1;
        before = n;
        assert_true(run < 200);
        deviation += fabs((double)n - 150.0 - (double)x / 25.0) / (double)width;
    }
    assert_true(deviation < 2.0);
    sw_free(label);
}

/* A disc of 40 px alone at (300, 100), the same disc at (100, 100) inside a ring. */
static double specks(double x, double y)
{
    const double eye = hypot(x - 100.0, y - 100.0), lone = hypot(x - 300.0, y - 100.0);
    return eye < 20.0 ? 150.0 : eye < 40.0 ? 100.0 : eye < 60.0 ? 150.0 : lone < 20.0 ? 150.0 : 100.0;
}

static void a_lone_speck_goes_where_the_same_as_part_of_something_stays(void **state)
{
    (void)state;
    uint8_t *const label = labels_of(specks, 2, 400, 200, 50.0);
    assert_int_equal(label[100 * 400 + 300], 0);
    assert_int_equal(label[100 * 400 + 100], 1);
    assert_int_equal(label[100 * 400 + 130], 0);
    assert_int_equal(label[100 * 400 + 150], 1);
    sw_free(label);
}

/* Two fields that meet at x = 200, and discs of 40 px where they do: one alone at y = 100, two near each other below. */
static double specks_on_an_edge(double x, double y)
{
    const double lone = hypot(x - 200.0, y - 100.0), one = hypot(x - 200.0, y - 400.0), two = hypot(x - 200.0, y - 480.0);
    return lone < 20.0 || one < 20.0 || two < 20.0 ? 50.0 : x < 200.0 ? 100.0 : 150.0;
}

static void a_speck_on_an_edge_goes_where_nothing_of_its_colour_is_near(void **state)
{
    (void)state;
    uint8_t *const label = labels_of(specks_on_an_edge, 3, 400, 580, 90.0);
    assert_int_not_equal(label[100 * 400 + 200], 2);
    assert_int_equal(label[400 * 400 + 200], 2);
    assert_int_equal(label[480 * 400 + 200], 2);
    assert_int_equal(label[100 * 400 + 150], 0);
    assert_int_equal(label[100 * 400 + 250], 1);
    sw_free(label);
}

static void without_lambda_each_pixel_has_its_nearest_colour(void **state)
{
    (void)state;
    sw_planes planes = { 256, 1, 1, { sw_alloc_array(256, 1) } };
    uint8_t label[256];
    for (size_t i = 0; i < 256; i++) planes.at[0][i] = (uint8_t)i;
    sw_label_task task = { .planes = &planes, .n_labels = 3, .n_levels = 4, .cap_sq = 1e9, .mixed_sq = 1.0 };
    task.colour[0].at[0] = 200.0;
    task.colour[1].at[0] = 10.0;
    task.colour[2].at[0] = 101.0;
    assert_int_equal(sw_labels_make(&task, label, NULL), SW_OK);
    for (size_t i = 0; i < 256; i++) assert_int_equal(label[i], i <= 55 ? 1 : i <= 150 ? 2 : 0);
    sw_planes_free(&planes);
}

/* ---- marks ----------------------------------------------------------------------------------------------------- */

static void marks_are_pure_colours_and_nothing_else(void **state)
{
    (void)state;
    static const struct {
        sw_rgb8 colour;
        uint8_t mark;
    } cases[] = { { { 0, 255, 0 }, SW_MARK_DETAIL },   { { 255, 0, 0 }, SW_MARK_NO_BRIDGE },
                  { { 0, 0, 255 }, SW_MARK_BRIDGE },   { { 255, 255, 255 }, 0 },
                  { { 0, 0, 0 }, 0 },                  { { 128, 255, 128 }, 0 }, /* half a brush edge over white */
                  { { 40, 230, 30 }, SW_MARK_DETAIL }, { { 255, 255, 0 }, 0 },
                  { { 120, 90, 60 }, 0 },              { { 250, 60, 70 }, SW_MARK_NO_BRIDGE } };
    for (size_t i = 0; i < SW_ARRAY_LEN(cases); i++) {
        sw_picture painted = { 0 };
        sw_marks marks = { 0 };
        const sw_grid grid = { 9, 6, 1.0 };
        assert_int_equal(sw_picture_make(3, 2, cases[i].colour, &painted, NULL), SW_OK);
        assert_int_equal(sw_marks_from_picture(&painted, &grid, &marks, NULL), SW_OK);
        for (size_t k = 0; k < 54; k++) assert_int_equal(marks.at[k], cases[i].mark);
        sw_marks_free(&marks);
        sw_picture_free(&painted);
    }
}

static void marks_fall_on_the_pixels_they_cover(void **state)
{
    (void)state;
    sw_picture painted = { 0 };
    sw_marks marks = { 0 };
    const sw_grid grid = { 8, 4, 1.0 };
    assert_int_equal(sw_picture_make(4, 2, (sw_rgb8){ 255, 255, 255 }, &painted, NULL), SW_OK);
    painted.at[1] = (sw_rgb8){ 0, 255, 0 };
    painted.at[7] = (sw_rgb8){ 255, 0, 0 };
    assert_int_equal(sw_marks_from_picture(&painted, &grid, &marks, NULL), SW_OK);
    static const uint8_t want[] = { 0, 0, 1, 1, 0, 0, 0, 0, 0, 0, 1, 1, 0, 0, 0, 0,
                                    0, 0, 0, 0, 0, 0, 2, 2, 0, 0, 0, 0, 0, 0, 2, 2 };
    assert_memory_equal(marks.at, want, sizeof want);
    sw_marks_free(&marks);
    sw_picture_free(&painted);
}

static void marks_of_another_shape_are_refused(void **state)
{
    (void)state;
    sw_picture painted = { 0 };
    sw_marks marks = { 0 };
    sw_note note = { 0 };
    const sw_grid grid = { 400, 300, 1.0 };
    assert_int_equal(sw_picture_make(300, 400, (sw_rgb8){ 255, 255, 255 }, &painted, NULL), SW_OK);
    assert_int_equal(sw_marks_from_picture(&painted, &grid, &marks, &note), SW_BAD_FILE);
    assert_non_null(strstr(note.text, "shape"));
    assert_null(marks.at);
    sw_picture_free(&painted);
    assert_int_equal(sw_marks_read("/nowhere/marks.png", &grid, &marks, NULL), SW_BAD_FILE);
}

/* ---- paints ---------------------------------------------------------------------------------------------------- */

static sw_status paints_from(const char *text, sw_paints *out, sw_note *note)
{
    return sw_paints_read_memory((const uint8_t *)text, strlen(text), "paints.csv", out, note);
}

static void a_list_of_paints_is_read(void **state)
{
    (void)state;
    sw_paints paints = { 0 };
    sw_note note = { 0 };
    assert_ok(paints_from("\xef\xbb\xbfname,colour,m2\r\nHarbour blue,#204080,2.5\r\n\r\n \"Red, \"\"fast\"\"\" , #c02010 \n"
                          "white,#fff,",
                          &paints, &note),
              note);
    assert_int_equal(paints.n, 3);
    assert_string_equal(paints.at[0].name, "Harbour blue");
    assert_int_equal(paints.at[0].colour.b, 0x80);
    assert_true(paints.at[0].coverage_m2 == 2.5);
    assert_string_equal(paints.at[1].name, "Red, \"fast\"");
    assert_int_equal(paints.at[1].colour.r, 0xc0);
    assert_true(paints.at[1].coverage_m2 == 0.0);
    assert_int_equal(paints.at[2].colour.g, 0xff);
    sw_paints_free(&paints);
}

static void a_bad_line_of_paints_is_named(void **state)
{
    (void)state;
    static const struct {
        const char *text, *says;
    } cases[] = { { "", "no paint" },
                  { "name,colour\n", "no paint" },
                  { "a,#102030\nb\n", "line 2" },
                  { "a,#102030\nb,green\n", "line 2" },
                  { "a,#10203", "line 1" },
                  { "a,#102030,0", "line 1" },
                  { "a,#102030,-2", "line 1" },
                  { "a,#102030,nan", "line 1" },
                  { "a,#102030,2,3", "line 1" },
                  { "\"a,#102030", "line 1" },
                  { "\"a\"b,#102030", "line 1" },
                  { "a,#102030\n0123456789012345678901234567890123456789012345678901234567890123,#102030", "line 2" } };
    for (size_t i = 0; i < SW_ARRAY_LEN(cases); i++) {
        sw_paints paints = { 0 };
        sw_note note = { 0 };
        assert_int_equal(paints_from(cases[i].text, &paints, &note), SW_BAD_FILE);
        if (strstr(note.text, cases[i].says) == NULL) fail_msg("'%s' gave: %s", cases[i].text, note.text);
        assert_null(paints.at);
    }
    sw_paints paints = { 0 };
    assert_int_equal(sw_paints_read_memory(NULL, 0, "x", &paints, NULL), SW_BAD_FILE);
    assert_int_equal(sw_paints_read("/nowhere/paints.csv", &paints, NULL), SW_BAD_FILE);
}

static void more_paints_than_anyone_owns_are_refused(void **state)
{
    (void)state;
    sw_text text = { 0 };
    for (size_t i = 0; i < SW_MAX_PAINTS + 1; i++) sw_text_add(&text, "a,#123456\n");
    sw_paints paints = { 0 };
    assert_int_equal(paints_from(text.data, &paints, NULL), SW_BAD_FILE);
    text.data[SW_MAX_PAINTS * 10] = '\0';
    assert_int_equal(paints_from(text.data, &paints, NULL), SW_OK);
    assert_int_equal(paints.n, SW_MAX_PAINTS);
    sw_paints_free(&paints);
    sw_text_free(&text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tone_cuts_cost_no_more_than_any_others),
        cmocka_unit_test(few_tones_make_few_clusters),
        cmocka_unit_test(a_fixed_centre_stays_and_the_others_fit_around_it),
        cmocka_unit_test(as_many_paints_as_help_are_picked),
        cmocka_unit_test(the_energy_never_rises),
        cmocka_unit_test(a_tile_is_blurred_as_by_hand_and_cropped_to_where_labels_meet),
        cmocka_unit_test(in_a_soft_slope_the_boundary_follows_the_level_line),
        cmocka_unit_test(a_lone_speck_goes_where_the_same_as_part_of_something_stays),
        cmocka_unit_test(a_speck_on_an_edge_goes_where_nothing_of_its_colour_is_near),
        cmocka_unit_test(least_and_most_of_long_fields_are_as_by_hand),
        cmocka_unit_test(without_lambda_each_pixel_has_its_nearest_colour),
        cmocka_unit_test(marks_are_pure_colours_and_nothing_else),
        cmocka_unit_test(marks_fall_on_the_pixels_they_cover),
        cmocka_unit_test(marks_of_another_shape_are_refused),
        cmocka_unit_test(a_list_of_paints_is_read),
        cmocka_unit_test(a_bad_line_of_paints_is_named),
        cmocka_unit_test(more_paints_than_anyone_owns_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
