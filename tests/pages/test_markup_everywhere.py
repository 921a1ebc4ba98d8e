"""Markup in every text that the workshop holds: shown as it was typed, on every page and paper."""

import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from html.parser import HTMLParser
from typing import Any, Final

import pytest
from django.apps import apps
from django.db import models
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader
from typing_extensions import override

from jobs.core.item import Shape
from jobs.core.order import find_item
from jobs.practice.player import book_in, play
from jobs.practice.scenario import recipe
from jobs.practice.scene import Scene
from jobs.practice.tablet import Reply, Straight
from jobs.queries.records import record_of
from jobs.steps import STEPS
from tests.pages.addresses import address_of
from tests.pages.test_every_page import ASKED, NOT_THERE, allowed
from tests.play import MORNING, a_practice_shop, light_pins
from workshop import clock, queries, sign_on

pytestmark = pytest.mark.django_db

TAG: Final = "x7"
SHORT: Final = f"<{TAG}>\"'&"
LONG: Final = (
    f"</script></textarea></title>\"' on{TAG}=1 ><{TAG} a>{{{{7919*7907}}}}{{% now 'Y' %}}"
    f"</para><b>&lt;&#x41; \u202e\u200d \U0001f50b e\u0301 {'W' * 120}"
)
SPACE: Final = 24
"""Columns with less room than this hold codes."""
CODES: Final = {
    *("role", "kind", "state", "code", "language", "time_zone", "currency", "pin_hash", "sha256"),
    *("media_type", "chemistry", "reserved_for", "module", "slug", "toml", "unit", "key", "job"),
    *(
        "token_digest",
        "digest",
        "place_digest",
        "current_sign",
        "vin",
        "part",
        "number_prefix",
        "body",
    ),
    *("insulation_comparator", "torque_unit", "pressure_unit", "distance_unit", "place"),
}
"""Columns that no form fills with free text, or a list fills."""
JUDGED: Final = {"intake.vin"}
"""Texts that a step compares with something."""
WITH_WORDS: Final = {"reason", "note", "text", "name", "what", "from", "why", "provenance"}


def _mark(room: int | None) -> str:
    return LONG if room is None or room >= 2 * len(LONG) else SHORT


def mark_registers() -> int:
    """Put markup into every text of the registers; say into how many columns."""
    marked = 0
    for model in apps.get_models():
        if model._meta.app_label not in {"workshop", "packs"} or "RegisterEvent" in str(model):
            continue
        for field in model._meta.concrete_fields:
            room = getattr(field, "max_length", None)
            if field.name in CODES or not isinstance(field, (models.CharField, models.TextField)):
                continue
            if room is not None and room < 20:
                continue
            rows = list(model._default_manager.exclude(**{field.attname: ""}))
            for row in rows:
                text = str(getattr(row, field.attname))
                added = _mark(room)
                cut = text[: max(0, (room or 10_000) - len(added))]
                model._default_manager.filter(pk=row.pk).update(**{field.attname: cut + added})
            marked += bool(rows)
    return marked


@dataclass
class Marking(Straight):
    """A hand that adds markup to every word that somebody types."""

    @override
    def post(self, entry: dict[str, Any]) -> Reply:
        """Send the entry with markup in its words."""
        record = record_of(entry["job"], now=clock.now())
        found = None if record is None else find_item(STEPS, record, entry["item"])
        words = found is not None and found[1].shape in {Shape.TEXT, Shape.PERSONAL}
        free = words and entry["item"] not in JUDGED
        return super().post({**entry, "value": _marked(entry["value"], free=free)})


def _marked(value: Any, *, free: bool) -> Any:
    if isinstance(value, str):
        return value + LONG if free else value
    if isinstance(value, dict):
        within = {k: v + SHORT for k, v in value.items() if isinstance(v, str) and k in WITH_WORDS}
        return {k: within.get(k, _marked(v, free=False)) for k, v in value.items()}
    return [_marked(each, free=free) for each in value] if isinstance(value, list) else value


@contextmanager
def a_marked_job() -> Iterator[Scene]:
    with light_pins(), clock.use_fixed(MORNING) as moment:
        shop = a_practice_shop()
        scene = book_in(shop, recipe("van-coolant"), moment)
        assert mark_registers() > 20
        scene.hand = Marking
        play(scene, until="closed")
        yield scene


class _Read(HTMLParser):
    """Finds what a browser would obey, and how often the markup is shown."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.obeyed: list[str] = []
        self.shown = 0

    @override
    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == TAG or any(name.startswith(f"on{TAG}") for name, _ in attrs):
            self.obeyed.append(self.get_starttag_text() or tag)
        self.shown += sum(f"<{TAG}" in (value or "") for _, value in attrs)

    @override
    def handle_data(self, data: str) -> None:
        self.shown += data.count(f"<{TAG}")


def _client(scene: Scene, name: str) -> Client:
    client, person = Client(), scene.shop.people[name]
    session = client.session
    session[sign_on.PERSON_KEY] = person
    session[sign_on.MARK_KEY] = queries.session_mark(person)
    session[sign_on.SEEN_KEY] = clock.now().timestamp()
    session.save()
    return client


def _off_the_paper(pdf: bytes) -> list[str]:
    """Give what begins right of the paper, or runs over its edge by the narrowest reckoning."""
    found: list[str] = []
    for page in PdfReader(io.BytesIO(pdf)).pages:
        width = float(page.mediabox.width)

        def look(text: str, cm: Any, tm: Any, _font: Any, size: float, edge: float = width) -> None:
            x = float(tm[4]) * float(cm[0]) + float(cm[4])
            if text.strip() and x + 0.3 * abs(size * float(tm[0])) * len(text.strip()) > edge:
                found.append(text.strip()[:60])

        page.extract_text(visitor_text=look)
    return found


def _papers(scene: Scene) -> Iterator[str]:
    for name in ("report", "record_pdf", "receipt", "quotation"):
        for language in ("en", "de"):
            yield reverse(f"jobs:{name}", args=(scene.job,)) + f"?language={language}"
    yield reverse("jobs:due_list_pdf")


def test_nothing_that_somebody_typed_is_obeyed_anywhere() -> None:
    with a_marked_job() as scene:
        shown, wrong = 0, dict[str, object]()
        for role, person in (("manager", "Thorne"), ("technician", "Aster")):
            client = _client(scene, person)
            names = set(ASKED) - NOT_THERE - {"start_certificate"}
            pages = [address_of(name, scene) for name in names if role in allowed(name)]
            pages += [address_of("jobs:step", scene, slug=step.slug) for step in STEPS]
            for page in pages:
                answer = client.get(page)
                if answer.status_code >= 400:
                    wrong[page] = answer.status_code
                if not answer["Content-Type"].startswith("text/html"):
                    continue
                read = _Read()
                read.feed(answer.content.decode())
                shown += read.shown
                if read.obeyed or "62615533" in answer.content.decode():
                    wrong[page] = read.obeyed
        assert wrong == {}
        assert shown > 500
        _hold_papers(_client(scene, "Thorne"), scene)


def _hold_papers(client: Client, scene: Scene) -> None:
    shown = 0
    for paper in _papers(scene):
        answer = client.get(paper)
        assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf"), paper
        pdf = answer.content
        text = "".join("".join(p.extract_text().split()) for p in PdfReader(io.BytesIO(pdf)).pages)
        assert f"<{TAG}" in text, paper
        shown += text.count(f"<{TAG}")
        assert _off_the_paper(pdf) == [], paper
    assert shown > 60


def test_the_measure_tells_markup_from_words() -> None:
    read = _Read()
    read.feed(f"<p title='&lt;{TAG}&gt;'>&lt;{TAG}&gt; <{TAG}></p><i on{TAG}=1>")
    assert (read.shown, len(read.obeyed)) == (2, 2)
