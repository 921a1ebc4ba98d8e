"""Each calculation of a job with the numbers put in, from what the record held when it was signed.

The steps are those of `packs.explanations`; what was asked is left by the assessments
(`jobs.core.asked`) or stands in the entry of a log.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from importlib import import_module
from typing import Any, Final

from django.utils.translation import gettext

from jobs.core.asked import Asked, noted
from jobs.core.log_entry import read_log_entry
from jobs.core.section import Said
from jobs.queries.logs import judged_again
from jobs.report.blocks import Block, Heading, Paragraph, Working, WorkingLine
from jobs.report.parts import Part
from jobs.report.wording import Wording
from jobs.steps.road_test.items import LOG
from packs.calculation_list import find
from packs.explanation import Line
from packs.words import translated

__all__ = ["in_signs", "working_blocks"]

SECTION = "packs.explanations.section:explained"
"""How a part of a string is explained, which is no calculation of its own."""


def _explained(name: str) -> Callable[[Any, Any], tuple[Line, ...]]:
    path = SECTION if name == "section" else find(name).routes[0].explanation
    module, _, function = path.partition(":")
    found: Callable[[Any, Any], tuple[Line, ...]] = getattr(import_module(module), function)
    return found


def _asked_in(part: Part) -> list[Asked]:
    """Assess a step anew, as a record of its own, and collect what it asks on the way."""
    with noted() as found:
        own = replace(part.shown.record)
        part.step.section(own, part.step.assess(own))
    return found


def _of_logs(part: Part) -> Iterator[Asked]:
    """Give the calculation behind each log that counts, where its file is still kept."""
    if part.step.slug != LOG.key.partition(".")[0]:
        return
    for given in part.shown.record.all(LOG):
        log = read_log_entry(given.entry.value)
        about = Said("Log {name}", {"name": log.name})
        try:
            yield Asked(name="cycle", about=about, given=log.asked, result=judged_again(log))
        except FileNotFoundError:
            continue


_SIGNS: Final = (
    (re.compile(r"(?<=\d )([GMkmu]?)ohm\b"), r"\1Ω"),
    (re.compile(r"\bu(?=[AFSVΩ]\b)"), "µ"),
    (re.compile(r"(?<=\d )degC\b"), "°C"),
    (re.compile(r"(?<=Pa m)3\b|(?<=\d m)3\b"), "³"),
    (re.compile(r"(?<=[\w)|%]) x (?=[\w(|])"), " × "),
)
"""What a calculation writes in plain letters, and the sign that stands for it on paper."""


def in_signs(text: str) -> str:
    """Write a step with the signs of its units.

    Examples
    --------
    >>> in_signs("36.9 uohm x (250 A)^2")
    '36.9 µΩ × (250 A)^2'
    """
    for plain, sign in _SIGNS:
        text = plain.sub(sign, text)
    return text


def _line(line: Line) -> WorkingLine:
    what, formula, numbers, value = (
        in_signs(translated(each, gettext))
        for each in (line.what, line.formula, line.numbers, line.value)
    )
    return WorkingLine(what, formula, numbers, value)


def working_blocks(parts: dict[str, Part], words: Wording) -> Iterator[Block]:
    """Give every calculation of a job, step by step of its work.

    Parameters
    ----------
    parts : dict[str, Part]
        The steps of a job as they were signed.
    words : Wording
        Its words.

    Yields
    ------
    Block
        A heading and the steps of each; nothing where nothing was asked.
    """
    shown = list[Asked]()
    yield Heading(gettext("Calculations, with the numbers put in"))
    yield Paragraph(
        gettext(
            "Plain formulas on the readings of this record, as they stood when the step was "
            "signed, under the limits it was signed with. Ranges are 95 % intervals."
        ),
        soft=True,
    )
    for part in parts.values():
        begun = False
        for asked in (*_asked_in(part), *_of_logs(part)):
            if any((each.name, each.given) == (asked.name, asked.given) for each in shown):
                continue
            shown.append(asked)
            lines = tuple(map(_line, _explained(asked.name)(asked.given, asked.result)))
            if lines and not begun:
                begun = True
                yield Heading(gettext(part.step.title), 3)
            if lines:
                yield Heading(words.said(asked.about), 4)
                yield Working(lines)
    if not shown:
        yield Paragraph(gettext("Nothing was calculated in this job so far."))
