"""Hosts, headers and logs: what a stranger on the network or a reader of the log learns."""

import logging

import pytest
from django.conf import settings
from django.test import Client

from workshop import actions
from workshop.models import RegisterEvent, SignIn

PIN = "4826"
WRONG = "90817263"


@pytest.mark.parametrize("host", ["elsewhere.example", "192.0.2.7", "localhost.elsewhere.example"])
def test_a_name_that_was_bent_to_this_server_is_refused(host: str, sorrel: str) -> None:
    client = Client(SERVER_NAME=host, raise_request_exception=False)
    assert client.get("/shop/sign-on/").status_code == 400
    assert client.post(f"/shop/sign-on/{sorrel}/", {"pin": PIN}).status_code == 400
    assert not SignIn.objects.exists()


def test_no_host_is_let_in_by_a_star() -> None:
    assert not any("*" in name or name.startswith(".") for name in settings.ALLOWED_HOSTS)


def test_every_page_carries_the_headers_that_keep_it_ours(client: Client, sorrel: str) -> None:
    answer = client.get(f"/shop/sign-on/{sorrel}/")
    wanted = {
        "X-Content-Type-Options": "nosniff",
        "Referrer-Policy": "same-origin",
        "Cross-Origin-Opener-Policy": "same-origin",
        "X-Frame-Options": "DENY",
        "Cache-Control": "no-store",
    }
    assert {name: answer.headers.get(name) for name in wanted} == wanted
    allowed = answer.headers["Permissions-Policy"]
    assert "geolocation=()" in allowed
    assert "microphone=()" in allowed
    assert "camera=(self)" in allowed


def test_no_pin_reaches_log_or_register(
    client: Client, wren: str, sorrel: str, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    for pin in (WRONG, "not a pin \x00", PIN):
        client.post(f"/shop/sign-on/{sorrel}/", {"pin": pin})
    strict = Client(enforce_csrf_checks=True)
    strict.post(f"/shop/sign-on/{sorrel}/", {"pin": WRONG})
    client.post("/shop/my-pin/", {"pin_now": WRONG, "pin": "739158", "pin_again": "739158"})
    client.post("/shop/my-pin/", {"pin_now": PIN, "pin": "739158", "pin_again": "739158"})
    actions.set_pin(person_id=sorrel, pin="86420197", by=wren)
    stored = [*SignIn.objects.values_list(), *RegisterEvent.objects.values_list()]
    said = " ".join([caplog.text, *(str(each) for each in stored)])
    assert "form token refused" in said
    assert not [pin for pin in (WRONG, "739158", "86420197") if pin in said]
    assert f"'{PIN}'" not in said
