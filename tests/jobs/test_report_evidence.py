"""The technical record: calculations with their numbers, photos, limits, and files of quality."""

import io
import re
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from django.test import Client
from PIL import Image
from pypdf import PdfReader

from jobs.actions.attachments import keep_photo
from jobs.core.asked import noted
from jobs.practice.player import play
from jobs.practice.scene import Scene
from jobs.queries.records import job_info
from jobs.report.blocks import Grid, Heading, Paragraph, Photos, Report, Working
from jobs.report.document import report_of
from jobs.report.parts import parts_of
from jobs.report.pdf import render_pdf
from jobs.report.pdf.evidence import fitted, room_of
from jobs.report.technical import technical_record_of
from jobs.report.workings import _asked_in, in_signs
from jobs.views.reasons import sentence_of
from packs.words import told, translated
from tests.jobs.conftest import Shop
from tests.jobs.test_attachments import a_picture
from tests.jobs.test_report import a_report, text_of
from tests.play import a_job
from workshop.kept_files import path_of

CALCULATIONS = {
    "absence", "charge", "cycle", "decay", "isolation", "joint", "leak", "localise", "match",
    "section",
}  # fmt: skip


@pytest.fixture
def scene(db: None) -> Iterator[Scene]:
    with a_job("minibus-module") as played:
        play(played)
        yield played


def technical(scene: Scene) -> Report:
    info = job_info(scene.job)
    assert info is not None
    return technical_record_of(info, scene.record(), sentence_of)


def photographed(shop: Shop) -> str:
    sha256, media_type = keep_photo(
        job_id=shop.job, raw=a_picture((1600, 900)), by=shop.people["aster"], now=shop.clock.now()
    )
    value = {"sha256": sha256, "media_type": media_type}
    assert shop.enter("intake.arrival_photo", value).verdict == "applied"
    return sha256


def photos_of(shop: Shop) -> Photos:
    info = job_info(shop.job)
    assert info is not None
    blocks = technical_record_of(info, shop.record(), sentence_of).blocks
    (found,) = [block for block in blocks if isinstance(block, Photos)]
    return found


def test_every_calculation_of_a_whole_job_stands_there_with_its_numbers(scene: Scene) -> None:
    document = technical(scene)
    asked = [each for part in parts_of(scene.record()).values() for each in _asked_in(part)]
    assert {each.name for each in asked} | {"cycle"} == CALCULATIONS
    workings = [block for block in document.blocks if isinstance(block, Working)]
    assert len(workings) > len(CALCULATIONS)
    assert all(any(line.numbers or line.value for line in block.lines) for block in workings)
    shown = text_of(render_pdf(document))
    leak = next(each for each in asked if each.name == "leak").result.leak_pa_m3_per_s
    assert f"{leak:.4g}" in shown.replace("−", "-") or f"{leak * 1e3:.4g}" in shown
    assert "Limits of the workshop in force today" in shown
    assert "UN R100, 5.1.3" in " ".join(shown.split())


def test_a_calculation_is_that_of_the_signature_and_not_of_limits_moved_since(
    scene: Scene,
) -> None:
    record = scene.record()
    moved = record.limits.isolation_ohm_per_v.model_copy(update={"value": 5000.0})
    limits = record.limits.model_copy(update={"isolation_ohm_per_v": moved})
    before = [each for part in parts_of(record).values() for each in _asked_in(part)]
    today = replace(record, limits=limits)
    after = [each for part in parts_of(today).values() for each in _asked_in(part)]
    assert [each.given for each in after] == [each.given for each in before]


def test_nothing_is_noted_while_nobody_asks(scene: Scene) -> None:
    with noted() as found:
        pass
    parts_of(scene.record())
    assert found == []


def test_a_photo_stands_there_small_with_entry_time_person_and_digest(shop: Shop) -> None:
    sha256 = photographed(shop)
    (photo,) = photos_of(shop).photos
    assert photo.content is not None
    with Image.open(io.BytesIO(photo.content)) as small:
        assert max(small.size) == 800
    said = " ".join(photo.lines)
    assert sha256 in said
    assert "Aster" in said
    assert re.search(r"Entry \d+, 2\sMar", said)


def test_a_photo_whose_file_is_gone_is_said_to_be_missing(shop: Shop) -> None:
    path_of(photographed(shop)).unlink()
    (photo,) = photos_of(shop).photos
    assert photo.content is None
    info = job_info(shop.job)
    assert info is not None
    shown = text_of(render_pdf(technical_record_of(info, shop.record(), sentence_of)))
    assert "The file of this photo is missing from the store." in " ".join(shown.split())


def test_the_outline_leads_to_every_heading() -> None:
    report = a_report(Heading("Answer", 1), Heading("Deep", 3), Heading("Part"), Heading("More", 3))
    reader = PdfReader(io.BytesIO(render_pdf(report)))

    def titles(items: object) -> list[str]:
        found = []
        for item in items:  # type: ignore[attr-defined]
            found += titles(item) if isinstance(item, list) else [str(item["/Title"])]
        return found

    assert titles(reader.outline) == ["Answer", "Deep", "Part", "More"]


def test_every_font_that_draws_letters_lies_in_the_file() -> None:
    reader = PdfReader(io.BytesIO(render_pdf(a_report(Heading("Ω µ ° é ł ß ñ ø „“", 1)))))
    fonts = {
        str(font["/BaseFont"]): font.get_object()
        for page in reader.pages
        for font in (f.get_object() for f in page["/Resources"]["/Font"].values())  # type: ignore[index]
    }
    used = [name for name in fonts if "SourceSans" in name]
    assert len(used) >= 2
    assert all("/FontFile2" in str(fonts[name]["/FontDescriptor"].get_object()) for name in used)


def test_a_name_in_letters_that_the_typeface_lacks_is_spelled_out_and_said() -> None:
    shown = text_of(render_pdf(a_report(Paragraph("田中 Rowan"))))
    assert "[U+7530 U+4E2D] Rowan" in shown
    assert "letters that the typeface of this document does not have" in shown
    assert "typeface" not in text_of(render_pdf(a_report(Paragraph("Łukasz Ñíguez, Straße"))))


def test_a_logo_stands_on_every_page_inside_its_place() -> None:
    written = io.BytesIO()
    Image.new("RGB", (400, 100), "navy").save(written, "PNG")
    rows = tuple((str(n), "x") for n in range(120))
    report = replace(a_report(Grid(("No.", "What", "a", "b"), tuple((*r, "", "") for r in rows))))
    with_logo = PdfReader(io.BytesIO(render_pdf(replace(report, logo=written.getvalue()))))
    assert len(with_logo.pages) > 1
    assert all(len(page.images) == 1 for page in with_logo.pages)
    assert not any(page.images for page in PdfReader(io.BytesIO(render_pdf(report))).pages)
    for page in with_logo.pages:
        text = page.extract_text()
        assert "No." in text
        assert "What" in text


def test_no_heading_stands_alone_at_the_foot_of_a_page() -> None:
    for filling in range(30, 60):
        blocks: tuple[Paragraph | Heading | Grid, ...] = (
            *(Paragraph(f"line {n}") for n in range(filling)),
            Heading("Last words"),
            Grid(("a", "b", "c", "d"), (("1", "2", "3", "4"),) * 30),
        )
        reader = PdfReader(io.BytesIO(render_pdf(a_report(*blocks))))
        pages = [page.extract_text() for page in reader.pages]
        (page,) = [text for text in pages if "Last words" in text]
        assert "\n1\n2\n3\n4" in page.split("Last words")[1] or "1 2 3 4" in page


def test_the_address_takes_a_language_and_refuses_one_it_does_not_know(
    shop: Shop, client_of: Callable[[str], Client]
) -> None:
    client = client_of("lorne")
    for kind in ("report", "record"):
        answer = client.get(f"/jobs/{shop.job}/{kind}.pdf?language=de")
        reader = PdfReader(io.BytesIO(answer.content))
        assert str(reader.root_object["/Lang"]) == "de"
        assert client.get(f"/jobs/{shop.job}/{kind}.pdf?language=xx").status_code == 404


def test_words_of_an_explanation_are_translated_apart_from_their_figures() -> None:
    german = {"{a} against {b}": "{a} gegen {b}", "sound": "heil"}
    said = told("{a} against {b}", a="sound", b="5 V")
    assert said == "sound against 5 V"
    assert translated(said, lambda text: german.get(text, text)) == "heil gegen 5 V"
    assert translated("", str) == ""


@pytest.mark.parametrize(
    ("plain", "signs"),
    [
        ("36.91 uohm to 37 mohm", "36.91 µΩ to 37 mΩ"),
        ("500 ohm/V x 350 V", "500 Ω/V × 350 V"),
        ("2 mV + 50 uV", "2 mV + 50 µV"),
        ("(G, B and L in uS)", "(G, B and L in µS)"),
        ("u = sqrt(3), U = k u", "u = sqrt(3), U = k u"),
        ("-0.02 m3 x 3 Pa/s", "-0.02 m³ × 3 Pa/s"),
        ("Comparison in Pa m3/s", "Comparison in Pa m³/s"),
        ("Leak in m3: median", "Leak in m3: median"),
        ("sum of w (x - mean)(v - mean)", "sum of w (x - mean)(v - mean)"),
        ("v_end = mean of v - step x mean of x", "v_end = mean of v - step × mean of x"),
        ("v = v_end + step x; mean of x = 2", "v = v_end + step x; mean of x = 2"),
        ("p at 20 degC", "p at 20 °C"),
        ("Limit in ohm", "Limit in ohm"),
    ],
)
def test_a_calculation_is_set_with_the_signs_of_its_units(plain: str, signs: str) -> None:
    assert in_signs(plain) == signs


def test_a_small_table_breaks_no_word_while_there_is_room_for_its_words() -> None:
    columns = [["source", "reading of the string, last digit"], ["half-width", "2 mV"], ["u", "1"]]
    longest = [max(map(room_of, " ".join(column).split())) for column in columns]
    for room in (sum(longest), 1.2 * sum(longest), 2000.0):
        widths = fitted(columns, room)
        assert sum(widths) <= room + 1e-6
        assert all(width >= least - 1e-6 for width, least in zip(widths, longest, strict=True))
    whole = [max(map(room_of, column)) for column in columns]
    assert fitted(columns, 2000.0) == pytest.approx(whole)
    assert sum(fitted(columns, 40.0)) == pytest.approx(40.0)


def test_a_released_job_says_when_to_come_back_and_where_the_old_module_is(scene: Scene) -> None:
    info, record = job_info(scene.job), scene.record()
    assert info is not None
    shown = " ".join(text_of(render_pdf(report_of(info, record))).split())
    assert "It passed every check we made" in shown
    assert "Where the removed modules are" in shown
    assert "in quarantine, watched" in shown
    assert "Come back" in shown
    assert "Warranty" in shown
    assert "like new" not in shown.lower()
