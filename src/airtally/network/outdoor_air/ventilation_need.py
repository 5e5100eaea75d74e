"""Outdoor air that the residential ventilation standard asks for, what the house has of it, and what is missing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from airtally.errors import Problem, Severity
from airtally.estimates import Estimate, Missing
from airtally.house.parts import Envelope, House
from airtally.limits.tables import VentilationEdition, ventilation_rate
from airtally.network.home.from_survey import LATEST, envelope_leakage, present
from airtally.network.outdoor_air.ventilation_need_fans import (
    HOUR,
    FanSchedule,
    GivenFan,
    fan_problem,
    flow_sums,
    given_fan,
    given_sum,
    is_assumed,
    is_balanced,
)
from airtally.network.spread import default, spread
from airtally.physics.infiltration.effective import effective_infiltration
from airtally.physics.infiltration.superposition import Superposition, combined_ventilation
from airtally.physics.leaks.tightness import effective_leakage_area, normalised_leakage
from airtally.physics.ventilation.need import PrintedUnits, required_fan_flow, total_ventilation
from airtally.visits.parts import Visit

NEW_HOME_CAP = 2.0 / 3.0
"""Most of the total that infiltration may stand for in a new home. [-]; 2013 edition, read in a source comment"""
WEATHER_FACTORS = {
    "727930": 0.56, "726980": 0.52, "727850": 0.64, "725300": 0.60, "726580": 0.63, "725090": 0.66,
    "722190": 0.46, "722780": 0.43, "722020": 0.41, "725650": 0.59, "702730": 0.71,
}  # fmt: skip
"""Weather-and-shielding factor by station number, per hour. [1/h]; WeatherFactors, read"""
USUAL_WEATHER_FACTOR = default(
    0.58 / HOUR, 0.41 / HOUR, 0.71 / HOUR, "1/s", "weather factor not given: middle and ends of eleven stations"
)
DETACHED = default(1.0, 1.0, 1.0, "-", "detached house: the whole envelope faces outdoors")


@dataclass(frozen=True, slots=True, kw_only=True)
class VentilationNeed:
    """Required, given, missing, by one edition; flows in m3/s.

    Attributes
    ----------
    edition, printed_units
        Whose rule, and whose rounding of it.
    people : float or None
        Bedrooms plus one, or the household if it is larger; None where nobody counted the bedrooms. [-]
    total : Estimate or Missing
        Outdoor air in all.
    infiltration : Estimate or Missing
        Yearly effective infiltration; Missing where the leakage was not measured.
    is_balanced : bool
        Whether the house's fans match.
    credit : Estimate or Missing
        What infiltration may stand for, by ``credit_rule``.
    credit_rule : str
        The rule in words.
    required, required_if_balanced, required_if_unbalanced : Estimate or Missing
        Fan flow to provide as the house is, and with either kind of fan.
    fans : tuple of GivenFan
        What the house has.
    given : Estimate
        Sum of what counts.
    lacking : Estimate or Missing
        Required less given; a fan whose running is not known lowers its low end.
    outdoor_air : tuple of (Superposition, Estimate)
        Fans and infiltration together by each named rule; they differ.
    unknown : tuple of str
        What nobody measured or noted.
    problems : tuple of Problem
        The same as problems.
    """

    edition: VentilationEdition
    printed_units: PrintedUnits
    people: float | None
    total: Estimate | Missing
    infiltration: Estimate | Missing
    is_balanced: bool
    credit: Estimate | Missing
    credit_rule: str
    required: Estimate | Missing
    required_if_balanced: Estimate | Missing
    required_if_unbalanced: Estimate | Missing
    fans: tuple[GivenFan, ...]
    given: Estimate
    lacking: Estimate | Missing
    outdoor_air: tuple[tuple[Superposition, Estimate], ...]
    unknown: tuple[str, ...]
    problems: tuple[Problem, ...]


def ventilation_need(
    house: House,
    visits: tuple[Visit, ...],
    time: float = LATEST,
    *,
    edition: VentilationEdition = VentilationEdition.E2019,
    printed_units: PrintedUnits = PrintedUnits.INCH_POUND,
    weather_factor: Estimate | None = None,
    exterior_share: Estimate = DETACHED,
    schedules: Mapping[str, FanSchedule] | None = None,
    is_new: bool = False,
) -> VentilationNeed:
    """Return the ventilation that an edition of the standard asks of a house, what it has and what is missing.

    Parameters
    ----------
    house, visits
        Floor area, bedrooms, household, leakage and fans; a visit's reading governs.
    time : float, optional
        When. [s, POSIX UTC]
    edition, printed_units
        Whose rule and rounding; the authority having jurisdiction says which holds.
    weather_factor : Estimate, optional
        Of the place, from :data:`WEATHER_FACTORS` or hourly weather; a wide default otherwise. [1/s]
    exterior_share : Estimate, optional
        Share of the envelope that faces outdoors. [-]
    schedules : mapping, optional
        Fan id to how it runs, for fans that do not run always.
    is_new : bool
        Whether the cap of a new home holds (2013 edition).

    Notes
    -----
    Valid: whole-dwelling ventilation; kitchen and bath fans used by hand are local exhaust and do not count here.
    Departs from the source: a household larger than bedrooms plus one counts in full (from memory).
    Checked against: worked example E2 of the check values; the printed table of TX-Mech.
    """
    envelope = next(iter(present(house.envelopes, time)), None)
    people, whole, problems = _total(house, envelope, edition, printed_units)
    infiltration, more = _infiltration(house, visits, time, envelope, weather_factor)
    problems += more
    fans = tuple(
        given_fan(fan, visits, time, envelope, edition, (schedules or {}).get(fan.id))
        for fan in present(house.ventilation, time)
    )
    problems += tuple(fan_problem(fan) for fan in fans if isinstance(fan.counted, Missing) or is_assumed(fan.flow))
    matched = is_balanced(fans)
    required = {
        kind: _required(whole, infiltration, exterior_share, edition, is_balanced=kind, is_new=is_new)
        for kind in (True, False)
    }
    credit = _required(whole, infiltration, exterior_share, edition, is_balanced=matched, is_new=is_new, is_credit=True)
    given = given_sum(fans)
    own = required[matched]
    return VentilationNeed(
        edition=edition, printed_units=printed_units, people=people, total=whole, infiltration=infiltration,
        is_balanced=matched, credit=credit, credit_rule=_rule(edition, matched, is_new),
        required=own, required_if_balanced=required[True], required_if_unbalanced=required[False], fans=fans,
        given=given, lacking=_lacking(own, given, fans), outdoor_air=_outdoor_air(fans, infiltration),
        unknown=tuple(f"{problem.where}: {problem.found}" for problem in problems), problems=problems,
    )  # fmt: skip


def _total(
    house: House, envelope: Envelope | None, edition: VentilationEdition, printed_units: PrintedUnits
) -> tuple[float | None, Estimate | Missing, tuple[Problem, ...]]:
    if envelope is None or envelope.bedrooms is None:
        lacking = "floor area and bedrooms" if envelope is None else "number of bedrooms"
        return None, Missing.NOT_MEASURED, (
            Problem(
                code="network-ventilation-size-unknown",
                where="survey.toml, envelope",
                found=f"no {lacking}",
                wanted="floor area and number of bedrooms",
                remedy="Count the bedrooms; without them the standard's ventilation is not computed.",
            ),
        )  # fmt: skip
    bedrooms = max(float(envelope.bedrooms), 1.0)
    if house.occupants is not None:
        bedrooms = max(bedrooms, house.occupants.count - 1.0)
    rate = ventilation_rate(edition)
    whole = spread(
        lambda area: float(total_ventilation(area, bedrooms, edition, printed_units)), envelope.floor_area, unit="m3/s",
        source=f"ASHRAE {edition.value}, {rate.printed}, {printed_units.value} rounding ({rate.basis.value})",
    )  # fmt: skip
    return bedrooms + 1.0, whole, ()


def _infiltration(
    house: House, visits: tuple[Visit, ...], time: float, envelope: Envelope | None, weather_factor: Estimate | None
) -> tuple[Estimate | Missing, tuple[Problem, ...]]:
    leakage, _ = envelope_leakage(house, visits, time)
    if leakage is None or envelope is None or is_assumed(leakage[0]):
        return Missing.NOT_MEASURED, (
            Problem(
                code="network-no-infiltration-credit",
                where="survey.toml, envelope.flow_at_50; visits.toml, cfm50",
                found="no measured house leakage",
                wanted="a blower-door reading",
                remedy="Measure it; the standard gives credit for infiltration against a measurement only.",
                severity=Severity.NOTE,
            ),
        )
    problems: tuple[Problem, ...] = ()
    if weather_factor is None:
        problems = (
            Problem(
                code="network-weather-factor-assumed",
                where="weather-and-shielding factor",
                found="no factor of the place",
                wanted="the factor of the nearest station, or a year of hourly weather",
                remedy="Look it up in the standard's table; until then the credit spans several climates.",
                severity=Severity.NOTE,
            ),
        )

    def effective(flow: float, exponent: float, area: float, height: float, factor: float) -> float:
        leak = normalised_leakage(effective_leakage_area(flow, exponent), area, height)
        return float(effective_infiltration(leak, factor, area))

    infiltration = spread(
        effective, *leakage, envelope.floor_area, envelope.height, weather_factor or USUAL_WEATHER_FACTOR, unit="m3/s",
        source=f"leakage area, normalised leakage and weather factor: {(weather_factor or USUAL_WEATHER_FACTOR).source}",
    )  # fmt: skip
    return infiltration, problems


def _required(
    whole: Estimate | Missing,
    infiltration: Estimate | Missing,
    exterior_share: Estimate,
    edition: VentilationEdition,
    *,
    is_balanced: bool,
    is_new: bool,
    is_credit: bool = False,
) -> Estimate | Missing:
    """Return the fan flow to provide or, of the same sum, what was taken off for infiltration."""
    if isinstance(whole, Missing):
        return whole
    nothing = default(0.0, 0.0, 0.0, "m3/s", "leakage not measured: no credit")
    has_cap = is_new and edition is VentilationEdition.E2013

    def fan(flow: float, inward: float, share: float) -> float:
        wanted = float(required_fan_flow(flow, inward, is_balanced, share, edition))
        wanted = max(wanted, (1.0 - NEW_HOME_CAP) * flow) if has_cap else wanted
        return flow - wanted if is_credit else wanted

    credit = infiltration if isinstance(infiltration, Estimate) else nothing
    found = spread(
        fan, whole, credit, exterior_share, unit="m3/s",
        source=f"{whole.source}; credit {_rule(edition, is_balanced, is_new)}; {credit.source}",
    )  # fmt: skip
    return replace(found, low=max(found.low, 0.0))  # neither a fan flow nor a credit is ever below nothing


def _rule(edition: VentilationEdition, is_balanced: bool, is_new: bool) -> str:
    rule = ventilation_rate(edition).credit
    if rule == "built in":
        return "built into the rate"
    cap = ", at most two thirds of the total in a new home" if is_new and edition is VentilationEdition.E2013 else ""
    if rule == "in full":
        return f"in full{cap}"
    return "in full, fans balanced" if is_balanced else "times infiltration over total, fans unbalanced"


def _lacking(required: Estimate | Missing, given: Estimate, fans: tuple[GivenFan, ...]) -> Estimate | Missing:
    if isinstance(required, Missing):
        return required
    lacking = spread(lambda want, have: want - have, required, given, unit="m3/s", source="required less given")
    open_end = sum(fan.flow.high for fan in fans if isinstance(fan.counted, Missing))
    return Estimate(
        value=lacking.value, low=lacking.low - open_end, high=lacking.high, unit="m3/s", basis=lacking.basis,
        source=lacking.source, level=lacking.level,
    )  # fmt: skip


def _outdoor_air(
    fans: tuple[GivenFan, ...], infiltration: Estimate | Missing
) -> tuple[tuple[Superposition, Estimate], ...]:
    if isinstance(infiltration, Missing):
        return ()
    balanced, supply, exhaust = flow_sums(fans)
    given = given_sum(fans)
    matched = balanced + min(supply, exhaust)
    one_way = abs(supply - exhaust)
    whole = matched + one_way

    def combined(inward: float, have: float, rule: Superposition) -> float:
        scale = have / whole if whole > 0.0 else 0.0
        return float(combined_ventilation(matched * scale, one_way * scale, inward, rule))

    return tuple(
        (
            rule,
            spread(
                lambda inward, have, rule=rule: combined(inward, have, rule), infiltration, given, unit="m3/s",
                source=f"fans and infiltration by: {rule.value}",
            ),
        )
        for rule in Superposition
        if rule is not Superposition.ADDITION or one_way == 0.0
    )  # fmt: skip
