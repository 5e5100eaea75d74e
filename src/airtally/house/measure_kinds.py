"""The kinds of measure that a survey may list, and those worth asking about where it lists none."""

from __future__ import annotations

from enum import StrEnum

from airtally.house.parts import House, PricedMeasure


class MeasureKind(StrEnum):
    """Kinds of measure; the words of the survey's ``[[measure]]``, in the order in which they are best done.

    Source first, then the path, then filters and cleaners, then ventilation, at last what runs by itself.
    """

    SOURCE_CAPTURE = "source capture"
    RETURN_SEALING = "return sealing"
    BETTER_FILTER = "better filter"
    BYPASS_CLEANER = "bypass cleaner"
    IN_LINE_HEPA = "in-line HEPA"
    SUPPLY_VENTILATION = "supply ventilation"
    CONTINUOUS_FAN = "continuous fan"


WITHOUT_HANDLER = (MeasureKind.SOURCE_CAPTURE, MeasureKind.SUPPLY_VENTILATION)
"""Measures that need no air handler."""
USUAL_STAGE = {
    MeasureKind.SOURCE_CAPTURE: 1,
    MeasureKind.RETURN_SEALING: 1,
    MeasureKind.BETTER_FILTER: 1,
    MeasureKind.BYPASS_CLEANER: 2,
    MeasureKind.SUPPLY_VENTILATION: 3,
    MeasureKind.CONTINUOUS_FAN: 3,
}
"""Measures asked about in every house and the stage that each belongs to; a filter in the whole airflow is none of them."""


def kind_of(measure: PricedMeasure) -> MeasureKind | None:
    """Return the kind that a survey's line names, None where it is not known here."""
    return MeasureKind(measure.kind) if measure.kind in set(MeasureKind) else None


def source_of(measure: PricedMeasure) -> str:
    """Return the indoor source that a line means, cooking where it names none."""
    return str(dict(measure.settings).get("source", "cooking"))


def takes_exhaust(measure: PricedMeasure) -> bool:
    """Return whether a line is a stronger exhaust: cooking is caught by a hood, other sources are kept from arising."""
    return kind_of(measure) is MeasureKind.SOURCE_CAPTURE and source_of(measure) == "cooking"


def measures_of(house: House) -> tuple[PricedMeasure, ...]:
    """Return the survey's measures in the order of doing: by its stages, within one by kind; else the usual ones, unpriced."""
    order = list(MeasureKind)
    listed = house.measures or tuple(
        PricedMeasure(
            id=kind.value.replace(" ", "-"),
            kind=kind.value,
            name=kind.value,
            stage=stage,
            price_low=float("nan"),
            price_high=float("nan"),
        )
        for kind, stage in USUAL_STAGE.items()
        if house.air_handler is not None or kind in WITHOUT_HANDLER
    )
    return tuple(sorted(listed, key=lambda one: (one.stage, _place(one, order))))


def _place(measure: PricedMeasure, order: list[MeasureKind]) -> int:
    kind = kind_of(measure)
    return len(order) if kind is None else order.index(kind)
