"""Where everything on a cut through a house stands: rows of rooms, a lane for each stream, the mixed air between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from airtally.report.account_rows import NOT_ASSIGNED, STORED
from airtally.report.cut.measures import (
    GAP,
    LEADING,
    LIFT,
    MIXED_WIDTH,
    NAME,
    RING,
    Measures,
    first_that_fits,
    label_left,
    label_rise,
    object_half,
    right_end,
    right_words,
)
from airtally.report.cut.rooms import INNER, INSET, HouseFacts, Row, Space, cells_of, fitted, rows_of
from airtally.report.cut.streams import Stream, height_of

ORDER_OUT = ("filter", "cleaner", "portable", "other", STORED, NOT_ASSIGNED, "settling")
"""Lanes right of the mixed air from the top; what is carried outdoors leaves above them, what settles lies lowest."""
PLACELESS = ("outdoor", NOT_ASSIGNED, STORED)
"""Kinds that begin in no room."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """A level strip in which one stream lies, or only the sign of a source without a stream.

    Attributes
    ----------
    kind, way : str
        Source or sink key, and its path in words.
    stream : Stream or None
    x, y : float
        Left end and middle. [px]
    above, below : float
        What the strip takes on both sides of its middle. [px]
    label : str
        Words above the ribbon; may be empty.
    slot : float
        Middle of its place at the mixed air. [px]
    """

    kind: str
    way: str
    stream: Stream | None
    x: float
    y: float
    above: float
    below: float
    label: str
    slot: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A space on the drawing: its edges and the lines of its name and notes. [px]"""

    space: Space
    x: float
    width: float
    names: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedRow:
    """A row with its place. [px]"""

    row: Row
    cells: tuple[Cell, ...]
    top: float
    bottom: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The whole cut. All places in px.

    Attributes
    ----------
    measures : Measures
    rows : tuple of PlacedRow
        From the roof down.
    left, right : tuple of Lane
        In order from the top, as at the mixed air.
    stack : Stream or None
        What is carried outdoors.
    mixed_top, mixed_height : float
    inner_top, inner_bottom : float
        Of the part of the house whose air is mixed.
    ground : float
        Height of the ground outside.
    unplaced : tuple of str
        Marks of the streams that begin in a room of which nobody wrote down which it is.
    """

    measures: Measures
    rows: tuple[PlacedRow, ...]
    left: tuple[Lane, ...]
    right: tuple[Lane, ...]
    stack: Stream | None
    mixed_top: float
    mixed_height: float
    inner_top: float
    inner_bottom: float
    ground: float
    unplaced: tuple[str, ...]

    @property
    def top(self) -> float:
        """Eaves."""
        return self.rows[0].top

    @property
    def bottom(self) -> float:
        """Lowest floor."""
        return self.rows[-1].bottom


def plan_of(facts: HouseFacts, streams: Sequence[Stream], measures: Measures, top: float) -> Plan:
    """Return the plan of a house whose eaves stand at ``top``, with its streams; without streams the house alone."""
    rows = rows_of(facts.spaces, measures.most_rooms)
    inner = [index for index, row in enumerate(rows) if not row.is_buffer] or [0, len(rows) - 1]
    first, last = inner[0], inner[-1]
    while last + 1 < len(rows) and rows[last + 1].floor >= 0:
        last += 1  # a garage on the ground stands beside the mixed air, not below it
    at_ground = [
        index for index in inner if rows[index].floor == min((f for f in _floors(rows, inner) if f >= 0), default=99)
    ]
    main = (at_ground or inner)[0]

    cells = [_cells(row, measures) for row in rows]
    entering = _left_lanes(facts, streams, measures, cells, main)
    stack = next((one for one in streams if not one.is_entering and one.line.kind == "air_exchange"), None)
    leaving = _right_lanes(streams, measures)
    mixed_height = max(height_of(streams, is_entering=side) for side in (True, False))
    stack_width = stack.width if stack else 0.0
    heads = [_head_height(row) for row in cells]
    heights = [
        max(head + sum(lane.above + lane.below + GAP for lane in lanes) + 8.0, 36.0)
        for head, lanes in zip(heads, entering, strict=True)
    ]
    below_stack = GAP + sum(lane.above + lane.below + GAP for lane in leaving)
    wanted = measures.head + max(stack_width + below_stack + 18.0, mixed_height + 12.0)
    heights[main] += max(0.0, wanted - sum(heights[first : last + 1]))

    placed: list[PlacedRow] = []
    left: list[Lane] = []
    at = top
    for row, row_cells, head, height, lanes in zip(rows, cells, heads, heights, entering, strict=True):
        placed.append(PlacedRow(row=row, cells=row_cells, top=at, bottom=at + height))
        left += _stacked(lanes, at + head)
        at += height
    inner_top, inner_bottom = placed[first].top, placed[last].bottom
    weights = [(lane.y, lane.stream.width if lane.stream else 0.0) for lane in left]
    moved = sum(weight for _, weight in weights)
    centre = sum(y * weight for y, weight in weights) / moved if moved else 0.0
    highest, lowest = inner_top + measures.head, inner_bottom - (wanted - measures.head)
    mixed_top = min(max(centre - 0.5 * mixed_height, highest), max(lowest, highest))
    return Plan(
        measures=measures,
        rows=tuple(placed),
        left=_slotted(left, mixed_top),
        right=_slotted(_stacked(leaving, mixed_top + stack_width + GAP), mixed_top + stack_width),
        stack=stack,
        mixed_top=mixed_top,
        mixed_height=mixed_height,
        inner_top=inner_top,
        inner_bottom=inner_bottom,
        ground=_ground(placed, left),
        unplaced=_unplaced(facts, streams, cells),
    )


def _floors(rows: Sequence[Row], inner: Sequence[int]) -> list[int]:
    return [rows[index].floor for index in inner]


def _ground(rows: Sequence[PlacedRow], lanes: Sequence[Lane]) -> float:
    """Return the ground: below the lowest floor that is not under it, and below what comes in from outdoors."""
    above = [row.bottom for row in rows if row.row.floor >= 0]
    if above:
        return max(above)
    return max((lane.y + lane.below + 4.0 for lane in lanes if lane.kind == "outdoor"), default=rows[0].top + 20.0)


def _cells(row: Row, measures: Measures) -> tuple[Cell, ...]:
    found = []
    for space, x, width in cells_of(row, measures.left, measures.rooms_right):
        text = ", ".join(space.notes) if measures.has_values else ""
        found.append(
            Cell(
                space=space,
                x=x,
                width=width,
                names=fitted(space.name, width - INSET, NAME, 600 if space.kind in INNER else 400, 3),
                notes=fitted(text, width - INSET, NAME, 400, 3) if text else (),
            )
        )
    return tuple(found)


def _head_height(cells: Sequence[Cell]) -> float:
    """Return what the names of a row take. [px]"""
    return 8.0 + LEADING * max(len(cell.names) + len(cell.notes) for cell in cells)


def _left_lanes(
    facts: HouseFacts, streams: Sequence[Stream], measures: Measures, cells: Sequence[Sequence[Cell]], main: int
) -> list[list[Lane]]:
    """Return the lanes of each row: outdoors first, then by place, what is not assigned last."""
    places = {cell.space.id: (index, cell.x) for index, row in enumerate(cells) for cell in row}
    nowhere = (main, measures.left)
    lanes: list[list[tuple[tuple[int, float], Lane]]] = [[] for _ in cells]
    entering = [stream for stream in streams if stream.is_entering]
    for stream in entering:
        kind = stream.line.kind
        is_outdoor = kind == "outdoor"
        index, x = nowhere if is_outdoor else places.get(facts.places.get(kind, ""), nowhere)
        rank = 0 if is_outdoor else 3 if kind == NOT_ASSIGNED else 2 if kind == STORED else 1
        lanes[index].append(((rank, x), _left_lane(stream, measures, 6.0 if is_outdoor else x + 6.0)))
    shown = {stream.line.kind for stream in entering}
    for kind in ("cooking", "solid_fuel"):
        if kind in facts.places and kind not in shown:
            index, x = places.get(facts.places[kind], nowhere)
            lanes[index].append(((1, x), _lane(kind, x + 6.0, above=12.0, below=12.0)))
    return [[lane for _, lane in sorted(row, key=lambda entry: entry[0])] for row in lanes]


def _unplaced(facts: HouseFacts, streams: Sequence[Stream], cells: Sequence[Sequence[Cell]]) -> tuple[str, ...]:
    spaces = {cell.space.id for row in cells for cell in row}
    rooms = sum(cell.space.kind in INNER for row in cells for cell in row)
    return tuple(
        one.line.folio
        for one in streams
        if rooms > 1
        and one.is_entering
        and one.line.kind not in PLACELESS
        and facts.places.get(one.line.kind) not in spaces
    )


def _lane(kind: str, x: float, *, above: float, below: float, stream: Stream | None = None, label: str = "") -> Lane:
    way = stream.line.path if stream else ""
    return Lane(kind=kind, way=way, stream=stream, x=x, y=0.0, above=above, below=below, label=label, slot=0.0)


def _left_lane(stream: Stream, measures: Measures, x: float) -> Lane:
    kind = stream.line.kind
    half = max(0.5 * stream.width, 0.5 * min(stream.wide, measures.mixed_height))
    is_outdoor = kind == "outdoor"
    label = ""
    if is_outdoor:
        label = first_that_fits(stream, measures.left - 2.0, measures)
    elif measures.has_values:
        label = first_that_fits(stream, measures.rooms_right - label_left(x), measures)
    words_top = label_rise(stream, is_outdoor=is_outdoor) + 13.0 if label else 0.0
    return _lane(kind, x, above=max(RING, half, words_top), below=max(RING, half), stream=stream, label=label)


def _right_lanes(streams: Sequence[Stream], measures: Measures) -> list[Lane]:
    """Return the lanes to the right, in order."""
    found = []
    leaving = [one for one in streams if not one.is_entering and one.line.kind != "air_exchange"]
    others = [one.line.kind for one in leaving if one.line.kind not in ORDER_OUT]
    order = [*others, *ORDER_OUT]
    for stream in sorted(leaving, key=lambda one: order.index(one.line.kind)):
        half = object_half(stream)
        tick = 0.5 * min(stream.wide, measures.mixed_height)
        legs = 34.0 if stream.line.kind == "cleaner" else 0.0  # its ducts stand in the way
        label = first_that_fits(stream, right_end(measures) - legs - right_words(measures), measures)
        above = max(half + LIFT + NAME if label else half, tick)
        found.append(
            _lane(
                stream.line.kind, measures.mixed + MIXED_WIDTH, above=above, below=max(half, tick), stream=stream,
                label=label,
            )
        )  # fmt: skip
    return found


def _stacked(lanes: Sequence[Lane], top: float) -> list[Lane]:
    """Return lanes one under the other from ``top``."""
    found = []
    for lane in lanes:
        found.append(replace(lane, y=top + lane.above))
        top += lane.above + lane.below + GAP
    return found


def _slotted(lanes: Sequence[Lane], top: float) -> tuple[Lane, ...]:
    """Return lanes with their places at the mixed air, edge to edge from ``top``."""
    found = []
    for lane in lanes:
        width = lane.stream.width if lane.stream else 0.0
        found.append(replace(lane, slot=top + 0.5 * width))
        top += width
    return tuple(found)
