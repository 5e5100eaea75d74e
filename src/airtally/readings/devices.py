"""Which device wrote which row: a swapped device is a new placement."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.errors import Problem
from airtally.readings import problems as codes
from airtally.readings.distinct import distinct
from airtally.readings.row_times import instant_in_words, outside
from airtally.readings.source import Source
from airtally.readings.tables import BROKEN

MOST_TOLD_APART = 4
"""With more devices than this one problem stands for all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Devices:
    """The device of each row. ``code`` has shape (rows,) and indexes ``ids``."""

    ids: tuple[str, ...]
    code: Integers


def find_devices(cells: Sequence[str]) -> Devices:
    """Return the device of each row; a blank cell means the row's forerunner."""
    texts, which = distinct(cells)
    words = ["" if text == BROKEN else text.strip() for text in texts]
    ids = {word: index for index, word in enumerate(dict.fromkeys(word for word in words if word))}
    code = np.array([ids.get(word, -1) for word in words], dtype=np.int64)[which]
    named = np.maximum.accumulate(np.where(code >= 0, np.arange(code.size), 0))
    return Devices(ids=tuple(ids), code=np.maximum(code[named], 0))


def name_placements(
    devices: Devices, time: Floats, lines: Integers, source: Source
) -> tuple[tuple[str, ...], tuple[Problem, ...]]:
    """Return each device's placement, and a problem for each change of device that the survey does not explain.

    Devices named in ``source.devices`` go where that says. Of the others, the one that wrote first within
    the placement's dates keeps the placement; each further one gets a new placement, ``living~2``.
    """
    stated = dict(source.devices)
    if len(devices.ids) < 2:
        return tuple(stated.get(one, source.placement) for one in devices.ids) or (source.placement,), ()
    within = np.isfinite(time) & ~outside(time, source)
    begins: dict[int, float] = {}
    ends: dict[int, float] = {}
    for code, word in enumerate(devices.ids):
        rows = within & (devices.code == code)
        if rows.any() and word not in stated:
            begins[code], ends[code] = float(time[rows].min()), float(time[rows].max())
    order = sorted(begins, key=lambda code: begins[code])
    number = {code: index for index, code in enumerate(order)}
    names = []
    for code, word in enumerate(devices.ids):
        later = number.get(code, 0)
        names.append(stated.get(word, source.placement if later == 0 else f"{source.placement}~{later + 1}"))
    problems = []
    if len(order) > MOST_TOLD_APART:
        return tuple(names), (_many(devices, order, lines, source),)
    for before, code in pairwise(order):
        rows = np.flatnonzero(within & (devices.code == code))
        first = rows[np.argmin(time[rows])]
        beside = begins[code] < ends[before]
        problems.append(
            codes.about_lines(
                codes.DEVICE_CHANGED,
                source.name,
                [int(lines[first])],
                found=f'device "{devices.ids[code][:40]}" writes {"beside" if beside else "after"} '
                f'"{devices.ids[before][:40]}", from {instant_in_words(begins[code])}',
                wanted="one device at a placement",
                remedy=f'Its rows were read as a placement of their own, "{names[code]}"; name that placement in the '
                "survey, or state the device's placement.",
            )
        )
    return tuple(names), tuple(problems)


def _many(devices: Devices, order: list[int], lines: Integers, source: Source) -> Problem:
    first = [int(lines[np.argmax(devices.code == code)]) for code in order[1:]]
    return codes.about_lines(
        codes.DEVICE_CHANGED,
        source.name,
        sorted(first),
        found=f"{len(order)} devices write into the file",
        wanted="one device at a placement",
        remedy=f'Each was read as a placement of its own, "{source.placement}", "{source.placement}~2" and so on; state '
        "the placement of each device.",
    )
