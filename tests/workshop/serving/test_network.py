"""Where the server may listen, and by which names it may be asked."""

import socket

import pytest

from workshop.serving.network import (
    Listening,
    ListenRefused,
    addresses_for_tablets,
    is_open_wire,
    is_private,
    listening,
    own_addresses,
    parse,
)

OWN = ["127.0.0.1", "192.168.4.20"]


@pytest.mark.parametrize(
    ("text", "port", "expected"),
    [
        ("", None, ("127.0.0.1", 8000)),
        ("", 0, ("127.0.0.1", 0)),
        ("localhost", None, ("127.0.0.1", 8000)),
        ("192.168.4.20", None, ("192.168.4.20", 8000)),
        ("192.168.4.20:8080", None, ("192.168.4.20", 8080)),
        ("0.0.0.0:80", 80, ("0.0.0.0", 80)),  # noqa: S104 - only read
        ("127.0.0.2", 9000, ("127.0.0.2", 9000)),
    ],
)
def test_an_address_is_read_with_or_without_port(
    text: str, port: int | None, expected: tuple[str, int]
) -> None:
    assert parse(text, port) == expected


@pytest.mark.parametrize(
    "text", ["::1", "[fe80::1]:80", "bench", "192.168.4", "1.2.3.4:x", "10.0.0.1:70000"]
)
def test_what_is_no_address_is_refused_in_words(text: str) -> None:
    with pytest.raises(ListenRefused, match=r"no IPv4 address|not a number"):
        parse(text, None)


def test_two_ports_are_refused() -> None:
    with pytest.raises(ListenRefused, match="given twice"):
        parse("192.168.4.20:8080", 8000)


def test_this_computer_only_needs_no_name() -> None:
    where = listening("127.0.0.1", 8000, OWN, "bench")
    assert where.is_loopback
    assert where.names == ("127.0.0.1",)
    assert addresses_for_tablets(where) == []


def test_one_of_its_own_addresses_is_taken_with_its_names() -> None:
    where = listening("192.168.4.20", 8000, OWN, "Bench.example")
    assert where == Listening("192.168.4.20", 8000, ("192.168.4.20", "bench", "bench.local"))
    assert where.knock == "192.168.4.20"
    assert addresses_for_tablets(where) == [
        "http://192.168.4.20:8000/",
        "http://bench.local:8000/",
    ]


def test_everywhere_means_its_own_private_addresses_and_no_star() -> None:
    where = listening("0.0.0.0", 8000, [*OWN, "10.0.0.7"], "bench")  # noqa: S104 - only decided
    assert where.names == ("192.168.4.20", "10.0.0.7", "bench", "bench.local")
    assert where.knock == "127.0.0.1"


def test_somebody_elses_address_is_refused() -> None:
    with pytest.raises(ListenRefused, match=r"not an address of this computer; it has: 192\.168"):
        listening("192.168.4.21", 8000, OWN, "bench")


@pytest.mark.parametrize("asked", ["8.1.2.3", "0.0.0.0"])  # noqa: S104 - only decided
def test_a_public_address_is_refused_and_the_private_one_named(asked: str) -> None:
    with pytest.raises(ListenRefused, match=r"8\.1\.2\.3 is a public address.*--listen 192\.168"):
        listening(asked, 8000, [*OWN, "8.1.2.3"], "bench")


def test_without_a_private_address_none_is_suggested() -> None:
    with pytest.raises(ListenRefused, match="no address in a private network"):
        listening("0.0.0.0", 8000, ["127.0.0.1", "8.1.2.3"], "bench")  # noqa: S104 - only decided


@pytest.mark.parametrize("name", ["localhost", "-x", "böse", "a b", "*", ""])
def test_a_name_that_is_no_host_name_is_left_out(name: str) -> None:
    assert listening("192.168.4.20", 8000, OWN, name).names == ("192.168.4.20",)


@pytest.mark.parametrize("address", ["10.1.2.3", "172.16.0.1", "172.31.255.1", "169.254.1.1"])
def test_private_ranges(address: str) -> None:
    assert is_private(address)


@pytest.mark.parametrize("address", ["172.15.0.1", "192.169.0.1", "100.64.0.1", "11.0.0.1"])
def test_addresses_just_outside(address: str) -> None:
    assert not is_private(address)


def test_this_computer_knows_its_addresses() -> None:
    found = own_addresses()
    assert "127.0.0.1" in found
    assert all(socket.inet_aton(each) for each in found)


@pytest.mark.parametrize(
    ("peer", "encrypted", "expected"),
    [
        ("127.0.0.1", False, False),
        ("127.0.0.2", False, False),
        ("::1", False, False),
        ("192.168.4.31", False, True),
        ("192.168.4.31", True, False),
        ("", False, True),
    ],
)
def test_what_can_be_read_on_the_way(peer: str, *, encrypted: bool, expected: bool) -> None:
    assert is_open_wire(peer, encrypted=encrypted) is expected
