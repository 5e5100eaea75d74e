"""Ventilation fans as the residential standard counts them: flow as installed, how long they run, which way they blow."""

from __future__ import annotations

from dataclasses import dataclass

from airtally.errors import Problem, Severity
from airtally.estimates import Basis, Estimate, Missing
from airtally.house.parts import Envelope, RunsWith, Ventilation, VentilationKind
from airtally.limits.tables import VentilationEdition
from airtally.network.conditioning_root import crossing
from airtally.network.home.from_survey import newest
from airtally.network.spread import default, spread, total
from airtally.physics.guards import require_fraction
from airtally.physics.ventilation.intermittent import cycle_turnover, intermittent_effectiveness
from airtally.visits.parts import Visit

HOUR = 3600.0
OFTEN = 3.0 * HOUR
"""A fan that runs at least once in this time counts with its mean flow. [s]; TX-Mech E605.1.7, read"""
LONGEST_CYCLE = 24.0 * HOUR
"""Longest cycle that counts at all. [s]; TX-Mech E605.1.7, read"""
BALANCED_WITHIN = 0.10
"""Supply and exhaust that differ by no more than this share count as balanced. [-]; ASHRAE62.2-2019, from memory"""
OLDER_EFFECTIVENESS = ((0.35, 0.33), (0.60, 0.50), (0.80, 0.75))
"""Share of the time on, and effectiveness up to it; 1.0 beyond. [-]; 2007 and 2010 editions, from memory"""


@dataclass(frozen=True, slots=True, kw_only=True)
class FanSchedule:
    """How a fan that does not run always runs. ``on_fraction`` of the time [-], ``cycle_time`` on and off [s]."""

    on_fraction: Estimate
    cycle_time: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenFan:
    """One ventilation fan as it counts.

    Attributes
    ----------
    name : str
        Id in the survey.
    kind : VentilationKind
        Supply, exhaust or balanced.
    flow : Estimate
        While it runs, as installed. [m3/s]
    counted : Estimate or Missing
        Continuous flow it stands for. [m3/s]
    effectiveness : Estimate or Missing
        Of a cycling fan against one that runs always at the same mean flow. [-]
    said : str
        Why it counts so.
    """

    name: str
    kind: VentilationKind
    flow: Estimate
    counted: Estimate | Missing
    effectiveness: Estimate | Missing
    said: str


def is_assumed(one: Estimate) -> bool:
    """Return whether nobody measured or surveyed a number."""
    return one.basis is Basis.DEFAULT


def given_fan(
    fan: Ventilation,
    visits: tuple[Visit, ...],
    time: float,
    envelope: Envelope | None,
    edition: VentilationEdition,
    schedule: FanSchedule | None,
) -> GivenFan:
    """Return a fan as it counts by an edition; a visit's reading governs its flow."""
    measured = newest(visits, "ventilation_flow", time=time, place=fan.id)
    flow = measured.estimate if measured is not None and measured.estimate is not None else fan.flow
    one = default(1.0, 1.0, 1.0, "-", "counts in full")
    if schedule is None and fan.runs_with is RunsWith.ALWAYS:
        return GivenFan(
            name=fan.id, kind=fan.kind, flow=flow, counted=flow, effectiveness=one, said="runs always"
        )  # fmt: skip
    if schedule is None or schedule.cycle_time > LONGEST_CYCLE:
        said = f"runs with {fan.runs_with.value}: how long is not known"
        if schedule is not None:
            said = "cycles longer than a day do not count"
        return GivenFan(
            name=fan.id, kind=fan.kind, flow=flow, counted=Missing.UNKNOWN, effectiveness=Missing.UNKNOWN, said=said
        )
    if schedule.cycle_time <= OFTEN:
        counted = spread(lambda q, f: q * f, flow, schedule.on_fraction, unit="m3/s", source="mean flow")
        return GivenFan(
            name=fan.id, kind=fan.kind, flow=flow, counted=counted, effectiveness=one,
            said="runs at least once in three hours: mean flow in full",
        )  # fmt: skip
    return _cycling(fan, flow, schedule, envelope, edition)


def _cycling(
    fan: Ventilation, flow: Estimate, schedule: FanSchedule, envelope: Envelope | None, edition: VentilationEdition
) -> GivenFan:
    if envelope is None:
        return GivenFan(
            name=fan.id, kind=fan.kind, flow=flow, counted=Missing.UNKNOWN, effectiveness=Missing.UNKNOWN,
            said="floor area not known: how well it dilutes between its runs is not known",
        )  # fmt: skip
    cycle = schedule.cycle_time
    is_table = edition is VentilationEdition.E2010

    def effective(q: float, f: float, area: float) -> float:
        return older_effectiveness(f) if is_table else effectiveness_of(q, f, cycle, area)

    inputs = flow, schedule.on_fraction, envelope.floor_area
    said = "printed table of the edition, from memory" if is_table else "turnover by the standard, closed form"
    return GivenFan(
        name=fan.id, kind=fan.kind, flow=flow,
        counted=spread(lambda q, f, a: q * f * effective(q, f, a), *inputs, unit="m3/s", source=said),
        effectiveness=spread(effective, *inputs, unit="-", source=said),
        said=f"cycles of {cycle / HOUR:g} h: mean flow times effectiveness",
    )  # fmt: skip


def effectiveness_of(flow: float, on_fraction: float, cycle_time: float, floor_area: float) -> float:
    r"""Return how well a cycling fan stands in for a continuous one, :math:`\varepsilon` of its own equivalent flow.

    The standard's turnover N takes the continuous flow that is wanted; for a fan that is there, that flow is
    :math:`Q \, f \, \varepsilon(f, N)`, which is solved.

    Parameters
    ----------
    flow : float
        While on. [m3/s]
    on_fraction : float
        Share of the cycle, above zero. [-]
    cycle_time, floor_area : float
        [s], [m2]

    Raises
    ------
    InputError
        If a fraction lies outside 0 to 1 or an area is not above zero.

    Notes
    -----
    Checked against: worked example E12 (f 0.1, N 0.9: 0.9488).
    """
    require_fraction(on_fraction=on_fraction)
    mean = flow * on_fraction
    if mean <= 0.0 or on_fraction >= 1.0:
        return 1.0

    def excess(share: float) -> float:
        turnover = cycle_turnover(mean * share, cycle_time, floor_area)
        return share - float(intermittent_effectiveness(on_fraction, turnover))

    return crossing(excess, 1e-6, 1.0, 1e-9)


def older_effectiveness(on_fraction: float) -> float:
    """Return the effectiveness of a cycling fan by the fixed table of the 2007 and 2010 editions, from memory. [-]"""
    require_fraction(on_fraction=on_fraction)
    return next((value for most, value in OLDER_EFFECTIVENESS if on_fraction <= most), 1.0)


def fan_problem(fan: GivenFan) -> Problem:
    """Return what is not known about a fan."""
    return Problem(
        code="network-ventilation-not-measured",
        where=f"survey.toml, ventilation {fan.name}",
        found=fan.said if isinstance(fan.counted, Missing) else "a flow that nobody measured",
        wanted="its flow as installed, and how long it runs in a cycle",
        remedy="Measure the flow and note the timer; until then it counts for nothing to all of its flow.",
        severity=Severity.NOTE,
    )


def flow_sums(fans: tuple[GivenFan, ...]) -> tuple[float, float, float]:
    """Return balanced, supply and exhaust flow that counts. [m3/s]"""
    found = dict.fromkeys(VentilationKind, 0.0)
    for fan in fans:
        if isinstance(fan.counted, Estimate):
            found[fan.kind] += fan.counted.value
    return found[VentilationKind.BALANCED], found[VentilationKind.SUPPLY], found[VentilationKind.EXHAUST]


def is_balanced(fans: tuple[GivenFan, ...]) -> bool:
    """Return whether supply and exhaust match."""
    balanced, supply, exhaust = flow_sums(fans)
    total_supply, total_exhaust = balanced + supply, balanced + exhaust
    larger = max(total_supply, total_exhaust)
    return larger > 0.0 and abs(total_supply - total_exhaust) <= BALANCED_WITHIN * larger


def given_sum(fans: tuple[GivenFan, ...]) -> Estimate:
    """Return what counts: balanced fans once, supply or exhaust whichever is larger."""
    nothing = default(0.0, 0.0, 0.0, "m3/s", "no ventilation fan that counts")
    _, supply, exhaust = flow_sums(fans)
    one_way = VentilationKind.SUPPLY if supply >= exhaust else VentilationKind.EXHAUST
    parts = tuple(
        fan.counted
        for fan in fans
        if isinstance(fan.counted, Estimate) and fan.kind in (VentilationKind.BALANCED, one_way)
    )
    return total(parts, unit="m3/s", source="ventilation fans as they count") if parts else nothing
