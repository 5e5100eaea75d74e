"""How sure a gauge reading is when the file does not say: instrument, then the usual accuracy of the trade."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt

from airtally.errors import Problem
from airtally.estimates import Basis, Estimate, Missing
from airtally.units import Kind, QuantityTextError, read_quantity
from airtally.visits.kinds import Dimension
from airtally.visits.parts import VisitInstrument

KIND_OF_DIMENSION: dict[Dimension, Kind] = {
    Dimension.FLOW: Kind.FLOW,
    Dimension.PRESSURE: Kind.PRESSURE,
    Dimension.TEMPERATURE: Kind.TEMPERATURE,
    Dimension.TEMPERATURE_DIFFERENCE: Kind.TEMPERATURE_DIFFERENCE,
    Dimension.MOLE_FRACTION: Kind.MOLE_FRACTION,
    Dimension.TIME: Kind.DURATION,
    Dimension.POWER: Kind.HEAT_OUTPUT,
    Dimension.LENGTH: Kind.LENGTH,
    Dimension.RATIO: Kind.PURE,
}
"""How units.py calls each dimension."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """Half width of the 90 % interval: a share of the reading [-] and an amount [SI], added in quadrature."""

    share: float = 0.0
    amount: float = 0.0


USUAL_ACCURACY: dict[Dimension, Accuracy] = {
    Dimension.FLOW: Accuracy(share=0.10),
    Dimension.PRESSURE: Accuracy(share=0.02, amount=0.3),
    Dimension.TEMPERATURE: Accuracy(amount=1.0),
    Dimension.TEMPERATURE_DIFFERENCE: Accuracy(amount=1.5),
    Dimension.MOLE_FRACTION: Accuracy(share=0.05, amount=2e-6),
    Dimension.TIME: Accuracy(amount=10.0),
    Dimension.POWER: Accuracy(share=0.05),
    Dimension.LENGTH: Accuracy(share=0.05),
    Dimension.RATIO: Accuracy(share=0.08),
}
"""Accuracy taken where neither the value nor its instrument states one. Common practice, no source."""


def with_accuracy(value: Estimate, accuracy: Accuracy, source: str) -> Estimate:
    """Return an estimate that carries no interval of its own with the interval its gauge gives it."""
    half = sqrt((accuracy.share * value.value) ** 2 + accuracy.amount**2)
    return replace(value, low=value.value - half, high=value.value + half, source=source)


def instrument_accuracy(
    instrument: VisitInstrument, dimension: Dimension, where: str
) -> tuple[Accuracy | None, tuple[Problem, ...]]:
    """Return what an instrument's ``accuracy`` and ``resolution`` say for a dimension, None if they say nothing."""
    share, amount, problems = 0.0, 0.0, []
    for name, text in (("accuracy", instrument.accuracy), ("resolution", instrument.resolution)):
        if not text:
            continue
        found_share, found_amount, problem = _one_accuracy(text, dimension, f"{where}, {name} of {instrument.id}")
        if problem is not None:
            problems.append(problem)
            continue
        share = max(share, found_share)
        amount = sqrt(amount**2 + (found_amount * (0.5 if name == "resolution" else 1.0)) ** 2)
    stated = share > 0.0 or amount > 0.0
    return (Accuracy(share=share, amount=amount) if stated else None), tuple(problems)


def _one_accuracy(text: str, dimension: Dimension, where: str) -> tuple[float, float, Problem | None]:
    """Return a text as share and amount; a per cent is a share of the reading."""
    kind = Kind.TEMPERATURE_DIFFERENCE if dimension is Dimension.TEMPERATURE else KIND_OF_DIMENSION[dimension]
    wanted = Kind.FRACTION if text.strip().endswith("%") else kind
    try:
        found = read_quantity(text, wanted, source=where, basis=Basis.SURVEYED)
    except QuantityTextError as error:
        return (
            0.0,
            0.0,
            Problem(
                code="visits-accuracy-refused", where=where, found=error.found, wanted=error.wanted, remedy=error.remedy
            ),
        )
    if isinstance(found, Missing):
        return 0.0, 0.0, None
    return (abs(found.value), 0.0, None) if wanted is Kind.FRACTION else (0.0, abs(found.value), None)
