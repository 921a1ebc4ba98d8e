"""A file is a backup only when every byte is as it was written."""

import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.workshop.backups.small_shop import NOW, a_shop, unsealed
from workshop.backups import checking
from workshop.backups.keys import key_of
from workshop.backups.making import make
from workshop.backups.manifest import DAILY, MANIFEST_NAME
from workshop.backups.refusal import BackupRefused


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A backup without its envelope, as they were made before (`test_sealing` looks at that)."""
    here = a_shop(tmp_path_factory.mktemp("shop"))
    return unsealed(make(here, DAILY, NOW).path, key_of(here.data))


def check(path: Path, folder: Path) -> None:
    """Look at a file as a restore does."""
    with checking.opened(path) as (archive, manifest):
        checking.unpack(archive, manifest, path, folder)
        checking.check_database(folder / "coldbus.sqlite3", manifest, path)


def refusal_of(path: Path, folder: Path) -> BackupRefused:
    with pytest.raises(BackupRefused) as caught:
        check(path, folder)
    return caught.value


def changed(
    good: Path, target: Path, change: Callable[[dict[str, Any]], object], **members: bytes
) -> Path:
    """Write the backup again with another manifest and other members."""
    with zipfile.ZipFile(good) as old, zipfile.ZipFile(target, "w") as new:
        for name in old.namelist():
            raw = members.get(name.replace(".", "_"), old.read(name))
            if name == MANIFEST_NAME:
                told = json.loads(raw)
                change(told)
                raw = json.dumps(told).encode()
            new.writestr(name, raw)
    return target


def test_a_good_one_is_good(good: Path, tmp_path: Path) -> None:
    check(good, tmp_path / "new")
    assert (tmp_path / "new" / "secret_key").stat().st_mode & 0o777 == 0o600


@given(share=st.floats(0, 1, exclude_max=True))
def test_a_file_cut_off_anywhere_is_refused(
    good: Path, tmp_path_factory: pytest.TempPathFactory, share: float
) -> None:
    raw = good.read_bytes()
    folder = tmp_path_factory.mktemp("cut")
    short = folder / "short.zip"
    short.write_bytes(raw[: int(len(raw) * share)])
    assert refusal_of(short, folder / "new").code in {"damaged", "not_backup"}


@pytest.mark.parametrize("place", ["coldbus.sqlite3", "secret_key", "attachments", MANIFEST_NAME])
def test_a_changed_byte_in_any_member_is_found(good: Path, tmp_path: Path, place: str) -> None:
    raw = bytearray(good.read_bytes())
    with zipfile.ZipFile(good) as archive:
        info = next(each for each in archive.infolist() if each.filename.startswith(place))
    raw[info.header_offset + 60 + len(info.filename) + info.compress_size // 3] ^= 0x40
    changed_file = tmp_path / "changed.zip"
    changed_file.write_bytes(raw)
    assert refusal_of(changed_file, tmp_path / "new").code == "damaged"


@pytest.mark.parametrize("raw", [b"", b"not a zip at all", b"PK"])
def test_another_file_is_no_backup(tmp_path: Path, raw: bytes) -> None:
    path = tmp_path / "letter.zip"
    path.write_bytes(raw)
    assert refusal_of(path, tmp_path / "new").code == "not_backup"


def test_another_archive_is_no_backup(tmp_path: Path) -> None:
    path = tmp_path / "holiday.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("beach.jpg", b"...")
    assert refusal_of(path, tmp_path / "new").code == "not_backup"


def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    refusal = refusal_of(tmp_path / "none.zip", tmp_path / "new")
    assert "No such file" in str(refusal)


def test_a_newer_format_asks_for_a_newer_program(good: Path, tmp_path: Path) -> None:
    path = changed(good, tmp_path / "new.zip", lambda told: told.update(coldbus_backup=2))
    assert refusal_of(path, tmp_path / "new").code == "newer_format"


def test_a_manifest_without_a_field_is_damaged(good: Path, tmp_path: Path) -> None:
    path = changed(good, tmp_path / "new.zip", lambda told: told.pop("heads"))
    refusal = refusal_of(path, tmp_path / "new")
    assert refusal.code == "damaged"
    assert "heads" in str(refusal)


def test_a_member_that_was_exchanged_is_found(good: Path, tmp_path: Path) -> None:
    path = changed(good, tmp_path / "new.zip", lambda told: told, pepper=b"another\n")
    assert "pepper is not what was written" in str(refusal_of(path, tmp_path / "new"))


def test_a_member_that_swells_is_read_no_further_than_it_was_written(
    good: Path, tmp_path: Path
) -> None:
    path = tmp_path / "swells.zip"
    with zipfile.ZipFile(good) as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for each in old.namelist():
            raw = b" " * 200_000_000 if each == "pepper" else old.read(each)
            new.writestr(each, raw)
    assert path.stat().st_size < 10_000_000
    assert "pepper is not what was written" in str(refusal_of(path, tmp_path / "new"))
    assert (tmp_path / "new" / "pepper").stat().st_size < 2 * checking.CHUNK_BYTES


@pytest.mark.parametrize("name", ["../../outside", "attachments/../../outside", "/etc/outside"])
def test_a_name_that_leads_outside_is_refused_and_nothing_is_written(
    good: Path, tmp_path: Path, name: str
) -> None:
    path = tmp_path / "odd.zip"
    with zipfile.ZipFile(good) as old, zipfile.ZipFile(path, "w") as new:
        told = json.loads(old.read(MANIFEST_NAME))
        told["members"].append({"name": name, "size_bytes": 1, "sha256": "0" * 64})
        for each in told["members"][:-1]:
            new.writestr(each["name"], old.read(each["name"]))
        new.writestr(name, b"x")
        new.writestr(MANIFEST_NAME, json.dumps(told))
    folder = tmp_path / "deep" / "new"
    assert refusal_of(path, folder).code == "damaged"
    assert not folder.exists()
    assert sorted(each.name for each in tmp_path.iterdir()) == ["odd.zip"]


def test_another_database_under_a_good_manifest_is_found(good: Path, tmp_path: Path) -> None:
    def forget(told: dict[str, Any]) -> None:
        told["heads"] = told["heads"][:1]

    path = changed(good, tmp_path / "new.zip", forget)
    assert "not the one its manifest speaks of" in str(refusal_of(path, tmp_path / "new"))
