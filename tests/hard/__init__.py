"""Hard to break: what is tried → FILE::how the name of the test begins, after ``test_``.

Any input
    any bytes, to every command → test_any_input::any_bytes, test_any_input::random_bytes,
        test_any_input::a_device_without_end
    any values in any place, to every command → test_any_input::any_spec,
        test_any_input::what_once_broke
    the same in front of a browser, or for answers → test_any_input::any_save,
        test_any_input::any_lines
    guided by coverage → `make fuzz` (atheris); what it tried: tests/fuzz
    YAML broken in any line → tests/reading/test_slips
    deep nesting, alias bombs, a great many wires → test_reader::an_attack,
        test_reader::memory_stays
    names and values of a quarter of a megabyte → test_reader::a_long_text_in_any_place
    NUL bytes, line ends, byte-order mark, right to left → test_reader::a_nul_byte,
        test_reader::a_byte_order_mark, test_reader::writing_from_right_to_left
A spec from a stranger
    nothing outside its folder is read, nothing else written, nothing run →
        test_stranger::nothing_outside, test_stranger::an_image_outside,
        test_stranger::a_file_that_is_not_an_image
    what lies beside it does not run → test_stranger::modules_and_settings, test_stranger::nor_do
    hostile text is text → test_stranger::hostile_text, test_stranger::control_characters
Faults
    every writer on a full disk, and killed → test_faults::every_writer
    disk full → test_faults::a_disk_that_is_full, test_faults::standard_output_on_a_full_disk,
        test_faults::the_help_on_a_full_disk
    output folder missing or read-only → test_faults::the_output_folder
    killed or interrupted in the middle → test_faults::killed_at_any_moment,
        test_faults::what_a_killed_run_left, test_faults::ctrl_c, test_faults::readings
    a closed pipe, no terminal → test_faults::a_pipe_closed, test_faults::a_run_with_closed_streams,
        test_faults::a_picture_drawn_without, test_faults::an_answer_that_nobody_types
    a locale that is not UTF-8, a narrow terminal → test_faults::a_locale, test_faults::a_narrow
    two runs that write one file → test_faults::two_runs
    ended from outside → test_endings::no_worker_outlives, test_endings::what_was_typed
    a fault of the program is no answer → test_endings::a_fault_of_the_program
    landings written at once → test_endings::four_landings
    pipes, folders that are gone, bounds that are none → test_endings::a_pipe, test_endings::a_spec,
        test_endings::a_folder, test_endings::no_bound, test_endings::help_into_a_pipe
    nothing to draw, other endings of a name, an image many times → test_endings::nothing_to_draw,
        test_endings::a_picture_is, test_endings::an_image_under
    figures without a unit, of nothing, of no time → test_endings::what_was_found,
        test_endings::a_figure, test_endings::a_time_limit
Every command on every kind of spec → test_every_command::every_command, test_every_command::taps
The same bytes everywhere → test_same_bytes::every_command, test_same_bytes::every_file
A newcomer's mistakes → test_newcomer::a_mistake
"""
