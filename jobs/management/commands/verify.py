"""Check that nothing in the record was changed, removed, swapped or cut off."""

import sys
import uuid
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from typing_extensions import override

from jobs.queries.records import job_by_number
from jobs.queries.verify import verify_all, verify_job, verify_triggers


class Command(BaseCommand):
    """``verify [JOB]``: exit 0 when all is as it was written, 1 with the place when not."""

    help = "Check the chain of one job, or of every job, and the triggers that protect entries."

    @override
    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("job", nargs="?", help="number of the job; every job when left out")

    @override
    def handle(self, *_args: Any, **options: Any) -> None:
        if options["job"] is None:
            count, faults = verify_all()
            checked = f"{count} jobs"
        else:
            job = job_by_number(options["job"])
            if job is None:
                self.stderr.write(f"There is no job {options['job']}.")
                sys.exit(1)
            faults = (*verify_triggers(), *verify_job(uuid.UUID(job.id)))
            checked = f"job {job.number}, {job.count} entries, head {job.head[:12]}"
        for fault in faults:
            place = f"job {fault.job}, entry {fault.seq}: " if fault.job else ""
            self.stdout.write(place + fault.what)
        if faults:
            sys.exit(1)
        self.stdout.write(f"Verified: {checked}; chain, columns and triggers are sound.")
