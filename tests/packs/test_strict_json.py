import pytest

from packs.strict_json import LARGEST_INPUT_BYTES, InputRefused, read


@pytest.mark.parametrize(
    ("raw", "path"),
    [
        (b"", ""),
        (b"  \n", ""),
        (b"{", ""),
        (b"\xff\xfe{}", ""),
        (b'{"vin": "\xe9"}', ""),
        (b"{} {}", ""),
        (b'{"vin": NaN}', "vin"),
        (b'{"vin": ' + b"9" * 5000 + b"}", ""),
        (b'{"vin": "A", "vin": "B"}', "vin"),
        (b'{"vin": {"a": {"b": 1, "b": 2}}}', "vin.a.b"),
        (b"[" * 100_000, ""),
        (b'{"vin": ' + b"[" * 50 + b"]" * 50 + b"}", "vin.0.0"),
        (b" " * (LARGEST_INPUT_BYTES + 1), ""),
    ],
)
def test_bytes_that_cannot_be_read_are_refused_with_the_place(raw: bytes, path: str) -> None:
    with pytest.raises(InputRefused) as refused:
        read(raw)
    assert path in [problem[0] for problem in refused.value.problems]


def test_a_byte_order_mark_is_no_fault() -> None:
    assert read(b'\xef\xbb\xbf{"vin": "A"}') == {"vin": "A"}


def test_plain_data_comes_out_as_it_went_in() -> None:
    assert read(b'{"a": [1, 2.5, true, null, "b"]}') == {"a": [1, 2.5, True, None, "b"]}


def test_a_refusal_reads_as_a_sentence() -> None:
    assert str(InputRefused([("vin", "is missing")])) == "vin: is missing"


def test_many_names_are_read_in_time() -> None:
    names = ", ".join(f'"{number}": 1' for number in range(50_000))
    with pytest.raises(InputRefused) as refused:
        read(f'{{{names}, "49999": 1}}'.encode())
    assert refused.value.problems == [("49999", "is given twice: keep one")]
