"""The log in lines that nobody outside can forge or flood."""

import logging
import time
from typing import Final

from typing_extensions import override

__all__ = ["CalmFilter", "LineFormatter"]

LINES_A_MINUTE: Final = 10
MINUTE_S: Final = 60.0


def _escaped(text: str) -> str:
    """Write out what a terminal would obey or take for another line."""
    return "".join(
        each if each.isprintable() else each.encode("unicode_escape").decode("ascii")
        for each in text
    )


class LineFormatter(logging.Formatter):
    """Writes a message as one line; only the traceback of a fault of ours has lines of its own."""

    @override
    def formatMessage(self, record: logging.LogRecord) -> str:
        return _escaped(super().formatMessage(record))


class CalmFilter(logging.Filter):
    """Lets some lines a minute of one logger through, without traceback, and counts the rest.

    For what is refused because of how it was asked, such as a host that is not ours: anybody on the
    network can cause it, as often as they like, and it is no fault of the program.
    """

    def __init__(self, lines_a_minute: int = LINES_A_MINUTE) -> None:
        super().__init__()
        self.lines_a_minute = lines_a_minute
        self._since: dict[str, tuple[float, int]] = {}

    @override
    def filter(self, record: logging.LogRecord) -> bool:
        record.exc_info, record.exc_text = None, None
        now_s = time.monotonic()
        since_s, count = self._since.get(record.name, (now_s, 0))
        if now_s - since_s >= MINUTE_S:
            more = count - self.lines_a_minute
            if more > 0:
                record.msg, record.args = f"{record.getMessage()} ({more} more before)", ()
            since_s, count = now_s, 0
        self._since[record.name] = (since_s, count + 1)
        return count < self.lines_a_minute
