//! The tests that hold on either engine, by name. What `both` makes of them is the engine's.

both! {
    apart {
        a_second_program_is_not_mixed_in_where_locks_do_not_reach
        what_got_in_before_its_answer_was_lost_is_not_added_twice
    }
    basics {
        what_goes_in_comes_out
        what_is_whole_already_is_kept_at_once
        open_records_and_those_of_one_object_are_listed
        a_name_may_be_given_in_part
        nothing_follows_the_end
        many_that_make_the_same_file_at_once_all_write_to_it
    }
    copied {
        all_of_it_is_the_same_elsewhere
        what_is_broken_is_left_and_named
        an_account_is_not_taken_over
        a_backup_is_made_while_others_write
    }
    first {
        a_database_of_the_first_edition_is_brought_forward
    }
    meddling {
        a_changed_reading_is_named_with_its_moment
        what_was_cut_is_named
        what_changed_places_is_named
        what_was_added_or_came_from_elsewhere_is_named
        the_list_cannot_hide_an_open_record
        changed_findings_are_named
        a_changed_signature_is_named
        a_signature_that_was_moved_is_named_where_it_lies
        nothing_is_changed_or_taken_out_while_the_guards_stand
        a_printed_code_is_found_at_its_event
    }
    meeting {
        two_that_wrote_apart_have_the_same_afterwards_and_nothing_moves_again
        what_two_kept_alike_is_told_once
        a_batch_that_comes_twice_is_taken_once
        what_two_wrote_on_one_record_stands_in_two_entries
        what_was_changed_on_the_way_is_refused_by_name
        what_comes_before_what_it_follows_is_told_and_taken_when_it_comes_again
        the_same_batches_at_once_are_taken_once
    }
    moving {
        a_record_is_the_same_elsewhere_and_comes_in_once
        no_moment_in_a_file_can_be_changed_unseen
        what_went_on_since_is_added
        two_writers_go_on_with_one_record
        long_records_of_two_writers_are_read_in_order
        a_file_that_is_cut_or_spoiled_is_refused_whole
        readings_of_meters_keep_their_digits
        a_record_that_goes_on_meanwhile_is_whole
    }
    overview {
        an_overview_follows_what_is_kept
        an_overview_is_the_same_wherever_it_came_to
        the_last_test_is_a_real_one_typed_in_or_read_live
        many_that_write_of_one_apparatus_at_once_are_all_counted
        apparatus_are_found_by_name_and_class_in_their_order
    }
    people {
        a_browser_comes_in_until_its_time_is_over_or_it_is_taken_back
        another_password_takes_back_what_the_old_one_let_in
        those_whose_time_is_over_are_cleared_away
    }
    sheets {
        a_sheet_is_written_until_it_is_a_record
        sheets_not_begun_are_listed_the_last_written_first
    }
    signed {
        a_signature_is_of_what_was_before_the_eyes
        what_waits_is_told_until_it_is_signed
        signatures_go_with_the_record
        an_export_of_the_first_form_comes_in
    }
    things {
        a_job_is_kept_once_with_what_it_names
        a_calibration_is_that_of_the_day
        judging_again_stands_beside_what_was_judged
    }
}
