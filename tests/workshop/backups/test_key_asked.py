"""The key of a backup is asked for unseen; typed after a command it stays in the history."""

import io
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from typing_extensions import override

from workshop.backups.keys import words_of
from workshop.backups.refusal import BackupRefused
from workshop.management.commands import restore

KEY = bytes(range(32))


class Keyboard(io.StringIO):
    """A standard input at which somebody sits."""

    @override
    def isatty(self) -> bool:
        return True


@pytest.fixture
def tried(monkeypatch: pytest.MonkeyPatch) -> list[bytes | None]:
    """Give the keys that were tried; only the right one opens."""
    keys: list[bytes | None] = []

    def instead(_self: Any, _here: Any, path: Path, key: bytes | None, **_: Any) -> None:
        keys.append(key)
        if key is None:
            raise BackupRefused("no_key", path=str(path))

    monkeypatch.setattr(restore.Command, "restore", instead)
    monkeypatch.setattr(restore, "getpass", lambda _prompt: words_of(KEY))
    return keys


def run(*words: str) -> None:
    call_command("restore", "old.backup", "--yes", *words, stdout=io.StringIO())


def test_without_letters_a_person_is_asked(
    tried: list[bytes | None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", Keyboard())
    run("--key")
    assert tried == [KEY]


def test_a_person_is_asked_once_it_shows_that_a_key_is_needed(
    tried: list[bytes | None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", Keyboard())
    run()
    assert tried == [None, KEY]


@pytest.mark.parametrize("words", [(), ("--key",)])
def test_where_nobody_sits_nothing_waits(
    words: tuple[str, ...], tried: list[bytes | None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO())
    with pytest.raises(CommandError, match="key"):
        run(*words)
    assert KEY not in tried


def test_it_is_read_from_standard_input(
    tried: list[bytes | None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{words_of(KEY).lower()}\n"))
    run("--key", "-")
    assert tried == [KEY]


def test_it_is_read_from_a_file_and_not_from_two_places(
    tried: list[bytes | None], tmp_path: Path
) -> None:
    sheet = tmp_path / "sheet"
    sheet.write_text(f"{words_of(KEY)}\n", encoding="utf-8")
    run("--key-file", str(sheet))
    assert tried == [KEY]
    with pytest.raises(CommandError, match="not both"):
        run("--key-file", str(sheet), "--key")
    with pytest.raises(CommandError, match="The data are as they were"):
        run("--key-file", str(tmp_path / "none"))


def test_letters_after_the_option_are_taken_as_they_are(tried: list[bytes | None]) -> None:
    run("--key", words_of(KEY))
    assert tried == [KEY]
