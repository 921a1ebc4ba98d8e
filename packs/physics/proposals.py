"""Which reading to take next: the ones expected to tell most about which modules leak.

Here: what could be read, and how many bits each reading is expected to give. Not here: what a step
allows (it bounds the proposals through `reachable` and `openable`) and the posterior itself.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from packs.physics.circuit import load_resistance
from packs.physics.evidence import Evidence
from packs.physics.localise_case import POLES, LocaliseCase, NextReading, Place, Pole
from packs.physics.localise_doubt import DOUBTFUL, Doubt
from packs.physics.localise_mistakes import SHUNT_OHM
from packs.physics.localise_points import Points
from packs.physics.string_frame import Floats, Ints, StringFrame
from packs.words import told

_REPEAT = "Nothing new can be read with the poles and links at hand; a repeat steadies the rest."
_MOST_PROPOSALS = 6
_MOST_SETS = 40
_SAMPLES = 120


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A reading that could be taken; confirming is 2 at a named module, 1 at its neighbours."""

    place: Place
    open_after: tuple[str, ...]
    shunt_ohm: float | None
    confirms: int
    repeats: bool


@dataclass(frozen=True, slots=True)
class _Samples:
    """A few explanations that stand for all, with exact places, set by set of modules."""

    modules: Ints
    g: Floats
    potential_v: Floats
    sound: Floats
    weight: Floats
    starts: Ints


def next_readings(
    case: LocaliseCase,
    frame: StringFrame,
    left: Points,
    evidence: Evidence,
    *,
    named: bool,
    doubt: Doubt,
) -> tuple[NextReading, ...]:
    """Return the readings worth taking next, the most telling first.

    Parameters
    ----------
    case : LocaliseCase
        The input; its last reading tells which links are open now.
    frame : StringFrame
        The modules.
    left : Points
        The posterior.
    evidence : Evidence
        The posterior, summed up.
    named : bool
        Whether modules are named and wait for confirmation: then the readings with the links
        beside them open come first.
    doubt : Doubt
        How likely a reading is wrong; a doubtful one is to be repeated before all else.

    Returns
    -------
    readings : tuple of NextReading
        At most six, with the expected gain, [bit]

    Notes
    -----
    The gain is the mutual information of the reading and the set of leaking modules: the entropy
    now less the expected entropy after it. Points are drawn at fixed places, so the result
    does not depend on chance.
    """
    candidates = list(_candidates(case, frame, evidence, named=named))
    fresh = [each for each in candidates if not each.repeats]
    candidates = fresh or candidates
    if not candidates or not left.weight.sum() > 0.0:
        return tuple(_proposal(each, 0.0, frame, evidence) for each in candidates[:1])
    samples = _samples(left, len(frame.names))
    gains = [round(_gain_bits(case, frame, samples, each), 3) for each in candidates]
    order = sorted(
        range(len(candidates)),
        key=lambda index: (-gains[index], -candidates[index].confirms, index),
    )
    confirming = [index for index in order if candidates[index].confirms]
    best = list(dict.fromkeys([*confirming[:1], *order]))[:_MOST_PROPOSALS]
    best.sort(key=order.index)
    found = [_proposal(candidates[index], gains[index], frame, evidence) for index in best]
    return (*_again(case, doubt, found[0].gain_bits), *found)[:_MOST_PROPOSALS]


def _again(case: LocaliseCase, doubt: Doubt, gain_bits: float) -> tuple[NextReading, ...]:
    """Propose to repeat a doubtful reading, before everything else, unless that was done."""
    suspect = doubt.likeliest()
    if suspect is None or doubt.probability < DOUBTFUL:
        return ()
    reading = case.readings[suspect.reading]
    place = Place(module=reading.module, pole=reading.pole)
    now = case.readings[-1].open_after
    allowed = set(reading.open_after) if case.openable is None else {*case.openable, *now}
    same = [each for each in case.readings if replace(each, volts=reading.volts) == reading]
    if len(same) > 1:
        return ()
    if not _reachable(case, [place]) or not allowed.issuperset(reading.open_after):
        return ()
    share = np.array([[doubt.probability, 1.0 - doubt.probability]])
    return (
        NextReading(
            module=reading.module,
            pole=reading.pole,
            open_after=reading.open_after,
            shunt_ohm=reading.shunt_ohm,
            gain_bits=max(gain_bits, round(float(_bits(share)[0]), 3)),
            why=told(
                "Take this one again: {volts_v:g} V does not go well with the others.",
                volts_v=reading.volts,
            ),
        ),
    )


def _candidates(
    case: LocaliseCase, frame: StringFrame, evidence: Evidence, *, named: bool
) -> Iterator[_Candidate]:
    """List what could be read now, each once, and whether it has been read already."""
    taken = {
        (frame.node(each), frame.section(each, each.open_after), each.shunt_ohm is not None)
        for each in case.readings
    }
    listed = set()
    shunts = [each.shunt_ohm for each in case.readings if each.shunt_ohm is not None]
    shunt_ohm = shunts[-1] if shunts else SHUNT_OHM
    for place, open_after, confirms in _spots(case, frame, evidence, named=named):
        for shunt in (None, shunt_ohm):
            key = (frame.node(place), frame.section(place, open_after), shunt is not None)
            if key not in listed:
                listed.add(key)
                yield _Candidate(place, open_after, shunt, confirms, key in taken)


def _spots(
    case: LocaliseCase, frame: StringFrame, evidence: Evidence, *, named: bool
) -> Iterator[tuple[Place, tuple[str, ...], int]]:
    """List poles with the links that would be open, confirming ones first."""
    now = case.readings[-1].open_after
    links = frame.names[:-1]
    openable = set(links if case.openable is None else case.openable) | set(now)
    for module in evidence.found() if named else ():
        beside = _beside(frame, module)
        if openable.issuperset(beside):
            for place in _reachable(case, _around(frame, module)):
                own = place.module == frame.names[module]
                yield place, _in_order(frame, (*now, *beside)), 2 if own else 1
    for place in _reachable(case, _poles(frame.names)):
        yield place, now, 0
    for index, link in enumerate(links):
        if link in openable:
            above = Place(module=frame.names[index + 1], pole="neg")
            for place in _reachable(case, [Place(module=link, pole="pos"), above]):
                yield place, _in_order(frame, (*now, link)), 0


def _poles(names: tuple[str, ...]) -> list[Place]:
    """List both poles of every module."""
    return [Place(module=name, pole=pole) for name in names for pole in POLES]


def _beside(frame: StringFrame, module: int) -> tuple[str, ...]:
    """Links on both sides of a module; the string's ends have none."""
    below = frame.names[module - 1 : module] if module else ()
    above = frame.names[module : module + 1] if module < len(frame.names) - 1 else ()
    return (*below, *above)


def _around(frame: StringFrame, module: int) -> list[Place]:
    """Poles of a module and the poles facing it."""
    poles: list[tuple[int, Pole]] = [(module, "pos"), (module, "neg")]
    if module > 0:
        poles.append((module - 1, "pos"))
    if module < len(frame.names) - 1:
        poles.append((module + 1, "neg"))
    return [Place(module=frame.names[index], pole=pole) for index, pole in poles]


def _reachable(case: LocaliseCase, places: list[Place]) -> list[Place]:
    """Keep the poles a lead can be put on."""
    if case.reachable is None:
        return places
    return [place for place in places if place in case.reachable]


def _in_order(frame: StringFrame, links: tuple[str, ...]) -> tuple[str, ...]:
    """Name each link once, in series order."""
    return tuple(name for name in frame.names if name in links)


def _samples(left: Points, count: int) -> _Samples:
    """Draw explanations at fixed places: every likely set of modules gets some."""
    key = left.first * (count + 1) + left.second
    _, label = np.unique(key, return_inverse=True)
    mass = np.bincount(label, weights=left.weight)
    share = mass / mass.sum()
    rows, weights = [], []
    for each in np.argsort(-share, kind="stable")[:_MOST_SETS]:
        members = np.flatnonzero(label == each)
        size = int(np.clip(round(_SAMPLES * share[each]), 2, _SAMPLES))
        marks = (np.arange(size) + 0.5) / size
        reached = np.cumsum(left.weight[members]) / mass[each]
        rows.append(members[np.minimum(np.searchsorted(reached, marks), len(members) - 1)])
        weights.append(np.full(size, share[each] / size))
    some = left.where(np.concatenate(rows))
    weight = np.concatenate(weights)
    return _Samples(
        modules=np.stack([some.first, some.second], axis=1),
        g=np.stack([np.where(some.first >= 0, some.first_g, 0.0), some.second_g], axis=1),
        potential_v=np.stack([some.first_at_v, some.second_at_v], axis=1),
        sound=some.sound,
        weight=weight / weight.sum(),
        starts=np.cumsum([0, *(len(each) for each in rows[:-1])]),
    )


def _gain_bits(
    case: LocaliseCase, frame: StringFrame, samples: _Samples, candidate: _Candidate
) -> float:
    """Return the expected drop in the entropy of the set of leaking modules."""
    shown_v = _predicted(case, frame, samples, candidate)
    least_v = case.meter.half_width_v(0.0)
    half_v = least_v + (case.meter.half_width_v(1.0) - least_v) * np.abs(shown_v)
    apart = np.abs(shown_v[:, None] - shown_v[None, :]) / (2.0 * half_v[:, None])
    alike = np.maximum(0.0, 1.0 - apart) * samples.weight
    after = np.add.reduceat(alike, samples.starts, axis=1)
    after /= after.sum(axis=1, keepdims=True)
    before = np.add.reduceat(samples.weight, samples.starts)[None, :]
    return max(0.0, float(_bits(before)[0] - (samples.weight * _bits(after)).sum()))


def _predicted(
    case: LocaliseCase, frame: StringFrame, samples: _Samples, candidate: _Candidate
) -> Floats:
    """Return what the meter would show for each sample, by the section formula."""
    first, end = frame.section(candidate.place, candidate.open_after)
    node_v = frame.ends_v[frame.node(candidate.place)]
    load = 1.0 / load_resistance(case.meter.input_ohm, candidate.shunt_ohm)
    inside = (samples.modules >= first) & (samples.modules < end)
    g = np.where(inside, samples.g, 0.0)
    cells = frame.ends_cells[[first, end]]
    sound = samples.sound * float(cells[1] - cells[0]) / float(frame.ends_cells[-1])
    middle_v = 0.5 * float(frame.cells_v[cells].sum())
    current = (g * (node_v - samples.potential_v)).sum(axis=1) + sound * (node_v - middle_v)
    return np.asarray(current / (g.sum(axis=1) + sound + load))


def _bits(share: Floats) -> Floats:
    """Entropy of each row."""
    return np.asarray(-(share * np.log2(np.maximum(share, 1.0e-300))).sum(axis=1))


def _proposal(
    candidate: _Candidate, gain_bits: float, frame: StringFrame, evidence: Evidence
) -> NextReading:
    """Put a candidate into the interface's words."""
    return NextReading(
        module=candidate.place.module,
        pole=candidate.place.pole,
        open_after=candidate.open_after,
        shunt_ohm=candidate.shunt_ohm,
        gain_bits=gain_bits,
        why=_REPEAT if candidate.repeats else _why(candidate, frame, evidence),
    )


def _why(candidate: _Candidate, frame: StringFrame, evidence: Evidence) -> str:
    """Say what the reading tells."""
    first, end = frame.section(candidate.place, candidate.open_after)
    part = (
        frame.names[first]
        if end - first == 1
        else told("{module} to {last}", module=frame.names[first], last=frame.names[end - 1])
    )
    suspects = [frame.names[index] for index in evidence.likely()]
    inside = [name for name in suspects if name in frame.names[first:end]]
    if candidate.confirms and len(inside) == end - first == 1:
        return told(
            "With the links beside it open only {part} is left in this section: a "
            "standing voltage here confirms the leak, none clears the module.",
            part=part,
        )
    if candidate.confirms:
        return told(
            "With the links beside the suspect open, {part} must read as sound insulation does.",
            part=part,
        )
    if candidate.shunt_ohm is not None:
        return told(
            "With the shunt, a hard leak far away in {part} differs from a soft one nearby.",
            part=part,
        )
    if inside and len(inside) < len(suspects):
        return told(
            "This section ({part}) holds {inside} but no other suspect.",
            part=part,
            inside=_listed(inside),
        )
    if not inside:
        return told("This section ({part}) should be sound if the suspects are right.", part=part)
    return told(
        "A second place in {part}: it shows a leak that is hidden at the pole read so far.",
        part=part,
    )


def _listed(names: list[str]) -> str:
    """Join names for a sentence."""
    commas = ", ".join(names[:-1])
    return (
        names[0]
        if len(names) == 1
        else told("{first} and {second}", first=commas, second=names[-1])
    )
