"""Headings of a list that can be sorted: where each leads, and which way the list stands."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.http import HttpRequest


@dataclass(frozen=True, slots=True)
class Heading:
    """One heading: its address, and "ascending", "descending" or "none" for the reader."""

    address: str
    sorted: str


def headings(request: HttpRequest, names: Sequence[str], sort: str) -> dict[str, Heading]:
    """Make the headings of a list; the one it is sorted by turns the order round.

    Parameters
    ----------
    request : HttpRequest
        Whose address keeps search and filters.
    names : Sequence of str
        What the list can be sorted by.
    sort : str
        What it is sorted by now; a leading minus for descending.

    Returns
    -------
    dict
        Heading by name.
    """
    found = {}
    for name in names:
        state = {name: "ascending", f"-{name}": "descending"}.get(sort, "none")
        query = request.GET.copy()
        query["sort"] = f"-{name}" if state == "ascending" else name
        found[name] = Heading(f"?{query.urlencode()}", state)
    return found
