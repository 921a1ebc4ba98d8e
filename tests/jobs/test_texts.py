"""The texts of the project: all are found in the source, and German has every one of them."""

import re
from collections.abc import Iterator
from pathlib import Path

import polib
import pytest
from django.utils.translation import gettext, override
from pytest_django import Settings

from jobs.texts import Text, collected
from jobs.texts.catalogue import compile_catalogue, languages, path_of, state_of, update
from jobs.texts.from_python import python_texts
from jobs.texts.from_scripts import script_texts
from jobs.texts.from_templates import template_texts

FIELD = re.compile(r"\{[^{}]*\}|%\([A-Za-z0-9_]+\)[sd]|%%")


@pytest.fixture(scope="module")
def texts() -> tuple[Text, ...]:
    return collected()


def test_german_has_every_text_and_none_that_is_said_no_more(texts: tuple[Text, ...]) -> None:
    state = state_of("de", texts)
    assert (state.missing, state.stale) == ((), ())


def _forms(entry: polib.POEntry) -> Iterator[tuple[str, str]]:
    if entry.msgid_plural:
        # A singular may leave its number out, a plural may not.
        yield entry.msgid_plural, entry.msgstr_plural[1]
    else:
        yield entry.msgid, entry.msgstr


@pytest.mark.parametrize("language", languages())
def test_each_translation_has_the_fields_of_its_text(language: str) -> None:
    wrong = [
        text
        for entry in polib.pofile(str(path_of(language)))
        for text, said in _forms(entry)
        if sorted(FIELD.findall(text)) != sorted(FIELD.findall(said))
    ]
    assert wrong == []


@pytest.mark.parametrize("language", languages())
def test_what_django_reads_is_what_the_catalogue_says(language: str) -> None:
    path = path_of(language)
    compiled = polib.mofile(str(path.with_suffix(".mo")))
    said = {each.msgid: (each.msgstr, each.msgstr_plural) for each in polib.pofile(str(path))}
    assert {each.msgid: (each.msgstr, each.msgstr_plural) for each in compiled} == said


def test_django_speaks_german() -> None:
    with override("de"):
        assert gettext("De-energise check") != "De-energise check"


def _entry(catalogue: polib.POFile | polib.MOFile, text: str) -> polib.POEntry | polib.MOEntry:
    return next(each for each in catalogue if each.msgid == text)


def test_a_language_is_begun_filled_in_and_brought_to_the_source(
    tmp_path: Path, settings: Settings
) -> None:
    settings.LOCALE_PATHS = [tmp_path]
    first = (Text("Two of {n}", "", ("a.py",)), Text("{n} job", "{n} jobs", ("b.html",)))
    assert update("cs", first).missing == ("Two of {n}", "{n} job")
    catalogue = polib.pofile(str(path_of("cs")))
    _entry(catalogue, "Two of {n}").msgstr = "Dva z {n}"
    catalogue.save()
    compile_catalogue("cs")
    state = update("cs", (first[0], Text("New", "", ("c.py",))))
    assert (state.texts, state.missing, state.stale) == (2, ("New",), ())
    kept = _entry(polib.pofile(str(path_of("cs"))), "Two of {n}")
    compiled = _entry(polib.mofile(str(path_of("cs").with_suffix(".mo"))), "Two of {n}")
    assert (kept.msgstr, compiled.msgstr) == ("Dva z {n}", "Dva z {n}")


def test_texts_of_templates_are_those_that_the_catalogue_is_asked_for() -> None:
    source = """{% load i18n %}{% translate "50 % charge" %}{% include "a" with x=_("Here") %}
    {% blocktranslate count n=rows|length trimmed %}
      {{ n }} row
    {% plural %}
      {{ n }} rows
    {% endblocktranslate %}{% translate each.title %}Not this"""
    assert list(template_texts(source)) == [
        ("50 %% charge", ""),
        ("%(n)s row", "%(n)s rows"),
        ("Here", ""),
    ]


def test_texts_of_python_are_found_behind_names_and_in_branches() -> None:
    source = """
"Not this docstring."
GROUP, OTHER = "A group", "x"
WAIT = Reason("wait", "Wait {h} h.")
ITEM = tick("a.b", "Done", group=GROUP, help=OTHER)
def f(n):
    return ngettext("{n} entry", "{n} entries", n), gettext("Yes" if n else "No"), f"{n} volts"
"""
    assert set(python_texts("jobs/views/a.py", source)) == {
        ("Wait {h} h.", ""),
        ("Done", ""),
        ("A group", ""),
        ("x", ""),
        ("{n} entry", "{n} entries"),
        ("Yes", ""),
        ("No", ""),
    }


def test_texts_of_scripts_are_the_first_words_of_say() -> None:
    source = """say("{n} wait", { n }); say( "He said \\"no\\"" ); hearsay("x"); say(other)"""
    assert list(script_texts(source)) == [("{n} wait", ""), ('He said "no"', "")]
