"""What a year of supply or make-up air costs to warm, cool, dry and move."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from airtally.arrays import Floats
from airtally.errors import InputError
from airtally.estimates import Estimate, Missing
from airtally.network.spread import default, spread
from airtally.physics.air.moist import air_density, humidity_ratio
from airtally.physics.constants import HEAT_CAPACITY, STANDARD_PRESSURE
from airtally.physics.fans.power import fan_power
from airtally.physics.guards import require_fraction

EVAPORATION_HEAT = 2.45e6
"""Heat that a kilogram of vapour gives up on a coil near room temperature. [J/kg]; from memory"""
YEAR = 365.0 * 86400.0
"""A year of degree-days and typical-year weather. [s]"""
DEGREE_DAY_BASE = 291.483
"""65 degF, to which degree-days are printed: above it a house warms itself. [K]; common practice, no source"""
NEW_AIR_SHARE = default(
    0.75,
    0.5,
    1.0,
    "-",
    "half the fan keeps out as much air by itself as it brings, to none (Palmiter and Bond, from memory)",
)
"""Outdoor air that a supply fan adds over its own flow: what it brings keeps part of the infiltration out. [-]"""
FILTER_FAN_PRESSURE = default(150.0, 75.0, 300.0, "Pa", "filter, duct and grille of a supply fan: judgement")
FILTER_FAN_EFFICIENCY = default(0.25, 0.10, 0.45, "-", "small fan with its motor: judgement")
COOLING_PERFORMANCE = default(3.0, 2.0, 4.0, "-", "cooling delivered over electricity: judgement")
COOLING_LIMIT = 297.0
"""Outdoor temperature above which a house is taken as being cooled. [K]; judgement"""


@dataclass(frozen=True, slots=True, kw_only=True)
class HourlyWeather:
    """A year of weather.

    Attributes
    ----------
    outdoor_temperature : array
        Absolute, one an interval. [K]
    relative_humidity : array or None
        Same length; without it moisture is not computed. [-]
    interval : float
        Length of one interval. [s]
    site_pressure : float
        Absolute. [Pa]
    source : str
        Station and kind of year.
    """

    outdoor_temperature: Floats
    relative_humidity: Floats | None = None
    interval: float = 3600.0
    site_pressure: float = STANDARD_PRESSURE
    source: str = "hourly weather"


@dataclass(frozen=True, slots=True, kw_only=True)
class DegreeDays:
    """A year in two sums. ``heating`` and ``cooling`` [K s] to their base, ``hours_heating`` the time below it [s]."""

    heating: Estimate
    cooling: Estimate | None = None
    hours_heating: Estimate | None = None
    """Time during which heat is wanted: the house holds more than the base. [s]"""
    base: float = DEGREE_DAY_BASE
    site_pressure: float = STANDARD_PRESSURE
    source: str = "degree-days"


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What energy costs, by the caller, in one currency. ``heat`` delivered to the air, ``electricity`` [currency/J].

    ``cooling_performance`` is cold delivered over electricity [-].
    """

    heat: Estimate
    electricity: Estimate
    currency: str
    cooling_performance: Estimate = COOLING_PERFORMANCE


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditioningCost:
    """What a year of supply air takes.

    Attributes
    ----------
    flow : Estimate
        While it runs. [m3/s]
    heat_power : Estimate
        At the design temperature asked for; Missing if none was. [W]
    heating, cooling : Estimate or Missing
        Sensible heat added and taken off in a year. [J]
    moisture : Estimate or Missing
        Water that the air brings in the cooling season over what the house is held at. [kg]
    drying : Estimate or Missing
        Heat to take that water out. [J]
    fan_power, fan_energy : Estimate
        Of the supply fan with its filter [W], and in a year [J].
    cost : Estimate or Missing
        In ``currency`` a year; Missing without prices or where a part is missing.
    currency : str
        Empty without prices.
    said : tuple of str
        What belongs beside the numbers.
    """

    flow: Estimate
    heat_power: Estimate | Missing
    heating: Estimate | Missing
    cooling: Estimate | Missing
    moisture: Estimate | Missing
    drying: Estimate | Missing
    fan_power: Estimate
    fan_energy: Estimate
    cost: Estimate | Missing
    currency: str
    said: tuple[str, ...]


def degree_seconds(weather: HourlyWeather, base: float = DEGREE_DAY_BASE) -> tuple[float, float]:
    """Return heating and cooling sums of a year to a base. [K s], divide by 86400 for degree-days in kelvin.

    Notes
    -----
    Sums of the hours, not of daily means: a few percent above the printed degree-days of a mild climate.
    """
    step = np.asarray(weather.outdoor_temperature) - base
    return float(-np.minimum(step, 0.0).sum() * weather.interval), float(np.maximum(step, 0.0).sum() * weather.interval)


HEATED_BELOW = default(289.0, 286.0, 292.0, "K", "outdoor temperature below which the house calls for heat: judgement")
"""Below it every kelvin between house and outdoor air is paid for; the sun and people carry the house above it. [K]"""
INDOOR_HUMIDITY = default(0.50, 0.45, 0.60, "-", "humidity at which the house is held in the cooling season: judgement")


def conditioning_cost(
    flow: Estimate,
    weather: HourlyWeather | DegreeDays,
    indoor_temperature: Estimate,
    *,
    cooled_to: Estimate | None = None,
    design_temperature: float | None = None,
    run_share: Estimate | None = None,
    recovery: Estimate | None = None,
    new_air_share: Estimate = NEW_AIR_SHARE,
    heated_below: Estimate = HEATED_BELOW,
    indoor_humidity: Estimate = INDOOR_HUMIDITY,
    power: Estimate | None = None,
    prices: Prices | None = None,
) -> ConditioningCost:
    """Return what a year of supply or make-up air takes in heat, cold, water and fan.

    Parameters
    ----------
    flow : Estimate
        While it runs. [m3/s]
    weather
        Hours of a typical year, or its degree-days.
    indoor_temperature : Estimate
        Held while heating. [K]
    cooled_to : Estimate, optional
        Held while cooling; None for a house that is not cooled. [K]
    design_temperature : float, optional
        Outdoor temperature at which the heat power is wanted. [K]
    run_share : Estimate, optional
        Share of the time it runs; always by default. A make-up fan runs as long as its exhaust. [-]
    recovery : Estimate, optional
        Share of the heat taken back from exhaust air; none by default. [-]
    new_air_share : Estimate
        See :data:`NEW_AIR_SHARE`. [-]
    heated_below : Estimate
        With hourly weather: outdoor temperature below which heat is called for. [K]
    indoor_humidity : Estimate
        Held while cooling. [-]
    power : Estimate, optional
        Of the fan with its filter as measured; else from a usual pressure and efficiency. [W]
    prices : Prices, optional
        By the caller.

    Raises
    ------
    InputError
        If temperature and humidity differ in length.
    """
    always = default(1.0, 1.0, 1.0, "-", "runs always")
    none = default(0.0, 0.0, 0.0, "-", "no heat recovery")
    share, taken_back = run_share or always, recovery or none
    air = (flow, share, taken_back, new_air_share)
    parts = _Year(weather=weather, heated_below=heated_below)
    heating = _at_least_nothing(parts.heating(air, indoor_temperature))
    cooling = _at_least_nothing(parts.cooling(air, cooled_to))
    moisture = parts.moisture(flow, share, new_air_share, cooled_to, indoor_humidity)
    drying: Estimate | Missing = Missing.UNKNOWN
    if isinstance(moisture, Estimate):
        drying = spread(lambda water: water * EVAPORATION_HEAT, moisture, unit="J", source=moisture.source)
    fan = power or spread(
        lambda q, rise, efficiency: float(fan_power(q, rise, efficiency)), flow, FILTER_FAN_PRESSURE,
        FILTER_FAN_EFFICIENCY, unit="W", source=f"{FILTER_FAN_PRESSURE.source}; {FILTER_FAN_EFFICIENCY.source}",
    )  # fmt: skip
    fan = _at_least_nothing(fan)
    energy = _at_least_nothing(
        spread(lambda watts, part: watts * part * YEAR, fan, share, unit="J", source=f"fan over a year: {fan.source}")
    )
    cost = _cost(heating, cooling, drying, energy, prices, is_cooled=cooled_to is not None)
    return ConditioningCost(
        flow=flow, heat_power=_heat_power(flow, indoor_temperature, taken_back, new_air_share, design_temperature, weather),
        heating=heating, cooling=cooling, moisture=moisture, drying=drying, fan_power=fan, fan_energy=energy, cost=_at_least_nothing(cost),
        currency=prices.currency if prices is not None else "",
        said=_said(moisture, cooled_to is not None, taken_back),
    )  # fmt: skip


Amount = TypeVar("Amount", Estimate, Estimate | Missing)


def _at_least_nothing(one: Amount) -> Amount:
    """Return a heat, power or price whose interval stops at nothing: doubts in quadrature may reach below it."""
    if isinstance(one, Estimate) and one.low < 0.0 <= one.value:
        return replace(one, low=0.0)
    return one


@dataclass(frozen=True, slots=True, kw_only=True)
class _Year:
    """Sums over a year of weather of one or the other form."""

    weather: HourlyWeather | DegreeDays
    heated_below: Estimate

    def heating(self, air: tuple[Estimate, ...], indoor: Estimate) -> Estimate:
        """Return the heat a year of outdoor air takes. [J]"""
        weather = self.weather
        if isinstance(weather, DegreeDays):
            # degree-days go to a base below the house: over the heating time the difference to the house comes on top
            season = weather.hours_heating or default(
                0.55 * YEAR, 0.4 * YEAR, 0.75 * YEAR, "s", "length of the heating season not given: judgement"
            )
            return spread(
                lambda q, on, back, new, sum_, inside, time: _sensible(
                    q * on * new, inside, weather.site_pressure, sum_ + max(inside - weather.base, 0.0) * time
                ) * (1.0 - back),
                *air, weather.heating, indoor, season, unit="J", source=f"{weather.source}, base {weather.base:.1f} K",
            )  # fmt: skip
        outside = np.asarray(weather.outdoor_temperature, dtype=float)

        def heat(q: float, on: float, back: float, new: float, inside: float, below: float) -> float:
            step = np.where(outside < below, np.maximum(inside - outside, 0.0), 0.0)
            return _sensible(q * on * new, inside, weather.site_pressure, float(step.sum()) * weather.interval) * (
                1.0 - back
            )

        return spread(heat, *air, indoor, self.heated_below, unit="J", source=weather.source)

    def cooling(self, air: tuple[Estimate, ...], cooled_to: Estimate | None) -> Estimate | Missing:
        """Return the sensible heat to be taken off in a year. [J]"""
        weather = self.weather
        if cooled_to is None:
            return default(0.0, 0.0, 0.0, "J", "the house is not cooled")
        if isinstance(weather, DegreeDays):
            if weather.cooling is None:
                return Missing.UNKNOWN
            return spread(
                lambda q, on, back, new, sum_, inside: _sensible(q * on * new, inside, weather.site_pressure, sum_)
                * (1.0 - back),
                *air, weather.cooling, cooled_to, unit="J",
                source=f"{weather.source}, base {weather.base:.1f} K: an upper figure, the base lies below the house",
            )  # fmt: skip
        outside = np.asarray(weather.outdoor_temperature, dtype=float)

        def cold(q: float, on: float, back: float, new: float, inside: float) -> float:
            step = float(np.maximum(outside - inside, 0.0).sum()) * weather.interval
            return _sensible(q * on * new, inside, weather.site_pressure, step) * (1.0 - back)

        return spread(cold, *air, cooled_to, unit="J", source=weather.source)

    def moisture(
        self, flow: Estimate, share: Estimate, new_air_share: Estimate, cooled_to: Estimate | None, humidity: Estimate
    ) -> Estimate | Missing:
        """Return the water above the house's own that comes in while the house is cooled. [kg]"""
        weather = self.weather
        if cooled_to is None:
            return default(0.0, 0.0, 0.0, "kg", "the house is not cooled")
        if isinstance(weather, DegreeDays) or weather.relative_humidity is None:
            return Missing.UNKNOWN
        outside = np.asarray(weather.outdoor_temperature, dtype=float)
        wet = np.asarray(weather.relative_humidity, dtype=float)
        if outside.shape != wet.shape:
            raise InputError(f"temperature and humidity must be of one length; given {outside.size} and {wet.size}")
        require_fraction(relative_humidity=wet)
        outdoor_ratio = np.asarray(humidity_ratio(outside, wet, weather.site_pressure))

        def water(q: float, on: float, new: float, inside: float, damp: float) -> float:
            held = float(humidity_ratio(inside, damp, weather.site_pressure))
            over = np.where(outside > min(inside, COOLING_LIMIT), np.maximum(outdoor_ratio - held, 0.0), 0.0)
            mass = q * on * new * float(air_density(inside, 0.0, weather.site_pressure))
            return mass * float(over.sum()) * weather.interval

        return spread(
            water, flow, share, new_air_share, cooled_to, humidity, unit="kg",
            source=f"{weather.source}; hours above {COOLING_LIMIT - 273.15:.0f} degC",
        )  # fmt: skip


def _sensible(flow: float, inside: float, site_pressure: float, degree_time: float) -> float:
    """Return heat of a flow, counted at the density of the house, over a sum of temperature differences. [J]"""
    return flow * float(air_density(inside, 0.0, site_pressure)) * HEAT_CAPACITY * degree_time


def _heat_power(
    flow: Estimate,
    indoor: Estimate,
    recovery: Estimate,
    new_air_share: Estimate,
    design_temperature: float | None,
    weather: HourlyWeather | DegreeDays,
) -> Estimate | Missing:
    if design_temperature is None:
        return Missing.UNKNOWN
    outside = design_temperature
    return spread(
        lambda q, inside, back, new: _sensible(q * new, inside, weather.site_pressure, max(inside - outside, 0.0))
        * (1.0 - back),
        flow, indoor, recovery, new_air_share, unit="W", source=f"at {outside - 273.15:.0f} degC outdoors",
    )  # fmt: skip


def _cost(
    heating: Estimate | Missing,
    cooling: Estimate | Missing,
    drying: Estimate | Missing,
    fan: Estimate,
    prices: Prices | None,
    *,
    is_cooled: bool,
) -> Estimate | Missing:
    if prices is None:
        return Missing.UNKNOWN
    if isinstance(heating, Missing) or (is_cooled and isinstance(cooling, Missing)):
        return Missing.UNKNOWN
    cold = cooling if isinstance(cooling, Estimate) else default(0.0, 0.0, 0.0, "J", "not cooled")
    wet = drying if isinstance(drying, Estimate) else default(0.0, 0.0, 0.0, "J", "moisture not computed")
    unknown = ", drying of the air not in it" if is_cooled and isinstance(drying, Missing) else ""
    return spread(
        lambda heat, cool, dry, turn, warm_price, power_price, performance: heat * warm_price
        + ((cool + dry) / performance + turn) * power_price,
        heating, cold, wet, fan, prices.heat, prices.electricity, prices.cooling_performance, unit=prices.currency,
        source=f"a year at the prices given{unknown}",
    )  # fmt: skip


def _said(moisture: Estimate | Missing, is_cooled: bool, recovery: Estimate) -> tuple[str, ...]:
    said = [
        "Supply air presses the house outward: in a very cold climate moist indoor air goes into walls and roof; keep "
        "indoor humidity low in winter or balance the flow.",
    ]
    if is_cooled and isinstance(moisture, Missing):
        said.append("What outdoor moisture adds in the cooling season is not known: no humidity was given.")
    elif is_cooled and isinstance(moisture, Estimate) and moisture.high > 0.0:
        said.append("In the cooling season the air brings water that must be taken out again; on mild humid days the "
                    "cooling does not run enough for it.")  # fmt: skip
    if recovery.high > 0.0:
        said.append("Heat is taken back only from as much exhaust air as there is supply air; then the flow is balanced "
                    "and lifts no pressure.")  # fmt: skip
    return tuple(said)
