"""The hour-of-day carpet: days as rows, hours as columns, six steps from leaf to ink."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import matplotlib as mpl
import matplotlib.patches
import numpy as np
from matplotlib.figure import Figure
from matplotlib.path import Path

from airtally.arrays import Booleans
from airtally.report import words
from airtally.report.cut.rooms import fitted
from airtally.report.drawing import INK, INK_2, Drawing
from airtally.report.figures import WIDTH_IN, label_font, svg_text

CARPET_EDGES = (5.0, 10.0, 20.0, 35.0, 70.0)
"""Edges of the carpet's six steps: a scale of the house's own, no index and no limit. [ug/m3]"""
CARPET_STEPS = ("#FDFBF5", "#DCD3C1", "#BBB09B", "#8B8172", "#5A5247", "#1F1B16")


def carpet_drawing(document: Mapping[str, Any], phases: Sequence[str] | None = None) -> Drawing:
    """Return days as rows, hours as columns, in six steps from leaf to ink; unknown hours are hatched."""
    chosen = [key for key in (phases or document["phases"]) if "hour_of_day" in document["phases"][key]]
    longest = max(len(document["phases"][key]["hour_of_day"]["days"]) for key in chosen)
    width = 0.92 / len(chosen)
    titles = {
        key: fitted(document["phases"][key]["name"], 72.0 * WIDTH_IN * (width - 0.06), 9.5, 600, most=2)
        for key in chosen
    }
    head = 0.26 + 0.14 * (max(len(lines) for lines in titles.values()) - 1)
    height = 0.075 * longest + 0.49 + head
    figure = Figure(figsize=(WIDTH_IN, height))
    rows: list[tuple[str, ...]] = []
    for index, key in enumerate(chosen):
        phase = document["phases"][key]
        carpet = phase["hour_of_day"]
        days = len(carpet["days"])
        top = 1.0 - head / height
        axes = figure.add_axes(
            (0.07 + index * (width + 0.01), top - 0.075 * days / height, width - 0.06, 0.075 * days / height)
        )
        level = np.array(carpet["rows"], dtype=np.float64)
        step = np.digitize(level, CARPET_EDGES)
        for number, colour in enumerate(CARPET_STEPS):
            chosen = (step == number) & np.isfinite(level)
            axes.add_artist(_cells(chosen, facecolor=colour, edgecolor=colour, linewidth=0.3))
        axes.add_artist(_cells(np.isnan(level), facecolor="#FFFFFF", edgecolor=INK, linewidth=0.0, hatch="/////"))
        axes.set_xlim(0, 24)
        axes.set_ylim(days, 0)
        axes.set_xticks([0, 6, 12, 18, 24])
        axes.set_yticks([0.5 + at for at in range(0, days, 7)])
        axes.set_yticklabels([words.day(carpet["days"][at], "UTC")[:-5] for at in range(0, days, 7)])
        axes.tick_params(length=0, pad=2, colors=INK)
        for label in [*axes.get_xticklabels(), *axes.get_yticklabels()]:
            label.set_fontproperties(label_font(8.5))
        figure.text(
            0.07 + index * (width + 0.01),
            1.0,
            "\n".join(titles[key]),
            fontproperties=label_font(9.5, 600),
            color=INK,
            va="top",
        )
        for when, row in zip(carpet["days"], carpet["rows"], strict=True):
            rows.append((phase["name"], when, *(words.number(cell, 0) for cell in row)))
    _carpet_key(figure, height)
    sentence = (
        "Each row is a day, each column an hour, from midnight to midnight; the darker, the more particles in the rooms. "
        "Hatched hours are not known."
    )
    return Drawing(
        svg=svg_text(figure, "Hours of the day", sentence),
        title="Hours of the day",
        sentence=sentence,
        head=("phase", "day", *(str(hour) for hour in range(24))),
        rows=tuple(rows),
    )


def _cells(chosen: Booleans, **look: Any) -> mpl.patches.PathPatch:
    """Return the chosen cells, shape (days, hours), as one patch: a page of thousands is slow to set and to open."""
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]])
    at = np.argwhere(chosen)[:, None, ::-1] + corners
    codes = np.tile([Path.MOVETO, Path.LINETO, Path.LINETO, Path.LINETO, Path.CLOSEPOLY], len(at))
    return mpl.patches.PathPatch(Path(at.reshape(-1, 2), codes), **look)


def _carpet_key(figure: Figure, height: float) -> None:
    """Draw the six steps with their edges printed at the key."""
    names = [f"under {CARPET_EDGES[0]:.0f}"]
    names += [f"{low:.0f} to {high:.0f}" for low, high in pairwise(CARPET_EDGES)]
    names += [f"{CARPET_EDGES[-1]:.0f} and over"]
    axes = figure.add_axes((0.07, 0.0, 0.92, 0.2 / height))
    axes.set_xlim(0, len(names) + 1)
    axes.set_ylim(0, 1)
    axes.axis("off")
    for index, (colour, name) in enumerate(zip(CARPET_STEPS, names, strict=True)):
        axes.add_patch(mpl.patches.Rectangle((index, 0.15), 0.25, 0.6, facecolor=colour, edgecolor=INK, linewidth=0.7))
        axes.text(index + 0.3, 0.45, name, fontproperties=label_font(8.5), color=INK, va="center")
    axes.text(len(names), 0.45, words.unit_word("ug/m3"), fontproperties=label_font(8.5), color=INK_2, va="center")
