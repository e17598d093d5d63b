/* Reading a whole file into memory, with a limit that holds before the first allocation grows past it. */
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "base/base.h"

#define FIRST_BYTES 65536u

static sw_status read_stream(FILE *stream, const char *name, size_t max_bytes, sw_text *got, sw_note *note)
{
    for (;;) {
        void *data = got->data;
        if (!sw_grow(&data, &got->cap, got->size + FIRST_BYTES, 1)) return sw_fail_memory(note, name);
        got->data = data;
        const size_t n = fread(got->data + got->size, 1, got->cap - got->size, stream);
        got->size += n;
        if (sw_is_interrupted()) return sw_fail(note, SW_INTERRUPTED, "interrupted while '%s' was read", name);
        if (got->size > max_bytes)
            return sw_fail(note, SW_TOO_LARGE, "'%s' is larger than %zu MB; give a smaller file", name,
                           max_bytes / 1000000u);
        if (n > 0) continue;
        if (ferror(stream))
            return sw_fail(note, SW_IO, "'%s' cannot be read (%s)", name, strerror(errno));
        return SW_OK;
    }
}

const char *sw_path_shown(const char *path) { return strcmp(path, "-") == 0 ? "standard input" : path; }

sw_status sw_file_read(const char *path, size_t max_bytes, uint8_t **out, size_t *n, sw_note *note)
{
    sw_text got = { 0 };
    sw_status st = SW_BAD_FILE;
    const bool is_stdin = strcmp(path, "-") == 0;
    FILE *const stream = is_stdin ? stdin : fopen(path, "rb");
    struct stat info;
    if (stream == NULL) {
        sw_fail(note, SW_BAD_FILE, "'%s' cannot be opened (%s); check the name and its permissions", path,
                strerror(errno));
        goto cleanup;
    }
    if (fstat(fileno(stream), &info) == 0 && S_ISDIR(info.st_mode)) {
        sw_fail(note, SW_BAD_FILE, "'%s' is a folder; name a file in it", path);
        goto cleanup;
    }
    st = read_stream(stream, sw_path_shown(path), max_bytes, &got, note);
    if (st != SW_OK) goto cleanup;
    if (got.size == 0) sw_text_free(&got);
    *out = (uint8_t *)got.data;
    *n = got.size;
    got = (sw_text){ 0 };
cleanup:
    sw_text_free(&got);
    if (stream != NULL && !is_stdin) fclose(stream);
    return st;
}
