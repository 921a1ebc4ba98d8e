"""Where the data lie, who may read them, and which disks are refused."""

import stat
from pathlib import Path

import pytest

from workshop.serving.data_folder import (
    Mount,
    is_practice,
    location,
    mark_as_practice,
    mounts_here,
    objection_to,
    prepare,
)

LOCAL = [Mount(Path("/"), "ext4"), Mount(Path("/home"), "ext4")]


def mode_of(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_folder_and_secrets_are_for_their_owner_only(tmp_path: Path) -> None:
    folder = tmp_path / "shop" / "data"
    prepare(folder)
    assert mode_of(folder) == 0o700
    assert {path.name: mode_of(path) for path in folder.iterdir()} == {
        "secret_key": 0o600,
        "pepper": 0o600,
    }


def test_the_secrets_stay_the_same_at_the_next_start(tmp_path: Path) -> None:
    prepare(tmp_path)
    before = {path.name: path.read_text(encoding="ascii") for path in tmp_path.iterdir()}
    prepare(tmp_path)
    assert {path.name: path.read_text(encoding="ascii") for path in tmp_path.iterdir()} == before
    assert all(len(secret.strip()) >= 50 for secret in before.values())
    assert len(set(before.values())) == len(before)


def test_invented_data_are_marked_for_good(tmp_path: Path) -> None:
    prepare(tmp_path)
    assert not is_practice(tmp_path)
    mark_as_practice(tmp_path)
    prepare(tmp_path)
    assert is_practice(tmp_path)


def test_the_folder_is_beside_the_program_unless_said_otherwise(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.delenv("COLDBUS_DATA", raising=False)
    assert location(tmp_path) == tmp_path / ".coldbus"
    monkeypatch.setenv("COLDBUS_DATA", str(tmp_path / "elsewhere"))
    assert location(tmp_path) == tmp_path / "elsewhere"


def test_a_disk_of_this_computer_is_fine() -> None:
    assert objection_to(Path("/home/bench/coldbus"), LOCAL) is None


@pytest.mark.parametrize("kind", ["nfs4", "cifs", "fuse.sshfs", "9p"])
def test_a_network_drive_is_refused(kind: str) -> None:
    mounts = [*LOCAL, Mount(Path("/home/bench/share"), kind)]
    objection = objection_to(Path("/home/bench/share/coldbus"), mounts)
    assert objection is not None
    assert kind in objection


def test_a_disk_mounted_over_a_network_drive_counts_as_what_it_is() -> None:
    mounts = [*LOCAL, Mount(Path("/srv"), "nfs4"), Mount(Path("/srv"), "ext4")]
    assert objection_to(Path("/srv/coldbus"), mounts) is None


def test_a_name_that_only_begins_like_a_network_drive_is_fine() -> None:
    assert objection_to(Path("/srv-local"), [*LOCAL, Mount(Path("/srv"), "nfs4")]) is None


def test_a_synchronised_folder_is_refused() -> None:
    objection = objection_to(Path("/home/bench/Dropbox (Bench)/coldbus"), LOCAL)
    assert objection is not None
    assert "synchronised" in objection


def test_this_computer_names_its_mounts() -> None:
    assert all(mount.point.is_absolute() for mount in mounts_here())
