"""Keys that seal PINs follow one another; what was sealed to a former one is opened for a while."""

import base64
import json
import stat
from datetime import timedelta
from pathlib import Path

import pytest
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import padding, rsa
from django.conf import settings

from workshop import clock, seal_keys, upkeep
from workshop.seal_keys import (
    IN_USE_FOR,
    OPENED_FOR,
    PublicSeal,
    attend,
    open_sealed,
    public_seal,
)
from workshop.serving import data_folder
from workshop.serving.folder_lock import HOLDER_VARIABLE

OAEP = padding.OAEP(padding.MGF1(hashes.SHA256()), hashes.SHA256(), None)
NOW = clock.now()
WORDS = b"4826 for one entry"
SHORTLY = timedelta(seconds=1)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(settings, "COLDBUS_DATA", tmp_path)
    return tmp_path


def sealed(seal: PublicSeal) -> bytes:
    key = serialization.load_der_public_key(base64.b64decode(seal.spki))
    assert isinstance(key, rsa.RSAPublicKey)
    return key.encrypt(WORDS, OAEP)


def kept_pems(folder: Path) -> str:
    noted = folder / data_folder.SEALS_NAME
    return (folder / data_folder.SEAL_NAME).read_text() + noted.read_text()


def test_a_key_is_followed_by_another_in_time_and_not_before(folder: Path) -> None:
    first = public_seal()
    assert not attend(NOW)
    assert not attend(NOW + IN_USE_FOR - SHORTLY)
    assert public_seal() == first
    assert attend(NOW + IN_USE_FOR)
    assert public_seal() != first
    assert not attend(NOW + IN_USE_FOR + SHORTLY)


def test_what_was_sealed_to_the_former_key_is_opened_for_the_stated_time(folder: Path) -> None:
    first, box = public_seal(), sealed(public_seal())
    attend(NOW)
    changed = NOW + IN_USE_FOR
    attend(changed)
    over = changed + OPENED_FOR
    assert open_sealed(first.id, box, changed) == WORDS
    assert open_sealed(first.id, box, over - SHORTLY) == WORDS
    assert open_sealed(first.id, box, over) is None
    second = public_seal()
    assert open_sealed(second.id, sealed(second), over) == WORDS
    assert open_sealed(second.id, box, changed) is None


def test_a_former_key_is_deleted_when_its_time_is_over(folder: Path) -> None:
    public_seal()
    secret = (folder / data_folder.SEAL_NAME).read_text()
    attend(NOW)
    changed = NOW + IN_USE_FOR
    attend(changed)
    former = json.loads((folder / data_folder.SEALS_NAME).read_text())["former"]
    assert [each["pem"] for each in former] == [secret]
    attend(changed + OPENED_FOR - SHORTLY)
    assert secret.splitlines()[1] in kept_pems(folder)
    attend(changed + OPENED_FOR)
    assert secret.splitlines()[1] not in kept_pems(folder)


def test_keys_are_their_owners_alone(folder: Path) -> None:
    public_seal()
    attend(NOW)
    attend(NOW + IN_USE_FOR)
    for name in (data_folder.SEAL_NAME, data_folder.SEALS_NAME):
        assert stat.S_IMODE((folder / name).stat().st_mode) == 0o600
    assert not list(folder.glob("*.new"))


def test_a_power_cut_between_the_two_files_loses_no_key(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, box = public_seal(), sealed(public_seal())
    attend(NOW)
    real = data_folder.replace_file

    def cut(path: Path, raw: bytes) -> None:
        if path.name == data_folder.SEAL_NAME:
            raise OSError("the power is gone")
        real(path, raw)

    monkeypatch.setattr(data_folder, "replace_file", cut)
    with pytest.raises(OSError, match="power"):
        attend(NOW + IN_USE_FOR)
    monkeypatch.undo()
    monkeypatch.setattr(settings, "COLDBUS_DATA", folder)
    assert public_seal() == first
    later = NOW + IN_USE_FOR + SHORTLY
    assert not attend(later)
    assert open_sealed(first.id, box, later + OPENED_FOR) == WORDS


def test_a_key_of_before_these_notes_counts_from_now(folder: Path) -> None:
    """A shop that is brought up to date keeps the key it has."""
    first = public_seal()
    assert not (folder / data_folder.SEALS_NAME).exists()
    assert not attend(NOW)
    assert public_seal() == first
    assert attend(NOW + IN_USE_FOR)


def test_the_worker_looks_after_the_keys_and_survives_a_fault(
    folder: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    public_seal()
    upkeep.look()
    assert (folder / data_folder.SEALS_NAME).is_file()

    def broken(_now: object) -> bool:
        raise OSError("no room")

    monkeypatch.setattr(seal_keys, "attend", broken)
    upkeep.look()
    assert "tried again" in caplog.text


def test_only_the_worker_of_the_server_looks_after_them(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(HOLDER_VARIABLE, "0")
    assert not upkeep.start_in_worker()
