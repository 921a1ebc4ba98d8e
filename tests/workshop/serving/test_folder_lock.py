"""One process at a time writes in the data folder."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.house.sources import ROOT
from workshop.serving.folder_lock import HOLDER_VARIABLE, FolderInUse, FolderLock

TAKE = """
import sys
from pathlib import Path
from workshop.serving.folder_lock import FolderInUse, FolderLock
lock = FolderLock(Path(sys.argv[1]))
try:
    lock.take("the other program")
except FolderInUse as reason:
    sys.exit(str(reason))
print("taken", flush=True)
sys.stdin.read()
"""


def other_process(folder: Path, holder: str = "") -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", TAKE, str(folder)],
        cwd=ROOT,
        env={**os.environ, HOLDER_VARIABLE: holder},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def first_line(process: subprocess.Popen[str]) -> str:
    assert process.stdout is not None
    return process.stdout.readline().strip()


def test_taking_it_twice_is_harmless(data_folder: Path) -> None:
    lock = FolderLock(data_folder)
    lock.take("a test")
    lock.take("a test")
    assert lock.is_held
    lock.release()
    lock.release()
    assert not lock.is_held


def test_a_second_process_is_refused_and_told_by_whom(data_folder: Path) -> None:
    lock = FolderLock(data_folder)
    lock.take("a test")
    with other_process(data_folder) as other:
        _said, complaint = other.communicate()
    lock.release()
    assert other.returncode == 1
    assert f"in use by a test, process {os.getpid()}" in complaint


def test_the_lock_goes_with_the_process_however_it_ends(data_folder: Path) -> None:
    lock = FolderLock(data_folder)
    with other_process(data_folder) as other:
        assert first_line(other) == "taken"
        with pytest.raises(FolderInUse, match="the other program"):
            lock.take("a test")
        other.kill()
        other.wait()
    lock.take("a test")
    assert lock.is_held
    lock.release()


def test_the_worker_of_the_holder_writes_under_its_lock(data_folder: Path) -> None:
    lock = FolderLock(data_folder)
    lock.take("a test")
    with other_process(data_folder, holder=str(os.getpid())) as worker:
        assert first_line(worker) == "taken"
    lock.release()
