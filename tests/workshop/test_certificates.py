"""Certificates as files: judged by content, written again, handed back as downloads."""

import hashlib
import io
import struct
import zlib
from collections.abc import Callable
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from workshop import actions, queries
from workshop.actions.certificates import FILE_LIMIT_BYTES, read_certificate
from workshop.details import EquipmentDetails, EquipmentTest
from workshop.errors import InputRefused
from workshop.kept_files import path_of
from workshop.models import Certificate

TabletOf = Callable[[str], Client]
PDF = b"%PDF-1.7\n1 0 obj\n<<>>\nendobj\ntrailer\n<<>>\n%%EOF\n"
SECRET = b"place-of-the-photographer"


def a_picture(kind: str = "JPEG", size: tuple[int, int] = (40, 20)) -> bytes:
    """Give a picture that says more than it shows."""
    picture, written = Image.new("RGB", size, "white"), io.BytesIO()
    if kind == "JPEG":
        exif = Image.Exif()
        exif[0x010E] = SECRET.decode()
        picture.save(written, format=kind, exif=exif, comment=SECRET)
    else:
        picture.save(written, format=kind)
    return written.getvalue()


def a_bomb(side_px: int = 20_000) -> bytes:
    """Give a small PNG that says it is enormous."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        )

    head = struct.pack(">IIBBBBB", side_px, side_px, 8, 2, 0, 0, 0)
    body = zlib.compress(b"\0" * 1000)
    start = b"\x89PNG\r\n\x1a\n"
    return start + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        (b"", "file_empty"),
        (b"MZ" + b"\0" * 200, "file_no_certificate"),
        (b"<html><script>x</script></html>", "file_no_certificate"),
        (b"GIF89a" + b"\0" * 50, "file_no_certificate"),
        (b" %PDF-1.7\n%%EOF", "file_no_certificate"),
        (PDF[:-8], "file_cut_off"),
        (a_picture()[:60], "file_no_certificate"),
        (a_bomb(), "file_too_many_pixels"),
        (b"%PDF-" + b"\0" * FILE_LIMIT_BYTES, "file_too_large"),
    ],
    ids=["empty", "program", "page", "gif", "shifted", "cut", "torn", "bomb", "large"],
)
def test_what_is_no_certificate_is_refused(raw: bytes, code: str) -> None:
    with pytest.raises(InputRefused) as refused:
        read_certificate(raw)
    assert (refused.value.code, refused.value.field) == (code, "file")
    assert str(refused.value).endswith(".")


def test_a_pdf_is_kept_as_it_is() -> None:
    assert read_certificate(PDF) == (PDF, "application/pdf")


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_a_picture_is_written_again_without_what_it_does_not_show(kind: str) -> None:
    content, media_type = read_certificate(a_picture(kind))
    assert media_type == "image/jpeg"
    assert SECRET not in content
    with Image.open(io.BytesIO(content)) as picture:
        assert (picture.size, dict(picture.getexif())) == ((40, 20), {})


def test_a_large_picture_is_made_smaller() -> None:
    content, _ = read_certificate(a_picture("PNG", (4000, 1000)))
    with Image.open(io.BytesIO(content)) as picture:
        assert picture.size == (3000, 750)


# ---------------------------------------------------------------- on the pages


@pytest.fixture
def table(wren: str) -> str:
    return actions.add_equipment(
        details=EquipmentDetails(
            kind="lifting_table",
            label="T-01",
            ratings={"max_kg": 900},
            test=EquipmentTest(tested_on=date(2026, 1, 15)),
        ),
        by=wren,
    )


def sent(raw: bytes, name: str = "certificate.pdf", **more: str) -> dict[str, object]:
    """Give the form of a test with a file."""
    file = SimpleUploadedFile(name, raw, content_type="text/html")
    return {"tested_on": "2026-03-01", "certificate": "C 8", "file": file, **more}


def test_each_test_keeps_its_own_certificate(tablet_of: TabletOf, wren: str, table: str) -> None:
    tablet = tablet_of(wren)
    for raw in (PDF, a_picture()):
        assert tablet.post(f"/shop/equipment/{table}/test/", sent(raw)).status_code == 302
    kinds = [each.media_type for each in queries.history(table)]
    assert kinds == ["image/jpeg", "application/pdf", ""]
    page = tablet.get(f"/shop/equipment/{table}/").content.decode()
    assert page.count(f"/shop/equipment/{table}/certificates/") == 2


def test_a_certificate_comes_back_as_a_download(
    tablet_of: TabletOf, wren: str, sorrel: str, table: str
) -> None:
    tablet_of(wren).post(f"/shop/equipment/{table}/test/", sent(PDF))
    sha256 = hashlib.sha256(PDF).hexdigest()
    answer = tablet_of(sorrel).get(f"/shop/equipment/{table}/certificates/{sha256}/")
    assert b"".join(answer) == PDF
    assert answer["Content-Type"] == "application/pdf"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Disposition"] == f'attachment; filename="T-01-{sha256[:8]}.pdf"'


def test_the_name_of_a_file_leads_nowhere(tablet_of: TabletOf, wren: str, table: str) -> None:
    names = ("../../../evil.sh", "..\\..\\evil.pdf", "/etc/passwd", "a\x00b.pdf", "x" * 300)
    for name in names:
        answer = tablet_of(wren).post(f"/shop/equipment/{table}/test/", sent(PDF, name))
        assert answer.status_code in {302, 422}
    sha256 = hashlib.sha256(PDF).hexdigest()
    assert [each.sha256 for each in Certificate.objects.all()] == [sha256]
    assert path_of(sha256).read_bytes() == PDF
    assert not list(path_of(sha256).parent.glob("*evil*"))


def test_a_photo_that_is_none_is_said_at_the_field_and_the_rest_is_kept(
    tablet_of: TabletOf, wren: str, table: str
) -> None:
    answer = tablet_of(wren).post(f"/shop/equipment/{table}/test/", sent(b"no photo", "x.jpg"))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'id="id_file_error"' in page
    assert 'value="2026-03-01"' in page
    assert 'value="C 8"' in page
    assert [each.kind for each in queries.history(table)] == ["added"]
    piece = queries.equipment_piece(table, date(2026, 3, 2))
    assert piece is not None
    assert piece.tested_on == date(2026, 1, 15)


def test_a_certificate_of_another_piece_is_not_found(
    tablet_of: TabletOf, wren: str, sorrel: str, table: str
) -> None:
    tablet = tablet_of(wren)
    tablet.post(f"/shop/equipment/{table}/test/", sent(PDF))
    sha256 = hashlib.sha256(PDF).hexdigest()
    assert tablet.get(f"/shop/people/{sorrel}/certificates/{sha256}/").status_code == 404
    assert tablet.get(f"/shop/equipment/{table}/certificates/{'0' * 64}/").status_code == 404


def test_after_the_pin_was_asked_again_the_file_is_asked_for_too(
    tablet_of: TabletOf, wren: str, table: str
) -> None:
    typed = {"tested_on": "2026-03-01", "unlock_pin": "4826"}
    answer = tablet_of(wren).post(f"/shop/equipment/{table}/test/", typed)
    assert "choose the file again" in answer.content.decode()
    del typed["unlock_pin"]
    assert tablet_of(wren).post(f"/shop/equipment/{table}/test/", typed).status_code == 302


def test_a_qualification_keeps_its_certificate_for_managers_only(
    tablet_of: TabletOf, wren: str, sorrel: str
) -> None:
    typed = {"code": "live_work", "file": SimpleUploadedFile("c.pdf", PDF)}
    assert tablet_of(wren).post(f"/shop/people/{sorrel}/", typed).status_code == 302
    address = f"/shop/people/{sorrel}/certificates/{hashlib.sha256(PDF).hexdigest()}/"
    assert b"".join(tablet_of(wren).get(address)) == PDF
    assert tablet_of(sorrel).get(address).status_code == 403
