"""The record's phases, events and room series, from a fit and its replay."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats
from airtally.clock import local_day, local_text
from airtally.estimates import Basis
from airtally.house.dates import Phase
from airtally.house.parts import AirSide
from airtally.inference.events import Source
from airtally.inference.fit import Fit
from airtally.inference.prepare import FAN_CIRCULATE, FAN_HEATING, FAN_OFF, FAN_STATES
from airtally.inference.rates import phase_rates
from airtally.inference.regimes import SINKS
from airtally.record.documents import Document, moment, quantity
from airtally.record.numbers import GRAMS_A_DAY, PER_HOUR, UGM3, from_draws, setting
from airtally.scenario.baseline import Baseline
from airtally.scenario.replay import Replay, replay
from airtally.scenario.scenario import AS_RECORDED
from airtally.scenario.shares import Contributions, Line, Way, contributions

FIT = "fit of one well-mixed volume to these readings"
REPLAY = "replay of the fitted house over these weeks"
HOUR = 3600.0

LINE_NAMES: dict[Line, tuple[int, str, str, Source]] = {
    (Source.OUTDOOR, Way.ENVELOPE): (1, "outdoors", "leaks", Source.OUTDOOR),
    (Source.COOKING, Way.ROOM_SIDE): (2, "kitchen", "room side", Source.COOKING),
    (Source.SOLID_FUEL, Way.ROOM_SIDE): (3, "fire", "room side", Source.SOLID_FUEL),
    (Source.HOBBY, Way.ROOM_SIDE): (4, "workshop", "room side", Source.OTHER),
    (Source.OUTDOOR, Way.GARAGE_LEAK): (5, "outdoors by the garage", "return leak", Source.GARAGE),
    (Source.OUTDOOR, Way.BUFFER_LEAK): (6, "outdoors by crawlspace or attic", "return leak", Source.BUFFER_SPACE),
    (Source.CANDLE_INCENSE, Way.ROOM_SIDE): (8, "candles, incense", "room side", Source.CANDLE_INCENSE),
    (Source.GARAGE, Way.ROOM_SIDE): (10, "cars in the garage", "garage wall, return leak", Source.GARAGE),
}
"""Folio number, name, way in and colour of each line; 7 is what is not assigned."""
NOT_TOLD_APART = (Source.HOBBY, Source.RESUSPENSION, Source.OTHER)
"""Sources whose shares are given as one: dust and quiet sources give no event that PM2.5 alone would name."""
UNNAMED = f"{REPLAY}, workshop, stirred-up dust and unnamed sources: readings of PM2.5 do not tell them apart"
LEAST_SHOWN = 1e-3
"""A line below this share of the account is left out; what it holds is in what is not assigned. Own choice."""
SINK_NAMES = {
    "air_exchange": "carried outdoors",
    "settling": "settled on surfaces",
    "filter": "filter",
    "cleaner": "cleaner",
    "portable": "portable cleaner",
}
SINK_ORDER = ("filter", "air_exchange", "settling", "cleaner", "portable")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """What each source brings, phase by phase, and the record replayed."""

    parts: Contributions
    recorded: Replay


def shares_of(fit: Fit, baseline: Baseline) -> Shares:
    """Tell the sources apart at recorded equipment states; the parts add up to the whole."""
    recorded = replay(fit, baseline, AS_RECORDED, law=baseline.law)
    return Shares(parts=contributions(fit, baseline), recorded=recorded)


def phases_document(fit: Fit, shares: Shares) -> Document:
    """Return the record's ``phases``."""
    return {phase.id: _phase(fit, shares, phase) for phase in fit.prepared.phases}


def _phase(fit: Fit, shares: Shares, phase: Phase) -> Document:
    prepared = fit.prepared
    steps = prepared.phase_steps(phase)
    outdoor = prepared.outdoor[steps]
    fan = prepared.fan[steps] != FAN_OFF
    recorded = shares.recorded.of(phase)
    document: Document = {
        "name": phase.name,
        "start": moment(phase.start),
        "end": moment(phase.end),
        "days": round((phase.end - phase.start) / 86400.0, 2),
        "mean_pm25": from_draws(recorded.mean, unit="ug/m3", factor=UGM3, source=FIT),
        "outdoor_pm25": _mean_by_days(prepared.time[steps], outdoor, prepared.house.time_zone, "ug/m3", UGM3)
        if prepared.outdoor_is_measured
        else setting(float(outdoor.mean()) * UGM3, "ug/m3", "assumed, nobody measured it", Basis.DEFAULT),
        "fan_fraction": _mean_by_days(prepared.time[steps], fan.astype(np.float64), prepared.house.time_zone, "1", 1.0),
        "rates": {},
        "clean_air": {},
        "sensor_to_room": _sensors(fit, phase),
        "source_share": _share(fit, shares, phase),
        "account": account_document(fit, shares, phase),
        "hour_of_day": _carpet(fit, phase),
    }
    for key, fan_on in (("fan_on", True), ("fan_off", False)):
        if fan_on and prepared.house.air_handler is None:
            continue
        rates = phase_rates(prepared, fit.values, phase, fan_on=fan_on)
        if rates is None:
            continue
        document["rates"][key] = {
            name: from_draws(rates[name], unit="1/h", factor=PER_HOUR, source=FIT) for name in ("total", *SINKS)
        }
        document["clean_air"][key] = {
            name: from_draws(rates[name] * fit.values["volume"], unit="m3/h", factor=PER_HOUR, source=FIT)
            for name in ("total", *SINKS)
        }
    return document


def _mean_by_days(time: Floats, value: Floats, zone: str, unit: str, factor: float) -> Document:
    """Return a measured mean; its interval is that of a mean over days as they varied."""
    day = local_day(time, zone)
    index = day - day[0]
    total = np.bincount(index, weights=value)
    count = np.bincount(index)
    means = total[count > 0] / count[count > 0]
    middle = float(value.mean()) * factor
    half = 1.645 * float(means.std(ddof=1)) / np.sqrt(means.size) * factor if means.size > 1 else 0.0
    is_constant = half <= 1e-6 * max(abs(middle), 1e-9)
    return quantity(
        middle,
        low=None if is_constant else max(middle - half, 0.0),
        high=None if is_constant else middle + half,
        unit=unit,
        basis=Basis.MEASURED,
        source=f"readings over {means.size} days; interval of a mean over days that differ",
    )


def _sensors(fit: Fit, phase: Phase) -> Document:
    prepared = fit.prepared
    steps = prepared.phase_steps(phase)
    found: Document = {}
    for index, sensor in enumerate(prepared.sensors):
        gain = fit.values[f"gain/{sensor.name}"]
        for placement in sensor.placements:
            place = next(p for p in fit.house.placements if p.id == placement)
            if place.until <= phase.start or place.since >= phase.end:
                continue
            states: Document = {}
            for key, wanted in (("fan_on", (FAN_CIRCULATE, FAN_HEATING)), ("fan_off", (FAN_OFF,))):
                if key == "fan_off" and sensor.side is not AirSide.ROOM:
                    continue
                value = np.zeros(fit.draws)
                weight = 0.0
                for number, epoch in enumerate(prepared.epochs):
                    part = slice(max(epoch.first, steps.start), min(epoch.last, steps.stop))
                    if part.stop <= part.start:
                        continue
                    for fan in wanted:
                        share = float(np.count_nonzero(prepared.fan[part] == fan)) + 1e-9
                        regime = number * FAN_STATES + fan
                        outside = float(prepared.outdoor[part].mean())
                        room = fit.level[:, part].mean(axis=1)
                        true = (
                            fit.physics.slope[:, index, regime] + fit.physics.leak[:, index, regime] * outside / room
                        ) / gain
                        value = value + share * true
                        weight += share
                if weight > 0.0:
                    states[key] = from_draws(value / weight, unit="1", source=FIT)
            found[placement] = states
    return found


def _share(fit: Fit, shares: Shares, phase: Phase) -> Document:
    total = shares.recorded.of(phase).mean
    found: Document = {}
    other = np.zeros(fit.draws)
    for source in Source:
        mean = shares.parts.of(phase.id, source)
        if mean is None:
            continue
        if source in NOT_TOLD_APART:
            other = other + mean
        else:
            share = np.clip(mean / total, 0.0, 1.0)
            found[source.value] = from_draws(share, unit="1", source=f"{REPLAY}, this source alone")
    share = np.clip(other / total, 0.0, 1.0)
    found[Source.OTHER.value] = from_draws(
        share,
        unit="1",
        source=UNNAMED,
    )
    return found


def account_document(fit: Fit, shares: Shares, phase: Phase) -> Document:
    """Return grams a day by source, path and sink; the values balance to rounding.

    Medians of lines do not add up; so that the printed account closes, lines are means over draws, and
    the intervals are those of the draws.
    """
    recorded = shares.recorded.of(phase)
    lines_in = []
    brought_total = np.zeros(fit.draws)
    not_assigned = np.zeros(fit.draws)
    moved = float(np.mean(recorded.removed.sum(axis=1) + np.abs(recorded.stored)))
    for (name, line), brought in shares.parts.brought.items():
        if name != phase.id:
            continue
        brought_total = brought_total + brought
        if line not in LINE_NAMES or float(np.mean(brought)) < LEAST_SHOWN * moved:
            not_assigned = not_assigned + brought
            continue
        folio, title, path, colour = LINE_NAMES[line]
        lines_in.append(
            {
                "folio": folio,
                "name": title,
                "path": path,
                "source": colour.value,
                "grams_per_day": _line(brought),
            }
        )
    lines_out = []
    removed_total = np.zeros(fit.draws)
    for letter, sink in zip("abcde", SINK_ORDER, strict=True):
        taken = recorded.removed[:, shares.recorded.sink_names.index(sink)]
        removed_total = removed_total + taken
        if sink not in ("air_exchange", "settling") and not np.any(taken > 0.0):
            continue
        lines_out.append({"folio": letter, "name": SINK_NAMES[sink], "sink": sink, "grams_per_day": _line(taken)})
    return {
        "in": sorted(lines_in, key=lambda row: int(str(row["folio"]))),
        "out": lines_out,
        "stored": _line(recorded.stored),
        "not_assigned": _line(not_assigned + (removed_total + recorded.stored - brought_total)),
        "total": _line(removed_total + recorded.stored),
    }


def _line(draws: Floats) -> Document:
    values = draws * GRAMS_A_DAY
    mean = float(values.mean())
    low, high = np.quantile(values, [0.05, 0.95])
    return quantity(
        mean, low=min(float(low), mean), high=max(float(high), mean), unit="g/day", basis=Basis.FITTED, source=REPLAY
    )


def _carpet(fit: Fit, phase: Phase) -> Document:
    prepared = fit.prepared
    steps = prepared.phase_steps(phase)
    day = local_day(prepared.time[steps], prepared.house.time_zone)
    hour = (prepared.seconds_of_day[steps] // HOUR).astype(np.int64)
    level = np.median(fit.level[:, steps], axis=0) * UGM3
    first = int(day[0])
    rows = int(day[-1]) - first + 1
    index = (day - first) * 24 + hour
    total = np.bincount(index, weights=level, minlength=rows * 24)
    count = np.bincount(index, minlength=rows * 24)
    mean = np.where(count > 0, total / np.maximum(count, 1), np.nan).reshape(rows, 24)
    days = [local_text((first + i) * 86400.0 + 43200.0, "UTC", "%Y-%m-%d") for i in range(rows)]
    table = [[None if np.isnan(v) else round(float(v), 2) for v in row] for row in mean]
    return {"days": days, "rows": table, "unit": "ug/m3"}


def events_document(fit: Fit) -> list[Document]:
    """Return the record's ``events`` in order of time."""
    found = []
    for event in fit.events:
        found.append(
            {
                "start": moment(event.start),
                "minutes": round(event.duration / 60.0, 1),
                "kind": event.kinds[0][0].value,
                "kind_probabilities": {kind.value: round(chance, 4) for kind, chance in event.kinds},
                "grams": from_draws(event.mass, unit="g", factor=1e3, source=FIT),
                "rise": from_draws(_rises(fit, event.first, event.last), unit="ug/m3", factor=UGM3, source=FIT),
                "found_in": "data",
            }
        )
    return found


def _rises(fit: Fit, first: int, last: int) -> Floats:
    end = min(last + max(int(600.0 / fit.prepared.step), 1), fit.prepared.steps)
    top = fit.level[:, first:end].max(axis=1)
    return np.asarray(top - fit.level[:, max(first - 1, 0)])


def room_document(fit: Fit) -> Document:
    """Return the record's hourly room series with its band, outdoors and the fan beside it."""
    prepared = fit.prepared
    per = max(round(HOUR / prepared.step), 1)
    hours = prepared.steps // per
    cut = hours * per

    def hourly(value: Floats) -> Floats:
        return np.asarray(value[..., :cut].reshape(*value.shape[:-1], hours, per).mean(axis=-1))

    level = hourly(fit.level)
    within = hourly(fit.band)
    spread = np.sqrt(level.var(axis=0) + within)
    middle = np.median(level, axis=0)
    fan = hourly((prepared.fan != FAN_OFF).astype(np.float64))
    times = prepared.start + np.arange(hours) * per * prepared.step

    def rounded(values: Floats) -> list[float | None]:
        return [None if np.isnan(v) else round(float(v), 3) for v in values]

    return {
        "time": [moment(t) for t in times],
        "value": rounded(middle * UGM3),
        "low": rounded(np.maximum(middle - 1.645 * spread, 0.0) * UGM3),
        "high": rounded((middle + 1.645 * spread) * UGM3),
        "outdoor": rounded(hourly(prepared.outdoor) * UGM3),
        "fan_fraction": rounded(fan),
        "unit": "ug/m3",
        "level": 0.90,
        "basis": "fitted",
        "source": FIT,
    }
