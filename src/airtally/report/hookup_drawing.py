"""The hookup of a bypass cleaner as a dimensioned drawing: trunk upright, air falling, loop at its side.

Two sheets from one set of numbers: narrow for a phone (drawing, then notes below), wide for paper (side by side).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from airtally.network.ducts.hookup import HookupDesign
from airtally.network.ducts.hookup_states import LoopState
from airtally.network.ducts.sensor_place import SensorSpot, SensorView
from airtally.physics.filters.loop import TapOrder
from airtally.report import words
from airtally.report.drawing import HAIR, INK, INK_2, LEAF, Drawing
from airtally.report.hookup_svg import (
    MIXED,
    Block,
    arrow,
    blank,
    box,
    filled,
    font_faces,
    mark,
    paragraph,
    path,
    share_bar,
    sheet,
    upright_dimension,
    words_at,
)
from airtally.report.hookup_table import (
    HEAD,
    SENSOR_MARK,
    TRADE_UNITS,
    HookupUnits,
    Shown,
    diameter_text,
    flow_shown,
    hookup_rows,
    length_shown,
    pressure_shown,
    share_shown,
)

TITLE = "Hookup of a bypass cleaner on the return trunk"


class Sheet(StrEnum):
    """For what a drawing is laid out."""

    PHONE = "phone"
    """360 wide, notes below the drawing."""
    PAPER = "paper"
    """740 wide, notes beside the drawing."""


PRINT_GROUND = "#FFFFFF"
COLUMN = 360.0
GAP = 20.0

# Places on the drawing, all in its own units; air falls from the top.
DIMENSION = 32.0
LEFT, RIGHT = 76.0, 160.0
WALL = 1.2
BAND = RIGHT - LEFT - 2.0 * WALL
TOP, FIRST_TAP, SECOND_TAP, FILTER, BLOWER, FLOOR = 60.0, 150.0, 430.0, 512.0, 540.0, 632.0
LOOP = 294.0
BOX = (246.0, 258.0, 96.0, 100.0)
WIRE = 351.0
HALF_DUCT = 15.0
DRAWING_HEIGHT = 712.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scene:
    """What the strokes need: the design, units, where the taps are, widths of the streams."""

    design: HookupDesign
    units: HookupUnits
    sensor: SensorView | None
    take_off: float
    re_entry: float
    loop_width: float
    is_to_scale: bool
    prefix: str

    @property
    def is_reversed(self) -> bool:
        """Whether the re-entry comes first along the air."""
        return self.re_entry < self.take_off


def hookup_drawing(
    design: HookupDesign,
    *,
    units: HookupUnits = TRADE_UNITS,
    page: Sheet = Sheet.PAPER,
    sensor: SensorView | None = None,
    is_invented: bool = False,
    carries_font: bool = False,
) -> Drawing:
    """Return the hookup as a drawing with its sentence and the table behind it.

    Parameters
    ----------
    design : HookupDesign
        As worked out; every figure on the drawing is its own.
    units : HookupUnits, optional
        Of the job.
    page : Sheet, optional
        Phone or paper.
    sensor : SensorView, optional
        In-duct sensor to show at its place.
    is_invented : bool, optional
        Writes so on the drawing.
    carries_font : bool, optional
        Puts the label font into the file, for a drawing that travels alone.
    """
    first = design.design
    is_reversed = design.hookup.trunk.order is TapOrder.RETURN_FIRST
    share = first.loop_flow.value / first.trunk_flow.value if first.trunk_flow.value > 0.0 else 0.2
    width_shown = min(max(BAND * share, 4.0), 2.0 * HALF_DUCT - 6.0)
    scene = _Scene(
        design=design, units=units, sensor=sensor,
        take_off=SECOND_TAP if is_reversed else FIRST_TAP, re_entry=FIRST_TAP if is_reversed else SECOND_TAP,
        loop_width=width_shown, is_to_scale=width_shown == BAND * share, prefix=f"hookup-{page.value}",
    )  # fmt: skip
    title = f"{TITLE}, invented numbers" if is_invented else TITLE
    sentence = _sentence(scene)
    head = words_at(14, 24, "Invented numbers.", size=13.5, weight=600, fill=INK_2) if is_invented else ""
    if is_reversed:
        head += words_at(14, 42, "Taps reversed: exchange 1 and 2.", size=13.5, weight=600)
    elevation = (
        head, *_trunk(scene), *_loop(scene), *_machines(scene), *_dimensions(scene), *_figures(scene), *_legend(scene),
    )  # fmt: skip
    own_air, marks, blanks, cautions = _own_air(scene), _marks_block(scene), _blanks(), _cautions(scene)
    if page is Sheet.PHONE:
        strokes, height = _stacked((own_air, marks, blanks, cautions), 0.0, DRAWING_HEIGHT)
        width = COLUMN
    else:
        under, low = _stacked((blanks,), 0.0, DRAWING_HEIGHT)
        beside, right = _stacked((own_air, marks, cautions), COLUMN + GAP, 0.0)
        width, height = 2.0 * COLUMN + GAP, max(low, right)
        rule = path(f"M{COLUMN + 0.5 * GAP:g},14V{height - 14:g}", width=1.0, stroke=HAIR)
        strokes = (*under, rule, *beside)
    strokes = (*elevation, *strokes)
    if carries_font:
        strokes = (font_faces(), *strokes)
    svg = sheet(strokes, width=width, height=height, title=title, sentence=sentence, prefix=scene.prefix)
    if page is Sheet.PAPER:
        svg = svg.replace(LEAF, PRINT_GROUND)
    return Drawing(svg=svg, title=title, sentence=sentence, head=HEAD, rows=hookup_rows(design, units, sensor))


def _stacked(blocks: tuple[Block, ...], dx: float, dy: float) -> tuple[tuple[str, ...], float]:
    """Return blocks one under the other from a corner, and where they end."""
    strokes = []
    for block in blocks:
        strokes.append(f'<g transform="translate({dx:g},{dy:g})">{"".join(block.strokes)}</g>')
        dy += block.height
    return tuple(strokes), dy


def _legend(scene: _Scene) -> tuple[str, ...]:
    """Return what the fills mean and what is to scale."""
    scale = "Streams as wide as their flow; lengths not to scale." if scene.is_to_scale else "Not to scale."
    return (
        words_at(14, DRAWING_HEIGHT - 30.0, "Grey: air as it comes. White: just cleaned.", size=13, fill=INK_2),
        words_at(14, DRAWING_HEIGHT - 13.0, scale, size=13, fill=INK_2),
    )


def _sentence(scene: _Scene) -> str:
    """Return what the drawing shows, for those who do not see it."""
    design, units = scene.design, scene.units
    first, off = design.design, design.blower_off
    order = "re-entry upstream of the take-off" if scene.is_reversed else "take-off upstream of the re-entry"
    apart = length_shown(design.hookup.trunk.tap_distance, units)
    parts = [
        f"Air falls in the return trunk to filter and blower; a loop with the cleaner stands beside it, {order}",
        f"taps {apart.whole} apart" if apart.basis else "distance between the taps not measured",
        f"{diameter_text(design.hookup.loop.diameter, units)} round duct",
    ]
    flows = (
        f"At {first.name} the trunk brings {flow_shown(first.trunk_flow, units).whole} and the cleaner moves "
        f"{flow_shown(first.loop_flow, units).whole}, of which {share_shown(first.recirculated).whole} is its own air again."
    )
    stopped = f"With the blower off {share_shown(off.recirculated).whole} is its own air: the cleaner runs only with the blower."
    return " ".join((words.sentence("; ".join(parts)), flows, stopped))


def _trunk(scene: _Scene) -> tuple[str, ...]:
    """Return the trunk: its stream with what the loop takes out and gives back, walls, break line."""
    band_left, band_right = LEFT + WALL, RIGHT - WALL
    upper, lower = min(scene.take_off, scene.re_entry), max(scene.take_off, scene.re_entry)
    wide = scene.loop_width
    strokes = [filled(band_left, TOP, BAND, FILTER - TOP, MIXED)]
    if scene.is_reversed:
        strokes.append(filled(band_right - wide, upper, wide, FILTER - upper, LEAF))
    else:
        strokes.append(filled(band_right - wide, upper - 0.5 * wide, wide, FILTER - upper + 0.5 * wide, LEAF))
        strokes.append(path(f"M{band_right - wide:g},{upper:g}V{lower:g}", width=0.9, dash="3 3"))
    below = lower if not scene.is_reversed else upper
    strokes.append(path(f"M{band_right - wide:g},{below:g}V{FILTER:g}", width=1.0))
    openings = sorted((scene.take_off, scene.re_entry))
    strokes.append(path(f"M{LEFT:g},{TOP:g}V{FILTER:g}", width=2.4))
    ends = [
        TOP,
        openings[0] - HALF_DUCT,
        openings[0] + HALF_DUCT,
        openings[1] - HALF_DUCT,
        openings[1] + HALF_DUCT,
        FILTER,
    ]
    walls = "".join(f"M{RIGHT:g},{ends[k]:g}V{ends[k + 1]:g}" for k in (0, 2, 4))
    strokes.append(path(walls, width=2.4))
    strokes.append(path(f"M{LEFT - 10:g},{TOP:g}l16,-6l14,10l16,-8l14,10l16,-8l14,8l14,-6", width=1.2))
    strokes.append(arrow(LEFT + 24.0, TOP + 14.0, 0.0, 34.0))
    strokes.append(arrow(LEFT + 24.0, FILTER - 54.0, 0.0, 34.0))
    return tuple(strokes)


def _stream(points: str, width: float, fill: str) -> str:
    """Return a stream of air: its fill inside an ink edge."""
    return path(points, width=width + 1.8) + path(points, width=width, stroke=fill)


def _loop(scene: _Scene) -> tuple[str, ...]:
    """Return the loop's duct with its streams: grey to the cleaner, white behind it."""
    out, back, inner = HALF_DUCT, HALF_DUCT, HALF_DUCT + 10.0
    box_top, box_bottom = BOX[1], BOX[1] + BOX[3]
    upper, lower = min(scene.take_off, scene.re_entry), max(scene.take_off, scene.re_entry)
    walls = (
        f"M{RIGHT:g},{upper - out:g}H{LOOP - 10:g}Q{LOOP + out:g},{upper - out:g} {LOOP + out:g},{upper + inner:g}"
        f"V{box_top:g}M{RIGHT:g},{upper + out:g}H{LOOP - inner:g}Q{LOOP - out:g},{upper + out:g} "
        f"{LOOP - out:g},{upper + inner + 10:g}V{box_top:g}"
        f"M{RIGHT:g},{lower + back:g}H{LOOP - 10:g}Q{LOOP + back:g},{lower + back:g} {LOOP + back:g},{lower - inner:g}"
        f"V{box_bottom:g}M{RIGHT:g},{lower - back:g}H{LOOP - inner:g}Q{LOOP - back:g},{lower - back:g} "
        f"{LOOP - back:g},{lower - inner - 10:g}V{box_bottom:g}"
    )
    middle = RIGHT - WALL - scene.loop_width
    top = f"M{middle:g},{upper:g}H{LOOP - inner:g}Q{LOOP:g},{upper:g} {LOOP:g},{upper + inner:g}V{box_top:g}"
    bottom = f"M{LOOP:g},{box_bottom:g}V{lower - inner:g}Q{LOOP:g},{lower:g} {LOOP - inner:g},{lower:g}H{middle:g}"
    taken, given = (bottom, top) if scene.is_reversed else (top, bottom)
    to_right, to_left = arrow(RIGHT + 34.0, scene.take_off, 26.0, 0.0), arrow(RIGHT + 60.0, scene.re_entry, -26.0, 0.0)
    return (
        _stream(taken, scene.loop_width, MIXED),
        _stream(given, scene.loop_width, LEAF),
        path(walls, width=2.0),
        to_right,
        to_left,
        *_dampers(scene),
    )


def _has(scene: _Scene, name: str) -> bool:
    return any(one.name.startswith(name) and one.count > 0 for one in scene.design.hookup.loop.fittings)


def _dampers(scene: _Scene) -> tuple[str, ...]:
    """Return the dampers that the loop has: hand damper on the take-off leg, backdraft damper on the other."""
    upper_leg, lower_leg = BOX[1] - 34.0, BOX[1] + BOX[3] + 26.0
    hand, back = (lower_leg, upper_leg) if scene.is_reversed else (upper_leg, lower_leg)
    strokes = []
    if _has(scene, "hand damper"):
        strokes.append(path(f"M{LOOP - 12:g},{hand + 6:g}l24,-12", width=3.0))
        strokes.append(f'<circle cx="{LOOP:g}" cy="{hand:g}" r="3.5" fill="{LEAF}" stroke="{INK}" stroke-width="1.4"/>')
        strokes.append(mark(LOOP + 32.0, hand, "3"))
    if _has(scene, "backdraft damper"):
        strokes.append(path(f"M{LOOP - 14:g},{back - 6:g}l24,14", width=3.0))
        strokes.append(
            f'<circle cx="{LOOP - 14:g}" cy="{back - 6:g}" r="3.5" fill="{LEAF}" stroke="{INK}" stroke-width="1.4"/>'
        )
        strokes.append(mark(LOOP + 32.0, back, "4"))
    return tuple(strokes)


def _machines(scene: _Scene) -> tuple[str, ...]:
    """Return cleaner, filter cabinet, blower and the interlock between them."""
    x, y, width, height = BOX
    fan_x, fan_y = x + 30.0, y + 68.0
    prefix = scene.prefix
    strokes = [
        box(x, y, width, height),
        f'<rect x="{x + 10:g}" y="{y + 10:g}" width="{width - 20:g}" height="24" fill="url(#{prefix}-cleaner)" stroke="{INK}" '
        'stroke-width="1.2"/>',
        f'<circle cx="{fan_x:g}" cy="{fan_y:g}" r="18" fill="none" stroke="{INK}" stroke-width="1.8"/>',
        path(f"M{fan_x - 18:g},{fan_y:g}h36M{fan_x:g},{fan_y - 18:g}v36", width=1.2),
        words_at(x + 54.0, y + 66.0, "own", size=13, weight=600),
        words_at(x + 54.0, y + 81.0, "fan", size=13, weight=600),
        mark(x + width - 4.0, y + 4.0, "5"),
        box(LEFT - 12.0, FILTER, RIGHT - LEFT + 24.0, BLOWER - FILTER),
        f'<rect x="{LEFT:g}" y="{FILTER + 4:g}" width="{RIGHT - LEFT:g}" height="20" fill="url(#{prefix}-filter)" '
        f'stroke="{INK}" stroke-width="1.2"/>',
        mark(RIGHT + 34.0, FILTER + 14.0, "6"),
        box(LEFT - 24.0, BLOWER, RIGHT - LEFT + 48.0, FLOOR - BLOWER),
        f'<circle cx="118" cy="{BLOWER + 38:g}" r="26" fill="none" stroke="{INK}" stroke-width="2"/>',
        f'<circle cx="118" cy="{BLOWER + 38:g}" r="10" fill="none" stroke="{INK}" stroke-width="1.2"/>',
        words_at(118, FLOOR - 10.0, "blower", size=13.5, weight=600, anchor="middle"),
        arrow(118, FLOOR + 2.0, 0.0, 24.0),
        words_at(136, FLOOR + 22.0, "to the supplies", size=13, fill=INK_2),
        path(f"M{x + width:g},{y + 0.5 * height:g}H{WIRE:g}V{BLOWER + 46:g}H{RIGHT + 24:g}", width=1.2, dash="7 3 2 3"),
        mark(WIRE - 28.0, BLOWER + 46.0, "7"),
        words_at(RIGHT + 34.0, BLOWER + 66.0, "interlock: runs only", size=13, weight=600),
        words_at(RIGHT + 34.0, BLOWER + 82.0, "while the blower runs", size=13, weight=600),
    ]
    if scene.sensor is not None:
        strokes += _sensor(scene.sensor)
    return tuple(strokes)


def _sensor(view: SensorView) -> list[str]:
    """Return the in-duct sensor at its place."""
    heights = {
        SensorSpot.RETURN_DROP: TOP + 26.0,
        SensorSpot.BESIDE_LEAK: TOP + 26.0,
        SensorSpot.TAKE_OFF_ELBOW: FIRST_TAP,
        SensorSpot.AFTER_RE_ENTRY: SECOND_TAP + 58.0,
        SensorSpot.AFTER_FILTER: BLOWER + 24.0,
        SensorSpot.SUPPLY_PLENUM: FLOOR - 10.0,
    }
    y = heights[view.candidate.spot]
    x, side = RIGHT, 1.0
    if view.candidate.spot is SensorSpot.TAKE_OFF_ELBOW:
        x = LOOP - 6.0
    elif view.candidate.spot is SensorSpot.AFTER_FILTER:
        x = RIGHT + 24.0
    elif view.candidate.spot is SensorSpot.SUPPLY_PLENUM:
        x, side = LEFT - 24.0, -1.0
    return [
        path(f"M{x:g},{y:g}h{side * 16:g}", width=2.0),
        filled(x - 6.0 - side * 6.0, y - 6.0, 12.0, 12.0, INK),
        mark(x + side * 26.0, y, SENSOR_MARK),
    ]


def _dimensions(scene: _Scene) -> tuple[str, ...]:
    """Return the three lengths along the trunk; not to scale, so each is written."""
    trunk, units = scene.design.hookup.trunk, scene.units
    strokes = []
    for y in (TOP + 8.0, FIRST_TAP, SECOND_TAP, FILTER):
        strokes.append(path(f"M{DIMENSION - 8:g},{y:g}H{LEFT - 4:g}", width=0.7))
    for top, bottom, length in (
        (TOP + 8.0, FIRST_TAP, trunk.straight_before),
        (FIRST_TAP, SECOND_TAP, trunk.tap_distance),
        (SECOND_TAP, FILTER, trunk.straight_after),
    ):
        number = length_shown(length, units)
        lines = (number.text,) if number.basis else ("not", "measured")
        strokes.append(upright_dimension(DIMENSION, top, bottom, lines))
    return tuple(strokes)


def _figures(scene: _Scene) -> tuple[str, ...]:
    """Return the flows and statics beside what they belong to, each with its interval and basis."""
    design, units = scene.design, scene.units
    first, state = design.design, design.hookup.states[0]
    x = RIGHT + 12.0
    strokes = [
        *_figure(x + 40.0, TOP + 16.0, flow_shown(first.trunk_flow, units).text, _small(flow_shown(first.trunk_flow, units)),
                 f"at {first.name}"),
        mark(RIGHT + 14.0, scene.take_off - HALF_DUCT - 14.0 if not scene.is_reversed else scene.take_off + HALF_DUCT + 14.0, "1"),
        mark(RIGHT + 14.0, scene.re_entry + HALF_DUCT + 14.0 if not scene.is_reversed else scene.re_entry - HALF_DUCT - 14.0, "2"),
        *_figure(x, FIRST_TAP + 62.0, flow_shown(first.loop_flow, units).text, _small(flow_shown(first.loop_flow, units)),
                 "in the loop"),
        *_figure(x, 0.5 * (FIRST_TAP + SECOND_TAP) + 40.0, flow_shown(first.between_taps, units).text,
                 _small(flow_shown(first.between_taps, units)), "past the loop"),
    ]  # fmt: skip
    for letter, y, static in (
        ("A", scene.take_off, state.take_off_static),
        ("B", scene.re_entry, state.re_entry_static),
    ):
        at = y + 34.0 if y == FIRST_TAP else y - 34.0
        number = pressure_shown(static, units, most_places=2)
        text = f"{letter} {words.MINUS}{number.text}" if number.basis == "measured" else f"{letter} not measured"
        strokes.append(f'<circle cx="{RIGHT:g}" cy="{at:g}" r="4" fill="{LEAF}" stroke="{INK}" stroke-width="1.8"/>')
        strokes.append(words_at(x, at + 4.5, text, size=13.5, weight=600))
    return tuple(strokes)


def _small(number: Shown) -> str:
    """Return the interval, or the basis of a number that has none."""
    return number.interval or number.basis


def _figure(x: float, y: float, value: str, interval: str, what: str) -> list[str]:
    return [
        words_at(x, y, value, size=15, weight=600),
        words_at(x, y + 16.0, interval, size=13, fill=INK_2),
        words_at(x, y + 32.0, what, size=13, fill=INK_2),
    ]


def _own_air(scene: _Scene) -> Block:
    """Return own air taken in again, a bar from zero for each state."""
    strokes = [words_at(14, 30, "Own air taken in again, share of the cleaner's flow", size=14.5, weight=600)]
    y = 54.0
    for state in scene.design.states:
        strokes += _own_air_row(scene, state, y)
        y += 62.0
    return Block(strokes=tuple(strokes), height=y - 14.0)


def _marks_block(scene: _Scene) -> Block:
    """Return what the marks on the drawing stand for."""
    strokes = [words_at(14, 24, "Marks", size=14.5, weight=600)]
    y = 48.0
    for label, text in _marks(scene):
        written = paragraph(44, y, COLUMN - 50.0, text, size=13.5)
        strokes += [mark(26, y - 4.5, label), *written.strokes]
        y += max(written.height, 20.0) + 6.0
    return Block(strokes=tuple(strokes), height=y - 10.0)


def _blanks() -> Block:
    """Return the readings of test-out with room for a pen."""
    strokes = [words_at(14, 26, "To fill in at test-out", size=14.5, weight=600)]
    for index, label in enumerate(("cleaner's flow", "static A", "static B", "total external static")):
        strokes.append(blank(14 + 174 * (index % 2), 50 + 54 * (index // 2), label))
    return Block(strokes=tuple(strokes), height=160.0)


def _cautions(scene: _Scene) -> Block:
    """Return the cautions of this work, and what governs order and distance of the taps."""
    strokes: list[str] = []
    y = 24.0
    for text in scene.design.cautions[:2]:
        written = paragraph(14, y, COLUMN - 20.0, text, size=13.5, weight=600)
        strokes += written.strokes
        y += written.height + 6.0
    written = paragraph(14, y, COLUMN - 20.0, scene.design.order_and_distance, size=13, fill=INK_2)
    return Block(strokes=(*strokes, *written.strokes), height=y + written.height + 4.0)


def _own_air_row(scene: _Scene, state: LoopState, y: float) -> list[str]:
    own, cleaned = share_shown(state.recirculated), flow_shown(state.clean_air, scene.units)
    share = state.recirculated
    return [
        words_at(14, y, state.name, size=13.5, weight=600),
        words_at(COLUMN - 14, y, f"{own.whole}, {own.basis}", size=13.5, weight=600, anchor="end"),
        share_bar(14, y + 7.0, COLUMN - 28.0, share.value, share.low, share.high),
        words_at(COLUMN - 14, y + 42.0, f"cleans {cleaned.whole} worth", size=13, fill=INK_2, anchor="end"),
    ]


def _marks(scene: _Scene) -> list[tuple[str, str]]:
    """Return what each mark on the drawing stands for."""
    design, units = scene.design, scene.units
    duct = diameter_text(design.hookup.loop.diameter, units)
    found = [
        ("1", f"Take-off collar, {duct} round, {'down' if scene.is_reversed else 'up'}stream; sealed with mastic."),
        ("2", f"Re-entry collar, {duct} round, {'up' if scene.is_reversed else 'down'}stream; sealed with mastic."),
    ]
    if _has(scene, "hand damper"):
        found.append(("3", "Hand damper: set once at test-out, arm marked."))
    if _has(scene, "backdraft damper"):
        found.append(("4", "Backdraft damper: shuts when the cleaner stops."))
    found += [
        ("5", f"{words.sentence(design.hookup.cleaner.name)[:-1]}: room to open it and change its filters."),
        ("6", "Filter cabinet of the trunk, filter seated without a gap."),
        ("7", "Interlock, low voltage; wiring by licensed people. Try it in heat, cool, fan only and off."),
    ]
    if scene.sensor is not None:
        reads = share_shown(scene.sensor.over_room)
        found.append(
            (SENSOR_MARK, f"In-duct sensor, {scene.sensor.candidate.spot.value}: reads {reads.whole} of the rooms.")
        )
    return found
