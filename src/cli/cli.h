/*
 * The command line: one table of options a command, from which come parsing, help, the man page and completion.
 */
#ifndef SW_CLI_H
#define SW_CLI_H

#include "job/job.h"

typedef enum sw_cli_kind {
    SW_CLI_FLAG,    /* bool */
    SW_CLI_LENGTH,  /* double in mm, above 0 */
    SW_CLI_LENGTH0, /* double in mm, 0 allowed */
    SW_CLI_COUNT,   /* size_t within min..max */
    SW_CLI_COUNT_AUTO, /* the same, or "auto", which is 0 */
    SW_CLI_PERCENT, /* 0..100 on the command line, double 0..1 in the field */
    SW_CLI_COLOUR,  /* uint32_t 0xrrggbb */
    SW_CLI_CHOICE,  /* int: index in choices */
    SW_CLI_TEXT,    /* const char * */
    SW_CLI_ZONE,    /* appended to the sw_cut_opts at offset: NAME,#rrggbb,PASSES; may be repeated */
    SW_CLI_BED,     /* two doubles in mm: WIDTHxHEIGHT */
    SW_CLI_SET,     /* unsigned: a bit for each of choices, separated by commas */
    SW_CLI_POINTS,  /* double in mm, given in points of 1/72 inch or with a unit */
    SW_CLI_MEASURE, /* double within min..max in the first unit of choices; other units there are turned into it */
    SW_CLI_SIZE,    /* size_t in bytes, given like 600MB */
    SW_CLI_PAINT    /* appended to the sw_cli_paints at offset; may be repeated */
} sw_cli_kind;

typedef struct sw_cli_option {
    const char *name;     /* without the dashes */
    sw_cli_kind kind;
    const char *value;    /* what stands for the value in help; NULL for flags */
    size_t offset;        /* of the field in the command's arguments */
    double min, max;      /* of counts and measures */
    const char *choices;  /* "tone|colour|line", or units */
    const char *fallback; /* the default as text; NULL: none */
    const char *help;
} sw_cli_option;

typedef struct sw_cli_paints {
    uint32_t rgb[SW_CUT_MAX_PAINTS];
    size_t n;
} sw_cli_paints;

typedef struct sw_cli_command {
    const char *name;
    const char *operands;  /* "PICTURE" */
    const char *summary;   /* one line */
    const char *about;     /* paragraphs for help and manual */
    const sw_cli_option *options;
    size_t n_options;
    int (*run)(const struct sw_cli_command *command, int argc, char **argv); /* argv[0] is the command; exit status */
} sw_cli_command;

extern const sw_cli_command sw_cli_cut, sw_cli_check, sw_cli_wall;

/** All commands, ended by NULL. */
extern const sw_cli_command *const sw_cli_commands[];

/** What stands on the command line beside options: pointers into argv, in an array of the caller's with room for max. */
typedef struct sw_cli_operands {
    const char **at;
    size_t max, n;
    bool is_help; /* --help stands anywhere before "--": nothing else was looked at */
} sw_cli_operands;

/**
 * Parse options and operands into args (a struct of the command's own, fields at the table's offsets).
 * Options may stand before or after operands; "--" ends options; "--no-NAME" takes what defaults (a struct like args)
 * says of option NAME. Returns SW_OK, SW_BAD_USAGE, SW_BAD_LENGTH with the argument quoted.
 */
SW_MUST_USE sw_status sw_cli_parse(const sw_cli_command *command, int argc, char **argv, void *args, const void *defaults,
                                   sw_cli_operands *operands, sw_note *note);

/**
 * Read an options file: a line each of "name value" as on the command line without dashes; '#' begins a comment line;
 * "picture PATH" gives the operand when none stands on the command line. Values stay valid until *text is freed with
 * sw_free. Options given on the command line afterwards win.
 * Returns SW_OK, SW_BAD_USAGE, SW_BAD_LENGTH, and what sw_file_read returns.
 */
SW_MUST_USE sw_status sw_cli_read_options(const sw_cli_command *command, const char *path, void *args, char **text,
                                          const char **picture, sw_note *note);

/**
 * When opts->n_passes is 0 (auto), try 1 to 6 on the picture, print the table to standard output unless is_quiet, and
 * put in the number picked. Returns SW_OK, SW_BAD_USAGE (the picture is standard input), what sw_check_picture returns.
 */
SW_MUST_USE sw_status sw_cli_pick_passes(const char *picture, sw_cut_opts *opts, bool is_quiet, sw_note *note);

/** Help of a command, or of the program when command is NULL, to standard output; the exit status. */
int sw_cli_help(const sw_cli_command *command);
/** The man page (roff) and the completion script (bash) of the whole program, to standard output; the exit status. */
int sw_cli_manual(void);
int sw_cli_completion(void);

/** Files that operands stand for. Free with sw_cli_files_free. */
typedef struct sw_cli_files {
    char **at;
    size_t n, cap;
    bool has_folder;
} sw_cli_files;
/**
 * A folder stands for the PNG, JPEG and SVG files in it (by ending, not in folders within), in order of their bytes;
 * everything else for itself, also when it is not there.
 * out: caller frees. Returns SW_OK, SW_BAD_USAGE (nothing in a folder), SW_TOO_LARGE, SW_IO, SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_cli_files_find(const char *const *operands, size_t n, sw_cli_files *out, sw_note *note);
/** NULL and zeroed are fine; leaves it zeroed. */
void sw_cli_files_free(sw_cli_files *files);

/** Print text to standard output, to the last byte. Returns SW_OK, SW_IO. */
SW_MUST_USE sw_status sw_cli_print(const char *text, sw_note *note);

/** Do both names lead to one file? False when either is NULL or not there. What is read must not be written over. */
bool sw_cli_is_same_file(const char *one, const char *two);

/** Print "stencilwright: note" to standard error; returns the exit status of st. */
int sw_cli_fail(sw_status st, const sw_note *note);

/** Progress on standard error: shown only on a terminal and only once the work has lasted half a second. */
typedef struct sw_cli_progress {
    double begun_s;
    bool is_on, is_shown;
} sw_cli_progress;
void sw_cli_progress_begin(sw_cli_progress *progress, bool is_quiet);
void sw_cli_progress_tell(void *ctx, const char *stage, double done_ratio);
void sw_cli_progress_end(sw_cli_progress *progress);

#endif
