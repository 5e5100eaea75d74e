"""Spill temperatures far above their own usual peak, CO or no CO."""

from __future__ import annotations

import numpy as np

from airtally.estimates import Basis, Estimate
from airtally.house.parts import House
from airtally.quantities import Quantity
from airtally.readings.log import Log
from airtally.safety.carbon_monoxide import overlaps
from airtally.safety.log_series import DAY, Rise, rises
from airtally.safety.parts import Grade, SafetyFinding, Standing, Topic
from airtally.safety.places import zone_of

FEWEST_DAYS = 5
"""Days of log before a usual peak is known. Judgement."""
ABOVE_USUAL = 15.0
"""How far above its usual daily peak a spill sensor counts as spilling. [K] Judgement."""


def spill_temperature_findings(house: House, log: Log) -> tuple[SafetyFinding, ...]:
    """Return one finding a spill sensor: the times it read far above the median of its daily peaks for five minutes."""
    found = []
    for stream in log.find(Quantity.SPILL_TEMPERATURE):
        time, value = log.series(stream)
        if time.size < 3:
            continue
        day = np.floor(time / DAY)
        days = np.unique(day)
        if days.size < FEWEST_DAYS:
            continue
        usual = float(np.median([value[day == one].max() for one in days]))
        spills = rises(time, value, np.full_like(value, usual), ABOVE_USUAL, 300.0)
        if spills:
            beside = diary_beside(house, spills)
            found.append(_finding(zone_of(house, stream.placement), stream.placement, usual, spills, beside))
    return tuple(found)


def diary_beside(house: House, spills: tuple[Rise, ...]) -> tuple[str, ...]:
    """Return in words what the household wrote around any of these times."""
    said = [
        f"diary: {entry.kind}" + (f" ({entry.text})" if entry.text else "")
        for entry in house.diary
        if any(overlaps(entry, one) for one in spills)
    ]
    return tuple(dict.fromkeys(said))


def _finding(
    zone: str, placement: str, usual: float, spills: tuple[Rise, ...], beside: tuple[str, ...]
) -> SafetyFinding:
    worst = max(spills, key=lambda one: one.peak)
    return SafetyFinding(
        id=f"safety-spill-temperature:{placement}",
        code="safety-spill-temperature",
        title=f"The spill sensor in {zone} read far above its usual peak",
        sentence=f"From {{start}} the spill temperature in {zone} reached {{peak}} for {{minutes}}; its usual daily "
        f"peak is {{usual}}. {_times(len(spills))} Flue gas may have come into the room whatever CO read.",
        figures=(
            ("peak", _kelvin(worst.peak)),
            ("usual", _kelvin(usual)),
            (
                "minutes",
                Estimate(
                    value=worst.duration, low=worst.duration, high=worst.duration, unit="s", basis=Basis.MEASURED,
                    source="spill sensor",
                ),
            ),
        ),
        grade=Grade.STOP,
        standing=Standing.OPEN,
        place=zone,
        start=worst.start,
        end=worst.end,
        evidence=beside,
        action="Stop using the appliance and have a qualified person test it with the exhausts on.",
        lifted_by=f"CO in {zone} and spillage time of every vented appliance there, worst state, below the limits",
        topic=Topic.COMBUSTION,
    )  # fmt: skip


def _times(count: int) -> str:
    return "It happened once." if count == 1 else f"It happened {count} times."


def _kelvin(value: float) -> Estimate:
    return Estimate(
        value=value, low=value - 2.0, high=value + 2.0, unit="K", basis=Basis.MEASURED, source="spill sensor"
    )
