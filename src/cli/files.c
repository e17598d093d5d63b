/* Operands that are files or folders: a folder stands for the pictures and drawings in it, in order of their names. */
#include "cli/cli.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#define MOST_FILES 100000u

static sw_status add(sw_cli_files *files, const char *folder, const char *name, sw_note *note)
{
    void *data = files->at;
    const size_t n_folder = folder == NULL ? 0 : strlen(folder), n_name = strlen(name);
    if (files->n >= MOST_FILES) return sw_fail(note, SW_TOO_LARGE, "more than %u files; name fewer", MOST_FILES);
    if (!sw_grow(&data, &files->cap, files->n + 1, sizeof *files->at)) return sw_fail_memory(note, "the list of files");
    files->at = data;
    char *const path = sw_alloc_array(n_folder + n_name + 2, 1);
    if (path == NULL) return sw_fail_memory(note, "the list of files");
    if (n_folder > 0) {
        memcpy(path, folder, n_folder); /* NOLINT: the name follows, and ends it */
        path[n_folder] = '/';
    }
    memcpy(path + n_folder + (n_folder > 0), name, n_name + 1);
    files->at[files->n++] = path;
    return SW_OK;
}

static bool is_picture_name(const char *name)
{
    static const char *const endings[] = { ".png", ".jpg", ".jpeg", ".svg" };
    const char *const dot = strrchr(name, '.');
    for (size_t i = 0; dot != NULL && dot != name && i < SW_ARRAY_LEN(endings); i++) {
        if (strcasecmp(dot, endings[i]) == 0) return true;
    }
    return false;
}

static int by_name(const void *one, const void *two) { return strcmp(*(char *const *)one, *(char *const *)two); }

static sw_status add_folder(sw_cli_files *files, const char *folder, sw_note *note)
{
    const size_t first = files->n;
    sw_status st = SW_OK;
    DIR *const dir = opendir(folder);
    if (dir == NULL) return sw_fail(note, SW_IO, "folder '%s' cannot be read; check its permissions", folder);
    for (const struct dirent *entry = readdir(dir); entry != NULL && st == SW_OK; entry = readdir(dir)) {
        if (is_picture_name(entry->d_name)) st = add(files, folder, entry->d_name, note);
    }
    closedir(dir);
    if (st == SW_OK && files->n == first) st = sw_fail(note, SW_BAD_USAGE, "folder '%s' has no PNG, JPEG or SVG in it", folder);
    if (st == SW_OK) qsort(files->at + first, files->n - first, sizeof *files->at, by_name);
    return st;
}

sw_status sw_cli_files_find(const char *const *operands, size_t n, sw_cli_files *out, sw_note *note)
{
    sw_cli_files made = { 0 };
    sw_status st = SW_OK;
    for (size_t i = 0; i < n && st == SW_OK; i++) {
        struct stat there;
        const bool is_folder = stat(operands[i], &there) == 0 && S_ISDIR(there.st_mode);
        st = is_folder ? add_folder(&made, operands[i], note) : add(&made, NULL, operands[i], note);
        made.has_folder = made.has_folder || is_folder;
    }
    if (st == SW_OK) *out = made;
    else sw_cli_files_free(&made);
    return st;
}

void sw_cli_files_free(sw_cli_files *files)
{
    if (files == NULL) return;
    for (size_t i = 0; i < files->n; i++) sw_free(files->at[i]);
    sw_free(files->at);
    *files = (sw_cli_files){ 0 };
}
