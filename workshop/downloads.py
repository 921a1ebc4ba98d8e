"""A document as an answer: what it is called where a browser saves it."""

from django.http import HttpResponse
from django.utils.http import content_disposition_header

__all__ = ["document"]


def document(
    content: bytes | str, media_type: str, name: str, *, shown: bool = False
) -> HttpResponse:
    """Answer with a document under a name of its own.

    Parameters
    ----------
    content : bytes or str
        The document.
    media_type : str
        Its media type, with the character set where it is text.
    name : str
        File name; quotes and letters beyond ASCII are written as RFC 6266 wants it.
    shown : bool
        Whether the browser shows it, instead of saving it at once.

    Returns
    -------
    HttpResponse
        The answer.
    """
    plain = "".join(letter for letter in name if letter.isprintable()).replace("/", "-")
    answer = HttpResponse(content, content_type=media_type)
    answer.headers["Content-Disposition"] = content_disposition_header(not shown, plain) or ""
    answer.headers["X-Content-Type-Options"] = "nosniff"
    return answer
