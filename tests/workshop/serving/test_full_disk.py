"""A disk that really is full under a server: nothing acknowledged is lost, nothing is spoilt."""

import io
import random
import shutil
import sqlite3
import time
from collections import Counter
from contextlib import closing
from dataclasses import dataclass, field
from http.client import HTTPConnection
from pathlib import Path
from threading import Event, Thread
from urllib.parse import urlsplit

import pytest
from django.test import override_settings
from PIL import Image
from typing_extensions import override

from tests.power_cut import FILLING, Disk, a_disk
from tests.running import Running, manage, running_server
from tests.soak_tablets import PEOPLE, Line, Tablet, kill, open_jobs
from tests.workshop.backups.small_shop import NOW, a_shop
from workshop.backups import checking, making, shelf
from workshop.backups.keys import known_key
from workshop.backups.manifest import BY_HAND, DAILY
from workshop.backups.refusal import BackupRefused
from workshop.disk_full import is_disk_full
from workshop.kept_files import has_kept, keep_bytes
from workshop.serving.data_folder import ATTACHMENTS_NAME, DATABASE_NAME
from workshop.serving.write_ahead import files_beside

SIZE_MB = 64
TABLETS = 4
REFUSALS = 5
"""How often each tablet is to be refused before there is room again."""
WAITED_S, DRAINED_WITHIN_S = 30.0, 60.0
ROOM_BYTES = 100_000
RECORDED = 200
FULL = 507
SENTENCE = "Nothing of this was recorded"


@dataclass
class Watched(Line):
    """A tablet's connection that remembers how each sending was answered."""

    statuses: Counter[int] = field(default_factory=Counter)
    said: str = ""

    @override
    def ask(self, method: str, path: str, body: str = "", kind: str = "") -> tuple[int, str, str]:
        status, text, where = super().ask(method, path, body, kind)
        if path == "/entries/":
            self.statuses[status] += 1
            self.said = text if status >= 500 else self.said
        return status, text, where


def a_line(shop: Running, number: int) -> Watched:
    line = Watched(shop.address, random.Random(number), "")  # noqa: S311 - no secret
    line.sign_on(PEOPLE[number % len(PEOPLE)])
    line.sound = True
    return line


def a_tablet(shop: Running, number: int) -> tuple[Tablet, Watched]:
    line = a_line(shop, number)
    tablet = Tablet(line, open_jobs(line))
    line.sound = True
    return tablet, line


def a_picture() -> bytes:
    raw = io.BytesIO()
    Image.effect_noise((1200, 900), 90).convert("RGB").save(raw, "JPEG", quality=95)
    return raw.getvalue()


def send_picture(line: Line, job: str) -> int:
    head = 'Content-Disposition: form-data; name="photo"; filename="pack.jpg"'
    body = f"--B\r\n{head}\r\nContent-Type: image/jpeg\r\n\r\n".encode()
    body += a_picture() + b"\r\n--B--\r\n"
    headers = line.headers("multipart/form-data; boundary=B")
    with closing(HTTPConnection(urlsplit(line.address).netloc)) as link:
        link.request("POST", f"/jobs/{job}/photo/", body, headers)
        answer = link.getresponse()
        answer.read()
    return answer.status


def said_by(folder: Path, *words: str) -> tuple[int, str]:
    with manage(folder, *words) as process:
        said, _ = process.communicate()
    return process.returncode, said


def keys_in(folder: Path) -> Counter[str]:
    """Count the entries in the record by key, beside a server or without one."""
    address = f"{(folder / DATABASE_NAME).as_uri()}?mode=ro"
    with closing(sqlite3.connect(address, uri=True)) as link:
        return Counter(key for (key,) in link.execute('SELECT "key" FROM jobs_entry'))


def bare(keys: list[str]) -> set[str]:
    return {key.replace("-", "") for key in keys}


def attachments(folder: Path) -> dict[str, bytes]:
    kept = (folder / ATTACHMENTS_NAME).rglob("*")
    return {path.name: path.read_bytes() for path in kept if path.is_file()}


def left_behind(folder: Path) -> list[str]:
    return [path.name for path in folder.rglob("*") if path.suffix == shelf.PART]


def wait_for_refusals(lines: list[Watched]) -> None:
    until = time.monotonic() + WAITED_S
    while any(line.statuses[FULL] < REFUSALS for line in lines):
        assert time.monotonic() < until, [line.statuses for line in lines]
        time.sleep(0.1)


def look_at_the_full_shop(shop: Running, disk: Disk, line: Line, job: str) -> None:
    """Pages are shown; a picture and a backup are refused, and leave nothing behind."""
    before = attachments(shop.folder)
    assert line.ask("GET", f"/jobs/{job}/intake/")[0] == RECORDED
    assert line.ask("GET", "/jobs/")[0] == RECORDED
    assert send_picture(line, job) == FULL
    assert attachments(shop.folder) == before
    code, said = said_by(shop.folder, "backup")
    assert code == 1
    assert "Make room" in said
    assert "Traceback" not in said
    assert left_behind(disk.place) == []


def test_a_disk_that_fills_up_under_tablets_loses_nothing_and_spoils_nothing(
    invented: Path, tmp_path: Path
) -> None:
    with a_disk(tmp_path, SIZE_MB) as disk:
        folder, stop = Path(shutil.copytree(invented, disk.place / "data")), Event()
        with running_server(folder) as shop:
            made = [a_tablet(shop, number) for number in range(TABLETS)]
            tablets, lines = [one for one, _ in made], [line for _, line in made]
            beside, job = a_line(shop, TABLETS), tablets[0].jobs[0]
            code, said = said_by(folder, "backup")
            assert code == 0, said
            threads = [Thread(target=one.work, args=(stop, 0.02)) for one in tablets]
            for thread in threads:
                thread.start()
            try:
                time.sleep(1)
                disk.fill_up()
                wait_for_refusals(lines)
                acknowledged = [key for one in tablets for key in list(one.acknowledged)]
                assert bare(acknowledged) <= set(keys_in(folder))
                look_at_the_full_shop(shop, disk, beside, job)
                disk.make_room()
            finally:
                stop.set()
                for thread in threads:
                    thread.join()
            for one in tablets:
                one.drain(time.monotonic() + DRAINED_WITHIN_S)
            assert send_picture(beside, job) == RECORDED
            code, said = said_by(folder, "backup")
            assert code == 0, said
        hold_to_account(folder, tablets, lines)


def hold_to_account(folder: Path, tablets: list[Tablet], lines: list[Watched]) -> None:
    """Every entry is there once, was answered as it should, and the record is sound."""
    assert {status for line in lines for status in line.statuses} == {RECORDED, FULL}
    assert all(SENTENCE in line.said for line in lines)
    assert [one.refused for one in tablets] == [[]] * len(tablets)
    assert [len(one.queue) for one in tablets] == [0] * len(tablets)
    found = keys_in(folder)
    assert {found[key] for key in bare([e["key"] for one in tablets for e in one.made])} == {1}
    code, said = said_by(folder, "verify")
    assert code == 0, said


@pytest.mark.parametrize("index", ["kept", "gone"])
def test_a_start_on_a_full_disk_is_refused_in_words_and_nothing_is_called_damaged(
    invented: Path, tmp_path: Path, index: str
) -> None:
    with a_disk(tmp_path, SIZE_MB) as disk:
        folder = Path(shutil.copytree(invented, disk.place / "data"))
        with running_server(folder) as shop:
            tablet, line = a_tablet(shop, 0)
            for _each in range(5):
                tablet.make()
                tablet.send()
            disk.fill_up()
            while line.statuses[FULL] < 1:
                tablet.make()
                tablet.send()
            kill(shop)
        if index == "gone":
            files_beside(folder / DATABASE_NAME)[1].unlink()
        disk.fill_up()
        starts = (("up", "--no-serve"), ("up", "--port", "0"), ("up", "--after-loss"))
        for words in (*starts, ("verify",)) if index == "gone" else starts:
            code, said = said_by(folder, *words)
            assert code == 1
            assert "is full" in said
            assert "Traceback" not in said
            assert "restore" not in said
        disk.make_room()
        with running_server(folder) as shop:
            tablet.line = a_line(shop, 0)
            tablet.drain(time.monotonic() + DRAINED_WITHIN_S)
        assert {keys_in(folder)[key] for key in bare([e["key"] for e in tablet.made])} == {1}
        code, said = said_by(folder, "verify")
        assert code == 0, said


def test_a_file_that_does_not_fit_leaves_nothing_behind(tmp_path: Path) -> None:
    digest = "ab" * 32
    with (
        a_disk(tmp_path, 16) as disk,
        override_settings(MEDIA_ROOT=disk.place / ATTACHMENTS_NAME),
    ):
        disk.fill_up(leaving_bytes=ROOM_BYTES)
        with pytest.raises(OSError, match="space") as caught:
            keep_bytes(bytes(ROOM_BYTES * 5), digest)
        assert is_disk_full(caught.value)
        assert attachments(disk.place) == {}
        assert not has_kept(digest)
        disk.make_room()
        keep_bytes(bytes(ROOM_BYTES * 5), digest)
        assert has_kept(digest)


@pytest.mark.parametrize("leaving_bytes", [0, ROOM_BYTES, ROOM_BYTES * 2])
def test_a_backup_that_finds_the_disk_full_on_its_way_leaves_the_former_ones(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, leaving_bytes: int
) -> None:
    """It asks for room before; here the disk fills up after that."""
    with a_disk(tmp_path, 64) as disk:
        here = a_shop(disk.place)
        former = making.make(here, BY_HAND, NOW)
        monkeypatch.setattr(making, "_refuse_without_room", lambda *_asked: None)
        disk.fill_up(leaving_bytes)
        with pytest.raises(BackupRefused):
            making.make(here, DAILY, NOW)
        assert left_behind(disk.place) == []
        assert [kept.path for kept in shelf.kept_in(here.shelf)] == [former.path]
        with checking.opened(former.path, known_key(here.data)) as (archive, manifest):
            checking.unpack(archive, manifest, former.path, None)
        (disk.place / FILLING).unlink()
        assert making.make(here, DAILY, NOW).manifest.entries == former.manifest.entries
