"""No tracked file holds a secret: no private key, no token, no password that opens anything."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.house.sources import ROOT, relative

SECRETS = {
    "a private key": re.compile(r"-----BEGIN (?:[A-Z]+ )*PRIVATE KEY-----\s*[A-Za-z0-9+/=]{40}"),
    "a token of a code host": re.compile(r"\b(?:gh[pousr]_[A-Za-z0-9]{30,}|glpat-[\w-]{20,})"),
    "a cloud key": re.compile(r"\bA(?:KIA|SIA)[0-9A-Z]{16}\b"),
    "a web token": re.compile(r"\beyJ[\w-]{15,}\.eyJ[\w-]{15,}\.[\w-]{20,}"),
    "a password in an address": re.compile(
        r"\b[a-z]{3,12}://[^\s/:@{}$<\"']+:[^\s/@{}$<\"']{12,}@"
    ),
    "a secret key written out": re.compile(
        r"(?i)\b(?:secret_key|pepper|password|api_key)\b\s*[:=]\s*[\"'][A-Za-z0-9+/_=-]{24,}[\"']"
    ),
}
TEXT_LIMIT_BYTES = 3_000_000


def tracked() -> list[Path]:
    """Give what git keeps; where there is no git, nothing can be in it."""
    git = shutil.which("git")
    if git is None or not (ROOT / ".git").exists():
        pytest.skip("there is no repository here")
    command = [git, "ls-files", "-z"]
    listed = subprocess.run(command, cwd=ROOT, capture_output=True, check=True, text=True)
    return [ROOT / name for name in listed.stdout.split("\0") if name]


def found_in(text: str) -> list[str]:
    """Name the kinds of secrets in a text."""
    return [kind for kind, pattern in SECRETS.items() if pattern.search(text)]


def test_no_tracked_file_holds_a_secret() -> None:
    held = {}
    for path in tracked():
        if path.is_file() and path.stat().st_size < TEXT_LIMIT_BYTES:
            kinds = found_in(path.read_bytes().decode(errors="replace"))
            if kinds:
                held[relative(path)] = kinds
    assert held == {}


def test_no_file_of_keys_is_tracked() -> None:
    names = [
        relative(path) for path in tracked() if path.suffix in {".pem", ".key", ".p12", ".pfx"}
    ]
    assert names == []


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("a private key", "-----BEGIN PRIVATE " + "KEY-----\n" + "A1b2" * 12),
        ("a token of a code host", "gh" + "p_" + "a1B2" * 9),
        ("a cloud key", "AK" + "IA" + "ABCD" * 4),
        ("a web token", "eyJ" + "a" * 20 + ".eyJ" + "b" * 20 + "." + "c" * 24),
        ("a password in an address", "postgres://shop:" + "x9" * 8 + "@db.example/shop"),
        ("a secret key written out", 'SECRET_KEY = "' + "k3Y" * 10 + '"'),
    ],
)
def test_the_scan_finds_each_kind(kind: str, text: str) -> None:
    assert found_in(text) == [kind]
