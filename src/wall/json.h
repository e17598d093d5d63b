/* Inside src/wall/ only: finding values in a job.json. Reads what it must and steps over the rest; a broken file gives
 * false, never a read past the end. */
#ifndef SW_WALL_JSON_H
#define SW_WALL_JSON_H

#include "base/base.h"

/** The text from a value's first character on. */
typedef struct json {
    const char *p, *end;
} json;

/** The value of a key of an object. */
bool json_member(json object, const char *key, json *value);
/** The first element of a list; the element after one. False when there is none. */
bool json_first(json list, json *element);
bool json_next(json *element);
bool json_number(json value, double *out);
/** A string as UTF-8; escapes other than \uXXXX are undone, those become '?'. Cut to size. */
bool json_string(json value, char *out, size_t size);

#endif
