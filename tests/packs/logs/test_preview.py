import subprocess
import sys
from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packs.logs.guesses import Role
from packs.logs.preview import preview_of
from packs.strict_json import InputRefused
from tests.packs.logs.small_logs import COLUMNS, written

LOG = """Logger 7
Date;03.03.2026

Time;Row no;Pack voltage [V];Pack current [A];Cell 10;Cell 2;Cell min;T ambient;T1;Max current;Note
s;;V;A;V;V;V;°C;°C;A;
0;1;300,5;1,5;3,507;3,601;3,507;20;21;9;ok
1;2;300,5;1,5;3,508;3,602;3,508;20;21;9;ok
"""


def test_the_header_units_and_first_rows_are_shown() -> None:
    seen = preview_of(LOG.encode("latin-1"))
    assert seen.names[3] == "Pack current [A]"
    assert seen.units[7] == "°C"
    assert seen.rows[0][:5] == ("0", "1", "300,5", "1,5", "3,507")
    assert len(seen.rows) == 2


def test_columns_are_guessed_with_reasons_and_cells_are_in_the_order_of_their_numbers() -> None:
    seen = preview_of(LOG.encode("latin-1"))
    roles = {guess.name: guess.role for guess in seen.guesses}
    assert roles["Time"] is Role.TIME
    assert roles["Pack current [A]"] is Role.CURRENT
    assert roles["T1"] is Role.TEMPERATURE
    others = ("Row no", "Pack voltage [V]", "Cell min", "T ambient", "Max current", "Note")
    assert {roles[name] for name in others} == {Role.OTHER}
    assert all(guess.reason for guess in seen.guesses)
    assert seen.columns is not None
    assert seen.columns.cell_v == ("Cell 2", "Cell 10")
    assert seen.columns.temperature_c == ("T1",)


@pytest.mark.parametrize(
    "header",
    [
        "timestamp,I,U_01,U_02,NTC1",
        "Elapsed time,packCurrent,cellVoltage1,cellVoltage2,cellTemp1",
        "time_s,current_a,c01_v,c02_v,t1_c",
        "t [s],Strom [A],Zelle 1,Zelle 2,Temp 1",
        "date time,Current (A),M01.C01 [mV],M01.C02 [mV],M01 temperature",
    ],
)
def test_usual_names_are_guessed(header: str) -> None:
    names = header.split(",")
    rows = "2026-03-03 08:15:00,1.5,3.507,3.508,20.5\n" * 3
    seen = preview_of(f"{header}\n{rows}".encode())
    assert seen.columns is not None
    assert (seen.columns.time_s, seen.columns.current_a) == (names[0], names[1])
    assert seen.columns.cell_v == (names[2], names[3])
    assert seen.columns.temperature_c == (names[4],)


def test_where_no_current_is_found_nothing_is_put_together() -> None:
    seen = preview_of(b"time_s,x,c1_v\n0,1,3.5\n1,1,3.5\n")
    assert seen.columns is None
    assert seen.guesses[1].role is Role.OTHER


def test_the_guess_reads_the_log() -> None:
    seen = preview_of(written().text().encode())
    assert seen.columns == COLUMNS


def test_a_preview_of_words_is_refused() -> None:
    with pytest.raises(InputRefused):
        preview_of(b"nothing of that kind")


@settings(deadline=None, max_examples=100)
@given(st.binary(max_size=300))
def test_a_preview_of_random_bytes_never_ends_in_a_traceback(content: bytes) -> None:
    with suppress(InputRefused):
        assert preview_of(content).names
    with suppress(InputRefused):
        assert preview_of(b"time,current,c1\n0,1,3.5\n" + content).names


def test_a_preview_loads_nothing_heavy() -> None:
    loads = "import sys, packs.logs.preview, packs.calculations; print('polars' in sys.modules)"
    told = subprocess.run([sys.executable, "-c", loads], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "False"
