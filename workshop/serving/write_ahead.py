"""Looking into SQLite's write-ahead log before SQLite does, for what was finished and is dropped.

SQLite reads the log up to the first frame whose checksum is wrong and drops the rest without a
word, as what a power cut left unfinished. What was finished shows by two things: a frame that goes
on from a finished change was written after that change had reached the disk; and the index, which
outlives a killed process, is written after the frames that it counts. Where both are gone nothing
here can tell. Files are read only while nobody in this process has the database open; the format
is "WAL-mode File Format" in SQLite's documentation.
"""

import struct
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from workshop.serving import data_folder, folder_lock

__all__ = ["LogFault", "fault_at_rest", "files_beside", "log_fault"]

LOG_ENDING: Final = "-wal"
INDEX_ENDING: Final = "-shm"
VERSION: Final = 3007000
MAGIC: Final = {0x377F0682: "<", 0x377F0683: ">"}
"""What a log begins with, and the order of bytes in which its checksums are made."""
HEAD_BYTES: Final = 32
FRAME_HEAD_BYTES: Final = 24
PAGE_SIZES: Final = frozenset(1 << power for power in range(9, 17))
INDEX_HEAD_BYTES: Final = 48
INDEX_BYTES: Final = 136
NATIVE: Final = "<" if sys.byteorder == "little" else ">"
WORD: Final = 0xFFFFFFFF
RESTARTS_AT_MOST: Final = 1 << 20
"""How often a log may have begun anew since its index last reached the disk."""

Sums = tuple[int, int]


@dataclass(frozen=True, slots=True)
class LogFault:
    """What is wrong with the log, and whether what SQLite still takes of it may be taken.

    ``unread``: log or index is there and may not be read, so that nothing is known of a loss.
    """

    what: str
    usable: bool
    unread: bool = False

    @property
    def sentence(self) -> str:
        """What is wrong, for who asked for something else, with the way on."""
        if self.unread:
            return f"The database cannot be opened: {self.what}. Nothing was changed."
        return (
            f"Entries may be missing: {self.what}. Nothing was changed; run up, which says the "
            "ways on."
        )


@dataclass(frozen=True, slots=True)
class _Head:
    order: str
    page_bytes: int
    salts: bytes
    sums: Sums


@dataclass(frozen=True, slots=True)
class _Frame:
    is_ours: bool
    is_last_of_change: bool
    sums: Sums
    summed: bytes


@dataclass(frozen=True, slots=True)
class _Index:
    """How many frames were finished, and how many of these are in the database file already."""

    salts: bytes
    finished: int
    copied: int


def files_beside(database: Path) -> tuple[Path, Path]:
    """Give the paths of log and index of a database."""
    name = database.name
    return database.with_name(name + LOG_ENDING), database.with_name(name + INDEX_ENDING)


def _summed(raw: bytes, sums: Sums, order: str) -> Sums:
    """Carry the checksum of the format on over some bytes, a multiple of eight."""
    one, two = sums
    words = iter(struct.unpack(f"{order}{len(raw) // 4}I", raw))
    for first, second in zip(words, words, strict=True):
        one = (one + first + two) & WORD
        two = (two + second + one) & WORD
    return one, two


def _head(raw: bytes) -> _Head | None:
    """Read the head of a log; None where SQLite would not know it."""
    if len(raw) < HEAD_BYTES:
        return None
    magic, version, page_bytes = struct.unpack(">3I", raw[:12])
    sums: Sums = struct.unpack(">2I", raw[24:HEAD_BYTES])
    order = MAGIC.get(magic)
    if order is None or version != VERSION or page_bytes not in PAGE_SIZES:
        return None
    return _Head(order, page_bytes, raw[16:24], sums) if _fits(raw, sums, order) else None


def _fits(raw: bytes, sums: Sums, order: str) -> bool:
    return _summed(raw[:24], (0, 0), order) == sums


def _frame(raw: bytes, at: int, head: _Head) -> _Frame:
    page, size, *_salts, one, two = struct.unpack_from(">6I", raw, at)
    return _Frame(
        is_ours=page != 0 and raw[at + 8 : at + 16] == head.salts,
        is_last_of_change=size != 0,
        sums=(one, two),
        summed=raw[at : at + 8] + raw[at + FRAME_HEAD_BYTES : at + _frame_bytes(head)],
    )


def _frame_bytes(head: _Head) -> int:
    return FRAME_HEAD_BYTES + head.page_bytes


def _follows(frame: _Frame, before: Sums, head: _Head) -> bool:
    """Say whether a frame is whole and was written behind one that ended with these sums."""
    return frame.is_ours and _summed(frame.summed, before, head.order) == frame.sums


def _read(raw: bytes, head: _Head) -> tuple[int, int]:
    """Count the frames that SQLite takes, and the finished changes that it drops behind them."""
    taken, dropped, sums, is_whole = 0, 0, head.sums, True
    before: _Frame | None = None
    size = _frame_bytes(head)
    for number, at in enumerate(range(HEAD_BYTES, len(raw) - size + 1, size), start=1):
        frame = _frame(raw, at, head)
        if is_whole:
            is_whole = _follows(frame, sums, head)
            sums = frame.sums
            taken = number if is_whole and frame.is_last_of_change else taken
        elif before is not None and before.is_ours and before.is_last_of_change:
            dropped += _follows(frame, before.sums, head)
        before = frame
    return taken, dropped


def _index(raw: bytes) -> _Index | None:
    """Read the index; None where it says nothing that can be relied on."""
    if len(raw) < INDEX_BYTES or raw[:INDEX_HEAD_BYTES] != raw[INDEX_HEAD_BYTES:96]:
        return None
    (version,) = struct.unpack("=I", raw[:4])
    sums: Sums = struct.unpack("=2I", raw[40:INDEX_HEAD_BYTES])
    if version != VERSION or not raw[12] or _summed(raw[:40], (0, 0), NATIVE) != sums:
        return None
    (finished,), (copied,) = struct.unpack("=I", raw[16:20]), struct.unpack("=I", raw[96:100])
    return _Index(raw[32:40], finished, copied)


def _is_older(log: bytes, index: bytes) -> bool:
    """Say whether a log cannot have followed the one of the index: its first salt counts up."""
    begun_anew = int.from_bytes(log[:4], "big") - int.from_bytes(index[:4], "big")
    return begun_anew & WORD > RESTARTS_AT_MOST


def log_fault(database: Path) -> LogFault | None:
    """Say what is wrong with the log beside a database that nobody has open.

    Parameters
    ----------
    database : Path
        The database; it is not opened.

    Returns
    -------
    LogFault | None
        None where nothing is known to be missing.
    """
    # Another process may have closed the database, or written, while it was looked at.
    return _fault_now(database) and _fault_now(database)


def fault_at_rest(folder: Path) -> LogFault | None:
    """Say what is wrong with the log of a data folder; None while a process writes there.

    Raises
    ------
    OSError
        Where the folder cannot be looked at.
    """
    database = folder / data_folder.DATABASE_NAME
    if not any(path.exists() for path in files_beside(database)) or not database.is_file():
        return None
    # A log that is being written is none to judge.
    return None if folder_lock.is_taken(folder) else log_fault(database)


def _bytes_of(path: Path) -> bytes | None:
    """Read a file; None where it is not there. The error names the file, however it came."""
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as reason:
        raise OSError(reason.errno, reason.strerror, str(path)) from None


def _fault_now(database: Path) -> LogFault | None:
    """Look once."""
    log, index = files_beside(database)
    try:
        # The index first: what is finished meanwhile is then in the log that is read after it.
        told = _index(_bytes_of(index) or b"")
        raw = _bytes_of(log)
    except OSError as reason:
        what = f"{Path(reason.filename).name} beside it cannot be read ({reason.strerror})"
        return LogFault(what, usable=False, unread=True)
    head = _head(raw or b"")
    if raw and head is not None:
        return _fault_behind(head, log.name, _read(raw, head), told)
    if raw and len(raw) > HEAD_BYTES:
        return LogFault(f"the beginning of its log {log.name} is damaged", usable=False)
    if told is None or told.copied >= told.finished:
        return None
    what = "is gone" if raw is None else "is empty"
    return LogFault(f"its log {log.name} {what}, although it held finished changes", usable=False)


def _fault_behind(
    head: _Head, name: str, read: tuple[int, int], told: _Index | None
) -> LogFault | None:
    """Judge a log whose head is sound."""
    taken, dropped = read
    if told is not None and told.salts == head.salts and told.finished > taken:
        what = f"of the {told.finished} pages in its log {name} only {taken} can be read"
        return LogFault(what, usable=taken >= told.copied)
    if told is not None and told.copied < told.finished and _is_older(head.salts, told.salts):
        what = f"the log {name} beside it is of another database, or of an earlier time"
        return LogFault(what, usable=False)
    if dropped:
        what = f"its log {name} is damaged, with at least {dropped} finished changes behind that"
        return LogFault(what, usable=True)
    return None
