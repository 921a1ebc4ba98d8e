"""Signatures of invented customers, as a pen would draw them."""

import math

from jobs.core.drawn import HEIGHT, WIDTH
from jobs.core.entry import Json

__all__ = ["signature_of"]

POINTS = 90


def signature_of(name: str) -> Json:
    """Draw a signature; the same name always gives the same lines.

    Examples
    --------
    >>> signature_of("E. Sand")["name"]
    'E. Sand'
    """
    letters = [ord(letter) for letter in name] or [65]
    stroke = []
    for step in range(POINTS):
        along = step / (POINTS - 1)
        letter = letters[int(along * (len(letters) - 1))]
        swing = 35 + letter % 60
        x = WIDTH * (0.08 + 0.8 * along) + 22 * math.cos(step * 0.9)
        y = HEIGHT * 0.55 - swing * math.sin(step * (0.45 + (letter % 5) / 12)) * (1 - along / 2)
        stroke.append([round(x), round(min(max(y, 0), HEIGHT))])
    under = [[round(WIDTH * 0.1), round(HEIGHT * 0.9)], [round(WIDTH * 0.85), round(HEIGHT * 0.84)]]
    return {"name": name, "strokes": [stroke, under]}
