"""The door for tablets: entries as JSON, photos as files, attachments back."""

from typing import Final

from django.http import FileResponse, Http404, HttpRequest, HttpResponseBase, JsonResponse
from django.views.decorators.http import require_GET, require_POST

from jobs.actions.attachments import keep_photo
from jobs.core.reason import InputRefused
from jobs.queries.records import attachment
from jobs.sync import Malformed, answer_batch, malformed_answer, read_batch
from workshop import clock
from workshop.kept_files import path_of
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["attachment_file", "entries", "photo"]

PHOTO_FIELD: Final = "photo"


@require_POST
def entries(request: ShopRequest) -> JsonResponse:
    """Take one entry or a batch and answer each; always JSON, never a redirect."""
    batch = read_batch(request.body)
    if isinstance(batch, Malformed):
        return JsonResponse({"answers": [malformed_answer(batch)]}, status=400)
    status, answers = answer_batch(batch, signed_on=request.person, now=clock.now())
    return JsonResponse({"answers": answers}, status=status)


@require_POST
def photo(request: ShopRequest, job_id: str) -> JsonResponse:
    """Keep a picture and give its digest, for the entry that then names it."""
    if request.person is None:
        return JsonResponse({"verdict": "auth"}, status=401)
    file = request.FILES.get(PHOTO_FIELD)
    if file is None:
        return JsonResponse({"verdict": "refused", "text": "No picture was sent."}, status=400)
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
    if info is None or not path_of(sha256).is_file():
        raise Http404
    answer = FileResponse(path_of(sha256).open("rb"), content_type=info.media_type)
    answer.headers["X-Content-Type-Options"] = "nosniff"
    if not info.media_type.startswith("image/"):
        answer.headers["Content-Disposition"] = "attachment"
    return answer
