"""Check that nothing in the record was changed, removed, swapped or cut off."""

import sys
import uuid
from collections import ChainMap
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from typing_extensions import override

from jobs.queries.heads import HeadsList, heads_faults, read_heads
from jobs.queries.records import job_by_number
from jobs.queries.signatures import Keys
from jobs.queries.verify import Fault, keys_of, verify_all, verify_job, verify_triggers
from workshop import signing_keys


class Command(BaseCommand):
    """``verify [JOB]``: exit 0 when all is as it was written, 1 with the place when not."""

    help = (
        "Check the chain and the signatures of one job, or of every job, the files, and the "
        "triggers that protect entries."
    )

    @override
    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("job", nargs="?", help="number of the job; every job when left out")
        parser.add_argument(
            "--keys",
            type=Path,
            action="append",
            metavar="FILE",
            help="trust the keys of this list (see signing_keys) and not those of this computer; "
            "once for each workshop whose jobs lie here",
        )
        parser.add_argument(
            "--heads",
            type=Path,
            metavar="FILE",
            help="check as well that the record continues this signed list of heads",
        )

    @override
    def handle(self, *_args: Any, **options: Any) -> None:
        lists = _lists(options["keys"] or ())
        then = None if options["heads"] is None else _heads(options["heads"], lists)
        if options["job"] is None:
            count, faults = verify_all(*lists)
            checked = f"{count} jobs"
        else:
            job = job_by_number(options["job"])
            if job is None:
                self.stderr.write(f"There is no job {options['job']}.")
                sys.exit(1)
            job_id = uuid.UUID(job.id)
            faults = (*verify_triggers(), *verify_job(job_id, keys_of(job_id, lists)))
            checked = f"job {job.number}, {job.count} entries, head {job.head[:12]}"
        if then is not None:
            faults += tuple(Fault("", 0, what) for what in heads_faults(then))
        for keys in lists:
            self._tell_keys(keys)
        for fault in faults:
            place = f"job {fault.job}, entry {fault.seq}: " if fault.job else ""
            self.stdout.write(place + fault.what)
        if faults:
            sys.exit(1)
        since = "" if then is None else f" It continues the list of {then.made_at:%Y-%m-%d %H:%M}."
        self.stdout.write(
            f"Verified: {checked}; chain, signatures, columns and triggers are sound.{since}"
        )

    def _tell_keys(self, keys: Keys) -> None:
        """Name the keys for which no key before them vouches: a matter of trust, not a fault."""
        for key in signing_keys.unvouched(keys):
            self.stdout.write(
                f"Note: no earlier key vouches for the key {key.id}, in use since {key.since}."
            )


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as reason:
        raise CommandError(f"{path} cannot be read: {reason.strerror}.") from None


def _lists(paths: Iterable[Path]) -> tuple[Keys, ...]:
    """Give the keys that are trusted, a list for each workshop."""
    return tuple(_keys(path) for path in paths) or (signing_keys.trusted_keys(),)


def _keys(path: Path) -> Keys:
    try:
        return signing_keys.read_exported(_read(path))
    except ValueError as reason:
        raise CommandError(f"{path}: {reason}") from None


def _heads(path: Path, lists: Iterable[Keys]) -> HeadsList:
    try:
        return read_heads(_read(path), dict(ChainMap(*map(dict, lists))))
    except ValueError as reason:
        raise CommandError(f"{path}: {reason}") from None
