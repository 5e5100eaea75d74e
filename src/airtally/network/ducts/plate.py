"""What the plates of furnace and outdoor unit say, and airflow figures held against them and against the trade's band."""

from __future__ import annotations

from dataclasses import dataclass

from airtally.estimates import Basis, Estimate
from airtally.house.parts import ApplianceKind, House
from airtally.network.home.from_survey import newest, present
from airtally.network.spread import default
from airtally.visits.parts import Visit

_CFM_PER_TON = 1.341960e-7
"""One cubic foot a minute over a ton of cooling, 0.3048^3/60 m3/s over 3516.853 W. [m3/J]"""
COOLING_BAND = default(
    400.0 * _CFM_PER_TON,
    350.0 * _CFM_PER_TON,
    450.0 * _CFM_PER_TON,
    "m3/J",
    "350 to 400 cfm a ton are nominal and 400 to 450 called best on a contractor page, read (CaliforniaFan)",
)
"""Airflow over cooling capacity that the trade aims at, 350 to 450 cfm a ton."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """What the furnace and the outdoor unit say. Heat output [W], rises [K], capacity [W], static [Pa]; None if not read."""

    heat_output: Estimate | None = None
    lowest_rise: Estimate | None = None
    highest_rise: Estimate | None = None
    cooling_capacity: Estimate | None = None
    rated_static: Estimate | None = None


def plate_of(house: House, visits: tuple[Visit, ...], time: float) -> Plate:
    """Return what the plates say at a time [s, POSIX UTC]: as read on a visit, else as surveyed."""
    outputs = (one.output for one in present(house.appliances, time) if one.kind is ApplianceKind.FURNACE)
    handler = house.air_handler
    surveyed = handler.rated_static if handler is not None else None

    def read(key: str) -> Estimate | None:
        reading = newest(visits, key, time=time)
        return None if reading is None else reading.estimate

    return Plate(
        heat_output=read("heat_output") or next((one for one in outputs if one is not None), None),
        lowest_rise=read("plate_rise_low"),
        highest_rise=read("plate_rise_high"),
        cooling_capacity=read("cooling_capacity") or (handler.cooling_capacity if handler is not None else None),
        rated_static=read("rated_static") or (surveyed if surveyed and surveyed.basis is not Basis.DEFAULT else None),
    )


def against_plate(rise: Estimate, plate: Plate) -> str:
    """Return how a heat rise [K] stands to the plate's range: within, above, below, not to be told, or plate not read."""
    if plate.lowest_rise is None or plate.highest_rise is None:
        return "plate not read"
    return _against(rise, plate.lowest_rise.value, plate.highest_rise.value, "the plate")


def against_band(flow_per_capacity: Estimate) -> str:
    """Return how an airflow over cooling capacity [m3/J] stands to the trade's band, :data:`COOLING_BAND`."""
    return _against(flow_per_capacity, COOLING_BAND.low, COOLING_BAND.high, "the trade's band")


def _against(figure: Estimate, low: float, high: float, range_words: str) -> str:
    if figure.low > high:
        return f"above {range_words}"
    if figure.high < low:
        return f"below {range_words}"
    if low <= figure.low and figure.high <= high:
        return f"within {range_words}"
    return "cannot be told"
