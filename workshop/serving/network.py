"""Where the server listens: this computer only, or the workshop's own network.

On the network it is https with the workshop's own certificate, and plain http beside it; only
addresses of private networks are taken, and the server answers to the very names and addresses it
has and to no others.
"""

import ipaddress
import re
import socket
import struct
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

LOOPBACK: Final = "127.0.0.1"
EVERYWHERE: Final = "0.0.0.0"  # noqa: S104 - listened at only when a person asks for it
DEFAULT_PORT: Final = 8000
DEFAULT_HTTPS_PORT: Final = 8443
PRIVATE: Final = tuple(
    ipaddress.IPv4Network(text)
    for text in ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8")
)
HOST_NAME: Final = re.compile(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?")
# Asks Linux for the address of an interface.
SIOCGIFADDR: Final = 0x8915


class ListenRefused(Exception):
    """The address cannot be listened at, in one sentence."""


@dataclass(frozen=True, slots=True)
class Listening:
    """Where the server listens.

    ``names`` are the machine's own names and addresses, by which it may be asked.
    """

    address: str = LOOPBACK
    port: int = DEFAULT_PORT
    names: tuple[str, ...] = ()
    https_port: int = DEFAULT_HTTPS_PORT

    @property
    def is_loopback(self) -> bool:
        """Whether only this computer can reach it."""
        return ipaddress.IPv4Address(self.address).is_loopback

    @property
    def knock(self) -> str:
        """The address at which this computer itself reaches it."""
        return LOOPBACK if self.address == EVERYWHERE else self.address


def is_private(address: str) -> bool:
    """Say whether an address belongs to a private network or to this computer alone.

    Examples
    --------
    >>> [is_private(each) for each in ("192.168.4.20", "127.0.0.1", "172.32.0.1", "8.1.2.3")]
    [True, True, False, False]
    """
    return any(ipaddress.IPv4Address(address) in network for network in PRIVATE)


def parse(text: str, port: int | None) -> tuple[str, int]:
    """Read ``ADDRESS`` or ``ADDRESS:PORT``.

    Parameters
    ----------
    text : str
        As typed after ``--listen``; "" for this computer only.
    port : int or None
        As typed after ``--port``.

    Returns
    -------
    tuple of str and int
        IPv4 address and port.

    Raises
    ------
    ListenRefused
        Where it is no IPv4 address or the port is given twice.
    """
    host, colon, given = text.strip().rpartition(":")
    if not colon:
        host, given = given, ""
    host = LOOPBACK if host in {"", "localhost"} else host
    try:
        address = str(ipaddress.IPv4Address(host))
    except ValueError:
        raise ListenRefused(
            f"--listen {text!r} is no IPv4 address. Write 0.0.0.0 for every network of this "
            "computer, or one of its own addresses such as 192.168.1.20, with :PORT if wanted."
        ) from None
    if not given:
        return address, DEFAULT_PORT if port is None else port
    if not given.isdecimal() or int(given) > 65535:  # noqa: PLR2004 - the largest port
        raise ListenRefused(f"The port {given!r} is not a number up to 65535.")
    if port is not None and port != int(given):
        raise ListenRefused("The port is given twice, by --listen and by --port.")
    return address, int(given)


def listening(address: str, port: int, own: Sequence[str], host_name: str) -> Listening:
    """Decide where to listen, and by which names the server may be asked.

    Parameters
    ----------
    address : str
        IPv4 address asked for.
    port : int
        Port.
    own : Sequence of str
        This computer's own addresses.
    host_name : str
        This computer's name.

    Returns
    -------
    Listening
        Where, and by which names.

    Raises
    ------
    ListenRefused
        Where the address is public, or is not this computer's.
    """
    if ipaddress.IPv4Address(address).is_loopback:
        return Listening(address, port, (address,))
    reached = [each for each in own if not ipaddress.IPv4Address(each).is_loopback]
    if address != EVERYWHERE:
        if is_private(address) and address not in reached:
            known = ", ".join(reached) or "none"
            raise ListenRefused(f"{address} is not an address of this computer; it has: {known}.")
        reached = [address]
    public = [each for each in reached if not is_private(each)]
    if public:
        private = next((each for each in own if _serves_a_shop(each)), None)
        way = (
            f"Name the workshop network's own address: --listen {private}"
            if private
            else "This computer has no address in a private network; leave --listen out."
        )
        raise ListenRefused(
            f"{public[0]} is a public address: anybody on the internet could reach the workshop "
            f"there, unencrypted. {way}"
        )
    return Listening(address, port, (*reached, *computer_names(host_name)))


def _serves_a_shop(address: str) -> bool:
    """Say whether tablets of a private network could use this address."""
    return is_private(address) and not ipaddress.IPv4Address(address).is_loopback


def computer_names(host_name: str) -> tuple[str, ...]:
    """Give the computer's names as others may write them."""
    short = host_name.lower().split(".")[0]
    if not HOST_NAME.fullmatch(short) or short == "localhost":
        return ()
    return (short, f"{short}.local")


def addresses_for_tablets(where: Listening, scheme: str = "http") -> list[str]:
    """List the addresses that work from a tablet, plain numbers first."""
    if where.is_loopback:
        return []
    # A bare name is found by some routers only; .local by the devices themselves.
    shown = [each for each in where.names if each.endswith(".local") or each[0].isdigit()]
    numbers_first = sorted(shown, key=lambda each: not _is_address(each))
    port = where.https_port if scheme == "https" else where.port
    return [f"{scheme}://{each}:{port}/" for each in numbers_first]


def is_network_address(text: str) -> bool:
    """Say whether it is an IPv4 address at which others than this computer could ask.

    Examples
    --------
    >>> [is_network_address(each) for each in ("192.168.4.20", "127.0.0.1", "3rd-bench")]
    [True, False, False]
    """
    return _is_address(text) and not ipaddress.IPv4Address(text).is_loopback


def _is_address(text: str) -> bool:
    """Say whether a name is an address."""
    try:
        ipaddress.IPv4Address(text)
    except ValueError:
        return False
    return True


def own_addresses() -> list[str]:
    """List the IPv4 addresses of this computer, loopback included; nothing is sent anywhere."""
    found = {LOOPBACK, *_of_interfaces(), *_of_host_name(), *_of_route()}
    return sorted(found, key=lambda each: tuple(int(part) for part in each.split(".")))


def _of_host_name() -> Iterable[str]:
    """Ask the system for the addresses of its own name."""
    try:
        found = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
    except OSError:
        return []
    return [str(entry[4][0]) for entry in found]


def _of_route() -> Iterable[str]:
    """Ask the system from which address it would speak to a private network."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # A datagram socket that is connected has sent nothing yet.
            probe.connect(("10.255.255.255", 9))
            return [str(probe.getsockname()[0])]
        except OSError:
            return []


if sys.platform == "linux":
    import fcntl

    def _of_interfaces() -> Iterable[str]:
        """Ask Linux for the address of each interface."""
        found = []
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            for _number, name in socket.if_nameindex():
                asked = struct.pack("256s", name.encode()[:15])
                try:
                    answer = fcntl.ioctl(probe.fileno(), SIOCGIFADDR, asked)
                except OSError:
                    continue
                found.append(socket.inet_ntoa(answer[20:24]))
        return found
else:

    def _of_interfaces() -> Iterable[str]:
        """Elsewhere the system's own name leads to all of them."""
        return []


def is_open_wire(peer: str, *, encrypted: bool) -> bool:
    """Say whether what travels could be read on the way: not encrypted, and from elsewhere.

    Examples
    --------
    >>> is_open_wire("192.168.1.31", encrypted=False), is_open_wire("127.0.0.1", encrypted=False)
    (True, False)
    """
    if encrypted:
        return False
    try:
        return not ipaddress.ip_address(peer).is_loopback
    except ValueError:
        return True
