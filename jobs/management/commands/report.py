"""Write the customer's report of a job as PDF."""

import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from typing_extensions import override

from jobs.queries.records import job_by_number, record_of
from jobs.report.document import report_of
from jobs.report.pdf import render_pdf
from workshop import clock


class Command(BaseCommand):
    """``report JOB -o FILE``: exit 1 when there is no such job or the file cannot be written."""

    help = "Write the customer's report of a job as PDF."

    @override
    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("job", help="number of the job")
        parser.add_argument("-o", "--output", required=True, type=Path, help="file to write")

    @override
    def handle(self, *_args: Any, **options: Any) -> None:
        job = job_by_number(options["job"])
        record = None if job is None else record_of(job.id, now=clock.now())
        if job is None or record is None:
            self.stderr.write(f"There is no job {options['job']}.")
            sys.exit(1)
        content = render_pdf(report_of(job, record))
        try:
            options["output"].write_bytes(content)
        except OSError as fault:
            self.stderr.write(f"{options['output']} cannot be written: {fault.strerror}.")
            sys.exit(1)
        self.stdout.write(f"Wrote {options['output']} ({len(content) // 1024} kB).")
