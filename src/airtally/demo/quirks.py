"""What can be planted in the demo job, each to be left out on its own."""

from __future__ import annotations

from enum import StrEnum


class Quirk(StrEnum):
    """A trap in the invented data; with it left out a detector must not find it."""

    SMOKE_WEEK = "smoke_week"
    """A week of outdoor smoke, inside the time before the works."""
    COLOCATION_GAIN = "colocation_gain"
    """M3 reads 1.25 times what its neighbours read, side by side."""
    MONITOR_MOVED = "monitor_moved"
    """M4 moved from before the filter to behind filter and cleaner at the works."""
    WRONG_THRESHOLD = "wrong_threshold"
    """The first fan rule holds a room value against a sensor behind the filter."""
    SHORT_SAMPLING = "short_sampling"
    """The first fan rule samples three minutes an hour."""
    LOGGER_GAP = "logger_gap"
    """M4, M6 and M7 are dead for 43 hours: a switched outlet."""
    CO_SPILL = "co_spill"
    """Carbon monoxide and a hot draft hood on one evening of fire, hood and dryer."""
    GARAGE_PATH = "garage_path"
    """The return draws garage air: VOC and CO step at fan starts after the car has left."""
    WORKSHOP_GRILLE = "workshop_grille"
    """A return grille in the workshop wall spreads its dust until the works."""
    FILTER_GAP = "filter_gap"
    """A filter of the wrong size: the drop falls, the unfiltered share rises."""
    CLOCK_FOLD = "clock_fold"
    """M4's local clock repeats an hour when the clocks go back, and is one hour off after it."""
    FOG_BIAS = "fog_bias"
    """Two foggy nights make M5 read too high and start the outdoor-smoke rule."""
    UNBALANCED_DRAW = "unbalanced_draw"
    """All Sundays with a fire were drawn as rule-off days."""
    CLEANER_SHORT_CIRCUIT = "cleaner_short_circuit"
    """The cleaner draws half of its own discharge again. Not in the reference job."""
    CARBON_FADES = "carbon_fades"
    """The carbon is spent after some weeks: the VOC signal comes back."""
    NO_WORK = "no_work"
    """The works change nothing and no fan rule ever acts: a placebo house. Not in the reference job."""


ALL_QUIRKS = frozenset(Quirk) - {Quirk.CLEANER_SHORT_CIRCUIT, Quirk.NO_WORK}
"""The quirks of the reference job."""

NEEDS_WORKS = frozenset(
    {
        Quirk.WRONG_THRESHOLD,
        Quirk.SHORT_SAMPLING,
        Quirk.FILTER_GAP,
        Quirk.UNBALANCED_DRAW,
        Quirk.CLEANER_SHORT_CIRCUIT,
        Quirk.CARBON_FADES,
    }
)
"""Quirks that cannot show in a house whose works change nothing."""


def effective(quirks: frozenset[Quirk]) -> frozenset[Quirk]:
    """Return the quirks that are really planted: a placebo house has no new equipment to go wrong."""
    return quirks - NEEDS_WORKS if Quirk.NO_WORK in quirks else quirks
