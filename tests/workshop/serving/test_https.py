"""One process serves https and plain http: the same shop, cookies apart, nobody held up."""

import base64
import hashlib
import json
import re
import socket
import ssl
import time
import urllib.parse
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPSConnection
from http.cookies import SimpleCookie

import pytest

from tests.running import Running, running_server
from workshop.serving.data_folder import AUTHORITY_NAME

START = re.compile(r"plain http: (http://\S+/)start/")
PIN = "2580"


@dataclass
class Shop:
    """A server with both doors open."""

    running: Running
    plain: str

    @property
    def encrypted(self) -> str:
        return self.running.address


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    folder = tmp_path_factory.mktemp("both")
    with running_server(folder, "--https", "--https-port", "0") as running:
        told = running.told(START)
        yield Shop(running, told[1])


@dataclass
class Browser:
    """Keeps the cookies of one host, as a browser does: whatever the port, secure ones apart."""

    shop: Shop
    cookies: dict[str, str] = field(default_factory=dict)
    secure: set[str] = field(default_factory=set)

    def open(self, address: str) -> HTTPConnection:
        place = urllib.parse.urlsplit(address)
        if place.scheme == "http":
            return HTTPConnection(place.netloc, timeout=10)
        trust = ssl.create_default_context(cafile=self.shop.running.folder / AUTHORITY_NAME)
        return HTTPSConnection(place.netloc, timeout=10, context=trust)

    def ask(
        self, address: str, path: str, form: dict[str, str] | None = None, host: str = ""
    ) -> tuple[int, str, str]:
        encrypted = address.startswith("https")
        sent = {n: t for n, t in self.cookies.items() if encrypted or n not in self.secure}
        token = next((text for name, text in sent.items() if "csrf" in name), "")
        headers = {"Cookie": "; ".join(f"{n}={t}" for n, t in sent.items()), "X-CSRFToken": token}
        headers |= {"Origin": address.rstrip("/")} | ({"Host": host} if host else {})
        if form is not None:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        with closing(self.open(address)) as link:
            body = None if form is None else urllib.parse.urlencode(form)
            link.request("GET" if form is None else "POST", path, body, headers)
            answer = link.getresponse()
            text = answer.read().decode("utf-8", "replace")
        for line in answer.headers.get_all("Set-Cookie") or []:
            for name, morsel in SimpleCookie(line).items():
                self.cookies[name] = morsel.value
                self.secure |= {name} if morsel["secure"] else set()
        return answer.status, answer.headers.get("Location", ""), text

    def first_manager(self, address: str) -> int:
        """Make the first manager of the empty shop."""
        _, where, _ = self.ask(address, "/")
        _, _, page = self.ask(address, where)
        names = re.findall(r'name="(\w+)"', page)
        form = {"display_name": "Mira Example", "short_name": "Mira", "pin": PIN, "pin_again": PIN}
        return self.ask(address, where, {n: form.get(n, PIN) for n in names if "csrf" not in n})[0]


def test_both_doors_lead_to_one_shop_with_cookies_of_their_own(shop: Shop) -> None:
    browser = Browser(shop)
    assert browser.first_manager(shop.encrypted) == 302
    assert browser.ask(shop.encrypted, "/jobs/")[0] == 200
    assert all(name.startswith("__Host-") for name in browser.cookies)
    assert browser.secure == set(browser.cookies)
    # Plain http neither sees that session nor takes it away.
    assert browser.ask(shop.plain, "/jobs/")[0] == 302
    _, _, tiles = browser.ask(shop.plain, "/shop/sign-on/")
    assert "Mira" in tiles
    person = re.findall(r'href="(/shop/sign-on/[0-9a-f-]+/)', tiles)[0]
    browser.ask(shop.plain, person)
    assert browser.ask(shop.plain, person, {"pin": PIN, "next": "/jobs/"})[0] == 302
    assert browser.ask(shop.plain, "/jobs/")[0] == 200
    assert browser.ask(shop.encrypted, "/jobs/")[0] == 200


def test_a_tablet_begins_on_plain_http(shop: Shop) -> None:
    browser = Browser(shop)
    status, _, page = browser.ask(shop.plain, "/start/")
    assert status == 200
    assert "data:image/svg+xml" in page
    assert shop.encrypted in page
    with closing(browser.open(shop.plain)) as link:
        link.request("GET", "/start/certificate/")
        answer = link.getresponse()
        certificate = answer.read()
    assert answer.headers["Content-Type"] == "application/x-x509-ca-cert"
    assert certificate == (shop.running.folder / AUTHORITY_NAME).read_bytes()


def test_the_page_stands_on_the_home_screen_before_anything_is_entered(shop: Shop) -> None:
    """What a browser has stored is not seen by the page on an iPad's home screen."""
    _, _, page = Browser(shop).ask(shop.plain, "/start/")
    before = page.index("Put the page on the home screen before the first use")
    assert before < page.index("Open the encrypted address")


def test_the_worker_holds_each_file_against_the_digest_of_what_is_served(shop: Shop) -> None:
    browser = Browser(shop)
    _, _, script = browser.ask(shop.encrypted, "/sw.js")
    told = json.loads(script.partition(";\n")[0].removeprefix("self.COLDBUS = "))
    assert len(told["shell"]) > 50
    for address, expected in told["shell"]:
        with closing(browser.open(shop.encrypted)) as link:
            link.request("GET", address)
            answer = link.getresponse()
            digest = base64.b64encode(hashlib.sha256(answer.read()).digest()).decode()
        assert (answer.status, f"sha256-{digest}") == (200, expected), address


def test_who_does_not_trust_the_authority_does_not_get_in(shop: Shop) -> None:
    place = urllib.parse.urlsplit(shop.encrypted)
    link = HTTPSConnection(place.netloc, timeout=10, context=ssl.create_default_context())
    with pytest.raises(ssl.SSLCertVerificationError):
        link.request("GET", "/")


@pytest.mark.parametrize("host", ["evil.example", "192.168.77.7:8443", "bank.example:443"])
def test_a_name_that_is_not_ours_is_not_answered(shop: Shop, host: str) -> None:
    assert Browser(shop).ask(shop.encrypted, "/start/", host=host)[0] == 400


def test_handshakes_that_never_end_hold_nobody_up(shop: Shop) -> None:
    place = urllib.parse.urlsplit(shop.encrypted)
    stuck = [
        socket.create_connection((str(place.hostname), int(place.port or 0))) for _ in range(6)
    ]
    try:
        for each in stuck:
            each.sendall(b"\x16\x03\x01\x02\x00\x01")
        before = time.monotonic()
        assert Browser(shop).ask(shop.encrypted, "/start/")[0] == 200
        assert Browser(shop).ask(shop.plain, "/start/")[0] == 200
        assert time.monotonic() - before < 5
    finally:
        for each in stuck:
            each.close()
