"""Findings from carbon dioxide: how fast a room's air is exchanged, and whether recorded ventilation reaches it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from airtally.arrays import Floats
from airtally.errors import AirtallyError, Problem
from airtally.estimates import Basis, Estimate
from airtally.findings.parts import Finding, Standing
from airtally.findings.raw_series import room_streams, series, slug, zone_name, zone_streams
from airtally.house.parts import AirSide, House, Ventilation
from airtally.inference.co2 import (
    OUTDOOR_CO2,
    air_exchange_from_decay,
    compare_meters,
    dropped_out,
    find_co2_decays,
    meter_pair_problem,
    meter_problems,
    outdoor_as_read,
    recorded_against_air,
)
from airtally.inference.decays import DecayWindow
from airtally.quantities import Quantity
from airtally.readings.log import Flag, Log, Stream

MOST_DECAYS = 20
"""Of a long record only the longest decays are fitted; own choice."""
EMPTY = 0.9
"""Share of a decay over which nobody was counted that makes the room count as empty; own choice. [-]"""
STOOD_STILL = 0.9
"""Share of a decay over which a recorded value did not change that is called standing still; own choice. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Decay:
    """One decay of one meter: where, how fast [1/s], who says that the room was empty, who says that it was not."""

    window: DecayWindow
    rate: Estimate
    empty: tuple[str, ...]
    occupied: tuple[str, ...]

    @property
    def length(self) -> float:
        """Return its duration. [s]"""
        return self.window.stop - self.window.start


@dataclass(frozen=True, slots=True, kw_only=True)
class _Meter:
    zone: str
    stream: Stream
    time: Floats
    co2: Floats
    problems: tuple[Problem, ...]
    decays: tuple[_Decay, ...]


def air_exchange(house: House, log: Log) -> tuple[tuple[Finding, ...], tuple[Problem, ...]]:
    """Return what the CO2 meters say, room by room, and what is wrong with them or with recorded ventilation."""
    meters = [m for zone, s in room_streams(house, log, Quantity.CO2) if (m := _meter(house, log, zone, s)) is not None]
    findings: list[Finding] = []
    problems = [problem for meter in meters for problem in meter.problems]
    for zone in dict.fromkeys(meter.zone for meter in meters):
        here = [meter for meter in meters if meter.zone == zone]
        pairs, doubts = _pairs(house, zone, here)
        problems += doubts
        with_decay = [meter for meter in here if meter.decays]
        if with_decay:
            # The meter least in doubt speaks for the room; of equals the one that looks more often.
            best = min(with_decay, key=lambda m: (len(m.problems), -m.time.size))
            findings.append(_exchange(house, zone, best, [m for m in with_decay if m is not best]))
            said, contradictions = _recorded(house, log, zone, best)
            findings += said
            problems += contradictions
        findings += pairs
    return tuple(findings), tuple(problems)


def _meter(house: House, log: Log, zone: str, stream: Stream) -> _Meter | None:
    raw = series(log, stream, Flag.HELD, Flag.IMPOSSIBLE, Flag.STUCK)[1]
    if raw.size == 0:
        return None
    time, co2 = series(log, stream, Flag.HELD)
    sound = ~dropped_out(co2)
    time, co2 = time[sound], co2[sound]
    decays: list[_Decay] = []
    try:
        outdoor = _outdoor(house, log, co2)
        windows = find_co2_decays(time, co2, outdoor=outdoor.value)
    except AirtallyError:
        windows = ()
    for window in sorted(windows, key=lambda w: w.start - w.stop)[:MOST_DECAYS]:
        try:
            rate = air_exchange_from_decay(time, co2, window, outdoor=outdoor).rate
        except AirtallyError:
            continue
        if rate.value > 0.0:
            empty, occupied = _who_was_in(house, log, zone, window)
            decays.append(_Decay(window=window, rate=rate, empty=empty, occupied=occupied))
    return _Meter(
        zone=zone,
        stream=stream,
        time=time,
        co2=co2,
        problems=meter_problems(stream.name, raw),
        decays=tuple(decays),
    )


def _outdoor(house: House, log: Log, co2: Floats) -> Estimate:
    """Return the outdoor level: measured, else the lowest this meter reads, else the default reaching up to that."""
    for place in (p for p in house.placements if p.air_side is AirSide.OUTDOOR):
        for stream in log.find(Quantity.CO2, place.id):
            outside = series(log, stream, Flag.HELD)[1]
            if outside.size >= 20:
                low, value, high = (float(q) for q in np.quantile(outside, (0.05, 0.5, 0.95)))
                return Estimate(
                    value=value,
                    low=low,
                    high=high,
                    unit="mol/mol",
                    basis=Basis.MEASURED,
                    source=f"{stream.name}, outdoors",
                )
    lowest = outdoor_as_read(co2)
    if lowest.value <= OUTDOOR_CO2.high:
        return lowest
    return Estimate(
        value=OUTDOOR_CO2.value,
        low=OUTDOOR_CO2.low,
        high=lowest.value,
        unit="mol/mol",
        basis=Basis.DEFAULT,
        source=f"{OUTDOOR_CO2.source}; the room never aired out, so up to its lowest level",
    )


def _who_was_in(house: House, log: Log, zone: str, window: DecayWindow) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return who says that the room was empty over a decay, and who says that it was not."""
    empty = [
        "the diary: away"
        for entry in house.diary
        if entry.kind == "away" and entry.start <= window.start and (entry.end or np.inf) >= window.stop
    ][:1]
    occupied = []
    for stream in zone_streams(house, log, Quantity.OCCUPANTS, zone):
        time, count = series(log, stream, Flag.HELD, Flag.STUCK)
        inside = (time >= window.start) & (time <= window.stop)
        if np.count_nonzero(inside) < 4:
            continue
        nobody = float(np.mean(count[inside] <= 0.0))
        if nobody >= EMPTY:
            empty.append(f"{stream.placement}: nobody counted")
        else:
            most = float(np.max(count[inside]))
            occupied.append(f"{stream.placement}: up to {most:g} counted in {1.0 - nobody:.0%} of its readings then")
    return tuple(empty), tuple(occupied)


def _telling(meter: _Meter) -> _Decay:
    """Return the decay that counts: the longest with the room known to be empty, else the fastest.

    People in the room only slow a fall, so where nobody knows, the fastest is the nearest to the exchange.
    """
    known = [d for d in meter.decays if d.empty]
    return max(known, key=lambda d: d.length) if known else max(meter.decays, key=lambda d: d.rate.value)


def _rate_name(meter: _Meter) -> str:
    which = "longest decay of the empty room" if _telling(meter).empty else f"fastest of {len(meter.decays)} decays"
    return f"air exchange, {meter.stream.placement}, {which}"


def _exchange(house: House, zone: str, best: _Meter, others: list[_Meter]) -> Finding:
    decay, room = _telling(best), zone_name(house, zone)
    numbers = [(_rate_name(m), _telling(m).rate) for m in (best, *others)]
    volume = next((z.volume for z in house.zones if z.id == zone), None)
    if volume is not None:
        numbers.append(("outdoor air, exchange times volume", _product(decay.rate, volume)))
    if len(best.decays) > 1:
        rates = [d.rate.value for d in best.decays]
        numbers.append(
            (
                f"air exchange, median of {len(rates)} decays",
                Estimate(
                    value=float(np.median(rates)),
                    low=min(rates),
                    high=max(rates),
                    unit="1/s",
                    basis=Basis.FITTED,
                    source=f"{best.stream.name}; range over decays",
                ),
            )
        )
    against = list(decay.occupied)
    if not decay.empty:
        against.append("nobody recorded that the room was empty; with people in, a fall is slower than the exchange")
    hours = decay.length / 3600.0
    return Finding(
        id=slug("air-exchange", zone),
        title=f"Carbon dioxide shows how fast the air of {room} is exchanged."
        if decay.empty
        else f"Carbon dioxide shows the least air exchange of {room}, as somebody may have been in.",
        source="carbon dioxide of people",
        path=f"air exchange, {room}",
        test="another decay with the room empty and doors alike gives another rate",
        evidence_for=(f"a fall without a break over {hours:.1f} h", *decay.empty),
        evidence_against=tuple(against),
        standing=Standing.SUPPORTED if decay.empty else Standing.NOT_SEPARABLE,
        settle="three hours with the room empty after people leave, doors and windows noted",
        numbers=tuple(numbers),
    )


def _product(rate: Estimate, volume: Estimate) -> Estimate:
    value = rate.value * volume.value
    low = np.hypot((rate.value - rate.low) * volume.value, (volume.value - volume.low) * rate.value)
    high = np.hypot((rate.high - rate.value) * volume.value, (volume.high - volume.value) * rate.value)
    return Estimate(
        value=value,
        low=max(value - float(low), 0.0),
        high=value + float(high),
        unit="m3/s",
        basis=Basis.COMPUTED,
        source="air exchange from decay times surveyed volume",
    )


def _pairs(house: House, zone: str, meters: list[_Meter]) -> tuple[list[Finding], list[Problem]]:
    """Return what two meters of one room say of each other where they disagree."""
    findings: list[Finding] = []
    problems: list[Problem] = []
    for first, second in combinations(sorted(meters, key=lambda m: -m.time.size), 2):
        if first.time.size < 2:
            continue
        try:
            pair = compare_meters(first.time, first.co2, second.time, second.co2)
        except AirtallyError:
            continue
        problem = meter_pair_problem(first.stream.name, second.stream.name, pair)
        if problem is None:
            continue
        problems.append(problem)
        findings.append(
            Finding(
                id=slug("meters-disagree", first.stream.placement, second.stream.placement),
                title=f"Two carbon dioxide meters in {zone_name(house, zone)} disagree by more than such meters do.",
                source="sensor",
                path=f"{second.stream.placement} against {first.stream.placement}",
                test="side by side outdoors both read alike",
                evidence_for=(f"{pair.matched} readings within ten minutes of each other; {problem.found}",),
                evidence_against=(),
                standing=Standing.SUPPORTED,
                settle="both in outdoor air for half an hour",
                numbers=(
                    (f"{second.stream.placement} less {first.stream.placement}", pair.offset),
                    ("slope of the second on the first", _ratio(pair.gain, f"{pair.matched} readings")),
                ),
            )
        )
    return findings, problems


def _ratio(value: float, source: str) -> Estimate:
    return Estimate(value=value, low=value, high=value, unit="-", basis=Basis.COMPUTED, source=source)


def _recorded(house: House, log: Log, zone: str, meter: _Meter) -> tuple[list[Finding], list[Problem]]:
    """Hold the recorded valve, or a surveyed fan that always runs, against the air exchange of the room's best decay."""
    volume = next((z.volume for z in house.zones if z.id == zone), None)
    decay = _telling(meter)
    middle = 0.5 * (decay.window.start + decay.window.stop)
    fans = [v for v in house.ventilation if v.zone == zone and v.since <= middle < v.until]
    valves = zone_streams(house, log, Quantity.VALVE_FRACTION, zone)
    if volume is None or volume.value <= 0.0 or len(fans) != 1 or not valves:
        return [], []
    time, fraction = series(log, valves[0], Flag.HELD, Flag.STUCK)
    inside = (time >= decay.window.start) & (time <= decay.window.stop)
    if np.count_nonzero(inside) < 4:
        return [], []
    recorded = _flow_over_volume(float(np.mean(fraction[inside])), fans[0], volume, valves[0])
    problem = recorded_against_air(f"{valves[0].name}, {fans[0].id}", recorded, decay.rate)
    if problem is None:
        return [], []
    usual = _commonest(fraction[inside])
    still = float(np.mean(fraction[inside] == usual))
    span = _unchanged(time, fraction, middle)
    stood = still >= STOOD_STILL
    reaches_less = recorded.value > decay.rate.value
    title = (
        f"The recorded ventilation did not reach {zone_name(house, zone)}: its value stood still and the air does not bear it out."
        if stood and reaches_less
        else f"The recorded ventilation of {zone_name(house, zone)} and its air do not agree."
    )
    words = [problem.found]
    if stood:
        words.append(f"the recorded value did not change for {span / 3600.0:.0f} h around the decay")
    finding = Finding(
        id=slug("recorded-ventilation", zone),
        title=title,
        source="ventilation",
        path=f"{fans[0].id}, by {valves[0].name}",
        test="flow at the grille, measured with the recorded value as it stands, is what the record says",
        evidence_for=tuple(words),
        evidence_against=decay.occupied,
        standing=Standing.SUPPORTED if decay.empty else Standing.NOT_SEPARABLE,
        settle="read the valve and the flow at the grille, then move the valve and read both again",
        numbers=(
            ("recorded ventilation over volume", recorded),
            ("air exchange that the air shows", decay.rate),
            ("recorded fraction during the decay", _fraction(fraction[inside], valves[0])),
            ("time for which the recorded value stood still", _duration(span)),
        ),
    )
    return [finding], [problem]


def _flow_over_volume(fraction: float, fan: Ventilation, volume: Estimate, valve: Stream) -> Estimate:
    value = fraction * fan.flow.value / volume.value
    spread = [(1.0 - fan.flow.low / fan.flow.value, 1.0 - volume.value / volume.high)] if fan.flow.value > 0.0 else []
    spread += (
        [(fan.flow.high / fan.flow.value - 1.0, volume.value / volume.low - 1.0)] if spread and volume.low > 0.0 else []
    )
    down, up = (float(np.hypot(*pair)) for pair in (*spread, (0.0, 0.0), (0.0, 0.0))[:2])
    return Estimate(
        value=value,
        low=max(value * (1.0 - down), 0.0),
        high=value * (1.0 + up),
        unit="1/s",
        basis=Basis.COMPUTED,
        source=f"{valve.name} times surveyed flow over volume",
    )


def _commonest(values: Floats) -> float:
    distinct, counts = np.unique(values, return_counts=True)
    return float(distinct[np.argmax(counts)])


def _unchanged(time: Floats, value: Floats, at: float) -> float:
    """Return how long the value around an instant stood as it was. [s]"""
    index = int(np.clip(np.searchsorted(time, at), 0, time.size - 1))
    other = np.flatnonzero(value != value[index])
    before, after = other[other < index], other[other > index]
    first = int(before[-1]) + 1 if before.size else 0
    last = int(after[0]) - 1 if after.size else time.size - 1
    return float(time[last] - time[first])


def _fraction(values: Floats, valve: Stream) -> Estimate:
    return Estimate(
        # Summing equal numbers may leave the mean a hair outside their range.
        value=float(np.clip(np.mean(values), np.min(values), np.max(values))),
        low=float(np.min(values)),
        high=float(np.max(values)),
        unit="-",
        basis=Basis.MEASURED,
        source=f"{valve.name}; range",
    )


def _duration(seconds: float) -> Estimate:
    return Estimate(value=seconds, low=seconds, high=seconds, unit="s", basis=Basis.MEASURED, source="record")
