"""The page of the backups: for managers, with its filters, its button and its files."""

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from django.test import Client
from pytest_django import Settings

from tests.forging import sqlite_only
from tests.workshop.backups.small_shop import NOW, a_shop, alter
from workshop import clock, queries
from workshop.backups import checking, shelf
from workshop.backups.keys import key_of, words_of
from workshop.backups.making import make
from workshop.backups.manifest import BY_HAND, DAILY, MANIFEST_NAME
from workshop.backups.places import Places

pytestmark = sqlite_only
TabletOf = Callable[[str], Client]
PAGE = "/shop/backups/"


@pytest.fixture
def here(tmp_path: Path, settings: Settings, wren: str) -> Places:
    """A shop's own data folder, whose backups this workshop's pages show."""
    made = a_shop(tmp_path, queries.shop().workshop_id.replace("-", ""))
    settings.COLDBUS_DATA = made.data
    settings.COLDBUS_BACKUPS = made.shelf
    return made


def text_of(client: Client, address: str, **sent: str) -> str:
    return client.get(address, sent).content.decode().replace("\u00a0", " ")


def test_only_managers_see_make_and_take_them(
    tablet_of: TabletOf, here: Places, wren: str, sorrel: str, ivy: str
) -> None:
    name = make(here, DAILY, NOW).path.name
    for person in (sorrel, ivy):
        tablet = tablet_of(person)
        assert tablet.get(PAGE).status_code == 403
        assert tablet.get(f"{PAGE}{name}").status_code == 403
        assert tablet.post(f"{PAGE}now/").status_code == 403
    assert len(shelf.kept_in(here.shelf)) == 1
    assert tablet_of(wren).get(PAGE).status_code == 200


def test_it_says_when_why_what_and_whether_checked(
    tablet_of: TabletOf, here: Places, wren: str
) -> None:
    make(here, DAILY, NOW - timedelta(days=1))
    text = text_of(tablet_of(wren), PAGE)
    assert "1 Mar 2026, 12:00" in text
    assert "checked" in text
    assert "2 jobs," in text
    assert "5 entries" in text
    assert str(here.shelf) in text


def test_a_failed_one_is_shown_as_failed(tablet_of: TabletOf, here: Places, wren: str) -> None:
    alter(here, "DELETE FROM jobs_entry WHERE job_id = 'W1' AND seq = 3")
    tablet = tablet_of(wren)
    tablet.post(f"{PAGE}now/")
    text = text_of(tablet, PAGE)
    assert "failed: do not rely on it" in text
    assert "The backup failed" in text
    assert "Backup made and checked" not in text


def test_the_button_makes_one(tablet_of: TabletOf, here: Places, wren: str) -> None:
    tablet = tablet_of(wren)
    answer = tablet.post(f"{PAGE}now/", follow=True)
    assert "Backup made and checked." in answer.content.decode()
    (kept,) = shelf.kept_in(here.shelf)
    assert (kept.reason, kept.failed) == (BY_HAND, False)


def test_while_one_is_made_the_page_says_so(tablet_of: TabletOf, here: Places, wren: str) -> None:
    with shelf.only_one(here):
        assert "A backup is being made." in text_of(tablet_of(wren), PAGE)
    assert "A backup is being made." not in text_of(tablet_of(wren), PAGE)


def test_the_list_is_filtered_and_searched(tablet_of: TabletOf, here: Places, wren: str) -> None:
    daily = make(here, DAILY, NOW - timedelta(days=1)).path.name
    by_hand = make(here, BY_HAND, NOW - timedelta(hours=1)).path.name
    tablet = tablet_of(wren)

    def shown(**asked: str) -> list[str]:
        text = text_of(tablet, PAGE, **asked)
        return [name for name in (daily, by_hand) if name in text]

    assert shown() == [daily, by_hand]
    assert shown(why=DAILY) == [daily]
    assert shown(state="failed") == []
    assert shown(state="good") == [daily, by_hand]
    assert shown(q="2 mar") == [by_hand]
    assert shown(q="nothing like it") == []
    assert 'value="2 mar"' in text_of(tablet, PAGE, q="2 mar")


def test_a_manager_takes_one_away_whole(tablet_of: TabletOf, here: Places, wren: str) -> None:
    path = make(here, DAILY, NOW - timedelta(hours=1)).path
    answer = tablet_of(wren).get(f"{PAGE}{path.name}")
    raw = b"".join(answer.streaming_content)  # type: ignore[attr-defined]
    assert f'attachment; filename="{path.name}"' in answer["Content-Disposition"]
    assert raw == path.read_bytes()
    with checking.opened(path, key_of(here.data)) as (archive, _told):
        assert MANIFEST_NAME in archive.namelist()


@pytest.mark.parametrize("name", ["coldbus-7d0f5f3c-20260302T120000Z-daily", "secret_key"])
def test_what_is_not_on_the_shelf_is_not_handed_out(
    tablet_of: TabletOf, here: Places, wren: str, name: str
) -> None:
    assert tablet_of(wren).get(f"{PAGE}{name}.sealed").status_code == 404


def test_over_a_connection_that_is_not_encrypted_no_file_is_sent(
    tablet_of: TabletOf, here: Places, wren: str, settings: Settings
) -> None:
    settings.COLDBUS_HTTPS = False
    path = make(here, DAILY, NOW - timedelta(hours=1)).path
    tablet = tablet_of(wren)
    tablet.defaults["REMOTE_ADDR"] = "192.168.4.31"
    answer = tablet.get(f"{PAGE}{path.name}")
    assert "Not over this connection" in answer.content.decode()
    assert "Content-Disposition" not in answer
    text = text_of(tablet, PAGE)
    assert "not encrypted" in text
    assert f'href="{PAGE}{path.name}"' not in text


def test_every_page_bears_the_mark_of_an_open_connection(
    tablet_of: TabletOf, wren: str, settings: Settings
) -> None:
    settings.COLDBUS_HTTPS = False
    tablet = tablet_of(wren)
    assert 'class="open-wire"' not in text_of(tablet, "/shop/equipment/")
    tablet.defaults["REMOTE_ADDR"] = "192.168.4.31"
    assert 'class="open-wire"' in text_of(tablet, "/shop/equipment/")
    settings.COLDBUS_HTTPS = True
    assert 'class="open-wire"' not in text_of(tablet, "/shop/equipment/")


def test_a_manager_prints_the_sheet_with_the_key_and_nobody_reads_along(
    tablet_of: TabletOf, here: Places, wren: str, sorrel: str, settings: Settings
) -> None:
    settings.COLDBUS_HTTPS = False
    words = words_of(key_of(here.data))
    shown = text_of(tablet_of(wren), f"{PAGE}key/")
    assert words in shown
    assert "data:image/svg+xml" in shown
    assert tablet_of(sorrel).get(f"{PAGE}key/").status_code == 403
    along = tablet_of(wren).get(f"{PAGE}key/", REMOTE_ADDR="192.168.4.31").content.decode()
    assert words not in along
    assert "Not over this connection" in along


def test_what_came_of_the_drill_is_told(tablet_of: TabletOf, here: Places, wren: str) -> None:
    make(here, DAILY, NOW - timedelta(hours=1))
    tablet = tablet_of(wren)

    def told(at: datetime, why: str = "") -> str:
        note = {"at": at.isoformat(), "name": "coldbus-7d0f5f3c", "why": why}
        (here.data / "drill.json").write_text(json.dumps(note))
        return text_of(tablet, PAGE)

    now = clock.now()
    assert "Restored for trial and verified" in told(now - timedelta(days=2))
    assert "The last restore drill was" in told(now - timedelta(days=10))
    assert "The restore drill failed" in told(now, "verify: job W1, entry 3")
