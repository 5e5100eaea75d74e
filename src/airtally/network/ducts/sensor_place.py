"""Where to put the in-duct sensor: what each place would read of the rooms, and what it would not see."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from math import inf

from airtally.errors import Problem
from airtally.estimates import Basis, Estimate
from airtally.network.ducts.blower import assumed_words
from airtally.network.spread import default, spread
from airtally.physics.ducts.measuring import TRAVERSE_DIAMETERS, purge_time

LEAST_ROOM_SHARE = 0.2
"""Share of the room's level that must survive to a place before a threshold may be turned into one there. [-]; judgement"""
SENSOR_NOISE = default(
    5e-9, 3e-9, 7e-9, "kg/m3", "default: error of a low-cost particle sensor near the floor; judgement"
)
DIAMETERS_BEFORE_NEXT = 2.0
"""Straight duct wanted between the sensor and the next disturbance, in diameters. [-]; PitotSurvey, read"""
LEAST_DIAMETERS = (2.0, 0.5)
"""After and before a disturbance: below these one state's rule asks for approval. [-]; NC02D2604, read"""
FAN_RAMP = default(60.0, 30.0, 90.0, "s", "default: a blower comes up to speed in 30 to 90 s; judgement")
AVERAGING = default(90.0, 60.0, 120.0, "s", "default: one average of 1 to 2 minutes; judgement")
RESPONSE_TIME = default(60.0, 30.0, 90.0, "s", "default: first-order response of the sensor; survey's default")
PURGES, RESPONSES = 3.0, 3.0
"""Volumes and time constants to wait for. [-]; from memory, common practice"""
SAMPLING_FLOOR = 300.0
"""Less fan than 5 min an hour is not taken for a sample of the house. [s]; judgement"""
LEAK_MIXING = default(0.5, 0.1, 1.0, "-", "default: share of leak air right beside a leak; judgement")
LEAK_OVER_ROOM = default(1.0, 0.3, 3.0, "-", "default: level of the leak's air over the rooms'; not measured")
ELBOW_SPREAD = 0.10
"""Half width that swirl and uneven flow in an elbow add to a reading. [-]; judgement"""
ROOM_FIRST = "A monitor in a room sees that room at any time; one in a duct sees a mean of the house, and only while the blower runs."


class SensorSpot(StrEnum):
    """The places on a system where an in-duct sensor is put."""

    RETURN_DROP = "return drop, before filter and taps"
    AFTER_RE_ENTRY = "return drop, after the cleaner's re-entry"
    AFTER_FILTER = "after the filter"
    SUPPLY_PLENUM = "supply plenum"
    BESIDE_LEAK = "beside a return leak"
    TAKE_OFF_ELBOW = "in the take-off's elbow"


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctAir:
    """What happens to the air on its way. Shares, efficiencies and ratios [-], flow [m3/s].

    Attributes
    ----------
    flow : Estimate
        At the lowest speed at which the sensor is to be believed.
    filter_efficiency, filter_bypass : Estimate
        Single pass of the medium, and the share that goes around it.
    leak_before, leak_after : Estimate
        Share of the flow that leaks in ahead of the filter and behind it.
    leak_over_room : Estimate
        Level of the leaks' air over the rooms'.
    after_re_entry : Estimate or None
        Level after a bypass cleaner's re-entry over before its take-off; None without one.
    """

    flow: Estimate
    filter_efficiency: Estimate
    filter_bypass: Estimate
    leak_before: Estimate
    leak_after: Estimate
    leak_over_room: Estimate = LEAK_OVER_ROOM
    after_re_entry: Estimate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A place that could be had. ``diameter`` or Huebscher's equivalent [m]; lengths [m], volume [m3].

    ``straight_before`` and ``straight_after`` from the last and to the next disturbance; ``is_past_all_branches``
    whether every return joins upstream; ``volume_before`` duct air to be pushed out before house air arrives.
    None where nobody looked or measured.
    """

    spot: SensorSpot
    diameter: float
    straight_before: Estimate | None = None
    straight_after: Estimate | None = None
    is_past_all_branches: bool | None = None
    volume_before: Estimate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorView:
    """What one place would and would not see.

    Attributes
    ----------
    candidate : Candidate
    over_room : Estimate
        Reading over the room mean while the blower runs. [-]
    room_share : Estimate
        Part of the room's level in it, leak air not counted. [-]
    diameters_before : Estimate or None
        Straight duct before it. [-]
    straight : str
        Against the published distances.
    mixing : str
        Whether all branches join before it.
    purge : Estimate or None
        One duct volume at that flow. [s]
    least_sampling : Estimate
        Fan needed before and during one valid sample. [s]
    can_invert : bool or None
        Whether a room threshold can be turned into one there; None where the interval leaves it open.
    threshold : Estimate or None
        The room threshold as that place would read it. [kg/m3]
    why : str
        Of ``can_invert``.
    sees, misses : tuple of str
    """

    candidate: Candidate
    over_room: Estimate
    room_share: Estimate
    diameters_before: Estimate | None
    straight: str
    mixing: str
    purge: Estimate | None
    least_sampling: Estimate
    can_invert: bool | None
    threshold: Estimate | None
    why: str
    sees: tuple[str, ...]
    misses: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorPlacing:
    """The places, best first. ``best`` is None where no place lets a threshold be inverted for certain."""

    views: tuple[SensorView, ...]
    best: SensorView | None
    sentences: tuple[str, ...]
    assumed: tuple[str, ...]
    problems: tuple[Problem, ...] = ()


def duct_level(
    room: float, leak: float, leak_share: float, efficiency: float, bypass: float = 0.0, passage: float = 1.0
) -> float:
    """Return the level behind a filter with a leak behind it: (1 - f)(1 - eta (1 - b)) p C_room + f C_leak.

    ``room`` and ``leak`` in any one unit, shares [-]; ``passage`` is what a cleaner ahead of the filter lets by [-].

    Notes
    -----
    Source: mixing balance. Checked against: printed table of the trade, room 12 to 35 behind MERV 8, 11 and 13.
    """
    return (1.0 - leak_share) * (1.0 - efficiency * (1.0 - bypass)) * passage * room + leak_share * leak


def view_of_place(
    candidate: Candidate,
    air: DuctAir,
    *,
    room_threshold: Estimate | None = None,
    noise: Estimate = SENSOR_NOISE,
    response_time: Estimate = RESPONSE_TIME,
) -> SensorView:
    """Return what a place would read and what it would miss.

    Parameters
    ----------
    candidate : Candidate
    air : DuctAir
    room_threshold : Estimate, optional
        Level in the rooms that a fan rule is to act on. [kg/m3]
    noise : Estimate, optional
        Level below which the sensor is inside its own error. [kg/m3]
    response_time : Estimate, optional
        First-order response of the sensor. [s]
    """
    share, over = _shares(candidate.spot, air)
    threshold = None
    if room_threshold is not None:
        threshold = spread(lambda t, k: t * k, room_threshold, over, unit="kg/m3", source=over.source)
    can, why = _invertible(candidate.spot, share, threshold, noise)
    apart = None
    if candidate.straight_before is not None:
        diameter = candidate.diameter
        apart = spread(
            lambda x: x / diameter, candidate.straight_before, unit="-", source="straight duct over diameter"
        )
    purge = None
    if candidate.volume_before is not None:
        purge = spread(
            lambda v, q: float(purge_time(v, q)), candidate.volume_before, air.flow, unit="s", source="V / Q"
        )
    sees, misses = _sight(candidate, air)
    return SensorView(
        candidate=candidate, over_room=over, room_share=share, diameters_before=apart,
        straight=_straight(candidate), mixing=_mixing(candidate), purge=purge,
        least_sampling=_least_sampling(purge, response_time), can_invert=can, threshold=threshold, why=why,
        sees=sees, misses=misses,
    )  # fmt: skip


def place_sensor(
    candidates: tuple[Candidate, ...],
    air: DuctAir,
    *,
    room_threshold: Estimate | None = None,
    noise: Estimate = SENSOR_NOISE,
    response_time: Estimate = RESPONSE_TIME,
    sampling: float | None = None,
) -> SensorPlacing:
    """Return the candidate places, best first, with what each sees; ``sampling`` [s] is the fan time now given to one.

    Order: a threshold can be inverted there; all branches join before it; straight duct; reading near the room's.
    """
    views = tuple(
        view_of_place(one, air, room_threshold=room_threshold, noise=noise, response_time=response_time)
        for one in candidates
    )
    ranked = tuple(sorted(views, key=_order))
    best = next((view for view in ranked if view.can_invert), None)
    sentences = [ROOM_FIRST]
    if best is None:
        sentences.append(
            "At none of these places can a room threshold be turned into a duct threshold: use a room monitor."
        )
    problems: tuple[Problem, ...] = ()
    chosen = best or (ranked[0] if ranked else None)
    if sampling is not None and chosen is not None and sampling < chosen.least_sampling.value:
        problems = (_too_short(sampling, chosen),)
    named = {
        "filter efficiency": air.filter_efficiency,
        "filter bypass": air.filter_bypass,
        "leak before the filter": air.leak_before,
        "leak behind the filter": air.leak_after,
        "leak's air over the rooms'": air.leak_over_room,
        "sensor noise": noise,
        "sensor response": response_time,
        "fan ramp": FAN_RAMP,
        "averaging": AVERAGING,
    }
    return SensorPlacing(
        views=ranked, best=best, sentences=tuple(sentences), assumed=assumed_words(named), problems=problems
    )


def candidates_of(
    diameter: float, *, straight: dict[SensorSpot, Estimate] | None = None, has_loop: bool = True, has_leak: bool = True
) -> tuple[Candidate, ...]:
    """Return the places that every system offers, for a trunk of a diameter [m]; straight duct where it was measured."""
    known = straight or {}
    left_out = set()
    if not has_loop:
        left_out |= {SensorSpot.AFTER_RE_ENTRY, SensorSpot.TAKE_OFF_ELBOW}
    if not has_leak:
        left_out |= {SensorSpot.BESIDE_LEAK}
    return tuple(
        Candidate(spot=spot, diameter=diameter, straight_before=known.get(spot))
        for spot in SensorSpot
        if spot not in left_out
    )


def _shares(spot: SensorSpot, air: DuctAir) -> tuple[Estimate, Estimate]:
    """Return the room's part in the reading, and the reading over the room mean [-]."""
    cleaner = air.after_re_entry or Estimate(
        value=1.0, low=1.0, high=1.0, unit="-", basis=Basis.COMPUTED, source="no bypass cleaner"
    )
    inputs = (
        air.leak_before, air.leak_after, air.leak_over_room, air.filter_efficiency, air.filter_bypass, cleaner, LEAK_MIXING,
    )  # fmt: skip

    def room_part(
        before: float, after: float, _: float, eta: float, around: float, passage: float, mixed: float
    ) -> float:
        if spot is SensorSpot.BESIDE_LEAK:
            return 1.0 - mixed
        share = 1.0 - before
        if spot in (SensorSpot.RETURN_DROP, SensorSpot.TAKE_OFF_ELBOW):
            return share
        share *= passage
        if spot is SensorSpot.AFTER_RE_ENTRY:
            return share
        return duct_level(share, 0.0, after, eta, around)

    def reading(
        before: float, after: float, leak: float, eta: float, around: float, passage: float, mixed: float
    ) -> float:
        if spot is SensorSpot.BESIDE_LEAK:
            return 1.0 - mixed + mixed * leak
        level = 1.0 - before + before * leak
        if spot in (SensorSpot.RETURN_DROP, SensorSpot.TAKE_OFF_ELBOW):
            return level
        if spot is SensorSpot.AFTER_RE_ENTRY:
            return level * passage
        return duct_level(level, leak, after, eta, around, passage)

    extra = ELBOW_SPREAD if spot is SensorSpot.TAKE_OFF_ELBOW else 0.0
    said = f"mixing balance, {spot.value}"
    part = spread(room_part, *inputs, unit="-", source=said)
    over = spread(reading, *inputs, unit="-", source=said, method_share=extra)
    return replace(part, low=max(part.low, 0.0)), replace(over, low=max(over.low, 0.0))


def _invertible(
    spot: SensorSpot, share: Estimate, threshold: Estimate | None, noise: Estimate
) -> tuple[bool | None, str]:
    """Return whether a room threshold can be turned into one at a place, and why."""
    if spot is SensorSpot.BESIDE_LEAK:
        return False, "it reads the leak's air in a share that nobody knows"
    if share.high <= LEAST_ROOM_SHARE:
        return False, f"at most {share.high:.0%} of the room's level arrives there; {LEAST_ROOM_SHARE:.0%} is wanted"
    if threshold is not None and threshold.high <= noise.value:
        return False, "the threshold there lies inside the sensor's own error"
    if share.low <= LEAST_ROOM_SHARE:
        return (
            None,
            f"{share.low:.0%} to {share.high:.0%} of the room's level arrives there; the interval spans the least share",
        )
    if threshold is not None and threshold.low <= noise.value:
        return None, "the threshold there may lie inside the sensor's own error"
    if threshold is None:
        return (
            True,
            f"{share.value:.0%} of the room's level arrives there; no threshold was given to hold against the error",
        )
    return True, f"{share.value:.0%} of the room's level arrives there, above the sensor's own error"


def _straight(candidate: Candidate) -> str:
    before, after, diameter = candidate.straight_before, candidate.straight_after, candidate.diameter
    if candidate.spot is SensorSpot.TAKE_OFF_ELBOW:
        return "none: an elbow turns and sorts the air; the reading is a location's, not the duct's"
    if before is None:
        return f"not measured; {TRAVERSE_DIAMETERS:g} diameters after a disturbance are published"
    far = before.value / diameter
    near = inf if after is None else after.value / diameter
    if far >= TRAVERSE_DIAMETERS and near >= DIAMETERS_BEFORE_NEXT:
        behind = "; distance to the next disturbance not measured" if after is None else ""
        return f"{far:.1f} diameters after a disturbance: as published for a traverse{behind}"
    if far >= LEAST_DIAMETERS[0] and near >= LEAST_DIAMETERS[1]:
        return f"{far:.1f} diameters: less than the {TRAVERSE_DIAMETERS:g} published; take the reading as a location's"
    return f"{far:.1f} diameters: less than the least accepted, {LEAST_DIAMETERS[0]:g} after and {LEAST_DIAMETERS[1]:g} before"


def _mixing(candidate: Candidate) -> str:
    if candidate.is_past_all_branches is None:
        return "not looked at: whether every return joins before it"
    return (
        "every return joins before it"
        if candidate.is_past_all_branches
        else "returns join after it: it misses their rooms"
    )


def _least_sampling(purge: Estimate | None, response_time: Estimate) -> Estimate:
    pushed = purge or default(20.0, 5.0, 108.0, "s", "default: duct volume not measured; trade examples of 5 to 108 s")
    once = PURGES if purge is not None else 1.0

    def seconds(volume: float, ramp: float, response: float, average: float) -> float:
        return max(once * volume + ramp + RESPONSES * response + average, SAMPLING_FLOOR)

    return spread(
        seconds, pushed, FAN_RAMP, response_time, AVERAGING, unit="s",
        source="three duct volumes, fan ramp, three responses, one average; 5 minutes at least",
    )  # fmt: skip


def _sight(candidate: Candidate, air: DuctAir) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what a place sees and what it misses, in words."""
    spot = candidate.spot
    sees, misses = ["the rooms in proportion to what their returns draw"], ["everything while the blower is off"]
    if air.leak_before.high > 0.0:
        sees.append("air that leaks in ahead of the filter")
    if spot in (SensorSpot.RETURN_DROP, SensorSpot.TAKE_OFF_ELBOW):
        misses += ["what leaks in behind the filter", "whether filter and cleaner work"]
    if spot is SensorSpot.AFTER_RE_ENTRY:
        sees.append("the bypass cleaner's share of cleaned air")
        misses += ["the rooms' level itself: it moves when the cleaner switches", "what leaks in behind the filter"]
    if spot in (SensorSpot.AFTER_FILTER, SensorSpot.SUPPLY_PLENUM):
        sees = ["what filter and cleaner leave", "air that leaks in behind the filter"]
        misses += ["small changes in the rooms: the filter takes them", "a filter change is a change of its scale"]
    if spot is SensorSpot.SUPPLY_PLENUM:
        sees.append("what the supply side gives off (coil, heat exchanger, dust)")
        misses.append("particles and VOC as in the rooms: the air there is hot, or cold and near saturation")
    if spot is SensorSpot.BESIDE_LEAK:
        sees = ["the leak's air first, the rooms' in an unknown share"]
        misses.append("the house: it answers to garage, crawlspace or attic")
    if spot is SensorSpot.TAKE_OFF_ELBOW:
        misses.append("steady flow: swirl and speed change with the cleaner's fan")
    if candidate.is_past_all_branches is False:
        misses.append("rooms whose return joins after it")
    return tuple(sees), tuple(misses)


def _order(view: SensorView) -> tuple[int, int, int, float]:
    verdict = {True: 0, None: 1, False: 2}
    straight = 0 if "as published" in view.straight else 1 if "location" in view.straight else 2
    is_elbow = view.candidate.spot is SensorSpot.TAKE_OFF_ELBOW
    return (
        verdict[view.can_invert],
        verdict[view.candidate.is_past_all_branches],
        3 if is_elbow else straight,
        abs(1.0 - view.over_room.value) + view.over_room.high - view.over_room.low,
    )


def _too_short(sampling: float, view: SensorView) -> Problem:
    return Problem(
        code="network-sensor-sampling-short",
        where=f"fan rule, sensor {view.candidate.spot.value}",
        found=f"{sampling / 60.0:.0f} minutes of fan for a sample",
        wanted=f"{view.least_sampling.value / 60.0:.0f} minutes: duct volume, fan ramp, sensor and one average",
        remedy="Lengthen the sampling run; a shorter one reads the duct, not the house.",
    )
