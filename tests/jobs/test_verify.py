"""Whatever is changed, removed, swapped or cut off in the database, verification names it."""

import json
from collections.abc import Callable

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction

from jobs.core.seal import canonical, link_hash
from jobs.models import ChainHead, Entry, Job, PersonalDatum
from jobs.queries.verify import verify_all, verify_job
from jobs.triggers import create_triggers, missing_triggers
from tests.jobs.conftest import Shop


@pytest.fixture
def told(shop: Shop) -> Shop:
    """A job with five entries."""
    for words in ("one", "two", "three"):
        shop.enter("intake.note", words)
    shop.enter("intake.complaint", "red lamp", by="lorne")
    return shop


def forged(statement: str, *values: str | int | bytes) -> None:
    """Do with the database what the triggers refuse, as somebody with its file could."""
    with connection.cursor() as cursor:
        for name in ("jobs_entry_no_update", "jobs_entry_no_delete", "jobs_entry_no_replace"):
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}")
        cursor.execute(statement, values)
    create_triggers()


def faults(shop: Shop) -> str:
    found = verify_job(Job.objects.get(pk=shop.job).id)
    return "; ".join(f"{fault.seq}: {fault.what}" for fault in found)


def test_an_untouched_record_is_sound(told: Shop) -> None:
    assert verify_all() == (1, ())
    assert ChainHead.objects.get().count == 5


@pytest.mark.parametrize(
    "write",
    [
        lambda entry: Entry.objects.filter(pk=entry.pk).update(person=entry.key),
        lambda entry: Entry.objects.filter(pk=entry.pk).delete(),
        lambda entry: entry.save(),
    ],
    ids=["update", "delete", "save"],
)
def test_the_database_itself_refuses_to_change_or_delete_an_entry(
    told: Shop, write: Callable[[Entry], object]
) -> None:
    entry = Entry.objects.get(seq=2)
    with pytest.raises(IntegrityError), transaction.atomic():
        write(entry)
    assert faults(told) == ""


def test_insert_or_replace_does_not_walk_past_the_triggers(told: Shop) -> None:
    statement = "INSERT OR REPLACE INTO jobs_entry SELECT * FROM jobs_entry WHERE seq = 2"
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
    assert faults(told) == ""


CHANGES = {
    "person": "UPDATE jobs_entry SET person = '00000000000000000000000000000000' WHERE seq = 3",
    "item": "UPDATE jobs_entry SET item = 'intake.other' WHERE seq = 3",
    "value": "UPDATE jobs_entry SET value = '\"four\"' WHERE seq = 3",
    "at": "UPDATE jobs_entry SET at = '2026-03-01 08:00:00' WHERE seq = 3",
    "kind": "UPDATE jobs_entry SET kind = 'sign' WHERE seq = 3",
    "effect": "UPDATE jobs_entry SET effect = 'closes_pack' WHERE seq = 3",
    "qualifier": "UPDATE jobs_entry SET qualifier = 'x=y' WHERE seq = 3",
}


@pytest.mark.parametrize("column", CHANGES)
def test_a_changed_column_is_named_with_its_place(told: Shop, column: str) -> None:
    forged(CHANGES[column])
    assert faults(told) == f"3: the column {column} differs from what was written"


def test_changed_bytes_do_not_fit_their_hash(told: Shop) -> None:
    row = Entry.objects.get(seq=3)
    content = json.loads(bytes(row.canonical)) | {"value": "four"}
    forged(
        "UPDATE jobs_entry SET canonical = %s, value = %s WHERE seq = 3",
        canonical(content),
        '"four"',
    )
    assert faults(told) == "3: its bytes do not fit its hash"


def test_an_entry_written_anew_with_its_own_hash_breaks_the_chain_after_it(told: Shop) -> None:
    row = Entry.objects.get(seq=3)
    content = canonical(json.loads(bytes(row.canonical)) | {"value": "four"})
    forged(
        "UPDATE jobs_entry SET canonical = %s, value = %s, hash = %s WHERE seq = 3",
        content,
        '"four"',
        link_hash(row.previous, content),
    )
    assert faults(told) == "4: it does not follow the entry before it"


def test_a_removed_entry_leaves_a_gap(told: Shop) -> None:
    forged("DELETE FROM jobs_entry WHERE seq = 3")
    assert "4: an entry is missing or out of place before 4" in faults(told)


def test_a_cut_tail_shows_against_the_head(told: Shop) -> None:
    forged("DELETE FROM jobs_entry WHERE seq = 5")
    assert faults(told) == "4: the chain has 4 entries, its head says 5"


def test_swapped_entries_are_out_of_place(told: Shop) -> None:
    for before, after in ((2, 99), (3, 2), (99, 3)):
        forged("UPDATE jobs_entry SET seq = %s WHERE seq = %s", after, before)
    assert "2: it does not follow the entry before it" in faults(told)


def test_a_missing_head_and_a_changed_head_are_found(told: Shop) -> None:
    ChainHead.objects.update(hash="0" * 64)
    assert faults(told) == "5: the last entry does not fit the head of the chain"
    ChainHead.objects.all().delete()
    assert faults(told) == "0: the head of its chain is missing"


def test_a_job_said_to_be_closed_without_its_entry_is_found(told: Shop) -> None:
    Job.objects.update(closed_at=told.clock.now())
    assert faults(told) == "0: the column closed_at differs from what the entries say"


def test_changed_personal_words_are_found_and_erased_ones_are_not_a_fault(told: Shop) -> None:
    PersonalDatum.objects.update(text="green lamp")
    assert faults(told) == "0: the personal words for intake.complaint were changed"
    PersonalDatum.objects.update(text="", salt="", erased_at=told.clock.now())
    assert faults(told) == ""


def test_a_missing_trigger_is_named_and_made_again(told: Shop) -> None:
    with connection.cursor() as cursor:
        cursor.execute("DROP TRIGGER jobs_entry_no_update")
    assert missing_triggers() == ("jobs_entry_no_update",)
    call_command("guard")
    assert missing_triggers() == ()


def test_the_command_says_what_is_wrong_and_exits_1(
    told: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    number = Job.objects.get().number
    call_command("verify")
    call_command("verify", number)
    assert "Verified: 1 jobs" in capsys.readouterr().out
    forged("DELETE FROM jobs_entry WHERE seq = 5")
    with pytest.raises(SystemExit) as stopped:
        call_command("verify", number)
    assert stopped.value.code == 1
    assert f"job {number}, entry 4" in capsys.readouterr().out
    with pytest.raises(SystemExit):
        call_command("verify", "nowhere")
