"""When the fan ran, what an in-duct monitor could see then, and clocks that jumped against it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.clock import local_text
from airtally.errors import Problem
from airtally.findings.parts import ClockJump
from airtally.house.parts import House
from airtally.inference.drivers import mixed_volume
from airtally.inference.prepare import IN_DUCT
from airtally.quantities import Quantity
from airtally.readings.fan import FanStates, fan_states, mask_in_duct
from airtally.readings.lags import offset_changes
from airtally.readings.log import Flag, Log
from airtally.scenario.mapping import purge_seconds

FAN_QUANTITIES = (Quantity.FAN_STATE, Quantity.FAN_POWER, Quantity.FAN_CURRENT, Quantity.FAN_FLOW)
"""What can say when the central fan ran, the best first."""
WITNESSES = (Quantity.TEMPERATURE, Quantity.VOC, Quantity.PM25)
"""Quantities of an in-duct monitor that move when the fan starts, the clearest first."""
LAG_WINDOW = 7800.0
"""Largest lag between fan and monitor looked for: a clock change and some. [s]"""
LEAST_JUMP = 1800.0
"""Smallest jump of lag that counts: clocks change by the hour and drift by minutes. [s]"""
CLOCK_DOUBT = 7200.0
"""How near to a clock's jump readings are not trusted to either side of it. [s]"""
RESPONSES = 2.0
"""Response times of a monitor to let pass after a fan start before its reading counts; own choice. [-]"""


Running = tuple[Floats, Floats, Integers]
"""When the central fan ran: starts and ends [s, POSIX UTC], and the level of each run."""


def heard_with_the_fan(house: House, log: Log) -> tuple[Log, Running | None, tuple[ClockJump, ...]]:
    """Return the log with clocks mended and duct air set aside, when the fan ran (None: nothing says so), the jumps."""
    log, jumps = mend_clocks(house, log)
    states = fan_record(house, log)
    log = mask_ducts(house, log, states)
    if states is None:
        return log, None, jumps
    running = states.level > 0
    return log, (states.start[running], states.end[running], states.level[running]), jumps


def mend_clocks(house: House, log: Log) -> tuple[Log, tuple[ClockJump, ...]]:
    """Put an in-duct monitor's times right from the day its clock jumps against the fan it listens to.

    The file stays as it was; the shift is said in a problem, and what lies close to the jump is set aside.
    """
    fan = next((s for q in FAN_QUANTITIES for s in log.find(q)), None)
    if fan is None:
        return log, ()
    fan_time, fan_value = log.series(fan)
    jumps = []
    problems = []
    for instrument in dict.fromkeys(p.instrument for p in house.placements if p.air_side in IN_DUCT):
        ids = {p.id for p in house.placements if p.instrument == instrument}
        jump = _clock_jump(log, instrument, ids, fan_time, fan_value)
        if jump is None:
            continue
        jumps.append(jump)
        mine = np.isin(log.stream, [i for i, s in enumerate(log.streams) if s.placement in ids])
        unsure = mine & (np.abs(log.time - jump.time) < CLOCK_DOUBT) & (log.flag == Flag.KEPT)
        log = replace(
            log,
            time=np.where(mine & (log.time >= jump.time), log.time - jump.shift, log.time),
            flag=np.where(unsure, Flag.CLOCK_UNSURE, log.flag).astype(np.uint8),
        )
        problems.append(
            Problem(
                code="clock-moved",
                where=instrument,
                found=f"its clock jumps by {jump.shift / 60.0:.0f} min against the fan's around "
                f"{local_text(jump.time, house.time_zone)}",
                wanted="one clock through the whole log",
                remedy="Later times were put back by as much, and readings close to the jump set aside; log in UTC.",
            )
        )
    return replace(log, problems=log.problems + tuple(problems)), tuple(jumps)


def _clock_jump(log: Log, instrument: str, ids: set[str], fan_time: Floats, fan_value: Floats) -> ClockJump | None:
    for quantity in WITNESSES:
        parts = [log.series(s) for s in log.find(quantity) if s.placement in ids]
        if sum(t.size for t, _ in parts) < 1000:
            continue
        time, value = (np.concatenate(arrays) for arrays in zip(*parts, strict=True))
        order = np.argsort(time, kind="stable")
        changes = offset_changes(fan_time, fan_value, time[order], value[order], LAG_WINDOW)
        found = next((c for c in changes if abs(c.after - c.before) >= LEAST_JUMP), None)
        if found is not None:
            return ClockJump(instrument=instrument, time=found.time, before=found.before, after=found.after)
    return None


def fan_record(house: House, log: Log) -> FanStates | None:
    """Return when the central fan was off, circulating or heating; None if nothing says so."""
    if house.air_handler is None:
        return None
    for quantity in FAN_QUANTITIES:
        for stream in log.find(quantity):
            time, value = log.series(stream)
            if time.size > 10:
                return fan_states(time, value, quantity)
    return None


def mask_ducts(house: House, log: Log, states: FanStates | None) -> Log:
    """Return the log with in-duct readings set aside while the fan was off or duct and monitor had not settled."""
    times = {i.id: i.response_time for i in house.instruments}
    if states is None:
        return log
    for place in house.placements:
        if place.air_side in IN_DUCT:
            settle = purge_seconds(house, mixed_volume(house)) + RESPONSES * times.get(place.instrument, 60.0)
            log = mask_in_duct(log, [place.id], states, settle)
    return log
