//! One contract, held on every place that a store can be: SQLite with a folder, SQLite with a bucket, PostgreSQL with a bucket.
//!
//! The bucket's server runs within the test. PostgreSQL is the server that `KERF_TEST_POSTGRES` names, in which databases can be made;
//! `cargo xtask test` starts one where it is installed. Without it the third place is left out, but not in continuous integration.

mod accounts;
mod bench;
mod bucket;
mod class;
#[path = "../common/mod.rs"]
mod common;
mod copied;
mod gone;
mod gradings;
mod kept;

use bench::{Backend, on};

/// Each story on each place.
macro_rules! contract {
    ($($part:ident: $($story:ident),+;)+) => {
        mod in_a_folder { $(mod $part { $(#[tokio::test] async fn $story() {
            crate::on(crate::Backend::Folder, crate::$part::$story).await;
        })+ })+ }
        mod in_a_bucket { $(mod $part { $(#[tokio::test] async fn $story() {
            crate::on(crate::Backend::Bucket, crate::$part::$story).await;
        })+ })+ }
        mod on_postgres { $(mod $part { $(#[tokio::test] async fn $story() {
            crate::on(crate::Backend::Postgres, crate::$part::$story).await;
        })+ })+ }
    };
}

contract! {
    class: a_roster_is_taken_in_whole_and_again_without_change, learners_without_codes_get_free_ones_and_keep_them, a_document_becomes_rows, the_same_attempt_again_is_the_same_attempt, numbers_go_in_the_order_in_which_they_were_reserved, a_class_is_asked_by_who_and_what, the_readings_of_a_class_are_those_of_the_latest_document, an_override_stands_beside_the_computed_grade, ratings_are_kept_all_or_none, another_word_makes_another_version_of_an_exercise, an_attempt_goes_from_one_store_to_another_with_all_that_hangs_on_it;
    kept: the_same_bytes_are_one_scan, what_ran_when_the_program_ended_waits_again, an_attempt_needs_scans_that_are_kept, a_removed_remark_can_be_brought_back;
    gone: a_deleted_learner_leaves_no_trace, a_deleted_cohort_takes_its_own_learners_along, erased_names_leave_no_trace_and_codes_stay, old_scans_go_and_their_readings_stay, a_deletion_that_broke_off_is_finished_at_the_next_start, what_is_measured_of_a_deleted_learner_is_not_kept;
    accounts: an_account_is_one_however_it_is_written, signing_in_ends, an_account_that_goes_is_signed_out, the_trail_names_who,
        scans_belong_to_who_sent_them, own_exercises_stay;
    copied: all_of_it_goes_into_a_folder_and_back, what_is_damaged_or_breaks_off_leaves_nothing_there, every_table_is_copied_or_left_for_a_reason;
    gradings: a_code_is_graded_once_and_its_second_sight_is_the_next_occasion, a_deleted_learner_leaves_no_place_on_a_sheet;
}
