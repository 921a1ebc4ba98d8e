"""Every text of the project that a person reads, collected for translation.

`collected()` reads the source: templates with Django's own parser, Python by its syntax tree,
scripts by their calls of ``say``. The catalogues (`workshop/locale/<language>/`) are brought to it
by ``python3 manage.py texts``. Not here: when a text is translated; that is where it is shown.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from jobs.texts.from_python import python_texts
from jobs.texts.from_scripts import script_texts
from jobs.texts.from_templates import template_texts

__all__ = ["Text", "collected"]

APPS = ("workshop", "packs", "jobs")
LEFT_OUT = {"migrations", "curves", "texts", "management"}


@dataclass(frozen=True, slots=True, order=True)
class Text:
    """A text with its plural form, where it has one, and the files that say it.

    A context stands before the text, ended by the character 4, as compiled catalogues have it.
    """

    singular: str
    plural: str
    places: tuple[str, ...]


def _files(root: Path) -> Iterator[tuple[str, str]]:
    folders = (*((app, "*.py") for app in APPS), ("templates", "*.html"), ("static/js", "*.js"))
    for folder, pattern in folders:
        for path in sorted((root / folder).rglob(pattern)):
            place = path.relative_to(root)
            if not LEFT_OUT & set(place.parts):
                yield place.as_posix(), path.read_text(encoding="utf-8")


def _found(root: Path) -> Iterator[tuple[str, str, str]]:
    for place, source in _files(root):
        if place.endswith(".py"):
            texts = python_texts(place, source)
        else:
            texts = (template_texts if place.endswith(".html") else script_texts)(source)
        for singular, plural in texts:
            yield singular, plural, place


def collected(root: Path | None = None) -> tuple[Text, ...]:
    """Give every text of the project.

    Parameters
    ----------
    root : Path | None
        Folder of the project; this one when None.

    Returns
    -------
    tuple[Text, ...]
        Each text once, in alphabetical order. Where one place says a plural and another does not,
        the plural counts.
    """
    plurals: dict[str, str] = {}
    places: dict[str, dict[str, None]] = {}
    for singular, plural, place in _found(root or Path(settings.BASE_DIR)):
        plurals[singular] = plurals.get(singular) or plural
        places.setdefault(singular, {})[place] = None
    return tuple(Text(each, plurals[each], tuple(places[each])) for each in sorted(plurals))
