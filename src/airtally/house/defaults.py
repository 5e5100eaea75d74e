"""Defaults that depend on what a part is: filter rating, exhaust kind, motor, capacity.

Each is written as a survey would write it, with its source. Defaults that depend on nothing stand
beside their key in :mod:`airtally.house.sections_home` and :mod:`airtally.house.sections_job`.
"""

from __future__ import annotations

import re

from airtally.errors import InputError
from airtally.estimates import Basis, Estimate, Missing
from airtally.house.fields import COMMON_PRACTICE, Default
from airtally.house.parts import ExhaustKind
from airtally.units import FOOT, Kind, read_quantity

FILTER_TEST = "ASHRAE 52.2-2017, table of minimum average efficiencies (from memory)"
MINIMUM_EFFICIENCY: dict[int, tuple[float | None, float | None, float]] = {
    1: (None, None, 0.0),
    2: (None, None, 0.0),
    3: (None, None, 0.0),
    4: (None, None, 0.0),
    5: (None, None, 0.20),
    6: (None, None, 0.35),
    7: (None, None, 0.50),
    8: (None, 0.20, 0.70),
    9: (None, 0.35, 0.75),
    10: (None, 0.50, 0.80),
    11: (0.20, 0.65, 0.85),
    12: (0.35, 0.80, 0.90),
    13: (0.50, 0.85, 0.90),
    14: (0.75, 0.90, 0.95),
    15: (0.85, 0.90, 0.95),
    16: (0.95, 0.95, 0.95),
}
"""Minimum average efficiency by MERV and size class 0.3-1, 1-3, 3-10 um; None where the class is not rated. [-]"""
LOSS_IN_USE = 0.80
"""Low end of an installed filter over its rated minimum, for charge lost in use: judgement. [-]"""
RATING = re.compile(r"MERV\s*-?\s*(1[0-6]|[1-9])", re.IGNORECASE)
HEPA_CLASS = ("99.5 % (98 to 99.99)", "99.5 % (98 to 99.99)", "99.7 % (98.5 to 99.99)")
HEPA_SOURCE = "filter class of at least 99.97 % at 0.3 um by test; low end for seals and frame: judgement"

EXHAUST_FLOW: dict[ExhaustKind, Default] = {
    ExhaustKind.HOOD: Default(
        text="120 cfm (50 to 300)", source=f"as found, half to a third of the label: {COMMON_PRACTICE}"
    ),
    ExhaustKind.BATH: Default(text="50 cfm (30 to 80)", source=f"as found: {COMMON_PRACTICE}"),
    ExhaustKind.DRYER: Default(text="130 cfm (100 to 160)", source=f"as found: {COMMON_PRACTICE}"),
    ExhaustKind.FIREPLACE: Default(text="400 cfm (250 to 600)", source=f"while burning: {COMMON_PRACTICE}"),
    ExhaustKind.OTHER: Default(text="80 cfm (20 to 300)", source="judgement"),
}
HOOD_CAPTURE = Default(
    text="50 % (10 to 85)",
    source="Pollutant removal efficiency of residential cooking exhaust hoods (AIVC abstract): 80-90 % and more for "
    "back burners, 46-78 % front on high, much lower on low",
)
MOTOR_POWER: dict[tuple[str, bool], Default] = {
    ("PSC", False): Default(text="475 W (330 to 700)", source=f"heating or cooling speed: {COMMON_PRACTICE}"),
    ("ECM", False): Default(text="300 W (150 to 450)", source=f"heating or cooling speed: {COMMON_PRACTICE}"),
    ("unknown", False): Default(text="400 W (150 to 700)", source=f"motor not known: {COMMON_PRACTICE}"),
    ("PSC", True): Default(text="350 W (200 to 600)", source=f"fan only: {COMMON_PRACTICE}"),
    ("ECM", True): Default(text="100 W (50 to 150)", source=f"fan only: {COMMON_PRACTICE}"),
    ("unknown", True): Default(text="200 W (50 to 600)", source=f"fan only, motor not known: {COMMON_PRACTICE}"),
}
"""Blower power by motor and by whether the fan only circulates."""
HANDLER_FLOW = Default(text="1000 cfm (600 to 1400)", source=f"no capacity given: {COMMON_PRACTICE}")
FLOW_PER_COOLING = (350.0, 220.0, 420.0)
"""Cooling air flow: typical 330-420 cfm a ton, 220 as bad as seen; common practice, no source. [cfm/ton]"""
FLOW_PER_HEATING = (145.0, 90.0, 180.0)
"""Heating air flow: 120-180 cfm for 10 kBtu/h of output, below 100 as bad as seen; common practice, no source."""
CIRCULATE_OVER_FULL = (0.65, 0.45, 1.0)
"""Fan-only over full flow: 0.45-0.75 with several speeds, 1.0 with one; common practice, no source. [-]"""
HEATING_OVER_COOLING = (0.9, 0.7, 1.1)
"""Heating over cooling flow; judgement. [-]"""
NORMALIZED_LEAKAGE = (0.67, 0.22, 1.95)
"""Median and 90 % range over US houses: Analysis of Air Leakage Measurements of US Houses (LBNL abstract). [-]"""
LEAKAGE_SOURCE = (
    "90 % of US houses: normalized leakage 0.22 to 1.95, median 0.67, LBNL Analysis of Air Leakage Measurements"
)
AIR_DENSITY = 1.2
"""For leakage area, as in ASTM E779. [kg/m3]"""
HEIGHT_PER_STOREY = (9.0 * FOOT, 8.0 * FOOT, 12.0 * FOOT)
"""Storey with its floor; judgement. [m]"""


def default_estimate(default: Default, kind: Kind, currency: str = "") -> Estimate:
    """Return a written default as an SI estimate with basis DEFAULT and its source."""
    found = read_quantity(default.text, kind, source=default.source, basis=Basis.DEFAULT, currency=currency)
    if isinstance(found, Missing):
        raise InputError(f'a default must be a quantity; "{default.text}" is none')
    return found


def scaled(base: Estimate, factors: tuple[float, float, float], source: str, unit: str = "") -> Estimate:
    """Return a default that is a factor (middle, low, high) of another quantity of the survey."""
    middle, low, high = factors
    return Estimate(
        value=base.value * middle,
        low=base.low * low,
        high=base.high * high,
        unit=unit or base.unit,
        basis=Basis.DEFAULT,
        source=source,
    )


def read_rating(text: str) -> int | str | None:
    """Return the number of a MERV rating, ``"HEPA"``, ``"none"``, ``"unknown"``, or None for anything else."""
    plain = " ".join(text.split())
    if found := RATING.fullmatch(plain):
        return int(found.group(1))
    for word in ("HEPA", "none", "unknown"):
        if plain.casefold() == word.casefold():
            return word
    return None


def filter_efficiency(rating: int | str) -> tuple[Estimate, Estimate, Estimate]:
    """Return the single-pass efficiency by size class that a rating stands for, with a wide interval.

    Low end: the rated minimum times 0.8 (charge lost in use), or a few per cent where the class is
    not rated. High end: the minimum of the rating two steps up. Middle: halfway between the minimum
    and the high end.

    Parameters
    ----------
    rating : int or str
        MERV 1 to 16, ``"HEPA"``, ``"none"`` or ``"unknown"``.

    Returns
    -------
    efficiency : tuple of three Estimate
        For 0.3-1, 1-3 and 3-10 um, basis DEFAULT. [-]

    Raises
    ------
    InputError
        If the rating is none of these.
    """
    if rating == "HEPA":
        first, second, third = (
            default_estimate(Default(text=text, source=HEPA_SOURCE), Kind.FRACTION) for text in HEPA_CLASS
        )
        return first, second, third
    if rating == "none":
        return (
            _share(0.0, 0.0, 0.02, "no filter"),
            _share(0.0, 0.0, 0.02, "no filter"),
            _share(0.0, 0.0, 0.05, "no filter"),
        )
    if rating == "unknown":
        words = "rating not known: anything from MERV 4 to MERV 13"
        return _share(0.02, 0.15, 0.65, words), _share(0.05, 0.40, 0.90, words), _share(0.15, 0.70, 0.95, words)
    if not isinstance(rating, int) or rating not in MINIMUM_EFFICIENCY:
        raise InputError(f"a filter rating must be MERV 1 to 16, HEPA, none or unknown; got {rating}")
    first, second, third = (_rated(rating, size_class) for size_class in range(3))
    return first, second, third


def _rated(rating: int, size_class: int) -> Estimate:
    """Return the efficiency of one size class of a MERV rating [-]."""
    unrated_low = (0.02, 0.05, 0.05)[size_class]
    minimum = MINIMUM_EFFICIENCY[rating][size_class]
    above = MINIMUM_EFFICIENCY[rating + 2][size_class] if rating + 2 in MINIMUM_EFFICIENCY else 0.99
    if above is None:  # two steps up is not rated for this size either
        above = 0.20 if rating > 4 else 0.10
    above = min(0.99, max(above, 0.20 if rating > 4 else 0.10, (minimum or 0.0) + 0.03))
    bottom = minimum or unrated_low
    source = f"MERV {rating}: {FILTER_TEST}; low end {LOSS_IN_USE:g} of it, high end two ratings up"
    return _share(LOSS_IN_USE * bottom, (bottom + above) / 2.0, above, source)


def _share(low: float, middle: float, high: float, source: str) -> Estimate:
    """Return a default share [-]."""
    return Estimate(value=middle, low=low, high=high, unit="-", basis=Basis.DEFAULT, source=source)


def leakage_from_stock(floor_area: Estimate, height: Estimate) -> Estimate:
    """Return the air flow at 50 Pa of a house of which nothing is known but its size.

    Normalized leakage is turned back into flow: NL = 1000 (ELA / A) (H / 2.5 m)^0.3 and
    ELA = Q(4 Pa) sqrt(density / (2 * 4 Pa)), with exponent 0.65 between 4 and 50 Pa (ASHRAE
    Handbook of Fundamentals, chapter on ventilation and infiltration, from memory).

    Parameters
    ----------
    floor_area : Estimate
        A. [m2]
    height : Estimate
        H, lowest to highest leak. [m]

    Returns
    -------
    flow_at_50 : Estimate
        Basis DEFAULT. [m3/s]
    """
    per_leakage = (
        floor_area.value / 1000.0 / (height.value / 2.5) ** 0.3 / ((4.0 / 50.0) ** 0.65 * (AIR_DENSITY / 8.0) ** 0.5)
    )
    middle, low, high = NORMALIZED_LEAKAGE
    return Estimate(
        value=middle * per_leakage,
        low=low * per_leakage,
        high=high * per_leakage,
        unit="m3/s",
        basis=Basis.DEFAULT,
        source=LEAKAGE_SOURCE,
    )
