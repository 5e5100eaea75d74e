"""Read one line of a visit: a reading with its value in SI, its state and its interval."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf
from zoneinfo import ZoneInfo

from airtally.errors import Problem, Severity
from airtally.estimates import Basis, Estimate, Missing
from airtally.units import QuantityTextError, read_quantity
from airtally.visits.accuracy import KIND_OF_DIMENSION, USUAL_ACCURACY, Accuracy, instrument_accuracy, with_accuracy
from airtally.visits.clock import read_time
from airtally.visits.kinds import READING_KINDS, Dimension, ReadingKind
from airtally.visits.parts import HouseState, Reading, VisitInstrument
from airtally.visits.read_state import SWITCHES, read_state
from airtally.visits.table import Table

READING_KEYS = SWITCHES | {"key", "value", "place", "reference", "instrument", "note", "time"}
ONE_SIDED = {"at least ": True, "at most ": False}
"""Openings of a value that is known from one side only, and whether it is known from below."""
DRAWN_DOWN = frozenset({"draft", "worst_case_pressure_change", "burn_pressure_change"})
"""Readings that are below zero in all but odd cases; one above it is doubted."""
DOUBTFUL_ABOVE: dict[Dimension, float] = {
    Dimension.FLOW: 10.0,
    Dimension.PRESSURE: 1000.0,
    Dimension.TEMPERATURE_DIFFERENCE: 80.0,
    Dimension.MOLE_FRACTION: 0.02,
    Dimension.TIME: 7200.0,
    Dimension.POWER: 1e5,
}
"""Magnitudes above which a house reading is likelier a wrong unit than true. [SI] Judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingDesk:
    """What all readings of a visit share while they are read."""

    visit: str
    time: float
    zone: ZoneInfo
    state: HouseState
    instruments: tuple[VisitInstrument, ...]

    def read(self, table: Table) -> tuple[Reading | None, list[Problem]]:
        """Return the reading of one line, None if its key is not known, with what was doubtful."""
        problems = table.unknown_keys(READING_KEYS)
        words: dict[str, str] = {}
        for name in ("key", "value", "place", "reference", "instrument", "note"):
            words[name], found = table.text(name)
            problems += found
        kind = READING_KINDS.get(words["key"])
        if kind is None:
            problems.append(_unknown_key(table, words["key"]))
            return None, problems
        where = f"{table.where} ({words['key']}{' at ' + words['place'][:40] if words['place'] else ''})"
        state, found = read_state(table, self.state, owns_table=False)
        problems += found
        time: float | None = self.time
        if "time" in table.content:
            time, times = read_time(table.content["time"], self.zone, f"{where}.time")
            problems += times
        value, found = self._value(words["value"], kind, words["instrument"], where)
        problems += found
        value, found = _checked(value, words, kind, where)
        problems += found
        reading = Reading(
            key=words["key"], place=words["place"] or kind.place, state=state, value=value,
            time=self.time if time is None else time, reference=words["reference"] or None,
            instrument=words["instrument"] or None, note=words["note"], as_written=words["value"],
        )  # fmt: skip
        return reading, problems

    def _value(
        self, written: str, kind: ReadingKind, instrument: str, where: str
    ) -> tuple[Estimate | Missing, list[Problem]]:
        """Return the value in SI with the interval stated, the instrument's, or the usual one."""
        source = f"visit {self.visit}" + (f", {instrument}" if instrument else "")
        start = next((word for word in ONE_SIDED if written.casefold().startswith(word)), "")
        try:
            found = read_quantity(
                written[len(start) :],
                KIND_OF_DIMENSION[kind.dimension],
                source=source,
                basis=Basis.MEASURED if kind.depends_on or kind.needs_reference else Basis.SURVEYED,
            )
        except QuantityTextError as error:
            return Missing.UNKNOWN, [
                Problem(
                    code="visits-reading-refused",
                    where=where,
                    found=error.found,
                    wanted=error.wanted + ', or "not measured", "not accessible", "unknown"',
                    remedy=error.remedy,
                )
            ]
        if isinstance(found, Missing):
            return found, []
        if start:
            return _one_sided(found, kind, is_from_below=ONE_SIDED[start]), []
        if found.low < found.high:
            return found, []
        accuracy, problems = self._accuracy(instrument, kind.dimension, where)
        return with_accuracy(found, accuracy, source), problems

    def _accuracy(self, instrument: str, dimension: Dimension, where: str) -> tuple[Accuracy, list[Problem]]:
        problems: list[Problem] = []
        if instrument:
            gauge = next((one for one in self.instruments if one.id == instrument), None)
            if gauge is None:
                problems.append(
                    Problem(
                        code="visits-instrument-unknown",
                        where=where,
                        found=f'instrument "{instrument[:40]}"',
                        wanted="one of: " + (", ".join(one.id for one in self.instruments) or "none is listed"),
                        remedy="List it under [[visit.instrument]].",
                        severity=Severity.NOTE,
                    )
                )
            else:
                stated, found = instrument_accuracy(gauge, dimension, where)
                problems += found
                if stated is not None:
                    return stated, problems
        return USUAL_ACCURACY[dimension], problems


def _one_sided(found: Estimate, kind: ReadingKind, *, is_from_below: bool) -> Estimate:
    """Return a value known from one side only: its interval is open at the other end."""
    floor = 0.0 if kind.is_never_negative or kind.is_magnitude else -inf
    if is_from_below:
        return replace(found, high=inf)
    return replace(found, low=min(floor, found.value))


def _checked(
    value: Estimate | Missing, words: dict[str, str], kind: ReadingKind, where: str
) -> tuple[Estimate | Missing, list[Problem]]:
    """Return a value as its kind allows it: with reference, sign and a likely size."""
    if isinstance(value, Missing):
        return value, []
    if kind.needs_reference and not words["reference"]:
        return Missing.UNKNOWN, [
            Problem(
                code="visits-reference-missing",
                where=where,
                found=f'"{words["value"][:60]}" without a reference',
                wanted='what it was measured against, as in reference = "outdoors"',
                remedy="A pressure difference means nothing without it; it counts as unknown.",
            )
        ]
    if kind.is_magnitude and value.value < 0.0:
        value = replace(value, value=-value.value, low=-value.high, high=-value.low)
    if kind.is_never_negative and value.value < 0.0:
        return Missing.UNKNOWN, [
            Problem(
                code="visits-reading-negative",
                where=where,
                found=f'"{words["value"][:60]}"',
                wanted="zero or more",
                remedy="Correct it; it counts as unknown.",
            )
        ]
    if kind.is_never_negative or kind.is_magnitude:
        value = replace(value, low=max(value.low, 0.0))
    problems = []
    if words["key"] in DRAWN_DOWN and value.value > 0.0:
        problems.append(
            _doubt(
                "visits-sign-doubtful", words["value"], where, "a negative number if the place is below its reference"
            )
        )
    if abs(value.value) > DOUBTFUL_ABOVE.get(kind.dimension, inf):
        problems.append(
            _doubt("visits-value-doubtful", words["value"], where, f"a {kind.dimension.value} as houses show it")
        )
    return value, problems


def _doubt(code: str, written: str, where: str, wanted: str) -> Problem:
    return Problem(
        code=code, where=where, found=f'"{written[:60]}"', wanted=wanted, remedy="It is used as written; check it."
    )


def _unknown_key(table: Table, key: str) -> Problem:
    return Problem(
        code="visits-reading-key-unknown",
        where=f"{table.where}.key",
        found=f'"{key[:60]}"',
        wanted="one of: " + ", ".join(READING_KINDS),
        remedy="Correct the key; the reading is not used.",
    )
