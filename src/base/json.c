/* JSON (RFC 8259) as the program writes it: compact, a comma where one is needed, elements of long lists on lines of their
 * own, so that two files can be compared line by line. */
#include "base/base.h"

#define DECIMALS 3 /* a micrometre */

/* What was written last; '{' before there is anything, or when memory was out at once. */
static char last_of(const sw_text *out) { return out->size > 0 ? out->data[out->size - 1] : '{'; }

void sw_json_field(sw_text *out, const char *name)
{
    sw_text_addf(out, "%s\"%s\":", last_of(out) == '{' || last_of(out) == '[' ? "" : ",", name);
}

void sw_json_element(sw_text *out) { sw_text_add(out, last_of(out) == '[' ? "\n" : ",\n"); }

void sw_json_number(sw_text *out, const char *name, double value)
{
    sw_json_field(out, name);
    sw_text_add_number(out, value, DECIMALS);
}

void sw_json_count(sw_text *out, const char *name, size_t value)
{
    sw_json_field(out, name);
    sw_text_addf(out, "%zu", value);
}

void sw_json_bool(sw_text *out, const char *name, bool value)
{
    sw_json_field(out, name);
    sw_text_add(out, value ? "true" : "false");
}

void sw_json_string(sw_text *out, const char *name, const char *value)
{
    sw_json_field(out, name);
    sw_text_add_json(out, value);
}

void sw_json_colour(sw_text *out, const char *name, sw_rgb8 c)
{
    sw_json_field(out, name);
    sw_text_addf(out, "\"#%02x%02x%02x\"", c.r, c.g, c.b);
}

void sw_json_point(sw_text *out, const char *name, sw_pt_mm p)
{
    sw_json_field(out, name);
    sw_text_add(out, "[");
    sw_text_add_number(out, p.x_mm, DECIMALS);
    sw_text_add(out, ",");
    sw_text_add_number(out, p.y_mm, DECIMALS);
    sw_text_add(out, "]");
}
