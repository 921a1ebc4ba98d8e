"""A signed list of heads kept elsewhere shows what this computer's own key wrote anew."""

from datetime import timedelta
from pathlib import Path
from uuid import UUID, uuid4

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from jobs.actions import desk
from jobs.models import ChainHead, DeskEvent, Entry
from jobs.queries.heads import heads_faults, heads_list, read_heads
from jobs.queries.verify import verify_all
from tests.forging import forged
from tests.jobs.conftest import Shop
from tests.jobs.test_signatures import written_anew
from tests.jobs.test_verify import ENTRIES, told
from workshop import signing_keys
from workshop.models import RegisterEvent

__all__ = ["told"]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(settings, "COLDBUS_DATA", tmp_path)
    return tmp_path


@pytest.fixture
def noted(told: Shop) -> Shop:
    """A job with entries and a line in the desk's log, some minutes ago."""
    desk.write_note(
        job_id=told.job,
        key=str(uuid4()),
        text="asks for a loan car",
        by=told.people["lorne"],
        now=told.clock.now(),
    )
    told.clock.advance(timedelta(minutes=5))
    return told


def lost(raw: bytes) -> list[str]:
    return list(heads_faults(read_heads(raw, signing_keys.trusted_keys())))


def own_key(words: bytes) -> bytes:
    return signing_keys.sign(words).signature


def test_a_record_that_grew_continues_the_list(noted: Shop) -> None:
    raw = heads_list(noted.clock.now())
    noted.enter("intake.note", "four")
    assert lost(raw) == []


def test_a_chain_wound_back_with_the_own_key_is_shown_by_the_list_alone(noted: Shop) -> None:
    raw = heads_list(noted.clock.now())
    number = ChainHead.objects.get().job.number
    forged(ENTRIES, "DELETE FROM jobs_entry WHERE seq = 5")
    ChainHead.objects.update(count=4)
    written_anew(own_key, signing_keys.key_name())
    assert verify_all()[1] == ()
    assert lost(raw) == [f"job {number} had 5 entries when the list was made and has fewer now"]


def test_a_chain_written_anew_with_the_own_key_is_another(noted: Shop) -> None:
    raw = heads_list(noted.clock.now())
    number = ChainHead.objects.get().job.number
    written_anew(own_key, signing_keys.key_name(), value="another")
    assert verify_all()[1] == ()
    assert lost(raw) == [f"job {number} is not the one of the list, at entry 5 or before it"]


def test_a_line_taken_out_of_the_desks_log_or_the_registers_is_shown(noted: Shop) -> None:
    RegisterEvent.objects.create(
        subject=uuid4(), number=1, kind="added", at=noted.clock.now() - timedelta(minutes=3)
    )
    raw = heads_list(noted.clock.now())
    assert lost(raw) == []
    RegisterEvent.objects.all().delete()
    forged("jobs_deskevent", "DELETE FROM jobs_deskevent")
    assert lost(raw) == [
        "the desk's log up to the time of the list is not what it was then",
        "the history of the registers up to the time of the list is not what it was then",
    ]


def test_words_erased_on_request_are_no_fault(noted: Shop) -> None:
    raw = heads_list(noted.clock.now())
    assert DeskEvent.objects.exclude(words={}).exists()
    assert desk.erase_words(job_id=UUID(noted.job), now=noted.clock.now()) == 1
    assert lost(raw) == []


def test_a_changed_list_and_one_of_an_unknown_key_are_refused(noted: Shop) -> None:
    raw = heads_list(noted.clock.now())
    keys = signing_keys.trusted_keys()
    with pytest.raises(ValueError, match="was changed"):
        read_heads(raw.replace(b'"count": 5', b'"count": 4'), keys)
    with pytest.raises(ValueError, match="unknown key"):
        read_heads(raw, {})
    for odd in (b"{}", b"[]", b"nothing"):
        with pytest.raises(ValueError, match=r"."):
            read_heads(odd, keys)


def test_the_commands_write_the_list_and_check_against_it(
    folder: Path, noted: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = folder / "heads.json"
    call_command("heads", output=kept)
    noted.enter("intake.note", "four")
    call_command("verify", heads=kept)
    assert "It continues the list of" in capsys.readouterr().out
    assert Entry.objects.count() == 6
    forged(ENTRIES, "DELETE FROM jobs_entry WHERE seq >= 5")
    with pytest.raises(SystemExit):
        call_command("verify", heads=kept)
    assert "had 5 entries when the list was made" in capsys.readouterr().out
    kept.write_text("{}")
    with pytest.raises(CommandError, match="no list of heads"):
        call_command("verify", heads=kept)
