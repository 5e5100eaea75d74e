"""Hearths, vents and their surroundings from survey and visits, and a measured draft beside the estimate."""

from __future__ import annotations

from dataclasses import dataclass

from airtally.errors import Problem, Severity
from airtally.estimates import Estimate
from airtally.house.parts import Appliance, ApplianceKind, ExhaustKind, House, Venting
from airtally.network.flues.flue import Firing, Surroundings, stack_at_hearth, surroundings
from airtally.network.flues.flue_draft import FlueDraft, Stage
from airtally.network.home.from_survey import LATEST, newest, present
from airtally.network.seasons import heating_season, rooms_in_winter
from airtally.network.spread import default
from airtally.physics.air.moist import pressure_at_altitude
from airtally.visits.parts import Reading, Visit


@dataclass(frozen=True, slots=True, kw_only=True)
class Hearth:
    """A fire or burner on a flue of its own house.

    Attributes
    ----------
    name : str
        Id of the exhaust, if the fire is surveyed as one, else of the appliance.
    appliance : str
        Id of the appliance; empty if only the exhaust is surveyed.
    firing : Firing
        What burns.
    zone : str
        Where it stands.
    burning_flow : Estimate or None
        Room air drawn at full fire, where the survey has it. [m3/s]
    """

    name: str
    appliance: str
    firing: Firing
    zone: str
    burning_flow: Estimate | None


def firing_of(appliance: Appliance) -> Firing | None:
    """Return what burns below a natural-draft flue, None for an appliance that has a fan, no flue or sealed pipes."""
    if appliance.venting is Venting.OPEN_CHIMNEY:
        return Firing.OPEN_FIREPLACE
    if appliance.venting is Venting.CLOSED_CHIMNEY:
        return Firing.CLOSED_STOVE
    if appliance.venting is Venting.NATURAL_DRAFT:
        is_solid = appliance.kind in (ApplianceKind.FIREPLACE, ApplianceKind.STOVE)
        return Firing.CLOSED_STOVE if is_solid else Firing.DRAFT_HOOD
    return None


def hearths(house: House, time: float = LATEST) -> tuple[Hearth, ...]:
    """Return every natural-draft fire of a house; an open fire surveyed as appliance and as exhaust is one.

    Parameters
    ----------
    house : House
        As surveyed.
    time : float, optional
        When. [s, POSIX UTC]
    """
    fires = [one for one in present(house.exhausts, time) if one.kind is ExhaustKind.FIREPLACE]
    found = []
    for appliance in present(house.appliances, time):
        firing = firing_of(appliance)
        if firing is None:
            continue
        same = next((fire for fire in fires if firing is Firing.OPEN_FIREPLACE and fire.zone == appliance.zone), None)
        if same is not None:
            fires.remove(same)
        found.append(
            Hearth(
                name=same.id if same is not None else appliance.id, appliance=appliance.id, firing=firing,
                zone=appliance.zone, burning_flow=same.flow if same is not None else None,
            )
        )  # fmt: skip
    found += [
        Hearth(name=fire.id, appliance="", firing=Firing.OPEN_FIREPLACE, zone=fire.zone, burning_flow=fire.flow)
        for fire in fires
    ]
    return tuple(found)


def flue_surroundings(
    house: House,
    visits: tuple[Visit, ...],
    zone: str,
    time: float = LATEST,
    *,
    outdoor_temperature: Estimate | None = None,
    hearth_height: Estimate | None = None,
) -> tuple[Surroundings, tuple[Problem, ...]]:
    """Return what a flue in a zone stands in, from the newest readings and else from wide defaults that are named.

    Parameters
    ----------
    house, visits
        Elevation and height; temperatures and the pressure with every fan off.
    zone : str
        Where the hearth is.
    time : float, optional
        When. [s, POSIX UTC]
    outdoor_temperature : Estimate, optional
        Asked for instead of the one that was read: a cold and a mild day are two questions. A baseline that was read
        belongs to its own weather and is then not used. [K]
    hearth_height : Estimate, optional
        Of the hearth above the lowest floor; else from the lowest floor to halfway up. [m]
    """
    outside = outdoor_temperature or _read(visits, "outdoor_temperature", time, None)
    room = _read(visits, "indoor_temperature", time, zone) or _read(visits, "indoor_temperature", time, None)
    problems: tuple[Problem, ...] = ()
    if outside is None:
        problems = (
            Problem(
                code="network-draft-weather-assumed",
                where=f"visits.toml, flue in {zone}",
                found="no outdoor temperature",
                wanted="the outdoor temperature of the visit, or of the day that is asked about",
                remedy="Read it; until then the draft spans cold and mild days.",
                severity=Severity.NOTE,
            ),
        )
    outside = outside or heating_season(house.climate)
    room = room or rooms_in_winter(house.climate)
    site_pressure = float(pressure_at_altitude(house.elevation))
    baseline = None if outdoor_temperature is not None else _baseline(visits, zone, time)
    envelope = next(iter(present(house.envelopes, time)), None)
    if baseline is None and envelope is not None:
        most = max(0.6, 0.5 * envelope.height.value)
        hearth = hearth_height or default(0.3, 0.0, most, "m", "hearth on the lowest floor or halfway up: judgement")
        baseline = stack_at_hearth(outside, room, envelope.height, hearth, site_pressure=site_pressure)
    return surroundings(outside, room, baseline=baseline, site_pressure=site_pressure), problems


def _read(visits: tuple[Visit, ...], key: str, time: float, place: str | None) -> Estimate | None:
    """Return the newest reading of a temperature; of the visits' house states where none was read by itself. [K]"""
    reading = newest(visits, key, time=time, place=place)
    if reading is not None:
        return reading.estimate
    if place is not None:
        return None
    noted = [
        (visit.time, found)
        for visit in visits
        if visit.time <= time and (found := getattr(visit.state, key)) is not None
    ]
    return max(noted, key=lambda one: one[0], default=(0.0, None))[1]


def _baseline(visits: tuple[Visit, ...], zone: str, time: float) -> Estimate | None:
    """Return the newest pressure of a zone against outdoors with every fan off. [Pa]"""
    found = [
        reading
        for visit in visits
        for reading in visit.find("baseline_pressure", zone)
        if reading.estimate is not None and reading.time <= time and reading.reference == "outdoors"
    ]
    return max(found, key=lambda reading: reading.time).estimate if found else None


def draft_conflict(draft: FlueDraft, reading: Reading, *, is_burner: bool) -> tuple[Problem, ...]:
    """Return a Problem where a draft that was read and the estimate do not meet, with the size of the conflict.

    Parameters
    ----------
    draft : FlueDraft
        In the state of the house that the reading was taken in.
    reading : Reading
        Of the kind ``draft``: flue minus room after five minutes of firing, negative when it pulls.
    is_burner : bool
        A burner is at full warmth by then; a wood fire may be anywhere from lighting to steady burn.

    Notes
    -----
    The reading stands; the estimate is not fitted to it. A gauge at the collar sees the available draft.
    """
    read = reading.estimate
    if read is None:
        return ()
    steady, lighting = draft.at(Stage.STEADY).available, draft.at(Stage.LIGHTING).available
    low = steady.low if is_burner else min(steady.low, lighting.low)
    if low <= -read.low and -read.high <= steady.high:
        return ()
    return (
        Problem(
            code="network-draft-disagrees",
            where=f"visits.toml, draft of {reading.place}",
            found=f"{-read.value:.1f} Pa of draft read, {low:.1f} to {steady.high:.1f} Pa estimated: "
            f"{abs(-read.value - steady.value):.1f} Pa apart",
            wanted="a reading within the estimate's band",
            remedy="The reading stands. Look for a blocked or leaking flue, a wrong height or section, or wind.",
        ),
    )
