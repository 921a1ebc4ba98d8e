"""Headers that every answer carries."""

import base64
import hashlib
import json
import re

import pytest
from django.http import Http404, HttpRequest, HttpResponse
from django.template import Context, Template
from django.test import Client, RequestFactory

from workshop.import_map import import_map_text
from workshop.middleware import StorableTextMiddleware, TextCompressionMiddleware

pytestmark = pytest.mark.django_db


def test_every_answer_bears_our_mark_and_stays_out_of_caches(client: Client) -> None:
    answer = client.get("/nowhere/at/all/")
    assert answer["X-Coldbus"] == "1"
    assert answer["Cache-Control"] == "no-store"
    assert "HX-Request" in answer["Vary"]


def test_the_policy_allows_no_inline_script_but_the_import_map(client: Client) -> None:
    policy = client.get("/nowhere/at/all/")["Content-Security-Policy"]
    (scripts,) = re.findall(r"script-src ([^;]*)", policy)
    printed = Template("{% load modules %}{% import_map %}").render(Context())
    (text,) = re.findall(r'^<script type="importmap">(.*)</script>$', printed)
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    assert scripts.split() == ["'self'", f"'sha256-{digest}'"]


def test_the_policy_keeps_foreign_frames_and_plug_ins_out(client: Client) -> None:
    policy = client.get("/nowhere/at/all/")["Content-Security-Policy"]
    assert "frame-ancestors 'none'" in policy
    assert "object-src 'none'" in policy
    assert "base-uri 'none'" in policy
    assert "unsafe" not in policy


def test_the_import_map_names_our_own_scripts_only() -> None:
    imports = json.loads(import_map_text())["imports"]
    assert all(name.startswith("/static/js/") for name in imports)
    assert "<" not in import_map_text()


def test_text_is_sent_small_and_what_is_compressed_already_is_left_alone() -> None:
    def answer_of(kind: str) -> HttpResponse:
        request = RequestFactory().get("/", headers={"Accept-Encoding": "gzip"})
        body = b"isolation " * 500
        middleware = TextCompressionMiddleware(lambda _: HttpResponse(body, content_type=kind))
        answer = middleware(request)
        assert isinstance(answer, HttpResponse)
        return answer

    assert len(answer_of("text/html; charset=utf-8").content) < 500
    assert answer_of("text/html")["Content-Encoding"] == "gzip"
    for kind in ("application/pdf", "image/jpeg", "application/zip"):
        assert not answer_of(kind).has_header("Content-Encoding")


def test_a_cookie_that_cannot_be_stored_is_left_out_and_an_address_is_not_found() -> None:
    seen: list[dict[str, str]] = []

    def reached(request: HttpRequest) -> HttpResponse:
        seen.append(dict(request.COOKIES))
        return HttpResponse("reached")

    request = RequestFactory(headers={"Cookie": r'a="\000bcdefgh"; b=kept'}).get("/?q=kept")
    StorableTextMiddleware(reached)(request)
    assert seen == [{"b": "kept"}]
    with pytest.raises(Http404):
        StorableTextMiddleware(reached)(RequestFactory().get("/jobs/%00/"))
