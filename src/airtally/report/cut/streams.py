"""The account's lines as streams of air: which side of the mixed air they stand on, and how wide they are drawn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from airtally.report.account_rows import NOT_ASSIGNED, AccountLine, AccountRows
from airtally.report.drawing import INK, LEAF
from airtally.report.hookup_svg import path

SOURCE_COLOURS = {
    "outdoor": "#332288",
    "cooking": "#DDCC77",
    "solid_fuel": "#882255",
    "other": "#44AA99",
    "garage": "#AA4499",
    "buffer_space": "#999933",
    "candle_incense": "#CC6677",
    "duct_dust": "#88CCEE",
    "resuspension": "#117733",
}
"""Paul Tol's qualitative scheme 'muted', published as fit for colour-blind readers; colour means source only."""
MIXED = "#B4AB9C"
"""Mixed air: its source is no longer known."""
EDGE = 0.8
"""Ink line along both sides of a ribbon. [px]"""
LEAST_TICKED = 4.0
"""Ticks of a narrower ribbon would fall into one. [px]"""
DOTS = "1.5 3"
"""Of a stream that is zero or not known."""
DASHES = "5 3"
"""Of what is not assigned."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """One line of the account as it flows.

    Attributes
    ----------
    line : AccountLine
    is_entering : bool
        Stands left of the mixed air. A line below zero stands on the other side than its column.
    width : float
        To scale. [px]
    narrow, wide : float
        Width at the ends of the interval. [px]
    text : str
        The value as the table prints it.
    """

    line: AccountLine
    is_entering: bool
    width: float
    narrow: float
    wide: float
    text: str

    @property
    def has_interval(self) -> bool:
        """Whether ticks can be drawn apart; the table has every interval."""
        return self.wide > self.narrow and self.wide >= LEAST_TICKED

    @property
    def colour(self) -> str:
        """Fill of the ribbon: of its source until it mixes, then grey."""
        if self.line.kind == NOT_ASSIGNED:
            return LEAF
        return SOURCE_COLOURS.get(self.line.kind, MIXED) if self.is_entering else MIXED

    @property
    def dash(self) -> str:
        """Dashes of its edge."""
        if self.width <= 0.0:
            return DOTS
        return DASHES if self.line.kind == NOT_ASSIGNED else ""


def streams_of(rows: AccountRows, scale: float) -> tuple[Stream, ...]:
    """Return the lines that the phase has as streams. ``scale`` is in px per printed unit."""
    entering = [_stream(rows, line, scale, is_entering=True) for line in rows.entering if line.now is not None]
    leaving = [_stream(rows, line, scale, is_entering=False) for line in rows.leaving if line.now is not None]
    return (*entering, *leaving)


def _stream(rows: AccountRows, line: AccountLine, scale: float, *, is_entering: bool) -> Stream:
    quantity: Mapping[str, Any] = line.now or {}
    value = (quantity["value"] or 0.0) * rows.factor
    sign = -1.0 if value < 0.0 else 1.0
    ends = [sign * end * rows.factor for end in (quantity["low"], quantity["high"]) if end is not None]
    low, high = (max(min(ends), 0.0), max(*ends, 0.0)) if len(ends) == 2 else (abs(value), abs(value))
    return Stream(
        line=line,
        is_entering=is_entering == (sign > 0.0),
        width=abs(value) * scale,
        narrow=low * scale,
        wide=high * scale,
        text=rows.figure(quantity),
    )


def height_of(streams: Sequence[Stream], *, is_entering: bool) -> float:
    """Return how high one side of the mixed air stands. [px]"""
    return sum(stream.width for stream in streams if stream.is_entering == is_entering)


def ribbon(
    stream: Stream, start: float, straight: float, end: float, y: float, slot: float, *, is_open: bool = False
) -> str:
    """Return a ribbon that lies at ``y`` from ``start`` to ``straight`` and swings to ``slot`` at ``end``. [px]

    Its width is measured upright everywhere, so that ribbons in one order at both ends cannot cross between.
    ``y`` and ``slot`` are its middle; an open one has no edge at its start, where another piece goes on.
    """
    half, middle = 0.5 * stream.width, 0.5 * (straight + end)

    def swing(offset: float) -> str:
        return f"C{middle:g},{y + offset:.3f} {middle:g},{slot + offset:.3f} {end:g},{slot + offset:.3f}"

    def back(offset: float) -> str:
        return f"C{middle:g},{slot + offset:.3f} {middle:g},{y + offset:.3f} {straight:g},{y + offset:.3f}"

    if stream.width <= 0.0:
        return path(f"M{start:g},{y:.3f}H{straight:g}{swing(0.0)}", width=1.2, dash=DOTS)
    d = f"M{start:g},{y - half:.3f}H{straight:g}{swing(-half)}V{slot + half:.3f}{back(half)}H{start:g}"
    return path(d + ("" if is_open or stream.dash else "Z"), width=EDGE, fill=stream.colour, dash=stream.dash)


def ticks(stream: Stream, x: float, y: float, most: float, *, is_upright: bool = False) -> str:
    """Return ticks across a ribbon at its lowest and highest width; an end beyond ``most`` is an arrow head. [px]"""
    if not stream.has_interval:
        return ""
    d = ""
    for side in (-1.0, 1.0):
        near, far = side * 0.5 * stream.narrow, side * 0.5 * min(stream.wide, most)
        if is_upright:
            d += f"M{x + near:g},{y - 4:g}v8M{x + near:g},{y:g}H{x + far:g}"
            d += f"m{-4 * side:g},-4l{4 * side:g},4l{-4 * side:g},4" if stream.wide > most else "m0,-4v8"
        else:
            d += f"M{x - 4:g},{y + near:g}h8M{x:g},{y + near:g}V{y + far:g}"
            d += f"m-4,{-4 * side:g}l4,{4 * side:g}l4,{-4 * side:g}" if stream.wide > most else "m-4,0h8"
    # A light line below the ink keeps the ticks readable on the dark ribbons.
    return path(d, width=3.2, stroke=LEAF) + path(d, width=1.3, stroke=INK)
