"""Rich homes: the demo's simulation with another house in it, and what of its logs a fit gets to see.

The demo gives one plan a seed, all of them near one split-level. Here the same simulation runs with sizes,
leaks, filters, flows, cleaners, household and outdoor air drawn far wider, all by seed, and with most traps
planted by the toss of a coin. It shares no code with the account: six zones, eight size bins, Runge-Kutta.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np

from airtally.arrays import Floats
from airtally.demo import ALL_QUIRKS, Quirk, household, kernel, plan, simulate, weather
from airtally.demo.layouts import write_logs
from airtally.demo.quirks import effective
from airtally.demo.streams import make_streams
from airtally.demo.survey_text import survey_text
from airtally.demo.truth import make_truth
from airtally.house.dates import Phase, phases_of
from airtally.house.parts import STILL_THERE, AirSide, House
from airtally.house.survey import read_survey
from airtally.jobs.clocks import Running, heard_with_the_fan
from airtally.jobs.inputs import read_logs
from airtally.readings.log import Log
from airtally.readings.screen import screen_log

WEEKS = 8
"""Works are done in the fifth week."""
TOSSED = (
    Quirk.SMOKE_WEEK,
    Quirk.LOGGER_GAP,
    Quirk.CO_SPILL,
    Quirk.GARAGE_PATH,
    Quirk.WORKSHOP_GRILLE,
    Quirk.CLOCK_FOLD,
    Quirk.FOG_BIAS,
    Quirk.WRONG_THRESHOLD,
    Quirk.SHORT_SAMPLING,
)
"""Traps that are planted in half of the homes."""
ROOM_LOGGERS = ("M1", "M2", "M3")
DUCT_MONITOR = "M4"
SAMPLING = 2
"""Row of the third fan rule: some minutes an hour, whatever the sensor says."""


class Loggers(StrEnum):
    """What the contractor hung up, beside outdoor air and the fan's current."""

    IN_DUCT = "in-duct only"
    ROOM_LOGGER = "with room loggers"


@dataclass(frozen=True)
class Variety:
    """The numbers of one home that differ from the demo's, all drawn from its seed; factors [-] unless said.

    ``sampling`` minutes an hour of fan for its own sake (0: none) [min]; ``people`` who live there;
    ``stays_ahead`` whether the in-duct monitor stays ahead of the filter through the works.
    """

    volume: float
    leakage: float
    settling: float
    old_filter: float
    new_filter: float
    fan_flow: float
    return_leak: float
    cleaner_flow: float
    recirculated: float | None
    emission: float
    outdoor: float
    people: int
    sampling: int
    stays_ahead: bool
    quirks: frozenset[Quirk]


def variety_of(seed: int, loggers: Loggers, *, has_works: bool) -> Variety:
    """Draw a home's own numbers; every fourth cleaner draws most of its own discharge again."""
    rng = np.random.default_rng([seed, 77])

    def between(low: float, high: float) -> float:
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    quirks = {Quirk.MONITOR_MOVED, Quirk.COLOCATION_GAIN} | {q for q in TOSSED if rng.random() < 0.5}
    is_short = rng.random() < 0.25
    drawn_again = float(rng.uniform(0.6, 0.96))
    if not has_works:
        quirks.add(Quirk.NO_WORK)
    return Variety(
        volume=between(0.65, 1.5),
        leakage=between(0.5, 1.8),
        settling=between(0.7, 1.5),
        old_filter=between(0.6, 1.7),
        new_filter=between(0.8, 1.1),
        fan_flow=between(0.8, 1.3),
        return_leak=between(0.3, 1.3),
        cleaner_flow=between(0.6, 1.4),
        recirculated=drawn_again if is_short else None,
        emission=between(0.5, 2.0),
        outdoor=between(0.6, 2.0),
        people=int(rng.integers(1, 7)),
        sampling=int(rng.choice([10, 15, 20, 30] if loggers is Loggers.IN_DUCT else [0, 15])),
        stays_ahead=bool(rng.random() < 0.5),
        quirks=frozenset(quirks & (ALL_QUIRKS | {Quirk.NO_WORK})),
    )


@dataclass(frozen=True)
class RichHome:
    """One simulated home: the truth as the demo writes it, and the minutes behind it; ug/m3.

    ``room`` is the volume-weighted PM2.5 of the occupied rooms by minute, ``by_source`` the same by the
    simulation's tags, shape (minutes, tags); ``time`` is the begin of each minute [s, POSIX UTC].
    """

    seed: int
    loggers: Loggers
    variety: Variety
    has_works: bool
    truth: dict[str, Any]
    time: Floats
    room: Floats
    by_source: Floats
    house: House
    log: Log
    phases: tuple[Phase, ...]
    fan: Running | None
    true_fan: Running

    @property
    def phase(self) -> Phase:
        """Return the phase on which the home is judged: by seed, as found or after the works."""
        return self.phases[(self.seed // 2) % 2]


def loggers_of(seed: int) -> Loggers:
    """Return the design of a seed: the two alternate."""
    return Loggers.IN_DUCT if seed % 2 else Loggers.ROOM_LOGGER


def simulate_rich_home(seed: int, *, has_works: bool = True) -> RichHome:
    """Simulate a home, write the logs that its design has, and read them as a job does."""
    loggers = loggers_of(seed)
    variety = variety_of(seed, loggers, has_works=has_works)
    world = _world(seed, variety)
    with patch.object(simulate, "epoch_table", partial(_epoch_table, simulate.epoch_table, variety)):
        actual = simulate.run(world)
        truth = make_truth(world, actual)
    seen = list(world.plan.volume[list(plan.OCCUPIED)] / world.plan.volume[list(plan.OCCUPIED)].sum())
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "survey.toml").write_text(survey_text(world), encoding="utf-8")
        write_logs(folder, world, make_streams(world, actual))
        house = _as_equipped(read_survey(folder / "survey.toml"), loggers, variety)
        log = screen_log(read_logs(house, folder))
    log, fan, _ = heard_with_the_fan(house, log)
    known = log.time[np.isfinite(log.time) & log.kept]
    return RichHome(
        seed=seed,
        loggers=loggers,
        variety=variety,
        has_works=has_works,
        truth=truth,
        time=world.time,
        room=actual.occupied(world.plan),
        by_source=np.einsum("nzt,z->nt", actual.tagged[:, list(plan.OCCUPIED)], seen),
        house=house,
        log=log,
        phases=phases_of(house, float(known.min()), float(known.max())),
        fan=fan,
        true_fan=_runs(world.time, actual.out[:, kernel.FAN]),
    )


def _runs(time: Floats, fan: Floats) -> Running:
    """Return begin and end [s, POSIX UTC] of every run of the fan in one state, and that state."""
    state = np.concatenate([[0.0], fan, [0.0]])
    edges = np.flatnonzero(np.diff(state))
    bounds = np.append(time, time[-1] + 60.0)[edges]
    level = state[edges + 1][:-1].astype(np.int64)
    return bounds[:-1][level > 0], bounds[1:][level > 0], level[level > 0]


def _world(seed: int, variety: Variety) -> simulate.World:
    """Return the demo's world of a seed with the home's own plan, people, outdoor air and fan sampling."""
    changed = {
        "make_plan": partial(_plan, plan.make_plan, variety),
        "make_weather": partial(_weather, weather.make_weather, variety),
    }
    breath = variety.people / 3.3
    with (
        patch.multiple(simulate, **changed),
        patch.multiple(
            household,
            BREATH_CO2=household.BREATH_CO2 * breath,
            BREATH_VAPOUR=household.BREATH_VAPOUR * breath,
        ),
    ):
        world = simulate.make_world(seed, effective(variety.quirks), WEEKS)
    rules = np.vstack([world.rules, np.zeros(world.rules.shape[1])])
    rules[SAMPLING, kernel.ON_ABOVE] = np.inf
    rules[SAMPLING, kernel.SAMPLES_MINUTES] = variety.sampling
    if variety.stays_ahead:
        # Ahead of filter and cleaner the monitor reads what the rooms hold: the rule's room values hold as they are.
        rules[:SAMPLING, kernel.ON_ABOVE], rules[:SAMPLING, kernel.OFF_BELOW] = 15.0, 10.0
    rows, drivers = world.rows.copy(), world.drivers.copy()
    if variety.sampling:
        idle = drivers[:, kernel.IS_OFFERED] == 0.0
        rows[idle, 1] = SAMPLING
        drivers[idle, kernel.IS_OFFERED] = 1.0
    return replace(world, rules=rules, rows=rows, drivers=drivers)


def _plan(made: Callable[..., plan.Plan], variety: Variety, *given: Any) -> plan.Plan:
    """Return the seed's plan with the home's own sizes."""
    was = made(*given)
    volume = was.volume.copy()
    volume[: plan.ROOMS] *= variety.volume
    return replace(
        was,
        volume=volume,
        house_ft3=was.house_ft3 * variety.volume,
        epochs=tuple(_epoch(epoch, variety) for epoch in was.epochs),
        settling_factor=was.settling_factor * variety.settling,
        heat_loss=was.heat_loss * variety.volume**0.7,
        emission_factor=was.emission_factor * variety.emission,
    )


def _epoch(epoch: plan.Epoch, variety: Variety) -> plan.Epoch:
    size = variety.volume**0.5
    circulate = epoch.circulate_flow * variety.fan_flow * size
    again = epoch.recirculated if variety.recirculated is None else variety.recirculated
    strength = variety.old_filter if epoch.filter_number == 0 else variety.new_filter
    return replace(
        epoch,
        cfm50=epoch.cfm50 * variety.volume * variety.leakage,
        leak=min(epoch.leak * variety.return_leak, 0.2),
        heating_flow=epoch.heating_flow * variety.fan_flow * size,
        circulate_flow=circulate,
        efficiency=np.minimum(epoch.efficiency * strength, 0.97),
        cleaner_flow=min(epoch.cleaner_flow * variety.cleaner_flow, 0.6 * circulate),
        recirculated=again if epoch.cleaner_flow > 0.0 else 0.0,
    )


def _weather(made: Callable[..., weather.Weather], variety: Variety, *given: Any) -> weather.Weather:
    """Return the seed's weather with the home's own level of outdoor particles."""
    was = made(*given)
    return replace(was, pm25=was.pm25 * variety.outdoor, at_house=was.at_house * variety.outdoor)


def _epoch_table(made: Callable[..., Floats], variety: Variety, world: simulate.World) -> Floats:
    """Return the kernel's table of epochs; a monitor that stays ahead of the filter never sees filtered air."""
    table = made(world)
    if variety.stays_ahead:
        table[:, kernel.AFTER_FILTER] = 0.0
    return table


def _as_equipped(house: House, loggers: Loggers, variety: Variety) -> House:
    """Return the surveyed house with the monitors of its design only, where they hung."""
    placements = house.placements
    if variety.stays_ahead:
        placements = tuple(
            replace(p, until=STILL_THERE) if p.air_side is AirSide.RETURN_BEFORE_FILTER else p
            for p in placements
            if p.air_side is not AirSide.AFTER_FILTER
        )
    if loggers is Loggers.IN_DUCT:
        placements = tuple(p for p in placements if p.air_side is not AirSide.ROOM)
    ids, instruments = {p.id for p in placements}, {p.instrument for p in placements}
    assert house.occupants is not None
    return replace(
        house,
        placements=placements,
        instruments=tuple(i for i in house.instruments if i.id in instruments),
        logs=tuple(log for log in house.logs if log.placement in ids),
        occupants=replace(house.occupants, count=float(variety.people)),
    )
