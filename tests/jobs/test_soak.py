"""Many tablets, a network that loses things, a server that is killed: nothing lost, nothing twice.

The short run belongs to the suite; the one of five minutes with 20 tablets to the bench.
"""

import json
import sqlite3
import sys
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from pathlib import Path

import pytest

from tests.power_cut import Disk, a_disk
from tests.running import Running, manage
from tests.soak_tablets import Soaked, kill, soak
from workshop.serving.data_folder import DATABASE_NAME

EVERY_ENTRY = "SELECT canonical FROM jobs_entry ORDER BY job_id, seq"


def in_the_file(folder: Path) -> list[tuple[bytes]]:
    """Read the entries of a stopped shop."""
    with closing(sqlite3.connect(folder / DATABASE_NAME)) as link:
        return link.execute(EVERY_ENTRY).fetchall()


def kept(rows: Sequence[tuple[bytes]]) -> list[tuple[str, str, int]]:
    """Say what stands in entries: job, device, running number."""
    found = (json.loads(bytes(canonical)) for (canonical,) in rows)
    return [(one["job"], one["device"], one["device_seq"]) for one in found if one["device"]]


def hold_to_account(
    soaked: Soaked,
    folder: Path,
    rows: Sequence[tuple[bytes]],
    also: Mapping[str, str] | None = None,
) -> int:
    """Ask that everything made stands in the record once, in its order; give how many."""
    devices = {one.device for one in soaked.tablets}
    there = [one for one in kept(rows) if one[1] in devices]
    made = [(e["job"], t.device, e["device_seq"]) for t in soaked.tablets for e in t.made]
    assert [e for t in soaked.tablets for e in t.refused] == []
    assert [len(t.queue) for t in soaked.tablets] == [0] * len(soaked.tablets)
    assert {key for t in soaked.tablets for key in t.acknowledged} == {
        e["key"] for t in soaked.tablets for e in t.made
    }
    assert Counter(there) == Counter(made)
    for tablet in soaked.tablets:
        for job in tablet.jobs:
            own = [seq for at, device, seq in there if (at, device) == (job, tablet.device)]
            assert own == sorted(own)
    with manage(folder, "verify", also=also) as checking:
        said, _ = checking.communicate()
    assert checking.returncode == 0, said
    return len(made)


def test_a_short_soak_loses_nothing_and_doubles_nothing(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    soaked = soak(folder, tablets=6, lasting_s=10, kills=2, pause_s=0.1)
    made = hold_to_account(soaked, folder, in_the_file(folder))
    assert made > 100
    assert sum(one.lost for one in soaked.tablets) > made * 0.1


def cut_and_mounted_again(disk: Disk) -> Callable[[Running], None]:
    def end(shop: Running) -> None:
        disk.cut_power()
        kill(shop)
        disk.come_back()

    return end


def test_what_was_acknowledged_before_a_power_cut_is_there_afterwards(tmp_path: Path) -> None:
    with a_disk(tmp_path) as disk:
        folder, end = disk.place / "data", cut_and_mounted_again(disk)
        soaked = soak(folder, tablets=6, lasting_s=9, kills=2, pause_s=0.1, end=end)
        assert hold_to_account(soaked, folder, in_the_file(folder)) > 100


@pytest.mark.bench
@pytest.mark.parametrize("how", ["killed", "power cut"])
def test_twenty_rounds(tmp_path: Path, how: str, capsys: pytest.CaptureFixture[str]) -> None:
    with a_disk(tmp_path) as disk:
        folder = disk.place / "data"
        end = kill if how == "killed" else cut_and_mounted_again(disk)
        soaked = soak(folder, tablets=10, lasting_s=60, kills=20, pause_s=0.3, end=end)
        made = hold_to_account(soaked, folder, in_the_file(folder))
    acknowledged = sum(len(one.acknowledged) for one in soaked.tablets)
    with capsys.disabled():
        sys.stdout.write(
            f"\n{how}, {soaked.kills} rounds: {acknowledged} acknowledged, {made} made, missing 0"
        )
    assert soaked.kills == 20


@pytest.mark.bench
def test_a_soak_of_five_minutes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "data"
    soaked = soak(folder, tablets=20, lasting_s=300, kills=8, pause_s=1.0)
    made = hold_to_account(soaked, folder, in_the_file(folder))
    lost = sum(one.lost for one in soaked.tablets)
    with capsys.disabled():
        sys.stdout.write(
            f"\n20 tablets, 300 s, {soaked.kills} kills: {made} entries made, all there once;"
            f" {lost} requests or answers lost"
        )
    assert soaked.kills == 8
