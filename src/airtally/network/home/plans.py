"""The survey's measures as plans: what each changes in a house's network and how much power it adds."""

from __future__ import annotations

from dataclasses import dataclass, replace

from airtally.estimates import Basis, Estimate
from airtally.house.measure_kinds import MeasureKind, kind_of, measures_of, takes_exhaust
from airtally.house.parts import ExhaustKind, House, PricedMeasure
from airtally.network.ducts.hookup_compare import CLEANER_POWER, IN_LINE_DROP
from airtally.network.home.house_network import HouseNetwork
from airtally.network.home.works import SEALED_LEFT, Works, together
from airtally.network.spread import default, total

TRANSFER_AREA = 0.03
"""Grille or jumper duct that lets a shut room's air return, 300 cm2: common practice, no source. [m2]"""
DEEP_FILTER = default(
    37.0,
    25.0,
    50.0,
    "Pa",
    "clean 4 to 5 inch MERV 13 of 20 by 25 inches at 1,000 cfm, 0.10 to 0.20 inH2O: common practice",
)
DEEP_FILTER_FLOW = 0.472
"""Flow at which that drop is told. [m3/s]"""
STRONGER_HOOD = default(
    0.094, 0.047, 0.142, "m3/s", "a hood that catches half, 200 cfm (100 to 300) as installed: judgement"
)
SUPPLY_FLOW = default(0.028, 0.024, 0.030, "m3/s", "supply fan of 60 cfm as installed: judgement")
SUPPLY_POWER = default(30.0, 20.0, 45.0, "W", "power of a filtered supply fan: judgement")
AS_TOLD = 0.15
"""Half width of a size that the survey's measure tells, over itself. [-]; judgement"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """One measure, or all up to a stage together, as the network takes it.

    Attributes
    ----------
    id, name : str
        Of the measure; a stage's own for several together.
    kinds : tuple of MeasureKind
        One for a measure.
    works : Works
    power : Estimate or None
        Electric power added while the blower runs, besides the blower's own. [W]
    """

    id: str
    name: str
    kinds: tuple[MeasureKind, ...]
    works: Works
    power: Estimate | None = None

    @property
    def moves_the_blower(self) -> bool:
        """Return whether it touches ducts or filters, so that the blower meets another resistance."""
        return bool(self.works.duct_leaks or self.works.in_line or self.works.filter_drop is not None)


def plans_of(house: House, network: HouseNetwork) -> tuple[Plan, ...]:
    """Return every known measure alone, in the order of doing, then all of each stage with those of the stages before."""
    known = [(measure, kind) for measure in measures_of(house) if (kind := kind_of(measure)) is not None]
    singles = [
        Plan(
            id=measure.id,
            name=measure.name,
            kinds=(kind,),
            works=works_of(network, measure, kind),
            power=_power(measure, kind),
        )
        for measure, kind in known
    ]
    several = []
    for stage in sorted({measure.stage for measure, _ in known}):
        done = [plan for (measure, _), plan in zip(known, singles, strict=True) if measure.stage <= stage]
        new = [plan for (measure, _), plan in zip(known, singles, strict=True) if measure.stage == stage]
        if any(plan.moves_the_blower for plan in new) and sum(plan.moves_the_blower for plan in done) > 1:
            several.append(_all_of(stage, done))
    return (*singles, *several)


def _all_of(stage: int, plans: list[Plan]) -> Plan:
    """Return everything up to a stage done together."""
    powers = tuple(plan.power for plan in plans if plan.power is not None)
    return Plan(
        id=f"stage {stage}",
        name=f"everything up to stage {stage}",
        kinds=tuple(kind for plan in plans for kind in plan.kinds),
        works=together(*(plan.works for plan in plans)),
        power=total(powers, unit="W", source="; ".join(one.source for one in powers)) if powers else None,
    )


def works_of(network: HouseNetwork, measure: PricedMeasure, kind: MeasureKind) -> Works:
    """Return what a measure changes in the network: nothing where it moves no pressure (a cleaner, a fan that runs longer)."""
    match kind:
        case MeasureKind.RETURN_SEALING if network.leak_zones:
            return Works(duct_leaks=(("return leak", _told(measure, "remaining", "-") or SEALED_LEFT),))
        case MeasureKind.BETTER_FILTER if network.leak_zones:
            drop = _told(measure, "pressure_drop", "Pa")
            return deep_filter(network) if drop is None else Works(filter_drop=drop)
        case MeasureKind.IN_LINE_HEPA if network.leak_zones:
            return Works(in_line=_told(measure, "pressure_drop", "Pa") or IN_LINE_DROP)
        case MeasureKind.SUPPLY_VENTILATION:
            return Works(supply_air=_told(measure, "flow", "m3/s") or SUPPLY_FLOW)
        case MeasureKind.SOURCE_CAPTURE if takes_exhaust(measure):
            return _hood(network, _told(measure, "flow", "m3/s") or STRONGER_HOOD)
        case _:
            return Works()


def deep_filter(network: HouseNetwork) -> Works:
    """Return works that put in a clean deep-pleated filter of usual size."""
    _, flow = network.layout.mode_flow[0]
    ratio = flow.value / DEEP_FILTER_FLOW
    scaled = replace(DEEP_FILTER, value=37.0 * ratio, low=DEEP_FILTER.low * ratio, high=DEEP_FILTER.high * ratio)
    return Works(filter_drop=scaled)


def transfer_paths(network: HouseNetwork) -> Works:
    """Return works that give every lived-in side room a way back for its supply air."""
    rooms = {zone for zone, _ in network.layout.supplied} & set(network.layout.side_rooms)
    return Works(transfer_area=tuple((room, TRANSFER_AREA) for room in sorted(rooms)))


def _hood(network: HouseNetwork, flow: Estimate) -> Works:
    """Return a stronger hood in place of the one that is there, which is never made weaker, or a new one."""
    hoods = [one for one in network.layout.exhausts if one.kind is ExhaustKind.HOOD]
    if not hoods:
        return Works(added_exhaust=flow)
    hood = max(hoods, key=lambda one: one.flow.value)
    least = hood.flow.value
    grown = replace(flow, value=max(flow.value, least), low=max(flow.low, least), high=max(flow.high, least))
    return Works(exhausts=((hood.id, grown),))


def _power(measure: PricedMeasure, kind: MeasureKind) -> Estimate | None:
    usual = {MeasureKind.BYPASS_CLEANER: CLEANER_POWER, MeasureKind.SUPPLY_VENTILATION: SUPPLY_POWER}
    return (_told(measure, "power", "W") or usual[kind]) if kind in usual else None


def _told(measure: PricedMeasure, key: str, unit: str) -> Estimate | None:
    """Return a size that the survey's measure tells, None where it does not."""
    value = dict(measure.settings).get(key)
    if value is None or isinstance(value, str):
        return None
    return Estimate(
        value=value,
        low=(1.0 - AS_TOLD) * value,
        high=(1.0 + AS_TOLD) * value,
        unit=unit,
        basis=Basis.SURVEYED,
        source=f"survey.toml, measure '{measure.id}', {key}",
    )
