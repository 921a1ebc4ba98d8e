"""What calculations say is told by pattern and fields, so that it can be translated."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
SAID = re.compile(r"[^\W\d_]{3,} | [^\W\d_]{3,}")
"""A word with a space beside it: a piece of a sentence, and no path of a field."""

NOTATION = re.compile(r"\b(?:mbar l/s|ohm/V|v_other)")
"""Units and symbols, the same in every language."""


def pieces(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Give the words that stand in an f-string or are added to others."""
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            parts = node.values
        elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
            parts = [node.left, node.right]
        else:
            continue
        for part in parts:
            if isinstance(part, ast.Constant) and isinstance(part.value, str):
                yield node.lineno, part.value


def composed(source: str) -> list[tuple[int, str]]:
    found = pieces(ast.parse(source))
    return [(line, text) for line, text in found if SAID.search(NOTATION.sub("", text))]


def test_no_sentence_of_a_calculation_is_put_together_by_hand() -> None:
    found = {
        f"{path.relative_to(ROOT)}:{line}": text
        for folder in ("explanations", "logs", "physics")
        for path in sorted((ROOT / "packs" / folder).rglob("*.py"))
        for line, text in composed(path.read_text(encoding="utf-8"))
    }
    assert found == {}


def test_a_sentence_put_together_is_found() -> None:
    assert composed('text = f"It has {cells} cells."') == [(1, "It has "), (1, " cells.")]
    assert composed('text = said + " Export the log again."') == [(1, " Export the log again.")]
    assert composed('path = f"samples.{index}.t_s"; unit = f"{volts:g} V"') == []
