"""Handing a stored certificate back, and taking one that was sent."""

from collections.abc import Callable
from typing import Final
from uuid import UUID

from django import forms
from django.http import FileResponse, Http404, HttpResponseBase
from django.urls import reverse

from workshop import queries
from workshop.actions.certificates import FILE_LIMIT_BYTES
from workshop.forms import bytes_of
from workshop.kept_files import has_kept, open_kept

ENDINGS: Final = {"application/pdf": "pdf", "image/jpeg": "jpg"}


def file_sent(form: forms.Form) -> bytes | None:
    """Give the bytes of the file that a form took, one past the most that is kept at most."""
    return bytes_of(form.cleaned_data["file"], FILE_LIMIT_BYTES)


def addresses(view: str, subject: str) -> Callable[[str], str]:
    """Give the function that makes a certificate's address from its digest."""
    return lambda sha256: reverse(view, args=(subject, sha256))


def answer_file(subject: UUID, sha256: str, name: str) -> HttpResponseBase:
    """Answer with a certificate as a download, under a name of our own making."""
    event = queries.certificate_of(subject, sha256)
    if event is None or not has_kept(sha256):
        raise Http404
    plain = "".join(each if each.isascii() and each.isalnum() else "-" for each in name)
    file_name = f"{plain}-{sha256[:8]}.{ENDINGS.get(event.media_type, 'bin')}"
    answer = FileResponse(
        open_kept(sha256),
        as_attachment=True,
        filename=file_name,
        content_type=event.media_type,
    )
    answer.headers["X-Content-Type-Options"] = "nosniff"
    return answer
