"""Styles and scripts are collected whole, whatever a power cut has left of them."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from django.conf import settings
from django.test import override_settings

from workshop.serving import static_files
from workshop.serving.static_files import MARKER_NAME, collect_changed

MANIFEST = "staticfiles.json"


@contextmanager
def a_start(folder: Path) -> Iterator[None]:
    """Store static files in a data folder as a server does that has just been started."""
    hashed = {**settings.STORAGES, "staticfiles": {"BACKEND": settings.COLDBUS_HASHED_STATIC}}
    root = folder / "staticfiles"
    with override_settings(COLDBUS_DATA=folder, STATIC_ROOT=root, STORAGES=hashed):
        yield


def names_in(folder: Path) -> list[str]:
    return sorted(json.loads((folder / "staticfiles" / MANIFEST).read_text())["paths"])


def test_what_did_not_change_is_not_collected_again(tmp_path: Path) -> None:
    with a_start(tmp_path):
        assert collect_changed()
        assert not collect_changed()
    with a_start(tmp_path):
        assert not collect_changed()
    assert "css/base.css" in names_in(tmp_path)


@pytest.mark.parametrize("left", [b"", b'{"version": "1.1", "paths": {"css/ba'])
def test_what_a_power_cut_left_half_written_is_collected_anew(tmp_path: Path, left: bytes) -> None:
    with a_start(tmp_path):
        assert collect_changed()
    whole = names_in(tmp_path)
    (tmp_path / MARKER_NAME).unlink()
    (tmp_path / "staticfiles" / MANIFEST).write_bytes(left)
    (tmp_path / "staticfiles" / "of an older version.js").write_bytes(b"")
    with a_start(tmp_path):
        assert collect_changed()
    assert names_in(tmp_path) == whole
    assert not (tmp_path / "staticfiles" / "of an older version.js").exists()


def test_no_marker_stands_while_files_are_being_collected(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cut(*_args: object, **_named: object) -> None:
        assert not (tmp_path / MARKER_NAME).exists()
        raise OSError("the power went")

    with a_start(tmp_path):
        assert collect_changed()
        (tmp_path / MARKER_NAME).write_text("of other sources")
        monkeypatch.setattr(static_files, "call_command", cut)
        with pytest.raises(OSError, match="power"):
            collect_changed()
    assert not (tmp_path / MARKER_NAME).exists()
