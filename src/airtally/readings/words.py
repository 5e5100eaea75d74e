"""Header words in several languages: which quantity, which column of time, which role."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from airtally.quantities import Quantity
from airtally.readings.measures import UNIT_SPELLINGS, flat_unit

_SIZE = r"(0[. ]3|0[. ]5|1(?:[. ]0)?|2[. ]5|5(?:[. ]0)?|10(?:[. ]0)?)"
_COUNTS = {
    "0.3": Quantity.COUNT_03,
    "0.5": Quantity.COUNT_05,
    "1": Quantity.COUNT_1,
    "2.5": Quantity.COUNT_25,
    "5": Quantity.COUNT_5,
    "10": Quantity.COUNT_10,
}
_COUNT_WORD = re.compile(
    rf"[>≥] ?{_SIZE}(?![\d.])|\b(?:counts?|particles?|cnt|pcs|partikel|part[ií]culas|number)\b.*?(?<![\d.]){_SIZE}(?![\d.])"
    rf"|(?<![\d.a-z]){_SIZE} ?(?:um|microns?)\b|(?<![a-z])pm ?(0[. ]3|0[. ]5)(?!\d)"
)
_PATTERNS: tuple[tuple[Quantity, str], ...] = (
    (Quantity.PM25, r"(?<![a-z])m?pm ?2[. ]?5(?!\d)"),
    (Quantity.PM10, r"(?<![a-z])m?pm ?10(?:[. ]0)?(?!\d)"),
    (Quantity.PM1, r"(?<![a-z])m?pm ?1(?:[. ]0)?(?!\d|[. ]\d)"),
    (Quantity.CO2, r"\be?co ?2(?!\d)|carbon dioxide|kohlendioxid|di[oó]xido de carbono|dioxyde de carbone|anidride"),
    (Quantity.NO2, r"\bno ?2(?!\d)|nitrogen dioxide|stickstoffdioxid"),
    (Quantity.CO, r"\bco\b|carbon monoxide|kohlenmonoxid|mon[oó]xido de carbono|monoxyde de carbone"),
    (Quantity.VOC, r"\bt?vocs?\b|\bcov\b|volatile|fl[uü]chtige"),
    (Quantity.FILTER_PRESSURE_DROP, r"filter.*(?:drop|dp|pressure|static|delta)|filterdruck|pressure drop|filter ?dp"),
    (
        Quantity.SPILL_TEMPERATURE,
        r"(?:spill|draft hood|draught|flue|vent collar|vent pipe|diverter|abgas|rauchgas).*"
        r"(?:temp|deg ?[cf]\b|°)|temp.*(?:spill|draft hood|flue|diverter)|\bspill(?:age)?\b",
    ),
    (Quantity.FAN_CURRENT, r"\b(?:fan|blower|motor|ct|clamp|l[uü]fter|gebl[aä]se)\b.*(?:current|amps?|\ba\b|strom)"),
    (Quantity.FAN_CURRENT, r"^(?:ct|ct ?\d|clamp|amps?|current|strom|corriente|courant|intensity)\b"),
    (Quantity.FAN_POWER, r"\b(?:fan|blower|motor|l[uü]fter|gebl[aä]se)\b.*(?:power|watts?|\bk?w\b|leistung)"),
    (Quantity.FAN_FLOW, r"\b(?:fan|blower|air|handler|supply|return) ?(?:flow|airflow)|airflow|volumenstrom|\bcfm\b"),
    (Quantity.BURNER_STATE, r"\b(?:burner|flame|gas valve|heat call|call for heat|brenner|br[uû]leur|quemador)\b"),
    (Quantity.COOKING_STATE, r"\bcook(?:ing)?\b|\bkochen\b|\bcuisson\b|\bcocina"),
    (Quantity.FAN_STATE, r"\b(?:fan|blower|l[uü]fter|gebl[aä]se|ventilador|ventilateur)\b"),
    (
        Quantity.WIND_SPEED,
        r"wind ?(?:speed|spd|velocity)|\bwspd\b|windgeschwindigkeit|velocidad del viento|vitesse.*vent",
    ),
    (Quantity.VALVE_FRACTION, r"\bvalve\b|\bdamper\b|ventil\b|klappe"),
    (Quantity.WINDOW_STATE, r"\bwindow|\bfenster|\bventana|\bfen[eê]tre"),
    (Quantity.DOOR_STATE, r"\bdoor(?!.*hood)|\bt[uü]r\b|\bpuerta|\bporte\b"),
    (Quantity.OCCUPANTS, r"\boccupan|\bpeople\b|\bpersons?\b|\bpersonen\b|headcount"),
    (Quantity.RELATIVE_HUMIDITY, r"humid|\br ?\.?h\.?\b|\brhum\b|feuchte|humedad|umidit|vochtig|\bhr %"),
    (
        Quantity.TEMPERATURE,
        r"\btemp|temperat|lufttemp|dry ?bulb|\bdeg ?[cf]\b|°[cf]\b|^t$|^t [cf]$|^degrees?(?: [cfk])?$|^celsius|^fahrenheit",
    ),
    (Quantity.BAROMETRIC_PRESSURE, r"barom|atmospheric|station pressure|air pressure|luftdruck|\bbaro\b"),
    (
        Quantity.PRESSURE_DIFFERENCE,
        r"\bd ?p\b|delta p|differential|pressure diff|druckdiff|\bwrt\b|room pressure|static",
    ),
)
_COMPILED = tuple((quantity, re.compile(pattern)) for quantity, pattern in _PATTERNS)
_PRESSURE = re.compile(r"pressure|\bpress\b|\bdruck|presi[oó]n|pression")
_LOOSE = re.compile(r"\bdust\b|feinstaub|\bstaub|particulate|poussi[eè]re|polvo|fine particles|smoke density")
_NOT_A_READING = re.compile(
    r"\b(?:aqi|aqhi|score|source|uncert|uncertainty|flag|qc|quality|latitude|longitude|battery|rssi|set ?point|target"
    r"|dew|wet ?bulb|heat index|feels|max|maximum|std|sd|stdev|median|typical|error|alarm|btus?|kwh|id|cpu|board|chip"
    r"|elapsed|calibration|serial)\b|(?<!\d)(?<!\d )\bmin(?:imum)?\b"
)
_AVERAGED = re.compile(r"\b(?:avg|average|mean|rolling|smoothed|bool|p)\b|\b\d+ ?(?:h|hr|hrs|hours?|d|days?|min)\b")
_TIME = re.compile(
    r"\b(?:time|date|datetime|timestamp|times|ts|zeit|datum|uhrzeit|zeitpunkt|zeitstempel|fecha|hora|heure|horodatage"
    r"|data|ora|tijd|tijdstip|unix|epoch|elapsed|seconds|created|recorded|start|started|begin|end|ended|stop|log ?date"
    r"|hour|stunde|moment|clock)\b|datetime|timestamp|zeitstempel|unix"
)
_DEVICE = re.compile(
    r"\b(?:device|sensor|logger|serial|instrument|station|node|mac|thermostat|monitor|unit id|ger[aä]t|source"
    r"|dispositivo|appareil)\b"
)
_NAME = re.compile(
    r"^(?:quantity|parameter|param|variable|measurement|measure|property|channel|metric|name|tag|field|sensor type|type"
    r"|observed property|messgr[oö](?:ß|ss)e|kenngr[oö](?:ß|ss)e|par[aá]metro|grandeur)$"
)
_VALUE = re.compile(r"^(?:value|values|reading|result|val|data value|wert|messwert|valor|valeur|waarde)\b")
_UNIT = re.compile(r"^(?:units?|einheit|unidad|unit[eé]|eenheid)$")
_START = re.compile(r"\b(?:start|started|begin|begins|beginn|from|on|inicio|d[eé]but)\b")
_END = re.compile(r"\b(?:end|ended|ends|stop|stopped|ende|until|off|fin)\b")
_KIND = re.compile(r"\b(?:type|kind|mode|event|cycle|art|state)\b")
_STATES: tuple[tuple[Quantity, str], ...] = (
    (Quantity.BURNER_STATE, r"heat|burner|furnace|flame|boiler|heizen|calefac|chauff"),
    (Quantity.COOKING_STATE, r"cook|range|oven|stove|koch"),
    (Quantity.WINDOW_STATE, r"window|fenster|ventana|fen[eê]tre"),
    (Quantity.DOOR_STATE, r"door|t[uü]r\b|puerta|porte"),
    (Quantity.FAN_STATE, r"cool|fan|blower|circul|ventil|l[uü]ft|k[uü]hl"),
)
_WHEN = re.compile(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}|\d{1,2}:\d{2}")
_NUMBER = re.compile(r"[+-]?\d*[.,]?\d+(?:[eE][+-]?\d+)?\s*%?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """What a header word stands for, and how well."""

    quantity: Quantity
    is_loose: bool = False
    """The word does not fix the quantity (dust without a size, a pressure without a reference)."""
    is_averaged: bool = False
    """The word says that the column holds an average made afterwards."""


@lru_cache(maxsize=4096)
def plain(word: str) -> str:
    """Return a header word in normal form: small letters, one kind of micro sign, single spaces."""
    flat = unicodedata.normalize("NFKC", word[:200]).casefold().replace("μ", "u").replace("µ", "u")
    return " ".join(flat.split())


@lru_cache(maxsize=4096)
def spaced(word: str) -> str:
    """Return a header word cut at joints, brackets and inner capitals: ``StartTime`` is ``start time``."""
    cut = re.sub(r"(?<=[a-z]{2})(?=[A-Z][a-z]{2})|(?<=[a-z])(?=Id\b)", " ", word[:200])
    return " ".join(re.sub(r"[_\-/:;,()\[\]{}|#\"]+", " ", plain(cut)).split())


@lru_cache(maxsize=4096)
def quantity_word(word: str) -> Named | None:
    """Return what a header word or a name in a long table stands for, or None."""
    text = spaced(word)
    try:
        return Named(quantity=Quantity(plain(word)))
    except ValueError:
        pass
    if not text or _NOT_A_READING.search(text):
        return None
    is_averaged = bool(_AVERAGED.search(text))
    if counted := _COUNT_WORD.search(text):
        size = next(group for group in counted.groups() if group)
        return Named(quantity=_COUNTS[size.replace(" ", ".").removesuffix(".0")], is_averaged=is_averaged)
    for quantity, pattern in _COMPILED:
        if pattern.search(text):
            return Named(quantity=quantity, is_averaged=is_averaged)
    if _PRESSURE.search(text):
        quantity = _pressure_by_unit(word)
        is_loose = quantity is Quantity.PRESSURE_DIFFERENCE
        return Named(quantity=quantity, is_loose=is_loose, is_averaged=is_averaged)
    if _LOOSE.search(text):
        return Named(quantity=Quantity.PM25, is_loose=True, is_averaged=is_averaged)
    return None


def _pressure_by_unit(word: str) -> Quantity:
    """Return which pressure a bare word means: a weather unit means the air's own, else a difference."""
    unit = re.search(r"\b(?:mbar|mb|hpa|kpa|inhg|mmhg)\b", plain(word).replace("_", " "))
    return Quantity.BAROMETRIC_PRESSURE if unit else Quantity.PRESSURE_DIFFERENCE


@lru_cache(maxsize=4096)
def is_time_word(word: str) -> bool:
    """Return whether a header word may name a column of time or date."""
    text = spaced(word)
    return bool(_TIME.search(text)) and not re.search(r"response|zone|interval|duration|format", text)


def is_unit_word(word: str) -> bool:
    """Return whether a cell holds a unit and nothing else, as in a unit line beneath the header."""
    return flat_unit(word) in UNIT_SPELLINGS or flat_unit(word) in {"-", "--", "n/a", "none", "1"}


def is_device_word(word: str) -> bool:
    """Return whether a header word may name the column of the device's id."""
    return bool(_DEVICE.search(spaced(word))) and quantity_word(word) is None


def is_name_word(word: str) -> bool:
    """Return whether a header word names the column of quantities in a long table."""
    return bool(_NAME.search(spaced(word)))


def is_value_word(word: str) -> bool:
    """Return whether a header word names the column of values in a long table."""
    return bool(_VALUE.search(spaced(word)))


def is_unit_column(word: str) -> bool:
    """Return whether a header word names the column of units in a long table."""
    return bool(_UNIT.search(spaced(word)))


def is_start_word(word: str) -> bool:
    """Return whether a header word names the start of an event."""
    return bool(_START.search(spaced(word)))


def is_end_word(word: str) -> bool:
    """Return whether a header word names the end of an event."""
    return bool(_END.search(spaced(word)))


def is_kind_word(word: str) -> bool:
    """Return whether a header word names the column that says what an event was."""
    return bool(_KIND.search(spaced(word)))


@lru_cache(maxsize=1024)
def state_word(word: str) -> Quantity | None:
    """Return which state an event row switches, from its kind (``Heat``) or its header (``fan start``)."""
    text = spaced(word)
    return next((quantity for quantity, pattern in _STATES if re.search(pattern, text)), None)


def looks_like_data(cells: Sequence[str]) -> bool:
    """Return whether a record holds numbers or stamps rather than words."""
    filled = [cell.strip() for cell in cells[:400] if cell.strip()]
    if not filled:
        return False
    if any(len(cell) < 40 and _WHEN.match(cell) for cell in filled):
        return True
    numbers = sum(1 for cell in filled if len(cell) < 40 and _NUMBER.fullmatch(cell))
    return numbers >= max(1, 0.4 * len(filled))
