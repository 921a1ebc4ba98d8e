"""Today tells a manager of certificates that end, and nobody of those that are made anew."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client

from workshop import clock
from workshop.serving.authority import keeping
from workshop.serving.authority.certificates import AUTHORITY_LASTS
from workshop.serving.authority.ending import AUTHORITY_TOLD_BEFORE
from workshop.serving.data_folder import AUTHORITY_KEY_NAME

pytestmark = pytest.mark.django_db

Visit = Callable[[str], Client]
NAMES = ("192.168.4.20", "bench.local")
SERVER = "The certificate of https ends in {} days."
AUTHORITY = "The workshop's certificate authority ends in {} days."
DAY = timedelta(days=1)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(settings, "COLDBUS_DATA", tmp_path)
    return tmp_path


def today(visit: Visit, role: str) -> str:
    return " ".join(visit(role).get("/").content.decode().split())


def test_without_https_and_with_a_good_certificate_nothing_is_said(
    as_role: Visit, folder: Path
) -> None:
    assert "Trusted connection" not in today(as_role, "manager")
    keeping.prepare(folder, NAMES, clock.now())
    assert "Trusted connection" not in today(as_role, "manager")


def test_a_manager_is_told_of_the_servers_certificate_that_could_not_be_made_anew(
    as_role: Visit, folder: Path
) -> None:
    keeping.prepare(folder, NAMES, clock.now() - 397 * DAY + 21 * DAY)
    shown = today(as_role, "manager")
    assert SERVER.format(20) in shown or SERVER.format(21) in shown
    assert "the server's window says why" in shown
    (folder / AUTHORITY_KEY_NAME).unlink()
    assert "authority --bring-back FILE" in today(as_role, "manager")
    for role in ("technician", "front_desk"):
        assert "Trusted connection" not in today(as_role, role)


def test_what_the_server_is_about_to_do_itself_is_not_told(as_role: Visit, folder: Path) -> None:
    keeping.prepare(folder, NAMES, clock.now() - 397 * DAY + keeping.RENEW_BEFORE - DAY / 2)
    assert "Trusted connection" not in today(as_role, "manager")


def test_a_certificate_that_has_ended_is_told_as_that(as_role: Visit, folder: Path) -> None:
    keeping.prepare(folder, NAMES, clock.now() - 400 * DAY)
    assert "ends today, or has ended" in today(as_role, "manager")


def test_the_authoritys_own_end_is_told_a_year_ahead(as_role: Visit, folder: Path) -> None:
    made = clock.now() - AUTHORITY_LASTS + AUTHORITY_TOLD_BEFORE
    keeping.prepare(folder, NAMES, made + DAY)
    keeping.prepare(folder, NAMES, clock.now())
    assert "Trusted connection" not in today(as_role, "manager")
    keeping.begin_anew(folder)
    keeping.prepare(folder, NAMES, made - 10 * DAY)
    keeping.prepare(folder, NAMES, clock.now())
    shown = today(as_role, "manager")
    assert AUTHORITY.format(354) in shown or AUTHORITY.format(355) in shown
    assert "ends in 396 days" not in shown
    assert "authority --begin-anew" in shown
