"""The shop's application, which writes one mark for each request that Django was told is over.

Loaded by a server of its own process (`test_under_load`).
"""

import os
from pathlib import Path
from typing import Any, Final

from django.core.signals import request_finished, request_started  # noqa: TID251 - counted only

from workshop.wsgi import application

__all__ = ["MARKS_VARIABLE", "application"]

MARKS_VARIABLE: Final = "TOLD_FINISHED"


def _note(mark: str) -> None:
    with Path(os.environ[MARKS_VARIABLE]).open("a", encoding="ascii") as file:
        file.write(mark)


def begun(**_told: Any) -> None:
    """Note that a request began."""
    _note("b")


def over(**_told: Any) -> None:
    """Note that a request is over."""
    _note("e")


if MARKS_VARIABLE in os.environ:
    request_started.connect(begun)
    request_finished.connect(over)
