"""Pair what was measured before with what was measured after, in like states only."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite, sqrt

from airtally.estimates import Basis, Estimate, Missing
from airtally.visits.kinds import READING_KINDS, ReadingKind, StatePart
from airtally.visits.parts import Doors, HandlerMode, HouseState, Reading, VentStart, Visit


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """How far the weather of two readings may differ before they no longer count as alike.

    ``temperature_difference`` [K] is the change of indoor minus outdoor temperature, ``wind_speed`` [m/s] the
    change of wind. Both are judgement: at the floor of a two-storey house 10 K is about 1 Pa of stack, and at
    3 m/s the wind's velocity pressure reaches 5 Pa (0.5 rho U^2).
    """

    temperature_difference: float = 10.0
    wind_speed: float = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingPair:
    """The same reading before and after in a like state; ``change`` is after minus before in the reading's unit."""

    key: str
    place: str
    reference: str | None
    state: HouseState
    before: Reading
    after: Reading
    change: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class NotRetested:
    """A reading of before that has no like reading after, and why."""

    key: str
    place: str
    before: Reading
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairing:
    """Outcome of pairing two visits: each test-in reading is in exactly one of the first three.

    Plates and weather are no tests and stay out.
    """

    pairs: tuple[ReadingPair, ...]
    not_retested: tuple[NotRetested, ...]
    not_measured_before: tuple[Reading, ...]
    """Readings that were missing at test-in, so there is nothing to compare."""
    only_after: tuple[Reading, ...]
    """Readings of test-out that pair with nothing."""


def pair_like_states(test_in: Visit, test_out: Visit, likeness: Likeness | None = None) -> Pairing:
    """Return which readings of two visits may be compared, and which were not re-tested.

    Two readings pair when key, place and reference are the same and every part of the house state that the
    key depends on is recorded and alike on both sides; weather within ``likeness``. Each reading is used once.
    """
    limits = likeness or Likeness()
    left = [r for r in test_out.readings if r.estimate is not None and not READING_KINDS[r.key].is_fixed]
    pairs: list[ReadingPair] = []
    lost: list[NotRetested] = []
    absent: list[Reading] = []
    for before in test_in.readings:
        if READING_KINDS[before.key].is_fixed:
            continue
        if before.estimate is None:
            absent.append(before)
            continue
        same = [r for r in left if _is_same_reading(before, r)]
        reasons = [unlike_parts(before, r, limits) for r in same]
        match = next((r for r, unlike in zip(same, reasons, strict=True) if not unlike), None)
        if match is None or match.estimate is None:
            lost.append(
                NotRetested(key=before.key, place=before.place, before=before, why=_why(before, test_out, reasons))
            )
            continue
        left.remove(match)
        pairs.append(
            ReadingPair(
                key=before.key,
                place=before.place,
                reference=before.reference,
                state=match.state,
                before=before,
                after=match,
                change=difference(match.estimate, before.estimate),
            )
        )
    return Pairing(
        pairs=tuple(pairs), not_retested=tuple(lost), not_measured_before=tuple(absent), only_after=tuple(left)
    )


def unlike_parts(before: Reading, after: Reading, likeness: Likeness) -> tuple[str, ...]:
    """Return, in words, the parts of the house state that keep two readings of a key from being compared."""
    kind: ReadingKind = READING_KINDS[before.key]
    words: list[str] = []
    for part in kind.depends_on:
        unlike = _unlike_part(part, before.state, after.state, likeness)
        if unlike:
            words.append(unlike)
    return tuple(words)


def difference(after: Estimate, before: Estimate) -> Estimate:
    """Return after minus before; half-widths of independent intervals add in quadrature, one-sided ends stay open."""
    down = _joined(after.value - after.low, before.high - before.value)
    up = _joined(after.high - after.value, before.value - before.low)
    value = after.value - before.value
    return Estimate(
        value=value,
        low=value - down,
        high=value + up,
        unit=after.unit,
        basis=Basis.COMPUTED,
        source="test-out minus test-in, like states",
        level=min(after.level, before.level),
    )


def _joined(first: float, second: float) -> float:
    return sqrt(first**2 + second**2) if isfinite(first) and isfinite(second) else inf


def _is_same_reading(before: Reading, after: Reading) -> bool:
    return (before.key, before.place, before.reference) == (after.key, after.place, after.reference)


def _why(before: Reading, test_out: Visit, reasons: list[tuple[str, ...]]) -> str:
    missing = [r.value for r in test_out.find(before.key, before.place) if isinstance(r.value, Missing)]
    if reasons:
        nearest = sorted(reasons, key=lambda parts: len(parts))[0]
        return "only in another state: " + "; ".join(nearest)
    if missing:
        return f"{missing[0].value} at {test_out.id}"
    if any(r.reference != before.reference for r in test_out.find(before.key, before.place)):
        return f"against another reference at {test_out.id}"
    return f"no such reading at {test_out.id}"


_UNKNOWN = {Doors.UNKNOWN, HandlerMode.UNKNOWN, VentStart.UNKNOWN, None}


def _unlike_part(part: StatePart, before: HouseState, after: HouseState, likeness: Likeness) -> str:
    """Return why one part of the state is not alike, or an empty string."""
    if part is StatePart.WEATHER:
        return _unlike_weather(before, after, likeness)
    first, second = getattr(before, part.value), getattr(after, part.value)
    name = part.value.replace("_", " ")
    if first in _UNKNOWN or second in _UNKNOWN:
        return f"{name} not recorded"
    if first != second:
        return f"{name} {_as_words(first)} before, {_as_words(second)} after"
    return ""


def _as_words(state: object) -> str:
    if isinstance(state, tuple):
        return ", ".join(state) or "none"
    return str(state)


def _unlike_weather(before: HouseState, after: HouseState, likeness: Likeness) -> str:
    stack = (_lift(before), _lift(after))
    if stack[0] is None or stack[1] is None:
        return "temperatures not recorded"
    if abs(stack[0] - stack[1]) > likeness.temperature_difference:
        return f"indoor minus outdoor temperature {stack[0]:.0f} K before, {stack[1]:.0f} K after"
    if before.wind_speed is None or after.wind_speed is None:
        return "wind not recorded"
    if abs(before.wind_speed.value - after.wind_speed.value) > likeness.wind_speed:
        return f"wind {before.wind_speed.value:.0f} m/s before, {after.wind_speed.value:.0f} m/s after"
    return ""


def _lift(state: HouseState) -> float | None:
    if state.indoor_temperature is None or state.outdoor_temperature is None:
        return None
    return state.indoor_temperature.value - state.outdoor_temperature.value
