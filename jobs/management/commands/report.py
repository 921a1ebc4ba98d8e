"""Write a document of a job as PDF: report, technical record, receipt or quotation."""

import sys
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser
from django.utils.translation import override
from typing_extensions import override as overrides

from jobs.core.record import Record
from jobs.queries.records import JobInfo, job_by_number, record_of
from jobs.report.blocks import Report
from jobs.report.document import report_of
from jobs.report.pdf import render_pdf
from jobs.report.quotation import quotation_document
from jobs.report.receipt import receipt_document
from jobs.report.technical import technical_record_of
from jobs.views.reasons import sentence_of
from workshop import clock, units
from workshop import queries as shop


def _document(job: JobInfo, record: Record, options: dict[str, Any]) -> Report | None:
    """Give the document that was asked for; None where the job has none of it."""
    with override(options["language"]):
        if options["technical"]:
            return technical_record_of(job, record, sentence_of)
        if options["receipt"]:
            return receipt_document(job, record)
        return quotation_document(job, record) if options["quotation"] else report_of(job, record)


class Command(BaseCommand):
    """``report JOB -o FILE``: exit 1 without such a job or document, or when it is not written."""

    help = "Write the customer's report of a job, or another of its documents, as PDF."

    @overrides
    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("job", help="number of the job")
        other = parser.add_mutually_exclusive_group()
        other.add_argument(
            "--technical", action="store_true", help="the technical record: every entry"
        )
        other.add_argument("--receipt", action="store_true", help="the receipt of the intake")
        other.add_argument(
            "--quotation", action="store_true", help="the newest version of the quotation"
        )
        parser.add_argument(
            "--language", choices=list(dict(settings.LANGUAGES)), default="en", help="default: en"
        )
        parser.add_argument("-o", "--output", required=True, type=Path, help="file to write")

    @overrides
    def handle(self, *_args: Any, **options: Any) -> None:
        job = job_by_number(options["job"])
        record = None if job is None else record_of(job.id, now=clock.now())
        if job is None or record is None:
            self.stderr.write(f"There is no job {options['job']}.")
            sys.exit(1)
        with units.use(shop.shop().units):
            document = _document(job, record, options)
            content = b"" if document is None else render_pdf(document)
        if document is None:
            self.stderr.write(f"Job {options['job']} has no quotation.")
            sys.exit(1)
        try:
            options["output"].write_bytes(content)
        except OSError as fault:
            self.stderr.write(f"{options['output']} cannot be written: {fault.strerror}.")
            sys.exit(1)
        self.stdout.write(f"Wrote {options['output']} ({len(content) // 1024} kB).")
