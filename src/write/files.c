/* The system calls below the writers: a new file written whole, a rename that replaces nothing, an exchange.
 *
 * Everything goes through a descriptor of the parent folder, so that nothing that is moved while we write can send
 * our bytes elsewhere. Temporary names are short and start with a dot: a wanted name of 255 bytes leaves no room for
 * a suffix. */
#define _GNU_SOURCE /* renameat2, realpath */
#include "write/files.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#ifdef SW_FAULTS
static atomic_size_t n_calls, fail_at; /* files are written side by side */

void sw_write_fail_at(size_t nth)
{
    atomic_store(&n_calls, 0);
    atomic_store(&fail_at, nth);
}

bool sw_write_should_fail(void)
{
    if (atomic_fetch_add(&n_calls, 1) + 1 != atomic_load(&fail_at)) return false;
    errno = ENOSPC;
    return true;
}
#else
bool sw_write_should_fail(void) { return false; }
#endif

sw_status sw_path_split(const char *path, char parent[SW_PATH_MAX], char name[SW_PATH_MAX], bool *is_there,
                        sw_note *note)
{
    char real[PATH_MAX];
    struct stat info;
    if (path == NULL || path[0] == '\0') return sw_fail(note, SW_BAD_USAGE, "no name to write to was given");
    *is_there = lstat(path, &info) == 0;
    if (!*is_there && errno == ENAMETOOLONG)
        return sw_fail(note, SW_BAD_USAGE, "'%.80s...' is too long a name for this disk; choose a shorter one", path);
    const char *const use = *is_there && realpath(path, real) != NULL ? real : path;
    size_t n = strlen(use);
    if (n >= SW_PATH_MAX) return sw_fail(note, SW_IO, "'%.80s...' is too long a path", path);
    while (n > 1 && use[n - 1] == '/') n--;
    size_t at = n;
    while (at > 0 && use[at - 1] != '/') at--;
    memcpy(name, use + at, n - at);
    name[n - at] = '\0';
    while (at > 1 && use[at - 1] == '/') at--;
    memcpy(parent, use, at);
    parent[at] = '\0';
    if (at == 0) memcpy(parent, ".", 2);
    if (name[0] == '\0' || strcmp(name, ".") == 0 || strcmp(name, "..") == 0)
        return sw_fail(note, SW_BAD_USAGE, "'%s' is no name for something new", path);
    return SW_OK;
}

static bool write_all(int fd, const void *bytes, size_t n)
{
    const char *at = bytes;
    while (n > 0) {
        if (sw_write_should_fail()) return false;
        const ssize_t done = write(fd, at, n < 0x40000000u ? n : 0x40000000u);
        if (done < 0 && errno == EINTR) continue;
        if (done <= 0) return false;
        at += done;
        n -= (size_t)done;
    }
    return true;
}

static bool sync_file(int fd)
{
    return !sw_write_should_fail() && (fsync(fd) == 0 || errno == EINVAL || errno == EROFS);
}

sw_status sw_write_new_file(int dir_fd, const char *name, const void *bytes, size_t n, const char *shown, sw_note *note)
{
    const int fd =
        sw_write_should_fail() ? -1 : openat(dir_fd, name, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, (mode_t)0666);
    if (fd < 0) return sw_fail(note, SW_IO, "'%s' cannot be written (%s)", shown, strerror(errno));
    bool is_written = write_all(fd, bytes, n) && sync_file(fd);
    int cause = errno;
    /* a full disk or a lost server may be told only on closing */
    const bool is_close_failing = sw_write_should_fail();
    const bool is_closed = close(fd) == 0 && !is_close_failing;
    if (is_written && !is_closed) cause = is_close_failing ? ENOSPC : errno;
    is_written = is_written && is_closed;
    if (is_written) return SW_OK;
    unlinkat(dir_fd, name, 0);
    return sw_fail(note, SW_IO, "'%s' cannot be written (%s); make room or choose another place", shown,
                   strerror(cause));
}

bool sw_sync_folder(int dir_fd) { return sync_file(dir_fd); }

static bool is_unsupported(int cause) { return cause == ENOSYS || cause == EINVAL || cause == ENOTSUP; }

bool sw_rename_new(int dir_fd, const char *from, const char *to)
{
    struct stat info;
    if (sw_write_should_fail()) return false;
    if (renameat2(dir_fd, from, dir_fd, to, RENAME_NOREPLACE) == 0) return true;
    if (!is_unsupported(errno)) return false;
    if (fstatat(dir_fd, to, &info, AT_SYMLINK_NOFOLLOW) == 0) {
        errno = EEXIST;
        return false;
    }
    return renameat(dir_fd, from, dir_fd, to) == 0;
}

/* The two renames of a file system without exchange. If the second fails the first is taken back. */
bool sw_rename_exchange_slow(int dir_fd, const char *one, const char *two)
{
    char third[64];
    struct stat info;
    unsigned number = 0;
    do sw_beside_name(third, number++);
    while (fstatat(dir_fd, third, &info, AT_SYMLINK_NOFOLLOW) == 0 && number < 10000);
    if (sw_write_should_fail() || renameat(dir_fd, two, dir_fd, third) != 0) return false;
    if (sw_write_should_fail() || renameat(dir_fd, one, dir_fd, two) != 0) {
        const int cause = errno;
        if (renameat(dir_fd, third, dir_fd, two) != 0) errno = cause;
        errno = cause;
        return false;
    }
    return renameat(dir_fd, third, dir_fd, one) == 0;
}

bool sw_rename_exchange(int dir_fd, const char *one, const char *two)
{
    if (sw_write_should_fail()) return false;
    if (renameat2(dir_fd, one, dir_fd, two, RENAME_EXCHANGE) == 0) return true;
    return is_unsupported(errno) && sw_rename_exchange_slow(dir_fd, one, two);
}

void sw_beside_name(char name[64], unsigned number)
{
    snprintf(name, 64, ".being-written-%ld-%u", (long)getpid(), number);
}
