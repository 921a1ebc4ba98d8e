"""Where the data lie, who may read them, and which disks are refused."""

import os
import stat
from pathlib import Path

import pytest

from workshop.serving.data_folder import (
    EPOCHS_KEPT,
    Mount,
    begin_epoch,
    begin_serving,
    end_serving,
    ended_in_order,
    epoch_of,
    epochs_of_life,
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


def test_the_epochs_of_a_life_are_known_until_the_data_are_replaced(tmp_path: Path) -> None:
    assert (epoch_of(tmp_path), epochs_of_life(tmp_path)) == ("", ())
    first = begin_epoch(tmp_path)
    second = begin_epoch(tmp_path, of_this_life=True)
    assert epoch_of(tmp_path) == second
    assert epochs_of_life(tmp_path) == (second, first)
    another = begin_epoch(tmp_path)
    assert epochs_of_life(tmp_path) == (another,)
    begun = [begin_epoch(tmp_path, of_this_life=True) for _each in range(EPOCHS_KEPT + 5)]
    assert epochs_of_life(tmp_path) == tuple(reversed(begun[-EPOCHS_KEPT:]))


def test_an_epoch_written_by_an_earlier_release_is_read(tmp_path: Path) -> None:
    (tmp_path / "epoch").write_text("0d2c\n", encoding="ascii")
    assert epoch_of(tmp_path) == "0d2c"
    later = begin_epoch(tmp_path, of_this_life=True)
    assert epochs_of_life(tmp_path) == (later, "0d2c")


def test_an_end_without_order_is_known_at_the_next_start(tmp_path: Path) -> None:
    assert ended_in_order(tmp_path)
    begin_serving(tmp_path)
    assert not ended_in_order(tmp_path)
    begin_serving(tmp_path)
    end_serving(tmp_path)
    assert ended_in_order(tmp_path)
    end_serving(tmp_path)


def test_secrets_are_on_the_disk_before_anything_rests_on_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[int] = []
    monkeypatch.setattr(os, "fsync", lambda descriptor: synced.append(os.fstat(descriptor).st_ino))
    prepare(tmp_path)
    assert {path.stat().st_ino for path in (tmp_path, *tmp_path.iterdir())} <= set(synced)


def test_an_empty_secret_is_made_anew_but_not_what_pins_rest_on(tmp_path: Path) -> None:
    prepare(tmp_path)
    for name in ("secret_key", "pepper"):
        (tmp_path / name).write_bytes(b"")
    prepare(tmp_path)
    assert all(path.stat().st_size for path in tmp_path.iterdir())
    (tmp_path / "coldbus.sqlite3").write_bytes(b"as if in use")
    for name in ("secret_key", "pepper"):
        (tmp_path / name).write_bytes(b"")
    prepare(tmp_path)
    assert (tmp_path / "secret_key").stat().st_size
    assert not (tmp_path / "pepper").stat().st_size


def test_what_pins_rest_on_is_not_made_anew_for_a_database_on_a_server(tmp_path: Path) -> None:
    prepare(tmp_path)
    begin_epoch(tmp_path)
    (tmp_path / "pepper").write_bytes(b"")
    prepare(tmp_path)
    assert not (tmp_path / "pepper").stat().st_size
