"""The top level is fixed, and names say what is inside."""

import ast
import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.house.sources import (
    APPS,
    ROOMS,
    ROOT,
    app_files,
    body_lines,
    files_of_tests,
    functions_of,
    imported_names,
    line_count,
    relative,
    room_folders,
    script_files,
    tree_of,
)

TOP_LEVEL = {
    "DEVELOPERS.md",
    "README.md",
    "fixtures",
    "jobs",
    "manage.py",
    "packs",
    "pyproject.toml",
    "static",
    "templates",
    "tests",
    "workshop",
}
VAGUE_NAMES = {"utils", "util", "helpers", "helper", "common", "misc", "services", "service"}
ROOM_FILES = {"__init__.py", "assessment.py", "gate.py", "items.py", "section.py"}
FILE_LINES = 400
# The trade fills a room more than a sketch of it suggests: the largest has some 950 lines, each
# file of it one idea. More than this is two rooms.
ROOM_FILE_LINES = 350
ROOM_LINES = 1000
FUNCTION_LINES = 40
SCRIPT_LINES = 150
# Work without the network is the largest part: what waits, what is kept, what was answered.
ALL_SCRIPT_LINES = 4000


def entries_of_the_top_level() -> set[str]:
    """Return what git would take; where there is no git, what lies there."""
    git = shutil.which("git")
    if git is not None and (ROOT / ".git").exists():
        command = [git, "ls-files", "--cached", "--others", "--exclude-standard", "-z"]
        listed = subprocess.run(command, cwd=ROOT, capture_output=True, check=True, text=True)
        names = {line.split("/")[0] for line in listed.stdout.split("\0") if line}
        return {name for name in names if (ROOT / name).exists()}
    return {path.name for path in ROOT.iterdir()}


def test_the_top_level_holds_what_was_agreed_and_dotfiles() -> None:
    found = {name for name in entries_of_the_top_level() if not name.startswith(".")}
    assert found == TOP_LEVEL


def test_no_file_has_a_name_under_which_anything_could_be_put() -> None:
    vague = [relative(path) for path in app_files() + files_of_tests() if path.stem in VAGUE_NAMES]
    assert vague == []


def test_no_python_file_is_too_long_to_read() -> None:
    long = {
        relative(path): line_count(path)
        for path in app_files() + files_of_tests()
        if line_count(path) > FILE_LINES
    }
    assert long == {}


def test_no_function_is_too_long_to_see_at_once() -> None:
    long = {
        f"{relative(path)}:{function.name}": body_lines(function)
        for path in app_files() + files_of_tests()
        for function in functions_of(path)
        if body_lines(function) > FUNCTION_LINES
    }
    assert long == {}


@pytest.mark.parametrize("room", room_folders(), ids=lambda room: room.name)
def test_a_room_has_its_five_files_and_stays_small(room: Path) -> None:
    files = sorted(room.glob("*.py"))
    assert {path.name for path in files} == ROOM_FILES
    assert {
        path.name: line_count(path) for path in files if line_count(path) > ROOM_FILE_LINES
    } == {}
    assert sum(line_count(path) for path in files) <= ROOM_LINES


def test_there_are_eight_rooms() -> None:
    assert [room.name for room in room_folders()] == sorted(
        (
            "intake",
            "de_energise_check",
            "isolation_readings",
            "fault_localisation",
            "module_swap",
            "reassembly",
            "seal_test",
            "road_test",
        )
    )
    assert [path.name for path in ROOMS.glob("*.py")] == ["__init__.py"]


def test_scripts_stay_small() -> None:
    sizes = {relative(path): line_count(path) for path in script_files()}
    assert {name: lines for name, lines in sizes.items() if lines > SCRIPT_LINES} == {}
    assert sum(sizes.values()) <= ALL_SCRIPT_LINES


def test_every_folder_of_code_is_a_package() -> None:
    bare = {
        relative(path.parent) for path in app_files() if not (path.parent / "__init__.py").exists()
    }
    assert bare == set()


def test_nothing_hides_an_import_from_the_checkers() -> None:
    hidden = [
        relative(path)
        for path in app_files() + files_of_tests()
        if "__future__" in imported_names(path) or "typing.TYPE_CHECKING" in imported_names(path)
    ]
    assert hidden == []


def test_the_core_does_not_know_its_rooms() -> None:
    slugs = [room.name for room in room_folders()]
    known = [
        f"{relative(path)}: {slug}"
        for path in sorted((ROOT / "jobs" / "core").glob("*.py"))
        for slug in slugs
        if re.search(rf"\b{slug}\b", path.read_text(encoding="utf-8"))
    ]
    assert known == []


def test_module_docstrings_are_short() -> None:
    long = [
        relative(path)
        for path in app_files()
        if len((ast.get_docstring(tree_of(path)) or "").splitlines()) > 10
    ]
    assert long == []


def test_data_files_of_tests_say_where_they_come_from() -> None:
    silent = [
        relative(path)
        for path in sorted((ROOT / "tests" / "data").rglob("*.json"))
        if isinstance(content := json.loads(path.read_text(encoding="utf-8")), dict)
        and "source" not in content
    ]
    assert silent == []


def test_two_processes_collect_the_same_tests() -> None:
    # A value made anew in each process gives the same test two names.
    changing = [
        f"{relative(path)}: {function.name}"
        for path in files_of_tests()
        for function in functions_of(path)
        for decorator in function.decorator_list
        if re.search(r"\b(uuid1|uuid4|token_\w+|random)\(", ast.unparse(decorator))
    ]
    assert changing == []


def test_apps_are_where_the_tests_look_for_them() -> None:
    assert [app for app in APPS if not (ROOT / app / "__init__.py").exists()] == []
