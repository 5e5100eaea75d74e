"""Text to tables: delimiters, headers, blank lines, quotes, encodings, archives."""

from __future__ import annotations

import csv
import gzip
import hashlib
import io
import zipfile

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.readings.reading import assert_accounted, codes, in_field, read, sentence, times, utc

from airtally.quantities import Quantity

ROWS = [
    "2025-09-01 00:01:00{d}12{c}5{d}21{c}0",
    "2025-09-01 00:02:00{d}13{c}25{d}21{c}1",
    "2025-09-01 00:03:00{d}9{c}0{d}21{c}2",
]


@pytest.mark.parametrize(
    ("delimiter", "decimal"), [(",", "."), (";", "."), (";", ","), ("\t", ","), ("|", "."), ("|", ",")]
)
def test_delimiter_and_decimal_sign_are_found(delimiter: str, decimal: str) -> None:
    """Time;PM2.5 (ug/m3);Temp (C) with each delimiter and decimal sign that does not clash."""
    text = f"Time{delimiter}PM2.5 (ug/m3){delimiter}Temp (C)\n" + "\n".join(
        row.format(d=delimiter, c=decimal) for row in ROWS
    )
    log = read(text)
    assert_allclose(in_field(log, Quantity.PM25), [12.5, 13.25, 9.0], rtol=1e-12)
    assert_allclose(in_field(log, Quantity.TEMPERATURE), [21.0, 21.1, 21.2], rtol=1e-9)
    assert_accounted(log)


def test_quoted_decimal_commas_are_read_in_a_table_cut_by_commas() -> None:
    log = read('Time,"PM2.5, ug/m3"\n"2025-09-01 00:01","12,5"\n"2025-09-01 00:02","8,25"\n')
    assert in_field(log, Quantity.PM25).tolist() == [12.5, 8.25]


def test_thousands_are_grouped_where_other_numbers_have_a_point() -> None:
    log = read("Time;CO2 (ppm)\n2025-09-01 00:01;1,234\n2025-09-01 00:02;812.5\n2025-09-01 00:03;1,034.25\n")
    assert in_field(log, Quantity.CO2).tolist() == [1234.0, 812.5, 1034.25]


def test_a_comma_that_may_be_either_is_said() -> None:
    log = read("Time;CO2 (ppm)\n2025-09-01 00:01;1,234\n2025-09-01 00:02;1,034\n")
    assert "may be decimal signs or group thousands" in sentence(log, "log-decimal-unsure")


def test_an_unquoted_decimal_comma_in_a_table_cut_by_commas_sets_the_row_aside() -> None:
    log = read("Time,PM2.5,RH\n2025-09-01 00:01,12,5,40\n2025-09-01 00:02,12,41\n2025-09-01 00:03,11,41\n")
    assert "log-row-width" in codes(log)
    assert log.counts()["unreadable"] == 2
    assert log.counts()["kept"] == 4
    assert_accounted(log)


def test_lines_above_the_table_and_a_unit_line_beneath_the_header_are_headings() -> None:
    text = (
        "Logger report\nSerial;4711\nStarted;2025-09-01 00:00\n\n"
        "Datum;Uhrzeit;Feinstaub PM2,5;Temperatur;Luftfeuchte\n;;µg/m³;°C;%\n"
        "01.09.2025;00:01:00;12,5;21,0;45\n01.09.2025;00:02:00;13,5;21,1;46\n"
    )
    log = read(text, time_zone="UTC")
    file = log.files[0]
    assert (file.rows, file.heading_lines, file.blank_lines, file.lines) == (2, 5, 1, 8)
    assert in_field(log, Quantity.PM25).tolist() == [12.5, 13.5]
    assert in_field(log, Quantity.RELATIVE_HUMIDITY).tolist() == [45.0, 46.0]
    assert times(log, Quantity.PM25) == [utc("2025-09-01T00:00:30"), utc("2025-09-01T00:01:30")]


def test_repeated_headers_and_comments_are_counted_and_hold_no_reading() -> None:
    head = "Time,PM2.5 (ug/m3)\n"
    log = read(head + "2025-09-01 00:01,5\n" + head + "# battery changed\n2025-09-01 00:02,6\n" + head)
    assert in_field(log, Quantity.PM25).tolist() == [5.0, 6.0]
    assert log.files[0].heading_lines == 4
    assert "line 3" not in sentence(log, "log-header-repeated").split(":")[1]
    assert "lines 3, 6: the header occurs again 2 times" in sentence(log, "log-header-repeated")
    assert_accounted(log)


def test_a_different_header_inside_the_table_is_followed_and_said() -> None:
    log = read(
        "Time,PM2.5 (ug/m3),Temp (C)\n2025-09-01 00:01,5,20\n2025-09-01 00:02,6,20\n"
        "Time,Temp (C),PM2.5 (ug/m3)\n2025-09-01 00:03,21,7\n2025-09-01 00:04,21,8\n"
    )
    assert in_field(log, Quantity.PM25).tolist() == [5.0, 6.0, 7.0, 8.0]
    assert "line 4" in sentence(log, "log-columns-changed")
    assert_accounted(log)


def test_a_stray_quote_cannot_swallow_the_file() -> None:
    log = read('Time,PM2.5 (ug/m3),Note\n2025-09-01 00:01,5,"open\n2025-09-01 00:02,6,ok\n2025-09-01 00:03,7,ok\n')
    assert in_field(log, Quantity.PM25).tolist() == [5.0, 6.0, 7.0]
    assert log.files[0].rows == 3


def test_a_quoted_note_over_two_lines_is_one_row() -> None:
    text = (
        "Time,Note,PM2.5 (ug/m3)\n2025-09-01 00:01,ok,5\n"
        '2025-09-01 00:02,"window open\nthen closed",6\n2025-09-01 00:03,ok,7\n'
    )
    log = read(text)
    assert in_field(log, Quantity.PM25).tolist() == [5.0, 6.0, 7.0]
    assert (log.files[0].rows, log.files[0].lines) == (3, 4)


def test_rows_of_all_sorts_stay_in_their_lines() -> None:
    """Plain, quoted, short, long and blank lines mixed; against the standard library's csv, line by line."""
    rng = np.random.default_rng(4)
    sorts = (
        "{t},{a},{b}",
        '"{t}","{a}",{b}',
        "{t},{a}",
        "{t},{a},{b},",
        "{t},{a},{b},9",
        "",
        "# note,{a}",
        '{t},"{a}",{b}',
    )
    picked = rng.choice(len(sorts), size=400, p=[0.6, 0.1, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05])
    lines = [
        sorts[sort].format(t=f"2025-09-01 {row // 60:02d}:{row % 60:02d}", a=row, b=row / 2)
        for row, sort in enumerate(picked)
    ]
    log = read("Time,VOC index,PM2.5 (ug/m3)\n" + "\n".join(lines) + "\n")
    expected = {}
    for number, line in enumerate(lines, 2):
        cells = next(csv.reader([line])) if line else []
        if cells and not line.startswith("#"):
            expected[number] = float(cells[1]) if len(cells) < 4 or not cells[3] else np.nan
    voc = log.stream == log.streams.index(log.find(Quantity.VOC)[0])
    read_back = dict(zip(log.line[voc].tolist(), log.value[voc].tolist(), strict=True))
    assert list(read_back) == list(expected)
    np.testing.assert_array_equal(list(read_back.values()), list(expected.values()))
    assert log.files[0].heading_lines == 1 + sum(line.startswith("#") for line in lines)
    assert_accounted(log)


def test_bytes_are_digested_as_received_and_unpacked_for_reading() -> None:
    text = "Time,PM2.5 (ug/m3)\n2025-09-01 00:01,5\n2025-09-01 00:02,6\n"
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("log.csv", text)
    for content in (text.encode(), gzip.compress(text.encode()), packed.getvalue()):
        log = read(content)
        assert in_field(log, Quantity.PM25).tolist() == [5.0, 6.0]
        assert log.files[0].sha256 == hashlib.sha256(content).hexdigest()


def test_an_archive_of_two_tables_is_refused_by_name() -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("a.csv", "x")
        archive.writestr("b.csv", "y")
    assert "holds 2 files (a.csv, b.csv)" in sentence(read(packed.getvalue()), "log-archive-unreadable")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_encodings_are_told_apart(encoding: str) -> None:
    text = "Time,PM2.5 (µg/m³),Température (°C)\r\n" + "2025-09-01 00:01,5,20.5\r\n" * 3
    log = read(text.encode(encoding))
    assert_allclose(log.value[log.stream == 1], 293.65, rtol=1e-12)
    assert ("log-encoding-assumed" in codes(log)) is (encoding == "cp1252")


def test_empty_cells_and_words_for_nothing_are_counted_but_are_no_readings() -> None:
    log = read("Time,PM2.5 (ug/m3),RH (%)\n2025-09-01 00:01,5,NA\n2025-09-01 00:02,,41\n2025-09-01 00:03,-inf,4l\n")
    file = log.files[0]
    assert (file.slots, file.empty, file.cells) == (6, 2, 4)
    assert log.counts()["unreadable"] == 2
    assert [p.found for p in log.problems if p.code == "log-cell-unreadable"] == [
        'column "PM2.5 (ug/m3)" holds "-inf"',
        'column "RH (%)" holds "4l"',
    ]
    assert_accounted(log)


def test_a_file_without_header_is_read_by_numbers_of_columns() -> None:
    text = "2025-09-01 00:01,5,20\n2025-09-01 00:02,6,21\n"
    assert "log-header-missing" in codes(read(text))
    log = read(text, columns=(("#2", "pm25 ug/m3"), ("#3", "temperature degC")))
    assert in_field(log, Quantity.PM25).tolist() == [5.0, 6.0]


@pytest.mark.parametrize(
    "content", [b"", b"\n\n", b"only one line", b"\x00\x00\x00", b"PK\x03\x04broken", b"\x1f\x8bbroken"]
)
def test_files_without_a_table_are_a_problem(content: bytes) -> None:
    log = read(content)
    assert log.time.size == 0
    assert codes(log) & {"log-file-empty", "log-archive-unreadable", "log-quantity-missing"}
    assert_accounted(log)


def test_a_missing_file_is_a_problem(tmp_path: object) -> None:
    from pathlib import Path

    from airtally.readings import Source, read_log

    log = read_log([Source(content=Path(str(tmp_path)) / "gone.csv", name="gone.csv", placement="x")])
    assert sentence(log, "log-file-missing").startswith("gone.csv: the file could not be read")


def test_the_same_file_twice_is_said() -> None:
    from airtally.readings import Source, read_log, screen_log

    text = b"Time,PM2.5 (ug/m3)\n2025-09-01 00:01,5\n2025-09-01 00:02,6\n"
    log = screen_log(read_log([Source(content=text, name=name, placement="x") for name in ("a.csv", "b.csv")]))
    assert sentence(log, "log-same-file-twice").startswith("b.csv: the same bytes as a.csv")
    assert log.counts()["duplicate"] == 2
    assert_accounted(log)
