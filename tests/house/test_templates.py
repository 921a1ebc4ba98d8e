"""Templates show what was computed: no scripts in the page, no figures without unit, no rules."""

import re
from pathlib import Path

import pytest

from tests.house.sources import ROOT, relative, script_files, template_files

UNIT = r"(v|ohm|a|ah|wh|s|h|pa|c|percent|w|l|mv|mohm|kg|mm|nm)"
FIGURE = re.compile(rf"_{UNIT}(_per_{UNIT})?(_low|_high)?$")
VARIABLE = re.compile(r"{{\s*([^}|\s]+)\s*(\|[^}]*)?}}")
# Counting numbers have no unit; stringformat:"d" keeps them from being grouped.
RAW_FORMATS = re.compile(r"\|\s*(floatformat|intcomma|stringformat:(?!\"d\"))")
INLINE_SCRIPT = re.compile(r"<script(?![^>]*\bsrc=)", re.IGNORECASE)
INLINE_STYLE = re.compile(r"<style\b|\sstyle\s*=", re.IGNORECASE)
INLINE_HANDLER = re.compile(r"\son[a-z]+\s*=|\shx-on|\bjs:|\bjavascript:", re.IGNORECASE)
FORM = re.compile(r"<form\b(?P<head>[^>]*)>(?P<body>.*?)</form>", re.IGNORECASE | re.DOTALL)
OUTSIDE = re.compile(r"(?:src|href|action)\s*=\s*[\"'](?:https?:)?//", re.IGNORECASE)
COMMENT = re.compile(r"{#.*?#}|{%\s*comment.*?endcomment\s*%}", re.DOTALL)

pages = pytest.mark.parametrize("page", template_files(), ids=relative)


def text_of(page: Path) -> str:
    return COMMENT.sub("", page.read_text(encoding="utf-8"))


@pages
def test_a_template_runs_no_script_of_its_own(page: Path) -> None:
    assert INLINE_SCRIPT.findall(text_of(page)) == []
    assert INLINE_HANDLER.findall(text_of(page)) == []


@pages
def test_a_template_has_no_style_of_its_own(page: Path) -> None:
    assert INLINE_STYLE.findall(text_of(page)) == []


@pages
def test_a_template_fetches_nothing_from_elsewhere(page: Path) -> None:
    assert OUTSIDE.findall(text_of(page)) == []


@pages
def test_a_figure_goes_through_the_filter_that_adds_its_unit(page: Path) -> None:
    text = text_of(page)
    raw = [name for name, filters in VARIABLE.findall(text) if not filters and FIGURE.search(name)]
    assert raw == []
    assert RAW_FORMATS.findall(text) == []


@pages
def test_a_form_that_changes_something_carries_its_token(page: Path) -> None:
    bare = [
        form["head"].strip()
        for form in FORM.finditer(text_of(page))
        if re.search(r"method\s*=\s*[\"']?post", form["head"], re.IGNORECASE)
        and "csrf_token" not in form["body"]
    ]
    assert bare == []


def test_scripts_import_their_neighbours_by_plain_relative_names() -> None:
    imports = re.compile(r"^\s*(?:import|export)\b[^;]*?from\s+[\"']([^\"']+)[\"']", re.MULTILINE)
    foreign = [
        f"{relative(path)}: {name}"
        for path in script_files()
        for name in imports.findall(path.read_text(encoding="utf-8"))
        if not name.startswith(("./", "../")) or not (path.parent / name).is_file()
    ]
    assert foreign == []


def test_scripts_are_checked_by_the_editor() -> None:
    unchecked = [
        relative(path)
        for path in script_files()
        if "@ts-check" not in path.read_text(encoding="utf-8")
    ]
    assert unchecked == []


def test_static_addresses_are_never_written_by_hand() -> None:
    written = [
        relative(page)
        for page in template_files()
        if re.search(r"[\"']/static/", page.read_text(encoding="utf-8"))
    ]
    assert written == []
    assert (ROOT / "templates").is_dir()
