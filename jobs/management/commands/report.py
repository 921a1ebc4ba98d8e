"""Write the customer's report of a job, or its technical record, as PDF."""

import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from typing_extensions import override

from jobs.queries.records import job_by_number, record_of
from jobs.report.document import report_of
from jobs.report.pdf import render_pdf
from jobs.report.technical import technical_record_of
from jobs.views.reasons import sentence_of
from workshop import clock


class Command(BaseCommand):
    """``report JOB -o FILE``: exit 1 when there is no such job or the file cannot be written."""

    help = "Write the customer's report of a job, or its technical record, as PDF."

    @override
    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("job", help="number of the job")
        parser.add_argument(
            "--technical", action="store_true", help="the technical record: every entry"
        )
        parser.add_argument("-o", "--output", required=True, type=Path, help="file to write")

    @override
    def handle(self, *_args: Any, **options: Any) -> None:
        job = job_by_number(options["job"])
        record = None if job is None else record_of(job.id, now=clock.now())
        if job is None or record is None:
            self.stderr.write(f"There is no job {options['job']}.")
            sys.exit(1)
        if options["technical"]:
            document = technical_record_of(job, record, sentence_of)
        else:
            document = report_of(job, record)
        content = render_pdf(document)
        try:
            options["output"].write_bytes(content)
        except OSError as fault:
            self.stderr.write(f"{options['output']} cannot be written: {fault.strerror}.")
            sys.exit(1)
        self.stdout.write(f"Wrote {options['output']} ({len(content) // 1024} kB).")
