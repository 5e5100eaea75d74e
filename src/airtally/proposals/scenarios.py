"""Measures as scenarios: the edits of the latest house that a replay runs with."""

from __future__ import annotations

from airtally.estimates import Basis, Estimate
from airtally.house.measure_kinds import MeasureKind, source_of
from airtally.house.parts import Cleaner, Filter, RunsWith, Ventilation, VentilationKind
from airtally.inference.events import EVENT_KINDS, Source
from airtally.network.home.works import SEALED_LEFT
from airtally.physics.filters.efficiency import merv_efficiency
from airtally.proposals.measures import Measure, merv_of, number, rating_of
from airtally.scenario.edits import Edit, add_cleaner, add_ventilation, fit_filter, seal_returns
from airtally.scenario.scenario import FanPlan, Scenario

LOSS_IN_USE = 0.8
"""Low end of an installed filter over its rated minimum, for charge lost in use; own choice. [-]"""
HEPA_IN_USE = 0.97
"""Efficiency of a filter of HEPA class with its seals as installed; judgement. [-]"""


def scenario_of(measure: Measure, end: float, flow: Estimate | None = None) -> Scenario | str:
    """Return what a replay runs for a measure, or a sentence saying why it cannot be replayed.

    Parameters
    ----------
    measure : Measure
    end : float
        Instant that stands for now. [s, POSIX UTC]
    flow : Estimate, optional
        Airflow with the measure over airflow as found, as the network has it; left out: about the same [-].
    """
    match measure.kind:
        case MeasureKind.BYPASS_CLEANER:
            return _scenario(measure, end, add_cleaner(_cleaner(measure)))
        case MeasureKind.BETTER_FILTER:
            return _scenario(measure, end, fit_filter(_filter(measure), flow or _about_the_same()))
        case MeasureKind.IN_LINE_HEPA:
            return _scenario(measure, end, fit_filter(_hepa(measure), flow or _about_the_same()))
        case MeasureKind.RETURN_SEALING:
            left = number(measure.priced, "remaining", 0.0)
            told = _guess(left, 0.85 * left, 1.15 * left, "-", "survey's measure, as done") if left else SEALED_LEFT
            return _scenario(measure, end, seal_returns(told))
        case MeasureKind.CONTINUOUS_FAN:
            return _scenario(measure, end, fan=FanPlan.ALWAYS)
        case MeasureKind.SUPPLY_VENTILATION:
            return _scenario(measure, end, add_ventilation(_supply_fan(measure)))
        case MeasureKind.SOURCE_CAPTURE:
            named = source_of(measure.priced)
            source = next((s for s in EVENT_KINDS if s.value == named), None)
            if source is None:
                return f"'{named}' is no indoor source; known are {', '.join(s.value for s in EVENT_KINDS)}"
            caught = min(max(number(measure.priced, "capture", 0.5), 0.0), 0.95)
            return _scenario(measure, end, scale=((source, 1.0 - caught),))


def _scenario(
    measure: Measure,
    end: float,
    *edits: Edit,
    fan: FanPlan = FanPlan.RECORDED,
    scale: tuple[tuple[Source, float], ...] = (),
) -> Scenario:
    return Scenario(name=measure.priced.name, edits=edits, house_as_of=end, fan=fan, scale=scale)


def _guess(value: float, low: float, high: float, unit: str, source: str) -> Estimate:
    return Estimate(value=value, low=low, high=high, unit=unit, basis=Basis.DEFAULT, source=source)


def _about_the_same() -> Estimate:
    return _guess(1.0, 0.93, 1.06, "-", "flow after a filter of more area and depth; no statics were read: judgement")


def _cleaner(measure: Measure) -> Cleaner:
    flow = number(measure.priced, "flow", 0.1)
    return Cleaner(
        id=f"proposed {measure.priced.id}",
        name=measure.priced.name,
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


def _filter(measure: Measure) -> Filter:
    rating = rating_of(measure.priced)
    first, second, third = (
        _guess(
            c.value,
            LOSS_IN_USE * c.low,
            c.high,
            "-",
            "ASHRAE 52.2-2017 minimum efficiencies, from memory; charge lost in use",
        )
        for c in merv_efficiency(merv_of(rating) or 13)
    )
    return Filter(
        id=f"proposed {measure.priced.id}",
        rating=rating,
        efficiency=(first, second, third),
        bypass=_guess(0.03, 0.01, 0.10, "-", "seated deep cabinet, common practice, no source"),
    )


def _hepa(measure: Measure) -> Filter:
    caught = _guess(HEPA_IN_USE, 0.85, 0.999, "-", "filter of HEPA class with its seals as installed; judgement")
    return Filter(
        id=f"proposed {measure.priced.id}",
        rating="HEPA",
        efficiency=(caught, caught, caught),
        bypass=_guess(0.02, 0.005, 0.08, "-", "clamped frame with a gasket: judgement"),
    )


def _supply_fan(measure: Measure) -> Ventilation:
    flow = number(measure.priced, "flow", 0.028)
    efficiency = number(measure.priced, "efficiency", 0.6)
    return Ventilation(
        id=f"proposed {measure.priced.id}",
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
