"""The one-volume model of a house: which parameters it has, their priors, and what they mean to the filter kernel.

The occupied rooms are one well-mixed volume V. A PM2.5 reading is mapped on the three size classes by
a stated prior (:data:`PM25_SPLIT`); the efficiencies here are those weighted by it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from airtally.arrays import Floats
from airtally.estimates import Estimate
from airtally.house.parts import AirSide, Cleaner, FanSpeed, Filter, House, ReturnLeak
from airtally.inference.drivers import mixed_volume, mixed_volume_spread
from airtally.inference.likelihood import HOUR_CLASSES, Physics
from airtally.inference.prepare import FAN_OFF, FAN_STATES, Prepared
from airtally.inference.regimes import FLOW, SUPPLY_LEAK, RegimeRates, handler_speed, regime_rates
from airtally.parameters import Parameter, Prior, Values

PM25_SPLIT = (0.75, 0.25)
"""Share of indoor PM2.5 mass in 0.3-1 um and 1-2.5 um; prior for mixed indoor aerosol, from memory, said so wherever shown."""
PM25_PART = (1.0, 0.75, 0.0)
"""Share of each size class's mass that counts as PM2.5; the 1-3 um class reaches beyond 2.5 um, from memory."""
SETTLING_BY_CLASS = (0.8, 1.6, 6.0)
"""Settling of each class over that of PM2.5; after Howard-Reed 2003 and Thatcher 2003, rounded; mean over PM25_SPLIT is 1."""
PENETRATION_BY_CLASS = (1.03, 0.91, 0.5)
"""Penetration of each class over that of PM2.5; after Thatcher 2003, rounded; mean over PM25_SPLIT is 1."""
TRIAL_SPREAD = 1.0
"""Prior standard deviation of a new cleaner's clean air over its stated one; own choice, wide enough that the readings decide. [-]"""
ROOMS_LAG = 0.1
"""Standard deviation of the logarithm of how much of a fan's flow serves the mean of the rooms; own choice. [-]"""
HOURS = 3600.0


def filter_efficiency(part: Filter) -> float:
    """Return a filter's single-pass efficiency for PM2.5 by its rating, air around it included. [-]"""
    fine = PM25_SPLIT[0] * part.efficiency[0].value + PM25_SPLIT[1] * part.efficiency[1].value
    return float(np.clip(fine * (1.0 - part.bypass.value), 0.01, 0.9995))


def cleaner_air(part: Cleaner) -> float:
    """Return a cleaner's clean air by its measured flow, its own discharge drawn again taken off. [m3/s]"""
    share = part.recirculated.value
    efficiency = part.efficiency.value
    return float(part.flow.value * efficiency * (1.0 - share) / (1.0 - share * (1.0 - efficiency)))


def prior_of(prepared: Prepared) -> Prior:
    """Return every parameter of a prepared house with its prior and the prior's source."""
    house = prepared.house
    found: list[Parameter] = [
        Parameter(
            name="air_exchange",
            centre=prepared.air_change * HOURS,
            spread=prepared.air_change_spread,
            unit="1/h",
            source="blower door and the basic stack-and-wind model (coefficients from memory); single houses within 35 %",
        ),
        Parameter(
            name="penetration",
            centre=0.80,
            spread=0.15,
            unit="-",
            ceiling=1.0,
            source="0.78 +- 0.17, Handbook of Indoor Air Quality 2021; Chicago field study 2025 0.63 +- 0.16",
        ),
        Parameter(
            name="settling",
            centre=0.22,
            spread=0.55,
            unit="1/h",
            source="PM2.5 with the fan off 0.1 to 0.4 per h, from memory",
        ),
        Parameter(
            name="settling_with_fan",
            centre=1.4,
            spread=0.25,
            unit="-",
            source="Howard-Reed 2003: the central fan raises settling up to about twofold below 5 um",
            is_learnt=_fan_matters(prepared),
        ),
        Parameter(name="steady_day", centre=1.5, spread=0.9, unit="ug/m3/h", source="weak, no source"),
        Parameter(name="steady_night", centre=0.8, spread=0.9, unit="ug/m3/h", source="weak, no source"),
        Parameter(name="wander", centre=0.4, spread=0.7, unit="ug/m3/sqrt(h)", source="weak, no source"),
        Parameter(name="small_rate_day", centre=0.5, spread=0.8, unit="1/h", source="weak, no source"),
        Parameter(name="small_rate_night", centre=0.1, spread=0.8, unit="1/h", source="weak, no source"),
        Parameter(name="large_rate_day", centre=0.3, spread=0.7, unit="1/h", source="weak, no source"),
        Parameter(name="large_rate_night", centre=0.03, spread=0.9, unit="1/h", source="weak, no source"),
        Parameter(name="small_size", centre=2.0, spread=0.6, unit="ug/m3", source="weak, no source"),
        Parameter(name="large_size", centre=35.0, spread=0.6, unit="ug/m3", source="weak, no source"),
        Parameter(
            name="volume",
            centre=mixed_volume(house),
            spread=mixed_volume_spread(house),
            unit="m3",
            source="survey, plan area times height of all rooms; rooms that nobody uses mix in part",
        ),
        Parameter(
            name="buffer_ratio",
            centre=0.8,
            spread=0.4,
            unit="-",
            source="PM2.5 of a crawlspace, attic or garage over outdoors, no source",
            is_learnt=False,
        ),
    ]
    found += _equipment_parameters(prepared)
    has_rooms = any(s.side is AirSide.ROOM for s in prepared.sensors)
    for sensor in prepared.sensors:
        in_room = sensor.side is AirSide.ROOM
        found += [
            Parameter(
                name=f"noise_floor/{sensor.name}",
                centre=1.0,
                spread=0.6,
                unit="ug/m3",
                source="optical sensors, no source",
            ),
            Parameter(
                name=f"noise_share/{sensor.name}",
                centre=0.07,
                spread=0.5,
                unit="-",
                source="optical sensors, no source",
            ),
            Parameter(
                name=f"gain/{sensor.name}",
                centre=1.0,
                spread=_gain_spread(house, sensor.placements) if in_room or not has_rooms else 0.15,
                unit="-",
                source="co-location where done, else spread between units and aerosols",
                is_learnt=not in_room and has_rooms,
            ),
        ]
    return Prior(parameters=tuple(found))


def _fan_matters(prepared: Prepared) -> bool:
    return bool(np.any(prepared.fan != FAN_OFF))


def _gain_spread(house: House, placements: tuple[str, ...]) -> float:
    owner = {p.id: p.instrument for p in house.placements}
    gains = {i.id: i.gain for i in house.instruments}
    spreads = [gains[owner[p]].relative_sd for p in placements if p in owner and owner[p] in gains]
    return float(np.clip(np.mean(spreads) if spreads else 0.15, 0.03, 0.4))


def filter_parameter(part: Filter, *, is_learnt: bool = True) -> Parameter:
    """Return the prior of a filter's single-pass efficiency for PM2.5."""
    wide = 0.5 * (part.efficiency[0].high - part.efficiency[0].low) / max(part.efficiency[0].value, 0.02)
    return Parameter(
        name=f"filter/{part.id}",
        centre=filter_efficiency(part),
        spread=float(np.clip(wide / 1.645, 0.3, 0.7)) if part.rating.upper() != "HEPA" else 0.05,
        unit="-",
        ceiling=0.9995,
        source=f"{part.rating}: {part.efficiency[0].source}",
        is_learnt=is_learnt,
    )


def flow_parameter(speed: FanSpeed, *, is_learnt: bool) -> Parameter:
    """Return the prior of a speed's flow through the rooms over its surveyed flow."""
    surveyed = speed.flow.relative_sd if speed.flow.low > 0 else 0.3
    return Parameter(
        name=FLOW + speed.name,
        centre=1.0,
        spread=float(np.clip(np.hypot(surveyed, ROOMS_LAG), ROOMS_LAG, 0.4)),
        unit="-",
        source=f"{speed.flow.source}; rooms far from the grilles see less of it",
        is_learnt=is_learnt,
    )


def leak_parameter(part: ReturnLeak) -> Parameter:
    """Return the prior of a return leak's share of handler flow."""
    fraction = part.fraction
    return Parameter(
        name=f"leak/{part.id}",
        centre=max(fraction.value, 1e-4),
        spread=float(np.clip(fraction.relative_sd, 0.15, 0.8)) if fraction.low > 0 else 0.6,
        unit="-",
        ceiling=0.6,
        source=fraction.source,
        is_learnt=False,
    )


def supply_leak_parameter(share: Estimate) -> Parameter:
    """Return the prior of what supply ducts lose outdoors, as a share of handler flow."""
    return Parameter(
        name=SUPPLY_LEAK,
        centre=max(share.value, 1e-4),
        spread=float(np.clip(share.relative_sd, 0.15, 0.8)) if share.low > 0 else 0.6,
        unit="-",
        ceiling=0.6,
        source=share.source,
        is_learnt=False,
    )


def cleaner_parameter(part: Cleaner) -> Parameter:
    """Return the prior of a cleaner's clean air."""
    again = part.recirculated
    doubt = (again.high - again.low) / 3.3 / max(1.0 - again.value, 0.1)
    flow = part.flow.relative_sd if part.flow.low > 0 else 0.3
    return Parameter(
        name=f"cleaner/{part.id}",
        centre=max(cleaner_air(part) * HOURS, 1.0),
        spread=float(np.clip(np.hypot(flow, doubt), 0.1, 0.8)),
        unit="m3/h",
        source=f"{part.flow.source}; {again.source}",
    )


def on_trial(stated: Parameter) -> Parameter:
    """Return the prior of a part that came during the record: its stated size is a claim that the record is to judge."""
    return replace(
        stated,
        spread=TRIAL_SPREAD,
        is_signed=True,
        source=f"{stated.source}; held wide, as the record is asked whether it works",
    )


def _equipment_parameters(prepared: Prepared) -> list[Parameter]:
    """Return one parameter for each filter, cleaner and leak that stood in the period."""
    matters = _fan_matters(prepared)
    seen: dict[str, Parameter] = {}
    as_found = prepared.epochs[0].house.cleaners
    for epoch in prepared.epochs:
        handler = epoch.house.air_handler
        found = [
            cleaner_parameter(c) if c in as_found else on_trial(cleaner_parameter(c)) for c in epoch.house.cleaners
        ]
        if handler is not None:
            found += [filter_parameter(f, is_learnt=matters) for f in handler.filters]
            speeds = {
                s.name: s for s in (handler_speed(epoch.house, fan) for fan in range(FAN_STATES)) if s is not None
            }
            found += [flow_parameter(s, is_learnt=matters) for s in speeds.values()]
            found += [leak_parameter(part) for part in handler.return_leaks]
            if handler.supply_leak_outside is not None:
                found.append(supply_leak_parameter(handler.supply_leak_outside))
        for parameter in found:
            seen.setdefault(parameter.name, parameter)
    return list(seen.values())


def physics_of(prepared: Prepared, values: Values) -> Physics:
    """Return the kernel's numbers for N parameter sets."""
    count = values.count
    pull = prepared.evidence.shape
    regimes = len(prepared.epochs) * FAN_STATES
    loss = np.empty((count, pull.size, regimes))
    gain = np.empty((count, pull.size, regimes))
    sensors = len(prepared.sensors)
    slope = np.ones((count, sensors, regimes))
    leak = np.zeros((count, sensors, regimes))
    for index, epoch in enumerate(prepared.epochs):
        for fan in range(FAN_STATES):
            regime = index * FAN_STATES + fan
            rates = regime_rates(epoch.house, fan, values, pull)
            loss[:, :, regime] = rates.loss
            gain[:, :, regime] = rates.gain
            for s, sensor in enumerate(prepared.sensors):
                own = values[f"gain/{sensor.name}"]
                slope[:, s, regime], leak[:, s, regime] = _sensor(sensor.side, own, rates)
    noise = [[values[f"noise_{kind}/{s.name}"] for s in prepared.sensors] for kind in ("floor", "share")]
    pulse_rate = np.stack(
        [np.stack([values[f"{size}_rate_{part}"] for part in ("day", "night")], axis=1) for size in ("small", "large")],
        axis=1,
    )
    steady = np.stack([values["steady_day"], values["steady_night"]], axis=1)
    if steady.shape[1] != HOUR_CLASSES:  # the kernel and this table must agree on what an hour class is
        raise AssertionError
    return Physics(
        loss=loss,
        gain=gain,
        steady=np.ascontiguousarray(steady),
        slope=slope,
        leak=leak,
        noise_floor=np.ascontiguousarray(np.stack(noise[0], axis=1)),
        noise_share=np.ascontiguousarray(np.stack(noise[1], axis=1)),
        wander=np.ascontiguousarray(values["wander"]),
        pulse_rate=np.ascontiguousarray(pulse_rate),
        pulse_size=np.ascontiguousarray(np.stack([values["small_size"], values["large_size"]], axis=1)),
    )


def _sensor(side: AirSide, own: Floats, rates: RegimeRates) -> tuple[Floats, Floats]:
    """Return reading over room level and reading over outdoor level for a sensor in this regime."""
    if side is AirSide.ROOM:
        return own, np.zeros(own.size)
    if side is AirSide.RETURN_BEFORE_FILTER:
        return own * rates.from_rooms, own * rates.dirty_before
    return own * rates.from_rooms * rates.passes, own * (rates.dirty_before * rates.passes + rates.dirty_after)
