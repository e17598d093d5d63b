#!/bin/bash
# Command line cases in the sanitizer build: what the unit tests do not come through, which is src/cli and whole commands
# with their files. A selection that takes a minute or two; make unit-build has built the program.
set -u
cd "$(dirname "$0")/.."
build=${BUILD:-build}/check
case $build in /*) ;; *) build=$PWD/$build ;; esac
export SW=$build/stencilwright ASAN_OPTIONS=exitcode=99 UBSAN_OPTIONS=print_stacktrace=1
tests/cli/run.sh \
    a_job_file_says_where_it_is_wrong a_job_file_with_rubbish bed_with_three_sides beds_and_formats check_finds_an_island \
    check_fix_draws_bridges check_of_several_files help_goes_to_standard_output name_not_utf8 options_can_be_undone \
    replace_replaces_a_job several_pictures_of_odd_names several_pictures_one_bad standard_input_is_read \
    the_manual_is_clean_roff unknown_option wall_fits_and_does_not wall_shows_a_job wall_shows_a_picture_as_sprayed \
    wall_unknown_word width_nan zones
