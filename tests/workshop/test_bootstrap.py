"""What happens before Django can be imported."""

import ast
import importlib
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from tests.house.sources import ROOT, imported_names
from tests.workshop.backups.small_shop import a_shop, add_entry, as_killed, connect, settle
from workshop import bootstrap
from workshop.backups.places import Places
from workshop.serving.folder_lock import LOCK_NAME, try_lock
from workshop.serving.write_ahead import files_beside

STANDARD = set(sys.stdlib_module_names)


def test_an_old_python_can_read_it_to_be_refused() -> None:
    for path in (ROOT / "manage.py", ROOT / "workshop" / "bootstrap.py"):
        ast.parse(path.read_text(encoding="utf-8"), feature_version=(3, 6))


def test_it_needs_nothing_that_is_not_installed_yet() -> None:
    for name in ("bootstrap.py", "serving/data_folder.py", "__init__.py", "serving/__init__.py"):
        names = {module.split(".")[0] for module in imported_names(ROOT / "workshop" / name)}
        assert names <= STANDARD, name


@pytest.mark.parametrize("form", [["--wheelhouse", "{}"], ["--wheelhouse={}"]])
def test_the_wheelhouse_is_taken_from_the_words(form: list[str], tmp_path: Path) -> None:
    words = ["manage.py", "up", *(word.format(tmp_path) for word in form), "--demo"]
    assert bootstrap.take_wheelhouse(words) == tmp_path.resolve()
    assert words == ["manage.py", "up", "--demo"]


@pytest.mark.parametrize("words", [["--wheelhouse"], ["--wheelhouse="], ["--wheelhouse", "/no"]])
def test_a_wheelhouse_that_is_not_there_stops_the_start(words: list[str]) -> None:
    with pytest.raises(bootstrap.CannotStart, match="--wheelhouse"):
        bootstrap.take_wheelhouse(["manage.py", "up", *words])


def test_a_lock_that_changed_has_another_fingerprint(tmp_path: Path) -> None:
    lock = tmp_path / "some.lock"
    lock.write_text("a==1\n", encoding="utf-8")
    before = bootstrap.fingerprint_of(lock)
    lock.write_text("a==2\n", encoding="utf-8")
    assert bootstrap.fingerprint_of(lock) != before


def test_a_lock_that_was_never_installed_is_not_installed(tmp_path: Path) -> None:
    lock = tmp_path / "unheard-of.lock"
    lock.write_text("a==1\n", encoding="utf-8")
    assert not bootstrap.is_installed(lock)


def test_this_python_is_new_enough() -> None:
    bootstrap.check_python()


def test_an_unusable_data_folder_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    told = subprocess.run(
        [sys.executable, "manage.py", "up"],
        cwd=ROOT,
        env={"COLDBUS_OWN_PYTHON": "1", "COLDBUS_DATA": str(tmp_path / "file" / "data")},
        capture_output=True,
        check=False,
        text=True,
    )
    assert told.returncode == 1
    assert told.stderr.startswith("The data folder cannot be used")
    assert len(told.stderr.splitlines()) == 1


@pytest.fixture
def damaged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Places:
    """A shop that was killed, and the end of whose log was cut off."""
    here = a_shop(tmp_path / "shop")
    settle(here)
    with closing(connect(here)) as database:
        for _each in range(3):
            add_entry(database, "W1")
        left = as_killed(here, tmp_path / "killed")
    log, _index = files_beside(left.database)
    log.write_bytes(log.read_bytes()[:-5000])
    monkeypatch.setenv("COLDBUS_DATA", str(left.data))
    monkeypatch.delenv("COLDBUS_DATABASE_URL", raising=False)
    return left


@pytest.mark.parametrize("command", ["verify", "makemigrations", "check", "shell"])
def test_a_damaged_log_stops_whatever_opens_the_database(damaged: Places, command: str) -> None:
    with pytest.raises(bootstrap.CannotStart, match="Entries may be missing"):
        bootstrap.refuse_damaged_log(["manage.py", command])
    with (damaged.data / LOCK_NAME).open("w", encoding="utf-8") as file:
        try_lock(file)
        bootstrap.refuse_damaged_log(["manage.py", command])


def test_a_damaged_log_is_nothing_to_a_shop_whose_database_is_on_a_server(
    damaged: Places, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert damaged.database.is_file()
    monkeypatch.setenv("COLDBUS_DATABASE_URL", "postgresql://shop@localhost/shop")
    bootstrap.refuse_damaged_log(["manage.py", "verify"])


def test_a_lock_that_cannot_be_opened_is_one_sentence(damaged: Places) -> None:
    (damaged.data / LOCK_NAME).mkdir()
    with pytest.raises(bootstrap.CannotStart, match=f"cannot be used: .*{LOCK_NAME}"):
        bootstrap.refuse_damaged_log(["manage.py", "verify"])


def test_the_calculations_are_opened_without_django(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked: list[str] = []
    found = importlib.import_module

    def recorded(name: str) -> object:
        asked.append(name)
        return found(name)

    monkeypatch.setattr(importlib, "import_module", recorded)
    assert bootstrap.run_command(["manage.py", "calc", "--list"]) == 0
    assert asked[0] == "packs.calc_door"
    assert not any(name.startswith("django") for name in asked)
    assert capsys.readouterr().out.startswith("decay")


def test_the_exit_status_of_a_calculation_comes_through(tmp_path: Path) -> None:
    told = subprocess.run(
        [sys.executable, "manage.py", "calc", "vin", str(tmp_path / "none.json")],
        cwd=ROOT,
        env={"COLDBUS_OWN_PYTHON": "1"},
        capture_output=True,
        check=False,
        text=True,
    )
    assert (told.returncode, told.stderr) == (2, "")
    assert '"path": "file"' in told.stdout
