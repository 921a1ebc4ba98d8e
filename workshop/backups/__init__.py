"""Backups of the data folder, and the way back from one.

``making`` writes a file and checks it, ``shelf`` is the folder of files, ``keeping`` says how long
each stays and when the next is due, ``restoring`` puts one in place of the data, ``damage`` looks
at the database before the start, ``state`` is what a page says. All read the live database only
through SQLite: a file handle of our own, once closed, would drop SQLite's locks.
"""

from workshop.backups.state import BackupState, backup_state

__all__ = ["BackupState", "backup_state"]
