/*
 * A fuzz target as a plain program: every file named, and every file in every folder named, goes through
 * LLVMFuzzerTestOneInput once. Include this last in a fuzz target; it does nothing unless SW_REPLAY is defined.
 *
 *     to fuzz:    clang -fsanitize=fuzzer,address,undefined ... tests/fuzz/fuzz_NAME.c
 *     to replay:  cc -DSW_REPLAY ... tests/fuzz/fuzz_NAME.c, then run it on tests/fuzz/corpus/NAME
 */
#ifndef SW_FUZZ_REPLAY_H
#define SW_FUZZ_REPLAY_H

#include <stddef.h>
#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);

#ifdef SW_REPLAY
#include <dirent.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"

static size_t n_replayed;

static int replay_file(const char *path)
{
    uint8_t *bytes = NULL;
    size_t n = 0;
    sw_note note = { { 0 } };
    if (sw_file_read(path, 100000000u, &bytes, &n, &note) != SW_OK) {
        fprintf(stderr, "%s\n", note.text);
        return 2;
    }
    (void)LLVMFuzzerTestOneInput(bytes, n);
    sw_free(bytes);
    n_replayed++;
    return 0;
}

static int replay_folder(DIR *folder, const char *path)
{
    int worst = 0;
    for (const struct dirent *entry = readdir(folder); entry != NULL; entry = readdir(folder)) {
        sw_text file = { 0 };
        if (entry->d_name[0] == '.') continue;
        sw_text_addf(&file, "%s/%s", path, entry->d_name);
        const int one = file.is_broken ? 3 : replay_file(file.data);
        worst = one > worst ? one : worst;
        sw_text_free(&file);
    }
    return worst;
}

int main(int argc, char **argv)
{
    int worst = 0;
    for (int i = 1; i < argc; i++) {
        DIR *const folder = opendir(argv[i]);
        const int one = folder == NULL ? replay_file(argv[i]) : replay_folder(folder, argv[i]);
        worst = one > worst ? one : worst;
        if (folder != NULL) closedir(folder);
    }
    printf("%s: %zu inputs\n", strrchr(argv[0], '/') == NULL ? argv[0] : strrchr(argv[0], '/') + 1, n_replayed);
    return n_replayed == 0 ? 2 : worst;
}
#endif

#endif
