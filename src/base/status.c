/* Status texts and the note: the whole error channel of the library. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"

#undef sw_fail /* macros for the analyser alone, see base.h */
#undef sw_fail_memory

const char *sw_status_text(sw_status status)
{
    switch (status) {
#define SW_STATUS_CASE(name, exit_class, text)                                                                         \
    case name: return text;
        SW_STATUS_LIST(SW_STATUS_CASE)
#undef SW_STATUS_CASE
    case SW_STATUS_END: break;
    }
    return "unknown status";
}

int sw_status_exit(sw_status status)
{
    switch (status) {
#define SW_STATUS_CASE(name, exit_class, text)                                                                         \
    case name: return exit_class;
        SW_STATUS_LIST(SW_STATUS_CASE)
#undef SW_STATUS_CASE
    case SW_STATUS_END: break;
    }
    return 3;
}

sw_status sw_fail(sw_note *note, sw_status status, const char *format, ...)
{
    if (note == NULL || note->text[0] != '\0') return status;
    va_list args;
    va_start(args, format);
    const int n = vsnprintf(note->text, sizeof note->text, format, args);
    va_end(args);
    if (n < 0) snprintf(note->text, sizeof note->text, "%s", sw_status_text(status));
    if (n >= (int)sizeof note->text) {
        size_t end = sizeof note->text - 4;
        while (end > 0 && ((unsigned char)note->text[end] & 0xc0) == 0x80) end--; /* not within a UTF-8 sequence */
        memcpy(note->text + end, "...", 4);
    }
    for (char *p = note->text; *p != '\0'; p++) { /* a file name may hold a newline; a note is one line */
        if ((unsigned char)*p < 0x20 || *p == 0x7f) *p = '?';
    }
    return status;
}

sw_status sw_fail_memory(sw_note *note, const char *for_what)
{
    return sw_fail(note, SW_NO_MEMORY, "not enough memory for %s; a smaller width or a larger --min-opening needs less",
                   for_what);
}
