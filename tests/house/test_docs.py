"""DEVELOPERS.md names everything that someone new will look for."""

import re
import tomllib

import pytest

from tests.house.sources import APPS, ROOT, app_files, room_folders

CALCULATIONS = (
    "decay",
    "absence",
    "isolation",
    "localise",
    "match",
    "charge",
    "leak",
    "joint",
    "cycle",
    "vin",
)
GUIDE = ROOT / "DEVELOPERS.md"
SETTING = re.compile(r"\bCOLDBUS_[A-Z_]+\b")
# Names inside the settings module that are read by code and set by nobody.
INNER_NAMES = {
    "COLDBUS_HASHED_STATIC",
    "COLDBUS_LOCK_HOLDER",
    "COLDBUS_PLAIN_STATIC",
}


@pytest.fixture(scope="module")
def guide() -> str:
    return GUIDE.read_text(encoding="utf-8")


def headings(guide: str) -> str:
    return "\n".join(line for line in guide.splitlines() if line.startswith("#")).lower()


def settings_in_code() -> set[str]:
    texts = [path.read_text(encoding="utf-8") for path in app_files()]
    return {name for text in texts for name in SETTING.findall(text)} - INNER_NAMES


def test_each_step_has_a_heading(guide: str) -> None:
    words = headings(guide).replace("-", " ")
    absent = [room.name for room in room_folders() if room.name.replace("_", " ") not in words]
    assert absent == []


def test_each_calculation_is_named(guide: str) -> None:
    assert [name for name in CALCULATIONS if f"`{name}`" not in guide] == []


@pytest.mark.parametrize("folder", [*APPS, "templates", "static", "fixtures", "tests"])
def test_each_folder_of_the_top_level_is_named(guide: str, folder: str) -> None:
    assert f"`{folder}/`" in guide or f"`{folder}`" in guide


def test_each_setting_is_named(guide: str) -> None:
    assert sorted(name for name in settings_in_code() if name not in guide) == []


def test_each_dependency_has_its_sentence(guide: str) -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    names = [re.split(r"[\[<>=;~! ]", text)[0] for text in project["dependencies"]]
    assert [name for name in names if name not in guide] == []


def test_the_readme_gives_the_commands_that_the_checks_run() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "python3 manage.py up" in readme
    assert "python3 manage.py test" in readme
