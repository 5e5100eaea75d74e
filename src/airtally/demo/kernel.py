"""The compiled house: air flows, particle balance by Runge-Kutta in half minutes, thermostat and fan rule.

One minute after the other: the controller decides on what its sensors read, the flows follow, then two
classical fourth-order Runge-Kutta steps of 30 s advance eight size bins and four gases in six zones.
Every bin is carried once for each source tag, so that the tags add up to the whole. The weighted mean of
the four stages is the exact mean of the discrete solution, so the removed masses close to rounding.

Layout: concentrations by zone and lane, lanes contiguous, loops over them of length known only at run
time, which compile fast and run as vector instructions.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar, cast

import numba
import numpy as np

from airtally.arrays import Floats, Integers

_F = TypeVar("_F", bound=Callable[..., object])
STEPS = 2
"""Runge-Kutta steps a minute."""
ROOMS, ZONES, FINE, BINS = 5, 6, 6, 8
GASES = 4
CO2, CO, VOC, VAPOUR = range(4)
"""Bin b of tag t is lane b * tags + t; the four gases follow. A run may carry all sources under one tag."""
LIVING, BEDROOMS, FAMILY, WORKSHOP, UTILITY, GARAGE = 0, 1, 2, 3, 4, 5
COOKING = 2

# Columns of the table of epochs.
(
    LEAK_COEFFICIENT,
    LEAK,
    UTILITY_LEAK,
    SUPPLY_LEAK,
    HEATING_FLOW,
    CIRCULATE_FLOW,
    HOOD_FLOW,
    GRILLE_FLOW,
    HOOD_CAPTURE,
    FILTER_NUMBER,
    BYPASS,
    CLEANER_FLOW,
    RECIRCULATED,
    AFTER_FILTER,
) = range(14)
RETURNS, SUPPLIES, EFFICIENCY = 14, 19, 24
EPOCH_COLUMNS = 32

# Columns of the drivers by minute.
(
    OUT_TEMPERATURE,
    WIND,
    OUT_VAPOUR,
    HOOD,
    DRYER,
    BATH,
    FIRE,
    WINDOW,
    DOOR_SHUT,
    GARAGE_OPEN,
    SETPOINT,
    SMOKE_REQUEST,
    IS_OFFERED,
    MINUTE_OF_HOUR,
    CARBON,
    SPILL,
    DUCT_TEMPERATURE_OFF,
    INDOOR_RECORDED,
) = range(18)
DRIVER_COLUMNS = 18

# The house's constants.
(
    STACK_FACTOR,
    WIND_FACTOR,
    GARAGE_SHARE,
    LEAK_IS_GARAGE,
    FAN_SETTLING,
    DUCT_VOLUME,
    HEAT_LOSS,
    FIRE_FLOW,
    HEAT_OUTPUT,
    SENSOR_GAIN,
    SENSOR_OFFSET,
) = range(11)

# Columns of a rule.
ON_ABOVE, OFF_BELOW, SAMPLES_FROM, SAMPLES_MINUTES, SAMPLES_TWICE, MINIMUM_RUN, MAXIMUM_RUN, PURGE = range(8)

# Columns of what comes out by minute.
FAN, INDOOR_TEMPERATURE, DUCT_READING, DUCT_VOC, DUCT_TEMPERATURE, FAN_HOURS, FLOW, BY_RULE, STORED = range(9)
OUT_COLUMNS = 9
SINKS = ("air_exchange", "settling", "filter", "cleaner")
INLETS = ("infiltration", "garage_wall", "return_leak", "window", "emission")


def _compiled(function: _F) -> _F:
    return cast(_F, numba.njit(cache=True, error_model="numpy", nogil=True)(function))


@_compiled
def air_flows(
    epoch: Floats, now: Floats, house: Floats, shares: Floats, flow: float, indoor: float, move: Floats, terms: Floats
) -> None:
    """Fill the air flows of one minute; volume closes in every room.

    Parameters
    ----------
    epoch, now, house : Floats
        Rows of the tables above.
    shares : Floats, shape (4, 5)
        By room: of air in by cracks, of air out by cracks, of air through the garage wall [-]; door mixing with
        the next room [m3/s].
    flow : float
        Air handler. [m3/s]
    indoor : float
        [degC]
    move : Floats, shape (6, 6)
        Filled: air from zone j to zone i. [m3/s]
    terms : Floats, shape (6, 6)
        Filled by zone: outdoor air by cracks, garage air by the wall, air to outdoors, return, supply, window. [m3/s]
    """
    for i in range(ZONES):
        for j in range(ZONES):
            move[i, j] = 0.0
            terms[j, i] = 0.0
    stack = 1.06 * 9.81 * 6.0 * abs(indoor - now[OUT_TEMPERATURE]) / 280.0
    pressure = house[STACK_FACTOR] * stack + house[WIND_FACTOR] * 0.5 * 1.06 * now[WIND] ** 2
    natural = epoch[LEAK_COEFFICIENT] * max(pressure, 0.02) ** 0.65
    exhaust_living = epoch[HOOD_FLOW] * now[HOOD] + house[FIRE_FLOW] * now[FIRE]
    exhaust_bedrooms = 0.0198 * now[BATH]
    exhaust_utility = 0.0
    exhaust_family = 0.066 * now[DRYER]
    exhaust = exhaust_living + exhaust_bedrooms + exhaust_family + exhaust_utility
    unbalanced = flow * (epoch[LEAK] - epoch[SUPPLY_LEAK]) - exhaust
    if abs(unbalanced) < 2.0 * natural:
        inward, outward = natural - 0.5 * unbalanced, natural + 0.5 * unbalanced
    else:
        inward, outward = max(-unbalanced, 0.0), max(unbalanced, 0.0)
    through_wall = house[GARAGE_SHARE] * inward
    drawn = flow * (1.0 - epoch[LEAK])
    given = flow * (1.0 - epoch[SUPPLY_LEAK])
    for i in range(ROOMS):
        terms[0, i] = shares[0, i] * (inward - through_wall)
        terms[1, i] = shares[2, i] * through_wall
        terms[2, i] = shares[1, i] * outward
        share = (1.0 - epoch[UTILITY_LEAK]) * epoch[RETURNS + i]
        if i == UTILITY:
            share = epoch[UTILITY_LEAK]
        terms[3, i] = drawn * share
        terms[4, i] = given * epoch[SUPPLIES + i]
    terms[2, LIVING] += exhaust_living
    terms[2, BEDROOMS] += exhaust_bedrooms
    terms[2, FAMILY] += exhaust_family
    terms[5, LIVING] = now[WINDOW]
    _through_doors(epoch, now, shares, flow, move, terms)
    leak_from_garage = flow * epoch[LEAK] * house[LEAK_IS_GARAGE]
    own = (0.5 + 0.10 * now[WIND] + 0.012 * abs(indoor - now[OUT_TEMPERATURE])) / 3600.0 + now[GARAGE_OPEN] / 400.0
    terms[2, GARAGE] = own * 118.0
    terms[3, GARAGE] = through_wall + leak_from_garage
    terms[0, GARAGE] = terms[2, GARAGE] + terms[3, GARAGE]


@_compiled
def _through_doors(epoch: Floats, now: Floats, shares: Floats, flow: float, move: Floats, terms: Floats) -> None:
    """Let air mix through doors both ways, and flow one way along the tree of rooms so that volume closes."""
    pending = 0.0
    for step in range(ROOMS - 1):
        i = ROOMS - 1 - step
        j = LIVING if i < WORKSHOP else FAMILY
        net = terms[0, i] + terms[1, i] + terms[4, i] - terms[2, i] - terms[3, i]
        if j == FAMILY:
            pending += net
        elif i == FAMILY:
            net += pending
        mixing = shares[3, i] * (0.35 if i == BEDROOMS and now[DOOR_SHUT] > 0.5 else 1.0)
        move[i, j] += mixing + max(-net, 0.0)
        move[j, i] += mixing + max(net, 0.0)
    if flow == 0.0:
        move[LIVING, WORKSHOP] += epoch[GRILLE_FLOW]
        move[WORKSHOP, LIVING] += epoch[GRILLE_FLOW]


@_compiled
def what_passes(
    epoch: Floats, cleaner: Floats, flow: float, hours: float, carbon: float, tags: int, passes: Floats
) -> None:
    """Fill what passes filter and cleaner. Shape (3, lanes): filter, cleaner, both [-].

    Dust makes the filter a little better with every hour of fan. The cleaner sits ahead of the filter
    and takes its share of the duct's air after what it draws again of its own discharge.
    """
    for part in range(passes.shape[0]):
        for k in range(passes.shape[1]):
            passes[part, k] = 1.0
    if flow <= 0.0:
        return
    aged = 1.0 + 0.12 * min(hours / 400.0, 1.0)
    again = epoch[RECIRCULATED]
    for b in range(cleaner.size):
        clean = min(epoch[EFFICIENCY + b] * aged, 0.995) * (1.0 - epoch[BYPASS])
        single = cleaner[b]
        once = epoch[CLEANER_FLOW] * single * (1.0 - again) / (1.0 - again * (1.0 - single))
        for k in range(b * tags, (b + 1) * tags):
            passes[0, k] = 1.0 - clean
            passes[1, k] = 1.0 - once / flow
    passes[1, BINS * tags + VOC] = 1.0 - epoch[CLEANER_FLOW] * (1.0 - again) * carbon / flow
    for k in range(passes.shape[1]):
        passes[2, k] = passes[0, k] * passes[1, k]


@_compiled
def fill_sources(
    epoch: Floats,
    now: Floats,
    terms: Floats,
    outdoor: Floats,
    inward: Floats,
    passes: Floats,
    leak_outdoors: float,
    particles: Floats,
    gases: Floats,
    sizes: Floats,
    tag_of: Integers,
    tags: int,
    sources: Floats,
) -> None:
    """Fill what emission and outdoor air bring, by zone and lane, per second. Shape (6, lanes)."""
    gas = BINS * tags
    for i in range(sources.shape[0]):
        for k in range(sources.shape[1]):
            sources[i, k] = 0.0
        for e in range(sizes.shape[0]):
            rate = particles[i, e]
            if rate != 0.0:
                if e == COOKING:
                    rate *= 1.0 - epoch[HOOD_CAPTURE] * now[HOOD]
                for b in range(sizes.shape[1]):
                    sources[i, b * tags + tag_of[e]] += rate * sizes[e, b]
        for g in range(gases.shape[1]):
            sources[i, gas + g] = gases[i, g]
        for s in range(outdoor.size):
            k = s * tags if s < BINS else gas + s - BINS
            crack = inward[k] if i < ROOMS else (0.95 if s < BINS else 1.0)
            through = crack * terms[0, i] + terms[5, i] + terms[4, i] * leak_outdoors * passes[k]
            sources[i, k] += through * outdoor[s]


@_compiled
def fill_supply(
    stage: Floats, terms: Floats, passes: Floats, leak: float, leak_is_garage: float, supply: Floats
) -> None:
    """Fill what the supply duct blows, by lane: return air with its leak, behind cleaner and filter. Shape (lanes,)."""
    drawn = 0.0
    for i in range(terms.shape[1] - 1):
        drawn += terms[3, i]
    for k in range(supply.size):
        supply[k] = 0.0
    if drawn > 0.0:
        for j in range(terms.shape[1] - 1):
            share = (1.0 - leak) * terms[3, j] / drawn
            for k in range(supply.size):
                supply[k] += share * stage[j, k]
        for k in range(supply.size):
            supply[k] = passes[k] * (supply[k] + leak * leak_is_garage * stage[GARAGE, k])


@_compiled
def fill_slope(
    stage: Floats,
    sources: Floats,
    move: Floats,
    terms: Floats,
    loss: Floats,
    volume: Floats,
    supply: Floats,
    slope: Floats,
) -> None:
    """Fill the slope of every zone and lane: doors, cracks, supply air, surfaces, sources. Shape (6, lanes) [1/s]."""
    lanes = stage.shape[1]
    for i in range(stage.shape[0]):
        leaving = terms[2, i] + terms[3, i] + terms[5, i]
        for j in range(terms.shape[1] - 1):
            leaving += move[j, i]
        wall = terms[1, i]
        given = terms[4, i]
        for k in range(lanes):
            gain = sources[i, k] + wall * stage[GARAGE, k] + given * supply[k]
            slope[i, k] = gain - (leaving + loss[k] * volume[i]) * stage[i, k]
        for j in range(stage.shape[0]):
            rate = move[i, j]
            if rate != 0.0:
                for k in range(lanes):
                    slope[i, k] += rate * stage[j, k]
        each = 1.0 / volume[i]
        for k in range(lanes):
            slope[i, k] *= each


@_compiled
def add_to(total: Floats, weight: float, part: Floats) -> None:
    """Add ``weight`` times ``part`` to ``total``, both (6, lanes)."""
    for i in range(total.shape[0]):
        for k in range(total.shape[1]):
            total[i, k] += weight * part[i, k]


@_compiled
def put(target: Floats, base: Floats, weight: float, part: Floats) -> None:
    """Put ``base`` plus ``weight`` times ``part`` into ``target``, all (6, lanes)."""
    for i in range(target.shape[0]):
        for k in range(target.shape[1]):
            target[i, k] = base[i, k] + weight * part[i, k]


@_compiled
def advance(
    air: Floats,
    sources: Floats,
    move: Floats,
    terms: Floats,
    loss: Floats,
    passes: Floats,
    leak: float,
    leak_is_garage: float,
    volume: Floats,
    work: Floats,
    supply: Floats,
    mean: Floats,
) -> None:
    """Advance ``air`` (6, lanes) by a minute in place; ``mean`` gets its exact mean over the minute.

    ``work``, shape (4, 6, lanes): stage, slope, weighted slopes, and a part that is always zero.
    """
    seconds = 60.0 / STEPS
    stage, slope, gathered, nothing = work[0], work[1], work[2], work[3]
    put(mean, nothing, 0.0, nothing)
    for _ in range(STEPS):
        put(gathered, nothing, 0.0, nothing)
        for part in range(4):
            reach = 0.0 if part == 0 else (seconds if part == 3 else 0.5 * seconds)
            weight = 1.0 if part == 0 or part == 3 else 2.0
            put(stage, air, reach, slope)
            add_to(mean, weight / (6.0 * STEPS), stage)
            fill_supply(stage, terms, passes, leak, leak_is_garage, supply)
            fill_slope(stage, sources, move, terms, loss, volume, supply, slope)
            add_to(gathered, weight, slope)
        add_to(air, seconds / 6.0, gathered)


@_compiled
def decide(now: Floats, rule: Floats, state: Floats, reading: float, carbon_monoxide: float, indoor: float) -> int:
    """Return the fan state of the coming minute: 0 off, 1 circulating, 2 heating.

    ``state``: heating 0/1, minutes since heat ended, asked by sensor 0/1, minutes of that run, minutes the
    fan has run, mean of the last two readings, rule began this run 0/1.
    """
    state[5] = 0.5 * (state[7] + reading)
    state[7] = reading
    if state[0] < 0.5 and indoor < now[SETPOINT] - 0.35:
        state[0] = 1.0
    elif state[0] > 0.5 and indoor > now[SETPOINT] + 0.35:
        state[0] = 0.0
        state[1] = 0.0
    state[1] += 1.0
    wanted = 0
    offered = now[IS_OFFERED] > 0.5 and carbon_monoxide < 9.0 and now[SPILL] < 0.5
    if not offered:
        state[2] = 0.0
        state[3] = 0.0
    else:
        minute = now[MINUTE_OF_HOUR]
        into = minute - rule[SAMPLES_FROM]
        sampling = 0.0 <= into < rule[SAMPLES_MINUTES]
        if rule[SAMPLES_TWICE] > 0.5:
            sampling = sampling or 0.0 <= into - 30.0 < rule[SAMPLES_MINUTES]
        if state[4] >= rule[PURGE]:
            if state[2] < 0.5 and state[5] > rule[ON_ABOVE]:
                state[2] = 1.0
                state[3] = 0.0
            elif state[2] > 0.5 and state[3] >= rule[MINIMUM_RUN] and state[5] < rule[OFF_BELOW]:
                state[2] = 0.0
        if state[2] > 0.5:
            state[3] += 1.0
            if state[3] > rule[MAXIMUM_RUN]:
                state[2] = 0.0
        if sampling or state[2] > 0.5 or now[SMOKE_REQUEST] > 0.5:
            wanted = 1
    fan = wanted
    if state[0] > 0.5 or state[1] <= 2.0:
        fan = 2
    state[6] = 1.0 if fan == 1 else 0.0
    state[4] = state[4] + 1.0 if fan > 0 else 0.0
    return fan


@_compiled
def sense_duct(
    epoch: Floats,
    flow: float,
    volume: float,
    leak_is_garage: float,
    air: Floats,
    outdoor: Floats,
    passes: Floats,
    terms: Floats,
    tags: int,
    duct: Floats,
) -> None:
    """Advance the air at the in-duct monitor, ``duct`` by bin and then VOC; it gives nothing back to the rooms.

    Fan on: swept by return air with its leak, behind filter and cleaner where the monitor sits there. Fan
    off: stale air that takes on garage and room air through the gaps, settles, and gathers VOC.
    """
    leak = epoch[LEAK]
    drawn = 0.0
    for i in range(ROOMS):
        drawn += terms[3, i]
    speed = 0.5 / 3600.0
    if flow > 0.0:
        speed = flow / volume
    kept = np.exp(-60.0 * speed)
    for s in range(duct.size):
        first = s * tags if s < BINS else BINS * tags + VOC
        last = first + (tags if s < BINS else 1)
        inside, garage = 0.0, 0.0
        for k in range(first, last):
            for i in range(ROOMS):
                share = epoch[RETURNS + i] if drawn == 0.0 else terms[3, i] / drawn
                inside += share * air[i, k]
            garage += air[GARAGE, k]
        leaked = leak_is_garage * garage + (1.0 - leak_is_garage) * outdoor[s if s < BINS else BINS + VOC]
        target = (1.0 - leak) * inside + leak * leaked
        if flow <= 0.0:
            target *= 0.45 if s < BINS else 1.08
        elif epoch[AFTER_FILTER] > 0.5:
            target *= passes[first]
        duct[s] = target + (duct[s] - target) * kept


@_compiled
def feel(now: Floats, house: Floats, state: Floats, fan: int, feels: Floats, noise: Floats) -> None:
    """Advance what instruments and thermostat feel: ``feels`` = indoor, duct temperature, slow and read PM2.5, bins' sum."""
    feels[2] += (feels[4] - feels[2]) * (1.0 - np.exp(-60.0 / 55.0))
    reading = house[SENSOR_GAIN] * feels[2] + house[SENSOR_OFFSET]
    feels[3] = max(reading + noise[0] + noise[1] * reading, 0.0)
    heat = house[HEAT_OUTPUT] if fan == 2 and state[0] > 0.5 else 0.0
    gains = 900.0 + 1800.0 * now[FIRE]
    feels[0] += 60.0 / 9.0e6 * (heat + gains - house[HEAT_LOSS] * (feels[0] - now[OUT_TEMPERATURE]))
    target = now[DUCT_TEMPERATURE_OFF] if fan == 0 else feels[0]
    feels[1] += (target - feels[1]) * (1.0 - np.exp(-60.0 / (1500.0 if fan == 0 else 90.0)))


@_compiled
def keep_means(mean: Floats, terms: Floats, rooms: Floats, tagged: Floats, gas: Floats, flows: Floats) -> None:
    """Keep one minute's means by zone: by bin, PM2.5 by tag, gases, and the flows."""
    tags = tagged.shape[1]
    for i in range(mean.shape[0]):
        for b in range(rooms.shape[1]):
            level = 0.0
            for t in range(tags):
                level += mean[i, b * tags + t]
                if b < FINE:
                    tagged[i, t] += mean[i, b * tags + t]
            rooms[i, b] = level
        for g in range(gas.shape[1]):
            gas[i, g] = mean[i, BINS * tags + g]
        for k in range(terms.shape[0]):
            flows[k, i] = terms[k, i]


@_compiled
def run_house(
    drivers: Floats,
    outdoor: Floats,
    particles: Floats,
    gases: Floats,
    noise: Floats,
    epochs: Floats,
    rules: Floats,
    rows: Integers,
    house: Floats,
    volume: Floats,
    curves: Floats,
    shares: Floats,
    sizes: Floats,
    tag_of: Integers,
    span: tuple[int, int],
    air: Floats,
    out: Floats,
    rooms: Floats,
    tagged: Floats,
    gas: Floats,
    flows: Floats,
) -> None:
    """Run the minutes of ``span``; fills ``out``, ``rooms``, ``tagged``, ``gas`` and ``flows``.

    Parameters
    ----------
    drivers : Floats, shape (minutes, DRIVER_COLUMNS)
        The indoor temperature is one of them where a run follows another; else NaN.
    outdoor : Floats, shape (minutes, 12)
        Outdoor air by bin [ug/m3], then the four gases.
    particles, gases : Floats, shapes (minutes, 6, 8) and (minutes, 6, 4)
        Emissions by tag [ug/s of PM2.5] and by gas.
    noise : Floats, shape (minutes, 2)
        Of the in-duct monitor: offset [ug/m3] and share [-].
    epochs, rules : Floats
        Tables; ``rows`` (minutes, 3) says which row of each holds and which fan state to follow (-1: the
        controller decides).
    house, volume : Floats
        Constants; zone volumes [m3].
    curves : Floats, shape (4, lanes)
        Settling [1/s], penetration; by bin in the first eight places: cleaner efficiency, monitor response [-].
    shares : Floats, shape (4, 5)
        See :func:`air_flows`.
    sizes : Floats, shape (8, 8)
        Emission by source and bin per unit of PM2.5. [-]
    tag_of : Integers, shape (8,)
        Tag that a source is carried under; outdoor air is always tag 0.
    span : pair of int
        First minute and first minute after.
    air : Floats, shape (6, lanes)
        State by zone and lane; advanced in place.
    out : Floats, shape (minutes, OUT_COLUMNS)
    rooms, tagged, gas : Floats, shapes (minutes, 6, 8), (minutes, 6, tags), (minutes, 6, 4)
        Minute means: by zone and bin; PM2.5 by zone and tag; gases. [ug/m3]
    flows : Floats, shape (minutes, 6, 6)
        The terms of :func:`air_flows`. [m3/s]
    """
    move, terms = np.zeros((ZONES, ZONES)), np.zeros((6, ZONES))
    lanes, tags = air.shape[1], tagged.shape[2]
    sources, work, mean = np.zeros((ZONES, lanes)), np.zeros((4, ZONES, lanes)), np.zeros((ZONES, lanes))
    passes, supply, loss = np.ones((3, lanes)), np.zeros(lanes), np.zeros(lanes)
    duct, state, feels = np.zeros(BINS + 1), np.zeros(8), np.zeros(5)
    state[1] = 10.0
    duct[BINS] = 420.0
    feels[0], feels[1] = 20.5, 20.0
    hours, carbon_monoxide = 0.0, 0.0
    is_garage = house[LEAK_IS_GARAGE]
    for n in range(span[0], span[1]):
        now, epoch = drivers[n], epochs[rows[n, 0]]
        if not np.isnan(now[INDOOR_RECORDED]):
            feels[0] = now[INDOOR_RECORDED]
        fan = decide(now, rules[rows[n, 1]], state, feels[3], carbon_monoxide, feels[0])
        if rows[n, 2] >= 0:
            fan = rows[n, 2]
        flow = 0.0 if fan == 0 else (epoch[CIRCULATE_FLOW] if fan == 1 else epoch[HEATING_FLOW])
        if n > span[0] and epoch[FILTER_NUMBER] != epochs[rows[n - 1, 0], FILTER_NUMBER]:
            hours = 0.0
        hours += (1.0 if fan > 0 else 0.0) / 60.0
        air_flows(epoch, now, house, shares, flow, feels[0], move, terms)
        what_passes(epoch, curves[2, :BINS], flow, hours, now[CARBON], tags, passes)
        for k in range(lanes):
            loss[k] = curves[0, k] * (house[FAN_SETTLING] if fan > 0 else 1.0)
        outdoors = (1.0 - is_garage) * epoch[LEAK]
        fill_sources(
            epoch, now, terms, outdoor[n], curves[1], passes[2], outdoors, particles[n], gases[n], sizes, tag_of, tags,
            sources,
        )  # fmt: skip
        advance(air, sources, move, terms, loss, passes[2], epoch[LEAK], is_garage, volume, work, supply, mean)
        keep_means(mean, terms, rooms[n], tagged[n], gas[n], flows[n])
        sense_duct(epoch, flow, house[DUCT_VOLUME], is_garage, mean, outdoor[n], passes[2], terms, tags, duct)
        feels[4] = 0.0
        for b in range(sizes.shape[1]):
            feels[4] += curves[3, b] * duct[b]
        feel(now, house, state, fan, feels, noise[n])
        carbon_monoxide = gas[n, UTILITY, CO]
        out[n, FAN], out[n, INDOOR_TEMPERATURE], out[n, DUCT_READING] = fan, feels[0], feels[3]
        out[n, DUCT_VOC], out[n, DUCT_TEMPERATURE] = duct[BINS], feels[1]
        out[n, FAN_HOURS], out[n, FLOW], out[n, BY_RULE] = hours, flow, state[2]
        for i in range(volume.size - 1):
            for k in range(FINE * tags):
                out[n, STORED] += volume[i] * air[i, k]
