"""Limits that the safety room holds figures against, and how a comparison is made.

Most come from the limits room. Those below it does not hold yet; they are records of its own kind.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from airtally.estimates import Estimate
from airtally.limits import ActionLevel, Basis, Limit, Sense, Status
from airtally.safety.parts import LimitComparison

SPILLAGE_LIMITS = (
    Limit(
        key="spillage-warm-vent", quantity="spillage time", value=120.0, unit="s", printed="2 min",
        sense=Sense.AT_MOST, applies_to="warm vent", edition="audit programmes, warm vent",
        jurisdiction="United States, audit programme", source="BPI2005", basis=Basis.FROM_MEMORY,
        note="editions differ; the strictest stands for every start whose vent state was not recorded",
    ),
    Limit(
        key="spillage-cold-vent", quantity="spillage time", value=300.0, unit="s", printed="5 min",
        sense=Sense.AT_MOST, applies_to="cold vent", edition="audit programmes, cold vent",
        jurisdiction="United States, audit programme", source="BPI2005", basis=Basis.FROM_MEMORY,
        note="editions differ; others ask for 2 min from a cold vent too",
    ),
)  # fmt: skip
"""Longest spillage after light-up."""

FLUE_CO_LEVELS = (
    ActionLevel(
        key="flue-co-raised", lower=26e-6, upper=100e-6, printed="26 to 100 ppm",
        consequence="a licensed technician cleans and adjusts the appliance",
        edition="older audit standard, undiluted flue",
        jurisdiction="United States, audit programme", source="BPI2005", basis=Basis.FROM_MEMORY,
    ),
    ActionLevel(
        key="flue-co-stop", lower=100e-6, upper=float("inf"), printed="above 100 ppm",
        consequence="stop work; the appliance is turned off until a licensed technician has repaired it",
        edition="older audit standard, undiluted flue", jurisdiction="United States, audit programme", source="BPI2005",
        basis=Basis.FROM_MEMORY,
    ),
)  # fmt: skip
"""Carbon monoxide in the undiluted flue. [mol/mol]"""

_CFM_PER_TON = 0.3048**3 / 60.0 / (12000.0 * 1055.05585262 / 3600.0)  # m3/s per W

COOLING_AIRFLOW_LIMITS = (
    Limit(
        key="cooling-airflow-new", quantity="cooling airflow per capacity", value=350.0 * _CFM_PER_TON,
        unit="m3/s per W", printed="350 cfm/ton", sense=Sense.AT_LEAST, edition="new duct systems",
        jurisdiction="California", source="CaliforniaFan", basis=Basis.READ,
    ),
    Limit(
        key="cooling-airflow-altered", quantity="cooling airflow per capacity", value=300.0 * _CFM_PER_TON,
        unit="m3/s per W", printed="300 cfm/ton", sense=Sense.AT_LEAST, edition="altered duct systems",
        jurisdiction="California", source="CaliforniaFan", basis=Basis.READ,
    ),
)  # fmt: skip
"""Least airflow over the cooling coil."""

RETURN_DISTANCE_LIMIT = Limit(
    key="return-distance", quantity="return inlet to firebox or draft hood", value=10 * 0.3048, unit="m",
    printed="10 ft", sense=Sense.AT_LEAST, edition="model residential code, M1602, same space, with stated exceptions",
    jurisdiction="United States, model code", source="IRC2018", basis=Basis.READ,
)  # fmt: skip
"""Least distance of a return inlet from a firebox or draft hood in the same space."""


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
        governs=governs,
    )  # fmt: skip


def compare_level(value: Estimate, level: ActionLevel, what: str) -> LimitComparison:
    """Return a figure held against a programme's action level, by the value as read: reaching it counts."""
    return LimitComparison(
        what=f"{what}: {level.consequence}", value=value, limit=level.lower, printed=level.printed,
        edition=level.edition, jurisdiction=level.jurisdiction, source=level.source, basis=level.basis.value,
        is_crossed=value.value >= level.lower,
    )  # fmt: skip


def compare_all(value: Estimate, limits: Iterable[Limit], what: str) -> tuple[LimitComparison, ...]:
    """Return a figure held against limits of one sense, strictest first; the strictest in force governs."""
    ranked = sorted(limits, key=lambda one: one.value if one.sense is Sense.AT_MOST else -one.value)
    made = [compare(value, one, f"{what}{', ' + one.applies_to if one.applies_to else ''}") for one in ranked]
    for index, one in enumerate(ranked):
        if one.status in (Status.CURRENT, Status.DROPPED):
            made[index] = replace(made[index], governs=True)
            break
    return tuple(made)


def verdict_of(comparisons: Iterable[LimitComparison]) -> bool | None:
    """Return whether the governing limit is crossed; None if it is too close to tell or none governs."""
    return next((one.is_crossed for one in comparisons if one.governs), None)
