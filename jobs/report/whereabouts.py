"""Where the modules that were taken out are, as the quarantine watch knows it."""

from django.utils.translation import gettext

from jobs.core.record import Record
from jobs.queries.quarantine import WatchInfo, watches_of
from jobs.queries.records import JobInfo
from jobs.report.wording import Wording
from workshop import figures_text

__all__ = ["whereabouts"]


def _ended(how: str) -> str:
    """Say how a watch ended."""
    words = {
        "kept": gettext("watched and kept: {place}"),
        "disposal": gettext("given to disposal: {to}"),
        "returned": gettext("returned: {to}"),
        "handed_over": gettext("handed over: {to}"),
    }
    return words.get(how, gettext("no longer in quarantine: {to}"))


def _where(watch: WatchInfo, words: Wording) -> str:
    if watch.ended_at is not None:
        said = _ended(watch.ended_how).format(
            to=watch.ended_to or gettext("to whom was not noted"), place=watch.place
        )
        at = figures_text.day(watch.ended_at.astimezone(words.zone).date())
    else:
        said = gettext("in quarantine, watched: {place}").format(
            place=watch.place or gettext("the place was not noted")
        )
        at = figures_text.day(watch.started_at.astimezone(words.zone).date())
    text = gettext("Module {module}, serial {serial}: {where}, since {day}.")
    serial = watch.serial or gettext("not noted")
    return text.format(module=watch.module, serial=serial, where=said, day=at)


def whereabouts(job: JobInfo, record: Record, words: Wording) -> tuple[str, ...]:
    """Say of each module that was taken out where it is now.

    Parameters
    ----------
    job : JobInfo
        The job.
    record : Record
        Its record as of now.
    words : Wording
        Its words.

    Returns
    -------
    tuple[str, ...]
        One sentence a module; empty where none was put under watch.
    """
    found = watches_of(job.id, record.now)
    return tuple(_where(each, words) for each in found if not each.struck)
