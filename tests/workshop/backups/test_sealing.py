"""The envelope of a backup: nobody reads it without the key, and no change goes unnoticed."""

import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.workshop.backups.small_shop import NOW, PICTURE, a_shop
from workshop.backups import checking
from workshop.backups.keys import key_of, read_words, words_of
from workshop.backups.making import make
from workshop.backups.manifest import DAILY
from workshop.backups.refusal import BackupRefused
from workshop.backups.sealing import (
    HEAD_BYTES,
    KEY_BYTES,
    PIECE_BYTES,
    TAG_BYTES,
    SealedReader,
    SealedWriter,
    WrongKey,
    is_sealed,
)

KEY, OTHER = bytes(KEY_BYTES), bytes([1]) * KEY_BYTES
WHOLE = PIECE_BYTES + TAG_BYTES
SIZES = [0, 1, PIECE_BYTES - 1, PIECE_BYTES, PIECE_BYTES + 1, 3 * PIECE_BYTES]


def sealed(plain: bytes, *, pieces: int = 7919) -> bytes:
    file = io.BytesIO()
    writer = SealedWriter(file, KEY)
    for at in range(0, len(plain), pieces):
        writer.write(plain[at : at + pieces])
    writer.finish()
    return file.getvalue()


def plain_of(size: int) -> bytes:
    return bytes(number * 7 % 251 for number in range(size))


def read(raw: bytes, key: bytes = KEY) -> bytes:
    return io.BufferedReader(SealedReader(io.BytesIO(raw), key)).read()


@pytest.mark.parametrize("size", SIZES)
def test_what_was_sealed_is_read_again_whole_and_from_any_place(size: int) -> None:
    plain = plain_of(size)
    raw = sealed(plain)
    assert is_sealed(io.BytesIO(raw))
    assert read(raw) == plain
    reader = io.BufferedReader(SealedReader(io.BytesIO(raw), KEY))
    for place in (0, size // 2, max(0, size - 3), size):
        reader.seek(place)
        assert reader.read(100) == plain[place : place + 100]


def test_nothing_of_it_can_be_read_and_the_same_is_never_sealed_alike() -> None:
    plain = b"pepper of the shop" * 1000
    first, second = sealed(plain), sealed(plain)
    assert b"pepper" not in first
    assert first[HEAD_BYTES:] != second[HEAD_BYTES:]


def test_another_key_is_told_from_damage() -> None:
    with pytest.raises(WrongKey):
        read(sealed(b"words"), OTHER)


@given(size=st.sampled_from(SIZES[1:]), share=st.floats(0, 1, exclude_max=True))
def test_one_cut_off_anywhere_is_refused(size: int, share: float) -> None:
    raw = sealed(plain_of(size))
    with pytest.raises(ValueError, match=r"."):
        read(raw[: int(len(raw) * share)])


@given(size=st.sampled_from(SIZES), share=st.floats(0, 1, exclude_max=True), bit=st.integers(0, 7))
def test_one_changed_bit_anywhere_is_refused(size: int, share: float, bit: int) -> None:
    raw = bytearray(sealed(plain_of(size)))
    raw[int(len(raw) * share)] ^= 1 << bit
    with pytest.raises(ValueError, match=r"."):
        read(bytes(raw))


def test_pieces_that_were_swapped_dropped_or_added_are_refused() -> None:
    raw = sealed(plain_of(3 * PIECE_BYTES))
    head, pieces = raw[:HEAD_BYTES], [raw[HEAD_BYTES + n * WHOLE :][:WHOLE] for n in range(3)]
    for changed in (
        [pieces[1], pieces[0], pieces[2]],
        pieces[:2],
        pieces[1:],
        [*pieces, pieces[2]],
        [pieces[0], pieces[0], pieces[2]],
    ):
        with pytest.raises(ValueError, match=r"."):
            read(head + b"".join(changed))


def test_a_backup_shows_nothing_and_opens_with_its_key_alone(tmp_path: Path) -> None:
    here = a_shop(tmp_path)
    path = make(here, DAILY, NOW).path
    raw = path.read_bytes()
    for secret in (PICTURE, (here.data / "pepper").read_bytes().strip(), b"SQLite format"):
        assert secret not in raw
    assert key_of(here.data).hex().encode() not in raw
    with checking.opened(path, key_of(here.data)) as (archive, _manifest):
        assert "backup_key" not in archive.namelist()
    with pytest.raises(BackupRefused) as refused, checking.opened(path, OTHER):
        pass
    assert refused.value.code == "other_key"
    with pytest.raises(BackupRefused) as refused, checking.opened(path):
        pass
    assert refused.value.code == "no_key"


def test_a_key_on_paper_reads_back_however_it_is_typed_and_a_slip_is_told() -> None:
    key = bytes(range(KEY_BYTES))
    words = words_of(key)
    for typed in (words, words.lower(), words.replace("-", " "), words.replace("O", "0")):
        assert read_words(typed) == key
    slip = ("B" if words[0] != "B" else "C") + words[1:]
    for wrong in (slip, words[:-1], words[5:], "", "?", words + words):
        with pytest.raises(ValueError, match="a letter is wrong or missing"):
            read_words(wrong)
