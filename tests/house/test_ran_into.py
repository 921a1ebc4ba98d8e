"""What offline programs of other trades ran into, and which tests play each of it here.

The table is the list; the tests below hold that every play it names is there.
"""

import re
from pathlib import Path

import pytest

from tests.house.sources import ROOT

LOAD = "tests/workshop/serving/test_under_load.py"
OUTBOX = "tests/browser/test_outbox.py"
FAULTS = "tests/browser/test_outbox_faults.py"
PLAIN = "tests/browser/test_plain_http.py"
RENEWAL = "tests/workshop/serving/test_renewal.py"
NAME = "tests/workshop/serving/test_local_name.py"
HTTPS = "tests/workshop/serving/test_https.py"
UPDATE = "tests/browser/test_update.py"
KEYS = "tests/browser/test_offline_keyboard.py"
BACK_UP = "tests/workshop/serving/test_up_and_backups.py"
LOG = "tests/workshop/serving/test_damaged_log.py"
FULL = "tests/workshop/serving/test_full_disk.py"
STAYS = f"{FAULTS}::test_an_entry_stays_whatever_comes_back_and_is_recorded_once"

PLAYS: dict[str, tuple[str, ...]] = {
    "many sendings of one entry at once were taken twice": (
        f"{LOAD}::test_one_key_sent_at_once_by_many_is_one_entry_with_one_answer",
    ),
    "an entry without an identifier of its own was taken": (
        f"{LOAD}::test_an_entry_without_a_proper_key_is_refused",
    ),
    "a lost request or answer doubled an entry, or showed it as sent": (
        STAYS,
        "tests/jobs/test_soak.py::test_a_short_soak_loses_nothing_and_doubles_nothing",
    ),
    "the tablet's copy was deleted although sending had failed": (STAYS,),
    "an entry was edited after half a sending: other content under one key": (
        "tests/jobs/test_sync.py::test_a_used_key_with_other_content_answers_409",
        f"{LOAD}::test_one_key_sent_at_once_by_many_is_one_entry_with_one_answer",
    ),
    "sending begun without a network never went on": (
        f"{OUTBOX}::test_entries_made_without_network_arrive_once_and_in_order",
        STAYS,
    ),
    "a double tap made two entries": (f"{OUTBOX}::test_a_double_tap_makes_one_entry",),
    "page or worker was killed while something was sent": (
        f"{FAULTS}::test_a_page_that_is_killed_while_it_sends_loses_nothing",
        f"{FAULTS}::test_a_worker_that_is_killed_while_an_entry_is_sent_loses_nothing",
    ),
    "two tabs sent at once and doubled": (
        f"{OUTBOX}::test_three_tabs_send_each_entry_once",
        f"{PLAIN}::test_three_tabs_send_each_entry_once_by_the_lease",
        f"{PLAIN}::test_a_tab_that_dies_with_the_lease_holds_nobody_up_for_good",
    ),
    "the browser closed the store in the background": (
        f"{OUTBOX}::test_a_store_that_the_browser_closed_is_opened_again",
        f"{OUTBOX}::test_without_a_store_an_entry_goes_directly_or_stays_in_its_form",
    ),
    "entries with pictures failed at random": (
        f"{OUTBOX}::test_a_picture_waits_beside_readings_and_arrives_with_its_entry",
    ),
    "stored files could not be read again, or data were gone": (
        f"{OUTBOX}::test_a_picture_waits_beside_readings_and_arrives_with_its_entry",
        "tests/jobs/test_wire.py::test_a_gap_is_told_after_a_while_and_closed_by_what_arrives",
        "tests/jobs/test_set_aside.py::test_an_entry_that_arrives_after_all_is_taken_and_told",
    ),
    "the page was loaded anew when the camera opened": (
        f"{FAULTS}::test_what_is_half_typed_is_there_when_the_camera_has_made_the_page_load_anew",
    ),
    "the store was full and nobody was told": (
        f"{FAULTS}::test_without_room_a_picture_is_refused_in_words_and_a_reading_is_kept",
    ),
    "the time a client sent skipped a check": (
        "tests/jobs/test_tablet_time.py::test_a_wait_is_not_over_because_a_tablet_says_so",
        "tests/jobs/test_wire.py::test_the_tablets_own_time_opens_nothing",
    ),
    "a certificate only clicked through brought no worker, and nobody said so": (
        f"{PLAIN}::test_a_certificate_that_was_only_clicked_through_is_told_as_less",
        f"{PLAIN}::test_the_start_page_says_what_works_with_less",
        f"{PLAIN}::test_readings_wait_and_a_signature_needs_the_connection",
        f"{PLAIN}::test_a_reload_while_the_server_is_away_keeps_what_waits",
    ),
    "a read that turned into a write found the database locked": (
        f"{LOAD}::test_reading_and_then_writing_at_once_never_finds_the_database_locked",
    ),
    "a damaged database left people without a way back": (
        "tests/workshop/backups/test_damage.py::test_each_damage_is_found_and_nothing_is_changed",
        f"{BACK_UP}::test_a_restore_brings_back_the_data_and_the_shop_starts",
    ),
    "a log beside the database was damaged, and entries were gone without a word": (
        f"{LOG}::test_what_a_damaged_log_lost_is_said_and_comes_back_from_the_tablets",
        f"{LOG}::test_what_nothing_on_the_server_misses_the_tablets_bring_back",
    ),
    "the server's disk was full": (
        f"{FULL}::test_a_disk_that_fills_up_under_tablets_loses_nothing_and_spoils_nothing",
        f"{FULL}::test_a_start_on_a_full_disk_is_refused_in_words_and_nothing_is_called_damaged",
        STAYS,
    ),
    "a restore lost what tablets had sent since": (
        f"{LOAD}::test_after_a_restore_receipts_sent_again_are_recorded_exactly_once",
        f"{FAULTS}::test_after_a_restore_the_receipts_go_again_and_nothing_is_doubled",
    ),
    "a library with a known fault was used": (
        "tests/workshop/serving/test_sqlite.py::test_a_version_with_the_fault_is_known",
    ),
    "the database file was copied by the server itself": (
        "tests/house/test_database_file.py::test_no_code_opens_copies_or_moves_the_live_database",
    ),
    "the data lay on a network drive": (
        "tests/workshop/serving/test_data_folder.py::test_a_network_drive_is_refused",
    ),
    "the server did not stop, or did not end its requests": (
        f"{LOAD}::test_it_stops_in_time_under_load_and_loses_nothing_it_acknowledged",
        f"{LOAD}::test_each_request_is_ended_as_wsgi_asks",
        f"{RENEWAL}::test_a_server_told_to_begin_anew_keeps_both_doors_and_one_worker",
    ),
    "two services told the network one name, or a wrong address": (
        f"{NAME}::test_where_another_service_answers_this_one_keeps_quiet",
        f"{NAME}::test_a_computer_in_two_networks_is_told_with_both_addresses",
        f"{RENEWAL}::test_an_address_that_stays_is_answered_by_and_one_that_passes_is_not",
    ),
    "the home screen's page did not see what the browser had stored": (
        f"{HTTPS}::test_the_page_stands_on_the_home_screen_before_anything_is_entered",
    ),
    "forms sent by htmx were lost without a network": (
        "tests/house/test_record_is_not_changed.py::test_no_page_of_a_job_is_sent_by_htmx",
    ),
    "rows were changed past their history": (
        "tests/house/test_record_is_not_changed.py::test_no_code_changes_what_only_grows",
    ),
    "an update took what was unsent or half typed": (
        f"{UPDATE}::test_a_new_release_waits_for_what_is_unsent_and_then_comes",
        f"{UPDATE}::test_a_new_release_waits_for_what_is_half_typed_and_then_comes",
    ),
    "what waited could be reached with a pointer only": (
        f"{KEYS}::test_what_waits_is_entered_found_and_sent_by_keys_alone",
    ),
}


@pytest.mark.parametrize("trouble", PLAYS)
def test_each_trouble_is_played_by_tests_that_are_there(trouble: str) -> None:
    assert PLAYS[trouble]
    missing = []
    for play in PLAYS[trouble]:
        file, _, name = play.partition("::")
        path = ROOT / Path(file)
        there = path.is_file() and re.search(
            rf"^def {re.escape(name)}\(", path.read_text(encoding="utf-8"), re.MULTILINE
        )
        if not there:
            missing.append(play)
    assert missing == []
