"""What a surveyed house's duct runs lose and gain on a cold and a hot day, and whether they sweat."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache

from airtally.errors import Problem, Severity
from airtally.estimates import Basis, Estimate
from airtally.house.parts import ApplianceKind, Climate, House, ZoneKind
from airtally.house.passages import DuctSide, Insulation, SurveyedDuct
from airtally.network.ducts.duct_heat import RESISTANCES, DuctRun, InsulatedDuct, insulate
from airtally.network.home.from_survey import LATEST, newest, present
from airtally.network.seasons import cold_day, rooms_in_winter
from airtally.network.spread import default, spread
from airtally.physics.air.moist import air_density, dew_point, pressure_at_altitude
from airtally.physics.ducts.sections import round_duct_area
from airtally.physics.fans.heat_rise import temperature_rise_by_flow
from airtally.visits.parts import HandlerMode, Visit

VELOCITY = default(
    3.05, 1.27, 5.1, "m/s", "air in the run not measured: 600 ft/min (250 to 1000), common practice, no source"
)
USUAL_RISE = default(27.8, 16.7, 41.7, "K", "heat rise not measured: 50 degF (30 to 75), common practice, no source")
COLD_SUPPLY = default(
    286.0, 283.0, 289.0, "K", "supply air while cooling, 55 degF (50 to 60): common practice, no source"
)
WRAP_CONDUCTIVITY = default(
    0.045, 0.036, 0.065, "W/(m K)", "fibrous wrap as hung, some of it pressed flat: from memory"
)
FILM = default(0.12, 0.08, 0.25, "m2 K/W", "still air at a duct, dull to shiny wrap: from memory")
"""Resistance between the outside of the wrap and the air around it. [m2 K/W]"""
OUTDOORS = "outdoors"
INDOOR_SHARE = {
    OUTDOORS: (0.0, 0.0, 0.0),
    ZoneKind.ATTIC: (0.1, 0.0, 0.3),
    ZoneKind.GARAGE: (0.4, 0.2, 0.7),
    ZoneKind.CRAWLSPACE: (0.5, 0.3, 0.8),
    ZoneKind.BASEMENT: (0.8, 0.6, 1.0),
    ZoneKind.ROOM: (1.0, 1.0, 1.0),
}
"""How far a space stands from outdoors towards the rooms on a cold day, with its ends. [-]; judgement"""
SUMMER = {
    OUTDOORS: ((305.4, 297.0, 314.0), (0.50, 0.30, 0.85)),
    ZoneKind.ATTIC: ((322.0, 308.0, 333.0), (0.25, 0.10, 0.50)),
    ZoneKind.GARAGE: ((303.7, 297.0, 314.0), (0.50, 0.30, 0.80)),
    ZoneKind.CRAWLSPACE: ((295.4, 291.0, 301.0), (0.75, 0.50, 0.95)),
    ZoneKind.BASEMENT: ((294.3, 290.0, 298.0), (0.60, 0.45, 0.80)),
    ZoneKind.ROOM: ((297.6, 296.0, 300.0), (0.50, 0.40, 0.60)),
}
"""Absolute temperature [K] and relative humidity [-] of a space on a hot day, each with its ends; judgement."""
WRAPPED_AS = Insulation.R8
"""What the run is tried with: the most that model code asks for."""


class Season(StrEnum):
    """When a run's heat is asked for."""

    HEATING = "heating, cold day"
    COOLING = "cooling, hot day"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweating:
    """Whether water settles on a cold run's outside, where its air enters.

    Attributes
    ----------
    dew_point : Estimate
        Of the air around it, absolute. [K]
    over_dew_point : Estimate
        Outside of the run as found over that dew point: below zero water settles. [K]
    wrapped : Estimate
        The same with :data:`WRAPPED_AS`. [K]
    """

    dew_point: Estimate
    over_dew_point: Estimate
    wrapped: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSeason:
    """A run in one season: as found and wrapped; ``sweating`` of a supply run while it cools."""

    season: Season
    heat: InsulatedDuct
    sweating: Sweating | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctRunAnswer:
    """What one run loses and gains. ``assumed`` names what was not measured, each with its default and source."""

    duct: SurveyedDuct
    seasons: tuple[RunSeason, ...]
    assumed: tuple[str, ...]


def duct_runs(
    house: House, visits: tuple[Visit, ...], time: float = LATEST
) -> tuple[tuple[DuctRunAnswer, ...], tuple[Problem, ...]]:
    """Return what every surveyed duct run does to its air, and what contradicts itself or is not used.

    Parameters
    ----------
    house, visits
        As read.
    time : float, optional
        When. [s, POSIX UTC]

    Notes
    -----
    Valid: steady flow at heating speed; leaks are the business of the duct leakage.
    """
    found, problems = [], []
    for duct in present(house.duct_runs, time):
        answer, more = _run(house, visits, duct, time)
        found.append(answer)
        problems += more
    return tuple(found), tuple(problems)


def _run(
    house: House, visits: tuple[Visit, ...], duct: SurveyedDuct, time: float
) -> tuple[DuctRunAnswer, list[Problem]]:
    space = next((zone.kind for zone in house.zones if zone.id == duct.zone), OUTDOORS)
    climate = house.climate
    room = rooms_in_winter(climate)
    resistance, problems = _resistance(duct)
    handler_flow = _handler_flow(house, visits, time)
    flow = duct.flow or _usual_flow(duct, handler_flow)
    density = float(air_density(room.value, 0.0, float(pressure_at_altitude(house.elevation))))
    winter = duct.around_heating or _winter(space, room, climate)
    inlet = room if duct.side is DuctSide.RETURN else _warm_supply(house, visits, room, handler_flow, density, time)
    run = DuctRun(
        name=duct.id, side=duct.side, length=duct.length, width=duct.width, depth=duct.depth, flow=flow,
        inlet_temperature=inlet, ambient_temperature=winter, resistance=resistance, air_density=density,
    )  # fmt: skip
    seasons = [RunSeason(season=Season.HEATING, heat=insulate(run, WRAPPED_AS), sweating=None)]
    used = [duct.length, duct.width, flow, inlet, winter, resistance]
    cooled_to = climate.cooled_to if climate is not None else None
    if cooled_to is not None:
        (warm, damp) = SUMMER[space]
        summer = duct.around_cooling or default(*warm, "K", f"{duct.zone} on a hot day: judgement")
        humidity = duct.humidity_around or default(*damp, "-", f"{duct.zone} on a hot day: judgement")
        cold = COLD_SUPPLY if duct.side is DuctSide.SUPPLY else cooled_to
        cooling = replace(run, inlet_temperature=cold, ambient_temperature=summer)
        sweating = _sweating(cooling, humidity) if duct.side is DuctSide.SUPPLY else None
        seasons.append(RunSeason(season=Season.COOLING, heat=insulate(cooling, WRAPPED_AS), sweating=sweating))
        used += [cold, summer, *((humidity,) if sweating is not None else ())]
    elif duct.around_cooling is not None or duct.humidity_around is not None:
        problems.append(_not_cooled(duct))
    assumed = tuple(dict.fromkeys(one.source for one in used if one.basis is Basis.DEFAULT))
    return DuctRunAnswer(duct=duct, seasons=tuple(seasons), assumed=assumed), problems


def _resistance(duct: SurveyedDuct) -> tuple[Estimate, list[Problem]]:
    """Return the resistance of the wrap as it is, else as labelled; and a Problem where the two disagree. [m2 K/W]"""
    labelled = RESISTANCES[duct.insulation]
    if duct.insulation_thickness is None:
        return labelled, []
    measured = spread(
        lambda thick, conductivity, films: thick / conductivity + films, duct.insulation_thickness, WRAP_CONDUCTIVITY,
        RESISTANCES[Insulation.BARE], unit="m2 K/W", source=f"thickness of the wrap; {WRAP_CONDUCTIVITY.source}",
    )  # fmt: skip
    is_known = duct.insulation is not Insulation.UNKNOWN
    if not is_known or (labelled.low <= measured.high and measured.low <= labelled.high):
        return measured, []
    return measured, [
        Problem(
            code="network-duct-insulation-disagrees",
            where=f"survey.toml, duct_run[{duct.id}].insulation_thickness",
            found=f"{duct.insulation.value} on the label, {measured.value / RESISTANCES[Insulation.BARE].value:.1f} times "
            "bare metal by its thickness",
            wanted="a label that fits the wrap's thickness",
            remedy="The thickness is used; look whether the wrap is pressed flat, wet or fallen off.",
            severity=Severity.NOTE,
        )
    ]


def _handler_flow(house: House, visits: tuple[Visit, ...], time: float) -> Estimate | None:
    reading = newest(visits, "airflow", time=time, mode=HandlerMode.HEATING)
    if reading is not None:
        return reading.estimate
    speeds = present(house.air_handler.speeds, time) if house.air_handler is not None else ()
    return next((one.flow for one in speeds if one.name == HandlerMode.HEATING.value), None)


def _usual_flow(duct: SurveyedDuct, handler_flow: Estimate | None) -> Estimate:
    """Return a run's air from its section at a usual speed, no more than the air handler moves. [m3/s]"""
    sides = (duct.width, *(() if duct.depth is None else (duct.depth,)))

    def moved(speed: float, *measures: float) -> float:
        return speed * (float(round_duct_area(measures[0])) if len(measures) == 1 else measures[0] * measures[1])

    flow = spread(moved, VELOCITY, *sides, unit="m3/s", source=VELOCITY.source, basis=Basis.DEFAULT)
    if handler_flow is None:
        return flow
    most = handler_flow.high
    return replace(flow, value=min(flow.value, most), low=min(flow.low, most), high=min(flow.high, most))


def _warm_supply(
    house: House, visits: tuple[Visit, ...], room: Estimate, handler_flow: Estimate | None, density: float, time: float
) -> Estimate:
    """Return the temperature of the supply air while heating: rooms plus heat rise, read, by the furnace, or usual. [K]"""
    reading = newest(visits, "heat_rise", time=time)
    rise = reading.estimate if reading is not None else None
    outputs = [one.output for one in present(house.appliances, time) if one.kind is ApplianceKind.FURNACE]
    output = next((one for one in outputs if one is not None), None)
    if rise is None and output is not None and handler_flow is not None:
        rise = spread(
            lambda heat, flow: float(temperature_rise_by_flow(heat, flow, density)), output, handler_flow, unit="K",
            source="furnace's output over the airflow",
        )  # fmt: skip
    rise = rise or USUAL_RISE
    basis = Basis.DEFAULT if rise is USUAL_RISE else Basis.COMPUTED
    return spread(lambda inside, step: inside + step, room, rise, unit="K", source=rise.source, basis=basis)


def _winter(space: ZoneKind | str, room: Estimate, climate: Climate | None) -> Estimate:
    """Return the temperature of a space on a cold day. [K]"""
    outside = cold_day(climate)
    share = default(*INDOOR_SHARE[space], "-", f"{space} between outdoors and rooms: judgement")
    return spread(
        lambda inside, out, part: out + part * (inside - out), room, outside, share, unit="K",
        source=f"{share.source}; {outside.source}", basis=Basis.DEFAULT,
    )  # fmt: skip


def _sweating(run: DuctRun, humidity: Estimate) -> Sweating:
    said = f"outside of {run.name} where its air enters; {FILM.source}"

    @cache  # the same few pairs of air and damp, once each
    def dew(around: float, damp: float) -> float:
        return float(dew_point(around, damp))

    def over(around: float, inlet: float, film: float, resistance: float, damp: float) -> float:
        outside = around - (around - inlet) * min(film / resistance, 1.0)
        return outside - dew(around, damp)

    inputs = (run.ambient_temperature, run.inlet_temperature, FILM)
    return Sweating(
        dew_point=spread(
            dew, run.ambient_temperature, humidity, unit="K",
            source=f"{run.ambient_temperature.source}; {humidity.source}",
        ),
        over_dew_point=spread(over, *inputs, run.resistance, humidity, unit="K", source=said),
        wrapped=spread(over, *inputs, RESISTANCES[WRAPPED_AS], humidity, unit="K", source=said),
    )  # fmt: skip


def _not_cooled(duct: SurveyedDuct) -> Problem:
    return Problem(
        code="network-duct-not-cooled",
        where=f"survey.toml, duct_run[{duct.id}]",
        found="temperature or humidity around it in summer, but no climate.cooled_to",
        wanted="what the rooms are held at in summer",
        remedy="Write climate.cooled_to, or leave the summer out.",
        severity=Severity.NOTE,
    )
