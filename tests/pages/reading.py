"""Reads a page as its reader's software does: identifiers, links on the page, fields and labels."""

from dataclasses import dataclass, field
from html.parser import HTMLParser

from typing_extensions import override

FIELDS = {"input", "select", "textarea"}
UNSEEN = {"hidden", "submit", "button"}
EMPTY = {"input", "img", "br", "link", "meta", "path", "circle", "rect", "line", "polygon"}


@dataclass
class Seen:
    """What stands on a page."""

    ids: list[str] = field(default_factory=list)
    hrefs: list[str] = field(default_factory=list)
    labelled: set[str] = field(default_factory=set)
    bare: list[str] = field(default_factory=list)
    headings: list[int] = field(default_factory=list)


class Reader(HTMLParser):
    """Collects what stands on a page."""

    def __init__(self) -> None:
        super().__init__()
        self.seen = Seen()
        self.inside: list[str] = []
        self.unnamed: list[tuple[str, str]] = []

    @override
    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if "id" in given:
            self.seen.ids.append(given["id"])
        if tag == "a" and given.get("href", "").startswith("#"):
            self.seen.hrefs.append(given["href"][1:])
        if tag == "label" and "for" in given:
            self.seen.labelled.add(given["for"])
        if tag[0] == "h" and tag[1:].isdigit():
            self.seen.headings.append(int(tag[1:]))
        named = "label" in self.inside or "aria-label" in given
        if tag in FIELDS and given.get("type") not in UNSEEN and not named:
            self.unnamed.append((given.get("id", ""), given.get("name", tag)))
        if tag not in EMPTY:
            self.inside.append(tag)

    @override
    def handle_endtag(self, tag: str) -> None:
        if tag in self.inside:
            while self.inside.pop() != tag:
                pass


def read(text: str) -> Seen:
    """Read a page.

    Parameters
    ----------
    text : str
        The page.

    Returns
    -------
    Seen
        What stands on it; ``bare`` names fields that nothing names.
    """
    reader = Reader()
    reader.feed(text)
    seen = reader.seen
    seen.bare = [name for known, name in reader.unnamed if known not in seen.labelled]
    return seen
