/*
 * How every call of the library says what happened.
 *
 * A call returns a sw_status. What it makes goes through a pointer, and that object is untouched
 * unless the status is SW_OK. Who finds a fault writes one line into the caller's sw_note: what is
 * wrong, with which file, and what would mend it. The first line written stays.
 */
#ifndef STENCILWRIGHT_STATUS_H
#define STENCILWRIGHT_STATUS_H

#if defined(__GNUC__) || defined(__clang__)
#define SW_MUST_USE __attribute__((warn_unused_result))
#define SW_API __attribute__((visibility("default")))
#define SW_PRINTF(fmt_at, args_at) __attribute__((format(printf, fmt_at, args_at)))
#else
#define SW_MUST_USE
#define SW_API
#define SW_PRINTF(fmt_at, args_at)
#endif

/* name, exit status class (0 done, 1 cannot be held, 2 wrong usage or bad input, 3 the system failed), text.
 * Append only: the numbers are part of the interface. */
#define SW_STATUS_LIST(X)                                                                                              \
    X(SW_OK, 0, "done")                                                                                                \
    X(SW_BAD_USAGE, 2, "an option is missing or makes no sense")                                                       \
    X(SW_BAD_LENGTH, 2, "a measurement is missing, not a number or out of range")                                      \
    X(SW_BAD_FILE, 2, "a file is not what it should be")                                                               \
    X(SW_TOO_LARGE, 2, "the picture or the grid is larger than the limit")                                             \
    X(SW_EXISTS, 2, "something is already there and was not to be replaced")                                           \
    X(SW_CANNOT_HOLD, 1, "the picture cannot be held as asked")                                                        \
    X(SW_NO_MEMORY, 3, "memory is out")                                                                                \
    X(SW_IO, 3, "reading or writing failed")                                                                           \
    X(SW_INTERRUPTED, 3, "interrupted")

typedef enum sw_status {
#define SW_STATUS_ENUM(name, exit_class, text) name,
    SW_STATUS_LIST(SW_STATUS_ENUM)
#undef SW_STATUS_ENUM
        SW_STATUS_END /* not a status */
} sw_status;

/** One line for people: what, which file, the mend. Zero it before the first use. */
typedef struct sw_note {
    char text[512];
} sw_note;

/** Text of a status; never NULL, also for numbers that are no status. */
SW_API const char *sw_status_text(sw_status status);

/** Exit status class of a status, 0..3; 3 for numbers that are no status. */
SW_API int sw_status_exit(sw_status status);

#endif
