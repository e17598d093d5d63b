/* Inside src/write/ only: the system calls that put bytes on a disk, counted so that a test can make any one fail. */
#ifndef SW_WRITE_FILES_H
#define SW_WRITE_FILES_H

#include "write/write.h"

#define SW_PATH_MAX 4096 /* longest path handled, with its end mark; Linux allows no more in one call */

/** True when this call is the one a test wants to fail; errno is then "no space left". Always false without
 *  SW_FAULTS. */
bool sw_write_should_fail(void);

/** Parent folder of path ("." if it names none) into parent, last name into name; trailing slashes are dropped. A path
 *  that exists is resolved first, so that ".", ".." and links end at the real thing. is_there: something is there.
 *  Returns SW_OK, SW_BAD_USAGE (no last name), SW_IO (too long). */
SW_MUST_USE sw_status sw_path_split(const char *path, char parent[SW_PATH_MAX], char name[SW_PATH_MAX], bool *is_there,
                                    sw_note *note);

/** Create name (new, 0666 less the umask) in folder dir_fd, write n bytes, flush to the disk, close; every step
 *  checked. What was created is removed again when a step fails. shown: the name for the note. */
SW_MUST_USE sw_status sw_write_new_file(int dir_fd, const char *name, const void *bytes, size_t n, const char *shown,
                                        sw_note *note);

/** Flush a folder's entries to the disk. File systems that cannot do that for a folder are passed over. */
SW_MUST_USE bool sw_sync_folder(int dir_fd);

/** Rename within one folder and fail with EEXIST when `to` is there. */
SW_MUST_USE bool sw_rename_new(int dir_fd, const char *from, const char *to);

/** Swap two names of one folder in one step; where the file system cannot, through a third name. */
SW_MUST_USE bool sw_rename_exchange(int dir_fd, const char *one, const char *two);

/** The same without the system's exchange: two is set aside, one takes its place; taken back if that fails. */
SW_MUST_USE bool sw_rename_exchange_slow(int dir_fd, const char *one, const char *two);

/** A name for something new beside: number 0.. gives different ones; fits any file system. */
void sw_beside_name(char name[64], unsigned number);

#endif
