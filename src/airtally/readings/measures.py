"""Units as loggers print them: which scale brings a column to SI, and what is assumed where none is printed."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats
from airtally.quantities import UNITS, Quantity
from airtally.units import FOOT, Kind, Scale, scale_of

INCH_OF_MERCURY = 3386.389
"""Conventional inch of mercury at 0 degC: NIST SP 811, appendix B.8. [Pa]"""
MILLIMETRE_OF_MERCURY = 133.3224
"""Conventional: NIST SP 811, appendix B.8. [Pa]"""
POUND_PER_SQUARE_INCH = 6894.757
"""NIST SP 811, appendix B.8. [Pa]"""
KNOT = 1852.0 / 3600.0
"""Exact: the nautical mile is 1852 m. [m/s]"""

_MASS = (Quantity.PM1, Quantity.PM25, Quantity.PM10)
_COUNTS = tuple(quantity for quantity in Quantity if quantity.value.startswith("count_"))
_GASES = (Quantity.CO2, Quantity.CO, Quantity.NO2)
_TEMPERATURES = (Quantity.TEMPERATURE, Quantity.SPILL_TEMPERATURE)
_PRESSURES = (Quantity.PRESSURE_DIFFERENCE, Quantity.FILTER_PRESSURE_DROP, Quantity.BAROMETRIC_PRESSURE)
STATES = (
    Quantity.FAN_STATE,
    Quantity.BURNER_STATE,
    Quantity.WINDOW_STATE,
    Quantity.DOOR_STATE,
    Quantity.COOKING_STATE,
    Quantity.OCCUPANTS,
    Quantity.VALVE_FRACTION,
)
"""Quantities that hold from one reading to the next instead of being averages."""


def _scales(kind: Kind, spellings: str) -> dict[str, Scale]:
    """Return scales of ``logger's spelling=spelling of units.py`` pairs."""
    pairs = (pair.split("=") for pair in spellings.split())
    return {pair[0]: scale_of(pair[-1], kind) for pair in pairs}


def _factors(factors: dict[str, float]) -> dict[str, Scale]:
    return {word: Scale(factor=factor) for words, factor in factors.items() for word in words.split()}


_BY_QUANTITY: dict[Quantity, dict[str, Scale]] = {}
_BY_QUANTITY |= dict.fromkeys(
    _MASS,
    _scales(Kind.MASS_CONCENTRATION, "ug/m3 ugm3=ug/m3 ugm-3=ug/m3 ugperm3=ug/m3 mcg/m3 mg/m3 mgm3=mg/m3 g/m3 kg/m3")
    | _factors({"ng/m3": 1e-12}),
)
_BY_QUANTITY |= dict.fromkeys(
    _COUNTS,
    _factors(
        {
            "1/l /l pcs/l #/l p/l counts/l": 1e3,
            "/01l pcs/01l #/01l 1/01l per01l /dl #/dl pcs/dl": 1e4,
            "1/cm3 /cm3 #/cm3 pcs/cm3 #/cc /cc cm-3 pt/cc n/cm3": 1e6,
            "1/ft3 /ft3 #/ft3 pcs/ft3 cf /cf #/cf counts/ft3": 1.0 / FOOT**3,
            "1/m3 /m3 #/m3 pcs/m3": 1.0,
        }
    ),
)
_BY_QUANTITY |= dict.fromkeys(_GASES, _scales(Kind.MOLE_FRACTION, "ppm ppmv ppb ppbv mol/mol umol/mol=ppm"))
_BY_QUANTITY |= dict.fromkeys(
    _TEMPERATURES,
    _scales(
        Kind.TEMPERATURE,
        "c degc celsius=degc degreesc=degc degcelsius=degc gradc=degc f degf fahrenheit=degf degreesf=degf "
        "degfahrenheit=degf k kelvin=k degk=k",
    ),
)
_BY_QUANTITY |= dict.fromkeys(
    _PRESSURES,
    _scales(
        Kind.PRESSURE,
        'pa hpa mbar mb=mbar kpa inh2o inwc iwc inwg in=inwc "wc=inwc wc=inwc "h2o=inwc inwcol=inwc inofwater=inwc mmh2o',
    )
    | _factors({"inhg": INCH_OF_MERCURY, "mmhg": MILLIMETRE_OF_MERCURY, "psi": POUND_PER_SQUARE_INCH}),
)
_BY_QUANTITY[Quantity.RELATIVE_HUMIDITY] = _scales(Kind.FRACTION, "% pct percent %rh=% rh%=% %hr=%") | _factors(
    {"0-1 fraction 1": 1.0}
)
_BY_QUANTITY[Quantity.VOC] = _factors({"index ppm ppb mg/m3 ug/m3 iaq -": 1.0})
_BY_QUANTITY[Quantity.FAN_CURRENT] = _factors({"a amp amps ampere arms aac": 1.0, "ma": 1e-3})
_BY_QUANTITY[Quantity.FAN_POWER] = _scales(Kind.POWER, "w watt watts kw")
_BY_QUANTITY[Quantity.FAN_FLOW] = _scales(Kind.FLOW, "cfm acfm ft3/min l/s m3/h cmh=m3/h m3/s m3/min")
_BY_QUANTITY[Quantity.WIND_SPEED] = _scales(Kind.SPEED, "m/s mps=m/s ms-1=m/s mph km/h kph=km/h kmh=km/h") | _factors(
    {"kn knots knot kt": KNOT}
)
_BY_QUANTITY |= dict.fromkeys(STATES, _factors({"bool on/off 0/1 state - p": 1.0, "% pct": 0.01}))

UNIT_SPELLINGS = frozenset(
    word for table in _BY_QUANTITY.values() for word in table if word not in {"-", "in", "1", "p"}
)
"""Every spelling known for any quantity."""
COUNTER_UNIT = "counter"
"""Unit of a state that is told by a counter: on while the counter climbs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """How a column's numbers become SI: value = number * factor + offset."""

    scale: Scale | None
    """None where the unit printed does not fit the quantity."""
    unit: str
    """As printed or assumed."""
    is_assumed: bool = False
    is_doubtful: bool = False
    """Assumed where another unit would fit as well; the survey should state it."""


def flat_unit(word: str) -> str:
    """Return a unit's spelling without case, spaces, dots, brackets and raised signs."""
    flat = unicodedata.normalize("NFKC", word[:60]).casefold().replace("μ", "u").replace("µ", "u").replace("°", "deg")
    return re.sub(r"[\s.^\[\](){}]|\*\*", "", flat)


def unit_in_words(header: str, unit_line: str, quantity: Quantity) -> tuple[str, Scale | None] | None:
    """Return the unit that a header or the line beneath it prints, with its scale; None if none is printed.

    The scale is None where a unit is printed that belongs to something else.
    """
    table = _BY_QUANTITY[quantity]
    text = unicodedata.normalize("NFKC", header[:200])
    printed = [unit_line, *re.findall(r"[\[(]([^\])]{1,20})[\])]", text)]
    if "," in text:
        printed.append(text.rsplit(",", 1)[1])
    if "__" in text:
        printed.append(text.rsplit("__", 1)[1].replace("_", "/").replace("m3/h", "m3/h"))
    for word in printed:
        if flat_unit(word) in table:
            return word.strip(), table[flat_unit(word)]
    tokens = [token for token in re.split(r"[\s_]+", text.replace(",", " ")) if token]
    for count in (3, 2, 1):
        word = " ".join(tokens[-count:])
        if len(tokens) > count and flat_unit(word) in table:
            return word, table[flat_unit(word)]
    foreign = next((word for word in printed if flat_unit(word) in UNIT_SPELLINGS), None)
    return None if foreign is None else (foreign.strip(), None)


def unit_stated(unit: str, quantity: Quantity) -> Scale | None:
    """Return the scale of a unit stated in the survey, or None if it does not fit the quantity."""
    return _BY_QUANTITY[quantity].get(flat_unit(unit))


def units_accepted(quantity: Quantity) -> str:
    """Return some units that a quantity takes, for a message."""
    return ", ".join(list(_BY_QUANTITY[quantity])[:5])


def assumed(quantity: Quantity, numbers: Floats) -> Measure:
    """Return the unit that fits a column's numbers where none is printed.

    Parameters
    ----------
    quantity : Quantity
        What the column measures.
    numbers : float array
        The column as printed, NaN where unreadable.
    """
    finite = numbers[np.isfinite(numbers)]
    middle = float(np.median(finite)) if finite.size else 0.0
    word, doubtful = _likely_unit(quantity, finite, middle)
    scale = _BY_QUANTITY[quantity].get(word)
    if scale is None:
        usual = UNITS[quantity]
        scale = Scale(factor=usual.factor, offset=usual.offset)
    return Measure(scale=scale, unit=word, is_assumed=True, is_doubtful=doubtful)


def _likely_unit(quantity: Quantity, finite: Floats, middle: float) -> tuple[str, bool]:
    """Return the flat spelling of the likeliest unit and whether another would fit as well."""
    if quantity in _TEMPERATURES:
        # the low end of a spill probe is room air, as is the middle of a room's
        usual = middle if quantity is Quantity.TEMPERATURE or not finite.size else float(np.quantile(finite, 0.1))
        if 200.0 < usual < 350.0:
            return "k", False
        return ("degf", True) if usual > 45.0 else ("degc", True)
    if quantity in _GASES:
        return _likely_gas_unit(quantity, middle)
    if quantity is Quantity.RELATIVE_HUMIDITY:
        return ("fraction" if finite.size and float(finite.max()) <= 1.0 else "%"), False
    if quantity is Quantity.BAROMETRIC_PRESSURE:
        for word, low, high in (("pa", 5e4, 1.1e5), ("hpa", 500.0, 1100.0), ("inhg", 18.0, 32.0), ("kpa", 50.0, 110.0)):
            if low <= middle <= high:
                return word, False
        return "hpa", True
    if quantity is Quantity.FILTER_PRESSURE_DROP:
        return ("inh2o" if finite.size and float(np.abs(finite).max()) < 5.0 else "pa"), True
    return {
        Quantity.PRESSURE_DIFFERENCE: ("pa", True),
        Quantity.FAN_FLOW: ("m3/h", True),
        Quantity.WIND_SPEED: ("m/s", True),
        Quantity.FAN_CURRENT: ("a", False),
        Quantity.FAN_POWER: ("w", False),
        Quantity.VOC: ("index", False),
    }.get(quantity, ("ug/m3", False) if quantity in _MASS else ("1/l", True) if quantity in _COUNTS else ("-", False))


def _likely_gas_unit(quantity: Quantity, middle: float) -> tuple[str, bool]:
    if quantity is Quantity.CO2:
        return ("mol/mol", True) if 0.0 < middle < 0.02 else ("ppm", False)
    if quantity is Quantity.NO2:
        return ("ppb" if middle > 1.0 else "ppm"), True
    return "ppm", False
