"""The measures airtally knows, in words: what each is, its cautions, what must be tested again, the power it draws."""

from __future__ import annotations

import re
from dataclasses import dataclass

from airtally.house.measure_kinds import WITHOUT_HANDLER, MeasureKind, kind_of, source_of, takes_exhaust
from airtally.house.parts import ApplianceKind, House, PricedMeasure, Venting
from airtally.network import present


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """A measure in words.

    ``watts`` is what it adds to the electricity while it runs, in each fan state off, circulate, heating [W];
    ``cautions`` and ``must_retest`` go with it wherever it is shown; ``parts`` is what it takes, in general words.
    """

    priced: PricedMeasure
    kind: MeasureKind
    what: str
    watts: tuple[float, float, float]
    cautions: tuple[str, ...]
    must_retest: tuple[str, ...]
    parts: tuple[str, ...]


RETEST_AFTER_PRESSURE_WORK = (
    "room and appliance-zone pressures with doors open and shut",
    "spillage and draft of every vented appliance",
    "which way duct leakage dominates",
)
RETEST_AFTER_DUCT_WORK = ("static pressures", "airflow", "heat rise", *RETEST_AFTER_PRESSURE_WORK)
RETEST_AFTER_FILTER_WORK = ("filter pressure drop", "static pressures", "airflow", "heat rise")
OLD_WRAP = "Old duct wrap may hold asbestos: do not disturb it, have it tested."


def measure_of(house: House, priced: PricedMeasure) -> Measure | str:
    """Return a line of the survey as a measure, or a sentence saying why it is none on this house.

    Parameters
    ----------
    house : House
        With the parts that stand now.
    priced : PricedMeasure
        The survey's line.
    """
    kind = kind_of(priced)
    if kind is None:
        return f"airtally has no measure called '{priced.kind}'; it knows {', '.join(MeasureKind)}"
    if house.air_handler is None and kind not in WITHOUT_HANDLER:
        return "this measure works on the air handler, and the survey has none"
    match kind:
        case MeasureKind.BYPASS_CLEANER:
            return _bypass(priced)
        case MeasureKind.BETTER_FILTER:
            return _filter(priced)
        case MeasureKind.IN_LINE_HEPA:
            return _in_line(priced)
        case MeasureKind.RETURN_SEALING:
            return _sealing(priced)
        case MeasureKind.CONTINUOUS_FAN:
            return _continuous(house, priced)
        case MeasureKind.SUPPLY_VENTILATION:
            return _supply(priced)
        case MeasureKind.SOURCE_CAPTURE:
            return _capture(house, priced)


def number(priced: PricedMeasure, key: str, usual: float) -> float:
    """Return a size that the survey's line tells, else the usual one, in the key's SI unit."""
    value = dict(priced.settings).get(key, usual)
    return float(value) if not isinstance(value, str) else usual


def rating_of(priced: PricedMeasure) -> str:
    """Return the rating that a filter's line tells, else MERV 13."""
    return str(dict(priced.settings).get("rating", "MERV 13"))


def merv_of(rating: str) -> int | None:
    """Return the number of a rating from MERV 5 to MERV 16, None of any other."""
    named = re.search(r"MERV\D*(\d+)", rating, flags=re.IGNORECASE)
    merv = int(named[1]) if named else 0
    return merv if 5 <= merv <= 16 else None


def _bypass(priced: PricedMeasure) -> Measure:
    power = number(priced, "power", 90.0)
    return Measure(
        priced=priced,
        kind=MeasureKind.BYPASS_CLEANER,
        what="An air cleaner with its own fan takes part of the return air and gives it back farther down; "
        "it works only while the central fan moves.",
        watts=(0.0, power, power),
        cautions=(
            "Taps stay clear of coil, refrigerant lines and the appliance zone.",
            "It must stop with the central fan; wiring by licensed people, to the local code.",
            OLD_WRAP,
        ),
        must_retest=("the cleaner's flow", "static pressures", "airflow", *RETEST_AFTER_PRESSURE_WORK),
        parts=(
            "air cleaner with a fan of its own and taps for round duct",
            "two collars and a loop of round sheet-metal duct, screws and duct mastic",
            "hand damper and backdraft damper",
            "relay or current switch that lets it run only with the air handler",
            "capped test holes at both taps",
        ),
    )


def _filter(priced: PricedMeasure) -> Measure | str:
    rating = rating_of(priced)
    if merv_of(rating) is None:
        return f"the filter's rating '{rating}' is not one from MERV 5 to MERV 16"
    return Measure(
        priced=priced,
        kind=MeasureKind.BETTER_FILTER,
        what=f"A {rating} filter with enough face area and depth, in a cabinet that seals.",
        watts=(0.0, 0.0, 0.0),
        cautions=(
            "A denser filter of the same size can choke the blower: area and depth first, then the rating.",
            OLD_WRAP,
        ),
        must_retest=RETEST_AFTER_FILTER_WORK,
        parts=(
            "filter of the named rating, the deepest and largest that the space takes",
            "cabinet with gasket and door that seals",
            "transitions, screws and duct mastic",
            "gauge or capped test holes before and after",
        ),
    )


def _in_line(priced: PricedMeasure) -> Measure:
    return Measure(
        priced=priced,
        kind=MeasureKind.IN_LINE_HEPA,
        what="A filter of HEPA class in the whole airflow, behind the filter that is there.",
        watts=(0.0, 0.0, 0.0),
        cautions=(
            "Clean it can take as much pressure as the plate allows in all: heat exchanger and coil may get too little air.",
            "A loaded filter takes more again; its change is bound to a gauge, not to a date.",
            OLD_WRAP,
        ),
        must_retest=RETEST_AFTER_FILTER_WORK,
        parts=(
            "filter of HEPA class with its housing, rated at the airflow of the highest speed",
            "transitions, screws and duct mastic",
            "gauge that stands at the filter and shows its drop",
        ),
    )


def _sealing(priced: PricedMeasure) -> Measure:
    return Measure(
        priced=priced,
        kind=MeasureKind.RETURN_SEALING,
        what="Seal or line the return side, nearest the blower first, so that it draws room air "
        "instead of garage, crawlspace or attic air.",
        watts=(0.0, 0.0, 0.0),
        cautions=(
            "Sealing raises static pressure and can turn the house from slight pressure to slight suction.",
            "Return or filter area grows with it, or the airflow falls.",
            OLD_WRAP,
        ),
        must_retest=RETEST_AFTER_DUCT_WORK,
        parts=(
            "duct mastic with mesh, or listed foil-backed tape",
            "sheet metal to close panned joists and gaps",
            "rigid liner where a cavity serves as duct",
        ),
    )


def _continuous(house: House, priced: PricedMeasure) -> Measure:
    handler = house.air_handler
    power = 0.0
    if handler is not None:
        by_name = {s.name: s.power for s in present(handler.speeds) if s.power is not None}
        speed = by_name.get("circulate") or by_name.get("heating")
        power = speed.value if speed is not None else 0.0
    return Measure(
        priced=priced,
        kind=MeasureKind.CONTINUOUS_FAN,
        what="The central fan circulates all day at its low speed.",
        watts=(power, 0.0, 0.0),
        cautions=(
            "With leaky returns more fan means more garage or crawlspace air: seal first.",
            "In the cooling season a running fan can put coil water back into the air.",
        ),
        must_retest=("appliance-zone pressure with the fan circulating",),
        parts=("thermostat setting, or a control that can ask for circulation",),
    )


def _supply(priced: PricedMeasure) -> Measure:
    power = number(priced, "power", 30.0)
    return Measure(
        priced=priced,
        kind=MeasureKind.SUPPLY_VENTILATION,
        what="A fan brings filtered outdoor air in; it also leans the house towards pressure, which helps a weak draft.",
        watts=(power, power, power),
        cautions=(
            "It mends no chimney that spills; a chimney professional looks first.",
            "In very cold or very humid weather supply air needs thought about moisture.",
        ),
        must_retest=("supply flow", *RETEST_AFTER_PRESSURE_WORK),
        parts=(
            "supply fan and filter box with a filter that can be reached",
            "inlet hood with screen, away from exhausts, vents and cars",
            "insulated duct, backdraft damper and balancing damper",
            "control with an off switch that is labelled",
        ),
    )


def _capture(house: House, priced: PricedMeasure) -> Measure:
    share = min(max(number(priced, "capture", 0.5), 0.0), 0.95)
    is_hood = takes_exhaust(priced)
    return Measure(
        priced=priced,
        kind=MeasureKind.SOURCE_CAPTURE,
        what=f"Catch {source_of(priced).replace('_', ' ')} at the source: {share:.0%} of it leaves before it mixes.",
        watts=(0.0, 0.0, 0.0),
        cautions=(
            "A stronger hood is an exhaust fan: with an open flue or fireplace it can pull smoke and flue gas back.",
        )
        if is_hood and has_open_flue(house)
        else (),
        must_retest=("hood flow", *RETEST_AFTER_PRESSURE_WORK) if is_hood else (),
        parts=(
            "hood, doors or enclosure at the source",
            "smooth duct to outdoors with a cap that opens",
        ),
    )


def has_open_flue(house: House) -> bool:
    """Return whether a fire or a burner that draws by warmth alone stands in the house."""
    return any(
        one.kind in (ApplianceKind.FIREPLACE, ApplianceKind.STOVE) or one.venting is Venting.NATURAL_DRAFT
        for one in present(house.appliances)
    )
