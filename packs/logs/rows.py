"""The rows of a log on their way into order, and what was said about them.

Here: what every step of the mending works on. Not here: the steps (clock.py, steps_back.py).
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from packs.physics.cycle_case import Floats
from packs.physics.instrument import Message

Rows = npt.NDArray[np.int64]


@dataclass(slots=True)
class Clock:
    """Rows in their order, the seconds of each, and what has been said about them.

    Parameters
    ----------
    rows : ndarray
        Places of the rows in the table.
    seconds : ndarray
        One for each of them, [s]
    repairs, doubts : list of Message
        What was mended, and what could be otherwise.
    """

    rows: Rows
    seconds: Floats
    repairs: list[Message]
    doubts: list[Message]

    def keep(self, kept: npt.NDArray[np.bool_] | Rows) -> None:
        """Leave rows out or put them in order."""
        self.rows, self.seconds = self.rows[kept], self.seconds[kept]

    def said(self, code: str, text: str) -> None:
        """Say what was repaired."""
        self.repairs.append(Message(code, text))


def usual_step_s(seconds: Floats) -> float:
    """Return the median of the steps forward.

    Parameters
    ----------
    seconds : ndarray
        Times, [s]

    Returns
    -------
    step_s : float
        1 where there is none, [s]
    """
    steps = np.diff(seconds)
    steps = steps[steps > 0.0]
    return float(np.median(steps)) if steps.size else 1.0
