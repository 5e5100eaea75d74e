"""How a figure is held against published limits: every edition shows, the stricter governs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from airtally.estimates import Estimate
from airtally.limits import ActionLevel, Limit, Sense
from airtally.limits.choose import BINDING
from airtally.safety.parts import LimitComparison
from airtally.visits.parts import Reading, Visit


def compare(value: Estimate, limit: Limit, what: str, *, governs: bool = False) -> LimitComparison:
    """Return a figure held against a limit; crossed only if the whole interval lies beyond it."""
    worst, best = (value.low, value.high) if limit.sense is Sense.AT_LEAST else (value.high, value.low)
    crossed: bool | None = None
    if limit.is_met_by(best) is False:
        crossed = True
    elif limit.is_met_by(worst) is True:
        crossed = False
    return LimitComparison(
        what=what, value=value, limit=limit.value, printed=limit.printed, edition=limit.edition,
        jurisdiction=limit.jurisdiction, source=limit.source, basis=limit.basis.value, is_crossed=crossed,
        governs=governs, status=limit.status.value, sense=limit.sense.value,
    )  # fmt: skip


def compare_level(value: Estimate, level: ActionLevel, what: str) -> LimitComparison:
    """Return a figure held against a programme's action level, by the value as read: reaching it counts."""
    return LimitComparison(
        what=f"{what}: {level.consequence}", value=value, limit=level.lower, printed=level.printed,
        edition=level.edition, jurisdiction=level.jurisdiction, source=level.source, basis=level.basis.value,
        is_crossed=value.value >= level.lower,
    )  # fmt: skip


def compare_all(value: Estimate, limits: Iterable[Limit], what: str) -> tuple[LimitComparison, ...]:
    """Return a figure held against limits of one sense, strictest first; the strictest in force governs.

    A pressure limit is a signed number: of -3 Pa and -5 Pa the first is the stricter, because it is the higher.
    """
    ranked = sorted(limits, key=lambda one: one.value if one.sense is Sense.AT_MOST else -one.value)
    made = [compare(value, one, f"{what}{', ' + one.applies_to if one.applies_to else ''}") for one in ranked]
    for index, one in enumerate(ranked):
        if one.status in BINDING:
            made[index] = replace(made[index], governs=True)
            break
    return tuple(made)


def compare_by_kind(value: Estimate, limits: Iterable[Limit], what: str) -> tuple[LimitComparison, ...]:
    """Return comparisons kind by kind; of all that govern only the strictest keeps the mark.

    All limits must be of one sense.
    """
    given = tuple(limits)
    made: list[LimitComparison] = []
    for kind in dict.fromkeys(one.applies_to for one in given):
        made += compare_all(value, [one for one in given if one.applies_to == kind], what)
    governing = [one.limit for one in made if one.governs]
    if not governing:
        return tuple(made)
    top = max(governing) if given[0].sense is Sense.AT_LEAST else min(governing)
    return tuple(replace(one, governs=one.governs and one.limit == top) for one in made)


def verdict_of(comparisons: Iterable[LimitComparison]) -> bool | None:
    """Return whether the governing limit is crossed; None if it is too close to tell or none governs."""
    return next((one.is_crossed for one in comparisons if one.governs), None)


def editions_in_words(comparisons: Iterable[LimitComparison]) -> str:
    """Return which limit governs and which others were printed, empty where all print the same figure.

    Meant to stand behind a finding's sentence, so that no page shows one edition alone.
    """
    given = tuple(comparisons)
    first = next((one for one in given if one.governs), None)
    if first is None:
        return ""
    others = [one for one in given if one.limit != first.limit]
    if not others:
        return ""
    named = dict.fromkeys(f"{one.printed} ({_document(one)})" for one in others)
    return f" Editions differ: {first.printed} ({_document(first)}) is the stricter and governs; beside it " + (
        "; ".join(named) + "."
    )


def _document(one: LimitComparison) -> str:
    status = f", {one.status}" if one.status not in ("", "current") else ""
    return f"{one.edition}, {one.jurisdiction}, {one.basis}{status}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One reading held against its limits. ``crossed`` None: too close to call, or nothing governs."""

    visit: Visit
    reading: Reading
    value: Estimate
    limits: tuple[LimitComparison, ...]
    crossed: bool | None


def judge(
    readings: Iterable[tuple[Visit, Reading]], hold: Callable[[Reading, Estimate], tuple[LimitComparison, ...]]
) -> tuple[Judged, ...]:
    """Return every measured reading with what its limits say, in the order given."""
    return tuple(
        Judged(visit=visit, reading=reading, value=reading.estimate, limits=held, crossed=verdict_of(held))
        for visit, reading in readings
        if reading.estimate is not None
        for held in (hold(reading, reading.estimate),)
    )


def newest_doubt(
    judged: Sequence[Judged], lifts: Callable[[Judged, Judged], bool]
) -> tuple[Judged | None, Judged | None]:
    """Return the newest reading that was crossed or too close to call, and the reading that lifts it, if any does.

    Parameters
    ----------
    judged : sequence of Judged
        Oldest first. A reading of the same time lifts nothing.
    lifts : function
        ``lifts(later, doubt)``: whether a later reading within its limit was taken in a state hard enough.
    """
    place = next((index for index in range(len(judged) - 1, -1, -1) if judged[index].crossed is not False), None)
    if place is None:
        return None, None
    doubt = judged[place]
    later = [one for one in judged[place + 1 :] if one.reading.time > doubt.reading.time and lifts(one, doubt)]
    return doubt, (later[-1] if later else None)
