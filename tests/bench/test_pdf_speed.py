"""What a report and a technical record take for the longest of the invented jobs.

The report by the clock on the wall, as somebody waits for it, best of several; the others by
processor time, which is what a document takes where nothing else runs.
"""

import sys
import time
from collections.abc import Callable

import pytest

from jobs.practice.player import play
from jobs.queries.records import job_info
from jobs.report.blocks import Report
from jobs.report.document import report_of
from jobs.report.pdf import render_pdf
from jobs.report.technical import technical_record_of
from jobs.views.reasons import sentence_of
from tests.jobs.test_attachments import a_picture
from tests.play import a_job
from workshop.kept_files import picture_again

pytestmark = [pytest.mark.bench, pytest.mark.django_db]

REPORT_S, TECHNICAL_S, PHOTO_S = 1.0, 4.0, 0.2
RUNS, PHOTOS = 5, 12


def best_s(make: Callable[[], Report], clock: Callable[[], float] = time.process_time) -> float:
    taken = []
    for _ in range(RUNS):
        begun = clock()
        render_pdf(make())
        taken.append(clock() - begun)
    return min(taken)


def test_a_report_takes_less_than_a_second() -> None:
    with a_job("minibus-module") as scene:
        play(scene)
        info, record = job_info(scene.job), scene.record()
        assert info is not None
        report_s = best_s(lambda: report_of(info, record), time.perf_counter)
        plain_s = best_s(lambda: technical_record_of(info, record, sentence_of, with_photos=False))
    sys.stdout.write(
        f"\nPDF of {len(record.entries)} entries: report {report_s:.2f} s (bound {REPORT_S}),"
    )
    sys.stdout.write(f"technical record without photos {plain_s:.2f} s (bound {TECHNICAL_S})")
    assert report_s < REPORT_S
    assert plain_s < TECHNICAL_S


def test_a_photo_adds_little() -> None:
    raw = picture_again(a_picture((2000, 1500)), longest_side_px=2000, quality=85)
    begun = time.process_time()
    for _ in range(PHOTOS):
        picture_again(raw, longest_side_px=800, quality=70)
    each_s = (time.process_time() - begun) / PHOTOS
    sys.stdout.write(f"\na photo made small: {1000 * each_s:.0f} ms")
    assert each_s < PHOTO_S
