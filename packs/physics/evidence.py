"""What a posterior over leaks says: module by module, leak by leak.

Here: probabilities, the smallest likely set, intervals of size and place, and whether a leak could
hide. Not here: the verdict and its words (localise.py) and the posterior itself (posterior.py).
"""

from dataclasses import dataclass, replace

import numpy as np

from packs.physics.localise_case import Leak
from packs.physics.localise_points import Points
from packs.physics.string_frame import Bools, Floats, Ints, StringFrame

LIKELY = 0.95
"""Share that a set of modules must hold to be called likely, and a module to be named."""
HIDDEN_OHM = 1.0e6
"""A leak harder than this must have no place to hide before a pack is called sound, [ohm]."""
_EVENS = 0.5
_NO_G = 1.0e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """The posterior, summed up.

    Parameters
    ----------
    none : float
        Probability that nothing leaks, [-]
    several : float
        Probability of two leaks, given at least one, [-]
    modules : ndarray
        Probability of each module, given at least one leak, [-]
    pairs : ndarray
        Probability of each pair of modules, upper triangle; the diagonal is one module alone, [-]
    hides : bool
        A leak harder than `HIDDEN_OHM` fits the readings somewhere.
    """

    none: float
    several: float
    modules: Floats
    pairs: Floats
    hides: bool

    def ranked(self) -> Ints:
        """Return the modules, likeliest first.

        Returns
        -------
        order : ndarray
            Module numbers; equals stay in series order, [-]
        """
        return np.argsort(-self.modules, kind="stable")

    def likely(self) -> tuple[int, ...]:
        """Return the smallest set of likeliest modules that holds every leak with 95 %.

        Returns
        -------
        likely : tuple of int
            Module numbers, likeliest first, [-]
        """
        order = self.ranked()
        rank = np.empty(len(order), dtype=np.int64)
        rank[order] = np.arange(len(order))
        needed = np.maximum(rank[:, None], rank[None, :])
        held = np.cumsum(np.bincount(needed.ravel(), self.pairs.ravel()))
        size = int(np.argmax(held >= LIKELY)) + 1
        return tuple(int(module) for module in order[:size])

    def is_pair(self) -> bool:
        """Return whether two leaks are likelier than one.

        Returns
        -------
        pair : bool
            The likeliest explanation has two leaks.
        """
        return self.several >= _EVENS

    def found(self) -> tuple[int, ...]:
        """Return the modules of the likeliest explanation: one, or a pair when two are likelier.

        Returns
        -------
        found : tuple of int
            Module numbers in series order, [-]
        """
        if not self.is_pair():
            return (int(self.ranked()[0]),)
        first, second = np.unravel_index(int(self.pairs.argmax()), self.pairs.shape)
        return (int(first),) if first == second else (int(first), int(second))

    def names_them(self) -> bool:
        """Return whether every module of the likeliest explanation is sure enough to be named.

        Returns
        -------
        named : bool
            Each reaches 95 % and sound insulation explains the readings with less than 5 %.
        """
        sure = all(self.modules[module] >= LIKELY for module in self.found())
        return sure and self.none < 1.0 - LIKELY


def evidence_of(frame: StringFrame, left: Points) -> Evidence:
    """Return a posterior summed up module by module.

    Parameters
    ----------
    frame : StringFrame
        The modules.
    left : Points
        The posterior; without any explanation the prior weights stand.

    Returns
    -------
    evidence : Evidence
        Probabilities and whether a leak may hide, [-]

    Notes
    -----
    Sums of weights over the explanations in which a module leaks. A leak may hide when any
    explanation left has one harder than 1 megohm (shop default, no source).
    """
    count = len(frame.names)
    leaky = left.first >= 0
    weight = left.weight[leaky]
    total, leaking = float(left.weight.sum()), float(weight.sum())
    if leaking == 0.0:
        none = 1.0 if total > 0.0 else 0.0
        pairs = np.diag(frame.weights)
        return Evidence(none=none, several=0.0, modules=frame.weights, pairs=pairs, hides=False)
    first, second = left.first[leaky], left.second[leaky]
    paired = second >= 0
    pairs = np.zeros((count, count))
    np.add.at(pairs, (first, np.where(paired, second, first)), weight / leaking)
    hardest = np.maximum(left.first_g[leaky], left.second_g[leaky])
    return Evidence(
        none=1.0 - leaking / total,
        several=float(weight[paired].sum()) / leaking,
        modules=np.minimum(1.0, pairs.sum(axis=0) + pairs.sum(axis=1) - np.diag(pairs)),
        pairs=pairs,
        hides=bool((hardest > 1.0 / HIDDEN_OHM).any()),
    )


def hardest_leak(frame: StringFrame, left: Points) -> Leak | None:
    """Return size and place of the most conductive leak over all explanations.

    Parameters
    ----------
    frame : StringFrame
        The modules.
    left : Points
        The posterior.

    Returns
    -------
    leak : Leak or None
        Medians and 95 % intervals; None when no explanation has a leak, [ohm], [-]

    Notes
    -----
    Weighted 2.5 %, 50 % and 97.5 % quantiles.
    """
    leaky = left.where(left.first >= 0)
    return _leak(frame, leaky, of_first=leaky.first_g >= leaky.second_g)


def leaks_found(
    frame: StringFrame, left: Points, found: tuple[int, ...], *, several: bool
) -> tuple[Leak, ...]:
    """Return each leak of the likeliest explanation.

    Parameters
    ----------
    frame : StringFrame
        The modules.
    left : Points
        The posterior.
    found : tuple of int
        The modules of the likeliest explanation, in series order, [-]
    several : bool
        Whether that explanation has two leaks.

    Returns
    -------
    leaks : tuple of Leak
        With intervals given these modules, most conductive first, [ohm], [-]

    Notes
    -----
    The quantiles of `hardest_leak`, over the explanations with exactly these modules.
    """
    chosen = left.where((left.first == found[0]) & (left.second == (found[-1] if several else -1)))
    every = np.ones(len(chosen.first), dtype=np.bool_)
    leaks = []
    for module, of_first in ((found[0], every), (found[-1], ~every))[: 2 if several else 1]:
        leak = _leak(frame, chosen, of_first=of_first)
        if leak is not None:
            leaks.append(replace(leak, module=frame.names[module]))
    return tuple(sorted(leaks, key=lambda leak: leak.leak_ohm))


def _leak(frame: StringFrame, some: Points, *, of_first: Bools) -> Leak | None:
    """Medians and intervals of one leak an explanation."""
    if not some.weight.sum() > 0.0:
        return None
    log_ohm = -np.log(np.where(of_first, some.first_g, np.maximum(some.second_g, _NO_G)))
    at_v = np.where(of_first, some.first_at_v, some.second_at_v)
    log_ohm = _quantiles(log_ohm, some.weight)
    cells = frame.position_cells(_quantiles(at_v, some.weight))
    module = int(np.searchsorted(frame.ends_cells, cells[1], side="right")) - 1
    return Leak(
        module=frame.names[min(module, len(frame.names) - 1)],
        leak_ohm=float(np.exp(log_ohm[1])),
        leak_ohm_low=float(np.exp(log_ohm[0])),
        leak_ohm_high=float(np.exp(log_ohm[2])),
        position_cells=float(cells[1]),
        position_cells_low=float(cells[0]),
        position_cells_high=float(cells[2]),
    )


def _quantiles(values: Floats, weight: Floats) -> Floats:
    """2.5 %, 50 % and 97.5 % of weighted values."""
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weight[order])
    middles = (reached - 0.5 * weight[order]) / reached[-1]
    return np.interp((0.025, 0.5, 0.975), middles, values[order])
