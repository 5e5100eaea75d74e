"""All streams of a job on one axis of time, the fan and the events with them: nouns and drawing.

Kept readings are ink; what was set aside is dotted; where nothing was read is hatched. A line is never drawn over a gap.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import ceil, floor, log10
from zoneinfo import ZoneInfo

import numpy as np

from airtally.arrays import Booleans, Floats
from airtally.report.drawing import HAIR, INK, INK_2
from airtally.report.hookup_svg import filled, mark, path, sheet, text_width, words_at
from airtally.report.words import quantity_word, unit_word


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamView:
    """One stream in a window of time, in its field unit.

    Attributes
    ----------
    name, unit : str
        ``placement/quantity``, and the field unit of the values.
    low, high : arrays, shape (stretches,)
        Kept readings; NaN where none is.
    aside_low, aside_high : arrays, shape (stretches,)
        Readings set aside.
    read, kept : int
        In the window.
    reasons : mapping
        Readings set aside by reason.
    starts_at_zero : bool
        Whether zero belongs on the axis.
    """

    name: str
    unit: str
    low: Floats
    high: Floats
    aside_low: Floats
    aside_high: Floats
    read: int
    kept: int
    reasons: Mapping[str, int]
    starts_at_zero: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamSheet:
    """All streams of a window, when the fan ran, and the events found in it or told by the diary.

    Attributes
    ----------
    begin, end : float
        The window. [s, POSIX UTC]
    first, last : float
        Of all readings. [s, POSIX UTC]
    fan : sequence of (start, end, level), or None
        Spells of the fan, level 1 circulating, 2 heating; None where nothing says when it ran.
    events : sequence of (start, kind, found in)
    """

    begin: float
    end: float
    first: float
    last: float
    streams: tuple[StreamView, ...]
    fan: tuple[tuple[float, float, int], ...] | None
    events: tuple[tuple[float, str, str], ...]


STRIP = 64.0
"""Height of a stream's strip. [px]"""
HEAD = 22.0
"""Height of a strip's name above it. [px]"""
MARGIN = 62.0
"""Left of the strips, for the numbers of their axes. [px]"""
LONGEST_JOIN = 3
"""Empty stretches over which a line is still drawn: a logger of a minute in stretches of half a minute."""
MOST_MARKS = 40
"""More events than this in a window are shown as ticks without their marks."""
STEPS = (300, 900, 1800, 3600, 10800, 21600, 43200, 86400, 2 * 86400, 7 * 86400, 14 * 86400, 28 * 86400)
"""Steps of the axis of time. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """The axis of time on a sheet."""

    sheet: StreamSheet
    width: float
    zone: str

    def at(self, time: float) -> float:
        """Return where an instant lies, inside the strips. [px]"""
        share = (time - self.sheet.begin) / (self.sheet.end - self.sheet.begin)
        return MARGIN + min(max(share, 0.0), 1.0) * (self.width - MARGIN - 12.0)


def event_marks(sheet_: StreamSheet) -> tuple[tuple[str, str], ...]:
    """Return a mark and the kind of events it stands for, in the order in which kinds first occur."""
    kinds = tuple(dict.fromkeys(kind for _, kind, _ in sheet_.events))
    return tuple((chr(ord("a") + index), kind) for index, kind in enumerate(kinds))


def streams_drawing(sheet_: StreamSheet, *, zone: str, width: float, sentence: str) -> str:
    """Return the drawing. ``width`` of the sheet [px]; times in the home's zone; ``sentence`` for those who hear it."""
    axis = Axis(sheet=sheet_, width=width, zone=zone)
    strokes: list[str] = [*_gap_pattern()]
    top = 10.0
    strips_top = top
    body: list[str] = []
    if sheet_.fan is not None:
        body += _fan(axis, top)
        top += HEAD + 26.0
    for stream in sheet_.streams:
        body += _strip(axis, stream, top)
        top += HEAD + (STRIP + 12.0 if stream.read else 4.0)
    if sheet_.events:
        body += _events(axis, top)
        top += HEAD + 26.0
    strokes += _ticks(axis, strips_top, top)
    strokes += body
    return sheet(tuple(strokes), width=width, height=top + 30.0, title="Readings", sentence=sentence, prefix="streams")


def _gap_pattern() -> tuple[str, ...]:
    return (
        '<defs><pattern id="nothing" width="6" height="6" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0,0V6" stroke="{INK_2}" stroke-width="1"/></pattern></defs>',
    )


def _ticks(axis: Axis, top: float, bottom: float) -> list[str]:
    """Return upright hairs at round local times, the day under each midnight and the hour under the rest."""
    window = axis.sheet.end - axis.sheet.begin
    room = (axis.width - MARGIN) / 64.0
    step = next((one for one in STEPS if window / one <= room), STEPS[-1])
    zone = ZoneInfo(axis.zone)
    strokes = []
    first = datetime.fromtimestamp(axis.sheet.begin, tz=UTC).astimezone(zone)
    midnight = first.replace(hour=0, minute=0, second=0, microsecond=0)
    count = ceil((axis.sheet.end - midnight.timestamp()) / step) + 1
    right = 0.0
    for number in range(count):
        wall = midnight.replace(tzinfo=None) + timedelta(seconds=number * step)  # wall time: steps of the clock on it
        time = wall.replace(tzinfo=zone).timestamp()
        if not axis.sheet.begin <= time < axis.sheet.end:
            continue
        x = axis.at(time)
        strokes.append(path(f"M{x:.1f},{top:g}V{bottom:g}", width=0.8, stroke=HAIR))
        text = f"{wall.day} {wall:%b}" if wall.hour == wall.minute == 0 else f"{wall:%H:%M}"
        half = 0.5 * text_width(text, 13.0)
        if x - half > right and x + half < axis.width:
            strokes.append(words_at(round(x, 1), bottom + 16.0, text, size=13.0, anchor="middle", fill=INK_2))
            right = x + half + 8.0
    return strokes


def _fan(axis: Axis, top: float) -> list[str]:
    """Return the fan's strip: whole bar heating or cooling, half bar circulating, nothing off."""
    base = top + HEAD + 18.0
    strokes = [
        words_at(MARGIN, top + 15.0, "central fan", size=13.0, weight=600),
        path(f"M{MARGIN:g},{base:g}H{axis.width - 12.0:g}", width=0.8, stroke=INK_2),
    ]  # fmt: skip
    bars: dict[float, list[str]] = {9.0: [], 18.0: []}
    for start, end, level in axis.sheet.fan or ():
        height = 18.0 if level > 1 else 9.0
        left = axis.at(start)
        bars[height].append(f"M{left:.1f},{base:g}v{-height:g}H{max(axis.at(end), left + 0.6):.1f}v{height:g}z")
    return strokes + [path("".join(one), width=0.2, fill=INK) for one in bars.values() if one]


def _strip(axis: Axis, stream: StreamView, top: float) -> list[str]:
    """Return one stream: name and unit, axis from zero where zero belongs, kept line, dotted line, hatched gaps."""
    above = top + HEAD
    place, _, quantity = stream.name.partition("/")
    name = f"{place}, {quantity_word(quantity)}, {unit_word(stream.unit)}".removesuffix(", -")
    if not stream.read:
        return [words_at(MARGIN, top + 15.0, f"{name}: nothing was read here", size=13.0, fill=INK_2)]
    strokes = [words_at(MARGIN, top + 15.0, name, size=13.5, weight=600)]
    known = np.concatenate([stream.low, stream.high, stream.aside_low, stream.aside_high])
    known = known[np.isfinite(known)]
    if not known.size:
        return [*strokes, words_at(MARGIN, above + 30.0, "no number could be read", size=13.0, fill=INK_2)]
    low, high = nice_range(float(known.min()), float(known.max()), has_zero=stream.starts_at_zero)
    strokes += [
        path(f"M{MARGIN:g},{above:g}H{axis.width - 12.0:g}M{MARGIN:g},{above + STRIP:g}H{axis.width - 12.0:g}", width=0.8, stroke=INK_2),
        words_at(MARGIN - 6.0, above + 10.0, _axis_number(high), size=13.0, anchor="end", fill=INK_2),
        words_at(MARGIN - 6.0, above + STRIP, _axis_number(low), size=13.0, anchor="end", fill=INK_2),
    ]  # fmt: skip
    x = np.linspace(MARGIN, axis.width - 12.0, stream.low.size + 1)
    is_read = np.isfinite(stream.low) | np.isfinite(stream.aside_low)
    for start, end in runs(~is_read):
        if end - start > LONGEST_JOIN:
            left, wide = float(x[start]), float(x[end] - x[start])
            strokes.append(filled(round(left, 1), above, round(wide, 1), STRIP, "url(#nothing)"))
    scale = STRIP / (high - low)
    middle = 0.5 * (x[:-1] + x[1:])
    for lower, upper, width, colour, dash in (
        (stream.aside_low, stream.aside_high, 1.2, INK_2, "1.5 2.5"),
        (stream.low, stream.high, 1.2, INK, ""),
    ):
        line = _line(middle, above + STRIP - (lower - low) * scale, above + STRIP - (upper - low) * scale)
        if line:
            strokes.append(path(line, width=width, stroke=colour, dash=dash))
    return strokes


def _line(x: Floats, lower: Floats, upper: Floats) -> str:
    """Return a path through lowest and highest of each stretch, broken where nothing was read."""
    known = np.flatnonzero(np.isfinite(lower))
    parts = []
    for number, index in enumerate(known):
        is_joined = number > 0 and index - known[number - 1] <= LONGEST_JOIN + 1
        parts.append(f"{'L' if is_joined else 'M'}{x[index]:.1f},{lower[index]:.1f}V{upper[index] - 0.01:.1f}")
    return "".join(parts)


def _events(axis: Axis, top: float) -> list[str]:
    """Return the events as ticks on one row, with their marks where there is room for them."""
    strokes = [
        words_at(MARGIN, top + 15.0, "events, found in the readings or told by the diary", size=13.0, weight=600)
    ]
    marks = {kind: letter for letter, kind in event_marks(axis.sheet)}
    right = 0.0
    for time, kind, found_in in axis.sheet.events:
        x = axis.at(time)
        strokes.append(path(f"M{x:.1f},{top + HEAD:g}v8", width=1.4, dash="" if found_in == "data" else "2 2"))
        if len(axis.sheet.events) <= MOST_MARKS and x - 10.0 > right:
            strokes.append(mark(round(x, 1), top + HEAD + 18.0, marks[kind]))
            right = x + 10.0
    return strokes


def nice_range(low: float, high: float, *, has_zero: bool) -> tuple[float, float]:
    """Return round ends of an axis that holds low and high, and zero where it belongs."""
    if has_zero:
        low = min(low, 0.0)
    spread = max(high - low, 1e-9, 1e-6 * abs(high))
    step = 10.0 ** floor(log10(spread))
    step = next(one for one in (0.1 * step, 0.2 * step, 0.5 * step, step) if spread / one <= 10.0)
    return floor(low / step) * step, max(ceil(high / step), floor(low / step) + 1) * step


def runs(where: Booleans) -> list[tuple[int, int]]:
    """Return begin and end, half-open, of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], where, [False]]).astype(np.int8)))
    return [(int(start), int(end)) for start, end in zip(edges[::2], edges[1::2], strict=True)]


def _axis_number(value: float) -> str:
    return f"{value:,.6g}".replace("-", "\u2212") if abs(value) < 1e6 else f"{value:.3g}"


def reasons_text(reasons: Mapping[str, int]) -> str:
    """Return why readings were set aside, with counts."""
    return "; ".join(f"{reason} {count:,}" for reason, count in reasons.items())
