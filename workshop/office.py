"""Asking for the password before what only the office does: settings, people, exports, backups.

Whether it is asked is the shop's switch. A password opens nothing by itself: somebody is signed on
by PIN, and has typed the password within the last minutes. A new password ends that everywhere.
"""

import hashlib
from typing import Final

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from workshop import actions, clock, queries
from workshop.people import PersonInfo

__all__ = ["FRESH_S", "PASSWORD_FIELD", "ask", "is_fresh", "note_fresh"]

PASSWORD_FIELD: Final = "office_password"  # noqa: S105 - the name of a field
FRESH_KEY: Final = "office_s"
FRESH_MARK_KEY: Final = "office_mark"
FRESH_S: Final = 600
"""How long a password that was typed counts [s]."""
MARK_LETTERS: Final = 16


def _mark(person_id: str) -> str:
    """Give a text that changes with the password."""
    kept = queries.password_hash(person_id)
    return hashlib.sha256(kept.encode()).hexdigest()[:MARK_LETTERS] if kept else ""


def is_fresh(request: HttpRequest, person: PersonInfo) -> bool:
    """Say whether the person typed their password a short while ago."""
    age_s = clock.now().timestamp() - float(request.session.get(FRESH_KEY, 0))
    mark = request.session.get(FRESH_MARK_KEY, "")
    return 0 <= age_s < FRESH_S and bool(mark) and mark == _mark(person.id)


def note_fresh(request: HttpRequest, person: PersonInfo) -> None:
    """Note that the person typed their password just now."""
    request.session[FRESH_KEY] = clock.now().timestamp()
    request.session[FRESH_MARK_KEY] = _mark(person.id)


def ask(
    request: HttpRequest,
    person: PersonInfo,
    kept: list[tuple[str, str]],
    *,
    result: "actions.PinResult | None" = None,
    onward: str = "",
) -> HttpResponseBase:
    """Show the page that asks for the password; what was typed is kept in it.

    Parameters
    ----------
    request : HttpRequest
        What was asked.
    person : PersonInfo
        Who is signed on.
    kept : list of pairs
        Fields of a form that goes on with the password; none where a page was asked for.
    result : PinResult, optional
        What came of a password that was wrong.
    onward : str
        The page to go on to; by default the one that was asked for.
    """
    context = {
        "asked": person,
        "kept": kept,
        "result": result,
        "posted": request.method == "POST" and not onward,
        "next": onward or request.get_full_path(),
    }
    return render(request, "workshop/password.html", context, status=401)
