"""Making the authority's certificate and the server's; pure, apart from the keys' randomness.

Not here: where they are kept, and when the server's is made anew (`keeping`).
"""

import ipaddress
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

__all__ = ["Signed", "covers", "fingerprint", "make_authority", "make_server", "names_of"]

AUTHORITY_LASTS: Final = timedelta(days=3653)
SERVER_LASTS: Final = timedelta(days=397)
"""Browsers refuse longer ones; for authorities that a person installed, 825 days is the rule."""
AGO: Final = timedelta(days=1)
"""A tablet's clock may be behind."""
PRIVATE: Final = (
    "10.0.0.0/8",
    "172.16.0.0/12",
    "192.168.0.0/16",
    "169.254.0.0/16",
    "127.0.0.0/8",
    "fc00::/7",
    "fe80::/10",
    "::1/128",
)
ALWAYS: Final = ("localhost", "127.0.0.1")


@dataclass(frozen=True, slots=True)
class Signed:
    """A certificate with its private key."""

    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey

    @property
    def pem(self) -> bytes:
        """The certificate as text."""
        return self.certificate.public_bytes(serialization.Encoding.PEM)

    @property
    def key_pem(self) -> bytes:
        """The key as text, not encrypted: it belongs into a file of its owner's alone."""
        return self.key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )


def _named(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name[:64])])


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def _alternative(name: str) -> x509.GeneralName:
    if _is_address(name):
        return x509.IPAddress(ipaddress.ip_address(name))
    return x509.DNSName(name)


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        encipher_only=False,
        decipher_only=False,
    )


def make_authority(title: str, names: Sequence[str], now: datetime) -> Signed:
    """Make an authority that can sign for these names and for private addresses alone.

    Parameters
    ----------
    title : str
        What a tablet shows it as.
    names : Sequence[str]
        Names of this computer.
    now : datetime
        Time (UTC) from which it counts.

    Returns
    -------
    Signed
        Certificate and key, EC P-256, ten years, no authority below it.
    """
    key = ec.generate_private_key(ec.SECP256R1())
    hosts = dict.fromkeys(["localhost", *(each for each in names if not _is_address(each))])
    permitted: list[x509.GeneralName] = [x509.DNSName(each) for each in hosts]
    permitted += [x509.IPAddress(ipaddress.ip_network(each)) for each in PRIVATE]
    name = _named(title)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - AGO)
        .not_valid_after(now + AUTHORITY_LASTS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return Signed(certificate, key)


def make_server(authority: Signed, names: Sequence[str], now: datetime) -> Signed:
    """Make a certificate for the server.

    Parameters
    ----------
    authority : Signed
        Who signs.
    names : Sequence[str]
        Names and addresses by which tablets ask; this computer's own are always there.
    now : datetime
        Time (UTC) from which it counts.

    Returns
    -------
    Signed
        Certificate and key, EC P-256, 397 days, for a server only.
    """
    key = ec.generate_private_key(ec.SECP256R1())
    public = authority.certificate.public_key()
    asked = [_alternative(each) for each in dict.fromkeys((*names, *ALWAYS))]
    certificate = (
        x509.CertificateBuilder()
        .subject_name(_named(names[0] if names else ALWAYS[0]))
        .issuer_name(authority.certificate.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - AGO)
        .not_valid_after(now + SERVER_LASTS)
        .add_extension(x509.SubjectAlternativeName(asked), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(public),  # type: ignore[arg-type]
            critical=False,
        )
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(authority.key, hashes.SHA256())
    )
    return Signed(certificate, key)


def covers(authority: x509.Certificate, name: str) -> bool:
    """Say whether an authority may sign for a name or address.

    One name that it may not sign for is enough for tablets to refuse the whole certificate.
    """
    limits = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    permitted = [each.value for each in limits.permitted_subtrees or ()]
    if _is_address(name):
        address = ipaddress.ip_address(name)
        return any(address in each for each in permitted if not isinstance(each, str))
    hosts = [each for each in permitted if isinstance(each, str)]
    return any(name == each or name.endswith(f".{each}") for each in hosts)


def names_of(certificate: x509.Certificate) -> frozenset[str]:
    """Give the names and addresses that a server's certificate stands for."""
    found = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    hosts = found.get_values_for_type(x509.DNSName)
    return frozenset((*hosts, *(str(each) for each in found.get_values_for_type(x509.IPAddress))))


def fingerprint(certificate: x509.Certificate) -> str:
    """Write the SHA-256 of a certificate as tablets show it, in pairs."""
    return certificate.fingerprint(hashes.SHA256()).hex(":").upper()
