"""A language's catalogue: brought to what the source says, counted, and compiled for Django.

The catalogue is a PO file that any translator's editor opens; the compiled MO file beside it is
what Django reads, so that a workshop needs no gettext tools.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import polib
from django.conf import settings

from jobs.texts import Text
from jobs.texts.from_python import CONTEXT_ENDS

__all__ = ["State", "compile_catalogue", "languages", "path_of", "state_of", "update"]

PLURAL_FORMS: Final = "nplurals=2; plural=(n != 1);"


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """How far a language is.

    Attributes
    ----------
    texts : int
        Texts of the source.
    missing : tuple[str, ...]
        Those without a translation.
    stale : tuple[str, ...]
        Translated texts that the source says no longer.
    """

    texts: int
    missing: tuple[str, ...]
    stale: tuple[str, ...]


def languages() -> tuple[str, ...]:
    """Name the languages that have a catalogue."""
    return tuple(sorted(each.name for each in _root().iterdir() if each.is_dir()))


def _root() -> Path:
    return Path(settings.LOCALE_PATHS[0])


def path_of(language: str) -> Path:
    """Say where a language's catalogue lies."""
    return _root() / language / "LC_MESSAGES" / "django.po"


def _key_of(entry: polib.POEntry) -> str:
    return f"{entry.msgctxt}{CONTEXT_ENDS}{entry.msgid}" if entry.msgctxt else entry.msgid


def _is_translated(entry: polib.POEntry) -> bool:
    forms = entry.msgstr_plural.values() if entry.msgid_plural else (entry.msgstr,)
    return bool(forms) and all(forms) and not entry.fuzzy


def state_of(language: str, texts: Iterable[Text]) -> State:
    """Compare a language's catalogue with the texts of the source."""
    said = {each.singular: each.plural for each in texts}
    entries = {_key_of(each): each for each in polib.pofile(str(path_of(language)))}
    missing = (
        text
        for text, plural in said.items()
        if text not in entries
        or entries[text].msgid_plural != plural
        or not _is_translated(entries[text])
    )
    return State(texts=len(said), missing=tuple(missing), stale=tuple(entries.keys() - said.keys()))


def update(language: str, texts: Iterable[Text]) -> State:
    """Bring a language's catalogue to the source: new texts empty, stale ones gone; compile it.

    Returns
    -------
    State
        How far it is now.
    """
    path = path_of(language)
    path.parent.mkdir(parents=True, exist_ok=True)
    kept = {_key_of(each): each for each in polib.pofile(str(path))} if path.exists() else {}
    catalogue = polib.POFile(wrapwidth=100)
    catalogue.metadata = {
        "Content-Type": "text/plain; charset=UTF-8",
        "Content-Transfer-Encoding": "8bit",
        "Language": language,
        "MIME-Version": "1.0",
        "Plural-Forms": PLURAL_FORMS,
    }
    told = tuple(texts)
    for text in told:
        catalogue.append(_entry(text, kept.get(text.singular)))
    catalogue.save(str(path))
    compile_catalogue(language)
    return state_of(language, told)


def _entry(text: Text, before: polib.POEntry | None) -> polib.POEntry:
    context, _, singular = text.singular.rpartition(CONTEXT_ENDS)
    entry = polib.POEntry(msgid=singular, occurrences=[(each, "") for each in text.places])
    if context:
        entry.msgctxt = context
    if text.plural:
        same = before is not None and before.msgid_plural == text.plural
        entry.msgid_plural = text.plural
        entry.msgstr_plural = dict(before.msgstr_plural) if same and before else {0: "", 1: ""}
    elif before is not None:
        entry.msgstr = before.msgstr
    if "{" in singular:
        entry.flags.append("python-brace-format")
    return entry


def compile_catalogue(language: str) -> Path:
    """Write the compiled catalogue beside the catalogue and give its path."""
    path = path_of(language)
    compiled = path.with_suffix(".mo")
    polib.pofile(str(path)).save_as_mofile(str(compiled))
    return compiled
