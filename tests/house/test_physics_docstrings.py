"""Every number that goes into a formula or comes out of it says its unit, twice and alike."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.house.sources import ROOT, Function, relative, tree_of

PHYSICS = sorted(
    path for path in (ROOT / "packs" / "physics").glob("*.py") if path.name != "__init__.py"
)
NUMBERS = re.compile(r"\b(float|int|complex|Quantity|NDArray)\b")
BRACKETS = re.compile(r"\[([^\[\]]+)\]")
# What the brackets may say for a name that ends so.
UNIT_OF = {
    "_v": {"V"},
    "_ohm": {"ohm", "Ω"},
    "_a": {"A"},
    "_ah": {"Ah"},
    "_wh": {"Wh"},
    "_s": {"s"},
    "_h": {"h"},
    "_pa": {"Pa"},
    "_c": {"°C"},
    "_k": {"K"},
    "_percent": {"%", "percent"},
    "_w": {"W"},
    "_l": {"l", "L", "litre"},
    "_mv": {"mV"},
    "_mohm": {"mohm", "mΩ", "milliohm"},
}
SECTION = re.compile(
    r"^(Parameters|Returns|Raises|Notes|Examples|References|See Also)\n-+\n", re.MULTILINE
)


def public_functions(path: Path) -> Iterator[Function]:
    for node in tree_of(path).body:
        if isinstance(node, Function) and not node.name.startswith("_"):
            yield node


FUNCTIONS = [
    pytest.param(path, function, id=f"{path.stem}.{function.name}")
    for path in PHYSICS
    for function in public_functions(path)
]


def sections(function: Function) -> dict[str, str]:
    """Return the docstring's sections by name."""
    parts = SECTION.split(ast.get_docstring(function) or "")
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def described(section: str) -> dict[str, str]:
    """Return what a section says about each name; a line such as ``a_v, b_v : float`` names two."""
    found: dict[str, str] = {}
    names: list[str] = []
    for line in section.splitlines():
        if line and not line[0].isspace():
            names = [name.strip(" *") for name in line.split(":")[0].split(",")]
            found |= dict.fromkeys(names, line)
        else:
            found |= {name: found[name] + "\n" + line for name in names}
    return found


def arguments(function: Function) -> list[ast.arg]:
    every = function.args
    return [*every.posonlyargs, *every.args, *every.kwonlyargs]


def is_number(annotation: ast.expr | None) -> bool:
    return annotation is not None and bool(NUMBERS.search(ast.unparse(annotation)))


def expected_units(name: str) -> set[str] | None:
    plain = re.sub(r"_(low|high)$", "", name)
    if "_per_" in plain:
        return None
    match = re.search(r"_[a-z]+$", plain)
    return UNIT_OF.get(match.group()) if match else None


@pytest.mark.parametrize(("path", "function"), FUNCTIONS)
def test_each_number_that_goes_in_says_its_unit(path: Path, function: Function) -> None:
    told = described(sections(function).get("Parameters", ""))
    silent = [
        argument.arg
        for argument in arguments(function)
        if is_number(argument.annotation) and not BRACKETS.search(told.get(argument.arg, ""))
    ]
    assert silent == [], relative(path)


@pytest.mark.parametrize(("path", "function"), FUNCTIONS)
def test_the_unit_in_the_name_is_the_unit_in_the_docstring(path: Path, function: Function) -> None:
    told = described(sections(function).get("Parameters", ""))
    apart = [
        f"{argument.arg}: {stated}"
        for argument in arguments(function)
        if is_number(argument.annotation)
        and (expected := expected_units(argument.arg)) is not None
        and (stated := set(BRACKETS.findall(told.get(argument.arg, ""))))
        and not stated & expected
    ]
    assert apart == [], relative(path)


@pytest.mark.parametrize(("path", "function"), FUNCTIONS)
def test_each_number_that_comes_out_says_its_unit(path: Path, function: Function) -> None:
    if is_number(function.returns):
        assert BRACKETS.search(sections(function).get("Returns", "")), relative(path)


@pytest.mark.parametrize(("path", "function"), FUNCTIONS)
def test_each_formula_gives_its_grounds(path: Path, function: Function) -> None:
    assert set(sections(function)) >= {"Parameters", "Returns", "Notes"}, relative(path)
