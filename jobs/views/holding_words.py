"""What holds a job, in words: a bold line, a soft line, times as they are said in a shop."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Final

from django.template.loader import render_to_string
from django.utils.dates import WEEKDAYS
from django.utils.safestring import SafeString
from django.utils.translation import gettext, ngettext

from jobs.core.reason import OUR_WORDS, Blocker, Param
from jobs.core.section import Said
from jobs.queries.holding import Holding
from jobs.queries.lists import OpenJob
from jobs.queries.today import UNANSWERED_DAYS
from jobs.report.wording import Wording
from jobs.steps import STEPS
from jobs.views.desk_words import where_words
from packs.words import Told
from workshop import figures_text

__all__ = [
    "HAZARDS",
    "WAIT_TITLES",
    "ListRow",
    "list_rows",
    "on_day",
    "sentence",
    "summary_of",
    "when",
]

HAZARDS: Final = {
    "danger": "Danger not released",
    "pack_open": "Pack open: live parts cannot be switched off",
    "overnight": "Lid off overnight",
    "lapsed": "Proof has lapsed",
    "not_proven": "High voltage not proven dead",
    "quarantine": "Quarantine check overdue",
}
"""Words of each hazard."""

WAIT_TITLES: Final = {
    "danger": "a danger to be released",
    "customer": "the customer",
    "arrival": "arrival",
    "cure": "a cure time",
    "waiting_time": "a waiting time",
    "reading_24h": "a 24 h reading",
    "rest": "a spare at rest",
    "equipment": "equipment",
    "person": "a second or qualified person",
    "proof": "a new proof",
    "verdict": "a better result",
    "manager": "a manager's decision",
    "collection": "collection",
}
"""What a job waits for, as it follows the word "for"."""

STATES: Final = {
    "done": "done",
    "open": "open",
    "not_needed": "not needed",
    "reopened": "re-opened",
    "waiting": "not yet",
}
"""Words of each state of a step."""

Square = tuple[str, str, str, str]
"""State, number, title, state in words."""

DAYS_NAMED: Final = 7
"""Days ahead, or behind, that are named by their weekday."""


@dataclass(frozen=True, slots=True)
class ListRow:
    """One job of a list, in words.

    Attributes
    ----------
    row : OpenJob
        The job.
    holds, fact : str
        The bold and the soft line.
    hazards : tuple[str, ...]
        What is dangerous about it.
    since, promised : str
        How long it holds, and the promised day.
    arrives : str
        The day on which it is to arrive.
    where : str
        Where vehicle and keys are, in a few words.
    who : str
        Whose job it is; empty for nobody's.
    unanswered : bool
        Whether the customer was asked days ago and did not answer.
    strip : str
        The strip of its steps, as HTML.
    """

    row: OpenJob
    holds: str
    fact: str
    hazards: tuple[str, ...]
    since: str
    promised: str
    arrives: str
    where: str = ""
    who: str = ""
    unanswered: bool = False
    strip: str = ""


def on_day(day: date | None, today: date) -> str:
    """Say a day as it is said in the shop: today, tomorrow, by its name within the week.

    Parameters
    ----------
    day : date | None
        The day; a dash is written where there is none.
    today : date
        The workshop's day.

    Returns
    -------
    str
        The day in words.
    """
    if day is None:
        return figures_text.NONE
    near = {-1: gettext("yesterday"), 0: gettext("today"), 1: gettext("tomorrow")}
    away = (day - today).days
    if 1 < abs(away) < DAYS_NAMED and away > 0:
        return str(WEEKDAYS[day.weekday()])
    return near.get(away, figures_text.day(day))


def when(moment: datetime, now: datetime, words: Wording) -> str:
    """Say a time: bare on the same day, with its day on any other."""
    there, here = moment.astimezone(words.zone), now.astimezone(words.zone)
    if there.date() == here.date():
        return f"{there:%H:%M}"
    return f"{on_day(there.date(), here.date())} {there:%H:%M}"


def _field(name: str, value: Param, now: datetime, words: Wording) -> Param:
    """Write one field of a sentence."""
    if name.endswith("_at"):
        return when(datetime.fromisoformat(str(value)), now, words)
    if name.endswith("_on"):
        return on_day(date.fromisoformat(str(value)), now.astimezone(words.zone).date())
    if name.endswith("_money"):
        return words.money(value if isinstance(value, float | str) else float(value))
    if name.endswith("person"):
        return words.name(str(value))
    ours = isinstance(value, Told) or name in OUR_WORDS
    return words.told(value) if ours and isinstance(value, str) else value


def sentence(said: Said | Blocker, now: datetime, words: Wording) -> str:
    """Make a sentence with its times as they are said in the shop."""
    fields = {name: _field(name, value, now, words) for name, value in said.params.items()}
    return gettext(said.text).format(**fields)


def _split(sentence: str) -> tuple[str, str]:
    """Part the first sentence from what follows it."""
    first, _, rest = sentence.partition(". ")
    return first.removesuffix("."), rest.removesuffix(".")


def _lines(row: OpenJob, holding: Holding, now: datetime, words: Wording) -> tuple[str, str]:
    """Give the bold and the soft line."""
    bold, rest = _split(sentence(holding.said, now, words))
    which = words.qualifier(holding.which)
    bold = f"{bold} ({which})" if which and which not in bold else bold
    if holding.fact is not None:
        return bold, sentence(holding.fact, now, words)
    if row.behind is None:
        return bold, rest
    title, told = row.behind
    fact = sentence(told, now, words).removesuffix(".")
    return bold, rest or (f"{gettext(title)}: {fact}" if title else fact)


def _since(since: datetime | None, now: datetime) -> str:
    """Say how long something has stood, to the minute; a dash for what lies ahead."""
    if since is None or since > now:
        return figures_text.NONE
    minutes = max(1, int((now - since).total_seconds() // 60))
    return figures_text.duration(60 * minutes)


def _whose(row: OpenJob, words: Wording) -> str:
    """Say whose job it is."""
    return words.name(row.desk.assigned) if row.desk.assigned else ""


def _unanswered(row: OpenJob, now: datetime) -> bool:
    """Tell whether the customer has let a question stand for days."""
    since = None if row.holding is None else row.holding.since
    late = since is not None and now - since >= timedelta(days=UNANSWERED_DAYS)
    return late and row.waits_for == "customer"


@lru_cache(maxsize=512)
def _strip(squares: tuple[Square, ...]) -> SafeString:
    """Draw the strip of a job's steps: most jobs share theirs with others."""
    return render_to_string("jobs/strip.html", {"squares": squares})


def list_rows(rows: Iterable[OpenJob], now: datetime, words: Wording) -> tuple[ListRow, ...]:
    """Put jobs into words.

    Parameters
    ----------
    rows : Iterable[OpenJob]
        The jobs.
    now : datetime
        The server's time.
    words : Wording
        Names, zone, currency.

    Returns
    -------
    tuple[ListRow, ...]
        In the same order.
    """
    today, found = now.astimezone(words.zone).date(), []
    titles = {step.title: gettext(step.title) for step in STEPS}
    states = {state: gettext(title) for state, title in STATES.items()}
    for row in rows:
        held = row.holding
        bold, soft = ("", "") if held is None else _lines(row, held, now, words)
        found.append(
            ListRow(
                row,
                bold,
                soft,
                tuple(gettext(HAZARDS[each]) for each in row.hazards),
                _since(None if held is None else held.since, now),
                on_day(row.job.promised_on, today),
                on_day(row.job.arrives_on, today),
                where_words(row.desk, row.keys),
                _whose(row, words),
                _unanswered(row, now),
                _strip(
                    tuple(
                        (mark.state, str(mark.number), titles[mark.title], states[mark.state])
                        for mark in row.strip
                    )
                ),
            )
        )
    return tuple(found)


def counted(rows: Iterable[OpenJob]) -> Mapping[str, int]:
    """Count the jobs by what they wait for, the most first."""
    waiting = Counter(row.waits_for for row in rows)
    known = sorted(WAIT_TITLES, key=lambda each: -waiting[each])
    return {each: waiting[each] for each in known if waiting[each]}


def summary_of(rows: Iterable[OpenJob]) -> str:
    """Say how many are open and what they wait for.

    Parameters
    ----------
    rows : Iterable[OpenJob]
        Every open job.

    Returns
    -------
    str
        Such as "5 open. 2 wait for the customer, 1 for a cure time."
    """
    everything = tuple(rows)
    number = len(everything)
    told = [ngettext("{number} open.", "{number} open.", number).format(number=number)]
    waits = []
    for place, (code, count) in enumerate(counted(everything).items()):
        first = ngettext("{count} waits for {what}", "{count} wait for {what}", count)
        text = gettext("{count} for {what}") if place else first
        waits.append(text.format(count=count, what=gettext(WAIT_TITLES[code])))
    return " ".join([*told, *([", ".join(waits) + "."] if waits else [])])
