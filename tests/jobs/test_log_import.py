"""Reading logs in by the pages: what is shown, refused, remembered, stored and verified."""

import io
import uuid
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from jobs.actions import logs as log_actions
from jobs.core import lanes
from jobs.core.entry import Entry
from jobs.models import Attachment
from jobs.practice.player import play
from jobs.practice.scene import Scene
from jobs.queries.logs import computed_again
from jobs.queries.records import job_info, record_of
from jobs.queries.verify import verify_job
from jobs.report.blocks import Pictures
from jobs.report.document import report_of
from jobs.steps import STEPS
from jobs.steps.road_test.items import LOG
from packs.queries import log_sources
from tests.play import a_job_at
from workshop import clock, queries, sign_on
from workshop.kept_files import path_of

pytestmark = pytest.mark.django_db

DATA = Path(__file__).parents[1] / "data"
CLEAN, DIRTY = ((DATA / f"cycle_{name}.csv").read_bytes() for name in ("clean", "dirty"))


@pytest.fixture
def scene(db: None) -> Iterator[Scene]:
    """A van that is driven and charged; the log is what comes next."""
    with a_job_at("road_test") as played:
        play(played, until=LOG.key)
        yield played


@pytest.fixture
def client(scene: Scene) -> Client:
    person, visitor = scene.shop.people["Aster"], Client()
    session = visitor.session
    session[sign_on.PERSON_KEY] = person
    session[sign_on.MARK_KEY] = queries.session_mark(person)
    session[sign_on.SEEN_KEY] = clock.now().timestamp()
    session.save()
    return visitor


def send(client: Client, scene: Scene, content: bytes, name: str = "charger.csv") -> Any:
    file = SimpleUploadedFile(name, content)
    return client.post(reverse("jobs:log", args=(scene.job,)), {"log": file})


def shown(client: Client, scene: Scene, content: bytes) -> tuple[str, Any, dict[str, str]]:
    """Send a file; give the address of its columns, the page's data, and the form as shown."""
    place = send(client, scene, content).headers["Location"]
    page = client.get(place).context["page"]
    return place, page, form_of(page)


def form_of(page: Any) -> dict[str, str]:
    mapping = page.mapping
    form = {"name": mapping.name, "sign": mapping.sign, "source": mapping.source}
    for column in mapping.columns:
        form[f"role-{column.index}"] = column.role
        form[f"place-{column.index}"] = column.place
    return form


def entries(scene: Scene) -> tuple[Entry, ...]:
    record = record_of(scene.job, now=clock.now())
    assert record is not None
    return record.live.get(LOG.key, ())


def words(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_the_card_says_what_can_be_sent_before_anything_is(client: Client, scene: Scene) -> None:
    step = client.get(reverse("jobs:step", args=(scene.job, "road_test")))
    assert "up to 40 MB" in words(step)
    assert reverse("jobs:log", args=(scene.job,)) in words(step)
    assert "up to 40 MB" in words(client.get(reverse("jobs:log", args=(scene.job,))))


@pytest.mark.parametrize(("content", "sign"), [(CLEAN, "charge_positive"),
                                               (DIRTY, "discharge_positive")])  # fmt: skip
def test_a_log_is_shown_then_saved_with_what_was_found(
    client: Client, scene: Scene, content: bytes, sign: str
) -> None:
    place, page, form = shown(client, scene, content)
    assert page.ready
    assert page.mapping.sign == sign
    assert len(page.mapping.cells) == page.needed_cells == 84
    assert entries(scene) == ()
    if content is DIRTY:
        assert any("millivolts" in text for text in page.repairs)
    assert client.post(place, {**form, "save": "1", "source": "Charger"}).status_code == 302
    (entry,) = entries(scene)
    assert entry.value["name"] == "charger.csv"
    assert entry.value["asked"]["replaced"] == ["M9"]
    assert len(entry.value["result"]["cells"]) == 84
    assert verify_job(uuid.UUID(scene.job)) == ()
    assert computed_again(entry) == entry.value["result"]
    page = words(client.get(reverse("jobs:step", args=(scene.job, "road_test"))))
    assert "from the log" in page
    assert "Cells by module, at rest" in page
    info, record = job_info(scene.job), record_of(scene.job, now=clock.now())
    assert info is not None
    assert record is not None
    drawn = [each for each in report_of(info, record).blocks if isinstance(each, Pictures)]
    assert any(p.title == lanes.TITLE for each in drawn for p in each.pictures)


def test_columns_are_remembered_by_their_source_and_offered(client: Client, scene: Scene) -> None:
    place, _, form = shown(client, scene, CLEAN)
    form |= {"role-86": "", "source": "Charger"}
    client.post(place, {**form, "save": "1"})
    assert [source.name for source in log_sources()] == ["Charger"]
    again = client.get(place).context["page"].mapping
    assert again.source == "Charger"
    assert again.columns[86].role == ""
    guessed = client.get(f"{place}&source=").context["page"].mapping
    assert guessed.columns[86].role == "temperature"


def test_a_wrong_sign_is_in_doubt_and_blocks(client: Client, scene: Scene) -> None:
    place, _, form = shown(client, scene, CLEAN)
    page = client.post(place, {**form, "look": "1", "sign": "discharge_positive"}).context["page"]
    assert page.doubts
    assert page.verdict == "undecided"


def test_cells_counted_from_pack_positive_come_in_the_other_order(
    client: Client, scene: Scene
) -> None:
    place, _, form = shown(client, scene, CLEAN)
    client.post(place, {**form, "save": "1", "from_positive": "on"})
    (entry,) = entries(scene)
    assert entry.value["columns"]["cell_v"][0] == "c84_v"
    assert entry.value["result"]["weakest_cell"] == str(85 - 77)


def a_zip() -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("log.csv", CLEAN[:500])
    return packed.getvalue()


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (a_zip(), "packed archive"),
        (b"\x89PNG\r\n\x1a\n" + bytes(200), "a picture"),
        (b"", "is empty"),
        (b"hello\n", "no table"),
        (b";".join(b"c%d" % n for n in range(600)) + b"\n" + b"1;" * 599 + b"1\n2" + b";2" * 599,
         "600 columns"),
    ],
    ids=["zip", "picture", "empty", "words", "wide"],
)  # fmt: skip
def test_what_is_no_log_is_refused_with_words(
    client: Client, scene: Scene, content: bytes, told: str
) -> None:
    answer = send(client, scene, content)
    assert answer.status_code == 422
    assert told in words(answer)
    assert not Attachment.objects.exists()


def test_a_file_over_the_limit_is_refused(
    client: Client, scene: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(log_actions, "LIMIT_BYTES", 1000)
    assert "larger than 40 MB" in words(send(client, scene, CLEAN))


def fewer_cells() -> bytes:
    return b"\n".join(b",".join(line.split(b",")[:50]) for line in CLEAN.splitlines())


def other_chemistry() -> bytes:
    return CLEAN.replace(b",3.", b",4.")


REFUSED = [
    (fewer_cells(), "cells", "this pack has 84 cells"),
    (other_chemistry(), "cells", "The cells read"),
    (DIRTY.replace(b"2026-03-03", b"2026-01-03"), "clock", "before this job"),
    (DIRTY.replace(b"2026-03-03", b"2027-03-03"), "clock", "not come yet"),
]


@pytest.mark.parametrize(
    ("content", "field", "told"), REFUSED, ids=["cells", "volts", "early", "late"]
)
def test_a_log_of_another_car_is_said_at_its_field_and_kept_for_correction(
    client: Client, scene: Scene, content: bytes, field: str, told: str
) -> None:
    place, page, form = shown(client, scene, content)
    assert not page.ready
    assert told in " ".join(page.faults[field])
    answer = client.post(place, {**form, "save": "1"})
    assert answer.status_code == 422
    assert told in words(answer).replace("&#x27;", "'")
    assert entries(scene) == ()
    assert Attachment.objects.count() == 1
    assert place.split("/")[-2][:12] in words(client.get(reverse("jobs:log", args=(scene.job,))))


def test_a_logger_with_a_wrong_clock_is_taken_with_the_reason(client: Client, scene: Scene) -> None:
    place, _, form = shown(client, scene, DIRTY.replace(b"2026-03-03", b"2016-01-01"))
    reason = "New battery in the logger; plugged in here at 9."
    client.post(place, {**form, "save": "1", "clock": reason})
    (entry,) = entries(scene)
    assert entry.value["clock"] == reason
    step, record = STEPS[7], record_of(scene.job, now=clock.now())
    assert record is not None
    warned = step.section(record, step.assess(record)).warnings
    assert any(reason in str(said.params) for said in warned)


def test_two_columns_for_the_time_are_said(client: Client, scene: Scene) -> None:
    place, _, form = shown(client, scene, CLEAN)
    answer = client.post(place, {**form, "save": "1", "role-87": "time"})
    assert "2 columns are taken as the time" in words(answer)
    answer = client.post(place, {**form, "save": "1", "place-4": "2"})
    assert "a number of its own" in words(answer)
    assert entries(scene) == ()


def test_verify_finds_a_changed_and_a_missing_file(client: Client, scene: Scene) -> None:
    place, _, form = shown(client, scene, CLEAN)
    client.post(place, {**form, "save": "1"})
    path = path_of(entries(scene)[0].value["sha256"])
    path.write_bytes(CLEAN[:-9] + b"9.9,18.6\n")
    assert any("was changed" in fault.what for fault in verify_job(uuid.UUID(scene.job)))
    path.unlink()
    assert any("is missing" in fault.what for fault in verify_job(uuid.UUID(scene.job)))


def test_nobody_enters_a_log_by_a_digest_that_was_not_kept(client: Client, scene: Scene) -> None:
    place = reverse("jobs:log_columns", args=(scene.job, "0" * 64))
    assert client.get(place).status_code == 404
