"""Reads the project's own source for the house tests: files, functions, imports."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
APPS = ("workshop", "packs", "jobs")
ROOMS = ROOT / "jobs" / "steps"

Function = ast.FunctionDef | ast.AsyncFunctionDef


def relative(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def app_files(*apps: str) -> list[Path]:
    """Return the Python files of the named apps, or of all three, without migrations."""
    found = [path for app in (apps or APPS) for path in sorted((ROOT / app).rglob("*.py"))]
    return [path for path in found if "migrations" not in path.parts]


def files_of_tests() -> list[Path]:
    return sorted((ROOT / "tests").rglob("*.py"))


def migration_files() -> list[Path]:
    found = [path for app in APPS for path in sorted((ROOT / app / "migrations").glob("*.py"))]
    return [path for path in found if path.name != "__init__.py"]


def template_files() -> list[Path]:
    return sorted((ROOT / "templates").rglob("*.html"))


def script_files() -> list[Path]:
    return sorted((ROOT / "static" / "js").rglob("*.js"))


def room_folders() -> list[Path]:
    return sorted(path.parent for path in ROOMS.glob("*/__init__.py"))


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def line_count(path: Path) -> int:
    return len(path.read_text(encoding="utf-8").splitlines())


def functions_of(path: Path) -> Iterator[Function]:
    for node in ast.walk(tree_of(path)):
        if isinstance(node, Function):
            yield node


def body_lines(function: Function) -> int:
    """Return the lines from ``def`` to the end, without decorators and docstring."""
    assert function.end_lineno is not None
    lines = function.end_lineno - function.lineno + 1
    if ast.get_docstring(function, clean=False) is not None:
        first = function.body[0]
        assert first.end_lineno is not None
        lines -= first.end_lineno - first.lineno + 1
    return lines


def imported_names(path: Path) -> set[str]:
    """Return every module a file imports, and ``module.name`` for names taken from one."""
    names: set[str] = set()
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module is not None:
            names.add(node.module)
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names
