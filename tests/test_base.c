/* Base: notes, memory, numbers, text, rows in parallel. */
#include "support.h"
#include <math.h>
#include <pthread.h>
#include <stdatomic.h>
#include <sys/wait.h>
#include <unistd.h>

static void every_status_has_a_text_and_a_class(void **state)
{
    (void)state;
    for (int i = -1; i <= SW_STATUS_END + 1; i++) {
        assert_non_null(sw_status_text((sw_status)i));
        assert_in_range(sw_status_exit((sw_status)i), 0, 3);
    }
    assert_int_equal(sw_status_exit(SW_OK), 0);
    assert_int_equal(sw_status_exit(SW_CANNOT_HOLD), 1);
}

static void the_first_note_stays_and_is_one_line(void **state)
{
    (void)state;
    sw_note note = { 0 };
    assert_int_equal(sw_fail(&note, SW_IO, "a\nb"), SW_IO);
    assert_int_equal(sw_fail(&note, SW_BAD_FILE, "second"), SW_BAD_FILE);
    assert_string_equal(note.text, "a?b");
    assert_int_equal(sw_fail(NULL, SW_IO, "x"), SW_IO);
}

/* 600 two-byte letters, from an even and from an odd place: the dots never stand in the middle of one. */
static void a_long_note_ends_in_dots_and_is_utf8(void **state)
{
    (void)state;
    char name[1201] = "";
    for (size_t i = 0; i < 1200; i += 2) memcpy(name + i, "\xc3\xa9", 2);
    for (int is_odd = 0; is_odd < 2; is_odd++) {
        sw_note note = { 0 };
        size_t n = 0;
        sw_fail(&note, SW_IO, "%s%s", is_odd != 0 ? "x" : "", name);
        for (const char *p = note.text; *p != '\0'; p += n) {
            n = sw_utf8_length(p);
            assert_true(n > 0);
        }
        assert_string_equal(note.text + strlen(note.text) - 3, "...");
    }
}

static void sizes_that_overflow_are_refused(void **state)
{
    (void)state;
    assert_null(sw_alloc_array(SIZE_MAX / 2, 3));
    assert_null(sw_alloc_raw(SIZE_MAX, 1));
    assert_null(sw_alloc_array(0, 4));
    void *data = NULL;
    size_t cap = 0;
    assert_false(sw_grow(&data, &cap, SIZE_MAX / 4, 8));
    assert_null(data);
}

static void the_quick_hypot_is_hypot_to_a_rounding(void **state)
{
    (void)state;
    uint64_t seed = 3;
    assert_true(sw_hypot(3.0, -4.0) == 5.0 && sw_hypot(0.0, 0.0) == 0.0);
    assert_true(isnan(sw_hypot(NAN, 1.0)));
    for (int k = 0; k < 10000; k++) {
        const double x = ((double)(test_random(&seed) % 2000001) - 1e6) * 0.2, y = ((double)(test_random(&seed) % 2000001) - 1e6) * 1e-7;
        assert_true(fabs(sw_hypot(x, y) - hypot(x, y)) <= 4e-16 * hypot(x, y));
    }
}

static void lengths_are_parsed_whole(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double mm;
    } good[] = { { "2100", 2100 }, { "2.1m", 2100 },     { "210cm", 2100 }, { "83in", 83 * 25.4 },
                 { "7ft", 2133.6 }, { "3 mm", 3 },        { ".5m", 500 },    { "1e3mm", 1000 } };
    for (size_t i = 0; i < SW_ARRAY_LEN(good); i++) {
        double mm = -1;
        assert_int_equal(sw_length_parse(good[i].text, "--width", false, &mm, NULL), SW_OK);
        assert_true(fabs(mm - good[i].mm) < 1e-9);
    }
    static const char *bad[] = { "",   "0",  "-5mm", "nan", "inf",  "2 parsecs", "1e999", "mm",
                                 "3m3", "0x10", "--3", "1,5m", "201m", "1e", "9e-999" };
    for (size_t i = 0; i < SW_ARRAY_LEN(bad); i++) {
        double mm = -1;
        sw_note note = { 0 };
        assert_int_equal(sw_length_parse(bad[i], "--width", false, &mm, &note), SW_BAD_LENGTH);
        assert_true(mm == -1);
        assert_non_null(strstr(note.text, "--width"));
    }
}

static void numbers_are_written_without_locale(void **state)
{
    (void)state;
    static const struct {
        double value;
        int decimals;
        const char *text;
    } cases[] = { { 1.5, 3, "1.5" },      { -0.0001, 3, "0" }, { 2.0, 3, "2" },          { 0.0625, 3, "0.062" },
                  { -12.3456, 3, "-12.346" }, { NAN, 2, "0" },  { 1e6, 0, "1000000" },
                  { 12345678901.5, 9, "12345678901.5" }, { 9007199254740992.0, 9, "9007199254740992" }, { 0.001, 3, "0.001" } };
    for (size_t i = 0; i < SW_ARRAY_LEN(cases); i++) {
        sw_text text = { 0 };
        sw_text_add_number(&text, cases[i].value, cases[i].decimals);
        assert_string_equal(text.data, cases[i].text);
        sw_text_free(&text);
    }
}

static void json_and_xml_text_is_escaped(void **state)
{
    (void)state;
    sw_text text = { 0 };
    sw_text_add_json(&text, "a\"\\\n\xff\xc3\xa9");
    assert_string_equal(text.data, "\"a\\\"\\\\\\u000a\xef\xbf\xbd\xc3\xa9\"");
    sw_text_free(&text);
    sw_text_add_xml(&text, "\xef\xbf\xbf|\xef\xbf\xbe|\xef\xbf\xbd|\xf0\x9f\x90\xa6"); /* two that are UTF-8 and not XML */
    assert_string_equal(text.data, "\xef\xbf\xbd|\xef\xbf\xbd|\xef\xbf\xbd|\xf0\x9f\x90\xa6");
    sw_text_free(&text);
    sw_text_add_xml(&text, "<a&\x01\xed\xa0\x80");
    assert_string_equal(text.data, "&lt;a&amp;\xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd");
    sw_text_free(&text);
}

static void colours_are_parsed_whole(void **state)
{
    (void)state;
    sw_rgb8 c = { 0 };
    assert_true(sw_rgb8_parse("#1a2B3c", &c));
    assert_int_equal(c.r, 0x1a);
    assert_int_equal(c.g, 0x2b);
    assert_int_equal(c.b, 0x3c);
    assert_true(sw_rgb8_parse("#f80", &c));
    assert_int_equal(c.g, 0x88);
    assert_false(sw_rgb8_parse("1a2b3c", &c));
    assert_false(sw_rgb8_parse("#1a2b3", &c));
    assert_false(sw_rgb8_parse("#1a2b3g", &c));
}

static void count_rows(size_t begin, size_t end, void *ctx)
{
    uint8_t *seen = ctx;
    for (size_t row = begin; row < end; row++) seen[row]++;
}

static void every_row_is_done_once(void **state)
{
    (void)state;
    static const size_t sizes[] = { 0, 1, 2, 127, 200, 6401 };
    static uint8_t seen[6401];
    for (int threads = 1; threads <= 7; threads += 3) {
        sw_threads_set(threads);
        for (size_t i = 0; i < SW_ARRAY_LEN(sizes); i++) {
            memset(seen, 0, sizeof seen);
            sw_parallel_rows(sizes[i], count_rows, seen);
            for (size_t row = 0; row < sizeof seen; row++) assert_int_equal(seen[row], row < sizes[i]);
        }
    }
    sw_threads_set(0);
}

typedef struct nest {
    uint8_t seen[40][50];
    atomic_int n_inside, most_inside;
} nest;

typedef struct nest_row {
    nest *of;
    size_t row;
} nest_row;

static void count_inner(size_t begin, size_t end, void *ctx)
{
    const nest_row *const at = ctx;
    const int n = atomic_fetch_add(&at->of->n_inside, 1) + 1;
    int most = atomic_load(&at->of->most_inside);
    while (n > most && !atomic_compare_exchange_weak(&at->of->most_inside, &most, n)) continue;
    for (size_t i = begin; i < end; i++) at->of->seen[at->row][i]++;
    atomic_fetch_sub(&at->of->n_inside, 1);
}

static void count_outer(size_t begin, size_t end, void *ctx)
{
    for (size_t row = begin; row < end; row++) sw_parallel_rows(50, count_inner, &(nest_row){ ctx, row });
}

static void nested_rows_are_done_once_by_no_more_threads_than_asked(void **state)
{
    (void)state;
    for (int threads = 1; threads <= 5; threads += 2)
        for (size_t n = 1; n <= 40; n += 13) {
            nest all = { 0 };
            sw_threads_set(threads);
            sw_parallel_bands(n, 1, count_outer, &all);
            for (size_t i = 0; i < 40 * 50; i++) assert_int_equal(all.seen[i / 50][i % 50], i / 50 < n);
            assert_in_range(atomic_load(&all.most_inside), 1, threads);
        }
    sw_threads_set(0);
}

static void *call_often(void *ctx)
{
    uint8_t *const seen = ctx;
    for (int k = 0; k < 200; k++) {
        memset(seen, 0, 300);
        sw_parallel_bands(300, 7, count_rows, seen);
        for (size_t row = 0; row < 300; row++)
            if (seen[row] != 1) return NULL;
    }
    return ctx;
}

static void two_callers_at_once_get_their_own_rows(void **state)
{
    (void)state;
    static uint8_t seen[2][300];
    pthread_t other;
    void *is_good = NULL;
    sw_threads_set(3);
    assert_int_equal(pthread_create(&other, NULL, call_often, seen[0]), 0);
    assert_non_null(call_often(seen[1]));
    pthread_join(other, &is_good);
    assert_non_null(is_good);
    sw_threads_set(0);
}

static void a_process_that_split_works_on_both_sides(void **state)
{
    (void)state;
    static uint8_t seen[300];
    assert_non_null(call_often(seen)); /* helpers are about */
    const pid_t child = fork();
    if (child == 0) _exit(call_often(seen) != NULL ? 0 : 1);
    assert_non_null(call_often(seen));
    int status = -1;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(status, 0);
}

static void json_has_commas_where_they_belong(void **state)
{
    (void)state;
    sw_text out = { 0 };
    sw_text_add(&out, "{");
    sw_json_string(&out, "a", "\"[");
    sw_json_field(&out, "list");
    sw_text_add(&out, "[");
    for (size_t i = 0; i < 2; i++) {
        sw_json_element(&out);
        sw_text_add(&out, "{");
        sw_json_count(&out, "n", i);
        sw_json_bool(&out, "is", i > 0);
        sw_text_add(&out, "}");
    }
    sw_text_add(&out, "]");
    sw_json_point(&out, "at", (sw_pt_mm){ 1.0, -0.25 });
    sw_json_colour(&out, "c", (sw_rgb8){ 1, 2, 255 });
    sw_json_number(&out, "v", 0.12345);
    sw_text_add(&out, "}");
    assert_string_equal(out.data, "{\"a\":\"\\\"[\",\"list\":[\n{\"n\":0,\"is\":false},\n{\"n\":1,\"is\":true}],\"at\":[1,-0.25],"
                                  "\"c\":\"#0102ff\",\"v\":0.123}");
    sw_text_free(&out);
}

static sw_status fail_some(size_t task, void *ctx, sw_note *note)
{
    const size_t *const first = ctx;
    if (task < *first || task % 3 != *first % 3) return SW_OK;
    return sw_fail(note, task == *first ? SW_CANNOT_HOLD : SW_IO, "task %zu", task);
}

static void the_first_task_that_fails_is_told_whatever_the_threads(void **state)
{
    (void)state;
    for (int n_threads = 1; n_threads <= 7; n_threads += 3) {
        sw_threads_set(n_threads);
        for (size_t first = 0; first < 60; first++) {
            sw_note note = { 0 };
            size_t at = first;
            char wanted[32];
            snprintf(wanted, sizeof wanted, "task %zu", first);
            assert_int_equal(sw_parallel_tasks(50, fail_some, &at, &note), first < 50 ? SW_CANNOT_HOLD : SW_OK);
            assert_string_equal(note.text, first < 50 ? wanted : "");
            assert_int_equal(sw_parallel_tasks(50, fail_some, &at, NULL), first < 50 ? SW_CANNOT_HOLD : SW_OK);
        }
    }
    sw_threads_set(0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_status_has_a_text_and_a_class),
        cmocka_unit_test(the_first_note_stays_and_is_one_line),
        cmocka_unit_test(a_long_note_ends_in_dots_and_is_utf8),
        cmocka_unit_test(sizes_that_overflow_are_refused),
        cmocka_unit_test(the_quick_hypot_is_hypot_to_a_rounding),
        cmocka_unit_test(lengths_are_parsed_whole),
        cmocka_unit_test(numbers_are_written_without_locale),
        cmocka_unit_test(json_and_xml_text_is_escaped),
        cmocka_unit_test(colours_are_parsed_whole),
        cmocka_unit_test(every_row_is_done_once),
        cmocka_unit_test(nested_rows_are_done_once_by_no_more_threads_than_asked),
        cmocka_unit_test(two_callers_at_once_get_their_own_rows),
        cmocka_unit_test(a_process_that_split_works_on_both_sides),
        cmocka_unit_test(json_has_commas_where_they_belong),
        cmocka_unit_test(the_first_task_that_fails_is_told_whatever_the_threads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
