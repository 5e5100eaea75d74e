"""Where the open data sets are, and tiny readers of their files for the tests.

A set is looked for under ``AIRTALLY_OPEN_DATA``, then beside the repository in ``../shared/data``, then in
the extracts that travel with the tests. What is found nowhere is skipped with the reason.
"""

from __future__ import annotations

import csv
import gzip
import io
import os
import zipfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

HERE = Path(__file__).resolve().parent
EXTRACTS = HERE / "extracts"
JOBS = HERE / "jobs"
"""Job folders; their logs are extracts that may travel."""
NATURAL_TRUTH_PER_H = {"saltjet": 3.659, "saltmesh": 2.912, "incense": 2.077}
"""Natural loss by aerosol, fitted by the author of the chamber runs (Wissmann 2022, notebook of the data's repository)."""
CLEANER_A_TRUTH_M3_H = {"saltjet": 447.2, "saltmesh": 419.1, "incense": 429.3}
"""Clean air of cleaner A by aerosol, means of three, three and two runs by the same author."""
CLEANER_A_RUNS = {
    "saltjet": [f"sensor1_saltjet_20220707{run}-cleanerA-max" for run in "abc"],
    "saltmesh": [f"sensor1_saltmesh_20220705{run}-cleanerA-max" for run in "abc"],
    "incense": [f"sensor1_incense_20220707{run}-cleanerA-max" for run in "ab"],
}
NATURAL_RUNS = {
    "saltjet": "sensor1_saltjet_20220623-nodevice",
    "saltmesh": "sensor1_saltmesh_20220712-nodevice",
    "incense": "sensor1_incense_20220712-nodevice",
}
CHAMBER_VOLUME_M3 = (4.153, 4.08, 4.23)
"""Tent of 59 x 59 x 72.8 in by its author; a tape read to half an inch on each side gives 1.8 % (judgement)."""


def folders() -> list[Path]:
    """Return the folders in which whole sets may lie, most wanted first."""
    named = os.environ.get("AIRTALLY_OPEN_DATA")
    return [Path(named)] if named else [HERE.parents[2] / "shared" / "data"]


def whole_set(name: str) -> Path | None:
    """Return the folder of a whole data set, or None."""
    return next((folder / name for folder in folders() if (folder / name).is_dir()), None)


def need_whole_set(name: str) -> Path:
    """Return the folder of a whole data set, or skip the test."""
    found = whole_set(name)
    if found is None:
        pytest.skip(f"open data set {name} is not here; name its folder in AIRTALLY_OPEN_DATA")
    return found


def read_chamber(path: Path) -> tuple[np.ndarray, np.ndarray]:
    """Return seconds since start and PM2.5 [ug/m3] of a chamber run, whichever of the three sensors wrote it."""
    text = gzip.decompress(path.read_bytes()).decode() if path.suffix == ".gz" else path.read_text()
    rows = list(csv.reader(io.StringIO(text)))
    column = next(i for i, word in enumerate(rows[0]) if word.strip() in ("pm2.5", "mPM2.5"))
    cells = [(float(row[0]), float(row[column])) for row in rows[1:] if len(row) > column and row[column]]
    table = np.array(cells)
    return table[:, 0], table[:, 1]


def chamber_run(name: str) -> tuple[np.ndarray, np.ndarray]:
    """Return one chamber run by its name without ending, from the whole set or the extracts, or skip."""
    whole = whole_set("chamber-decay")
    for path in ([whole / f"{name}.csv"] if whole else []) + [JOBS / "chamber-tent" / "logs" / f"{name}.csv.gz"]:
        if path.exists():
            return read_chamber(path)
    pytest.skip(f"chamber run {name} is not here; name the folder of the sets in AIRTALLY_OPEN_DATA")


def smoke_series(file: str, column: str) -> tuple[np.ndarray, np.ndarray]:
    """Return POSIX seconds (local clock read as UTC; only differences matter) and values of a smoke-bedroom file."""
    folder = need_whole_set("smoke-bedroom")
    with (folder / file).open(encoding="utf-8-sig", newline="") as handle:
        rows = list(csv.DictReader(handle))
    clock = next(iter(rows[0]))
    pairs = sorted(
        (datetime.fromisoformat(r[clock] + "+00:00").timestamp(), float(r[column])) for r in rows if r[column]
    )
    table = np.array(pairs)
    return table[:, 0], table[:, 1]


def office_series(source: str, column: str) -> tuple[np.ndarray, np.ndarray]:
    """Return POSIX seconds and values of one source of the office room, from the whole set or the extract."""
    whole = whole_set("offices-co2-valve")
    if whole is not None:
        with zipfile.ZipFile(whole / "917810_raw_properties.zip") as archive:
            text = archive.read(archive.namelist()[0]).decode("utf-8-sig")
    else:
        text = gzip.decompress((JOBS / "office-room" / "logs" / "room_24-25_oct.csv.gz").read_bytes()).decode()
    pairs = sorted(
        (datetime.strptime(r["timestamp"], "%Y-%m-%dT%H:%M:%S%z").timestamp(), float(r[column]))
        for r in csv.DictReader(io.StringIO(text))
        if r["source"] == source and r[column] not in ("", "nan", "NaN")
    )
    table = np.array(pairs)
    return table[:, 0], table[:, 1]


@dataclass(frozen=True, slots=True, kw_only=True)
class KitchenPeriod:
    """One home with one stove: minutes [s], PM2.5 worn by the cook [ug/m3] and whether the stove is cooking."""

    home: str
    stove: str
    time: np.ndarray
    pm25: np.ndarray
    cooking: np.ndarray


def kitchen_periods() -> list[KitchenPeriod]:
    """Return the kitchens' periods, from the whole set or from the homes that travel."""
    whole = whole_set("kitchens-cooking")
    travelling = [*(EXTRACTS / "kitchens-cooking").glob("*.csv.gz"), *(JOBS / "kitchen-home" / "logs").glob("*.csv.gz")]
    paths = sorted(whole.glob("homes*.csv.gz")) if whole else sorted(travelling)
    periods: dict[tuple[str, str], list[tuple[float, float, bool]]] = {}
    for path in paths:
        for row in csv.DictReader(io.StringIO(gzip.decompress(path.read_bytes()).decode())):
            flag = row["cook_lpg"] if row["stove"] == "LPG" else row["cook_induction"]
            level = float(row["pm_mean"]) if row["pm_mean"] not in ("", "-inf", "NaN") else float("nan")
            at = datetime.fromisoformat(row["date_time"] + "+00:00").timestamp()
            periods.setdefault((row["hhid"], row["stove"]), []).append((at, level, flag in ("1", "1.0")))
    found = []
    for (home, stove), rows in periods.items():
        rows.sort()
        time, pm25, cooking = (np.array(column) for column in zip(*rows, strict=True))
        found.append(KitchenPeriod(home=home, stove=stove, time=time, pm25=pm25, cooking=cooking.astype(bool)))
    return found
