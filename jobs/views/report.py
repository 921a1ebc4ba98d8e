"""Report, technical record and quotation as PDF."""

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from jobs.queries.records import job_info, record_of
from jobs.report.blocks import Report
from jobs.report.document import report_of
from jobs.report.pdf import render_pdf
from jobs.report.quotation import quotation_document
from jobs.report.technical import technical_record_of
from jobs.views.reasons import sentence_of
from workshop import clock
from workshop.sign_on import signed_on

__all__ = ["quotation_pdf", "record_pdf", "report_pdf"]

NUMBER_DIGITS = 6
"""Nobody writes a millionth version."""


@require_GET
@signed_on()
def report_pdf(_request: HttpRequest, job_id: str) -> HttpResponse:
    """Make the report of a job as it stands; a practice has none."""
    info, record = job_info(job_id), record_of(job_id, now=clock.now())
    if info is None or record is None or info.practice:
        raise Http404
    return _pdf(report_of(info, record), f"report-{info.number}")


@require_GET
@signed_on()
def record_pdf(_request: HttpRequest, job_id: str) -> HttpResponse:
    """Make the technical record of a job as it stands; a practice has none."""
    info, record = job_info(job_id), record_of(job_id, now=clock.now())
    if info is None or record is None or info.practice:
        raise Http404
    return _pdf(technical_record_of(info, record, sentence_of), f"record-{info.number}")


def _pdf(document: Report, name: str) -> HttpResponse:
    """Answer with a document, shown in the browser and saved under a name of its own."""
    answer = HttpResponse(render_pdf(document), content_type="application/pdf")
    answer.headers["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return answer


@require_GET
@signed_on()
def quotation_pdf(request: HttpRequest, job_id: str) -> HttpResponse:
    """Make a version of the quotation, the newest where none is named."""
    info, record = job_info(job_id), record_of(job_id, now=clock.now())
    named = request.GET.get("version", "")
    if info is None or record is None or not (named == "" or named.isdecimal()):
        raise Http404
    document = quotation_document(info, record, int(named[:NUMBER_DIGITS]) if named else None)
    if document is None:
        raise Http404
    return _pdf(document, f"quotation-{info.number}")
