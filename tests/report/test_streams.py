"""The sheet of streams: kept, set aside and not read stay apart; axes, words and marks stay in their frame."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from airtally.report.streams import (
    StreamSheet,
    StreamView,
    event_marks,
    nice_range,
    reasons_text,
    runs,
    streams_drawing,
)

NOTHING = np.full(100, np.nan)


def view(**changed: object) -> StreamView:
    """Return a stream of a hundred stretches, its middle not read."""
    low = np.concatenate([np.full(40, 5.0), np.full(20, np.nan), np.full(40, 9.0)])
    parts: dict[str, object] = {
        "name": "shelf/pm25",
        "unit": "ug/m3",
        "low": low,
        "high": low + 2.0,
        "aside_low": NOTHING,
        "aside_high": NOTHING,
        "read": 80,
        "kept": 80,
        "reasons": {},
        "starts_at_zero": True,
    }
    return StreamView(**(parts | changed))  # type: ignore[arg-type]


def sheet(*streams: StreamView, **changed: object) -> StreamSheet:
    """Return a sheet of one winter day."""
    parts: dict[str, object] = {
        "begin": 1_767_225_600.0,
        "end": 1_767_312_000.0,
        "first": 1_767_225_600.0,
        "last": 1_767_312_000.0,
        "streams": streams,
        "fan": None,
        "events": (),
    }
    return StreamSheet(**(parts | changed))  # type: ignore[arg-type]


def drawn(one: StreamSheet, width: float = 358.0) -> ElementTree.Element:
    """Return the drawing read as XML."""
    text = streams_drawing(one, zone="America/Denver", width=width, sentence="A sentence.")
    return ElementTree.fromstring(text)  # noqa: S314 - our own drawing


def texts(root: ElementTree.Element) -> list[str]:
    """Return the words of a drawing."""
    return [node.text or "" for node in root.iter("{http://www.w3.org/2000/svg}text")]


def test_a_stretch_that_was_not_read_is_hatched_and_no_line_crosses_it() -> None:
    text = streams_drawing(sheet(view()), zone="UTC", width=358.0, sentence="s")
    assert text.count('fill="url(#nothing)"') == 1
    (line,) = re.findall(r'<path d="(M[^"]*L[^"]*)"', text)
    assert line.count("M") == 2  # one before the gap, one behind it


def test_readings_set_aside_are_dotted_and_kept_ones_are_not() -> None:
    aside = np.concatenate([np.full(40, np.nan), np.full(20, 30.0), np.full(40, np.nan)])
    text = streams_drawing(sheet(view(aside_low=aside, aside_high=aside)), zone="UTC", width=358.0, sentence="s")
    assert 'fill="url(#nothing)"' not in text
    assert text.count('stroke-dasharray="1.5 2.5"') == 1


def test_a_stream_without_readings_in_the_window_says_so() -> None:
    root = drawn(sheet(view(low=NOTHING, high=NOTHING, read=0, kept=0)))
    assert any("nothing was read here" in text for text in texts(root))


def test_axis_ends_carry_the_unit_and_hold_every_value() -> None:
    words = texts(drawn(sheet(view())))
    assert "shelf, PM2.5, µg/m³" in words
    assert {"0", "12"} <= set(words)  # 0 to 11, at round ends


def test_midnight_is_named_by_its_day_in_the_homes_zone() -> None:
    assert "1 Jan" in texts(drawn(sheet(view()), 1130.0))  # 07:00 UTC is midnight there


def test_fan_and_events_stand_on_rows_of_their_own_with_marks() -> None:
    one = sheet(
        view(),
        fan=((1_767_230_000.0, 1_767_233_600.0, 1), (1_767_240_000.0, 1_767_243_600.0, 2)),
        events=((1_767_231_000.0, "cooking", "data"), (1_767_290_000.0, "solid_fuel", "diary")),
    )
    assert event_marks(one) == (("a", "cooking"), ("b", "solid_fuel"))
    words = texts(drawn(one, 1130.0))
    assert "central fan" in words
    assert {"a", "b"} <= set(words)


def test_reasons_are_counted_in_words() -> None:
    assert reasons_text({"masked fan off": 1200, "railed": 3}) == "masked fan off 1,200; railed 3"


@given(low=st.floats(-1e5, 1e5), spread=st.floats(0.0, 1e5), has_zero=st.booleans())
def test_round_ends_hold_the_readings(low: float, spread: float, *, has_zero: bool) -> None:
    bottom, top = nice_range(low, low + spread, has_zero=has_zero)
    slack = 1e-6 * max(abs(low), abs(low + spread), 1.0)
    assert bottom <= low + slack
    assert top >= low + spread - slack
    assert top > bottom
    if has_zero and low >= 0.0:
        assert bottom == 0.0


@pytest.mark.parametrize(
    ("where", "found"), [([], []), ([True], [(0, 1)]), ([False, True, True, False, True], [(1, 3), (4, 5)])]
)
def test_runs_are_half_open(where: list[bool], found: list[tuple[int, int]]) -> None:
    assert runs(np.array(where, dtype=bool)) == found
