"""What an instrument can say: the quantities of a reading, their SI unit and the unit a page shows."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Quantity(StrEnum):
    """Name of what a stream of readings measures."""

    PM1 = "pm1"
    PM25 = "pm25"
    PM10 = "pm10"
    COUNT_03 = "count_0.3um"
    COUNT_05 = "count_0.5um"
    COUNT_1 = "count_1um"
    COUNT_25 = "count_2.5um"
    COUNT_5 = "count_5um"
    COUNT_10 = "count_10um"
    VOC = "voc"
    CO2 = "co2"
    CO = "co"
    NO2 = "no2"
    TEMPERATURE = "temperature"
    SPILL_TEMPERATURE = "spill_temperature"
    RELATIVE_HUMIDITY = "relative_humidity"
    PRESSURE_DIFFERENCE = "pressure_difference"
    FILTER_PRESSURE_DROP = "filter_pressure_drop"
    BAROMETRIC_PRESSURE = "barometric_pressure"
    FAN_STATE = "fan_state"
    FAN_CURRENT = "fan_current"
    FAN_POWER = "fan_power"
    FAN_FLOW = "fan_flow"
    BURNER_STATE = "burner_state"
    WIND_SPEED = "wind_speed"
    VALVE_FRACTION = "valve_fraction"
    WINDOW_STATE = "window_state"
    DOOR_STATE = "door_state"
    OCCUPANTS = "occupants"
    COOKING_STATE = "cooking_state"


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """SI unit inside the engine, field unit on a page, and the exact factor SI = field * factor + offset."""

    si: str
    field: str
    factor: float
    offset: float = 0.0


_STATE = Unit(si="-", field="-", factor=1.0)
_MASS = Unit(si="kg/m3", field="ug/m3", factor=1e-9)
_COUNT = Unit(si="1/m3", field="1/L", factor=1e3)
_PPM = Unit(si="mol/mol", field="ppm", factor=1e-6)
_CELSIUS = Unit(si="K", field="degC", factor=1.0, offset=273.15)
_PASCAL = Unit(si="Pa", field="Pa", factor=1.0)

UNITS: dict[Quantity, Unit] = {
    Quantity.PM1: _MASS,
    Quantity.PM25: _MASS,
    Quantity.PM10: _MASS,
    Quantity.COUNT_03: _COUNT,
    Quantity.COUNT_05: _COUNT,
    Quantity.COUNT_1: _COUNT,
    Quantity.COUNT_25: _COUNT,
    Quantity.COUNT_5: _COUNT,
    Quantity.COUNT_10: _COUNT,
    Quantity.VOC: Unit(si="-", field="index", factor=1.0),
    Quantity.CO2: _PPM,
    Quantity.CO: _PPM,
    Quantity.NO2: Unit(si="mol/mol", field="ppb", factor=1e-9),
    Quantity.TEMPERATURE: _CELSIUS,
    Quantity.SPILL_TEMPERATURE: _CELSIUS,
    Quantity.RELATIVE_HUMIDITY: Unit(si="-", field="%", factor=0.01),
    Quantity.PRESSURE_DIFFERENCE: _PASCAL,
    Quantity.FILTER_PRESSURE_DROP: Unit(si="Pa", field="inH2O", factor=249.08891),
    Quantity.BAROMETRIC_PRESSURE: Unit(si="Pa", field="hPa", factor=100.0),
    Quantity.FAN_STATE: _STATE,
    Quantity.FAN_CURRENT: Unit(si="A", field="A", factor=1.0),
    Quantity.FAN_POWER: Unit(si="W", field="W", factor=1.0),
    Quantity.FAN_FLOW: Unit(si="m3/s", field="m3/h", factor=1.0 / 3600.0),
    Quantity.BURNER_STATE: _STATE,
    Quantity.WIND_SPEED: Unit(si="m/s", field="m/s", factor=1.0),
    Quantity.VALVE_FRACTION: _STATE,
    Quantity.WINDOW_STATE: _STATE,
    Quantity.DOOR_STATE: _STATE,
    Quantity.OCCUPANTS: _STATE,
    Quantity.COOKING_STATE: _STATE,
}
"""Unit of each quantity; the inch of water is the conventional 249.08891 Pa (water at 4 degC)."""
