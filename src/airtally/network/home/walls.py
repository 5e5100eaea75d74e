"""Where the envelope of a house leaks: how high, and on which side the wind finds it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.house.parts import ZoneKind
from airtally.network.home.unknowns import Layout
from airtally.physics.pressures.wind import wall_pressure_coefficient

HEIGHTS = (("low", 0.25), ("high", 0.75))
"""Where the wall leaks of a zone lie over its height: a uniform wall in two halves. [-]"""
LEVEL_PART = 0.5
"""Part of a house's leakage that lies in its lowest floor and its ceiling, with sill and top plate, the rest in its walls:
the value behind the basic model's stack coefficients (Sherman1980, from memory). [-]"""
_WINDWARD, _BESIDE, _LEEWARD = (float(wall_pressure_coefficient(angle)) for angle in (0.0, 0.5 * np.pi, np.pi))
Sides = tuple[tuple[str, float, float], ...]
SIDES: Sides = (("windward", 0.25, _WINDWARD), ("other sides", 0.75, (2.0 * _BESIDE + _LEEWARD) / 3.0))
"""Sides of the house, their part of the walls and their mean pressure coefficient, wind at right angles to a wall. [-]"""
ROOF: Sides = (("roof", 1.0, -0.5),)
"""The ceiling's, as the roof over it has it: low slopes -0.6 to -0.4 (SwamiChandra1987, read in a public table)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """Leaks of one zone at one height on one side. ``share`` of what the buffers leave of the envelope's leakage [-].

    ``height`` is above the lowest floor [m], ``coefficient`` the mean pressure coefficient there [-].
    """

    name: str
    zone: str
    share: float
    height: float
    coefficient: float


def walls_of(layout: Layout, heights: dict[str, tuple[float, float]]) -> tuple[Wall, ...]:
    """Return the leaks of each zone, shared out by volume, over its walls and the house's floor or ceiling if it has it.

    Over a crawlspace or under an attic the level's leaks are the buffer's own, and what is left lies in the walls.

    Parameters
    ----------
    layout : Layout
    heights : dict of str to (float, float)
        Lowest and highest point of each inside zone. [m]
    """
    bottom, top = min(low for low, _ in heights.values()), max(high for _, high in heights.values())
    kinds = {zone.kind for zone in layout.buffers}
    found = []
    for zone, (low, high) in heights.items():
        ends = [("floor", low, SIDES, ZoneKind.CRAWLSPACE)] * (low == bottom)
        ends += [("ceiling", high, ROOF, ZoneKind.ATTIC)] * (high == top)
        level = LEVEL_PART / max(len(ends), 1)
        parts = [(name, height, level, sides) for name, height, sides, buffer in ends if buffer not in kinds]
        wall = (1.0 - level * len(parts)) / len(HEIGHTS)
        parts += [(f"{name} wall", low + part * (high - low), wall, SIDES) for name, part in HEIGHTS]
        found += [
            Wall(
                name=f"{name} {zone}, {side}",
                zone=zone,
                share=layout.share_of_volume(zone) * share * part,
                height=height,
                coefficient=coefficient,
            )
            for name, height, share, sides in parts
            for side, part, coefficient in sides
        ]
    return tuple(found)
