"""The measures airtally can replay: each turns a priced line of the survey into edits of the house."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from enum import StrEnum

from airtally.estimates import Basis, Estimate
from airtally.house.parts import (
    ApplianceKind,
    Cleaner,
    Filter,
    House,
    PricedMeasure,
    RunsWith,
    Ventilation,
    VentilationKind,
    Venting,
)
from airtally.inference.events import EVENT_KINDS, Source
from airtally.physics.filters.efficiency import merv_efficiency
from airtally.scenario.edits import Edit, add_cleaner, add_ventilation, fit_filter, seal_returns
from airtally.scenario.scenario import FanPlan, Scenario


class MeasureKind(StrEnum):
    """Kinds of measure; the words of the survey's ``[[measure]]``."""

    BYPASS_CLEANER = "bypass cleaner"
    BETTER_FILTER = "better filter"
    RETURN_SEALING = "return sealing"
    CONTINUOUS_FAN = "continuous fan"
    SUPPLY_VENTILATION = "supply ventilation"
    SOURCE_CAPTURE = "source capture"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """A measure ready to be replayed.

    ``scenario`` edits the latest house; ``watts`` is what it adds to the electricity while it runs, in
    each fan state off, circulate, heating [W]; ``cautions`` and ``must_retest`` go with it wherever it
    is shown; ``blocked`` says why it may not be done yet, empty if nothing blocks.
    """

    priced: PricedMeasure
    kind: MeasureKind
    what: str
    scenario: Scenario
    watts: tuple[float, float, float]
    cautions: tuple[str, ...]
    must_retest: tuple[str, ...]
    blocked: str = ""


LOSS_IN_USE = 0.8
"""Low end of an installed filter over its rated minimum, for charge lost in use; own choice. [-]"""
RETEST_AFTER_PRESSURE_WORK = (
    "room and appliance-zone pressures with doors open and shut",
    "spillage and draft of every vented appliance",
    "which way duct leakage dominates",
)
RETEST_AFTER_DUCT_WORK = ("static pressures", "airflow", "heat rise", *RETEST_AFTER_PRESSURE_WORK)


def default_measures(house: House) -> tuple[PricedMeasure, ...]:
    """Return the measures worth asking about where the survey lists none; prices unknown."""
    found = []
    for stage, kind in ((1, MeasureKind.RETURN_SEALING), (1, MeasureKind.BETTER_FILTER), (2, MeasureKind.BYPASS_CLEANER),
                        (2, MeasureKind.CONTINUOUS_FAN), (3, MeasureKind.SUPPLY_VENTILATION), (1, MeasureKind.SOURCE_CAPTURE)):  # fmt: skip
        if (
            house.air_handler is None
            and kind is not MeasureKind.SUPPLY_VENTILATION
            and kind is not MeasureKind.SOURCE_CAPTURE
        ):
            continue
        found.append(
            PricedMeasure(
                id=kind.value.replace(" ", "-"),
                kind=kind.value,
                name=kind.value,
                stage=stage,
                price_low=float("nan"),
                price_high=float("nan"),
            )
        )
    return tuple(found)


def measure_of(latest: House, priced: PricedMeasure, end: float) -> Measure | str:
    """Return the replayable measure, or a sentence saying why it cannot be replayed on this house.

    Parameters
    ----------
    latest : House
        As it stands now.
    priced : PricedMeasure
        The survey's line.
    end : float
        Instant that stands for now. [s, POSIX UTC]
    """
    try:
        kind = MeasureKind(priced.kind)
    except ValueError:
        return f"airtally has no measure called '{priced.kind}'; it knows {', '.join(k.value for k in MeasureKind)}"
    if latest.air_handler is None and kind not in (MeasureKind.SUPPLY_VENTILATION, MeasureKind.SOURCE_CAPTURE):
        return "this measure works on the air handler, and the survey has none"
    made: Measure | str
    match kind:
        case MeasureKind.BYPASS_CLEANER:
            made = _bypass(priced)
        case MeasureKind.BETTER_FILTER:
            made = _filter(priced)
        case MeasureKind.RETURN_SEALING:
            made = _sealing(priced)
        case MeasureKind.CONTINUOUS_FAN:
            made = _continuous(latest, priced)
        case MeasureKind.SUPPLY_VENTILATION:
            made = _supply(priced)
        case MeasureKind.SOURCE_CAPTURE:
            made = _capture(latest, priced)
    if isinstance(made, str):
        return made
    return replace(made, scenario=replace(made.scenario, name=priced.name, house_as_of=end))


def _settings(priced: PricedMeasure) -> dict[str, float | str]:
    return dict(priced.settings)


def _number(settings: dict[str, float | str], key: str, usual: float) -> float:
    value = settings.get(key, usual)
    return float(value) if not isinstance(value, str) else usual


def _guess(value: float, low: float, high: float, unit: str, source: str) -> Estimate:
    return Estimate(value=value, low=low, high=high, unit=unit, basis=Basis.DEFAULT, source=source)


def _scenario(*edits: Edit, fan: FanPlan = FanPlan.RECORDED, scale: tuple[tuple[Source, float], ...] = ()) -> Scenario:
    return Scenario(name="", edits=edits, fan=fan, scale=scale)


def _bypass(priced: PricedMeasure) -> Measure:
    settings = _settings(priced)
    flow = _number(settings, "flow", 0.1)
    power = _number(settings, "power", 90.0)
    part = Cleaner(
        id=f"proposed {priced.id}",
        name=priced.name,
        flow=_guess(
            0.87 * flow,
            0.72 * flow,
            0.96 * flow,
            "m3/s",
            "bypass units deliver less than their label as installed, common practice, no source",
        ),
        efficiency=_guess(0.99, 0.97, 0.9997, "-", "HEPA class at 0.3 um, seals as installed"),
        recirculated=_guess(
            0.05, 0.0, 0.25, "-", "taps well apart on the return, own discharge drawn again, no published distance"
        ),
        runs_with=RunsWith.AIR_HANDLER,
    )
    return Measure(
        priced=priced,
        kind=MeasureKind.BYPASS_CLEANER,
        what="An air cleaner with its own fan takes part of the return air and gives it back farther down; "
        "it works only while the central fan moves.",
        scenario=_scenario(add_cleaner(part)),
        watts=(0.0, power, power),
        cautions=(
            "Taps stay clear of coil, refrigerant lines and the appliance zone.",
            "It must stop with the central fan; wiring by licensed people, to the local code.",
        ),
        must_retest=("the cleaner's flow", "static pressures", "airflow", *RETEST_AFTER_PRESSURE_WORK),
    )


def _filter(priced: PricedMeasure) -> Measure | str:
    settings = _settings(priced)
    rating = str(settings.get("rating", "MERV 13"))
    named = re.search(r"MERV\D*(\d+)", rating, flags=re.IGNORECASE)
    number = int(named[1]) if named else 0
    if not 5 <= number <= 16:
        return f"the filter's rating '{rating}' is not one from MERV 5 to MERV 16"
    classes = merv_efficiency(number)
    efficiency = tuple(
        _guess(
            c.value,
            LOSS_IN_USE * c.low,
            c.high,
            "-",
            "ASHRAE 52.2-2017 minimum efficiencies, from memory; charge lost in use",
        )
        for c in classes
    )
    part = Filter(
        id=f"proposed {priced.id}",
        rating=rating,
        efficiency=(efficiency[0], efficiency[1], efficiency[2]),
        bypass=_guess(0.03, 0.01, 0.10, "-", "seated deep cabinet, common practice, no source"),
    )
    factor = _guess(
        1.0,
        0.93,
        1.06,
        "-",
        "flow after a filter of more area and depth: a new operating point, measured only after the work",
    )
    return Measure(
        priced=priced,
        kind=MeasureKind.BETTER_FILTER,
        what=f"A {rating} filter with enough face area and depth, in a cabinet that seals.",
        scenario=_scenario(fit_filter(part, factor)),
        watts=(0.0, 0.0, 0.0),
        cautions=("A denser filter of the same size can choke the blower: area and depth first, then the rating.",),
        must_retest=("filter pressure drop", "static pressures", "airflow", "heat rise"),
    )


def _sealing(priced: PricedMeasure) -> Measure:
    remaining = _guess(0.25, 0.10, 0.50, "-", "share of return leakage left after sealing, common practice, no source")
    return Measure(
        priced=priced,
        kind=MeasureKind.RETURN_SEALING,
        what="Seal or line the return side, nearest the blower first, so that it draws room air "
        "instead of garage, crawlspace or attic air.",
        scenario=_scenario(seal_returns(remaining)),
        watts=(0.0, 0.0, 0.0),
        cautions=(
            "Sealing raises static pressure and can turn the house from slight pressure to slight suction.",
            "Old duct wrap may hold asbestos: do not disturb it, have it tested.",
        ),
        must_retest=RETEST_AFTER_DUCT_WORK,
    )


def _continuous(latest: House, priced: PricedMeasure) -> Measure:
    handler = latest.air_handler
    power = 0.0
    if handler is not None:
        by_name = {s.name: s.power for s in handler.speeds if s.power is not None}
        speed = by_name.get("circulate") or by_name.get("heating")
        power = speed.value if speed is not None else 0.0
    return Measure(
        priced=priced,
        kind=MeasureKind.CONTINUOUS_FAN,
        what="The central fan circulates all day at its low speed.",
        scenario=_scenario(fan=FanPlan.ALWAYS),
        watts=(power, 0.0, 0.0),
        cautions=(
            "With leaky returns more fan means more garage or crawlspace air: seal first.",
            "In the cooling season a running fan can put coil water back into the air.",
        ),
        must_retest=("appliance-zone pressure with the fan circulating",),
    )


def _supply(priced: PricedMeasure) -> Measure:
    settings = _settings(priced)
    flow = _number(settings, "flow", 0.028)
    efficiency = _number(settings, "efficiency", 0.6)
    power = _number(settings, "power", 30.0)
    part = Ventilation(
        id=f"proposed {priced.id}",
        kind=VentilationKind.SUPPLY,
        flow=_guess(flow, 0.85 * flow, 1.05 * flow, "m3/s", "survey's measure, as installed"),
        efficiency=_guess(
            efficiency,
            max(efficiency - 0.2, 0.0),
            min(efficiency + 0.2, 0.999),
            "-",
            "filter of the supply fan by its rating",
        ),
        runs_with=RunsWith.ALWAYS,
    )
    return Measure(
        priced=priced,
        kind=MeasureKind.SUPPLY_VENTILATION,
        what="A fan brings filtered outdoor air in; it also leans the house towards pressure, which helps a weak draft.",
        scenario=_scenario(add_ventilation(part)),
        watts=(power, power, power),
        cautions=(
            "It is no cure for a chimney that spills; a chimney professional looks first.",
            "In very cold or very humid weather supply air needs thought about moisture.",
        ),
        must_retest=("supply flow", *RETEST_AFTER_PRESSURE_WORK),
    )


def _capture(latest: House, priced: PricedMeasure) -> Measure | str:
    settings = _settings(priced)
    capture = min(max(_number(settings, "capture", 0.5), 0.0), 0.95)
    named = str(settings.get("source", "cooking"))
    source = next((s for s in EVENT_KINDS if s.value == named), None)
    if source is None:
        return f"'{named}' is no indoor source; known are {', '.join(s.value for s in EVENT_KINDS)}"
    open_flue = any(
        a.kind in (ApplianceKind.FIREPLACE, ApplianceKind.STOVE) or a.venting is Venting.NATURAL_DRAFT
        for a in latest.appliances
    )
    return Measure(
        priced=priced,
        kind=MeasureKind.SOURCE_CAPTURE,
        what=f"Catch {named.replace('_', ' ')} at the source: {capture:.0%} of it leaves before it mixes.",
        scenario=_scenario(scale=((source, 1.0 - capture),)),
        watts=(0.0, 0.0, 0.0),
        cautions=(
            "A stronger hood is an exhaust fan: with an open flue or fireplace it can pull smoke and flue gas back.",
        )
        if open_flue
        else (),
        must_retest=("hood flow", *RETEST_AFTER_PRESSURE_WORK),
        blocked="No stronger exhaust before the appliance zone was tested with the hood on high and every flue drafting."
        if open_flue and source is Source.COOKING
        else "",
    )
