"""The keys that sign the record: one follows another, each is vouched for, none is forgotten."""

import json
import stat
from datetime import timedelta
from pathlib import Path

import pytest
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.conf import settings

from workshop import clock, signing_keys
from workshop.serving import data_folder

NOW = clock.now()
WORDS = b"coldbus entry\nabc"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(settings, "COLDBUS_DATA", tmp_path)
    return tmp_path


def fits(words: bytes, signed: signing_keys.Signed) -> bool:
    return signing_keys.trusted_keys()[signed.key_id].fits(words, signed.signature)


def test_what_is_signed_fits_and_nothing_else_does(folder: Path) -> None:
    signed = signing_keys.sign(WORDS)
    assert fits(WORDS, signed)
    assert not fits(WORDS + b"d", signed)
    turned = bytes([signed.signature[0] ^ 1, *signed.signature[1:]])
    assert not fits(WORDS, signing_keys.Signed(signed.key_id, turned))
    assert not fits(WORDS, signing_keys.Signed(signed.key_id, b""))


def test_the_private_half_is_its_owners_and_never_in_the_list(folder: Path) -> None:
    signing_keys.sign(WORDS)
    file = folder / data_folder.SIGNING_NAME
    assert stat.S_IMODE(file.stat().st_mode) == data_folder.OWNER_ONLY_FILE
    private = serialization.load_pem_private_key(file.read_bytes(), None)
    assert isinstance(private, Ed25519PrivateKey)
    assert private.private_bytes_raw().hex() not in signing_keys.exported().decode()


def test_without_a_data_folder_a_passing_key_signs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(settings, "COLDBUS_DATA", tmp_path / "nowhere")
    assert fits(WORDS, signing_keys.sign(WORDS))
    assert not (tmp_path / "nowhere").exists()


def test_the_key_that_follows_is_vouched_for_and_the_former_still_fits(folder: Path) -> None:
    before = signing_keys.sign(WORDS)
    former = signing_keys.key_in_use()
    follower = signing_keys.follow(NOW)
    assert signing_keys.sign(WORDS).key_id == follower.id == signing_keys.key_name() != former.id
    assert fits(WORDS, before)
    keys = signing_keys.trusted_keys()
    assert signing_keys.unvouched(keys) == ()
    assert keys[former.id].ended_before(NOW + timedelta(seconds=1))
    assert not keys[former.id].ended_before(NOW)
    assert not keys[follower.id].ended_before(NOW + timedelta(days=999))


def test_a_key_put_in_place_of_a_lost_one_is_listed_and_nobody_vouches_for_it(folder: Path) -> None:
    before = signing_keys.sign(WORDS)
    (folder / data_folder.SIGNING_NAME).unlink()
    assert signing_keys.adopt(NOW)
    assert not signing_keys.adopt(NOW)
    keys = signing_keys.trusted_keys()
    assert signing_keys.unvouched(keys) == (signing_keys.key_in_use(),)
    assert keys[before.key_id].fits(WORDS, before.signature)


def test_a_forged_word_of_the_former_key_does_not_vouch(folder: Path) -> None:
    signing_keys.sign(WORDS)
    follower = signing_keys.follow(NOW)
    path = folder / data_folder.SIGNINGS_NAME
    content = json.loads(path.read_bytes())
    content["keys"][-1]["since"] = (NOW - timedelta(days=1)).isoformat()
    path.write_text(json.dumps(content))
    assert [key.id for key in signing_keys.unvouched(signing_keys.trusted_keys())] == [follower.id]


def test_the_exported_list_reads_back_and_a_changed_one_is_refused(folder: Path) -> None:
    signing_keys.follow(NOW)
    raw = signing_keys.exported()
    assert signing_keys.read_exported(raw) == signing_keys.trusted_keys()
    key = signing_keys.key_in_use()
    other = "0" if key.public[0] != "0" else "1"
    for broken in (b"{}", b"[]", b"no", raw.replace(key.public.encode(), other.encode() * 64)):
        with pytest.raises(ValueError, match=r"."):
            signing_keys.read_exported(broken)


def test_a_key_given_from_outside_is_used_and_not_written(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    outside = tmp_path / "elsewhere.pem"
    monkeypatch.setattr(settings, "COLDBUS_SIGNING_KEY", str(outside))
    assert fits(WORDS, signing_keys.sign(WORDS))
    assert outside.is_file()
    assert not (folder / data_folder.SIGNING_NAME).exists()
    with pytest.raises(ValueError, match="COLDBUS_SIGNING_KEY"):
        signing_keys.follow(NOW)


def test_that_the_ends_of_chains_are_signed_is_noted_once_and_kept(folder: Path) -> None:
    assert not signing_keys.heads_are_signed()
    signing_keys.note_heads_signed()
    signing_keys.follow(NOW)
    assert signing_keys.heads_are_signed()


def test_a_power_cut_while_a_key_is_renewed_leaves_none_in_use_that_has_ended(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = signing_keys.sign(WORDS)
    monkeypatch.setattr(signing_keys, "_listed", lambda *_: (_ for _ in ()).throw(OSError))
    with pytest.raises(OSError, match=r"^$"):
        signing_keys.follow(NOW)
    monkeypatch.undo()
    monkeypatch.setattr(settings, "COLDBUS_DATA", folder)
    assert signing_keys.adopt(NOW)
    signed = signing_keys.sign(WORDS)
    later = NOW + timedelta(days=1)
    assert not signing_keys.trusted_keys()[signed.key_id].ended_before(later)
    assert fits(WORDS, signed)
    assert fits(WORDS, before)
