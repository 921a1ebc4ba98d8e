from dataclasses import replace

import pytest

from packs.logs.reading import read_log
from packs.strict_json import InputRefused
from tests.packs.logs.small_logs import (
    COLUMNS,
    Form,
    Written,
    assert_true,
    codes,
    doubts,
    said,
    true_rows,
    written,
)


def refusal(content: bytes) -> list[tuple[str, str]]:
    with pytest.raises(InputRefused) as caught:
        read_log(content, COLUMNS, "charge_positive")
    return caught.value.problems


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|", " ", "   ", " ; "])
def test_every_usual_delimiter_is_understood_without_a_word(delimiter: str) -> None:
    log = written(form=Form(delimiter=delimiter)).read()
    assert_true(log)
    assert (log.repairs, log.doubts) == ((), ())


@pytest.mark.parametrize("delimiter", [";", "\t", "|", " "])
def test_decimal_commas_are_understood(delimiter: str) -> None:
    log = written(form=Form(delimiter=delimiter, decimal=",")).read()
    assert_true(log)
    assert log.doubts == ()


def test_quoted_decimal_commas_between_commas_are_understood() -> None:
    log = written(form=Form(decimal=",", quote='"')).read()
    assert_true(log)
    assert log.repairs == ()


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_kind_of_line_end_is_understood(end: str) -> None:
    assert_true(written(form=Form(end=end)).read())


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_every_usual_encoding_is_understood(encoding: str, end: str) -> None:
    header = ("time", "current", "c1", "c2", "c3", "c4", "T [°C]", "t2")
    columns = replace(COLUMNS, temperature_c=("T [°C]", "t2"))
    text = written(form=Form(header=header, end=end)).text()
    assert_true(read_log(text.encode(encoding), columns, "charge_positive"))


@pytest.mark.parametrize("mark", [b"\xff\xfe", b"\xfe\xff"])
def test_marked_utf_16_of_both_orders_is_understood(mark: bytes) -> None:
    encoding = "utf-16-le" if mark == b"\xff\xfe" else "utf-16-be"
    content = mark + written().text().encode(encoding)
    assert_true(read_log(content, COLUMNS, "charge_positive"))


def test_one_spoilt_byte_costs_one_value_and_not_the_log() -> None:
    text = written().text().replace("3.497", "3.4#7", 1)
    log = read_log(text.encode().replace(b"#", b"\xff"), COLUMNS, "charge_positive")
    assert said(log, "missing_values").startswith("1 cell value is missing")


def test_quoted_headers_blank_lines_preamble_units_trailing_delimiter_and_footer() -> None:
    form = Form(
        delimiter=";",
        decimal=",",
        header=tuple(f'"{name}"' for name in Form().header),
        before=("Data logger 3", "Date;03.03.2026;;", "# channel list: 8", "sep=;", ""),
        under=("s;A;V;V;V;V;°C;°C;", ""),
        after=("", ";;;;;;;;", "End of measurement; 60 rows"),
        trailing=True,
    )
    log = written(form=form).read()
    assert_true(log)
    assert codes(log) == ["odd_lines"]
    assert "1 line was left out" in said(log, "odd_lines")


def test_a_header_behind_a_comment_sign_is_a_header() -> None:
    form = Form(header=("# time", *Form().header[1:]))
    assert_true(written(form=form).read())


def test_the_last_line_is_left_out_when_it_was_cut() -> None:
    rows = true_rows()
    for kept in (5, 3):
        log = read_log(_cut(kept).encode(), COLUMNS, "charge_positive")
        assert "cut_last_line" in codes(log)
        assert log.time_s.size == rows.time_s.size - 1
        assert doubts(log) == []


def _cut(kept: int) -> str:
    lines = written().text().rstrip("\n").split("\n")
    lines[-1] = ",".join(lines[-1].split(",")[:kept])
    return "\n".join(lines)


def test_a_last_value_that_was_cut_short_is_not_believed() -> None:
    log = read_log(written().text().rstrip("\n")[:-2].encode(), COLUMNS, "charge_positive")
    assert codes(log) == ["cut_last_line"]


def test_a_file_that_only_lacks_its_last_line_feed_loses_nothing() -> None:
    assert_true(read_log(written().text().rstrip("\n").encode(), COLUMNS, "charge_positive"))


def test_a_line_with_another_number_of_fields_is_left_out_and_said_with_its_place() -> None:
    log_text = written()
    log_text.fields[10] = log_text.fields[10][:4]
    log = log_text.read()
    assert said(log, "odd_lines").startswith("1 line was left out")
    assert "line 12" in said(log, "odd_lines")
    assert doubts(log) == []


def test_many_lines_of_another_shape_are_a_doubt() -> None:
    log_text = written()
    for row in range(5, 15):
        log_text.fields[row] = log_text.fields[row][:4]
    assert doubts(log_text.read()) == ["odd_lines"]


def test_a_header_that_comes_again_is_left_out() -> None:
    log_text = written()
    log_text.fields.insert(30, list(log_text.form.header))
    log = log_text.read()
    assert_true(log)
    assert codes(log) == ["unreadable_times"]


def test_without_a_header_the_refusal_says_so() -> None:
    text = "\n".join(written().text().split("\n")[1:])
    [(path, message)] = refusal(text.encode())
    assert path == "file"
    assert "has no header" in message


def test_unquoted_decimal_commas_between_commas_are_refused_with_a_way_out() -> None:
    [(path, message)] = refusal(written(form=Form(decimal=",")).text().encode())
    assert path == "file"
    assert "semicolons" in message


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (b"", "empty"),
        (b" \n\n\t\n", "empty"),
        (b"\xef\xbb\xbf", "empty"),
        (b"\x00" * 500, "empty"),
        (b"PK\x03\x04" + b"\x14\x00" * 40, "archive"),
        (b"\x1f\x8b\x08" + b"\x00" * 40, "packed"),
        (b"%PDF-1.7 and so on", "PDF"),
        (bytes(range(256)) * 20, "not text"),
        (b"time,current\x00\x01\x02\x00\x00" * 50, "not text"),
        (b"just some words", "no table"),
        (b"time,current,c1,c2,c3,c4,t1,t2\n", "fewer than two rows"),
        (b"time,current,c1,c2,c3,c4,t1,t2\n0,1,3,3,3,3,20,20\n", "fewer than two rows"),
    ],
)
def test_what_is_no_log_is_refused_in_words(content: bytes, word: str) -> None:
    [(path, message)] = refusal(content)
    assert path == "file"
    assert word in message


@pytest.mark.parametrize(
    ("written_as", "value"),
    [("1.234,5", 1234.5), ("1 234,5", 1234.5), ("1'234,5", 1234.5), ("-1.234,5", -1234.5)],
)
def test_thousands_are_grouped_where_that_is_unambiguous(written_as: str, value: float) -> None:
    log_text = written(form=Form(delimiter=";", decimal=","))
    log_text.fields[30][1] = written_as
    log = log_text.read()
    assert log.current_a[30] == value
    assert log.cell_v[30].tolist() == true_rows().cell_v[30].tolist()
    assert doubts(log) == []


def test_points_and_commas_that_nothing_tells_apart_are_a_doubt() -> None:
    log_text = written(form=Form(delimiter=";"))
    for fields in log_text.fields:
        fields[1] = fields[1][:-1].replace(".", ",")
    log = log_text.read()
    assert "mixed_decimals" in doubts(log)
    assert log.current_a[20] == 20.0


def test_units_written_behind_every_value_are_taken_off() -> None:
    log_text = written()
    for fields in log_text.fields:
        fields[1] += " A"
        fields[2] += "V"
        fields[6] += " °C"
    assert_true(log_text.read())


@pytest.mark.parametrize(
    "word", ["", "NaN", "n/a", "---", "-", "invalid", " ", "null", "???", "inf"]
)
def test_words_for_a_missing_value_leave_it_missing(word: str) -> None:
    log_text: Written = written()
    log_text.fields[12][3] = word
    log_text.fields[13][3] = word
    log = log_text.read()
    assert said(log, "missing_values") == "2 cell values are missing or unreadable, in 1 column."
    assert log.cell_v[12, 1] != log.cell_v[12, 1]
    assert doubts(log) == []
