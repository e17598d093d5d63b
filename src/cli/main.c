/* Picks the command. */
#include "cli/cli.h"

#include <signal.h>
#include <stdio.h>
#include <string.h>

const sw_cli_command *const sw_cli_commands[] = { &sw_cli_cut, &sw_cli_check, &sw_cli_wall, NULL };

static const sw_cli_command *find_command(const char *name)
{
    for (size_t i = 0; sw_cli_commands[i] != NULL; i++) {
        if (strcmp(sw_cli_commands[i]->name, name) == 0) return sw_cli_commands[i];
    }
    return NULL;
}

/* stencilwright help [COMMAND | --man | --bash] */
static int help_about(const char *what)
{
    if (what == NULL || strcmp(what, "--help") == 0 || strcmp(what, "help") == 0) return sw_cli_help(NULL);
    if (strcmp(what, "--man") == 0) return sw_cli_manual();
    if (strcmp(what, "--bash") == 0) return sw_cli_completion();
    const sw_cli_command *const command = find_command(what);
    if (command != NULL) return sw_cli_help(command);
    sw_note note = { 0 };
    return sw_cli_fail(sw_fail(&note, SW_BAD_USAGE, "'%s' is not a command; see stencilwright --help", what), &note);
}

static void on_signal(int number)
{
    (void)number;
    sw_interrupt();
}

/* The first signal asks, the second one kills. What the caller ignores (nohup, a shell's background) stays ignored. A
 * file that grows past a limit is an error like a full disk, which takes away what was begun. */
static void set_signals(void)
{
    static const int asking[] = { SIGINT, SIGTERM, SIGHUP };
    struct sigaction action = { .sa_handler = on_signal, .sa_flags = (int)SA_RESETHAND }, before;
    for (size_t i = 0; i < SW_ARRAY_LEN(asking); i++) {
        if (sigaction(asking[i], NULL, &before) == 0 && before.sa_handler != SIG_IGN) sigaction(asking[i], &action, NULL);
    }
    action = (struct sigaction){ .sa_handler = SIG_IGN };
    sigaction(SIGXFSZ, &action, NULL);
}

int main(int argc, char **argv)
{
    const char *const first = argc > 1 ? argv[1] : "";
    const sw_cli_command *const command = find_command(first);
    set_signals();
    sw_memory_keep();
    if (command != NULL) return command->run(command, argc - 1, argv + 1);
    if (strcmp(first, "--help") == 0) return sw_cli_help(NULL);
    if (strcmp(first, "help") == 0) return help_about(argc > 2 ? argv[2] : NULL);
    sw_note note = { 0 };
    sw_status st = SW_BAD_USAGE;
    if (strcmp(first, "--version") == 0) {
        printf("stencilwright %s\n", sw_version());
        st = sw_cli_print("", &note);
    } else if (first[0] == '\0') {
        sw_fail(&note, st, "a command is missing; see stencilwright --help");
    } else {
        sw_fail(&note, st, "'%s' is not a command; see stencilwright --help", first);
    }
    return st == SW_OK ? 0 : sw_cli_fail(st, &note);
}
