"""Header words and units; the words are those of loggers of many makers, from memory."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.readings.reading import codes, in_field, read, sentence

from airtally.quantities import Quantity
from airtally.readings.columns import Stated, parse_statement
from airtally.readings.measures import assumed, unit_in_words
from airtally.readings.words import is_time_word, quantity_word

WORDS = {
    "PM2.5": Quantity.PM25,
    "pm25": Quantity.PM25,
    "PM 2.5 µg/m³": Quantity.PM25,
    "mPM2.5": Quantity.PM25,
    "pm2_5_atm": Quantity.PM25,
    "Feinstaub PM2,5": Quantity.PM25,
    "PM1, ug/m3": Quantity.PM1,
    "pm1.0": Quantity.PM1,
    "PM10": Quantity.PM10,
    "pm10.0": Quantity.PM10,
    ">0.3": Quantity.COUNT_03,
    "particles_0_5um": Quantity.COUNT_05,
    "Count >2.5 um": Quantity.COUNT_25,
    ">10": Quantity.COUNT_10,
    "CO": Quantity.CO,
    "co_ppm": Quantity.CO,
    "Carbon monoxide": Quantity.CO,
    "CO2": Quantity.CO2,
    "co2_ppm": Quantity.CO2,
    "co2__ppm": Quantity.CO2,
    "no2_ppb": Quantity.NO2,
    "TVOC": Quantity.VOC,
    "VOC index": Quantity.VOC,
    "RH": Quantity.RELATIVE_HUMIDITY,
    "R.H. (%)": Quantity.RELATIVE_HUMIDITY,
    "Luftfeuchte": Quantity.RELATIVE_HUMIDITY,
    "Humedad relativa": Quantity.RELATIVE_HUMIDITY,
    "Temp": Quantity.TEMPERATURE,
    "temp_C": Quantity.TEMPERATURE,
    "Température (°C)": Quantity.TEMPERATURE,
    "Dry-bulb (C)": Quantity.TEMPERATURE,
    "Draft hood temp (F)": Quantity.SPILL_TEMPERATURE,
    "Filter drop (in. w.c.)": Quantity.FILTER_PRESSURE_DROP,
    "Utility wrt outdoors (Pa)": Quantity.PRESSURE_DIFFERENCE,
    "Pressure, mbar": Quantity.BAROMETRIC_PRESSURE,
    "Luftdruck": Quantity.BAROMETRIC_PRESSURE,
    "Fan current (A)": Quantity.FAN_CURRENT,
    "CT 1": Quantity.FAN_CURRENT,
    "Blower power W": Quantity.FAN_POWER,
    "Fan state": Quantity.FAN_STATE,
    "burner": Quantity.BURNER_STATE,
    "Wspd (m/s)": Quantity.WIND_SPEED,
    "window_open__bool": Quantity.WINDOW_STATE,
    "door_open__bool": Quantity.DOOR_STATE,
    "valve_frac__0": Quantity.VALVE_FRACTION,
    "occupancy__p": Quantity.OCCUPANTS,
    "cook_lpg": Quantity.COOKING_STATE,
}
NOT_READINGS = [
    "Latitude",
    "score",
    "AQI",
    "Dew-point (C)",
    "battery",
    "Dry-bulb source",
    "PM2.5 max",
    "serial",
    "nPM0.5",
    "",
]


@pytest.mark.parametrize(("word", "quantity"), WORDS.items())
def test_header_words_are_recognised(word: str, quantity: Quantity) -> None:
    named = quantity_word(word)
    assert named is not None
    assert named.quantity is quantity


@pytest.mark.parametrize("word", NOT_READINGS)
def test_other_columns_are_left_alone(word: str) -> None:
    assert quantity_word(word) is None


@pytest.mark.parametrize("quantity", list(Quantity))
def test_each_quantity_is_known_by_its_own_name(quantity: Quantity) -> None:
    named = quantity_word(quantity.value)
    assert named is not None
    assert named.quantity is quantity


@pytest.mark.parametrize(
    "word", ["Date", "DateTime", "unix_ts", "Zeitstempel", "StartTime", "Uhrzeit", "fecha", "Heure", "elapsed (s)"]
)
def test_time_words_are_recognised(word: str) -> None:
    assert is_time_word(word)


@pytest.mark.parametrize(
    ("header", "quantity", "number", "si"),
    [
        ("Temp (°F)", Quantity.TEMPERATURE, 212.0, 373.15),  # boiling water, exact on both scales
        ("temp_in__degC", Quantity.TEMPERATURE, 0.0, 273.15),
        ("PM2.5 (mg/m3)", Quantity.PM25, 1.0, 1e-6),
        ("Filter drop (in. w.c.)", Quantity.FILTER_PRESSURE_DROP, 1.0, 249.08891),  # NIST SP 811, appendix B.8
        ("Baro inHg", Quantity.BAROMETRIC_PRESSURE, 29.92126, 101325.0),  # standard atmosphere, 29.921 inHg
        ("Pressure (mbar)", Quantity.BAROMETRIC_PRESSURE, 1013.25, 101325.0),
        ("RH %", Quantity.RELATIVE_HUMIDITY, 45.0, 0.45),
        ("Airflow cfm", Quantity.FAN_FLOW, 1000.0, 0.47194745),  # 0.3048**3 / 60 a cfm
        ("CO2, ppm", Quantity.CO2, 420.0, 420e-6),
        ("count_0.3um (#/cm3)", Quantity.COUNT_03, 1.0, 1e6),
        ("count_0.3um (#/ft3)", Quantity.COUNT_03, 1.0, 35.3146667),  # cubic feet in a cubic metre
        ("Wind speed (mph)", Quantity.WIND_SPEED, 10.0, 4.4704),  # exact by the mile of 1609.344 m
    ],
)
def test_units_printed_in_a_header_are_exact(header: str, quantity: Quantity, number: float, si: float) -> None:
    printed = unit_in_words(header, "", quantity)
    assert printed is not None
    assert printed[1] is not None
    assert_allclose(number * printed[1].factor + printed[1].offset, si, rtol=1e-6)


def test_a_unit_that_does_not_fit_sets_the_column_aside() -> None:
    log = read("Time,Temp (ppm)\n2025-09-01 00:01,70\n2025-09-01 00:02,71\n")
    assert 'the unit "ppm" does not fit temperature' in sentence(log, "log-unit-unknown")
    assert log.counts()["unreadable"] == 2


def test_temperatures_of_62_to_81_are_taken_for_fahrenheit_and_that_is_said() -> None:
    rows = "\n".join(f"2025-09-01 00:{i:02d},{62 + i % 20}" for i in range(60))
    log = read(f"Time,Temp\n{rows}\n")
    assert "fit degf; they were used so" in sentence(log, "log-unit-assumed")
    assert in_field(log, Quantity.TEMPERATURE).max() == pytest.approx((81.0 - 32.0) / 1.8)


@pytest.mark.parametrize(
    ("quantity", "numbers", "unit"),
    [
        (Quantity.TEMPERATURE, [19.0, 24.0], "degc"),
        (Quantity.TEMPERATURE, [292.0, 297.0], "k"),
        (Quantity.SPILL_TEMPERATURE, [70.0, 70.0, 71.0, 290.0], "degf"),
        (Quantity.RELATIVE_HUMIDITY, [0.31, 0.5], "fraction"),
        (Quantity.RELATIVE_HUMIDITY, [31.0, 50.0], "%"),
        (Quantity.BAROMETRIC_PRESSURE, [29.8, 30.1], "inhg"),
        (Quantity.BAROMETRIC_PRESSURE, [100900.0], "pa"),
        (Quantity.FILTER_PRESSURE_DROP, [0.15, 0.41], "inh2o"),
        (Quantity.FILTER_PRESSURE_DROP, [37.0, 102.0], "pa"),
    ],
)
def test_the_unit_that_fits_the_values_is_assumed(quantity: Quantity, numbers: list[float], unit: str) -> None:
    assert assumed(quantity, np.array(numbers)).unit == unit


def test_units_behind_the_numbers_are_read() -> None:
    log = read("Time,Temp,RH\n2025-09-01 00:01,70.5 °F,45%\n2025-09-01 00:02,71.6 °F,46 %\n")
    assert_allclose(in_field(log, Quantity.TEMPERATURE), [(70.5 - 32) / 1.8, 22.0], rtol=1e-9)
    assert in_field(log, Quantity.RELATIVE_HUMIDITY).tolist() == [45.0, 46.0]


def test_dust_without_a_size_is_read_as_pm25_and_that_is_said() -> None:
    log = read("Time,Dust (ug/m3)\n2025-09-01 00:01,5\n2025-09-01 00:02,6\n")
    assert in_field(log, Quantity.PM25).tolist() == [5.0, 6.0]
    assert "log-quantity-assumed" in codes(log)


def test_what_the_survey_states_goes_before_the_words() -> None:
    log = read(
        "Time,dust,x,Temp\n2025-09-01 00:01,5,1,70\n2025-09-01 00:02,6,2,70\n",
        columns=(("dust", "pm10 mg/m3"), ("x", "pm25 ug/m3 at garden"), ("Temp", "ignore")),
    )
    assert in_field(log, Quantity.PM10).tolist() == [5000.0, 6000.0]
    assert in_field(log, Quantity.PM25, "garden").tolist() == [1.0, 2.0]
    assert not log.find(Quantity.TEMPERATURE)


def test_statements_are_parsed_or_refused() -> None:
    assert parse_statement("pm25 ug/m3 at garden") == Stated(quantity=Quantity.PM25, unit="ug/m3", placement="garden")
    assert parse_statement("count_0.3um") == Stated(quantity=Quantity.COUNT_03, unit="", placement="")
    assert parse_statement("Time") == "time"
    assert parse_statement("pm25 furlongs") is None
    assert parse_statement("sweetness") is None


def test_wrong_statements_are_problems() -> None:
    log = read(
        "Time,dust\n2025-09-01 00:01,5\n2025-09-01 00:02,6\n",
        columns=(("dust", "pm25 furlongs"), ("gone", "co2 ppm")),
    )
    assert "a unit of pm25: ug/m3" in sentence(log, "log-column-statement")
    assert 'no column is called "gone"' in sentence(log, "log-column-not-found")


def test_of_two_columns_for_one_quantity_the_plainer_is_used() -> None:
    text = "Time,PM2.5 (avg 3h) ug/m3,PM2.5 ug/m3\n2025-09-01 00:01,50,5\n2025-09-01 00:02,60,6\n"
    assert in_field(read(text), Quantity.PM25).tolist() == [5.0, 6.0]
    twin = read(text.replace("(avg 3h)", "channel"))
    assert "are both pm25; the first was used" in sentence(twin, "log-columns-clash")


def test_a_limit_is_read_as_the_limit_and_said() -> None:
    log = read("Time,PM2.5 (ug/m3)\n2025-09-01 00:01,<10\n2025-09-01 00:02,12\n")
    assert in_field(log, Quantity.PM25).tolist() == [10.0, 12.0]
    assert "log-cell-censored" in codes(log)


def test_renaming_file_and_placement_changes_no_reading() -> None:
    text = "Time,PM2.5 (ug/m3)\n2025-09-01 00:01,5\n2025-09-01 00:02,6\n"
    one, other = read(text), read(text, name="ZZ.txt", placement="Raum 7")
    assert one.value.tolist() == other.value.tolist()
    assert one.time.tolist() == other.time.tolist()
    assert one.flag.tolist() == other.flag.tolist()


@pytest.mark.parametrize("cell", ["1_000", "٣", "41O", "4l", "nan nan", "0x1F", "1e999", "--5", "1.2.3", "5 furlongs"])
def test_what_only_looks_like_a_number_is_set_aside(cell: str) -> None:
    log = read(f"Time,PM2.5 (ug/m3)\n2025-09-01 00:01,{cell}\n2025-09-01 00:02,6\n")
    assert log.counts()["unreadable"] == 1
    assert in_field(log, Quantity.PM25).tolist() == [6.0]
