"""Seven loggers' tables, each shaped in its own way, and the public hourly feed."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Floats, Integers
from airtally.demo.dates import HOUR, MINUTE, generator
from airtally.demo.quirks import Quirk
from airtally.demo.simulate import World
from airtally.demo.streams import Channels, present

FILES = {
    "M1": "logs/living.csv",
    "M2": "logs/bedroom.csv",
    "M3": "logs/workshop.csv",
    "M4": "logs/in-duct.csv",
    "M5": "logs/north-eave.csv",
    "M6": "logs/utility.csv",
    "M7": "logs/blower.csv",
    "public": "logs/public-outdoor.csv",
}


def fixed(values: Floats, decimals: int, mark: str = ".") -> list[str]:
    """Return numbers as text with a fixed count of decimals; each distinct number is written once."""
    whole = np.rint(values * 10**decimals).astype(np.int64)
    distinct, place = np.unique(whole, return_inverse=True)
    words = [f"{number / 10**decimals:.{decimals}f}".replace(".", mark) for number in distinct.tolist()]
    return list(_dealt(words, place))


def iso(seconds: NDArray[np.floating[Any]], between: str = "T", after: str = "") -> list[str]:
    """Return ISO date and time of clock seconds since 1970 that fall on whole minutes."""
    days = np.floor(seconds / 86400.0).astype(np.int64)
    distinct, place = np.unique(days, return_inverse=True)
    dates = [datetime.fromtimestamp(day * 86400, UTC).strftime("%Y-%m-%d") for day in distinct.tolist()]
    minute = np.rint((seconds - days * 86400.0) / 60.0).astype(np.int64)
    clock = [f"{between}{m // 60:02d}:{m % 60:02d}:00{after}" for m in range(1440)]
    return list(_dealt(dates, place) + _dealt(clock, minute))


def _dealt(words: list[str], place: Integers) -> NDArray[np.object_]:
    """Return the word at each place. Shape (places,)."""
    return np.array(words, dtype=np.object_)[place]


def _table(head: str, columns: list[list[str]], delimiter: str = ",") -> str:
    return head + "\n" + "\n".join(map(delimiter.join, zip(*columns, strict=True))) + "\n"


def fahrenheit(celsius: Floats) -> Floats:
    """Return [degF] from [degC]."""
    return celsius * 1.8 + 32.0


def write_logs(folder: Path, world: World, streams: dict[str, Channels]) -> None:
    """Write every logger's file into ``folder/logs``."""
    (folder / "logs").mkdir(parents=True, exist_ok=True)
    writers = {"M1": _living, "M2": _bedroom, "M3": _workshop, "M5": _eave, "M6": _utility, "M7": _blower}
    for monitor, writer in writers.items():
        rows = np.flatnonzero(present(world, monitor))
        shown = {name: values[rows] for name, values in streams[monitor].items()}
        _save(folder / FILES[monitor], writer(world, world.time[rows] + MINUTE, shown))
    rows = np.flatnonzero(present(world, "M4"))
    shown = {name: values[rows] for name, values in streams["M4"].items()}
    _save(folder / FILES["M4"], _in_duct(world, world.time[rows] + MINUTE, shown))
    hours = world.dates.start + HOUR * np.arange(streams["public"]["pm25"].size)
    public = _table("hour_utc,pm25_ugm3", [iso(hours, after="Z"), fixed(streams["public"]["pm25"], 1)])
    _save(folder / FILES["public"], public)


def _save(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")


def _living(_world: World, stamp: Floats, shown: Channels) -> str:
    """Write UTC ISO stamps, commas, units in brackets."""
    return _table(
        "timestamp,PM2.5 (ug/m3),CO2 (ppm),Temperature (C),RH (%)",
        [
            iso(stamp, after="Z"),
            fixed(shown["pm25"], 1),
            fixed(shown["co2"], 0),
            fixed(shown["temperature"], 1),
            fixed(shown["humidity"], 0),
        ],
    )


def _bedroom(_world: World, stamp: Floats, shown: Channels) -> str:
    """Write semicolons, decimal commas, day first, a byte-order mark, UTC."""
    written = iso(stamp, between=" ")
    return "\ufeff" + _table(
        "Date UTC;Time UTC;PM2.5 µg/m³;VOC index;CO2 ppm;Temperature °C;Humidity %",
        [
            [f"{word[8:10]}.{word[5:7]}.{word[:4]}" for word in written],
            [word[11:] for word in written],
            fixed(shown["pm25"], 1, ","),
            fixed(shown["voc"], 0),
            fixed(shown["co2"], 0),
            fixed(shown["temperature"], 2, ","),
            fixed(shown["humidity"], 1, ","),
        ],
        ";",
    )


def _workshop(world: World, stamp: Floats, shown: Channels) -> str:
    """Write newest first, local time with its offset, degrees Fahrenheit."""
    wall = world.dates.wall_seconds(stamp)
    offset = np.rint((wall - stamp) / HOUR).astype(np.int64).tolist()
    written = [f"{word}{hours:+03d}:00" for word, hours in zip(iso(wall), offset, strict=True)]
    columns = [
        written,
        fixed(shown["pm25"], 0),
        fixed(shown["pm10"], 0),
        fixed(fahrenheit(shown["temperature"]), 1),
        fixed(shown["humidity"], 0),
    ]
    return _table("Time,PM2.5 [ug/m3],PM10 [ug/m3],Temp [F],RH [%]", [column[::-1] for column in columns])


def duct_clock(world: World, stamp: Floats) -> Floats:
    """Return what M4's clock shows: local wall time without offset. [s since 1970 of that clock]

    With the fold planted it goes back with the others and repeats an hour, then is put forward again by
    its next setting and stays an hour ahead. Without, it never leaves summer time, and the survey says so.
    """
    wall = world.dates.wall_seconds(stamp)
    summer = stamp + (wall[0] - stamp[0])
    if Quirk.CLOCK_FOLD not in world.quirks:
        return np.asarray(summer)
    back = world.dates.at(world.dates.fold_day) + 2.0 * HOUR
    return np.asarray(summer - HOUR * ((stamp >= back) & (stamp < back + HOUR)))


def _in_duct(world: World, stamp: Floats, shown: Channels) -> str:
    """Write local wall time without offset."""
    return _table(
        "Local time,PM2.5 ug/m3,VOC index,Temperature F,Humidity %",
        [
            [word[:16] for word in iso(duct_clock(world, stamp), between=" ")],
            fixed(shown["pm25"], 1),
            fixed(shown["voc"], 0),
            fixed(fahrenheit(shown["temperature"]), 1),
            fixed(shown["humidity"], 0),
        ],
    )


def _eave(world: World, stamp: Floats, shown: Channels) -> str:
    """Write lines about the logger above the table; some rows come twice, as after a reconnect."""
    columns = [
        iso(stamp, between=" "),
        fixed(shown["pm25"], 1),
        fixed(shown["temperature"], 1),
        fixed(shown["humidity"], 0),
    ]
    begin = int(generator(world.seed, "reconnect").integers(5000, 9000))
    again: Integers = np.concatenate([np.arange(begin + 12), np.arange(begin, stamp.size)])
    columns = [[column[i] for i in again.tolist()] for column in columns]
    about = "Logger,outdoor unit (invented)\nPlace,under the north eave\nClock,UTC\nInterval,60 s\n\n"
    return about + _table("Time UTC,PM2.5 ug/m3,Temp degC,RH %", columns)


def _utility(_world: World, stamp: Floats, shown: Channels) -> str:
    """Write seconds since 1970."""
    return _table(
        "unix_s,CO_ppm,spill_temperature_degC,room_pressure_wrt_outdoors_Pa",
        [
            [str(second) for second in stamp.astype(np.int64).tolist()],
            fixed(shown["co"], 0),
            fixed(shown["spill_temperature"], 1),
            fixed(shown["pressure"], 1),
        ],
    )


def _blower(_world: World, stamp: Floats, shown: Channels) -> str:
    """Write one reading a line, UTC."""
    written = iso(stamp, after="Z")
    both = zip(written, fixed(shown["fan_current"], 2), fixed(shown["filter_drop"], 3), strict=True)
    lines = [f"{word},Fan current,{amps},A\n{word},Filter drop,{drop},inH2O" for word, amps, drop in both]
    return "time,channel,value,unit\n" + "\n".join(lines) + "\n"
