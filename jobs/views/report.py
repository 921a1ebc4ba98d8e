"""Report, technical record, receipt and quotation as PDF."""

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import override
from django.views.decorators.http import require_GET

from jobs.queries.records import job_info, record_of
from jobs.report.blocks import Report
from jobs.report.document import report_of
from jobs.report.due_list import due_list_of
from jobs.report.pdf import render_pdf
from jobs.report.quotation import quotation_document
from jobs.report.receipt import receipt_document
from jobs.report.technical import technical_record_of
from jobs.views.reasons import sentence_of
from workshop import clock, downloads
from workshop import queries as shop
from workshop.shelf import IN_USE, Wanted, meant
from workshop.sign_on import signed_on

__all__ = ["due_list_pdf", "quotation_pdf", "receipt_pdf", "record_pdf", "report_pdf"]

NUMBER_DIGITS = 6
"""Nobody writes a millionth version."""


@require_GET
@signed_on()
def report_pdf(request: HttpRequest, job_id: str) -> HttpResponse:
    """Make the report of a job as it stands, in the language asked for, else the customer's."""
    info, record = job_info(job_id), record_of(job_id, now=clock.now())
    if info is None or record is None or info.practice:
        raise Http404
    with override(_language(request) or shop.language_for(info.customer.id)):
        return _pdf(report_of(info, record), f"report-{info.number}")


@require_GET
@signed_on()
def record_pdf(request: HttpRequest, job_id: str) -> HttpResponse:
    """Make the technical record of a job as it stands, in the language asked for."""
    info, record = job_info(job_id), record_of(job_id, now=clock.now())
    if info is None or record is None or info.practice:
        raise Http404
    document = technical_record_of(info, record, sentence_of, _language(request))
    return _pdf(document, f"record-{info.number}")


def _language(request: HttpRequest) -> str:
    """Give the language asked for; empty for the reader's own."""
    asked = request.GET.get("language", "")
    if asked and asked not in dict(settings.LANGUAGES):
        raise Http404
    return asked


@require_GET
@signed_on()
def receipt_pdf(request: HttpRequest, job_id: str) -> HttpResponse:
    """Make the receipt of a job as it stands, in the customer's language; a practice has none."""
    info, record = job_info(job_id), record_of(job_id, now=clock.now())
    if info is None or record is None or info.practice:
        raise Http404
    with override(_language(request) or shop.language_for(info.customer.id)):
        return _pdf(receipt_document(info, record), f"receipt-{info.number}")


def _pdf(document: Report, name: str) -> HttpResponse:
    """Answer with a document, shown in the browser and saved under a name of its own."""
    return downloads.document(render_pdf(document), "application/pdf", f"{name}.pdf", shown=True)


@require_GET
@signed_on()
def quotation_pdf(request: HttpRequest, job_id: str) -> HttpResponse:
    """Make a version of the quotation, the newest where none is named, as the customer reads."""
    info, record = job_info(job_id), record_of(job_id, now=clock.now())
    named = request.GET.get("version", "")
    if info is None or record is None or not (named == "" or named.isdecimal()):
        raise Http404
    with override(_language(request) or shop.language_for(info.customer.id)):
        document = quotation_document(info, record, int(named[:NUMBER_DIGITS]) if named else None)
        if document is None:
            raise Http404
        return _pdf(document, f"quotation-{info.number}")


@require_GET
@signed_on()
def due_list_pdf(request: HttpRequest) -> HttpResponse:
    """Make the list of tests and calibrations due, for the filter that the address asks for."""
    today, asked = shop.local_day(clock.now()), request.GET
    search = asked.get("q", "")[:100].replace("\0", "")
    wanted = Wanted(search=search, kind=asked.get("kind", ""), state=asked.get("state", IN_USE))
    pieces = shop.all_equipment(today, with_withdrawn=True)
    document = due_list_of(meant(pieces, wanted, today), today)
    return _pdf(document, f"equipment-due-{today.isoformat()}")
