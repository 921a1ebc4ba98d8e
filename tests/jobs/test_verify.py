"""Whatever is changed, removed, swapped or cut off in the database, verification names it."""

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from jobs.core.seal import canonical, link_hash
from jobs.models import ChainHead, Entry, Job, PersonalDatum
from jobs.queries.verify import verify_all, verify_job
from jobs.triggers import missing_triggers
from tests.forging import drop_trigger, forged, postgresql_only, sqlite_only, without_triggers
from tests.jobs.conftest import Shop

ENTRIES = "jobs_entry"
GROWING = ("entry", "quarantinecheck", "quarantinewatch", "deskevent", "setaside", "disposal")


@pytest.fixture
def told(shop: Shop) -> Shop:
    """A job with five entries."""
    for words in ("one", "two", "three"):
        shop.enter("intake.note", words)
    shop.enter("intake.complaint", "red lamp", by="lorne")
    return shop


def changed(place: int, **columns: Any) -> None:
    with without_triggers(ENTRIES):
        assert Entry.objects.filter(seq=place).update(**columns) == 1


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


@sqlite_only
def test_insert_or_replace_does_not_walk_past_the_triggers(told: Shop) -> None:
    statement = "INSERT OR REPLACE INTO jobs_entry SELECT * FROM jobs_entry WHERE seq = 2"
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
    assert faults(told) == ""


NEAR: dict[type, Callable[[Any], Any]] = {
    bytes: lambda value: value[:-1] + bytes([value[-1] ^ 1]),
    UUID: lambda value: UUID(int=value.int ^ 1),
    datetime: lambda value: value + timedelta(microseconds=1),
    int: lambda value: value + 94,
    str: lambda value: value[:-1] + ("0" if value[-1:] != "0" else "1"),
    type(None): lambda _: {"by": "nobody"},
}
"""Something else of the same kind, as near to the value as can be."""


def another(value: Any) -> Any:
    plain = bytes(value) if isinstance(value, memoryview) else value
    return NEAR[type(plain)](plain)


CHAIN_COLUMNS = [field.name for field in Entry._meta.concrete_fields if field.name != "job"]
NAMED_COLUMNS = {"kind", "item", "qualifier", "value", "person", "at", "effect", "paper", "key"}


@pytest.mark.parametrize("column", CHAIN_COLUMNS)
def test_the_least_change_in_any_column_of_an_entry_is_named_with_its_place(
    told: Shop, column: str
) -> None:
    row = Entry.objects.get(seq=3)
    changed(3, **{column: another(getattr(row, column))})
    found = faults(told)
    assert found.startswith("3: ") or (column == "seq" and "is missing or out of place" in found)
    if column in NAMED_COLUMNS:
        assert found == f"3: the column {column} differs from what was written"


HEAD_COLUMNS = [field.name for field in ChainHead._meta.concrete_fields if field.name != "job"]


@pytest.mark.parametrize("column", HEAD_COLUMNS)
def test_the_least_change_in_any_column_of_a_head_is_found(told: Shop, column: str) -> None:
    head = ChainHead.objects.get()
    ChainHead.objects.update(**{column: another(getattr(head, column))})
    assert "the end of its chain" in faults(told)


def test_an_entry_moved_to_another_job_is_missed_there_and_found_here(
    told: Shop,
) -> None:
    other = Job.objects.create(
        number="W-OTHER",
        customer=Job.objects.get().customer,
        vehicle=Job.objects.get().vehicle,
        opened_at=told.clock.now(),
    )
    changed(3, job=other)
    said = {fault.job: fault.what for fault in verify_all()[1]}
    assert said.keys() == {"W-OTHER", Job.objects.exclude(pk=other.pk).get().number}


def test_true_is_not_held_for_one(told: Shop) -> None:
    told.enter("intake.identity", value=True, by="lorne")
    row = Entry.objects.get(seq=6)
    assert row.value is True
    changed(6, value=1)
    assert faults(told) == "6: the column value differs from what was written"


RAW_COLUMNS = ["canonical", "signature"]


@given(place=st.integers(0, 10_000), bit=st.integers(0, 7), column=st.sampled_from(RAW_COLUMNS))
@hypothesis_settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_one_flipped_bit_anywhere_in_bytes_is_found(
    told: Shop, place: int, bit: int, column: str
) -> None:
    row = Entry.objects.get(seq=3)
    raw = bytearray(bytes(getattr(row, column)))
    raw[place % len(raw)] ^= 1 << bit
    changed(3, **{column: bytes(raw)})
    assert faults(told).startswith("3: ")
    changed(3, **{column: getattr(row, column)})
    assert faults(told) == ""


UNREADABLE = {
    "value": "UPDATE jobs_entry SET value = '{{' WHERE seq = 3",
    "person": "UPDATE jobs_entry SET person = '{{' WHERE seq = 3",
    "at": "UPDATE jobs_entry SET at = '{{' WHERE seq = 3",
}
UNREADABLE_SAID = {
    "value": "3: the column value differs from what was written",
    "person": "3: its columns cannot be read",
    "at": "3: its columns cannot be read",
}


@sqlite_only
@pytest.mark.parametrize("column", UNREADABLE)
def test_a_column_that_cannot_be_read_is_a_fault_and_no_crash(told: Shop, column: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA ignore_check_constraints = ON")
    try:
        forged(ENTRIES, UNREADABLE[column])
    finally:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA ignore_check_constraints = OFF")
    assert UNREADABLE_SAID[column] in faults(told)


def test_changed_bytes_do_not_fit_their_hash(told: Shop) -> None:
    row = Entry.objects.get(seq=3)
    content = json.loads(bytes(row.canonical)) | {"value": "four"}
    forged(
        ENTRIES,
        "UPDATE jobs_entry SET canonical = %s, value = %s WHERE seq = 3",
        canonical(content),
        '"four"',
    )
    assert faults(told) == "3: its bytes do not fit its hash"


def test_an_entry_written_anew_with_its_own_hash_breaks_the_chain_after_it(told: Shop) -> None:
    row = Entry.objects.get(seq=3)
    content = canonical(json.loads(bytes(row.canonical)) | {"value": "four"})
    forged(
        ENTRIES,
        "UPDATE jobs_entry SET canonical = %s, value = %s, hash = %s WHERE seq = 3",
        content,
        '"four"',
        link_hash(row.previous, content),
    )
    assert faults(told) == (
        "3: its signature does not fit; 4: it does not follow the entry before it"
    )


def test_a_removed_entry_leaves_a_gap(told: Shop) -> None:
    forged(ENTRIES, "DELETE FROM jobs_entry WHERE seq = 3")
    assert "4: an entry is missing or out of place before 4" in faults(told)


def test_a_cut_tail_shows_against_the_head(told: Shop) -> None:
    forged(ENTRIES, "DELETE FROM jobs_entry WHERE seq = 5")
    assert faults(told) == "4: the chain has 4 entries, its head says 5"


def test_a_cut_tail_with_its_head_wound_back_bears_no_signature(told: Shop) -> None:
    last = Entry.objects.get(seq=4)
    forged(ENTRIES, "DELETE FROM jobs_entry WHERE seq = 5")
    ChainHead.objects.update(count=4, hash=last.hash)
    assert faults(told) == "0: the signature of the end of its chain does not fit"
    told.enter("intake.note", "four")
    assert faults(told) == "0: the end of its chain is not signed"


def test_swapped_entries_are_out_of_place(told: Shop) -> None:
    for before, after in ((2, 99), (3, 2), (99, 3)):
        forged(ENTRIES, "UPDATE jobs_entry SET seq = %s WHERE seq = %s", after, before)
    assert "2: it does not follow the entry before it" in faults(told)


def test_a_missing_head_and_a_changed_head_are_found(told: Shop) -> None:
    ChainHead.objects.update(hash="0" * 64)
    assert faults(told) == (
        "0: the signature of the end of its chain does not fit; "
        "5: the last entry does not fit the head of the chain"
    )
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
    drop_trigger("jobs_entry_no_update")
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
    forged(ENTRIES, "DELETE FROM jobs_entry WHERE seq = 5")
    with pytest.raises(SystemExit) as stopped:
        call_command("verify", number)
    assert stopped.value.code == 1
    assert f"job {number}, entry 4" in capsys.readouterr().out
    with pytest.raises(SystemExit):
        call_command("verify", "nowhere")


WEAKENED = {
    "disabled": "ALTER TABLE jobs_entry DISABLE TRIGGER jobs_entry_no_update",
    "later": """
        CREATE OR REPLACE TRIGGER jobs_entry_no_update AFTER UPDATE ON jobs_entry
        FOR EACH ROW EXECUTE FUNCTION jobs_entry_refuse()
    """,
    "sometimes": """
        CREATE OR REPLACE TRIGGER jobs_entry_no_update BEFORE UPDATE ON jobs_entry
        FOR EACH ROW WHEN (NEW.seq > 999) EXECUTE FUNCTION jobs_entry_refuse()
    """,
    "empty": """
        CREATE OR REPLACE FUNCTION jobs_entry_refuse() RETURNS trigger LANGUAGE plpgsql AS
        'BEGIN RETURN NEW; END'
    """,
}


@postgresql_only
@pytest.mark.parametrize("how", WEAKENED)
def test_a_weakened_trigger_is_named(told: Shop, how: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute(WEAKENED[how])
    assert "jobs_entry_no_update" in missing_triggers()


@postgresql_only
@pytest.mark.parametrize("table", [f"jobs_{name}" for name in GROWING])
def test_no_table_that_only_grows_is_emptied_at_once(told: Shop, table: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"TRUNCATE {table} CASCADE")
