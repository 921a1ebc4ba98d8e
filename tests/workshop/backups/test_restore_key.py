"""The key of a backup: typed with the option, or asked for without being shown."""

import pytest

from workshop.backups import keys
from workshop.management.commands import restore

KEY = bytes(range(32))


def asked_for(monkeypatch: pytest.MonkeyPatch, given: str | None) -> tuple[bytes | None, int]:
    asked = list[str]()

    def typed(question: str) -> str:
        asked.append(question)
        return keys.words_of(KEY)

    monkeypatch.setattr(restore, "getpass", typed)
    return restore.key_typed(given), len(asked)


def test_letters_after_the_option_are_taken_as_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    assert asked_for(monkeypatch, keys.words_of(KEY)) == (KEY, 0)


def test_without_letters_they_are_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    assert asked_for(monkeypatch, "") == (KEY, 1)


def test_without_the_option_nothing_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    assert asked_for(monkeypatch, None) == (None, 0)
