"""Tells the workshop's network this computer's ``.local`` name, where nothing else does.

Where a name service of the system answers already, two would quarrel over the name, so this one
keeps quiet. Nothing here ever stops the server: addresses in numbers always work.
"""

import ipaddress
import logging
import socket
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

from zeroconf import IPVersion, ServiceInfo, Zeroconf

__all__ = ["publish"]

SYSTEM_SERVICES: Final = (Path("/run/avahi-daemon/socket"), Path("/var/run/mDNSResponder"))
"""Where the name services of Linux and macOS are spoken to."""
LOG = logging.getLogger("coldbus.name")


def _answered_already(name: str) -> bool:
    """Say whether somebody answers for the name without us."""
    if any(each.exists() for each in SYSTEM_SERVICES):
        return True
    try:
        return bool(socket.getaddrinfo(name, None, socket.AF_INET))
    except OSError:
        return False


def _addresses(names: Sequence[str]) -> list[str]:
    found = []
    for each in names:
        try:
            found.append(str(ipaddress.IPv4Address(each)))
        except ValueError:
            continue
    return found


def publish(
    names: Sequence[str],
    scheme: str,
    port: int,
    *,
    answered: Callable[[str], bool] = _answered_already,
    responder: Callable[..., Zeroconf] = Zeroconf,
) -> Callable[[], None] | None:
    """Answer for this computer's ``.local`` name until the returned function is called.

    Parameters
    ----------
    names : Sequence[str]
        Names and IPv4 addresses by which the server is asked.
    scheme : str
        "https" or "http".
    port : int
        Where that is served.
    answered : Callable
        Says whether somebody else answers for a name.
    responder : Callable
        Makes the responder for a list of addresses.

    Returns
    -------
    Callable or None
        Withdraws the name; None where there is nothing to tell, or it could not be told.
    """
    name = next((each for each in names if each.endswith(".local")), "")
    addresses = _addresses(names)
    if not name or not addresses or answered(name):
        return None
    short = name.removesuffix(".local")
    packed = [socket.inet_aton(each) for each in addresses]
    kind = f"_{scheme}._tcp.local."
    info = ServiceInfo(kind, f"{short}.{kind}", addresses=packed, port=port, server=f"{name}.")
    told = None
    try:
        told = responder(interfaces=addresses, ip_version=IPVersion.V4Only)
        told.register_service(info)
    except Exception as fault:  # noqa: BLE001 - whatever fails here, the server goes on
        LOG.warning("The name %s could not be told to the network: %s", name, fault)
        if told is not None:
            told.close()
        return None
    return told.close
