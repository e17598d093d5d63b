/* Options from the table. A number is parsed whole: its unit, its range, and nothing after it. */
#include "cli/cli.h"

#include <math.h>
#include <string.h>

static const sw_cli_option *find_option(const sw_cli_command *command, const char *name, size_t n)
{
    for (size_t i = 0; i < command->n_options; i++) {
        const sw_cli_option *const option = &command->options[i];
        if (strlen(option->name) == n && memcmp(option->name, name, n) == 0) return option;
    }
    return NULL;
}

static sw_status set_count(const sw_cli_option *option, const char *text, size_t *field, sw_note *note)
{
    double value;
    const bool can_be_auto = option->kind == SW_CLI_COUNT_AUTO;
    if (can_be_auto && strcmp(text, "auto") == 0) {
        *field = 0;
        return SW_OK;
    }
    if (!sw_number_parse(text, &value) || value != floor(value) || !(value >= option->min && value <= option->max))
        return sw_fail(note, SW_BAD_USAGE, "--%s '%s' must be a whole number from %d to %d%s", option->name, text,
                       (int)option->min, (int)option->max, can_be_auto ? ", or auto" : "");
    *field = (size_t)value;
    return SW_OK;
}

static sw_status set_percent(const sw_cli_option *option, const char *text, double *field, sw_note *note)
{
    double value;
    if (!sw_number_parse(text, &value) || !(value >= 0.0 && value <= 100.0))
        return sw_fail(note, SW_BAD_USAGE, "--%s '%s' must be a number from 0 to 100", option->name, text);
    *field = value / 100.0;
    return SW_OK;
}

static sw_status parse_colour(const sw_cli_option *option, const char *text, uint32_t *out, sw_note *note)
{
    sw_rgb8 c;
    if (!sw_rgb8_parse(text, &c))
        return sw_fail(note, SW_BAD_USAGE, "--%s '%s' is not a colour; write it like '#c04020', with the quotes",
                       option->name, text);
    *out = (uint32_t)c.r << 16 | (uint32_t)c.g << 8 | c.b;
    return SW_OK;
}

/* Index of the n characters at text in choices ("a|b|c"), or -1. */
static int find_choice(const char *choices, const char *text, size_t n)
{
    int index = 0;
    for (const char *p = choices; *p != '\0'; index++) {
        const size_t word = strcspn(p, "|");
        if (word == n && memcmp(p, text, n) == 0) return index;
        p += word + (p[word] == '|');
    }
    return -1;
}

static sw_status set_choice(const sw_cli_option *option, const char *text, int *field, sw_note *note)
{
    const int index = find_choice(option->choices, text, strlen(text));
    if (index < 0) return sw_fail(note, SW_BAD_USAGE, "--%s '%s' is not one of %s", option->name, text, option->choices);
    *field = index;
    return SW_OK;
}

static sw_status set_set(const sw_cli_option *option, const char *text, unsigned *field, sw_note *note)
{
    unsigned bits = 0;
    for (const char *p = text;; p++) {
        const size_t n = strcspn(p, ",");
        const int index = find_choice(option->choices, p, n);
        if (index < 0)
            return sw_fail(note, SW_BAD_USAGE, "--%s '%s' must be one or more of %s with commas between", option->name,
                           text, option->choices);
        bits |= 1u << index;
        p += n;
        if (*p == '\0') break;
    }
    *field = bits;
    return SW_OK;
}

/* "1200x800mm", "4ftx2ft", "4ft x 2ft": a side without a unit takes the other's. */
static sw_status set_bed(const sw_cli_option *option, const char *name, const char *text, double *field, sw_note *note)
{
    char first[64], second[64];
    const size_t n_first = strcspn(text, "xX");
    const char *const rest = text[n_first] == '\0' ? text + n_first : text + n_first + 1 + strspn(text + n_first + 1, " ");
    size_t n = n_first;
    while (n > 0 && text[n - 1] == ' ') n--;
    if (*rest == '\0' || strpbrk(rest, "xX") != NULL || n + 8 >= sizeof first || strlen(rest) + 1 >= sizeof second)
        return sw_fail(note, SW_BAD_LENGTH, "--%s '%s' is not two sides; write it like 1200x800mm", option->name, text);
    memcpy(first, text, n);
    first[n] = '\0';
    strcpy(second, rest);
    const char *const unit = second + strspn(second, "0123456789.");
    if (strspn(first, "0123456789.") == n && strlen(unit) < 8) strcat(first, unit);
    double sides[2];
    SW_TRY(sw_length_parse(first, name, false, &sides[0], note));
    SW_TRY(sw_length_parse(second, name, false, &sides[1], note));
    memcpy(field, sides, sizeof sides);
    return SW_OK;
}

static sw_status set_points(const char *name, const char *text, double *field, sw_note *note)
{
    double points;
    const size_t n = strlen(text);
    char number[32] = "";
    const bool has_pt = n > 2 && strcmp(text + n - 2, "pt") == 0 && n < sizeof number;
    if (has_pt) {
        memcpy(number, text, n - 2);
        number[n - 2] = '\0';
    }
    if (sw_number_parse(has_pt ? number : text, &points) && points > 0.0 && points < 1000.0) {
        *field = points * 25.4 / 72.0;
        return SW_OK;
    }
    if (sw_length_parse(text, name, false, field, NULL) == SW_OK) return SW_OK;
    return sw_fail(note, SW_BAD_LENGTH, "%s '%s' is not a width of lines; write it like 0.25pt or 0.1mm", name, text);
}

/* "20mm/s", "1.2m/min", "90s", or a bare number in the first unit. */
static sw_status set_measure(const sw_cli_option *option, const char *text, double *field, sw_note *note)
{
    static const struct {
        const char *unit;
        double size; /* against others of its kind */
    } units[] = { { "mm/s", 1.0 },   { "m/min", 1e3 / 60.0 }, { "mm/min", 1.0 / 60.0 }, { "in/min", 25.4 / 60.0 },
                  { "s", 1.0 / 60.0 }, { "min", 1.0 },        { "h", 60.0 },            { "m2", 1.0 },
                  { "sqft", 0.09290304 }, { "min/m2", 1.0 } };
    const size_t n_number = strspn(text, "+-.0123456789eE"), n_first = strcspn(option->choices, "|");
    const char *const unit = text[n_number] == '\0' ? option->choices : text + n_number;
    const size_t n_unit = text[n_number] == '\0' ? n_first : strlen(unit);
    char number[32] = "";
    double value = 0.0, size = 0.0, first_size = 1.0;
    if (n_number < sizeof number) memcpy(number, text, n_number);
    for (size_t i = 0; i < SW_ARRAY_LEN(units); i++) {
        const size_t n = strlen(units[i].unit);
        if (n == n_unit && memcmp(unit, units[i].unit, n) == 0) size = units[i].size;
        if (n == n_first && memcmp(option->choices, units[i].unit, n) == 0) first_size = units[i].size;
    }
    if (!sw_number_parse(number, &value) || find_choice(option->choices, unit, n_unit) < 0)
        return sw_fail(note, SW_BAD_USAGE, "--%s '%s' must be a number with one of the units %s", option->name, text,
                       option->choices);
    value *= size / first_size;
    if (!(value >= option->min && value <= option->max))
        return sw_fail(note, SW_BAD_USAGE, "--%s '%s' must be from %g to %g %.*s", option->name, text, option->min, option->max,
                       (int)n_first, option->choices);
    *field = value;
    return SW_OK;
}

static sw_status set_size(const sw_cli_option *option, const char *text, size_t *field, sw_note *note)
{
    static const struct {
        const char *unit;
        double bytes;
    } units[] = { { "kB", 1e3 }, { "MB", 1e6 }, { "GB", 1e9 }, { "M", 1e6 }, { "G", 1e9 }, { "B", 1.0 } };
    const size_t n = strlen(text);
    for (size_t i = 0; i < SW_ARRAY_LEN(units); i++) {
        const size_t n_unit = strlen(units[i].unit);
        char number[32];
        double value;
        if (n <= n_unit || n - n_unit >= sizeof number || strcmp(text + n - n_unit, units[i].unit) != 0) continue;
        memcpy(number, text, n - n_unit);
        number[n - n_unit] = '\0';
        if (!sw_number_parse(number, &value) || !(value * units[i].bytes >= 1e6 && value * units[i].bytes <= 1e15)) continue;
        *field = (size_t)(value * units[i].bytes);
        return SW_OK;
    }
    return sw_fail(note, SW_BAD_USAGE, "--%s '%s' is not a size of at least 1MB; write it like 600MB or 2GB", option->name,
                   text);
}

static sw_status add_paint(const sw_cli_option *option, const char *text, sw_cli_paints *paints, sw_note *note)
{
    if (paints->n == SW_CUT_MAX_PAINTS)
        return sw_fail(note, SW_BAD_USAGE, "--%s can be given at most %d times", option->name, SW_CUT_MAX_PAINTS);
    uint32_t rgb = 0;
    SW_TRY(parse_colour(option, text, &rgb, note));
    paints->rgb[paints->n++] = rgb;
    return SW_OK;
}

static sw_status add_zone(const sw_cli_option *option, const char *text, sw_cut_opts *opts, sw_note *note)
{
    sw_cut_zone zone = { .n_passes = 0 };
    const char *const first = strchr(text, ','), *const second = first == NULL ? NULL : strchr(first + 1, ',');
    char colour[16];
    double n_passes = 0.0;
    sw_rgb8 c = { 0 };
    if (first != NULL && (size_t)(first - text) >= sizeof zone.name)
        return sw_fail(note, SW_BAD_USAGE, "--%s '%s' has too long a name; at most %zu letters", option->name, text,
                       sizeof zone.name - 1);
    const bool is_whole = second != NULL && first > text && (size_t)(second - first) <= sizeof colour;
    if (is_whole) {
        memcpy(zone.name, text, (size_t)(first - text));
        memcpy(colour, first + 1, (size_t)(second - first - 1));
        colour[second - first - 1] = '\0';
    }
    if (!is_whole || !sw_rgb8_parse(colour, &c) || !sw_number_parse(second + 1, &n_passes) || n_passes != floor(n_passes) ||
        !(n_passes >= 1.0 && n_passes <= SW_MAX_PASSES))
        return sw_fail(note, SW_BAD_USAGE, "--%s '%s' must be a name, its colour and its passes, like 'boats,#ff0000,2'",
                       option->name, text);
    if (opts->n_zones == SW_CUT_MAX_ZONES)
        return sw_fail(note, SW_BAD_USAGE, "--%s can be given at most %d times", option->name, SW_CUT_MAX_ZONES);
    zone.rgb = (uint32_t)c.r << 16 | (uint32_t)c.g << 8 | c.b;
    zone.n_passes = (size_t)n_passes;
    opts->zone[opts->n_zones++] = zone;
    return SW_OK;
}

static sw_status set_field(const sw_cli_option *option, const char *text, void *args, sw_note *note)
{
    void *const field = (char *)args + option->offset;
    char name[64] = "--";
    strncat(name, option->name, sizeof name - 3);
    switch (option->kind) {
    case SW_CLI_FLAG: *(bool *)field = true; return SW_OK;
    case SW_CLI_LENGTH: return sw_length_parse(text, name, false, field, note);
    case SW_CLI_LENGTH0: return sw_length_parse(text, name, true, field, note);
    case SW_CLI_COUNT:
    case SW_CLI_COUNT_AUTO: return set_count(option, text, field, note);
    case SW_CLI_PERCENT: return set_percent(option, text, field, note);
    case SW_CLI_COLOUR: return parse_colour(option, text, field, note);
    case SW_CLI_CHOICE: return set_choice(option, text, field, note);
    case SW_CLI_PAINT: return add_paint(option, text, field, note);
    case SW_CLI_ZONE: return add_zone(option, text, field, note);
    case SW_CLI_BED: return set_bed(option, name, text, field, note);
    case SW_CLI_SET: return set_set(option, text, field, note);
    case SW_CLI_POINTS: return set_points(name, text, field, note);
    case SW_CLI_MEASURE: return set_measure(option, text, field, note);
    case SW_CLI_SIZE: return set_size(option, text, field, note);
    case SW_CLI_TEXT: *(const char **)field = text; return SW_OK;
    }
    return SW_OK;
}

/* How many bytes of the arguments an option decides; none: its count alone, see undo. */
static size_t field_size(sw_cli_kind kind)
{
    switch (kind) {
    case SW_CLI_FLAG: return sizeof(bool);
    case SW_CLI_COUNT:
    case SW_CLI_COUNT_AUTO:
    case SW_CLI_SIZE: return sizeof(size_t);
    case SW_CLI_LENGTH:
    case SW_CLI_LENGTH0:
    case SW_CLI_PERCENT:
    case SW_CLI_POINTS:
    case SW_CLI_MEASURE: return sizeof(double);
    case SW_CLI_COLOUR: return sizeof(uint32_t);
    case SW_CLI_CHOICE: return sizeof(int);
    case SW_CLI_TEXT: return sizeof(const char *);
    case SW_CLI_BED: return 2 * sizeof(double);
    case SW_CLI_SET: return sizeof(unsigned);
    case SW_CLI_PAINT: return sizeof(sw_cli_paints);
    case SW_CLI_ZONE: return 0;
    }
    return 0;
}

/* "--no-NAME": as if NAME had not been said so far, here or in a file of options. */
static void undo(const sw_cli_option *option, void *args, const void *defaults)
{
    char *const field = (char *)args + option->offset;
    if (option->kind == SW_CLI_ZONE) ((sw_cut_opts *)(void *)field)->n_zones = 0;
    memcpy(field, (const char *)defaults + option->offset, field_size(option->kind));
}

/* One option at argv[*i], "--name value", "--name=value" or "--no-name"; *i ends on its last word. */
static sw_status take_option(const sw_cli_command *command, int argc, char **argv, int *i, void *args,
                             const void *defaults, sw_note *note)
{
    const char *const word = argv[*i];
    const size_t n = strcspn(word + 2, "=");
    const sw_cli_option *const option = word[1] == '-' ? find_option(command, word + 2, n) : NULL;
    const sw_cli_option *const undone =
        strncmp(word, "--no-", 5) == 0 && word[2 + n] == '\0' ? find_option(command, word + 5, n - 3) : NULL;
    if (undone != NULL) {
        undo(undone, args, defaults);
        return SW_OK;
    }
    if (option == NULL)
        return sw_fail(note, SW_BAD_USAGE, "'%s' is not an option of %s; see stencilwright %s --help", word,
                       command->name, command->name);
    const bool has_value = word[2 + n] == '=';
    if (option->kind == SW_CLI_FLAG) {
        if (has_value) return sw_fail(note, SW_BAD_USAGE, "--%s takes no value, '%s' has one", option->name, word);
        return set_field(option, "", args, note);
    }
    if (has_value) return set_field(option, word + 3 + n, args, note);
    if (*i + 1 >= argc) return sw_fail(note, SW_BAD_USAGE, "--%s needs a value: %s", option->name, option->value);
    *i += 1;
    return set_field(option, argv[*i], args, note);
}

#define MAX_OPTIONS_BYTES 1000000u

static sw_status take_line(const sw_cli_command *command, char *line, const char *path, void *args, const char **picture,
                           sw_note *note)
{
    const size_t n = strcspn(line, " \t");
    const char *const value = line[n] != '\0' ? line + n + 1 : line + n;
    if (n == 7 && memcmp(line, "picture", n) == 0) {
        *picture = value;
        return SW_OK;
    }
    const sw_cli_option *const option = find_option(command, line, n);
    if (option == NULL)
        return sw_fail(note, SW_BAD_USAGE, "'%s' has a line '%s' that is not an option of %s", path, line, command->name);
    if ((option->kind == SW_CLI_FLAG) != (*value == '\0'))
        return sw_fail(note, SW_BAD_USAGE, "'%s': %s %s", path, option->name,
                       option->kind == SW_CLI_FLAG ? "takes no value" : "needs a value");
    sw_note why = { 0 };
    const sw_status st = set_field(option, value, args, &why);
    return st == SW_OK ? SW_OK : sw_fail(note, st, "'%s': %s", path, why.text);
}

sw_status sw_cli_read_options(const sw_cli_command *command, const char *path, void *args, char **text,
                              const char **picture, sw_note *note)
{
    uint8_t *bytes = NULL;
    size_t n = 0;
    SW_TRY(sw_file_read(path, MAX_OPTIONS_BYTES, &bytes, &n, note));
    char *const lines = sw_alloc_array(n + 1, 1);
    if (lines != NULL && n > 0) memcpy(lines, bytes, n);
    sw_free(bytes);
    if (lines == NULL) return sw_fail_memory(note, path);
    *text = lines;
    if (strlen(lines) < n) return sw_fail(note, SW_BAD_FILE, "'%s' is not a text file; give a job.options", path);
    static const char byte_order_mark[] = "\xef\xbb\xbf"; /* some editors begin a text with it */
    for (char *p = strncmp(lines, byte_order_mark, 3) == 0 ? lines + 3 : lines; *p != '\0';) {
        const size_t length = strcspn(p, "\r\n");
        char *const next = p + length + (p[length] != '\0');
        p[length] = '\0';
        if (*p != '\0' && *p != '#') SW_TRY(take_line(command, p, path, args, picture, note));
        p = next;
    }
    return SW_OK;
}

sw_status sw_cli_parse(const sw_cli_command *command, int argc, char **argv, void *args, const void *defaults,
                       sw_cli_operands *operands, sw_note *note)
{
    bool is_ended = false;
    operands->n = 0;
    for (int i = 1; i < argc && strcmp(argv[i], "--") != 0; i++)
        operands->is_help = operands->is_help || strcmp(argv[i], "--help") == 0;
    if (operands->is_help) return SW_OK;
    for (int i = 1; i < argc; i++) {
        if (!is_ended && strcmp(argv[i], "--") == 0) {
            is_ended = true;
        } else if (!is_ended && argv[i][0] == '-' && argv[i][1] != '\0') {
            SW_TRY(take_option(command, argc, argv, &i, args, defaults, note));
        } else if (operands->n == operands->max) {
            return sw_fail(note, SW_BAD_USAGE, "'%s' is one argument too many; see stencilwright %s --help", argv[i],
                           command->name);
        } else {
            operands->at[operands->n++] = argv[i];
        }
    }
    return SW_OK;
}
