"""What stands in the log: one line a message, none that somebody else wrote, no flood."""

import io
import logging
import logging.config
from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from pytest_django import Settings

from workshop import log_lines
from workshop.log_lines import CalmFilter, LineFormatter


@pytest.fixture
def log() -> Iterator[io.StringIO]:
    """Log as the server does, into a text."""
    into = io.StringIO()
    told: dict[str, Any] = deepcopy(settings.LOGGING)
    for handler in told["handlers"].values():
        handler["stream"] = into
    logging.config.dictConfig(told)
    yield into
    logging.config.dictConfig(settings.LOGGING)


def a_record(name: str = "django.security.DisallowedHost", text: str = "x") -> logging.LogRecord:
    return logging.LogRecord(name, logging.ERROR, "", 1, text, (), None)


def test_a_message_stays_on_its_line_and_moves_no_terminal() -> None:
    line = LineFormatter("{message}", style="{").format(
        a_record(text="host\r\n2026-03-02 INFO coldbus: all is well\x1b[31m\u2028\u202e")
    )
    assert "\n" not in line
    assert "\x1b" not in line
    assert line.isprintable()
    assert r"host\r\n2026" in line


def test_a_fault_of_ours_keeps_its_traceback(log: io.StringIO) -> None:
    try:
        int("ours")
    except ValueError:
        logging.getLogger("coldbus").exception("fault ABC")
    assert "fault ABC\nTraceback" in log.getvalue()


def test_a_flood_of_hosts_is_ten_short_lines(log: io.StringIO, settings: Settings) -> None:
    settings.ALLOWED_HOSTS = ["coldbus.local"]
    client = Client(raise_request_exception=False)
    for number in range(50):
        answer = client.get("/start/", headers={"host": f"evil{number}.example"})
        assert answer.status_code == 400
    lines = log.getvalue().splitlines()
    assert len(lines) == log_lines.LINES_A_MINUTE
    assert all("evil" in line for line in lines)


def test_after_a_minute_it_says_how_many_more_there_were(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [100.0]
    monkeypatch.setattr("time.monotonic", lambda: now[0])
    calm = CalmFilter(2)
    assert [calm.filter(a_record()) for _ in range(5)] == [True, True, False, False, False]
    assert calm.filter(a_record("django.security.csrf"))
    now[0] += 61
    last = a_record(text="host {x} %s")
    assert calm.filter(last)
    assert last.getMessage() == "host {x} %s (3 more before)"
