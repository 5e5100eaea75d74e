"""Trade units to SI and back: the one place where a factor between them is written.

Text with a unit becomes an :class:`~airtally.estimates.Estimate` in SI at the survey's door;
a number becomes a field unit again where a page or the record shows it. The trade's spellings
stand in exact tables here; any other spelling of the same dimension goes through pint, which is
imported only then.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar

from airtally.errors import InputError
from airtally.estimates import Basis, Estimate, Missing

if TYPE_CHECKING:
    from airtally.arrays import Floats

    NumberOrArray = TypeVar("NumberOrArray", float, Floats)
else:
    NumberOrArray = TypeVar("NumberOrArray")

FOOT = 0.3048
"""International foot, exact by definition. [m]"""
INCH = 0.0254
"""International inch, exact by definition. [m]"""
CUBIC_FOOT_PER_MINUTE = FOOT**3 / 60.0
"""Exact. [m3/s]"""
INCH_OF_WATER = 249.08891
"""Conventional inch of water (water at 4 degC): NIST SP 811, appendix B.8. [Pa]"""
BRITISH_THERMAL_UNIT = 1055.05585262
"""International Table Btu, exact: NIST SP 811, appendix B.8, footnote. [J]"""
ENERGY_UNITS = {"kWh": 3.6e6, "therm": 1e5 * BRITISH_THERMAL_UNIT, "GJ": 1e9}
"""Amounts of energy by which heat is sold. [J]"""
LONGEST_TEXT = 200
"""A quantity written by hand is shorter than this; longer text is refused unread."""


class Kind(StrEnum):
    """What sort of quantity a text holds; fixes the SI unit and the units accepted."""

    FLOW = "air flow"
    CLEAN_AIR = "clean air flow"
    AREA = "area"
    VOLUME = "volume"
    LENGTH = "length"
    PRESSURE = "pressure difference"
    TEMPERATURE = "temperature"
    TEMPERATURE_DIFFERENCE = "temperature difference"
    MASS_CONCENTRATION = "mass concentration"
    MOLE_FRACTION = "gas in air"
    EMISSION_RATE = "emission rate"
    MASS = "mass"
    MASS_FLOW = "mass a day"
    RATE = "rate"
    POWER = "electric power"
    HEAT_OUTPUT = "heat output"
    ENERGY = "energy"
    FRACTION = "share"
    FACTOR = "factor"
    PURE = "pure number"
    DURATION = "duration"
    HOURS = "hours"
    SPEED = "speed"
    MONEY = "money"
    ENERGY_PRICE = "price of energy"
    DEGREE_DAYS = "degree days"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A unit as it converts: SI = field * factor + offset."""

    factor: float
    offset: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Units:
    """The units of one kind: SI name, field unit for pages, accepted spellings; the first spelling of each is shown."""

    si: str
    field: str
    spellings: dict[str, Scale]
    pint: str = ""
    """What pint must be able to convert to; empty where only the table counts."""
    examples: str = ""


def _table(text: dict[str, float]) -> dict[str, Scale]:
    """Return scales for spellings separated by ``|``, each as written on a survey."""
    return {_plain(word): Scale(factor=factor) for words, factor in text.items() for word in words.split("|")}


def _plain(unit: str) -> str:
    """Return a unit's spelling without case, spaces, dots and raised signs, for look-up."""
    for raised, flat in (("²", "2"), ("³", "3"), ("µ", "u"), ("μ", "u"), ("°", "deg"), ("·", "*"), ("⁻¹", "-1")):
        unit = unit.replace(raised, flat)
    return re.sub(r"[\s.^]|\*\*", "", unit).casefold()


_FLOW = _table(
    {
        "cfm|ft3/min|cu ft/min|acfm": CUBIC_FOOT_PER_MINUTE,
        "L/s|l/sec": 1e-3,
        "m3/h|m3/hr": 1.0 / 3600.0,
        "m3/s": 1.0,
        "m3/min": 1.0 / 60.0,
        "ft3/h": FOOT**3 / 3600.0,
    }
)
_PRESSURE = _table(
    {
        "Pa": 1.0,
        "inH2O|in. w.c.|inwc|iwc|in. wg|in. water|in. of water|inch of water|inches of water": INCH_OF_WATER,
        "hPa|mbar": 100.0,
        "kPa": 1000.0,
        "mmH2O": 9.80665,
    }
)
_TEMPERATURE_LEVELS = {
    "degf": Scale(factor=5.0 / 9.0, offset=459.67 * 5.0 / 9.0),
    "f": Scale(factor=5.0 / 9.0, offset=459.67 * 5.0 / 9.0),
    "degc": Scale(factor=1.0, offset=273.15),
    "c": Scale(factor=1.0, offset=273.15),
    "k": Scale(factor=1.0),
}
_TEMPERATURE_STEPS = _table({"degF|F|delta_degF|degR": 5.0 / 9.0, "degC|C|delta_degC|K": 1.0})
_HEAT = _table(
    {
        "kBtu/h|kBtuh|kBtu/hr|MBH": BRITISH_THERMAL_UNIT * 1000.0 / 3600.0,
        "Btu/h|Btuh|Btu/hr": BRITISH_THERMAL_UNIT / 3600.0,
        "W": 1.0,
        "kW": 1000.0,
        "ton|tons": BRITISH_THERMAL_UNIT * 12000.0 / 3600.0,
    }
)
_RATE = _table(
    {"1/h|/h|per h|per hour|h-1|ACH|1/hr": 1.0 / 3600.0, "1/min|/min|per min": 1.0 / 60.0, "1/s|/s|per s": 1.0}
)
_TIME = _table(
    {
        "min|mins|minute|minutes": 60.0,
        "s|sec|second|seconds": 1.0,
        "h|hr|hrs|hour|hours": 3600.0,
        "d|day|days": 86400.0,
    }
)
_MASS = _table({"g": 1e-3, "mg": 1e-6, "ug": 1e-9, "kg": 1.0, "lb": 0.45359237})
_MASS_FLOW = _table(
    {
        "mg/h|mg/hr": 1e-6 / 3600.0,
        "mg/min": 1e-6 / 60.0,
        "ug/s": 1e-9,
        "g/h": 1e-3 / 3600.0,
        "g/day|g/d": 1e-3 / 86400.0,
        "kg/day|kg/d": 1.0 / 86400.0,
        "kg/s": 1.0,
    }
)

_KINDS: dict[Kind, _Units] = {
    Kind.FLOW: _Units(si="m3/s", field="cfm", spellings=_FLOW, pint="m**3/s", examples="cfm, L/s, m3/h"),
    Kind.CLEAN_AIR: _Units(si="m3/s", field="m3/h", spellings=_FLOW, pint="m**3/s", examples="m3/h, cfm, L/s"),
    Kind.AREA: _Units(
        si="m2",
        field="ft2",
        spellings=_table({"ft2|sq ft|sqft|sf": FOOT**2, "m2|sq m": 1.0, "in2|sq in": INCH**2, "cm2": 1e-4}),
        pint="m**2",
        examples="ft2, m2",
    ),
    Kind.VOLUME: _Units(
        si="m3",
        field="ft3",
        spellings=_table({"ft3|cu ft|cuft|cf": FOOT**3, "m3|cu m": 1.0, "L": 1e-3}),
        pint="m**3",
        examples="ft3, m3",
    ),
    Kind.LENGTH: _Units(
        si="m",
        field="ft",
        spellings=_table({"ft|feet|foot": FOOT, "m": 1.0, "in|inch|inches": INCH, "cm": 1e-2, "mm": 1e-3}),
        pint="m",
        examples="ft, m, in",
    ),
    Kind.PRESSURE: _Units(si="Pa", field="Pa", spellings=_PRESSURE, pint="Pa", examples="Pa, inH2O"),
    Kind.TEMPERATURE: _Units(si="K", field="degF", spellings=_TEMPERATURE_LEVELS, examples="degF, degC, K"),
    Kind.TEMPERATURE_DIFFERENCE: _Units(si="K", field="degF", spellings=_TEMPERATURE_STEPS, examples="degF, degC, K"),
    Kind.MASS_CONCENTRATION: _Units(
        si="kg/m3",
        field="ug/m3",
        spellings=_table({"ug/m3|mcg/m3": 1e-9, "mg/m3": 1e-6, "g/m3": 1e-3, "kg/m3": 1.0}),
        pint="kg/m**3",
        examples="ug/m3, mg/m3",
    ),
    Kind.MOLE_FRACTION: _Units(
        si="mol/mol",
        field="ppm",
        spellings=_table({"ppm|ppmv": 1e-6, "ppb|ppbv": 1e-9, "mol/mol": 1.0}),
        examples="ppm, ppb",
    ),
    Kind.EMISSION_RATE: _Units(si="kg/s", field="mg/h", spellings=_MASS_FLOW, pint="kg/s", examples="mg/h, mg/min"),
    Kind.MASS: _Units(si="kg", field="mg", spellings=_MASS, pint="kg", examples="mg, g"),
    Kind.MASS_FLOW: _Units(si="kg/s", field="g/day", spellings=_MASS_FLOW, pint="kg/s", examples="g/day, mg/h"),
    Kind.RATE: _Units(si="1/s", field="1/h", spellings=_RATE, examples="1/h"),
    Kind.POWER: _Units(
        si="W", field="W", spellings=_table({"W|watt|watts": 1.0, "kW": 1000.0}), pint="W", examples="W, kW"
    ),
    Kind.HEAT_OUTPUT: _Units(si="W", field="kBtu/h", spellings=_HEAT, pint="W", examples="kBtu/h, Btu/h, kW, ton"),
    Kind.ENERGY: _Units(
        si="J",
        field="kWh",
        spellings=_table({"kWh": 3.6e6, "Wh": 3600.0, "J": 1.0, "kBtu": BRITISH_THERMAL_UNIT * 1000.0}),
        pint="J",
        examples="kWh, J",
    ),
    Kind.FRACTION: _Units(si="-", field="%", spellings=_table({"%|pct|percent": 0.01}), examples="%"),
    Kind.FACTOR: _Units(si="-", field="x", spellings=_table({"x|\u00d7|times": 1.0}), examples="x, as in '1.25 x'"),
    Kind.PURE: _Units(si="-", field="", spellings={"": Scale(factor=1.0)}, examples="none"),
    Kind.DURATION: _Units(si="s", field="min", spellings=_TIME, pint="s", examples="s, min, h"),
    Kind.HOURS: _Units(si="s", field="h", spellings=_TIME, pint="s", examples="h, min, s"),
    Kind.SPEED: _Units(
        si="m/s",
        field="m/s",
        spellings=_table({"m/s": 1.0, "mph": 1609.344 / 3600.0, "km/h": 1.0 / 3.6, "fpm|ft/min": FOOT / 60.0}),
        pint="m/s",
        examples="m/s, mph, fpm",
    ),
    Kind.MONEY: _Units(si="", field="", spellings={}, examples=""),
    Kind.ENERGY_PRICE: _Units(si="/J", field="/kWh", spellings={}, examples=""),
    Kind.DEGREE_DAYS: _Units(
        si="K s",
        field="degF day",
        spellings=_table(
            {
                "degF day|degF days|degF d|F day|F days": 86400.0 * 5.0 / 9.0,
                "degC day|degC days|degC d|K day|K d": 86400.0,
            }
        ),
        examples="degF day, degC day",
    ),
}


class QuantityTextError(InputError):
    """A text that is no quantity of the wanted kind: what was found, what is wanted, what to do."""

    def __init__(self, found: str, wanted: str, remedy: str) -> None:
        super().__init__(f"{found}; wanted: {wanted}. {remedy}")
        self.found = found
        self.wanted = wanted
        self.remedy = remedy


def accepted_units(kind: Kind, currency: str = "") -> str:
    """Return the units a kind takes, in words for a message: ``"cfm, L/s, m3/h"``."""
    if kind is Kind.MONEY:
        return currency or "the job's currency"
    if kind is Kind.ENERGY_PRICE:
        return ", ".join(f"{currency or 'currency'}/{unit}" for unit in ENERGY_UNITS)
    return _KINDS[kind].examples


def si_unit(kind: Kind, currency: str = "") -> str:
    """Return the SI unit that a kind has inside the engine."""
    return currency + _KINDS[kind].si if kind in (Kind.MONEY, Kind.ENERGY_PRICE) else _KINDS[kind].si


def field_unit(kind: Kind, currency: str = "") -> str:
    """Return the unit in which a page or the record shows a kind."""
    return currency + _KINDS[kind].field if kind in (Kind.MONEY, Kind.ENERGY_PRICE) else _KINDS[kind].field


def scale_of(unit: str, kind: Kind, currency: str = "") -> Scale:
    """Return how a unit of a kind converts to SI.

    Raises
    ------
    QuantityTextError
        If the unit is unknown or measures something else.
    """
    plain = _plain(unit)
    table = _money_table(kind, currency) if kind in (Kind.MONEY, Kind.ENERGY_PRICE) else _KINDS[kind].spellings
    if plain in table:
        return table[plain]
    if plain == "scfm" and kind in (Kind.FLOW, Kind.CLEAN_AIR):
        raise QuantityTextError(
            f'"{unit}" is a flow of standard air',
            "the actual flow at the house",
            "Divide by the density ratio; write cfm.",
        )
    factor = _factor_by_pint(unit, _KINDS[kind].pint)
    if factor is None:
        raise QuantityTextError(
            f'"{shown_text(unit)}" is no unit of {kind.value} known here',
            f"one of {accepted_units(kind, currency)}",
            "Write the number with one of these units.",
        )
    return Scale(factor=factor)


def _money_table(kind: Kind, currency: str) -> dict[str, Scale]:
    """Return the spellings of the job's currency, alone or by energy."""
    code = _plain(currency)
    if kind is Kind.MONEY:
        return {code: Scale(factor=1.0)}
    return {
        f"{code}/{_plain(unit)}": Scale(factor=1.0 / energy) for unit, energy in (*ENERGY_UNITS.items(), ("J", 1.0))
    }


_FOR_PINT = re.compile(
    r"[A-Za-z]{1,16}(?:(?:\^|\*\*)?-?[1-4])?(?:\s?[*/]\s?[A-Za-z]{1,16}(?:(?:\^|\*\*)?-?[1-4])?){0,3}"
)


@cache
def _registry() -> Any:
    """Return pint's registry; built once, on the first unit that the tables lack."""
    import pint  # slow to import and seldom needed

    return pint.UnitRegistry(cache_folder=None)


def _factor_by_pint(unit: str, target: str) -> float | None:
    """Return the factor from a plain spelling to the SI unit, or None where pint finds none."""
    if not target or not _FOR_PINT.fullmatch(unit.strip()):
        return None
    plain = re.sub(r"(?<=[A-Za-z])(?=-?[1-4])", "**", unit.strip().replace("^", "**"))
    try:
        registry = _registry()
        return float(registry.Quantity(1.0, plain).to(target).magnitude)
    except Exception:  # noqa: BLE001  pint raises a dozen kinds of error on stray text; all mean "no such unit"
        return None


def to_si(value: NumberOrArray, kind: Kind, unit: str = "", currency: str = "") -> NumberOrArray:
    """Return a field number in SI; the kind's field unit is meant where none is named."""
    scale = scale_of(unit or field_unit(kind, currency), kind, currency)
    return value * scale.factor + scale.offset


def to_field(value: NumberOrArray, kind: Kind, unit: str = "", currency: str = "") -> tuple[NumberOrArray, str]:
    """Return an SI number in the unit a page shows, with that unit: ``(940.0, "cfm")``."""
    shown = unit or field_unit(kind, currency)
    scale = scale_of(shown, kind, currency)
    return (value - scale.offset) / scale.factor, shown


def estimate_to_field(estimate: Estimate, kind: Kind, unit: str = "", currency: str = "") -> Estimate:
    """Return an estimate in field units, its interval with it; basis, source and level stay."""
    value, shown = to_field(estimate.value, kind, unit, currency)
    low, _ = to_field(estimate.low, kind, unit, currency)
    high, _ = to_field(estimate.high, kind, unit, currency)
    return Estimate(
        value=value, low=low, high=high, unit=shown, basis=estimate.basis, source=estimate.source, level=estimate.level
    )


_NUMBER = r"[+-]?(?:[1-9]\d{0,2}(?:,\d{3})+(?:\.\d*)?|\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?"
_UNIT = r"(?:1\s*)?[^\s\d()±+,;-][^()±+;]*?"
_PLUS_MINUS = r"(?:±|\+/-|\+-)"
_RANGE = re.compile(rf"({_NUMBER})\s*({_UNIT})?\s*(?:\bto\b)\s*({_NUMBER})\s*({_UNIT})?")
_WITH_ENDS = re.compile(rf"({_NUMBER})\s*({_UNIT})?\s*\(\s*({_NUMBER})\s*to\s*({_NUMBER})\s*({_UNIT})?\s*\)")
_WITH_SPREAD = re.compile(rf"({_NUMBER})\s*({_UNIT})?\s*{_PLUS_MINUS}\s*({_NUMBER})\s*({_UNIT})?")
_ALONE = re.compile(rf"({_NUMBER})\s*({_UNIT})?")


def read_quantity(
    text: str,
    kind: Kind,
    *,
    source: str,
    basis: Basis = Basis.SURVEYED,
    spread: float = 0.0,
    currency: str = "",
) -> Estimate | Missing:
    """Return a hand-written quantity as an SI estimate, or why it is missing.

    Parameters
    ----------
    text : str
        ``"940 cfm"``, ``"940 cfm (880 to 1000)"``, ``"940 cfm +- 8 %"``, ``"300 to 450 USD"``,
        ``"not measured"``, ``"not accessible"`` or ``"unknown"``.
    kind : Kind
        What it must measure.
    source : str
        Goes with the estimate: survey key or gauge.
    basis : Basis, optional
        Goes with the estimate.
    spread : float, optional
        Half width of the interval over the value where the text states none. [-]
    currency : str, optional
        The job's currency, for money.

    Returns
    -------
    estimate : Estimate or Missing
        In SI; the interval as stated is taken for 90 %. A range without a middle gets its midpoint.

    Raises
    ------
    QuantityTextError
        If the text is no such quantity; a bare number is refused with the units that are accepted.
    """
    written = text.strip().replace("\u2212", "-").replace("\u2013", " to ")  # typographic minus and dash
    if len(written) > LONGEST_TEXT:
        raise QuantityTextError("a text of more than 200 characters", _wanted(kind, currency), "Shorten it.")
    for missing in Missing:
        if " ".join(written.casefold().split()) == missing.value:
            return missing
    middle, low, high, unit = _parts(written, kind, currency)
    scale = scale_of(unit, kind, currency)
    if low is None or high is None:
        low, high = middle - abs(middle) * spread, middle + abs(middle) * spread
    ends = [end * scale.factor + scale.offset for end in (low, middle, high)]
    if not all(math.isfinite(end) for end in ends):
        raise QuantityTextError(
            f'"{shown_text(text)}" is no finite number', _wanted(kind, currency), "Check the exponent."
        )
    if not low <= middle <= high:
        raise QuantityTextError(
            f'"{shown_text(text)}" has an interval of {low:g} to {high:g} that does not hold {middle:g}',
            "low end, then high end, with the value between",
            "Check the three numbers.",
        )
    return Estimate(value=ends[1], low=ends[0], high=ends[2], unit=si_unit(kind, currency), basis=basis, source=source)


def _parts(written: str, kind: Kind, currency: str) -> tuple[float, float | None, float | None, str]:
    """Return middle, low end, high end and unit, all in the unit written."""
    if found := _RANGE.fullmatch(written):
        low, first, high, second = found.groups()
        bottom, top = _number(low), _number(high)
        return (bottom + top) / 2.0, bottom, top, _one_unit(written, kind, currency, first, second)
    if found := _WITH_ENDS.fullmatch(written):
        middle, first, low, high, second = found.groups()
        return _number(middle), _number(low), _number(high), _one_unit(written, kind, currency, first, second)
    if found := _WITH_SPREAD.fullmatch(written):
        return _with_spread(written, kind, currency, *found.groups())
    if found := _ALONE.fullmatch(written):
        middle, unit = found.groups()
        return _number(middle), None, None, _one_unit(written, kind, currency, unit)
    remedy = "Write the number first, with a decimal point."
    if re.match(r"[+-]?\d+,\d", written):
        remedy = "Write a decimal point, not a comma."
    raise QuantityTextError(f'"{shown_text(written)}" is not a quantity', _wanted(kind, currency), remedy)


def _with_spread(
    written: str, kind: Kind, currency: str, middle: str, first: str | None, width: str, second: str | None
) -> tuple[float, float, float, str]:
    """Return the parts of a text with plus and minus; per cent means of the value."""
    centre, half = _number(middle), abs(_number(width))
    if second is not None and _plain(second) == "%" and kind is not Kind.FRACTION and first is not None:
        half = abs(centre) * half / 100.0
        return centre, centre - half, centre + half, _one_unit(written, kind, currency, first)
    if kind is Kind.PURE and second is not None and _plain(second) == "%":
        half = abs(centre) * half / 100.0
        return centre, centre - half, centre + half, ""
    if kind is Kind.FRACTION and first is not None and second is not None:
        raise QuantityTextError(
            f'"{shown_text(written)}" may mean points or a part of the value',
            'the two ends, as in "12 % (9 to 15)"',
            "Write the ends in brackets.",
        )
    return centre, centre - half, centre + half, _one_unit(written, kind, currency, first, second)


def _one_unit(written: str, kind: Kind, currency: str, *units: str | None) -> str:
    """Return the one unit that a text names; refuse none and refuse two different ones."""
    named = {_plain(unit): unit.strip() for unit in units if unit}
    if len(named) > 1:
        raise QuantityTextError(
            f'"{shown_text(written)}" names two units', _wanted(kind, currency), "Write all its numbers in one unit."
        )
    if not named and kind is not Kind.PURE:
        raise QuantityTextError(
            f'"{shown_text(written)}" has no unit', _wanted(kind, currency), "Write the unit behind the number."
        )
    return next(iter(named.values()), "")


def _number(text: str) -> float:
    """Return a matched number; its commas part thousands."""
    return float(text.replace(",", ""))


def _wanted(kind: Kind, currency: str) -> str:
    """Return what a kind wants, in words."""
    if kind is Kind.PURE:
        return "a plain number without unit"
    return f"a number with one of the units {accepted_units(kind, currency)}"


def shown_text(text: str) -> str:
    """Return a user's text as a message may repeat it: one line, printable, not long."""
    line = "".join(c if c.isprintable() else "?" for c in " ".join(text.split()))
    return line if len(line) <= 60 else line[:57] + "..."
