"""Edits to a House: what a measure, a fault or a placebo is. None of them carries an effect of its own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from airtally.errors import InputError
from airtally.estimates import Basis, Estimate
from airtally.house.parts import AirHandler, Cleaner, Filter, House, ReturnLeak, Ventilation

Edit = Callable[[House], House]
"""Takes the house as it stands in an epoch and returns it with the edit made."""


def fit_filter(part: Filter, flow_factor: Estimate | None = None) -> Edit:
    """Return the edit that puts in another filter; ``flow_factor`` is what its resistance does to the flow [-]."""

    def edit(house: House) -> House:
        handler = _handler(house)
        speeds = handler.speeds
        if flow_factor is not None:
            speeds = tuple(replace(s, flow=scaled(s.flow, flow_factor)) for s in speeds)
        return replace(house, air_handler=replace(handler, filters=(part,), speeds=speeds))

    return edit


def seal_returns(remaining: Estimate) -> Edit:
    """Return the edit that seals the return side; ``remaining`` is the share of today's leaks that stays [-]."""

    def edit(house: House) -> House:
        handler = _handler(house)
        leaks = tuple(_sealed(leak, remaining) for leak in handler.return_leaks)
        return replace(house, air_handler=replace(handler, return_leaks=leaks))

    return edit


def add_cleaner(part: Cleaner) -> Edit:
    """Return the edit that adds an air cleaner."""
    return lambda house: replace(house, cleaners=(*house.cleaners, part))


def add_ventilation(part: Ventilation) -> Edit:
    """Return the edit that adds a ventilation fan."""
    return lambda house: replace(house, ventilation=(*house.ventilation, part))


def scaled(estimate: Estimate, factor: Estimate) -> Estimate:
    """Return an estimate multiplied by a factor; the intervals multiply end by end."""
    return replace(
        estimate,
        value=estimate.value * factor.value,
        low=estimate.low * factor.low,
        high=estimate.high * factor.high,
        basis=Basis.COMPUTED,
        source=f"{estimate.source}, times {factor.source}",
    )


def _sealed(leak: ReturnLeak, remaining: Estimate) -> ReturnLeak:
    # A new id: what is left after sealing is another leak, with its own doubt.
    return replace(leak, id=f"{leak.id}, sealed", fraction=scaled(leak.fraction, remaining))


def _handler(house: House) -> AirHandler:
    if house.air_handler is None:
        raise InputError("this measure needs an air handler; the survey has none")
    return house.air_handler
