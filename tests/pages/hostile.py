"""Requests that somebody means to break the server with, and what they are made from."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any, Final
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.test import Client
from hypothesis import strategies as st
from typing_extensions import override

from jobs.practice.scene import Scene
from jobs.queries.verify import verify_job
from jobs.steps import STEPS
from tests.pages.addresses import ONLY_POSTED, address_of, names

__all__ = ["Aim", "Hostile", "aims_of", "hostile", "paths_of", "send"]

METHODS: Final = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "X\u00e9")
MARKUP: Final = ("<script>alert(1)</script>", '"><svg onload=x>', "{{7*7}}", "{% include 'x' %}")
WORDS: Final = (
    *(
        "",
        " ",
        "\x00",
        "a\x00b",
        "\ud800",
        "\u202eabc",
        "\ufeff",
        "\x1b[31m",
        "\r\nX: y",
        "\U0010ffff",
    ),
    *(
        "NaN",
        "Infinity",
        "-0",
        "1e400",
        "9" * 400,
        "0x10",
        "\u0663",
        "1_000",
        "-1",
        "9223372036854775808",
    ),
    *("2026-02-30", "0000-00-00", "9999-12-31", "10000-01-01", "2026-W99", "24:00", "true", "null"),
    *(
        "../../etc/passwd",
        "C:\\x",
        "con",
        "%00",
        "%s%n",
        "//elsewhere.example",
        "{0.__class__}",
        "{",
    ),
    *("[]", '{"a":1}', "=1+1", "a" * 5000, "x" * 1_000_000, "\n" * 300, *MARKUP),
)
BODIES: Final = (
    *(b"", b"\x00", b"\xff\xfe", b"{", b"[" * 5000, b'{"a":' * 5000, b"[" * 100 + b"]" * 100),
    *(b"9" * 5000, b"NaN", b'{"a":1,"a":2}', b'"\\ud800"', b"a=%ff&a=%00&%", b"&" * 1100, b"null"),
    *(b'--x\r\nContent-Disposition: form-data; name="a', b"--x--", b"--x\r\n\r\n\r\n--x--\r\n"),
    b'--x\r\nContent-Disposition: form-data; name="a"; filename="../\x00x"\r\n\r\n1\r\n--x--\r\n',
)
KINDS: Final = (
    *("application/json", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"),
    *(
        "multipart/form-data",
        "multipart/form-data; boundary=\u00e9",
        "text/plain",
        "",
        "a/b; charset=x",
    ),
    "application/x-www-form-urlencoded; charset=utf-16",
)
HEADERS: Final = (
    *(
        "HTTP_HX_REQUEST",
        "HTTP_HX_TARGET",
        "HTTP_HX_CURRENT_URL",
        "HTTP_X_BY_ITSELF",
        "HTTP_ACCEPT",
    ),
    *("HTTP_IF_NONE_MATCH", "HTTP_IF_MODIFIED_SINCE", "HTTP_RANGE", "HTTP_COOKIE", "HTTP_REFERER"),
    *("HTTP_ACCEPT_LANGUAGE", "HTTP_HOST", "HTTP_X_FORWARDED_FOR", "HTTP_ORIGIN", "HTTP_X_COLDBUS"),
)
PATHS: Final = (
    *("/jobs/%00/", "/packs/kinds/%F0%9F%92%A9/", "/%ff/", "/..%2f..%2fetc/passwd", "/static/../x"),
    *("/jobs/" + "9" * 400 + "/", "/static/%00", "//elsewhere.example/", "/shop/%0d%0aX:%20y/"),
)
ENTRY: Final[dict[str, Any]] = {
    "key": "0b54f2f4-7a31-4e0b-9d27-6c1f2c1b9a11",
    "kind": "value",
    "item": "intake.note",
    "qualifier": "",
    "value": "wet",
    "device": "0b54f2f4-7a31-4e0b-9d27-6c1f2c1b9a10",
    "device_seq": 1,
    "clock_offset_s": 3,
    "tablet_time": "2026-03-02T08:00:03+00:00",
}
LEAVES: Final[st.SearchStrategy[Any]] = st.one_of(
    st.sampled_from(WORDS),
    st.sampled_from([None, True, -1, 10**30, 1e308, float("nan"), float("inf"), [], {}]),
    st.text(max_size=12),
)
VALUES: Final[st.SearchStrategy[Any]] = st.one_of(
    LEAVES, st.lists(LEAVES, max_size=3), st.dictionaries(st.text(max_size=5), LEAVES, max_size=3)
)


@dataclass(frozen=True)
class Aim:
    """Where a request may go, and the fields that its form has with what stands in them."""

    name: str
    path: str
    fields: dict[str, str] = field(default_factory=dict, hash=False)
    posts: bool = False


@dataclass(frozen=True)
class Hostile:
    """A request that nobody in the workshop would send."""

    role: str
    method: str
    aim: Aim
    query: str
    kind: str
    body: bytes
    headers: dict[str, str]


class _Forms(HTMLParser):
    """Collects the forms of a page: where they go and what stands in their fields."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.page, self.forms = page, list[tuple[str, dict[str, str], bool]]()

    @override
    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            goes = given.get("action") or given.get("hx-post") or self.page
            posts = given.get("method", "").lower() == "post" or "hx-post" in given
            self.forms.append((goes, {}, posts))
        elif tag in {"input", "select", "textarea", "button"} and given.get("name") and self.forms:
            self.forms[-1][1].setdefault(given["name"], given.get("value", ""))
        elif tag == "option" and self.forms and self.forms[-1][1] and given.get("value"):
            fields = self.forms[-1][1]
            last = list(fields)[-1]
            fields[last] = fields[last] or given["value"]


def paths_of(scene: Scene) -> dict[str, str]:
    """Give every address with its name."""
    paths = {address_of(name, scene): name for name in names()}
    return paths | {address_of("jobs:step", scene, slug=each.slug): "jobs:step" for each in STEPS}


def aims_of(client: Client, paths: dict[str, str]) -> list[Aim]:
    """Give every address with the fields of the forms that lead there."""
    aims = [Aim(name, path, posts=name in ONLY_POSTED) for path, name in paths.items()]
    for path, name in paths.items():
        answer = None if name in ONLY_POSTED else client.get(path)
        if answer is None or not answer.get("Content-Type", "").startswith("text/html"):
            continue
        reader = _Forms(path)
        reader.feed(answer.content.decode())
        aims += [
            Aim(paths.get(goes, name), goes, fields, posts)
            for goes, fields, posts in reader.forms
            if goes.startswith("/") and fields
        ]
    return aims + [Aim("", path) for path in PATHS]


def _quoted(text: str) -> str:
    # What a browser never sends is sent too: a lone surrogate as its three bytes.
    raw = text.encode("utf-8", "surrogatepass")
    return "".join(f"%{byte:02X}" for byte in raw) if len(raw) < 10_000 else text


def _form(fields: dict[str, str]) -> bytes:
    return "&".join(f"{_quoted(name)}={_quoted(value)}" for name, value in fields.items()).encode()


def _multipart(fields: dict[str, str], file_name: str) -> bytes:
    part = '--x\r\nContent-Disposition: form-data; name="{}"\r\n\r\n{}\r\n'
    said = [part.format(name, value) for name, value in fields.items()]
    said += [
        f'--x\r\nContent-Disposition: form-data; name="{n}"; filename="{file_name}"\r\n'
        "Content-Type: image/jpeg\r\n\r\n\x89PNG\r\n"
        for n in ("photo", "file", "certificate", "logo", "log")
    ]
    return ("".join(said) + "--x--\r\n").encode("utf-8", "surrogatepass")


@st.composite
def _body(draw: st.DrawFn, aim: Aim, all_fields: list[str], job: str) -> tuple[str, bytes]:
    how = draw(st.sampled_from(("form", "form", "form", "files", "json", "raw")))
    if aim.name == "jobs:entries":
        how = draw(st.sampled_from(("json", "json", "json", "raw")))
    fields = dict(aim.fields)
    named = st.sampled_from([*fields, *all_fields] if len(fields) < 2 else list(fields))
    for name in draw(st.lists(named, min_size=1, max_size=4)):
        fields[name] = draw(st.one_of(st.sampled_from(WORDS), st.text(max_size=20)))
    if how == "form":
        return KINDS[1], _form(fields)
    if how == "files":
        return KINDS[2], _multipart(fields, draw(st.sampled_from(WORDS[:-6])))
    if how == "raw":
        return draw(st.sampled_from(KINDS)), draw(st.sampled_from(BODIES) | st.binary(max_size=50))
    entry = {**ENTRY, "job": job} if aim.name == "jobs:entries" else dict[str, Any](fields)
    for name in draw(st.lists(st.sampled_from(list(entry)), max_size=3)):
        entry[name] = draw(VALUES)
    whole: Any = {"format": 2, "device": ENTRY["device"], "made": 1, "entries": [entry]}
    return KINDS[0], json.dumps(draw(st.sampled_from((entry, whole, whole)))).encode()


@st.composite
def hostile(draw: st.DrawFn, roles: list[str], aims: list[Aim], job: str) -> Hostile:
    """Draw one request: who sends it, where, how, and with what."""
    role, aim = draw(st.sampled_from(roles)), draw(st.sampled_from(aims))
    all_fields = sorted({name for each in aims for name in each.fields})
    usual = "POST" if aim.posts else "GET"
    method = usual if draw(st.integers(0, 9)) else draw(st.sampled_from(METHODS))
    named = st.sampled_from([*([] if aim.posts else aim.fields), *all_fields, "q", "next"])
    asked = draw(st.dictionaries(named, LEAVES, max_size=2))
    query = "&".join(f"{name}={_quoted(str(value))}" for name, value in asked.items())
    kind, body = draw(_body(aim, all_fields, job)) if method != "GET" else ("", b"")
    word = st.sampled_from([each for each in WORDS if len(each) < 10_000])
    headers = draw(st.dictionaries(st.sampled_from(HEADERS), word, max_size=2))
    return Hostile(role, method, aim, query, kind, body, headers)


def _wire(text: str) -> str:
    # WSGI hands headers over as latin-1.
    return text.encode("utf-8", "surrogatepass").decode("latin-1")


def send(request: Hostile, cookie: str, job: str) -> int:
    """Send a request, look whether the record still holds, and take back what it changed.

    Raises
    ------
    AssertionError
        Where the server answers with a fault of its own, shows a traceback, or breaks the record.
    """
    client = Client(raise_request_exception=True)
    client.cookies[settings.SESSION_COOKIE_NAME] = cookie
    with transaction.atomic():
        answer = client.generic(
            request.method,
            request.aim.path,
            request.body,
            content_type=_wire(request.kind),
            QUERY_STRING=_wire(request.query),
            **{name: _wire(value) for name, value in request.headers.items()},  # type: ignore[arg-type]
        )
        said = b"".join(_pieces(answer))
        assert answer.status_code < 500, answer.status_code
        assert b"Traceback (most recent" not in said
        if request.aim.name.startswith("jobs:") and request.method == "POST":
            assert verify_job(UUID(job)) == ()
        transaction.set_rollback(True)
    return int(answer.status_code)


def _pieces(answer: Any) -> Iterator[bytes]:
    yield from answer.streaming_content if answer.streaming else [answer.content]
