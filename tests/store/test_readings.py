"""Readings kept in blocks are those that were read, bit for bit, and are read again where anything differs."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import delete
from tests.store.conftest import SURVEY

from airtally.readings import read
from airtally.readings.kept import log_key
from airtally.readings.log import Log
from airtally.readings.read import read_log
from airtally.readings.source import Source
from airtally.store.engine import Store
from airtally.store.models import ReadingBlock
from airtally.store.readings import ROWS, KeptReadings

HEAD = b"time,pm2.5 (ug/m3),Temperature (F)\n"


def table(rows: int) -> bytes:
    lines = [
        f"2025-01-{1 + n // 1440 % 28:02d} {n // 60 % 24:02d}:{n % 60:02d}:00,{n % 97 / 7:.3f},{60 + n % 11}\n"
        for n in range(rows)
    ]
    lines[5] = "2025-01-01 00:05:00,n/a,broken\n"
    return HEAD + "".join(lines).encode()


def sources(*contents: bytes) -> list[Source]:
    return [Source(content=c, name=f"logs/{n}.csv", placement=f"place {n}") for n, c in enumerate(contents)]


def same(one: Log, other: Log) -> bool:
    """Return whether two logs are equal in every bit."""
    return all(
        a.tobytes() == b.tobytes() and a.dtype == b.dtype if isinstance(a, np.ndarray) else a == b
        for a, b in ((getattr(one, f.name), getattr(other, f.name)) for f in fields(Log))
    )


def test_kept_readings_are_those_that_were_read(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    given = sources(table(2 * ROWS + 7), b"no table at all", table(40), b"", table(40))
    plain = read_log(given)
    readable = read_log([given[0], given[2]])
    assert plain.time.size > 4 * ROWS
    assert plain.problems
    assert not plain.kept.all()
    kept = KeptReadings(store)
    assert same(read_log(given, kept), plain)
    monkeypatch.delattr(read, "read_sheet")  # whoever reads a text now fails
    assert same(read_log([given[0], given[2]], kept), readable)


def test_another_file_or_another_word_about_it_is_read_anew() -> None:
    (source,) = sources(table(10))
    key = log_key("0" * 64, source)
    assert log_key("0" * 64, replace(source, content=b"other")) == key
    assert log_key("1" * 64, source) != key
    for other in (
        replace(source, name="logs/x.csv"),
        replace(source, placement="elsewhere"),
        replace(source, time_zone="America/Denver"),
        replace(source, interval=60.0),
        replace(source, columns=(("#2", "pm10 ug/m3"),)),
        replace(source, day_first=True),
        replace(source, since=5.0),
    ):
        assert log_key("0" * 64, other) != key


def test_what_is_not_whole_is_read_again(store: Store) -> None:
    given = sources(table(ROWS + 3))
    kept = KeptReadings(store)
    plain = read_log(given, kept)
    with store.write() as session:
        session.execute(delete(ReadingBlock).where(ReadingBlock.number == 1, ReadingBlock.column == "value"))
    assert same(read_log(given, kept), plain)


def test_a_job_is_read_alike_with_its_readings_kept(store: Store, tmp_path: Path) -> None:
    from airtally.jobs.inputs import read_inputs

    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "living.csv").write_bytes(table(500))
    (tmp_path / "survey.toml").write_text(
        SURVEY.replace("[home]", '[home]\nid = "lane"\nelevation = "1000 m"')
        + '\n[[instrument]]\nid = "monitor"\nquantities = ["pm25", "temperature"]\n'
        + '\n[[placement]]\nid = "living"\ninstrument = "monitor"\nair_side = "outdoor"\n'
        + '\n[[log]]\nfile = "logs/living.csv"\nplacement = "living"\n'
    )
    plain = read_inputs(tmp_path, lambda _: None)
    assert plain.log.time.size == 2 * 500 - 1  # "n/a" is an empty cell
    kept = KeptReadings(store)
    for _ in range(2):
        again = read_inputs(tmp_path, lambda _: None, kept)
        assert same(again.log, plain.log)
        assert (again.problems, again.digests) == (plain.problems, plain.digests)
