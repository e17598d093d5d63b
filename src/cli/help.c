/* Help, the man page and the completion script, all from the same tables. */
#include "cli/cli.h"

#include <stdio.h>
#include <string.h>

#define HELP_COLUMN 28
#define HELP_WIDTH 96

static const char caution[] =
    "Spray paint: respirator, fresh air, no flame or spark near. Laser cutting: fumes are led away, never PVC or vinyl, "
    "never unattended. Ladders and lifts: on firm ground, with a second person. The product's data sheet, local codes "
    "and licensed practice decide, not this program.";

/* Prints words wrapped at HELP_WIDTH, every line indented; the first one continues at column. */
static void print_wrapped(const char *text, size_t column, size_t indent)
{
    bool is_spaced = false; /* a space is owed; at the end of a line it is not paid */
    while (*text != '\0') {
        const size_t n = strcspn(text, " \n");
        if (column + is_spaced + n > HELP_WIDTH && column > indent) {
            printf("\n%*s", (int)indent, "");
            column = indent;
            is_spaced = false;
        }
        printf("%s%.*s", is_spaced ? " " : "", (int)n, text);
        column += is_spaced + n;
        text += n;
        is_spaced = *text == ' ';
        if (*text == '\n') {
            printf("\n%*s", (int)indent, "");
            column = indent;
        }
        if (*text != '\0') text++;
    }
    printf("\n");
}

static const sw_cli_option undoing = { .name = "no-NAME",
                                       .help = "Option NAME as if it had not been given before, here or in a file." };

/* The default stands after the first paragraph: after a list it would look like a word of its last line. */
static void print_option(const sw_cli_option *option)
{
    const int n = printf("  --%s%s%s", option->name, option->value != NULL ? " " : "",
                         option->value != NULL ? option->value : "");
    size_t column = (size_t)n;
    if (column + 2 > HELP_COLUMN) {
        printf("\n");
        column = 0;
    }
    printf("%*s", (int)(HELP_COLUMN - column), "");
    sw_text text = { 0 };
    const size_t n_first = strcspn(option->help, "\n");
    sw_text_add_bytes(&text, option->help, n_first);
    if (option->fallback != NULL) sw_text_addf(&text, " [%s]", option->fallback);
    sw_text_add(&text, option->help + n_first);
    print_wrapped(text.data != NULL ? text.data : option->help, HELP_COLUMN, HELP_COLUMN);
    sw_text_free(&text);
}

/* What was printed has arrived, or the failure is told. */
static int end_status(void)
{
    sw_note note = { 0 };
    const sw_status st = sw_cli_print("", &note);
    return st == SW_OK ? 0 : sw_cli_fail(st, &note);
}

int sw_cli_help(const sw_cli_command *command)
{
    if (command != NULL) {
        printf("stencilwright %s %s [options]\n\n", command->name, command->operands);
        print_wrapped(command->about, 0, 0);
        printf("\n");
        for (size_t i = 0; i < command->n_options; i++) print_option(&command->options[i]);
        print_option(&undoing);
        printf("  %-*s%s\n\n", HELP_COLUMN - 2, "--help", "This text.");
        print_wrapped(caution, 0, 0);
        return end_status();
    }
    printf("stencilwright: from one picture and a few measurements to paint stencils that can be cut\n\n");
    for (size_t i = 0; sw_cli_commands[i] != NULL; i++)
        printf("  stencilwright %s %s\n      %s\n", sw_cli_commands[i]->name, sw_cli_commands[i]->operands,
               sw_cli_commands[i]->summary);
    printf("  stencilwright COMMAND --help\n      everything about a command\n"
           "  stencilwright help --man, help --bash\n      the manual page; completion for bash\n"
           "  stencilwright --version\n\n"
           "Exit status: 0 done and proved; 1 the picture cannot be held as asked; 2 wrong usage or bad input;\n"
           "3 the system failed.\n\n");
    print_wrapped(caution, 0, 0);
    return end_status();
}

/* roff: a line must not begin with '.' or ''', and '-' and '\' are escaped. */
static void print_roff(const char *text)
{
    bool is_line_start = true;
    for (const char *p = text; *p != '\0'; p++) {
        if (is_line_start && (*p == '.' || *p == '\'')) printf("\\&");
        if (*p == '\\') printf("\\e");
        else if (*p == '-') printf("\\-");
        else if (*p == '\n') printf("\n.br\n");
        else putchar(*p);
        is_line_start = *p == '\n';
    }
    printf("\n");
}

int sw_cli_manual(void)
{
    printf(".TH STENCILWRIGHT 1 \"\" \"stencilwright %s\" \"User commands\"\n", sw_version());
    printf(".SH NAME\nstencilwright \\- paint stencils from a picture, ready to cut\n.SH SYNOPSIS\n");
    for (size_t i = 0; sw_cli_commands[i] != NULL; i++)
        printf(".B stencilwright %s\n.I %s\n[options]\n.br\n", sw_cli_commands[i]->name, sw_cli_commands[i]->operands);
    printf(".B stencilwright help\n[\\-\\-man | \\-\\-bash]\n.br\n.B stencilwright \\-\\-version\n");
    for (size_t i = 0; sw_cli_commands[i] != NULL; i++) {
        const sw_cli_command *const command = sw_cli_commands[i];
        printf(".SH COMMAND %s\n", command->name);
        print_roff(command->about);
        for (size_t o = 0; o < command->n_options; o++) {
            const sw_cli_option *const option = &command->options[o];
            printf(".TP\n.B \\-\\-%s", option->name);
            if (option->value != NULL) printf(" \\fI%s\\fR", option->value);
            printf("\n");
            print_roff(option->help);
            if (option->fallback != NULL) printf("Default: %s.\n", option->fallback);
        }
        printf(".TP\n.B \\-\\-%s\n%s\n", undoing.name, undoing.help);
        printf(".TP\n.B \\-\\-help\nEverything about the command.\n");
    }
    printf(".SH EXIT STATUS\n0 done and proved; 1 the picture cannot be held as asked; 2 wrong usage or bad input; "
           "3 the system failed (disk, memory).\n.SH CAUTIONS\n");
    print_roff(caution);
    return end_status();
}

int sw_cli_completion(void)
{
    printf("# bash completion for stencilwright\n_stencilwright()\n{\n    local word=${COMP_WORDS[COMP_CWORD]}\n"
           "    local before=${COMP_WORDS[COMP_CWORD-1]}\n    if [ \"$COMP_CWORD\" -eq 1 ]; then\n"
           "        COMPREPLY=($(compgen -W \"");
    for (size_t i = 0; sw_cli_commands[i] != NULL; i++) printf("%s ", sw_cli_commands[i]->name);
    printf("--help --version\" -- \"$word\"))\n        return\n    fi\n    case ${COMP_WORDS[1]} in\n");
    for (size_t i = 0; sw_cli_commands[i] != NULL; i++) {
        const sw_cli_command *const command = sw_cli_commands[i];
        printf("    %s)\n        case $before in\n", command->name);
        for (size_t o = 0; o < command->n_options; o++) {
            const sw_cli_option *const option = &command->options[o];
            if (option->kind != SW_CLI_CHOICE) continue;
            printf("        --%s) COMPREPLY=($(compgen -W \"", option->name);
            for (const char *p = option->choices; *p != '\0'; p++) putchar(*p == '|' ? ' ' : *p);
            printf("\" -- \"$word\")); return ;;\n");
        }
        printf("        esac\n        case $word in\n        --no-*) COMPREPLY=($(compgen -W \"");
        for (size_t o = 0; o < command->n_options; o++) printf("--no-%s ", command->options[o].name);
        printf("\" -- \"$word\")) ;;\n        -*) COMPREPLY=($(compgen -W \"");
        for (size_t o = 0; o < command->n_options; o++) printf("--%s ", command->options[o].name);
        printf("--help\" -- \"$word\")) ;;\n        esac ;;\n");
    }
    printf("    esac\n}\ncomplete -o default -F _stencilwright stencilwright\n");
    return end_status();
}
