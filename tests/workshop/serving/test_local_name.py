"""The computer's ``.local`` name: told where nobody else does, and withdrawn."""

from collections.abc import Callable
from typing import Any

import pytest
from zeroconf import ServiceInfo

from workshop import clock
from workshop.management.commands.up import Command
from workshop.serving import local_name
from workshop.serving.network import Listening
from workshop.serving.renewal import Renewal
from workshop.wire import ENCRYPTED_VARIABLE

NAMES = ("192.168.4.20", "bench", "bench.local")


class Responder:
    """Notes what it was asked to tell; no packet leaves this computer."""

    def __init__(self, fault: str = "") -> None:
        self.fault = fault
        self.interfaces: list[str] = []
        self.told: list[ServiceInfo] = []
        self.closed = 0

    def __call__(self, interfaces: list[str], **_options: Any) -> "Responder":
        self.interfaces = interfaces
        if self.fault == "open":
            raise OSError("Address already in use")
        return self

    def register_service(self, info: ServiceInfo) -> None:
        if self.fault == "tell":
            raise RuntimeError("the name is taken")
        self.told.append(info)

    def close(self) -> None:
        self.closed += 1


def publish(
    responder: Responder, names: tuple[str, ...] = NAMES, *, answered: bool = False
) -> Callable[[], None] | None:
    return local_name.publish(
        names,
        "https",
        8443,
        answered=lambda _name: answered,
        responder=responder,  # type: ignore[arg-type]
    )


def test_the_name_is_told_with_the_port_and_withdrawn_at_the_end() -> None:
    responder = Responder()
    withdraw = publish(responder)
    (told,) = responder.told
    assert (told.server, told.port, told.type) == ("bench.local.", 8443, "_https._tcp.local.")
    assert told.parsed_addresses() == ["192.168.4.20"]
    assert responder.interfaces == ["192.168.4.20"]
    assert withdraw is not None
    assert responder.closed == 0
    withdraw()
    assert responder.closed == 1


def test_a_computer_in_two_networks_is_told_with_both_addresses() -> None:
    """Cable and Wi-Fi at once: each tablet finds the address that it can reach."""
    responder, both = Responder(), ["192.168.4.20", "10.0.0.7"]
    publish(responder, (*both, "bench", "bench.local"))
    (told,) = responder.told
    assert sorted(told.parsed_addresses()) == sorted(both)
    assert sorted(responder.interfaces) == sorted(both)


@pytest.mark.parametrize("names", [("192.168.4.20",), ("bench", "bench.local"), ()])
def test_without_a_name_or_an_address_nothing_is_told(names: tuple[str, ...]) -> None:
    responder = Responder()
    assert publish(responder, names) is None
    assert responder.told == []


def test_where_another_service_answers_this_one_keeps_quiet() -> None:
    responder = Responder()
    assert publish(responder, answered=True) is None
    assert responder.interfaces == []


@pytest.mark.parametrize(("fault", "closed"), [("open", 0), ("tell", 1)])
def test_a_failure_stops_nothing_and_leaves_nothing_open(fault: str, closed: int) -> None:
    responder = Responder(fault)
    assert publish(responder) is None
    assert responder.closed == closed


@pytest.mark.parametrize("address", ["127.0.0.1", "192.168.4.20"])
def test_the_name_is_told_once_the_worker_runs_and_withdrawn_after_it(
    monkeypatch: pytest.MonkeyPatch, address: str
) -> None:
    order: list[str] = []

    def serve(
        _where: Listening, announce: Callable[[str], None], _kept: None, renewal: Renewal
    ) -> None:
        order.append("worker started")
        announce("http://192.168.4.20:8000/")
        renewal.do(clock.now())
        order.append("another worker started")
        announce("http://192.168.4.20:8000/")
        order.append("worker stopped")

    def tell(_names: tuple[str, ...], scheme: str, port: int) -> Callable[[], None]:
        order.append(f"told {scheme} {port}")
        return lambda: order.append("withdrawn")

    monkeypatch.setenv(ENCRYPTED_VARIABLE, "")
    monkeypatch.setattr("workshop.serving.server.serve", serve)
    monkeypatch.setattr(local_name, "publish", tell)
    Command().serve(Listening(address, 8000, NAMES), None)
    named = ["told http 8000"], ["withdrawn"]
    told, withdrawn = named if address != "127.0.0.1" else ([], [])
    # Withdrawn before the next worker as well, which may be a fork.
    first = ["worker started", *told, *withdrawn]
    assert order == [*first, "another worker started", *told, "worker stopped", *withdrawn]
