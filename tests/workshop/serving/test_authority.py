"""The workshop's own authority: what it may sign, when the server's certificate is made anew."""

import errno
import ipaddress
import socket
import ssl
import stat
from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta
from io import StringIO
from pathlib import Path
from threading import Thread

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from django.core.management import CommandError, call_command
from django.test import override_settings

from workshop import clock
from workshop.management.commands.doctor import certificate, moved
from workshop.management.commands.up import Command
from workshop.serving.authority import keeping
from workshop.serving.authority.certificates import Signed, fingerprint, make_authority, make_server
from workshop.serving.data_folder import AUTHORITY_KEY_NAME, AUTHORITY_NAME

NOW = clock.now()
NAMES = ("192.168.4.20", "bench", "bench.local")


def parts(certificate: x509.Certificate) -> Callable[[type], x509.ExtensionType]:
    return lambda kind: certificate.extensions.get_extension_for_class(kind).value


def test_the_authority_signs_for_this_computer_and_private_addresses_only() -> None:
    made = make_authority("Coldbus workshop", NAMES, NOW)
    part = parts(made.certificate)
    assert part(x509.BasicConstraints) == x509.BasicConstraints(ca=True, path_length=0)
    limits = made.certificate.extensions.get_extension_for_class(x509.NameConstraints)
    assert limits.critical
    permitted = [each.value for each in limits.value.permitted_subtrees or ()]
    assert {"localhost", "bench", "bench.local"} < set(permitted)
    networks = [each for each in permitted if not isinstance(each, str)]
    assert all(each.is_private for each in networks)
    assert ipaddress.ip_network("192.168.0.0/16") in networks
    assert made.certificate.not_valid_after_utc - NOW > timedelta(days=3650)


def test_the_servers_certificate_is_for_a_server_and_397_days() -> None:
    authority = make_authority("Coldbus workshop", NAMES, NOW)
    made = make_server(authority, NAMES, NOW)
    part = parts(made.certificate)
    assert part(x509.BasicConstraints) == x509.BasicConstraints(ca=False, path_length=None)
    usage = part(x509.ExtendedKeyUsage)
    assert list(usage) == [x509.oid.ExtendedKeyUsageOID.SERVER_AUTH]  # type: ignore[call-overload]
    lasts = made.certificate.not_valid_after_utc - made.certificate.not_valid_before_utc
    assert lasts <= timedelta(days=398)
    made.certificate.verify_directly_issued_by(authority.certificate)


def refusal_of(folder: Path, server: Signed, authority: Signed, asked: str) -> str:
    """Shake hands as a tablet that trusts this authority alone; give why it was refused."""
    (folder / "s.crt").write_bytes(server.pem)
    (folder / "s.key").write_bytes(server.key_pem)
    here = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    here.load_cert_chain(folder / "s.crt", folder / "s.key")
    there = ssl.create_default_context(cadata=authority.pem.decode())
    one, other = socket.socketpair()

    def answer() -> None:
        with suppress(ssl.SSLError, OSError), here.wrap_socket(one, server_side=True):
            pass

    thread = Thread(target=answer)
    thread.start()
    try:
        with there.wrap_socket(other, server_hostname=asked):
            return ""
    except ssl.SSLError as refused:
        return str(refused)
    finally:
        other.close()
        thread.join()
        one.close()


@pytest.mark.parametrize(
    "asked", ["192.168.4.20", "bench", "bench.local", "localhost", "127.0.0.1"]
)
def test_a_tablet_that_trusts_it_opens_the_server(tmp_path: Path, asked: str) -> None:
    authority = make_authority("Coldbus workshop", NAMES, NOW)
    assert refusal_of(tmp_path, make_server(authority, NAMES, NOW), authority, asked) == ""


@pytest.mark.parametrize("asked", ["bank.example", "www.bench.example", "8.8.4.4", "bench.example"])
def test_it_cannot_speak_for_anybody_else(tmp_path: Path, asked: str) -> None:
    authority = make_authority("Coldbus workshop", NAMES, NOW)
    forged = make_server(authority, (asked,), NOW)
    assert "permitted subtree violation" in refusal_of(tmp_path, forged, authority, asked)


def serial(kept: keeping.Kept) -> int:
    return x509.load_pem_x509_certificate(kept.certificate.read_bytes()).serial_number


def test_it_is_made_once_and_anew_only_where_that_is_needed(tmp_path: Path) -> None:
    first = keeping.prepare(tmp_path, NAMES, NOW)
    authority = (tmp_path / AUTHORITY_NAME).read_bytes()
    number = serial(first)
    assert serial(keeping.prepare(tmp_path, NAMES, NOW + timedelta(days=336))) == number
    late = keeping.prepare(tmp_path, NAMES, NOW + timedelta(days=338))
    assert serial(late) != number
    number = serial(late)
    assert serial(keeping.prepare(tmp_path, ("192.168.4.21", "bench"), NOW)) != number
    told = keeping.told(tmp_path)
    assert told is not None
    assert "192.168.4.21" in told.names
    assert (tmp_path / AUTHORITY_NAME).read_bytes() == authority


def handshake(folder: Path, asked: str) -> str:
    """Ask with what is kept in the folder, as a tablet that trusts its authority."""
    pairs = [(AUTHORITY_NAME, AUTHORITY_KEY_NAME), ("server.crt", "server.key")]
    authority, server = [
        Signed(
            x509.load_pem_x509_certificate((folder / name).read_bytes()),
            serialization.load_pem_private_key((folder / key).read_bytes(), None),  # type: ignore[arg-type]
        )
        for name, key in pairs
    ]
    return refusal_of(folder, server, authority, asked)


def test_a_computer_that_was_renamed_is_still_trusted_by_its_addresses(tmp_path: Path) -> None:
    keeping.prepare(tmp_path, NAMES, NOW)
    renamed = ("192.168.4.20", "desk", "desk.local")
    number = serial(keeping.prepare(tmp_path, renamed, NOW))
    assert handshake(tmp_path, "192.168.4.20") == ""
    assert keeping.uncovered(tmp_path, renamed) == ["desk", "desk.local"]
    assert serial(keeping.prepare(tmp_path, renamed, NOW)) == number
    keeping.begin_anew(tmp_path)
    keeping.prepare(tmp_path, renamed, NOW)
    assert handshake(tmp_path, "desk.local") == ""
    assert keeping.uncovered(tmp_path, renamed) == []


def test_an_authority_made_for_this_computer_alone_serves_the_network_later(tmp_path: Path) -> None:
    keeping.prepare(tmp_path, ("127.0.0.1",), NOW, ("bench", "bench.local"))
    keeping.prepare(tmp_path, NAMES, NOW)
    assert [handshake(tmp_path, each) for each in ("192.168.4.20", "bench.local")] == ["", ""]


@pytest.mark.parametrize("spoilt", ["other", "empty"])
def test_a_power_cut_between_the_two_files_is_mended_at_the_next_start(
    tmp_path: Path, spoilt: str
) -> None:
    kept = keeping.prepare(tmp_path, NAMES, NOW)
    other = make_server(make_authority("Coldbus workshop", NAMES, NOW), NAMES, NOW)
    kept.key.write_bytes(other.key_pem if spoilt == "other" else b"")
    keeping.prepare(tmp_path, NAMES, NOW)
    assert handshake(tmp_path, "bench.local") == ""


def test_a_server_certificate_of_another_authority_is_made_anew(tmp_path: Path) -> None:
    kept = keeping.prepare(tmp_path, NAMES, NOW)
    other = make_server(make_authority("Coldbus workshop", NAMES, NOW), NAMES, NOW)
    kept.certificate.write_bytes(other.pem)
    kept.key.write_bytes(other.key_pem)
    keeping.prepare(tmp_path, NAMES, NOW)
    assert handshake(tmp_path, "bench.local") == ""


def test_keys_are_their_owners_alone(tmp_path: Path) -> None:
    kept = keeping.prepare(tmp_path, NAMES, NOW)
    for path in (kept.key, tmp_path / AUTHORITY_KEY_NAME):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_the_key_on_a_stick_is_asked_for_only_when_it_is_needed(tmp_path: Path) -> None:
    folder, stick = tmp_path / "data", tmp_path / "stick"
    folder.mkdir()
    stick.mkdir()
    first = keeping.prepare(folder, NAMES, NOW)
    number = serial(first)
    there = keeping.take_off(folder, stick)
    assert not (folder / AUTHORITY_KEY_NAME).exists()
    assert serial(keeping.prepare(folder, NAMES, NOW)) == number
    with pytest.raises(keeping.AuthorityAway):
        keeping.prepare(folder, ("10.0.0.7",), NOW)
    keeping.bring_back(folder, there)
    assert serial(keeping.prepare(folder, ("10.0.0.7",), NOW)) != number


def test_a_stick_that_fails_leaves_the_key_here(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, stick = tmp_path / "data", tmp_path / "stick"
    folder.mkdir()
    stick.mkdir()
    keeping.prepare(folder, NAMES, NOW)

    def full(_descriptor: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr("os.fsync", full)
        with pytest.raises(OSError, match="No space"):
            keeping.take_off(folder, stick)
    assert (folder / AUTHORITY_KEY_NAME).exists()
    assert list(stick.iterdir()) == []
    assert keeping.take_off(folder, stick).exists()


def test_a_key_on_the_stick_is_never_written_over(tmp_path: Path) -> None:
    keeping.prepare(tmp_path, NAMES, NOW)
    stick = tmp_path / "stick"
    stick.mkdir()
    (stick / AUTHORITY_KEY_NAME).write_bytes(b"of another workshop")
    with pytest.raises(FileExistsError, match="choose another folder"):
        keeping.take_off(tmp_path, stick)
    assert (stick / AUTHORITY_KEY_NAME).read_bytes() == b"of another workshop"
    assert (tmp_path / AUTHORITY_KEY_NAME).exists()


def test_another_authoritys_key_is_not_taken(tmp_path: Path) -> None:
    folder, other = tmp_path / "data", tmp_path / "other"
    for each in (folder, other):
        each.mkdir()
        keeping.prepare(each, NAMES, NOW)
    before = (folder / AUTHORITY_KEY_NAME).read_bytes()
    with pytest.raises(ValueError, match="another authority"):
        keeping.bring_back(folder, other / AUTHORITY_KEY_NAME)
    assert (folder / AUTHORITY_KEY_NAME).read_bytes() == before


def test_the_command_shows_the_fingerprint_and_moves_the_key(tmp_path: Path) -> None:
    said = StringIO()
    with override_settings(COLDBUS_DATA=tmp_path):
        call_command("authority", stdout=said)
        assert "No authority yet" in said.getvalue()
        keeping.prepare(tmp_path, NAMES, NOW)
        stick = tmp_path / "stick"
        stick.mkdir()
        call_command("authority", take_off=stick, stdout=said)
        with pytest.raises(CommandError, match="Nothing was changed"):
            call_command("authority", take_off=stick, stdout=said)
    authority = x509.load_pem_x509_certificate((tmp_path / AUTHORITY_NAME).read_bytes())
    assert fingerprint(authority) in said.getvalue()
    assert "taken off" in said.getvalue()


def test_the_doctor_tells_of_a_certificate_that_ends_soon(tmp_path: Path) -> None:
    assert list(certificate(tmp_path, NOW)) == []
    keeping.prepare(tmp_path, NAMES, NOW)
    (_, whose), (good, until) = certificate(tmp_path, NOW)
    assert "its key here" in whose
    assert good
    assert "bench.local" in until
    *_, (good, until) = certificate(tmp_path, NOW + timedelta(days=390))
    assert not good
    assert "start the server anew" in until


def test_the_doctor_tells_of_an_address_that_is_gone(tmp_path: Path) -> None:
    assert list(moved(tmp_path, ["192.168.4.20"])) == []
    keeping.prepare(tmp_path, NAMES, NOW)
    assert list(moved(tmp_path, ["127.0.0.1", "192.168.4.20"])) == []
    ((good, said),) = moved(tmp_path, ["127.0.0.1", "192.168.4.31"])
    assert not good
    assert "192.168.4.20" in said
    assert "127.0.0.1" not in said


def test_the_start_tells_of_a_name_that_the_authority_does_not_cover(tmp_path: Path) -> None:
    said = StringIO()
    with override_settings(COLDBUS_DATA=tmp_path):
        Command(stderr=said).certificate(NAMES)
        assert said.getvalue() == ""
        Command(stderr=said).certificate(("192.168.4.20", "desk", "desk.local"))
    assert "the name desk and desk.local" in said.getvalue()
    assert "--begin-anew" in said.getvalue()
