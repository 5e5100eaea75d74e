"""From a room target to a threshold at the rule's own sensor, and how long the fan must run before it speaks."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np

from airtally.arrays import Floats
from airtally.house.parts import AirSide, House
from airtally.inference.fit import Fit
from airtally.inference.prepare import FAN_CIRCULATE, FAN_STATES, MICRO
from airtally.inference.regimes import handler_flow

RAMP = 60.0
"""Time a blower takes to reach its flow [s]; 30 to 90 s, common practice, no source."""
AVERAGING = 120.0
"""Average an in-duct monitor needs to be steady [s]; own choice."""
DUCT_SHARE = 0.007
"""Volume of return duct ahead of the sensor over house volume where nobody measured it [-]; 80 to 150 ft3 in a usual house, no source."""
PURGES = 3.0
"""Duct volumes to blow through before the air is the rooms'; common practice, no source."""
NOISE = 2.0
"""Standard deviation of a low-cost optical reading near the threshold [ug/m3]; no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mapping:
    """What a room level reads at the rule's sensor.

    ``slope`` reading over room level and ``leak`` reading over outdoor level, each shape (draws,) [-];
    ``side`` the air the sensor sees.
    """

    placement: str
    side: AirSide
    slope: Floats
    leak: Floats

    def threshold(self, room_level: float, outdoor: float) -> Floats:
        """Return the reading that stands for a room level at a usual outdoor level. Shape (draws,). [kg/m3]"""
        return np.asarray(self.slope * room_level + self.leak * outdoor)

    def room_level(self, reading: float, outdoor: float) -> Floats:
        """Return the room level that a reading stands for. Shape (draws,). [kg/m3]"""
        return np.asarray(np.maximum(reading - self.leak * outdoor, 0.0) / np.maximum(self.slope, 1e-6))


def mapping_at(fit: Fit, placement: str, time: float) -> Mapping | None:
    """Return the mapping of a sensor with the fan circulating in the house as it stood at ``time`` [s, POSIX UTC].

    None if the fit did not use that sensor.
    """
    sensors = fit.prepared.sensors
    found = next((i for i, s in enumerate(sensors) if placement in s.placements), None)
    if found is None:
        return None
    index = int(np.clip(np.searchsorted(fit.prepared.time, time), 0, fit.prepared.steps - 1))
    epoch = next(i for i, e in enumerate(fit.prepared.epochs) if e.first <= index < e.last)
    regime = epoch * FAN_STATES + FAN_CIRCULATE
    return Mapping(
        placement=placement,
        side=sensors[found].side,
        slope=fit.physics.slope[:, found, regime],
        leak=fit.physics.leak[:, found, regime],
    )


def usual_outdoor(fit: Fit) -> float:
    """Return the median outdoor level of the record. [kg/m3]"""
    return float(np.median(fit.prepared.outdoor))


def purge_seconds(house: House, volume: float) -> float:
    """Return the time until the duct holds room air, fan ramp included. [s]"""
    flow = handler_flow(house, FAN_CIRCULATE)
    handler = house.air_handler
    if handler is None or flow <= 0.0:
        return RAMP
    duct = handler.duct_volume.value if handler.duct_volume is not None else DUCT_SHARE * volume
    return RAMP + PURGES * duct / flow


def least_sampling_seconds(house: House, volume: float, response_time: float) -> float:
    """Return the fan time after which a monitor's average speaks of the rooms: purge, three responses, an average. [s]"""
    return float(60.0 * ceil((purge_seconds(house, volume) + 3.0 * response_time + AVERAGING) / 60.0))


def is_within_noise(threshold: float) -> bool:
    """Return whether a threshold lies inside a low-cost monitor's own error near it. ``threshold`` in [kg/m3]"""
    return threshold * MICRO < 2.0 * NOISE
