"""Signs on the cut: hearth, range, bench, car, leaks, filter, cleaner, floor. None of them is a rating."""

from __future__ import annotations

from airtally.report.account_rows import NOT_ASSIGNED, STORED
from airtally.report.drawing import INK, INK_2, LEAF
from airtally.report.hookup_svg import path

SIGN = 22.0
"""Width of the sign at which a ribbon begins. [px]"""
FILTER_DEPTH, CLEANER_DEPTH, BOX_DEPTH = 17.0, 28.0, 20.0
"""Along the air. [px]"""


def source_sign(kind: str, way: str, x: float, y: float) -> str:
    """Return the sign of a source with its left edge at x and its middle at y; empty where there is none."""
    if "return leak" in way and "wall" not in way:
        return _duct_gap(x, y)
    drawn = {
        "cooking": f"M{x:g},{y - 5:g}h20v15h-20zM{x + 2:g},{y - 8:g}h6M{x + 12:g},{y - 8:g}h6M{x + 4:g},{y + 1:g}h12v6h-12z",
        "solid_fuel": f"M{x:g},{y + 10:g}v-20h20v20M{x - 2:g},{y - 10:g}h24M{x + 4:g},{y + 9:g}l12,-5m-12,0l12,5"
        f"M{x + 10:g},{y + 3:g}c-6,-4 0,-6 0,-10c4,3 4,7 0,10",
        "other": f"M{x:g},{y - 1:g}h20M{x + 3:g},{y - 1:g}v11M{x + 17:g},{y - 1:g}v11M{x + 5:g},{y - 7:g}h8v6h-8z",
        "garage": f"M{x:g},{y + 6:g}v-5l4,-1l3,-5h8l4,5l2,2v4zM{x + 3:g},{y + 6:g}a2.5,2.5 0 1 0 5,0M{x + 13:g},{y + 6:g}"
        "a2.5,2.5 0 1 0 5,0",
        "candle_incense": f"M{x + 7:g},{y + 10:g}v-11h6v11zM{x + 10:g},{y - 1:g}v-2c-4,-3 0,-5 0,-7c3,2 3,5 0,7",
        "buffer_space": f"M{x:g},{y + 8:g}h7M{x + 14:g},{y + 8:g}h7M{x + 10.5:g},{y + 11:g}v-18m-4,5l4,-6l4,6",
    }
    if kind in (NOT_ASSIGNED, STORED):
        return plain_box(x, y, 10.0, kind)
    return path(drawn[kind], width=1.5) if kind in drawn else ""


def _duct_gap(x: float, y: float) -> str:
    """Return a piece of duct with a gap in its lower side through which air is drawn in."""
    walls = f"M{x:g},{y - 8:g}h21M{x:g},{y + 4:g}h6M{x + 15:g},{y + 4:g}h6"
    return path(walls, width=1.8) + path(f"M{x + 10.5:g},{y + 11:g}v-12m-3.5,4l3.5,-5l3.5,5", width=1.3)


def filter_slab(x: float, y: float, half: float, prefix: str) -> str:
    """Return a filter from x, hatched upright."""
    return _hatched(x, y, FILTER_DEPTH, half, f"{prefix}-filter")


def cleaner_box(x: float, y: float, half: float, prefix: str) -> str:
    """Return an air cleaner from x, hatched crosswise."""
    return _hatched(x, y, CLEANER_DEPTH, half, f"{prefix}-cleaner")


def _hatched(x: float, y: float, width: float, half: float, pattern: str) -> str:
    return (
        f'<rect x="{x:g}" y="{y - half:g}" width="{width:g}" height="{2 * half:g}" fill="url(#{pattern})" '
        f'stroke="{INK}" stroke-width="1.6"/>'
    )


def plain_box(x: float, y: float, half: float, kind: str) -> str:
    """Return where other streams begin or end: what is stored, what is not assigned."""
    dash = "4 3" if kind == NOT_ASSIGNED else ""
    inside = path(f"M{x + 4:g},{y - 4:g}h6m3,0h3M{x + 4:g},{y + 4:g}h3m3,0h6", width=1.2) if kind == STORED else ""
    return (
        path(f"M{x:g},{y - half:g}h{BOX_DEPTH:g}v{2 * half:g}h{-BOX_DEPTH:g}z", width=1.4, fill=LEAF, dash=dash)
        + inside
    )


def dust(x: float, floor: float, width: float) -> str:
    """Return dots on a floor around a ribbon that ends there."""
    found = ""
    for index in range(round((width + 26.0) / 5.0)):
        at, up = x - 0.5 * width - 11.0 + 5.0 * index, (2.6, 5.8, 3.6)[index % 3]
        found += f'<circle cx="{at:g}" cy="{floor - up:g}" r="1.5" fill="{INK}"/>'
    return found


def blower(x: float, y: float) -> str:
    """Return an air handler's box from x with its wheel."""
    box = path(f"M{x:g},{y - 15:g}h20v30h-20z", width=1.8, fill=LEAF)
    wheel = f'<circle cx="{x + 10:g}" cy="{y:g}" r="7" fill="none" stroke="{INK}" stroke-width="1.3"/>'
    return box + wheel + path(f"M{x + 10:g},{y:g}l5,-5M{x + 10:g},{y:g}l-2,-7M{x + 10:g},{y:g}v7", width=1.1)


def earth(prefix: str) -> str:
    """Return the hatch of the ground."""
    return (
        f'<defs><pattern id="{prefix}-earth" width="7" height="7" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0,0V7" stroke="{INK_2}" stroke-width="0.8"/></pattern></defs>'
    )
