"""Sizes of the two sheets of the cut, and where words and ends of ribbons stand on them."""

from __future__ import annotations

from dataclasses import dataclass

from airtally.report.account_rows import STORED
from airtally.report.cut.signs import SIGN
from airtally.report.cut.streams import Stream
from airtally.report.hookup_svg import ROOM_FOR_OTHER_FONTS, text_width

RING = 13.0
"""Half of a folio mark with the ring in the colour of its source. [px]"""
NAME, LEADING = 13.0, 16.0
"""Size of words, and from line to line. [px]"""
GAP = 5.0
"""Between two lanes. [px]"""
LIFT = 6.0
"""Of words above what a leaving ribbon ends in. [px]"""
BEND = 8.0
"""Inner radius of a ribbon that turns. [px]"""
SHORT_NAMES = {
    "outdoor": "outdoors",
    "air_exchange": "outdoors",
    "settling": "settled",
    "portable": "cleaner",
    STORED: "in the air",
}
"""Where the whole name does not fit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """Of one kind of sheet. [px]

    Attributes
    ----------
    width : float
        Of the sheet.
    left, rooms_right, mixed, right : float
        House wall, end of the rooms, left edge of the mixed air, house wall.
    most_rooms : int
        In one row.
    mixed_height : float
        Of the mixed air of the phase in which most moves.
    head : float
        Kept free above the mixed air.
    has_values : bool
        Names and figures stand at the ribbons; else the table alone has them.
    """

    width: float
    left: float
    rooms_right: float
    mixed: float
    right: float
    most_rooms: int
    mixed_height: float
    head: float
    has_values: bool


MIXED_WIDTH = 8.0
WIDE = Measures(
    width=756.0, left=108.0, rooms_right=396.0, mixed=476.0, right=740.0, most_rooms=3, mixed_height=124.0, head=88.0,
    has_values=True,
)  # fmt: skip
PHONE = Measures(
    width=358.0, left=58.0, rooms_right=142.0, mixed=176.0, right=352.0, most_rooms=1, mixed_height=100.0, head=66.0,
    has_values=False,
)  # fmt: skip


def label_left(x: float) -> float:
    """Return where words at a ribbon begin that begins at the sign at x. [px]"""
    return x + SIGN + 2.0 * RING + 6.0


def label_rise(stream: Stream, *, is_outdoor: bool) -> float:
    """Return how far above the middle of an entering ribbon its words stand; outdoors they stand above the mark."""
    return max(0.5 * stream.width, RING if is_outdoor else 1.0) + 4.0


def object_half(stream: Stream) -> float:
    """Return half the height of what a ribbon ends in. [px]"""
    if stream.line.kind == "settling":
        return max(0.5 * stream.width, RING)
    return max(0.5 * stream.width + 4.0, 14.0)


def right_words(measures: Measures) -> float:
    """Return where the words of leaving ribbons begin: right of their ticks. [px]"""
    return right_straight(measures) + 16.0


def right_straight(measures: Measures) -> float:
    """Return where leaving ribbons lie level. [px]"""
    return measures.mixed + MIXED_WIDTH + (56.0 if measures.has_values else 26.0)


def right_end(measures: Measures) -> float:
    """Return where leaving ribbons and what they end in stop; air handler and supply duct stand beyond. [px]"""
    return measures.right - 50.0


def first_that_fits(stream: Stream, room: float, measures: Measures) -> str:
    """Return name with value, the name, or a shorter name: the first that fits; else nothing. [px]"""
    name = stream.line.name
    short = SHORT_NAMES.get(stream.line.kind, name)
    texts = [f"{name} {stream.text}", f"{short} {stream.text}"] if measures.has_values else []
    for text in [*texts, name, short]:
        if text_width(text, NAME, 600) * ROOM_FOR_OTHER_FONTS <= room:
            return text
    return ""
