"""Every word on every page is asked of the catalogue, or is somebody's own."""

import re
from collections.abc import Callable, Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Final

import pytest
from django.apps import apps
from django.conf import settings
from django.test import Client
from typing_extensions import override

from jobs.practice.scene import Scene
from jobs.queries.practice_shelf import colleague_names
from jobs.steps import STEPS
from tests.pages.addresses import address_of
from tests.pages.marked import marking, unmarked
from tests.pages.test_every_page import ASKED, NOT_THERE, allowed
from workshop.backups.keys import key_of, words_of

pytestmark = pytest.mark.django_db

Visit = Callable[[str], Client]

SPOKEN: Final = {"alt", "aria-label", "aria-description", "placeholder", "title"}
NOT_READ: Final = {"script", "style", "datalist"}
OF_NOBODY: Final = {"Coldbus", "Deutsch", "English", "TOML", "VIN", "kPa", "mbar", "psi"}
"""Names, symbols and units that every language writes alike."""
LETTERS: Final = re.compile(r"[^\W\d_]{3,}")
TYPED: Final = set(LETTERS.findall("python3 manage.py restore FILE"))
COLLEAGUES: Final = set(re.findall(r"[^\W\d_]{3,}", " ".join(colleague_names().values())))
"""Simulated people are named alike in every language."""


class _Read(HTMLParser):
    """Gathers what a person reads on a page or is told by a screen reader."""

    def __init__(self) -> None:
        super().__init__()
        self.read: list[str] = []
        self._within: list[str] = []

    @override
    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in NOT_READ:
            self._within.append(tag)
        self.read += [value for name, value in attrs if name in SPOKEN and value]

    @override
    def handle_endtag(self, tag: str) -> None:
        if tag in NOT_READ and self._within:
            self._within.pop()

    @override
    def handle_data(self, data: str) -> None:
        if not self._within and data.strip():
            self.read.append(data)


def _stored() -> Iterator[str]:
    """Give every word that the workshop's rows hold."""
    for model in apps.get_models():
        if model._meta.app_label in {"workshop", "packs", "jobs"}:
            for row in model._default_manager.values_list():
                yield from re.findall(r"[^\W\d_]{3,}", " ".join(map(str, row)))


@pytest.mark.parametrize("role", ["technician", "manager", "front_desk"])
def test_each_word_of_each_page_is_translated_or_was_entered(
    role: str, scene: Scene, as_role: Visit
) -> None:
    path = re.compile(rf"{re.escape(str(settings.COLDBUS_DATA))}\S*")
    client, stored = as_role(role), set(_stored()) | OF_NOBODY | TYPED | COLLEAGUES
    stored |= set(LETTERS.findall(words_of(key_of(Path(settings.COLDBUS_DATA)))))
    found: dict[str, str] = {}
    pages = [address_of(name, scene) for name in set(ASKED) - NOT_THERE if role in allowed(name)]
    pages += [address_of("jobs:step", scene, slug=step.slug) for step in STEPS]
    with marking():
        for page in pages:
            answer = client.get(page)
            if not answer["Content-Type"].startswith("text/html"):
                continue
            reader = _Read()
            reader.feed(answer.content.decode())
            for text in reader.read:
                if text.strip().startswith(str(settings.COLDBUS_BACKUPS)):
                    continue
                for word in unmarked(path.sub("", text), stored.__contains__):
                    found.setdefault(word, f"{page}: {text.strip()[:90]}")
    assert found == {}
