"""The house at a moment, and the phases between its dated changes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from airtally.house.parts import STILL_THERE, House


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """A stretch between dated changes: ``start`` and ``end`` [s, POSIX UTC], half-open."""

    id: str
    name: str
    start: float
    end: float


class Dated(Protocol):
    """Anything that came and may have gone. Times [s, POSIX UTC]."""

    @property
    def since(self) -> float:
        """Return when it came."""
        ...

    @property
    def until(self) -> float:
        """Return when it went."""
        ...


Part = TypeVar("Part", bound=Dated)


def _present(parts: tuple[Part, ...], time: float) -> tuple[Part, ...]:
    return tuple(part for part in parts if part.since <= time < part.until)


def house_at(house: House, time: float) -> House:
    """Return the house with only the parts that were there at ``time`` [s, POSIX UTC]."""
    handler = house.air_handler
    if handler is not None:
        handler = replace(
            handler,
            speeds=_present(handler.speeds, time),
            filters=_present(handler.filters, time),
            return_leaks=_present(handler.return_leaks, time),
        )
    return replace(
        house,
        air_handler=handler,
        envelopes=_present(house.envelopes, time),
        cleaners=_present(house.cleaners, time),
        exhausts=_present(house.exhausts, time),
        ventilation=_present(house.ventilation, time),
        appliances=_present(house.appliances, time),
        placements=_present(house.placements, time),
        rule_settings=_present(house.rule_settings, time),
    )


def phases_of(house: House, start: float, end: float) -> tuple[Phase, ...]:
    """Return the phases between ``start`` and ``end`` [s, POSIX UTC].

    A change with ``begins_phase`` ends one phase at its ``time`` and begins the next at its ``ends``;
    the works between belong to no phase.
    """
    changes = sorted((c for c in house.changes if c.begins_phase and start < c.time < end), key=lambda c: c.time)
    phases = []
    begin, identifier, name = start, "start", "as found"
    for change in changes:
        if change.time > begin:
            phases.append(Phase(id=identifier, name=name, start=begin, end=change.time))
        begin, identifier, name = max(change.ends or change.time, begin), change.id, f"after {change.name}"
    if end > begin:
        phases.append(Phase(id=identifier, name=name, start=begin, end=min(end, STILL_THERE)))
    return tuple(phases)
