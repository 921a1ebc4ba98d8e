"""Which SQLite library the process uses, and whether it has the fix we rely on.

Before the versions below a checkpoint that races a commit can damage the database (the
write-ahead-log reset). The wheel pysqlite3 carries a fixed library where there is one.
"""

import importlib
import sqlite3
import sys

FIXED_FROM = (3, 51, 3)
BACK_PORTS = {(3, 44): 6, (3, 50): 7}


def prefer_fixed_library() -> None:
    """Let ``import sqlite3`` find pysqlite3 from here on, where it is installed and needed."""
    if is_fixed(sqlite3.sqlite_version_info):
        return
    try:
        newer = importlib.import_module("pysqlite3")
    except ImportError:
        return
    sys.modules["sqlite3"] = newer
    sys.modules["sqlite3.dbapi2"] = newer.dbapi2


def version_in_use() -> tuple[int, int, int]:
    """Return the version of the library that Django's connections use."""
    library = sys.modules["sqlite3"]
    major, minor, patch = library.sqlite_version_info
    return (major, minor, patch)


def is_fixed(version: tuple[int, ...]) -> bool:
    """Say whether this version of SQLite has the fix.

    Examples
    --------
    >>> is_fixed((3, 40, 1)), is_fixed((3, 44, 6)), is_fixed((3, 51, 3))
    (False, True, True)
    """
    if version >= FIXED_FROM:
        return True
    major, minor, patch = version
    return patch >= BACK_PORTS.get((major, minor), patch + 1)
