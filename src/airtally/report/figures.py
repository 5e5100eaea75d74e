"""Static drawings of a record: each with a title, the sentence it shows and the table behind it."""

from __future__ import annotations

import io
import math
from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

import matplotlib as mpl
import matplotlib.patches
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties

from airtally.record import seconds
from airtally.report import words
from airtally.report.cut.streams import SOURCE_COLOURS
from airtally.report.drawing import HAIR, INK, INK_2, RULE, Drawing, font_folder
from airtally.report.proposals import weeks_words

WIDTH_IN = 6.9
BAND = "#C9C2B4"
LEAST_NAME = 12
"""Letters: a phase with less room goes without its name."""


def label_font(size: float, weight: int = 400) -> FontProperties:
    """Return the label font; read from its file, so that no registry is changed."""
    file = str(font_folder() / f"BarlowSemiCondensed-{weight}.ttf")
    return FontProperties(fname=file, family="Barlow Semi Condensed", weight=weight, size=size)


def svg_text(figure: Figure, title: str, sentence: str) -> str:
    """Return a figure as SVG with text as text, no date, and title and desc for a reader's voice."""
    FigureCanvasSVG(figure)
    buffer = io.StringIO()
    with mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": "airtally"}):
        figure.savefig(buffer, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    head, mark, rest = buffer.getvalue().partition(' version="1.1">')
    if not mark:
        head, mark, rest = buffer.getvalue().partition(">")
    return f'{head} role="img"{mark}<title>{escape(title)}</title><desc>{escape(sentence)}</desc>{rest}'


def before_after_drawing(rows: Sequence[Mapping[str, Any]]) -> Drawing:
    """Return before (open mark) and after (closed mark) of each proof row, each row on its own axis from zero.

    ``rows`` hold name or question, before, after (quantities of one unit) and note.
    """
    figure = Figure(figsize=(WIDTH_IN, 0.5 * len(rows) + 0.05))
    table: list[tuple[str, ...]] = []
    for index, row in enumerate(rows):
        before, after = row["before"], row["after"]
        top = 1.0 - (index + 0.06) / len(rows)
        axes = figure.add_axes((0.29, top - 0.58 / len(rows), 0.43, 0.56 / len(rows)))
        ends = [
            end for part in (before, after) for end in (part["value"], part["low"], part["high"]) if end is not None
        ]
        _plain_axis(axes, min(0.0, *ends), 1.06 * max(ends))
        _interval(axes, before, 1.0, is_open=True)
        _interval(axes, after, 0.0, is_open=False)
        name = row.get("name") or row["question"]
        middle = top - 0.24 / len(rows)
        figure.text(0.0, middle + 0.02 / len(rows), name, fontproperties=label_font(10, 600), color=INK, va="bottom")
        note = words.printed_unit(before)
        figure.text(0.0, middle, note, fontproperties=label_font(9), color=INK_2, va="top")
        places = max(0, words.decimals_of(before), words.decimals_of(after))
        texts = [_bare(part, places) for part in (before, after)]
        figure.text(
            0.745,
            middle + 0.02 / len(rows),
            f"before {texts[0]}",
            fontproperties=label_font(9.5),
            color=INK,
            va="bottom",
        )
        figure.text(0.745, middle, f"after {texts[1]}", fontproperties=label_font(9.5, 600), color=INK, va="top")
        table.append((name, note, texts[0], texts[1]))
    title = "Before and after"
    sentence = " ".join(f"{name}: before {before}, after {after} {unit}." for name, unit, before, after in table)
    return Drawing(
        svg=svg_text(figure, title, sentence),
        title=title,
        sentence=sentence,
        head=("what", "unit", "before", "after"),
        rows=tuple(table),
    )


def _bare(quantity: Mapping[str, Any], places: int) -> str:
    """Return value and interval without the unit."""
    span = words.interval_text(quantity, decimals=places)
    return words.value_text(quantity, decimals=places) + (f" ({span})" if span else "")


def _plain_axis(axes: Any, low: float, high: float) -> None:
    """Draw a bare axis: baseline, few ticks as thin upright lines, no frame."""
    axes.set_xlim(low, high if high > low else low + 1.0)
    axes.set_ylim(-0.8, 1.7)
    axes.set_yticks([])
    axes.locator_params(axis="x", nbins=5)
    axes.tick_params(axis="x", length=0, pad=2, colors=INK)
    axes.patch.set_alpha(0.0)
    for side in ("left", "right", "top"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_color(RULE)
    axes.grid(axis="x", color=HAIR, linewidth=0.8)
    axes.set_axisbelow(True)
    axes.xaxis.set_major_formatter(lambda value, _: words.number(value, 0 if float(value).is_integer() else 1))
    for label in axes.get_xticklabels():
        label.set_fontproperties(label_font(8.5))


def _interval(axes: Any, quantity: Mapping[str, Any], height: float, *, is_open: bool) -> None:
    """Draw one interval: thin bar for the interval, mark at the value, open for before and closed for after."""
    if quantity["value"] is None:
        return
    if quantity["low"] is not None:
        axes.plot(
            [quantity["low"], quantity["high"]], [height, height], color=INK, linewidth=1.4, solid_capstyle="butt"
        )
    face = "#FFFFFF" if is_open else INK
    axes.plot([quantity["value"]], [height], "o", markersize=6.5, mfc=face, mec=INK, mew=1.5)


def _float(value: float | None) -> float:
    """Return the number, NaN for None."""
    return math.nan if value is None else float(value)


_FRAMES = {"shown": "solid", "worse": "solid", "not separable": (0, (4, 2)), "not shown": (0, (1, 1.5))}


def proof_drawing(rows: Sequence[Mapping[str, Any]]) -> Drawing:
    """Return the changes in per cent on one axis, one row per question, the answer in a framed word.

    Rows whose verdict is 'not evidence' get a dotted line and a cross.
    """
    rows = [row for row in rows if row.get("effect") and row["effect"]["value"] is not None]
    height = 0.40 * len(rows) + 0.35
    figure = Figure(figsize=(WIDTH_IN, height))
    bottom = 0.30 / height
    axes = figure.add_axes((0.33, bottom, 0.36, 1.0 - bottom - 0.02))
    scale = [100.0 if row["effect"]["unit"] == "1" else 1.0 for row in rows]
    ends = [0.0]
    for row, factor in zip(rows, scale, strict=True):
        ends += [factor * row["effect"][key] for key in ("value", "low", "high") if row["effect"][key] is not None]
    pad = 0.06 * (max(ends) - min(ends) or 1.0)
    _plain_axis(axes, min(ends) - pad, max(ends) + pad)
    axes.set_ylim(len(rows) - 0.5, -0.5)
    axes.axvline(0.0, color=INK, linewidth=1.2)
    axes.xaxis.set_major_formatter(lambda value, _: ("+" if value > 0 else "") + words.number(value, 0) + "%")
    table: list[tuple[str, ...]] = []
    for index, (row, factor) in enumerate(zip(rows, scale, strict=True)):
        effect, verdict = row["effect"], row["verdict"]
        is_refused = verdict == "not evidence"
        low, value, high = (factor * _float(effect[key]) for key in ("low", "value", "high"))
        style: Any = (0, (1, 2)) if is_refused else "solid"
        if low == low:
            axes.plot([low, high], [index, index], color=INK, linewidth=1.2 if is_refused else 1.6, linestyle=style)
        axes.plot([value], [index], "x" if is_refused else "o", markersize=6, mfc=INK, mec=INK, mew=1.4)
        name = row.get("name") or row["question"]
        at = 1.0 - 0.02 - (index + 0.5) / len(rows) * (1.0 - bottom - 0.02)
        weight = 400 if is_refused else 600
        figure.text(0.0, at, name, fontproperties=label_font(10, weight), color=INK, va="center")
        places = max(0, words.decimals_of(effect))
        change = f"{words.value_text(effect, decimals=places)}%"
        span = words.interval_text(effect, decimals=places)
        figure.text(
            0.705,
            at,
            f"{change} ({span})" if span else change,
            fontproperties=label_font(9.5, weight),
            color=INK,
            va="center",
        )
        frame = {"boxstyle": "square,pad=0.25", "facecolor": "none", "edgecolor": INK, "linewidth": 1.1}
        frame["linestyle"] = _FRAMES.get(verdict, (0, (1, 1.5)))
        figure.text(
            0.99, at, verdict, fontproperties=label_font(9, weight), color=INK, va="center", ha="right", bbox=frame
        )
        table.append((name, change, span, verdict))
    sentence = " ".join(f"{name}: {change} ({span}), {verdict}." for name, change, span, verdict in table)
    title = "The change in per cent, one row per question"
    return Drawing(
        svg=svg_text(figure, title, sentence),
        title=title,
        sentence=sentence,
        head=("question", "change", "interval", "answer"),
        rows=tuple(table),
    )


def room_drawing(document: Mapping[str, Any]) -> Drawing:
    """Return hourly room PM2.5 with its band, outdoor air alongside, and the phases named; gaps stay gaps."""
    series, zone = document["room_pm25"], document["job"]["time_zone"]
    figure = Figure(figsize=(WIDTH_IN, 2.35))
    axes = figure.add_axes((0.05, 0.12, 0.945, 0.70))
    hours = [seconds(at) / 86400.0 for at in series["time"]]
    nan = math.nan
    value, low, high = ([nan if entry is None else entry for entry in series[key]] for key in ("value", "low", "high"))
    axes.fill_between(hours, low, high, color=BAND, linewidth=0.0)
    axes.plot(hours, value, color=INK, linewidth=0.7)
    if "outdoor" in series:
        outdoor = [nan if entry is None else entry for entry in series["outdoor"]]
        axes.plot(hours, outdoor, color=SOURCE_COLOURS["outdoor"], linewidth=1.0, linestyle=(0, (4, 1.5)))
    known = sorted(entry for entry in high if entry == entry)
    axes.set_xlim(hours[0], hours[-1])
    axes.set_ylim(0.0, 1.05 * max(known, default=1.0))
    ticks = [at for at in range(math.ceil(hours[0]), math.ceil(hours[-1]) - 2) if (at - math.ceil(hours[0])) % 7 == 0]
    axes.set_xticks(ticks)
    axes.set_xticklabels([words.short_day(86400.0 * at, zone) for at in ticks])
    _framed(axes, document, zone)
    figure.text(
        0.0, 1.0, f"PM2.5, {words.unit_word(series['unit'])}", fontproperties=label_font(9), color=INK_2, va="top"
    )
    gaps = sum(1 for entry in series["value"] if entry is None)
    parts = ["Black line with band: rooms, hour by hour, 9 chances in 10"]
    if "outdoor" in series:
        parts.append("dashed line: outdoor air")
    if gaps:
        parts.append(f"{gaps} of {len(hours)} hours not known and left open")
    starts = [
        f"{phase['name']} from {words.short_day(seconds(phase['start']), zone)}"
        for phase in document.get("phases", {}).values()
    ]
    sentence = words.sentence("; ".join(parts)) + (f" {words.sentence(words.joined(starts))}" if starts else "")
    table = zip(series["time"], series["value"], series["low"], series["high"], strict=True)
    return Drawing(
        svg=svg_text(figure, "Room air hour by hour", sentence),
        title="Room air hour by hour",
        sentence=sentence,
        head=("hour from, UTC", "PM2.5", "low", "high"),
        rows=tuple((at, *(words.number(entry, 1) for entry in rest)) for at, *rest in table),
    )


def weeks_drawing(document: Mapping[str, Any], measure: str) -> Drawing | None:
    """Return the latest weeks drawn again, as they are and with a measure in place; None where they were not replayed."""
    forecast = document.get("forecasts", {}).get(measure, {})
    if "weeks" not in forecast:
        return None
    weeks, zone = forecast["weeks"], document["job"]["time_zone"]
    figure = Figure(figsize=(WIDTH_IN, 1.9))
    axes = figure.add_axes((0.05, 0.14, 0.945, 0.70))
    days = [seconds(at) / 86400.0 for at in weeks["time"]]
    axes.fill_between(days, weeks["low"], weeks["high"], color=BAND, linewidth=0.0, step="post")
    axes.step(days, weeks["without"], color=INK_2, linewidth=0.9, linestyle=(0, (3, 1.2)), where="post")
    axes.step(days, weeks["value"], color=INK, linewidth=1.1, where="post")
    axes.set_xlim(days[0], days[-1])
    axes.set_ylim(0.0, 1.05 * max(*weeks["without"], *weeks["high"], 1e-9))
    ticks = range(math.ceil(days[0]), math.ceil(days[-1]) - 2, 7)
    axes.set_xticks(list(ticks))
    axes.set_xticklabels([words.short_day(86400.0 * at, zone) for at in ticks])
    _framed(axes, {}, zone)
    unit = words.unit_word(weeks["unit"])
    figure.text(0.0, 1.0, f"PM2.5, {unit}", fontproperties=label_font(9), color=INK_2, va="top")
    title, sentence = weeks_words(forecast).values()
    table = zip(*(weeks[key] for key in ("time", "without", "value", "low", "high")), strict=True)
    return Drawing(
        svg=svg_text(figure, title, sentence),
        title=title,
        sentence=sentence,
        head=("three hours from, UTC", "as it is", "with it", "low", "high"),
        rows=tuple((at, *(words.number(entry, 1) for entry in rest)) for at, *rest in table),
    )


def _framed(axes: Any, document: Mapping[str, Any], zone: str) -> None:
    """Draw left and bottom lines, label fonts, and an upright line with a name where each phase starts."""
    for side in ("right", "top"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(RULE)
    axes.tick_params(length=2, colors=INK, pad=2)
    axes.grid(axis="y", color=HAIR, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.patch.set_alpha(0.0)
    for label in [*axes.get_xticklabels(), *axes.get_yticklabels()]:
        label.set_fontproperties(label_font(8.5))
    start, end = axes.get_xlim()
    place, taken, per_letter = axes.get_xaxis_transform(), start, (end - start) * 0.0088
    for phase in sorted(document.get("phases", {}).values(), key=lambda phase: str(phase["start"])):
        at = max(seconds(phase["start"]) / 86400.0, start)
        if at >= end:
            continue
        axes.axvline(at, color=INK, linewidth=0.9)
        since = words.short_day(seconds(phase["start"]), zone)
        # Names that would run into the one before lose first their date, then their end, then give way to the line alone.
        letters = int((end - at) / per_letter) - 3
        shortest = f"{phase['name'][:letters].rstrip(' ,;')}..." if letters > LEAST_NAME else phase["name"]
        for text in (f" {phase['name']}, from {since}", f" {phase['name']}", f" {shortest}"):
            if at >= taken and at + len(text) * per_letter <= end + 2.0 * per_letter:
                axes.text(at, 1.02, text, transform=place, fontproperties=label_font(9, 600), color=INK, va="bottom")
                taken = at + len(text) * per_letter
                break
