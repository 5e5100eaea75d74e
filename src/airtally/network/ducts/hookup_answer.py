"""All that is said about a bypass cleaner's hookup in one noun, every number by name: what record and pages call."""

from __future__ import annotations

from dataclasses import dataclass, replace

from airtally.errors import Problem
from airtally.estimates import Estimate
from airtally.house.parts import House
from airtally.house.passages import Discharge
from airtally.network.ducts.blower import OperatingPoint
from airtally.network.ducts.hookup import HookupDesign, design_hookup, design_words
from airtally.network.ducts.hookup_compare import AirflowFigures, SpeedComparison, compare_cleaners, comparison_words
from airtally.network.ducts.hookup_survey import HookupRequest, surveyed_hookup
from airtally.network.ducts.sensor_place import (
    Candidate,
    SensorPlacing,
    SensorSpot,
    SensorView,
    candidates_of,
    place_sensor,
)
from airtally.network.home.from_survey import LATEST
from airtally.network.spread import default, spread
from airtally.visits.parts import Visit

RETURN_SIDE = default(0.4, 0.2, 0.6, "-", "default: return side's part of the duct volume; judgement")


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedNumber:
    """One number of the answer. ``key`` is stable, ``state`` is a blower speed, a duct size or a place; SI."""

    key: str
    name: str
    state: str
    number: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class HookupAnswer:
    """The hookup, the comparison with an in-line filter, the sensor's places, and all their numbers by name.

    Attributes
    ----------
    design : HookupDesign
    discharge : Discharge
        Where the cleaner is to blow to, as asked for.
    comparison : tuple of SpeedComparison
        Empty where no total static was read.
    placing : SensorPlacing
    numbers : tuple of NamedNumber
        In the order in which a page reads.
    sentences : tuple of str
        What a page must say beside them: interlock, order of the taps, what is assumed.
    not_measured, assumed : tuple of str
    cautions : tuple of str
    problems : tuple of Problem
    """

    design: HookupDesign
    discharge: Discharge
    comparison: tuple[SpeedComparison, ...]
    placing: SensorPlacing
    numbers: tuple[NamedNumber, ...]
    sentences: tuple[str, ...]
    not_measured: tuple[str, ...]
    assumed: tuple[str, ...]
    cautions: tuple[str, ...]
    problems: tuple[Problem, ...]


def hookup_answer(
    house: House,
    visits: tuple[Visit, ...],
    request: HookupRequest | None = None,
    *,
    time: float = LATEST,
    sampling: float | None = None,
) -> HookupAnswer | None:
    """Return all that is said about a bypass cleaner on this system; None without an air handler whose flow is known.

    Parameters
    ----------
    house, visits
        As read.
    request : HookupRequest, optional
        Layout, fan tables, wanted clean air; left out: as found or as usual.
    time : float, optional
        At which the house is asked about. [s, POSIX UTC]
    sampling : float, optional
        Fan time that the house's rule gives to one sample. [s]
    """
    asked = request or HookupRequest()
    surveyed = surveyed_hookup(house, visits, asked, time)
    if surveyed is None:
        return None
    design = design_hookup(surveyed.hookup)
    if (asked.loop is None or asked.is_size_open) and design.wanted_flow is not None:
        size = design.smallest_sure or design.smallest or design.sizes[-1]
        if size.diameter != design.hookup.loop.diameter:
            loop = replace(surveyed.hookup.loop, diameter=size.diameter)
            design = design_hookup(replace(surveyed.hookup, loop=loop))
    comparison = compare_cleaners(surveyed.blowers, surveyed.in_line, design, surveyed.plate)
    air = replace(surveyed.duct_air, after_re_entry=design.design.after_re_entry)
    has_leak = air.leak_before.high > 0.0 or air.leak_after.high > 0.0
    volume = house.air_handler.duct_volume if house.air_handler is not None else None
    placing = place_sensor(
        _candidates(design, volume, has_leak=has_leak), air, room_threshold=house.target, sampling=sampling
    )
    return HookupAnswer(
        design=design,
        discharge=asked.discharge,
        comparison=comparison,
        placing=placing,
        numbers=(*_design_numbers(design, asked.discharge), *_comparison_numbers(comparison), *_place_numbers(placing)),
        sentences=(
            *_discharge_words(design, asked.discharge),
            *design_words(design),
            *(comparison_words(comparison) if comparison else ()),
            *placing.sentences,
        ),
        not_measured=design.not_measured,
        assumed=tuple(dict.fromkeys((*design.assumed, *placing.assumed))),
        cautions=design.cautions,
        problems=(
            *design.problems,
            *_blower_problems(design),
            *placing.problems,
            *(_supply_statics_missing(design) if asked.discharge is Discharge.SUPPLY else ()),
        ),
    )


def _discharge_words(design: HookupDesign, discharge: Discharge) -> tuple[str, ...]:
    """Return what is said first where the discharge is wanted in the supply plenum."""
    if discharge is Discharge.RETURN:
        return ()
    asked = "Asked for with its discharge in the supply plenum: the lines that name the supply plenum are its own."
    states = [f"{state.name}: {state.says}" for state in design.supply]
    return (asked, *(f"{words[0].upper()}{words[1:]}." for words in states))


def _supply_statics_missing(design: HookupDesign) -> tuple[Problem, ...]:
    if design.supply:
        return ()
    return (
        Problem(
            code="network-hookup-supply-statics",
            where="survey.toml, bypass.discharge",
            found="discharge in the supply plenum, but no supply static or no static at the take-off",
            wanted="both at one blower speed, cleaner off",
            remedy="Read supply_static and take_off_static (or return_static); until then only the return is worked out.",
        ),
    )


def _candidates(design: HookupDesign, volume: Estimate | None, *, has_leak: bool) -> tuple[Candidate, ...]:
    trunk = design.hookup.trunk
    straight = {
        spot: length
        for spot, length in (
            (SensorSpot.RETURN_DROP, trunk.straight_before),
            (SensorSpot.AFTER_RE_ENTRY, trunk.straight_after),
        )
        if length is not None
    }
    before = None
    if volume is not None:
        before = spread(lambda v, share: v * share, volume, RETURN_SIDE, unit="m3", source="return side of the ducts")
    places = candidates_of(trunk.diameter, straight=straight, has_leak=has_leak)
    return tuple(replace(one, volume_before=before) for one in places)


def _blower_problems(design: HookupDesign) -> tuple[Problem, ...]:
    effect = design.trunk_effect
    if isinstance(effect, Problem):
        return (effect,)
    return effect.problems if isinstance(effect, OperatingPoint) else ()


def _design_numbers(design: HookupDesign, discharge: Discharge) -> tuple[NamedNumber, ...]:
    """Return the design's numbers; those of the discharge that was asked for stand first."""
    found: list[NamedNumber] = []

    def add(key: str, name: str, state: str, number: Estimate | None) -> None:
        if number is not None:
            found.append(NamedNumber(key=key, name=name, state=state, number=number))

    for state in design.states:
        add("loop_flow", "cleaner's flow", state.name, state.loop_flow)
        add("loop_velocity", "velocity in the loop", state.name, state.velocity)
        add("trunk_flow", "airflow that the trunk brings", state.name, state.trunk_flow)
        add("between_taps_flow", "airflow in the trunk between the taps", state.name, state.between_taps)
        add("own_air", "own air taken in again", state.name, state.recirculated)
        add("clean_air", "clean air delivered", state.name, state.clean_air)
        add("after_re_entry", "level after the re-entry over before the take-off", state.name, state.after_re_entry)
    first = design.design.name
    for part in design.parts:
        add("loop_loss_part", part.name, first, part.pressure)
    add("loop_loss", "lost in the loop", first, design.loss)
    add("trunk_lends", "lent by the trunk between the taps", first, design.lent)
    add("wanted_flow", "loop flow that the wanted clean air needs", first, design.wanted_flow)
    for size in design.sizes:
        name = f"{size.diameter * 1000.0:.0f} mm"
        add("size_flow", "cleaner's flow by duct size", name, size.loop_flow)
        add("size_velocity", "velocity by duct size", name, size.velocity)
    for side in design.supply:
        add("supply_side_flow", "cleaner's flow, discharge in the supply plenum", side.name, side.loop_flow)
        add("supply_side_against", "static that its fan works against", side.name, side.against)
        add(
            "supply_side_own_air",
            "own air taken in again, discharge in the supply plenum",
            side.name,
            side.recirculated,
        )
        add("supply_side_clean_air", "clean air, discharge in the supply plenum", side.name, side.clean_air)
    effect = design.trunk_effect
    if isinstance(effect, OperatingPoint):
        add("airflow_change", "change of the airflow while the loop runs", first, effect.flow_change)
    if discharge is Discharge.SUPPLY:
        found.sort(key=lambda one: not one.key.startswith("supply_side"))
    return tuple(found)


def _comparison_numbers(rows: tuple[SpeedComparison, ...]) -> tuple[NamedNumber, ...]:
    names = (
        ("flow", "airflow"), ("flow_change", "change of the airflow"), ("static", "total external static"),
        ("clean_air", "clean air"), ("power", "electric power"), ("heat_rise", "heat rise"),
        ("flow_per_capacity", "airflow over cooling capacity"),
    )  # fmt: skip
    found = []
    for row in rows:
        for choice, words, part in (
            ("as_is", "as it is", row.as_is),
            ("in_line", "filter in line", row.in_line),
            ("bypass", "bypass", row.bypass),
        ):
            if not isinstance(part, AirflowFigures):
                continue
            for key, name in names:
                number = getattr(part, key)
                if isinstance(number, Estimate):
                    found.append(
                        NamedNumber(key=f"{choice}_{key}", name=f"{name}, {words}", state=row.name, number=number)
                    )
    return tuple(found)


def _place_numbers(placing: SensorPlacing) -> tuple[NamedNumber, ...]:
    names = (
        ("over_room", "reading over the room mean"), ("room_share", "room's part in the reading"),
        ("diameters_before", "straight duct before it, in diameters"), ("purge", "one duct volume"),
        ("least_sampling", "fan needed for one sample"), ("threshold", "room threshold as read there"),
    )  # fmt: skip
    return tuple(
        NamedNumber(key=f"place_{key}", name=name, state=view.candidate.spot.value, number=number)
        for view in placing.views
        for key, name in names
        if isinstance(number := _of(view, key), Estimate)
    )


def _of(view: SensorView, key: str) -> object:
    return getattr(view, key)
