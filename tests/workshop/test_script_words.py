"""A page in another language carries what the scripts say in it; a page in English nothing."""

import json
import re
from collections.abc import Callable

import pytest
from django.test import Client
from django.utils import translation

from workshop import actions, script_words

TabletOf = Callable[[str], Client]
PLACE = re.compile(r'<script id="words" type="application/json">(.*?)</script>', re.DOTALL)
TYPED = {"name": "Example", "number_prefix": "EX", "time_zone": "UTC", "currency": "EUR"}


@pytest.fixture
def marking(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stands for a catalogue, so that what is shown is what was asked of it."""
    monkeypatch.setattr(script_words, "gettext", lambda text: f"<{text}>")


def test_a_page_in_english_carries_no_catalogue(
    tablet_of: TabletOf, wren: str, marking: None
) -> None:
    assert PLACE.search(tablet_of(wren).get("/").content.decode()) is None


def test_a_page_in_another_language_carries_exactly_what_scripts_say(
    tablet_of: TabletOf, wren: str, marking: None
) -> None:
    actions.set_language(language="de", by=wren)
    page = PLACE.search(tablet_of(wren).get("/").content.decode())
    assert page is not None
    carried = json.loads(page[1])
    assert set(carried) == set(script_words.sentences())
    assert carried["Drop it for good"] == "<Drop it for good>"
    # Markup in a sentence cannot end the block it stands in.
    assert "<" not in page[1]


def test_what_reads_the_same_is_not_carried() -> None:
    with translation.override("de"):
        same = script_words.catalogue()
    assert all(english != words for english, words in same.items())


def test_the_page_that_is_not_reachable_speaks_the_shops_language(
    tablet_of: TabletOf, wren: str
) -> None:
    tablet = tablet_of(wren)
    before = tablet.get("/sw.js").content
    tablet.post("/shop/settings/", TYPED | {"language": "de"})
    after = tablet.get("/sw.js").content
    assert before != after
    actions.set_language(language="en", by=wren)
    assert tablet.get("/sw.js").content == after
