"""Every sentence that a script shows is the literal first argument of ``say``."""

import re
from pathlib import Path
from typing import Final

import pytest

from tests.house.sources import relative, script_files
from workshop.script_words import said_in, sentences

COMMENTS: Final = re.compile(r"/\*.*?\*/|(?<![:\"'`])//[^\n]*", re.DOTALL)
TEXTS: Final = re.compile(
    r"\"((?:[^\"\\\n]|\\.)*)\"|'((?:[^'\\\n]|\\.)*)'|`((?:[^`\\]|\\.)*)`", re.DOTALL
)
SAID: Final = re.compile(r"\bsay\(\"(?:[^\"\\\n]|\\.)*\"")
CALL: Final = re.compile(r"(?<!function )\bsay\((?!\")")
FIELD: Final = re.compile(r"\$\{[^}]*\}")
# Two words with a space, or one that begins like a label; what has the signs of a selector or of
# a list of classes is neither.
SENTENCE: Final = re.compile(r"[A-Za-z’']{2,} [a-z’']{2,}|^[A-Z][a-z]{2,}\.?$")
NO_SENTENCE: Final = re.compile(r"[\[\]#=<>{}|/]|\w-\w|^\.|, ?\w+ \w+$")
# Keys of a keyboard, headers, words between page and worker, and faults that nobody is shown.
NOT_READ: Final = {
    "Enter",
    "Escape",
    "Vary",
    "answer for me",
    "coldbus unsent entries",
    "ft lb",
    "h3, summary span",
    "no answer",
    "no page for what is not reachable",
    "not the workshop's server",
    "take over",
}


def bare_sentences(script: str) -> list[str]:
    """Give what looks like a sentence and is not said through ``say``."""
    text = SAID.sub("say(", COMMENTS.sub("", script))
    found = ("".join(groups) for groups in TEXTS.findall(text))
    plain = (" ".join(FIELD.sub("0", each).split()) for each in found)
    return [
        each
        for each in plain
        if SENTENCE.search(each) and not NO_SENTENCE.search(each) and each not in NOT_READ
    ]


def test_the_search_finds_sentences_and_leaves_the_rest() -> None:
    assert bare_sentences('a.textContent = "Drop it for good";') == ["Drop it for good"]
    assert bare_sentences("b = `${n} entries wait`;") == ["0 entries wait"]
    assert bare_sentences('c("Correct")') == ["Correct"]
    assert bare_sentences('say("Drop it for good"); x.className = "queued queued-new";') == []
    assert bare_sentences('page.querySelector(".card button"); // a word for ourselves') == []


@pytest.mark.parametrize("script", script_files(), ids=relative)
def test_a_script_shows_no_sentence_outside_of_the_catalogue(script: Path) -> None:
    assert bare_sentences(script.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("script", script_files(), ids=relative)
def test_what_is_said_is_written_out_where_it_is_said(script: Path) -> None:
    text = COMMENTS.sub("", script.read_text(encoding="utf-8"))
    assert CALL.findall(text) == []


def test_every_sentence_of_the_scripts_is_collected() -> None:
    said = {each for path in script_files() for each in said_in(path.read_text(encoding="utf-8"))}
    assert set(sentences()) == said
    assert "Drop it for good" in said
