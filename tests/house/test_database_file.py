"""Nobody but SQLite opens the live database: closing another handle would drop its locks."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.house.sources import app_files, relative, tree_of

PLACES = {"DATABASE_NAME", "database"}
OPENING = {"open", "read_bytes", "read_text", "write_bytes", "write_text", "unlink", "rename"}
OPENING |= {"replace", "new_file", "pour", "copy", "copy2", "copyfile", "copytree", "move"}


def names_the_database(node: ast.AST) -> bool:
    """Say whether an expression is the path of the live database."""
    if isinstance(node, ast.BinOp):
        return names_the_database(node.right)
    if isinstance(node, ast.Attribute):
        return node.attr in PLACES
    return isinstance(node, ast.Name) and node.id == "DATABASE_NAME"


def opened(tree: ast.AST) -> Iterator[ast.Call]:
    """Find calls that open, copy or move the database by its path."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        function = node.func
        name = function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")
        if name not in OPENING:
            continue
        paths = [*node.args, *([function.value] if isinstance(function, ast.Attribute) else [])]
        # `archive.open(DATABASE_NAME)` names a member of a backup, not a path.
        bare = len(node.args) == 1 and isinstance(node.args[0], ast.Attribute | ast.Name)
        member = bare and ast.unparse(node.args[0]).endswith("DATABASE_NAME") and name == "open"
        if any(names_the_database(path) for path in paths) and not member:
            yield node


def test_no_code_opens_copies_or_moves_the_live_database() -> None:
    found = [
        f"{relative(path)}:{call.lineno}: {ast.unparse(call)}"
        for path in app_files()
        for call in opened(tree_of(path))
    ]
    assert found == []


@pytest.mark.parametrize(
    "line",
    [
        "here.database.open('rb')",
        "open(here.database)",
        "shutil.copy(places.database, target)",
        "shutil.move(data / data_folder.DATABASE_NAME, target)",
        "(folder / DATABASE_NAME).read_bytes()",
    ],
)
def test_the_rule_finds_what_it_forbids(line: str) -> None:
    assert len(list(opened(ast.parse(line)))) == 1


@pytest.mark.parametrize(
    "line", ["database.reading(here.database)", "archive.open(data_folder.DATABASE_NAME)"]
)
def test_the_rule_lets_pass_what_goes_through_sqlite(line: str) -> None:
    assert list(opened(ast.parse(line))) == []


def test_the_live_database_is_known_by_these_names_only() -> None:
    written = [
        relative(path)
        for path in app_files()
        if "coldbus.sqlite3" in path.read_text(encoding="utf-8")
        and Path(path).stem != "data_folder"
    ]
    assert written == []
