"""The door for tablets: entries as JSON, photos as files, attachments back."""

from typing import Any, Final

from django.http import FileResponse, Http404, HttpRequest, HttpResponseBase, JsonResponse
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from jobs.actions.attachments import keep_photo
from jobs.actions.tablets import hear
from jobs.core.reason import InputRefused
from jobs.queries.records import attachment
from jobs.sync import Malformed, answer_batch, answers_shut_out, malformed_answer, read_sent
from workshop import clock
from workshop.kept_files import has_kept, open_kept
from workshop.sign_on import ShopRequest, signed_on
from workshop.tablet_mark import epoch, release

__all__ = ["attachment_file", "entries", "photo"]

PHOTO_FIELD: Final = "photo"


@require_POST
def entries(request: ShopRequest) -> JsonResponse:
    """Take one entry or a batch and answer each; always JSON, never a redirect."""
    now, sent = clock.now(), read_sent(request.body)
    server = {"epoch": epoch(), "now": now.isoformat(), "release": release()}
    if isinstance(sent, Malformed):
        return JsonResponse({"answers": [malformed_answer(sent)], **server}, status=400)
    if request.shut_out:
        answers = answers_shut_out(sent.batch)
        return JsonResponse({"answers": answers, **server}, status=401)
    status, answers = answer_batch(sent.batch, signed_on=request.person, now=now)
    if sent.heard is not None and _is_known(request, answers):
        hear(sent.heard, person=request.person.id if request.person else "", now=now)
    return JsonResponse({"answers": answers, **server}, status=status)


def _is_known(request: ShopRequest, answers: list[dict[str, Any]]) -> bool:
    """Say whether somebody of the shop is behind a sending: signed on, or by a ticket."""
    return request.person is not None or any(one["verdict"] == "applied" for one in answers)


@require_POST
def photo(request: ShopRequest, job_id: str) -> JsonResponse:
    """Keep a picture and give its digest, for the entry that then names it."""
    if request.person is None:
        return JsonResponse({"verdict": "auth"}, status=401)
    file = request.FILES.get(PHOTO_FIELD)
    if file is None:
        said = {"verdict": "refused", "text": gettext("No picture was sent.")}
        return JsonResponse(said, status=400)
    try:
        sha256, media_type = keep_photo(
            job_id=str(job_id), raw=file.read(), by=request.person.id, now=clock.now()
        )
    except InputRefused as refused:
        text = refused.blocker.text.format(**refused.blocker.params)
        answer = {"verdict": "refused", "code": refused.blocker.code, "text": text}
        return JsonResponse(answer, status=422)
    return JsonResponse({"verdict": "applied", "sha256": sha256, "media_type": media_type})


@require_GET
@signed_on()
def attachment_file(_request: HttpRequest, job_id: str, sha256: str) -> HttpResponseBase:
    """Give a stored picture or file."""
    info = attachment(job_id, sha256)
    if info is None or not has_kept(sha256):
        raise Http404
    answer = FileResponse(open_kept(sha256), content_type=info.media_type)
    answer.headers["X-Content-Type-Options"] = "nosniff"
    if not info.media_type.startswith("image/"):
        answer.headers["Content-Disposition"] = "attachment"
    return answer
