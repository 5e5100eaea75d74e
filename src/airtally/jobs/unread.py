"""What was filled in or promised and is not read: said, so that nobody counts on it."""

from __future__ import annotations

from airtally.errors import Problem, Severity
from airtally.house.page import KEPT_FOR_LATER
from airtally.house.parts import House
from airtally.readings.log import Log

SURVEY = "survey.toml"


def what_changes_no_number(house: House) -> tuple[Problem, ...]:
    """Return a note naming what the survey filled in that no stage reads yet: nothing is passed over in silence."""
    filled = []
    for attribute in KEPT_FOR_LATER:
        noun, _, name = attribute.partition(".")
        holders = [h for h in _holders(house) if type(h).__name__ == noun]
        if any(getattr(h, name) not in (None, (), "", False) for h in holders):
            filled.append(attribute)
    if not filled:
        return ()
    return (
        Problem(
            code="survey-kept-for-later",
            where=SURVEY,
            found=f"{len(filled)} things that are kept and change no number yet: {', '.join(filled)}",
            wanted="nothing; it is said so that nobody counts on them",
            remedy="Keep them filled in; a later version will read them.",
            severity=Severity.NOTE,
        ),
    )


def _holders(house: House) -> list[object]:
    handler = house.air_handler
    parts: list[object] = [house, *house.zones, *house.envelopes, *house.appliances, *house.changes, *house.exhausts]
    parts += [p for p in (handler, house.occupants) if p is not None]
    return parts + (list(handler.speeds) if handler is not None else [])


def silent_instruments(house: House, log: Log) -> tuple[Problem, ...]:
    """Return a note for each instrument that logged nothing of a quantity the survey says it measures."""
    found = []
    for instrument in house.instruments:
        ids = {p.id for p in house.placements if p.instrument == instrument.id}
        heard = {s.quantity for s in log.streams if s.placement in ids}
        missing = [q.value for q in instrument.quantities if q not in heard]
        if missing and ids:
            found.append(
                Problem(
                    code="instrument-silent",
                    where=f"{SURVEY}, instrument '{instrument.id}'",
                    found=f"no reading of {', '.join(missing)} in its logs",
                    wanted="the quantities the survey names",
                    remedy="Look for a missing column or file, or correct the instrument's quantities.",
                    severity=Severity.NOTE,
                )
            )
    return tuple(found)
