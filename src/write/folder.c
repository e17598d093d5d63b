/* The job folder: everything goes into a new folder beside the wanted one, and one rename puts it in place.
 *
 * A reader sees the old job or the new one, never half of either, and nothing is destroyed that a job did not write:
 * before an old job folder is replaced every name in it is looked at, and one that no job writes stops us. */
#include "write/files.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define MAX_TRIES 10000u /* temporary names tried */

/* Names that jobs write beside the cut files. A new file of a job must be known here, or the next job cannot replace the
 * folder. */
static const char *const own_names[] = { "job.json",    "job.html", "layers.svg",   "preview.png", "wall.png",
                                         "bridges.png", "cut",      "touch-up.png", "job.options", "cut/all.pdf" };

struct sw_folder {
    char parent[SW_PATH_MAX], name[SW_PATH_MAX]; /* where it will be */
    char beside[64];                             /* what it is called until then; empty: nothing there */
    int parent_fd, fd;                           /* -1: not open */
    bool is_replacing;
    pthread_mutex_t lock; /* of what follows: several files may be written at a time */
    char **files; /* names written, for taking them away again */
    size_t n_files, cap_files;
};

/* ---- taking away ------------------------------------------------------------------------------ */

static bool is_dots(const char *name) { return strcmp(name, ".") == 0 || strcmp(name, "..") == 0; }

/* "cut/pass-2.svg", "cut/pass-2-panel-B13.pdf" and nothing else: a copy kept beside them is the user's. */
static bool is_cut_file(const char *name)
{
    static const char digits[] = "0123456789", letters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
    if (strncmp(name, "cut/pass-", 9) != 0) return false;
    const char *p = name + 9;
    p += strspn(p, digits);
    if (strncmp(p, "-panel-", 7) == 0) {
        p += 7 + strspn(p + 7, letters);
        p += strspn(p, digits);
    }
    return strcmp(p, ".svg") == 0 || strcmp(p, ".pdf") == 0 || strcmp(p, ".eps") == 0;
}

static bool is_own(const char *name)
{
    for (size_t i = 0; i < SW_ARRAY_LEN(own_names); i++) {
        if (strcmp(name, own_names[i]) == 0) return true;
    }
    const char *const last = strrchr(name, '/') == NULL ? name : strrchr(name, '/') + 1;
    return is_cut_file(name) || strncmp(last, ".being-written-", 15) == 0;
}

/* What walk_folder does with each entry. name: from the job folder down. False stops the walk. */
typedef bool (*entry_fn)(void *ctx, int dir_fd, const char *entry, const char *name, bool is_folder);

/* Visits what is in a folder, one level down as well; sub-folders after their contents. False if fn stopped it. */
static bool walk_folder(int dir_fd, const char *prefix, int depth, entry_fn fn, void *ctx)
{
    const int copy = openat(dir_fd, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    DIR *const dir = copy < 0 ? NULL : fdopendir(copy);
    bool go_on = dir != NULL;
    if (dir == NULL && copy >= 0) close(copy);
    for (const struct dirent *entry; go_on && (entry = readdir(dir)) != NULL;) {
        char name[600];
        struct stat info;
        if (is_dots(entry->d_name)) continue;
        snprintf(name, sizeof name, "%s%s", prefix, entry->d_name);
        const bool is_folder =
            fstatat(dir_fd, entry->d_name, &info, AT_SYMLINK_NOFOLLOW) == 0 && S_ISDIR(info.st_mode);
        const int sub = is_folder && depth == 0 ? openat(dir_fd, entry->d_name, O_RDONLY | O_DIRECTORY | O_CLOEXEC) : -1;
        if (sub >= 0) {
            strcat(name, "/"); /* d_name is at most 255 bytes, prefix as well: room is there */
            go_on = walk_folder(sub, name, depth + 1, fn, ctx);
            close(sub);
            name[strlen(name) - 1] = '\0';
        }
        if (go_on) go_on = fn(ctx, dir_fd, entry->d_name, name, is_folder);
    }
    if (dir != NULL) closedir(dir);
    return go_on;
}

typedef struct look {
    bool is_removing;
    char foreign[600]; /* first name that no job wrote */
} look;

static bool look_at(void *ctx, int dir_fd, const char *entry, const char *name, bool is_folder)
{
    look *const l = ctx;
    const bool is_too_deep = is_folder && strchr(name, '/') != NULL; /* jobs have one level of folders */
    if (is_too_deep || !is_own(name)) {
        if (!l->is_removing) memcpy(l->foreign, name, strlen(name) + 1);
        return l->is_removing; /* when removing, what somebody put there meanwhile is simply left */
    }
    if (l->is_removing) unlinkat(dir_fd, entry, is_folder ? AT_REMOVEDIR : 0);
    return true;
}

/* Removes an old job folder that now lies under the temporary name. What a job did not write stays. */
static void remove_old(sw_folder *folder, const char *name)
{
    look l = { .is_removing = true };
    const int fd = openat(folder->parent_fd, name, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd >= 0) {
        walk_folder(fd, "", 0, look_at, &l);
        close(fd);
        unlinkat(folder->parent_fd, name, AT_REMOVEDIR);
    }
}

/* Takes away the unfinished folder: the files we wrote, their sub-folders, itself. */
static void remove_unfinished(sw_folder *folder)
{
    for (size_t i = 0; i < folder->n_files && folder->fd >= 0; i++) unlinkat(folder->fd, folder->files[i], 0);
    for (size_t i = 0; i < folder->n_files && folder->fd >= 0; i++) {
        char *const slash = strchr(folder->files[i], '/');
        if (slash == NULL) continue;
        *slash = '\0';
        unlinkat(folder->fd, folder->files[i], AT_REMOVEDIR); /* fails unless empty: that is meant */
        *slash = '/';
    }
    if (folder->beside[0] != '\0') unlinkat(folder->parent_fd, folder->beside, AT_REMOVEDIR);
    folder->beside[0] = '\0';
}

/* ---- beginning -------------------------------------------------------------------------------- */

/* Something is at the wanted place: may it go? */
static sw_status check_replaceable(const sw_folder *folder, const char *path, bool is_replace, sw_note *note)
{
    struct stat info;
    if (!is_replace)
        return sw_fail(note, SW_EXISTS, "'%s' is already there; choose another --out or add --replace", path);
    const int fd = openat(folder->parent_fd, folder->name, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd < 0 || fstatat(fd, "job.json", &info, AT_SYMLINK_NOFOLLOW) != 0 || !S_ISREG(info.st_mode)) {
        if (fd >= 0) close(fd);
        return sw_fail(note, SW_EXISTS, "'%s' is there and is no job folder (it holds no job.json); it is not replaced",
                       path);
    }
    look l = { .is_removing = false };
    const bool is_all_own = walk_folder(fd, "", 0, look_at, &l);
    close(fd);
    if (is_all_own) return SW_OK;
    if (l.foreign[0] == '\0') return sw_fail(note, SW_IO, "'%s' cannot be read (%s)", path, strerror(errno));
    return sw_fail(note, SW_EXISTS, "'%s/%s' was not written by a job; move it elsewhere before the folder is replaced",
                   path, l.foreign);
}

static sw_status make_beside(sw_folder *folder, const char *path, sw_note *note)
{
    for (unsigned number = 0; number < MAX_TRIES; number++) {
        char name[64];
        sw_beside_name(name, number);
        if (!sw_write_should_fail() && mkdirat(folder->parent_fd, name, (mode_t)0777) == 0) {
            memcpy(folder->beside, name, sizeof name);
            folder->fd = openat(folder->parent_fd, name, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
            if (folder->fd >= 0) return SW_OK;
        }
        if (errno != EEXIST) break;
    }
    return sw_fail(note, SW_IO, "nothing can be written beside '%s' (%s)", path, strerror(errno));
}

/* Why there is no folder to write into: a name that was misspelt is the asker's, anything else the system's. */
static sw_status fail_parent(const char *path, const char *parent, sw_note *note)
{
    if (errno == ENOENT || errno == ENOTDIR)
        return sw_fail(note, SW_BAD_USAGE, "'%s' cannot be made: there is no folder '%s'; correct the name or make that folder first",
                       path, parent);
    return sw_fail(note, SW_IO, "'%s' cannot be made: folder '%s' cannot be opened (%s); check its permissions", path, parent,
                   strerror(errno));
}

/* Opens the parent and looks at what is at the wanted place. */
static sw_status look_around(sw_folder *folder, const char *path, bool is_replace, sw_note *note)
{
    bool is_there = false;
    SW_TRY(sw_path_split(path, folder->parent, folder->name, &is_there, note));
    folder->parent_fd = open(folder->parent, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (folder->parent_fd < 0) return fail_parent(path, folder->parent, note);
    if (is_there) SW_TRY(check_replaceable(folder, path, is_replace, note));
    if (faccessat(folder->parent_fd, ".", W_OK | X_OK, 0) != 0)
        return sw_fail(note, SW_IO, "nothing can be written beside '%s' (%s)", path, strerror(errno));
    folder->is_replacing = is_there;
    return SW_OK;
}

static sw_folder *make_folder(sw_note *note)
{
    sw_folder *const folder = sw_alloc_array(1, sizeof *folder);
    if (folder == NULL) {
        sw_fail_memory(note, "the job folder");
        return NULL;
    }
    folder->parent_fd = folder->fd = -1;
    folder->lock = (pthread_mutex_t)PTHREAD_MUTEX_INITIALIZER;
    return folder;
}

sw_status sw_folder_check(const char *path, bool is_replace, sw_note *note)
{
    sw_folder *const folder = make_folder(note);
    if (folder == NULL) return SW_NO_MEMORY;
    const sw_status st = look_around(folder, path, is_replace, note);
    sw_folder_free(folder);
    return st;
}

sw_status sw_folder_begin(const char *path, bool is_replace, sw_folder **out, sw_note *note)
{
    sw_folder *const folder = make_folder(note);
    if (folder == NULL) return SW_NO_MEMORY;
    sw_status st = look_around(folder, path, is_replace, note);
    if (st == SW_OK) st = make_beside(folder, path, note);
    if (st == SW_OK) *out = folder;
    else sw_folder_free(folder);
    return st;
}

/* ---- filling and finishing -------------------------------------------------------------------- */

/* One name, or one sub-folder and a name; nothing that leads out. */
static bool is_good_name(const char *name)
{
    const size_t n = strlen(name), first = strcspn(name, "/");
    if (n == 0 || first == 0 || name[0] == '.') return false;
    if (first == n) return n < 256;
    const char *const rest = name + first + 1;
    return first < 256 && rest[0] != '\0' && rest[0] != '.' && strchr(rest, '/') == NULL && strlen(rest) < 256;
}

static char *copy_text(const char *text)
{
    const size_t n = strlen(text) + 1;
    char *const copy = sw_alloc_raw(n, 1);
    if (copy != NULL) memcpy(copy, text, n);
    return copy;
}

/* Remembers the name, so that the file can be taken away again, before there is a file. */
static sw_status remember(sw_folder *folder, const char *name, sw_note *note)
{
    char *const copy = copy_text(name);
    if (copy == NULL) return sw_fail_memory(note, "the job folder");
    pthread_mutex_lock(&folder->lock);
    void *data = folder->files;
    const bool is_room = sw_grow(&data, &folder->cap_files, folder->n_files + 1, sizeof *folder->files);
    folder->files = data;
    if (is_room) folder->files[folder->n_files++] = copy;
    pthread_mutex_unlock(&folder->lock);
    if (is_room) return SW_OK;
    sw_free(copy);
    return sw_fail_memory(note, "the job folder");
}

sw_status sw_folder_write(sw_folder *folder, const char *name, const void *bytes, size_t n, sw_note *note)
{
    if (!is_good_name(name)) return sw_fail(note, SW_IO, "'%s' is no name for a file of a job", name);
    SW_TRY(remember(folder, name, note));
    const size_t first = strcspn(name, "/");
    if (name[first] == '/') {
        char sub[256];
        memcpy(sub, name, first);
        sub[first] = '\0';
        if (sw_write_should_fail() || (mkdirat(folder->fd, sub, (mode_t)0777) != 0 && errno != EEXIST))
            return sw_fail(note, SW_IO, "folder '%s' cannot be made (%s)", sub, strerror(errno));
    }
    return sw_write_new_file(folder->fd, name, bytes, n, name, note);
}

/* Entries of sub-folders and of the folder itself reach the disk before the rename does. */
static bool sync_all(const sw_folder *folder)
{
    for (size_t i = 0; i < folder->n_files; i++) {
        char sub[256];
        const size_t first = strcspn(folder->files[i], "/");
        if (folder->files[i][first] != '/') continue;
        if (i > 0 && strncmp(folder->files[i], folder->files[i - 1], first + 1) == 0) continue; /* done just before */
        memcpy(sub, folder->files[i], first);
        sub[first] = '\0';
        const int fd = openat(folder->fd, sub, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
        if (fd < 0) return false;
        const bool is_synced = sw_sync_folder(fd);
        close(fd);
        if (!is_synced) return false;
    }
    return sw_sync_folder(folder->fd);
}

sw_status sw_folder_finish(sw_folder *folder, sw_note *note)
{
    if (folder->beside[0] == '\0') return sw_fail(note, SW_IO, "'%s' is finished already", folder->name);
    if (!sync_all(folder))
        return sw_fail(note, SW_IO, "'%s' cannot be written (%s); make room or choose another place", folder->name,
                       strerror(errno));
    const bool is_placed = folder->is_replacing ? sw_rename_exchange(folder->parent_fd, folder->beside, folder->name)
                                                : sw_rename_new(folder->parent_fd, folder->beside, folder->name);
    if (!is_placed && errno == EEXIST)
        return sw_fail(note, SW_EXISTS, "'%s' was made by something else meanwhile; choose another folder",
                       folder->name);
    if (!is_placed) return sw_fail(note, SW_IO, "'%s' cannot be put in place (%s)", folder->name, strerror(errno));
    if (folder->is_replacing) remove_old(folder, folder->beside);
    folder->beside[0] = '\0';
    /* the job stands whole; if the parent's entry cannot be flushed now the system will do it in its own time */
    const bool is_flushed = sw_sync_folder(folder->parent_fd);
    (void)is_flushed;
    return SW_OK;
}

void sw_folder_free(sw_folder *folder)
{
    if (folder == NULL) return;
    if (folder->beside[0] != '\0') remove_unfinished(folder);
    for (size_t i = 0; i < folder->n_files; i++) sw_free(folder->files[i]);
    sw_free(folder->files);
    pthread_mutex_destroy(&folder->lock);
    if (folder->fd >= 0) close(folder->fd);
    if (folder->parent_fd >= 0) close(folder->parent_fd);
    sw_free(folder);
}

/* ---- one file --------------------------------------------------------------------------------- */

static sw_status place_file(int dir_fd, const char *beside, const char *name, bool is_replace, const char *path,
                            sw_note *note)
{
    bool is_placed = false;
    if (!is_replace) is_placed = sw_rename_new(dir_fd, beside, name);
    else is_placed = !sw_write_should_fail() && renameat(dir_fd, beside, dir_fd, name) == 0;
    if (is_placed) return SW_OK;
    const int cause = errno;
    unlinkat(dir_fd, beside, 0);
    if (cause == EEXIST)
        return sw_fail(note, SW_EXISTS, "'%s' is already there; choose another name or ask to replace it", path);
    return sw_fail(note, SW_IO, "'%s' cannot be put in place (%s)", path, strerror(cause));
}

/* What is at the file's place may go. */
static sw_status check_place(int dir_fd, const char *name, bool is_replace, const char *path, sw_note *note)
{
    struct stat info;
    if (fstatat(dir_fd, name, &info, 0) != 0) return SW_OK;
    if (!S_ISREG(info.st_mode)) return sw_fail(note, SW_EXISTS, "'%s' is there and is not a file; choose another name", path);
    if (is_replace) return SW_OK;
    return sw_fail(note, SW_EXISTS, "'%s' is already there; choose another name or ask to replace it", path);
}

static sw_status write_beside(int dir_fd, const char *name, bool is_replace, const char *path, const void *bytes,
                              size_t n, sw_note *note)
{
    struct stat info;
    char beside[64];
    SW_TRY(check_place(dir_fd, name, is_replace, path, note));
    for (unsigned number = 0; number < MAX_TRIES; number++) {
        sw_beside_name(beside, number);
        if (fstatat(dir_fd, beside, &info, AT_SYMLINK_NOFOLLOW) != 0) break;
    }
    SW_TRY(sw_write_new_file(dir_fd, beside, bytes, n, path, note));
    return place_file(dir_fd, beside, name, is_replace, path, note);
}

sw_status sw_file_check(const char *path, bool is_replace, sw_note *note)
{
    char parent[SW_PATH_MAX], name[SW_PATH_MAX];
    bool is_there = false;
    SW_TRY(sw_path_split(path, parent, name, &is_there, note));
    const int dir_fd = open(parent, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (dir_fd < 0) return fail_parent(path, parent, note);
    sw_status st = check_place(dir_fd, name, is_replace, path, note);
    if (st == SW_OK && faccessat(dir_fd, ".", W_OK | X_OK, 0) != 0)
        st = sw_fail(note, SW_IO, "nothing can be written beside '%s' (%s)", path, strerror(errno));
    close(dir_fd);
    return st;
}

sw_status sw_file_write(const char *path, bool is_replace, const void *bytes, size_t n, sw_note *note)
{
    char parent[SW_PATH_MAX], name[SW_PATH_MAX];
    bool is_there = false;
    SW_TRY(sw_path_split(path, parent, name, &is_there, note));
    const int dir_fd = open(parent, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (dir_fd < 0) return fail_parent(path, parent, note);
    const sw_status st = write_beside(dir_fd, name, is_replace, path, bytes, n, note);
    close(dir_fd);
    return st;
}
