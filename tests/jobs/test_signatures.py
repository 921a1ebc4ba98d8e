"""Every entry and every end of a chain is signed; no other key, and no missing one, passes."""

import io
import json
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from uuid import UUID

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.conf import settings
from django.core.management import CommandError, call_command
from PIL import Image

from jobs.actions.attachments import keep_photo
from jobs.actions.chain import sign_old_heads
from jobs.core.seal import FIRST_PREVIOUS, canonical, entry_words, head_words, link_hash
from jobs.models import ChainHead, Entry, Job
from jobs.queries.verify import verify_all, verify_job
from tests.forging import forged, without_triggers
from tests.jobs.conftest import Shop
from tests.jobs.test_verify import ENTRIES, changed, faults, told
from workshop import signing_keys
from workshop.kept_files import path_of

__all__ = ["told"]


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of its own, with its own key."""
    monkeypatch.setattr(settings, "COLDBUS_DATA", tmp_path)
    return tmp_path


def written_anew(sign: Callable[[bytes], bytes], name: str | None, **change: str) -> None:
    """Write the whole chain again with another value in entry 3, as somebody with a key could."""
    previous = FIRST_PREVIOUS
    with without_triggers(ENTRIES):
        for row in Entry.objects.order_by("seq"):
            content = json.loads(bytes(row.canonical))
            content |= {"previous": previous, "key_id": name}
            content |= change if row.seq == 3 else {}
            written = canonical(content)
            link = link_hash(previous, written)
            Entry.objects.filter(seq=row.seq).update(
                canonical=written,
                previous=previous,
                value=content["value"],
                hash=link,
                signature=sign(entry_words(link)) if name else None,
            )
            previous = link
    head = ChainHead.objects.get()
    words = head_words(str(head.job_id), head.count, previous, head.unsigned)
    ChainHead.objects.update(hash=previous, key_id=name or "", signature=sign(words))


def test_entries_signed_with_another_key_are_named(told: Shop) -> None:
    other = Ed25519PrivateKey.generate()
    written_anew(other.sign, "abcdef0123456789", value="another")
    said = faults(told).split("; ")
    alien = "is signed with a key that is not this workshop's (abcdef0123456789)"
    assert said == [*(f"{n}: it {alien}" for n in range(1, 6)), f"0: the end of its chain {alien}"]


def test_another_key_under_the_name_of_ours_does_not_fit(told: Shop) -> None:
    other = Ed25519PrivateKey.generate()
    written_anew(other.sign, signing_keys.key_name(), value="another")
    said = faults(told).split("; ")
    assert said == [
        *(f"{n}: its signature does not fit" for n in range(1, 6)),
        "0: the signature of the end of its chain does not fit",
    ]


def test_a_chain_stripped_of_all_signatures_is_no_old_one(told: Shop) -> None:
    written_anew(lambda _: b"", None, value="another")
    ChainHead.objects.update(unsigned=5, signature=None)
    assert faults(told) == "0: the end of its chain is not signed"
    call_command("guard")
    ChainHead.objects.update(key_id="")
    call_command("guard")
    assert "the end of its chain is not signed" in faults(told)


def test_a_signature_put_into_another_entry_does_not_fit(told: Shop) -> None:
    changed(3, signature=Entry.objects.get(seq=2).signature)
    assert faults(told) == "3: its signature does not fit"
    changed(3, signature=None)
    assert faults(told) == "3: its signature is missing"


def test_what_is_older_than_signatures_is_sound_and_what_follows_is_signed(told: Shop) -> None:
    written_anew(lambda _: b"", None)
    ChainHead.objects.update(signature=None)
    assert sign_old_heads() == 1
    assert faults(told) == ""
    told.enter("intake.note", "four")
    assert faults(told) == ""
    assert ChainHead.objects.get().unsigned == 5
    changed(5, signature=b"x" * 64)
    assert faults(told) == "5: it bears a signature though it is older than signatures"
    assert sign_old_heads() == 0


def test_what_a_former_key_signed_stays_sound_and_it_signs_no_more(told: Shop) -> None:
    former = signing_keys.sign
    told.clock.advance(timedelta(minutes=1))
    signing_keys.follow(told.clock.now())
    told.clock.advance(timedelta(minutes=1))
    told.enter("intake.note", "four")
    assert faults(told) == ""
    assert former is signing_keys.sign
    names = {json.loads(bytes(row.canonical))["key_id"] for row in Entry.objects.all()}
    assert names == set(signing_keys.trusted_keys())


def test_what_bears_a_time_after_its_keys_end_is_a_fault(told: Shop, folder: Path) -> None:
    private = (folder / "signing_key.pem").read_bytes()
    told.clock.advance(timedelta(minutes=1))
    signing_keys.follow(told.clock.now())
    (folder / "signing_key.pem").write_bytes(private)
    told.clock.advance(timedelta(minutes=1))
    told.enter("intake.note", "four")
    assert "6: it was signed after the key" in faults(told)


def test_a_replaced_photo_is_named(told: Shop) -> None:
    written = io.BytesIO()
    Image.new("RGB", (20, 20), "orange").save(written, "JPEG")
    sha256, _ = keep_photo(
        job_id=told.job, raw=written.getvalue(), by=told.people["aster"], now=told.clock.now()
    )
    assert faults(told) == ""
    path_of(sha256).chmod(0o600)
    path_of(sha256).write_bytes(written.getvalue() + b"x")
    assert faults(told) == f"0: the file {sha256[:12]} was changed"


def test_a_list_of_keys_kept_elsewhere_is_trusted_instead_of_this_computers(
    told: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = tmp_path / "keys.json"
    call_command("signing_keys", output=kept)
    call_command("verify", keys=[kept])
    # Somebody with the whole computer puts a key of their own in place and signs all anew.
    (tmp_path / "signing_key.pem").unlink()
    (tmp_path / "signing_keys.json").unlink()
    written_anew(
        lambda words: signing_keys.sign(words).signature, signing_keys.key_name(), value="another"
    )
    assert verify_all()[1] == ()
    capsys.readouterr()
    with pytest.raises(SystemExit):
        call_command("verify", keys=[kept])
    assert "not this workshop's" in capsys.readouterr().out


def test_jobs_of_several_workshops_are_each_held_to_their_own_keys(
    told: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def key_anew() -> Path:
        for name in ("signing_key.pem", "signing_keys.json"):
            (tmp_path / name).unlink(missing_ok=True)
        call_command("signing_keys", output=tmp_path / f"{signing_keys.key_name()}.json")
        return tmp_path / f"{signing_keys.key_name()}.json"

    here = tmp_path / "here.json"
    call_command("signing_keys", output=here)
    ours = signing_keys.sign(b"")
    elsewhere = key_anew()
    call_command("verify", keys=[elsewhere, here])
    with pytest.raises(SystemExit):
        call_command("verify", keys=[elsewhere])
    # The other workshop writes entries of ours anew; the end of the chain stays in our name.
    written_anew(
        lambda words: signing_keys.sign(words).signature, signing_keys.key_name(), value="another"
    )
    ChainHead.objects.update(key_id=ours.key_id)
    capsys.readouterr()
    with pytest.raises(SystemExit):
        call_command("verify", keys=[elsewhere, here])
    assert "entry 3: it is signed with a key that is not this workshop's" in (
        capsys.readouterr().out
    )


def test_a_key_for_which_none_before_vouches_is_told(
    told: Shop, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "signing_key.pem").unlink()
    call_command("guard")
    call_command("verify")
    assert "no earlier key vouches for the key" in capsys.readouterr().out


def test_a_file_that_is_no_list_of_keys_is_refused(told: Shop, tmp_path: Path) -> None:
    (tmp_path / "odd.json").write_text("{}")
    with pytest.raises(CommandError, match="no list of signing keys"):
        call_command("verify", keys=[tmp_path / "odd.json"])
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("verify", keys=[tmp_path / "nothing.json"])


def test_the_keys_are_listed_and_renewed_by_command(
    told: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("signing_keys", renew=True)
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 2
    assert "until" in lines[0]
    assert "in use, vouched for by" in lines[1]
    assert verify_job(UUID(told.job)) == ()
    assert Job.objects.count() == 1
    forged(ENTRIES, "DELETE FROM jobs_entry WHERE seq = 5")
    assert verify_all()[1] != ()
