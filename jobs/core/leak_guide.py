"""Leads from readings to the leaking module: what to read next, what was misread, the pictures.

Here: what `jobs.core.leak_search` found, put into lines and pictures for whoever reads next.
Not here: the search itself, and which acts a step allows.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from jobs.core.item import qualifier_of
from jobs.core.leak_search import ALONE, Searched, Taken, explains, plug_links, reading_in_words
from jobs.core.pack_side import PackSide, points_now
from jobs.core.record import Record
from jobs.core.section import Proposal, Said, Suspect
from packs.definition import PackDefinition
from packs.pack_map import pack_map
from packs.physics.localise_case import NextReading, Reading
from packs.picture import Picture
from packs.string_line import LeakBar, PoleRing, string_line
from packs.words import joined, told, word

__all__ = [
    "LinkWork",
    "closed_proposals",
    "leak_pictures",
    "open_proposals",
    "suspects_of",
    "two_leaks_said",
]

SHOWN_SHARE = 0.01
"""Modules below this probability are left out of the map [1]."""
SEVERAL_FROM = 0.25
"""Probability of two leaks from which it is said [1]: shop default."""
REPEAT_BITS = 0.1
"""A reading at the closed pack that gains less only repeats what is known [bit]: shop default."""
MOST_PROPOSALS = 3
_POLE_WORDS = {"pos": "positive", "neg": "negative"}


def hold_proposal(named: tuple[str, ...], work: "LinkWork") -> Proposal:
    """Propose what confirms a named module once links may be opened."""
    text = "{modules}, the links on both sides open"
    return Proposal(
        item=work.reading,
        qualifier="",
        what=Said(text, {"modules": " and ".join(named)}),
        how=(Said("link by link, each end covered"),),
        why=Said("Confirms the module, or finds that two leaks looked like one."),
        chosen=True,
        first=Said("First: pass the hold point before a link opens."),
        first_hold=work.hold,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkWork:
    """Items and hold point with which links are opened in a step; `opened` are those that are."""

    reading: str
    link: str
    hold: str
    hold_passed: bool
    opened: frozenset[str]


def _what(one: NextReading) -> Said:
    text = "{module} {pole_word} to enclosure"
    return Said(text, {"module": one.module, "pole_word": _POLE_WORDS[one.pole]})


def _how(one: NextReading, plug: tuple[str, ...]) -> tuple[Said, ...]:
    """Say which links are open beside the disconnect, and whether the shunt is fitted."""
    further = [name for name in one.open_after if name not in plug]
    links = Said("No further link open")
    if further:
        text = "Link open after {names}" if len(further) == 1 else "Links open after {names}"
        links = Said(text, {"names": " and ".join(further)})
    fitted = Said("shunt fitted") if one.shunt_ohm is not None else Said("without shunt")
    return links, fitted


def _proposal(one: NextReading, plug: tuple[str, ...], item: str, qualifier: str) -> Proposal:
    return Proposal(
        item=item, qualifier=qualifier, what=_what(one), how=_how(one, plug), why=Said(one.why)
    )


def _fresh(searched: Searched) -> tuple[NextReading, ...]:
    result = searched.result
    return () if result is None else result.next_readings


def closed_proposals(record: Record, side: PackSide, searched: Searched) -> tuple[Proposal, ...]:
    """Propose readings at the isolation points that have a card of their own and no value yet.

    Parameters
    ----------
    record : Record
        The job as it stands.
    side : PackSide
        The items of the readings.
    searched : Searched
        What the readings say so far.

    Returns
    -------
    tuple[Proposal, ...]
        The most telling first; empty where the points that can be reached tell no more.
    """
    if record.pack is None:
        return ()
    plug, given = plug_links(record.pack), {one.entry.qualifier for one in record.all(side.reading)}
    names = {(point.module, point.pole): point.name for point in points_now(record)}
    found = []
    for one in _fresh(searched):
        name = names.get((one.module, one.pole))
        shunt = "none" if one.shunt_ohm is None else "fitted"
        place = qualifier_of(point=name or "", shunt=shunt)
        if name is None or place in given or one.open_after != plug:
            continue
        if one.gain_bits > REPEAT_BITS:
            found.append(_proposal(one, plug, side.reading.key, place))
    return tuple(found[:MOST_PROPOSALS])


def _with_first(proposal: Proposal, missing: list[str], work: LinkWork) -> Proposal:
    """Say what comes before a reading whose link is still closed."""
    if not missing:
        return proposal
    if not work.hold_passed:
        first = Said("First: pass the hold point before a link opens.")
        return replace(proposal, first=first, first_hold=work.hold)
    first = Said("First: open the link after {name} and tick it.", {"name": missing[0]})
    place = qualifier_of(after=missing[0])
    return replace(proposal, first=first, first_item=work.link, first_qualifier=place)


def open_proposals(record: Record, searched: Searched, work: LinkWork) -> tuple[Proposal, ...]:
    """Propose readings at any pole, and what has to be opened before.

    Parameters
    ----------
    record : Record
        The job as it stands.
    searched : Searched
        What the readings say so far, its proposals bounded by what the step allows.
    work : LinkWork
        Items and hold point of the links.

    Returns
    -------
    tuple[Proposal, ...]
        The most telling first.
    """
    if record.pack is None:
        return ()
    plug, found = plug_links(record.pack), list[Proposal]()
    if searched.named and not work.hold_passed:
        found.append(hold_proposal(searched.named, work))
    for one in _fresh(searched)[:MOST_PROPOSALS]:
        further = [name for name in one.open_after if name not in plug]
        place = qualifier_of(
            module=one.module,
            open="+".join(further) or ALONE,
            pole=one.pole,
            shunt="none" if one.shunt_ohm is None else "fitted",
        )
        missing = [name for name in further if name not in work.opened]
        proposal = replace(_proposal(one, plug, work.reading, place), chosen=True)
        found.append(_with_first(proposal, missing, work))
    return tuple(found[:MOST_PROPOSALS])


def two_leaks_said(searched: Searched) -> tuple[Said, ...]:
    """Say plainly that two leaks are suspected; empty where they are not."""
    result = searched.result
    if result is None or result.inconsistent or result.several_leaks_probability < SEVERAL_FROM:
        return ()
    text = (
        "Two leaks are suspected ({percent} %). Two in one section read like one between them: "
        "open another link before a module is named."
    )
    return (Said(text, {"percent": f"{100 * result.several_leaks_probability:.0f}"}),)


_UNFIT = {
    (False, True): "This reading fits no leak that explains the others. It would fit if {guess}.",
    (False, False): "This reading fits no leak that explains the others. Take it again.",
    (True, True): "This reading fits no leak at any place of the string. It would fit if {guess}.",
    (True, False): "This reading fits no leak at any place of the string. Take it again.",
}
"""By whether it is the only reading, and whether one mistake makes it fit."""


def _twins(one: Reading, shunt_ohm: float | None) -> Iterable[tuple[str, Reading]]:
    """Give what a reading would be, had one thing about it been mistaken."""
    other = "neg" if one.pole == "pos" else "pos"
    yield "the sign is turned round", replace(one, volts=-one.volts)
    twin = replace(one, pole="neg" if one.pole == "pos" else "pos")
    yield told("it was taken at the {pole} pole", pole=_POLE_WORDS[other]), twin
    if one.shunt_ohm is not None:
        yield "the shunt was not fitted", replace(one, shunt_ohm=None)
    elif shunt_ohm is not None:
        yield "the shunt was still fitted", replace(one, shunt_ohm=shunt_ohm)
    for factor, words in ((0.1, "one place to the right"), (10.0, "one place to the left")):
        yield (
            told("the decimal point is {words}", words=words),
            replace(one, volts=one.volts * factor),
        )


def suspects_of(record: Record, side: PackSide, searched: Searched) -> tuple[Suspect, ...]:
    """Point at the reading that no leak explains, with what was probably wrong.

    Parameters
    ----------
    record : Record
        The job as it stands.
    side : PackSide
        Whose meter, shunt and string voltage were used.
    searched : Searched
        What the readings say.

    Returns
    -------
    tuple[Suspect, ...]
        At most one; each mistake named is one that would make the readings fit.
    """
    result = searched.result
    if result is None or not result.inconsistent or result.suspect_reading is None:
        return ()
    used = [one for one in searched.taken if one.known]
    index = result.suspect_reading
    suspect, shunt = used[index], record.get(side.shunt)
    shunt_ohm = None if shunt is None else shunt.number("ohm") or None
    fits = []
    for words, twin in _twins(suspect.reading, shunt_ohm):
        tried = [*used[:index], replace(suspect, reading=twin), *used[index + 1 :]]
        if explains(record, side, [one.reading for one in tried]):
            fits.append(words)
    guess = joined(fits[:2], "{first} or {second}") if fits else ""
    said = Said(
        _UNFIT[len(used) == 1, bool(guess)], {"guess": guess, "reading": reading_in_words(suspect)}
    )
    return (Suspect(item=suspect.key, qualifier=suspect.qualifier, text=said),)


def _cells(pack: PackDefinition, reading: Reading) -> float:
    own = pack.module_named(reading.module).cells if reading.pole == "pos" else 0
    return float(pack.cells_before(reading.module) + own)


def _rings(pack: PackDefinition, taken: Iterable[Taken]) -> tuple[PoleRing, ...]:
    """Give the poles that were read without shunt, each with its latest voltage."""
    last: dict[tuple[str, str], PoleRing] = {}
    for one in taken:
        if one.known and one.reading.shunt_ohm is None:
            name = f"{one.reading.module} {_POLE_WORDS[one.reading.pole]}"
            cells = _cells(pack, one.reading)
            side = -1 if one.reading.pole == "pos" else 1
            ring = PoleRing(cells=cells, volts=one.reading.volts, name=name, side=side)
            last[one.reading.module, one.reading.pole] = ring
    return tuple(last.values())


def leak_pictures(record: Record, side: PackSide, searched: Searched) -> tuple[Picture, ...]:
    """Draw where the leak is likely: the map of the modules, and the string with its readings.

    Parameters
    ----------
    record : Record
        The job as it stands.
    side : PackSide
        Whose string voltage was read.
    searched : Searched
        What the readings say.

    Returns
    -------
    tuple[Picture, ...]
        Empty while nothing was found; the string alone where the readings contradict each other.
    """
    pack, result = record.pack, searched.result
    if pack is None or result is None:
        return ()
    shares = {one.name: one.probability for one in result.modules if one.probability >= SHOWN_SHARE}
    bars = () if result.inconsistent or result.verdict == "no_leak" else tuple(
        LeakBar(cells=one.position_cells, low_cells=one.position_cells_low,
                high_cells=one.position_cells_high)
        for one in result.leaks
    )  # fmt: skip
    known = [one for one in searched.taken if one.known]
    links = known[-1].reading.open_after if known else ()
    line = string_line(
        pack, rings=_rings(pack, known), leaks=bars, links=links, string_v=record.get(side.string_v)
    )
    if result.inconsistent or result.verdict == "no_leak":
        return (line,)
    return (pack_map(pack, shares=shares, title=word("Where the leak is likely")), line)
