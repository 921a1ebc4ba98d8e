import importlib.util
import platform
import subprocess
import sys
from pathlib import Path

import pytest

from packs.logs import processor
from tests.house.sources import ROOT

asked = processor.can_run_polars.__wrapped__
"""Without what was remembered."""
NEEDED = processor.needed_instructions() or frozenset()
MODERN = (
    "fpu sse pni ssse3 sse4_1 sse4_2 popcnt cx16 pclmulqdq movbe avx f16c fma bmi1 bmi2 avx2 abm"
)
SMALL_COMPUTER = "fpu sse pni ssse3 sse4_1 sse4_2 popcnt cx16 pclmulqdq movbe"
READ = """
import sys
from packs.logs import processor
processor.can_run_polars.cache_clear()
processor.present_instructions = lambda system: frozenset({"sse3", "popcnt"})
processor.platform.machine = lambda: "x86_64"
from packs.logs.reading import read_log
from packs.logs.wanted import Columns
rows = "".join(f"{second},1,3.5\\n" for second in range(9))
log = read_log(b"t,i,u\\n" + rows.encode(),
    Columns(time_s="t", current_a="i", cell_v=("u",)), "charge_positive")
print(log.cell_v.tolist() == [[3.5]] * 9, [name for name in sys.modules if "polars" in name])
"""


def cpuinfo(flags: str) -> str:
    return f"processor\t: 0\nflags\t\t: {flags}\nbugs\t\t:\n\n"


@pytest.fixture
def computer(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> "Computer":
    return Computer(monkeypatch, tmp_path)


class Computer:
    """A computer of another kind."""

    def __init__(self, patch: pytest.MonkeyPatch, folder: Path) -> None:
        self.patch, self.folder = patch, folder

    def can(self, system: str, machine: str, text: str) -> bool:
        source = self.folder / "cpuinfo"
        source.write_text(text)
        self.patch.setattr(processor, "CPUINFO", source)
        self.patch.setattr(platform, "system", lambda: system)
        self.patch.setattr(platform, "machine", lambda: machine)
        return asked()


def test_what_is_needed_is_told_without_loading_the_compiled_part() -> None:
    said = "import sys; from packs.logs import processor; processor.can_run_polars();"
    said += "print([n for n in sys.modules if n.startswith('polars') or n.endswith('_runtime')])"
    done = subprocess.run(
        [sys.executable, "-c", said], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
    assert "avx2" in NEEDED or platform.machine().casefold() not in processor.X86


@pytest.mark.parametrize("machine", ["x86_64", "AMD64"])
def test_only_a_processor_with_all_instructions_takes_the_fast_way(
    computer: Computer, machine: str
) -> None:
    assert computer.can("Linux", machine, cpuinfo(MODERN))
    assert not computer.can("Linux", machine, cpuinfo(SMALL_COMPUTER))
    for name in ("avx2", "abm", "movbe", "sse4_2"):
        less = " ".join(each for each in MODERN.split() if each != name)
        assert not computer.can("Linux", machine, cpuinfo(less))


def test_one_processor_of_several_without_them_is_enough_for_the_other_way(
    computer: Computer,
) -> None:
    assert not computer.can("Linux", "x86_64", cpuinfo(MODERN) + cpuinfo(SMALL_COMPUTER))


@pytest.mark.parametrize("system", ["Linux", "FreeBSD", "", "Windows", "Darwin"])
def test_a_computer_that_does_not_say_it_takes_the_other_way(
    computer: Computer, system: str
) -> None:
    assert not computer.can(system, "x86_64", "")


def test_a_processor_of_another_family_takes_the_fast_way(computer: Computer) -> None:
    assert computer.can("Linux", "aarch64", "")


def test_without_polars_the_other_way_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    assert not asked()


def test_windows_knows_a_number_for_everything_needed() -> None:
    known = {name for names in processor.WINDOWS_FEATURES.values() for name in names}
    assert known >= NEEDED


def test_a_log_is_read_on_an_old_processor_and_polars_is_never_loaded() -> None:
    done = subprocess.run(
        [sys.executable, "-c", READ], cwd=ROOT, capture_output=True, text=True, check=True
    )
    answer, loaded = done.stdout.strip().split(" ", 1)
    assert answer == "True"
    assert "'polars'" not in loaded
    assert "_polars_runtime'" not in loaded.replace("'_polars_runtime_32'", "")
