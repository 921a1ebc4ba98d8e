import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from packs.logs.reading import read_log
from packs.physics.cycle_case import CycleLog
from packs.strict_json import InputRefused
from tests.packs.logs.small_logs import COLUMNS, Form, written


def sound(log: CycleLog) -> bool:
    """Tell whether what was read keeps the promises of a log."""
    return bool(
        (np.diff(log.time_s) > 0.0).all()
        and log.time_s[0] == 0.0
        and np.isfinite(log.time_s).all()
        and not np.isinf(log.cell_v).any()
        and not np.isinf(log.current_a).any()
        and not np.isinf(log.temperature_c).any()
        and len(log.cell_v) == len(log.time_s) == len(log.current_a) == len(log.temperature_c)
    )


def read_or_refused(content: bytes) -> None:
    """Hold that bytes are read soundly or refused in words, never anything else."""
    try:
        log = read_log(content, COLUMNS, "charge_positive")
    except InputRefused as refused:
        problems = refused.problems
    else:
        assert sound(log)
        return
    assert problems
    assert all(path.split(".")[0] in {"file", "columns"} for path, _ in problems)
    assert all(message for _, message in problems)


@settings(deadline=None, max_examples=50)
@given(st.binary(max_size=400))
def test_random_bytes_never_end_in_a_traceback(content: bytes) -> None:
    read_or_refused(content)
    read_or_refused(b"time,current,c1,c2,c3,c4,t1,t2\n" + content)


@settings(deadline=None, max_examples=50)
@given(
    st.lists(
        st.tuples(
            st.integers(min_value=0, max_value=2500),
            st.integers(min_value=0, max_value=40),
            st.binary(max_size=12),
        ),
        min_size=1,
        max_size=12,
    )
)
def test_a_log_with_random_damage_never_ends_in_a_traceback(
    damage: list[tuple[int, int, bytes]],
) -> None:
    content = written().text().encode()
    for at, removed, put in damage:
        content = content[:at] + put + content[at + removed :]
    read_or_refused(content)


NUMBERS = ("", "1", "-1", "0", "3.5", "3,5", "1e308", "-1e308", "1e-320", "inf", "nan", "65535")
TIMES = ("2026-03-03T08:15:00", "31.02.2026 25:61:99", "99:99:99", "00:00", "2026-03-03", "46084.5")
SIGNS = ("1.234.567", '"', "'", "°C", "\x00", "9" * 50, "0x10", "1e18", "12/31/2026 11:59 PM")
FIELD = st.sampled_from((*NUMBERS, *TIMES, *SIGNS))


@settings(deadline=None, max_examples=50)
@given(
    st.lists(st.lists(FIELD, min_size=8, max_size=8), min_size=2, max_size=12),
    st.sampled_from([",", ";", "\t", " "]),
)
def test_rows_of_odd_fields_never_end_in_a_traceback(rows: list[list[str]], delimiter: str) -> None:
    lines = [delimiter.join(row) for row in [list(Form().header), *rows]]
    read_or_refused("\n".join(lines).encode())


@settings(deadline=None, max_examples=40)
@given(
    st.lists(
        st.tuples(
            st.integers(min_value=0, max_value=59),
            st.sampled_from(["-5", "0", "1e9", "100", "1180.5", "", "x"]),
        ),
        max_size=5,
    ),
    st.integers(min_value=0, max_value=3),
)
def test_times_in_any_order_come_out_rising(strays: list[tuple[int, str]], swaps: int) -> None:
    log_text = written()
    for at, time in strays:
        log_text.fields[at][0] = time
    for swap in range(swaps):
        at = 7 + 13 * swap
        log_text.fields[:] = log_text.fields[at:] + log_text.fields[:at]
    read_or_refused(log_text.text().encode())
