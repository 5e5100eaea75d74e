"""Laws of the reader: nothing in a file makes it raise, and no line, cell or reading goes uncounted."""

from __future__ import annotations

import hashlib
from time import process_time

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.readings.reading import assert_accounted

from airtally.quantities import Quantity
from airtally.readings import Log, Source, Stamp, mask_in_duct, read_log, screen_log

HEADERS = (
    "Time",
    "Date",
    "PM2.5 (ug/m3)",
    "Temp",
    "RH",
    "CO2",
    "Value",
    "Parameter",
    "Unit",
    "Start",
    "End",
    "Mode",
    "Device",
    "x",
    "",
    "\ufeff",
    "PM2.5",
    "fan state",
)
CELLS = (
    "2025-11-02 01:30", "2025-03-09 02:30", "05/06/2025 1:00 PM", "31.12.2025 24:00", "1700000000", "1e999", "-1e308", "0.5",
    "12,5", "1,234", "", "NA", "<10", "45 %", '"', '"a""b', "pm25", "co2", "heat", "on", "\x00", "999.9", "1_000", "٣", "41O",
    "2025-09-01T00:01:00+99:99", "9" * 400, "0000-00-00 00:00", "24:00", "Sep 31, 2025 1:00", "\u2028", "1e400 °F", "#", "20250930",
)  # fmt: skip
ZONES = ("UTC", "America/Denver", "UTC-7", "Nowhere/Land", "")
FEW = settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@st.composite
def tables(draw: st.DrawFn) -> bytes:
    """Return bytes that look like a table, more or less."""
    delimiter = draw(st.sampled_from([",", ";", "\t", "|"]))
    newline = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    width = draw(st.integers(1, 6))
    cell = st.one_of(st.sampled_from(CELLS), st.sampled_from(HEADERS), st.text(max_size=8))
    rows = draw(st.lists(st.lists(cell, min_size=0, max_size=width + 1), max_size=25))
    header = draw(st.lists(st.sampled_from(HEADERS), min_size=width, max_size=width))
    lines = [delimiter.join(header)] + [delimiter.join(row) for row in rows]
    if draw(st.booleans()):
        lines.insert(draw(st.integers(0, len(lines))), delimiter.join(header))
    content = newline.join(lines).encode(
        draw(st.sampled_from(["utf-8", "utf-16", "cp1252", "utf-8-sig"])), errors="replace"
    )
    return content[: draw(st.integers(0, len(content)))] if draw(st.booleans()) else content


def sources(content: st.SearchStrategy[bytes]) -> st.SearchStrategy[Source]:
    """Return files with all sorts of statements."""
    statement = st.tuples(
        st.sampled_from([*HEADERS, "#2", "#99", "heat"]),
        st.sampled_from(
            [
                "pm25 ug/m3",
                "time",
                "device",
                "co2 ppm at attic",
                "burner_state counter",
                "ignore",
                "nonsense",
                "name",
                "value",
            ]
        ),
    )
    return st.builds(
        Source,
        content=content,
        name=st.just("log.csv"),
        placement=st.just("hall"),
        time_zone=st.sampled_from(ZONES),
        stamps=st.sampled_from(list(Stamp)),
        interval=st.sampled_from([None, 60.0, 3600.0]),
        columns=st.lists(statement, max_size=3).map(tuple),
        day_first=st.sampled_from([None, True, False]),
        begins=st.sampled_from([None, 1.7e9]),
        devices=st.sampled_from([(), (("pm25", "bedroom"),)]),
        since=st.sampled_from([float("-inf"), 1.75e9]),
        until=st.sampled_from([float("inf"), 1.76e9]),
    )


def assert_laws(log: Log, source: Source) -> None:
    """Check one file's account, and that screening and masking only move readings between flags."""
    assert_accounted(log)
    assert isinstance(source.content, bytes)
    assert log.files[0].sha256 == hashlib.sha256(source.content).hexdigest()
    assert all(problem.sentence() for problem in log.problems)
    screened = screen_log(log)
    masked = mask_in_duct(screened, ["hall"], (np.array([1.7e9]), np.array([1.701e9])), 300.0)
    for later in (screened, masked):
        assert_accounted(later)
        assert np.array_equal(later.value, log.value, equal_nan=True)
        assert np.array_equal(later.line, log.line)
        assert np.all(later.flag[~log.kept] == log.flag[~log.kept]), "a reason once given stays"
        assert int(later.kept.sum()) <= int(log.kept.sum())


@FEW
@given(sources(tables()))
def test_no_table_makes_the_reader_raise_or_lose_a_reading(source: Source) -> None:
    assert_laws(read_log([source]), source)


@FEW
@given(sources(st.binary(max_size=400)))
def test_no_bytes_make_the_reader_raise(source: Source) -> None:
    assert_laws(read_log([source]), source)


@FEW
@given(st.data())
def test_a_damaged_file_loses_only_what_was_damaged(data: st.DataObject) -> None:
    """Bytes of a sound table are overwritten; every line that was not touched is still read as it was."""
    rows = [f"2025-09-01 {i // 60:02d}:{i % 60:02d},{5 + i}.5,{40 + i % 7}" for i in range(120)]
    sound = ("Time,PM2.5 (ug/m3),RH (%)\n" + "\n".join(rows) + "\n").encode()
    at = data.draw(st.integers(30, len(sound) - 10))
    junk = data.draw(st.binary(min_size=1, max_size=8))
    damaged = sound[:at] + junk + sound[at + len(junk) :]
    log = read_log([Source(content=damaged, name="a.csv", placement="hall", stamps=Stamp.MIDDLE)])
    assert_accounted(log)
    touched = {i for i, (a, b) in enumerate(zip(sound.split(b"\n"), damaged.split(b"\n"), strict=False)) if a != b}
    if b"\n" in junk or b"\r" in junk or sound[at : at + len(junk)].count(b"\n"):
        return  # line numbers move; the account above still holds
    kept = set(log.line[log.kept & (log.stream == log.streams.index(log.find(Quantity.PM25)[0]))].tolist())
    assert {i + 1 for i in range(1, 121) if i not in touched} <= kept


@FEW
@given(
    st.lists(st.floats(-1e5, 1e5).map(lambda x: round(x, 3)), min_size=3, max_size=60),
    st.sampled_from([",", ";", "|", "\t"]),
)
def test_numbers_come_back_exactly(numbers: list[float], delimiter: str) -> None:
    rows = "\n".join(f"{1_700_000_000 + 60 * i}{delimiter}{n}" for i, n in enumerate(numbers))
    log = read_log([Source(content=f"unix{delimiter}VOC index\n{rows}".encode(), name="a", placement="hall")])
    assert log.value.tolist() == numbers


@pytest.mark.slow
def test_half_a_million_rows_are_read_in_seconds() -> None:
    """Time and four quantities; see benchmarks/readings.md. The bound leaves room for a slower machine."""
    rng = np.random.default_rng(1)
    stamps = np.datetime_as_string(np.datetime64("2025-01-01T00:00") + np.arange(500_000), unit="m")
    values = rng.gamma(2.0, 10.0, (500_000, 4))
    rows = "\n".join(f"{s},{a:.1f},{b:.2f},{c:.1f},{d:.0f}" for s, (a, b, c, d) in zip(stamps, values, strict=True))
    content = f"Time,PM2.5 (ug/m3),Temp (C),RH (%),VOC index\n{rows}\n".encode()
    begun = process_time()
    log = read_log([Source(content=content, name="a.csv", placement="hall")])
    assert process_time() - begun < 8.0
    assert int(log.kept.sum()) == 2_000_000
    assert_accounted(log)
