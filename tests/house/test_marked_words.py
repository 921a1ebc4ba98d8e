"""Every word that a person reads in a template goes through the catalogue.

Templates are read with Django's own lexer: what stands inside ``translate`` and ``blocktranslate``
is marked, what a variable prints is looked after where it is made, and no other text is left.
"""

import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Final

import pytest
from django.template.base import Lexer, TokenType
from typing_extensions import override

from tests.house.sources import relative, template_files

# Names that read alike in every language: ours, and units as instruments print them.
ALLOWED: Final = {
    "Coldbus",
    "Pa",
    "hPa",
    "kΩ",
    "MΩ",
    "Android",
    "iPad",
    "iPhone",
    "Windows",
    "Linux",
}
READ_ALOUD: Final = {"aria-label", "placeholder", "title", "alt", "aria-description", "label"}
# Attributes of ours whose words a script shows.
SHOWN_LATER: Final = {"data-off", "data-next", "data-alone", "data-words"}
WORD: Final = re.compile(r"[^\W\d_]{2,}")
ENTITY: Final = re.compile(r"&\w+;")
SILENT: Final = {"script", "style", "code"}
# What is put into the class of an element.
CLASSES: Final = re.compile(r"{%\s*block\s+\w+_class\s*%}.*?{%\s*endblock[^%]*%}")
SAID_BY_A_TAG: Final = re.compile(r"(?:default|default_if_none|yesno|pluralize):\"([^\"]*)\"")
MARKED: Final = {"blocktranslate", "blocktrans"}
GAP: Final = " 0 "


class Reader(HTMLParser):
    """Collects what is read: text between tags, and what some attributes say."""

    def __init__(self) -> None:
        super().__init__()
        self.bare: list[str] = []
        self.silent = 0

    @override
    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in SILENT:
            self.silent += 1
        for name, value in attrs:
            if name in READ_ALOUD | SHOWN_LATER:
                self.take(value or "")

    @override
    def handle_endtag(self, tag: str) -> None:
        if tag in SILENT:
            self.silent -= 1

    @override
    def handle_data(self, data: str) -> None:
        if not self.silent:
            self.take(data)

    def take(self, text: str) -> None:
        words = WORD.findall(ENTITY.sub(" ", text))
        if [word for word in words if word not in ALLOWED]:
            self.bare.append(" ".join(text.split()))


def bare_words(source: str) -> list[str]:
    """Give what a template says outside of the catalogue."""
    text, marked = "", False
    bare = [each for each in SAID_BY_A_TAG.findall(source) if " " in each.strip()]
    for token in Lexer(CLASSES.sub("", source)).tokenize():
        name = token.contents.split()[0] if token.contents.split() else ""
        if token.token_type is TokenType.BLOCK and name in MARKED:
            marked = True
        elif token.token_type is TokenType.BLOCK and name in {f"end{each}" for each in MARKED}:
            marked = False
        elif token.token_type is TokenType.TEXT and not marked:
            text += token.contents
        elif token.token_type in {TokenType.VAR, TokenType.BLOCK} and not marked:
            # A tag of a branch inside an attribute must not glue two words together.
            text += GAP if token.token_type is TokenType.VAR else ""
    reader = Reader()
    reader.feed(text)
    reader.close()
    return bare + reader.bare


def test_the_reader_finds_what_is_bare_and_nothing_else() -> None:
    assert bare_words("<p>Hello there</p>") == ["Hello there"]
    assert bare_words('<p>{% translate "Hello" %} {{ name }}</p>') == []
    assert bare_words("<p>{% blocktranslate %}Hello <b>you</b>{% endblocktranslate %}!</p>") == []
    assert bare_words('<input placeholder="on paper" name="note" class="wide">') == ["on paper"]
    assert bare_words('<img alt="{% translate "Logo" %}" src="logo.png">') == []
    assert bare_words('<img alt="A {{ colour }} logo">') == ["A 0 logo"]
    assert bare_words("{# a word for ourselves #}{% comment %}and more{% endcomment %}") == [
        "and more"
    ]
    assert bare_words('{{ name|default:"nobody yet" }}') == ["nobody yet"]
    assert bare_words("<p>Coldbus · 5 V &nbsp; × –</p>") == []
    assert bare_words('{% if a %}<b class="x">{% else %}<b>{% endif %}done</b>') == ["done"]


@pytest.mark.parametrize("page", template_files(), ids=relative)
def test_a_template_says_nothing_outside_of_the_catalogue(page: Path) -> None:
    source = page.read_text(encoding="utf-8")
    if page.stem.endswith("_attributes"):
        # A part that stands inside of a tag.
        source = f"<a {source}>"
    assert bare_words(source) == []
