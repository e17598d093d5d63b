#define _DEFAULT_SOURCE /* mkdtemp, symlink */
/* The job folder and single files: whole or not at all, and nothing destroyed that a job did not write. */
#include "support.h"
#include "write/files.h"

#include <dirent.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

static char root[256];

static int make_root(void **state)
{
    (void)state;
    const char *const tmp = getenv("TMPDIR");
    snprintf(root, sizeof root, "%s/folder-test-XXXXXX", tmp == NULL ? "/tmp" : tmp);
    return mkdtemp(root) == NULL;
}

static int remove_root(void **state)
{
    (void)state;
    char command[600];
    snprintf(command, sizeof command, "chmod -R u+w '%s' && rm -r '%s'", root, root);
    return system(command);
}

static const char *under(const char *name)
{
    static char path[4][1024];
    static int which;
    which = (which + 1) % 4;
    snprintf(path[which], sizeof path[which], "%s/%s", root, name);
    return path[which];
}

static bool exists(const char *name)
{
    struct stat info;
    return lstat(under(name), &info) == 0;
}

static bool holds(const char *name, const char *text)
{
    uint8_t *bytes = NULL;
    size_t n = 0;
    if (sw_file_read(under(name), 1000000, &bytes, &n, NULL) != SW_OK) return false;
    const bool is_same = n == strlen(text) && (n == 0 || memcmp(bytes, text, n) == 0);
    sw_free(bytes);
    return is_same;
}

static void put_file(const char *name, const char *text)
{
    FILE *const f = fopen(under(name), "w");
    assert_non_null(f);
    fputs(text, f);
    assert_int_equal(fclose(f), 0);
}

/* Entries in the folder, dots left out. */
static size_t n_entries(const char *name)
{
    DIR *const dir = opendir(under(name));
    size_t n = 0;
    assert_non_null(dir);
    for (const struct dirent *e; (e = readdir(dir)) != NULL;) n += strcmp(e->d_name, ".") && strcmp(e->d_name, "..");
    closedir(dir);
    return n;
}

static sw_status write_job(const char *path, bool is_replace, const char *text, sw_note *note)
{
    sw_folder *folder = NULL;
    sw_status st = sw_folder_begin(path, is_replace, &folder, note);
    if (st == SW_OK) st = sw_folder_write(folder, "cut/pass-1.svg", text, strlen(text), note);
    if (st == SW_OK) st = sw_folder_write(folder, "layers.svg", "", 0, note);
    if (st == SW_OK) st = sw_folder_write(folder, "job.json", text, strlen(text), note);
    if (st == SW_OK) st = sw_folder_finish(folder, note);
    sw_folder_free(folder);
    return st;
}

static void a_new_job_appears_whole(void **state)
{
    (void)state;
    sw_note note = { 0 };
    assert_int_equal(sw_folder_check(under("new"), false, &note), SW_OK);
    assert_ok(write_job(under("new"), false, "one", &note), note);
    assert_true(holds("new/cut/pass-1.svg", "one") && holds("new/layers.svg", "") && holds("new/job.json", "one"));
    assert_int_equal(n_entries("new"), 3);
    struct stat info;
    const mode_t mask = umask(022);
    umask(mask);
    assert_int_equal(stat(under("new"), &info), 0);
    assert_int_equal(info.st_mode & 0777, 0777 & ~mask);
    assert_int_equal(stat(under("new/job.json"), &info), 0);
    assert_int_equal(info.st_mode & 0777, 0666 & ~mask);
}

static void nothing_is_there_before_it_is_finished(void **state)
{
    (void)state;
    sw_folder *folder = NULL;
    const size_t before = n_entries("");
    assert_int_equal(sw_folder_begin(under("half"), false, &folder, NULL), SW_OK);
    assert_int_equal(sw_folder_write(folder, "cut/pass-1.svg", "x", 1, NULL), SW_OK);
    assert_false(exists("half"));
    sw_folder_free(folder);
    assert_int_equal(n_entries(""), before);
    sw_folder_free(NULL);
}

static void a_job_is_replaced_only_when_asked(void **state)
{
    (void)state;
    sw_note note = { 0 };
    assert_ok(write_job(under("twice"), false, "old", &note), note);
    const size_t before = n_entries("");
    assert_int_equal(write_job(under("twice"), false, "new", &note), SW_EXISTS);
    assert_int_equal(sw_folder_check(under("twice"), false, NULL), SW_EXISTS);
    assert_non_null(strstr(note.text, "already there"));
    assert_true(holds("twice/job.json", "old"));
    put_file("twice/cut/pass-7-panel-C2.svg", "stale");
    put_file("twice/cut/all.pdf", "stale");
    put_file("twice/job.options", "stale");
    note = (sw_note){ 0 };
    assert_ok(write_job(under("twice/"), true, "new", &note), note);
    assert_true(holds("twice/job.json", "new"));
    assert_int_equal(n_entries("twice"), 3);
    assert_int_equal(n_entries("twice/cut"), 1);
    assert_int_equal(n_entries(""), before);
}

static void what_is_no_job_folder_is_never_replaced(void **state)
{
    (void)state;
    assert_int_equal(mkdir(under("photos"), 0777), 0);
    put_file("photos/heron.jpg", "bytes");
    put_file("plain", "text");
    assert_int_equal(mkdir(under("empty"), 0777), 0);
    assert_int_equal(symlink("nowhere", under("dangling")), 0);
    static const char *const names[] = { "photos", "plain", "empty", "dangling" };
    const size_t before = n_entries("");
    for (size_t i = 0; i < SW_ARRAY_LEN(names); i++) {
        sw_note note = { 0 };
        assert_int_equal(write_job(under(names[i]), true, "x", &note), SW_EXISTS);
        assert_non_null(strstr(note.text, "no job folder"));
    }
    assert_true(holds("photos/heron.jpg", "bytes") && holds("plain", "text"));
    assert_int_equal(n_entries(""), before);
}

static void a_job_folder_with_something_of_the_users_is_not_replaced(void **state)
{
    (void)state;
    sw_note note = { 0 };
    /* what job.json speaks of is no leave to delete it: a copy of the picture, a word that happens to be a key */
    static const char *const theirs[] = { "mixed/cut/notes.txt", "mixed/heron.png", "mixed/picture", "mixed/picture.png",
                                          "mixed/layers.pdf", "mixed/cut/pass-1-old.svg", "mixed/cut/pass-1.svg.bak" };
    assert_ok(write_job(under("mixed"), false, "{\"picture\":\"heron.png\"}", &note), note);
    for (size_t i = 0; i < SW_ARRAY_LEN(theirs); i++) {
        note = (sw_note){ 0 };
        put_file(theirs[i], "mine");
        assert_int_equal(write_job(under("mixed"), true, "new", &note), SW_EXISTS);
        assert_non_null(strstr(note.text, theirs[i] + strlen("mixed/")));
        assert_true(holds(theirs[i], "mine"));
        assert_int_equal(unlink(under(theirs[i])), 0);
    }
    assert_int_equal(mkdir(under("mixed/sketches"), 0777), 0);
    note = (sw_note){ 0 };
    assert_int_equal(write_job(under("mixed"), true, "new", &note), SW_EXISTS);
    assert_non_null(strstr(note.text, "sketches"));
    assert_int_equal(rmdir(under("mixed/sketches")), 0);
    assert_int_equal(write_job(under("mixed"), true, "new", NULL), SW_OK);
    assert_true(holds("mixed/job.json", "new"));
}

static void something_put_there_while_a_job_ran_is_kept(void **state)
{
    (void)state;
    sw_folder *folder = NULL;
    sw_note note = { 0 };
    assert_int_equal(sw_folder_begin(under("race"), false, &folder, NULL), SW_OK);
    assert_int_equal(sw_folder_write(folder, "job.json", "x", 1, NULL), SW_OK);
    assert_int_equal(mkdir(under("race"), 0777), 0);
    assert_int_equal(sw_folder_finish(folder, &note), SW_EXISTS);
    sw_folder_free(folder);
    assert_int_equal(n_entries("race"), 0);
}

static void odd_names_are_fine_and_impossible_ones_are_told(void **state)
{
    (void)state;
    char name[300];
    static const char *const odd[] = { " leading", "new\nline", "\xff\xfe", "quo\"te'", "%s%n", "-rf", "*" };
    for (size_t i = 0; i < SW_ARRAY_LEN(odd); i++) {
        assert_int_equal(write_job(under(odd[i]), false, "a", NULL), SW_OK);
        assert_int_equal(write_job(under(odd[i]), true, "b", NULL), SW_OK);
        assert_int_equal(n_entries(odd[i]), 3);
    }
    memset(name, 'n', sizeof name);
    name[255] = '\0';
    assert_int_equal(write_job(under(name), false, "a", NULL), SW_OK);
    assert_int_equal(write_job(under(name), true, "b", NULL), SW_OK);
    name[255] = 'n';
    name[256] = '\0';
    sw_note note = { 0 };
    assert_int_equal(write_job(under(name), false, "a", &note), SW_BAD_USAGE);
    assert_non_null(strstr(note.text, "too long"));
    assert_int_equal(write_job("", false, "a", NULL), SW_BAD_USAGE);
    assert_int_equal(write_job("/", true, "a", NULL), SW_BAD_USAGE);
    assert_int_equal(write_job(under("no/such/place"), false, "a", NULL), SW_BAD_USAGE);
}

static void a_name_that_leads_out_of_the_folder_is_refused(void **state)
{
    (void)state;
    static const char *const bad[] = { "", "/x", "../x", "a/../x", "a/b/c", "a/", ".hidden", "a/.x", "." };
    sw_folder *folder = NULL;
    assert_int_equal(sw_folder_begin(under("inner"), false, &folder, NULL), SW_OK);
    for (size_t i = 0; i < SW_ARRAY_LEN(bad); i++)
        assert_int_equal(sw_folder_write(folder, bad[i], "x", 1, NULL), SW_IO);
    sw_folder_free(folder);
}

static void a_linked_job_folder_is_replaced_behind_its_link(void **state)
{
    (void)state;
    assert_int_equal(write_job(under("real"), false, "old", NULL), SW_OK);
    assert_int_equal(symlink("real", under("link")), 0);
    assert_int_equal(write_job(under("link"), true, "new", NULL), SW_OK);
    assert_true(holds("real/job.json", "new") && holds("link/job.json", "new"));
}

static sw_status write_numbered(size_t number, void *ctx, sw_note *note)
{
    char name[40];
    snprintf(name, sizeof name, number % 2 == 0 ? "cut/pass-%zu.svg" : "pass-%zu", number);
    return sw_folder_write(ctx, name, name, strlen(name), note);
}

static void files_written_side_by_side_are_all_there(void **state)
{
    (void)state;
    sw_folder *folder = NULL;
    sw_note note = { 0 };
    sw_threads_set(7);
    assert_int_equal(sw_folder_begin(under("many"), false, &folder, &note), SW_OK);
    assert_int_equal(sw_parallel_tasks(90, write_numbered, folder, &note), SW_OK);
    assert_int_equal(sw_folder_finish(folder, &note), SW_OK);
    sw_folder_free(folder);
    sw_threads_set(0);
    assert_int_equal(n_entries("many"), 46);
    assert_int_equal(n_entries("many/cut"), 45);
    assert_true(holds("many/cut/pass-88.svg", "cut/pass-88.svg") && holds("many/pass-89", "pass-89"));
}

/* Fail every system call in turn: the old job stays or the new one is there, whole; nothing else is left. */
static void every_failed_write_leaves_the_old_job_and_no_half_one(void **state)
{
    (void)state;
    for (int round = 0; round < 2; round++) {
        const char *const name = round == 0 ? "fresh" : "kept";
        if (round == 1) assert_int_equal(write_job(under(name), false, "old", NULL), SW_OK);
        const size_t before = n_entries(""), live = sw_alloc_fail_at(0);
        sw_status st = SW_IO;
        size_t nth = 0;
        while (st != SW_OK) {
            sw_note note = { 0 };
            sw_write_fail_at(++nth);
            st = write_job(under(name), round == 1, "new", &note);
            sw_write_fail_at(0);
            if (st == SW_OK) break;
            assert_int_equal(st, SW_IO);
            assert_non_null(strstr(note.text, "No space left"));
            assert_int_equal(n_entries(""), before);
            if (round == 1) assert_true(holds("kept/job.json", "old") && holds("kept/cut/pass-1.svg", "old"));
            assert_int_equal(sw_alloc_fail_at(0), live);
        }
        assert_true(nth > 14);
        assert_true(holds(round == 0 ? "fresh/job.json" : "kept/job.json", "new"));
        assert_int_equal(n_entries(""), before + (round == 0));
    }
}

static void every_failed_allocation_leaves_no_half_job(void **state)
{
    (void)state;
    const size_t before = n_entries(""), live = sw_alloc_fail_at(0);
    sw_status st = SW_NO_MEMORY;
    for (size_t nth = 1; st != SW_OK; nth++) {
        sw_alloc_fail_at(nth);
        st = write_job(under("thin"), false, "new", NULL);
        sw_alloc_fail_at(0);
        if (st == SW_OK) break;
        assert_int_equal(st, SW_NO_MEMORY);
        assert_int_equal(n_entries(""), before);
    }
    assert_int_equal(sw_alloc_fail_at(0), live);
}

static void an_exchange_without_the_systems_help_swaps_or_changes_nothing(void **state)
{
    (void)state;
    assert_int_equal(mkdir(under("swap"), 0777), 0);
    put_file("swap/one", "1");
    put_file("swap/two", "2");
    const int fd = open(under("swap"), O_RDONLY | O_DIRECTORY);
    for (size_t nth = 1; nth <= 2; nth++) {
        sw_write_fail_at(nth);
        assert_false(sw_rename_exchange_slow(fd, "one", "two"));
        sw_write_fail_at(0);
        assert_true(holds("swap/one", "1") && holds("swap/two", "2"));
        assert_int_equal(n_entries("swap"), 2);
    }
    assert_true(sw_rename_exchange_slow(fd, "one", "two"));
    assert_true(holds("swap/one", "2") && holds("swap/two", "1"));
    close(fd);
}

static void one_file_is_written_whole_or_not_at_all(void **state)
{
    (void)state;
    assert_int_equal(mkdir(under("files"), 0777), 0);
    for (size_t nth = 1;; nth++) {
        sw_write_fail_at(nth);
        const sw_status st = sw_file_write(under("files/a"), false, "first", 5, NULL);
        sw_write_fail_at(0);
        if (st == SW_OK) break;
        assert_int_equal(st, SW_IO);
        assert_int_equal(n_entries("files"), 0);
    }
    assert_true(holds("files/a", "first"));
    assert_int_equal(sw_file_write(under("files/a"), false, "second", 6, NULL), SW_EXISTS);
    for (size_t nth = 1;; nth++) {
        sw_write_fail_at(nth);
        const sw_status st = sw_file_write(under("files/a"), true, "third", 5, NULL);
        sw_write_fail_at(0);
        if (st == SW_OK) break;
        assert_true(holds("files/a", "first"));
        assert_int_equal(n_entries("files"), 1);
    }
    assert_true(holds("files/a", "third"));
    assert_int_equal(symlink("a", under("files/link")), 0);
    assert_int_equal(sw_file_write(under("files/link"), true, "4th", 3, NULL), SW_OK);
    assert_true(holds("files/a", "4th"));
    assert_int_equal(sw_file_write(under("files"), true, "x", 1, NULL), SW_EXISTS); /* a folder */
    assert_int_equal(sw_file_write("/dev/null", true, "x", 1, NULL), SW_EXISTS);
    assert_int_equal(sw_file_write(under("none/a"), true, "x", 1, NULL), SW_BAD_USAGE);
    assert_int_equal(sw_file_check(under("none/a"), true, NULL), SW_BAD_USAGE);
    assert_int_equal(sw_file_check(under("files"), true, NULL), SW_EXISTS);
    assert_int_equal(sw_file_check(under("files/a"), false, NULL), SW_EXISTS);
    assert_int_equal(sw_file_check(under("files/a"), true, NULL), SW_OK);
    assert_int_equal(sw_file_check(under("files/new"), false, NULL), SW_OK);
    assert_false(holds("files/new", ""));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_new_job_appears_whole),
        cmocka_unit_test(files_written_side_by_side_are_all_there),
        cmocka_unit_test(nothing_is_there_before_it_is_finished),
        cmocka_unit_test(a_job_is_replaced_only_when_asked),
        cmocka_unit_test(what_is_no_job_folder_is_never_replaced),
        cmocka_unit_test(a_job_folder_with_something_of_the_users_is_not_replaced),
        cmocka_unit_test(something_put_there_while_a_job_ran_is_kept),
        cmocka_unit_test(odd_names_are_fine_and_impossible_ones_are_told),
        cmocka_unit_test(a_name_that_leads_out_of_the_folder_is_refused),
        cmocka_unit_test(a_linked_job_folder_is_replaced_behind_its_link),
        cmocka_unit_test(every_failed_write_leaves_the_old_job_and_no_half_one),
        cmocka_unit_test(every_failed_allocation_leaves_no_half_job),
        cmocka_unit_test(an_exchange_without_the_systems_help_swaps_or_changes_nothing),
        cmocka_unit_test(one_file_is_written_whole_or_not_at_all),
    };
    return cmocka_run_group_tests(tests, make_root, remove_root);
}
