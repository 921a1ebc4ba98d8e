"""What the code imports, what pyproject.toml declares and what the locks pin agree."""

import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.house.sources import APPS, ROOT, app_files, imported_names

LOCKS = {
    "run": ROOT / "workshop" / "requirements.lock",
    "server": ROOT / "workshop" / "requirements-server.lock",
    "test": ROOT / "workshop" / "requirements-test.lock",
}
PIN = re.compile(r"^([a-z0-9.-]+)(?:\[[a-z,]+\])?==([^\s;\\]+)", re.MULTILINE)


def named(requirements: list[str]) -> dict[str, Requirement]:
    found = [Requirement(text) for text in requirements]
    return {canonicalize_name(each.name): each for each in found if each.name != "coldbus"}


def declared() -> dict[str, Requirement]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return named(project["dependencies"])


def declared_beside(extra: str) -> dict[str, Requirement]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return named(project["optional-dependencies"][extra])


def pinned(lock: Path) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for name, version in PIN.findall(lock.read_text(encoding="utf-8")):
        found.setdefault(canonicalize_name(name), set()).add(version)
    return found


def test_the_lock_pins_every_declared_package_at_a_version_that_is_allowed() -> None:
    pins = pinned(LOCKS["run"])
    for name, requirement in declared().items():
        assert all(requirement.specifier.contains(version) for version in pins[name]), name


@pytest.mark.parametrize(
    ("lock", "extra"), [("test", "test"), ("test", "server"), ("server", "server")]
)
def test_a_lock_pins_what_is_declared_beside(lock: str, extra: str) -> None:
    pins = pinned(LOCKS[lock])
    for name, requirement in declared_beside(extra).items():
        assert all(requirement.specifier.contains(version) for version in pins[name]), name


@pytest.mark.parametrize("lock", ["run", "server"])
def test_tests_run_on_the_very_packages_that_a_shop_runs_on(lock: str) -> None:
    tools, shop = pinned(LOCKS["test"]), pinned(LOCKS[lock])
    assert {name: tools[name] for name in shop} == shop


@pytest.mark.parametrize("lock", LOCKS.values(), ids=LOCKS)
def test_a_lock_names_hashes_and_no_place_to_fetch_from(lock: Path) -> None:
    text = lock.read_text(encoding="utf-8")
    assert "://" not in text
    assert len(PIN.findall(text)) <= text.count("--hash=sha256:")


def test_what_the_code_imports_is_declared() -> None:
    known = set(sys.stdlib_module_names) | set(APPS)
    owners = packages_distributions()
    imported = {name.split(".")[0] for path in app_files() for name in imported_names(path)} - known
    undeclared = {
        module
        for module in imported
        if not {canonicalize_name(owner) for owner in owners.get(module, ())} & set(declared())
    }
    assert undeclared == set()
