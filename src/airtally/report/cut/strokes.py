"""Strokes of the cut: earth, roof and walls, names, ribbons with what they begin and end in, ducts, words inside."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from airtally.report import words
from airtally.report.account_rows import AccountRows
from airtally.report.cut.measures import (
    BEND,
    LEADING,
    LIFT,
    MIXED_WIDTH,
    NAME,
    RING,
    first_that_fits,
    label_left,
    label_rise,
    object_half,
    right_end,
    right_straight,
    right_words,
)
from airtally.report.cut.plan import Cell, Lane, Plan
from airtally.report.cut.rooms import INNER, HouseFacts
from airtally.report.cut.signs import (
    BOX_DEPTH,
    CLEANER_DEPTH,
    FILTER_DEPTH,
    SIGN,
    blower,
    cleaner_box,
    dust,
    filter_slab,
    plain_box,
    source_sign,
)
from airtally.report.cut.streams import EDGE, MIXED, Stream, ribbon, ticks
from airtally.report.drawing import INK, INK_2
from airtally.report.hookup_svg import ROOM_FOR_OTHER_FONTS, box, filled, mark, paragraph, path, text_width, words_at

RIDGE = 40.0
"""Of the roof above the eaves. [px]"""


def shell(plan: Plan, prefix: str) -> list[str]:
    """Return earth, roof, walls and floors."""
    m = plan.measures
    end = plan.bottom + 16.0
    strokes = [
        f'<path d="M1,{plan.ground:g}H{m.width - 1:g}V{end:g}H1Z" fill="url(#{prefix}-earth)" opacity="0.45"/>',
        path(f"M1,{plan.ground:g}H{m.left:g}M{m.right:g},{plan.ground:g}H{m.width - 1:g}", width=1.2),
        box(m.left, plan.top, m.right - m.left, plan.bottom - plan.top),
    ]
    eave = 10.0
    middle = 0.5 * (m.left + m.right)
    roof = f"M{m.left - eave:g},{plan.top + 3:g}L{middle:g},{plan.top - RIDGE:g}L{min(m.right + eave, m.width - 2):g},{plan.top + 3:g}"
    strokes.append(path(roof, width=2.0))
    for above, below in zip(plan.rows, plan.rows[1:], strict=False):
        y = above.bottom
        is_wall = above.row.is_buffer or below.row.is_buffer
        is_whole = y in (plan.inner_top, plan.inner_bottom)
        right = m.right if is_whole else m.rooms_right
        if is_wall or above.row.floor != below.row.floor:
            strokes.append(path(f"M{m.left:g},{y:g}H{right:g}", width=1.8))
        else:
            strokes.append(path(f"M{m.left:g},{y:g}H{right:g}", width=1.0, stroke=INK_2, dash="2 4"))
    for row in plan.rows:
        is_beside = row.row.is_buffer and plan.inner_top <= row.top < plan.inner_bottom
        for cell in row.cells[1:]:
            bottom = row.bottom if row.row.is_buffer else row.top + 6.0 + LEADING * max(len(c.names) for c in row.cells)
            strokes.append(path(f"M{cell.x:g},{row.top:g}V{bottom:g}", width=1.8))
        if is_beside:
            strokes.append(path(f"M{m.rooms_right:g},{row.top:g}V{row.bottom:g}", width=1.8))
    return strokes


def names(plan: Plan) -> list[str]:
    """Return the names of the spaces."""
    strokes = []
    for row in plan.rows:
        for cell in row.cells:
            strokes += _cell_words(cell, row.top)
    return strokes


def _cell_words(cell: Cell, top: float) -> list[str]:
    is_inner = cell.space.kind in INNER
    lines = [(line, 600 if is_inner else 400, INK if is_inner else INK_2) for line in cell.names]
    lines += [(line, 400, INK_2) for line in cell.notes]
    return [
        words_at(cell.x + 7.0, top + LEADING * (index + 1), line, size=NAME, weight=weight, fill=fill)
        for index, (line, weight, fill) in enumerate(lines)
    ]


def ribbons(plan: Plan, prefix: str) -> list[str]:
    """Return every ribbon with its ticks, mark, words and what it begins or ends in."""
    m = plan.measures
    strokes: list[str] = []
    for lane in plan.left:
        strokes += _entering(lane, plan)
    strokes += [one for lane in plan.right for one in _leaving(lane, plan, prefix)]
    if plan.stack is not None:
        strokes += _stack(plan.stack, plan)
    if plan.left or plan.right:
        has_any = any(lane.stream for lane in (*plan.left, *plan.right)) or plan.stack is not None
        height = max(plan.mixed_height, 4.0)
        if has_any:
            strokes.append(filled(m.mixed, plan.mixed_top, MIXED_WIDTH, height, INK))
    return strokes


def _entering(lane: Lane, plan: Plan) -> list[str]:
    m, stream = plan.measures, lane.stream
    is_outdoor = lane.kind == "outdoor"
    sign = "" if is_outdoor else source_sign(lane.kind, lane.way, lane.x, lane.y)
    if stream is None:
        return [sign]
    start = lane.x if is_outdoor else lane.x + SIGN + 2.0
    ring = start + RING + (4.0 if is_outdoor else 0.0)
    strokes = [
        sign,
        ribbon(stream, start, m.rooms_right + 14.0, m.mixed, lane.y, lane.slot),
        ticks(stream, m.rooms_right + 9.0, lane.y, m.mixed_height),
        _ringed(ring, lane.y, stream),
    ]
    if lane.label:
        x = lane.x if is_outdoor else label_left(lane.x)
        strokes.append(
            words_at(x, lane.y - label_rise(stream, is_outdoor=is_outdoor), lane.label, size=NAME, weight=600)
        )
    return strokes


def _ringed(x: float, y: float, stream: Stream) -> str:
    """Return a folio mark in a ring of the stream's colour, which a ribbon of a hair's breadth cannot show."""
    ring = (
        f'<circle cx="{x:g}" cy="{y:g}" r="{RING - 0.5:g}" fill="{stream.colour}" stroke="{INK}" stroke-width="0.8"/>'
    )
    return ring + mark(x, y, stream.line.folio)


def _leaving(lane: Lane, plan: Plan, prefix: str) -> list[str]:
    m, stream = plan.measures, lane.stream
    if stream is None:
        return []
    start, straight, end = m.mixed + MIXED_WIDTH, right_straight(m), right_end(m)
    half = object_half(stream)
    depths = {"filter": FILTER_DEPTH, "cleaner": CLEANER_DEPTH, "portable": CLEANER_DEPTH}
    width = depths.get(lane.kind, BOX_DEPTH)
    strokes = []
    if lane.kind == "settling":
        strokes += _settled(stream, lane, plan)
    else:
        # The same swing as of an entering ribbon, read from right to left.
        strokes.append(ribbon(stream, end - width, straight, start, lane.y, lane.slot))
        draw = {"filter": filter_slab, "cleaner": cleaner_box, "portable": cleaner_box}.get(lane.kind)
        strokes.append(
            draw(end - width, lane.y, half, prefix) if draw else plain_box(end - width, lane.y, half, lane.kind)
        )
        if lane.kind == "portable":
            strokes.append(path(f"M{end - 22:g},{lane.y + half:g}v4m16,0v-4", width=2.0))
    strokes.append(ticks(stream, straight + 6.0, lane.y, m.mixed_height))
    strokes.append(_ringed(right_words(m) + RING + 4.0, lane.y, stream))
    if lane.label:
        strokes.append(words_at(right_words(m), lane.y - half - LIFT, lane.label, size=NAME, weight=600))
    return strokes


def _settled(stream: Stream, lane: Lane, plan: Plan) -> list[str]:
    """Return the ribbon that turns down to the floor, with what lies there."""
    m = plan.measures
    start, straight = m.mixed + MIXED_WIDTH, right_straight(m)
    turn = right_words(m) + 2.0 * RING + 10.0
    below = plan.inner_bottom - 3.0
    level = ribbon(stream, turn, straight, start, lane.y, lane.slot, is_open=True)
    return [
        level,
        _elbow(stream, turn, lane.y, below),
        dust(turn + BEND + 0.5 * stream.width, plan.inner_bottom, stream.width),
    ]


def _elbow(stream: Stream, x: float, y: float, end: float) -> str:
    """Return the turn of a ribbon from level at x to upright until ``end``, up or down."""
    half = 0.5 * stream.width
    down = 1.0 if end > y else -1.0
    inner, outer = BEND, BEND + stream.width
    near, far = y + down * half, y - down * half
    sweep = 1 if down > 0 else 0
    if stream.width <= 0.0:
        return path(
            f"M{x:g},{y:g}a{BEND:g},{BEND:g} 0 0 {sweep} {BEND:g},{down * BEND:g}V{end:g}", width=1.2, dash="1.5 3"
        )
    d = (
        f"M{x:g},{far:.3f}A{outer:g},{outer:g} 0 0 {sweep} {x + outer:g},{near + down * inner:.3f}V{end:g}"
        f"H{x + inner:g}V{near + down * inner:.3f}A{inner:g},{inner:g} 0 0 {1 - sweep} {x:g},{near:.3f}"
    )
    return path(d, width=EDGE, fill=MIXED)


def _stack(stream: Stream, plan: Plan) -> list[str]:
    """Return what is carried outdoors: up through the roof."""
    m = plan.measures
    start, y = m.mixed + MIXED_WIDTH, plan.mixed_top + 0.5 * stream.width
    turn = start + 8.0
    middle = turn + BEND + 0.5 * stream.width
    wing = 0.5 * stream.width + 7.0
    strokes = [ribbon(stream, turn, turn - 1.0, start, y, y, is_open=True), _elbow(stream, turn, y, 24.0)]
    strokes.append(path(f"M{middle - wing:g},24L{middle:g},9L{middle + wing:g},24Z", width=1.2, fill=MIXED))
    corner = plan.mixed_top - BEND
    strokes.append(ticks(stream, middle, corner - 2.0 * RING - 8.0, m.mixed_height, is_upright=True))
    strokes.append(_ringed(middle, corner - RING - 2.0, stream))
    x = middle + wing + 6.0
    label = first_that_fits(stream, m.width - 6.0 - x, m)
    if label:
        strokes.append(words_at(x, 22.0, label, size=NAME, weight=600))
    return strokes


def ducts(plan: Plan, facts: HouseFacts) -> list[str]:
    """Return return duct, air handler and the supply duct back to the rooms; the supply's air is not in the account."""
    if not facts.has_air_handler:
        return []
    m = plan.measures
    slab = next((lane for lane in plan.right if lane.kind == "filter" and lane.stream), None)
    y = slab.y if slab else plan.inner_bottom - 40.0
    end, riser = right_end(m), m.right - 20.0
    top = plan.inner_top + 14.0
    strokes = [blower(end + 2.0, y)]
    for side in (-5.0, 5.0):
        wall = f"M{end + 22:g},{y + side:g}H{riser + side:g}V{top - side:g}H{riser - 22:g}"
        strokes.append(path(wall, width=1.4))
    strokes.append(path(f"M{riser - 26:g},{top:g}l9,-4.5v9z", width=0.5, fill=INK))
    stack = plan.stack.width if plan.stack else 0.0
    room = riser - 32.0 - (m.mixed + MIXED_WIDTH + 34.0 + stack)
    for text in ("supply, back to the rooms", "supply"):
        if ROOM_FOR_OTHER_FONTS * text_width(text, NAME) < room:
            strokes.append(words_at(riser - 32.0, top + 4.5, text, size=NAME, anchor="end", fill=INK_2))
            break
    if slab is not None and slab.stream is not None:
        half = object_half(slab.stream)
        left = right_words(m) + 2.0 * RING + 8.0
        strokes.append(path(f"M{left:g},{slab.y - half:g}H{end:g}M{left:g},{slab.y + half:g}H{end:g}", width=1.4))
        cleaner = next((lane for lane in plan.right if lane.kind == "cleaner" and lane.stream), None)
        if cleaner is not None and cleaner.stream is not None and facts.has_cleaner_on_duct:
            upper, lower = slab.y + half, cleaner.y - object_half(cleaner.stream)
            legs = "".join(f"M{end - off:g},{upper:g}V{lower:g}" for off in (25.0, 18.0, 10.0, 3.0))
            strokes.append(path(legs, width=1.4))
    return strokes


def words_inside(plan: Plan, phase: Mapping[str, Any] | None, rows: AccountRows | None) -> list[str]:
    """Return the words in the mixed air: its level, or that nothing is known yet."""
    m = plan.measures
    x = m.mixed + MIXED_WIDTH + 30.0 + (plan.stack.width + 8.0 if plan.stack else 0.0)
    if rows is None:
        x = m.mixed - 40.0
        return list(
            paragraph(x, plan.inner_top + 50.0, m.right - 30.0 - x, "no readings yet", size=15.0, weight=600).strokes
        )
    if not m.has_values or phase is None or "mean_pm25" not in phase:
        return []
    room = m.right - 30.0 - x
    first = paragraph(x, plan.inner_top + 38.0, room, "All rooms as one air:", size=NAME, fill=INK_2)
    text = f"PM2.5 {words.amount(phase['mean_pm25'])}"
    second = paragraph(x, plan.inner_top + 38.0 + first.height, room, text, size=NAME, fill=INK_2)
    return [*first.strokes, *second.strokes]
