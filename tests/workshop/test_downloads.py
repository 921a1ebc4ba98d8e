"""Names of documents: whatever stands in them, a header stays one header and a name no path."""

from email.message import Message

import pytest

from tests.house.sources import ROOT
from workshop.downloads import document


def name_in(header: str) -> str:
    told = Message()
    told["Content-Disposition"] = header
    return told.get_filename() or ""


@pytest.mark.parametrize(
    ("name", "saved"),
    [
        ("report-W000012.pdf", "report-W000012.pdf"),
        ('a"b\\c.pdf', 'a"b\\c.pdf'),
        ("a\r\nSet-Cookie: x=1.pdf", "aSet-Cookie: x=1.pdf"),
        ("../../etc/passwd", "..-..-etc-passwd"),
        ("Prüfbericht Ω.pdf", "Prüfbericht Ω.pdf"),
        ("x;filename=y.html", "x;filename=y.html"),
    ],
)
def test_a_name_is_saved_as_it_is_and_breaks_out_of_nothing(name: str, saved: str) -> None:
    answer = document(b"", "application/pdf", name)
    header = answer.headers["Content-Disposition"]
    assert header.startswith("attachment;")
    assert "\n" not in header
    assert name_in(header) == saved
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_no_view_writes_a_file_name_by_hand() -> None:
    found = [
        str(path.relative_to(ROOT))
        for app in ("workshop", "packs", "jobs")
        for path in (ROOT / app).rglob("*.py")
        if "filename=" in (text := path.read_text(encoding="utf-8"))
        and "Content-Disposition" in text
        and 'filename="{' in text
    ]
    assert found == []
