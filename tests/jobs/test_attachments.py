"""Pictures: only real ones, without location, upright and small, once a job."""

import io
import struct
import zlib
from collections.abc import Callable

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from jobs.actions.attachments import LONGEST_SIDE, keep_photo
from jobs.core.reason import InputRefused
from jobs.models import Attachment
from tests.jobs.conftest import Shop
from workshop.kept_files import path_of

GPS_TAG = 0x8825


def a_picture(size: tuple[int, int] = (40, 20), form: str = "JPEG", turn: int = 1) -> bytes:
    picture = Image.new("RGB", size, "orange")
    exif = Image.Exif()
    exif[0x0112] = turn
    exif.get_ifd(GPS_TAG)[1] = "N"
    written = io.BytesIO()
    picture.save(written, form, exif=exif)
    return written.getvalue()


def a_bomb() -> bytes:
    """A PNG of a few bytes that says it is 20 000 by 20 000."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        )

    head = struct.pack(">IIBBBBB", 20000, 20000, 8, 2, 0, 0, 0)
    data = zlib.compress(bytes(100))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def keep(shop: Shop, raw: bytes) -> Image.Image:
    sha256, media_type = keep_photo(
        job_id=shop.job, raw=raw, by=shop.people["aster"], now=shop.clock.now()
    )
    assert media_type == "image/jpeg"
    return Image.open(path_of(sha256))


def test_a_picture_is_kept_without_where_it_was_taken(shop: Shop) -> None:
    with keep(shop, a_picture()) as kept:
        assert kept.size == (40, 20)
        assert not kept.getexif()


def test_a_comment_in_a_picture_is_not_kept(shop: Shop) -> None:
    written = io.BytesIO()
    Image.new("RGB", (40, 20), "orange").save(written, "JPEG", comment=b"54.1 N 7.9 E")
    with keep(shop, written.getvalue()) as kept:
        assert "comment" not in kept.info


def test_a_turned_picture_is_kept_upright_and_a_large_one_smaller(shop: Shop) -> None:
    with keep(shop, a_picture(turn=6)) as kept:
        assert kept.size == (20, 40)
    with keep(shop, a_picture((4000, 1000), "PNG")) as kept:
        assert kept.size == (LONGEST_SIDE, LONGEST_SIDE // 4)


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        (b"", "photo_no_picture"),
        (b"<svg onload=alert(1)>", "photo_no_picture"),
        (b"GIF89a" + bytes(40), "photo_no_picture"),
        (a_picture()[:200], "photo_no_picture"),
        (bytes(13 * 1024 * 1024), "photo_too_large"),
        (a_bomb(), "photo_too_many_pixels"),
    ],
    ids=["nothing", "svg", "gif", "torn", "large", "bomb"],
)
def test_what_is_no_picture_is_refused_and_nothing_is_kept(
    shop: Shop, raw: bytes, code: str
) -> None:
    with pytest.raises(InputRefused) as refused:
        keep(shop, raw)
    assert refused.value.blocker.code == code
    assert not Attachment.objects.exists()


def test_the_page_takes_a_picture_once_and_gives_it_back(
    shop: Shop, client_of: Callable[[str], Client]
) -> None:
    client = client_of("aster")
    answers = [
        client.post(
            f"/jobs/{shop.job}/photo/",
            {"photo": SimpleUploadedFile("../../x.jpg", a_picture(), "image/jpeg")},
        ).json()
        for _ in range(2)
    ]
    answer = answers[-1]
    assert answer["verdict"] == "applied"
    assert Attachment.objects.count() == 1
    value = {"sha256": answer["sha256"], "media_type": answer["media_type"]}
    assert shop.enter("intake.photo", value).verdict == "applied"
    given = client.get(f"/jobs/{shop.job}/attachments/{answer['sha256']}/")
    assert given.headers["Content-Type"] == "image/jpeg"
    assert given.headers["X-Content-Type-Options"] == "nosniff"
    assert given.getvalue().startswith(b"\xff\xd8")


def test_a_picture_that_never_arrived_cannot_be_named(shop: Shop) -> None:
    value = {"sha256": "a" * 64, "media_type": "image/jpeg"}
    answer = shop.enter("intake.photo", value)
    assert [point.code for point in answer.blockers] == ["no_attachment"]


def test_without_a_file_or_sign_on_nothing_is_taken(
    shop: Shop, client_of: Callable[[str], Client]
) -> None:
    assert client_of("aster").post(f"/jobs/{shop.job}/photo/").status_code == 400
    assert Client().post(f"/jobs/{shop.job}/photo/").status_code == 401
    bad = SimpleUploadedFile("x.jpg", b"no picture", "image/jpeg")
    assert client_of("aster").post(f"/jobs/{shop.job}/photo/", {"photo": bad}).status_code == 422
    assert client_of("aster").get(f"/jobs/{shop.job}/attachments/{'b' * 64}/").status_code == 404
