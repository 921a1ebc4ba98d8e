"""Colours can be told apart, by day and in the dark: 4.5 to 1 for words, 3 to 1 for shapes."""

import re
from collections.abc import Iterator

import pytest

from tests.house.sources import ROOT

TOKENS = ROOT / "static" / "css" / "tokens.css"
TOKEN = re.compile(r"--([\w-]+):\s*(#[0-9a-f]{6})")
WORDS = (
    *((ink, ground) for ink in ("ink", "soft", "petrol", "no") for ground in ("paper", "sheet")),
    *((ink, ground) for ink in ("ink", "hv-words") for ground in ("hv-weak", "hv-hatch")),
    *((ink, "sheet") for ink in ("ok", "maybe", "hv-words")),
    *((ink, "petrol-weak") for ink in ("ink", "soft", "petrol", "no")),
    ("on-petrol", "petrol"),
    ("on-bar", "bar"),
    ("on-bar-soft", "bar"),
)
SHAPES = (
    *((mark, ground) for mark in ("ok", "no", "maybe") for ground in ("paper", "sheet")),
    ("hv", "sheet"),
    ("petrol", "sheet"),
    ("soft", "sheet"),
)


def schemes() -> dict[str, dict[str, str]]:
    light, _, dark = TOKENS.read_text(encoding="utf-8").partition("@media")
    by_day = dict(TOKEN.findall(light))
    return {"light": by_day, "dark": {**by_day, **dict(TOKEN.findall(dark))}}


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    shares = (int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5))
    linear = (s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares)
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one: str, other: str) -> float:
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def faint(pairs: tuple[tuple[str, str], ...], least: float) -> Iterator[str]:
    for scheme, tokens in schemes().items():
        for ink, ground in pairs:
            found = contrast(tokens[ink], tokens[ground])
            if found < least:
                yield f"{scheme}: {ink} on {ground} {found:.2f}"


@pytest.mark.parametrize(("pairs", "least"), [(WORDS, 4.5), (SHAPES, 3.0)], ids=["words", "shapes"])
def test_what_is_said_and_drawn_stands_out(
    pairs: tuple[tuple[str, str], ...], least: float
) -> None:
    assert list(faint(pairs, least)) == []


def test_black_on_white_is_the_most_there_is() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
