"""The Scenario: edits to the house, a fan plan and sources left out or scaled, on a fit's draws.

A dated change, a measure, a fault, a fan rule, a removed source and a placebo are all one thing here.
:func:`airtally.scenario.replay.replay` runs it over the recorded weeks.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from airtally.inference.events import Source
from airtally.scenario.edits import Edit


class FanPlan(StrEnum):
    """What the central fan does in a replay."""

    RECORDED = "as recorded"
    ALWAYS = "circulating whenever it is not heating"
    NEVER = "only when heating or cooling asks"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """What is different from what was recorded.

    Attributes
    ----------
    name : str
        Words for pages.
    edits : tuple of Edit
        Made to the house of every epoch, in order.
    house_as_of : float or None
        Use the house as it stood at this instant for all steps [s, POSIX UTC]; None for each epoch's own.
    fan : FanPlan
        What the central fan does.
    without : frozenset of Source
        Sources taken away.
    scale : tuple of (Source, float)
        Sources multiplied by a factor.
    """

    name: str
    edits: tuple[Edit, ...] = ()
    house_as_of: float | None = None
    fan: FanPlan = FanPlan.RECORDED
    without: frozenset[Source] = frozenset()
    scale: tuple[tuple[Source, float], ...] = ()


AS_RECORDED = Scenario(name="as recorded")
"""Nothing is different: the replay gives back the fitted room series."""
