"""Open data imported as received; figures are those of the sets' own descriptions unless said."""

from __future__ import annotations

import csv
import gzip
import io
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.open_data.open_sets import need_whole_set
from tests.readings.reading import assert_accounted, codes, in_field, sentence, times, utc

from airtally.quantities import UNITS, Quantity
from airtally.readings import Flag, Log, Source, floor_of, read_log, refresh_interval, running_spells, screen_log

EXTRACTS = Path(__file__).parent / "extracts"


def load(path: Path, **stated: object) -> Log:
    """Return an open file read and screened, its account checked."""
    log = screen_log(read_log([Source(content=path, name=path.name, placement="home", **stated)]))  # type: ignore[arg-type]
    assert_accounted(log)
    return log


@pytest.mark.open_data
def test_smoke_bedroom_holds_each_reading_for_a_quarter_of_an_hour() -> None:
    """612 rows hold 91 or fewer real readings, one about every 15 to 16 minutes; rows are newest first."""
    log = load(need_whole_set("smoke-bedroom") / "indoor_infiltration_test.csv", time_zone="America/Edmonton")
    assert log.files[0].rows == 612
    (stream,) = log.find(Quantity.PM25)
    time, value = log.series(stream)
    assert 60 <= time.size <= 91
    assert 14.0 <= refresh_interval(log, stream) / 60.0 <= 16.0
    assert "log-held-values" in codes(log)
    assert np.all(np.diff(time) > 0.0)
    assert time[-1] <= utc("2023-05-22T00:26:00-06:00")
    assert not {"log-out-of-order", "log-unit-assumed"} & codes(log)
    rows = (log.stream == log.streams.index(stream)).sum()
    assert rows == 612, "kept and set aside are all rows"
    pressure = log.stream == log.streams.index(log.find(Quantity.BAROMETRIC_PRESSURE)[0])
    assert log.kept[pressure].all(), "the pressure sensor is fresh every minute"
    assert value.max() == pytest.approx(76e-9, abs=1e-12)


@pytest.mark.open_data
def test_smoke_bedroom_filter_test_falls_from_129_to_4() -> None:
    log = load(need_whole_set("smoke-bedroom") / "indoor_filter_test.csv", time_zone="America/Edmonton")
    value = in_field(log, Quantity.PM25)
    assert value.max() >= 129.0
    assert 3.0 <= np.median(value[-20:]) <= 6.0
    assert log.counts()["held"] > 1500


@pytest.mark.open_data
def test_smoke_outdoors_has_a_byte_order_mark_an_empty_column_and_stated_channels() -> None:
    log = load(
        need_whole_set("smoke-bedroom") / "outdoor_infiltration_test.csv",
        time_zone="America/Edmonton",
        columns=(("channel_a", "pm25 ug/m3 at channel a"), ("channel_b", "pm25 ug/m3 at channel b")),
    )
    assert "byte order mark" in log.files[0].layout
    assert in_field(log, Quantity.PM25, "channel a")[:2].tolist() == [211.07, 210.91]
    assert in_field(log, Quantity.PM25, "channel b")[0] == 218.36
    assert log.kept.all()
    assert times(log)[0] == utc("2023-05-21T14:14:12-06:00"), "the end of a two-minute average"


@pytest.mark.open_data
def test_kitchens_have_a_floor_of_ten_on_which_most_minutes_sit() -> None:
    """About 62 % of the minutes of all 38 homes sit on 10 ug/m3; here are 19 of them, counted anew in the file."""
    folder = need_whole_set("kitchens-cooking")
    with gzip.open(folder / "homes_01-19.csv.gz", "rt") as handle:
        minutes = [row["pm_mean"] for row in csv.DictReader(handle) if row["pm_mean"]]
    share = sum(minute == "10.0" for minute in minutes) / len(minutes)
    assert_allclose(share, 0.62, atol=0.06)
    log = load(
        folder / "homes_01-19.csv.gz",
        time_zone="America/Guayaquil",
        columns=(("hhid", "device"), ("pm_mean", "pm25 ug/m3"), ("cook_lpg", "cooking_state")),
    )
    streams = log.find(Quantity.PM25)
    assert len(streams) == 19
    floors = [floor_of(log, stream) for stream in streams]
    sizes = np.array([log.series(stream)[0].size for stream in streams])
    shares = np.array([0.0 if floor is None else floor.share for floor in floors])
    assert all(floor is None or floor.value == pytest.approx(10e-9) for floor in floors)
    assert_allclose(float(np.sum(shares * sizes) / sizes.sum()), share, atol=0.003)
    assert "log-floor" in codes(log)
    assert log.counts()["stuck"] == 0, "a floor is no stuck channel"


@pytest.mark.parametrize("path", ["whole", "extract"])
def test_thermostat_cycles_with_their_dirt(path: str) -> None:
    """3 repeated headers, one empty end of minus 22.6 million minutes, one overlap; the minutes are the file's own."""
    file = EXTRACTS / "cycles.csv" if path == "extract" else need_whole_set("thermostat-cycles") / "cycles_A.csv"
    log = load(file, time_zone="America/New_York")
    text = file.read_text()
    rows = [row for row in csv.reader(io.StringIO(text)) if row and row[0] != "ThermostatId"]
    assert log.files[0].rows == len(rows)
    if path == "whole":
        assert len(rows) == 10580
        assert sum(row[1] == "Cool" for row in rows) == 9433
        assert "again 3 times" in sentence(log, "log-header-repeated")
        assert log.files[0].blank_lines == 3
    assert log.counts()["impossible"] == 2, "the overlap: it ends before it starts"
    empty_end = next(i for i, line in enumerate(text.splitlines(), 1) if "-22626905.95" in line)
    assert f"line {empty_end}:" in sentence(log, "log-event-without-end")
    minutes: dict[tuple[str, str], float] = {}
    for thermostat, kind, _, _, lasted, *_ in rows:
        if float(lasted) > 0.0:
            key = (kind, thermostat)
            minutes[key] = minutes.get(key, 0.0) + float(lasted)
    ran = {
        stream: float(np.sum(np.where(log.series(stream)[1] > 0.5, -1.0, 1.0) * log.series(stream)[0])) / 60.0
        for stream in log.streams
    }
    # one heating cycle runs through the night the clocks go back: the file counts it as minus 33 minutes
    minutes[("Heat", "1")] += 27.0
    assert_allclose(sorted(ran.values()), sorted(minutes.values()), atol=0.01 * 400)


@pytest.mark.open_data
def test_thermostat_temperatures_without_unit_are_fahrenheit() -> None:
    log = load(need_whole_set("thermostat-cycles") / "outside_A.csv", time_zone="America/Chicago")
    assert "fit degf" in sentence(log, "log-unit-assumed")
    assert log.value.max() < 320.0


@pytest.mark.open_data
def test_offices_are_a_packed_table_with_several_sources() -> None:
    """37,613 rows; the desk meter's minimum is 236 ppm, the building's sensor drops to 0 at times; stamps are +0200."""
    log = load(need_whole_set("offices-co2-valve") / "917810_raw_properties.zip")
    assert log.files[0].rows == 37613
    assert "log-device-changed" in codes(log)
    lowest = {
        stream.placement: in_field(log, Quantity.CO2, stream.placement).min() for stream in log.find(Quantity.CO2)
    }
    assert lowest["home~2"] == 236.0
    assert lowest["home"] > 150.0
    assert any(p.code == "log-impossible" and "co2" in p.where and "as 0 ppm" in p.found for p in log.problems)
    assert np.nanmin(log.time) >= utc("2022-10-10T00:00:00+02:00") - 1800.0
    assert np.nanmax(log.value[log.stream == log.streams.index(log.find(Quantity.VALVE_FRACTION)[0])]) == 0.99


@pytest.mark.open_data
def test_furnace_gas_pulses_make_327_firings() -> None:
    """4,866 pulses; about 327 firings by the rule of 15 minutes."""
    log = load(
        need_whole_set("furnace-gas-minutes") / "NaturalGas_FRG-4.csv", columns=(("counter", "burner_state counter"),)
    )
    time, state = log.series(log.find(Quantity.BURNER_STATE)[0])
    assert int(state.sum()) == 4866
    assert running_spells(time, state, 900.0)[0].size == 327
    assert time[0] == 1351263420.0


@pytest.mark.open_data
def test_a_typical_year_has_8760_hours_and_its_published_extremes() -> None:
    """Dry bulb -10.6 to 19.4, mean 4.4 degC; wind mean 5.1, most 23.7 m/s; pressure constant at 1012 mbar."""
    log = load(need_whole_set("weather-tmy") / "703165TY.csv", time_zone="UTC-9")
    temperature, wind = in_field(log, Quantity.TEMPERATURE), in_field(log, Quantity.WIND_SPEED)
    assert temperature.size == 8760
    assert_allclose([temperature.min(), temperature.max(), temperature.mean()], [-10.6, 19.4, 4.4], atol=0.05)
    assert_allclose([wind.mean(), wind.max()], [5.1, 23.7], atol=0.05)
    assert log.counts()["stuck"] == 8759


def test_the_first_two_days_of_a_typical_year_end_at_hour_24() -> None:
    log = load(EXTRACTS / "typical_year.csv", time_zone="UTC-9")
    assert log.files[0].rows == 48
    assert log.files[0].heading_lines == 2
    at = np.array(times(log, Quantity.TEMPERATURE))
    assert np.all(np.diff(at) == 3600.0)
    assert at[0] == utc("1997-01-01T00:30:00-09:00"), "an hourly value stamped at its end"
    assert in_field(log, Quantity.TEMPERATURE)[[0, 23]].tolist() == [4.0, 4.0]


@pytest.mark.open_data
@pytest.mark.parametrize(
    ("file", "monitors", "hours", "missing", "most"),
    [
        ("Carmel_Valley_pm25_converted.csv", 1, 576, 0.016, 390.0),
        ("Camp_Fire_pm25_converted.csv", 134, 360, 0.107, 1847.0),
    ],
)
def test_public_monitors_side_by_side_are_declared(
    file: str, monitors: int, hours: int, missing: float, most: float
) -> None:
    path = need_whole_set("outdoor-wildfire-hourly") / file
    names = path.read_text().splitlines()[0].split(",")[1:]
    log = load(path, columns=tuple((name, f"pm25 ug/m3 at {name}") for name in names))
    assert len(log.streams) == monitors
    assert log.files[0].rows == hours
    assert_allclose(log.files[0].empty / log.files[0].slots, missing, atol=0.0006)
    assert float(np.nanmax(log.value)) / UNITS[Quantity.PM25].factor == pytest.approx(most, abs=0.5)
    assert np.all(np.mod(log.time, 3600.0) == 1800.0), "stamped at the end of a UTC hour"


@pytest.mark.open_data
def test_chamber_runs_have_the_rows_and_peaks_of_their_manifest() -> None:
    """Rows, PM2.5 maximum and duration of every tenth of 158 runs, against MANIFEST.csv."""
    folder = need_whole_set("chamber-decay")
    with (folder / "MANIFEST.csv").open(newline="") as handle:
        manifest = list(csv.DictReader(handle))
    assert len(manifest) == 158
    for entry in manifest[::10]:
        log = read_log([Source(content=folder / entry["file"], name=entry["file"], placement="tent", begins=0.0)])
        assert_accounted(log)
        assert log.files[0].rows == int(entry["rows"]), entry["file"]
        time, value = log.series(log.find(Quantity.PM25)[0])
        assert_allclose(value.max() / 1e-9, float(entry["pm25_max_ugm3"]), atol=0.51)
        assert_allclose(time[-1] - time[0], float(entry["duration_s"]), atol=1.0)


@pytest.mark.open_data
def test_chamber_sensors_that_clip_are_railed() -> None:
    """Sensor 2 clips at 999.9 ug/m3; sensor 1 counts to 65535."""
    folder = need_whole_set("chamber-decay")
    clipped = load(folder / "sensor2_saltmesh_20220805a-cleanerA-max-ACon.csv", begins=0.0)
    number = clipped.streams.index(clipped.find(Quantity.PM25)[0])
    top = (clipped.stream == number) & (clipped.value > 999.85e-9)
    assert top.sum() > 400
    assert np.all(clipped.flag[top] == Flag.RAILED)
    counted = load(folder / "sensor1_saltjet_20220623-nodevice.csv", begins=0.0)
    assert "516 readings lie flat at 6.554e+04 1/L" in sentence(counted, "log-railed")
