"""What these readings cannot tell, in words, always with the one reading that would settle it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats
from airtally.house.parts import AirSide
from airtally.inference.prepare import Prepared
from airtally.inference.rates import phase_rates
from airtally.parameters import Prior, Values

LIMIT = 0.7
"""A quantity counts as not identified if its interval is more than this share of the prior's; own choice."""
KNOWN_GAIN = 0.2
"""A monitor whose gain is known no better [standard deviation of its logarithm] leaves the rooms' level open; own choice."""
PRIOR_DRAWS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class NotIdentified:
    """One thing the readings leave open: its name, why, and what would settle it."""

    quantity: str
    why: str
    settle: str


def what_is_not_identified(
    prepared: Prepared, prior: Prior, values: Values, rng: np.random.Generator
) -> tuple[NotIdentified, ...]:
    """Compare the spread of each loss rate and equipment parameter with that of its prior."""
    found: list[NotIdentified] = []
    before = prior.values(rng.normal(size=(PRIOR_DRAWS, len(prior.parameters))))
    for phase in prepared.phases:
        for fan_on, words in ((False, "fan off"), (True, "fan on")):
            if fan_on and prepared.house.air_handler is None:
                continue
            after = phase_rates(prepared, values, phase, fan_on=fan_on)
            ahead = phase_rates(prepared, before, phase, fan_on=fan_on)
            if after is None or ahead is None:
                continue
            share = _spread(after["total"]) / _spread(ahead["total"])
            if share > LIMIT:
                found.append(
                    NotIdentified(
                        quantity=f"phases/{phase.id}/{'fan_on' if fan_on else 'fan_off'}",
                        why=f"the loss rate with the {words} in '{phase.name}' is hardly better known than before the readings",
                        settle="two evenings of two hours with the fan held off and two with it held on, with the monitors as they are",
                    )
                )
    for parameter in prior.parameters:
        kind, _, name = parameter.name.partition("/")
        if kind not in ("filter", "cleaner", "air_exchange", "penetration", "leak"):
            continue
        share = parameter.share_of_prior(values[parameter.name])
        if share > LIMIT or not parameter.is_learnt:
            found.append(_sentence(kind, name, parameter.name))
    gains = [p.spread for p in prior.parameters if p.name.startswith("gain/")]
    if not any(s.side is AirSide.ROOM for s in prepared.sensors) and min(gains, default=0.0) > KNOWN_GAIN:
        found.append(
            NotIdentified(
                quantity="room level",
                why="the in-duct monitor's own gain cannot be told from the rooms' level; rates are free of it, levels and grams are not",
                settle="one day with a second monitor in the living room, or a day of both side by side",
            )
        )
    return tuple(found)


def _spread(rate: Floats) -> float:
    """Return the standard deviation of the logarithm; draws of a cleaner on trial may leave nothing positive."""
    return float(np.std(np.log(np.maximum(rate, 1e-9))))


def _sentence(kind: str, name: str, full: str) -> NotIdentified:
    if kind == "filter":
        return NotIdentified(
            quantity=full,
            why=f"how much the filter '{name}' takes in one pass cannot be told from settling with the fan on",
            settle="a monitor before and one after the filter for a day with the fan on, and the fan's flow",
        )
    if kind == "cleaner":
        return NotIdentified(
            quantity=full,
            why=f"the clean air of '{name}' cannot be told from the filter it works with",
            settle="two evenings with the fan on, the cleaner off on one of them",
        )
    if kind == "leak":
        return NotIdentified(
            quantity=full,
            why=f"the share of return air drawn through '{name}' leaves no mark of its own in these particles",
            settle="duct leakage at 25 Pa with the return side alone, or a tape test of the leak for a day",
        )
    if kind == "penetration":
        return NotIdentified(
            quantity=full,
            why="air exchange and the share of outdoor particles that comes through are seen only as their product",
            settle="carbon dioxide in an empty house for three hours after people leave",
        )
    return NotIdentified(
        quantity=full,
        why="air exchange is seen only through outdoor particles and settling",
        settle="carbon dioxide in an empty house for three hours after people leave",
    )
