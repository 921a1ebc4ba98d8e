"""The demonstration: one job from booking to hand-over, with everything that goes wrong on the way.

Runs on a database of its own. Not here: making that database (`manage.py demo`).
"""

import time
import uuid
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from jobs.core.entry import Kind
from jobs.practice.mishaps import MISHAPS
from jobs.practice.player import book_in, play
from jobs.practice.scenario import recipe, scenario
from jobs.practice.scene import Scene, Stuck
from jobs.practice.shop import open_shop
from jobs.practice.teller import Told
from jobs.queries.records import job_info
from jobs.queries.verify import verify_job, verify_triggers
from jobs.report.document import report_of
from jobs.report.pdf import render_pdf
from workshop import clock as shop_clock

__all__ = ["tour"]

RECIPE: Final = "van-coolant"
DAYS_BACK: Final = 2
"""The job takes two days; it is played so that it ends before now."""
OPENS_AT_H: Final = 7.5

Write = Callable[[str], object]
Mishaps = Mapping[str, Callable[[Scene], None]]


def _morning() -> datetime:
    """Give the morning on which the van is booked in."""
    midnight = shop_clock.now().replace(hour=0, minute=0, second=0, microsecond=0)
    return midnight - timedelta(days=DAYS_BACK) + timedelta(hours=OPENS_AT_H)


def _play(scene: Scene, told: Told, write: Write) -> bool:
    info = job_info(scene.job)
    if info is not None:
        write(f"Job {info.number}: {info.title}, {info.plate}, for {info.customer.name}")
        write(f"Hidden from everybody in it: {scene.recipe.title}.")
    try:
        play(scene)
    except Stuck as stuck:
        write("")
        write(f"The job stands still. {stuck}")
        return False
    left = ", ".join(scene.mishaps)
    if left:
        write(f"These mishaps never came to be tried: {left}.")
    return not left and scene.record().closed is not None and told.counts["close applied"] == 1


def _reported(scene: Scene, file: Path, write: Write) -> bool:
    info = job_info(scene.job)
    if info is None:
        raise Stuck(f"There is no job {scene.job}")
    content = render_pdf(report_of(info, scene.record()))
    try:
        file.write_bytes(content)
    except OSError as fault:
        write(f"Report     {file} cannot be written: {fault.strerror}.")
        return False
    write(f"Report     {file} ({len(content) // 1024} kB)")
    return True


def _verified(scene: Scene, write: Write) -> bool:
    faults = (*verify_triggers(), *verify_job(uuid.UUID(scene.job)))
    for fault in faults:
        write(f"Chain      FAULT at entry {fault.seq}: {fault.what}")
    if not faults:
        record, info = scene.record(), job_info(scene.job)
        head = "" if info is None else info.head[:12]
        write(f"Chain      verified, {len(record.entries)} entries, head {head}")
    return not faults


def _counted(scene: Scene, told: Told, seconds: float) -> str:
    kinds = [entry.kind for entry in scene.record().entries]
    tried = sum(n for name, n in told.counts.items() if name.endswith(" refused"))
    return (
        f"Counts     {kinds.count(Kind.VALUE)} values, {kinds.count(Kind.STRIKE)} struck, "
        f"{kinds.count(Kind.HOLD)} hold points passed, {kinds.count(Kind.PROOF)} proofs, "
        f"{kinds.count(Kind.SIGN)} signatures, {tried} refusals, {seconds:.1f} s"
    )


def tour(write: Write, report: Path | None, mishaps: Mishaps = MISHAPS) -> bool:
    """Play the job, tell it, check its chain and write its report.

    Parameters
    ----------
    write : Callable
        Takes one line.
    report : Path | None
        Where to write the customer's report; None for nowhere.
    mishaps : Mapping
        What goes wrong on the way.

    Returns
    -------
    bool
        True only when the job was closed, every mishap was refused as it should be, the chain
        verifies, and the report was written.
    """
    began_s = time.monotonic()
    with shop_clock.use_fixed(_morning()) as clock:
        shop = open_shop(scenario(), now=clock.now())
        scene = book_in(shop, recipe(RECIPE), clock)
        told = Told(write)
        scene.teller, scene.mishaps = told, dict(mishaps)
        closed = _play(scene, told, write)
        write("")
        verified = _verified(scene, write)
        reported = report is None or _reported(scene, report, write)
        write(_counted(scene, told, time.monotonic() - began_s))
    good = closed and verified and reported
    write("Closed and verified." if good else "NOT as it should be.")
    return good
