"""What is recorded is written once, by its own door: no update, no deletion, nothing by htmx."""

import ast
import re
from collections.abc import Iterator

import pytest

from tests.house.sources import app_files, relative, template_files, tree_of

APPEND_ONLY = {"Entry", "QuarantineCheck", "SetAside", "SignIn"}
CHANGING = {"update", "delete", "bulk_update", "update_or_create", "save"}
SENT_BY_HTMX = re.compile(r"\bhx-(post|put|patch|delete)\b")


def changing(tree: ast.AST) -> Iterator[ast.Call]:
    """Find calls that change or delete rows of a table that only grows."""
    for node in ast.walk(tree):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
            continue
        if node.func.attr not in CHANGING:
            continue
        names = {each.id for each in ast.walk(node.func) if isinstance(each, ast.Name)}
        if names & APPEND_ONLY:
            yield node


def test_no_code_changes_what_only_grows() -> None:
    found = [
        f"{relative(path)}:{call.lineno}: {ast.unparse(call)}"
        for path in app_files()
        for call in changing(tree_of(path))
    ]
    assert found == []


@pytest.mark.parametrize(
    "line",
    [
        "Entry.objects.update(value=1)",
        "Entry.objects.filter(pk=key).order_by('seq').delete()",
        "Entry(key=key).save()",
        "SetAside.objects.filter(tablet=row).update(reason='')",
    ],
)
def test_the_rule_finds_what_it_forbids(line: str) -> None:
    assert len(list(changing(ast.parse(line)))) == 1


def test_no_page_of_a_job_is_sent_by_htmx() -> None:
    """It keeps nothing when the network is gone; what is entered goes through the outbox."""
    found = [
        relative(path)
        for path in template_files()
        if path.parent.name not in {"packs", "workshop"}
        if SENT_BY_HTMX.search(path.read_text(encoding="utf-8"))
    ]
    assert found == []
    assert SENT_BY_HTMX.search('<form hx-post="/entries/">')
